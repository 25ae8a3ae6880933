"""What would bring a line within is made on the frame and measured again, here by the whole check and not by halves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.frames.check import check_frame
from refarchive.frames.lines import OUTSIDE, WITHIN, Line
from refarchive.frames.remedies import remedy, with_remedies
from refarchive.looks import colour, tone
from refarchive.looks.changes import with_gain, with_shadows, with_shift
from refarchive.records.model import Intent, PaletteColour


@pytest.fixture(scope="module")
def photograph() -> np.ndarray:
    from skimage import data

    return data.coffee()[::2, ::2]


def checked(frame: np.ndarray, intent: Intent) -> dict[str, Line]:
    lines = check_frame(frame_picture=frame, intent=intent, needs=(), notes=(), references=())
    return {line.measure: line for line in lines}


@settings(deadline=None, max_examples=8)
@given(off=st.sampled_from([-2.0, -1.0, -0.4, 0.5, 1.0]))
def test_a_frame_off_by_stops_is_told_to_go_back(photograph: np.ndarray, off: float) -> None:
    own = tone.tone_summary(photograph).median
    intent = Intent(key=own, key_tolerance=1.0)
    wrong = with_gain(photograph, off)
    line = checked(wrong, intent)["key"]
    if line.verdict == WITHIN:
        return
    found = remedy(line, wrong, intent)
    assert found is not None
    assert found.stops is not None
    assert found.stops == pytest.approx(-off, abs=0.25)  # to the edge of the tolerance, not to its middle
    assert checked(with_gain(wrong, found.stops), intent)["key"].verdict == WITHIN


def test_the_key_moves_by_the_amount_that_can_be_computed() -> None:
    """One stop is twice the luminance; CIE L* of an even grey follows from its definition (CIE 15)."""
    grey = np.full((40, 60, 3), 100, np.uint8)
    luminance = float(colour.linear(grey[0, 0])[0])
    expected = 116 * (2 * luminance) ** (1 / 3) - 16
    assert tone.tone_summary(with_gain(grey, 1.0)).median == pytest.approx(expected, abs=0.2)


@pytest.mark.parametrize(("target", "sign"), [(45.0, 1), (85.0, -1)])
def test_contrast_is_brought_within_by_the_shadows_alone(photograph: np.ndarray, target: float, sign: int) -> None:
    lifted = photograph if target < 70 else with_shadows(photograph, 1.5, from_luminance=0.01, to_luminance=0.4)
    intent = Intent(contrast=target, contrast_tolerance=4.0)
    line = checked(lifted, intent)["contrast"]
    assert line.verdict == OUTSIDE
    found = remedy(line, lifted, intent)
    assert found is not None
    if found.shadow_stops is None:
        assert "lights would have to change" in found.sentence
        return
    assert np.sign(found.shadow_stops) == sign
    before = tone.tone_summary(lifted)
    low, high = (float(tone.lightness_to_luminance(v)) for v in (before.p5, before.median))
    after = with_shadows(lifted, found.shadow_stops, from_luminance=low, to_luminance=high)
    assert checked(after, intent)["contrast"].verdict == WITHIN


def test_deep_tones_are_never_lifted_above_the_middle(photograph: np.ndarray) -> None:
    intent = Intent(contrast=1.0, contrast_tolerance=0.5)
    line = checked(photograph, intent)["contrast"]
    found = remedy(line, photograph, intent)
    assert found is not None
    assert found.shadow_stops is None
    assert "lights would have to change" in found.sentence


def test_a_cast_is_told_by_its_shift(photograph: np.ndarray) -> None:
    own = colour.palette(photograph, 8)
    intent = Intent(
        palette=tuple(PaletteColour(h, float(s)) for h, s in zip(own.hexes, own.shares, strict=True)),
        palette_tolerance=3.0,
    )
    cast = with_shift(photograph, (0.0, -2.0, -14.0))
    line = checked(cast, intent)["palette"]
    assert line.verdict == OUTSIDE
    found = remedy(line, cast, intent)
    assert found is not None
    assert found.shift_lab is not None
    assert found.shift_lab[2] > 4 > abs(found.shift_lab[0])
    assert checked(with_shift(cast, found.shift_lab), intent)["palette"].verdict == WITHIN


def test_other_colours_are_no_cast() -> None:
    frame = np.zeros((60, 90, 3), np.uint8)
    frame[:, :45] = (200, 40, 40)
    frame[:, 45:] = (40, 40, 200)
    intent = Intent(palette=(PaletteColour("#30a030", 0.5), PaletteColour("#e0e020", 0.5)), palette_tolerance=5.0)
    found = remedy(checked(frame, intent)["palette"], frame, intent)
    assert found is not None
    assert found.shift_lab is None
    assert "not the cast" in found.sentence


def test_only_lines_outside_get_one_and_figures_stay(photograph: np.ndarray) -> None:
    intent = Intent(key=10.0, contrast=60.0, contrast_tolerance=60.0, light_from="left", light_tilt_deg=180.0)
    checked_ = check_frame(frame_picture=photograph, intent=intent, needs=(), notes=(), references=())
    lines = [replace(line, remedy="") for line in checked_]
    told = with_remedies(lines, photograph, intent)
    assert list(checked_) == list(told)
    assert [line.measure for line in told if line.remedy] == ["key"]
    assert [replace(line, remedy="") for line in told] == list(lines)


@pytest.mark.parametrize("value", [0, 255])
def test_black_and_white_frames_say_what_cannot_be_done(value: int) -> None:
    frame = np.full((30, 40, 3), value, np.uint8)
    intent = Intent(key=50.0, contrast=50.0)
    for line in checked(frame, intent).values():
        found = remedy(line, frame, intent)
        assert found is not None
        assert not found.within or checked(with_gain(frame, found.stops or 0), intent)["key"].verdict == WITHIN
