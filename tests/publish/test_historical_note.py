"""The drafted note: nothing in it but templates and the record, each sentence with what it rests on."""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.publish.historical_note import (
    DROPS,
    FEWEST,
    MOST,
    SECTIONS,
    TEMPLATES,
    Note,
    as_plain,
    count_words,
    draft_note,
    without,
)
from refarchive.records.dates import read_date
from refarchive.records.firsts import First
from refarchive.records.model import Answer, Witness
from refarchive.records.onsite import Candidate, Site
from refarchive.records.wall import Part, Particulars
from refarchive.scenes.anachronism import BY_NAME, Asked, Question, Standing


def drafted(record: Any, asked: Asked | None = None) -> Note:
    return draft_note(record.scene, record.own, record.rows, record.references, record.numbers, asked)


def section(note: Note, name: str) -> str:
    return " ".join(claim.text for claim in note.claims if claim.section == name)


# --- nothing is added -------------------------------------------------------------------------------------------------


def test_every_sentence_repeats_the_record_or_cites_it(crossing: Any, check: Any) -> None:
    check.stands(crossing, drafted(crossing).claims)


def test_no_word_comes_from_outside_the_record(crossing: Any, check: Any) -> None:
    ours = (*TEMPLATES.values(), *SECTIONS.values())
    assert check.foreign(crossing, drafted(crossing).text, ours) == set()
    invented = drafted(crossing).text + " A brave and lonely man."
    assert check.foreign(crossing, invented, ours) == {"brave", "lonely"}  # the test can fail


@pytest.mark.parametrize("name", ["event", "known", "disputed", "inferred", "invented", "site", "thanks"])
def test_every_section_is_there_in_its_order(name: str, crossing: Any) -> None:
    note = drafted(crossing)
    assert section(note, name)
    order = list(SECTIONS)
    places = [order.index(claim.section) for claim in note.claims]
    assert places == sorted(places)


def test_the_same_record_gives_the_same_note(crossing: Any) -> None:
    turned = replace(crossing, references=dict(reversed(list(crossing.references.items()))))
    assert json.dumps(as_plain(drafted(turned))) == json.dumps(as_plain(drafted(crossing)))


# --- known, inferred, disputed ----------------------------------------------------------------------------------------


def test_known_has_a_witness_of_the_time_for_each_need(crossing: Any) -> None:
    kinds = {"surviving object", "photograph from life", "hand-made image from life", "contemporary text"}
    for claim in drafted(crossing).claims:
        if claim.section == "known":
            named = {basis.need for basis in claim.rests_on if basis.field.endswith(".name")}
            for need in named:
                assert {basis.witness for basis in claim.rests_on if basis.need == need} & kinds


@pytest.mark.parametrize(
    ("witness", "made"), [(Witness.LATER, "1911"), (Witness.SECOND_HAND, "1869"), (Witness.TEXT, "1880")]
)
def test_other_support_is_inferred(witness: Witness, made: str, small: Any, piece: Any) -> None:
    note = drafted(small(piece("a", witness, made)))
    assert section(note, "inferred") == f"From Title a ({witness.value}, {made}) is inferred: Hat."
    assert section(note, "known") == ""
    assert "scene.needs" in {debt.field for debt in note.debts}


def test_a_need_without_evidence_is_owed_and_not_called_unknown(small: Any) -> None:
    note = drafted(small())
    assert "Hat" not in note.text
    assert "Hat: nothing supports it, and nobody said what it is." in [debt.words for debt in note.debts]


@pytest.mark.parametrize(
    ("word", "why", "told"),
    [
        ("invented", "", "Invented by the photographer: Brim."),
        ("invented", "for the line", "The photographer invented Brim: “for the line”."),
        ("unknown", "", "Not known, the photographer says: Brim."),
        ("unknown", "none survive.", "Brim is not known, the photographer says: “none survive.”"),
    ],
)
def test_invented_and_unknown_are_the_persons_words(word: str, why: str, told: str, small: Any) -> None:
    own = Particulars("f", parts=(Part("Brim", (0, 0, 0.1, 0.1), word, "hat", why),))
    assert section(drafted(small(own=own)), "invented") == told


def test_what_the_person_calls_inferred_is_not_known(small: Any, piece: Any) -> None:
    own = Particulars("f", parts=(Part("Brim", (0, 0, 0.1, 0.1), "inferred", "hat"),))
    note = drafted(small(piece("a", Witness.TEXT), own=own))
    assert (section(note, "known"), "is inferred: Hat." in section(note, "inferred")) == ("", True)
    bare = drafted(small(own=own))
    assert section(bare, "inferred") == "The photographer infers, with no evidence recorded: Brim."


def test_supported_without_a_witness_of_the_time_is_not_known(small: Any, piece: Any) -> None:
    own = Particulars("f", parts=(Part("Brim", (0, 0, 0.1, 0.1), "supported", "hat"),))
    note = drafted(small(piece("a", Witness.LATER, "1911"), own=own))
    assert section(note, "known") == ""
    assert "is inferred: Hat." in section(note, "inferred")
    assert any("so it is not under known" in words for words in note.notices)


def test_a_need_that_the_person_invented_is_neither_known_nor_inferred(small: Any, piece: Any) -> None:
    own = Particulars("f", parts=(Part("Hat", (0, 0, 0.1, 0.1), "invented", "hat"),))
    note = drafted(small(piece("a", Witness.TEXT), own=own))
    assert (section(note, "known"), section(note, "inferred")) == ("", "")


def test_what_contradicts_is_told_with_the_persons_note_as_theirs(crossing: Any) -> None:
    told = section(drafted(crossing), "disputed")
    assert (
        "What I remember of Merrow Sands (later reconstruction, 1911) contradicts: Bay mare in harness. The "
        "photographer notes: “The pilot wrote the same day that the carrier got down and held her head”."
    ) in told


def test_evidence_of_another_time_disputes_the_date(small: Any, piece: Any) -> None:
    note = drafted(small(piece("a", Witness.HANDMADE, depicts=read_date("1868"))))
    assert section(note, "disputed") == (
        "Title a (hand-made image from life, 1869) shows 1868; the event is of 14 October 1869."
    )


def test_questions_by_name_are_open_and_those_by_meaning_only_counted(small: Any, piece: Any) -> None:
    row = First("Zip", (), read_date("1893"), None, None, "", "a source", False)
    question = Question("hat", "Zip", row, BY_NAME, "…", Standing.BEFORE, "name", "zip")
    meant = replace(question, how="by meaning, similarity 0.58")
    note = drafted(small(piece("a", Witness.TEXT)), Asked((question, meant)))
    assert section(note, "disputed") == "For Hat the question is open whether it was there yet: Zip."
    assert any(words.startswith("1 open question found by meaning is not in the note") for words in note.notices)


def test_what_is_kept_on_purpose_is_invented(small: Any) -> None:
    note = drafted(small(answers=(Answer("Zip", "kept on purpose", "for the warmth"),)))
    assert section(note, "invented") == "Kept on purpose in Hat: Zip, “for the warmth”."


def test_one_reference_is_told_once_for_all_it_supports(crossing: Any) -> None:
    told = section(drafted(crossing), "known")
    assert told.count("Day book of Isaac Garrow") == 1
    assert (
        "Oilskin coat; Sou'wester; Drabbet smock; Billycock hat, lost; Carrier's cart, loaded; Line of brobs." in told
    )


# --- place and thanks -------------------------------------------------------------------------------------------------


def test_the_place_then_and_now_is_the_chosen_candidate(small: Any) -> None:
    places = (
        Candidate("Elsewhere", 54, -3, 10),
        Candidate("The ford", 54, -3, 120.5, ("the brobs are gone",), chosen=True, reason="It fits."),
    )
    note = drafted(small(site=Site(candidates=places)))
    assert section(note, "site") == (
        "The place is taken to be The ford, within 120.5 m. The photographer's reason: “It fits.” Changed since: the "
        "brobs are gone."
    )
    assert "scene.site" in {debt.field for debt in drafted(small()).debts}


def test_nobody_thanked_is_owed(small: Any) -> None:
    assert "Nobody is thanked." in [debt.words for debt in drafted(small()).debts]
    own = Particulars("f", thanks=("Ærø Ålund", "王小明"), contributors=(("Łucja", "smoke"), ("Ada", "")))
    assert section(drafted(small(own=own)), "thanks") == (
        "Thanks to Ærø Ålund, 王小明. Contributors: Łucja (smoke), Ada."
    )


# --- length -----------------------------------------------------------------------------------------------------------


def counted(text: str) -> int:
    """Words as the `wc` of the system counts them: an independent program."""
    return int(subprocess.run(["wc", "-w"], input=text.encode(), capture_output=True, check=True).stdout)


def test_words_are_counted_as_another_program_counts_them(crossing: Any) -> None:
    note = drafted(crossing)
    assert note.words == counted(note.text)
    assert f"The note has {note.words} words" in note.notices[0]


@given(st.lists(st.from_regex(r"[a-zA-Z0-9]{1,9}[,.;:”]?", fullmatch=True), max_size=60))
def test_any_words_are_counted(words: list[str]) -> None:
    assert count_words(" \n".join(words)) == len(words)
    assert count_words(" – ".join(words)) == len(words)  # a dash by itself is none


def test_a_note_too_long_offers_sentences_in_the_order_stated(crossing: Any) -> None:
    note = drafted(crossing)
    assert note.words > MOST
    order = [DROPS.index(note.claims[index].drop) for index in note.offered]
    assert order == sorted(order)
    shorter = without(note, note.offered)
    assert FEWEST <= shorter.words <= MOST
    assert shorter.words == counted(shorter.text)
    assert shorter.offered == ()
    almost = without(note, note.offered[:-1])
    assert almost.words > MOST  # no more is offered than is needed
    assert len(note.claims) == 19  # and nothing was cut


def test_what_makes_a_picture_look_surer_when_gone_is_never_offered(crossing: Any) -> None:
    note = drafted(crossing)
    assert all(claim.drop == "" for claim in note.claims if claim.section in ("disputed", "invented"))
    assert {claim.drop for claim in note.claims} - {""} <= set(DROPS)


def test_a_note_that_cannot_be_short_enough_says_so(small: Any) -> None:
    scene = small().scene
    record = replace(small(), scene=replace(scene, event="word " * 400))
    note = drafted(record)
    assert note.offered == ()
    assert "still more" in note.notices[0]


def test_a_thin_record_is_said_to_be_thin_and_not_padded(small: Any) -> None:
    note = drafted(small())
    assert note.words < FEWEST
    assert "It is not padded" in note.notices[0]
    assert note.text == "14 October 1869: event."


def test_scripts_without_blanks_make_the_count_too_low(small: Any) -> None:
    own = Particulars("f", event="渡し場で女たちが待つ")
    assert "sets no blanks between words" in drafted(small(own=own)).notices[0]
    assert "sets no blanks" not in drafted(small()).notices[0]


def test_a_note_of_nothing_is_empty_and_all_is_owed(small: Any) -> None:
    record = small(when="")
    empty = replace(record, scene=replace(record.scene, event="", needs=()), rows=())
    note = drafted(empty)
    assert (note.text, note.words, note.claims) == ("", 0, ())
    assert {"scene.event", "scene.when", "scene.key_reference"} <= {debt.field for debt in note.debts}
