"""Harmonic constituents of the tide: arguments and nodal corrections after Schureman (1958, Special Publication 98).

A constituent's height is f·H·cos(V + u − g): V its argument at the Greenwich meridian, f and u the corrections for the
moon's node, which swings through 18.6 years. Arguments are sums of hours of the mean solar day, of the mean longitudes
of moon (s), sun (h), lunar perigee (p) and solar perigee (p1), and a fixed angle; degrees throughout. Where agencies
differ, this is NOAA's way: SA without the solar perigee, S1 from the mean sun's hour angle, M1 with both its terms.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from refarchive.errors import SiteRefused
from refarchive.site.instants import DAY_S, Array

EPOCH_1900_S = -2_209_032_000.0  # noon of 1899-12-31 [s since 1970], Schureman's epoch
OBLIQUITY, INCLINATION = np.radians(23.452), np.radians(5.145)

# Name: hours (15° each), s, h, p, p1, the fixed angle, and what its nodal correction is called.
_TABLE: dict[str, tuple[int, int, int, int, int, int, str]] = {
    "SA": (0, 0, 1, 0, 0, 0, ""), "SSA": (0, 0, 2, 0, 0, 0, ""), "MM": (0, 1, 0, -1, 0, 0, "MM"),
    "MSF": (0, 2, -2, 0, 0, 0, "MM"), "MF": (0, 2, 0, 0, 0, 0, "MF"),
    "2Q1": (1, -4, 1, 2, 0, 270, "O1"), "Q1": (1, -3, 1, 1, 0, 270, "O1"), "RHO": (1, -3, 3, -1, 0, 270, "O1"),
    "O1": (1, -2, 1, 0, 0, 270, "O1"), "M1": (1, -1, 1, 1, 0, 90, "M1"), "P1": (1, 0, -1, 0, 0, 270, ""),
    "S1": (1, 0, 0, 0, 0, 180, ""), "K1": (1, 0, 1, 0, 0, 90, "K1"), "J1": (1, 1, 1, -1, 0, 90, "J1"),
    "OO1": (1, 2, 1, 0, 0, 90, "OO1"),
    "2N2": (2, -4, 2, 2, 0, 0, "M2"), "MU2": (2, -4, 4, 0, 0, 0, "M2"), "N2": (2, -3, 2, 1, 0, 0, "M2"),
    "NU2": (2, -3, 4, -1, 0, 0, "M2"), "M2": (2, -2, 2, 0, 0, 0, "M2"), "LAM2": (2, -1, 0, 1, 0, 180, "M2"),
    "L2": (2, -1, 2, -1, 0, 180, "L2"), "T2": (2, 0, -1, 0, 1, 0, ""), "S2": (2, 0, 0, 0, 0, 0, ""),
    "R2": (2, 0, 1, 0, -1, 180, ""), "K2": (2, 0, 2, 0, 0, 0, "K2"), "2SM2": (2, 2, -2, 0, 0, 0, "-M2"),
    "2MK3": (3, -4, 3, 0, 0, 270, "2M2-K1"), "M3": (3, -3, 3, 0, 0, 180, "M3"), "MK3": (3, -2, 3, 0, 0, 90, "M2+K1"),
    "MN4": (4, -5, 4, 1, 0, 0, "2M2"), "M4": (4, -4, 4, 0, 0, 0, "2M2"), "MS4": (4, -2, 2, 0, 0, 0, "M2"),
    "S4": (4, 0, 0, 0, 0, 0, ""), "M6": (6, -6, 6, 0, 0, 0, "3M2"), "S6": (6, 0, 0, 0, 0, 0, ""),
    "M8": (8, -8, 8, 0, 0, 0, "4M2"),
}  # fmt: skip
_ALIASES = {
    "LAMBDA2": "LAM2", "LAMDA2": "LAM2", "LDA2": "LAM2", "LA2": "LAM2", "RHO1": "RHO", "RO1": "RHO", "NI2": "NU2",
    "NU": "NU2", "MU": "MU2",
}  # fmt: skip
_GREEK = str.maketrans({"λ": "LAM", "μ": "MU", "µ": "MU", "ν": "NU", "ρ": "RHO"})
NAMES = tuple(_TABLE)
_SPEEDS = np.array([15.0, 0.549_016_53, 0.041_068_64, 0.004_641_83, 0.000_001_96])  # degrees an hour of the five


@dataclass(frozen=True)
class Sky:
    """Mean longitudes [°] and the node's angles [rad] at instants; `node` is N in degrees."""

    s: Array
    h: Array
    p: Array
    p1: Array
    node: Array
    inclination: Array  # I, of the moon's orbit to the equator
    xi: Array
    nu: Array
    nu_prime: Array
    nu_second: Array  # 2ν″


def named(name: str, field: str = "constituents") -> str:
    """The name that a constituent goes by here. Raises SiteRefused, with the nearest, for one that is not known."""
    wanted = str(name).strip().translate(_GREEK).upper().replace("(", "").replace(")", "")
    wanted = _ALIASES.get(wanted, wanted)
    if wanted in _TABLE:
        return wanted
    near = difflib.get_close_matches(wanted, NAMES, 3)
    like = f"Did you mean {' or '.join(near)}?" if near else f"Known are: {', '.join(NAMES)}."
    raise SiteRefused(f"{field}: there is no constituent “{name}”.", like, field=field)


def speed_deg_h(name: str) -> float:
    """How fast a constituent's argument grows [°/h]."""
    return float(np.dot(_TABLE[named(name)][:5], _SPEEDS))


def sky(utc: Array) -> Sky:
    """Mean longitudes and the node's angles at instants [s since 1970]."""
    t = (np.asarray(utc, np.float64) - EPOCH_1900_S) / (DAY_S * 36_525.0)
    s = 270.437_422 + (1336 * 360 + 307.892) * t + 0.002_525 * t**2 + 0.000_001_89 * t**3
    h = 279.696_678 + 36_000.768_925 * t + 0.000_302_5 * t**2
    p = 334.328_019 + (11 * 360 + 109.032_206) * t - 0.010_344_4 * t**2 - 0.000_012_5 * t**3
    p1 = 281.220_833 + 1.719_175 * t + 0.000_452_8 * t**2 + 0.000_003_3 * t**3
    node = 259.182_533 - (5 * 360 + 134.142_397) * t + 0.002_105_6 * t**2 + 0.000_002_2 * t**3
    n = np.radians(np.mod(node, 360.0))
    tilt = np.arccos(np.cos(INCLINATION) * np.cos(OBLIQUITY) - np.sin(INCLINATION) * np.sin(OBLIQUITY) * np.cos(n))
    half = np.arctan2(np.sin(n / 2), np.cos(n / 2))
    one = _quarter(np.cos((OBLIQUITY - INCLINATION) / 2) / np.cos((OBLIQUITY + INCLINATION) / 2), half)
    two = _quarter(np.sin((OBLIQUITY - INCLINATION) / 2) / np.sin((OBLIQUITY + INCLINATION) / 2), half)
    nu, xi = one - two, n - one - two
    twice = np.sin(2 * tilt)
    square = np.sin(tilt) ** 2
    return Sky(
        s, h, p, p1, np.mod(node, 360.0), tilt, xi, nu,
        np.arctan2(twice * np.sin(nu), twice * np.cos(nu) + 0.3347),
        np.arctan2(square * np.sin(2 * nu), square * np.cos(2 * nu) + 0.0727),
    )  # fmt: skip


def _quarter(factor: float, half: Array) -> Array:
    """The angle whose tangent is factor·tan(half), in the same half turn as `half`."""
    return np.asarray(np.arctan2(factor * np.sin(half), np.cos(half)))


def argument_deg(name: str, utc: Array, seen: Sky | None = None) -> Array:
    """V at instants [°, 0–360), without the nodal correction."""
    at = np.asarray(utc, np.float64)
    there = sky(at) if seen is None else seen
    hours, s, h, p, p1, fixed, _ = _TABLE[named(name)]
    solar = 360.0 * np.mod(at / DAY_S, 1.0)
    total = hours * solar + s * there.s + h * there.h + p * there.p + p1 * there.p1 + fixed
    return np.asarray(np.mod(total, 360.0))


def nodal(name: str, seen: Sky) -> tuple[Array, Array]:
    """Nodal factor f and angle u [°] of a constituent."""
    kind = _TABLE[named(name)][6]
    one = np.ones_like(seen.inclination)
    if not kind:
        return one, 0.0 * one
    f, u = _NODAL[kind](seen)
    return f * one, np.degrees(u) * one


def _m2(seen: Sky) -> tuple[Array, Array]:
    return np.cos(seen.inclination / 2) ** 4 / 0.9154, 2 * seen.xi - 2 * seen.nu


def _o1(seen: Sky) -> tuple[Array, Array]:
    tilt = seen.inclination
    return np.sin(tilt) * np.cos(tilt / 2) ** 2 / 0.3800, 2 * seen.xi - seen.nu


def _k1(seen: Sky) -> tuple[Array, Array]:
    twice = np.sin(2 * seen.inclination)
    return np.sqrt(0.8965 * twice**2 + 0.6001 * twice * np.cos(seen.nu) + 0.1006), -seen.nu_prime


def _k2(seen: Sky) -> tuple[Array, Array]:
    square = np.sin(seen.inclination) ** 2
    return np.sqrt(19.0444 * square**2 + 2.7702 * square * np.cos(2 * seen.nu) + 0.0981), -seen.nu_second


def _l2(seen: Sky) -> tuple[Array, Array]:
    f, u = _m2(seen)
    perigee = np.radians(seen.p) - seen.xi
    square = np.tan(seen.inclination / 2) ** 2
    factor = np.sqrt(1 - 12 * square * np.cos(2 * perigee) + 36 * square**2)
    turn = np.arctan2(np.sin(2 * perigee), 1 / (6 * square) - np.cos(2 * perigee))
    return f * factor, u - turn


def _m1(seen: Sky) -> tuple[Array, Array]:
    f, _ = _o1(seen)
    perigee = np.radians(seen.p) - seen.xi
    turn = np.arctan2(0.483 * np.sin(perigee), np.cos(perigee))
    return f * np.sqrt(2.310 + 1.435 * np.cos(2 * perigee)), -seen.nu - (perigee - turn)


def _of_m2(times: int, k1: int = 0) -> Callable[[Sky], tuple[Array, Array]]:
    """Of a compound of several M2, and K1 added or taken away."""

    def corrected(seen: Sky) -> tuple[Array, Array]:
        f, u = _m2(seen)
        fk, uk = _k1(seen)
        return f ** abs(times) * fk ** abs(k1), times * u + k1 * uk

    return corrected


_NODAL: dict[str, Callable[[Sky], tuple[Array, Array]]] = {
    "M2": _of_m2(1), "-M2": _of_m2(-1), "2M2": _of_m2(2), "3M2": _of_m2(3), "4M2": _of_m2(4),
    "M2+K1": _of_m2(1, 1), "2M2-K1": _of_m2(2, -1), "O1": _o1, "K1": _k1, "K2": _k2, "L2": _l2, "M1": _m1,
    "MM": lambda seen: ((2 / 3 - np.sin(seen.inclination) ** 2) / 0.5021, 0.0 * seen.nu),
    "MF": lambda seen: (np.sin(seen.inclination) ** 2 / 0.1578, -2 * seen.xi),
    "J1": lambda seen: (np.sin(2 * seen.inclination) / 0.7214, -seen.nu),
    "OO1": lambda seen: (
        np.sin(seen.inclination) * np.sin(seen.inclination / 2) ** 2 / 0.0164, -2 * seen.xi - seen.nu
    ),
    "M3": lambda seen: (np.cos(seen.inclination / 2) ** 6 / 0.8758, 3 * seen.xi - 3 * seen.nu),
}  # fmt: skip
