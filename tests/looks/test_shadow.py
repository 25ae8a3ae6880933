"""Softness of edges and stops between two regions, on steps blurred and light made by known amounts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import convolve1d
from scipy.special import ndtr

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.shadow import ESTIMATE, TEN_TO_NINETY, edge_softness, lit_to_shadow


def edge(sigma: float, angle_deg: float, dark: float = 0.1, bright: float = 0.7, noise: float = 0.01) -> np.ndarray:
    y, x = np.mgrid[0:120, 0:160]
    across = (x - 80) * math.cos(math.radians(angle_deg)) - (y - 60) * math.sin(math.radians(angle_deg))
    picture = dark + (bright - dark) * ndtr(across / sigma)
    return np.clip(picture + np.random.default_rng(0).normal(size=picture.shape) * noise, 0, None)


def test_ten_to_ninety_is_that_of_the_normal_distribution() -> None:
    assert ndtr(TEN_TO_NINETY / 2) - ndtr(-TEN_TO_NINETY / 2) == pytest.approx(0.8, abs=1e-9)


@settings(deadline=None, max_examples=12)
@given(sigma=st.sampled_from([0.5, 2.0, 5.0, 12.0]), angle=st.integers(0, 359))
def test_a_blurred_step_gives_back_its_width(sigma: float, angle: int) -> None:
    found = edge_softness(edge(sigma, angle))
    assert found.width_px == pytest.approx(TEN_TO_NINETY * sigma, rel=0.04, abs=0.1)
    assert found.edge_deg is not None
    assert abs((found.edge_deg - angle + 180) % 360 - 180) < 1
    assert found.stops == pytest.approx(math.log2(7), abs=0.03)


def test_the_penumbra_of_a_disc() -> None:
    """A round source leaves a penumbra whose light follows the area of a circle's segment (geometry of the shadow).

    Its width from first dimming to full shadow is D·b/a (geometric unsharpness); from a tenth to nine tenths it is
    0.687 of that, solved from the area of the segment.
    """
    width = 40.0
    place = np.arange(-20, 21)
    chord = np.sqrt(np.clip(1 - (place / (width / 2)) ** 2, 0, None))
    step = np.repeat((np.arange(200) >= 100).astype(float)[None] * 0.6 + 0.1, 60, axis=0)
    found = edge_softness(convolve1d(step, chord / chord.sum(), axis=1))
    assert found.width_px == pytest.approx(0.687 * width, rel=0.05)


@pytest.mark.parametrize(
    "patch",
    [
        np.full((60, 60), 0.4),
        np.random.default_rng(0).uniform(0, 1, (60, 60)),
        np.where(np.indices((60, 60)).sum(axis=0) > 60, 0.50, 0.47),  # a step too faint to be a shadow's
        np.hypot(*(np.indices((60, 60)) - 30.0)) / 40,  # light in the middle of a pool
        edge(4, 0)[:, 70:76].repeat(2, axis=1),  # only the middle of an edge
    ],
    ids=["even", "noise", "faint", "pool", "one side"],
)
def test_what_is_no_edge_gives_none(patch: np.ndarray) -> None:
    found = edge_softness(patch)
    assert found.width_px is None
    assert found.sentence.startswith("Cannot tell")


def test_an_edge_sharper_than_the_file_says_so() -> None:
    assert edge_softness(edge(0.4, 20)).sentence.startswith("As sharp as this file")


@given(stops=st.floats(0, 6), level=st.floats(0.001, 0.01))
def test_stops_between_two_regions(stops: float, level: float) -> None:
    found = lit_to_shadow(np.full(50, level * 2**stops), np.full((5, 5), level), scene_linear=True)
    assert found.stops == pytest.approx(stops, abs=1e-9)
    assert found.linear
    assert ESTIMATE not in found.sentence


@pytest.mark.parametrize(("key_minus_fill", "stops"), [(0, 1), (1, 1.585), (2, 2.322), (3, 3.170), (4, 4.087)])
def test_key_and_fill_give_the_lit_to_shadow_stops_of_the_handbooks(key_minus_fill: int, stops: float) -> None:
    """(K + F) : F with key and fill metered separately is 2^s + 1, 2:1 to 17:1."""
    fill = 0.02
    found = lit_to_shadow([fill * 2**key_minus_fill + fill], [fill], scene_linear=True)
    assert found.stops == pytest.approx(stops, abs=5e-4)


def test_of_an_ordinary_file_it_is_an_estimate_and_coding_costs_little() -> None:
    lit, shadow = np.full((20, 20, 3), 0.5), np.full((20, 20, 3), 0.5 / 8)
    coded = [np.rint(255 * colour.encoded(p)).astype(np.uint8) for p in (lit, shadow)]
    found = lit_to_shadow(*(colour.linear(p) @ colour.LUMINANCE for p in coded), scene_linear=False)
    assert found.stops == pytest.approx(3, abs=0.03)
    assert found.sentence.endswith(ESTIMATE)


def test_clipped_regions_cannot_tell() -> None:
    fine = np.full(100, 0.2)
    blown = np.where(np.arange(100) < 5, 1.0, 0.6)
    blocked = np.where(np.arange(100) < 5, 0.0, 0.01)
    assert lit_to_shadow(blown, fine, scene_linear=True).stops is None
    assert lit_to_shadow(fine, blocked, scene_linear=False).stops is None
    assert lit_to_shadow(fine, fine, scene_linear=True).stops == 0


def test_bad_input_is_refused() -> None:
    for bad in (np.zeros((0, 4)), np.full((20, 20), np.nan), np.full((20, 20), -1.0), np.zeros((20, 4))):
        with pytest.raises(CannotMeasure):
            edge_softness(bad)
    with pytest.raises(CannotMeasure):
        lit_to_shadow([], [1.0], scene_linear=True)
