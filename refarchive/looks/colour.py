"""Colour of pictures: CIE Lab, colour difference, palettes, swatches, and nearness of a picture to an asked colour.

One white point everywhere: Lab values are relative to D50, adapted from the D65 white of sRGB by the Bradford
transform, as the print trade and CSS do it. `LAB_WHITE` says so in words.

Colours are averaged in linear light, never on encoded values. Everything takes arrays and returns arrays; a picture is
uint8 of shape (H, W, 3), or float of the same shape in 0–1, sRGB encoded and upright.

Sources: IEC 61966-2-1 (sRGB); CIE 15 and ISO/CIE 11664-4 (Lab); Lam 1985 (Bradford); Sharma, Wu & Dalal 2005
(CIEDE2000); Rubner, Tomasi & Guibas 2000 (earth mover's distance).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Array = NDArray[np.float64]
Picture = NDArray[Any]

LAB_WHITE = "D50, Bradford-adapted from the D65 of sRGB"
PALETTE_PIXELS = 16_384  # a picture is area-averaged to at most this many pixels before its palette is taken
DECODED_WHOLE = 4_000_000  # pixels that are brought into linear light at once
SWATCH_LEAST_PIXELS = 16  # a region smaller than this gives no swatch
SWATCH_MOST_PIXELS = 250_000  # a larger region is read at regular steps
FAIR_SHARE = 0.10  # part of a picture that should be near an asked colour


def _white(x: float, y: float) -> Array:
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


def adaptation(from_white: Array, to_white: Array) -> Array:
    """The Bradford matrix (3, 3) that turns XYZ seen under one white into that under another; whites are XYZ (3,)."""
    gains = (_BRADFORD @ to_white) / (_BRADFORD @ from_white)
    return np.asarray(np.linalg.solve(_BRADFORD, np.diag(gains) @ _BRADFORD))


def _srgb_to_xyz() -> Array:
    """The matrix linear sRGB → XYZ under its own white, D65, from chromaticities alone."""
    primaries = np.stack([_white(0.64, 0.33), _white(0.30, 0.60), _white(0.15, 0.06)], axis=1)
    return np.asarray(primaries * np.linalg.solve(primaries, _white(0.3127, 0.3290)))


D50 = _white(0.3457, 0.3585)
TO_XYZ_D65 = _srgb_to_xyz()  # linear R, G, B to X, Y, Z under D65
_TO_XYZ = adaptation(_white(0.3127, 0.3290), D50) @ TO_XYZ_D65
_FROM_XYZ = np.linalg.inv(_TO_XYZ)
LUMINANCE = _TO_XYZ[1]  # weights of linear R, G, B in the adapted Y, which L* is made from
_EPSILON, _KAPPA = 216.0 / 24389.0, 24389.0 / 27.0


def _decode(encoded: Array) -> Array:
    low = encoded / 12.92
    high = ((np.maximum(encoded, 0.0) + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, low, high)


_DECODE_8_BIT = _decode(np.arange(256) / 255.0)


def linear(rgb: ArrayLike) -> Array:
    """Linear light, 0–1, of sRGB-encoded values: uint8, or float in 0–1.

    Raises
    ------
    CannotMeasure
        for any other kind of number, and for floats outside 0–1 or not finite.
    """
    values = np.asarray(rgb)
    if values.dtype == np.uint8:
        return np.take(_DECODE_8_BIT, values, mode="clip")  # no value is outside: "clip" spares the check
    if not np.issubdtype(values.dtype, np.floating):
        raise CannotMeasure(
            f"Colour values are of the kind {values.dtype}, which is not known here.",
            "Hand in uint8 values, or floats in the range 0–1.",
        )
    if values.size and not (np.isfinite(values).all() and values.min() >= 0.0 and values.max() <= 1.0):
        raise CannotMeasure("Some colour values lie outside the range 0–1.", "Divide by the largest value first.")
    return _decode(values.astype(np.float64))


def encoded(light: ArrayLike) -> Array:
    """sRGB-encoded values of linear light, both 0–1; what lies outside is clipped."""
    values = np.clip(np.asarray(light, dtype=np.float64), 0.0, 1.0)
    return np.where(values <= 0.04045 / 12.92, values * 12.92, 1.055 * values ** (1 / 2.4) - 0.055)


def _last_axis_is_three(values: NDArray[Any]) -> None:
    if values.ndim == 0 or values.shape[-1] != 3:
        raise CannotMeasure(f"Colours need three values each, not an array of shape {values.shape}.")


def linear_to_lab(light: ArrayLike) -> Array:
    """CIE Lab (`LAB_WHITE`) of linear sRGB light, shape (..., 3), values 0–1."""
    xyz = np.asarray(light, dtype=np.float64) @ _TO_XYZ.T
    return xyz_to_lab(xyz)


def xyz_to_lab(xyz: ArrayLike) -> Array:
    """CIE Lab of XYZ relative to D50 (Y of white = 1), shape (..., 3)."""
    ratio = np.asarray(xyz, dtype=np.float64) / D50
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16.0) / 116.0)
    return np.stack(
        [116.0 * f[..., 1] - 16.0, 500.0 * (f[..., 0] - f[..., 1]), 200.0 * (f[..., 1] - f[..., 2])], axis=-1
    )


def srgb_to_lab(rgb: ArrayLike) -> Array:
    """CIE Lab (`LAB_WHITE`) of sRGB colours of shape (..., 3), uint8 or float in 0–1.

    >>> srgb_to_lab(np.array([255, 0, 0], dtype=np.uint8)).round(4).tolist()
    [54.2905, 80.8049, 69.891]

    Raises
    ------
    CannotMeasure
        where the last axis is not three long, or the values are not what `linear` takes.
    """
    values = np.asarray(rgb)
    _last_axis_is_three(values)
    return linear_to_lab(linear(values))


def lab_to_srgb(lab: ArrayLike) -> Array:
    """sRGB-encoded floats in 0–1 of Lab colours (..., 3); colours that sRGB cannot show are clipped channel by channel.

    `in_gamut` says which those are.
    """
    return encoded(lab_to_linear(lab))


def lab_to_xyz(lab: ArrayLike) -> Array:
    """XYZ relative to D50 (Y of white = 1) of Lab colours (..., 3)."""
    values = np.asarray(lab, dtype=np.float64)
    _last_axis_is_three(values)
    fy = (values[..., 0] + 16.0) / 116.0
    f = np.stack([fy + values[..., 1] / 500.0, fy, fy - values[..., 2] / 200.0], axis=-1)
    return np.asarray(np.where(f**3 > _EPSILON, f**3, (116.0 * f - 16.0) / _KAPPA) * D50)


def in_gamut(lab: ArrayLike) -> NDArray[np.bool_]:
    """Whether sRGB can show each of the Lab colours (..., 3), to within half a step of 8 bits."""
    light = lab_to_linear(lab)
    slack = float(_DECODE_8_BIT[1]) / 2
    return np.asarray(((light >= -slack) & (light <= 1.0 + 4 * slack)).all(axis=-1))


def lab_to_linear(lab: ArrayLike) -> Array:
    """Linear sRGB light of Lab colours (..., 3), unclipped: outside 0–1 where sRGB cannot show them."""
    return np.asarray(lab_to_xyz(lab) @ _FROM_XYZ.T)


def hex_to_lab(hexadecimal: str) -> Array:
    """Lab of a colour written `#rrggbb` or `#rgb` (the `#` may be left out).

    Raises
    ------
    CannotMeasure
        where it is not written so.
    """
    digits = hexadecimal.strip().removeprefix("#")
    if not re.fullmatch(r"[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6}", digits):
        raise CannotMeasure(f"{hexadecimal[:40]!r} is not a colour.", "Write six hexadecimal digits, such as #8a6f4d.")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    return srgb_to_lab(np.frombuffer(bytes.fromhex(digits), dtype=np.uint8))


def lab_to_hex(lab: ArrayLike) -> str:
    """The nearest 8-bit sRGB colour of one Lab colour, as `#rrggbb`."""
    red, green, blue = (int(v) for v in np.rint(lab_to_srgb(lab) * 255.0))
    return f"#{red:02x}{green:02x}{blue:02x}"


def delta_e_2000(first: ArrayLike, second: ArrayLike) -> Array:
    """CIEDE2000 colour difference of Lab colours, shapes (..., 3) that broadcast together; 1 is about just noticeable.

    Raises
    ------
    CannotMeasure
        where a last axis is not three long.
    """
    from skimage.color import deltaE_ciede2000

    one, other = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    _last_axis_is_three(one)
    _last_axis_is_three(other)
    one, other = np.broadcast_arrays(one, other)
    return np.asarray(deltaE_ciede2000(one, other), dtype=np.float64)  # type: ignore[no-untyped-call]


def check_picture(picture: ArrayLike) -> Picture:
    """The picture as an array, refused unless it is (H, W, 3) with at least one pixel and of a known kind of number.

    Raises
    ------
    CannotMeasure
        where it is not.
    """
    array = np.asarray(picture)
    if array.ndim != 3 or array.shape[2] != 3 or 0 in array.shape:
        raise CannotMeasure(
            f"A picture must have the shape (height, width, 3), not {array.shape}.",
            "Convert it to RGB first.",
        )
    if array.dtype != np.uint8 and not np.issubdtype(array.dtype, np.floating):
        raise CannotMeasure(
            f"The picture's values are of the kind {array.dtype}, which is not known here.",
            "Hand in uint8 values, or floats in the range 0–1.",
        )
    return array


def reduced(picture: ArrayLike, most_pixels: int = PALETTE_PIXELS) -> Array:
    """The picture in linear light, (h, w, 3), area-averaged to at most `most_pixels` pixels; smaller ones stay whole.

    Pictures of any size are seen alike this way: hatching becomes the grey that an eye at a distance sees.
    """
    return reductions(picture, (most_pixels,))[0]


def reductions(picture: ArrayLike, sizes: Sequence[int]) -> tuple[Array, ...]:
    """The picture as `reduced` gives it, at several sizes, decoded once.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or its values are not what `linear` takes.
    """
    array = check_picture(picture)
    height, width = array.shape[:2]
    goals = [reduced_size(height, width, most) for most in sizes]
    if height * width <= DECODED_WHOLE or all(goal == (height, width) for goal in goals):
        light = linear(array)
        return tuple(area_averaged(light, *goal) for goal in goals)
    planes: list[list[Array]] = [[] for _ in goals]  # one channel at a time: 8 bytes for each pixel are much
    for channel in range(3):
        light = linear(array[..., channel])
        for own, goal in zip(planes, goals, strict=True):
            own.append(area_averaged(light, *goal))
    return tuple(np.stack(own, axis=-1) for own in planes)


def reduced_size(height: int, width: int, most_pixels: int) -> tuple[int, int]:
    """Rows and columns of a picture of this size once it has at most so many pixels."""
    if height * width <= most_pixels:
        return height, width
    scale = math.sqrt(most_pixels / (height * width))
    rows = min(height, max(1, round(height * scale)))
    columns = min(width, max(1, most_pixels // rows))
    return min(height, most_pixels // columns), columns


def area_averaged(light: Array, rows: int, columns: int) -> Array:
    """Exact area averages, (rows, columns) or (rows, columns, 3), of an array that has at least as many of each."""
    height, width = light.shape[:2]
    if (height, width) == (rows, columns):
        return light
    # Nearly all weights are 0: a pixel belongs to one cell, or to two.
    lines = shares_of_cells(rows, height) @ light.reshape(height, -1)
    turned = lines.reshape(rows, width, -1).swapaxes(0, 1).reshape(width, -1)
    cells = (shares_of_cells(columns, width) @ turned).reshape(columns, rows, -1).swapaxes(0, 1)
    return np.ascontiguousarray(cells).reshape(rows, columns, *light.shape[2:])


def shares_of_cells(cells: int, pixels: int) -> csr_array:
    """Weights (cells, pixels), each row summing to 1, of an exact area average along one axis.

    Only the pixels that a cell touches are looked at: a full table of a long side takes seconds.
    """
    from scipy.sparse import csr_array

    edges = np.arange(cells + 1) * (pixels / cells)
    start, end = edges[:-1], edges[1:]
    first = np.floor(start).astype(np.int64)
    many = np.minimum(np.ceil(end).astype(np.int64), pixels) - first
    ends = np.cumsum(many)
    cell = np.repeat(np.arange(cells), many)
    pixel = np.arange(ends[-1]) + np.repeat(first - (ends - many), many)
    overlap = np.clip(np.minimum(end[cell], pixel + 1) - np.maximum(start[cell], pixel), 0.0, None)
    share = overlap / np.add.reduceat(overlap, ends - many)[cell]
    return csr_array((share, pixel, np.concatenate([[0], ends])), shape=(cells, pixels))


@dataclass(frozen=True, eq=False)
class Palette:
    """The main colours of a picture, the largest share first.

    lab: (k, 3), `LAB_WHITE`. shares: (k,), summing to 1. centres_xy: (k, 2), the mean place of each colour's pixels as
    fractions 0–1 of width and height from the top left.
    """

    lab: Array
    shares: Array
    centres_xy: Array

    @property
    def hexes(self) -> tuple[str, ...]:
        """The colours as sRGB, "#rrggbb" each."""
        return tuple(lab_to_hex(colour) for colour in self.lab)


def palette(picture: ArrayLike, colours: int = 6, seed: int = 0) -> Palette:
    """The palette of a picture: k-means (Lloyd) in Lab on the area-averaged picture, repeatable for one `seed`.

    Fewer colours come back where the picture has fewer. A mirrored or turned picture has the same palette.

    Raises
    ------
    CannotMeasure
        where the picture is not one, or fewer than one colour is asked for.
    """
    return palette_of(reduced(picture), colours, seed)


def palette_of(light: Array, colours: int = 6, seed: int = 0) -> Palette:
    """The palette of a picture that `reduced` or `reductions` gave, linear light (h, w, 3). Raises as `palette`."""
    if colours < 1:
        raise CannotMeasure("A palette needs at least one colour.")
    height, width = light.shape[:2]
    lab = linear_to_lab(light.reshape(-1, 3)).round(6) + 0.0  # + 0.0: no negative zero
    order = np.lexsort(lab.T[::-1])  # the same pixels in any arrangement give the same clusters
    ordered = lab[order]
    first = np.concatenate([[True], (ordered[1:] != ordered[:-1]).any(axis=1)])  # of its colour: they lie together
    distinct, member = ordered[first], np.cumsum(first) - 1
    if len(distinct) <= colours:
        centres = distinct
    else:
        from sklearn.cluster import KMeans

        found = KMeans(n_clusters=colours, n_init=4, random_state=seed, algorithm="lloyd").fit(ordered)
        member = found.labels_
        centres = np.stack([ordered[member == k].mean(axis=0) for k in range(colours) if (member == k).any()])
        member = np.unique(member, return_inverse=True)[1].reshape(-1)
    counts = np.bincount(member, minlength=len(centres)).astype(np.float64)
    y, x = np.divmod(order, width)
    places = np.stack(
        [
            np.bincount(member, weights=(x + 0.5) / width, minlength=len(centres)) / counts,
            np.bincount(member, weights=(y + 0.5) / height, minlength=len(centres)) / counts,
        ],
        axis=1,
    )
    by_share = np.lexsort((centres[:, 2], centres[:, 1], centres[:, 0], -counts))
    return Palette(centres[by_share], counts[by_share] / counts.sum(), places[by_share])


PaletteLike = Palette | tuple[ArrayLike, ArrayLike]


def _entries(given: PaletteLike) -> tuple[Array, Array]:
    """Lab and shares of a palette, checked, empty entries dropped, shares normalised to 1."""
    lab, shares = (given.lab, given.shares) if isinstance(given, Palette) else given
    colours = np.asarray(lab, dtype=np.float64)
    weights = np.asarray(shares, dtype=np.float64)
    if colours.ndim != 2 or colours.shape[1] != 3 or weights.shape != (len(colours),):
        raise CannotMeasure("A palette needs colours of shape (k, 3) and as many shares.")
    if not (np.isfinite(colours).all() and np.isfinite(weights).all()) or (weights < 0).any() or weights.sum() <= 0:
        raise CannotMeasure("A palette's shares must be numbers of which none is below 0 and some are above it.")
    kept = weights > 0
    return colours[kept], weights[kept] / weights[kept].sum()


def palette_distance(first: PaletteLike, second: PaletteLike) -> float:
    """How far one palette is from another, in ΔE00: 0 is the same, 1–2 hardly told apart, 10 clearly another picture.

    Earth mover's distance with CIEDE2000 as ground distance, after both palettes' shares are made to sum to 1. Palettes
    are `Palette`, or pairs of Lab (k, 3) and shares (k,).

    Raises
    ------
    CannotMeasure
        where a palette is empty or its shares are not usable.
    """
    import ot

    lab_one, weights_one = _entries(first)
    lab_two, weights_two = _entries(second)
    ground = np.ascontiguousarray(delta_e_2000(lab_one[:, None, :], lab_two[None, :, :]))
    return max(0.0, float(ot.emd2(weights_one, weights_two, ground)))


def colour_closeness(palettes: Sequence[PaletteLike], lab: ArrayLike, share: float = FAIR_SHARE) -> Array:
    """How near each picture comes to one asked Lab colour, (n,), in ΔE00; small is near.

    The mean ΔE00 from the asked colour of that `share` (0–1] of the picture which lies nearest to it: a picture of
    which a tenth is just that colour has 0, however different the rest. Only the palette is looked at, so that a
    speck too small to have an entry of its own is not found.

    Raises
    ------
    CannotMeasure
        where the share is not above 0 and at most 1, the colour not three numbers, or a palette unusable.
    """
    asked = np.asarray(lab, dtype=np.float64)
    if asked.shape != (3,) or not np.isfinite(asked).all():
        raise CannotMeasure("A colour to look for needs three Lab values.")
    if not 0.0 < share <= 1.0:
        raise CannotMeasure("The share of a picture to look at must be above 0 and at most 1.")
    entries = [_entries(given) for given in palettes]
    if not entries:
        return np.zeros(0)
    distances = delta_e_2000(np.concatenate([colours for colours, _ in entries]), asked)
    result = np.empty(len(entries))
    start = 0
    for number, (colours, weights) in enumerate(entries):
        own = distances[start : start + len(colours)]
        start += len(colours)
        nearest = np.argsort(own, kind="stable")
        before = np.concatenate([[0.0], np.cumsum(weights[nearest])[:-1]])
        taken = np.clip(share - before, 0.0, weights[nearest])
        result[number] = float((taken * own[nearest]).sum() / taken.sum())
    return result


@dataclass(frozen=True, eq=False)
class Swatch:
    """A colour read from a region: its median Lab (3,), how much the region varies, and the nearest sRGB colour.

    `spread` is the ΔE00 from the median within which 80 % of the region's pixels lie; `pixels` how many there are.
    """

    lab: Array
    spread: float
    hex: str
    pixels: int


def region_swatch(picture: ArrayLike, region: tuple[float, float, float, float]) -> Swatch:
    """The colour of a region `(x, y, width, height)` of a picture, in fractions 0–1 from the top left.

    Raises
    ------
    CannotMeasure
        where the region leaves the picture, is empty, or covers fewer than `SWATCH_LEAST_PIXELS` pixels.
    """
    array = check_picture(picture)
    x, y, width, height = (float(value) for value in region)
    slack = 1e-9
    if not all(math.isfinite(value) for value in (x, y, width, height)) or width <= 0 or height <= 0:
        raise CannotMeasure("The region has no extent.", "Give x, y, width and height as fractions 0–1.")
    if x < -slack or y < -slack or x + width > 1 + slack or y + height > 1 + slack:
        raise CannotMeasure("The region reaches outside the picture.", "Give x, y, width and height as fractions 0–1.")
    rows, columns = array.shape[:2]
    left, right = round(x * columns), round((x + width) * columns)
    top, bottom = round(y * rows), round((y + height) * rows)
    pixels = max(0, right - left) * max(0, bottom - top)
    if pixels < SWATCH_LEAST_PIXELS:
        raise CannotMeasure(
            f"The region covers {pixels} pixels, too few to read a colour from (at least {SWATCH_LEAST_PIXELS}).",
            "Mark a larger region, or gather a larger picture.",
        )
    inside = array[top:bottom, left:right].reshape(-1, 3)
    inside = inside[:: max(1, math.ceil(len(inside) / SWATCH_MOST_PIXELS))]
    lab = srgb_to_lab(inside)
    median = np.median(lab, axis=0)
    return Swatch(median, float(np.percentile(delta_e_2000(lab, median), 80.0)), lab_to_hex(median), pixels)
