"""Warmth: the colour of a picture, or of a part of it, read as if it were a white light.

The correlated colour temperature is that of the black body nearest in colour, in kelvin; Duv says how far the colour
lies from those of black bodies in the CIE 1960 diagram, above (greener) or below it (pinker). Differences are given in
mired, a million over kelvin, in which equal steps look about alike.

A file holds what its white balance made of the light. Balanced to its own light a picture reads about 6500 K, the white
of sRGB, whatever lit it: what is told is the warmth of the picture, not of the lamp.

Sources: Ohno 2014 (method, as in colour-science); CIE 15 (the term; that it has no meaning beyond |Duv| 0.05 is from
memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, tone
from refarchive.looks.quiet import quiet

Array = NDArray[np.float64]

LEAST_K, MOST_K = 1_000.0, 25_000.0
MOST_DUV = 0.05
NEUTRAL_DUV = 0.006  # daylight lies about 0.003 above the black bodies (CIE 15); twice that goes unsaid (ours)
LEAST_LUMINANCE = 0.0005  # mean, of white: below it a step of 8 bits changes the colour visibly (ours)
MOST_CLIPPED = 0.5  # of the pixels, without which the rest speaks for too little (ours)


@dataclass(frozen=True)
class Warmth:
    """The warmth of a colour, or why it has none; `cct_k` and `duv` are None for cannot tell."""

    cct_k: float | None
    duv: float | None
    sentence: str

    @property
    def mired(self) -> float | None:
        """A million over the temperature."""
        return None if self.cct_k is None else 1e6 / self.cct_k


def warmth_of_xy(xy: ArrayLike) -> Warmth:
    """The warmth of a chromaticity x, y (CIE 1931).

    >>> round(warmth_of_xy((0.4476, 0.4074)).cct_k, -1)
    2860.0

    Raises
    ------
    CannotMeasure
        where it is not two numbers of a chromaticity.
    """
    from colour.temperature import uv_to_CCT_Ohno2013

    place = np.asarray(xy, dtype=np.float64)
    if place.shape != (2,) or not np.isfinite(place).all() or place[1] <= 0 or place.min() < 0 or place.sum() > 1:
        raise CannotMeasure("A chromaticity is two numbers, x and y, that sum to at most 1.")
    x, y = (float(value) for value in place)
    scale = 12.0 * y - 2.0 * x + 3.0
    with quiet():  # of colours beyond the method's table, which are refused below
        cct, duv = (float(value) for value in uv_to_CCT_Ohno2013(np.array([4.0 * x / scale, 6.0 * y / scale])))
    if not (math.isfinite(cct) and math.isfinite(duv)):
        return Warmth(None, None, "Cannot tell: no black body is near this colour.")
    side = "green" if duv > 0 else "pink"
    if abs(duv) > MOST_DUV:
        said = f"Cannot tell: the colour is too {side} to be called warm or cool (Duv {duv:+.3f})."
        return Warmth(None, None, said.replace("-", "−"))
    if not LEAST_K <= cct <= MOST_K:
        return Warmth(None, None, f"Cannot tell: beyond {LEAST_K:.0f} to {MOST_K:.0f} K a temperature says nothing.")
    off = "" if abs(duv) < NEUTRAL_DUV else f", a little {side} (Duv {duv:+.3f})".replace("-", "−")
    return Warmth(cct, duv, f"About {_rounded(cct):.0f} K, {1e6 / cct:.0f} mired{off}.")


def warmth(picture: ArrayLike) -> Warmth:
    """The warmth of a picture or a part of one: of its mean in linear light, pixels clipped in a channel left out.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    if array.dtype != np.uint8:
        colour.linear(array)  # refuses values outside 0–1, which would pass for clipped
    top = tone.BLOWN_FROM if array.dtype == np.uint8 else tone.BLOWN_FROM / 255.0
    kept = (array < top).all(axis=-1)
    clipped = 1.0 - float(kept.mean())
    if clipped > MOST_CLIPPED:
        return Warmth(None, None, f"Cannot tell: {100 * clipped:.0f} % of it is clipped in some channel.")
    if int(kept.sum()) < colour.SWATCH_LEAST_PIXELS:
        return Warmth(None, None, f"Cannot tell: it has {int(kept.sum())} pixels, too few to read.")
    total = np.zeros(3)
    for row, of in zip(array, np.asarray(kept), strict=True):
        total += colour.linear(row[of]).sum(axis=0)
    xyz = colour.TO_XYZ_D65 @ (total / int(kept.sum()))
    if xyz[1] < LEAST_LUMINANCE:
        return Warmth(None, None, "Cannot tell: it is too dark for a colour.")
    return warmth_of_xy(xyz[:2] / xyz.sum())


def mired_shift(from_k: float, to_k: float) -> float:
    """The shift in mired from one temperature to another; positive is warmer.

    >>> round(mired_shift(5600, 3200), 4)
    133.9286

    Raises
    ------
    CannotMeasure
        where one is not above 0.
    """
    if not (math.isfinite(from_k) and math.isfinite(to_k) and from_k > 0 and to_k > 0):
        raise CannotMeasure("A colour temperature is a number of kelvin above 0.")
    return 1e6 / to_k - 1e6 / from_k


def white_xyz(cct_k: float, duv: float = 0.0) -> Array:
    """XYZ (Y = 1) of the colour with this temperature and Duv (Ohno 2014)."""
    from colour.temperature import CCT_to_uv_Ohno2013

    u, v = (float(value) for value in CCT_to_uv_Ohno2013(np.array([cct_k, duv])))
    scale = 2.0 * u - 8.0 * v + 4.0
    x, y = 3.0 * u / scale, 2.0 * v / scale
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def _rounded(cct_k: float) -> float:
    """To two figures, or three below 10 000 K; nothing finer can be seen."""
    return round(cct_k, -2)
