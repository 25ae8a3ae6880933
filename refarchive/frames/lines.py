"""One line of a check: what was measured, what it was held against, and the word it ends in."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from refarchive.frames.saying import in_words

if TYPE_CHECKING:
    from refarchive.looks.colour import Palette

WITHIN, OUTSIDE, CANNOT_TELL, DEPARTURE = "within", "outside", "cannot tell", "departure intended"
VERDICTS = (WITHIN, OUTSIDE, CANNOT_TELL, DEPARTURE)
MEASURES = (
    "palette", "key", "contrast", "warmth", "blown out", "blocked up", "horizon", "light", "lit to shadow",
    "shadow edge", "need", "values", "layout", "likeness", "swatch",
)  # fmt: skip
INTENT = "intent"

PALETTE_COLOURS = 8


@dataclass(frozen=True)
class Line:
    """One thing measured.

    measure: one of `MEASURES`; a need's line says which need in `label`. against: "intent", or a reference id.
    target, frame: what was to be and what is, as numbers, words, or lists of `{"hex", "share"}`; None where there is
    none. difference: frame minus target for key and contrast, a distance for palette and values, what is missing to the
    target for likeness (0 where reached, else below 0). tolerance: how far the difference may lie from 0.
    note: how it was measured, how far to trust it, what would change it. label: the reference's title, the need's name.
    remedy: what would bring it within, tried and measured again; "" where it is within, or nothing is known.
    """

    measure: str
    against: str
    target: Any
    frame: Any
    difference: float | None
    tolerance: float | None
    unit: str
    verdict: str
    note: str = ""
    label: str = ""
    remedy: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The line as a document that JSON can hold: these keys, and `words`, the line as a sentence."""
        return {**asdict(self), "words": in_words(self)}


PALETTE_HOW = (
    f"Earth mover's distance with CIEDE2000 as ground distance, over {PALETTE_COLOURS} colours found by k-means in CIE "
    "Lab (D50); where the colours stand in the picture plays no part."
)
VALUES_HOW = "CIE L* (D50) after area averaging in linear light to one viewing scale."
PERCENTILE = "percentile within this archive"


def figure(value: float) -> float:
    """A figure as lines give it, to a thousandth; verdicts are found on these."""
    return round(float(value), 3) + 0.0  # + 0.0: no negative zero


def verdict_word(difference: float | None, tolerance: float | None) -> str:
    """Within or outside; cannot tell where nothing was measured, or nothing was set to hold it against."""
    if difference is None or tolerance is None:
        return CANNOT_TELL
    return WITHIN if abs(difference) <= tolerance else OUTSIDE


def joined(*sentences: str) -> str:
    """Those sentences that say something, as one text."""
    return " ".join(sentence for sentence in sentences if sentence)


def shown_palette(palette: Palette) -> list[dict[str, Any]]:
    """A palette as lines give it."""
    return [{"hex": hexed, "share": figure(share)} for hexed, share in zip(palette.hexes, palette.shares, strict=True)]
