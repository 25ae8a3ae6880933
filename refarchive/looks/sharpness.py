"""Where a frame is softer than the sharpest of its group, and by how much: an equivalent blur, measured and not judged.

How sharp a picture is cannot be told from the picture alone: mist and a bad focus look alike. Between frames of one
viewpoint it can, since what the scene holds cancels. Each frame is cut into the same tiles, and of each tile the
power spectrum is kept. A Gaussian blur of sigma pixels multiplies the power at the frequency f (cycles a pixel) by
exp(−4π²f²sigma²), whatever the scene; so the logarithm of the ratio of two frames' spectra falls as f² does, and its
slope is the blur that would make the sharper tile into the softer one. A veil of smoke or another exposure moves the
whole line and not its slope. Fitted with a direction, the slope tells movement from focus: a movement of L pixels has
the variance L²/12 along its way, and none across.

A tile is compared only where both frames show the same: where a figure moved, nothing is said. Clipped and even tiles
say nothing either. What is found is relative: where all frames of a group are soft, none is softer. Sharpening in the
camera counts as sharpness; frames of one group must be developed alike.

A picture is as in `colour`: (H, W, 3), uint8 or float in 0–1, sRGB, upright. Light is linear. Boxes are (x, y, width,
height) as fractions. Sigma is in pixels of the picture handed in; hand in unreduced pictures, as a reduction hides blur
of its own size. Nothing is random.

Sources: a Gaussian's Fourier transform, and the variance of a uniform distribution (textbook); Welch 1967 (windowed
power spectra). Thresholds are ours; what they are worth is in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, studies, tone

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]

TILES_ALONG = 20  # along the longer side, at most
LEAST_TILE, MOST_TILE = 96, 256  # pixels
RINGS, RAYS = 16, 6  # bins of frequency and of direction
LEAST_CYCLES, HIGHEST = 3.0, 0.42  # cycles a tile; cycles a pixel
GIST = 0.04  # cycles a pixel, up to which two tiles must show the same
LEAST_SAME = 0.85  # correlation of what two tiles show, up to there
OVER_NOISE = 4.0  # power over that of the noise, from which on a frequency is used
LEAST_BINS, FIRST_BINS = 16, 24  # at all, and to begin with
GROWTH = 1.6  # by which the square of the highest frequency used may grow at a step
MOST_FALL = 3.0  # natural logarithm of the power lost, up to which a frequency is used
MOST_CLIPPED = 0.05  # of a tile
LEAST_SIGMA = 0.4  # pixels; less is not called softer
UNSEEN = 0.7  # pixels; a tile in which such a blur could hide is not called as sharp
ERRORS, DIRECTED = 4.0, 6.0  # standard errors that a blur, and the difference along and across it, must exceed
LEAST_LEVELS = 1.0  # standard deviation of a tile in steps of 8 bits, below which it is even
ROUNDING = 4.0  # what rounding to 8 bits adds to the noise, over the textbook's twelfth: in even places it draws steps
WHOLE = 0.6  # share of the tiles compared, from which on the whole frame is called softer
LONGER = 1.5  # along over across, from which on a blur has a direction
MOST_PLACES, MOST_CLIPPED_PLACES = 12, 24
MOST_FRAMES = 500


@dataclass(frozen=True, eq=False)
class Detail:
    """What is kept of one frame's tiles, so that frames need not be in memory together.

    power: (rows, columns, RINGS, RAYS), of linear light, NaN where a tile says nothing by itself. noise: (rows,
    columns). gist: (rows, columns, n) complex, the low frequencies. side: of a tile in pixels; size: (width, height).
    """

    size: tuple[int, int]
    side: int
    power: NDArray[np.float32]
    noise: NDArray[np.float32]
    gist: NDArray[np.complex64]


@dataclass(frozen=True)
class Blur:
    """An equivalent Gaussian blur in pixels: sigma along and across the way it is longest, and the root of the mean
    square of both; that way in degrees clockwise from the horizontal (0–180; None where it has no direction); and the
    standard error of sigma².
    """

    sigma_px: float
    along_px: float
    across_px: float
    direction_deg: float | None
    error_px2: float


@dataclass(frozen=True)
class SoftPlace:
    """Tiles side by side that are softer than in the sharpest frame: their box, how many, the median blur, and which
    frame is the sharpest in most of them.
    """

    box: Box
    tiles: int
    blur: Blur
    sharpest: int


@dataclass(frozen=True, eq=False)
class Softness:
    """One frame against the sharpest of its group, tile by tile.

    sigma_px: (rows, columns), 0 where it is not softer, NaN where nothing can be said. compared: tiles; softer: of
    these. whole: the median blur of the softer tiles where at least `WHOLE` of the compared are, else None. places: the
    largest first, at most `MOST_PLACES`. sharpest_of: tiles in which this frame is the sharpest.
    """

    frame: int
    sigma_px: Array
    compared: int
    softer: int
    sharpest_of: int
    whole: Blur | None
    places: tuple[SoftPlace, ...]
    sentence: str


@dataclass(frozen=True)
class ClippedPlace:
    """A connected place without any drawing left: its box and its share of the picture."""

    kind: Literal["blown", "blocked"]
    box: Box
    share: float


def detail(picture: ArrayLike, right_px: float = 0.0, down_px: float = 0.0) -> Detail:
    """Measure a frame's tiles.

    Parameters
    ----------
    picture
        The frame, unreduced.
    right_px, down_px
        How far the frame lies to the right and down of the others, from `lockoff.lay`: tiles move along by whole
        pixels, so that nothing is sampled anew.

    Raises
    ------
    CannotMeasure
        where it is not a picture, is smaller than two tiles, or the shift is more than a tenth of it.
    """
    array = colour.check_picture(picture)
    rows, columns = array.shape[:2]
    side = int(np.clip(max(rows, columns) // TILES_ALONG // 2 * 2, LEAST_TILE, MOST_TILE))
    if min(rows, columns) < side or max(rows, columns) < 2 * side:
        raise CannotMeasure(
            f"A picture of {columns} × {rows} pixels is too small to compare its sharpness.",
            f"Hand in at least {2 * LEAST_TILE} × {LEAST_TILE} pixels.",
        )
    if not (math.isfinite(right_px) and math.isfinite(down_px)) or max(abs(right_px), abs(down_px)) > 0.1 * columns:
        raise CannotMeasure("The frame lies too far off the others.", "Compare frames of one viewpoint.")
    shift = round(right_px), round(down_px)
    xs, ys = _starts(columns, side), _starts(rows, side)
    bins, counts, low = _bins(side)
    held = np.maximum(counts, 1)
    window = np.outer(np.hanning(side + 1)[:-1], np.hanning(side + 1)[:-1])
    window_power = float((window**2).sum())
    shape = (len(ys), len(xs))
    power = np.full((*shape, RINGS, RAYS), np.nan, np.float32)
    noise = np.full(shape, np.nan, np.float32)
    gist = np.zeros((*shape, int(low.sum())), np.complex64)
    for row, y in enumerate(ys):
        for column, x in enumerate(xs):
            left, top = x + shift[0], y + shift[1]
            if left < 0 or top < 0 or left + side > columns or top + side > rows:
                continue
            tile = array[top : top + side, left : left + side]
            if max(_clipped(tile, kind).mean() for kind in ("blown", "blocked")) > MOST_CLIPPED:
                continue
            light = colour.linear(tile) @ colour.LUMINANCE
            mean = float(light.mean())
            level = _level(mean)
            if float(light.std()) < LEAST_LEVELS * level:
                continue
            wave = np.fft.rfft2((light - mean) * window)
            strength = np.abs(wave) ** 2
            sums = np.bincount(bins.ravel(), weights=strength.ravel(), minlength=RINGS * RAYS + 2)
            means = sums / held
            power[row, column] = means[: RINGS * RAYS].reshape(RINGS, RAYS)
            rounding = ROUNDING * level**2 / 12.0 * window_power if array.dtype == np.uint8 else 0.0
            noise[row, column] = max(means[RINGS * RAYS], rounding)
            gist[row, column] = wave[low]
    return Detail((columns, rows), side, power, noise, gist)


def compare(details: Sequence[Detail]) -> tuple[Softness, ...]:
    """Each frame of a group against the sharpest of them, tile by tile.

    Raises
    ------
    CannotMeasure
        for no frames, too many, or frames of different sizes.
    """
    if not 1 <= len(details) <= MOST_FRAMES:
        raise CannotMeasure(f"{len(details)} frames cannot be compared.", f"Hand in 1 to {MOST_FRAMES}.")
    sizes = {one.size for one in details}
    if len(sizes) > 1:
        said = " and ".join(f"{width} × {height}" for width, height in sorted(sizes)[:2])
        raise CannotMeasure(f"Frames of different sizes ({said} pixels) cannot be compared.", "Group them by size.")
    shape = details[0].noise.shape
    waves = _frequencies(details[0].side)
    tiles = [_usable(one) for one in details]
    first, same = _showing_the_same(details)
    signed = np.full(same.shape, np.inf)
    middling = _chosen(tiles, first)
    for k in range(len(details)):
        fits = _fitted(tiles[k], middling, same[k] & (first != k), waves)
        signed[k] = np.where(fits.told, 0.5 * (fits.xx + fits.yy), np.inf)
    met = np.isfinite(signed).any(axis=0)
    signed[first[met], np.flatnonzero(met)] = 0.0
    best = np.where(met, signed.argmin(axis=0), -1)
    sharpest = _chosen(tiles, best)
    found = []
    for k, one in enumerate(details):
        compared = np.isfinite(signed[k])
        fits = _fitted(tiles[k], sharpest, compared & (best != k), waves)
        own: dict[tuple[int, int], tuple[Blur, int]] = {}
        for number in np.flatnonzero(compared):
            place = (int(number) // shape[1], int(number) % shape[1])
            if best[number] == k:
                own[place] = (Blur(0.0, 0.0, 0.0, None, 0.0), k)
            elif fits.told[number]:
                blur = fits.blur(int(number))
                if _is_softer(blur) or ERRORS * blur.error_px2 <= UNSEEN**2:
                    own[place] = (blur, int(best[number]))
        found.append(_softness(k, own, one, int((best == k).sum())))
    return tuple(found)


def clipped_places(picture: ArrayLike, least_share: float = 2e-4) -> tuple[ClippedPlace, ...]:
    """Where a picture is blown or blocked, by the limits of `tone`: the largest first, at most `MOST_CLIPPED_PLACES`.

    Parameters
    ----------
    picture
        A picture.
    least_share
        Of the picture, that a place must cover to be named, 0–1.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or the share is out of bounds.
    """
    array = colour.check_picture(picture)
    if not 0.0 <= least_share <= 1.0:
        raise CannotMeasure(f"{least_share} is no share of a picture.", "Give a number from 0 to 1.")
    kinds: tuple[Literal["blown", "blocked"], ...] = ("blown", "blocked")
    found = [
        ClippedPlace(kind, area.region, area.share)
        for kind in kinds
        for area in studies.connected(_clipped(array, kind), MOST_CLIPPED_PLACES)
        if area.share >= least_share
    ]
    found.sort(key=lambda place: (-place.share, place.box))
    return tuple(found[:MOST_CLIPPED_PLACES])


def _clipped(array: NDArray[Any], kind: Literal["blown", "blocked"]) -> NDArray[np.bool_]:
    limit = tone.BLOWN_FROM if kind == "blown" else tone.BLOCKED_TO
    bound = limit if array.dtype == np.uint8 else limit / 255.0
    beyond = array >= bound if kind == "blown" else array <= bound
    return np.asarray(beyond[..., 0] & beyond[..., 1] & beyond[..., 2])  # `all` takes far longer along three values


def _level(light: float) -> float:
    """How much light one step of 8 bits is, around a tile's mean."""
    value = float(np.clip(colour.encoded(light), 0.5 / 255.0, 1.0 - 0.5 / 255.0))
    below, above = colour.linear(np.array([value - 0.5 / 255.0, value + 0.5 / 255.0]))
    return float(above - below)


def _starts(length: int, side: int) -> list[int]:
    """Where tiles begin along one side, evenly, none overlapping more than it must."""
    return [int(v) for v in np.linspace(0, length - side, max(1, math.ceil(length / side))).astype(int)]


def _waves(side: int) -> tuple[Array, Array]:
    fx, fy = np.meshgrid(np.fft.rfftfreq(side), np.fft.fftfreq(side))
    return fx, fy


def _bins(side: int) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """For each coefficient of `rfft2` its bin (ring, ray), `RINGS × RAYS` for noise, one more for none; how many each
    holds; and which are low enough for the gist.
    """
    fx, fy = _waves(side)
    radius = np.hypot(fx, fy)
    edges = np.geomspace(LEAST_CYCLES / side, HIGHEST, RINGS + 1)
    ring = np.searchsorted(edges, radius, side="right") - 1
    ray = np.floor(np.mod(np.arctan2(fy, fx) + np.pi / (2 * RAYS), np.pi) / (np.pi / RAYS)).astype(int) % RAYS
    bins = np.where((ring >= 0) & (ring < RINGS), ring * RAYS + ray, RINGS * RAYS + 1)
    # A lens draws next to nothing at the corners of the spectrum: what is there is noise.
    bins[radius > 0.55] = RINGS * RAYS
    low = (radius > 1.5 / side) & (radius <= max(GIST, 3.0 / side)) & ((fx > 0) | (fy > 0))
    return bins.astype(np.int64), np.bincount(bins.ravel(), minlength=RINGS * RAYS + 2), low


def _frequencies(side: int) -> tuple[Array, Array]:
    """For each bin the means of fx², fy² and 2·fx·fy, (RINGS × RAYS, 3), times 4π²; and how many it holds."""
    fx, fy = _waves(side)
    bins, counts, _ = _bins(side)
    many = RINGS * RAYS
    held = np.maximum(counts[:many], 1)
    sums = [
        np.bincount(bins.ravel(), weights=w.ravel(), minlength=many + 2)[:many] for w in (fx * fx, fy * fy, 2 * fx * fy)
    ]
    return 4 * np.pi**2 * np.column_stack(sums) / held[:, None], counts[:many].astype(float)


def _showing_the_same(details: Sequence[Detail]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Of each tile the frame that most others agree with, (tiles,), and which frames do, (frames, tiles)."""
    waves = np.stack([one.gist.reshape(-1, one.gist.shape[-1]) for one in details])
    have = np.stack([np.isfinite(one.noise).ravel() for one in details])
    waves = waves / np.maximum(np.linalg.norm(waves, axis=2, keepdims=True), 1e-30)
    first, same = np.zeros(have.shape[1], dtype=np.int64), np.zeros_like(have)
    for tile in range(have.shape[1]):
        agree = (waves[:, tile] @ waves[:, tile].conj().T).real >= LEAST_SAME
        agree &= have[:, tile, None] & have[None, :, tile]
        first[tile] = agree.sum(axis=1).argmax()
        same[:, tile] = agree[first[tile]]
    return first, same


_Tiles = tuple[Array, NDArray[np.bool_]]  # power over noise (tiles, bins), and which bins stand out of the noise


def _usable(one: Detail) -> _Tiles:
    power = one.power.reshape(-1, RINGS * RAYS).astype(np.float64)
    noise = one.noise.reshape(-1, 1).astype(np.float64)
    with np.errstate(invalid="ignore"):  # tiles that say nothing are not numbers
        return np.fmax(power - noise, 1e-30), power > OVER_NOISE * noise + 1e-30


def _chosen(tiles: Sequence[_Tiles], which: NDArray[np.int64]) -> _Tiles:
    """Of each tile the frame named."""
    power, out = ([tiles[k][part][tile] for tile, k in enumerate(which)] for part in (0, 1))
    return np.array(power), np.array(out)


@dataclass(frozen=True, eq=False)
class _Fits:
    """Of each tile the covariance of the blur in pixels², the standard error of its half trace, and whether told."""

    xx: Array
    yy: Array
    xy: Array
    error: Array
    told: NDArray[np.bool_]

    def blur(self, tile: int) -> Blur:
        xx, yy, xy, error = (float(values[tile]) for values in (self.xx, self.yy, self.xy, self.error))
        values, vectors = np.linalg.eigh([[xx, xy], [xy, yy]])
        along, across = math.sqrt(max(0.0, values[1])), math.sqrt(max(0.0, values[0]))
        way = None
        if values[1] - max(0.0, values[0]) > DIRECTED * error and along > LONGER * across:
            way = math.degrees(math.atan2(vectors[1, 1], vectors[0, 1])) % 180.0
        return Blur(math.sqrt(max(0.0, 0.5 * (xx + yy))), along, across, way, error)


def _fitted(soft: _Tiles, sharp: _Tiles, asked: NDArray[np.bool_], terms: tuple[Array, Array]) -> _Fits:
    """The blur that would make each second tile into the first, where asked and where enough can be used."""
    waves, counts = terms
    usable = soft[1] & sharp[1] & (counts >= 1)
    told = asked & (usable.sum(axis=1) >= LEAST_BINS)
    xx, yy, xy, errors = (np.full(len(told), np.nan) for _ in range(4))
    result = _Fits(xx, yy, xy, errors, told)
    if not told.any():
        return result
    usable, ratio = usable[told], (np.log(soft[0]) - np.log(sharp[0]))[told]
    height = waves[:, 0] + waves[:, 1]  # 4π²f²
    # From the low frequencies upwards, as far as the blur found so far leaves something: what lies beyond is noise,
    # the blocks of a JPEG, or the further waves that a movement's spectrum has and a Gaussian's has not.
    ordered = np.sort(np.where(usable, height, np.inf), axis=1)
    begin = np.minimum(FIRST_BINS, usable.sum(axis=1)) - 1
    reach = ordered[np.arange(len(begin)), begin][:, None]
    least = usable & (height <= reach)
    design = np.column_stack([np.ones(len(waves)), -waves])
    used = least
    while True:
        found, error = _solved(design, ratio, counts * used)
        if (reach > height.max()).all():
            break
        reach = reach * GROWTH
        used = least | (usable & (height <= reach) & (np.abs(found[:, 1:] @ waves.T) <= MOST_FALL))
    xx[told], yy[told], xy[told], errors[told] = *found[:, 1:].T, error
    told &= np.isfinite(errors)
    return result


def _solved(design: Array, values: Array, weights: Array) -> tuple[Array, Array]:
    """Weighted least squares of each row of values, (tiles, bins), with bins that stray counted less.

    Returns the terms, (tiles, 4), and the standard error of half the sum of the second and the third.
    """
    weights = np.minimum(weights, 400.0)
    bins = np.maximum(1, (weights > 0).sum(axis=1))
    middle = (bins // 2)[:, None]
    fair = np.ones_like(weights)
    eye = 1e-9 * np.eye(design.shape[1])
    for _ in range(4):
        held = weights * fair
        normal = np.einsum("tb,bi,bj->tij", held, design, design, optimize=True)
        normal = normal + eye * np.trace(normal, axis1=1, axis2=2)[:, None, None]
        terms = np.linalg.solve(normal, ((held * values) @ design)[..., None])[..., 0]
        off = np.abs(values - terms @ design.T) * np.sqrt(weights)
        spread = np.take_along_axis(np.sort(np.where(weights > 0, off, np.inf), axis=1), middle, 1)
        fair = np.minimum(1.0, (2.5 * spread + 1e-9) / np.maximum(off, 1e-12)) ** 2
    left = (held * (values - terms @ design.T) ** 2).sum(axis=1) / np.maximum(1, bins - design.shape[1])
    inverse = np.linalg.inv(normal)
    variance = inverse[:, 1, 1] + inverse[:, 2, 2] + 2.0 * inverse[:, 1, 2]
    return terms, 0.5 * np.sqrt(np.maximum(0.0, variance * left))


def _is_softer(blur: Blur) -> bool:
    return blur.sigma_px >= LEAST_SIGMA and blur.sigma_px**2 > ERRORS * blur.error_px2


def _softness(frame: int, own: dict[tuple[int, int], tuple[Blur, int]], one: Detail, sharpest_of: int) -> Softness:
    import cv2

    shape = one.noise.shape
    sigma = np.full(shape, np.nan)
    marked = np.zeros(shape, np.uint8)
    for place, (blur, _) in own.items():
        soft = _is_softer(blur)
        sigma[place], marked[place] = (blur.sigma_px if soft else 0.0), soft
    softer = int(marked.sum())
    many, labels = cv2.connectedComponents(marked, connectivity=4)
    xs, ys = _starts(one.size[0], one.side), _starts(one.size[1], one.side)
    places = []
    for number in range(1, many):
        tiles = [(int(y), int(x)) for y, x in np.argwhere(labels == number)]
        top, left = min(ys[y] for y, _ in tiles), min(xs[x] for _, x in tiles)
        bottom, right = max(ys[y] for y, _ in tiles) + one.side, max(xs[x] for _, x in tiles) + one.side
        width, height = one.size
        box = (left / width, top / height, (right - left) / width, (bottom - top) / height)
        votes = np.bincount([own[tile][1] for tile in tiles])
        places.append(SoftPlace(box, len(tiles), _median([own[tile][0] for tile in tiles]), int(votes.argmax())))
    places.sort(key=lambda place: (-place.tiles, place.box))
    whole = None
    if softer and softer >= WHOLE * len(own):
        whole = _median([blur for place, (blur, _) in own.items() if marked[place]])
    said = _said(len(own), softer, sharpest_of, whole, places, marked.size)
    return Softness(frame, sigma, len(own), softer, sharpest_of, whole, tuple(places[:MOST_PLACES]), said)


def _median(blurs: list[Blur]) -> Blur:
    """The middle of several blurs; a direction where most have one and they agree (mean of doubled angles)."""
    sigma, along, across, error = (
        float(np.median([getattr(blur, name) for blur in blurs]))
        for name in ("sigma_px", "along_px", "across_px", "error_px2")
    )
    ways = [blur.direction_deg for blur in blurs if blur.direction_deg is not None]
    way = None
    if 2 * len(ways) > len(blurs):
        doubled = np.exp(2j * np.radians(ways)).mean()
        if abs(doubled) > 0.8:
            way = float(np.degrees(np.angle(doubled)) / 2.0) % 180.0
    return Blur(sigma, along, across, way, error)


def _in_words(blur: Blur, what: str) -> str:
    if blur.direction_deg is None:
        return f"a blur of sigma {blur.sigma_px:.1f} pixels in no clear direction, as of focus"
    length = math.sqrt(12.0 * max(0.0, blur.along_px**2 - blur.across_px**2))
    return (
        f"a blur along {blur.direction_deg % 179.5:.0f}° (clockwise from the horizontal), as of {what} that moved by"
        f" {length:.1f} pixels"
    )


def _said(
    compared: int, softer: int, sharpest_of: int, whole: Blur | None, places: Sequence[SoftPlace], tiles: int
) -> str:
    if not compared:
        return "Cannot tell: no part of this frame can be compared with another frame of the group."
    said = (
        f"{compared} of {tiles} parts can be compared; in {sharpest_of} no other is sharper, in {softer} it is"
        " softer than the sharpest."
    )
    if whole is not None:
        said += f" That is most of the frame: {_in_words(whole, 'a camera')}."
    elif places:
        said += f" The largest such place: {_in_words(places[0].blur, 'something')}."
    return said
