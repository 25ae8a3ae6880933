"""Packing an archive into one file; killed or stopped midway, the same call goes on.

The pack grows in a hidden file beside its final name, and takes that name when it is whole. A second run reads back
what stands there, member by member, and keeps what is still so; nothing is taken on trust. The database goes last,
because it is what changes most, from a copy made first, so that each original it names is there.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from refarchive import __version__
from refarchive.errors import (
    ArchiveDamaged,
    ArchiveInTheWay,
    ArchiveMissing,
    ArchiveUnwritable,
    PackRefused,
    RefArchiveError,
)
from refarchive.jobs.keeping.pack_contents import (
    CACHES,
    ORIGINAL,
    Source,
    caches_told,
    check_names,
    size_of,
    sources,
    total_bytes,
    walked,
)
from refarchive.jobs.keeping.pack_database import copy_database, known_version, missing_originals, remove_database
from refarchive.jobs.keeping.pack_places import Progress, only_one
from refarchive.records import pack
from refarchive.records.files import settle
from refarchive.records.portable import Names
from refarchive.records.shared import POINTER
from refarchive.records.sqlite import DATABASE, named


@dataclass
class Share:
    """Files and bytes of one part of an archive."""

    files: int = 0
    bytes: int = 0


@dataclass
class Packed:
    """What was packed. `went_on` are bytes that an earlier run had written; `left_out` and `problems` are sentences."""

    file: str
    database: str
    bytes: int = 0
    digest: str = ""
    went_on: int = 0
    shares: dict[str, Share] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return asdict(self)


def packed(folder: Path, file: Path, *, caches: bool = True, progress: Progress | None = None) -> Packed:
    """Pack the archive in `folder` into the new file `file`; without `caches`, previews and vectors stay behind.

    The archive is neither opened nor brought up to date, and may be in use. Stopped by what `progress` raises or in any
    other way, the same call goes on. What is wrong with originals stands in `problems`; they are packed as they are.

    Raises ArchiveMissing, ArchiveInTheWay, ArchiveTooNew, ArchiveDamaged, ArchiveBusy, ArchiveUnwritable, PackRefused.
    """
    folder, file = Path(os.path.abspath(folder)), Path(os.path.abspath(file))
    _check_places(folder, file)
    part = file.with_name(f".{file.name}.packing")
    copy = part.with_name(f"{part.name}.sqlite")
    with only_one(part):
        try:
            copy_database(folder / DATABASE, copy)
            done = Packed(str(file), known_version(copy, folder))
            listed = list(walked(folder, caches, done.left_out))
            check_names(listed)
            if not caches:
                done.left_out += caches_told(folder)
            done.problems += missing_originals(copy, listed)
            head = pack.head_text(done.database, caches, f"refarchive {__version__}")
            total = total_bytes(folder, listed, copy, head)
            _check_space(part, total)
            _write(folder, part, copy, head, caches, done, total, progress)
            _settle(part, file)
        except RefArchiveError:  # some of them are an OSError too
            raise
        except OSError as error:
            raise ArchiveUnwritable(
                f"The pack cannot be written: {error.strerror or error}.",
                f"Make room beside {file.name!r} and give the same command again; what was packed is kept.",
            ) from None
        except sqlite3.Error as error:
            raise named(error) or ArchiveDamaged(
                f"The archive's database cannot be copied ({error}).", "Restore it from a backup."
            ) from None
        finally:
            remove_database(copy)
    done.bytes = file.stat().st_size
    return done


def _check_places(folder: Path, file: Path) -> None:
    if (folder / POINTER).is_file() and not (folder / DATABASE).exists():
        raise PackRefused(
            "The records of this archive lie in a database that several people share, not in its folder.",
            "Ask whoever keeps the server for a copy of the database (pg_dump), and copy the folder of originals.",
        )
    if not (folder / DATABASE).is_file():
        raise ArchiveMissing(f"There is no archive at {str(folder)!r}.", "Name the folder of an archive.")
    if os.path.lexists(file):
        raise ArchiveInTheWay(f"There is something at {str(file)!r} already.", "Name a new file; none is written over.")
    if not file.parent.is_dir():
        raise ArchiveUnwritable(f"There is no folder {str(file.parent)!r}.", "Make the folder first.")
    if file.parent.resolve().is_relative_to(folder.resolve()):
        raise PackRefused(f"{file.name!r} would lie inside the archive.", "Name a file outside it.")


def _check_space(part: Path, total: int) -> None:
    wanted = total - size_of(part)
    free = shutil.disk_usage(part.parent).free
    if wanted > free:
        raise ArchiveUnwritable(
            f"The pack takes {wanted / 1e6:,.0f} MB more, and {free / 1e6:,.0f} MB are free there.",
            "Make room, or name a file on another disk.",
        )


def _write(
    folder: Path,
    part: Path,
    copy: Path,
    head: bytes,
    caches: bool,
    done: Packed,
    total: int,
    progress: Progress | None,
) -> None:
    """Write the pack, keeping from its beginning what an earlier run wrote and is still so."""
    names = Names()
    handle = os.open(part, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0), 0o644)
    with os.fdopen(handle, "r+b", buffering=pack.CHUNK) as file:
        writer, at, keeping = pack.Writer(file), 0, True
        with closing(sources(folder, copy, head, caches)) as members:
            for source in members:
                if source.path is not None:
                    names.add(source.name)
                sha256 = ""
                if keeping:
                    kept = _kept(file, at, source, _teller(progress, at, total, source.name))
                    if kept is None:
                        keeping = False
                        file.seek(at)
                        file.truncate()
                    else:
                        sha256, size, done.went_on = kept.sha256, kept.size, kept.end
                        writer.kept(source.member, sha256)
                if not keeping:
                    with source.opened() as (size, pieces):
                        tell = _teller(progress, at + len(pack.header(source.member, size)), total, source.name)
                        sha256 = writer.add(source.member, size, _told(pieces, tell))
                at += len(pack.header(source.member, size)) + pack.padded(size)
                _count(done, source, size, sha256)
        if keeping:
            file.seek(at)
            file.truncate()
        done.digest = writer.finish()
        file.flush()
        os.fsync(file.fileno())
    if progress is not None:
        progress(total, total, "")


def _kept(file: BinaryIO, at: int, source: Source, tell: Callable[[int], None]) -> pack.Member | None:
    """The member at a place of an earlier run's file, None where it is not what would be written there now."""
    try:
        member = pack.read_header(file, at)
        if member.name != source.member:
            return None
        with source.opened() as (size, pieces):
            if member.size != size:
                return None
            digest = hashlib.sha256()
            for piece in _told(pack.pieces(file, member), tell):
                digest.update(piece)
            found = digest.hexdigest()
            original = ORIGINAL.fullmatch(source.name)
            if original and original[1] == found:  # an original is what its name says, or damaged
                return pack.Member(member.name, size, member.at, found)
            same = hashlib.sha256()
            for piece in pieces:
                same.update(piece)
        return pack.Member(member.name, size, member.at, found) if same.hexdigest() == found else None
    except PackRefused:
        return None


def _count(done: Packed, source: Source, size: int, sha256: str) -> None:
    if source.path is None:
        return
    first, inside, _ = source.name.partition("/")
    share = first if inside and first in ("originals", *CACHES) else "database" if source.name == DATABASE else "other"
    counted = done.shares.setdefault(share, Share())
    counted.files += 1
    counted.bytes += size
    original = ORIGINAL.fullmatch(source.name)
    if original and original[1] != sha256:
        done.problems.append(f"The original {source.name!r} is damaged: it is not what was gathered.")


def _teller(progress: Progress | None, at: int, total: int, name: str) -> Callable[[int], None]:
    def tell(more: int) -> None:
        if progress is not None:
            progress(min(at + more, total), total, name)

    return tell


def _told(pieces: Iterator[bytes], tell: Callable[[int], None]) -> Iterator[bytes]:
    done = 0
    for piece in pieces:
        yield piece
        done += len(piece)
        tell(done)
    if not done:
        tell(0)


def _settle(part: Path, file: Path) -> None:
    """Give the pack its name, never in the place of something else, and bring that to the disk."""
    in_the_way = ArchiveInTheWay(
        f"Something came to lie at {str(file)!r} meanwhile.", "Move it away and give the same command again."
    )
    try:
        os.link(part, file)
        os.unlink(part)
    except FileExistsError:
        raise in_the_way from None
    except OSError:  # a disk without links
        if os.path.lexists(file):
            raise in_the_way from None
        os.replace(part, file)
    settle(file.parent)
