"""Dates as people and archives write them: EDTF (ISO 8601-2), a handful of plain forms, and Julian day numbers.

The `edtf` library says whether a text is EDTF; which days it covers is worked out here, because a date in an archive
must not come out narrower than what was written. The conventions are these:

* An X stands for every digit it can stand for; an interval runs from the first day of its start to the last day of its
  end; a set from its first member to its last. That much ISO 8601-2 and the Library of Congress profile fix.
* An unknown end (`1783/`) and an open end (`1783/..`) are both open here: nobody knows how long.
* No standard fixes a width for `?` (uncertain) and `~` (approximate). Ours is one year either side for each, so two
  for `%`, which is both. Where only the month or only the day is qualified, one month or one day.
* Seasons last three whole months of the northern hemisphere (codes 21–28) or the southern one (29–32). A winter belongs
  to the year in which its December falls, since EDTF sorts it after autumn.
* `1783S2` (two digits are significant) covers 1700–1799.
* All dates are proleptic Gregorian. Both calendars are known to `julian_day` and `calendar_date`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import product
from typing import Literal

from refarchive.errors import BadDate
from refarchive.records.model import When

Calendar = Literal["gregorian", "julian"]
Days = tuple[int | None, int | None]  # first and last Julian day number, None where open
Strict = tuple[Days, Days]  # the days as written, and the days with the width of ? and ~

LONGEST_TEXT = 200  # characters
LARGEST_YEAR = 999_999_999

_NEXT = "Write it as EDTF (1871, 1871-02-03, 186X, 1870~, 1869/1871, ../1856) or plainly (3 February 1871, c. 1870)."


# -- days and calendars --------


def is_leap(year: int, calendar: Calendar = "gregorian") -> bool:
    """Whether an astronomical year (0 is 1 BCE) has a 29 February."""
    if calendar == "julian":
        return year % 4 == 0
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def days_in_month(year: int, month: int, calendar: Calendar = "gregorian") -> int:
    """Length of a month [days]; `month` is 1–12."""
    if month == 2:
        return 29 if is_leap(year, calendar) else 28
    return 30 if month in (4, 6, 9, 11) else 31


def julian_day(year: int, month: int, day: int, calendar: Calendar = "gregorian") -> int:
    """Julian day number of a calendar day: the integer that its Julian date has at noon.

    Years are astronomical: 0 is 1 BCE, -1 is 2 BCE. Integers throughout, so every year is exact.

    Raises
    ------
    BadDate
        where the calendar has no such day.

    >>> julian_day(1957, 10, 4)  # Meeus, Astronomical Algorithms, ch. 7: 1957 October 4.81 is JD 2436116.31
    2436116
    """
    if not 1 <= month <= 12 or not 1 <= day <= days_in_month(year, month, calendar):
        raise BadDate(f"There is no day {year:04d}-{month:02d}-{day:02d} in the {calendar.title()} calendar.", _NEXT)
    # Count in years that begin on 1 March, so that the leap day comes last.
    shifted = year - 1 if month < 3 else year
    day_of_year = (153 * ((month + 9) % 12) + 2) // 5 + day - 1
    days = 365 * shifted + shifted // 4 + day_of_year
    if calendar == "julian":
        return days + 1721118
    return days - shifted // 100 + shifted // 400 + 1721120


def calendar_date(jdn: int, calendar: Calendar = "gregorian") -> tuple[int, int, int]:
    """Year (astronomical), month and day of a Julian day number.

    >>> calendar_date(2361221, "julian"), calendar_date(2361221)
    ((1752, 9, 2), (1752, 9, 13))
    """
    if calendar == "julian":
        cycle, rest = divmod(jdn - 1721118, 1461)
        year_of_cycle = min(rest // 365, 3)
        year, day_of_year = 4 * cycle + year_of_cycle, rest - 365 * year_of_cycle
    else:
        cycle, rest = divmod(jdn - 1721120, 146097)
        year_of_cycle = (rest - rest // 1460 + rest // 36524 - rest // 146096) // 365
        year = 400 * cycle + year_of_cycle
        day_of_year = rest - (365 * year_of_cycle + year_of_cycle // 4 - year_of_cycle // 100)
    shifted_month = (5 * day_of_year + 2) // 153
    day = day_of_year - (153 * shifted_month + 2) // 5 + 1
    month = shifted_month + 3 if shifted_month < 10 else shifted_month - 9
    return (year + 1 if month < 3 else year), month, day


def iso_day(jdn: int) -> str:
    """A Julian day number as YYYY-MM-DD, proleptic Gregorian; years before 1 CE as astronomical years (-0043)."""
    year, month, day = calendar_date(jdn)
    sign = "-" if year < 0 else "+" if year > 9999 else ""
    return f"{sign}{abs(year):04d}-{month:02d}-{day:02d}"


# -- reading --------


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
        raise BadDate(f"A date of {len(text)} characters is too long to be one.", _NEXT)
    written = " ".join(text.split())
    if not written:
        raise BadDate("The date is empty.", "Leave it out where no date is known.")
    if not written.isprintable():
        raise BadDate(f"The date {written!a} holds characters that cannot be shown.", _NEXT)
    try:
        compact = re.sub(r"(?<=[,\[{]) | (?=[\]}])", "", written)
        if _EDTF_CHARACTERS.fullmatch(compact) and _is_edtf(compact):
            edtf = compact
        else:
            edtf = _plain(written)
            if not _is_edtf(edtf):
                raise _Unreadable("there is no such day")
        (first, last), (earliest, latest) = _days(edtf)
    except _Unreadable as reason:
        why = str(reason)
        raise BadDate(f"The date {_quoted(written)} cannot be read{': ' + why if why else ''}.", _NEXT) from None
    if first is None and last is None:
        raise BadDate(f"The date {_quoted(written)} is open at both ends and says nothing.", "Leave it out.")
    return When(edtf=edtf, text=written, earliest=earliest, latest=latest)


class _Unreadable(Exception):  # never leaves this module
    """The text is no date; the message, if any, says why."""


def _quoted(text: str) -> str:
    return f"“{text}”"


# -- EDTF --------

_EDTF_CHARACTERS = re.compile(r"[-0-9XYESTZ?~%./,:+\[\]{}]+")
_LEAF = re.compile(
    r"(?P<yq>[?~%]?)(?P<y>-?[0-9X]{4})(?P<yr>[?~%]?)"
    r"(?:-(?P<mq>[?~%]?)(?P<m>[0-9X]{2})(?P<mr>[?~%]?)(?:-(?P<dq>[?~%]?)(?P<d>[0-9X]{2})(?P<dr>[?~%]?))?)?"
)
_LONG_YEAR = re.compile(r"Y(-?[1-9][0-9]{4,})(?:S([0-9]{1,9}))?")
_POWER_YEAR = re.compile(r"Y(-?[1-9][0-9]*)E([1-9][0-9]*)(?:S([0-9]{1,9}))?")
_SHORT_YEAR_S = re.compile(r"(-?[0-9]{4})S([0-9]{1,9})")
_MOMENT = re.compile(r"(-?[0-9]{4}-[0-9]{2}-[0-9]{2})T[0-9:]+(?:Z|[+-][0-9:]+)?")

# Months from January of the year named, first and last: EDTF codes of sub-year groupings.
_GROUPINGS = {
    **dict.fromkeys((21, 25, 31), (3, 5)),
    **dict.fromkeys((22, 26, 32), (6, 8)),
    **dict.fromkeys((23, 27, 29), (9, 11)),
    **dict.fromkeys((24, 28, 30), (12, 14)),
    33: (1, 3), 34: (4, 6), 35: (7, 9), 36: (10, 12),
    37: (1, 4), 38: (5, 8), 39: (9, 12),
    40: (1, 6), 41: (7, 12),
}  # fmt: skip


def _is_edtf(text: str) -> bool:
    """Whether the text follows the grammar of EDTF levels 0–2. Only the form is judged, not whether the day exists."""
    if text == "-0000" or (text.count(",") > 30):
        return False
    from edtf import EDTFParseException, parse_edtf
    from edtf.parser import parser_classes

    # On months with an X the library prints to standard output and then fails on its own account.
    parser_classes.__dict__["print"] = _say_nothing
    try:
        parse_edtf(text)
    except EDTFParseException:
        return False
    except Exception:  # the library's own failure: our reader below decides
        return True
    return True


def _say_nothing(*_words: object) -> None:
    return None


def _days(edtf: str) -> Strict:
    if edtf[0] in "[{":
        return _set_days(edtf[1:-1])
    if "/" in edtf:
        start, _, end = edtf.partition("/")
        return _span(
            ((None, None), (None, None)) if start in ("", "..") else _leaf_days(start),
            ((None, None), (None, None)) if end in ("", "..") else _leaf_days(end),
        )
    if moment := _MOMENT.fullmatch(edtf):
        return _leaf_days(moment[1])
    for pattern in (_LONG_YEAR, _POWER_YEAR, _SHORT_YEAR_S):
        if found := pattern.fullmatch(edtf):
            return _year_days(*found.groups()) if pattern is _POWER_YEAR else _year_days(found[1], "0", found[2])
    return _leaf_days(edtf)


def _span(start: Strict, end: Strict) -> Strict:
    if start[0][0] is not None and end[0][1] is not None and start[0][0] > end[0][1]:
        raise _Unreadable("it ends before it begins")
    return (start[0][0], end[0][1]), (start[1][0], end[1][1])


def _set_days(members: str) -> Strict:
    spans: list[Strict] = []
    for member in members.split(","):
        if ".." in member:
            start, _, end = member.partition("..")
            nothing: Strict = ((None, None), (None, None))
            spans.append(_span(_leaf_days(start) if start else nothing, _leaf_days(end) if end else nothing))
        else:
            spans.append(_leaf_days(member))
    return _hull([s[0] for s in spans]), _hull([s[1] for s in spans])


def _hull(spans: list[Days]) -> Days:
    firsts = [first for first, _ in spans if first is not None]
    lasts = [last for _, last in spans if last is not None]
    return (
        min(firsts) if len(firsts) == len(spans) else None,
        max(lasts) if len(lasts) == len(spans) else None,
    )


def _year_days(digits: str, exponent: str, significant: str | None) -> Strict:
    """Days of a whole year, written long, as a power of ten, or with its number of significant digits."""
    if len(digits) > 10 or len(exponent) > 2 or abs(int(digits)) * 10 ** int(exponent) > LARGEST_YEAR:
        raise _Unreadable(f"years beyond {LARGEST_YEAR:,} are not kept")
    year = int(digits) * 10 ** int(exponent)
    unit = 1
    if significant is not None:
        length = max(len(str(abs(year))), 4)
        if not 1 <= int(significant) <= length:
            raise _Unreadable(f"{significant} digits cannot be significant in a year of {length}")
        unit = 10 ** (length - int(significant))
    nearest = abs(year) // unit * unit
    low, high = (nearest, nearest + unit - 1) if year >= 0 else (-(nearest + unit - 1), -nearest)
    days = (julian_day(low, 1, 1), julian_day(high, 12, 31))
    return days, days


def _leaf_days(text: str) -> Strict:
    """Days of a year, a month, a day or a season, with X for unspecified digits and ? ~ % anywhere they may stand."""
    found = _LEAF.fullmatch(text)
    if found is None or found["y"] == "-0000":
        raise _Unreadable("")
    month, day = found["m"], found["d"]
    if month is not None and month.isdigit() and int(month) in _GROUPINGS:
        if day is not None or "X" in found["y"]:
            raise _Unreadable("a season has neither days nor an unspecified year")
        strict = _grouping_days(int(found["y"]), int(month))
    else:
        strict = _first_and_last(found["y"], month, day)
    # A mark on the right of a component holds for everything on its left, one on the left for that component alone.
    marks = {
        "year": found["yq"] + found["yr"] + (found["mr"] or "") + (found["dr"] or ""),
        "month": (found["mq"] or ""),
        "day": (found["dq"] or ""),
    }
    for unit, mark in marks.items():  # the coarsest unit that is qualified decides
        if mark:
            width = 2 if "%" in mark or len(set(mark)) > 1 else 1
            return strict, (_moved(strict[0], unit, -width), _moved(strict[1], unit, width))
    return strict, strict


def _grouping_days(year: int, code: int) -> tuple[int, int]:
    first, last = _GROUPINGS[code]
    end_year, end_month = year + (last - 1) // 12, (last - 1) % 12 + 1
    return julian_day(year, first, 1), julian_day(end_year, end_month, days_in_month(end_year, end_month))


def _first_and_last(year: str, month: str | None, day: str | None) -> tuple[int, int]:
    """First and last real day that the digits and their Xs can stand for."""
    return _first_match(year, month, day, latest=False), _first_match(year, month, day, latest=True)


def _first_match(year: str, month: str | None, day: str | None, *, latest: bool) -> int:
    def order(values: Iterable[int]) -> list[int]:
        return sorted(values, reverse=latest)

    sign = -1 if year.startswith("-") else 1
    months = order(m for m in _fillings(month or "XX") if 1 <= m <= 12)
    days = order(d for d in _fillings(day or "XX") if 1 <= d <= 31)
    for y in order(sign * value for value in _fillings(year.lstrip("-"))):
        for m in months:
            length = days_in_month(y, m)
            for d in days:
                if d <= length:
                    return julian_day(y, m, d)
    raise _Unreadable("there is no such day")


def _fillings(digits: str) -> Iterator[int]:
    return (int("".join(choice)) for choice in product(*("0123456789" if c == "X" else c for c in digits)))


def _moved(jdn: int, unit: str, by: int) -> int:
    """The same day of the month `by` years, months or days on; the last of the month where it has no such day."""
    if unit == "day":
        return jdn + by
    year, month, day = calendar_date(jdn)
    ends_month = day == days_in_month(year, month)
    index = 12 * year + month - 1 + by * (12 if unit == "year" else 1)
    year, month = divmod(index, 12)
    length = days_in_month(year, month + 1)
    # The end of a month stays the end of a month: 1782-02 widened by a year must reach 1784-02-29.
    return julian_day(year, month + 1, length if ends_month and by > 0 else min(day, length))


# -- plain forms --------

_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_MONTH_NUMBERS = {
    **{name: number for number, name in enumerate(_MONTHS, 1)},
    **{name[:3]: number for number, name in enumerate(_MONTHS, 1)},
    "sept": 9,
}
_MONTH_WORD = "|".join(sorted(_MONTH_NUMBERS, key=len, reverse=True))
_SEASONS = {"spring": 21, "summer": 22, "autumn": 23, "fall": 23, "winter": 24}
# First and last year of a part of a decade, and of a century: our convention, no source; generous, so they overlap.
_PARTS_OF_DECADE = {"early": (0, 4), "mid": (3, 6), "late": (5, 9)}
_PARTS_OF_CENTURY = {"early": (0, 40), "mid": (30, 70), "late": (60, 99)}

_NUMERIC = re.compile(r"([0-9]{1,2})[/.\-]([0-9]{1,2})[/.\-]([0-9]{2,4})")


def _plain(written: str) -> str:
    """The EDTF of a plain form."""
    text = written.lower().replace("–", "-").replace("—", "-").removeprefix("the ").strip()
    if text in ("undated", "n.d.", "nd", "s.d.", "no date", "unknown", "?"):
        raise _Unreadable("it says that no date is known, so leave it empty")
    if found := re.fullmatch(
        r"(?:circa|about|around|approximately|approx\.?|ca?\.?)(?: |(?<=\.)|(?=[0-9]))(?:the )?(.+)", text
    ):
        return _qualified(found[1], "~")
    if found := re.fullmatch(r"(?:probably|possibly|perhaps) (?:the )?(.+)", text):
        return _qualified(found[1], "?")
    if found := re.fullmatch(r"(before|after|by|until|since|from) (.+)", text):
        if found[1] != "from" or not re.search(r" to |-", found[2]):
            return _one_sided(found[1], _point(found[2]))
        text = found[2]
    if (found := re.fullmatch(r"between (.+?) and (.+)", text)) or (found := re.fullmatch(r"(.+?) to (.+)", text)):
        return f"{_point(found[1])}/{_point(found[2])}"
    if found := re.fullmatch(r"([0-9]{4}) ?- ?([0-9]{4})", text):
        return f"{found[1]}/{found[2]}"
    if found := re.fullmatch(r"([0-9]{4}) or ([0-9]{4})", text):
        return f"[{found[1]},{found[2]}]"
    return _simple(text)


def _qualified(text: str, mark: str) -> str:
    edtf = _simple(text)
    if re.fullmatch(r"[0-9]{4}-2[1-4]", edtf):  # EDTF has no mark for a season: its months carry it
        year, code = int(edtf[:4]), int(edtf[5:])
        first, last = _GROUPINGS[code]
        edtf = f"{year:04d}-{first:02d}/{year + (last > 12):04d}-{(last - 1) % 12 + 1:02d}"
    if "/" in edtf:
        start, _, end = edtf.partition("/")
        return f"{start}{mark}/{end}{mark}"
    return edtf + mark


def _one_sided(word: str, point: str) -> str:
    if word in ("by", "until"):
        return f"../{point}"
    if word in ("since", "from"):
        return f"{point}/.."
    (first, last), _ = _leaf_days(point)
    if first is None or last is None:  # a point is never open
        raise _Unreadable("")
    before = word == "before"
    year, month, day = calendar_date(first - 1 if before else last + 1)
    parts = (_edtf_year(year), f"{month:02d}", f"{day:02d}")
    neighbour = "-".join(parts[: 1 + point.lstrip("-").count("-")])
    return f"../{neighbour}" if before else f"{neighbour}/.."


def _point(text: str) -> str:
    """The EDTF of one year, month or day without any mark."""
    edtf = text.upper() if re.fullmatch(r"[0-9]{4}(?:-[0-9]{2}(?:-[0-9]{2})?)?", text) else _simple(text)
    if not re.fullmatch(r"-?[0-9]{4}(?:-(?:0[1-9]|1[0-2])(?:-[0-9]{2})?)?", edtf):
        raise _Unreadable("a year, a month or a day is wanted beside that word")
    return edtf


def _edtf_year(year: int) -> str:
    return f"{'-' if year < 0 else ''}{abs(year):04d}"


def _simple(text: str) -> str:
    """The EDTF of a year, month, day, decade, century or season in plain words, lower case."""
    text = text.removeprefix("the ")
    if (found := re.fullmatch(r"([0-9]{2})([0-9]{2})[-/]([0-9]{2})", text)) and int(found[3]) > max(12, int(found[2])):
        century, _, end = found.groups()
        raise _Unreadable(f"{end} is no month; for years from {text[:4]} on write {text[:4]}/{century}{end}")
    if re.fullmatch(r"[0-9]{4}(?:-[0-9]{2}(?:-[0-9]{2})?)?", text):
        return text
    if found := re.fullmatch(rf"({_MONTH_WORD})\.?,? ([0-9]{{4}})", text):
        return f"{found[2]}-{_MONTH_NUMBERS[found[1]]:02d}"
    if found := re.fullmatch(rf"([0-9]{{1,2}})(?:st|nd|rd|th)?(?: of)? ({_MONTH_WORD})\.?,? ([0-9]{{4}})", text):
        return f"{found[3]}-{_MONTH_NUMBERS[found[2]]:02d}-{int(found[1]):02d}"
    if found := re.fullmatch(rf"({_MONTH_WORD})\.? ([0-9]{{1,2}})(?:st|nd|rd|th)?,? ([0-9]{{4}})", text):
        return f"{found[3]}-{_MONTH_NUMBERS[found[1]]:02d}-{int(found[2]):02d}"
    if found := re.fullmatch(r"(spring|summer|autumn|fall|winter),?(?: of)? ([0-9]{4})", text):
        return f"{found[2]}-{_SEASONS[found[1]]}"
    if found := re.fullmatch(r"(?:(early|mid|late)[ -])?(?:the )?([0-9]{3})0'?s", text):
        if found[2].endswith("0"):
            raise _Unreadable(f"{found[2]}0s can mean ten years or a hundred; write {found[2]}X or {found[2][:2]}XX")
        if found[1] is None:
            return f"{found[2]}X"
        first, last = _PARTS_OF_DECADE[found[1]]
        return f"{found[2]}{first}/{found[2]}{last}"
    if found := re.fullmatch(r"(?:(early|mid|late)[ -])?(?:the )?([0-9]{1,2})(?:st|nd|rd|th) (?:century|c\.)", text):
        century = int(found[2]) - 1
        if century < 0:
            raise _Unreadable("there is no such century")
        if found[1] is None:
            return f"{century:02d}XX"
        first, last = _PARTS_OF_CENTURY[found[1]]
        return f"{century:02d}{first:02d}/{century:02d}{last:02d}"
    if found := re.fullmatch(r"([0-9]{1,4}) ?b\.?c\.?(?:e\.?)?", text):
        if int(found[1]) == 0:
            raise _Unreadable("there was no year 0 BC")
        return _edtf_year(1 - int(found[1]))
    if found := _NUMERIC.fullmatch(text):
        return _numeric(int(found[1]), int(found[2]), found[3])
    if re.fullmatch(r"[0-9]{1,3}", text):
        raise _Unreadable("a year has four digits, so write 0837 for the year 837")
    raise _Unreadable("")


def _numeric(first: int, second: int, year: str) -> str:
    """A day written in figures only, where just one order of day and month is possible."""
    if len(year) != 4:
        raise _Unreadable("the year needs four digits")
    if max(first, second) > 31 or min(first, second) > 12 or min(first, second) < 1:
        raise _Unreadable("there is no such day")
    if first != second and max(first, second) <= 12:
        one = f"{first} {_MONTHS[second - 1].title()}"
        other = f"{second} {_MONTHS[first - 1].title()}"
        raise _Unreadable(f"it can mean {one} or {other} {year}, depending on where it was written")
    month, day = (first, second) if second > 12 else (second, first)
    return f"{year}-{month:02d}-{day:02d}"
