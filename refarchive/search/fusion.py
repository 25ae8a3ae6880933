"""Putting several rankings together, steering a query, and measuring how well a ranking does. Pure functions."""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterable, Sequence
from typing import TYPE_CHECKING, Literal, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Item = TypeVar("Item", bound=Hashable)

RRF_K = 60


def reciprocal_rank_fusion(
    rankings: Sequence[Sequence[Item]],
    *,
    k: float = RRF_K,
    weights: Sequence[float] | None = None,
    groups: Sequence[str] | None = None,
) -> list[tuple[Item, float]]:
    """Fuse rankings: an item's score is the sum of weight / (k + rank) over the rankings that hold it, ranks from 1.

    Source: Cormack, Clarke, Büttcher, "Reciprocal Rank Fusion outperforms Condorcet and individual Rank Learning
    Methods", SIGIR 2009, with k = 60. An item absent from a ranking gets nothing from it. Items of equal score stand in
    the order of their best single rank, then of the earliest ranking that gives it. Sums are exact to rounding, so that
    equal items come out equal whatever the order of the rankings.

    `groups` names a group for each ranking; rankings of one group look at the same thing twice, and only the best of
    them counts for an item. Without it each ranking counts.

    Raises ValueError where a ranking holds an item twice, or weights or groups do not match.

    >>> [(item, round(score, 6)) for item, score in reciprocal_rank_fusion(["ab", "b"])]
    [('b', 0.032522), ('a', 0.016393)]
    """
    if weights is None:
        weights = [1.0] * len(rankings)
    if len(weights) != len(rankings) or any(weight < 0 for weight in weights):
        raise ValueError("one weight of at least 0 is wanted for each ranking")
    if groups is None:
        groups = [str(number) for number in range(len(rankings))]
    if len(groups) != len(rankings):
        raise ValueError("one group is wanted for each ranking")
    terms: dict[Item, dict[str, float]] = {}
    best: dict[Item, tuple[int, int]] = {}
    for number, (ranking, weight, group) in enumerate(zip(rankings, weights, groups, strict=True)):
        if len(set(ranking)) != len(ranking):
            raise ValueError("a ranking holds an item twice")
        for rank, item in enumerate(ranking, start=1):
            counted = terms.setdefault(item, {})
            counted[group] = max(counted.get(group, 0.0), weight / (k + rank))
            if item not in best or (rank, number) < best[item]:
                best[item] = rank, number
    scores = {item: math.fsum(parts.values()) for item, parts in terms.items()}
    return sorted(scores.items(), key=lambda pair: (-pair[1], best[pair[0]]))


def rocchio(
    query: NDArray[np.floating],
    more: NDArray[np.floating],
    less: NDArray[np.floating],
    *,
    alpha: float = 1.0,
    beta: float = 0.75,
    gamma: float = 0.15,
) -> NDArray[np.float64]:
    """Move a query (d,) towards the mean of `more` (n, d) and away from the mean of `less` (m, d); either may be empty.

    Source: Rocchio as in Manning, Raghavan, Schütze, "Introduction to Information Retrieval", 2008, §9.1, with their
    weights. Negative values are kept: they are clipped for term weights only.
    """
    import numpy as np

    moved = alpha * np.asarray(query, np.float64)
    for vectors, weight in ((more, beta), (less, -gamma)):
        if len(vectors):
            moved = moved + weight * np.asarray(vectors, np.float64).mean(axis=0)
    return moved


def dcg(gains: Iterable[float], *, discount: Literal["from rank 1", "from rank 2"] = "from rank 1") -> float:
    """Discounted cumulated gain of gains in ranked order.

    "from rank 1" divides by log2(rank + 1). "from rank 2" divides by log2(rank) from the second rank on, as in Järvelin
    and Kekäläinen, "Cumulated gain-based evaluation of IR techniques", ACM TOIS 20(4), 2002, with base 2.
    """
    shift = 1 if discount == "from rank 1" else 0
    return math.fsum(gain / max(1.0, math.log2(rank + shift)) for rank, gain in enumerate(gains, start=1))


def ndcg(gains: Sequence[float], ideal: Iterable[float] | None = None, *, at: int | None = None) -> float:
    """DCG (log2(rank + 1)) over that of the best order possible, 0–1; 0.0 where nothing has any gain.

    `gains` are in ranked order, used as they are (not 2^gain - 1). `ideal` are the gains of everything that could have
    been found, in any order; without it, what was found is taken to be all there is. `at` cuts both.
    """
    best = dcg(sorted(gains if ideal is None else ideal, reverse=True)[:at])
    return dcg(gains[:at]) / best if best > 0 else 0.0


def reciprocal_rank(ranking: Iterable[Item], relevant: Collection[Item]) -> float:
    """1 / rank of the first relevant item, 0.0 where there is none."""
    return next((1.0 / rank for rank, item in enumerate(ranking, start=1) if item in relevant), 0.0)


def mean_reciprocal_rank(ranks: Sequence[int | None]) -> float:
    """Mean of 1 / rank over queries; None (none) counts as 0. Raises ValueError for no queries or a rank below 1."""
    if not ranks or any(rank is not None and rank < 1 for rank in ranks):
        raise ValueError("ranks from 1, or None, of at least one query are wanted")
    return math.fsum(0.0 if rank is None else 1.0 / rank for rank in ranks) / len(ranks)


def recall_at(ranking: Sequence[Item], relevant: Collection[Item], at: int) -> float:
    """Share of the relevant items that stand among the first `at`. Raises ValueError where nothing is relevant."""
    wanted = set(relevant)
    if not wanted:
        raise ValueError("nothing is relevant")
    return len(wanted.intersection(ranking[:at])) / len(wanted)
