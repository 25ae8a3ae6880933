"""Ranks, chance and intervals of trust, against SciPy's hypergeometric distribution and bootstrap."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from refarchive.search.trust import LEAST, Share, Trust, chance_of, ranks, within


def test_ranks_count_from_one_and_ties_count_against() -> None:
    scores = [[0.9, 0.5, 0.1], [0.2, 0.7, 0.7], [0.5, 0.5, 0.5], [0.1, 0.2, 0.3]]
    assert ranks(scores, [{0}, {1}, {0}, {0, 2}]).tolist() == [1, 2, 3, 1]
    assert ranks([[0.5, 0.5, 0.1]], [{0, 1}]).tolist() == [1]  # both of the first two are right


@settings(deadline=None)
@given(answers=st.integers(1, 40), right=st.integers(1, 5), first=st.integers(1, 8))
def test_chance_is_the_hypergeometric_one(answers: int, right: int, first: int) -> None:
    right = min(right, answers)
    expected = 1 - stats.hypergeom(answers, right, min(first, answers)).pmf(0)
    assert chance_of([set(range(right))] * 3, answers, first) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("n", "good"), [(40, 13), (200, 180), (674, 215)])
def test_the_interval_is_that_of_another_bootstrap(n: int, good: int) -> None:
    found = np.where(np.arange(n) < good, 1, 7)
    share = within(found, 1, 0.01)
    assert share is not None
    assert share.share == good / n
    other = stats.bootstrap(
        ((found <= 1).astype(float),), np.mean, n_resamples=4000, method="percentile", rng=np.random.default_rng(1)
    )
    assert (share.low, share.high) == pytest.approx(tuple(other.confidence_interval), abs=0.02)


def test_few_questions_say_nothing() -> None:
    assert within(np.ones(LEAST - 1), 1, 0.1) is None
    told = Trust("e", 4, 4, None, None, None, None).sentences
    assert all("too few" in sentence for sentence in told)


def test_blind_scores_stay_at_chance() -> None:
    random = np.random.default_rng(3)
    right = [{n} for n in range(400)]
    share = within(ranks(random.normal(size=(400, 400)), right), 5, chance_of(right, 400, 5))
    assert share is not None
    assert share.low <= share.chance <= share.high


def test_it_is_said_with_its_uncertainty() -> None:
    one = Share(0.32, 0.27, 0.38, 300, 0.02)
    assert one.words == "32 % (27–38 %; chance 2.0 %; of 300)"
