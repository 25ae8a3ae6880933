"""A camera on the shore: where each pixel looks, what it meets, and how that is lit.

The camera is a view camera with its back upright: the horizon lies where it is put and uprights stay upright. World
frame: x to the right along the shore, y up, z away from the camera is negative (the camera looks along −z when heading
is 0). A `Sight` holds, pixel by pixel, what a painter needs to know: colour of the thing itself, the direction its
surface faces, how far it is, how hemmed in, how much of the key light reaches it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from drawing.solids import Solid

F = np.float32
Array = np.ndarray
BLOCK = 8


@dataclass
class Sight:
    """What is seen; arrays are (H, W) or (H, W, 3), float32; distance is infinite where there is nothing."""

    distance: Array
    place: Array
    facing: Array
    colour: Array
    glow: Array
    gloss: Array
    open: Array  # 0 hemmed in … 1 open to the sky
    lit: Array  # 0 in shadow of the key … 1 lit
    mark: Array  # which thing and stuff, 0 nothing
    hatch: Array  # hatching direction, radians

    @classmethod
    def empty(cls, shape: tuple[int, int]) -> Sight:
        plain = lambda: np.zeros((*shape, 3), F)  # noqa: E731
        return cls(np.full(shape, np.inf, F), plain(), plain(), plain(), plain(), np.zeros(shape, F), np.ones(shape, F),
                   np.ones(shape, F), np.zeros(shape, np.int32), np.zeros(shape, F))  # fmt: skip

    @property
    def there(self) -> Array:
        return np.isfinite(self.distance)


@dataclass
class Light:
    """A light of the scene; colours are linear and may exceed 1."""

    sky: tuple[float, float, float] = (0.5, 0.5, 0.52)
    ground: tuple[float, float, float] = (0.2, 0.19, 0.17)
    key: tuple[float, float, float] = (0.9, 0.85, 0.78)
    key_from: tuple[float, float, float] = (-0.6, 0.7, 0.4)
    lamps: list[tuple[tuple[float, float, float], tuple[float, float, float]]] = field(default_factory=list)
    haze: tuple[float, float, float] = (0.6, 0.62, 0.65)
    haze_m: float = 1e9
    soft: float = 0.25  # how far the key wraps round a form

    def direction(self) -> Array:
        v = np.asarray(self.key_from, F)
        return v / np.linalg.norm(v)


@dataclass
class View:
    """A camera: picture size in pixels, eye in metres, heading in degrees (0 along −z, positive to the right)."""

    width: int
    height: int
    eye: tuple[float, float, float] = (0.0, 1.6, 0.0)
    heading_deg: float = 0.0
    tall_deg: float = 34.0  # field of view from bottom to top
    horizon: float = 0.42  # of the picture's height from the top

    def __post_init__(self) -> None:
        a = math.radians(self.heading_deg)
        self.forward = np.array([math.sin(a), 0, -math.cos(a)], F)
        self.side = np.array([math.cos(a), 0, math.sin(a)], F)
        self.span = 2 * math.tan(math.radians(self.tall_deg) / 2)
        self.pixel = self.span / self.height
        v = (self.horizon - (np.arange(self.height, dtype=F) + F(0.5)) / self.height) * F(self.span)
        u = ((np.arange(self.width, dtype=F) + F(0.5)) - self.width / 2) * F(self.pixel)
        d = self.forward + u[None, :, None] * self.side + v[:, None, None] * np.array([0, 1, 0], F)
        self.rays = (d / np.linalg.norm(d, axis=2, keepdims=True)).astype(F)

    def pixel_of(self, point: Sequence[float]) -> tuple[float, float, float]:
        """Column, row and depth of a point of the world (row and column may lie outside)."""
        p = np.asarray(point, float) - np.asarray(self.eye)
        depth = float(p @ self.forward)
        depth = depth if abs(depth) > 1e-6 else 1e-6
        column = float(p @ self.side) / depth / self.pixel + self.width / 2
        row = (self.horizon - p[1] / depth / self.span) * self.height
        return column, float(row), depth

    def region_of(self, points: Sequence[Sequence[float]], pad: float = 0.0) -> tuple[float, float, float, float]:
        """The part of the picture, as fractions x, y, width, height, in which points of the world lie."""
        at = np.array([self.pixel_of(p)[:2] for p in points]) / (self.width, self.height)
        low, high = np.clip(at.min(0) - pad, 0, 1), np.clip(at.max(0) + pad, 0, 1)
        return (float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))

    # --- seeing ---------------------------------------------------------------------------------------------------

    def see(self, things: Sequence[Solid], key_from: Sequence[float] | None = None, *, mirrored: bool = False) -> Sight:
        """Trace every thing; `mirrored` sees them as still water at y = 0 shows them."""
        sight = Sight.empty((self.height, self.width))
        for number, thing in enumerate(things, start=1):
            self._see_one(thing, number, sight, key_from, mirrored)
        return sight

    def window(self, thing: Solid, mirrored: bool = False) -> tuple[int, int, int, int] | None:
        low, high = thing.box()
        corners = np.array([[(low, high)[i][0], (low, high)[j][1], (low, high)[k][2]]
                            for i in (0, 1) for j in (0, 1) for k in (0, 1)], F)  # fmt: skip
        world = corners @ thing.turn.T * F(thing.size) + np.asarray(thing.at, F)
        if mirrored:
            world[:, 1] *= -1
        at = [self.pixel_of(p) for p in world]
        if all(d < 0.05 for *_, d in at):
            return None
        if any(d < 0.05 for *_, d in at):
            return 0, self.height, 0, self.width
        c, r = [p[0] for p in at], [p[1] for p in at]
        box = (max(int(min(r)) - 1, 0), min(int(max(r)) + 2, self.height), max(int(min(c)) - 1, 0),
               min(int(max(c)) + 2, self.width))  # fmt: skip
        return box if box[1] > box[0] and box[3] > box[2] else None

    def _see_one(self, thing: Solid, number: int, sight: Sight, key_from: Sequence[float] | None, mirrored: bool) -> None:
        box = self.window(thing, mirrored)
        if box is None:
            return
        r0, r1, c0, c1 = box
        rays = self.rays[r0:r1, c0:c1]
        eye = np.asarray(self.eye, F).copy()
        if mirrored:
            rays = rays * np.array([1, -1, 1], F)
            eye[1] = -eye[1]
        turn, size = thing.turn, F(thing.size)
        own_eye = ((eye - np.asarray(thing.at, F)) @ turn) / size
        own_rays = rays @ turn
        t = _trace(thing, own_eye, own_rays, self.pixel)
        world_t = t * size
        if mirrored:  # nothing under the water is mirrored
            above = eye[1] + world_t * rays[..., 1] > 0
            world_t = np.where(above, world_t, np.inf)
        seen = world_t < sight.distance[r0:r1, c0:c1]
        if not seen.any():
            return
        tt = t[seen]
        d = own_rays[seen]
        p = own_eye + tt[:, None] * d
        x, y, z = (np.ascontiguousarray(p[:, k]) for k in range(3))
        step = np.maximum(tt * F(self.pixel) * F(0.8), F(0.0006))
        n = np.zeros_like(p)
        for sx, sy, sz in ((1, -1, -1), (-1, -1, 1), (-1, 1, -1), (1, 1, 1)):
            e = thing.distance(x + sx * step, y + sy * step, z + sz * step)
            n += e[:, None] * np.array([sx, sy, sz], F)
        n /= np.maximum(np.linalg.norm(n, axis=1, keepdims=True), 1e-9)
        hemmed = np.zeros_like(tt)
        for h, w in ((0.025, 0.45), (0.06, 0.3), (0.14, 0.25), (0.3, 0.2)):
            h = F(h)
            e = thing.distance(x + n[:, 0] * h, y + n[:, 1] * h, z + n[:, 2] * h)
            hemmed += F(w) * np.clip(1 - e / h, 0, 1)
        ground = np.clip((y * size + F(thing.at[1])) / F(0.5), 0, 1)
        openness = np.clip(1 - 0.85 * hemmed, 0, 1) * (F(0.72) + F(0.28) * ground)
        lit = np.ones_like(tt)
        if key_from is not None:
            k = np.asarray(key_from, F)
            k = (k / np.linalg.norm(k)) @ turn
            lit = _shadow(thing, x + n[:, 0] * F(0.012), y + n[:, 1] * F(0.012), z + n[:, 2] * F(0.012), k)
        which = thing.stuff_at(x, y, z)
        colour, glow = np.zeros_like(p), np.zeros_like(p)
        gloss, hatch = np.zeros_like(tt), np.zeros_like(tt)
        mark = np.zeros(tt.shape, np.int32)
        names = {s: i for i, s in enumerate(dict.fromkeys(part.stuff.name for part in thing.parts), start=1)}
        for i, part in enumerate(thing.parts):
            here = which == i
            if not here.any():
                continue
            stuff = part.stuff
            paint = stuff.colour(x[here], y[here], z[here]) if callable(stuff.colour) else np.asarray(stuff.colour, F)
            colour[here], glow[here], gloss[here] = paint, np.asarray(stuff.glow, F), stuff.gloss
            mark[here] = number * 100 + names[stuff.name]
            hatch[here] = math.radians(stuff.hatch_deg)
        out = (slice(r0, r1), slice(c0, c1))
        for target, value in ((sight.distance, tt * size), (sight.colour, colour), (sight.glow, glow), (sight.gloss, gloss),
                              (sight.facing, n @ turn.T), (sight.open, openness), (sight.lit, lit), (sight.mark, mark),
                              (sight.hatch, hatch), (sight.place, (p * size) @ turn.T + np.asarray(thing.at, F))):  # fmt: skip
            part_of = target[out]
            part_of[seen] = value

    def ground(self) -> tuple[Array, Array, Array]:
        """Where each pixel meets y = 0: x, z, and distance (infinite above the horizon)."""
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.where(self.rays[..., 1] < -1e-5, -F(self.eye[1]) / self.rays[..., 1], np.inf).astype(F)
            t = np.where(t > 4000, np.inf, t)
        far = np.where(np.isfinite(t), t, 0)
        return self.eye[0] + far * self.rays[..., 0], self.eye[2] + far * self.rays[..., 2], t

    def ground_shade(self, things: Sequence[Solid], x: Array, z: Array, t: Array, key_from: Sequence[float] | None,
                     reach_m: float = 2.2) -> tuple[Array, Array]:  # fmt: skip
        """How open the ground is beside things, and how much of the key light reaches it: each (H, W), 0–1."""
        openness, lit = np.ones_like(t), np.ones_like(t)
        for thing in things:
            low, high = thing.box()
            centre = (low + high) / 2 @ thing.turn.T * thing.size + np.asarray(thing.at, F)
            half = float(np.linalg.norm((high - low)[[0, 2]])) / 2 * thing.size
            tall = float(high[1]) * thing.size
            near = np.isfinite(t) & (np.hypot(x - centre[0], z - centre[2]) < half + 0.5)
            if near.any():
                p = (np.stack([x[near], np.full(near.sum(), 0.02, F), z[near]], 1) - np.asarray(thing.at, F)) @ thing.turn
                p = (p / thing.size).astype(F)
                d = thing.distance(*(np.ascontiguousarray(p[:, k]) for k in range(3))) * thing.size
                openness[near] *= np.clip(0.35 + 0.65 * np.clip(d / 0.42, 0, 1) ** 0.6, 0, 1)
            if key_from is None or key_from[1] <= 0.02:
                continue
            k = np.asarray(key_from, F)
            k = k / np.linalg.norm(k)
            long = tall / max(float(k[1]), 0.08)
            shift = -k[[0, 2]] * long / 2
            cast = np.isfinite(t) & (np.hypot(x - centre[0] - shift[0], z - centre[2] - shift[1]) < half + long / 2 + 0.3)
            if cast.any():
                p = (np.stack([x[cast], np.full(cast.sum(), 0.01, F), z[cast]], 1) - np.asarray(thing.at, F)) @ thing.turn
                p = (p / thing.size).astype(F)
                lit[cast] *= _shadow(thing, *(np.ascontiguousarray(p[:, i]) for i in range(3)), k @ thing.turn, steps=34)
        _ = reach_m
        return openness, lit


def _trace(thing: Solid, eye: Array, rays: Array, pixel: float) -> Array:
    """Distances along rays to the solid, infinite where missed; blocks of pixels walk together as far as they may."""
    h, w = rays.shape[:2]
    low, high = thing.box()
    rows = np.minimum(np.arange(0, h, BLOCK) + BLOCK // 2, h - 1)
    columns = np.minimum(np.arange(0, w, BLOCK) + BLOCK // 2, w - 1)
    lead = rays[rows][:, columns].reshape(-1, 3)
    wide = F(pixel * BLOCK * 0.8)
    t0, t1 = _slab(eye, lead, low - 0.15, high + 0.15)
    t = np.maximum(t0, F(0.02))
    live = np.flatnonzero(t1 > t)
    missed = np.ones(len(lead), bool)
    missed[live] = False
    for _ in range(44):
        if not len(live):
            break
        p = eye + t[live, None] * lead[live]
        d = thing.distance(p[:, 0], p[:, 1], p[:, 2])
        r = t[live] * wide
        going = d > r * F(1.05)
        t[live] += np.where(going, np.maximum(d - r, F(0.1) * r) * F(0.75), 0)
        over = t[live] > t1[live]
        missed[live[over]] = True
        live = live[going & ~over]
    start = np.repeat(np.repeat(t.reshape(len(rows), -1), BLOCK, 0), BLOCK, 1)[:h, :w]
    miss = np.repeat(np.repeat(missed.reshape(len(rows), -1), BLOCK, 0), BLOCK, 1)[:h, :w]
    out = np.full(h * w, np.inf, F)
    flat = rays.reshape(-1, 3)
    live = np.flatnonzero(~miss.ravel())
    if not len(live):
        return out.reshape(h, w)
    t = start.ravel()[live].copy()
    _, end = _slab(eye, flat[live], low, high)
    d_rays = flat[live]
    for turn in range(56):
        p = eye + t[:, None] * d_rays
        d = thing.distance(p[:, 0], p[:, 1], p[:, 2])
        close = d < np.maximum(F(pixel) * t * F(0.5), F(2e-4))
        out[live[close]] = t[close]
        t = t + np.maximum(d * F(0.8), F(pixel) * t * F(0.25))
        keep = ~close & (t < end)
        if turn == 55:
            grazing = keep & (d < F(pixel) * t * 3)
            out[live[grazing]] = t[grazing]
        live, t, end, d_rays = live[keep], t[keep], end[keep], d_rays[keep]
        if not len(live):
            break
    return out.reshape(h, w)


def _slab(eye: Array, rays: Array, low: Array, high: Array) -> tuple[Array, Array]:
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (low - eye) / rays, (high - eye) / rays
    near, far = np.fmin(a, b).max(1), np.fmax(a, b).min(1)
    return near.astype(F), far.astype(F)


def _shadow(thing: Solid, x: Array, y: Array, z: Array, k: Array, steps: int = 18) -> Array:
    """How much of a distant light from direction k (own frame) reaches points: soft-edged."""
    lit = np.ones_like(x)
    low, high = thing.box()
    p = np.stack([x, y, z], 1)
    t0, t1 = _slab(np.zeros(3, F), np.broadcast_to(k.astype(F), p.shape), low - p, high - p)
    t = np.maximum(t0, F(0.015))
    live = np.flatnonzero(t1 > t)
    t = t[live]
    for _ in range(steps):
        if not len(live):
            break
        d = thing.distance(x[live] + k[0] * t, y[live] + k[1] * t, z[live] + k[2] * t)
        lit[live] = np.minimum(lit[live], np.clip(0.5 + 9 * d / (t + F(0.12)), 0, 1))
        t = t + np.clip(d, F(0.012), F(0.4))
        keep = (t < t1[live]) & (lit[live] > 0.01)
        live, t = live[keep], t[keep]
    return lit


def shade(sight: Sight, light: Light, rays: Array) -> Array:
    """The light that comes from what is seen, linear (H, W, 3); nothing where there is nothing."""
    n, up = sight.facing, sight.facing[..., 1:2]
    sky = np.asarray(light.sky, F) * (F(0.5) + F(0.5) * up) + np.asarray(light.ground, F) * (F(0.5) - F(0.5) * up)
    total = sky * sight.open[..., None]
    k = light.direction()
    wrap = np.clip((n @ k + F(light.soft)) / F(1 + light.soft), 0, 1)
    total = total + np.asarray(light.key, F) * (wrap * sight.lit * (0.55 + 0.45 * sight.open))[..., None]
    shine = np.zeros_like(total)
    half = k - rays
    half /= np.maximum(np.linalg.norm(half, axis=2, keepdims=True), 1e-6)
    spec = np.clip((n * half).sum(2), 0, 1) ** 42 * sight.gloss * sight.lit
    shine += np.asarray(light.key, F) * spec[..., None] * F(1.4)
    back = np.clip(1 + (n * rays).sum(2), 0, 1) ** 4 * (sight.gloss * 0.7 + 0.05)
    shine += np.asarray(light.sky, F) * (back * sight.open)[..., None]
    for place, power in light.lamps:
        to = np.asarray(place, F) - sight.place
        far = np.linalg.norm(to, axis=2)
        to /= np.maximum(far, 1e-4)[..., None]
        fall = np.clip((n * to).sum(2) * 0.85 + 0.15, 0, 1) / (F(0.06) + far * far)
        total = total + np.asarray(power, F) * (fall * (0.35 + 0.65 * sight.open))[..., None]
    out = sight.colour * total + shine + sight.glow
    if light.haze_m < 1e8:
        t = np.where(np.isfinite(sight.distance), sight.distance, 0)
        veil = 1 - np.exp(-t / F(light.haze_m))
        out = out + (np.asarray(light.haze, F) - out) * veil[..., None]
    return np.where(sight.there[..., None], out, 0)


def lifted(linear: Array, white: float = 1.0) -> Array:
    """Linear light to sRGB 0–1, highlights rolled off above about 0.8."""
    v = np.clip(linear, 0, None) / white
    v = np.where(v > 0.7, 0.7 + 0.3 * (1 - np.exp(-(v - 0.7) / 0.3)), v)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.power(np.maximum(v, 1e-9), 1 / 2.4) - 0.055).astype(F)


def linear_of(hex_: str) -> tuple[float, float, float]:
    """A colour written #rrggbb as linear light."""
    v = [int(hex_[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in v)
    return (r, g, b)
