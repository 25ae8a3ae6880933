"""A chart of 24 patches in the picture: how far its colours lie from the published ones, and what cast explains it.

The person marks the corners and says which edition of the chart it is, because the pigments were changed in November
2014; nothing is guessed. Each patch is the mean in linear light of its middle, so that borders and small slips of the
corners stay out. Two explanations are fitted in linear light and tried: a gain for each channel from the grey row, as
white balance does it, and a matrix over all patches, as a camera profile does it. What is left after them is said.

Source: the maker's Lab values (D50) as colour-science carries them. Thresholds are ours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, tone

Array = NDArray[np.float64]
Corner = tuple[float, float]

EDITIONS = {
    "before November 2014": "ColorChecker24 - Before November 2014",
    "after November 2014": "ColorChecker24 - After November 2014",
}
ROWS, COLUMNS = 4, 6
GREYS = slice(18, 24)  # the lowest row, from white to black
MIDDLE = 0.5  # part of each cell that is read, across and down
SAMPLES = 16  # points along a side of that part
LEAST_PATCH_PX = 6.0  # of a cell, along its shorter side
LEAST_PATCHES = 12  # unclipped, for a matrix
LEAST_ORDER = 0.85  # rank correlation of the lightness of patches with the published one
MOST_LEFT = 6.0  # mean ΔE00 after the matrix, beyond which it is no such chart, or badly marked
DOUBTFUL = 8.0  # ΔE00 of one patch after the matrix, from which it is named: something lies on it, or it is another
MOST_LEFT_OF_ONE = 20.0  # and from which the whole is not told
OTHER_FITS = 0.85  # of what is left: where the other edition leaves less than this part of it, that is said


@dataclass(frozen=True)
class Patch:
    """One patch: its name in the trade, the colour in the file, the published one, and ΔE00 between them.

    clipped: whether it lost its colour at either end of the file's range; then it takes no part in the fits.
    """

    name: str
    hex: str
    published_lab: tuple[float, float, float]
    difference: float
    clipped: bool


@dataclass(frozen=True, eq=False)
class Reading:
    """A chart as read, or why it cannot be told; then only `patches`, `edition` and `sentence` say something.

    mean, most: ΔE00 over the unclipped patches as they are. exposure_stops: by which the greys lie above the published
    ones. gains: linear R, G, B to multiply by; balanced: mean ΔE00 then. matrix: (3, 3) for linear RGB rows from the
    right; fitted, fitted_most: mean and largest ΔE00 then. median: ΔE00 as they are; balanced_most: the largest after
    the gains. doubtful: names of patches that are `DOUBTFUL` off even after the matrix. other_edition: mean ΔE00 that a
    matrix to the other edition would leave.
    """

    edition: str
    patches: tuple[Patch, ...]
    mean: float | None
    most: float | None
    exposure_stops: float | None
    gains: tuple[float, float, float] | None
    balanced: float | None
    matrix: Array | None
    fitted: float | None
    fitted_most: float | None
    sentence: str
    median: float | None = None
    balanced_most: float | None = None
    doubtful: tuple[str, ...] = ()
    other_edition: float | None = None


def published(edition: str) -> tuple[tuple[str, ...], Array]:
    """Names and Lab (24, 3) of the patches, row by row from the dark skin to the black.

    Raises
    ------
    CannotMeasure
        for an edition there is none of.
    """
    import colour as science

    if edition not in EDITIONS:
        raise CannotMeasure(
            f"There is no edition {edition[:40]!r} of the chart.",
            f"Look on its back, and say one of: {', '.join(EDITIONS)}.",
        )
    chart = science.CCS_COLOURCHECKERS[EDITIONS[edition]]
    xyz = science.xyY_to_XYZ(np.array(list(chart.data.values())))
    white = np.asarray(science.xy_to_XYZ(chart.illuminant), dtype=np.float64)
    return tuple(chart.data), colour.xyz_to_lab(np.asarray(xyz) / white * colour.D50)


def read_chart(picture: ArrayLike, corners: Sequence[Corner], edition: str) -> Reading:
    """Read a chart.

    Parameters
    ----------
    picture
        Upright sRGB.
    corners
        The outer corners of the field of patches as fractions (x, y) of the picture: by the dark skin, by the bluish
        green, by the black, by the white; the chart may lie at any angle, but not mirrored.
    edition
        One of `EDITIONS`.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or the corners lie outside, cross, run the wrong way round or span too little.
    """
    array = colour.check_picture(picture)
    names, lab = published(edition)
    light, clipped = _read(array, _checked(corners, array.shape))
    measured = colour.linear_to_lab(light)
    off = colour.delta_e_2000(measured, lab)
    patches = tuple(
        Patch(name, colour.lab_to_hex(own), (float(there[0]), float(there[1]), float(there[2])), float(far), bool(lost))
        for name, own, there, far, lost in zip(names, measured, lab, off, clipped, strict=True)
    )
    kept = ~clipped
    if int(kept.sum()) < LEAST_PATCHES or not kept[GREYS].any():
        said = f"Cannot tell: {int(clipped.sum())} of 24 patches are clipped. Take the chart with less light, or more."
        return _untold(edition, patches, said)
    order = _rank_correlation(measured[kept, 0], lab[kept, 0])
    if not order >= LEAST_ORDER:
        said = (
            f"Cannot tell: the lightness of its patches does not run as on the chart (rank correlation {order:.2f})."
            " Mark the corners from the dark skin by the bluish green and the black to the white."
        )
        return _untold(edition, patches, said)
    if not (np.diff(measured[GREYS, 0][kept[GREYS]]) < 0).all():
        said = (
            "Cannot tell: its grey row does not darken from patch to patch. Mark the corners so that the white lies by"
            " the fourth and the black by the third, and see that no glare or shadow lies on the greys."
        )
        return _untold(edition, patches, said)
    wanted = colour.lab_to_linear(lab)
    greys = kept.copy()
    greys[: GREYS.start] = False
    gains = (light[greys] * wanted[greys]).sum(axis=0) / np.maximum((light[greys] ** 2).sum(axis=0), 1e-12)
    matrix = _matrix(light[kept], wanted[kept])
    balanced, fitted = (
        colour.delta_e_2000(colour.linear_to_lab(light[kept] @ change), lab[kept])
        for change in (np.diag(gains), matrix)
    )
    own_names = [name for name, stays in zip(names, kept, strict=True) if stays]
    if float(fitted.mean()) > MOST_LEFT or float(fitted.max()) > MOST_LEFT_OF_ONE:
        said = (
            f"Cannot tell: even the best matrix leaves {fitted.mean():.1f} ΔE00 on average, and {fitted.max():.0f} at"
            f" {own_names[int(fitted.argmax())]}. It is no such chart, its corners are off, or uneven light lies on it."
        )
        return _untold(edition, patches, said)
    (other,) = (name for name in EDITIONS if name != edition)
    other_lab = published(other)[1][kept]
    other_light = light[kept] @ _matrix(light[kept], colour.lab_to_linear(other_lab))
    other_left = float(colour.delta_e_2000(colour.linear_to_lab(other_light), other_lab).mean())
    doubtful = tuple(name for name, left in zip(own_names, fitted, strict=True) if left >= DOUBTFUL)
    stops = float(-np.log2(gains @ colour.LUMINANCE))
    worst = sorted((p for p in patches if not p.clipped), key=lambda p: -p.difference)[:3]
    said = (
        f"As it is, {off[kept].mean():.1f} ΔE00 from the published colours on average, most at"
        f" {', '.join(f'{p.name} ({p.difference:.0f})' for p in worst)}; exposed {abs(stops):.1f} stops"
        f" {'above' if stops > 0 else 'below'} them. White balance from the greys would leave {balanced.mean():.1f},"
        f" a camera profile {fitted.mean():.1f} (at most {fitted.max():.1f})."
    )
    if clipped.any():
        said += f" Left out as clipped: {', '.join(p.name for p in patches if p.clipped)}."
    if doubtful:
        said += f" These do not fit: {', '.join(doubtful)}; see whether something lies on them."
    if other_left < OTHER_FITS * float(fitted.mean()):
        said += f" The edition {other} would fit better ({other_left:.1f}): look on its back."
    red, green, blue = (float(gain) for gain in gains)
    return Reading(
        edition,
        patches,
        float(off[kept].mean()),
        float(off[kept].max()),
        stops,
        (red, green, blue),
        float(balanced.mean()),
        matrix,
        float(fitted.mean()),
        float(fitted.max()),
        said,
        median=float(np.median(off[kept])),
        balanced_most=float(balanced.max()),
        doubtful=doubtful,
        other_edition=other_left,
    )


def corrected(picture: ArrayLike, matrix: ArrayLike) -> NDArray[np.uint8]:
    """The picture (H, W, 3) with its linear light times a matrix (3, 3) from the right; what leaves sRGB is clipped.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or the matrix is none.
    """
    array = colour.check_picture(picture)
    turn = np.asarray(matrix, dtype=np.float64)
    if turn.shape != (3, 3) or not np.isfinite(turn).all():
        raise CannotMeasure("A correction is a matrix of 3 × 3 numbers.")
    return np.stack([np.rint(colour.encoded(colour.linear(row) @ turn) * 255.0).astype(np.uint8) for row in array])


def _matrix(light: Array, wanted: Array) -> Array:
    """The matrix (3, 3) from the right that brings light (n, 3) nearest to the wanted, by least squares."""
    return np.asarray(np.linalg.lstsq(light, wanted, rcond=None)[0], dtype=np.float64)


def _untold(edition: str, patches: tuple[Patch, ...], said: str) -> Reading:
    return Reading(edition, patches, None, None, None, None, None, None, None, None, said)


def _checked(corners: Sequence[Corner], shape: tuple[int, ...]) -> Array:
    """The corners in pixels, refused unless they are four, inside, and run clockwise around an area."""
    try:
        points = np.asarray(corners, dtype=np.float64)
    except (TypeError, ValueError):
        points = np.zeros(0)
    if points.shape != (4, 2) or not np.isfinite(points).all():
        raise CannotMeasure("A chart has four corners.", "Give x and y of each, as fractions 0–1.")
    if points.min() < 0 or points.max() > 1:
        raise CannotMeasure("A corner of the chart lies outside the picture.", "Give fractions 0–1.")
    places = points * np.array([shape[1], shape[0]])
    sides = np.roll(places, -1, axis=0) - places
    turns = sides[:, 0] * np.roll(sides, -1, axis=0)[:, 1] - sides[:, 1] * np.roll(sides, -1, axis=0)[:, 0]
    if (turns < 0).all():
        raise CannotMeasure("The corners run the wrong way round.", "A mirrored chart is not read: mirror it back.")
    if not (turns > 0).all():
        raise CannotMeasure("The lines between the corners cross, or lie in one line.", "Go round the chart once.")
    lengths = np.hypot(sides[:, 0], sides[:, 1]) / np.array([COLUMNS, ROWS, COLUMNS, ROWS])
    if lengths.min() < LEAST_PATCH_PX:
        raise CannotMeasure(
            f"Its patches are {lengths.min():.1f} pixels wide, and {LEAST_PATCH_PX:.0f} are needed.",
            "Take a larger picture of it.",
        )
    return np.asarray(places, dtype=np.float64)


def _read(array: colour.Picture, places: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Linear light (24, 3) of the patches, and which of them are clipped."""
    import cv2

    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    turn = cv2.getPerspectiveTransform(square, places.astype(np.float32))
    offsets = (np.arange(SAMPLES) + 0.5) / SAMPLES * MIDDLE + (1.0 - MIDDLE) / 2
    top = tone.BLOWN_FROM if array.dtype == np.uint8 else tone.BLOWN_FROM / 255.0
    low = tone.BLOCKED_TO if array.dtype == np.uint8 else tone.BLOCKED_TO / 255.0
    light, clipped = np.empty((24, 3)), np.zeros(24, dtype=bool)
    for number in range(24):
        row, column = divmod(number, COLUMNS)
        x, y = np.meshgrid((column + offsets) / COLUMNS, (row + offsets) / ROWS)
        spots = np.stack([x.ravel(), y.ravel(), np.ones(x.size)]).T @ turn.T
        spots = spots[:, :2] / spots[:, 2:]
        across = np.clip(spots[:, 0].astype(np.int64), 0, array.shape[1] - 1)
        down = np.clip(spots[:, 1].astype(np.int64), 0, array.shape[0] - 1)
        seen = array[down, across]
        light[number] = colour.linear(seen).mean(axis=0)
        clipped[number] = bool((seen >= top).any(axis=-1).mean() > 0.02 or (seen <= low).all(axis=-1).mean() > 0.02)
    return light, clipped


def _rank_correlation(first: Array, second: Array) -> float:
    from scipy.stats import rankdata

    one, two = rankdata(first), rankdata(second)
    if one.std() == 0 or two.std() == 0:
        return math.nan
    return float(np.corrcoef(one, two)[0, 1])
