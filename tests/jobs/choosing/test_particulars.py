"""What a person says of a finished picture: read into its record, or refused with the field, and nothing changed."""

from __future__ import annotations

import pytest

from refarchive.errors import BadQuery, RefArchiveError
from refarchive.jobs.choosing.particulars import plain, read
from refarchive.records.wall import Edition, Leave, Part, Particulars, Place

NOW = Particulars("f", title="The ford", taken_at=Place(city="Merrow Sands"))


def test_values_of_a_form_become_the_record_and_come_back() -> None:
    said = {
        "caption": " A cart at the ford. ",
        "keywords": ["ford", " ", "cart"],
        "contributors": {"Ada Invented": "costume"},
        "taken_at": {"latitude": "54,06", "longitude": ""},
        "leaves": [{"kind": "model", "who": "J. Doe", "state": "granted", "until": "2030-01-01"}],
        "parts": [{"name": "cart", "region": [0.1, 0.2, 0.3, 0.4], "standing": "supported"}],
        "editions": [{"name": "large", "width_mm": "900", "height_mm": "600,5", "count": "5", "made": ""}],
        "created": "2027-10-11",
    }
    found = read(said, NOW)
    assert found["caption"] == "A cart at the ford."
    assert found["keywords"] == ("ford", "cart")
    assert found["contributors"] == (("Ada Invented", "costume"),)
    assert found["taken_at"] == Place(city="Merrow Sands", latitude=54.06)
    assert found["leaves"] == (Leave("model", "J. Doe", state="granted", until="2030-01-01"),)
    assert found["parts"] == (Part("cart", (0.1, 0.2, 0.3, 0.4), "supported"),)
    assert found["editions"] == (Edition("large", 900.0, 600.5, 5),)
    again = plain(Particulars("f", **found))
    del again["frame"]
    assert read(again, Particulars("f")) == {**{k: getattr(Particulars("f"), k) for k in again}, **found}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"colour": "x"}, "colour"),
        ({"title": 3}, "Title is a text"),
        ({"keywords": "ford"}, "Keywords is a list"),
        ({"created": "11 October 2027"}, "is no day"),
        ({"created": "2027-02-30"}, "is no day"),
        ({"taken_at": {"latitude": "91"}}, "between"),
        ({"taken_at": {"latitude": "north"}}, "is no number"),
        ({"taken_at": {"street": "x"}}, "street"),
        ({"editions": [{"name": "x", "width_mm": 1, "height_mm": 1, "count": 1.5}]}, "whole number"),
        ({"editions": [{"name": "x", "width_mm": float("nan"), "height_mm": 1, "count": 1}]}, "out of all bounds"),
        ({"editions": [{"name": "x"}]}, "lacks a value"),
        ({"editions": ["x"]}, "row of values"),
        ({"leaves": [{"kind": "model", "who": "x", "until": "soon"}]}, "is no day"),
        ({"contributors": [["Ada Invented"]]}, "pairs"),
        ({"contributors": [5]}, "is a list"),
        ({"editions": [{"name": "x", "width_mm": 10**400, "height_mm": 1, "count": 1}]}, "out of all bounds"),
        ({"parts": [{"name": "x", "region": [0, 0, 1], "standing": "supported"}]}, "four numbers"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(said, words) -> None:
    with pytest.raises(RefArchiveError, match=words) as caught:
        read(said, NOW)
    assert caught.value.next_step
    assert isinstance(caught.value, (BadQuery, ValueError))


def test_one_name_may_have_two_roles_and_comes_back_with_both() -> None:
    pairs = [["Ada Invented", "hair"], ["Ada Invented", "make-up"], ["Noel Invented", ""]]
    found = read({"contributors": pairs}, NOW)
    assert plain(Particulars("f", **found))["contributors"] == pairs
