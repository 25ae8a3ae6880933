"""Exact places and true colours on paper: measured in the file by pypdf, and in its pixels by poppler."""

from __future__ import annotations

import io
import re
import struct
import tempfile
import threading
import warnings
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms
from placed_in_pdf import pictures, placed, profile_of, sheet_mm
from poppler import poppler, rendered, text_of
from wide_profile import matrix_profile

from refarchive.errors import CannotPrint
from refarchive.paper import print_pictures, sheets
from refarchive.paper.print_pictures import kept, ready
from refarchive.paper.sheets import Document, write_sheets

INCH = 25.4


@lru_cache(maxsize=4)
def wide(version: int = 0x0210) -> bytes:
    """An Adobe RGB (1998) profile, as of a version of ICC.1."""
    made = matrix_profile("Adobe RGB (1998)", 2.19921875)
    return made[:8] + struct.pack(">H", version) + made[10:]


def saved(picture: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def drawn(size: tuple[int, int] = (300, 200), seed: int = 1) -> Image.Image:
    blocks = np.random.default_rng(seed).integers(0, 256, (4, 6, 3), dtype=np.uint8)
    return Image.fromarray(blocks).resize(size, Image.Resampling.BICUBIC)


def one(box: tuple[float, float, float, float], **more: Any) -> Document:
    return sheets.document("A sheet", "", [sheets.sheet(297.0, 210.0, [sheets.picture(box, "a", "A picture", **more)])])


# --- places -----------------------------------------------------------------------------------------------------------


def test_pictures_stand_where_they_are_said_to_in_the_file() -> None:
    boxes = [(10.0, 12.5, 150.0, 100.0), (170.25, 12.5, 60.0, 40.0), (13.0, 150.0, 75.0, 50.0)]
    items = [sheets.picture(box, "a", f"Picture {n}") for n, box in enumerate(boxes)]
    made = write_sheets(sheets.document("Places", "", [sheets.sheet(297.0, 210.0, items)]), {"a": saved(drawn())})
    assert sheet_mm(made.pdf) == pytest.approx((297.0, 210.0), abs=0.01)
    found = [entry.box for entry in pictures(made.pdf)]
    assert np.abs(np.array(found) - np.array(boxes)).max() < 0.01  # mm


def test_edges_of_a_picture_are_where_they_are_said_to_be_in_its_pixels() -> None:
    box = (20.0, 30.0, 120.0, 80.0)
    made = write_sheets(one(box), {"a": saved(Image.new("RGB", (600, 400), (20, 20, 20)))})
    dark = np.asarray(rendered(made.pdf).convert("L")) < 128
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    seen = np.array([columns[0], rows[0], columns[-1] + 1, rows[-1] + 1]) / 300.0 * INCH
    assert np.abs(seen - np.array([20.0, 30.0, 140.0, 110.0])).max() < 0.1  # a pixel is 0.085 mm
    assert dark[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1].all()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_file_is_shown_upright_and_whole(orientation: int) -> None:
    # Exif 2.3, tag 0x0112. Pillow's own turning is the reference.
    upright = Image.new("RGB", (90, 60), (230, 230, 230))
    upright.paste((200, 30, 30), (0, 0, 30, 20))
    upright.paste((30, 30, 200), (60, 40, 90, 60))
    back = {
        2: (Image.Transpose.FLIP_LEFT_RIGHT,),
        3: (Image.Transpose.ROTATE_180,),
        4: (Image.Transpose.FLIP_TOP_BOTTOM,),
        5: (Image.Transpose.TRANSPOSE,),
        6: (Image.Transpose.ROTATE_90,),
        7: (Image.Transpose.TRANSVERSE,),
        8: (Image.Transpose.ROTATE_270,),
    }
    stored = upright
    for way in back.get(orientation, ()):
        stored = stored.transpose(way)
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = saved(stored, quality=98, subsampling=0, exif=exif.tobytes())
    made = write_sheets(one((10.0, 10.0, 90.0, 60.0)), {"a": data})
    assert pictures(made.pdf)[0].thing._data == data
    assert pictures(made.pdf)[0].box == pytest.approx((10.0, 10.0, 90.0, 60.0), abs=0.01)
    seen = rendered(made.pdf, 50)
    for at, colour in (((20, 15), (200, 30, 30)), ((90, 62), (30, 30, 200)), ((90, 15), (230, 230, 230))):
        pixel = seen.getpixel((round(at[0] / INCH * 50), round(at[1] / INCH * 50)))
        assert np.abs(np.subtract(pixel, colour)).max() <= 8, (orientation, at, pixel)


def test_lines_and_areas_stand_where_they_are_said_to() -> None:
    items = [
        sheets.rule(10.0, 20.0, 60.0, 20.0, weight_pt=0.5),
        sheets.area((100.0, 50.0, 30.0, 20.0), fill="#777777"),
    ]
    found = placed(write_sheets(sheets.document("Lines", "", [sheets.sheet(210.0, 297.0, items)]), {}).pdf)
    line = next(entry for entry in found if entry.kind == "stroked")
    assert line.box == pytest.approx((10.0, 20.0, 50.0, 0.0), abs=0.01)
    field = next(entry for entry in found if entry.kind == "filled")
    assert field.box == pytest.approx((100.0, 50.0, 30.0, 20.0), abs=0.01)
    assert field.thing == pytest.approx([119 / 255] * 3, abs=1e-4)


def test_words_hang_from_the_tops_of_their_capitals() -> None:
    items = [sheets.words(30.0, 40.0, 100.0, "HHHH", 24.0)]
    made = write_sheets(sheets.document("Words", "", [sheets.sheet(210.0, 297.0, items)]), {})
    dark = np.asarray(rendered(made.pdf).convert("L")) < 128
    rows = np.flatnonzero(dark.any(axis=1)) / 300.0 * INCH
    assert rows[0] == pytest.approx(40.0, abs=0.15)
    assert np.flatnonzero(dark.any(axis=0))[0] / 300.0 * INCH == pytest.approx(30.0, abs=0.5)


# --- colours ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "version"),
    [("JPEG", 0x0210), ("PNG", 0x0210), ("JPEG", 0x0220), ("JPEG", 0x0420), ("PNG", 0x0400)],
)
def test_a_profile_goes_onto_the_sheet_byte_for_byte(kind: str, version: int) -> None:
    data = saved(drawn(), kind, icc_profile=wide(version))
    made = write_sheets(one((10.0, 10.0, 60.0, 40.0)), {"a": data})
    assert profile_of(pictures(made.pdf)[0].thing) == wide(version)
    assert made.said["a"].startswith("The file as it is, 300 × 200 pixels.")
    assert "Colours as its profile “test” says." in made.said["a"]


@pytest.mark.parametrize("version", [0x0230, 0x0240, 0x0430, 0x0440])
def test_a_profile_that_would_be_lost_is_carried_under_an_older_number(version: int) -> None:
    assert not kept(wide(version))
    data = saved(drawn(), icc_profile=wide(version))
    made = write_sheets(one((10.0, 10.0, 60.0, 40.0)), {"a": data})
    found = pictures(made.pdf)[0].thing
    assert found._data == data  # the file is as it was
    carried = profile_of(found)
    assert carried[:8] + carried[10:] == wide(version)[:8] + wide(version)[10:]
    assert "under an older version number" in made.said["a"]
    # LittleCMS finds the same colours in both.
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    told = [
        ImageCms.applyTransform(
            drawn(), ImageCms.buildTransform(ImageCms.ImageCmsProfile(io.BytesIO(p)), lab, "RGB", "LAB")
        ).tobytes()
        for p in (carried, wide(version))
    ]
    assert told[0] == told[1]


def test_colours_of_a_wide_profile_come_out_as_littlecms_has_them() -> None:
    colours = [(60, 180, 120), (200, 90, 60), (119, 119, 119), (150, 160, 80)]
    picture = Image.new("RGB", (40, 10))
    for n, colour in enumerate(colours):
        picture.paste(colour, (n * 10, 0, n * 10 + 10, 10))
    wanted = ImageCms.profileToProfile(
        picture,
        ImageCms.ImageCmsProfile(io.BytesIO(wide())),
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    pdf = write_sheets(one((10.0, 10.0, 40.0, 10.0)), {"a": saved(picture, "PNG", icc_profile=wide())}).pdf
    plain = write_sheets(one((10.0, 10.0, 40.0, 10.0)), {"a": saved(picture, "PNG")}).pdf
    seen, as_srgb = rendered(pdf, 100), rendered(plain, 100)
    for n, colour in enumerate(colours):
        at = round((15.0 + 10.0 * n) / INCH * 100), round(15.0 / INCH * 100)
        assert np.abs(np.subtract(seen.getpixel(at), wanted.getpixel((n * 10 + 5, 5)))).max() <= 2
        assert np.abs(np.subtract(as_srgb.getpixel(at), colour)).max() <= 1
    # The check can fail: a saturated green differs between the two by far more than that.
    assert np.abs(np.subtract(wanted.getpixel((5, 5)), colours[0])).max() > 20


def test_without_a_profile_a_picture_is_srgb_in_the_file() -> None:
    made = write_sheets(one((10.0, 10.0, 60.0, 40.0)), {"a": saved(drawn())})
    profile = ImageCms.ImageCmsProfile(io.BytesIO(profile_of(pictures(made.pdf)[0].thing)))
    assert profile.profile.xcolor_space.strip() == "RGB"
    told = ImageCms.profileToProfile(drawn(), profile, ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")))
    assert told is not None
    assert np.abs(np.subtract(np.asarray(told, int), np.asarray(drawn(), int))).max() <= 1
    assert "taken as sRGB" in made.said["a"]


def test_a_profile_that_is_none_is_said_and_does_not_travel() -> None:
    made = write_sheets(one((10.0, 10.0, 60.0, 40.0)), {"a": saved(drawn(), icc_profile=b"no profile" * 40)})
    assert "cannot be used: taken as sRGB" in made.said["a"]
    profile = ImageCms.ImageCmsProfile(io.BytesIO(profile_of(pictures(made.pdf)[0].thing)))
    assert "sRGB" in profile.profile.profile_description


def test_a_profile_of_other_channels_does_not_travel() -> None:
    made = ready("a", saved(drawn().convert("L"), icc_profile=wide()), 60.0, 40.0)
    assert "cannot be used" in made.said
    with Image.open(io.BytesIO(made.data)) as seen:
        assert seen.mode == "L"
        assert not seen.info.get("icc_profile")


def test_what_calls_itself_adobe_rgb_without_a_profile_is_told() -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA005] = {1: "R03"}  # Exif 2.3, interoperability index
    data = saved(drawn(), exif=exif.tobytes())
    assert "says that it is Adobe RGB and carries no profile" in ready("a", data, 60.0, 40.0).said


def test_pixels_are_converted_where_no_name_keeps_the_profile(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(print_pictures, "kept", lambda profile, grey=False: False)
    made = ready("a", saved(drawn(), "PNG", icc_profile=wide()), 60.0, 40.0)
    wanted = ImageCms.profileToProfile(
        drawn(),
        ImageCms.ImageCmsProfile(io.BytesIO(wide())),
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    assert wanted is not None
    assert "Converted from “test” into sRGB." in made.said
    with Image.open(io.BytesIO(made.data)) as seen:
        assert not seen.info.get("icc_profile")
        assert seen.tobytes() == wanted.tobytes() != drawn().tobytes()


# --- as little done as can be -----------------------------------------------------------------------------------------


def test_a_jpeg_file_goes_onto_the_sheet_byte_for_byte() -> None:
    data = saved(drawn((1200, 800)), quality=91, progressive=True)
    made = write_sheets(one((10.0, 10.0, 60.0, 40.0)), {"a": data})
    found = pictures(made.pdf)[0].thing
    assert found["/Filter"] == "/DCTDecode"
    assert found._data == data


def test_a_file_that_is_too_large_is_made_smaller_and_says_so() -> None:
    data = saved(drawn((1500, 1000)), quality=95)
    made = write_sheets(one((10.0, 10.0, 60.0, 40.0), as_it_is_bytes=1_000), {"a": data})
    found = pictures(made.pdf)[0].thing
    # 60 mm at 360 pixels per inch: 850.4 pixels.
    assert (found["/Width"], found["/Height"]) == (850, 567)
    assert "Made smaller, from 635 to 360 pixels per inch (Lanczos)." in made.said["a"]


def test_a_file_is_never_made_larger() -> None:
    data = saved(drawn((150, 100)))
    made = ready("a", data, 60.0, 40.0, as_it_is_bytes=10)
    assert (made.width_px, made.height_px) == (150, 100)
    assert "Written anew with all its 150 × 100 pixels." in made.said
    with Image.open(io.BytesIO(made.data)) as seen:
        assert seen.size == (150, 100)


def test_making_smaller_keeps_the_profile_and_the_mean_colour() -> None:
    picture = drawn((1500, 1000))
    made = ready("a", saved(picture, "TIFF", icc_profile=wide()), 60.0, 40.0)
    with Image.open(io.BytesIO(made.data)) as seen:
        assert seen.info["icc_profile"] == wide()
        assert seen.size == (850, 567)
        assert np.asarray(seen, float).mean((0, 1)) == pytest.approx(np.asarray(picture, float).mean((0, 1)), abs=0.5)


def test_what_is_transparent_lies_on_white_paper() -> None:
    clear = Image.new("RGBA", (60, 40), (200, 0, 0, 0))
    clear.paste((0, 90, 0, 255), (0, 0, 30, 40))
    for picture, left in ((clear, (0, 90, 0)), (clear.convert("LA"), None)):
        made = ready("a", saved(picture, "PNG"), 60.0, 40.0)
        with Image.open(io.BytesIO(made.data)) as seen:
            assert seen.convert("RGB").getpixel((50, 20)) == (255, 255, 255)
            assert left is None or seen.getpixel((10, 20)) == left


def test_sixteen_bits_become_eight_and_keep_their_grey() -> None:
    grey = Image.fromarray(np.full((40, 60), 119 * 257, np.uint16))
    made = ready("a", saved(grey, "PNG"), 60.0, 40.0)
    assert not made.unchanged
    with Image.open(io.BytesIO(made.data)) as seen:
        assert seen.convert("L").getpixel((30, 20)) == 119


def test_colours_for_a_press_are_refused_without_a_profile() -> None:
    with pytest.raises(CannotPrint, match="CMYK, and no profile") as caught:
        ready("a.jpg", saved(drawn().convert("CMYK")), 60.0, 40.0)
    assert caught.value.next_step == "Export it as sRGB."


def test_a_camera_s_file_of_two_pictures_shows_its_first() -> None:
    data = saved(drawn(seed=1), "MPO", save_all=True, append_images=[drawn(seed=2)])
    made = write_sheets(one((10.0, 10.0, 60.0, 40.0)), {"a": data})
    seen = rendered(made.pdf, 100).crop((41, 41, 273, 195)).resize((6, 4))
    wanted = drawn(seed=1).resize((6, 4))
    assert np.abs(np.subtract(np.asarray(seen, int), np.asarray(wanted, int))).mean() < 6


# --- what is refused --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\xff\xd8\xff" + b"\0" * 50, saved(drawn())[:2000], b"<svg></svg>"])
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(CannotPrint):
        write_sheets(one((10.0, 10.0, 60.0, 40.0)), {"a": data})


WHOLE = tuple(saved(drawn((60, 40)), kind, icc_profile=wide()) for kind in ("JPEG", "PNG", "TIFF"))


@settings(max_examples=120)
@given(
    st.sampled_from(WHOLE),
    st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=12),
    st.floats(0, 1),
)
def test_a_damaged_file_is_set_or_refused(data: bytes, changes: list[tuple[int, int]], part: float) -> None:
    damaged = bytearray(data)
    for at, value in changes:
        damaged[at % len(damaged)] = value
    try:
        made = ready("a", bytes(damaged[: round(len(damaged) * max(part, 0.3))]), 60.0, 40.0)
    except CannotPrint as refused:
        assert refused.next_step
    else:
        assert made.width_px >= 1


def test_warnings_are_as_they_were_after_two_threads_made_pictures_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    data, made = saved(drawn()), print_pictures._made
    inside, second_is_in, first_is_out = threading.Semaphore(0), threading.Event(), threading.Event()

    def held(name: str, *rest: Any) -> Any:
        inside.release()
        assert (second_is_in if name == "first" else first_is_out).wait(30)
        return made(name, *rest)

    monkeypatch.setattr(print_pictures, "_made", held)
    before = list(warnings.filters)
    first, second = (threading.Thread(target=ready, args=(name, data, 60.0, 40.0)) for name in ("first", "second"))
    first.start()
    assert inside.acquire(timeout=30)
    second.start()
    assert inside.acquire(timeout=30)
    second_is_in.set()
    first.join(30)
    first_is_out.set()
    second.join(30)
    assert list(warnings.filters) == before


def test_a_picture_of_too_many_pixels_is_refused() -> None:
    with pytest.raises(CannotPrint, match="too large"):
        ready("a", saved(Image.new("1", (12_000, 10_100)), "PNG"), 60.0, 40.0)


def test_a_picture_is_never_stretched() -> None:
    with pytest.raises(CannotPrint, match=r"would be stretched to 60\.0 × 60\.0 mm"):
        write_sheets(one((10.0, 10.0, 60.0, 60.0)), {"a": saved(drawn())})


@pytest.mark.parametrize("box", [(250.0, 10.0, 60.0, 40.0), (-0.5, 10.0, 60.0, 40.0), (10.0, 180.0, 60.0, 40.0)])
def test_nothing_may_leave_its_sheet(box: tuple[float, float, float, float]) -> None:
    with pytest.raises(CannotPrint, match="sheet 1 would leave it"):
        write_sheets(one(box), {"a": saved(drawn())})


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "10", None, True, 10**400, -5.0])
def test_numbers_that_cannot_be_are_refused(value: Any) -> None:
    with pytest.raises(CannotPrint):
        sheets.picture((value, 0.0, 10.0, 10.0), "a", "")
    with pytest.raises(CannotPrint):
        sheets.words(0.0, value, 10.0, "a")
    with pytest.raises(CannotPrint):
        sheets.area((0.0, 0.0, value, 10.0))
    with pytest.raises(CannotPrint):
        sheets.rule(0.0, 0.0, value, 0.0)


def test_too_many_sheets_are_refused_and_none_too() -> None:
    empty = sheets.sheet(210.0, 297.0, [])
    for count in (0, sheets.MOST_SHEETS + 1):
        with pytest.raises(CannotPrint, match=f"{count} sheets"):
            write_sheets(sheets.document("Many", "", [empty] * count), {})
    crowd = sheets.sheet(210.0, 297.0, [sheets.rule(0.0, 0.0, 1.0, 1.0)] * (sheets.MOST_ITEMS + 1))
    with pytest.raises(CannotPrint, match="too much"):
        write_sheets(sheets.document("Many", "", [crowd]), {})


# --- words are data ---------------------------------------------------------------------------------------------------

HOSTILE = (
    '#eval("1") $x$ [*a*] <b> \\u{41} ‮gnp.exe \ud800 \'q\' "r" & #sys.inputs',
    "שלום עולם",
    "جرّاء المد",
    "Переправа",
    "",
)


def test_words_are_no_markup_and_come_out_in_their_letters() -> None:
    items = [sheets.words(10.0, 20.0 + 8.0 * n, 190.0, value) for n, value in enumerate(HOSTILE)]
    made = write_sheets(sheets.document(HOSTILE[0], HOSTILE[0], [sheets.sheet(210.0, 297.0, items)]), {})
    said = re.sub("[\u202a-\u202e]", "", text_of(made.pdf, "-layout"))
    assert '#eval("1") $x$ [*a*] <b> \\u{41} [U+202E]gnp.exe [U+D800] \'q\' "r" & #sys.inputs' in said
    assert "שלום עולם" in said
    assert "Переправа" in said


@pytest.mark.parametrize(("cut", "wanted"), [("end", r"frame_\d+…"), ("middle", r"frame_\d+…\d+\.jpg")])
def test_a_line_too_long_is_cut_to_its_width(cut: Any, wanted: str) -> None:
    name = "frame_" + "0123456789" * 30 + ".jpg"
    items = [sheets.words(20.0, 20.0, 30.0, name, 8.0, cut=cut), sheets.words(20.0, 30.0, 30.0, "short", cut=cut)]
    made = write_sheets(sheets.document("Cut", "", [sheets.sheet(210.0, 297.0, items)]), {})
    assert re.fullmatch(f"{wanted} short", text_of(made.pdf, "-layout"))
    dark = np.asarray(rendered(made.pdf, 150).convert("L")) < 160
    columns = np.flatnonzero(dark.any(axis=0)) / 150.0 * INCH
    assert columns[-1] <= 50.1
    assert columns[-1] > 44.0  # it is cut no shorter than need be


def test_a_picture_that_lacks_is_said() -> None:
    assert "The picture could not be opened." in text_of(write_sheets(one((10.0, 10.0, 60.0, 40.0)), {}).pdf)


# --- the file ---------------------------------------------------------------------------------------------------------


def test_it_claims_universal_access_and_pictures_have_words() -> None:
    items = [
        sheets.words(10.0, 5.0, 100.0, "Sheet one", level=1),
        sheets.picture((10.0, 10.0, 60.0, 40.0), "a", "A cart"),
    ]
    made = write_sheets(sheets.document("Access", "", [sheets.sheet(210.0, 297.0, items)]), {"a": saved(drawn())})
    assert b"<pdfuaid:part>1</pdfuaid:part>" in made.pdf  # ISO 14289-1, clause 5
    told = poppler("pdfinfo", made.pdf, "-struct-text").decode()
    info = poppler("pdfinfo", made.pdf).decode()
    assert re.search(r"H1.*\n.*Sheet one", told)
    assert "Figure" in told
    reader = pypdf.PdfReader(io.BytesIO(made.pdf))
    alternatives = [
        o.get("/Alt") for o in map(reader.get_object, range(1, reader.trailer["/Size"])) if hasattr(o, "get")
    ]
    assert "A cart" in alternatives
    assert re.search(r"Tagged:\s+yes", info)


def test_twice_is_the_same_bytes_and_nothing_is_left_behind(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    files = {"a": saved(drawn(), icc_profile=wide(0x0240))}
    assert write_sheets(one((10.0, 10.0, 60.0, 40.0)), files) == write_sheets(one((10.0, 10.0, 60.0, 40.0)), files)
    with pytest.raises(CannotPrint):
        write_sheets(one((10.0, 10.0, 60.0, 60.0)), files)
    assert not list(tmp_path.iterdir())


def test_a_picture_shown_twice_at_one_size_lies_in_the_file_once() -> None:
    items = [sheets.picture((10.0, y, 60.0, 40.0), "a", "Twice") for y in (10.0, 60.0)]
    data = saved(drawn())
    pdf = write_sheets(sheets.document("Twice", "", [sheets.sheet(210.0, 297.0, items)]), {"a": data}).pdf
    assert len(pictures(pdf)) == 2
    assert pdf.count(data) == 1
