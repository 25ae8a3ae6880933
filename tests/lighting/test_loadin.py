"""The walk in: loads that nobody exceeds, trips near the fewest there can be, and minutes worked by hand."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import LightingRefused
from refarchive.lighting.loadin import CAUTION, Carriers, Item, Load, Stretch, load_in, pack, totals

KIT = (Item("head", 3.2, 3), Item("battery pack", 4.5, 3), Item("stand", 6.0, 3), Item("sandbag", 10.0, 6))
WAY = (Stretch("track", 600), Stretch("ford", 120, "wading"), Stretch("reach", 300, "boat"))


def trips(loads: tuple[Load, ...]) -> int:
    return max((load.trip for load in loads), default=0)


def test_minutes_by_hand() -> None:
    """600 m at 1 m/s, 120 m at 0.4, 300 m at 1: 20 minutes laden; back at 1.3, 0.6 and 1: 16.03 minutes."""
    found = load_in(KIT, [Carriers(4, 15)], WAY)
    assert found.total_kg == pytest.approx(101.1)
    assert found.minutes_laden == pytest.approx(20)
    assert found.minutes_empty == pytest.approx(600 / 1.3 / 60 + 120 / 0.6 / 60 + 5)
    assert found.trips == 2  # 101.1 kg in loads of 60
    by_hand = (2 * (20 + 5) + found.minutes_empty) * 1.25
    assert found.minutes_in == found.minutes_out == math.ceil(by_hand) == 83
    assert found.sentence == "101 kg in 2 trips: 83 minutes in, as many out, 25 % margin counted."
    assert found.caution == CAUTION
    assert "safe" not in found.caution.lower()


def test_speeds_handling_and_margin_are_replaced() -> None:
    found = load_in(
        [Item("case", 10)], [Carriers(1, 20)], [Stretch("bank", 90, "foot", 0.5, 1.5)], handling_min=0, margin=0
    )
    assert (found.minutes_laden, found.minutes_empty) == pytest.approx((3, 1))
    assert (found.trips, found.minutes_in) == (1, 3)


def test_nothing_to_carry() -> None:
    found = load_in([], [Carriers(1, 20)], WAY)
    assert (found.trips, found.minutes_in, found.loads) == (0, 0, ())
    assert found.sentence == "Nothing is to be carried."


ITEMS = st.lists(
    st.builds(Item, st.sampled_from("abcdef"), st.floats(0.1, 15), st.integers(1, 3), st.integers(1, 2)),
    min_size=1,
    max_size=12,
)


@given(ITEMS, st.lists(st.builds(Carriers, st.integers(1, 3), st.floats(15, 30)), min_size=2, max_size=3))
def test_everything_is_carried_and_nobody_carries_too_much(items: list[Item], carriers: list[Carriers]) -> None:
    loads = pack(items, carriers)
    able = sorted((group.kg_each for group in carriers for _ in range(group.count)), reverse=True)
    for load in loads:
        assert load.kg <= able[load.carrier - 1] + 1e-6
    assert len({(load.trip, load.carrier) for load in loads}) == len(loads)
    carried = Counter(name for load in loads for name in load.items)
    asked: Counter[str] = Counter()
    for item in items:
        asked[item.name] += item.count * item.hands
    assert carried == asked
    assert sum(load.kg for load in loads) == pytest.approx(sum(totals(items).values()))


def fewest_loads(weights: list[float], limit: float) -> int:
    """The fewest loads there can be, by trying every way to put each weight into a load."""
    best = len(weights)

    def place(at: int, loads: list[float]) -> None:
        nonlocal best
        if len(loads) >= best:
            return
        if at == len(weights):
            best = len(loads)
            return
        for one in range(len(loads)):
            if loads[one] + weights[at] <= limit + 1e-9:
                loads[one] += weights[at]
                place(at + 1, loads)
                loads[one] -= weights[at]
        place(at + 1, [*loads, weights[at]])

    place(0, [])
    return best


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 20), min_size=1, max_size=8), st.integers(1, 3))
def test_trips_are_near_the_fewest(weights: list[int], people: int) -> None:
    """First fit decreasing takes at most 11/9 of the fewest loads and 6/9 more (Dósa 2007)."""
    loads = pack([Item(f"case {n}", kg) for n, kg in enumerate(weights)], [Carriers(people, 20)])
    fewest = fewest_loads([float(kg) for kg in weights], 20)
    assert math.ceil(fewest / people) <= trips(loads) <= math.ceil((11 / 9 * fewest + 6 / 9) / people)


def test_loads_are_even_where_that_costs_no_trip() -> None:
    loads = pack([Item("bag", 5, 4)], [Carriers(2, 20)])
    assert [load.kg for load in loads] == [10, 10]


def test_and_filled_one_after_the_other_where_it_saves_one() -> None:
    """8 + 12, 5 + 7 + 8 fill two carriers of 20; spread evenly they would not fit in one trip."""
    items = [Item("a", 12), Item("b", 8), Item("c", 8), Item("d", 7), Item("e", 5)]
    assert trips(pack(items, [Carriers(2, 20)])) == 1


def test_two_carry_what_takes_two() -> None:
    loads = pack([Item("cart", 36, hands=2)], [Carriers(3, 20)])
    assert [(load.items, load.kg) for load in loads] == [(("cart",), 18), (("cart",), 18)]


def test_what_is_too_heavy_is_named_with_what_to_do() -> None:
    with pytest.raises(LightingRefused) as refused:
        load_in([*KIT, Item("generator", 32)], [Carriers(4, 20)], WAY)
    assert refused.value.problem == "generator (32 kg) is too heavy for one carrier: each may carry 20 kg."
    assert refused.value.next_step == "Split it, let 2 people carry it, or bring it on wheels or by boat."
    assert refused.value.field == "generator: kg"
    with pytest.raises(LightingRefused, match="too heavy for 2 carriers together"):
        pack([Item("boat", 60, hands=2)], [Carriers(1, 40), Carriers(3, 20)])


@given(st.floats(0, 5_000), st.floats(0, 2))
def test_further_and_more_margin_take_no_less(length: float, margin: float) -> None:
    near = load_in(KIT, [Carriers(2, 15)], [Stretch("track", length)], margin=margin)
    far = load_in(KIT, [Carriers(2, 15)], [Stretch("track", length + 100)], margin=margin + 0.1)
    assert far.minutes_in > near.minutes_in - 1
    assert far.trips == near.trips


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: Item("head", 0), "head: kg"),
        (lambda: Item("head", float("nan")), "head: kg"),
        (lambda: Item("head", 3, 0), "head: count"),
        (lambda: Item("head", 3, 1.5), "head: count"),  # type: ignore[arg-type]
        (lambda: Item("head", 3, hands=0), "head: hands"),
        (lambda: Carriers(0, 20), "carriers count"),
        (lambda: Carriers(2, 0), "carriers kg_each"),
        (lambda: Stretch("track", -1), "track: length_m"),
        (lambda: Stretch("track", 10, "mule"), "track: how"),  # type: ignore[arg-type]
        (lambda: Stretch("track", 10, "foot", 0), "track: laden_m_s"),
        (lambda: Stretch("track", 10, "foot", 1, -1), "track: empty_m_s"),
        (lambda: load_in(KIT, [], WAY), "carriers"),
        (lambda: load_in(KIT, [Carriers(1, 20)], WAY, margin=-0.1), "margin"),
        (lambda: load_in(KIT, [Carriers(1, 20)], WAY, handling_min=-1), "handling_min"),
        (lambda: pack([Item("boat", 30, hands=3)], [Carriers(2, 20)]), "boat: hands"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(LightingRefused) as refused:
        call()
    assert refused.value.field == field
    assert refused.value.next_step
