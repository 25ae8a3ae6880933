"""The shoot of First light: four women and one lantern on wet sand before sunrise."""

from __future__ import annotations

# fmt: off
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from drawing import developing as dev
from drawing.canvas import Array, Canvas, Colour, blur, noise
from drawing.cast import Pose, woman
from drawing.land import brob, hills, sands, sky
from drawing.people import Dress
from drawing.staged import LIGHT

HORIZON, CAMERA_M = 0.43, 1.36
GROUND = 0.752
STRING: dict[str, tuple[float, float, float, Colour, Colour, Colour]] = {  # x, ground, height, shawl, kerchief, skirt
    "bessy": (0.20, 0.760, 0.345, (84, 78, 82), (92, 82, 84), (54, 56, 74)),
    "ruth": (0.47, 0.752, 0.40, (104, 88, 74), (84, 74, 74), (56, 64, 86)),
    "hannah": (0.87, 0.748, 0.37, (94, 92, 96), (104, 98, 92), (66, 58, 70)),
    "agnes": (1.17, 0.744, 0.385, (78, 80, 90), (140, 52, 44), (52, 60, 82)),
}
LAMP: Colour = (255, 184, 92)


@dataclass(frozen=True, slots=True)
class Dawn:
    """One exposure: how each woman stands (left out: not in the picture), the lantern, the mist, the hour."""

    poses: dict[str, Pose]
    steps: dict[str, float]  # how far along each has walked, in picture heights
    mist: float = 0.5
    drift: float = 0.0
    power: float = 1.0
    glare: float = 1.0  # how far the flame itself is overexposed
    day: float = 1.0  # how far the morning has come
    seed: int = 1


@cache
def _place() -> tuple[Canvas, Array, Array, Array]:
    """The empty place: its canvas, its light, how wet the sand is, where each pixel looks."""
    c = dev.canvas(LIGHT, 0.18)
    sky(c, HORIZON, ((0, (30, 40, 54)), (0.2, (46, 58, 73)), (0.34, (70, 83, 96)), (0.43, (104, 116, 124))), 7,
            cloud=9, tint=(0.9, 1, 1.1), band=(0.1, (196, 196, 186), 0.62))
    hills(c, HORIZON, 0.030, (38, 47, 60), 8, start=0.62)
    hills(c, HORIZON, 0.014, (30, 38, 50), 21, start=0.95)
    sands(c, HORIZON, ((HORIZON, (70, 80, 90)), (0.66, (38, 47, 57)), (1, (17, 22, 30))), 13, wet=0.6, ribs=5.5,
            dull=0.72)
    for k in range(6):  # the marks of the way, far off
        t = k / 5
        brob(c, 0.665 + 0.19 * t**0.8, 0.500 - 0.055 * t**0.7, 0.058 * (1 - t) ** 1.2 + 0.008, (34, 40, 42), seed=k,
                lean=0.07 * (-1) ** k)
    _litter(c)
    light = dev.linear(c.rgb)
    wet = np.clip(0.62 + 0.5 * noise(c.cover.shape, 15, (150, 52), 7.0), 0.15, 1).astype(np.float32)
    across, away = dev.ground(c, HORIZON, CAMERA_M)
    relief = noise(c.cover.shape, 61, (20, 9), 8.0)
    return c, light, wet, np.stack([across, away, relief])


def _litter(c: Canvas) -> None:
    """Shells, weed and worm casts on the sand, and the ribs that the ebb left in front: they stay where they are."""
    random = np.random.default_rng(19)
    for _ in range(520):
        away = random.uniform(0, 1) ** 1.7
        py, px = HORIZON + 0.035 + (0.99 - HORIZON - 0.035) * away, random.uniform(0.0, c.right)
        size = (0.0011 + 0.0026 * away) * random.uniform(0.6, 1.5)
        tone = random.uniform(0.3, 0.75) if random.random() < 0.84 else random.uniform(1.25, 1.6)
        row, column = int(py * c.unit), int(px * c.unit) % c.cover.shape[1]
        own = c.rgb[min(row, c.cover.shape[0] - 1), column] * tone
        c.oval(px, py, size * random.uniform(1.2, 2.4), size * 0.42, (float(own[0]), float(own[1]), float(own[2])),
                form=False)
    _, y = c.grid()
    near = np.clip((y - 0.80) / 0.16, 0, 1)
    ribs = noise(c.cover.shape, 67, (26, 15), 5.0) * near + noise(c.cover.shape, 68, (9, 6), 9.0) * (1 - near)
    c.rgb *= (1 + 0.10 * np.clip(ribs, -2, 2) * (y > HORIZON + 0.03))[..., None]


def dawn(take: Dawn) -> Array:
    """The light of one exposure, with its margin."""
    c, empty, wet, (across, away, relief) = _place()
    light = empty * np.float32(take.day)
    x, y = c.grid()
    figures: list[dev.Figure] = []
    lamp: tuple[float, float] | None = None
    feet = []
    for name, pose in take.poses.items():
        px, foot, h, shawl, kerchief, skirt = STRING[name]
        px += take.steps.get(name, 0.0)
        dress = Dress(kerchief=kerchief, shawl=shawl, skirt=skirt, bedgown=(84, 78, 86), lining=(96, 92, 92),
                skin=(150, 118, 100), basket=(112, 92, 68))
        figures.append((partial(_paint, x=px, y=foot, h=h, dress=dress, pose=pose), px, foot - 0.5 * h))
        feet.append((px, foot, h))
        if pose.lantern:
            hx, hy = px + (pose.hand[0] + pose.lean * pose.hand[1]) * h, foot - (pose.hand[1] - 0.119) * h
            lamp = (hx, hy)
    warm = dev.tint(LAMP) * 1.1 * take.power
    ambient = np.array([0.15, 0.178, 0.222], np.float32) * take.day
    rim = np.array([0.060, 0.066, 0.070], np.float32) * take.day
    people, cover = dev.two_lights(c, figures, ambient, lamp, warm, 0.10, rim=rim, side=(-1, -0.35))
    start = int(GROUND * c.unit)
    glow = np.zeros_like(light)
    if lamp is not None:
        glow = dev.flame(cover.shape, c.unit, *lamp, 0.0165 * take.glare**0.14, LAMP,
                1.15 * take.power * take.glare)
        foot_z = dev.FOCAL * CAMERA_M / (GROUND + 0.004 - HORIZON)
        up_m = max((GROUND - lamp[1]) * foot_z / dev.FOCAL, 0.2)
        side_m = (lamp[0] - c.right / 2) * foot_z / dev.FOCAL
        span = (across - side_m) ** 2 + (away - foot_z) ** 2 + up_m**2
        pool = up_m / span**1.5 * (0.8 + 0.5 * relief) * (y > HORIZON + 0.02)
        light += np.clip(pool, 0, None)[..., None] * dev.tint((255, 160, 74)) * (0.030 * take.power)
    shake = dev.ripples(cover.shape, int(HORIZON * c.unit), 300 + take.seed, 5.5)[start:]
    below, mask = dev.mirror(people + glow, np.maximum(cover, glow.max(-1) > 0.02), start, shake, 7.0)
    fade = np.exp(-np.arange(mask.shape[0], dtype=np.float32)[:, None] / (0.55 * c.unit))
    shine = (wet[start:] * fade)[..., None] * 0.82
    light[start:] += (below * 0.78 - light[start:] * mask[..., None]) * shine
    if lamp is not None:  # the long smear of the lantern in wet sand
        low = 2 * GROUND - lamp[1]
        streak = np.exp(-(((x - lamp[0]) / 0.017) ** 2)) * np.exp(-np.abs(y - low) / 0.085) * (y > GROUND + 0.004)
        grain = np.clip(0.6 + 0.75 * relief, 0, 2.2)
        light += (streak * grain * wet)[..., None] * dev.tint((255, 158, 70)) * (0.42 * take.power)
    for px, foot, h in feet:
        c_dark = np.exp(-(((x - px - 0.01) / (0.16 * h)) ** 2 + ((y - foot + 0.002) / 0.007) ** 2))
        light *= (1 - 0.5 * c_dark)[..., None]
    _mist(c, light, take, lamp, 0.9)
    dev.over(light, people, cover)
    light += glow
    _mist(c, light, take, lamp, 0.16)
    return light


def _paint(layer: Canvas, *, x: float, y: float, h: float, dress: Dress, pose: Pose) -> None:
    woman(layer, x, y, h, dress, pose)


def _mist(c: Canvas, light: Array, take: Dawn, lamp: tuple[float, float] | None,
        share: float) -> None:
    """A low mist between and behind the figures; the lantern shows where it is."""
    x, y = c.grid()
    shape = c.cover.shape
    first, then = noise(shape, 41, (70, 190), 4.0), noise(shape, 43, (70, 190), 4.0)
    cloud = first * np.cos(take.drift) + then * np.sin(take.drift)
    body = np.clip(0.45 + 0.42 * cloud, 0, 1.3)
    low = np.exp(-(((y - 0.60) / 0.085) ** 2)) + 0.7 * np.exp(-(((y - HORIZON - 0.02) / 0.03) ** 2))
    amount = np.clip(take.mist * share * 0.45 * low * body, 0, 0.9)
    veil = dev.tint((98, 111, 122)) * take.day
    colour = np.broadcast_to(veil, light.shape).copy()
    if lamp is not None:
        far = ((x - lamp[0]) ** 2 + (y - lamp[1]) ** 2) / 0.11**2
        colour += (1 / (1 + far) ** 1.3)[..., None] * dev.tint(LAMP) * (0.42 * take.power)
        halo = (1 / (1 + far * 3.2) ** 1.6)[..., None] * dev.tint((255, 160, 74)) * (0.075 * share * take.power)
        light += halo * (0.5 + blur(amount, 9)[..., None] * 2)
    light += (colour - light) * amount[..., None]
