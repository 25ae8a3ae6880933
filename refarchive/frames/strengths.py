"""Strengths behind answers to "left, right, or neither yet": the likelihood, when it has a maximum, and the fit.

Of two items with strengths βi and βj the first is preferred in proportion to exp(βi), the second to exp(βj), and
neither yet to ν·exp((βi + βj)/2): Bradley and Terry 1952, with ties by Davidson 1970. A strength is a natural
logarithm of odds: a difference of 1 is odds of 2.7 to 1 among answers that prefer one. Only differences mean
something; strengths are given with a mean of nought. Answers are taken to be independent of each other; somebody who
remembers the last answer gives fewer than they seem, and every interval is then too narrow.

The likelihood may have no maximum (an item that always won would be infinitely strong), and where pairs were chosen in
view of the answers so far its intervals are much too narrow. So strengths may be taken as drawn from one normal
distribution whose spread is unknown: the penalised likelihood. Each spread of a grid has its own fit: the maximum,
which is the only one; the mean, by the skewness there; the covariance; and Laplace's approximation of how probable it
makes the answers, which together with a weak prior around SPREAD (ours) is its weight. The share of ties among equals
has Jeffreys' prior. Differences are drawn together the more, the less is known, and the variance holds what is unknown
of the spread. What depends on the answers alone is not misled by how pairs were chosen, as far as the prior is right.

Jeffreys' prior on the strengths themselves (Firth 1993) was tried and left: with few answers or many ties it has
several maxima, and favours differences that nothing speaks for.

Sources: Bradley and Terry 1952; Ford 1957 (when a maximum exists); Davidson 1970 (ties); Davidson and Solomon 1973
(prior distributions on paired comparisons); Konis 2007 (whether a maximum exists, asked with ties, as a linear
programme); Tierney and Kadane 1986 (the approximation).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from refarchive.errors import CannotMeasure

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Judged = tuple[str, str, str]  # left, right, and what was said

SAYS = ("left", "right", "neither yet")
MOST_ITEMS, MOST_JUDGEMENTS, LONGEST_NAME = 500, 50_000, 200
ROUNDS, LONGEST_STEP = 200, 2.0
SPREAD, DOUBT = 2.0, 0.7  # a prior for the standard deviation of strengths: its middle, and that of its logarithm
SPREADS = (0.2, 0.3, 0.45, 0.65, 0.95, 1.4, 2.0, 2.9, 4.2, 6.0)
LEAST_WEIGHT = 1e-4  # of a spread, below which it is left out
BISECTIONS = 24
SETTLED = 1e-7  # how far a step still leads, of the standard errors


@dataclass(frozen=True, eq=False)
class Counts:
    """What was answered, a row a pair that was compared at all: indices of two items, the lower one `first`.

    All arrays are (P,): `wins` of the first, `losses` of the first, `ties` (neither yet).
    """

    first: Whole
    second: Whole
    wins: Array
    losses: Array
    ties: Array

    @property
    def answers(self) -> Array:
        """(P,) answers to each pair."""
        return np.asarray(self.wins + self.losses + self.ties)

    def among(self, members: Whole, items: int) -> Counts:
        """The pairs within a group of items, whose indices become those in the group."""
        place = np.full(items, -1, dtype=np.int64)
        place[members] = np.arange(len(members))
        kept = (place[self.first] >= 0) & (place[self.second] >= 0)
        first, second = place[self.first[kept]], place[self.second[kept]]
        return Counts(first, second, self.wins[kept], self.losses[kept], self.ties[kept])


@dataclass(frozen=True, eq=False)
class Fit:
    """Strengths of items that are all connected. `log_ties` is ln ν, minus infinity where no answer was neither yet.

    strengths: (K,), with a mean of nought. covariance: (K, K), of the strengths under that convention, the inverse of
    Fisher's information, or with the penalty a mixture over spreads; the variance of a difference is c[i, i] + c[j, j]
    − 2 c[i, j]. log_likelihood is without the penalty. parts: weight, strengths and covariance by each spread that
    counts.
    """

    strengths: Array
    covariance: Array
    log_ties: float
    log_likelihood: float
    penalised: bool
    parts: tuple[tuple[float, Array, Array], ...]

    def lower(self, tail: float) -> Array:
        """(K, K) what the difference of row and column exceeds but for a probability of `tail`.

        The upper bound is minus the lower one of column and row. A mixture has its quantile between those of its parts.
        """
        from scipy.special import ndtr, ndtri

        number = len(self.strengths)
        weight = np.array([part[0] for part in self.parts])[:, None]
        off = np.nonzero(~np.eye(number, dtype=bool))
        means = np.array([own[off[0]] - own[off[1]] for _, own, _ in self.parts])
        errors = np.array([errors_of(covariance)[off] for _, _, covariance in self.parts])
        bounds = means + float(ndtri(tail)) * errors
        low, high = bounds.min(axis=0), bounds.max(axis=0)
        for _ in range(BISECTIONS if len(self.parts) > 1 else 0):
            middle = (low + high) / 2.0
            under = (weight * ndtr((middle - means) / errors)).sum(axis=0) < tail
            low, high = np.where(under, middle, low), np.where(under, high, middle)
        found = np.zeros((number, number))
        found[off] = (low + high) / 2.0
        return found


def errors_of(covariance: Array) -> Array:
    """(K, K) standard errors of all differences."""
    own = np.diag(covariance)
    return np.sqrt(np.maximum(own[:, None] + own[None, :] - 2.0 * covariance, 0.0))


def indexed(items: Sequence[str]) -> dict[str, int]:
    """Each item's place in the list.

    Raises
    ------
    CannotMeasure
        where there are too many, one is not a name, or one stands there twice.
    """
    if len(items) > MOST_ITEMS:
        raise CannotMeasure(f"{len(items)} items are too many to compare in pairs.", f"Keep to {MOST_ITEMS} at most.")
    for item in items:
        if not isinstance(item, str) or not 0 < len(item) <= LONGEST_NAME:
            raise CannotMeasure(
                f"{str(item)[:40]!r} is no name of an item.", f"Give 1 to {LONGEST_NAME} characters for each."
            )
    places = {item: n for n, item in enumerate(items)}
    if len(places) < len(items):
        twice = next(item for n, item in enumerate(items) if places[item] != n)
        raise CannotMeasure(f"{twice[:40]!r} is in the list twice.", "Name each item once.")
    return places


def tallied(places: dict[str, int], judgements: Sequence[Judged]) -> Counts:
    """Answers counted by pair, whichever side each item was on.

    Raises
    ------
    CannotMeasure
        where an answer names an unknown item, one item twice, or says something else.
    """
    if len(judgements) > MOST_JUDGEMENTS:
        raise CannotMeasure(f"{len(judgements)} answers are too many.", f"Keep to {MOST_JUDGEMENTS} at most.")
    found: dict[tuple[int, int], list[int]] = {}
    for judged in judgements:
        left, right, says = checked(places, judged)
        first, second = min(left, right), max(left, right)
        column = 2 if says == "neither yet" else int((says == "left") != (left == first))
        found.setdefault((first, second), [0, 0, 0])[column] += 1
    pairs = np.array(sorted(found), dtype=np.int64).reshape(-1, 2)
    rows = np.array([found[int(a), int(b)] for a, b in pairs], dtype=np.float64).reshape(-1, 3)
    return Counts(pairs[:, 0], pairs[:, 1], rows[:, 0], rows[:, 1], rows[:, 2])


def checked(places: dict[str, int], judged: Judged) -> tuple[int, int, str]:
    """Places of the left and the right item, and what was said.

    Raises
    ------
    CannotMeasure
        as `tallied`.
    """
    if not isinstance(judged, Sequence) or isinstance(judged, str) or len(judged) != 3:
        raise CannotMeasure(
            "An answer is not left, right and what was said.", "Give the three of them for each answer."
        )
    left, right, says = judged
    for item in (left, right):
        if not isinstance(item, str) or item not in places:
            raise CannotMeasure(f"{str(item)[:40]!r} is not among the items.", "List every item that was shown.")
    if left == right:
        raise CannotMeasure(f"{left[:40]!r} was compared with itself.", "Leave that answer out.")
    if says not in SAYS:
        raise CannotMeasure(f"{str(says)[:40]!r} is no answer.", f"Say one of: {', '.join(SAYS)}.")
    return places[left], places[right], says


def groups(items: int, counts: Counts) -> list[Whole]:
    """Items connected by comparisons, a sorted array of indices a group, in the order of each group's first item."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    if not items:
        return []
    links = coo_matrix((np.ones(len(counts.first)), (counts.first, counts.second)), shape=(items, items))
    number, label = connected_components(links, directed=False)
    found = [np.flatnonzero(label == n).astype(np.int64) for n in range(number)]
    return sorted(found, key=lambda members: int(members[0]))


def has_maximum(items: int, counts: Counts) -> bool:
    """Whether the likelihood of connected items has a maximum at finite strengths.

    Without ties that is so if and only if each item beat each other one along some chain (Ford 1957), which is also
    enough with ties. Otherwise a direction is looked for along which no answer becomes less likely; a linear programme
    finds one if there is one.
    """
    from scipy.optimize import linprog
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    if items < 2 or not (counts.wins.sum() + counts.losses.sum()):
        return False
    won, lost = counts.wins > 0, counts.losses > 0
    rows = np.concatenate([counts.first[won], counts.second[lost]])
    columns = np.concatenate([counts.second[won], counts.first[lost]])
    beats = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(items, items))
    if connected_components(beats, directed=True, connection="strong")[0] == 1:
        return True
    tied = counts.ties > 0
    if not tied.any():
        return False
    # In a direction (δ, τ) an item that won lies higher by at least 2τ and by nought, two that tied by at most 2τ.
    unlike = np.zeros((len(counts.first), items + 1))
    unlike[np.arange(len(counts.first)), counts.first] = 1.0
    unlike[np.arange(len(counts.first)), counts.second] = -1.0
    tie = np.zeros(items + 1)
    tie[-1] = 2.0
    higher = np.vstack([unlike[won], -unlike[lost]])
    least = np.vstack([higher, higher - tie, tie - unlike[tied], tie + unlike[tied]])  # all of these ≥ 0
    bounds = [(0.0, 0.0)] + [(-1.0, 1.0)] * items
    answer = linprog(-least.sum(axis=0), A_ub=-least, b_ub=np.zeros(len(least)), bounds=bounds, method="highs")
    return bool(answer.status == 0 and -answer.fun < 1e-7)


def fitted(items: int, counts: Counts, *, penalised: bool, spreads: Sequence[float] = SPREADS) -> Fit:
    """Strengths of items that are all connected, by maximum likelihood or with the penalty.

    Parameters
    ----------
    items
        How many there are, 1 or more.
    counts
        Answers, naming items 0 to items − 1 and connecting them all.
    penalised
        Maximum likelihood must not be asked for where `has_maximum` denies it.
    spreads
        Standard deviations of strengths that the penalty takes into account, evenly spaced by their logarithm.

    Raises
    ------
    CannotMeasure
        where no estimate is reached.
    """
    tied = bool(counts.ties.sum() > 0)
    if items < 2:
        return Fit(np.zeros(items), np.zeros((items, items)), -math.inf, 0.0, penalised, ())
    values = np.zeros(items + 1)
    if tied:
        decided = counts.wins.sum() + counts.losses.sum()
        values[-1] = math.log(2.0 * (counts.ties.sum() + 0.5) / (decided + 0.5))
    if not penalised:
        states, weight = [_climbed(_State(items, counts, values, tied, 0.0))], np.ones(1)
    else:
        states, odds = [], []
        for spread in spreads:
            states.append(_climbed(_State(items, counts, values, tied, spread**-2)))
            values = states[-1].values
            known = states[-1].height - items * math.log(spread) - 0.5 * float(np.linalg.slogdet(states[-1].curved)[1])
            odds.append(known - 0.5 * (math.log(spread / SPREAD) / DOUBT) ** 2)
        weight = np.exp(np.array(odds) - max(odds))
        weight[weight < LEAST_WEIGHT] = 0.0
        weight /= weight.sum()
    counted = [(float(share), state) for share, state in zip(weight, states, strict=True) if share > 0.0]
    weight = np.array([share for share, _ in counted])
    each = np.array([state.values + (state.skewed() if penalised else 0.0) for _, state in counted])
    each[:, :-1] -= each[:, :-1].mean(axis=1)[:, None]
    middle = weight @ each
    apart = each[:, :-1] - middle[:-1]
    parts = tuple((share, own[:-1], state.covariance) for (share, state), own in zip(counted, each, strict=True))
    covariance = (apart * weight[:, None]).T @ apart + sum(share * spread for share, _, spread in parts)
    likelihood = sum(share * state.log_likelihood for share, state in counted)
    log_ties = float(middle[-1]) if tied else -math.inf
    return Fit(middle[:-1], np.asarray(covariance), log_ties, likelihood, penalised, parts)


def information(difference: Array, log_ties: float) -> Array:
    """What one more answer tells of a difference of strengths: Fisher's information, ν being known."""
    return _moments(np.asarray(difference, dtype=np.float64), log_ties)[2]


def chances(difference: Array, log_ties: float) -> tuple[Array, Array, Array]:
    """Probabilities that the first is preferred, the second, and neither yet."""
    half = np.asarray(difference, dtype=np.float64) / 2.0
    most = np.maximum(np.abs(half), log_ties)
    one, two = np.exp(half - most), np.exp(-half - most)
    none = np.exp(log_ties - most)
    whole = one + two + none
    return one / whole, two / whole, none / whole


def _moments(difference: Array, log_ties: float) -> tuple[Array, Array, Array, Array, Array]:
    """Means of x (½ for the first, −½ for the second, 0 for neither) and y (1 for neither); their (co)variances.

    Those are of x, of x with y, and of y.
    """
    one, two, none = chances(difference, log_ties)
    mean = (one - two) / 2.0
    return mean, none, (one + two) / 4.0 - mean**2, -mean * none, none * (1.0 - none)


class _State:
    """The likelihood at given strengths and ln ν (the last value), and the way up; penalised where precision is not
    0.
    """

    def __init__(self, items: int, counts: Counts, values: Array, tied: bool, precision: float) -> None:
        self.items, self.counts, self.values, self.tied, self.precision = items, counts, values, tied, precision
        n, a, b = counts.answers, counts.first, counts.second
        log_ties = float(values[-1]) if tied else -math.inf
        difference = values[a] - values[b]
        mean, none, xx, xy, yy = _moments(difference, log_ties)
        said = (counts.wins - counts.losses) * difference / 2.0 - n * _log_whole(difference, log_ties)
        self.log_likelihood = self.height = float(said.sum() + (counts.ties.sum() * log_ties if tied else 0.0))
        pull = (counts.wins - counts.losses) / 2.0 - n * mean
        across = _gathered(items, a, pull) - _gathered(items, b, pull)
        tie = float((counts.ties - n * none).sum()) if tied else 0.0
        whole = np.zeros((items + 1, items + 1))
        whole[a, b] = whole[b, a] = -n * xx  # each pair stands in one row only
        whole[np.arange(items), np.arange(items)] = _gathered(items, a, n * xx) + _gathered(items, b, n * xx)
        whole[:-1, -1] = whole[-1, :-1] = _gathered(items, a, n * xy) - _gathered(items, b, n * xy)
        whole[-1, -1] = (n * yy).sum() if tied else 1.0
        if precision:
            own = values[:-1]
            self.height -= 0.5 * precision * float(own @ own)
            across = across - precision * own
            whole[np.arange(items), np.arange(items)] += precision
            if tied:
                among = float(chances(np.zeros(1), log_ties)[2][0])
                self.height += 0.5 * math.log(among * (1.0 - among)) if 0.0 < among < 1.0 else -math.inf
                tie += 0.5 - among
                whole[-1, -1] += among * (1.0 - among)
        else:
            # A shift of all strengths together is unknown; a known term in that direction leaves the rest as it is.
            whole[:items, :items] += 1.0 / items
        self.slope, self.curved = np.append(across, tie), whole

    def moved(self, step: NDArray[np.floating]) -> _State:
        """The same elsewhere."""
        return _State(self.items, self.counts, np.asarray(self.values + step), self.tied, self.precision)

    def skewed(self) -> Array:
        """(K + 1,) how far the mean lies from the maximum, by the third derivatives there (Tierney and Kadane 1986)."""
        n, a, b = self.counts.answers, self.counts.first, self.counts.second
        inverse = np.linalg.inv(self.curved)
        spread = inverse[a, a] + inverse[b, b] - 2.0 * inverse[a, b]
        one, two, none = chances(self.values[a] - self.values[b], float(self.values[-1]) if self.tied else -math.inf)
        mean = (one - two) / 2.0
        at = ((one, 0.5 - mean, -none), (two, -0.5 - mean, -none), (none, -mean, 1.0 - none))
        xxx, xxy, xyy, yyy = (sum(p * x ** (3 - k) * y**k for p, x, y in at) for k in range(4))
        pull = spread * xxx
        tie = np.zeros(1)
        if self.tied:
            beside, own = inverse[a, -1] - inverse[b, -1], inverse[-1, -1]
            pull = pull + 2.0 * beside * xxy + own * xyy
            tie = np.asarray(n * (spread * xxy + 2.0 * beside * xyy + own * yyy)).sum(keepdims=True)
        across = _gathered(self.items, a, n * pull) - _gathered(self.items, b, n * pull)
        return np.asarray(-0.5 * inverse @ np.append(across, tie))

    @property
    def covariance(self) -> Array:
        """(K, K) of the strengths against their mean."""
        inverse = np.linalg.inv(self.curved)[:-1, :-1]
        centred = inverse - inverse.mean(axis=0) - inverse.mean(axis=1)[:, None] + inverse.mean()
        return np.asarray((centred + centred.T) / 2.0)


def _climbed(state: _State) -> _State:
    """The maximum, by Newton's method.

    Raises
    ------
    CannotMeasure
        where it is not reached.
    """
    for _ in range(ROUNDS):
        step = np.linalg.solve(state.curved, state.slope)
        left = math.sqrt(max(float(state.slope @ step), 0.0))
        step *= min(1.0, LONGEST_STEP / max(float(np.abs(step).max()), 1e-300))
        trial = state.moved(step)
        # The function is concave, so that a short enough step leads upwards, but for rounding.
        while trial.height < state.height - 1e-12 * abs(state.height) and left > SETTLED:
            step /= 2.0
            trial = state.moved(step)
            if np.abs(step).max() < SETTLED:
                break
        state = trial
        if left <= SETTLED:
            return state
    raise CannotMeasure("The strengths did not settle.", "Compare more pairs, and look again.")


def _gathered(items: int, places: Whole, values: Array) -> Array:
    """(K,) sums of values by item."""
    return np.bincount(places, weights=values, minlength=items).astype(np.float64)


def _log_whole(difference: Array, log_ties: float) -> Array:
    """The logarithm of what the three answers' proportions add up to, the strengths' mean being nought."""
    half = np.abs(difference) / 2.0
    return np.asarray(np.logaddexp(np.logaddexp(half, -half), log_ties))
