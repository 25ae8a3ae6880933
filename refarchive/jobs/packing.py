"""Packing an archive into one file; killed or stopped midway, the same call goes on.

The pack grows in a hidden file beside its final name, and takes that name when it is whole. A second run reads back
what stands there, member by member, and keeps what is still so; nothing is taken on trust. The database goes last,
because it is what changes most, from a copy made first, so that each original it names is there.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from refarchive import __version__
from refarchive.errors import (
    ArchiveBusy,
    ArchiveDamaged,
    ArchiveInTheWay,
    ArchiveMissing,
    ArchiveTooNew,
    ArchiveUnwritable,
    PackRefused,
    RefArchiveError,
)
from refarchive.records import migrate, pack
from refarchive.records.database import DATABASE, PATIENCE_S, named
from refarchive.records.portable import Names
from refarchive.records.shared import POINTER

Progress = Callable[[int, int, str], None]  # bytes done, of how many, which file
CACHES = ("previews", "vectors")
LOCK = "vectors/writing.lock"  # held by whoever writes vectors
_PASSING = re.compile(
    rf"(.*/)?\.(taking|making|writing)-[^/]*(/.*)?|vectors/.*\.(lock|part)|vectors/beside/.*|{re.escape(DATABASE)}(-wal|-shm|-journal)"
    rf"|{re.escape(DATABASE)}\.before-[^/]*\.part|(.*/)?(\.DS_Store|Thumbs\.db|desktop\.ini)",
    re.DOTALL | re.IGNORECASE,  # a system that does not tell capitals apart would take either for the other
)
_ORIGINAL = re.compile(r"originals/[0-9a-f]{2}/([0-9a-f]{64})(\.[a-z]+)")
_NAMED = (  # where records name originals: table, digest
    ("reference", "sha256"),
    ("frame", "sha256"),
    ("arrangement", "photograph"),
)


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


@dataclass(frozen=True)
class _Source:
    name: str  # inside the archive; the full name for the two that stand before it
    path: Path | None
    content: bytes = b""

    @property
    def member(self) -> str:
        return self.name if self.path is None else pack.INSIDE + self.name

    @contextmanager
    def opened(self) -> Iterator[tuple[int, Iterator[bytes]]]:
        """Its size and its bytes, which are those of one moment or PackRefused."""
        if self.path is None:
            yield len(self.content), iter([self.content])
            return
        try:
            file = open(self.path, "rb")  # noqa: SIM115 (closed below; what fails there is not this file's fault)
        except FileNotFoundError:
            raise self._changed() from None
        except OSError as error:
            raise self._unreadable(error) from None
        with file:
            before = os.fstat(file.fileno())
            yield before.st_size, self._read(file)
            after = os.fstat(file.fileno())
        if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
            raise self._changed()

    def _read(self, file: BinaryIO) -> Iterator[bytes]:
        while True:
            try:
                piece = file.read(pack.CHUNK)
            except OSError as error:
                raise self._unreadable(error) from None
            if not piece:
                return
            yield piece

    def _unreadable(self, error: OSError) -> PackRefused:
        return PackRefused(
            f"{self.name!r} cannot be read: {error.strerror}.",
            "Check the file and its permissions; then give the same command again to go on.",
        )

    def _changed(self) -> PackRefused:
        return PackRefused(
            f"{self.name!r} changed while it was being packed.", "Give the same command again; what is packed is kept."
        )


def travels(name: str) -> bool:
    """Whether a file of an archive goes into a pack: all do but locks, half-made files and what SQLite keeps open."""
    return _PASSING.fullmatch(name) is None


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
            _copy_database(folder / DATABASE, copy)
            done = Packed(str(file), _version(copy, folder))
            listed = list(_walk(folder, caches, done.left_out))
            _check_names(listed)
            if not caches:
                done.left_out += _caches_told(folder)
            done.problems += _missing(copy, listed)
            head = pack.head_text(done.database, caches, f"refarchive {__version__}")
            total = _total(folder, listed, copy, head)
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
            _remove_database(copy)
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


@contextmanager
def only_one(part: Path) -> Iterator[None]:
    """Keep a second run to the same goal out meanwhile. Raises ArchiveBusy or ArchiveUnwritable."""
    from filelock import FileLock, Timeout

    path = part.with_name(f"{part.name}.lock")
    try:
        lock = FileLock(path, timeout=0)
        lock.acquire()
    except Timeout:
        raise ArchiveBusy("Another program is at the same work already.", "Let it finish.") from None
    except OSError as error:
        raise ArchiveUnwritable(
            f"Nothing can be written beside {path.name!r}: {error.strerror}.", "Check the folder's permissions."
        ) from None
    try:
        yield
    finally:
        with suppress(OSError):
            path.unlink()
        lock.release()


# --- the database -----------------------------------------------------------------------------------------------------


def _copy_database(path: Path, copy: Path) -> None:
    """Copy the database as it is at one moment, whoever writes to it meanwhile."""
    _remove_database(copy)
    try:
        with closing(_connected(path, "mode=rw")) as source, closing(sqlite3.connect(copy)) as target:
            source.backup(target)
    except sqlite3.OperationalError:
        if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK):
            raise
        # A folder that cannot be written, where nobody else writes either; a WAL there would be passed over in silence.
        if _size(path.with_name(f"{path.name}-wal")):
            raise ArchiveUnwritable(
                "The archive's last changes are not in its database yet, and its folder cannot be written.",
                "Copy the whole folder to where it can be written, and pack that.",
            ) from None
        _remove_database(copy)
        with closing(_connected(path, "immutable=1")) as source, closing(sqlite3.connect(copy)) as target:
            source.backup(target)


def _connected(path: Path, how: str) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.as_uri()}?{how}", uri=True, timeout=PATIENCE_S)


def _remove_database(copy: Path) -> None:
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
    except sqlite3.Error:
        return None
    return str(row[0]) if row else None


def refuse_unknown(version: str, what: str) -> None:
    """Raise ArchiveTooNew where this program does not know the version of a database."""
    if version != migrate.head() and not migrate.knows(version):
        raise ArchiveTooNew(
            f"{what} has version {version[:40]!r}, which this refarchive does not know.",
            "Install the newer refarchive that wrote it.",
        )


def _version(copy: Path, folder: Path) -> str:
    version = version_of(copy)
    if version is None:
        raise ArchiveDamaged(
            f"{DATABASE} in {str(folder)!r} is not the database of an archive.", "Restore it from a backup."
        )
    refuse_unknown(version, "The archive's database")
    return version


def _missing(copy: Path, listed: list[str]) -> list[str]:
    """Sentences on originals that records name and that are not there."""
    there = {found[1] for name in listed if (found := _ORIGINAL.fullmatch(name))}
    lacking: set[str] = set()
    with closing(_connected(copy, "immutable=1")) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        for table, column in _NAMED:
            if table in tables:
                rows = connection.execute(f'SELECT "{column}" FROM "{table}" WHERE "{column}" <> \'\'')  # noqa: S608
                lacking |= {str(row[0]) for row in rows if row[0] not in there}
    return [f"The original {sha256[:80]!r} that records name is missing." for sha256 in sorted(lacking)]


# --- the files --------------------------------------------------------------------------------------------------------


def _walk(folder: Path, caches: bool, left_out: list[str]) -> Iterator[str]:
    """Names of the files that travel, in the order in which they are packed, but for the database."""
    for name in ("originals", "", *(CACHES if caches else ())):
        yield from _files(folder, name, left_out)


def _caches_told(folder: Path) -> Iterator[str]:
    """What stays behind without caches, with its size."""
    for name in CACHES:
        sizes = [_size(folder / found) for found in _files(folder, name, [])]
        if sizes:
            yield f"{name} stayed behind: {len(sizes)} files, {sum(sizes) / 1e6:,.1f} MB; they can be made anew."


def _files(folder: Path, under: str, left_out: list[str]) -> Iterator[str]:
    """Names of files in one folder of the archive and all below; with "", all outside originals and caches."""
    apart = {"originals", *CACHES} if not under else set()
    try:
        found = sorted(os.scandir(folder / under), key=lambda entry: entry.name)
    except FileNotFoundError:
        return
    for entry in found:
        name = f"{under}/{entry.name}" if under else entry.name
        if entry.name in apart or name == DATABASE or not travels(name):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from _files(folder, name, left_out)
        elif entry.is_file(follow_symlinks=False):
            yield name
        else:
            left_out.append(f"{name!r} is a link or no file, and was left out.")


def _check_names(listed: list[str]) -> None:
    names = Names()
    for name in (DATABASE, *listed):
        names.add(name)
    if len(listed) >= pack.MOST_MEMBERS:
        raise PackRefused(f"The archive has {len(listed)} files.", f"A pack holds at most {pack.MOST_MEMBERS}.")


def _total(folder: Path, listed: list[str], copy: Path, head: bytes) -> int:
    """Bytes of the pack, but for vectors that are added meanwhile."""
    total = sum(pack.BLOCK + pack.padded(len(text)) for text in (head, pack.ABOUT_TEXT.encode()))
    sizes = {name: _size(folder / name) for name in listed} | {DATABASE: _size(copy)}
    for name, size in sizes.items():
        total += len(pack.header(pack.INSIDE + name, size)) + pack.padded(size)
    return total + pack.ending([pack.HEAD, pack.ABOUT, *(pack.INSIDE + name for name in sizes)])


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _check_space(part: Path, total: int) -> None:
    wanted = total - _size(part)
    free = shutil.disk_usage(part.parent).free
    if wanted > free:
        raise ArchiveUnwritable(
            f"The pack takes {wanted / 1e6:,.0f} MB more, and {free / 1e6:,.0f} MB are free there.",
            "Make room, or name a file on another disk.",
        )


@contextmanager
def _vectors_still(folder: Path) -> Iterator[None]:
    """Keep others from writing vectors for as long as these are packed. Raises ArchiveBusy."""
    from filelock import FileLock, Timeout

    if not (folder / CACHES[1]).is_dir():
        yield
        return
    lock = FileLock(folder / LOCK, timeout=PATIENCE_S)
    try:
        with suppress(OSError):  # nobody can write there
            lock.acquire()
    except Timeout:
        raise ArchiveBusy(
            "Another program is bringing this archive's vectors up to date.",
            "Wait until it has ended and give the same command again; what was packed is kept.",
        ) from None
    try:
        yield
    finally:
        lock.release()


def _sources(folder: Path, copy: Path, head: bytes, caches: bool) -> Generator[_Source, None, None]:
    """All that is packed, in order."""
    yield _Source(pack.HEAD, None, head)
    yield _Source(pack.ABOUT, None, pack.ABOUT_TEXT.encode())
    for under in ("originals", "", *(CACHES[:1] if caches else ())):
        yield from (_Source(name, folder / name) for name in _files(folder, under, []))
    if caches:
        with _vectors_still(folder):
            yield from (_Source(name, folder / name) for name in _files(folder, CACHES[1], []))
    yield _Source(DATABASE, copy)


# --- writing ----------------------------------------------------------------------------------------------------------


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
        with closing(_sources(folder, copy, head, caches)) as sources:
            for source in sources:
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


def _kept(file: BinaryIO, at: int, source: _Source, tell: Callable[[int], None]) -> pack.Member | None:
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
            original = _ORIGINAL.fullmatch(source.name)
            if original and original[1] == found:  # an original is what its name says, or damaged
                return pack.Member(member.name, size, member.at, found)
            same = hashlib.sha256()
            for piece in pieces:
                same.update(piece)
        return pack.Member(member.name, size, member.at, found) if same.hexdigest() == found else None
    except PackRefused:
        return None


def _count(done: Packed, source: _Source, size: int, sha256: str) -> None:
    if source.path is None:
        return
    first, inside, _ = source.name.partition("/")
    share = first if inside and first in ("originals", *CACHES) else "database" if source.name == DATABASE else "other"
    counted = done.shares.setdefault(share, Share())
    counted.files += 1
    counted.bytes += size
    original = _ORIGINAL.fullmatch(source.name)
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
    sync_folder(file.parent)


def sync_folder(folder: Path) -> None:
    """Bring what a folder lists to the disk, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
