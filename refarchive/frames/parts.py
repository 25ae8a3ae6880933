"""A part of a frame held against a part of a reference: a sleeve against a sleeve, a face's light against a face's.

The targets of an intent are for whole frames and mean nothing here; its tolerances are the person's, and stand. Both
parts are measured alike, and what the reference's medium forbids is not compared.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotMeasure
from refarchive.frames.lines import Line, figure, joined, verdict_word
from refarchive.frames.marked import DEGREES
from refarchive.frames.references import Looked

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from refarchive.records.model import Intent

SWATCH_TOLERANCE = 5.0  # ΔE00: clearly another colour beside each other beyond that (ours)
WHOLE = (0.0, 0.0, 1.0, 1.0)


def part_lines(part: NDArray[np.uint8], other: Looked, intent: Intent) -> list[Line]:
    """The lines of a part (H, W, 3) of a frame against the picture of `other`: swatch, key, contrast, warmth, light.

    Nothing comes back where `other` could not be measured at all; its other lines say why.
    """
    if other.look.picture is None or other.problem:
        return []
    return [
        _swatch(part, other),
        *_tone(part, other, intent),
        _warmth(part, other, intent),
        _light(part, other, intent),
    ]


def _line(
    other: Looked,
    measure: str,
    target: Any,
    found: Any,
    difference: float | None,
    tolerance: float,
    unit: str,
    note: str,
) -> Line:
    return Line(
        measure=measure,
        against=other.look.reference.id,
        target=target,
        frame=found,
        difference=difference,
        tolerance=figure(tolerance),
        unit=unit,
        verdict=verdict_word(difference, figure(tolerance)),
        note=joined(note, other.caution),
        label=other.look.reference.title,
    )


def _swatch(part: NDArray[np.uint8], other: Looked) -> Line:
    from refarchive.looks import colour
    from refarchive.looks.munsell import notation

    assert other.look.picture is not None
    try:
        own, theirs = (colour.region_swatch(picture, WHOLE) for picture in (part, other.look.picture))
    except CannotMeasure as error:
        return _line(other, "swatch", None, None, None, SWATCH_TOLERANCE, "ΔE00", str(error))
    shown = [{"hex": own.hex, "share": 1.0}]
    if other.no_colour:
        note = joined("Its colour is not compared.", other.no_colour)
        return _line(other, "swatch", None, shown, None, SWATCH_TOLERANCE, "ΔE00", note)
    difference = figure(float(colour.delta_e_2000(own.lab, theirs.lab)))
    names = f"The frame's: {notation(own.lab).sentence} The reference's: {notation(theirs.lab).sentence}"
    note = (
        "Median colours of both, as one holds two swatches beside each other; four fifths of the pixels lie within"
        f" {own.spread:.1f} and {theirs.spread:.1f} ΔE00 of them. Light and white balance of both pictures count."
    )
    target = [{"hex": theirs.hex, "share": 1.0}]
    return _line(other, "swatch", target, shown, difference, SWATCH_TOLERANCE, "ΔE00", joined(note, names))


def _tone(part: NDArray[np.uint8], other: Looked, intent: Intent) -> list[Line]:
    from refarchive.looks.tone import tone_summary

    assert other.look.picture is not None
    own, theirs = tone_summary(part), tone_summary(other.look.picture)
    lines = []
    for measure, found, target, tolerance in (
        ("key", own.median, theirs.median, intent.key_tolerance),
        ("contrast", own.spread, theirs.spread, intent.contrast_tolerance),
    ):
        if other.no_values:
            note = joined("Its values are not compared.", other.no_values)
            lines.append(_line(other, measure, None, figure(found), None, tolerance, "L*", note))
            continue
        difference = figure(figure(found) - figure(target))
        note = "Of both parts alike; how each was exposed and printed counts."
        lines.append(_line(other, measure, figure(target), figure(found), difference, tolerance, "L*", note))
    return lines


def _warmth(part: NDArray[np.uint8], other: Looked, intent: Intent) -> Line:
    from refarchive.looks.warmth import mired_shift, warmth

    assert other.look.picture is not None
    own, theirs = warmth(part), warmth(other.look.picture)
    found = None if own.cct_k is None else figure(own.cct_k)
    tolerance = intent.warmth_tolerance_mired
    if other.no_colour:
        note = joined("Its colour is not compared.", other.no_colour)
        return _line(other, "warmth", None, found, None, tolerance, "mired", note)
    difference = None
    if own.cct_k is not None and theirs.cct_k is not None:
        difference = figure(mired_shift(theirs.cct_k, own.cct_k))
    note = f"The frame's: {own.sentence} The reference's: {theirs.sentence} As developed and scanned, not as lit."
    target = None if theirs.cct_k is None else figure(theirs.cct_k)
    return _line(other, "warmth", target, found, difference, tolerance, "mired", note)


def _light(part: NDArray[np.uint8], other: Looked, intent: Intent) -> Line:
    from refarchive.looks import colour
    from refarchive.looks.light import angle_between, ellipse, light_direction

    assert other.look.picture is not None
    try:
        own, theirs = (
            light_direction(colour.linear(picture) @ colour.LUMINANCE, ellipse(picture.shape[:2]))
            for picture in (part, other.look.picture)
        )
    except CannotMeasure as error:
        return _line(other, "light", None, None, None, intent.light_tolerance_deg, DEGREES, str(error))
    difference = None
    if own.tilt_deg is not None and theirs.tilt_deg is not None:
        difference = figure(angle_between(own.tilt_deg, theirs.tilt_deg))
    note = (
        f"Read as rounded things that fill both parts. The frame's: {own.sentence} The reference's: {theirs.sentence}"
    )
    target, found = (None if one.tilt_deg is None else figure(one.tilt_deg) for one in (theirs, own))
    return _line(other, "light", target, found, difference, intent.light_tolerance_deg, DEGREES, note)
