"""The moon against almanacs, eclipses and handbook examples, and what lies outside its ephemeris."""

from __future__ import annotations

import importlib.resources
import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from naval_tables import minutes, table

from refarchive.errors import EphemerisUnavailable, RefArchiveError, SiteRefused
from refarchive.site import clocks, moon, sun
from refarchive.site.instants import DAY_S, day_start, written


def ut(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


# -- rising and setting --------


@pytest.mark.parametrize(("date", "almanac"), sorted(table("MOON").items()))
def test_moonrise_and_moonset_of_the_naval_observatory(
    date: tuple[int, int], almanac: tuple[list[str], list[str]]
) -> None:
    """Fredonia AZ 2023: within a minute, and none on the days that have none."""
    local = clocks.offset_day((2023, *date), -7)
    found = moon.day(36.95, -112.52, local)
    for ours, theirs, kind in ((found.rises, almanac[0], "moonrise"), (found.sets, almanac[1], "moonset")):
        assert len(ours) == len(theirs)
        assert (kind in found.missing) is (not theirs)
        for at, shown in zip(ours, theirs, strict=True):
            assert abs(minutes(local.time(at)) - minutes(shown)) <= 1


@pytest.mark.parametrize(("date", "almanac"), sorted(table("MOON AT 70 N, 0 E, UNIVERSAL TIME").items()))
def test_the_moon_beyond_the_polar_circle(date: tuple[int, int], almanac: tuple[list[str], list[str]]) -> None:
    """70° north 2023, US Naval Observatory: days with two risings, days up or down throughout."""
    local = clocks.offset_day((2023, *date), 0)
    found = moon.day(70, 0, local)
    if almanac[0][:1] in (["****"], ["----"]):
        assert (found.rises, found.sets) == ((), ())
        up = almanac[0] == ["****"]
        assert found.sentence.startswith(f"The moon stays {'up' if up else 'down'} all day. ")
        assert sum(span.minutes for span in found.up) == pytest.approx(1440 if up else 0)
        return
    for ours, theirs in ((found.rises, almanac[0]), (found.sets, almanac[1])):
        assert [minutes(local.time(at)) for at in ours] == pytest.approx([minutes(one) for one in theirs], abs=2)


def test_skyfields_own_search_finds_the_same_risings() -> None:
    """Skyfield's almanac for two months at 52° north, a different search with the same definition: within 2 s."""
    from skyfield import almanac
    from skyfield.api import wgs84

    start, days = day_start("1937-03-01"), 60
    with moon._ephemeris() as bodies:
        ts = moon._timescale()
        ends = [ts.ut1_jd((start + n * DAY_S) / DAY_S + 2440587.5) for n in (0, days)]
        place = bodies["earth"] + wgs84.latlon(52.1, 4.3)
        theirs, _ = almanac.find_risings(place, bodies["moon"], *ends)
        wanted = [(jd - 2440587.5) * DAY_S for jd in theirs.ut1]
    ours = [
        at
        for n in range(days)
        for at in moon.day(52.1, 4.3, clocks.offset_day(written(start + n * DAY_S)[:10], 0)).rises
    ]
    assert ours == pytest.approx(wanted, abs=2)


# -- phases --------


@pytest.mark.parametrize(
    ("before", "name", "instant", "within_s"),
    [
        ("2018-09-11", "first quarter", "2018-09-16 23:15", 31),  # US Naval Observatory
        ("2018-09-17", "full moon", "2018-09-25 02:52", 31),  # US Naval Observatory
        ("2017-08-20", "new moon", "2017-08-21 18:30", 31),  # US Naval Observatory; from memory
        # An eclipse is greatest within minutes of the phase, as the moon is then at its node.
        ("2017-08-20", "new moon", "2017-08-21 18:26", 900),  # total eclipse of the sun (NASA)
        ("2018-07-20", "full moon", "2018-07-27 20:22", 900),  # total eclipse of the moon (NASA)
        ("1919-05-20", "new moon", "1919-05-29 13:08", 900),  # Eddington's eclipse (NASA); from memory
    ],
)
def test_published_phases(before: str, name: str, instant: str, within_s: float) -> None:
    assert moon.next_phase(day_start(before), name) == pytest.approx(ut(instant), abs=within_s)


@pytest.mark.parametrize(
    ("before", "name", "terrestrial"),
    [("1977-02-10", "new moon", "1977-02-18 03:37:42"), ("2044-01-15", "last quarter", "2044-01-21 23:48:17")],
)
def test_meeus_phases_of_the_moon(before: str, name: str, terrestrial: str) -> None:
    """Astronomical Algorithms, examples 49.a and 49.b, terrestrial time; from memory."""
    found = moon.next_phase(day_start(before), name)
    delta_t = float(moon._timescale().ut1_jd(found / DAY_S + 2440587.5).delta_t)
    assert found + delta_t == pytest.approx(ut(terrestrial), abs=10)


def test_meeus_illuminated_fraction() -> None:
    """Astronomical Algorithms, example 48.a: 1992 April 12, 0h TD, k = 0.6786; from memory. ΔT was 59 s."""
    found = moon.phase(day_start("1992-04-12") - 59)
    assert found.illuminated == pytest.approx(0.6786, abs=2e-4)
    assert found.name == "waxing gibbous"
    assert found.elongation_deg == pytest.approx(133.1672 - 22.3396, abs=0.01)  # longitudes of moon (47.a) and sun


def test_illuminated_fractions_of_the_naval_observatory() -> None:
    """2018 September 9 to 18, midnight at UT−5, as printed in python-skyfield's own tests."""
    wanted = (0, 0, 0.03, 0.08, 0.15, 0.24, 0.33, 0.43, 0.52, 0.62)
    found = [moon.phase(ut(f"2018-09-{day:02d} 05:00")).illuminated for day in range(9, 19)]
    assert found == pytest.approx(wanted, abs=0.0051)


def test_names_through_a_month() -> None:
    new = moon.next_phase(day_start("2024-02-01"), "new moon")
    names = [moon.phase(new + n * DAY_S).name for n in range(30)]
    assert list(dict.fromkeys(names)) == [
        "new moon", "waxing crescent", "first quarter", "waxing gibbous", "full moon",
        "waning gibbous", "last quarter", "waning crescent",
    ]  # fmt: skip
    assert moon.phase(new + 0.49 * DAY_S).name == "new moon"
    assert moon.phase(new + 0.51 * DAY_S).name == "waxing crescent"
    assert moon.phase(new - 0.49 * DAY_S).name == "new moon"
    assert moon.phase(new + 5 * DAY_S).sentence.startswith("Waxing crescent, ")


@settings(max_examples=25)
@given(st.floats(day_start("1900-01-01"), day_start("2053-01-01")))
def test_age_counts_from_the_last_new_moon(at: float) -> None:
    found = moon.phase(at)
    assert found.age_days is not None
    assert 0 <= found.age_days < 29.9
    before = moon.phase(at - found.age_days * DAY_S + 1)
    assert min(before.elongation_deg, 360 - before.elongation_deg) < 0.01
    assert before.illuminated < 0.01
    assert moon.next_phase(at, "new moon") - at == pytest.approx((29.53 - found.age_days) * DAY_S, abs=0.4 * DAY_S)


# -- place --------


def test_at_a_total_eclipse_the_moon_covers_the_sun() -> None:
    """Greatest eclipse 2017-08-21 18:25:32 UT at 36.9664 N, 87.6709 W (NASA; from memory): the centres coincide."""
    at = ut("2017-08-21 18:25:32")
    here, light = moon.position(36.9664, -87.6709, at), sun.position(36.9664, -87.6709, at)
    assert here.geometric_altitude_deg == pytest.approx(light.geometric_altitude_deg, abs=0.01)
    assert here.azimuth_deg == pytest.approx(light.azimuth_deg, abs=0.02)
    assert here.apparent_altitude_deg == pytest.approx(light.apparent_altitude_deg, abs=0.01)


def test_refraction_lifts_a_low_moon() -> None:
    rise = moon.day(50, 0, clocks.offset_day("2024-05-20", 0)).rises[0]
    found = moon.position(50, 0, rise + 300)
    assert 0.3 < found.apparent_altitude_deg - found.geometric_altitude_deg < 0.7
    thin = moon.position(50, 0, rise + 300, pressure_pa=50_000)
    assert thin.apparent_altitude_deg < found.apparent_altitude_deg
    assert 356_000 < found.distance_km < 413_000


@settings(max_examples=15)
@given(st.floats(-65, 65), st.floats(-180, 180), st.integers(0, 55_000))
def test_up_exactly_between_rising_and_setting(latitude: float, longitude: float, day: int) -> None:
    local = clocks.mean_day(written(day_start("1900-01-01") + day * DAY_S)[:10], longitude)
    found = moon.day(latitude, longitude, local)
    for at in (local.start + 3600 * n for n in range(1, 24)):
        here = moon.position(latitude, longitude, at)
        limb = here.geometric_altitude_deg + 34 / 60 + 0.262  # the semidiameter is 0.245 to 0.279°
        if abs(limb) > 0.02:
            assert any(at in span for span in found.up) is (limb > 0)


# -- outside --------


@pytest.mark.parametrize("date", ["1783-09-03", "1899-07-28", "2053-10-09", "2100-01-01"])
@pytest.mark.parametrize(
    "ask",
    [
        lambda at: moon.phase(at),
        lambda at: moon.position(50, 0, at),
        lambda at: moon.next_phase(at, "new moon"),
        lambda at: moon.day(50, 0, clocks.offset_day(written(at)[:10], 0)),
    ],
)
def test_outside_the_ephemeris_says_so(date: str, ask: Callable[[float], Any]) -> None:
    with pytest.raises(RefArchiveError, match=re.escape("29 July 1899 to 8 October 2053")) as caught:
        ask(day_start(date))
    assert isinstance(caught.value, SiteRefused)
    assert caught.value.field == "utc"
    assert "almanac" in caught.value.next_step


def test_near_the_ends_of_the_ephemeris() -> None:
    assert moon.phase(day_start("1899-07-30")).age_days is None
    assert "after new moon" not in moon.phase(day_start("1899-07-30")).sentence
    assert moon.phase(day_start("2053-10-08")).age_days is not None
    assert moon.day(50, 0, clocks.offset_day("1899-07-30", 0)).rises
    with pytest.raises(SiteRefused, match="outside the ephemeris"):
        moon.next_phase(day_start("2053-10-08"), "new moon")


@pytest.mark.parametrize(
    ("ask", "field"),
    [
        (lambda: moon.position(91, 0, 0.0), "latitude"),
        (lambda: moon.position(0, 181, 0.0), "longitude"),
        (lambda: moon.position(0, 0, 0.0, 1e6), "height"),
        (lambda: moon.position(0, 0, 0.0, pressure_pa=1013.25), "pressure"),
        (lambda: moon.position(0, 0, 0.0, temperature_c=300), "temperature"),
        (lambda: moon.position(0, 0, float("nan")), "utc"),
        (lambda: moon.position(0, 0, datetime(2024, 1, 1)), "utc"),
        (lambda: moon.position(0, 0, [0.0, 1.0]), "utc"),
        (lambda: moon.day(float("nan"), 0, clocks.offset_day("2024-01-01", 0)), "latitude"),
        (lambda: moon.next_phase(0.0, "blue moon"), "name"),
    ],
)
def test_bad_values_name_their_field(ask: Callable[[], Any], field: str) -> None:
    with pytest.raises(SiteRefused, match=f"^{field}: ") as caught:
        ask()
    assert caught.value.field == field
    assert caught.value.next_step


def test_a_missing_ephemeris_is_never_fetched(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(importlib.resources, "files", lambda name: tmp_path)
    with pytest.raises(EphemerisUnavailable, match="skyfield-data"):
        moon.phase(0.0)
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "de421.bsp").write_bytes(b"no ephemeris" * 200)
    with pytest.raises(EphemerisUnavailable, match="cannot be read"):
        moon.phase(0.0)
