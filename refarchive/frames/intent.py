"""A frame's palette, key, contrast, clipped parts and horizon held against the intent of its scene."""

from __future__ import annotations

from typing import Any

from refarchive.frames.lines import (
    INTENT,
    PALETTE_HOW,
    VALUES_HOW,
    Line,
    figure,
    joined,
    shown_palette,
    verdict_word,
)
from refarchive.looks.colour import Palette
from refarchive.records.model import Intent

WARMTH_HOW = (
    "The mean of the picture read as a white light, in kelvin; the difference in mired, above 0 where it is warmer than"
    " meant. It is the warmth of the picture as developed, not of the lamp."
)
HEIGHT = "of the height"
AREA = "of the area"


def against_intent(intent: Intent, own: Palette, tone: Any) -> list[Line]:
    """The lines on palette, key and contrast, and on what is blown out or blocked up, as far as targets are set."""
    from refarchive.looks import colour
    from refarchive.looks.tone import key_word

    lines: list[Line] = []
    if intent.palette:
        lab = [colour.hex_to_lab(entry.hex) for entry in intent.palette]
        shares = [entry.share for entry in intent.palette]
        difference = figure(colour.palette_distance(own, (lab, shares)))
        whole = sum(shares)
        lines.append(
            Line(
                measure="palette",
                against=INTENT,
                target=[{"hex": entry.hex, "share": figure(entry.share)} for entry in intent.palette],
                frame=shown_palette(own),
                difference=difference,
                tolerance=figure(intent.palette_tolerance),
                unit="ΔE00",
                verdict=verdict_word(difference, figure(intent.palette_tolerance)),
                note=joined(
                    PALETTE_HOW,
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
        difference = figure(figure(found) - target)
        lines.append(
            Line(
                measure=measure,
                against=INTENT,
                target=figure(target),
                frame=figure(found),
                difference=difference,
                tolerance=figure(tolerance),
                unit="L*",
                verdict=verdict_word(difference, figure(tolerance)),
                note=joined(how, VALUES_HOW, "It depends on how the file was developed."),
            )
        )
    for measure, most, share, where in (
        ("blown out", intent.blown_most, tone.blown, "all three 8-bit values at least 254"),
        ("blocked up", intent.blocked_most, tone.blocked, "all three 8-bit values at most 1"),
    ):
        if most is not None:
            lines.append(_clipped(measure, most, share, where))
    return lines


def _clipped(measure: str, most: float, share: float, where: str) -> Line:
    difference = figure(max(0.0, figure(share) - most))
    return Line(
        measure=measure,
        against=INTENT,
        target=figure(most),
        frame=figure(share),
        difference=difference,
        tolerance=0.0,
        unit=AREA,
        verdict=verdict_word(difference, 0.0),
        note=f"The target is the most that is allowed. Counted on every pixel: {where}.",
        remedy="Nothing done to this file brings back what is clipped in it; another development of the raw file might."
        if difference
        else "",
    )


def warmth_line(intent: Intent, frame: Any) -> list[Line]:
    """The line on warmth, where the intent gives a temperature: both in kelvin, their difference in mired."""
    if intent.warmth_k is None:
        return []
    from refarchive.looks.warmth import mired_shift, warmth

    found = warmth(frame)
    difference = None if found.cct_k is None else figure(mired_shift(intent.warmth_k, found.cct_k))
    tolerance = figure(intent.warmth_tolerance_mired)
    return [
        Line(
            measure="warmth",
            against=INTENT,
            target=figure(intent.warmth_k),
            frame=None if found.cct_k is None else figure(found.cct_k),
            difference=difference,
            tolerance=tolerance,
            unit="mired",
            verdict=verdict_word(difference, tolerance),
            note=joined(found.sentence, WARMTH_HOW),
        )
    ]


def horizon_line(intent: Intent, frame: Any) -> list[Line]:
    """The line on the horizon, where the intent places it."""
    if intent.horizon is None:
        return []
    from refarchive.looks.horizon import horizon

    found = horizon(frame)
    difference = None if found.row is None else figure(figure(found.row) - intent.horizon)
    tolerance = figure(intent.horizon_tolerance)
    return [
        Line(
            measure="horizon",
            against=INTENT,
            target=figure(intent.horizon),
            frame=None if found.row is None else figure(found.row),
            difference=difference,
            tolerance=tolerance,
            unit=HEIGHT,
            verdict=verdict_word(difference, tolerance),
            note=joined(found.sentence, "From the top, at the middle of the width. A waterline counts too."),
        )
    ]
