"""How one picture lies over another of the same viewpoint, by what most tiles of it agree on; the engine of `lockoff`.

A tile is a square (x, y, side) in pixels. Tiles are compared by structure, evened to one local mean and contrast, so
that light and veil count little; within a tile, places that differ most count least. Each tile gives a shift; one
shift with turn and scale is fitted to those that agree, and the next step starts from there. A transform is 3 × 3 and
takes pixel centres of the base to those of the frame.

Sources: Kuglin & Hines 1975 (phase correlation); Lucas & Kanade 1981 (shift by gradients). Thresholds are ours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from refarchive.looks import colour

Array = NDArray[np.float64]
Plane = NDArray[np.float32]
Tile = tuple[int, int, int]

COARSE_PIXELS = 750  # longer side for the first step
FURTHEST = 0.08  # of the width: no knock of a locked tripod is larger
TILES_ALONG = 10  # along the longer side
TEXTURE = 2.0  # standard deviation of 8-bit luma, evened out locally, below which a tile says nothing
ALIKE = 0.45  # correlation of a tile with its place in the other frame, from which on both show the same
STRAY = 0.6  # pixels of what is compared, by which a tile may lie off the fit and still agree
SMALL_TILES_ALONG = 18  # along the longer side, where little stands still
STARTS = ((0.0, 0.0), (4.0, 0.0), (-4.0, 0.0), (0.0, 3.0), (0.0, -3.0))  # pixels right and down to look from
LEAST_STILL, LEAST_STILL_SHARE = 12, 0.15  # small tiles that must agree on having stood still, and their share
STILL_PIXELS, STILL_ERROR = 6.0, 0.05  # of what is compared: the largest shift then, and the largest standard error
CLOSE_ERROR, CLOSE_SHARE = 0.02, 0.5  # of such a fit that others need not be looked for
RATHER = 0.6  # of the share that agrees on another shift
LEAST_AGREEING = 6  # tiles
LEAST_SHARE = 0.4  # of the tiles with texture, that must agree
MOST_TURN_DEG, MOST_SCALE = 2.0, 0.02
SUBPIXELS = 32  # to which OpenCV rounds the places it samples
SAMPLING = 0.006  # pixels; what sampling itself costs, measured on known shifts of pictures without noise
SETTLED = 0.01  # pixels, by which the last step may move a corner
FULL_TILES, FULL_SIDE = 16, 320  # tiles of the unreduced pictures, and their pixels


def grey(picture: NDArray[Any], size: tuple[int, int] | None = None) -> Plane:
    """Encoded luma, 0–255, area-averaged to this size (columns, rows)."""
    import cv2

    rows, columns = picture.shape[:2]
    if picture.dtype != np.uint8:
        colour.linear(picture)  # refuses values outside 0–1
        picture = np.asarray(picture * 255.0, dtype=np.float32)
    luma = cv2.cvtColor(np.ascontiguousarray(picture), cv2.COLOR_RGB2GRAY)
    if size is not None and size != (columns, rows):
        luma = cv2.resize(luma, size, interpolation=cv2.INTER_AREA)
    return np.asarray(luma, dtype=np.float32)


def evened(grey: Plane, sigma: float) -> tuple[Plane, float]:
    """Structure alone: less the local mean, over the local contrast; and its standard deviation before that.

    Flat places stay near 0.
    """
    import cv2

    own = grey - cv2.GaussianBlur(grey, (0, 0), sigma)
    around = round(4.0 * sigma) | 1
    contrast = np.sqrt(np.maximum(cv2.blur(own * own, (around, around)), 0.0))  # running sums round below 0
    return np.asarray(own / (contrast + TEXTURE), dtype=np.float32), float(own.std())


class Seen:
    """Two pictures, or their greys, that tiles are cut from."""

    def __init__(self, base: NDArray[Any], frame: NDArray[Any]) -> None:
        self.base, self.frame = base, frame
        self.size = base.shape[1], base.shape[0]
        self._kept: dict[Tile, tuple[Plane, float]] = {}

    def of_base(self, tile: Tile) -> tuple[Plane, float]:
        """The tile (x, y, side) of the base, evened, and how much texture it has."""
        if tile not in self._kept:
            x, y, side = tile
            grey = self._plane(self.base[y : y + side, x : x + side])
            self._kept[tile] = evened(grey, 6.0)
        return self._kept[tile]

    def of_frame(self, tile: Tile, pixels: Array) -> tuple[Plane, float, Array] | None:
        """What the frame shows there under a transform of pixel centres, how much texture that has, and by how much
        (right, down) it was sampled beside the place asked for; None where it reaches out of the frame.
        """
        import cv2

        x, y, side = tile
        corners = np.array([[x, y, 1], [x + side, y, 1], [x, y + side, 1], [x + side, y + side, 1]], dtype=float)
        where = corners @ pixels.T
        left, top = np.floor(where[:, :2].min(axis=0)).astype(int) - 3
        right, bottom = np.ceil(where[:, :2].max(axis=0)).astype(int) + 4
        if left < 0 or top < 0 or right > self.frame.shape[1] or bottom > self.frame.shape[0]:
            return None
        patch = self._plane(self.frame[top:bottom, left:right])
        own = pixels[:2].copy()
        wanted = (pixels @ [x, y, 1.0])[:2] - [left, top]
        own[:, 2] = np.rint(wanted * SUBPIXELS) / SUBPIXELS  # OpenCV would round so by itself, and not say it
        grey = np.asarray(
            cv2.warpAffine(patch, own, (side, side), flags=cv2.INTER_LANCZOS4 | cv2.WARP_INVERSE_MAP), np.float32
        )
        return *evened(grey, 6.0), own[:, 2] - wanted

    @staticmethod
    def _plane(part: NDArray[Any]) -> Plane:
        return grey(part) if part.ndim == 3 else np.asarray(part, dtype=np.float32)


def grid(size: tuple[int, int], along: int = TILES_ALONG) -> list[Tile]:
    """Tiles (x, y, side) over a picture, set in from its border."""
    side = max(32, max(size) // along)
    side = min(side, min(size) // 2)
    inset = max(4, min(size) // 60)
    columns, rows = (max(2, round((length - 2 * inset) / side)) for length in size)
    xs, ys = (
        np.linspace(inset, length - inset - side, many).astype(int)
        for length, many in zip(size, (columns, rows), strict=True)
    )
    return [(int(x), int(y), int(side)) for y in ys for x in xs]


def coarse(planes: list[Plane]) -> tuple[tuple[float, float], float]:
    """Shift of the whole (right, down) by phase correlation within `FURTHEST`, and how its peak stands out."""
    import cv2

    rows, columns = planes[0].shape
    scale = min(1.0, COARSE_PIXELS / max(rows, columns))
    size = max(1, round(columns * scale)), max(1, round(rows * scale))
    window = _window(*size)
    waves = [np.fft.rfft2(cv2.resize(plane, size, interpolation=cv2.INTER_AREA) * window) for plane in planes]
    cross = waves[1] * np.conj(waves[0])
    spread = np.abs(cross)
    surface = np.fft.irfft2(cross / (spread + 1e-3 * spread.mean() + 1e-12), s=size[::-1])
    surface = np.asarray(cv2.GaussianBlur(np.fft.fftshift(surface), (0, 0), 1.0), dtype=np.float64)
    middle = size[1] // 2, size[0] // 2
    reach = max(4, round(FURTHEST * size[0]))
    y0, x0 = max(0, middle[0] - reach), max(0, middle[1] - reach)
    near = surface[y0 : middle[0] + reach + 1, x0 : middle[1] + reach + 1]
    y, x = np.unravel_index(int(near.argmax()), near.shape)
    rest = near.copy()
    rest[max(0, y - 4) : y + 5, max(0, x - 4) : x + 5] = -math.inf
    second = max(float(rest.max()), 1e-12)
    shift = (float(x + x0 - middle[1]) * columns / size[0], float(y + y0 - middle[0]) * rows / size[1])
    return shift, max(1.0, float(near[y, x]) / second)


@dataclass(frozen=True, eq=False)
class Fit:
    pixels: Array  # 3 × 3, from pixel centres of the base to those of the frame
    places: Array  # (n, 2) middles of the agreeing tiles
    stray: float  # root mean square, pixels
    error: float  # standard error of the shift, pixels, and what sampling costs
    agreeing: int
    tiles: int


@dataclass(frozen=True)
class Unfit:
    why: str
    agreeing: int = 0
    tiles: int = 0


def fitted(
    seen: Seen,
    pixels: Array,
    tiles: list[Tile],
    first_step: bool = True,
    stray: float = STRAY,
    least_share: float = LEAST_SHARE,
) -> Fit | Unfit:
    """The transform that most tiles agree on, found in a few steps from a first guess."""
    textured = [tile for tile in tiles if seen.of_base(tile)[1] >= TEXTURE]
    if len(textured) < LEAST_AGREEING:
        return Unfit(f"only {len(textured)} of {len(tiles)} places have enough detail, {LEAST_AGREEING} must.")
    steps = (8.0, 2.0, 1.0, stray, stray, stray) if first_step else (2.0 * stray, stray, stray, stray)
    middles, residual, held = np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, dtype=bool)
    looked_at: list[Tile] = []
    for number, allowed in enumerate(steps):
        looked_at, rows = [], []
        for tile in textured:
            step = _step(seen, tile, pixels, wide=first_step and number == 0)
            if step is not None:
                looked_at.append(tile)
                rows.append(step)
        if len(rows) < LEAST_AGREEING:
            return Unfit("too little of the frames overlaps.", 0, len(looked_at))
        residual = np.array(rows)[:, :2]
        alike = np.array(rows)[:, 2] >= (ALIKE if number else 0.0)
        middles = np.array([(x + side / 2 - 0.5, y + side / 2 - 0.5) for x, y, side in looked_at])
        change, held = _agreed(middles, residual, alike, allowed, seen.size)
        if change is None:
            break
        pixels = pixels @ change
        if number >= 2 and np.abs(_moved(change, seen.size)).max() < SETTLED:
            break
    agreeing, many = int(held.sum()), len(looked_at)
    if agreeing < LEAST_AGREEING or agreeing < least_share * many:
        return Unfit(
            f"{agreeing} of {many} places with detail agree on how the frames lie; at least"
            f" {max(LEAST_AGREEING, math.ceil(least_share * many))} must.",
            agreeing,
            many,
        )
    turn, scale = math.degrees(math.atan2(pixels[1, 0], pixels[0, 0])), math.hypot(pixels[0, 0], pixels[1, 0])
    if abs(turn) > MOST_TURN_DEG or abs(scale - 1.0) > MOST_SCALE:
        return Unfit("they would have to be turned or scaled more than a locked tripod can be.", agreeing, many)
    off = (residual - _predicted(middles, residual, seen.size, held))[held]
    spread = float(np.sqrt((off**2).sum(axis=1).mean()))
    error = math.hypot(spread / math.sqrt(max(1, agreeing - 2)), SAMPLING)
    return Fit(pixels, middles[held], spread, error, agreeing, many)


def nearest(seen: Seen) -> Fit | None:
    """A small shift that enough small tiles agree on, though more may have moved as one; None where there is none.

    Of several that one is taken on which many agree closely. That tiles which show other things agree within `STRAY` by
    chance is unlikely: their steps spread over six pixels either way, and few of them look alike there.
    """
    tiles = grid(seen.size, SMALL_TILES_ALONG)
    middle = np.append((np.array(seen.size) - 1.0) / 2.0, 1.0)
    found: list[Fit] = []
    for right, down in STARTS:
        start = np.array([[1.0, 0.0, right], [0.0, 1.0, down], [0.0, 0.0, 1.0]])
        fit = fitted(seen, start, tiles, first_step=False, least_share=LEAST_STILL_SHARE)
        if isinstance(fit, Unfit) or fit.agreeing < LEAST_STILL or fit.error > STILL_ERROR:
            continue
        if np.hypot(*(fit.pixels @ middle - middle)[:2]) <= STILL_PIXELS:
            found.append(fit)
            if fit.error <= CLOSE_ERROR and fit.agreeing >= CLOSE_SHARE * fit.tiles:
                break  # no other start can do much better
    return max(found, key=lambda fit: fit.agreeing / fit.error) if found else None


def rather(still: Fit, moved: Fit) -> bool:
    """Whether a fit of small tiles near a standstill goes before one of larger tiles: as close, and not far fewer."""
    return still.error <= moved.error and still.agreeing / still.tiles >= RATHER * moved.agreeing / moved.tiles


def _step(seen: Seen, tile: Tile, pixels: Array, wide: bool) -> tuple[float, float, float] | None:
    """How far a tile still lies off in the frame (right, down), and how well it correlates there."""
    import cv2

    base, _ = seen.of_base(tile)
    got = seen.of_frame(tile, pixels)
    if got is None:
        return None
    frame, texture, beside = got
    if texture < 0.3 * TEXTURE:
        return (0.0, 0.0, 0.0)  # covered by something even: it has a say, and says no
    edge = 4
    inner = (slice(edge, -edge), slice(edge, -edge))
    if wide:
        (right, down), response = cv2.phaseCorrelate(base, frame, _window(tile[2], tile[2]).astype(np.float32))
        return float(right + beside[0]), float(down + beside[1]), max(0.0, float(response))
    # One Newton step of least squares on what both have: the mean of the gradients halves the error of either.
    both = 0.5 * (base + frame)
    across = cv2.Scharr(both, cv2.CV_32F, 1, 0, scale=1 / 32)[inner]
    along = cv2.Scharr(both, cv2.CV_32F, 0, 1, scale=1 / 32)[inner]
    gap = (base - frame)[inner]
    # Places that differ most are figures and shadows passing through the tile.
    bound = 2.5 * float(np.median(np.abs(gap))) + 1e-6
    weight = 1.0 / np.maximum(1.0, np.abs(gap) / bound) ** 2
    normal = np.array(
        [[(weight * across * across).sum(), (weight * across * along).sum()], [0.0, (weight * along * along).sum()]]
    )
    normal[1, 0] = normal[0, 1]
    least = float(np.linalg.eigvalsh(normal)[0])
    if least < 1e-4 * weight.size:
        return None  # an edge in one direction only says nothing along it
    right, down = np.linalg.solve(normal, [(weight * across * gap).sum(), (weight * along * gap).sum()])
    one, two = base[inner], frame[inner]
    correlation = float((one * two).sum() / math.sqrt(float((one * one).sum() * (two * two).sum()) + 1e-12))
    right, down = np.clip([right, down], -3.0, 3.0) + beside
    return float(right), float(down), correlation


def _window(columns: int, rows: int) -> Array:
    return np.outer(np.hanning(rows + 2)[1:-1], np.hanning(columns + 2)[1:-1])


def _agreed(
    middles: Array, residual: Array, alike: NDArray[np.bool_], allowed: float, size: tuple[int, int]
) -> tuple[Array | None, NDArray[np.bool_]]:
    """What change most tiles agree on, 3 × 3 in pixels, and which tiles those are."""
    nothing = np.zeros(len(residual), dtype=bool)
    if alike.sum() < LEAST_AGREEING:
        return None, nothing
    apart = np.hypot(*(residual[:, None] - residual[None]).transpose(2, 0, 1))
    near = (apart < allowed) & alike[None, :]
    seed = int(np.where(alike, near.sum(axis=1), -1).argmax())
    held = near[seed]
    for _ in range(10):
        if held.sum() < LEAST_AGREEING:
            return None, held
        off = residual - _predicted(middles, residual, size, held)
        following = alike & (np.hypot(*off.T) < allowed)
        if (following == held).all():
            break
        held = following
    if held.sum() < LEAST_AGREEING:
        return None, held
    return _change(middles[held], residual[held], size), held


def _terms(middles: Array, residual: Array, size: tuple[int, int]) -> tuple[Array, float]:
    """Shift, scale and turn by least squares about the picture's middle; (right, down, scale, turn), and the length."""
    length = max(size) / 2.0
    x, y = ((middles - (np.array(size) - 1.0) / 2.0) / length).T
    one, none = np.ones_like(x), np.zeros_like(x)
    if np.ptp(x) < 0.3 and np.ptp(y) < 0.3:  # tiles in one corner cannot tell turn from shift
        return np.array([*residual.mean(axis=0), 0.0, 0.0]), length
    design = np.vstack([np.column_stack([one, none, x, -y]), np.column_stack([none, one, y, x])])
    terms, *_ = np.linalg.lstsq(design, np.concatenate([residual[:, 0], residual[:, 1]]), rcond=None)
    return np.asarray(terms), length


def _predicted(middles: Array, residual: Array, size: tuple[int, int], held: NDArray[np.bool_]) -> Array:
    """What a fit to the tiles held says for all."""
    (right, down, scale, turn), length = _terms(middles[held], residual[held], size)
    x, y = ((middles - (np.array(size) - 1.0) / 2.0) / length).T
    return np.column_stack([right + scale * x - turn * y, down + scale * y + turn * x])


def _change(middles: Array, residual: Array, size: tuple[int, int]) -> Array:
    (right, down, scale, turn), length = _terms(middles, residual, size)
    a, b = scale / length, turn / length
    middle = (np.array(size) - 1.0) / 2.0
    matrix = np.array([[1.0 + a, -b, 0.0], [b, 1.0 + a, 0.0], [0.0, 0.0, 1.0]])
    matrix[:2, 2] = middle - matrix[:2, :2] @ middle + [right, down]
    return matrix


def _moved(change: Array, size: tuple[int, int]) -> Array:
    """How far a change moves the corners, in pixels."""
    corners = np.array([[0, 0, 1], [size[0], 0, 1], [0, size[1], 1], [*size, 1]], dtype=float)
    return np.asarray((corners @ change.T - corners)[:, :2])


def scaled(pixels: Array, across: float, along: float) -> Array:
    """A transform of pixel centres, for a picture so many times as large."""
    bigger = np.array([[across, 0.0, 0.5 * across - 0.5], [0.0, along, 0.5 * along - 0.5], [0.0, 0.0, 1.0]])
    return np.asarray(bigger @ pixels @ np.linalg.inv(bigger))


def strongest(fit: Fit, across: float, along: float, size: tuple[int, int]) -> list[Tile]:
    """Tiles of the unreduced picture in the middles of those that agreed, spread over the picture."""
    step = max(1.0, len(fit.places) / FULL_TILES)
    chosen = [fit.places[int(k * step)] for k in range(int(len(fit.places) / step))]
    side = min(FULL_SIDE, min(size) // 4)
    return [
        (
            int(np.clip((x + 0.5) * across - side / 2, 0, size[0] - side)),
            int(np.clip((y + 0.5) * along - side / 2, 0, size[1] - side)),
            side,
        )
        for x, y in chosen
    ]
