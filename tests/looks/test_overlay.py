"""Alignment against transforms that skimage made, and on pictures that share nothing."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage import data, transform

from refarchive.errors import CannotMeasure
from refarchive.looks import overlay


def grey(levels: Any) -> np.ndarray:
    return np.repeat(np.asarray(levels, np.uint8)[:, :, None], 3, axis=2)


def moved(picture: np.ndarray, pixels: Any, shape: tuple[int, int] | None = None) -> np.ndarray:
    """The picture under a transform of skimage from its pixel centres to those of the result."""
    result = transform.warp(picture, pixels.inverse, output_shape=shape, order=3, mode="reflect")
    return np.rint(np.clip(result, 0, 1) * 255).astype(np.uint8)


def as_fractions(pixels: Any, one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """The same transform from fractions of the first picture, counted from the corner, to those of the second."""
    to_pixels = np.array([[one.shape[1], 0, -0.5], [0, one.shape[0], -0.5], [0, 0, 1]])
    from_pixels = np.linalg.inv(np.array([[two.shape[1], 0, -0.5], [0, two.shape[0], -0.5], [0, 0, 1]]))
    matrix = from_pixels @ pixels.params @ to_pixels
    return np.asarray(matrix / matrix[2, 2])


def furthest_off(found: overlay.Alignment, expected: np.ndarray, two: np.ndarray) -> float:
    """The largest distance in pixels of the second, over a grid on the first picture where it lands in the second."""
    assert found.matrix is not None, found.sentence
    grid = np.stack(np.meshgrid(np.linspace(0, 1, 9), np.linspace(0, 1, 9)), axis=-1).reshape(-1, 2)
    here, there = overlay._moved(found.matrix, grid), overlay._moved(expected, grid)
    inside = ((there >= 0) & (there <= 1)).all(axis=1)
    assert inside.sum() > 10
    return float(np.hypot(*((here - there)[inside] * [two.shape[1], two.shape[0]]).T).max())


def around_the_middle(picture: np.ndarray, turn: float, scale: float, shift: tuple[float, float]) -> Any:
    middle = np.array([picture.shape[1] - 1, picture.shape[0] - 1]) / 2
    back = transform.SimilarityTransform(translation=-middle)
    turned = transform.SimilarityTransform(scale=scale, rotation=math.radians(turn))
    return back + turned + transform.SimilarityTransform(translation=middle + np.array(shift))


@settings(deadline=None, max_examples=10)
@given(
    st.sampled_from(["camera", "astronaut", "coffee"]),
    st.floats(-35, 35),
    st.floats(0.6, 1.5),
    st.tuples(st.floats(-40, 40), st.floats(-40, 40)),
)
def test_a_similarity_is_recovered(name: str, turn: float, scale: float, shift: tuple[float, float]) -> None:
    picture = getattr(data, name)()
    picture = grey(picture) if picture.ndim == 2 else picture
    pixels = around_the_middle(picture, turn, scale, shift)
    other = moved(picture, pixels)
    found = overlay.align(picture, other)
    assert furthest_off(found, as_fractions(pixels, picture, other), other) < 1.0
    assert found.agreeing >= 12
    assert found.matched >= found.agreeing
    assert found.stray is not None
    assert found.stray * math.hypot(*other.shape[:2]) < 1.5
    assert found.matrix is not None
    sides = (
        np.diag([other.shape[1], other.shape[0]])
        @ found.matrix[:2, :2]
        @ np.diag([1 / picture.shape[1], 1 / picture.shape[0]])
    )
    assert math.degrees(math.atan2(sides[1, 0], sides[0, 0])) == pytest.approx(turn, abs=0.2)
    assert math.sqrt(np.linalg.det(sides)) == pytest.approx(scale, rel=0.005)


@pytest.mark.parametrize("corners", [
    [(40, 30), (560, 60), (590, 380), (10, 350)],
    [(0, 0), (500, 70), (480, 330), (30, 399)],
])  # fmt: skip
def test_a_perspective_is_recovered(corners: list[tuple[float, float]]) -> None:
    picture = data.coffee()
    pixels = transform.ProjectiveTransform.from_estimate([(0, 0), (599, 0), (599, 399), (0, 399)], corners)
    other = moved(picture, pixels)
    found = overlay.align(picture, other, "homography")
    assert furthest_off(found, as_fractions(pixels, picture, other), other) < 1.5
    plain = overlay.align(picture, other)  # without perspective, it misses by far more or is not told
    assert plain.matrix is None or furthest_off(plain, as_fractions(pixels, picture, other), other) > 5


def test_a_small_print_and_its_large_original() -> None:
    large = np.rint(transform.resize(data.astronaut(), (1500, 1500), order=3) * 255).clip(0, 255).astype(np.uint8)
    small = np.rint(transform.resize(data.astronaut(), (300, 300), anti_aliasing=True) * 255).astype(np.uint8)
    for one, two in ((large, small), (small, large)):
        found = overlay.align(one, two)
        assert furthest_off(found, np.eye(3), two) < 1.5 * two.shape[0] / 300
        assert found.warped is not None
        assert found.under is not None
        assert found.covered is not None
        assert found.warped.shape == found.under.shape == two.shape
        assert found.covered.mean() > 0.98
        assert np.abs(found.warped.astype(int) - found.under.astype(int)).mean() < 6
    assert overlay.align(small / 255.0, large).agreeing == pytest.approx(overlay.align(small, large).agreeing, abs=2)


def test_the_picture_laid_over_is_the_one_skimage_would_lay() -> None:
    picture = data.astronaut()
    pixels = around_the_middle(picture, 12, 0.8, (30, -20))
    other = moved(picture, pixels)
    found = overlay.align(picture, other)
    assert found.warped is not None
    assert found.covered is not None
    assert found.under is not None
    assert (found.under == other).all()
    assert np.abs(found.warped.astype(int) - other)[found.covered].mean() < 4  # of 255: two ways of interpolating
    theirs = transform.warp(np.ones(picture.shape[:2]), pixels.inverse, order=0, cval=0) > 0
    assert (found.covered != theirs).mean() < 0.01


def test_the_mixture_is_half_the_light_of_each() -> None:
    picture = data.coffee()
    found = overlay.align(picture, picture)
    assert found.matrix == pytest.approx(np.eye(3), abs=1e-3)
    same = overlay.mixed(found)
    assert np.abs(same.astype(int) - picture).mean() < 2
    black_and_white = overlay.Alignment(
        np.eye(3), 50, 60, 0.0, 1.0, np.zeros((2, 2, 3), np.uint8), np.array([[True, True], [False, True]]),
        np.full((2, 2, 3), 255, np.uint8), "",
    )  # fmt: skip
    # Half the light of white is 188 in 8 bits (IEC 61966-2-1); a quarter, 137.
    assert overlay.mixed(black_and_white)[..., 0].tolist() == [[188, 188], [255, 188]]
    assert overlay.mixed(black_and_white, 0.75)[0, 0, 0] == 137
    assert overlay.mixed(black_and_white, 1.0)[0, 0, 0] == 0
    for share in (-0.1, 1.1, math.nan):
        with pytest.raises(CannotMeasure):
            overlay.mixed(black_and_white, share)


def test_what_shares_nothing_cannot_be_aligned() -> None:
    rng = np.random.default_rng(0)
    pictures = [
        grey(data.camera()), data.astronaut(), data.coffee(), data.chelsea(), grey(data.moon()), data.rocket(),
        grey(data.grass()), rng.integers(0, 256, (400, 500, 3)).astype(np.uint8),
        rng.integers(0, 256, (400, 500, 3)).astype(np.uint8),
    ]  # fmt: skip
    kinds: tuple[overlay.Kind, ...] = ("similarity", "homography")
    for k, one in enumerate(pictures):
        for two in pictures[k + 1 :]:
            for kind in kinds:
                found = overlay.align(one, two, kind)
                assert found.matrix is None, found.sentence
                assert found.warped is None
                assert found.sentence.startswith("Cannot tell")
                with pytest.raises(CannotMeasure):
                    overlay.mixed(found)


def test_flat_and_tiny_pictures_and_a_mirror_cannot_be_aligned() -> None:
    camera = grey(data.camera())
    for other in (
        grey(np.zeros((300, 300))), grey(np.full((300, 600), 255)), grey(np.full((1, 1), 9)), camera[:20],
        camera[:, ::-1],
    ):  # fmt: skip
        for one, two in ((camera, other), (other, camera)):
            found = overlay.align(one, two)
            assert found.matrix is None
            assert found.sentence.startswith("Cannot tell")


def test_a_detail_that_both_share_is_no_alignment() -> None:
    # One small thing in two different pictures: its features agree, and say nothing of the rest.
    rng = np.random.default_rng(4)
    one, two = (rng.integers(100, 140, (800, 1000, 3)).astype(np.uint8) for _ in range(2))
    thing = data.astronaut()[0:160, 160:300]
    one[100:260, 100:240], two[500:660, 700:840] = thing, thing
    found = overlay.align(one, two)
    assert found.matrix is None
    assert "span" in found.sentence
    assert found.agreeing >= 12


def test_panoramas_and_what_is_no_picture() -> None:
    wide = np.concatenate([data.coffee(), data.coffee()[:, ::-1]], axis=1)
    assert overlay.align(wide, wide).matrix == pytest.approx(np.eye(3), abs=1e-3)
    for bad in (
        np.zeros((40, 40), np.uint8), np.zeros((40, 40, 4), np.uint8), np.zeros((0, 40, 3), np.uint8),
        np.full((40, 40, 3), 1.5), np.full((40, 40, 3), np.nan), np.zeros((40, 40, 3), int),
    ):  # fmt: skip
        for one, two in ((wide, bad), (bad, wide)):
            with pytest.raises(CannotMeasure):
                overlay.align(one, two)
    with pytest.raises(CannotMeasure):
        overlay.align(wide, wide, "affine")  # type: ignore[arg-type]


@pytest.mark.parametrize("turn", [90, 170, -135])
def test_a_great_turn_is_recovered_to_a_fraction_of_a_pixel(turn: float) -> None:
    # Places a quarter of a pixel off would cancel out without a turn, and show doubled (0.7 pixel) upside down.
    picture = data.coffee()[:, :400]
    pixels = around_the_middle(picture, turn, 0.8, (3.3, -2.7))
    other = moved(picture, pixels)
    assert furthest_off(overlay.align(picture, other), as_fractions(pixels, picture, other), other) < 0.2


@pytest.mark.parametrize("shift", [(20, 0), (0, 12), (-16, 8)])
def test_a_shift_by_whole_pixels_moves_pixels_and_changes_none(shift: tuple[int, int]) -> None:
    picture = data.astronaut()[:240, :320]
    across, down = shift
    matrix = np.array([[1, 0, across / 320], [0, 1, down / 240], [0, 0, 1]])
    warped, covered = overlay._warped(picture, matrix, (240, 320))
    expected = np.roll(picture, (down, across), axis=(0, 1))
    np.testing.assert_array_equal(warped[covered], expected[covered])
    assert int(covered.sum()) == (240 - abs(down)) * (320 - abs(across))


def test_enlarged_pixels_lie_where_opencv_puts_them() -> None:
    """`cv2.resize` counts from the corners of pixels, not from their middles, as fractions do."""
    import cv2

    picture = data.astronaut()[:120, :160]
    warped, _ = overlay._warped(picture, np.eye(3), (240, 320))
    expected = cv2.resize(picture, (320, 240), interpolation=cv2.INTER_LINEAR)
    inner = (slice(2, -2), slice(2, -2))
    assert np.abs(warped[inner].astype(int) - expected[inner].astype(int)).max() <= 2
