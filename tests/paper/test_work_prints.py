"""Work prints and the index: sizes, the bar and the strip measured in the file and in its pixels."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from placed_in_pdf import pictures, placed, sheet_mm
from poppler import poppler, rendered, text_of

from refarchive.errors import CannotPrint
from refarchive.paper.print_sizes import Margins
from refarchive.paper.sheets import write_sheets
from refarchive.paper.work_prints import (
    BAR_MM,
    GREYS,
    STRIP,
    Indexed,
    Shot,
    index_sheets,
    lightness_of,
    patch_edges_mm,
    patches,
    strip_png,
    work_prints,
)

INCH = 25.4


def saved(size: tuple[int, int], seed: int = 1) -> bytes:
    blocks = np.random.default_rng(seed).integers(0, 256, (4, 6, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(blocks).resize(size, Image.Resampling.BICUBIC).save(out, "JPEG")
    return out.getvalue()


LYING = Shot("a", 600, 400, "frame-a", "7f3a2c", "DSC_0407.jpg", "First light on the sands", "The rope taut.")
UPRIGHT = Shot("b", 400, 600, "frame-b", "b81e90", "DSC_0408.jpg", "Lamp at the ferry stage")
FILES = {"a": saved((600, 400)), "b": saved((400, 600), 2), STRIP: strip_png()}


def printed(shots: list[Shot], per_sheet: int, **more: Any) -> tuple[Any, bytes]:
    made = work_prints(shots, per_sheet, printed="2026-02-11", **more)
    return made, write_sheets(made.document, FILES).pdf


# --- the prints -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("count", "shots"), [(1, [LYING]), (1, [UPRIGHT]), (2, [LYING, UPRIGHT]), (4, [LYING] * 3)])
def test_prints_have_the_size_that_is_told(count: int, shots: list[Shot]) -> None:
    made, pdf = printed(shots, count)
    assert sorted(sheet_mm(pdf)) == pytest.approx([210.0, 297.0], abs=0.01)  # ISO 216, A4
    found = [one.box for one in pictures(pdf)]
    assert len(found) == len(shots) + 1
    assert len(made.placed) == len(shots)
    for place, (x, y, wide, tall) in zip(made.placed, found[: len(shots)], strict=True):
        assert (wide, tall) == pytest.approx((place.width_mm, place.height_mm), abs=0.01)
        assert wide / tall == pytest.approx(place.shot.width_px / place.shot.height_px, rel=1e-4)
        assert place.fineness.ppi == pytest.approx(place.shot.width_px / wide * INCH, rel=1e-3)
        assert x >= 9.99
        assert y >= 9.99
    assert f"{made.placed[0].width_mm:.0f} × {made.placed[0].height_mm:.0f} mm" in str(made.document)


def test_a_print_measures_in_pixels_what_is_told() -> None:
    made = work_prints([LYING], 1, printed="2026-02-11")
    dark = io.BytesIO()
    Image.new("RGB", (600, 400), (30, 30, 30)).save(dark, "PNG")
    shown = rendered(write_sheets(made.document, {**FILES, "a": dark.getvalue()}).pdf)
    mask = np.abs(np.asarray(shown, int) - 30).max(axis=2) < 3
    rows, columns = np.flatnonzero(mask.mean(axis=1) > 0.5), np.flatnonzero(mask.mean(axis=0) > 0.5)
    seen = (len(columns) / 300.0 * INCH, len(rows) / 300.0 * INCH)
    assert seen == pytest.approx((made.placed[0].width_mm, made.placed[0].height_mm), abs=0.1)


def test_under_each_print_stands_which_frame_it_is() -> None:
    made, pdf = printed([LYING, UPRIGHT, LYING], 2, first_sheet=7)
    said = text_of(pdf)
    for piece in ("First light on the sands", "DSC_0407.jpg", "7f3a2c", "DSC_0408.jpg", "b81e90"):
        assert piece in said
    assert said.count("printed 2026-02-11") == 3
    assert said.count("7f3a2c · printed 2026-02-11 · sheet 7") == 1
    assert said.count("7f3a2c · printed 2026-02-11 · sheet 8") == 1
    assert [one.sheet for one in made.placed] == ["7", "7", "8"]


def test_the_bar_is_fifty_millimetres() -> None:
    for shots, more in (([LYING], {}), ([UPRIGHT], {"sheet": "A3"}), ([LYING], {"strip": False})):
        _, pdf = printed(shots, 1, **more)
        lines = [one for one in placed(pdf) if one.kind == "stroked" and one.width > 49.0]
        assert [line.width for line in lines] == pytest.approx([BAR_MM], abs=0.01)
        ticks = sorted(one.left for one in placed(pdf) if one.kind == "stroked" and one.width < 0.01)
        assert np.diff(ticks) == pytest.approx([10.0] * 5, abs=0.01)
    _, pdf = printed([UPRIGHT], 1)
    bar = next(one for one in placed(pdf) if one.kind == "stroked" and one.width > 49.0)
    shown = np.asarray(rendered(pdf).convert("L"), float)
    # Across the two long ticks, just over the line: where they are darkest.
    row = 255.0 - shown[round((bar.top - 1.5) / INCH * 300.0)]
    span = slice(round((bar.left - 1.0) / INCH * 300.0), round((bar.left + 51.0) / INCH * 300.0))
    at = np.arange(span.start, span.stop) + 0.5
    half = len(at) // 2
    first, last = (float(np.average(at[part], weights=row[span][part])) for part in (slice(half), slice(half, None)))
    assert (last - first) / 300.0 * INCH == pytest.approx(50.0, abs=0.1)


def test_the_strip_shows_the_colours_that_are_printed_under_it() -> None:
    _, pdf = printed([LYING], 1)
    strip = pictures(pdf)[-1]
    assert (strip.width, strip.height) == pytest.approx((patch_edges_mm()[-1], 7.0), abs=0.01)
    shown = rendered(pdf)
    edges = patch_edges_mm()
    row = round((strip.top + 3.5) / INCH * 300.0)
    for (name, wanted, _), begins, ends in zip(patches(), edges, edges[1:], strict=False):
        for part in (0.1, 0.5, 0.9):  # to the edges: no patch runs into the next
            at = round((strip.left + begins + part * (ends - begins)) / INCH * 300.0)
            assert np.abs(np.subtract(shown.getpixel((at, row)), wanted)).max() <= 1, (name, part)
    said = text_of(pdf)
    for name, _, value in patches():
        assert name in said
        assert value in said


def test_the_lightness_of_greys_is_that_of_a_reference_library() -> None:
    import colour

    # Published for sRGB 118 and 119 (both whites give these, a grey having the white's own chromaticity).
    assert lightness_of(118) == pytest.approx(49.6370, abs=1e-3)
    assert lightness_of(119) == pytest.approx(50.0344, abs=1e-3)
    for (name, rgb, value), wanted in zip(patches(), GREYS, strict=False):
        assert len(set(rgb)) == 1
        assert value == str(rgb[0])
        with np.errstate(all="ignore"):
            lab = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array(rgb) / 255.0))
        assert float(name.removeprefix("L* ")) == pytest.approx(lab[0], abs=0.06)  # it is printed to a tenth
        assert lab[0] == pytest.approx(wanted, abs=0.3)  # the nearest of 256 values


def test_the_strip_is_the_same_on_every_sheet_and_day() -> None:
    first, second = (write_sheets(work_prints(s, 1, printed=day).document, FILES).pdf for s, day in (
        ([LYING], "2026-02-11"), ([UPRIGHT], "2026-05-30"),
    ))  # fmt: skip
    strips = [pictures(pdf)[-1] for pdf in (first, second)]
    assert strips[0].thing.get_data() == strips[1].thing.get_data()
    assert strips[0].box[2:] == pytest.approx(strips[1].box[2:], abs=1e-4)
    with Image.open(io.BytesIO(strip_png())) as shown:
        assert len(shown.getcolors()) == len(patches()) == 19


def test_the_sheet_tells_how_to_use_the_strip() -> None:
    _, pdf = printed([LYING], 1)
    said = text_of(pdf)
    assert "Compare with the first day’s strip under the same light" in said
    assert "Strip of 2026-02-11, sheet 1. Compared with the strip of" in said
    _, bare = printed([LYING], 1, strip=False)
    assert "strip" not in text_of(bare)
    assert len(pictures(bare)) == 1


@pytest.mark.parametrize(
    ("shots", "per_sheet", "more"),
    [
        ([], 1, {}),
        ([LYING] * 201, 4, {}),
        ([LYING], 3, {}),
        ([LYING], 0, {}),
        ([LYING], 1, {"sheet": "A5"}),
        ([LYING], 1, {"margins": Margins(16.0, 16.0, 16.0, 16.0), "sheet": "A4"}),
        ([LYING], 1, {"first_sheet": 0}),
        ([replace(LYING, width_px=0)], 1, {}),
        ([replace(LYING, width_px=90_000, height_px=10)], 1, {}),
    ],
)
def test_what_cannot_be_printed_is_refused(shots: list[Shot], per_sheet: int, more: dict[str, Any]) -> None:
    if more.get("margins"):
        shots = [UPRIGHT]
    with pytest.raises(CannotPrint) as caught:
        work_prints(shots, per_sheet, printed="2026-02-11", **more)
    assert caught.value.next_step


def test_hostile_names_are_cut_and_no_markup() -> None:
    shot = replace(UPRIGHT, file_name="#rm‮" + "x" * 900 + ".jpg", scene="*bold* $x$ " + "שלום " * 90, short_id="i" * 90)
    _, pdf = printed([shot, replace(shot, scene="Переправа", alt="\ud800")], 2)
    said = re.sub("[\u202a-\u202e]", "", text_of(pdf))
    assert "*bold* $x$" in said
    assert "#rm[U+202E]x" in said
    assert "Переправа" in said
    boxes = poppler("pdftotext", pdf, "-bbox").decode()
    ends = [float(x) for x in re.findall(r'<word.*?xMax="([\d.]+)"', boxes)]
    assert max(ends) / 72.0 * INCH <= sheet_mm(pdf)[0] - 9.9


# --- the index --------------------------------------------------------------------------------------------------------


def frames(count: int) -> list[Indexed]:
    return [
        Indexed(
            "b" if n % 7 == 3 else "a",
            *((400, 600) if n % 7 == 3 else (600, 400)),
            f"DSC_{4000 + n}.jpg",
            f"06:{n // 60:02d}:{n % 60:02d}",
            "Before the tide" if n < 33 else "After the flood" if n < 80 else "",
        )
        for n in range(count)
    ]


def test_an_index_shows_every_frame_once_in_its_order() -> None:
    made = index_sheets(frames(100), title="First light on the sands", day="2026-02-11")
    pdf = write_sheets(made, FILES).pdf
    said = text_of(pdf)
    assert [int(n) for n in re.findall(r"DSC_(\d+)\.jpg", said)] == list(range(4000, 4100))
    assert said.count("Before the tide") == 2  # and once more, continued
    assert "Before the tide, continued" in said
    assert "06:01:39" in said
    for number in range(len(made["sheets"])):
        assert f"page {number + 1} of {len(made['sheets'])}" in said
        assert len(pictures(pdf, number)) <= 30


def test_thirty_frames_fill_one_sheet_of_an_index() -> None:
    plain = [replace(one, group="") for one in frames(31)]
    assert [
        len([i for i in s["items"] if i["type"] == "picture"]) for s in index_sheets(plain, title="")["sheets"]
    ] == [30, 1]
    one = [replace(one, group="All") for one in frames(30)]
    assert len(index_sheets(one, title="")["sheets"]) == 1


@pytest.mark.parametrize(("columns", "rows"), [(3, 3), (5, 6), (8, 8)])
def test_nothing_on_an_index_touches_anything_else(columns: int, rows: int) -> None:
    many = [replace(one, group=f"Group {n // 4}" if n % 3 else "") for n, one in enumerate(frames(90))]
    for sheet in index_sheets(many, title="T", columns=columns, rows=rows)["sheets"]:
        boxes = [
            (i["x"], i["y"], i["x"] + i["w"], i["y"] + i.get("h", i.get("size", 0.0) * INCH / 72.0 * 0.7))
            for i in sheet["items"]
            if i["type"] != "rule" and i.get("text", "x")
        ]
        assert all(b[0] >= 14.0 - 1e-6 and b[2] <= 196.0 + 1e-6 and b[3] <= 283.1 for b in boxes)
        for n, one in enumerate(boxes):
            for other in boxes[n + 1 :]:
                assert (
                    one[2] <= other[0] + 1e-6 or other[2] <= one[0] + 1e-6 or one[3] <= other[1] or other[3] <= one[1]
                )


def test_pictures_of_an_index_are_small_in_the_file() -> None:
    out = io.BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(0, 256, (1000, 1500, 3), np.uint8)).save(out, "JPEG")
    pdf = write_sheets(index_sheets(frames(1), title="T"), {"a": out.getvalue()}).pdf
    found = pictures(pdf)[0]
    assert found.thing["/Width"] == pytest.approx(found.width / INCH * 300.0, abs=1.0)


def test_a_frame_without_a_picture_is_said() -> None:
    pdf = write_sheets(index_sheets([replace(frames(1)[0], picture="")], title="T"), {}).pdf
    assert "The picture could not be opened." in text_of(pdf)


@pytest.mark.parametrize("count", [0, 1_001])
def test_indexes_too_long_are_refused(count: int) -> None:
    with pytest.raises(CannotPrint, match=f"index of {count} frames"):
        index_sheets(frames(count), title="T")
    for grid in ({"columns": 2}, {"rows": 9}, {"columns": float("nan")}):
        with pytest.raises(CannotPrint):
            index_sheets(frames(2), title="T", **grid)  # type: ignore[arg-type]
