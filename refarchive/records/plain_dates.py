"""Dates in plain words: a point (see `plain_points`), or points with about, before, between, or, and the like."""

from __future__ import annotations

import re

from refarchive.errors import BadDate
from refarchive.records.calendars import calendar_date
from refarchive.records.edtf_days import Unreadable, leaf_days
from refarchive.records.plain_points import (
    CALENDAR_WORD,
    MONTH_WORD,
    Reading,
    edtf_year,
    ends,
    find_point,
    point,
)

_ABOUT = re.compile(r"(?:circa|about|around|approximately|approx\.?|ca?\.?)(?: |(?<=\.)|(?=[0-9]))(?:the )?(.+)")
_PERHAPS = re.compile(r"(?:probably|possibly|perhaps) (?:in )?(?:the )?(.+)")
_ONE_SIDE = (  # what a word in front, or behind, keeps of the time before or after
    (r"(?:before|earlier than) (.+)", "before"),
    (r"(?:after|later than) (.+)", "after"),
    (r"(?:by|until|up to|(?:on|in|at) or before|no later than|not later than|not after) (.+)", "until"),
    (r"(?:since|(?:on|in|at) or after|no earlier than|not earlier than|not before) (.+)", "since"),
    (r"(.+?),? (?:or|and) (?:before|earlier)", "until"),
    (r"(.+?),? (?:(?:or|and) (?:after|later)|onwards?)", "since"),
)
_LEAF = re.compile(r"-?[0-9]{4}(?:-(?:0[1-9]|1[0-2])(?:-[0-9]{2})?)?")


def plain(written: str) -> tuple[str, Reading]:
    """The EDTF of a date in plain words, and what they were taken to mean.

    Raises
    ------
    Unreadable
        where the words are no date, or could mean two things; the message says which.
    BadDate
        where a date of an old calendar never was.
    """
    text = written.lower().replace("–", "-").replace("—", "-").removeprefix("the ").strip()
    if text in ("undated", "n.d.", "nd", "s.d.", "no date", "unknown", "?"):
        raise Unreadable("it says that no date is known, so leave it empty")
    reading = Reading()
    one_sided = _one_sided(text, reading)
    if one_sided is not None:
        return one_sided, reading
    text = re.sub(r"^(?:some ?time )?(?:in|on|at|during|dated) (?:the )?", "", text)
    return _either(text, reading), reading


def _either(text: str, reading: Reading) -> str:
    """A point or a range, with a mark or without."""
    for pattern, mark in ((_ABOUT, "~"), (_PERHAPS, "?")):
        if found := pattern.fullmatch(text):
            if (between := _committed_range(found[1], reading)) and re.search("[~?]", between):
                return between
            return _marked(between or _unmarked(found[1], reading), mark)
    return _unmarked(text, reading)


def _unmarked(text: str, reading: Reading) -> str:
    edtf = _committed_range(text, reading) or find_point(text, reading)
    if edtf is not None:
        return edtf
    if found := re.fullmatch(r"(.+?) or (.+)", text):
        points = _both(found[1], found[2], reading)
        if not all(_LEAF.fullmatch(edtf) for edtf in points):
            raise Unreadable("a year, a month or a day is wanted on both sides of “or”")
        return f"[{','.join(points)}]"
    # A hyphen joins two points, or stands within one: the first place where both sides can be read decides.
    for hyphen in re.finditer(r" ?- ?", text):
        trial = Reading()
        left, right = text[: hyphen.start()], text[hyphen.end() :]
        if not left or not right:
            continue
        try:
            edtf = _interval(left, right, trial)
        except (Unreadable, BadDate):
            continue
        reading.take(trial)
        return edtf
    raise Unreadable("")


def _marked(edtf: str, mark: str) -> str:
    """The mark at the end; on the months of a season, since EDTF has no mark for it; on both ends of a range."""
    if edtf.startswith("["):
        raise Unreadable("“or” cannot stand beside that word")
    start, end = ends(edtf)
    return edtf + mark if start == end or "X" in edtf else f"{start}{mark}/{end}{mark}"


# -- ranges --------


def _committed_range(text: str, reading: Reading) -> str | None:
    """A range in words that can be nothing else."""
    if (found := re.fullmatch(r"(?:some ?time )?between (.+?) and (.+)", text)) or (
        found := re.fullmatch(
            r"(?:from )?(?!winter,?(?: of)? [0-9]{4} to [0-9]+$)(.+?) (?:to|until|till|through) (.+)", text
        )
    ):
        if re.fullmatch(r"night of .*", text):
            return None
        return _interval(found[1], found[2], reading)
    if found := re.fullmatch(r"from (.+)", text):
        try:
            return _unmarked(found[1], reading) if "-" in found[1] and "/" in _unmarked(found[1], Reading()) else None
        except (Unreadable, BadDate):
            return None
    return None


def _interval(left: str, right: str, reading: Reading) -> str:
    if re.fullmatch(r"[0-9]{1,2}", right):
        raise Unreadable("the second year needs four digits")
    first, second = _both(left, right, reading)
    return f"{ends(first)[0]}/{ends(second)[1]}"


def _both(left: str, right: str, reading: Reading) -> list[str]:
    """The EDTF of two points; where one is written in an old calendar and the other does not say, the other too."""
    texts = _completed(left, right)
    readings = [Reading(), Reading()]
    edtf = [_side(text, own) for text, own in zip(texts, readings, strict=True)]
    for this, other in ((0, 1), (1, 0)):
        if readings[other].old_styles and not readings[this].calendar_known:
            mark = re.search(rf"[ ,]\(?(?:{CALENDAR_WORD})\)?$", texts[other])
            again = Reading()
            try:
                edtf[this] = _side(texts[this] + (mark[0] if mark else " o.s."), again)
            except Unreadable:  # a decade, a season: those are not told apart by eleven days
                continue
            readings[this] = again
    for own in readings:
        reading.take(own)
    return edtf


def _side(text: str, reading: Reading) -> str:
    for pattern, mark in ((_ABOUT, "~"), (_PERHAPS, "?")):
        if found := pattern.fullmatch(text):
            return _marked(point(found[1], reading), mark)
    return point(re.sub(r"^(?:in|on|at) ", "", text), reading)


def _completed(left: str, right: str) -> tuple[str, str]:
    """Both sides with the month, the year and the calendar that the words leave to the other one."""
    if re.search(r"[0-9]{4}|[0-9]{3}0'?s", left):
        return left, right
    if re.fullmatch(r"(?:the )?(?:\w+[ -])?[0-9]{1,2}(?:st|nd|rd|th)", left) and right.endswith(" century"):
        return f"{left} century", right
    if (day := re.fullmatch(r"([0-9]{1,2}),? ([0-9]{4})", right)) and (
        month := re.fullmatch(rf"({MONTH_WORD})\.? [0-9]{{1,2}}", left)
    ):
        return f"{left}, {day[2]}", f"{month[1]} {right}"
    tail = re.search(rf"(?:({MONTH_WORD})\.?,? )?([0-9]{{4}}(?:/[0-9]+)?(?:[ ,]+\(?(?:{CALENDAR_WORD})\)?)?)$", right)
    if tail is None:
        return left, right
    day = re.fullmatch(r"(?:[a-z]+\.?,? )?(?:the )?[0-9]{1,2}(?:st|nd|rd|th)?", left)
    if tail[1] and day and not re.match(rf"(?:{MONTH_WORD})\.? ", left):
        return f"{left} {tail[1]} {tail[2]}", right
    return f"{left} {tail[2]}", right


# -- open at one end --------


def _one_sided(text: str, reading: Reading) -> str | None:
    for pattern, side in _ONE_SIDE:
        if found := re.fullmatch(pattern, text):
            return _open(side, point(found[1], reading))
    if (found := re.fullmatch(r"from (.+)", text)) and not re.search(r" (?:to|until|till|through) ", text):
        trial = Reading()
        edtf = find_point(found[1], trial)
        if edtf is not None:
            reading.take(trial)
            return _open("since", edtf)
    return None


def _open(side: str, edtf: str) -> str:
    start, end = ends(edtf)
    if not (_LEAF.fullmatch(start) and _LEAF.fullmatch(end)):
        raise Unreadable("a year, a month or a day is wanted beside that word")
    if side == "until":
        return f"../{end}"
    if side == "since":
        return f"{start}/.."
    nearest = start if side == "before" else end
    (first, last), _ = leaf_days(nearest)
    if first is None or last is None:  # a year, a month or a day is never open
        raise Unreadable("")
    year, month, day = calendar_date(first - 1 if side == "before" else last + 1)
    parts = (edtf_year(year), f"{month:02d}", f"{day:02d}")
    neighbour = "-".join(parts[: 1 + nearest.lstrip("-").count("-")])
    return f"../{neighbour}" if side == "before" else f"{neighbour}/.."
