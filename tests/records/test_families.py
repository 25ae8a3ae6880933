"""Families: confirmed by a person, kept in one transaction, never a circle, told in the history."""

from __future__ import annotations

import pytest

from refarchive.errors import InUse, RecordRefused, UnknownRecord
from refarchive.records.model import FamilyMember, NewReference, Reference
from refarchive.records.store import Store

A, B, C, D = (f"ref-{letter * 12}" for letter in "abcd")


@pytest.fixture
def store(new_store):
    with new_store() as made:
        made.add_references(
            [NewReference(Reference(i, "image", i, f"{i}.jpg", sha256=i[-1] * 64, suffix=".jpg")) for i in (A, B, C, D)]
        )
        yield made


def members(store: Store, reference: str) -> dict[str, tuple[str, str]]:
    family = store.families.of(reference)
    return {m.reference: (m.descent, m.after) for m in family.members} if family else {}


def test_a_family_is_confirmed_and_read_back(store: Store) -> None:
    family = store.families.confirm(
        [FamilyMember(A, "original"), FamilyMember(B, "engraved after", A, "reversed")], "n"
    )
    assert store.families.all() == [family]
    assert store.families.of(B) == family
    assert store.families.of(C) is None
    assert members(store, A) == {A: ("original", ""), B: ("engraved after", A)}
    change = store.history(f"family:{family.id}")[0]
    assert (change.action, change.who, change.before) == ("added", "tester", None)


def test_saying_the_same_again_changes_nothing(store: Store) -> None:
    said = [FamilyMember(A, "original"), FamilyMember(B, "crop", A)]
    first = store.families.confirm(said)
    told = len(store.history())
    assert store.families.confirm(said) == first
    assert len(store.history()) == told


def test_families_that_share_a_member_become_one(store: Store) -> None:
    first = store.families.confirm([FamilyMember(A, "original"), FamilyMember(B, "copy", A)])
    store.families.confirm([FamilyMember(C), FamilyMember(D, "copy", C)])
    store.families.confirm([FamilyMember(B, "mirrored", A), FamilyMember(C, "copy", B)])
    assert len(store.families.all()) == 1
    assert store.families.of(D).id == first.id
    assert members(store, A) == {A: ("original", ""), B: ("mirrored", A), C: ("copy", B), D: ("copy", C)}


def test_leaving(store: Store) -> None:
    store.families.confirm([FamilyMember(A, "original"), FamilyMember(B, "copy", A), FamilyMember(C, "copy", A)])
    store.families.leave(A)
    assert members(store, B) == {B: ("copy", ""), C: ("copy", "")}
    store.families.leave(C)
    assert store.families.all() == []
    with pytest.raises(UnknownRecord, match="no family"):
        store.families.leave(C)


def test_turned_down_pairs_are_kept_until_confirmed(store: Store) -> None:
    store.families.turn_down(B, A, "another plate")
    store.families.turn_down(A, B)
    assert store.families.turned_down() == {(A, B)}
    store.families.confirm([FamilyMember(A), FamilyMember(B)])
    assert store.families.turned_down() == set()
    with pytest.raises(RecordRefused, match="confirmed as one"):
        store.families.turn_down(A, B)


@pytest.mark.parametrize(
    ("said", "kind", "words"),
    [
        ([FamilyMember(A)], RecordRefused, "at least two"),
        ([FamilyMember(A), FamilyMember(A)], RecordRefused, "named twice"),
        ([FamilyMember(A), FamilyMember("ref-none")], UnknownRecord, "ref-none"),
        ([FamilyMember(A), FamilyMember(B, "cousin")], RecordRefused, "cousin"),
        ([FamilyMember(A), FamilyMember(B, "copy", C)], RecordRefused, "not in the family"),
        ([FamilyMember(A, "copy", B), FamilyMember(B, "copy", A)], RecordRefused, "circle"),
        ([FamilyMember(A, "copy", A), FamilyMember(B)], RecordRefused, "circle"),
    ],
)
def test_nonsense_is_refused_and_nothing_is_kept(store: Store, said, kind: type[Exception], words: str) -> None:
    told = len(store.history())
    with pytest.raises(kind, match=words):
        store.families.confirm(said)
    assert store.families.all() == []
    assert len(store.history()) == told


def test_a_member_cannot_be_removed(store: Store) -> None:
    store.families.confirm([FamilyMember(A), FamilyMember(B)])
    with pytest.raises(InUse, match="family"):
        store.remove_reference(A)
    store.families.leave(A)
    store.families.turn_down(A, B)
    store.remove_reference(A)
    assert store.families.turned_down() == set()
