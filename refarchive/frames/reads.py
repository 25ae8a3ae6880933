"""What matters of one picture in a series, how far two lie apart by one measure, and the words for it.

Each measure is told by itself, in its own unit. Words are relative to the series' own spread: of all pairs of its
pictures, a difference is "near" within the lower quarter and "far" in the upper. Where fewer than `LEAST_PICTURES`
carry a measure, or where the spread is too narrow or too wide to mean anything, the absolute limits of `MEASURES`
decide; those are ours, no source. Near is no praise and far no fault.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotMeasure
from refarchive.frames.lines import PALETTE_COLOURS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from refarchive.looks.colour import Palette
    from refarchive.records.model import Region

NEAR, FAR, BETWEEN, CANNOT_TELL = "near", "far", "", "cannot tell"
LEAST_PICTURES = 5  # that carry a measure, hence ten pairs, before the series' own spread decides
ONE_SHAPE = 0.02  # by which two proportions may differ and be called the same
MOST_THINGS = 400  # of one picture
LONGEST_TEXT = 300


@dataclass(frozen=True)
class Measure:
    """One thing measured between neighbours: its unit, the differences up to which it is always near enough not to be
    far, and from which it is never near (None: the series' own spread alone decides), and how it was measured.
    """

    name: str
    unit: str
    near: float | None
    far: float | None
    how: str


MEASURES: dict[str, Measure] = {
    one.name: one
    for one in (
        Measure("palette", "ΔE00", 4.0, 10.0, f"Earth mover's distance (CIEDE2000) of {PALETTE_COLOURS} colours."),
        Measure("key", "L*", 5.0, 15.0, "Median L*."),
        Measure("contrast", "L*", 5.0, 15.0, "5th to 95th percentile of L*."),
        Measure("warmth", "mired", 10.0, 40.0, "Of the picture's mean colour; more mired is warmer."),
        Measure("horizon", "of the height", 0.03, 0.15, "Row of the strongest level edge, from the top."),
        Measure("light", "°", 20.0, 90.0, "Effective direction in the picture plane, as marked; 0 to 180."),
        Measure("scale", "of the height", 0.05, 0.25, "Height of the largest marked figure."),
        Measure("likeness", "1 − cosine", None, None, "Of the archive's picture vectors."),
    )
}
BETWEEN_NEIGHBOURS = ("palette", "key", "contrast", "warmth", "horizon", "light", "scale")
TO_ORDER_BY = ("palette", "key", "contrast", "warmth", "horizon", "likeness")


@dataclass(frozen=True)
class Thing:
    """One thing that a picture shows, as its scene has it.

    slug, name, department: of the need. references: what it rests on, as (key, title); the key is the SHA-256 of the
    reference's file, or its id where there is none.
    """

    name: str
    slug: str = ""
    department: str = ""
    references: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Person:
    """One person in a picture: who is meant, and who stands there."""

    name: str
    performer: str = ""


@dataclass(frozen=True, eq=False)
class Read:
    """What matters of one picture in a series. Numbers are None where they cannot be told; `untold` says why.

    name: the frame's id. key, p5, p95: L*. warmth_mired. horizon: part of the height from the top. light_deg: 0 from
    the right, 90 from above. scale: height of the largest figure, part of the frame's. aspect: width over height.
    hashes: by which near copies are known (`looks.alike`).
    """

    name: str
    title: str
    palette: Palette
    key: float
    p5: float
    p95: float
    warmth_mired: float | None
    horizon: float | None
    light_deg: float | None
    scale: float | None
    aspect: float
    hashes: tuple[int, int]
    untold: Mapping[str, str]
    things: tuple[Thing, ...] = ()
    place: str = ""
    people: tuple[Person, ...] = ()
    vector: NDArray[np.float64] | None = None

    @property
    def contrast(self) -> float:
        """L* from the 5th to the 95th percentile."""
        return self.p95 - self.p5

    @property
    def orientation(self) -> str:
        """Upright, lying or square."""
        if abs(self.aspect - 1.0) <= ONE_SHAPE:
            return "square"
        return "lying" if self.aspect > 1.0 else "upright"

    def value(self, measure: str) -> float | None:
        """The number of a measure that has one."""
        found = {
            "key": self.key,
            "contrast": self.contrast,
            "warmth": self.warmth_mired,
            "horizon": self.horizon,
            "light": self.light_deg,
            "scale": self.scale,
        }
        return found[measure]

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "name": self.name,
            "title": self.title,
            "palette": [
                {"hex": hexed, "share": round(float(share), 3)}
                for hexed, share in zip(self.palette.hexes, self.palette.shares, strict=True)
            ],
            **{name: self.value(name) for name in BETWEEN_NEIGHBOURS if name != "palette"},
            "aspect": self.aspect,
            "orientation": self.orientation,
            "cannot tell": dict(self.untold),
            "place": self.place,
            "things": [asdict(one) for one in self.things],
            "people": [asdict(one) for one in self.people],
        }


def read_picture(
    picture: ArrayLike,
    *,
    name: str,
    title: str = "",
    figures: Sequence[Region] = (),
    light_deg: float | None = None,
    things: Sequence[Thing] = (),
    place: str = "",
    people: Sequence[Person] = (),
    vector: ArrayLike | None = None,
) -> Read:
    """Measure one finished picture for its series.

    Parameters
    ----------
    picture
        Upright sRGB, (H, W, 3), uint8 or float in 0–1, of any size.
    name, title
        The frame's id, and what it is called on the page; the id where empty.
    figures
        Regions that a person marked as figures; the tallest tells the scale.
    light_deg
        Effective direction of the light in the picture plane, where a person marked what it was read from.
    things, place, people
        What the record knows: needs with their references, the place in words, the figures and who played them.
    vector
        The archive's picture vector, for likeness.

    Raises
    ------
    CannotMeasure
        where it is no picture, or a value cannot be used.
    """
    import numpy as np

    from refarchive.looks import alike, colour, composition, horizon, tone, warmth

    array = colour.check_picture(picture)
    if not name:
        raise CannotMeasure("A picture of a series needs a name.", "Give the id of its frame.")
    if light_deg is not None and not math.isfinite(light_deg):
        raise CannotMeasure("The direction of the light is no number.", "Leave it out where it was not told.")
    if len(things) > MOST_THINGS or len(people) > MOST_THINGS:
        raise CannotMeasure(f"More than {MOST_THINGS} things are too many for one picture.", "Name fewer.")
    aspect = array.shape[1] / array.shape[0]
    of_tone, of_warmth, level = tone.tone_summary(array), warmth.warmth(array), horizon.horizon(array)
    tallest = max((composition.placement(region, aspect).height for region in figures), default=None)
    untold = {}
    for measure, missing, why in (
        ("warmth", of_warmth.mired is None, of_warmth.sentence),
        ("horizon", level.row is None, level.sentence),
        (
            "light",
            light_deg is None,
            "Cannot tell: nothing is marked that the light was read from.",
        ),
        ("scale", tallest is None, "Cannot tell: no figure is marked."),
    ):
        if missing:
            untold[measure] = why
    likeness = None
    if vector is not None:
        likeness = np.asarray(vector, dtype=np.float64).ravel()
        if not (likeness.size and np.isfinite(likeness).all() and np.linalg.norm(likeness) > 0):
            raise CannotMeasure("A picture's vector must be numbers, not all 0.", "Index the picture again.")
        likeness = likeness / np.linalg.norm(likeness)
    return Read(
        name=name[:LONGEST_TEXT],
        title=(title or name)[:LONGEST_TEXT],
        palette=colour.palette(array, PALETTE_COLOURS),
        key=of_tone.median,
        p5=of_tone.p5,
        p95=of_tone.p95,
        warmth_mired=of_warmth.mired,
        horizon=level.row,
        light_deg=None if light_deg is None else light_deg % 360.0,
        scale=tallest,
        aspect=aspect,
        hashes=(alike.difference_hash(array), alike.frequency_hash(array)),
        untold=untold,
        things=tuple(things),
        place=place[:LONGEST_TEXT],
        people=tuple(people),
        vector=likeness,
    )


# -- differences --------


@lru_cache(maxsize=32_768)
def _palettes_apart(one: Palette, other: Palette) -> float:
    from refarchive.looks.colour import palette_distance

    return palette_distance(one, other)


def apart(one: Read, other: Read, measure: str) -> float | None:
    """How far two pictures lie apart by one of `MEASURES`, at least 0; None where it cannot be told.

    Raises
    ------
    CannotMeasure
        where there is no such measure, or two vectors are of different encoders.
    """
    if measure not in MEASURES:
        raise CannotMeasure(f"{measure[:40]!r} is no measure of a series.", f"Name one of {', '.join(MEASURES)}.")
    if measure == "palette":
        first, second = sorted((one.palette, other.palette), key=id)  # either way round is one entry of the cache
        return _palettes_apart(first, second)
    if measure == "likeness":
        return _vectors_apart(one, other)
    a, b = one.value(measure), other.value(measure)
    if a is None or b is None:
        return None
    if measure == "light":
        from refarchive.looks.light import angle_between

        return angle_between(a, b)
    return abs(b - a)


def _vectors_apart(one: Read, other: Read) -> float | None:
    if one.vector is None or other.vector is None:
        return None
    if one.vector.shape != other.vector.shape:
        raise CannotMeasure("Two pictures were encoded by different encoders.", "Index both again.")
    return max(0.0, 1.0 - float(one.vector @ other.vector))


def matrix(reads: Sequence[Read], measure: str) -> NDArray[np.float64]:
    """The distances of all pairs, (n, n), NaN where one cannot be told."""
    import numpy as np

    table = np.zeros((len(reads), len(reads)))
    for i, one in enumerate(reads):
        for j in range(i):
            found = apart(one, reads[j], measure)
            table[i, j] = table[j, i] = np.nan if found is None else found
    return table


@dataclass(frozen=True)
class Spread:
    """How widely a measure spreads over a series: quartiles of the differences of all its pairs, and how many pictures
    carry it. lower and upper are None where these are fewer than `LEAST_PICTURES`.
    """

    measure: str
    pictures: int
    pairs: int
    lower: float | None
    upper: float | None

    def judged(self, value: float | None) -> tuple[str, str]:
        """The word for a difference of this measure, and what it rests on."""
        if value is None:
            return CANNOT_TELL, ""
        known = MEASURES[self.measure]
        if self.lower is None or self.upper is None:
            why = f"only {self.pictures} of the pictures carry it: absolute limits"
            if known.near is None or known.far is None:
                return CANNOT_TELL, f"{why} are not known"
            word = NEAR if value <= known.near else FAR if value >= known.far else BETWEEN
            return word, f"{why}, {shown(known.near, self.measure)} and {shown(known.far, self.measure)}"
        why = (
            f"of {self.pairs} pairs, quartiles {shown(self.lower, self.measure)} and {shown(self.upper, self.measure)}"
        )
        if value > self.upper:
            if known.near is not None and value <= known.near:
                return BETWEEN, f"{why}, but within {shown(known.near, self.measure)}, which is little"
            return FAR, why
        if value <= self.lower:
            if known.far is not None and value >= known.far:
                return BETWEEN, f"{why}, but at least {shown(known.far, self.measure)}, which is much"
            return NEAR, why
        return BETWEEN, why


def spread(reads: Sequence[Read], measure: str) -> Spread:
    """How widely a measure spreads over the series."""
    import numpy as np

    table = matrix(reads, measure)
    known = ~np.isnan(table)
    pairs = table[np.triu(known, 1)]
    carrying = int((known.sum(axis=1) > 1).sum())  # nought from itself, and from another too
    if carrying < LEAST_PICTURES:
        return Spread(measure, carrying, int(pairs.size), None, None)
    lower, upper = (float(v) for v in np.percentile(pairs, [25.0, 75.0]))
    return Spread(measure, carrying, int(pairs.size), lower, upper)


def shown(value: float, measure: str, *, signed: bool = False) -> str:
    """A figure of a measure with its unit; parts of the height as per cent.

    >>> shown(0.124, "horizon"), shown(-12.3, "key", signed=True)
    ('12 % of the height', '−12.3 L*')
    """
    unit = MEASURES[measure].unit
    if unit == "of the height":
        figure, after = (f"{100 * value:+.0f}" if signed else f"{100 * value:.0f}"), " % of the height"
    elif unit == "°":
        figure, after = f"{value:.0f}", "°"
    elif measure == "likeness":
        figure, after = f"{value:.3f}", ""
    else:
        digits = 0 if unit == "mired" else 1
        figure, after = f"{value:+.{digits}f}" if signed else f"{value:.{digits}f}", f" {unit}"
    return (figure + after).replace("-", "−")
