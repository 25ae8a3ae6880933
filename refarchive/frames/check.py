"""A frame measured against what was intended for it, what its scene needs, and the references of the scene.

Every measure gives a line, and every line ends in one of four words; there is no overall score, and no line says that a
frame is right. Lines against the intent come first, then the needs, then the references in the order handed in.

The four words:

* *within*, *outside*: the difference lies inside or outside the tolerance of the line.
* *cannot tell*: nothing trustworthy was measured; the note says why, and what would change it.
* *departure intended*: the person has noted that the frame departs here on purpose. Figures stay as measured. A note on
  a measure turns every line of that measure against the intent, and those lines against references that were outside;
  a note on a need turns that need's line.

Tolerances against references. Where the intent names a reference in `like`, its likeness must reach the intent's
percentile. Nothing else was asked of references, so the remaining lines are held against marks that come from the
material itself: the distance of palette or values is within if it is no more than the references of the scene usually
lie from each other (median over all pairs of those that can be compared; the intent's own tolerance where fewer than
three can), and likeness is within if it reaches the middle of the archive. Notes say so line by line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from itertools import combinations
from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotMeasure
from refarchive.records.model import PRESENCE, FrameNote, Intent, Need, Reference, Witness

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from refarchive.looks.colour import Palette

WITHIN, OUTSIDE, CANNOT_TELL, DEPARTURE = "within", "outside", "cannot tell", "departure intended"
VERDICTS = (WITHIN, OUTSIDE, CANNOT_TELL, DEPARTURE)
MEASURES = ("palette", "key", "contrast", "light", "need", "values", "likeness")
INTENT = "intent"

LEAST_POPULATION = 20  # likeness values below which no percentile is given
LEAST_REFERENCES = 3  # comparable references below which their spread says nothing
MIDDLE = 50.0  # percentile asked of references that the intent does not name
PALETTE_COLOURS = 8
LEAST_CHROMA = 5.0  # 95th percentile of C*ab below which a picture is taken as monochrome (common practice, no source)

# Emulsions that registered green and yellow came on sale in 1882–83; before, plates saw mainly blue and violet.
ORTHOCHROMATIC_FROM = date(1883, 1, 1).toordinal() + 1_721_425  # Julian day number

_PHOTOGRAPH = re.compile(
    r"photo|fotogr|daguerr?eotyp|ambrotyp|tintyp|ferrotyp|calotyp|talbotyp|cyanotyp|platinotyp|autochrom|albumen print"
    r"|salt(ed)?[ -](paper )?print|collodion|carte[ -]de[ -]visite|cabinet card|stereo(graph|view|card)|glass negative"
    r"|gelatin[ -]silver|lantern slide|silver print",
    re.IGNORECASE,
)
_MONOCHROME = re.compile(
    r"engrav|etching|etched|woodcut|mezzotint|aquatint|lithograph|drypoint|line block|half-?tone|drawing|pencil"
    r"|graphite|charcoal|silverpoint|pen and ink|ink wash|ink on|chalk|grisaille|monochrome|black[ -]and[ -]white"
    r"|sepia",
    re.IGNORECASE,
)
_COLOURED = re.compile(r"colou?r|chromo|tinted|pastel|gouache|in oils?\b|oil on|tempera|autochrom", re.IGNORECASE)
_UNCOLOURED = re.compile(r"(un|not |without |no )colou?r\w*", re.IGNORECASE)


@dataclass(frozen=True)
class Line:
    """One thing measured.

    measure: one of `MEASURES`; a need's line says which need in `label`. against: "intent", or a reference id.
    target, frame: what was to be and what is, as numbers, words, or lists of `{"hex", "share"}`; None where there is
    none. difference: frame minus target for key and contrast, a distance for palette and values, what is missing to the
    target for likeness (0 where reached, else below 0). tolerance: how far the difference may lie from 0.
    note: how it was measured, how far to trust it, what would change it. label: the reference's title, the need's name.
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

    def as_dict(self) -> dict[str, Any]:
        """The line as a document that JSON can hold, with exactly these keys."""
        return asdict(self)


@dataclass(frozen=True, eq=False)
class ReferenceLook:
    """A reference of the scene as the archive hands it in.

    picture: upright sRGB uint8 (H, W, 3), None where the reference has none. likeness: of the frame to this reference,
    by the archive's encoder, None where not encoded. population: the likeness to the frame of everything in the
    archive, this reference included.
    """

    reference: Reference
    picture: NDArray[np.uint8] | None
    likeness: float | None
    population: ArrayLike


def check_frame(
    *,
    frame_picture: NDArray[np.uint8],
    intent: Intent,
    needs: Sequence[Need],
    notes: Sequence[FrameNote],
    references: Sequence[ReferenceLook],
) -> tuple[Line, ...]:
    """Measure a frame; see the module's text for what the lines say and how their words are found.

    Parameters
    ----------
    frame_picture
        Upright sRGB, uint8 of shape (H, W, 3).
    notes
        What the person says of this frame; of several words on the presence of a need the last one counts.
    intent, needs, references
        As the scene plans them and the archive hands them in; each may be empty.

    Raises
    ------
    CannotMeasure
        where the frame is not a picture, or the intent's palette holds no usable colours. A reference whose picture
        cannot be measured does not stop the check: its lines say so.
    """
    from refarchive.looks import colour, tone

    frame = colour.check_picture(frame_picture)
    said = _said(notes)
    own_palette = colour.palette(frame, PALETTE_COLOURS)
    own_tone = tone.tone_summary(frame)
    lines = [
        *_against_intent(intent, own_palette, own_tone),
        *(_need_line(need, said.get(f"need:{need.slug}", [])) for need in needs),
    ]
    looked = [_Looked.at(look) for look in references]
    palette_mark = _spread(
        [entry.palette for entry in looked if entry.palette is not None and not entry.no_colour],
        colour.palette_distance,
    )
    values_mark = _spread(
        [entry.lightness for entry in looked if entry.lightness is not None and not entry.no_values],
        tone.distribution_distance,
    )
    own_lightness = tone.viewed_lightness(frame)
    for entry in looked:
        if entry.problem:
            lines.append(_without_picture(entry, intent))
            continue
        lines.append(_reference_palette(entry, own_palette, palette_mark, intent))
        lines.append(_reference_values(entry, own_lightness, values_mark, intent))
        lines.append(_reference_likeness(entry, intent))
    here = {look.reference.id for look in references}
    lines.extend(
        Line(
            measure="likeness",
            against=wanted,
            target=_figure(intent.likeness_percentile),
            frame=None,
            difference=None,
            tolerance=None,
            unit=_PERCENTILE,
            verdict=CANNOT_TELL,
            note="The intent names this reference, but it was not among the references compared. Gather it, or correct "
            "the plan.",
        )
        for wanted in dict.fromkeys(intent.like)
        if wanted not in here
    )
    return tuple(_departed(line, said) for line in lines)


# What the person says ------------------------------------------------------------------------------------------------


def _said(notes: Sequence[FrameNote]) -> dict[str, list[FrameNote]]:
    found: dict[str, list[FrameNote]] = {}
    for note in notes:
        found.setdefault(note.subject.strip(), []).append(note)
    return found


def _departure(notes: Sequence[FrameNote]) -> FrameNote | None:
    """The last note of a subject that says the departure is intended."""
    return next((note for note in reversed(notes) if note.says.strip().lower() == DEPARTURE), None)


def _departed(line: Line, said: Mapping[str, list[FrameNote]]) -> Line:
    """The line with an intended departure taken into account; needs have theirs already."""
    note = _departure(said.get(f"measure:{line.measure}", []))
    if note is None or line.measure == "need" or not (line.against == INTENT or line.verdict == OUTSIDE):
        return line
    word = f"The person notes an intended departure{_because(note)} By the figures alone: {line.verdict}."
    return replace(line, verdict=DEPARTURE, note=_joined(word, line.note))


def _because(note: FrameNote) -> str:
    return f": {note.note.strip().rstrip('.')}." if note.note.strip() else "."


def _need_line(need: Need, notes: Sequence[FrameNote]) -> Line:
    departure = _departure(notes)
    presence = next((note for note in reversed(notes) if note.says.strip().lower() in PRESENCE), None)
    word = presence.says.strip().lower() if presence else None
    verdict, note = {
        "present": (WITHIN, ""),
        "absent": (OUTSIDE, "Note a departure if it is left out on purpose."),
        "hidden": (CANNOT_TELL, "Hidden does not mean absent."),
        None: (CANNOT_TELL, "Nobody has said yet whether it is present, absent or hidden."),
    }[word]
    if presence is not None:
        note = _joined(presence.note.strip(), note if departure is None else "")
    if departure is not None:
        verdict = DEPARTURE
        note = _joined(f"The person notes an intended departure{_because(departure)}", note if presence else "")
    return Line(
        measure="need",
        against=INTENT,
        target="present",
        frame=word or ("departed" if departure else None),
        difference=None,
        tolerance=None,
        unit="as the person says",
        verdict=verdict,
        note=note,
        label=need.name or need.slug,
    )


# Against the intent --------------------------------------------------------------------------------------------------

_PALETTE_HOW = (
    f"Earth mover's distance with CIEDE2000 as ground distance, over {PALETTE_COLOURS} colours found by k-means in CIE "
    "Lab (D50); where the colours stand in the picture plays no part."
)
_VALUES_HOW = "CIE L* (D50) after area averaging in linear light to one viewing scale."
_PERCENTILE = "percentile within this archive"


def _figure(value: float) -> float:
    return round(float(value), 3) + 0.0  # + 0.0: no negative zero


def _word(difference: float, tolerance: float) -> str:
    return WITHIN if abs(difference) <= tolerance else OUTSIDE


def _joined(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def _shown(palette: Palette) -> list[dict[str, Any]]:
    return [{"hex": hexed, "share": _figure(share)} for hexed, share in zip(palette.hexes, palette.shares, strict=True)]


def _against_intent(intent: Intent, own: Palette, tone: Any) -> list[Line]:
    from refarchive.looks import colour
    from refarchive.looks.tone import key_word

    lines: list[Line] = []
    if intent.palette:
        lab = [colour.hex_to_lab(entry.hex) for entry in intent.palette]
        shares = [entry.share for entry in intent.palette]
        difference = _figure(colour.palette_distance(own, (lab, shares)))
        whole = sum(shares)
        lines.append(
            Line(
                measure="palette",
                against=INTENT,
                target=[{"hex": entry.hex, "share": _figure(entry.share)} for entry in intent.palette],
                frame=_shown(own),
                difference=difference,
                tolerance=_figure(intent.palette_tolerance),
                unit="ΔE00",
                verdict=_word(difference, _figure(intent.palette_tolerance)),
                note=_joined(
                    _PALETTE_HOW,
                    ""
                    if abs(whole - 1) < 0.01
                    else f"The intended shares sum to {whole:.2f} and were taken as parts of 1.",
                    "A few intended colours are never met exactly: the frame's light and dark sides count as well.",
                ),
            )
        )
    for measure, target, tolerance, found, how in (
        ("key", intent.key, intent.key_tolerance, tone.median, f"Median L*; {key_word(min(100.0, tone.median))}."),
        (
            "contrast",
            intent.contrast,
            intent.contrast_tolerance,
            tone.spread,
            "L* of the 95th less the 5th percentile.",
        ),
    ):
        if target is None:
            continue
        difference = _figure(_figure(found) - target)
        lines.append(
            Line(
                measure=measure,
                against=INTENT,
                target=_figure(target),
                frame=_figure(found),
                difference=difference,
                tolerance=_figure(tolerance),
                unit="L*",
                verdict=_word(difference, _figure(tolerance)),
                note=_joined(how, _VALUES_HOW, "It depends on how the file was developed."),
            )
        )
    if intent.light_from or intent.light_tilt_deg is not None:
        tilt = intent.light_tilt_deg
        lines.append(
            Line(
                measure="light",
                against=INTENT,
                target=intent.light_from if tilt is None else _figure(tilt),
                frame=None,
                difference=None,
                tolerance=None if tilt is None else _figure(intent.light_tolerance_deg),
                unit="words" if tilt is None else "degrees in the picture plane, 0 from the right, 90 from above",
                verdict=CANNOT_TELL,
                note="This version does not measure where the light comes from. Look at shadow edges and at the lit "
                "side of a face or a sphere-like thing.",
                label="" if tilt is None else intent.light_from,
            )
        )
    return lines


# Against references --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Looked:
    """A reference, what was measured on it, and what must not be compared, each with its reason."""

    look: ReferenceLook
    palette: Palette | None = None
    lightness: Any = None
    problem: str = ""
    no_colour: str = ""
    no_values: str = ""
    caution: str = ""

    @classmethod
    def at(cls, look: ReferenceLook) -> _Looked:
        from refarchive.looks import colour, tone

        if look.picture is None:
            return cls(
                look, problem="This reference has no picture, so that nothing of a frame can be measured against it."
            )
        try:
            palette = colour.palette(look.picture, PALETTE_COLOURS)
            lightness = tone.viewed_lightness(look.picture)
            chroma = _chroma(look.picture)
        except CannotMeasure as error:
            return cls(look, problem=f"Its picture could not be measured. {error}")
        early = _early_photograph(look.reference)
        return cls(
            look,
            palette,
            lightness,
            no_colour=early or _monochrome(look.reference, chroma),
            no_values=early,
            caution=_caution(look.reference),
        )


def _chroma(picture: NDArray[np.uint8]) -> float:
    """95th percentile of chroma C*ab at the palette's scale."""
    import numpy as np

    from refarchive.looks import colour

    lab = colour.linear_to_lab(colour.reduced(picture))
    return float(np.percentile(np.hypot(lab[..., 1], lab[..., 2]), 95.0))


def _early_photograph(reference: Reference) -> str:
    """Why a photograph's colours and values must not be compared, "" where they may be."""
    if reference.witness is not Witness.PHOTOGRAPH and not _PHOTOGRAPH.search(reference.medium):
        return ""
    reason = (
        "Plates before orthochromatic emulsions, sold from 1882–83, registered mainly blue and violet: blues went "
        "pale, yellows and reds dark."
    )
    earliest = reference.when.earliest if reference.when else None
    latest = reference.when.latest if reference.when else None
    if latest is not None and latest < ORTHOCHROMATIC_FROM:
        return f"A photograph from before 1883. {reason}"
    if earliest is None or earliest < ORTHOCHROMATIC_FROM:
        return f"A photograph that may be from before 1883. {reason} A closer date would change this."
    return ""


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


def _spread(looks: Sequence[Any], distance: Callable[[Any, Any], float]) -> float | None:
    """How far the references usually lie from each other: the median over all pairs; None where too few."""
    if len(looks) < LEAST_REFERENCES:
        return None
    import numpy as np

    return float(np.median([distance(one, other) for one, other in combinations(looks, 2)]))


def _mark(spread: float | None, fallback: float, of_what: str) -> tuple[float, str]:
    """The tolerance of a comparison that nobody set one for, and the sentence that says where it is from."""
    if spread is None:
        return _figure(fallback), (
            f"No tolerance was set for references; that of the intent's {of_what} was taken, as fewer than "
            f"{LEAST_REFERENCES} references can be compared with each other."
        )
    return _figure(spread), (
        "No tolerance was set for references; the mark is how far these references usually lie from each other (median "
        "over all pairs)."
    )


def _without_picture(entry: _Looked, intent: Intent) -> Line:
    named = entry.look.reference.id in intent.like
    return Line(
        measure="likeness",
        against=entry.look.reference.id,
        target=_figure(intent.likeness_percentile) if named else None,
        frame=None,
        difference=None,
        tolerance=None,
        unit=_PERCENTILE,
        verdict=CANNOT_TELL,
        note=entry.problem,
        label=entry.look.reference.title,
    )


def _reference_palette(entry: _Looked, own: Palette, spread: float | None, intent: Intent) -> Line:
    from refarchive.looks import colour

    reference = entry.look.reference
    if entry.no_colour or entry.palette is None:
        return Line(
            "palette", reference.id, None, _shown(own), None, None, "ΔE00", CANNOT_TELL,
            _joined("Its colour is not compared.", entry.no_colour, entry.caution), reference.title,
        )  # fmt: skip
    difference = _figure(colour.palette_distance(own, entry.palette))
    tolerance, mark = _mark(spread, intent.palette_tolerance, "palette")
    return Line(
        measure="palette",
        against=reference.id,
        target=_shown(entry.palette),
        frame=_shown(own),
        difference=difference,
        tolerance=tolerance,
        unit="ΔE00",
        verdict=_word(difference, tolerance),
        note=_joined(_PALETTE_HOW, mark, entry.caution, "Unmanaged scans and aged pigments shift it."),
        label=reference.title,
    )


def _percentiles(lightness: Any) -> dict[str, float]:
    import numpy as np

    p5, median, p95 = np.percentile(lightness, [5.0, 50.0, 95.0])
    return {"p5": _figure(p5), "median": _figure(median), "p95": _figure(p95)}


def _reference_values(entry: _Looked, own: Any, spread: float | None, intent: Intent) -> Line:
    from refarchive.looks import tone

    reference = entry.look.reference
    if entry.no_values or entry.lightness is None:
        return Line(
            "values", reference.id, None, _percentiles(own), None, None, "L*", CANNOT_TELL,
            _joined("Its values are not compared.", entry.no_values, entry.caution), reference.title,
        )  # fmt: skip
    difference = _figure(tone.distribution_distance(own, entry.lightness))
    tolerance, mark = _mark(spread, intent.key_tolerance, "key")
    return Line(
        measure="values",
        against=reference.id,
        target=_percentiles(entry.lightness),
        frame=_percentiles(own),
        difference=difference,
        tolerance=tolerance,
        unit="L*",
        verdict=_word(difference, tolerance),
        note=_joined(
            "Earth mover's distance of the distributions of L*.", _VALUES_HOW, mark, entry.caution,
            "Fading, varnish and the paper's tone count as values here.",
        ),
        label=reference.title,
    )  # fmt: skip


def _reference_likeness(entry: _Looked, intent: Intent) -> Line:
    import numpy as np

    from refarchive.looks.alike import percentile_within

    reference = entry.look.reference
    named = reference.id in intent.like
    target = _figure(intent.likeness_percentile if named else MIDDLE)
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
            "likeness", reference.id, target if named else None, None, None, None, _PERCENTILE, CANNOT_TELL,
            _joined(why, entry.caution), reference.title,
        )  # fmt: skip
    percentile = _figure(percentile_within(likeness, population))
    difference = _figure(min(0.0, percentile - target))
    return Line(
        measure="likeness",
        against=reference.id,
        target=target,
        frame=percentile,
        difference=difference,
        tolerance=0.0,
        unit=_PERCENTILE,
        verdict=_word(difference, 0.0),
        note=_joined(
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
