"""Which days an EDTF text (ISO 8601-2, levels 0–2) covers, as Julian day numbers.

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
* All dates are proleptic Gregorian.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import product

from refarchive.records.calendars import calendar_date, days_in_month, julian_day

Days = tuple[int | None, int | None]  # first and last Julian day number, None where open
Strict = tuple[Days, Days]  # the days as written, and the days with the width of ? and ~

LARGEST_YEAR = 999_999_999


class Unreadable(Exception):  # never leaves the reading of dates
    """The text is no date; the message, if any, says why."""


EDTF_CHARACTERS = re.compile(r"[-0-9XYESTZ?~%./,:+\[\]{}]+")
_LEAF = re.compile(
    r"(?P<yq>[?~%]?)(?P<y>-?[0-9X]{4})(?P<yr>[?~%]?)"
    r"(?:-(?P<mq>[?~%]?)(?P<m>[0-9X]{2})(?P<mr>[?~%]?)(?:-(?P<dq>[?~%]?)(?P<d>[0-9X]{2})(?P<dr>[?~%]?))?)?"
)
_LONG_YEAR = re.compile(r"Y(-?[1-9][0-9]{4,})(?:S([0-9]{1,9}))?")
_POWER_YEAR = re.compile(r"Y(-?[1-9][0-9]*)E([1-9][0-9]*)(?:S([0-9]{1,9}))?")
_SHORT_YEAR_S = re.compile(r"(-?[0-9]{4})S([0-9]{1,9})")
_MOMENT = re.compile(r"(-?[0-9]{4}-[0-9]{2}-[0-9]{2})T[0-9:]+(?:Z|[+-][0-9:]+)?")

# Months from January of the year named, first and last: EDTF codes of sub-year groupings.
GROUPINGS = {
    **dict.fromkeys((21, 25, 31), (3, 5)),
    **dict.fromkeys((22, 26, 32), (6, 8)),
    **dict.fromkeys((23, 27, 29), (9, 11)),
    **dict.fromkeys((24, 28, 30), (12, 14)),
    33: (1, 3), 34: (4, 6), 35: (7, 9), 36: (10, 12),
    37: (1, 4), 38: (5, 8), 39: (9, 12),
    40: (1, 6), 41: (7, 12),
}  # fmt: skip


def is_edtf(text: str) -> bool:
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


def days_of(edtf: str) -> Strict:
    if edtf[0] in "[{":
        return _set_days(edtf[1:-1])
    if "/" in edtf:
        start, _, end = edtf.partition("/")
        return _span(
            ((None, None), (None, None)) if start in ("", "..") else leaf_days(start),
            ((None, None), (None, None)) if end in ("", "..") else leaf_days(end),
        )
    if moment := _MOMENT.fullmatch(edtf):
        return leaf_days(moment[1])
    for pattern in (_LONG_YEAR, _POWER_YEAR, _SHORT_YEAR_S):
        if found := pattern.fullmatch(edtf):
            return _year_days(*found.groups()) if pattern is _POWER_YEAR else _year_days(found[1], "0", found[2])
    return leaf_days(edtf)


def _span(start: Strict, end: Strict) -> Strict:
    if start[0][0] is not None and end[0][1] is not None and start[0][0] > end[0][1]:
        raise Unreadable("it ends before it begins")
    return (start[0][0], end[0][1]), (start[1][0], end[1][1])


def _set_days(members: str) -> Strict:
    spans: list[Strict] = []
    for member in members.split(","):
        if ".." in member:
            start, _, end = member.partition("..")
            nothing: Strict = ((None, None), (None, None))
            spans.append(_span(leaf_days(start) if start else nothing, leaf_days(end) if end else nothing))
        else:
            spans.append(leaf_days(member))
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
        raise Unreadable(f"years beyond {LARGEST_YEAR:,} are not kept")
    year = int(digits) * 10 ** int(exponent)
    unit = 1
    if significant is not None:
        length = max(len(str(abs(year))), 4)
        if not 1 <= int(significant) <= length:
            raise Unreadable(f"{significant} digits cannot be significant in a year of {length}")
        unit = 10 ** (length - int(significant))
    nearest = abs(year) // unit * unit
    low, high = (nearest, nearest + unit - 1) if year >= 0 else (-(nearest + unit - 1), -nearest)
    days = (julian_day(low, 1, 1), julian_day(high, 12, 31))
    return days, days


def leaf_days(text: str) -> Strict:
    """Days of a year, a month, a day or a season, with X for unspecified digits and ? ~ % anywhere they may stand."""
    found = _LEAF.fullmatch(text)
    if found is None or found["y"] == "-0000":
        raise Unreadable("")
    month, day = found["m"], found["d"]
    if month is not None and month.isdigit() and int(month) in GROUPINGS:
        if day is not None or "X" in found["y"]:
            raise Unreadable("a season has neither days nor an unspecified year")
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
    first, last = GROUPINGS[code]
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
    raise Unreadable("there is no such day")


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
