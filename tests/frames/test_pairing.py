"""Which pair to look at next: never one that is clear, connected first, and the same again from the same record."""

from __future__ import annotations

import math
import time
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judged import Judge, chosen, drawn
from scipy.special import entr, ndtr

from refarchive.errors import CannotMeasure
from refarchive.frames.choose import AHEAD, standing
from refarchive.frames.pairing import AGAIN, BETWEEN, CONNECTS, OPEN, gains, next_pair, stopping
from refarchive.frames.strengths import Judged, groups, indexed, information, tallied


def sat(
    judge: Judge, answers: int, *, seed: int, share: float = 0.1
) -> tuple[list[Judged], list[int | None], list[str]]:
    """A whole sitting, with what was repeated and why each pair was shown."""
    record: list[Judged] = []
    repeats: list[int | None] = []
    why: list[str] = []
    for _ in range(answers):
        pair = next_pair(judge.items, record, seed=seed, repeats=repeats, repeat_share=share)
        if pair is None:
            break
        record.append(judge.answer(pair.left, pair.right))
        repeats.append(pair.repeats)
        why.append(pair.why)
    return record, repeats, why


def test_items_are_connected_first_without_one_pair_too_many() -> None:
    judge = Judge(17, seed=1)
    record, _, why = sat(judge, 40, seed=3, share=0.0)
    assert why[:16] == [CONNECTS] * 16
    assert set(why[16:]) == {OPEN}
    assert len(groups(17, tallied(indexed(judge.items), record[:16]))) == 1


def test_a_clear_pair_is_never_asked_about() -> None:
    judge = Judge(6, spread=3.0, seed=2)
    record: list[Judged] = []
    asked = 0
    for _ in range(90):
        pair = next_pair(judge.items, record, seed=5, repeat_share=0.0)
        if pair is None:
            break
        if pair.why == OPEN:
            asked += 1
            assert standing(judge.items, record).pair(pair.left, pair.right).word != AHEAD
        record.append(judge.answer(pair.left, pair.right))
    assert asked > 20


def test_nothing_is_left_to_ask_where_all_is_clear() -> None:
    clear: list[Judged] = [("a", "b", "left"), ("b", "c", "left"), ("a", "c", "left")] * 12
    assert next_pair(list("abc"), clear, seed=0, repeat_share=0.0) is None
    assert next_pair(["a"], [], seed=0) is None
    assert next_pair([], [], seed=0) is None


def test_the_same_record_and_seed_give_the_same_sitting() -> None:
    one = sat(Judge(7, seed=4), 40, seed=9)
    two = sat(Judge(7, seed=4), 40, seed=9)
    assert one == two
    record, repeats, _ = one
    resumed = next_pair(Judge(7).items, record[:25], seed=9, repeats=repeats[:25])
    assert resumed is not None
    assert (resumed.left, resumed.right, resumed.repeats) == (*record[25][:2], repeats[25])
    assert sat(Judge(7, seed=4), 40, seed=10)[0] != record


@pytest.mark.parametrize("share", [0.1, 0.25])
def test_repeats_come_at_the_stated_rate_and_never_at_once(share: float) -> None:
    judge = Judge(12, seed=6)
    record, repeats, why = sat(judge, 160, seed=2, share=share)
    places = [place for place, earlier in enumerate(repeats) if earlier is not None]
    assert len(places) == pytest.approx(share * 160, abs=3)
    for place in places:
        earlier = repeats[place]
        assert earlier is not None
        assert set(record[earlier][:2]) == set(record[place][:2])
        between = [frozenset(judged[:2]) for judged in record[place - BETWEEN : place]]
        assert frozenset(record[place][:2]) not in between
        assert why[place] == AGAIN
        assert place + 1 not in places
    assert len({repeats[place] for place in places}) == len(places)
    gaps = np.diff(places)
    assert len(set(gaps.tolist())) > 2  # not at places that could be counted out
    swapped = [record[place][0] != record[repeats[place] or 0][0] for place in places]
    assert 0 < sum(swapped) < len(swapped)


def test_no_repeats_are_shown_where_none_are_wanted() -> None:
    assert not any(earlier is not None for earlier in sat(Judge(5, seed=1), 50, seed=1, share=0.0)[1])


def test_sides_are_drawn() -> None:
    """Of 400 draws the left holds the earlier item in about half; four standard deviations are allowed."""
    left = sum(next_pair(["a", "b"], [], seed=seed).left == "a" for seed in range(400))  # type: ignore[union-attr]
    assert abs(left - 200) < 40


def test_two_frames_may_follow_themselves_where_there_is_nothing_else() -> None:
    pair = next_pair(["a", "b"], [("a", "b", "left")], seed=1)
    assert pair is not None
    assert {pair.left, pair.right} == {"a", "b"}


def test_a_pair_rests_where_there_are_others() -> None:
    record, _, _ = sat(Judge(8, seed=3), 60, seed=3, share=0.0)
    pairs = [frozenset(judged[:2]) for judged in record]
    assert all(pairs[n] not in pairs[max(0, n - BETWEEN) : n] for n in range(len(pairs)))


def test_gains_are_the_narrowing_that_a_rank_one_change_brings() -> None:
    """Against the plain sum over open pairs, and against the covariance worked out anew with one more answer."""
    judge = Judge(6, seed=8)
    *_, record = drawn(judge, 40, seed=8)
    found = standing(judge.items, record)
    rated = gains(found)
    odds = found.groups[0].tie_odds
    assert odds is not None
    _, strengths, covariance = max(found.fits[0].parts, key=lambda part: part[0])
    extra = 1.0 / 6.0
    for a, b in ((0, 1), (2, 5)):
        told = float(information(strengths[a] - strengths[b], math.log(odds)))
        apart = np.zeros(6)
        apart[a], apart[b] = 1.0, -1.0
        anew = np.linalg.inv(np.linalg.inv(covariance + extra) + told * np.outer(apart, apart)) - extra
        total = 0.0
        for i in range(6):
            for j in range(i + 1, 6):
                if found.ahead[i, j] or found.ahead[j, i]:
                    continue
                before = covariance[i, i] + covariance[j, j] - 2 * covariance[i, j]
                after = anew[i, i] + anew[j, j] - 2 * anew[i, j]
                first = ndtr((strengths[i] - strengths[j]) / math.sqrt(before))
                total += (entr(first) + entr(1 - first)) * (before - after) / before
        assert rated[a, b] == pytest.approx(total, rel=1e-6)
    assert rated == pytest.approx(rated.T)


def test_chosen_pairs_need_fewer_answers_than_drawn_ones() -> None:
    """A quick part of tests/bench/choosing.py: answers until half the pairs are separated."""
    needed = {}
    for shown in (chosen, drawn):
        total = 0
        for run in range(6):
            judge = Judge(8, seed=run)
            for record in shown(judge, 240, seed=run):
                if len(record) % 8 == 0 and standing(judge.items, record).counted()[AHEAD] >= 14:
                    break
            total += len(record)
        needed[shown.__name__] = total
    assert needed["chosen"] < needed["drawn"]


def test_two_hundred_frames_are_quick() -> None:
    judge = Judge(200, seed=1)
    *_, record = drawn(judge, 1500, seed=1)
    began = time.process_time()
    pair = next_pair(judge.items, record, seed=1)
    assert pair is not None
    assert time.process_time() - began < 2.0


def test_what_is_open_is_said_and_nothing_decided() -> None:
    judge = Judge(6, spread=2.0, seed=3)
    *_, record = chosen(judge, 60, seed=3)
    found = stopping(judge.items, record)
    assert found.ahead + found.not_separated == 15
    assert found.cannot_be_compared == 0
    assert found.lately_answers == 20
    assert found.lately == found.ahead - stopping(judge.items, record[:40]).ahead
    assert found.sentences[0] == (
        f"Of 15 pairs {found.ahead} are separated, {found.not_separated} are not, and 0 cannot be compared."
    )
    assert found.sentences[1].startswith("Nothing is ahead of f")
    for word in ("best", "winner", "choose", "enough", "should"):
        assert word not in " ".join(found.sentences)


def test_what_is_open_before_anything_was_asked() -> None:
    assert stopping(["a", "b", "c"], []).sentences == (
        "Of 3 pairs 0 are separated, 0 are not, and 3 cannot be compared.",
    )
    assert stopping([], []).sentences == ("There are no two frames to compare.",)


@given(st.integers(0, 2**40), st.integers(2, 6), st.integers(0, 12))
@settings(max_examples=25, deadline=None)
def test_any_seed_gives_two_different_items(seed: int, number: int, answers: int) -> None:
    judge = Judge(number, seed=seed % 1000)
    record, repeats, _ = sat(judge, answers, seed=seed)
    for left, right, _says in record:
        assert left != right
        assert {left, right} <= set(judge.items)
    assert len(repeats) == len(record)


@pytest.mark.parametrize(
    "call",
    [
        lambda: next_pair(["a", "b"], [], seed=-1),
        lambda: next_pair(["a", "b"], [], seed=1.5),  # type: ignore[arg-type]
        lambda: next_pair(["a", "b"], [], seed=True),
        lambda: next_pair(["a", "b"], [], seed=1, repeat_share=0.6),
        lambda: next_pair(["a", "b"], [], seed=1, repeat_share=math.nan),
        lambda: next_pair(["a", "b"], [("a", "b", "left")], seed=1, repeats=[None, None]),
        lambda: next_pair(["a", "b"], [("a", "b", "left")], seed=1, repeats=[0]),
        lambda: next_pair(list("abc"), [("a", "b", "left"), ("a", "c", "left")], seed=1, repeats=[None, 0]),
        lambda: next_pair(["a", "b"], [("a", "x", "left")], seed=1),
        lambda: next_pair(["a", "a"], [], seed=1),
        lambda: stopping(["a", "b"], [], window=0),
        lambda: stopping(["a", "b"], [], level=0.3),
    ],
)
def test_what_cannot_be_used_is_refused(call: Any) -> None:
    with pytest.raises(CannotMeasure) as refused:
        call()
    assert refused.value.next_step
