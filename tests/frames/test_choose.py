"""Where frames stand: published tables, words for every pair, and intervals that hold."""

from __future__ import annotations

import itertools
import math
import time
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judged import Judge, chosen, drawn
from scipy.stats import studentized_range

from refarchive.errors import CannotMeasure
from refarchive.frames.choose import AHEAD, INSUFFICIENT, MAXIMUM, NO_COMPARISON, NOT_SEPARATED, PENALISED, standing
from refarchive.frames.strengths import Judged

# Agresti 2002, Categorical Data Analysis, table 10.11: wins of the row over the column, American League East, 1987.
TEAMS = "Milwaukee Detroit Toronto NewYork Boston Cleveland Baltimore".split()
WINS = """
0 7 9 7 7 9 11 / 6 0 7 5 11 9 9 / 4 6 0 7 7 8 12 / 6 8 6 0 6 7 10 / 6 2 6 7 0 7 12 / 4 4 5 6 6 0 6 / 2 4 1 3 1 7 0
"""
# Citations among four journals (Agresti 2002, p. 448; the counts of Stigler 1994 as in R's BradleyTerry2).
JOURNALS = ["Biometrika", "Communications", "JASA", "JRSS-B"]
CITED = [(0, 1, 730, 33), (0, 2, 498, 320), (0, 3, 221, 284), (1, 2, 68, 813), (1, 3, 17, 276), (2, 3, 142, 325)]


def baseball() -> list[Judged]:
    table = [[int(cell) for cell in row.split()] for row in WINS.split("/")]
    return [
        (TEAMS[row], TEAMS[column], "left")
        for row, column in itertools.product(range(7), repeat=2)
        for _ in range(table[row][column])
    ]


def test_baseball_as_published() -> None:
    """Agresti prints 1.58, 1.44, 1.29, 1.25, 1.11 and 0.68 with Baltimore at nought, standard errors about 0.3."""
    found = standing(TEAMS, baseball(), estimate=MAXIMUM)
    assert found.groups[0].estimate == "maximum likelihood"
    assert found.groups[0].tie_odds is None
    against = found.strengths - found.strengths[-1]
    assert against == pytest.approx([1.58, 1.44, 1.29, 1.25, 1.11, 0.68, 0], abs=0.005)
    assert found.error[:-1, -1] == pytest.approx([0.3433, 0.3396, 0.3367, 0.3359, 0.3339, 0.3319], abs=5e-5)


def test_a_difference_needs_the_covariance() -> None:
    """Milwaukee and Detroit: 0.1449, standard error 0.3111 by the covariance (0.48 without), so not separated."""
    found = standing(TEAMS, baseball(), estimate=MAXIMUM).pair("Milwaukee", "Detroit")
    assert found.difference == pytest.approx(0.144947, abs=1e-6)
    assert (found.low, found.high) == pytest.approx((-0.465, 0.755), abs=5e-4)
    assert (found.word, found.ahead, found.answers) == (NOT_SEPARATED, "", 13)
    assert found.sentence == "Milwaukee and Detroit are not separated (+0.14, from −0.46 to +0.75; asked 13 times)."
    last = standing(TEAMS, baseball(), estimate=MAXIMUM).pair("Baltimore", "Milwaukee")
    assert (last.word, last.ahead) == (AHEAD, "Milwaukee")
    assert last.sentence.startswith("Milwaukee is ahead of Baltimore (+1.58, from +0.91 to +2.25; ")


def test_citations_as_published() -> None:
    """With Biometrika at nought −2.9491, −0.4796, 0.2690, standard errors 0.10255, 0.06059, 0.07083 (BradleyTerry2)."""
    judged = []
    for one, other, won, lost in CITED:
        judged += [(JOURNALS[one], JOURNALS[other], "left")] * won + [(JOURNALS[one], JOURNALS[other], "right")] * lost
    found = standing(JOURNALS, judged, estimate=MAXIMUM)
    assert found.strengths[1:] - found.strengths[0] == pytest.approx([-2.9491, -0.4796, 0.2690], abs=5e-5)
    assert found.error[0, 1:] == pytest.approx([0.10255, 0.06059, 0.07083], abs=2e-5)
    assert found.counted() == {AHEAD: 6, NOT_SEPARATED: 0, NO_COMPARISON: 0}
    assert found.unpassed() == (("JRSS-B",),)


@pytest.mark.parametrize("number", [3, 7, 12])
def test_all_pairs_together_are_tukeys_range_where_all_were_asked_alike(number: int) -> None:
    """Equal strengths, each pair asked alike: the quantile is that of the studentised range over √2 (scipy)."""
    items = [str(n) for n in range(number)]
    judged = [(a, b, says) for a, b in itertools.combinations(items, 2) for says in ("left", "right") * 12]
    found = standing(items, judged, simultaneous=True)
    expected = float(studentized_range.ppf(0.95, number, np.inf)) / math.sqrt(2)
    assert found.groups[0].quantile == pytest.approx(expected, abs=0.03)
    assert "all pairs of a group together" in " ".join(found.sentences)
    assert "each pair by itself" in " ".join(standing(items, judged).sentences)


def test_nothing_to_compare() -> None:
    assert standing([], []).sentences == ("There is nothing to compare.",)
    alone = standing(["a"], [])
    assert (alone.groups[0].estimate, alone.unpassed(), list(alone.pairs())) == (INSUFFICIENT, (("a",),), [])
    assert alone.sentences == ("Insufficient comparisons: a was compared with nothing so far.",)


def test_groups_that_nothing_connects_cannot_be_compared() -> None:
    found = standing(list("abcde"), [("a", "b", "left"), ("c", "d", "neither yet")])
    assert [group.items for group in found.groups] == [("a", "b"), ("c", "d"), ("e",)]
    assert found.pair("a", "c").word == NO_COMPARISON
    assert found.pair("a", "c").sentence.endswith("no chain of comparisons connects them.")
    assert found.pair("a", "e").difference is None
    assert found.counted() == {AHEAD: 0, NOT_SEPARATED: 2, NO_COMPARISON: 8}
    said = " ".join(
        standing(list("abcde"), [("a", "b", "left"), ("c", "d", "neither yet")], estimate=MAXIMUM).sentences
    )
    assert "2 groups that nothing connects" in said
    assert "Insufficient comparisons: e was" in said
    assert "every answer was neither yet" in said
    assert "has no maximum" in said
    assert "Nothing is separated yet." in said


def test_a_chain_is_finite_and_claims_little() -> None:
    found = standing(list("abc"), [("a", "b", "left"), ("b", "c", "left")])
    assert found.groups[0].estimate == "penalised likelihood"
    assert found.strengths[0] > found.strengths[1] > found.strengths[2]
    assert found.counted()[NOT_SEPARATED] == 3


def test_a_frame_preferred_without_exception_comes_ahead_and_stays_finite() -> None:
    found = standing(["a", "b"], [("a", "b", "left")] * 12, estimate=MAXIMUM)
    pair = found.pair("a", "b")
    assert pair.word == AHEAD
    assert pair.high is not None
    assert math.isfinite(pair.high)
    assert "no maximum" in found.groups[0].because


def test_contradictory_repeats_cancel() -> None:
    judged: list[Judged] = [("a", "b", "left"), ("b", "a", "left"), ("a", "b", "neither yet")]
    pair = standing(["a", "b"], judged).pair("a", "b")
    assert pair.difference == pytest.approx(0, abs=1e-9)
    assert (pair.word, pair.answers) == (NOT_SEPARATED, 3)


def test_neither_yet_draws_frames_together_and_is_counted() -> None:
    judged: list[Judged] = [("a", "b", "left")] * 6 + [("a", "b", "right")] * 2
    without = standing(["a", "b"], judged).pair("a", "b")
    found = standing(["a", "b"], judged + [("a", "b", "neither yet")] * 12)
    pair = found.pair("a", "b")
    assert without.difference is not None
    assert pair.difference is not None
    assert pair.difference > 0
    assert found.groups[0].neither_yet == 12
    assert found.groups[0].tie_odds is not None
    assert found.groups[0].tie_odds > 2
    assert pair.word == NOT_SEPARATED


def test_maximum_likelihood_may_be_asked_for() -> None:
    judged: list[Judged] = [("a", "b", "left")] * 2 + [("a", "b", "right")]
    assert standing(["a", "b"], judged).groups[0].estimate == PENALISED
    asked = standing(["a", "b"], judged, estimate=MAXIMUM)
    assert asked.groups[0].estimate == MAXIMUM
    assert asked.pair("a", "b").difference == pytest.approx(math.log(2))


def test_two_hundred_frames_with_two_comparisons_each() -> None:
    judge = Judge(200, seed=4)
    *_, record = drawn(judge, 200, seed=4)
    found = standing(judge.items, record, simultaneous=True)
    assert sum(found.counted().values()) == 199 * 100
    assert len(list(found.pairs())) == 199 * 100
    assert found.counted()[NOT_SEPARATED] > 1000


def test_speed() -> None:
    """Processor time, best of three, so that a busy machine does not matter."""
    judge = Judge(30, seed=1)
    *_, record = drawn(judge, 400, seed=1)
    taken = []
    for _ in range(3):
        began = time.process_time()
        standing(judge.items, record)
        taken.append(time.process_time() - began)
    assert min(taken) < 0.3


@pytest.mark.parametrize(("number", "each"), [(6, 3), (12, 4), (12, 20)])
@pytest.mark.parametrize("shown", [drawn, chosen])
def test_intervals_hold_on_judges_whose_order_is_known(number: int, each: int, shown: Any) -> None:
    """A quick part of tests/bench/choosing.py; 95 % intervals, and few of the pairs called ahead are wrong."""
    held = of = called = wrong = 0
    above = np.triu_indices(number, 1)
    for run in range(12):
        judge = Judge(number, spread=1.5, seed=run)
        *_, record = shown(judge, number * each // 2, seed=run)
        found = standing(judge.items, record)
        apart = (judge.strengths[:, None] - judge.strengths)[above]
        known = np.isfinite(found.difference[above])
        held += int(((found.low[above] <= apart) & (apart <= found.high[above]))[known].sum())
        of += int(known.sum())
        called += found.counted()[AHEAD]
        wrong += int(np.tril(found.ahead, -1).sum())
    assert held / of > 0.91
    assert wrong <= 0.06 * called + 1


names = st.sampled_from(["a", "b", "c", "d"])
answers = st.lists(
    st.tuples(names, names, st.sampled_from(["left", "right", "neither yet"])).filter(lambda one: one[0] != one[1]),
    max_size=20,
)


@given(answers, st.permutations(["a", "b", "c", "d"]), st.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None)
def test_sides_names_and_order_do_not_matter(judged: list[Judged], order: list[str], random: Any) -> None:
    crossed = {"left": "right", "right": "left", "neither yet": "neither yet"}
    other: list[Judged] = [
        (right, left, crossed[says]) if random.random() < 0.5 else (left, right, says) for left, right, says in judged
    ]
    random.shuffle(other)
    one, two = standing(["a", "b", "c", "d"], judged), standing(order, other)
    for first, second in itertools.combinations("abcd", 2):
        here, there = one.pair(first, second), two.pair(first, second)
        assert (here.word, here.ahead, here.answers) == (there.word, there.ahead, there.answers)
        if here.difference is not None:
            assert here.difference == pytest.approx(there.difference, abs=1e-6)
            assert here.low == pytest.approx(there.low, abs=1e-6)


@given(answers)
@settings(max_examples=40, deadline=None)
def test_every_pair_gets_a_word_and_matrices_agree(judged: list[Judged]) -> None:
    found = standing(["a", "b", "c", "d"], judged)
    words = [pair.word for pair in found.pairs()]
    assert found.counted() == {word: words.count(word) for word in (AHEAD, NOT_SEPARATED, NO_COMPARISON)}
    assert found.covariance == pytest.approx(found.covariance.T)
    assert np.linalg.eigvalsh(found.covariance).min() > -1e-9
    assert not (found.ahead & found.ahead.T).any()
    assert all(free for free in found.unpassed())


@given(answers)
@settings(max_examples=20, deadline=None)
def test_all_pairs_together_claim_no_more_than_one_at_a_time(judged: list[Judged]) -> None:
    single = standing(["a", "b", "c", "d"], judged)
    together = standing(["a", "b", "c", "d"], judged, simultaneous=True)
    assert not (together.ahead & ~single.ahead).any()


@pytest.mark.parametrize(
    "call",
    [
        lambda: standing(["a", "b"], [], level=1.0),
        lambda: standing(["a", "b"], [], level=0.2),
        lambda: standing(["a", "b"], [], level=math.nan),
        lambda: standing(["a", "b"], [], estimate="guess"),  # type: ignore[arg-type]
        lambda: standing(["a", "b"], [("a", "b", "maybe")]),
        lambda: standing(["a", "b"], []).pair("a", "c"),
        lambda: standing(["a", "b"], []).pair("a", "a"),
    ],
)
def test_what_cannot_be_used_is_refused(call: Any) -> None:
    with pytest.raises(CannotMeasure) as refused:
        call()
    assert refused.value.next_step
