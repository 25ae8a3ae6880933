"""Decisions and what follows from them: the finished pictures of a series, in order, and another frame among them."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawn import draw
from PIL.Image import Image

from refarchive.archive import Archive
from refarchive.errors import BadQuery, CannotMeasure, RecordRefused, UnknownRecord
from refarchive.jobs.choosing import in_series
from refarchive.jobs.kit import Kit
from refarchive.records.model import Frame

PLAN = """[scene]
title = "{title}"
slug = "{slug}"
series = "Water"
event = "e"
story = "s"
date = "{date}"
place = "Merrow Sands"
[[need]]
name = "Staff"
department = "props"
"""
SCENES = (("ford", "The ford", "1869-10-14"), ("stage", "The stage", "1872-10-29"), ("sands", "The sands", "1871"))


@pytest.fixture
def series(archive: Archive, tmp_path: Path) -> Archive:
    """Three scenes of two frames each; two of them decided."""
    for number, (slug, title, date) in enumerate(SCENES):
        archive.plan(PLAN.format(slug=slug, title=title, date=date))
        for frame in range(2):
            draw(tmp_path / slug / f"{slug}-{frame}.jpg", 10 * number + frame)
        archive.after.take(slug, tmp_path / slug)
    for slug in ("ford", "stage"):
        archive.after.decide(slug, f"{slug}-1.jpg", "It is this one.", turned_down={f"{slug}-0.jpg": "nobody moves"})
    return archive


def test_a_decision_is_told_with_what_was_turned_down(series: Archive) -> None:
    (told,) = series.after.decisions_told("ford")
    assert "ford-1.jpg. It is this one." in told["words"]
    assert told["turned_down"] == ["ford-0.jpg: nobody moves"]
    series.after.decide("ford", "ford-0.jpg", "I was wrong.", at="2099-01-01T00:00:00+00:00")
    assert [one["sentence"] for one in series.after.decisions_told("ford")] == ["I was wrong.", "It is this one."]
    assert series.publishing.frame("ford") == series.frames("ford")[0].id
    with pytest.raises(RecordRefused):
        series.after.decide("ford", "ford-0.jpg", " ")
    with pytest.raises(UnknownRecord):
        series.after.decide("ford", "stage-0.jpg", "x")


def test_the_last_decision_of_each_scene_makes_the_series(series: Archive) -> None:
    document = series.series.document()
    assert [one["name"] for one in document["pictures"]] == ["ford-1.jpg", "stage-1.jpg"]
    assert document["told"] == ["Not decided yet: The sands."]
    (pair,) = document["neighbours"]
    assert {one["measure"] for one in pair["differences"]} >= {"palette", "key", "contrast"}
    assert {("Staff", "props"), ("Merrow Sands", "place")} <= {(r["what"], r["kind"]) for r in pair["repeats"]}


def test_a_kept_order_holds_and_a_later_picture_comes_after_it(series: Archive) -> None:
    ids = [one["id"] for one in series.series.in_order()["pictures"]]
    series.series.keep_order("Water", ids[::-1], "dark first")
    assert [one["id"] for one in series.series.in_order()["pictures"]] == ids[::-1]
    assert any("dark first" in words for words in series.series.in_order()["told"])
    series.after.decide("sands", "sands-0.jpg", "At last.")
    assert [one["scene"] for one in series.series.in_order()["pictures"]] == ["stage", "ford", "sands"]
    for wrong in (ids[:1], [*ids, ids[0]], ["frame-none", *ids]):
        with pytest.raises(BadQuery):
            series.series.keep_order("Water", wrong)


def test_a_candidate_is_tried_at_every_place_without_its_own_scene(series: Archive) -> None:
    tried = series.series.sit("ford", "ford-0.jpg")
    assert [seat["where"] for seat in tried["seats"]] == ["before The stage", "after The stage"]
    alone = series.series.sit("sands", "sands-0.jpg")
    assert len(alone["seats"]) == 3


def test_another_order_is_proposed_as_figures_and_not_kept(series: Archive) -> None:
    series.after.decide("sands", "sands-0.jpg", "At last.")
    before = series.series.in_order()["pictures"]
    found = series.series.propose("", "by date of event")
    by_id = {one["id"]: one["scene"] for one in before}
    assert [by_id[one] for one in found["frames"]] == ["ford", "sands", "stage"]
    smooth = series.series.propose("", "smooth", "key")
    assert smooth["then"]["total"] <= smooth["now"]["total"]
    assert series.series.in_order()["pictures"] == before
    with pytest.raises(CannotMeasure, match="one measure"):
        series.series.propose("", "smooth")


def test_a_series_there_is_none_of_is_refused(archive: Archive) -> None:
    archive.plan('[scene]\ntitle = "Alone"\nslug = "alone"\nevent = "e"\nstory = "s"\n')
    with pytest.raises(BadQuery, match="more than one series, or none"):
        archive.series.document()
    with pytest.raises(BadQuery, match="no series 'x'"):
        archive.series.document("x")


def test_a_picture_is_measured_once_until_its_record_changes(series: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    picture = in_series.frame_picture

    def counted(kit: Kit, frame: Frame, longest: int) -> Image:
        opened.append(frame.source_name)
        return picture(kit, frame, longest)

    monkeypatch.setattr(in_series, "frame_picture", counted)
    first = series.series.document()
    series.series.sit("sands", "sands-0.jpg")
    assert series.series.document() == first
    assert sorted(opened) == ["ford-1.jpg", "sands-0.jpg", "stage-1.jpg"]
    changed = PLAN.format(slug="ford", title="The ford", date="1869-10-14").replace("Merrow Sands", "Elsewhere")
    series.plan(changed)
    assert not [r for pair in series.series.document()["neighbours"] for r in pair["repeats"] if r["kind"] == "place"]
    assert opened.count("ford-1.jpg") == 2
    assert opened.count("stage-1.jpg") == 1
