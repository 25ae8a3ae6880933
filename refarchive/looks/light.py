"""Where the light on a thing comes from, in the picture plane.

The thing is marked by a person: a ball, a head, a fist, a sleeve, one rounded thing of one colour. Its outline is given
as a mask. Angles are tilts: 0 from the right, 90 from above, 180 from the left, 270 from below, of the side the light
comes from. How steeply it falls into the picture is not told: without knowing the shape it cannot be.

Two methods must agree, or the answer is "cannot tell": the mean gradient inside (Pentland 1982: on a rounded thing
lightness rises towards the light) and the brightness around the outline (Nillius & Eklundh 2001, Johnson & Farid 2005:
at the outline the surface faces sideways, so only the direction in the picture plane counts). A third, the mean
direction of gradients whatever their strength (Lee & Rosenfeld 1985), is given beside them. Spreads come from drawing
sectors of the thing again and again, with fixed seeds: the same picture gives the same answer.

Where several lights fall on a thing, what is found is their effective direction, which may be where none of them
stands. Light is scene-linear (H, W): from raw files and linear TIFF truly, from ordinary JPEGs by undoing the transfer
curve of sRGB and nothing more, so that a camera's own tone curve stays in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LEAST_PIXELS = 400  # in the mask
LONGEST = 400  # pixels along the longer side of the thing; larger ones are reduced to it
AGREE_DEG = 20.0  # two methods further apart disagree; ours, about four times what is reported for real photographs
WIDEST_SPREAD_DEG = 20.0  # of either method, from which nothing is said
LEAST_ARC_DEG = 60.0  # of lit outline: shorter arcs lead astray
SECTORS, DRAWS = 16, 200
ONE_LIGHT = 0.75  # share of the outline's variance that one light must explain
LEAST_MODULATION = 0.04  # of the light along the outline, and inside, against its mean


@dataclass(frozen=True)
class Estimate:
    """One method's answer: a tilt and its spread (standard deviation) in degrees, None where it has none, and why."""

    method: str
    tilt_deg: float | None
    spread_deg: float | None
    note: str = ""


@dataclass(frozen=True)
class Direction:
    """The effective direction of the light, or why it cannot be told.

    tilt_deg, spread_deg: None for "cannot tell". estimates: of each method. one_light: share of the variance around the
    lit outline that one light explains, None where not measured.
    """

    tilt_deg: float | None
    spread_deg: float | None
    sentence: str
    estimates: tuple[Estimate, ...]
    one_light: float | None = None


def angle_between(first_deg: float, second_deg: float) -> float:
    """The smaller angle between two directions, 0–180.

    >>> angle_between(350, 20)
    30.0
    """
    return abs((first_deg - second_deg + 180.0) % 360.0 - 180.0)


def ellipse(shape: tuple[int, int]) -> Mask:
    """The ellipse that fills a rectangle of this many rows and columns: for a ball, or a head marked by its box."""
    rows, columns = shape
    y, x = np.mgrid[0:rows, 0:columns]
    inside = ((x + 0.5) / columns * 2 - 1) ** 2 + ((y + 0.5) / rows * 2 - 1) ** 2 <= 1.0
    return np.asarray(inside)


def light_direction(luminance: ArrayLike, mask: ArrayLike) -> Direction:
    """Where the light on one marked thing comes from.

    Parameters
    ----------
    luminance
        Scene-linear, (H, W), at least 0, any scale.
    mask
        (H, W), true on the thing.

    Raises
    ------
    CannotMeasure
        where the arrays do not fit each other, are not finite, or the mask has fewer than 400 pixels.
    """
    light, thing = _checked(luminance, mask)
    light, thing = _reduced(light, thing)
    inner = _inner(thing)
    rows, columns = np.nonzero(thing)
    middle = (float(columns.mean()), float(rows.mean()))
    dx, dy = _gradients(light, max(1.0, 0.01 * math.sqrt(thing.sum())))
    mean = float(light[inner].mean()) or 1.0
    size = math.sqrt(float(thing.sum()))
    by_gradient = _by_gradient("mean gradient", dx, dy, inner, middle, mean, size)
    by_voting = _by_voting("mean direction of gradients", dx, dy, inner, middle)
    by_outline, one_light = _by_outline(light, thing)
    return _agreed((by_gradient, by_outline, by_voting), one_light)


def _agreed(estimates: tuple[Estimate, Estimate, Estimate], one_light: float | None) -> Direction:
    gradient, outline, _ = estimates
    told: list[tuple[float, float]] = []
    for one in (gradient, outline):
        if one.tilt_deg is None or one.spread_deg is None:
            return Direction(None, None, f"Cannot tell: {one.note}", estimates, one_light)
        told.append((one.tilt_deg, one.spread_deg))
        if one.spread_deg > WIDEST_SPREAD_DEG:
            said = f"Cannot tell: the {one.method} points to {one.tilt_deg:.0f}° give or take {one.spread_deg:.0f}°."
            return Direction(None, None, said, estimates, one_light)
    (inside, _), (around, _) = told
    apart = angle_between(inside, around)
    if apart > AGREE_DEG:
        said = (
            f"Cannot tell: inside, lightness rises towards {inside:.0f}°; around the outline towards"
            f" {around:.0f}°. Two colours, a cast shadow or two lights would do that."
        )
        return Direction(None, None, said, estimates, one_light)
    weights = [1.0 / max(spread, 1.0) ** 2 for _, spread in told]
    angles = [math.radians(tilt) for tilt, _ in told]
    tilt = _direction(sum(w * complex(math.cos(a), math.sin(a)) for w, a in zip(weights, angles, strict=True)))
    spread = math.hypot(1.0 / math.sqrt(sum(weights)), apart / 2.0)
    said = f"Effective direction {tilt:.0f}°, give or take {spread:.0f}°, {side(tilt)}."
    if one_light is not None and one_light < ONE_LIGHT:
        said += " The outline is not lit as by one light: this may be an average of several."
    return Direction(tilt, spread, said, estimates, one_light)


def side(tilt_deg: float) -> str:
    """A tilt in words, in eighths of the circle.

    >>> side(170), side(45)
    ('from the left', 'from the right and above')
    """
    words = (
        "from the right", "from the right and above", "from above", "from the left and above", "from the left",
        "from the left and below", "from below", "from the right and below",
    )  # fmt: skip
    return words[round((tilt_deg % 360.0) / 45.0) % 8]


# -- the thing --------


def _checked(luminance: ArrayLike, mask: ArrayLike) -> tuple[Array, Mask]:
    light, thing = np.asarray(luminance, dtype=np.float64), np.asarray(mask)
    if light.ndim != 2 or thing.shape != light.shape or thing.dtype != np.bool_:
        raise CannotMeasure(f"Light (H, W) and a mask of its shape are wanted, not {light.shape} and {thing.shape}.")
    if not np.isfinite(light).all() or (light < 0).any():
        raise CannotMeasure("The light holds values that are no light: negative or not finite.")
    if int(thing.sum()) < LEAST_PIXELS:
        raise CannotMeasure(
            f"What is marked has {int(thing.sum())} pixels, fewer than {LEAST_PIXELS}.", "Mark something larger."
        )
    return light, thing


def _reduced(light: Array, thing: Mask) -> tuple[Array, Mask]:
    """The part around the thing, its longer side at most `LONGEST` pixels, with a margin of what lies around."""
    import cv2

    rows, columns = np.nonzero(thing)
    margin = 4
    top, bottom = max(0, rows.min() - margin), min(light.shape[0], rows.max() + margin + 1)
    left, right = max(0, columns.min() - margin), min(light.shape[1], columns.max() + margin + 1)
    light, thing = light[top:bottom, left:right], thing[top:bottom, left:right]
    scale = LONGEST / max(light.shape)
    if scale < 1.0:
        size = (max(1, round(light.shape[1] * scale)), max(1, round(light.shape[0] * scale)))
        light = np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), dtype=np.float64)
        shrunk = cv2.resize(thing.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        thing = np.asarray(shrunk > 0.5)
    return light, thing


def _inner(thing: Mask) -> Mask:
    """The thing without its rim, where light from behind it and the blur of the outline are mixed in."""
    import cv2

    rim = max(2, round(0.03 * math.sqrt(float(thing.sum()))))
    padded = np.pad(thing.astype(np.uint8), rim)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * rim + 1, 2 * rim + 1))
    return np.asarray(cv2.erode(padded, kernel)[rim:-rim, rim:-rim].astype(bool))


def _gradients(light: Array, sigma: float) -> tuple[Array, Array]:
    """Derivatives to the right and upwards, of the softened light."""
    import cv2

    soft = cv2.GaussianBlur(light, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
    dy, dx = np.gradient(soft)
    return np.asarray(dx), np.asarray(-dy)


# -- the methods --------


def _by_gradient(
    method: str, dx: Array, dy: Array, inner: Mask, middle: tuple[float, float], mean: float, size: float
) -> Estimate:
    """Pentland's: the mean derivative in each direction, regressed on that direction, is the mean gradient."""
    sums = _by_sector(np.stack([dx, dy]), inner, middle)
    total = sums[:, :2].sum(axis=0) / max(1.0, float(sums[:, 2].sum()))
    if np.hypot(*total) * size < LEAST_MODULATION * mean:
        return Estimate(method, None, None, "what is marked is evenly lit inside.")
    tilt = _direction(complex(*total))
    return Estimate(method, tilt, _spread(tilt, lambda kept: complex(*sums[kept, :2].sum(axis=0)), len(sums)))


def _by_voting(method: str, dx: Array, dy: Array, inner: Mask, middle: tuple[float, float]) -> Estimate:
    """Lee & Rosenfeld's: the mean of the gradients' directions; those too faint to have one are left out."""
    strength = np.hypot(dx, dy)
    floor = 0.1 * float(np.percentile(strength[inner], 95)) if inner.any() else 0.0
    counted = inner & (strength > max(floor, 1e-12))
    if counted.sum() < LEAST_PIXELS / 4:
        return Estimate(method, None, None, "there are no gradients inside.")
    safe = np.where(strength > 0, strength, 1.0)
    sums = _by_sector(np.stack([dx / safe, dy / safe]), counted, middle)
    tilt = _direction(complex(*sums[:, :2].sum(axis=0)))
    return Estimate(method, tilt, _spread(tilt, lambda kept: complex(*sums[kept, :2].sum(axis=0)), len(sums)))


def _by_sector(values: Array, counted: Mask, middle: tuple[float, float]) -> Array:
    """Sums of two planes and of pixels, over opposite pairs of sectors around the middle: (SECTORS, 3).

    Opposite sectors stay together, so that a draw of sectors is as balanced as the whole.
    """
    rows, columns = np.nonzero(counted)
    turn = np.arctan2(rows - middle[1], columns - middle[0]) % math.pi
    radius = np.hypot(rows - middle[1], columns - middle[0])
    ring = (radius > np.median(radius) if len(radius) else radius).astype(np.int64)
    half = SECTORS // 2
    sector = np.minimum((turn / math.pi * half).astype(np.int64), half - 1) + half * ring
    columns_of = [values[0][counted], values[1][counted], np.ones(len(rows))]
    return np.stack([np.bincount(sector, weights=c, minlength=SECTORS) for c in columns_of], axis=1)


def _by_outline(light: Array, thing: Mask) -> tuple[Estimate, float | None]:
    """Nillius & Eklundh's: light along the outline = normal · direction + ambient, over its lit part."""
    method = "light along the outline"
    found = _outline(thing)
    if found is None:
        return Estimate(method, None, None, "what is marked has no single outline."), None
    points, normals = found
    at_rim, usable = _extrapolated(light, thing, points, normals)
    if usable.sum() < 24:
        return Estimate(method, None, None, "too little of the outline can be read."), None
    normals, at_rim = normals[usable], at_rim[usable]
    angles = np.degrees(np.arctan2(normals[:, 1], normals[:, 0])) % 360.0
    lit = np.ones(len(at_rim), dtype=bool)
    answer: Array = np.zeros(3)
    for _ in range(12):  # an unlit outline has only the ambient light and would bend the fit: it is taken out
        answer = np.asarray(np.linalg.lstsq(_design(normals[lit]), at_rim[lit], rcond=None)[0], dtype=np.float64)
        facing = normals @ answer[:2] > 0.1 * np.hypot(*answer[:2])
        if (facing == lit).all() or facing.sum() < 12:
            break
        lit = facing
    arc = len(set((angles[lit] // 5.0).astype(int).tolist())) * 5.0
    if arc < LEAST_ARC_DEG:
        return Estimate(method, None, None, f"only {arc:.0f}° of the outline can be read."), None
    if np.hypot(*answer[:2]) < LEAST_MODULATION * max(float(at_rim.mean()), 1e-12):
        return Estimate(method, None, None, "the outline is evenly lit all around."), None
    design, own = _design(normals[lit]), at_rim[lit]
    tilt = _direction(complex(*answer[:2]))
    pieces = np.minimum((angles[lit] / 360.0 * 2 * SECTORS).astype(int), 2 * SECTORS - 1)
    there = np.unique(pieces)
    products = [(design[pieces == p].T @ design[pieces == p], design[pieces == p].T @ own[pieces == p]) for p in there]

    def again(kept: NDArray[np.int64]) -> complex:
        left = sum((products[k][0] for k in kept), np.zeros((3, 3))) + 1e-9 * np.eye(3)
        right = sum((products[k][1] for k in kept), np.zeros(3))
        return complex(*np.linalg.solve(left, right)[:2])

    everything = _design(normals) @ answer
    everything = np.where(normals @ answer[:2] > 0, everything, answer[2])
    variance = float(((at_rim - at_rim.mean()) ** 2).sum())
    explained = 1.0 - float(((at_rim - everything) ** 2).sum()) / variance if variance > 0 else 0.0
    return Estimate(method, tilt, _spread(tilt, again, len(there))), max(0.0, explained)


def _design(normals: Array) -> Array:
    return np.column_stack([normals, np.ones(len(normals))])


def _outline(thing: Mask) -> tuple[Array, Array] | None:
    """Points along the outline (N, 2) in pixels, x and y, and outward unit normals, y upwards."""
    import cv2

    contours, _ = cv2.findContours(thing.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return None
    largest = max(contours, key=cv2.contourArea).reshape(-1, 2).astype(np.float64)
    if len(largest) < 40 or cv2.contourArea(largest.astype(np.float32)) < 0.8 * thing.sum():
        return None
    width = max(3, round(len(largest) * 0.02)) | 1
    kernel: Array = np.hanning(width + 2)[1:-1]
    kernel = kernel / kernel.sum()
    wrapped = np.concatenate([largest[-width:], largest, largest[:width]])
    smooth = np.stack([np.convolve(wrapped[:, k], kernel, "same") for k in (0, 1)], axis=1)[width:-width]
    along = np.roll(smooth, -2, axis=0) - np.roll(smooth, 2, axis=0)
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / length[:, None]  # one of both sides
    inside = smooth - 3.0 * normal
    within = thing[
        np.clip(np.rint(inside[:, 1]).astype(int), 0, thing.shape[0] - 1),
        np.clip(np.rint(inside[:, 0]).astype(int), 0, thing.shape[1] - 1),
    ]
    if within.mean() < 0.5:
        normal = -normal
    return smooth, normal * np.array([1.0, -1.0])


def _extrapolated(light: Array, thing: Mask, points: Array, normals: Array) -> tuple[Array, Mask]:
    """Light at the outline itself, from a little inside, and where that could be had.

    On a rounded thing the surface turns away as the square root of the distance from its outline, so light there is
    a + b √d + c d; the outermost pixels, blurred with what lies behind, are not used.
    """
    import cv2

    size = math.sqrt(float(thing.sum()))
    depths = np.linspace(max(1.5, 0.015 * size), max(6.0, 0.12 * size), 8)
    inward = -normals * np.array([1.0, -1.0])
    places = (points[:, None, :] + depths[None, :, None] * inward[:, None, :]).astype(np.float32)
    soft = cv2.GaussianBlur(light.astype(np.float32), (0, 0), max(0.8, 0.006 * size))
    values = cv2.remap(soft, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = cv2.remap(thing.astype(np.float32), places[..., 0], places[..., 1], cv2.INTER_LINEAR) > 0.5
    basis = np.column_stack([np.ones(len(depths)), np.sqrt(depths / size), depths / size])
    answer, *_ = np.linalg.lstsq(basis, values.astype(np.float64).T, rcond=None)
    return np.asarray(answer[0]), np.asarray(inside.all(axis=1))


# -- directions --------


def _direction(vector: complex) -> float:
    return math.degrees(math.atan2(vector.imag, vector.real)) % 360.0


def _spread(tilt: float, of: Callable[[NDArray[np.int64]], complex], pieces: int) -> float:
    """Root mean square deviation, degrees, of the direction over draws of the pieces, as many as there are."""
    if pieces < 3:
        return 180.0
    random = np.random.default_rng(0)
    off = [angle_between(_direction(of(random.integers(0, pieces, pieces))), tilt) for _ in range(DRAWS)]
    return float(np.sqrt(np.mean(np.square(off))))
