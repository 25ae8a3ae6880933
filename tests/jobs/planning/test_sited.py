"""Sun and moon of a scene's place over a real archive, held against almanacs."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import PlanRefused, SiteRefused, UnknownRecord

PLAN = """[scene]
title = "Noon"
event = "e"
story = "s"
date = "1783-09-03"
latitude = 48.8566
longitude = 2.3522
[site]
zone = "America/New_York"
event_clock = "sundial"
event_time = "12:00"
[[site.candidate]]
name = "Square"
latitude = 33.8
longitude = -84.4
radius_m = 50
chosen = true
"""
PARIS = PLAN.partition("[[site.candidate]]")[0]


@pytest.fixture
def noon(archive: Archive) -> Archive:
    archive.plan(PLAN)
    return archive


def test_the_day_is_the_almanacs(noon: Archive) -> None:
    """US Naval Observatory, Atlanta 2009-09-06 EDT: 06:50 / 07:15 / 13:36 / 19:56 / 20:21."""
    day = noon.onsite.day("noon", "2009-09-06")
    assert day["place"]["name"] == "Square"
    at = {event["kind"]: event["local"] for event in day["sun"]["events"]}
    assert [at[k] for k in ("civil dawn", "sunrise", "transit", "sunset", "civil dusk")] == [
        "06:50", "07:15", "13:36", "19:56", "20:21",
    ]  # fmt: skip
    assert "lit" in day["moon"]["words"]


def test_a_sundials_noon_in_paris(archive: Archive) -> None:
    """Paris, 1783-09-03: the sun is due south at 11:49:44 UT, 48.673° high (PyEphem and pvlib agree)."""
    archive.plan(PARIS)
    then = archive.onsite.moment("noon")
    assert then["reckoned"]["earliest"].startswith("1783-09-03 11:49:4")
    assert then["reckoned"]["altitude_least_deg"] == pytest.approx(48.6728, abs=0.001)
    assert then["reckoned"]["azimuth_from_deg"] == pytest.approx(180.0, abs=0.01)


def test_an_unknown_clock_is_a_range(archive: Archive) -> None:
    archive.plan(PARIS.replace('"sundial"', '"unknown clock"'))
    reckoned = archive.onsite.moment("noon")["reckoned"]
    assert reckoned["azimuth_to_deg"] - reckoned["azimuth_from_deg"] > 14  # an hour is 15° of hour angle
    assert "nobody having recorded which" in reckoned["words"]


def test_the_moon_says_where_its_table_ends(archive: Archive) -> None:
    archive.plan(PARIS.replace("America/New_York", ""))
    words = archive.onsite.day("noon", "1783-09-03")["moon"]["words"]
    assert "1899" in words


def test_polar_night_is_told_in_words(archive: Archive) -> None:
    archive.plan(PARIS.replace("48.8566", "78.2").replace("America/New_York", "Arctic/Longyearbyen"))
    words = archive.onsite.day("noon", "2026-12-21")["sun"]["words"]
    assert "No sunrise or sunset" in words


@pytest.mark.parametrize(
    ("on", "words"), [("0000-01-01", "date"), ("2026-02-30", "date"), ("tomorrow", "date"), ("2026-13-01", "date")]
)
def test_a_day_that_is_none_is_refused(noon: Archive, on: str, words: str) -> None:
    with pytest.raises(SiteRefused, match=words):
        noon.onsite.day("noon", on)


def test_what_the_plan_does_not_say_is_said(archive: Archive) -> None:
    archive.plan('[scene]\ntitle = "Bare"\nevent = "e"\nstory = "s"\nlatitude = 50\nlongitude = 1\n')
    document = archive.onsite.site("bare")
    assert (document["day"], document["then"]) == (None, None)
    assert any("No day is named" in one for one in document["notices"])
    assert any("not dated to one day" in one for one in document["notices"])
    archive.plan('[scene]\ntitle = "Nowhere"\nevent = "e"\nstory = "s"\n')
    with pytest.raises(UnknownRecord, match="no place with coordinates"):
        archive.onsite.day("nowhere", "2026-12-01")


@pytest.mark.parametrize(
    ("was", "now", "field"),
    [
        ('"America/New_York"', '"Europe/Londn"', "site, zone"),
        ('event_time = "12:00"', 'event_time = "noon"', "site, event_time"),
        ('event_clock = "sundial"', 'event_clock = "sundial"\nshoot = "2027-03-14 02:30"', "site, shoot"),  # a gap
        ('event_clock = "sundial"', 'event_clock = "sundial"\nshoot = "2027-03-14"', "site, shoot"),
        ('event_clock = "sundial"', 'event_clock = "sundial"\nskyline = [ [400, 2] ]', "site, skyline"),
    ],
)
def test_a_plan_that_cannot_be_reckoned_with_is_refused(archive: Archive, was: str, now: str, field: str) -> None:
    with pytest.raises(PlanRefused) as refused:
        archive.plan(PLAN.replace(was, now, 1))
    assert field in refused.value.field
    assert archive.scenes() == []


def test_the_command_prints_what_the_archive_answers(noon: Archive) -> None:
    got = CliRunner().invoke(cli, ["site", str(noon.folder), "noon", "--on", "2009-09-06", "--json"])
    assert json.loads(got.output) == json.loads(json.dumps(noon.onsite.site("noon", "2009-09-06")))
    told = CliRunner().invoke(cli, ["site", str(noon.folder), "noon", "--on", "2009-09-06"]).output
    assert "Sunrise 07:15" in told
    assert "Not for navigation or safety; use official tables." in told
