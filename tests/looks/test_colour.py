"""Colour against published values, and what must hold for any picture."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import ot
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from refarchive.errors import CannotMeasure
from refarchive.looks import colour

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def rows(name: str) -> list[dict[str, str]]:
    lines = (AUTHORITIES / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def flat(hexadecimal: str, height: int, width: int) -> np.ndarray:
    return np.full((height, width, 3), np.frombuffer(bytes.fromhex(hexadecimal), np.uint8), np.uint8)


pictures = arrays(np.uint8, st.tuples(st.integers(1, 12), st.integers(1, 12), st.just(3)))
lab_of_srgb = arrays(np.uint8, (3,)).map(colour.srgb_to_lab)


# sRGB and Lab --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hexadecimal", "lab"),
    [
        # CSS Color Module Level 4, sample values of lab(), D50 by Bradford, printed to four decimals.
        ("#f00", (54.2905, 80.8049, 69.8910)),
        # Computed by that module's published conversion code.
        ("#008000", (46.2777, -47.5524, 48.5863)),
        ("0000FF", (29.5683, 68.2874, -112.0297)),
        ("#767676", (49.6370, 0, 0)),
        ("#777777", (50.0344, 0, 0)),
        ("#ffffff", (100, 0, 0)),
        ("#000000", (0, 0, 0)),
    ],
)
def test_lab_of_known_colours(hexadecimal: str, lab: tuple[float, float, float]) -> None:
    assert colour.hex_to_lab(hexadecimal) == pytest.approx(lab, abs=6e-5)


def test_transfer_function_of_iec_61966_2_1() -> None:
    # IEC 61966-2-1; figures by colour-science 0.4.7, eotf_sRGB.
    assert colour.linear(np.array([0.5, 0.1])) == pytest.approx([0.21404114048, 0.01002282557], abs=1e-11)
    assert float(colour.encoded(0.18)) == pytest.approx(0.46135612950, abs=1e-11)
    assert colour.linear(np.arange(256, dtype=np.uint8)) == pytest.approx(colour.linear(np.arange(256) / 255.0))


@pytest.mark.parametrize("row", rows("colour_chart_24.csv"), ids=lambda row: row["name"])
def test_chart_patches_as_an_independent_library_converts_them(row: dict[str, str]) -> None:
    lab = np.array([float(row[k]) for k in "lab"])
    if not row["srgb"]:
        assert not colour.in_gamut(lab)
        return
    assert colour.in_gamut(lab)
    ours, theirs = (
        np.frombuffer(bytes.fromhex(h[1:]), np.uint8).astype(int) for h in (colour.lab_to_hex(lab), row["srgb"])
    )
    # One step of 8 bits: that library takes the matrix with four decimals of the standard's first print.
    assert np.abs(ours - theirs).max() <= 1


def test_lab_agrees_with_colour_science_on_a_grid() -> None:
    import colour as reference

    grid = np.stack(np.meshgrid(*[np.linspace(0, 1, 9)] * 3), axis=-1).reshape(-1, 3)
    d50 = reference.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    xyz = reference.sRGB_to_XYZ(grid, d50, chromatic_adaptation_transform="Bradford")
    # Tolerance: that library's sRGB has the four-decimal matrix, and its D50 is 0.3457, 0.3585 as here.
    assert np.abs(colour.srgb_to_lab(grid) - reference.XYZ_to_Lab(xyz, d50)).max() < 0.03


@given(arrays(np.uint8, (5, 3)))
def test_every_srgb_colour_survives_the_way_to_lab_and_back(rgb: np.ndarray) -> None:
    lab = colour.srgb_to_lab(rgb)
    assert (np.rint(colour.lab_to_srgb(lab) * 255) == rgb).all()
    assert colour.in_gamut(lab).all()
    assert colour.lab_to_hex(lab[0]) == "#" + bytes(rgb[0]).hex()


@pytest.mark.parametrize("bad", ["", "#12", "#12345g", "red", "#12345678", "#1234\n56"])
def test_what_is_no_hexadecimal_colour_is_refused(bad: str) -> None:
    with pytest.raises(CannotMeasure, match="not a colour"):
        colour.hex_to_lab(bad)


@pytest.mark.parametrize(
    "bad",
    [
        np.zeros((2, 2), np.uint8),
        np.zeros((2, 4), np.uint8),
        np.array([0, 0, 70000]),
        [1.5, 0, 0],
        [float("nan"), 0, 0],
    ],
)
def test_values_that_are_no_srgb_are_refused(bad: Any) -> None:
    with pytest.raises(CannotMeasure):
        colour.srgb_to_lab(bad)


# CIEDE2000 -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("ciede2000_pairs.csv"), ids=lambda row: f"pair {row['pair']}")
def test_ciede2000_pairs_of_sharma_wu_and_dalal(row: dict[str, str]) -> None:
    one, two = ([float(row[f"{k}{n}"]) for k in "lab"] for n in (1, 2))
    assert float(colour.delta_e_2000(one, two)) == pytest.approx(float(row["delta_e"]), abs=1e-4)
    assert float(colour.delta_e_2000(two, one)) == pytest.approx(float(row["delta_e"]), abs=1e-4)


def test_ciede2000_broadcasts_and_refuses_other_shapes() -> None:
    found = colour.delta_e_2000(np.zeros((4, 1, 3)), np.ones((1, 5, 3)))
    assert found.shape == (4, 5)
    with pytest.raises(CannotMeasure):
        colour.delta_e_2000(np.zeros(2), np.zeros(3))
    with pytest.raises(CannotMeasure):
        colour.delta_e_2000(np.zeros(3), np.zeros((3, 4)))


# Palettes ------------------------------------------------------------------------------------------------------------


def test_palette_of_a_picture_with_known_shares() -> None:
    picture = np.concatenate([flat("b53039", 200, 150), flat("465ca8", 200, 90), flat("f0c816", 200, 60)], axis=1)
    found = colour.palette(picture, 3)
    assert found.shares == pytest.approx([0.5, 0.3, 0.2], abs=0.005)  # mixed pixels along two edges
    for hexadecimal, lab in zip(("b53039", "465ca8", "f0c816"), found.lab, strict=True):
        assert float(colour.delta_e_2000(colour.hex_to_lab(hexadecimal), lab)) < 0.5
    assert found.centres_xy == pytest.approx(np.array([[0.25, 0.5], [0.65, 0.5], [0.9, 0.5]]), abs=0.01)


def test_palette_with_no_reduction_is_exact() -> None:
    picture = np.concatenate([flat("b53039", 10, 5), flat("465ca8", 10, 3), flat("f0c816", 10, 2)], axis=1)
    found = colour.palette(picture, 6)
    assert found.hexes == ("#b53039", "#465ca8", "#f0c816")
    assert found.shares.tolist() == [0.5, 0.3, 0.2]
    # Lab D65 of the first would be 41.5889, 53.3391, 27.0394; here everything is D50.
    assert found.lab[0] == pytest.approx(colour.hex_to_lab("#b53039"), abs=1e-6)


@settings(deadline=None, max_examples=25)
@given(pictures)
def test_mirrored_or_turned_picture_has_the_same_palette(picture: np.ndarray) -> None:
    found = colour.palette(picture, 4)
    assert found.shares.sum() == pytest.approx(1)
    assert (np.diff(found.shares) <= 1e-12).all()
    for other in (picture[:, ::-1], picture[::-1], picture.transpose(1, 0, 2)):
        again = colour.palette(other, 4)
        assert again.lab == pytest.approx(found.lab, abs=1e-9)
        assert again.shares == pytest.approx(found.shares, abs=1e-12)
    mirrored = colour.palette(picture[:, ::-1], 4)
    assert mirrored.centres_xy[:, 0] == pytest.approx(1 - found.centres_xy[:, 0])


def test_large_mirrored_picture_has_nearly_the_same_palette() -> None:
    from skimage.data import coffee

    picture = coffee()[:-1, :-3]  # odd sizes: the averaging cells fall between pixels
    assert colour.palette_distance(colour.palette(picture), colour.palette(picture[:, ::-1])) < 0.05


def test_palette_does_not_depend_on_the_size_of_the_file() -> None:
    from skimage.data import astronaut

    picture = astronaut()
    doubled = picture.repeat(2, axis=0).repeat(2, axis=1)
    assert colour.palette_distance(colour.palette(picture), colour.palette(doubled)) < 0.05


def test_averages_are_taken_in_linear_light() -> None:
    checks = np.indices((600, 600)).sum(axis=0) % 2 * 255
    picture = np.repeat(checks[:, :, None], 3, axis=2).astype(np.uint8)
    light = colour.reduced(picture, 100)
    assert light.shape == (10, 10, 3)
    assert light == pytest.approx(np.full((10, 10, 3), 0.5))
    # Half the light is L* 76.0693 (CIE 15), where encoded values would average to L* 53.6.
    assert colour.palette(picture, 1).lab[0, 0] == pytest.approx(76.07, abs=0.5)


@pytest.mark.parametrize("shape", [(1, 1), (1, 5000), (5000, 1), (3, 40_000), (777, 1333)])
def test_area_averages_keep_all_the_light_of_odd_shapes(shape: tuple[int, int]) -> None:
    picture = np.random.default_rng(1).integers(0, 256, (*shape, 3), dtype=np.uint8)
    light = colour.reduced(picture, 5000)
    assert light.shape[0] * light.shape[1] <= 5000
    assert light.mean(axis=(0, 1)) == pytest.approx(colour.linear(picture).mean(axis=(0, 1)), rel=1e-9)
    found = colour.palette(picture)
    assert found.shares.sum() == pytest.approx(1)
    assert ((found.centres_xy >= 0) & (found.centres_xy <= 1)).all()


def test_one_pixel_and_flat_pictures_have_one_colour() -> None:
    for picture in (flat("336699", 1, 1), flat("336699", 300, 400)):
        found = colour.palette(picture)
        assert (found.hexes, found.shares.tolist()) == (("#336699",), [1.0])
        assert found.centres_xy == pytest.approx(np.array([[0.5, 0.5]]))


def test_palette_refuses_what_is_no_picture() -> None:
    for bad in (
        np.zeros((4, 4)),
        np.zeros((0, 4, 3), np.uint8),
        np.zeros((4, 4, 4), np.uint8),
        np.zeros((4, 4, 3), int),
    ):
        with pytest.raises(CannotMeasure):
            colour.palette(bad)
    with pytest.raises(CannotMeasure):
        colour.palette(flat("336699", 4, 4), 0)


# Earth mover's distance ----------------------------------------------------------------------------------------------


def test_solver_on_the_worked_examples_of_rubner_tomasi_and_guibas() -> None:
    # example1 and example2 of the authors' own code: 160.542770 (single precision) and 1.888889.
    one = np.array([(100, 40, 22), (211, 20, 2), (32, 190, 150), (2, 100, 100)], float)
    two = np.array([(0, 0, 0), (50, 100, 80), (255, 255, 255)], float)
    assert ot.emd2([0.4, 0.3, 0.2, 0.1], [0.5, 0.3, 0.2], ot.dist(one, two, "euclidean")) == pytest.approx(
        160.542770, abs=1e-4
    )
    costs = np.array([[3, 5, 2], [0, 2, 5], [1, 1, 3], [8, 4, 3], [7, 6, 5]], float)
    slack = np.hstack(
        [costs, np.zeros((5, 1))]
    )  # the masses are 1 and 0.9: the tenth left over goes nowhere for nothing
    assert ot.emd2([0.4, 0.2, 0.2, 0.1, 0.1], [0.6, 0.2, 0.1, 0.1], slack) / 0.9 == pytest.approx(1.888889, abs=1e-6)


def test_palette_distance_is_the_dearest_journey_worked_by_hand() -> None:
    black, grey, white = ((level, 0.0, 0.0) for level in (0.0, 50.0, 100.0))
    near, far = (float(colour.delta_e_2000(black, other)) for other in (grey, white))
    # All of black stays; of the other half, 0.3 goes to grey and 0.2 to white.
    assert colour.palette_distance(([black], [7]), ([black, grey, white], [5, 3, 2])) == pytest.approx(
        0.3 * near + 0.2 * far
    )


def test_palette_distance_agrees_with_a_linear_programme() -> None:
    from scipy.optimize import linprog
    from skimage.data import astronaut, coffee

    one, two = colour.palette(astronaut(), 5), colour.palette(coffee(), 4)
    ground = colour.delta_e_2000(one.lab[:, None], two.lab[None]).reshape(-1)
    leaves = np.kron(np.eye(5), np.ones(4))
    arrives = np.kron(np.ones(5), np.eye(4))
    solved = linprog(ground, A_eq=np.vstack([leaves, arrives]), b_eq=np.concatenate([one.shares, two.shares]))
    assert colour.palette_distance(one, two) == pytest.approx(solved.fun, abs=1e-6)
    assert solved.fun > 5


@settings(deadline=None, max_examples=25)
@given(pictures, pictures)
def test_palette_distance_is_a_distance(first: np.ndarray, second: np.ndarray) -> None:
    one, two = colour.palette(first, 4), colour.palette(second, 4)
    assert colour.palette_distance(one, one) == pytest.approx(0, abs=1e-9)
    assert colour.palette_distance(one, two) == pytest.approx(colour.palette_distance(two, one), abs=1e-6)
    assert colour.palette_distance((one.lab, one.shares * 40), two) == pytest.approx(colour.palette_distance(one, two))


@pytest.mark.parametrize(
    "bad",
    [
        (np.zeros((0, 3)), []),
        (np.zeros((2, 3)), [0, 0]),
        (np.zeros((2, 3)), [1, -1]),
        (np.zeros((2, 3)), [1]),
        (np.zeros((2, 3)), [1, np.nan]),
        (np.zeros((2, 2)), [1, 1]),
    ],
)
def test_palettes_that_cannot_be_weighed_are_refused(bad: Any) -> None:
    with pytest.raises(CannotMeasure):
        colour.palette_distance(bad, (np.zeros((1, 3)), [1]))


# Search by colour ----------------------------------------------------------------------------------------------------


def test_closeness_asks_for_a_fair_share_only() -> None:
    asked, other = colour.hex_to_lab("#b53039"), colour.hex_to_lab("#2f4f4f")
    gap = float(colour.delta_e_2000(asked, other))
    shares = [(0.1, 0.9), (0.05, 0.95), (1.0, 0.0), (0.0, 1.0)]
    found = colour.colour_closeness([([asked, other], s) for s in shares], asked)
    assert found == pytest.approx([0, gap / 2, 0, gap])
    assert colour.colour_closeness([([asked, other], (0.1, 0.9))], asked, share=1.0) == pytest.approx([0.9 * gap])
    assert colour.colour_closeness([], asked).shape == (0,)


@given(lab_of_srgb, st.lists(st.tuples(lab_of_srgb, st.floats(0.01, 1)), min_size=1, max_size=6))
@settings(deadline=None)
def test_closeness_lies_between_the_nearest_colour_and_the_whole_palette(asked: Any, entries: Any) -> None:
    lab, shares = np.array([e[0] for e in entries]), np.array([e[1] for e in entries])
    found = float(colour.colour_closeness([(lab, shares)], asked)[0])
    assert found >= colour.delta_e_2000(lab, asked).min() - 1e-9
    assert found <= colour.palette_distance((lab, shares), ([asked], [1])) + 1e-6


def test_closeness_refuses_what_cannot_be_asked() -> None:
    palette = [(np.zeros((1, 3)), [1.0])]
    for lab, share in (((1, 2), 0.1), ((np.nan, 0, 0), 0.1), ((1, 2, 3), 0.0), ((1, 2, 3), 1.1), ((1, 2, 3), np.nan)):
        with pytest.raises(CannotMeasure):
            colour.colour_closeness(palette, lab, share)


# Swatches ------------------------------------------------------------------------------------------------------------


def test_swatch_reads_the_region_and_nothing_beside_it() -> None:
    picture = flat("2f4f4f", 100, 200)
    picture[20:60, 50:150] = (181, 48, 57)
    found = colour.region_swatch(picture, (0.25, 0.2, 0.5, 0.4))
    assert (found.hex, found.spread, found.pixels) == ("#b53039", 0.0, 4000)
    assert found.lab == pytest.approx(colour.hex_to_lab("#b53039"))
    # One pixel more on every side takes in the ground, but not so much that the median or the 80 % notice.
    wider = colour.region_swatch(picture, (0.245, 0.19, 0.51, 0.42))
    assert (wider.hex, wider.spread, wider.pixels) == ("#b53039", 0.0, 102 * 42)


def test_swatch_spread_is_where_four_fifths_of_the_pixels_lie() -> None:
    picture = flat("808080", 10, 10)
    picture[:3] = 0  # 30 % black: more than the fifth that is left aside
    found = colour.region_swatch(picture, (0, 0, 1, 1))
    assert found.hex == "#808080"
    assert found.spread == pytest.approx(float(colour.delta_e_2000((0, 0, 0), colour.hex_to_lab("#808080"))))


def test_swatch_of_a_very_large_region_is_read_at_steps() -> None:
    picture = flat("336699", 600, 900)
    assert colour.region_swatch(picture, (0, 0, 1, 1)).hex == "#336699"
    assert colour.region_swatch(picture, (0, 0, 1, 1)).pixels == 540_000


@pytest.mark.parametrize(
    "region",
    [
        (0, 0, 0, 1),
        (0, 0, 1, -1),
        (0.6, 0, 0.5, 1),
        (-0.1, 0, 0.5, 1),
        (0, 0, np.nan, 1),
        (0, 0, 0.03, 0.03),
        (0, 0, np.inf, 1),
    ],
)
def test_swatch_refuses_regions_that_give_none(region: Any) -> None:
    with pytest.raises(CannotMeasure):
        colour.region_swatch(flat("336699", 100, 100), region)


@pytest.mark.parametrize("shape", [(30, 40, 3), (97, 61, 3), (2100, 2003, 3)])
def test_several_sizes_at_once_are_those_of_each_by_itself(shape: tuple[int, ...]) -> None:
    """Above `DECODED_WHOLE` channels are handled one by one; nothing else may change."""
    picture = np.random.default_rng(5).integers(0, 256, shape, dtype=np.uint8)
    for found, most in zip(colour.reductions(picture, (500, 4_000)), (500, 4_000), strict=True):
        assert found.shape[0] * found.shape[1] <= most
        np.testing.assert_allclose(found, colour.reduced(picture, most), atol=1e-12)
        np.testing.assert_allclose(found.mean(axis=(0, 1)), colour.linear(picture).mean(axis=(0, 1)), atol=1e-9)


@pytest.mark.parametrize(
    ("cells", "pixels"), [(1, 1), (1, 9), (7, 7), (3, 10), (28, 84), (61, 97), (777, 1333), (2, 40_001)]
)
def test_the_shares_of_a_cell_are_those_of_exact_fractions(cells: int, pixels: int) -> None:
    table = colour.shares_of_cells(cells, pixels)
    assert table.shape == (cells, pixels)
    assert table.nnz <= pixels + 2 * cells  # a pixel belongs to one cell, or to two; rounding adds a neighbour
    wide = Fraction(pixels, cells)
    for cell in sorted({0, cells // 2, cells - 1}):
        start, end = cell * wide, (cell + 1) * wide
        exact = [float(max(0, min(end, p + 1) - max(start, p)) / wide) for p in range(pixels)]
        np.testing.assert_allclose(table[[cell]].toarray()[0], exact, atol=1e-12)


def test_area_averages_agree_with_those_of_scikit_image() -> None:
    from skimage.transform import downscale_local_mean

    light = np.random.default_rng(6).random((60, 84, 3))
    np.testing.assert_allclose(colour.area_averaged(light, 15, 28), downscale_local_mean(light, (4, 3, 1)), atol=1e-12)
