"""A frame's palette, values and likeness held against the references of its scene, as far as their medium allows."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotMeasure
from refarchive.frames.lines import (
    CANNOT_TELL,
    PALETTE_COLOURS,
    PALETTE_HOW,
    PERCENTILE,
    VALUES_HOW,
    Line,
    figure,
    joined,
    shown_palette,
    verdict_word,
)
from refarchive.records.model import Intent, Reference, Witness
from refarchive.scenes.mediums import from_before_dyes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from refarchive.looks.colour import Palette

LEAST_POPULATION = 20  # likeness values below which no percentile is given
LEAST_REFERENCES = 3  # comparable references below which their spread says nothing
MIDDLE = 50.0  # percentile asked of references that the intent does not name
LEAST_CHROMA = 5.0  # 95th percentile of C*ab below which a picture is taken as monochrome (common practice, no source)

_MONOCHROME = re.compile(
    r"engrav|etching|etched|woodcut|mezzotint|aquatint|lithograph|drypoint|line block|half-?tone|drawing|pencil"
    r"|graphite|charcoal|silverpoint|pen and ink|ink wash|ink on|chalk|grisaille|monochrome|black[ -]and[ -]white"
    r"|sepia",
    re.IGNORECASE,
)
_COLOURED = re.compile(r"colou?r|chromo|tinted|pastel|gouache|in oils?\b|oil on|tempera|autochrom", re.IGNORECASE)
_UNCOLOURED = re.compile(r"(un|not |without |no )colou?r\w*", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class ReferenceLook:
    """A reference of the scene as the archive hands it in.

    picture: upright sRGB uint8 (H, W, 3), None where the reference has none. likeness: of the frame to this reference,
    by the archive's encoder, None where not encoded. population: the likeness to the frame of everything in the
    archive, this reference included. whole: held against the frame as a picture too, in how its light and dark lie.
    """

    reference: Reference
    picture: NDArray[np.uint8] | None
    likeness: float | None
    population: ArrayLike
    whole: bool = False


@dataclass(frozen=True, eq=False)
class Looked:
    """A reference, what was measured on it, and what must not be compared, each with its reason."""

    look: ReferenceLook
    palette: Palette | None = None
    lightness: Any = None
    problem: str = ""
    no_colour: str = ""
    no_values: str = ""
    surely_early: bool = False  # a photograph of which every possible day lies before dyes
    caution: str = ""

    @classmethod
    def at(cls, look: ReferenceLook) -> Looked:
        import numpy as np

        from refarchive.looks import colour, tone

        if look.picture is None:
            return cls(
                look, problem="This reference has no picture, so that nothing of a frame can be measured against it."
            )
        try:
            small, viewed = colour.reductions(look.picture, (colour.PALETTE_PIXELS, tone.TONE_PIXELS))
            palette = colour.palette_of(small, PALETTE_COLOURS)
            lightness = np.sort(tone.luminance_to_lightness(viewed @ colour.LUMINANCE).ravel())
            chroma = _chroma(small)
        except CannotMeasure as error:
            return cls(look, problem=f"Its picture could not be measured. {error}")
        early = _early_photograph(look.reference)
        return cls(
            look,
            palette,
            lightness,
            no_colour=early or _monochrome(look.reference, chroma),
            no_values=early,
            surely_early=from_before_dyes(look.reference) is True,
            caution=_caution(look.reference),
        )


def _chroma(light: NDArray[np.float64]) -> float:
    """95th percentile of chroma C*ab at the palette's scale."""
    import numpy as np

    from refarchive.looks import colour

    lab = colour.linear_to_lab(light)
    return float(np.percentile(np.hypot(lab[..., 1], lab[..., 2]), 95.0))


def _early_photograph(reference: Reference) -> str:
    """Why a photograph's colours and values must not be compared, "" where they may be."""
    early = from_before_dyes(reference)
    if early is False:
        return ""
    reason = (
        "Plates before orthochromatic emulsions, sold from 1882–83, registered mainly blue and violet: blues went "
        "pale, yellows and reds dark."
    )
    if early:
        return f"A photograph from before 1883. {reason}"
    return f"A photograph that may be from before 1883. {reason} A closer date would change this."


def _monochrome(reference: Reference, chroma: float) -> str:
    """Why a picture's colours must not be compared, "" where they may be."""
    words = _UNCOLOURED.sub("", reference.medium)
    on_paper = reference.witness is not Witness.OBJECT  # an engraved buckle is no engraving
    if on_paper and _MONOCHROME.search(words) and not _COLOURED.search(words):
        return "Its medium is monochrome: the colour on it is that of paper, ink and age."
    if chroma < LEAST_CHROMA:
        return f"It is monochrome as measured (95 % of it has a chroma below {LEAST_CHROMA:g})."
    return ""


def _caution(reference: Reference) -> str:
    """How far the look of a reference can be trusted, by what kind of witness it is."""
    return {
        Witness.LATER: "A later reconstruction: it shows what a later maker imagined, not what was seen.",
        Witness.SECOND_HAND: "A second-hand image: its look may be that of the copyist.",
        Witness.COMMERCIAL: "A commercial or prescriptive image: it idealises.",
        Witness.OBJECT: "A picture of an object: its background is measured along with it.",
        Witness.HANDMADE: "A hand-made image: varnish, fading and flattery are measured along with it.",
    }.get(reference.witness, "")


def spread_of(looks: Sequence[Any], distance: Callable[[Any, Any], float]) -> float | None:
    """How far the references usually lie from each other: the median over all pairs; None where too few."""
    if len(looks) < LEAST_REFERENCES:
        return None
    import numpy as np

    return float(np.median([distance(one, other) for one, other in combinations(looks, 2)]))


def _mark(spread: float | None, fallback: float, of_what: str) -> tuple[float, str]:
    """The tolerance of a comparison that nobody set one for, and the sentence that says where it is from."""
    if spread is None:
        return figure(fallback), (
            f"No tolerance was set for references; that of the intent's {of_what} was taken, as fewer than "
            f"{LEAST_REFERENCES} references can be compared with each other."
        )
    return figure(spread), (
        "No tolerance was set for references; the mark is how far these references usually lie from each other (median "
        "over all pairs)."
    )


def without_picture(entry: Looked, intent: Intent) -> Line:
    named = entry.look.reference.id in intent.like
    return Line(
        measure="likeness",
        against=entry.look.reference.id,
        target=figure(intent.likeness_percentile) if named else None,
        frame=None,
        difference=None,
        tolerance=None,
        unit=PERCENTILE,
        verdict=CANNOT_TELL,
        note=entry.problem,
        label=entry.look.reference.title,
    )


def reference_palette(entry: Looked, own: Palette, spread: float | None, intent: Intent) -> Line:
    from refarchive.looks import colour

    reference = entry.look.reference
    if entry.no_colour or entry.palette is None:
        return Line(
            "palette", reference.id, None, shown_palette(own), None, None, "ΔE00", CANNOT_TELL,
            joined("Its colour is not compared.", entry.no_colour, entry.caution), reference.title,
        )  # fmt: skip
    difference = figure(colour.palette_distance(own, entry.palette))
    tolerance, mark = _mark(spread, intent.palette_tolerance, "palette")
    return Line(
        measure="palette",
        against=reference.id,
        target=shown_palette(entry.palette),
        frame=shown_palette(own),
        difference=difference,
        tolerance=tolerance,
        unit="ΔE00",
        verdict=verdict_word(difference, tolerance),
        note=joined(PALETTE_HOW, mark, entry.caution, "Unmanaged scans and aged pigments shift it."),
        label=reference.title,
    )


def _percentiles(lightness: Any) -> dict[str, float]:
    import numpy as np

    p5, median, p95 = np.percentile(lightness, [5.0, 50.0, 95.0])
    return {"p5": figure(p5), "median": figure(median), "p95": figure(p95)}


def reference_values(entry: Looked, own: Any, spread: float | None, intent: Intent, as_plate: Any = None) -> Line:
    """The values of frame and reference; of an early photograph against the frame as a plate would see it (`as_plate`,
    L* of that), whose distance is given and not judged.
    """
    from refarchive.looks import tone
    from refarchive.looks.plates import ASSUMED

    reference = entry.look.reference
    if entry.no_values and entry.lightness is not None and as_plate is not None and entry.surely_early:
        return Line(
            "values", reference.id, _percentiles(entry.lightness), _percentiles(as_plate),
            figure(tone.distribution_distance(as_plate, entry.lightness)), None, "L*", CANNOT_TELL,
            joined(
                "The frame's own values are not compared.", entry.no_values, ASSUMED["blue-sensitive"],
                "The distance is that of this simulation, and no word hangs on it.", entry.caution,
            ),
            reference.title,
        )  # fmt: skip
    if entry.no_values or entry.lightness is None:
        return Line(
            "values", reference.id, None, _percentiles(own), None, None, "L*", CANNOT_TELL,
            joined("Its values are not compared.", entry.no_values, entry.caution), reference.title,
        )  # fmt: skip
    difference = figure(tone.distribution_distance(own, entry.lightness))
    tolerance, mark = _mark(spread, intent.key_tolerance, "key")
    return Line(
        measure="values",
        against=reference.id,
        target=_percentiles(entry.lightness),
        frame=_percentiles(own),
        difference=difference,
        tolerance=tolerance,
        unit="L*",
        verdict=verdict_word(difference, tolerance),
        note=joined(
            "Earth mover's distance of the distributions of L*.", VALUES_HOW, mark, entry.caution,
            "Fading, varnish and the paper's tone count as values here.",
        ),
        label=reference.title,
    )  # fmt: skip


def reference_layout(entry: Looked, frame: Any, as_plate: Any, intent: Intent) -> Line:
    """How the light and dark of both lie; beside an early photograph the frame as a plate would see it."""
    from refarchive.looks.composition import layout_likeness
    from refarchive.looks.plates import ASSUMED

    reference = entry.look.reference
    assert entry.look.picture is not None
    simulated = entry.surely_early and as_plate is not None
    unsure = entry.no_values if entry.no_values and not simulated else ""
    found = layout_likeness(as_plate if simulated else frame, entry.look.picture)
    wanted = intent.layout_least if reference.id in intent.like else None
    likeness = None if found.likeness is None or unsure else figure(found.likeness)
    difference = None if likeness is None or wanted is None else figure(min(0.0, likeness - wanted))
    return Line(
        measure="layout",
        against=reference.id,
        target=None if wanted is None else figure(wanted),
        frame=likeness,
        difference=difference,
        tolerance=None if wanted is None else 0.0,
        unit="likeness from −1 to 1",
        verdict=verdict_word(difference, 0.0),
        note=joined(
            "How its light and dark lie is not compared." if unsure else found.sentence,
            unsure,
            ASSUMED["blue-sensitive"] if simulated else "",
            "" if difference is not None or likeness is None else "Measured only: the intent asks for no layout.",
            "Squinted at, in 24 × 16 cells; what is pictured does not come into it.",
            entry.caution,
        ),
        label=reference.title,
    )


def reference_likeness(entry: Looked, intent: Intent) -> Line:
    import numpy as np

    from refarchive.looks.alike import percentile_within

    reference = entry.look.reference
    named = reference.id in intent.like
    target = figure(intent.likeness_percentile if named else MIDDLE)
    population = np.asarray(entry.look.population, dtype=np.float64).ravel()
    population = population[np.isfinite(population)]
    likeness = entry.look.likeness
    why = ""
    if likeness is None or not np.isfinite(likeness):
        why = "The encoder has not seen this reference yet."
    elif population.size < LEAST_POPULATION:
        why = (
            f"This archive holds {population.size} encoded pictures; below {LEAST_POPULATION} a percentile says next "
            "to nothing. Gather more references."
        )
    if why or likeness is None:
        return Line(
            "likeness", reference.id, target if named else None, None, None, None, PERCENTILE, CANNOT_TELL,
            joined(why, entry.caution), reference.title,
        )  # fmt: skip
    percentile = figure(percentile_within(likeness, population))
    difference = figure(min(0.0, percentile - target))
    return Line(
        measure="likeness",
        against=reference.id,
        target=target,
        frame=percentile,
        difference=difference,
        tolerance=0.0,
        unit=PERCENTILE,
        verdict=verdict_word(difference, 0.0),
        note=joined(
            f"How the frame's likeness to this reference stands among its likeness to all {population.size} pictures "
            "of this archive, ties counted half; the difference is what is missing to the target.",
            "The intent asks for this likeness."
            if named
            else "Nobody asked for this likeness: the mark is the middle of the archive.",
            "It is what this archive's encoder sees, and moves as the archive grows.",
            entry.caution,
        ),
        label=reference.title,
    )
