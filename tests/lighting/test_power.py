"""Batteries: flashes, cold, reserve, spares and the time that recycling takes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import LightingRefused
from refarchive.lighting import power
from refarchive.lighting.power import Battery, Draw, battery_plan, cold_share, flashes_of, power_list, watt_hours


def draw(**changed: Any) -> Draw:
    given: dict[str, Any] = {"light": 1, "full_ws": 600, "power": 0.5, "flashes": 250, "recycle_full_s": 3.0}
    return Draw(**(given | changed))


def test_flashes_of_a_battery() -> None:
    """By the unit alone, 1 Wh = 3600 J (SI brochure): 100 Wh at 0.85 over 600 Ws; 14.4 V × 2.6 Ah at 0.8."""
    assert flashes_of(100, 600, 0.85) == pytest.approx(510)
    assert watt_hours(14.4, 2.6) == pytest.approx(37.44)
    assert flashes_of(watt_hours(14.4, 2.6), 600, 0.8) == pytest.approx(179.7, abs=0.02)


def test_a_chain_of_efficiencies_is_their_product() -> None:
    assert power.chained(0.9, 0.85) == pytest.approx(0.765)
    assert power.chained() == 1


@pytest.mark.parametrize(("celsius", "share"), [(-20, 0.5), (-15, 0.575), (-10, 0.65), (0, 0.8), (5, 0.85), (35, 1.0)])
def test_cold(celsius: float, share: float) -> None:
    """The table that comes along: common practice, no source."""
    assert cold_share(celsius) == pytest.approx(share)


def test_a_table_of_ones_own() -> None:
    own = [(10, 1.0), (-5, 0.7)]
    assert cold_share(2.5, own) == pytest.approx(0.85)
    assert cold_share(20, own) == 1
    with pytest.raises(LightingRefused, match=r"below −5 °C") as refused:
        cold_share(-6, own)
    assert refused.value.field == "celsius"
    with pytest.raises(LightingRefused):
        cold_share(0, [])


def test_plan_of_one_light() -> None:
    found = battery_plan(draw(), Battery(100, 0.85), cold=0.8, reserve=0.25, spares=1)
    assert found.energy_ws == 300
    assert found.flashes_each == 612  # 1020 × 0.8 × 0.75
    assert (found.needed, found.spares, found.carried) == (1, 1, 2)
    assert found.recycling_s == 1.5
    assert found.recycling_total_s == 375
    assert "612 flashes of 300 Ws a battery" in found.sentence
    assert "lethal voltage" in found.caution
    assert "safe" not in (found.sentence + found.caution).lower()


def test_recycling_may_be_stated() -> None:
    assert battery_plan(draw(recycle_s=2.0), Battery(100)).recycling_total_s == 500


def test_a_rig_waits_for_its_slowest_light() -> None:
    found = power_list([(draw(), Battery(37.44)), (draw(light=2, power=1.0), Battery(37.44))], reserve=0.2, spares=1)
    first, second = found.plans
    assert (first.flashes_each, first.needed) == (287, 1)  # 37.44·3600·0.8·0.8 / 300 = 287.5
    assert (second.flashes_each, second.needed) == (143, 2)
    assert found.carried == 5
    assert found.recycling_total_s == 750
    assert found.caution == power.CAUTION


@given(
    st.floats(5, 500),
    st.floats(0.1, 1),
    st.floats(0.4, 1),
    st.floats(0, 0.6),
    st.floats(1 / 128, 1),
    st.integers(1, 5000),
)
def test_batteries_suffice_and_one_less_would_not(
    wh: float, efficiency: float, cold: float, reserve: float, fraction: float, flashes: int
) -> None:
    asked = draw(full_ws=100, power=fraction, flashes=flashes)
    found = battery_plan(asked, Battery(wh, efficiency), cold=cold, reserve=reserve)
    assert found.needed * found.flashes_each >= flashes > (found.needed - 1) * found.flashes_each
    one_battery_j = wh * 3600 * efficiency * cold * (1 - reserve)
    assert found.flashes_each * asked.energy_ws <= one_battery_j * (1 + 1e-9)
    assert (found.flashes_each + 1) * asked.energy_ws > one_battery_j * (1 - 1e-9)


@given(st.floats(0.01, 0.5))
def test_half_the_power_gives_twice_the_flashes(fraction: float) -> None:
    one, other = (flashes_of(100, draw(power=p).energy_ws) for p in (fraction, 2 * fraction))
    assert one == pytest.approx(2 * other)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: Battery(0), "capacity_wh"),
        (lambda: Battery(float("nan")), "capacity_wh"),
        (lambda: Battery(100, 1.2), "efficiency"),
        (lambda: draw(power=-1), "light 1: power"),
        (lambda: draw(power=0), "light 1: power"),
        (lambda: draw(full_ws=0), "light 1: full_ws"),
        (lambda: draw(flashes=0), "light 1: flashes"),
        (lambda: draw(flashes=2.5), "light 1: flashes"),
        (lambda: draw(recycle_full_s=-1), "light 1: recycle_full_s"),
        (lambda: draw(recycle_s=-1), "light 1: recycle_s"),
        (lambda: watt_hours(0, 1), "volts"),
        (lambda: power.chained(0.9, 0), "efficiency"),
        (lambda: flashes_of(100, 0), "energy_ws"),
        (lambda: battery_plan(draw(), Battery(100), cold=0), "cold"),
        (lambda: battery_plan(draw(), Battery(100), reserve=1), "reserve"),
        (lambda: battery_plan(draw(), Battery(100), spares=-1), "spares"),
        (lambda: battery_plan(draw(), Battery(0.05)), "light 1: capacity_wh"),
        (lambda: cold_share(-30), "celsius"),
        (lambda: cold_share(0, [(0, 1.5)]), "cold shares"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(LightingRefused) as refused:
        call()
    assert refused.value.field == field
    assert refused.value.next_step
