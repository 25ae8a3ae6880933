"""Where the records of an archive are: beside it in SQLite, or in the PostgreSQL database that its `shared.toml` names.

`shared.toml` lies in each person's own folder and is the only place where the path of one machine may stand: the
database holds none. The originals lie in a folder that everyone mounts, wherever each of them does.
"""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from refarchive.errors import ArchiveDamaged, BadQuery
from refarchive.records.bounded import read_bounded

if TYPE_CHECKING:
    import sqlalchemy as sa

POINTER = "shared.toml"
LONGEST = 100_000  # bytes
_HEAD = """\
# The records of this archive are in a PostgreSQL database that several people share.
# database: its address as libpq reads it. No password belongs here: keep it in ~/.pgpass or a service file.
# files: the folder with everybody's originals and previews, as this machine mounts it; "" for this folder.
"""


@dataclass(frozen=True)
class Shared:
    """The database's address, and the folder of originals on this machine ("" for the archive's own)."""

    database: str
    files: str = ""


def read(folder: Path) -> Shared | None:
    """What the folder says of its records, None where they lie in it. Raises ArchiveDamaged."""
    path = folder / POINTER
    try:
        told = tomllib.loads(read_bounded(path, LONGEST).decode())
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError, RecursionError) as error:
        raise ArchiveDamaged(f"{POINTER} in {str(folder)!r} cannot be read ({error}).", "Correct it.") from None
    from refarchive.records import postgres

    address, files = told.get("database"), told.get("files", "")
    if not isinstance(address, str) or not isinstance(files, str) or not postgres.is_address(address):
        raise ArchiveDamaged(
            f"{POINTER} in {str(folder)!r} names no PostgreSQL database.",
            'It needs a line such as: database = "postgresql://HOST/DATABASE"',
        )
    return Shared(address, files)


def write(folder: Path, shared: Shared) -> None:
    """Put `shared.toml` into a folder. Raises BadQuery for an address with a password, or none."""
    from refarchive.records import postgres

    postgres.checked(shared.database)
    lines = "".join(f"{name} = {_quoted(value)}\n" for name, value in vars(shared).items())
    part = folder / f"{POINTER}.part"
    part.write_text(_HEAD + lines, "utf-8")
    os.replace(part, folder / POINTER)


def _quoted(text: str) -> str:
    """A TOML basic string."""
    if any(ord(c) < 32 or ord(c) == 127 for c in text):
        raise BadQuery("The address or the folder has characters that cannot be written down.", "Name it without them.")
    try:
        text.encode()
    except UnicodeEncodeError:
        raise BadQuery("The name of the folder is no text.", "Rename it, or mount it under another name.") from None
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def make(folder: Path, shared: Shared | None) -> sa.Engine:
    """Make the records' database: in the folder, or in the one that `shared` names. Raises as that database does."""
    from refarchive.records import postgres, sqlite

    if shared is None:
        return sqlite.make(folder)
    engine = postgres.make(shared.database)
    write(folder, shared)
    return engine


def ready(folder: Path) -> sa.Engine:
    """Connections to the records of the archive in a folder, brought up to date. Raises as its database does."""
    from refarchive.records import postgres, sqlite

    shared = read(folder)
    return sqlite.ready(folder) if shared is None else postgres.ready(shared.database)
