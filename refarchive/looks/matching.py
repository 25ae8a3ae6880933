"""How the local features of two pictures lie to each other: the one shift, turn and scale that most agree with.

Features agree where one similarity transform takes each from its place in the first picture, as it is or mirrored, to
its place in the second. Regions are (x, y, width, height) as fractions 0–1 of a picture.

Sources: Lowe 2004 (ratio of distances); Fischler & Bolles 1981 (RANSAC). Thresholds are measured:
tests/looks/test_copies.py says on what.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from refarchive.looks.signatures import EDGE_PIXELS, TONE_PIXELS, Features, Signature

Array = NDArray[np.float64]
Region = tuple[float, float, float, float]

TONE_INLIERS = 10  # features of the tones that must agree with one transform
EDGE_INLIERS = 10  # the same for edges
LEAST_COVER = 0.15  # inliers over the features of the overlap; below, it is rather one thing seen twice
RATIO_TONES, RATIO_EDGES = 0.85, 0.90  # nearest feature over second nearest, at most
STRAY_PIXELS = 6.0  # how far a feature may lie from where the transform puts it, of the pixels looked at
WHOLE_SHARE = 0.90  # a picture of which less is shared shows more than the other


@dataclass(frozen=True)
class Match:
    """How many features of one channel found a partner (matches), and how many of those agree (inliers)."""

    channel: str
    mirrored: bool
    matches: int = 0
    inliers: int = 0
    matrix: Array | None = None  # first (mirrored if so) → second, in pixels of the frames looked at


def match_features(first: Signature, second: Signature, channel: str, mirrored: bool) -> Match:
    """The similarity transform that most matched features agree with."""
    import cv2

    one, two = getattr(first, channel), getattr(second, channel)
    longer, ratio = (TONE_PIXELS, RATIO_TONES) if channel == "tones" else (EDGE_PIXELS, RATIO_EDGES)
    nothing = Match(channel, mirrored)
    if min(len(one.points), len(two.points)) < 4:
        return nothing
    likeness = one.unit(mirrored) @ two.unit().T
    partner, back = likeness.argmax(axis=1), likeness.argmax(axis=0)
    mutual = np.flatnonzero(back[partner] == np.arange(len(partner)))
    nearest = np.partition(likeness[mutual], -2, axis=1)[:, -2:]
    distance = np.sqrt(np.maximum(2.0 - 2.0 * nearest, 0.0))
    kept = mutual[distance[:, 1] < ratio * distance[:, 0]]
    if kept.size < 4:
        return Match(channel, mirrored, int(kept.size))
    here = one.places(first.frame(longer), mirrored)[kept]
    there = two.places(second.frame(longer))[partner[kept]]
    matrix, marked = cv2.estimateAffinePartial2D(
        here, there, method=cv2.RANSAC, ransacReprojThreshold=STRAY_PIXELS, maxIters=2000, confidence=0.999
    )
    if matrix is None or not np.isfinite(matrix).all():
        return Match(channel, mirrored, int(kept.size))
    if not 0.15 < math.hypot(matrix[0, 0], matrix[1, 0]) < 6.5:
        return Match(channel, mirrored, int(kept.size))
    held = marked.ravel().astype(bool)
    # Features stacked on one another vouch for each other only once.
    spots = {tuple(spot) for spot in np.rint(there[held] / 3.0).astype(int).tolist()}
    back_spots = {tuple(spot) for spot in np.rint(here[held] / 3.0).astype(int).tolist()}
    return Match(channel, mirrored, int(kept.size), min(len(spots), len(back_spots)), np.asarray(matrix, np.float64))


def _in_fractions(first: Signature, second: Signature, found: Match) -> Array:
    """The transform as 3 × 3, fractions of the first picture as it lies → fractions of the second."""
    assert found.matrix is not None
    longer = TONE_PIXELS if found.channel == "tones" else EDGE_PIXELS
    pixels = np.vstack([found.matrix, [0.0, 0.0, 1.0]])
    into = np.diag([*first.frame(longer), 1.0])
    if found.mirrored:
        into = into @ np.array([[-1.0, 0.0, 1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(np.linalg.inv(np.diag([*second.frame(longer), 1.0])) @ pixels @ into)


def _shared(matrix: NDArray[Any]) -> tuple[Region, float]:
    """Bounding box in the unit square of the unit square moved by the transform, and the area they share."""
    corners = [np.array([x, y]) @ matrix[:2, :2].T + matrix[:2, 2] for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))]
    shape: list[Any] = corners
    for axis, limit, sign in ((0, 0.0, 1), (0, 1.0, -1), (1, 0.0, 1), (1, 1.0, -1)):  # cut at each side in turn
        cut: list[Any] = []
        for here, there in zip(shape, [*shape[1:], *shape[:1]], strict=True):
            a, b = sign * (here[axis] - limit), sign * (there[axis] - limit)
            if a >= 0:
                cut.append(here)
            if (a >= 0) != (b >= 0):
                cut.append(here + (there - here) * (a / (a - b)))
        shape = cut
    if len(shape) < 3:
        return (0.0, 0.0, 0.0, 0.0), 0.0
    points = np.array(shape)
    x, y = points[:, 0], points[:, 1]
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    left, top = float(x.min()), float(y.min())
    return (left, top, float(x.max()) - left, float(y.max()) - top), area


@dataclass(frozen=True)
class Overlap:
    """What two pictures share: the box of it in each, its share of the area of each, and which is cut from which."""

    matrix: Array  # 3 × 3, fractions of the first picture → fractions of the second
    region_first: Region
    region_second: Region
    share_first: float  # of the area of the first picture
    share_second: float
    part: str  # "first", "second", "both" or "", as in `copies.Relation`


def shared_by(first: Signature, second: Signature, found: Match) -> Overlap | None:
    """What two pictures share by a match; None where the match is too weak to count.

    Beside the number of inliers it counts what part they are of the features there. Two photographs of one tower agree
    in the tower, and in nothing around it; copies agree everywhere. A re-drawing keeps fewer features, so there the
    rule binds only where neither picture lies within the other.
    """
    if found.matrix is None or found.inliers < (TONE_INLIERS if found.channel == "tones" else EDGE_INLIERS):
        return None
    matrix = _in_fractions(first, second, found)
    back = np.linalg.inv(matrix)
    region_second, share_second = _shared(matrix)
    region_first, share_first = _shared(back)
    lacks = (share_second < WHOLE_SHARE, share_first < WHOLE_SHARE)
    part = {(True, True): "both", (False, True): "second", (True, False): "first"}.get(lacks, "")
    one: Features = getattr(first, found.channel)
    two: Features = getattr(second, found.channel)
    there = min(_within(one, matrix), _within(two, back))
    if found.inliers < LEAST_COVER * there and (found.channel == "tones" or part == "both"):
        return None
    return Overlap(matrix, region_first, region_second, share_first, share_second, part)


def _within(features: Features, matrix: NDArray[Any]) -> int:
    """How many features the transform leaves inside the other picture."""
    moved = features.places((1.0, 1.0)) @ matrix[:2, :2].T + matrix[:2, 2]
    return int(((moved >= 0.0) & (moved <= 1.0)).all(axis=1).sum())
