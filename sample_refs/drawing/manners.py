"""Manners: a painted scene made to look like a wood engraving, a watercolour, an early photograph, a drawing."""

from __future__ import annotations

# fmt: off  (rows of points are easier to follow than one number a line)
import numpy as np
from drawing.canvas import SCALE, Array, Canvas, blur, down, noise
from scipy.ndimage import map_coordinates, sobel  # type: ignore[import-untyped]

PAPER = (236, 226, 204)


def grey(pixels: Array) -> Array:
    """Lightness 0–1."""
    return (pixels @ np.array([0.2126, 0.7152, 0.0722], np.float32)) / 255


def ramp(tone: Array, stops: tuple[float, ...], colours: tuple[tuple[int, int, int], ...]) -> Array:
    """Colours along a tone scale."""
    table = np.asarray(colours, np.float32)
    return np.stack([np.interp(tone, stops, table[:, k]) for k in range(3)], -1).astype(np.float32)


def blend(paper: Array, ink: tuple[float, float, float], amount: Array) -> Array:
    """Ink over paper."""
    return paper + (np.asarray(ink, np.float32) - paper) * amount[..., None]


def fields(shape: tuple[int, int]) -> tuple[Array, Array]:
    """Rows and columns of every pixel."""
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    return y, x


def sheet(shape: tuple[int, int], seed: int, colour: tuple[float, float, float] = PAPER, foxed: int = 14) -> Array:
    """A sheet of old paper: fibres, a browned edge and a few fox marks."""
    y, x = fields(shape)
    tone = 0.010 * noise(shape, seed, (2, 8)) + 0.012 * noise(shape, seed + 1, (240,))
    reach = np.minimum(np.minimum(y, shape[0] - 1 - y), np.minimum(x, shape[1] - 1 - x)) / shape[0]
    brown = 0.13 * np.exp(-np.clip(reach + 0.004 * noise(shape, seed + 2, (160,)), 0, 1) / 0.02)
    random = np.random.default_rng(seed + 3)
    for _ in range(foxed):
        cy, cx, r = random.uniform(0, shape[0]), random.uniform(0, shape[1]), random.uniform(2, 9)
        brown += random.uniform(0.02, 0.09) * np.exp(-((y - cy) ** 2 + (x - cx) ** 2) / (2 * r * r))
    out = np.asarray(colour, np.float32) * (1 + tone[..., None])
    result: Array = out * (1 - brown[..., None] * np.array([0.55, 0.9, 1.5], np.float32))
    return result


def engraving(c: Canvas, seed: int, *, spacing: float = 4.6, margin: float = 0.05, lines: float = 0.9) -> Array:
    """Lines that swell with the tone and bend over the forms; a second and third set crosses them in the darks."""
    shape = c.cover.shape
    tone = grey(np.clip(c.rgb, 0, 255))
    tone = np.clip(tone + 1.1 * (tone - blur(tone, 22)), 0, 1)
    dark = np.clip(1.04 - tone * 1.14, 0, 1)
    y, x = fields(shape)
    y, x = y / SCALE, x / SCALE
    waver = noise(shape, seed, (130, 46)) * 0.55
    ink: Array = np.zeros(shape, np.float32)
    across = (c.phase + waver, 0.82 * x + 0.57 * y + 0.5 * (c.phase - y) + waver, 0.5 * x - 0.86 * y + waver)
    for run, start, end, most in zip(across, (0.05, 0.5, 0.72), (1.0, 1.06, 1.1), (0.97, 0.7, 0.6), strict=True):
        wave = np.abs((run / spacing) % 1.0 - 0.5) * 2
        width = np.clip((dark - start) / (end - start), 0, 1) ** 0.86 * most
        cut = np.clip((width - wave) * spacing * SCALE * 0.5 + 0.5, 0, 1)
        ink = np.maximum(ink, cut * np.clip(width / 0.07, 0, 1))
    ink = np.maximum(ink, np.clip(blur(c.lines, 0.7) * 1.9, 0, 1) * lines * np.clip(tone * 3 + 0.3, 0, 1))
    ink = down(ink)
    small = (ink.shape[0], ink.shape[1])
    ink *= np.clip(1.0 + 0.09 * noise(small, seed + 1, (2, 40)), 0, 1)
    y, x = fields(small)
    inset = margin * small[0] * (1 + 0.015 * noise(small, seed + 3, (50,)))
    reach = np.minimum(np.minimum(y, small[0] - 1 - y), np.minimum(x, small[1] - 1 - x)) - inset
    area = np.clip(reach + 0.5, 0, 1)
    border = np.clip(1.6 - np.abs(reach), 0, 1)
    amount = np.maximum(ink * area, border * 0.85)
    return blend(sheet(small, seed + 2), (32, 28, 26), amount * 0.93)


def watercolour(c: Canvas, seed: int, *, margin: float = 0.03, pen: float = 0.25) -> Array:
    """Washes that pool at their edges, granulate in the paper and stop short of the margin, over a little pencil."""
    pixels = c.done()
    shape = pixels.shape[:2]
    y, x = fields(shape)
    shift = [1.3 * noise(shape, seed + k, (9, 40)) for k in (0, 1)]
    moved = np.stack(
        [map_coordinates(pixels[..., k], [y + shift[0], x + shift[1]], order=1, mode="nearest") for k in range(3)], -1
    )
    wash = blur(moved, (0.9, 0.9, 0))
    tone = grey(wash)
    pool = np.clip(blur(tone, 5) - tone, 0, 1) + 0.5 * np.clip(blur(tone, 16) - tone, 0, 1)
    tooth = noise(shape, seed + 3, (1.8, 3.4))
    cloud = noise(shape, seed + 4, (60, 170), 1.8)
    density = np.clip(1 - wash / 252, 0, 1)
    weight = density.mean(axis=-1)
    density = density * (1 + (0.075 * tooth * (1.15 - weight) + 0.07 * cloud)[..., None]) + (pool * 0.42)[..., None]
    inset = margin * shape[0] * (1 + 0.07 * noise(shape, seed + 5, (30, 190)))
    reach = np.minimum(np.minimum(y, shape[0] - 1 - y), np.minimum(x, shape[1] - 1 - x)) - inset
    area = np.clip(reach / 3 + 0.5, 0, 1)
    rim = np.exp(-((reach - 3) ** 2) / 14) * 0.1
    paper = sheet(shape, seed + 6, (244, 239, 226), 5)
    out = paper * np.clip(1 - (density + rim[..., None]) * area[..., None], 0.03, 1)
    out = out * (1 + 0.018 * tooth[..., None])
    pencil = down(c.lines) * pen * np.clip(0.7 + 0.4 * tooth, 0, 1) * area
    return blend(out, (52, 48, 50), pencil)


def _plate_marks(shape: tuple[int, int], seed: int) -> Array:
    """What the wet plate left: dust, pin-holes, a tide of the pour in one corner, thin streaks."""
    y, x = fields(shape)
    height, wide = shape
    marks = 0.010 * noise(shape, seed, (2, 4)) + 0.016 * noise(shape, seed + 1, (150,), 2.5)
    random = np.random.default_rng(seed)
    for _ in range(34):
        cy, cx, r = random.uniform(0, height), random.uniform(0, wide), random.uniform(0.8, 2.6)
        box = (slice(max(int(cy - 12), 0), int(cy + 12)), slice(max(int(cx - 12), 0), int(cx + 12)))
        spot = np.exp(-((x[box] - cx) ** 2 + (y[box] - cy) ** 2) / (2 * r * r))
        marks[box] += random.choice([-0.28, 0.3]) * spot
    from_corner = np.hypot(x, (height - y) * 0.9) / height + 0.02 * noise(shape, seed + 2, (60, 160))
    marks += 0.10 * np.exp(-(((from_corner - 0.17) / 0.012) ** 2)) - 0.12 * np.clip(0.165 - from_corner, 0, 0.03) / 0.03
    marks += 0.004 * noise(shape, seed + 4, (9,), 40.0)
    return marks


def collodion(c: Canvas, seed: int, *, gain: float = 1.0, vignette: float = 0.34) -> Array:
    """The tone 0–1 of a wet plate: blue comes out white and red nearly black; sharp in the middle, soft around it."""
    pixels = c.done()
    shape = pixels.shape[:2]
    blue = np.clip(pixels @ np.array([0.06, 0.26, 0.68], np.float32) / 255, 0, 1)
    y, x = fields(shape)
    far = np.hypot((x / shape[1] - 0.5) / 0.62, (y / shape[0] - 0.47) / 0.62)
    soft = np.clip(far - 0.4, 0, 1)
    tone = blur(blue, 0.9) * (1 - soft) + blur(blue, 4.0) * soft
    low, high = np.percentile(tone[::4, ::4], (0.5, 99.7))
    tone = np.clip((tone - low) / (high - low) * gain, 0, 1)
    tone = 0.04 + 0.93 * (0.45 * tone + 0.55 * tone * tone * (3 - 2 * tone))
    falling = 1 - vignette * np.clip(far - 0.45, 0, 1.2) ** 1.5
    result: Array = np.clip(tone * falling + _plate_marks(shape, seed), 0, 1)
    return result


ALBUMEN = ((36, 22, 17), (96, 64, 46), (164, 126, 94), (240, 222, 190))


def albumen(tone: Array) -> Array:
    """The warm brown of a gold-toned albumen print."""
    return ramp(tone, (0, 0.3, 0.6, 1), ALBUMEN)


def mounted(picture: Array, seed: int, *, oval: bool = True, card: tuple[int, int, int] = (226, 215, 192)) -> Array:
    """A print on its card, with a rounded or oval opening and one ruled line about it."""
    shape = picture.shape[:2]
    y, x = fields(shape)
    height, wide = shape
    if oval:
        far = np.hypot((x - wide / 2) / (0.435 * wide), (y - 0.487 * height) / (0.452 * height))
        reach = (1 - far) * 0.44 * wide
    else:
        edge = 0.042 * height
        reach = np.minimum(np.minimum(y, height * 0.985 - y), np.minimum(x, wide - 1 - x)) - edge
    mask = np.clip(reach + 0.5, 0, 1)
    paper = sheet(shape, seed, card, 8)
    dip = np.clip(blur(mask, 6) - mask, 0, 1)
    paper = paper * (1 - 0.28 * dip[..., None])
    rule = np.exp(-((reach + 15) ** 2) / 3.0) * 0.55
    paper = blend(paper, (122, 84, 48), rule)
    result: Array = paper * (1 - mask[..., None]) + picture * mask[..., None]
    return result


def cased(tone: Array, seed: int) -> Array:
    """A direct positive on glass in its case: cold greys, a brass mat with a domed opening, dark leather."""
    shape = (tone.shape[0], tone.shape[1])
    y, x = fields(shape)
    height, wide = shape
    glass = ramp(tone, (0, 0.4, 0.8, 1), ((22, 21, 22), (82, 79, 76), (168, 162, 150), (206, 198, 182)))
    inner_x, top, bottom = 0.335 * wide, 0.17 * height, 0.885 * height
    dome = np.hypot((x - wide / 2) / inner_x, np.clip((top + 0.2 * height - y) / (0.2 * height), 0, None))
    reach = np.minimum((1 - dome) * inner_x, bottom - y)
    opening = np.clip(reach + 0.5, 0, 1)
    border = np.minimum(np.minimum(y, height - 1 - y), np.minimum(x, wide - 1 - x))
    mat = np.clip(border - 0.075 * wide, 0, 1)
    grain = noise(shape, seed, (2, 3))
    brass = np.array([176, 138, 72], np.float32) * (1 + 0.10 * ((x - y * 0.6) / wide)[...,
            None] - 0.12 + 0.035 * grain[..., None])
    brass += 18 * noise(shape, seed + 1, (160,))[..., None] * np.array([1, 0.9, 0.6], np.float32)
    bevel = np.exp(-((reach + 6) ** 2) / 14) - 0.8 * np.exp(-((reach + 16) ** 2) / 20)
    lip = np.exp(-((border - 0.083 * wide) ** 2) / 16)
    brass = brass * (1 + 0.3 * (bevel - lip)[..., None])
    leather = np.array([58, 34, 28], np.float32) * (1 + 0.16 * noise(shape, seed + 2, (4, 7))[..., None])
    leather *= (0.75 + 0.5 * np.exp(-((border - 0.035 * wide) ** 2) / 160))[..., None]
    out = leather * (1 - mat[..., None]) + brass * mat[..., None]
    shade = np.clip(1 - blur(1 - opening, 7) * 0.75, 0, 1)
    result: Array = out * (1 - opening[..., None]) + glass * shade[..., None] * opening[..., None]
    return result


def chalk(c: Canvas, seed: int, *, paper: tuple[int, int, int] = (150, 156, 160), ink: tuple[int, int, int] = (36, 32,
        34),
          white: float = 1.0, outline: float = 0.8) -> Array:
    """Black and white chalk on toned paper: strokes dragged over the grain, with the paper left between."""
    pixels = c.done()
    shape = pixels.shape[:2]
    tone = grey(pixels)
    tooth = noise(shape, seed, (2.2, 3.6))
    y, x = fields(shape)
    bend = 6 * noise(shape, seed + 1, (120,))
    stroke = np.sin((x * 0.78 + y * 0.62 + bend) / 2.6) * 0.6 + np.sin((x * 0.7 + y * 0.71 + bend * 1.7) / 1.7) * 0.4
    level = grey(np.asarray(paper, np.float32))
    dark = np.clip((level - tone) / level, 0, 1)
    amount = np.clip(dark * 1.35 - 0.12 + 0.2 * stroke + 0.2 * tooth, 0, 1) * np.clip(dark * 6 - 0.3, 0, 1)
    edges = np.hypot(sobel(blur(tone, 1.0), 0), sobel(blur(tone, 1.0), 1))
    line = np.clip(down(c.lines) * 1.5 + edges * 0.5, 0, 1) * outline * np.clip(0.8 + 0.4 * tooth, 0, 1)
    out = blend(sheet(shape, seed + 2, paper, 3), ink, np.clip(np.maximum(amount * 0.9, line), 0, 0.93))
    light = np.clip((tone - level - 0.06) * 2.6, 0, 1)
    body = np.clip(light * 1.25 - 0.12 + 0.24 * stroke + 0.26 * tooth, 0, 1) * np.clip(light * 5, 0, 1) * white
    return blend(out, (248, 243, 230), np.clip(body * (1 - line * 0.7), 0, 0.94))


def ink_wash(c: Canvas, seed: int) -> Array:
    """Pen outline and washes of one brown ink, laid in three flat steps."""
    pixels = c.done()
    shape = pixels.shape[:2]
    tone = blur(grey(pixels), 1.6) + 0.02 * noise(shape, seed, (24, 70))
    steps = sum(1 / (1 + np.exp(-(tone - at) * 46)) for at in (0.24, 0.42, 0.6, 0.8)) / 4
    level = 0.12 + 0.88 * (0.62 * steps + 0.38 * np.clip(tone, 0, 1))
    pool = np.clip(blur(level, 5) - level, 0, 1)
    tooth = noise(shape, seed + 1, (2.5, 4))
    density = np.clip((1 - level) * (1.16 + 0.07 * tooth) + pool * 0.7 - 0.02, 0, 1)
    out = sheet(shape, seed + 2, (240, 232, 212), 9)
    out = out * (1 - density[..., None] * np.array([0.70, 0.76, 0.83], np.float32))
    pen = np.clip(blur(down(c.lines), 0.5) * 1.6, 0, 1) * np.clip(0.85 + 0.25 * noise(shape, seed + 4, (30,
            )), 0, 1)
    return blend(out, (44, 30, 24), pen * 0.9)


def oil(c: Canvas, seed: int, *, length: float = 13.0) -> Array:
    """Short loaded strokes that follow the forms, with the ridges of the bristles, on a brown ground."""
    pixels = c.done()
    shape = pixels.shape[:2]
    height, wide = shape
    tone = grey(pixels)
    guide = blur(tone, 5)
    gy, gx = sobel(guide, 0), sobel(guide, 1)
    angle = np.where(np.hypot(gx, gy) > 0.02, np.arctan2(gy, gx) + np.pi / 2, 0.25 * noise(shape, seed, (70,)))
    ground = np.array([118, 86, 60], np.float32)
    out = (0.35 * ground + 0.65 * blur(pixels, (7, 7, 0))).astype(np.float32)
    ridge = np.zeros(shape, np.float32)
    random = np.random.default_rng(seed)
    sizes = ((length * 1.5, 5.5, 2.6), (length, 3.4, 5.5), (length * 0.55, 1.8, 9.0))
    detail = np.hypot(sobel(blur(tone, 1.2), 0), sobel(blur(tone, 1.2), 1))
    for n, (long, broad, thick) in enumerate(sizes):
        count = int(height * wide / (long * broad * 4) * (4.2 if n == 0 else 1.2))
        where = random.random((count, 2)) * (height - 1, wide - 1)
        if n == 2:
            keep = random.random(count) < np.clip(detail[where[:, 0].astype(int), where[:, 1].astype(int)] * 6, 0.03, 1)
            where = where[keep]
        span = int(long + broad + 2)
        ly, lx = np.mgrid[-span : span + 1, -span : span + 1].astype(np.float32)
        for cy, cx in where.astype(int):
            y0, y1, x0, x1 = max(cy - span, 0), min(cy + span + 1, height), max(cx - span, 0), min(cx + span + 1, wide)
            part = (slice(y0 - cy + span, y1 - cy + span), slice(x0 - cx + span, x1 - cx + span))
            a = float(angle[cy, cx]) + random.normal(0, 0.16)
            along, side = lx[part] * np.cos(a) + ly[part] * np.sin(a), -lx[part] * np.sin(a) + ly[part] * np.cos(a)
            mask = np.clip(1.15 - (along / long) ** 4 - (side / broad) ** 2, 0, 0.6) / 0.6
            colour = pixels[cy, cx] * (1 + random.normal(0, 0.028)) + random.normal(0, 2.2, 3)
            here = (slice(y0, y1), slice(x0, x1))
            out[here] += (colour - out[here]) * (mask * 0.9)[..., None]
            ridge[here] += (np.cos(side * 2.2) * 0.4 + side / broad - ridge[here]) * mask * min(thick / 6, 1)
    relief = -sobel(blur(ridge, 0.6), 0) - 0.6 * sobel(blur(ridge, 0.6), 1)
    result: Array = out * (1 + 0.022 * np.clip(relief, -3, 3)[..., None])
    return result


def camera(c: Canvas, seed: int, *, grain: float = 2.0, vignette: float = 0.3, soft: float = 0.7) -> Array:
    """A present-day colour photograph: a little lens softness, fall-off and grain."""
    pixels = c.done()
    shape = pixels.shape[:2]
    y, x = fields(shape)
    far = np.hypot(x / shape[1] - 0.5, y / shape[0] - 0.5)
    sharp = blur(pixels, (soft, soft, 0))
    bloom = blur(np.clip(sharp - 190, 0, None), (14, 14, 0))
    speck = noise(shape, seed, (2.0, 3.0))[..., None] + 0.35 * noise(shape, seed + 1, (2.5,))[..., None] * np.array([1,
            -0.4, -0.8])
    result: Array = (sharp + bloom * 0.5) * (1 - vignette * far[..., None] ** 2) + grain * speck.astype(np.float32)
    return result
