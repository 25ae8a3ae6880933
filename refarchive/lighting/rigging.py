"""Booms, stands and wind, as statics: what balances, and in what gust it only just does.

Moments are written in kg·m for what hangs (a mass times its arm) and in N·m for wind. A stand tips about the line
between two neighbouring feet, which lies nearer its middle than the feet do: see `tipping_radius_m`.

Sources: wind pressure ½ρv², ρ 1.225 kg/m³ (the standard atmosphere at sea level) or 1.25 (recommended by EN 1991-1-4);
drag coefficient 1.2 of a flat plate (from memory). Sliding, soft or sloping ground, swing, the strength of clamps and
stands, and a modifier that tears off are not worked out. The result never is that a rig may stand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from refarchive.errors import LightingRefused
from refarchive.lighting.checks import number, whole

G = 9.80665  # m/s², standard gravity
AIR = 1.225  # kg/m³
FLAT_PLATE = 1.2  # drag coefficient, from memory
GUST_FACTOR = 2.0  # on the speed, so four times on the force (common practice, no source)

CAUTION = (
    "This is arithmetic on the figures given, not a judgement of the rig. Local codes and licensed, competent people "
    "decide whether it goes up, how it is tied and weighted, and when it is struck; nobody stands under it on its word."
)


# -- booms --------


@dataclass(frozen=True)
class Hung:
    """A weight on the counter arm of a boom [kg], at its own arm [m]: a battery pack, for instance."""

    name: str
    kg: float
    arm_m: float

    def __post_init__(self) -> None:
        number(self.kg, f"{self.name}: kg", least=0, unit="kg")
        number(self.arm_m, f"{self.name}: arm_m", above=0, unit="m")


@dataclass(frozen=True)
class BoomBalance:
    """A boom about its pivot. Moments in kg·m; `ballast_kg` at the counter arm, 0 where it needs none.

    `left_over_kgm` is what still pulls, positive towards the light, once the ballast hangs. `carried_kg` is all that
    the stand then carries.
    """

    load_moment_kgm: float
    arm_moment_kgm: float
    hung_moment_kgm: float
    ballast_kg: float
    left_over_kgm: float
    carried_kg: float
    sentence: str
    caution: str = field(default=CAUTION)


def balance_boom(
    *,
    load_kg: float,
    load_arm_m: float,
    counter_arm_m: float,
    boom_kg: float = 0.0,
    boom_centre_m: float | None = None,
    hung: Iterable[Hung] = (),
) -> BoomBalance:
    """The ballast at the counter arm at which a boom balances: m1·L1 = m2·L2, the boom's own moment counted.

    Parameters
    ----------
    load_kg, load_arm_m
        Head with modifier [kg], and its arm from the pivot [m].
    counter_arm_m
        Arm of the ballast, on the other side of the pivot [m].
    boom_kg, boom_centre_m
        The boom itself [kg], and where its middle lies from the pivot, positive towards the light [m]. Without it the
        boom is taken as even from load to ballast.
    hung
        What hangs on the counter arm anyway, such as battery packs.

    A boom that is raised keeps its balance: every arm shrinks by the same cosine.

    Raises
    ------
    LightingRefused
        where an arm is not above 0, or a weight is below 0.
    """
    load = number(load_kg, "load_kg", least=0, unit="kg") * number(load_arm_m, "load_arm_m", above=0, unit="m")
    counter = number(counter_arm_m, "counter_arm_m", above=0, unit="m")
    own_kg = number(boom_kg, "boom_kg", least=0, unit="kg")
    middle = (load_arm_m - counter) / 2.0 if boom_centre_m is None else number(boom_centre_m, "boom_centre_m", unit="m")
    packs = tuple(hung)
    own, packed = own_kg * middle, sum(pack.kg * pack.arm_m for pack in packs)
    needed = (load + own - packed) / counter
    ballast = max(0.0, needed)
    left = load + own - packed - ballast * counter
    carried = load_kg + own_kg + sum(pack.kg for pack in packs) + ballast
    if needed > 0:
        said = f"It balances with {needed:.1f} kg at {counter:g} m; the stand then carries {carried:.1f} kg."
    elif left < -1e-9:
        said = f"The counter side is the heavier, by {-left:.1f} kg·m: hang less there, or nearer the pivot."
    else:
        said = f"It balances as it is; the stand carries {carried:.1f} kg."
    return BoomBalance(load, own, packed, ballast, left, carried, said)


# -- wind --------


def wind_pressure_pa(speed_m_s: float, air_kg_m3: float = AIR) -> float:
    """Pressure of wind [Pa], ½ρv².

    >>> round(wind_pressure_pa(10), 6)
    61.25
    """
    density = number(air_kg_m3, "air_kg_m3", above=0, unit="kg/m³")
    return 0.5 * density * number(speed_m_s, "speed_m_s", least=0, unit="m/s") ** 2


def wind_force_n(area_m2: float, speed_m_s: float, *, drag: float = FLAT_PLATE, air_kg_m3: float = AIR) -> float:
    """Force of wind [N] square on a modifier: pressure times area times drag coefficient."""
    area = number(area_m2, "area_m2", above=0, unit="m²")
    return wind_pressure_pa(speed_m_s, air_kg_m3) * area * number(drag, "drag", above=0)


def tipping_radius_m(foot_radius_m: float, feet: int = 3) -> float:
    """Distance [m] from a stand's middle to the line between two neighbouring feet: r·cos(π/n), half of r with three.

    >>> round(tipping_radius_m(0.9), 6)
    0.45
    """
    return number(foot_radius_m, "foot_radius_m", above=0, unit="m") * math.cos(math.pi / whole(feet, "feet", least=3))


@dataclass(frozen=True)
class Stand:
    """A stand with all that is on it.

    Parameters
    ----------
    kg
        Stand, head, modifier and boom together.
    height_m
        Of the modifier's middle above the feet.
    area_m2
        Of the modifier as the wind meets it square on.
    tipping_radius_m
        From its middle to the line that it tips about: `tipping_radius_m` of the feet's radius.
    ballast_kg
        Bags on the feet, and battery packs hung on the stand.
    off_centre_kgm
        Moment of what hangs to one side of the middle, such as a boom out of balance; the wind is taken to help it.
    """

    kg: float
    height_m: float
    area_m2: float
    tipping_radius_m: float
    ballast_kg: float = 0.0
    off_centre_kgm: float = 0.0
    drag: float = FLAT_PLATE
    air_kg_m3: float = AIR

    def __post_init__(self) -> None:
        number(self.kg, "kg", above=0, unit="kg")
        number(self.height_m, "height_m", above=0, unit="m")
        number(self.area_m2, "area_m2", above=0, unit="m²")
        number(self.tipping_radius_m, "tipping_radius_m", above=0, unit="m")
        number(self.ballast_kg, "ballast_kg", least=0, unit="kg")
        number(self.off_centre_kgm, "off_centre_kgm", least=0, unit="kg·m")
        number(self.drag, "drag", above=0)
        number(self.air_kg_m3, "air_kg_m3", above=0, unit="kg/m³")

    @property
    def holding_nm(self) -> float:
        """Moment that holds it down on the side it would tip to [N·m]; below 0 it tips without wind."""
        return G * ((self.kg + self.ballast_kg) * self.tipping_radius_m - self.off_centre_kgm)


@dataclass(frozen=True)
class Wind:
    """A stand in wind. `balance_m_s` is the gust in which it only just balances; `strike_m_s` is for the page.

    `tipping_nm` and `holding_nm` are moments [N·m] in the gust asked for; `missing_kg` is the ballast still lacking for
    that gust times the factor.
    """

    gust_m_s: float
    force_n: float
    tipping_nm: float
    holding_nm: float
    balance_m_s: float
    factor: float
    strike_m_s: int
    missing_kg: float
    sentence: str
    caution: str = field(default=CAUTION)


def balance_gust_m_s(stand: Stand) -> float:
    """The gust [m/s] in which a stand only just balances: the force on its modifier then tips as much as weight holds.

    Raises
    ------
    LightingRefused
        where it tips without any wind.
    """
    if stand.holding_nm <= 0:
        raise LightingRefused(
            f"The stand tips without wind: {stand.off_centre_kgm:g} kg·m hang to one side, and its weight holds "
            f"{(stand.kg + stand.ballast_kg) * stand.tipping_radius_m:.1f}.",
            "Balance the boom, or put more weight on the feet.",
            field="off_centre_kgm",
        )
    per_square = 0.5 * stand.air_kg_m3 * stand.drag * stand.area_m2 * stand.height_m
    return math.sqrt(stand.holding_nm / per_square)


def ballast_for_gust_kg(stand: Stand, gust_m_s: float) -> float:
    """Ballast in all [kg] with which a stand only just balances in a gust [m/s]; 0 where its weight alone does."""
    force = wind_force_n(stand.area_m2, gust_m_s, drag=stand.drag, air_kg_m3=stand.air_kg_m3)
    weight = (force * stand.height_m / G + stand.off_centre_kgm) / stand.tipping_radius_m
    return max(0.0, weight - stand.kg)


def in_wind(stand: Stand, gust_m_s: float, *, factor: float = GUST_FACTOR) -> Wind:
    """A stand in a gust [m/s]: moments, the gust in which it only just balances, and the gust to strike it at.

    The strike limit is the balancing gust over the factor (at least 1), in whole m/s, rounded down.

    Raises
    ------
    LightingRefused
        where it tips without wind, or a number cannot be used.
    """
    over = number(factor, "factor", least=1)
    force = wind_force_n(stand.area_m2, gust_m_s, drag=stand.drag, air_kg_m3=stand.air_kg_m3)
    balance = balance_gust_m_s(stand)
    strike = math.floor(balance / over)
    missing = max(0.0, ballast_for_gust_kg(stand, gust_m_s * over) - stand.ballast_kg)
    said = f"A gust of {gust_m_s:g} m/s pushes with {force:.0f} N. The stand only just balances at {balance:.1f} m/s; "
    if strike:
        said += f"strike it at {strike} m/s ({math.floor(strike * 3.6)} km/h), a factor of {over:g} below."
    else:
        said += f"a factor of {over:g} leaves less than 1 m/s: there is no strike limit to write."
    if missing:
        said += f" For {gust_m_s:g} m/s with that factor it lacks {math.ceil(missing - 1e-9)} kg."
    return Wind(gust_m_s, force, force * stand.height_m, stand.holding_nm, balance, over, strike, missing, said)
