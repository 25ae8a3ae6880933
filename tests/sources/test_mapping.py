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
from refarchive.sources.mapping import MAY_MEAN, key_of, suggest_mapping
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
    assert suggest_mapping(["Image file", "Artist", "Maker"]) == {"Image file": "file", "Artist": "creator"}
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


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        ({"Artist": "colour"}, "no column “colour” to read “Artist” into"),
        ({"Artist": "..."}, "no column “...” to read"),
        ({"Artst": "creator"}, "museum.csv has no column “Artst”"),
        ({"": "title"}, "has no column “”"),
        ({"x" * 400: "title"}, "has no column “xxx"),
        ({"...": "title"}, "has no column “...”"),
        ({"Artist": "creator", "ARTIST": "title"}, "cannot be both creator and title"),
        ({f"Artist{'.' * n}": "creator" for n in range(201)}, "201 columns are too many"),
    ],
)
def test_nonsense_is_refused(sheet: Path, bad: dict[str, str], words: str) -> None:
    with pytest.raises(SheetRefused) as told:
        read_sheet(sheet, bad)
    assert words in told.value.problem
    assert told.value.next_step


def test_a_sheet_of_the_same_columns_is_known_whatever_their_order() -> None:
    assert key_of(["Artist", "Title", ""]) == key_of(["title ", "ARTIST"])
    assert key_of(["Artist", "Title"]) != key_of(["Artist", "Title", "Shelf"])
    assert key_of(["ab", "c"]) != key_of(["a", "bc"])


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
    assert any("“Artist” was read as creator, as you said before." in notice for notice in run()["notices"])
    assert any("“Notes” was left out, as you said before." in notice for notice in run()["notices"])
    archive.forget_columns()
    with pytest.raises(SheetRefused):
        archive.gather(sheet=sheet)


def test_what_was_said_of_one_sheet_does_not_hold_for_another(archive: Archive, sheet: Path) -> None:
    archive.gather(sheet=sheet, columns={"Image file": "file", "Artist": "creator", "Notes": "source"})
    same = sheet.with_name("more.csv")
    same.write_text("Notes,Shelf,Date made,Artist,Image file\na letter,B 4,1872,Nobody,x.jpg\n", "utf-8")
    archive.gather(sheet=same)
    assert (archive.reference("x.jpg").creator, archive.reference("x.jpg").source) == ("Nobody", "a letter")
    other = sheet.with_name("other.csv")
    other.write_text("file,Notes,Artist\nx.jpg,wet,Somebody\n", "utf-8")
    report = archive.gather(sheet=other)
    assert (archive.reference("x.jpg").creator, archive.reference("x.jpg").source) == ("Nobody", "a letter")
    assert any('--column "Notes=description"' in notice for notice in report.notices)


def test_the_command_line_refuses_what_makes_no_sense(archive: Archive, sheet: Path) -> None:
    def run(*more: str) -> tuple[int, str]:
        done = CliRunner().invoke(cli, ["gather", str(archive.folder), "--sheet", str(sheet), *more])
        return done.exit_code, done.stderr + str(getattr(done.exception, "problem", ""))

    assert run("--column", "Artist")[0] == 2
    code, words = run("--column", "Artist=creator", "--column", "Artist=title")
    assert (code, "two things of one column" in words) == (2, True)
    code, words = run("--column", "Artst=creator")
    assert (code, "has no column “Artst”" in words) == (1, True)
    assert len(archive) == 0


def test_a_refused_sheet_is_not_remembered(archive: Archive, sheet: Path) -> None:
    with pytest.raises(SheetRefused):
        archive.gather(sheet=sheet, columns={"Artist": "colour"})
    sheet.write_text("nothing,here\n1,2\n", "utf-8")
    with pytest.raises(SheetRefused):
        archive.gather(sheet=sheet, columns={"Artist": "creator"})
    assert not archive._kit.store.setting("sheet columns")
