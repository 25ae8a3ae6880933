"""The pictures of the open sands: gatherers, brobs, ford, stage and village."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import numpy as np
from drawing import manners
from drawing.canvas import Array, Canvas, Colour, mix, noise
from drawing.land import brob, church, cottage, hills, sands, sky
from drawing.men import pilot_walking
from drawing.people import Dress, raking, shawled, walking
from drawing.things import basket, boat, cart, horse, jumbo, riddle

STRING = (  # x in widths, ground y, height, carry, stride, shawl, kerchief, skirt
    (0.125, 0.705, 0.315, "arms", 1.15, (96, 92, 98), (104, 92, 96), (72, 74, 92)),
    (0.245, 0.70, 0.37, "lantern", 1.0, (86, 78, 76), (92, 70, 66), (60, 66, 88)),
    (0.43, 0.695, 0.35, "", 0.9, (104, 98, 96), (120, 112, 104), (66, 60, 74)),
    (0.615, 0.70, 0.355, "", 1.05, (80, 80, 92), (96, 80, 84), (58, 68, 90)),
    (0.80, 0.695, 0.36, "", 1.1, (98, 88, 80), (136, 58, 50), (64, 68, 86)),
)


def dawn_gatherers() -> Array:
    """Five women walk out over wet sand before sunrise; one light."""
    c = Canvas(1700, 1100, light=(-0.9, -0.25, 0.25), shadow=0.3)
    horizon = 0.385
    sky(c, horizon, ((0, (104, 124, 152)), (0.2, (142, 156, 178)), (0.385, (194, 194, 198))), 11, cloud=13, tint=(1, 1,
            0.95),
        band=(0.15, (246, 232, 204), 0.85))
    hills(c, horizon, 0.03, (92, 104, 124), 4, start=0.5, strength=0.9)
    sands(c, horizon, ((horizon, (178, 178, 180)), (0.7, (128, 136, 150)), (1, (88, 96, 116))), 21, wet=0.7, ribs=6)
    people = c.layer()
    flame = None
    for x, y, h, carry, stride, shawl, kerchief, skirt in STRING:
        dress = Dress(kerchief=kerchief, shawl=shawl, skirt=skirt, bedgown=(92, 88, 100), lining=(112, 110, 116),
                skin=(150, 122, 112),
                      basket=(112, 94, 74)).dim((48, 52, 72), 0.42)
        flame = walking(people, x * c.right, y, h, dress, carry=carry, stride=stride, blow=0.03) or flame
    if flame is None:
        raise RuntimeError("nobody carries the lantern")
    fx, fy = flame
    for radius, strength in ((0.3, 0.42), (0.1, 0.55)):
        people.glow(fx, fy, radius, (255, 170, 70), strength)
    c.mirror(people, 0.705, strength=0.8, fade=0.42, ripple=0.006, tint=(70, 76, 92), seed=5)
    for x, y, h, *_ in STRING:
        c.darken([(x * c.right - 0.16 * h, y - 0.008), (x * c.right + 0.2 * h, y - 0.01), (x * c.right + 0.22 * h,
                y + 0.012), (x * c.right - 0.2 * h, y + 0.012)],
                 0.35, 0.008)
    c.place(people)
    c.glow(fx, fy, 0.2, (255, 176, 84), 0.5)
    c.glow(fx, fy, 0.035, (255, 240, 190), 0.9)
    c.glow(fx, 1.41 - fy + 0.02, 0.16, (255, 170, 80), 0.5, flat=1.5)
    c.glow(fx, 1.41 - fy, 0.04, (255, 226, 160), 0.6, flat=1.8)
    return manners.watercolour(c, 31, pen=0.16)


def gatherers_engraving() -> Array:
    """Women rake cockles at low water; a jumbo board, a riddle and baskets in front."""
    c = Canvas(1600, 1100, light=(-0.6, -0.6, 0.5), shadow=0.2)
    horizon = 0.33
    sky(c, horizon, ((0, (196, 196, 196)), (0.2, (232, 232, 232)), (0.33, (250, 250, 250))), 6, cloud=24)
    hills(c, horizon, 0.045, (150, 150, 150), 9, start=-0.1, end=0.9)
    hills(c, horizon, 0.02, (180, 180, 180), 5, start=0.7)
    sands(c, horizon, ((horizon, (236, 236, 236)), (0.6, (206, 206, 206)), (1, (150, 150, 150))), 16, wet=0.28, ribs=16)
    far = ((0.30, 0.43, 0.14, 1), (0.36, 0.425, 0.13, -1), (0.88, 0.44, 0.15, -1), (0.95, 0.43, 0.13, 1))
    for n, (x, y, h, face) in enumerate(far):
        dress = Dress().dim((160, 160, 160), 0.45)
        if n % 2:
            walking(c, x * c.right, y, h, dress, face=face)
        else:
            raking(c, x * c.right, y, h, dress, face=face)
        c.darken([(x * c.right - 0.05, y), (x * c.right + 0.05, y), (x * c.right + 0.06, y + 0.008),
                (x * c.right - 0.04, y + 0.01)], 0.5, 0.004)
    near: tuple[tuple[str, float, float, float, int, Colour, Colour], ...] = (
        ("rake", 0.545, 0.66, 0.42, 1, (90, 84, 80), (60, 64, 74)),
        ("walk", 0.79, 0.63, 0.40, -1, (150, 140, 128), (80, 84, 96)),
        ("rake", 0.20, 0.80, 0.56, 1, (120, 110, 98), (64, 66, 78)),
    )
    for kind, x, y, h, face, shawl, skirt in near:
        px = x * c.right
        c.darken([(px - 0.28 * h, y + 0.0), (px + 0.42 * h, y - 0.01), (px + 0.46 * h, y + 0.03), (px - 0.1 * h,
                y + 0.04)], 0.55, 0.01)
        dress = Dress(shawl=shawl, skirt=skirt, kerchief=(86, 60, 56), bedgown=(150, 142, 140), lining=(196, 188, 174),
                skin=(214, 180, 152))
        if kind == "rake":
            raking(c, px, y, h, dress, face=face)
        else:
            walking(c, px, y, h, dress, face=face, blow=0.03)
    jumbo(c, 0.625 * c.right, 0.92, 0.365)
    for x, y, w, full in ((0.545, 0.83, 0.17, True), (0.44, 0.86, 0.15, False)):
        c.darken([(x * c.right - 0.4 * w, y + 0.5 * w), (x * c.right + 0.7 * w, y + 0.4 * w), (x * c.right + 0.8 * w,
                y + 0.56 * w),
                  (x * c.right - 0.2 * w, y + 0.62 * w)], 0.6, 0.008)
        basket(c, x * c.right, y, w, full=full)
    riddle(c, 0.345 * c.right, 0.875, 0.19, flat=0.32)
    random = np.random.default_rng(3)
    for _ in range(70):
        x, y = random.uniform(0.05, 1.4), random.uniform(0.66, 0.93)
        c.oval(x, y, 0.006 * y, 0.0042 * y, (230, 226, 216), outline=0.8)
    return manners.engraving(c, 17)


def engraving_crop(whole: Array) -> Array:
    """Part of the same block, reprinted on whiter paper with a worn impression."""
    part = whole[300:1000, 130:1100]
    tone = manners.grey(part)
    worn = np.clip(tone * 1.04 + 0.035 * noise(tone.shape, 5, (3, 50)), 0, 1)
    margin = 46
    paper = manners.sheet((part.shape[0] + 2 * margin, part.shape[1] + 2 * margin), 44, (242, 237, 224), 4)
    area = np.zeros(paper.shape[:2], np.float32)
    area[margin:-margin, margin:-margin] = np.clip(1.02 - worn * 1.12, 0, 1)
    return manners.blend(paper, (40, 38, 40), area * 0.9)


def brobs() -> Array:
    """Laurel branches mark the way to the far shore."""
    c = Canvas(2000, 800, light=(-0.5, -0.6, 0.5), shadow=0.4)
    horizon = 0.4
    sky(c, horizon, ((0, (148, 170, 192)), (0.22, (196, 206, 210)), (0.4, (238, 230, 212))), 5, cloud=14, band=(1.5,
            (250, 238, 214), 0.8))
    hills(c, horizon, 0.1, (150, 160, 178), 12, start=0.4, end=2.3, strength=0.85)
    hills(c, horizon, 0.05, (116, 128, 136), 3, start=1.15, end=2.75, strength=0.95)
    church(c, 1.94, horizon + 0.002, 0.085, (136, 136, 136))
    for k in range(5):
        cottage(c, 1.70 + 0.045 * k, horizon + 0.004, 0.035, (206, 198, 186), (120, 112, 112), seed=k)
    sands(c, horizon, ((horizon, (214, 200, 170)), (0.6, (196, 178, 144)), (1, (158, 138, 108))), 8, wet=0.5, ribs=9,
            dull=0.95)
    rows = [(0.30 + 1.62 * (1 - 0.9 ** (k * 1.9)), k) for k in range(16)]
    marks = c.layer()
    last = None
    for x, k in reversed(rows):
        depth = (1.94 - x) / (1.94 - 0.30)
        y = horizon + 0.012 + 0.50 * depth**1.35
        brob(marks, x, y, 0.028 + 0.43 * depth**1.25, seed=k, lean=0.05 + 0.05 * ((k * 7) % 3 - 1), leaf=mix((66, 82,
                58), (140, 148, 150), 0.6 * (1 - depth)))
        c.darken([(x - 0.02 * depth, y), (x + 0.16 * depth, y + 0.004), (x + 0.16 * depth, y + 0.012), (x,
                y + 0.012 * depth)], 0.3, 0.004)
        last = y
    c.place(marks)
    if last is not None:
        track = [(0.0, 0.97), (0.5, 0.80), (1.0, 0.60), (1.5, 0.475), (1.86, 0.412), (1.89, 0.412), (1.56, 0.48),
                (1.12, 0.615), (0.72, 0.82), (0.4, 1.0), (0.0, 1.0)]
        c.darken(track, 0.12, 0.006)
    walkers = Dress().dim((120, 124, 130), 0.5)
    for x, h in ((1.32, 0.05), (1.36, 0.047)):
        walking(c, x, 0.535 - (x - 1.32) * 0.1, h, walkers)
    return manners.watercolour(c, 52, pen=0.2)


def cart_at_the_ford() -> Array:
    """A loaded cart and horse in the ford, the pilot ahead with his staff."""
    c = Canvas(1600, 1100, light=(-0.55, -0.7, 0.45), shadow=0.3)
    horizon = 0.36
    sky(c, horizon, ((0, (116, 124, 132)), (0.2, (164, 166, 166)), (0.36, (214, 206, 190))), 15, cloud=22, tint=(1,
            0.98, 0.94))
    hills(c, horizon, 0.06, (112, 120, 130), 2, start=0.2, strength=0.9)
    sands(c, horizon, ((horizon, (188, 172, 142)), (0.55, (150, 132, 104)), (1, (96, 92, 88))), 4, wet=0.55, ribs=9,
            dull=0.82)
    x, y = c.grid()
    bank = 0.545 + 0.018 * np.sin(x * 3.1 + 0.8) + 0.006 * np.sin(x * 11)
    water = np.clip((y - bank) / 0.004, 0, 1)
    depth = np.clip((y - bank) / 0.45, 0, 1)[..., None]
    tone = np.array([168, 170, 166], np.float32) * (1 - depth) + np.array([88, 98, 104], np.float32) * depth
    swell = noise(c.cover.shape, 33, (36, 14), 8.0)[..., None]
    c.paint(np.clip(tone + 9 * swell, 0, 255), water * 0.88)
    load = c.layer()
    ground = 0.80
    cart(load, 0.40, ground, 0.42)
    horse(load, 0.40 + 0.375, ground, 0.42)
    pilot_walking(load, 1.235, 0.785, 0.43)
    c.mirror(load, ground - 0.055, strength=0.62, fade=0.22, ripple=0.008, tint=(96, 104, 108), seed=9)
    wet_line = ground - 0.055
    c.place(load)
    surface = np.clip((y - wet_line - 0.004 * np.sin(x * 60)) / 0.004, 0, 1) * (load.cover > 0.01)
    c.paint(np.clip(tone * 0.82 + 10 * swell, 0, 255), surface * 0.86)
    c.mirror(load, wet_line, strength=0.5, fade=0.2, ripple=0.008, tint=(96, 104, 108), seed=9)
    for px, w in ((0.36, 0.19), (0.64, 0.05), (0.69, 0.05), (0.86, 0.05), (0.87, 0.06), (1.235, 0.08)):
        for k in range(3):
            c.line([(px - w * (1 - 0.2 * k), wet_line + 0.012 * k), (px, wet_line + 0.008 + 0.012 * k),
                    (px + w * (1 - 0.2 * k), wet_line + 0.012 * k)],
                   (222, 220, 210), 0.005, strength=0.75 - 0.2 * k, taper=True)
    return manners.oil(c, 61)


def ferry_stage() -> Array:
    """Night on a wooden stage: a lamp on its post and three women waiting in the rain."""
    c = Canvas(1700, 1100, light=(0.5, -0.5, 0.35), shadow=0.06)
    horizon = 0.46
    sky(c, horizon, ((0, (26, 26, 26)), (0.46, (58, 58, 58))), 19, cloud=10)
    hills(c, horizon, 0.03, (20, 20, 20), 7)
    x, y = c.grid()
    lamp_x = 0.60 * c.right
    ripple = noise(c.cover.shape, 12, (26, 12), 9.0)
    path = np.exp(-(((x - lamp_x) / (0.05 + 0.1 * (y - horizon))) ** 2))
    level = 34 + 9 * ripple + 150 * path * np.clip(0.35 + 0.65 * ripple, 0, 1)
    c.paint(np.repeat(np.clip(level, 0, 255)[..., None], 3, -1).astype(np.float32),
            np.broadcast_to((y > horizon) * 1.0, c.cover.shape))
    c.phase[int(horizon * c.unit) :] = (c.phase + 3 * ripple)[int(horizon * c.unit) :]
    edge, front = 0.70, 1.02
    for px in (0.16, 0.5, 0.93, 1.3):
        c.limb([(px, 0.70), (px, 0.86)], [0.028, 0.03], (70, 66, 62), hatch=2)
    planks = 15
    for k in range(planks):
        a, b = edge + (front - edge) * (k / planks) ** 1.5, edge + (front - edge) * ((k + 1) / planks) ** 1.5
        tone = 118 + 22 * ((k * 37) % 5 - 2) / 2
        c.solid([(-0.1, a + 0.004), (1.7, a - 0.004), (1.7, b - 0.006), (-0.1, b)], (tone, tone, tone), curve=False,
                bulge=0.25, hatch=1)
    fall = np.clip(1.5 / (1 + ((x - lamp_x) / 0.34) ** 2 + ((y - 0.74) / 0.2) ** 2), 0.16, 1.5)
    c.rgb *= np.where(y > edge - 0.002, fall, 1.0)[..., None]
    wet = np.exp(-(((x - lamp_x) / 0.035) ** 2)) * np.clip(0.5 + 0.6 * noise(c.cover.shape, 22, (30, 10), 3.0), 0,
            1.3) * np.clip((y - edge) / 0.03, 0, 1)
    c.rgb += (150 * wet)[..., None]
    for k in range(1, planks):  # the joints, and the wet edge beside each
        level = edge + (front - edge) * (k / planks) ** 1.5
        c.line([(-0.1, level + 0.003), (1.7, level - 0.005)], (0, 0, 0), 0.0045, curve=False)
        for n in range(40):
            left = -0.05 + 0.042 * n
            bright = 1 / (1 + ((left - lamp_x) / 0.36) ** 2)
            tone = 30 + 130 * bright
            c.line([(left, level + 0.004 - 0.003 * left), (left + 0.043, level + 0.004 - 0.003 * left)], (tone, tone,
                    tone), 0.0022)
    for k in range(9):  # the rail along the head of the stage, broken where the steps go down
        px = 0.09 + 0.165 * k
        if 0.84 < px < 1.08:
            continue
        tone = 80 + 150 / (1 + ((px - lamp_x) / 0.3) ** 2)
        c.limb([(px, 0.715), (px, 0.575)], [0.02, 0.018], (tone, tone, tone), hatch=3)
        for level in (0.592, 0.648):
            far_end = px + 0.165 if not 0.68 < px < 0.84 else px + 0.02
            if far_end < 1.5:
                c.limb([(px, level), (far_end, level)], [0.013, 0.013], (tone * 0.9, tone * 0.9, tone * 0.9), hatch=2)
    c.limb([(lamp_x, 0.76), (lamp_x, 0.10)], [0.034, 0.026], (96, 92, 88), hatch=2)
    c.line([(lamp_x, 0.13), (lamp_x - 0.02, 0.10), (lamp_x + 0.06, 0.085), (lamp_x + 0.085, 0.125)], (86, 84, 82),
            0.012)
    lx = lamp_x + 0.085
    radius = np.hypot(x - lx, y - 0.21)
    halo = np.clip(1 / (1 + (radius / 0.105) ** 2), 0, 1)
    c.rgb += (255 - c.rgb) * (0.62 * halo * (y < edge))[..., None]
    near = radius < 0.34
    c.phase[near] = (radius * c.height * 1.0)[near]
    c.solid([(lx - 0.048, 0.165), (lx, 0.118), (lx + 0.048, 0.165)], (60, 58, 56), curve=False)
    c.flat([(lx - 0.04, 0.165), (lx + 0.04, 0.165), (lx + 0.03, 0.255), (lx - 0.03, 0.255)], (255, 255, 255))
    for f in (-1.0, 0.0, 1.0):
        c.line([(lx + 0.04 * f, 0.165), (lx + 0.03 * f, 0.255)], (40, 38, 36), 0.005)
    c.solid([(lx - 0.034, 0.255), (lx + 0.034, 0.255), (lx + 0.02, 0.275), (lx - 0.02, 0.275)], (60, 58, 56),
            curve=False)
    for px, py, h, face, side, dark in ((0.60, 0.80, 0.42, 1, 0.5, 0.0), (0.735, 0.815, 0.45, 1, 0.0, 0.25), (1.13,
            0.80, 0.43, -1, 0.6, 0.1)):
        c.light = (0.82 if px < lx else -0.82, -0.35, 0.45)
        dress = Dress(shawl=(150, 144, 138), skirt=(96, 94, 96), skin=(220, 200, 180)).dim((14, 14, 16), 0.25 + dark)
        c.darken([(px - 0.06, py - 0.005), (px + 0.07, py - 0.005), (px + (px - lx) * 0.5 + 0.05, py + 0.09),
                (px + (px - lx) * 0.5 - 0.07, py + 0.09)], 0.75, 0.008)
        shawled(c, px, py, h, dress, face=face, side=side)
    basket(c, 0.49, 0.80, 0.12, (120, 112, 104))
    random = np.random.default_rng(8)
    for _ in range(230):
        px, py, size = random.uniform(0, 1.55), random.uniform(0, 1), random.uniform(0.02, 0.05)
        c.line([(px, py), (px - 0.16 * size, py + size)], (235, 235, 235), 0.0016, strength=0.5)
    return manners.engraving(c, 23, spacing=4.8, lines=0.5)


def village() -> Array:
    """The village at low water: boats aground, cottages, the church, a white sky."""
    c = Canvas(1800, 1000, light=(0.5, -0.65, 0.5), shadow=0.35)
    horizon = 0.5
    sky(c, horizon, ((0, (236, 242, 255)), (0.5, (244, 246, 252))), 3, cloud=2)
    hills(c, horizon, 0.13, (150, 160, 164), 20, start=-0.2, end=1.3, strength=0.7)
    hills(c, horizon + 0.01, 0.07, (110, 118, 104), 6, start=0.5, end=2.1)
    church(c, 1.12, 0.485, 0.26, (146, 140, 132))
    for k in range(9):  # the row behind, up the hill
        px = 0.16 + 0.105 * k + 0.02 * ((k * 5) % 3)
        if abs(px - 1.06) > 0.09:
            cottage(c, px, 0.462 - 0.012 * ((k * 7) % 3), 0.085, (182, 178, 172), (128, 122, 120), seed=40 + k)
    random = np.random.default_rng(2)
    for n in range(90):  # trees about the church
        px = random.uniform(0.98, 1.06) if n % 2 else random.uniform(1.36, 1.5)
        c.oval(px, random.uniform(0.41, 0.49), 0.018, 0.013, mix((92, 104, 78), (58, 68, 52), random.random()),
                outline=0.3)
    walls: tuple[Colour, ...] = ((214, 212, 208), (176, 168, 158), (226, 224, 220), (160, 152, 146), (208, 204, 198))
    row = ((0.1, 0.505, 0.17), (0.29, 0.5, 0.15), (0.45, 0.5, 0.19), (0.66, 0.5, 0.16), (0.84, 0.505, 0.18), (1.4,
            0.51, 0.16),
           (1.58, 0.515, 0.19))
    for k, (left, foot, w) in enumerate(row):
        cottage(c, left, foot, w, walls[k % 5], (104, 100, 104) if k % 2 else (128, 112, 100), seed=k)
    sands(c, 0.5, ((0.5, (148, 140, 126)), (0.7, (120, 112, 98)), (1, (78, 70, 60))), 14, wet=0.25, ribs=13, dull=0.9)
    wall = [(-0.1, 0.5), (1.9, 0.512), (1.9, 0.55), (1.2, 0.545), (0.5, 0.54), (-0.1, 0.545)]
    c.solid(wall, (112, 106, 98), curve=False, bulge=0.2)
    for k in range(60):
        px = -0.02 + 0.032 * k
        c.line([(px, 0.508), (px + 0.002, 0.542)], (70, 66, 60), 0.002, strength=0.7)
    x, y = c.grid()
    creek = np.abs(x - (0.95 + 0.9 * (y - 0.55) + 0.16 * np.sin((y - 0.5) * 13))) - 0.02 - 0.5 * np.clip(y - 0.55, 0,
            1) ** 1.2
    mask = np.clip(-creek / 0.012, 0, 1) * (y > 0.56)
    c.paint(np.broadcast_to(np.array([206, 212, 220], np.float32), c.rgb.shape) * (0.9 + 0.05 * noise(c.cover.shape, 2,
            (20,), 8.0)[..., None]), mask * 0.85)
    boat(c, 0.50, 0.70, 0.36, tilt=0.13, hull=(66, 62, 60))
    boat(c, 0.80, 0.615, 0.2, tilt=-0.1, hull=(96, 92, 92))
    boat(c, 1.46, 0.80, 0.5, tilt=-0.12, hull=(58, 60, 70))
    boat(c, 1.30, 0.60, 0.16, tilt=0.06, hull=(120, 110, 100), mast=True)
    for k in range(11):  # mooring posts along the creek
        px, py = 0.90 + 0.045 * k * (1 - 0.03 * k), 0.565 + 0.004 * k * k * 0.55
        c.limb([(px, py), (px + 0.002, py - 0.03 - 0.003 * k)], [0.005 + 0.0006 * k, 0.004 + 0.0005 * k], (72, 64, 58),
                hatch=88)
    for _ in range(120):  # weed, stones and worm casts on the mud
        px, py = random.uniform(0.03, 1.77), random.uniform(0.58, 0.96)
        c.oval(px, py, 0.004 + 0.010 * (py - 0.55), 0.002 + 0.003 * (py - 0.55), mix((64, 58, 50), (128, 118, 104),
                random.random()), outline=0.4)
    for px, w in ((0.15, 1.0), (0.33, 0.8), (0.74, 1.1)):  # smoke
        for n in range(8):
            c.oval(px + 0.012 * n * w, 0.335 - 0.020 * n, 0.006 + 0.004 * n, 0.005 + 0.003 * n, (212, 214, 220),
                    form=False, soft=0.006, strength=0.35 - 0.035 * n)
    c.line([(1.2, 0.78), (1.08, 0.84), (0.95, 0.86)], (60, 54, 48), 0.004)
    for px, py, h in ((0.28, 0.66, 0.11), (0.325, 0.665, 0.115)):
        shawled(c, px, py, h, Dress(shawl=(90, 84, 84), skirt=(70, 70, 84)), side=0.0)
    tone = manners.collodion(c, 71, gain=1.08, vignette=0.14)
    return manners.mounted(manners.albumen(tone), 72, oval=False)
