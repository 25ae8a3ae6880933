"""Power loss: what was not brought to the disk may be gone, in any mixture.

A recorder stands between the program and the file calls of one gathering. What it knows to be on the disk is only what
was waited for: the bytes of a file at its last fsync, and a name since its folder was synced. SQLite's own
writes go past Python; that a commit in WAL with synchronous = FULL is on the disk when it returns is SQLite's word
(https://sqlite.org/pragma.html#pragma_synchronous), and that it is asked for is tested here.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

import pytest

import refarchive
from refarchive.records.store import Store
from tests.faults import kills, power, quick


class Recorder:
    """Which inodes' bytes, and which names in which folders, are known to be on the disk."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.synced: dict[int, int] = {}  # inode → bytes at its last fsync
        self.folders: dict[int, set[str]] = {}  # inode of a folder → names in it at its last fsync
        real = os.fsync

        def fsync(handle: int) -> None:
            real(handle)
            known = os.fstat(handle)
            place = os.readlink(f"/proc/self/fd/{handle}")
            if os.path.isdir(place):
                self.folders[known.st_ino] = set(os.listdir(place))
            else:
                self.synced[known.st_ino] = known.st_size

        monkeypatch.setattr(os, "fsync", fsync)

    def survives(self, path: Path, root: Path) -> bool:
        """Whether a file below `root` would be there, whole, after a power failure now."""
        known = path.stat()
        if self.synced.get(known.st_ino) != known.st_size:
            return False
        while path != root:
            if path.name not in self.folders.get(path.parent.stat().st_ino, set()):
                return False
            path = path.parent
        return True


def test_an_original_is_on_the_disk_with_its_folders_before_the_row_that_names_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recorder = Recorder(monkeypatch)
    looked: list[bool] = []
    real = Store.add_references

    def checked(self: Store, new: Any) -> None:
        for item in new:
            if item.reference.sha256:
                path = archive._kit.files.original(item.reference.sha256, item.reference.suffix)
                looked.append(recorder.survives(path, archive.folder))
        real(self, new)

    monkeypatch.setattr(Store, "add_references", checked)
    with refarchive.create(tmp_path / "archive", "quick") as archive:
        archive.gather(quick.scans(tmp_path / "scans"))
        assert len(looked) == 23
        assert all(looked)


def test_commits_are_waited_for(tmp_path: Path) -> None:
    with (
        refarchive.create(tmp_path / "archive", "quick") as archive,
        archive._kit.store._reading() as connection,
    ):
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2  # FULL
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"


@pytest.mark.parametrize("seed", range(2))
def test_what_was_not_waited_for_is_mended_when_it_is_lost(tmp_path: Path, seed: int) -> None:
    """Everything that is a cache cut short or gone, file by file, as a disk without power may leave it."""
    import random

    drawn = random.Random(seed)
    place = quick.made(tmp_path / "archive", quick.scans(tmp_path / "scans", 6))
    whole = tmp_path / "whole"
    shutil.copytree(place, whole)
    for path in sorted(p for name in ("previews", "vectors") for p in (place / name).rglob("*") if p.is_file()):
        fate = drawn.choice(("gone", "empty", "short", "zeros", "kept"))
        content = path.read_bytes()
        if fate == "gone":
            path.unlink()
        elif fate != "kept":
            cut = drawn.randrange(len(content) + 1)
            filled = b"\0" * (len(content) - cut) if fate == "zeros" else b""
            path.write_bytes(b"" if fate == "empty" else content[:cut] + filled)
    with refarchive.open(place) as archive:
        archive.verify(repair=True)
    with refarchive.open(place) as archive, refarchive.open(whole) as before:
        assert archive.verify().problems == []
        assert sorted(archive._kit.likeness) == sorted(before._kit.likeness)
        assert sorted(archive._kit.passages) == sorted(before._kit.passages)


def test_the_recorder_sees_what_was_not_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recorder = Recorder(monkeypatch)
    path = tmp_path / "a.txt"
    path.write_text("unsynced")
    assert not recorder.survives(path, tmp_path)
    with open(path, "rb") as file:
        os.fsync(file.fileno())
    assert not recorder.survives(path, tmp_path)  # its name may still be lost
    handle = os.open(tmp_path, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)
    assert recorder.survives(path, tmp_path)


@pytest.mark.parametrize("kind", power.KINDS, ids=lambda kind: kind.name)
def test_without_power_midway_nothing_that_was_told_is_lost(tmp_path: Path, kind: kills.Kind) -> None:
    """The short form of `power`."""
    outcomes, wrong = power.lose(kind, 2, 3, tmp_path / "place")
    assert wrong == []
    assert outcomes["held"] == 2


@pytest.mark.parametrize("kind", power.KINDS, ids=lambda kind: kind.name)
def test_without_power_right_after_the_end_all_is_there(tmp_path: Path, kind: kills.Kind) -> None:
    outcomes, wrong = power.lose(kind, 2, 1, tmp_path / "place", earliest=1.0)
    assert wrong == []
    assert outcomes["held"] == 2


def test_what_waits_for_nothing_is_found_out(tmp_path: Path) -> None:
    """As if no fsync did anything, but those of SQLite: rows then name originals that are lost."""
    [gather] = [kind for kind in power.KINDS if kind.name == "gather"]
    _, wrong = power.lose(gather, 1, 5, tmp_path / "place", deaf=True, earliest=0.95)
    assert any("not there or not whole" in one for one in wrong), wrong
