"""What goes into a pack: which files of an archive travel, in which order, each read as it is at one moment."""

from __future__ import annotations

import os
import re
from collections.abc import Generator, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from refarchive.errors import ArchiveBusy, PackRefused
from refarchive.jobs.keeping.going_on import FILE as GOING_ON
from refarchive.records import pack
from refarchive.records.portable import Names
from refarchive.records.sqlite import DATABASE, PATIENCE_S

CACHES = ("previews", "vectors")
LOCK = "vectors/writing.lock"  # held by whoever writes vectors
ORIGINAL = re.compile(r"originals/[0-9a-f]{2}/([0-9a-f]{64})(\.[a-z]+)")
_PASSING = re.compile(
    rf"(.*/)?\.(taking|making|writing)-[^/]*(/.*)?|vectors/.*\.(lock|part)|vectors/beside/.*|{re.escape(GOING_ON)}"
    rf"|{re.escape(DATABASE)}(-wal|-shm|-journal)"
    rf"|{re.escape(DATABASE)}\.before-[^/]*\.part|(.*/)?(\.DS_Store|Thumbs\.db|desktop\.ini)",
    re.DOTALL | re.IGNORECASE,  # a system that does not tell capitals apart would take either for the other
)


@dataclass(frozen=True)
class Source:
    """One member of the pack: a file of the archive, or a text without a path."""

    name: str  # inside the archive; the full name for the two that stand before it
    path: Path | None
    content: bytes = b""

    @property
    def member(self) -> str:
        """Its name in the pack."""
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


def walked(folder: Path, caches: bool, left_out: list[str]) -> Iterator[str]:
    """Names of the files that travel, in the order in which they are packed, but for the database."""
    for name in ("originals", "", *(CACHES if caches else ())):
        yield from _files(folder, name, left_out)


def caches_told(folder: Path) -> Iterator[str]:
    """What stays behind without caches, with its size."""
    for name in CACHES:
        sizes = [size_of(folder / found) for found in _files(folder, name, [])]
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


def check_names(listed: list[str]) -> None:
    """Raise PackRefused for names that another system could not keep, and for too many."""
    names = Names()
    for name in (DATABASE, *listed):
        names.add(name)
    if len(listed) >= pack.MOST_MEMBERS:
        raise PackRefused(f"The archive has {len(listed)} files.", f"A pack holds at most {pack.MOST_MEMBERS}.")


def total_bytes(folder: Path, listed: list[str], copy: Path, head: bytes) -> int:
    """Bytes of the pack, but for vectors that are added meanwhile."""
    total = sum(pack.BLOCK + pack.padded(len(text)) for text in (head, pack.ABOUT_TEXT.encode()))
    sizes = {name: size_of(folder / name) for name in listed} | {DATABASE: size_of(copy)}
    for name, size in sizes.items():
        total += len(pack.header(pack.INSIDE + name, size)) + pack.padded(size)
    return total + pack.ending([pack.HEAD, pack.ABOUT, *(pack.INSIDE + name for name in sizes)])


def size_of(path: Path) -> int:
    """Bytes of a file, 0 where there is none."""
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


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


def sources(folder: Path, copy: Path, head: bytes, caches: bool) -> Generator[Source, None, None]:
    """All that is packed, in order."""
    yield Source(pack.HEAD, None, head)
    yield Source(pack.ABOUT, None, pack.ABOUT_TEXT.encode())
    for under in ("originals", "", *(CACHES[:1] if caches else ())):
        yield from (Source(name, folder / name) for name in _files(folder, under, []))
    if caches:
        with _vectors_still(folder):
            yield from (Source(name, folder / name) for name in _files(folder, CACHES[1], []))
    yield Source(DATABASE, copy)
