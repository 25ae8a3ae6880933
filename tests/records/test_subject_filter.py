"""The filter by subject: a notation of Iconclass finds what lies beneath it, plain words are compared whole.

Authority for what lies beneath what: the lines N and C of notations.txt in the data of Iconclass that the package
carries, followed here by hand.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from zipfile import ZipFile

import iconclass
import pytest

from refarchive.records.ids import reference_id
from refarchive.records.model import Filter, NewReference, Reference
from refarchive.records.store import Store


def reference(number: int, *subjects: str) -> Reference:
    digest = f"{number:064x}"[::-1]
    return Reference(
        id=reference_id(digest), kind="image", title=f"Picture {number}", sha256=digest, subjects=subjects,
        source_name=f"{number}.jpg",
    )  # fmt: skip


@pytest.fixture
def store(new_store) -> Iterator[Store]:
    with new_store() as made:
        yield made


def kept(store: Store, *subjects: str) -> dict[str, str]:
    """One reference for each subject, by id."""
    references = {reference(n, one).id: one for n, one in enumerate(subjects, 1)}
    store.add_references([NewReference(reference(n, one)) for n, one in enumerate(subjects, 1)])
    return references


def found(store: Store, held: dict[str, str], *asked: str) -> set[str]:
    return {held[one] for one in store.select(Filter(subjects=asked))}


def test_a_parent_finds_its_children(store: Store) -> None:
    held = kept(
        store, "25F23(LION)", "25f23(lion)(+46) asleep", "25FF23 fabulous", "25F2 mammals", "25F72 molluscs",
        "25F20 no such notation", "25F3", "boats", "31AA1", "61B:25F23(FOX)",
    )  # fmt: skip
    mammals = {"25F23(LION)", "25f23(lion)(+46) asleep", "25FF23 fabulous", "25F2 mammals", "61B:25F23(FOX)"}
    assert found(store, held, "25F2") == mammals
    assert found(store, held, "25f2 mammals") == mammals
    assert found(store, held, "25F") == {*mammals, "25F72 molluscs", "25F3"}
    assert found(store, held, "25F23(LION)") == {"25F23(LION)", "25f23(lion)(+46) asleep"}
    assert found(store, held, "25F23(LION)(+4)") == {"25f23(lion)(+46) asleep"}
    assert found(store, held, "31A1") == {"31AA1"} == found(store, held, "31AA")
    assert found(store, held, "25F3", "boats") == {"25F3", "boats"}


def test_a_child_does_not_find_its_parent(store: Store) -> None:
    held = kept(store, "46C2 traffic on the water", "46C")
    assert found(store, held, "46C23") == set()
    assert found(store, held, "46C2") == {"46C2 traffic on the water"}


def test_spelling_alike_is_not_lying_beneath(store: Store) -> None:
    held = kept(store, "51AA1", "51A1", "25H23", "25H2", "83(OVID, Metamorphoses II)")
    assert found(store, held, "51A") == {"51A1"}
    assert found(store, held, "51AA") == {"51AA1"}
    assert found(store, held, "83(OVID, Metamorphoses I)") == set()
    assert found(store, held, "83(OVID, Metamorphoses)") == {"83(OVID, Metamorphoses II)"}


def test_plain_words_are_compared_whole(store: Store) -> None:
    held = kept(
        store, "2 boats", "14 February", "14", "1871", "25F2x", "molluscs", "25F72 molluscs", "47K", "19C dress"
    )
    assert found(store, held, "2") == {"25F72 molluscs"}
    assert found(store, held, "14") == {"14"}
    assert found(store, held, "14 FEBRUARY") == {"14 February"}
    assert found(store, held, "molluscs") == {"molluscs"}
    assert found(store, held, "47") == {"47K"}
    assert found(store, held, "1") == {"14"}
    assert found(store, held, "19C") == set()
    assert found(store, held, "19C dress") == {"19C dress"}
    assert found(store, held, "25F2X") == {"25F2x"}


def test_a_subject_is_data_not_a_query(store: Store) -> None:
    held = kept(store, "25F72' OR 1=1 --", "25F72%", "[0-9]*")
    assert found(store, held, "25F7") == set()
    assert found(store, held, "25F72%") == {"25F72%"}
    assert found(store, held, "[0-9]*") == {"[0-9]*"}


def test_the_filter_agrees_with_the_data(store: Store) -> None:
    """Three hundred notations drawn by a fixed seed are kept; the ancestors of forty of them are asked for."""
    above: dict[str, list[str]] = {}
    code, field = "", ""
    lines = ZipFile(Path(iconclass.__file__).parent / "data.zip").read("notations.txt").decode("utf8").splitlines()
    for line in lines:
        kind, _, value = line.partition(" ")
        code = value.strip() if kind == "N" else code
        field = field if kind == ";" else kind
        if field == "C":
            above.setdefault(value.strip(), []).append(code)

    def closure(one: str) -> set[str]:
        return {one}.union(*(closure(upper) for upper in above.get(one, ())))

    drawn = random.Random(1871).sample(sorted(above), 300)
    held = kept(store, *drawn)
    asked = {upper for one in drawn[:40] for upper in closure(one)}
    assert len(asked) > 100
    for parent in sorted(asked):
        assert found(store, held, parent) == {one for one in drawn if parent in closure(one)}, parent
