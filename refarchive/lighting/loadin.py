"""The walk in with the kit and out again: loads, trips and minutes.

Speeds, minutes of handling and margin are common practice, no source, and every one can be replaced. Loads are packed
heaviest first, which comes near the fewest trips and is not proved to be them (first fit decreasing: at most 11/9 of
the fewest loads, and 6/9 of one; Dósa 2007).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from refarchive.errors import LightingRefused
from refarchive.lighting.checks import number, whole

How = Literal["foot", "wading", "boat"]

# Metres a second, laden and empty (common practice, no source).
SPEEDS_M_S: dict[How, tuple[float, float]] = {"foot": (1.0, 1.3), "wading": (0.4, 0.6), "boat": (1.0, 1.0)}
HANDLING_MIN = 5.0  # to pick up and put down, each trip (common practice, no source)
MARGIN = 0.25  # of all minutes (common practice, no source)

CAUTION = (
    "These are minutes, not a judgement of the way. Who may carry, wade or go by boat, and with what, is for local "
    "rules and competent people on the day to decide; performers in the water carry no lights."
)


@dataclass(frozen=True)
class Item:
    """One thing to be carried, in one piece: kg each, how many, and how many people it takes."""

    name: str
    kg: float
    count: int = 1
    hands: int = 1

    def __post_init__(self) -> None:
        number(self.kg, f"{self.name}: kg", above=0, unit="kg")
        whole(self.count, f"{self.name}: count", least=1)
        whole(self.hands, f"{self.name}: hands", least=1)


@dataclass(frozen=True)
class Carriers:
    """People who carry: how many, and what each may carry at a time [kg]."""

    count: int
    kg_each: float

    def __post_init__(self) -> None:
        whole(self.count, "carriers count", least=1)
        number(self.kg_each, "carriers kg_each", above=0, unit="kg")


@dataclass(frozen=True)
class Stretch:
    """A part of the way [m]: on foot, wading or by boat; speeds [m/s] laden and empty where they are known better."""

    name: str
    length_m: float
    how: How = "foot"
    laden_m_s: float | None = None
    empty_m_s: float | None = None

    def __post_init__(self) -> None:
        number(self.length_m, f"{self.name}: length_m", least=0, unit="m")
        if self.how not in SPEEDS_M_S:
            raise LightingRefused(
                f"Nobody goes {self.how!r} along {self.name}.",
                f"Say one of: {', '.join(SPEEDS_M_S)}.",
                field=f"{self.name}: how",
            )
        for name in ("laden_m_s", "empty_m_s"):
            if getattr(self, name) is not None:
                number(getattr(self, name), f"{self.name}: {name}", above=0, unit="m/s")

    @property
    def minutes_laden(self) -> float:
        """Minutes one way with a load."""
        return self.length_m / (self.laden_m_s or SPEEDS_M_S[self.how][0]) / 60.0

    @property
    def minutes_empty(self) -> float:
        """Minutes one way without."""
        return self.length_m / (self.empty_m_s or SPEEDS_M_S[self.how][1]) / 60.0


@dataclass(frozen=True)
class Load:
    """What one carrier takes on one trip; of a thing carried by several, this one's part of its weight."""

    trip: int
    carrier: int
    items: tuple[str, ...]
    kg: float


@dataclass(frozen=True)
class LoadIn:
    """Trips, loads and minutes. The way in and the way out take the same; minutes are rounded up, margin and all."""

    trips: int
    loads: tuple[Load, ...]
    total_kg: float
    minutes_in: int
    minutes_out: int
    minutes_laden: float
    minutes_empty: float
    margin: float
    sentence: str
    caution: str = field(default=CAUTION)


def pack(items: Iterable[Item], carriers: Iterable[Carriers]) -> tuple[Load, ...]:
    """Who takes what on which trip: spread evenly, unless filling one after the other saves a trip.

    Raises
    ------
    LightingRefused
        where something is too heavy for those who would carry it.
    """
    most = sorted((float(group.kg_each) for group in carriers for _ in range(group.count)), reverse=True)
    if not most:
        raise LightingRefused("Nobody is there to carry.", "Give at least one carrier.", field="carriers")
    pieces = [item for item in items for _ in range(item.count)]
    for item in pieces:
        _refuse_too_heavy(item, most)
    pieces.sort(key=lambda item: (-item.kg / item.hands, -item.hands, item.name))
    return min((_packed(pieces, most, even=even) for even in (True, False)), key=_trips)


def load_in(
    items: Iterable[Item],
    carriers: Iterable[Carriers],
    way: Iterable[Stretch],
    *,
    handling_min: float = HANDLING_MIN,
    margin: float = MARGIN,
) -> LoadIn:
    """Trips and minutes to bring a kit in, and to bring it out again.

    Every trip in but the last is walked back empty; on the way out, every trip but the first begins with a walk in.
    Minutes = (trips·laden + (trips − 1)·empty + trips·handling)·(1 + margin), rounded up.

    Raises
    ------
    LightingRefused
        where something is too heavy, or a number cannot be used.
    """
    loads = pack(items, carriers)
    number(handling_min, "handling_min", least=0, unit="min")
    number(margin, "margin", least=0)
    stretches = tuple(way)
    laden = sum(stretch.minutes_laden for stretch in stretches)
    empty = sum(stretch.minutes_empty for stretch in stretches)
    trips = _trips(loads)
    total = sum(load.kg for load in loads)
    minutes = math.ceil((trips * (laden + handling_min) + max(0, trips - 1) * empty) * (1.0 + margin) - 1e-9)
    said = f"{total:.0f} kg in {trips} trip{'' if trips == 1 else 's'}: {minutes} minutes in, as many out, "
    said += f"{100 * margin:.0f} % margin counted."
    if not trips:
        said = "Nothing is to be carried."
    return LoadIn(trips, loads, total, minutes, minutes, laden, empty, margin, said)


def totals(items: Iterable[Item]) -> Mapping[str, float]:
    """Weight of everything by name [kg]."""
    found: dict[str, float] = {}
    for item in items:
        found[item.name] = found.get(item.name, 0.0) + item.kg * item.count
    return found


def _packed(pieces: list[Item], most: list[float], *, even: bool) -> tuple[Load, ...]:
    left: list[list[float]] = []
    held: list[list[list[str]]] = []
    for item in pieces:
        share = item.kg / item.hands
        able: list[int] = []
        trip = -1
        while len(able) < item.hands:
            trip += 1
            if trip == len(left):
                left.append(list(most))
                held.append([[] for _ in most])
            able = [carrier for carrier, kg in enumerate(left[trip]) if kg >= share - 1e-9]
        if even:
            able.sort(key=left[trip].__getitem__, reverse=True)
        for carrier in able[: item.hands]:
            left[trip][carrier] -= share
            held[trip][carrier].append(item.name)
    return tuple(
        Load(trip + 1, carrier + 1, tuple(names), most[carrier] - left[trip][carrier])
        for trip, of_trip in enumerate(held)
        for carrier, names in enumerate(of_trip)
        if names
    )


def _trips(loads: tuple[Load, ...]) -> int:
    return max((load.trip for load in loads), default=0)


def _refuse_too_heavy(item: Item, most: list[float]) -> None:
    share = item.kg / item.hands
    if item.hands > len(most):
        raise LightingRefused(
            f"{item.name} takes {item.hands} people, and {len(most)} are there.",
            "Bring more people, or split it.",
            field=f"{item.name}: hands",
        )
    if most[item.hands - 1] < share - 1e-9:
        by = "one carrier" if item.hands == 1 else f"{item.hands} carriers together"
        raise LightingRefused(
            f"{item.name} ({item.kg:g} kg) is too heavy for {by}: each may carry {most[item.hands - 1]:g} kg.",
            f"Split it, let {item.hands + 1} people carry it, or bring it on wheels or by boat.",
            field=f"{item.name}: kg",
        )
