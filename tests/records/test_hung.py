"""What is kept after the shoot: added and never overwritten, refused whole, read back as it was."""

from __future__ import annotations

from dataclasses import replace

import pytest

from refarchive.errors import ChangedMeanwhile, RecordRefused, UnknownRecord
from refarchive.records import wall
from refarchive.records.model import Frame, Scene
from refarchive.records.store import Store

AT = "2027-10-20T18:00:00+00:00"


@pytest.fixture
def store(new_store):
    with new_store() as opened:
        for slug in ("ford", "stage"):
            opened.save_scene(Scene(slug=slug, title=slug, event="", story=""))
        for number in range(4):
            opened.add_frame(Frame(f"f{number}", "ford", f"{number}.jpg", f"{number}" * 64, ".jpg", 1500, 1000))
        opened.add_frame(Frame("other", "stage", "o.jpg", "9" * 64, ".jpg", 10, 10, taken="2027-10-11T14:50:01.25"))
        yield opened


def sat(store: Store, name: str = "s1", criterion: str = "story") -> str:
    store.after.begin_sitting(wall.Sitting(name, "ford", criterion, AT, seed=7, frames=("f0", "f1")))
    return name


def test_a_sitting_comes_back_with_what_was_said_in_order(store: Store) -> None:
    name = sat(store)
    first = store.after.add_judgement(wall.Judgement(name, "f0", "f1", "left", AT, "her hand tells it"))
    again = store.after.add_judgement(wall.Judgement(name, "f1", "f0", "neither yet", AT, repeats=first.number))
    assert store.after.judgements("ford") == [first, again]
    assert (first.ahead, again.ahead) == ("f0", "")
    assert store.after.sittings("ford") == [wall.Sitting(name, "ford", "story", AT, seed=7, frames=("f0", "f1"))]
    assert store.after.judgements("ford", "light") == []


@pytest.mark.parametrize(
    ("judgement", "error"),
    [
        (wall.Judgement("s1", "f0", "f0", "left", AT), RecordRefused),
        (wall.Judgement("s1", "f0", "f1", "both", AT), RecordRefused),
        (wall.Judgement("s1", "f0", "other", "left", AT), RecordRefused),
        (wall.Judgement("s1", "f0", "nowhere", "left", AT), UnknownRecord),
        (wall.Judgement("none", "f0", "f1", "left", AT), UnknownRecord),
        (wall.Judgement("s1", "f0", "f1", "left", AT, "x" * 501), RecordRefused),
        (wall.Judgement("s1", "f0", "f1", "left", AT, repeats=99), RecordRefused),
    ],
)
def test_what_cannot_have_been_said_is_refused_and_not_kept(store, judgement, error) -> None:
    sat(store)
    with pytest.raises(error) as caught:
        store.after.add_judgement(judgement)
    assert caught.value.next_step
    assert store.after.judgements("ford") == []


def test_a_repeat_asks_of_the_same_pair_by_the_same_criterion(store: Store) -> None:
    first = store.after.add_judgement(wall.Judgement(sat(store), "f0", "f1", "left", AT))
    for other in (
        wall.Judgement("s1", "f0", "f2", "left", AT, repeats=first.number),
        wall.Judgement(sat(store, "s2", "light"), "f0", "f1", "left", AT, repeats=first.number),
    ):
        with pytest.raises(RecordRefused, match="repeat"):
            store.after.add_judgement(other)


def test_an_unknown_criterion_and_scene_are_refused(store: Store) -> None:
    with pytest.raises(RecordRefused, match="criterion"):
        sat(store, criterion="beauty")
    with pytest.raises(UnknownRecord):
        store.after.begin_sitting(wall.Sitting("s", "nowhere", "story", AT))


def test_every_arrangement_of_a_wall_is_kept(store: Store) -> None:
    one = wall.Hung("f0", 300.0, 800.0, 277.0, 184.7, print="p1")
    early = store.after.add_arrangement(wall.Arrangement("north", "ford", AT, 4000, 2500, (one,)))
    moved = replace(early, at="2027-10-27T18:00:00+00:00", hung=(replace(one, x_mm=900.0),), number=0)
    late = store.after.add_arrangement(moved)
    assert store.after.arrangements("ford") == [early, late]
    for wrong in (
        replace(moved, width_mm=0.0),
        replace(moved, hung=(replace(one, width_mm=-1.0),)),
        replace(moved, hung=(replace(one, x_mm=float("nan")),)),
        replace(moved, hung=(one,) * 501),
    ):
        with pytest.raises(RecordRefused):
            store.after.add_arrangement(wrong)
    assert len(store.after.arrangements("ford")) == 2


def test_a_decision_keeps_what_was_turned_down_and_stands_beside_an_earlier_one(store: Store) -> None:
    first = store.after.add_decision(
        wall.Decision("ford", "f1", AT, "The wheel is already sinking.", (("f0", "nobody looks at the water"),))
    )
    second = store.after.add_decision(wall.Decision("ford", "f2", "2027-12-01T10:00:00+00:00", "His hand says stop."))
    assert store.after.decisions("ford") == [first, second]
    assert store.after.decisions() == [first, second]
    for wrong in (
        wall.Decision("ford", "f1", AT, "  "),
        wall.Decision("ford", "f1", AT, "x", (("f1", ""),)),
        wall.Decision("ford", "f1", AT, "x", (("f0", ""), ("f0", ""))),
        wall.Decision("ford", "other", AT, "x"),
    ):
        with pytest.raises(RecordRefused):
            store.after.add_decision(wrong)


def test_orders_of_a_series_are_kept_one_after_another(store: Store) -> None:
    for frames in (("f1", "other"), ("other", "f1")):
        store.after.add_order(wall.SeriesOrder("The crossing", AT, frames))
    assert [one.frames for one in store.after.orders("The crossing")] == [("f1", "other"), ("other", "f1")]
    with pytest.raises(RecordRefused):
        store.after.add_order(wall.SeriesOrder("The crossing", AT, ("f1", "f1")))


FULL = wall.Particulars(
    "f0",
    title="Переправа",
    note="渡し場 · معبر",
    keywords=("ford",),
    taken_at=wall.Place(city="Merrow Sands", latitude=54.0, longitude=-3.0),
    contributors=(("Ada Invented", "costume"),),
    leaves=(wall.Leave("model", "J. Doe", state="granted", evidence="letter"),),
    parts=(wall.Part("cart", (0.1, 0.2, 0.3, 0.4), "supported", "cart", "the inventory"),),
    editions=(wall.Edition("large", 900, 600, 5, 2, 3, 1),),
)


def test_particulars_come_back_whole_and_are_changed_on_the_revision_they_were_read_at(store: Store) -> None:
    assert store.after.particulars("f0") == (wall.Particulars("f0"), 0)
    assert store.after.put_particulars(FULL, expected=0) == 1
    assert store.after.particulars("f0") == (FULL, 1)
    assert store.after.put_particulars(FULL) == 1  # unchanged
    with pytest.raises(ChangedMeanwhile):
        store.after.put_particulars(replace(FULL, title="x"), expected=0)
    assert store.after.particulars("f0") == (FULL, 1)
    assert [one.action for one in store.history("picture:f0")] == ["added"]


@pytest.mark.parametrize(
    "wrong",
    [
        replace(FULL, leaves=(wall.Leave("ghost", "x"),)),
        replace(FULL, leaves=(wall.Leave("model", "x", state="surely"),)),
        replace(FULL, parts=(wall.Part("x", (0.9, 0.0, 0.2, 0.2), "supported"),)),
        replace(FULL, parts=(wall.Part("x", (0.1, 0.1, 0.2, 0.2), "true"),)),
        replace(FULL, editions=(wall.Edition("x", 0, 10, 1),)),
        replace(FULL, editions=(wall.Edition("x", 10, 10, -1),)),
        replace(FULL, caption="x" * 20_001),
        replace(FULL, keywords=("x",) * 201),
    ],
)
def test_particulars_that_cannot_be_are_refused(store: Store, wrong: wall.Particulars) -> None:
    with pytest.raises(RecordRefused) as caught:
        store.after.put_particulars(wrong)
    assert caught.value.next_step
    assert store.after.particulars("f0")[1] == 0


def test_looks_are_kept_for_the_version_that_measured_them(store: Store) -> None:
    store.after.put_looks({"f0": {"shift": [1.5, 0.0]}, "other": {}}, "1")
    assert store.after.looks("ford", "1") == {"f0": {"shift": [1.5, 0.0]}}
    assert store.after.looks("ford", "2") == {}
    with pytest.raises(UnknownRecord):
        store.after.put_looks({"nowhere": {}}, "1")


def test_prints_come_back_by_day_and_frames_keep_the_cameras_clock(store: Store) -> None:
    later = wall.Print("p2", "f0", "s2", "2027-10-21", 277, 184.7, 207.5, "matt")
    early = wall.Print("p1", "f1", "s1", "2027-10-20", 90, 60, 423.3)
    store.after.add_prints([later, early])
    assert store.after.prints("ford") == [early, later]
    assert store.after.prints("stage") == []
    assert store.frames("stage")[0].taken == "2027-10-11T14:50:01.25"
