"""The carrier's mare and his two-wheeled cart as solids."""

from __future__ import annotations

import math

import numpy as np
from drawing import stuffs as s
from drawing.people import Pose
from drawing.solids import (
    Array, F, Form, Solid, Stuff, ball, block, bumped, drum, ellipsoid, folded_bump, limb, path, repeated, ring, shell, turned_form,
    within,
)  # fmt: skip
from drawing.things import barrel, candle_lantern

HIDE, STRAP = s.rgb("#6f4227"), s.rgb("#2b211b")


def _hide(x: Array, y: Array, z: Array) -> Array:
    """Bay with dark harness straps: girth, breeching, hip strap."""
    out = HIDE * (1 + F(0.09) * np.sin(9 * x + 4 * y) * np.sin(11 * y + 5 * z))[:, None]
    dusk = np.clip((F(0.72) - y) / F(0.25), 0, 1)[:, None]
    out = out + (s.rgb("#2a1c15") - out) * dusk * F(0.85)
    girth = (np.abs(x + 0.02) < 0.045) & (y > 0.8)
    breech = (np.abs(y - 1.03 - 0.06 * (x + 0.9)) < 0.035) & (x < -0.18)
    hip = (np.abs(x + 0.66 + 0.12 * (y - 1.2)) < 0.026) & (y > 1.02)
    back = (np.abs(z) < 0.022) & (y > 1.3) & (x < 0.5)
    strap = girth | breech | hip | back
    return np.where(strap[:, None], STRAP, out).astype(F)


def horse(*, step: float = 0.0, head_low: float = 0.0) -> Solid:
    """A bay cob mare, 1.5 m at the withers, in cart harness; `step` moves the legs as in a slow walk."""
    h = Solid(name="horse")
    coat = Stuff("bay", _hide, gloss=0.22, hatch_deg=28)
    k = 0.10
    h.add(ellipsoid((-0.12, 1.15, 0), (0.66, 0.335, 0.295)), coat)
    h.add(ellipsoid((-0.66, 1.22, 0), (0.36, 0.33, 0.275)), coat, k)
    h.add(ellipsoid((-0.70, 1.08, 0.11), (0.27, 0.30, 0.15)), coat, k)
    h.add(ellipsoid((-0.70, 1.08, -0.11), (0.27, 0.30, 0.15)), coat, k)
    h.add(ellipsoid((0.42, 1.15, 0), (0.30, 0.36, 0.235)), coat, k)
    h.add(ellipsoid((0.36, 1.16, 0.13), (0.20, 0.30, 0.11)), coat, k)
    h.add(ellipsoid((0.36, 1.16, -0.13), (0.20, 0.30, 0.11)), coat, k)
    h.add(limb((0.20, 1.44, 0), (0.45, 1.47, 0), 0.055, 0.07), coat, 0.12)
    poll = (1.02, 1.80 - 0.55 * head_low, 0.0)
    h.add(limb((0.50, 1.30, 0), poll, 0.235, 0.118, 0.72), coat, k)
    h.add(limb((0.52, 1.12, 0), (0.80, 1.45 - 0.3 * head_low, 0), 0.20, 0.12, 0.75), coat, k)
    nose = (poll[0] + 0.40, poll[1] - 0.38 - 0.08 * head_low, 0)
    h.add(limb(poll, nose, 0.105, 0.062, 0.85), coat, 0.06)
    h.add(ellipsoid((poll[0] + 0.09, poll[1] - 0.16, 0), (0.10, 0.11, 0.072)), coat, 0.05)
    h.add(ellipsoid((nose[0] - 0.005, nose[1] - 0.015, 0), (0.072, 0.068, 0.060)), s.plain("muzzle", "#3d2a20"), 0.04)
    for sign in (-1, 1):
        h.add(limb((poll[0] - 0.01, poll[1] + 0.08, 0.055 * sign), (poll[0] + 0.015, poll[1] + 0.215, 0.075 * sign), 0.036, 0.010), coat, 0.02)
        h.add(ball((poll[0] + 0.135, poll[1] - 0.07, 0.080 * sign), 0.019), s.TAR)
        h.add(block((poll[0] + 0.135, poll[1] - 0.065, 0.110 * sign), (0.05, 0.045, 0.008), 0.006), s.LEATHER)
    # bridle
    for a, r in ((0.33, 0.096), (0.78, 0.076)):
        c = tuple(np.asarray(poll) * (1 - a) + np.asarray(nose) * a)
        h.add(turned_form(ring((0, 0, 0), r, 0.010, "x"), c, pitch_deg=-44), s.LEATHER)
    h.add(limb((poll[0] + 0.0, poll[1] + 0.06, 0.088), (nose[0] - 0.06, nose[1] + 0.02, 0.062), 0.009, 0.009), s.LEATHER)
    # mane and tail
    strands = folded_bump((0.5, 0.25, 1.0), 0.035, 0.010, 8)
    h.add(bumped(limb((0.42, 1.50, 0.02), (poll[0] - 0.05, poll[1] + 0.07, 0.02), 0.085, 0.060, 0.55), strands, 0.02), s.BLACK_POINTS, 0.02)
    h.add(bumped(limb((0.55, 1.45, 0.08), (0.88, poll[1] - 0.10, 0.085), 0.11, 0.08, 0.4), strands, 0.02), s.BLACK_POINTS, 0.02)
    h.add(limb((poll[0] + 0.03, poll[1] + 0.09, 0), (poll[0] + 0.14, poll[1] - 0.04, 0), 0.04, 0.022), s.BLACK_POINTS, 0.02)
    for form in path([(-0.98, 1.36, 0), (-1.08, 1.22, 0.01), (-1.12, 0.85, 0.02), (-1.07, 0.48, 0.02)], (0.05, 0.065, 0.085, 0.03)):
        h.add(bumped(form, strands, 0.015), s.BLACK_POINTS, 0.03)
    # legs
    for sign, lift in ((-1, step), (1, -step)):
        z = 0.145 * sign
        f = 0.20 * lift
        knee, fetlock, hoof = (0.42 + f, 0.56, z), (0.41 + f * 1.7 - abs(f) * 0.2, 0.15 + max(f, 0) * 0.2, z), (0.46 + f * 1.8, 0.045 + max(f, 0) * 0.15, z)
        for form in path([(0.36, 1.02, z), knee], (0.135, 0.070)):
            h.add(form, coat, 0.06)
        h.add(ball(knee, 0.070), coat, 0.03)
        for form in path([knee, fetlock], (0.058, 0.044)):
            h.add(form, s.BLACK_POINTS, 0.03)
        h.add(limb(fetlock, hoof, 0.058, 0.070), s.BLACK_POINTS, 0.03)
        h.add(drum(hoof, 0.088, 0.045, top=0.068), s.TAR, 0.02)
        g = -0.20 * lift
        stifle, hock = (-0.58 + g * 0.4, 0.90, z), (-0.86 + g, 0.56, z)
        fetlock, hoof = (-0.80 + g * 1.6, 0.15 + max(g, 0) * 0.2, z), (-0.75 + g * 1.7, 0.045 + max(g, 0) * 0.1, z)
        h.add(limb((-0.68, 1.05, z), stifle, 0.20, 0.150), coat, 0.06)
        h.add(limb(stifle, hock, 0.130, 0.066), coat, 0.05)
        h.add(limb((hock[0] - 0.03, hock[1] + 0.03, z), hock, 0.052, 0.064), coat, 0.02)
        h.add(limb(hock, fetlock, 0.060, 0.046), s.BLACK_POINTS, 0.03)
        h.add(limb(fetlock, hoof, 0.060, 0.072), s.BLACK_POINTS, 0.03)
        h.add(drum(hoof, 0.090, 0.045, top=0.070), s.TAR, 0.02)
    # collar, hames, saddle
    h.add(turned_form(ring((0, 0, 0), 0.285, 0.062, "x", squash=1.28), (0.57, 1.27, 0), pitch_deg=32), s.LEATHER, 0.01)
    for sign in (-1, 1):
        for form in path([(0.42, 1.72, 0.05 * sign), (0.52, 1.50, 0.235 * sign), (0.66, 1.20, 0.275 * sign), (0.74, 0.98, 0.12 * sign)],
                         (0.022, 0.024, 0.024, 0.018)):  # fmt: skip
            h.add(form, s.ASH, 0.01)
    saddle = within(shell(ellipsoid((-0.02, 1.15, 0), (0.20, 0.395, 0.345)), 0.024), ((-0.02, 1.30, 0), (0, -1, 0)))
    h.add(within(saddle, ((0.11, 0, 0), (1, 0, 0)), ((-0.15, 0, 0), (-1, 0, 0))), s.LEATHER, 0.01)
    h.add(block((-0.02, 1.565, 0), (0.085, 0.045, 0.07), 0.02), s.ASH, 0.02)
    return h


def wheel(*, spokes: int = 14, radius: float = 0.735, tyre: Stuff = s.IRON, wood: Stuff = s.RED_LEAD) -> Solid:
    """A cart wheel about z with its hub at 0: iron tyre, felloes, spokes, turned nave."""
    w = Solid(name="wheel")
    w.add(repeated(limb((0.10, 0, 0.03), (radius - 0.075, 0, 0.005), 0.030, 0.024, 0.9), spokes, "z"), wood)

    def rim(inner: float, outer: float, half: float) -> Form:
        ri, ro, hh = F(inner), F(outer), F(half)

        def distance(x: Array, y: Array, z: Array) -> Array:
            r = np.sqrt(x * x + y * y)
            return np.maximum(np.maximum(r - ro, ri - r), np.abs(z) - hh)

        return Form(distance, (-outer, -outer, -half), (outer, outer, half))

    w.add(rim(radius - 0.095, radius - 0.014, 0.036), _felloes(spokes // 2, wood), 0.006)
    w.add(rim(radius - 0.016, radius, 0.030), tyre)
    w.add(drum((0, 0, 0.03), 0.118, 0.105, "z", round_=0.03, top=0.095), wood, 0.01)
    w.add(ring((0, 0, 0.105), 0.104, 0.013, "z"), tyre)
    w.add(ring((0, 0, -0.045), 0.120, 0.013, "z"), tyre)
    w.add(drum((0, 0, 0.15), 0.050, 0.045, "z", round_=0.01), tyre)
    w.add(block((0.0, 0.0, 0.182), (0.012, 0.055, 0.007), 0.003), tyre)
    return w


def _felloes(count: int, wood: Stuff) -> Stuff:
    def colour(x: Array, y: Array, z: Array) -> Array:
        base = wood.colour(x, y, z) if callable(wood.colour) else np.broadcast_to(np.asarray(wood.colour, F), (len(x), 3))
        part = np.abs(np.mod(np.arctan2(y, x) / F(2 * math.pi) * count + 0.5, 1) - 0.5)
        return np.where((part < 0.012)[:, None], base * F(0.3), base)

    return Stuff(wood.name, colour, wood.gloss, hatch_deg=wood.hatch_deg)


def cart(*, load: bool = True, tilt: bool = True) -> Solid:
    """Two-wheeled carrier's cart; the axle at x = 0, its wheels on y = 0, shafts forward along x."""
    c = Solid(name="cart")
    r = 0.735
    for side in (-1, 1):
        one = wheel().put(0, 0.80 * side, 0 if side > 0 else 180, y=r)
        one.turn = np.array([[1, 0, 0], [0, 1, 0], [0, 0, side]], F) @ np.diag([1, 1, 1]).astype(F)
        c.take(one)
    c.add(drum((0, r, 0), 0.045, 0.80, "z"), s.IRON)
    c.add(block((0.05, 0.90, 0), (1.10, 0.055, 0.56), 0.01), s.OAK)
    for side in (-1, 1):
        c.add(block((-0.02, 1.17, 0.60 * side), (1.02, 0.23, 0.018), 0.006), s.CART_BLUE)
        for x in (-0.95, -0.48, 0.02, 0.50, 0.95):
            c.add(block((x, 1.17, 0.628 * side), (0.028, 0.25, 0.018), 0.006), s.CART_BLUE)
        c.add(block((-0.02, 1.415, 0.61 * side), (1.05, 0.022, 0.035), 0.008), s.OAK)
        shaft = [(-0.8, 0.93, 0.42 * side), (1.05, 0.97, 0.42 * side), (2.1, 1.12, 0.40 * side), (2.95, 1.13, 0.36 * side)]
        for form in path(shaft, (0.050, 0.048, 0.042, 0.028)):
            c.add(form, s.OAK, 0.01)
        c.add(limb((2.0, 1.12, 0.39 * side), (2.62, 1.20, 0.30 * side), 0.010, 0.010), s.ROPE)
    c.add(block((1.0, 1.17, 0), (0.02, 0.23, 0.60), 0.006), s.CART_BLUE)
    c.add(block((-1.04, 1.10, 0), (0.02, 0.16, 0.60), 0.006), s.CART_BLUE)
    if tilt:
        radius, base = 0.66, 1.42

        def canvas(x: Array, y: Array, z: Array) -> Array:
            sag = F(0.045) * np.abs(np.sin((x + F(1.02)) * F(math.pi / 0.51)))
            yy = np.maximum(y - F(base), 0) / F(1.28)
            d = np.abs(np.sqrt(yy * yy + z * z) - F(radius) + sag + F(0.008) * np.sin(14 * y + 9 * x)) - F(0.013)
            return np.maximum(np.maximum(d * F(0.8), np.abs(x + F(0.0)) - F(1.02)), F(base - 0.12) - y)

        c.add(Form(canvas, (-1.04, base - 0.14, -0.72), (1.04, base + 0.92, 0.72)), s.TILT)
        for x in (-1.02, 1.02):
            hoop = ring((x, base, 0), radius + 0.006, 0.020, "x", half=False, squash=1.28)
            c.add(within(hoop, ((0, base - 0.1, 0), (0, -1, 0))), s.ASH)
    if load:
        for x, z, y in ((-0.70, 0.28, 0.955), (-0.70, -0.26, 0.955), (-0.15, 0.0, 0.955)):
            c.take(barrel().put(x, z, 0, y=y))
        c.add(block((-1.12, 1.12, 0.0), (0.10, 0.24, 0.26), 0.02), s.WILLOW)
        c.add(bumped(ellipsoid((1.02, 1.48, 0.30), (0.20, 0.15, 0.24)), folded_bump((1, 0.4, 0.6), 0.12, 0.012, 4), 0.03),
              s.plain("sack", "#9a8a6c", hatch_deg=50), 0.02)  # fmt: skip
    c.take(candle_lantern(lit=False).put(-1.22, 0.45, 0, y=0.42, size=0.95))
    c.add(limb((-1.22, 0.82, 0.45), (-1.10, 0.93, 0.45), 0.006, 0.006), s.ROPE)
    return c


DRIVER = Pose(lean_deg=3, left_foot=(0.16, 0, -0.11), right_foot=(-0.16, 0.01, 0.11), heel_right=0.06, left_hand=(0.10, 0.95, -0.34),
              right_hand=(0.40, 1.22, 0.30), nod_deg=4)  # fmt: skip
SOUNDING = Pose(lean_deg=6, left_foot=(0.18, 0, -0.12), right_foot=(-0.16, 0.01, 0.12), heel_right=0.05, left_hand=(0.30, 1.12, 0.10),
                right_hand=(0.38, 1.32, 0.22), nod_deg=12)  # fmt: skip
