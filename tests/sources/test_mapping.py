"""Columns of other people's sheets: suggested, said once, remembered, refused where they make no sense."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from drawn import draw

from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import SheetRefused
from refarchive.sources.mapping import MAY_MEAN, checked, suggestions
from refarchive.sources.sheet import COLUMN_NAMES, read_sheet

TEXT = "Image file,Artist,Date made,Shelf,Notes\nx.jpg,Mrs. Garrow,1871,B 3,seen twice\n"


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    draw(tmp_path / "in" / "x.jpg", 2)
    path = tmp_path / "in" / "museum.csv"
    path.write_text(TEXT, "utf-8")
    return path


def test_every_suggestion_is_a_column_of_ours_and_no_name_means_two() -> None:
    assert set(MAY_MEAN) <= set(COLUMN_NAMES)
    words = [word for words in MAY_MEAN.values() for word in words.split()]
    assert len(words) == len(set(words))
    assert not set(words) & set(COLUMN_NAMES)


def test_names_are_suggested_and_nothing_is_read_into_them(sheet: Path) -> None:
    assert suggestions(["Image file", "Artist", "Maker"], []) == {"Image file": "file", "Artist": "creator"}
    with pytest.raises(SheetRefused) as told:
        read_sheet(sheet)
    assert '--column "Artist=creator"' in told.value.next_step


def test_what_a_person_says_is_read(sheet: Path) -> None:
    read = read_sheet(sheet, {"image FILE": "file", "Artist": "creator", "Date made": "date", "Shelf": ""})
    assert read.rows[0].fields == {"creator": "Mrs. Garrow", "date": "1871"}
    assert read.rows[0].path == sheet.with_name("x.jpg")
    assert not any("Shelf" in notice for notice in read.notices)  # left out on purpose: nothing to say
    assert any("Notes" in notice and "left out" in notice for notice in read.notices)


def test_a_word_of_the_person_goes_before_what_a_name_means(sheet: Path) -> None:
    sheet.write_text("file,title,name\nx.jpg,IMG 1,The cart\n", "utf-8")
    assert read_sheet(sheet, {"title": "", "name": "title"}).rows[0].fields == {"title": "The cart"}


@pytest.mark.parametrize("bad", [{"Artist": "colour"}, {"": "title"}, {"x" * 400: "title"}, {"...": "title"}])
def test_nonsense_is_refused(sheet: Path, bad: dict[str, str]) -> None:
    with pytest.raises(SheetRefused):
        read_sheet(sheet, bad)
    with pytest.raises(SheetRefused):
        checked(bad, COLUMN_NAMES)


def test_said_once_it_is_remembered(archive: Archive, sheet: Path) -> None:
    def run(*more: str) -> dict:
        done = CliRunner().invoke(cli, ["gather", str(archive.folder), "--sheet", str(sheet), "--json", *more])
        assert done.exit_code == 0, done.output
        return json.loads(done.stdout)

    first = run("--column", "Image file=file", "--column", "Artist=creator", "--column", "Notes=")
    assert first["added"] == 1
    assert archive.reference("x.jpg").creator == "Mrs. Garrow"
    assert any('--column "Date made=date"' in notice for notice in first["notices"])
    second = run("--column", "Date made=date")
    assert second["revised"] == 1
    kept = archive.reference("x.jpg").when
    assert kept is not None
    assert kept.edtf == "1871"
    assert any("“Artist” was read as creator, as you said" in notice for notice in run()["notices"])
    archive.forget_columns()
    with pytest.raises(SheetRefused):
        archive.gather(sheet=sheet)


def test_a_refused_sheet_is_not_remembered(archive: Archive, sheet: Path) -> None:
    with pytest.raises(SheetRefused):
        archive.gather(sheet=sheet, columns={"Artist": "colour"})
    sheet.write_text("nothing,here\n1,2\n", "utf-8")
    with pytest.raises(SheetRefused):
        archive.gather(sheet=sheet, columns={"Artist": "creator"})
    assert not archive._kit.store.setting("sheet columns")
