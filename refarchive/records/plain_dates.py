"""The EDTF of dates in plain words."""

from __future__ import annotations

import re

from refarchive.records.calendars import calendar_date
from refarchive.records.edtf_days import GROUPINGS, Unreadable, leaf_days

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


def plain(written: str) -> str:
    """The EDTF of a plain form."""
    text = written.lower().replace("–", "-").replace("—", "-").removeprefix("the ").strip()
    if text in ("undated", "n.d.", "nd", "s.d.", "no date", "unknown", "?"):
        raise Unreadable("it says that no date is known, so leave it empty")
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
        first, last = GROUPINGS[code]
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
    (first, last), _ = leaf_days(point)
    if first is None or last is None:  # a point is never open
        raise Unreadable("")
    before = word == "before"
    year, month, day = calendar_date(first - 1 if before else last + 1)
    parts = (_edtf_year(year), f"{month:02d}", f"{day:02d}")
    neighbour = "-".join(parts[: 1 + point.lstrip("-").count("-")])
    return f"../{neighbour}" if before else f"{neighbour}/.."


def _point(text: str) -> str:
    """The EDTF of one year, month or day without any mark."""
    edtf = text.upper() if re.fullmatch(r"[0-9]{4}(?:-[0-9]{2}(?:-[0-9]{2})?)?", text) else _simple(text)
    if not re.fullmatch(r"-?[0-9]{4}(?:-(?:0[1-9]|1[0-2])(?:-[0-9]{2})?)?", edtf):
        raise Unreadable("a year, a month or a day is wanted beside that word")
    return edtf


def _edtf_year(year: int) -> str:
    return f"{'-' if year < 0 else ''}{abs(year):04d}"


def _simple(text: str) -> str:
    """The EDTF of a year, month, day, decade, century or season in plain words, lower case."""
    text = text.removeprefix("the ")
    if (found := re.fullmatch(r"([0-9]{2})([0-9]{2})[-/]([0-9]{2})", text)) and int(found[3]) > max(12, int(found[2])):
        century, _, end = found.groups()
        raise Unreadable(f"{end} is no month; for years from {text[:4]} on write {text[:4]}/{century}{end}")
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
            raise Unreadable(f"{found[2]}0s can mean ten years or a hundred; write {found[2]}X or {found[2][:2]}XX")
        if found[1] is None:
            return f"{found[2]}X"
        first, last = _PARTS_OF_DECADE[found[1]]
        return f"{found[2]}{first}/{found[2]}{last}"
    if found := re.fullmatch(r"(?:(early|mid|late)[ -])?(?:the )?([0-9]{1,2})(?:st|nd|rd|th) (?:century|c\.)", text):
        century = int(found[2]) - 1
        if century < 0:
            raise Unreadable("there is no such century")
        if found[1] is None:
            return f"{century:02d}XX"
        first, last = _PARTS_OF_CENTURY[found[1]]
        return f"{century:02d}{first:02d}/{century:02d}{last:02d}"
    if found := re.fullmatch(r"([0-9]{1,4}) ?b\.?c\.?(?:e\.?)?", text):
        if int(found[1]) == 0:
            raise Unreadable("there was no year 0 BC")
        return _edtf_year(1 - int(found[1]))
    if found := _NUMERIC.fullmatch(text):
        return _numeric(int(found[1]), int(found[2]), found[3])
    if re.fullmatch(r"[0-9]{1,3}", text):
        raise Unreadable("a year has four digits, so write 0837 for the year 837")
    raise Unreadable("")


def _numeric(first: int, second: int, year: str) -> str:
    """A day written in figures only, where just one order of day and month is possible."""
    if len(year) != 4:
        raise Unreadable("the year needs four digits")
    if max(first, second) > 31 or min(first, second) > 12 or min(first, second) < 1:
        raise Unreadable("there is no such day")
    if first != second and max(first, second) <= 12:
        one = f"{first} {_MONTHS[second - 1].title()}"
        other = f"{second} {_MONTHS[first - 1].title()}"
        raise Unreadable(f"it can mean {one} or {other} {year}, depending on where it was written")
    month, day = (first, second) if second > 12 else (second, first)
    return f"{year}-{month:02d}-{day:02d}"
