"""The drawn pictures and frames: all there, in the forms they should have, and drawn the same again by the script."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps

from refarchive.looks import colour, tone

SAMPLES = Path(__file__).parents[2] / "sample_refs"
PICTURES = {
    "dawn-gatherers.jpg": (1700, 1100),
    "gatherers-engraving.jpg": (1600, 1100),
    "gatherers-engraving-crop.jpg": (1062, 792),
    "gatherer-portrait.jpg": (1100, 1500),
    "gatherer-portrait-mirrored.jpg": (1100, 1500),
    "gatherer-portrait-coloured.jpg": (1100, 1500),
    "kerchief-study.jpg": (1200, 1200),
    "petticoat-cloth.png": (1400, 1000),
    "shawl-object.jpg": (1200, 1500),
    "clogs-object.jpg": (1400, 1000),
    "fashion-plate.jpg": (1100, 1500),
    "storm-lantern-object.jpg": (1100, 1500),
    "candle-lantern.jpg": (1200, 1500),
    "basket-and-riddle.jpg": (1500, 1100),
    "jumbo-board.jpg": (1600, 900),
    "sand-pilot.jpg": (1100, 1500),
    "brobs-on-the-route.jpg": (2000, 800),
    "cart-wheel-detail.jpg": (1200, 1200),
    "carrier-portrait.jpg": (1100, 1500),
    "ferry-stage.jpg": (1700, 1100),
    "ferry-lamp-sketch.jpg": (1100, 1400),
    "village-low-tide.jpg": (1800, 1000),
    "map-of-the-crossing.jpg": (1600, 1200),
}
DEEP = "cart-at-the-ford.tif"
FRAMES = (
    "first-light-01.jpg",
    "first-light-02.jpg",
    "first-light-03.jpg",
    "first-light-04.jpg",
    "first-light-ball.jpg",
    "first-light-fooled.jpg",
    "pilots-crossing-01.jpg",
)
MOST_BYTES = 12_000_000


def shown(path: Path) -> Image.Image:
    """A picture as it is shown: upright, in colour."""
    with Image.open(path) as image:
        return ImageOps.exif_transpose(image).convert("RGB")


def pixels(path: Path) -> NDArray[np.float64]:
    return np.asarray(shown(path), np.float64)


def likeness(first: NDArray[np.float64], second: NDArray[np.float64]) -> float:
    """Correlation of two equally large fields."""
    return float(np.corrcoef(first.ravel(), second.ravel())[0, 1])


def test_nothing_is_missing_or_left_over() -> None:
    assert {path.name for path in (SAMPLES / "pictures").iterdir()} == {*PICTURES, DEEP}
    assert {path.name for path in (SAMPLES / "frames").iterdir()} == {*FRAMES, "shoot"}


@pytest.mark.parametrize("name", sorted(PICTURES))
def test_each_picture_is_shown_at_its_size(name: str) -> None:
    picture = shown(SAMPLES / "pictures" / name)
    assert picture.size == PICTURES[name]
    assert np.asarray(picture.convert("L")).std() > 8, "an empty sheet"


@pytest.mark.parametrize("name", FRAMES)
def test_each_frame_is_a_colour_photograph(name: str) -> None:
    with Image.open(SAMPLES / "frames" / name) as frame:
        assert (frame.format, frame.mode, frame.size) == ("JPEG", "RGB", (1800, 1200))


def test_the_whole_is_small() -> None:
    drawn = [path for folder in ("pictures", "frames") for path in (SAMPLES / folder).glob("*.*")]
    assert sum(path.stat().st_size for path in drawn) <= MOST_BYTES


def test_one_picture_is_stored_turned() -> None:
    """Tag 274 (Orientation) is 6 in TIFF 6.0 and Exif: row 0 of the file is the right-hand side of what is shown."""
    with Image.open(SAMPLES / "pictures" / "carrier-portrait.jpg") as stored:
        assert stored.getexif()[274] == 6
        assert stored.size == (1500, 1100)
        right_edge = np.asarray(stored.convert("RGB"), np.float64)[0]
    assert np.abs(pixels(SAMPLES / "pictures" / "carrier-portrait.jpg")[:, -1] - right_edge).max() == 0


def test_one_picture_carries_a_profile() -> None:
    with Image.open(SAMPLES / "pictures" / "village-low-tide.jpg") as picture:
        data = picture.info["icc_profile"]
    profile = ImageCms.getOpenProfile(io.BytesIO(data))
    assert profile.profile.xcolor_space.strip() == "RGB"
    assert "sRGB" in ImageCms.getProfileDescription(profile)


def test_one_picture_has_sixteen_bits() -> None:
    with tifffile.TiffFile(SAMPLES / "pictures" / DEEP) as file:
        page = file.pages.first
        assert (page.bitspersample, page.samplesperpixel, page.photometric.name) == (16, 3, "RGB")
        assert page.compression.name in {"ADOBE_DEFLATE", "DEFLATE"}
        deep = page.asarray()
    assert deep.shape == (825, 1200, 3)
    assert (deep % 257 != 0).mean() > 0.5, "eight bits in a sixteen-bit coat"
    assert (SAMPLES / "pictures" / DEEP).stat().st_size <= 4_000_000


def test_the_family_descends_from_one_original() -> None:
    """The crop is a part of the engraving, and the direct positive is the carte with left and right exchanged."""
    whole = np.asarray(shown(SAMPLES / "pictures" / "gatherers-engraving.jpg").convert("L"), np.float64)
    crop = np.asarray(shown(SAMPLES / "pictures" / "gatherers-engraving-crop.jpg").convert("L"), np.float64)
    assert likeness(whole[300:1000, 130:1100], crop[46:-46, 46:-46]) > 0.9

    carte = shown(SAMPLES / "pictures" / "gatherer-portrait.jpg").convert("L")
    positive = shown(SAMPLES / "pictures" / "gatherer-portrait-mirrored.jpg").convert("L")
    small = positive.transform(
        carte.size, Image.Transform.AFFINE, (0.8, 0, 0.1 * 1100, 0, 0.8, 0.515 * 1500 - 0.8 * 0.53 * 1500)
    )
    sitter = (slice(240, 1150), slice(300, 800))
    plain, cased = np.asarray(carte, np.float64)[sitter], np.asarray(small, np.float64)
    assert likeness(plain, cased[:, ::-1][sitter]) > 0.85
    assert likeness(plain, cased[sitter]) < 0.75


def test_the_frames_have_known_answers() -> None:
    """The second is far too bright, the third has another palette, the fourth is the first without its warm light."""
    first, bright, other, unlit = (np.asarray(shown(SAMPLES / "frames" / name)) for name in FRAMES[:4])
    medians = [tone.tone_summary(frame).median for frame in (first, bright, other, unlit)]
    assert medians[1] - medians[0] > 20
    assert abs(medians[2] - medians[0]) < 3
    assert abs(medians[3] - medians[0]) < 5
    palettes = [colour.palette(frame, 8) for frame in (first, bright, other, unlit)]
    assert colour.palette_distance(palettes[0], palettes[2]) > 10
    assert colour.palette_distance(palettes[0], palettes[3]) < 5
    warm = [((frame[..., 0] > 200) & (frame[..., 2] < 170)).mean() for frame in (first, unlit)]
    assert warm[0] > 0.001
    assert warm[1] == 0


def test_drawn_again_it_is_the_same(tmp_path: Path) -> None:
    """Two pictures drawn anew: on average within half a level, and 999 pixels of 1000 within eight levels of 255.

    The same libraries give the same bytes; the room is for other versions of the libraries.
    """
    names = ("clogs-object.jpg", "jumbo-board.jpg")
    done = subprocess.run(
        [sys.executable, str(SAMPLES / "draw.py"), "--into", str(tmp_path), *names],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    for name in names:
        apart = np.abs(pixels(tmp_path / "pictures" / name) - pixels(SAMPLES / "pictures" / name))
        assert apart.mean() <= 0.5, name
        assert np.percentile(apart, 99.9) <= 8, name
    assert not list((tmp_path / "frames").iterdir())


def test_a_name_that_is_not_there_is_refused(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(SAMPLES / "draw.py"), "--into", str(tmp_path), "nothing.jpg"],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2
    assert "nothing.jpg" in done.stderr
    assert not list(tmp_path.iterdir())
