"""Studies in few values, clipped areas and stops, against figures of the standard and two libraries."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, studies, tone


def grey(levels: Any) -> np.ndarray:
    return np.repeat(np.asarray(levels, np.uint8)[:, :, None], 3, axis=2)


def test_study_shares_of_known_areas() -> None:
    # 8-bit 60, 119 and 220 have L* 25.1, 50.03 and 87.6 (CIE 15): one of each third. Areas 50, 30, 20 %.
    assert tone.lightness(grey([[60, 119, 220]]))[0] == pytest.approx([25.1, 50.03, 87.6], abs=0.3)
    picture = grey(np.repeat(np.repeat([[60] * 5 + [119] * 3 + [220] * 2], 20, axis=1), 120, axis=0))
    found = studies.study(picture, 3)
    assert found.shares == pytest.approx(
        (0.5, 0.3, 0.2), abs=1.5 / 200
    )  # the squint, in light, moves edges by a pixel or so
    assert found.thresholds == pytest.approx((100 / 3, 200 / 3))
    assert found.lightness == pytest.approx((100 / 6, 50, 500 / 6))
    assert found.values.shape == found.picture.shape[:2] == picture.shape[:2]
    assert [int(found.values[60, x]) for x in (50, 130, 180)] == [0, 1, 2]
    assert found.sentence == "dark 50 %, middle 30 %, light 20 %, parted at L* 33, 67."
    five = studies.study(picture, 5)
    assert five.thresholds == (20, 40, 60, 80)
    # The squint blurs the edge from 220 to 119 through the fourth value, and that from 119 to 60 through no other.
    assert five.shares == pytest.approx((0, 0.5, 0.3, 0, 0.2), abs=0.02)


@pytest.mark.parametrize(("level", "value"), [(0, 0), (255, 2), (119, 1)])
@pytest.mark.parametrize("shape", [(1, 1), (1, 3000), (300, 600)])
def test_study_of_flat_pictures(level: int, value: int, shape: tuple[int, int]) -> None:
    found = studies.study(grey(np.full(shape, level)), 3)
    assert found.shares[value] == 1
    assert (found.values == value).all()


@settings(deadline=None, max_examples=15)
@given(arrays(np.uint8, st.tuples(st.integers(1, 40), st.integers(1, 40), st.just(3))), st.sampled_from([3, 5]))
def test_study_is_the_value_study_and_mirrors_with_it(picture: np.ndarray, levels: int) -> None:
    found = studies.study(picture, levels)
    assert (found.picture == tone.value_study(picture, levels)).all()
    assert sum(found.shares) == pytest.approx(1)
    greys = np.rint(colour.encoded(tone.lightness_to_luminance(np.array(found.lightness))) * 255)
    assert (greys[found.values] == found.picture[..., 0]).all()
    assert studies.study(picture[:, ::-1], levels).shares == pytest.approx(found.shares, abs=2 / found.values.size)


def test_study_for_the_printer() -> None:
    y, x = np.mgrid[0:150, 0:200]
    disc = np.where(np.hypot(x - 100, y - 75) < 50, 230, 30)
    made = studies.study(grey(disc), 3)
    sheet = studies.to_print(made, 1200)
    assert sheet.shape == (900 + 12 + 48, 1200, 3)
    assert set(np.unique(sheet)) <= {*np.unique(made.picture), 255, *np.rint(colour.encoded([0.184187]) * 255)}
    light = int(made.picture.max())
    assert (sheet[:900] == light).all(axis=-1).mean() == pytest.approx(made.shares[2], abs=0.002)
    assert (sheet[-1] == light).all(axis=-1).mean() == pytest.approx(made.shares[2], abs=0.002)  # the bar
    # A smooth contour: the length of the disc's outline is that of a circle, not that of a staircase (4 / pi longer).
    from skimage.measure import perimeter_crofton

    assert perimeter_crofton(sheet[:900, :, 0] == light) == pytest.approx(
        2 * math.sqrt(math.pi * (sheet[:900, :, 0] == light).sum()), rel=0.03
    )
    for size in (0, 15, 20_001):
        with pytest.raises(CannotMeasure):
            studies.to_print(made, size)
    assert studies.to_print(studies.study(grey([[0]])), 16).shape[1] == 16


def test_clipped_areas_of_a_drawn_picture() -> None:
    picture = grey(np.full((100, 200), 120))
    picture[10:30, 150:190] = 255  # 4 % of the picture
    picture[80:90, 0:10] = 254  # 0.5 %
    picture[50:52, 100:101] = 0  # two pixels: 0.01 %
    picture[0, 0] = (255, 255, 200)  # one channel short of it
    found = studies.clipped(picture)
    assert (found.blown, found.blocked) == pytest.approx((0.045, 0.0001))
    assert [a.share for a in found.blown_areas] == pytest.approx([0.04, 0.005])
    assert found.blown_areas[0].region == pytest.approx((0.75, 0.1, 0.2, 0.2))
    assert found.blown_areas[0].centre_xy == pytest.approx((0.85, 0.2))
    assert found.blocked_areas[0].region == pytest.approx((0.5, 0.5, 0.005, 0.02))
    assert found.sentence == (
        "4.5 % blown out, the largest area at the top right; 0.0 % blocked up, the largest area in the middle."
    )
    assert studies.clipped(picture / 255.0) == found
    assert len(studies.clipped(picture, most=1).blown_areas) == 1
    mirrored = studies.clipped(picture[:, ::-1]).blown_areas[0]
    assert mirrored.region == pytest.approx((0.05, 0.1, 0.2, 0.2))


@settings(deadline=None, max_examples=25)
@given(arrays(np.bool_, st.tuples(st.integers(1, 12), st.integers(1, 12))), st.booleans())
def test_connected_areas_are_those_of_skimage(mask: np.ndarray, corners: bool) -> None:
    from skimage.measure import label, regionprops

    found = studies.connected(mask, 1000, corners)
    rows, columns = mask.shape
    theirs = regionprops(label(mask, connectivity=2 if corners else 1))

    def said(
        area: float, top: float, left: float, bottom: float, right: float, x: float, y: float
    ) -> tuple[float, ...]:
        return tuple(round(v, 9) for v in (area, top, left, bottom, right, x, y))

    ours = sorted(
        said(a.share * mask.size, a.region[1] * rows, a.region[0] * columns, (a.region[1] + a.region[3]) * rows,
             (a.region[0] + a.region[2]) * columns, a.centre_xy[0] * columns, a.centre_xy[1] * rows)
        for a in found
    )  # fmt: skip
    assert ours == sorted(said(p.area, *p.bbox, p.centroid[1] + 0.5, p.centroid[0] + 0.5) for p in theirs)
    sizes = [a.share for a in found]
    assert sizes == sorted(sizes, reverse=True)


def test_clipped_odd_pictures() -> None:
    black, white = studies.clipped(grey(np.zeros((50, 100)))), studies.clipped(grey(np.full((1, 1), 255)))
    assert (black.blocked, black.blown, black.blown_areas) == (1, 0, ())
    assert black.blocked_areas == (studies.Area(1.0, (0, 0, 1, 1), (0.5, 0.5)),)
    assert (white.blown, white.blocked) == (1, 0)
    assert studies.clipped(grey(np.full((9, 9), 120))).sentence == "Nothing is blown out or blocked up."
    for bad in (np.zeros((4, 4), np.uint8), np.full((4, 4, 3), 1.5), np.full((4, 4, 3), np.nan)):
        with pytest.raises(CannotMeasure):
            studies.clipped(bad)
    with pytest.raises(CannotMeasure):
        studies.clipped(grey([[0]]), most=0)


def test_stops_of_known_light() -> None:
    # Log-average of 4.5, 18 and 72 %: two stops either side of 18 % average to 18 % (Reinhard et al. 2002).
    found = studies.stops_summary(np.array([[0.045, 0.18, 0.72]]), scene_linear=True)
    assert (found.key, found.median, found.log_average) == pytest.approx((0, 0, 0.18), abs=1e-12)
    assert found.contrast == pytest.approx(0.9 * 4)  # 5 % to 95 % of four stops between three values
    # An even ramp of light from 0 to 1: its log-average is 1/e (integral of ln x), its percentiles .05, .5, .95.
    ramp = (np.arange(60_000).reshape(200, 300) + 0.5) / 60_000
    found = studies.stops_summary(ramp, scene_linear=True, white=1.05)
    assert found.log_average == pytest.approx(1 / math.e, abs=1e-4)
    expected = [math.log2(v / 1.05 / 0.18) for v in (0.05, 0.5, 0.95)]
    assert (found.p5, found.median, found.p95) == pytest.approx(expected, abs=1e-3)
    assert found.contrast == pytest.approx(math.log2(0.95 / 0.05), abs=1e-3)
    assert (found.below, found.above) == pytest.approx((math.log2(0.05 * math.e), math.log2(0.95 * math.e)), abs=2e-3)
    # White lies 2.4739 stops above 18 % (log2 of 1 / 0.18).
    just_below = studies.stops_summary(np.full((5, 5), 0.99), scene_linear=True)
    assert just_below.key == pytest.approx(2.4739 + math.log2(0.99), abs=5e-5)
    assert just_below.contrast == 0


@settings(deadline=None, max_examples=25)
@given(
    arrays(np.float64, st.tuples(st.integers(1, 9), st.integers(1, 9)), elements=st.floats(1e-3, 0.4)),
    st.floats(-6, 1),
)
def test_stops_follow_the_exposure(light: np.ndarray, more: float) -> None:
    from scipy.stats import gmean

    before = studies.stops_summary(light, scene_linear=True)
    after = studies.stops_summary(light * 2.0**more, scene_linear=True)
    assert before.log_average == pytest.approx(gmean(light, axis=None), rel=1e-9)
    assert before.key is not None
    assert after.key == pytest.approx(before.key + more, abs=1e-9)
    for name in ("contrast", "below", "above"):  # exposure leaves them
        assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-9)
    assert studies.stops_summary(light * 7, scene_linear=True, white=7.0).key == pytest.approx(before.key, abs=1e-9)


def test_stops_at_the_viewing_scale() -> None:
    # Finely mixed 0.1 and 0.5 are seen as 0.3, as an eye at a distance sees them; coarsely mixed they are not.
    fine = np.where(np.indices((1024, 1024)).sum(axis=0) % 2 == 0, 0.1, 0.5)
    found = studies.stops_summary(fine, scene_linear=True)
    assert found.key == pytest.approx(math.log2(0.3 / 0.18), abs=1e-9)
    coarse = studies.stops_summary(np.kron([[0.1, 0.5], [0.5, 0.1]], np.ones((512, 512))), scene_linear=True)
    assert coarse.contrast == pytest.approx(math.log2(5), abs=1e-9)


def test_stops_that_cannot_be_told() -> None:
    light = np.full((100, 100), 0.2)
    assert studies.stops_summary(light, scene_linear=False).sentence == studies.NOT_LINEAR
    for level, word in ((1.0, "blown"), (0.0, "blocked")):
        some = light.copy()
        some[:2] = level  # exactly 2 %
        told = studies.stops_summary(some, scene_linear=True)
        assert told.key is not None
        assert math.isfinite(told.key)
        some[2, 0] = level
        untold = studies.stops_summary(some, scene_linear=True)
        assert (untold.key, untold.contrast, untold.above, untold.log_average) == (None,) * 4
        assert untold.sentence.startswith("Cannot tell: 2 % of the picture is " + word)
    for flat in (np.zeros((1, 1)), np.ones((50, 100))):
        assert studies.stops_summary(flat, scene_linear=True).key is None
    bad_ones = (
        np.zeros((4, 4, 3)),
        np.zeros((0, 4)),
        np.full((4, 4), -0.1),
        np.full((4, 4), np.nan),
        light.astype(int),
    )
    for bad in bad_ones:
        with pytest.raises(CannotMeasure):
            studies.stops_summary(bad, scene_linear=True)
    for white in (0.0, -1.0, math.nan):
        with pytest.raises(CannotMeasure):
            studies.stops_summary(light, scene_linear=True, white=white)


def test_zones_lie_a_stop_apart() -> None:
    # L* of the zones I to VII, each a stop from the next, V at 18 % (Adams; the figures computed from CIE 15).
    zones = (9.9921, 16.7481, 25.2600, 35.9843, 49.4961, 66.5199, 87.9686)
    for number, lightness in enumerate(zones, start=1):
        assert studies.median_after(zones[4], number - 5) == pytest.approx(lightness, abs=2e-4)
        assert studies.stops_to_median(zones[4], lightness) == pytest.approx(number - 5, abs=2e-5)
    assert studies.median_after(zones[6], 1) == 100  # zone VIII exceeds white


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 10_000), st.floats(-3, 1), st.booleans())
def test_a_gain_moves_the_median_by_the_computed_amount(seed: int, change: float, in_bytes: bool) -> None:
    # Up to one stop, and light up to 0.49: nothing is clipped.
    light = np.random.default_rng(seed).uniform(0.05, 0.49, (60, 80, 3))
    picture = colour.encoded(light)
    if in_bytes:
        picture = np.rint(picture * 255).astype(np.uint8)
    before = tone.tone_summary(picture).median
    after = tone.tone_summary(studies.brought_by(picture, change)).median
    bound = 0.6 if in_bytes else 1e-9  # one step of 8 bits is up to 0.4 in L*, and a little more in the darks
    assert after == pytest.approx(studies.median_after(before, change), abs=bound)
    assert studies.stops_to_median(before, after) == pytest.approx(change, abs=0.15 if in_bytes else 1e-9)
    key = [studies.stops_summary(colour.linear(p) @ colour.LUMINANCE, scene_linear=True).key
           for p in (picture, studies.brought_by(picture, change))]  # fmt: skip
    assert None not in key
    assert key[1] - key[0] == pytest.approx(change, abs=0.05 if in_bytes else 1e-9)  # type: ignore[operator]


def test_brought_by_clips_and_keeps_the_kind() -> None:
    picture = grey([[0, 100, 188, 255]])
    brighter = studies.brought_by(picture, 1)
    assert brighter.dtype == np.uint8
    # Linear 0.5 is 188 in 8 bits (IEC 61966-2-1: 0.5 encodes to 0.7354); twice it is white.
    assert brighter[0, :, 0].tolist() == [0, 138, 255, 255]
    assert studies.brought_by(brighter, -1)[0, 3, 0] == 188  # what was clipped does not come back
    assert (studies.brought_by(picture, 0) == picture).all()
    floats = (picture / 255).astype(np.float32)
    assert studies.brought_by(floats, 1).dtype == np.float32
    assert studies.brought_by(floats, 1).max() == 1
    assert (studies.clipped(brighter).blown, studies.clipped(picture).blown) == (0.5, 0.25)
    for bad in (math.nan, math.inf, -21.0):
        with pytest.raises(CannotMeasure):
            studies.brought_by(picture, bad)
        with pytest.raises(CannotMeasure):
            studies.median_after(50, bad)
    for median, wanted in ((0.0, 50.0), (50.0, 0.0), (50.0, 101.0), (math.nan, 50.0)):
        with pytest.raises(CannotMeasure):
            studies.stops_to_median(median, wanted)
    with pytest.raises(CannotMeasure):
        studies.brought_by(np.zeros((4, 4), np.uint8), 1)
