"""What a picture rests on, by region: the record's proposals, the person's words, areas against a raster."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import RecordRefused
from refarchive.publish.statement import (
    OF_THE_TIME_DAYS,
    as_plain,
    draft_statement,
    gap_days,
    proposed_standing,
    shared_area,
    union_area,
)
from refarchive.records.dates import read_date
from refarchive.records.firsts import First
from refarchive.records.model import Answer, Family, FamilyMember, Need, Region, Witness
from refarchive.records.wall import STANDINGS, Part
from refarchive.scenes.anachronism import BY_NAME, Asked, Question, Standing
from refarchive.scenes.coverage import coverage

SIDE = 64  # of the raster, a power of two, so that every edge on it is exact in binary


@st.composite
def regions(draw: st.DrawFn) -> Region:
    left, right = sorted(draw(st.lists(st.integers(0, SIDE), min_size=2, max_size=2, unique=True)))
    top, bottom = sorted(draw(st.lists(st.integers(0, SIDE), min_size=2, max_size=2, unique=True)))
    return left / SIDE, top / SIDE, (right - left) / SIDE, (bottom - top) / SIDE


def raster(region: Region) -> Any:
    x, y, w, h = (round(v * SIDE) for v in region)
    mask = np.zeros((SIDE, SIDE), bool)
    mask[y : y + h, x : x + w] = True
    return mask


# --- areas, against counted pixels ------------------------------------------------------------------------------------


@settings(max_examples=150)
@given(st.lists(regions(), max_size=9))
def test_a_union_is_what_counting_pixels_gives(boxes: list[Region]) -> None:
    counted = np.zeros((SIDE, SIDE), bool)
    for box in boxes:
        counted |= raster(box)
    assert union_area(boxes) == counted.sum() / SIDE**2


@settings(max_examples=80)
@given(st.lists(st.tuples(regions(), st.sampled_from(STANDINGS)), max_size=7))
def test_what_lies_under_two_words_is_what_counting_pixels_gives(
    marks: list[tuple[Region, str]],
) -> None:
    from refarchive.publish.statement import _contested, _marked

    marked = [_marked(n, Part("p", region, word), {}) for n, (region, word) in enumerate(marks, 1)]
    words = np.stack([np.zeros((SIDE, SIDE), bool)] * 4)
    for region, word in marks:
        words[STANDINGS.index(word)] |= raster(region)
    assert _contested(marked) == (words.sum(0) > 1).sum() / SIDE**2


@given(regions(), regions())
def test_shared_areas_keep_inclusion_and_exclusion(one: Region, other: Region) -> None:
    assert shared_area(one, other) == (raster(one) & raster(other)).sum() / SIDE**2
    assert union_area([one, other]) == union_area([one]) + union_area([other]) - shared_area(one, other)


def test_decimal_regions_that_tile_the_picture_cover_all_of_it() -> None:
    tenths = [(x / 10, y / 10, 0.1, 0.1) for x in range(10) for y in range(10)]
    assert union_area(tenths) == pytest.approx(1.0, abs=1e-12)
    assert union_area([(0.9, 0.9, 0.1 + 1e-10, 0.1)]) <= 0.01 + 1e-12  # what lies off the picture is not counted


# --- what the record proposes -----------------------------------------------------------------------------------------


def proposal(record: Any, asked: Asked | None = None) -> Any:
    row = record.rows[0]
    return proposed_standing(row.need, row, record.scene, record.references, record.numbers, asked)


@pytest.mark.parametrize(
    ("witness", "word"),
    [
        (Witness.OBJECT, "supported"),
        (Witness.PHOTOGRAPH, "supported"),
        (Witness.HANDMADE, "supported"),
        (Witness.TEXT, "supported"),
        (Witness.COMMERCIAL, "inferred"),
        (Witness.SECOND_HAND, "inferred"),
        (Witness.LATER, "inferred"),
        (Witness.UNKNOWN, "inferred"),
    ],
)
def test_the_kind_of_witness_decides_first(witness: Witness, word: str, small: Any, piece: Any) -> None:
    found = proposal(small(piece("a", witness)))
    assert found.word == word
    assert "Pl. a" in found.why
    assert found.rests_on[0].witness == witness.value


@pytest.mark.parametrize(
    ("made", "word", "why"),
    [
        ("1870-10-15", "supported", "One independent witness"),  # 366 days after
        ("1870-10-16", "inferred", "made 12 months after"),
        ("1868-10-13", "supported", "One independent witness"),  # 366 days before
        ("1868-10-12", "inferred", "made 12 months before"),
        ("1911", "inferred", "made 41 years after"),
        ("1850/1870", "supported", "One independent witness"),
        ("", "inferred", "undated"),
    ],
)
def test_of_the_time_is_within_a_year(made: str, word: str, why: str, small: Any, piece: Any) -> None:
    """Days from the event by the standard library's calendar: 366 on either side are within, 367 are not."""
    assert (date(1870, 10, 15) - date(1869, 10, 14)).days == OF_THE_TIME_DAYS
    assert (date(1869, 10, 14) - date(1868, 10, 13)).days == OF_THE_TIME_DAYS
    found = proposal(small(piece("a", Witness.TEXT, made)))
    assert (found.word, why in found.why) == (word, True)


def test_what_shows_another_time_or_place_is_not_of_the_time(small: Any, piece: Any) -> None:
    shows = piece("a", Witness.HANDMADE, depicts=read_date("1790"))
    assert "showing another time" in proposal(small(shows)).why
    near = piece("a", Witness.TEXT, fit=(("place", "exact"), ("rank", "near")))
    assert "fitting only so far: rank near" in proposal(small(near)).why
    exact = piece("a", Witness.TEXT, fit=(("place", "exact"), ("rank", "unknown")))
    assert proposal(small(exact)).word == "supported"


def test_without_a_date_of_the_scene_nothing_is_of_the_time(small: Any, piece: Any) -> None:
    found = proposal(small(piece("a", Witness.PHOTOGRAPH), when=""))
    assert (found.word, "the scene having no date" in found.why) == ("inferred", True)


def test_a_family_is_one_witness(small: Any, piece: Any) -> None:
    record = small(piece("a", Witness.PHOTOGRAPH), piece("b", Witness.PHOTOGRAPH))
    assert proposal(record).brief == "2 independent witnesses of the time."
    family = Family("f", (FamilyMember("a", "original"), FamilyMember("b", "copy", "a")))
    together = replace(record, rows=coverage(record.scene, record.references, [family]))
    assert proposal(together).brief == "One independent witness of the time."


def test_nothing_is_unknown_and_only_the_person_invents(small: Any, piece: Any) -> None:
    assert proposal(small()).word == "unknown"
    against = proposal(small(piece("a", Witness.TEXT, relation="contradicts", note="He had none.")))
    assert against.word == "unknown"
    assert against.disputed == ("Pl. a (contemporary text) contradicts it: “He had none”.",)
    kept = small(piece("a", Witness.TEXT), answers=(Answer("Zip", "kept on purpose", "for the warmth"),))
    assert (proposal(kept).word, "Zip" in proposal(kept).why) == ("invented", True)
    other = small(piece("a", Witness.TEXT), answers=(Answer("Zip", "another thing is meant"),))
    assert proposal(other).word == "supported"


def test_an_open_question_stands_beside_the_word(small: Any, piece: Any) -> None:
    row = First("Zip", (), read_date("1893"), None, None, "", "a source", False)
    question = Question("hat", "Zip", row, BY_NAME, "…", Standing.BEFORE, "name", "zip")
    found = proposal(small(piece("a", Witness.TEXT)), Asked((question,)))
    assert (found.word, found.disputed) == ("supported", ("Open question: was this there yet, Zip?",))
    by_meaning = replace(question, how="by meaning, similarity 0.61")
    assert proposal(small(piece("a", Witness.TEXT)), Asked((by_meaning,))).disputed == ()


def test_gaps_are_those_of_the_calendar() -> None:
    assert gap_days(read_date("1870-01-01"), read_date("1869-12-31")) == 1
    assert gap_days(read_date("1860"), read_date("1869-10-14")) == (date(1860, 12, 31) - date(1869, 10, 14)).days
    assert gap_days(read_date("1869"), read_date("1869-10-14")) == 0


# --- the statement ----------------------------------------------------------------------------------------------------


def stated(record: Any, *parts: Part) -> Any:
    return draft_statement(record.scene, parts, record.rows, record.references, record.numbers)


def test_the_persons_word_stays_and_the_records_stands_beside_it(small: Any, piece: Any) -> None:
    record = small(piece("a", Witness.LATER, "1911"))
    told = stated(record, Part("Brim", (0, 0, 0.5, 0.5), "supported", "hat", "seen by her")).parts[0]
    assert (told.word, told.why, told.proposal.word) == ("supported", "seen by her", "inferred")
    assert told.disagreement.startswith("Marked supported; the record proposes inferred. Nothing of the time: Pl. a")
    agreed = stated(record, Part("Brim", (0, 0, 0.5, 0.5), "inferred", "hat")).parts[0]
    assert agreed.disagreement == ""


def test_needs_marked_nowhere_are_listed_with_what_the_record_proposes(crossing: Any) -> None:
    told = stated(crossing, *crossing.own.parts)
    assert [one.need for one in told.unmarked] == [
        "isaac-souwester", "josiah-smock", "josiah-hat", "josiah-hair", "brobs",
    ]  # fmt: skip
    assert {one.need: one.word for one in told.unmarked}["josiah-hair"] == "unknown"


def test_overlapping_words_are_told_with_their_parts(crossing: Any) -> None:
    told = stated(crossing, *crossing.own.parts)
    expected = {
        (a, b)
        for (a, one), (b, other) in combinations(enumerate(crossing.own.parts, 1), 2)
        if one.standing != other.standing and shared_area(one.region, other.region) > 0
    }
    assert {(one.one, one.other) for one in told.overlaps} == expected == {(1, 7), (2, 6), (3, 4), (4, 9), (6, 9)}
    assert 0 < told.contested_share <= sum(one.share for one in told.overlaps)


def test_shares_are_unions_by_word(small: Any) -> None:
    parts = [
        Part("a", (0, 0, 0.5, 1), "supported"),
        Part("b", (0.25, 0, 0.5, 1), "supported"),
        Part("c", (0.5, 0, 0.5, 1), "invented"),
    ]
    told = stated(small(), *parts)
    assert dict(told.shares) == {"supported": 0.75, "inferred": 0.0, "invented": 0.5, "unknown": 0.0}
    assert (told.marked_share, told.contested_share) == (1.0, 0.25)


def test_words_that_the_record_cannot_answer_are_told(small: Any) -> None:
    told = stated(
        small(),
        Part("Sky", (0, 0, 1, 0.5), "supported"),
        Part("Hat", (0, 0.5, 0.1, 0.1), "invented", "hat"),
        Part("Brim", (0, 0.6, 0.1, 0.1), "unknown", "hat"),
        Part("", (0, 0.7, 0.1, 0.1), "unknown", "gone"),
    )
    assert [words.split(":")[0] for words in told.notices] == [
        "Part 4 names the need 'gone', which the scene does not have.",
        "Part 1, Sky, is called supported and belongs to no need",
        "Hat is called by different words",
    ]


@pytest.mark.parametrize(
    "part",
    [
        Part("x", (0.5, 0.5, 0.6, 0.1), "unknown"),
        Part("x", (0, 0, 0, 0.1), "unknown"),
        Part("x", (float("nan"), 0, 0.1, 0.1), "unknown"),
        Part("x", (0, 0, 0.1, 0.1), "certain"),
    ],
)
def test_a_part_that_is_none_is_refused(part: Part, small: Any) -> None:
    with pytest.raises(RecordRefused) as refused:
        stated(small(), part)
    assert refused.value.next_step


def test_too_many_parts_are_refused(small: Any) -> None:
    with pytest.raises(RecordRefused, match="Join parts"):
        stated(small(), *[Part("x", (0, 0, 0.1, 0.1), "unknown")] * 100)


def test_a_statement_is_plain_json_and_the_same_each_time(crossing: Any) -> None:
    first, again = (json.dumps(as_plain(stated(crossing, *crossing.own.parts))) for _ in range(2))
    assert first == again
    assert json.loads(first)["shares"]["supported"] == pytest.approx(0.37, abs=0.01)


def test_a_need_without_a_row_is_not_made_up(crossing: Any) -> None:
    slugs = {row.need.slug for row in crossing.rows}
    told = stated(crossing, *crossing.own.parts)
    assert {one.proposal.need for one in told.parts if one.proposal} | {one.need for one in told.unmarked} == slugs
    assert isinstance(crossing.rows[0].need, Need)
