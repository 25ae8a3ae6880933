"""Place, tide, window and rig in a plan: read with exact refusals, stored, and written back as they were."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from refarchive.archive import Archive
from refarchive.errors import PlanRefused
from refarchive.scenes.writing import write_plan

PLAN = """[scene]
title = "The crossing"
event = "e"
story = "s"

[site]
zone = "Europe/London"
height_m = 3.5
event_clock = "sundial"
event_time = "07:30"
skyline = [ [90, 2.5], [180, 1] ]

[[site.candidate]]
name = "The old ford"
latitude = 54.06
longitude = -3.64
radius_m = 150
changed = ["the bank was raised in 1904"]
chosen = true
reason = "the diary paces it out"
[[site.candidate.evidence]]
reference = "b.png"
relation = "shows"
region = [0.1, 0.1, 0.4, 0.4]
note = "the brob"
fit = { place = "near" }

[[site.candidate]]
name = "The new ford"
latitude = 54.07
longitude = -3.66
radius_m = 400
[[site.candidate.evidence]]
reference = "a.jpg"
relation = "contradicts"

[[site.landmark]]
name = "Chapel"
latitude = 54.08
longitude = -3.6

[[site.mark]]
name = "ford"
bed_m = 4.2

[site.tide]
kind = "constituents"
datum = "chart datum"
mean_level_m = 5.1
[[site.tide.constituent]]
name = "M2"
amplitude_m = 3.1
phase_deg = 320.5

[site.window]
opens = "2026-10-10"
closes = "2026-10-20"
sun_most_deg = 4
[[site.window.depth]]
mark = "ford"
least_m = 0.2
most_m = 0.5
[[site.window.call]]
who = "cast"
before_min = 90

[rig]
f_number = 5.6
iso = 100
shutter_s = 0.008
sync_s = 0.005
[[rig.point]]
name = "face"
x_m = 0
y_m = 8
facing_deg = 180
[[rig.light]]
number = 1
purpose = "key"
x_m = -3
y_m = 5
height_m = 2.6
aimed_at = "face"
guide_number_m = 40
boom = { load_kg = 4, load_arm_m = 1.4, counter_arm_m = 0.6 }
[[rig.light.kit]]
name = "head"
kg = 3
"""


@pytest.fixture
def filled(archive: Archive, folder: Path) -> Archive:
    archive.gather(folder)
    return archive


def test_what_is_read_is_stored_and_written_back(filled: Archive) -> None:
    read = filled.plan(PLAN)
    kept = filled.scene("the-crossing")
    assert kept == read
    assert kept.site is not None
    assert kept.rig is not None
    assert [place.name for place in kept.site.candidates] == ["The old ford", "The new ford"]
    assert kept.site.candidates[0].evidence[0].fit == (("place", "near"),)
    assert kept.site.skyline == ((90.0, 2.5), (180.0, 1.0))
    assert kept.site.tide is not None
    assert kept.site.tide.constituents[0].phase_deg == 320.5
    assert kept.rig.lights[0].boom is not None
    assert kept.rig.lights[0].kit[0].kg == 3.0
    written = write_plan(kept, filled._kit.store)
    assert tomllib.loads(written)["site"]["candidate"][0]["evidence"][0]["region"] == [0.1, 0.1, 0.4, 0.4]
    again = filled.plan(written)
    assert (again.site, again.rig, again.revision) == (kept.site, kept.rig, kept.revision)


def test_a_plan_without_them_has_none(filled: Archive) -> None:
    scene = filled.plan('[scene]\ntitle = "Plain"\nevent = "e"\nstory = "s"\n')
    assert (scene.site, scene.rig) == (None, None)
    assert filled.scene("plain").site is None


def test_a_candidates_evidence_is_used_like_any_other(filled: Archive) -> None:
    filled.plan(PLAN)
    uses = filled.evidence.uses("b.png")
    assert "The old ford" in str(uses)
    detail = filled.details("b.png")[0]
    with pytest.raises(Exception, match="evidence in the scene 'the-crossing'"):
        filled._kit.store.remove_detail(detail.id)
    with pytest.raises(Exception, match="used in the scene 'the-crossing'"):
        filled._kit.store.remove_reference(filled.reference("a.jpg").id)
    assert {hit.reference.id for hit in filled.find(scene="the-crossing").hits} == {
        filled.reference(name).id for name in ("a.jpg", "b.png")
    }


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("latitude = 54.06", "latitude = 91", "site, candidate 1, latitude: is 91. Give a number from -90 to 90."),
        ("longitude = -3.64", "longitude = 181", "site, candidate 1, longitude: is 181."),
        ("radius_m = 150\n", "", "radius_m: is missing."),
        ('relation = "contradicts"', 'relation = "proves"', "candidate 2, evidence 1, relation"),
        ('kind = "constituents"', 'kind = "harmonic"', "Use one of: not tidal, constituents, printed table."),
        ("amplitude_m = 3.1", "amplitude_m = -1", "constituent 1, amplitude_m: is -1."),
        ("phase_deg = 320.5\n", "", "constituent 1, phase_deg: is missing."),
        ("skyline = [ [90, 2.5], [180, 1] ]", "skyline = [ [90] ]", "skyline 1: is [90]. Give 2 numbers"),
        ("f_number = 5.6", "f_number = 0", "rig, f_number: is 0."),
        ("number = 1\n", "number = 1.5\n", "number: is 1.5. Give a whole number"),
        ("chosen = true", 'chosen = "yes"', "Write true or false."),
        ("height_m = 3.5", "hight_m = 3.5", "Did you mean 'height_m'?"),
        ('reference = "a.jpg"', 'reference = "gone.jpg"', "gone.jpg"),
    ],
)
def test_what_cannot_be_is_refused_with_line_and_field(filled: Archive, was: str, now: str, words: str) -> None:
    assert PLAN.count(was) >= 1
    with pytest.raises(PlanRefused) as refused:
        filled.plan(PLAN.replace(was, now, 1))
    assert words in str(refused.value)
    assert "Line " in str(refused.value)
    assert filled.scenes() == []


def test_values_are_changed_one_by_one(filled: Archive) -> None:
    filled.plan("# mine\n" + PLAN)
    from refarchive.scenes.linking import with_values

    text = with_values(filled.plan_text("the-crossing"), {("site", "tide", "mean_level_m"): 5.3})
    changed: Any = filled.plan(text)
    assert changed.site.tide.mean_level_m == 5.3
    assert filled.plan_text("the-crossing").startswith("# mine")
