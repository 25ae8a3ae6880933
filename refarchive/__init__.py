"""A research and mood-reference archive for staging real historical scenes.

    import refarchive
    archive = refarchive.create("merrow")        # or refarchive.open("merrow")

Everything else hangs on the :class:`~refarchive.archive.Archive` that these two return. Importing this package loads
nothing heavy; a test holds it to that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from refarchive import errors
from refarchive.errors import RefArchiveError

if TYPE_CHECKING:
    import os

    from refarchive.archive import Archive

__version__ = "0.1.0"
__all__ = ["RefArchiveError", "__version__", "create", "errors", "join", "open"]


def create(
    folder: str | os.PathLike[str],
    encoder: str = "auto",
    *,
    who: str = "",
    database: str = "",
    files: str | os.PathLike[str] = "",
) -> Archive:
    """Make a new archive in `folder`, which must be empty or not exist yet.

    `database` is the address of an empty PostgreSQL database ("postgresql://host/name", without a password), for an
    archive that several people share; `files` the folder with its originals as this machine mounts it, `folder` itself
    where none is named.

    Raises ArchiveInTheWay, UnknownEncoder or WeightsUnavailable; in each case nothing is left behind. With a database
    also ArchiveAway, ArchiveMissing, ArchiveUnwritable or BadQuery.
    """
    from refarchive.archive import Archive

    return Archive.create(folder, encoder=encoder, who=who, database=database, files=files)


def join(
    folder: str | os.PathLike[str], database: str, *, files: str | os.PathLike[str] = "", who: str = ""
) -> Archive:
    """Make a folder of one's own for a shared archive that somebody made already; nothing of theirs is changed.

    Raises ArchiveInTheWay, ArchiveMissing where the database holds no archive, ArchiveAway where the server cannot be
    reached or `files` is not the folder with the archive's originals.
    """
    from refarchive.archive import Archive

    return Archive.join(folder, database, files=files, who=who)


def open(folder: str | os.PathLike[str], *, who: str = "") -> Archive:  # noqa: A001
    """Open the archive in `folder`, upgrading its database first where an earlier version wrote it.

    Raises ArchiveMissing, ArchiveTooNew or ArchiveDamaged.
    """
    from refarchive.archive import Archive

    return Archive.open(folder, who=who)
