"""Things of the shore, all invented: baskets, lanterns, tools, cart and horse, boats, buildings."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import math
from collections.abc import Callable

import numpy as np
from drawing.canvas import Array, Canvas, Colour, Point, annulus, mix

WOOD: Colour = (128, 98, 66)
IRON: Colour = (62, 60, 60)


def weave(colour: Colour, rows: float, stakes: float) -> Callable[[Array, Array], Array]:
    """Willow weave that goes round a basket."""

    def texture(u: Array, v: Array) -> Array:
        around = np.arcsin(np.clip(2 * u - 1, -1, 1)) / np.pi + 0.5
        row = np.floor(v * rows)
        rod = np.abs(np.sin(v * rows * np.pi))
        over = np.sin(around * stakes * 2 * np.pi + row * np.pi)
        light = 0.55 + 0.33 * rod + 0.24 * over * rod
        result: Array = (np.asarray(colour, np.float32) * light[..., None]).astype(np.float32)
        return result

    return texture


def basket(c: Canvas, x: float, y: float, w: float, colour: Colour = (140, 108, 70), *, full: bool = False) -> None:
    """A round willow basket, `w` wide, the middle of its rim at (x, y), with one bow handle."""
    dark = mix(colour, (24, 16, 10), 0.5)
    c.line([(x - 0.4 * w, y - 0.02 * w), (x - 0.3 * w, y - 0.42 * w), (x, y - 0.56 * w), (x + 0.3 * w, y - 0.42 * w),
            (x + 0.4 * w, y - 0.02 * w)],
           dark, 0.065 * w)
    c.solid([(x - 0.5 * w, y), (x - 0.47 * w, y + 0.24 * w), (x - 0.36 * w, y + 0.46 * w), (x, y + 0.54 * w),
            (x + 0.36 * w, y + 0.46 * w),
             (x + 0.47 * w, y + 0.24 * w), (x + 0.5 * w, y), (x, y + 0.06 * w)], colour, texture=weave(colour, 9, 9),
            hatch=4)
    c.oval(x, y, 0.5 * w, 0.1 * w, mix(colour, (230, 205, 160), 0.25), hatch=2)
    c.oval(x, y + 0.005 * w, 0.43 * w, 0.066 * w, mix(colour, (16, 12, 10), 0.72), outline=0)
    if full:
        random = np.random.default_rng(int(x * 1e4))
        for _ in range(46):
            t, r = random.uniform(0, 2 * math.pi), math.sqrt(random.uniform(0, 1))
            px, py = x + 0.4 * w * r * math.cos(t), y - 0.05 * w * (1 - r * r) * 2.4 + 0.05 * w * r * math.sin(t)
            c.oval(px, py, 0.045 * w, 0.035 * w, mix((206, 196, 176), (140, 126, 108), random.random()), hatch=30,
                    outline=0.6)
    c.line([(x - 0.43 * w, y - 0.1 * w), (x - 0.3 * w, y - 0.42 * w), (x, y - 0.56 * w)], mix(colour, (235, 210, 170),
            0.35), 0.02 * w)


def storm_lantern(c: Canvas, x: float, y: float, h: float, *, lit: bool = True, tin: Colour = (58, 56, 56)) -> Point:
    """A small tin hurricane lantern with its foot at (x, y); returns the place of the flame."""
    c.line([(x - 0.2 * h, y - 0.72 * h), (x - 0.14 * h, y - 0.96 * h), (x, y - 1.05 * h), (x + 0.14 * h, y - 0.96 * h),
            (x + 0.2 * h, y - 0.72 * h)],
           tin, 0.035 * h)
    glass: Colour = (255, 212, 128) if lit else (128, 138, 142)
    pear = [(x - 0.13 * h, y - 0.24 * h), (x - 0.2 * h, y - 0.4 * h), (x - 0.12 * h, y - 0.68 * h), (x + 0.12 * h,
            y - 0.68 * h),
            (x + 0.2 * h, y - 0.4 * h), (x + 0.13 * h, y - 0.24 * h)]
    if lit:
        c.flat(pear, glass, curve=True)
        c.oval(x, y - 0.42 * h, 0.075 * h, 0.15 * h, (255, 246, 214), form=False, soft=0.02 * h)
    else:
        c.solid(pear, glass, gloss=0.6)
    for side in (-1, 1):
        c.line([(x + 0.2 * side * h, y - 0.2 * h), (x + 0.24 * side * h, y - 0.42 * h), (x + 0.16 * side * h,
                y - 0.7 * h)], tin, 0.025 * h)
    c.line([(x - 0.22 * h, y - 0.36 * h), (x, y - 0.34 * h), (x + 0.22 * h, y - 0.36 * h)], tin, 0.018 * h)
    c.line([(x - 0.19 * h, y - 0.55 * h), (x, y - 0.53 * h), (x + 0.19 * h, y - 0.55 * h)], tin, 0.018 * h)
    c.solid([(x - 0.22 * h, y), (x - 0.2 * h, y - 0.2 * h), (x + 0.2 * h, y - 0.2 * h), (x + 0.22 * h, y)], tin,
            curve=False, gloss=0.2)
    c.solid([(x - 0.18 * h, y - 0.66 * h), (x - 0.08 * h, y - 0.82 * h), (x + 0.08 * h, y - 0.82 * h), (x + 0.18 * h,
            y - 0.66 * h)], tin,
            curve=False)
    return (x, y - 0.42 * h)


def wheel(c: Canvas, x: float, y: float, r: float, wood: Colour = WOOD, *, spokes: int = 12, turn: float = 0.1,
        flat: float = 1.0) -> None:
    """A spoked cart wheel about (x, y)."""

    for n in range(spokes):
        t = 2 * math.pi * n / spokes + turn
        c.limb([(x + 0.1 * r * flat * math.cos(t), y + 0.1 * r * math.sin(t)), (x + 0.86 * r * flat * math.cos(t),
                y + 0.86 * r * math.sin(t))],
               [0.09 * r, 0.062 * r], wood, hatch=math.degrees(t))
    c.solid(annulus(x, y, 0.89 * r * flat, 0.89 * r, 0.13 * r), wood, curve=False, hatch=30)
    c.solid(annulus(x, y, 0.975 * r * flat, 0.975 * r, 0.05 * r), IRON, curve=False, hatch=60, gloss=0.2)
    c.oval(x, y, 0.2 * r * flat, 0.2 * r, mix(wood, (40, 28, 18), 0.2), hatch=0)
    c.oval(x + 0.02 * r, y, 0.11 * r * flat, 0.11 * r, IRON, gloss=0.3)


def horse(c: Canvas, x: float, y: float, h: float, coat: Colour = (112, 72, 48), *, harness: bool = True,
        nod: float = 0.0) -> None:
    """A cart horse in profile, walking to the right, its hooves at y, its withers 0.75 h up; `nod` lowers its head."""

    def at(dx: float, up: float) -> Point:
        if nod and dx > 0.12 and up > 0.6:  # the neck bends from the withers; the shaft and the legs stay
            turn = nod * min((dx - 0.12) / 0.28, 1.0) * min((up - 0.6) / 0.12, 1.0)
            s, k = math.sin(turn), math.cos(turn)
            px, py = dx - 0.2, up - 0.7
            dx, up = 0.2 + px * k + py * s, 0.7 - px * s + py * k
        return (x + dx * h, y - up * h)

    far, dark, leather = mix(coat, (22, 16, 14), 0.5), (36, 28, 26), (44, 34, 30)
    hoof: Colour = (48, 42, 38)

    def leg(points: list[Point], widths: list[float], colour: Colour) -> None:
        c.limb([at(*p) for p in points], [w * h for w in widths], colour, hatch=12)
        fx, fy = points[-1]
        c.solid([at(fx - 0.03, fy + 0.01), at(fx - 0.042, fy - 0.05), at(fx + 0.058, fy - 0.05), at(fx + 0.035,
                fy + 0.015)], hoof, curve=False)

    leg([(-0.33, 0.52), (-0.28, 0.38), (-0.355, 0.25), (-0.31, 0.12), (-0.29, 0.05)], [0.17, 0.11, 0.062, 0.046,
            0.058], far)
    leg([(0.2, 0.5), (0.26, 0.32), (0.285, 0.24), (0.25, 0.12), (0.23, 0.06)], [0.12, 0.075, 0.058, 0.042, 0.054], far)
    c.solid([at(-0.47, 0.68), at(-0.53, 0.58), at(-0.545, 0.4), at(-0.5, 0.2), at(-0.465, 0.24), at(-0.465, 0.42),
            at(-0.445, 0.62)], dark,
            folds=2, fold=0.5, hatch=85)
    c.solid([at(-0.47, 0.66), at(-0.43, 0.735), at(-0.34, 0.77), at(-0.24, 0.745), at(-0.1, 0.715), at(0.04, 0.72),
            at(0.14, 0.765),
             at(0.21, 0.80), at(0.30, 0.885), at(0.375, 0.975), at(0.43, 1.015), at(0.465, 1.0), at(0.51, 0.955),
            at(0.575, 0.86),
             at(0.625, 0.785), at(0.63, 0.745), at(0.60, 0.722), at(0.565, 0.728), at(0.52, 0.79), at(0.465, 0.83),
            at(0.425, 0.845),
             at(0.385, 0.77), at(0.345, 0.665), at(0.315, 0.55), at(0.265, 0.465), at(0.16, 0.42), at(0.0, 0.385),
            at(-0.16, 0.39),
             at(-0.28, 0.43), at(-0.4, 0.44), at(-0.47, 0.52)], coat, hatch=30, bulge=1.2, gloss=0.08)
    leg([(-0.38, 0.56), (-0.36, 0.4), (-0.455, 0.26), (-0.43, 0.12), (-0.455, 0.05)], [0.2, 0.125, 0.064, 0.048, 0.06],
            coat)
    leg([(0.235, 0.52), (0.225, 0.34), (0.222, 0.25), (0.2, 0.12), (0.215, 0.05)], [0.14, 0.085, 0.062, 0.044, 0.058],
            coat)
    c.solid([at(-0.44, 0.66), at(-0.3, 0.7), at(-0.27, 0.55), at(-0.33, 0.44), at(-0.45, 0.47)], coat, outline=0,
            strength=0.6, soft=0.02 * h, bulge=1.4)
    c.solid([at(0.15, 0.72), at(0.3, 0.68), at(0.33, 0.55), at(0.24, 0.46), at(0.16, 0.54)], coat, outline=0,
            strength=0.6, soft=0.02 * h, bulge=1.4)
    c.solid([at(0.17, 0.79), at(0.29, 0.89), at(0.4, 1.01), at(0.445, 1.005), at(0.41, 0.93), at(0.36, 0.86), at(0.33,
            0.77), at(0.27, 0.735),
             at(0.21, 0.755)], dark, folds=4, fold=0.6, hatch=120)
    c.solid([at(0.40, 1.0), at(0.405, 1.075), at(0.43, 1.06), at(0.45, 1.0)], coat, hatch=70)
    c.solid([at(0.43, 1.01), at(0.455, 0.985), at(0.465, 0.93), at(0.445, 0.95)], dark, hatch=80)
    c.oval(*at(0.485, 0.925), 0.013 * h, 0.011 * h, (18, 14, 14), form=False)
    c.oval(*at(0.612, 0.768), 0.009 * h, 0.013 * h, (20, 14, 14), form=False)
    c.line([at(0.605, 0.738), at(0.575, 0.748)], (30, 20, 18), 0.007 * h)
    if harness:
        for strap in ([(0.45, 1.0), (0.455, 0.92), (0.43, 0.845)], [(0.545, 0.905), (0.53, 0.85), (0.51, 0.795)],
                      [(0.455, 0.93), (0.53, 0.87), (0.6, 0.75)], [(-0.02, 0.72), (-0.045, 0.56), (-0.03, 0.385)],
                      [(0.57, 0.76), (0.35, 0.72), (0.02, 0.74)], [(-0.36, 0.775), (-0.32, 0.62), (-0.34, 0.5)]):
            c.line([at(*p) for p in strap], leather, 0.013 * h)
        c.solid([at(-0.1, 0.73), at(-0.04, 0.765), at(0.04, 0.74), at(0.03, 0.65), at(-0.09, 0.65)], leather, hatch=20)
        collar = [at(0.2, 0.79), at(0.17, 0.66), at(0.225, 0.51), at(0.3, 0.5), at(0.315, 0.62), at(0.27, 0.76),
                at(0.2, 0.79)]
        c.limb(collar, [0.045 * h] * 7, (58, 42, 34), hatch=70)
        c.limb([at(0.29, 0.54), at(-0.75, 0.5)], [0.028 * h, 0.034 * h], (124, 92, 60), hatch=8)


def cart(c: Canvas, x: float, y: float, h: float, *, body: Colour = (74, 92, 116), load: bool = True) -> None:
    """A two-wheeled carrier's cart, its wheel standing at (x, y), moving right: barrels, bales, a tarred tilt."""

    def at(dx: float, up: float) -> Point:
        return (x + dx * h, y - up * h)

    rail = mix(body, (230, 220, 200), 0.2)
    if load:
        for px, top, r in ((-0.42, 0.98, 0.13), (-0.15, 1.0, 0.13), (0.3, 0.98, 0.12)):
            c.solid([at(px - r, 0.62), at(px - r * 1.16, 0.8), at(px - r, top), at(px + r, top), at(px + r * 1.16,
                    0.8), at(px + r, 0.62)],
                    (132, 100, 68), hatch=5, folds=2, fold=0.3)
            for level in (0.9, 0.72):
                c.line([at(px - r * 1.08, level), at(px, level - 0.02), at(px + r * 1.08, level)], IRON, 0.02 * h)
            c.oval(*at(px, top), r * h, 0.035 * h, (152, 120, 84), hatch=2)
        c.solid([at(0.02, 0.7), at(0.0, 1.06), at(0.1, 1.14), at(0.24, 1.1), at(0.25, 0.7)], (168, 150, 118), folds=2,
                fold=1.0, hatch=50)
        c.solid([at(-0.6, 0.86), at(-0.5, 1.06), at(-0.22, 1.2), at(0.05, 1.17), at(0.14, 1.0), at(0.0, 0.93), at(-0.2,
                1.0), at(-0.36, 0.86)],
                (58, 56, 54), folds=3, fold=1.1, fan=0.2, hatch=20, gloss=0.08)
        c.line([at(-0.58, 0.8), at(-0.25, 1.2), at(0.2, 1.12), at(0.46, 0.78)], (176, 158, 120), 0.012 * h)
        c.line([at(-0.3, 0.76), at(-0.05, 1.18), at(0.1, 1.12), at(0.2, 0.78)], (176, 158, 120), 0.012 * h)
    c.solid([at(-0.64, 0.48), at(-0.7, 0.82), at(0.5, 0.8), at(0.48, 0.48)], body, curve=False, hatch=3)
    for k in range(9):
        px = -0.62 + 0.138 * k
        c.limb([at(px, 0.48), at(px - 0.012, 0.83)], [0.026 * h, 0.026 * h], rail, hatch=85)
    for level, lift in ((0.82, 0.035), (0.65, 0.022), (0.47, 0.05)):
        c.limb([at(-0.71, level), at(0.52, level - 0.015)], [lift * h, lift * h], rail, hatch=4)
    c.limb([at(0.4, 0.48), at(1.0, 0.5)], [0.045 * h, 0.035 * h], (124, 92, 60), hatch=6)
    wheel(c, *at(-0.08, 0.42), 0.42 * h, (140, 62, 48))


def craam(c: Canvas, x: float, y: float, h: float, *, turn: float = 0.0) -> None:
    """A craam lying from its grip at (x, y) downwards: a short ash handle and three bent tines; `h` its length."""
    s, k = math.sin(math.radians(turn)), math.cos(math.radians(turn))

    def at(dx: float, down_: float) -> Point:
        return (x + (dx * k - down_ * s) * h, y + (dx * s + down_ * k) * h)

    for side in (-1, 0, 1):
        tine = [at(0.01 * side, 0.56), at(0.11 * side, 0.62), at(0.15 * side, 0.76), at(0.14 * side + 0.02, 0.9),
                at(0.115 * side + 0.075, 0.985)]
        c.limb(tine, [0.045 * h, 0.042 * h, 0.036 * h, 0.026 * h, 0.01 * h], (84, 82, 82), hatch=15, gloss=0.3)
    c.limb([at(0, 0.46), at(0, 0.6)], [0.075 * h, 0.06 * h], (72, 70, 70), hatch=0, gloss=0.3)
    c.limb([at(0, 0.0), at(0.004, 0.16), at(-0.003, 0.34), at(0, 0.48)], [0.062 * h, 0.072 * h, 0.06 * h, 0.058 * h],
            (168, 130, 88), hatch=80)


def riddle(c: Canvas, x: float, y: float, w: float, *, flat: float = 0.45, wood: Colour = (156, 122, 82)) -> None:
    """A round riddle seen from above its rim: a bent wooden hoop and a wire mesh."""
    depth = 0.2 * w
    ry = 0.5 * w * flat
    c.oval(x, y, 0.5 * w, ry, mix(wood, (30, 22, 16), 0.5), hatch=10)
    c.oval(x, y + depth * 0.55, 0.455 * w, ry * 0.86, (92, 86, 78), outline=0.4, bulge=0.1, hatch=0)
    for k in range(-9, 10):
        f = k / 10
        half = math.sqrt(1 - f * f)
        for line in ([(x + 0.455 * w * f, y + depth * 0.55 - ry * 0.86 * half), (x + 0.455 * w * f,
                y + depth * 0.55 + ry * 0.86 * half)],
                     [(x - 0.455 * w * half, y + depth * 0.55 + ry * 0.86 * f), (x + 0.455 * w * half,
                y + depth * 0.55 + ry * 0.86 * f)]):
            c.line(line, (206, 200, 188), 0.008 * w)
    ring = [(x + 0.5 * w * math.cos(t), y + ry * math.sin(t)) for t in (math.pi * n / 40 for n in range(41))]
    front = [*ring, *[(px, py + depth) for px, py in ring[::-1]]]
    c.solid(front, wood, curve=False, hatch=4, bulge=0.8)
    c.solid(annulus(x, y, 0.5 * w, ry, 0.028 * w), mix(wood, (240, 220, 180), 0.35), curve=False, hatch=30)


def jumbo(c: Canvas, x: float, y: float, w: float, *, wood: Colour = (150, 120, 84)) -> None:
    """A jumbo board lying in perspective, its near left corner at (x, y): a plank with two upright handles."""

    def at(along: float, back: float, up: float = 0.0) -> Point:
        return (x + (along + 0.34 * back) * w, y - (0.2 * back + up) * w - 0.03 * along * w)

    c.darken([at(-0.02, -0.08), at(1.06, -0.1), at(1.1, 0.9), at(0.0, 0.3)], 0.45, 0.02 * w, curve=False)
    c.solid([at(0, 0), at(1, 0), at(1, 1), at(0, 1)], wood, curve=False, bulge=0.15, hatch=3)
    for k in range(1, 9):
        shift = 0.1 * math.sin(k * 2.4)
        c.line([at(0.01, k / 9), at(0.35, k / 9 + 0.04 * shift), at(0.7, k / 9 - 0.03 * shift), at(0.99, k / 9)],
               mix(wood, (50, 36, 24), 0.55), 0.004 * w, strength=0.8)
    c.solid([at(0, 0, -0.055), at(1, 0, -0.055), at(1, 0), at(0, 0)], mix(wood, (40, 30, 24), 0.4), curve=False,
            bulge=0.2, hatch=2)
    c.solid([at(1, 0, -0.055), at(1, 1, -0.055), at(1, 1), at(1, 0)], mix(wood, (30, 22, 18), 0.55), curve=False,
            bulge=0.2, hatch=50)
    for along in (0.24, 0.76):
        for back in (0.75, 0.25):
            c.limb([at(along, back, -0.01), at(along, back, 0.33)], [0.045 * w, 0.04 * w], mix(wood, (60, 44, 30),
                    0.15), hatch=85)
        c.limb([at(along, 0.1, 0.34), at(along, 0.9, 0.34)], [0.052 * w, 0.048 * w], mix(wood, (235, 215, 175), 0.12),
                hatch=40, gloss=0.1)


def boat(c: Canvas, x: float, y: float, w: float, *, tilt: float = 0.1, hull: Colour = (74, 70, 68),
        mast: bool = True) -> None:
    """A small fishing boat aground, seen from the side, her keel's middle at (x, y)."""
    s, k = math.sin(tilt), math.cos(tilt)

    def at(dx: float, up: float) -> Point:
        return (x + (dx * k + up * s) * w, y + (dx * s - up * k) * w)

    if mast:
        c.limb([at(0.08, 0.15), at(0.05, 1.0)], [0.028 * w, 0.016 * w], (110, 88, 64), hatch=85)
        c.limb([at(0.05, 0.34), at(-0.4, 0.5)], [0.05 * w, 0.03 * w], (98, 84, 72), hatch=20)
        for end in ((0.5, 0.3), (-0.46, 0.24)):
            c.line([at(0.05, 0.96), at(*end)], (60, 52, 46), 0.004 * w)
    c.darken([at(-0.5, 0.0), at(0.55, 0.0), at(0.6, -0.06), at(-0.5, -0.06)], 0.5, 0.02 * w)
    c.solid([at(-0.48, 0.25), at(-0.44, 0.08), at(-0.3, 0.0), at(0.25, 0.0), at(0.44, 0.1), at(0.54, 0.32), at(0.3,
            0.235), at(0.0, 0.2),
             at(-0.25, 0.21)], hull, hatch=8)
    c.line([at(-0.48, 0.25), at(-0.25, 0.21), at(0.0, 0.2), at(0.3, 0.235), at(0.54, 0.32)], mix(hull, (240, 230, 210),
            0.6), 0.02 * w)
    for level in (0.06, 0.12):
        c.line([at(-0.44, level + 0.04), at(0.0, level), at(0.46, level + 0.06)], mix(hull, (12, 12, 12), 0.5),
                0.006 * w)
