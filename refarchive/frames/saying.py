"""A line of a check as one sentence, to be read before its figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from refarchive.frames.lines import Line

MEANT = "intent"
CANNOT_TELL = "cannot tell"


class Measured(Protocol):
    """What a sentence asks of a line."""

    @property
    def measure(self) -> str: ...

    @property
    def against(self) -> str: ...

    @property
    def target(self) -> Any: ...

    @property
    def frame(self) -> Any: ...

    @property
    def difference(self) -> float | None: ...

    @property
    def tolerance(self) -> float | None: ...

    @property
    def verdict(self) -> str: ...


def in_words(line: Measured) -> str:
    """What was found, as a sentence: "Lighter than was meant by 29 L*, where 6 is allowed."

    "" where nothing could be told, and for what is said in words already.
    """
    if line.difference is None or line.verdict == CANNOT_TELL:
        return ""
    meant = line.against == MEANT
    than = "than was meant" if meant else "than the reference"
    of = "those that were meant" if meant else "the reference’s"
    more = line.difference > 0
    apart = _apart(line)
    sentence = {
        "key": f"{'Lighter' if more else 'Darker'} {than} by {apart('L*')}.",
        "contrast": f"{'More' if more else 'Less'} contrast {than} by {apart('L*')}.",
        "palette": f"Its colours differ from {of} by {apart('ΔE00')}.",
        "values": f"Its lights and darks differ from the reference’s by {apart('L*')}.",
        "warmth": f"{'Warmer' if more else 'Cooler'} {than} by {apart('mired')}.",
        "horizon": f"The horizon lies {'lower' if more else 'higher'} {than} by {apart('% of the height', 100)}.",
        "blown out": _clipped(line, "is blown out"),
        "blocked up": _clipped(line, "is blocked up"),
        "light": f"The light comes from another side {than if meant else 'than the reference’s'}, by {apart('°')}.",
        "lit to shadow": f"The lit side lies {'further' if more else 'less far'} above the shadow side {than}, by "
        f"{apart('stops', 1, 1)}.",
        "swatch": f"Its colour differs from the reference’s by {apart('ΔE00')}.",
        "likeness": _likeness(line),
    }
    return sentence.get(line.measure, "")


def for_a_terminal(line: Line) -> str:
    """One line of a check in one line of text: what it is held against, its figures."""
    against = "intent" if line.against == "intent" else line.label or line.against
    name = f"{line.measure} ({line.label})" if line.against == "intent" and line.label else line.measure
    figure = line.frame if isinstance(line.frame, str | int | float) else None
    parts = [f"{name} against {against}"]
    if figure is not None and line.target is not None and isinstance(line.target, str | int | float):
        parts.append(f"frame {figure}, target {line.target}")
    if line.difference is not None:
        parts.append(f"difference {line.difference:g}")
    if line.tolerance is not None:
        parts.append(f"tolerance {line.tolerance:g} {line.unit}")
    return "; ".join(parts)


def _apart(line: Measured) -> Any:
    """The difference in a unit, and how it stands to what is allowed; scaled, with so many decimals."""
    assert line.difference is not None
    within = line.tolerance is not None and abs(line.difference) <= line.tolerance

    def said(unit: str, scale: float = 1.0, decimals: int = 0) -> str:
        def shown(value: float) -> str:
            text = f"{value * scale:.{decimals}f}" if value * scale >= 10 or decimals else f"{value * scale:.1f}"
            return (text if decimals else text.removesuffix(".0")) + ("" if unit == "°" else " ") + unit

        found = shown(abs(line.difference or 0.0))
        if line.tolerance is None:
            return found
        return (
            f"{found}, {'within the' if within else 'where'} {shown(line.tolerance)} {'' if within else 'is '}allowed"
        )

    return said


def _clipped(line: Measured, what: str) -> str:
    if not isinstance(line.frame, int | float) or not isinstance(line.target, int | float):
        return ""
    within = line.verdict != "outside" and line.frame <= line.target
    return f"{100 * line.frame:.1f} % of it {what}, {'within' if within else 'where'} {100 * line.target:.1f} % " + (
        "that is allowed." if within else "is allowed."
    )


def _likeness(line: Measured) -> str:
    if not isinstance(line.frame, int | float):
        return ""
    near = f"Nearer to it than {line.frame:.0f} of 100 pictures of this archive"
    if not isinstance(line.target, int | float):
        return f"{near}."
    reached = line.frame >= line.target
    return f"{near}{', as was asked' if reached else f', where {line.target:.0f} was asked'}."
