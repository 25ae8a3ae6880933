"""Where in a picture each colour of its palette sits, and the picture painted in those colours alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.studies import place

Array = NDArray[np.float64]
Region = tuple[float, float, float, float]

MIDDLE_PART = 0.9  # of a colour's pixels across, and down, that its region holds (ours)
ALL_ALONG = 0.7  # of the width or height, from which a colour runs along it (ours)


@dataclass(frozen=True)
class Place:
    """Where one colour sits.

    share: of the picture whose nearest palette colour it is. centre_xy: the mean place of those pixels. region: (x, y,
    width, height) that holds the middle nine tenths of them across and down; None where no pixel is nearest to it. All
    as fractions 0–1 from the top left. words: the same, as one says it.
    """

    share: float
    centre_xy: tuple[float, float]
    region: Region | None
    words: str


def places(picture: ArrayLike, lab: ArrayLike) -> tuple[Place, ...]:
    """Where each of the colours `lab` (k, 3) sits in a picture, in their order; shares sum to 1.

    Every pixel of the area-averaged picture counts for the colour nearest to it in Lab, as the palette was found.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or there are no colours.
    """
    nearest, count = _nearest(picture, lab)
    rows, columns = nearest.shape
    found = []
    for number in range(count):
        y, x = np.nonzero(nearest == number)
        if not len(x):
            found.append(Place(0.0, (0.5, 0.5), None, "nowhere"))
            continue
        across, down = (x + 0.5) / columns, (y + 0.5) / rows
        left, right = _middle(across, 0.5 / columns)
        top, bottom = _middle(down, 0.5 / rows)
        centre = (float(across.mean()), float(down.mean()))
        words = _words(centre, right - left, bottom - top)
        found.append(Place(len(x) / nearest.size, centre, (left, top, right - left, bottom - top), words))
    return tuple(found)


def painted(picture: ArrayLike, lab: ArrayLike) -> NDArray[np.uint8]:
    """The picture with every pixel in the nearest of the colours `lab` (k, 3): uint8 (h, w, 3) at the palette's scale.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or there are no colours.
    """
    nearest, _ = _nearest(picture, lab)
    shown = np.rint(colour.lab_to_srgb(np.asarray(lab, dtype=np.float64)) * 255.0).astype(np.uint8)
    return np.asarray(shown[nearest])


def _nearest(picture: ArrayLike, lab: ArrayLike) -> tuple[NDArray[np.int64], int]:
    colours = np.asarray(lab, dtype=np.float64)
    if colours.ndim != 2 or colours.shape[1] != 3 or not len(colours) or not np.isfinite(colours).all():
        raise CannotMeasure("Places need at least one colour, of the shape (k, 3).")
    values = colour.linear_to_lab(colour.reduced(picture))
    distances = np.stack([((values - one) ** 2).sum(axis=-1) for one in colours])
    return distances.argmin(axis=0), len(colours)


def _middle(at: Array, half: float) -> tuple[float, float]:
    """From where to where the middle part of pixels reaches that are so wide."""
    rest = 50.0 * (1.0 - MIDDLE_PART)
    low, high = (float(v) for v in np.percentile(at, [rest, 100.0 - rest]))
    return max(0.0, low - half), min(1.0, high + half)


def _words(centre: tuple[float, float], width: float, height: float) -> str:
    across = ("the left", "the middle", "the right")[min(2, int(centre[0] * 3))]
    down = ("the top", "the middle", "the bottom")[min(2, int(centre[1] * 3))]
    if width >= ALL_ALONG and height >= ALL_ALONG:
        return "all over"
    if width >= ALL_ALONG:
        return f"along {down}"
    if height >= ALL_ALONG:
        return f"down {across}"
    return place(centre)
