"""Sizes on paper, against the standard's table and the geometry of sight."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import CannotPrint
from refarchive.paper.print_sizes import (
    ARM_MM,
    COUNTS,
    READING_MM,
    Margins,
    fineness,
    iso_a_mm,
    layout,
    merging_mm,
    needed_ppi,
    sheet_mm,
)

# ISO 216:2007, table 1: trimmed sizes of the A series, in millimetres.
ISO_216 = (
    (841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210), (105, 148), (74, 105), (52, 74), (37, 52),
    (26, 37),
)  # fmt: skip


def test_the_rule_gives_the_table_of_iso_216() -> None:
    assert tuple(iso_a_mm(n) for n in range(11)) == ISO_216
    assert sheet_mm(" a4 ") == (210, 297)


@pytest.mark.parametrize("number", [-1, 11, True, 4.0, "4"])
def test_sheets_that_are_none_are_refused(number: object) -> None:
    with pytest.raises(CannotPrint, match="no sheet"):
        iso_a_mm(number)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["Letter", "A11", "B4", "", "A4" * 100, "A-1"])
def test_names_of_other_sheets_are_refused(name: str) -> None:
    with pytest.raises(CannotPrint, match="series A"):
        sheet_mm(name)


def test_one_picture_fills_the_sheet_as_far_as_its_proportions_let_it() -> None:
    # By hand: margins of 10 mm leave 277 × 190 mm on a lying A4; 3:2 fits 277 × 184.667 mm.
    found = layout(1, [1.5])
    assert found.landscape
    assert found.pictures[0][2:] == pytest.approx((277.0, 184.667), abs=5e-4)
    upright = layout(1, [2 / 3])
    assert not upright.landscape
    assert upright.pictures[0][2:] == pytest.approx((184.667, 277.0), abs=5e-4)


def test_two_lying_pictures_take_an_upright_sheet_and_two_upright_ones_a_lying_sheet() -> None:
    stacked = layout(2, [1.5, 1.5])
    assert not stacked.landscape
    assert stacked.pictures[0][1] < stacked.pictures[1][1]
    beside = layout(2, [2 / 3, 2 / 3])
    assert beside.landscape
    assert beside.pictures[0][0] < beside.pictures[1][0]
    assert beside.pictures[0][1] == beside.pictures[1][1]


def test_four_wide_pictures_stand_under_each_other() -> None:
    found = layout(4, [5.0] * 4)
    assert len({box[0] for box in found.pictures}) == 1
    # 190 mm wide on an upright sheet, 38 mm high; or 277 mm on a lying one, 43 mm at most high: 214.
    assert found.pictures[0][2] == pytest.approx(min(277.0, (190.0 - 18.0) / 4.0 * 5.0))


def test_words_of_one_row_stand_on_one_line() -> None:
    found = layout(2, [2 / 3, 1.0], caption_mm=8.0)
    assert found.landscape
    assert found.captions[0][1] == found.captions[1][1]
    for box, caption in zip(found.pictures, found.captions, strict=True):
        assert box[1] + box[3] == pytest.approx(caption[1])


shapes = st.floats(0.3, 3.5)
millimetres = st.floats(0.0, 20.0)


@given(st.data(), st.sampled_from(COUNTS), st.sampled_from(["A3", "A4", "A5"]), millimetres, millimetres, millimetres)
def test_pictures_are_whole_within_the_margins_and_apart(
    data: st.DataObject, count: int, sheet: str, margin: float, caption: float, foot: float
) -> None:
    aspects = data.draw(st.lists(shapes, min_size=1, max_size=count))
    found = layout(count, aspects, sheet, Margins(*(margin,) * 4), caption_mm=caption, foot_mm=foot)
    assert {found.width_mm, found.height_mm} == set(map(float, sheet_mm(sheet)))
    assert len(found.pictures) == len(found.captions) == len(aspects)
    blocks = []
    for aspect, (x, y, wide, tall), under in zip(aspects, found.pictures, found.captions, strict=True):
        assert wide / tall == pytest.approx(aspect)
        assert margin - 1e-6 <= x
        assert x + wide <= found.width_mm - margin + 1e-6
        assert margin - 1e-6 <= y
        assert y + tall + under[3] <= found.foot[1] + 1e-6
        blocks.append((x, y, wide, tall + under[3]))
    assert found.foot[1] + found.foot[3] == pytest.approx(found.height_mm - margin)
    for n, one in enumerate(blocks):
        for other in blocks[n + 1 :]:
            beside = one[0] + one[2] <= other[0] + 1e-6 or other[0] + other[2] <= one[0] + 1e-6
            assert beside or one[1] + one[3] <= other[1] + 1e-6 or other[1] + other[3] <= one[1] + 1e-6


@pytest.mark.parametrize(
    ("count", "aspects", "more"),
    [
        (3, [1.5], {}),
        (True, [1.5], {}),
        (1, [], {}),
        (2, [1.5] * 3, {}),
        (1, [0.0], {}),
        (1, [math.nan], {}),
        (1, [math.inf], {}),
        (1, ["1.5"], {}),
        (1, [10**400], {}),
        (1, [1.5], {"margins": Margins(left=-1.0)}),
        (1, [1.5], {"margins": Margins(top=80.0)}),
        (1, [1.5], {"caption_mm": -1.0}),
        (4, [20.0] * 4, {"sheet": "A8"}),
        (1, [1.5], {"sheet": "letter"}),
    ],
)
def test_what_cannot_be_laid_out_is_refused(count: int, aspects: list[float], more: dict[str, object]) -> None:
    with pytest.raises(CannotPrint) as caught:
        layout(count, aspects, **more)  # type: ignore[arg-type]
    assert caught.value.next_step.startswith(("Give", "Take"))


@pytest.mark.parametrize(
    ("distance_mm", "ppi"), [(250.0, 349.275), (300.0, 291.063), (500.0, 174.638), (1000.0, 87.319)]
)
def test_fineness_needed_is_that_of_one_minute_of_arc(distance_mm: float, ppi: float) -> None:
    # Worked outside the project from 25.4 / (2 d tan(1/120°)). One minute as the gap that an acuity of 1.0 resolves is
    # ISO 8596's, from memory.
    assert needed_ppi(distance_mm) == pytest.approx(ppi, abs=5e-4)
    assert merging_mm(ppi) == pytest.approx(distance_mm, abs=5e-3)
    pixel = 25.4 / ppi
    assert math.degrees(2.0 * math.atan(pixel / 2.0 / distance_mm)) * 60.0 == pytest.approx(1.0, abs=1e-5)


def test_what_one_would_see_is_told_before_printing() -> None:
    # A4 at 300 pixels per inch is 2480.31 × 3507.87 pixels (210 and 297 mm over 25.4, times 300).
    fine = fineness(3508, 2480, 297.0, 210.0)
    assert fine.ppi == pytest.approx(300.0, abs=0.05)
    assert not fine.enlarged
    assert fine.sentence == "300 pixels per inch. In the hand (300 mm away) a good eye sees no single pixels."
    middling = fineness(2000, 1333, 254.0, 169.3)
    assert middling.ppi == pytest.approx(200.0, abs=0.1)
    assert middling.enlarged
    assert "in the hand (300 mm) fine detail looks softer" in middling.sentence
    assert middling.sentence.endswith("up to 175 × 116 mm it would not be.")
    coarse = fineness(800, 533, 277.0, 184.6)
    assert "even at arm's length" in coarse.sentence
    assert "from 1.2 m" in coarse.sentence  # 25.4 / (2 · 73.36 · tan(1/120°)) = 1190 mm


def test_the_coarser_side_decides() -> None:
    assert fineness(1000, 300, 100.0, 60.0).ppi == pytest.approx(300 / 60 * 25.4)


def test_distances_of_looking_are_those_stated() -> None:
    assert (READING_MM, ARM_MM) == (300.0, 500.0)


@pytest.mark.parametrize("sizes", [(0, 10, 10.0, 10.0), (10, 10, 0.0, 10.0), (10, 10, math.nan, 10.0)])
def test_sizes_that_cannot_be_are_refused(sizes: tuple[int, int, float, float]) -> None:
    with pytest.raises(CannotPrint, match="cannot be"):
        fineness(*sizes)
    with pytest.raises(CannotPrint):
        needed_ppi(0.0)
    with pytest.raises(CannotPrint):
        merging_mm(math.inf)
