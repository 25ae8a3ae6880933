"""How soft a shadow's edge is, and how many stops lie between the lit side and the shadow side.

Both work on scene-linear light. From raw files and linear TIFF, stops are stops; from an ordinary JPEG the camera's
tone curve stays in, and what comes out is marked as a tone-mapped estimate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure

Array = NDArray[np.float64]

LEAST_FIT = 0.90  # share of the variance across the edge that one soft step must explain
LEAST_STEP = 0.10  # of the lighter side's light, between both sides of an edge
SHARPEST_PIXELS = 1.0  # standard deviation below which the file, not the light, sets the width
TEN_TO_NINETY = 2.5631031311  # standard deviations between a tenth and nine tenths of a normal distribution
MOST_CLIPPED = 0.02  # of a region's pixels: beyond, what was clipped is missing from the mean
ESTIMATE = "A tone-mapped estimate: the file is not scene-linear, so the camera's tone curve is in it."


@dataclass(frozen=True)
class Softness:
    """The width of one shadow edge, or why it cannot be told.

    width_px: from a tenth to nine tenths of the step, across the edge, in pixels of the patch; None for cannot tell.
    edge_deg: direction from dark to light, 0 to the right, 90 upwards. fit: share of variance explained. stops: between
    both sides.
    """

    width_px: float | None
    edge_deg: float | None
    stops: float | None
    fit: float
    sentence: str


def edge_softness(luminance: ArrayLike) -> Softness:
    """How soft the one edge in a marked patch is: a step blurred by a normal distribution is fitted across it.

    Parameters
    ----------
    luminance
        Scene-linear, (H, W), at least 8 by 8, with one straight shadow edge on one surface.

    Raises
    ------
    CannotMeasure
        where it is no such array.
    """
    from scipy.optimize import least_squares
    from scipy.special import ndtr

    light = _light(luminance)
    if min(light.shape) < 8:
        raise CannotMeasure(
            f"A patch of {light.shape[1]} × {light.shape[0]} pixels is too small.", "Mark a larger one."
        )
    own = light.ravel()
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    x, y = (x - x.mean()).ravel(), (y - y.mean()).ravel()
    start = _across(light)
    if start is None:
        return Softness(None, None, None, 0.0, "Cannot tell: there is no one straight edge in what is marked.")
    reach = float(np.hypot(*light.shape))
    dark, bright = (float(v) for v in np.percentile(own, [5, 95]))

    def distances(angle: float) -> Array:
        return np.asarray(x * math.cos(angle) + y * math.sin(angle))

    def off(p: Array) -> Array:
        return np.asarray(p[0] + p[1] * ndtr((distances(p[4]) - p[2]) / p[3]) - own)

    halfway = distances(start)[np.argsort(np.abs(own - (dark + bright) / 2))[: max(8, own.size // 50)]]
    fitted = least_squares(
        off,
        [dark, bright - dark, float(np.median(halfway)), reach / 10, start],
        bounds=([-np.inf, 0.0, -reach, 0.05, start - 0.5], [np.inf, np.inf, reach, reach, start + 0.5]),
        x_scale=[max(bright, 1e-9), max(bright - dark, 1e-9), reach / 10, reach / 10, 0.1],
    )
    low, step, place, sigma, angle = (float(v) for v in fitted.x)
    distance = distances(angle)
    variance = float(((own - own.mean()) ** 2).sum())
    fit = 1.0 - float((fitted.fun**2).sum()) / variance if variance > 0 else 0.0
    tilt = math.degrees(-angle) % 360.0
    inside = distance.min() + 1.3 * sigma < place < distance.max() - 1.3 * sigma
    if fit < LEAST_FIT or not inside or step < LEAST_STEP * max(low + step, 1e-12):
        said = "Cannot tell: what is marked is not one edge with both its sides in view."
        return Softness(None, tilt, None, max(0.0, fit), said)
    stops = math.log2((low + step) / low) if low > 0 else None
    width = TEN_TO_NINETY * sigma
    if sigma < SHARPEST_PIXELS:
        said = f"As sharp as this file can show: {width:.1f} pixels or less from a tenth to nine tenths."
    else:
        said = f"{width:.0f} pixels from a tenth to nine tenths of the step."
    return Softness(width, tilt, stops, fit, said)


def _across(light: Array) -> float | None:
    """The angle across the one edge, dark to light, in radians from x to y; None where there is no one direction."""
    import cv2

    soft = cv2.GaussianBlur(light, (0, 0), max(1.0, 0.04 * min(light.shape)), borderType=cv2.BORDER_REFLECT)
    dy, dx = np.gradient(soft)
    mixed = float((dx * dy).sum())
    values, vectors = np.linalg.eigh(np.array([[float((dx * dx).sum()), mixed], [mixed, float((dy * dy).sum())]]))
    if values[1] <= 0 or values[0] > 0.5 * values[1]:
        return None
    towards = vectors[:, 1]
    sign = 1.0 if float((dx * towards[0] + dy * towards[1]).sum()) >= 0 else -1.0
    return math.atan2(sign * towards[1], sign * towards[0])


@dataclass(frozen=True)
class Ratio:
    """Lit side to shadow side, in stops; None for cannot tell. low, high: quartiles against quartiles."""

    stops: float | None
    low: float | None
    high: float | None
    linear: bool
    sentence: str


def lit_to_shadow(lit: ArrayLike, shadow: ArrayLike, *, scene_linear: bool, white: float = 1.0) -> Ratio:
    """How many stops the marked lit region lies above the marked shadow region, both of one surface.

    Parameters
    ----------
    lit, shadow
        Light of the pixels of each region, any shape, scene-linear or sRGB with its transfer curve undone.
    scene_linear
        Whether the file was scene-linear; if not, the answer says that it is an estimate.
    white
        The value at which the file clips.

    Raises
    ------
    CannotMeasure
        where a region is empty or holds what is no light.
    """
    one, two = _light(lit), _light(shadow)
    blown = float((one >= white * (254 / 255 if scene_linear else 0.991)).mean())
    dark = float((two <= 0).mean())
    if blown > MOST_CLIPPED:
        said = (
            f"Cannot tell: {100 * blown:.0f} % of the lit region is blown out, so it was brighter than the file shows."
        )
        return Ratio(None, None, None, scene_linear, said)
    if dark > MOST_CLIPPED or float(two.mean()) <= 0:
        said = f"Cannot tell: {100 * dark:.0f} % of the shadow region is blocked up, so how dark it was is lost."
        return Ratio(None, None, None, scene_linear, said)
    stops = math.log2(float(one.mean()) / float(two.mean())) if float(one.mean()) > 0 else 0.0
    quarters = [np.maximum(np.percentile(region, [25, 75]), 1e-12) for region in (one, two)]
    low = math.log2(float(quarters[0][0] / quarters[1][1]))
    high = math.log2(float(quarters[0][1] / quarters[1][0]))
    said = f"The lit region lies {stops:.1f} stops above the shadow region ({low:.1f} to {high:.1f} by quartiles)."
    return Ratio(stops, low, high, scene_linear, said if scene_linear else f"{said} {ESTIMATE}")


def _light(values: ArrayLike) -> Array:
    light = np.asarray(values, dtype=np.float64)
    if light.size == 0 or not np.isfinite(light).all() or (light < 0).any():
        raise CannotMeasure("The region holds no light that can be measured.", "Mark a region inside the picture.")
    return light
