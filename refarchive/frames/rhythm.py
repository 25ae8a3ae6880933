"""How one measure runs along a series: its steps, its runs about the median, and whether a drift or an alternation
stands out from what chance orders do.

Numbers in the order of the pictures, in any unit; None where one cannot be told. Chances are exact: of all orders of
the same numbers, the share that would do as much. A series is put in order on purpose, so that a chance order is only
something to compare with. With few pictures even the strictest pattern comes often by chance, and that is said.

Sources: Wald & Wolfowitz 1940 (runs of two kinds, their exact distribution; numbers equal to the median are left out);
Kendall 1938, Mann 1945 (rank correlation with the place in line, for a drift; SciPy's `kendalltau`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from refarchive.errors import CannotMeasure

CHANCE = 0.05  # the share of chance orders, both ways together, from which on a pattern is told (common practice)
EQUAL = 1e-9
NO_PATTERN = "no pattern can be told"


@dataclass(frozen=True)
class Runs:
    """Runs about the median: stretches of numbers on one side of it.

    count, above, below: runs, and numbers on either side. expected: the mean number of runs of all orders. z: how many
    standard deviations the count lies off it. few, many: the shares of all orders with at most, and at least, so many
    runs.
    """

    count: int
    above: int
    below: int
    expected: float
    z: float | None
    few: float
    many: float


@dataclass(frozen=True)
class Rhythm:
    """How one measure runs along the series.

    values: as given. steps: from each known value to the next known one. up, down, level: how many of them rise, fall,
    stay. longest: the most known pictures in a row on one side of the median, and longest_at: the number (from 0) of
    the first of them. runs: about the median, None where nothing lies off it. tau, drift_chance: rank correlation with
    the place in line, and the share of chance orders with as strong a one; None where it has none. word: what can be
    told. sentence: the figures behind it.
    """

    measure: str
    unit: str
    values: tuple[float | None, ...]
    steps: tuple[float, ...]
    up: int
    down: int
    level: int
    median: float | None
    longest: int
    longest_at: int | None
    runs: Runs | None
    tau: float | None
    drift_chance: float | None
    word: str
    sentence: str

    @property
    def told(self) -> str:
        """What can be told, with the figures behind it; where no pattern can be told, nothing but that."""
        word = f"{self.word[:1].upper()}{self.word[1:]}."
        return word if self.word.startswith(NO_PATTERN) else f"{word} {self.sentence}"


def runs_of(sides: Sequence[bool]) -> Runs:
    """The runs of a line of two kinds, with exact chances.

    >>> runs_of([True, False, True, False]).count
    4

    Raises
    ------
    CannotMeasure
        where one of the kinds does not occur.
    """
    above, below = sum(map(bool, sides)), sum(not side for side in sides)
    if not (above and below):
        raise CannotMeasure("Runs need something on both sides.")
    count, total = sum(1 for _ in groupby(sides)), above + below
    ways = {runs: _ways(runs, above, below) for runs in range(2, total + 1)}
    orders = math.comb(total, above)
    twice = 2 * above * below
    expected = 1 + twice / total
    variance = twice * (twice - total) / (total**2 * (total - 1))
    return Runs(
        count=count,
        above=above,
        below=below,
        expected=expected,
        z=(count - expected) / math.sqrt(variance) if variance > 0 else None,
        few=sum(ways[runs] for runs in ways if runs <= count) / orders,
        many=sum(ways[runs] for runs in ways if runs >= count) / orders,
    )


def _ways(runs: int, above: int, below: int) -> int:
    """In how many orders so many of two kinds make so many runs."""
    half, odd = divmod(runs, 2)
    if odd:
        return math.comb(above - 1, half) * math.comb(below - 1, half - 1) + math.comb(above - 1, half - 1) * math.comb(
            below - 1, half
        )
    return 2 * math.comb(above - 1, half - 1) * math.comb(below - 1, half - 1)


def rhythm(measure: str, unit: str, values: Sequence[float | None], falls: str, rises: str) -> Rhythm:
    """How a measure runs along the series.

    Parameters
    ----------
    measure, unit
        Its name and unit, for the sentence.
    values
        In the order of the pictures, None where it cannot be told.
    falls, rises
        What a drift down and a drift up are called: "darker", "lighter".

    Raises
    ------
    CannotMeasure
        where a value is no finite number.
    """
    known = [(number, float(value)) for number, value in enumerate(values) if value is not None]
    if not all(math.isfinite(value) for _, value in known):
        raise CannotMeasure(f"A value of {measure} is no number.", "Leave it out as not told.")
    line = [value for _, value in known]
    moves = tuple(after - before for before, after in pairwise(line))
    up, down = sum(m > EQUAL for m in moves), sum(m < -EQUAL for m in moves)
    median = _median(line)
    off = [(number, value > median) for number, value in known if abs(value - median) > EQUAL]
    sides = [side for _, side in off]
    runs = runs_of(sides) if any(sides) and not all(sides) else None
    longest, at = _longest(off)
    tau, chance = _drift(line)
    word = _word(len(line), runs, tau, chance, falls, rises)
    said = _sentence(values, up, down, longest, at, runs, chance, tau)
    return Rhythm(
        measure=measure,
        unit=unit,
        values=tuple(None if value is None else float(value) for value in values),
        steps=moves,
        up=up,
        down=down,
        level=len(moves) - up - down,
        median=median if line else None,
        longest=longest,
        longest_at=at,
        runs=runs,
        tau=tau,
        drift_chance=chance,
        word=word,
        sentence=said,
    )


def _median(line: Sequence[float]) -> float:
    import statistics

    return statistics.median(line) if line else 0.0


def _longest(off: Sequence[tuple[int, bool]]) -> tuple[int, int | None]:
    best, at, start = 0, None, 0
    for _, group in groupby(off, key=lambda one: one[1]):
        length = len(list(group))
        if length > best:
            best, at = length, off[start][0]
        start += length
    return best, at


def _drift(line: Sequence[float]) -> tuple[float | None, float | None]:
    """Kendall's tau-b with the place in line, and its two-sided chance; None where all are equal or too few."""
    if len(line) < 3 or max(line) - min(line) <= EQUAL:
        return None, None
    from scipy.stats import kendalltau

    found = kendalltau(range(len(line)), line)
    return float(found.statistic), float(found.pvalue)


def _word(count: int, runs: Runs | None, tau: float | None, chance: float | None, falls: str, rises: str) -> str:
    if tau is not None and chance is not None and chance <= CHANCE:
        return f"drifts {rises if tau > 0 else falls}"
    if runs is not None and runs.many <= CHANCE / 2:
        return "alternates"
    if runs is not None and runs.few <= CHANCE / 2:
        return "stays long on one side"
    return f"{NO_PATTERN} with {count} picture{'' if count == 1 else 's'}"


def _sentence(
    values: Sequence[float | None],
    up: int,
    down: int,
    longest: int,
    at: int | None,
    runs: Runs | None,
    chance: float | None,
    tau: float | None,
) -> str:
    unknown = sum(value is None for value in values)
    parts = [f"{up} step{'' if up == 1 else 's'} up, {down} down."]
    if runs is not None and at is not None:
        often = min(runs.few, runs.many)
        as_much = "few" if runs.few <= runs.many else "many"
        parts.append(
            f"{runs.count} runs about the median where {runs.expected:.1f} are expected; {_share(often)} of chance"
            f" orders have as {as_much}. The longest holds {longest}, from picture {at + 1}."
        )
    if tau is not None and chance is not None:
        parts.append(f"Rank correlation with the place {_signed(tau)}; {_share(chance)} of chance orders reach it.")
    if unknown:
        parts.append(f"{unknown} cannot be told and {'is' if unknown == 1 else 'are'} passed over.")
    return " ".join(parts)


def _signed(value: float) -> str:
    return f"{value:+.2f}".replace("-", "−")


def _share(chance: float) -> str:
    """A share of chance orders in words.

    >>> _share(0.1), _share(0.0004), _share(0.999)
    ('10 %', 'under 0.1 %', 'nearly all')
    """
    if chance < 0.001:
        return "under 0.1 %"
    if chance > 0.995:
        return "nearly all"
    return f"{100 * chance:.1f} %" if chance < 0.095 else f"{100 * chance:.0f} %"
