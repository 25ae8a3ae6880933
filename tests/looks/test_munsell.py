"""Munsell notation against the renotation of 1943 and ASTM D1535, as colour-science carries them."""

from __future__ import annotations

import re

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.munsell import FAMILIES, _white_c, _written, chip_lab, notation

# Newhall, Nickerson & Judd 1943: x, y and Y relative to magnesium oxide, whose own Y is 97.5 % of a perfect white.
RENOTATION = [
    ("5R 4/14", 0.5734, 0.3057, 12.00),
    ("5Y 8/10", 0.4376, 0.4601, 59.10),
    ("5G 5/8", 0.2511, 0.4107, 19.77),
    ("5PB 4/10", 0.1925, 0.1843, 12.00),
    ("10YR 6/6", 0.4240, 0.4030, 30.05),
]


def lab_of(x: float, y: float, relative: float) -> np.ndarray:
    xyz = np.array([x / y, 1.0, (1 - x - y) / y]) * relative / 100 * 0.975
    return colour.xyz_to_lab(colour.adaptation(_white_c(), colour.D50) @ xyz)


@pytest.mark.parametrize(("name", "x", "y", "luminance"), RENOTATION)
def test_colours_of_the_renotation_have_their_names(name: str, x: float, y: float, luminance: float) -> None:
    lab = lab_of(x, y, luminance)
    assert notation(lab).chip == name
    there = chip_lab(name)
    assert there is not None
    assert float(colour.delta_e_2000(lab, there)) < 0.1


def test_a_spread_of_the_renotation_reads_back() -> None:
    """A sample of the rows of 1943 that colour-science carries, those that sRGB can show: by their exact figures."""
    import colour as science

    rows = list(science.notation.MUNSELL_COLOURS["Munsell Colours 1929"])[::21]
    rows += list(science.notation.MUNSELL_COLOURS["Munsell Colours All"])[::90]
    tried = 0
    for (hue, value, chroma), (x, y, luminance) in rows:
        lab = lab_of(x, y, luminance)
        if not (2 <= value <= 9 and chroma >= 2 and colour.in_gamut(lab)):
            continue
        found = notation(lab)
        read = re.fullmatch(r"([\d.]+)([A-Z]+) ([\d.]+)/([\d.]+)", found.exact)
        assert read is not None, (hue, value, chroma)
        number, family = re.fullmatch(r"([\d.]+)([A-Z]+)", hue).groups()  # type: ignore[union-attr]
        turn = 10 * FAMILIES.index(read[2]) + float(read[1]) - 10 * FAMILIES.index(family) - float(number)
        assert abs((turn + 50) % 100 - 50) * chroma < 1.5  # a hue step matters less where there is little chroma
        assert float(read[3]) == pytest.approx(value, abs=0.06)
        assert float(read[4]) == pytest.approx(chroma, abs=0.15)
        tried += 1
    assert tried >= 12


def test_value_of_a_grey_by_astm_d1535() -> None:
    # Y(5) = 19.27184375 (ASTM D1535).
    grey = np.full(3, 116 * (0.1927184375) ** (1 / 3) - 16)
    found = notation(np.array([grey[0], 0.0, 0.0]))
    assert (found.exact, found.chip) == ("N 5.0/", "N 5/")
    assert found.chip_difference == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(
    ("hue", "family", "written"),
    [
        (0.0, "Y", "10YR 6/6"),
        (0.9, "Y", "10YR 6/6"),
        (1.3, "Y", "2.5Y 6/6"),
        (9.9, "R", "10R 6/6"),
        (1.0, "R", "10RP 6/6"),
    ],
)
def test_hue_0_of_a_family_is_10_of_the_one_before(hue: float, family: str, written: str) -> None:
    assert _written(hue, family, "6", "6", 2.5) == written


@pytest.mark.parametrize(("between", "chip"), [("5R 5/7.2", "5R 5/8"), ("5R 5/6.8", "5R 5/6"), ("5R 5.6/4", "5R 6/4")])
def test_a_colour_between_chips_goes_to_the_nearer(between: str, chip: str) -> None:
    here, there = chip_lab(between), chip_lab(chip)
    found = notation(here)
    assert found.chip == chip
    assert found.chip_difference == pytest.approx(float(deltaE_ciede2000(here, there)), abs=0.05)
    assert found.chip_difference > 0.3


def test_dark_cloth_has_a_notation_too() -> None:
    found = notation(colour.hex_to_lab("#1c2530"))
    assert found.chip == "2.5PB 1/2"
    assert found.chip_difference is not None
    assert "2.5PB 1/2" in found.sentence


@pytest.mark.parametrize("hexed", ["#000000", "#1d21ba"])
def test_colours_outside_cannot_be_told(hexed: str) -> None:
    found = notation(colour.hex_to_lab(hexed))
    assert (found.exact, found.chip, found.chip_difference) == ("", "", None)
    assert found.sentence.startswith("Cannot tell")


def test_white_is_the_lightest_grey_of_a_book() -> None:
    assert notation(np.array([100.0, 0.0, 0.0])).chip == "N 9.5/"


@pytest.mark.parametrize("chip", ["", "blue", "11Q 3/4", "5R 4", "N", "5R 4/", "N 5/2", "5R 4/2; drop"])
def test_what_is_no_notation_is_refused(chip: str) -> None:
    with pytest.raises(CannotMeasure):
        chip_lab(chip)


@pytest.mark.parametrize(
    "lab", [[1e6, 0.0, 0.0], [50.0, 1e300, 0.0], [50.0, 0.0], [np.nan, 0.0, 0.0], [[50.0, 0.0, 0.0]]]
)
def test_what_is_no_colour_is_refused(lab: list) -> None:
    with pytest.raises(CannotMeasure):
        notation(lab)


def test_every_notation_that_is_told_stands_for_its_colour() -> None:
    """Looked up again in the renotation, each comes back to the colour, the dark ones that the library doubts too."""
    told = 0
    for rgb in np.random.default_rng(4).integers(0, 256, (40, 3), dtype=np.uint8):
        lab = colour.srgb_to_lab(rgb)
        found = notation(lab)
        if found.exact:
            back = chip_lab(found.exact)
            assert back is not None
            assert float(colour.delta_e_2000(lab, back)) < 1.5
            told += 1
    assert told >= 34


def test_several_threads_leave_the_filters_of_warnings_as_they_were() -> None:
    import warnings
    from concurrent.futures import ThreadPoolExecutor

    before = list(warnings.filters)
    labs = [colour.hex_to_lab(h) for h in ("#1c2530", "#101010", "#8a6f4d", "#1d21ba")] * 4
    with ThreadPoolExecutor(4) as pool:
        assert len({one.exact for one in pool.map(notation, labs)}) == 4
    assert warnings.filters == before
