"""Pages on place and light in the dossier: the numbers on paper are those that the archive answers."""

from __future__ import annotations

import base64
from pathlib import Path

import pytest
from pypdf import PdfReader

from refarchive.archive import Archive

PLAN = """[scene]
title = "The crossing"
event = "e"
story = "s"
date = "1869-10-14"
[intent]
lit_to_shadow = 2.0
lit_to_shadow_tolerance = 0.1
[site]
zone = "Europe/London"
shoot = "2027-10-11 14:50"
event_clock = "sundial"
event_time = "14:00"
hospital = "General, 25 min"
[[site.candidate]]
name = "The <old> ford"
latitude = 54.06
longitude = -3.64
radius_m = 150
changed = ["the bank was raised"]
chosen = true
reason = "the diary paces it out"
[[site.candidate.evidence]]
reference = "b.png"
relation = "shows"
note = "the brob"
fit = { place = "near" }
[[site.candidate.evidence]]
reference = "a.jpg"
relation = "contradicts"
[[site.permission]]
holder = "Harbour"
state = "given"
[rig]
f_number = 8
iso = 100
shutter_s = 0.008
sync_s = 0.005
contrast_at = "face"
ambient_ev100 = 11
[[rig.point]]
name = "face"
x_m = 0
y_m = 4
height_m = 1.6
[[rig.light]]
number = 1
unit = "battery head"
purpose = "key"
x_m = 0
y_m = 0
height_m = 1.6
aimed_at = "face"
guide_number_m = 32
full_ws = 600
flashes = 50
battery_wh = 100
"""


@pytest.fixture
def crossing(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    archive.plan(PLAN)
    return archive


def words(path: Path) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(path).pages)


def test_the_numbers_on_paper_are_those_that_were_worked_out(crossing: Archive, tmp_path: Path) -> None:
    printed = words(crossing.dossier("the-crossing", out=tmp_path).pdf)
    site, rig = crossing.onsite.site("the-crossing"), crossing.onsite.rig("the-crossing")
    for event in site["day"]["sun"]["events"]:
        assert f"{event['kind'].capitalize()} {event['local']}" in printed
    for said in (site["day"]["shot"]["words"], site["day"]["moon"]["words"], site["then"]["reckoned"]["sun"]):
        assert said in printed
    assert rig["contrast"]["words"] in printed
    assert rig["contrast"]["changes"][0]["sentence"] in printed
    (plan,) = rig["power"]["plans"]
    assert f"1 600 Ws {plan['flashes_each']} {plan['needed']} {plan['spares']}" in printed
    assert "f/8.0" in printed  # guide number 32 at 4 m


def test_candidates_stand_with_their_evidence_for_and_against(crossing: Archive, tmp_path: Path) -> None:
    printed = words(crossing.dossier("the-crossing", out=tmp_path).pdf)
    assert "The <old> ford (chosen)" in printed
    assert "54.06000° N, 3.64000° W, within 150 m" in printed
    assert "shows it: the brob; place near" in printed
    assert "contradicts it" in printed
    assert "the diary paces it out" in printed


def test_candidates_are_compared_side_by_side_and_families_count_once(crossing: Archive, tmp_path: Path) -> None:
    second = (
        '[[site.candidate]]\nname = "The new ford"\nlatitude = 54.07\nlongitude = -3.66\nradius_m = 400\n'
        '[[site.candidate.evidence]]\nreference = "c.png"\nrelation = "shows"\n'
        '[[site.candidate.evidence]]\nreference = "b.png"\nrelation = "shows"\n'
    )
    names = [one.source_name for one in crossing.references() if one.kind == "image"]
    third = next(name for name in names if name not in ("a.jpg", "b.png"))
    crossing.plan(PLAN.replace("[[site.permission]]", second.replace("c.png", third) + "[[site.permission]]"))
    places = crossing.onsite.site("the-crossing")["places"]
    assert [(one["standing"], one["witnesses"], one["against"]) for one in places["candidates"]] == [
        ("chosen", 1, 1), ("not decided", 2, 0),
    ]  # fmt: skip
    crossing.evidence.confirm_family({third: "copy", "b.png": "original"})
    assert crossing.onsite.site("the-crossing")["places"]["candidates"][1]["witnesses"] == 1
    printed = words(crossing.dossier("the-crossing", out=tmp_path).pdf)
    assert "The candidates side by side" in printed
    there = next(one for one in places["distances"] if one["to"] == "The new ford")
    assert f"{there['metres']:,.0f} m {there['bearing_deg']:.0f}° ({there['compass']})" in printed


def test_a_department_has_the_pages_that_are_its_own(crossing: Archive, tmp_path: Path) -> None:
    light = words(crossing.dossier("the-crossing", department="light", out=tmp_path).pdf)
    wardrobe = words(crossing.dossier("the-crossing", department="wardrobe", out=tmp_path).pdf)
    assert "Unit schedule" in light
    assert "Unit schedule" not in wardrobe


def test_the_plan_is_drawn_to_scale_and_told_in_words(crossing: Archive, tmp_path: Path) -> None:
    drawn = crossing.onsite.drawing("the-crossing")
    written = crossing.dossier("the-crossing", department="light", out=tmp_path)
    printed = words(written.pdf)
    for sentence in drawn.words:
        assert " ".join(sentence.split()) in printed
    # A photograph is fitted to its room; the drawing keeps its size: 168 mm are 476.2 points.
    assert 'width="168mm"' in drawn.svg
    assert base64.b64encode(drawn.svg.encode()).decode() in written.html.read_text("utf-8")


def test_cautions_stand_on_the_pages(crossing: Archive, tmp_path: Path) -> None:
    written = crossing.dossier("the-crossing", department="light", out=tmp_path)
    printed = words(written.pdf)
    assert "Not for navigation or safety; use official tables." in printed
    assert "A flash unit holds a lethal voltage" in printed
    assert "Local codes and licensed, competent people decide" in printed
    page = written.html.read_text("utf-8")
    assert "The &lt;old&gt; ford" in page
    for text in (printed, page):
        assert " safe " not in text.lower()


def test_a_scene_without_site_and_rig_prints_as_before(archive: Archive, tmp_path: Path) -> None:
    archive.plan('[scene]\ntitle = "Plain"\nevent = "e"\nstory = "s"\n')
    printed = words(archive.dossier("plain", out=tmp_path).pdf)
    assert "Site, sun" not in printed
    assert "Lighting plan" not in printed
