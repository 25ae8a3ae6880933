"""What is in a frame, and the lines on horizon, clipped parts and layout, on pictures drawn to known answers."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from PIL import Image
from skimage import data

from refarchive.errors import BadQuery
from refarchive.frames.check import ReferenceLook, check_frame
from refarchive.frames.lines import Line
from refarchive.frames.marked import Marked, checked
from refarchive.frames.remedies import remedy
from refarchive.frames.studied import study_frame
from refarchive.looks.changes import with_warmth
from refarchive.looks.warmth import warmth
from refarchive.records.model import Intent, Reference, When, Witness

BEFORE_1883 = When("1870", "", 2_404_000, 2_404_300)


def sea(row: float, size: tuple[int, int] = (480, 720)) -> np.ndarray:
    """A light sky over dark water that meet at a part of the height, with a little grain."""
    height, width = size
    grain = np.random.default_rng(0).integers(-3, 4, (height, width, 1))
    tone = np.where(np.arange(height)[:, None, None] < row * height, 190, 70)
    return np.repeat(np.clip(tone + grain, 0, 255), 3, axis=2).astype(np.uint8)


def lines(frame: np.ndarray, intent: Intent, *looks: ReferenceLook) -> dict[str, Line]:
    found = check_frame(frame_picture=frame, intent=intent, needs=(), notes=(), references=looks)
    return {line.measure: line for line in found}


def look(picture: np.ndarray, *, whole: bool = True, **more: Any) -> ReferenceLook:
    given = {"kind": "image", "title": "R", "source_name": "r.png"} | more
    return ReferenceLook(Reference(id="r1", **given), picture, 0.5, np.arange(50) / 50, whole)


# -- horizon and what would bring it within --------


@pytest.mark.parametrize(("target", "verdict"), [(0.42, "within"), (0.36, "outside"), (0.5, "outside")])
def test_a_horizon_where_it_was_drawn(target: float, verdict: str) -> None:
    line = lines(sea(0.4), Intent(horizon=target, horizon_tolerance=0.03))["horizon"]
    assert line.frame == pytest.approx(0.4, abs=0.005)
    assert line.difference == pytest.approx(0.4 - target, abs=0.005)
    assert line.verdict == verdict


@pytest.mark.parametrize(("target", "edge"), [(0.3, "upper"), (0.55, "lower")])
def test_a_cut_that_brings_the_horizon_within(target: float, edge: str) -> None:
    frame, intent = sea(0.4), Intent(horizon=target, horizon_tolerance=0.02)
    line = lines(frame, intent)["horizon"]
    found = remedy(line, frame, intent)
    assert found is not None
    assert found.cut is not None
    assert f"at the {edge} edge" in line.remedy
    rows = round(found.cut * len(frame))
    cut = frame[rows:] if edge == "upper" else frame[: len(frame) - rows]
    assert lines(cut, intent)["horizon"].verdict == "within"


def test_a_horizon_that_only_another_picture_would_have() -> None:
    line = lines(sea(0.85), Intent(horizon=0.1, horizon_tolerance=0.02))["horizon"]
    assert (line.verdict, "another picture" in line.remedy) == ("outside", True)


def test_without_a_horizon_it_cannot_be_told() -> None:
    flat = np.full((200, 300, 3), 90, np.uint8)
    line = lines(flat, Intent(horizon=0.4))["horizon"]
    assert (line.frame, line.verdict, line.remedy) == (None, "cannot tell", "")


# -- blown and blocked --------


def test_clipped_parts_are_counted_against_what_is_allowed() -> None:
    frame = np.full((100, 100, 3), 120, np.uint8)
    frame[:10] = 255  # a tenth
    frame[90:93] = 0  # three hundredths
    found = lines(frame, Intent(blown_most=0.04, blocked_most=0.05))
    blown, blocked = found["blown out"], found["blocked up"]
    assert (blown.frame, blown.difference, blown.verdict) == (0.1, 0.06, "outside")
    assert "Nothing done to this file" in blown.remedy
    assert (blocked.frame, blocked.difference, blocked.verdict, blocked.remedy) == (0.03, 0.0, "within", "")
    assert not {"blown out", "blocked up"} & set(lines(frame, Intent()))


# -- layout --------


def test_layout_is_held_against_references_that_are_named() -> None:
    coffee = data.coffee()
    intent = Intent(like=("r1",), layout_least=0.6)
    same = lines(coffee, intent, look(coffee[::2, ::2]))["layout"]
    assert (same.target, same.verdict) == (0.6, "within")
    assert same.frame == pytest.approx(1.0, abs=0.01)
    negative = lines(coffee, intent, look(255 - coffee))["layout"]
    assert negative.frame is not None
    assert negative.frame < -0.8
    assert negative.difference == pytest.approx(negative.frame - 0.6, abs=1e-9)
    assert negative.verdict == "outside"
    unasked = lines(coffee, Intent(), look(coffee))["layout"]
    assert (unasked.difference, unasked.verdict) == (None, "cannot tell")
    assert "asks for no layout" in unasked.note
    assert "layout" not in lines(coffee, intent, look(coffee, whole=False))


def test_beside_an_early_photograph_layout_is_that_of_a_plate() -> None:
    # Red above blue, of like lightness to the eye: a plate that sees only blue makes them black and white.
    colours = np.zeros((120, 180, 3), np.uint8)
    colours[:60], colours[60:] = (210, 60, 40), (70, 110, 235)
    plate = np.zeros((120, 180, 3), np.uint8)
    plate[60:] = 220
    found = lines(colours, Intent(), look(plate, witness=Witness.PHOTOGRAPH, when=BEFORE_1883))["layout"]
    assert found.frame is not None
    assert found.frame > 0.95
    assert "simulation" in found.note
    undated = lines(colours, Intent(), look(plate, witness=Witness.PHOTOGRAPH))["layout"]
    assert (undated.frame, undated.verdict) == (None, "cannot tell")


# -- what is in the frame --------


def test_facts_are_those_of_the_picture() -> None:
    studied = study_frame(sea(0.4), figures={"agnes": (0.25, 0.2, 0.1, 0.5)})
    told = {one.name: one.words for one in studied.told}
    assert "40 % of the height from the top" in told["Horizon"]
    assert told["Clipped"] == "Nothing is blown out or blocked up."
    masses = re.findall(r"(dark|light) (\d+) %, at the (top|bottom)", told["Masses"])
    assert [(value, where) for value, _, where in masses] == [("dark", "bottom"), ("light", "top")]
    # Squinted at, the edge becomes a narrow half-tone of its own.
    assert [int(share) for _, share, _ in masses] == pytest.approx([60, 40], abs=3)
    assert told["In stops"].startswith("Cannot tell")
    assert told["Figure agnes"].startswith("50 % of the height and 5.0 % of the area, with 20 % of the height above it")
    three, words = studied.studies["Three values"]
    assert len(np.unique(three.reshape(-1, 3), axis=0)) == 3
    assert words.startswith("dark ")


def test_stops_are_told_where_the_light_is_the_scenes() -> None:
    # Two halves two stops apart, around 18 %: by definition 1 stop above and 1 below.
    light = np.full((64, 64, 3), 0.09)
    light[:, 32:] = 0.36
    words = next(one.words for one in study_frame(sea(0.5), linear=light).told if one.name == "In stops")
    assert "On average 0.0 stops" in words
    assert "2.0 stops from the darks (-1.0) to the lights (+1.0)" in words


@pytest.mark.parametrize("value", [0, 128, 255])
def test_a_flat_picture_is_told_as_one(value: int) -> None:
    told = {one.name: one.words for one in study_frame(np.full((90, 120, 3), value, np.uint8)).told}
    for name in ("Balance", "Horizon", "Lines", "Vanishing points"):
        assert told[name].startswith("Cannot tell")


def test_the_smallest_picture_is_studied() -> None:
    assert study_frame(np.zeros((1, 1, 3), np.uint8)).as_dict()["facts"]


def test_figures_are_marked_by_name() -> None:
    kept = checked({"figure:agnes": (0, 0, 0.5, 0.5), "figure": (0.5, 0.5, 0.5, 0.5), "light": (0, 0, 1, 1)})
    assert Marked(kept, np.ones((4, 4))).figures == {"agnes": (0, 0, 0.5, 0.5), "": (0.5, 0.5, 0.5, 0.5)}
    with pytest.raises(BadQuery):
        checked({"figurine": (0, 0, 1, 1)})
    with pytest.raises(BadQuery):
        checked({"figure:agnes": (0, 0, 2, 1)})


def test_masses_agree_with_labels_of_skimage() -> None:
    """An outside count: scikit-image labels the connected areas of the same study."""
    from skimage.measure import label

    from refarchive.looks.studies import study

    picture = np.asarray(Image.fromarray(data.coffee()).resize((300, 200)))
    largest = max(
        float((label(study(picture, 3).values == level, connectivity=1) == number).mean())
        for level in range(3)
        for number in range(1, 8)
    )
    words = next(one.words for one in study_frame(picture).told if one.name == "Masses")
    assert f" {100 * largest:.0f} %" in words.split(";")[0]


# -- warmth --------


def test_warmth_is_held_against_kelvin_and_differs_in_mired() -> None:
    # Grey is D65, 6504 K; 5000 K is 200 mired, so that grey is 46.2 mired cooler than meant.
    grey = np.full((60, 90, 3), 100, np.uint8)
    line = lines(grey, Intent(warmth_k=5000))["warmth"]
    assert line.frame == pytest.approx(6504, abs=5)
    assert line.difference == pytest.approx(1e6 / 6504 - 200, abs=0.1)
    assert (line.tolerance, line.verdict) == (20.0, "outside")
    assert lines(grey, Intent(warmth_k=5000, warmth_tolerance_mired=50))["warmth"].verdict == "within"
    black = lines(np.zeros((60, 90, 3), np.uint8), Intent(warmth_k=5000))["warmth"]
    assert (black.frame, black.verdict, black.remedy) == (None, "cannot tell", "")


@pytest.mark.parametrize("target", [3200, 9000])
def test_a_shift_that_brings_warmth_within_is_made_and_measured(target: float) -> None:
    frame, intent = data.astronaut()[::2, ::2] // 2, Intent(warmth_k=target)
    line = lines(frame, intent)["warmth"]
    assert line.verdict == "outside"
    found, own = remedy(line, frame, intent), warmth(frame)
    assert found is not None
    assert found.mired is not None
    assert (found.mired > 0) is (line.difference < 0)
    assert own.cct_k is not None
    assert own.duv is not None
    changed = with_warmth(frame, own.cct_k, own.duv, 1e6 / (1e6 / own.cct_k + found.mired))
    assert lines(changed, intent)["warmth"].verdict == "within"
