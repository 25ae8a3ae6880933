"""The chart of the crossing and the fashion plate."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import math

import numpy as np
from drawing import manners
from drawing.canvas import SCALE, Array, Canvas, Colour, Point, blur, down, mix, noise, smooth
from drawing.people import At, frame
from scipy.ndimage import distance_transform_edt  # type: ignore[import-untyped]

NORTH: tuple[Point, ...] = ((-0.1, -0.1), (-0.1, 0.30), (0.10, 0.27), (0.22, 0.20), (0.34, 0.235), (0.43, 0.17), (0.55,
        0.19), (0.66, 0.12), (0.80, 0.155),
                            (0.88, 0.235), (0.99, 0.22), (1.12, 0.30), (1.25, 0.26), (1.45, 0.33), (1.45, -0.1))
SOUTH: tuple[Point, ...] = ((-0.1, 1.1), (-0.1, 0.79), (0.06, 0.81), (0.17, 0.75), (0.29, 0.80), (0.37, 0.87), (0.52,
        0.84), (0.63, 0.90), (0.78, 0.86),
                            (0.90, 0.80), (1.0, 0.835), (1.12, 0.79), (1.2, 0.83), (1.45, 0.76), (1.45, 1.1))
BANKS: tuple[tuple[Point, ...], ...] = (
    ((0.20, 0.42), (0.36, 0.37), (0.52, 0.40), (0.60, 0.47), (0.50, 0.53), (0.34, 0.51), (0.22, 0.49)),
    ((0.62, 0.60), (0.76, 0.55), (0.90, 0.58), (1.02, 0.64), (0.92, 0.70), (0.74, 0.70)),
    ((0.88, 0.40), (1.02, 0.36), (1.16, 0.41), (1.22, 0.48), (1.08, 0.51), (0.94, 0.47)),
    ((0.16, 0.62), (0.30, 0.60), (0.42, 0.66), (0.36, 0.71), (0.22, 0.70)),
)
ROUTE: tuple[Point, ...] = ((0.335, 0.80), (0.40, 0.74), (0.47, 0.66), (0.545, 0.585), (0.62, 0.51), (0.72, 0.45),
        (0.80, 0.38), (0.865, 0.30), (0.90, 0.235))


def _mask(c: Canvas, path: tuple[Point, ...], rough: Array) -> Array:
    layer = c.layer()
    layer.flat(path, (0, 0, 0), curve=True)
    return (blur(layer.cover, 9) + rough > 0.5).astype(np.float32)


def chart() -> Array:
    """An engraved chart of the estuary and the way over it, without lettering."""
    c = Canvas(1600, 1200, (255, 255, 255))
    rows, columns = c.cover.shape
    rough = 0.10 * noise((rows, columns), 4, (60, 26))
    land = np.maximum(_mask(c, NORTH, rough), _mask(c, SOUTH, rough))
    ink = np.zeros((rows, columns), np.float32)
    far = distance_transform_edt(land < 0.5).astype(np.float32) / SCALE
    for d, weight in ((0.8, 1.6), (4.0, 1.0), (7.6, 0.9), (11.8, 0.8), (16.6, 0.7), (22.2, 0.6), (28.8, 0.55), (36.8,
            0.5), (46.5, 0.45)):
        ink = np.maximum(ink, np.clip(1.15 * weight + 0.2 - np.abs(far - d), 0, 1) * min(weight + 0.2,
                1) * (land < 0.5))
    inland = distance_transform_edt(land > 0.5).astype(np.float32) / SCALE
    y, x = manners.fields((rows, columns))
    y, x = y / SCALE, x / SCALE
    shade = np.clip(1 - inland / 16, 0, 1) * (land > 0.5)
    ink = np.maximum(ink, np.clip((shade - np.abs(((x * 0.5 - y * 0.86) / 4.2) % 1 - 0.5) * 2) * 3, 0, 1) * 0.8)
    relief = noise((rows, columns), 23, (210,)) * np.clip((inland - 26) / 50, 0, 1)
    gy, gx = np.gradient(blur(relief, 10))
    size = np.hypot(gx, gy)
    steep = np.clip(size / np.percentile(size[land > 0.5], 97) * 0.75 - 0.22, 0, 0.62)
    run = np.arctan2(gy, gx) * 30 + 0.6 * np.floor(relief * 4)
    hachure = np.clip((steep - np.abs((run / 2.2) % 1 - 0.5) * 2) * 3, 0, 1)
    ink = np.maximum(ink, hachure * (land > 0.5) * 0.85)
    random = np.random.default_rng(5)
    dots = np.zeros((rows, columns), np.float32)
    sea = land < 0.5
    for bank in BANKS:
        area = _mask(c, bank, rough * 0.7) * sea
        inside = distance_transform_edt(area > 0.5).astype(np.float32) / SCALE
        places = np.argwhere(area > 0.5)
        chance = np.clip(np.exp(-inside[places[:, 0], places[:, 1]] / 11) * 0.05 + 0.0016, 0, 1)
        for py, px in places[random.random(len(places)) < chance * 0.32]:
            dots[max(py - 1, 0) : py + 2, max(px - 1, 0) : px + 2] = 1
        edge = np.clip(1.3 - np.abs(inside - 1.2), 0, 1) * ((x * 0.7 + y * 0.7) % 7 < 3.4) * (area > 0)
        ink = np.maximum(ink, edge)
    ink = np.maximum(ink, dots * 0.9)
    c.paint(np.repeat(255 * (1 - ink[..., None]), 3, -1).astype(np.float32))
    black: Colour = (0, 0, 0)
    unit = c.unit
    banks = np.zeros((rows, columns), bool)
    for bank in BANKS:
        banks |= _mask(c, bank, rough * 0.7) > 0.5
    for _ in range(260):  # soundings: short strokes, one for each fathom
        sx, sy = random.uniform(0.07, c.right - 0.07), random.uniform(0.2, 0.85)
        at = (int(sy * unit), int(sx * unit))
        if far[at] < 24 or banks[at]:
            continue
        count = 1 + int(min(far[at] / 34, 4))
        for k in range(count):
            px = sx + 0.0052 * (k - count / 2)
            c.line([(px, sy - 0.0058), (px, sy + 0.0058)], black, 0.0013)
    _channel(c, black)
    route = smooth(ROUTE, closed=False, steps=24)
    c.line(route, (255, 255, 255), 0.016, curve=False)
    line = np.asarray(route)
    length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    for n in range(int(length[-1] / 0.0145)):
        s = n * 0.0145
        a = [(float(np.interp(t, length, line[:, 0])), float(np.interp(t, length, line[:, 1]))) for t in (s,
                min(s + 0.0088, length[-1]))]
        for side in (-0.0032, 0.0032):
            c.line([(px + side, py + side * 0.6) for px, py in a], black, 0.0018, curve=False)
        if n % 5 == 2:
            px, py = a[0]
            c.line([(px + 0.014, py + 0.006), (px + 0.014, py - 0.018)], black, 0.0018)
            for k in range(3):
                c.line([(px + 0.014, py - 0.004 - 0.005 * k), (px + 0.0195, py - 0.010 - 0.005 * k)], black, 0.0014)
                c.line([(px + 0.014, py - 0.004 - 0.005 * k), (px + 0.0085, py - 0.010 - 0.005 * k)], black, 0.0014)
    for hx, hy in ((0.318, 0.835), (0.345, 0.85), (0.30, 0.855), (0.37, 0.872), (0.90, 0.175), (0.935, 0.19), (0.885,
            0.15), (0.955, 0.165), (0.92, 0.14)):
        c.flat([(hx, hy), (hx + 0.013, hy - 0.003), (hx + 0.015, hy + 0.007), (hx + 0.002, hy + 0.010)], black)
    for tx, ty in ((0.275, 0.832), (0.965, 0.125)):
        c.flat([(tx - 0.007, ty), (tx - 0.007, ty - 0.024), (tx, ty - 0.038), (tx + 0.007, ty - 0.024), (tx + 0.007,
                ty)], black)
        c.flat([(tx + 0.007, ty), (tx + 0.007, ty - 0.013), (tx + 0.027, ty - 0.013), (tx + 0.027, ty)], black)
        c.line([(tx, ty - 0.055), (tx, ty - 0.036)], black, 0.0016)
        c.line([(tx - 0.005, ty - 0.049), (tx + 0.005, ty - 0.049)], black, 0.0016)
    for n in range(70):  # trees
        px, py = random.uniform(0.06, 1.27), random.choice([random.uniform(0.06, 0.2), random.uniform(0.86, 0.95)])
        at = (min(int(py * unit), rows - 1), min(int(px * unit), columns - 1))
        if inland[at] < 16 or steep[at] > 0.15 or n % 2:
            continue
        c.oval(px, py, 0.0056, 0.005, (255, 255, 255), form=False)
        ring = [(px + 0.0056 * math.cos(t),
                py + 0.005 * math.sin(t)) for t in (2 * math.pi * k / 12 for k in range(13))]
        c.line(ring, black, 0.0013, curve=False)
        c.line([(px - 0.001, py + 0.008), (px + 0.008, py + 0.008)], black, 0.0014)
    _rose(c, 0.135, 0.45, 0.085)
    _border(c)
    tone = down(c.rgb[..., 0]) / 255
    amount = np.clip(1 - tone, 0, 1) * np.clip(0.92 + 0.08 * noise(tone.shape, 3, (2, 60)), 0, 1)
    sheet = manners.sheet(tone.shape, 88, (238, 229, 206), 20)
    fy, fx = manners.fields(tone.shape)
    for fold in (0.335, 0.668):
        from_fold = fx / tone.shape[1] - fold
        crease = 0.07 * np.exp(-((from_fold / 0.0022) ** 2)) - 0.03 * np.exp(-(((from_fold - 0.005) / 0.003) ** 2))
        sheet *= (1 - crease)[..., None]
    sheet *= (1 - 0.06 * np.exp(-(((fy / tone.shape[0] - 0.5) / 0.003) ** 2)))[..., None]
    wash = np.zeros(tone.shape, np.float32)
    wash[:] = down(blur(np.clip(1 - inland / 9, 0, 1) * land, 4))
    sheet = sheet + (np.array([196, 150, 96], np.float32) - sheet) * (0.32 * wash)[..., None]
    return manners.blend(sheet, (44, 36, 32), amount * 0.92)


def _channel(c: Canvas, ink: Colour) -> None:
    """The low-water channel winding out between the banks."""
    for offset, path in enumerate((((0.02, 0.60), (0.2, 0.555), (0.42, 0.575), (0.56, 0.535), (0.70, 0.50), (0.86,
            0.53), (1.05, 0.555), (1.31, 0.55)),
                                   ((0.02, 0.58), (0.2, 0.538), (0.42, 0.555), (0.575, 0.51), (0.70, 0.475), (0.86,
            0.505), (1.05, 0.535), (1.31, 0.525)))):
        curve = smooth(path, closed=False, steps=16)
        for k in range(offset, len(curve) - 2, 3):
            c.line(curve[k : k + 3], ink, 0.0016, curve=False)


def _rose(c: Canvas, x: float, y: float, r: float) -> None:
    white: Colour = (255, 255, 255)
    black: Colour = (0, 0, 0)
    c.oval(x, y, r * 1.2, r * 1.2, white, form=False)
    for radius, width in ((1.02, 0.0022), (0.93, 0.0012), (0.5, 0.0012)):
        ring = [(x + r * radius * math.cos(t),
                y + r * radius * math.sin(t)) for t in (2 * math.pi * n / 90 for n in range(91))]
        c.line(ring, black, width, curve=False)
    for n in range(64):
        t = 2 * math.pi * n / 64
        long = 0.93 if n % 2 else 0.95
        c.line([(x + r * long * math.cos(t), y + r * long * math.sin(t)), (x + r * 1.02 * math.cos(t),
                y + r * 1.02 * math.sin(t))], black, 0.0012, curve=False)
    for count, turn, long, wide in ((8, math.pi / 8, 0.62, 0.11), (4, math.pi / 4, 0.80, 0.15), (4, 0.0, 1.2, 0.17)):
        for n in range(count):
            t = 2 * math.pi * n / count + turn - math.pi / 2
            tip = (x + r * long * math.cos(t), y + r * long * math.sin(t))
            for side in (-1, 1):
                s = t + side * math.pi / (4 if count == 4 else 8)
                corner = (x + r * wide * math.cos(s), y + r * wide * math.sin(s))
                c.flat([(x, y), corner, tip], black if side > 0 else white)
                c.line([corner, tip], black, 0.0012, curve=False)
                c.line([(x, y), tip], black, 0.0010, curve=False)
    top = y - 1.28 * r
    c.flat([(x, top - 0.03), (x - 0.012, top - 0.004), (x, top - 0.010), (x + 0.012, top - 0.004)], black)
    for n in range(32):
        t = 2 * math.pi * n / 32
        c.line([(x + r * 1.24 * math.cos(t), y + r * 1.24 * math.sin(t)), (x + 1.7 * math.cos(t),
                y + 1.7 * math.sin(t))], black, 0.0006, curve=False, strength=0.16)


def _border(c: Canvas) -> None:
    black: Colour = (0, 0, 0)
    right = c.right
    for inset, width in ((0.028, 0.0035), (0.036, 0.0012), (0.047, 0.0016)):
        box = [(inset, inset), (right - inset, inset), (right - inset, 1 - inset), (inset, 1 - inset), (inset, inset)]
        c.line(box, black, width, curve=False)
    for side in ((-1.0, -1.0, right + 1, 0.026), (-1.0, 1 - 0.026, right + 1, 2.0), (-1.0, -1.0, 0.026, 2.0),
            (right - 0.026, -1.0, right + 1, 2.0)):
        c.flat([(side[0], side[1]), (side[2], side[1]), (side[2], side[3]), (side[0], side[3])], (255, 255, 255))
    steps = 32
    for n in range(0, steps, 2):
        a, b = 0.0415 + (right - 0.083) * n / steps, 0.0415 + (right - 0.083) * (n + 1) / steps
        for y in (0.0415, 1 - 0.0415):
            c.line([(a, y), (b, y)], black, 0.008, curve=False)
    steps = 24
    for n in range(0, steps, 2):
        a, b = 0.0415 + 0.917 * n / steps, 0.0415 + 0.917 * (n + 1) / steps
        for x in (0.0415, right - 0.0415):
            c.line([(x, a), (x, b)], black, 0.008, curve=False)
    c.flat([(0.99, 0.885), (1.28, 0.885), (1.28, 0.945), (0.99, 0.945)], (255, 255, 255))
    for y in (0.905, 0.915):
        c.line([(1.01, y), (1.25, y)], black, 0.0014, curve=False)
    for n in range(7):
        px = 1.01 + 0.04 * n
        c.line([(px, 0.897), (px, 0.919)], black, 0.0016, curve=False)
        if n % 2 == 0 and n < 6:
            c.line([(px, 0.91), (px + 0.04, 0.91)], black, 0.01, curve=False)


def lady(c: Canvas, x: float, y: float, h: float, *, face: int, gown: Colour, over: Colour, trim: Colour,
        bonnet: Colour, hair: Colour, parasol: bool) -> None:
    """A lady of the plate: fitted bodice, looped overskirt over a bustle, flounces, small tilted bonnet."""
    at: At = frame(x, y, h, face)
    skin: Colour = (242, 212, 192)
    c.darken([at(-0.42, 0.0), at(0.3, 0.0), at(0.36, -0.025), at(-0.4, -0.03)], 0.4, 0.01)
    skirt = [at(0.07, 0.60), at(0.10, 0.5), at(0.155, 0.3), at(0.215, 0.08), at(0.235, 0.012), at(0.1, -0.008),
            at(-0.08, -0.012), at(-0.27, -0.006), at(-0.40, 0.012),
             at(-0.355, 0.12), at(-0.27, 0.3), at(-0.205, 0.45), at(-0.07, 0.60)]
    c.solid(skirt, gown, folds=6, fold=0.5, fan=0.03, hatch=86, seed=2)
    for level, deep in ((0.05, 0.055), (0.12, 0.04)):
        left, right_ = -0.375 + 0.55 * level, 0.222 - 0.3 * level
        top = [at(left + (right_ - left) * k / 24,
                level + deep * 0.5 - 0.012 * math.sin(math.pi * k / 24)) for k in range(25)]
        low = [at(left - 0.015 + (right_ - left + 0.03) * k / 24,
                level - deep * 0.5 - 0.02 * math.sin(math.pi * k / 24) - 0.006 * (k % 2)) for k in range(25)]
        c.solid([*top, *low[::-1]], mix(gown, (255, 255, 255), 0.18), folds=13, fold=0.9, hatch=86, curve=False)
        c.line(top, trim, 0.006 * h)
    c.solid([at(-0.05, 0.61), at(-0.15, 0.585), at(-0.25, 0.50), at(-0.3, 0.38), at(-0.26, 0.27), at(-0.17, 0.24),
            at(-0.09, 0.30), at(-0.03, 0.45)], over,
            folds=3, fold=0.55, fan=0.15, hatch=70, bulge=1.0, seed=3)
    c.solid([at(-0.06, 0.61), at(0.05, 0.61), at(0.11, 0.5), at(0.155, 0.36), at(0.10, 0.27), at(0.0, 0.235), at(-0.1,
            0.27), at(-0.12, 0.42)], over,
            folds=2.5, fold=0.5, fan=0.15, hatch=100, seed=5)
    rim = [at(0.155, 0.36), at(0.10, 0.27), at(0.0, 0.235), at(-0.1, 0.27)]
    c.line(rim, trim, 0.016 * h)
    for k in range(15):
        t = k / 14
        px, up = (1 - t) * 0.15 + t * -0.1, 0.27 - 0.03 * math.sin(math.pi * t) + 0.05 * abs(t - 0.5) ** 2
        c.line([at(px, up), at(px, up - 0.022)], trim, 0.004 * h)
    c.solid([at(-0.085, 0.6), at(-0.13, 0.585), at(-0.15, 0.52), at(-0.1, 0.50), at(-0.05, 0.54)], trim, folds=2,
            fold=1, hatch=30)
    c.solid([at(-0.15, 0.53), at(-0.19, 0.40), at(-0.15, 0.38), at(-0.11, 0.5)], trim, folds=1.5, fold=0.8, hatch=75)
    c.solid([at(0.05, 0.83), at(0.095, 0.765), at(0.085, 0.70), at(0.05, 0.62), at(0.055, 0.585), at(-0.05, 0.585),
            at(-0.05, 0.63), at(-0.075, 0.72), at(-0.075, 0.79),
             at(-0.04, 0.83)], gown, folds=2, fold=0.4, hatch=80)
    for k in range(6):
        c.oval(*at(0.066 - 0.004 * k + 0.02 * math.sin(k * 0.6), 0.80 - 0.036 * k), 0.006 * h, 0.006 * h, trim,
                gloss=0.4)
    c.limb([at(0.0, 0.865), at(0.008, 0.82)], [0.042 * h, 0.05 * h], skin)
    c.solid([at(-0.035, 0.845), at(0.035, 0.845), at(0.05, 0.822), at(-0.045, 0.822)], (250, 248, 242), folds=5,
            fold=1, hatch=85)
    if parasol:
        c.limb([at(0.02, 0.78), at(0.05, 0.64), at(0.17, 0.68)], [0.068 * h, 0.06 * h, 0.04 * h], gown, hatch=60,
                folds=1.5, fold=0.5)
        c.limb([at(0.185, 0.55), at(0.155, 1.16)], [0.009 * h, 0.009 * h], (120, 86, 56))
        c.solid([at(-0.06, 1.04), at(0.0, 1.12), at(0.15, 1.165), at(0.3, 1.13), at(0.37, 1.05), at(0.26, 1.065),
                at(0.155, 1.05), at(0.05, 1.06)], over, folds=4, fold=1,
                fan=0.1, hatch=75)
        for k in range(18):
            t = k / 17
            px, up = -0.06 + 0.43 * t, 1.043 + 0.018 * math.sin(math.pi * t) + 0.006 * t
            c.line([at(px, up), at(px, up - 0.022)], trim, 0.005 * h)
        c.oval(*at(0.172, 0.68), 0.018 * h, 0.02 * h, (226, 206, 170))
    else:
        c.limb([at(0.01, 0.78), at(0.03, 0.64), at(0.11, 0.565)], [0.068 * h, 0.06 * h, 0.042 * h], gown, hatch=60,
                folds=1.5, fold=0.5)
        c.solid([at(0.085, 0.585), at(0.13, 0.59), at(0.15, 0.55), at(0.12, 0.53), at(0.09, 0.545)], (170, 130, 92),
                hatch=30)
        c.oval(*at(0.115, 0.562), 0.018 * h, 0.016 * h, (226, 206, 170))
    c.solid([at(-0.035, 0.985), at(0.02, 0.995), at(0.052, 0.97), at(0.056, 0.945), at(0.066, 0.918), at(0.058, 0.912),
            at(0.06, 0.9), at(0.048, 0.876), at(0.015, 0.868),
             at(-0.015, 0.89), at(-0.045, 0.93)], skin, hatch=12, bulge=0.5)
    c.line([at(0.034, 0.947), at(0.05, 0.95)], (110, 82, 60), 0.004 * h, taper=True)
    c.oval(*at(0.042, 0.935), 0.006 * h, 0.0045 * h, (60, 50, 50), form=False)
    c.flat([at(0.05, 0.898), at(0.06, 0.899), at(0.058, 0.889), at(0.048, 0.891)], (206, 92, 88))
    c.oval(*at(0.03, 0.908), 0.012 * h, 0.009 * h, (236, 150, 138), form=False, soft=0.004 * h, strength=0.6)
    c.solid([at(0.045, 0.975), at(0.01, 1.005), at(-0.04, 0.995), at(-0.075, 0.95), at(-0.082, 0.885), at(-0.055,
            0.84), at(-0.03, 0.86), at(-0.018, 0.91), at(0.0, 0.95),
             at(0.025, 0.965)], hair, folds=4, fold=0.9, hatch=60)
    c.solid([at(-0.06, 0.86), at(-0.085, 0.80), at(-0.06, 0.745), at(-0.035, 0.79), at(-0.035, 0.85)], hair, folds=2,
            fold=0.9, hatch=80)
    c.solid([at(0.07, 0.985), at(0.05, 1.025), at(0.0, 1.04), at(-0.05, 1.02), at(-0.055, 0.99), at(0.0, 1.0)], bonnet,
            folds=3, fold=0.6, hatch=20)
    c.solid([at(-0.01, 1.035), at(-0.06, 1.06), at(-0.11, 1.03), at(-0.125, 0.97), at(-0.095, 0.965), at(-0.07, 1.01)],
            trim, folds=4, fold=1, hatch=70)
    for dx, up in ((0.03, 1.035), (0.01, 1.045), (0.045, 1.02)):
        c.oval(*at(dx, up), 0.014 * h, 0.013 * h, mix((206, 92, 96), (250, 220, 214), dx * 12 % 1))


def fashion_plate() -> Array:
    """Two ladies in promenade dress: engraved, then coloured by hand."""
    c = Canvas(1100, 1500, (255, 255, 255), light=(-0.5, -0.6, 0.65), shadow=0.42)
    x, y = c.grid()
    haze = np.exp(-(((x - 0.37) / 0.36) ** 2) - ((y - 0.5) / 0.33) ** 2)
    for k, (tx, ty, r) in enumerate(((0.10, 0.36, 0.12), (0.20, 0.42, 0.1), (0.64, 0.33, 0.13), (0.55, 0.42, 0.09),
            (0.36, 0.44, 0.07))):
        random = np.random.default_rng(k)
        c.limb([(tx, 0.66), (tx + 0.01, ty)], [0.016, 0.01], (204, 200, 192), hatch=85, outline=0.4)
        for _ in range(150):
            a, d = random.uniform(0, 2 * math.pi), r * math.sqrt(random.random())
            deep = 0.5 + 0.5 * math.sin(a) * d / r
            tone = mix((226, 232, 218), (150, 166, 146), min(max(deep + random.uniform(-0.2, 0.2), 0), 1))
            c.oval(tx + d * math.cos(a), ty + d * math.sin(a) * 0.85, 0.016, 0.0085, tone, turn=random.uniform(-50,
                    50), hatch=random.uniform(-40, 40), outline=0.3)
    path = np.clip((y - 0.655) / 0.02, 0, 1)
    c.paint(np.broadcast_to(np.array([232, 226, 212], np.float32), c.rgb.shape) * (1 + 0.02 * noise(c.cover.shape, 3,
            (40,), 6.0)[..., None]), path * haze**0.3)
    for k in range(15):
        px = 0.06 + 0.044 * k
        c.limb([(px, 0.655), (px, 0.575)], [0.012, 0.012], (220, 216, 208), hatch=85, outline=0.5)
    c.limb([(0.045, 0.572), (0.69, 0.572)], [0.016, 0.016], (224, 220, 212), hatch=2, outline=0.5)
    c.limb([(0.045, 0.655), (0.69, 0.655)], [0.018, 0.018], (214, 210, 202), hatch=2, outline=0.5)
    lady(c, 0.495, 0.845, 0.505, face=-1, gown=(150, 116, 152), over=(196, 172, 196), trim=(96, 62, 104), bonnet=(206,
            188, 150), hair=(150, 108, 66), parasol=False)
    lady(c, 0.265, 0.865, 0.535, face=1, gown=(92, 140, 138), over=(176, 204, 186), trim=(44, 84, 88), bonnet=(214,
            196, 166), hair=(92, 66, 50), parasol=True)
    colours = c.done()
    printed = manners.engraving(c, 77, spacing=3.7, margin=0.055, lines=0.8)
    ink = np.clip(manners.grey(printed) / 0.86, 0.12, 1)
    chroma = colours - colours.mean(axis=-1, keepdims=True)
    wash = np.clip(blur(255 - (255 - colours) * 0.72 + chroma * 0.45, (2.2, 2.2, 0)) / 255, 0, 1)
    inside = np.zeros(ink.shape, np.float32)
    inside[90:-90, 90:-90] = 1
    wash = 1 - (1 - wash) * blur(inside, 3)[..., None] * (1 + 0.06 * noise(ink.shape, 6, (30, 90)))[...,
            None]
    paper = manners.sheet((ink.shape[0], ink.shape[1]), 79, (244, 239, 226), 10)
    lighter = 1 - (1 - ink) * 0.84
    return paper * np.clip(wash, 0, 1) * lighter[..., None]
