"""Lines in a picture: straight edges, the directions they share, where they meet, and the horizon.

Angles run anticlockwise: 0 level, 90 upright, 45 rising to the right; a line has no sense, so they lie in 0–180. Tilts
of a horizon are positive where the right end lies higher. Places are (x, y) as fractions 0–1 of the picture from the
top left; a vanishing point may lie outside. Lengths are shares of the picture's diagonal. All is measured on a bounded
working size, and nothing is random: the same picture gives the same answer.

A camera's lens may bend lines and nobody stands behind a line here: a waterline, a wall or a table edge can be the
strongest level edge of a picture as well as a horizon can.

Sources: Grompone von Gioi, Jakubowicz, Morel & Randall 2010 (straight edges); Fischler & Bolles 1981 (consensus; here
every pair is tried).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, tone

Array = NDArray[np.float64]
Spots = NDArray[np.float64]

LINE_PIXELS = 640  # longer side looked at
LEAST_SIDE = 24  # pixels along the shorter side
LEAST_LENGTH = 0.03  # of the diagonal, of an edge that counts as a line
MOST_SEGMENTS = 160  # the longest are used

CLUSTER_DEG = 4.0  # lines this near to a direction belong to it
LEAST_SHARE = 0.20  # of the length of all lines, that a dominant direction must have
LEAST_TOTAL = 0.5  # of the diagonal, that its lines must measure together

STRAY_DEG = 1.5  # how far a line may point past the vanishing point it supports
LEAST_SUPPORT = 0.25  # of the length of all lines, that must point to a vanishing point
CHANCE_SUPPORT = 1.6  # over the square root of their number: few lines at random exceed this 1 time in 100 (measured)
THICKNESS = 0.015  # diagonals: edges so near and nearly parallel are of one thing and count as one line
LEAST_BEARINGS = 6  # so many lines must run to it, each apart from the next by `BEARING_DEG` as seen from it
BEARING_DEG = 2.0
WAY_DEG = 5.0  # lines this near to each other in direction run one way
LEAST_WAYS = 2.7  # directions, counted by length, that support must come in: fewer are ripples, or a frame's corner
SAME_POINT = 0.05  # diagonals: points nearer than this to each other are one
FARTHEST = 1.5  # diagonals from the middle; lines that meet further out count as parallel


@dataclass(frozen=True)
class Line:
    """One straight edge: its ends, its angle in degrees and its length."""

    start_xy: tuple[float, float]
    end_xy: tuple[float, float]
    angle_deg: float
    length: float


@dataclass(frozen=True)
class Leading:
    """A direction that many lines share.

    angle_deg: 0–180. spread_deg: standard deviation of the lines around it. share: of the length of all lines. length:
    of its lines together, in diagonals. lines: the longest of them, the longest first.
    """

    angle_deg: float
    spread_deg: float
    share: float
    length: float
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Directions:
    """The dominant directions of a picture, the strongest first; none for cannot tell."""

    leading: tuple[Leading, ...]
    sentence: str


@dataclass(frozen=True)
class Vanishing:
    """A point that lines run to.

    xy: the point. spread: how far it may be off, in diagonals (standard deviation). support: the share of the length of
    all lines that point to it. lines: how many.
    """

    xy: tuple[float, float]
    spread: float
    support: float
    lines: int


@dataclass(frozen=True)
class VanishingPoints:
    """The points that lines run to, the best supported first; none for cannot tell."""

    points: tuple[Vanishing, ...]
    sentence: str


# -- straight edges --------


def working_lightness(picture: ArrayLike, longer: int = LINE_PIXELS) -> Array | None:
    """L* (h, w) with the longer side at most so long; None where a side is then shorter than `LEAST_SIDE`.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    rows, columns = array.shape[:2]
    scale = min(1.0, longer / max(rows, columns))
    if min(rows, columns) * scale < LEAST_SIDE:
        colour.linear(array)  # refuses values outside 0–1
        return None
    light = colour.reduced(array, max(1, round(rows * scale) * round(columns * scale)))
    return tone.luminance_to_lightness(light @ colour.LUMINANCE)


def _segments(values: Array) -> Spots:
    """Straight edges (N, 4), x and y of both ends in pixels from the middle, y upwards, the longest first."""
    import cv2

    grey = np.rint(values * 2.55).astype(np.uint8)
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(grey)[0]
    if found is None:
        return np.zeros((0, 4))
    rows, columns = values.shape
    ends = np.asarray(found, dtype=np.float64).reshape(-1, 4)
    ends = (ends + 0.5 - np.tile([columns / 2, rows / 2], 2)) * [1, -1, 1, -1]
    length = _lengths(ends)
    longest = np.argsort(-length, kind="stable")[:MOST_SEGMENTS]
    return np.asarray(ends[longest][length[longest] >= LEAST_LENGTH * math.hypot(rows, columns)])


def _lengths(ends: Spots) -> Array:
    return np.asarray(np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]))


def _angles(ends: Spots) -> Array:
    return np.asarray(np.degrees(np.arctan2(ends[:, 3] - ends[:, 1], ends[:, 2] - ends[:, 0])) % 180.0)


def angle_apart(first_deg: ArrayLike, second_deg: ArrayLike) -> Array:
    """The smaller angle between two lines, 0–90.

    >>> float(angle_apart(179, 2))
    3.0
    """
    turn = np.asarray(first_deg, dtype=np.float64) - np.asarray(second_deg, dtype=np.float64)
    return np.asarray(np.abs((turn + 90.0) % 180.0 - 90.0), dtype=np.float64)


def straight_lines(picture: ArrayLike) -> tuple[Line, ...]:
    """The straight edges of a picture, the longest first, at most `MOST_SEGMENTS`.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    values = working_lightness(picture)
    if values is None:
        return ()
    ends = _segments(values)
    return tuple(_line(row, values.shape) for row in ends)


def _line(ends: Array, shape: tuple[int, ...]) -> Line:
    x0, y0, x1, y1 = (float(v) for v in ends)
    rows, columns = shape
    return Line(
        (x0 / columns + 0.5, 0.5 - y0 / rows),
        (x1 / columns + 0.5, 0.5 - y1 / rows),
        float(_angles(ends[None])[0]),
        math.hypot(x1 - x0, y1 - y0) / math.hypot(rows, columns),
    )


# -- directions --------


def dominant_lines(picture: ArrayLike, most: int = 4) -> Directions:
    """The directions that the straight edges of a picture share.

    Lines are weighted by their length. A direction counts where the lines within 4° of it make up a fifth of the length
    of all and measure half a diagonal together; of lines spread evenly, 4 % would lie so near.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or fewer than one direction is asked for.
    """
    if most < 1:
        raise CannotMeasure("At least one direction must be asked for.")
    values = working_lightness(picture)
    if values is None:
        return Directions((), "Cannot tell: the picture is too small for its lines to be read.")
    ends = _segments(values)
    if not len(ends):
        return Directions((), "Cannot tell: there are no straight lines in the picture.")
    angles, lengths = _angles(ends), _lengths(ends) / math.hypot(*values.shape)
    free = np.ones(len(ends), dtype=bool)
    found: list[Leading] = []
    while len(found) < most and free.any():
        near = (angle_apart(angles[:, None], np.arange(0.0, 180.0, 0.5)[None, :]) <= CLUSTER_DEG) & free[:, None]
        best = np.arange(0.0, 180.0, 0.5)[int((near * lengths[:, None]).sum(axis=0).argmax())]
        for _ in range(5):
            own = free & (angle_apart(angles, best) <= CLUSTER_DEG)
            best = _mean_angle(angles[own], lengths[own])
        own = free & (angle_apart(angles, best) <= CLUSTER_DEG)
        share, length = float(lengths[own].sum() / lengths.sum()), float(lengths[own].sum())
        if share < LEAST_SHARE or length < LEAST_TOTAL:
            break
        spread = math.sqrt(float(np.average(angle_apart(angles[own], best) ** 2, weights=lengths[own])))
        shown = tuple(_line(row, values.shape) for row in ends[own][:12])
        found.append(Leading(best, spread, share, length, shown))
        free &= ~own
    if not found:
        return Directions((), "Cannot tell: the lines of the picture share no direction.")
    said = ", ".join(f"{d.angle_deg:.0f}° ({direction(d.angle_deg)}, {100 * d.share:.0f} %)" for d in found)
    return Directions(tuple(found), f"By length, the lines run at {said}.")


def direction(angle_deg: float) -> str:
    """The direction of a line in words.

    >>> direction(2), direction(88), direction(130)
    ('level', 'upright', 'falling to the right')
    """
    if angle_apart(angle_deg, 0.0) <= 10.0:
        return "level"
    if angle_apart(angle_deg, 90.0) <= 10.0:
        return "upright"
    return "rising to the right" if angle_deg % 180.0 < 90.0 else "falling to the right"


def _mean_angle(angles: Array, weights: Array) -> float:
    doubled = np.radians(2.0 * angles)
    return math.degrees(math.atan2(weights @ np.sin(doubled), weights @ np.cos(doubled))) / 2.0 % 180.0


# -- vanishing points --------


def vanishing_points(picture: ArrayLike, most: int = 2) -> VanishingPoints:
    """Where the straight edges of a picture run together.

    Every pair of lines proposes the point where it crosses; a line supports a point if it points to it within 1.5°. A
    point counts where the part of the length of all lines (of all others, for a further point) that `least_support`
    asks for supports it, a quarter or more, of at least six lines 2° apart, and in more directions than two (as the
    corner of a mount has), and it lies within 1.5 diagonals of the middle; lines that meet further out are parallel
    to the picture, as far as this can see. It says nothing of whether the lines are parallel in the world.

    Raises
    ------
    CannotMeasure
        where it is not a picture, or fewer than one point is asked for.
    """
    if most < 1:
        raise CannotMeasure("At least one point must be asked for.")
    values = working_lightness(picture)
    if values is None:
        return VanishingPoints((), "Cannot tell: the picture is too small for its lines to be read.")
    return _vanishing(_segments(values), values.shape, most)


def _things(ends: Spots, diagonal: float) -> int:
    """How many lines these edges are of: both edges of a mast, a plank or a stroke meet wherever one of them does."""
    middle, angles, lengths = (ends[:, :2] + ends[:, 2:]) / 2.0, _angles(ends), _lengths(ends)
    along = (ends[:, 2:] - ends[:, :2]) / lengths[:, None]
    own: list[int] = []
    for k in range(len(ends)):  # the longest first
        to = middle[k] - middle[own]
        beside = np.abs(to[:, 0] * along[own, 1] - to[:, 1] * along[own, 0]) <= THICKNESS * diagonal
        over = np.abs((to * along[own]).sum(axis=1)) <= 0.5 * lengths[own]
        if not (beside & over & (angle_apart(angles[own], angles[k]) <= 2.0 * STRAY_DEG)).any():
            own.append(k)
    return len(own)


def least_support(lines: int) -> float:
    """The share of the length of so many lines that must point to a vanishing point: more of few, which meet by chance.

    >>> least_support(100), round(least_support(16), 2)
    (0.25, 0.4)
    """
    return min(1.0, max(LEAST_SUPPORT, CHANCE_SUPPORT / math.sqrt(max(1, lines))))


def _vanishing(ends: Spots, shape: tuple[int, ...], most: int) -> VanishingPoints:
    diagonal = math.hypot(*shape)
    lengths = _lengths(ends)
    free = np.ones(len(ends), dtype=bool)
    found: list[Vanishing] = []
    best_support = 0.0
    asked = least_support(_things(ends, diagonal))  # of the lines that point to no point told before
    while len(found) < most and free.sum() >= LEAST_BEARINGS:
        point, own = _consensus(ends, lengths, free, diagonal)
        if point is None:
            break
        support = float(lengths[own].sum() / lengths.sum())
        best_support = max(best_support, support)
        if float(lengths[own].sum() / lengths[free].sum()) < least_support(_things(ends[free], diagonal)):
            break
        xy = (float(point[0]) / shape[1] + 0.5, 0.5 - float(point[1]) / shape[0])
        free &= ~own
        if any(
            math.hypot((xy[0] - p.xy[0]) * shape[1], (xy[1] - p.xy[1]) * shape[0]) < SAME_POINT * diagonal
            for p in found
        ):
            continue  # lines that strayed a little too far from a point told before
        found.append(Vanishing(xy, _uncertainty(ends[own], lengths[own], point) / diagonal, support, int(own.sum())))
    if not found:
        said = (
            f"Cannot tell: at most {100 * best_support:.1f} % of the lines' length points to one place within"
            f" reach, and {100 * asked:.1f} % of so many lines is asked for."
            if best_support
            else "Cannot tell: no lines run together within reach."
        )
        return VanishingPoints((), said)
    said = " and ".join(
        f"at ({p.xy[0]:.2f}, {p.xy[1]:.2f}), give or take {p.spread:.2f} diagonals, with {100 * p.support:.0f} % of"
        " their length"
        for p in found
    )
    return VanishingPoints(tuple(found), f"Lines run together {said}.")


def _consensus(
    ends: Spots, lengths: Array, free: NDArray[np.bool_], diagonal: float
) -> tuple[Array | None, NDArray[np.bool_]]:
    """The crossing of two lines that the most length points to, refined, and the lines that do."""
    nobody = np.zeros(len(ends), dtype=bool)
    which = np.flatnonzero(free)
    lines = _homogeneous(ends[which])
    i, j = np.triu_indices(len(which), 1)
    crossing = np.cross(lines[i], lines[j])
    sure = np.abs(crossing[:, 2]) > math.sin(math.radians(WAY_DEG))  # nearly parallel pairs cross anywhere
    points = crossing[sure, :2] / crossing[sure, 2:]
    points = points[np.hypot(points[:, 0], points[:, 1]) <= FARTHEST * diagonal]
    if not len(points):
        return None, nobody
    weights = np.where(free, lengths, 0.0)
    scores = np.concatenate(
        [(_pointing(ends, part) <= STRAY_DEG) @ weights for part in np.array_split(points, len(points) // 2000 + 1)]
    )
    for place in np.argsort(-scores, kind="stable")[:400]:
        point = points[place]
        own = free & (_pointing(ends, point[None])[0] <= STRAY_DEG)
        if _bearings(ends[own], point) < LEAST_BEARINGS or _ways(ends[own], lengths[own]) < LEAST_WAYS:
            continue
        for _ in range(5):
            moved = _meeting(ends[own], lengths[own], point)
            kept = free & (_pointing(ends, moved[None])[0] <= STRAY_DEG)
            if lengths[kept].sum() < 0.9 * lengths[own].sum() or np.hypot(*moved) > FARTHEST * diagonal:
                break
            point, own = moved, kept
        return point, own
    return None, nobody


def _homogeneous(ends: Spots) -> Array:
    """Lines (N, 3) with unit normals."""
    normal = np.column_stack([ends[:, 1] - ends[:, 3], ends[:, 2] - ends[:, 0]])
    normal = normal / np.maximum(np.hypot(normal[:, 0], normal[:, 1]), 1e-12)[:, None]
    return np.column_stack([normal, -(normal * ends[:, :2]).sum(axis=1)])


def _pointing(ends: Spots, points: Spots) -> Array:
    """How many degrees each line points past each point, (P, N): between the line and the way from its middle."""
    middle = (ends[:, :2] + ends[:, 2:]) / 2.0
    to = points[:, None, :] - middle[None, :, :]
    bearing = np.degrees(np.arctan2(to[..., 1], to[..., 0]))
    return angle_apart(bearing, _angles(ends)[None, :])


def _bearings(ends: Spots, point: Array) -> int:
    """How many lines, each apart by `BEARING_DEG`, run through a point; pieces of one line, on either side, are one."""
    middle = (ends[:, :2] + ends[:, 2:]) / 2.0 - point
    bearing = np.sort(np.degrees(np.arctan2(middle[:, 1], middle[:, 0])) % 180.0)
    count, last = 0, -BEARING_DEG
    for value in bearing:
        if value - last >= BEARING_DEG:
            count, last = count + 1, float(value)
    if count > 1 and 180.0 - last + float(bearing[0]) < BEARING_DEG:
        count -= 1
    return count


def _ways(ends: Spots, lengths: Array) -> float:
    """How many directions lines run in, counted by length: the inverse of the chance that two lie near each other."""
    angles = _angles(ends)
    near = angle_apart(angles[:, None], angles[None, :]) <= WAY_DEG
    return float(lengths.sum() ** 2 / (lengths @ near @ lengths))


def _meeting(ends: Spots, lengths: Array, point: Array) -> Array:
    """The point that lines miss least: squares of the angles, weighted by length, from a first guess."""
    lines = _homogeneous(ends)
    middle = (ends[:, :2] + ends[:, 2:]) / 2.0
    for _ in range(4):
        away = np.maximum(np.hypot(*(middle - point).T), 1.0)
        weight = np.sqrt(lengths) / away
        answer = np.linalg.lstsq(lines[:, :2] * weight[:, None], -lines[:, 2] * weight, rcond=None)[0]
        point = np.asarray(answer, dtype=np.float64)
    return point


def _uncertainty(ends: Spots, lengths: Array, point: Array) -> float:
    """Standard deviation of the point in pixels, by leaving out each line in turn (jackknife)."""
    count = len(ends)
    if count < 3:
        return math.inf
    others = [np.arange(count) != k for k in range(count)]
    points = np.stack([_meeting(ends[kept], lengths[kept], point) for kept in others])
    return math.sqrt((count - 1) / count * float(((points - points.mean(axis=0)) ** 2).sum()))
