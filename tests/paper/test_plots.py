"""Plots hold the figures they were given: curves, bars, spans."""

from __future__ import annotations

import io

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from pypdf import PdfReader

from refarchive.paper.figures import as_file, coverage_figure
from refarchive.paper.plots import look_figure, timeline_figure
from refarchive.paper.strengths_plot import strengths_figure
from refarchive.records.dates import read_date
from refarchive.records.model import Need, Reference, Scene
from refarchive.scenes.coverage import coverage


def test_a_curve_is_the_share_at_most_so_light() -> None:
    values = np.array([10.0, 20.0, 30.0, 90.0])
    figure = look_figure({"Frame": values, "R": values + 5}, {"Frame": [("#112233", 0.5), ("#445566", 1.5)]})
    above, below = figure.axes
    x, y = above.lines[0].get_data()
    # The same by NumPy's own histogram, cumulated.
    counted = np.cumsum(np.histogram(values, bins=np.append(x, 101) - 0.125)[0]) * 25.0
    assert y == pytest.approx(counted)
    assert above.lines[0].get_linestyle() != above.lines[1].get_linestyle()  # told apart without colour
    bars = below.patches
    assert [bar.get_width() for bar in bars] == pytest.approx([0.25, 0.75])
    assert [bar.get_x() for bar in bars] == pytest.approx([0.0, 0.25])


def test_references_lie_over_the_time_they_may_be_from() -> None:
    def one(name: str, date: str | None) -> Reference:
        return Reference(name, "image", name, "f", when=read_date(date) if date else None)

    scene = Scene("s", "S $x$", "e", "s", when=read_date("1871-02"))
    figure = timeline_figure(scene, [one("late", "1911"), one("early", "1869-07-02"), one("none", None)])
    (axes,) = figure.axes
    dotted, *rest = axes.lines
    assert dotted.get_xdata()[0] == pytest.approx(1871.12, abs=0.01)  # the middle of February 1871
    spans = [line.get_xdata() for line in rest if len(line.get_xdata()) == 2]
    assert spans[0] == pytest.approx([1869.5, 1869.5], abs=0.01)  # 2 July is the middle of the year
    assert spans[1] == pytest.approx([1911.0, 1912.0], abs=0.01)
    assert [label.get_text() for label in axes.get_yticklabels()] == ["early", "late"]
    assert "1 undated" in axes.get_title(loc="left")


def test_nothing_to_draw_is_drawn_as_nothing() -> None:
    figure = timeline_figure(Scene("s", "S", "e", "s"), [])
    assert figure.axes[0].lines[:] == []
    figure.canvas.draw()


def test_names_of_frames_are_cut_and_no_formulas() -> None:
    rows = [
        {"frame": name, "strength": 0.0, "low": None, "high": None, "group": 0}
        for name in ("F_$1$.jpg", "a\nb\x00.jpg", f"{'x' * 38}$.jpg")
    ]
    figure = strengths_figure(rows, "story")
    labels = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert labels == [r"F_\$1\$.jpg", "a b .jpg", rf"{'x' * 38}\$…"]
    figure.canvas.draw()


def test_a_frame_stands_beside_its_name_and_another_without_a_picture_stands_without() -> None:
    rows = [
        {"frame": name, "strength": 0.0, "low": -1.0, "high": 1.0, "group": 0} for name in ("a.jpg", "b.jpg", "c.jpg")
    ]
    red, blue = (np.full((80, 120, 3), one, np.uint8) for one in ((200, 0, 0), (0, 0, 200)))
    figure = strengths_figure(rows, "story", {"a.jpg": red, "c.jpg": blue})
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    drawn = np.asarray(canvas.buffer_rgba())[..., :3].astype(int)
    axes = figure.axes[0]
    for place, colour in enumerate(((200, 0, 0), None, (0, 0, 200))):
        height = drawn.shape[0] - int(axes.transData.transform((0, place))[1])
        row = drawn[height, : int(axes.get_window_extent().x0)]
        seen = [c for c in ((200, 0, 0), (0, 0, 200)) if (np.abs(row - c).max(axis=1) < 8).sum() > 20]
        assert seen == ([] if colour is None else [colour])
    for label in axes.get_yticklabels():  # a name ends before its picture begins
        assert label.get_window_extent().x1 <= axes.get_window_extent().x0 - 40 * figure.dpi / 72


FORMULA = "$\\frac{$ £5 $x$ مد"


def test_no_name_is_a_formula_in_any_figure() -> None:
    scene = Scene("s", FORMULA, "e", "s", when=read_date("1871"), needs=(Need("hat", FORMULA, "wardrobe"),))
    reference = Reference("r", "image", FORMULA, "f", when=read_date("1870"))
    figures = [
        coverage_figure(scene.title, scene.when, coverage(scene, {}, {})),
        timeline_figure(scene, [reference]),
        look_figure({FORMULA: np.arange(9.0)}, {FORMULA: [("#112233", 1.0)]}),
    ]
    for figure in figures:
        # pypdf reads what was drawn, with Matplotlib's embedded face.
        text = PdfReader(io.BytesIO(as_file(figure, ".pdf"))).pages[0].extract_text()
        assert "".join(FORMULA.split()) in "".join(text.split())


def test_a_name_that_begins_with_a_line_stands_in_the_legend() -> None:
    figure = look_figure({"_a.jpg": np.arange(9.0), "b.jpg": np.arange(9.0)}, {"_a.jpg": [("#112233", 1.0)]})
    assert [one.get_text().strip() for one in figure.axes[0].get_legend().get_texts()] == ["_a.jpg", "b.jpg"]


def test_a_letter_that_no_face_has_is_written_as_its_code() -> None:
    figure = timeline_figure(Scene("s", "漢", "e", "s"), [])
    assert figure.axes[0].get_title(loc="left").startswith("[U+6F22]: ")
    figure.canvas.draw()  # a letter without a face would be a warning, and so an error here
