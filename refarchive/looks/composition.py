"""How a picture is laid out: its value masses, where its visual weight lies, where marked figures stand, and how like
its layout of values is to another's.

All of these are descriptions in numbers. None says that a picture is well or badly composed, and that a layout is like
that of a good picture makes no picture good. Horizon, lines and vanishing points are in `lines`.

Regions are (x, y, width, height), places (x, y), both as fractions 0–1 from the top left. A picture is as in `colour`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, studies, tone

Array = NDArray[np.float64]
Region = tuple[float, float, float, float]

LEAST_MASS = 0.01  # of the picture: smaller areas of one value are no masses (ours)
LEAST_WEIGHT = 2.3  # ΔE*ab from the prevailing colour, which something must reach (about just noticeable; from memory)
SQUINT_CELLS = 16  # along each side, for likeness of layout
LEAST_RELIEF = 1.0  # standard deviation of L* between the cells, below which there is no layout (ours)


@dataclass(frozen=True)
class Mass:
    """One connected area of one value: the value (0 the darkest), its share of the picture, box and centroid."""

    value: int
    share: float
    region: Region
    centroid_xy: tuple[float, float]


def value_masses(picture: ArrayLike, levels: int = 3, most: int = 12) -> tuple[Mass, ...]:
    """The value masses of a picture: connected areas of its study in 3 or 5 values, the largest first.

    Pixels join where they share an edge. Areas under `LEAST_MASS` of the picture are left out, so the shares need not
    sum to 1; a picture of nothing but small detail has no masses at all.

    Raises
    ------
    CannotMeasure
        for other numbers of levels, fewer than one mass, or where it is not a picture.
    """
    if most < 1:
        raise CannotMeasure("At least one mass must be asked for.")
    values = studies.study(picture, levels).values
    found = [
        Mass(level, area.share, area.region, area.centre_xy)
        for level in range(levels)
        for area in studies.connected(values == level, most, corners=False)
        if area.share >= LEAST_MASS
    ]
    return tuple(sorted(found, key=lambda mass: (-mass.share, mass.value, mass.centroid_xy))[:most])


@dataclass(frozen=True)
class Balance:
    """Where the visual weight of a picture lies, None for cannot tell.

    centre_xy: the centroid. left, top: shares of the weight in the left and the upper half.
    """

    centre_xy: tuple[float, float] | None
    left: float | None
    top: float | None
    sentence: str


def balance(picture: ArrayLike) -> Balance:
    """The centroid of a picture's visual weight.

    Definition (ours; no standard has one): the picture is area-averaged in linear light to the viewing scale. Its
    prevailing colour is the median of L*, of a* and of b*. A pixel weighs as much as its colour differs from that, in
    ΔE*ab of 1976: sqrt(ΔL*² + Δa*² + Δb*²). So a small light thing in a large dark weighs, and so does a small dark one
    in a large light, and a red one in grey of the same lightness. What a thing is plays no part: a face weighs as much
    as a plate of its colours.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    lab = colour.linear_to_lab(colour.reduced(picture, tone.TONE_PIXELS))
    weight = np.sqrt(((lab - np.median(lab, axis=(0, 1))) ** 2).sum(axis=-1))
    total = float(weight.sum())
    if float(weight.max()) < LEAST_WEIGHT:
        return Balance(None, None, None, "Cannot tell: the picture is too even for anything in it to weigh.")
    across, down = weight.sum(axis=0) / total, weight.sum(axis=1) / total
    x, y = float(across @ _middles(across.size)), float(down @ _middles(down.size))
    left, top = _first_half(across), _first_half(down)
    said = (
        f"The visual weight is centred {100 * x:.0f} % from the left and {100 * y:.0f} % from the top; {100 * left:.0f}"
        f" % of it lies in the left half, {100 * top:.0f} % in the upper half."
    )
    return Balance((x, y), left, top, said)


def _middles(count: int) -> Array:
    return np.asarray((np.arange(count) + 0.5) / count)


def _first_half(weights: Array) -> float:
    """The sum of the first half, the middle one of an odd number counted half."""
    return float(np.interp(weights.size / 2, np.arange(weights.size + 1), np.concatenate([[0.0], weights.cumsum()])))


# -- marked figures --------


@dataclass(frozen=True)
class Placement:
    """Where one marked figure stands, in numbers.

    centre_xy: the middle of its region. height, width, area: its shares of the picture's. to_third_x, to_third_y: from
    the nearest upright and the nearest level line of thirds to its centre, as fractions of the picture's width and
    height; above 0 to the right of it and below it. to_crossing, to_centre: the distance from its centre to the nearest
    crossing of these lines and to the middle of the picture, as fractions of the picture's diagonal. margins: from the
    region to the left, upper, right and lower edge, as fractions of width and height.
    """

    centre_xy: tuple[float, float]
    height: float
    width: float
    area: float
    to_third_x: float
    to_third_y: float
    to_crossing: float
    to_centre: float
    margins: tuple[float, float, float, float]


def placement(regions: Sequence[Region], size: tuple[int, int]) -> tuple[Placement, ...]:
    """Where marked figures stand, in the order given.

    Thirds are given because people ask for them; that figures should stand there is common practice, no source.

    Parameters
    ----------
    regions
        Of the figures, fractions 0–1.
    size
        Width and height of the picture in pixels.

    Raises
    ------
    CannotMeasure
        where a region has no extent or leaves the picture, or the picture has no size.
    """
    width, height = size
    if width < 1 or height < 1:
        raise CannotMeasure(f"A picture of {width} × {height} pixels has no places.")
    diagonal = math.hypot(width, height)
    found = []
    for region in regions:
        x, y, wide, high = checked_region(region)
        centre = (x + wide / 2, y + high / 2)
        off_x, off_y = (min((at - 1 / 3, at - 2 / 3), key=abs) for at in centre)
        found.append(
            Placement(
                centre_xy=centre,
                height=high,
                width=wide,
                area=wide * high,
                to_third_x=off_x,
                to_third_y=off_y,
                to_crossing=math.hypot(off_x * width, off_y * height) / diagonal,
                to_centre=math.hypot((centre[0] - 0.5) * width, (centre[1] - 0.5) * height) / diagonal,
                margins=(x, y, max(0.0, 1 - x - wide), max(0.0, 1 - y - high)),
            )
        )
    return tuple(found)


def checked_region(region: Sequence[float]) -> Region:
    """The region as four floats.

    Raises
    ------
    CannotMeasure
        where it is no region, has no extent or leaves the picture.
    """
    wanted = "Give x, y, width and height as fractions 0–1."
    try:
        x, y, width, height = (float(value) for value in region)
    except (TypeError, ValueError):
        raise CannotMeasure("A region is four numbers.", wanted) from None
    if not all(math.isfinite(value) for value in (x, y, width, height)) or width <= 0 or height <= 0:
        raise CannotMeasure("The region has no extent.", wanted)
    slack = 1e-9
    if x < -slack or y < -slack or x + width > 1 + slack or y + height > 1 + slack:
        raise CannotMeasure("The region reaches outside the picture.", wanted)
    return x, y, width, height


# -- layout of values --------


@dataclass(frozen=True)
class LayoutLikeness:
    """How like the layouts of values of two pictures are at squint scale.

    likeness: Pearson's correlation of their L*, cell by cell, −1 to 1, None where one picture has no layout; 1 is the
    same layout whatever the key and contrast, 0 an unrelated one, −1 the negative. mirrored: the same with the second
    picture mirrored. lightness_apart: mean difference of L* between cells, which key and contrast do count in.
    """

    likeness: float | None
    mirrored: float | None
    lightness_apart: float
    sentence: str


def layout_likeness(first: ArrayLike, second: ArrayLike) -> LayoutLikeness:
    """Compare where light and dark lie in two pictures, each stretched to a square of 16 × 16 cells.

    Cells are area-averaged in linear light. Pictures of other proportions are compared edge to edge, so that "light at
    the upper left" is alike in both.

    Raises
    ------
    CannotMeasure
        where one of them is not a picture.
    """
    one, two = squint(first), squint(second)
    apart = float(np.abs(one - two).mean())
    for which, cells in (("first", one), ("second", two)):
        if float(cells.std()) < LEAST_RELIEF:
            said = f"Cannot tell: the {which} picture is too even to have a layout of values."
            return LayoutLikeness(None, None, apart, said)
    likeness, mirrored = _correlation(one, two), _correlation(one, two[:, ::-1])
    said = f"The layouts of values correlate by {likeness:.2f} (mirrored {mirrored:.2f}), L* {apart:.0f} apart."
    return LayoutLikeness(likeness, mirrored, apart, said)


def squint(picture: ArrayLike, cells: int = SQUINT_CELLS) -> Array:
    """L* of a picture stretched to a square of cells, (cells, cells), each the area's average in linear light.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    plane = colour.reduced(picture, tone.TONE_PIXELS) @ colour.LUMINANCE
    return tone.luminance_to_lightness(_averaged(_averaged(plane, cells).T, cells).T)


def _averaged(plane: Array, cells: int) -> Array:
    """Exact averages of rows (n, ...) over equal spans, (cells, ...): differences of the running sum at their ends."""
    rows = len(plane)
    running = np.concatenate([np.zeros((1, *plane.shape[1:])), plane.cumsum(axis=0)])
    ends = np.arange(cells + 1) * (rows / cells)
    whole = np.minimum(ends.astype(np.int64), rows - 1)
    part = (ends - whole)[:, None]
    return np.asarray(np.diff(running[whole] * (1 - part) + running[whole + 1] * part, axis=0) * (cells / rows))


def _correlation(one: Array, two: Array) -> float:
    first, second = one - one.mean(), two - two.mean()
    return float(np.clip((first * second).sum() / math.sqrt((first**2).sum() * (second**2).sum()), -1.0, 1.0))
