"""Fall-off against published values, and the disc against the sum of light over its face."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from refarchive.errors import LightingRefused
from refarchive.lighting import falloff

DISTANCE = st.floats(0.05, 200)


def disc_by_integration(distance: float, diameter: float) -> float:
    """Light of a disc of luminance 1 on a patch facing it on its axis, over that of a point of the same strength."""

    def of_patch(r: float, _: float) -> float:
        square = distance**2 + r**2
        cosine = distance / math.sqrt(square)  # at the disc and at the patch alike
        return cosine * cosine / square * r

    total, _ = dblquad(of_patch, 0, 2 * math.pi, 0, diameter / 2)
    return total / (math.pi * (diameter / 2) ** 2 / distance**2)


@pytest.mark.parametrize(
    ("start", "end", "stops"),
    [(1, 2, 2.0), (2, 3, 1.169925), (4, 5, 0.643856)],  # 2·log2(d2/d1)
)
def test_inverse_square(start: float, end: float, stops: float) -> None:
    assert falloff.inverse_square_stops(start, end) == pytest.approx(stops, abs=1e-6)


@pytest.mark.parametrize(("over", "share"), [(1, 0.8), (2, 0.941176), (5, 0.990099)])
def test_disc(over: float, share: float) -> None:
    """R²/(R² + d²), the view factor of a disc (Howell's catalogue of radiation configuration factors)."""
    assert falloff.disc_share(over * 0.9, 0.9) == pytest.approx(share, abs=1e-6)
    radius, distance = 0.45, over * 0.9
    assert share == pytest.approx(radius**2 / (radius**2 + distance**2) * distance**2 / radius**2, abs=1e-6)


@pytest.mark.parametrize("diameter", [0.1, 0.9, 2.4])
@pytest.mark.parametrize("distance", [0.3, 1.0, 2.7, 9.0])
def test_disc_against_the_sum_over_its_face(distance: float, diameter: float) -> None:
    assert falloff.disc_share(distance, diameter) == pytest.approx(disc_by_integration(distance, diameter), rel=1e-9)


def test_the_rule_of_five() -> None:
    """From five times the source on, the inverse square is within 1 % (IES lighting definitions, 9.1.1)."""
    assert 1 - falloff.disc_share(5, 1) < 0.01
    assert 1 - falloff.disc_share(4.9, 1) > 0.01
    assert not falloff.is_near(5, 1)
    assert falloff.is_near(4.99, 1)
    assert not falloff.is_near(0.1, 0)


def test_near_a_source_the_disc_is_given_and_said() -> None:
    found = falloff.fall_off(1, 2, 1)
    assert found.near
    assert found.point_stops == 2
    assert found.disc_stops == pytest.approx(2 + math.log2(0.8 / 0.941176), abs=1e-5)
    assert "1.77 stops less" in found.sentence
    assert "would say 2.00" in found.sentence
    far = falloff.fall_off(10, 5, 1)
    assert not far.near
    assert far.point_stops == -2
    assert far.sentence == "From 10 to 5 m: 2.00 stops more."


@pytest.mark.parametrize(("stops", "distance"), [(1, 4.8284), (0.5, 10.5704)])
def test_least_distance_for_a_group_two_metres_deep(stops: float, distance: float) -> None:
    """p/(2^(s/2) − 1): 4.8284 m is 2/(√2 − 1)."""
    assert falloff.least_distance_m(2, stops) == pytest.approx(distance, abs=5e-5)
    assert falloff.depth_stops(distance, 2) == pytest.approx(stops, abs=1e-4)


@pytest.mark.parametrize(("distance", "degrees"), [(1.5, 33.3985), (3, 17.0615)])
def test_apparent_size(distance: float, degrees: float) -> None:
    assert falloff.apparent_size_deg(0.9, distance) == pytest.approx(degrees, abs=5e-5)


@pytest.mark.parametrize(
    ("width", "to_object", "behind", "edge"),
    [(2.82, 300, 14, 0.1316), (0.9, 2, 0.3, 0.135)],  # Ug = f·b/a (geometric unsharpness, nde-ed.org)
)
def test_shadow_edge(width: float, to_object: float, behind: float, edge: float) -> None:
    assert falloff.shadow_edge_m(width, to_object, behind) == pytest.approx(edge, abs=5e-5)


def test_the_sun_softens_by_9_3_mm_a_metre() -> None:
    """The sun is 0.533° wide at its mean distance."""
    assert falloff.sun_shadow_edge_m(1) == pytest.approx(9.30e-3, abs=5e-6)
    sun_m, away_m = 1.3914e9, 1.495979e11  # nominal diameter and astronomical unit (IAU 2015, 2012)
    assert falloff.sun_shadow_edge_m(2.5) == pytest.approx(
        falloff.shadow_edge_m(sun_m / 1e6, away_m / 1e6, 2.5), rel=1e-3
    )


@pytest.mark.parametrize(("angle", "stops"), [(0, 0), (30, -0.2075), (45, -0.5), (60, -1)])
def test_lambert(angle: float, stops: float) -> None:
    assert falloff.slant_stops(angle) == pytest.approx(stops, abs=5e-5)


@given(st.floats(0.01, 3), st.floats(1, 50))
def test_twice_the_distance_is_two_stops_far_from_a_source(diameter: float, times: float) -> None:
    distance = 5 * diameter * times
    assert falloff.fall_off(distance, 2 * distance, diameter).disc_stops == pytest.approx(2, abs=0.011)
    assert falloff.inverse_square_stops(distance, 2 * distance) == pytest.approx(2)


@given(DISTANCE, DISTANCE, DISTANCE, st.floats(0, 3))
def test_fall_off_adds_up_along_the_way(one: float, two: float, three: float, diameter: float) -> None:
    whole = falloff.fall_off(one, three, diameter).disc_stops
    parts = falloff.fall_off(one, two, diameter).disc_stops + falloff.fall_off(two, three, diameter).disc_stops
    assert whole == pytest.approx(parts, abs=1e-9)


@given(st.floats(0.1, 20), st.floats(0.05, 6))
def test_the_least_distance_meets_the_stops(depth: float, stops: float) -> None:
    assert falloff.depth_stops(falloff.least_distance_m(depth, stops), depth) == pytest.approx(stops)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: falloff.inverse_square_stops(0, 1), "from_m"),
        (lambda: falloff.inverse_square_stops(1, -1), "to_m"),
        (lambda: falloff.disc_share(0, 1), "distance_m"),
        (lambda: falloff.disc_share(1, -1), "diameter_m"),
        (lambda: falloff.is_near(1, float("nan")), "source_m"),
        (lambda: falloff.depth_stops(1, -1), "depth_m"),
        (lambda: falloff.least_distance_m(2, 0), "stops"),
        (lambda: falloff.least_distance_m(2, 1e6), "stops"),
        (lambda: falloff.apparent_size_deg(1, 0), "distance_m"),
        (lambda: falloff.shadow_edge_m(1, 0, 1), "source_to_object_m"),
        (lambda: falloff.sun_shadow_edge_m(-1), "object_to_shadow_m"),
        (lambda: falloff.slant_stops(90), "angle_deg"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(LightingRefused) as refused:
        call()
    assert refused.value.field == field
