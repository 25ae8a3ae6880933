"""Dates in plain words against published quarter days, convertdate (calendars) and datetime (days of the week)."""

from __future__ import annotations

import datetime

import convertdate
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from refarchive.errors import BadDate
from refarchive.records.calendars import MONTHS, WEEKDAYS, OldStyle
from refarchive.records.dates import iso_day, julian_day, read_date, understood


def days(text: str) -> tuple[str | None, str | None]:
    when = read_date(text)
    return (
        None if when.earliest is None else iso_day(when.earliest),
        None if when.latest is None else iso_day(when.latest),
    )


def one_day(text: str) -> tuple[int, int, int]:
    first, last = days(text)
    assert first is not None
    assert first == last, text
    year, month, day = first.split("-")
    return int(year), int(month), int(day)


# -- quarter days --------


# New Square Chambers, rent calculator, "the usual quarter days in each year"; Scottish Council on Archives, "What were
# the Scottish quarter days?".
@pytest.mark.parametrize(
    ("name", "month", "day"),
    [
        ("Lady Day", 3, 25),
        ("Midsummer", 6, 24),
        ("Midsummer Day", 6, 24),
        ("Michaelmas", 9, 29),
        ("Michaelmas Day", 9, 29),
        ("Christmas", 12, 25),
        ("Christmas Day", 12, 25),
        ("Candlemas", 2, 2),
        ("Whitsunday term", 5, 15),
        ("Lammas", 8, 1),
        ("Martinmas", 11, 11),
    ],
)
@pytest.mark.parametrize("form", ["{} 1869", "at {}, 1869", "{} in 1869", "the eve of {} 1870"])
def test_quarter_days(name: str, month: int, day: int, form: str) -> None:
    expected = datetime.date(1870 if "eve" in form else 1869, month, day) - datetime.timedelta(days="eve" in form)
    assert one_day(form.format(name)) == (expected.year, expected.month, expected.day)


@settings(deadline=None)
@given(st.integers(1000, 1885), st.sampled_from([("Lady Day", 3, 25), ("Midsummer", 6, 24), ("Michaelmas", 9, 29),
                                                 ("Christmas", 12, 25)]))  # fmt: skip
def test_english_quarter_days_follow_the_calendar_of_their_year(year: int, feast: tuple[str, int, int]) -> None:
    name, month, day = feast
    julian = (year, month, day) < (1752, 9, 3)
    expected = convertdate.julian.to_gregorian(year, month, day) if julian else (year, month, day)
    assert one_day(f"{name} {year}") == expected
    assert (understood(f"{name} {year}").old_style == (OldStyle(year, month, day, "england"),)) is julian


# -- calendars in words --------

_OLD = st.tuples(st.integers(1155, 1750), st.integers(1, 12), st.integers(1, 28))


def text_of(month: int, day: int, year: str) -> str:
    return f"{day} {MONTHS[month - 1]} {year}"


@settings(deadline=None)
@given(_OLD)
@example((1731, 2, 11))
def test_old_style_equals_convertdate(date: tuple[int, int, int]) -> None:
    year, month, day = date
    historical = year + ((month, day) < (3, 25))  # the English year began on 25 March
    expected = convertdate.julian.to_gregorian(historical, month, day)
    assert one_day(text_of(month, day, f"{year} O.S.")) == expected
    assert one_day(text_of(month, day, f"{year} (Old Style)")) == expected
    assert one_day(text_of(month, day, f"{year}, England")) == expected
    assert one_day(text_of(month, day, f"{year} Julian")) == convertdate.julian.to_gregorian(year, month, day)
    if (month, day) < (3, 25):
        for second in (f"{year + 1}", f"{(year + 1) % 100:02d}", f"{(year + 1) % 10}"):
            assert one_day(text_of(month, day, f"{year}/{second}")) == expected
        assert one_day(f"{MONTHS[month - 1]} {day}, {year}-{(year + 1) % 10}") == expected
        with pytest.raises(BadDate, match="the second is the next one"):
            read_date(text_of(month, day, f"{year}/{year + 2}"))
    else:
        with pytest.raises(BadDate, match="only days from 1 January to 24 March"):
            read_date(text_of(month, day, f"{year}/{(year + 1) % 100:02d}"))


@settings(deadline=None)
@given(st.integers(1583, 2000), st.integers(1, 12), st.integers(1, 28), st.integers(-3, 3))
def test_one_day_in_two_calendars_is_checked_against_convertdate(year: int, month: int, day: int, off: int) -> None:
    number = julian_day(*convertdate.julian.to_gregorian(year, month, day)) + off
    iso = [int(part) for part in iso_day(number).split("-")]
    text = f"{text_of(month, day, str(year))}/{text_of(iso[1], iso[2], str(iso[0]))}"
    if off == 0:
        assert one_day(text) == tuple(iso)
        assert understood(text).old_style == (OldStyle(year, month, day),)
    else:
        with pytest.raises(BadDate, match="neither one day in both calendars"):
            read_date(text)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("11 February 1731/2", "1732-02-22", None),  # a birth in Virginia, kept today on 22 February
        ("11 Feb 1731 O.S.", "1732-02-22", None),
        ("Friday 11 February 1731/2", "1732-02-22", None),
        ("1731-02-11 O.S.", "1732-02-22", None),
        ("30 January 1648/9", "1649-02-09", None),  # the execution of Charles I
        ("11 February 1699/1700", "1700-02-21", None),
        ("29 February 1731 O.S.", "1732-03-11", None),
        ("29 February 1700 Julian", "1700-03-11", None),
        ("February 1731/2", "1732-02-12", "1732-03-11"),
        ("1731 O.S.", "1731-04-05", "1732-04-04"),
        ("1751 O.S.", "1751-04-05", "1752-01-11"),
        ("3-10 February 1731 O.S.", "1732-02-14", "1732-02-21"),
        ("25 December 1731 to 11 February 1731/2", "1732-01-05", "1732-02-22"),
        ("1869-1870 (Julian)", "1869-01-13", "1871-01-12"),
        ("between 5 June 1731 and Michaelmas 1731", "1731-06-16", "1731-10-10"),
        ("before 11 February 1731/2", None, "1732-02-21"),
        ("c. 11 February 1731/2", "1731-02-22", "1733-02-22"),
        ("Candlemas 1731/2", "1732-02-13", None),
        ("14 October 1066 O.S.", "1066-10-20", None),
        ("25 October 1917 O.S.", "1917-11-07", None),
        ("25 October 1917 (Russia)", "1917-11-07", None),
        ("25 October/7 November 1917", "1917-11-07", None),
        ("25 October (7 November) 1917", "1917-11-07", None),
        ("10 (22) April 1870", "1870-04-22", None),
        ("February 1918 (Russia)", "1918-02-14", "1918-02-28"),
        ("September 1752 (England)", "1752-09-12", "1752-09-30"),
        ("14 September 1752 (England)", "1752-09-14", None),
        ("22 February 1732 N.S.", "1732-02-22", None),
        ("5 September 1752", "1752-09-05", None),  # elsewhere it was a day
    ],
)
def test_what_is_written_in_a_calendar_is_converted(text: str, first: str | None, last: str | None) -> None:
    assert days(text) == (first, last or first)
    assert read_date(text).text == text  # as written


@pytest.mark.parametrize(
    ("text", "why"),
    [
        *((f"{day} September 1752 (England)", "2 September 1752 was followed by 14 September 1752")
          for day in range(3, 14)),
        ("5 February 1918 (Russia)", "31 January 1918 was followed by 14 February 1918"),
        ("11 February 1751 O.S.", "1751 began on 25 March and ended on 31 December"),
        ("27 March 1731/2", "only days from 1 January to 24 March"),
        ("March 1731 O.S.", "a year later"),
        ("11 February 1871/2", "only before 1752"),
        ("11 February 1731/2 N.S.", "belong to the Julian calendar"),
        ("11 February 1731/2 Russia", "belong to the Julian calendar"),
        ("1731/2 O.S.", "needs its month"),
        ("11 February 1100 O.S.", "write Julian beside the date"),
        ("5 June 1680 (Russia)", "write Julian beside the date"),
        ("29 February 1732 O.S.", "no day"),  # 1732/3 had none
        ("29 February 1700", "no such day"),
    ],
)  # fmt: skip
def test_what_no_calendar_had_is_refused(text: str, why: str) -> None:
    with pytest.raises(BadDate) as caught:
        read_date(text)
    assert why in caught.value.problem
    assert caught.value.next_step.endswith(".")


# -- what is said before saving --------


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("Michaelmas 1869", "Understood as 29 September 1869, the quarter day of Michaelmas (1869-09-29)."),
        ("Michaelmas 1731", "Understood as 10 October 1731, the quarter day of Michaelmas and written as 29 September "
         "1731 in the Julian calendar (1731-10-10)."),
        ("Martinmas 1870", "Understood as 11 November 1870, the Scottish quarter day of Martinmas (1870-11-11)."),
        ("winter 1870/71", "Understood as December 1870 to February 1871 (1870-24)."),
        ("winter 1870", "Understood as December 1870 to February 1871 (1870-24). A winter is kept with the year of its "
         "December; for the one before write “winter 1869/70”."),
        ("the night of 3 February 1871", "Understood as 3 to 4 February 1871, the night that began on 3 February 1871 "
         "and ended the next morning (1871-02-03/1871-02-04)."),
        ("the evening of 3 February 1871",
         "Understood as 3 February 1871 (1871-02-03). The time of day is kept in the words only."),
        ("11 February 1731/2", "Understood as 22 February 1732, written as 11 February 1731/2 in the Julian calendar "
         "with the year beginning on 25 March (1732-02-22)."),
        ("11 Feb 1731 O.S.", "Understood as 22 February 1732, written as 11 February 1731 in the Julian calendar with "
         "the year beginning on 25 March (1732-02-22). Read with the English year, which began on 25 March; for a year "
         "from 1 January write Julian beside the date."),
        ("25 October/7 November 1917",
         "Understood as 7 November 1917, written as 25 October 1917 in the Julian calendar (1917-11-07)."),
        ("14 October 1066", "Understood as 14 October 1066 (1066-10-14). Days are taken to be Gregorian; for one "
         "written in England before 14 September 1752 add O.S. to it."),
        ("5 September 1752", "Understood as 5 September 1752 (1752-09-05). Days are taken to be Gregorian (England "
         "never had this one); for one written in England before 14 September 1752 add O.S. to it."),
        ("Michaelmas 1753", "Understood as 29 September 1753, the quarter day of Michaelmas (1753-09-29). Rents agreed "
         "on before September 1752 fell due eleven days later."),
        ("c. 1870", "Understood as about 1870, kept as 1869 to 1871 (1870~)."),
        ("1783%", "Understood as perhaps about 1783, kept as 1781 to 1785 (1783%)."),
        ("early 1780s", "Understood as 1780 to 1784 (1780/1784)."),
        ("before 1856", "Understood as 1855 or earlier (../1855)."),
        ("since March 1856", "Understood as March 1856 or later (1856-03/..)."),
        ("1783 or 1790", "Understood as one of several dates from 1783 to 1790 ([1783,1790])."),
        ("{1960,1961-12}", "Understood as all of several dates from 1960 to 1961 ({1960,1961-12})."),
        ("3 February–10 March 1871", "Understood as 3 February to 10 March 1871 (1871-02-03/1871-03-10)."),
        ("44 BC", "Understood as 44 BC (-0043)."),
        ("../1750-01-01", "Understood as 1 January 1750 or earlier (../1750-01-01)."),
    ],
)  # fmt: skip
def test_the_sentence_says_what_was_understood(text: str, sentence: str) -> None:
    assert understood(text).sentence == sentence
    assert understood(text).when == read_date(text)


# -- more words --------


# The parts of a month and a year, and the share of a day that two halves divide, are conventions of ours.
@pytest.mark.parametrize(
    ("text", "edtf"),
    [
        ("winter of 1870-1", "1870-24"),
        ("winter 1870–1871", "1870-24"),
        ("winter 1899/1900", "1899-24"),
        ("winter 1870 to 1871", "1870-24"),
        ("c. winter 1870/71", "1870-12~/1871-02~"),
        ("late winter 1870/71", "1871-01/1871-02"),
        ("early autumn 1869", "1869-09/1869-10"),
        ("mid-autumn 1869", "1869-09-15/1869-11-15"),
        ("night of 3/4 February 1871", "1871-02-03/1871-02-04"),
        ("night of 3–4 February 1871", "1871-02-03/1871-02-04"),
        ("night of 31 December 1870", "1870-12-31/1871-01-01"),
        ("night of Friday, 3 February 1871", "1871-02-03/1871-02-04"),
        ("3/4 February 1871", "1871-02-03/1871-02-04"),
        ("early 1871", "1871-01/1871-05"),
        ("mid-1871", "1871-04/1871-09"),
        ("late 1871", "1871-08/1871-12"),
        ("beginning of February 1871", "1871-02-01/1871-02-12"),
        ("mid-February 1871", "1871-02-10/1871-02-21"),
        ("end of February 1872", "1872-02-19/1872-02-29"),
        ("late 18th century", "1760/1799"),
        ("first half of the 19th century", "1800/1849"),
        ("second half of the 19th century", "1850/1899"),
        ("last quarter of the 19th century", "1875/1899"),
        ("first third of the 19th century", "1800/1833"),
        ("first half of the 1860s", "1860/1864"),
        ("second half of 1871", "1871-07/1871-12"),
        ("first half of March 1871", "1871-03-01/1871-03-16"),
        ("latter half of March 1871", "1871-03-16/1871-03-31"),
        ("between Michaelmas 1869 and Lady Day 1870", "1869-09-29/1870-03-25"),
        ("between autumn 1869 and spring 1870", "1869-09/1870-05"),
        ("between 3 and 10 February 1871", "1871-02-03/1871-02-10"),
        ("3–10 February 1871", "1871-02-03/1871-02-10"),
        ("February 3 to 10, 1871", "1871-02-03/1871-02-10"),
        ("3 February to 10 March 1871", "1871-02-03/1871-03-10"),
        ("February–April 1871", "1871-02/1871-04"),
        ("Friday 3 to Friday 10 February 1871", "1871-02-03/1871-02-10"),
        ("1870s–1880s", "1870/1889"),
        ("18th to 19th century", "1700/1899"),
        ("late 18th to early 19th century", "1760/1840"),
        ("between c. 1870 and 1875", "1870~/1875"),
        ("c. 1870–1875", "1870~/1875~"),
        ("3 or 4 February 1871", "[1871-02-03,1871-02-04]"),
        ("February or March 1871", "[1871-02,1871-03]"),
        ("1856 or later", "1856/.."),
        ("1856 or earlier", "../1856"),
        ("no later than Michaelmas 1869", "../1869-09-29"),
        ("not before 1856", "1856/.."),
        ("on or before 3 February 1871", "../1871-02-03"),
        ("before autumn 1869", "../1869-08"),
        ("after the 1860s", "1870/.."),
        ("from Michaelmas 1869", "1869-09-29/.."),
        ("from 1871-02-03", "1871-02-03/.."),
        ("from 1783–1790", "1783/1790"),
        ("in the 1860s", "186X"),
    ],
)
def test_words_become_edtf(text: str, edtf: str) -> None:
    when = read_date(text)
    assert when.edtf == edtf
    again = read_date(edtf)
    assert (again.earliest, again.latest) == (when.earliest, when.latest)


@settings(deadline=None)
@given(st.dates(datetime.date(1753, 1, 1)), st.sampled_from(WEEKDAYS))
def test_days_of_the_week_equal_the_standard_library(date: datetime.date, name: str) -> None:
    text = f"{name}, {date.day} {MONTHS[date.month - 1]} {date.year}"
    if WEEKDAYS.index(name) == date.weekday():
        assert days(text) == (date.isoformat(), date.isoformat())
    else:
        with pytest.raises(BadDate, match=f"was a {WEEKDAYS[date.weekday()]}"):
            read_date(text)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("winter 1870/75", "from one year into the next"),
        ("summer 1870/71", "only a winter"),
        ("night of 3–5 February 1871", "from one day into the next"),
        ("night of February 1871", "a day is wanted"),
        ("Martinmas 1890", "28th of the month"),
        ("Candlemas 1731", "1731/32"),
        ("Michaelmas 1869/70", "one year only"),
        ("Old Michaelmas 1760", "write the day"),
        ("Michaelmas term 1869", "differ by court"),
        ("Easter 1783", "movable feast"),
        ("Whitsunday 1870", "movable feast"),
        ("the reign of Victoria", "write its first and last year"),
        ("Victorian", "write its first and last year"),
        ("3rd inst.", "write the day, the month and the year"),
        ("turn of the century", "no fixed length"),
        ("3 February", "the year is missing"),
        ("circa", "the year is missing"),
        ("3 February 71", "four digits"),
        ("between 1783 and 90", "four digits"),
        ("year 0", "no year 0"),
        ("31 April 1871", "no such day"),
        ("third half of the 19th century", "no third half"),
        ("first half of the 1800s", "ten years or a hundred"),
        ("December to February 1871", "ends before it begins"),
        ("Monday, 3 February 1871", "was a Friday"),
        ("autumn 1869 or spring 1870", "on both sides of “or”"),
        ("before c. 1856", ""),
        ("11/22 February 1731/2", ""),
        ("10/23 April 1870", "neither one day in both calendars"),
    ],
)
def test_what_is_not_understood_says_why_and_what_to_write(text: str, why: str) -> None:
    with pytest.raises(BadDate) as caught:
        understood(text)
    assert why in caught.value.problem
    assert text in caught.value.problem
    assert "1871-02-03" in caught.value.next_step


_WORDS = st.sampled_from(
    "the early mid- late first second half third quarter of between and or to from night eve morning before by since "
    "c. about probably winter summer Michaelmas Lady Day Christmas Candlemas term O.S. N.S. Julian (England) Russia "
    "February March 3 11 29 31 1731 1731/2 1752 1870/71 1871 1860s 19th century - / – ( ) , Friday BC 44 0000 9999 "
    "1731-02-11 1918".split()
)


@settings(deadline=None, max_examples=400)
@given(st.lists(_WORDS, max_size=8), st.sampled_from([" ", " ", ""]))
def test_any_words_are_refused_or_understood(words: list[str], joint: str) -> None:
    try:
        found = understood(joint.join(words))
    except BadDate as refused:
        assert refused.problem.endswith(".")
        assert refused.next_step.endswith(".")
        return
    when = found.when
    if when.earliest is not None and when.latest is not None:
        assert when.earliest <= when.latest
    again = read_date(when.edtf)
    assert (again.earliest, again.latest) == (when.earliest, when.latest)
    assert f"({when.edtf})" in found.sentence
