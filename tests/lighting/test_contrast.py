"""Reaching an intended contrast: what is proposed, set on the rig, gives it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import LightingRefused
from refarchive.lighting.contrast import to_contrast
from refarchive.lighting.rig import Camera, Light, Point, Rig, reading_at, with_power

FACE = Point("face", 0, 0, 1.6)
KEY = Light(1, "head on a boom", "key", -2, -2, 2.8, "face", 0.5, 45.0, source_m=0.9)
FILL = Light(2, "large softbox", "fill", 2, -3, 2.0, "face", 0.25, 40.0, source_m=1.2)
RIG = Rig((KEY, FILL), (FACE,), Camera(8, 100, 1 / 125, 1 / 200), ambient_ev100=9.0)


@given(
    st.floats(0.2, 5),
    st.floats(1 / 128, 1),
    st.floats(1 / 128, 1),
    st.floats(-2, 12),
    st.floats(1 / 512, 1 / 128),
)
def test_worked_out_again_it_meets_what_was_intended(
    wanted: float, key: float, fill: float, ambient: float, least: float
) -> None:
    of = replace(
        RIG,
        lights=(replace(KEY, power=key, least_power=least), replace(FILL, power=fill, least_power=least)),
        ambient_ev100=ambient,
    )
    found = to_contrast(of, "face", wanted)
    assert {change.light for change in found} == {1, 2}
    for change in found:
        again = reading_at(with_power(of, change.light, change.to_power), "face").lit_to_shadow_stops
        assert again == pytest.approx(change.contrast_stops)
        assert least <= change.to_power <= 1
        assert least <= change.set_power <= 1
        if change.reached:
            assert again == pytest.approx(wanted, abs=1e-6)
            assert change.set_contrast_stops == pytest.approx(wanted, abs=0.06)  # half a tenth of a stop of power
        else:
            assert abs(again - wanted) > 1e-9
            assert change.to_power in (pytest.approx(1), pytest.approx(least))


def test_it_names_light_stops_and_powers() -> None:
    """Key and fill alike at the face, no ambient: 2.322 stops (5 : 1) asks for two stops between them."""
    of = Rig(
        (
            Light(1, "head", "key", 0, -4, 1.6, "face", 0.5, 32),
            Light(2, "head", "fill", 4, 0, 1.6, "face", 0.5, 32),
        ),
        (FACE,),
        RIG.camera,
    )
    down, up = to_contrast(of, "face", math.log2(5))
    assert (down.light, down.reached, down.set_power) == (2, True, pytest.approx(1 / 8))
    assert down.by_stops == pytest.approx(-2)
    assert down.lit_side_stops == pytest.approx(math.log2(5 / 8))
    assert down.sentence == (
        "Light 2 (fill) from 1/2 to 1/8, −2.0 stops: lit to shadow 2.3 stops, the lit side −0.7 stops."
    )
    assert (up.light, up.reached, up.to_power) == (1, False, 1)
    assert up.sentence == ("Light 1 (key) would need more than full: at full lit to shadow is 1.58 stops, not 2.32.")


def test_the_least_power_is_said() -> None:
    """Ambient light alone leaves a shadow that no fill can deepen."""
    bright = replace(RIG, ambient_ev100=13.0)
    fill = next(change for change in to_contrast(bright, "face", 3.0) if change.light == 2)
    assert not fill.reached
    assert fill.to_power == pytest.approx(1 / 128)
    assert "would need less than its least, 1/128" in fill.sentence


def test_several_keys_are_each_tried_alone() -> None:
    second = replace(KEY, number=3, x_m=2, power=0.25)
    of = replace(RIG, lights=(KEY, second, FILL))
    wanted = (reading_at(of, "face").lit_to_shadow_stops or 0) + 0.2
    found = to_contrast(of, "face", wanted)
    assert sorted(change.light for change in found) == [1, 2, 3]
    assert all(change.contrast_stops == pytest.approx(wanted) for change in found if change.reached)
    steps = [abs(change.by_stops) for change in found if change.reached]
    assert steps == sorted(steps)


def test_lights_that_do_not_reach_the_point_and_other_purposes_are_left_alone() -> None:
    away = Point("wall", 0, 20, 1.6)
    beam = Light(3, "gridded head", "key", 5, 0, 1.6, "wall", 0.5, 40.0, beam_deg=10, edge="sharp")
    hair = Light(4, "head", "hair", 0, 3, 2.5, "face", 0.5, 30.0)
    of = replace(RIG, lights=(KEY, FILL, beam, hair), points=(FACE, away))
    assert {change.light for change in to_contrast(of, "face", 2)} == {1, 2}


@pytest.mark.parametrize(
    ("of", "wanted", "field"),
    [
        (RIG, 0, "lit_to_shadow_stops"),
        (RIG, -1, "lit_to_shadow_stops"),
        (RIG, float("nan"), "lit_to_shadow_stops"),
        (replace(RIG, lights=(FILL,)), 2, "point"),
        (replace(RIG, lights=(KEY,), ambient_ev100=None), 2, "point"),
    ],
)
def test_what_has_no_contrast_is_refused(of: Rig, wanted: float, field: str) -> None:
    with pytest.raises(LightingRefused) as refused:
        to_contrast(of, "face", wanted)
    assert refused.value.field == field
    assert refused.value.next_step


def test_an_unknown_point_is_refused() -> None:
    with pytest.raises(LightingRefused, match="Name one of: face"):
        to_contrast(RIG, "nose", 2)
