"""Masses, balance, placement and likeness of layout on drawn pictures with known answers, and on skimage's pictures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage import data, transform

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, composition, studies


def grey(levels: object) -> np.ndarray:
    return np.repeat(np.asarray(levels, np.uint8)[:, :, None], 3, axis=2)


def camera() -> np.ndarray:
    return grey(data.camera())


ODD = [
    np.zeros((4, 4), np.uint8),
    np.zeros((4, 4, 4), np.uint8),
    np.zeros((0, 4, 3), np.uint8),
    np.zeros((4, 4, 3), int),
]


# -- masses --------


def test_masses_of_a_drawn_picture() -> None:
    drawn = np.full((200, 300), 119)  # middle: L* 50
    drawn[40:160, 30:90] = 20  # dark: 12 % of the picture
    drawn[120:180, 200:290] = 240  # light: 9 %
    found = composition.value_masses(grey(drawn))
    assert [mass.value for mass in found] == ["middle", "dark", "light"]
    assert [mass.share for mass in found] == pytest.approx([0.79, 0.12, 0.09], abs=0.012)
    assert found[1].centre_xy == pytest.approx((0.2, 0.5), abs=0.01)
    assert found[1].region == pytest.approx((0.1, 0.2, 0.2, 0.6), abs=0.02)
    assert found[2].centre_xy == pytest.approx((245 / 300, 0.75), abs=0.01)
    assert len(composition.value_masses(grey(drawn), most=1)) == 1
    with pytest.raises(CannotMeasure):
        composition.value_masses(grey(drawn), most=0)


def test_masses_are_those_that_skimage_labels() -> None:
    from skimage.measure import label, regionprops

    values = studies.study(data.astronaut(), 3).values
    theirs = sorted(
        (p.area / values.size for level in range(3) for p in regionprops(label(values == level, connectivity=1))),
        reverse=True,
    )
    theirs = [share for share in theirs if share >= composition.LEAST_MASS][:12]
    assert [mass.share for mass in composition.value_masses(data.astronaut())] == pytest.approx(theirs)
    assert len(theirs) > 4


@pytest.mark.parametrize(("level", "name"), [(0, "dark"), (255, "light"), (119, "middle")])
def test_a_flat_picture_is_one_mass(level: int, name: str) -> None:
    for shape in ((1, 1), (50, 100)):
        (mass,) = composition.value_masses(grey(np.full(shape, level)))
        assert (mass.value, mass.share, mass.region) == (name, 1, (0, 0, 1, 1))
        assert mass.centre_xy == pytest.approx((0.5, 0.5))


# -- balance --------


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 36), st.integers(0, 20), st.booleans())
def test_balance_follows_one_figure(across: int, down: int, light_on_dark: bool) -> None:
    # A square of 12 × 12 on even ground, on cells that the working size keeps: by the definition, the figure weighs
    # share × (1 − share) × difference, and so does the ground, spread evenly over what is not the figure.
    figure = np.zeros((32, 48), dtype=bool)
    figure[down : down + 12, across : across + 12] = True
    found = composition.balance(grey(np.where(figure == light_on_dark, 220, 40)))
    y, x = np.mgrid[0:32, 0:48]
    expected = (
        0.5 * ((x[figure] + 0.5).mean() + (x[~figure] + 0.5).mean()) / 48,
        0.5 * ((y[figure] + 0.5).mean() + (y[~figure] + 0.5).mean()) / 32,
    )
    assert (found.x, found.y) == pytest.approx(expected, abs=1e-9)
    mirrored = composition.balance(grey(np.where(figure == light_on_dark, 220, 40))[:, ::-1])
    assert found.x is not None
    assert found.left is not None
    assert mirrored.x == pytest.approx(1 - found.x)
    assert mirrored.left == pytest.approx(1 - found.left)
    assert mirrored.y == pytest.approx(found.y)


def test_balance_of_real_pictures_is_stable() -> None:
    for picture in (camera(), data.astronaut(), data.coffee()):
        found = composition.balance(picture)
        smaller = np.rint(transform.resize(picture, (256, 340), anti_aliasing=True) * 255).astype(np.uint8)
        again = composition.balance(smaller)
        assert (again.x, again.y) == pytest.approx((found.x, found.y), abs=0.006)
        turned = composition.balance(np.rot90(picture, 2))
        assert found.x is not None
        assert turned.x == pytest.approx(1 - found.x, abs=1e-6)
    left = composition.balance(camera())
    assert left.x is not None
    assert left.x < 0.45  # the dark coat stands left of the middle
    assert "% left and" in left.sentence


def test_noise_is_balanced_and_flat_pictures_have_no_weight() -> None:
    noise = np.random.default_rng(3).integers(0, 256, (300, 400, 3)).astype(np.uint8)
    found = composition.balance(noise)
    assert found.x is None or (found.x, found.y) == pytest.approx((0.5, 0.5), abs=0.02)
    for level in (0, 118, 255):
        for shape in ((1, 1), (1, 900), (300, 600)):
            flat = composition.balance(grey(np.full(shape, level)))
            assert (flat.x, flat.y, flat.left, flat.top) == (None,) * 4
            assert flat.sentence.startswith("Cannot tell")


# -- placement --------


def test_placement_of_a_marked_figure() -> None:
    found = composition.placement((0.25, 0.3, 0.1, 0.6), aspect=1.5)
    assert found.centre_xy == pytest.approx((0.3, 0.6))
    assert (found.width, found.height, found.area) == pytest.approx((0.1, 0.6, 0.06))
    assert (found.headroom, found.below) == pytest.approx((0.3, 0.1))
    assert found.third_xy == pytest.approx((1 / 3, 2 / 3))
    # In a frame of 3 by 2: a thirtieth of 3 and a fifteenth of 2, over the diagonal, √13.
    assert found.from_third == pytest.approx(math.hypot(0.1, 2 / 15) / math.sqrt(13))
    assert found.from_middle == pytest.approx(math.hypot(0.6, 0.2) / math.sqrt(13))
    assert found.from_third_line == pytest.approx(1 / 30)
    assert composition.placement((0, 0, 1, 1), 2.0).from_middle == 0
    corner = composition.placement((0.0, 0.0, 1e-6, 1e-6), 0.7)
    assert corner.from_middle == pytest.approx(0.5, abs=1e-5)  # half the diagonal


@pytest.mark.parametrize(
    "region",
    [(0, 0, 0, 1), (0, 0, 1, -1), (0.5, 0, 0.6, 1), (-0.1, 0, 1, 1), (0, 0.9, 1, 0.2), (0, 0, math.nan, 1),
     (0, 0, 1), (0, 0, 1, 1, 1), "abcd", (None, 0, 1, 1), (0, 0, math.inf, 1)],
)  # fmt: skip
def test_regions_outside_are_refused(region: object) -> None:
    with pytest.raises(CannotMeasure):
        composition.placement(region, 1.5)  # type: ignore[arg-type]


@pytest.mark.parametrize("aspect", [0, -1, math.nan, math.inf])
def test_frames_of_no_proportion_are_refused(aspect: float) -> None:
    with pytest.raises(CannotMeasure):
        composition.placement((0, 0, 1, 1), aspect)


# -- layout --------


def test_layout_of_a_picture_with_itself_its_negative_and_others() -> None:
    picture = camera()
    assert composition.layout_likeness(picture, picture).likeness == pytest.approx(1)
    negative = composition.layout_likeness(picture, 255 - picture)
    assert negative.likeness is not None
    assert negative.likeness < -0.9
    mirrored = composition.layout_likeness(picture, picture[:, ::-1])
    assert mirrored.likeness is not None
    assert mirrored.likeness < 0.5
    both = composition.layout_likeness(picture[:, ::-1], data.astronaut()[:, ::-1])
    assert both.likeness == pytest.approx(composition.layout_likeness(picture, data.astronaut()).likeness)


def test_layout_hardly_moves_with_exposure_size_format_and_grain() -> None:
    for picture in (camera(), data.astronaut(), data.chelsea()):
        darker = studies.brought_by(picture, -1)
        small = np.rint(transform.resize(picture, (120, round(120 * picture.shape[1] / picture.shape[0]))) * 255)
        grain = np.clip(picture + np.random.default_rng(0).normal(0, 20, picture.shape), 0, 255).astype(np.uint8)
        for other, least in (
            (darker, 0.98),
            (small.astype(np.uint8), 0.995),
            (grain, 0.98),
            (picture / 255.0, 1 - 1e-9),
        ):
            likeness = composition.layout_likeness(picture, other).likeness
            assert likeness is not None
            assert likeness >= least


def test_layout_is_the_correlation_that_scipy_finds() -> None:
    from scipy.ndimage import gaussian_filter
    from scipy.stats import pearsonr
    from skimage.color import rgb2lab
    from skimage.measure import block_reduce

    # 240 × 160 pictures: cells are blocks of ten. L* does not depend on skimage's white point for greys.
    one, two = (grey(data.camera()[60:220, a : a + 240]) for a in (40, 200))
    grids = []
    for picture in (one, two):
        light = block_reduce(colour.linear(picture[..., 0]), (10, 10), np.mean)
        soft = gaussian_filter(light, 1.0, mode="nearest", truncate=3.0)
        grids.append(rgb2lab(colour.encoded(np.repeat(soft[..., None], 3, axis=2)))[..., 0])
    expected = pearsonr(grids[0].ravel(), grids[1].ravel()).statistic
    assert composition.layout_likeness(one, two).likeness == pytest.approx(expected, abs=2e-3)


def test_layout_matches_proportions_first() -> None:
    whole = data.coffee()  # 600 × 400
    inner = whole[:, 50:550]
    found = composition.layout_likeness(whole, inner)
    assert found.likeness == pytest.approx(1, abs=1e-9)  # what is cut off is what the other lacks
    assert found.kept == pytest.approx((5 / 6, 1))
    assert "17 % was cut off" in found.sentence
    panorama = np.concatenate([whole, whole], axis=1)
    untold = composition.layout_likeness(panorama, whole)
    assert untold.likeness is None
    assert untold.sentence.startswith("Cannot tell: the proportions")
    assert composition.layout_likeness(panorama, panorama).likeness == pytest.approx(1)
    upright = np.rot90(whole)
    assert composition.layout_likeness(upright, upright).likeness == pytest.approx(1)


def test_layout_of_flat_and_of_unrelated_pictures() -> None:
    for flat in (np.full((100, 100), 0), np.full((1, 1), 255), np.full((300, 300), 120)):
        found = composition.layout_likeness(camera(), grey(flat))
        assert found.likeness is None
        assert found.sentence.startswith("Cannot tell: the second")
    rng = np.random.default_rng(5)
    noises = [grey(rng.integers(0, 256, (48, 72))) for _ in range(12)]
    drawn = [composition.layout_likeness(a, b).likeness for a, b in zip(noises[::2], noises[1::2], strict=True)]
    told = [value for value in drawn if value is not None]
    # After the blur about 384 / (4π) cells are independent: correlations of 0 ± 0.18.
    assert len(told) == 6
    assert max(abs(value) for value in told) < 0.6
    assert abs(float(np.mean(told))) < 0.25


@pytest.mark.parametrize("bad", ODD, ids=lambda array: f"{array.dtype}{array.shape}")
def test_what_is_no_picture_is_refused(bad: np.ndarray) -> None:
    for measure in (composition.value_masses, composition.balance):
        with pytest.raises(CannotMeasure):
            measure(bad)
    with pytest.raises(CannotMeasure):
        composition.layout_likeness(camera(), bad)
