"""Taking the power away at moments of the work, and looking at what a disk may then hold: python -m tests.faults.power.

A shim notes what work brings to the disk, in its order: the bytes of a file at its last fsync, the names in a folder at
its last fsync, the database at the last commit. At one step the process ends, and the folder is rebuilt as a disk may
be found: what was waited for is there; of all the rest each name is the old one, the new one or none, and each file
holds what it held, what it was to hold, a part of it, zeros, or sectors of both. That is harsher than a file system
that keeps renames in order. Then it is looked at as after a kill (`kills.look_at`).

SQLite's writes go past Python. With synchronous = FULL a commit is on the disk when it returns, and SQLite orders its
own checkpoints (https://sqlite.org/wal.html, https://sqlite.org/atomiccommit.html): what came after the last commit is
cut off at any byte, or left as zeros; a checkpoint under way is left as it is.
"""

from __future__ import annotations

import os
import pickle
import random
import shutil
import stat
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy.engine.default import DefaultDialect

from refarchive.records.store import DATABASE, Store
from tests.faults import kills

KINDS = [kind for kind in kills.KINDS if kind.name in ("gather", "reencode", "pack", "unpack")]
SECTOR = 512
Names = dict[str, int]  # what a folder lists, by inode


@dataclass
class Disk:
    """What is known to be on the disk, and what would be there once everything was."""

    root: int = 0
    folders: dict[int, Names] = field(default_factory=dict)  # at their last fsync
    files: dict[int, bytes] = field(default_factory=dict)
    folders_now: dict[int, Names] = field(default_factory=dict)
    files_now: dict[int, bytes] = field(default_factory=dict)
    are_folders: set[int] = field(default_factory=set)  # another thread may make one while all are looked through
    database: tuple[bytes, bytes] = (b"", b"")  # at the last commit, and its log
    database_now: tuple[bytes, bytes] = (b"", b"")
    kept: list[str] = field(default_factory=list)  # ids that were told to be kept
    steps: int = 0


class Shim:
    """Between the work and the disk, in the process that works; ends it at one step, and leaves word in a file."""

    def __init__(self, root: Path, stop_at: int, word: Path, deaf: bool) -> None:
        self.disk = Disk(root.stat().st_ino)
        self._root, self._stop_at, self._word, self._deaf = root, stop_at, word, deaf
        self._held: list[int] = []  # open, so that no inode's number is given to another file
        self.disk.folders, self.disk.files = self._all()
        self.disk.database = self._database()

    def install(self) -> None:
        """Stand in for what Python calls, and for commits."""
        fsync = os.fsync

        def waited(handle: int) -> None:
            self._step()
            fsync(handle)
            if not self._deaf:
                self._waited(handle)
            self._step()

        os.fsync = waited
        for name in ("replace", "rename", "link", "unlink", "mkdir"):
            setattr(os, name, self._around(getattr(os, name)))
        commit = self._around(DefaultDialect.do_commit)

        def committed(*given: Any) -> None:
            commit(*given)
            self.disk.database = self._database()

        DefaultDialect.do_commit = committed  # type: ignore[method-assign]
        add = Store.add_references

        def told(store: Store, new: Any) -> None:
            add(store, new)
            self.disk.kept += [item.reference.id for item in new]

        Store.add_references = told  # type: ignore[method-assign]

    def end(self) -> None:
        """Leave word of everything, and end the process."""
        self.disk.folders_now, self.disk.files_now = self._all()
        self.disk.database_now = self._database()
        self._word.write_bytes(pickle.dumps(self.disk))
        os._exit(0)

    def _around(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def stepped(*given: Any, **named: Any) -> Any:
            self._step()
            done = real(*given, **named)
            self._step()
            return done

        return stepped

    def _step(self) -> None:
        self.disk.steps += 1
        if self.disk.steps == self._stop_at:
            self.end()

    def _waited(self, handle: int) -> None:
        place = Path(os.readlink(f"/proc/self/fd/{handle}"))
        if self._root not in (place, *place.parents):
            return
        self._held.append(os.dup(handle))
        number = os.fstat(handle).st_ino
        if place.is_dir():
            self.disk.folders[number] = self._names(place)
        else:
            self.disk.files[number] = place.read_bytes()

    def _names(self, folder: Path) -> Names:
        found = {}
        for path in folder.iterdir():
            try:
                self._held.append(os.open(path, os.O_RDONLY))
            except FileNotFoundError:  # another thread was faster
                continue
            state = os.fstat(self._held[-1])
            found[path.name] = state.st_ino
            if stat.S_ISDIR(state.st_mode):
                self.disk.are_folders.add(state.st_ino)
        return found

    def _all(self) -> tuple[dict[int, Names], dict[int, bytes]]:
        folders, files = {}, {}
        for place, _, names in os.walk(self._root):
            folders[os.stat(place).st_ino] = self._names(Path(place))
            for name in names:
                try:
                    handle = os.open(Path(place) / name, os.O_RDONLY)
                except FileNotFoundError:
                    continue
                self._held.append(handle)
                files[os.fstat(handle).st_ino] = os.pread(handle, os.fstat(handle).st_size, 0)
        return folders, files

    def _database(self) -> tuple[bytes, bytes]:
        found = []
        for ending in ("", "-wal"):
            try:
                found.append((self._root / "archive" / (DATABASE + ending)).read_bytes())
            except FileNotFoundError:
                found.append(b"")
        return found[0], found[1]


def worked(kind: kills.Kind, folder: Path, stop_at: int, word: Path, *, deaf: bool = False) -> Disk:
    """Do the work in a process of its own until a step (0: to its end); with `deaf`, as if nothing was waited for."""
    child = os.fork()
    if not child:
        try:
            shim = Shim(folder, stop_at, word, deaf)
            shim.install()
            kind.work(folder)
            shim.end()
        except BaseException as error:
            word.with_suffix(".failed").write_text(f"{type(error).__name__}: {error}")
        os._exit(1)
    os.waitpid(child, 0)
    assert word.exists(), word.with_suffix(".failed").read_text()
    disk: Disk = pickle.loads(word.read_bytes())
    return disk


def rebuilt(disk: Disk, folder: Path, drawn: random.Random) -> None:
    """Make the new folder what a disk may hold."""
    _rebuild(disk, disk.root, folder, drawn)
    place = folder / "archive"
    (before, log), (now, log_now) = disk.database, disk.database_now
    if now == before and log_now.startswith(log):
        end = drawn.randint(len(log), len(log_now))
        log_now = log_now[:end] + drawn.choice((b"", bytes(len(log_now) - end)))
    (place / DATABASE).write_bytes(now)
    if log_now:
        (place / f"{DATABASE}-wal").write_bytes(log_now)


def _rebuild(disk: Disk, number: int, place: Path, drawn: random.Random) -> None:
    place.mkdir()
    before, now = disk.folders.get(number, {}), disk.folders_now.get(number, {})
    for name in sorted({*before, *now}):
        if name.startswith(DATABASE) and place.name == "archive":
            continue
        chosen = drawn.choice((before.get(name), now.get(name)))
        if chosen is None:
            continue
        if chosen in disk.are_folders:
            _rebuild(disk, chosen, place / name, drawn)
        else:
            (place / name).write_bytes(_content(disk.files.get(chosen, b""), disk.files_now.get(chosen), drawn))


def _content(before: bytes, now: bytes | None, drawn: random.Random) -> bytes:
    if now is None or now == before:
        return before
    cut = drawn.randint(0, len(now))
    of_both = b"".join(
        drawn.choice((before, now))[at : at + SECTOR].ljust(min(SECTOR, len(now) - at), b"\0")
        for at in range(0, len(now), SECTOR)
    )
    return drawn.choice((before, now, now[:cut], now[:cut].ljust(len(now), b"\0"), of_both))


def lose(
    kind: kills.Kind, count: int, seed: int, place: Path, *, deaf: bool = False, earliest: float = 0.0
) -> tuple[Counter[str], list[str]]:
    """Take the power away `count` times; outcomes counted, and what was wrong.

    Steps are drawn from the share `earliest` of all steps on; with `deaf`, as if nothing had been waited for.
    """
    drawn = random.Random(f"{kind.name} {seed}")
    ready, outcomes, wrong = place / "ready", Counter[str](), []
    ready.mkdir(parents=True)
    kind.prepare(ready)
    shutil.copytree(ready, place / "whole")
    steps = worked(kind, place / "whole", 0, place / "whole.word").steps
    whole = kills.state(place / "whole", kind.mended)
    for number in range(count):
        folder, found = place / f"found{number}", place / f"run{number}"
        shutil.copytree(ready, found)
        step = drawn.randint(max(1, int(earliest * steps)), steps)
        disk = worked(kind, found, step, place / f"{number}.word", deaf=deaf)
        rebuilt(disk, folder, drawn)
        try:
            told = kills.look_at(kind, folder, disk.kept, whole)
        except Exception as error:
            told = [f"{type(error).__name__}: {error}"]
        outcomes["held" if not told else "wrong"] += 1
        outcomes["told to be kept"] += len(disk.kept)
        wrong += [f"{kind.name}, without power at step {step} of {steps}: {one}" for one in told]
        for one in (folder, found):
            for path in one.rglob("*"):
                path.chmod(path.stat().st_mode | stat.S_IWUSR)
            shutil.rmtree(one)
    outcomes["steps"] = steps
    return outcomes, wrong


if __name__ == "__main__":
    sys.exit(kills.command(lose, "losses", 100, KINDS, __doc__))
