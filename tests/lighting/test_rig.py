"""A rig at its points: against guide numbers worked by hand, against plain vector arithmetic, and what must hold."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import LightingRefused
from refarchive.lighting import exposure
from refarchive.lighting.loadin import Item
from refarchive.lighting.rig import (
    Camera,
    Light,
    LightAtPoint,
    Point,
    Reading,
    Rig,
    kit_list,
    light_at,
    reading_at,
    readings,
    schedule,
    with_power,
)

FACE = Point("face", 0, 0, 1.6)
CAMERA = Camera(8, 100, 1 / 125, 1 / 200)


def light(number: int = 1, **changed: Any) -> Light:
    given: dict[str, Any] = {
        "unit": "head",
        "purpose": "key",
        "x_m": 0,
        "y_m": -4,
        "height_m": 1.6,
        "aimed_at": "face",
        "guide_number_m": 32,
    }
    return Light(number, **(given | changed))


def rig(*lights: Light, points: tuple[Point, ...] = (FACE,), camera: Camera = CAMERA, **more: Any) -> Rig:
    return Rig(lights, points, camera, **more)


def first(of: Rig, name: str = "face") -> LightAtPoint:
    return reading_at(of, name).lights[0]


# -- against published values --------


def test_guide_number_32_at_4_metres_is_f_8() -> None:
    """The worked example of the Open Photographic Society."""
    found = first(rig(light()))
    assert found.f_number == pytest.approx(8)
    assert found.amount == pytest.approx(1)
    assert found.stops == pytest.approx(0)
    assert found.sentence == "Light 1 at face: f/8, 0.0 stops, from 4.00 m."


def test_guide_number_51_at_iso_200_is_102_at_iso_800() -> None:
    """The same source's second example, at 10.2 m: f/10 at ISO 800."""
    far = light(guide_number_m=51 / math.sqrt(2), y_m=-10.2)
    assert first(rig(far, camera=replace(CAMERA, iso=800))).f_number == pytest.approx(10)


@pytest.mark.parametrize(("over", "share"), [(1, 0.8), (2, 0.941176), (5, 0.990099)])
def test_a_large_source_is_a_disc(over: float, share: float) -> None:
    """The view factor of a disc over the inverse square (Howell's catalogue)."""
    source = 4 / over
    point, disc = first(rig(light())), first(rig(light(source_m=source)))
    assert disc.amount / point.amount == pytest.approx(share, abs=1e-6)
    assert disc.near is (over < 5)
    assert ("taken as a disc" in disc.sentence) is disc.near
    assert not point.near


@pytest.mark.parametrize(("slant", "stops"), [(0, 0), (30, -0.2075), (45, -0.5), (60, -1)])
def test_a_face_turned_away_has_the_cosine(slant: float, stops: float) -> None:
    """Lambert's cosine law."""
    turned = replace(FACE, facing_deg=180 + slant)
    found = first(rig(light(), points=(turned,)))
    assert found.slant_deg == pytest.approx(slant)
    assert found.stops == pytest.approx(stops, abs=5e-5)


@pytest.mark.parametrize(
    ("stops", "ratio", "lit"), [(0, 2, 1), (1, 3, 1.585), (2, 5, 2.322), (3, 9, 3.170), (4, 17, 4.087)]
)
def test_ratio_of_a_rig(stops: int, ratio: float, lit: float) -> None:
    """(K + F) : F for a key so many stops above fill, the usual printed table."""
    found = reading_at(rig(light(), light(2, purpose="fill", power=2.0**-stops)), "face")
    assert found.ratio is not None
    assert found.ratio.key_and_fill_to_fill == pytest.approx(ratio)
    assert found.lit_to_shadow_stops == pytest.approx(lit, abs=6e-4)
    assert f"(K + F) : F = {ratio} : 1" in found.sentence


# -- against plain vector arithmetic --------

PLACE = st.tuples(st.floats(-8, 8), st.floats(-8, 8), st.floats(0, 4))


@given(
    PLACE, PLACE, PLACE, st.floats(0, 360), st.floats(-80, 80), st.floats(10, 120), st.sampled_from(["sharp", "cosine"])
)
def test_geometry(
    stands: tuple[float, ...],
    aimed: tuple[float, ...],
    read: tuple[float, ...],
    facing: float,
    up: float,
    beam: float,
    edge: Any,
) -> None:
    a, b, p = (np.array(one) for one in (stands, aimed, read))
    if min(np.linalg.norm(a - b), np.linalg.norm(a - p)) < 0.5:
        return
    one = light(x_m=a[0], y_m=a[1], height_m=a[2], aimed_at="aim", beam_deg=beam, edge=edge, source_m=0.6)
    of = rig(one, points=(Point("aim", *aimed), Point("face", *read, facing, up)))
    found = first(of)
    to, axis = p - a, b - a
    cosine = to @ axis / np.linalg.norm(to) / np.linalg.norm(axis)
    off = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
    normal = np.array(
        [
            np.sin(np.radians(facing)) * np.cos(np.radians(up)),
            np.cos(np.radians(facing)) * np.cos(np.radians(up)),
            np.sin(np.radians(up)),
        ]
    )
    lit = max(0.0, -(to @ normal) / np.linalg.norm(to))
    assert found.distance_m == pytest.approx(np.linalg.norm(to))
    assert found.off_axis_deg == pytest.approx(off, abs=1e-4)
    if edge == "sharp":
        if abs(off - beam / 2) < 1e-3:
            return
        share = 1.0 if off < beam / 2 else 0.0
    else:
        share = np.cos(np.pi * min(off / beam, 1.0) / 2) ** 2  # the half-angle form of (1 + cos)/2
    expected = 32**2 / (to @ to + 0.3**2) * share * lit / 64
    assert found.amount == pytest.approx(expected, rel=1e-4, abs=1e-9)


@pytest.mark.parametrize(
    ("x", "y", "height", "bearing", "tilt"),
    [(0, -4, 1.6, 0, 0), (-4, 0, 1.6, 90, 0), (0, 3, 5.6, 180, -53.1301), (3, 0, 1.6, 270, 0), (-3, -3, 1.6, 45, 0)],
)
def test_bearing_and_tilt(x: float, y: float, height: float, bearing: float, tilt: float) -> None:
    """Clockwise from the plan's y; the third is the triangle of sides 3, 4 and 5."""
    line = schedule(rig(light(x_m=x, y_m=y, height_m=height)))[0]
    assert line.bearing_deg == pytest.approx(bearing)
    assert line.seen_at_deg == pytest.approx((bearing + 180) % 360)
    assert line.tilt_deg == pytest.approx(tilt, abs=1e-4)


def test_straight_overhead_has_no_bearing() -> None:
    line = schedule(rig(light(x_m=0, y_m=0, height_m=4)))[0]
    assert (line.bearing_deg, line.seen_at_deg) == (None, None)
    assert line.tilt_deg == -90
    assert line.distance_m == pytest.approx(2.4)


def test_schedule() -> None:
    of = rig(
        light(source_m=0.9),
        light(2, purpose="hair", y_m=2, power=1 / 8),
        light(3, purpose="fill", reading=Reading(4, 100, "face", 0.5), power=0.25),
        points=(replace(FACE, facing_deg=180),),
    )
    key, hair, fill = schedule(of)
    assert (key.light, key.power, key.near, key.over_key_stops) == (1, "full", True, 0)
    assert hair.power == "1/8"
    # Metered towards the light, so the face's own facing takes nothing from a light behind it.
    assert hair.expected_f_number == pytest.approx(32 / 2 / math.sqrt(8))
    assert hair.over_key_stops == pytest.approx(2 - 3 - math.log2(16 / (16 + 0.45**2)))
    assert fill.expected_f_number == pytest.approx(4 / math.sqrt(2))
    assert fill.reading == Reading(4, 100, "face", 0.5)
    assert schedule(rig(light(purpose="fill")))[0].over_key_stops is None


# -- readings --------


def test_a_reading_stands_in_place_of_the_guide_number_and_the_loss() -> None:
    read = light(reading=Reading(11.3137085, 200, "face", 0.5), modifier_loss_stops=3, power=0.5)
    found = first(rig(read))
    assert found.measured
    assert found.f_number == pytest.approx(8)  # ISO 200 to 100: a stop less
    assert not first(rig(light())).measured


@given(st.floats(0.05, 1), st.floats(1, 10), st.floats(25, 3200), st.floats(0, 1))
def test_a_reading_of_the_computed_value_changes_nothing(
    power: float, distance: float, iso: float, source: float
) -> None:
    """A meter's reading at one point, carried to another and to another power, agrees with what made it."""
    points = (FACE, Point("hand", 0.4, 0.3, 1.0))
    plain = light(y_m=-distance, power=power, source_m=source, beam_deg=90, modifier_loss_stops=1.5)
    at_hand = first(rig(plain, points=points, camera=replace(CAMERA, iso=iso)), "hand")
    read = replace(plain, guide_number_m=None, reading=Reading(at_hand.f_number, iso, "hand", power))
    for name in ("face", "hand"):
        one = first(rig(replace(plain, power=1.0), points=points), name)
        other = first(rig(replace(read, power=1.0), points=points), name)
        assert other.amount == pytest.approx(one.amount)


def test_a_reading_outside_the_beam_is_refused() -> None:
    wide = Point("wall", 6, 0, 1.6)
    with pytest.raises(LightingRefused, match="outside its beam") as refused:
        rig(light(beam_deg=30, reading=Reading(4, 100, "wall", 1)), points=(FACE, wide))
    assert refused.value.field == "light 1: reading at"


# -- what must hold --------


@given(st.floats(2, 30))
def test_twice_the_distance_is_two_stops_far_from_the_source(distance: float) -> None:
    near, far = (first(rig(light(y_m=-d, source_m=0.3))).stops for d in (distance, 2 * distance))
    assert near is not None
    assert far is not None
    assert near - far == pytest.approx(2, abs=0.011)


@given(st.lists(st.tuples(st.floats(0.01, 1), PLACE), min_size=1, max_size=5), st.floats(-3, 12))
def test_lights_add_in_linear_light(given_lights: list[tuple[float, tuple[float, float, float]]], ev: float) -> None:
    lights = tuple(
        light(n, power=power, x_m=x, y_m=y - 20, height_m=h) for n, (power, (x, y, h)) in enumerate(given_lights, 1)
    )
    together = reading_at(rig(*lights, ambient_ev100=ev), "face")
    alone = [reading_at(rig(one), "face").total for one in lights]
    assert together.total == pytest.approx(sum(alone) + together.ambient)
    assert together.f_number**2 == pytest.approx(
        sum(one.f_number**2 for one in together.lights) + 64 * together.ambient
    )
    assert together.stops == pytest.approx(
        exposure.sum_of_stops([*(math.log2(one) for one in alone), math.log2(together.ambient)])
    )


def test_two_equal_lights_are_one_stop_and_four_are_two() -> None:
    for count, stops in ((1, 0), (2, 1), (4, 2)):
        assert reading_at(rig(*(light(n + 1) for n in range(count))), "face").stops == pytest.approx(stops)


@given(st.floats(0.01, 1), st.floats(1, 64), st.floats(25, 3200))
def test_energy_aperture_and_iso_in_stops(power: float, f_number: float, iso: float) -> None:
    stops = first(rig(light(power=power), camera=Camera(f_number, iso, 1 / 125, 1 / 200))).stops
    assert stops == pytest.approx(math.log2(power) + 2 * math.log2(8 / f_number) + math.log2(iso / 100))


def test_modifier_loss_is_in_stops() -> None:
    assert first(rig(light(modifier_loss_stops=1.5))).stops == pytest.approx(-1.5)


def test_ambient_follows_the_shutter_and_flash_does_not() -> None:
    ev = exposure.exposure_value(8, 1 / 125)
    base = reading_at(rig(light(), ambient_ev100=ev), "face")
    longer = reading_at(rig(light(), ambient_ev100=ev, camera=Camera(8, 100, 2 / 125, 1 / 200)), "face")
    assert base.ambient == pytest.approx(1)
    assert base.stops == pytest.approx(1)
    assert longer.ambient == pytest.approx(2)
    assert longer.lights[0].amount == pytest.approx(base.lights[0].amount)


def test_a_point_may_have_its_own_ambient_light() -> None:
    shade = Point("door", 1, 0, 1.6, ambient_ev100=exposure.exposure_value(8, 1 / 125) - 3)
    of = rig(light(), points=(FACE, shade), ambient_ev100=exposure.exposure_value(8, 1 / 125))
    assert [one.ambient for one in readings(of)] == pytest.approx([1, 1 / 8])
    assert [one.point for one in readings(of)] == ["face", "door"]


def test_the_edge_of_a_beam() -> None:
    """Half the light at the beam's edge with a cosine edge, none at twice its angle; all or nothing with a sharp."""
    for off, sharp, cosine in ((0, 1, 1), (14.9, 1, 0.5052), (15.1, 0, 0.4948), (30, 0, 0), (45, 0, 0)):
        across = Point("side", 4 * math.tan(math.radians(off)), 0, 1.6)
        for edge, share in (("sharp", sharp), ("cosine", cosine)):
            one = light(beam_deg=30, edge=edge)
            of = rig(one, points=(FACE, across))
            bare = first(rig(light(), points=(FACE, across)), "side").amount
            found = first(of, "side")
            assert found.amount / bare == pytest.approx(share, abs=1e-4)
            if not share:
                assert (found.stops, found.f_number) == (None, 0)
                assert found.sentence == "side lies outside the beam of light 1."


def test_hair_background_and_effect_light_stay_out_of_the_ratio() -> None:
    plain = reading_at(rig(light(), light(2, purpose="fill", power=0.25)), "face")
    others = [light(n, purpose=p, y_m=3) for n, p in ((3, "hair"), (4, "background"), (5, "effect"))]
    more = reading_at(rig(light(), light(2, purpose="fill", power=0.25), *others), "face")
    assert more.ratio == plain.ratio
    assert more.total > plain.total


@pytest.mark.parametrize(
    ("lights", "words"),
    [
        ((light(),), "Nothing lights its shadow side"),
        ((light(purpose="fill"),), "No key reaches it"),
        ((), "No light reaches face."),
    ],
)
def test_without_key_or_fill_there_is_no_ratio(lights: tuple[Light, ...], words: str) -> None:
    found = reading_at(rig(*lights), "face")
    assert (found.ratio, found.lit_to_shadow_stops) == (None, None)
    assert words in found.sentence


def test_a_light_behind_a_point_gives_it_nothing() -> None:
    found = reading_at(rig(light(purpose="hair", y_m=4), points=(replace(FACE, facing_deg=180),)), "face")
    assert found.stops is None
    assert found.lights[0].sentence == "Light 1 stands behind face and gives it nothing."


def test_minus_signs_of_names_are_left_alone() -> None:
    named = Point("ferry-stage", 0, 0, 1.6)
    of = rig(light(aimed_at="ferry-stage", power=0.5), points=(named,))
    assert "ferry-stage: f/5.6, −1.0 stops" in reading_at(of, "ferry-stage").sentence


def test_kit_of_a_rig() -> None:
    head, bag = Item("head", 3.0), Item("sandbag", 10.0, 2)
    found = kit_list(rig(light(kit=(head, bag)), light(2, kit=(head,))), [Item("sandbag", 10.0), Item("rope", 1.5)])
    assert found == (Item("head", 3.0, 2), Item("sandbag", 10.0, 3), Item("rope", 1.5))


def test_with_power() -> None:
    of = with_power(rig(light(), light(2)), 2, 0.25)
    assert [one.power for one in of.lights] == [1, 0.25]


# -- what is refused --------


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: light(power=-0.5), "light 1: power"),
        (lambda: light(power=0), "light 1: power"),
        (lambda: light(power=1.5), "light 1: power"),
        (lambda: light(power=1 / 256), "light 1: power"),
        (lambda: light(least_power=0), "light 1: least_power"),
        (lambda: light(power=float("nan")), "light 1: power"),
        (lambda: light(x_m="left"), "light 1: x_m"),
        (lambda: light(height_m=math.inf), "light 1: height_m"),
        (lambda: light(guide_number_m=0), "light 1: guide_number_m"),
        (lambda: light(guide_number_m=None), "light 1: guide_number_m"),
        (lambda: light(modifier_loss_stops=-1), "light 1: modifier_loss_stops"),
        (lambda: light(source_m=-1), "light 1: source_m"),
        (lambda: light(beam_deg=0), "light 1: beam_deg"),
        (lambda: light(beam_deg=400), "light 1: beam_deg"),
        (lambda: light(edge="soft"), "light 1: edge"),
        (lambda: light(purpose="rim"), "light 1: purpose"),
        (lambda: light(0), "light number"),
        (lambda: light(1.5), "light number"),  # type: ignore[arg-type]
        (lambda: light(reading=Reading(0, 100, "face", 1)), "light 1: reading f_number"),
        (lambda: light(reading=Reading(8, 0, "face", 1)), "light 1: reading iso"),
        (lambda: light(reading=Reading(8, 100, "face", 0)), "light 1: reading power"),
        (lambda: Point(" ", 0, 0, 0), "name"),
        (lambda: Point("face", float("nan"), 0, 0), "face: x_m"),
        (lambda: Point("face", 0, 0, 0, 0, 91), "face: facing_up_deg"),
        (lambda: Point("face", 0, 0, 0, float("nan")), "face: facing_deg"),
        (lambda: Point("face", 0, 0, 0, ambient_ev100=99), "face: ambient_ev100"),
        (lambda: Camera(0, 100, 1 / 125, 1 / 200), "f_number"),
        (lambda: Camera(8, 0, 1 / 125, 1 / 200), "iso"),
        (lambda: Camera(8, 100, 0, 1 / 200), "shutter_s"),
        (lambda: Camera(8, 100, 1 / 500, 1 / 200), "shutter_s"),
        (lambda: rig(light(), ambient_ev100=float("nan")), "ambient_ev100"),
        (lambda: rig(light(), light()), "light"),
        (lambda: rig(light(), points=(FACE, FACE)), "point"),
        (lambda: rig(light(aimed_at="wall")), "light 1: aimed_at"),
        (lambda: rig(light(reading=Reading(8, 100, "wall", 1))), "light 1: reading at"),
        (lambda: rig(light(y_m=0)), "light 1: position"),
        (lambda: rig(light(y_m=-0.4, source_m=0.9)), "light 1: position"),
        (lambda: reading_at(rig(light(), points=(FACE, Point("cap", 0, -4, 1.7)), camera=CAMERA), "nose"), "point"),
        (
            lambda: reading_at(rig(light(source_m=0.9), points=(FACE, Point("cap", 0, -4, 1.8))), "cap"),
            "light 1: position",
        ),
        (lambda: with_power(rig(light()), 9, 0.5), "light"),
        (lambda: with_power(rig(light()), 1, 2), "light 1: power"),
        (lambda: light_at(rig(light()), light(), Point("lens", 0, -4, 1.6)), "light 1: position"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(LightingRefused) as refused:
        call()
    assert refused.value.field == field
    assert refused.value.next_step
