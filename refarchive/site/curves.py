"""Where a curve over time meets a height: risings, settings, twilights, and the stretches between them.

The curve is any function from an array of instants [s] to an array of heights; a tide would do as well as the sun.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from refarchive.site.instants import Array, Span

Curve = Callable[[Array], Array]


@dataclass(frozen=True)
class Crossing:
    """An instant at which a curve passes through a level, upwards or downwards."""

    at: float
    level: float
    upward: bool


def crossings(
    curve: Curve, start: float, end: float, levels: Sequence[float], step_s: float = 300.0
) -> tuple[Crossing, ...]:
    """Every instant from `start` to just before `end` at which a curve passes through one of the levels, in order.

    The curve is looked at every `step_s` seconds; the tops and bottoms between are found too, so that a curve that
    only just reaches a level is not missed; each crossing is then halved in to a ten-thousandth of a second.
    """
    steps = max(3, math.ceil((end - start) / step_s) + 1)
    at = np.linspace(start - step_s, end + step_s, steps + 2)  # a step beyond, so that no turning point is at the edge
    height = curve(at)
    turn = np.flatnonzero((height[1:-1] - height[:-2]) * (height[2:] - height[1:-1]) <= 0) + 1
    if turn.size:
        top = _turning_points(curve, at[turn - 1], at[turn + 1], height[turn] >= height[turn - 1])
        at = np.sort(np.unique(np.concatenate([at, top])))
        height = curve(at)
    below: list[float] = []
    above: list[float] = []
    wanted: list[float] = []
    upward: list[bool] = []
    for level in levels:
        high = height >= level
        where = np.flatnonzero(high[1:] != high[:-1])
        below += at[where].tolist()
        above += at[where + 1].tolist()
        wanted += [level] * len(where)
        upward += high[where + 1].tolist()
    if not wanted:
        return ()
    left, right = np.array(below), np.array(above)
    goal, rising = np.array(wanted), np.array(upward)
    for _ in range(max(1, math.ceil(math.log2(step_s / 5e-5)))):
        half = (left + right) / 2
        beyond = (curve(half) >= goal) == rising
        left, right = np.where(beyond, left, half), np.where(beyond, half, right)
    found = (Crossing(*one) for one in zip(((left + right) / 2).tolist(), wanted, upward, strict=True))
    return tuple(sorted((one for one in found if start <= one.at < end), key=lambda one: one.at))


def stretches(curve: Curve, start: float, end: float, least: float, most: float, met: Sequence[Crossing]) -> list[Span]:
    """The stretches of [start, end] in which a curve lies between two heights; `met` holds its crossings of both."""
    edges = [start, *(one.at for one in met if one.level in (least, most)), end]
    middles = np.array([(a + b) / 2 for a, b in itertools.pairwise(edges)])
    height = curve(middles)
    found: list[Span] = []
    held = (height >= least) & (height <= most)
    for (a, b), inside in zip(itertools.pairwise(edges), held.tolist(), strict=True):
        if inside and found and found[-1].latest == a:
            found[-1] = Span(found[-1].earliest, b)
        elif inside and b > a:
            found.append(Span(a, b))
    return found


def _turning_points(curve: Curve, left: Array, right: Array, is_top: NDArray[np.bool_]) -> Array:
    """Golden section on several brackets at once, to about a second."""
    ratio, sign = (math.sqrt(5) - 1) / 2, np.where(is_top, 1.0, -1.0)
    for _ in range(14):
        inner, outer = right - ratio * (right - left), left + ratio * (right - left)
        keep_left = sign * curve(inner) > sign * curve(outer)
        left, right = np.where(keep_left, left, inner), np.where(keep_left, outer, right)
    return (left + right) / 2
