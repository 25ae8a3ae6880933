"""How far this archive's encoder can be trusted on this archive's own references: measured, with its uncertainty.

Pure functions on scores and ranks. An answer is right where it is one of those that count as right for its question
(a reference of the same family, a caption of the same words). Ties count against: of equal scores the right one is
taken to come last, so that an encoder that cannot tell anything apart earns nothing.

Source of the interval: Efron 1979, the bootstrap, by percentiles.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

DRAWS = 2_000
INTERVAL = (2.5, 97.5)  # percentiles
LEAST = 10  # questions, below which nothing is said


@dataclass(frozen=True)
class Share:
    """How often something was right, of how many, with a 95 % bootstrap interval and what chance alone would give."""

    share: float
    low: float
    high: float
    of: int
    chance: float

    def as_dict(self) -> dict[str, float]:
        """As JSON."""
        return asdict(self)

    @property
    def words(self) -> str:
        """As a person reads it: "32 % (27–38 %; chance 2 %; of 300)"."""
        return (
            f"{100 * self.share:.0f} % ({100 * self.low:.0f}–{100 * self.high:.0f} %; chance {100 * self.chance:.1f} %;"
            f" of {self.of})"
        )


def ranks(scores: ArrayLike, right: Sequence[Collection[int]]) -> NDArray[np.int64]:
    """For each question (a row of scores) the rank, from 1, of its best right answer.

    Parameters
    ----------
    scores
        (n, m): of each question to each answer, larger is better.
    right
        For each question the places of the answers that are right; at least one.
    """
    import numpy as np

    table = np.asarray(scores, dtype=np.float64)
    found = np.empty(len(table), dtype=np.int64)
    for row, answers in enumerate(right):
        own = list(answers)
        best = table[row, own].max()
        beyond = np.count_nonzero(table[row] >= best)
        found[row] = beyond - np.count_nonzero(table[row, own] >= best) + 1
    return found


def within(found: ArrayLike, first: int, chance: float, seed: int = 0) -> Share | None:
    """How often the rank is among the first so many; None where there are too few questions to say."""
    import numpy as np

    hits = (np.asarray(found) <= first).astype(np.float64)
    if hits.size < LEAST:
        return None
    random = np.random.default_rng(seed)
    drawn = hits[random.integers(0, hits.size, (DRAWS, hits.size))].mean(axis=1)
    low, high = np.percentile(drawn, INTERVAL)
    return Share(float(hits.mean()), float(low), float(high), int(hits.size), chance)


def chance_of(right: Sequence[Collection[int]], answers: int, first: int) -> float:
    """How often blind picking of the first so many would hold a right answer (hypergeometric)."""
    from math import comb

    if not right or answers < 1:
        return 0.0
    first = min(first, answers)
    missed = [comb(answers - len(own), first) / comb(answers, first) for own in right]
    return 1.0 - sum(missed) / len(missed)


@dataclass(frozen=True)
class Trust:
    """What was measured of one encoder on one archive; None where there was too little to measure.

    caption_first, caption_in_five: how often, of all captions, that of a picture comes first, or among the first five.
    detail_finds_whole, detail_in_five: how often a piece cut from a picture finds that picture.
    """

    encoder: str
    captioned: int
    pictures: int
    caption_first: Share | None
    caption_in_five: Share | None
    detail_finds_whole: Share | None
    detail_in_five: Share | None

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return asdict(self)

    @property
    def sentences(self) -> tuple[str, ...]:
        """As a person reads it."""
        if self.caption_first is None or self.caption_in_five is None:
            words = f"Words to pictures: {self.captioned} captioned pictures are too few to say (from {LEAST} on)."
        else:
            words = (
                f"Words to pictures: the right caption comes first for {self.caption_first.words}, and among the first "
                f"five for {self.caption_in_five.words}."
            )
        if self.detail_finds_whole is None or self.detail_in_five is None:
            likeness = f"Likeness: {self.pictures} pictures are too few to say (from {LEAST} on)."
        else:
            likeness = (
                f"Likeness: a piece cut from a picture finds it first for {self.detail_finds_whole.words}, and among "
                f"the first five for {self.detail_in_five.words}."
            )
        return words, likeness
