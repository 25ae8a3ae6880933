"""Orders of a series' pictures by one stated criterion, with the figures of each against the present order.

Pictures are numbered from 0 as they hang now; an order lists these numbers, the first place first. Distances are a
square array of one measure in its own unit (ΔE00, L*, mired, parts of the height); measures are never mixed into one
figure. A picture that the measure says nothing of (its row is NaN) keeps its place, and the steps beside it are not
counted.

smooth: the least total of steps. contrasting: the greatest least step and, among the orders that reach it, the greatest
total. By a value, or by dates: sorted. Up to `EXACT_UP_TO` pictures that may move, smooth and contrasting are exact;
beyond, a good order is looked for and said to be no more than that, with a bound that no order can pass.

Sources: Held & Karp 1962 (exact); Croes 1958 (2-opt), Or 1976 (segments moved); Prim 1957 (spanning tree: a path is
one, so that none is shorter than the least). Nothing here says that an order is good.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Span = tuple[float, float]

SMOOTH, CONTRASTING, BY_KEY, BY_DATE = "smooth", "contrasting", "by key", "by date of event"
ARRANGEMENTS = (SMOOTH, CONTRASTING, BY_KEY, BY_DATE)
EXACT_UP_TO = 14  # pictures that may move; one more doubles time and memory
MOST_PICTURES = 200
STARTS = 8  # first pictures from which a good order is looked for, besides the present order
LONGEST_SEGMENT = 3  # pictures that or-opt moves together
EQUAL = 1e-9


@dataclass(frozen=True)
class Steps:
    """The steps along an order: their sum, the greatest and the least (None where no step is known), and how many are
    known and unknown.
    """

    total: float
    greatest: float | None
    least: float | None
    known: int
    unknown: int


@dataclass(frozen=True)
class Order:
    """One order, and how it compares with the present one.

    places: numbers of pictures, the first place first. now, then: the steps of the present order and of this one.
    moved: how many places hold another picture than now. held: pictures that kept their place because the measure says
    nothing of them. exact: whether no order does better by the criterion. bound: what no order can go below (total of
    smooth) or above (least step of contrasting), None where none is known. how: the method in words.
    """

    arrangement: str
    places: tuple[int, ...]
    now: Steps
    then: Steps
    moved: int
    held: tuple[int, ...]
    exact: bool
    bound: float | None
    how: str


def steps(distances: ArrayLike, order: Sequence[int]) -> Steps:
    """The steps along an order of the pictures; NaN is a step that is not known.

    >>> steps([[0, 3, 1], [3, 0, 5], [1, 5, 0]], (0, 1, 2))
    Steps(total=8.0, greatest=5.0, least=3.0, known=2, unknown=0)

    Raises
    ------
    CannotMeasure
        where the distances are no such array, or the order does not name each picture once.
    """
    table, _ = _checked(distances)
    if sorted(order) != list(range(len(table))):
        raise CannotMeasure("An order names each picture once.", f"Give the numbers 0 to {len(table) - 1}.")
    return _steps(table, order)


def smooth(distances: ArrayLike, fixed: Mapping[int, int] | None = None) -> Order:
    """The order with the least total of steps.

    Parameters
    ----------
    distances
        (n, n), symmetric, at least 0; a row of NaN for a picture of which nothing is known.
    fixed
        By place, the picture that must stand there: `{0: 4}` opens with picture 4.

    Raises
    ------
    CannotMeasure
        where the distances are no such array or none is known, or what is fixed contradicts itself.
    """
    table, blind = _checked(distances)
    kept, held = _kept(len(table), blind, fixed)
    cost = np.where(np.isnan(table), 0.0, table)
    free = len(table) - len(kept)
    if free <= EXACT_UP_TO:
        found, exact, how = _held_karp(cost, kept, np.add), True, "Exact: no order has a lesser total (Held–Karp)."
    else:
        found, exact = _looked_for(cost, kept), False
        how = (
            f"Looked for, as {free} pictures may move: by nearest neighbours from {STARTS + 1} starts, then 2-opt and"
            " or-opt. A lesser total may exist."
        )
    bound = None if blind else _spanning_tree(table)
    return _order(SMOOTH, table, found, kept, held, exact, bound, how, lambda s: (s.total,))


def contrasting(distances: ArrayLike, fixed: Mapping[int, int] | None = None) -> Order:
    """The order whose least step is greatest and, of the orders that reach it, the one with the greatest total.

    Takes and raises as `smooth`.
    """
    table, blind = _checked(distances)
    kept, held = _kept(len(table), blind, fixed)
    unknown = np.isnan(table)
    free = len(table) - len(kept)
    if free <= EXACT_UP_TO:
        reached = _steps(table, _held_karp(np.where(unknown, -np.inf, -table), kept, np.maximum)).least
        least = -np.inf if reached is None else reached
        cost = np.where(unknown, 0.0, np.where(table >= least - EQUAL, -table, np.inf))
        found, exact = _held_karp(cost, kept, np.add), True
        how = "Exact: no order has a greater least step nor, of those that reach it, a greater total (Held–Karp)."
    else:
        found, exact = _looked_for_contrast(table, unknown, kept), False
        how = (
            f"Looked for, as {free} pictures may move: by nearest neighbours, then 2-opt and or-opt, with a least step"
            " raised by halving. A greater one may exist."
        )
    bound = None if blind or len(table) < 2 else _most_least_step(table)
    return _order(CONTRASTING, table, found, kept, held, exact, bound, how, lambda s: (-(s.least or 0.0), -s.total))


def by_value(
    values: Sequence[float | None], fixed: Mapping[int, int] | None = None, *, arrangement: str = BY_KEY
) -> Order:
    """The order from the least value to the greatest (of a key: from dark to light); equal ones stay as they are.

    A picture without a value keeps its place. The steps are the differences between neighbours. Raises as `smooth`.
    """
    known = [None if v is None or not np.isfinite(v) else float(v) for v in values]
    plain = np.array([np.nan if v is None else v for v in known], dtype=np.float64)
    if plain.size and np.isnan(plain).all():
        raise CannotMeasure("None of the pictures has a value to be sorted by.", "Order by another measure.")
    table, blind = _checked(differences(plain))
    kept, held = _kept(len(table), blind, fixed)
    found = _filled(sorted(range(len(known)), key=lambda k: (known[k] or 0.0, k)), kept).tolist()
    how = "Sorted; equal ones stand as they stood."
    return _order(arrangement, table, found, kept, held, True, None, how, lambda s: (0.0,), keep_present=False)


def by_date(spans: Sequence[Span | None], fixed: Mapping[int, int] | None = None) -> Order:
    """The order by date of event, each by the middle of the days it may lie on.

    `spans` are (earliest, latest) as Julian day numbers; None for an undated one, which keeps its place. Where
    neighbours' days overlap, which came first is not known, and `how` counts that. Steps are in days. Raises as
    `smooth`, and where a span ends before it begins.
    """
    for span in spans:
        if span is not None and not (np.isfinite(span).all() and span[0] <= span[1]):
            raise CannotMeasure("A date ends before it begins.", "Give the earliest day, then the latest.")
    found = by_value([None if s is None else (s[0] + s[1]) / 2 for s in spans], fixed, arrangement=BY_DATE)
    lined = [spans[k] for k in found.places if spans[k] is not None]
    unsure = sum(1 for a, b in pairwise(lined) if a and b and _overlap(a, b))
    how = "Sorted by the middle of the days each may lie on."
    if unsure:
        how += f" Of {unsure} neighbouring pair{'s' if unsure > 1 else ''} the days overlap: which came first is open."
    return replace(found, how=how)


def differences(values: ArrayLike) -> Array:
    """Absolute differences (n, n) of n values; NaN where one is unknown.

    >>> differences([1.0, 4.0]).tolist()
    [[0.0, 3.0], [3.0, 0.0]]
    """
    line = np.asarray(values, dtype=np.float64)
    return np.abs(line[:, None] - line[None, :])


# -- what is asked for, checked --------


def _checked(distances: ArrayLike) -> tuple[Array, tuple[int, ...]]:
    """The distances, and the pictures of which nothing is known."""
    table = np.array(distances, dtype=np.float64)
    if table.ndim != 2 or table.shape[0] != table.shape[1] or not len(table):
        raise CannotMeasure(f"Distances between pictures are a square table, not one of shape {table.shape}.")
    if len(table) > MOST_PICTURES:
        raise CannotMeasure(f"{len(table)} pictures are too many to order.", f"Order at most {MOST_PICTURES}.")
    np.fill_diagonal(table, 0.0)
    off = ~np.eye(len(table), dtype=bool)
    blind = np.isnan(table).sum(axis=1) == len(table) - 1 if len(table) > 1 else np.zeros(1, dtype=bool)
    known = off & ~blind[:, None] & ~blind[None, :]
    there = table[known]
    if not np.isfinite(there).all() or (there < 0).any():
        raise CannotMeasure("Some distances are negative, infinite or missing for one pair alone.")
    if not np.allclose(table[known], table.T[known], rtol=1e-9, atol=1e-9):
        raise CannotMeasure("The distance from one picture to another must be the same both ways.")
    if len(table) > 1 and blind.sum() >= len(table) - 1:
        raise CannotMeasure("Fewer than two of the pictures carry this measure.", "Order by another measure.")
    return table, tuple(int(k) for k in np.flatnonzero(blind))


def _kept(
    count: int, blind: tuple[int, ...], fixed: Mapping[int, int] | None
) -> tuple[dict[int, int], tuple[int, ...]]:
    """What stands where, whatever the criterion says: as asked, and the blind pictures at their places."""
    kept = dict(fixed or {})
    if any(not (isinstance(v, int) and 0 <= v < count) for pair in kept.items() for v in pair):
        raise CannotMeasure("A place or a picture is fixed that is not there.", f"Count from 0 to {count - 1}.")
    if len(set(kept.values())) < len(kept):
        raise CannotMeasure("One picture is fixed at two places.", "Fix it at one of them.")
    held = tuple(k for k in blind if k not in kept.values())
    for picture in held:
        if picture in kept:
            raise CannotMeasure(
                f"Picture {picture + 1} does not carry this measure and keeps its place, but another is fixed there.",
                f"Fix picture {picture + 1} at a place too.",
            )
        kept[picture] = picture
    return kept, held


def _overlap(one: Span, other: Span) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]


def _steps(table: Array, order: Sequence[int]) -> Steps:
    line = np.asarray(order, dtype=np.int64)
    each = table[line[:-1], line[1:]]
    known = each[~np.isnan(each)]
    if not known.size:
        return Steps(0.0, None, None, 0, len(each))
    return Steps(float(known.sum()), float(known.max()), float(known.min()), len(known), len(each) - len(known))


def _order(
    arrangement: str,
    table: Array,
    found: Sequence[int],
    kept: Mapping[int, int],
    held: tuple[int, ...],
    exact: bool,
    bound: float | None,
    how: str,
    rank: Callable[[Steps], tuple[float, ...]],
    keep_present: bool = True,
) -> Order:
    """The order with its figures; the present one where it does as well, else the direction that moves less."""
    present = list(range(len(table)))
    best = [int(k) for k in found]
    now, then = _steps(table, present), _steps(table, best)
    if keep_present:
        allowed = all(kept[place] == place for place in kept)
        if allowed and all(a <= b + EQUAL * max(1.0, abs(b)) for a, b in zip(rank(now), rank(then), strict=True)):
            best, then = present, now
            how += " The present order does as well, so it stays."
        elif not kept and _shift(best[::-1]) < _shift(best):
            best = best[::-1]
    moved = sum(1 for place, picture in enumerate(best) if place != picture)
    return Order(arrangement, tuple(best), now, then, moved, held, exact, bound, how)


def _shift(order: Sequence[int]) -> int:
    return sum(abs(place - picture) for place, picture in enumerate(order))


# -- exact --------


def _held_karp(cost: Array, kept: Mapping[int, int], joined: np.ufunc) -> list[int]:
    """The order of least cost, with costs joined by addition or by the maximum, fixed places held.

    Place by place, for each set of free pictures used so far and each last one, the least cost is kept. Between equals
    the lower number stands later.
    """
    count = len(cost)
    fixed = set(kept.values())
    free = [k for k in range(count) if k not in fixed]
    sets = 1 << len(free)
    used = np.array([s.bit_count() for s in range(sets)])
    start = 0.0 if joined is np.add else -np.inf
    lasts: list[int] = []
    table: Array = np.empty((sets, 0))
    trail: list[tuple[list[int], NDArray[np.int16]]] = []
    so_far = 0
    for place in range(count):
        ends = [kept[place]] if place in kept else free
        after: Array = np.full((sets, len(ends)), np.inf)
        came = np.zeros((sets, len(ends)), dtype=np.int16)
        rows = np.flatnonzero(used == so_far)
        for number, end in enumerate(ends):
            bit = 0 if place in kept else 1 << number
            before = rows[(rows & bit) == 0] if bit else rows
            if place == 0:
                after[before | bit, number] = start
                continue
            options = joined(table[before], cost[lasts, end][None, :])
            least = options.argmin(axis=1)
            after[before | bit, number] = options[np.arange(len(before)), least]
            came[before | bit, number] = least
        so_far += place not in kept
        lasts, table = ends, after
        trail.append((ends, came))
    chosen = sets - 1
    number = int(table[chosen].argmin())
    order = []
    for place in range(count - 1, -1, -1):
        ends, came = trail[place]
        order.append(ends[number])
        earlier = int(came[chosen, number])
        if place not in kept:
            chosen ^= 1 << number
        number = earlier
    return order[::-1]


# -- looked for --------


def _looked_for(cost: Array, kept: Mapping[int, int], enough: float = -np.inf) -> list[int]:
    """A good order: the best that the present one and nearest-neighbour orders are improved to, or the first of a cost
    that is `enough`.
    """
    count = len(cost)
    free = [k for k in range(count) if k not in set(kept.values())]
    firsts = [free[k] for k in np.unique(np.linspace(0, len(free) - 1, STARTS).round().astype(int))]
    best, reached = list(range(count)), np.inf
    for start in (None, *firsts):
        line = _filled(range(count), kept) if start is None else _nearest(cost, kept, start)
        line = _improved(line, cost, kept)
        own = float(cost[line[:-1], line[1:]].sum())
        if own < reached:
            best, reached = line.tolist(), own
        if reached <= enough:
            break
    return best


def _filled(line: Sequence[int], kept: Mapping[int, int]) -> Whole:
    """The pictures in the order of a line, fixed ones at their places."""
    fixed = set(kept.values())
    rest = iter(k for k in line if k not in fixed)
    return np.array([kept[place] if place in kept else next(rest) for place in range(len(line))], dtype=np.int64)


def _nearest(cost: Array, kept: Mapping[int, int], first: int) -> Whole:
    """From place to place to the nearest picture left; the first free place takes the one named."""
    left = [k for k in range(len(cost)) if k not in set(kept.values())]
    line: list[int] = []
    for place in range(len(cost)):
        if place in kept:
            line.append(kept[place])
            continue
        here = line[-1] if line else left[0]
        chosen = first if first in left else min(left, key=lambda k, here=here: float(cost[here, k]))  # type: ignore[misc]
        left.remove(chosen)
        line.append(chosen)
    return np.array(line, dtype=np.int64)


def _improved(line: Whole, cost: Array, kept: Mapping[int, int]) -> Whole:
    """The line after the best of all reversals, swaps and moved segments, again and again, until none helps."""
    count = len(line)
    wide = np.zeros((count + 1, count + 1))
    wide[:count, :count] = cost  # the last row stands for what is before the first and after the last place
    blocked = np.concatenate([[0], np.cumsum([place in kept for place in range(count)])])
    slack = EQUAL * max(1.0, float(np.abs(cost).max()))
    for _ in range(50 * count):
        gain, changed = _best_change(line, wide, blocked)
        if gain >= -slack:
            break
        line = changed()
    return line


def _best_change(line: Whole, wide: Array, blocked: Whole) -> tuple[float, Callable[[], Whole]]:
    """The change of the line that lowers the cost most: by how much (below 0), and what makes it."""
    count = len(line)
    outside = np.array([count])
    padded = np.concatenate([outside, line, outside])
    before, after = padded[:-2], padded[2:]
    step = wide[padded[:-1], padded[1:]]
    at = np.arange(count)
    best: tuple[float, Callable[[], Whole]] = (0.0, lambda: line)

    def consider(change: Array, allowed: NDArray[np.bool_], make: Callable[[int, int], Whole]) -> None:
        nonlocal best
        shown = np.where(allowed, change, np.inf)
        i, j = (int(k) for k in np.unravel_index(int(shown.argmin()), shown.shape))
        if shown[i, j] < best[0]:
            best = (float(shown[i, j]), lambda: make(i, j))

    later = at[:, None] < at[None, :]
    clear = blocked[1:][None, :] - blocked[:-1][:, None] == 0  # no fixed place from i to j
    to_before, to_after = wide[np.ix_(before, line)], wide[np.ix_(line, after)]
    change = to_before + to_after - step[:-1][:, None] - step[1:][None, :]
    consider(change, later & clear, lambda i, j: np.concatenate([line[:i], line[i : j + 1][::-1], line[j + 1 :]]))

    alone = blocked[1:] == blocked[:-1]
    change = (
        to_before + to_after.T + to_before.T + to_after  # j between i's neighbours, i between j's
        - (step[:-1] + step[1:])[:, None] - (step[:-1] + step[1:])[None, :]
    )  # fmt: skip
    apart = at[:, None] + 1 < at[None, :]
    consider(change, apart & alone[:, None] & alone[None, :], lambda i, j: _swapped(line, i, j))

    gaps = np.arange(count + 1)  # gap k lies before place k
    for length in range(1, min(LONGEST_SEGMENT, count - 1) + 1):
        first = np.arange(count - length + 1)
        last = first + length - 1
        freed = wide[before[first], after[last]] - step[first] - step[last + 1]
        low = np.minimum(first[:, None], gaps[None, :])
        high = np.maximum(last[:, None] + 1, gaps[None, :])
        elsewhere = (gaps[None, :] < first[:, None]) | (gaps[None, :] > last[:, None] + 1)
        allowed = elsewhere & (blocked[high] - blocked[low] == 0)
        for turned in (False, True):
            head, tail = (line[last], line[first]) if turned else (line[first], line[last])
            joined = wide[padded[:-1][None, :], head[:, None]] + wide[tail[:, None], padded[1:][None, :]]
            consider(
                freed[:, None] + joined - step[None, :],
                allowed,
                lambda i, k, length=length, turned=turned: _moved(line, i, length, k, turned),  # type: ignore[misc]
            )
    return best


def _swapped(line: Whole, i: int, j: int) -> Whole:
    out = line.copy()
    out[[i, j]] = out[[j, i]]
    return out


def _moved(line: Whole, i: int, length: int, gap: int, turned: bool) -> Whole:
    piece = line[i : i + length][::-1] if turned else line[i : i + length]
    if gap < i:
        return np.concatenate([line[:gap], piece, line[gap:i], line[i + length :]])
    return np.concatenate([line[:i], line[i + length : gap], piece, line[gap:]])


def _looked_for_contrast(table: Array, unknown: NDArray[np.bool_], kept: Mapping[int, int]) -> list[int]:
    """A good contrasting order: the highest least step that an order is found for, then a greater total above it."""
    known = np.where(unknown, 0.0, table)
    candidates = np.unique(known[~unknown & ~np.eye(len(table), dtype=bool)])
    scale = max(1.0, float(known.max()))
    if not unknown.any():
        candidates = candidates[candidates <= _most_least_step(table) + EQUAL]

    def least(line: Sequence[int]) -> float:
        reached = _steps(table, line).least
        return np.inf if reached is None else reached

    best = _filled(list(range(len(table))), kept).tolist()
    low, high = 0, len(candidates)
    while low < high:  # the least step lies below candidates[high] as far as was found
        middle = (low + high) // 2
        wanted = candidates[middle]
        short = np.where(~unknown & (table < wanted - EQUAL), 1.0 + (wanted - known) / scale, 0.0)
        found = _looked_for(short, kept, enough=0.0)
        if least(found) > least(best):
            best = found
        if least(found) >= wanted - EQUAL:
            low = middle + 1
        else:
            high = middle
    floor = least(best) - EQUAL
    penalty = scale * len(table)
    cost = np.where(unknown, 0.0, np.where(table >= floor, -known, penalty - known))
    several = [_improved(np.array(best), cost, kept).tolist(), _looked_for(cost, kept)]
    return max(several, key=lambda line: (round(min(least(line), scale), 9), _steps(table, line).total))


# -- what no order can pass --------


def _spanning_tree(table: Array) -> float:
    """The total of the least spanning tree (Prim): every path is a spanning tree, so none is shorter."""
    count = len(table)
    near = table[0].copy()
    outside = np.ones(count, dtype=bool)
    outside[0] = False
    total = 0.0
    for _ in range(count - 1):
        chosen = int(np.where(outside, near, np.inf).argmin())
        total += float(near[chosen])
        outside[chosen] = False
        near = np.minimum(near, table[chosen])
    return total


def _most_least_step(table: Array) -> float:
    """What no order's least step can exceed: every picture but the two at the ends has two neighbours, those one."""
    own = np.where(np.eye(len(table), dtype=bool), -np.inf, table)
    ranked = np.sort(own, axis=1)[:, ::-1]
    bound = float(ranked[:, 0].min())
    if len(table) > 2:
        bound = min(bound, float(np.sort(ranked[:, 1])[2]))
    return bound
