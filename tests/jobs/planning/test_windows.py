"""The windows of a scene over a real archive: confirmed minute by minute, printed, and refused where they cannot be."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

import refarchive
from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.demo import shipped
from refarchive.errors import PlanRefused, UnknownRecord

LONDON = ZoneInfo("Europe/London")


@pytest.fixture(scope="module")
def crossing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """The scene of the samples; nothing here changes it."""
    place = shipped("sample_refs")
    with refarchive.create(tmp_path_factory.mktemp("crossing") / "archive", "tiny", who="tester") as made:
        made.gather(place / "pictures", place / "texts", sheet=place / "references.csv")
        made.read_scene(place / "scenes" / "pilots-crossing.toml")
        yield made


def water(minutes: np.ndarray) -> np.ndarray:
    """The demo's five constituents, summed by uptide, an independent library."""
    import uptide

    parts = {"M2": (3.02, 322), "S2": (0.98, 5), "N2": (0.58, 298), "K1": (0.12, 190), "O1": (0.11, 42)}
    tides = uptide.Tides(list(parts))
    tides.set_initial_time(datetime.datetime(2027, 10, 12))
    start = datetime.datetime(2027, 10, 12, tzinfo=datetime.UTC).timestamp()
    sizes, phases = np.array([a for a, _ in parts.values()]), np.radians([g for _, g in parts.values()])
    return 5.0 + np.array([tides.from_amplitude_phase(sizes, phases, at - start) for at in minutes])


def test_brute_force_confirms_the_demo_windows(crossing: Archive) -> None:
    """Every minute of three days, with skyfield's sun and uptide's water; close to a limit nothing is said."""
    import skyfield_data
    from skyfield.api import Loader, wgs84

    found = crossing.onsite.windows("pilots-crossing")
    first = datetime.datetime(2027, 10, 10, tzinfo=LONDON).timestamp()
    minutes = np.arange(first, first + 3 * 86_400, 60.0)
    folder = Path(skyfield_data.__file__).parent / "data"
    times = (
        Loader(str(folder))
        .timescale(builtin=True)
        .from_datetimes([datetime.datetime.fromtimestamp(at, datetime.UTC) for at in minutes])
    )
    from skyfield.jpllib import SpiceKernel

    bodies = SpiceKernel(str(folder / "de421.bsp"))
    seen = (bodies["earth"] + wgs84.latlon(54.06, -3.64)).at(times).observe(bodies["sun"]).apparent().altaz()
    bodies.close()
    altitude, bearing = seen[0].degrees, seen[1].degrees
    height = water(minutes)
    clock = np.array([datetime.datetime.fromtimestamp(at, LONDON).hour + (at % 3_600) / 3_600 for at in minutes])
    limits = [
        (altitude, 8, 28, 0.05), (bearing, 185, 245, 0.5), (height - 3.05, 0.25, 0.6, 0.04),
        (height - 3.15, 0.15, 0.5, 0.04), (clock, 7, 18.5, 0.05),
    ]  # fmt: skip
    holds = np.all([(value >= low) & (value <= high) for value, low, high, _ in limits], axis=0)
    sure = np.all([np.minimum(abs(v - low), abs(v - high)) > near for v, low, high, near in limits], axis=0)
    told = np.zeros(len(minutes), bool)
    for one in found["windows"]:
        told |= (minutes >= one["earliest"]) & (minutes <= one["latest"])
    assert told.sum() > 120
    assert (told & sure & ~holds).sum() == 0  # nothing in a window breaks a limit
    runs = np.flatnonzero(np.diff(np.concatenate([[0], (holds & sure).astype(int), [0]])))
    for start, end in runs.reshape(-1, 2):
        if end - start >= 25:  # as long as the plan asks for
            assert told[start:end].all()


def test_the_page_and_the_command_say_what_was_found(crossing: Archive, tmp_path: Path) -> None:
    found = crossing.onsite.windows("pilots-crossing")
    best = found["windows"][found["best"][0]]
    written = crossing.dossier("pilots-crossing", department="light", out=tmp_path)
    printed = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(written.pdf).pages)
    assert f"{best['date']} {best['from']} {best['until']} {best['minutes']:.0f}" in printed
    sheets = [page.extract_text() for page in PdfReader(written.pdf).pages]
    assert sum("Call sheet" in sheet.splitlines()[0] for sheet in sheets) == 1  # it is one page
    for call in best["calls"]:
        assert f"{call['local']} {call['what']}" in printed
    assert "Not for navigation or safety; use official tables." in printed
    told = CliRunner().invoke(cli, ["site", str(crossing.folder), "pilots-crossing"]).stdout
    assert f"{best['date']}  {best['from']} to {best['until']}" in told
    got = CliRunner().invoke(cli, ["site", str(crossing.folder), "pilots-crossing", "--json"]).stdout
    assert json.loads(got)["windows"] == json.loads(json.dumps(found))
    assert crossing.onsite.window_figure("pilots-crossing").axes


def test_the_tide_of_the_day_is_told_with_its_marks(crossing: Archive) -> None:
    day = crossing.onsite.day("pilots-crossing", "2027-10-11")
    at = datetime.datetime(2027, 10, 11, 14, 50, tzinfo=LONDON).timestamp()
    by_hand = float(water(np.array([at]))[0]) - 3.05
    mark = next(one for one in day["tide"]["marks"] if one["mark"] == "mare and cart")
    assert mark["depth_m"] == pytest.approx(by_hand, abs=0.04)
    assert [one["kind"] for one in day["tide"]["waters"]] == ["low", "high", "low", "high"]


PLAN = """[scene]
title = "Weir"
event = "e"
story = "s"
latitude = 51
longitude = 0
[site]
zone = "Europe/London"
[[site.mark]]
name = "weir"
bed_m = 0.5
[site.tide]
kind = "printed table"
datum = "chart datum"
entry = [
    { at = "2026-06-01 00:10", height_m = 1.0 }, { at = "2026-06-01 06:20", height_m = 4.0 },
    { at = "2026-06-01 12:30", height_m = 1.2 },
]
[site.window]
opens = "2026-06-01"
closes = "2026-06-01"
sun_least_deg = 10
"""


def test_a_printed_table_and_a_place_that_is_not_tidal(archive: Archive) -> None:
    archive.plan(PLAN)
    tide: dict[str, Any] = archive.onsite.day("weir", "2026-06-01")["tide"]
    assert "half a cosine" in tide["method"]
    assert [one["local"] for one in tide["waters"]] == ["00:10", "06:20", "12:30"]
    archive.plan(PLAN.partition("[site.tide]")[0] + '[site.tide]\nkind = "not tidal"\n')
    assert archive.onsite.day("weir", "2026-06-01")["tide"]["words"] == "Not tidal."


def test_a_printed_table_of_the_standard_port_is_taken_to_the_secondary_port(archive: Archive) -> None:
    """As a tide table's differences are applied: minutes to the time, metres to the height, at high and at low."""
    differ = "difference = { high_min = 15, low_min = -10, high_m = -0.6, low_m = 0.1 }\n"
    archive.plan(PLAN.replace("[site.window]", differ + "[site.window]"))
    waters = archive.onsite.day("weir", "2026-06-01")["tide"]["waters"]
    assert [(one["kind"], one["local"]) for one in waters] == [("low", "00:00"), ("high", "06:35"), ("low", "12:20")]
    assert [one["height_m"] for one in waters] == pytest.approx([1.1, 3.4, 1.3])
    assert archive.onsite.day("weir", "2027-01-01")["tide"]["waters"] == []  # as without differences


def test_constituents_may_be_pasted_as_a_table(archive: Archive) -> None:
    entered = PLAN.replace('kind = "printed table"', 'kind = "constituents"\nmean_level_m = 2.0').partition(
        "entry = ["
    )[0]
    table = '"""\nName, amplitude, phase\nM2, 1.063, 10.8\nS2, 0.268, 36.8\n"""'
    archive.plan(f"{entered}pasted = {table}\n")
    pasted = archive.onsite.day("weir", "2026-06-01")["tide"]["waters"]
    rows = [("M2", 1.063, 10.8), ("S2", 0.268, 36.8)]
    listed = ", ".join(f'{{ name = "{n}", amplitude_m = {a}, phase_deg = {g} }}' for n, a, g in rows)
    archive.plan(f"{entered}constituent = [ {listed} ]\n")
    assert archive.onsite.day("weir", "2026-06-01")["tide"]["waters"] == pasted
    assert len(pasted) in (3, 4)
    with pytest.raises(PlanRefused, match="row"):
        archive.plan(f'{entered}pasted = "M2, 1.063"\n')


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("sun_least_deg = 10", 'depth = [ { mark = "wier", most_m = 1 } ]', "names the mark 'wier'"),
        ('closes = "2026-06-01"', 'closes = "2026-05-01"', "closes before it opens"),
        ('opens = "2026-06-01"', 'opens = "June"', "are no dates"),
        ('closes = "2026-06-01"', 'closes = "2027-06-01"', "more than 120 days"),
        ('datum = "chart datum"', 'datum = ""', "datum"),
        ('at = "2026-06-01 06:20"', 'at = "2026-06-01 00:05"', "not later than the one before"),
        ('kind = "printed table"', 'kind = "constituents"', "mean_level_m"),
        ("sun_least_deg = 10", "sun_least_deg = 10\nsun_most_deg = 5", "from 10 to 5"),
        ("sun_least_deg = 10", 'crew_from = "25:00"', "window"),
    ],
)
def test_what_no_window_can_be_found_with_is_refused_when_planned(
    archive: Archive, was: str, now: str, words: str
) -> None:
    with pytest.raises(PlanRefused, match=words):
        archive.plan(PLAN.replace(was, now, 1))
    assert archive.scenes() == []


def test_a_scene_without_a_window_says_so(archive: Archive) -> None:
    archive.plan(PLAN.partition("[site.window]")[0])
    with pytest.raises(UnknownRecord, match="has no window yet"):
        archive.onsite.windows("weir")
    assert archive.onsite.site("weir")["windows"] is None


@pytest.mark.parametrize("on", ["2026-03-29", "2026-10-25", "2026-06-01"])
def test_the_crew_keeps_the_clock_when_summer_time_begins_or_ends(archive: Archive, on: str) -> None:
    plan = PLAN.partition("[site.tide]")[0] + f'[site.window]\nopens = "{on}"\ncloses = "{on}"\n'
    archive.plan(f'{plan}crew_from = "06:00"\ncrew_until = "18:00"\ncarry_in_daylight = false\n')
    (one,) = archive.onsite.windows("weir")["windows"]
    assert (one["from"], one["until"]) == ("06:00", "18:00")
