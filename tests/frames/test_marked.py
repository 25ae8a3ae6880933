"""What is marked in a frame is measured: rendered light, a raw file of known stops, regions refused outside."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms
from raw_file import write_dng

from refarchive.archive import Archive
from refarchive.errors import BadQuery, SourceRefused
from refarchive.frames.check import CANNOT_TELL, OUTSIDE, WITHIN, Line
from refarchive.frames.marked import Marked, checked, lines
from refarchive.looks import colour
from refarchive.records.model import Intent
from refarchive.sources.linear import open_linear

PLAN = """[scene]
title = "Lit"
event = "e"
story = "s"
[intent]
light_from = "low, from the left"
light_tilt_deg = 170
light_tolerance_deg = 15
lit_to_shadow = 3
lit_to_shadow_tolerance = 0.25
"""
BALL = (0.1, 0.2, 0.3, 0.45)  # of a frame three by two: a circle


def scene_light(tilt_deg: float, *, fill: float = 0.05) -> np.ndarray:
    """A grey ball lit from one side before a dark ground; beside it two cards, lit and in shadow, three stops apart."""
    height, width = 400, 600
    light = np.full((height, width, 3), 0.02)
    left, top, across, down = (int(v * s) for v, s in zip(BALL, (width, height, width, height), strict=True))
    y, x = np.mgrid[0:down, 0:across]
    u, v = (x + 0.5) / across * 2 - 1, 1 - (y + 0.5) / down * 2
    z = np.sqrt(np.clip(1 - u * u - v * v, 0, None))
    turn, rise = math.radians(tilt_deg), math.radians(25)
    towards = (math.cos(rise) * math.cos(turn), math.cos(rise) * math.sin(turn), math.sin(rise))
    shaded = fill + 0.6 * np.clip(u * towards[0] + v * towards[1] + z * towards[2], 0, None)
    inside = u * u + v * v <= 1
    light[top : top + down, left : left + across][inside] = shaded[inside][:, None]
    light[100:200, 400:480], light[100:200, 490:570] = 0.4, 0.05
    return light


def line(found: list[Line] | tuple[Line, ...], measure: str) -> Line:
    return next(one for one in found if one.measure == measure)


INTENT = Intent(light_from="low, from the left", light_tilt_deg=170, light_tolerance_deg=15, lit_to_shadow=3)
CARDS = {"lit": (0.68, 0.28, 0.1, 0.2), "shadow": (0.83, 0.28, 0.1, 0.2)}


def test_light_from_where_it_was_meant_and_from_elsewhere() -> None:
    for tilt, verdict in ((170, WITHIN), (60, OUTSIDE)):
        marked = Marked({"light": BALL}, scene_light(tilt)[..., 0], scene_linear=True)
        found = line(lines(INTENT, marked), "light")
        assert found.verdict == verdict
        assert found.frame == pytest.approx(tilt, abs=3)


def test_light_from_both_sides_cannot_be_told() -> None:
    both = scene_light(180)[..., 0] + scene_light(0)[..., 0]
    found = line(lines(INTENT, Marked({"light": BALL}, both)), "light")
    assert (found.verdict, found.frame) == (CANNOT_TELL, None)
    assert "Cannot tell" in found.note


def test_what_is_not_marked_says_what_to_mark() -> None:
    found = lines(INTENT, None)
    assert [one.measure for one in found] == ["light", "lit to shadow"]
    assert all(one.verdict == CANNOT_TELL and "Mark" in one.note for one in found)
    assert lines(Intent(), None) == []


def test_without_an_intended_number_it_is_measured_and_not_judged() -> None:
    marked = Marked({**CARDS, "light": BALL}, scene_light(100)[..., 0], scene_linear=True)
    found = lines(Intent(), marked)
    assert [one.verdict for one in found] == [CANNOT_TELL, CANNOT_TELL]
    assert found[1].frame == pytest.approx(3, abs=0.01)
    assert "no number to hold it against" in found[1].note


@pytest.mark.parametrize(
    "bad", [{"eyes": BALL}, {"light": (0.9, 0.1, 0.3, 0.1)}, {"lit": (0, 0, 0, 0.1)}, {"edge": (-0.1, 0, 0.5, 0.5)}]
)
def test_regions_outside_and_unknown_marks_are_refused(bad: dict) -> None:
    with pytest.raises(BadQuery):
        checked(bad)


# -- whole files ------------------------------------------------------------------------------------------------------


@pytest.fixture
def frame(tmp_path: Path) -> Path:
    coded = np.rint(255 * colour.encoded(scene_light(170))).astype(np.uint8)
    path = tmp_path / "frame.png"
    Image.fromarray(coded).save(path)
    return path


def test_a_raw_file_tells_stops_and_an_ordinary_one_estimates(archive: Archive, frame: Path, tmp_path: Path) -> None:
    archive.plan(PLAN)
    marks = {**CARDS, "light": BALL}
    plain = archive.check("lit", frame, regions=marks).lines
    assert line(plain, "light").verdict == WITHIN
    assert "tone-mapped estimate" in line(plain, "lit to shadow").note
    raw = archive.check("lit", frame, linear=write_dng(tmp_path / "frame.dng", scene_light(170))).lines
    ratio = line(raw, "lit to shadow")  # the marks were kept with the frame
    assert ratio.frame == pytest.approx(3, abs=0.01)
    assert ratio.verdict == WITHIN
    assert "estimate" not in ratio.note


def linear_profile() -> bytes:
    """sRGB's primaries with straight curves: a curve of no points, as ICC.1 has it."""
    own = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    count = int.from_bytes(own[128:132], "big")
    for n in range(count):
        at = 132 + 12 * n
        if own[at : at + 4] in (b"rTRC", b"gTRC", b"bTRC"):
            offset = int.from_bytes(own[at + 4 : at + 8], "big")
            own[offset : offset + 12] = b"curv\0\0\0\0\0\0\0\0"  # a curve of no points is the straight line
            own[at + 8 : at + 12] = (12).to_bytes(4, "big")
    return bytes(own)


def test_linear_tiffs_are_taken_and_ordinary_ones_refused(tmp_path: Path) -> None:
    light = scene_light(170)
    sixteen = np.rint(light * 65535).astype(np.uint16)
    tifffile.imwrite(tmp_path / "float.tif", light.astype(np.float32), photometric="rgb")
    tifffile.imwrite(tmp_path / "linear.tif", sixteen, photometric="rgb", iccprofile=linear_profile())
    for name in ("float.tif", "linear.tif"):
        assert open_linear(tmp_path / name) == pytest.approx(light, abs=2e-5)
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    tifffile.imwrite(tmp_path / "coded.tif", sixteen, photometric="rgb", iccprofile=srgb)
    tifffile.imwrite(tmp_path / "bare.tif", sixteen, photometric="rgb")
    (tmp_path / "broken.dng").write_bytes(b"II*\0nonsense" * 20)
    (tmp_path / "broken.tif").write_bytes(b"II*\0nonsense" * 20)
    Image.new("RGB", (8, 8)).save(tmp_path / "a.jpg")
    for name in ("coded.tif", "bare.tif", "broken.dng", "broken.tif", "a.jpg", "none.dng"):
        with pytest.raises(SourceRefused):
            open_linear(tmp_path / name)


@pytest.mark.parametrize("brightest", [0.5, 0.8, 0.95])
def test_a_raw_file_reads_the_same_light_whatever_its_brightest_value_is(tmp_path: Path, brightest: float) -> None:
    ramp = np.tile(np.linspace(0.05, brightest, 128), (64, 1))[..., None].repeat(3, axis=2)
    found = open_linear(write_dng(tmp_path / "ramp.dng", ramp), longest=128)
    assert found[8:-8, 8:-8].mean() == pytest.approx(ramp[8:-8, 8:-8].mean(), rel=0.02)


def test_reduced_by_area_averages_in_linear_light(tmp_path: Path) -> None:
    half = np.zeros((200, 400, 3), np.float32)
    half[:, ::2] = 1.0
    tifffile.imwrite(tmp_path / "stripes.tif", half, photometric="rgb")
    assert open_linear(tmp_path / "stripes.tif", 100) == pytest.approx(np.full((50, 100, 3), 0.5), abs=1e-6)


@pytest.mark.parametrize("name", ["light", "edge"])
def test_a_mark_too_small_says_so_and_the_check_goes_on(archive: Archive, frame: Path, name: str) -> None:
    """The mark stays with the frame, so an error here would meet every later check of it."""
    archive.plan(PLAN)
    checked = archive.check("lit", frame, regions={name: (0.5, 0.5, 0.001, 0.001)})
    found = line(checked.lines, {"light": "light", "edge": "shadow edge"}[name])
    assert (found.frame, found.verdict) == (None, "cannot tell")
    assert "Mark" in found.note
