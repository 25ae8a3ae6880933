"""Where colours sit, in pictures painted to known places."""

from __future__ import annotations

import numpy as np
import pytest
from skimage import data

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.places import painted, places

SAND, SKY, RED = ((138, 111, 77), (111, 127, 140), (160, 72, 58))


@pytest.fixture
def shore() -> np.ndarray:
    """Sky over sand, and a red square of a tenth of the width at the lower right."""
    picture = np.zeros((120, 120, 3), np.uint8)
    picture[:48], picture[48:] = SKY, SAND
    picture[96:108, 96:108] = RED
    return picture


def lab(*colours: tuple[int, int, int]) -> np.ndarray:
    return colour.srgb_to_lab(np.array(colours, np.uint8))


def test_colours_are_found_where_they_were_painted(shore: np.ndarray) -> None:
    sky, sand, red = places(shore, lab(SKY, SAND, RED))
    assert (sky.share, sand.share, red.share) == pytest.approx((0.4, 0.59, 0.01))
    assert sky.centre_xy == pytest.approx((0.5, 0.2))
    assert red.centre_xy == pytest.approx((0.85, 0.85))
    assert (sky.words, red.words) == ("along the top", "at the bottom right")
    assert sand.words == "along the bottom"
    assert red.region == pytest.approx((0.8, 0.8, 0.1, 0.1))  # a twentieth of twelve columns is less than one
    assert sky.region == pytest.approx((0.05, 0.0 + 2 / 120, 0.9, 0.4 - 4 / 120), abs=1.1 / 120)


def test_mirrored_places_are_mirrored(shore: np.ndarray) -> None:
    colours = lab(SKY, SAND, RED)
    for own, other in zip(places(shore, colours), places(shore[:, ::-1], colours), strict=True):
        assert other.share == own.share
        assert other.centre_xy == pytest.approx((1 - own.centre_xy[0], own.centre_xy[1]))
    assert places(shore[:, ::-1], colours)[2].words == "at the bottom left"


def test_shares_are_those_of_the_palette() -> None:
    """k-means assigns as places do, so that both say the same of a photograph."""
    picture = data.coffee()
    found = colour.palette(picture, 6)
    own = places(picture, found.lab)
    assert [one.share for one in own] == pytest.approx(list(found.shares), abs=0.01)
    for one, centre in zip(own, found.centres_xy, strict=True):
        assert one.centre_xy == pytest.approx(tuple(centre), abs=0.02)
    assert sum(one.share for one in own) == pytest.approx(1.0)


def test_a_colour_that_is_nowhere_says_so(shore: np.ndarray) -> None:
    green = places(shore, lab(SKY, SAND, RED, (10, 250, 20)))[3]
    assert (green.share, green.region, green.words) == (0.0, None, "nowhere")


def test_noise_is_all_over() -> None:
    noise = np.random.default_rng(0).choice(np.array([SAND, SKY], np.uint8), (90, 120))
    assert [one.words for one in places(noise, lab(SAND, SKY))] == ["all over", "all over"]


def test_painted_holds_the_colours_and_nothing_else(shore: np.ndarray) -> None:
    np.testing.assert_array_equal(painted(shore, lab(SKY, SAND, RED)), shore)
    two = painted(shore, lab(SKY, SAND))
    assert {tuple(int(v) for v in rgb) for rgb in two.reshape(-1, 3)} == {SKY, SAND}


@pytest.mark.parametrize("colours", [np.zeros((0, 3)), np.zeros(3), np.full((1, 3), np.nan)])
def test_no_colours_are_refused(shore: np.ndarray, colours: np.ndarray) -> None:
    with pytest.raises(CannotMeasure):
        places(shore, colours)
    with pytest.raises(CannotMeasure):
        painted(shore, colours)


@pytest.mark.parametrize("value", [0, 255])
def test_the_smallest_pictures_have_places(value: int) -> None:
    (only,) = places(np.full((1, 1, 3), value, np.uint8), lab((value,) * 3))
    assert (only.share, only.centre_xy, only.region) == (1.0, (0.5, 0.5), (0.0, 0.0, 1.0, 1.0))
