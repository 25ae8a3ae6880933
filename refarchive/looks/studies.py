"""Studies of a picture's values: in three or five flat tones, where nothing is left in the lights and the darks, and
key and contrast in stops.

Tones and shares come from any picture. Stops come from scene-linear light alone, from raw files and linear TIFF: a
finished picture has a tone curve in it, and its stops would be those of the curve. What a change of exposure would do
is computed, and the picture it would give is made, so that it can be measured again. Regions are (x, y, width, height)
and places (x, y), as fractions 0–1 from the top left.

Sources: CIE 15 (L*); Reinhard, Stark, Shirley & Ferwerda 2002 (log-average luminance as a scene's key; from memory).
That a picture is studied in three or five tones is common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, tone

Array = NDArray[np.float64]
Region = tuple[float, float, float, float]

MIDDLE_GREY = 0.18
LEAST_AREA = 1e-4  # of the picture: smaller clipped areas count in the share but are not listed (ours)
MOST_CLIPPED = 0.02  # of the pixels at either end, beyond which stops are not told (ours)
NOT_LINEAR = "Cannot tell: stops come from scene-linear light only, and in this file the camera's tone curve is left."


@dataclass(frozen=True, eq=False)
class Study:
    """A picture in a few flat values, darkest first.

    thresholds: the L* between neighbouring values, one fewer than values. lightness: the L* each value is shown in.
    shares: of the area, summing to 1. values: (h, w) uint8, 0 the darkest. picture: (h, w, 3) uint8, the same in greys.
    """

    thresholds: tuple[float, ...]
    lightness: tuple[float, ...]
    shares: tuple[float, ...]
    values: NDArray[np.uint8]
    picture: NDArray[np.uint8]

    @property
    def sentence(self) -> str:
        """The shares in words, and the thresholds they rest on."""
        names = ("dark", "middle", "light") if len(self.shares) == 3 else ("black", "dark", "middle", "light", "white")
        parts = ", ".join(f"{name} {100 * share:.0f} %" for name, share in zip(names, self.shares, strict=True))
        return f"{parts}, parted at L* {', '.join(f'{t:.0f}' for t in self.thresholds)}."


def study(picture: ArrayLike, levels: int = 3) -> Study:
    """The picture in 3 or 5 values of equal bands of L*, squinted at (`tone.value_study`), with the share of each.

    Raises
    ------
    CannotMeasure
        for another number of levels, or where it is not a picture.
    """
    shown = tone.value_study(picture, levels)
    lightness = (np.arange(levels) + 0.5) * (100.0 / levels)
    greys = np.rint(colour.encoded(tone.lightness_to_luminance(lightness)) * 255.0)
    values = np.searchsorted(greys, shown[..., 0]).astype(np.uint8)
    counts = np.bincount(values.ravel(), minlength=levels)
    return Study(
        thresholds=tuple(100.0 * k / levels for k in range(1, levels)),
        lightness=tuple(float(v) for v in lightness),
        shares=tuple(float(c) / values.size for c in counts),
        values=values,
        picture=shown,
    )


def to_print(made: Study, longer_px: int = 2400) -> NDArray[np.uint8]:
    """The study enlarged for the printer, (H, W, 3) uint8, with a bar below it: each value as wide as its share.

    The contours are drawn smoothly; no value is added. The longer side of the picture itself is `longer_px`; 2400 is 20
    cm at 300 pixels to the inch.

    Raises
    ------
    CannotMeasure
        where the size is not from 16 to 20000 pixels.
    """
    import cv2

    if not 16 <= longer_px <= 20_000:
        raise CannotMeasure(f"{longer_px} pixels are no size to print at.", "Ask for 16 to 20000 pixels.")
    rows, columns = made.values.shape
    scale = longer_px / max(rows, columns)
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    enlarged = np.zeros((size[1], size[0]), dtype=np.uint8)
    for level in range(1, len(made.shares)):  # each contour by itself, so that no value comes in between two others
        above = (made.values >= level).astype(np.float32)
        enlarged += (cv2.resize(above, size, interpolation=cv2.INTER_LINEAR) >= 0.5).astype(np.uint8)
    gap, bar = max(1, longer_px // 100), max(2, longer_px // 25)
    greys = np.rint(colour.encoded(tone.lightness_to_luminance(np.array(made.lightness))) * 255.0).astype(np.uint8)
    ends = np.rint(np.cumsum(made.shares) * size[0])
    strip = greys[np.searchsorted(ends, np.arange(size[0]), side="right").clip(0, len(greys) - 1)]
    whole = np.concatenate(
        [greys[enlarged], np.full((gap, size[0]), 255, np.uint8), np.repeat(strip[None], bar, axis=0)]
    )
    return np.repeat(whole[:, :, None], 3, axis=2)


# -- what is clipped --------


@dataclass(frozen=True)
class Area:
    """One connected area: its share of the picture, the box around it, and the middle of its pixels."""

    share: float
    region: Region
    centre_xy: tuple[float, float]


@dataclass(frozen=True)
class Clipped:
    """What is blown out and what is blocked up: shares of the picture, and the largest areas, the largest first.

    The shares count every pixel; areas under `LEAST_AREA` of the picture are not listed.
    """

    blown: float
    blocked: float
    blown_areas: tuple[Area, ...]
    blocked_areas: tuple[Area, ...]

    @property
    def sentence(self) -> str:
        """Shares and the place of the largest area of each, in words."""
        said = [
            f"{100 * share:.1f} % {word}" + (f", the largest area {place(areas[0].centre_xy)}" if areas else "")
            for share, word, areas in (
                (self.blown, "blown out", self.blown_areas),
                (self.blocked, "blocked up", self.blocked_areas),
            )
            if share > 0
        ]
        return "; ".join(said) + "." if said else "Nothing is blown out or blocked up."


def place(xy: tuple[float, float]) -> str:
    """A place in the picture in words, by ninths.

    >>> place((0.9, 0.1)), place((0.5, 0.5)), place((0.1, 0.5))
    ('at the top right', 'in the middle', 'at the left')
    """
    across = ("left", "", "right")[min(2, int(xy[0] * 3))]
    down = ("top", "", "bottom")[min(2, int(xy[1] * 3))]
    words = " ".join(word for word in (down, across) if word)
    return f"at the {words}" if words else "in the middle"


def clipped(picture: ArrayLike, most: int = 5) -> Clipped:
    """Where a picture is blown out (all three 8-bit values at least 254) and blocked up (all at most 1).

    Pixels that touch by an edge or a corner make one area; `most` areas of each kind are listed.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or fewer than one area is asked for.
    """
    array = colour.check_picture(picture)
    if most < 1:
        raise CannotMeasure("At least one area must be asked for.")
    if array.dtype != np.uint8 and not _in_range(array):
        raise CannotMeasure("Some colour values lie outside the range 0–1.", "Divide by the largest value first.")
    scale = 1.0 if array.dtype == np.uint8 else 1.0 / 255.0
    white = np.stack([(row >= tone.BLOWN_FROM * scale).all(axis=-1) for row in array])
    blown, blown_areas = _areas(white, most)
    black = np.stack([(row <= tone.BLOCKED_TO * scale).all(axis=-1) for row in array])
    blocked, blocked_areas = _areas(black, most)
    return Clipped(blown, blocked, blown_areas, blocked_areas)


def _in_range(array: NDArray[Any]) -> bool:
    return bool(np.isfinite(array).all() and array.min() >= 0.0 and array.max() <= 1.0)


def _areas(mask: NDArray[np.bool_], most: int) -> tuple[float, tuple[Area, ...]]:
    """The share of a mask, and its largest connected areas."""
    share = float(mask.mean())
    return share, tuple(area for area in connected(mask, most) if area.share >= LEAST_AREA) if share else ()


def connected(mask: NDArray[np.bool_], most: int, corners: bool = True) -> tuple[Area, ...]:
    """The largest connected areas of a mask (H, W), the largest first; pixels touching by corners join if `corners`.

    Areas of one size come in the order of their places, from the top left.
    """
    import cv2

    rows, columns = mask.shape
    count, _, stats, centres = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8 if corners else 4)
    sizes = stats[1:, cv2.CC_STAT_AREA]
    largest = np.argsort(-sizes, kind="stable")[:most] + 1 if count > 1 else np.zeros(0, np.int64)
    found = []
    for number in largest:
        x, y, width, height, pixels = (int(v) for v in stats[number])
        middle = ((float(centres[number][0]) + 0.5) / columns, (float(centres[number][1]) + 0.5) / rows)
        box = (x / columns, y / rows, width / columns, height / rows)
        found.append(Area(pixels / mask.size, box, middle))
    return tuple(found)


# -- stops --------


@dataclass(frozen=True)
class Stops:
    """Key and contrast of scene-linear light in stops; None throughout for cannot tell.

    key: the log-average of the light against 18 %. median, p5, p95: percentiles of the light against 18 %. contrast:
    p95 − p5. below, above: p5 and p95 against the log-average, so that a frame can be compared with one exposed
    otherwise. log_average: in the units of the light given.
    """

    key: float | None
    median: float | None
    p5: float | None
    p95: float | None
    contrast: float | None
    below: float | None
    above: float | None
    log_average: float | None
    sentence: str


def stops_summary(luminance: ArrayLike, *, scene_linear: bool, white: float = 1.0) -> Stops:
    """Key and contrast in stops, of scene-linear light.

    Parameters
    ----------
    luminance
        (H, W), scene-linear, at least 0. It is area-averaged to the viewing scale of `tone`.
    scene_linear
        Whether it comes from a scene-linear file. If not, the answer is "cannot tell".
    white
        The value at which the file clips; 18 % is 0.18 of it.

    Raises
    ------
    CannotMeasure
        where it is no such array.
    """
    light = np.asarray(luminance)
    if light.ndim != 2 or light.size == 0 or not np.issubdtype(light.dtype, np.floating):
        raise CannotMeasure(f"Light is floats of the shape (H, W), not {light.dtype} of {light.shape}.")
    if not np.isfinite(light).all() or light.min() < 0:
        raise CannotMeasure("The light holds values that are no light: negative or not finite.")
    if not (math.isfinite(white) and white > 0):
        raise CannotMeasure(f"{white} is no value to clip at.", "Give the value of a blown pixel, above 0.")
    if not scene_linear:
        return _untold(NOT_LINEAR)
    for share, what in (
        (float((light >= white * tone.BLOWN_FROM / 255.0).mean()), "blown out, so how bright it was is lost."),
        (float((light <= 0).mean()), "blocked up, so how dark it was is lost."),
    ):
        if share > MOST_CLIPPED:
            return _untold(f"Cannot tell: {100 * share:.0f} % of the picture is {what}")
    rows, columns = colour.reduced_size(light.shape[0], light.shape[1], tone.TONE_PIXELS)
    seen = colour.area_averaged(light.astype(np.float64), rows, columns) / white
    seen = np.maximum(seen, seen[seen > 0].min())  # the few that hold no light count as the darkest that do
    against_grey = np.log2(seen / MIDDLE_GREY)
    key = float(against_grey.mean())
    p5, median, p95 = (float(v) for v in np.percentile(against_grey, [5.0, 50.0, 95.0]))
    side = "below" if key < 0 else "above"
    said = (
        f"On average {abs(key):.1f} stops {side} middle grey, {p95 - p5:.1f} stops from the darks ({p5 - key:+.1f}) to"
        f" the lights ({p95 - key:+.1f})."
    )
    return Stops(key, median, p5, p95, p95 - p5, p5 - key, p95 - key, MIDDLE_GREY * 2.0**key * white, said)


def _untold(said: str) -> Stops:
    return Stops(None, None, None, None, None, None, None, None, said)


# -- what a change of exposure would do --------


MOST_STOPS = 20.0  # either way; beyond, a picture is all black or all white


def brought_by(picture: ArrayLike, stops: float) -> NDArray[Any]:
    """The picture as so many stops more light (or less, where negative) would have given it.

    The light is multiplied by 2 to the `stops`, channel by channel; what exceeds white is clipped, and stays clipped
    when it is brought back. No tone curve but that of sRGB is undone. It comes back as the kind of number it came in:
    uint8 is rounded to 8 bits again, floats to nothing.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or the stops are no number from −20 to 20.
    """
    array = colour.check_picture(picture)
    gain = 2.0 ** _a_change(stops)
    if array.dtype == np.uint8:
        table = np.rint(colour.encoded(colour.linear(np.arange(256, dtype=np.uint8)) * gain) * 255.0).astype(np.uint8)
        return np.asarray(table[array])
    return np.stack([colour.encoded(colour.linear(row) * gain) for row in array]).astype(array.dtype)


def median_after(median: float, stops: float) -> float:
    """The median L* that a picture of this median L* has after so many stops more light in all of it.

    Exact where nothing near the middle of its tones is clipped, for a gain keeps the order of the tones: the L* of
    2 to the `stops` times the luminance of the median, at most 100.

    >>> round(median_after(49.4961, 1), 4)
    66.5199

    Raises
    ------
    CannotMeasure
        where the median is no L*, or the stops are no number from −20 to 20.
    """
    luminance = float(tone.lightness_to_luminance(_a_lightness(median))) * 2.0 ** _a_change(stops)
    return float(tone.luminance_to_lightness(min(1.0, luminance)))


def stops_to_median(median: float, wanted: float) -> float:
    """The stops of light that take a picture of this median L* to the wanted one; `median_after` the other way round.

    Raises
    ------
    CannotMeasure
        where one of them is no L* above 0: no gain makes light of none, or none of light.
    """
    if not (_a_lightness(median) > 0.0 and _a_lightness(wanted) > 0.0):
        raise CannotMeasure("No change of exposure leads from black, or to it.", "Name a lightness above 0.")
    here, there = (float(tone.lightness_to_luminance(value)) for value in (median, wanted))
    return math.log2(there / here)


def _a_lightness(value: float) -> float:
    if not 0.0 <= value <= 100.0:
        raise CannotMeasure(f"{value} is not a lightness.", "L* runs from 0 to 100.")
    return value


def _a_change(stops: float) -> float:
    if not abs(stops) <= MOST_STOPS:
        raise CannotMeasure(f"{stops} stops cannot be applied.", f"Give a number from −{MOST_STOPS:.0f} to 20.")
    return float(stops)
