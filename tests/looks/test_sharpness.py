"""Blur put into real photographs and measured again: SciPy's Gaussian of a known sigma, movements of a known length.

The pictures ship with scikit-image. Blur is put in where a lens puts it, in linear light; then come noise and rounding
to 8 bits. The sharpest frame has a blur of its own, as every lens has, and variances of Gaussians add.
"""

from __future__ import annotations

import io
import math

import cv2
import numpy as np
import pytest
from PIL import Image
from scipy import ndimage
from skimage import data

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, sharpness
from refarchive.looks.sharpness import Softness, compare, detail

LENS = 0.7  # sigma in pixels that every frame has


def scene(name: str) -> np.ndarray:
    picture = data.stereo_motorcycle()[0] if name == "motorcycle" else getattr(data, name)()
    return np.repeat(picture[:, :, None], 3, axis=2) if picture.ndim == 2 else np.asarray(picture)


def frame(
    name: str,
    sigma: float = 0.0,
    noise: float = 1.0,
    seed: int = 0,
    kernel: np.ndarray | None = None,
    veil: float = 0.0,
) -> np.ndarray:
    """A scene as taken: blurred by the lens and by this much more, with noise of so many 8-bit levels."""
    light = colour.linear(scene(name))
    own = math.hypot(LENS, sigma)
    light = np.stack([ndimage.gaussian_filter(light[..., c], own) for c in range(3)], axis=-1)
    if kernel is not None:
        light = cv2.filter2D(light, -1, kernel, borderType=cv2.BORDER_REFLECT)
    levels = colour.encoded(light * (1 - veil) + 0.4 * veil) * 255
    levels = levels + np.random.default_rng(seed).normal(0, noise, levels.shape)
    return np.rint(np.clip(levels, 0, 255)).astype(np.uint8)


def movement(length: float, degrees: float) -> np.ndarray:
    """The kernel of an even movement: a line of this length, drawn by bilinear weights."""
    kernel = np.zeros((41, 41))
    for step in np.linspace(-length / 2, length / 2, 2001):
        x, y = 20 + step * math.cos(math.radians(degrees)), 20 + step * math.sin(math.radians(degrees))
        left, top = math.floor(x), math.floor(y)
        for row, down in ((top, 1 - (y - top)), (top + 1, y - top)):
            kernel[row, left] += down * (1 - (x - left))
            kernel[row, left + 1] += down * (x - left)
    return kernel / kernel.sum()


def covariance(kernel: np.ndarray) -> np.ndarray:
    """Of a kernel, in pixels²: what an equivalent Gaussian must have."""
    y, x = np.mgrid[-20:21, -20:21]
    return np.array(
        [[(kernel * x * x).sum(), (kernel * x * y).sum()], [(kernel * x * y).sum(), (kernel * y * y).sum()]]
    )


def typical(found: Softness) -> float:
    return float(np.nanmedian(found.sigma_px))


@pytest.mark.parametrize("name", "astronaut camera coffee rocket chelsea grass motorcycle moon".split())
def test_a_known_gaussian_is_measured(name: str) -> None:
    sharp = detail(frame(name, noise=0.5, seed=1))
    for sigma in (0.7, 1.0, 2.0, 4.0):
        first, second = compare([sharp, detail(frame(name, sigma, noise=0.5, seed=2))])
        assert typical(second) == pytest.approx(sigma, rel=0.08)
        assert second.compared >= 15
        assert second.softer >= 0.75 * second.compared
        assert second.whole is not None
        assert second.whole.direction_deg is None
        assert first.softer <= 1
        assert (first.whole, first.frame, second.frame) == (None, 0, 1)


@pytest.mark.parametrize("noise", [2.0, 4.0])
def test_noise_hardly_hides_a_blur(noise: float) -> None:
    for name in ("coffee", "motorcycle"):
        sharp = detail(frame(name, noise=noise, seed=1))
        for sigma in (1.0, 2.0):
            _, second = compare([sharp, detail(frame(name, sigma, noise=noise, seed=2))])
            assert typical(second) == pytest.approx(sigma, rel=0.12)


@pytest.mark.parametrize("name", "astronaut camera coffee rocket chelsea grass motorcycle moon".split())
def test_two_frames_alike_but_for_noise_are_not_called_soft(name: str) -> None:
    both = compare([detail(frame(name, noise=2.0, seed=seed)) for seed in (1, 2)])
    assert all(one.softer <= 0.05 * one.compared + 1 for one in both)
    assert all(one.whole is None for one in both)


@pytest.mark.parametrize(("length", "degrees"), [(3, 0), (6, 30), (10, 90), (8, 135)])
def test_a_movement_has_its_length_and_its_way(length: float, degrees: float) -> None:
    kernel = movement(length, degrees)
    values = np.linalg.eigvalsh(covariance(kernel))
    for name in ("coffee", "motorcycle"):
        _, moved = compare([detail(frame(name, seed=1)), detail(frame(name, seed=2, kernel=kernel))])
        assert moved.whole is not None
        assert moved.whole.direction_deg is not None
        assert abs((moved.whole.direction_deg - degrees + 90) % 180 - 90) < 4
        assert moved.whole.along_px == pytest.approx(math.sqrt(values[1]), rel=0.06)
        assert moved.whole.along_px * math.sqrt(12) == pytest.approx(length, rel=0.15)
        assert moved.whole.across_px < 0.5
        assert "a camera that moved" in moved.sentence


@pytest.mark.parametrize("veil", [0.3, 0.6])
def test_smoke_is_not_taken_for_blur(veil: float) -> None:
    clear = detail(frame("motorcycle", seed=1))
    _, smoky, soft = compare(
        [clear, detail(frame("motorcycle", seed=2, veil=veil)), detail(frame("motorcycle", 1.0, seed=3, veil=veil))]
    )
    assert min(smoky.compared, soft.compared) >= 44
    assert smoky.softer <= 2
    assert typical(soft) == pytest.approx(1.0, rel=0.06)


def test_another_exposure_is_not_taken_for_blur() -> None:
    light = colour.linear(frame("motorcycle", seed=1))
    dark = np.rint(colour.encoded(light * 0.5) * 255).astype(np.uint8)
    _, darker = compare([detail(frame("motorcycle", seed=2)), detail(dark)])
    assert darker.compared >= 40
    assert darker.softer <= 2


def test_the_blocks_of_a_jpeg_cost_a_tenth_or_two() -> None:
    for quality, off in ((95, 0.12), (85, 0.2)):
        kept = []
        for seed, sigma in enumerate((0.0, 1.0, 2.0)):
            held = io.BytesIO()
            Image.fromarray(frame("motorcycle", sigma, 2.0, seed)).save(held, "JPEG", quality=quality)
            kept.append(detail(np.asarray(Image.open(held))))
        first, second, third = compare(kept)
        assert first.whole is None
        assert second.whole is not None
        assert third.whole is not None
        assert second.whole.sigma_px == pytest.approx(1.0, rel=off)
        assert third.whole.sigma_px == pytest.approx(2.0, rel=off)


def test_a_soft_part_is_found_where_it_is() -> None:
    sharp, soft = frame("motorcycle", seed=1), frame("motorcycle", 2.0, seed=2)
    mixed = frame("motorcycle", seed=3)
    mixed[200:400, 300:550] = soft[200:400, 300:550]
    first, second = compare([detail(sharp), detail(mixed)])
    assert first.softer <= 1
    assert second.whole is None
    place = second.places[0]
    x, y, width, height = place.box
    rows, columns = sharp.shape[:2]
    assert x * columns < 320 < 530 < (x + width) * columns
    assert y * rows < 270 < 380 < (y + height) * rows
    assert place.blur.sigma_px == pytest.approx(1.9, abs=0.3)
    assert place.sharpest == 0
    assert place.tiles == second.softer < 0.25 * second.compared


def test_one_figure_that_moved_is_told_from_a_camera_that_moved() -> None:
    mixed = frame("motorcycle", seed=3)
    swung = frame("motorcycle", seed=4, kernel=movement(8, 90))
    mixed[150:400, 250:550] = swung[150:400, 250:550]
    _, found = compare([detail(frame("motorcycle", seed=1)), detail(mixed)])
    assert found.whole is None
    way = found.places[0].blur.direction_deg
    assert way == pytest.approx(90, abs=6)
    assert "something that moved" in found.sentence


def test_where_something_else_stands_nothing_is_said() -> None:
    other = frame("motorcycle", seed=2)
    other[200:400, 300:550] = frame("motorcycle", 3.0, seed=2)[50:250, 100:350]
    _, found = compare([detail(frame("motorcycle", seed=1)), detail(other)])
    assert found.softer == 0
    assert np.isnan(found.sigma_px[2:4, 4]).all()
    assert found.compared < 45


def test_each_tile_is_held_against_the_sharpest_of_several() -> None:
    frames = [frame("coffee", sigma, seed=number) for number, sigma in enumerate((1.5, 0.0, 0.8))]
    found = compare([detail(one) for one in frames])
    assert [typical(one) for one in found] == pytest.approx([1.5, 0.0, 0.8], abs=0.1)
    assert found[1].sharpest_of >= 0.9 * found[1].compared
    assert {place.sharpest for place in found[0].places} == {1}


def test_tiles_move_along_with_a_frame_that_was_knocked() -> None:
    base = frame("motorcycle", seed=1)
    knocked = np.roll(frame("motorcycle", 1.0, seed=2), (6, -9), (0, 1))
    still = compare([detail(base), detail(knocked)])[1]
    along = compare([detail(base), detail(knocked, -9.2, 5.8)])[1]
    assert along.compared > still.compared
    assert typical(along) == pytest.approx(1.0, rel=0.06)


def test_one_frame_alone_cannot_be_told() -> None:
    (alone,) = compare([detail(frame("coffee"))])
    assert (alone.compared, alone.softer, alone.places) == (0, 0, ())
    assert alone.sentence.startswith("Cannot tell")
    assert np.isnan(alone.sigma_px).all()


def test_a_flat_grey_and_another_scene_cannot_be_told() -> None:
    flat = detail(np.full((400, 600, 3), 128, np.uint8))
    assert all(one.compared == 0 for one in compare([flat, flat]))
    other = detail(cv2.resize(scene("rocket"), (600, 400)))
    assert all(one.compared <= 1 for one in compare([detail(frame("coffee")), other]))


def test_identical_frames_are_equally_sharp() -> None:
    one = detail(frame("coffee"))
    assert all(found.softer == 0 and typical(found) == 0.0 for found in compare([one, one, one]))


def test_what_cannot_be_compared_is_refused() -> None:
    with pytest.raises(CannotMeasure, match="0 frames"):
        compare([])
    with pytest.raises(CannotMeasure, match="different sizes"):
        compare([detail(frame("coffee")), detail(frame("rocket"))])
    with pytest.raises(CannotMeasure, match="too small"):
        detail(scene("coffee")[:90, :150])
    with pytest.raises(CannotMeasure, match="too far off"):
        detail(scene("coffee"), right_px=math.nan)
    with pytest.raises(CannotMeasure):
        detail(scene("coffee")[..., 0])


def test_floats_and_bytes_agree() -> None:
    one, two = frame("coffee", seed=1), frame("coffee", 1.0, seed=2)
    bytes_, floats = compare([detail(one), detail(two)]), compare([detail(one / 255.0), detail(two / 255.0)])
    assert typical(bytes_[1]) == pytest.approx(typical(floats[1]), abs=0.03)


def test_blown_and_blocked_places_are_boxes() -> None:
    picture = np.full((200, 400, 3), 100, np.uint8)
    picture[20:60, 40:100] = 255
    picture[100:150, 300:390] = (0, 1, 0)
    picture[180:190, 10:20] = (255, 0, 0)  # a pure colour still draws
    picture[5, 5] = 255  # a single pixel is below what is named
    blocked, blown = sharpness.clipped_places(picture)
    assert (blocked.kind, blown.kind) == ("blocked", "blown")
    assert blocked.box == pytest.approx((300 / 400, 100 / 200, 90 / 400, 50 / 200))
    assert blown.box == pytest.approx((40 / 400, 20 / 200, 60 / 400, 40 / 200))
    assert blown.share == pytest.approx(40 * 60 / 80_000)
    assert sharpness.clipped_places(picture / 255.0) == (blocked, blown)
    assert len(sharpness.clipped_places(picture, 0.0)) == 3
    with pytest.raises(CannotMeasure):
        sharpness.clipped_places(picture, 2.0)


def test_the_boxes_are_bounded() -> None:
    picture = np.full((400, 400, 3), 100, np.uint8)
    picture[::10, ::10] = 255
    assert len(sharpness.clipped_places(picture, 0.0)) == sharpness.MOST_CLIPPED_PLACES


def test_clipped_tiles_are_left_out() -> None:
    one, two = frame("coffee", seed=1), frame("coffee", 1.0, seed=2)
    one[:150, :200] = 255
    two[:150, :200] = 255
    found = compare([detail(one), detail(two)])[1]
    assert np.isnan(found.sigma_px[0, 0])
    assert typical(found) == pytest.approx(1.0, rel=0.06)
