"""The lighting plan measured back from its own drawing: lengths, angles, words, and whether they can be read."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

from refarchive.errors import LightingRefused
from refarchive.lighting.rig import Camera, Light, Point, Purpose, Rig
from refarchive.paper.ground import in_water, reach_m, water_gap_m
from refarchive.paper.ground_plan import (
    CameraPoint,
    DepthMark,
    FigurePlace,
    GroundPlan,
    Smoke,
    StandPlace,
    Sun,
    Waterline,
    Wind,
    field_of_view_deg,
    ground_plan,
    in_words,
    scale_of,
)
from refarchive.paper.ground_scale import bar_m
from refarchive.paper.svg import Label, Sheet, clip, overlap, width_mm, words

SVG = "{http://www.w3.org/2000/svg}"
Dot = tuple[float, float]


def light(
    number: int,
    unit: str,
    purpose: Purpose,
    at: tuple[float, float, float],
    aim: str,
    wide: float = 0.2,
    beam: float | None = 20,
) -> Light:
    return Light(number, unit, purpose, *at, aim, guide_number_m=60.0, source_m=wide, beam_deg=beam)


RIG = Rig(
    (
        light(1, "gridded dish", "key", (-0.9, -0.5, 4.2), "driver's face", 0.55, 40),
        light(2, "large softbox", "fill", (2.6, -4.6, 2.4), "driver's face", 1.5, 90),
        light(3, "gridded head", "effect", (-4.6, 0.2, 2.2), "cart side"),
        light(4, "gridded head", "effect", (3.9, -0.9, 2.0), "boy's coat"),
        light(5, "bare head", "hair", (1.5, 3.4, 2.8), "driver's face", 0.3, 30),
    ),
    (Point("driver's face", 0.0, 0.0, 1.6), Point("boy's coat", 1.3, -0.3, 1.1), Point("cart side", -1.2, 1.1, 1.0)),
    Camera(8.0, 100.0, 1 / 125, 1 / 200),
    8.0,
)
EYE = CameraPoint(0.4, -9.0, 1.4, 35.0)
FORD = GroundPlan(
    title="The ford at first light",
    at="14 October, 06:52",
    north_deg=312.0,
    camera=EYE,
    figures=(
        FigurePlace("driver", 0.0, 0.0, 1.75),
        FigurePlace("boy", 1.3, -0.3, 1.35, 0.4),
        FigurePlace("cart", -1.5, 1.2, 1.6, 1.6, 3.0, 20.0),
    ),
    rig=RIG,
    stands=(
        StandPlace(1, 0.6, 3, 0.55, -2.4, -1.9, 3.2, 1.0),
        StandPlace(2, 0.6),
        StandPlace(3),
        StandPlace(4),
        StandPlace(5),
    ),
    waterline=Waterline("06:52", ((-6.0, -2.6), (-3.0, -2.2), (0.0, -2.4), (3.0, -3.0), (6.0, -2.9)), level_m=-0.1),
    depths=(DepthMark("A", -1.0, -1.4, 0.25), DepthMark("B", 0.6, 1.5, 0.4), DepthMark("C", 3.2, 2.0, 0.55)),
    sun=Sun(108.0, 2.0),
    made_sun=5,
    wind=Wind(250.0, 3.0),
    smoke=Smoke(-5.0, 3.0, 4.0),
    exit_route=((1.0, -1.0), (4.4, -5.0), (5.2, -7.6)),
)


def drawn(plan: GroundPlan, view: str = "plan", width_mm: float = 180.0) -> ElementTree.Element:
    root = ElementTree.fromstring(ground_plan(plan, width_mm=width_mm))
    return root if view == "" else next(g for g in root if g.get("class") == view)


def shapes(group: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [one for one in group.iter() if one.get("class") == name]


def dots(shape: ElementTree.Element) -> list[Dot]:
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", shape.get("d", ""))]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def middle(group: ElementTree.Element, name: str) -> Dot:
    """The mean corner of a shape, or the middle of a circle."""
    shape = shapes(group, name)[0]
    if shape.tag == f"{SVG}circle":
        return float(shape.get("cx", "")), float(shape.get("cy", ""))
    x, y = np.mean(dots(shape), axis=0)
    return float(x), float(y)


def up_turn(start: Dot, end: Dot) -> float:
    """The way a line on paper runs: degrees clockwise from up."""
    return math.degrees(math.atan2(end[0] - start[0], start[1] - end[1])) % 360.0


def between(corner: Dot, one: Dot, other: Dot) -> float:
    return abs((up_turn(corner, one) - up_turn(corner, other) + 180.0) % 360.0 - 180.0)


# -- true to scale --------


@pytest.mark.parametrize("width", [160.0, 168.0, 180.0])
@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 200.0])
def test_marks_ten_metres_apart_are_so_on_paper(turn: float, width: float) -> None:
    x, y = 10.0 * math.sin(math.radians(turn)), 10.0 * math.cos(math.radians(turn))
    plan = GroundPlan(depths=(DepthMark("A", 1.0, -2.0, 0.3), DepthMark("B", 1.0 + x, -2.0 + y, 0.4)))
    sheet = drawn(plan, "", width)
    assert sheet.get("width") == f"{width:g}mm"  # a user unit is a millimetre: ISO 216 paper, SVG 1.1 §7.2
    assert sheet.get("viewBox", "").split()[2:] == [sheet.get(k, "").removesuffix("mm") for k in ("width", "height")]
    above = drawn(plan, "plan", width)
    on_paper = math.dist(middle(above, "depth-1"), middle(above, "depth-2"))
    assert on_paper == pytest.approx(10_000.0 / scale_of(plan, width_mm=width), abs=0.01)
    assert up_turn(middle(above, "depth-1"), middle(above, "depth-2")) == pytest.approx(turn % 360, abs=0.05)


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    sheet = drawn(FORD, "")
    bar = next(g for g in sheet if g.get("class") == "scale-bar")
    xs = [x for shape in bar for x, _ in dots(shape)]
    said = [t.text for t in sheet.iter(f"{SVG}text") if re.fullmatch(r"[\d.]+ m", t.text or "")]
    assert f"{(max(xs) - min(xs)) * scale_of(FORD) / 1000.0:g} m" in said
    assert f"About 1:{scale_of(FORD):g} on A4 (180 mm wide)." in ground_plan(FORD)


@given(st.floats(20.0, 50_000.0))
def test_the_bar_is_the_longest_round_one(scale: float) -> None:
    bar = bar_m(scale)
    digits = f"{bar:.0e}"[0]
    assert digits in "125"
    assert bar * 1000.0 / scale <= 60.0 + 1e-6 < {"1": 2.0, "2": 2.5, "5": 2.0}[digits] * bar * 1000.0 / scale + 1e-5


@pytest.mark.parametrize("number", [1, 2, 3, 4, 5])
def test_lights_lie_and_stand_where_the_rig_has_them(number: int) -> None:
    above, aside, mm = drawn(FORD), drawn(FORD, "elevation"), 1000.0 / scale_of(FORD)
    one = RIG.light(number)
    eye, at = middle(above, "camera"), middle(above, f"light-{number}")
    assert (at[0] - eye[0], eye[1] - at[1]) == pytest.approx(((one.x_m - 0.4) * mm, (one.y_m + 9.0) * mm), abs=0.01)
    ground = dots(shapes(aside, "ground")[0])[0][1]
    at = middle(aside, f"light-{number}")
    assert ground - at[1] == pytest.approx(one.height_m * mm, abs=0.01)
    assert at[0] - middle(aside, "camera")[0] == pytest.approx((one.y_m + 9.0) * mm, abs=0.01)


def test_the_side_view_runs_along_the_lens() -> None:
    """A turned camera sees a mark straight ahead at its distance, and one abreast of it beside itself."""
    eye = replace(EYE, x_m=2.0, y_m=1.0, bearing_deg=60.0)
    ahead = DepthMark("ahead", 2.0 + 8.0 * math.sin(math.radians(60)), 1.0 + 8.0 * math.cos(math.radians(60)), 0.2)
    abreast = DepthMark("abreast", 2.0 + 3.0 * math.cos(math.radians(60)), 1.0 - 3.0 * math.sin(math.radians(60)), 0.2)
    plan = GroundPlan(camera=eye, depths=(ahead, abreast))
    aside, mm = drawn(plan, "elevation"), 1000.0 / scale_of(plan)
    at = middle(aside, "camera")[0]
    assert middle(aside, "depth-1")[0] - at == pytest.approx(8.0 * mm, abs=0.01)
    assert middle(aside, "depth-2")[0] - at == pytest.approx(0.0, abs=0.01)


def test_heights_and_depths_in_the_side_view() -> None:
    aside, mm = drawn(FORD, "elevation"), 1000.0 / scale_of(FORD)
    ground = dots(shapes(aside, "ground")[0])[0][1]
    assert ground - middle(aside, "camera")[1] == pytest.approx(1.4 * mm, abs=0.01)
    for number, one in enumerate(FORD.figures, start=1):
        box = dots(shapes(aside, f"figure-{number}")[0])
        assert ground - min(y for _, y in box) == pytest.approx(one.height_m * mm, abs=0.01)
    for number, mark in enumerate(FORD.depths, start=1):
        top, bed = dots(shapes(aside, f"depth-{number}")[0])
        assert (top[1] - ground, bed[1] - top[1]) == pytest.approx((0.1 * mm, mark.depth_m * mm), abs=0.01)


# -- angles --------


@pytest.mark.parametrize(
    ("focal", "across", "high"),
    # Angles of view on 36 × 24 mm, horizontal and vertical, as lens tables print them to a tenth.
    [(24, 73.7, 53.1), (28, 65.5, 46.4), (35, 54.4, 37.8), (50, 39.6, 27.0), (85, 23.9, 16.1), (135, 15.2, 10.2)],
)
def test_field_of_view_against_lens_tables(focal: float, across: float, high: float) -> None:
    assert field_of_view_deg(36.0, focal) == pytest.approx(across, abs=0.05)
    assert field_of_view_deg(24.0, focal) == pytest.approx(high, abs=0.05)
    plan = GroundPlan(camera=CameraPoint(0.0, 0.0, 1.5, focal), figures=(FigurePlace("driver", 1.0, 6.0),))
    for view, angle in (("plan", across), ("elevation", high)):
        (start, one), (again, other) = (dots(shape) for shape in shapes(drawn(plan, view), "view"))
        assert start == again
        assert between(start, one, other) == pytest.approx(angle, abs=0.06)
    assert f"{across:.1f}° across and {high:.1f}° high" in " ".join(in_words(plan))


def test_the_view_lies_evenly_about_the_lens() -> None:
    eye = replace(EYE, bearing_deg=30.0, tilt_deg=-10.0)
    plan = replace(FORD, camera=eye)
    turns = [up_turn(*dots(shape)) for shape in shapes(drawn(plan), "view")]
    half = 54.432 / 2.0  # 2·atan(36 / 70), the figure above to three places
    assert turns == pytest.approx([(30.0 - half) % 360.0, 30.0 + half], abs=0.02)
    down = [90.0 - up_turn(*dots(shape)) for shape in shapes(drawn(plan, "elevation"), "view")]
    assert sum(down) / 2.0 == pytest.approx(-10.0, abs=0.02)


@pytest.mark.parametrize("north", [0.0, 48.0, 90.0, 312.0])
def test_the_north_arrow_and_bearings_from_north(north: float) -> None:
    plan = replace(FORD, north_deg=north)
    above = drawn(plan)
    assert up_turn(*dots(shapes(above, "north")[0])) == pytest.approx(-north % 360.0, abs=0.02)
    shaft = dots(shapes(above, "sun-arrow")[0])
    # The sun of the plan stands at 108°: its arrow runs away from there, 288°, and so less north on paper.
    assert up_turn(*shaft) == pytest.approx((288.0 - north) % 360.0, abs=0.05)
    assert up_turn(*dots(shapes(above, "wind")[0])) == pytest.approx((70.0 - north) % 360.0, abs=0.05)
    assert up_turn(*dots(shapes(above, "drift")[0])) == pytest.approx((70.0 - north) % 360.0, abs=0.05)
    assert f"looks to {round(north) % 360:03d}°" in in_words(plan)[1]


def test_the_sun_comes_from_outside() -> None:
    above = drawn(FORD)
    left, top = dots(shapes(above, "panel")[0])[0]
    right, bottom = dots(shapes(above, "panel")[0])[2]
    for name in ("sun", "made-sun"):
        x, y = middle(above, name)
        assert min(x - left, right - x, y - top, bottom - y) < 3.5
        tail, tip = dots(shapes(above, f"{name}-arrow")[0])
        figures = middle(above, "figure-1")
        assert math.dist(tip, figures) < math.dist(tail, figures) < math.dist((x, y), figures)


@pytest.mark.parametrize("bearing", [336.0, 330.0, 350.0])
def test_a_made_sun_on_the_real_ones_side_is_drawn_beside_it(bearing: float) -> None:
    above = drawn(replace(FORD, sun=Sun(bearing, 20.0)))  # light 5 stands at 336° as seen from its aim
    assert math.dist(middle(above, "sun"), middle(above, "made-sun")) > 5.0


@given(st.floats(5.0, 120.0), st.floats(0.0, 360.0))
@settings(max_examples=20, deadline=None)
def test_a_level_beam_is_as_wide_as_its_angle(beam: float, turn: float) -> None:
    at = (3.0 * math.sin(math.radians(turn)), 3.0 * math.cos(math.radians(turn)), 1.6)
    rig = replace(RIG, lights=(light(1, "head", "key", at, "driver's face", 0.2, beam),))
    above = drawn(GroundPlan(rig=rig))
    (one, corner), (_, other) = (dots(shape) for shape in shapes(above, "beam-1"))
    assert between(corner, one, other) == pytest.approx(beam, abs=0.1)
    aim = middle(above, "point-1")
    assert between(corner, one, aim) == pytest.approx(beam / 2.0, abs=0.1)


def test_a_slanting_beam_looks_wider_from_above_and_true_from_the_side() -> None:
    rig = replace(RIG, lights=(light(1, "head", "key", (0.0, -2.0, 3.6), "driver's face", 0.2, 30),))
    plan = GroundPlan(camera=EYE, rig=rig)
    (one, corner), (_, other) = (dots(shape) for shape in shapes(drawn(plan, "elevation"), "beam-1"))
    assert between(corner, one, other) == pytest.approx(30.0, abs=0.1)  # the light throws along the lens
    (one, corner), (_, other) = (dots(shape) for shape in shapes(drawn(plan), "beam-1"))
    # 45° down: as in a projection along z of rays turned by a rotation matrix about the beam's own upright.
    axis, up = np.array([0.0, 1.0, -1.0]) / math.sqrt(2), np.array([0.0, 1.0, 1.0]) / math.sqrt(2)
    ray = math.cos(math.radians(15)) * axis + math.sin(math.radians(15)) * np.cross(axis, up)
    assert between(corner, one, other) == pytest.approx(2.0 * math.degrees(math.atan2(abs(ray[0]), ray[1])), abs=0.1)


def test_a_light_overhead_lights_a_circle() -> None:
    rig = replace(RIG, lights=(light(1, "dish", "key", (0.0, 0.0, 4.6), "driver's face", 0.5, 40),))
    plan = GroundPlan(rig=rig)
    ring = shapes(drawn(plan), "beam-1")[0]
    wanted = 3.0 * math.tan(math.radians(20)) * 1000.0 / scale_of(plan)
    assert float(ring.get("r", "")) == pytest.approx(wanted, abs=0.01)
    assert "straight 90° down" in " ".join(in_words(plan))


# -- stands and water --------


def test_tip_over_reach() -> None:
    """Height and half the modifier; to the end of a boom, its distance from the foot (3-4-5, by hand)."""
    rig = replace(RIG, lights=(light(1, "dish", "key", (3.0, 0.5, 4.0), "driver's face", 1.0),))
    for stand, metres in (
        (StandPlace(1), 4.5),
        (StandPlace(1, modifier_m=0.4), 4.2),
        (StandPlace(1, x_m=0.0, y_m=0.5, top_m=3.0), 5.5),
        (StandPlace(1, x_m=2.9, y_m=0.5, top_m=3.0, counter_m=8.0), math.sqrt(73.0)),
    ):
        plan = GroundPlan(rig=rig, stands=(stand,))
        assert reach_m(plan, stand) == pytest.approx(metres, abs=1e-9)
        ring = shapes(drawn(plan), "reach-1")[0]
        assert float(ring.get("r", "")) == pytest.approx(metres * 1000.0 / scale_of(plan), abs=0.01)
        assert f"1: tip-over reach {metres:.1f} m" in ground_plan(plan)


def test_which_stands_reach_the_water() -> None:
    said = {
        n: next(line for line in in_words(FORD) if line.startswith(f"The stand of light {n} ")) for n in range(1, 6)
    }
    assert "It stands in the water" in said[1]
    assert "the waterline is within it, 1.6" in said[2]
    assert "It stands in the water" in said[5]
    assert in_water(FORD, (0.0, 0.0))
    assert not in_water(FORD, (0.0, -5.0))
    assert water_gap_m(FORD, (-3.0, -5.2)) == pytest.approx(3.0, abs=0.2)
    level = replace(FORD, waterline=Waterline("noon", y_m=-2.0))
    assert water_gap_m(level, (7.0, -5.0)) == 3.0
    assert in_water(level, (7.0, 1.0))
    assert not in_water(level, (7.0, -5.0))
    assert not in_water(replace(FORD, depths=()), (0.0, 0.0))
    assert any("licensed, competent people decide" in line for line in in_words(FORD))
    assert not re.search(r"\bsafe\b", ground_plan(FORD))


def test_a_waterline_right_across() -> None:
    plan = replace(FORD, waterline=Waterline("noon", y_m=-2.0))
    above, mm = drawn(plan), 1000.0 / scale_of(plan)
    (left, y), (right, again) = dots(shapes(above, "waterline")[0])
    assert y == again
    assert right - left > 179.0
    assert middle(above, "camera")[1] - y == pytest.approx(7.0 * mm, abs=0.01)


# -- words --------


def test_everything_is_in_the_words() -> None:
    said = " ".join(in_words(FORD))
    for line in FORD.placings:
        assert f"Light {line.light} " in said
        assert f"{line.distance_m:.2f} m away" in said
        assert f"{line.height_m:.2f} m high" in said
        assert f"{round(abs(line.tilt_deg))}° down" in said
        assert line.bearing_deg is not None
        assert f"{round(line.bearing_deg + 312) % 360:03d}°" in said
        assert line.unit in said
    names = [one.name for one in (*FORD.figures, *RIG.points)] + ["At A,", "At B,", "At C,"]
    facts = (
        "54.4° across", "37.8° high", "beam of 40°", "beam of 90°", "tip-over reach", "waterline at 06:52",
        "0.25 m deep", "108°, 2° high", "made sun is light 5", "Wind from 250°, 3 m/s", "drifts 4.0 m", "exit runs",
        "312° from true north",
    )  # fmt: skip
    assert [one for one in (*names, *facts) if one not in said] == []
    root = drawn(FORD, "")
    assert (root[0].tag, root[0].text) == (f"{SVG}title", FORD.title)
    assert (root[1].tag, root[1].text) == (f"{SVG}desc", said)
    assert root.get("role") == "img"


def test_bearings_in_words_by_hand() -> None:
    """Light 2 is 2.6 m right of its aim, 4.6 m before it, 0.8 m above (a calculator's tangents)."""
    said = next(line for line in in_words(FORD) if line.startswith("Light 2 "))
    assert "turned to 283°, 9° down" in said  # atan(−2.6 / 4.6) = −29.5°, and 312°; atan(0.8 / 5.284) = 8.6°
    assert "5.34 m away" in said  # √(2.6² + 4.6² + 0.8²)


def test_a_sun_below_the_horizon_says_so() -> None:
    low = replace(FORD, sun=Sun(96.0, -4.0))
    assert "4° below the horizon" in ground_plan(low).split("</desc>")[1]
    assert "96°, 4° below the horizon" in " ".join(in_words(low))


def test_the_key_names_what_is_drawn_and_nothing_else() -> None:
    whole = ground_plan(FORD).split("</desc>")[1]
    bare = ground_plan(GroundPlan(camera=EYE)).split("</desc>")[1]
    for said in (
        "edges of a beam",
        "boom",
        "waterline",
        "smoke is made here",
        "real sun",
        "made sun",
        "exit",
        "figure",
    ):
        assert said in whole
        assert said not in bare
    for text in (whole, bare):
        assert "Plain shapes; see the key." in text
        assert "no symbol standard" in text
    assert "tip-over reach" not in bare
    assert "North is not given" in bare


def test_no_colour_script_or_reference() -> None:
    whole = ground_plan(FORD)
    shades = set(re.findall(r"#[0-9a-fA-F]{3,8}", whole))
    assert shades
    assert all(len({one[1:3], one[3:5], one[5:7]}) == 1 for one in shades)
    assert set(re.findall(r'(?:fill|stroke)="([^"]*)"', whole)) <= shades | {"none"}
    assert not re.search(r"script|href|url\(|@import|<image|<use|<style| style=", whole)
    assert re.findall(r"https?://[^\"]+", whole) == ["http://www.w3.org/2000/svg"]


def test_line_patterns_differ() -> None:
    """Without colour a line is known by its weight and dashes."""
    patterns = {}
    for name in ("view", "beam-2", "waterline", "exit", "reach-2", "drift", "boom-1"):
        shape = shapes(drawn(FORD), name)[0]
        patterns[name] = (shape.get("stroke-dasharray"), shape.get("stroke-width"))
    assert len(set(patterns.values())) == len(patterns)


HOSTILE = "<script>alert('1')</script> &amp; \" ]]> \x00\x07\ud800\ufffe\u202e{{x}}"


def test_hostile_words_stay_words() -> None:
    rig = replace(
        RIG,
        points=(Point(HOSTILE, 0.0, 0.0, 1.6),),
        lights=(light(1, HOSTILE, "key", (1.0, 1.0, 3.0), HOSTILE),),
    )
    plan = GroundPlan(
        title=HOSTILE,
        at=HOSTILE,
        rig=rig,
        figures=(FigurePlace(HOSTILE, 2.0, 2.0), FigurePlace("x" * 5_000, 3.0, 3.0)),
        waterline=Waterline(HOSTILE, y_m=0.0),
        depths=(DepthMark(HOSTILE, 0.0, 1.0, 0.3),),
    )
    whole = ground_plan(plan)
    root = ElementTree.fromstring(whole.encode())
    assert {one.tag.removeprefix(SVG) for one in root.iter()} <= set("svg title desc rect g path circle text".split())
    assert "&lt;script&gt;" in whole
    assert not re.search(r"[\x00-\x08\ud800-\udfff\ufffe\u202e]", whole)
    assert max(len(one.text or "") for one in root.iter(f"{SVG}text")) < 140
    assert max(len(one) for one in in_words(plan)) < 500


# -- labels --------


def faces(size: float, text: str, italic: bool) -> tuple[float, float, float]:
    """Width, height over and under the baseline of words in DejaVu Serif, from matplotlib's copy of its file [mm]."""
    name = "DejaVuSerif-Italic.ttf" if italic else "DejaVuSerif.ttf"
    font = ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts/ttf" / name), 1000)
    left, top, right, bottom = font.getbbox(text, anchor="ls")
    return max(right - min(left, 0), font.getlength(text)) * size / 1000, -top * size / 1000, bottom * size / 1000


def boxes(root: ElementTree.Element) -> list[tuple[str, float, float, float, float]]:
    found = []
    for one in root.iter(f"{SVG}text"):
        size, x, y = (float(one.get(k, "")) for k in ("font-size", "x", "y"))
        wide, over, under = faces(size, one.text or "", one.get("font-style") == "italic")
        x -= wide if one.get("text-anchor") == "end" else 0.0
        found.append((one.text or "", x, y - over, x + wide, y + under))
    return found


@pytest.mark.parametrize(
    ("plan", "size"),
    [
        (FORD, (180.0, 267.0)),
        (FORD, (168.0, 240.0)),
        (replace(FORD, sun=Sun(340.0, -3.0), camera=replace(EYE, bearing_deg=20.0)), (180.0, 267.0)),
        (replace(FORD, title="The ford " * 30, at="at first light " * 9, smoke=None, stands=()), (180.0, 267.0)),
        (GroundPlan(camera=EYE), (160.0, 200.0)),
    ],
)
def test_no_two_labels_overlap(plan: GroundPlan, size: tuple[float, float]) -> None:
    root = ElementTree.fromstring(ground_plan(plan, width_mm=size[0], height_mm=size[1]))
    found = boxes(root)
    hit = [
        (one[0], other[0])
        for one, other in combinations(found, 2)
        if min(one[3], other[3]) - max(one[1], other[1]) > 0 and min(one[4], other[4]) - max(one[2], other[2]) > 0
    ]
    assert hit == []
    high = float(root.get("height", "").removesuffix("mm"))
    assert high <= size[1]
    assert [one[0] for one in found if one[1] < 0 or one[2] < 0 or one[3] > size[0] or one[4] > high] == []


def test_labels_lie_off_the_symbols() -> None:
    above = drawn(FORD)
    marks = [middle(above, name) for name in ("camera", "smoke", *(f"light-{n}" for n in range(1, 6)))]
    for said, left, top, right, bottom in boxes(drawn(FORD, "")):
        assert [at for at in marks if left < at[0] < right and top < at[1] < bottom] == [], said


@pytest.mark.parametrize("text", ["driver's face", "4: tip-over reach 12.1 m", "WOMEN @ 100 %", "Ålesund, ½ m – “A”"])
def test_room_kept_for_words_holds_them_in_a_wide_face(text: str) -> None:
    wide, *_ = faces(2.55, text, italic=False)
    assert wide <= width_mm(text) <= 1.15 * wide


def test_a_label_takes_the_first_free_side_then_a_leader() -> None:
    sheet = Sheet(100.0, 100.0)
    label = Label(((50.0, 50.0),), ("word",), (0.0, 0.0, 100.0, 100.0))
    right, left, above, below = (sheet.label(label) for _ in range(4))
    assert right[0] > 50.0 > left[2]  # what lies slantwise would touch the first
    assert above[3] < 50.0 < below[1]
    assert "leader" not in sheet.written("", "")
    led = sheet.label(label)
    assert "leader" in sheet.written("", "")
    assert all(overlap(one, other) == 0.0 for one, other in combinations((right, left, above, below, led), 2))


@given(*[st.floats(-50, 150)] * 4)
def test_a_clipped_line_lies_in_its_box_and_on_itself(x: float, y: float, u: float, v: float) -> None:
    part = clip((x, y), (u, v), (0.0, 0.0, 100.0, 100.0))
    steps = [(x + t * (u - x), y + t * (v - y)) for t in np.linspace(0, 1, 101)]
    inside = [dot for dot in steps if all(0.01 < n < 99.99 for n in dot)]
    assert part is not None or not inside
    for dot in part or ():
        assert all(-1e-6 <= n <= 100 + 1e-6 for n in dot)
        assert abs((dot[0] - x) * (v - y) - (dot[1] - y) * (u - x)) < 1e-6 * (1 + math.dist((x, y), (u, v)))


# -- printing --------


def test_typst_sets_it_true_to_scale(tmp_path: Path) -> None:
    """The page's own setter takes it, with its words, at its size: pdfium reads back where the words lie."""
    import pypdfium2

    (tmp_path / "plan.svg").write_text(ground_plan(FORD), encoding="utf-8")
    (tmp_path / "page.typ").write_text('#set page(width: 180mm, height: auto, margin: 0mm)\n#image("plan.svg")')
    pdf = typst.compile(str(tmp_path / "page.typ"), ignore_system_fonts=True)
    page = pypdfium2.PdfDocument(pdf)[0]
    wide, high = (side * 25.4 / 72.0 for side in page.get_size())
    root = drawn(FORD, "")
    assert (wide, high) == pytest.approx((180.0, float(root.get("height", "").removesuffix("mm"))), abs=0.05)
    assert high <= 267.0  # A4 between margins of 15 mm
    words_set = page.get_textpage().get_text_range()
    for said in ("The ford at first light", "tip-over reach", "54.4° across", "driver", "About 1:"):
        assert said in words_set
    found = page.get_textpage().search("54.4° across")
    start, _count = found.get_next()
    left, _bottom, _right, _top = page.get_textpage().get_charbox(start)
    wanted = next(float(t.get("x", "")) for t in root.iter(f"{SVG}text") if t.text == "54.4° across")
    assert left * 25.4 / 72.0 == pytest.approx(wanted, abs=0.4)


# -- refusing --------


def rig_of(count: int) -> Rig:
    lights = tuple(light(n, "head", "fill", (n * 0.5, 3.0, 2.0), "driver's face") for n in range(1, count + 1))
    return replace(RIG, lights=lights)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: GroundPlan(), "plan"),
        (lambda: GroundPlan(rig=Rig((), (), RIG.camera)), "plan"),
        (lambda: replace(EYE, x_m=math.nan), "camera: x_m"),
        (lambda: replace(EYE, focal_mm=0.0), "camera: focal_mm"),
        (lambda: replace(EYE, sensor_mm=(36.0, -1.0)), "camera: sensor_mm"),
        (lambda: FigurePlace("driver", 0.0, math.inf), "driver: y_m"),
        (lambda: FigurePlace(" ", 0.0, 0.0), "figure: name"),
        (lambda: FigurePlace("driver", 0.0, 0.0, wide_m=1e8), "driver: wide_m"),
        (lambda: DepthMark("A", 0.0, 0.0, -0.2), "A: depth_m"),
        (lambda: Waterline("noon", ((0.0, 0.0),)), "waterline: spots"),
        (lambda: Waterline("noon", ((0.0, 0.0), (1.0, math.nan))), "waterline: spots"),
        (lambda: Waterline("noon", ((0.0, 0.0), (1.0, 1.0)), y_m=2.0), "waterline: spots"),
        (lambda: Sun(90.0, 91.0), "sun: altitude_deg"),
        (lambda: Wind(math.nan), "wind: from_deg"),
        (lambda: Smoke(0.0, 0.0, -1.0), "smoke: drift_m"),
        (lambda: StandPlace(1, feet=2), "stand of light 1: feet"),
        (lambda: StandPlace(1, x_m=2.0), "stand of light 1: y_m"),
        (lambda: replace(FORD, north_deg=None), "north_deg"),
        (lambda: replace(FORD, north_deg=math.nan), "north_deg"),
        (lambda: replace(FORD, made_sun=9), "light"),
        (lambda: replace(FORD, stands=(StandPlace(9),)), "light"),
        (lambda: replace(FORD, stands=(StandPlace(1), StandPlace(1))), "stands"),
        (lambda: GroundPlan(camera=EYE, made_sun=1), "rig"),
        (lambda: replace(FORD, exit_route=((0.0, 0.0),)), "exit_route"),
        (lambda: replace(FORD, exit_route=((0.0, 0.0),) * 501), "exit_route"),
        (lambda: replace(FORD, figures=(FigurePlace("boat", 0.0, 492.0),)), "boat"),
        (lambda: replace(FORD, waterline=Waterline("noon", y_m=-600.0)), "waterline"),
        (lambda: replace(FORD, rig=rig_of(61), stands=(), made_sun=None), "lights"),
        (lambda: ground_plan(FORD, width_mm=20.0), "width_mm"),
        (lambda: ground_plan(FORD, height_mm=2_000.0), "height_mm"),
    ],
)
def test_what_cannot_be_drawn_is_refused(make: Callable[[], object], field: str) -> None:
    with pytest.raises(LightingRefused) as caught:
        make()
    assert caught.value.field == field
    assert caught.value.problem.endswith(".")
    assert caught.value.next_step.endswith(".")


def test_sixty_lights_and_five_hundred_metres_still_fit() -> None:
    plan = replace(FORD, rig=rig_of(60), stands=tuple(StandPlace(n) for n in range(1, 61)))
    assert len(shapes(drawn(plan), "light-60")) == 1
    assert "in the words" in ground_plan(plan)
    far = GroundPlan(figures=(FigurePlace("near", 0.0, 0.0), FigurePlace("far", 300.0, 399.0)))
    root = drawn(far, "")
    assert float(root.get("height", "").removesuffix("mm")) <= 267.0
    above = drawn(far)
    apart = math.dist(middle(above, "figure-1"), middle(above, "figure-2")) * scale_of(far) / 1000.0
    assert apart == pytest.approx(math.hypot(300.0, 399.0), rel=1e-4)


coordinate = st.floats(-200.0, 200.0)


@given(
    st.lists(st.tuples(coordinate, coordinate, st.text(min_size=1, max_size=60)), min_size=1, max_size=8),
    st.floats(-720.0, 720.0),
)
@settings(max_examples=25, deadline=None)
def test_any_names_and_places_are_drawn(places: list[tuple[float, float, str]], north: float) -> None:
    figures = tuple(FigurePlace(f"n{name}", x, y) for x, y, name in places if abs(x) + abs(y) < 250)
    plan = GroundPlan(camera=EYE, figures=figures, north_deg=north, sun=Sun(north, 10.0))
    root = ElementTree.fromstring(ground_plan(plan).encode())
    assert float(root.get("height", "").removesuffix("mm")) <= 267.0
    assert len(in_words(plan)) == 3 + len(figures)
    assert all(len(words(one.name, 30)) <= 30 for one in figures)
