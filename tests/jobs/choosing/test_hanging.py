"""What hangs where: every arrangement kept, told, and printed to scale."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawn import draw

from refarchive.archive import Archive
from refarchive.errors import BadQuery, RecordRefused, UnknownRecord
from refarchive.jobs.choosing.hanging import pieces_of

PLAN = '[scene]\ntitle = "The ford"\nslug = "ford"\nseries = "Water"\nevent = "e"\nstory = "s"\n'
ONE = {"frame": "F_0.jpg", "x_mm": 300, "y_mm": 700, "width_mm": 277, "height_mm": 207.75}
TWO = {"frame": "F_1.jpg", "x_mm": 700, "y_mm": 700, "width_mm": 277, "height_mm": 207.75}


@pytest.fixture
def hung(archive: Archive, tmp_path: Path) -> Archive:
    archive.plan(PLAN)
    for number in range(3):
        draw(tmp_path / "card" / f"F_{number}.jpg", number)
    archive.after.take("ford", tmp_path / "card")
    archive.after.hang("ford", hung=[ONE], wall="north", at="2026-01-20T18:00:00+00:00", light="north window")
    return archive


def test_every_arrangement_stays_and_says_since_when_a_print_hangs(hung: Archive, tmp_path: Path) -> None:
    hung.after.hang("ford", hung=[ONE, TWO], wall="north", at="2026-01-27T18:00:00+00:00", note="two now")
    early, late = hung.after.walls("ford")
    assert [len(one["hung"]) for one in (early, late)] == [1, 2]
    assert "by north window" in early["words"]
    assert late["words"].endswith("2 pictures. two now")
    made = hung.after.print_wall("ford", out=tmp_path / "out")
    assert made.pdf.name == "ford-wall-2026-01-27.pdf"
    assert "1:" in made.words
    text = _text(made.pdf)
    assert "F_0.jpg" in text
    assert "2026-01-20" in text  # since then F_0 hangs without a break
    first = hung.after.print_wall("ford", number=early["number"], out=tmp_path / "out")
    assert "F_1.jpg" not in _text(first.pdf)


def _text(pdf: Path) -> str:
    from pypdf import PdfReader

    return "\n".join(page.extract_text() for page in PdfReader(pdf).pages)


def test_what_is_amiss_is_told_and_not_mended(hung: Archive) -> None:
    crossing = {**TWO, "x_mm": 400}
    outside = {**ONE, "frame": "F_2.jpg", "x_mm": 3900}
    hung.after.hang("ford", hung=[ONE, crossing, outside])
    problems = " ".join(hung.after.walls("ford")[-1]["problems"])
    assert "F_1.jpg" in problems
    assert "right edge" in problems
    assert hung.after.walls("ford")[-1]["hung"][1]["x_mm"] == 400


def test_a_photograph_of_the_wall_is_kept_with_it(hung: Archive, tmp_path: Path) -> None:
    photograph = draw(tmp_path / "wall.jpg", 7)
    hung.after.hang("ford", hung=[ONE], photograph=photograph)
    last = hung.after.walls("ford")[-1]
    assert last["photographed"]
    assert hung.after.wall_photograph("ford", last["number"]).size[0] > 0
    with pytest.raises(UnknownRecord):
        hung.after.wall_photograph("ford", hung.after.walls("ford")[0]["number"])


@pytest.mark.parametrize(
    "wrong",
    [
        {**ONE, "frame": "nowhere.jpg"},
        {**ONE, "width_mm": "wide"},
        {**ONE, "x_mm": float("inf")},
        {**ONE, "width_mm": 0},
        {**ONE, "width_mm": 0.5},
        {**ONE, "height_mm": 20_001},
        {**ONE, "x_mm": 10**400},
        {**ONE, "pin": True},
        {"frame": "F_0.jpg"},
    ],
)
def test_what_cannot_hang_is_refused_and_nothing_kept(hung: Archive, wrong: dict[str, object]) -> None:
    with pytest.raises((BadQuery, RecordRefused, UnknownRecord)) as caught:
        hung.after.hang("ford", hung=[wrong])
    assert caught.value.next_step
    assert len(hung.after.walls("ford")) == 1


def test_a_wall_there_is_none_of_is_refused(hung: Archive, tmp_path: Path) -> None:
    with pytest.raises(UnknownRecord):
        hung.after.print_wall("ford", number=99, out=tmp_path)
    hung.plan(PLAN.replace("ford", "stage").replace("The ford", "The stage"))
    with pytest.raises(UnknownRecord, match="hangs"):
        hung.after.print_wall("stage", out=tmp_path)


@pytest.mark.parametrize("wall", [{"width_mm": 4.0}, {"height_mm": 199}, {"hung": [ONE] * 201}])
def test_a_wall_that_could_not_be_drawn_is_refused_and_hides_no_other(hung: Archive, wall: dict[str, object]) -> None:
    with pytest.raises(RecordRefused):
        hung.after.hang("ford", **{"hung": [ONE], **wall})
    assert len(hung.after.walls("ford")) == 1


def test_a_print_hangs_since_the_day_it_was_hung_whenever_that_was_written_down(hung: Archive) -> None:
    hung.after.hang("ford", hung=[ONE, TWO], wall="north", at="2026-01-13T18:00:00+00:00")  # told afterwards
    history = hung._kit.store.after.arrangements("ford")
    since = [{p.name: p.since for p in pieces_of(hung._kit, one, history).values()} for one in history]
    assert since == [{"F_0.jpg": "2026-01-13", "F_1.jpg": "2026-01-13"}, {"F_0.jpg": "2026-01-13"}]


def test_what_hung_is_in_the_order_of_its_moments_whatever_zone_they_were_told_in(hung: Archive, tmp_path) -> None:
    hung.after.hang("ford", hung=[TWO], wall="east", at="2026-01-20T18:30:00+01:00")  # half an hour before the other
    assert [one["wall"] for one in hung.after.walls("ford")] == ["east", "north"]
    assert hung.after.walls("ford")[0]["at"] == "2026-01-20T17:30:00+00:00"
    for wrong in ("someday", "../../../x", "0001-01-01T00:00:00+14:00"):
        with pytest.raises(RecordRefused, match="no moment"):
            hung.after.hang("ford", hung=[ONE], at=wrong)
        with pytest.raises(RecordRefused, match="no moment"):
            hung.after.decide("ford", "F_0.jpg", "It is this one.", at=wrong)
        with pytest.raises(RecordRefused, match="no moment"):
            hung.series.keep_order("", [], at=wrong)
