"""Crossings of curves whose crossings are known by arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.site import curves

HOUR = 3600.0


def wave(at: np.ndarray) -> np.ndarray:
    """A sine of period 24 h, −1 to 1, rising through 0 at 0 h."""
    return np.sin(2 * np.pi * at / (24 * HOUR))


@given(st.floats(-0.9999, 0.9999))
def test_a_sine_crosses_where_its_inverse_says(level: float) -> None:
    found = curves.trace(wave, -6 * HOUR, 18 * HOUR, 900).crossings([level])
    up = math.asin(level) / (2 * math.pi) * 24 * HOUR
    assert [(one.upward, one.level) for one in found] == [(True, level), (False, level)]
    assert [one.at for one in found] == pytest.approx([up, 12 * HOUR - up], abs=0.02)


@pytest.mark.parametrize("depth", [1e-3, 1e-5, 1e-7])
@pytest.mark.parametrize("offset", [0.0, 100.0, 449.0])
def test_a_top_between_two_looks_is_not_missed(depth: float, offset: float) -> None:
    start = offset - 12 * HOUR
    found = curves.trace(wave, start, start + 24 * HOUR, 900).crossings([1 - depth])
    assert [one.upward for one in found] == [True, False]
    assert curves.trace(wave, start, start + 24 * HOUR, 900).crossings([1 + depth]) == ()


def test_levels_are_found_together_and_in_order() -> None:
    found = curves.trace(wave, 0, 24 * HOUR).crossings([0.5, -0.5])
    assert [(one.level, one.upward) for one in found] == [(0.5, True), (0.5, False), (-0.5, False), (-0.5, True)]


@given(st.floats(1e-6, 0.02), st.sampled_from([-1.0, 1.0]))
def test_a_crossing_at_midnight_belongs_to_one_day(by: float, side: float) -> None:
    """Days cut at a rising hold one rising each, wherever in its hundredth of a second they are cut.

    Nearer than a microsecond the sine itself is rounded otherwise from one place of an array to another.
    """
    off = side * by
    cut = math.asin(0.1) / (2 * math.pi) * 24 * HOUR + off
    days = [curves.trace(wave, cut + n * 24 * HOUR, cut + (n + 1) * 24 * HOUR, 900) for n in range(3)]
    assert sum(one.upward for day in days for one in day.crossings([0.1])) == 3


def test_stretches_between_two_heights() -> None:
    seen = curves.trace(wave, -3 * HOUR, 21 * HOUR)
    met = seen.crossings([0.0, 0.5])
    spans = seen.between(0.0, 0.5, met)
    ends = [(one.earliest, one.latest) for one in spans]
    assert [x for pair in ends for x in pair] == pytest.approx([0, 2 * HOUR, 10 * HOUR, 12 * HOUR], abs=0.02)
    assert seen.between(2.0, 3.0, ()) == ()
    (whole,) = seen.between(-2.0, 2.0, met)
    assert (whole.earliest, whole.latest) == (-3 * HOUR, 21 * HOUR)


def test_the_highest_and_the_lowest_lie_within_the_stretch() -> None:
    seen = curves.trace(wave, 7 * HOUR, 17 * HOUR, 900)
    assert seen.highest == pytest.approx((7 * HOUR, math.sin(2 * math.pi * 7 / 24)))
    assert seen.lowest == pytest.approx((17 * HOUR, math.sin(2 * math.pi * 17 / 24)))
    day = curves.trace(wave, 0, 24 * HOUR, 900)
    assert day.highest == pytest.approx((6 * HOUR, 1.0), abs=2)
    assert day.lowest[0] == pytest.approx(18 * HOUR, abs=2)


def test_a_flat_curve_crosses_nothing() -> None:
    seen = curves.trace(np.zeros_like, 0, HOUR)
    assert seen.crossings([0.0, 1.0]) == ()
    assert seen.between(0.0, 1.0, ())[0].minutes == 60
