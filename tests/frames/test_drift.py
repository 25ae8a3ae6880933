"""Whether an order changed, on judges who did and did not change their minds."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from judged import Judge, drawn
from scipy.stats import norm

from refarchive.errors import CannotMeasure
from refarchive.frames.choose import standing
from refarchive.frames.drift import CANNOT_TELL, CHANGED, NO_CHANGE, drift
from refarchive.frames.strengths import Judged


def weeks(judge: Judge, each: int, *, rise: float, at: int = 3, number: int = 6) -> tuple[list[Judged], list[float]]:
    """Answers of some weeks; from one week on the item in the middle is stronger."""
    record: list[Judged] = []
    days: list[float] = []
    for week in range(number):
        if week == at:
            judge.strengths[len(judge.items) // 2] += rise
        *_, last = drawn(judge, each, seed=week)
        record += last
        days += [7.0 * week + n / 1000 for n in range(len(last))]
    return record, days


def test_a_large_change_is_dated_and_named() -> None:
    judge = Judge(8, spread=1.0, seed=2)
    record, days = weeks(judge, 120, rise=4.0)
    found = drift(judge.items, record, days)
    assert (found.word, found.since_day) == (CHANGED, 21.0)
    assert found.moved[0].item == "f4"
    assert found.moved[0].low > 0
    assert found.probability is not None
    assert found.probability < 0.001
    assert "probability below 0.001" in found.sentence
    assert "f4" in found.sentence
    assert (found.early, found.late) == (360, 360)


def test_without_a_change_none_is_seen_and_what_could_hide_is_said() -> None:
    judge = Judge(6, spread=1.0, seed=5)
    record, days = weeks(judge, 100, rise=0.0)
    found = drift(judge.items, record, days)
    assert found.word == NO_CHANGE
    assert not found.moved
    assert len(found.changes) == 6
    assert sum(change.change for change in found.changes) == pytest.approx(0, abs=1e-6)
    assert "could hide" in found.sentence


def test_few_answers_cannot_tell() -> None:
    judge = Judge(8, seed=3)
    record, days = weeks(judge, 6, rise=1.0)
    found = drift(judge.items, record, days, since_day=21.0)
    assert found.word == CANNOT_TELL
    assert found.since_day == 21.0
    assert "could hide" in found.sentence


@pytest.mark.parametrize(
    ("judged", "days"),
    [
        ([], []),
        ([("a", "b", "left")], [3.0]),
        ([("a", "b", "left")] * 4, [0.0, 0.01, 0.02, 0.03]),  # one sitting
        ([("a", "b", "left")] * 9 + [("a", "b", "right")], [0.0] * 9 + [7.0]),  # nearly all in one
    ],
)
def test_one_sitting_cannot_tell(judged: list[Judged], days: list[float]) -> None:
    found = drift(["a", "b", "c"], judged, days)
    assert (found.word, found.probability, found.since_day) == (CANNOT_TELL, None, None)
    assert "one sitting" in found.sentence


def test_different_frames_before_and_after_cannot_be_told_apart() -> None:
    found = drift(list("abcd"), [("a", "b", "left")] * 5 + [("c", "d", "left")] * 5, [0.0] * 5 + [9.0] * 5)
    assert (found.word, found.probability) == (CANNOT_TELL, None)
    assert "both before and after" in found.sentence


def test_two_frames_by_hand() -> None:
    """Of two frames each moves half their difference; its interval is that of the two spans' difference, halved."""
    judged: list[Judged] = [
        ("a", "b", says) for says in ["left"] * 20 + ["right"] * 10 + ["left"] * 10 + ["right"] * 20
    ]
    found = drift(["a", "b"], judged, [0.0] * 30 + [5.0] * 30, since_day=5.0)
    spans = [standing(["a", "b"], part) for part in (judged[:30], judged[30:])]
    change = (spans[1].difference[0, 1] - spans[0].difference[0, 1]) / 2
    error = math.hypot(spans[0].error[0, 1], spans[1].error[0, 1]) / 2
    quantile = float(norm.ppf(1 - (1 - 0.95**0.5) / 2))
    first = found.changes[0]
    assert (first.change, first.high - first.low) == pytest.approx((change, 2 * quantile * error))


def test_changes_are_claimed_seldom_where_there_are_none() -> None:
    """A quick part of tests/bench/choosing.py: at most one in twenty, give or take what 30 runs leave open."""
    claimed = 0
    for run in range(30):
        judge = Judge(6, spread=1.0, seed=run)
        record, days = weeks(judge, 40, rise=0.0)
        claimed += drift(judge.items, record, days).word == CHANGED
    assert claimed <= 4


def test_order_of_answers_and_shift_of_days_do_not_matter() -> None:
    judge = Judge(5, seed=1)
    record, days = weeks(judge, 20, rise=3.0)
    turned = np.random.default_rng(1).permutation(len(record))
    one = drift(judge.items, record, days)
    two = drift(judge.items, [record[n] for n in turned], [days[n] + 1000 for n in turned])
    assert one.word == two.word
    assert two.since_day == pytest.approx((one.since_day or 0) + 1000)
    for here, there in itertools.zip_longest(one.changes, two.changes):
        assert here.change == pytest.approx(there.change, abs=1e-6)


@pytest.mark.parametrize(
    "call",
    [
        lambda: drift(["a", "b"], [("a", "b", "left")], []),
        lambda: drift(["a", "b"], [("a", "b", "left")], [math.nan]),
        lambda: drift(["a", "b"], [("a", "b", "left")], ["Monday"]),  # type: ignore[list-item]
        lambda: drift(["a", "b"], [("a", "b", "left")], [True]),
        lambda: drift(["a", "b"], [("a", "b", "left")], [1.0], since_day=math.inf),
        lambda: drift(["a", "b"], [("a", "b", "left")], [1.0], level=1),
        lambda: drift(["a", "b"], [("a", "c", "left")], [1.0]),
    ],
)
def test_what_cannot_be_used_is_refused(call: Any) -> None:
    with pytest.raises(CannotMeasure) as refused:
        call()
    assert refused.value.next_step
