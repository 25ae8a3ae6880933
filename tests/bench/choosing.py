"""What the intervals and the chosen pairs are worth, on simulated judges; run by hand, never by the tests.

python tests/bench/choosing.py [intervals] [pairs] [drift] [--runs 200]

Intervals: in how many cases a 95 % interval of a difference holds the true one, how many of the pairs called ahead are
the wrong way round, and the same for maximum likelihood wherever it exists; pairs drawn at random, and chosen ones.
Pairs: answers, at most thirty a frame, until half of all pairs are separated, and until nine in ten stand in the true
order by the estimate. Drift: how often a change is claimed where there is none, and where one frame rises by 2 or 3.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "frames"))

from judged import Judge, chosen, drawn

from refarchive.frames.choose import Estimate, Standing, standing
from refarchive.frames.drift import drift
from refarchive.frames.strengths import Judged

NUMBERS = (8, 12)  # of frames whose pairs are chosen
Shown = Callable[..., Iterator[list[Judged]]]


def tally(found: Standing, truth: np.ndarray) -> np.ndarray:
    """Pairs compared, intervals that hold, pairs called ahead, and those called so wrongly."""
    above = np.triu_indices(len(truth), 1)
    apart = (truth[:, None] - truth)[above]
    known = np.isfinite(found.difference[above])
    held = (found.low[above] <= apart) & (apart <= found.high[above])
    called = (found.ahead | found.ahead.T)[above]
    wrong = np.where(found.ahead[above], apart < 0, apart > 0) & called
    return np.array([known.sum(), (held & known).sum(), called.sum(), wrong.sum()], dtype=float)


def intervals(runs: int) -> None:
    for shown in (drawn, chosen):
        for number in (2, 6, 12, 25):
            for each in (2, 4, 10, 20):
                for spread, ties in ((1.0, 0.5), (2.0, 0.0)):
                    kinds: tuple[Estimate, ...] = ("penalised likelihood", "maximum likelihood")
                    totals, maxima = {kind: np.zeros(4) for kind in kinds}, 0
                    for run in range(runs):
                        judge = Judge(number, spread=spread, tie_odds=ties, seed=run)
                        record = list(shown(judge, number * each // 2, seed=run))
                        if not record:
                            continue
                        for kind in kinds:
                            found = standing(judge.items, record[-1], estimate=kind)
                            if kind == kinds[0] or all(g.estimate == kind for g in found.groups):
                                totals[kind] += tally(found, judge.strengths)
                                maxima += kind == kinds[1]
                    said = [
                        f"{kind}: holds {held / max(of, 1):.3f}, ahead {called / max(of, 1):.2f}, "
                        f"wrong {wrong / max(called, 1):.3f}"
                        for kind, (of, held, called, wrong) in totals.items()
                    ]
                    print(
                        f"{shown.__name__} {number} items, {each} answers each, spread {spread}, ν {ties}: "
                        f"{'; '.join(said)} (maximum exists in {maxima} of {runs})",
                        flush=True,
                    )


def reached(judge: Judge, records: Iterator[list[Judged]], most: int) -> tuple[int, int, float]:
    """Answers until half the pairs are separated, until nine in ten stand in order; wrong ones of those separated."""
    above = np.triu_indices(len(judge.items), 1)
    apart = ordered = most
    wrong = 0.0
    for record in records:
        if len(record) < len(judge.items) or len(record) % 4:
            continue
        found = standing(judge.items, record)
        separated = found.counted()["ahead"]
        if apart == most and separated >= 0.5 * len(above[0]):
            apart, wrong = len(record), float(np.tril(found.ahead, -1).sum()) / separated
        if ordered == most and np.mean(found.difference[above] > 0) >= 0.9:
            ordered = len(record)
        if apart < most and ordered < most:
            break
    return apart, ordered, wrong


def pairs(runs: int) -> None:
    for number in NUMBERS:
        found = {}
        for shown in (drawn, chosen):
            rows = []
            for run in range(runs):
                judge = Judge(number, seed=run)
                rows.append(reached(judge, shown(judge, 30 * number, seed=run), 30 * number))
            found[shown.__name__] = np.array(rows)
        for place, what in enumerate(("half the pairs separated", "nine in ten in order")):
            one, other = found["drawn"][:, place], found["chosen"][:, place]
            print(
                f"{number} items, {what}: {one.mean():.0f} answers drawn (median {np.median(one):.0f}), "
                f"{other.mean():.0f} chosen (median {np.median(other):.0f}; "
                f"{100 * (1 - other.mean() / one.mean()):.0f} % fewer; fewer in {np.mean(other < one):.2f} of runs)",
                flush=True,
            )
        drawn_wrong, chosen_wrong = (found[name][:, 2].mean() for name in ("drawn", "chosen"))
        print(f"  separated the wrong way: {drawn_wrong:.3f} drawn, {chosen_wrong:.3f} chosen", flush=True)


def drifts(runs: int) -> None:
    for number, each in ((6, 10), (12, 4), (12, 20), (12, 40)):
        for rise in (0.0, 2.0, 3.0):
            for day in (None, 20.0):
                words: Counter[str] = Counter()
                for run in range(runs):
                    judge = Judge(number, spread=1.0, seed=run)
                    record, days = [], []
                    for week in range(6):
                        if week == 3:
                            judge.strengths[number // 2] += rise
                        *_, last = drawn(judge, number * each // 6, seed=run * 10 + week)
                        record += last
                        days += [7.0 * week] * len(last)
                    words[drift(judge.items, record, days, since_day=day).word] += 1
                print(
                    f"{number} items, {each} answers each a span, one rises by {rise}, since {day}: {dict(words)}",
                    flush=True,
                )


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("what", nargs="*", default=["intervals", "pairs", "drift"])
    parser.add_argument("--runs", type=int, default=200)
    asked = parser.parse_args()
    for name in asked.what:
        began = time.perf_counter()
        {"intervals": intervals, "pairs": pairs, "drift": drifts}[name](asked.runs)
        print(f"{name}: {time.perf_counter() - began:.0f} s", flush=True)
