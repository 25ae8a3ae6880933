"""Frames as a camera writes them: EXIF written by Exiv2 (pyexiv2), raw files written here tag by tag.

The layout of the raw file with a preview follows Adobe's published DNG specification 1.4: the preview in the first
directory, the mosaic in a SubIFD of it.
"""

from __future__ import annotations

import io
import os
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
import raw_file
import tifffile
from PIL import Image

from refarchive.errors import SourceRefused
from refarchive.records import files
from refarchive.sources import shot

RED, BLUE = (200, 30, 30), (30, 30, 200)
EXPOSED = {
    "Exif.Photo.DateTimeOriginal": "2026:03:01 14:05:06",
    "Exif.Photo.SubSecTimeOriginal": "042",
    "Exif.Photo.OffsetTimeOriginal": "+01:00",
    "Exif.Photo.ExposureTime": "1/125",
    "Exif.Photo.FNumber": "56/10",
    "Exif.Photo.ISOSpeedRatings": "200",
    "Exif.Photo.FocalLength": "35/1",
    "Exif.Photo.BodySerialNumber": "INVENTED-12345",
}


def write_exif(path: Path, tags: dict[str, str]) -> Path:
    image = pyexiv2.Image(str(path))
    image.modify_exif(tags)
    image.close()
    return path


def two_colours(width: int = 90, height: int = 60) -> Image.Image:
    """Red on the left, blue on the right."""
    picture = Image.new("RGB", (width, height), RED)
    picture.paste(BLUE, (width // 2, 0, width, height))
    return picture


def jpeg_of(picture: Image.Image, **more: object) -> bytes:
    held = io.BytesIO()
    picture.save(held, "JPEG", quality=95, **more)
    return held.getvalue()


def directory(at: int, tags: list[tuple[int, int, tuple[int, ...] | bytes]]) -> bytes:
    """One TIFF directory, little-endian, as it stands at a place in the file."""
    codes = {1: "B", 3: "H", 4: "I", 5: "I", 10: "i"}
    head, extra, base = struct.pack("<H", len(tags)), b"", at + 2 + 12 * len(tags) + 4
    for tag, kind, values in sorted(tags):
        data = values if isinstance(values, bytes) else struct.pack(f"<{len(values)}{codes[kind]}", *values)
        count = len(values) // (2 if kind in (5, 10) else 1)
        if len(data) <= 4:
            cell = data.ljust(4, b"\0")
        else:
            cell = struct.pack("<I", base + len(extra))
            extra += data + b"\0" * (len(data) % 2)
        head += struct.pack("<HHI", tag, kind, count) + cell
    return head + struct.pack("<I", 0) + extra


def write_raw_with_preview(path: Path, preview: bytes, size: tuple[int, int], flip: int = 1, jpeg: bool = True) -> Path:
    """A raw file of an even grey, 160 × 120, with a preview of this size: JPEG, or plain bytes of RGB."""
    width, height = 160, 120
    data = np.full((height, width), 3000, "<u2").tobytes()
    preview += b"\0" * (len(preview) % 2)
    mosaic_at = 8 + len(preview)
    inner_at = mosaic_at + len(data)
    inner = directory(
        inner_at,
        [
            (254, 4, (0,)), (256, 4, (width,)), (257, 4, (height,)), (258, 3, (16,)), (259, 3, (1,)),
            (262, 3, (32803,)), (273, 4, (mosaic_at,)), (277, 3, (1,)), (278, 4, (height,)), (279, 4, (len(data),)),
            (33421, 3, (2, 2)), (33422, 1, bytes((0, 1, 1, 2))), (50714, 3, (500,)), (50717, 3, (15_000,)),
        ],
    )  # fmt: skip
    outer = directory(
        inner_at + len(inner),
        [
            (254, 4, (1,)), (256, 4, size[:1]), (257, 4, size[1:]), (258, 3, (8, 8, 8)), (259, 3, (7 if jpeg else 1,)),
            (262, 3, (6 if jpeg else 2,)), (271, 2, b"Invented\0"), (272, 2, b"Box\0"), (273, 4, (8,)),
            (274, 3, (flip,)), (277, 3, (3,)), (278, 4, size[1:]), (279, 4, (len(preview),)), (330, 4, (inner_at,)),
            (50706, 1, bytes((1, 4, 0, 0))), (50707, 1, bytes((1, 1, 0, 0))), (50708, 2, b"Invented Box\0"),
            (50721, 10, tuple(n for pair in raw_file.D65_TO_SRGB for n in pair)), (50728, 5, (1, 1, 1, 1, 1, 1)),
            (50778, 3, (21,)),
        ],
    )  # fmt: skip
    path.write_bytes(b"II*\0" + struct.pack("<I", inner_at + len(inner)) + preview + data + inner + outer)
    return path


def is_near(picture: Image.Image, x: float, y: float, colour: tuple[int, int, int]) -> bool:
    """Whether the picture has the colour at this place, given in fractions."""
    found = picture.getpixel((int(x * picture.width), int(y * picture.height)))
    assert isinstance(found, tuple)
    return max(abs(a - b) for a, b in zip(found, colour, strict=True)) < 12


@pytest.mark.parametrize(("name", "suffix"), [("a.jpg", ".jpg"), ("a.tif", ".tif"), ("a.png", ".png")])
def test_what_exiv2_wrote_is_read(tmp_path: Path, name: str, suffix: str) -> None:
    path = tmp_path / name
    two_colours().save(path)
    found = shot.read_shot(write_exif(path, EXPOSED))
    assert (found.width, found.height, found.suffix, found.raw) == (90, 60, suffix, False)
    assert found.taken == "2026-03-01T14:05:06.042+01:00"
    assert (found.exposure_s, found.f_number, found.iso, found.focal_mm) == (1 / 125, 5.6, 200.0, 35.0)
    assert "INVENTED" not in repr(found)


def test_the_clock_in_seconds_tells_pauses_and_leaves_the_offset_aside() -> None:
    def at(taken: str) -> float | None:
        return shot.Shot(1, 1, "image/jpeg", ".jpg", taken).clock_s

    first = at("2026-03-01T23:59:59.75+01:00")
    assert first is not None
    assert at("2026-03-02T00:00:01.25") == pytest.approx(first + 1.5, abs=1e-6)
    assert at("1970-01-02T00:00:00") == 86_400.0
    assert at("") is None


@pytest.mark.parametrize(
    ("tags", "taken"),
    [
        ({}, ""),
        ({"DateTimeOriginal": "2026:03:01 14:05:06"}, "2026-03-01T14:05:06"),
        ({"DateTimeOriginal": "0000:00:00 00:00:00"}, ""),
        ({"DateTimeOriginal": "2026:02:30 14:05:06"}, ""),
        ({"DateTimeOriginal": "    :  :     :  :  "}, ""),
        ({"DateTimeOriginal": "2026:03:01 14:05:06", "SubSecTimeOriginal": "5  "}, "2026-03-01T14:05:06.5"),
        ({"DateTimeOriginal": "2026:03:01 14:05:06", "SubSecTimeOriginal": "x"}, "2026-03-01T14:05:06"),
        ({"DateTimeOriginal": "2026:03:01 14:05:06", "OffsetTimeOriginal": "-03:30"}, "2026-03-01T14:05:06-03:30"),
        ({"DateTimeOriginal": "2026:03:01 14:05:06", "OffsetTimeOriginal": "   :  "}, "2026-03-01T14:05:06"),
    ],
)
def test_a_clock_is_read_as_far_as_it_was_set(tmp_path: Path, tags: dict[str, str], taken: str) -> None:
    path = tmp_path / "a.jpg"
    two_colours().save(path)
    write_exif(path, {f"Exif.Photo.{name}": value for name, value in tags.items()})
    assert shot.read_shot(path).taken == taken


def test_nonsense_among_the_exposure_facts_is_not_told(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    two_colours().save(path)
    write_exif(path, {"Exif.Photo.ExposureTime": "1/0", "Exif.Photo.FNumber": "0/10", "Exif.Photo.FocalLength": "0/1"})
    found = shot.read_shot(path)
    assert (found.exposure_s, found.f_number, found.focal_mm) == (None, None, None)


def test_a_sensitivity_too_large_for_its_tag_is_read_from_the_next(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    two_colours().save(path)
    write_exif(path, {"Exif.Photo.ISOSpeedRatings": "65535", "Exif.Photo.RecommendedExposureIndex": "102400"})
    assert shot.read_shot(path).iso == 102_400.0


def test_a_picture_lies_upright(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    two_colours().save(path)
    write_exif(path, {"Exif.Image.Orientation": "6"})  # the camera was turned to the left: red comes to the top
    found = shot.read_shot(path)
    assert (found.width, found.height) == (60, 90)
    picture = shot.shot_picture(path)
    assert picture.size == (60, 90)
    assert is_near(picture, 0.5, 0.1, RED)
    assert is_near(picture, 0.5, 0.9, BLUE)
    assert shot.shot_picture(path, 45).size == (30, 45)


def test_a_broken_app1_costs_the_facts_and_not_the_picture(tmp_path: Path) -> None:
    whole = jpeg_of(two_colours())
    broken = b"Exif\0\0II*\0" + b"\xff" * 200
    path = tmp_path / "a.jpg"
    path.write_bytes(whole[:2] + b"\xff\xe1" + struct.pack(">H", len(broken) + 2) + broken + whole[2:])
    found = shot.read_shot(path)
    assert (found.width, found.height, found.taken, found.iso) == (90, 60, "", None)
    assert shot.shot_picture(path).size == (90, 60)


def test_a_raw_file_shows_its_preview_upright(tmp_path: Path) -> None:
    path = write_raw_with_preview(tmp_path / "a.DNG", jpeg_of(two_colours()), (90, 60), flip=6)
    found = shot.read_shot(path)
    assert (found.width, found.height, found.media_type, found.suffix) == (120, 160, shot.RAW_TYPE, ".dng")
    assert found.raw
    assert found.taken == ""
    picture = shot.shot_picture(path)
    assert (picture.size, picture.mode) == ((60, 90), "RGB")
    assert is_near(picture, 0.5, 0.1, RED)
    assert is_near(picture, 0.5, 0.9, BLUE)
    assert shot.shot_picture(path, 30).size == (20, 30)


def test_a_preview_with_exif_but_without_its_orientation_is_turned_as_the_raw_file(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x010E] = "says something else"
    path = write_raw_with_preview(tmp_path / "a.dng", jpeg_of(two_colours(), exif=exif), (90, 60), flip=8)
    picture = shot.shot_picture(path)
    assert picture.size == (60, 90)
    assert is_near(picture, 0.5, 0.9, RED)


def test_a_preview_of_plain_bytes_is_shown_too(tmp_path: Path) -> None:
    path = write_raw_with_preview(tmp_path / "a.dng", two_colours().tobytes(), (90, 60), flip=3, jpeg=False)
    picture = shot.shot_picture(path, 60)
    assert picture.size == (60, 40)
    assert is_near(picture, 0.1, 0.5, BLUE)


def test_the_clock_and_exposure_of_a_raw_file_are_read(tmp_path: Path) -> None:
    path = write_raw_with_preview(tmp_path / "a.dng", jpeg_of(two_colours()), (90, 60))
    found = shot.read_shot(write_exif(path, EXPOSED))
    assert found.taken == "2026-03-01T14:05:06.042+01:00"
    assert (found.exposure_s, found.f_number, found.iso, found.focal_mm) == (1 / 125, 5.6, 200.0, 35.0)


def test_what_only_libraw_finds_is_told_by_the_camera_s_clock_wherever_the_machine_stands(tmp_path: Path) -> None:
    path = write_raw_with_preview(tmp_path / "a.dng", jpeg_of(two_colours()), (90, 60))
    write_exif(path, EXPOSED)
    code = (
        "import sys, pathlib\nfrom refarchive.sources import shot\nshot._raw_exif = lambda path: {}\n"
        "print(shot.read_shot(pathlib.Path(sys.argv[1])))\nassert 'torch' not in sys.modules"
    )
    for zone in ("UTC", "Asia/Tokyo"):
        said = subprocess.run(
            [sys.executable, "-c", code, str(path)],
            capture_output=True, text=True, check=True, env={**os.environ, "TZ": zone},
        ).stdout  # fmt: skip
        assert "taken='2026-03-01T14:05:06', exposure_s=0.008, f_number=5.6, iso=200.0, focal_mm=35.0" in said


def test_a_raw_file_without_a_preview_is_developed_at_half_its_size_on_the_curve_of_srgb(tmp_path: Path) -> None:
    levels = np.repeat(np.linspace(0.02, 0.8, 10), 16)
    path = raw_file.write_dng(tmp_path / "a.dng", np.broadcast_to(levels[None, :, None], (80, 160, 3)).copy())
    picture = np.asarray(shot.shot_picture(path), dtype=float)
    assert picture.shape == (40, 80, 3)
    # IEC 61966-2-1
    wanted = 255 * np.where(levels <= 0.0031308, 12.92 * levels, 1.055 * levels ** (1 / 2.4) - 0.055)
    middles = slice(4, None, 8)
    assert np.abs(picture[20, middles] - wanted[8::16, None]).max() < 2.0


def test_a_damaged_preview_gives_way_to_the_raw_file(tmp_path: Path) -> None:
    whole = jpeg_of(two_colours())
    path = write_raw_with_preview(tmp_path / "a.dng", whole[:300] + b"\0" * 200, (90, 60))
    assert shot.shot_picture(path).size == (80, 60)


def test_a_preview_that_claims_to_be_huge_is_not_decoded(tmp_path: Path) -> None:
    whole = bytearray(jpeg_of(two_colours()))
    at = whole.index(b"\xff\xc0") + 5
    whole[at : at + 4] = struct.pack(">HH", 60_000, 60_000)
    path = write_raw_with_preview(tmp_path / "a.dng", bytes(whole), (90, 60))
    assert shot.shot_picture(path).size == (80, 60)


def test_content_decides_and_not_the_name(tmp_path: Path) -> None:
    path = tmp_path / "a.nef"
    path.write_bytes(jpeg_of(two_colours()))
    found = shot.read_shot(path)
    assert (found.media_type, found.suffix) == ("image/jpeg", ".jpg")
    assert shot.shot_picture(path).size == (90, 60)


@pytest.mark.parametrize("read", [shot.read_shot, shot.shot_picture])
@pytest.mark.parametrize(
    ("name", "data", "problem"),
    [
        ("a.jpg", b"", "is empty"),
        ("a.nef", b"", "is empty"),
        ("a.jpg", b"words and nothing else", "not a picture"),
        ("a.cr3", b"words and nothing else" * 100, "cannot be read as a raw file"),
        ("a.dng", b"II*\0" + b"\xff" * 400, "cannot be read as a raw file"),
        ("a.jpg", b"\xff\xd8\xff" + b"\0" * 50, "cannot be read"),
    ],
)
def test_what_is_no_frame_is_refused_with_a_sentence(
    tmp_path: Path, read, name: str, data: bytes, problem: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(SourceRefused, match=problem) as refused:
        read(path)
    assert refused.value.next_step
    assert str(tmp_path) not in str(refused.value)


def test_a_picture_cut_short_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    whole = jpeg_of(Image.effect_noise((90, 60), 80).convert("RGB"))
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(SourceRefused, match="damaged or cut short"):
        shot.shot_picture(path)


def test_a_raw_file_that_claims_to_be_huge_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    path = raw_file.write_dng(tmp_path / "a.dng", np.full((8, 8, 3), 0.5))
    with tifffile.TiffFile(path, mode="r+b") as tiff:
        page = tiff.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        page.tags[256].overwrite(40_000)
        page.tags[257].overwrite(40_000)
    with pytest.raises(SourceRefused, match="limit is 200 megapixels"):
        shot.read_shot(path)
    with pytest.raises(SourceRefused, match="limit is 200 megapixels"):
        shot.shot_picture(path)


def test_too_many_bytes_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = raw_file.write_dng(tmp_path / "a.dng", np.full((8, 8, 3), 0.5))
    monkeypatch.setattr(shot, "LARGEST", 100)
    with pytest.raises(SourceRefused, match="larger than"):
        shot.read_shot(path)


def test_links_are_followed_within_their_folder_only(tmp_path: Path) -> None:
    (tmp_path / "shoot").mkdir()
    (tmp_path / "elsewhere").mkdir()
    two_colours().save(tmp_path / "shoot" / "a.jpg")
    two_colours().save(tmp_path / "elsewhere" / "b.jpg")
    (tmp_path / "shoot" / "same.jpg").symlink_to("a.jpg")
    (tmp_path / "shoot" / "out.jpg").symlink_to(tmp_path / "elsewhere" / "b.jpg")
    (tmp_path / "shoot" / "nowhere.jpg").symlink_to("gone.jpg")
    (tmp_path / "shoot" / "round.jpg").symlink_to("round.jpg")
    assert shot.read_shot(tmp_path / "shoot" / "same.jpg").width == 90
    for name in ("out.jpg", "nowhere.jpg", "round.jpg", "missing.jpg"):
        with pytest.raises(SourceRefused):
            shot.read_shot(tmp_path / "shoot" / name)


def test_folders_and_pipes_are_refused_without_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    with pytest.raises(SourceRefused, match="is not a file"):
        shot.read_shot(tmp_path / "pipe.jpg")
    with pytest.raises(SourceRefused, match="is not a file"):
        shot.shot_picture(tmp_path)


def test_a_foreign_name_is_made_visible(tmp_path: Path) -> None:
    path = tmp_path / "sand\u202egpj.nef"
    path.write_bytes(b"x" * 64)
    with pytest.raises(SourceRefused) as refused:
        shot.read_shot(path)
    assert "\u202e" not in str(refused.value)
    assert "[U+202E]" in str(refused.value)


def test_every_ending_that_is_tried_is_named(tmp_path: Path) -> None:
    assert {".jpg", ".tif", ".nef", ".cr3", ".dng"} <= shot.SHOT_SUFFIXES
    assert files.PICTURE_SUFFIXES <= shot.SHOT_SUFFIXES
