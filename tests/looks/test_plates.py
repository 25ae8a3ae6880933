"""Plates of the period: what they must do to a chart of known colours, and the spectra against colour-science's own."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.plates import ASSUMED, PLATES, as_plate, registered, sensitivity, weights


@pytest.fixture(scope="module")
def chart() -> np.ndarray:
    """The 24 patches of the chart sold after November 2014, from the maker's Lab values (D50) in colour-science."""
    import colour as science

    found = science.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    xyY = np.array(list(found.data.values()))  # noqa: N806 (the space's name)
    xyz = science.xyY_to_XYZ(xyY)
    return np.rint(255 * colour.lab_to_srgb(colour.xyz_to_lab(xyz)))[None].astype(np.uint8)


BLUE, GREEN, RED, YELLOW, CYAN = 12, 13, 14, 15, 17


@pytest.mark.parametrize("plate", PLATES)
def test_weights_are_shares_and_follow_from_spectra(plate: str) -> None:
    """The same by recovering whole spectra with colour-science (Mallett & Yuksel 2019) and integrating them."""
    import colour as science

    own = weights(plate)
    assert min(own) >= 0
    assert sum(own) == pytest.approx(1)
    daylight = science.SDS_ILLUMINANTS["D65"]
    for rgb in ((0.2, 0.5, 0.8), (0.9, 0.1, 0.3), (1.0, 1.0, 1.0)):
        sd = science.recovery.RGB_to_sd_Mallett2019(np.array(rgb))
        light = daylight.copy().align(sd.shape).values * sensitivity(plate, sd.wavelengths)
        assert np.dot(own, rgb) == pytest.approx((light * sd.values).sum() / light.sum(), rel=1e-3)


def test_blues_go_pale_and_yellows_and_reds_dark(chart: np.ndarray) -> None:
    """What handbooks say of plates before dyes, and of orthochromatic ones, on patches that differ in colour."""
    blue_plate, ortho = (registered(chart, plate)[0] for plate in PLATES)
    eye = (colour.linear(chart) @ colour.LUMINANCE)[0]
    assert eye[YELLOW] > 5 * eye[BLUE]
    assert blue_plate[BLUE] > blue_plate[YELLOW] > 0
    assert blue_plate[BLUE] > 3 * blue_plate[RED]
    assert ortho[YELLOW] > 2 * blue_plate[YELLOW]
    assert ortho[GREEN] > blue_plate[GREEN]
    assert ortho[RED] < 0.5 * ortho[YELLOW]


def test_greys_stay_as_they_are(chart: np.ndarray) -> None:
    greys = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)
    for plate in PLATES:
        assert np.array_equal(as_plate(greys, plate), greys)
        assert (np.diff(registered(chart, plate)[0][18:24]) < 0).all()  # the row of greys keeps its order


@given(rgb=st.tuples(*[st.integers(0, 255)] * 3))
def test_more_light_is_never_darker(rgb: tuple[int, int, int]) -> None:
    pair = np.array([[rgb, tuple(min(255, v + 10) for v in rgb)]], np.uint8)
    for plate in PLATES:
        low, high = registered(pair, plate)[0]
        assert high >= low


def test_it_is_called_a_simulation_and_what_is_no_picture_is_refused() -> None:
    assert all(ASSUMED[plate].startswith("A simulation") for plate in PLATES)
    with pytest.raises(CannotMeasure):
        registered(np.zeros((4, 4)), "blue-sensitive")
