"""Describing, linking, following and filling over a real archive, from Python and from the command line."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import BadDate, BadQuery, CannotPrint, PlanRefused, SheetRefused, UnknownRecord
from refarchive.records.model import Witness

PLAN = """# written by hand
[scene]
title = "Lamp at the stage"
event = "They wait"
story = "One lamp."
date = "1871-02"

[[need]]
name = "Lamp"   # the only one
department = "props"

[[need]]
name = "Staff"
department = "props"
"""


@pytest.fixture
def planned(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.plan(PLAN)
    return archive


def run(archive: Archive, command: str, *more: str) -> dict:
    done = CliRunner().invoke(cli, [command, str(archive.folder), *more, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_a_link_goes_up_and_down(planned: Archive) -> None:
    planned.evidence.link("lamp-at-the-stage", "lamp", "a.jpg", region=(0.1, 0.2, 0.3, 0.4), note="its glass")
    planned.evidence.link("lamp-at-the-stage", "lamp", "letter.txt", "describes", quote="A lamp hung at the stage")
    assert "# the only one" in planned.plan_text("lamp-at-the-stage")
    down = run(planned, "claim", "lamp-at-the-stage", "lamp")["evidence"]
    assert [(e["number"].replace("\u00a0", " "), e["relation"]) for e in down] == [
        ("Pl. 1 a", "shows"),
        ("T. 1, passage 1", "describes"),
    ]
    assert down[0]["detail"]["region"] == [0.1, 0.2, 0.3, 0.4]
    assert "A lamp hung" in down[1]["passage"]["text"]
    up = run(planned, "uses", "a.jpg")
    assert [(u["scene"], u["need"], u["number"].replace("\u00a0", " "), u["note"]) for u in up["uses"]] == [
        ("lamp-at-the-stage", "lamp", "Pl. 1 a", "its glass")
    ]
    planned.evidence.unlink("lamp-at-the-stage", "lamp", "a.jpg")
    assert run(planned, "uses", "a.jpg")["uses"] == []
    with pytest.raises(UnknownRecord, match="no evidence"):
        planned.evidence.unlink("lamp-at-the-stage", "lamp", "a.jpg")


def test_a_bad_link_changes_nothing(planned: Archive) -> None:
    before = planned.plan_text("lamp-at-the-stage")
    for bad in ({"relation": "proves"}, {"region": (0.9, 0.9, 0.5, 0.5)}, {"fit": {"mood": "near"}}):
        with pytest.raises(PlanRefused):
            planned.evidence.link("lamp-at-the-stage", "lamp", "a.jpg", **bad)
    with pytest.raises(PlanRefused):
        planned.evidence.link("lamp-at-the-stage", "lamp", "letter.txt", "describes", quote="never written")
    with pytest.raises(UnknownRecord, match="rope") as told:
        planned.evidence.link("lamp-at-the-stage", "rope", "a.jpg")
    assert "lamp" in told.value.next_step
    assert planned.plan_text("lamp-at-the-stage") == before
    assert planned.scene("lamp-at-the-stage").revision == 1


def test_a_description_is_shown_before_it_is_kept(planned: Archive) -> None:
    planned.evidence.link("lamp-at-the-stage", "lamp", "a.jpg")
    shown = run(planned, "describe", "a.jpg", "--date", "Michaelmas 1891", "--witness", "photograph from life")
    assert shown["understood"]["date"].startswith("Understood as 29 September 1891")
    assert not shown["saved"]
    assert planned.reference("a.jpg").when is None
    (effect,) = shown["effects"]
    assert {"what": "this witness in time", "before": "unknown", "after": "far"} in effect["changes"]
    run(planned, "describe", "a.jpg", "--date", "Michaelmas 1891", "--save")
    kept = planned.reference("a.jpg").when
    assert kept is not None
    assert (kept.edtf, kept.text) == ("1891-09-29", "Michaelmas 1891")
    assert planned.describe("a.jpg", date="").when is None


def test_what_cannot_be_said_is_refused(planned: Archive) -> None:
    for bad in ("1783-02-29", "31 April 1783", "0000-13", "1790/1783", "circa", "soon"):
        with pytest.raises(BadDate):
            planned.evidence.preview("a.jpg", date=bad)
    for field, value in (("sha256", "x"), ("colour", "red"), ("witness", "rumour"), ("digitised", "lately")):
        with pytest.raises(BadQuery):
            planned.describe("a.jpg", **{field: value})


def test_a_typed_value_loses_the_origin_of_the_one_it_replaces(planned: Archive) -> None:
    store = planned._kit.store
    found = planned.reference("a.jpg")
    store.change_reference(found.id, creator="Scanner", origins=(("creator", "EXIF Artist"), ("title", "XMP dc:title")))
    assert planned.describe("a.jpg", creator="Mrs. Garrow").origins == (("title", "XMP dc:title"),)


def test_debts_are_written_filled_in_and_taken_in(planned: Archive, tmp_path: Path) -> None:
    planned.evidence.link("lamp-at-the-stage", "lamp", "b.png")
    planned.describe("a.jpg", creator="=formula")
    sheet = tmp_path / "debts.csv"
    document = run(planned, "debts", "--sheet", str(sheet))
    assert document["debts"][0]["source_name"] == "b.png"
    assert document["debts"][0]["alone"] == [{"scene": "lamp-at-the-stage", "need": "lamp"}]
    with sheet.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[0]["source_name"] == "b.png"
    assert next(row for row in rows if row["source_name"] == "a.jpg")["creator"] == "'=formula"
    rows[0] |= {"date": "early 1870s", "witness": "photograph from life", "place": "Merrow"}
    rows[1] |= {"date": "1783-02-29", "place": "never kept"}
    filled = tmp_path / "filled.csv"
    with filled.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    done = run(planned, "debts", "--filled", str(filled))["filled"]
    assert (done["changed"], len(done["refused"])) == (1, 1)
    assert "line 3" in done["refused"][0]["source"]
    b = planned.reference("b.png")
    assert b.when is not None
    assert (b.when.edtf, b.witness, b.place) == ("1870/1874", Witness.PHOTOGRAPH, "Merrow")
    assert planned.reference("a.jpg").creator == "=formula"
    assert planned.reference(rows[1]["reference"]).place == ""
    again = planned.evidence.fill(filled)
    assert (again["changed"], len(again["refused"])) == (0, 1)


def test_a_csv_that_is_none_is_refused_whole(planned: Archive, tmp_path: Path) -> None:
    for text in ("", "title,date\nx,1871\n", 'reference,date\na.jpg,"1871\n'):
        path = tmp_path / "bad.csv"
        path.write_text(text, "utf-8")
        with pytest.raises(SheetRefused):
            planned.evidence.fill(path)
    with pytest.raises(SheetRefused):
        planned.evidence.fill(tmp_path / "none.csv")
    assert planned.reference("a.jpg").when is None


@pytest.mark.parametrize(("suffix", "start"), [(".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")])
def test_the_figure_is_drawn(planned: Archive, tmp_path: Path, suffix: str, start: bytes) -> None:
    planned.evidence.link("lamp-at-the-stage", "lamp", "a.jpg")
    out = tmp_path / f"coverage{suffix}"
    told = run(planned, "coverage", "lamp-at-the-stage", "--figure", str(out))
    assert told["figure"] == str(out)
    assert out.read_bytes().startswith(start)


def test_the_figure_shows_a_mark_for_each_witness_and_words_for_a_gap(planned: Archive) -> None:
    planned.evidence.link("lamp-at-the-stage", "lamp", "a.jpg")
    planned.evidence.link("lamp-at-the-stage", "lamp", "b.png", "contradicts")
    (axes,) = planned.evidence.coverage_figure("lamp-at-the-stage").axes
    marks = [line for line in axes.lines if line.get_marker() not in ("None", None, "")]
    assert len(marks) == 2
    assert {line.get_markerfacecolor() for line in marks} == {"#1c1c1a", "#f6f5f1"}
    assert [t.get_text() for t in axes.texts if t.get_text() == "nothing yet"] == ["nothing yet"]  # the staff
    with pytest.raises(CannotPrint, match="gif"):
        planned.evidence.draw_coverage("lamp-at-the-stage", "x.gif")
