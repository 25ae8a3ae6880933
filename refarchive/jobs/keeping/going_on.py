"""Which originals a verification has read and found sound, so that one that was stopped goes on where it was.

A line for each stands in a file of its own beside the database: digest, size and time of change as they were when it
was read. It is gone when all originals were looked at, however that went; what was found wrong is in no line, and is
looked at again. A file of another shape, of long ago or of the future is passed over, and all is read anew.
"""

from __future__ import annotations

import os
import re
import time
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO

from refarchive.records.bounded import read_bounded

FILE = "verifying.part"
LARGEST = 200_000_000  # bytes: of a million originals and more
FOR = timedelta(days=2)  # how long after its beginning a verification may still go on
FLUSHED_S = 2.0  # seconds of work that a kill may cost
_HEAD = re.compile(r"begun (\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ)")
_LINE = re.compile(r"([0-9a-f]{64}) (\d{1,20}) (-?\d{1,20})")

# A link is not followed, and a pipe not waited for.
_HOW = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)

State = tuple[int, int]  # size, and time of change in nanoseconds


class GoingOn:
    """What was found sound in this verification, a stopped part before it included.

    Where the folder cannot be written nothing is noted, and nothing else is wrong.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE
        self.begun, self._sound = _read(self._path)
        self.before = len(self._sound)  # found sound by the part that was stopped
        self._file: IO[str] | None = None
        self._flushed = time.monotonic()

    def holds(self, sha256: str, path: Path) -> bool:
        """Whether an original was found sound, and is the same since by size and time of change."""
        known = self._sound.get(sha256)
        return known is not None and known == _state(path)

    def note(self, sha256: str, path: Path) -> None:
        """Note that an original is sound."""
        state = _state(path)
        if state is None:
            return
        with suppress(OSError):
            if self._file is None:
                self._file = os.fdopen(os.open(self._path, _HOW, 0o666), "a", encoding="ascii")
                if self._sound:
                    self._file.write("\n")  # the last line may be torn
                else:
                    self._file.truncate(0)
                    self._file.write(f"begun {self.begun}\n")
            self._file.write(f"{sha256} {state[0]} {state[1]}\n")
            if time.monotonic() - self._flushed > FLUSHED_S:
                self._file.flush()
                self._flushed = time.monotonic()

    def pause(self) -> None:
        """Leave the notes to be gone on from."""
        if self._file is not None:
            with suppress(OSError):
                self._file.close()
            self._file = None

    def end(self) -> None:
        """All originals were looked at."""
        self.pause()
        with suppress(OSError):
            self._path.unlink(missing_ok=True)


def _state(path: Path) -> State | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def _read(path: Path) -> tuple[str, dict[str, State]]:
    """When the verification was begun, and what it found sound; now and nothing where there is none to go on with."""
    now = datetime.now(UTC)
    fresh: tuple[str, dict[str, State]] = f"{now:%Y-%m-%dT%H:%M:%SZ}", {}
    try:
        head, *lines = read_bounded(path, LARGEST).decode("ascii").split("\n")
    except (OSError, ValueError):
        return fresh
    told = _HEAD.fullmatch(head)
    try:
        begun = datetime.fromisoformat(told[1]) if told else None
    except ValueError:
        begun = None
    if told is None or begun is None or not timedelta() <= now - begun + timedelta(seconds=1) <= FOR:
        return fresh
    found = (_LINE.fullmatch(line) for line in lines)  # the last may be torn
    return told[1], {one[1]: (int(one[2]), int(one[3])) for one in found if one}
