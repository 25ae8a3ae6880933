"""Sky, sand and water, and what stands far off on them."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
from collections.abc import Sequence

import numpy as np
from drawing.canvas import Array, Canvas, Colour, Point, mix, noise

Stops = Sequence[tuple[float, Colour]]


def gradient(c: Canvas, stops: Stops) -> Array:
    """Colours that change down the canvas, (H, 1, 3)."""
    _, y = c.grid()
    places = [s[0] for s in stops]
    table = np.asarray([s[1] for s in stops], np.float32)
    return np.stack([np.interp(y, places, table[:, k]) for k in range(3)], -1).astype(np.float32)


def sky(c: Canvas, horizon: float, stops: Stops, seed: int, *, cloud: float = 14.0, tint: Colour = (1.0, 1.0, 1.0),
        band: tuple[float, Colour, float] | None = None) -> None:
    """A sky down to the horizon, with drawn-out cloud; `band` is a light low down: its x, colour and reach."""
    x, y = c.grid()
    field = np.broadcast_to(gradient(c, stops), c.rgb.shape).copy()
    scale = c.unit / 2200
    drift = noise(c.cover.shape, seed, (420 * scale, 170 * scale, 70 * scale), 3.2)
    weight = np.clip((horizon - y) / horizon, 0, 1) ** 0.5
    soft = np.tanh(drift * 0.9)
    field += (soft * weight * cloud)[..., None] * np.asarray(tint, np.float32)
    if band is not None:
        at, colour, reach = band
        level = np.exp(-(((y - horizon + 0.035) / 0.055) ** 2)) * np.exp(-(np.clip(x - at, 0, None) / reach) ** 2)
        level = level * np.clip(1 + 0.22 * soft, 0.3, 1.3)
        field += (np.asarray(colour, np.float32) - field) * np.clip(level, 0, 1)[..., None]
    c.paint(np.clip(field, 0, 255), np.broadcast_to((y < horizon).astype(np.float32), c.cover.shape))


def sands(c: Canvas, horizon: float, stops: Stops, seed: int, *, wet: float = 0.6, ribs: float = 7.0,
        dull: float = 0.8) -> None:
    """Open sand from the horizon to the front: dry ribs and, where it is wet, the sky upside down."""
    _, y = c.grid()
    rows = c.cover.shape[0]
    start = min(int(horizon * c.unit), rows - 2)
    depth = np.clip((y - horizon) / (1 - horizon), 0, 1)
    field = np.broadcast_to(gradient(c, stops), c.rgb.shape).copy()
    mirrored = field.copy()
    count = rows - start
    source = start - 1 - (np.arange(count) * min(start - 1, count) / count).astype(int)
    mirrored[start:] = c.rgb[np.clip(source, 0, start - 1)] * dull
    scale = c.unit / 2200
    near = noise(c.cover.shape, seed, (90 * scale, 34 * scale), 6.0)
    far = noise(c.cover.shape, seed + 1, (14 * scale, 6 * scale), 14.0)
    grain = near * depth + far * (1 - depth)
    pools = np.clip(0.5 + 0.75 * (noise(c.cover.shape, seed + 2, (170 * scale, 60 * scale),
            7.0) * depth + far * (1 - depth) * 0.3), 0, 1)
    field += (grain * ribs)[..., None]
    amount = np.clip(wet * (0.35 + 0.9 * pools), 0, 1)[..., None]
    field = field * (1 - amount) + mirrored * amount
    c.paint(np.clip(field, 0, 255), np.broadcast_to((y >= horizon).astype(np.float32), c.cover.shape))


def hills(c: Canvas, horizon: float, height: float, colour: Colour, seed: int, *, start: float = 0.0,
        end: float | None = None,
          strength: float = 1.0) -> None:
    """A far shore: low hills that die away at both ends."""
    right = c.right if end is None else end
    random = np.random.default_rng(seed)
    bumps = random.random(5)
    path: list[Point] = [(start, horizon)]
    for k in range(61):
        t = k / 60
        wave = sum(b * np.sin((n + 1) * 2.1 * t * np.pi + 6 * b) / (n + 1) for n, b in enumerate(bumps))
        rise = height * (0.62 + 0.4 * wave) * np.clip(min(t, 1 - t) * 7, 0, 1) ** 0.7
        path.append((start + (right - start) * t, horizon - max(float(rise), 0.0)))
    path.append((right, horizon + 0.002))
    c.flat(path, colour, strength=strength, soft=0.0012)


def church(c: Canvas, x: float, y: float, h: float, stone: Colour, *, dark: Colour | None = None) -> None:
    """A plain church: a square tower `h` high with a low cap, and a nave behind it to the right."""
    shade = dark or mix(stone, (30, 30, 36), 0.5)
    roof = mix(stone, (50, 54, 62), 0.6)
    c.solid([(x + 0.2 * h, y), (x + 0.2 * h, y - 0.42 * h), (x + 1.2 * h, y - 0.42 * h), (x + 1.2 * h, y)], stone,
            curve=False, bulge=0.2, hatch=2)
    c.solid([(x + 0.1 * h, y - 0.4 * h), (x + 0.26 * h, y - 0.66 * h), (x + 1.14 * h, y - 0.66 * h), (x + 1.25 * h,
            y - 0.4 * h)], roof,
            curve=False, bulge=0.2, hatch=70)
    for k in range(4):
        px = x + (0.42 + 0.22 * k) * h
        c.flat([(px, y - 0.1 * h), (px, y - 0.28 * h), (px + 0.035 * h, y - 0.34 * h), (px + 0.07 * h, y - 0.28 * h),
                (px + 0.07 * h, y - 0.1 * h)], shade)
    c.solid([(x - 0.17 * h, y), (x - 0.16 * h, y - h), (x + 0.16 * h, y - h), (x + 0.17 * h, y)], stone, curve=False,
            bulge=0.35, hatch=0)
    c.flat([(x + 0.03 * h, y), (x + 0.03 * h, y - h), (x + 0.16 * h, y - h), (x + 0.17 * h, y)], shade, strength=0.45)
    for k in range(5):
        px = x + (-0.18 + 0.08 * k) * h
        c.flat([(px, y - h), (px, y - 1.05 * h), (px + 0.045 * h, y - 1.05 * h), (px + 0.045 * h, y - h)], stone)
    c.solid([(x - 0.12 * h, y - 1.02 * h), (x, y - 1.26 * h), (x + 0.12 * h, y - 1.02 * h)], roof, curve=False,
            bulge=0.3)
    for level in (0.78, 0.4):
        c.flat([(x - 0.06 * h, y - level * h), (x - 0.06 * h, y - (level + 0.12) * h), (x, y - (level + 0.17) * h),
                (x + 0.05 * h, y - (level + 0.12) * h),
                (x + 0.05 * h, y - level * h)], shade)


def cottage(c: Canvas, x: float, y: float, w: float, wall: Colour, roof: Colour, *, seed: int = 0) -> None:
    """A low cottage, its front left corner at (x, y), `w` wide."""
    random = np.random.default_rng(seed)
    h = w * (0.42 + 0.08 * random.random())
    eave, ridge = y - h, y - h * 1.75
    for end in (0.1, 0.88):
        c.solid([(x + end * w, ridge + 0.06 * w), (x + end * w, ridge - 0.13 * w), (x + (end + 0.09) * w,
                ridge - 0.13 * w),
                 (x + (end + 0.09) * w, ridge + 0.06 * w)], mix(wall, (96, 80, 72), 0.4), curve=False, hatch=0)
    c.solid([(x, y), (x, eave), (x + w, eave), (x + w, y)], wall, curve=False, bulge=0.12, hatch=1)
    c.solid([(x - 0.035 * w, eave + 0.012 * w), (x + 0.05 * w, ridge), (x + 0.96 * w, ridge), (x + 1.035 * w,
            eave + 0.012 * w)], roof,
            curve=False, bulge=0.12, hatch=78, texture=None)
    for k in range(1, 6):
        level = ridge + (eave - ridge) * k / 6
        c.line([(x, level), (x + w, level)], mix(roof, (20, 18, 20), 0.4), 0.006 * w, strength=0.5)
    c.darken([(x - 0.02 * w, eave), (x + 1.02 * w, eave), (x + 1.0 * w, eave + 0.05 * w), (x, eave + 0.05 * w)], 0.5,
            0.008 * w, curve=False)
    dark: Colour = (46, 44, 46)
    door = x + w * (0.4 + 0.12 * random.random())
    c.solid([(door, y), (door, y - 0.72 * h), (door + 0.13 * w, y - 0.72 * h), (door + 0.13 * w, y)], dark,
            curve=False, bulge=0.1, hatch=88)
    for at in (0.12, 0.72):
        left, top, wide, tall = x + at * w, y - 0.74 * h, 0.15 * w, 0.36 * h
        c.flat([(left, top), (left + wide, top), (left + wide, top + tall), (left, top + tall)], dark)
        for f in (0.0, 0.5, 1.0):
            c.line([(left + f * wide, top), (left + f * wide, top + tall)], mix(wall, (250, 250, 245), 0.5), 0.012 * w)
            c.line([(left, top + f * tall), (left + wide, top + f * tall)], mix(wall, (250, 250, 245), 0.5), 0.012 * w)


def brob(c: Canvas, x: float, y: float, h: float, leaf: Colour = (72, 84, 62), *, seed: int = 0,
        lean: float = 0.06) -> None:
    """A laurel branch stuck in the sand at (x, y) to mark the way."""
    random = np.random.default_rng(seed)
    top = (x + lean * h, y - h)
    c.line([(x, y), (x + 0.4 * lean * h + 0.02 * h, y - 0.5 * h), top], (70, 58, 46), 0.028 * h)
    for k in range(34):
        up = 0.3 + 0.72 * k / 33
        side = -1 if k % 2 else 1
        bx, by = x + lean * h * up, y - up * h
        reach = (0.24 - 0.13 * abs(up - 0.6)) * h * random.uniform(0.5, 1.1)
        tilt = random.uniform(-0.3, 0.75)
        tip = (bx + side * reach, by - tilt * reach)
        tone = mix(leaf, (170, 180, 150) if random.random() < 0.3 else (34, 42, 34), random.uniform(0, 0.6))
        mid = ((bx + tip[0]) / 2, (by + tip[1]) / 2 - 0.03 * h)
        low = ((bx + tip[0]) / 2, (by + tip[1]) / 2 + 0.035 * h)
        c.flat([(bx, by), mid, tip, low], tone, curve=True)
