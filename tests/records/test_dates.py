"""Dates against published days, the standard library, the edtf library's own bounds and the EDTF profile's examples."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import BadDate
from refarchive.records.dates import calendar_date, days_in_month, iso_day, julian_day, read_date
from refarchive.records.model import When


def days(text: str) -> tuple[str | None, str | None]:
    when = read_date(text)
    return (
        None if when.earliest is None else iso_day(when.earliest),
        None if when.latest is None else iso_day(when.latest),
    )


# -- calendars --------

# Meeus, Astronomical Algorithms, 2nd ed., ch. 7: Julian date of a moment; the day number is the date at its noon.
MEEUS = [
    ((1957, 10, 4, "gregorian"), 2436116.31, 0.81),
    ((333, 1, 27, "julian"), 1842713.0, 0.5),
    ((837, 4, 10, "julian"), 2026871.8, 0.3),
    # From memory, same table of the same chapter:
    ((2000, 1, 1, "gregorian"), 2451545.0, 0.5),
    ((1600, 1, 1, "gregorian"), 2305447.5, 0.0),
    ((1600, 12, 31, "gregorian"), 2305812.5, 0.0),
    ((-123, 12, 31, "julian"), 1676496.5, 0.0),
    ((-1000, 7, 12, "julian"), 1356001.0, 0.5),
    ((-4712, 1, 1, "julian"), 0.0, 0.5),
]


@pytest.mark.parametrize(("date", "julian_date", "fraction"), MEEUS)
def test_day_numbers_equal_meeus(date: tuple, julian_date: float, fraction: float) -> None:
    assert julian_day(*date) - 0.5 + fraction == pytest.approx(julian_date, abs=0.005)
    year, month, day, calendar = date
    assert calendar_date(julian_day(*date), calendar) == (year, month, day)


# England went from Wednesday 2 September 1752 (Julian, JD 2361220.5 at 0 h) to Thursday 14 September (JD 2361221.5).
def test_england_lost_eleven_days_and_no_day_number() -> None:
    before, after = julian_day(1752, 9, 2, "julian"), julian_day(1752, 9, 14)
    assert (before, after) == (2361221, 2361222)
    assert after % 7 == 3  # day numbers divisible by seven are Mondays, so 3 is Thursday


@pytest.mark.parametrize(
    ("julian", "gregorian"),
    [  # the first three also agree with the package convertdate
        ((1752, 9, 2), (1752, 9, 13)),
        ((1732, 2, 11), (1732, 2, 22)),
        ((1066, 10, 14), (1066, 10, 20)),
        ((1700, 2, 18), (1700, 2, 28)),
        ((1700, 2, 29), (1700, 3, 11)),
        ((1918, 1, 31), (1918, 2, 13)),
    ],
)
def test_julian_days_in_the_gregorian_calendar(julian: tuple, gregorian: tuple) -> None:
    assert calendar_date(julian_day(*julian, "julian")) == gregorian


@settings(deadline=None)
@given(st.dates())
def test_day_numbers_follow_the_standard_library(date: datetime.date) -> None:
    number = date.toordinal() + 1721425  # 0001-01-01 has ordinal 1 and day number 1721426
    assert julian_day(date.year, date.month, date.day) == number
    assert calendar_date(number) == (date.year, date.month, date.day)
    assert iso_day(number) == date.isoformat()


@settings(deadline=None)
@given(st.integers(-(10**12), 10**12), st.sampled_from(["gregorian", "julian"]))
def test_every_day_number_is_a_day_and_the_next_follows_it(number: int, calendar) -> None:
    year, month, day = calendar_date(number, calendar)
    assert julian_day(year, month, day, calendar) == number
    if day < days_in_month(year, month, calendar):
        following = (year, month, day + 1)
    else:
        following = (year, month + 1, 1) if month < 12 else (year + 1, 1, 1)
    assert calendar_date(number + 1, calendar) == following


@pytest.mark.parametrize(
    ("date", "shown"),
    [
        ((-43, 3, 15), "-0043-03-15"),
        ((0, 1, 1), "0000-01-01"),
        ((12000, 5, 6), "+12000-05-06"),
        ((871, 2, 3), "0871-02-03"),
    ],
)
def test_iso_days_of_unusual_years(date: tuple, shown: str) -> None:
    assert iso_day(julian_day(*date)) == shown


@pytest.mark.parametrize(
    "date", [(1900, 2, 29), (1783, 2, 29), (1871, 13, 1), (1871, 0, 1), (1871, 4, 31), (1871, 1, 0)]
)
def test_days_that_no_calendar_has(date: tuple) -> None:
    with pytest.raises(BadDate):
        julian_day(*date)


@pytest.mark.parametrize("year", [-4712, -4, 0, 4, 1600, 1752, 1784, 2000, 2400])
def test_leap_days_come_back_in_both_calendars(year: int) -> None:
    for calendar in ("gregorian", "julian"):
        number = julian_day(year, 2, 29, calendar)
        assert [calendar_date(number + step, calendar) for step in (-1, 0, 1)] == [
            (year, 2, 28),
            (year, 2, 29),
            (year, 3, 1),
        ]


def test_1900_had_a_leap_day_in_the_julian_calendar_only() -> None:
    assert calendar_date(julian_day(1900, 2, 29, "julian")) == (1900, 3, 13)


# -- EDTF --------

# What the edtf library 5.0.2 itself answers where it is right: strict days for what has no mark, else the years of its
# `lower_fuzzy` and `upper_fuzzy`. Tested again against the library below.
LIBRARY = [
    ("1783", "1783-01-01", "1783-12-31"),
    ("1783?", "1782-01-01", "1784-12-31"),
    ("1783~", "1782-01-01", "1784-12-31"),
    ("1783%", "1781-01-01", "1785-12-31"),
    ("178X", "1780-01-01", "1789-12-31"),
    ("17XX", "1700-01-01", "1799-12-31"),
    ("1783/1790", "1783-01-01", "1790-12-31"),
    ("1783-02-03", "1783-02-03", "1783-02-03"),
    ("156X-12-25", "1560-12-25", "1569-12-25"),
    ("15XX-12-XX", "1500-12-01", "1599-12-31"),
    ("-010X", "-0109-01-01", "-0100-12-31"),
    ("2001-34", "2001-04-01", "2001-06-30"),
    ("2004-06-XX/2004-07-03", "2004-06-01", "2004-07-03"),
    ("[1667,1668,1670..1672]", "1667-01-01", "1672-12-31"),
    ("{1960,1961-12}", "1960-01-01", "1961-12-31"),
]


@pytest.mark.parametrize(("text", "first", "last"), LIBRARY)
def test_bounds_equal_the_edtf_library_where_it_is_right(text: str, first: str, last: str) -> None:
    import edtf

    assert days(text) == (first, last)
    library = edtf.parse_edtf(text)
    for shown, bound in ((first, library.lower_fuzzy()), (last, library.upper_fuzzy())):
        year, month, day = bound[:3]
        assert f"{'-' if year < 0 else ''}{abs(year):04d}-{month:02d}-{day:02d}" == shown


# Where the library is not right, or answers in another way than an archive needs.
@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("../1790", None, "1790-12-31"),
        ("/1790", None, "1790-12-31"),  # the library: ten years
        ("1790/", "1790-01-01", None),
        ("1790/..", "1790-01-01", None),
        ("1783-21", "1783-03-01", "1783-05-31"),
        ("1783-24", "1783-12-01", "1784-02-29"),  # the library: December only
        ("1782-24", "1782-12-01", "1783-02-28"),
        ("1783-28", "1783-12-01", "1784-02-29"),
        ("1783-30", "1783-12-01", "1784-02-29"),
        ("1783-32", "1783-06-01", "1783-08-31"),
        ("1783-11~", "1782-11-01", "1784-11-30"),  # the library: thirteen months
        ("1783S2", "1700-01-01", "1799-12-31"),  # the library's strict bounds ignore the S
        ("1784-02-29", "1784-02-29", "1784-02-29"),
        ("1783-02?", "1782-02-01", "1784-02-29"),
        ("1984-1X", "1984-10-01", "1984-12-31"),  # the library fails on it
        ("1984-02-2X", "1984-02-20", "1984-02-29"),
        ("178X-02-29", "1780-02-29", "1788-02-29"),
    ],
)
def test_bounds_where_the_library_is_not_followed(text: str, first: str | None, last: str | None) -> None:
    assert days(text) == (first, last)


# Examples of the Library of Congress profile (EDTF, February 2019), levels 0 to 2, by feature, from memory; the days
# follow from its own explanation of each ("some year between 1900 and 1999", "some month in 1999", …).
PROFILE = [
    # level 0
    ("1985-04-12", "1985-04-12", "1985-04-12"),
    ("1985-04", "1985-04-01", "1985-04-30"),
    ("1985", "1985-01-01", "1985-12-31"),
    ("1985-04-12T23:20:30", "1985-04-12", "1985-04-12"),
    ("1985-04-12T23:20:30Z", "1985-04-12", "1985-04-12"),
    ("1985-04-12T23:20:30-04", "1985-04-12", "1985-04-12"),
    ("1985-04-12T23:20:30+04:30", "1985-04-12", "1985-04-12"),
    ("1964/2008", "1964-01-01", "2008-12-31"),
    ("2004-06/2006-08", "2004-06-01", "2006-08-31"),
    ("2004-02-01/2005-02-08", "2004-02-01", "2005-02-08"),
    ("2004-02-01/2005-02", "2004-02-01", "2005-02-28"),
    ("2004-02-01/2005", "2004-02-01", "2005-12-31"),
    ("2005/2006-02", "2005-01-01", "2006-02-28"),
    # level 1
    ("Y170000002", "+170000002-01-01", "+170000002-12-31"),
    ("Y-170000002", "-170000002-01-01", "-170000002-12-31"),
    ("2001-21", "2001-03-01", "2001-05-31"),
    ("1984?", "1983-01-01", "1985-12-31"),
    ("2004-06~", "2003-06-01", "2005-06-30"),
    ("2004-06-11%", "2002-06-11", "2006-06-11"),
    ("201X", "2010-01-01", "2019-12-31"),
    ("20XX", "2000-01-01", "2099-12-31"),
    ("2004-XX", "2004-01-01", "2004-12-31"),
    ("1985-04-XX", "1985-04-01", "1985-04-30"),
    ("1985-XX-XX", "1985-01-01", "1985-12-31"),
    ("1985-04-12/..", "1985-04-12", None),
    ("1985-04/..", "1985-04-01", None),
    ("1985/..", "1985-01-01", None),
    ("../1985-04-12", None, "1985-04-12"),
    ("../1985-04", None, "1985-04-30"),
    ("../1985", None, "1985-12-31"),
    ("1985-04-12/", "1985-04-12", None),
    ("1985-04/", "1985-04-01", None),
    ("1985/", "1985-01-01", None),
    ("/1985-04-12", None, "1985-04-12"),
    ("/1985-04", None, "1985-04-30"),
    ("/1985", None, "1985-12-31"),
    ("-1985", "-1985-01-01", "-1985-12-31"),
    # level 2
    ("Y-17E7", "-170000000-01-01", "-170000000-12-31"),
    ("1950S2", "1900-01-01", "1999-12-31"),
    ("Y171010000S3", "+171000000-01-01", "+171999999-12-31"),
    ("Y3388E2S3", "+338000-01-01", "+338999-12-31"),
    ("2001-34", "2001-04-01", "2001-06-30"),
    ("[1667,1668,1670..1672]", "1667-01-01", "1672-12-31"),
    ("[..1760-12-03]", None, "1760-12-03"),
    ("[1760-12..]", "1760-12-01", None),
    ("[1760-01,1760-02,1760-12..]", "1760-01-01", None),
    ("[..1760-12-03,1762]", None, "1762-12-31"),
    ("[1667,1760-12]", "1667-01-01", "1760-12-31"),
    ("[..1984]", None, "1984-12-31"),
    ("{1667,1668,1670..1672}", "1667-01-01", "1672-12-31"),
    ("{1960,1961-12}", "1960-01-01", "1961-12-31"),
    ("{..1984}", None, "1984-12-31"),
    ("2004-06~-11", "2003-06-11", "2005-06-11"),  # year and month approximate
    ("2004?-06-11", "2003-06-11", "2005-06-11"),  # year uncertain
    ("?2004-06-~11", "2003-06-11", "2005-06-11"),  # year uncertain, day approximate
    ("2004-%06-11", "2004-04-11", "2004-08-11"),  # month uncertain and approximate
    ("156X-12-25", "1560-12-25", "1569-12-25"),
    ("15XX-12-25", "1500-12-25", "1599-12-25"),
    ("XXXX-12-XX", "0000-12-01", "9999-12-31"),
    ("1XXX-XX", "1000-01-01", "1999-12-31"),
    ("1XXX-12", "1000-12-01", "1999-12-31"),
    ("1984-1X", "1984-10-01", "1984-12-31"),
    ("2004-06-~01/2004-06-~20", "2004-05-31", "2004-06-21"),
    ("2004-06-XX/2004-07-03", "2004-06-01", "2004-07-03"),
]


@pytest.mark.parametrize(("text", "first", "last"), PROFILE)
def test_examples_of_the_profile(text: str, first: str | None, last: str | None) -> None:
    assert read_date(text).edtf == text
    assert days(text) == (first, last)


@pytest.mark.parametrize(
    "text",
    [
        "1783-02-29", "1783-02-29/1784", "1900-02-29", "1783-02-30", "1783-04-31", "1783-13", "1783-00",
        "1783/1782", "1783-03/1783-02",
        "1871-02-03/1871-02-02", "[1672..1670]", "178X-02-3X", "19X1-02-29", "-0000", "../..", "/", "..", "/..",
        "178u", "unknown", "open", "1783/unknown", "20067890", "1783-42", "Y1783", "1783/1784/1785", "{1783", "[]",
        "1985-04T10:10:10", "Y9E999999999", "Y1E10", "Y9999999999", "1783S0", "1783S5", "1783-02S2", "+1783", "178x",
        "1783-24-01", "178X-24",
    ],
)  # fmt: skip
def test_what_is_not_edtf_or_no_day_is_refused(text: str) -> None:
    with pytest.raises(BadDate) as caught:
        read_date(text)
    assert caught.value.problem.endswith(".")
    assert caught.value.next_step.endswith(".")


def test_the_library_prints_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    read_date("1984-1X")
    with pytest.raises(BadDate):
        read_date("2001-21^southern")
    assert capsys.readouterr().out == ""


def test_a_long_list_takes_no_longer_than_its_length_allows() -> None:
    assert days("{" + ",".join(str(1700 + n) for n in range(30)) + "}") == ("1700-01-01", "1729-12-31")
    with pytest.raises(BadDate):
        read_date("[" * 200)


# -- plain forms --------


@pytest.mark.parametrize(
    ("text", "edtf", "first", "last"),
    [
        ("1871", "1871", "1871-01-01", "1871-12-31"),
        ("February 1871", "1871-02", "1871-02-01", "1871-02-28"),
        ("feb. 1871", "1871-02", "1871-02-01", "1871-02-28"),
        ("3 February 1871", "1871-02-03", "1871-02-03", "1871-02-03"),
        ("3rd of February, 1871", "1871-02-03", "1871-02-03", "1871-02-03"),
        ("February 3, 1871", "1871-02-03", "1871-02-03", "1871-02-03"),
        ("c. 1870", "1870~", "1869-01-01", "1871-12-31"),
        ("c.1870", "1870~", "1869-01-01", "1871-12-31"),
        ("ca 1870", "1870~", "1869-01-01", "1871-12-31"),
        ("circa 1870", "1870~", "1869-01-01", "1871-12-31"),
        ("about 1870", "1870~", "1869-01-01", "1871-12-31"),
        ("about March 1870", "1870-03~", "1869-03-01", "1871-03-31"),
        ("c. winter 1870", "1870-12~/1871-02~", "1869-12-01", "1872-02-29"),
        ("probably 1870", "1870?", "1869-01-01", "1871-12-31"),
        ("1860s", "186X", "1860-01-01", "1869-12-31"),
        ("the 1860s", "186X", "1860-01-01", "1869-12-31"),
        ("early 1780s", "1780/1784", "1780-01-01", "1784-12-31"),
        ("mid-1780s", "1783/1786", "1783-01-01", "1786-12-31"),
        ("late 1780s", "1785/1789", "1785-01-01", "1789-12-31"),
        ("18th century", "17XX", "1700-01-01", "1799-12-31"),
        ("mid-19th century", "1830/1870", "1830-01-01", "1870-12-31"),
        ("between 1783 and 1790", "1783/1790", "1783-01-01", "1790-12-31"),
        ("from 1783 to 1790", "1783/1790", "1783-01-01", "1790-12-31"),
        ("1783–1790", "1783/1790", "1783-01-01", "1790-12-31"),
        ("1783 or 1784", "[1783,1784]", "1783-01-01", "1784-12-31"),
        ("before 1856", "../1855", None, "1855-12-31"),
        ("before March 1856", "../1856-02", None, "1856-02-29"),
        ("before 1 March 1856", "../1856-02-29", None, "1856-02-29"),
        ("after 1856", "1857/..", "1857-01-01", None),
        ("by 1856", "../1856", None, "1856-12-31"),
        ("since 1856", "1856/..", "1856-01-01", None),
        ("autumn 1869", "1869-23", "1869-09-01", "1869-11-30"),
        ("Fall of 1869", "1869-23", "1869-09-01", "1869-11-30"),
        ("44 BC", "-0043", "-0043-01-01", "-0043-12-31"),
        ("25/12/1783", "1783-12-25", "1783-12-25", "1783-12-25"),  # only one order of day and month is possible
        ("  3   February\n1871 ", "1871-02-03", "1871-02-03", "1871-02-03"),
    ],
)
def test_plain_forms(text: str, edtf: str, first: str | None, last: str | None) -> None:
    assert read_date(text).edtf == edtf
    assert days(text) == (first, last)
    assert read_date(text).text == " ".join(text.split())
    again = read_date(edtf)  # what is kept is EDTF, and means the same
    assert (again.earliest, again.latest) == (read_date(text).earliest, read_date(text).latest)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("11/12/1783", "it can mean 11 December or 12 November 1783"),
        ("1.2.1871", "it can mean 1 February or 2 January 1871"),
        ("1/2/71", "the year needs four digits"),
        ("1800s", "ten years or a hundred"),
        ("1783-84", "write 1783/1784"),
        ("837", "four digits"),
        ("n.d.", "leave it empty"),
        ("30 February 1871", "no such day"),
        ("between 1790 and 1783", "ends before it begins"),
        ("spring 1783 or 1784", ""),
        ("Easter 1783", ""),
        ("Carl 1870", ""),
        ("<script>alert(1)</script>", ""),
        ("=1+1", ""),
        ("１８７１", ""),  # digits of another script: EDTF has ASCII digits only
        ("", "empty"),
        ("   ", "empty"),
        ("18\x0071", "cannot be shown"),
        ("1871\u202e", "cannot be shown"),
        ("1" * 201, "too long"),
    ],
)
def test_what_could_mean_two_things_or_nothing_says_why(text: str, why: str) -> None:
    with pytest.raises(BadDate) as caught:
        read_date(text)
    assert why in caught.value.problem
    assert "\n" not in caught.value.problem
    assert "\x00" not in caught.value.problem


_PIECES = st.sampled_from(
    [*"-/?~%[]{},TZ:XYE ", "1783", "178X", "..", "02", "29", "24", "S2", "-0", "0s", "BC", "or"]
) | (st.sampled_from(["c.", "about ", "before ", "early ", "th century", "February ", "winter ", "between ", " and "]))


@settings(deadline=None)
@given(st.one_of(st.text(max_size=30), st.lists(_PIECES, max_size=9).map("".join)))
def test_any_text_is_refused_or_gives_days_in_order(text: str) -> None:
    try:
        when = read_date(text)
    except BadDate:
        return
    assert isinstance(when, When)
    assert when.earliest is not None or when.latest is not None
    if when.earliest is not None and when.latest is not None:
        assert when.earliest <= when.latest
    again = read_date(when.edtf)
    assert (again.earliest, again.latest) == (when.earliest, when.latest)


@settings(deadline=None)
@given(st.integers(1000, 9999), st.integers(0, 3), st.integers(1, 12), st.integers(1, 31))
def test_an_x_covers_every_day_its_digits_can_stand_for(year: int, hidden: int, month: int, day: int) -> None:
    try:
        number = julian_day(year, month, day)
    except BadDate:
        return
    text = f"{str(year)[: 4 - hidden]}{'X' * hidden}-{month:02d}-{day:02d}"
    when = read_date(text)
    assert when.earliest is not None
    assert when.latest is not None
    assert when.earliest <= number <= when.latest
    for bound in (when.earliest, when.latest):  # and no other month or day
        assert calendar_date(bound)[1:] == (month, day)
