"""One day, month, year, season, feast, decade or century in plain words, with its calendar where one is written.

Conventions of ours, without a source, are marked so beside their tables. They are generous: what is kept must never be
narrower than what was written.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from refarchive.records.calendars import (
    MONTHS,
    OldStyle,
    as_written,
    calendar_date,
    convert,
    day_words,
    days_in_month,
    julian_day,
    weekday,
)
from refarchive.records.edtf_days import GROUPINGS, Unreadable, leaf_days
from refarchive.records.feasts import feast_day


@dataclass
class Reading:
    """What the words were taken to mean, gathered on the way: parts of a sentence, and whole sentences."""

    remarks: list[str] = field(default_factory=list)  # "the quarter day of Michaelmas"
    cautions: list[str] = field(default_factory=list)  # "The time of day is kept in the words only."
    old_styles: list[OldStyle] = field(default_factory=list)
    calendar_known: bool = False  # the words say, or leave no doubt, which calendar they use

    def take(self, other: Reading) -> None:
        self.remarks += other.remarks
        self.cautions += [sentence for sentence in other.cautions if sentence not in self.cautions]
        self.old_styles += other.old_styles
        self.calendar_known |= other.calendar_known


_MONTH_NUMBERS = {
    **{name.lower(): number for number, name in enumerate(MONTHS, 1)},
    **{name[:3].lower(): number for number, name in enumerate(MONTHS, 1)},
    "sept": 9,
}
MONTH_WORD = "|".join(sorted(_MONTH_NUMBERS, key=len, reverse=True))
SEASON_WORD = "spring|summer|autumn|fall|winter"
CALENDAR_WORD = r"o\.? ?s\.?|old style|julian(?: calendar)?|n\.? ?s\.?|new style|gregorian(?: calendar)?|england|russia"
_DAY = r"([0-9]{1,2})(?:st|nd|rd|th)?"
_SEASONS = {"spring": 21, "summer": 22, "autumn": 23, "fall": 23, "winter": 24}
_WEEKDAY = re.compile(
    r"(mon(?:day)?|tue(?:s(?:day)?)?|wed(?:nesday)?|thu(?:rs(?:day)?)?|fri(?:day)?|sat(?:urday)?|sun(?:day)?)\.?,?"
    r"(?: the)? (.+)"
)

# First and last of a part, counted from 0 in decades and centuries and from 1 in months and days: our convention, no
# source; generous, so they overlap. The last day of a month is cut to its length.
_PARTS_OF_MONTH = {"early": (1, 12), "mid": (10, 21), "late": (19, 31)}
_PARTS_OF_YEAR = {"early": (1, 5), "mid": (4, 9), "late": (8, 12)}
_PARTS_OF_DECADE = {"early": (0, 4), "mid": (3, 6), "late": (5, 9)}
_PARTS_OF_CENTURY = {"early": (0, 40), "mid": (30, 70), "late": (60, 99)}

_NUMERIC = re.compile(r"([0-9]{1,2})[/.\-]([0-9]{1,2})[/.\-]([0-9]{2,4})")
_ORDINALS = {"first": 1, "1st": 1, "second": 2, "2nd": 2, "third": 3, "3rd": 3, "fourth": 4, "4th": 4}
_SHARES = {"half": 2, "third": 3, "quarter": 4}


def point(text: str, reading: Reading) -> str:
    """The EDTF of one thing in plain words (lower case); an interval where EDTF has no shorter way to say it.

    Raises
    ------
    Unreadable
        for anything else, with the reason where there is one.
    """
    edtf = find_point(text, reading)
    if edtf is None:
        raise Unreadable("")
    return edtf


def find_point(text: str, reading: Reading) -> str | None:
    """As `point`, but None where the words are of no known form."""
    text = text.removeprefix("the ").removeprefix("year ").strip(" ,")
    _refuse_what_names_no_day(text)
    for form in (_dated_weekday, _time_of_day, _feast, _two_calendars, _old_style, _season, _share, _part):
        edtf = form(text, reading)
        if edtf is not None:
            return edtf
    return _figures(text)


def ends(edtf: str) -> tuple[str, str]:
    """First and last year, month or day of an EDTF that `point` gives; marks (? ~ %) stay on them."""
    if "/" in edtf:
        start, _, end = edtf.partition("/")
        return start, end
    if found := re.fullmatch(r"([0-9]{4})-(2[1-4]|4[01]|3[3-6])", edtf):
        year, (first, last) = int(found[1]), GROUPINGS[int(found[2])]
        return f"{year:04d}-{first:02d}", f"{year + (last > 12):04d}-{(last - 1) % 12 + 1:02d}"
    if "X" in edtf:
        return edtf.replace("X", "0"), edtf.replace("X", "9")
    if edtf.startswith("["):
        raise Unreadable("“or” cannot stand beside that word")
    return edtf, edtf


def edtf_year(year: int) -> str:
    return f"{'-' if year < 0 else ''}{abs(year):04d}"


def edtf_days(first: int, last: int) -> str:
    """EDTF of the days from one Julian day number to another."""
    leaves = []
    for number in (first, last):
        year, month, day = calendar_date(number)
        leaves.append(f"{edtf_year(year)}-{month:02d}-{day:02d}")
    return leaves[0] if first == last else "/".join(leaves)


def single_day(edtf: str) -> int:
    """Julian day number of an EDTF that is one day."""
    if not re.fullmatch(r"-?[0-9]{4}-[0-9]{2}-[0-9]{2}", edtf):
        raise Unreadable("a day is wanted beside that word")
    (first, _), _ = leaf_days(edtf)
    if first is None:  # a day is never open
        raise Unreadable("")
    return first


# -- what names no day --------

_NO_DAY = (
    (r"\b(?:reign|regency|victorian|edwardian|georgian|elizabethan|jacobean|tudor|stuart)\b",
     "a reign or a period is no date here, so write its first and last year (1837/1901)"),
    (r"\bold (?:lady day|midsummer|michaelmas|christmas)\b",
     "after 1752 the old quarter days fell ten to twelve days later by custom, so write the day"),
    (r"\b(?:michaelmas|hilary|trinity|easter|lent|summer) term\b",
     "the days of a term differ by court and university, so write its first and last day"),
    (r"\b(?:easter|whitsun\w*|whit (?:sunday|monday)|pentecost|shrovetide|shrove tuesday|ash wednesday|good friday"
     r"|ascension day|palm sunday|trinity sunday|corpus christi)\b(?! term)",
     "it is a movable feast, so write its day"),
    (r"\b(?:inst|ult|prox)\b", "it counts from the date of its letter, so write the day, the month and the year"),
    (r"\bturn of the\b", "it has no fixed length, so write the years (1795/1805)"),
    (rf"{_DAY}(?: of)? (?:{MONTH_WORD})\.?,? '?[0-9]{{2}}\Z", "the year needs four digits"),
    (rf"(?:{_DAY}(?: of)? )?(?:{MONTH_WORD}|{SEASON_WORD})\.?(?: {_DAY})?\Z", "the year is missing"),
    (r"(?:circa|about|around|ca?\.?)\Z", "the year is missing"),
    (r"0{1,3}\Z", "there was no year 0; 1 BC comes before 1 AD"),
)  # fmt: skip


def _refuse_what_names_no_day(text: str) -> None:
    for pattern, reason in _NO_DAY:
        anchored = pattern.endswith(r"\Z")
        if (re.match if anchored else re.search)(pattern, text):
            raise Unreadable(reason)


# -- days of the week and times of day --------


def _dated_weekday(text: str, reading: Reading) -> str | None:
    found = _WEEKDAY.fullmatch(text)
    if found is None:
        return None
    edtf = point(found[2], reading)
    number = single_day(edtf)
    if not weekday(number).lower().startswith(found[1]):
        raise Unreadable(f"{day_words(number)} was a {weekday(number)}; the day or the calendar is another one")
    reading.calendar_known = True
    return edtf


def _time_of_day(text: str, reading: Reading) -> str | None:
    times = "morning|forenoon|afternoon|evening|noon|midday|dawn|dusk|day"
    if found := re.fullmatch(rf"(?:early |late )?(?:{times}) of (.+)", text):
        edtf = point(found[1], reading)
        single_day(edtf)
        if not text.startswith("day"):
            reading.cautions.append("The time of day is kept in the words only.")
        return edtf
    if found := re.fullmatch(rf"night of (?:the )?{_DAY} ?(?:-|/|to|and) ?{_DAY}((?: of)? .+)", text):
        first = single_day(point(found[1] + found[3], reading))
        last = single_day(point(found[2] + found[3], Reading()))
        if last != first + 1:
            raise Unreadable("a night runs from one day into the next")
    elif found := re.fullmatch(r"night of (.+)", text):
        first = single_day(point(found[1], reading))
    else:
        return None
    reading.remarks.append(f"the night that began on {day_words(first)} and ended the next morning")
    return edtf_days(first, first + 1)


# -- feasts and other calendars --------


def _feast(text: str, reading: Reading) -> str | None:
    feast = feast_day(text)
    if feast is None:
        return None
    number = convert(feast.year, feast.month, feast.day, calendar="england") - feast.is_eve
    reading.remarks.append(feast.remark)
    reading.cautions += feast.cautions
    reading.calendar_known = True
    written = OldStyle(*as_written(number, calendar="england"), "england")
    if calendar_date(number) != (written.year, written.month, written.day):
        _keep(written, reading)
    return edtf_days(number, number)


def _keep(written: OldStyle, reading: Reading) -> str:
    """Keep a date as written, and give the EDTF of its days."""
    first, last = written.days
    reading.old_styles.append(written)
    reading.calendar_known = True
    if calendar_date(first) != as_written(first, calendar=written.calendar):
        moved = written.year_begins == "25 March" and (
            written.month is None or (written.month, written.day or 1) < (3, 25)
        )
        year = " with the year beginning on 25 March" if moved else ""
        reading.remarks.append(f"written as {written} in the Julian calendar{year}")
    return edtf_days(first, last)


def _two_calendars(text: str, reading: Reading) -> str | None:
    """Two days with one stroke: one day in both calendars (25 October/7 November 1917), or one day and the next."""
    text = re.sub(rf"{_DAY}(?: ({MONTH_WORD}))? \(({_DAY}(?: (?:{MONTH_WORD}))?)\)", r"\1 \2/\3", text)
    found = re.fullmatch(
        rf"{_DAY} ?(?:({MONTH_WORD})\.?)?,?(?: ([0-9]{{4}}))?/ ?{_DAY}(?: of)? ({MONTH_WORD})\.?,? ([0-9]{{4}})", text
    )
    if found is None:
        return None
    year, month, day = int(found[6]), _MONTH_NUMBERS[found[5]], int(found[4])
    written = (int(found[3] or year), _MONTH_NUMBERS[found[2]] if found[2] else month, int(found[1]))
    second = julian_day(year, month, day)
    if julian_day(*written, "julian") == second:
        return _keep(OldStyle(*written), reading)
    if julian_day(*written) + 1 == second:
        return edtf_days(second - 1, second)
    raise Unreadable("the two days are neither one day in both calendars nor one day and the next")


def _old_style(text: str, reading: Reading) -> str | None:
    found = re.fullmatch(rf"(.+?)[ ,]+\(?(?:in )?(?:the )?({CALENDAR_WORD})\)?", text)
    base, word = (found[1], found[2].replace(" ", "").replace(".", "")) if found else (text, "")
    marked = found is not None
    parts = _dated(base)
    if parts is None:
        feast = feast_day(base) if marked and word in ("os", "oldstyle", "england") else None
        return _feast(base, reading) if feast and feast.year <= 1751 else None
    year, second, month, day = parts
    if second is not None and (month is not None or marked):
        return _keep(_with_both_years(year, second, month, day, word), reading)
    if not marked:
        return None
    if word in ("ns", "newstyle", "gregorian", "gregoriancalendar"):
        reading.calendar_known = True
        return point(base, reading)
    if word == "russia" and year < 1700:  # from memory: the year from 1 January 1700, by decree of Peter I
        raise Unreadable("Russia counted its years otherwise before 1700, so write Julian beside the date")
    if word in ("julian", "juliancalendar") or (word in ("os", "oldstyle") and year > 1751):
        return _keep(OldStyle(year, month, day, "julian"), reading)
    if word == "russia":
        return _keep(OldStyle(year, month, day, "russia"), reading)
    if year <= 1751 and (month is None or (month, day or 1) < (3, 25)):
        # The English year began on 25 March from the twelfth century (1155, from memory) to 1751.
        if year < 1155:
            raise Unreadable("the year began on other days then, so write Julian beside the date")
        reading.cautions.append(
            "Read with the English year, which began on 25 March; "
            "for a year from 1 January write Julian beside the date."
        )
    return _keep(OldStyle(year, month, day, "england", "25 March"), reading)


def _with_both_years(year: int, second: str, month: int | None, day: int | None, word: str) -> OldStyle:
    if month is None:
        raise Unreadable("a year written twice needs its month")
    if (year + 1) % 10 ** len(second) != int(second):
        raise Unreadable("where a date has two years, the second is the next one")
    if year > 1751:
        raise Unreadable("only before 1752 were two years written for one day, so write one year")
    if word not in ("", "os", "oldstyle", "julian", "juliancalendar", "england"):
        raise Unreadable("two years for one day belong to the Julian calendar in England")
    return OldStyle(year, month, day, "england", "25 March", True)


def _dated(text: str) -> tuple[int, str | None, int | None, int | None] | None:
    """Year, second year, month and day in figures and month names; the second year as it is written."""
    years = r"([0-9]{4})(?:[/-]([0-9]{1,2}|[0-9]{4}))?"
    if found := re.fullmatch(rf"{_DAY}(?: of)? ({MONTH_WORD})\.?,? {years}", text):
        return int(found[3]), found[4], _MONTH_NUMBERS[found[2]], int(found[1])
    if found := re.fullmatch(rf"({MONTH_WORD})\.? {_DAY},? {years}", text):
        return int(found[3]), found[4], _MONTH_NUMBERS[found[1]], int(found[2])
    if found := re.fullmatch(rf"({MONTH_WORD})\.?,? {years}", text):
        return int(found[2]), found[3], _MONTH_NUMBERS[found[1]], None
    if found := re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", text):
        return int(found[1]), None, int(found[2]), int(found[3])
    if found := re.fullmatch(r"([0-9]{4})(?:/([0-9]{1,2}|[0-9]{4}))?", text):
        return int(found[1]), found[2], None, None
    return None


# -- seasons, shares and parts --------


def _season(text: str, reading: Reading) -> str | None:
    found = re.fullmatch(rf"({SEASON_WORD}),?(?: of)? ([0-9]{{4}})(?: ?(?:[/-]|to) ?([0-9]{{1,2}}|[0-9]{{4}}))?", text)
    if found is None:
        return None
    year, second = int(found[2]), found[3]
    if second is not None:
        if found[1] != "winter":
            raise Unreadable("only a winter runs over two years")
        if (year + 1) % 10 ** len(second) != int(second):
            raise Unreadable("a winter runs from one year into the next")
    elif found[1] == "winter":
        reading.cautions.append(
            "A winter is kept with the year of its December; "
            f"for the one before write “winter {year - 1}/{year % 100:02d}”."
        )
    return f"{year:04d}-{_SEASONS[found[1]]}"


def _share(text: str, reading: Reading) -> str | None:
    """First half, second quarter, last third … of a century, a decade, a year or a month."""
    found = re.fullmatch(rf"({'|'.join(_ORDINALS)}|former|latter|last) (half|third|quarter) of (?:the )?(.+)", text)
    if found is None:
        return None
    shares = _SHARES[found[2]]
    which = {"former": 1, "latter": shares, "last": shares}.get(found[1]) or _ORDINALS[found[1]]
    if which > shares:
        raise Unreadable(f"there is no {found[1]} {found[2]}")
    whole = point(found[3], reading)
    if re.fullmatch(r"[0-9]{2}XX|[0-9]{3}X", whole):
        first, last = _shared(which, shares, 10 ** whole.count("X"))
        start = int(whole.replace("X", "0"))
        return f"{start + first:04d}/{start + last:04d}"
    if re.fullmatch(r"[0-9]{4}", whole):
        first, last = _shared(which, shares, 12)
        return f"{whole}-{first + 1:02d}/{whole}-{last + 1:02d}"
    if re.fullmatch(r"[0-9]{4}-(?:0[1-9]|1[0-2])", whole):
        first, last = _shared(which, shares, days_in_month(int(whole[:4]), int(whole[5:])))
        return f"{whole}-{first + 1:02d}/{whole}-{last + 1:02d}"
    raise Unreadable("a century, a decade, a year or a month is wanted beside that word")


def _shared(which: int, shares: int, length: int) -> tuple[int, int]:
    """First and last unit of a share, from 0; one that two shares divide belongs to both."""
    return length * (which - 1) // shares, -(-length * which // shares) - 1


def _part(text: str, reading: Reading) -> str | None:
    """Early, middle or late in a century, a decade, a year, a season or a month."""
    if found := re.fullmatch(r"(beginning|start|middle|end) of (?:the )?(.+)", text):
        part = {"middle": "mid", "end": "late"}.get(found[1], "early")
    elif found := re.fullmatch(r"(early|mid|late)[ -](?:in )?(?:the )?(.+)", text):
        part = found[1]
    else:
        return None
    whole = point(found[2], reading)
    if re.fullmatch(r"[0-9]{2}XX|[0-9]{3}X", whole):
        first, last = (_PARTS_OF_CENTURY if whole.endswith("XX") else _PARTS_OF_DECADE)[part]
        start = int(whole.replace("X", "0"))
        return f"{start + first:04d}/{start + last:04d}"
    if re.fullmatch(r"[0-9]{4}", whole):
        first, last = _PARTS_OF_YEAR[part]
        return f"{whole}-{first:02d}/{whole}-{last:02d}"
    if re.fullmatch(r"[0-9]{4}-(?:0[1-9]|1[0-2])", whole):
        first, last = _PARTS_OF_MONTH[part]
        return f"{whole}-{first:02d}/{whole}-{min(last, days_in_month(int(whole[:4]), int(whole[5:]))):02d}"
    if re.fullmatch(r"[0-9]{4}-2[1-4]", whole):
        opening, closing = ends(whole)
        if part == "mid":  # from the 15th of the first month to that of the last
            return f"{opening}-15/{closing}-15"
        year, month = divmod(12 * int(whole[:4]) + GROUPINGS[int(whole[5:])][0], 12)
        middle = f"{year:04d}-{month + 1:02d}"
        return f"{opening}/{middle}" if part == "early" else f"{middle}/{closing}"
    raise Unreadable("a century, a decade, a year, a season or a month is wanted beside that word")


# -- days, months, years, decades and centuries --------


def _figures(text: str) -> str | None:
    if (found := re.fullmatch(r"([0-9]{2})([0-9]{2})[-/]([0-9]{2})", text)) and int(found[3]) > max(12, int(found[2])):
        century, _, end = found.groups()
        raise Unreadable(f"{end} is no month; for years from {text[:4]} on write {text[:4]}/{century}{end}")
    if re.fullmatch(r"[0-9]{4}(?:-[0-9]{2}(?:-[0-9]{2})?)?", text):
        return text
    if (parts := _dated(text)) and parts[1] is None and parts[2] is not None:
        year, _, month, day = parts
        return f"{year:04d}-{month:02d}" + (f"-{day:02d}" if day is not None else "")
    if found := re.fullmatch(r"([0-9]{3})0'?s", text):
        if found[1].endswith("0"):
            raise Unreadable(f"{found[1]}0s can mean ten years or a hundred; write {found[1]}X or {found[1][:2]}XX")
        return f"{found[1]}X"
    if found := re.fullmatch(r"([0-9]{1,2})(?:st|nd|rd|th) (?:century|c\.)", text):
        if int(found[1]) == 0:
            raise Unreadable("there is no such century")
        return f"{int(found[1]) - 1:02d}XX"
    if found := re.fullmatch(r"([0-9]{1,4}) ?b\.?c\.?(?:e\.?)?", text):
        if int(found[1]) == 0:
            raise Unreadable("there was no year 0 BC")
        return edtf_year(1 - int(found[1]))
    if found := _NUMERIC.fullmatch(text):
        return _numeric(int(found[1]), int(found[2]), found[3])
    if re.fullmatch(r"[0-9]{1,3}", text):
        raise Unreadable("a year has four digits, so write 0837 for the year 837")
    return None


def _numeric(first: int, second: int, year: str) -> str:
    """A day written in figures only, where just one order of day and month is possible."""
    if len(year) != 4:
        raise Unreadable("the year needs four digits")
    if max(first, second) > 31 or min(first, second) > 12 or min(first, second) < 1:
        raise Unreadable("there is no such day")
    if first != second and max(first, second) <= 12:
        one = f"{first} {MONTHS[second - 1]}"
        other = f"{second} {MONTHS[first - 1]}"
        raise Unreadable(f"it can mean {one} or {other} {year}, depending on where it was written")
    month, day = (first, second) if second > 12 else (second, first)
    return f"{year}-{month:02d}-{day:02d}"
