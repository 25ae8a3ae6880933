"""How many flashes a battery gives, how many batteries a shoot needs, and how long they recycle.

A battery of so many watt-hours gives N = Wh·3600·η/E flashes of E stored watt-seconds, η being the share of its energy
that reaches the capacitors. Modelling lamps, standby and age are not counted: a count made on the day replaces it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from refarchive.errors import LightingRefused
from refarchive.lighting.checks import number, whole

RESERVE = 0.2  # of a battery, left unused (common practice, no source)
SPARES = 1  # batteries more than needed (common practice, no source)
EFFICIENCY = 0.8  # battery to capacitor (common practice, no source)

# Share of its capacity that a lithium-ion battery gives at a temperature [°C]; common practice, no source. Makers'
# sheets differ widely, and a battery kept warm until it is used does not lose it.
COLD_SHARES: tuple[tuple[float, float], ...] = ((-20.0, 0.5), (-10.0, 0.65), (0.0, 0.8), (10.0, 0.9), (20.0, 1.0))

CAUTION = (
    "A flash unit holds a lethal voltage, also switched off and after it has been in water; battery does not mean "
    "harmless. Local codes, and licensed people who are competent in them, decide what stands where beside water, "
    "and who handles what comes out of it."
)


@dataclass(frozen=True)
class Battery:
    """A battery pack: energy when full [Wh], and the share of it that reaches the capacitors (0–1]."""

    capacity_wh: float
    efficiency: float = EFFICIENCY

    def __post_init__(self) -> None:
        number(self.capacity_wh, "capacity_wh", above=0, unit="Wh")
        number(self.efficiency, "efficiency", above=0, most=1)


@dataclass(frozen=True)
class Draw:
    """What one light is to do: stored energy at full power [Ws], its fraction of it, how many flashes, its recycling.

    `recycle_full_s` is the time to recycle from full power [s]; lower powers take less in proportion to their energy
    (common practice, no source), unless `recycle_s` states it for the power planned.
    """

    light: int
    full_ws: float
    power: float
    flashes: int
    recycle_full_s: float
    recycle_s: float | None = None

    def __post_init__(self) -> None:
        said = f"light {self.light}: "
        number(self.full_ws, f"{said}full_ws", above=0, unit="Ws")
        number(self.power, f"{said}power", above=0, most=1)
        whole(self.flashes, f"{said}flashes", least=1)
        number(self.recycle_full_s, f"{said}recycle_full_s", least=0, unit="s")
        if self.recycle_s is not None:
            number(self.recycle_s, f"{said}recycle_s", least=0, unit="s")

    @property
    def energy_ws(self) -> float:
        """Stored energy of one flash [Ws]."""
        return self.full_ws * self.power

    @property
    def recycling_s(self) -> float:
        """Time to recycle after one flash [s]."""
        return self.recycle_full_s * self.power if self.recycle_s is None else self.recycle_s


@dataclass(frozen=True)
class BatteryPlan:
    """The batteries of one light. `flashes_each` is a battery's, after cold and reserve, rounded down."""

    light: int
    energy_ws: float
    flashes_each: int
    needed: int
    spares: int
    recycling_s: float
    recycling_total_s: float
    sentence: str
    caution: str = field(default=CAUTION)

    @property
    def carried(self) -> int:
        """Batteries to bring, spares and all."""
        return self.needed + self.spares


@dataclass(frozen=True)
class PowerList:
    """The batteries of a whole rig; lights recycle side by side, so the slowest one's time counts."""

    plans: tuple[BatteryPlan, ...]
    carried: int
    recycling_total_s: float
    sentence: str
    caution: str = field(default=CAUTION)


def watt_hours(volts: float, amp_hours: float) -> float:
    """Energy of a full battery [Wh] from what is printed on it.

    >>> round(watt_hours(14.4, 2.6), 2)
    37.44
    """
    return number(volts, "volts", above=0, unit="V") * number(amp_hours, "amp_hours", above=0, unit="Ah")


def chained(*efficiencies: float) -> float:
    """Efficiency (0–1] of a chain, such as inverter and mains flash: the product."""
    return math.prod(number(one, "efficiency", above=0, most=1) for one in efficiencies)


def cold_share(celsius: float, shares: Iterable[tuple[float, float]] = COLD_SHARES) -> float:
    """Share of its capacity (0–1) that a battery gives at its own temperature [°C], between the lines of a table.

    Above the warmest line it is that line's. The table that comes along is common practice, no source.

    Raises
    ------
    LightingRefused
        where it is colder than the coldest line: nothing is known there.
    """
    at = number(celsius, "celsius", unit="°C")
    table = sorted((number(c, "cold shares"), number(s, "cold shares", above=0, most=1)) for c, s in shares)
    if not table or at < table[0][0]:
        coldest = f"{table[0][0]:g} °C" if table else "any temperature"
        raise LightingRefused(
            f"The table says nothing of a battery at {at:g} °C, below {coldest}.".replace("-", "−"),
            "Keep the batteries warm, or enter the share that yours give.",
            field="celsius",
        )
    for (cold, less), (warm, more) in itertools.pairwise(table):
        if at <= warm:
            return less + (more - less) * (at - cold) / (warm - cold) if warm > cold else more
    return table[-1][1]


def flashes_of(
    capacity_wh: float, energy_ws: float, efficiency: float = EFFICIENCY, *, cold: float = 1.0, reserve: float = 0.0
) -> float:
    """Flashes that a battery gives, unrounded: Wh·3600·η/E, times the share left by cold and by the reserve.

    >>> round(flashes_of(100, 600, 0.85), 6)
    510.0
    """
    energy = number(capacity_wh, "capacity_wh", above=0, unit="Wh") * 3600.0
    energy *= number(efficiency, "efficiency", above=0, most=1) * number(cold, "cold", above=0, most=1)
    return energy * (1.0 - number(reserve, "reserve", least=0, below=1)) / number(energy_ws, "energy_ws", above=0)


def battery_plan(
    draw: Draw, battery: Battery, *, cold: float = 1.0, reserve: float = RESERVE, spares: int = SPARES
) -> BatteryPlan:
    """Batteries that one light needs for its planned flashes at its planned power.

    `cold` is the share of capacity left by the cold, from `cold_share` or from a count of one's own.

    Raises
    ------
    LightingRefused
        where a battery holds not one such flash, or a number cannot be used.
    """
    each = math.floor(
        flashes_of(battery.capacity_wh, draw.energy_ws, battery.efficiency, cold=cold, reserve=reserve) + 1e-9
    )
    if each < 1:
        raise LightingRefused(
            f"The battery of light {draw.light} holds not one flash of {draw.energy_ws:g} Ws.",
            "Bring a larger battery, or plan less power.",
            field=f"light {draw.light}: capacity_wh",
        )
    needed = math.ceil(draw.flashes / each)
    more = whole(spares, "spares")
    total = draw.flashes * draw.recycling_s
    said = (
        f"Light {draw.light}: {each} flashes of {draw.energy_ws:g} Ws a battery, {100 * cold:.0f} % of it left by the "
        f"cold and {100 * reserve:.0f} % kept back; {needed} for {draw.flashes} flashes and {more} spare. It recycles "
        f"in {draw.recycling_s:.1f} s, {total / 60:.0f} minutes in all."
    )
    return BatteryPlan(draw.light, draw.energy_ws, each, needed, more, draw.recycling_s, total, said)


def power_list(
    draws: Iterable[tuple[Draw, Battery]], *, cold: float = 1.0, reserve: float = RESERVE, spares: int = SPARES
) -> PowerList:
    """The batteries of a rig: each light with the battery that feeds it; spares are each light's own."""
    plans = tuple(battery_plan(draw, battery, cold=cold, reserve=reserve, spares=spares) for draw, battery in draws)
    carried = sum(plan.carried for plan in plans)
    total = max((plan.recycling_total_s for plan in plans), default=0.0)
    said = f"{carried} batteries for {len(plans)} lights; recycling takes {total / 60:.0f} minutes of the shoot."
    return PowerList(plans, carried, total, said)
