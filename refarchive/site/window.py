"""When everything a shoot needs holds at once: stretches of time, what ends each of them, and how much room is left.

A constraint is a value with limits (the sun's altitude, the depth at a mark) or stretches that somebody gave (leave to
work, the crew's hours). A window is a stretch in which all hold, with time before it to bring things in and after it to
take them out. It says that the figures given are met, and nothing about whether the work may be done.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from refarchive.errors import SiteRefused
from refarchive.site.instants import DAY_S, Array, Span, number

STEP_S = 60.0
MOST_DAYS = 120
WITHIN_S = 0.5  # how closely an edge is found
NOTICE = (
    "Not for navigation or safety; use official tables. Those who know the place decide on the day, and anyone may "
    "stop the work."
)


@dataclass(frozen=True)
class Limit:
    """A value over time that must stay between two figures; `value` takes instants and gives as many figures."""

    name: str
    value: Callable[[Array], Array] = field(repr=False)
    least: float = -math.inf
    most: float = math.inf
    unit: str = ""

    def __post_init__(self) -> None:
        if not self.least <= self.most:
            raise SiteRefused(
                f"{self.name}: from {self.least:g} to {self.most:g} holds nothing.",
                "Give the smaller figure first.",
                field=self.name,
            )

    def holds(self, at: Array) -> NDArray[np.bool_]:
        """Whether it holds, at each instant."""
        found = self.value(at)
        return (found >= self.least) & (found <= self.most)

    def slack(self, at: Array) -> float:
        """The least distance from a limit over these instants, in the value's unit."""
        found = self.value(at)
        return float(np.minimum(found - self.least, self.most - found).min())


@dataclass(frozen=True)
class Open:
    """Stretches in which something is allowed or somebody is there."""

    name: str
    spans: tuple[Span, ...]

    def holds(self, at: Array) -> NDArray[np.bool_]:
        """Whether one of the stretches holds each instant."""
        found = np.zeros(np.shape(at), bool)
        for span in self.spans:
            found |= (at >= span.earliest) & (at <= span.latest)
        return found


Constraint = Limit | Open


@dataclass(frozen=True)
class Crew:
    """What carrying takes: minutes in before the window and out after it, and what must hold while things are carried.

    `least_min` is the shortest window worth coming for.
    """

    load_in_min: float = 0.0
    pack_out_min: float = 0.0
    while_carrying: tuple[Constraint, ...] = ()
    least_min: float = 0.0

    def __post_init__(self) -> None:
        for name in ("load_in_min", "pack_out_min", "least_min"):
            number(getattr(self, name), name, 0, 1_440, "minutes")


@dataclass(frozen=True)
class Window:
    """One stretch in which all holds. `begun_by` and `ended_by` name what keeps it from being longer; `slack` gives, by
    the name of each limit, the least room to it [its unit] within.
    """

    span: Span
    begun_by: tuple[str, ...]
    ended_by: tuple[str, ...]
    slack: tuple[tuple[str, float, str], ...]

    @property
    def sentence(self) -> str:
        """What bounds it, and the least room to the limits that do not."""
        bound = {*self.begun_by, *self.ended_by}
        free = [(name, room, unit) for name, room, unit in self.slack if name not in bound]
        least = ", ".join(f"{name} {room:.1f}{'' if unit == '°' else ' '}{unit}".rstrip() for name, room, unit in free)
        edges = f"Begins with {', '.join(self.begun_by)}; ends with {', '.join(self.ended_by)}."
        return f"{edges} Room left: {least}." if least else edges


@dataclass(frozen=True)
class Found:
    """Windows over a stretch of time, and for days without one, by their number from 0, what alone keeps it shut."""

    windows: tuple[Window, ...]
    shut: tuple[tuple[int, tuple[str, ...]], ...]
    notice: str = NOTICE

    def best(self, count: int = 3) -> tuple[Window, ...]:
        """The longest windows; of two as long, the earlier."""
        return tuple(sorted(self.windows, key=lambda one: (-round(one.span.minutes), one.span.earliest))[:count])


Told = Callable[[int, int], None]  # steps done, of how many


def _nobody(_: int, __: int) -> None:
    """Where nobody is told."""


def windows(
    days: Sequence[Span],
    constraints: Iterable[Constraint],
    crew: Crew | None = None,
    step_s: float = STEP_S,
    told: Told = _nobody,
) -> Found:
    """Every window that begins on one of the days (stretches from midnight to midnight, in order).

    All is looked at every `step_s` seconds, 1 to 600; a window shorter than that may go unseen. One that lasts past
    midnight is one window, and opens both days. One under way at the first midnight is told from there. `told` hears
    how far the looking is, and may stop it by what it raises.

    Raises
    ------
    SiteRefused
        without a day or a constraint, or for more than `MOST_DAYS` days.
    """
    held = tuple(constraints)
    hands = crew or Crew()
    number(step_s, "step_s", 1, 600, "s")
    if not days or not held:
        raise SiteRefused(
            "window: there is no day, or nothing that must hold.", "Give dates, and at least one limit.", field="window"
        )
    if len(days) > MOST_DAYS or days[-1].latest - days[0].earliest > (MOST_DAYS + 0.1) * DAY_S:
        raise SiteRefused(f"closes: that is more than {MOST_DAYS} days.", "Ask for fewer at a time.", field="closes")
    # Carrying is looked at beyond both ends, so that what is brought in before the first midnight counts.
    before, after = (step_s * math.ceil(60 * minutes / step_s) for minutes in (hands.load_in_min, hands.pack_out_min))
    at = np.arange(days[0].earliest - before, days[-1].latest + DAY_S / 2 + after, step_s)
    looked = (at >= days[0].earliest) & (at < days[-1].latest + DAY_S / 2)
    looking = len(held) + len(hands.while_carrying)
    steps = looking + len(days)
    kept = np.array([_held(one, at, n, steps, told) for n, one in enumerate(held)])
    carried = None
    if hands.while_carrying:
        carried = np.array([_held(one, at, len(held) + n, steps, told) for n, one in enumerate(hands.while_carrying)])
    found = _found(at, kept, carried, held, hands, looked, lambda: told(looking, steps))
    inside = [one for one in found if any(day.earliest <= one.span.earliest < day.latest for day in days)]
    shut = []
    for n, day in enumerate(days):
        told(looking + n, steps)
        if any(one.span.earliest < day.latest and one.span.latest > day.earliest for one in inside):
            continue
        near = (at >= day.earliest - DAY_S / 2) & (at < day.latest + DAY_S / 2)
        shut.append(
            (n, _kept_shut(day, at[near], kept[:, near], None if carried is None else carried[:, near], held, hands))
        )
    return Found(tuple(inside), tuple(shut))


def strips(
    day: Span, constraints: Iterable[Constraint], step_s: float = 300.0
) -> tuple[tuple[str, tuple[Span, ...]], ...]:
    """For each constraint the stretches of a day in which it holds, to a few minutes, to be drawn."""
    at = np.arange(day.earliest, day.latest + step_s / 2, step_s)
    found = []
    for one in constraints:
        kept = one.holds(at)
        edges = [0, *(np.flatnonzero(kept[1:] != kept[:-1]) + 1).tolist(), len(at)]
        runs = [(a, b) for a, b in itertools.pairwise(edges) if kept[a]]
        found.append((one.name, tuple(Span(float(at[a]), float(at[min(b, len(at) - 1)])) for a, b in runs)))
    return tuple(found)


def _found(
    at: Array,
    kept: NDArray[np.bool_],
    carried: NDArray[np.bool_] | None,
    held: Sequence[Constraint],
    crew: Crew,
    looked: NDArray[np.bool_],
    at_work: Callable[[], None],
) -> list[Window]:
    carry = (
        _runs(at, np.asarray(carried.all(axis=0)), lambda t: _all(crew.while_carrying, t))
        if carried is not None
        else None
    )
    found = []
    for span in _runs(at[looked], np.asarray(kept[:, looked].all(axis=0)), lambda t: _all(held, t)):
        at_work()
        start, first = _start(span, carry, crew)
        end, last = _end(span, carry, crew)
        if start is None or end is None or end - start < max(60 * crew.least_min, 1.0):
            continue
        whole = Span(start, end)
        inside = np.linspace(start, end, max(3, math.ceil((end - start) / STEP_S) + 1))
        found.append(
            Window(
                whole,
                first or _breaks(held, start - 2 * WITHIN_S),
                last or _breaks(held, end + 2 * WITHIN_S),
                tuple((one.name, one.slack(inside), one.unit) for one in held if isinstance(one, Limit)),
            )
        )
    return found


def _held(one: Constraint, at: Array, number: int, steps: int, told: Told) -> NDArray[np.bool_]:
    told(number, steps)
    return one.holds(at)


def _all(constraints: Sequence[Constraint], at: Array) -> NDArray[np.bool_]:
    found = np.ones(np.shape(at), bool)
    for one in constraints:
        found &= one.holds(at)
    return found


def _runs(at: Array, kept: NDArray[np.bool_], holds: Callable[[Array], NDArray[np.bool_]] | None = None) -> list[Span]:
    """Stretches in which all samples hold; their edges found on the constraints themselves, or left at the samples."""
    edges = np.flatnonzero(kept[1:] != kept[:-1])
    bounds = [0, *(edges + 1).tolist(), len(at)]
    found = []
    for first, after in itertools.pairwise(bounds):
        if not kept[first]:
            continue
        start, end = float(at[first]), float(at[after - 1])
        if holds is not None and first > 0:
            start = _edge(float(at[first - 1]), start, holds)
        if holds is not None and after < len(at):
            end = _edge(float(at[after]), end, holds)
        found.append(Span(start, end))
    return found


def _edge(outside: float, inside: float, holds: Callable[[Array], NDArray[np.bool_]]) -> float:
    """The instant nearest the edge at which all still holds."""
    while abs(inside - outside) > WITHIN_S:
        middle = (inside + outside) / 2
        if holds(np.array([middle]))[0]:
            inside = middle
        else:
            outside = middle
    return inside


def _start(span: Span, carry: list[Span] | None, crew: Crew) -> tuple[float | None, tuple[str, ...]]:
    """The earliest start within a stretch that leaves time to bring things in, and its reason where that binds."""
    need = 60 * crew.load_in_min
    if carry is None:
        return span.earliest, ()
    for one in carry:
        start = max(span.earliest, one.earliest + need)
        if start <= min(span.latest, one.latest):
            return start, () if start <= span.earliest + WITHIN_S else (_carrying(crew, "in"),)
    return None, ()


def _end(span: Span, carry: list[Span] | None, crew: Crew) -> tuple[float | None, tuple[str, ...]]:
    need = 60 * crew.pack_out_min
    if carry is None:
        return span.latest, ()
    for one in reversed(carry):
        end = min(span.latest, one.latest - need)
        if end >= max(span.earliest, one.earliest):
            return end, () if end >= span.latest - WITHIN_S else (_carrying(crew, "out"),)
    return None, ()


def _carrying(crew: Crew, way: str) -> str:
    minutes = crew.load_in_min if way == "in" else crew.pack_out_min
    return f"{minutes:g} min of carrying {way} ({', '.join(one.name for one in crew.while_carrying)})"


def _breaks(held: Sequence[Constraint], at: float) -> tuple[str, ...]:
    """The constraints that do not hold at an instant; the edge of what was looked at where all do."""
    names = tuple(one.name for one in held if not one.holds(np.array([at]))[0])
    return names or ("the first or last day looked at",)


def _kept_shut(
    day: Span,
    at: Array,
    kept: NDArray[np.bool_],
    carried: NDArray[np.bool_] | None,
    held: Sequence[Constraint],
    crew: Crew,
) -> tuple[str, ...]:
    """Those constraints without which, one at a time, there would be a window on a day; to a minute.

    What must hold for the shooting and for the carrying alike is left out of both.
    """

    def opens(rows: NDArray[np.bool_], carry: list[Span] | None) -> bool:
        for span in _runs(at, np.asarray(rows.all(axis=0))):
            start, _ = _start(span, carry, crew)
            end, _ = _end(span, carry, crew)
            if start is None or end is None or end - start < max(60 * crew.least_min, 1.0):
                continue
            if start < day.latest and end > day.earliest:
                return True
        return False

    def carry_without(dropped: Constraint | None) -> list[Span] | None:
        if carried is None:
            return None
        rows = [n for n, one in enumerate(crew.while_carrying) if one is not dropped]
        return _runs(at, np.asarray(carried[rows].all(axis=0)))

    names = [one.name for n, one in enumerate(held) if opens(np.delete(kept, n, axis=0), carry_without(one))]
    return (*names, "carrying in and out") if carried is not None and opens(kept, None) else tuple(names)


# -- the day backwards --------


@dataclass(frozen=True)
class Call:
    """Something that happens at an instant [s since 1970]."""

    what: str
    at: float


def call_times(
    window: Span, calls: Iterable[tuple[str, float]], load_in_min: float, pack_out_min: float
) -> tuple[Call, ...]:
    """The day worked backwards from a window: each call so many minutes before it, first carry, and forwards to the
    end of packing out; in order of time. Raises SiteRefused for minutes that are none.
    """
    start, end = window.earliest, window.latest
    found = [Call(what, start - 60 * number(before, f"call of {what}", 0, 2_880, "min")) for what, before in calls]
    carry_in, carry_out = (
        number(load_in_min, "load_in_min", 0, 1_440, "min"),
        number(pack_out_min, "pack_out_min", 0, 1_440, "min"),
    )
    found += [
        Call("first carry in", start - 60 * carry_in),
        Call("window begins", start),
        Call("window ends; strike", end),
        Call("all off the site", end + 60 * carry_out),
    ]
    return tuple(sorted(found, key=lambda one: one.at))


def bearing_limit(name: str, bearing: Callable[[Array], Array], from_deg: float, to_deg: float) -> Limit:
    """A bearing that must lie from one to another clockwise, through north where the second is smaller."""
    start = number(from_deg, f"{name}: from", 0, 360, "degrees")
    end = number(to_deg, f"{name}: to", 0, 360, "degrees")
    wide = 360.0 if end - start == 360 else (end - start) % 360.0
    middle = start + wide / 2
    return Limit(name, lambda at: (bearing(at) - middle + 180.0) % 360.0 - 180.0, -wide / 2, wide / 2, "°")
