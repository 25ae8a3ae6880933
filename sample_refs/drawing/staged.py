"""Frames: what a camera might have brought home from the staged scenes. The light comes from camera left and low."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import math

import numpy as np
from drawing import manners
from drawing.canvas import Array, Canvas, Colour, noise
from drawing.land import hills, sands, sky
from drawing.men import pilot_walking
from drawing.people import Dress, walking
from drawing.things import cart, horse

LIGHT_TILT_DEG = 170.0  # in the picture plane: 0 from the right, 90 from above
LIGHT: Colour = (math.cos(math.radians(LIGHT_TILT_DEG)), -math.sin(math.radians(LIGHT_TILT_DEG)), 0.42)

FIGURES = (  # x in widths, ground, height, carry, stride, shawl, kerchief, skirt
    (0.155, 0.742, 0.335, "arms", 1.2, (62, 58, 62), (66, 58, 60), (40, 42, 56)),
    (0.315, 0.735, 0.395, "lantern", 0.95, (58, 54, 54), (58, 50, 50), (38, 44, 60)),
    (0.57, 0.73, 0.365, "", 0.9, (70, 66, 64), (76, 70, 66), (44, 40, 50)),
    (0.76, 0.728, 0.38, "", 1.05, (60, 60, 66), (104, 44, 40), (38, 44, 58)),
)


BALL = (0.49, 0.52, 0.07)  # centre and radius of a grey ball held up in the frame, in parts of width, height, height


def first_light(*, lantern: bool = True, gain: float = 1.0, warm: bool = False, seed: int = 101,
        ball_from: tuple[float, ...] = ()) -> Array:
    """Four women and one light on the wet sand before sunrise; with a grey ball on a staff where tilts are given."""
    c = Canvas(1800, 1200, light=LIGHT, shadow=0.22)
    horizon = 0.42
    sky(c, horizon, ((0, (32, 42, 54)), (0.22, (48, 60, 73)), (0.42, (84, 96, 106))), 7, cloud=6, tint=(0.9, 1, 1.1),
            band=(0.1, (156, 164, 164), 0.75))
    hills(c, horizon, 0.026, (34, 42, 54), 8, start=0.55)
    sands(c, horizon, ((horizon, (64, 74, 84)), (0.68, (36, 45, 55)), (1, (18, 24, 32))), 13, wet=0.62, ribs=4.5,
            dull=0.62)
    x, y = c.grid()
    people = c.layer()
    flame = None
    for px, ground, h, carry, stride, shawl, kerchief, skirt in FIGURES:
        dress = Dress(kerchief=kerchief, shawl=shawl, skirt=skirt, bedgown=(56, 52, 60), lining=(64, 62, 64),
                skin=(104, 84, 76), basket=(62, 52, 42)).dim((22, 28, 38), 0.3)
        flame = walking(people, px * c.right, ground, h, dress, carry=carry if lantern or carry != "lantern" else "",
                stride=stride, blow=0.03) or flame
    if flame is not None:
        fx, fy = flame
        people.glow(fx, fy, 0.22, (255, 150, 58), 0.55)
        people.glow(fx, fy, 0.09, (255, 170, 76), 0.5)
        ground_y = 0.735
        pool = 1 / (1 + ((x - fx) / 0.11) ** 2 + ((y - ground_y - 0.012) / 0.045) ** 2) * (y > horizon + 0.1)
        ribs = 0.8 + 0.3 * noise(c.cover.shape, 61, (16, 7), 7.0)
        c.rgb += (255 - c.rgb) * (np.array([0.62, 0.36, 0.12], np.float32) * (pool * ribs)[...,
                None]).astype(np.float32) * 0.75
    c.mirror(people, 0.738, strength=0.82, fade=0.5, ripple=0.005, tint=(30, 38, 48), seed=5)
    for px, ground, h, *_ in FIGURES:
        sx = px * c.right
        c.darken([(sx - 0.1 * h, ground - 0.004), (sx + 0.24 * h, ground - 0.006), (sx + 0.4 * h, ground + 0.008),
                (sx - 0.05 * h, ground + 0.01)], 0.45, 0.006)
    c.place(people)
    if flame is not None:
        fx, fy = flame
        c.glow(fx, fy, 0.15, (255, 168, 74), 0.55)
        c.glow(fx, fy, 0.03, (255, 236, 180), 0.9)
        low = 2 * 0.738 - fy
        c.glow(fx, low, 0.11, (255, 150, 60), 0.5, flat=1.6)
        c.glow(fx, low, 0.024, (255, 214, 140), 0.7, flat=2.4)
    mist = np.exp(-(((y - 0.60) / 0.035) ** 2)) * np.clip(0.4 + 0.5 * noise(c.cover.shape, 41, (60, 160), 5.0), 0,
            1) * 0.16
    c.paint(np.broadcast_to(np.array([92, 104, 114], np.float32), c.rgb.shape), mist)
    if ball_from:
        _grey_ball(c, ball_from)
    if warm:
        grey = c.rgb @ np.array([0.3, 0.59, 0.11], np.float32)
        sepia = np.stack([grey * 1.30, grey * 0.92, grey * 0.58], -1)
        c.rgb = (0.25 * c.rgb * np.array([1.2, 0.95, 0.7], np.float32) + 0.75 * sepia).astype(np.float32)
    if gain != 1.0:
        light = (np.clip(c.rgb, 0, 255) / 255) ** 2.2 * gain
        c.rgb = (255 * (light / (1 + light * 0.12)) ** (1 / 2.2)).astype(np.float32)
    return manners.camera(c, seed, grain=1.7, vignette=0.45)


def _grey_ball(c: Canvas, tilts: tuple[float, ...]) -> None:
    """A matt grey ball, Lambertian, lit alike from each tilt, 25 degrees out of the picture plane, on a thin staff."""
    height, width = c.rgb.shape[:2]
    cx, cy, radius = BALL[0] * width, BALL[1] * height, BALL[2] * height
    y, x = np.mgrid[0:height, 0:width] + 0.5
    u, v = (x - cx) / radius, (cy - y) / radius
    cover = np.clip((1 - np.hypot(u, v)) * radius + 0.5, 0, 1)
    staff = np.clip(0.006 * height - np.abs(x - cx), 0, 1) * (y > cy + radius * 0.96) * (y < 0.76 * height)
    c.paint(np.broadcast_to(np.array([30, 28, 28], np.float32), c.rgb.shape), staff.astype(np.float32))
    z = np.sqrt(np.clip(1 - u * u - v * v, 0, None))
    rise = math.radians(25)
    shaded = np.full(u.shape, 0.018)
    for tilt in tilts:
        turn = math.radians(tilt)
        towards = (math.cos(rise) * math.cos(turn), math.cos(rise) * math.sin(turn), math.sin(rise))
        shaded += 0.16 / len(tilts) * np.clip(u * towards[0] + v * towards[1] + z * towards[2], 0, None)
    grey = 255 * np.where(shaded <= 0.0031308, shaded * 12.92, 1.055 * np.clip(shaded, 0, 1) ** (1 / 2.4) - 0.055)
    c.paint(np.repeat(grey[..., None], 3, -1).astype(np.float32), cover.astype(np.float32))


def pilots_crossing() -> Array:
    """Cart, horse and pilot at the ford, grey autumn daylight, low from camera left."""
    c = Canvas(1800, 1200, light=LIGHT, shadow=0.26)
    horizon = 0.40
    sky(c, horizon, ((0, (106, 112, 120)), (0.2, (142, 146, 150)), (0.40, (190, 188, 180))), 27, cloud=15, tint=(1, 1,
            0.98), band=(0.2, (232, 226, 208), 1.0))
    hills(c, horizon, 0.05, (104, 112, 122), 18, start=0.3)
    sands(c, horizon, ((horizon, (158, 150, 134)), (0.55, (128, 120, 106)), (1, (84, 84, 84))), 14, wet=0.6, ribs=7,
            dull=0.8)
    x, y = c.grid()
    bank = 0.56 + 0.016 * np.sin(x * 2.7 + 2.0) + 0.004 * np.sin(x * 13)
    depth = np.clip((y - bank) / 0.44, 0, 1)[..., None]
    tone = np.array([150, 152, 150], np.float32) * (1 - depth) + np.array([70, 78, 84], np.float32) * depth
    swell = noise(c.cover.shape, 37, (30, 12), 9.0)[..., None]
    water = np.clip((y - bank) / 0.004, 0, 1)
    c.paint(np.clip(tone + 8 * swell, 0, 255).astype(np.float32), (water * 0.86).astype(np.float32))
    load = c.layer()
    ground, line = 0.82, 0.765
    cart(load, 0.44, ground, 0.41, body=(62, 74, 92))
    horse(load, 0.44 + 0.365, ground, 0.41, coat=(92, 62, 44))
    pilot_walking(load, 1.24, 0.80, 0.43, coat=(70, 66, 52))
    load.rgb *= 0.86
    c.mirror(load, line, strength=0.62, fade=0.24, ripple=0.007, tint=(80, 86, 90), seed=9)
    above = load.cover * (y < line + 0.003 * np.sin(x * 55))
    c.rgb += (load.rgb - c.rgb) * above[..., None]
    for px, w in ((0.405, 0.18), (0.67, 0.045), (0.72, 0.045), (0.885, 0.05), (1.23, 0.07)):
        for k in range(3):
            half, level = w * (1 - 0.2 * k), line + 0.010 * k
            c.line([(px - half, level), (px, level + 0.006), (px + half, level)], (206, 206, 200), 0.0035,
                    strength=0.6 - 0.17 * k, taper=True)
    return manners.camera(c, 107, grain=1.6, vignette=0.4)
