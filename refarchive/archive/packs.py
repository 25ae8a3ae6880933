"""An archive as one file: packed, looked into, unpacked. The archive need not be open, nor its encoder be here."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from refarchive.archive import PathLike
    from refarchive.jobs.keeping.pack_places import Progress
    from refarchive.jobs.keeping.packing import Packed
    from refarchive.jobs.keeping.unpacking import Unpacked
    from refarchive.records.pack import Contents


def pack(archive: PathLike, file: PathLike, *, caches: bool = True, progress: bool | Progress = False) -> Packed:
    """Pack the archive in a folder into one new file, with previews and vectors or without `caches`.

    Safe to interrupt and to call again. It may be in use meanwhile, and may be of an earlier version: it is packed as
    it is. `progress` is told bytes.

    Raises ArchiveMissing, ArchiveInTheWay, ArchiveTooNew, ArchiveDamaged, ArchiveBusy, ArchiveUnwritable, PackRefused;
    there is no file of that name then.
    """
    from refarchive.jobs.keeping.packing import packed

    with _told(progress, "packing") as tell:
        return packed(Path(archive), Path(file), caches=caches, progress=tell)


def look_into(file: PathLike, *, progress: bool | Progress = False) -> Contents:
    """What a pack holds, after every byte of it was verified; nothing is written. Raises as `unpack` does."""
    from refarchive.jobs.keeping.unpacking import looked_into

    with _told(progress, "verifying") as tell:
        return looked_into(Path(file), progress=tell)


def unpack(file: PathLike, archive: PathLike, *, progress: bool | Progress = False) -> Unpacked:
    """Unpack a file into the new folder `archive`. Safe to interrupt and to call again.

    Raises PackRefused, ArchiveTooNew, ArchiveMissing, ArchiveInTheWay, ArchiveBusy, ArchiveUnwritable; the folder does
    not come to be then.
    """
    from refarchive.jobs.keeping.unpacking import unpacked

    with _told(progress, "unpacking") as tell:
        return unpacked(Path(file), Path(archive), progress=tell)


def _told(progress: bool | Progress, what: str) -> AbstractContextManager[Progress | None]:
    """Progress in bytes, told to the caller or drawn as a bar on standard error."""
    from refarchive.archive.pace import bar

    return bar(what, in_bytes=True) if progress is True else nullcontext(progress or None)
