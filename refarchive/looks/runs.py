"""Groups of frames that were shot as one run: close in time, and alike. Proposed, never decided.

Frames are taken in the order of time. A new group begins where the gap to the frame before is long, or the picture has
changed. What is long follows from the shoot: gaps fall into short ones, within a run, and long ones, between them,
and the split of their logarithms with the greatest variance between both (Otsu 1979) is taken where the two are far
enough apart; otherwise `GAP_S` is. That is single-linkage clustering in time. Frames without a time are grouped by
likeness alone, each with the first it is like.

Likeness is the number of bits in which 64-bit frequency hashes (`alike.frequency_hash`) differ. Thresholds are ours.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from refarchive.errors import CannotMeasure
from refarchive.looks.alike import bits_apart

GAP_S = 30.0  # where the gaps themselves tell nothing
LEAST_GAP_S, MOST_GAP_S = 2.0, 900.0  # what a split may be
FAR_APART = 4.0  # times, that the typical long gap must be of the typical short one
FEWEST_GAPS = 4
UNLIKE_BITS = 18  # of 64: unrelated pictures differ in 22 to 40
MOST_FRAMES = 5_000


@dataclass(frozen=True)
class Run:
    """One group: places of its frames in the list given, in order; and in words why they stand together."""

    frames: tuple[int, ...]
    words: str


@dataclass(frozen=True)
class Runs:
    """All groups, those with a time first, in order; `gap_s` is what parted them, `told` whether the shoot told it."""

    runs: tuple[Run, ...]
    gap_s: float
    told: bool


def runs(times_s: Sequence[float | None], hashes: Sequence[int]) -> Runs:
    """Propose groups.

    Parameters
    ----------
    times_s
        For each frame the time by the camera's clock [s], None where it is not known.
    hashes
        For each frame 64 bits that near copies share, as a whole number.

    Raises
    ------
    CannotMeasure
        where there is not one hash for each time, a time is no number, or there are too many frames.

    >>> [run.frames for run in runs([0.0, 1.2, 60.0, 61.0, None], [7, 7, 7, 7, 7]).runs]
    [(0, 1), (2, 3), (4,)]
    """
    if len(times_s) != len(hashes) or len(times_s) > MOST_FRAMES:
        raise CannotMeasure(
            f"{len(times_s)} times and {len(hashes)} hashes make no shoot.",
            f"Give one of each for every frame, at most {MOST_FRAMES:,}.",
        )
    if any(one is not None and not math.isfinite(one) for one in times_s):
        raise CannotMeasure("A time of a frame is no number.", "Leave it out where it is not known.")
    if any(not 0 <= one < 1 << 64 for one in hashes):
        raise CannotMeasure("A hash is no number of 64 bits.", "Make it anew from the picture.")
    timed = sorted((t, place) for place, t in enumerate(times_s) if t is not None)
    gaps = [later[0] - earlier[0] for earlier, later in itertools.pairwise(timed)]
    gap_s, told = _gap(gaps)
    groups: list[list[int]] = []
    why: list[str] = []
    for number, (_, place) in enumerate(timed):
        gap = gaps[number - 1] if number else math.inf
        apart = bits_apart(hashes[place], hashes[timed[number - 1][1]]) if number else 0
        if gap <= gap_s and apart <= UNLIKE_BITS:
            groups[-1].append(place)
            continue
        groups.append([place])
        if not number:
            why.append("")
        elif gap > gap_s:
            why.append(f"{_length(gap)} after the group before")
        else:
            why.append(f"{_length(gap)} after the group before, and another picture")
    known = {place: t for t, place in timed}
    made = [Run(tuple(own), _words(own, known, said)) for own, said in zip(groups, why, strict=True)]
    made += _by_likeness([place for place, t in enumerate(times_s) if t is None], hashes)
    return Runs(tuple(made), gap_s, told)


def _gap(gaps: Sequence[float]) -> tuple[float, bool]:
    """From which gap on a new run begins, and whether the gaps told it."""
    known = np.sort(np.array([max(gap, 0.1) for gap in gaps], dtype=np.float64))
    if len(known) < FEWEST_GAPS:
        return GAP_S, False
    logs = np.log(known)
    best, at = 0.0, 0
    for cut in range(1, len(logs)):
        below, above = logs[:cut], logs[cut:]
        between = len(below) * len(above) * (above.mean() - below.mean()) ** 2
        if between > best:
            best, at = float(between), cut
    if not at or np.median(known[at:]) < FAR_APART * np.median(known[:at]):
        return GAP_S, False
    split = math.sqrt(float(known[at - 1] * known[at]))
    return min(max(split, LEAST_GAP_S), MOST_GAP_S), True


def _by_likeness(places: Sequence[int], hashes: Sequence[int]) -> list[Run]:
    groups: list[list[int]] = []
    for place in places:
        for own in groups:
            if bits_apart(hashes[own[0]], hashes[place]) <= UNLIKE_BITS:
                own.append(place)
                break
        else:
            groups.append([place])
    return [Run(tuple(own), f"{_count(own)} without a time" + (", alike" if len(own) > 1 else "")) for own in groups]


def _words(own: Sequence[int], times: dict[int, float], why: str) -> str:
    spans = times[own[-1]] - times[own[0]]
    within = f" within {_length(spans)}" if len(own) > 1 else ""
    return f"{_count(own)}{within}{f', {why}' if why else ''}"


def _count(own: Sequence[int]) -> str:
    return "1 frame" if len(own) == 1 else f"{len(own)} frames"


def _length(seconds: float) -> str:
    if seconds < 60:
        return f"{seconds:.1f} s"
    if seconds < 3_600:
        return f"{int(seconds // 60)} min {int(seconds % 60)} s"
    return f"{int(seconds // 3_600)} h {int(seconds % 3_600 // 60)} min"
