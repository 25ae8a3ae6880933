"""Which two frames to look at next, and what is still open: never which one to take.

Items that no chain of comparisons connects are connected first. After that, of the pairs not yet separated the one is
shown from whose answer most is expected for the order: each answer narrows the differences by a known amount (a
rank-one change of the covariance, by the information of one answer at the fitted strengths), and the narrowing is
summed over all pairs still open, each weighed by how open it is (the entropy of which of the two is ahead) and taken
relative to its own variance. All candidates are rated from one matrix product. Pairs already separated are never asked
about.

Some pairs are shown again unannounced, at a stated rate, so that answers can be held against themselves. Everything
follows from a seed and the record so far: a sitting stopped and taken up again goes on as it would have.

A pair is asked about until it is separated, and one separated by luck is not asked about again, except unannounced: so
of the pairs called ahead more are the wrong way round than the level would let one expect, in simulations up to one in
twenty (tests/bench/choosing.py).

Sources: Lindley 1956 (the expected information of an experiment); the normal approximation is that of `choose`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from refarchive.errors import CannotMeasure
from refarchive.frames.choose import (
    AHEAD,
    LEVEL,
    NO_COMPARISON,
    NOT_SEPARATED,
    Standing,
    listed,
    standing,
)
from refarchive.frames.strengths import Array, Counts, Judged, Whole, errors_of, groups, indexed, information, tallied

REPEAT_SHARE = 0.1  # of the pairs shown; common practice, no source
MOST_SHARE = 0.5
BETWEEN = 5  # other pairs, at least, between a pair and its repeat, where there are so many
WINDOW = 20  # the last answers, whose yield is told
CONNECTS, OPEN, AGAIN = "connects what was not compared", "still open", "shown again"


@dataclass(frozen=True)
class Pair:
    """Two frames to look at. `repeats` is the place, from 0, of the answer whose pair is shown again; else None.

    why: "connects what was not compared", "still open" or "shown again"; the last is not to be told before the answer.
    """

    left: str
    right: str
    repeats: int | None
    why: str


@dataclass(frozen=True)
class StillOpen:
    """What a sitting has settled and what not; counts are of pairs.

    unpassed: a row a group of connected items, those that nothing is ahead of. lately: how many more pairs are
    separated than before the last answers, of which there were `lately_answers`.
    """

    answers: int
    ahead: int
    not_separated: int
    cannot_be_compared: int
    unpassed: tuple[tuple[str, ...], ...]
    lately: int
    lately_answers: int
    sentences: tuple[str, ...]


def next_pair(
    items: Sequence[str],
    judgements: Sequence[Judged],
    *,
    seed: int,
    repeats: Sequence[int | None] = (),
    repeat_share: float = REPEAT_SHARE,
    level: float = LEVEL,
) -> Pair | None:
    """The pair to look at next, or None where every pair is separated.

    Parameters
    ----------
    items
        Names, each once; at most 500.
    judgements
        The answers so far, in the order they were given.
    seed
        Not negative. The same seed and record give the same pair and sides.
    repeats
        For each answer the place of the one whose pair it showed again, or None; may be left empty if none did.
    repeat_share
        How many of the pairs shown are repeats, 0 to 0.5.
    level
        Of the intervals that say whether two are separated.

    Raises
    ------
    CannotMeasure
        where items, answers, the record of repeats, the seed or the share cannot be used.
    """
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise CannotMeasure(f"{str(seed)[:40]!r} is no seed.", "Give a whole number that is not negative.")
    if not 0.0 <= repeat_share <= MOST_SHARE:
        raise CannotMeasure(f"{repeat_share} is no share of repeats.", f"Give a number from 0 to {MOST_SHARE}.")
    places = indexed(items)
    counts = tallied(places, judgements)
    record = _record(judgements, repeats)
    random = np.random.default_rng([seed, len(judgements)])
    found = groups(len(items), counts)
    if len(items) < 2:
        return None
    again = _repeat(judgements, record, seed, repeat_share, random)
    if again is not None:
        left, right = judgements[again][:2]
        return _sided(left, right, again, AGAIN, random)
    if len(found) > 1:
        one, other = _connecting(found, counts, random)
        return _sided(items[one], items[other], None, CONNECTS, random)
    stands = standing(items, judgements, level=level)
    candidates = ~(stands.ahead | stands.ahead.T)
    np.fill_diagonal(candidates, False)
    if not candidates.any():
        return None
    worth = gains(stands)
    worth[~candidates] = -np.inf
    for between in (BETWEEN, 1, 0):  # let a pair rest, where there are others
        rested = worth.copy()
        for left, right, _ in judgements[max(0, len(judgements) - between) :]:
            rested[places[left], places[right]] = rested[places[right], places[left]] = -np.inf
        if np.isfinite(rested).any():
            break
    best = np.argwhere(np.triu(rested >= rested.max() * (1.0 - 1e-9), 1))
    one, other = (int(n) for n in best[random.integers(len(best))])
    return _sided(items[one], items[other], None, OPEN, random)


def gains(stands: Standing) -> Array:
    """(N, N) what one more answer to a pair is expected to narrow, over all open pairs; only for items all connected.

    With u the covariance of the strengths with the difference asked about, s² its variance and w the information of one
    answer, the variance of another difference i − j falls by w (ui − uj)² / (1 + w s²). Summed with weights that is a
    quadratic form of the covariance around the Laplacian of the weights, worked out for all pairs at once.
    """
    from scipy.special import entr, ndtr

    number = len(stands.items)
    # At the likeliest spread: what is unknown of the spread itself is told by far pairs, and says little of the order.
    _, strengths, covariance = max(stands.fits[0].parts, key=lambda part: part[0])
    difference = strengths[:, None] - strengths[None, :]
    variance = np.square(errors_of(covariance))
    still = ~(stands.ahead | stands.ahead.T) & ~np.eye(number, dtype=bool)
    safe = np.where(still, variance, 1.0)
    first = ndtr(difference / np.sqrt(safe))
    weight = np.where(still, (entr(first) + entr(1.0 - first)) / safe, 0.0)
    laplacian = np.diag(weight.sum(axis=1)) - weight
    form = covariance @ laplacian @ covariance
    own = np.diag(form)
    narrowed = own[:, None] + own[None, :] - 2.0 * form
    ties = stands.groups[0].tie_odds
    told = information(difference, float(np.log(ties)) if ties else -np.inf)
    return np.asarray(told * narrowed / (1.0 + told * variance))


def stopping(
    items: Sequence[str], judgements: Sequence[Judged], *, level: float = LEVEL, window: int = WINDOW
) -> StillOpen:
    """What is settled and what is open, with what the last answers brought; whether that is enough is not said.

    Parameters
    ----------
    items, judgements
        As in `next_pair`.
    level
        Of the intervals.
    window
        How many of the last answers to hold against what was known before them, at least 1.

    Raises
    ------
    CannotMeasure
        where items, answers, the level or the window cannot be used.
    """
    if window < 1:
        raise CannotMeasure(f"The last {window} answers cannot be looked at.", "Give 1 or more.")
    now = standing(items, judgements, level=level)
    lately = min(window, len(judgements))
    before = standing(items, judgements[: len(judgements) - lately], level=level).counted()
    counted = now.counted()
    more = counted[AHEAD] - before[AHEAD]
    pairs = sum(counted.values())
    said = []
    if not pairs:
        said.append("There are no two frames to compare.")
    else:
        said.append(
            f"Of {pairs} pairs {counted[AHEAD]} are separated, {counted[NOT_SEPARATED]} are not, and "
            f"{counted[NO_COMPARISON]} cannot be compared."
        )
    unpassed = now.unpassed()
    for group, free in zip(now.groups, unpassed, strict=True):
        if len(group.items) > 1:
            which = "" if len(now.groups) == 1 else f" in the group of {group.items[0]}"
            said.append(f"Nothing is ahead of {listed(free, verb=False, most=12)}{which}.")
    if lately:
        change = f"{abs(more)} pair{'s' if abs(more) != 1 else ''} {'more' if more >= 0 else 'fewer'}"
        said.append(f"After the last {lately} answer{'s' if lately != 1 else ''}, {change} are separated than before.")
    return StillOpen(
        len(judgements), counted[AHEAD], counted[NOT_SEPARATED], counted[NO_COMPARISON], unpassed, more, lately,
        tuple(said),
    )  # fmt: skip


def _record(judgements: Sequence[Judged], repeats: Sequence[int | None]) -> list[int | None]:
    """The record of repeats, one for each answer.

    Raises
    ------
    CannotMeasure
        where it is too short or long, or an answer is said to repeat one that showed another pair.
    """
    if not repeats:
        return [None] * len(judgements)
    if len(repeats) != len(judgements):
        raise CannotMeasure(
            f"{len(judgements)} answers came with {len(repeats)} notes of repeats.",
            "Give one for each answer, or none.",
        )
    for place, earlier in enumerate(repeats):
        if earlier is None:
            continue
        if not 0 <= earlier < place or set(judgements[earlier][:2]) != set(judgements[place][:2]):
            raise CannotMeasure(
                f"Answer {place + 1} is said to repeat one that showed another pair.",
                "Name an earlier one of that pair.",
            )
    return list(repeats)


def _repeat(
    judgements: Sequence[Judged], record: list[int | None], seed: int, share: float, random: np.random.Generator
) -> int | None:
    """The place of an answer whose pair is due to be shown again, or None.

    One place in each stretch of 1/share is drawn from the seed; a repeat that finds nothing to repeat there comes
    later.
    """
    asked = len(judgements)
    if not share or asked < 2 or record[-1] is not None:
        return None
    stretch = max(2, round(1.0 / share))
    done = asked // stretch
    inside = int(np.random.default_rng([seed, done, 7]).integers(stretch))
    due = done + int(asked % stretch >= inside)
    if sum(earlier is not None for earlier in record) >= due:
        return None
    repeated = {earlier for earlier in record if earlier is not None}
    lately = {frozenset(judged[:2]) for judged in judgements[-BETWEEN:]}
    able = [
        place
        for place in range(asked - 1)
        if record[place] is None and place not in repeated and frozenset(judgements[place][:2]) not in lately
    ]
    return able[int(random.integers(len(able)))] if able else None


def _connecting(found: list[Whole], counts: Counts, random: np.random.Generator) -> tuple[int, int]:
    """Two items of the two smallest groups, those compared least often."""
    number = sum(len(members) for members in found)
    asked = np.zeros(number)
    np.add.at(asked, counts.first, counts.answers)
    np.add.at(asked, counts.second, counts.answers)
    order = sorted(range(len(found)), key=lambda n: (len(found[n]), random.random()))

    def least(members: Whole) -> int:
        few: NDArray[np.int64] = members[asked[members] == asked[members].min()]
        return int(few[random.integers(len(few))])

    return least(found[order[0]]), least(found[order[1]])


def _sided(one: str, other: str, repeats: int | None, why: str, random: np.random.Generator) -> Pair:
    """The pair with its sides drawn."""
    return Pair(one, other, repeats, why) if random.random() < 0.5 else Pair(other, one, repeats, why)
