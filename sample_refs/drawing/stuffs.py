"""What things are made of: colours of cloth, skin, wood, tin and willow, with stripes, plaids and spots as functions of place."""

from __future__ import annotations

import math

import numpy as np
from drawing.solids import Array, F, Stuff
from drawing.view import linear_of


def rgb(hex_: str) -> Array:
    return np.asarray(linear_of(hex_), F)


def hashed(a: Array, b: Array, seed: float = 0.0) -> Array:
    """A repeatable scatter 0–1 from two coordinates."""
    return np.mod(np.sin(a * F(12.9898) + b * F(78.233) + F(seed)) * F(43758.547), 1)


def plain(name: str, hex_: str, *, gloss: float = 0.0, hatch_deg: float = 0.0, vary: float = 0.10) -> Stuff:
    """One colour, slightly uneven."""
    base = rgb(hex_)

    def colour(x: Array, y: Array, z: Array) -> Array:
        w = np.sin(31 * x + 17 * z + 3) * np.sin(27 * y + 11 * x) + 0.5 * np.sin(83 * y + 61 * z)
        return base * (1 + F(vary) * w.astype(F))[:, None]

    return Stuff(name, colour, gloss=gloss, hatch_deg=hatch_deg)


def striped(name: str, first: str, second: str, *, bands: int = 26, about: tuple[float, float] = (0.0, 0.0)) -> Stuff:
    """Upright stripes round a skirt."""
    a, b = rgb(first), rgb(second)

    def colour(x: Array, y: Array, z: Array) -> Array:
        theta = np.arctan2(z - F(about[1]), x - F(about[0])) / F(2 * math.pi) * bands
        s = np.abs(np.mod(theta, 1) - 0.5) * 2
        mixed = np.clip((s - 0.5) * 9 + 0.5, 0, 1)[:, None]
        return a + (b - a) * mixed.astype(F)

    return Stuff(name, colour, hatch_deg=80)


def plaid(name: str, ground: str, line: str, light: str, *, pitch: float = 0.085) -> Stuff:
    """A twill check over shoulders and back."""
    g, d, w = rgb(ground), rgb(line), rgb(light)

    def colour(x: Array, y: Array, z: Array) -> Array:
        u, v = (y + 0.6 * x) / pitch, (z + 0.35 * x) / pitch
        a, b = np.mod(u, 1), np.mod(v, 1)
        k = ((a < 0.42).astype(F) + (b < 0.42).astype(F)) * F(0.5)
        fine = ((np.abs(a - 0.7) < 0.05) | (np.abs(b - 0.7) < 0.05)).astype(F)
        out = g + (d - g) * k[:, None]
        return out + (w - out) * (fine * F(0.65))[:, None]

    return Stuff(name, colour, hatch_deg=35)


def spotted(name: str, ground: str, spot: str, *, pitch: float = 0.022, edge: bool = True) -> Stuff:
    """Small spots, as printed on a kerchief."""
    g, s = rgb(ground), rgb(spot)

    def colour(x: Array, y: Array, z: Array) -> Array:
        theta = np.arctan2(z, -(x + 0.02)) * F(0.1)
        u, v = theta / pitch, (y - 0.35 * x) / pitch
        row = np.floor(v)
        a, b = np.mod(u + 0.5 * np.mod(row, 2), 1) - 0.5, np.mod(v, 1) - 0.5
        dot = np.clip((0.17 - np.hypot(a, b)) * 9 + 0.5, 0, 1)[:, None].astype(F)
        _ = edge
        return g + (s - g) * dot

    return Stuff(name, colour, hatch_deg=20)


def planked(name: str, hex_: str, *, along: str = "x", board: float = 0.16, gloss: float = 0.0) -> Stuff:
    """Boards with dark joints and grain."""
    base = rgb(hex_)

    def colour(x: Array, y: Array, z: Array) -> Array:
        run, cross = {"x": (x, y + z * 0.999), "y": (y, x + z), "z": (z, x + y * 0.999)}[along]
        n = np.floor(cross / board)
        gap = np.abs(np.mod(cross / board, 1) - 0.5) > 0.465
        grain = np.sin(cross * 260 + 3 * np.sin(run * 5 + n * 2) + n) * 0.10 + (hashed(n, n * 0.3) - 0.5) * 0.34
        out = base * (1 + grain.astype(F))[:, None]
        return np.where(gap[:, None], out * F(0.22), out)

    return Stuff(name, colour, gloss=gloss, hatch_deg=0 if along == "x" else 90)


def woven(name: str, hex_: str, dark: str, *, rows: float = 0.018, stakes: int = 30) -> Stuff:
    """Basket work: rods passing before and behind upright stakes."""
    a, b = rgb(hex_), rgb(dark)

    def colour(x: Array, y: Array, z: Array) -> Array:
        theta = np.arctan2(z, x) / F(2 * math.pi) * stakes
        row = y / rows
        over = np.sin(theta * math.pi + np.floor(row) * math.pi)
        rod = np.abs(np.mod(row, 1) - 0.5) * 2
        tone = np.clip(0.5 + 0.5 * np.abs(over) - 0.75 * rod**3 + 0.2 * (hashed(np.floor(row), np.floor(theta)) - 0.5), 0, 1)
        return b + (a - b) * tone[:, None].astype(F)

    return Stuff(name, colour, hatch_deg=10)


def face_paint(base: str, *, age: float = 0.3, brown: float = 0.25, looks: float = 0.0) -> Stuff:
    """Skin of a head in the head's own frame (centre of the skull at 0, x forward), with eyes, brows and mouth on it."""
    skin, lip, brow, white, iris = rgb(base), rgb("#9a5f52"), rgb("#4a382c"), rgb("#d8d0c4"), rgb("#2a221e")

    def colour(x: Array, y: Array, z: Array) -> Array:
        out = np.broadcast_to(skin, (len(x), 3)).copy()
        front = x > 0.02
        az = np.abs(z)
        ruddy = np.exp(-(((az - 0.045) / 0.022) ** 2 + ((y + 0.028) / 0.026) ** 2)) * front
        out += (rgb("#a8624c") - out) * (0.42 * ruddy)[:, None].astype(F)
        pale = np.clip((y - 0.052) / 0.012, 0, 1) * front * brown
        out += (rgb("#e6cdb6") - out) * pale[:, None].astype(F)
        lines = (np.abs(y - 0.05 - 0.004 * np.cos(z * 50)) < 0.0014) | (np.abs(y - 0.064) < 0.0012)
        out *= (1 - F(0.28 * age) * (lines & front & (az < 0.04)))[:, None]
        e = (az - 0.0315) / 0.0155
        socket = np.exp(-((e / 1.3) ** 2 + ((y - 0.014) / 0.016) ** 2)) * front
        out *= (1 - 0.30 * socket)[:, None].astype(F)
        lid = 0.0062 * np.sqrt(np.clip(1 - e * e, 0, 1))
        open_eye = (np.abs(e) < 1) & (y - 0.010 < lid) & (y - 0.010 > -0.7 * lid) & front
        out = np.where(open_eye[:, None], white, out)
        gaze = (z - F(looks) * 0.005 - np.sign(z) * 0.0315) / 0.0062
        pupil = open_eye & (gaze**2 + ((y - 0.0112) / 0.0062) ** 2 < 1)
        out = np.where(pupil[:, None], iris, out)
        lash = (np.abs(e) < 1.08) & (np.abs(y - 0.010 - lid) < 0.0021) & front
        out = np.where(lash[:, None], brow * F(0.6), out)
        brow_line = 0.033 + 0.005 * (1 - (e * 0.7) ** 2) - 0.002 * e
        hair = (np.abs(e - 0.05) < 1.35) & (np.abs(y - brow_line) < 0.0036 * (1.2 - 0.35 * np.abs(e))) & front
        out = np.where(hair[:, None], brow, out)
        m = z / 0.0245
        mouth = (np.abs(m) < 1) & front
        upper = mouth & (y + 0.0655 > 0) & (y + 0.0655 < 0.0065 * (1 - m * m) * (1 - 0.3 * np.exp(-((m / 0.2) ** 2))))
        lower = mouth & (y + 0.0655 <= 0) & (y + 0.0655 > -0.0085 * (1 - m * m))
        out = np.where(upper[:, None], lip * F(0.72), np.where(lower[:, None], lip, out))
        slit = (np.abs(m) < 1.08) & (np.abs(y + 0.0655 + 0.0012 * m * m) < 0.0014) & front
        out = np.where(slit[:, None], rgb("#3a201c"), out)
        nostril = (np.abs(az - 0.0085) < 0.004) & (np.abs(y + 0.035) < 0.0028) & (x > 0.085)
        out = np.where(nostril[:, None], rgb("#5a3328"), out)
        fold = np.exp(-(((az - 0.030 - 0.012 * (-0.03 - y) / 0.04) / 0.0026) ** 2)) * ((y < -0.03) & (y > -0.07)) * front
        out *= (1 - F(0.35 * (0.4 + age)) * fold)[:, None].astype(F)
        return out

    return Stuff("face", colour, gloss=0.10, hatch_deg=35)


SKIN = plain("skin", "#a9765c", gloss=0.06, hatch_deg=15, vary=0.06)
LEG = plain("leg", "#a97d66", gloss=0.10, hatch_deg=10, vary=0.05)
HAIR = plain("hair", "#3a2b22", gloss=0.12, hatch_deg=60)
GREY_HAIR = plain("grey hair", "#8d867c", gloss=0.05, hatch_deg=70, vary=0.35)
MADDER = spotted("kerchief", "#8e3326", "#e2cfb6")
MADDER_PLAIN = plain("kerchief", "#86301f", hatch_deg=20)
SHAWL = plaid("shawl", "#5d4a3a", "#3c332e", "#8c8478")
GREY_SHAWL = plaid("shawl", "#67645f", "#45444a", "#97928a")
DARK_SHAWL = plain("shawl", "#3d3430", hatch_deg=35)
LINSEY = striped("petticoat", "#33425f", "#b9ad97")
BEDGOWN = plain("bedgown", "#5c6f8c", hatch_deg=70)
LILAC = plain("bedgown", "#b3a7b4", hatch_deg=70)
APRON = plain("apron", "#a49a86", hatch_deg=85)
BROWN_SKIRT = plain("skirt", "#5a4a3e", hatch_deg=82)
SLATE_SKIRT = plain("skirt", "#4b505a", hatch_deg=82)
WILLOW = woven("willow", "#a88356", "#3d2b1b")
HAZEL = plain("hazel", "#7a5a3a", hatch_deg=10)
ROPE = plain("rope", "#4a3f31", hatch_deg=50, vary=0.3)
OAK = planked("oak", "#7c6448")
GREY_WOOD = planked("weathered wood", "#857a6b")
PALE_WOOD = planked("pale wood", "#b3936a", board=0.4)
ASH = plain("ash", "#b08e62", gloss=0.12, hatch_deg=85)
IRON = plain("iron", "#3a3735", gloss=0.35, hatch_deg=45)
TIN = plain("tin", "#9a9a96", gloss=0.9, hatch_deg=80, vary=0.06)
JAPAN = plain("black japan", "#211d1c", gloss=0.85, hatch_deg=80, vary=0.05)
BRASS = plain("brass", "#a9803a", gloss=0.9, hatch_deg=45, vary=0.05)
OILSKIN = plain("oilskin", "#8d7640", gloss=0.45, hatch_deg=72)
BOOT = plain("boot", "#2b2522", gloss=0.5, hatch_deg=20)
SMOCK = plain("smock", "#bdb19a", hatch_deg=78)
FELT = plain("felt", "#26221f", gloss=0.15, hatch_deg=15)
CORD = plain("cord", "#6d5b43", hatch_deg=80)
BAY = plain("bay", "#6f4227", gloss=0.22, hatch_deg=25, vary=0.08)
BLACK_POINTS = plain("black points", "#221a16", gloss=0.2, hatch_deg=70)
LEATHER = plain("leather", "#33261d", gloss=0.4, hatch_deg=30)
CART_BLUE = planked("cart blue", "#3e5873", board=0.19)
RED_LEAD = plain("red lead", "#9c4528", gloss=0.08, hatch_deg=40)
TILT = plain("tarred canvas", "#3b3733", gloss=0.12, hatch_deg=60)
STONE = plain("stone", "#8f8778", hatch_deg=0)
LIME = plain("limewash", "#c9c0ae", hatch_deg=0)
SLATE = planked("slate", "#55585c", board=0.35)
TAR = plain("tar", "#2c2826", gloss=0.2, hatch_deg=8)
CANVAS = plain("sail", "#8a6a50", hatch_deg=60)
FLAME = Stuff("flame", (1.0, 0.7, 0.3), glow=(6.0, 3.4, 1.2))
GLASS_LIT = Stuff("lit glass", (0.9, 0.7, 0.4), gloss=0.4, glow=(2.6, 1.45, 0.5))
GLASS = plain("glass", "#c3c9c4", gloss=1.0, hatch_deg=85, vary=0.02)
HORN = plain("horn", "#b79a62", gloss=0.3, hatch_deg=80, vary=0.18)
LAUREL = plain("laurel", "#33402c", gloss=0.3, hatch_deg=50, vary=0.4)
