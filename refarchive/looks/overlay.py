"""One picture laid over another, to be looked at and never scored.

Local features of both are matched, and the shift, turn and scale (or the perspective) that most of them agree with
brings the first picture into the frame of the second. That works for two views of one place, for a work print and its
original, for a copy; it seldom works between a photograph and an engraving or a painting, which share no small detail,
and then the answer is "cannot tell". Agreeing features say that the pictures share detail there, not that either is
right.

A picture is as in `colour`. Transforms are 3 × 3 and take fractions (x, y, 1) of the first picture to fractions of the
second, counted from the top left corner. Nothing is random: the same pictures give the same answer.

Sources: Lowe 2004 (SIFT, ratio of distances); Arandjelović & Zisserman 2012 (square-rooted features); Fischler & Bolles
1981 (RANSAC). Thresholds are ours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour

Array = NDArray[np.float64]
Kind = Literal["similarity", "homography"]

ALIGN_PIXELS, ALIGN_FEATURES = 1000, 2500  # longer side looked at, strongest features kept
SHOWN_PIXELS = 1600  # longer side of what is shown, at most
LEAST_SIDE = 32  # pixels of the shorter side, of what is looked at
RATIO = 0.8  # nearest feature over second nearest, at most
STRAY_PIXELS = 3.0  # how far a feature may lie from where the transform puts it, of the pixels looked at
LEAST_AGREEING = {"similarity": 12, "homography": 16}  # features at places of their own
LEAST_COVER = 0.04  # of the second picture, that the agreeing features must span
MOST_SCALE = 6.0  # either way


@dataclass(frozen=True, eq=False)
class Alignment:
    """How a picture lies over another, or why it cannot be told.

    matrix: None for cannot tell. agreeing: features that agree with it, each at a place of its own; matched: features
    that found a partner at all. stray: the root mean square by which the agreeing ones miss, as a share of the second
    picture's diagonal. spans: the share of the second picture between them; outside, the transform is a guess. warped:
    the first picture in the frame of the second, (h, w, 3) uint8; covered: (h, w), true where it reaches; under: the
    second picture at that size. None where not told.
    """

    matrix: Array | None
    agreeing: int
    matched: int
    stray: float | None
    spans: float
    warped: NDArray[np.uint8] | None
    covered: NDArray[np.bool_] | None
    under: NDArray[np.uint8] | None
    sentence: str


def align(first: ArrayLike, second: ArrayLike, kind: Kind = "similarity") -> Alignment:
    """Bring the first picture into the frame of the second.

    Parameters
    ----------
    first, second
        Pictures.
    kind
        "similarity": shift, turn and scale, for one camera point or a flat original. "homography": perspective too, for
        a flat thing seen at a slant.

    Raises
    ------
    CannotMeasure
        where one is not a picture, or the kind is another.
    """
    import cv2

    one, two = _bytes(first), _bytes(second)
    if kind not in LEAST_AGREEING:
        raise CannotMeasure(f"{str(kind)[:40]!r} is no kind of alignment.", "Ask for similarity or homography.")
    seen = [_fitted(picture, ALIGN_PIXELS) for picture in (one, two)]
    if min(min(picture.shape[:2]) for picture in seen) < LEAST_SIDE:
        return _untold("one of the pictures is too small.")
    here, there = _matched([cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY) for picture in seen])
    least = LEAST_AGREEING[kind]
    if len(here) < least:
        return _untold(f"only {len(here)} features found a partner, {least} must agree.", len(here))
    if kind == "similarity":
        found, marked = cv2.estimateAffinePartial2D(
            here, there, method=cv2.RANSAC, ransacReprojThreshold=STRAY_PIXELS, maxIters=5000, confidence=0.999
        )
        pixels = None if found is None else np.vstack([found, [0.0, 0.0, 1.0]])
    else:
        pixels, marked = cv2.findHomography(here, there, cv2.RANSAC, STRAY_PIXELS, maxIters=5000, confidence=0.999)
    if pixels is None or not np.isfinite(pixels).all():
        return _untold("the features agree on no transform.", len(here))
    held = marked.ravel().astype(bool)
    agreeing = min(len(np.unique(np.rint(points[held] / 3.0), axis=0)) for points in (here, there))
    if agreeing < least:
        return _untold(f"{agreeing} of {len(here)} matched features agree, {least} must.", len(here), agreeing)
    size_one, size_two = (np.diag([p.shape[1], p.shape[0], 1.0]).astype(float) for p in seen)
    spans = float(cv2.contourArea(cv2.convexHull(there[held])) / (size_two[0, 0] * size_two[1, 1]))
    if spans < LEAST_COVER:
        said = f"the features that agree span {100 * spans:.1f} % of the picture, and {100 * LEAST_COVER:.0f} %"
        return _untold(said + " is asked for.", len(here), agreeing, spans)
    if not _plain(pixels, (size_one[0, 0], size_one[1, 1])):
        return _untold(
            "the features agree on a transform that folds the picture or shrinks it away.", len(here), agreeing
        )
    put = _moved(pixels, here[held].astype(np.float64))
    off = float(np.sqrt(((put - there[held]) ** 2).sum(axis=1).mean()))
    stray = off / math.hypot(size_two[0, 0], size_two[1, 1])
    matrix = np.linalg.inv(size_two) @ pixels @ size_one
    matrix = matrix / matrix[2, 2]
    under = _fitted(two, SHOWN_PIXELS)
    warped, covered = _warped(one, matrix, under.shape[:2])
    said = (
        f"{agreeing} of {len(here)} matched features agree within {off:.1f} pixels of {ALIGN_PIXELS}; they span"
        f" {100 * spans:.0f} % of the picture, and outside them the fit is a guess."
    )
    return Alignment(matrix, agreeing, len(here), stray, spans, warped, covered, under, said)


def mixed(aligned: Alignment, share: float = 0.5) -> NDArray[np.uint8]:
    """Both pictures in one, (h, w, 3) uint8, mixed in linear light: so much of the first, the rest of the second.

    Where the first does not reach, the second stands alone.

    Raises
    ------
    CannotMeasure
        where the pictures could not be aligned, or the share is not within 0–1.
    """
    if aligned.warped is None or aligned.covered is None or aligned.under is None:
        raise CannotMeasure("The pictures could not be laid over each other.", aligned.sentence)
    if not 0.0 <= share <= 1.0:
        raise CannotMeasure(f"{share} is no share of a mixture.", "Give a number from 0 to 1.")
    weight = np.where(aligned.covered, share, 0.0)[:, :, None]
    light = weight * colour.linear(aligned.warped) + (1.0 - weight) * colour.linear(aligned.under)
    return np.rint(colour.encoded(light) * 255.0).astype(np.uint8)


def _untold(why: str, matched: int = 0, agreeing: int = 0, spans: float = 0.0) -> Alignment:
    return Alignment(None, agreeing, matched, None, spans, None, None, None, f"Cannot tell: {why}")


def _bytes(picture: ArrayLike) -> NDArray[np.uint8]:
    array = colour.check_picture(picture)
    if array.dtype == np.uint8:
        return np.ascontiguousarray(array)
    if not (np.isfinite(array).all() and array.min() >= 0.0 and array.max() <= 1.0):
        raise CannotMeasure("Some colour values lie outside the range 0–1.", "Divide by the largest value first.")
    return np.rint(array * 255.0).astype(np.uint8)


def _fitted(picture: NDArray[np.uint8], longer: int) -> NDArray[np.uint8]:
    """The picture with its longer side at most so long, area-averaged."""
    import cv2

    rows, columns = picture.shape[:2]
    scale = longer / max(rows, columns)
    if scale >= 1.0:
        return picture
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _matched(greys: list[NDArray[Any]]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Places of features that are each other's nearest, and clearly so: (N, 2) in both pictures, from the corner."""
    import cv2

    # Without precise upscaling every place is a quarter of a pixel off, which a turn doubles instead of cancelling.
    finder: Any = cv2.SIFT_create(  # type: ignore[attr-defined,unused-ignore]
        ALIGN_FEATURES, contrastThreshold=0.02, enable_precise_upscale=True
    )
    nothing = np.zeros((0, 2), np.float32)
    places, rows = [], []
    for grey in greys:
        keys, values = finder.detectAndCompute(grey, None)
        if values is None or len(keys) < 4:
            return nothing, nothing
        places.append(np.array([key.pt for key in keys], dtype=np.float32) + 0.5)
        rows.append(np.sqrt(values / np.maximum(values.sum(axis=1, keepdims=True), 1.0)).astype(np.float32))
    likeness = rows[0] @ rows[1].T
    partner, back = likeness.argmax(axis=1), likeness.argmax(axis=0)
    mutual = np.flatnonzero(back[partner] == np.arange(len(partner)))
    nearest = np.partition(likeness[mutual], -2, axis=1)[:, -2:]
    distance = np.sqrt(np.maximum(2.0 - 2.0 * nearest, 0.0))
    kept = mutual[distance[:, 1] < RATIO * distance[:, 0]]
    return places[0][kept], places[1][partner[kept]]


def _moved(matrix: Array, points: Array) -> Array:
    """Points (N, 2) moved by a 3 × 3 transform."""
    moved = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(moved[:, :2] / moved[:, 2:])


def _plain(pixels: Array, size: tuple[float, float]) -> bool:
    """Whether a transform leaves the corners of a picture in their order, before the eye, and of a fair size."""
    corners = np.array([[0, 0, 1], [size[0], 0, 1], [size[0], size[1], 1], [0, size[1], 1]], dtype=float)
    moved = corners @ pixels.T
    if (moved[:, 2] * np.sign(pixels[2, 2]) < 0.05 * abs(pixels[2, 2])).any():
        return False
    placed = moved[:, :2] / moved[:, 2:]
    sides = np.roll(placed, -1, axis=0) - placed
    following = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    if not (turns > 0).all():
        return False
    x, y = placed.T
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    scale = math.sqrt(area / (size[0] * size[1]))
    return 1.0 / MOST_SCALE < scale < MOST_SCALE


def _warped(
    picture: NDArray[np.uint8], matrix: Array, shape: tuple[int, ...]
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """The picture moved into a frame of this shape, and where it reaches."""
    import cv2

    rows, columns = shape[:2]
    corners = _moved(matrix, np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])) * [columns, rows]
    longest = max(float(np.hypot(*side)) for side in np.roll(corners, -1, axis=0) - corners)
    picture = _fitted(picture, max(LEAST_SIDE, math.ceil(longest)))  # averaged before it is sampled more coarsely
    from_centres, to_centres = np.eye(3), np.eye(3)
    from_centres[:2, 2], to_centres[:2, 2] = 0.5, -0.5
    into = np.diag([1.0 / picture.shape[1], 1.0 / picture.shape[0], 1.0])
    whole = to_centres @ np.diag([float(columns), float(rows), 1.0]) @ matrix @ into @ from_centres
    size = (columns, rows)
    warped = cv2.warpPerspective(picture, whole, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    y, x = np.mgrid[0:rows, 0:columns]
    places = np.column_stack([(x.ravel() + 0.5) / columns, (y.ravel() + 0.5) / rows, np.ones(x.size)])
    back = places @ np.linalg.inv(matrix).T
    inside = (back[:, 2] > 0) & (back[:, :2] >= 0).all(axis=1) & (back[:, :2] <= back[:, 2:]).all(axis=1)
    return np.asarray(warped, dtype=np.uint8), inside.reshape(rows, columns)
