"""Tides against NOAA's own predictions, the handbook's intermediate values, and an independent library."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import SiteRefused
from refarchive.site import constituents, tide
from refarchive.site.tide import Constituent, Harmonic, Printed, highs_and_lows, secondary

# Seattle, NOAA station 9447130: harmonic constituents in metres and degrees for Greenwich (public-domain NOAA data).
SEATTLE = """M2 1.063 10.8, S2 .268 36.8, N2 .214 341.1, K1 .834 276.8, O1 .459 254.6, P1 .257 276.2, K2 .079 37.7,
Q1 .073 248.9, M4 .021 200.7, M6 .009 312.8, MK3 .036 79.3, S4 .002 254.3, MN4 .009 172.7, NU2 .044 355.5,
MU2 .034 238.9, 2N2 .023 313.1, OO1 .031 330.2, LAM2 .020 49.9, S1 .021 45, M1 .024 304.1, J1 .043 313.4, SSA .024 217,
SA .070 283.2, MF .015 157, RHO .015 245, T2 .016 38, R2 .003 11.2, 2Q1 .010 265.5, 2SM2 .008 284.4, M3 .004 178,
L2 .049 58.7, 2MK3 .035 48.5, M8 .001 204.4, MS4 .012 229.3"""
MEAN = 4.443 - 2.419  # mean sea level over mean lower low water
FOOT = 0.3048
MAIN = ("M2", "S2", "N2", "K1", "O1", "P1", "K2", "Q1")


def utc(*when: int) -> float:
    return datetime.datetime(*when, tzinfo=datetime.UTC).timestamp()  # type: ignore[arg-type]


def seattle(*names: str) -> Harmonic:
    rows = [part.split() for part in SEATTLE.replace("\n", " ").split(", ")]
    kept = tuple(Constituent(n, float(a), float(g)) for n, a, g in rows if not names or n in names)
    return Harmonic(kept, MEAN, "MLLW")


NOAA = [  # NOAA's prediction for 2019-08-30, PDT and feet above MLLW, as universal time
    (utc(2019, 8, 30, 11, 39), 11.110, "high"),
    (utc(2019, 8, 30, 18, 23), -2.062, "low"),
    (utc(2019, 8, 31, 1, 18), 11.894, "high"),
]


@pytest.mark.parametrize(("at", "feet", "kind"), NOAA)
def test_seattle_is_noaas_own_prediction(at: float, feet: float, kind: str) -> None:
    found = highs_and_lows(seattle(), at - 7_200, at + 7_200)
    assert [one[2] for one in found] == [kind]
    assert found[0][0] == pytest.approx(at, abs=300)
    assert found[0][1] == pytest.approx(feet * FOOT, abs=0.03)


def test_the_main_eight_alone_and_no_nodal_corrections_are_worse(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight constituents give 3.397, −0.392 and 3.810 m; without nodal terms the error passes 0.1 m."""
    at = [when for when, _, _ in NOAA]
    eight = [highs_and_lows(seattle(*MAIN), t - 7_200, t + 7_200)[0][1] for t in at]
    assert eight == pytest.approx([3.397, -0.392, 3.810], abs=0.01)
    monkeypatch.setattr(constituents, "_NODAL", {k: lambda seen: (1.0, 0.0 * seen.nu) for k in constituents._NODAL})
    plain = seattle().height_m(np.array(at))
    assert np.abs(plain - [feet * FOOT for _, feet, _ in NOAA]).max() > 0.1


def test_the_nodes_angles_are_the_handbooks() -> None:
    """Intermediates for 2019-08-30 00:00 UT, worked out by an independent programme of Schureman's formulas."""
    at = np.array([utc(2019, 8, 30)])
    seen = constituents.sky(at)
    assert seen.node[0] == pytest.approx(104.810, abs=0.01)
    assert np.degrees(seen.inclination[0]) == pytest.approx(22.6457, abs=0.02)
    assert np.degrees([seen.xi[0], seen.nu[0]]) == pytest.approx([11.983, 13.013], abs=0.02)
    for name, f, u in (("M2", 1.0097, -2.06), ("K1", 0.9843, -8.86), ("O1", 0.9742, 10.95), ("K2", 0.9411, -17.53)):
        found = constituents.nodal(name, seen)
        assert (found[0][0], found[1][0]) == (pytest.approx(f, abs=0.001), pytest.approx(u, abs=0.02))
    for name, degrees in (("M2", 12.95), ("N2", 24.81), ("K1", 247.91), ("O1", 125.04)):
        assert constituents.argument_deg(name, at)[0] == pytest.approx(degrees, abs=0.1)


@pytest.mark.parametrize(
    ("name", "speed"),
    [("M2", 28.9841042), ("S2", 30.0), ("N2", 28.4397295), ("K1", 15.0410686), ("O1", 13.9430356)],
)
def test_speeds_are_those_of_the_hydrographic_organizations_list(name: str, speed: float) -> None:
    assert constituents.speed_deg_h(name) == pytest.approx(speed, abs=1e-6)
    hour = constituents.argument_deg(name, np.array([utc(2020, 1, 1), utc(2020, 1, 1, 1)]))
    assert np.diff(hour)[0] % 360 == pytest.approx(speed, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "least", "most"), [("M2", 0.963, 1.038), ("O1", 0.81, 1.18), ("K1", 0.88, 1.11), ("K2", 0.75, 1.32)]
)
def test_nodal_factors_swing_as_far_as_the_handbook_says(name: str, least: float, most: float) -> None:
    span = utc(2000, 1, 1) + np.arange(0, 18.6 * 365.25, 5) * 86_400
    f, _ = constituents.nodal(name, constituents.sky(span))
    assert (f.min(), f.max()) == (pytest.approx(least, abs=0.01), pytest.approx(most, abs=0.01))


def test_another_library_agrees_over_many_years() -> None:
    """uptide, written at Imperial College, on the eight main constituents: within 3 cm from 1990 to 2030 (it takes the
    nodal terms of a day, and other mean longitudes).
    """
    import uptide

    own = seattle(*MAIN)
    names = [one.name for one in own.constituents]
    random = np.random.default_rng(7)
    off = []
    for _ in range(20):
        start = utc(1990, 1, 1) + random.uniform(0, 40 * 365.25 * 86_400)
        theirs = uptide.Tides(names)
        theirs.set_initial_time(datetime.datetime.fromtimestamp(start, datetime.UTC).replace(tzinfo=None))
        at = np.arange(0, 86_400, 3_600.0)
        amplitudes = np.array([one.amplitude_m for one in own.constituents])
        phases = np.radians([one.phase_deg for one in own.constituents])
        other = np.array([theirs.from_amplitude_phase(amplitudes, phases, t) for t in at]) + MEAN
        off.append(np.abs(own.height_m(start + at) - other).max())
    assert max(off) < 0.03


def test_phases_of_another_clock_are_turned_to_greenwich() -> None:
    """A phase given for local time is later by the constituent's speed times the hours ahead."""
    at = np.array([utc(2019, 8, 30, 5)])
    plain = Harmonic((Constituent("M2", 1.0, 100.0),), 0.0, "x")
    moved = Harmonic((Constituent("M2", 1.0, 100.0 - 8 * 28.9841042),), 0.0, "x", -8.0)
    assert moved.height_m(at) == pytest.approx(plain.height_m(at), abs=1e-6)


# -- printed tables and secondary ports --------


def test_half_a_cosine_between_printed_entries() -> None:
    """The rule of twelfths comes near it: 1/12, 3/12, 6/12, 9/12, 11/12."""
    table = Printed(((0.0, 1.0), (6 * 3_600.0, 5.0), (12 * 3_600.0, 0.5)), "chart datum")
    part = (table.height_m(np.arange(1, 6) * 3_600.0) - 1.0) / 4.0
    assert part == pytest.approx([0.0670, 0.25, 0.5, 0.75, 0.9330], abs=1e-4)
    assert part == pytest.approx(np.array([1, 3, 6, 9, 11]) / 12, abs=0.02)
    assert np.isnan(table.height_m(np.array([-1.0, 12 * 3_600 + 1.0]))).all()
    assert "half a cosine" in table.method
    assert highs_and_lows(table, 0.0, 12 * 3_600.0) == (
        (0.0, 1.0, "low"), (6 * 3_600.0, 5.0, "high"), (12 * 3_600.0, 0.5, "low"),
    )  # fmt: skip


FOUR = Printed(((0.0, 1.0), (22_000.0, 5.0), (44_000.0, 0.5), (66_000.0, 5.2)), "chart datum")


def test_a_secondary_port_worked_by_hand() -> None:
    port = secondary(FOUR, 22_000.0, 44_000.0, high_min=25, low_min=40, high_m=-0.6, low_m=0.1)
    assert port.entries[1] == (22_000.0 + 25 * 60, pytest.approx(4.4))
    assert port.entries[2] == (44_000.0 + 40 * 60, pytest.approx(0.6))
    middle = (port.entries[1][0] + port.entries[2][0]) / 2
    assert float(port.height_m(middle)) == pytest.approx(2.5)


def test_a_secondary_port_by_ratios_says_what_it_is() -> None:
    """NOAA's tide tables (Table 2): a ratio is multiplied with the height, and metres with it are then added."""
    port = secondary(
        FOUR, 0.0, 66_000.0, high_min=-10, low_min=5, high_ratio=0.8, low_ratio=1.1, low_m=0.2, datum="LAT"
    )
    assert port.entries == (
        (300.0, pytest.approx(1.3)), (21_400.0, pytest.approx(4.0)), (44_300.0, pytest.approx(0.75)),
        (65_400.0, pytest.approx(4.16)),
    )  # fmt: skip
    assert port.datum == "LAT"
    for words in ("secondary port", "high water −10 min, × 0.8", "low water +5 min, × 1.1, +0.20 m", "above LAT"):
        assert words in port.method
    assert "printed high and low waters" in port.method  # of the standard port
    assert "secondary" not in FOUR.method


@pytest.mark.parametrize("late_s", [0.0, 1.0, 300.0])
@pytest.mark.parametrize("name", ["S2", "S4", "S6"])
def test_no_high_water_is_lost_between_equal_heights(name: str, late_s: float) -> None:
    """A solar tide is highest at hours known by arithmetic; the looks at it may lie as far before each as after it."""
    a_day = int(name[1])
    start = utc(2020, 3, 1) - 900.0 + late_s
    found = highs_and_lows(Harmonic((Constituent(name, 1.0, 0.0),), 0.0, "x"), start, start + 86_400)
    assert [kind for _, _, kind in found] == ["high", "low"] * a_day
    assert [at - utc(2020, 3, 1) for at, _, _ in found] == pytest.approx(
        [n * 43_200 / a_day for n in range(2 * a_day)], abs=1.0
    )
    assert [height for _, height, _ in found] == pytest.approx([1.0, -1.0] * a_day)


def test_water_that_stands_still_has_neither_high_nor_low() -> None:
    assert highs_and_lows(Harmonic((Constituent("M2", 0.0, 0.0),), 1.0, "x"), 0.0, 86_400.0) == ()


@settings(deadline=None, max_examples=6)
@given(days=st.floats(-20_000, 25_000))
def test_highs_and_lows_are_those_of_every_minute(days: float) -> None:
    """A mixed tide looked at each minute: the same highs and lows, within the minute."""
    water, start = seattle(), days * 86_400
    minutes = np.arange(start - 120, start + 2 * 86_400 + 180, 60.0)
    rising = np.diff(water.height_m(minutes)) > 0
    turns = np.flatnonzero(rising[1:] != rising[:-1]) + 1
    brute = [(minutes[n], "high" if rising[n - 1] else "low") for n in turns]
    found = highs_and_lows(water, minutes[1], minutes[-2])
    assert [kind for _, _, kind in found] == [kind for _, kind in brute]
    assert [at for at, _, _ in found] == pytest.approx([at for at, _ in brute], abs=60.5)


# -- marks --------


@settings(deadline=None, max_examples=12)
@given(bed=st.floats(-0.5, 3.5), least=st.floats(0.0, 1.0), more=st.floats(0.05, 1.5))
def test_spans_hold_every_minute_and_no_other(bed: float, least: float, more: float) -> None:
    start, end = utc(2019, 8, 30), utc(2019, 9, 1)
    spans = tide.spans_between(seattle(*MAIN), start, end, bed, least, least + more)
    minutes = np.arange(start, end, 60.0)
    depth = tide.depth_m(seattle(*MAIN), minutes, bed)
    told = np.array([any(at in span for span in spans) for at in minutes])
    held = (depth >= least) & (depth <= least + more)
    sure = np.minimum(np.abs(depth - least), np.abs(depth - least - more)) > 1e-4
    assert (told == held)[sure].all()


# -- refusing --------


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Harmonic((Constituent("M2", 1, 0),), 0.0, " "), "datum"),
        (lambda: Harmonic((), 0.0, "x"), "there are none"),
        (lambda: Harmonic((Constituent("M22", 1, 0),), 0.0, "x"), "no constituent “M22”. Did you mean M2"),
        (lambda: Harmonic((Constituent("M2", -1, 0),), 0.0, "x"), "amplitude_m"),
        (lambda: Harmonic((Constituent("M2", 1, float("nan")),), 0.0, "x"), "phase_deg"),
        (lambda: Harmonic((Constituent("M2", 1, 0), Constituent("m2", 1, 0)), 0.0, "x"), "M2 stands twice"),
        (lambda: Printed(((0.0, 1.0),), "x"), "needs two"),
        (lambda: Printed(((0.0, 1.0), (0.0, 2.0)), "x"), "entry 2: it is not later"),
        (lambda: Printed(((0.0, 999.0), (9.0, 2.0)), "x"), "entry 1, height_m"),
        (lambda: Printed(((0.0, 1.0), (float("inf"), 2.0)), "x"), "entry 2, time"),
        (
            lambda: secondary(FOUR, 0.0, 66_000.0, high_min=600, low_min=-600),
            "do not follow each other .entry 3: it is",
        ),
        (lambda: secondary(FOUR, 0.0, 66_000.0, high_m=float("nan")), "high_m"),
        (lambda: secondary(FOUR, 0.0, 66_000.0, low_ratio=-1), "low_ratio"),
        (lambda: Printed(((0.0, 1.0), (1.0, 1.0)), "x"), "entry 2: it is as high"),
        (lambda: Printed(((0.0, 1.0), (1.0, 2.0), (2.0, 3.0)), "x"), "entry 3: the water goes on rising"),
        (lambda: highs_and_lows(seattle("M2"), 1.0, 1.0), "after the start"),
        (lambda: highs_and_lows(seattle("M2"), 0.0, 1e9), "more than 800 days"),
        (lambda: tide.spans_between(seattle("M2"), 0.0, 1e4, 0.0, 2.0, 1.0), "less than the least"),
        (
            lambda: tide.spans_between(Printed(((0.0, 1.0), (9.0, 2.0)), "x"), 0.0, 10.0, 0.0, 0.0, 1.0),
            "does not reach over",
        ),
    ],
)
def test_what_cannot_be_is_refused(make, words: str) -> None:
    with pytest.raises(SiteRefused, match=words):
        make()
