"""The shoot of The pilot's crossing: a loaded cart in grey water, and one man in front who knows the way."""

from __future__ import annotations

# fmt: off
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from drawing import developing as dev
from drawing.canvas import Array, Canvas, Colour, blur, noise
from drawing.cast import Pose, carrier, pilot
from drawing.land import brob, church, hills, sands, sky
from drawing.people import Dress, shawled
from drawing.staged import LIGHT
from drawing.things import cart, horse

HORIZON, CAMERA_M = 0.405, 1.5
LINE = 0.742  # where the water cuts cart, mare and men
OILSKIN: Colour = (150, 118, 52)
Staff = tuple[tuple[float, float], tuple[float, float]]
PLANTED: Staff = ((0.2, 1.05), (0.3, 0.02))


LEADING = Pose(look="ahead", hand=(0.15, 0.47), near=(-0.1, 0.8))


@dataclass(frozen=True, slots=True)
class Ford:
    """One exposure: the pilot, the carrier (None: out of the picture), the mare's head, the cart's way, mist, sky."""

    pilot: Pose
    pilot_x: float = 1.27
    staff: Staff = PLANTED
    carrier: Pose | None = LEADING
    nod: float = 0.0
    way: float = 0.0
    women: bool = True
    mist: float = 0.3
    drift: float = 0.0
    gap: float = 0.0  # how bright the sky is where the cloud tears
    seed: int = 1


@cache
def _place() -> tuple[Canvas, Array, Array]:
    """The empty ford: its canvas, its light, and what of it is water."""
    c = dev.canvas(LIGHT, 0.24)
    sky(c, HORIZON, ((0, (118, 124, 132)), (0.2, (150, 154, 158)), (HORIZON, (196, 196, 190))), 27, cloud=20,
            tint=(1, 1, 0.98), band=(0.2, (238, 234, 220), 0.9))
    hills(c, HORIZON, 0.052, (136, 144, 153), 18, start=0.42)
    church(c, 0.80, HORIZON + 0.001, 0.036, (112, 118, 124))
    hills(c, HORIZON, 0.022, (112, 119, 124), 33, start=0.9)
    sands(c, HORIZON, ((HORIZON, (160, 154, 142)), (0.55, (128, 122, 112)), (1, (96, 96, 94))), 14, wet=0.62, ribs=8,
            dull=0.84)
    for k in range(7):
        t = k / 6
        brob(c, 1.42 - 0.52 * t**0.8, 0.515 - 0.1 * t**0.75, 0.085 * (1 - t) ** 1.2 + 0.009, (74, 82, 74), seed=k,
                lean=0.06 * (-1) ** k)
    x, y = c.grid()
    bank = 0.530 + 0.012 * np.sin(x * 2.7 + 2.0) + 0.003 * np.sin(x * 13 + 1)
    water = np.clip((y - bank) / 0.004, 0, 1).astype(np.float32)
    c.darken([(-0.1, 0.527), (0.4, 0.536), (0.9, 0.525), (1.6, 0.52), (1.6, 0.535), (0.9, 0.545), (0.4, 0.552),
            (-0.1, 0.545)], 0.25, 0.006)
    return c, dev.linear(c.rgb), water


def ford(take: Ford) -> Array:
    """The light of one exposure, with its margin."""
    c, empty, water = _place()
    light = empty.copy()
    x, y = c.grid()
    rows, columns = c.cover.shape
    if take.gap:  # the cloud tears: a part of the sky goes far over what a frame can hold
        tear = np.exp(-(((x - 0.30) / 0.34) ** 2 + ((y - 0.285) / 0.062) ** 2) * 1.0)
        ragged = np.clip(tear + 0.10 * noise(c.cover.shape, 71, (150, 60), 3.0) * tear, 0, 1.1)
        light += (take.gap * ragged**2 * (y < HORIZON))[..., None] * np.array([1.0, 0.97, 0.88], np.float32)
    start = int(0.515 * c.unit)
    shake = dev.ripples((rows, columns), int(HORIZON * c.unit), 500 + take.seed, 9.0)[start:]
    level = int(HORIZON * c.unit)
    depth = np.arange(rows - start, dtype=np.float32)[:, None]
    source = np.clip(level - (depth + (start - level)) * 0.62 + shake * 3.0, 0, level - 2).astype(int)
    reflected = light[source, np.clip(np.arange(columns)[None, :] + shake * 1.2, 0, columns - 1).astype(int)]
    fresnel = np.interp(np.arange(start, rows) / c.unit, (0.5, 0.7, 1.0), (0.86, 0.62, 0.40))[:, None, None]
    bed = dev.tint((66, 70, 68))
    surface = (reflected * fresnel + bed * (1 - fresnel)).astype(np.float32)
    slope = np.clip(shake / 9.0, -2.5, 2.5)[..., None]
    surface *= 1 + 0.10 * slope
    light[start:] += (surface - light[start:]) * water[start:][..., None]

    far: list[dev.Figure] = []
    if take.women:
        far = [(partial(_bystander, x=px, y=0.500, h=h, tone=tone, side=side), px, 0.45) for px, h, tone, side in (
                (0.038, 0.072, (122, 100, 84), 0.6), (0.053, 0.068, (132, 126, 122), 0.0), (0.070, 0.074, (96, 98,
                110), 0.0),
                (0.126, 0.076, (58, 56, 60), 0.6))]
    haze = np.array([0.30, 0.31, 0.32], np.float32)
    if far:
        small, cover = dev.two_lights(c, far, np.array([0.7, 0.72, 0.75], np.float32), None, haze, 1.0)
        dev.over(light, small * 0.7 + haze * 0.22, cover)
    _mist(c, light, take, 0.9)

    cart_x, cart_h = 0.435 + take.way, 0.375
    mare_x = cart_x + 0.345
    figures: list[dev.Figure] = [
        (partial(_load, x=cart_x, h=cart_h), cart_x, 0.6),
        (partial(_mare, x=mare_x, h=cart_h * 1.03, nod=take.nod), mare_x, 0.6),
    ]
    if take.carrier is not None:
        figures.append((partial(carrier, x=mare_x + 0.262, y=0.812, h=0.372, pose=take.carrier), mare_x + 0.26, 0.6))
    if take.pilot_x < 1.6:
        figures.append((partial(pilot, x=take.pilot_x, y=0.802, h=0.395, pose=take.pilot, coat=OILSKIN,
                staff=take.staff), take.pilot_x, 0.6))
    ambient = np.array([0.62, 0.63, 0.64], np.float32)
    group, cover = dev.two_lights(c, figures, ambient, None, ambient, 1.0,
            rim=np.array([0.13, 0.13, 0.12], np.float32), side=(-0.8, -0.8))
    row = int(LINE * c.unit)
    wave = dev.ripples((rows, columns), int(HORIZON * c.unit), 700 + take.seed, 8.0)[row:]
    below, mask = dev.mirror(group, cover, row, wave, 4.0)
    fade = np.exp(-np.arange(rows - row, dtype=np.float32)[:, None] / (0.32 * c.unit))[..., None]
    light[row:] += (below * 0.85 - light[row:] * mask[..., None]) * fade * 0.72
    lap = LINE + 0.0022 * np.sin(x * 61 + take.seed) + 0.0016 * np.sin(x * 143 + 2 * take.seed)
    dev.over(light, group, cover * np.clip((lap - y) * c.unit, 0, 1))
    feet = [(cart_x - 0.03, 0.17), (mare_x - 0.16, 0.06), (mare_x + 0.09, 0.05)]
    feet += [] if take.carrier is None else [(mare_x + 0.262, 0.05)]
    feet += [(take.pilot_x, 0.055), (take.pilot_x + 0.107, 0.012)]
    for n, (px, reach) in enumerate(feet):
        _rings(c, light, px, reach, take.seed + n)
    _mist(c, light, take, 0.16)
    return light


def _bystander(layer: Canvas, *, x: float, y: float, h: float, tone: Colour, side: float) -> None:
    shawled(layer, x, y, h, Dress(shawl=tone, skirt=(62, 64, 72), skin=(190, 150, 126)), side=side)


def _load(layer: Canvas, *, x: float, h: float) -> None:
    cart(layer, x, 0.80, h, body=(70, 76, 82))
    layer.rgb[:] = _dulled(layer.rgb, 0.55)


def _mare(layer: Canvas, *, x: float, h: float, nod: float) -> None:
    horse(layer, x, 0.80, h, coat=(82, 58, 44), nod=nod)


def _dulled(rgb: Array, amount: float) -> Array:
    """Colours under weather and dirt: drawn towards their own grey, and darker."""
    grey = rgb @ np.array([0.3, 0.59, 0.11], np.float32)
    result: Array = ((rgb * (1 - amount) + grey[..., None] * np.array([1.02, 1.0, 0.95], np.float32) * amount) * 0.82)
    return result.astype(np.float32)


def _rings(c: Canvas, light: Array, at: float, reach: float, seed: int) -> None:
    """Broken rings where something stands in the water: a bright and a dark side each."""
    x, y = c.grid()
    random = np.random.default_rng(seed)
    for k in range(4):
        rx, ry = reach * (1.0 + 0.42 * k) + 0.006, (reach * 0.09 + 0.0035) * (1.0 + 0.62 * k)
        far = np.hypot((x - at) / rx, (y - LINE - 0.002) / ry) - 1
        width = 0.035 + 0.055 * 0.05 / max(reach, 0.02)
        turn = np.arctan2((y - LINE) / ry, (x - at) / rx)
        broken = np.clip(0.55 + 0.6 * np.sin(turn * 3 + random.uniform(0, 6)) * np.sin(turn * 5 + random.uniform(0, 6)),
                0, 1) * np.clip((y - LINE + 0.003) / 0.004, 0, 1)
        crest = np.exp(-((far / width) ** 2)) - 0.8 * np.exp(-(((far + 2.1 * width) / width) ** 2))
        light *= 1 + (0.62 * 0.72**k * crest * broken)[..., None]


def _mist(c: Canvas, light: Array, take: Ford, share: float) -> None:
    """Haze from camera right, drifting across the far bank and then between the cart and the pilot."""
    x, y = c.grid()
    first, then = noise(c.cover.shape, 81, (80, 230), 3.5), noise(c.cover.shape, 83, (80, 230), 3.5)
    cloud = first * np.cos(take.drift) + then * np.sin(take.drift)
    low = np.exp(-(((y - 0.47) / 0.10) ** 2)) + 0.5 * np.exp(-(((y - 0.64) / 0.10) ** 2))
    where = 0.35 + 0.65 / (1 + np.exp(-(x - 0.55) / 0.22))
    amount = np.clip(take.mist * share * low * where * np.clip(0.55 + 0.45 * cloud, 0, 1.5), 0, 0.95)
    veil = np.array([0.50, 0.51, 0.515], np.float32)
    light += (veil - light) * blur(amount.astype(np.float32), 3)[..., None]
