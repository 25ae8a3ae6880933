"""Full disks, shut folders, disks that vanish, locks of the dead and the living, clocks that go back.

Each ends in a named problem with a next step and exit 1, and nothing that was kept is lost.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest

import refarchive
from refarchive.errors import ArchiveBusy, RefArchiveError
from refarchive.records import store as stores
from refarchive.records.store import DATABASE
from refarchive.search import vector_folder
from tests.faults import bound, quick

ROOT = Path(__file__).parents[2]
GATHER = """
import sys
from tests.faults import quick
quick.install()
sys.argv[0] = "refarchive"
from refarchive.cli import main
from refarchive.search import vector_folder
main()
"""


def command(*arguments: object, before: Callable[[], None] | None = None) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own, with the light encoder."""
    return subprocess.run(
        [sys.executable, "-c", GATHER, *map(str, arguments)],
        capture_output=True, text=True, cwd=ROOT, preexec_fn=before, check=False,
    )  # fmt: skip


def named(done: subprocess.CompletedProcess[str]) -> str:
    """What a failed command said; that it failed as it should."""
    lines = [line for line in done.stderr.splitlines() if line.strip()]
    assert done.returncode == 1, done.stderr
    assert "Traceback" not in done.stderr
    assert "no name yet" not in done.stderr
    assert len(lines) >= 2  # the problem, and the next step
    return done.stderr


@contextmanager
def small_disk(place: Path, kilobytes: int) -> Iterator[Callable[[], None]]:
    """A disk of a few kilobytes at `place`, and what a child process must call first where mounting is not allowed.

    A limit on the size of a file then gives the same kind of refusal (EFBIG in place of ENOSPC), so that no machine
    skips the test.
    """
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(place)]
    if (
        os.geteuid() == 0
        and shutil.which("mount")
        and subprocess.run(mount, capture_output=True, check=False).returncode == 0
    ):
        try:
            yield lambda: None
        finally:
            subprocess.run(["umount", "-l", str(place)], check=True)
    else:

        def limited() -> None:
            import resource
            import signal

            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (350_000, 350_000))

        yield limited


def test_a_full_disk_is_named_and_loses_nothing(tmp_path: Path) -> None:
    sources = quick.scans(tmp_path / "scans", 4)
    with small_disk(tmp_path / "disk", 1800) as before:
        place = tmp_path / "disk" / "archive"
        quick.made(place, sources)
        with refarchive.open(place) as archive:
            held = [r.id for r in archive.references()]
        for number in range(12):
            (tmp_path / "more").mkdir(exist_ok=True)
            (tmp_path / "more" / f"t{number}.txt").write_text(os.urandom(60_000).hex(), "ascii")
        told = named(command("gather", place, tmp_path / "more", before=before))
        assert "room" in told
        if os.path.ismount(tmp_path / "disk"):
            subprocess.run(["mount", "-o", "remount,size=40m", str(tmp_path / "disk")], check=True)
        with refarchive.open(place) as archive:
            assert [r.id for r in archive.references()][: len(held)] == held
            assert archive.verify(repair=True).problems == []
            assert list((place / "originals").glob(".taking-*")) == []
            assert archive.gather(tmp_path / "more").refused == []
            assert len(archive) == len(held) + 12
            assert archive.verify().problems == []


def test_a_read_only_folder_is_named_and_keeps_what_it_has(tmp_path: Path) -> None:
    place = quick.made(tmp_path / "archive", quick.scans(tmp_path / "scans", 2))
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "t.txt").write_text("One word more.")
    shut = [place, *(path for path in place.rglob("*"))]
    modes = {path: path.stat().st_mode for path in shut}
    for path in shut:
        os.chmod(path, 0o555 if path.is_dir() else 0o444)

    def work() -> None:
        with refarchive.open(place) as archive:
            archive.gather(tmp_path / "new")

    told = bound.told_by(work, tmp_path)
    for path, mode in modes.items():
        os.chmod(path, mode & 0o7777)
    assert "permissions" in told
    assert {path for path in [place, *place.rglob("*")] if "archive.sqlite-" not in path.name} <= set(shut)
    with refarchive.open(place) as archive:
        assert len(archive) == 5
        assert archive.verify().problems == []


@pytest.mark.parametrize("what", ["originals", "previews", "vectors", "the whole archive"])
def test_a_folder_that_is_shut_while_it_is_gathered_into_is_named_and_loses_nothing(tmp_path: Path, what: str) -> None:
    place, sources = tmp_path / "archive", quick.scans(tmp_path / "scans", 90)  # far more than is prepared ahead
    quick.made(place, quick.scans(tmp_path / "before", 2) / "p0.jpg")
    shut: dict[Path, int] = {}
    kept: list[str] = []
    coming, told_there = os.pipe(), os.pipe()

    def shutter() -> None:
        """In this process, which may do what it likes: shut the folder when the other has come so far."""
        os.read(coming[0], 1)
        try:
            kept.extend(sorted(reference_ids(place)))
            path = place if what == "the whole archive" else place / what
            below = [Path(at, name) for at, folders, files in os.walk(path) for name in (*folders, *files)]
            for one in [path, *below]:
                with suppress(FileNotFoundError):  # a half-made file, gone by now: the other still writes
                    shut[one] = one.stat().st_mode
                    os.chmod(one, 0o555 if one.is_dir() else 0o444)
        finally:
            os.write(told_there[1], b".")

    def progress(done: int, total: int, name: str) -> None:
        if done == 20:
            os.write(coming[1], b".")
            os.read(told_there[0], 1)

    def work() -> None:
        with refarchive.open(place) as archive:
            archive.gather(sources, progress=progress)

    other = threading.Thread(target=shutter)
    other.start()
    told = bound.told_by(work, tmp_path)
    os.write(coming[1], b".")  # where the other never came so far, the thread still waits
    other.join()
    for path, mode in shut.items():
        if path.exists():
            os.chmod(path, mode & 0o7777)
    assert "permissions" in told, told
    assert len(kept) >= 16  # a batch had been stored
    with refarchive.open(place) as archive:
        assert set(kept) <= {r.id for r in archive.references()}
        assert archive.gather(sources).refused == []
        archive.verify(repair=True)
        assert archive.verify().problems == []
        assert len(archive) == 93


def reference_ids(place: Path) -> set[str]:
    """What is committed, as another program sees it."""
    with closing(sqlite3.connect(f"file:{place / DATABASE}?mode=ro", uri=True)) as connection:
        return {row[0] for row in connection.execute("SELECT id FROM reference")}


@pytest.mark.parametrize("how", ["shut", "vanished"])
def test_what_happens_midway_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str) -> None:
    place, sources = tmp_path / "archive", quick.scans(tmp_path / "scans")
    gone = tmp_path / "gone"
    archive = refarchive.create(place, "quick")

    def strike(done: int, total: int, name: str) -> None:
        if done == 3 and how == "vanished":
            place.rename(gone)
        elif done == 3:
            # A folder that is no folder any more.
            (place / "originals").rename(gone)
            (place / "originals").write_text("in the way")

    with pytest.raises(RefArchiveError) as caught:
        archive.gather(sources, progress=strike)
    assert caught.value.next_step
    with pytest.raises(RefArchiveError) if how == "vanished" else _fine():
        refarchive.open(place).close()
    archive.close()
    if how == "vanished":
        shutil.rmtree(place, ignore_errors=True)
        gone.rename(place)
    else:
        (place / "originals").unlink()
        gone.rename(place / "originals")
    with refarchive.open(place) as again:
        again.gather(sources)
        assert len(again) == 23
        assert again.verify().problems == []


@contextmanager
def _fine() -> Iterator[None]:
    yield


def test_a_lock_of_the_dead_holds_nobody_up_and_one_of_the_living_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "archive"
    refarchive.create(place, "quick").close()
    lock = place / "vectors" / vector_folder.LOCK
    holder = (
        "import sys, filelock; lock = filelock.FileLock(sys.argv[1]); lock.acquire()\n"
        "print('held', flush=True); sys.stdin.read()"
    )
    dead = subprocess.Popen(
        [sys.executable, "-c", holder, str(lock)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert dead.stdout is not None
    assert dead.stdout.readline() == "held\n"
    monkeypatch.setattr(vector_folder, "WAIT_S", 0.2)
    with refarchive.open(place) as archive:
        with pytest.raises(ArchiveBusy) as caught:
            archive.gather(quick.scans(tmp_path / "scans", 2))
        assert caught.value.next_step
        assert len(archive) == 5  # what was saved is kept
        dead.kill()
        dead.communicate()
        assert lock.exists()
        archive.gather(tmp_path / "scans")
        assert archive.verify().problems == []


def test_two_write_at_once(tmp_path: Path) -> None:
    place = tmp_path / "archive"
    refarchive.create(place, "quick").close()
    sources = quick.scans(tmp_path / "scans", 12)
    told: list[subprocess.CompletedProcess[str]] = []
    others = [threading.Thread(target=lambda: told.append(command("gather", place, sources))) for _ in range(2)]
    for other in others:
        other.start()
    with refarchive.open(place) as archive:
        archive.gather(sources / "p0.jpg")
        for number in range(5):
            quick.plan(archive, f"At the ford, {number}")
        for other in others:
            other.join()
        assert [done.returncode for done in told] == [0, 0], told
        assert len(archive) == 15
        assert archive.scene("ford").title == "At the ford, 4"
        assert archive.verify().problems == []


def test_a_clock_that_goes_back_misorders_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with refarchive.create(tmp_path / "archive", "quick") as archive:
        archive.gather(quick.scans(tmp_path / "scans", 2))
        archive.describe("p0.jpg", title="First")
        past = datetime(1999, 1, 1, tzinfo=UTC).isoformat(timespec="seconds")
        monkeypatch.setattr(stores, "now", lambda: past)
        archive.describe("p0.jpg", title="Second")
        reference = archive.reference("p0.jpg")
        told = [c.after["title"] for c in archive.history(f"reference:{reference.id}")[:2] if c.after]
        assert told == ["Second", "First"]  # in the order in which it was said, whatever the clock said
        os.utime(tmp_path / "scans" / "p1.jpg", (0, 0))  # older than when it was gathered: looked at again
        again = archive.gather(tmp_path / "scans")
        assert (again.added, again.unchanged) == (0, 5)
        assert archive.verify().problems == []


def test_a_copy_with_the_same_digest_is_put_back(tmp_path: Path) -> None:
    sources = quick.scans(tmp_path / "scans", 3)
    place = quick.made(tmp_path / "archive", sources)
    with refarchive.open(place) as archive:
        paths = [archive._kit.files.original(r.sha256, r.suffix) for r in archive.references()[:3]]
        os.chmod(paths[0], 0o644)
        paths[0].write_bytes(b"\0" + paths[0].read_bytes()[1:])
        paths[1].unlink()
        (sources / "p1.jpg").rename(sources / "moved.jpg")
        told = archive.verify(sources=[sources]).problems
        assert len(told) == 2
        assert all("A sound copy lies at" in one for one in told)
        assert all("--from FOLDER" in one for one in archive.verify().problems)
        assert archive.verify(repair=True, sources=[sources]).originals_restored == 2
        assert archive.verify().problems == []
        stranger = paths[0].with_name("note.txt")
        stranger.write_text("mine")
        done = archive.verify(repair=True)
        assert done.problems == []
        assert "No record names 1 of the files" in done.notices[0]
        assert stranger.exists()
