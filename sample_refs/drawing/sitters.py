"""Sitters before the early camera, face on: the cockle woman, the pilot, the carrier. All invented."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import math
from dataclasses import dataclass

import numpy as np
from drawing import manners
from drawing.canvas import Array, Canvas, Colour, Point, blur, mix, noise
from drawing.people import At, frame, plaid, stripes
from drawing.things import basket
from scipy.ndimage import map_coordinates  # type: ignore[import-untyped]

SKIN: Colour = (214, 172, 146)


@dataclass(frozen=True, slots=True)
class Face:
    """What tells one face from another."""

    skin: Colour = SKIN
    hair: Colour = (92, 70, 54)
    beard: bool = False
    whiskers: bool = False
    width: float = 1.0
    age: float = 0.3


def face_on(c: Canvas, at: At, h: float, face: Face, *, dx: float = 0.0, up: float = 0.0) -> None:
    """A face seen from the front, its chin 0.865 and its crown 1.0 of the figure's height up."""

    def p(x: float, y: float) -> Point:
        return at(x * face.width + dx, y + up)

    skin, dark = face.skin, mix(face.skin, (58, 30, 24), 0.72)
    shade = mix(face.skin, (96, 54, 40), 0.5)
    c.limb([p(0.0, 0.80), p(0.0, 0.88)], [0.075 * h, 0.06 * h], mix(skin, (80, 46, 36), 0.3), hatch=5)
    c.flat([p(-0.034, 0.87), p(0.034, 0.87), p(0.03, 0.845), p(-0.03, 0.845)], shade, soft=0.006 * h, strength=0.6)
    c.solid([p(-0.052, 0.965), p(-0.05, 0.915), p(-0.04, 0.88), p(-0.018, 0.861), p(0.0, 0.858), p(0.018, 0.861),
            p(0.04, 0.88), p(0.05, 0.915),
             p(0.052, 0.965), p(0.03, 0.997), p(-0.03, 0.997)], skin, hatch=5, bulge=0.75)
    for side in (-1, 1):
        c.oval(*p(0.022 * side, 0.937), 0.0145 * h, 0.0085 * h, shade, form=False, soft=0.004 * h, strength=0.55)
        c.oval(*p(0.03 * side, 0.908), 0.012 * h, 0.01 * h, mix(skin, (196, 96, 76), 0.4), form=False, soft=0.006 * h,
                strength=0.35)
        c.line([p(0.009 * side, 0.9475), p(0.022 * side, 0.9515), p(0.035 * side, 0.946)], mix(face.hair, (20, 14, 12),
                0.3), 0.0042 * h, strength=0.75, taper=True)
        c.flat([p(0.0115 * side, 0.9345), p(0.0215 * side, 0.9395), p(0.0325 * side, 0.9345), p(0.0215 * side,
                0.9305)], (232, 222, 214), curve=True)
        c.oval(*p(0.0215 * side, 0.9352), 0.0045 * h, 0.0046 * h, (54, 46, 42), form=False)
        c.oval(*p(0.0225 * side, 0.9366), 0.0011 * h, 0.0011 * h, (246, 246, 246), form=False)
        c.line([p(0.010 * side, 0.9345), p(0.0215 * side, 0.9402), p(0.0335 * side, 0.9345)], dark, 0.0026 * h,
                taper=True)
        if face.age > 0.2:
            c.line([p(0.012 * side, 0.927), p(0.024 * side, 0.9245), p(0.033 * side, 0.928)], shade, 0.002 * h,
                    strength=face.age, taper=True)
            c.line([p(0.013 * side, 0.905), p(0.02 * side, 0.893), p(0.021 * side, 0.884)], shade, 0.0024 * h,
                    strength=face.age, taper=True)
    c.solid([p(-0.004, 0.94), p(0.004, 0.94), p(0.008, 0.915), p(0.011, 0.907), p(0.0, 0.901), p(-0.011, 0.907),
            p(-0.008, 0.915)], skin,
            outline=0, bulge=1.3, soft=0.0012 * h)
    c.flat([p(0.004, 0.94), p(0.0075, 0.915), p(0.0125, 0.905), p(0.018, 0.907), p(0.009, 0.935)], shade,
            soft=0.003 * h, strength=0.5)
    c.flat([p(-0.009, 0.903), p(0.0, 0.9005), p(0.01, 0.903), p(0.0, 0.8985)], dark, soft=0.0014 * h, strength=0.7)
    c.flat([p(-0.0165, 0.8855), p(-0.004, 0.8885), p(0.004, 0.8885), p(0.0165, 0.8855), p(0.006, 0.8795), p(-0.006,
            0.8795)], mix(skin, (150, 66, 58), 0.55),
           curve=True, soft=0.0012 * h)
    c.line([p(-0.0175, 0.8853), p(0.0, 0.8862), p(0.0175, 0.8853)], dark, 0.0024 * h, taper=True)
    c.flat([p(-0.012, 0.8765), p(0.012, 0.8765), p(0.008, 0.872), p(-0.008, 0.872)], shade, soft=0.003 * h,
            strength=0.5)
    c.flat([p(0.026, 0.97), p(0.05, 0.965), p(0.05, 0.91), p(0.036, 0.876), p(0.028, 0.9)], shade, soft=0.009 * h,
            strength=0.4)
    if face.beard:
        hair = (176, 168, 158)
        c.solid([p(-0.05, 0.925), p(-0.038, 0.90), p(-0.016, 0.8985), p(0.0, 0.893), p(0.016, 0.8985), p(0.038, 0.90),
                p(0.05, 0.925), p(0.049, 0.88),
                 p(0.034, 0.835), p(0.0, 0.815), p(-0.034, 0.835), p(-0.049, 0.88)], hair, folds=6, fold=0.7, hatch=85)
        c.line([p(-0.014, 0.885), p(0.0, 0.8835), p(0.014, 0.885)], dark, 0.003 * h, taper=True)
    if face.whiskers:
        for side in (-1, 1):
            c.solid([p(0.046 * side, 0.95), p(0.054 * side, 0.92), p(0.045 * side, 0.878), p(0.028 * side, 0.868),
                    p(0.036 * side, 0.9), p(0.042 * side, 0.94)],
                    face.hair, folds=3, fold=0.8, hatch=85)


def studio(width: int, height: int, *, floor: float = 0.86, wall: Colour = (176, 170, 164), curtain: int = 0,
        seed: int = 1) -> Canvas:
    """A plain studio: a painted backcloth, lighter behind the sitter, a carpet, perhaps a curtain on one side."""
    c = Canvas(width, height, wall, light=(-0.62, -0.5, 0.62), shadow=0.36)
    x, y = c.grid()
    pool = np.exp(-(((x - c.right * 0.44) / 0.36) ** 2) - ((y - 0.42) / 0.5) ** 2)
    cloud = noise(c.cover.shape, seed, (520, 200))
    c.rgb *= (0.66 + 0.42 * pool + 0.035 * cloud)[..., None]
    far = np.clip((y - floor) / (1 - floor), 0, 1) + 0.22
    across = (x - 0.5 * c.right) / far
    figure = np.sin(across * 26) * np.sin(9.5 / far) + 0.5 * np.cos(across * 52) * np.cos(19 / far)
    tone = 0.60 + 0.09 * np.tanh(figure * 2.5) + 0.02 * noise(c.cover.shape, seed + 1, (9,), 4.0)
    carpet = np.array([150, 140, 132], np.float32) * tone[..., None]
    c.paint(carpet.astype(np.float32), np.broadcast_to((y > floor).astype(np.float32), c.cover.shape))
    c.solid([(-0.05, floor - 0.028), (c.right + 0.05, floor - 0.028), (c.right + 0.05, floor - 0.002), (-0.05,
            floor - 0.002)], mix(wall, (90, 84, 80), 0.45),
            curve=False, bulge=0.5, outline=0)
    c.darken([(0, floor - 0.004), (c.right, floor - 0.004), (c.right, floor + 0.008), (0, floor + 0.008)], 0.45, 0.004,
            curve=False)
    if curtain:
        edge = 0.80 * c.right if curtain > 0 else 0.20 * c.right
        out = c.right + 0.1 if curtain > 0 else -0.1
        c.solid([(edge - 0.02 * curtain, -0.1), (edge - 0.035 * curtain, 0.2), (edge + 0.01 * curtain, 0.45),
                (edge + 0.075 * curtain, 0.56), (edge + 0.045 * curtain, 0.7),
                 (edge + 0.025 * curtain, 0.93), (out, 0.95), (out, -0.1)], (124, 108, 106), folds=6, fold=0.75,
                fan=0.06, bulge=1.1)
        c.limb([(edge + 0.02 * curtain, 0.575), (edge + 0.08 * curtain, 0.545), (out, 0.50)], [0.012, 0.012, 0.012],
                (196, 180, 150))
        c.limb([(edge + 0.055 * curtain, 0.56), (edge + 0.05 * curtain, 0.66)], [0.012, 0.022], (196, 180, 150),
                folds=2, fold=1)
    return c


def cockle_woman() -> Canvas:
    """The cockle woman of the carte: kerchief, crossed shawl, bedgown, kilted striped petticoat, basket on her hip."""
    c = studio(1100, 1500, curtain=-1)
    x, y, h = 0.5 * c.right, 0.905, 0.76
    at = frame(x, y, h)
    dark: Colour = (60, 44, 40)
    c.darken([at(-0.2, 0.01), at(0.28, 0.02), at(0.34, -0.02), at(-0.16, -0.03)], 0.55, 0.012)
    leg = mix(SKIN, (120, 84, 66), 0.25)
    for side in (-1, 1):
        c.limb([at(0.06 * side, 0.36), at(0.063 * side, 0.26), at(0.07 * side, 0.19), at(0.062 * side, 0.055)],
               [0.09 * h, 0.072 * h, 0.074 * h, 0.042 * h], leg, hatch=6)
        c.solid([at(0.046 * side, 0.065), at(0.042 * side, 0.03), at(0.04 * side, 0.004), at(0.05 * side, -0.012),
                at(0.095 * side, -0.010), at(0.112 * side, 0.004),
                 at(0.098 * side, 0.03), at(0.080 * side, 0.065)], leg, hatch=8, bulge=0.8)
        for toe, (tx, size) in enumerate(((0.049, 0.0105), (0.066, 0.0085), (0.080, 0.008), (0.093, 0.0075), (0.104,
                0.0065))):
            c.oval(*at(tx * side, -0.010 + 0.0028 * toe), size * h, size * 0.85 * h, leg, outline=0.5)
        c.darken([at(0.052 * side, 0.30), at(0.068 * side, 0.305), at(0.075 * side, 0.285), at(0.055 * side, 0.28)],
                0.22, 0.004)
    cloth = stripes((196, 188, 172), (58, 66, 104), 7)
    c.solid([at(-0.085, 0.6), at(-0.14, 0.5), at(-0.185, 0.36), at(-0.215, 0.255), at(-0.16, 0.225), at(-0.07, 0.235),
            at(0.03, 0.222), at(0.12, 0.235),
             at(0.2, 0.25), at(0.185, 0.36), at(0.145, 0.5), at(0.085, 0.6)], (180, 176, 168), texture=cloth,
            folds=5.5, fold=1.3, fan=0.03, hatch=82, seed=2)
    kilt = stripes((186, 178, 164), (52, 60, 96), 8)
    c.solid([at(-0.1, 0.595), at(-0.17, 0.50), at(-0.165, 0.43), at(-0.08, 0.395), at(0.0, 0.415), at(0.085, 0.39),
            at(0.17, 0.435), at(0.165, 0.51),
             at(0.1, 0.595)], (170, 166, 158), texture=kilt, folds=4, fold=1.2, fan=0.35, hatch=40, seed=6)
    c.solid([at(-0.09, 0.82), at(-0.125, 0.77), at(-0.098, 0.65), at(-0.105, 0.6), at(-0.15, 0.52), at(-0.06, 0.5),
            at(0.05, 0.51), at(0.15, 0.515),
             at(0.105, 0.6), at(0.098, 0.65), at(0.125, 0.77), at(0.09, 0.82)], (112, 84, 92), folds=4, fold=0.7,
            fan=0.1, hatch=80, seed=3)
    sleeve: Colour = (106, 80, 88)
    c.limb([at(-0.165, 0.6), at(-0.14, 0.53), at(-0.11, 0.485)], [0.05 * h, 0.046 * h, 0.036 * h], SKIN, hatch=60)
    c.solid([at(-0.122, 0.5), at(-0.092, 0.49), at(-0.088, 0.455), at(-0.1, 0.43), at(-0.122, 0.44), at(-0.13, 0.47)],
            SKIN, hatch=40)
    for k in range(3):
        c.line([at(-0.121 + 0.009 * k, 0.462), at(-0.117 + 0.008 * k, 0.436)], mix(SKIN, dark, 0.6), 0.002 * h,
                strength=0.7)
    c.limb([at(-0.12, 0.785), at(-0.175, 0.68), at(-0.165, 0.6)], [0.082 * h, 0.076 * h, 0.068 * h], sleeve, hatch=70,
            folds=2, fold=0.6)
    basket(c, *at(0.185, 0.575), 0.26 * h, (176, 146, 108), full=True)
    c.limb([at(0.25, 0.63), at(0.262, 0.575), at(0.225, 0.52)], [0.052 * h, 0.048 * h, 0.038 * h], SKIN, hatch=50)
    c.solid([at(0.24, 0.53), at(0.2, 0.525), at(0.165, 0.505), at(0.172, 0.488), at(0.205, 0.492), at(0.245, 0.5)],
            SKIN, hatch=20)
    c.limb([at(0.12, 0.785), at(0.195, 0.7), at(0.25, 0.63)], [0.082 * h, 0.078 * h, 0.068 * h], sleeve, hatch=50,
            folds=2, fold=0.6)
    face_on(c, at, h, Face(), dx=0.0)
    check = plaid((116, 100, 88), (52, 46, 48), (178, 166, 148), 4)
    c.solid([at(0.035, 0.855), at(0.1, 0.825), at(0.135, 0.775), at(0.11, 0.7), at(0.02, 0.615), at(-0.07, 0.575),
            at(-0.105, 0.6), at(-0.02, 0.68),
             at(0.02, 0.76)], (110, 100, 92), texture=check, folds=2.5, fold=0.9, fan=0.2, hatch=130)
    c.solid([at(-0.035, 0.855), at(-0.1, 0.825), at(-0.137, 0.775), at(-0.112, 0.7), at(-0.02, 0.62), at(0.075, 0.57),
            at(0.108, 0.595), at(0.03, 0.675),
             at(-0.018, 0.765)], (120, 108, 98), texture=check, folds=2.5, fold=0.9, fan=0.2, hatch=50, seed=2)
    for k in range(12):
        px = 0.07 + 0.0036 * k
        c.line([at(px, 0.568 + 0.0024 * k), at(px + 0.004, 0.545 + 0.0024 * k)], (92, 82, 76), 0.002 * h)
    hair: Colour = (84, 62, 48)
    for side in (-1, 1):
        c.solid([at(0.0, 0.99), at(0.03 * side, 0.985), at(0.053 * side, 0.955), at(0.05 * side, 0.93), at(0.04 * side,
                0.958), at(0.014 * side, 0.974)],
                hair, folds=2, fold=0.5, hatch=60)
    red: Colour = (172, 74, 58)
    c.solid([at(0.045, 0.90), at(0.062, 0.905), at(0.115, 0.862), at(0.108, 0.842), at(0.06, 0.872)], mix(red, (20, 10,
            10), 0.2), hatch=60)
    c.solid([at(0.05, 0.895), at(0.06, 0.89), at(0.088, 0.828), at(0.068, 0.822), at(0.05, 0.86)], mix(red, (20, 10,
            10), 0.35), hatch=75)
    c.solid([at(0.0, 0.980), at(0.034, 0.974), at(0.052, 0.95), at(0.056, 0.925), at(0.054, 0.908), at(0.063, 0.897),
            at(0.0715, 0.925), at(0.071, 0.968),
             at(0.048, 1.006), at(0.018, 1.024), at(-0.018, 1.024), at(-0.048, 1.006), at(-0.071, 0.968), at(-0.0715,
            0.925), at(-0.063, 0.897),
             at(-0.054, 0.908), at(-0.056, 0.925), at(-0.052, 0.95), at(-0.034, 0.974)], red, folds=4.5, fold=0.6,
            hatch=75, seed=1)
    for side in (-1, 1):
        for k in range(3):
            c.line([at(0.062 * side, 0.912 + 0.006 * k), at((0.058 - 0.006 * k) * side, 0.955 + 0.012 * k),
                    at((0.04 - 0.014 * k) * side, 0.985 + 0.01 * k)],
                   mix(red, (30, 8, 8), 0.6), 0.0028 * h, strength=0.55, taper=True)
    for row, lift in ((0, 0.0), (1, 0.010)):
        for k in range(-8, 9):
            a = k / 8
            px = (0.055 + 0.3 * lift) * math.sin(a * 1.45)
            up = 0.93 + 0.055 * math.cos(a * 1.45) + lift * (1.1 - 0.4 * a * a)
            if row == 0 or k % 2:
                c.oval(*at(px, up), 0.0026 * h, 0.0026 * h, (232, 222, 210), form=False)
    random = np.random.default_rng(21)
    for n in range(60):
        px, up = -0.062 + 0.0137 * (n % 10) + random.normal(0, 0.001), 0.953 + 0.0125 * (n // 10) + 0.006 * (n % 2)
        inner, outer = 0.995 - 11 * px * px, 1.017 - 13 * px * px
        if inner < up < outer:
            c.oval(*at(px, up), 0.0022 * h, 0.0022 * h, (226, 214, 200), form=False)
    for k in (-1, 0, 1):
        c.line([at(0.012 * k, 1.018), at(0.03 * k, 1.0), at(0.042 * k, 0.985)], mix(red, (20, 8, 8), 0.6), 0.0028 * h,
                strength=0.6, taper=True)
    return c


def gatherer_portrait() -> Array:
    """The carte of the cockle woman."""
    tone = manners.collodion(cockle_woman(), 81)
    return manners.mounted(manners.albumen(tone), 82)


def gatherer_mirrored() -> Array:
    """The same sitter on a cased direct positive, reversed."""
    tone = manners.collodion(cockle_woman(), 85)[:, ::-1]
    height, wide = tone.shape
    y, x = manners.fields(tone.shape)
    where = [(y - 0.515 * height) / 0.8 + 0.53 * height, (x - wide / 2) / 0.8 + wide / 2]
    return manners.cased(map_coordinates(tone, where, order=1, mode="nearest") * 0.93, 86)


def gatherer_coloured() -> Array:
    """The carte again, coloured by hand: a guess of red, blue, green and flesh that does not keep to the edges."""
    c = cockle_woman()
    tone = manners.collodion(c, 81)
    print_ = manners.albumen(tone)
    pixels = c.done()
    height = tone.shape[0]
    y, x = manners.fields(tone.shape)
    y, x = y / height, x / height
    red = (pixels[..., 0] > pixels[..., 1] * 1.75) & (pixels[..., 0] > 60)
    blue = (pixels[..., 2] > pixels[..., 0] * 1.12) & (y > 0.42) & (y < 0.76) & (np.abs(x - 0.367) < 0.2)
    skin = (pixels[..., 0] > pixels[..., 2] * 1.3) & (pixels[..., 0] > 120) & ~red & (np.abs(x - 0.367) < 0.24)
    face = skin & (((y > 0.14) & (y < 0.29)) | ((y > 0.44) & (y < 0.58)))
    out = print_
    patches = ((red, (196, 44, 34), 0.85), (blue, (44, 82, 176), 0.6), (face, (238, 160, 128), 0.4))
    for mask, colour, strength in patches:
        soft = np.clip(blur(mask.astype(np.float32), 3.2) * 1.5, 0, 1)
        soft = np.roll(soft, (2, 3), (0, 1)) * (0.85 + 0.1 * noise(tone.shape, 9, (30,)))
        tint = np.asarray(colour, np.float32) * (0.28 + 0.95 * tone[..., None])
        out = out + (tint - out) * (np.clip(soft, 0, 1) * strength)[..., None]
    cheeks = np.exp(-(((np.abs(x - 0.367) - 0.0235) / 0.012) ** 2) - ((y - 0.2145) / 0.008) ** 2)
    out = out + (np.array([224, 96, 84], np.float32) - out) * (0.4 * cheeks)[..., None]
    return manners.mounted(np.clip(out, 0, 255), 83)


def man_sitting(c: Canvas, at: At, h: float, coat: Colour, *, hem: float, boots: float, legs: Colour) -> None:
    """Legs, boots and coat of a standing man seen from the front."""
    dark: Colour = (48, 42, 40)
    c.darken([at(-0.2, 0.01), at(0.26, 0.02), at(0.32, -0.02), at(-0.16, -0.03)], 0.55, 0.012)
    for side in (-1, 1):
        c.limb([at(0.055 * side, 0.5), at(0.062 * side, 0.28), at(0.062 * side, 0.05)], [0.125 * h, 0.1 * h,
                0.082 * h], legs, hatch=6, folds=1, fold=0.5)
        if boots:
            c.limb([at(0.062 * side, boots), at(0.062 * side, 0.1), at(0.064 * side, 0.045)], [0.118 * h, 0.098 * h,
                    0.09 * h], dark, hatch=4, gloss=0.12)
        c.solid([at(0.025 * side, 0.055), at(0.02 * side, 0.0), at(0.05 * side, -0.02), at(0.1 * side, -0.018),
                at(0.12 * side, 0.004), at(0.1 * side, 0.06)],
                dark, hatch=6, gloss=0.15)
    c.solid([at(-0.07, 0.845), at(-0.13, 0.8), at(-0.128, 0.66), at(-0.125, 0.55), at(-0.15, 0.4), at(-0.17, hem),
            at(-0.05, hem - 0.012), at(0.06, hem - 0.008),
             at(0.17, hem), at(0.15, 0.4), at(0.125, 0.55), at(0.128, 0.66), at(0.13, 0.8), at(0.07, 0.845)], coat,
            folds=4, fold=0.9, hatch=84, gloss=0.05, seed=2)


def hand(c: Canvas, at: At, h: float, x: float, up: float, side: int) -> None:
    """A hand closed round something upright."""
    c.oval(*at(x, up), 0.03 * h, 0.036 * h, SKIN, hatch=10)
    for k in range(4):
        level = up + 0.022 - 0.014 * k
        c.line([at(x - 0.02 * side, level), at(x + 0.022 * side, level - 0.002)], mix(SKIN, (70, 40, 32), 0.7),
                0.0026 * h, strength=0.7)


def sand_pilot() -> Array:
    """The pilot of the sands: oilskin coat, sou'wester, beard, sea boots, a staff taller than himself."""
    c = studio(1100, 1500, wall=(170, 168, 168), seed=7)
    x, y, h = 0.485 * c.right, 0.905, 0.74
    at = frame(x, y, h)
    oilskin: Colour = (126, 112, 74)
    man_sitting(c, at, h, oilskin, hem=0.25, boots=0.29, legs=(70, 68, 72))
    c.line([at(0.012, 0.83), at(0.02, 0.5), at(0.018, 0.26)], (52, 46, 34), 0.006 * h, strength=0.8)
    for k in range(5):
        c.oval(*at(-0.018, 0.76 - 0.09 * k), 0.011 * h, 0.011 * h, (60, 52, 40), gloss=0.5)
    for side in (-1, 1):
        c.line([at(0.11 * side, 0.42), at(0.07 * side, 0.425), at(0.065 * side, 0.37)], (52, 46, 34), 0.004 * h,
                strength=0.7)
    c.limb([at(-0.115, 0.785), at(-0.17, 0.65), at(-0.165, 0.5)], [0.1 * h, 0.09 * h, 0.076 * h], oilskin, hatch=75,
            gloss=0.08, folds=2, fold=0.6)
    hand(c, at, h, -0.165, 0.465, -1)
    c.limb([at(0.21, 1.13), at(0.225, 0.6), at(0.235, -0.03)], [0.022 * h, 0.026 * h, 0.028 * h], (190, 160, 124),
            hatch=86, gloss=0.15)
    c.limb([at(0.234, 0.03), at(0.236, -0.035)], [0.03 * h, 0.018 * h], (70, 68, 70), hatch=5)
    for k in range(9):
        c.line([at(0.218, 0.16 + 0.05 * k), at(0.24, 0.16 + 0.05 * k)], (88, 68, 50), 0.003 * h)
    c.limb([at(0.115, 0.785), at(0.185, 0.68), at(0.222, 0.735)], [0.1 * h, 0.092 * h, 0.07 * h], oilskin, hatch=60,
            gloss=0.08, folds=2, fold=0.6)
    hand(c, at, h, 0.222, 0.76, 1)
    face_on(c, at, h, Face(beard=True, age=0.75, skin=(208, 162, 136), hair=(150, 142, 134)))
    c.solid([at(-0.055, 0.83), at(0.0, 0.80), at(0.055, 0.83), at(0.09, 0.815), at(0.03, 0.77), at(-0.03, 0.77),
            at(-0.09, 0.815)], mix(oilskin, (40, 34, 24), 0.3), hatch=10)
    face_beard = [at(-0.036, 0.86), at(0.036, 0.86), at(0.026, 0.82), at(0.0, 0.80), at(-0.026, 0.82)]
    c.solid(face_beard, (178, 170, 160), folds=5, fold=0.8, hatch=86, outline=0.4)
    hat: Colour = (112, 98, 64)
    for side in (-1, 1):
        c.solid([at(0.045 * side, 0.985), at(0.075 * side, 0.955), at(0.10 * side, 0.885), at(0.118 * side, 0.835),
                at(0.075 * side, 0.845), at(0.058 * side, 0.90)],
                mix(hat, (26, 22, 16), 0.25), hatch=70, folds=1.5, fold=0.5)
    c.solid([at(-0.068, 0.95), at(-0.066, 0.99), at(-0.045, 1.03), at(0.0, 1.043), at(0.045, 1.03), at(0.066, 0.99),
            at(0.068, 0.95), at(0.0, 0.968)], hat, hatch=80, folds=4,
            fold=0.35, gloss=0.14)
    for k in (-2, -1, 1, 2):
        c.line([at(0.006 * k, 1.04), at(0.016 * k, 1.01), at(0.022 * k, 0.972)], mix(hat, (30, 24, 16), 0.6),
                0.003 * h, strength=0.6)
    c.solid([at(-0.078, 0.945), at(-0.06, 0.972), at(0.0, 0.99), at(0.06, 0.972), at(0.078, 0.945), at(0.045, 0.956),
            at(0.0, 0.962), at(-0.045, 0.956)], hat, hatch=5,
            gloss=0.16)
    c.darken([at(-0.05, 0.955), at(0.05, 0.955), at(0.048, 0.94), at(-0.048, 0.94)], 0.4, 0.005)
    for side in (-1, 1):
        c.line([at(0.056 * side, 0.905), at(0.04 * side, 0.862), at(0.012 * side, 0.832)], (70, 60, 44), 0.005 * h)
    tone = manners.collodion(c, 91)
    return manners.mounted(manners.albumen(tone), 92, card=(222, 208, 186))


def carrier() -> Array:
    """The carrier in a gathered smock, neckcloth and billycock hat, his whip in his hand."""
    c = studio(1100, 1500, wall=(150, 148, 150), curtain=1, seed=12)
    x, y, h = 0.5 * c.right, 0.915, 0.76
    at = frame(x, y, h)
    linen: Colour = (206, 200, 184)
    man_sitting(c, at, h, linen, hem=0.33, boots=0.0, legs=(92, 84, 72))
    for side in (-1, 1):
        c.limb([at(0.062 * side, 0.2), at(0.062 * side, 0.05)], [0.1 * h, 0.094 * h], (84, 76, 66), hatch=5, gloss=0.05)
        for k in range(5):
            c.oval(*at(0.098 * side, 0.18 - 0.028 * k), 0.004 * h, 0.004 * h, (180, 170, 150), form=False)
    for k in range(-9, 10):
        px = 0.0095 * k
        c.line([at(px * 1.05, 0.815 - 0.0006 * abs(k)), at(px * 0.92, 0.735), at(px * 1.02, 0.64)], mix(linen, (96, 88,
                76), 0.6), 0.003 * h, strength=0.8)
    for level in (0.80, 0.782, 0.764, 0.746):
        pts = [at(-0.088 + 0.011 * k, level + (0.004 if k % 2 else -0.004)) for k in range(17)]
        c.line(pts, mix(linen, (90, 80, 66), 0.6), 0.0028 * h, curve=False)
    c.limb([at(-0.12, 0.785), at(-0.178, 0.65), at(-0.15, 0.52)], [0.105 * h, 0.105 * h, 0.08 * h], linen, hatch=75,
            folds=3, fold=0.8)
    c.limb([at(-0.151, 0.522), at(-0.148, 0.5)], [0.07 * h, 0.062 * h], mix(linen, (100, 90, 80), 0.3))
    c.line([at(-0.12, 0.02), at(-0.14, 0.4), at(-0.155, 0.75), at(-0.15, 1.0)], (70, 52, 40), 0.009 * h)
    c.line([at(-0.15, 1.0), at(-0.12, 1.06), at(-0.09, 1.0), at(-0.1, 0.86)], (70, 52, 40), 0.003 * h)
    hand(c, at, h, -0.143, 0.47, -1)
    c.limb([at(0.12, 0.785), at(0.18, 0.65), at(0.165, 0.52)], [0.105 * h, 0.105 * h, 0.08 * h], linen, hatch=100,
            folds=3, fold=0.8)
    c.limb([at(0.165, 0.522), at(0.163, 0.5)], [0.07 * h, 0.062 * h], mix(linen, (100, 90, 80), 0.3))
    c.solid([at(0.135, 0.505), at(0.19, 0.505), at(0.19, 0.455), at(0.175, 0.415), at(0.145, 0.415), at(0.137, 0.455)],
            SKIN, hatch=60)
    for k in range(3):
        c.line([at(0.15 + 0.011 * k, 0.455), at(0.151 + 0.009 * k, 0.42)], mix(SKIN, (70, 40, 32), 0.7), 0.0026 * h,
                strength=0.7)
    face_on(c, at, h, Face(whiskers=True, age=0.5, width=1.05, hair=(98, 78, 62)))
    spot: Colour = (86, 92, 132)
    c.solid([at(-0.05, 0.85), at(0.05, 0.85), at(0.06, 0.82), at(0.0, 0.805), at(-0.06, 0.82)], spot, folds=3,
            fold=0.6, hatch=15)
    for side in (-1, 1):
        c.solid([at(0.004 * side, 0.83), at(0.014 * side, 0.835), at(0.05 * side, 0.785), at(0.02 * side, 0.775)],
                spot, hatch=70)
        c.solid([at(0.03 * side, 0.86), at(0.066 * side, 0.835), at(0.075 * side, 0.8), at(0.035 * side, 0.822)],
                mix(linen, (255, 255, 250), 0.4), hatch=50)
    hat: Colour = (44, 40, 42)
    c.solid([at(-0.06, 0.975), at(-0.062, 1.02), at(-0.04, 1.056), at(0.0, 1.064), at(0.04, 1.056), at(0.062, 1.02),
            at(0.06, 0.975)], hat, hatch=5, gloss=0.1)
    c.solid([at(-0.112, 0.972), at(-0.08, 0.965), at(0.0, 0.955), at(0.08, 0.965), at(0.112, 0.972), at(0.085, 0.985),
            at(0.0, 0.98), at(-0.085, 0.985)], hat, hatch=3, gloss=0.1)
    c.darken([at(-0.05, 0.957), at(0.05, 0.957), at(0.048, 0.942), at(-0.048, 0.942)], 0.4, 0.005)
    tone = manners.collodion(c, 95)
    return manners.mounted(manners.albumen(tone), 96, card=(230, 222, 202))
