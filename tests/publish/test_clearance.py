"""What is recorded of permissions and releases, and the table of print sizes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from refarchive.errors import PublishRefused
from refarchive.publish.clearance import checklist, edition_table, model_release, property_release
from refarchive.records.model import Reference
from refarchive.records.onsite import Permission
from refarchive.records.uses import CAUTION
from refarchive.records.wall import LEAVE, Edition, Leave, Particulars

ON = "2026-11-26"
IDA = Leave("model", "Ida Noone", "unlimited", "granted", "letter 3")
PLUS = "http://ns.useplus.org/ldf/vocab/"


def of(*leaves: Leave, persons: tuple[str, ...] = ()) -> Particulars:
    return Particulars("f", persons=persons, leaves=leaves)


# --- the checklist --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", LEAVE)
def test_each_state_is_told_in_words_with_what_lacks_and_what_comes_next(state: str) -> None:
    (item,) = checklist(of(replace(IDA, state=state)), (), (), on=ON).items
    assert (item.kind, item.who, item.what) == ("model release", "Ida Noone", "unlimited")
    assert bool(item.next_step) is (state in ("not asked", "asked", "refused"))
    (bare,) = checklist(of(replace(IDA, state=state, evidence="")), (), (), on=ON).items
    assert ("where that can be read" in bare.lacks) is (state in ("granted", "not needed"))


@pytest.mark.parametrize(
    ("until", "state", "lacks", "open_"),
    [
        ("2026-11-25", "granted until 2026-11-25, which has passed", True, True),
        ("2026-11-26", "granted until 2026-11-26, no day from then", False, True),
        ("2026-11-27", "granted until 2026-11-27, 1 day from then", False, True),
        ("2027-01-25", "granted until 2027-01-25, 60 days from then", False, True),
        ("2027-01-26", "granted until 2027-01-26", False, False),
    ],
)
def test_ends_are_held_against_the_day(until: str, state: str, lacks: bool, open_: bool) -> None:
    told = checklist(of(replace(IDA, until=until)), (), (), on=ON)
    (item,) = told.items
    assert item.state == state
    assert bool(item.lacks) is lacks
    assert bool(told.open) is open_


def test_persons_without_a_leave_site_and_references_have_their_lines_in_order() -> None:
    leaves = (
        Leave("other", "The band", "music", "asked"),
        Leave("place", "The harbour", "the stage", "granted", "no. 4"),
        IDA,
    )
    references = (
        Reference("r1", "image", "Cart at the ford", "a.jpg", rights="CC BY 4.0", basis="its licence",
                  basis_evidence="its page", credit="The Keeper"),
        Reference("r2", "image", "Lamp", "b.jpg"),
    )  # fmt: skip
    permissions = (
        Permission("Shore office", "the sands", "given", "05:00", "09:00", conditions="no fires"),
        Permission("Farm", "the track", "to be asked"),
    )
    told = checklist(of(*leaves, persons=("ida noone", "Bo Hidden")), references, permissions, on=ON)
    assert [(item.kind, item.who) for item in told.items] == [
        ("model release", "Ida Noone"),
        ("model release", "Bo Hidden"),
        ("permission for the place", "The harbour"),
        ("other permission", "The band"),
        ("permission of the site", "Shore office"),
        ("permission of the site", "Farm"),
        ("reference cited", "The Keeper"),
        ("reference cited", ""),
    ]
    assert told.items[1].lacks == ("a model release",)
    assert told.items[4].state == "granted, from 05:00 to 09:00; on condition: no fires"
    assert told.items[4].lacks == ("where that can be read",)
    assert "on this basis: its licence (its page)" in told.items[6].state
    assert told.items[6].lacks == ()
    assert told.items[7].state.startswith("nothing is recorded")
    assert told.items[7].next_step == "Record a basis, if the reference is to be shown."
    assert told.summary == f"5 of 8 lines have something open, as recorded on {ON}."
    assert told.caution == CAUTION
    assert told.as_dict()["items"][1]["lacks"] == ("a model release",)


def test_no_list_ever_gives_a_verdict() -> None:
    lists = [checklist(Particulars("f"), (), (), on=ON), checklist(of(IDA, persons=("Ida Noone",)), (), (), on=ON)]
    lists += [checklist(of(replace(IDA, state=state, until=ON)), (), (), on=ON) for state in LEAVE]
    for told in lists:
        words = " ".join(
            [told.summary, *(text for item in told.items for text in (item.state, item.next_step))]
        ).lower()
        assert not {"cleared", "clear", "safe", "lawful", "legal", "allowed", "ok", "fine"} & set(words.split())
    assert lists[0].summary.startswith("Nothing is recorded")
    assert "see the caution" in lists[1].summary


@pytest.mark.parametrize(
    "leave",
    [replace(IDA, state="yes"), replace(IDA, kind="pet"), replace(IDA, until="soon"), replace(IDA, until="2026-02-30")],
)
def test_what_cannot_be_is_refused(leave: Leave) -> None:
    with pytest.raises(PublishRefused) as refused:
        checklist(of(leave), (), (), on=ON)
    assert refused.value.next_step
    with pytest.raises(PublishRefused):
        checklist(of(IDA), (), (), on="today")


# --- PLUS terms -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("leaves", "persons", "term"),
    [
        ((), (), ""),
        ((), ("Ida Noone",), "MR-NON"),
        ((replace(IDA, state="asked"),), (), "MR-NON"),
        ((replace(IDA, state="refused"),), ("Ida Noone",), "MR-NON"),
        ((replace(IDA, state="not needed"),), ("Ida Noone",), "MR-NAP"),
        ((replace(IDA, state="not needed"),), ("Ida Noone", "Bo"), "MR-NON"),
        ((IDA,), ("Ida Noone",), "MR-UMR"),
        ((IDA, Leave("model", "Bo", "", "not needed")), ("Ida Noone", "Bo"), "MR-UMR"),
        ((IDA,), ("Ida Noone", "Bo"), "MR-LMR"),
        ((IDA, Leave("model", "Bo", "", "asked")), (), "MR-LMR"),
        ((replace(IDA, what="book and exhibition"),), (), "MR-LMR"),
        ((replace(IDA, what=""),), (), "MR-LMR"),  # nothing is unlimited because no limit was written down
        ((replace(IDA, until="2030-01-01"),), (), "MR-LMR"),
        ((replace(IDA, until="2026-11-25"),), (), "MR-NON"),
        ((replace(IDA, kind="property"),), (), ""),
    ],
)
def test_the_model_release_term_says_no_more_than_was_recorded(
    leaves: tuple[Leave, ...], persons: tuple[str, ...], term: str
) -> None:
    """Terms of the PLUS Licence Data Format, as in ExifTool's PLUS table: None, Not Applicable, Unlimited, Limited."""
    assert model_release(of(*leaves, persons=persons), on=ON) == (PLUS + term if term else "")


def test_property_releases_stand_by_themselves() -> None:
    stage = Leave("property", "Ferry stage", "Any use", "granted", "no. 4")
    assert property_release(of(IDA), on=ON) == ""
    assert property_release(of(IDA, stage, persons=("Bo",)), on=ON) == f"{PLUS}PR-UPR"
    assert property_release(of(stage, replace(stage, who="Cart", state="asked")), on=ON) == f"{PLUS}PR-LPR"


# --- editions -------------------------------------------------------------------------------------------------------


def test_inches_and_pixels_per_inch_by_the_definition() -> None:
    """1 in = 25.4 mm (international yard and pound agreement, 1959); A4 is 210 × 297 mm (ISO 216)."""
    row = edition_table([Edition("A4", 297, 210, 10)], 3508, 2480).rows[0]
    assert (row.width_in, row.height_in) == (11.69, 8.27)
    assert row.pixels_per_inch == pytest.approx(300, abs=0.1)  # 3508 × 2480 is A4 at 300, as scanners list it
    assert "other proportions" not in row.sentence


def test_the_distance_is_that_of_one_minute_of_arc() -> None:
    """3438 / ppi inches: one radian is 3437.75 minutes of arc; 300 pixels per inch at 11.5 inches."""
    row = edition_table([Edition("x", 254, 254, 1)], 3000, 3000).rows[0]
    assert row.close_mm == pytest.approx(3437.75 / 300 * 25.4, abs=0.1)
    assert row.sentence.startswith("300 pixels per inch: from 29 cm on")


def test_sums_and_what_is_left() -> None:
    editions = [
        Edition("small", 400, 300, 10, 2, made=6, placed=4),
        Edition("large", 1200, 900, 3, 1, made=4, placed=4),
    ]
    table = edition_table(editions, 8000, 6000)
    assert [(row.to_place, row.in_hand) for row in table.rows] == [(8, 2), (0, 0)]
    assert table.sums == {"count": 13, "proofs": 3, "made": 10, "placed": 8, "to_place": 8, "in_hand": 2}
    assert table.problems == ()
    assert edition_table([], 8000, 6000).rows == ()


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"made": 13}, "13 are made, but it is an edition of 10 with 2 proofs"),
        ({"made": 3, "placed": 4}, "4 are placed, but only 3 are made"),
        ({"count": 0, "proofs": 0}, "an edition of none"),
        ({"placed": -1}, "placed is -1, below nothing"),
    ],
)
def test_contradictions_are_told_and_not_mended(changes: dict[str, int], problem: str) -> None:
    table = edition_table([replace(Edition("small", 400, 300, 10, 2), **changes)], 8000, 6000)
    assert any(problem in told for told in table.problems)
    assert table.rows[0].to_place is None
    assert table.sums["to_place"] == 0


def test_the_same_name_the_same_size_and_other_proportions_are_told() -> None:
    table = edition_table(
        [Edition("A", 400, 300, 1), Edition("a ", 400, 300.0, 2), Edition("b", 400, 200, 1)], 8000, 6000
    )
    assert "More than one edition is called 'a'." in table.problems
    assert "More than one edition is 400 × 300 mm." in table.problems
    assert "other proportions than the picture (2.000 against 1.333)" in table.rows[2].sentence


@pytest.mark.parametrize("width", [0, -1, float("nan"), float("inf")])
def test_a_size_that_is_none_is_refused(width: float) -> None:
    with pytest.raises(PublishRefused):
        edition_table([Edition("x", width, 300, 1)], 8000, 6000)
    with pytest.raises(PublishRefused):
        edition_table([], 0, 6000)
