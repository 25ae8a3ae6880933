"""Calendars against published days, the package convertdate and the words of the laws that changed them."""

from __future__ import annotations

import doctest

import convertdate
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from refarchive.errors import BadDate
from refarchive.records import calendars, dates
from refarchive.records.calendars import (
    OldStyle,
    Reckoning,
    YearBegins,
    as_written,
    calendar_date,
    convert,
    day_words,
    days_in_month,
    weekday,
)

RECKONINGS: list[Reckoning] = ["gregorian", "julian", "england", "russia"]
NEW_YEARS: list[YearBegins] = ["1 January", "25 March"]


# -- the two calendars by rule --------


@settings(deadline=None)
@given(st.integers(1, 2400), st.integers(1, 12), st.integers(1, 31))
def test_both_calendars_equal_convertdate(year: int, month: int, day: int) -> None:
    if day <= days_in_month(year, month, "julian"):
        number = convert(year, month, day, calendar="julian")
        assert number - 0.5 == convertdate.julian.to_jd(year, month, day)
        assert calendar_date(number) == convertdate.julian.to_gregorian(year, month, day)
    if day <= days_in_month(year, month):
        number = convert(year, month, day, calendar="gregorian")
        assert number - 0.5 == convertdate.gregorian.to_jd(year, month, day)
        assert calendar_date(number, "julian") == convertdate.julian.from_gregorian(year, month, day)


# Meeus, Astronomical Algorithms, 2nd ed., ch. 7: Julian dates.
@pytest.mark.parametrize(
    ("date", "reckoning", "fraction", "julian_date"),
    [
        ((1957, 10, 4), "gregorian", 0.81, 2436116.31),
        ((333, 1, 27), "julian", 0.5, 1842713.0),
        ((837, 4, 10), "julian", 0.3, 2026871.8),
        ((1957, 10, 4), "england", 0.81, 2436116.31),
        ((333, 1, 27), "england", 0.5, 1842713.0),
        ((837, 4, 10), "russia", 0.3, 2026871.8),
    ],
)
def test_day_numbers_equal_meeus(date: tuple, reckoning: Reckoning, fraction: float, julian_date: float) -> None:
    assert convert(*date, calendar=reckoning) - 0.5 + fraction == pytest.approx(julian_date, abs=0.005)


# Meeus, ch. 7, day of the week: 1954 June 30 a Wednesday. The other two days are named in the histories of the change.
@pytest.mark.parametrize(
    ("date", "reckoning", "name"),
    [
        ((1954, 6, 30), "gregorian", "Wednesday"),
        ((1752, 9, 2), "england", "Wednesday"),
        ((1752, 9, 14), "england", "Thursday"),
        ((1918, 1, 31), "russia", "Wednesday"),
        ((1918, 2, 14), "russia", "Thursday"),
    ],
)
def test_days_of_the_week(date: tuple, reckoning: Reckoning, name: str) -> None:
    assert weekday(convert(*date, calendar=reckoning)) == name


# -- England --------


def test_england_went_from_2_to_14_september_1752() -> None:
    # Calendar (New Style) Act 1750: the day after 2 September is called the fourteenth. The day number of the first
    # Gregorian day is the constant GREGORIAN_START_ENGLAND of the astronomy package skyfield.
    assert convert(1752, 9, 14, calendar="england") == 2361222
    assert convert(1752, 9, 2, calendar="england") == 2361221
    assert as_written(2361221, calendar="england") == (1752, 9, 2)
    assert as_written(2361222, calendar="england") == (1752, 9, 14)


@pytest.mark.parametrize("day", range(3, 14))
@pytest.mark.parametrize("year_begins", NEW_YEARS)
def test_eleven_days_never_were_in_england(day: int, year_begins: YearBegins) -> None:
    with pytest.raises(BadDate) as caught:
        convert(1752, 9, day, calendar="england", year_begins=year_begins)
    assert f"no {day} September 1752 in England" in caught.value.problem
    assert "2 September 1752 was followed by 14 September 1752" in caught.value.problem
    assert caught.value.next_step.endswith(".")
    convert(1752, 9, day, calendar="gregorian")  # elsewhere they were
    convert(1752, 9, day, calendar="julian")


# Well-known births and deaths, written in the English style of their time and as histories give them today.
@pytest.mark.parametrize(
    ("written", "today"),
    [
        ((1731, 2, 11), (1732, 2, 22)),  # a birth in Virginia, kept today on 22 February 1732
        ((1648, 1, 30), (1649, 2, 9)),  # the execution of Charles I
        ((1642, 12, 25), (1643, 1, 4)),  # the birth of Isaac Newton
        ((1688, 11, 5), (1688, 11, 15)),  # the landing at Brixham
    ],
)
def test_english_dates_in_todays_calendar(written: tuple, today: tuple) -> None:
    number = convert(*written, calendar="england", year_begins="25 March")
    assert calendar_date(number) == today
    assert as_written(number, calendar="england", year_begins="25 March") == written


@pytest.mark.parametrize(
    ("julian", "gregorian"),
    [
        ((1752, 9, 2), (1752, 9, 13)),
        ((1732, 2, 11), (1732, 2, 22)),
        ((1066, 10, 14), (1066, 10, 20)),
        ((1700, 2, 18), (1700, 2, 28)),
        ((1700, 2, 29), (1700, 3, 11)),
        ((1918, 1, 31), (1918, 2, 13)),
    ],
)
def test_julian_days_in_the_gregorian_calendar(julian: tuple, gregorian: tuple) -> None:
    assert calendar_date(convert(*julian, calendar="julian")) == gregorian
    assert convertdate.julian.to_gregorian(*julian) == gregorian


def test_the_day_before_lady_day_closed_the_year() -> None:
    closing = convert(1731, 3, 24, calendar="england", year_begins="25 March")
    assert closing + 1 == convert(1732, 3, 25, calendar="england", year_begins="25 March")
    assert convert(1731, 3, 25, calendar="england", year_begins="25 March") == closing - 365


def test_a_leap_day_stands_in_the_year_that_was_written() -> None:
    # 1731/2 had a 29 February, which was written in 1731; 1732/3 had none.
    assert calendar_date(convert(1731, 2, 29, calendar="england", year_begins="25 March"), "julian") == (1732, 2, 29)
    with pytest.raises(BadDate):
        convert(1732, 2, 29, calendar="england", year_begins="25 March")


@pytest.mark.parametrize("date", [(1751, 1, 1), (1751, 2, 11), (1751, 3, 24)])
def test_the_english_year_1751_had_no_winter_at_its_end(date: tuple) -> None:
    # The Act: the day after 31 December 1751 is 1 January 1752. 1751 had begun on 25 March.
    with pytest.raises(BadDate, match="1751 began on 25 March and ended on 31 December"):
        convert(*date, calendar="england", year_begins="25 March")
    last = convert(1751, 12, 31, calendar="england", year_begins="25 March")
    assert convert(1752, 1, 1, calendar="england", year_begins="25 March") == last + 1


# -- Russia --------


def test_russia_went_from_31_january_to_14_february_1918() -> None:
    # Decree of 24 January 1918: the first day after 31 January is counted as 14 February.
    assert convert(1918, 2, 14, calendar="russia") == convert(1918, 1, 31, calendar="russia") + 1
    assert calendar_date(convert(1917, 10, 25, calendar="russia")) == (1917, 11, 7)
    for day in range(1, 14):
        with pytest.raises(BadDate, match=f"no {day} February 1918 in Russia"):
            convert(1918, 2, day, calendar="russia")


# Slavic cataloguing practice gives both dates: births of 1711 and 1870 (Princeton University Library, Slavic dates).
@pytest.mark.parametrize(
    ("julian", "gregorian"), [((1711, 11, 8), (1711, 11, 19)), ((1765, 4, 4), (1765, 4, 15)),
                              ((1870, 4, 10), (1870, 4, 22)), ((1914, 6, 2), (1914, 6, 15))]
)  # fmt: skip
def test_russian_dates_in_both_calendars(julian: tuple, gregorian: tuple) -> None:
    assert calendar_date(convert(*julian, calendar="russia")) == gregorian


# -- there and back --------

_NEAR_THE_CHANGES = st.integers(2361221 - 800, 2361221 + 800) | st.integers(2421638 - 60, 2421638 + 60)


@settings(deadline=None, max_examples=300)
@given(st.integers(-1_000_000, 4_000_000) | _NEAR_THE_CHANGES, st.sampled_from(RECKONINGS), st.sampled_from(NEW_YEARS))
@example(2361221, "england", "25 March")
@example(2361222, "england", "25 March")
def test_every_day_comes_back(number: int, reckoning: Reckoning, year_begins: YearBegins) -> None:
    written = as_written(number, calendar=reckoning, year_begins=year_begins)
    assert convert(*written, calendar=reckoning, year_begins=year_begins) == number
    assert as_written(number + 1, calendar=reckoning, year_begins=year_begins) != written


@settings(deadline=None, max_examples=300)
@given(
    st.integers(-4800, 3000) | st.sampled_from([1750, 1751, 1752, 1918]), st.integers(0, 13), st.integers(0, 32),
    st.sampled_from(RECKONINGS), st.sampled_from(NEW_YEARS),
)  # fmt: skip
def test_every_date_comes_back_or_is_refused(
    year: int, month: int, day: int, reckoning: Reckoning, year_begins: YearBegins
) -> None:
    try:
        number = convert(year, month, day, calendar=reckoning, year_begins=year_begins)
    except BadDate as none_such:
        assert none_such.problem.endswith(".")
        assert none_such.next_step.endswith(".")
        return
    assert as_written(number, calendar=reckoning, year_begins=year_begins) == (year, month, day)


def test_an_unknown_calendar_is_refused() -> None:
    with pytest.raises(BadDate, match="no calendar “french”"):
        convert(1793, 1, 1, calendar="french")  # type: ignore[arg-type]
    with pytest.raises(BadDate, match="beginning on 1 March"):
        convert(1793, 1, 1, calendar="julian", year_begins="1 March")  # type: ignore[arg-type]


# -- whole months and years as written --------


@pytest.mark.parametrize(
    ("written", "shown", "first", "last"),
    [
        (OldStyle(1731, 2, 11, "england", "25 March", True), "11 February 1731/2", "22 February 1732", None),
        (OldStyle(1699, 2, 11, "england", "25 March", True), "11 February 1699/1700", "21 February 1700", None),
        (OldStyle(1709, 2, 11, "england", "25 March", True), "11 February 1709/10", "22 February 1710", None),
        (OldStyle(1731, 2, None, "england", "25 March", True), "February 1731/2", "12 February 1732", "11 March 1732"),
        (OldStyle(1731, 3, None, "england", "25 March", True), "March 1731/2", "12 March 1732", "4 April 1732"),
        (OldStyle(1750, None, None, "england", "25 March"), "1750", "5 April 1750", "4 April 1751"),
        (OldStyle(1751, None, None, "england", "25 March"), "1751", "5 April 1751", "11 January 1752"),
        (OldStyle(1752, None, None, "england", "25 March"), "1752", "12 January 1752", "31 December 1752"),
        (OldStyle(1752, 9, None, "england"), "September 1752", "12 September 1752", "30 September 1752"),
        (OldStyle(1918, 2, None, "russia"), "February 1918", "14 February 1918", "28 February 1918"),
        (OldStyle(1751, 2, 11, "england", "25 March", True), "11 February 1751/2", "22 February 1752", None),
        (OldStyle(1700, 2, 29), "29 February 1700", "11 March 1700", None),
        (OldStyle(-43, 3, 15), "15 March 44 BC", "13 March 44 BC", None),
    ],
)
def test_what_was_written_covers_these_days(written: OldStyle, shown: str, first: str, last: str | None) -> None:
    assert str(written) == shown
    assert tuple(day_words(number) for number in written.days) == (first, last or first)


@pytest.mark.parametrize(
    ("written", "why"),
    [
        (OldStyle(1731, 3, 25, "england", "25 March", True), "only days from 1 January to 24 March"),
        (OldStyle(1731, 6, None, "england", "25 March", True), "only days from 1 January to 24 March"),
        (OldStyle(1731, None, None, "england", "25 March", True), "only days from 1 January to 24 March"),
        (OldStyle(1731, 3, None, "england", "25 March"), "a year later"),
        (OldStyle(1752, 9, 5, "england"), "no 5 September 1752 in England"),
        (OldStyle(1751, 2, None, "england", "25 March"), "1751 began on 25 March"),
        (OldStyle(1731, 13, 1), "no day"),
        (OldStyle(1731, 13), "no day"),
    ],
)
def test_what_never_was_is_refused(written: OldStyle, why: str) -> None:
    with pytest.raises(BadDate, match=why):
        _ = written.days


@pytest.mark.parametrize("module", [calendars, dates])
def test_the_examples_in_the_docstrings_hold(module) -> None:
    failed, tried = doctest.testmod(module)
    assert (failed, tried > 0) == (0, True)
