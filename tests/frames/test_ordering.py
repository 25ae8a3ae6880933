"""Orders against all permutations, against networkx's travelling salesmen, and against what cannot be ordered."""

from __future__ import annotations

import time
from collections.abc import Mapping
from itertools import pairwise, permutations

import networkx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import minimum_spanning_tree

from refarchive.errors import CannotMeasure
from refarchive.frames import ordering


def drawn(count: int, seed: int) -> np.ndarray:
    places = np.random.default_rng(seed).normal(size=(count, 3))
    return np.asarray(np.linalg.norm(places[:, None] - places[None], axis=-1))


def along(table: np.ndarray, order: tuple[int, ...]) -> list[float]:
    return [float(table[a, b]) for a, b in pairwise(order)]


def all_orders(count: int, fixed: Mapping[int, int]) -> list[tuple[int, ...]]:
    return [p for p in permutations(range(count)) if all(p[place] == one for place, one in fixed.items())]


FIXED: list[dict[int, int]] = [{}, {0: 2}, {0: 1, 4: 0}, {1: 3}, {0: 0, 2: 4, 4: 1}]


@pytest.mark.parametrize("fixed", FIXED, ids=str)
@pytest.mark.parametrize("count", [5, 6, 7])
def test_exact_orders_are_the_best_of_all_permutations(count: int, fixed: dict[int, int]) -> None:
    for seed in range(4):
        table = drawn(count, seed)
        walks = [along(table, p) for p in all_orders(count, fixed)]
        smooth = ordering.smooth(table, fixed)
        assert smooth.exact
        assert smooth.then.total == pytest.approx(min(sum(w) for w in walks))
        contrast = ordering.contrasting(table, fixed)
        reached = max(min(w) for w in walks)
        assert contrast.then.least == pytest.approx(reached)
        assert contrast.then.total == pytest.approx(max(sum(w) for w in walks if min(w) >= reached - 1e-9))
        for found in (smooth, contrast):
            assert all(found.places[place] == one for place, one in fixed.items())
            assert sum(along(table, found.places)) == pytest.approx(found.then.total)


def test_eight_pictures_too() -> None:
    table = drawn(8, 8)
    assert ordering.smooth(table).then.total == pytest.approx(min(sum(along(table, p)) for p in permutations(range(8))))


def test_what_is_looked_for_comes_near_what_is_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    over, under = [], []
    for seed in range(12):
        table = drawn(12, 100 + seed)
        exact = ordering.smooth(table), ordering.contrasting(table)
        with monkeypatch.context() as patch:
            patch.setattr(ordering, "EXACT_UP_TO", 3)
            looked = ordering.smooth(table), ordering.contrasting(table)
        assert not looked[0].exact
        assert "may exist" in looked[0].how
        over.append(looked[0].then.total / exact[0].then.total)
        under.append((looked[1].then.least or 0) / (exact[1].then.least or 1))
    assert min(over) >= 1 - 1e-9  # exact is never beaten
    assert max(under) <= 1 + 1e-9
    assert np.mean(over) < 1.005
    assert np.mean(under) > 0.97


def as_path(table: np.ndarray, method: str) -> float:
    """A path by networkx: a round tour through one more node that is near to all, opened there."""
    graph = networkx.Graph()
    count = len(table)
    for a in range(count):
        graph.add_edge(count, a, weight=0.0)
        for b in range(a):
            graph.add_edge(a, b, weight=float(table[a, b]))
    solve = networkx.approximation.traveling_salesman
    if method == "greedy":
        tour = solve.greedy_tsp(graph, source=count)
    else:
        tour = solve.simulated_annealing_tsp(graph, "greedy", source=count, seed=1, N_inner=200)
    return sum(graph[a][b]["weight"] for a, b in pairwise(tour))


@pytest.mark.parametrize("count", [20, 40])
def test_networkx_finds_nothing_shorter(count: int) -> None:
    # networkx's greedy and simulated-annealing tours (networkx.approximation.traveling_salesman), a second opinion.
    for seed in range(2):
        table = drawn(count, 300 + seed)
        own = ordering.smooth(table).then.total
        assert own <= as_path(table, "greedy") + 1e-9
        assert own <= as_path(table, "annealing") + 1e-9


def test_the_bound_of_smooth_is_the_least_spanning_tree() -> None:
    table = drawn(25, 5)
    found = ordering.smooth(table)
    assert found.bound == pytest.approx(float(minimum_spanning_tree(table).sum()))  # SciPy's, Kruskal's algorithm
    assert found.bound is not None
    assert found.bound <= found.then.total


def test_no_least_step_passes_its_bound() -> None:
    for seed in range(6):
        table = drawn(7, 40 + seed)
        bound = ordering.contrasting(table).bound
        assert bound is not None
        assert max(min(along(table, p)) for p in permutations(range(7))) <= bound + 1e-9


def test_sixty_pictures_take_no_time() -> None:
    table = drawn(60, 7)
    began = time.process_time()
    smooth = ordering.smooth(table, {0: 5, 59: 3})
    contrast = ordering.contrasting(table)
    assert time.process_time() - began < 4.0  # about 1.3 s where it was written
    assert sorted(smooth.places) == sorted(contrast.places) == list(range(60))
    assert (smooth.places[0], smooth.places[59]) == (5, 3)
    assert smooth.then.total < 0.6 * smooth.now.total
    assert (contrast.then.least or 0) > 2 * (contrast.now.least or 0)


def test_many_pictures_with_few_that_may_move_are_exact() -> None:
    table = drawn(60, 9)
    found = ordering.smooth(table, {place: place for place in range(60) if place not in (3, 20, 41)})
    assert found.exact
    best = min(
        sum(along(table, tuple(line)))
        for moved in permutations((3, 20, 41))
        for line in [[dict(zip((3, 20, 41), moved, strict=True)).get(k, k) for k in range(60)]]
    )
    assert found.then.total == pytest.approx(best)


@given(st.integers(0, 10_000), st.integers(2, 18), st.integers(0, 4))
@settings(max_examples=40, deadline=None)
def test_every_order_names_each_picture_once_and_keeps_what_is_fixed(seed: int, count: int, many: int) -> None:
    random = np.random.default_rng(seed)
    table = drawn(count, seed)
    some = min(many, count)
    fixed = dict(zip(random.permutation(count)[:some].tolist(), random.permutation(count)[:some].tolist(), strict=True))
    values = random.normal(size=count).tolist()
    for found in (ordering.smooth(table, fixed), ordering.contrasting(table, fixed), ordering.by_value(values, fixed)):
        assert sorted(found.places) == list(range(count))
        assert all(found.places[place] == one for place, one in fixed.items())
        assert found.moved == sum(place != one for place, one in enumerate(found.places))


def test_an_equal_present_order_stays() -> None:
    same = np.zeros((5, 5))
    for find in (ordering.smooth, ordering.contrasting):
        found = find(same)
        assert found.places == (0, 1, 2, 3, 4)
        assert found.moved == 0
        assert "present order" in found.how
    line = ordering.differences([1.0, 2.0, 3.0, 5.0])
    assert ordering.smooth(line).places == (0, 1, 2, 3)


def test_of_two_directions_that_which_moves_less_is_taken() -> None:
    found = ordering.smooth(ordering.differences([1.0, 3.0, 2.0, 4.0]))
    assert found.places == (0, 2, 1, 3)
    assert found.moved == 2


def test_one_picture_and_two() -> None:
    one = ordering.smooth([[0.0]])
    assert one.places == (0,)
    assert one.then == ordering.Steps(0.0, None, None, 0, 0)
    assert ordering.contrasting([[0.0]]).places == (0,)
    assert ordering.contrasting([[0.0, 3.0], [3.0, 0.0]]).then.least == 3.0


def test_a_picture_of_which_nothing_is_known_keeps_its_place() -> None:
    table = ordering.differences([5.0, 1.0, np.nan, 2.0, 4.0])
    found = ordering.smooth(table)
    assert found.places[2] == 2
    assert found.held == (2,)
    assert found.then.unknown == 2
    assert found.bound is None
    # Two stretches of two around the gap: 5-4 and 1-2 is the least, 1 + 1.
    assert found.then.total == pytest.approx(2.0)
    contrast = ordering.contrasting(table)
    assert contrast.places[2] == 2
    assert contrast.then.least == pytest.approx(3.0)  # 5-2 and 1-4, of the three ways to pair them


def test_by_key_runs_from_dark_to_light_and_equal_ones_stay() -> None:
    found = ordering.by_value([40.0, 20.0, None, 20.0, 5.0])
    assert found.places == (4, 1, 2, 3, 0)
    assert found.held == (2,)
    assert found.now.total == pytest.approx(20.0 + 15.0)
    assert found.then.total == pytest.approx(15.0 + 20.0)
    fixed = ordering.by_value([40.0, 20.0, 10.0, 30.0], {0: 3})
    assert fixed.places == (3, 2, 1, 0)


def test_by_date_says_where_days_overlap() -> None:
    found = ordering.by_date([(100, 110), (50, 60), None, (108, 130), (10, 10)])
    assert found.places == (4, 1, 2, 0, 3)
    assert "Of 1 neighbouring pair the days overlap" in found.how
    assert found.arrangement == "by date of event"
    assert "overlap" not in ordering.by_date([(1, 2), (3, 4)]).how


@pytest.mark.parametrize(
    ("table", "fixed"),
    [
        ([[0, 1], [2, 0]], {}),
        ([[0, -1], [-1, 0]], {}),
        ([[0, np.inf], [np.inf, 0]], {}),
        ([[0, 1, 2]], {}),
        (np.zeros((0, 0)), {}),
        (np.zeros((201, 201)), {}),
        (np.full((3, 3), np.nan), {}),
        (np.zeros((3, 3)), {3: 0}),
        (np.zeros((3, 3)), {0: -1}),
        (np.zeros((3, 3)), {0: 1, 1: 1}),
        (ordering.differences([1.0, np.nan, 3.0]), {1: 0}),
        ([[0, 1, np.nan, 2], [1, 0, 2, 2], [np.nan, 2, 0, 1], [2, 2, 1, 0]], {}),
    ],
)
def test_what_cannot_be_ordered_is_refused(table: object, fixed: dict[int, int]) -> None:
    for find in (ordering.smooth, ordering.contrasting):
        with pytest.raises(CannotMeasure):
            find(table, fixed)  # type: ignore[arg-type]


def test_other_refusals() -> None:
    with pytest.raises(CannotMeasure, match="ends before"):
        ordering.by_date([(5, 1), (1, 2)])
    with pytest.raises(CannotMeasure, match="sorted by"):
        ordering.by_value([None, None])
    with pytest.raises(CannotMeasure, match="each picture once"):
        ordering.steps([[0, 1], [1, 0]], (0, 0))
