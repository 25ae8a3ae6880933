"""Solids given by distance functions: how the figures and things of Merrow Sands are modelled.

Lengths in metres. In a solid's own frame x is forward, y up, z to the right; y = 0 is the ground it stands on. A primitive
answers, for arrays x, y, z of float32, how far a point lies from its surface (negative inside). Cloth is a primitive
whose radius is disturbed by folds, so its distances are not exact; the tracer walks with shortened steps for that.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

F = np.float32
Array = np.ndarray
Vec = Sequence[float]
Distance = Callable[[Array, Array, Array], Array]
Paint = Callable[[Array, Array, Array], Array]


@dataclass(frozen=True)
class Stuff:
    """What a surface is made of: its colour (linear, 0–1, or a function of place), gloss, glow and hatching."""

    name: str
    colour: tuple[float, float, float] | Paint
    gloss: float = 0.0
    glow: tuple[float, float, float] = (0.0, 0.0, 0.0)
    hatch_deg: float = 0.0
    rough: float = 0.0  # strength of a fine unevenness, metres


@dataclass(frozen=True)
class Form:
    """One primitive: a distance function and the box it lies in."""

    distance: Distance
    low: tuple[float, float, float]
    high: tuple[float, float, float]


@dataclass
class Part:
    form: Form
    stuff: Stuff
    blend: float
    cut: bool


@dataclass
class Solid:
    """Primitives joined, blended or cut out of one another, and where the whole stands."""

    parts: list[Part] = field(default_factory=list)
    at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turn: Array = field(default_factory=lambda: np.eye(3, dtype=F))
    size: float = 1.0
    name: str = ""

    def add(self, form: Form, stuff: Stuff, blend: float = 0.0) -> Solid:
        self.parts.append(Part(form, stuff, blend, False))
        return self

    def cut(self, form: Form, stuff: Stuff, blend: float = 0.0) -> Solid:
        self.parts.append(Part(form, stuff, blend, True))
        return self

    def take(self, other: Solid) -> Solid:
        """Add another solid's parts, moved by where that solid stands."""
        for part in other.parts:
            self.parts.append(Part(moved(part.form, other.at, other.turn, other.size), part.stuff, part.blend, part.cut))
        return self

    def put(self, x: float, z: float, yaw_deg: float = 0.0, y: float = 0.0, size: float = 1.0, roll_deg: float = 0.0,
            pitch_deg: float = 0.0) -> Solid:  # fmt: skip
        self.at, self.size = (x, y, z), size
        self.turn = turned(yaw_deg, roll_deg, pitch_deg)
        return self

    def distance(self, x: Array, y: Array, z: Array) -> Array:
        total: Array | None = None
        for part in self.parts:
            d = part.form.distance(x, y, z)
            if total is None:
                total = d
            elif part.cut:
                total = -blended(-total, d, part.blend)
            else:
                total = blended(total, d, part.blend)
        assert total is not None
        return total

    def stuff_at(self, x: Array, y: Array, z: Array) -> Array:
        """The index of the part whose stuff is seen at each point."""
        best = np.full(x.shape, np.inf, F)
        which = np.zeros(x.shape, np.int32)
        for n, part in enumerate(self.parts):
            d = part.form.distance(x, y, z)
            d = np.abs(d) + F(1e-4) if part.cut else d
            nearer = d < best
            best[nearer] = d[nearer]
            which[nearer] = n
        return which

    def box(self) -> tuple[Array, Array]:
        low = np.min([p.form.low for p in self.parts if not p.cut], axis=0)
        high = np.max([p.form.high for p in self.parts if not p.cut], axis=0)
        return low.astype(F) - F(0.02), high.astype(F) + F(0.02)


def turned(yaw_deg: float, roll_deg: float = 0.0, pitch_deg: float = 0.0) -> Array:
    """Own frame → world: yaw turns left about y, roll about the forward axis, pitch lifts the front."""
    a, b, c = (math.radians(v) for v in (yaw_deg, roll_deg, pitch_deg))
    yaw = np.array([[math.cos(a), 0, math.sin(a)], [0, 1, 0], [-math.sin(a), 0, math.cos(a)]])
    roll = np.array([[1, 0, 0], [0, math.cos(b), -math.sin(b)], [0, math.sin(b), math.cos(b)]])
    pitch = np.array([[math.cos(c), -math.sin(c), 0], [math.sin(c), math.cos(c), 0], [0, 0, 1]])
    return (yaw @ pitch @ roll).astype(F)


def blended(a: Array, b: Array, k: float) -> Array:
    """The nearer of two, rounded where they meet over about k metres."""
    if k <= 0:
        return np.minimum(a, b)
    h = np.maximum(F(k) - np.abs(a - b), 0)
    return np.minimum(a, b) - h * h * F(0.25 / k)


def moved(form: Form, at: Vec, turn: Array, size: float) -> Form:
    m = np.asarray(turn, F)
    ox, oy, oz = (F(v) for v in at)
    s = F(size)

    def distance(x: Array, y: Array, z: Array) -> Array:
        a, b, c = (x - ox) / s, (y - oy) / s, (z - oz) / s
        return s * form.distance(
            m[0, 0] * a + m[1, 0] * b + m[2, 0] * c,
            m[0, 1] * a + m[1, 1] * b + m[2, 1] * c,
            m[0, 2] * a + m[1, 2] * b + m[2, 2] * c,
        )

    corners = np.array([[(form.low, form.high)[i][0], (form.low, form.high)[j][1], (form.low, form.high)[k][2]]
                        for i in (0, 1) for j in (0, 1) for k in (0, 1)])  # fmt: skip
    world = corners @ m.T * size + np.asarray(at)
    return Form(distance, tuple(world.min(0)), tuple(world.max(0)))


def turned_form(form: Form, about: Vec, yaw_deg: float = 0, roll_deg: float = 0, pitch_deg: float = 0) -> Form:
    """A primitive made at the origin, turned and brought to a place."""
    return moved(form, about, turned(yaw_deg, roll_deg, pitch_deg), 1.0)


def ellipsoid(c: Vec, r: Vec) -> Form:
    cx, cy, cz = (F(v) for v in c)
    a, b, e = (F(1 / v) for v in r)
    a2, b2, e2 = a * a, b * b, e * e
    least = F(min(r))

    def distance(x: Array, y: Array, z: Array) -> Array:
        px, py, pz = (x - cx) * a, (y - cy) * b, (z - cz) * e
        k0 = np.sqrt(px * px + py * py + pz * pz)
        qx, qy, qz = (x - cx) * a2, (y - cy) * b2, (z - cz) * e2
        k1 = np.sqrt(qx * qx + qy * qy + qz * qz)
        return np.where(k0 < 0.02, -least, k0 * (k0 - 1) / np.maximum(k1, F(1e-6)))

    return Form(distance, tuple(np.subtract(c, r)), tuple(np.add(c, r)))


def ball(c: Vec, r: float) -> Form:
    return ellipsoid(c, (r, r, r))


def limb(a: Vec, b: Vec, ra: float, rb: float, flat: float = 1.0) -> Form:
    """A tapering rod with round ends; `flat` < 1 makes it thinner across z."""
    ax, ay, az = (F(v) for v in a)
    ux, uy, uz = (F(q - p) for p, q in zip(a, b, strict=True))
    inv = F(1 / max(float(ux * ux + uy * uy + uz * uz), 1e-9))
    fz = F(1 / flat)
    r0, dr = F(ra), F(rb - ra)

    def distance(x: Array, y: Array, z: Array) -> Array:
        px, py, pz = x - ax, y - ay, z - az
        t = np.clip((px * ux + py * uy + pz * uz) * inv, 0, 1)
        qx, qy, qz = px - t * ux, py - t * uy, (pz - t * uz) * fz
        return (np.sqrt(qx * qx + qy * qy + qz * qz) - (r0 + dr * t)) * F(min(1.0, flat))

    m = max(ra, rb)
    return Form(distance, tuple(np.minimum(a, b) - m), tuple(np.maximum(a, b) + m))


def path(points: Sequence[Vec], radii: Sequence[float], flat: float = 1.0) -> list[Form]:
    """Rods along a line of points."""
    return [limb(p, q, r, s, flat) for p, q, r, s in zip(points, points[1:], radii, radii[1:], strict=False)]


def block(c: Vec, half: Vec, round_: float = 0.004) -> Form:
    cx, cy, cz = (F(v) for v in c)
    hx, hy, hz = (F(v - round_) for v in half)

    def distance(x: Array, y: Array, z: Array) -> Array:
        qx, qy, qz = np.abs(x - cx) - hx, np.abs(y - cy) - hy, np.abs(z - cz) - hz
        out = np.sqrt(np.maximum(qx, 0) ** 2 + np.maximum(qy, 0) ** 2 + np.maximum(qz, 0) ** 2)
        return out + np.minimum(np.maximum(qx, np.maximum(qy, qz)), 0) - F(round_)

    return Form(distance, tuple(np.subtract(c, half)), tuple(np.add(c, half)))


def drum(c: Vec, radius: float, half: float, axis: str = "y", round_: float = 0.004, top: float | None = None) -> Form:
    """A cylinder (or, with another `top` radius, a cut cone) about an axis through c."""
    cx, cy, cz = (F(v) for v in c)
    r0, r1, hh = radius - round_, (radius if top is None else top) - round_, half - round_
    slope = F(math.cos(math.atan2(abs(r1 - r0), 2 * hh)))

    def distance(x: Array, y: Array, z: Array) -> Array:
        px, py, pz = x - cx, y - cy, z - cz
        a, b, h = {"y": (px, pz, py), "x": (py, pz, px), "z": (px, py, pz)}[axis]
        t = np.clip(h / F(2 * hh) + F(0.5), 0, 1)
        qr = (np.sqrt(a * a + b * b) - (F(r0) + F(r1 - r0) * t)) * slope
        qh = np.abs(h) - F(hh)
        return np.minimum(np.maximum(qr, qh), 0) + np.sqrt(np.maximum(qr, 0) ** 2 + np.maximum(qh, 0) ** 2) - F(round_)

    m = max(radius, top or 0)
    r = {"y": (m, half, m), "x": (half, m, m), "z": (m, m, half)}[axis]
    return Form(distance, tuple(np.subtract(c, r)), tuple(np.add(c, r)))


def ring(c: Vec, big: float, small: float, axis: str = "y", half: bool = False, squash: float = 1.0) -> Form:
    """A ring about an axis; `half` keeps the upper half (a bow handle), `squash` flattens the first radius."""
    cx, cy, cz = (F(v) for v in c)

    def distance(x: Array, y: Array, z: Array) -> Array:
        px, py, pz = x - cx, y - cy, z - cz
        a, b, h = {"y": (px, pz, py), "x": (py, pz, px), "z": (px, py, pz)}[axis]
        if squash != 1:
            a = a / F(squash)
        q = np.sqrt(a * a + b * b) - F(big)
        d = (np.sqrt(q * q + h * h) - F(small)) * F(min(1, squash))
        return np.maximum(d, -py) if half else d

    m = big * max(1, squash) + small
    r = {"y": (m, small, m), "x": (small, m, m), "z": (m, m, small)}[axis]
    return Form(distance, tuple(np.subtract(c, r)), tuple(np.add(c, r)))


def repeated(form: Form, count: int, axis: str, c: Vec = (0, 0, 0)) -> Form:
    """Copies of a primitive about an axis; the primitive lies along the first transverse axis from c."""
    cx, cy, cz = (F(v) for v in c)
    step = F(2 * math.pi / count)

    def distance(x: Array, y: Array, z: Array) -> Array:
        px, py, pz = x - cx, y - cy, z - cz
        a, b = {"y": (px, pz), "x": (py, pz), "z": (px, py)}[axis]
        angle = np.arctan2(b, a)
        angle = angle - np.round(angle / step) * step
        r = np.sqrt(a * a + b * b)
        a, b = r * np.cos(angle), r * np.sin(angle)
        args = {"y": (a + cx, y, b + cz), "x": (x, a + cy, b + cz), "z": (a + cx, b + cy, z)}[axis]
        return form.distance(*args)

    reach = max(abs(v - w) for box in (form.low, form.high) for v, w in zip(box, c, strict=True))
    return Form(distance, tuple(np.subtract(c, reach)), tuple(np.add(c, reach)))


def within(form: Form, *planes: tuple[Vec, Vec]) -> Form:
    """A primitive cut to where it lies behind each plane (point, outward direction)."""
    walls = []
    for point, normal in planes:
        n = np.asarray(normal, float)
        n = n / np.linalg.norm(n)
        walls.append((F(n[0]), F(n[1]), F(n[2]), F(float(n @ np.asarray(point, float)))))

    def distance(x: Array, y: Array, z: Array) -> Array:
        d = form.distance(x, y, z)
        for a, b, c, e in walls:
            d = np.maximum(d, a * x + b * y + c * z - e)
        return d

    return Form(distance, form.low, form.high)


def shell(form: Form, thick: float) -> Form:
    return Form(lambda x, y, z: np.abs(form.distance(x, y, z)) - F(thick), form.low, form.high)


def bumped(form: Form, bump: Paint, most: float) -> Form:
    """A primitive whose surface is pushed out by `bump` metres, at most `most`."""
    return Form(
        lambda x, y, z: form.distance(x, y, z) - bump(x, y, z),
        tuple(np.subtract(form.low, most)),
        tuple(np.add(form.high, most)),
    )


def cloth(
    top: Vec, hem: Vec, radii_top: tuple[float, float], radii_hem: tuple[float, float], *, folds: int = 9,
    depth: float = 0.12, seed: int = 0, belly: float = 0.0, uneven: float = 0.02, start: float = 0.15,
) -> Form:  # fmt: skip
    """A hanging cloth tube from `top` down to `hem`: elliptical, flaring, with folds that deepen on the way down.

    Radii are along x and z; `depth` is the folds' share of the radius at the hem, `belly` swells the middle, `uneven`
    lifts the hem here and there, `start` is where on the way down the folds begin.
    """
    random = np.random.default_rng(seed)
    tx, ty, tz = (F(v) for v in top)
    hx, hy, hz = (F(v) for v in hem)
    waves = [(F(n), F(random.uniform(0, 6.28)), F(random.uniform(-1.5, 1.5)), F(w))
             for n, w in ((folds, 0.62), (folds * 0.62, 0.45), (folds * 1.7, 0.22))]  # fmt: skip
    waves = [(F(round(float(n))), p, s, w) for n, p, s, w in waves]
    length = F(abs(float(ty - hy)))

    def distance(x: Array, y: Array, z: Array) -> Array:
        t = np.clip((ty - y) / (ty - hy), F(-0.1), F(1.1))
        px, pz = x - (tx + (hx - tx) * t), z - (tz + (hz - tz) * t)
        swell = F(belly) * np.sin(np.clip(t, 0, 1) * F(math.pi))
        rx = F(radii_top[0]) + F(radii_hem[0] - radii_top[0]) * t + swell
        rz = F(radii_top[1]) + F(radii_hem[1] - radii_top[1]) * t + swell
        qx, qz = px / rx, pz / rz
        rho = np.sqrt(qx * qx + qz * qz)
        theta = np.arctan2(qz, qx)
        ease = np.clip((t - F(start)) / F(1 - start), 0, 1)
        wave = np.zeros_like(x)
        for n, phase, shear, weight in waves:
            s = np.sin(n * theta + phase + shear * t * F(2.0))
            wave += weight * (s - F(0.35) * s * s)
        least = np.minimum(rx, rz)
        side = (rho - 1 - F(depth) * wave * ease) * least * F(0.72)
        ragged = hy + F(uneven) * np.sin(3 * theta + waves[0][1]) + F(uneven * 0.5) * np.sin(F(7) * theta)
        return np.maximum(side, np.maximum(ragged - y, y - ty - F(0.01)) * F(0.9))

    m = max(*radii_top, *radii_hem) * (1 + 1.3 * depth) + belly
    low = (min(tx, hx) - m, float(hy) - uneven * 1.6, min(tz, hz) - m)
    high = (max(tx, hx) + m, float(ty) + 0.02, max(tz, hz) + m)
    _ = length
    return Form(distance, tuple(float(v) for v in low), tuple(float(v) for v in high))


def folded_bump(direction: Vec, spacing: float, depth: float, seed: int) -> Paint:
    """Soft irregular folds running across `direction`, for `bumped`."""
    random = np.random.default_rng(seed)
    d = np.asarray(direction, float) / np.linalg.norm(direction)
    k = 2 * math.pi / spacing
    phases = random.uniform(0, 6.28, 3)
    wobble = random.uniform(-0.7, 0.7, (2, 3))

    def bump(x: Array, y: Array, z: Array) -> Array:
        u = F(d[0] * k) * x + F(d[1] * k) * y + F(d[2] * k) * z
        w = np.sin(F(7.1) * x + F(wobble[0][0] * 9) * y + F(6.3) * z + F(phases[0]))
        s = np.sin(u + F(1.3) * w + F(phases[1]))
        s2 = np.sin(u * F(1.73) - F(0.8) * w + F(phases[2]))
        return F(depth) * (F(0.7) * s + F(0.4) * s2)

    return bump


def reach(a: Vec, c: Vec, upper: float, lower: float, pole: Vec) -> tuple[float, float, float]:
    """The joint between two rods from a to c that bends towards `pole` (a direction)."""
    p, q = np.asarray(a, float), np.asarray(c, float)
    line = q - p
    dist = float(np.linalg.norm(line))
    dist = min(max(dist, 1e-6), (upper + lower) * 0.999)
    u = line / max(float(np.linalg.norm(line)), 1e-9)
    along = (upper**2 - lower**2 + dist**2) / (2 * dist)
    off = math.sqrt(max(upper**2 - along**2, 0.0))
    side = np.asarray(pole, float)
    side = side - u * float(side @ u)
    side = side / max(float(np.linalg.norm(side)), 1e-9)
    joint = p + u * along + side * off
    return (float(joint[0]), float(joint[1]), float(joint[2]))
