"""What SQLite's own check does not see: rows that say something else, and words that are not those of the rows."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

import refarchive
from refarchive.records.store import DATABASE
from tests.faults import quick


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return quick.made(tmp_path / "archive", quick.scans(tmp_path / "scans", 2), scene=True)


def alter(place: Path, statement: str) -> None:
    """Change the database behind the archive's back, as sound as SQLite could wish."""
    with closing(sqlite3.connect(place / DATABASE)) as connection:
        connection.execute(statement)
        connection.commit()
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def problems(place: Path, *, repair: bool = False) -> list[str]:
    with refarchive.open(place) as archive:
        return archive.verify(repair=repair).problems


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("UPDATE reference SET title = 'q0' WHERE title = 'p0'", "reference:"),
        ("UPDATE history SET after = replace(after, 'p0', 'q0') WHERE record LIKE 'reference:%'", "reference:"),
        ("UPDATE need SET name = 'Lanterm'", "scene:ford"),
        ('UPDATE setting SET value = \'{"name": "quick", "why": "x"}\'', "setting:encoder"),
    ],
)
def test_rows_are_held_against_the_history(place: Path, statement: str, told: str) -> None:
    alter(place, statement)
    found = problems(place)
    assert any(told in one and "history" in one for one in found)


def test_rows_are_held_against_the_last_tally(place: Path) -> None:
    assert problems(place) == []  # and a tally is kept
    with refarchive.open(place) as archive:
        archive.describe("p1.jpg", title="Said since")
    assert problems(place) == []  # a change that was told is none
    alter(place, "UPDATE history SET who = 'nobody' WHERE number = 2")
    assert any("history 2 is not what it was" in one for one in problems(place))
    assert any(
        "history 2 is not what it was" in one for one in problems(place, repair=True)
    )  # nor is it taken for right


def test_words_are_made_anew_from_the_rows(place: Path) -> None:
    alter(place, "DELETE FROM reference_words WHERE title = 'p1'")
    assert any("words kept for searching" in one for one in problems(place))
    assert problems(place, repair=True) == []
    with refarchive.open(place) as archive:
        assert [hit.reference.title for hit in archive.find("p1").hits][:1] == ["p1"]
