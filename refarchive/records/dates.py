"""Dates as people and archives write them: EDTF (ISO 8601-2), plain words, and Julian day numbers.

The other modules of this room that know dates are handed on from here: `calendars` (days, the Julian and the Gregorian
calendar, England and Russia), `edtf_days` (which days an EDTF text covers) and `plain_dates` (plain words).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from refarchive.errors import BadDate
from refarchive.records.calendars import (
    MONTHS,
    NEXT_STEP,
    Calendar,
    OldStyle,
    as_written,
    calendar_date,
    convert,
    day_words,
    days_in_month,
    is_leap,
    iso_day,
    julian_day,
    year_words,
)
from refarchive.records.edtf_days import EDTF_CHARACTERS, Days, Unreadable, days_of, is_edtf
from refarchive.records.model import When
from refarchive.records.plain_dates import plain
from refarchive.records.plain_points import Reading

__all__ = [
    "Calendar", "OldStyle", "Understood", "as_written", "calendar_date", "convert", "day_words", "days_in_month",
    "is_leap", "iso_day", "julian_day", "read_date", "shown", "understood",
]  # fmt: skip

LONGEST_TEXT = 200  # characters


@dataclass(frozen=True)
class Understood:
    """A date, and in one or two sentences what was understood, to be shown before it is kept.

    `old_style` holds the dates as they were written, where that was in another calendar than today's.
    """

    when: When
    sentence: str
    old_style: tuple[OldStyle, ...] = ()


def read_date(text: str) -> When:
    """Read a date written as EDTF or in plain words.

    Plain words: "1871", "February 1871", "3 February 1871", "Friday 3 February 1871", "the night of 3 February 1871",
    "c. 1870", "probably 1870", "1860s", "early 1780s", "late February 1871", "first half of the 19th century",
    "between Michaelmas 1869 and Lady Day 1870", "3–10 February 1871", "1783 or 1784", "before 1856", "by 1856",
    "1856 or later", "autumn 1869", "winter 1870/71", "44 BC"; with a calendar "11 February 1731/2",
    "11 February 1731 O.S.", "25 October 1917 (Julian)", "25 October/7 November 1917". Days are kept as proleptic
    Gregorian ones, whatever the calendar they were written in; the words are kept beside them.

    Raises
    ------
    BadDate
        for anything else, with the reason where the text could mean two things.
    """
    return understood(text).when


def understood(text: str) -> Understood:
    """Read a date as `read_date` does, and say what was understood.

    Raises
    ------
    BadDate
        as `read_date`.

    >>> understood("Michaelmas 1869").sentence
    'Understood as 29 September 1869, the quarter day of Michaelmas (1869-09-29).'
    """
    if len(text) > LONGEST_TEXT:
        raise BadDate(f"A date of {len(text)} characters is too long to be one.", NEXT_STEP)
    written = " ".join(text.split())
    if not written:
        raise BadDate("The date is empty.", "Leave it out where no date is known.")
    if not written.isprintable():
        raise BadDate(f"The date {written!a} holds characters that cannot be shown.", NEXT_STEP)
    reading = Reading(calendar_known=True)
    try:
        compact = re.sub(r"(?<=[,\[{]) | (?=[\]}])", "", written)
        if EDTF_CHARACTERS.fullmatch(compact) and is_edtf(compact):
            edtf = compact
        else:
            edtf, reading = plain(written)
            if not is_edtf(edtf):
                raise Unreadable("there is no such day")
        strict, (earliest, latest) = days_of(edtf)
    except Unreadable as reason:
        why = str(reason)
        raise BadDate(f"The date “{written}” cannot be read{': ' + why if why else ''}.", NEXT_STEP) from None
    if strict == (None, None):
        raise BadDate(f"The date “{written}” is open at both ends and says nothing.", "Leave it out.")
    when = When(edtf=edtf, text=written, earliest=earliest, latest=latest)
    return Understood(when, _sentence(when, strict, reading), tuple(reading.old_styles))


# -- saying what was understood --------


def _sentence(when: When, strict: Days, reading: Reading) -> str:
    meant = _days_in_words(*strict)
    if (when.earliest, when.latest) != strict:
        marks = {"perhaps": "?%", "about": "~%"}
        words = " ".join(word for word, signs in marks.items() if any(sign in when.edtf for sign in signs))
        meant = f"{words} {meant}, kept as {_days_in_words(when.earliest, when.latest)}"
    if when.edtf[0] in "[{":
        meant = f"{'one' if when.edtf[0] == '[' else 'all'} of several dates from {meant}"
    remarks = f", {' and '.join(reading.remarks)}" if reading.remarks else ""
    sentences = [f"Understood as {meant}{remarks} ({when.edtf}).", *reading.cautions]
    if not reading.calendar_known and re.search(r"-[0-9]{2}-[0-9]{2}", when.edtf) and _before_the_change(when):
        never = julian_day(1752, 9, 3) <= (when.earliest or 0) <= julian_day(1752, 9, 13)
        sentences.append(
            f"Days are taken to be Gregorian{' (England never had this one)' if never else ''}; for one written in "
            "England before 14 September 1752 add O.S. to it."
        )
    return " ".join(sentences)


def _before_the_change(when: When) -> bool:
    """Whether a day of England's Julian times is named."""
    change = convert(1752, 9, 14, calendar="england")
    return any(bound is not None and bound < change for bound in (when.earliest, when.latest))


def _days_in_words(first: int | None, last: int | None) -> str:
    """Days as 1869 to 1871, December 1870 to February 1871, 3 February 1871, 1855 or earlier."""
    if first is None or last is None:
        if last is not None:
            return f"{_end_in_words(last, calendar_date(last + 1)[1:])} or earlier"
        return f"{_end_in_words(first, calendar_date(first)[1:])} or later" if first is not None else "any day"
    after, before = calendar_date(last + 1), calendar_date(first)
    whole = "year" if before[1:] == after[1:] == (1, 1) else "month" if before[2] == after[2] == 1 else "day"
    start, end = _unit_in_words(first, whole), _unit_in_words(last, whole)
    if start == end:
        return start
    year, month, _ = calendar_date(last)
    if whole == "day" and before[:2] == (year, month):  # what both ends have is said once: 3 to 10 February 1871
        start = start.removesuffix(f" {MONTHS[month - 1]} {year_words(year)}")
    elif whole != "year" and before[0] == year:
        start = start.removesuffix(f" {year_words(year)}")
    return f"{start} to {end}"


def _end_in_words(jdn: int, boundary: tuple[int, int]) -> str:
    """The day, or the month or year that begins or ends with it; `boundary` is the month and day of its first day."""
    return _unit_in_words(jdn, "year" if boundary == (1, 1) else "month" if boundary[1] == 1 else "day")


def _unit_in_words(jdn: int, unit: str) -> str:
    year, month, _ = calendar_date(jdn)
    if unit == "year":
        return year_words(year)
    return day_words(jdn) if unit == "day" else f"{MONTHS[month - 1]} {year_words(year)}"


# -- showing a date --------


def shown(when: When) -> str:
    """A date as a person reads it: as written, or the usual words for the commoner forms of EDTF."""
    if when.text != when.edtf:
        return when.text
    start, divided, end = when.edtf.partition("/")
    if not divided:
        return _point(start)
    if end in ("", ".."):
        return f"{_point(start)} or later"
    if start in ("", ".."):
        return f"{_point(end)} or earlier"
    about = start.endswith("~") and end.endswith("~")
    first, last = (start[:-1], end[:-1]) if about else (start, end)
    if len(first) == len(last) == 4 and first.isdigit() and last.isdigit():
        return f"{'c. ' if about else ''}{first}–{last[2:] if last[:2] == first[:2] else last}"
    return f"{_point(start)} to {_point(end)}"


def _point(edtf: str) -> str:
    marks = {"~": "c. ", "?": "perhaps ", "%": "perhaps c. "}
    if edtf[-1:] in marks:
        return marks[edtf[-1]] + _point(edtf[:-1])
    if len(edtf) == 4 and edtf.endswith("X") and edtf[:3].isdigit():
        return f"{edtf[:3]}0s"
    year, *rest = edtf.split("-") if not edtf.startswith("-") else [edtf]
    if rest and all(part.isdigit() for part in rest) and 1 <= int(rest[0]) <= 12:
        return " ".join([*(str(int(day)) for day in rest[1:]), MONTHS[int(rest[0]) - 1], year])
    return edtf
