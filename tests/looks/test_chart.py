"""The 24-patch chart: rendered from published Lab values, photographed in simulation, and read back."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage import data

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.chart import EDITIONS, Reading, corrected, published, read_chart

AFTER, BEFORE = "after November 2014", "before November 2014"
CAST = np.array([[0.92, 0.05, 0.01], [0.06, 0.80, 0.08], [0.00, 0.10, 0.62]])  # a warm light, and channels that mix
CORNERS = ((0.16, 0.20), (0.83, 0.12), (0.88, 0.80), (0.12, 0.86))  # seen at a slant


def rendered(edition: str = AFTER, px: int = 40) -> np.ndarray:
    """The chart in linear light, flat, with thin black borders between its patches; cyan leaves sRGB and is clipped."""
    _, lab = published(edition)
    light = np.clip(colour.lab_to_linear(lab), 0, 1).reshape(4, 6, 3)
    flat = np.repeat(np.repeat(light, px, axis=0), px, axis=1)
    for edge in range(0, 6 * px, px):
        flat[:, edge : edge + 2] = flat[:, edge + px - 2 : edge + px] = 0.002
    for edge in range(0, 4 * px, px):
        flat[edge : edge + 2] = flat[edge + px - 2 : edge + px] = 0.002
    return flat


def photographed(
    flat: np.ndarray, *, cast: np.ndarray | None = None, noise: float = 0.0, uneven: float = 0.0, size: int = 600
) -> np.ndarray:
    """The chart on a grey table, seen at a slant, under a cast, with noise and light that falls off to one side."""
    height, width = flat.shape[:2]
    goal = (np.array(CORNERS) * [size, size * 2 // 3]).astype(np.float32)
    turn = cv2.getPerspectiveTransform(np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32), goal)
    table = np.full((size * 2 // 3, size, 3), 0.12)
    seen = cv2.warpPerspective(flat, turn, (size, size * 2 // 3), dst=table, borderMode=cv2.BORDER_TRANSPARENT)
    seen = seen * (1 - uneven * np.linspace(0, 1, size))[None, :, None]
    seen = seen @ (np.eye(3) if cast is None else cast)
    seen = seen + np.random.default_rng(3).normal(size=seen.shape) * noise
    return np.rint(255 * colour.encoded(seen)).astype(np.uint8)


def told(reading: Reading) -> tuple[float, float, float]:
    assert reading.mean is not None, reading.sentence
    assert reading.balanced is not None
    assert reading.fitted is not None
    return reading.mean, reading.balanced, reading.fitted


# -- against the published values --------


def test_published_values_are_the_makers() -> None:
    """The maker's Lab (D50) of a few patches of the edition after November 2014, typed from its data sheet."""
    names, lab = published(AFTER)
    assert len(names) == 24
    for number, values in (
        (0, (37.54, 14.37, 14.92)),
        (12, (28.37, 15.42, -49.80)),
        (18, (95.19, -1.03, 2.93)),
        (23, (20.64, 0.07, -0.46)),
    ):
        assert lab[number] == pytest.approx(values, abs=0.02)
    assert published(BEFORE)[1][0] == pytest.approx((37.986, 13.555, 14.059), abs=0.02)


def test_a_chart_as_published_is_no_distance_away() -> None:
    reading = read_chart(photographed(rendered()), CORNERS, AFTER)
    mean, _, fitted = told(reading)
    assert mean < 0.5  # cyan lies outside sRGB, the rest is rounding
    assert fitted < 0.7
    assert reading.exposure_stops == pytest.approx(0, abs=0.03)
    assert reading.matrix == pytest.approx(np.eye(3), abs=0.03)
    assert max(reading.patches, key=lambda p: p.difference).name == "cyan"


def test_a_cast_is_found_and_taken_out() -> None:
    picture = photographed(rendered(), cast=CAST, noise=0.004, uneven=0.05)
    reading = read_chart(picture, CORNERS, AFTER)
    mean, balanced, fitted = told(reading)
    assert mean > 5
    assert balanced < 0.6 * mean
    assert fitted < 1.5
    assert reading.matrix is not None
    after = read_chart(corrected(picture, reading.matrix), CORNERS, AFTER)
    assert told(after)[0] == pytest.approx(fitted, abs=0.4)
    assert reading.matrix == pytest.approx(np.linalg.inv(CAST), abs=0.12)


def test_the_matrix_is_that_of_colour_science() -> None:
    """Cheung et al. 2004 with three terms is the same least squares, by another hand."""
    import colour as science

    picture = photographed(rendered(), cast=CAST)
    reading = read_chart(picture, CORNERS, AFTER)
    from refarchive.looks.chart import _checked, _read

    light, clipped = _read(picture, _checked(CORNERS, picture.shape))
    wanted = colour.lab_to_linear(published(AFTER)[1])
    theirs = science.matrix_colour_correction(light[~clipped], wanted[~clipped], method="Cheung 2004", terms=3)
    np.testing.assert_allclose(reading.matrix, np.asarray(theirs).T, atol=1e-8)


def test_a_stop_less_light_is_told_as_that() -> None:
    reading = read_chart(photographed(rendered() / 2), CORNERS, AFTER)
    assert reading.exposure_stops == pytest.approx(-1, abs=0.05)


def test_a_jpeg_reads_alike() -> None:
    picture = photographed(rendered(), cast=CAST)
    data_ = io.BytesIO()
    Image.fromarray(picture).save(data_, "JPEG", quality=90)
    jpeg = np.asarray(Image.open(data_))
    own, other = (told(read_chart(p, CORNERS, AFTER)) for p in (picture, jpeg))
    assert other == pytest.approx(own, abs=0.3)


def test_the_other_edition_fits_worse() -> None:
    picture = photographed(rendered(BEFORE))
    right, wrong = (told(read_chart(picture, CORNERS, edition)) for edition in (BEFORE, AFTER))
    assert wrong[0] > right[0] + 0.5


def jpeg(picture: np.ndarray, quality: int) -> np.ndarray:
    held = io.BytesIO()
    Image.fromarray(picture).save(held, "JPEG", quality=quality)
    return np.asarray(Image.open(held))


@pytest.mark.parametrize("edition", list(EDITIONS))
def test_all_at_once_it_is_recovered_and_the_edition_told_apart(edition: str) -> None:
    """Slant, cast, mixed channels, noise, a twentieth less light on one side, JPEG: 0.6 ΔE00 are left, 0.9 if wrong."""
    (other,) = set(EDITIONS) - {edition}
    picture = jpeg(photographed(rendered(edition), cast=CAST, noise=0.004, uneven=0.05), 85)
    right, wrong = (read_chart(picture, CORNERS, named) for named in (edition, other))
    assert told(right)[2] < 0.8
    assert told(wrong)[2] > told(right)[2] + 0.15
    assert right.other_edition == pytest.approx(wrong.fitted)
    assert "would fit better" not in right.sentence
    assert f"The edition {edition} would fit better" in wrong.sentence
    assert right.doubtful == ()


def test_figures_agree_with_those_of_the_patches() -> None:
    reading = read_chart(photographed(rendered(), cast=CAST), CORNERS, AFTER)
    off = [patch.difference for patch in reading.patches if not patch.clipped]
    assert (reading.mean, reading.median, reading.most) == pytest.approx((np.mean(off), np.median(off), max(off)))
    assert reading.gains is not None
    assert reading.matrix is not None
    picture = photographed(rendered(), cast=CAST)
    after = read_chart(corrected(picture, np.diag(reading.gains)), CORNERS, AFTER)
    assert after.mean == pytest.approx(reading.balanced, abs=0.3)
    assert after.most == pytest.approx(reading.balanced_most, abs=1.0)


def test_turned_on_the_table_it_reads_the_same() -> None:
    picture = photographed(rendered(), cast=CAST)
    turned = np.rot90(picture)  # anticlockwise: (x, y) goes to (y, 1 − x)
    corners = [(y, 1 - x) for x, y in CORNERS]
    assert told(read_chart(turned, corners, AFTER)) == pytest.approx(told(read_chart(picture, CORNERS, AFTER)), abs=0.1)


# -- what cannot be told --------


def exchanged(first: int, second: int) -> np.ndarray:
    """The chart with two patches in each other's place."""
    cells = rendered().reshape(4, 40, 6, 40, 3).swapaxes(1, 2).reshape(24, 40, 40, 3)
    cells[[first, second]] = cells[[second, first]]
    return cells.reshape(4, 6, 40, 40, 3).swapaxes(1, 2).reshape(160, 240, 3)


@pytest.mark.parametrize("first", range(18, 23))
def test_greys_out_of_order_are_not_told(first: int) -> None:
    reading = read_chart(photographed(exchanged(first, first + 1)), CORNERS, AFTER)
    assert reading.mean is None
    assert "grey row does not darken" in reading.sentence


def test_patches_that_do_not_fit_are_named_or_the_whole_is_not_told() -> None:
    """Exchanges of near and of far patches: none is passed over in silence."""
    names, _ = published(AFTER)
    for first, second in ((8, 14), (7, 12), (0, 3), (10, 15), (1, 6), (3, 12)):
        reading = read_chart(photographed(exchanged(first, second)), CORNERS, AFTER)
        if reading.mean is None:
            assert reading.sentence.startswith("Cannot tell")
        else:
            assert {names[first], names[second]} & set(reading.doubtful), reading.sentence
            assert "do not fit" in reading.sentence
    far = read_chart(photographed(exchanged(3, 12)), CORNERS, AFTER)  # foliage and blue: much alike in lightness
    assert far.mean is None


def shuffled() -> np.ndarray:
    cells = rendered().reshape(4, 40, 6, 40, 3).swapaxes(1, 2).reshape(24, 40, 40, 3)
    mixed = cells[np.random.default_rng(1).permutation(24)]
    return mixed.reshape(4, 6, 40, 40, 3).swapaxes(1, 2).reshape(160, 240, 3)


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (photographed(shuffled()), "does not run as on the chart"),
        (photographed(rendered()[::-1, ::-1]), "does not run as on the chart"),
        (photographed(np.repeat(rendered() @ colour.LUMINANCE[:, None], 3, axis=2)), "even the best matrix leaves"),
        (np.random.default_rng(0).integers(2, 250, (400, 600, 3), dtype=np.uint8), "Cannot tell"),
        (data.coffee(), "Cannot tell"),
        (np.full((400, 600, 3), 118, np.uint8), "Cannot tell"),
        (np.zeros((400, 600, 3), np.uint8), "24 of 24 patches are clipped"),
        (np.full((400, 600, 3), 255, np.uint8), "24 of 24 patches are clipped"),
    ],
)
def test_what_is_no_chart_cannot_be_told(picture: np.ndarray, words: str) -> None:
    reading = read_chart(picture, CORNERS, AFTER)
    assert reading.mean is reading.matrix is reading.gains is None
    assert reading.sentence.startswith("Cannot tell: ")
    assert words in reading.sentence
    assert len(reading.patches) == 24


def test_clipped_patches_are_named_and_left_out() -> None:
    reading = read_chart(photographed(rendered() * 1.3), CORNERS, AFTER)
    lost = [p.name for p in reading.patches if p.clipped]
    assert lost == [
        "orange yellow",
        "yellow",
        "white 9.5 (.05 D)",
    ]  # beyond 1 in some channel
    assert all(name in reading.sentence for name in lost)
    assert told(reading)[2] < 2


# -- what is refused --------


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (CORNERS[::-1], "wrong way round"),
        ((CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3]), "cross"),
        (((0, 0), (0.5, 0.5), (1, 1), (0.2, 0.2)), "cross"),
        (((0.5, 0.5),) * 4, "cross"),
        ((*CORNERS[:3], (-0.1, 0.9)), "outside"),
        ((*CORNERS[:3], (float("nan"), 0.9)), "four corners"),
        (CORNERS[:3], "four corners"),
        (((0.5, 0.5), (0.55, 0.5), (0.55, 0.55), (0.5, 0.55)), "pixels wide"),
        ("corners", "four corners"),
    ],
)
def test_corners_that_hold_no_chart_are_refused(corners: object, words: str) -> None:
    with pytest.raises(CannotMeasure, match=words):
        read_chart(photographed(rendered()), corners, AFTER)  # type: ignore[arg-type]


def test_the_edition_is_asked_for() -> None:
    with pytest.raises(CannotMeasure, match="edition") as caught:
        read_chart(photographed(rendered()), CORNERS, "new")
    assert all(edition in str(caught.value) for edition in EDITIONS)


@pytest.mark.parametrize("matrix", [np.eye(2), np.full((3, 3), np.nan)])
def test_a_correction_that_is_none_is_refused(matrix: np.ndarray) -> None:
    with pytest.raises(CannotMeasure):
        corrected(data.coffee(), matrix)


def test_one_pixel_holds_no_chart() -> None:
    with pytest.raises(CannotMeasure):
        read_chart(np.zeros((1, 1, 3), np.uint8), CORNERS, AFTER)
