"""Alignment against shifts made by SciPy in the frequency domain, and scikit-image's phase correlation beside it.

The pictures ship with scikit-image: photographs, a stereo pair (two viewpoints), a telescope's picture. Noise and
CIEDE2000 are held against known noise and against the colours put in.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage
from skimage import data, transform
from skimage.registration import phase_cross_correlation

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, lockoff

NAMES = "astronaut camera coffee rocket chelsea coins brick moon".split()


def scene(name: str) -> np.ndarray:
    picture = data.stereo_motorcycle()[0] if name == "motorcycle" else getattr(data, name)()
    return np.repeat(picture[:, :, None], 3, axis=2) if picture.ndim == 2 else np.asarray(picture)


def shifted(picture: np.ndarray, right: float, down: float) -> np.ndarray:
    """Moved by SciPy's Fourier shift: no interpolation of ours, and what leaves on one side comes in on the other."""
    planes = [
        np.fft.ifft2(ndimage.fourier_shift(np.fft.fft2(picture[..., c].astype(float)), (down, right))).real
        for c in range(3)
    ]
    return np.rint(np.clip(np.stack(planes, axis=-1), 0, 255)).astype(np.uint8)


def staged(picture: np.ndarray, seed: int) -> np.ndarray:
    """A figure that moved, half the height and a fifth of the width; smoke; light from another side; noise."""
    random = np.random.default_rng(seed)
    rows, columns = picture.shape[:2]
    high, wide = rows // 2, columns // 5
    (y, to_y), (x, to_x) = random.integers(0, rows - high, 2), random.integers(0, columns - wide, 2)
    frame = picture.astype(float)
    frame[to_y : to_y + high, to_x : to_x + wide] = picture[y : y + high, x : x + wide]
    smoke = cv2.GaussianBlur(random.standard_normal((rows, columns)), (0, 0), columns / 8)
    smoke = 0.6 * ((smoke - smoke.min()) / np.ptp(smoke))[..., None]
    frame = frame * (1 - smoke) + 215 * smoke
    frame *= np.linspace(0.6, 1.3, columns)[None, :, None]
    frame += random.normal(0, 3, frame.shape)
    return np.rint(np.clip(frame, 0, 255)).astype(np.uint8)


def off(found: lockoff.Lay, right: float, down: float) -> float:
    assert found.told, found.sentence
    return math.hypot(found.right_px - right, found.down_px - down)


@pytest.mark.parametrize("name", NAMES)
def test_a_known_shift_is_found_to_a_few_hundredths_of_a_pixel(name: str) -> None:
    picture = scene(name)
    right, down = (2.37, -1.62) if len(name) % 2 else (-11.25, 7.5)
    found = lockoff.lay(picture, shifted(picture, right, down))
    assert off(found, right, down) < 0.03
    assert found.turn_deg == pytest.approx(0.0, abs=0.02)
    assert found.scale == pytest.approx(1.0, abs=5e-4)
    assert found.right_share == pytest.approx(right / picture.shape[1], abs=1e-4)
    assert found.down_share == pytest.approx(down / picture.shape[0], abs=1e-4)
    assert found.peak > 10


@settings(max_examples=5)
@given(st.sampled_from(["astronaut", "coffee", "motorcycle"]), st.floats(-15, 15), st.floats(-15, 15))
def test_scikit_image_agrees(name: str, right: float, down: float) -> None:
    picture = scene(name)
    frame = shifted(picture, right, down)
    found = lockoff.lay(picture, frame)
    second, _, _ = phase_cross_correlation(picture.mean(axis=2), frame.mean(axis=2), upsample_factor=50)
    assert off(found, -second[1], -second[0]) < 0.08
    assert off(found, right, down) < 0.06


@pytest.mark.parametrize("name", [*NAMES[:-1], "motorcycle"])
@pytest.mark.parametrize("seed", [1, 2])
def test_figures_smoke_flash_and_noise_hardly_matter(name: str, seed: int) -> None:
    picture = scene(name)
    right, down = [(0.0, 0.0), (2.37, -1.62), (-5.25, 7.5)][seed]
    found = lockoff.lay(picture, staged(shifted(picture, right, down), seed))
    assert off(found, right, down) < 0.15
    assert off(found, right, down) < 5 * found.error_px
    assert found.agreeing < found.tiles  # where the figure stands, tiles do not agree


def test_the_error_told_is_neither_idle_nor_boastful() -> None:
    ratios = []
    for seed, name in enumerate([*NAMES[:-1], "motorcycle"]):
        picture = scene(name)
        right, down = np.random.default_rng(seed).uniform(-6, 6, 2)
        found = lockoff.lay(picture, staged(shifted(picture, right, down), seed + 10))
        ratios.append(off(found, right, down) / found.error_px)
    assert 0.1 < np.median(ratios) < 2.0
    assert max(ratios) < 5.0


@pytest.mark.parametrize("name", ["astronaut", "coffee", "rocket"])
@pytest.mark.parametrize(("turn", "scale", "shift"), [(0.3, 1.0, (1.5, -2.0)), (-0.8, 1.004, (3.0, 2.0))])
def test_a_small_turn_and_scale_are_found(name: str, turn: float, scale: float, shift: tuple[float, float]) -> None:
    picture = scene(name)
    middle = (np.array([picture.shape[1], picture.shape[0]]) - 1) / 2
    moved = (
        transform.SimilarityTransform(translation=-middle)
        + transform.SimilarityTransform(rotation=math.radians(turn), scale=scale)
        + transform.SimilarityTransform(translation=middle + shift)
    )
    frame = transform.warp(picture, moved.inverse, order=3, mode="reflect")
    found = lockoff.lay(picture, np.rint(np.clip(frame, 0, 1) * 255).astype(np.uint8))
    assert off(found, *shift) < 0.05
    assert found.turn_deg == pytest.approx(turn, abs=0.01)
    assert found.scale == pytest.approx(scale, abs=2e-4)
    assert found.matrix is not None
    size = np.array([picture.shape[1], picture.shape[0]])
    for corner in ([0.1, 0.1], [0.9, 0.2], [0.5, 0.8]):
        here = (found.matrix @ [*corner, 1.0])[:2] * size - 0.5
        assert np.abs(here - moved(np.array(corner) * size - 0.5)[0]).max() < 0.1


@pytest.fixture(scope="module")
def large() -> tuple[np.ndarray, np.ndarray, float, float]:
    """Two frames of six megapixels with detail down to single pixels, one moved by a known fraction of them."""
    random = np.random.default_rng(3)
    rows, columns = 2100, 3150
    whole = cv2.resize(scene("rocket")[..., 1], (columns, rows), interpolation=cv2.INTER_CUBIC).astype(np.float32) * 0.8
    for size in (1.2, 4.0, 20.0):
        detail = cv2.GaussianBlur(random.standard_normal((rows, columns)).astype(np.float32), (0, 0), size)
        whole += 6 * detail / detail.std() + 5
    right, down = 5.37, -3.62
    moved = np.fft.ifft2(ndimage.fourier_shift(np.fft.fft2(whole), (down, right))).real
    noise = random.normal(0, 3, (2, rows, columns))
    one, two = (np.rint(np.clip(p + n, 0, 255)).astype(np.uint8) for p, n in zip((whole, moved), noise, strict=True))
    return np.repeat(one[..., None], 3, axis=2), np.repeat(two[..., None], 3, axis=2), right, down


def test_a_large_frame_is_finished_on_its_own_pixels(large: tuple[np.ndarray, np.ndarray, float, float]) -> None:
    one, two, right, down = large
    found = lockoff.lay(one, two)
    assert off(found, right, down) < 0.03  # pixels of the original


def test_a_reduced_frame_tells_pixels_of_the_original(large: tuple[np.ndarray, np.ndarray, float, float]) -> None:
    one, two, right, down = large
    small = [cv2.resize(picture, (1500, 1000), interpolation=cv2.INTER_AREA) for picture in (one, two)]
    found = lockoff.lay(small[0], small[1], original_width=3150)
    assert off(found, right, down) < 0.15
    assert off(found, right, down) < 4 * found.error_px
    mixed = lockoff.lay(one, small[1])
    assert off(mixed, right, down) < 0.15
    assert "different sizes (3150 × 2100 and 1500 × 1000)" in mixed.sentence


@pytest.mark.parametrize(("one", "other"), [("astronaut", "chelsea"), ("coffee", "rocket"), ("camera", "astronaut")])
def test_another_scene_cannot_be_told(one: str, other: str) -> None:
    base = scene(one)
    found = lockoff.lay(base, cv2.resize(scene(other), (base.shape[1], base.shape[0])))
    assert not found.told
    assert found.matrix is None
    assert found.sentence.startswith("Cannot tell")


def test_another_viewpoint_cannot_be_told() -> None:
    left, right, _ = data.stereo_motorcycle()
    assert not lockoff.lay(left, right).told


def test_other_proportions_cannot_be_told() -> None:
    found = lockoff.lay(scene("astronaut"), scene("coffee"))
    assert not found.told
    assert "512 × 512 and 600 × 400" in found.sentence


@pytest.mark.parametrize("level", [0, 128, 255])
def test_a_flat_grey_cannot_be_told(level: int) -> None:
    flat = np.full((200, 300, 3), level, np.uint8)
    assert not lockoff.lay(flat, flat).told
    assert not lockoff.lay(cv2.resize(scene("rocket"), (300, 200)), flat).told


def test_noise_alone_cannot_be_told() -> None:
    random = np.random.default_rng(5)
    one, two = random.integers(0, 256, (2, 300, 400, 3), dtype=np.uint8)
    assert not lockoff.lay(one, two).told


def test_a_tiny_picture_cannot_be_told() -> None:
    assert "smaller than 64" in lockoff.lay(scene("camera")[:40, :40], scene("camera")[:40, :40]).sentence


def test_a_frame_lies_exactly_on_itself() -> None:
    picture = scene("coffee")
    found = lockoff.lay(picture, picture)
    assert off(found, 0.0, 0.0) < 0.015
    seen = lockoff.differences(picture, picture, found)
    assert seen.share == 0.0
    assert seen.regions == ()


def test_floats_are_taken_as_well_as_bytes() -> None:
    picture = scene("astronaut")
    frame = shifted(picture, 3.25, 1.5)
    one, two = lockoff.lay(picture, frame), lockoff.lay(picture / 255.0, frame / 255.0)
    assert two.right_px == pytest.approx(one.right_px, abs=0.02)


def test_what_is_no_picture_is_refused() -> None:
    picture = scene("camera")
    with pytest.raises(CannotMeasure):
        lockoff.lay(picture, picture[..., 0])
    with pytest.raises(CannotMeasure):
        lockoff.lay(picture, picture.astype(float))
    with pytest.raises(CannotMeasure, match="no width"):
        lockoff.lay(picture, picture, original_width=0)
    with pytest.raises(CannotMeasure, match="pixels"):
        lockoff.differences(picture, picture, longest=10)
    with pytest.raises(CannotMeasure, match="laid over"):
        lockoff.differences(picture, np.full_like(picture, 100))


def test_a_figure_that_moved_is_found_where_it_was_put() -> None:
    picture = cv2.GaussianBlur(scene("motorcycle"), (0, 0), 0.8)  # as a lens draws: no detail finer than the pixels
    frame = shifted(picture, 2.3, -1.4)
    frame[100:220, 300:380] = (150, 40, 40)
    noisy = np.clip(frame + np.random.default_rng(1).normal(0, 2, frame.shape), 0, 255).astype(np.uint8)
    seen = lockoff.differences(picture, noisy)
    first = seen.regions[0]
    x, y, width, height = first.box
    rows, columns = picture.shape[:2]
    # In the frame the patch stands at 300–380, which lies at 297.7–377.7 of the base.
    assert [x * columns, (x + width) * columns] == pytest.approx([297.7, 377.7], abs=4)
    assert [y * rows, (y + height) * rows] == pytest.approx([101.4, 221.4], abs=4)
    assert first.share == pytest.approx(120 * 80 / (rows * columns), rel=0.15)
    assert seen.share == pytest.approx(first.share, abs=0.02)


def test_a_difference_of_colour_alone_counts_by_ciede2000() -> None:
    picture = cv2.GaussianBlur(scene("astronaut"), (0, 0), 1.0)
    red, green = (colour.lab_to_srgb([55.0, a, 10.0]) for a in (40.0, -40.0))
    one, two = picture.copy(), picture.copy()
    one[200:300, 200:300], two[200:300, 200:300] = np.rint(red * 255), np.rint(green * 255)
    seen = lockoff.differences(one, two)
    wanted = float(colour.delta_e_2000(colour.srgb_to_lab(red), colour.srgb_to_lab(green)))
    assert seen.delta_e[250, 250] == pytest.approx(wanted, rel=0.02)
    assert abs(float(seen.lighter[250, 250])) < 0.5
    assert len(seen.regions) == 1


@pytest.mark.parametrize("sigma", [0.5, 1.0, 2.0])
def test_the_noise_told_is_the_noise_put_in(sigma: float) -> None:
    picture = cv2.GaussianBlur(scene("coffee"), (0, 0), 1.5)
    lab = colour.srgb_to_lab(picture)
    frames = []
    for seed in (1, 2):
        noisy = lab.copy()
        noisy[..., 0] = np.clip(noisy[..., 0] + np.random.default_rng(seed).normal(0, sigma, lab.shape[:2]), 0, 100)
        frames.append(np.clip(colour.lab_to_srgb(noisy), 0, 1))
    still = lockoff.Lay(True, "", matrix=np.eye(3))
    seen = lockoff.differences(frames[0], frames[1], still)
    assert seen.noise == pytest.approx(sigma * math.sqrt(2), rel=0.08)
    assert seen.threshold == pytest.approx(max(lockoff.JUST_SEEN, lockoff.NOISES * seen.noise))
    assert seen.share < 0.01


def test_exposure_can_be_evened_and_is_told() -> None:
    picture = cv2.resize(scene("motorcycle"), None, fx=0.7, fy=0.7, interpolation=cv2.INTER_AREA)
    light = colour.linear(picture) * 0.5
    base = np.rint(colour.encoded(light) * 255).astype(np.uint8)
    frame = np.rint(colour.encoded(light * 2**0.5) * 255).astype(np.uint8)
    plain, even = lockoff.differences(base, frame), lockoff.differences(base, frame, even=True)
    assert plain.share > 0.5
    assert plain.overall > 3.0
    assert "lighter" in plain.sentence
    assert even.evened_stops == pytest.approx(-0.5, abs=0.02)
    assert "0.50 stops darker" in even.sentence
    assert even.share < 0.01


def test_regions_are_bounded_and_the_rest_is_counted() -> None:
    picture = scene("motorcycle")
    frame = picture.copy()
    for y in range(40, 440, 100):
        for x in range(40, 700, 100):
            frame[y : y + 24, x : x + 24] = 255 - frame[y : y + 24, x : x + 24]
    seen = lockoff.differences(picture, frame)
    assert len(seen.regions) == lockoff.MOST_REGIONS
    assert seen.left_out == 28 - lockoff.MOST_REGIONS
    assert [r.share for r in seen.regions] == sorted((r.share for r in seen.regions), reverse=True)
    assert all(min(r.box) >= 0 and r.box[0] + r.box[2] <= 1 and r.box[1] + r.box[3] <= 1 for r in seen.regions)


def test_where_the_frame_does_not_reach_nothing_differs() -> None:
    picture = scene("motorcycle")
    frame = np.full_like(picture, 0)
    frame[:, 20:] = picture[:, :-20]
    seen = lockoff.differences(picture, frame)
    assert not seen.reached[:, -18:].any()
    assert seen.reached[10:-10, 4:-26].all()
    assert (seen.delta_e[~seen.reached] == 0).all()
    assert seen.share < 0.01


def test_the_same_frames_give_the_same_answer() -> None:
    picture = scene("chelsea")
    frame = staged(shifted(picture, 1.3, 2.1), 4)
    assert lockoff.lay(picture, frame).sentence == lockoff.lay(picture, frame).sentence
