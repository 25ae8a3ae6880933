"""Object photographs and drawings of single things: cloth, shawl, clogs, lanterns, kerchief, board, wheel, tools."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import math

import numpy as np
from drawing import manners
from drawing.canvas import Array, Canvas, Colour, Point, annulus, blur, mix, noise, ribbon
from drawing.people import Dress, plaid, profile
from drawing.things import IRON, basket, craam, jumbo, riddle, wheel


def ground(width: int, height: int, *, seed: int = 3, tone: Colour = (172, 172, 170), edge: float = 0.66) -> Canvas:
    """A neutral grey sweep, lit from the upper left."""
    c = Canvas(width, height, tone, light=(-0.55, -0.7, 0.55), shadow=0.32)
    x, y = c.grid()
    level = 1.12 - 0.3 * np.hypot(x - 0.35 * c.right, (y - 0.3) * 1.1)
    level = level + 0.10 / (1 + np.exp(-(y - edge) / 0.05)) - 0.05
    c.rgb *= (level + 0.006 * noise(c.cover.shape, seed, (5, 300)))[..., None].astype(np.float32)
    return c


def petticoat_cloth() -> Array:
    """Striped linsey laid flat, close enough to read the weave, with a darn and a worn hem."""
    height, wide = 1000, 1400
    y, x = manners.fields((height, wide))
    bend = 2.6 * noise((height, wide), 4, (300,)) + 1.5 * noise((height, wide), 5, (90,))
    hem = 0.9 * height + 3 * noise((height, wide), 8, (12, 60))
    across = x + bend + 2.5 * np.sin(y / 170 + x / 400)
    place = (across + 23) / 116
    band = np.clip((np.abs((place % 1.0) - 0.5) - 0.25) * 116 / 3 + 0.5, 0, 1)
    hair = np.clip(1.5 - np.abs(((place % 1.0) - 0.5) * 116), 0, 1) * 0.55
    indigo, cream = np.array([56, 66, 100], np.float32), np.array([216, 205, 180], np.float32)
    cloth = cream * (1 - band[..., None]) + indigo * band[..., None]
    cloth = cloth + (indigo - cloth) * hair[..., None]
    weft, warp = (y + bend * 0.5) / 6.2, across / 5.2
    over = (np.floor(weft) + np.floor(warp)) % 2
    thread = np.where(over > 0.5, np.sin((weft % 1) * np.pi), np.sin((warp % 1) * np.pi))
    slub = noise((height, wide), 9, (6,), 9.0)
    cloth *= (0.70 + 0.30 * thread + 0.045 * slub)[..., None]
    fade = 1 + 0.05 * noise((height, wide), 10, (240,))
    cloth *= (fade * (1.06 - 0.16 * x / wide - 0.1 * y / height))[..., None]
    drape = noise((height, wide), 11, (420,))
    cloth *= (1 + 0.07 * np.gradient(blur(drape, 60), axis=1) * 300)[..., None]
    crease = np.exp(-(((x - 0.545 * wide - 0.02 * y) / 5) ** 2))
    cloth *= (1 - 0.12 * crease + 0.08 * np.roll(crease, 9, 1))[..., None]
    worn = np.clip((y - hem + 34) / 34, 0, 1) * np.clip(0.5 + 0.8 * noise((height, wide), 12, (5, 22)), 0, 1)
    cloth += (np.array([150, 138, 118], np.float32) - cloth) * (0.55 * worn)[..., None]
    dy, dx = y - 0.32 * height, x - 0.80 * wide  # the darn
    darn = np.clip((62 - np.maximum(np.abs(dx) + 6 * np.sin(y / 9), np.abs(dy) + 5 * np.sin(x / 8))) / 6, 0, 1)
    lattice = 0.55 + 0.45 * np.maximum(np.abs(np.sin(y / 3.6)) * ((x // 9) % 2),
            np.abs(np.sin(x / 3.6)) * ((x // 9 + 1) % 2))
    cloth += (np.array([108, 104, 116], np.float32) * lattice[..., None] * 1.25 - cloth) * (0.85 * darn)[..., None]
    backing = np.array([182, 180, 176], np.float32) * (1.04 - 0.12 * x / wide)[..., None]
    left, top = 54 + 3 * noise((height, wide), 13, (40,)), 48 + 3 * noise((height, wide), 14, (40,))
    fray = 4 * noise((height, wide), 15, (3,), 1.0)
    inside = np.clip(np.minimum(np.minimum(x - left, wide - 50 - x), np.minimum(y - top, hem + fray - y)) / 2 + 0.5, 0,
            1)
    shadow = np.roll(blur(inside, 9), (8, 8), (0, 1))
    out = backing * (1 - 0.42 * shadow[..., None] * (1 - inside[..., None]))
    out = out * (1 - inside[..., None]) + cloth * inside[..., None]
    for k in range(150):  # threads of the fringe
        random = np.random.default_rng(900 + k)
        sx, length = int(random.uniform(70, wide - 70)), int(random.uniform(8, 30))
        sy = int(0.9 * height)
        for step in range(length):
            px = min(max(int(sx + 4 * math.sin(step / 6 + k)), 0), wide - 2)
            out[min(sy + step, height - 1), px : px + 2] = cloth[sy - 60, px] * 0.92
    result: Array = out
    return result


def shawl_object() -> Array:
    """A heavy plaid shawl folded in four, its fringe at one side."""
    c = ground(1200, 1500, seed=5)
    brown: Colour = (128, 108, 90)
    c.darken([(0.13, 0.30), (0.66, 0.27), (0.74, 0.80), (0.70, 0.86), (0.14, 0.84)], 0.5, 0.022)
    cloth = plaid(brown, (66, 58, 56), (176, 170, 160), 2.2)

    def twill(u: Array, v: Array) -> Array:
        lines = 0.93 + 0.07 * np.sin((np.cumsum(np.ones_like(u), 1) + np.cumsum(np.ones_like(u), 0)) * 0.9)
        result: Array = (cloth(u, v) * lines[..., None]).astype(np.float32)
        return result

    for k, (drop, colour) in enumerate(((0.052, (96, 82, 70)), (0.035, (112, 96, 82)), (0.018, (104, 90, 76)))):
        c.solid([(0.115 - 0.002 * k, 0.28 + drop), (0.64 + 0.004 * k, 0.262 + drop), (0.664, 0.76 + drop), (0.655,
                0.80 + drop), (0.125, 0.785 + drop), (0.11, 0.74 + drop)],
                colour, texture=twill, bulge=1.1, reach=0.03, curve=False)
        c.darken([(0.115, 0.772 + drop), (0.66, 0.786 + drop), (0.66, 0.80 + drop), (0.115, 0.79 + drop)], 0.45, 0.004,
                curve=False)
    random = np.random.default_rng(4)
    for k in range(62):
        y0 = 0.275 + 0.0080 * k + random.normal(0, 0.0015)
        tone = ((112, 96, 82), (88, 80, 76), (160, 152, 142), (104, 86, 72))[(k // 4) % 4]
        end = (0.735 + random.normal(0, 0.008), y0 + 0.028 + random.normal(0, 0.008))
        c.limb([(0.655, y0), (0.69, y0 + 0.012 + random.normal(0, 0.003)), end], [0.0052, 0.0062, 0.0036], tone)
        if k % 3 == 0:
            c.oval(0.687, y0 + 0.011, 0.0068, 0.0058, tone)
    top = [(0.105, 0.275), (0.2, 0.264), (0.45, 0.257), (0.645, 0.26), (0.668, 0.3), (0.672, 0.5), (0.668, 0.74),
            (0.652, 0.775), (0.4, 0.772), (0.13, 0.765),
           (0.102, 0.735), (0.098, 0.5), (0.096, 0.31)]
    c.solid(top, brown, texture=twill, bulge=1.0, reach=0.035)
    x, y = c.grid()
    soft = noise(c.cover.shape, 31, (500, 230))
    ridge = np.gradient(blur(soft, 24), axis=1) + np.gradient(blur(soft, 24), axis=0)
    inside = ((x > 0.1) & (x < 0.67) & (y > 0.26) & (y < 0.77)).astype(np.float32)
    c.rgb *= (1 - 11 * ridge * inside)[..., None]
    c.darken([(0.372, 0.265), (0.378, 0.265), (0.385, 0.77), (0.376, 0.77)], 0.45, 0.004, curve=False)
    c.flat([(0.352, 0.265), (0.364, 0.265), (0.37, 0.77), (0.358, 0.77)], (190, 180, 164), soft=0.006, strength=0.28)
    for k in range(8):  # a mend near the fold
        c.line([(0.40, 0.60 + 0.005 * k), (0.455, 0.602 + 0.005 * k)], (66, 60, 62), 0.0022)
        c.line([(0.405 + 0.0065 * k, 0.594), (0.406 + 0.0065 * k, 0.643)], (150, 140, 128), 0.0018, strength=0.7)
    fuzz = noise(c.cover.shape, 32, (3,))
    c.rgb *= (1 + 0.03 * fuzz * inside)[..., None]
    return manners.camera(c, 40, grain=1.4, vignette=0.35)


def clogs_object() -> Array:
    """A pair of clogs: alder soles shod with iron, black leather, a brass clasp."""
    c = ground(1400, 1000, seed=9, edge=0.5)
    for x, y, s, turn in ((0.60, 0.60, 0.86, -0.05), (0.66, 0.80, 1.0, 0.05)):
        _clog(c, x, y, s, turn)
    return manners.camera(c, 41, grain=1.4, vignette=0.35)


def _clog(c: Canvas, x: float, y: float, s: float, turn: float) -> None:
    k, t = math.cos(turn), math.sin(turn)

    def at(dx: float, up: float) -> Point:
        return (x + (dx * k + up * t) * s, y + (dx * t - up * k) * s)

    wood: Colour = (182, 142, 96)
    c.darken([at(-0.42, -0.03), at(0.0, -0.01), at(0.5, 0.0), at(0.62, -0.02), at(0.5, -0.07), at(-0.3, -0.08)], 0.62,
            0.016)
    c.solid([at(-0.41, 0.015), at(-0.405, -0.035), at(-0.2, -0.04), at(-0.185, 0.0), at(-0.1, 0.02), at(0.06, -0.03),
            at(0.3, -0.038), at(0.42, 0.02), at(0.42, 0.045),
             at(0.3, -0.005), at(0.06, 0.0), at(-0.1, 0.04), at(-0.3, 0.0)], IRON, gloss=0.35, curve=False)
    c.solid([at(-0.42, 0.08), at(-0.425, 0.02), at(-0.405, -0.018), at(-0.2, -0.02), at(-0.19, 0.015), at(-0.1, 0.035),
            at(0.05, -0.012), at(0.28, -0.02), at(0.40, 0.025),
             at(0.465, 0.095), at(0.44, 0.10), at(0.3, 0.055), at(0.05, 0.05), at(-0.2, 0.085)], wood, bulge=0.9,
            hatch=4)
    for n in range(4):
        c.line([at(-0.4, 0.005 + 0.016 * n), at(-0.2, 0.01 + 0.014 * n), at(0.1, 0.002 + 0.012 * n), at(0.36,
                0.03 + 0.012 * n)], mix(wood, (84, 56, 32), 0.6),
               0.0022 * s, strength=0.5)
    black: Colour = (46, 43, 44)
    c.solid([at(-0.39, 0.30), at(-0.26, 0.315), at(-0.08, 0.285), at(-0.1, 0.262), at(-0.25, 0.275), at(-0.385,
            0.275)], (112, 88, 66), gloss=0.05)
    c.solid([at(-0.425, 0.07), at(-0.43, 0.17), at(-0.405, 0.305), at(-0.36, 0.292), at(-0.25, 0.268), at(-0.1, 0.27),
            at(-0.02, 0.275), at(0.08, 0.245), at(0.2, 0.205),
             at(0.33, 0.185), at(0.43, 0.15), at(0.462, 0.10), at(0.44, 0.085), at(0.3, 0.05), at(0.05, 0.045),
            at(-0.2, 0.07)], black, gloss=0.34, bulge=1.3, hatch=25)
    c.line([at(-0.405, 0.298), at(-0.36, 0.288), at(-0.25, 0.265), at(-0.1, 0.266)], (104, 98, 94), 0.005 * s)
    c.line([at(-0.1, 0.265), at(-0.07, 0.17), at(-0.1, 0.06)], (92, 88, 86), 0.0035 * s)
    for n in range(14):
        q = n / 13
        c.oval(*at(-0.092 + 0.03 * math.sin(q * 3.1) - 0.008 * q, 0.255 - 0.19 * q), 0.0022 * s, 0.0022 * s, (150, 142,
                132), form=False)
    for n in range(22):
        q = n / 21
        px = -0.41 + 0.83 * q
        up = 0.084 - 0.03 * math.sin(q * 3.14) + 0.02 * max(q - 0.85, 0) * 6
        c.oval(*at(px, up - 0.004), 0.0055 * s, 0.0055 * s, (196, 158, 84), gloss=0.6)
    c.solid([at(0.405, 0.148), at(0.455, 0.118), at(0.468, 0.095), at(0.445, 0.085), at(0.40, 0.11)], (188, 148, 78),
            gloss=0.5)
    brass: Colour = (204, 162, 82)
    c.solid([at(-0.1, 0.282), at(-0.03, 0.29), at(0.03, 0.272), at(0.022, 0.232), at(-0.05, 0.24), at(-0.1, 0.252)],
            brass, gloss=0.65, bulge=1.4)
    c.oval(*at(-0.045, 0.264), 0.012 * s, 0.012 * s, mix(brass, (70, 44, 18), 0.55), gloss=0.3)
    c.line([at(-0.02, 0.285), at(-0.01, 0.262), at(-0.018, 0.24)], mix(brass, (70, 44, 18), 0.6), 0.003 * s)


def storm_lantern_object() -> Array:
    """The tin hurricane lantern: reservoir, glass in its wire guard, vented top, bail."""
    c = ground(1100, 1500, seed=15, edge=0.74)
    x, b = 0.5 * c.right, 0.865
    tin: Colour = (56, 54, 55)
    wire: Colour = (176, 176, 172)
    c.darken([(x - 0.2, b - 0.01), (x + 0.16, b - 0.02), (x + 0.36, b - 0.045), (x + 0.3, b + 0.02), (x - 0.1,
            b + 0.025)], 0.6, 0.016)
    bail = [(x - 0.155, 0.335), (x - 0.19, 0.26), (x - 0.15, 0.13), (x, 0.075), (x + 0.15, 0.13), (x + 0.19, 0.26),
            (x + 0.155, 0.335)]
    c.limb(bail, [0.0085] * 7, wire, gloss=0.5)
    c.limb([(x - 0.045, 0.081), (x, 0.074), (x + 0.045, 0.081)], [0.021, 0.024, 0.021], (120, 88, 58), gloss=0.1)

    def turned(rows: list[tuple[float, float]], colour: Colour, **how: float) -> None:
        left = [(x - r, y + 0.10 * r * 0) for r, y in rows]
        c.solid([*left, *[(x + r, y) for r, y in rows[::-1]]], colour, curve=False, bulge=1.15,
                **how)  # type: ignore[arg-type]

    turned([(0.165, 0.74), (0.178, 0.755), (0.18, 0.84), (0.172, 0.862), (0.165, 0.868)], tin, gloss=0.4)
    c.oval(x, 0.866, 0.166, 0.016, tin, outline=0)
    c.oval(x, 0.742, 0.166, 0.02, mix(tin, (150, 150, 150), 0.12), gloss=0.2)
    turned([(0.15, 0.742), (0.085, 0.705), (0.075, 0.69)], tin, gloss=0.35)
    c.solid([(x + 0.115, 0.742), (x + 0.112, 0.715), (x + 0.15, 0.715), (x + 0.152, 0.745)], (168, 130, 66), gloss=0.5,
            curve=False)
    turned([(0.075, 0.655), (0.084, 0.665), (0.084, 0.69), (0.078, 0.698)], (170, 132, 66), gloss=0.6)
    c.limb([(x - 0.08, 0.678), (x - 0.135, 0.678)], [0.006, 0.006], wire, gloss=0.5)
    c.oval(x - 0.146, 0.678, 0.014, 0.017, (168, 130, 66), gloss=0.5)
    back = [(-0.1, 0.0), (0.02, 0.0), (0.12, 0.0)]
    for dx, _ in back:
        c.line([(x + dx * 0.75, 0.42), (x + dx * 1.2, 0.55), (x + dx * 0.9, 0.69)], (112, 112, 110), 0.0045,
                strength=0.8)
    pear = [(x - 0.07, 0.665), (x - 0.105, 0.60), (x - 0.122, 0.53), (x - 0.105, 0.465), (x - 0.075, 0.415),
            (x + 0.075, 0.415), (x + 0.105, 0.465), (x + 0.122, 0.53),
            (x + 0.105, 0.60), (x + 0.07, 0.665)]
    c.flat(pear, (206, 212, 212), curve=True, strength=0.34)
    c.solid([(x - 0.02, 0.66), (x - 0.02, 0.615), (x + 0.02, 0.615), (x + 0.02, 0.66)], (150, 116, 60), gloss=0.5,
            curve=False)
    c.flat([(x - 0.014, 0.615), (x - 0.012, 0.596), (x + 0.012, 0.594), (x + 0.014, 0.615)], (206, 196, 176))
    c.flat([(x - 0.012, 0.597), (x + 0.012, 0.594), (x + 0.012, 0.6), (x - 0.012, 0.603)], (40, 34, 30))
    ring = np.asarray(pear)
    edge = ribbon([*[(float(px), float(py)) for px, py in ring], (float(ring[0][0]), float(ring[0][1]))],
            [0.007] * (len(pear) + 1))
    c.flat(edge, (108, 118, 120), strength=0.55, soft=0.0016)
    c.flat([(x + 0.02, 0.42), (x + 0.105, 0.43), (x + 0.118, 0.5), (x + 0.07, 0.47)], (58, 48, 42), curve=True,
            soft=0.012, strength=0.6)
    c.flat([(x - 0.085, 0.47), (x - 0.096, 0.53), (x - 0.085, 0.60), (x - 0.073, 0.60), (x - 0.08, 0.53), (x - 0.07,
            0.47)], (255, 255, 255), curve=True, soft=0.002,
           strength=0.85)
    c.flat([(x + 0.09, 0.56), (x + 0.085, 0.61), (x + 0.075, 0.635), (x + 0.08, 0.6)], (255, 255, 255), curve=True,
            soft=0.003, strength=0.5)
    for dx in (-0.165, -0.09, 0.0, 0.09, 0.165):
        c.limb([(x + dx * 0.82, 0.405), (x + dx * 0.98, 0.47), (x + dx, 0.55), (x + dx * 0.95, 0.64), (x + dx * 0.72,
                0.70)], [0.0065] * 5, wire, gloss=0.5)
    for y, r in ((0.468, 0.158), (0.545, 0.165), (0.622, 0.16)):
        arc = [(x + r * math.cos(t), y + 0.016 * math.sin(t)) for t in (math.pi * n / 24 for n in range(25))]
        c.limb(arc, [0.006] * 25, wire, gloss=0.5)
    turned([(0.135, 0.405), (0.15, 0.412), (0.15, 0.426), (0.135, 0.43)], tin, gloss=0.35)
    turned([(0.075, 0.30), (0.145, 0.385), (0.15, 0.405)], tin, gloss=0.35)
    turned([(0.07, 0.235), (0.07, 0.305)], tin, gloss=0.35)
    for n in range(6):
        c.oval(x - 0.055 + 0.022 * n, 0.275, 0.006, 0.011, (16, 14, 14), form=False)
    turned([(0.02, 0.175), (0.09, 0.222), (0.1, 0.236), (0.09, 0.24)], tin, gloss=0.4)
    c.flat([(x + 0.01, 0.235), (x + 0.07, 0.235), (x + 0.10, 0.33), (x + 0.05, 0.30)], (14, 12, 12), soft=0.012,
            strength=0.7)
    for side in (-1, 1):
        c.oval(x + 0.155 * side, 0.345, 0.014, 0.022, tin, gloss=0.4)
        c.oval(x + 0.155 * side, 0.34, 0.006, 0.008, wire, gloss=0.4)
        c.limb([(x + 0.148 * side, 0.36), (x + 0.145 * side, 0.42)], [0.012, 0.012], tin, gloss=0.3)
    c.flat([(x + 0.09, 0.78), (x + 0.135, 0.775), (x + 0.13, 0.815), (x + 0.095, 0.82)], (20, 18, 18), curve=True,
            soft=0.006, strength=0.6)
    c.flat([(x + 0.085, 0.815), (x + 0.13, 0.822), (x + 0.12, 0.832), (x + 0.09, 0.83)], (130, 130, 128), curve=True,
            soft=0.004, strength=0.5)
    random = np.random.default_rng(6)
    for _ in range(26):
        px, py = x + random.uniform(-0.165, 0.165), random.choice([random.uniform(0.755, 0.855), random.uniform(0.30,
                0.40)])
        if py > 0.7 or abs(px - x) < 0.09:
            c.flat([(px, py), (px + 0.006, py - 0.002), (px + 0.008, py + 0.004), (px + 0.001, py + 0.004)], (124, 88,
                    62), curve=True, strength=0.5)
    return manners.camera(c, 43, grain=1.4, vignette=0.35)


def candle_lantern() -> Array:
    """A horn lantern hanging from a nail, its candle showing through the door."""
    c = Canvas(1200, 1500, (146, 150, 152), light=(-0.6, -0.55, 0.6), shadow=0.2)
    x = 0.5 * c.right
    tin: Colour = (124, 124, 124)
    c.flat([(x + 0.08, 0.34), (x + 0.29, 0.36), (x + 0.31, 0.86), (x + 0.1, 0.88)], (92, 94, 96), soft=0.03,
            strength=0.6)
    c.limb([(x - 0.012, 0.058), (x + 0.03, 0.07)], [0.02, 0.012], (60, 58, 56))
    c.solid(annulus(x, 0.145, 0.075, 0.085, 0.017), (150, 150, 150), curve=False)
    c.oval(x, 0.235, 0.028, 0.02, tin)
    c.solid([(x - 0.03, 0.24), (x - 0.165, 0.40), (x + 0.165, 0.40), (x + 0.03, 0.24)], tin, curve=False, bulge=1.1)
    for row, (y, count, w) in enumerate(((0.29, 3, 0.05), (0.33, 4, 0.085), (0.37, 5, 0.12))):
        for n in range(count):
            px = x + (2 * n / (count - 1) - 1) * w
            c.flat([(px - 0.011, y - 0.014), (px + 0.011, y - 0.014), (px, y + 0.012)], (22, 20,
                    22) if row % 2 else (255, 246, 226))
    c.solid([(x - 0.19, 0.395), (x - 0.19, 0.43), (x + 0.19, 0.43), (x + 0.19, 0.395)], mix(tin, (230, 230, 230), 0.2),
            curve=False)
    c.flat([(x - 0.165, 0.43), (x + 0.165, 0.43), (x + 0.165, 0.80), (x - 0.165, 0.80)], (190, 186, 174))
    _, yy = c.grid()
    xx = c.grid()[0]
    horn = np.exp(-((xx - x) ** 2) / 0.012 - (yy - 0.60) ** 2 / 0.03)
    inside = (np.abs(xx - x) < 0.165) & (yy > 0.43) & (yy < 0.80)
    cloudy = noise(c.cover.shape, 8, (90, 30), 0.5)
    level = np.clip(178 + 78 * horn + 9 * cloudy, 0, 255) * inside
    c.paint(np.repeat(level[..., None], 3, -1).astype(np.float32), inside.astype(np.float32))
    c.solid([(x - 0.024, 0.79), (x - 0.024, 0.66), (x + 0.024, 0.655), (x + 0.024, 0.79)], (232, 228, 214),
            curve=False, bulge=1.0)
    for side, low in ((-0.02, 0.70), (0.016, 0.73)):
        c.limb([(x + side, 0.66), (x + side, low)], [0.007, 0.011], (244, 240, 230))
    c.line([(x, 0.658), (x + 0.002, 0.635)], (30, 28, 28), 0.005)
    c.solid([(x - 0.045, 0.80), (x - 0.035, 0.775), (x + 0.035, 0.775), (x + 0.045, 0.80)], (80, 80, 80), curve=False)
    c.flat([(x + 0.002, 0.565), (x - 0.017, 0.62), (x, 0.644), (x + 0.018, 0.62)], (255, 255, 255), curve=True,
            soft=0.003)
    for dx in (-0.172, -0.058, 0.058, 0.172):
        c.solid([(x + dx - 0.013, 0.43), (x + dx - 0.013, 0.80), (x + dx + 0.013, 0.80), (x + dx + 0.013, 0.43)], tin,
                curve=False)
    c.solid([(x - 0.058, 0.606), (x - 0.058, 0.618), (x - 0.172, 0.618), (x - 0.172, 0.606)], tin, curve=False)
    c.solid([(x + 0.058, 0.606), (x + 0.058, 0.618), (x + 0.172, 0.618), (x + 0.172, 0.606)], tin, curve=False)
    for y in (0.49, 0.74):
        c.solid([(x - 0.075, y - 0.014), (x - 0.075, y + 0.014), (x - 0.04, y + 0.014), (x - 0.04, y - 0.014)], (70,
                70, 70), curve=False)
    c.oval(x + 0.06, 0.61, 0.014, 0.018, (60, 58, 58))
    c.solid([(x - 0.19, 0.80), (x - 0.2, 0.835), (x + 0.2, 0.835), (x + 0.19, 0.80)], mix(tin, (230, 230, 230), 0.15),
            curve=False)
    c.solid([(x - 0.2, 0.835), (x - 0.185, 0.87), (x + 0.185, 0.87), (x + 0.2, 0.835)], tin, curve=False)
    return manners.chalk(c, 47, paper=(150, 154, 156))


def ferry_lamp() -> Array:
    """The stage's lamp: a four-paned tin lantern hung from a bent bracket, one pane cracked, lit."""
    c = Canvas(1100, 1400, (116, 124, 134), light=(-0.4, -0.6, 0.6), shadow=0.2)
    lx, ly = 0.46, 0.56
    x, y = c.grid()
    far = np.hypot(x - lx, (y - ly) * 0.95)
    c.rgb *= (0.93 + 0.42 / (1 + (far / 0.17) ** 2))[..., None].astype(np.float32)
    post: Colour = (118, 116, 114)
    c.solid([(0.60, -0.02), (0.597, 1.02), (0.675, 1.02), (0.67, -0.02)], post, curve=False, folds=2, fold=0.3)
    for k in range(7):
        c.line([(0.61 + 0.008 * k, 0.02), (0.612 + 0.008 * k + 0.004 * math.sin(k * 3), 0.5), (0.61 + 0.009 * k,
                0.99)], (48, 46, 46), 0.0026, strength=0.7)
    iron: Colour = (84, 84, 86)
    c.solid([(0.588, 0.15), (0.588, 0.40), (0.612, 0.40), (0.612, 0.15)], iron, curve=False)
    for by in (0.18, 0.275, 0.37):
        c.oval(0.6, by, 0.009, 0.009, (150, 150, 150))
    c.limb([(0.6, 0.20), (0.55, 0.175), (0.49, 0.205), (lx + 0.004, 0.19), (lx - 0.02, 0.225), (lx, 0.26)], [0.026,
            0.023, 0.022, 0.02, 0.018, 0.014], iron, gloss=0.15)
    c.limb([(0.6, 0.375), (0.565, 0.33), (0.535, 0.25), (0.52, 0.2)], [0.018, 0.016, 0.015, 0.013], iron, gloss=0.1)
    c.solid(annulus(lx, 0.285, 0.022, 0.027, 0.009), (120, 120, 120), curve=False)
    tin: Colour = (104, 104, 106)
    c.solid([(lx - 0.03, 0.31), (lx - 0.04, 0.35), (lx + 0.04, 0.35), (lx + 0.03, 0.31)], tin, curve=False)
    for n in range(4):
        c.oval(lx - 0.024 + 0.016 * n, 0.333, 0.0045, 0.008, (255, 250, 232), form=False)
    c.solid([(lx - 0.042, 0.35), (lx - 0.165, 0.435), (lx + 0.165, 0.435), (lx + 0.042, 0.35)], tin, curve=False)
    c.solid([(lx - 0.172, 0.435), (lx - 0.17, 0.455), (lx + 0.17, 0.455), (lx + 0.172, 0.435)], mix(tin, (240, 240,
            240), 0.2), curve=False)
    c.flat([(lx - 0.155, 0.455), (lx + 0.155, 0.455), (lx + 0.11, 0.735), (lx - 0.11, 0.735)], (206, 204, 192))
    inside = (y > 0.455) & (y < 0.735) & (np.abs(x - lx) < 0.155 - (y - 0.455) * 0.16)
    glow = np.clip(196 + 75 * np.exp(-(far**2) / 0.006), 0, 255)
    c.paint(np.repeat(glow[..., None], 3, -1).astype(np.float32), inside.astype(np.float32))
    c.solid([(lx - 0.045, 0.735), (lx - 0.05, 0.69), (lx + 0.05, 0.69), (lx + 0.045, 0.735)], (84, 82, 80))
    c.solid([(lx - 0.018, 0.695), (lx - 0.018, 0.655), (lx + 0.018, 0.655), (lx + 0.018, 0.695)], (70, 68, 66),
            curve=False)
    c.flat([(lx + 0.002, 0.55), (lx - 0.024, 0.62), (lx, 0.655), (lx + 0.026, 0.62)], (255, 255, 255), curve=True,
            soft=0.003)
    for a, b in ((-0.155, -0.11), (-0.045, -0.032), (0.155, 0.11)):
        c.limb([(lx + a, 0.455), (lx + b, 0.735)], [0.014, 0.013], tin)
    crack = [(lx + 0.02, 0.50), (lx + 0.055, 0.54), (lx + 0.045, 0.585), (lx + 0.085, 0.62), (lx + 0.08, 0.66),
            (lx + 0.108, 0.69)]
    c.line(crack, (36, 34, 36), 0.004, curve=False)
    c.line([(lx + 0.055, 0.54), (lx + 0.11, 0.535)], (36, 34, 36), 0.003, curve=False)
    c.line([(lx + 0.085, 0.62), (lx + 0.055, 0.67)], (36, 34, 36), 0.003, curve=False)
    c.solid([(lx - 0.12, 0.735), (lx - 0.125, 0.76), (lx + 0.125, 0.76), (lx + 0.12, 0.735)], mix(tin, (240, 240, 240),
            0.12), curve=False)
    c.solid([(lx - 0.11, 0.76), (lx - 0.06, 0.80), (lx + 0.06, 0.80), (lx + 0.11, 0.76)], tin, curve=False)
    c.oval(lx, 0.812, 0.016, 0.016, tin)
    return manners.chalk(c, 53, paper=(122, 132, 146), white=1.0)


def kerchief_study() -> Array:
    """Three studies of one madder-red kerchief: from the back quarter in the middle, from the side, and untied."""
    c = Canvas(1200, 1200, (246, 241, 229), light=(-0.55, -0.6, 0.6), shadow=0.5)
    red: Colour = (178, 58, 46)
    x, y = c.grid()
    wash = np.exp(-(((x - 0.5) / 0.24) ** 2) - ((y - 0.42) / 0.25) ** 2) * np.clip(0.6 + 0.3 * noise(c.cover.shape, 2,
            (260, 120)), 0, 1)
    c.paint(np.broadcast_to(np.array([196, 204, 208], np.float32), c.rgb.shape), wash * 0.5)
    _kerchief_back(c, 0.5, 0.41, 0.34, red)
    _kerchief_side(c, 0.19, 0.72, 0.27, red)
    _kerchief_open(c, 0.75, 0.80, 0.2, red)
    for k in range(6):
        tone = mix(red, ((250, 240, 226), (90, 30, 30))[k % 2], 0.12 * k)
        c.flat([(0.80 + 0.025 * k, 0.10), (0.822 + 0.025 * k, 0.10), (0.822 + 0.025 * k, 0.13), (0.80 + 0.025 * k,
                0.132)], tone)
    return manners.watercolour(c, 57, margin=0.0, pen=0.62)


def _spots(c: Canvas, path: list[Point], size: float, count: int) -> None:
    """White spots along a border."""
    line = np.asarray(path)
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    for s in np.linspace(0.03, 0.97, count) * run[-1]:
        px, py = float(np.interp(s, run, line[:, 0])), float(np.interp(s, run, line[:, 1]))
        c.oval(px, py, size, size * 0.85, (240, 226, 208), form=False)


def _kerchief_back(c: Canvas, x: float, y: float, s: float, red: Colour) -> None:
    def at(dx: float, dy: float) -> Point:
        return (x + dx * s, y + dy * s)

    skin: Colour = (210, 166, 138)
    bodice: Colour = (172, 164, 168)
    c.solid([at(-0.15, 0.2), at(-0.13, 0.45), at(-0.24, 0.62), at(0.24, 0.64), at(0.16, 0.5), at(0.17, 0.3)], mix(skin,
            (120, 84, 70), 0.2), hatch=20)
    c.solid([at(-0.20, 0.575), at(-0.42, 0.66), at(-0.56, 0.80), at(-0.58, 0.92), at(0.46, 0.93), at(0.44, 0.78),
            at(0.32, 0.66), at(0.19, 0.59), at(0.05, 0.665),
             at(-0.1, 0.66)], bodice, folds=4, fold=0.5, fan=0.2, hatch=70, outline=0.7)
    fade = np.clip((c.grid()[1] - (y + 0.74 * s)) / (0.14 * s), 0,
            1) * (np.abs(c.grid()[0] - x) < 0.62 * s) * (c.grid()[1] < y + s)
    c.paint(np.broadcast_to(np.array([246, 241, 229], np.float32), c.rgb.shape), fade.astype(np.float32))
    c.lines *= 1 - fade
    c.solid([at(0.30, -0.33), at(0.375, -0.22), at(0.392, -0.12), at(0.388, -0.05), at(0.432, 0.055), at(0.425, 0.085),
            at(0.395, 0.095), at(0.408, 0.13), at(0.396, 0.155),
             at(0.40, 0.185), at(0.385, 0.235), at(0.32, 0.275), at(0.22, 0.265), at(0.12, 0.2), at(0.1, -0.1)], skin,
            hatch=10, bulge=0.7)
    c.line([at(0.34, -0.075), at(0.375, -0.085), at(0.392, -0.075)], (92, 64, 50), 0.014 * s, taper=True)
    c.flat([at(0.352, -0.02), at(0.378, -0.036), at(0.388, -0.012), at(0.37, -0.002)], (238, 230, 222), curve=True)
    c.oval(*at(0.379, -0.018), 0.009 * s, 0.014 * s, (52, 44, 40), form=False)
    c.line([at(0.346, -0.016), at(0.37, -0.04), at(0.39, -0.028)], (70, 46, 38), 0.008 * s)
    c.line([at(0.408, 0.128), at(0.375, 0.132)], (128, 60, 52), 0.010 * s)
    c.flat([at(0.3, 0.03), at(0.36, 0.04), at(0.35, 0.11), at(0.29, 0.1)], (206, 110, 92), curve=True, soft=0.02 * s,
            strength=0.35)
    c.solid([at(0.175, -0.045), at(0.225, -0.06), at(0.25, -0.01), at(0.235, 0.055), at(0.195, 0.095), at(0.165,
            0.05)], mix(skin, (196, 104, 88), 0.25), hatch=70)
    c.line([at(0.195, -0.02), at(0.225, -0.02), at(0.215, 0.04)], (140, 84, 68), 0.008 * s)
    c.solid([at(-0.2, 0.24), at(-0.21, 0.38), at(-0.1, 0.44), at(0.06, 0.40), at(0.13, 0.27), at(0.1, 0.15)], (92, 68,
            52), folds=5, fold=0.8, hatch=80)
    c.solid([at(0.36, -0.27), at(0.3, -0.42), at(0.1, -0.53), at(-0.16, -0.5), at(-0.34, -0.33), at(-0.4, -0.08),
            at(-0.35, 0.14), at(-0.2, 0.3), at(-0.02, 0.33),
             at(0.1, 0.22), at(0.2, 0.02), at(0.29, -0.13)], red, folds=3.5, fold=0.9, fan=0.25, hatch=70, seed=1)
    _spots(c, [at(0.325, -0.25), at(0.255, -0.1), at(0.165, 0.04), at(0.07, 0.19), at(-0.01, 0.28)], 0.016 * s, 11)
    c.solid([at(-0.14, 0.3), at(-0.3, 0.5), at(-0.27, 0.72), at(-0.17, 0.78), at(-0.1, 0.55), at(-0.02, 0.34)],
            mix(red, (240, 200, 180), 0.06), folds=2.5, fold=0.9, hatch=85)
    _spots(c, [at(-0.28, 0.52), at(-0.25, 0.71), at(-0.18, 0.75)], 0.014 * s, 6)
    c.solid([at(-0.06, 0.3), at(0.02, 0.45), at(0.13, 0.6), at(0.09, 0.7), at(-0.04, 0.66), at(-0.12, 0.45)], mix(red,
            (60, 10, 14), 0.12), folds=2, fold=0.9, hatch=95)
    _spots(c, [at(0.105, 0.62), at(0.075, 0.68), at(-0.02, 0.645)], 0.014 * s, 5)
    c.solid([at(-0.16, 0.25), at(-0.02, 0.24), at(0.03, 0.31), at(-0.03, 0.38), at(-0.14, 0.38), at(-0.19, 0.32)], red,
            folds=1.5, fold=0.8, bulge=1.4, hatch=20)
    for k in (-1, 0, 1):
        c.line([at(-0.07 + 0.02 * k, 0.27), at(-0.16 + 0.1 * k, 0.12), at(-0.2 + 0.2 * k, -0.12)], mix(red, (70, 14,
                16), 0.6), 0.012 * s, strength=0.6, taper=True)


def _kerchief_side(c: Canvas, x: float, y: float, s: float, red: Colour) -> None:
    def at(dx: float, up: float) -> Point:
        return (x + dx * s * 4.4, y - (up - 0.9) * s * 4.4)

    profile(c, at, s * 4.4, Dress(kerchief=red, skin=(208, 164, 136)))
    _spots(c, [at(0.062, 0.958), at(0.034, 0.962), at(0.004, 0.935), at(-0.016, 0.893), at(-0.031, 0.87)], 0.02 * s, 12)
    _spots(c, [at(-0.062, 0.86), at(-0.108, 0.80), at(-0.09, 0.785)], 0.018 * s, 6)
    fade = np.clip((c.grid()[1] - (y + 0.30 * s)) / (0.12 * s), 0,
            1) * (np.abs(c.grid()[0] - (x + 0.05 * s)) < 0.22 * s) * (c.grid()[1] < y + 0.6 * s)
    c.paint(np.broadcast_to(np.array([246, 241, 229], np.float32), c.rgb.shape), fade.astype(np.float32))
    c.lines *= 1 - fade


def _kerchief_open(c: Canvas, x: float, y: float, s: float, red: Colour) -> None:
    def at(dx: float, dy: float) -> Point:
        return (x + dx * s, y + dy * s)

    c.darken([at(-0.9, 0.1), at(0.0, 0.66), at(1.0, 0.16), at(0.95, 0.3), at(0.0, 0.78)], 0.25, 0.03 * s)
    c.solid([at(-0.95, -0.02), at(-0.4, -0.17), at(0.1, -0.2), at(0.96, -0.1), at(0.5, 0.3), at(0.06, 0.66), at(-0.4,
            0.38)], red, folds=3, fold=0.7, fan=0.35,
            hatch=40, curve=False)
    _spots(c, [at(-0.83, 0.02), at(-0.38, 0.33), at(0.05, 0.57)], 0.024 * s, 14)
    _spots(c, [at(0.84, -0.04), at(0.45, 0.25), at(0.08, 0.55)], 0.024 * s, 14)
    _spots(c, [at(-0.8, -0.02), at(-0.35, -0.12), at(0.1, -0.15), at(0.82, -0.07)], 0.018 * s, 20)


def basket_and_riddle() -> Array:
    """A cockle basket, a riddle and a craam, side by side."""
    c = Canvas(1500, 1100, (250, 250, 250), light=(-0.6, -0.6, 0.55), shadow=0.22)
    for path in ([(0.12, 0.77), (0.5, 0.75), (0.58, 0.80), (0.18, 0.84)], [(0.56, 0.70), (0.9, 0.68), (0.98, 0.76),
            (0.62, 0.79)], [(1.1, 0.79), (1.24, 0.77), (1.3, 0.82), (1.12, 0.83)]):
        c.darken(path, 0.55, 0.014)
    basket(c, 0.285, 0.54, 0.46, (186, 156, 116))
    riddle(c, 0.735, 0.585, 0.4, flat=0.5, wood=(196, 166, 126))
    craam(c, 1.13, 0.20, 0.62, turn=-2)
    return manners.engraving(c, 63, spacing=4.4)


def jumbo_board() -> Array:
    """The jumbo board alone."""
    c = Canvas(1600, 900, (242, 240, 234), light=(-0.75, -0.5, 0.42), shadow=0.16)
    _, y = c.grid()
    pool = np.clip((y - 0.72) / 0.2, 0, 1) * np.clip(0.55 + 0.5 * noise(c.cover.shape, 3, (160, 60), 5.0), 0, 1)
    c.paint(np.broadcast_to(np.array([176, 172, 164], np.float32), c.rgb.shape), pool * 0.55)
    jumbo(c, 0.26, 0.78, 0.95, wood=(226, 204, 168))
    wet = [(0.26, 0.79), (0.30, 0.755), (0.60, 0.745), (0.9, 0.735), (1.16, 0.735), (1.21, 0.752), (1.21, 0.80), (0.26,
            0.832)]
    c.darken(wet, 0.5, 0.010)
    for along in (0.24, 0.76):  # where the hands have worn the bars pale, and the shadow each handle throws
        px, py = 0.26 + (along + 0.34 * 0.5) * 0.95, 0.78 - (0.2 * 0.5 + 0.34) * 0.95 - 0.03 * along * 0.95
        c.flat([(px - 0.055, py + 0.018), (px + 0.06, py - 0.022), (px + 0.055, py - 0.035), (px - 0.06, py + 0.004)],
                (252, 250, 246), soft=0.007, strength=0.7)
        for back in (0.25, 0.75):
            sx, sy = 0.26 + (along + 0.34 * back) * 0.95, 0.78 - 0.2 * back * 0.95 - 0.03 * along * 0.95
            c.darken([(sx, sy - 0.006), (sx + 0.19, sy - 0.006), (sx + 0.195, sy + 0.008), (sx, sy + 0.014)], 0.38,
                    0.005, curve=False)
    for k in range(40):
        random = np.random.default_rng(k)
        px, py = random.uniform(0.16, 1.4), random.uniform(0.83, 0.95)
        c.line([(px, py), (px + random.uniform(0.02, 0.09), py + 0.002)], (120, 116, 110), 0.0028, strength=0.6,
                taper=True)
    return manners.ink_wash(c, 67)


def cart_wheel() -> Array:
    """A cart wheel face on, for a trade list."""
    c = Canvas(1200, 1200, (252, 252, 252), light=(-0.6, -0.6, 0.55), shadow=0.22)
    c.darken([(0.25, 0.925), (0.75, 0.925), (0.85, 0.945), (0.3, 0.955)], 0.6, 0.01)
    wheel(c, 0.5, 0.5, 0.425, (206, 180, 142))
    for r, tone in ((0.085, (188, 160, 122)), (0.062, (150, 126, 94))):
        c.oval(0.5, 0.5, r, r, tone, hatch=20)
    for r in (0.083, 0.064):
        c.solid(annulus(0.5, 0.5, r, r, 0.008), IRON, curve=False)
    c.oval(0.5, 0.5, 0.03, 0.03, (90, 88, 86), gloss=0.5)
    c.solid([(0.488, 0.488), (0.512, 0.488), (0.512, 0.512), (0.488, 0.512)], (54, 52, 52), curve=False)
    for n in range(6):
        t = 2 * math.pi * n / 6 + 0.1 + math.pi / 12
        c.line([(0.5 + 0.352 * math.cos(t), 0.5 + 0.352 * math.sin(t)), (0.5 + 0.404 * math.cos(t),
                0.5 + 0.404 * math.sin(t))], (60, 48, 40), 0.004)
    for n in range(12):
        t = 2 * math.pi * n / 12 + 0.1 + math.pi / 12
        c.oval(0.5 + 0.414 * math.cos(t), 0.5 + 0.414 * math.sin(t), 0.005, 0.005, (210, 210, 206))
    return manners.engraving(c, 69, spacing=4.4)
