"""Exposure against published values of EV, meters, guide numbers and filters; ratios under all their names."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import LightingRefused
from refarchive.lighting import exposure as ex

STOPS = st.floats(-15, 15)


# -- against published values --------


@pytest.mark.parametrize(
    ("f_number", "shutter_s", "ev"),
    [(16, 1 / 125, 14.965784), (8, 1 / 60, 11.906891)],  # colour-hdri's documentation
)
def test_exposure_value(f_number: float, shutter_s: float, ev: float) -> None:
    assert ex.exposure_value(f_number, shutter_s) == pytest.approx(ev, abs=1e-6)


def test_marks_against_the_powers_of_two_they_stand_for() -> None:
    """f/5.6 at its mark is 0.029 EV from 2^2.5."""
    exact = ex.exact_f_number(5.6)
    assert exact == pytest.approx(5.65685, abs=1e-5)
    assert ex.exposure_value(exact, 1) - ex.exposure_value(5.6, 1) == pytest.approx(0.029, abs=5e-4)


def test_meters_of_iso_2720() -> None:
    """0.125 cd/m² and 2.5 lx are EV 0 at ISO 100 (colour-hdri's documentation, K 12.5 and C 250)."""
    assert ex.ev100_of_luminance(0.125) == pytest.approx(0, abs=1e-12)
    assert ex.ev100_of_illuminance(2.5) == pytest.approx(0, abs=1e-12)
    assert ex.luminance_cd_m2(15) == 4096
    assert ex.illuminance_lx(15) == 81_920


@pytest.mark.parametrize("ev", range(-4, 17))
def test_luminance_is_two_to_the_ev_less_three(ev: int) -> None:
    """L = 2^(EV−3) for K 12.5, as encyclopaedic tables of EV give it after Ray 2000."""
    assert ex.luminance_cd_m2(ev) == pytest.approx(2.0 ** (ev - 3), rel=1e-12)


def test_the_two_readings_agree_on_15_7_percent() -> None:
    assert ex.meter_reflectance() == pytest.approx(0.15708, abs=1e-5)
    said = ex.meter_note()
    assert "15.7 %, not 18 %" in said
    assert "0.20 stop brighter" in said
    assert "outside" not in said


@pytest.mark.parametrize(
    ("k", "c", "outside"),
    [(10.6, 240, 0), (13.4, 540, 0), (10.5, 250, 1), (13.5, 250, 1), (12.5, 239, 1), (12.5, 541, 1), (14, 600, 2)],
)
def test_constants_outside_iso_2720_are_said(k: float, c: float, outside: int) -> None:
    """K 10.6–13.4; C 240–400 flat, 320–540 dome (ISO 2720, as colour-hdri's documentation quotes it)."""
    assert ex.meter_note(k, c).count("outside") == outside


@pytest.mark.parametrize(
    ("f_number", "shutter_s", "iso", "av", "tv", "sv", "bv"),
    [  # the scales of ASA PH2.5-1960, in whole steps: f/1 is Av 0, 1 s Tv 0, ISO 100 Sv 5
        (1, 1, 100, 0, 0, 5, -5),
        (16, 1 / 128, 100, 8, 7, 5, 10),
        (4, 1 / 4, 400, 4, 2, 7, -1),
        (2, 8, 3.125, 2, -3, 0, -1),
    ],
)
def test_apex(f_number: float, shutter_s: float, iso: float, av: float, tv: float, sv: float, bv: float) -> None:
    found = ex.apex(f_number, shutter_s, iso)
    assert (found.aperture_value, found.time_value, found.speed_value) == pytest.approx((av, tv, sv))
    assert found.brightness_value == pytest.approx(bv)
    assert found.exposure_value == pytest.approx(ex.exposure_value(f_number, shutter_s))


@pytest.mark.parametrize(
    ("marks", "steps", "first"),
    [  # the marks engraved and shown on lenses and cameras, from f/1 on
        ("1 1.4 2 2.8 4 5.6 8 11 16 22 32 45 64", "full", 1),
        ("1 1.2 1.4 1.7 2 2.4 2.8 3.3 4 4.8 5.6 6.7 8 9.5 11 13 16 19 22", "half", 2),
        ("1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22", "third", 3),
    ],
)
def test_marked_f_numbers(marks: str, steps: ex.Steps, first: int) -> None:
    for step, mark in enumerate(marks.split()):
        assert ex.exact_f_number(float(mark), steps) == pytest.approx(2 ** (step / first / 2), rel=1e-12)


@pytest.mark.parametrize(
    ("marks", "steps", "per_stop"),
    [  # the denominators marked on cameras, from 1/2 on
        ("2 4 8 15 30 60 125 250 500 1000 2000 4000 8000", "full", 1),
        ("2 3 4 6 8 10 15 20 30 45 60 90 125 180 250 350 500 750 1000 1500 2000 3000 4000 6000 8000", "half", 2),
        (
            "2 2.5 3 4 5 6 8 10 13 15 20 25 30 40 50 60 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 "
            "2500 3200 4000 5000 6400 8000",
            "third",
            3,
        ),
    ],
)
def test_marked_times(marks: str, steps: ex.Steps, per_stop: int) -> None:
    for step, mark in enumerate(marks.split()):
        assert 1 / ex.exact_shutter_s(1 / float(mark), steps) == pytest.approx(2 ** (1 + step / per_stop), rel=1e-12)


@pytest.mark.parametrize(
    ("marked", "exact"),
    [(0.3, 2 ** (-5 / 3)), (0.6, 2 ** (-2 / 3)), (1.3, 2 ** (1 / 3)), (13, 2 ** (11 / 3)), (30, 32)],
)
def test_marked_long_times(marked: float, exact: float) -> None:
    assert ex.exact_shutter_s(marked) == pytest.approx(exact)


@pytest.mark.parametrize(("mark", "steps"), [(6.3, "full"), (9, "full"), (3.5, "full"), (4.5, "half"), (1.8, "half")])
def test_a_mark_of_another_scale_is_refused(mark: float, steps: ex.Steps) -> None:
    with pytest.raises(LightingRefused) as refused:
        ex.exact_f_number(mark, steps)
    assert refused.value.field == "f_number"


def test_a_time_of_another_scale_and_an_unknown_scale_are_refused() -> None:
    with pytest.raises(LightingRefused, match="no mark"):
        ex.exact_shutter_s(1 / 100, "full")
    with pytest.raises(LightingRefused, match="full, half or third"):
        ex.exact_f_number(8, "fifth")  # type: ignore[arg-type]


def test_guide_numbers() -> None:
    """GN 32 at 4 m → f/8; GN 51 at ISO 200 → 102 at ISO 800 (Open Photographic Society)."""
    assert ex.flash_f_number(32, 4) == 8
    assert ex.flash_distance_m(32, 8) == 4
    at_100 = 51 / math.sqrt(2)
    assert ex.guide_number_m(at_100, iso=200) == pytest.approx(51)
    assert ex.guide_number_m(at_100, iso=800) == pytest.approx(102)


def test_guide_number_by_power_and_units() -> None:
    assert ex.guide_number_m(40, power=1 / 4) == 20
    assert ex.guide_number_m(40, units=4) == 80
    assert ex.feet(0.3048) == 1
    assert ex.metres(ex.feet(17.0)) == pytest.approx(17.0)


def test_energy() -> None:
    """2000 µF at 350 V hold 122.5 J (½CV²)."""
    assert ex.energy_stops(200, 600) == pytest.approx(1.584963, abs=1e-6)
    assert ex.stored_energy_ws(2000, 350) == pytest.approx(122.5)


@pytest.mark.parametrize(
    ("density", "stops", "factor"), [(0.3, 0.9966, 1.995262), (0.9, 2.9897, 7.943282), (3.0, 9.9658, 1000)]
)
def test_grey_filters(density: float, stops: float, factor: float) -> None:
    """Density is the logarithm of the factor: 3.0 is 1000, not 1024."""
    found = ex.grey_filter(density=density)
    assert found.stops == pytest.approx(stops, abs=5e-5)
    assert found.factor == pytest.approx(factor, rel=1e-6)
    assert ex.grey_filter(factor=found.factor).density == pytest.approx(density)
    assert ex.grey_filter(stops=found.stops).density == pytest.approx(density)


@pytest.mark.parametrize(
    ("stops", "ratio", "lit_to_shadow"), [(0, 2, 1), (1, 3, 1.585), (2, 5, 2.322), (3, 9, 3.170), (4, 17, 4.087)]
)
def test_ratios(stops: float, ratio: float, lit_to_shadow: float) -> None:
    """(K + F) : F of 2, 3, 5, 9 and 17 : 1 for 0 to 4 stops between key and fill, the usual printed table."""
    found = ex.ratio_of_stops(stops)
    assert found.key_and_fill_to_fill == pytest.approx(ratio)
    assert found.key_to_fill == pytest.approx(ratio - 1)
    assert found.lit_to_shadow_stops == pytest.approx(lit_to_shadow, abs=6e-4)
    assert f"(K + F) : F = {ratio} : 1, K : F = {ratio - 1} : 1" in found.words


@pytest.mark.parametrize(("ambient", "added"), [(0, 1.0), (-1, 0.585), (-2, 0.322)])
def test_ambient_on_top_of_flash(ambient: float, added: float) -> None:
    assert ex.sum_of_stops((0, ambient)) == pytest.approx(added, abs=5e-4)


# -- what must hold --------


@given(STOPS)
def test_ratio_there_and_back(stops: float) -> None:
    found = ex.ratio_of_stops(stops)
    assert ex.ratio_of_key_to_fill(found.key_to_fill).key_over_fill_stops == pytest.approx(stops, abs=1e-9)
    again = ex.ratio_of_contrast(found.lit_to_shadow_stops).key_over_fill_stops
    assert again == pytest.approx(stops, abs=1e-6)
    assert ex.ratio_of_key_and_fill_to_fill(found.key_and_fill_to_fill).key_over_fill_stops == pytest.approx(
        stops, abs=1e-6
    )


@given(st.lists(STOPS, min_size=1, max_size=6))
def test_light_adds(stops: list[float]) -> None:
    assert 2 ** ex.sum_of_stops(stops) == pytest.approx(sum(2**one for one in stops))


@given(st.floats(0.7, 64), st.floats(1e-4, 60), st.floats(25, 25_600))
def test_iso_moves_ev_by_its_stops(f_number: float, shutter_s: float, iso: float) -> None:
    ev = ex.exposure_value(f_number, shutter_s)
    assert ex.ev_at_iso(ex.ev100_of(ev, iso), iso) == pytest.approx(ev)
    assert ex.ev100_of(ev, iso) == pytest.approx(ex.apex(f_number, shutter_s, iso).brightness_value + 5)


@given(st.floats(-12, 0))
def test_power_there_and_back(stops: float) -> None:
    assert ex.power_stops(ex.power_fraction(stops)) == pytest.approx(stops, abs=1e-9)


def mixed(**changed: float) -> ex.Mixed:
    given = {
        "flash_reading": 8.0,
        "flash_reading_iso": 100.0,
        "ambient_ev100": ex.exposure_value(8, 1 / 64),
        "f_number": 8.0,
        "shutter_s": 1 / 64,
        "iso": 100.0,
        "sync_s": 1 / 200,
    }
    return ex.flash_and_ambient(**(given | changed))


def test_aperture_and_iso_change_both_and_the_time_ambient_only() -> None:
    base = mixed()
    assert (base.flash_stops, base.ambient_stops, base.total_stops) == pytest.approx((0, 0, 1))
    wider = mixed(f_number=8 / math.sqrt(2))
    assert (wider.flash_stops, wider.ambient_stops) == pytest.approx((1, 1))
    faster = mixed(iso=400.0)
    assert (faster.flash_stops, faster.ambient_stops) == pytest.approx((2, 2))
    shorter = mixed(shutter_s=1 / 128)
    assert (shorter.flash_stops, shorter.ambient_stops) == pytest.approx((0, -1))
    assert shorter.total_stops == pytest.approx(0.585, abs=5e-4)
    assert "ambient −1.0" in shorter.sentence
    assert mixed(flash_reading_iso=200.0).flash_stops == pytest.approx(-1)


def test_a_time_under_the_sync_limit_is_refused() -> None:
    with pytest.raises(LightingRefused, match=r"sync limit is 1/200 s") as refused:
        mixed(shutter_s=1 / 250)
    assert refused.value.field == "shutter_s"
    assert refused.value.next_step
    assert mixed(shutter_s=1 / 200).flash_stops == pytest.approx(0)


def test_a_flash_as_long_as_the_shutter_is_said_to_be_cut() -> None:
    assert "cut off" in mixed(shutter_s=1 / 200, flash_t01_s=1 / 150).sentence
    assert "cut off" not in mixed(shutter_s=1 / 200, flash_t01_s=1 / 1000).sentence


@pytest.mark.parametrize(
    ("f_number", "words"),
    [
        (5.65685, "f/5.6"),
        (6.3, "f/5.6 + 0.3"),
        (8, "f/8"),
        (1, "f/1"),
        (0.5, "f/0.5"),
        (13.45, "f/11 + 0.5"),
        (900, "f/9e+02"),
    ],
)
def test_f_numbers_as_a_meter_shows_them(f_number: float, words: str) -> None:
    assert ex.f_number_words(f_number) == words


@pytest.mark.parametrize(
    ("power", "words"), [(1, "full"), (1 / 8, "1/8"), (1 / 128, "1/128"), (2**-2.7, "1/8 + 0.3"), (0.96, "1/2 + 0.9")]
)
def test_powers_as_they_are_set(power: float, words: str) -> None:
    assert ex.power_words(power) == words


@pytest.mark.parametrize(
    ("seconds", "words"), [(1 / 125, "1/125 s"), (0.5, "0.5 s"), (30, "30 s"), (1 / 8000, "1/8000 s")]
)
def test_times_as_they_are_marked(seconds: float, words: str) -> None:
    assert ex.shutter_words(seconds) == words


# -- what is refused --------


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: ex.exposure_value(0, 1), "f_number"),
        (lambda: ex.exposure_value(8, 0), "shutter_s"),
        (lambda: ex.exposure_value(float("nan"), 1), "f_number"),
        (lambda: ex.exposure_value("8", 1), "f_number"),  # type: ignore[arg-type]
        (lambda: ex.exposure_value(True, 1), "f_number"),
        (lambda: ex.exposure_value(10**400, 1), "f_number"),
        (lambda: ex.exposure_value(1e200, 1), "f_number"),
        (lambda: ex.exposure_value(1e-300, 1), "f_number"),
        (lambda: ex.ev_at_iso(12, 0), "iso"),
        (lambda: ex.ev100_of(12, -100), "iso"),
        (lambda: ex.apex(8, 1, 0), "iso"),
        (lambda: ex.luminance_cd_m2(15, k=0), "k"),
        (lambda: ex.illuminance_lx(5000), "ev100"),
        (lambda: ex.ev100_of_luminance(0), "cd_m2"),
        (lambda: ex.ev100_of_illuminance(-1), "lx"),
        (lambda: ex.guide_number_m(0), "guide_number"),
        (lambda: ex.guide_number_m(40, power=-0.5), "power"),
        (lambda: ex.guide_number_m(40, power=2), "power"),
        (lambda: ex.guide_number_m(40, iso=0), "iso"),
        (lambda: ex.flash_f_number(40, 0), "distance_m"),
        (lambda: ex.flash_distance_m(40, 0), "f_number"),
        (lambda: ex.power_stops(0), "power"),
        (lambda: ex.power_fraction(1), "stops"),
        (lambda: ex.energy_stops(0, 1), "from_ws"),
        (lambda: ex.stored_energy_ws(2000, -350), "volts"),
        (lambda: ex.sum_of_stops(()), "stops"),
        (lambda: ex.grey_filter(), "filter"),
        (lambda: ex.grey_filter(stops=1, factor=2), "filter"),
        (lambda: ex.grey_filter(factor=0.5), "factor"),
        (lambda: ex.grey_filter(density=-0.3), "density"),
        (lambda: ex.ratio_of_stops(math.inf), "key_over_fill_stops"),
        (lambda: ex.ratio_of_key_to_fill(0), "key_to_fill"),
        (lambda: ex.ratio_of_key_and_fill_to_fill(1), "key_and_fill_to_fill"),
        (lambda: ex.ratio_of_contrast(0), "lit_to_shadow_stops"),
        (lambda: mixed(f_number=0), "f_number"),
        (lambda: mixed(iso=0), "iso"),
        (lambda: mixed(flash_reading=-1), "flash_reading"),
        (lambda: mixed(flash_t01_s=0), "flash_t01_s"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(LightingRefused) as refused:
        call()
    assert refused.value.field == field
    assert refused.value.problem
    assert refused.value.next_step
