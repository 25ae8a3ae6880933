"""The report of a check: every line with its word, the frame beside each reference."""

from __future__ import annotations

import re
from typing import Any

import pytest
from poppler import poppler

from refarchive.frames.check import VERDICTS
from refarchive.paper import blocks
from refarchive.paper.html import write_html
from refarchive.paper.pdf import write_pdf
from refarchive.paper.report import check_report
from refarchive.records.model import Frame

FRAME = Frame("f1", "first-light", "merrow_0231.tif", "00", ".tif", 900, 600, "2026-02-11T08:00:00Z")
PALETTE = [{"hex": "#8f9aa0", "share": 0.6}, {"hex": "#c98b3a", "share": 0.2}]


def line(**more: Any) -> dict[str, Any]:
    base = {
        "measure": "key",
        "against": "intent",
        "target": 42.0,
        "frame": 37.26,
        "difference": -4.74,
        "tolerance": 6.0,
    }
    return base | {"unit": "L*", "verdict": "within", "note": "How it was measured.", "label": ""} | more


LINES = [
    line(),
    line(measure="palette", target=PALETTE, frame=PALETTE[:1], difference=13.2, tolerance=12.0, unit="ΔE00",
         verdict="outside"),
    line(measure="light", target=150.0, frame=None, difference=None, unit="degrees in the picture plane",
         verdict="cannot tell"),
    line(measure="need", label="Sun-bonnet", target="present", frame="hidden", difference=None, tolerance=None,
         unit="as the person says", verdict="departure intended", note="<script>alert(1)</script>"),
    line(measure="values", against="sands", target={"p5": 12.0, "median": 40.04, "p95": 80.0}, frame=None),
    line(measure="likeness", against="gone", target=80.0, frame=None, label="", verdict="cannot tell"),
]  # fmt: skip


@pytest.fixture(scope="module")
def report(made: Any) -> Any:
    references = {k: made.references[k] for k in ("sands", "panorama", "inquest")}
    return (*check_report(made.scene, FRAME, LINES, references=references, date="2026-02-11"), references)


def lines_of(document: dict[str, Any]) -> list[dict[str, Any]]:
    groups = [g for b in blocks.walk(document) if b.get("type") == "verdicts" for g in b["groups"]]
    return [entry for g in groups for entry in g["lines"]]


def test_every_line_is_shown_once_with_its_own_word(report: Any) -> None:
    found = lines_of(report[0])
    assert sorted(f["verdict"] for f in found) == sorted(entry["verdict"] for entry in LINES)
    key, palette, light, need, values, likeness = found
    assert [key[k] for k in ("label", "target", "frame", "difference", "tolerance")] == [
        "Key (median lightness)", "42.0", "37.3", "−4.7 L*", "6.0 L*",
    ]  # fmt: skip
    assert palette["difference"] == "13.2 ΔE00"
    assert palette["target"] == "#8f9aa0 60\u00a0%, #c98b3a 20\u00a0%"
    assert palette["target_colours"] == [["#8f9aa0", 0.0, 0.75], ["#c98b3a", 0.75, 0.25]]
    assert light["frame"] == light["difference"] == "–"
    assert light["note"].startswith("Unit: degrees in the picture plane.")
    assert (need["label"], need["frame"]) == ("Sun-bonnet", "hidden")
    assert values["target"] == "5th percentile 12.0, median 40.0, 95th percentile 80.0"
    assert likeness["verdict"] == "cannot tell"


def test_frame_stands_beside_each_pictured_reference(report: Any) -> None:
    document, requests, _ = report
    pairs = [b for b in blocks.walk(document) if b.get("type") == "pair"]
    assert [(p["left"]["picture"], p["right"]["picture"]) for p in pairs] == [
        ("frame-beside", "reference-001"),
        ("frame-beside", "reference-002"),
    ]
    assert [(r.name, r.reference, r.frame) for r in requests] == [
        ("frame", "", "f1"),
        ("frame-beside", "", "f1"),
        ("reference-001", "sands", ""),
        ("reference-002", "panorama", ""),
    ]
    assert {r.name for r in requests} == set(blocks.pictures_of(document))


def test_pairs_are_equally_high(report: Any, prepare: Any) -> None:
    document, requests, references = report
    page = write_html(document, prepare(requests, references))
    for number, aspect in ((1, 1200 / 780), (2, 1800 / 520)):
        left, right = (
            float(re.findall(rf"\.pair-{number} \.{side}{{flex:([\d.]+) 1 0}}", page)[0]) for side in ("left", "right")
        )
        # Widths in the proportion of width over height make heights equal.
        assert left == pytest.approx(900 / 600, rel=0.01)
        assert right == pytest.approx(aspect, rel=0.01)


def test_the_first_sheet_shows_the_frame_beneath_the_title(made: Any, prepare: Any) -> None:
    """However much is said of it: what does not fit goes on overleaf, and does not take all the rest with it."""
    for count in range(10, 100, 5):
        many = [line(measure="need", label=f"A thing that is wanted, number {n}", frame=None) for n in range(count)]
        document, requests = check_report(made.scene, FRAME, [*LINES, *many], references={}, date="2026-02-11")
        sheets = poppler("pdftotext", write_pdf(document, prepare(requests, {}))).decode().split("\f")
        assert "In brief, against the intent" in sheets[0]


def test_words_are_explained_and_there_is_no_score(report: Any) -> None:
    legend = next(s for s in report[0]["sections"] if s["id"] == "words")["pages"][0]["blocks"][0]["rows"]
    assert [label for label, _ in legend] == list(VERDICTS)
    assert "there is no score for the whole" in report[0]["about"]


def test_notes_are_no_markup_in_either_form(report: Any, prepare: Any) -> None:
    document, requests, references = report
    pictures = prepare(requests, references)
    page = write_html(document, pictures)
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert write_pdf(document, pictures).startswith(b"%PDF-")


def test_a_check_of_nothing_says_so(made: Any) -> None:
    document, requests = check_report(made.scene, FRAME, [], references={}, date="2026-02-11")
    assert [r.name for r in requests] == ["frame"]
    assert not lines_of(document)
    said = [b["text"] for b in blocks.walk(document) if b.get("type") == "text"]
    assert said.count("Nothing measurable was planned here.") == 2


def test_references_that_need_not_be_resembled_get_a_row_each(made: Any, prepare: Any) -> None:
    how = "Distance of two kinds."
    lines = [
        line(measure="values", against="sands", difference=4.04, note=f"{how} It is faded."),
        line(measure="values", against="panorama", difference=-20.0, verdict="outside", note=how),
        line(measure="likeness", against="panorama", frame=62.4, unit="percentile within this archive", note="Ranked."),
        line(measure="palette", against="inquest", difference=None, verdict="cannot tell", note="It has no picture."),
    ]
    references = {k: made.references[k] for k in ("sands", "panorama", "inquest")}
    overlays = {"sands": (True, "14 of 20 features agree.")}
    document, requests = check_report(
        made.scene, FRAME, lines, references=references, date="2026-02-11", beside={"sands"}, overlays=overlays
    )
    assert [entry["label"] for entry in lines_of(document)] == ["Values"]  # of the one shown beside the frame
    table = next(b for b in blocks.walk(document) if b.get("type") == "table")
    assert [row[1:] for row in table["rows"]] == [
        ["outside: −20.0 L*", "within: 62 of 100", "–"],
        ["–", "–", "cannot tell"],
    ]
    told = [b["rows"] for b in blocks.walk(document) if b.get("type") == "facts"]
    assert ["Values", [how]] in [row for rows in told for row in rows]
    assert {r.name for r in requests} == set(blocks.pictures_of(document))
    assert [(r.name, r.frame) for r in requests if r.frame.startswith("overlay")] == [("overlay-001", "overlay:sands")]
    shown = prepare([r for r in requests if not r.frame.startswith("overlay")], references)
    assert write_pdf(document, shown).startswith(b"%PDF-")


def test_sentences_on_a_measure_stand_once_with_whom_they_are_of() -> None:
    from refarchive.paper.report import _told

    notes = [(2, "All so. Faded."), (3, "All so. By an engraver."), (5, "All so. Faded.")]
    assert _told(notes) == ["All so.", "2, 5: Faded.", "3: By an engraver."]


def test_a_remedy_has_a_row_of_its_own(made: Any, prepare: Any) -> None:
    off = line(verdict="outside", remedy="About +0.5 stop <b>over</b> the whole.")
    document, requests = check_report(made.scene, FRAME, [off], references={}, date="2026-02-11")
    assert lines_of(document)[0]["remedy"] == off["remedy"]
    page = write_html(document, prepare(requests, {}))
    row = re.search(r'<tr class="remedy">.*?</tr>', page)
    assert row is not None
    assert "&lt;b&gt;over&lt;/b&gt;" in row[0]


def test_studies_stand_beside_each_other_with_the_facts(made: Any) -> None:
    facts = [("Horizon", "At 40 %."), ("Balance", "Even.")]
    studies = [("Three values", "dark 60 %"), ("Five values", "black 10 %")]
    document, requests = check_report(
        made.scene, FRAME, [], references={}, date="2026-02-11", facts=facts, studies=studies
    )
    own = next(s for s in document["sections"] if s["id"] == "studies")["pages"][0]["blocks"]
    assert [b["type"] for b in own] == ["text", "pair", "facts"]
    assert own[2]["rows"] == [list(one) for one in facts]
    assert [r.frame for r in requests] == ["f1", "study:Three values", "study:Five values"]
    swatch = {"hex": "#8f9aa0", "lab": "L* 62", "name": "60 %, along the top", "note": "Munsell N 6/."}
    three = [*studies, ("Its main colours", "Painted.")]
    document, requests = check_report(
        made.scene, FRAME, [], references={}, date="2026-02-11", colours=[swatch], studies=three
    )
    pairs = [b for b in blocks.walk(document) if b.get("type") == "pair"]
    assert [p["right"]["picture"] for p in pairs] == ["study-2", "frame-beside"]
    assert [b["items"] for b in blocks.walk(document) if b.get("type") == "swatches"] == [[swatch]]
    assert {r.name for r in requests} == set(blocks.pictures_of(document))
