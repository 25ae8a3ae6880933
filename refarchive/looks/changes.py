"""A picture as it would be after a small change: more or less light, lighter or darker shadows, a shift of its colours.

Changes are made in linear light (or Lab) and coded back to the bits of the picture, clipping included, so that what is
measured afterwards is what a file would hold. They show what a change would do; they are no development of a picture.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.looks import colour

Picture = NDArray[np.uint8]

ROWS = 256  # handled at a time


def with_gain(picture: ArrayLike, stops: float) -> Picture:
    """The picture with its light times 2^stops, (H, W, 3) uint8; what goes beyond white is clipped there.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    if array.dtype == np.uint8:  # 256 values, each changed once
        table = colour.encoded(colour.linear(np.arange(256, dtype=np.uint8)) * 2.0**stops)
        return np.asarray(np.rint(table * 255.0).astype(np.uint8)[array])
    return _by_rows(array, lambda rows: colour.encoded(colour.linear(rows) * 2.0**stops))


def with_shadows(picture: ArrayLike, stops: float, *, from_luminance: float, to_luminance: float) -> Picture:
    """The picture with its darker part times 2^stops: in full at `from_luminance` and below, not at all from
    `to_luminance` on, evenly in stops between. Both 0–1; hue is kept.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    low, high = np.log2(max(from_luminance, 1e-6)), np.log2(max(to_luminance, 2e-6))
    span = max(float(high - low), 1e-6)

    def darker(rows: NDArray[Any]) -> NDArray[np.float64]:
        light = colour.linear(rows)
        depth = np.clip((high - np.log2(np.maximum(light @ colour.LUMINANCE, 1e-6))) / span, 0.0, 1.0)
        return colour.encoded(light * 2.0 ** (stops * depth)[..., None])

    return _by_rows(array, darker)


def with_shift(picture: ArrayLike, shift_lab: ArrayLike) -> Picture:
    """The picture with every colour moved by the same (L*, a*, b*); what sRGB cannot show is clipped.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    shift = np.asarray(shift_lab, dtype=np.float64)
    return _by_rows(array, lambda rows: colour.lab_to_srgb(colour.srgb_to_lab(rows) + shift))


def _by_rows(array: NDArray[Any], change: Callable[[NDArray[Any]], NDArray[np.float64]]) -> Picture:
    out = np.empty(array.shape, dtype=np.uint8)
    for start in range(0, len(array), ROWS):
        out[start : start + ROWS] = np.rint(change(array[start : start + ROWS]) * 255.0)
    return out


def with_warmth(picture: ArrayLike, cct_k: float, duv: float, to_k: float) -> Picture:
    """The picture with a white of one colour temperature brought to that of another, as white balance does it.

    The Bradford transform in linear light; what falls outside sRGB is clipped. `duv` is kept. Temperatures in kelvin.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    from refarchive.looks.warmth import white_xyz

    array = colour.check_picture(picture)
    adapted = colour.adaptation(white_xyz(cct_k, duv), white_xyz(to_k, duv))
    turned = np.linalg.solve(colour.TO_XYZ_D65, adapted @ colour.TO_XYZ_D65)
    return _by_rows(array, lambda rows: colour.encoded(colour.linear(rows) @ turned.T))
