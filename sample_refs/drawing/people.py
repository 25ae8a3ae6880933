"""The people of Merrow Sands, all invented: built from tapered and folded forms on plain proportions."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from drawing.canvas import Array, Canvas, Colour, Point, mix
from drawing.things import basket, storm_lantern

At = Callable[[float, float], Point]


@dataclass(frozen=True, slots=True)
class Dress:
    """What a woman wears."""

    kerchief: Colour = (150, 56, 46)
    shawl: Colour = (112, 98, 82)
    bedgown: Colour = (122, 108, 122)
    skirt: Colour = (62, 70, 96)
    lining: Colour = (150, 140, 124)
    skin: Colour = (198, 152, 122)
    basket: Colour = (140, 108, 70)

    def dim(self, towards: Colour, amount: float) -> Dress:
        """The same clothes in another light: every colour drawn towards one."""
        return replace(self, **{k: mix(getattr(self, k), towards, amount) for k in self.__slots__})


def frame(x: float, y: float, h: float, face: int = 1, lean: float = 0.0) -> At:
    """Places on a figure standing at (x, y), `h` tall: forward and up, in figure heights."""
    return lambda dx, up: (x + (dx + lean * up) * face * h, y - up * h)


def stripes(ground: Colour, stripe: Colour, count: float) -> Callable[[Array, Array], Array]:
    """A striped cloth that goes round a form."""

    def texture(u: Array, v: Array) -> Array:
        around = np.arcsin(np.clip(2 * u - 1, -1, 1)) / np.pi
        band = np.clip(np.sin(around * count * 2 * np.pi + 0.9) * 3 + 0.5, 0, 1)[..., None]
        under, over = np.asarray(ground, np.float32), np.asarray(stripe, np.float32)
        result: Array = (under + (over - under) * band).astype(np.float32)
        return result

    return texture


def plaid(ground: Colour, dark: Colour, light: Colour, count: float) -> Callable[[Array, Array], Array]:
    """A plaid: broad dark and thin light bars both ways."""

    def texture(u: Array, v: Array) -> Array:
        out = np.broadcast_to(np.asarray(ground, np.float32), (*u.shape, 3))
        for run in (u + 0 * v, v + 0 * u):
            wave = np.sin(run * count * 2 * np.pi)
            out = out + (np.asarray(dark, np.float32) - out) * (np.clip(wave * 3 - 0.6, 0, 1) * 0.5)[..., None]
            thin = np.clip(np.cos(run * count * 2 * np.pi * 2) * 6 - 5, 0, 1)
            out = out + (np.asarray(light, np.float32) - out) * (thin * 0.5)[..., None]
        return out.astype(np.float32)

    return texture


def profile(c: Canvas, at: At, h: float, dress: Dress, up: float = 0.0, dx: float = 0.0, blow: float = 0.0) -> None:
    """A head in profile with a kerchief tied behind."""

    def p(x: float, y: float) -> Point:
        return at(x + dx, y + up)

    c.limb([p(0.0, 0.80), p(0.012, 0.87)], [0.07 * h, 0.052 * h], mix(dress.skin, (60, 40, 34), 0.25), hatch=10)
    c.solid([p(-0.02, 0.965), p(0.045, 0.975), p(0.068, 0.945), p(0.07, 0.924), p(0.088, 0.902), p(0.076, 0.893),
            p(0.08, 0.88),
             p(0.07, 0.862), p(0.035, 0.856), p(0.0, 0.88), p(-0.03, 0.92)], dress.skin, hatch=15, bulge=0.8)
    c.oval(*p(0.056, 0.925), 0.0065 * h, 0.005 * h, mix(dress.skin, (20, 14, 12), 0.8), form=False)
    c.line([p(0.078, 0.882), p(0.06, 0.88)], mix(dress.skin, (70, 24, 20), 0.6), 0.005 * h)
    for tail in ((-0.10, 0.80), (-0.075, 0.775)):
        c.solid([p(-0.045, 0.885), p(-0.06, 0.86), p(tail[0] - blow, tail[1] + blow * 0.5), p(tail[0] + 0.028 - blow,
                tail[1] - 0.012 + blow * 0.5),
                 p(-0.03, 0.86)], mix(dress.kerchief, (20, 10, 10), 0.12), hatch=70, outline=0.7)
    c.solid([p(0.069, 0.955), p(0.055, 0.993), p(0.01, 1.012), p(-0.04, 0.995), p(-0.066, 0.945), p(-0.056, 0.885),
            p(-0.03, 0.862),
             p(-0.012, 0.89), p(0.008, 0.93), p(0.036, 0.958)], dress.kerchief, folds=1.6, fold=0.35, hatch=60)


def _leg(c: Canvas, at: At, h: float, joints: list[Point], skin: Colour, heel_up: float = 0.0) -> None:
    hip, knee, ankle = joints
    calf = (knee[0] * 0.6 + ankle[0] * 0.4 - 0.012, knee[1] * 0.6 + ankle[1] * 0.4)
    c.limb([at(*hip), at(*knee), at(*calf), at(*ankle)], [0.09 * h, 0.062 * h, 0.064 * h, 0.036 * h], skin, hatch=12)
    ax, ay = ankle
    c.solid([at(ax - 0.022, ay + 0.012), at(ax - 0.03, ay - 0.04 + heel_up), at(ax + 0.03, ay - 0.05), at(ax + 0.085,
            ay - 0.052),
             at(ax + 0.083, ay - 0.037), at(ax + 0.022, ay + 0.012)], skin, hatch=5)


def walking(c: Canvas, x: float, y: float, h: float, dress: Dress, *, face: int = 1, stride: float = 1.0,
        carry: str = "",
            lean: float = 0.03, lit: bool = True, blow: float = 0.02) -> Point | None:
    """A woman walking in profile with a basket on her hip; returns where her lantern's flame is, if she has one."""
    at = frame(x, y, h, face, lean)
    far = mix(dress.skin, (40, 32, 34), 0.35)
    s = stride
    _leg(c, at, h, [(-0.01, 0.48), (-0.05 * s, 0.27), (-0.15 * s, 0.085)], far, 0.03 * s)
    flame: Point | None = None
    sleeve = mix(dress.bedgown, (24, 22, 26), 0.2)
    if carry == "lantern":
        c.limb([at(0.03, 0.78), at(0.1, 0.62), at(0.19, 0.48)], [0.075 * h, 0.06 * h, 0.042 * h], sleeve, hatch=40)
        c.oval(*at(0.195, 0.465), 0.02 * h, 0.024 * h, dress.skin)
        flame = storm_lantern(c, *at(0.2, 0.255), 0.2 * h, lit=lit)
    else:
        c.limb([at(0.03, 0.78), at(0.08, 0.62), at(0.13, 0.53)], [0.075 * h, 0.06 * h, 0.04 * h], sleeve, hatch=40)
        c.oval(*at(0.14, 0.52), 0.018 * h, 0.02 * h, far)
    c.solid([at(0.07, 0.63), at(0.1, 0.53), at(0.12 + 0.01 * s, 0.40), at(0.11 + 0.05 * s, 0.265), at(0.04, 0.245),
            at(-0.04, 0.25),
             at(-0.09 - 0.03 * s, 0.235), at(-0.13 - 0.03 * s, 0.28), at(-0.135, 0.42), at(-0.105, 0.54), at(-0.06,
            0.63)],
            dress.skirt, folds=4.5, fold=0.9, fan=0.05, hatch=78, seed=3)
    _leg(c, at, h, [(0.01, 0.30), (0.075 * s, 0.26), (0.115 * s, 0.055)], dress.skin)
    c.solid([at(0.07, 0.63), at(0.1, 0.53), at(0.12 + 0.01 * s, 0.40), at(0.11 + 0.05 * s, 0.275), at(0.04, 0.252),
            at(-0.03, 0.255),
             at(-0.02, 0.4), at(-0.02, 0.62)], dress.skirt, folds=2.5, fold=0.9, hatch=82, outline=0.5, seed=5)
    c.solid([at(0.095, 0.56), at(0.13, 0.48), at(0.08, 0.425), at(-0.04, 0.405), at(-0.15, 0.43), at(-0.145, 0.52),
            at(-0.07, 0.585)],
            dress.lining, folds=3, fold=0.8, hatch=30, seed=2)
    c.solid([at(0.045, 0.82), at(0.088, 0.74), at(0.07, 0.64), at(0.098, 0.535), at(0.0, 0.505), at(-0.115, 0.52),
            at(-0.07, 0.64),
             at(-0.085, 0.75), at(-0.045, 0.825)], dress.bedgown, folds=2.5, fold=0.5, hatch=65)
    if carry != "arms":
        basket(c, *at(-0.035, 0.56), 0.23 * h, dress.basket)
    c.solid([at(-0.03, 0.80), at(0.02, 0.77), at(-0.03, 0.65), at(-0.09, 0.62), at(-0.11, 0.68)], sleeve, hatch=50)
    if carry == "arms":
        basket(c, *at(0.15, 0.6), 0.23 * h, dress.basket)
        c.limb([at(-0.01, 0.77), at(0.02, 0.61), at(0.16, 0.55)], [0.08 * h, 0.062 * h, 0.04 * h], sleeve, hatch=40)
    else:
        c.limb([at(-0.05, 0.75), at(-0.085, 0.62), at(-0.01, 0.555)], [0.075 * h, 0.06 * h, 0.042 * h], sleeve,
                hatch=40)
        c.oval(*at(0.0, 0.55), 0.018 * h, 0.017 * h, dress.skin)
    c.solid([at(0.03, 0.85), at(0.085, 0.79), at(0.098, 0.71), at(0.05, 0.63), at(-0.02, 0.625), at(-0.09 - blow,
            0.55), at(-0.125 - blow, 0.6),
             at(-0.115, 0.7), at(-0.09, 0.79), at(-0.04, 0.85)], dress.shawl, folds=3, fold=0.7, fan=0.15, hatch=115,
            seed=1)
    profile(c, at, h, dress, blow=blow)
    return flame


def raking(c: Canvas, x: float, y: float, h: float, dress: Dress, *, face: int = 1, tool: str = "rake") -> None:
    """A woman bent over her work; `h` is her height standing."""
    at = frame(x, y, h, face)
    far = mix(dress.skin, (40, 32, 34), 0.35)
    sleeve = mix(dress.bedgown, (24, 22, 26), 0.12)
    _leg(c, at, h, [(-0.06, 0.48), (-0.02, 0.27), (-0.06, 0.055)], far)
    c.limb([at(0.2, 0.56), at(0.25, 0.42), at(0.31, 0.28)], [0.075 * h, 0.06 * h, 0.04 * h], mix(sleeve, (20, 20, 24),
            0.3), hatch=100)
    if tool == "rake":
        c.limb([at(0.14, 0.48), at(0.4, 0.03)], [0.016 * h, 0.016 * h], (112, 88, 60), hatch=60)
        for k in (-0.03, 0.0, 0.03):
            c.line([at(0.385 + k * 0.4, 0.055), at(0.43 + k, 0.035), at(0.43 + k, -0.004)], (40, 38, 38), 0.009 * h)
    _leg(c, at, h, [(-0.1, 0.48), (-0.1, 0.27), (-0.15, 0.055)], dress.skin)
    c.solid([at(0.03, 0.6), at(0.06, 0.48), at(0.08, 0.36), at(0.1, 0.255), at(0.02, 0.24), at(-0.07, 0.255), at(-0.16,
            0.235),
             at(-0.235, 0.275), at(-0.22, 0.42), at(-0.165, 0.56), at(-0.07, 0.63)], dress.skirt, folds=5, fold=0.9,
            fan=0.05, hatch=80)
    c.solid([at(0.07, 0.55), at(0.08, 0.45), at(-0.03, 0.41), at(-0.2, 0.45), at(-0.21, 0.55), at(-0.11, 0.655),
            at(0.0, 0.64)],
            dress.lining, folds=3, fold=0.8, hatch=35, seed=2)
    c.solid([at(-0.1, 0.66), at(0.03, 0.7), at(0.18, 0.69), at(0.245, 0.62), at(0.21, 0.54), at(0.09, 0.52), at(0.03,
            0.5),
             at(-0.07, 0.55)], dress.bedgown, folds=2, fold=0.5, hatch=20)
    c.limb([at(0.17, 0.6), at(0.16, 0.44), at(0.24, 0.31)], [0.085 * h, 0.064 * h, 0.04 * h], sleeve, hatch=95)
    c.oval(*at(0.245, 0.3), 0.02 * h, 0.022 * h, dress.skin)
    c.solid([at(-0.06, 0.68), at(0.08, 0.725), at(0.2, 0.715), at(0.265, 0.66), at(0.24, 0.57), at(0.14, 0.565),
            at(0.05, 0.6)],
            dress.shawl, folds=3, fold=0.7, hatch=140, seed=1)
    turn = 0.9  # the head hangs forward

    def nod(dx: float, up: float) -> Point:
        px, py = dx - 0.0, up - 0.84
        return at(0.235 + px * np.cos(turn) + py * np.sin(turn), 0.635 - px * np.sin(turn) + py * np.cos(turn))

    profile(c, nod, h, dress)


def shawled(c: Canvas, x: float, y: float, h: float, dress: Dress, *, face: int = 1, side: float = 0.0) -> None:
    """A woman standing, her shawl drawn over her head; `side` turns her from her back (0) towards profile (1)."""
    at = frame(x, y, h, face)
    for foot in (-0.05, 0.045):
        c.solid([at(foot - 0.035, 0.035), at(foot - 0.035, 0.0), at(foot + 0.05 + 0.03 * side, 0.0),
                at(foot + 0.04 + 0.02 * side, 0.03)],
                (44, 38, 36), hatch=0)
    c.solid([at(-0.09, 0.58), at(-0.14, 0.4), at(-0.175, 0.1), at(-0.17, 0.035), at(-0.06, 0.02), at(0.06, 0.028),
            at(0.16, 0.03),
             at(0.17, 0.1), at(0.135, 0.4), at(0.09, 0.58)], dress.skirt, folds=5, fold=1.1, hatch=84, seed=2)
    if side > 0.3:
        c.solid([at(0.01, 0.98), at(0.058, 0.965), at(0.064, 0.925), at(0.08, 0.903), at(0.07, 0.892), at(0.066,
                0.865), at(0.03, 0.855),
                 at(-0.02, 0.9)], dress.skin, hatch=12)
        c.oval(*at(0.05, 0.925), 0.006 * h, 0.005 * h, mix(dress.skin, (20, 14, 12), 0.8), form=False)
    c.solid([at(0.04 * side, 1.005), at(0.055 + 0.005 * side, 0.97), at(0.07 - 0.03 * side, 0.91), at(0.06, 0.85),
            at(0.125, 0.78), at(0.155, 0.66),
             at(0.13, 0.52), at(0.06, 0.45), at(-0.04, 0.365), at(-0.11, 0.45), at(-0.155, 0.6), at(-0.13, 0.77),
            at(-0.075, 0.85),
             at(-0.075, 0.93), at(-0.055, 0.985)], dress.shawl, folds=3.5, fold=1.0, fan=0.12, hatch=105, seed=4)
    if side > 0.3:
        c.limb([at(0.0, 0.72), at(0.06, 0.62), at(0.11, 0.68)], [0.09 * h, 0.075 * h, 0.05 * h], mix(dress.shawl, (20,
                20, 24), 0.2), hatch=60)
        c.oval(*at(0.115, 0.69), 0.02 * h, 0.02 * h, dress.skin)
    c.line([at(0.02, 0.84), at(-0.03, 0.62), at(-0.05, 0.42)], mix(dress.shawl, (16, 14, 16), 0.55), 0.012 * h,
            strength=0.6, taper=True)
