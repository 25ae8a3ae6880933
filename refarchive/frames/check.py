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
percentile, and its layout of light and dark the intent's least likeness where one is given. Nothing else was asked of
references, so the remaining lines are held against marks that come from the
material itself: the distance of palette or values is within if it is no more than the references of the scene usually
lie from each other (median over all pairs of those that can be compared; the intent's own tolerance where fewer than
three can), and likeness is within if it reaches the middle of the archive. Notes say so line by line.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from refarchive.frames.intent import against_intent, horizon_line, warmth_line
from refarchive.frames.lines import (
    CANNOT_TELL,
    DEPARTURE,
    INTENT,
    MEASURES,
    OUTSIDE,
    PALETTE_COLOURS,
    PERCENTILE,
    VERDICTS,
    WITHIN,
    Line,
    figure,
)
from refarchive.frames.marked import Marked
from refarchive.frames.marked import lines as marked_lines
from refarchive.frames.references import (
    LEAST_POPULATION,
    LEAST_REFERENCES,
    Looked,
    ReferenceLook,
    reference_layout,
    reference_likeness,
    reference_palette,
    reference_values,
    spread_of,
    without_picture,
)
from refarchive.frames.remedies import with_remedies
from refarchive.frames.said import departed, need_line, said_of
from refarchive.records.model import FrameNote, Intent, Need

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "CANNOT_TELL", "DEPARTURE", "INTENT", "LEAST_POPULATION", "LEAST_REFERENCES", "MEASURES",
    "OUTSIDE", "VERDICTS", "WITHIN", "Line", "Looked", "ReferenceLook", "check_frame",
]  # fmt: skip


def check_frame(
    *,
    frame_picture: NDArray[np.uint8],
    intent: Intent,
    needs: Sequence[Need],
    notes: Sequence[FrameNote],
    references: Sequence[ReferenceLook],
    marked: Marked | None = None,
) -> tuple[Line, ...]:
    """Measure a frame; see the module's text for what the lines say and how their words are found.

    Lines against the intent that are outside say what would bring them within, where a change of the file could.

    Parameters
    ----------
    frame_picture
        Upright sRGB, uint8 of shape (H, W, 3).
    notes
        What the person says of this frame; of several words on the presence of a need the last one counts.
    intent, needs, references
        As the scene plans them and the archive hands them in; each may be empty.
    marked
        What the person marked to have it measured, None for nothing.

    Raises
    ------
    CannotMeasure
        where the frame is not a picture, or the intent's palette holds no usable colours. A reference whose picture
        cannot be measured does not stop the check: its lines say so.
    """
    import numpy as np

    from refarchive.looks import colour, plates, tone

    frame = colour.check_picture(frame_picture)
    said = said_of(notes)
    own_palette = colour.palette(frame, PALETTE_COLOURS)
    own_tone = tone.tone_summary(frame)
    lines = [
        *with_remedies(
            [*against_intent(intent, own_palette, own_tone), *warmth_line(intent, frame), *horizon_line(intent, frame)],
            frame,
            intent,
        ),
        *marked_lines(intent, marked),
        *(need_line(need, said.get(f"need:{need.slug}", [])) for need in needs),
    ]
    looked = [Looked.at(look) for look in references]
    palette_mark = spread_of(
        [entry.palette for entry in looked if entry.palette is not None and not entry.no_colour],
        colour.palette_distance,
    )
    values_mark = spread_of(
        [entry.lightness for entry in looked if entry.lightness is not None and not entry.no_values],
        tone.distribution_distance,
    )
    own_lightness = np.sort(tone.viewed_lightness(frame).ravel())
    frame_as_plate = as_plate = None
    if any(entry.surely_early for entry in looked):
        frame_as_plate = plates.as_plate(frame, "blue-sensitive")
        as_plate = tone.viewed_lightness(frame_as_plate)
    for entry in looked:
        if entry.problem:
            lines.append(without_picture(entry, intent))
            continue
        lines.append(reference_palette(entry, own_palette, palette_mark, intent))
        lines.append(reference_values(entry, own_lightness, values_mark, intent, as_plate))
        if entry.look.whole:
            lines.append(reference_layout(entry, frame, frame_as_plate, intent))
        lines.append(reference_likeness(entry, intent))
    here = {look.reference.id for look in references}
    lines.extend(
        Line(
            measure="likeness",
            against=wanted,
            target=figure(intent.likeness_percentile),
            frame=None,
            difference=None,
            tolerance=None,
            unit=PERCENTILE,
            verdict=CANNOT_TELL,
            note="The intent names this reference, but it was not among the references compared. Gather it, or correct "
            "the plan.",
        )
        for wanted in dict.fromkeys(intent.like)
        if wanted not in here
    )
    return tuple(departed(line, said) for line in lines)
