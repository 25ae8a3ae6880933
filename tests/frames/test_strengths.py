"""The likelihood of answers: against published fits, another library and an independent maximiser."""

from __future__ import annotations

import math
from typing import Any

import choix
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from refarchive.errors import CannotMeasure
from refarchive.frames.strengths import (
    DOUBT,
    SPREAD,
    SPREADS,
    Counts,
    Fit,
    Judged,
    chances,
    errors_of,
    fitted,
    groups,
    has_maximum,
    indexed,
    information,
    tallied,
)

# Davidson 1970, example 2: which of two chocolate puddings, among six brands; pairs, then wins of the first, of the
# second, and no preference. The table and his estimates as quoted in R's PlackettLuce and hyper2 (inst/pudding.Rmd).
PUDDINGS = """
1 2 19 22 16 / 1 3 16 19 12 / 2 3 19 19 10 / 1 4 18 23 13 / 2 4 23 19 9 / 3 4 19 20 15 / 1 5 13 19 18 / 2 5 16 20 12
/ 3 5 16 15 17 / 4 5 17 14 16 / 1 6 18 21 12 / 2 6 22 20 12 / 3 6 13 18 10 / 4 6 14 19 18 / 5 6 11 21 12
"""
DAVIDSON = (0.1388005, 0.1729985, 0.1617420, 0.1653930, 0.1586805, 0.2023855)  # shares of worth; ν 0.7468147


def counted(rows: str) -> Counts:
    """Rows of first, second, wins, losses and ties, counted from 1, parted by slashes."""
    table = np.array([row.split() for row in rows.split("/")], dtype=np.int64)
    wins, losses, ties = table[:, 2:].T.astype(np.float64)
    return Counts(table[:, 0] - 1, table[:, 1] - 1, wins, losses, ties)


def independent(items: int, counts: Counts, ridge: float = 0.0) -> tuple[Any, float, Any]:
    """Strengths, ν and the function, by a general minimiser on Davidson's formula as he wrote it."""
    tied = counts.ties.sum() > 0

    def minus(values: Any) -> float:
        worth = np.exp(values[:items])
        one, other = worth[counts.first], worth[counts.second]
        middle = math.exp(values[items]) * np.sqrt(one * other) if tied else 0.0 * one
        said = counts.wins * np.log(one) + counts.losses * np.log(other) - counts.answers * np.log(one + other + middle)
        if tied:
            said = said + counts.ties * np.log(middle)
        return -float(said.sum()) + ridge * float(values @ values)

    found = minimize(minus, np.zeros(items + 1), method="BFGS", options={"gtol": 1e-7})
    return found.x[:items] - found.x[:items].mean(), float(np.exp(found.x[items])), minus


def drawn(items: int, answers: int, seed: int, *, ties: float) -> Counts:
    """Counts of answers by a judge of the model."""
    random = np.random.default_rng(seed)
    strengths = random.normal(size=items)
    names = [str(n) for n in range(items)]
    judged: list[Judged] = []
    for _ in range(answers):
        one, other = random.choice(items, 2, replace=False)
        odds = np.array(chances(np.array(strengths[one] - strengths[other]), math.log(ties) if ties else -math.inf))
        judged.append((names[one], names[other], ("left", "right", "neither yet")[random.choice(3, p=odds)]))
    return tallied(indexed(names), judged)


def test_ties_against_the_example_of_davidson() -> None:
    """To his own accuracy: his iteration stopped early, which PlackettLuce repeats by stopping after seven rounds."""
    found = fitted(6, counted(PUDDINGS), penalised=False)
    worth = np.exp(found.strengths)
    assert worth / worth.sum() == pytest.approx(DAVIDSON, abs=5e-5)
    assert math.exp(found.log_ties) == pytest.approx(0.7468147, abs=2e-5)


@pytest.mark.parametrize(("items", "answers", "ties"), [(4, 60, 0.7), (5, 150, 0.0), (7, 300, 2.0)])
def test_a_general_minimiser_finds_the_same(items: int, answers: int, ties: float) -> None:
    counts = drawn(items, answers, 11, ties=ties)
    assert has_maximum(items, counts)
    found = fitted(items, counts, penalised=False)
    strengths, odds, _ = independent(items, counts)
    assert found.strengths == pytest.approx(strengths, abs=2e-5)
    if ties:
        assert math.exp(found.log_ties) == pytest.approx(odds, rel=1e-4)
    else:
        assert found.log_ties == -math.inf


def test_the_covariance_is_the_inverse_of_the_curvature() -> None:
    """By finite differences of the independent function, in contrasts against the first item."""
    counts = drawn(4, 80, 3, ties=0.8)
    found = fitted(4, counts, penalised=False)
    _, _, minus = independent(4, counts)
    at = np.append(found.strengths, found.log_ties)
    step, axes = 1e-4, np.eye(5)[1:] * 1e-4
    curvature = np.array(
        [
            [
                (minus(at + a + b) - minus(at + a - b) - minus(at - a + b) + minus(at - a - b)) / (4 * step**2)
                for a in axes
            ]
            for b in axes
        ]
    )
    inverse = np.linalg.inv(curvature)[:3, :3]
    contrast = np.hstack([-np.ones((3, 1)), np.eye(3)])
    assert contrast @ found.covariance @ contrast.T == pytest.approx(inverse, rel=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_another_library_finds_the_same(seed: int) -> None:
    """choix: iterative Luce spectral ranking, which knows neither ties nor standard errors."""
    counts = drawn(6, 90, seed, ties=0.0)
    assert has_maximum(6, counts)
    data = []
    for a, b, wins, losses in zip(counts.first, counts.second, counts.wins, counts.losses, strict=True):
        data += [(int(a), int(b))] * int(wins) + [(int(b), int(a))] * int(losses)
    assert fitted(6, counts, penalised=False).strengths == pytest.approx(choix.ilsr_pairwise(6, data), abs=1e-6)


@pytest.mark.parametrize(
    ("rows", "exists"),
    [
        ("1 2 1 0 0", False),  # always preferred
        ("1 2 3 1 0", True),
        ("1 2 1 0 0 / 2 3 1 0 0", False),  # a chain
        ("1 2 1 0 0 / 2 3 1 0 0 / 1 3 0 1 0", True),  # round in a circle: Ford 1957
        ("1 2 2 2 0 / 2 3 2 2 0 / 3 4 1 0 0", False),
        ("1 2 0 0 3", False),  # ties alone
        ("1 2 1 0 1", False),  # a win and a tie: ever further apart, with ever more ties
        ("1 2 1 0 0 / 1 3 0 0 1 / 2 3 0 0 1", False),  # strongly connected if ties counted both ways, yet none exists
        ("1 2 1 0 0 / 2 3 1 0 0 / 1 3 0 0 1", True),  # the tie holds the chain together
    ],
)
def test_when_a_maximum_exists(rows: str, exists: bool) -> None:
    counts = counted(rows)
    items = int(counts.second.max()) + 1
    assert has_maximum(items, counts) is exists
    assert np.isfinite(fitted(items, counts, penalised=True).strengths).all()
    if exists:
        assert np.abs(fitted(items, counts, penalised=False).strengths).max() < 3


def test_existence_agrees_with_where_a_vanishing_ridge_leads() -> None:
    """Without a maximum the strengths grow as a ridge is made smaller; with one they stay."""
    seen = set()
    for seed in range(40):
        counts = drawn(3, 5 + seed % 6, seed, ties=0.8)
        if len(groups(3, counts)) > 1:
            continue
        sizes = [np.abs(np.append(*independent(3, counts, ridge)[:2])).max() for ridge in (1e-3, 1e-5)]
        grows = bool(sizes[1] > sizes[0] + 1.0)
        if not counts.ties.sum() or counts.ties.sum() < counts.answers.sum():
            assert has_maximum(3, counts) is not grows, seed
            seen.add(grows)
    assert seen == {True, False}


def integrated(wins: int, losses: int, ties: int) -> tuple[float, float, float, float]:
    """Of the difference of two items: mean, standard deviation, and 2.5 and 97.5 %, by plain sums over a fine grid."""
    apart = np.linspace(-40, 40, 8001)[:, None]
    log_ties = np.linspace(-12, 12, 241)[None, :] if ties else np.array([[-np.inf]])
    total = np.logaddexp(np.logaddexp(apart / 2, -apart / 2), log_ties)
    said = (wins - losses) * apart / 2 - (wins + losses + ties) * total
    if ties:
        share = np.exp(log_ties) / (2 + np.exp(log_ties))
        said = said + ties * log_ties + 0.5 * np.log(share * (1 - share))
    likelihood, at = np.exp(said - said.max()).sum(axis=1), apart[:, 0]
    weight = np.zeros(len(at))
    for spread in SPREADS:
        prior = np.exp(-0.5 * (math.log(spread / SPREAD) / DOUBT) ** 2)
        weight += prior * likelihood * np.exp(-(at**2) / (4 * spread**2)) / spread
    weight /= weight.sum()
    mean, below = float(weight @ at), np.cumsum(weight)
    low, high = (float(at[np.searchsorted(below, share)]) for share in (0.025, 0.975))
    return mean, math.sqrt(weight @ (at - mean) ** 2), low, high


@pytest.mark.parametrize(
    ("wins", "losses", "ties", "allowed"),
    [(1, 0, 0, 0.2), (3, 1, 0, 0.16), (12, 5, 0, 0.04), (6, 0, 0, 0.3), (5, 2, 4, 0.15), (30, 20, 15, 0.03)],
)
def test_the_penalised_fit_comes_near_the_integral(wins: int, losses: int, ties: int, allowed: float) -> None:
    """By numerical integration of the same prior; in standard deviations, and nearer the more was answered."""
    found = fitted(2, counted(f"1 2 {wins} {losses} {ties}"), penalised=True)
    mean, deviation, low, high = integrated(wins, losses, ties)
    assert found.strengths[0] - found.strengths[1] == pytest.approx(mean, abs=allowed * deviation)
    assert errors_of(found.covariance)[0, 1] == pytest.approx(deviation, rel=allowed)
    bounds = found.lower(0.025)
    assert bounds[0, 1] == pytest.approx(low, abs=0.1 * deviation)
    assert -bounds[1, 0] == pytest.approx(high, abs=0.5 * deviation)


@pytest.mark.parametrize(("wins", "losses"), [(8, 0), (12, 1), (12, 5), (40, 0)])
def test_the_nearer_bound_claims_no_less_or_more_than_the_integral(wins: int, losses: int) -> None:
    """What decides whether one is ahead: also where the difference itself is known badly."""
    bound = fitted(2, counted(f"1 2 {wins} {losses} 0"), penalised=True).lower(0.025)[0, 1]
    assert bound == pytest.approx(integrated(wins, losses, 0)[2], abs=0.2)


def test_many_ties_draw_nothing_apart() -> None:
    """An item that was only ever found equal to another stays with it."""
    rows = "1 2 1 0 0 / 2 3 0 0 4 / 3 4 0 0 1"
    found = fitted(4, counted(rows), penalised=True)
    assert found.strengths[2] == pytest.approx(found.strengths[3], abs=0.5)
    alone = fitted(2, counted("1 2 0 0 5"), penalised=True)
    assert alone.strengths == pytest.approx([0, 0], abs=1e-9)


def test_chances_and_information() -> None:
    one, two, none = chances(np.array([0.0, 2.0]), math.log(0.5))
    assert one + two + none == pytest.approx([1, 1])
    assert none[0] == pytest.approx(0.5 / 2.5)
    assert one[1] / two[1] == pytest.approx(math.exp(2))
    assert information(np.array([0.0]), -math.inf) == pytest.approx([0.25])
    assert np.isfinite(np.array(chances(np.array([900.0, -900.0]), 3.0))).all()


names = st.sampled_from(["a", "b", "c", "d", "e"])
answers = st.lists(
    st.tuples(names, names, st.sampled_from(["left", "right", "neither yet"])).filter(lambda one: one[0] != one[1]),
    min_size=1,
    max_size=25,
)


def everything(judged: list[Judged]) -> list[tuple[list[str], Fit]]:
    listed = sorted({name for one in judged for name in one[:2]})
    counts = tallied(indexed(listed), judged)
    found = []
    for members in groups(len(listed), counts):
        within = counts.among(members, len(listed))
        found.append(([listed[n] for n in members], fitted(len(members), within, penalised=True)))
    return found


@given(answers)
@settings(max_examples=60, deadline=None)
def test_any_answers_have_one_finite_fit(judged: list[Judged]) -> None:
    for _, found in everything(judged):
        assert np.isfinite(found.strengths).all()
        assert found.strengths.sum() == pytest.approx(0, abs=1e-9)
        assert found.covariance == pytest.approx(found.covariance.T)
        assert found.covariance.sum(axis=0) == pytest.approx(0, abs=1e-9)
        assert np.linalg.eigvalsh(found.covariance).min() > -1e-9


@given(answers)
@settings(max_examples=40, deadline=None)
def test_the_opposite_answers_turn_the_order_round(judged: list[Judged]) -> None:
    turned = {"left": "right", "right": "left", "neither yet": "neither yet"}
    other = everything([(left, right, turned[says]) for left, right, says in judged])
    for (_, one), (_, back) in zip(everything(judged), other, strict=True):
        assert back.strengths == pytest.approx(-one.strengths, abs=1e-5)
        assert back.covariance == pytest.approx(one.covariance, abs=1e-5)


@pytest.mark.parametrize(
    ("items", "judged", "problem"),
    [
        (["a", "b"], [("a", "a", "left")], "with itself"),
        (["a", "b"], [("a", "c", "left")], "not among the items"),
        (["a", "b"], [("a", "b", "both")], "no answer"),
        (["a", "b"], [("a", "b")], "left, right and what was said"),
        (["a", "b"], ["abc"], "left, right and what was said"),
        (["a", "b", "a"], [], "twice"),
        (["a", ""], [], "no name"),
        (["a", "x" * 201], [], "no name"),
        (["a", 3], [], "no name"),
        ([str(n) for n in range(501)], [], "too many"),
        (["a", "b"], [("a", "b", "left")] * 50_001, "too many"),
    ],
)
def test_what_cannot_be_counted_is_refused(items: list[Any], judged: list[Any], problem: str) -> None:
    with pytest.raises(CannotMeasure, match=problem) as refused:
        tallied(indexed(items), judged)
    assert refused.value.next_step
