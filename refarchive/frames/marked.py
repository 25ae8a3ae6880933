"""What a person marks in a frame to have it measured: a rounded thing for the light, lit and shadow side, an edge.

Nothing here is found by itself. A head, a ball, a fist fills its box as an ellipse; lit and shadow side are of one
surface; an edge is one shadow's edge on one surface. What is not marked gives a line that says what to mark.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from refarchive.errors import BadQuery, CannotMeasure
from refarchive.frames.lines import CANNOT_TELL, INTENT, Line, figure, joined, verdict_word
from refarchive.records.model import Intent, Region

if TYPE_CHECKING:
    from numpy.typing import NDArray

MARKS = ("light", "lit", "shadow", "edge")  # what a region can be marked as, to be measured
FIGURE = "figure"  # or as a figure, "figure" or "figure:NAME", to have its place told
DEGREES = "degrees in the picture plane, 0 from the right, 90 from above"
WHAT_TO_MARK = "Mark one rounded thing of one colour, such as a head or a ball, to have it measured."


@dataclass(frozen=True, eq=False)
class Marked:
    """Regions as a person marked them, and the frame's light to measure them on.

    light: (H, W), scene-linear, or sRGB with its curve undone. scene_linear: which of both.
    """

    regions: Mapping[str, Region]
    light: NDArray[Any]
    scene_linear: bool = False

    @property
    def figures(self) -> dict[str, Region]:
        """Regions marked as figures, by the name they were given."""
        named = ((name.partition(":"), region) for name, region in self.regions.items())
        return {rest: region for (kind, _, rest), region in named if kind == FIGURE}

    def part(self, name: str) -> NDArray[Any] | None:
        """The light inside a marked region, None where it is not marked."""
        region = self.regions.get(name)
        return None if region is None else _cut(self.light, region)


def checked(regions: Mapping[str, Region]) -> dict[str, Region]:
    """The regions, each inside the picture. Raises BadQuery for one outside, or marked as what there is none of."""
    for name, (x, y, width, height) in regions.items():
        if name not in MARKS and name.partition(":")[0] != FIGURE:
            raise BadQuery(
                f"Nothing is measured on {name[:40]!r}.", f"Mark regions as: {', '.join(MARKS)}, {FIGURE}:NAME."
            )
        if not (
            0 <= x < 1 and 0 <= y < 1 and width > 0 and height > 0 and x + width <= 1.0001 and y + height <= 1.0001
        ):
            raise BadQuery(
                f"The region marked as {name} lies outside the picture.",
                "Give fractions x, y, width, height within 0–1.",
            )
    return dict(regions)


def lines(intent: Intent, marked: Marked | None) -> list[Line]:
    """The lines on light, on lit against shadow side, and on the edge, as far as asked for or marked."""
    found: list[Line] = []
    if intent.light_from or intent.light_tilt_deg is not None or (marked and "light" in marked.regions):
        found.append(_light(intent, marked))
    both = marked is not None and {"lit", "shadow"} <= set(marked.regions)
    if intent.lit_to_shadow is not None or both:
        found.append(_ratio(intent, marked if both else None))
    if marked is not None and "edge" in marked.regions:
        found.append(_edge(marked))
    return found


def _light(intent: Intent, marked: Marked | None) -> Line:
    from refarchive.looks.light import angle_between, ellipse, light_direction

    tilt = intent.light_tilt_deg
    part = marked.part("light") if marked is not None else None
    target: Any = intent.light_from or None if tilt is None else figure(tilt)
    found, note = None, WHAT_TO_MARK
    if part is not None:
        try:
            measured = light_direction(part, ellipse(part.shape))
        except CannotMeasure as error:
            note = str(error)
        else:
            told = (f"{e.method}: {'none' if e.tilt_deg is None else f'{e.tilt_deg:.0f}°'}" for e in measured.estimates)
            note = joined(measured.sentence, "; ".join(told) + ".", "Several lights give their effective direction.")
            found = measured.tilt_deg
    difference = None
    if found is not None and tilt is not None:
        difference = figure(angle_between(found, tilt))
    tolerance = None if tilt is None else figure(intent.light_tolerance_deg)
    return Line(
        measure="light",
        against=INTENT,
        target=target,
        frame=None if found is None else figure(found),
        difference=difference,
        tolerance=tolerance,
        unit="words" if tilt is None else DEGREES,
        verdict=verdict_word(difference, tolerance),
        note=joined(
            note, "The intent gives no angle to hold it against." if found is not None and tilt is None else ""
        ),
        label="" if tilt is None else intent.light_from,
    )


def _ratio(intent: Intent, marked: Marked | None) -> Line:
    from refarchive.looks.shadow import lit_to_shadow

    target = intent.lit_to_shadow
    stops, note = None, "Mark the lit side and the shadow side of one surface, such as a face, to have it measured."
    if marked is not None:
        lit, shadow = marked.part("lit"), marked.part("shadow")
        assert lit is not None
        assert shadow is not None
        ratio = lit_to_shadow(lit, shadow, scene_linear=marked.scene_linear)
        stops, note = ratio.stops, ratio.sentence
    difference = None if stops is None or target is None else figure(stops - target)
    tolerance = None if target is None else figure(intent.lit_to_shadow_tolerance)
    return Line(
        measure="lit to shadow",
        against=INTENT,
        target=None if target is None else figure(target),
        frame=None if stops is None else figure(stops),
        difference=difference,
        tolerance=tolerance,
        unit="stops",
        verdict=verdict_word(difference, tolerance),
        note=joined(note, "" if target is not None else "The intent gives no number to hold it against."),
    )


def _edge(marked: Marked) -> Line:
    from refarchive.looks.shadow import edge_softness

    part = marked.part("edge")
    assert part is not None
    share = None
    try:
        softness = edge_softness(part)
    except CannotMeasure as error:
        note = str(error)
    else:
        note = joined(softness.sentence, "Measured only: the intent gives no number to hold it against.")
        if softness.width_px is not None:
            share = figure(100 * softness.width_px / max(marked.light.shape))
    return Line(
        measure="shadow edge",
        against=INTENT,
        target=None,
        frame=share,
        difference=None,
        tolerance=None,
        unit="% of the frame's longer side",
        verdict=CANNOT_TELL,
        note=note,
    )


def _cut(light: NDArray[Any], region: Region) -> NDArray[Any]:
    x, y, width, height = region
    left, top = int(x * light.shape[1]), int(y * light.shape[0])
    right = max(round((x + width) * light.shape[1]), left + 1)
    bottom = max(round((y + height) * light.shape[0]), top + 1)
    return light[top:bottom, left:right]
