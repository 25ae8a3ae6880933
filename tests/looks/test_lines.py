"""Horizons, directions and vanishing points on drawn pictures whose answers follow from how they were drawn."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage import data, draw, transform

from refarchive.errors import CannotMeasure
from refarchive.looks import horizon, lines


def grey(levels: np.ndarray) -> np.ndarray:
    return np.repeat(np.clip(np.rint(levels), 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)


def sea(
    row: float,
    tilt_deg: float,
    size: tuple[int, int] = (400, 600),
    sky: float = 200,
    water: float = 90,
    noise: float = 6,
) -> np.ndarray:
    """Sky over water, the edge drawn without steps: the share of water in each pixel across it, and grain."""
    rows, columns = size
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    edge = row * rows - math.tan(math.radians(tilt_deg)) * (x - columns / 2)
    share = np.clip(y - edge + 0.5, 0, 1)
    grain = np.random.default_rng(7).normal(size=size) * noise
    return grey(sky + (water - sky) * share + grain)


def noises() -> list[np.ndarray]:
    rng = np.random.default_rng(1)
    fine = [rng.integers(0, 256, (400, 600, 3)).astype(np.uint8), grey(rng.integers(0, 256, (400, 600)))]
    for softness in (2, 8, 30):
        soft = cv2.GaussianBlur(rng.normal(size=(400, 600)), (0, 0), softness)
        fine.append(grey(255 * (soft - soft.min()) / np.ptp(soft)))
    return fine


FLAT = [grey(np.full((300, 400), level)) for level in (0, 118, 255)]
TINY = [grey(np.full((1, 1), 90)), grey(np.zeros((3, 900))), sea(0.5, 0, (20, 30))]
ODD = [
    np.zeros((40, 40), np.uint8),
    np.zeros((40, 40, 4), np.uint8),
    np.zeros((0, 4, 3), np.uint8),
    np.full((40, 40, 3), 1.5),
]


# -- horizon --------


@settings(deadline=None, max_examples=30)
@given(st.floats(0.2, 0.8), st.floats(-12, 12), st.booleans())
def test_a_drawn_horizon_is_found(row: float, tilt: float, night: bool) -> None:
    reach = math.tan(math.radians(abs(tilt))) * 0.75  # of the height, at the sides
    row = min(max(row, reach + 0.15), 0.85 - reach)
    picture = sea(row, tilt, sky=60 if night else 200, water=100 if night else 90)
    found = horizon.horizon(picture)
    assert found.row is not None, found.sentence
    assert found.tilt_deg is not None
    assert found.row == pytest.approx(row, abs=0.5 / 400)  # half a pixel
    assert found.tilt_deg == pytest.approx(tilt, abs=0.1)
    assert found.width == pytest.approx(1, abs=0.1)
    assert found.step is not None
    assert (found.step < 0) == night
    mirrored = horizon.horizon(picture[:, ::-1])
    assert mirrored.tilt_deg == pytest.approx(-found.tilt_deg, abs=0.02)
    assert mirrored.row == pytest.approx(found.row, abs=0.5 / 400)


@pytest.mark.parametrize("size", [(200, 300), (1200, 1800), (900, 600), (500, 1000)])
def test_a_horizon_at_any_size_and_bit_depth(size: tuple[int, int]) -> None:
    picture = sea(0.4, 2.0, size)
    for same in (picture, picture / 255.0):
        found = horizon.horizon(same)
        assert found.row == pytest.approx(0.4, abs=0.002)
        assert found.tilt_deg == pytest.approx(2, abs=0.15)
    assert "left" not in found.sentence
    assert "its right end higher by 2.0°" in found.sentence


def test_the_spread_covers_the_error() -> None:
    off = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        tilt = rng.uniform(-5, 5)
        picture = sea(rng.uniform(0.3, 0.7), tilt)
        found = horizon.horizon(grey(picture[..., 0] + rng.normal(size=(400, 600)) * 25))
        assert found.tilt_deg is not None
        assert found.tilt_spread_deg is not None
        assert found.tilt_spread_deg < 0.5
        off.append(abs(found.tilt_deg - tilt) / found.tilt_spread_deg)
    assert max(off) < 4
    assert np.median(off) < 1.5


def test_people_before_it_do_not_hide_it() -> None:
    picture = sea(0.45, 1.0)
    for left in (60, 200, 330, 450):
        picture[130:340, left : left + 40] = 20
    found = horizon.horizon(picture)
    assert found.row == pytest.approx(0.45, abs=0.003)
    assert found.tilt_deg == pytest.approx(1, abs=0.2)
    assert found.width is not None
    assert 0.6 <= found.width < 0.85


def test_haze_moves_it_little() -> None:
    soft = cv2.GaussianBlur(sea(0.5, 3.0, noise=0).astype(np.float64), (0, 0), 3.0)
    found = horizon.horizon(grey(soft[..., 0]))
    assert found.row == pytest.approx(0.5, abs=0.003)
    assert found.tilt_deg == pytest.approx(3, abs=0.2)


def test_where_two_level_edges_rival_neither_is_told() -> None:
    picture = sea(0.35, 0, sky=210, water=140)
    picture[280:] = sea(0.35, 0, sky=210, water=60)[280:]
    found = horizon.horizon(picture)
    assert found.row is None
    assert found.sentence.startswith("Cannot tell: level edges rival")
    assert sorted([*found.rivals])[0] == pytest.approx(0.35, abs=0.02) or found.rivals[0] == pytest.approx(
        0.7, abs=0.02
    )


def test_what_is_no_horizon() -> None:
    x = np.linspace(0, 255, 400)
    short = np.full((400, 600), 180)
    short[220:, 250:420] = 40  # the top of a chest, not the sea
    rope = np.full((400, 600), 180)
    rope[200:203] = 20  # the same above and below
    bent = sea(0.5, 0)
    y, across = np.mgrid[0:400, 0:600]
    hills = np.where(y > 200 + 30 * np.sin(across / 40), 60, 200)
    mount = np.full((400, 600), 120)
    mount[:16], mount[-16:], mount[:, :16], mount[:, -16:] = 250, 250, 250, 250
    for picture in (
        grey(np.repeat(x[:, None], 600, axis=1)), grey(short), grey(rope), grey(hills), grey(mount),
        np.ascontiguousarray(np.rot90(bent)), sea(0.5, 30), *noises(), *FLAT, *TINY,
        data.astronaut(), data.chelsea(), data.coffee(), grey(data.gravel()), grey(data.page()),
    ):  # fmt: skip
        found = horizon.horizon(picture)
        assert found.row is None, found.sentence
        assert found.tilt_deg is None
        assert found.sentence.startswith("Cannot tell")


# -- directions --------


def strokes(angle_deg: float, count: int = 9, size: int = 480, seed: int = 0) -> np.ndarray:
    """Dark lines at one angle on light ground, anti-aliased by skimage."""
    rng = np.random.default_rng(seed)
    picture = np.full((size, size), 220.0)
    along = np.array([-math.sin(math.radians(angle_deg)), math.cos(math.radians(angle_deg))])
    for _ in range(count):
        middle = rng.uniform(0.3, 0.7, 2) * size
        a, b = np.rint(middle - along * 110).astype(int), np.rint(middle + along * 110).astype(int)
        for wide in range(-1, 2):
            rows, columns, value = draw.line_aa(a[0] + wide, a[1], b[0] + wide, b[1])
            inside = (rows >= 0) & (rows < size) & (columns >= 0) & (columns < size)
            rows, columns, value = rows[inside], columns[inside], value[inside]
            picture[rows, columns] = np.minimum(picture[rows, columns], 220 - 180 * value)
    return grey(picture)


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 179))
def test_lines_drawn_at_an_angle_share_it(angle: int) -> None:
    found = lines.dominant_lines(strokes(angle)).leading
    assert found, angle
    assert float(lines.angle_apart(found[0].angle_deg, angle)) < 1
    assert found[0].share > 0.8
    mirrored = lines.dominant_lines(strokes(angle)[:, ::-1]).leading
    assert float(lines.angle_apart(mirrored[0].angle_deg, 180 - found[0].angle_deg)) < 1
    turned = lines.dominant_lines(np.rot90(strokes(angle))).leading
    assert float(lines.angle_apart(turned[0].angle_deg, found[0].angle_deg + 90)) < 1


def test_two_directions_are_both_told() -> None:
    both = np.minimum(strokes(20, 8), strokes(110, 4, seed=2))
    found = lines.dominant_lines(both)
    assert len(found.leading) == 2
    first, second = found.leading
    assert (first.angle_deg, second.angle_deg) == pytest.approx((20, 110), abs=1)
    assert first.length > 1.5 * second.length
    assert "20° (rising to the right" in found.sentence
    for one, two in zip(first.lines, first.lines[1:], strict=False):
        assert one.length >= two.length
    assert len(lines.dominant_lines(both, most=1).leading) == 1


def test_lines_lie_where_they_were_drawn() -> None:
    picture = np.full((300, 600), 220.0)
    picture[150:, :] = 60  # one edge, across
    found = lines.straight_lines(grey(picture))
    assert len(found) == 1
    (line,) = found
    assert sorted((line.start_xy[0], line.end_xy[0])) == pytest.approx([0, 1], abs=0.02)
    assert (line.start_xy[1], line.end_xy[1]) == pytest.approx((0.5, 0.5), abs=0.003)
    assert line.length == pytest.approx(600 / math.hypot(600, 300), rel=0.03)
    assert float(lines.angle_apart(line.angle_deg, 0)) < 0.2


def test_the_chequers_of_skimage_run_both_ways() -> None:
    from skimage.data import checkerboard  # type: ignore[attr-defined,unused-ignore]

    found = lines.dominant_lines(grey(checkerboard())).leading
    assert sorted(round(one.angle_deg) % 180 for one in found) == [0, 90]
    assert [one.share for one in found] == pytest.approx([0.5, 0.5], abs=0.02)
    turned = transform.rotate(checkerboard() / 255.0, 25, mode="reflect", order=3)
    (best, *_) = lines.dominant_lines(np.repeat(np.clip(turned, 0, 1)[60:140, 60:140, None], 3, axis=2)).leading
    assert min(float(lines.angle_apart(best.angle_deg, a)) for a in (25, 115)) < 1.5


def test_what_shares_no_direction() -> None:
    for picture in (*noises(), *FLAT, *TINY, data.chelsea(), grey(data.gravel()), grey(data.coins())):
        found = lines.dominant_lines(picture)
        assert found.leading == ()
        assert found.sentence.startswith("Cannot tell")


# -- vanishing points --------


def seen(points: np.ndarray, focal: float, turn: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Points of the world (x right, y up, z ahead) through a pinhole: columns and rows in pixels."""
    own = points @ turn.T
    rows, columns = size
    return np.column_stack([columns / 2 + focal * own[:, 0] / own[:, 2], rows / 2 - focal * own[:, 1] / own[:, 2]])


def turned(yaw_deg: float, pitch_deg: float) -> np.ndarray:
    a, b = math.radians(yaw_deg), math.radians(pitch_deg)
    yaw = np.array([[math.cos(a), 0, -math.sin(a)], [0, 1, 0], [math.sin(a), 0, math.cos(a)]])
    pitch = np.array([[1, 0, 0], [0, math.cos(b), -math.sin(b)], [0, math.sin(b), math.cos(b)]])
    return pitch @ yaw


def vanishing(along: tuple[float, float, float], focal: float, turn: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Where all lines of that direction of the world meet, as fractions: the picture of the direction itself."""
    return seen(np.array([along], float), focal, turn, size)[0] / (size[1], size[0])


def railway(
    yaw: float, pitch: float, size: tuple[int, int] = (480, 640), focal: float = 500
) -> tuple[np.ndarray, np.ndarray]:
    """Two rails on sleepers between two fences, on light ground, and the fractions where they meet."""
    picture = np.full(size, 205, np.uint8)
    turn = turned(yaw, pitch)

    def fill(corners: list[tuple[float, float, float]], tone: int) -> None:
        flat = np.rint(seen(np.array(corners), focal, turn, size) * 16).astype(np.int32)
        cv2.fillConvexPoly(picture, flat, tone, lineType=cv2.LINE_AA, shift=4)

    for z in np.arange(40, 3, -0.7):
        fill([(-1.3, -1.6, z), (1.3, -1.6, z), (1.3, -1.6, z + 0.25), (-1.3, -1.6, z + 0.25)], 120)
    for x, y, wide in ((-0.75, -1.5, 0.07), (0.75, -1.5, 0.07)):
        fill([(x - wide, y, 3), (x + wide, y, 3), (x + wide, y, 60), (x - wide, y, 60)], 30)
    for x in (-2.5, 2.5):
        for y in (-1.2, -0.6):
            fill([(x, y, 4), (x, y + 0.08, 4), (x, y + 0.08, 60), (x, y, 60)], 60)
    return grey(picture), vanishing((0, 0, 1), focal, turn, size)


@settings(deadline=None, max_examples=12)
@given(st.floats(-12, 12), st.floats(-8, 8))
def test_a_railway_runs_to_its_vanishing_point(yaw: float, pitch: float) -> None:
    picture, expected = railway(yaw, pitch)
    found = lines.vanishing_points(picture)
    assert found.points, found.sentence
    assert found.points[0].xy == pytest.approx(tuple(expected), abs=0.012)
    assert found.points[0].spread < 0.02
    assert 0.25 <= found.points[0].support <= 1
    mirrored = lines.vanishing_points(picture[:, ::-1])
    assert mirrored.points[0].xy == pytest.approx((1 - expected[0], expected[1]), abs=0.012)


def boxes(yaw: float, size: tuple[int, int] = (600, 900), focal: float = 700) -> tuple[np.ndarray, list[np.ndarray]]:
    """A planked box seen over its corner, and the fractions where its two level directions meet."""
    picture = np.full(size, 215, np.uint8)
    turn = turned(yaw, 0)
    ahead = np.array([0, 0, 6.0]) @ turn  # the corner stands before the camera
    for side, tones in (((1, 0, 0), (120, 90)), ((0, 0, 1), (60, 40))):
        along = np.array(side, float)
        for k in range(8):
            low, high = -1.5 + 3 * k / 8, -1.5 + 3 * (k + 1) / 8
            ends = (np.zeros(3), along * 3)
            corners = [
                ahead + end + np.array([0, y, 0])
                for end, y in zip((*ends, *ends[::-1]), (low, low, high, high), strict=True)
            ]
            flat = np.rint(seen(np.array(corners), focal, turn, size) * 16).astype(np.int32)
            cv2.fillConvexPoly(picture, flat, tones[k % 2], lineType=cv2.LINE_AA, shift=4)
    return grey(picture), [vanishing(side, focal, turn, size) for side in ((1, 0, 0), (0, 0, 1))]


@pytest.mark.parametrize("yaw", [40, 45, 52])
def test_a_box_over_its_corner_has_two(yaw: float) -> None:
    picture, expected = boxes(yaw)
    found = lines.vanishing_points(picture).points
    assert len(found) == 2
    for point in found:
        miss = min(math.hypot(point.xy[0] - e[0], point.xy[1] - e[1]) for e in expected)
        assert miss < 0.03
    apart = abs(found[0].xy[0] - found[1].xy[0])
    assert apart == pytest.approx(abs(expected[0][0] - expected[1][0]), abs=0.05)


def test_few_lines_at_random_meet_by_chance() -> None:
    told = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        count = int(rng.integers(8, 100))
        middle = rng.uniform(-0.5, 0.5, (count, 2)) * [640, 480]
        angle, length = rng.uniform(0, math.pi, count), rng.exponential(40, count) + 24
        half = np.column_stack([np.cos(angle), np.sin(angle)]) * length[:, None] / 2
        told += bool(lines._vanishing(np.column_stack([middle - half, middle + half]), (480, 640), 2).points)
    assert told <= 2


def test_what_runs_to_no_point() -> None:
    ripples = grey(
        cv2.GaussianBlur(np.random.default_rng(2).normal(size=(400, 600)), (0, 0), 30, sigmaY=2) * 1500 + 120
    )
    for picture in (
        strokes(20), sea(0.5, 0), ripples, *noises(), *FLAT, *TINY,
        data.astronaut(), data.chelsea(), data.coffee(), grey(data.page()), grey(data.camera()), grey(data.coins()),
    ):  # fmt: skip
        found = lines.vanishing_points(picture)
        assert found.points == (), found.sentence
        assert found.sentence.startswith("Cannot tell")


@pytest.mark.parametrize("bad", ODD, ids=lambda array: f"{array.dtype}{array.shape}")
def test_what_is_no_picture_is_refused(bad: np.ndarray) -> None:
    for measure in (horizon.horizon, lines.straight_lines, lines.dominant_lines, lines.vanishing_points):
        with pytest.raises(CannotMeasure):
            measure(bad)
    for measure in (lines.dominant_lines, lines.vanishing_points):
        with pytest.raises(CannotMeasure):
            measure(FLAT[0], most=0)


def thick_strokes(count: int, seed: int, towards: tuple[float, float] | None = None) -> np.ndarray:
    """Thick strokes, each with two edges, at random or all running to one place in pixels; 640 × 480."""
    import cv2

    rng = np.random.default_rng(seed)
    picture = np.full((480, 640, 3), 200, np.uint8)
    for _ in range(count):
        middle, half = rng.uniform([20, 20], [620, 460]), rng.uniform(40, 110)
        angle = rng.uniform(0, math.pi)
        if towards is not None:
            to = np.array(towards) - middle
            angle, half = math.atan2(to[1], to[0]), min(half, 0.6 * float(np.hypot(*to)))
        reach = half * np.array([math.cos(angle), math.sin(angle)])
        ends = [tuple(int(v) for v in np.rint(16 * place)) for place in (middle - reach, middle + reach)]
        cv2.line(picture, ends[0], ends[1], (40, 40, 40), 3, cv2.LINE_AA, 4)
    return picture


def test_strokes_at_random_seldom_meet_though_each_has_two_edges() -> None:
    drawn = [thick_strokes(count, seed) for count in (8, 12, 16) for seed in range(40)]
    told = [picture for picture in drawn if lines.vanishing_points(picture).points]
    assert len(told) <= 3  # of 120, where 1 in 100 is asked for; counting each edge as a line tells a tenth of them


@pytest.mark.parametrize("place", [(320, 240), (100, 60), (900, 200), (320, -300)])
def test_strokes_to_one_place_tell_that_one_alone(place: tuple[float, float]) -> None:
    (point,) = lines.vanishing_points(thick_strokes(18, 0, place)).points
    assert np.hypot(point.xy[0] * 640 - place[0], point.xy[1] * 480 - place[1]) < 0.005 * 800


# -- what each threshold is for --------


@pytest.mark.parametrize(("row", "told"), [(0.05, False), (0.12, True), (0.88, True), (0.95, False)])
def test_edges_near_the_top_and_the_bottom_are_those_of_a_mount(row: float, told: bool) -> None:
    assert (horizon.horizon(sea(row, 0)).row is not None) is told


@pytest.mark.parametrize(("until", "told"), [(0.78, False), (0.86, True)])
def test_a_horizon_must_be_seen_at_both_sides(until: float, told: bool) -> None:
    """From `until` on a headland between the tones of sky and water hides it; three quarters are seen either way."""
    picture = sea(0.5, 0).copy()
    picture[:, round(until * picture.shape[1]) :] = 145
    for found in (horizon.horizon(picture), horizon.horizon(picture[:, ::-1])):
        assert (found.row is not None) is told, found.sentence


def star(bearings_deg: list[float], point: tuple[float, float] = (60.0, 30.0)) -> np.ndarray:
    """Lines that run to one point, in pixels from the middle of a picture of 480 × 640."""
    turn = np.radians(bearings_deg)
    way = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.column_stack([point + 70 * way, point + 170 * way])


def points(bearings_deg: list[float]) -> int:
    return len(lines._vanishing(star(bearings_deg), (480, 640), 1).points)


def test_a_handful_of_lines_makes_no_vanishing_point() -> None:
    assert points([10 + 34 * k for k in range(5)]) == 0
    assert points([10 + 24 * k for k in range(7)]) == 1


def test_lines_in_two_directions_make_a_corner_and_no_vanishing_point() -> None:
    bundle = [0.0, 2.1, 4.2, 6.3]
    assert points([start + turn for start in (10, 100) for turn in bundle]) == 0
    assert points([start + turn for start in (10, 70, 130) for turn in bundle]) == 1


def test_the_support_asked_for_is_what_chance_rarely_gives() -> None:
    """The largest share of random lines' length that meets in one place, over many sets: counted anew, not assumed."""
    shares = []
    for seed in range(300):
        rng = np.random.default_rng(1_000 + seed)
        count = int(rng.integers(8, 60))
        middle = rng.uniform(-0.5, 0.5, (count, 2)) * [640, 480]
        angle, length = rng.uniform(0, math.pi, count), rng.exponential(40, count) + 24
        half = np.column_stack([np.cos(angle), np.sin(angle)]) * length[:, None] / 2
        ends = np.column_stack([middle - half, middle + half])
        point, own = lines._consensus(ends, length, np.ones(count, bool), 800.0)
        if point is not None:
            shares.append(float(length[own].sum() / length.sum() * math.sqrt(count)))
    assert len(shares) > 50
    assert np.mean(np.array(shares) > lines.CHANCE_SUPPORT) <= 0.03
    assert np.mean(np.array(shares) > lines.CHANCE_SUPPORT / 2) >= 0.4  # less would take chance for a vanishing point
    assert lines.least_support(16) == pytest.approx(0.4)
    assert lines.least_support(400) == lines.LEAST_SUPPORT
