"""What the person says of a frame: presence of needs, and departures that are intended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from refarchive.frames.lines import CANNOT_TELL, DEPARTURE, INTENT, OUTSIDE, WITHIN, Line, joined
from refarchive.records.model import PRESENCE, FrameNote, Need


def said_of(notes: Sequence[FrameNote]) -> dict[str, list[FrameNote]]:
    """What was said of a frame, by subject, in the order it came."""
    found: dict[str, list[FrameNote]] = {}
    for note in notes:
        found.setdefault(note.subject.strip(), []).append(note)
    return found


def intended_departure(notes: Sequence[FrameNote]) -> FrameNote | None:
    """The last note of a subject that says the departure is intended."""
    return next((note for note in reversed(notes) if note.says.strip().lower() == DEPARTURE), None)


def departed(line: Line, said: Mapping[str, list[FrameNote]]) -> Line:
    """The line with an intended departure taken into account; needs have theirs already."""
    note = intended_departure(said.get(f"measure:{line.measure}", []))
    if note is None or line.measure == "need" or not (line.against == INTENT or line.verdict == OUTSIDE):
        return line
    word = f"The person notes an intended departure{because(note)} By the figures alone: {line.verdict}."
    return replace(line, verdict=DEPARTURE, note=joined(word, line.note))


def because(note: FrameNote) -> str:
    """The person's reason as the end of a sentence, a full stop where none was given."""
    return f": {note.note.strip().rstrip('.')}." if note.note.strip() else "."


def need_line(need: Need, notes: Sequence[FrameNote]) -> Line:
    """A need as a line of a check: present, absent or hidden as the person says last; the machine does not look."""
    departure = intended_departure(notes)
    presence = next((note for note in reversed(notes) if note.says.strip().lower() in PRESENCE), None)
    word = presence.says.strip().lower() if presence else None
    verdict, note = {
        "present": (WITHIN, ""),
        "absent": (OUTSIDE, "Note a departure if it is left out on purpose."),
        "hidden": (CANNOT_TELL, "Hidden does not mean absent."),
        None: (CANNOT_TELL, "Nobody has said yet whether it is present, absent or hidden."),
    }[word]
    if presence is not None:
        note = joined(presence.note.strip(), note if departure is None else "")
    if departure is not None:
        verdict = DEPARTURE
        note = joined(f"The person notes an intended departure{because(departure)}", note if presence else "")
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
