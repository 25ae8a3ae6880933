"""Texts that carry several values, and regions as fragments, give back what went in.

Media fragments: the examples of W3C Media Fragments URI 1.0, section 4.2.2, on a picture of 640 × 480.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.records.fragments import fragment, region_in
from refarchive.records.model import Detail
from refarchive.records.terms import details_in, details_text, joined, parted
from refarchive.sources.sheet import csv_cell, plain_cell

part = st.text(st.sampled_from("ab;\\ '=\n"), min_size=1, max_size=8).filter(lambda text: text == text.strip())
share = st.floats(0.0, 0.5, allow_subnormal=False).filter(lambda value: value == 0 or value > 1e-9)
region = st.tuples(share, share, share.filter(bool), share.filter(bool))


@given(st.lists(part, unique=True, max_size=5))
def test_parts_come_back(parts: list[str]) -> None:
    assert parted(joined(parts)) == tuple(parts)


@given(st.text(st.sampled_from("'=+-@\t a＝\u00a0"), max_size=8) | st.text(max_size=8))
def test_cells_come_back_and_none_is_a_formula(value: str) -> None:
    assert plain_cell(csv_cell(value)) == value
    assert csv_cell(value).lstrip(" \u00a0")[:1] not in tuple("=+-@\t\r\n＝＋－＠")


@given(region, st.integers(1, 50_000), st.integers(1, 50_000))
def test_regions_come_back_to_the_last_digit(one: tuple[float, float, float, float], width: int, height: int) -> None:
    assert region_in(fragment(one), 0, 0) == one
    assert region_in(fragment(one, width, height), width, height) == one


@given(st.lists(st.tuples(region, st.text(st.sampled_from("ab\\n\n\r= "), max_size=8)), max_size=4))
def test_details_come_back_but_for_blanks_at_the_end_of_a_note(marked: list[tuple[object, str]]) -> None:
    details = [Detail("d", "r", one, note) for one, note in marked]  # type: ignore[arg-type]
    found, wrong = details_in(details_text(details))
    assert found == tuple((one, note.rstrip(" ")) for one, note in marked)
    assert wrong == ()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("xywh=160,120,320,240", (0.25, 0.25, 0.5, 0.5)),
        ("xywh=pixel:160,120,320,240", (0.25, 0.25, 0.5, 0.5)),
        ("xywh=percent:25,25,50,50", (0.25, 0.25, 0.5, 0.5)),
        ("xywh=percent:25,25,50", None), ("xywh=em:1,2,3,4", None), ("xywh=640,0,10,10", None), ("t=10,20", None),
        ("xywh=1,2,3,4,5", (1 / 640, 2 / 480, 3 / 640, 4 / 480)), ("xywh=0,0,0,0", None), ("xywh=nan,0,1,1", None),
    ],
)  # fmt: skip
def test_published_forms(text: str, expected: object) -> None:
    assert region_in(text, 640, 480) == (None if expected is None else pytest.approx(expected))
