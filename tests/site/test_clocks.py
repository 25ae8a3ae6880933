"""Clocks of today and of the past, against published rules, the time zone database and handbook days."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import RefArchiveError, SiteRefused
from refarchive.site import clocks, sun
from refarchive.site.instants import DAY_S, Span, civil, day_start, instants, seconds_of_day, written, year_month_day

# -- days and numbers --------


@pytest.mark.parametrize(
    ("day", "julian_date"),
    [
        ("1957-10-04", 2436115.5),  # Meeus, Astronomical Algorithms, ch. 7: October 4.81 is 2436116.31
        ((333, 1, 28), 1842712.5),  # Julian 333 January 27.5, which is Gregorian 28 January
        ("1752-09-14", 2361221.5),  # the first Gregorian day in England
        (date(1752, 9, 13), 2361220.5),  # Julian 1752-09-02, the last Julian one
        ((2000, 1, 1), 2451544.5),  # Meeus, ch. 7: January 1.5 is 2451545.0
        ((-1000, 7, 3), 1356000.5),  # Meeus, ch. 7, from memory: Julian −1000 July 12.5 is 1356001.0
    ],
)
def test_days_are_counted_as_in_the_handbook(day: Any, julian_date: float) -> None:
    assert day_start(day) / DAY_S + 2440587.5 == julian_date


@given(st.dates(max_value=date(6000, 12, 31)))
def test_days_are_counted_as_by_python(day: date) -> None:
    at = day_start(day)
    assert at == (day - date(1970, 1, 1)).days * DAY_S
    assert civil(at) == (day.year, day.month, day.day, 0)
    assert written(at) == f"{day.isoformat()} 00:00:00 UT"


@given(st.integers(int(day_start((-2000, 1, 1)) // DAY_S), int(day_start((6000, 12, 31)) // DAY_S)))
def test_days_there_and_back(days: int) -> None:
    year, month, of_month, rest = civil(days * DAY_S)
    assert rest == 0
    if year:
        assert day_start((year, month, of_month)) == days * DAY_S


def test_instants_are_written_to_the_second() -> None:
    assert written(-0.4) == "1970-01-01 00:00:00 UT"
    assert written(59.6) == "1970-01-01 00:01:00 UT"
    assert written(day_start((-43, 3, 15))) == "-0043-03-15 00:00:00 UT"
    assert str(Span(0.0, 0.2)) == "1970-01-01 00:00:00 UT"
    assert str(Span(0.0, 60.0)) == "1970-01-01 00:00:00 UT to 1970-01-01 00:01:00 UT"


def test_times_of_day() -> None:
    assert seconds_of_day("17:20") == seconds_of_day(time(17, 20)) == 62_400
    assert seconds_of_day("7:05:09.5") == 7 * 3600 + 5 * 60 + 9.5
    assert year_month_day("−43-3-15") == (-43, 3, 15)


# -- today's clocks --------


@pytest.mark.parametrize(
    ("day", "clock", "zone", "fold", "wanted"),
    [
        ("2024-07-01", "12:00", "Europe/London", None, "2024-07-01T11:00"),
        ("2024-01-01", "12:00", "Europe/London", None, "2024-01-01T12:00"),
        ("2024-10-27", "01:30", "Europe/London", 0, "2024-10-27T00:30"),  # Summer Time Act 1972
        ("2024-10-27", "01:30", "Europe/London", 1, "2024-10-27T01:30"),
        (date(2015, 8, 2), time(5, 0), "America/Denver", 1, "2015-08-02T11:00"),
        ("1941-07-01", "12:00", "Europe/London", None, "1941-07-01T10:00"),  # double summer time of the war
        ("2024-07-01", "12:00", "Asia/Kathmandu", None, "2024-07-01T06:15"),
    ],
)  # fmt: skip
def test_a_local_time_in_utc(day: Any, clock: Any, zone: str, fold: int | None, wanted: str) -> None:
    found = clocks.local_instant(day, clock, zone, fold=fold)
    assert found == datetime.fromisoformat(wanted).replace(tzinfo=UTC)
    assert found.tzinfo is UTC


def test_a_datetime_with_a_zone_is_only_turned() -> None:
    moment = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    assert clocks.as_utc(moment) == clocks.as_utc(moment, "Europe/London") == moment
    assert clocks.as_utc(datetime(2024, 7, 1, 12), "Europe/London").hour == 11


@pytest.mark.parametrize(
    ("day", "clock", "zone", "words"),
    [
        ("2024-03-31", "01:30", "Europe/London", "does not exist in Europe/London: the clocks went from 01:00 to"),
        ("2024-03-10", "02:00", "America/New_York", "the clocks went from 02:00 to 03:00"),
        ("2018-11-04", "00:15", "America/Sao_Paulo", "the clocks went from 00:00 to 01:00"),
        ("2024-10-06", "02:10", "Australia/Lord_Howe", "the clocks went from 02:00 to 02:30"),
        ("1919-03-30", "23:45", "America/Toronto", "the clocks went from 23:30 to 00:30"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("fold", [None, 0, 1])
def test_a_time_jumped_over_is_refused(day: str, clock: str, zone: str, words: str, fold: int | None) -> None:
    with pytest.raises(SiteRefused, match=f"^time: {clock} on {day} .*{words}") as caught:
        clocks.local_instant(day, clock, zone, fold=fold)
    assert caught.value.field == "time"
    assert caught.value.next_step == "Give a time before or after the gap."


def test_an_hour_that_came_twice_asks_which() -> None:
    with pytest.raises(SiteRefused) as caught:
        clocks.local_instant("2024-10-27", "01:30", "Europe/London")
    assert caught.value.field == "fold"
    assert caught.value.problem == (
        "time: 01:30 on 2024-10-27 came twice in Europe/London, because the clocks went back."
    )
    assert caught.value.next_step == "Give fold=0 for 00:30 UT (BST) or fold=1 for 01:30 UT (GMT)."
    clocks.local_instant("2024-10-27", "00:59", "Europe/London")
    clocks.local_instant("2024-10-27", "02:00", "Europe/London")


@settings(max_examples=80)
@given(
    st.datetimes(datetime(1920, 1, 1), datetime(2030, 1, 1)),
    st.sampled_from(["Europe/London", "America/Havana", "Pacific/Apia", "Australia/Lord_Howe", "Africa/Casablanca"]),
)
def test_a_zone_shows_what_was_given(moment: datetime, zone: str) -> None:
    try:
        found = clocks.as_utc(moment, zone, fold=1)
    except SiteRefused as refused:
        assert refused.field == "time"  # jumped over: no instant shows it
        around = moment.replace(tzinfo=clocks.zone_of(zone)).astimezone(UTC)
        shows = [
            (around + timedelta(minutes=n)).astimezone(clocks.zone_of(zone)).replace(tzinfo=None)
            for n in range(-1600, 1601)
        ]
        assert moment.replace(second=0, microsecond=0) not in {one.replace(second=0, microsecond=0) for one in shows}
        return
    assert found.astimezone(clocks.zone_of(zone)).replace(tzinfo=None, fold=0) == moment


# -- days --------


@pytest.mark.parametrize(
    ("day", "zone", "hours", "starts"),
    [
        ("2024-03-31", "Europe/London", 23, "2024-03-31T00:00"),
        ("2024-10-27", "Europe/London", 25, "2024-10-26T23:00"),
        ("2024-06-01", "Europe/London", 24, "2024-05-31T23:00"),
        ("2018-11-04", "America/Sao_Paulo", 23, "2018-11-04T03:00"),  # midnight jumped over: the day begins at 01:00
        ("1919-03-31", "America/Toronto", 23.5, "1919-03-31T04:30"),  # 23:30 became 00:30
        ("2024-10-06", "Australia/Lord_Howe", 23.5, "2024-10-05T13:30"),
        ("2011-12-31", "Pacific/Apia", 24, "2011-12-30T10:00"),
        ("2011-12-29", "Pacific/Apia", 24, "2011-12-29T10:00"),
    ],
)
def test_a_day_from_midnight_to_midnight(day: str, zone: str, hours: float, starts: str) -> None:
    found = clocks.zone_day(day, zone)
    assert found.end - found.start == hours * 3600
    assert found.start == datetime.fromisoformat(starts).replace(tzinfo=UTC).timestamp()
    assert found.clock == zone


def test_the_clock_of_a_day() -> None:
    summer = clocks.zone_day("2024-06-01", "Europe/London")
    assert summer.time(summer.start) == "00:00"
    assert summer.time(summer.start + 12 * 3600 + 29) == "12:00"
    assert summer.time(summer.start + 12 * 3600 + 31) == "12:01"
    assert summer.time(summer.end - 20) == summer.time(summer.end) == "24:00"
    mean = clocks.mean_day("1783-09-03", 2.3522)
    assert mean.time(day_start("1783-09-03") + 12 * 3600) == "12:09"
    assert (mean.end - mean.start, mean.offset_s, mean.date) == (DAY_S, 2.3522 * 240, (1783, 9, 3))
    assert clocks.offset_day("2024-06-01", -7).clock == "UT−7 h"
    assert clocks.offset_day((-43, 3, 15), 1).start == day_start((-43, 3, 15)) - 3600


def test_a_day_left_out_is_refused() -> None:
    with pytest.raises(SiteRefused, match=r"^date: 2011-12-30 was left out in Pacific/Apia") as caught:
        clocks.zone_day("2011-12-30", "Pacific/Apia")
    assert caught.value.field == "date"


def test_zones_are_not_used_before_they_were_kept() -> None:
    """London's clocks took Greenwich time on 1 December 1847, by the time zone database."""
    for ask in (
        lambda: clocks.zone_day("1783-09-03", "Europe/Paris"),
        lambda: clocks.local_instant("1847-11-30", "12:00", "Europe/London"),
    ):
        with pytest.raises(SiteRefused, match="was not yet kept on") as caught:
            ask()
        assert caught.value.field == "zone"
        assert "local mean time or the sundial" in caught.value.next_step
    assert clocks.local_instant("1847-12-02", "12:00", "Europe/London").hour == 12
    assert "one town of each zone" in clocks.zone_day("1871-02-03", "Europe/London").caution
    assert clocks.zone_day("1970-01-01", "Europe/London").caution == ""
    assert sun.day(53.4, -3.1, clocks.zone_day("1871-02-03", "Europe/London")).cautions == (clocks.BEFORE_1970,)


@pytest.mark.parametrize(
    ("name", "like"),
    [
        ("Europe/Londn", "Europe/London"),
        ("London", "Europe/London"),
        ("new york", "America/New_York"),
        ("", "such as Europe/London"),
        ("../../etc/passwd", "such as Europe/London"),
        ("Europe", ""),
        (None, ""),
        (5, ""),
    ],
)
def test_unknown_zones_are_refused(name: Any, like: str) -> None:
    with pytest.raises(SiteRefused, match=r"^zone: there is no time zone") as caught:
        clocks.zone_of(name)
    assert like in caught.value.next_step
    assert caught.value.field == "zone"


# -- clocks of the past --------


def test_sundial_noon_in_paris_1783() -> None:
    """11:49:44 UT, when the sun stands due south (PyEphem's own theory: 179.99924°)."""
    found = clocks.historical("1783-09-03", "12:00", "sundial", longitude=2.3522)
    assert written(found.earliest) == "1783-09-03 11:49:44 UT"
    assert found.earliest == found.latest
    assert sun.position(48.8566, 2.3522, found.earliest).azimuth_deg == pytest.approx(180, abs=0.002)
    assert found.sentence == "1783-09-03 11:49:44 UT, taking the time for the sundial's (apparent solar time)."


@settings(max_examples=60)
@given(st.floats(-179, 179), st.integers(-3900, 3900), st.integers(1, 365))
def test_at_sundial_noon_the_sun_stands_in_the_meridian(longitude: float, years: int, days: int) -> None:
    year, month, of_month, _ = civil(day_start((2000, 1, 1)) + (years * 365 + days) * DAY_S)
    if year == 0:
        year = 1
        of_month = min(of_month, 28)
    found = clocks.historical((year, month, of_month), "12:00", "sundial", longitude=longitude)
    seen = sun.position(70.0, longitude, found.earliest)
    assert seen.azimuth_deg == pytest.approx(180, abs=0.002)
    shown, rest = clocks.sundial_time(found.earliest, longitude)
    assert (shown, rest) == ((year, month, of_month), pytest.approx(43_200, abs=0.5))


def test_mean_time_and_a_zone() -> None:
    """Four minutes of time to a degree; 15° to an hour."""
    mean = clocks.historical("1871-02-03", "07:15", "local mean time", longitude=-3.0)
    assert written(mean.earliest) == "1871-02-03 07:27:00 UT"
    zone = clocks.historical("1871-02-03", "07:15", "zone", offset_hours=-5)
    assert written(zone.latest) == "1871-02-03 12:15:00 UT"
    assert written(clocks.historical((1066, 10, 20), "09:00", "local mean time", longitude=0).earliest).startswith(
        "1066"
    )
    mill = clocks.historical("1871-02-03", time(7, 15), "local mean time", longitude=-3.0, doubt_min=10)
    assert mill.span == Span(mean.earliest - 600, mean.latest + 600)
    assert "give or take 10 min" in mill.sentence


def test_an_unknown_clock_spans_sundial_and_mean_time() -> None:
    """On 1 November the sundial is 16 min 20 s ahead, so that a sundial's noon comes earlier in mean time."""
    kinds = {
        clock: clocks.historical("1869-11-01", "12:00", clock, longitude=-3.1)
        for clock in ("sundial", "local mean time", "unknown clock")
    }  # fmt: skip
    unknown = kinds["unknown clock"]
    assert unknown.earliest == pytest.approx(kinds["sundial"].earliest - 30 * 60)
    assert unknown.latest == pytest.approx(kinds["local mean time"].latest + 30 * 60)
    assert unknown.span.minutes == pytest.approx(60 + 16.3, abs=0.1)
    assert "nobody having recorded which, give or take 30 min" in unknown.sentence
    narrow = clocks.historical("1869-11-01", "12:00", "unknown clock", longitude=-3.1, doubt_min=0)
    assert narrow.span.minutes == pytest.approx(16.3, abs=0.1)
    february = clocks.historical("1871-02-11", "12:00", "unknown clock", longitude=-3.1, doubt_min=0)
    mean = clocks.historical("1871-02-11", "12:00", "local mean time", longitude=-3.1)
    assert february.earliest == mean.earliest  # the sundial is behind then
    doubt = sun.position_over(53.4, -3.1, unknown.span)
    assert doubt.azimuth_arc_deg == pytest.approx(unknown.span.minutes / 4, rel=0.25)


# -- refusals --------


@pytest.mark.parametrize(
    ("ask", "field"),
    [
        (lambda: day_start("0000-00-00"), "date"),
        (lambda: day_start("0000-05-01"), "date"),
        (lambda: day_start((0, 5, 1)), "date"),
        (lambda: day_start("2023-02-29"), "date"),
        (lambda: day_start("1900-02-29"), "date"),
        (lambda: day_start("2023-13-01"), "date"),
        (lambda: day_start("3 February 1871"), "date"),
        (lambda: day_start("7000-01-01"), "date"),
        (lambda: day_start((-2001, 1, 1)), "date"),
        (lambda: day_start((1871, 2.5, 1)), "date"),  # type: ignore[arg-type]
        (lambda: day_start((1871, 2)), "date"),  # type: ignore[arg-type]
        (lambda: day_start((1871, "February", 3)), "date"),  # type: ignore[arg-type]
        (lambda: day_start((1871, float("nan"), 3)), "date"),  # type: ignore[arg-type]
        (lambda: day_start((1871, float("inf"), 3)), "date"),  # type: ignore[arg-type]
        (lambda: day_start(1871), "date"),  # type: ignore[arg-type]
        (lambda: day_start(None), "date"),  # type: ignore[arg-type]
        (lambda: day_start(datetime(2024, 1, 1, tzinfo=UTC)), "date"),
        (lambda: seconds_of_day("24:00"), "time"),
        (lambda: seconds_of_day("7.15"), "time"),
        (lambda: seconds_of_day("07:60"), "time"),
        (lambda: seconds_of_day(715), "time"),  # type: ignore[arg-type]
        (lambda: seconds_of_day(time(7, tzinfo=UTC)), "time"),
        (lambda: clocks.as_utc(datetime(2024, 1, 1)), "zone"),
        (lambda: clocks.as_utc("2024-01-01"), "time"),  # type: ignore[arg-type]
        (lambda: clocks.as_utc(datetime(2024, 1, 1), "UTC", fold=2), "fold"),
        (lambda: clocks.as_utc(datetime(9999, 12, 31, 23), "America/New_York"), "time"),
        (lambda: clocks.zone_day((-43, 3, 15), "Europe/Rome"), "date"),
        (lambda: clocks.zone_day("9999-12-31", "UTC"), "date"),
        (lambda: clocks.mean_day("2024-01-01", 181), "longitude"),
        (lambda: clocks.offset_day("2024-01-01", 17), "offset_hours"),
        (lambda: clocks.historical("0000-01-01", "12:00", "sundial", longitude=0), "date"),
        (lambda: clocks.historical("1783-09-03", "12:00", "church", longitude=0), "clock"),  # type: ignore[arg-type]
        (lambda: clocks.historical("1783-09-03", "12:00", "sundial"), "longitude"),
        (lambda: clocks.historical("1783-09-03", "12:00", "unknown clock", longitude=181), "longitude"),
        (lambda: clocks.historical("1783-09-03", "12:00", "zone", longitude=0), "offset_hours"),
        (lambda: clocks.historical("1783-09-03", "12:00", "zone", offset_hours=float("nan")), "offset_hours"),
        (lambda: clocks.historical("1783-09-03", "12:00", "sundial", longitude=0, doubt_min=-1), "doubt_min"),
        (lambda: clocks.historical("1783-09-03", "25:00", "sundial", longitude=0), "time"),
        (lambda: clocks.sundial_time(datetime(2024, 1, 1), 0), "utc"),
        (lambda: instants([object()]), "utc"),
    ],
)
def test_bad_values_name_their_field(ask: Callable[[], Any], field: str) -> None:
    with pytest.raises(SiteRefused) as caught:
        ask()
    assert isinstance(caught.value, RefArchiveError)
    assert caught.value.field == field
    assert caught.value.problem
    assert caught.value.next_step
