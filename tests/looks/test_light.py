"""Direction of light on rendered spheres with known light, and on what must not be told.

The spheres are Lambertian with attached shadows, ambient light and noise, at twelve tilts and four elevations; the
limits (2° for the gradient, 3° along the outline) leave room over what the methods reach on such spheres. Sources of
the methods: Pentland 1982; Lee & Rosenfeld 1985; Nillius & Eklundh 2001; Johnson & Farid 2005.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import CannotMeasure
from refarchive.looks import colour, light

TILTS = [t + 3 for t in range(0, 360, 30)]
RADIUS = 0.97


def towards(tilt_deg: float, elevation_deg: float) -> np.ndarray:
    tilt, elevation = math.radians(tilt_deg), math.radians(elevation_deg)
    return np.array([math.cos(elevation) * math.cos(tilt), math.cos(elevation) * math.sin(tilt), math.sin(elevation)])


def sphere(*lights: tuple[float, float, float], size: int = 256, noise: float = 0.02, seed: int = 0):
    """Light of a sphere before a grey ground, and its mask; lights are (tilt, elevation, strength)."""
    y, x = np.mgrid[0:size, 0:size]
    u, v = (x + 0.5) / size * 2 - 1, 1 - (y + 0.5) / size * 2
    inside = u * u + v * v <= RADIUS**2
    normals = np.stack([u, v, np.sqrt(np.clip(RADIUS**2 - u * u - v * v, 0, None))]) / RADIUS
    shaded = sum(k * np.clip(np.tensordot(towards(t, e), normals, 1), 0, None) for t, e, k in lights)
    picture = np.where(inside, 0.1 + shaded, 0.3)
    picture = picture + np.random.default_rng(seed).normal(size=picture.shape) * noise
    return np.clip(picture, 0, None), inside


def by_method(found: light.Direction) -> dict[str, float | None]:
    return {e.method: e.tilt_deg for e in found.estimates}


@pytest.mark.parametrize("elevation", [10, 25, 45, 60])
def test_spheres_give_back_their_light(elevation: int) -> None:
    off: dict[str, list[float]] = {}
    for tilt in TILTS:
        found = light.light_direction(*sphere((tilt, elevation, 1.0), seed=tilt))
        assert found.tilt_deg is not None, found.sentence
        assert found.spread_deg is not None
        assert light.angle_between(found.tilt_deg, tilt) <= 3 * max(found.spread_deg, 0.5)
        for method, answer in by_method(found).items():
            assert answer is not None
            off.setdefault(method, []).append(light.angle_between(answer, tilt))
    assert max(off["mean gradient"]) < 2
    assert max(off["light along the outline"]) < 3
    assert max(off["mean direction of gradients"]) < 3


def test_half_an_outline_still_tells() -> None:
    picture, inside = sphere((100, 30, 1.0))
    inside[140:] = False  # the lower part is hidden by something flat: its edge there is no outline of the thing
    found = light.light_direction(picture, inside)
    outline = by_method(found)["light along the outline"]
    assert outline is not None
    assert light.angle_between(outline, 100) < 26  # the reported worst for such arcs


def test_two_lights_are_told_as_an_average_or_not_at_all() -> None:
    found = light.light_direction(*sphere((20, 45, 1.0), (140, 45, 0.5)))
    sum_of_both = towards(20, 45) + 0.5 * towards(140, 45)
    expected = math.degrees(math.atan2(sum_of_both[1], sum_of_both[0]))
    gradient = by_method(found)["mean gradient"]
    assert gradient is not None
    assert light.angle_between(gradient, expected) < 3
    opposite = light.light_direction(*sphere((0, 10, 1.0), (180, 10, 1.0)))
    assert opposite.tilt_deg is None
    beside = light.light_direction(*sphere((30, 10, 1.0), (190, 10, 0.45)))
    assert beside.tilt_deg is None or (beside.one_light is not None and beside.one_light < light.ONE_LIGHT)


@pytest.mark.parametrize(
    "picture",
    [
        np.full((200, 200), 0.5),
        np.zeros((200, 200)),
        np.random.default_rng(1).uniform(0, 1, (200, 200)),
        np.indices((200, 200)).sum(axis=0) % 2 * 1.0,
    ],
    ids=["grey", "black", "noise", "chequers"],
)
def test_what_has_no_direction_gives_none(picture: np.ndarray) -> None:
    found = light.light_direction(picture, light.ellipse(picture.shape))
    assert found.tilt_deg is None
    assert found.sentence.startswith("Cannot tell")


def test_light_from_the_camera_gives_none() -> None:
    assert light.light_direction(*sphere((0, 89, 1.0))).tilt_deg is None


def test_a_two_coloured_thing_gives_none() -> None:
    picture, inside = sphere((180, 30, 1.0))
    picture[:, 128:] *= 6  # the side away from the light is painted white
    assert light.light_direction(picture, inside).tilt_deg is None


@settings(deadline=None, max_examples=15)
@given(tilt=st.integers(0, 359), elevation=st.integers(10, 60), gain=st.sampled_from([0.001, 0.25, 4.0, 65535.0]))
def test_mirror_flips_it_a_turn_turns_it_and_strength_leaves_it(tilt: int, elevation: int, gain: float) -> None:
    picture, inside = sphere((tilt, elevation, 1.0), size=128)
    plain = light.light_direction(picture, inside)
    mirrored = light.light_direction(picture[:, ::-1], inside[:, ::-1])
    turned = light.light_direction(np.rot90(picture), np.rot90(inside))
    louder = light.light_direction(picture * gain, inside)
    assert plain.tilt_deg is not None
    assert mirrored.tilt_deg is not None
    assert turned.tilt_deg is not None
    assert louder.tilt_deg is not None
    assert light.angle_between(mirrored.tilt_deg, 180 - plain.tilt_deg) < 1.5
    assert light.angle_between(turned.tilt_deg, plain.tilt_deg + 90) < 1.5
    assert light.angle_between(louder.tilt_deg, plain.tilt_deg) < 0.01


def test_without_undoing_the_curve_the_tilt_survives() -> None:
    picture, inside = sphere((250, 25, 0.85), noise=0.005)
    coded = np.rint(255 * colour.encoded(np.clip(picture, 0, 1)))
    straight = light.light_direction(coded / 255.0, inside)
    undone = light.light_direction(colour.linear(np.repeat(coded.astype(np.uint8)[..., None], 3, -1))[..., 0], inside)
    for found in (straight, undone):
        assert found.tilt_deg is not None
        assert light.angle_between(found.tilt_deg, 250) < 3


def test_a_small_thing_in_a_large_frame() -> None:
    picture, inside = sphere((170, 25, 1.0), size=64)
    frame, mask = np.full((900, 1200), 0.02), np.zeros((900, 1200), dtype=bool)
    frame[600:664, 100:164], mask[600:664, 100:164] = picture, inside
    found = light.light_direction(frame, mask)
    assert found.tilt_deg is not None
    assert light.angle_between(found.tilt_deg, 170) < 4
    assert "from the left" in found.sentence


def test_bad_input_is_refused() -> None:
    good, inside = sphere((0, 30, 1.0), size=64)
    for picture, mask in (
        (good, inside[:-1]),
        (good, inside.astype(float)),
        (good[..., None], inside),
        (good - 1, inside),
        (good * np.nan, inside),
        (good, np.zeros_like(inside)),
    ):
        with pytest.raises(CannotMeasure):
            light.light_direction(picture, mask)
