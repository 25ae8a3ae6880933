"""Light and dark in a picture: CIE L*, its distribution, key, distance of two pictures in values, and a squint view.

L* is that of `refarchive.looks.colour` (D50), 0 black to 100 white; middle grey of 18 % is L* 49.5. Pictures are
brought to one viewing scale first, by area averages in linear light, so that a large frame and a small scan compare
alike: half black and half white finely mixed is L* 76, not 50.

No standard says what "low key" or "high key" means: the thresholds here are ours, published below (common practice, no
source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour

Array = NDArray[np.float64]

TONE_PIXELS = 65_536  # the viewing scale: at most this many pixels after area averaging
BLOWN_FROM, BLOCKED_TO = 254, 1  # all three 8-bit values at or beyond: nothing is left to print or to lift

# Common practice, no source: the word for a median L*, by its upper end.
KEY_WORDS: tuple[tuple[float, str], ...] = (
    (25.0, "very low key"),
    (40.0, "low key"),
    (60.0, "middle key"),
    (75.0, "high key"),
    (100.0, "very high key"),
)


def luminance_to_lightness(luminance: ArrayLike) -> Array:
    """CIE L* (0–100) of luminance relative to white (0–1).

    >>> round(float(luminance_to_lightness(0.18)), 4)
    49.4961
    """
    y = np.asarray(luminance, dtype=np.float64)
    return np.where(y > 216.0 / 24389.0, 116.0 * np.cbrt(y) - 16.0, y * (24389.0 / 27.0))


def lightness_to_luminance(lightness: ArrayLike) -> Array:
    """Luminance relative to white (0–1) of CIE L* (0–100)."""
    value = np.asarray(lightness, dtype=np.float64)
    return np.where(value > 8.0, ((value + 16.0) / 116.0) ** 3, value / (24389.0 / 27.0))


def lightness(picture: ArrayLike) -> Array:
    """L* of every pixel, (H, W), unreduced.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    return np.stack([luminance_to_lightness(colour.linear(row) @ colour.LUMINANCE) for row in array])


def viewed_lightness(picture: ArrayLike, most_pixels: int = TONE_PIXELS) -> Array:
    """L* at the viewing scale, (h, w): area-averaged in linear light first."""
    return luminance_to_lightness(colour.reduced(picture, most_pixels) @ colour.LUMINANCE)


@dataclass(frozen=True)
class Tone:
    """How light and dark lie in a picture, all in L* and in shares 0–1 of its area.

    median, p5, p95: percentiles of L* at the viewing scale. spread: p95 − p5. average: L* of the mean luminance.
    bands: shares of L* 0–20, 20–40, 40–60, 60–80, 80–100. blown, blocked: shares of the unreduced pixels whose three
    values are all at least 254, or all at most 1, of 255.
    """

    median: float
    p5: float
    p95: float
    spread: float
    average: float
    bands: tuple[float, float, float, float, float]
    blown: float
    blocked: float


def tone_summary(picture: ArrayLike) -> Tone:
    """Measure a picture's values.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    luminance = colour.reduced(array, TONE_PIXELS) @ colour.LUMINANCE
    values = luminance_to_lightness(luminance)
    p5, median, p95 = (float(v) for v in np.percentile(values, [5.0, 50.0, 95.0]))
    counts = np.bincount(np.clip((values.ravel() / 20.0).astype(np.int64), 0, 4), minlength=5)
    one, two, three, four, five = (float(count / values.size) for count in counts)
    top, bottom = (BLOWN_FROM, BLOCKED_TO) if array.dtype == np.uint8 else (BLOWN_FROM / 255.0, BLOCKED_TO / 255.0)
    pixels = array.shape[0] * array.shape[1]
    blown = sum(int((row >= top).all(axis=-1).sum()) for row in array)
    blocked = sum(int((row <= bottom).all(axis=-1).sum()) for row in array)
    return Tone(
        median=median,
        p5=p5,
        p95=p95,
        spread=p95 - p5,
        average=float(luminance_to_lightness(luminance.mean())),
        bands=(one, two, three, four, five),
        blown=blown / pixels,
        blocked=blocked / pixels,
    )


def key_word(median: float) -> str:
    """The word for a median L* by `KEY_WORDS` (common practice, no source); a value on a threshold is upper.

    Raises
    ------
    CannotMeasure
        where the value is no L*.
    """
    if not 0.0 <= median <= 100.0:
        raise CannotMeasure(f"{median} is not a lightness.", "L* runs from 0 to 100.")
    return next((word for end, word in KEY_WORDS if median < end), KEY_WORDS[-1][1])


def distribution_distance(first: ArrayLike, second: ArrayLike) -> float:
    """Earth mover's distance of two sets of numbers, each of equal weight in its set: the area between their
    cumulative distributions, in the unit of the numbers.

    Raises
    ------
    CannotMeasure
        where a set is empty or holds what is no number.
    """
    # A stable sort merges what is in order already, so that sets sorted beforehand cost next to nothing here.
    one = np.sort(np.asarray(first, dtype=np.float64).ravel(), kind="stable")
    two = np.sort(np.asarray(second, dtype=np.float64).ravel(), kind="stable")
    if not (one.size and two.size and np.isfinite(one).all() and np.isfinite(two).all()):
        raise CannotMeasure("A distribution needs at least one number, and numbers only.")
    if one.size == two.size:
        return float(np.abs(one - two).mean())
    both = np.sort(np.concatenate([one, two]), kind="stable")
    below_one = np.searchsorted(one, both[:-1], side="right") / one.size
    below_two = np.searchsorted(two, both[:-1], side="right") / two.size
    return float((np.abs(below_one - below_two) * np.diff(both)).sum())


def tone_distance(first: ArrayLike, second: ArrayLike) -> float:
    """How far the values of two pictures lie apart, in L*: what each pixel's L* must move on average to turn one
    distribution into the other. Where things stand in the picture plays no part.

    Raises
    ------
    CannotMeasure
        where one of them is not a picture.
    """
    return distribution_distance(viewed_lightness(first), viewed_lightness(second))


def _blurred(plane: Array, sigma: float) -> Array:
    """Gaussian blur of one plane (h, w), edges repeated; kernel cut at three sigma."""
    radius = max(1, round(3 * sigma))
    kernel = np.exp(-0.5 * (np.arange(-radius, radius + 1) / sigma) ** 2)
    kernel /= kernel.sum()
    for axis in (0, 1):
        padded = np.pad(plane, [(radius, radius) if a == axis else (0, 0) for a in (0, 1)], mode="edge")
        length = plane.shape[axis]
        plane = np.sum(
            [weight * np.take(padded, np.arange(k, k + length), axis=axis) for k, weight in enumerate(kernel)], axis=0
        )
    return plane


def value_study(picture: ArrayLike, levels: int = 3) -> NDArray[np.uint8]:
    """The squint view: a grey uint8 picture (h, w, 3) in `levels` flat values, 3 or 5, of equal bands of L*.

    The picture is averaged and blurred in linear light (by 1 % of its longer edge), then each band takes the grey of
    its middle. It comes back with at most `TONE_PIXELS` pixels and the picture's proportions.

    Raises
    ------
    CannotMeasure
        for another number of levels, or where it is not a picture.
    """
    if levels not in (3, 5):
        raise CannotMeasure(f"A value study has 3 or 5 levels, not {levels}.")
    luminance = colour.reduced(picture, TONE_PIXELS) @ colour.LUMINANCE
    values = luminance_to_lightness(_blurred(luminance, max(0.5, 0.01 * max(luminance.shape))))
    band = np.clip((values * (levels / 100.0)).astype(np.int64), 0, levels - 1)
    middles = (np.arange(levels) + 0.5) * (100.0 / levels)
    greys = np.rint(colour.encoded(lightness_to_luminance(middles)) * 255.0).astype(np.uint8)
    return np.repeat(greys[band][:, :, None], 3, axis=2)
