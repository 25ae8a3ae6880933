"""The page of a series: what is drawn is what was measured, and all of it can be read as text too."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from poppler import text_of

from refarchive.errors import CannotMeasure, CannotPrint
from refarchive.frames.series import Person, Read, Thing, propose, read_picture
from refarchive.paper import blocks
from refarchive.paper.html import write_html
from refarchive.paper.pdf import write_pdf
from refarchive.paper.series_page import CANDIDATE, MARGIN, SCORE, WIDTH, line_figures, line_pictures, series_page

NAMES = ["First light", "渡し場の灯", "Перевозчик", "عبور الدليل", "Lamp <b>$x$</b> #panic()"]
NASTY = "<script>alert(1)</script>"


def shore(grey: int, width: int = 90, height: int = 60) -> np.ndarray:
    picture = np.full((height, width, 3), grey, dtype=np.uint8)
    picture[: height // 3] = min(255, grey + 50)
    picture[:, :, 2] //= 2
    return picture


def read(grey: int, title: str = "", width: int = 90, **more: Any) -> Read:
    return read_picture(shore(grey, width, more.pop("height", 60)), name=f"f{grey}", title=title or f"P{grey}", **more)


SHAWL = Thing("Crossed shawl", "shawl", "wardrobe")


@pytest.fixture(scope="module")
def line() -> list[Read]:
    widths = (90, 40, 60, 150, 90)
    return [
        read(
            30 + 40 * k,
            title,
            width,
            light_deg=None if k == 2 else 45.0 * k,
            figures=[(0.1, 0.1, 0.2, 0.5)] if k < 3 else [],
            things=[SHAWL] if k in (1, 3) else [],
            place="Merrow Sands" if k < 2 else "",
            people=[Person("Anne Dove")],
        )
        for k, (title, width) in enumerate(zip(NAMES, widths, strict=True))
    ]


@pytest.fixture(scope="module")
def pictures() -> list[np.ndarray]:
    return [shore(30 + 40 * k, width) for k, width in enumerate((90, 40, 60, 150, 90))]


@pytest.fixture(scope="module")
def candidate() -> Read:
    return read(222, "Candidate", things=[SHAWL], light_deg=180.0)


def drawn_pictures(figures: list[Any]) -> list[Any]:
    return [image for figure in figures for image in figure.axes[0].images]


def test_pictures_stand_equally_high_and_whole(line: list[Read], pictures: list[np.ndarray]) -> None:
    figures = line_figures(line, pictures)
    images = drawn_pictures(figures)
    assert len(images) == 5
    heights = set()
    for image, shown in zip(images, pictures, strict=True):
        left, right, bottom, top = image.get_extent()
        heights.add(round(bottom - top, 6))
        assert (right - left) / (bottom - top) == pytest.approx(shown.shape[1] / shown.shape[0])  # never cropped
        assert image.get_array().shape == shown.shape
        assert MARGIN <= left < right <= WIDTH + 1e-6
    assert len(heights) == 1
    for figure in figures:  # a millimetre drawn is a millimetre on paper
        assert figure.get_figwidth() * 25.4 == pytest.approx(WIDTH)
        assert figure.axes[0].get_xlim() == (0, WIDTH)


def test_medians_and_ends_stand_on_one_axis(line: list[Read], pictures: list[np.ndarray]) -> None:
    (figure,) = line_figures(line, pictures)
    axes = figure.axes[0]
    dots = [one for one in axes.lines if one.get_marker() == "o"]
    zero, hundred = (
        next(float(text.get_position()[1]) for text in axes.texts if text.get_text() == label) for label in ("0", "100")
    )
    assert zero - hundred == pytest.approx(SCORE)
    for dot, one in zip(dots, line, strict=True):
        height = (zero - 0.8 - float(dot.get_ydata()[0])) / SCORE * 100
        assert height == pytest.approx(one.key, abs=0.1)


def test_palettes_are_as_wide_as_their_shares_and_nothing_else_has_a_colour(
    line: list[Read], pictures: list[np.ndarray]
) -> None:
    from matplotlib.colors import to_hex, to_rgb

    (figure,) = line_figures(line, pictures)
    axes = figure.axes[0]
    bars = axes.patches[: len(line[0].palette.shares)]
    whole = sum(bar.get_width() for bar in bars)
    assert [bar.get_width() / whole for bar in bars] == pytest.approx(line[0].palette.shares.tolist())
    assert [to_hex(bar.get_facecolor()) for bar in bars] == list(line[0].palette.hexes)
    for drawn in [*axes.lines, *axes.texts]:
        red, green, blue = to_rgb(drawn.get_color())
        assert max(red, green, blue) - min(red, green, blue) < 0.05


def test_an_arrow_points_the_way_the_light_falls(pictures: list[np.ndarray], line: list[Read]) -> None:
    for tilt, (dx, dy) in ((0.0, (-1, 0)), (90.0, (0, 1)), (180.0, (1, 0)), (270.0, (0, -1))):
        (figure,) = line_figures([replace(line[0], light_deg=tilt)], pictures[:1])
        (arrow,) = [text for text in figure.axes[0].texts if getattr(text, "arrow_patch", None) is not None]
        (x, y), (from_x, from_y) = arrow.xy, arrow.xyann
        assert np.sign([round(x - from_x, 6), round(y - from_y, 6)]).tolist() == [dx, dy]  # y grows downwards


def test_long_series_take_several_lines_of_one_height() -> None:
    many = [read(30 + 3 * k, f"P{k}") for k in range(60)]
    figures = line_figures(many, [None] * 60)
    assert len(figures) > 5
    assert len({figure.get_figheight() for figure in figures}) == 1
    numbers = [
        int(text.get_text()) for figure in figures for text in figure.axes[0].texts
        if text.get_fontsize() == 7.5 and text.get_text().isdigit()
    ]  # fmt: skip
    assert numbers == list(range(1, 61))


def test_a_very_wide_picture_is_made_to_fit() -> None:
    (figure,) = line_figures([read(90, width=600, height=20)], [shore(90, 600, 20)])
    left, right, bottom, top = figure.axes[0].images[0].get_extent()
    assert right <= WIDTH + 1e-6
    assert (right - left) / (bottom - top) == pytest.approx(30.0)


def test_pictures_that_do_not_fit_are_refused(line: list[Read], candidate: Read) -> None:
    with pytest.raises(CannotPrint, match="do not fit"):
        line_figures(line, [None] * 4)
    with pytest.raises(CannotPrint):
        line_figures(line, [None] * 5, candidate)


def whole(line: list[Read], candidate: Read) -> dict[str, Any]:
    orders = [("palette", propose(line, "smooth", "palette")), ("key", propose(line, "contrasting", "key"))]
    orders += [("key", propose(line, "by key"))]
    orders += [("", propose(line, "by date of event", spans=[(9, 9), (7, 8), None, (1, 2), (2, 3)]))]
    return series_page("Merrow Water", line, date="2026-02-11", version="3", candidate=candidate, orders=orders)


def tables(document: dict[str, Any]) -> list[dict[str, Any]]:
    return [block for block in blocks.walk(document) if block.get("type") == "table"]


def test_the_tables_hold_every_pair_place_and_order(line: list[Read], candidate: Read) -> None:
    document = whole(line, candidate)
    json.dumps(document)
    pairs, seats, orders, figures = tables(document)
    assert [row[0] for row in pairs["rows"]] == ["1, 2", "2, 3", "3, 4", "4, 5"]
    step = line[1].key - line[0].key
    assert pairs["rows"][0][2].split()[0] == f"{step:+.1f}"
    assert [row[1] for row in seats["rows"]] == ["1", "1", "2", "2", "3", "3", "4", "4", "5", "5"]
    assert [row[0] for row in seats["rows"] if row[0]] == [
        "before 1", "between 1 and 2", "between 2 and 3", "between 3 and 4", "between 4 and 5", "after 5",
    ]  # fmt: skip
    assert orders["rows"][2][:2] == ["By key, dark to light", "1, 2, 3, 4, 5"]
    assert orders["rows"][3][1] == "4, 5, 3, 2, 1"
    assert "days" in orders["rows"][3][2]
    assert [row[0] for row in figures["rows"]] == ["1", "2", "3", "4", "5", CANDIDATE]
    text = json.dumps(document, ensure_ascii=False)
    assert "Garment: Crossed shawl" in text
    assert "2, 4: the same name." in text
    assert "Kept in place, as nothing is known of them by this measure: 3" in text


def test_it_names_no_best_and_no_score(line: list[Read], candidate: Read) -> None:
    text = json.dumps(whole(line, candidate)).lower()
    for word in ("score", "best place", "winner", "rating", "rank 1", "recommended"):
        assert word not in text
    assert "no best order" in text


def test_every_drawing_has_words_for_those_who_do_not_see_it(line: list[Read], candidate: Read) -> None:
    document = whole(line, candidate)
    shown = [block for block in blocks.walk(document) if block.get("type") == "plate"]
    made = line_pictures(line, [None] * 6, candidate)
    assert [plate["picture"] for plate in shown] == list(made)
    for plate in shown:
        assert re.match(r"Pictures? (\d|C)", plate["alt"])
        assert "further on" in plate["alt"]
        assert "cut" not in plate["alt"]
    captions = " ".join(plate["caption"] for plate in shown)
    for number, one in enumerate(line, start=1):
        assert f"{number} {one.title}" in captions


def test_one_picture_alone() -> None:
    document = series_page("One", [read(90)], date="2026-02-11")
    assert document["subtitle"] == "1 finished picture"
    assert "One picture has no neighbour." in json.dumps(document)
    with pytest.raises(CannotMeasure):
        series_page("None", [], date="2026-02-11")


def test_line_pictures_are_the_same_bytes_twice(line: list[Read], pictures: list[np.ndarray]) -> None:
    first = line_pictures(line, pictures)
    assert first == line_pictures(line, pictures)
    with Image.open(io.BytesIO(first["series-line-01"])) as image:
        assert image.format == "PNG"
        assert image.width == pytest.approx(WIDTH / 25.4 * 220, abs=1)


def test_the_pdf_reads_back(line: list[Read], pictures: list[np.ndarray], candidate: Read) -> None:
    text = text_of(write_pdf(whole(line, candidate), line_pictures(line, [*pictures, shore(222)], candidate)))
    for piece in ("The series in order", "How “Candidate” would sit", "Перевозчик", "between 1 and 2", "#panic()"):
        assert piece in text


def test_the_html_holds_texts_as_texts(line: list[Read]) -> None:
    hostile = [replace(line[0], title=NASTY, place=NASTY), *line[1:]]
    page = write_html(series_page(NASTY, hostile, date="2026-02-11"), line_pictures(hostile, [None] * 5))
    assert NASTY not in page
    assert "&lt;script&gt;" in page
