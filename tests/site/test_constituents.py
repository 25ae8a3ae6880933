"""Arguments and nodal terms of every constituent against the tide-raising force, reckoned by an ephemeris."""

from __future__ import annotations

import csv
import datetime
from pathlib import Path

import numpy as np
import pytest

from refarchive.site import moon
from refarchive.site.constituents import NAMES, Sky, argument_deg, nodal, sky
from refarchive.site.instants import DAY_S, day_start

DUTCH = Path(__file__).parents[1] / "authorities" / "hatyan_schureman.csv"

# Coefficients of the tide-raising potential in Doodson's normalization: Cartwright & Edden 1973 (from memory); M1 is
# Schureman's, of both terms together.
POTENTIAL = {
    0: {"MF": 0.1564, "MM": 0.0825, "SSA": 0.0728},
    1: {
        "K1": 0.5305, "O1": 0.3769, "P1": 0.1755, "Q1": 0.0722, "J1": 0.0296, "M1": 0.0209, "OO1": 0.0162,
        "RHO": 0.0137, "2Q1": 0.0096,
    },
    2: {
        "M2": 0.9081, "S2": 0.4229, "N2": 0.1739, "K2": 0.1151, "NU2": 0.0330, "MU2": 0.0278, "L2": 0.0257,
        "T2": 0.0248, "2N2": 0.0230, "LAM2": 0.0067, "R2": 0.0035,
    },
}  # fmt: skip


@pytest.mark.parametrize("year", [2006, 2015, 2019])  # the moon's orbit steepest, flattest and between
def test_the_tide_raising_force_of_moon_and_sun_is_made_of_these(year: int) -> None:
    """The force reckoned from places of moon and sun by JPL's ephemeris through a year is fitted with the arguments and
    nodal terms: every coefficient comes out as published, with a phase of nought. What a year cannot part from
    constituents left out here stays below the limit; a wrong sign of the smallest, R2, does not.
    """
    at = day_start((year, 1, 1)) + np.arange(0, 366 * DAY_S, 7200)
    force = {turn: np.zeros(len(at)) for turn in (0, 1, 2, 3)}
    with moon._ephemeris() as bodies:
        sidereal = np.asarray(moon._times(at).gast) * 15
        for body, mass in (("moon", 1.0), ("sun", 27_068_703.1)):  # in moons (IAU)
            ascension, declination, distance = moon._at_earth(bodies, at).observe(bodies[body]).radec("date")
            d, turned_by = declination.radians, np.radians(sidereal - ascension.hours * 15)
            near = 384_400 / distance.km
            force[0] += mass * near**3 * (2 / 3 - 2 * np.sin(d) ** 2)
            force[1] += mass * near**3 * np.sin(2 * d) * np.cos(turned_by)
            force[2] += mass * near**3 * np.cos(d) ** 2 * np.cos(2 * turned_by)
            force[3] += mass * near**4 * np.cos(d) ** 3 * np.cos(3 * turned_by)
    seen = sky(at)
    for turn, wanted in POTENTIAL.items():
        for name, found in fitted(force[turn], list(wanted), at, seen).items():
            assert abs(found - wanted[name]) < (0.0045 if turn else 0.013), name
    m3 = fitted(force[3], ["M3"], at, seen)["M3"]
    assert m3 == pytest.approx(0.86, abs=0.012)  # of one size at all ages of the node, and in phase


def fitted(curve: np.ndarray, names: list[str], at: np.ndarray, seen: Sky) -> dict[str, complex]:
    columns = [np.ones(len(curve))]
    for name in names:
        f, u = nodal(name, seen)
        angle = np.radians(argument_deg(name, at, seen) + u)
        columns += [f * np.cos(angle), f * np.sin(angle)]
    found = np.linalg.lstsq(np.array(columns).T, curve, rcond=None)[0]
    return {name: complex(found[1 + 2 * n], found[2 + 2 * n]) for n, name in enumerate(names)}


def test_arguments_of_another_library() -> None:
    """uptide's, at 60 dates through two centuries: all that it shares with ours, but its M1 goes without p, and its MK3
    without the right angle of K1 (with which NOAA's Seattle prediction is met, and without which it is not).
    """
    import uptide

    shared = [name for name in NAMES if name in uptide.tidal.omega and name not in ("M1", "MK3")]
    assert len(shared) > 25
    for days in np.random.default_rng(7).integers(-36_000, 36_000, 60).tolist():
        when = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC) + datetime.timedelta(days=days, hours=days % 24)
        theirs = np.degrees(uptide.tidal.tidal_arguments(shared, when.replace(tzinfo=None)))
        at = np.array([when.timestamp()])
        ours = np.array([argument_deg(name, at)[0] for name in shared])
        off = (theirs - ours + 180) % 360 - 180
        assert np.abs(off).max() < 0.1, dict(zip(shared, off.round(2), strict=True))


@pytest.mark.parametrize("name", NAMES)
def test_arguments_and_nodal_terms_of_the_dutch_authority(name: str) -> None:
    """hatyan of Rijkswaterstaat, Schureman's formulas written by others: every constituent, the compounds among them,
    through the node's turn. M1's factor is Schureman's for the mean inclination here, for the day's there.
    """
    rows = {row[0]: row[1:] for row in csv.reader(DUTCH.read_text(encoding="utf-8").splitlines())}
    theirs_v, theirs_u, theirs_f = np.array(rows[name], np.float64).reshape(3, 3).T
    hours = ((1934, 5, 17), 7), ((1978, 12, 3), 16), ((2027, 10, 11), 14)
    at = np.array([day_start(day) + hour * 3_600 for day, hour in hours])
    f, u = nodal(name, sky(at))
    assert np.abs((argument_deg(name, at) - theirs_v + 180) % 360 - 180).max() < 0.06
    assert np.abs((u - theirs_u + 180) % 360 - 180).max() < (0.6 if name == "M1" else 0.02)
    assert np.abs(f - theirs_f).max() < {"M1": 0.04, "OO1": 0.004}.get(name, 0.002)
