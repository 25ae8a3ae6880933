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

WITHIN_S = 0.01  # how closely a crossing is found
_POINTS = 9  # looked at in one go between two neighbours of a turning point


@dataclass(frozen=True)
class Crossing:
    """An instant at which a curve passes through a level, upwards or downwards."""

    at: float
    level: float
    upward: bool


@dataclass(frozen=True)
class Trace:
    """A curve looked at from `start` to `end`: the instants `at`, turning points among them, and the heights there.

    Both ends are among the instants, so that a crossing at midnight belongs to one day of two. The first and the last
    instant lie a step outside, so that no turning point is at an edge.
    """

    curve: Curve
    start: float
    end: float
    at: Array
    height: Array

    @property
    def highest(self) -> tuple[float, float]:
        """Instant and height of the highest point from `start` to `end`."""
        return self._extreme(1.0)

    @property
    def lowest(self) -> tuple[float, float]:
        """Instant and height of the lowest point from `start` to `end`."""
        return self._extreme(-1.0)

    def crossings(self, levels: Sequence[float]) -> tuple[Crossing, ...]:
        """Every instant from `start` to `end` at which the curve passes a level, in order of time."""
        within = (self.at[:-1] >= self.start) & (self.at[1:] <= self.end)
        below: list[float] = []
        above: list[float] = []
        wanted: list[float] = []
        upward: list[bool] = []
        for level in levels:
            high = self.height >= level
            where = np.flatnonzero((high[1:] != high[:-1]) & within)
            below += self.at[where].tolist()
            above += self.at[where + 1].tolist()
            wanted += [level] * len(where)
            upward += high[where + 1].tolist()
        if not wanted:
            return ()
        left, right = np.array(below), np.array(above)
        goal, rising = np.array(wanted), np.array(upward)
        for _ in range(max(1, math.ceil(math.log2(float((right - left).max()) / WITHIN_S)))):
            half = (left + right) / 2
            beyond = (self.curve(half) >= goal) == rising
            left, right = np.where(beyond, left, half), np.where(beyond, half, right)
        found = (Crossing(*one) for one in zip(((left + right) / 2).tolist(), wanted, upward, strict=True))
        return tuple(sorted(found, key=lambda one: one.at))

    def between(self, least: float, most: float, met: Sequence[Crossing]) -> tuple[Span, ...]:
        """The stretches in which the curve lies between two heights; `met` holds its crossings of both."""
        edges = [self.start, *(one.at for one in met if one.level in (least, most)), self.end]
        height = self.curve(np.array([(a + b) / 2 for a, b in itertools.pairwise(edges)]))
        held = (height >= least) & (height <= most)
        found: list[Span] = []
        for (a, b), inside in zip(itertools.pairwise(edges), held.tolist(), strict=True):
            if inside and found and found[-1].latest == a:
                found[-1] = Span(found[-1].earliest, b)
            elif inside and b > a:
                found.append(Span(a, b))
        return tuple(found)

    def _extreme(self, sign: float) -> tuple[float, float]:
        within = (self.at >= self.start) & (self.at <= self.end)
        at, height = self.at[within], self.height[within]
        where = int((sign * height).argmax())
        return float(at[where]), float(height[where])


def trace(curve: Curve, start: float, end: float, step_s: float = 300.0) -> Trace:
    """A curve looked at every `step_s` seconds, and at the tops and bottoms between.

    A continuous curve that only just reaches a level is not missed so; one that turns more than once within two steps
    may be.
    """
    steps = max(3, math.ceil((end - start) / step_s) + 1)
    at = np.concatenate([[start - step_s], np.linspace(start, end, steps), [end + step_s]])
    height = curve(at)
    turn = np.flatnonzero((height[1:-1] - height[:-2]) * (height[2:] - height[1:-1]) <= 0) + 1
    if turn.size:
        top, of = turning_points(curve, at[turn - 1], at[turn + 1], height[turn] >= height[turn - 1])
        at, first = np.unique(np.concatenate([at, top]), return_index=True)
        height = np.concatenate([height, of])[first]
    return Trace(curve, start, end, at, height)


def turning_points(curve: Curve, left: Array, right: Array, is_top: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Instants and heights of the tops and bottoms in several brackets at once, to about a second."""
    if not left.size:
        return left, right
    sign, row = np.where(is_top, 1.0, -1.0), np.arange(len(left))
    share = np.linspace(0.0, 1.0, _POINTS)
    while True:
        at = left[:, None] + (right - left)[:, None] * share
        height = curve(at.ravel()).reshape(at.shape)
        best = (sign[:, None] * height).argmax(axis=1)
        if float((right - left).max()) < 1.0:
            return at[row, best], height[row, best]
        left, right = at[row, np.maximum(best - 1, 0)], at[row, np.minimum(best + 1, _POINTS - 1)]
