"""The shoot of Lamp at the ferry stage: rain, wet planks, one small lamp, and a boat three hours late.

The planks are lit as level ground under a point of light: irradiance by the cosine over the square of the distance, a
rough wet sheen by half-vectors, and a shadow for each figure as an upright post of her height.
"""

from __future__ import annotations

# fmt: off
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise

import numpy as np
from drawing import developing as dev
from drawing.canvas import Array, Canvas, Colour, blur, mix, noise
from drawing.cast import Pose, seated, shrouded
from drawing.land import hills, sky
from drawing.people import Dress
from PIL import Image, ImageDraw

HORIZON, CAMERA_M = 0.50, 1.15
EDGE = 0.692  # where the planks end
POST_X, POST_FOOT = 0.985, 0.766
LAMP = (0.905, 0.205)
LAMP_M = 2.43  # above the planks
FLAME: Colour = (255, 186, 84)
WET_WOOL = {"hannah": (92, 74, 58), "dinah": (104, 106, 110), "bessy": (112, 98, 74)}
SIZES_M = {"hannah": 1.60, "dinah": 1.68, "bessy": 1.57}


AT_THE_CHAIN = Pose(look="away", stride=0.2)
UNDER_THE_LAMP = Pose(look="up", stride=0.25)


@dataclass(frozen=True, slots=True)
class Stage:
    """One exposure: how each stands and where (x, y of the feet; 0 keeps the mark), the lamp, the rain, the boat."""

    hannah: Pose = AT_THE_CHAIN
    dinah: Pose = UNDER_THE_LAMP
    bessy: bool | Pose = True  # asleep on the basket, awake on it, or standing in a pose
    dinah_at: tuple[float, float] = (0.765, 0.775)
    hannah_at: tuple[float, float] = (0.43, 0.704)
    hannah_face: int = 1
    power: float = 1.0
    rain: float = 1.0
    boat: float = 0.0  # how much of the boat has come out of the dark
    boat_x: float = 0.2
    seed: int = 1


@cache
def _place() -> tuple[Canvas, Array, Array, Array]:
    """The empty stage by night: its canvas, its light without the lamp, what is planking, and where pixels look."""
    c = dev.canvas((0.5, -0.5, 0.35), 0.1)
    sky(c, HORIZON, ((0, (17, 21, 28)), (0.3, (28, 34, 42)), (HORIZON, (58, 68, 78))), 19, cloud=7, tint=(0.9, 1, 1.1),
            band=(0.05, (92, 104, 112), 0.55))
    hills(c, HORIZON, 0.020, (24, 29, 36), 7, start=0.35, end=1.7)
    _, y = c.grid()
    light = dev.linear(c.rgb)
    across, away = dev.ground(c, HORIZON, CAMERA_M)
    start = int(HORIZON * c.unit)
    rows = c.cover.shape[0] - start
    shake = dev.ripples(c.cover.shape, start, 31, 7.0)[start:]
    source = np.clip(start - 2 - np.arange(rows)[:, None] * 0.55 - np.abs(shake) * 6, 0, start - 2).astype(int)
    sea = light[source, np.broadcast_to(np.arange(light.shape[1])[None, :], source.shape)]
    sea = sea * np.interp(np.arange(rows) / c.unit, (0, 0.04, 0.2), (0.8, 0.5, 0.28))[:, None, None]
    light[start:] = sea * (1 + 0.16 * np.clip(shake / 7, -2, 2))[..., None]
    lip = EDGE + 0.0015 * np.sin(np.floor(across / 0.17) * 7.3)
    deck = np.clip((y - lip) * c.unit, 0, 1).astype(np.float32)
    light *= (1 - deck)[..., None]
    return c, light, deck, np.stack([across, away])


@cache
def _planks() -> tuple[Array, Array, Array]:
    """The planking: how light each board is, how far it leans sideways, how wet it is; gaps are black."""
    c, _, _, (across, away) = _place()
    board = across / 0.17
    index = np.floor(board).astype(int)
    random = np.random.default_rng(77)
    table = random.uniform(0, 1, (512, 3)).astype(np.float32)
    own = table[np.clip(index + 256, 0, 511)]
    foot_px = away / dev.FOCAL / c.unit
    gap_m = np.abs(board - np.floor(board) - 0.5) * 0.17
    gap = np.clip((gap_m - (0.085 - 0.0105)) / foot_px + 0.5, 0, 1)
    along = away + own[..., 0] * 3.1
    joint = np.clip((0.008 - np.abs((along % 3.1) - 1.55)) / (foot_px * away / CAMERA_M) + 0.5, 0, 1)
    grain = noise(c.cover.shape, 55, (5, 9), 0.6)
    albedo = (0.055 + 0.05 * own[..., 1]) * (1 + 0.12 * grain) * (1 - gap) * (1 - 0.8 * joint)
    lean = (own[..., 2] - 0.5) * 0.12 + 0.018 * noise(c.cover.shape, 56, (9, 17), 0.5)
    puddle = np.clip(0.55 + 0.5 * noise(c.cover.shape, 57, (60, 24), 3.0), 0.1, 1.3) * (1 - gap) * (1 - 0.6 * joint)
    return albedo.astype(np.float32), lean.astype(np.float32), puddle.astype(np.float32)


def _at_m(c: Canvas, x: float, y: float) -> tuple[float, float]:
    """Where a point of the planks is: metres right of the axis, metres away."""
    away = dev.FOCAL * CAMERA_M / (y - HORIZON)
    return (x - c.right / 2) * away / dev.FOCAL, away


def _tall(metres: float, y: float) -> float:
    """How tall something is in the picture that stands on the planks at y."""
    return metres * (y - HORIZON) / CAMERA_M


def _deck(c: Canvas, posts: list[tuple[float, float, float, float]], power: float) -> Array:
    """The lit planks; `posts` throw shadows: x, y of the foot, height and half width in metres."""
    _, _, deck, (across, away) = _place()
    albedo, lean, puddle = _planks()
    start = int((EDGE - 0.01) * c.unit)
    part = (slice(start, None), slice(None))
    px, pz = across[part], away[part]
    lx, lz = _at_m(c, LAMP[0], POST_FOOT)
    dx, dz = lx - px, lz - pz
    plan = dx * dx + dz * dz
    far = plan + LAMP_M**2
    light = LAMP_M / far**1.5
    turn = np.arctan2(dz, dx)
    for bar in (0.35, 1.92, 3.49, 5.06):  # the four corner bars of the lantern
        off = np.abs((turn - bar + np.pi) % (2 * np.pi) - np.pi)
        light *= 1 - 0.30 * np.exp(-((off / 0.045) ** 2))
    crack = np.abs((turn - 4.55 + np.pi) % (2 * np.pi) - np.pi)
    light *= 1 + 0.35 * np.exp(-((crack / 0.018) ** 2))
    for fx, fy, tall_m, half_m in posts:
        qx, qz = _at_m(c, fx, fy)
        s = ((qx - px) * dx + (qz - pz) * dz) / np.maximum(plan, 0.01)
        miss = np.hypot(px + s * dx - qx, pz + s * dz - qz)
        under = np.clip((tall_m - LAMP_M * s) / 0.14 + 0.5, 0, 1) * (s > 0) * (s < 1)
        soft = 0.03 + 0.10 * np.clip(np.hypot(px - qx, pz - qz) / 3, 0, 1)
        light *= 1 - 0.93 * under * np.clip((half_m - miss) / soft + 0.5, 0, 1)
    cam = np.sqrt(px * px + pz * pz + CAMERA_M**2)
    reach = np.sqrt(far)
    hx = dx / reach - px / cam + lean[part] * 0.9
    hz = dz / reach - pz / cam
    hy = LAMP_M / reach + CAMERA_M / cam
    slope = (hx / (0.10 * hy)) ** 2 + (hz / (0.62 * hy)) ** 2
    sheen = np.exp(-slope) * puddle[part] / far
    shade = light / np.maximum(LAMP_M / far**1.5, 1e-6)
    warm = dev.tint(FLAME) * (1.45 * power)
    lit = (albedo[part] * light * 4.2)[..., None] * warm + (sheen * shade**0.5 * 4.4)[..., None] * warm
    cold = (puddle[part] * np.exp(-((pz - 10) / 5.0) ** 2))[..., None] * np.array([0.0045, 0.006, 0.0075], np.float32)
    low = albedo[part][..., None] * np.array([0.018, 0.023, 0.03], np.float32)
    out = np.zeros((*c.cover.shape, 3), np.float32)
    out[part] = (lit + cold + low) * deck[part][..., None]
    return out


def stage(take: Stage) -> Array:
    """The light of one exposure, with its margin."""
    c, empty, _, _ = _place()
    light = empty.copy()
    shape = c.cover.shape
    if take.boat:
        _boat(c, light, take)
    hx, hy = take.hannah_at
    dx, dy = take.dinah_at
    bx, by = POST_X + 0.066, 0.772
    stands = isinstance(take.bessy, Pose)
    shadows = [(hx, hy, SIZES_M["hannah"], 0.2), (dx, dy, SIZES_M["dinah"], 0.21), (POST_X, POST_FOOT, 2.2, 0.055)]
    shadows.append((bx + 0.02, by, SIZES_M["bessy"] if stands else 0.95, 0.2))
    shadows += [(px, EDGE + 0.012, 0.95, 0.06) for px in _piles()]
    light += _deck(c, shadows, take.power)

    warm = dev.tint(FLAME) * 1.9 * take.power
    ambient = np.array([0.030, 0.038, 0.048], np.float32)
    sea_rim = np.array([0.010, 0.0125, 0.015], np.float32)

    def dress(who: str) -> Dress:
        wool: Colour = WET_WOOL[who]  # type: ignore[assignment]
        return Dress(shawl=wool, skirt=mix(wool, (50, 52, 62), 0.75), skin=(206, 160, 134), basket=(120, 96, 66))

    behind: list[dev.Figure] = [(_chain, 0.5, 0.62)]
    behind.append((partial(_shrouded, x=hx, y=hy, h=_tall(SIZES_M["hannah"], hy), dress=dress("hannah"),
            pose=take.hannah, face=take.hannah_face), hx, hy - 0.16))
    front: list[dev.Figure] = [(_post, POST_X, 0.40)]
    if isinstance(take.bessy, Pose):
        front.append((partial(_shrouded, x=bx + 0.03, y=by, h=_tall(SIZES_M["bessy"], by), dress=dress("bessy"),
                pose=take.bessy, face=-1), bx, by - 0.2))
    else:
        front.append((partial(_seated, x=bx, y=by, h=_tall(SIZES_M["bessy"], by), dress=dress("bessy"),
                asleep=take.bessy), bx, by - 0.1))
    front.append((partial(_shrouded, x=dx, y=dy, h=_tall(SIZES_M["dinah"], dy), dress=dress("dinah"), pose=take.dinah,
            face=1), dx, dy - 0.25))
    x, y = c.grid()
    near = 1 / (1 + ((x - LAMP[0]) ** 2 + (y - LAMP[1]) ** 2) / 0.2**2)
    glow = _lantern_light(c, take.power)
    for group, row in ((behind, 0.0), (front, 0.772)):
        figures, cover = dev.two_lights(c, group, ambient, LAMP, warm * (0.55 if group is behind else 1.0), 0.27,
                rim=sea_rim, side=(-0.6, -0.8))
        figures += (dev.edge(cover, (0.55, -0.85), 4) * near)[..., None] * warm * 0.16
        if row:
            start = int(row * c.unit)
            shake = dev.ripples(shape, start, 900 + take.seed, 2.2)[start:]
            below, mask = dev.mirror(figures, cover, start, shake, 9.0)
            _, _, puddle = _planks()
            light[start:] += (below * 0.9 - light[start:] * mask[..., None] * 0.7) * (puddle[start:] * 0.30)[..., None]
        dev.over(light, figures, cover)
    light += glow
    _rain(c, light, take)
    return light


def _shrouded(layer: Canvas, *, x: float, y: float, h: float, dress: Dress, pose: Pose, face: int) -> None:
    shrouded(layer, x, y, h, dress, pose, face=face)


def _seated(layer: Canvas, *, x: float, y: float, h: float, dress: Dress, asleep: bool) -> None:
    seated(layer, x, y, h, dress, asleep=asleep)


def _piles() -> list[float]:
    return [0.055 + 0.247 * k for k in range(7)]


def _chain(layer: Canvas) -> None:
    """Oak pile heads along the seaward edge, and a chain that hangs between them."""
    top, foot = EDGE - 0.148, EDGE + 0.012
    piles = _piles()
    for px in piles:
        layer.limb([(px, foot), (px, top)], [0.021, 0.019], (86, 74, 62), hatch=3)
        layer.oval(px, top, 0.0115, 0.004, (104, 92, 78))
    for level in (0.035, 0.085):
        for left, right in pairwise(piles):
            for k in range(27):
                t = k / 26
                px, py = left + (right - left) * t, top + level + 0.05 * (1 - (2 * t - 1) ** 2)
                layer.oval(px, py, 0.0048, 0.0026 if k % 2 else 0.0034, (88, 84, 80), outline=0)


def _post(layer: Canvas) -> None:
    """The oak post, its bent bracket and the tin of the lantern."""
    lx, ly = LAMP
    layer.limb([(POST_X, POST_FOOT + 0.004), (POST_X, 0.125)], [0.026, 0.021], (92, 78, 62), hatch=2)
    layer.line([(POST_X, 0.225), (POST_X - 0.03, 0.172), (POST_X - 0.04, 0.15)], (70, 66, 62), 0.006)
    layer.line([(POST_X + 0.004, 0.142), (POST_X - 0.035, 0.150), (POST_X - 0.055, 0.137), (lx, 0.139),
            (lx, 0.155)], (74, 70, 66), 0.0075)
    layer.solid([(lx - 0.043, ly - 0.032), (lx - 0.012, ly - 0.056), (lx + 0.012, ly - 0.056), (lx + 0.043,
            ly - 0.032)], (70, 66, 62), curve=False, gloss=0.2)
    layer.solid([(lx - 0.012, ly - 0.054), (lx - 0.009, ly - 0.068), (lx + 0.009, ly - 0.068), (lx + 0.012,
            ly - 0.054)], (60, 58, 56), curve=False)
    layer.solid([(lx - 0.029, ly + 0.046), (lx + 0.029, ly + 0.046), (lx + 0.02, ly + 0.058), (lx - 0.02,
            ly + 0.058)], (60, 58, 56), curve=False)


def _lantern_light(c: Canvas, power: float) -> Array:
    """The four panes, lit from within by a small flame; one is cracked from corner to corner."""
    lx, ly = LAMP
    panes = c.layer()
    panes.flat([(lx - 0.038, ly - 0.031), (lx + 0.038, ly - 0.031), (lx + 0.026, ly + 0.046), (lx - 0.026,
            ly + 0.046)], (255, 255, 255))
    for f in (-1.0, 0.12, 1.0):
        panes.line([(lx + 0.038 * f, ly - 0.032), (lx + 0.026 * f, ly + 0.047)], (0, 0, 0), 0.0045)
    panes.line([(lx + 0.006, ly + 0.044), (lx + 0.017, ly + 0.002), (lx + 0.034, ly - 0.028)], (30, 30, 30), 0.0017)
    glass = (panes.rgb[..., 0] / 255 * panes.cover).astype(np.float32)
    x, y = c.grid()
    soot = np.clip(1 - np.clip((ly - 0.004 - y) / 0.03, 0, 1) * 0.75, 0, 1)
    inner = 0.30 + 1.5 * np.exp(-(((x - lx) / 0.016) ** 2 + ((y - ly - 0.014) / 0.024) ** 2))
    light = (glass * inner * soot)[..., None] * dev.tint((255, 196, 92)) * (0.9 * power)
    light += dev.flame(c.cover.shape, c.unit, lx - 0.001, ly + 0.016, 0.013, (255, 206, 110), 0.9 * power)
    far = ((x - lx) ** 2 + (y - ly) ** 2) / 0.085**2
    light += (1 / (1 + far) ** 1.35)[..., None] * dev.tint((255, 172, 78)) * (0.10 * power)
    return light.astype(np.float32)


def _rain(c: Canvas, light: Array, take: Stage) -> None:
    """Streaks that the lamp catches, denser and brighter near it, and a faint fall everywhere."""
    rows, columns = c.cover.shape
    random = np.random.default_rng(4000 + take.seed)
    layers = np.zeros((rows, columns), np.float32)
    for size, count, tone in ((0.020, 1500, 90), (0.036, 800, 150), (0.075, 170, 120)):
        image = Image.new("L", (columns, rows), 0)
        pen = ImageDraw.Draw(image)
        for _ in range(int(count * take.rain)):
            px, py = random.uniform(-0.05, c.right + 0.05), random.uniform(-0.08, 1.0)
            long = size * random.uniform(0.6, 1.4)
            ends = (px * c.unit, py * c.unit, (px - 0.13 * long) * c.unit, (py + long) * c.unit)
            pen.line(ends, fill=int(tone * random.uniform(0.35, 1)), width=2 if size < 0.03 else 3)
        layers += blur(np.asarray(image, np.float32) / 255, (2.0, 0.7))
    x, y = c.grid()
    far = (x - LAMP[0]) ** 2 + ((y - LAMP[1]) * 0.8) ** 2
    cone = 1 / (1 + np.clip(np.abs(x - LAMP[0]) - 0.25 * np.clip(y - LAMP[1], 0, 1), 0, 1) ** 2 / 0.12**2)
    lit = take.power * 0.26 * cone / (1 + far / 0.035)
    cold = 0.010 * np.clip(1.2 - y, 0, 1)
    light += layers[..., None] * (lit[..., None] * dev.tint(FLAME) + cold[..., None] * np.array([0.8, 1, 1.2],
            np.float32))
    wall = np.clip(0.7 + 0.3 * noise((rows, columns), 5000 + take.seed, (60, 26), 0.25), 0, 1.6)
    light += (take.rain * 0.018 * take.power * cone * wall / (1 + far / 0.08))[..., None] * dev.tint(FLAME)


def _boat(c: Canvas, light: Array, take: Stage) -> None:
    """A lugger without a light, coming out of the dark, and her shape in the water."""
    layer = c.layer()
    bx, by, w = take.boat_x, HORIZON + 0.022, 0.125
    layer.solid([(bx - 0.5 * w, by - 0.10 * w), (bx - 0.42 * w, by + 0.04 * w), (bx + 0.40 * w, by + 0.05 * w),
            (bx + 0.54 * w, by - 0.17 * w), (bx + 0.2 * w, by - 0.10 * w), (bx - 0.2 * w, by - 0.08 * w)], (26, 26, 30))
    layer.limb([(bx + 0.08 * w, by - 0.05 * w), (bx + 0.05 * w, by - 1.14 * w)], [0.03 * w, 0.02 * w], (24, 24, 27))
    layer.solid([(bx - 0.36 * w, by - 0.26 * w), (bx - 0.22 * w, by - 0.96 * w), (bx + 0.24 * w, by - 1.12 * w),
            (bx + 0.34 * w, by - 0.24 * w), (bx, by - 0.20 * w)], (44, 38, 36), folds=1.5, fold=0.6)
    for px, tall in ((-0.3, 0.17), (-0.12, 0.2), (0.3, 0.19)):
        layer.oval(bx + px * w, by - 0.1 * w - tall * 0.5 * w, 0.035 * w, tall * 0.6 * w, (22, 22, 26))
    row = int((by + 0.04 * w) * c.unit)
    dark = dev.linear(layer.rgb)
    shake = dev.ripples(c.cover.shape, int(HORIZON * c.unit), 60 + take.seed, 8.0)[row:]
    below, mask = dev.mirror(dark, layer.cover, row, shake, 3.0)
    light[row:] += (below * 0.5 - light[row:] * mask[..., None]) * (0.5 * take.boat)
    soft = blur(layer.cover, 1.5)
    light += (dark * 0.8 + 0.002 - light) * (soft * take.boat)[..., None]
