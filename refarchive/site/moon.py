"""The moon over a site: its phase, where it stands, and when it rises and sets on a local day.

Reckoned with Skyfield from the ephemeris DE421 of the Jet Propulsion Laboratory, which the package skyfield-data
brings; nothing is fetched. It reaches from 29 July 1899 to 8 October 2053. Rising and setting are those of the upper
limb, with 34′ of refraction and the moon's own semidiameter at that hour (definition of the US Naval Observatory).
"""

from __future__ import annotations

import functools
import importlib.resources
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np

from refarchive.errors import EphemerisUnavailable, SiteRefused
from refarchive.site import curves
from refarchive.site.instants import (
    DAY_S,
    Array,
    LocalDay,
    Span,
    day_start,
    instant,
    latitude_deg,
    longitude_deg,
    number,
    written,
)

SYNODIC_S = 29.530588861 * DAY_S  # mean month of phases (Meeus, Astronomical Algorithms, ch. 49; from memory)
RADIUS_KM = 1737.4  # mean radius of the moon (IAU)
REFRACTION_DEG = 34 / 60
STEP_S = 900.0  # between looks at the moon
FIRST = day_start("1899-07-29") + 3600  # an hour within the ephemeris: the sun's light is eight minutes old
LAST = day_start("2053-10-09") - 3600

PRINCIPAL = {"new moon": 0.0, "first quarter": 90.0, "full moon": 180.0, "last quarter": 270.0}
_BETWEEN = ("waxing crescent", "waxing gibbous", "waning gibbous", "waning crescent")
_NAMED_WITHIN_S = DAY_S / 2  # a principal phase gives its name to the half day either side: common practice, no source


@dataclass(frozen=True)
class Phase:
    """The moon's phase at an instant.

    `illuminated` is the lit fraction of the disc, 0–1; `elongation_deg` the moon's ecliptic longitude less the sun's,
    0–360; `age_days` the days since new moon, or None where that lay before the ephemeris.
    """

    name: str
    illuminated: float
    elongation_deg: float
    age_days: float | None

    @property
    def sentence(self) -> str:
        """The phase in words."""
        age = "" if self.age_days is None else f", {self.age_days:.1f} days after new moon"
        return f"{self.name.capitalize()}, {100 * self.illuminated:.0f} % lit{age}."


@dataclass(frozen=True)
class Position:
    """Where the moon's centre stands; azimuth clockwise from true north, the apparent altitude with refraction."""

    azimuth_deg: float
    apparent_altitude_deg: float
    geometric_altitude_deg: float
    distance_km: float


@dataclass(frozen=True)
class Day:
    """The moon's day from local midnight to local midnight; `phase` is that of the middle of the day.

    `rises` and `sets` [s since 1970] are empty on a day without one, and `missing` says why in words.
    """

    local: LocalDay
    rises: tuple[float, ...]
    sets: tuple[float, ...]
    up: tuple[Span, ...]
    phase: Phase
    missing: dict[str, str]

    @property
    def sentence(self) -> str:
        """The day in one line, on its own clock."""
        met = sorted([(at, "moonrise") for at in self.rises] + [(at, "moonset") for at in self.sets])
        told = ", ".join(f"{kind} {self.local.time(at)}" for at, kind in met)
        said = [f"{told.capitalize()}."] if told else []
        return " ".join([*said, *dict.fromkeys(self.missing.values()), self.phase.sentence])


def position(
    latitude: float,
    longitude: float,
    utc: object,
    height_m: float = 0.0,
    *,
    pressure_pa: float | None = None,
    temperature_c: float = 12.0,
) -> Position:
    """Where the moon stands at one instant; the arguments are those of `sun.position`.

    Raises
    ------
    SiteRefused
        for a value out of range, and for an instant outside the ephemeris.
    EphemerisUnavailable
        where the ephemeris is not on this machine.
    """
    lat, lon, height = latitude_deg(latitude), longitude_deg(longitude), number(height_m, "height", -500, 9000, "m")
    given = None if pressure_pa is None else number(pressure_pa, "pressure", 20_000, 115_000, "Pa (hPa × 100)") / 100
    temperature = number(temperature_c, "temperature", -90, 60, "°C")
    at = _within(instant(utc))
    with _ephemeris() as bodies:
        seen = _seen(bodies, lat, lon, height, np.array([at]))
        geometric, azimuth, distance = seen.altaz()
        apparent = seen.altaz(temperature_C=temperature, pressure_mbar="standard" if given is None else given)[0]
        return Position(
            float(azimuth.degrees[0]), float(apparent.degrees[0]), float(geometric.degrees[0]), float(distance.km[0])
        )


def phase(utc: object) -> Phase:
    """The phase at an instant, seen from the middle of the earth.

    Raises
    ------
    SiteRefused, EphemerisUnavailable
        as `position`.
    """
    at = _within(instant(utc))
    with _ephemeris() as bodies:
        elongation = float(_elongation(bodies, np.array([at]))[0])
        lit = _at_earth(bodies, np.array([at])).observe(bodies["moon"]).apparent().fraction_illuminated(bodies["sun"])
        new = _when(bodies, 0.0, at - elongation / 360 * SYNODIC_S)
        if new is not None and new > at:  # by a rounding, at new moon itself
            new = at
        name = _BETWEEN[int(elongation // 90)]
        for principal, angle in PRINCIPAL.items():
            off = (elongation - angle + 180) % 360 - 180
            exact = _when(bodies, angle, at - off / 360 * SYNODIC_S) if abs(off) < 10 else None
            if exact is not None and abs(at - exact) <= _NAMED_WITHIN_S:
                name = principal
    return Phase(name, float(lit[0]), elongation, None if new is None else (at - new) / DAY_S)


def next_phase(utc: object, name: str) -> float:
    """The first instant after `utc` [s since 1970] of new moon, first quarter, full moon or last quarter.

    Raises
    ------
    SiteRefused
        for another name, and where it would lie outside the ephemeris.
    """
    if name not in PRINCIPAL:
        raise SiteRefused(
            f"name: “{name}” has no instant of its own.", f"Ask for one of: {', '.join(PRINCIPAL)}.", field="name"
        )
    at = _within(instant(utc))
    with _ephemeris() as bodies:
        ahead = (PRINCIPAL[name] - float(_elongation(bodies, np.array([at]))[0])) % 360
        for turn in (0.0, 360.0):
            found = _when(bodies, PRINCIPAL[name], at + (ahead + turn) / 360 * SYNODIC_S)
            if found is None:
                break
            if found > at:
                return found
    raise _outside(at + ahead / 360 * SYNODIC_S)


def day(latitude: float, longitude: float, local: LocalDay) -> Day:
    """When the moon rises and sets at a place between two local midnights, and its phase in the middle of the day.

    Raises
    ------
    SiteRefused, EphemerisUnavailable
        as `position`.
    """
    lat, lon = latitude_deg(latitude), longitude_deg(longitude)
    start, end = (
        _within(instant(local.start, "day") - STEP_S) + STEP_S,
        _within(instant(local.end, "day") + STEP_S) - STEP_S,
    )
    with _ephemeris() as bodies:
        limb = curves.trace(functools.partial(_limb, bodies, lat, lon), start, end, STEP_S)
        met = limb.crossings([0.0])
        up = limb.between(0.0, 180.0, met)
    rises, sets = (tuple(one.at for one in met if one.upward is way) for way in (True, False))
    missing = {}
    for kind, found, other, does in (("moonrise", rises, sets, "rise"), ("moonset", sets, rises, "set")):
        if found:
            continue
        if other:
            why = f"The moon does not {does} between these two midnights: it comes about 50 minutes later every day."
        else:
            why = f"The moon stays {'up' if up else 'down'} all day."
        missing[kind] = why
    return Day(local, rises, sets, up, phase((start + end) / 2), missing)


# -- within --------


@functools.lru_cache(maxsize=1)
def _timescale() -> Any:
    from skyfield.api import Loader

    # The folder is never touched: the tables of the earth's turning are those built into Skyfield.
    return Loader(".", verbose=False).timescale(builtin=True)


@contextmanager
def _ephemeris() -> Iterator[Any]:
    """The open ephemeris; opening takes a fifth of a millisecond, so no handle is kept."""
    from skyfield.jpllib import SpiceKernel

    step = "Install the package skyfield-data again; nothing is fetched from elsewhere."
    try:
        found = importlib.resources.files("skyfield_data") / "data" / "de421.bsp"
        with importlib.resources.as_file(found) as path:
            bodies = SpiceKernel(str(path))
    except (ModuleNotFoundError, OSError, ValueError) as missing:
        raise EphemerisUnavailable("The ephemeris DE421 is not on this machine or cannot be read.", step) from missing
    try:
        yield bodies
    finally:
        bodies.close()


def _within(utc: float) -> float:
    if not FIRST <= utc <= LAST:
        raise _outside(utc)
    return utc


def _outside(utc: float) -> SiteRefused:
    return SiteRefused(
        f"utc: the moon on {written(utc)[:-12]} lies outside the ephemeris (29 July 1899 to 8 October 2053).",
        "Take the phase from an almanac of the year, or give a day within it; the sun is reckoned for any year.",
        field="utc",
    )


def _times(utc: Array) -> Any:
    return _timescale().ut1_jd(utc / DAY_S + 2440587.5)


def _at_earth(bodies: Any, utc: Array) -> Any:
    return bodies["earth"].at(_times(utc))


def _seen(bodies: Any, lat: float, lon: float, height_m: float, utc: Array) -> Any:
    from skyfield.api import wgs84

    place = bodies["earth"] + wgs84.latlon(lat, lon, elevation_m=height_m)
    return place.at(_times(utc)).observe(bodies["moon"]).apparent()


def _limb(bodies: Any, lat: float, lon: float, utc: Array) -> Array:
    altitude, _, distance = _seen(bodies, lat, lon, 0.0, utc).altaz()
    return np.asarray(altitude.degrees + REFRACTION_DEG + np.degrees(np.arcsin(RADIUS_KM / distance.km)))


def _elongation(bodies: Any, utc: Array) -> Array:
    from skyfield import almanac

    return np.asarray(almanac.moon_phase(bodies, _times(utc)).degrees)


def _when(bodies: Any, angle_deg: float, near: float) -> float | None:
    """The instant nearest to a good guess at which the elongation is an angle; None outside the ephemeris."""
    for _ in range(40):  # each step leaves at most a fifth of the error: the moon's speed varies by that much
        if not FIRST <= near <= LAST:
            return None
        off = (float(_elongation(bodies, np.array([near]))[0]) - angle_deg + 180) % 360 - 180
        near -= off / 360 * SYNODIC_S
        if math.fabs(off) < 1e-7:
            break
    return near
