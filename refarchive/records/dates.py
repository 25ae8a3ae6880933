"""Dates as people and archives write them: EDTF (ISO 8601-2), plain words, and Julian day numbers.

The other modules of this room that know dates are handed on from here: `calendars` (days, the Julian and the Gregorian
calendar, England and Russia), `edtf_days` (which days an EDTF text covers) and `plain_dates` (plain words).
"""

from __future__ import annotations

import re

from refarchive.errors import BadDate
from refarchive.records.calendars import (
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
)
from refarchive.records.edtf_days import EDTF_CHARACTERS, Unreadable, days_of, is_edtf
from refarchive.records.model import When
from refarchive.records.plain_dates import plain

__all__ = [
    "Calendar", "OldStyle", "as_written", "calendar_date", "convert", "day_words", "days_in_month", "is_leap",
    "iso_day", "julian_day", "read_date",
]  # fmt: skip

LONGEST_TEXT = 200  # characters


def read_date(text: str) -> When:
    """Read a date written as EDTF or in one of the plain forms.

    Plain forms: "1871", "February 1871", "3 February 1871", "c. 1870", "about 1870", "probably 1870", "1860s",
    "early 1780s", "mid-19th century", "between 1783 and 1790", "1783–1790", "1783 or 1784", "before 1856",
    "after 1856", "by 1856", "since 1856", "autumn 1869", "44 BC".

    Raises
    ------
    BadDate
        for anything else, with the reason where the text could mean two things.
    """
    if len(text) > LONGEST_TEXT:
        raise BadDate(f"A date of {len(text)} characters is too long to be one.", NEXT_STEP)
    written = " ".join(text.split())
    if not written:
        raise BadDate("The date is empty.", "Leave it out where no date is known.")
    if not written.isprintable():
        raise BadDate(f"The date {written!a} holds characters that cannot be shown.", NEXT_STEP)
    try:
        compact = re.sub(r"(?<=[,\[{]) | (?=[\]}])", "", written)
        if EDTF_CHARACTERS.fullmatch(compact) and is_edtf(compact):
            edtf = compact
        else:
            edtf = plain(written)
            if not is_edtf(edtf):
                raise Unreadable("there is no such day")
        (first, last), (earliest, latest) = days_of(edtf)
    except Unreadable as reason:
        why = str(reason)
        raise BadDate(f"The date {_quoted(written)} cannot be read{': ' + why if why else ''}.", NEXT_STEP) from None
    if first is None and last is None:
        raise BadDate(f"The date {_quoted(written)} is open at both ends and says nothing.", "Leave it out.")
    return When(edtf=edtf, text=written, earliest=earliest, latest=latest)


def _quoted(text: str) -> str:
    return f"“{text}”"
