"""Subjects over a real archive, from Python and from the command line. Authority for the tree: see tests/subjects."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from drawn import draw

import refarchive
from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import BadQuery, UnknownRecord


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with subjects, made once; each test opens a copy."""
    place = tmp_path_factory.mktemp("subjects")
    for number, name in enumerate(["a.jpg", "b.png", "c.tif", "d.webp"]):
        draw(place / "scans" / name, number)
    with refarchive.create(place / "archive", "tiny", who="tester") as made:
        made.gather(place / "scans")
        made.describe("a.jpg", title="A lit lantern carried before dawn")
        made.describe("b.png", title="Rowing boat on the beach", subjects=["boats", "46C232"])
        made.describe("c.tif", subjects=["46C24 sailing-ship, sailing-boat"])
        made.describe("d.webp", subjects=["46C14", "14 February"])
    return place / "archive"


@pytest.fixture
def about(written: Path, tmp_path: Path) -> Iterator[Archive]:
    shutil.copytree(written, tmp_path / "archive")
    with refarchive.open(tmp_path / "archive") as opened:
        yield opened


def names(archive: Archive, **asked: object) -> set[str]:
    return {Path(hit.reference.source_name).name for hit in archive.find(**asked).hits}


def run(archive: Archive, *asked: str, code: int = 0) -> dict:
    done = CliRunner().invoke(cli, [asked[0], str(archive.folder), *asked[1:], "--json"])
    assert done.exit_code == code, done.output
    return json.loads(done.stdout) if code == 0 else {"output": f"{done.output}{done.exception}"}


def said(archive: Archive, *asked: str) -> str:
    done = CliRunner().invoke(cli, [asked[0], str(archive.folder), *asked[1:]])
    assert done.exit_code == 0, done.output
    return done.output


def test_a_parent_finds_its_children_and_says_so(about: Archive) -> None:
    assert names(about, subject="46C2") == {"b.png", "c.tif"}
    assert names(about, subject="46C") == {"b.png", "c.tif", "d.webp"}
    assert names(about, subject="boats") == {"b.png"}
    found = about.find(subject="46C2")
    assert "Subject “46C2 traffic on the water”, with all that Iconclass has beneath it." in found.notes


def test_wider_goes_up_and_says_so(about: Archive) -> None:
    assert names(about, subject="46C232") == {"b.png"}
    assert names(about, subject="46C232", wider=1) == {"b.png"}
    assert names(about, subject="46C232", wider=2) == {"b.png", "c.tif"}
    found = about.find(subject="46C232", wider=2)
    assert found.notes[0] == "Widened from “46C232 rowing-boat, canoe, etc.”."
    assert found.notes[1].startswith("Subject “46C2 traffic on the water”")
    assert (
        about.find(subject="4", wider=3).notes[0]
        == "Nothing stands above “4 Society, Civilization, Culture”, a main class."
    )
    assert names(about, subject="4", wider=3) == {"b.png", "c.tif", "d.webp"}
    with pytest.raises(BadQuery):
        about.find(subject="boats", wider=1)


def test_an_unknown_notation_is_said_to_be_one(about: Archive) -> None:
    found = about.find(subject="46C99")
    assert not found.hits
    assert "Iconclass has no notation '46C99'" in found.notes[0]
    assert "“46C traffic and transport”" in found.notes[0]


def test_assigning_keeps_one_form_and_is_told_in_history(about: Archive) -> None:
    after = about.evidence.assign_subject("a.jpg", "41b33")
    assert after.subjects == ("41B33 lantern",)
    again = about.evidence.assign_subject("a.jpg", "41B33 lantern")
    assert again == after
    assert about.history(f"reference:{after.id}")[0].after["subjects"] == ["41B33 lantern"]
    assert about.evidence.assign_subject("b.png", "46C232").subjects == ("boats", "46C232")
    assert about.evidence.assign_subject("b.png", "25H133").subjects == ("boats", "46C232", "25H133 beach")


def test_a_subject_with_semicolons_in_its_words_is_kept_without(about: Archive) -> None:
    assert about.evidence.assign_subject("a.jpg", "31A").subjects == ("31A the (nude) human figure",)


@pytest.mark.parametrize(
    ("code", "kind"),
    [("46C99", UnknownRecord), ("boats", BadQuery), ("25F23(...)", BadQuery), ("14 February", BadQuery)],
)
def test_what_cannot_be_assigned_changes_nothing(about: Archive, code: str, kind: type[Exception]) -> None:
    before = about.reference("a.jpg")
    with pytest.raises(kind):
        about.evidence.assign_subject("a.jpg", code)
    assert about.reference("a.jpg") == before


def test_a_subject_shows_its_place_and_who_has_it(about: Archive) -> None:
    document = about.evidence.subject("46C2")
    assert [one["code"] for one in document["path"]] == ["4", "46", "46C"]
    assert (document["text"], document["references"]) == ("traffic on the water", 2)
    by_code = {one["code"]: one["references"] for one in document["children"]}
    assert (by_code["46C23"], by_code["46C24"], by_code["46C25"]) == (1, 1, 0)
    assert {one["title"] for one in document["held_by"]} == {"Rowing boat on the beach", about.reference("c.tif").title}


def test_browsing_begins_at_the_main_classes(about: Archive) -> None:
    top = about.evidence.browse()
    assert [one["code"] for one in top] == list("0123456789")
    assert {one["code"]: one["references"] for one in top}["4"] == 3
    assert [one["code"] for one in about.evidence.browse("46C")] == ["46C1", "46C2", "46C3", "46C4", "46C5"]


def test_suggestions_from_words_and_from_a_reference(about: Archive) -> None:
    words = about.evidence.suggest_subjects("A lit lantern carried before dawn", top=5)
    assert {"41B33", "24A11"} <= {one["code"] for one in words}
    assert all(one["because"] and one["meaning"] is not None for one in words)
    assert about.evidence.suggest_subjects(of="a.jpg", top=5)[0]["because"]
    assert about.evidence.suggest_subjects("qwxzyt") == []
    for wrong in ({}, {"words": "x", "of": "a.jpg"}):
        with pytest.raises(BadQuery):
            about.evidence.suggest_subjects(**wrong)


def test_the_command_line(about: Archive) -> None:
    assert len(run(about, "subjects")["children"]) == 10
    assert run(about, "subjects", "46C2")["references"] == 2
    assert run(about, "subjects", "--suggest", "lantern")["suggestions"][0]["code"]
    assert run(about, "subjects", "--of", "a.jpg")["suggestions"]
    assert run(about, "subjects", "41B33", "--assign", "a.jpg")["subjects"] == ["41B33 lantern"]
    assert "46C (traffic and transport)" in run(about, "subjects", "46C99", code=1)["output"]
    assert "one of them" in run(about, "subjects", "46C", "--suggest", "x", code=2)["output"]
    assert "--assign needs" in run(about, "subjects", "--assign", "a.jpg", code=2)["output"]
    found = run(about, "find", "--subject", "46C232", "--wider", "2")
    assert {Path(hit["source_name"]).name for hit in found["hits"]} == {"b.png", "c.tif"}
    assert "--wider takes" in run(about, "find", "--wider", "2", code=2)["output"]


def test_the_command_line_in_lines(about: Archive) -> None:
    lines = said(about, "subjects", "46C2").splitlines()
    assert lines[:4] == [
        "4  Society, Civilization, Culture  [3]",
        "  46  social and economic life, transport and communication  [3]",
        "    46C  traffic and transport  [3]",
        "      46C2  traffic on the water  [2]",
    ]
    assert "        46C24  sailing-ship, sailing-boat  [1]" in lines
    assert "knows none" in said(about, "subjects", "--suggest", "qwxzyt")
    assert "“lantern”" in said(about, "subjects", "--suggest", "lantern")
