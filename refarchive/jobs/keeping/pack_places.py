"""What packing and unpacking share: one run at a time to the same goal, and whom it tells."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from refarchive.errors import ArchiveBusy, ArchiveUnwritable

Progress = Callable[[int, int, str], None]  # bytes done, of how many, which file


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
