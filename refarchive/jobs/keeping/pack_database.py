"""The database on its way into a pack and out of one: copied as it is at one moment, and asked for its version."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from refarchive.errors import ArchiveDamaged, ArchiveTooNew, ArchiveUnwritable
from refarchive.jobs.keeping.pack_contents import ORIGINAL, size_of
from refarchive.records import migrate
from refarchive.records.sqlite import DATABASE, PATIENCE_S

_NAMED = (  # where records name originals: table, digest
    ("reference", "sha256"),
    ("frame", "sha256"),
    ("arrangement", "photograph"),
)


def copy_database(path: Path, copy: Path) -> None:
    """Copy the database as it is at one moment, whoever writes to it meanwhile."""
    remove_database(copy)
    try:
        with closing(_connected(path, "mode=rw")) as source, closing(sqlite3.connect(copy)) as target:
            source.backup(target)
    except sqlite3.OperationalError:
        if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK):
            raise
        # A folder that cannot be written, where nobody else writes either; a WAL there would be passed over in silence.
        if size_of(path.with_name(f"{path.name}-wal")):
            raise ArchiveUnwritable(
                "The archive's last changes are not in its database yet, and its folder cannot be written.",
                "Copy the whole folder to where it can be written, and pack that.",
            ) from None
        remove_database(copy)
        with closing(_connected(path, "immutable=1")) as source, closing(sqlite3.connect(copy)) as target:
            source.backup(target)


def _connected(path: Path, how: str) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.as_uri()}?{how}", uri=True, timeout=PATIENCE_S)


def remove_database(copy: Path) -> None:
    """Remove a copy with all that SQLite put beside it."""
    for ending in ("", "-wal", "-shm", "-journal"):
        with suppress(FileNotFoundError):
            os.unlink(f"{copy}{ending}")


def version_of(path: Path) -> str | None:
    """The version of an archive's database that nobody has open, None where it is none of ours; nothing is written."""
    try:
        with closing(_connected(path, "immutable=1")) as connection:
            tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if not {"alembic_version", "reference", "history"} <= tables:
                return None
            row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    except (sqlite3.Error, UnicodeDecodeError):  # what SQLite says of it may be no text
        return None
    return str(row[0]) if row else None


def refuse_unknown(version: str, what: str) -> None:
    """Raise ArchiveTooNew where this program does not know the version of a database."""
    if version != migrate.head() and not migrate.knows(version):
        raise ArchiveTooNew(
            f"{what} has version {version[:40]!r}, which this refarchive does not know.",
            "Install the newer refarchive that wrote it.",
        )


def known_version(copy: Path, folder: Path) -> str:
    """The version of the database of the archive in `folder`. Raises ArchiveDamaged, ArchiveTooNew."""
    version = version_of(copy)
    if version is None:
        raise ArchiveDamaged(
            f"{DATABASE} in {str(folder)!r} is not the database of an archive.", "Restore it from a backup."
        )
    refuse_unknown(version, "The archive's database")
    return version


def missing_originals(copy: Path, listed: list[str]) -> list[str]:
    """Sentences on originals that records name and that are not there."""
    there = {found[1] for name in listed if (found := ORIGINAL.fullmatch(name))}
    lacking: set[str] = set()
    with closing(_connected(copy, "immutable=1")) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        for table, column in _NAMED:
            if table in tables:
                rows = connection.execute(f'SELECT "{column}" FROM "{table}" WHERE "{column}" <> \'\'')  # noqa: S608
                lacking |= {str(row[0]) for row in rows if row[0] not in there}
    return [f"The original {sha256[:80]!r} that records name is missing." for sha256 in sorted(lacking)]
