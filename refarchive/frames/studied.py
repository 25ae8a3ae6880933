"""What a frame is like, measured without anything to hold it against: studies to look at, and facts with how they were
found.

A check's lines say how far a frame is from what was meant; this says what is there. Nothing here ends in a word of
judgement, and what cannot be told says why.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from refarchive.frames.lines import PALETTE_COLOURS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from refarchive.looks.colour import Palette
    from refarchive.looks.composition import Mass, Placement
    from refarchive.records.model import Region

MOST_MASSES = 4
SAID = {"dark": "dark", "middle": "half-tone", "light": "light"}  # so that no value is called as a place is


@dataclass(frozen=True)
class Told:
    """One fact: its name, and what was found, in words with figures; "Cannot tell: …" where nothing was."""

    name: str
    words: str


@dataclass(frozen=True)
class ColourTold:
    """One of the main colours: as #rrggbb, in Lab (D50), its share of the picture 0–1, and where it sits."""

    hex: str
    lab: tuple[float, float, float]
    share: float
    where: str


@dataclass(frozen=True, eq=False)
class Studied:
    """What a frame is like.

    told: facts, in the order to read them. colours: the palette, the largest share first. studies: pictures to look at,
    uint8 (h, w, 3), by title, with their words.
    """

    told: tuple[Told, ...]
    colours: tuple[ColourTold, ...]
    studies: Mapping[str, tuple[NDArray[np.uint8], str]]

    def as_dict(self) -> dict[str, Any]:
        """As JSON, pictures left out."""
        return {
            "facts": [vars(one) for one in self.told],
            "colours": [vars(one) for one in self.colours],
            "studies": [{"name": name, "words": words} for name, (_, words) in self.studies.items()],
        }


def study_frame(
    picture: NDArray[np.uint8], *, figures: Mapping[str, Region] | None = None, linear: NDArray[Any] | None = None
) -> Studied:
    """Study a frame.

    Parameters
    ----------
    picture
        Upright sRGB, uint8 (H, W, 3).
    figures
        Regions that a person marked as figures, by name.
    linear
        Scene-linear light (H, W, 3) of the same frame, 1 where the file clips; without it nothing is said in stops.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    from refarchive.looks import colour, composition, horizon, lines, places, studies, tone, warmth

    of_tone = tone.tone_summary(picture)
    three, five = studies.study(picture, 3), studies.study(picture, 5)
    clipped = studies.clipped(picture)
    stops = studies.stops_summary(
        (linear if linear is not None else picture / 255.0) @ colour.LUMINANCE, scene_linear=linear is not None
    )
    told = [
        Told("Key", f"Median L* {of_tone.median:.0f}: {tone.key_word(min(100.0, of_tone.median))}."),
        Told("Contrast", f"L* {of_tone.p5:.0f} to {of_tone.p95:.0f} (5th to 95th percentile), {of_tone.spread:.0f}."),
        Told("In stops", stops.sentence),
        Told("Clipped", clipped.sentence),
        Told("Warmth", warmth.warmth(picture).sentence),
        Told("Masses", _masses(composition.value_masses(picture, MOST_MASSES))),
        Told("Balance", composition.balance(picture).sentence),
        Told("Horizon", horizon.horizon(picture).sentence),
        Told("Lines", lines.dominant_lines(picture).sentence),
        Told("Vanishing points", lines.vanishing_points(picture).sentence),
    ]
    aspect = picture.shape[1] / picture.shape[0]
    for name, region in (figures or {}).items():
        told.append(Told(f"Figure {name}".rstrip(), _placed(composition.placement(region, aspect))))
    main = colour.palette(picture, PALETTE_COLOURS)
    shown = {
        "Three values": (three.picture, three.sentence),
        "Five values": (five.picture, five.sentence),
        "Its main colours": (places.painted(picture, main.lab), "Every spot in the nearest of them."),
    }
    return Studied(tuple(told), _colours(picture, main), shown)


def _colours(picture: NDArray[np.uint8], main: Palette) -> tuple[ColourTold, ...]:
    from refarchive.looks import colour, places

    return tuple(
        ColourTold(colour.lab_to_hex(lab), (float(lab[0]), float(lab[1]), float(lab[2])), place.share, place.words)
        for lab, place in zip(main.lab, places.places(picture, main.lab), strict=True)
    )


def _masses(masses: tuple[Mass, ...]) -> str:
    from refarchive.looks.studies import place

    if not masses:
        return "Cannot tell: no area of one value is large enough to be a mass."
    said = "; ".join(f"{SAID[mass.value]} {100 * mass.share:.0f} %, {place(mass.centre_xy)}" for mass in masses)
    return f"The largest of the three-value study, by the middle of each: {said}."


def _placed(placed: Placement) -> str:
    x, y = placed.centre_xy
    return (
        f"{100 * placed.height:.0f} % of the height and {100 * placed.area:.1f} % of the area, with"
        f" {100 * placed.headroom:.0f} % of the height above it; its middle {100 * x:.0f} % from the left and"
        f" {100 * y:.0f} % from the top, {100 * placed.from_third_line:.0f} % off the nearer upright third."
    )
