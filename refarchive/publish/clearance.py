"""What is recorded of the permissions and releases a picture goes out with, and the table of its print sizes.

The checklist repeats what people recorded: who was asked, what they said, where it can be read, when it ends. It gives
no verdict and no legal advice; `CAUTION` says so and belongs beside every list.

Release status is derived for the two properties that IPTC Photo Metadata takes from PLUS (vocabulary of the PLUS
Licence Data Format: MR-NON, MR-NAP, MR-UMR, MR-LMR, and PR- likewise):

- a grant counts until its last day, and on that day still;
- "unlimited" only where every person (or every property leave) has a grant without an end that says so in its own
  words (`UNLIMITED`); nothing is taken to be unlimited because no limit was written down;
- "not applicable" only where somebody recorded "not needed" for each;
- some granted and some not, or granted within limits: "limited or incomplete"; none granted: "none";
- where nobody and nothing is recorded, no status at all.

Print sizes: an inch is 25.4 mm exactly; pixels per inch are those of the picture's own pixels on the picture's own
size. The distance beside them is the one at which a pixel takes up one minute of arc, the detail that sight of 6/6
resolves (ISO 8596); from farther off, pixels are no limit.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from refarchive.errors import PublishRefused
from refarchive.records.model import Reference
from refarchive.records.onsite import Permission
from refarchive.records.uses import CAUTION, standing
from refarchive.records.wall import Edition, Leave, Particulars

PLUS = "http://ns.useplus.org/ldf/vocab/"
UNLIMITED = ("unlimited", "unlimited use", "any use", "all uses", "without limit")
SOON_DAYS = 60  # before its end a grant is told to be ending (our choice)
MM_PER_INCH = 25.4
ARC_MINUTE = math.radians(1 / 60)
PROPORTION_TOLERANCE = 0.005  # of the ratio of sides, within which a print has the picture's proportions (our choice)
_KINDS = {
    "model": "model release",
    "property": "property release",
    "place": "permission for the place",
    "reference": "permission for a reference",
    "other": "other permission",
}
_STATES = {
    "not asked": "nobody has asked yet",
    "asked": "asked, no answer recorded",
    "granted": "granted",
    "refused": "refused",
    "not needed": "recorded as not needed",
}
_SITE_STATES = {"to be asked": "not asked", "asked": "asked", "given": "granted", "refused": "refused"}
_NEXT = {
    "not asked": "Ask, and record whom and when.",
    "asked": "Wait for the answer or ask again, and keep it.",
    "refused": "Leave out what was refused, or ask again with other terms.",
}


@dataclass(frozen=True)
class Item:
    """One line of the checklist. `lacks` names what is not recorded; `next_step` is "" where nothing is open."""

    kind: str
    what: str
    who: str
    state: str
    lacks: tuple[str, ...] = ()
    next_step: str = ""


@dataclass(frozen=True)
class Checklist:
    """All lines, in the order persons, properties, places, references, the rest; what they come to; the caution."""

    items: tuple[Item, ...]
    summary: str
    caution: str = CAUTION

    @property
    def open(self) -> tuple[Item, ...]:
        """Those with something lacking, or something to do."""
        return tuple(item for item in self.items if item.lacks or item.next_step)

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {"items": [asdict(item) for item in self.items], "summary": self.summary, "caution": self.caution}


def checklist(
    particulars: Particulars, references: Sequence[Reference], permissions: Sequence[Permission], *, on: str
) -> Checklist:
    """What is recorded for one picture on the day `on` (ISO): its leaves, its site's permissions, what it cites.

    A person in the picture without a model release has a line too. References are told by `records.uses.standing`.

    Raises
    ------
    PublishRefused
        for a day that is none, here or in a leave, and for a state or kind that does not exist.
    """
    today = day_of(on, "The day of the list")
    items = [_of_leave(leave, today) for leave in sorted(particulars.leaves, key=lambda one: _place_of(one.kind))]
    named = {_plain(leave.who) for leave in particulars.leaves if leave.kind == "model"}
    missing = [person for person in particulars.persons if _plain(person) not in named]
    persons = [
        Item(
            _KINDS["model"],
            "shown in the picture",
            person,
            "nothing is recorded",
            ("a model release",),
            _NEXT["not asked"],
        )
        for person in missing
    ]
    models = sum(leave.kind == "model" for leave in particulars.leaves)
    items[models:models] = persons
    items += [_of_site(one) for one in permissions]
    items += [_of_reference(one) for one in references]
    unfinished = sum(bool(item.lacks or item.next_step) for item in items)
    if not items:
        summary = "Nothing is recorded: no person, no leave, no permission of the site, no reference."
    elif unfinished:
        summary = f"{unfinished} of {len(items)} lines have something open, as recorded on {today.isoformat()}."
    else:
        summary = f"No line of {len(items)} has anything open, as recorded on {today.isoformat()}; see the caution."
    return Checklist(tuple(items), summary)


def _of_leave(leave: Leave, today: date) -> Item:
    if leave.state not in _STATES:
        raise PublishRefused(
            f"{leave.state!r} is no state of a leave.", f"States are: {', '.join(_STATES)}.", field="leaves"
        )
    state, lacks, next_step = _STATES[leave.state], [], _NEXT.get(leave.state, "")
    if not leave.who.strip():
        lacks.append("whose leave it is")
    if leave.state in ("granted", "not needed") and not leave.evidence.strip():
        lacks.append("where that can be read")
        next_step = "Write down where the answer is kept, or why none is needed."
    if leave.until and leave.state == "granted":
        end = day_of(leave.until, f"The end of the leave of {leave.who or 'nobody named'}")
        days = (end - today).days
        if days < 0:
            state = f"granted until {end.isoformat()}, which has passed"
            lacks.append("a leave that has not ended")
            next_step = "Ask for a longer leave, or take the picture back from where it needs one."
        elif days <= SOON_DAYS:
            state = f"granted until {end.isoformat()}, {_days(days)} from then"
            next_step = next_step or "Ask for a longer leave before that day."
        else:
            state = f"granted until {end.isoformat()}"
    return Item(_KINDS[_kind(leave)], leave.what, leave.who, state, tuple(lacks), next_step)


def _of_site(one: Permission) -> Item:
    state = _SITE_STATES.get(one.state, "not asked")
    words = _STATES[state]
    if one.opens or one.closes:
        words += f", from {one.opens or 'no time told'} to {one.closes or 'no time told'}"
    if one.conditions:
        words += f"; on condition: {one.conditions}"
    lacks: tuple[str, ...] = ()
    next_step = _NEXT.get(state, "")
    if state == "granted" and not one.reference.strip():
        lacks, next_step = ("where that can be read",), "Write down the number or the letter of the permission."
    return Item("permission of the site", one.what, one.holder, words, lacks, next_step)


def _of_reference(reference: Reference) -> Item:
    told = standing(reference)
    words = (
        f"{told.label}; publication: {told.publication}" if told.given else f"nothing is recorded; {told.publication}"
    )
    next_step = f"Record {' and '.join(told.lacks)}, if the reference is to be shown." if told.lacks else ""
    who = reference.collection or reference.credit
    return Item("reference cited", reference.title or reference.id, who, words, told.lacks, next_step)


def model_release(particulars: Particulars, *, on: str) -> str:
    """The PLUS term for the model releases on a day, as its URI; "" where no person and no leave is recorded."""
    return _status(
        "MR", "UMR", "LMR", [leave for leave in particulars.leaves if leave.kind == "model"], particulars.persons, on
    )


def property_release(particulars: Particulars, *, on: str) -> str:
    """The PLUS term for the property releases on a day, as its URI; "" where no such leave is recorded."""
    return _status("PR", "UPR", "LPR", [leave for leave in particulars.leaves if leave.kind == "property"], (), on)


def _status(prefix: str, unlimited: str, limited: str, leaves: Sequence[Leave], who: Sequence[str], on: str) -> str:
    if not leaves and not who:
        return ""
    today = day_of(on, "The day of the status")
    named = {_plain(leave.who) for leave in leaves}
    without = [one for one in who if _plain(one) not in named]
    granted = [leave for leave in leaves if holds(leave, today)]
    if not granted:
        spared = bool(leaves) and not without and all(leave.state == "not needed" for leave in leaves)
        return f"{PLUS}{prefix}-{'NAP' if spared else 'NON'}"
    others = [leave for leave in leaves if leave not in granted and leave.state != "not needed"]
    whole = not without and not others and all(not one.until and _plain(one.what) in UNLIMITED for one in granted)
    return f"{PLUS}{prefix}-{unlimited if whole else limited}"


def holds(leave: Leave, today: date) -> bool:
    """Whether a leave is recorded as granted, and has not ended before that day."""
    if leave.state != "granted":
        return False
    return not leave.until or day_of(leave.until, f"The end of the leave of {leave.who or 'nobody named'}") >= today


def may_be_named(person: str, leaves: Sequence[Leave], today: date) -> bool:
    """Whether a name may stand in a public file: a model leave of that name holds, or is recorded as not needed."""
    own = [leave for leave in leaves if leave.kind == "model" and _plain(leave.who) == _plain(person)]
    return bool(own) and all(leave.state == "not needed" or holds(leave, today) for leave in own)


# --- editions -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class EditionRow:
    """One print size. `to_place` may still be placed, `in_hand` is made and not placed; None where it contradicts."""

    name: str
    width_mm: float
    height_mm: float
    width_in: float
    height_in: float
    count: int
    proofs: int
    made: int
    placed: int
    to_place: int | None
    in_hand: int | None
    pixels_per_inch: float
    close_mm: float  # from where on a pixel is smaller than one minute of arc
    sentence: str
    problems: tuple[str, ...] = ()


@dataclass(frozen=True)
class EditionTable:
    """Rows in the order given, sums over them (without contradictory rows in `to_place` and `in_hand`), problems."""

    rows: tuple[EditionRow, ...]
    sums: dict[str, int]
    problems: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {"rows": [asdict(row) for row in self.rows], "sums": self.sums, "problems": list(self.problems)}


def edition_table(editions: Sequence[Edition], width_px: int, height_px: int) -> EditionTable:
    """The print sizes of a picture of so many pixels, what is made and gone of each, and what contradicts itself.

    Contradictions are told in `problems`, never corrected.

    Raises
    ------
    PublishRefused
        for a size of paper or picture that is not above 0, or not a number.

    >>> row = edition_table([Edition("small", 508, 381, 5, made=2, placed=1)], 6000, 4500).rows[0]
    >>> (row.width_in, row.height_in, row.pixels_per_inch, row.to_place, row.in_hand)
    (20.0, 15.0, 300.0, 4, 1)
    """
    if width_px < 1 or height_px < 1:
        raise PublishRefused("The picture has no pixels.", "Give its width and height in pixels.", field="editions")
    rows = tuple(_row(one, width_px, height_px) for one in editions)
    sums = {name: sum(getattr(row, name) for row in rows) for name in ("count", "proofs", "made", "placed")}
    sums |= {name: sum(getattr(row, name) or 0 for row in rows) for name in ("to_place", "in_hand")}
    problems = [f"{row.name or 'An edition without a name'}: {problem}" for row in rows for problem in row.problems]
    twice = [name for name, times in Counter(_plain(one.name) for one in editions).items() if times > 1]
    problems += [
        f"More than one edition is called {name!r}." if name else "More than one edition has no name." for name in twice
    ]
    sizes = Counter((round(one.width_mm, 1), round(one.height_mm, 1)) for one in editions)
    problems += [f"More than one edition is {w:g} × {h:g} mm." for (w, h), times in sizes.items() if times > 1]
    return EditionTable(rows, sums, tuple(problems))


def _row(one: Edition, width_px: int, height_px: int) -> EditionRow:
    for size in (one.width_mm, one.height_mm):
        if not (math.isfinite(size) and size > 0):
            raise PublishRefused(
                f"The edition {one.name!r} has a side of {size:g} mm.",
                "Give both sides of the picture in millimetres.",
                field="editions",
            )
    across, down = width_px / (one.width_mm / MM_PER_INCH), height_px / (one.height_mm / MM_PER_INCH)
    density = min(across, down)
    close_mm = MM_PER_INCH / density / math.tan(ARC_MINUTE)
    sentence = (
        f"{density:.0f} pixels per inch: from {close_mm / 10:.0f} cm on, sight of 6/6 sees no single pixels (one "
        "minute of arc)."
    )
    if abs(across / down - 1) > PROPORTION_TOLERANCE:
        sentence += (
            f" The print has other proportions than the picture ({one.width_mm / one.height_mm:.3f} against "
            f"{width_px / height_px:.3f}): it is cropped, or its sides are not those of the picture."
        )
    problems = _contradictions(one)
    plain = not problems
    return EditionRow(
        name=one.name,
        width_mm=one.width_mm,
        height_mm=one.height_mm,
        width_in=round(one.width_mm / MM_PER_INCH, 2),
        height_in=round(one.height_mm / MM_PER_INCH, 2),
        count=one.count,
        proofs=one.proofs,
        made=one.made,
        placed=one.placed,
        to_place=one.count + one.proofs - one.placed if plain else None,
        in_hand=one.made - one.placed if plain else None,
        pixels_per_inch=round(density, 1),
        close_mm=round(close_mm, 1),
        sentence=sentence,
        problems=problems,
    )


def _contradictions(one: Edition) -> tuple[str, ...]:
    found = [
        f"{name} is {value}, below nothing."
        for name, value in (("count", one.count), ("proofs", one.proofs), ("made", one.made), ("placed", one.placed))
        if value < 0
    ]
    if one.count == 0 and not found:
        found.append("an edition of none.")
    if one.made > one.count + one.proofs:
        found.append(f"{one.made} are made, but it is an edition of {one.count} with {one.proofs} proofs.")
    if one.placed > one.made:
        found.append(f"{one.placed} are placed, but only {one.made} are made.")
    return tuple(found)


# --- shared ---------------------------------------------------------------------------------------------------------


def _kind(leave: Leave) -> str:
    if leave.kind not in _KINDS:
        raise PublishRefused(f"{leave.kind!r} is no kind of leave.", f"Kinds are: {', '.join(_KINDS)}.", field="leaves")
    return leave.kind


def _place_of(kind: str) -> int:
    return list(_KINDS).index(kind) if kind in _KINDS else len(_KINDS)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _days(days: int) -> str:
    return {0: "no day", 1: "1 day"}.get(days, f"{days} days")


def day_of(text: str, what: str) -> date:
    """An ISO day; `what` begins the sentence that refuses anything else."""
    try:
        if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            raise ValueError(text)
        return date.fromisoformat(text)
    except ValueError:
        raise PublishRefused(
            f"{what} is {text[:40]!r}, which is no day.", "Write it as 2026-05-17.", field="day"
        ) from None
