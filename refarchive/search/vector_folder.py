"""Where an archive's vector files lie on this machine, and who may write them."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from refarchive.errors import ArchiveBusy, ArchiveUnwritable, RefArchiveError
from refarchive.records.bounded import read_bounded
from refarchive.search.scan import Index
from refarchive.search.vectors import LARGEST_HEAD, VectorFile, opened

LOCK = "writing.lock"
LEVEL = "level.json"
BESIDE = "beside"
WAIT_S = 120.0
BUSY = (
    "Another program is bringing this archive's vectors up to date.",
    "What was saved is kept. Wait until it has ended, and ask again.",
)


class VectorFolder:
    """The vector files in one folder, by name."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def file(self, name: str, identity: Mapping[str, object], dimension: int) -> VectorFile:
        """A vector file as `VectorFile` opens it. Raises as that does."""
        return VectorFile(self.folder / name, identity=identity, dimension=dimension)

    def opened(self, name: str) -> VectorFile | None:
        """A vector file as whoever made it left it, None where there is none; see `vectors.opened`."""
        return opened(self.folder / name)

    def index(self, file: VectorFile) -> Index:
        """What searches all rows of a file as they are now."""
        return Index.over(file)

    def holds(self, name: str) -> bool:
        """Whether anything was ever kept under a name."""
        return (self.folder / name).exists()

    def forget(self, name: str) -> None:
        """Throw a vector file away."""
        shutil.rmtree(self.folder / name, ignore_errors=True)

    def beside(self) -> VectorFolder:
        """Where vectors are made that are to take the place of these, which stay in use meanwhile."""
        with suppress(OSError):
            self.folder.mkdir(exist_ok=True)
        return VectorFolder(self.folder / BESIDE)

    def adopt(self, names: Sequence[str]) -> None:
        """Put what was made beside in the place of what is here, and forget what nothing was made for.

        The last name is the last to be put in place: where nothing lies beside under it, all is done. Stopped in any
        way, the same call goes on.
        """
        beside = self.beside()
        if not beside.holds(names[-1]):
            return
        for name in names:
            self.forget(name)
            if beside.holds(name):
                os.replace(beside.folder / name, self.folder / name)

    def states(self, names: Iterable[str]) -> dict[str, list[int]]:
        """Of each vector file that is there, what changes whenever its rows do; nothing of them is read."""
        found = {}
        for name in names:
            place = self.folder / name
            with suppress(OSError):  # a file that is not there has no state
                found[name] = sorted(
                    number for path in place.iterdir() for number in (path.stat().st_size, path.stat().st_mtime_ns)
                )
        return found

    def level_at(self) -> Any:
        """What `keep_level` was given last, None where it cannot be read."""
        try:
            return json.loads(read_bounded(self.folder / LEVEL, LARGEST_HEAD))
        except (OSError, ValueError, RecursionError):
            return None

    def keep_level(self, stamp: Any) -> None:
        """Note that the files were level with the records as `stamp` (a JSON value) tells both; a hint, no truth."""
        part = self.folder / f"{LEVEL}.{os.getpid()}.part"
        with suppress(OSError):  # a read-only archive goes without
            part.write_text(json.dumps(stamp), "ascii")
            os.replace(part, self.folder / LEVEL)

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Keep all other programs and threads from writing vector files meanwhile.

        Raises ArchiveBusy where another goes on writing for `WAIT_S` seconds, ArchiveUnwritable where the disk is full,
        shut or gone.
        """
        from filelock import FileLock, Timeout

        try:
            self.folder.mkdir(exist_ok=True)  # in a folder that is there: a disk that was taken away is not begun anew
            with FileLock(self.folder / LOCK, timeout=WAIT_S):
                yield
        except Timeout:
            raise ArchiveBusy(*BUSY) from None
        except RefArchiveError:
            raise
        except OSError as error:
            raise ArchiveUnwritable(
                f"The archive's vectors cannot be written: {error.strerror or error}.",
                "What was saved is kept. Make room on the disk, check that it is there and its permissions, and ask "
                "again.",
            ) from None
