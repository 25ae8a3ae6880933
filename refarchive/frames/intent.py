"""A frame's palette, key, contrast and light held against the intent of its scene."""

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


def against_intent(intent: Intent, own: Palette, tone: Any) -> list[Line]:
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
    return lines
