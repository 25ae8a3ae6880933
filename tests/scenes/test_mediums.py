"""Cautions by medium follow a reference: which sentences stand beside which kinds, and which do not."""

from __future__ import annotations

from datetime import date

import pytest

from refarchive.records.dates import read_date
from refarchive.records.model import Reference, Witness
from refarchive.scenes.mediums import ORTHOCHROMATIC_FROM, cautions, in_brief, is_photograph


def told(medium: str = "", when: str | None = None, witness: Witness = Witness.UNKNOWN, kind: str = "image") -> str:
    made = read_date(when) if when else None
    return " ".join(cautions(Reference("r", kind, "t", "f", medium=medium, when=made, witness=witness)))


def test_the_day_is_the_first_of_1883() -> None:
    """Against the standard library's proleptic Gregorian calendar: JD 1721425 is the day before 1 January of year 1."""
    assert date(1883, 1, 1).toordinal() + 1_721_425 - 1 + 1 == ORTHOCHROMATIC_FROM


@pytest.mark.parametrize(
    ("medium", "when", "witness", "words"),
    [
        ("albumen print", "1871", Witness.PHOTOGRAPH, "No colour and no values"),
        ("albumen print", None, Witness.PHOTOGRAPH, "until it is dated"),
        ("ambrotype", "1860", Witness.UNKNOWN, "check the buttoning side"),
        ("wood engraving", "1870", Witness.SECOND_HAND, "blocks were used again"),
        ("hand-coloured fashion plate", "1871", Witness.COMMERCIAL, "not what was"),
        ("watercolour", "1871", Witness.HANDMADE, "flattery"),
        ("", None, Witness.OBJECT, "survives"),
        ("", "1911", Witness.LATER, "remembered or imagined"),
    ],
)
def test_each_kind_carries_its_caution(medium: str, when: str | None, witness: Witness, words: str) -> None:
    assert words in told(medium, when, witness)


def test_what_nothing_is_known_against_carries_none() -> None:
    assert told("gelatin silver photograph", "1930", Witness.PHOTOGRAPH) == ""
    assert told("manuscript letter", "1871", Witness.TEXT, "text") == ""
    assert told("engraved brass buckle") == ""


@pytest.mark.parametrize(
    ("medium", "when", "witness", "brief"),
    [
        ("ambrotype", "1860", Witness.PHOTOGRAPH, "Caution: no colour, no values; mirrored."),
        ("wood engraving", "1870", Witness.SECOND_HAND, "Caution: engraved at second hand."),
        ("watercolour", "1871", Witness.HANDMADE, ""),
        ("gelatin silver photograph", "1930", Witness.PHOTOGRAPH, ""),
    ],
)
def test_a_caption_carries_the_weightiest_in_a_few_words(medium: str, when: str, witness: Witness, brief: str) -> None:
    one = Reference("r", "image", "t", "f", medium=medium, when=read_date(when), witness=witness)
    assert in_brief(one) == brief


@pytest.mark.parametrize(
    ("witness", "medium", "is_one"),
    [
        (Witness.OBJECT, "Wool, twill weave; colour photograph of the object", False),
        (Witness.OBJECT, "Daguerreotype in its case", True),
        (Witness.OBJECT, "Carte-de-visite album, leather", True),
        (Witness.PHOTOGRAPH, "", True),
        (Witness.SECOND_HAND, "Photograph of a painting", True),
        (Witness.HANDMADE, "Watercolour", False),
    ],
)
def test_what_records_an_object_is_no_photograph_of_its_date(witness: Witness, medium: str, is_one: bool) -> None:
    one = Reference("r", "image", "t", "f", medium=medium, when=read_date("1865"), witness=witness)
    assert is_photograph(one) is is_one
    assert ("no colour" in in_brief(one)) is is_one
