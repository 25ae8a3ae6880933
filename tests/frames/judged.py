"""Simulated judges, whose strengths are known, and the pairs that they are shown."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from refarchive.frames.pairing import next_pair
from refarchive.frames.strengths import SAYS, Judged, chances


class Judge:
    """Answers by the model: strengths of items "f0", "f1" … from the strongest on, and ν."""

    def __init__(self, number: int, *, spread: float = 1.5, tie_odds: float = 0.5, seed: int = 0) -> None:
        self.random = np.random.default_rng([seed, 1])
        self.strengths = np.sort(self.random.normal(size=number) * spread)[::-1].copy()
        self.items = [f"f{n}" for n in range(number)]
        self.log_ties = math.log(tie_odds) if tie_odds else -math.inf

    def says(self, left: str, right: str) -> str:
        one, other = (self.strengths[self.items.index(item)] for item in (left, right))
        return SAYS[int(self.random.choice(3, p=np.array(chances(np.array(one - other), self.log_ties))))]

    def answer(self, left: str, right: str) -> Judged:
        return left, right, self.says(left, right)


def chosen(judge: Judge, answers: int, *, seed: int = 0) -> Iterator[list[Judged]]:
    """The record after each answer to a pair that was chosen."""
    record: list[Judged] = []
    while len(record) < answers:
        pair = next_pair(judge.items, record, seed=seed, repeat_share=0.0)
        if pair is None:
            return
        record.append(judge.answer(pair.left, pair.right))
        yield record


def drawn(judge: Judge, answers: int, *, seed: int = 0) -> Iterator[list[Judged]]:
    """The record after each answer to a pair that was drawn at random."""
    random = np.random.default_rng([seed, 3])
    record: list[Judged] = []
    while len(record) < answers:
        left, right = random.choice(len(judge.items), 2, replace=False)
        record.append(judge.answer(judge.items[left], judge.items[right]))
        yield record
