"""The finished pictures of a series in order: how neighbours differ, what repeats, how the run of key, contrast and
warmth goes, and how a candidate would sit at every place.

There is no figure for the whole and no best place. Pictures are measured in `reads`, which says what "near" and "far"
rest on; what the record knows of them comes as plain values. Cohesion is not sameness: what is said here is to be
looked at, not to be mended.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

from refarchive.errors import CannotMeasure
from refarchive.frames.ordering import BY_DATE, BY_KEY, CONTRASTING, MOST_PICTURES, SMOOTH, Order, Span
from refarchive.frames.reads import (
    BETWEEN_NEIGHBOURS,
    CANNOT_TELL,
    FAR,
    MEASURES,
    NEAR,
    ONE_SHAPE,
    TO_ORDER_BY,
    Person,
    Read,
    Spread,
    Thing,
    apart,
    matrix,
    read_picture,
    shown,
    spread,
)
from refarchive.frames.rhythm import Rhythm, rhythm

__all__ = [
    "Difference", "Echo", "Pair", "Person", "Read", "Repeat", "Rhythm", "Seat", "Thing", "echoes", "neighbours",
    "propose", "read_picture", "repeats", "rhythms", "sit",
]  # fmt: skip

_RUN = (("key", "darker", "lighter"), ("contrast", "flatter", "harder"), ("warmth", "cooler", "warmer"))


@dataclass(frozen=True)
class Difference:
    """One measure between two pictures: what it is from the first to the second (without a sign for palette and light;
    None for cannot tell), in words, the word, and what the word rests on.
    """

    measure: str
    value: float | None
    unit: str
    shown: str
    word: str
    why: str


# -- what repeats --------


@dataclass(frozen=True)
class Repeat:
    """Something that both pictures have: what kind of thing, which, and by what it was found to be the same."""

    kind: str
    what: str
    how: str


def repeats(one: Read, other: Read) -> tuple[Repeat, ...]:
    """What two pictures have in common by their records: things by name, by slug or by reference, people, the place,
    and the picture itself where one is a near copy of the other.

    A name in common need not be the same thing: "Shawl" may be two shawls. A performer is told where one person plays
    two figures; the caller leaves out words that name nobody, such as "to be found".
    """
    from refarchive.looks.alike import NEAR_COPY_BITS, bits_apart

    found: list[Repeat] = []
    bits = max(bits_apart(a, b) for a, b in zip(one.hashes, other.hashes, strict=True))
    if one.name == other.name:
        found.append(Repeat("picture", other.title, "the same frame"))
    elif bits <= NEAR_COPY_BITS and (apart(one, other, "palette") or 0.0) <= (MEASURES["palette"].near or 0.0):
        # Plain skies over plain shores have like hashes: only with like colours is it one picture again.
        found.append(Repeat("picture", other.title, f"a near copy: at most {bits} of the hashes' 64 bits differ"))
    if one.place and _plain(one.place) == _plain(other.place):
        found.append(Repeat("place", other.place, "the same words"))
    found += _things(one.things, other.things)
    theirs = {_plain(person.name): person for person in other.people if person.name}
    for person in one.people:
        again = theirs.get(_plain(person.name))
        if person.name and again is not None:
            found.append(Repeat("figure", again.name, "the same name"))
    for person in one.people:
        for again in other.people:
            played = _plain(person.performer)
            if played and played == _plain(again.performer) and _plain(person.name) != _plain(again.name):
                parts = f"as {_named(person)} and as {_named(again)}"
                found.append(Repeat("performer", again.performer, parts))
    return tuple(dict.fromkeys(found))


def _things(ours: Sequence[Thing], theirs: Sequence[Thing]) -> list[Repeat]:
    found: list[Repeat] = []
    by_name = {_plain(thing.name): thing for thing in theirs}
    by_slug = {thing.slug: thing for thing in theirs if thing.slug}
    same: list[tuple[Thing, Thing]] = []
    for thing in ours:
        again = by_name.get(_plain(thing.name))
        how = "the same name"
        if again is None and thing.slug:
            again, how = by_slug.get(thing.slug), "the same slug"
        if again is not None:
            same.append((thing, again))
            if {key for key, _ in thing.references} & {key for key, _ in again.references}:
                how += " and a reference in common"
            found.append(Repeat(_kind(again), again.name, how))
    here, there = _by_reference(ours), _by_reference(theirs)
    for key, (title, mine) in here.items():
        if key in there:
            others = there[key][1]
            if any(a in mine and b in others for a, b in same):
                continue  # told already
            how = f"for {_some(mine)}, and for {_some(others)}"
            found.append(Repeat("reference", title or key, how))
    return found


def _by_reference(things: Sequence[Thing]) -> dict[str, tuple[str, list[Thing]]]:
    found: dict[str, tuple[str, list[Thing]]] = {}
    for thing in things:
        for key, title in thing.references:
            found.setdefault(key, (title, []))[1].append(thing)
    return found


def _some(things: Sequence[Thing], most: int = 3) -> str:
    names = [f"“{thing.name}”" for thing in things[:most]]
    return ", ".join(names) + (f" and {len(things) - most} more" if len(things) > most else "")


def _kind(thing: Thing) -> str:
    return "garment" if thing.department == "wardrobe" else thing.department or "thing"


def _named(person: Person) -> str:
    return f"“{person.name}”" if person.name else "somebody without a name"


def _plain(text: str) -> str:
    """A text as it is compared: compatibility forms, case and spaces make no difference."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


# -- neighbours --------


@dataclass(frozen=True)
class Pair:
    """Two pictures side by side, the first on the left: titles, differences, proportions in words, what repeats."""

    first: str
    second: str
    differences: tuple[Difference, ...]
    shapes: str
    repeats: tuple[Repeat, ...]

    def __getitem__(self, measure: str) -> Difference:
        return next(one for one in self.differences if one.measure == measure)

    @property
    def striking(self) -> tuple[str, ...]:
        """What is far, what is near and what repeats: a sentence for each, with figures."""
        parts = []
        for word in (FAR, NEAR):
            told = [f"{one.measure} ({one.shown})" for one in self.differences if one.word == word]
            if told:
                parts.append(f"{word.capitalize()} in {', '.join(told)}.")
        if self.repeats:
            parts.append("Repeats: " + "; ".join(f"{one.kind} {one.what}, {one.how}" for one in self.repeats) + ".")
        return tuple(parts)

    @property
    def sentence(self) -> str:
        """All that is told of the two, in words."""
        untold = [one.measure for one in self.differences if one.word == CANNOT_TELL]
        missing = (f"Cannot tell: {', '.join(untold)}.",) if untold else ()
        return " ".join((*self.striking, *missing, self.shapes))

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {**asdict(self), "words": self.sentence}


def neighbours(reads: Sequence[Read]) -> tuple[Pair, ...]:
    """Each picture of the series beside the next, in order; nothing for one picture alone.

    Raises
    ------
    CannotMeasure
        where there is none, or there are more than `MOST_PICTURES`.
    """
    spreads = _spreads(reads)
    return tuple(_pair(one, other, spreads) for one, other in pairwise(reads))


def _spreads(reads: Sequence[Read]) -> dict[str, Spread]:
    _some_pictures(reads)
    return {measure: spread(reads, measure) for measure in BETWEEN_NEIGHBOURS}


def _some_pictures(reads: Sequence[Read]) -> None:
    if not reads:
        raise CannotMeasure("The series has no finished picture yet.", "Choose one first.")
    if len(reads) > MOST_PICTURES:
        raise CannotMeasure(f"{len(reads)} pictures are too many for one series.", f"Take at most {MOST_PICTURES}.")


def _pair(one: Read, other: Read, spreads: Mapping[str, Spread]) -> Pair:
    differences = []
    for measure in BETWEEN_NEIGHBOURS:
        far = apart(one, other, measure)
        word, why = spreads[measure].judged(far)
        value, signed = far, measure not in ("palette", "light")
        if far is None:
            why = " ".join(f"{read.title}: {read.untold[measure]}" for read in (one, other) if measure in read.untold)
        elif signed:
            value = (other.value(measure) or 0.0) - (one.value(measure) or 0.0)
        told = CANNOT_TELL if value is None else shown(value, measure, signed=signed)
        differences.append(Difference(measure, value, MEASURES[measure].unit, told, word, why))
    return Pair(one.title, other.title, tuple(differences), _shapes(one, other), repeats(one, other))


def _shapes(one: Read, other: Read) -> str:
    if one.orientation != other.orientation:
        return f"{one.orientation.capitalize()} beside {other.orientation}."
    ratio = other.aspect / one.aspect
    if abs(math.log(ratio)) <= ONE_SHAPE:
        return f"Both {one.orientation}, of one shape."
    return f"Both {one.orientation}, {one.aspect:.2f} and {other.aspect:.2f} wide for 1 high."


def rhythms(reads: Sequence[Read]) -> tuple[Rhythm, ...]:
    """How key, contrast and warmth run along the series. Raises as `neighbours`.

    Three measures are looked at for two patterns each: of chance series (normal numbers, drawn 600
    times) 4 % of 5 pictures, 9 % of 8 and 21 % of 12 to 40 show one of the six.
    """
    _some_pictures(reads)
    return tuple(
        rhythm(measure, MEASURES[measure].unit, [read.value(measure) for read in reads], falls, rises)
        for measure, falls, rises in _RUN
    )


# -- a candidate --------


@dataclass(frozen=True)
class Seat:
    """One place that a candidate could take: its number (0 before the first), in words, the pair with the picture
    before, with the picture after, and the pair that it would part; None where there is none.
    """

    place: int
    where: str
    before: Pair | None
    after: Pair | None
    parted: Pair | None

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        pairs = {name: pair for name in ("before", "after", "parted") if (pair := getattr(self, name)) is not None}
        return {"place": self.place, "where": self.where, **{name: pair.as_dict() for name, pair in pairs.items()}}


@dataclass(frozen=True)
class Echo:
    """What a candidate would repeat of one picture of the series, wherever it hangs: the picture's number from 0."""

    number: int
    title: str
    repeats: tuple[Repeat, ...]


def sit(candidate: Read, reads: Sequence[Read]) -> tuple[Seat, ...]:
    """How a candidate would sit at every place, from before the first picture to after the last, in that order.

    Words are relative to the spread of the series as it is, without the candidate.

    Raises
    ------
    CannotMeasure
        as `neighbours`, and where the candidate hangs in the series already.
    """
    spreads = _spreads(reads)
    if any(read.name == candidate.name for read in reads):
        raise CannotMeasure(
            f"{candidate.title} is in the series already.", "Take it out of the order first.", records=(candidate.name,)
        )
    seats = []
    for place in range(len(reads) + 1):
        before = reads[place - 1] if place else None
        after = reads[place] if place < len(reads) else None
        if before is not None and after is not None:
            where, parted = f"between {before.title} and {after.title}", _pair(before, after, spreads)
        else:
            where, parted = f"before {reads[0].title}" if after is not None else f"after {reads[-1].title}", None
        seats.append(
            Seat(
                place,
                where,
                None if before is None else _pair(before, candidate, spreads),
                None if after is None else _pair(candidate, after, spreads),
                parted,
            )
        )
    return tuple(seats)


def echoes(candidate: Read, reads: Sequence[Read]) -> tuple[Echo, ...]:
    """What a candidate would repeat of any picture of the series, near or far on the wall; empty where nothing."""
    found = ((number, read, repeats(read, candidate)) for number, read in enumerate(reads))
    return tuple(Echo(number, read.title, again) for number, read, again in found if again)


# -- alternatives in order --------


def propose(
    reads: Sequence[Read],
    arrangement: str,
    measure: str = "",
    *,
    fixed: Mapping[int, int] | None = None,
    spans: Sequence[Span | None] | None = None,
) -> Order:
    """An alternative order by a stated criterion.

    Parameters
    ----------
    reads
        The pictures as they hang now.
    arrangement
        One of `ordering.ARRANGEMENTS`.
    measure
        For smooth and contrasting, the one measure that tells distances: one of `TO_ORDER_BY`.
    fixed
        By place, the number of the picture that must stand there, both from 0.
    spans
        For the date of event: the earliest and the latest day of each picture's event, as Julian day numbers.

    Raises
    ------
    CannotMeasure
        where something is asked for that there is not, and as `ordering.smooth`.
    """
    from refarchive.frames import ordering

    _some_pictures(reads)
    if arrangement in (SMOOTH, CONTRASTING):
        if measure not in TO_ORDER_BY:
            raise CannotMeasure(
                "An order needs one measure to go by.", f"Name one of {', '.join(TO_ORDER_BY)}; they are not mixed."
            )
        find = ordering.smooth if arrangement == SMOOTH else ordering.contrasting
        return find(matrix(reads, measure), fixed)
    if arrangement == BY_KEY:
        return ordering.by_value([read.key for read in reads], fixed)
    if arrangement == BY_DATE:
        if spans is None or len(spans) != len(reads):
            raise CannotMeasure("Dates of the events are needed, one for each picture.", "Date the scenes first.")
        return ordering.by_date(spans, fixed)
    raise CannotMeasure(f"{arrangement[:40]!r} is no arrangement.", f"Name one of {', '.join(ordering.ARRANGEMENTS)}.")
