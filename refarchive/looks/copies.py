"""Copies of one picture: the same again, mirrored, cut down, recoloured, drawn again; measured, never decided.

What is proposed here is a question to a person. Two pictures are compared in steps: hashes of the whole, local features
of the tones, local features of the edges; features must agree with one similarity transform (shift, turn, scale), with
the picture as it is or with its mirror. Tones survive fading, recolouring, cutting, turning and recompression. Edges
survive more: an engraving after a photograph keeps where the lines run and loses the tones, so what only the edges show
is called a possible re-drawing. Two views of one building by two cameras are no copies and mostly do not match; two
prints of one block for two events do match, rightly.

Silence says nothing. Never found: a part of less than a sixth of the width and height. Seldom found, of 18 real
pictures: squeezed by three tenths, 5 (by a tenth, all); seen at a slant that narrows one side by six tenths, 7; shown
within another picture at three tenths of its width, 6 of 17. A quarter of a picture, re-drawn, is found in 11. A hand
that draws freely, or moves what it draws, is missed more often than any of these.

Signatures are those of `signatures`. Regions are (x, y, width, height) as fractions 0–1 of a picture. Nothing is
random: the same pictures give the same answer. Thresholds are measured: tests/looks/test_copies.py says on what.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from refarchive.looks import alike, colour
from refarchive.looks.matching import TONE_INLIERS, Array, Match, Overlap, Region, match_features, shared_by
from refarchive.looks.signatures import COLOUR_CELLS, EDGE_PIXELS, TONE_PIXELS, Signature

SAME, MIRRORED, CROP, RECOLOURED = "same picture", "mirrored", "crop of", "recoloured"
REDRAWN, UNRELATED = "re-drawn (possible)", "unrelated"
KINDS = (SAME, MIRRORED, CROP, RECOLOURED, REDRAWN, UNRELATED)

FEW_FEATURES = 20  # a picture with fewer can only be judged by its hashes
COLOUR_QUANTILE = 0.99  # of the cells shared, since a colourist touches parts
TURNED_QUANTILE = 0.95  # where cells do not lie on cells, some fall between two colours
COLOUR_SHIFT = 5.0  # distance in a*b* at that quantile from which a copy counts as recoloured
TONE_SHIFT = 12.0  # median distance in L* from which it does

_CLEAR_INLIERS = 40  # so many make looking at the mirror idle


@dataclass(frozen=True)
class Relation:
    """What two pictures have to do with each other, and why it is thought so.

    kind: one of `KINDS`; of several that apply, the first of re-drawn, mirrored, crop of, recoloured, same picture, and
    the sentence names the others too. mirrored, recoloured: whether they apply, whatever the kind. part: which picture
    is cut from the other: "first", "second", "both" where each shows what the other lacks, or "". channel: what
    matched, "tones", "edges", "hashes", or "". bits_apart: of 64, the smaller of picture and mirror (frequency hash).
    inliers: features that agree with the transform; matches: features that found a partner at all. transform: rows of
    a 2 × 3 matrix that takes fractions (x, y, 1) of the first picture to fractions of the second. scale: of the second
    against the first, in their own pixels. turn_deg: clockwise. region_in_first, region_in_second: bounding boxes of
    what is shared. colour_shift: distance in a*b* that a hundredth of it exceeds, or a twentieth where one is turned or
    cut; tone_shift: median distance in L*. None where not measured.
    """

    kind: str
    sentence: str
    bits_apart: int
    mirrored: bool = False
    recoloured: bool = False
    part: str = ""
    channel: str = ""
    inliers: int = 0
    matches: int = 0
    transform: tuple[tuple[float, float, float], tuple[float, float, float]] | None = None
    scale: float | None = None
    turn_deg: float | None = None
    region_in_first: Region | None = None
    region_in_second: Region | None = None
    colour_shift: float | None = None
    tone_shift: float | None = None

    @property
    def inlier_ratio(self) -> float:
        """Inliers over matches; 0 where nothing matched."""
        return self.inliers / self.matches if self.matches else 0.0


def compare(first: Signature, second: Signature) -> Relation:
    """What two pictures have to do with each other; a few thousandths of a second."""
    plain = alike.bits_apart(first.frequency, second.frequency)
    turned = alike.bits_apart(first.mirrored_frequency, second.frequency)
    bits = min(plain, turned)
    if first.blank or second.blank:
        return Relation(UNRELATED, "One of the pictures is too even to be compared with another.", bits)
    order = (False, True) if plain <= turned else (True, False)
    few = min(len(first.tones.points), len(second.tones.points)) < FEW_FEATURES
    best: Match | None = None
    for channel in ("tones",) if few else ("tones", "edges"):  # edges of soft pictures are but steps of 8-bit tones
        for mirrored in order:
            found = match_features(first, second, channel, mirrored)
            if best is None or found.inliers > best.inliers:
                best = found
            if found.inliers >= _CLEAR_INLIERS:
                break
        assert best is not None
        if best.channel == channel and (overlap := shared_by(first, second, best)) is not None:
            return _related(first, second, bits, best, overlap)
    assert best is not None
    if few and (by_hash := _by_hashes(first, second)) is not None:
        return by_hash
    if best.inliers >= TONE_INLIERS:
        said = (
            f"Hardly copies: {best.inliers} features agree on one place, but that is little of what lies there;"
            " one thing seen twice would look so."
        )
    else:
        said = (
            f"Nothing ties them: {_count(best.inliers, 'feature')} of {best.matches} matched agree on one place"
            f" (from {TONE_INLIERS} on it would count), and their hashes are {bits} of 64 bits apart."
        )
    return Relation(UNRELATED, said, bits, inliers=best.inliers, matches=best.matches)


def _related(first: Signature, second: Signature, bits: int, found: Match, overlap: Overlap) -> Relation:
    matrix, part = overlap.matrix, overlap.part
    region_first, region_second = overlap.region_first, overlap.region_second
    shifts = _shifts(first, second, matrix)
    recoloured = shifts is not None and (shifts[0] >= COLOUR_SHIFT or shifts[1] >= TONE_SHIFT)
    redrawn = found.channel == "edges"
    kind = REDRAWN if redrawn else MIRRORED if found.mirrored else CROP if part else RECOLOURED if recoloured else SAME
    pixels = found.matrix
    assert pixels is not None
    turn = math.degrees(math.atan2(pixels[1, 0], pixels[0, 0]))
    longer = TONE_PIXELS if found.channel == "tones" else EDGE_PIXELS
    per_pixel = (longer / max(first.width, first.height)) / (longer / max(second.width, second.height))
    said = (
        "One may be drawn after the other: their edges agree, their tones do not"
        if redrawn
        else "One looks like a copy of the other"
    )
    more = []
    if found.mirrored:
        more.append("mirrored")
    if part == "both":
        more.append("each shows some of what the other lacks")
    elif part:
        whole = "first" if part == "second" else "second"
        share = overlap.share_first if part == "second" else overlap.share_second
        more.append(f"the {part} shows {100 * share:.0f} % of the {whole}")
    if recoloured and not redrawn and shifts is not None:
        more.append(f"recoloured or faded (up to {shifts[0]:.0f} in a*b*, {shifts[1]:.0f} in L*)")
    if abs(turn) >= 0.5:
        more.append(f"turned by {abs(turn):.0f}°")
    sentence = (
        f"{said}{': ' if more and not redrawn else '; ' if more else ''}{', '.join(more)}."
        f" {found.inliers} of {found.matches} matched features of the {found.channel} agree on one place."
    )
    return Relation(
        kind=kind,
        sentence=sentence,
        bits_apart=bits,
        mirrored=found.mirrored,
        recoloured=recoloured,
        part=part,
        channel=found.channel,
        inliers=found.inliers,
        matches=found.matches,
        transform=(_row(matrix[0]), _row(matrix[1])),
        scale=math.hypot(pixels[0, 0], pixels[1, 0]) * per_pixel,
        turn_deg=turn,
        region_in_first=region_first,
        region_in_second=region_second,
        colour_shift=shifts[0] if shifts else None,
        tone_shift=shifts[1] if shifts else None,
    )


def _row(values: Array) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def _by_hashes(first: Signature, second: Signature) -> Relation | None:
    """The relation of pictures with too little detail for features, where both hashes are near."""
    found = []
    for mirrored in (False, True):
        frequency, difference = (
            (first.mirrored_frequency, first.mirrored_difference) if mirrored else (first.frequency, first.difference)
        )
        bits = alike.bits_apart(frequency, second.frequency)
        worse = max(bits, alike.bits_apart(difference, second.difference))
        found.append((worse, mirrored, bits))
    worse, mirrored, bits = min(found)
    if worse > alike.NEAR_COPY_BITS or not 0.9 < first.aspect / second.aspect < 1.1:
        return None
    matrix = np.array([[-1.0, 0.0, 1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]) if mirrored else np.eye(3)
    shifts = _shifts(first, second, matrix)
    recoloured = shifts is not None and (shifts[0] >= COLOUR_SHIFT or shifts[1] >= TONE_SHIFT)
    said = (
        f"They may be one picture{' mirrored' if mirrored else ''}: their hashes are at most {worse} of 64 bits apart."
        " They hold too little detail for more."
    )
    return Relation(
        kind=MIRRORED if mirrored else RECOLOURED if recoloured else SAME,
        sentence=said,
        bits_apart=bits,
        mirrored=mirrored,
        recoloured=recoloured,
        channel="hashes",
        colour_shift=shifts[0] if shifts else None,
        tone_shift=shifts[1] if shifts else None,
    )


def _shifts(first: Signature, second: Signature, matrix: Array) -> tuple[float, float] | None:
    """Distances over the cells both show, in a*b* (at a quantile) and L* (median); None where they are few."""
    import cv2

    cells = float(COLOUR_CELLS)
    scale = np.diag([cells, cells, 1.0])
    centre = np.array([[1.0, 0.0, -0.5], [0.0, 1.0, -0.5], [0.0, 0.0, 1.0]])
    warp = (centre @ scale @ matrix @ np.linalg.inv(scale) @ np.linalg.inv(centre))[:2]
    # Both are brought to the coarser of the two before they are laid on each other.
    part = math.sqrt(abs(float(np.linalg.det(matrix[:2, :2]))))
    one, two = first.colours.astype(np.float32), second.colours.astype(np.float32)
    if part < 1.0:
        one = cv2.GaussianBlur(one, (0, 0), 0.3 + 0.5 * (1.0 / part - 1.0))  # type: ignore[assignment]
    elif part > 1.0:
        two = cv2.GaussianBlur(two, (0, 0), 0.3 + 0.5 * (part - 1.0))  # type: ignore[assignment]
    size = (COLOUR_CELLS, COLOUR_CELLS)
    moved = cv2.warpAffine(one, warp, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = cv2.warpAffine(np.ones(size, np.float32), warp, size, flags=cv2.INTER_LINEAR) > 0.99
    if inside.sum() < 16:
        return None
    lab_one = colour.srgb_to_lab(np.clip(moved / 255.0, 0, 1))
    lab_two = colour.srgb_to_lab(np.clip(two / 255.0, 0, 1))
    lightness = np.median(np.abs(lab_one - lab_two)[inside][:, 0])
    # Cells of a turned or cut copy fall between those of the other: the nearest colour of a cell and its neighbours.
    wide = np.pad(lab_two[..., 1:], ((1, 1), (1, 1), (0, 0)), mode="edge")
    moves = [(y, x) for y in range(3) for x in range(3)]
    near = [wide[y : y + COLOUR_CELLS, x : x + COLOUR_CELLS] - lab_one[..., 1:] for y, x in moves]
    apart = np.min([np.hypot(n[..., 0], n[..., 1]) for n in near], axis=0)[inside]
    corners = np.array([[0, 0, 1], [cells, 0, 1], [0, cells, 1], [cells, cells, 1]])
    laid = np.abs(corners @ warp.T - corners[:, :2]).max() < 0.5
    return float(np.quantile(apart, COLOUR_QUANTILE if laid else TURNED_QUANTILE)), float(lightness)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
