"""The horizon of a picture, or rather its strongest level edge that runs far across.

Tilts are in degrees, positive where the right end lies higher; rows are fractions 0–1 of the height from the top, where
the edge crosses the middle of the width. Nobody stands behind the line: a waterline, a wall or a table edge is found as
well as a horizon, and where two such edges rival, neither is told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.looks import lines

Array = NDArray[np.float64]

MOST_TILT_DEG = 15.0
LEAST_STEP = 2.0  # in L*, between what lies above and what lies below
LEAST_WIDTH = 0.6  # of the picture's width, along which the edge must be seen
RIVAL = 0.8  # another level edge that is this part as strong makes it doubtful which is meant
MARGIN = 0.08  # of the height at the top and the bottom, where edges are rather those of a mount or a page
LEAST_OUTER = 0.25  # of the outer quarters of the width, left and right, in which the edge must be seen
APART = 0.06  # of the height: nearer edges are one
STRIPS = 32  # across the width
BLOCKS = 8  # of neighbouring strips, left out in turn to see how far the answer rests on them
BAND = 0.02  # of the height, looked at above and below
STRAY = 0.003  # of the height, by which the edge may leave a straight line; at least 1 pixel
CAP = 15.0  # in L*: a stronger step counts no more, so that one dark hull does not make a horizon


@dataclass(frozen=True)
class Horizon:
    """The strongest level edge, or why it cannot be told.

    row: fraction of the height where it crosses the middle. tilt_deg, and tilt_spread_deg, row_spread (standard
    deviations). width: share of the width along which it is seen. step: L* above less L* below it. rivals: rows of
    other level edges nearly as strong.
    """

    row: float | None
    tilt_deg: float | None
    row_spread: float | None
    tilt_spread_deg: float | None
    width: float | None
    step: float | None
    rivals: tuple[float, ...]
    sentence: str


def horizon(picture: ArrayLike) -> Horizon:
    """The strongest level edge of a picture, within 15° of level.

    For every tilt and height the step of L* from above to below is averaged along the line (each of 32 strips counting
    at most 15, either way); the strongest line is then followed strip by strip, and fitted to where most strips agree.
    It is told if six tenths of the width agree and some of both outer quarters, the step is 2 L* or more, and no other
    level edge is four fifths as strong. The spreads come from leaving out an eighth of the width in turn and following
    the rest (jackknife), so that a skyline that is not straight shows. The topmost and lowest 8 % are not looked at.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    values = lines.working_lightness(picture)
    if values is None:
        return _untold("the picture is too small for its lines to be read.")
    tilts, rows, scores = _all_lines(values)
    if not scores.size:
        return _untold("the picture is too small for its lines to be read.")
    strength = np.abs(scores)
    best = np.unravel_index(int(strength.argmax()), strength.shape)
    peak = float(strength[best])
    if peak < LEAST_STEP:
        return _untold(f"no level edge has a step of {LEAST_STEP:.0f} in L*.")
    height = values.shape[0]
    nearby = np.abs(rows - rows[best[1]]) <= APART * height
    if -float((scores[best[0]] * np.sign(scores[best])).min(where=nearby, initial=0.0)) >= RIVAL * peak:
        return _untold("the strongest level edge is a line with like tones on both sides, such as a rope or a rail.")
    fit = _followed(values, float(tilts[best[0]]), float(rows[best[1]]), math.copysign(1.0, float(scores[best])))
    if fit is None:
        return _untold(f"the strongest level edge is not seen straight across {100 * LEAST_WIDTH:.0f} % of the width.")
    row, slope, row_spread, slope_spread, width, step = fit
    rivals = _rivals(strength, rows / height, float(rows[best[1]]) / height, RIVAL * peak)
    if rivals:
        others = ", ".join(f"{100 * other:.0f} %" for other in rivals)
        return _untold(f"level edges rival, at {100 * row / height:.0f} % and {others} of the height.", rivals)
    if abs(step) < LEAST_STEP:
        return _untold(f"no level edge has a step of {LEAST_STEP:.0f} in L*.")
    tilt = -math.degrees(math.atan(slope))
    if abs(tilt) > MOST_TILT_DEG + 1.0:
        return _untold(f"the strongest edge is tilted by more than {MOST_TILT_DEG:.0f}°.")
    tilt_spread = math.degrees(math.atan(slope_spread))
    tilted = (
        "level"
        if abs(tilt) < max(0.1, 2.0 * tilt_spread)
        else f"its {'right' if tilt > 0 else 'left'} end higher by {abs(tilt):.1f}°"
    )
    said = (
        f"The strongest level edge lies at {100 * row / height:.0f} % of the height from the top, {tilted}, give or"
        f" take {tilt_spread:.1f}°, seen along {100 * width:.0f} % of the width."
    )
    return Horizon(row / height, tilt, row_spread / height, tilt_spread, width, step, (), said)


def _untold(why: str, rivals: tuple[float, ...] = ()) -> Horizon:
    return Horizon(None, None, None, None, None, None, rivals, f"Cannot tell: {why}")


def _band(height: int) -> int:
    return max(2, round(BAND * height))


def _all_lines(values: Array) -> tuple[Array, Array, Array]:
    """Tilts in degrees, rows at the middle, and the mean step along each line, (tilts, rows); positive: light above."""
    height, width = values.shape
    band = _band(height)
    edges = np.linspace(0, width, min(STRIPS, width) + 1).round().astype(int)
    strips = np.stack([values[:, a:b].mean(axis=1) for a, b in pairwise(edges)], axis=1)
    sums = np.concatenate([np.zeros((1, strips.shape[1])), np.cumsum(strips, axis=0)])
    steps = (
        2 * sums[band:-band] - sums[: -2 * band] - sums[2 * band :]
    ) / band  # at the row lines band … height − band
    steps = np.clip(steps, -CAP, CAP)
    off = (edges[:-1] + edges[1:]) / 2.0 - width / 2.0
    tilts = np.arange(-MOST_TILT_DEG, MOST_TILT_DEG + 0.01, 0.5)
    rows = np.arange(band, height - band + 1, dtype=np.float64)
    scores = np.zeros((len(tilts), len(rows)))
    for number, tilt in enumerate(tilts):
        shift = -math.tan(math.radians(float(tilt))) * off  # rows grow downwards
        for strip, moved in enumerate(shift):
            scores[number] += np.interp(rows + moved, rows, steps[:, strip], left=0.0, right=0.0)
    inner = (rows >= MARGIN * height) & (rows <= (1.0 - MARGIN) * height)
    return tilts, rows[inner], scores[:, inner] / len(off)


def _followed(
    values: Array, tilt: float, row: float, sign: float
) -> tuple[float, float, float, float, float, float] | None:
    """Row at the middle, slope (rows for a column), their standard deviations, share of the width, and step.

    In each strip the steepest place near the line is sought; the straight line that most strips agree with is fitted.
    """
    height, width = values.shape
    band = _band(height)
    edges = np.linspace(0, width, min(STRIPS, width) + 1).round().astype(int)
    slope = -math.tan(math.radians(tilt))
    x, y, size = [], [], []
    reach = 2 * band + 2
    fine = np.arange(-reach, reach + 1, dtype=np.float64)
    for a, b in pairwise(edges):
        columns = np.arange(a, b)
        at = row + slope * (columns + 0.5 - width / 2.0)
        # The profile across the line, taken along its slope, so that a strip does not blur it.
        wanted = at[None, :] + fine[:, None] - 0.5
        if wanted.min() < 0 or wanted.max() > height - 1:
            continue
        low = np.floor(wanted).astype(int).clip(0, height - 2)
        part = wanted - low
        profile = (values[low, columns] * (1 - part) + values[low + 1, columns] * part).mean(axis=1)
        steep = -sign * np.convolve(profile, [0.25, 0.5, 0.0, -0.5, -0.25], "same")[3:-3]
        peak = int(steep.argmax())
        if 0 < peak < len(steep) - 1 and steep[peak] > 0:
            before, here, after = steep[peak - 1 : peak + 2]
            bend = before - 2 * here + after
            offset = 0.5 * (before - after) / bend if bend < 0 else 0.0
            place = fine[3 + peak] + offset
            above = profile[(fine < place - 1) & (fine > place - 1 - band)]
            below = profile[(fine > place + 1) & (fine < place + 1 + band)]
            gap = float(above.mean() - below.mean()) if above.size and below.size else 0.0
            if sign * gap >= LEAST_STEP / 2.0:
                x.append((a + b) / 2.0 - width / 2.0)
                y.append(row + slope * x[-1] + place)
                size.append(gap)
    strips = len(edges) - 1
    across, down, gaps = np.array(x), np.array(y), np.array(size)
    kept = _agreeing(across, down, height)
    seen = float(kept.sum()) / strips
    quarter = strips / 4.0
    outer = [float((kept & (side * across > width / 4.0)).sum()) / quarter for side in (-1, 1)]
    if kept.sum() < 4 or seen < LEAST_WIDTH or min(outer) < LEAST_OUTER:
        return None
    row, slope, row_off, slope_off = _fitted(across[kept], down[kept])
    block = ((across / width + 0.5) * BLOCKS).astype(int)
    others = []
    for left_out in np.unique(block):
        rest = block != left_out
        if rest.sum() >= 4:
            own = _agreeing(across[rest], down[rest], height)
            others.append(_fitted(across[rest][own], down[rest][own])[:2])
    if len(others) > 1:
        again = np.array(others)
        jack = np.sqrt((len(again) - 1) / len(again) * ((again - again.mean(axis=0)) ** 2).sum(axis=0))
        row_off, slope_off = max(row_off, float(jack[0])), max(slope_off, float(jack[1]))
    return row, slope, row_off, slope_off, seen, float(np.median(gaps[kept]))


def _agreeing(across: Array, down: Array, height: int) -> NDArray[np.bool_]:
    """The places that lie on the one straight line, through two of them, that most lie on."""
    if len(across) < 2:
        return np.zeros(len(across), dtype=bool)
    stray = max(1.0, STRAY * height)
    i, j = np.triu_indices(len(across), 1)
    slopes = (down[j] - down[i]) / (across[j] - across[i])
    off = np.abs(down[i, None] + slopes[:, None] * (across[None, :] - across[i, None]) - down[None, :])
    agreed = off <= stray
    return np.asarray(agreed[int((agreed.sum(axis=1) - off.clip(0, stray).mean(axis=1) / stray).argmax())])


def _fitted(across: Array, down: Array) -> tuple[float, float, float, float]:
    """Row at the middle, slope, and their standard deviations; each place is off by a twentieth of a pixel at least."""
    design = np.column_stack([np.ones(len(across)), across])
    answer = np.linalg.lstsq(design, down, rcond=None)[0]
    left = down - design @ answer
    noise = max(0.05, math.sqrt(float(left @ left) / max(1, len(across) - 2)))
    off = noise * np.sqrt(np.diag(np.linalg.inv(design.T @ design)))
    return float(answer[0]), float(answer[1]), float(off[0]), float(off[1])


def _rivals(strength: Array, rows: Array, own: float, least: float) -> tuple[float, ...]:
    """Rows of other level edges at least so strong, apart from each other and from the own one."""
    best = strength.max(axis=0)
    taken = [own]
    found: list[float] = []
    for place in np.argsort(-best, kind="stable"):
        if best[place] < least or len(found) == 3:
            break
        if all(abs(rows[place] - other) > APART for other in taken):
            taken.append(float(rows[place]))
            found.append(float(rows[place]))
    return tuple(found)
