"""Where frames stand after sittings: every difference with its interval, in words, and never a winner.

Answers are triples (left, right, says), says being "left", "right" or "neither yet". Strengths come from `strengths`;
the mean of a group is nought. For every two items the answer is one of three words: one is "ahead" (the interval of the
difference excludes nought), they are "not separated", or they "cannot be compared" (no chain of comparisons leads from
one to the other).

Estimates are by the penalised likelihood of `strengths`, with its full covariance; maximum likelihood with Fisher's
information may be asked for, and is taken where the maximum exists. Intervals are estimate ± quantile × standard error.
In simulations (tests/bench/choosing.py) penalised 95 % intervals held the true difference in 94 to 97 % of cases, up to
100 % with few answers, and down to 91 % for two frames with strong preferences. Those of maximum likelihood hold as
well where pairs were laid out beforehand and enough was asked, but only in 84 to 87 % where each pair was chosen in
view of the answers so far, as `pairing` does, however many there are: choosing draws the estimates apart.

Intervals are for one pair at a time unless asked to hold for all pairs of a group together: then the quantile is that
of the largest studentised difference, drawn from the normal distribution with the fitted covariance (Tukey's
studentised range, where all are compared equally often; Hothorn, Bretz and Westfall 2008 for the rest).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from refarchive.errors import CannotMeasure
from refarchive.frames.strengths import (
    Array,
    Counts,
    Fit,
    Judged,
    Whole,
    errors_of,
    fitted,
    groups,
    has_maximum,
    indexed,
    tallied,
)

Estimate = Literal["penalised likelihood", "maximum likelihood"]
PENALISED, MAXIMUM = "penalised likelihood", "maximum likelihood"
AHEAD, NOT_SEPARATED, NO_COMPARISON = "ahead", "not separated", "cannot be compared"
INSUFFICIENT = "insufficient comparisons"
LEVEL = 0.95
DRAWS, MOST_DRAWN, LEAST_DRAWS = 100_000, 9_000_000, 1_500  # for a quantile over all pairs: at most, in all, at least
PENALTY = "Frames are taken to differ by as much as they seem to on the whole, which pulls single differences together."
REMEMBERED = "Answers are taken to be independent: whoever remembers the last one gives fewer than they seem."


@dataclass(frozen=True)
class Group:
    """Items connected by comparisons. `tie_odds` is ν: neither yet against either, of equal strength; None: never said.

    estimate: "maximum likelihood", "penalised likelihood", or "insufficient comparisons" for an item never compared;
    because: why that one. quantile: what a standard error is multiplied by for an interval.
    """

    items: tuple[str, ...]
    answers: int
    neither_yet: int
    estimate: str
    because: str
    tie_odds: float | None
    log_likelihood: float
    quantile: float


@dataclass(frozen=True)
class Difference:
    """Two items. Numbers are None where they cannot be compared; `ahead` names the one that is, "" for none."""

    first: str
    second: str
    difference: float | None
    low: float | None
    high: float | None
    word: str
    ahead: str
    answers: int

    @property
    def sentence(self) -> str:
        """The word, with its figures."""
        if self.difference is None:
            return f"{self.first} and {self.second} cannot be compared: no chain of comparisons connects them."
        figures = f"{self.difference:+.2f}, from {self.low:+.2f} to {self.high:+.2f}".replace("-", "−")
        asked = "never asked directly" if not self.answers else f"asked {_times(self.answers)}"
        if self.word == NOT_SEPARATED:
            return f"{self.first} and {self.second} are not separated ({figures}; {asked})."
        behind = self.second
        if self.ahead == self.second and self.low is not None and self.high is not None:
            behind = self.first  # the figures are those of the one that is ahead
            figures = f"{-self.difference:+.2f}, from {-self.high:+.2f} to {-self.low:+.2f}"
        return f"{self.ahead} is ahead of {behind} ({figures}; {asked})."


@dataclass(frozen=True, eq=False)
class Standing:
    """All differences, as matrices in the order of `items`, and in words.

    strengths: (N,), mean nought within a group. covariance: (N, N), of those, nought between groups. group_of: (N,),
    which group each is in. difference and error: (N, N), row minus column and its standard error; nan where two cannot
    be compared. low and high: (N, N), bounds of the interval of the difference. ahead: (N, N), true where the row is
    ahead of the column. answers: (N, N), how often two were asked about directly. fits: one a
    group, as `strengths` gives them.
    """

    items: tuple[str, ...]
    level: float
    simultaneous: bool
    groups: tuple[Group, ...]
    group_of: Whole
    strengths: Array
    covariance: Array
    difference: Array
    error: Array
    low: Array
    high: Array
    ahead: NDArray[np.bool_]
    answers: Whole
    sentences: tuple[str, ...]
    fits: tuple[Fit, ...]

    def pair(self, first: str, second: str) -> Difference:
        """What stands between two items.

        Raises
        ------
        CannotMeasure
            where one is not among the items, or both are the same.
        """
        for item in (first, second):
            if item not in self.items:
                raise CannotMeasure(f"{str(item)[:40]!r} is not among the items.", "Name one that was listed.")
        if first == second:
            raise CannotMeasure(f"{first[:40]!r} was compared with itself.", "Name two different ones.")
        return self._pair(self.items.index(first), self.items.index(second))

    def pairs(self) -> Iterator[Difference]:
        """Every two items once, in the order of the list."""
        return (self._pair(a, b) for a, b in itertools.combinations(range(len(self.items)), 2))

    def counted(self) -> dict[str, int]:
        """How many pairs each of the three words is said of."""
        above = np.triu_indices(len(self.items), 1)
        none = int(np.isnan(self.difference[above]).sum())
        one = int((self.ahead | self.ahead.T)[above].sum())
        return {AHEAD: one, NOT_SEPARATED: len(above[0]) - one - none, NO_COMPARISON: none}

    def unpassed(self) -> tuple[tuple[str, ...], ...]:
        """In each group, the items that nothing is ahead of: those that might stand first, as far as this tells."""
        free = ~self.ahead.any(axis=0)
        return tuple(
            tuple(self.items[n] for n in np.flatnonzero(free & (self.group_of == g))) for g in range(len(self.groups))
        )

    def _pair(self, a: int, b: int) -> Difference:
        first, second, answers = self.items[a], self.items[b], int(self.answers[a, b])
        if self.group_of[a] != self.group_of[b]:
            return Difference(first, second, None, None, None, NO_COMPARISON, "", answers)
        middle, low, high = (float(matrix[a, b]) for matrix in (self.difference, self.low, self.high))
        ahead = first if self.ahead[a, b] else second if self.ahead[b, a] else ""
        word = AHEAD if ahead else NOT_SEPARATED
        return Difference(first, second, middle, low, high, word, ahead, answers)


def standing(
    items: Sequence[str],
    judgements: Sequence[Judged],
    *,
    level: float = LEVEL,
    simultaneous: bool = False,
    estimate: Estimate = "penalised likelihood",
) -> Standing:
    """Where items stand after these answers.

    Parameters
    ----------
    items
        Names, each once; also those that were never shown.
    judgements
        Answers: left, right, and "left", "right" or "neither yet". Their order and the sides do not matter.
    level
        Of the intervals, 0.5 to below 1.
    simultaneous
        Let the intervals hold for all pairs of a group together, which makes them wider.
    estimate
        "maximum likelihood" is for pairs laid out beforehand, and taken where it exists.

    Raises
    ------
    CannotMeasure
        where items, answers, the level or the estimate cannot be used.
    """
    if not 0.5 <= level < 1.0:
        raise CannotMeasure(f"{level} is no level of an interval.", "Give a number from 0.5 to below 1, such as 0.95.")
    if estimate not in (PENALISED, MAXIMUM):
        raise CannotMeasure(f"{str(estimate)[:40]!r} is no way to estimate.", f"Ask for {PENALISED} or {MAXIMUM}.")
    from scipy.stats import norm

    places = indexed(items)
    counts = tallied(places, judgements)
    number = len(items)
    strengths, covariance = np.zeros(number), np.zeros((number, number))
    group_of = np.zeros(number, dtype=np.int64)
    error = np.full((number, number), math.nan)
    low = error.copy()
    found, fits = [], []
    for which, members in enumerate(groups(number, counts)):
        group_of[members] = which
        within = counts.among(members, number)
        group, fit = _group(tuple(items[n] for n in members), within, level, simultaneous, estimate)
        found.append(group)
        fits.append(fit)
        square = np.ix_(members, members)
        strengths[members], covariance[square] = fit.strengths, fit.covariance
        error[square] = errors_of(fit.covariance)
        low[square] = fit.lower(float(norm.sf(group.quantile))) if len(members) > 1 else 0.0
    difference = strengths[:, None] - strengths[None, :] + np.where(np.isnan(error), math.nan, 0.0)
    with np.errstate(invalid="ignore"):
        ahead = low > 0.0
    answers = np.zeros((number, number), dtype=np.int64)
    answers[counts.first, counts.second] = answers[counts.second, counts.first] = counts.answers
    said = _sentences(tuple(found), ahead, level, simultaneous)
    return Standing(
        tuple(items), level, simultaneous, tuple(found), group_of, strengths, covariance, difference, error, low,
        -low.T, ahead, answers, said, tuple(fits),
    )  # fmt: skip


def _group(
    items: tuple[str, ...], counts: Counts, level: float, simultaneous: bool, estimate: Estimate
) -> tuple[Group, Fit]:
    """A group and its fit."""
    number, answers, ties = len(items), int(counts.answers.sum()), int(counts.ties.sum())
    if number < 2:
        said = "it was compared with nothing"
        return Group(items, 0, 0, INSUFFICIENT, said, None, 0.0, math.nan), fitted(1, counts, penalised=True)
    if estimate == PENALISED:
        penalised, because = True, "it holds also where pairs were chosen in view of the answers"
    elif answers == ties:
        penalised, because = True, "every answer was neither yet, and the likelihood has no maximum"
    elif not has_maximum(number, counts):
        penalised, because = True, "some are preferred without exception, and the likelihood has no maximum"
    else:
        penalised, because = False, "it was asked for"
    fit = fitted(number, counts, penalised=penalised)
    named = PENALISED if penalised else MAXIMUM
    tie_odds = math.exp(fit.log_ties) if ties else None
    quantile = _quantile(fit.covariance, level, simultaneous)
    group = Group(items, answers, ties, named, because, tie_odds, fit.log_likelihood, quantile)
    return group, fit


def _quantile(covariance: Array, level: float, simultaneous: bool) -> float:
    """What standard errors are multiplied by; for all pairs together by drawing, from one seed for all time."""
    from scipy.stats import norm

    single = float(norm.ppf((1.0 + level) / 2.0))
    number = len(covariance)
    if not simultaneous or number < 3:
        return single
    above = np.triu_indices(number, 1)
    error = errors_of(covariance)[above]
    draws = max(LEAST_DRAWS, min(DRAWS, MOST_DRAWN // len(error)))
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    random = np.random.default_rng(20)
    largest = np.empty(draws)
    chunk = max(1, 200_000 // len(error))
    for start in range(0, draws, chunk):
        drawn = random.standard_normal((min(chunk, draws - start), number)) @ root.T
        largest[start : start + len(drawn)] = (np.abs(drawn[:, above[0]] - drawn[:, above[1]]) / error).max(axis=1)
    return max(single, float(np.quantile(largest, level)))


def _sentences(found: tuple[Group, ...], ahead: NDArray[np.bool_], level: float, simultaneous: bool) -> tuple[str, ...]:
    """What a reader must know of these figures, in the order of its weight."""
    said: list[str] = []
    fits = [group for group in found if group.estimate != INSUFFICIENT]
    alone = [group.items[0] for group in found if group.estimate == INSUFFICIENT]
    if not found:
        return ("There is nothing to compare.",)
    if len(fits) > 1:
        said.append(f"The comparisons fall into {len(fits)} groups that nothing connects.")
    if alone:
        said.append(f"Insufficient comparisons: {listed(alone)} compared with nothing so far.".replace("  ", " "))
    for group in fits:
        which = "" if len(fits) == 1 else f"{listed(group.items, verb=False)}: "
        answers = f"{group.answers} answer{'s' if group.answers != 1 else ''}, {group.neither_yet} of them neither yet"
        said.append(f"{which}{answers}; estimated by {group.estimate}: {group.because}.")
    if any(group.estimate == PENALISED for group in fits):
        said.append(PENALTY)
    if fits and not ahead.any():
        said.append("Nothing is separated yet.")
    if fits:
        percent = f"{100 * level:g} %"
        if simultaneous:
            said.append(f"Intervals are at {percent} for all pairs of a group together.")
        else:
            said.append(f"Intervals are at {percent} for each pair by itself; among many pairs some will miss.")
        said.append(REMEMBERED)
    return tuple(said)


def listed(names: Sequence[str], *, verb: bool = True, most: int = 6) -> str:
    """A few names in a row, with "was" or "were" where a verb follows."""
    shown = list(names[:most])
    more = len(names) - len(shown)
    text = ", ".join(shown) if more or len(shown) == 1 else ", ".join(shown[:-1]) + f" and {shown[-1]}"
    text += f" and {more} more" if more else ""
    return f"{text} {'was' if len(names) == 1 else 'were'}" if verb else text


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
