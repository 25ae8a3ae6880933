"""Whether an order changed between an earlier and a later span: changed since a day, no change to be seen, cannot tell.

Each span is fitted by itself as in `choose`, and each item's strength compared with itself, both times against the
mean of the items that are connected in both spans; so that one that rises lets all others sink a little. The order
changed if any item moved: if the largest change over its standard error is too large for the largest of so many
(Šidák's inequality). Where the day is looked for, what the level leaves is shared out among the days tried.

It takes many answers. In simulations of twelve frames (tests/bench/choosing.py) one whose odds rose from even to seven
to one was found in 16 to 23 % of cases with twenty answers a frame in either span, in 55 to 67 % with forty; a change
that was none was claimed in 3 % at most.

Times are in days, from any beginning. Source: Šidák 1967. Thresholds are ours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from refarchive.errors import CannotMeasure
from refarchive.frames.choose import LEVEL, Standing, listed, standing
from refarchive.frames.strengths import Array, Judged, Whole, indexed, tallied

CHANGED, NO_CHANGE, CANNOT_TELL = "changed since", "no change to be seen", "cannot tell"
APART_DAYS = 0.25  # a pause this long parts two sittings
LEAST_SHARE = 0.2  # of the answers, that either span must hold where the day is looked for
MOST_DAYS = 3  # days tried
NOTABLE = math.log(9.0)  # a change of odds from even to nine to one


@dataclass(frozen=True)
class Change:
    """How an item's strength changed, late minus early, against the mean of its companions, with its interval."""

    item: str
    change: float
    low: float
    high: float

    @property
    def moved(self) -> bool:
        """Whether the interval excludes no change."""
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True)
class Drift:
    """Early and late. `since_day` is the first day of the later span, None where nothing could be parted.

    word: "changed since", "no change to be seen" or "cannot tell". early and late: answers in each span. probability:
    of a change at least so large without any, allowing for the items and the days; None where there was nothing to ask.
    changes: of every item connected in both spans. days_tried: how many days were looked at for a change.
    """

    word: str
    since_day: float | None
    early: int
    late: int
    probability: float | None
    changes: tuple[Change, ...]
    days_tried: int
    sentence: str

    @property
    def moved(self) -> tuple[Change, ...]:
        """Items whose own interval excludes no change, the largest first."""
        return tuple(sorted((c for c in self.changes if c.moved), key=lambda c: -abs(c.change)))


def drift(
    items: Sequence[str],
    judgements: Sequence[Judged],
    at_days: Sequence[float],
    *,
    since_day: float | None = None,
    level: float = LEVEL,
) -> Drift:
    """Whether the order changed.

    Parameters
    ----------
    items, judgements
        As in `choose.standing`.
    at_days
        When each answer was given, in days.
    since_day
        The first day of the later span. Without it, up to three days between sittings are tried.
    level
        1 less the share of cases in which a change is claimed where there is none, 0.5 to below 1.

    Raises
    ------
    CannotMeasure
        where items, answers or times cannot be used, or there is not one time for each answer.
    """
    if not 0.5 <= level < 1.0:
        raise CannotMeasure(f"{level} is no level of an interval.", "Give a number from 0.5 to below 1, such as 0.95.")
    if len(at_days) != len(judgements):
        raise CannotMeasure(
            f"{len(judgements)} answers came with {len(at_days)} times.", "Give one time for each answer."
        )
    times = np.array([_day(day) for day in at_days], dtype=np.float64)
    tallied(indexed(items), judgements)
    days = _days(times) if since_day is None else [_day(since_day)]
    allowed = (1.0 - level) / max(len(days), 1)
    best: Drift | None = None
    for day in days:
        early = [judged for judged, at in zip(judgements, times, strict=True) if at < day]
        late = [judged for judged, at in zip(judgements, times, strict=True) if at >= day]
        found = _between(items, early, late, day, allowed, len(days))
        if best is None or _rank(found) < _rank(best):
            best = found
    if best is None:
        said = "Cannot tell: all answers were given in one sitting, or nearly all in one."
        return Drift(CANNOT_TELL, None, len(judgements), 0, None, (), 0, said)
    return best


def _rank(found: Drift) -> float:
    return 2.0 if found.probability is None else found.probability


def _day(day: float) -> float:
    if isinstance(day, bool) or not isinstance(day, int | float | np.number) or not math.isfinite(day):
        raise CannotMeasure(f"{str(day)[:40]!r} is no time in days.", "Give a number of days from any beginning.")
    return float(day)


def _days(times: Array) -> list[float]:
    """Days on which a later span may begin, evenly spread over the answers."""
    ordered = np.sort(times)
    begins = np.flatnonzero(np.diff(ordered) >= APART_DAYS) + 1
    least = LEAST_SHARE * len(ordered)
    kept = begins[(begins >= least) & (len(ordered) - begins >= least)]
    if len(kept) > MOST_DAYS:
        kept = kept[np.unique(np.linspace(0, len(kept) - 1, MOST_DAYS).round().astype(int))]
    return [float(ordered[n]) for n in kept]


def _between(
    items: Sequence[str],
    early: Sequence[Judged],
    late: Sequence[Judged],
    day: float,
    allowed: float,
    tried: int,
) -> Drift:
    from scipy.stats import norm

    blocks = _blocks(standing(items, early), standing(items, late))
    if not blocks:
        said = "Cannot tell: no two frames are connected by comparisons both before and after."
        return Drift(CANNOT_TELL, day, len(early), len(late), None, (), tried, said)
    members = np.concatenate([block for block, _, _ in blocks])
    change = np.concatenate([difference for _, difference, _ in blocks])
    error = np.concatenate([np.sqrt(np.diag(spread)) for _, _, spread in blocks])
    single = float(2.0 * norm.sf((np.abs(change) / error).max()))
    any_one = -math.expm1(len(members) * math.log1p(-min(single, 1.0 - 1e-12)))
    probability = min(1.0, tried * any_one)
    quantile = float(norm.isf(-math.expm1(math.log1p(-allowed) / len(members)) / 2.0))
    changes = tuple(
        Change(items[n], float(c), float(c - quantile * e), float(c + quantile * e))
        for n, c, e in sorted(zip(members.tolist(), change, error, strict=True))
    )
    counted = f"{len(early)} answers before and {len(late)} since"
    shown = (
        f"probability {probability:.2g} without any" if probability >= 0.001 else "probability below 0.001 without any"
    )
    if any(change.moved for change in changes):
        word, moved = CHANGED, [change.item for change in changes if change.moved]
        said = f"The order changed ({counted}; {shown}): {listed(moved, verb=False)} moved."
    elif np.count_nonzero(quantile * error > NOTABLE) * 2 > len(error):
        word, said = CANNOT_TELL, f"Cannot tell: with {counted} even a change from even odds to nine to one could hide."
    else:
        hidden = math.exp(float(np.median(quantile * error)))
        word, said = NO_CHANGE, f"No change to be seen ({counted}; {shown}); one of odds by {hidden:.1f} could hide."
    return Drift(word, day, len(early), len(late), probability, changes, tried, said)


def _blocks(early: Standing, late: Standing) -> list[tuple[Whole, Array, Array]]:
    """Items together in a group of either span: indices, changes against their mean, covariance of those."""
    found = []
    both = np.stack([early.group_of, late.group_of])
    for one, other in np.unique(both, axis=1).T:
        common = np.flatnonzero((both[0] == one) & (both[1] == other))
        if len(common) < 2:
            continue
        square = np.ix_(common, common)
        centre = np.eye(len(common)) - 1.0 / len(common)
        change = centre @ (late.strengths[common] - early.strengths[common])
        found.append((common, change, centre @ (early.covariance[square] + late.covariance[square]) @ centre))
    return found
