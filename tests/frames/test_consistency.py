"""Circles, repeats and a favoured side, against published figures."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import CannotMeasure
from refarchive.frames.consistency import cycles, self_consistency, share, side_bias
from refarchive.frames.strengths import Judged


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilsons_interval_as_published(count: int, of: int, low: float, high: float) -> None:
    """Newcombe 1998, Statistics in Medicine 17, table I, method 3 (values from memory, all to four places)."""
    found = share(count, of)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)


def test_a_share_of_nothing() -> None:
    assert share(0, 0).share is None
    assert share(0, 0).figures == "none"
    assert share(9, 10).figures == "9 of 10 (90 %, from 60 to 98 %)"


def test_the_smallest_circle_is_listed_with_its_answers() -> None:
    judged: list[Judged] = [
        ("a", "b", "left"), ("a", "b", "left"), ("b", "a", "left"), ("c", "b", "right"), ("c", "a", "left"),
        ("d", "a", "right"), ("b", "d", "neither yet"),
    ]  # fmt: skip
    found = cycles(list("abcd"), judged)
    assert [cycle.items for cycle in found.cycles] == [("a", "b", "c")]
    assert found.cycles[0].sentence == "a over b (2 to 1), b over c (1 to 0), c over a (1 to 0)."
    assert (found.triads, found.of, found.more) == (1, 1, False)
    assert "1 of 1 threes" in found.sentence


def test_a_longer_circle_is_found_where_there_is_no_shorter() -> None:
    ring: list[Judged] = [(a, b, "left") for a, b in itertools.pairwise("abcdea")]
    found = cycles(list("abcde"), ring)
    assert [cycle.items for cycle in found.cycles] == [("a", "b", "c", "d", "e")]
    assert "longer circles only" in found.sentence
    assert not cycles(list("abcde"), ring[:-1]).cycles
    assert cycles(list("ab"), []).sentence == "Nothing was preferred to anything yet."
    assert cycles(list("ab"), [("a", "b", "left")]).sentence == "No preferences go round in a circle."


def test_even_answers_are_no_preference() -> None:
    judged: list[Judged] = [("a", "b", "left"), ("b", "c", "left"), ("c", "a", "left"), ("c", "a", "right")]
    assert not cycles(list("abc"), judged).cycles


@pytest.mark.parametrize("seed", range(6))
def test_triads_are_counted_as_published(seed: int) -> None:
    """Kendall and Babington Smith 1940: n(n − 1)(2n − 1)/12 − Σa²/2 for a complete set of preferences."""
    random, number = np.random.default_rng(seed), 5 + seed
    items = [str(n) for n in range(number)]
    judged: list[Judged] = [
        (a, b, "left" if random.random() < 0.5 else "right") for a, b in itertools.combinations(items, 2)
    ]
    scores = [
        sum((says == "left") == (left == item) for left, right, says in judged if item in (left, right))
        for item in items
    ]
    expected = number * (number - 1) * (2 * number - 1) / 12 - sum(a * a for a in scores) / 2
    found = cycles(items, judged, most=200)
    assert found.triads == expected
    assert found.of == math.comb(number, 3)
    assert sum(len(cycle.items) == 3 for cycle in found.cycles) == min(expected, 200)


def test_the_list_is_bounded_and_quick_for_two_hundred() -> None:
    random = np.random.default_rng(2)
    items = [str(n) for n in range(120)]
    judged: list[Judged] = [
        (a, b, "left" if random.random() < 0.5 else "right") for a, b in itertools.combinations(items, 2)
    ]
    found = cycles(items, judged, most=7)
    assert len(found.cycles) == 7
    assert found.more
    assert "7 of the shortest" in found.sentence


names = st.sampled_from(["a", "b", "c", "d", "e", "f"])
answers = st.lists(
    st.tuples(names, names, st.sampled_from(["left", "right", "neither yet"])).filter(lambda one: one[0] != one[1]),
    max_size=20,
)


@given(answers)
@settings(max_examples=60, deadline=None)
def test_every_circle_is_one_and_none_is_missed(judged: list[Judged]) -> None:
    found = cycles(list("abcdef"), judged, most=100)
    for cycle in found.cycles:
        assert len(set(cycle.items)) == len(cycle.items) >= 3
        assert all(won > lost for won, lost in cycle.counts)
    margin = dict.fromkeys(itertools.permutations("abcdef", 2), 0)
    for left, right, says in judged:
        if says != "neither yet":
            one, other = (left, right) if says == "left" else (right, left)
            margin[one, other] += 1
            margin[other, one] -= 1
    order = {item: {other for other in "abcdef" if item != other and margin[item, other] > 0} for item in "abcdef"}
    while free := [item for item, after in order.items() if not after]:  # take away what beats nothing, and again
        for item in free:
            del order[item]
        for after in order.values():
            after -= set(free)
    assert bool(found.cycles) is bool(order)


def repeated(*pairs: str) -> list[tuple[Judged, Judged]]:
    """Each repeat as "ab left, ba right"."""
    found = []
    for text in pairs:
        one, other = ((half.split(" ", 1)[0], half.split(" ", 1)[1]) for half in text.split(", "))
        found.append(((one[0][0], one[0][1], one[1]), (other[0][0], other[0][1], other[1])))
    return found


def test_repeats_are_held_against_the_frames_and_not_the_sides() -> None:
    found = self_consistency(
        repeated("ab left, ba right", "ab left, ba left", "ab left, ab neither yet", "ab neither yet, ba neither yet")
    )
    assert (found.agreed.count, found.agreed.of) == (2, 4)
    assert (found.reversed_, found.to_or_from_neither) == (1, 1)
    assert (found.preferred_twice.count, found.preferred_twice.of) == (1, 2)
    assert (found.swapped.count, found.swapped.of) == (2, 3)
    assert (found.same_sides.count, found.same_sides.of) == (0, 1)
    assert "too few repeats" in found.sentence


def test_words_of_steadiness() -> None:
    assert self_consistency([]).sentence == "No pair was shown again yet."
    steady = self_consistency(repeated(*["ab left, ba right"] * 14))
    assert "more than by guessing" in steady.sentence
    unsure = self_consistency(repeated(*["ab left, ba right", "ab left, ab right"] * 7))
    assert "no surer than by guessing" in unsure.sentence


def test_a_favoured_side() -> None:
    """Exact binomial: 40 of 50 has a two-sided probability of 2·P(X ≥ 40), here summed by hand."""
    judged: list[Judged] = [("a", "b", "left")] * 40 + [("a", "b", "right")] * 10 + [("a", "b", "neither yet")] * 9
    found = side_bias(judged)
    by_hand = 2 * sum(math.comb(50, n) for n in range(40, 51)) / 2**50
    assert found.probability == pytest.approx(by_hand, rel=1e-9)
    assert found.left.of == 50
    assert found.sentence.startswith("The left is favoured: the left was preferred in 40 of 50 (80 %, from 67 to 89 %)")
    assert side_bias(judged[30:50] + judged[:12]).sentence.startswith("No favoured side to be seen")
    assert "too few" in side_bias(judged[:5]).sentence
    assert side_bias(judged[-3:]).sentence == "No side was preferred yet."
    other = side_bias([("b", "a", {"left": "right", "right": "left"}.get(says, says)) for _, _, says in judged])
    assert other.sentence.startswith("The right is favoured")


@pytest.mark.parametrize(
    "call",
    [
        lambda: cycles(["a", "b"], [], most=0),
        lambda: cycles(["a", "b"], [], most=201),
        lambda: cycles(["a", "b"], [("a", "c", "left")]),
        lambda: self_consistency(repeated("ab left, ac left")),
        lambda: self_consistency(repeated("ab left, ab maybe")),
        lambda: self_consistency([], level=0.1),
        lambda: side_bias([("a", "a", "left")]),
        lambda: side_bias([("a", "b", "up")]),
        lambda: side_bias([], level=2),
    ],
)
def test_what_cannot_be_used_is_refused(call: Any) -> None:
    with pytest.raises(CannotMeasure) as refused:
        call()
    assert refused.value.next_step
