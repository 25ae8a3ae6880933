"""Plans changed value by value: what is said is changed, what a person wrote stays, and nothing is overwritten."""

from __future__ import annotations

import pytest

from refarchive.archive import Archive
from refarchive.errors import ChangedMeanwhile, PlanRefused, UnknownRecord

PLAN = """# my own plan
[scene]
title = "Lamp at the stage"  # a working title
event = "e"
story = "s"

[[need]]
name = "Lamp"
department = "props"
description = "tin"  # as the bye-laws say

[[need]]
name = "Shawl"
department = "wardrobe"
"""


@pytest.fixture
def planned(archive: Archive) -> Archive:
    archive.plan(PLAN)
    return archive


def test_values_change_and_comments_stay(planned: Archive) -> None:
    saved = planned.planning.change(
        "lamp-at-the-stage",
        scene={"title": "The late boat", "story": "They wait.", "statements": ["It is late."]},
        intent={"key": 22, "words": "dark"},
        needs={"lamp": {"description": "tin, four panes", "sourcing": {"state": "hire", "estimate": 45.5}}},
    )
    assert saved.slug == "lamp-at-the-stage"  # another title is no other scene
    assert (saved.title, saved.statements, saved.intent.key) == ("The late boat", ("It is late.",), 22)
    assert (saved.needs[0].sourcing.state, saved.needs[0].sourcing.estimate) == ("hire", 45.5)
    text = planned.plan_text("lamp-at-the-stage")
    assert "# my own plan" in text
    assert "# as the bye-laws say" in text
    assert len(planned.scenes()) == 1


def test_nothing_takes_a_value_away(planned: Archive) -> None:
    planned.planning.change(
        "lamp-at-the-stage", intent={"key": 22}, needs={"lamp": {"sourcing": {"due": "2026-12-01"}}}
    )
    saved = planned.planning.change(
        "lamp-at-the-stage", intent={"key": None}, needs={"lamp": {"sourcing": {"due": ""}, "description": ""}}
    )
    assert saved.intent.key is None
    assert (saved.needs[0].sourcing.due, saved.needs[0].description) == ("", "")


def test_what_cannot_be_is_refused_with_its_field(planned: Archive) -> None:
    before = planned.plan_text("lamp-at-the-stage")
    for wrong in (
        {"intent": {"key": 400}}, {"intent": {"mood": "sad"}}, {"scene": {"date": "11/12/1871"}},
        {"needs": {"lamp": {"sourcing": {"state": "stolen"}}}}, {"needs": {"lamp": {"sourcing": {"estimate": -1}}}},
    ):  # fmt: skip
        with pytest.raises(PlanRefused):
            planned.planning.change("lamp-at-the-stage", **wrong)
    with pytest.raises(UnknownRecord, match="lantern"):
        planned.planning.change("lamp-at-the-stage", needs={"lantern": {"description": "x"}})
    assert planned.plan_text("lamp-at-the-stage") == before
    assert planned.scene("lamp-at-the-stage").revision == 1


def test_a_change_on_an_old_revision_is_refused(planned: Archive) -> None:
    planned.planning.change("lamp-at-the-stage", scene={"story": "first"}, expected=1)
    for late in (
        lambda: planned.planning.change("lamp-at-the-stage", scene={"story": "second"}, expected=1),
        lambda: planned.planning.add_need("lamp-at-the-stage", {"name": "X", "department": "props"}, expected=1),
        lambda: planned.planning.remove_need("lamp-at-the-stage", "lamp", expected=1),
    ):
        with pytest.raises(ChangedMeanwhile):
            late()
    assert planned.scene("lamp-at-the-stage").story == "first"


def test_needs_come_and_go(planned: Archive) -> None:
    saved = planned.planning.add_need("lamp-at-the-stage", {"name": "Bench", "department": "set", "description": ""})
    assert [need.name for need in saved.needs] == ["Lamp", "Shawl", "Bench"]
    for name in ("lamp", "shawl", "bench"):
        saved = planned.planning.remove_need("lamp-at-the-stage", name)
    assert saved.needs == ()
    assert (
        planned.planning.add_need("lamp-at-the-stage", {"name": "Lamp", "department": "props"}).needs[0].slug == "lamp"
    )


def test_a_scene_is_begun_with_a_title(archive: Archive) -> None:
    scene = archive.planning.begin("The pilot's crossing", date="autumn 1869")
    assert archive.scenes() == [scene]
    assert scene.when is not None
    with pytest.raises(ChangedMeanwhile):
        archive.planning.begin("The pilot's crossing")
    with pytest.raises(PlanRefused):
        archive.planning.begin("")
