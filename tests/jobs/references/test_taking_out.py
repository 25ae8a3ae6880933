"""References, details and scenes taken out: what goes with them, what is refused, what stays."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import InUse, UnknownRecord

PLAN = """[scene]
title = "Lamp"
story = "One lamp."
[[need]]
name = "Lamp"
department = "props"
[[need.evidence]]
reference = "b.png"
relation = "shows"
region = [0.1, 0.1, 0.3, 0.3]
"""


@pytest.fixture
def full(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    return archive


def test_what_is_taken_out_is_found_no_more_and_its_original_stays(full: Archive, folder: Path) -> None:
    gone = full.reference("a.jpg")
    detail = full.mark("a.jpg", (0.1, 0.1, 0.2, 0.2), "a corner")
    like = full.find(like=folder / "a.jpg").hits[0].reference
    full.evidence.take_out("a.jpg")
    assert like.id == gone.id
    assert gone.id not in [hit.reference.id for hit in full.find(like=folder / "a.jpg", top=100).hits]
    assert full._kit.files.original(gone.sha256, gone.suffix).is_file()
    assert full.details() == []
    last = full.history(f"detail:{detail.id}")[0]
    assert (last.action, (last.before or {})["note"]) == ("removed", "a corner")
    assert full.verify().problems == []
    assert full.gather(folder).added == 1


def test_what_a_scene_stands_on_is_refused(full: Archive) -> None:
    full.plan(PLAN)
    (detail,) = full.details()
    with pytest.raises(InUse, match="used in the scene"):
        full.evidence.take_out("b.png")
    with pytest.raises(InUse, match="evidence in the scene"):
        full.evidence.take_out_detail(detail.id)
    full.evidence.take_out_scene("lamp")
    assert full.scenes() == []
    full.evidence.take_out_detail(detail.id)
    full.evidence.take_out("b.png")
    with pytest.raises(UnknownRecord):
        full.evidence.take_out("b.png")


def test_of_several_all_are_taken_out_or_none(full: Archive) -> None:
    full.plan(PLAN)
    before = [one.id for one in full.references()]
    for refused, error in ((("a.jpg", "b.png"), InUse), (("a.jpg", "nowhere.png"), UnknownRecord)):
        with pytest.raises(error):
            full.evidence.take_out(*refused)
        assert [one.id for one in full.references()] == before
    twice = full.evidence.take_out("a.jpg", "a.jpg", "letter.txt")
    assert [one["title"] for one in twice] == ["a", "letter"]
    assert full.verify().problems == []


def test_the_command(full: Archive) -> None:
    full.plan(PLAN)
    (detail,) = full.details()
    place = str(full.folder)

    def run(*words: str) -> tuple[int, str]:
        done = CliRunner().invoke(cli, ["take-out", place, *words])
        return done.exit_code, done.output

    assert run("lamp", "--scene") == (0, "Taken out: Lamp\n")
    assert run(detail.id, "--detail")[0] == 0
    told = CliRunner().invoke(cli, ["take-out", place, "a.jpg", "b.png", "--json"])
    assert len(json.loads(told.stdout)["taken_out"]) == 2
    code, said = run("letter.txt")
    assert (code, "Originals stay" in said) == (0, True)
    assert "a.jpg" not in {reference.source_name for reference in full.references()}
