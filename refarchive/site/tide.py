"""Heights of water: harmonic prediction, a printed table, a secondary port, and when a mark is so deep.

Everything is a prediction for calm weather. Wind, pressure and rain change times and heights; a river's tide is not the
sea's. `NOTICE` stands on everything that is made of it.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from refarchive.errors import SiteRefused
from refarchive.site import constituents as harmonics
from refarchive.site import curves
from refarchive.site.instants import DAY_S, Array, Span, number, written

NOTICE = "Not for navigation or safety; use official tables."
STEP_S = 600.0  # between looks at a tide: its fastest part takes more than two hours
MOST_DAYS = 800
MOST_S = 2.6e11  # from 1970 to a printed table: 8,000 years


class Tide(Protocol):
    """Anything that gives heights of water above its datum."""

    @property
    def datum(self) -> str:
        """What heights stand above."""
        ...

    @property
    def method(self) -> str:
        """How the heights come about, as a sentence."""
        ...

    def height_m(self, utc: object) -> Array:
        """Heights above the datum [m] at instants [s since 1970]; NaN where none is known."""
        ...


@dataclass(frozen=True)
class Constituent:
    """One harmonic constituent: name, amplitude [m], and phase lag g [°] for the clock of its list."""

    name: str
    amplitude_m: float
    phase_deg: float


@dataclass(frozen=True)
class Harmonic:
    """A tide from constituents. `mean_level_m` is the mean level above the datum; `phases_utc_offset_h` the clock that
    the phases are given for, 0 for Greenwich.

    Raises
    ------
    SiteRefused
        without a datum or constituents, for a name that is unknown or stands twice, and for figures out of range.
    """

    constituents: tuple[Constituent, ...]
    mean_level_m: float
    datum: str
    phases_utc_offset_h: float = 0.0
    _known: tuple[tuple[str, float, float], ...] = field(init=False, repr=False, default=())

    def __post_init__(self) -> None:
        if not self.datum.strip():
            raise SiteRefused(
                "datum: heights stand above nothing.", "Name the datum, such as chart datum.", field="datum"
            )
        if not self.constituents:
            raise SiteRefused("constituents: there are none.", "Give at least M2.", field="constituents")
        number(self.mean_level_m, "mean_level_m", -20, 30, "m")
        offset = number(self.phases_utc_offset_h, "phases_utc_offset_h", -14, 14, "hours")
        known: list[tuple[str, float, float]] = []
        for row, one in enumerate(self.constituents, 1):
            name = harmonics.named(one.name, f"constituent {row}")
            amplitude = number(one.amplitude_m, f"constituent {row} ({name}), amplitude_m", 0, 20, "m")
            phase = number(one.phase_deg, f"constituent {row} ({name}), phase_deg", -360, 720, "degrees")
            if name in [kept for kept, _, _ in known]:
                raise SiteRefused(
                    f"constituent {row}: {name} stands twice.", "Leave one of the two out.", field=f"constituent {row}"
                )
            known.append((name, amplitude, phase - harmonics.speed_deg_h(name) * offset))
        object.__setattr__(self, "_known", tuple(known))

    @property
    def method(self) -> str:
        """How the heights come about."""
        names = ", ".join(name for name, _, _ in self._known)
        return (
            f"Predicted from {len(self._known)} harmonic constituents ({names}) with nodal corrections after "
            f"Schureman, in metres above {self.datum}."
        )

    def height_m(self, utc: object) -> Array:
        """Heights above the datum [m] at instants [s since 1970]."""
        at = np.asarray(utc, np.float64)
        seen = harmonics.sky(at)
        total = np.full(at.shape, float(self.mean_level_m))
        for name, amplitude, phase in self._known:
            f, u = harmonics.nodal(name, seen)
            total = total + f * amplitude * np.cos(np.radians(harmonics.argument_deg(name, at, seen) + u - phase))
        return total


@dataclass(frozen=True)
class Printed:
    """A printed table of high and low waters: (instant [s since 1970], height [m]), interpolated by half a cosine.

    `origin` says what the entries are, where they were not entered from a table as they stand.

    Raises
    ------
    SiteRefused
        for fewer than two entries, figures out of range, times that do not increase, and highs and lows that do not
        take turns.
    """

    entries: tuple[tuple[float, float], ...]
    datum: str
    origin: str = "printed high and low waters"

    def __post_init__(self) -> None:
        if not self.datum.strip():
            raise SiteRefused("datum: heights stand above nothing.", "Name the table's datum.", field="datum")
        if len(self.entries) < 2:
            raise SiteRefused("entries: a table needs two.", "Give a high and a low water.", field="entries")
        for row, (at, height) in enumerate(self.entries, 1):
            number(at, f"entry {row}, time", -MOST_S, MOST_S, "s from 1970")
            number(height, f"entry {row}, height_m", -20, 30, "m")
        for row, ((before, low), (after, high)) in enumerate(itertools.pairwise(self.entries), 2):
            if not before < after:
                raise SiteRefused(
                    f"entry {row}: it is not later than the one before.", "Put them in order of time.",
                    field=f"entry {row}",
                )  # fmt: skip
            if low == high:
                raise SiteRefused(
                    f"entry {row}: it is as high as the one before.", "Give highs and lows by turns.",
                    field=f"entry {row}",
                )  # fmt: skip
        steps = np.diff([height for _, height in self.entries])
        for row, (one, other) in enumerate(itertools.pairwise(steps), 3):
            if one * other > 0:
                raise SiteRefused(
                    f"entry {row}: the water goes on {'rising' if one > 0 else 'falling'} past entry {row - 1}.",
                    "Give highs and lows by turns; one may be missing.",
                    field=f"entry {row}",
                )

    @property
    def method(self) -> str:
        """How the heights come about."""
        first, last = self.entries[0][0], self.entries[-1][0]
        return (
            f"Interpolated by half a cosine between {len(self.entries)} {self.origin}, in metres above "
            f"{self.datum}; known from {written(first)} to {written(last)} only."
        )

    def height_m(self, utc: object) -> Array:
        """Heights above the datum [m]; NaN before the first entry and after the last."""
        at = np.asarray(utc, np.float64)
        times, heights = np.array(self.entries, np.float64).T
        place = np.clip(np.searchsorted(times, at, side="right") - 1, 0, len(times) - 2)
        part = (at - times[place]) / (times[place + 1] - times[place])
        found = heights[place] + (heights[place + 1] - heights[place]) * (1 - np.cos(np.pi * part)) / 2
        return np.where((at < times[0]) | (at > times[-1]), np.nan, found)


def secondary(
    standard: Tide,
    start: float,
    end: float,
    *,
    high_min: float = 0.0,
    low_min: float = 0.0,
    high_m: float = 0.0,
    low_m: float = 0.0,
    high_ratio: float = 1.0,
    low_ratio: float = 1.0,
    datum: str = "",
) -> Printed:
    """The tide at a secondary port, by its differences from a standard port at high and at low water.

    As a tide table's differences are applied: each time is moved by so many minutes, each height is multiplied by the
    ratio, then the metres are added, and the water between follows half a cosine, not the standard port's own curve.
    Differences that change with the height or the hour are taken as constant. Heights stand above the secondary
    port's datum where the table gives them so: name it in `datum`, or the standard port's is taken.

    Raises
    ------
    SiteRefused
        for a difference out of range, and for differences that leave highs and lows out of turn or order.
    """
    minutes = {
        "high": number(high_min, "high_min", -720, 720, "min"),
        "low": number(low_min, "low_min", -720, 720, "min"),
    }
    metres = {"high": number(high_m, "high_m", -20, 20, "m"), "low": number(low_m, "low_m", -20, 20, "m")}
    ratio = {
        "high": number(high_ratio, "high_ratio", 0, 10, "times"),
        "low": number(low_ratio, "low_ratio", 0, 10, "times"),
    }
    margin = 2 * DAY_S  # more than a difference and the longest wait for the next water
    moved = tuple(
        (at + 60 * minutes[kind], height * ratio[kind] + metres[kind])
        for at, height, kind in highs_and_lows(standard, start - margin, end + margin)
    )
    told = " and ".join(_difference(kind, minutes[kind], ratio[kind], metres[kind]) for kind in ("high", "low"))
    origin = (
        f"high and low waters of a secondary port, which are its standard port's with constant differences ({told}; "
        f"standard port: {standard.method.rstrip('.')})"
    )
    try:
        return Printed(moved, datum or standard.datum, origin)
    except SiteRefused as refused:
        raise SiteRefused(
            f"difference: with it, high and low waters do not follow each other ({refused.problem.rstrip('.')}).",
            "Look at its signs, and at the stretch asked for.",
            field="difference",
        ) from refused


def _difference(kind: str, minutes: float, ratio: float, metres: float) -> str:
    times = f", × {ratio:g}" if ratio != 1 else ""
    return f"{kind} water {minutes:+g} min{times}, {metres:+.2f} m".replace("-", "−")


# -- asked of a tide --------


def highs_and_lows(tide: Tide, start: float, end: float) -> tuple[tuple[float, float, str], ...]:
    """High and low waters between two instants: (instant, height [m], "high" or "low"), in order of time.

    Raises
    ------
    SiteRefused
        where the stretch ends before it begins, or is longer than `MOST_DAYS` days.
    """
    _stretch(start, end)
    if isinstance(tide, Printed):
        kept = [(at, height) for at, height in tide.entries if start <= at <= end]
        heights = [height for _, height in tide.entries]
        up = {at: n == 0 or heights[n] > heights[n - 1] for n, (at, _) in enumerate(tide.entries)}
        up[tide.entries[0][0]] = heights[0] > heights[1]
        return tuple((at, height, "high" if up[at] else "low") for at, height in kept)
    at = np.arange(start - 2 * STEP_S, end + 3 * STEP_S, STEP_S)
    rising = np.diff(tide.height_m(at)) > 0
    turn = np.flatnonzero(rising[1:] != rising[:-1])
    top = rising[turn]
    when, found = curves.turning_points(tide.height_m, at[turn], at[turn + 2], top)
    return tuple(
        (moment, height, "high" if is_top else "low")
        for moment, height, is_top in zip(when.tolist(), found.tolist(), top.tolist(), strict=True)
        if start <= moment <= end
    )


def depth_m(tide: Tide, utc: object, bed_m: float) -> Array:
    """Depth of water [m] over a mark whose bed lies so high above the datum; below 0 it is dry by so much."""
    return tide.height_m(utc) - number(bed_m, "bed_m", -100, 100, "m")


def spans_between(
    tide: Tide, start: float, end: float, bed_m: float, least_m: float, most_m: float
) -> tuple[Span, ...]:
    """Stretches in which a mark is between two depths [m], within the two instants.

    Raises
    ------
    SiteRefused
        where the depths are not in order, the stretch is none, or a printed table does not reach over it.
    """
    _stretch(start, end)
    if not least_m <= most_m:
        raise SiteRefused("most_m: it is less than the least.", "Give the shallower depth first.", field="most_m")
    if isinstance(tide, Printed) and not tide.entries[0][0] <= start <= end <= tide.entries[-1][0]:
        raise SiteRefused(
            "entries: the printed table does not reach over that stretch.",
            "Enter the high and low waters before and after it.",
            field="entries",
        )
    seen = curves.trace(lambda at: depth_m(tide, at, bed_m), start, end, STEP_S)
    return seen.between(least_m, most_m, seen.crossings([least_m, most_m]))


def _stretch(start: float, end: float) -> None:
    if not start < end:
        raise SiteRefused("end: it does not lie after the start.", "Give the earlier instant first.", field="end")
    if end - start > MOST_DAYS * DAY_S:
        raise SiteRefused(f"end: that is more than {MOST_DAYS} days.", "Ask for fewer at a time.", field="end")
