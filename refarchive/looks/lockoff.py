"""Frames from one locked tripod laid over each other, and what differs between them then.

A tripod that is knocked moves the picture by a few pixels and turns it a little; a lens that is refocused scales it a
little. Figures, smoke and flash change from frame to frame, so the picture is looked at in tiles: each says by itself
how it lies, one shift with turn and scale is fitted to what most tiles agree on, and the others are left out as moved
or covered. Where too few agree, it is another viewpoint or another scene, and the answer is "cannot tell".

Tiles are compared by their structure, evened to one local mean and contrast, so that light and veil count little.
Whole pictures are compared on at most `ALIGN_PIXELS` of the longer side; where more pixels are there, tiles of the
unreduced pictures make the last step. Nothing is random.

A picture is as in `colour`: (H, W, 3), uint8 or float in 0–1, sRGB, upright. Places are fractions counted from the top
left corner; boxes are (x, y, width, height). Lightness and differences are those of `colour` (CIE Lab, D50; CIEDE2000).

Sources: Kuglin & Hines 1975 (phase correlation); Lucas & Kanade 1981 (shift by gradients); Immerkær 1996 (noise from a
Laplacian difference mask); CIE 142-2001 (CIEDE2000). Thresholds are ours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, tilewise

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]

ALIGN_PIXELS = 1500  # longer side that whole pictures are compared on
LEAST_SIDE = 64  # pixels of the shorter side
MOST_AGREE = 0.6  # of the places, from which on no smaller shift is looked for
LIKE_ASPECT = 0.004  # so far may the aspect of two pictures differ that are taken for one size and another

SEEN_PIXELS = 1000  # longer side on which differences are looked at
JUST_SEEN = 2.3  # ΔE below which a difference is hardly seen (common practice, no source)
NOISES = 5.0  # a difference counts from so many standard deviations of the noise
LEAST_REGION = 2e-4  # of the picture
MOST_REGIONS = 12


@dataclass(frozen=True, eq=False)
class Lay:
    """How a frame lies on the base frame, or why that cannot be told.

    told: whether it can be. right_px, down_px: how far what the middle of the base shows has moved to the right and
    down in the frame, in pixels of the base's original; turn_deg: clockwise; scale: of the frame against the base.
    right_share, down_share: the same as fractions of width and height. error_px: the standard error of the shift, from
    how much the agreeing tiles differ and what sampling costs (see the tests for what it is worth). stray_px: the root
    mean square of that difference. Pixels are those of the original. tiles: with texture; agreeing: of these, those
    that the fit rests on. peak: how much the highest peak of the phase correlation of the whole stands out over the
    second; 1 is not at all. matrix: 3 × 3, takes fractions (x, y, 1) of the base to fractions of the frame; None where
    not told.
    """

    told: bool
    sentence: str
    right_px: float = 0.0
    down_px: float = 0.0
    turn_deg: float = 0.0
    scale: float = 1.0
    right_share: float = 0.0
    down_share: float = 0.0
    error_px: float = math.inf
    stray_px: float = math.inf
    agreeing: int = 0
    tiles: int = 0
    peak: float = 1.0
    matrix: Array | None = None


@dataclass(frozen=True)
class Region:
    """A connected place that differs: its box, its share of the picture, and the mean ΔE within."""

    box: Box
    share: float
    mean_delta_e: float


@dataclass(frozen=True, eq=False)
class Differences:
    """What differs between two frames once they lie on each other.

    delta_e: (h, w) CIEDE2000, 0 where the frame does not reach. lighter: (h, w) L* of the frame less that of the base.
    reached: (h, w). threshold: ΔE from which a place counts as different; noise: the standard deviation of L* between
    the two that it follows from. share: of what is reached, that differs. regions: the largest first, at most
    `MOST_REGIONS`; left_out: how many more there were. overall: median of `lighter`. evened_stops: by how much the
    frame was made lighter first, 0 where it was left as it is.
    """

    delta_e: NDArray[np.float32]
    lighter: NDArray[np.float32]
    reached: NDArray[np.bool_]
    threshold: float
    noise: float
    share: float
    regions: tuple[Region, ...]
    left_out: int
    overall: float
    evened_stops: float
    sentence: str


def lay(base: ArrayLike, frame: ArrayLike, original_width: int | None = None) -> Lay:
    """Find how a frame lies on the base frame.

    Parameters
    ----------
    base, frame
        Pictures; of one size, or of one aspect, and then both are brought to the smaller size.
    original_width
        Pixels of the base's original where `base` is a reduction of it: the unit of the shifts told.

    Raises
    ------
    CannotMeasure
        where one is not a picture, or the original's width is less than one pixel.
    """
    one, two = colour.check_picture(base), colour.check_picture(frame)
    if original_width is not None and original_width < 1:
        raise CannotMeasure(f"{original_width} is no width of a picture.", "Give the pixels of the original.")
    unit = (original_width or one.shape[1]) / one.shape[1]
    scaled = ""
    if one.shape != two.shape:
        if abs(math.log(one.shape[1] * two.shape[0] / (one.shape[0] * two.shape[1]))) > LIKE_ASPECT:
            return _untold(f"the frames have different proportions ({_size(one)} and {_size(two)} pixels).")
        scaled = f" The frames have different sizes ({_size(one)} and {_size(two)}); the larger was scaled down."
    if min(*one.shape[:2], *two.shape[:2]) < LEAST_SIDE:
        return _untold(f"a frame is smaller than {LEAST_SIDE} pixels.")
    smaller = min(one, two, key=lambda picture: picture.shape[1])
    rows, columns = smaller.shape[:2]
    reduction = min(1.0, ALIGN_PIXELS / max(rows, columns))
    size = max(1, round(columns * reduction)), max(1, round(rows * reduction))
    greys = [tilewise.grey(picture, size) for picture in (one, two)]
    coarse, peak = tilewise.coarse([tilewise.evened(grey, 8.0)[0] for grey in greys])
    pixels = np.array([[1.0, 0.0, coarse[0]], [0.0, 1.0, coarse[1]], [0.0, 0.0, 1.0]])
    seen = tilewise.Seen(greys[0], greys[1])
    fit = tilewise.fitted(seen, pixels, tilewise.grid(size))
    if isinstance(fit, tilewise.Unfit) or fit.agreeing < MOST_AGREE * fit.tiles:
        # What moves as one, a cart or a bank of cloud, may outnumber what stands still: a locked camera moves least.
        still = tilewise.nearest(seen)
        if still is not None and (isinstance(fit, tilewise.Unfit) or tilewise.rather(still, fit)):
            fit = still
    if isinstance(fit, tilewise.Unfit):
        return _untold(fit.why, fit.agreeing, fit.tiles, peak)
    found = fit
    if reduction < 0.75 and one.shape == two.shape:
        across, along = columns / size[0], rows / size[1]  # pixels of the originals in one of those looked at
        whole = tilewise.scaled(fit.pixels, across, along)
        tiles = tilewise.strongest(fit, across, along, (columns, rows))
        finer = tilewise.fitted(
            tilewise.Seen(one, two), whole, tiles, first_step=False, stray=tilewise.STRAY * math.sqrt(across)
        )
        if not isinstance(finer, tilewise.Unfit):
            found, size = finer, (columns, rows)
    return _told(found, size, unit * one.shape[1] / size[0], (fit.agreeing, fit.tiles), peak, scaled)


def laid(base: ArrayLike, frame: ArrayLike, how: Lay, longest: int = SEEN_PIXELS) -> tuple[Array, Array, Any]:
    """Both frames in linear light, (h, w, 3), the second moved onto the first, and (h, w) where it reaches.

    The longer side is at most `longest`; both are area-averaged, then the frame is sampled by cubic interpolation.

    Raises
    ------
    CannotMeasure
        where it cannot be told how they lie, or one is not a picture.
    """
    import cv2

    if how.matrix is None:
        raise CannotMeasure("The frames could not be laid over each other.", how.sentence)
    one = colour.check_picture(base)
    scale = min(1.0, longest / max(one.shape[:2]))
    size = max(1, round(one.shape[1] * scale)), max(1, round(one.shape[0] * scale))
    under, over = (_light(picture, size) for picture in (base, frame))
    to_pixels = _to_pixels(size)
    pixels = to_pixels @ how.matrix @ np.linalg.inv(to_pixels)
    moved = cv2.warpAffine(over, pixels[:2], size, flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP)
    reached = cv2.warpAffine(
        np.ones(size[::-1], np.float32), pixels[:2], size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    covered = reached > 0.999
    if np.abs(pixels - np.eye(3)).max() > 1e-6:  # cubic sampling near a border mixes in what is not there
        covered = cv2.erode(covered.astype(np.uint8), np.ones((5, 5)), borderValue=1).astype(bool)
    return under.astype(np.float64), np.clip(moved, 0.0, 1.0).astype(np.float64), covered


def differences(
    base: ArrayLike, frame: ArrayLike, how: Lay | None = None, longest: int = SEEN_PIXELS, even: bool = False
) -> Differences:
    """What differs between two frames that lie on each other, as a map, as regions, and as a share.

    A place counts as different from `JUST_SEEN` on, or from `NOISES` times the noise where that is more. The noise is
    measured in the difference of the two frames' lightness, where the scene cancels.

    Parameters
    ----------
    base, frame
        Pictures, as in `lay`.
    how
        From `lay`; found here where not given.
    longest
        Longer side of the maps, 64–4000 pixels.
    even
        Whether the frame is brought to the base's exposure first, by the median ratio of their light.

    Raises
    ------
    CannotMeasure
        where one is not a picture, they cannot be laid over each other, or `longest` is out of bounds.
    """
    import cv2

    if not 64 <= longest <= 4000:
        raise CannotMeasure(f"Differences cannot be looked at on {longest} pixels.", "Give 64 to 4000.")
    under, over, reached = laid(base, frame, lay(base, frame) if how is None else how, longest)
    if not reached.any():
        raise CannotMeasure("The frames share no part of the picture.", "Compare two frames of one viewpoint.")
    stops = 0.0
    if even:
        pair = [light @ colour.LUMINANCE for light in (under, over)]
        usable = reached & (np.minimum(*pair) > 0.01) & (np.maximum(*pair) < 0.95)
        if usable.any():
            stops = float(np.log2(np.median(pair[0][usable] / pair[1][usable])))
            over = np.clip(over * 2.0**stops, 0.0, 1.0)
    labs = [colour.linear_to_lab(light) for light in (under, over)]
    lighter = np.where(reached, labs[1][..., 0] - labs[0][..., 0], 0.0)
    noise = _noise(lighter, reached)
    soft = [cv2.GaussianBlur(lab.astype(np.float32), (0, 0), 1.0) for lab in labs]
    delta = np.where(reached, colour.delta_e_2000(soft[0], soft[1]), 0.0)
    threshold = max(JUST_SEEN, NOISES * noise)
    differs = delta > threshold
    share = float(differs.sum() / reached.sum())
    regions, left_out = _regions(differs, delta)
    overall = float(np.median(lighter[reached]))
    said = _said_of(share, threshold, noise, regions, left_out, overall, stops)
    return Differences(
        delta.astype(np.float32), lighter.astype(np.float32), reached, threshold, noise, share, regions, left_out,
        overall, stops, said,
    )  # fmt: skip


def _size(picture: NDArray[Any]) -> str:
    return f"{picture.shape[1]} × {picture.shape[0]}"


def _light(picture: ArrayLike, size: tuple[int, int]) -> NDArray[np.float32]:
    """Linear light, (h, w, 3), area-averaged to this size (columns, rows)."""
    import cv2

    array = colour.check_picture(picture)
    if array.shape[1] > 3 * size[0]:  # decoding costs more than an average of encoded values is wrong at half the way
        array = cv2.resize(array, (2 * size[0], 2 * size[1]), interpolation=cv2.INTER_AREA)
    light = colour.linear(array).astype(np.float32)
    if (array.shape[1], array.shape[0]) == size:
        return light
    return np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _untold(why: str, agreeing: int = 0, tiles: int = 0, peak: float = 1.0) -> Lay:
    return Lay(False, f"Cannot tell how the frames lie: {why}", agreeing=agreeing, tiles=tiles, peak=peak)


def _told(
    fit: tilewise.Fit, size: tuple[int, int], unit: float, votes: tuple[int, int], peak: float, scaled: str
) -> Lay:
    """Put a fit into words; `unit` is pixels of the original in one of those fitted."""
    middle = np.array([(size[0] - 1) / 2.0, (size[1] - 1) / 2.0, 1.0])
    right, down = (fit.pixels @ middle - middle)[:2]
    turn = math.degrees(math.atan2(fit.pixels[1, 0], fit.pixels[0, 0]))
    scale = math.hypot(fit.pixels[0, 0], fit.pixels[1, 0])
    to_pixels = _to_pixels(size)
    matrix = np.linalg.inv(to_pixels) @ fit.pixels @ to_pixels
    said = (
        f"The frame lies {_way(right * unit, 'to the right', 'to the left')} and {_way(down * unit, 'down', 'up')},"
        f" ± {fit.error * unit:.2f} pixels of the original; turned by {turn:.2f}°, scaled by"
        f" {100 * (scale - 1):+.2f} %. {votes[0]} of {votes[1]} places with detail agree." + scaled
    )
    return Lay(
        told=True,
        sentence=said,
        right_px=float(right * unit),
        down_px=float(down * unit),
        turn_deg=turn,
        scale=scale,
        right_share=float(right / size[0]),
        down_share=float(down / size[1]),
        error_px=fit.error * unit,
        stray_px=fit.stray * unit,
        agreeing=votes[0],
        tiles=votes[1],
        peak=peak,
        matrix=matrix,
    )


def _way(pixels: float, one: str, other: str) -> str:
    return f"{abs(pixels):.2f} pixels {one if pixels >= 0 else other}"


def _to_pixels(size: tuple[int, int]) -> Array:
    """Takes fractions of a picture to its pixel centres."""
    return np.array([[size[0], 0.0, -0.5], [0.0, size[1], -0.5], [0.0, 0.0, 1.0]])


def _noise(lighter: Array, reached: NDArray[np.bool_]) -> float:
    """Standard deviation of the noise in a difference of two frames, by the median of Immerkær's mask on it."""
    import cv2

    mask = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float64)
    inside = cv2.erode(reached.astype(np.uint8), np.ones((3, 3)), borderValue=0).astype(bool)
    if not inside.any():
        return 0.0
    seen = np.abs(cv2.filter2D(lighter, cv2.CV_64F, mask))[inside]
    return float(np.median(seen) / (0.674490 * 6.0))  # the mask multiplies a standard deviation by 6


def _regions(differs: NDArray[np.bool_], delta: Array) -> tuple[tuple[Region, ...], int]:
    import cv2

    rows, columns = differs.shape
    marked = cv2.morphologyEx(differs.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3)))
    reach = max(3, round(max(rows, columns) / 100)) | 1  # what lies so near belongs together
    joined = cv2.morphologyEx(marked, cv2.MORPH_CLOSE, np.ones((reach, reach)))
    many, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    found = []
    for number in range(1, many):
        x, y, width, height, _ = (int(v) for v in stats[number])
        window = (slice(y, y + height), slice(x, x + width))
        own = (labels[window] == number) & differs[window]
        share = float(own.sum() / differs.size)
        if share >= LEAST_REGION:
            box = (x / columns, y / rows, width / columns, height / rows)
            found.append(Region(box, share, float(delta[window][own].mean())))
    found.sort(key=lambda region: (-region.share, region.box))
    return tuple(found[:MOST_REGIONS]), max(0, len(found) - MOST_REGIONS)


def _said_of(
    share: float,
    threshold: float,
    noise: float,
    regions: tuple[Region, ...],
    left_out: int,
    overall: float,
    stops: float,
) -> str:
    many = len(regions) + left_out
    said = (
        f"{100 * share:.1f} % of what both show differs by more than ΔE {threshold:.1f} (noise {noise:.2f} L*), in"
        f" {many} {'place' if many == 1 else 'places'}."
    )
    if left_out:
        said += f" The {len(regions)} largest are named."
    if stops:
        said += f" The frame was first made {abs(stops):.2f} stops {'lighter' if stops > 0 else 'darker'}."
    elif abs(overall) >= 1.0:
        said += f" As a whole it is {abs(overall):.1f} L* {'lighter' if overall > 0 else 'darker'}."
    return said
