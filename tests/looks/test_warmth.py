"""Warmth: colour temperatures against published worked values and colour-science's other methods, and its refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from skimage import data

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.changes import with_gain, with_warmth
from refarchive.looks.warmth import Warmth, mired_shift, warmth, warmth_of_xy, white_xyz


def xy_of(u: float, v: float) -> tuple[float, float]:
    scale = 2 * u - 8 * v + 4
    return 3 * u / scale, 2 * v / scale


def told(found: Warmth) -> tuple[float, float]:
    assert found.cct_k is not None
    assert found.duv is not None
    return found.cct_k, found.duv


def flat(rgb: tuple[int, int, int], size: int = 8) -> np.ndarray:
    return np.full((size, size, 3), rgb, np.uint8)


# -- against published values --------


def test_the_worked_value_of_ohno_2014() -> None:
    """As colour-science's documentation gives it: u, v 0.1978, 0.3122 → 6507.475 K, Duv 0.003223."""
    cct, duv = told(warmth_of_xy(xy_of(0.1978, 0.3122)))
    assert cct == pytest.approx(6507.475, abs=0.01)
    assert duv == pytest.approx(0.003223, abs=1e-6)


def test_robertson_1968_finds_the_same_where_both_are_told() -> None:
    """u, v 0.19374138, 0.31522104 → 6500.016 K, Duv 0.008333 by Robertson's method (colour-science's documentation)."""
    cct, duv = told(warmth_of_xy(xy_of(0.19374138, 0.31522104)))
    assert cct == pytest.approx(6500.016, rel=2e-3)
    assert duv == pytest.approx(0.008333, abs=1e-4)


@pytest.mark.parametrize(
    ("xy", "kelvin", "within"),
    [
        ((0.44757, 0.40745), 2856.0, 5.0),  # illuminant A (CIE 15)
        ((0.31270, 0.32900), 6504.0, 5.0),  # D65
        ((0.34567, 0.35850), 5003.0, 5.0),  # D50
    ],
)
def test_standard_illuminants_have_their_nominal_temperatures(
    xy: tuple[float, float], kelvin: float, within: float
) -> None:
    assert told(warmth_of_xy(xy))[0] == pytest.approx(kelvin, abs=within)


def test_mccamy_1992_agrees_near_the_locus() -> None:
    """McCamy's cubic, written out: good to a few kelvin between 2856 and 6504 K (McCamy 1992)."""
    for kelvin in (2900, 3500, 4500, 5600, 6500):
        x, y = white_xyz(kelvin)[:2] / white_xyz(kelvin).sum()
        n = (x - 0.3320) / (0.1858 - y)
        assert told(warmth_of_xy((x, y)))[0] == pytest.approx(449 * n**3 + 3525 * n**2 + 6823.3 * n + 5520.33, rel=3e-3)


def test_the_gel_from_daylight_to_tungsten() -> None:
    assert mired_shift(5600, 3200) == pytest.approx(133.9286, abs=1e-4)
    assert mired_shift(3200, 5600) == -mired_shift(5600, 3200)
    with pytest.raises(CannotMeasure):
        mired_shift(0, 5600)
    with pytest.raises(CannotMeasure):
        mired_shift(5600, float("nan"))


@settings(max_examples=40)
@given(st.floats(1_500, 20_000), st.floats(-0.02, 0.02))
def test_there_and_back(kelvin: float, duv: float) -> None:
    xyz = white_xyz(kelvin, duv)
    assume((xyz[:2] / xyz.sum()).sum() < 0.99)  # beyond the colours of the spectrum there is nothing
    cct, off = told(warmth_of_xy(xyz[:2] / xyz.sum()))
    assert cct == pytest.approx(kelvin, rel=2e-3)
    assert off == pytest.approx(duv, abs=2e-4)


# -- pictures --------


@pytest.mark.parametrize("value", [20, 128, 250])
def test_grey_reads_as_the_white_of_the_file(value: int) -> None:
    assert told(warmth(flat((value,) * 3)))[0] == pytest.approx(6504, abs=5)


@pytest.fixture(scope="module")
def photograph() -> np.ndarray:
    return data.coffee()[::4, ::4]


@settings(max_examples=12, deadline=None)
@given(st.floats(15, 90))
def test_a_warmed_picture_reads_warmer_by_that_much(mired: float) -> None:
    grey = with_gain(data.coffee()[::8, ::8], -1.5)  # dark enough that warming clips nothing
    before = warmth(grey)
    assert before.mired is not None
    after = warmth(with_warmth(grey, before.cct_k, before.duv, 1e6 / (before.mired + mired)))
    assert after.mired is not None
    assert after.mired - before.mired == pytest.approx(mired, abs=4)


def test_neither_exposure_nor_mirroring_changes_it(photograph: np.ndarray) -> None:
    own = told(warmth(photograph))
    assert told(warmth(photograph[:, ::-1])) == pytest.approx(own, rel=1e-9)
    darker = with_gain(photograph, -1.0)
    unclipped = photograph.copy()
    assert told(warmth(darker))[0] == pytest.approx(told(warmth(unclipped))[0], rel=0.02)


def test_bit_depth_and_files_leave_it_alone(photograph: np.ndarray) -> None:
    assert told(warmth(photograph / 255.0))[0] == pytest.approx(told(warmth(photograph))[0], rel=1e-6)


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (flat((20, 200, 40)), "too green"),
        (flat((200, 40, 200)), "Cannot tell"),
        (flat((0, 0, 0)), "too dark"),
        (flat((255, 255, 255)), "100 % of it is clipped"),
        (flat((255, 120, 30)), "100 % of it is clipped"),
        (flat((128, 128, 128), 1), "1 pixels, too few"),
    ],
)
def test_what_has_no_warmth_says_why(picture: np.ndarray, words: str) -> None:
    found = warmth(picture)
    assert (found.cct_k, found.duv, found.mired) == (None, None, None)
    assert found.sentence.startswith("Cannot tell: ")
    assert words in found.sentence


@pytest.mark.parametrize("xy", [(0.3,), (0.3, 0.0), (0.9, 0.9), (float("nan"), 0.3), (-0.1, 0.3)])
def test_what_is_no_chromaticity_is_refused(xy: tuple[float, ...]) -> None:
    with pytest.raises(CannotMeasure):
        warmth_of_xy(xy)


@pytest.mark.parametrize(
    ("k", "told_of"), [(20_000, True), (24_000, True), (27_000, False), (38_000, False), (1_100, True)]
)
def test_temperatures_beyond_what_says_something_are_not_told(k: float, told_of: bool) -> None:
    xyz = white_xyz(k)
    assert (warmth_of_xy(xyz[:2] / xyz.sum()).cct_k is not None) is told_of


@pytest.mark.parametrize(("share", "told_of"), [(0.4, True), (0.6, False)])
def test_a_picture_mostly_clipped_has_no_warmth(share: float, told_of: bool) -> None:
    picture = np.full((100, 20, 3), 120, np.uint8)
    picture[: round(100 * share)] = 255
    assert (warmth(picture).cct_k is not None) is told_of


def test_the_darkest_greys_are_too_dark_and_the_next_are_not() -> None:
    assert warmth(flat((1, 1, 1))).cct_k is None
    assert warmth(flat((3, 3, 3))).cct_k is not None


def test_daylight_is_called_neither_green_nor_pink() -> None:
    assert "little" not in warmth_of_xy((0.3127, 0.3290)).sentence
    assert "a little green" in warmth_of_xy(tuple((white_xyz(5500, 0.012) / white_xyz(5500, 0.012).sum())[:2])).sentence


def test_floats_that_are_no_picture_are_refused_and_never_taken_for_clipped() -> None:
    grey = np.full((8, 8, 3), 0.5)
    for bad in (np.nan, np.inf, 5.0, -0.1):
        wrong = grey.copy()
        wrong[0, 0, 0] = bad
        with pytest.raises(CannotMeasure):
            warmth(wrong)


@pytest.mark.parametrize("bad", [np.zeros((4, 4)), np.zeros((4, 4, 3), np.uint16), np.zeros((0, 4, 3), np.uint8)])
def test_what_is_no_picture_is_refused(bad: np.ndarray) -> None:
    with pytest.raises(CannotMeasure):
        warmth(bad)


def test_the_white_of_srgb_is_d65() -> None:
    import colour as science

    np.testing.assert_allclose(colour.TO_XYZ_D65, science.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ, atol=5e-5)
