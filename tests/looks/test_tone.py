"""Values of pictures against figures of the standard, and odd pictures."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, tone


def grey(levels: Any) -> np.ndarray:
    """A picture (H, W, 3) of grey 8-bit levels (H, W)."""
    return np.repeat(np.asarray(levels, np.uint8)[:, :, None], 3, axis=2)


def of_light(luminance: np.ndarray) -> np.ndarray:
    """A float picture of one row with the given linear luminances."""
    return np.repeat(colour.encoded(luminance)[None, :, None], 3, axis=2)


def test_lightness_of_the_standard() -> None:
    # CIE 15: L* of 18 % is 49.4961, and L* 50 lies at Y = 0.184187.
    assert float(tone.luminance_to_lightness(0.18)) == pytest.approx(49.4961, abs=5e-5)
    assert float(tone.lightness_to_luminance(50)) == pytest.approx(0.184187, abs=5e-7)
    # One stop apart from middle grey, in one-stop steps downwards and upwards (computed from CIE 15).
    stops = 0.18 * 2.0 ** np.arange(-4, 3)
    assert tone.luminance_to_lightness(stops) == pytest.approx(
        [9.9921, 16.7481, 25.2600, 35.9843, 49.4961, 66.5199, 87.9686], abs=5e-5
    )
    assert tone.lightness_to_luminance(tone.luminance_to_lightness(stops)) == pytest.approx(stops)


def test_lightness_is_the_l_of_lab_everywhere() -> None:
    from skimage.data import coffee

    picture = coffee()[:50, :60]
    assert tone.lightness(picture) == pytest.approx(colour.srgb_to_lab(picture)[..., 0])
    assert tone.lightness(picture / 255.0) == pytest.approx(tone.lightness(picture))


def test_percentiles_of_an_even_ramp_of_light() -> None:
    # 1001 samples, Y from 0 to 1: L* at 5 %, 50 % and 95 % (CIE 15 applied to 0.05, 0.5, 0.95).
    found = tone.tone_summary(of_light(np.linspace(0, 1, 1001)))
    assert (found.p5, found.median, found.p95) == pytest.approx((26.7348, 76.0693, 98.0335), abs=5e-5)
    assert found.spread == pytest.approx(98.0335 - 26.7348, abs=1e-4)
    # Bands end where L* 20, 40, 60, 80 lie: Y 0.0298910, 0.1125, 0.281233, 0.566813 by the inverse formula.
    ends = np.array([0, 0.029891, 0.112510, 0.281233, 0.566813, 1])
    assert found.bands == pytest.approx(np.diff(ends), abs=1.1e-3)
    assert sum(found.bands) == pytest.approx(1)


def test_half_black_half_white_averages_to_76_not_50() -> None:
    coarse = grey(np.kron([[0, 255], [255, 0]], np.ones((100, 100))))
    assert tone.tone_summary(coarse).average == pytest.approx(76.0693, abs=5e-5)
    fine = grey(np.indices((1024, 1024)).sum(axis=0) % 2 * 255)
    found = tone.tone_summary(fine)
    assert (found.p5, found.median, found.p95) == pytest.approx([76.0693] * 3, abs=5e-5)
    assert (found.blown, found.blocked) == (0.5, 0.5)


def test_flat_grey_one_pixel_and_a_strip() -> None:
    for shape in ((1, 1), (40, 30), (1, 5000), (700, 900)):
        found = tone.tone_summary(grey(np.full(shape, 119)))
        assert found.median == pytest.approx(50.0344, abs=5e-5)  # 8-bit 119, CIE 15
        assert found.spread == pytest.approx(0, abs=1e-9)
        assert found.average == pytest.approx(found.median)
        assert found.bands == (0, 0, 1, 0, 0)
        assert (found.blown, found.blocked) == (0, 0)
    for level, blown, blocked in ((255, 1, 0), (254, 1, 0), (253, 0, 0), (2, 0, 0), (1, 0, 1), (0, 0, 1)):
        found = tone.tone_summary(grey(np.full((5, 5), level)))
        assert (found.blown, found.blocked) == (blown, blocked)
        assert tone.tone_summary(grey(np.full((5, 5), level)) / 255.0) == found
    red = np.zeros((4, 4, 3), np.uint8)
    red[..., 0] = 255  # one channel full is not blown
    assert tone.tone_summary(red).blown == 0


def test_key_words_follow_their_table() -> None:
    assert [tone.key_word(v) for v in (0, 24.99, 25, 39.9, 40, 59.9, 60, 75, 100)] == [
        "very low key", "very low key", "low key", "low key", "middle key", "middle key", "high key", "very high key",
        "very high key",
    ]  # fmt: skip
    for bad in (-0.1, 100.1, float("nan")):
        with pytest.raises(CannotMeasure):
            tone.key_word(bad)


def test_tone_distance_of_flat_pictures_is_their_difference() -> None:
    one, two = grey(np.full((9, 9), 50)), grey(np.full((300, 400), 200))
    gap = tone.lightness(two)[0, 0] - tone.lightness(one)[0, 0]
    assert tone.tone_distance(one, two) == pytest.approx(gap)
    assert gap > 50


numbers = arrays(np.float64, st.integers(1, 30), elements=st.floats(0, 100, width=32))


@given(numbers, numbers)
def test_distribution_distance_agrees_with_two_libraries(one: np.ndarray, two: np.ndarray) -> None:
    import ot
    from scipy.stats import wasserstein_distance

    found = tone.distribution_distance(one, two)
    assert found == pytest.approx(wasserstein_distance(one, two), abs=1e-9)
    assert found == pytest.approx(float(ot.wasserstein_1d(one, two)), abs=1e-9)
    assert tone.distribution_distance(two, one) == pytest.approx(found, abs=1e-9)
    assert tone.distribution_distance(one, np.repeat(one, 3)) == pytest.approx(0, abs=1e-9)


@given(arrays(np.uint8, st.tuples(st.integers(1, 9), st.integers(1, 9), st.just(3))))
def test_mirrored_picture_has_the_same_values(picture: np.ndarray) -> None:
    assert tone.tone_distance(picture, picture[:, ::-1]) == pytest.approx(0, abs=1e-9)
    assert tone.tone_summary(picture[::-1]).median == pytest.approx(tone.tone_summary(picture).median)


@pytest.mark.parametrize("bad", [[], [np.nan], [np.inf]])
def test_distributions_of_nothing_are_refused(bad: Any) -> None:
    with pytest.raises(CannotMeasure):
        tone.distribution_distance(bad, [1.0])
    with pytest.raises(CannotMeasure):
        tone.distribution_distance([1.0], bad)


def test_what_is_no_picture_is_refused() -> None:
    for measure in (tone.lightness, tone.tone_summary, tone.value_study, lambda p: tone.tone_distance(p, p)):
        with pytest.raises(CannotMeasure):
            measure(np.zeros((4, 4), np.uint8))


@pytest.mark.parametrize("levels", [3, 5])
def test_value_study_gives_each_band_the_grey_of_its_middle(levels: int) -> None:
    # Wide flat steps, each in the middle of its band, come back as they were (to a step of 8 bits).
    middles = (np.arange(levels) + 0.5) * 100 / levels
    encoded = np.rint(colour.encoded(tone.lightness_to_luminance(middles)) * 255)
    picture = grey(np.repeat(np.repeat(encoded[None], 60, axis=0), 40, axis=1))
    study = tone.value_study(picture, levels)
    assert study.dtype == np.uint8
    assert study.shape == picture.shape
    assert sorted(np.unique(study)) == sorted(encoded)
    centres = 20 + 40 * np.arange(levels)
    assert (study[30, centres] == picture[30, centres]).all()


def test_value_study_of_odd_shapes_and_other_levels() -> None:
    for shape in ((1, 1), (1, 5000), (900, 700)):
        study = tone.value_study(grey(np.full(shape, 119)), 3)
        assert study.shape[0] * study.shape[1] <= tone.TONE_PIXELS
        assert len(np.unique(study)) == 1
    with pytest.raises(CannotMeasure):
        tone.value_study(grey(np.full((4, 4), 119)), 4)


@settings(deadline=None, max_examples=20)
@given(arrays(np.uint8, st.tuples(st.integers(1, 20), st.integers(1, 20), st.just(3))))
def test_value_study_uses_no_other_greys(picture: np.ndarray) -> None:
    study = tone.value_study(picture, 5)
    assert study.shape == picture.shape
    assert (study[..., 0] == study[..., 1]).all()
    assert len(np.unique(study)) <= 5
