"""From painted layers to an exposed frame: light added up linearly, a knock of the tripod, defocus, grain, EXIF.

Everything here is linear light, 1.0 the brightest that a frame can hold, (H, W, 3) float32, at twice the frame's size
with a margin of `MARGIN` frame pixels all round; the margin is cut off after the frame was moved and blurred.
"""

from __future__ import annotations

# fmt: off
from collections.abc import Callable, Sequence
from fractions import Fraction

import numpy as np
from drawing.canvas import SCALE, Array, Canvas, Colour, blur, down, noise, unit
from PIL import Image
from PIL.TiffImagePlugin import IFDRational
from scipy.ndimage import map_coordinates, shift  # type: ignore[import-untyped]

WIDTH, HEIGHT, MARGIN = 1500, 1000, 16
FOCAL = 1.6  # of the lens, in picture heights: about 38 mm where the picture is 24 mm high
Figure = tuple[Callable[[Canvas], object], float, float]  # how it is painted, and where its middle is

EXIF_IFD = 0x8769
DESCRIPTION, DATE = 0x010E, 0x0132
EXPOSURE_TIME, F_NUMBER, ISO, EXIF_VERSION, ORIGINAL, DIGITIZED = 0x829A, 0x829D, 0x8827, 0x9000, 0x9003, 0x9004
OFFSET, OFFSET_ORIGINAL, SUBSEC_ORIGINAL = 0x9010, 0x9011, 0x9291
FOCAL_LENGTH, COLOUR_SPACE, PIXELS_X, PIXELS_Y = 0x920A, 0xA001, 0xA002, 0xA003


def canvas(light: Colour, shadow: float) -> Canvas:
    """A canvas of a frame's size and its margin."""
    return Canvas(WIDTH + 2 * MARGIN, HEIGHT + 2 * MARGIN, light=light, shadow=shadow)


def linear(rgb: Array) -> Array:
    """Painted colours 0–255 as linear light."""
    result: Array = np.power(np.clip(rgb, 0, 255) / np.float32(255), np.float32(2.2)).astype(np.float32)
    return result


def tint(colour: Colour) -> Array:
    """One colour as linear light."""
    return linear(np.asarray(colour, np.float32))


def ground(c: Canvas, horizon: float, camera_m: float) -> tuple[Array, Array]:
    """Where each pixel below the horizon looks on level ground: metres to the right of the axis, metres away."""
    x, y = c.grid()
    away = FOCAL * camera_m / np.maximum(y - horizon, 0.004)
    return ((x - c.right / 2) * away / FOCAL).astype(np.float32), np.broadcast_to(away, c.cover.shape)


def edge(cover: Array, towards: tuple[float, float], reach: float) -> Array:
    """The edge of a shape that faces a light, `reach` pixels deep."""
    moved = np.roll(cover, (-round(towards[1] * reach), -round(towards[0] * reach)), (0, 1))
    return blur(np.clip(cover - moved, 0, 1), 1.0)


def two_lights(c: Canvas, figures: Sequence[Figure], ambient: Array, lamp: tuple[float, float] | None, warm: Array,
        reach: float, *, rim: Array | None = None, side: tuple[float, float] = (-1.0, -0.25)) -> tuple[Array, Array]:
    """Figures under the day and under one lamp, each from its own side; returns their light and their cover."""
    day, night = c.layer(), c.layer()
    night.shadow = 0.04
    for paint, at_x, at_y in figures:
        paint(day)
        if lamp is not None:
            night.light = unit(lamp[0] - at_x, lamp[1] - at_y, 0.16)
            paint(night)
    light = linear(day.rgb) * ambient
    if lamp is not None:
        x, y = c.grid()
        far = ((x - lamp[0]) ** 2 + (y - lamp[1]) ** 2) / reach**2
        near = (1 / (1 + far))[..., None]
        light += linear(night.rgb) * warm * near
    if rim is not None:
        light += edge(day.cover, side, 5)[..., None] * rim
    return light.astype(np.float32), day.cover


def over(base: Array, light: Array, cover: Array) -> None:
    """Lay figures over the picture."""
    base += (light - base) * cover[..., None]


def mirror(light: Array, cover: Array, row: int, shake: Array, smear: float) -> tuple[Array, Array]:
    """What stands above `row`, upside down below it, shaken by `shake` pixels and smeared towards the viewer."""
    rows = cover.shape[0]
    depth = np.arange(rows - row, dtype=np.float32)[:, None]
    source_y = row - depth + shake * 0.7
    source_x = np.arange(cover.shape[1], dtype=np.float32)[None, :] + shake
    where = [np.broadcast_to(source_y, shake.shape), source_x]
    mask = map_coordinates(cover, where, order=1, mode="constant")
    colour = np.stack([map_coordinates(light[..., k], where, order=1, mode="nearest") for k in range(3)], -1)
    return blur(colour * mask[..., None], (smear, 1.0, 0)), blur(mask, (smear, 1.0))


def ripples(shape: tuple[int, int], horizon: int, seed: int, strength: float) -> Array:
    """Waves seen from low down: fine and flat far off, long and slow in front; pixels of displacement."""
    rows = np.arange(shape[0], dtype=np.float32)[:, None]
    near = np.clip((rows - horizon) / (shape[0] - horizon), 0, 1)
    fine = noise(shape, seed, (7, 13), 9.0)
    broad = noise(shape, seed + 1, (24, 46), 7.0)
    return (strength * (fine * (0.25 + 0.3 * near) + broad * near)).astype(np.float32)


def flame(shape: tuple[int, int], unit_px: float, x: float, y: float, size: float, colour: Colour,
        power: float) -> Array:
    """The light of a flame and its glass, far over 1.0 in the middle."""
    out = np.zeros((*shape, 3), np.float32)
    reach = int(6 * size * unit_px)
    cx, cy = x * unit_px, y * unit_px
    top, left = max(int(cy) - reach, 0), max(int(cx) - reach, 0)
    box = (slice(top, min(int(cy) + reach, shape[0])), slice(left, min(int(cx) + reach, shape[1])))
    yy, xx = np.mgrid[box].astype(np.float32)
    u, v = (xx - cx) / (size * unit_px), (yy - cy) / (size * unit_px)
    wick = np.exp(-(((u / 0.3) ** 2) + ((v + 0.15) / 0.62) ** 2))
    pear = 1 / (1 + np.exp(np.clip((np.hypot(u / 0.72, v / 1.15) - 1) * 14, -40, 40)))
    out[box] = (3.4 * wick + 0.8 * pear)[..., None] * tint(colour) * power
    return out


def expose(light: Array, *, move: tuple[float, float], sigma: float, gain: float, seed: int, grain: float = 1.0,
        flare: float = 1.0) -> Array:
    """One exposure, 0–255 (HEIGHT, WIDTH, 3): moved by `move` pixels (right, down), blurred by `sigma`, then grain.

    Move and blur act on linear light on the larger rendering; lens softness and bloom come after, grain and fall-off
    belong to the camera and stay where they are.
    """
    if any(move):
        wide = [shift(light[..., k], (move[1] * SCALE, move[0] * SCALE), order=3, mode="nearest") for k in range(3)]
        light = np.clip(np.stack(wide, -1), 0, None)
    small = down(light)
    if sigma:
        small = blur(small, (sigma, sigma, 0))
    small = blur(small, (0.55, 0.55, 0)) * np.float32(gain)
    hot = np.clip(small - 0.8, 0, 6)
    wide = 0.10 * blur(hot, (28, 28, 0)) + 0.12 * blur(hot, (90, 90, 0))
    small = small + flare * (0.10 * blur(hot, (7, 7, 0)) + wide)
    small = small[MARGIN : MARGIN + HEIGHT, MARGIN : MARGIN + WIDTH]
    y, x = np.mgrid[:HEIGHT, :WIDTH].astype(np.float32)
    off = ((x / WIDTH - 0.5) * 1.5) ** 2 + (y / HEIGHT - 0.5) ** 2
    small = small * (1 / (1 + 0.42 * off) ** 2)[..., None]
    spill = np.clip(small.max(-1, keepdims=True) - 1, 0, 8)  # what one colour cannot hold goes into the others
    small = small + 0.25 * spill
    soft = np.where(small > 0.7, 0.7 + 0.3 * np.tanh((small - 0.7) / 0.3), small)  # a shoulder before white
    picture = 255 * np.power(np.clip(soft, 0, 1), 1 / 2.2)
    random = np.random.default_rng(seed)
    speck = blur(random.standard_normal((HEIGHT, WIDTH)).astype(np.float32), 0.8) * 2.6
    chroma = blur(random.standard_normal((HEIGHT, WIDTH, 3)).astype(np.float32), (1.6, 1.6, 0)) * 2.4
    amount = grain * (1.2 - 0.5 * picture.mean(-1) / 255)
    picture = picture + (speck * amount)[..., None] + chroma * (0.5 * amount)[..., None]
    result: Array = np.clip(picture, 0, 255)
    return result


def _ratio(value: Fraction) -> IFDRational:
    return IFDRational(value.numerator, value.denominator)


def exif(when: str, offset: str, seconds: Fraction, f_number: float, iso: int, focal_mm: float) -> Image.Exif:
    """What a camera writes of an exposure; `when` is local: 2025-02-23 06:35:12.41. No maker and no serial number."""
    day, _, clock = when.partition(" ")
    clock, _, subsec = clock.partition(".")
    stamp = f"{day.replace('-', ':')} {clock}"
    made = Image.Exif()
    made[DESCRIPTION] = "Drawn for the refarchive demo: everything in it is invented."
    made[DATE] = stamp
    made.get_ifd(EXIF_IFD).update({
        EXPOSURE_TIME: _ratio(seconds), F_NUMBER: _ratio(Fraction(round(f_number * 10), 10)), ISO: iso,
        EXIF_VERSION: b"0232", ORIGINAL: stamp, DIGITIZED: stamp, OFFSET: offset, OFFSET_ORIGINAL: offset,
        SUBSEC_ORIGINAL: subsec, FOCAL_LENGTH: _ratio(Fraction(round(focal_mm * 10), 10)), COLOUR_SPACE: 1,
        PIXELS_X: WIDTH, PIXELS_Y: HEIGHT,
    })
    return made
