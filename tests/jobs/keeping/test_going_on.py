"""A verification that was stopped goes on where it was, and misses nothing by it."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from drawn import draw

import refarchive
from refarchive.archive import Archive
from refarchive.jobs.keeping import verify
from refarchive.jobs.keeping.going_on import FILE

PICTURES = 6


@pytest.fixture
def archive(tmp_path: Path):
    for number in range(PICTURES):
        draw(tmp_path / "scans" / f"{number}.jpg", number)
    with refarchive.create(tmp_path / "archive", "tiny", who="tester") as made:
        made.gather(tmp_path / "scans")
        yield made


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Digests that were asked of files, one after the other."""
    found: list[str] = []
    hash_of: Callable[[Path], str] = verify.hash_of

    def noted(path: Path) -> str:
        found.append(path.stem)
        return hash_of(path)

    monkeypatch.setattr(verify, "hash_of", noted)
    return found


def stopped(archive: Archive, after: int) -> None:
    def tell(done: int, of: int, what: str) -> None:
        if done == after:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        archive.verify(progress=tell)


def test_it_goes_on_after_what_was_read(archive: Archive, read: list[str]) -> None:
    stopped(archive, 4)
    first = list(read)
    assert len(first) == 4
    read.clear()
    done = archive.verify()
    assert len(read) == PICTURES - 4
    assert not set(read) & set(first)
    assert (done.originals, done.problems) == (PICTURES, [])
    assert any("went on where a verification was stopped" in one and "had read 4" in one for one in done.notices)
    assert not (archive.folder / FILE).exists()
    read.clear()
    assert archive.verify().notices == []
    assert len(read) == PICTURES


def test_stopped_twice_it_has_read_each_once(archive: Archive, read: list[str]) -> None:
    stopped(archive, 2)
    stopped(archive, 5)
    archive.verify()
    assert sorted(read) == sorted({one.sha256 for one in archive.references()})


def test_what_changed_since_is_read_again_and_what_was_wrong_too(archive: Archive) -> None:
    originals = sorted((archive.folder / "originals").rglob("*.jpg"))
    by_order = [next(p for p in originals if p.stem == one.sha256) for one in archive.references()]
    by_order[1].write_bytes(b"damaged before it was read")
    stopped(archive, 4)
    content = bytearray(by_order[2].read_bytes())
    content[len(content) // 2] ^= 1
    by_order[2].write_bytes(content)  # damaged after it was read, its size the same
    problems = archive.verify().problems
    assert len(problems) == 2
    assert all("damaged" in one for one in problems)


@pytest.mark.parametrize(
    "head",
    [
        lambda now: f"begun {now - timedelta(days=3):%Y-%m-%dT%H:%M:%SZ}",
        lambda now: f"begun {now + timedelta(days=3):%Y-%m-%dT%H:%M:%SZ}",
        lambda now: "begun 2026-13-45T99:00:00Z",
        lambda now: "",
        lambda now: "\x00" * 50,
    ],
)
def test_notes_of_long_ago_of_the_future_or_of_another_shape_are_passed_over(
    archive: Archive, read: list[str], head: Callable[[datetime], str]
) -> None:
    stopped(archive, 4)
    notes = archive.folder / FILE
    _, *lines = notes.read_text().splitlines()
    notes.write_text("\n".join([head(datetime.now(UTC)), *lines]))
    read.clear()
    assert archive.verify().notices == []
    assert len(read) == PICTURES


def test_a_torn_line_costs_that_original_only(archive: Archive, read: list[str]) -> None:
    stopped(archive, 4)
    notes = archive.folder / FILE
    notes.write_bytes(notes.read_bytes()[:-9])
    read.clear()
    stopped(archive, 5)
    assert len(read) == 2
    read.clear()
    archive.verify()
    assert len(read) == 1


def test_notes_are_not_written_through_a_link(archive: Archive, tmp_path: Path) -> None:
    other = tmp_path / "elsewhere.txt"
    other.write_text("mine")
    (archive.folder / FILE).symlink_to(other)
    stopped(archive, 4)
    assert other.read_text() == "mine"
    assert archive.verify().problems == []
    assert other.read_text() == "mine"


@pytest.mark.parametrize("kind", ["folder", "pipe"])
def test_where_nothing_can_be_noted_all_is_read(archive: Archive, read: list[str], kind: str) -> None:
    place = archive.folder / FILE
    place.mkdir() if kind == "folder" else os.mkfifo(place)
    stopped(archive, 4)
    read.clear()
    assert archive.verify().problems == []
    assert len(read) == PICTURES


def test_notes_do_not_travel(archive: Archive, tmp_path: Path) -> None:
    stopped(archive, 4)
    from refarchive.archive.packs import pack, unpack

    pack(archive.folder, tmp_path / "a.tar")
    unpack(tmp_path / "a.tar", tmp_path / "back")
    assert not (tmp_path / "back" / FILE).exists()
