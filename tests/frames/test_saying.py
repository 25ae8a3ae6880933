"""Lines of a check as sentences: which way, how far, and what is allowed."""

from __future__ import annotations

from typing import Any

import pytest

from refarchive.frames.lines import Line


def line(measure: str, difference: float | None, tolerance: float | None = 6.0, **more: Any) -> Line:
    values = {"against": "intent", "target": 20.0, "frame": 1.0, "unit": "L*"} | more
    outside = difference is not None and tolerance is not None and abs(difference) > tolerance
    return Line(
        measure, difference=difference, tolerance=tolerance, verdict="outside" if outside else "within", **values
    )


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (line("key", 29.1), "Lighter than was meant by 29 L*, where 6 L* is allowed."),
        (line("key", -2.04), "Darker than was meant by 2 L*, within the 6 L* allowed."),
        (line("contrast", -12.0, 10.0), "Less contrast than was meant by 12 L*, where 10 L* is allowed."),
        (
            line("palette", 22.2, 10.0),
            "Its colours differ from those that were meant by 22 ΔE00, where 10 ΔE00 is allowed.",
        ),
        (
            line("palette", 3.34, 12.0, against="r1"),
            "Its colours differ from the reference’s by 3.3 ΔE00, within the 12 ΔE00 allowed.",
        ),
        (line("warmth", 31.0, 20.0), "Warmer than was meant by 31 mired, where 20 mired is allowed."),
        (
            line("horizon", 0.05, 0.03),
            "The horizon lies lower than was meant by 5 % of the height, where 3 % of the height is allowed.",
        ),
        (line("light", 25.0, 20.0), "The light comes from another side than was meant, by 25°, where 20° is allowed."),
        (
            line("lit to shadow", 1.0, 0.5),
            "The lit side lies further above the shadow side than was meant, by 1.0 stops, where 0.5 stops is allowed.",
        ),
        (line("blown out", 0.03, 0.0, target=0.005, frame=0.035), "3.5 % of it is blown out, where 0.5 % is allowed."),
        (
            line("blocked up", 0.0, 0.0, target=0.02, frame=0.011),
            "1.1 % of it is blocked up, within 2.0 % that is allowed.",
        ),
        (
            line("likeness", -8.0, 0.0, target=80.0, frame=72.0),
            "Nearer to it than 72 of 100 pictures of this archive, where 80 was asked.",
        ),
        (
            line("likeness", 0.0, 0.0, target=80.0, frame=91.4),
            "Nearer to it than 91 of 100 pictures of this archive, as was asked.",
        ),
        (line("key", None), ""),
        (line("need", 0.0), ""),
    ],
)
def test_a_line_is_told_in_a_sentence(one: Line, words: str) -> None:
    assert one.as_dict()["words"] == words
