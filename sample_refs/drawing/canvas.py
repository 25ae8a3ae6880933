"""A small painter: modelled shapes on floating-point layers, drawn at twice the size and brought down.

Coordinates are fractions of the picture's height, x from the left edge, y from the top, so that shapes keep their form
whatever the format. Colours are sRGB 0–255. Beside colour and cover, a canvas keeps what an engraver or a draughtsman
would want to know: which way the strokes run on each form (`phase`) and where the outlines are (`lines`).
"""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import binary_erosion, distance_transform_edt, gaussian_filter, map_coordinates  # type: ignore[import-untyped]

Point = tuple[float, float]
Colour = tuple[float, float, float]
Array = NDArray[Any]  # float32 throughout
Texture = Callable[[Array, Array], Array]
SCALE = 2


def unit(x: float, y: float, z: float) -> Colour:
    """A direction of length 1."""
    size = math.sqrt(x * x + y * y + z * z)
    return (x / size, y / size, z / size)


class Canvas:
    """A picture, or one layer of a picture, being painted."""

    def __init__(
        self,
        width: int,
        height: int,
        ground: Colour | None = (128, 128, 128),
        *,
        light: Colour = (-0.6, -0.5, 0.65),
        shadow: float = 0.45,
    ) -> None:
        self.width, self.height = width, height
        self.light, self.shadow = unit(*light), shadow
        shape = (height * SCALE, width * SCALE)
        self.rgb: Array = np.zeros((*shape, 3), np.float32)
        self.cover: Array = np.zeros(shape, np.float32)
        self.phase: Array = np.zeros(shape, np.float32)
        self.lines: Array = np.zeros(shape, np.float32)
        if ground is not None:
            self.rgb[:] = ground
            self.cover[:] = 1
        self.phase[:] = np.arange(shape[0], dtype=np.float32)[:, None] / SCALE

    @property
    def right(self) -> float:
        """The x of the right edge."""
        return self.width / self.height

    @property
    def unit(self) -> float:
        """Pixels of the layers per unit of length."""
        return self.height * SCALE

    def layer(self) -> Canvas:
        """An empty layer of the same size and light."""
        return Canvas(self.width, self.height, None, light=self.light, shadow=self.shadow)

    def grid(self) -> tuple[Array, Array]:
        """x and y of every pixel, in the canvas's coordinates."""
        rows, columns = self.cover.shape
        y = np.arange(rows, dtype=np.float32)[:, None] / np.float32(self.unit)
        x = np.arange(columns, dtype=np.float32)[None, :] / np.float32(self.unit)
        return x, y

    # --- masks ----------------------------------------------------------------------------------------------------

    def _box(self, path: Array, pad: float) -> tuple[int, int, int, int] | None:
        rows, columns = self.cover.shape
        left, top = np.floor(path.min(axis=0) - pad).astype(int)
        right, bottom = np.ceil(path.max(axis=0) + pad).astype(int) + 1
        left, top, right, bottom = max(left, 0), max(top, 0), min(right, columns), min(bottom, rows)
        return None if left >= right or top >= bottom else (int(left), int(top), int(right), int(bottom))

    def _mask(self, path: Array, box: tuple[int, int, int, int]) -> Array:
        image = Image.new("L", (box[2] - box[0], box[3] - box[1]), 0)
        ImageDraw.Draw(image).polygon([(float(x - box[0]), float(y - box[1])) for x, y in path], fill=255)
        return np.asarray(image, np.float32) / 255

    def _blend(self, box: tuple[int, int, int, int], mask: Array, colour: Array) -> None:
        left, top, right, bottom = box
        here = (slice(top, bottom), slice(left, right))
        self.rgb[here] += (colour - self.rgb[here]) * mask[..., None]
        self.cover[here] = np.maximum(self.cover[here], mask)

    # --- shapes ---------------------------------------------------------------------------------------------------

    def solid(
        self,
        points: Sequence[Point],
        colour: Colour,
        *,
        curve: bool = True,
        bulge: float = 1.0,
        reach: float | None = None,
        folds: float = 0,
        fold: float = 0.5,
        fan: float = 0.0,
        texture: Texture | None = None,
        soft: float = 0.0,
        strength: float = 1.0,
        hatch: float | None = None,
        outline: float = 1.0,
        gloss: float = 0.0,
        seed: int = 0,
    ) -> None:
        """A rounded form, lit by the canvas's light.

        `bulge` is how round it is; `reach` how far from the edge it goes on rising (length); `folds` runs that many
        folds down it, `fold` deep; `texture` gives colours from u (0–1 across each row) and v (0–1 down); `hatch` is
        the way an engraver's lines run, in degrees from level.
        """
        path = np.asarray(smooth(points, closed=True) if curve else points, np.float32) * np.float32(self.unit)
        pad = 2 + 3 * soft * self.unit
        box = self._box(path, pad)
        if box is None:
            return
        mask = self._mask(path, box)
        if not mask.any():
            return
        crisp = mask
        height = self._height(mask, reach)
        u, v = _across(mask)
        if folds:
            sway = fan * np.sin(v * 2.3 + seed)
            run = np.sin((u + sway) * folds * 2 * math.pi + seed * 1.7 + 1.1 * np.sin(u * 9 + seed))
            height = height + run * (0.35 + 0.65 * v) * fold * 0.13 * float(height.max())
        slope_y, slope_x = np.gradient(blur(height, 1.5))
        normal_x, normal_y = -slope_x * bulge, -slope_y * bulge
        size = np.sqrt(normal_x**2 + normal_y**2 + 1)
        lambert = (normal_x * self.light[0] + normal_y * self.light[1] + self.light[2]) / size
        lit = self.shadow + (1.12 - self.shadow) * np.clip(0.5 + 0.5 * lambert, 0, 1) ** 1.5
        base = np.asarray(colour, np.float32) if texture is None else texture(u, v)
        paint = base * lit[..., None]
        if gloss:
            paint = paint + (255 * gloss) * (np.clip(lambert, 0, 1) ** 14)[..., None]
        if soft:
            mask = blur(mask, soft * self.unit)
        self._blend(box, mask * strength, np.clip(paint, 0, 255))
        left, top, right, bottom = box
        here = (slice(top, bottom), slice(left, right))
        inside = crisp > 0.5
        if strength > 0.6:
            turn = math.radians(25 if hatch is None else hatch)
            rows = (np.arange(top, bottom, dtype=np.float32)[:, None]) / SCALE
            columns = (np.arange(left, right, dtype=np.float32)[None, :]) / SCALE
            phase = rows * math.cos(turn) - columns * math.sin(turn) + height * (0.34 * bulge / SCALE)
            self.phase[here][inside] = phase[inside]
            self.lines[here][inside] *= 0
        if outline and strength > 0.6:
            ring = inside & ~binary_erosion(inside, iterations=SCALE)
            weight = np.clip(0.75 - 0.5 * (normal_x * self.light[0] + normal_y * self.light[1]) / size, 0.2,
                    1) * outline
            self.lines[here] = np.where(ring, np.maximum(self.lines[here], weight), self.lines[here])

    def _height(self, mask: Array, reach: float | None) -> Array:
        """How high the form stands over its edge, in pixels."""
        shape = mask.shape
        step = 1 if max(shape) < 260 else 2 if max(shape) < 700 else 4
        small = np.pad(mask[::step, ::step] > 0.5, 1)
        far = distance_transform_edt(small)[1:-1, 1:-1].astype(np.float32) * step
        most = float(far.max())
        end = max(min(most, reach * self.unit) if reach else most, 1.0)
        near = np.clip(far / end, 0, 1)
        rise = np.sqrt(np.clip(1 - (1 - near) ** 2, 0, 1)) * end
        rise = blur(rise, max(end / step * 0.16, 0.6))
        if step == 1:
            return rise
        full = Image.fromarray(rise).resize((shape[1], shape[0]), Image.Resampling.BILINEAR)
        return np.asarray(full, np.float32)

    def flat(
        self, points: Sequence[Point], colour: Colour, *, curve: bool = False, soft: float = 0.0, strength: float = 1.0
    ) -> None:
        """A shape of one colour."""
        path = np.asarray(smooth(points, closed=True) if curve else points, np.float32) * np.float32(self.unit)
        box = self._box(path, 2 + 3 * soft * self.unit)
        if box is None:
            return
        mask = self._mask(path, box)
        if soft:
            mask = blur(mask, soft * self.unit)
        self._blend(box, mask * strength, np.asarray(colour, np.float32))

    def oval(self, x: float, y: float, rx: float, ry: float, colour: Colour, *, turn: float = 0.0, form: bool = True,
             **how: float) -> None:
        """An ellipse, modelled or flat, `turn` degrees clockwise."""
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        ring = [
            (x + rx * math.cos(t) * c - ry * math.sin(t) * s, y + rx * math.cos(t) * s + ry * math.sin(t) * c)
            for t in (2 * math.pi * n / 60 for n in range(60))
        ]
        if form:
            self.solid(ring, colour, curve=False, **how)  # type: ignore[arg-type]
        else:
            self.flat(ring, colour, **how)  # type: ignore[arg-type]

    def limb(self, points: Sequence[Point], widths: Sequence[float], colour: Colour, **how: float) -> None:
        """A tapered form along a line: an arm, a leg, a pole."""
        self.solid(ribbon(points, widths), colour, curve=False, **how)  # type: ignore[arg-type]

    def line(
        self, points: Sequence[Point], colour: Colour, width: float, *, curve: bool = True, strength: float = 1.0,
        soft: float = 0.0, taper: bool = False,
    ) -> None:
        """A stroke, `width` as a fraction of the height; a tapered one thins to its ends."""
        path = smooth(points, closed=False) if curve and len(points) > 2 else list(points)
        size = max(width, 1.2 / self.unit)
        widths = [size] * len(path)
        if taper:
            widths = [max(size * math.sin(math.pi * (0.06 + 0.88 * k / (len(path) - 1))),
                    1.0 / self.unit) for k in range(len(path))]
        self.flat(ribbon(path, widths, curve=False), colour, strength=strength, soft=soft)

    def darken(self, points: Sequence[Point], amount: float, soft: float, *, curve: bool = True) -> None:
        """Multiply by a soft shadow."""
        path = np.asarray(smooth(points, closed=True) if curve else points, np.float32) * np.float32(self.unit)
        box = self._box(path, 2 + 3 * soft * self.unit)
        if box is None:
            return
        mask = blur(self._mask(path, box), soft * self.unit)
        left, top, right, bottom = box
        self.rgb[top:bottom, left:right] *= 1 - amount * mask[..., None]

    def glow(self, x: float, y: float, radius: float, colour: Colour, strength: float = 1.0, *,
            flat: float = 1.0) -> None:
        """Add light around a point, falling off smoothly; `flat` squeezes it vertically."""
        path = np.array([[x - 2.2 * radius, y - 2.2 * radius * flat], [x + 2.2 * radius, y + 2.2 * radius * flat]],
                np.float32)
        box = self._box(path * np.float32(self.unit), 0)
        if box is None:
            return
        left, top, right, bottom = box
        yy = (np.arange(top, bottom, dtype=np.float32)[:, None] / self.unit - y) / flat
        xx = np.arange(left, right, dtype=np.float32)[None, :] / self.unit - x
        far = np.sqrt(xx**2 + yy**2) / radius
        fall = np.clip(1 / (1 + 6 * far**2) - 0.033, 0, 1)[..., None] * strength
        here = self.rgb[top:bottom, left:right]
        self.rgb[top:bottom, left:right] = 255 - (255 - here) * (1 - fall * np.asarray(colour, np.float32) / 255)

    # --- layers ---------------------------------------------------------------------------------------------------

    def place(self, layer: Canvas, strength: float = 1.0) -> None:
        """Lay a layer on top."""
        mask = layer.cover * strength
        self.rgb += (layer.rgb - self.rgb) * mask[..., None]
        self.cover = np.maximum(self.cover, mask)
        over = layer.cover > 0.5
        self.phase[over] = layer.phase[over]
        self.lines[over] = layer.lines[over]

    def mirror(self, layer: Canvas, y: float, *, strength: float = 0.6, fade: float = 0.5, ripple: float = 0.004,
               tint: Colour | None = None, seed: int = 0) -> None:
        """Reflect a layer in wet ground or water that begins at `y`, broken by ripples and fading with distance."""
        rows, columns = self.cover.shape
        start = int(y * self.unit)
        depth = np.arange(rows - start, dtype=np.float32)[:, None]
        shake = noise((rows - start, columns), seed, (10, 34),
                7.0) * (ripple * self.unit) * (0.25 + depth / (0.25 * self.unit))
        source_y = start - depth * 1.0 + shake * 0.6
        source_x = np.arange(columns, dtype=np.float32)[None, :] + shake
        where = [np.broadcast_to(source_y, shake.shape), source_x]
        mask = map_coordinates(layer.cover, where, order=1, mode="constant")
        colour = np.stack([map_coordinates(layer.rgb[..., k], where, order=1, mode="nearest") for k in range(3)], -1)
        if tint is not None:
            colour = colour * 0.6 + np.asarray(tint, np.float32) * 0.4
        amount = blur(mask, (2.5, 1.2)) * strength * np.exp(-depth / (fade * self.unit))
        self.rgb[start:] += (colour - self.rgb[start:]) * amount[..., None]

    def paint(self, colours: Array, mask: Array | float = 1.0) -> None:
        """Lay a whole field of colour over the canvas."""
        amount = np.asarray(mask, np.float32)
        self.rgb += (colours - self.rgb) * (amount[..., None] if amount.ndim else amount)

    def done(self) -> Array:
        """The finished colours at the picture's own size, float32 (H, W, 3)."""
        return down(np.clip(self.rgb, 0, 255))


def down(pixels: Array) -> Array:
    """Bring an array from the layers' size to the picture's."""
    rows, columns = pixels.shape[0] // SCALE, pixels.shape[1] // SCALE
    split = pixels[: rows * SCALE, : columns * SCALE].reshape(rows, SCALE, columns, SCALE, *pixels.shape[2:])
    result: Array = split.mean(axis=(1, 3), dtype=np.float32)
    return result


def _across(mask: Array) -> tuple[Array, Array]:
    """Where each pixel of a shape lies between its left and right edge (u), and between top and bottom (v)."""
    inside = mask > 0.5
    rows, columns = mask.shape
    left = np.where(inside.any(axis=1), inside.argmax(axis=1), 0).astype(np.float32)
    right = np.where(inside.any(axis=1), columns - inside[:, ::-1].argmax(axis=1), columns).astype(np.float32)
    ease = max(2.0, rows * 0.025)
    left, right = blur(left, ease, mode="nearest"), blur(right, ease, mode="nearest")
    u = (np.arange(columns, dtype=np.float32)[None, :] - left[:, None]) / np.maximum(right - left, 1)[:, None]
    v = np.broadcast_to(np.linspace(0, 1, rows, dtype=np.float32)[:, None], mask.shape)
    return np.clip(u, 0, 1), v


def smooth(points: Sequence[Point], *, closed: bool, steps: int = 10) -> list[Point]:
    """A Catmull-Rom curve through points."""
    p = np.asarray(points, float)
    n = len(p)
    out: list[Point] = []
    for i in range(n if closed else n - 1):
        a, b, c, d = (
            (p[(i - 1) % n], p[i], p[(i + 1) % n], p[(i + 2) % n])
            if closed
            else (p[max(i - 1, 0)], p[i], p[i + 1], p[min(i + 2, n - 1)])
        )
        for s in range(steps):
            t = s / steps
            q = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
            out.append((float(q[0]), float(q[1])))
    if not closed:
        out.append((float(p[-1][0]), float(p[-1][1])))
    return out


def ribbon(points: Sequence[Point], widths: Sequence[float], *, curve: bool = True) -> list[Point]:
    """The outline of a stroke whose width runs through `widths`, with round ends."""
    both = [(*p, w) for p, w in zip(points, np.interp(np.linspace(0, 1, len(points)), np.linspace(0, 1, len(widths)),
            widths), strict=True)]
    if curve and len(points) > 2:
        path = np.asarray(smooth([b[:2] for b in both], closed=False), float)
        size = np.interp(np.linspace(0, 1, len(path)), np.linspace(0, 1, len(both)), [b[2] for b in both])
    else:
        path, size = np.asarray([b[:2] for b in both], float), np.asarray([b[2] for b in both])
    along = np.gradient(path, axis=0)
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    side = np.stack([-along[:, 1], along[:, 0]], 1) * (size / 2)[:, None]
    out: list[Point] = [(float(x), float(y)) for x, y in path + side]
    for end, sign in ((-1, 1.0), (0, -1.0)):
        turn = math.atan2(along[end, 1], along[end, 0]) * 1.0
        centre, r = path[end], size[end] / 2
        for k in range(1, 6):
            t = turn + sign * (math.pi / 2 - math.pi * k / 6) if sign > 0 else turn - math.pi / 2 - math.pi * k / 6
            out.append((float(centre[0] + r * math.cos(t)), float(centre[1] + r * math.sin(t))))
        if end == -1:
            out.extend((float(x), float(y)) for x, y in (path - side)[::-1])
    return out


def annulus(x: float, y: float, rx: float, ry: float, width: float) -> list[Point]:
    """The outline of a ring: round the outside, over a cut too thin to see, and back round the inside."""
    turns = [2 * math.pi * n / 120 for n in range(121)]
    half = width / 2
    outside = [(x + (rx + half) * math.cos(t), y + (ry + half) * math.sin(t)) for t in turns]
    inside = [(x + (rx - half) * math.cos(t), y + (ry - half) * math.sin(t)) for t in turns]
    return [*outside, *inside[::-1]]


def blur(field: Array, size: float | tuple[float, ...], mode: str = "reflect") -> Array:
    """A field blurred by a Gaussian of that many pixels."""
    return np.asarray(gaussian_filter(field, size, mode=mode))


def mix(a: Colour, b: Colour, t: float) -> Colour:
    """Between two colours."""
    return (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t, a[2] + (b[2] - a[2]) * t)


def noise(shape: tuple[int, int], seed: int, sizes: Sequence[float], stretch: float = 1.0) -> Array:
    """Smooth noise of several sizes (pixels), mean about 0, deviation about 1; `stretch` draws it out sideways."""
    random = np.random.default_rng(seed)
    total = np.zeros(shape, np.float32)
    for size in sizes:
        step = max(size / 3, 1.0)
        rows, columns = int(shape[0] / step) + 3, int(shape[1] / (step * stretch)) + 3
        small = blur(random.standard_normal((rows, columns)).astype(np.float32), min(size / step / 2, 1.5))
        small = (small - small.mean()) / (small.std() + 1e-6)
        big = Image.fromarray(small).resize((shape[1], shape[0]), Image.Resampling.BICUBIC)
        total += np.asarray(big, np.float32)
    return total / np.float32(np.sqrt(len(sizes)))
