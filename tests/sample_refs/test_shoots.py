"""The three shoots and the month of looking: files, EXIF and tables agree, and what is said to be known is measured."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import tomllib
from collections import Counter, defaultdict
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pyexiv2
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from refarchive.records.wall import ANSWERS, CRITERIA
from refarchive.site import sun

SAMPLES = Path(__file__).parents[2] / "sample_refs"
SHOOT = SAMPLES / "frames" / "shoot"
SCENES = {"first-light": 9, "pilots-crossing": 8, "ferry-lamp": 8}
MOST_BYTES = 5_000_000
EXIF_IFD = 0x8769
TAKEN, SUBSEC, OFFSET = 0x9003, 0x9291, 0x9011
EXPOSURE, F_NUMBER, ISO, FOCAL = 0x829A, 0x829D, 0x8827, 0x920A
# Where nothing that moves stands: left, top, right, bottom.
STILL = {
    "first-light": ((990, 430, 1090, 600),),
    "pilots-crossing": ((780, 345, 900, 440), (1425, 420, 1490, 525)),
    "ferry-lamp": ((1240, 520, 1480, 985), (20, 530, 320, 985)),
}


def table(name: str) -> list[dict[str, str]]:
    with (SAMPLES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def known() -> dict[str, dict[str, str]]:
    return {row["frame"]: row for row in table("frames/shoot/known.csv")}


def place(frame: str) -> Path:
    return SHOOT / known()[frame]["scene"] / frame


@cache
def grey(frame: str) -> NDArray[np.float32]:
    with Image.open(place(frame)) as picture:
        return np.asarray(picture.convert("L"), np.float32)


@cache
def taken(frame: str) -> datetime:
    """The moment in a frame's EXIF."""
    with Image.open(place(frame)) as picture:
        told = picture.getexif().get_ifd(EXIF_IFD)
    stamp = f"{told[TAKEN]}.{told[SUBSEC]}{told[OFFSET]}"
    return datetime.strptime(stamp, "%Y:%m:%d %H:%M:%S.%f%z")


def frames_of(scene: str) -> list[str]:
    return [frame for frame, row in known().items() if row["scene"] == scene]


def with_remark(word: str, scene: str) -> list[str]:
    return [frame for frame in frames_of(scene) if word in known()[frame]["remark"]]


# -- files and EXIF --------


def test_the_table_names_every_frame_and_no_other() -> None:
    there = {path.name for path in SHOOT.glob("*/*")}
    assert there == set(known())
    assert Counter(row["scene"] for row in known().values()) == SCENES
    assert {path.name for path in SHOOT.iterdir()} == {*SCENES, "known.csv"}
    assert sum(path.stat().st_size for path in SHOOT.glob("*/*")) <= MOST_BYTES


@pytest.mark.parametrize("frame", sorted(known()))
def test_each_frame_says_when_and_how_it_was_exposed_and_not_by_which_camera(frame: str) -> None:
    """Read with Pillow, and again with pyexiv2 (Exiv2)."""
    with Image.open(place(frame)) as picture:
        assert (picture.format, picture.mode, picture.size) == ("JPEG", "RGB", (1500, 1000))
        profile = ImageCms.getOpenProfile(io.BytesIO(picture.info["icc_profile"]))
        own = picture.getexif().get_ifd(EXIF_IFD)
        assert not {0x010F, 0x0110} & set(picture.getexif())
    assert "sRGB" in ImageCms.getProfileDescription(profile)
    with pyexiv2.Image(str(place(frame))) as opened:
        told = opened.read_exif()
    assert told["Exif.Photo.DateTimeOriginal"] == own[TAKEN]
    assert told["Exif.Photo.SubSecTimeOriginal"] == own[SUBSEC]
    assert told["Exif.Photo.OffsetTimeOriginal"] == own[OFFSET]
    for name, tag in (("ExposureTime", EXPOSURE), ("FNumber", F_NUMBER), ("FocalLength", FOCAL)):
        assert float(own[tag]) == pytest.approx(float(Fraction(told[f"Exif.Photo.{name}"])))
    assert int(told["Exif.Photo.ISOSpeedRatings"]) == own[ISO]
    assert not [key for key in told if any(word in key for word in ("Make", "Model", "Serial", "MakerNote", "GPS"))]


@pytest.mark.parametrize("scene", SCENES)
def test_a_group_is_a_burst_and_groups_are_minutes_apart(scene: str) -> None:
    frames = frames_of(scene)
    assert frames == sorted(frames, key=taken), "names, table and clock run the same way"
    for before, after in pairwise(frames):
        apart = taken(after) - taken(before)
        if known()[before]["group"] == known()[after]["group"]:
            assert timedelta(seconds=1) <= apart <= timedelta(seconds=3)
        else:
            assert apart >= timedelta(minutes=4)
    assert max(Counter(known()[frame]["group"] for frame in frames).values()) == 3


@pytest.mark.parametrize(
    ("scene", "lowest", "highest"),
    [("first-light", -8.0, -4.0), ("pilots-crossing", 8.0, 28.0), ("ferry-lamp", -10.0, -4.0)],
)
def test_the_sun_stood_where_the_plan_wants_it(scene: str, lowest: float, highest: float) -> None:
    """Before sunrise, within the plan's window (8 to 28 degrees), and at dusk; by the archive's own sun."""
    plan = tomllib.loads((SAMPLES / "scenes" / f"{scene}.toml").read_text(encoding="utf-8"))
    for frame in frames_of(scene):
        at = sun.position(plan["scene"]["latitude"], plan["scene"]["longitude"], taken(frame).timestamp())
        assert lowest < float(at.geometric_altitude_deg) < highest, frame


# -- what is known --------


def moved(first: str, second: str) -> tuple[float, float]:
    """How far the still parts moved, by OpenCV's enhanced correlation coefficient (Evangelidis and Psarakis 2008)."""
    still = STILL[known()[first]["scene"]]
    fine = [grey(frame) - cv2.GaussianBlur(grey(frame), (0, 0), 8) for frame in (first, second)]  # mist is not
    left, top, right, bottom = still[0]
    around = fine[1][top - 8 : bottom + 8, left - 8 : right + 8]
    near = cv2.minMaxLoc(cv2.matchTemplate(around, fine[0][top:bottom, left:right], cv2.TM_CCOEFF_NORMED))[3]
    mask = np.zeros(grey(first).shape, np.uint8)
    for left, top, right, bottom in still:
        mask[top:bottom, left:right] = 255
    warp = np.array([[1, 0, near[0] - 8], [0, 1, near[1] - 8]], np.float32)
    end = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 200, 1e-6)
    _, warp = cv2.findTransformECC(fine[0], fine[1], warp, cv2.MOTION_TRANSLATION, end, mask, 5)
    return float(warp[0, 2]), float(warp[1, 2])


@pytest.mark.parametrize("frame", [frame for frame, row in known().items() if row["group"] != "1"])
def test_the_tripod_was_knocked_as_the_table_says(frame: str) -> None:
    first = frames_of(known()[frame]["scene"])[0]
    said = (float(known()[frame]["shift_x_px"]), float(known()[frame]["shift_y_px"]))
    soft = float(known()[frame]["blur_sigma_px"]) > 0  # little is left to measure it by
    assert moved(first, frame) == pytest.approx(said, abs=0.5 if soft else 0.2)


def test_the_first_group_stands_still_and_every_group_has_one_shift() -> None:
    shifts = defaultdict(set)
    for row in known().values():
        shifts[row["scene"], row["group"]].add((row["shift_x_px"], row["shift_y_px"]))
    assert all(len(one) == 1 for one in shifts.values())
    assert all(shifts[scene, "1"] == {("0.0", "0.0")} for scene in SCENES)
    assert len({next(iter(one)) for one in shifts.values()}) == len(shifts) - 2  # three first groups


@pytest.mark.parametrize("scene", SCENES)
def test_one_frame_is_soft_and_by_about_as_much_as_the_table_says(scene: str) -> None:
    """Its neighbour, blurred by that sigma, has its sharpness in the still parts; unblurred it is far sharper."""
    (soft,) = [frame for frame in frames_of(scene) if float(known()[frame]["blur_sigma_px"])]
    sigma = float(known()[soft]["blur_sigma_px"])
    sharp = frames_of(scene)[frames_of(scene).index(soft) - 1]
    assert known()[sharp]["group"] == known()[soft]["group"]

    def sharpness(picture: NDArray[np.float32]) -> float:
        calm = cv2.GaussianBlur(picture, (0, 0), 1.5)  # against the grain, which is not blurred
        steep = np.hypot(cv2.Sobel(calm, cv2.CV_32F, 1, 0), cv2.Sobel(calm, cv2.CV_32F, 0, 1))
        parts = [steep[top:bottom, left:right].ravel() for left, top, right, bottom in STILL[scene]]
        return float(np.percentile(np.concatenate(parts), 99))

    blurred = {size: sharpness(cv2.GaussianBlur(grey(sharp), (0, 0), size)) for size in (sigma / 2, sigma, 1.6 * sigma)}
    measured = sharpness(grey(soft))
    assert sharpness(grey(sharp)) > 1.15 * measured
    assert min(blurred, key=lambda size: abs(blurred[size] - measured)) == sigma


@pytest.mark.parametrize("scene", SCENES)
def test_one_frame_is_blown_and_the_others_are_not(scene: str) -> None:
    (blown,) = with_remark("blown", scene)
    shares = {frame: float((grey(frame) >= 250).mean()) for frame in frames_of(scene)}
    assert shares.pop(blown) > 0.001
    assert max(shares.values()) < 0.0003


@pytest.mark.parametrize("scene", SCENES)
def test_somebody_is_in_the_middle_of_a_step(scene: str) -> None:
    (step,) = with_remark("mid-step", scene)
    row = known()[step]
    neighbours = [f for f in frames_of(scene) if known()[f]["group"] == row["group"] and f != step]
    assert neighbours, "there is a frame beside it to compare"
    apart = cv2.absdiff(cv2.GaussianBlur(grey(step), (0, 0), 2), cv2.GaussianBlur(grey(neighbours[0]), (0, 0), 2))
    assert float(np.percentile(apart, 99.5)) > 8


# -- drawn again --------


def test_a_frame_and_the_tables_drawn_again_are_the_same(tmp_path: Path) -> None:
    """Within the room that other versions of the libraries need for the frame; to the letter for the tables."""
    tables = ("frames/shoot/known.csv", "sittings.csv", "viewers.csv", "walls.csv")
    names = ["FL_0421.jpg", *(name.rpartition("/")[2] for name in tables)]
    done = subprocess.run(
        [sys.executable, str(SAMPLES / "draw.py"), "--into", str(tmp_path), *names],
        capture_output=True,
        text=True,
        timeout=180,
    )
    assert done.returncode == 0, done.stderr
    for name in tables:
        assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes(), name
    with Image.open(tmp_path / "frames" / "shoot" / "first-light" / "FL_0421.jpg") as again:
        apart = np.abs(np.asarray(again.convert("L"), np.float32) - grey("FL_0421.jpg"))
        assert again.getexif().get_ifd(EXIF_IFD)[TAKEN] == "2025:02:23 06:45:30"
    assert apart.mean() <= 0.5
    assert np.percentile(apart, 99.9) <= 8


# -- sittings, viewers, walls --------


def test_every_judgement_is_of_two_frames_of_its_scene() -> None:
    rows = table("sittings.csv")
    assert {row["scene"] for row in rows} == set(SCENES)
    for row in rows:
        assert {row["left"], row["right"]} <= set(frames_of(row["scene"]))
        assert row["left"] != row["right"]
        assert row["says"] in ANSWERS
        assert row["criterion"] in CRITERIA
        assert len(row["reason"]) <= 80


def test_a_sitting_has_one_day_one_criterion_and_one_viewer() -> None:
    sittings = defaultdict(list)
    for row in table("sittings.csv"):
        sittings[row["scene"], int(row["sitting"])].append(row)
    for rows in sittings.values():
        assert len({(row["day"], row["criterion"], row["viewer"]) for row in rows}) == 1
        assert 8 <= len(rows) <= 14
        assert [row["time_utc"] for row in rows] == sorted(row["time_utc"] for row in rows)
    count = Counter(scene for scene, _ in sittings)
    assert count == {"first-light": 12, "pilots-crossing": 5, "ferry-lamp": 4}
    for scene in SCENES:
        days = [
            datetime.fromisoformat(sittings[scene, n][0]["day"]).replace(tzinfo=UTC) for n in range(1, count[scene] + 1)
        ]
        assert days == sorted(set(days))
        assert days[0] > max(taken(frame) for frame in frames_of(scene))
        assert days[-1] - days[0] <= timedelta(days=28)


def test_repeats_show_an_earlier_pair_again_with_its_sides_exchanged() -> None:
    rows = table("sittings.csv")
    again = [(n, row) for n, row in enumerate(rows, 1) if row["repeats"]]
    assert 0.08 < len(again) / len(rows) < 0.25
    for n, row in again:
        before = rows[int(row["repeats"]) - 1]
        assert int(row["repeats"]) < n
        assert (before["right"], before["left"]) == (row["left"], row["right"])
        assert all(before[key] == row[key] for key in ("scene", "criterion", "viewer"))
        assert not before["repeats"]
    changed = [row for _, row in again if row["says"] == rows[int(row["repeats"]) - 1]["says"] != "neither yet"]
    assert changed, "somebody changed their mind"


def test_there_are_ties_and_empty_reasons_in_every_scene() -> None:
    for scene in SCENES:
        rows = [row for row in table("sittings.csv") if row["scene"] == scene]
        assert 0.05 < sum(row["says"] == "neither yet" for row in rows) / len(rows) < 0.3
        assert any(not row["reason"] for row in rows)
        assert any(row["viewer"] for row in rows)
        assert any(not row["viewer"] for row in rows)


def wins(rows: list[dict[str, str]]) -> Counter[tuple[str, str]]:
    """How often the first of two was preferred to the second."""
    found: Counter[tuple[str, str]] = Counter()
    for row in rows:
        if row["says"] != "neither yet":
            left, right = row["left"], row["right"]
            found[(left, right) if row["says"] == "left" else (right, left)] += 1
    return found


def test_one_habit_goes_in_a_circle() -> None:
    rows = [r for r in table("sittings.csv") if (r["scene"], r["criterion"]) == ("first-light", "gesture")]
    found = wins(rows)
    circle = ("FL_0413.jpg", "FL_0421.jpg", "FL_0426.jpg", "FL_0413.jpg")
    for better, worse in pairwise(circle):
        assert found[better, worse] > found[worse, better]


def test_one_frame_rises_over_the_weeks() -> None:
    rows = [
        r for r in table("sittings.csv") if (r["scene"], r["criterion"], r["viewer"]) == ("first-light", "story", "")
    ]

    def share(frame: str, some: list[dict[str, str]]) -> float:
        own = [r for r in some if frame in (r["left"], r["right"])]
        score = [0.5 if r["says"] == "neither yet" else float(r[r["says"]] == frame) for r in own]
        return sum(score) / len(score)

    early, late = [r for r in rows if r["day"] < "2025-03-20"], [r for r in rows if r["day"] > "2025-03-20"]
    assert share("FL_0426.jpg", late) > share("FL_0426.jpg", early) + 0.15
    assert share("FL_0414.jpg", late) < share("FL_0414.jpg", early) - 0.15


def test_viewers_spoke_of_frames_that_are_there() -> None:
    rows = table("viewers.csv")
    assert {row["scene"] for row in rows} == set(SCENES)
    for row in rows:
        assert row["frame"] in frames_of(row["scene"])
        assert row["viewer"]
        assert 3 <= len(row["words"].split()) <= 30


def test_nothing_hangs_over_another_print_or_past_the_wall() -> None:
    walls = defaultdict(list)
    for row in table("walls.csv"):
        walls[row["scene"], row["day"]].append(row)
    assert Counter(scene for scene, _ in walls) == dict.fromkeys(SCENES, 2)
    for (scene, day), rows in walls.items():
        boxes = []
        for row in rows:
            x, y, width, height = (float(row[key]) for key in ("x_mm", "y_mm", "width_mm", "height_mm"))
            assert 0 <= x < x + width <= float(row["wall_width_mm"])
            assert 0 <= y < y + height <= float(row["wall_height_mm"])
            assert width / height == pytest.approx(1.5)
            assert (row["frame"] in frames_of(scene)) != (row["finished"] == "yes")
            assert taken(row["frame"]) < datetime.fromisoformat(day).replace(tzinfo=UTC)
            boxes.append((x, y, x + width, y + height))
        for k, (left, top, right, bottom) in enumerate(boxes):
            for other in boxes[k + 1 :]:
                assert right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top
    assert {row["finished"] for row in table("walls.csv")} == {"yes", "no"}
