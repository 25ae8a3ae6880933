"""The sun against the algorithm's own case, handbook examples, almanacs and Skyfield; polar days; skylines."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from naval_tables import minutes, table

from refarchive.errors import SiteRefused
from refarchive.site import clocks, moon, sun
from refarchive.site.instants import DAY_S, Span, day_start, instants, written
from refarchive.site.skyline import Skyline

MST = timezone(timedelta(hours=-7))
GOLDEN = (39.742476, -105.1786)
TROMSOE = (69.6492, 18.9553)


def ut(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def found(at: float | None) -> float:
    assert at is not None
    return at


# -- positions --------


def test_the_worked_case_of_the_algorithm() -> None:
    """Reda & Andreas 2004 (NREL/TP-560-34302), appendix A.5."""
    at = datetime(2003, 10, 17, 12, 30, 30, tzinfo=MST)
    seen = sun.position(*GOLDEN, at, 1830.14, pressure_pa=82_000, temperature_c=11, delta_t=67)
    assert 90 - seen.apparent_altitude_deg == pytest.approx(50.111622, abs=5e-7)
    assert seen.azimuth_deg == pytest.approx(194.340241, abs=5e-7)
    assert seen.geometric_altitude_deg == pytest.approx(39.872046, abs=5e-7)
    own = sun.position(*GOLDEN, at, 1830.14)
    assert own.apparent_altitude_deg == pytest.approx(seen.apparent_altitude_deg, abs=1e-3)
    assert own.azimuth_deg == pytest.approx(seen.azimuth_deg, abs=1e-4)


@pytest.mark.parametrize(
    ("declination_deg", "within_deg"),
    [
        (-7.78507, 2e-3),  # example 25.a, of low accuracy (0.01°)
        (-(7 + 47 / 60 + 1.74 / 3600), 1e-4),  # example 25.b
    ],
)
def test_declination_of_meeus(declination_deg: float, within_deg: float) -> None:
    """Astronomical Algorithms, 1992 October 13, 0h TD: at the pole the altitude is declination less parallax."""
    parallax = 8.794 / 3600 / 0.99766 * math.cos(math.radians(declination_deg))
    for side in (1, -1):
        seen = sun.position(90.0 * side, 0, ut("1992-10-13") - 59, delta_t=59)
        assert seen.geometric_altitude_deg == pytest.approx(side * declination_deg - parallax, abs=within_deg)


def test_equation_of_time_of_meeus() -> None:
    """Astronomical Algorithms, example 28.a: 1992 October 13, 0h TD, 13 min 42.6 s.

    The series leaves ΔT aside, in which the mean sun moves by 0.16 s.
    """
    assert sun.equation_of_time_min(ut("1992-10-13") - 59) == pytest.approx(13 + 42.6 / 60, abs=0.25 / 60)


def test_equation_of_time_over_a_year() -> None:
    """Skyfield: Greenwich hour angle of the apparent sun less that of the mean, within 0.1 s; four zeros a year."""
    at = ut("2023-01-01") + DAY_S * np.arange(365)
    curve = sun.equation_of_time_min(at)
    with moon._ephemeris() as bodies:
        time = moon._timescale().ut1_jd(at / DAY_S + 2440587.5)
        ascension, _, _ = bodies["earth"].at(time).observe(bodies["sun"]).apparent().radec("date")
        theirs = ((time.gast - ascension.hours) % 24 - 12) * 60  # at midnight the mean sun's hour angle is 12 h
    assert curve == pytest.approx(theirs, abs=0.1 / 60)
    assert (np.diff(np.sign(curve)) != 0).sum() == 4
    assert [int(curve.argmin()) // 10, int(curve.argmax()) // 10] == [4, 30]  # mid February and early November


@pytest.mark.parametrize(
    ("year_month", "delta_t"),
    [
        ("1500-04", 198.018202), ("1800-05", 13.596506), ("1900-06", -2.117189), ("1985-02", 54.413442),
    ],
)  # fmt: skip
def test_delta_t(year_month: str, delta_t: float) -> None:
    """Polynomials of Espenak & Meeus (NASA eclipse site), values as in pvlib's tests."""
    assert float(sun.delta_t_s(instants(day_start(f"{year_month}-10")))) == pytest.approx(delta_t, abs=1e-5)


def test_delta_t_far_off_is_the_long_parabola() -> None:
    """−20 + 32 u², u centuries from 1820 (Morrison & Stephenson, on the NASA eclipse site)."""
    for year in (-2000, -1999, 3000, 3001, 5999):
        u = (year + 0.5 / 12 - 1820) / 100
        assert float(sun.delta_t_s(instants(day_start((year, 1, 10))))) == pytest.approx(-20 + 32 * u * u)


def test_paris_in_1783() -> None:
    """48.8566 N, 2.3522 E, 1783-09-03 11:49:44 UT: 48.672789°, 179.999240° by PyEphem's own theory."""
    seen = sun.position(48.8566, 2.3522, day_start("1783-09-03") + 11 * 3600 + 49 * 60 + 44)
    assert seen.geometric_altitude_deg == pytest.approx(48.672789, abs=2e-4)
    assert seen.azimuth_deg == pytest.approx(179.999240, abs=5e-4)


def test_two_hundred_places_and_dates_by_skyfield() -> None:
    """Skyfield with DE421, 1900–2050, anywhere: within 0.0005° of altitude, and of bearing on the sky."""
    from skyfield.api import wgs84

    rng = np.random.default_rng(1783)
    with moon._ephemeris() as bodies:
        for _ in range(200):
            latitude, longitude = rng.uniform(-89, 89), rng.uniform(-180, 180)
            at = rng.uniform(ut("1900-01-01"), ut("2050-12-31"))
            place = bodies["earth"] + wgs84.latlon(latitude, longitude)
            time = moon._timescale().ut1_jd(at / DAY_S + 2440587.5)
            altitude, azimuth, _ = place.at(time).observe(bodies["sun"]).apparent().altaz()
            seen = sun.position(latitude, longitude, at)
            assert seen.geometric_altitude_deg == pytest.approx(altitude.degrees, abs=5e-4)
            off = (seen.azimuth_deg - azimuth.degrees + 180) % 360 - 180
            assert abs(off) * math.cos(altitude.radians) < 5e-4


def test_arrays_of_times_keep_their_shape() -> None:
    at = ut("1871-02-03 07:00") + 600.0 * np.arange(6).reshape(2, 3)
    seen = sun.position(53.4, -3.1, at)
    assert seen.azimuth_deg.shape == seen.apparent_altitude_deg.shape == (2, 3)
    for row, column in ((0, 0), (1, 2)):
        alone = sun.position(53.4, -3.1, at[row, column])
        assert isinstance(alone.azimuth_deg, float)
        assert alone.azimuth_deg == pytest.approx(seen.azimuth_deg[row, column], abs=1e-9)
    moments = [datetime(2024, 6, 1, hour, tzinfo=UTC) for hour in (6, 12)]
    assert sun.position(0, 0, moments).azimuth_deg[1] == sun.position(0, 0, moments[1]).azimuth_deg
    assert sun.position(0, 0, np.array([])).azimuth_deg.shape == (0,)


@pytest.mark.parametrize("year", [-2000, -43, 1066, 1582, 3500, 6000])
def test_years_beyond_the_reach_of_dates(year: int) -> None:
    """The sun goes as far north and south as the ecliptic is steep: Meeus 22.2 (IAU 1980), within 0.01°."""
    at = day_start((year, 1, 1)) + DAY_S * np.arange(365)
    declination = sun.position(90, 0, at).geometric_altitude_deg
    t = (year - 2000) / 100
    slope = 23 + 26 / 60 + (21.448 - 46.8150 * t - 0.00059 * t**2 + 0.001813 * t**3) / 3600
    assert declination.max() == pytest.approx(slope, abs=0.01)
    assert declination.min() == pytest.approx(-slope, abs=0.01)
    assert np.isfinite(declination).all()
    assert sun.day(50, 0, clocks.mean_day((year, 6, 1), 0)).sunrise is not None


def test_refraction_depends_on_the_air() -> None:
    """34′ at the horizon (US Naval Observatory), about 1/60° at 45° (Bennett 1982; from memory)."""
    rise = found(sun.day(50, 0, clocks.offset_day("2024-03-20", 0)).sunrise)
    low = sun.position(50, 0, rise + 100)
    assert 0.45 < low.apparent_altitude_deg - low.geometric_altitude_deg < 0.62
    high = sun.position(0, 0, ut("2024-03-20 09:07"))
    assert high.apparent_altitude_deg - high.geometric_altitude_deg == pytest.approx(1 / 60, abs=0.002)
    mountain = sun.position(50, 0, rise + 100, 4000)
    assert mountain.apparent_altitude_deg < low.apparent_altitude_deg - 0.1
    assert sun.standard_pressure_pa(0) == 101_325
    assert sun.standard_pressure_pa(1000) == pytest.approx(89_875, abs=15)  # ISO 2533, table
    under = sun.position(50, 0, rise - 600)
    assert under.apparent_altitude_deg == under.geometric_altitude_deg


# -- days --------


@pytest.mark.parametrize(
    ("latitude", "longitude", "local", "almanac"),
    [
        (
            33.8, -84.4, ("2009-09-06", "America/New_York"),
            {"civil dawn": "06:50", "sunrise": "07:15", "transit": "13:36", "sunset": "19:56", "civil dusk": "20:21"},
        ),
        (*GOLDEN, ("2015-01-02", "America/Denver"), {"sunrise": "07:22", "transit": "12:05", "sunset": "16:48"}),
        (*GOLDEN, ("2015-08-02", -7), {"sunrise": "05:00", "transit": "12:07", "sunset": "19:13"}),
        # Defiance OH 2019-11-08, in universal time, as printed in python-skyfield's own tests.
        (
            41.281944, -84.362778, ("2019-11-08", "America/New_York"),
            {
                "astronomical dawn": "05:42", "nautical dawn": "06:15", "civil dawn": "06:48", "sunrise": "07:17",
                "sunset": "17:25", "civil dusk": "17:54", "nautical dusk": "18:27", "astronomical dusk": "18:59",
            },
        ),
        (40.8939, -83.8917, ("2018-09-12", "America/New_York"), {"sunrise": "07:13", "sunset": "19:50"}),
    ],
)  # fmt: skip
def test_days_of_the_naval_observatory(
    latitude: float, longitude: float, local: tuple[str, Any], almanac: dict[str, str]
) -> None:
    """US Naval Observatory, to the minute that it prints."""
    day, clock = local
    midnights = clocks.zone_day(day, clock) if isinstance(clock, str) else clocks.offset_day(day, clock)
    seen = sun.day(latitude, longitude, midnights)
    assert {kind: midnights.time(found(seen.first(kind))) for kind in almanac} == almanac


@pytest.mark.parametrize(("date", "almanac"), sorted(table("SUN").items()))
def test_a_year_of_the_naval_observatory(date: tuple[int, int], almanac: tuple[list[str], list[str]]) -> None:
    """Fredonia AZ 2023."""
    if not almanac[0]:
        with pytest.raises(SiteRefused, match="there is no day"):
            clocks.offset_day((2023, *date), -7)
        return
    local = clocks.offset_day((2023, *date), -7)
    seen = sun.day(36.95, -112.52, local)
    for at, shown in ((seen.sunrise, almanac[0]), (seen.sunset, almanac[1])):
        assert abs(minutes(local.time(found(at))) - minutes(shown[0])) <= 1


@pytest.mark.parametrize(
    ("date", "rise", "transit", "down"),
    [("1996-07-05", "07:08:15", "12:04:36", "17:01:04"), ("2004-12-04", "04:38:57", "11:50:22", "19:02:03")],
)
def test_days_of_the_algorithms_own_table(date: str, rise: str, transit: str, down: str) -> None:
    """Reda & Andreas 2004, table A6.1 and text: latitude −35, longitude 0, universal time; rounding of ΔT aside."""
    seen = sun.day(-35, 0, clocks.offset_day(date, 0))
    for at, shown in ((seen.sunrise, rise), (seen.transit, transit), (seen.sunset, down)):
        assert found(at) == pytest.approx(ut(f"{date} {shown}"), abs=2)


def test_the_evening_belongs_to_the_local_day() -> None:
    """Golden, 2003-10-17: 17:18:51 (Skyfield). The algorithm's tester and pvlib print the evening before."""
    at = found(sun.day(*GOLDEN, clocks.offset_day("2003-10-17", -7)).sunset)
    assert at == pytest.approx(datetime(2003, 10, 17, 17, 18, 51, tzinfo=MST).timestamp(), abs=1)
    before = found(sun.day(*GOLDEN, clocks.offset_day("2003-10-16", -7)).sunset)
    assert before == pytest.approx(datetime(2003, 10, 16, 17, 20, 19, tzinfo=MST).timestamp(), abs=2)


def test_two_hundred_risings_and_settings_by_skyfield() -> None:
    """Skyfield's own search, 1900–2050, up to 60° of latitude: within half a second."""
    from skyfield import almanac
    from skyfield.api import wgs84

    rng = np.random.default_rng(1752)
    ts = moon._timescale()
    with moon._ephemeris() as bodies:
        for _ in range(200):
            latitude, longitude = rng.uniform(-60, 60), rng.uniform(-180, 180)
            local = clocks.mean_day(written(rng.uniform(ut("1900-01-01"), ut("2050-12-31")))[:10], longitude)
            seen = sun.day(latitude, longitude, local)
            place = bodies["earth"] + wgs84.latlon(latitude, longitude)
            ends = [ts.ut1_jd(at / DAY_S + 2440587.5) for at in (local.start, local.end)]
            for kind, search in (("sunrise", almanac.find_risings), ("sunset", almanac.find_settings)):
                times, really = search(place, bodies["sun"], *ends, horizon_degrees=sun.HORIZON_DEG)
                theirs = [(jd - 2440587.5) * DAY_S for jd in times.ut1[really]]
                assert seen.all(kind) == pytest.approx(theirs, abs=0.5)


def test_polar_day_and_night_are_told_in_words() -> None:
    """Tromsø: midnight sun from 18 May, polar night from 27 November, by the centre at −50′."""

    def of(date: str) -> sun.Day:
        return sun.day(*TROMSOE, clocks.zone_day(date, "Europe/Oslo"))

    summer = of("2024-06-21")
    assert (summer.sunrise, summer.sunset) == (None, None)
    assert summer.sentence == (
        "Transit 12:46. No sunrise or sunset: the sun stays above the horizon all day, lowest 3.1° at 00:46."
    )
    assert summer.missing["civil dusk"].startswith("No civil dusk: the sun stays above 6° below the horizon all day")
    assert summer.daylight_min == pytest.approx(1440)
    # Altitudes at the two culminations: latitude and the declination of 23.44° (IAU) give both.
    assert summer.lowest_deg == pytest.approx(TROMSOE[0] + 23.436 - 90, abs=0.01)
    assert summer.highest_deg == pytest.approx(90 - TROMSOE[0] + 23.436, abs=0.01)
    winter = of("2024-12-21")
    assert "No sunrise or sunset: the sun stays below the horizon all day, highest −3.1° at 11:42." in winter.sentence
    assert winter.daylight_min == 0
    assert winter.first("civil dawn") is not None
    assert winter.blue
    assert len(winter.golden) == 1
    assert of("2024-05-17").sunrise is not None
    assert of("2024-05-18").sunrise is None
    assert of("2024-11-26").sunset is not None
    assert of("2024-11-27").sunset is None
    assert "before refraction" in of("2024-05-18").sentence
    for day in (summer, winter):
        assert not any(math.isnan(event.at) for event in day.events)


def test_a_day_with_the_setting_before_the_rising() -> None:
    seen = sun.day(*TROMSOE, clocks.zone_day("2024-07-26", "Europe/Oslo"))
    assert seen.sentence == "Sunset 00:23, sunrise 01:19, transit 12:51."
    assert found(seen.sunset) < found(seen.sunrise)
    assert seen.daylight_min == pytest.approx(1440 - 56, abs=1)


def test_a_day_with_only_one_of_them() -> None:
    """As midnight sun nears, the setting passes midnight; that day has a rising only, or two settings."""
    days = [
        sun.day(*TROMSOE, clocks.offset_day(written(day_start("2024-05-10") + n * DAY_S)[:10], 1.0)) for n in range(9)
    ]
    odd = [day for day in days if len(day.all("sunset")) != 1]
    assert odd
    told = [day.missing["sunset"] for day in odd if not day.all("sunset")]
    assert all(re.match(r"No sunset: the sun (only comes up|stays above)", one) for one in told)
    both = sum((day.all("sunrise") + day.all("sunset") for day in days), ())
    assert len(both) == len(set(both))


@settings(max_examples=30)
@given(st.floats(-89, 89), st.floats(-180, 180), st.integers(-1_400_000, 1_400_000))
def test_up_exactly_between_rising_and_setting(latitude: float, longitude: float, days: int) -> None:
    date = written(days * DAY_S).split(" ")[0]
    if date.startswith(("0000", "-0000")):
        date = "0001-01-01"
    local = clocks.mean_day(date, longitude)
    seen = sun.day(latitude, longitude, local)
    at = np.linspace(local.start + 1, local.end - 1, 97)
    altitude = sun.position(latitude, longitude, at).geometric_altitude_deg
    up = np.array([any(one in span for span in seen.up) for one in at])
    clear = np.abs(altitude - sun.HORIZON_DEG) > 1e-4
    assert (up == (altitude > sun.HORIZON_DEG))[clear].all()
    for spans, (least, most) in ((seen.golden, sun.GOLDEN_DEG), (seen.blue, sun.BLUE_DEG)):
        inside = np.array([any(one in span for span in spans) for one in at])
        away = np.minimum(np.abs(altitude - least), np.abs(altitude - most)) > 1e-4
        assert (inside == ((altitude > least) & (altitude < most)))[away].all()
    for event in seen.events:
        if event.kind != "transit":
            level = {"sun": sun.HORIZON_DEG, "civ": -6.0, "nau": -12.0, "ast": -18.0}[event.kind[:3]]
            reached = sun.position(latitude, longitude, event.at).geometric_altitude_deg
            assert reached == pytest.approx(level, abs=1e-4)
    for kind in sun.KINDS:
        assert (kind in seen.missing) is (not seen.all(kind))
    assert altitude.max() <= seen.highest_deg + 1e-6
    assert altitude.min() >= seen.lowest_deg - 1e-6


def test_days_meet_without_gap_or_overlap() -> None:
    """Over a year in a zone that changes its clocks there are as many risings as days, each on its own day."""
    starts = [day_start("2024-01-01") + n * DAY_S for n in range(80, 100)]
    days = [clocks.zone_day(written(at)[:10], "Europe/London") for at in starts]
    assert all(a.end == b.start for a, b in itertools.pairwise(days))
    rises = [found(sun.day(51.5, -0.1, day).sunrise) for day in days]
    assert np.diff(rises) == pytest.approx(DAY_S, abs=200)


def test_spans_can_be_set() -> None:
    local = clocks.offset_day("2024-04-01", 0)
    seen = sun.day(50, 0, local, golden_deg=(0, 10), blue_deg=(-8, -4))
    assert len(seen.golden) == len(seen.blue) == 2
    ends = [sun.position(50, 0, at).geometric_altitude_deg for at in (seen.golden[0].earliest, seen.golden[0].latest)]
    assert ends == pytest.approx([0, 10], abs=1e-4)
    assert (
        seen.local.times(seen.golden[1])
        == f"{local.time(seen.golden[1].earliest)} to {local.time(seen.golden[1].latest)}"
    )


# -- skyline --------


def test_skyline_between_its_points_and_across_north() -> None:
    line = Skyline([(350, 4.0), (10, 8.0), (90, 2.0)])
    assert line.altitude_at([350, 0, 10, 50, 90, 360]) == pytest.approx([4, 6, 8, 5, 2, 6])
    assert Skyline([(120, 7)]).altitude_at([0, 120, 359]) == pytest.approx([7, 7, 7])
    assert Skyline([(0, 3), (360, 3), (180, 1)]).points == ((0, 3), (180, 1))


def test_a_flat_skyline_at_the_horizon_changes_nothing() -> None:
    local = clocks.offset_day("2024-09-10", 0)
    seen = sun.day(51, 0, local, skyline=[(0, 0.0)])
    for kind, plain in ((sun.SKYLINE_KINDS[0], seen.sunrise), (sun.SKYLINE_KINDS[1], seen.sunset)):
        assert found(seen.first(kind)) == pytest.approx(found(plain), abs=30)


def test_a_hill_hides_the_sun_until_it_stands_above() -> None:
    """East of 180° a ridge of 10°, west of it an open view: looked at, not searched for."""
    ridge = Skyline([(0, 0), (60, 10), (170, 10), (180, 0)])
    local = clocks.offset_day("2024-03-20", 0)
    seen = sun.day(50, 0, local, skyline=ridge)
    clears = found(seen.first("clears the skyline"))
    assert 3600 < clears - found(seen.sunrise) < 2 * 3600
    assert seen.clear == (Span(clears, found(seen.first("goes behind the skyline"))),)
    at = np.linspace(local.start, local.end, 1441)
    hidden = sun.behind_skyline(sun.position(50, 0, at), ridge)
    assert (hidden == [one not in seen.clear[0] for one in at]).all()
    assert sun.behind_skyline(sun.position(50, 0, clears - 30), ridge) is True
    assert sun.behind_skyline(sun.position(50, 0, clears + 30), ridge.points) is False
    top = sun.position(50, 0, clears)
    assert top.apparent_altitude_deg + 16 / 60 == pytest.approx(10, abs=1e-4)


def test_two_notches_let_the_sun_through_twice() -> None:
    """Walls of 60° with two gaps ten degrees wide, south-south-east and south-south-west: mirrored about noon."""
    walls = [(0, 60), (150, 60), (150.1, 5), (160, 5), (160.1, 60), (199.9, 60), (200, 5), (209.9, 5), (210, 60)]
    seen = sun.day(50, 0, clocks.offset_day("2024-06-21", 0), skyline=walls)
    closed = sun.day(50, 0, clocks.offset_day("2024-03-20", 0), skyline=walls)
    assert [event.kind for event in closed.events if "skyline" in event.kind] == 2 * list(sun.SKYLINE_KINDS)
    assert closed.clear is not None
    assert [span.minutes for span in closed.clear] == pytest.approx([30, 30], abs=6)
    noon = found(closed.transit)
    assert noon - closed.clear[0].middle == pytest.approx(closed.clear[1].middle - noon, abs=60)
    assert seen.clear is not None
    assert len(seen.clear) == 1  # in June it stands above 60° at noon, and clears the walls themselves


def test_a_skyline_never_cleared_and_one_never_met_say_so() -> None:
    walled = sun.day(60, 10, clocks.offset_day("2024-12-21", 1), skyline=[(0, 20)])
    assert walled.clear == ()
    assert walled.missing["clears the skyline"] == "The sun does not come above the skyline on this day."
    polar = sun.day(*TROMSOE, clocks.offset_day("2024-06-21", 1), skyline=[(0, 1)])
    assert polar.missing["goes behind the skyline"] == "The sun stands above the skyline all day."
    assert polar.all("clears the skyline") == ()
    assert sun.day(50, 0, clocks.offset_day("2024-06-21", 0)).clear is None


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([], "no point"),
        ([(0, 5), (370, 3)], "bearing of point 2"),
        ([(0, 95)], "altitude of point 1"),
        ([(0, 5), (360, 3)], "two altitudes"),
        ([(0,)], "point 1 is not a bearing"),
        ([5], "point 1 is not a bearing"),
        ([(0, "high")], "not a number"),
        ([(float("nan"), 5)], "not a number"),
    ],
)
def test_what_is_no_skyline_is_refused(points: list[Any], words: str) -> None:
    with pytest.raises(SiteRefused, match=words):
        Skyline(points)


# -- doubt --------


def test_where_the_sun_may_have_stood() -> None:
    noon = day_start("1871-02-03") + 12 * 3600
    doubt = sun.position_over(53.4, -3.1, Span(noon - 1800, noon + 1800))
    ends = [sun.position(53.4, -3.1, noon + off) for off in (-1800, 1800)]
    assert doubt.azimuth_from_deg == pytest.approx(ends[0].azimuth_deg, abs=1e-6)
    assert doubt.azimuth_arc_deg == pytest.approx(ends[1].azimuth_deg - ends[0].azimuth_deg, abs=1e-6)
    assert doubt.least_altitude_deg <= min(one.geometric_altitude_deg for one in ends)
    assert doubt.sentence.startswith(f"Bearing {ends[0].azimuth_deg:.0f}° to {ends[1].azimuth_deg:.0f}°, altitude ")
    across = sun.position_over(-35, 0, Span(noon - 3600, noon + 3600))  # past north, where bearings begin anew
    assert across.azimuth_from_deg > 180
    assert across.azimuth_arc_deg < 180
    assert sun.position_over(53.4, -3.1, Span(noon - 12 * 3600, noon + 12.5 * 3600)).azimuth_arc_deg == 360
    assert "Any bearing" in sun.position_over(53.4, -3.1, Span(noon - 12 * 3600, noon + 12.5 * 3600)).sentence
    dawn = sun.position_over(53.4, -3.1, Span(noon - 5 * 3600, noon - 3 * 3600))
    assert dawn.sentence.endswith("the sun may have been up or down.")
    assert sun.position_over(53.4, -3.1, Span(noon - 43_200, noon - 40_000)).sentence.endswith("the sun was down.")
    point = sun.position_over(53.4, -3.1, Span(noon, noon))
    assert point.azimuth_arc_deg == 0


def test_an_hour_of_doubt_turns_the_sun_by_fifteen_degrees() -> None:
    """At the pole the bearing is the hour angle itself."""
    start = day_start("1871-06-21")
    assert sun.position_over(90, 0, Span(start, start + 3600)).azimuth_arc_deg == pytest.approx(15, abs=0.01)


# -- refusals --------


@pytest.mark.parametrize(
    ("ask", "field"),
    [
        (lambda: sun.position(91, 0, 0.0), "latitude"),
        (lambda: sun.position(0, 181, 0.0), "longitude"),
        (lambda: sun.position(float("nan"), 0, 0.0), "latitude"),
        (lambda: sun.position("north", 0, 0.0), "latitude"),
        (lambda: sun.position(True, 0, 0.0), "latitude"),
        (lambda: sun.position(None, 0, 0.0), "latitude"),
        (lambda: sun.position(0, float("inf"), 0.0), "longitude"),
        (lambda: sun.position(0, 0, 0.0, 90_000), "height"),
        (lambda: sun.position(0, 0, 0.0, pressure_pa=1013), "pressure"),
        (lambda: sun.position(0, 0, 0.0, temperature_c=285), "temperature"),
        (lambda: sun.position(0, 0, 0.0, delta_t=float("nan")), "delta_t"),
        (lambda: sun.position(0, 0, datetime(2024, 1, 1)), "utc"),
        (lambda: sun.position(0, 0, [datetime(2024, 1, 1)]), "utc"),
        (lambda: sun.position(0, 0, np.datetime64("2024-01-01")), "utc"),
        (lambda: sun.position(0, 0, "noon"), "utc"),
        (lambda: sun.position(0, 0, None), "utc"),
        (lambda: sun.position(0, 0, True), "utc"),
        (lambda: sun.position(0, 0, [0.0, float("nan")]), "utc"),
        (lambda: sun.position(0, 0, 1.7e12), "utc"),  # milliseconds
        (lambda: sun.position(0, 0, 10**400), "utc"),
        (lambda: sun.position(10**400, 0, 0.0), "latitude"),
        (lambda: sun.equation_of_time_min("noon"), "utc"),
        (lambda: sun.day(91, 0, clocks.offset_day("2024-01-01", 0)), "latitude"),
        (lambda: sun.day(0, 0, clocks.offset_day("2024-01-01", 0), golden_deg=(6, -4)), "golden_deg"),
        (lambda: sun.day(0, 0, clocks.offset_day("2024-01-01", 0), blue_deg=(-96, -4)), "blue_deg"),
        (lambda: sun.day(0, 0, clocks.offset_day("2024-01-01", 0)).all("moonrise"), "kind"),
        (lambda: sun.position_over(0, 0, Span(100.0, 0.0)), "span"),
        (lambda: sun.position_over(0, 0, Span(0.0, 1e6)), "span"),
    ],
)
def test_bad_values_name_their_field(ask: Callable[[], Any], field: str) -> None:
    with pytest.raises(SiteRefused, match=f"^{field}: ") as caught:
        ask()
    assert caught.value.field == field
    assert caught.value.next_step
