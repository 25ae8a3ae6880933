"""Plans changed value by value: what is said is changed, what a person wrote stays, and nothing is overwritten."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from refarchive.archive import Archive
from refarchive.errors import ChangedMeanwhile, PlanRefused, UnknownRecord

SLUG = "lamp-at-the-stage"
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


def test_lists_of_tables_are_taken_as_a_whole_and_written_a_line_each(planned: Archive) -> None:
    colours = [{"hex": "#1c2530", "share": 0.6, "name": "night"}, {"hex": "#c98a3c", "share": 0.4, "name": ""}]
    saved = planned.planning.change(SLUG, intent={"palette": colours}, variations=[{"title": "Out", "moment": "dark"}])
    assert [(c.hex, c.share, c.name) for c in saved.intent.palette] == [
        ("#1c2530", 0.6, "night"),
        ("#c98a3c", 0.4, ""),
    ]
    assert (saved.variations[0].title, saved.variations[0].moment) == ("Out", "dark")
    text = planned.plan_text(SLUG)
    assert '    {hex = "#1c2530", share = 0.6, name = "night"},' in text.splitlines()
    assert planned.planning.change(SLUG, intent={"palette": []}, variations=[]).intent.palette == ()
    with pytest.raises(PlanRefused, match=r"add up to 0\.60"):
        planned.planning.change(SLUG, intent={"palette": colours[:1]})


def test_figures_are_added_changed_and_kept_while_a_need_is_theirs(planned: Archive) -> None:
    planned.planning.add_figure(SLUG, {"name": "Agnes", "role": "waits", "sizes": {"height": "164 cm"}})
    planned.planning.change(SLUG, figures={"agnes": {"name": "Agnes S.", "sizes": {"height": "165 cm", "shoe": "38"}}})
    saved = planned.planning.change(SLUG, needs={"shawl": {"figure": "agnes", "facts": {"material": "wool"}}})
    assert (saved.figures[0].slug, saved.figures[0].name) == ("agnes", "Agnes S.")
    assert dict(saved.figures[0].sizes) == {"height": "165 cm", "shoe": "38"}
    assert saved.needs[1].facts == (("Material", "wool"),)
    with pytest.raises(PlanRefused, match="no figure 'agnes'"):
        planned.planning.remove_figure(SLUG, "agnes")
    planned.planning.change(SLUG, needs={"shawl": {"figure": ""}})
    assert planned.planning.remove_figure(SLUG, "agnes").figures == ()
    with pytest.raises(UnknownRecord, match="has no figure 'agnes'"):
        planned.planning.change(SLUG, figures={"agnes": {"role": "x"}})


def test_safety_is_told_by_topic(planned: Archive) -> None:
    assert planned.planning.change(SLUG, safety={"tide": "One watches the clock."}).safety == (
        ("tide", "One watches the clock."),
    )
    with pytest.raises(PlanRefused, match="safety"):
        planned.planning.change(SLUG, safety={"weather": "x"})


def test_evidence_is_judged_anew(planned: Archive, folder: Path) -> None:
    planned.gather(folder)
    planned.evidence.link(SLUG, "lamp", "b.png", note="the bracket", fit={"place": "far"})
    saved = planned.planning.judge(SLUG, "lamp", 0, note="the handle", fit={"rank": "exact"})
    (one,) = saved.needs[0].evidence
    assert (one.note, one.fit) == ("the handle", (("rank", "exact"),))
    with pytest.raises(UnknownRecord, match="no evidence 1"):
        planned.planning.judge(SLUG, "lamp", 1, note="", fit={})
    with pytest.raises(PlanRefused, match="fit"):
        planned.planning.judge(SLUG, "lamp", 0, note="", fit={"rank": "very"})


def test_a_question_is_answered_and_the_answer_taken_back(planned: Archive) -> None:
    planned.planning.change(SLUG, scene={"date": "1830"}, needs={"lamp": {"description": "a paraffin lamp of tin"}})

    def row() -> dict[str, Any]:
        return planned.evidence.coverage(SLUG)["needs"][0]

    (question,) = row()["anachronisms"]
    assert question["answer"] is None
    saved = planned.planning.answer(SLUG, "lamp", question["thing"], "another thing is meant", "colza oil")
    assert [(a.thing, a.says, a.note) for a in saved.needs[0].answers] == [
        ("paraffin lamp", "another thing is meant", "colza oil")
    ]
    assert row()["anachronisms"] == []
    assert row()["answered"][0]["answer"]["note"] == "colza oil"
    planned.planning.answer(SLUG, "lamp", "Paraffin lamp", "kept on purpose")
    assert len(planned.scene(SLUG).needs[0].answers) == 1
    planned.planning.answer(SLUG, "lamp", "paraffin lamp", "")
    assert len(row()["anachronisms"]) == 1
    with pytest.raises(PlanRefused, match="says"):
        planned.planning.answer(SLUG, "lamp", "paraffin lamp", "perhaps")


def test_the_colours_of_a_picture_can_stand_as_a_palette(planned: Archive, tmp_path: Path) -> None:
    picture = Image.new("RGB", (90, 60), "#1c2530")
    picture.paste("#c98a3c", (0, 0, 30, 60))
    picture.save(tmp_path / "two.png")
    planned.gather(tmp_path / "two.png")
    colours = planned.planning.colours_of("two.png", 2)
    assert [(one["hex"], one["share"]) for one in colours] == [("#1c2530", 0.67), ("#c98a3c", 0.33)]
    assert planned.planning.change(SLUG, intent={"palette": colours}).intent.palette[1].share == 0.33
