"""What goes into a finished picture's file, held against the IPTC Photo Metadata Standard and its vocabularies."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import PublishRefused
from refarchive.publish.photo_metadata import (
    BAG,
    LANGUAGE,
    NAMES,
    PLACES,
    PROPERTIES,
    SEQ,
    TEXT,
    cleaned,
    photo_metadata,
    source_type,
)
from refarchive.records.dates import read_date
from refarchive.records.wall import Leave, Particulars, Place

ON = "2026-11-26"
AUTHORITY = Path(__file__).parents[1] / "authorities" / "iptc_properties.csv"
FULL = Particulars(
    frame="f1",
    title="First light",
    headline="Gatherers set out",
    caption="They set out.\nIt is dark.",
    note="What is known of that morning.",
    alt_text="Nine figures on wet sand.",
    keywords=("sands", "cockles", "sands", " "),
    creator="A. Nobody",
    credit_line="A. Nobody / Series of Nothing",
    copyright_notice="© 2026 A. Nobody",
    usage_terms="Ask first.",
    web_statement="https://nobody.invalid/rights",
    rights="CC BY-NC 4.0",
    created="2026-02-14",
    event="The gatherers' morning",
    taken_at=Place("Ferry stage", "Merrow Sands", "", "Nowhere", "gb", 54.123456, -2.9),
    shown=Place("The bank", "Merrow Sands", "", "Nowhere", "GBR", 54.1, -2.9),
    persons=("Ida Noone", "Bo Hidden"),
    contributors=(("C. Carter", "costume"), ("Bo Hidden", "smoke")),
    source_type="digitalCapture",
    leaves=(
        Leave("model", "ida  noone", "unlimited", "granted", "letter 3"),
        Leave("property", "The ferry house", "exhibition", "granted", "letter 4", "2030-01-01"),
    ),
)


def authority() -> dict[str, dict[str, str]]:
    lines = [line for line in AUTHORITY.read_text("utf-8").splitlines() if not line.startswith("#")]
    return {row["xmp"]: row for row in csv.DictReader(lines)}


# --- the standard ---------------------------------------------------------------------------------------------------


def test_every_property_is_the_standards_own_in_name_form_data_set_and_length() -> None:
    """Against the excerpt of the Technical Reference in tests/authorities."""
    standard = authority()
    assert {one.xmp for one in PROPERTIES} == set(standard)
    forms = {
        ("AltLang", "single"): LANGUAGE, ("string", "single"): TEXT, ("uri", "single"): TEXT,
        ("date-time", "single"): TEXT, ("Location", "multi"): PLACES, ("EntityWRole", "multi"): NAMES,
    }  # fmt: skip
    for one in PROPERTIES:
        row = standard[one.xmp]
        assert one.name == row["name"]
        assert one.form == forms.get((row["format"], row["occurs"]), SEQ if one.xmp == "dc:creator" else BAG)
        assert one.iim == (int(row["iim"].partition(":")[2]) if row["iim"] else None)
        if row["iim_max_bytes"]:
            assert one.iim_bytes == int(row["iim_max_bytes"])
        assert one.exif in (None, int(row["exif"] or 0))


def test_a_source_type_is_one_of_the_vocabulary() -> None:
    """cv.iptc.org as released on 2024-10-23: twenty concepts, three of them retired."""
    for code in (
        "digitalCapture",
        "compositeCapture",
        "humanEdits",
        "negativeFilm",
        "compositeWithTrainedAlgorithmicMedia",
    ):
        uri = f"http://cv.iptc.org/newscodes/digitalsourcetype/{code}"
        assert source_type(code) == source_type(uri) == source_type(uri.replace("http:", "https:")) == uri
    assert source_type("") == ""
    for code, better in (
        ("minorHumanEdits", "humanEdits"),
        ("digitalArt", "digitalCreation"),
        ("softwareImage", "digital"),
    ):
        with pytest.raises(PublishRefused) as refused:
            source_type(code)
        assert better in refused.value.next_step
    with pytest.raises(PublishRefused, match="is no digital source type"):
        source_type("digitalcapture")


# --- two versions ---------------------------------------------------------------------------------------------------


def test_the_private_version_holds_everything() -> None:
    told = photo_metadata(FULL, on=ON, private=True)
    assert {one.xmp for one, _ in told.values} == {one.xmp for one in PROPERTIES}
    assert told.left_out == ()
    assert told.get("dc:subject") == ("sands", "cockles")
    assert told.get("Iptc4xmpExt:PersonInImage") == ("Ida Noone", "Bo Hidden")
    assert told.get("plus:ModelReleaseID") == ("letter 3",)
    made = told.get("Iptc4xmpExt:LocationCreated")
    assert isinstance(made, tuple)
    assert made == (replace(FULL.taken_at, country_code="GB"),)


def test_the_public_version_leaves_out_coordinates_unreleased_persons_and_notes_and_says_so() -> None:
    told = photo_metadata(FULL, on=ON)
    everything = repr(told.values)
    for secret in ("54.1", "2.9", "Bo Hidden", "letter"):
        assert secret not in everything
    assert told.get("Iptc4xmpExt:PersonInImage") == ("Ida Noone",)
    assert told.get("Iptc4xmpExt:Contributor") == (("C. Carter", "costume"),)
    assert [name for name, _ in told.left_out] == [
        "Person Shown in the Image", "Contributor", "Location Created", "Location Shown in the Image",
        "Model Release Id", "Property Release Id",
    ]  # fmt: skip
    assert "Bo" not in repr(told.left_out)


@pytest.mark.parametrize(
    ("leave", "named"),
    [
        (Leave("model", "Bo Hidden", "", "granted"), True),
        (Leave("model", "Bo Hidden", "", "granted", "", ON), True),  # on its last day still
        (Leave("model", "Bo Hidden", "", "granted", "", "2026-11-25"), False),
        (Leave("model", "Bo Hidden", "", "not needed"), True),
        (Leave("model", "Bo Hidden", "", "asked"), False),
        (Leave("model", "Bo Hidden", "", "refused"), False),
        (Leave("property", "Bo Hidden", "", "granted"), False),
    ],
)
def test_a_person_is_named_in_public_only_with_a_release_that_holds(leave: Leave, named: bool) -> None:
    told = photo_metadata(replace(FULL, leaves=(*FULL.leaves, leave)), on=ON)
    assert ("Bo Hidden" in (told.get("Iptc4xmpExt:PersonInImage") or ())) is named


@pytest.mark.parametrize(
    "field", ["title", "headline", "caption", "note", "alt_text", "event", "copyright_notice", "usage_terms", "creator"]
)
def test_a_public_text_that_names_an_unreleased_person_is_refused(field: str) -> None:
    given_name = replace(FULL, **{field: "With bo HIDDEN, at the left."})
    with pytest.raises(PublishRefused, match="of whom no release is on record"):
        photo_metadata(given_name, on=ON)
    assert photo_metadata(given_name, on=ON, private=True)
    assert photo_metadata(replace(FULL, **{field: "Bo Hiddensee"}), on=ON)  # another name


def test_release_status_is_a_plus_term() -> None:
    """PLUS Licence Data Format vocabulary: MR-LMR, PR-LPR."""
    told = photo_metadata(FULL, on=ON)
    assert told.get("plus:ModelReleaseStatus") == "http://ns.useplus.org/ldf/vocab/MR-LMR"  # Bo has none
    assert told.get("plus:PropertyReleaseStatus") == "http://ns.useplus.org/ldf/vocab/PR-LPR"


def test_nothing_is_said_of_what_nobody_recorded() -> None:
    assert photo_metadata(Particulars("f"), on=ON).values == ()


def test_terms_and_web_statement_come_from_the_rights_only_where_they_are_not_given() -> None:
    assert photo_metadata(FULL, on=ON).get("xmpRights:UsageTerms") == "Ask first."
    bare = replace(FULL, usage_terms="", web_statement="")
    told = photo_metadata(bare, on=ON)
    uri = "http://creativecommons.org/licenses/by-nc/4.0/"
    assert told.get("xmpRights:UsageTerms") == f"CC BY-NC 4.0 ({uri})"
    assert told.get("xmpRights:WebStatement") == uri
    told = photo_metadata(replace(bare, rights="in copyright"), on=ON)
    assert told.get("xmpRights:WebStatement") is None
    assert told.get("xmpRights:UsageTerms") == "In Copyright (http://rightsstatements.org/vocab/InC/1.0/)"


# --- the day of the shoot -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("created", "event", "problem"),
    [
        ("1871-02-04", "", None),
        ("1839-08-18", "", "before there was photography"),
        ("2026-11-27", "", "after the day of publishing"),
        ("1871-02-03", "1871-02-03", "not after the event"),
        ("1871-02-03", "February 1871", "not after the event"),
        ("1871-03-01", "February 1871", None),
        ("1870-01-01", "1871/..", "not after the event"),
        ("2026-02-30", "", "is no day"),
        ("February 2026", "", "is no day"),
        ("2026-2-3", "", "is no day"),
    ],
)
def test_the_day_is_that_of_the_shoot_and_never_of_the_event(created: str, event: str, problem: str | None) -> None:
    when = read_date(event) if event else None
    one = replace(FULL, created=created)
    if problem is None:
        assert photo_metadata(one, on=ON, event=when).get("photoshop:DateCreated") == created
        return
    with pytest.raises(PublishRefused, match=problem) as refused:
        photo_metadata(one, on=ON, event=when)
    assert refused.value.field == "created"


def test_photography_was_made_public_on_a_known_day() -> None:
    """Arago's reading in Paris, 19 August 1839 (World Photography Day is that day)."""
    assert photo_metadata(replace(FULL, created="1839-08-19"), on=ON)
    assert date(1839, 8, 19).strftime("%A") == "Monday"  # as the Académie's sittings were, from memory


# --- untrusted texts ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"title": "x" * 2_001}, "title"),
        ({"caption": "x" * 20_001}, "caption"),
        ({"keywords": tuple(str(n) for n in range(501))}, "keywords"),
        ({"persons": ("x" * 3_000,)}, "persons"),
        ({"web_statement": "javascript:alert(1)"}, "web_statement"),
        ({"web_statement": "https://a b"}, "web_statement"),
        ({"taken_at": Place(latitude=91, longitude=0)}, "taken_at"),
        ({"taken_at": Place(latitude=float("nan"), longitude=0)}, "taken_at"),
        ({"shown": Place(longitude=3)}, "shown"),
        ({"shown": Place(country_code="England")}, "shown"),
    ],
)
def test_values_out_of_bounds_are_refused_by_field(changes: dict[str, object], field: str) -> None:
    with pytest.raises(PublishRefused) as refused:
        photo_metadata(replace(FULL, **changes), on=ON)  # type: ignore[arg-type]
    assert refused.value.field == field
    assert refused.value.next_step


@given(st.text(max_size=60))
def test_a_cleaned_text_is_one_that_xml_can_carry(text: str) -> None:
    """XML 1.0, production 2: Char."""
    for lines in (False, True):
        for character in cleaned(text, lines=lines):
            code = ord(character)
            assert code == 0x0A if lines and code < 0x20 else 0x20 <= code <= 0xD7FF or code >= 0xE000
            assert code & 0xFFFE != 0xFFFE
        assert cleaned(cleaned(text, lines=lines), lines=lines) == cleaned(text, lines=lines)


def test_direction_marks_go_and_joiners_of_scripts_stay() -> None:
    assert cleaned("a\u202egnp.exe") == "agnp.exe"
    assert cleaned("می\u200cخواهم") == "می\u200cخواهم"
