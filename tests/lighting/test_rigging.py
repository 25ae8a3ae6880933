"""Booms and wind against worked values, a boom cut into slices, and a stand tipped over numerically."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import LightingRefused
from refarchive.lighting import rigging
from refarchive.lighting.rigging import (
    Hung,
    Stand,
    balance_boom,
    balance_gust_m_s,
    ballast_for_gust_kg,
    in_wind,
    tipping_radius_m,
    wind_force_n,
    wind_pressure_pa,
)

SOFTBOX = Stand(kg=12, height_m=2.5, area_m2=0.9 * 1.2, tipping_radius_m=0.45)


def boom(**changed: Any) -> rigging.BoomBalance:
    given: dict[str, Any] = {"load_kg": 3.0, "load_arm_m": 1.5, "counter_arm_m": 0.6}
    return balance_boom(**(given | changed))


# -- against published and worked values --------


def test_three_kilograms_at_a_metre_and_a_half() -> None:
    """m1·L1 = m2·L2, the law of the lever: 7.5 kg at 0.6 m."""
    found = boom()
    assert found.ballast_kg == pytest.approx(7.5)
    assert found.left_over_kgm == pytest.approx(0)
    assert found.carried_kg == pytest.approx(10.5)


def test_wind_pressure_of_en_1991() -> None:
    """EN 1991-1-4, ρ 1.25: 40.9 m/s is 1.046 kPa. At ρ 1.225, 10 m/s is 61.25 Pa."""
    assert wind_pressure_pa(40.9, 1.25) == pytest.approx(1046, abs=0.5)
    assert wind_pressure_pa(10) == pytest.approx(61.25)


def test_a_softbox_in_eight_metres_a_second() -> None:
    """½·1.225·8²·1.2 on 0.9 × 1.2 m; at 2.5 m, over 0.45 m, 28.78 kg just balance."""
    assert wind_force_n(0.9 * 1.2, 8) == pytest.approx(50.80, abs=0.005)
    assert ballast_for_gust_kg(SOFTBOX, 8) + SOFTBOX.kg == pytest.approx(28.78, abs=0.005)
    just = replace(SOFTBOX, ballast_kg=28.78 - SOFTBOX.kg)
    assert balance_gust_m_s(just) == pytest.approx(8, abs=0.001)


@pytest.mark.parametrize("feet", [3, 4, 5])
def test_the_line_that_a_stand_tips_about(feet: int) -> None:
    """The distance from a polygon's middle to its sides, from the corners."""
    around = 2 * np.pi * np.arange(feet + 1) / feet
    corners = 0.9 * np.column_stack([np.cos(around), np.sin(around)])
    nearest = min(abs(a[0] * b[1] - a[1] * b[0]) / np.linalg.norm(b - a) for a, b in itertools.pairwise(corners))
    assert tipping_radius_m(0.9, feet) == pytest.approx(nearest)


# -- booms --------


@given(st.floats(0.1, 15), st.floats(0.2, 3), st.floats(0.2, 2), st.floats(0, 10), st.floats(0, 5), st.floats(0.05, 2))
def test_moments_balance_at_the_ballast_found(
    load: float, arm: float, counter: float, own: float, pack: float, pack_arm: float
) -> None:
    """Summed over ten thousand slices of the boom, all that hangs to one side weighs as much as on the other."""
    found = boom(load_kg=load, load_arm_m=arm, counter_arm_m=counter, boom_kg=own, hung=[Hung("pack", pack, pack_arm)])
    edges = np.linspace(-counter, arm, 10_001)
    slices = own / 10_000 * ((edges[1:] + edges[:-1]) / 2).sum()
    total = load * arm + slices - pack * pack_arm - found.ballast_kg * counter
    assert total == pytest.approx(found.left_over_kgm, abs=1e-6)
    if found.ballast_kg:
        assert total == pytest.approx(0, abs=1e-6)
    else:
        assert total <= 1e-6
    assert found.carried_kg == pytest.approx(load + own + pack + found.ballast_kg)


def test_the_booms_own_weight_and_the_packs_count() -> None:
    assert boom(boom_kg=2.0).ballast_kg == pytest.approx(7.5 + 2 * 0.45 / 0.6)
    assert boom(boom_kg=2.0, boom_centre_m=0.0).ballast_kg == pytest.approx(7.5)
    assert boom(hung=[Hung("battery pack", 4, 0.6)]).ballast_kg == pytest.approx(3.5)
    assert boom(hung=[Hung("battery pack", 4, 0.3)]).ballast_kg == pytest.approx(5.5)


def test_the_heavier_counter_side_is_said() -> None:
    found = boom(hung=[Hung("battery pack", 10, 0.6)])
    assert found.ballast_kg == 0
    assert found.left_over_kgm == pytest.approx(-1.5)
    assert found.sentence.startswith("The counter side is the heavier, by 1.5 kg·m")
    assert "as it is" in boom(hung=[Hung("battery pack", 7.5, 0.6)]).sentence


# -- wind --------


@given(st.floats(1, 60), st.floats(0.5, 4), st.floats(0.05, 4), st.floats(0.1, 1.5), st.floats(0, 80), st.floats(1, 4))
def test_in_the_balancing_gust_wind_and_weight_tip_alike(
    kg: float, height: float, area: float, radius: float, ballast: float, factor: float
) -> None:
    stand = Stand(kg, height, area, radius, ballast)
    gust = balance_gust_m_s(stand)
    found = in_wind(stand, gust, factor=factor)
    assert found.tipping_nm == pytest.approx(found.holding_nm)
    assert found.tipping_nm == pytest.approx(0.5 * 1.225 * gust**2 * 1.2 * area * height)
    assert found.holding_nm == pytest.approx(9.80665 * (kg + ballast) * radius)
    assert found.strike_m_s <= gust / factor < found.strike_m_s + 1
    with_it = replace(stand, ballast_kg=ballast + found.missing_kg)
    assert balance_gust_m_s(with_it) >= gust * factor * (1 - 1e-9)


@given(st.floats(0.5, 20))
def test_force_goes_with_the_square_of_the_speed(speed: float) -> None:
    assert wind_force_n(1, 2 * speed) == pytest.approx(4 * wind_force_n(1, speed))


def test_what_hangs_to_one_side_lowers_the_gust() -> None:
    """12 kg over 0.45 m hold 5.4 kg·m; 2.7 to one side leave half of that, and a gust less by √2."""
    leaning = replace(SOFTBOX, off_centre_kgm=2.7)
    assert balance_gust_m_s(SOFTBOX) / balance_gust_m_s(leaning) == pytest.approx(math.sqrt(2))
    assert ballast_for_gust_kg(leaning, balance_gust_m_s(leaning)) == pytest.approx(0, abs=1e-9)
    with pytest.raises(LightingRefused, match="tips without wind") as refused:
        in_wind(replace(SOFTBOX, off_centre_kgm=5.4), 4)
    assert refused.value.field == "off_centre_kgm"


def test_the_strike_limit_is_rounded_down_and_written_out() -> None:
    just = replace(SOFTBOX, ballast_kg=28.78 - SOFTBOX.kg)
    found = in_wind(just, 8, factor=1.5)
    assert found.strike_m_s == 5
    assert "only just balances at 8.0 m/s; strike it at 5 m/s (18 km/h), a factor of 1.5 below." in found.sentence
    assert "it lacks 36 kg" in found.sentence  # 28.78·(1.5² − 1) = 35.98
    assert found.caution == rigging.CAUTION
    calm = in_wind(just, 1)
    assert calm.missing_kg == 0
    assert "lacks" not in calm.sentence


def test_a_sail_on_a_thin_stand_has_no_strike_limit() -> None:
    found = in_wind(Stand(1, 3, 4, 0.2), 0.5, factor=2)
    assert found.strike_m_s == 0
    assert "no strike limit to write" in found.sentence


def test_cautions_defer_and_never_pronounce() -> None:
    for said in (rigging.CAUTION, boom().caution, in_wind(SOFTBOX, 8).caution):
        assert "Local codes" in said
        assert "competent people" in said
    for said in (boom().sentence, in_wind(SOFTBOX, 8).sentence, rigging.CAUTION):
        assert "safe" not in said.lower()


# -- what is refused --------


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: boom(counter_arm_m=0), "counter_arm_m"),
        (lambda: boom(counter_arm_m=-0.6), "counter_arm_m"),
        (lambda: boom(load_arm_m=0), "load_arm_m"),
        (lambda: boom(load_kg=-1), "load_kg"),
        (lambda: boom(load_kg=float("nan")), "load_kg"),
        (lambda: boom(boom_kg=-1), "boom_kg"),
        (lambda: boom(boom_centre_m=float("inf")), "boom_centre_m"),
        (lambda: Hung("pack", -1, 0.6), "pack: kg"),
        (lambda: Hung("pack", 1, 0), "pack: arm_m"),
        (lambda: wind_pressure_pa(-1), "speed_m_s"),
        (lambda: wind_pressure_pa(8, 0), "air_kg_m3"),
        (lambda: wind_force_n(0, 8), "area_m2"),
        (lambda: wind_force_n(1, 8, drag=0), "drag"),
        (lambda: tipping_radius_m(0), "foot_radius_m"),
        (lambda: tipping_radius_m(1, 2), "feet"),
        (lambda: replace(SOFTBOX, kg=0), "kg"),
        (lambda: replace(SOFTBOX, height_m=0), "height_m"),
        (lambda: replace(SOFTBOX, tipping_radius_m=0), "tipping_radius_m"),
        (lambda: replace(SOFTBOX, ballast_kg=-1), "ballast_kg"),
        (lambda: replace(SOFTBOX, off_centre_kgm=-1), "off_centre_kgm"),
        (lambda: in_wind(SOFTBOX, -1), "speed_m_s"),
        (lambda: in_wind(SOFTBOX, 8, factor=0.9), "factor"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(LightingRefused) as refused:
        call()
    assert refused.value.field == field
    assert refused.value.next_step
