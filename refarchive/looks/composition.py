"""Where the weight of a picture lies: masses of value, balance, places of figures, likeness of two layouts.

All is measured on a bounded working size. Places are (x, y) and regions (x, y, width, height), as fractions 0–1 of the
picture from the top left. These are numbers, never marks: no arrangement is better than another, and likeness of layout
to a reference says nothing about success. Lines, horizon and vanishing points are in `lines`; laying one picture over
another in `overlay`.

That pictures are looked at in masses, thirds and balance is common practice, no source; each definition stands where it
is used.
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

LEAST_MASS = 0.01  # of the picture: smaller connected areas are no masses (ours)
VALUE_NAMES = ("dark", "middle", "light")
BALANCE_CELLS = 48  # along the longer side
LEAST_DEPARTURE = 1.0  # mean departure in L* below which a picture is too even to have weights
LAYOUT_CELLS = (24, 16)  # longer and shorter side of the grid that layouts are compared on
LAYOUT_BLUR = 1.0  # standard deviation in cells
LEAST_LAYOUT_SPREAD = 1.0  # standard deviation in L* below which there is no layout
MOST_ASPECT = 1.5  # pictures whose proportions differ more are not compared: too much would be cut off


# -- masses --------


@dataclass(frozen=True)
class Mass:
    """A connected area of one value of the three-value study.

    value: one of `VALUE_NAMES`. share: of the picture. centre_xy: the mean place of its pixels. region: the box around.
    """

    value: str
    share: float
    centre_xy: tuple[float, float]
    region: Region


def value_masses(picture: ArrayLike, most: int = 12) -> tuple[Mass, ...]:
    """The masses of a picture, the largest first: connected areas of its three-value study (`studies.study`).

    Cells that touch by an edge make one mass; masses under `LEAST_MASS` of the picture are left out, so the shares need
    not sum to 1.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or fewer than one mass is asked for.
    """
    if most < 1:
        raise CannotMeasure("At least one mass must be asked for.")
    values = studies.study(picture, 3).values
    found = [
        Mass(name, area.share, area.centre_xy, area.region)
        for level, name in enumerate(VALUE_NAMES)
        for area in studies.connected(values == level, most, corners=False)
        if area.share >= LEAST_MASS
    ]
    return tuple(sorted(found, key=lambda mass: -mass.share)[:most])


# -- balance --------


@dataclass(frozen=True)
class Balance:
    """Where the visual weight of a picture has its centre.

    x, y: the centre, 0–1 from the top left; None for cannot tell. left, top: shares of the weight in the left half and
    in the upper half.
    """

    x: float | None
    y: float | None
    left: float | None
    top: float | None
    sentence: str


def balance(picture: ArrayLike) -> Balance:
    """The balance of a picture's values.

    The weight of a spot is how far its L* lies from the mean L* of the picture, lighter or darker alike; the centre is
    the mean place of the weights. A light figure on a dark ground weighs where it stands, and so does a dark one on a
    light ground. Colour, faces and meaning weigh nothing here. Read on at most 48 cells along the longer side.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    light = colour.reduced(picture, tone.TONE_PIXELS) @ colour.LUMINANCE
    rows, columns = light.shape
    scale = min(1.0, BALANCE_CELLS / max(rows, columns))
    values = tone.luminance_to_lightness(_resized(light, max(1, round(columns * scale)), max(1, round(rows * scale))))
    weight = np.abs(values - values.mean())
    if weight.mean() < LEAST_DEPARTURE:
        said = f"Cannot tell: the picture is even, its L* departs from its mean by {weight.mean():.1f} on average."
        return Balance(None, None, None, None, said)
    across, down = weight.sum(axis=0) / weight.sum(), weight.sum(axis=1) / weight.sum()
    x, y = float(across @ _middles(len(across))), float(down @ _middles(len(down)))
    left, top = _first_half(across), _first_half(down)
    said = (
        f"Light and dark weigh {_off(x, 'left', 'right')} and {_off(y, 'above', 'below')} of the middle;"
        f" {100 * left:.0f} % of it lies in the left half, {100 * top:.0f} % in the upper."
    )
    return Balance(x, y, left, top, said)


def _middles(count: int) -> Array:
    return (np.arange(count) + 0.5) / count


def _first_half(shares: Array) -> float:
    """The part of the shares before the middle; a cell astride it counts half."""
    half = len(shares) // 2
    return float(shares[:half].sum() + (shares[half] / 2 if len(shares) % 2 else 0.0))


def _off(place: float, before: str, after: str) -> str:
    return f"{100 * abs(place - 0.5):.0f} % {before if place < 0.5 else after}"


def _resized(plane: Array, columns: int, rows: int) -> Array:
    """Area averages of a plane in cells of this number; cells smaller than its own repeat it."""
    across, down = colour.shares_of_cells(columns, plane.shape[1]), colour.shares_of_cells(rows, plane.shape[0])
    return np.asarray(down @ plane @ across.T)


# -- figures --------


@dataclass(frozen=True)
class Placement:
    """Where a marked figure stands.

    centre_xy: the middle of its region. height, width, area: shares of the frame's. from_middle, from_third: how far
    its centre lies from the middle of the frame and from the nearest crossing of the thirds, as shares of the diagonal.
    third_xy: that crossing. from_third_line: to the nearest upright third, as a share of the width. headroom, below:
    from the top edge of the frame to the region, and from the region to the bottom edge, as shares of the height.
    """

    centre_xy: tuple[float, float]
    width: float
    height: float
    area: float
    from_middle: float
    from_third: float
    third_xy: tuple[float, float]
    from_third_line: float
    headroom: float
    below: float


def placement(region: Sequence[float], aspect: float) -> Placement:
    """Where a figure stands in the frame, from the region that a person marked.

    Parameters
    ----------
    region
        (x, y, width, height).
    aspect
        Width of the frame over its height.

    Raises
    ------
    CannotMeasure
        where the region has no extent or reaches outside, or the aspect is not above 0.
    """
    x, y, width, height = check_region(region)
    if not (math.isfinite(aspect) and aspect > 0):
        raise CannotMeasure(f"{aspect} is no proportion of a frame.", "Give its width over its height.")
    centre = (x + width / 2, y + height / 2)
    diagonal = math.hypot(aspect, 1.0)

    def away(place: tuple[float, float]) -> float:
        return math.hypot((centre[0] - place[0]) * aspect, centre[1] - place[1]) / diagonal

    third = min(((a / 3, b / 3) for b in (1, 2) for a in (1, 2)), key=away)
    return Placement(
        centre_xy=centre,
        width=width,
        height=height,
        area=width * height,
        from_middle=away((0.5, 0.5)),
        from_third=away(third),
        third_xy=third,
        from_third_line=min(abs(centre[0] - 1 / 3), abs(centre[0] - 2 / 3)),
        headroom=max(0.0, y),
        below=max(0.0, 1.0 - y - height),
    )


def check_region(region: Sequence[float]) -> Region:
    """The region, refused unless it is four numbers, has extent and lies inside the picture.

    Raises
    ------
    CannotMeasure
        where it is not.
    """
    try:
        x, y, width, height = (float(value) for value in region)
    except (TypeError, ValueError) as error:
        raise CannotMeasure("A region is four numbers.", "Give x, y, width and height as fractions 0–1.") from error
    slack = 1e-9
    if not all(math.isfinite(value) for value in (x, y, width, height)) or width <= 0 or height <= 0:
        raise CannotMeasure("The region has no extent.", "Give x, y, width and height as fractions 0–1.")
    if x < -slack or y < -slack or x + width > 1 + slack or y + height > 1 + slack:
        raise CannotMeasure("The region reaches outside the picture.", "Give x, y, width and height as fractions 0–1.")
    return x, y, width, height


# -- layout --------


@dataclass(frozen=True)
class Layout:
    """How alike the values of two pictures are laid out: −1 where opposite, 0 unrelated, 1 alike; None: cannot tell.

    kept: the share of the first and of the second picture that was compared after cutting to one proportion.
    """

    likeness: float | None
    kept: tuple[float, float]
    sentence: str


def layout_likeness(first: ArrayLike, second: ArrayLike) -> Layout:
    """How alike the light and dark of two pictures are laid out, squinted at: from −1 to 1.

    Both are cut around the middle to the narrower one's proportions, averaged in linear light to 24 × 16 cells (16 × 24
    if upright) and blurred by one cell; the figure is the correlation (Pearson's) of the cells' L*. Exposure and
    contrast barely move it, what is pictured does not come into it. Pictures whose proportions differ by more than one
    and a half are not compared.

    Raises
    ------
    CannotMeasure
        where one is not a picture.
    """
    one, two = colour.check_picture(first), colour.check_picture(second)
    wide_one, wide_two = one.shape[1] / one.shape[0], two.shape[1] / two.shape[0]
    aspect = min(wide_one, wide_two)
    kept = (aspect / wide_one, aspect / wide_two)
    if min(kept) < 1.0 / MOST_ASPECT:
        said = f"Cannot tell: the proportions differ too much ({wide_one:.2f} and {wide_two:.2f} wide for 1 high)."
        return Layout(None, kept, said)
    columns, rows = LAYOUT_CELLS if aspect >= 1.0 else LAYOUT_CELLS[::-1]
    cells = []
    for picture, share in zip((one, two), kept, strict=True):
        light = colour.reduced(_middle_part(picture, share), tone.TONE_PIXELS) @ colour.LUMINANCE
        cells.append(tone.luminance_to_lightness(tone._blurred(_resized(light, columns, rows), LAYOUT_BLUR)))
    for grid, name in zip(cells, ("first", "second"), strict=True):
        if grid.std() < LEAST_LAYOUT_SPREAD:
            return Layout(None, kept, f"Cannot tell: the {name} picture is even, there is no layout in it.")
    likeness = float(np.clip(np.corrcoef(cells[0].ravel(), cells[1].ravel())[0, 1], -1.0, 1.0))
    said = f"Layout of light and dark alike by {likeness:+.2f} (from −1, opposite, to 1)."
    if min(kept) < 0.995:
        name, share = ("first", kept[0]) if kept[0] < kept[1] else ("second", kept[1])
        said += f" Of the {name} picture, {100 * (1 - share):.0f} % was cut off at the sides."
    return Layout(likeness, kept, said)


def _middle_part(picture: colour.Picture, share: float) -> colour.Picture:
    """The middle of a picture, so much of its width."""
    columns = picture.shape[1]
    kept = max(1, round(columns * share))
    start = (columns - kept) // 2
    return picture[:, start : start + kept]
