"""A wall to scale: measured in the SVG, in the PDF by pypdf, and in a browser's pixels where it is looked at."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from defusedxml import ElementTree
from PIL import Image
from placed_in_pdf import pictures, placed, sheet_mm
from poppler import rendered, text_of

from refarchive.errors import CannotPrint
from refarchive.paper.sheets import write_sheets
from refarchive.paper.wall_page import (
    EYE_MM,
    SCALES,
    Piece,
    hanging_problems,
    hung_since,
    numbered,
    scale_for,
    wall_drawing,
    wall_page,
)
from refarchive.records.wall import Arrangement, Hung

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("First light on the sands", "جرّاء المد", "Переправа", '<script>alert(1)</script> & "quotes" \' ‮ \ud800')


def saved(size: tuple[int, int]) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (60, 70, 80)).save(out, "JPEG")
    return out.getvalue()


FILES = {"lying": saved((300, 200)), "upright": saved((200, 300))}
PIECES = {
    "a": Piece(NAMES[0], "upright", 200, 300, "2026-01-03"),
    "b": Piece(NAMES[1], "lying", 300, 200, "2026-02-11"),
    "c": Piece(NAMES[2], "lying", 300, 200),
    "d": Piece(NAMES[3], "gone", 300, 200),
}
WALL = Arrangement(
    "Studio, north side", "sands", "2026-03-02T10:00:00Z", 4_200.0, 2_500.0,
    (
        Hung("b", 1_000.0, 600.0, 270.0, 180.0, False, "p1"),
        Hung("a", 200.0, 400.0, 600.0, 900.0, True),
        Hung("c", 1_350.0, 600.0, 270.0, 180.0, False, "p2"),
        Hung("d", 1_700.0, 600.0, 270.0, 180.0),
    ),
    light="daylight from the left",
)  # fmt: skip


def words_of(pdf: bytes) -> str:
    return re.sub("[\u202a-\u202e]", "", text_of(pdf, "-layout"))


# --- the drawing ------------------------------------------------------------------------------------------------------


def parsed(text: str) -> Any:
    return ElementTree.fromstring(text)


def box_of(shape: Any) -> tuple[float, float, float, float]:
    return tuple(float(shape.get(key)) for key in ("x", "y", "width", "height"))  # type: ignore[return-value]


def test_a_drawing_has_true_relative_sizes() -> None:
    drawing = parsed(wall_drawing(WALL, PIECES, FILES))
    assert float(drawing.get("width").removesuffix("mm")) == float(drawing.get("viewBox").split()[2])
    wall = next(box_of(r) for r in drawing.iter(f"{SVG}rect") if r.get("fill") == "#777777")
    scale = WALL.width_mm / wall[2]
    assert scale == pytest.approx(20.0, abs=1e-3)
    assert WALL.height_mm / wall[3] == pytest.approx(scale, abs=1e-3)
    shown = [box_of(r) for r in drawing.iter(f"{SVG}rect") if r.get("fill") == "#c6c6c6"]
    for one, (x, y, wide, tall) in zip(numbered(WALL), shown, strict=True):
        assert ((x - wall[0]) * scale, (y - wall[1]) * scale) == pytest.approx((one.x_mm, one.y_mm), abs=0.1)
        assert (wide * scale, tall * scale) == pytest.approx((one.width_mm, one.height_mm), abs=0.1)
    assert len(list(drawing.iter(f"{SVG}image"))) == 3  # one of four has no file


def test_the_ground_is_a_neutral_mid_grey() -> None:
    import colour

    assert "#777777" in wall_drawing(WALL, PIECES)
    with np.errstate(all="ignore"):
        lab = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array([119.0] * 3) / 255.0))
    assert lab == pytest.approx([50.03, 0.0, 0.0], abs=0.02)


def test_the_line_of_the_eyes_lies_over_the_lower_edge() -> None:
    drawing = parsed(wall_drawing(WALL, PIECES, scale=20))
    wall = next(box_of(r) for r in drawing.iter(f"{SVG}rect") if r.get("fill") == "#777777")
    eye = next(p for p in drawing.iter(f"{SVG}path") if p.get("stroke") == "#c4c4c4")
    level = float(re.match(r"M[\d.]+ ([\d.]+)l", eye.get("d"))[1])  # type: ignore[index]
    assert (wall[1] + wall[3] - level) * 20.0 == pytest.approx(EYE_MM, abs=0.1)
    assert "common practice, no source" in wall_drawing(WALL, PIECES)
    assert "common practice" not in wall_drawing(WALL, PIECES, eye_mm=None)
    assert "common practice" not in wall_drawing(replace(WALL, height_mm=1_500.0), PIECES)


def test_the_bar_is_one_metre() -> None:
    drawing = parsed(wall_drawing(WALL, PIECES, scale=25))
    bar = [p.get("d") for p in drawing.iter(f"{SVG}path") if p.get("stroke") == "#1a1a1a"]
    assert any(re.fullmatch(r"M[\d.]+ [\d.]+l40\.000 0\.000", d) for d in bar)
    said = [t.text for t in drawing.iter(f"{SVG}text")]
    assert "1 m" in said
    assert "4.20 m" in said
    assert "2.50 m" in said


def test_names_are_keyed_by_number_and_kinds_told_in_words() -> None:
    said = [t.text for t in parsed(wall_drawing(WALL, PIECES, FILES)).iter(f"{SVG}text")]
    assert [s for s in said if re.fullmatch(r"\d+", s)].count("4") == 2  # on the wall, and before its name
    assert "First light on the sands, finished picture, 600 × 900 mm" in said
    assert "جرّاء المد, work print, 270 × 180 mm" in said
    assert any(s.startswith("<script>alert(1)</script>") and "arranged on screen" in s for s in said)


def test_names_are_no_markup() -> None:
    text = wall_drawing(replace(WALL, wall=NAMES[3]), PIECES, FILES)
    assert "<script" not in text
    assert "&lt;script&gt;" in text
    assert "[U+202E]" in text
    names = {element.tag.removeprefix(SVG) for element in parsed(text).iter()}
    assert names == {"svg", "title", "desc", "rect", "g", "path", "text", "image"}
    assert all(e.get("href").startswith("data:image/jpeg;base64,") for e in parsed(text).iter(f"{SVG}image"))


def test_pictures_travel_whole_inside_the_drawing() -> None:
    images = list(parsed(wall_drawing(WALL, PIECES, FILES)).iter(f"{SVG}image"))
    assert base64.b64decode(images[0].get("href").partition(",")[2]) == FILES["upright"]
    assert images[0].get("preserveAspectRatio") == "xMidYMid meet"
    # One that hangs in other proportions is shown whole, inside its place.
    square = replace(WALL, hung=(Hung("b", 100.0, 100.0, 300.0, 300.0),))
    image = next(parsed(wall_drawing(square, PIECES, FILES, scale=10)).iter(f"{SVG}image"))
    assert box_of(image)[2:] == pytest.approx((30.0, 20.0))


def test_long_names_are_cut_and_numbers_keep_off_pictures() -> None:
    many = tuple(Hung(f"f{n}", 20.0 + 205.0 * (n % 10), 20.0 + 290.0 * (n // 10), 200.0, 280.0) for n in range(30))
    wall = replace(WALL, width_mm=2_100.0, height_mm=900.0, hung=many)
    long = {f"f{n}": Piece("word " * 200) for n in range(30)}
    drawing = parsed(wall_drawing(wall, long))
    assert max(len(t.text) for t in drawing.iter(f"{SVG}text")) < 140
    shown = [box_of(r) for r in drawing.iter(f"{SVG}rect") if r.get("fill") == "#c6c6c6"]
    small = [box_of(r) for r in drawing.iter(f"{SVG}rect") if r.get("fill") == "#ffffff"]
    for t in drawing.iter(f"{SVG}text"):
        if t.get("fill") == "#000000":
            x, y = float(t.get("x")), float(t.get("y")) - 0.5
            on = any(b[0] < x < b[0] + b[2] and b[1] < y < b[1] + b[3] for b in shown)
            assert not on or any(b[0] < x < b[0] + b[2] and b[1] < y < b[1] + b[3] for b in small)


@pytest.mark.parametrize("pictures_", [{"lying": b"GIF89a"}, {"lying": b"<svg width='1mm' height='1mm'/>"}])
def test_what_is_no_picture_is_refused(pictures_: dict[str, bytes]) -> None:
    with pytest.raises(CannotPrint):
        wall_drawing(WALL, PIECES, pictures_)


# --- the page ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "scale"),
    [((2_000.0, 1_000.0), 10), ((4_200.0, 2_300.0), 20), ((4_200.0, 2_800.0), 25), ((11_000.0, 3_000.0), 50)],
)
def test_the_page_is_to_the_scale_that_it_states(size: tuple[float, float], scale: int) -> None:
    hung = (Hung("a", 100.0, 50.0, 600.0, 900.0, True), Hung("b", 900.0, 310.0, 270.0, 180.0, False, "p"))
    wall = replace(WALL, width_mm=size[0], height_mm=size[1], hung=hung)
    page = wall_page(wall, PIECES)
    pdf = write_sheets(page.document, FILES).pdf
    assert page.scale == scale
    assert page.scale in SCALES
    assert sheet_mm(pdf) == pytest.approx((297.0, 210.0), abs=0.01)  # ISO 216: A4, lying
    assert f"1:{scale}" in words_of(pdf)
    ground = next(one for one in placed(pdf) if one.kind == "filled" and np.allclose(one.thing, 119 / 255, atol=1e-3))
    # All that hangs, measured back on paper and multiplied by the scale.
    assert (ground.width * scale, ground.height * scale) == pytest.approx(size, abs=0.1 * scale)
    for one, found in zip(hung, pictures(pdf), strict=True):
        assert (found.width, found.height) == pytest.approx((one.width_mm / scale, one.height_mm / scale), abs=0.01)
        seen = (found.left - ground.left) * scale, (found.top - ground.top) * scale
        assert seen == pytest.approx((one.x_mm, one.y_mm), abs=0.01 * scale)
    metre = [one.width for one in placed(pdf) if one.kind == "stroked" and abs(one.width * scale - 1_000.0) < 0.5]
    assert metre


def test_the_page_measures_in_pixels_what_it_states() -> None:
    page = wall_page(replace(WALL, hung=WALL.hung[1:2]), PIECES)
    pdf = write_sheets(page.document, FILES).pdf

    def seen(dpi: int, *part: str) -> np.ndarray:
        return np.asarray(rendered(pdf, dpi, *part), int)

    grey = np.abs(seen(300) - 119).max(axis=2) <= 1
    rows, columns = np.flatnonzero(grey.mean(axis=1) > 0.3), np.flatnonzero(grey.mean(axis=0) > 0.15)
    size = np.array([columns[-1] - columns[0] + 1, rows[-1] - rows[0] + 1]) / 300.0 * 25.4
    assert size == pytest.approx(np.array([4_200.0, 2_500.0]) / page.scale, abs=0.1)
    # Poppler paints every pixel that a picture touches: finer pixels leave less of that.
    part = seen(600, "-x", "300", "-y", "600", "-W", "1800", "-H", "1800")
    hung = np.abs(part - np.array([60, 70, 80])).max(axis=2) <= 4
    for axis, length in ((0, 600.0), (1, 900.0)):
        assert np.flatnonzero(hung.any(axis=axis)).size / 600.0 * 25.4 == pytest.approx(length / page.scale, abs=0.1)


def test_the_list_tells_what_hangs_how_large_and_since_when() -> None:
    said = words_of(write_sheets(wall_page(WALL, PIECES).document, FILES).pdf)
    assert re.search(r"1 First light on the sands finished picture 600 × 900 2026-01-03", said)
    assert re.search(r"work print 270 × 180 2026-02-11", said)
    assert "Переправа work print 270 × 180" in said
    assert "arranged on screen" in said
    assert "hung 2026-03-02; light: daylight from the left" in said
    assert "nothing overlaps, and all of it lies on the wall" in said


def test_a_long_list_goes_on_to_further_sheets() -> None:
    many = tuple(
        Hung(f"f{n}", 10.0 + 40.0 * n, 10.0 + 7.0 * (n % 9), 30.0, 20.0, n % 2 == 0, f"p{n}") for n in range(100)
    )
    pieces = {f"f{n}": Piece(f"Frame number {n:03d}", since="2026-01-01") for n in range(100)}
    page = wall_page(replace(WALL, hung=many), pieces)
    said = words_of(write_sheets(page.document, {}).pdf)
    assert len(page.document["sheets"]) > 1
    assert sorted(map(int, re.findall(r"Frame number (\d+)", said))) == list(range(100))
    assert said.count("2026-01-01") == 100


def test_an_empty_wall_can_be_drawn() -> None:
    page = wall_page(replace(WALL, hung=()), {})
    assert "nothing overlaps" in words_of(write_sheets(page.document, {}).pdf)
    assert "Nothing hangs on it." in wall_drawing(replace(WALL, hung=()), {})


@pytest.mark.parametrize("size", [(200.0, 200.0), (900.0, 1_200.0), (11_900.0, 5_900.0)])
def test_walls_of_every_size_keep_to_their_sheet(size: tuple[float, float]) -> None:
    wall = replace(WALL, width_mm=size[0], height_mm=size[1], hung=(Hung("a", 10.0, 10.0, 100.0, 150.0),))
    write_sheets(wall_page(wall, PIECES).document, FILES)  # it refuses what leaves its sheet
    drawing = parsed(wall_drawing(wall, PIECES, FILES))
    assert all(float(t.get("x")) < float(drawing.get("viewBox").split()[2]) for t in drawing.iter(f"{SVG}text"))


def test_a_wall_too_large_for_every_scale_is_refused() -> None:
    with pytest.raises(CannotPrint, match=r"does not fit at 1:50") as caught:
        wall_page(replace(WALL, width_mm=20_000.0), PIECES)
    most = float(re.search(r"at most ([\d.]+) ×", caught.value.next_step)[1])  # type: ignore[index]
    assert wall_page(replace(WALL, width_mm=most * 1_000.0), PIECES).scale == 50
    assert scale_for(WALL, 273.0, 200.0) == 20


# --- what is amiss ----------------------------------------------------------------------------------------------------


def test_a_wall_in_order_has_no_problems() -> None:
    assert hanging_problems(WALL, PIECES) == ()
    beside = (Hung("a", 0.0, 0.0, 600.0, 900.0), Hung("b", 600.0, 0.0, 270.0, 180.0))
    assert hanging_problems(replace(WALL, hung=beside), PIECES) == ()  # edge to edge is no overlap


def test_overlaps_are_told_with_their_size() -> None:
    hung = (Hung("b", 1_000.0, 600.0, 270.0, 180.0), Hung("c", 1_200.0, 700.0, 270.0, 180.0))
    assert hanging_problems(replace(WALL, hung=hung), PIECES) == (
        "1 (جرّاء المد) and 2 (Переправа) overlap by 70 × 80 mm.",
    )


def test_what_leaves_the_wall_is_told_and_drawn_as_far_as_there_is_room() -> None:
    hung = (Hung("a", -50.0, 2_000.0, 600.0, 900.0), Hung("b", 90_000.0, 0.0, 270.0, 180.0))
    wall = replace(WALL, hung=hung)
    assert hanging_problems(wall, PIECES) == (
        "1 (First light on the sands) reaches 50 mm beyond the left edge and 400 mm beyond the lower edge of the wall.",
        "2 (جرّاء المد) reaches 86070 mm beyond the right edge of the wall.",
    )
    page = wall_page(wall, PIECES)
    assert page.problems == hanging_problems(wall, PIECES)
    write_sheets(page.document, FILES)


def test_one_print_cannot_hang_twice() -> None:
    hung = (Hung("b", 0.0, 0.0, 270.0, 180.0, False, "p1"), Hung("b", 500.0, 0.0, 270.0, 180.0, False, "p1"))
    (told,) = hanging_problems(replace(WALL, hung=hung), PIECES)
    assert "one and the same print" in told
    assert hanging_problems(replace(WALL, hung=(hung[0], replace(hung[1], print="p2"))), PIECES) == ()


def test_other_proportions_than_the_picture_s_are_told() -> None:
    hung = (Hung("b", 0.0, 0.0, 300.0, 300.0),)
    (told,) = hanging_problems(replace(WALL, hung=hung), PIECES)
    assert told.endswith(
        "hangs as 300 × 300 mm, 1.00 times as wide as high, but its picture is 1.50 times as wide as high: "
        "measure it again."
    )


def test_problems_are_bounded() -> None:
    heap = tuple(Hung(f"f{n}", 0.0, 0.0, 100.0, 100.0) for n in range(100))
    told = hanging_problems(replace(WALL, hung=heap))
    assert len(told) == 61
    assert told[-1] == f"And {100 * 99 // 2 - 60} more of this kind."


@pytest.mark.parametrize(
    "wrong",
    [
        {"width_mm": 0.0},
        {"height_mm": float("nan")},
        {"width_mm": "4200"},
        {"hung": (Hung("a", 0.0, 0.0, -1.0, 10.0),)},
        {"hung": (Hung("a", float("inf"), 0.0, 10.0, 10.0),)},
        {"hung": (Hung("a", 0.0, 0.0, 10.0, 1e9),)},
        {"hung": (Hung("a", 0.0, 0.0, 10.0, 10.0),) * 201},
    ],
)
def test_numbers_that_cannot_be_are_refused(wrong: dict[str, Any]) -> None:
    for asked in (hanging_problems, lambda wall: wall_drawing(wall, {}), lambda wall: wall_page(wall, {})):
        with pytest.raises(CannotPrint) as caught:
            asked(replace(WALL, **wrong))
        assert caught.value.next_step


def test_hung_since_is_the_day_from_which_it_hung_without_a_break() -> None:
    def at(day: str, *names: str, wall: str = "north") -> Arrangement:
        return Arrangement(wall, "s", f"{day}T08:00:00Z", 4_000.0, 2_500.0, tuple(Hung(n, 0, 0, 10, 10) for n in names))

    history = [
        at("2026-01-01", "a", "b"),
        at("2026-01-05", "a"),
        at("2026-01-06", "c", wall="south"),
        at("2026-01-09", "a", "b", "c"),
    ]
    assert hung_since(history) == {"a": "2026-01-01", "b": "2026-01-09", "c": "2026-01-09"}
    assert hung_since([]) == {}
