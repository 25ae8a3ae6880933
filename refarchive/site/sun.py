"""Where the sun stands, and the day it makes at a place, for any year from −2000 to 6000.

Positions are those of the solar position algorithm (Reda & Andreas 2004, as in pvlib; its authors state ±0.0003°). The
instants of a day are found where the curve of the sun's altitude passes a height between one local midnight and the
next. Azimuth is clockwise from true north, which a compass is not.

Heights: rising and setting at −50′ for the upper limb, refraction counted at 34′; twilights at −6°, −12° and −18°
(definitions of the US Naval Observatory). Real refraction at the horizon differs by minutes of time with the weather,
and the dip of the horizon seen from a height is not counted. That low warm light reaches from −4° to 6° and the blue of
dusk from −6° to −4° is common practice, no source.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Generic, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from refarchive.errors import SiteRefused
from refarchive.site import curves
from refarchive.site.instants import (
    DAY_S,
    Array,
    LocalDay,
    Span,
    instant,
    instants,
    latitude_deg,
    longitude_deg,
    number,
    years_and_months,
)
from refarchive.site.skyline import Skyline

HORIZON_DEG = -50 / 60
CIVIL_DEG, NAUTICAL_DEG, ASTRONOMICAL_DEG = -6.0, -12.0, -18.0
GOLDEN_DEG = (-4.0, 6.0)
BLUE_DEG = (-6.0, -4.0)
SEMIDIAMETER_DEG = 16 / 60
TEMPERATURE_C = 12.0
STEP_S = 900.0  # between looks at the sun, whose altitude has one top and one bottom a day
SKYLINE_STEP_S = 60.0  # a gap between two trees that the sun crosses in less may go unseen

_EVENTS = {
    ("sunrise", True): HORIZON_DEG, ("sunset", False): HORIZON_DEG,
    ("civil dawn", True): CIVIL_DEG, ("civil dusk", False): CIVIL_DEG,
    ("nautical dawn", True): NAUTICAL_DEG, ("nautical dusk", False): NAUTICAL_DEG,
    ("astronomical dawn", True): ASTRONOMICAL_DEG, ("astronomical dusk", False): ASTRONOMICAL_DEG,
}  # fmt: skip
KINDS = (*(kind for kind, _ in _EVENTS), "transit")
SKYLINE_KINDS = ("clears the skyline", "goes behind the skyline")

Number = TypeVar("Number", float, Array)


@dataclass(frozen=True)
class Position(Generic[Number]):
    """Where the sun stands, as numbers for one instant or as arrays for several.

    `azimuth_deg` is clockwise from true north, 0–360. `apparent_altitude_deg` counts refraction, and equals
    `geometric_altitude_deg` once the sun is below −0.83°. Both are of the centre of the disc.
    """

    azimuth_deg: Number
    apparent_altitude_deg: Number
    geometric_altitude_deg: Number


@dataclass(frozen=True)
class Event:
    """One instant of a day [s since 1970] and what happens at it: a word of `KINDS` or `SKYLINE_KINDS`."""

    kind: str
    at: float


@dataclass(frozen=True)
class Day:
    """The sun's day from local midnight to local midnight.

    `events` stand in order of time; near a polar day a kind may come twice or not at all, and `missing` then says why
    in words. `golden` and `blue` are clipped at midnight, as is `clear`, the stretches in which some of the disc shows
    above the skyline (None where no skyline was given).
    """

    local: LocalDay
    events: tuple[Event, ...]
    missing: dict[str, str]
    golden: tuple[Span, ...]
    blue: tuple[Span, ...]
    up: tuple[Span, ...]
    highest_deg: float
    lowest_deg: float
    clear: tuple[Span, ...] | None = None
    cautions: tuple[str, ...] = field(default=())

    def all(self, kind: str) -> tuple[float, ...]:
        """Every instant of a kind [s since 1970]. Raises SiteRefused for a kind that there is none of."""
        if kind not in KINDS and kind not in SKYLINE_KINDS:
            known = ", ".join((*KINDS, *SKYLINE_KINDS))
            raise SiteRefused(f"kind: “{kind}” does not happen in a day.", f"Ask for one of: {known}.", field="kind")
        return tuple(event.at for event in self.events if event.kind == kind)

    def first(self, kind: str) -> float | None:
        """The first instant of a kind, or None; `missing[kind]` then says why."""
        found = self.all(kind)
        return found[0] if found else None

    @property
    def sunrise(self) -> float | None:
        """The first sunrise [s since 1970]."""
        return self.first("sunrise")

    @property
    def sunset(self) -> float | None:
        """The last sunset [s since 1970]."""
        found = self.all("sunset")
        return found[-1] if found else None

    @property
    def transit(self) -> float | None:
        """When the sun stands due south or north, at its highest [s since 1970]."""
        return self.first("transit")

    @property
    def daylight_min(self) -> float:
        """How long the sun is up within the day [min]."""
        return sum(span.minutes for span in self.up)

    @property
    def sentence(self) -> str:
        """The day in one line, on its own clock."""
        shown = ("sunrise", "transit", "sunset")
        told = [f"{event.kind} {self.local.time(event.at)}" for event in self.events if event.kind in shown]
        said = [", ".join(told).capitalize() + "."] if told else []
        why: dict[str, str] = {}
        for kind in ("sunrise", "sunset"):
            if kind in self.missing:
                reason = self.missing[kind].partition(": ")[2]
                why[reason] = f"{why[reason]} or {kind}" if reason in why else f"No {kind}"
        return " ".join([*said, *(f"{none}: {reason}" for reason, none in why.items())])


@dataclass(frozen=True)
class Doubt:
    """Where the sun may have stood at some instant of a stretch.

    The bearing runs clockwise from `azimuth_from_deg` over `azimuth_arc_deg`; altitudes are geometric.
    """

    span: Span
    azimuth_from_deg: float
    azimuth_arc_deg: float
    least_altitude_deg: float
    most_altitude_deg: float

    @property
    def sentence(self) -> str:
        """The range in words."""
        to = (self.azimuth_from_deg + self.azimuth_arc_deg) % 360
        height = f"{self.least_altitude_deg:.1f}° to {self.most_altitude_deg:.1f}°".replace("-", "−")
        said = f"Bearing {self.azimuth_from_deg:.0f}° to {to:.0f}°, altitude {height}"
        if self.azimuth_arc_deg >= 360:
            said = f"Any bearing, altitude {height}"
        if self.most_altitude_deg < HORIZON_DEG:
            return f"{said}: the sun was down."
        return f"{said}: the sun may have been up or down." if self.least_altitude_deg < HORIZON_DEG else f"{said}."


# -- at an instant --------


def delta_t_s(utc: Array) -> Array:
    """Terrestrial time less universal time [s] (polynomials of Espenak & Meeus; within 6 s today)."""
    from pvlib import spa

    years, months = years_and_months(utc)
    found = spa.calculate_deltat(np.clip(years, -1999, 3000), months)  # beyond, pvlib warns and takes the parabola
    beyond = (years < -1999) | (years > 3000)
    return np.where(beyond, -20 + 32 * ((years + (months - 0.5) / 12 - 1820) / 100) ** 2, found)


def standard_pressure_pa(height_m: float) -> float:
    """Pressure of the standard atmosphere (ISO 2533) [Pa] at a height [m]."""
    return float(101_325.0 * (1 - 2.25577e-5 * height_m) ** 5.25588)


@overload
def position(
    latitude: float, longitude: float, utc: NDArray[Any] | list[Any], height_m: float = ..., *,
    pressure_pa: float | None = ..., temperature_c: float = ..., delta_t: float | None = ...,
) -> Position[Array]: ...  # fmt: skip
@overload
def position(
    latitude: float, longitude: float, utc: float | datetime, height_m: float = ..., *,
    pressure_pa: float | None = ..., temperature_c: float = ..., delta_t: float | None = ...,
) -> Position[float]: ...  # fmt: skip
def position(
    latitude: float,
    longitude: float,
    utc: object,
    height_m: float = 0.0,
    *,
    pressure_pa: float | None = None,
    temperature_c: float = TEMPERATURE_C,
    delta_t: float | None = None,
) -> Position[Any]:
    """Where the sun stands.

    Parameters
    ----------
    latitude, longitude
        [°], WGS84, north and east positive.
    utc
        One instant, or a list or array of them: aware datetimes, or seconds of universal time since 1970.
    height_m
        Above the sea [m], −500 to 9000.
    pressure_pa, temperature_c
        Yearly means at the place, for refraction; the standard atmosphere at that height, and 12 °C.
    delta_t
        Terrestrial less universal time [s], where it is known better than `delta_t_s`.

    Raises
    ------
    SiteRefused
        for a value out of its range or not a number, and for a datetime without a zone.
    """
    lat, lon, height = latitude_deg(latitude), longitude_deg(longitude), number(height_m, "height", -500, 9000, "m")
    pressure = (
        standard_pressure_pa(height)
        if pressure_pa is None
        else number(pressure_pa, "pressure", 20_000, 115_000, "Pa (hPa × 100)")
    )
    temperature = number(temperature_c, "temperature", -90, 60, "°C")
    known = None if delta_t is None else number(delta_t, "delta_t", -1000, 200_000, "s")
    at = instants(utc)
    geometric, apparent, azimuth = _spa(lat, lon, at, height, pressure, temperature, known)
    if at.ndim == 0:
        return Position(azimuth.item(), apparent.item(), geometric.item())
    return Position(azimuth, apparent, geometric)


def equation_of_time_min(utc: object) -> Any:
    """Apparent less mean solar time [min], positive where the sundial is ahead; a number, or an array for several.

    It is the true sun's hour angle less that of universal time, so that a sundial's noon has the sun in the meridian in
    any year. Handbook series, which leave ΔT aside, differ by 0.2 s today and by minutes in the first centuries.

    Raises
    ------
    SiteRefused
        where `utc` is no instant.
    """
    at = instants(utc)
    found = _equation(at)
    return found.item() if at.ndim == 0 else found


def _spa(
    lat: float,
    lon: float,
    at: Array,
    height_m: float = 0.0,
    pressure_pa: float = 101_325.0,
    temperature_c: float = TEMPERATURE_C,
    delta_t: float | None = None,
) -> tuple[Array, Array, Array]:
    """Geometric altitude, apparent altitude and azimuth [°], in the shape of `at`."""
    from pvlib import spa

    flat = np.ascontiguousarray(at.ravel())
    if not flat.size:
        return at, at, at
    ahead = delta_t_s(flat) if delta_t is None else np.full(flat.shape, delta_t)
    # Refraction at the horizon 34′ (0.5667°) decides only how far below it refraction is counted.
    found = spa.solar_position(flat, lat, lon, height_m, pressure_pa / 100, temperature_c, ahead, 0.5667, 1)
    _, _, apparent, geometric, azimuth = (np.asarray(one, np.float64).reshape(at.shape) for one in found[:5])
    return geometric, apparent, azimuth


def _equation(at: Array, delta_t: float | None = None) -> Array:
    """Apparent less mean solar time [min]: the hour angle of the sun at Greenwich less that of universal time."""
    from pvlib import spa

    flat = np.ascontiguousarray(at.ravel())
    if not flat.size:
        return at
    ahead = delta_t_s(flat) if delta_t is None else np.full(flat.shape, delta_t)
    sidereal, ascension = spa.solar_position(flat, 0.0, 0.0, 0.0, 0.0, 0.0, ahead, 0.0, 1, sst=True)[:2]
    apparent = (sidereal - ascension) * 240  # seconds of time after noon
    return np.asarray((apparent - flat % DAY_S + DAY_S) % DAY_S / 60 - 720, np.float64).reshape(at.shape)


# -- over a day --------


def day(
    latitude: float,
    longitude: float,
    local: LocalDay,
    *,
    skyline: Skyline | Iterable[tuple[float, float]] | None = None,
    golden_deg: tuple[float, float] = GOLDEN_DEG,
    blue_deg: tuple[float, float] = BLUE_DEG,
) -> Day:
    """The sun's day at a place, between the midnights of `clocks.zone_day`, `clocks.mean_day` or `clocks.offset_day`.

    Raises
    ------
    SiteRefused
        for a place or a skyline that is none, and for spans of altitude not in order within −90 to 90°.
    """
    lat, lon = latitude_deg(latitude), longitude_deg(longitude)
    spans = [_heights(golden_deg, "golden_deg"), _heights(blue_deg, "blue_deg")]
    start, end = instant(local.start, "day"), instant(local.end, "day")
    ahead = float(delta_t_s(np.array(start)))  # moves by less than a hundredth of a second in a day
    seen = curves.trace(functools.partial(_altitude, lat, lon, ahead), start, end, STEP_S)
    met = seen.crossings(sorted({*_EVENTS.values(), *spans[0], *spans[1]}))
    lowest, highest = seen.lowest, seen.highest
    events: list[Event] = []
    missing: dict[str, str] = {}
    for (kind, upward), level in _EVENTS.items():
        here = [one for one in met if one.level == level]
        found = [Event(kind, one.at) for one in here if one.upward is upward]
        events += found
        if not found:
            missing[kind] = _missing(kind, level, upward, here, local, lowest, highest)
    noons = _noons(lon, start, end, ahead)
    events += [Event("transit", at) for at in noons]
    if not noons:
        missing["transit"] = "No transit: the sun does not pass its highest point between these two midnights."
    clear = None
    if skyline is not None:
        hills = skyline if isinstance(skyline, Skyline) else Skyline(skyline)
        shown = curves.trace(functools.partial(_above, lat, lon, hills, ahead), start, end, SKYLINE_STEP_S)
        past = shown.crossings([0.0])
        clear = shown.between(0.0, 180.0, past)
        events += [Event(SKYLINE_KINDS[0] if one.upward else SKYLINE_KINDS[1], one.at) for one in past]
        missing |= _missing_at_skyline(past, clear)
    golden, blue, up = (seen.between(least, most, met) for least, most in (*spans, (HORIZON_DEG, 90.0)))
    return Day(
        local=local,
        events=tuple(sorted(events, key=lambda event: event.at)),
        missing=missing,
        golden=golden,
        blue=blue,
        up=up,
        highest_deg=highest[1],
        lowest_deg=lowest[1],
        clear=clear,
        cautions=(local.caution,) if local.caution else (),
    )


def behind_skyline(position: Position[Any], skyline: Skyline | Iterable[tuple[float, float]]) -> Any:
    """Whether the whole disc is behind the skyline: its upper limb, 16′ above the centre, lies below it.

    True or False for one instant, an array of them for several.
    """
    found = skyline if isinstance(skyline, Skyline) else Skyline(skyline)
    top = np.asarray(position.apparent_altitude_deg) + SEMIDIAMETER_DEG
    hidden = top < found.altitude_at(position.azimuth_deg)
    return bool(hidden) if hidden.ndim == 0 else hidden


def position_over(latitude: float, longitude: float, span: Span) -> Doubt:
    """Where the sun may have stood when only a stretch of time is known, as for a clock nobody recorded.

    Raises
    ------
    SiteRefused
        where the stretch is longer than two days or ends before it begins.
    """
    lat, lon = latitude_deg(latitude), longitude_deg(longitude)
    start, end = instant(span.earliest, "span"), instant(span.latest, "span")
    if not 0 <= end - start <= 2 * DAY_S:
        raise SiteRefused(
            f"span: {span} is not a stretch of up to two days.", "Give the earlier instant first.", field="span"
        )
    at = np.linspace(start, end, max(2, math.ceil((end - start) / 60) + 1))
    altitude, _, azimuth = _spa(lat, lon, at)
    turned = np.unwrap(azimuth, period=360.0)
    arc = min(360.0, float(turned.max() - turned.min()))
    least = float(turned.min()) % 360 if arc < 360 else 0.0
    return Doubt(span, least, arc, float(altitude.min()), float(altitude.max()))


def _altitude(lat: float, lon: float, ahead: float, at: Array) -> Array:
    return _spa(lat, lon, at, delta_t=ahead)[0]


def _noons(lon: float, start: float, end: float, ahead: float) -> list[float]:
    """Apparent noons in [start, end): on each mean day that may hold one, noon less the equation of time there."""
    first = math.floor((start + lon * 240) / DAY_S) - 1
    mean: Array = DAY_S * (first + 0.5 + np.arange(4, dtype=np.float64)) - lon * 240
    noon: Array = mean
    for _ in range(3):  # the equation of time moves by half a minute a day at most
        noon = mean - 60 * _equation(noon, ahead)
    return [at for at in noon.tolist() if start <= at < end]


def _above(lat: float, lon: float, skyline: Skyline, ahead: float, at: Array) -> Array:
    _, apparent, azimuth = _spa(lat, lon, at, delta_t=ahead)
    return apparent + SEMIDIAMETER_DEG - skyline.altitude_at(azimuth)


def _heights(pair: tuple[float, float], name: str) -> tuple[float, float]:
    least, most = (number(one, name, -90, 90, "degrees") for one in pair)
    if least >= most:
        raise SiteRefused(f"{name}: {least:g}° is not below {most:g}°.", "Give the lower altitude first.", field=name)
    return least, most


def _missing(
    kind: str,
    level: float,
    upward: bool,
    met: list[curves.Crossing],
    local: LocalDay,
    lowest: tuple[float, float],
    highest: tuple[float, float],
) -> str:
    height = "the horizon" if level == HORIZON_DEG else f"{-level:.0f}° below the horizon"
    if not met and lowest[1] >= level:
        bent = ", before refraction," if level < lowest[1] < 0 and level == HORIZON_DEG else ""
        said = f"the sun stays above {height} all day, lowest {lowest[1]:.1f}°{bent} at {local.time(lowest[0])}"
    elif not met:
        said = f"the sun stays below {height} all day, highest {highest[1]:.1f}° at {local.time(highest[0])}"
    else:
        way = "sinks" if upward else "comes up"
        said = f"the sun only {way} past {height}, at {local.time(met[0].at)}, on this day"
    return f"No {kind}: {said}.".replace("-", "−")


def _missing_at_skyline(past: tuple[curves.Crossing, ...], clear: tuple[Span, ...]) -> dict[str, str]:
    if past:
        seen = {one.upward for one in past}
        return {SKYLINE_KINDS[0 if up else 1]: _ONCE[up] for up in (True, False) if up not in seen}
    said = (
        "The sun stands above the skyline all day." if clear else "The sun does not come above the skyline on this day."
    )
    return dict.fromkeys(SKYLINE_KINDS, said)


_ONCE = {
    True: "The sun is above the skyline at midnight and does not clear it anew on this day.",
    False: "The sun does not go behind the skyline again before midnight.",
}
