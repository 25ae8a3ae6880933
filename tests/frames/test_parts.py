"""A part of a frame against a part of a reference: swatches, values and light whose difference is known."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from refarchive.frames.check import Line, Looked, ReferenceLook
from refarchive.frames.parts import part_lines
from refarchive.looks import colour
from refarchive.looks.changes import with_warmth
from refarchive.looks.warmth import warmth
from refarchive.records.model import Intent, Reference, When, Witness

EARLY = When("1865", "", 2_402_238, 2_402_602)


def other(picture: np.ndarray | None, **more: Any) -> Looked:
    given = {"kind": "image", "title": "R", "source_name": "r.png"} | more
    return Looked.at(ReferenceLook(Reference(id="r1", **given), picture, 0.5, np.arange(50) / 50))


def lines(part: np.ndarray, held: Looked, intent: Intent | None = None) -> dict[str, Line]:
    return {line.measure: line for line in part_lines(part, held, intent or Intent())}


def flat(rgb: tuple[int, int, int], size: int = 40) -> np.ndarray:
    return np.full((size, size, 3), rgb, np.uint8)


def ball(tilt_deg: float, size: int = 120) -> np.ndarray:
    """A Lambertian ball that fills its square, lit from one side, with a tenth of that light all round."""
    y, x = np.mgrid[0:size, 0:size]
    u, v = (x + 0.5) / size * 2 - 1, 1 - (y + 0.5) / size * 2
    z = np.sqrt(np.clip(1 - u * u - v * v, 0, None))
    turn, rise = math.radians(tilt_deg), math.radians(30)
    towards = (math.cos(rise) * math.cos(turn), math.cos(rise) * math.sin(turn), math.sin(rise))
    light = 0.06 + 0.6 * np.clip(u * towards[0] + v * towards[1] + z * towards[2], 0, None)
    light[u * u + v * v > 1] = 0.02
    return np.rint(255 * colour.encoded(np.repeat(light[..., None], 3, axis=2))).astype(np.uint8)


def test_two_swatches_lie_as_far_apart_as_scikit_image_says() -> None:
    red, madder = (150, 60, 50), (160, 72, 58)
    found = lines(flat(red), other(flat(madder)))["swatch"]
    labs = [colour.srgb_to_lab(np.array(rgb, np.uint8)) for rgb in (red, madder)]
    assert found.difference == pytest.approx(float(deltaE_ciede2000(*labs)), abs=6e-4)
    assert found.verdict == ("within" if found.difference <= 5 else "outside")
    assert found.target == [{"hex": "#a0483a", "share": 1.0}]
    assert lines(flat(red), other(flat((40, 120, 60))))["swatch"].verdict == "outside"


def test_values_are_held_against_the_others_with_the_persons_tolerance() -> None:
    """scikit-image gives the L* of both greys; of greys it does not depend on the white point."""
    grey, pale = (float(rgb2lab(np.full((1, 1, 3), value, np.uint8))[0, 0, 0]) for value in (119, 186))
    found = lines(flat((119,) * 3), other(flat((186,) * 3)), Intent(key_tolerance=30))["key"]
    assert found.difference == pytest.approx(grey - pale, abs=0.01)
    assert found.verdict == "within"
    assert lines(flat((119,) * 3), other(flat((186,) * 3)))["key"].verdict == "outside"


@pytest.mark.parametrize(("own", "theirs"), [(30.0, 30.0), (150.0, 120.0), (350.0, 20.0)])
def test_light_on_two_balls_differs_by_the_angle_they_were_lit_at(own: float, theirs: float) -> None:
    found = lines(ball(own), other(ball(theirs)))["light"]
    apart = abs((own - theirs + 180) % 360 - 180)
    assert found.difference == pytest.approx(apart, abs=2.0)
    assert found.verdict == ("within" if apart < 20 else "outside")


def test_what_the_medium_forbids_is_not_compared() -> None:
    held = other(flat((150, 60, 50)), witness=Witness.PHOTOGRAPH, when=EARLY)
    found = lines(flat((150, 60, 50)), held)
    for measure in ("swatch", "key", "contrast"):
        assert (found[measure].target, found[measure].verdict) == (None, "cannot tell")
        assert "before 1883" in found[measure].note


def test_parts_too_small_to_read_say_so() -> None:
    found = lines(flat((150, 60, 50), 2), other(flat((150, 60, 50), 2)))
    assert found["swatch"].verdict == found["light"].verdict == "cannot tell"
    assert "too few" in found["swatch"].note


def test_without_a_picture_there_is_nothing_to_hold_against() -> None:
    assert lines(flat((1, 2, 3)), other(None)) == {}


def test_warmth_of_two_parts_differs_in_mired_and_swatches_have_names() -> None:
    cloth = flat((150, 120, 95))
    own = warmth(cloth)
    assert own.cct_k is not None
    assert own.duv is not None
    found = lines(with_warmth(cloth, own.cct_k, own.duv, 1e6 / (1e6 / own.cct_k + 60)), other(cloth))
    assert found["warmth"].difference == pytest.approx(60, abs=3)  # 8 bits round it
    assert found["warmth"].verdict == "outside"
    assert found["swatch"].note.count("Munsell ") == 2
    grey = lines(cloth, other(flat((120, 120, 120))))["warmth"]
    assert (grey.target, grey.verdict) == (None, "cannot tell")  # of a monochrome picture no colour is compared
