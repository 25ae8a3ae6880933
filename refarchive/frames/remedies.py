"""What would bring a line within: a change worked out, made on the frame, and measured again.

A remedy is one way among others, never advice: a key that is off can be lit, exposed or developed otherwise, or meant.
It names the smallest change of its kind that ends within the tolerance, says what was measured after making it, and
what else it would move. Where no such change ends within, it says that.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from refarchive.frames.lines import INTENT, OUTSIDE, PALETTE_COLOURS, Line, figure
from refarchive.records.model import Intent

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from refarchive.looks.colour import PaletteLike

STEPS = 14  # halvings of the search
MOST_STOPS = 6.0
WORKING_PIXELS = 120_000  # of the frame a change is tried on: several times the viewing scale of the measures
MOST_CUT = 0.4  # of the height, beyond which nobody would call it the same picture (ours)
MARGIN = 0.02  # of a tolerance, kept from its edge


@dataclass(frozen=True)
class Remedy:
    """A change that ends within, or the sentence why none does.

    stops, shadow_stops, shift_lab, mired, cut: the change, None for those not made; `cut` is a part of the height.
    reached: the measure after it, None where nothing was found. within: whether that lies within the tolerance,
    measured again.
    """

    sentence: str
    stops: float | None = None
    shadow_stops: float | None = None
    shift_lab: tuple[float, float, float] | None = None
    mired: float | None = None
    cut: float | None = None
    reached: float | None = None
    within: bool = False


def remedy(line: Line, frame: NDArray[np.uint8], intent: Intent) -> Remedy | None:
    """What would bring a line against the intent within; None where it is not outside, or it is no matter of the file.

    `frame` is (H, W, 3) uint8 sRGB, as it was measured.
    """
    if line.verdict != OUTSIDE or line.against != INTENT:
        return None
    if line.measure == "key":
        return _key(line, _small(frame))
    if line.measure == "contrast":
        return _contrast(line, _small(frame))
    if line.measure == "palette":
        return _palette(line, _small(frame), intent)
    if line.measure == "warmth":
        return _warmth(line, _small(frame))
    if line.measure == "horizon":
        return _horizon(line, frame)
    return None


def with_remedies(lines: Iterable[Line], frame: NDArray[np.uint8], intent: Intent) -> tuple[Line, ...]:
    """The lines, those that are outside with what would bring them within."""
    found = []
    for line in lines:
        answer = None if line.remedy else remedy(line, frame, intent)
        found.append(replace(line, remedy=answer.sentence) if answer is not None else line)
    return tuple(found)


def _small(frame: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The frame area-averaged in linear light to the working size."""
    import numpy as np

    from refarchive.looks import colour

    if frame.shape[0] * frame.shape[1] <= WORKING_PIXELS:
        return frame
    return np.rint(colour.encoded(colour.reduced(frame, WORKING_PIXELS)) * 255.0).astype(np.uint8)


def _aims(line: Line) -> tuple[float, float]:
    """Where the measure should end, just inside the nearer edge of the tolerance; and the tolerance."""
    assert line.target is not None and line.tolerance is not None and line.difference is not None  # noqa: PT018
    side = 1.0 if line.difference > 0 else -1.0
    return float(line.target) + side * line.tolerance * (1.0 - MARGIN), float(line.tolerance)


def _key(line: Line, frame: NDArray[np.uint8]) -> Remedy:
    from refarchive.looks import tone
    from refarchive.looks.changes import with_gain

    aim, tolerance = _aims(line)
    far = MOST_STOPS if tone.tone_summary(frame).median < aim else -MOST_STOPS
    stops = _solved(lambda s: tone.tone_summary(with_gain(frame, s)).median, aim, far)
    if stops is None:
        said = f"No gain of up to {MOST_STOPS:.0f} stops over the whole brings it within: it is clipped, or near black."
        return Remedy(said)
    after = tone.tone_summary(with_gain(frame, stops))
    reached = figure(after.median)
    within = abs(reached - line.target) <= tolerance
    said = (
        f"{_stops(stops)} over the whole would bring it to {reached:.1f} L*, within; tried on this file and measured"
        f" again. Contrast would then be {after.spread:.1f} L*{_clipped(after)}."
    )
    return Remedy(said, stops=stops, reached=reached, within=within)


def _contrast(line: Line, frame: NDArray[np.uint8]) -> Remedy:
    from refarchive.looks import tone
    from refarchive.looks.changes import with_shadows

    before = tone.tone_summary(frame)
    low, high = (max(float(tone.lightness_to_luminance(v)), 1e-6) for v in (before.p5, before.median))
    high = max(high, low * 1.2)
    aim, tolerance = _aims(line)

    def changed(stops: float) -> Any:
        return with_shadows(frame, stops, from_luminance=low, to_luminance=high)

    # Lifted by more than lies between them, the deepest tones would end above the middle: no light does that.
    most = 0.9 * math.log2(high / low)
    spread = partial(_spread_of, changed)
    stops = _solved(spread, aim, -MOST_STOPS) if before.spread < aim else _solved(spread, aim, min(most, MOST_STOPS))
    if stops is None:
        return Remedy("No change of the darker half alone brings it within: the lights would have to change too.")
    after = tone.tone_summary(changed(stops))
    reached = figure(after.spread)
    within = abs(reached - line.target) <= tolerance
    said = (
        f"{_stops(stops)} in the shadows (in full where it is darkest, none from the middle tone on) would bring it to"
        f" {reached:.1f} L*, within; tried on this file and measured again. Key would then be {after.median:.1f} L*."
    )
    return Remedy(said, shadow_stops=stops, reached=reached, within=within)


def _palette(line: Line, frame: NDArray[np.uint8], intent: Intent) -> Remedy:
    import numpy as np

    from refarchive.looks import colour
    from refarchive.looks.changes import with_shift

    target = (
        np.array([colour.hex_to_lab(entry.hex) for entry in intent.palette]),
        np.array([entry.share for entry in intent.palette]),
    )
    tolerance = float(line.tolerance or 0.0)
    whole = _mean_move(colour.palette(frame, PALETTE_COLOURS), target)

    def distance(part: float) -> float:
        return colour.palette_distance(colour.palette(with_shift(frame, whole * part), PALETTE_COLOURS), target)

    parts = [p for p in (0.25, 0.5, 0.75, 1.0) if distance(p) <= tolerance * (1.0 - MARGIN)]
    if not parts:
        nearest = distance(1.0)
        said = (
            f"Shifting all colours by the mean move ({_shift(whole)}) would leave it at {nearest:.1f} ΔE00, outside:"
            " not the cast but the colours themselves, or their shares, differ."
        )
        return Remedy(said)
    low, high = max(0.0, parts[0] - 0.25), parts[0]
    for _ in range(6):
        middle = (low + high) / 2
        if distance(middle) <= tolerance * (1.0 - MARGIN):
            high = middle
        else:
            low = middle
    shift = whole * high
    reached = figure(distance(high))
    said = (
        f"Shifting all colours by {_shift(shift)} would bring it to {reached:.1f} ΔE00, within; tried on this file and"
        " measured again."
    )
    moved = (float(shift[0]), float(shift[1]), float(shift[2]))
    return Remedy(said, shift_lab=moved, reached=reached, within=reached <= tolerance)


def _warmth(line: Line, frame: NDArray[np.uint8]) -> Remedy:
    from refarchive.looks.changes import with_warmth
    from refarchive.looks.warmth import mired_shift, warmth

    own = warmth(frame)
    assert own.cct_k is not None and own.duv is not None and line.difference is not None  # noqa: PT018
    assert line.tolerance is not None
    move = math.copysign(line.tolerance * (1.0 - MARGIN), line.difference) - line.difference
    after = warmth(with_warmth(frame, own.cct_k, own.duv, 1e6 / (1e6 / own.cct_k + move)))
    left = None if after.cct_k is None else figure(mired_shift(float(line.target), after.cct_k))
    asked = f"A shift of {move:+.0f} mired ({'warmer' if move > 0 else 'cooler'})".replace("-", "−")
    if left is None or after.cct_k is None or abs(left) > line.tolerance:
        return Remedy(f"{asked} would not bring it within, tried on this file: colours are clipped on the way.")
    said = f"{asked} would bring it to {after.cct_k:.0f} K, within; tried on this file and measured again."
    return Remedy(said, mired=move, reached=figure(after.cct_k), within=True)


def _horizon(line: Line, frame: NDArray[np.uint8]) -> Remedy:
    from refarchive.looks.horizon import horizon

    aim, tolerance = _aims(line)
    row, height = float(line.frame), frame.shape[0]
    if row < aim:
        part, edge = 1.0 - row / aim, "lower"
        cut = frame[: height - round(part * height)]
    else:
        part, edge = (row - aim) / (1.0 - aim) if aim < 1.0 else 1.0, "upper"
        cut = frame[round(part * height) :]
    if part > MOST_CUT:
        return Remedy(f"Only with {100 * part:.0f} % cut off at the {edge} edge would it lie there: another picture.")
    after = horizon(cut)
    if after.row is None or abs(figure(after.row) - line.target) > tolerance:
        return Remedy(f"Cutting at the {edge} edge does not bring it within, measured again after it.")
    reached = figure(after.row)
    said = (
        f"{100 * part:.0f} % cut off at the {edge} edge, or the camera tilted as much, would bring it to {reached:.2f},"
        " within; cut from this file and measured again."
    )
    return Remedy(said, cut=part, reached=reached, within=True)


def _mean_move(own: PaletteLike, target: PaletteLike) -> NDArray[np.float64]:
    """The mean move in Lab by which the one palette is carried to the other at least cost."""
    import numpy as np
    import ot

    from refarchive.looks import colour

    lab, shares = (own.lab, own.shares) if isinstance(own, colour.Palette) else map(np.asarray, own)
    wanted, parts = (target.lab, target.shares) if isinstance(target, colour.Palette) else map(np.asarray, target)
    shares, parts = np.asarray(shares) / np.sum(shares), np.asarray(parts) / np.sum(parts)
    ground = np.ascontiguousarray(colour.delta_e_2000(lab[:, None, :], wanted[None, :, :]))
    flow = np.asarray(ot.emd(shares, parts, ground))
    return np.asarray((flow[..., None] * (wanted[None] - lab[:, None])).sum(axis=(0, 1)))


def _spread_of(changed: Callable[[float], NDArray[np.uint8]], stops: float) -> float:
    from refarchive.looks import tone

    return tone.tone_summary(changed(stops)).spread


def _solved(measure: Callable[[float], float], aim: float, far: float) -> float | None:
    """The change between 0 and `far` at which the measure meets the aim; None where it is not met by `far`."""
    start = measure(0.0)
    if (start - aim) * (measure(far) - aim) > 0:
        return None
    near, beyond = 0.0, far
    for _ in range(STEPS):
        middle = (near + beyond) / 2
        if (measure(middle) - aim) * (start - aim) > 0:
            near = middle
        else:
            beyond = middle
    return beyond


def _stops(stops: float) -> str:
    return f"About {stops:+.1f} stop{'' if abs(stops) < 1.05 else 's'}".replace("-", "−")


def _shift(shift: Any) -> str:
    return ", ".join(
        f"{value:+.1f} {name}".replace("-", "−") for value, name in zip(shift, ("L*", "a*", "b*"), strict=True)
    )


def _clipped(after: Any) -> str:
    return f", and {100 * after.blown:.0f} % blown out" if after.blown >= 0.005 else ""
