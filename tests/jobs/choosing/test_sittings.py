"""Sittings: pairs asked and kept, hidden repeats, sheets taken in whole or not at all; and how frames stand."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawn import draw

from refarchive.archive import Archive
from refarchive.errors import BadQuery, RecordRefused, SheetRefused, UnknownRecord

PLAN = '[scene]\ntitle = "The ford"\nslug = "ford"\nevent = "e"\nstory = "s"\n'
HEAD = "scene,day,time_utc,sitting,criterion,viewer,left,right,says,reason,repeats\n"


@pytest.fixture
def shot(archive: Archive, tmp_path: Path) -> Archive:
    archive.plan(PLAN)
    for number in range(5):
        draw(tmp_path / "card" / f"F_{number}.jpg", number)
    archive.after.take("ford", tmp_path / "card")
    return archive


def answered(archive: Archive, sitting: str, times: int) -> None:
    """Answer so that a lower file name is preferred."""
    names = {frame.id: frame.source_name for frame in archive.frames("ford")}
    for _ in range(times):
        pair = archive.after.next_pair(sitting)["pair"]
        if pair is None:
            return
        left, right = pair
        archive.after.say(sitting, left, right, "left" if names[left] < names[right] else "right", "because")


def test_a_sitting_asks_keeps_and_goes_on_where_it_was_broken_off(shot: Archive) -> None:
    sitting = shot.after.sit("ford", "story", light="north window").id
    first = shot.after.next_pair(sitting)
    assert first["pair"] == shot.after.next_pair(sitting)["pair"]  # looked at twice, it is the same
    answered(shot, sitting, 6)
    before = shot.after.next_pair(sitting)["pair"]
    shot.close()
    import refarchive

    with refarchive.open(shot.folder) as again:
        assert again.after.next_pair(sitting)["pair"] == before
        assert len(again.after.judgements("ford")) == 6
        assert "north window" in again.after.sittings_told("ford")[0]
        assert again.after.still_open(sitting)


def test_some_pairs_come_again_unannounced_and_are_held_against_each_other(shot: Archive) -> None:
    sitting = shot.after.sit("ford", "story").id
    seen = []
    for _ in range(60):
        found = shot.after.next_pair(sitting)
        assert "again" not in found["words"]
        if found["pair"] is None:
            break
        seen.append(found["pair"])
        shot.after.say(sitting, *found["pair"], "neither yet")
    judgements = shot.after.judgements("ford")
    repeated = [one for one in judgements if one.repeats is not None]
    assert 2 <= len(repeated) <= len(judgements) // 3
    by_number = {one.number: one for one in judgements}
    for one in repeated:
        earlier = by_number[one.repeats]
        assert {earlier.left, earlier.right} == {one.left, one.right}
        assert one.number - earlier.number > 1
    assert "alike" in " ".join(shot.after.standing("ford", "story")["consistency"])


def test_a_pair_chosen_by_hand_is_kept_without_calling_it_a_repeat(shot: Archive) -> None:
    sitting = shot.after.sit("ford", "story").id
    ids = [frame.id for frame in shot.frames("ford")]
    kept = shot.after.say(sitting, ids[0], ids[1], "left")
    again = shot.after.say(sitting, ids[0], ids[1], "right")
    assert (kept.repeats, again.repeats) == (None, None) or again.repeats == kept.number
    with pytest.raises(RecordRefused):
        shot.after.say(sitting, ids[0], ids[0], "left")
    with pytest.raises(UnknownRecord):
        shot.after.next_pair("sitting-none")


def test_the_order_that_was_answered_by_comes_out_and_names_no_winner(shot: Archive) -> None:
    answered(shot, shot.after.sit("ford", "story").id, 80)
    found = shot.after.standing("ford", "story")
    assert [row["frame"] for row in found["strengths"]] == [f"F_{n}.jpg" for n in range(5)]
    strengths = [row["strength"] for row in found["strengths"]]  # in the order of the shoot, which was preferred here
    assert strengths == sorted(strengths, reverse=True)
    assert any("F_0.jpg is ahead of F_4.jpg" in one for one in found["ahead"])
    said = " ".join([found["words"], found["how"], *found["ahead"]])
    assert not any(word in said for word in ("winner", "best", "choose F_"))
    assert shot.after.standing("ford", "light")["strengths"] == []
    assert len(shot.after.standing_figure("ford", "story").axes[0].artists) == 5  # each with its picture
    first = shot.frames("ford")[0]
    next((shot.folder / "previews").rglob(f"{first.sha256}.jpg")).write_bytes(b"no picture")
    assert len(shot.after.standing_figure("ford", "story").axes[0].artists) == 4
    with pytest.raises(BadQuery):
        shot.after.standing_figure("ford", "light")
    with pytest.raises(BadQuery):
        shot.after.standing("ford", "beauty")


def test_others_are_counted_apart(shot: Archive) -> None:
    answered(shot, shot.after.sit("ford", "story", viewer="Ada").id, 4)
    found = shot.after.standing("ford", "story")
    assert found["strengths"] == []
    answered(shot, shot.after.sit("ford", "story").id, 4)
    found = shot.after.standing("ford", "story")
    assert sum(row["answers"] for row in found["strengths"]) == 8
    assert "Ada saw 4 pairs" in found["others"][0]


def test_a_viewer_is_one_however_the_name_is_written(shot: Archive) -> None:
    for viewer in ("Ada", "ada", ""):
        answered(shot, shot.after.sit("ford", "story", viewer=viewer).id, 2)
    assert [one.partition(" and ")[0] for one in shot.after.standing("ford", "story")["others"]] == ["ada saw 4 pairs"]


def test_frames_with_the_longest_names_are_compared_like_any_other(shot: Archive, tmp_path: Path) -> None:
    longest = [draw(tmp_path / "long" / f"{'x' * 240}{n}.jpg", 10 + n).name for n in range(2)]
    shot.after.take("ford", tmp_path / "long")
    sitting = shot.after.sit("ford", "story", frames=longest).id
    shot.after.say(sitting, *shot.after.next_pair(sitting)["pair"], "left")
    assert len(shot.after.standing("ford", "story")["strengths"]) == 2
    assert shot.after.still_open(sitting)


def test_more_frames_than_pairs_are_made_of_are_refused_before_a_sitting_is_kept(shot: Archive, monkeypatch) -> None:
    monkeypatch.setattr("refarchive.jobs.choosing.sittings.MOST_ITEMS", 4)
    with pytest.raises(BadQuery, match="5 frames are too many"):
        shot.after.sit("ford", "story")
    assert shot.after.sittings_told("ford") == []


@pytest.mark.parametrize("says", ["neither yet", "left"])
def test_one_answer_alone_is_told_as_little(shot: Archive, says: str) -> None:
    sitting = shot.after.sit("ford", "gesture", frames=["F_0.jpg", "F_1.jpg"]).id
    left, right = shot.after.next_pair(sitting)["pair"]
    shot.after.say(sitting, left, right, says)
    found = shot.after.standing("ford", "gesture")
    assert found["ahead"] == []
    assert len(found["open"]) == 1


def test_a_sitting_needs_two_frames(shot: Archive) -> None:
    with pytest.raises(BadQuery, match="at least two"):
        shot.after.sit("ford", "story", frames=["F_0.jpg"])
    with pytest.raises(RecordRefused, match="criterion"):
        shot.after.sit("ford", "beauty")


def test_what_hangs_on_the_wall_is_looked_at_where_nothing_else_is_named(shot: Archive) -> None:
    place = {"y_mm": 100, "width_mm": 277, "height_mm": 207.75}
    shot.after.hang("ford", hung=[{"frame": f"F_{n}.jpg", "x_mm": 400 * n, **place} for n in (1, 3)])
    names = {frame.id: frame.source_name for frame in shot.frames("ford")}
    assert sorted(names[one] for one in shot.after.sit("ford", "story").frames) == ["F_1.jpg", "F_3.jpg"]


def sheet(tmp_path: Path, *lines: str) -> Path:
    path = tmp_path / "sittings.csv"
    path.write_text(HEAD + "\n".join(lines) + "\n", "utf-8")
    return path


def test_a_sheet_of_sittings_is_taken_in_once_with_its_repeats(shot: Archive, tmp_path: Path) -> None:
    path = sheet(
        tmp_path,
        "ford,2027-03-01,18:00,1,story,,F_0.jpg,F_1.jpg,left,=cmd()|x,",
        "stage,2027-03-01,18:01,1,story,,S_0.jpg,S_1.jpg,left,other scene,",
        "ford,2027-03-01,18:02,1,story,,F_1.jpg,F_0.jpg,right,,1",
        "ford,2027-03-08,18:00,2,light,Ada,F_2.jpg,F_3.jpg,neither yet,渡し場,",
    )
    assert shot.after.read_sittings("ford", path) == 3
    assert shot.after.read_sittings("ford", path) == 0
    first, again, other = shot.after.judgements("ford")
    assert again.repeats == first.number
    assert (first.reason, other.reason) == ("=cmd()|x", "渡し場")
    assert [one.viewer for one in map(shot._kit.store.after.sitting, (first.sitting, other.sitting))] == ["", "Ada"]


def test_a_sheet_that_grew_brings_what_it_gained_and_the_repeats_of_what_was_there(shot, tmp_path: Path) -> None:
    first = "ford,2027-03-01,,1,story,,F_0.jpg,F_1.jpg,left,,"
    assert shot.after.read_sittings("ford", sheet(tmp_path, first)) == 1
    grown = [
        first,
        "ford,2027-03-01,,1,story,,F_0.jpg,F_1.jpg,right,the same pair without a time,1",
        "ford,2027-03-01,,1,story,,F_2.jpg,F_1.jpg,left,,",
        "ford,2027-03-08,,2,story,,F_1.jpg,F_2.jpg,right,,3",
        "ford,2027-03-08,,2,story,,F_0.jpg,F_1.jpg,left,,1",
    ]
    assert shot.after.read_sittings("ford", sheet(tmp_path, *grown)) == 4
    assert shot.after.read_sittings("ford", sheet(tmp_path, *grown)) == 0
    said = shot.after.judgements("ford")
    assert [one.repeats for one in said] == [None, said[0].number, None, said[2].number, said[0].number]
    assert len(shot.after.sittings_told("ford")) == 2


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("ford,2027-03-01,18:00,1,story,,F_9.jpg,F_1.jpg,left,,", "no frame 'F_9.jpg'"),
        ("ford,2027-03-01,18:00,1,story,,F_0.jpg,F_1.jpg,both,,", "no answer"),
        ("ford,2027-03-01,18:00,1,beauty,,F_0.jpg,F_1.jpg,left,,", "no criterion"),
        ("ford,someday,18:00,1,story,,F_0.jpg,F_1.jpg,left,,", "no moment"),
        ("ford,2027-03-01,18:00+01:00,1,story,,F_0.jpg,F_1.jpg,left,,", "zone"),
        ("ford,2027-03-01,18:00,1,story,,F_0.jpg,F_0.jpg,left,,", "two frames"),
        ("ford,2027-03-01,18:00,1,story,,F_0.jpg,F_1.jpg,left,,first", "number of a line"),
        ("ford,2027-03-01,18:00,1,story,,F_0.jpg,F_1.jpg,left,,2", "number of a line before"),
        (f"ford,2027-03-01,18:00,1,story,,F_0.jpg,F_1.jpg,left,,{'9' * 5000}", "number of a line"),
        (f"ford,2027-03-01,18:00,1,story,,F_0.jpg,F_1.jpg,left,{'x' * 501},", "500 characters"),
    ],
)
def test_a_line_that_cannot_be_is_refused_with_its_number_and_nothing_is_kept(shot, tmp_path, line, words) -> None:
    good = "ford,2027-03-01,17:00,1,story,,F_2.jpg,F_3.jpg,left,,"
    with pytest.raises(SheetRefused, match=words) as caught:
        shot.after.read_sittings("ford", sheet(tmp_path, good, line))
    assert caught.value.next_step
    assert shot.after.judgements("ford") == []


def test_what_is_no_sheet_is_refused(shot: Archive, tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "b.csv").write_text("left,right\n", "utf-8")
    for name in ("a.csv", "b.csv", "none.csv"):
        with pytest.raises(SheetRefused):
            shot.after.read_sittings("ford", tmp_path / name)
