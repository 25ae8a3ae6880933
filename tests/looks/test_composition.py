"""Masses, balance, placement and likeness of layout on drawn pictures whose answers are known by arithmetic."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, composition, tone

pictures = arrays(np.uint8, st.tuples(st.integers(1, 24), st.integers(1, 24), st.just(3)))


def grey(levels: Any) -> np.ndarray:
    return np.repeat(np.asarray(levels, np.uint8)[:, :, None], 3, axis=2)


# -- masses --------


def test_masses_of_a_drawn_picture() -> None:
    picture = grey(np.full((200, 240), 119))  # L* 50: middle
    picture[20:80, 20:80] = 20  # dark, 7.5 %
    picture[100:180, 140:220] = 240  # light, 13.3 %
    picture[90:94, 30:34] = 240  # 0.03 %: no mass
    found = composition.value_masses(picture)
    assert [m.value for m in found] == [1, 2, 0]
    assert [m.share for m in found] == pytest.approx([1 - 0.075 - 0.1333, 0.1333, 0.075], abs=0.015)
    light, dark = found[1], found[2]
    assert light.region == pytest.approx((140 / 240, 0.5, 80 / 240, 0.4), abs=0.02)
    assert light.centroid_xy == pytest.approx((0.75, 0.7), abs=0.003)
    assert dark.centroid_xy == pytest.approx((50 / 240, 0.25), abs=0.003)
    assert composition.value_masses(picture, most=1) == found[:1]


def test_masses_of_one_value_apart_from_each_other_are_two() -> None:
    picture = grey(np.full((100, 200), 20))
    picture[20:80, 20:60] = picture[20:80, 120:190] = 240
    found = [m for m in composition.value_masses(picture) if m.value == 2]
    assert [round(m.centroid_xy[0], 2) for m in found] == [0.78, 0.2]


@settings(deadline=None, max_examples=20)
@given(pictures)
def test_masses_are_skimages_labels_of_the_study_and_mirror(picture: np.ndarray) -> None:
    from skimage.measure import label, regionprops

    found = composition.value_masses(picture, 3, most=10_000)
    shown = tone.value_study(picture, 3)[..., 0]
    middles = np.rint(colour.encoded(tone.lightness_to_luminance(np.array([100 / 6, 50, 500 / 6]))) * 255)
    theirs = [
        (p.area / shown.size, value)
        for value, level in enumerate(middles)
        for p in regionprops(label(shown == level, connectivity=1))
        if p.area / shown.size >= composition.LEAST_MASS
    ]
    assert sorted((m.share, m.value) for m in found) == sorted(theirs)


def test_masses_mirror() -> None:
    picture = grey(np.full((200, 240), 119))
    picture[20:80, 20:80] = 20
    picture[100:180, 140:220] = 240
    for one, two in zip(composition.value_masses(picture), composition.value_masses(picture[:, ::-1]), strict=True):
        assert (one.value, one.share) == (two.value, pytest.approx(two.share))
        assert two.centroid_xy == pytest.approx((1 - one.centroid_xy[0], one.centroid_xy[1]))


def test_masses_of_odd_pictures() -> None:
    for shape in ((1, 1), (200, 400)):
        for level, value in ((0, 0), (255, 2)):
            (only,) = composition.value_masses(grey(np.full(shape, level)))
            assert only == composition.Mass(value, 1.0, (0, 0, 1, 1), (0.5, 0.5))
    noise = np.random.default_rng(0).integers(0, 256, (300, 400, 1), dtype=np.uint8)
    assert {m.value for m in composition.value_masses(np.repeat(noise, 3, axis=2))} == {1}  # squinted at, it is grey
    for bad in (np.zeros((4, 4), np.uint8), np.zeros((0, 4, 3), np.uint8)):
        with pytest.raises(CannotMeasure):
            composition.value_masses(bad)
    for arguments in ((4, 5), (3, 0)):
        with pytest.raises(CannotMeasure):
            composition.value_masses(grey([[0]]), *arguments)


# -- balance --------


def test_balance_of_one_and_of_two_things() -> None:
    picture = grey(np.full((200, 200), 60))
    picture[20:40, 150:170] = 220
    found = composition.balance(picture)
    assert found.centre_xy == pytest.approx((0.8, 0.15))
    assert (found.left, found.top) == pytest.approx((0, 1))
    # A second thing four times as large, of the same colour: the centroid divides the way between them 4 : 1.
    picture[140:180, 20:60] = 220
    found = composition.balance(picture)
    assert found.centre_xy == pytest.approx(((0.8 + 4 * 0.2) / 5, (0.15 + 4 * 0.8) / 5))
    assert found.left == pytest.approx(0.8)
    # Colour alone weighs: red and blue-green of one L*.
    flat = np.full((50, 50, 3), colour.lab_to_srgb([50, 0, 0]))
    flat[10:20, 0:10] = colour.lab_to_srgb([50, 40, 20])
    assert composition.balance(flat).centre_xy == pytest.approx((0.1, 0.3))


def test_balance_is_scipys_centre_of_mass() -> None:
    from scipy.ndimage import center_of_mass
    from skimage.color import deltaE_cie76
    from skimage.data import coffee

    picture = coffee()[::2, ::2]
    lab = colour.srgb_to_lab(picture)
    y, x = center_of_mass(deltaE_cie76(lab, np.median(lab, axis=(0, 1))))
    expected = ((x + 0.5) / picture.shape[1], (y + 0.5) / picture.shape[0])
    assert composition.balance(picture).centre_xy == pytest.approx(expected, abs=1e-9)


@settings(deadline=None, max_examples=25)
@given(pictures)
def test_balance_mirrors(picture: np.ndarray) -> None:
    one, two = composition.balance(picture), composition.balance(picture[:, ::-1])
    if one.centre_xy is None:
        assert two.centre_xy is None
        return
    assert one.left is not None
    assert two.centre_xy == pytest.approx((1 - one.centre_xy[0], one.centre_xy[1]), abs=1e-9)
    assert (two.left, two.top) == pytest.approx((1 - one.left, one.top), abs=1e-9)


def test_balance_of_even_pictures_cannot_be_told() -> None:
    for shape in ((1, 1), (100, 200)):
        for level in (0, 120, 255):
            found = composition.balance(grey(np.full(shape, level)))
            assert found.centre_xy is None
            assert found.sentence.startswith("Cannot tell")
    grain = np.random.default_rng(0).integers(119, 122, (100, 200, 1), dtype=np.uint8)
    assert composition.balance(np.repeat(grain, 3, axis=2)).centre_xy is None
    noise = np.random.default_rng(0).integers(0, 256, (300, 400, 3), dtype=np.uint8)
    assert composition.balance(noise).centre_xy == pytest.approx((0.5, 0.5), abs=0.01)  # nothing outweighs anything
    with pytest.raises(CannotMeasure):
        composition.balance(np.zeros((4, 4), np.uint8))


# -- placement --------


def test_placement_in_numbers() -> None:
    at_crossing, middle = composition.placement(
        [(1 / 3 - 0.1, 2 / 3 - 0.2, 0.2, 0.4), (0.45, 0.25, 0.1, 0.5)], (400, 300)
    )
    assert at_crossing.centre_xy == pytest.approx((1 / 3, 2 / 3))
    assert (at_crossing.height, at_crossing.width, at_crossing.area) == pytest.approx((0.4, 0.2, 0.08))
    assert (at_crossing.to_third_x, at_crossing.to_third_y, at_crossing.to_crossing) == pytest.approx((0, 0, 0))
    # (1/6 of 400, 1/6 of 300) is (66.67, 50), a sixth of a 3-4-5 triangle of 500.
    assert at_crossing.to_centre == pytest.approx(1 / 6)
    assert at_crossing.margins == pytest.approx((1 / 3 - 0.1, 2 / 3 - 0.2, 2 / 3 - 0.1, 1 / 3 - 0.2))
    assert middle.to_centre == pytest.approx(0)
    assert middle.to_crossing == pytest.approx(1 / 6)
    assert abs(middle.to_third_x) == pytest.approx(1 / 6)
    (right_and_below,) = composition.placement([(0.6, 0.6, 0.2, 0.2)], (100, 100))
    assert (right_and_below.to_third_x, right_and_below.to_third_y) == pytest.approx((0.7 - 2 / 3,) * 2)
    assert composition.placement([], (4, 3)) == ()


@given(st.floats(0, 0.9), st.floats(0, 0.9), st.floats(0.01, 0.1), st.integers(1, 9000), st.integers(1, 9000))
def test_placement_mirrors(x: float, y: float, side: float, width: int, height: int) -> None:
    one, two = composition.placement([(x, y, side, side), (1 - x - side, y, side, side)], (width, height))
    assert two.to_crossing == pytest.approx(one.to_crossing)
    assert two.to_centre == pytest.approx(one.to_centre)
    assert abs(two.to_third_x) == pytest.approx(abs(one.to_third_x))
    assert two.margins == pytest.approx((one.margins[2], one.margins[1], one.margins[0], one.margins[3]))


@pytest.mark.parametrize(
    "region",
    [(0.5, 0.5, 0.6, 0.1), (-0.1, 0, 0.5, 0.5), (0, 0, 0, 1), (0, 0, 1, -1), (0, math.nan, 1, 1), (0, 0, 1),
     ("a", 0, 1, 1), None],
)  # fmt: skip
def test_placement_refuses_what_is_no_region(region: Any) -> None:
    with pytest.raises(CannotMeasure):
        composition.placement([(0, 0, 1, 1), region], (400, 300))


def test_placement_refuses_pictures_without_size() -> None:
    with pytest.raises(CannotMeasure):
        composition.placement([(0, 0, 1, 1)], (0, 300))


# -- layout --------


def test_layout_is_numpys_correlation_of_skimages_local_means() -> None:
    from skimage.data import astronaut, coffee
    from skimage.transform import downscale_local_mean

    def cells(picture: np.ndarray) -> np.ndarray:
        luminance = colour.linear(picture) @ colour.LUMINANCE
        height, width = luminance.shape
        return tone.luminance_to_lightness(downscale_local_mean(luminance, (height // 16, width // 16)))

    one, two = astronaut()[:256:2, :512:2], coffee()[:256, :224]
    found = composition.layout_likeness(one, two)
    ours, theirs = cells(one), cells(two)
    assert composition.squint(two) == pytest.approx(theirs, abs=1e-9)
    assert found.likeness == pytest.approx(np.corrcoef(ours.ravel(), theirs.ravel())[0, 1], abs=1e-9)
    assert found.mirrored == pytest.approx(np.corrcoef(ours.ravel(), theirs[:, ::-1].ravel())[0, 1], abs=1e-9)
    assert found.lightness_apart == pytest.approx(np.abs(ours - theirs).mean(), abs=1e-9)


def test_layout_of_copies_mirrors_negatives_and_strangers() -> None:
    from skimage.data import astronaut, coffee
    from skimage.transform import resize

    picture = astronaut()
    small = np.rint(resize(picture, (120, 90), anti_aliasing=True) * 255).astype(np.uint8)
    darker = colour.encoded(colour.linear(picture) / 4)
    assert composition.layout_likeness(picture, picture).likeness == pytest.approx(1)
    for copy in (small, darker):
        likeness = composition.layout_likeness(picture, copy).likeness
        assert likeness is not None
        assert likeness > 0.98
    mirrored = composition.layout_likeness(picture, picture[:, ::-1])
    assert mirrored.mirrored == pytest.approx(1)
    assert mirrored.likeness is not None
    assert mirrored.likeness < 0.9
    negative = composition.layout_likeness(picture, tone_reversed(picture)).likeness
    assert negative == pytest.approx(-1, abs=0.01)
    stranger = composition.layout_likeness(picture, coffee()).likeness
    assert stranger is not None
    assert abs(stranger) < 0.5


def tone_reversed(picture: np.ndarray) -> np.ndarray:
    """Each of the 16 × 16 cells flat, in 100 − L*."""
    turned = colour.encoded(tone.lightness_to_luminance(100 - composition.squint(picture)))
    return np.repeat(np.kron(turned, np.ones((8, 8)))[:, :, None], 3, axis=2)


@settings(deadline=None, max_examples=25)
@given(pictures, pictures)
def test_layout_likeness_is_the_same_both_ways(one: np.ndarray, two: np.ndarray) -> None:
    there, back = composition.layout_likeness(one, two), composition.layout_likeness(two, one)
    assert there.lightness_apart == pytest.approx(back.lightness_apart)
    assert (there.likeness is None) == (back.likeness is None)
    if there.likeness is not None:
        assert there.likeness == pytest.approx(back.likeness)
        assert there.mirrored == pytest.approx(back.mirrored)
        assert -1 <= there.likeness <= 1


def test_layout_of_even_pictures_cannot_be_told() -> None:
    drawn = grey(np.kron([[0, 255], [255, 0]], np.ones((50, 100))))
    for even in (grey(np.full((1, 1), 0)), grey(np.full((100, 200), 255)), grey(np.full((7, 3), 120))):
        found = composition.layout_likeness(drawn, even)
        assert (found.likeness, found.mirrored) == (None, None)
        assert found.sentence == "Cannot tell: the second picture is too even to have a layout of values."
    assert composition.layout_likeness(grey([[0]]), grey([[255]])).lightness_apart == pytest.approx(100)
    with pytest.raises(CannotMeasure):
        composition.layout_likeness(drawn, np.zeros((4, 4), np.uint8))
