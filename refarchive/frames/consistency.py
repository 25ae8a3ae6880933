"""Whether answers hold together: preferences that go round in a circle, repeats answered alike, and a favoured side.

Answers are triples (left, right, says) as in `strengths`. Shares come with Wilson's interval (Wilson 1927), whose
level is stated. A circle or a change of mind is no fault: it says that frames lie close, or that more than one thing is
asked.

Circles: A over B, B over C, C over A, each by a majority of the answers to that pair. Triads are counted as by Kendall
and Babington Smith 1940.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from refarchive.errors import CannotMeasure
from refarchive.frames.strengths import Judged, checked, indexed, tallied

LEVEL = 0.95
FEW_REPEATS, FEW_SIDES = 8, 20  # below these a share is given, but nothing is said of it; ours
MOST_CYCLES = 200


@dataclass(frozen=True)
class Cycle:
    """Items each preferred to the next, and the last to the first; `counts` are answers for and against."""

    items: tuple[str, ...]
    counts: tuple[tuple[int, int], ...]

    @property
    def sentence(self) -> str:
        """The circle in words."""
        following = (*self.items[1:], self.items[0])
        arms = zip(self.items, following, self.counts, strict=True)
        return ", ".join(f"{one} over {other} ({won} to {lost})" for one, other, (won, lost) in arms) + "."


@dataclass(frozen=True)
class Cycles:
    """The shortest circles found. triads: how many circles of three there are in all; of: threes fully answered."""

    cycles: tuple[Cycle, ...]
    triads: int
    of: int
    more: bool
    sentence: str


@dataclass(frozen=True)
class Share:
    """So many of so many, with an interval; all None where there are none."""

    count: int
    of: int
    share: float | None
    low: float | None
    high: float | None

    @property
    def figures(self) -> str:
        """The share as a person reads it."""
        if self.share is None or self.low is None or self.high is None:
            return "none"
        within = f"from {100 * self.low:.0f} to {100 * self.high:.0f} %"
        return f"{self.count} of {self.of} ({100 * self.share:.0f} %, {within})"


@dataclass(frozen=True)
class SelfConsistency:
    """Answers to pairs that were shown again. `agreed`: those that say the same of the frames, whatever the sides.

    reversed_: the other frame was preferred. to_or_from_neither: one of the two answers was neither yet.
    preferred_twice: agreement among those where a frame was preferred both times, of which guessing would give a half.
    swapped and same_sides: agreement with the sides exchanged and not.
    """

    agreed: Share
    reversed_: int
    to_or_from_neither: int
    preferred_twice: Share
    swapped: Share
    same_sides: Share
    level: float
    sentence: str


@dataclass(frozen=True)
class SideBias:
    """How often the left was preferred, of all answers that preferred a side; without a habit it is a half."""

    left: Share
    probability: float | None
    level: float
    sentence: str


def cycles(items: Sequence[str], judgements: Sequence[Judged], *, most: int = 12) -> Cycles:
    """The shortest circles among majority preferences: all of three first, then longer ones where room is left.

    Of longer circles the shortest through each preference is taken, so that the list need not hold all of them.

    Parameters
    ----------
    items, judgements
        As in `choose.standing`.
    most
        Circles to list, 1 to 200. The count of triads is not bounded by it.

    Raises
    ------
    CannotMeasure
        where items or answers cannot be used, or the bound is out of range.
    """
    if not 1 <= most <= MOST_CYCLES:
        raise CannotMeasure(f"{most} is no number of circles to list.", f"Give 1 to {MOST_CYCLES}.")
    places = indexed(items)
    counts = tallied(places, judgements)
    number = len(items)
    beats, beaten, won = [0] * number, [0] * number, {}
    for a, b, wins, losses in zip(counts.first, counts.second, counts.wins, counts.losses, strict=True):
        if wins == losses:
            continue
        winner, loser = (int(a), int(b)) if wins > losses else (int(b), int(a))
        beats[winner] |= 1 << loser
        beaten[loser] |= 1 << winner
        won[winner, loser] = (int(max(wins, losses)), int(min(wins, losses)))
    triads, answered = 0, 0
    found: list[tuple[int, ...]] = []
    for winner, loser in sorted(won):
        # Each circle of three is met at each of its three preferences, and kept at the one from its first item.
        third = beats[loser] & beaten[winner]
        triads += third.bit_count()
        near = (beats[winner] | beaten[winner]) & (beats[loser] | beaten[loser])
        answered += near.bit_count()
        if winner < loser and len(found) < most:
            found += [(winner, loser, n) for n in _bits(third >> (winner + 1), winner + 1)]
    triads, answered = triads // 3, answered // 3
    found = sorted(found)[:most]
    if len(found) < most:
        tangled = _tangled(number, list(won))
        longer = {path for edge in tangled if len(path := _shortest(edge, beats)) > 3}
        found += sorted(longer, key=lambda path: (len(path), path))
    more = len(found) > most or triads > most
    listed = []
    for path in found[:most]:
        arms = zip(path, (*path[1:], path[0]), strict=True)
        listed.append(Cycle(tuple(items[n] for n in path), tuple(won[arm] for arm in arms)))
    if not listed:
        said = "No preferences go round in a circle." if won else "Nothing was preferred to anything yet."
    else:
        threes = f"{triads} of {answered} threes that were answered throughout" if answered else "no three"
        said = (
            f"Preferences go round in a circle in {threes}" if triads else "Preferences go round in longer circles only"
        )
        said += f"; {len(listed)} of the shortest are listed." if more else "; all that were found are listed."
    return Cycles(tuple(listed), triads, answered, more, said)


def self_consistency(repeats: Sequence[tuple[Judged, Judged]], *, level: float = LEVEL) -> SelfConsistency:
    """How far pairs that were shown again were answered alike.

    Parameters
    ----------
    repeats
        The earlier and the later answer to the same two frames, each (left, right, says).
    level
        Of the intervals, 0.5 to below 1.

    Raises
    ------
    CannotMeasure
        where the two answers of a repeat are to different frames, or cannot be used.
    """
    both = []
    for earlier, later in repeats:
        places = indexed([str(name) for name in dict.fromkeys(earlier[:2])])
        checked(places, earlier)
        checked(places, later)
        both.append((_preferred(earlier), _preferred(later), earlier[0] != later[0]))
    alike = [one == other for one, other, _ in both]
    decided = [one == other for one, other, _ in both if one and other]
    agreed = share(sum(alike), len(alike), level)
    twice = share(sum(decided), len(decided), level)
    swapped = [same for same, (_, _, crossed) in zip(alike, both, strict=True) if crossed]
    kept = [same for same, (_, _, crossed) in zip(alike, both, strict=True) if not crossed]
    one_was_neither = sum(not (one and other) and one != other for one, other, _ in both)
    said = _consistency_words(agreed, twice)
    return SelfConsistency(
        agreed, len(decided) - sum(decided), one_was_neither, twice, share(sum(swapped), len(swapped), level),
        share(sum(kept), len(kept), level), level, said,
    )  # fmt: skip


def side_bias(judgements: Sequence[Judged], *, level: float = LEVEL) -> SideBias:
    """How often the left side was preferred, with the probability of a share so far from a half without any habit.

    That is the exact two-sided binomial probability. Sides must have been drawn at random for it to mean a habit.

    Raises
    ------
    CannotMeasure
        where an answer cannot be used.
    """
    from scipy.stats import binomtest

    says = []
    for judged in judgements:
        names = indexed([str(name) for name in dict.fromkeys(judged[:2])])
        says.append(checked(names, judged)[2])
    left, right = says.count("left"), says.count("right")
    found = share(left, left + right, level)
    if found.low is None or found.high is None:
        return SideBias(found, None, level, "No side was preferred yet.")
    probability = float(binomtest(left, left + right, 0.5).pvalue)
    if left + right < FEW_SIDES:
        said = f"The left was preferred in {found.figures}: too few to tell of a habit."
    elif probability <= 1.0 - level:
        side = "left" if left > right else "right"
        said = f"The {side} is favoured: the left was preferred in {found.figures}, where a half was to be expected."
    else:
        said = f"No favoured side to be seen: the left was preferred in {found.figures}."
    return SideBias(found, probability, level, said)


def share(count: int, of: int, level: float = LEVEL) -> Share:
    """A share with Wilson's interval.

    Raises
    ------
    CannotMeasure
        where the level is none.
    """
    from scipy.stats import binomtest

    if not 0.5 <= level < 1.0:
        raise CannotMeasure(f"{level} is no level of an interval.", "Give a number from 0.5 to below 1, such as 0.95.")
    if not of:
        return Share(0, 0, None, None, None)
    bounds = binomtest(count, of).proportion_ci(level, method="wilson")
    return Share(count, of, count / of, float(bounds.low), float(bounds.high))


def _preferred(judged: Judged) -> str:
    return {"left": judged[0], "right": judged[1]}.get(judged[2], "")


def _consistency_words(agreed: Share, twice: Share) -> str:
    if not agreed.of:
        return "No pair was shown again yet."
    said = f"Pairs shown again were answered alike in {agreed.figures}"
    if twice.of < FEW_REPEATS or twice.low is None:
        return f"{said}: too few repeats to tell how steady the answers are."
    if twice.low > 0.5:
        return f"{said}; of those with a frame preferred both times {twice.figures}, more than by guessing."
    return f"{said}; of those with a frame preferred both times {twice.figures}, no surer than by guessing."


def _bits(mask: int, offset: int) -> list[int]:
    """Places of the ones."""
    found = []
    while mask:
        lowest = mask & -mask
        found.append(lowest.bit_length() - 1 + offset)
        mask ^= lowest
    return found


def _tangled(items: int, edges: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The preferences that lie on some circle: those within a strongly connected component."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    if not edges:
        return []
    rows, columns = zip(*edges, strict=True)
    graph = coo_matrix(([1.0] * len(edges), (rows, columns)), shape=(items, items))
    label = connected_components(graph, directed=True, connection="strong")[1]
    return sorted(edge for edge in edges if label[edge[0]] == label[edge[1]])


def _shortest(edge: tuple[int, int], beats: list[int]) -> tuple[int, ...]:
    """The shortest circle through a preference, beginning with its lowest item; empty where there is none."""
    start, first = edge
    came, wave, seen = {first: -1}, [first], 1 << first
    while wave:
        following = []
        for node in wave:
            if beats[node] >> start & 1:
                path = [node]
                while came[path[-1]] >= 0:
                    path.append(came[path[-1]])
                circle = [start, *reversed(path)]
                turn = circle.index(min(circle))
                return tuple(circle[turn:] + circle[:turn])
            for other in _bits(beats[node] & ~seen, 0):
                seen |= 1 << other
                came[other] = node
                following.append(other)
        wave = following
    return ()
