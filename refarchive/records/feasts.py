"""Quarter days: the fixed feasts on which rents fell due and servants were hired, and by which people dated.

England, Wales and Ireland: Lady Day 25 March, Midsummer 24 June, Michaelmas 29 September, Christmas 25 December (New
Square Chambers, "usual quarter days", with Cheney, *Handbook of Dates for Students of English History*, on dating by
them). Scotland: Candlemas 2 February, Whitsunday term 15 May, Lammas 1 August, Martinmas 11 November (Scottish Council
on Archives, "What were the Scottish quarter days?"). From 1886 the Scottish terms could also mean the 28th of the
month, and from 1991 they do (Term and Quarter Days (Scotland) Act 1990), so those from 1886 on are not read.

The Calendar (New Style) Act 1750 left the feasts on their days of the month, but not the rents: those fell due eleven
days later for as long as the old agreements ran.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from refarchive.records.edtf_days import Unreadable

_ENGLISH = {"lady day": (3, 25), "midsummer": (6, 24), "michaelmas": (9, 29), "christmas": (12, 25)}
_SCOTTISH = {"candlemas": (2, 2), "whitsunday term": (5, 15), "lammas": (8, 1), "martinmas": (11, 11)}
_FEAST = re.compile(
    rf"(?P<before>eve of )?(?P<name>{'|'.join([*_ENGLISH, *_SCOTTISH])})(?P<after> eve| day)?(?: quarter)?,?"
    r"(?: in| of)? (?P<year>[0-9]{4})(?:/(?P<second>[0-9]{1,2}|[0-9]{4}))?"
)
_TERMS_MOVED = 1886


@dataclass(frozen=True)
class Feast:
    """A quarter day of one year, counted from 1 January, in the calendar of England and Scotland at the time."""

    year: int
    month: int
    day: int
    is_eve: bool
    remark: str
    cautions: tuple[str, ...] = ()


def feast_day(text: str) -> Feast | None:
    """The quarter day that the words (lower case) name with its year, or None.

    Raises
    ------
    Unreadable
        where the day meant cannot be known.
    """
    found = _FEAST.fullmatch(text)
    if found is None:
        return None
    name, year, second = found["name"], int(found["year"]), found["second"]
    month, day = (_ENGLISH | _SCOTTISH)[name]
    shown = " ".join(word if word in ("day", "term") and name != "lady day" else word.title() for word in name.split())
    if second is not None:
        if name != "candlemas" or year > 1751 or (year + 1) % 10 ** len(second) != int(second):
            raise Unreadable(f"{shown} lies in one year only")
        year += 1
    elif name == "candlemas" and year < 1752:
        raise Unreadable(f"it can mean {year} or, in the English year, {year}/{(year + 1) % 100:02d}; write the day")
    if name in _SCOTTISH and year >= _TERMS_MOVED:
        raise Unreadable(f"from {_TERMS_MOVED} on it can also mean the 28th of the month, so write the day")
    is_eve = found["before"] is not None or found["after"] == " eve"
    shown = shown.removesuffix(" term")
    remark = f"the {'Scottish ' if name in _SCOTTISH else ''}quarter day of {shown}"
    cautions = []
    if (1752, 9, 14) <= (year, month, day) < (1801, 1, 1):
        cautions.append("Rents agreed on before September 1752 fell due eleven days later.")
    return Feast(year, month, day, is_eve, f"the eve of {remark}" if is_eve else remark, tuple(cautions))
