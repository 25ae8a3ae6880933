"""The short form of `interrupted`, and that its comparison sees what differs."""

from __future__ import annotations

import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from refarchive.encoders import sentences
from refarchive.records.store import DATABASE
from tests.faults import interrupted, quick


@pytest.fixture(autouse=True)
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sentences, "shared", sentences.shared)  # put back when the test ends
    quick.install()


def test_interrupted_gathering_ends_as_if_it_had_not_been(tmp_path: Path) -> None:
    outcome = interrupted.run(tmp_path, 100, 3, seed=1, pause_s=0.05)
    assert outcome.wrong == []
    assert outcome.signals["SIGKILL"] >= 1
    assert outcome.signals["SIGINT"] >= 1
    assert 0 < outcome.kept[0] < 103
    assert outcome.compared["reference"] == 103
    assert outcome.compared["vectors likeness"] == 6 * 100
    assert outcome.compared["previews"] == 100


def change(statement: str) -> Callable[[Path], None]:
    def made(archive: Path) -> None:
        with closing(sqlite3.connect(archive / DATABASE)) as connection:
            connection.execute(statement)
            connection.commit()

    return made


def flip(part: str) -> Callable[[Path], None]:
    def made(archive: Path) -> None:
        path = max((p for p in (archive / part).rglob("*") if p.is_file()), key=lambda p: p.stat().st_size)
        content = bytearray(path.read_bytes())
        content[len(content) // 2] ^= 1
        path.write_bytes(content)

    return made


@pytest.mark.parametrize(
    "done",
    [
        change("UPDATE reference SET title = 'Another' WHERE number = 3"),
        change("UPDATE source_mark SET mtime_ns = mtime_ns + 1 WHERE path = 'p1.jpg'"),
        change("DELETE FROM history WHERE number = 4"),
        change("UPDATE history SET after = replace(after, 'p1', 'p2')"),
        change("INSERT INTO setting VALUES ('more', '1')"),
        change("UPDATE reference_words SET title = 'lamp' WHERE rowid = 2"),
        flip("originals"),
        flip("previews"),
        flip("vectors/likeness"),
    ],
)
def test_whatever_differs_is_seen(done: Callable[[Path], None], tmp_path: Path) -> None:
    quick.made(tmp_path / "one", quick.scans(tmp_path / "scans", 4))
    shutil.copytree(tmp_path / "one", tmp_path / "two")
    assert list(interrupted.differences(tmp_path / "one", tmp_path / "two", Counter())) == []
    done(tmp_path / "two")
    assert list(interrupted.differences(tmp_path / "one", tmp_path / "two", Counter())) != []


def test_the_clock_may_differ(tmp_path: Path) -> None:
    quick.made(tmp_path / "one", quick.scans(tmp_path / "scans", 4))
    shutil.copytree(tmp_path / "one", tmp_path / "two")
    change("UPDATE history SET at = '2027', after = replace(after, '\"added_at\": \"20', '\"added_at\": \"21')")(
        tmp_path / "two"
    )
    change("UPDATE reference SET added_at = '21' || substr(added_at, 3)")(tmp_path / "two")
    assert list(interrupted.differences(tmp_path / "one", tmp_path / "two", Counter())) == []
