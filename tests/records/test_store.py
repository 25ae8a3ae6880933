"""The store: one transaction a change, told in history; every refusal has a name and changes nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import archive_of_version_1 as some
import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refarchive.errors import (
    AmbiguousName,
    ArchiveInTheWay,
    BadQuery,
    InUse,
    RecordRefused,
    UnknownRecord,
)
from refarchive.records import selecting, shared, sqlite
from refarchive.records.ids import detail_id, frame_id, object_id, passage_id, reference_id
from refarchive.records.model import (
    Detail,
    Evidence,
    Filter,
    FrameNote,
    Intent,
    Need,
    NewReference,
    Passage,
    Reference,
    Scene,
    SourceMark,
    Swatch,
    When,
    Witness,
)
from refarchive.records.store import Store


@pytest.fixture
def store(new_store: Callable[..., Store]):
    with new_store() as made:
        yield made


@pytest.fixture
def full(store: Store) -> Store:
    some.fill(store)
    return store


def picture(n: int, **fields: object) -> Reference:
    digest = f"{n:064x}"[::-1]
    given = {"id": reference_id(digest), "title": f"Picture {n}", "source_name": f"{n}.jpg", "sha256": digest}
    return Reference(kind="image", **{**given, **fields})  # type: ignore[arg-type]


def held(store: Store) -> dict[str, list[str]]:
    """Everything in the database, by table."""
    with sqlite.reading(store._engine) as connection:
        names = sa.inspect(connection).get_table_names()
        rows = {name: connection.execute(sa.text(f'SELECT * FROM "{name}"')).all() for name in names}
    return {name: sorted(map(repr, found)) for name, found in rows.items()}


# --- the file -----------------------------------------------------------------------------------------------------


def test_foreign_keys_hold_even_where_no_check_of_ours_is_made(full: Store) -> None:
    with pytest.raises(RecordRefused, match=r"(?i)foreign key"), sqlite.writing(full._engine) as connection:
        connection.exec_driver_sql("UPDATE evidence SET reference = 'nothing'")
    with pytest.raises(RecordRefused, match=r"(?i)check"), sqlite.writing(full._engine) as connection:
        connection.exec_driver_sql("UPDATE evidence SET relation = 'likes'")
    assert full.scene("first-light").needs == some.SCENE.needs


def test_an_archive_in_the_way_is_left_alone(full: Store) -> None:
    before = held(full)
    with pytest.raises(ArchiveInTheWay):
        Store.create(full.folder, shared=shared.read(full.folder))
    assert held(full) == before


def test_who_is_told_asked_for_or_the_login(new_store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import getpass

    monkeypatch.setenv("REFARCHIVE_WHO", "from the environment")
    with new_store(who="") as store:
        assert store.who == "from the environment"
    monkeypatch.delenv("REFARCHIVE_WHO")
    monkeypatch.setattr(getpass, "getuser", lambda: "login")
    with Store.open(tmp_path) as store:
        assert store.who == "login"
    with Store.open(tmp_path, who="told") as store:
        assert store.who == "told"

    def nobody() -> str:
        raise OSError

    monkeypatch.setattr(getpass, "getuser", nobody)
    with Store.open(tmp_path) as store:
        assert store.who == "unknown"


# --- two at once --------------------------------------------------------------------------------------------------


def test_two_stores_see_each_others_changes(full: Store) -> None:
    with Store.open(full.folder, who="other") as other:
        other.change_reference(some.PICTURE.id, title="Seen by both")
        assert full.reference(some.PICTURE.id).title == "Seen by both"
        full.add_references([NewReference(picture(7))])
        assert other.count() == 4
        assert [i for i, _ in other.search_words("picture", table="references")] == [picture(7).id]
    assert full.history("reference:" + some.PICTURE.id)[0].who == "other"


def test_one_reading_sees_one_state_while_another_writes(full: Store) -> None:
    with Store.open(full.folder) as other, sqlite.reading(full._engine) as connection:
        count = sa.text("SELECT count(*) FROM reference")
        assert connection.execute(count).scalar() == 3
        other.add_references([NewReference(picture(1))])
        assert connection.execute(count).scalar() == 3
    assert full.count() == 4


def test_two_processes_writing_at_once_lose_nothing(store: Store) -> None:
    child = """
import sys
from pathlib import Path
from refarchive.records.model import NewReference, Reference
from refarchive.records.store import Store
start = int(sys.argv[2])
with Store.open(Path(sys.argv[1]), who=sys.argv[2]) as store:
    for n in range(start, start + 20):
        new = Reference(f"ref-{n:012d}", "image", f"P {n}", f"{n}.jpg", sha256=f"{n:064d}")
        store.add_references([NewReference(new)])
        store.change_reference("ref-shared", place=f"{n}")
"""
    store.add_references([NewReference(Reference("ref-shared", "object", "Shared", ""))])
    run = [
        subprocess.Popen([sys.executable, "-c", child, str(store.folder), start], cwd=store.folder)
        for start in ("100", "200")
    ]
    assert [process.wait(timeout=120) for process in run] == [0, 0]
    assert store.count() == 41
    assert sorted(r.source_name for r in store.references() if r.sha256) == sorted(
        f"{n}.jpg" for n in (*range(100, 120), *range(200, 220))
    )
    changed = [change for change in store.history("reference:ref-shared") if change.action == "changed"]
    assert len(changed) == 40
    for newer, older in pairwise(changed):  # nobody's change was made on a state already gone
        assert newer.before == older.after
    if store.shared is None:
        with sqlite.reading(store._engine) as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").all() == [("ok",)]


# --- references ---------------------------------------------------------------------------------------------------

words = st.text(max_size=20)
days = st.none() | st.integers(-2_000_000, 6_000_000)
whens = st.none() | st.builds(When, words, words, days, days)


@given(
    st.builds(
        Reference,
        id=st.just("ref-1"),
        kind=st.sampled_from(["image", "text", "object"]),
        title=words,
        source_name=words,
        creator=words,
        when=whens,
        place=words,
        description=words,
        rights=words,
        subjects=st.lists(words, max_size=3).map(tuple),
        witness=st.sampled_from(Witness),
        width=st.integers(0, 2**31),
        height=st.integers(0, 2**31),
        added_at=words,
    )
)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_reference_comes_back_as_it_went_in(store: Store, reference: Reference) -> None:
    with sqlite.writing(store._engine) as connection:
        selecting.drop_words(connection, "ref-1")
        connection.exec_driver_sql("DELETE FROM reference")
    store.add_references([NewReference(reference)])
    assert store.reference("ref-1") == reference


def test_references_come_in_the_order_added_or_asked_for(full: Store) -> None:
    a, b, c = some.PICTURE, some.LETTER, some.LANTERN
    assert full.references() == [a, b, c]
    assert full.references([c.id, a.id]) == [c, a]
    assert full.references([]) == []
    assert full.reference_by_sha256("b" * 64) == b
    assert full.reference_by_sha256("e" * 64) is None
    assert full.references_named("letter.txt") == [b]
    assert full.references_named("letter.t", beginning=True) == [b]
    assert full.references_named("LETTER.t", beginning=True) == full.references_named("lett_r", beginning=True) == []
    full.change_reference(a.id, title="x")
    assert [r.id for r in full.references()] == [a.id, b.id, c.id]


def test_a_crash_in_the_middle_of_a_batch_leaves_nothing(full: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    before = held(full)
    calls = []

    def power_cut(connection: sa.Connection, reference: Reference, **_: object) -> None:
        calls.append(reference)
        if len(calls) == 3:
            raise KeyboardInterrupt
        real(connection, reference)

    real = selecting.put_reference_words
    monkeypatch.setattr(selecting, "put_reference_words", power_cut)
    batch = [
        NewReference(
            picture(n), (Passage(f"x.p{n}", picture(n).id, 1, "t", 0, 1),), (SourceMark("r", f"{n}", 1, 1, "", None),)
        )
        for n in range(5)
    ]
    with pytest.raises(KeyboardInterrupt):
        full.add_references(batch)
    assert len(calls) == 3
    assert held(full) == before
    monkeypatch.undo()
    full.add_references(batch)
    assert full.count() == 8


def test_a_process_killed_in_the_middle_of_a_batch_leaves_nothing(full: Store) -> None:
    before = held(full)
    child = """
import os, sys
from pathlib import Path
from refarchive.records import selecting
from refarchive.records.model import NewReference, Reference
from refarchive.records.store import Store
put = selecting.put_reference_words
def dies(connection, reference, **k):
    put(connection, reference)
    if reference.id == "ref-3":
        os._exit(9)
selecting.put_reference_words = dies
store = Store.open(Path(sys.argv[1]))
store.add_references([NewReference(Reference(f"ref-{n}", "object", "t", "")) for n in range(9)])
"""
    done = subprocess.run([sys.executable, "-c", child, str(full.folder)], cwd=full.folder, check=False)
    assert done.returncode == 9
    assert held(full) == before


def test_what_is_held_already_is_left_alone_and_its_marks_kept(full: Store) -> None:
    mark = SourceMark("r2", "elsewhere.jpg", 1, 1, "a" * 64, some.PICTURE.id)
    told = full.history()
    full.add_references([NewReference(replace(some.PICTURE, title="Other words"), (), (mark,))])
    assert full.reference(some.PICTURE.id) == some.PICTURE
    assert full.marks("r2") == {"elsewhere.jpg": mark}
    assert full.history() == told


@pytest.mark.parametrize(
    "wrong",
    [
        replace(some.PICTURE, sha256="e" * 64),
        replace(some.PICTURE, id="ref-eeeeeeeeeeee"),
        replace(some.LANTERN, id=some.LETTER.id),
    ],
)
def test_one_id_for_two_originals_is_refused(full: Store, wrong: Reference) -> None:
    before = held(full)
    with pytest.raises(RecordRefused) as caught:
        full.add_references([NewReference(picture(1)), NewReference(wrong)])
    assert caught.value.records
    assert held(full) == before


def test_changing_keeps_words_and_history_in_step(full: Store) -> None:
    after = full.change_reference(some.LANTERN.id, title="Tin sconce", witness="surviving object", subjects=["light"])
    assert after == replace(some.LANTERN, title="Tin sconce", witness=Witness.OBJECT, subjects=("light",))
    assert full.reference(some.LANTERN.id) == after
    assert [i for i, _ in full.search_words("sconces", table="references")] == [some.LANTERN.id]
    assert some.LANTERN.id not in [i for i, _ in full.search_words("horn", table="references")]
    change = full.history(f"reference:{some.LANTERN.id}", limit=1)[0]
    assert (change.who, change.action) == ("tester", "changed")
    assert change.before == {"title": "Horn lantern", "witness": "not yet judged", "subjects": []}
    assert change.after == {"title": "Tin sconce", "witness": "surviving object", "subjects": ["light"]}
    count = len(full.history())
    full.change_reference(some.LANTERN.id, title="Tin sconce")
    assert len(full.history()) == count


@pytest.mark.parametrize(
    "changes",
    [{"nonsense": 1}, {"kind": "sound"}, {"witness": "hearsay"}, {"id": "x"}, {"sha256": "f" * 64}, {"title": None}],
)
def test_a_change_that_cannot_be_is_refused(full: Store, changes: dict[str, object]) -> None:
    before = held(full)
    with pytest.raises(RecordRefused):
        full.change_reference(some.PICTURE.id, **changes)
    with pytest.raises(UnknownRecord):
        full.change_reference("ref-nothing", title="x")
    assert held(full) == before


def test_removing_is_refused_while_a_scene_stands_on_it_in_any_way(store: Store) -> None:
    used = picture(1)
    store.add_references([NewReference(used)])
    ways = {
        "evidence": Scene("s", "", "", "", needs=(Need("n", "N", "props", evidence=(Evidence(used.id, "shows"),)),)),
        "swatch": Scene("s", "", "", "", needs=(Need("n", "N", "props", swatches=(Swatch(used.id, None),)),)),
        "key": Scene("s", "", "", "", key_reference=used.id),
        "likeness": Scene("s", "", "", "", intent=Intent(like=(used.id,))),
    }
    for scene in ways.values():
        store.save_scene(scene)
        with pytest.raises(InUse) as caught:
            store.remove_reference(used.id)
        assert caught.value.records == (used.id, "s")
    store.save_scene(Scene("s", "", "", ""))
    store.remove_reference(used.id)
    assert store.count() == 0


def test_removing_takes_all_that_hangs_on_it_and_history_keeps_the_words(full: Store) -> None:
    full.save_scene(Scene("first-light", "Bare", "", ""))
    full.remove_reference(some.PICTURE.id)
    full.remove_reference(some.LETTER.id)
    assert [r.id for r in full.references()] == [some.LANTERN.id]
    assert full.details() == []
    assert full.passages() == []
    assert [m.path for m in full.marks("r1").values()] == ["broken.jpg"]
    assert full.search_words("kresset OR letter", table="references") == []
    assert full.search_words("cart OR lantern", table="passages") == []
    before = full.history(f"reference:{some.PICTURE.id}")[0].before
    assert before is not None
    assert before["title"] == some.PICTURE.title
    told = full.history(f"detail:{some.DETAIL.id}")[0]
    assert (told.action, (told.before or {})["note"]) == ("removed", some.DETAIL.note)
    with pytest.raises(UnknownRecord):
        full.remove_reference(some.PICTURE.id)
    full.add_references([NewReference(some.PICTURE)])  # and may come back
    assert full.reference(some.PICTURE.id) == some.PICTURE


def test_resolving_names(store: Store) -> None:
    a, b = picture(1, source_name="plates/cart.jpg"), picture(2, source_name="other/cart.jpg")
    store.add_references([NewReference(a), NewReference(b), NewReference(picture(3, source_name="100%.jpg"))])
    assert store.resolve(a.id) == a
    assert store.resolve("plates/cart.jpg") == a
    assert store.resolve(a.id[:12]) == a
    with pytest.raises(AmbiguousName) as caught:
        store.resolve("cart.jpg")
    assert set(caught.value.records) == {a.id, b.id}
    for name in ("", "ref-", "100_.jpg", "%", "x\0"):
        with pytest.raises(UnknownRecord):
            store.resolve(name)
    with pytest.raises(UnknownRecord, match=r"plates/cart\.jpg"):
        store.resolve("plates/cart.jpeg")


def test_names_that_are_no_text_are_kept_written_out(store: Store) -> None:
    name = os.fsdecode(b"caf\xe9 \"'\n\xe2\x80\xae.jpg")
    store.add_references([NewReference(picture(1, source_name=name), (), (SourceMark("r", name, 1, 1, "", None),))])
    kept = store.reference(picture(1).id).source_name
    assert kept == "caf\\udce9 \"'\n\u202e.jpg"
    assert list(store.marks("r")) == [kept]
    assert store.resolve(name).id == picture(1).id


def test_marks_are_replaced_and_must_name_a_reference(full: Store) -> None:
    mark = replace(some.MARKS[1], size=11, mtime_ns=2**62)
    full.put_marks([mark])
    assert full.marks("r1")["broken.jpg"] == mark
    assert full.marks("elsewhere") == {}
    with pytest.raises(UnknownRecord):
        full.put_marks([replace(mark, path="good"), replace(mark, path="bad", reference="nothing")])
    assert "good" not in full.marks("r1")


# --- selecting and words ------------------------------------------------------------------------------------------


def test_periods_pass_by_overlap(store: Store) -> None:
    dates = {
        1: When("1871", "1871", 100, 199),
        2: When("../1856", "before 1857", None, 50),
        3: When("1880/..", "from 1880", 300, None),
        4: None,
        5: When("", "unknown", None, None),
    }
    store.add_references([NewReference(picture(n, when=when)) for n, when in dates.items()])

    def passed(earliest: int | None, latest: int | None, **more: object) -> list[int]:
        ids = store.select(Filter(earliest, latest, **more))  # type: ignore[arg-type]
        return [n for n in dates if picture(n).id in ids]

    assert passed(None, None) == [1, 2, 3, 4, 5]
    assert passed(199, 250) == [1]
    assert passed(200, 299) == []
    assert passed(50, 100) == [1, 2]
    assert passed(51, 99) == []
    assert passed(-(10**6), 10**6) == [1, 2, 3]
    assert passed(1000, None) == [3]
    assert passed(None, 0) == [2]
    assert store.undated(Filter(200, 299)) == 2
    assert store.undated(Filter()) == 0
    assert store.undated(Filter(200, 299, kinds=("text",))) == 0
    with pytest.raises(BadQuery):
        store.select(Filter(2, 1))


def test_other_filters(full: Store) -> None:
    a, b, c = some.PICTURE.id, some.LETTER.id, some.LANTERN.id
    full.change_reference(c, place="Étaples", subjects=("Ébène", "lamp"), rights="http://example.invalid/InC")
    assert full.select(Filter(kinds=("image", "object"))) == [a, c]
    assert full.select(Filter(witnesses=("contemporary text",))) == [b]
    assert full.select(Filter(places=("étap", "MERROW"))) == [a, c]
    assert full.select(Filter(places=("%",))) == []
    assert full.select(Filter(subjects=("ÉBÈNE",))) == [c]
    assert full.select(Filter(subjects=("lam",))) == []
    assert full.select(Filter(rights=("inc",))) == [c]
    assert full.select(Filter(scene="first-light")) == [a, b, c]
    assert full.select(Filter(scene="first-light", kinds=("text",))) == [b]
    with pytest.raises(UnknownRecord, match="first-light"):
        full.select(Filter(scene="nothing"))
    for wrong in (Filter(kinds=("sound",)), Filter(witnesses=("hearsay",))):
        with pytest.raises(BadQuery):
            full.select(wrong)


def test_words_fold_long_s_ligatures_accents_and_stems(store: Store) -> None:
    store.add_references([NewReference(picture(1, title="Ye Hou\u017fe of \ufb01shers, Étaples"))])
    for query in ("house", "hou\u017fe", "fishers", "fisher", "\ufb01sher", "etaples", "ÉTAPLES", "e\u0301taples"):
        assert [i for i, _ in store.search_words(query, table="references")] == [picture(1).id], query
    assert unicodedata.normalize("NFKC", "\u017f") == "s"  # Unicode Standard, annex 15


def test_the_allowed_are_applied_before_the_cut(store: Store) -> None:
    count = 3000 if store.shared is None else 300  # with SQLite, more than it takes as bound variables
    many = [picture(n, title="lantern " * (1 + n % 3)) for n in range(count)]
    store.add_references([NewReference(r, (Passage(passage_id(r.id, 1), r.id, 1, r.title, 0, 5),)) for r in many])
    everything = store.search_words("lantern", table="references", limit=5000)
    assert len(everything) == count
    assert [b for _, b in everything] == sorted(b for _, b in everything)
    worst = [i for i, _ in everything[-count * 5 // 6 :]]
    assert [i for i, _ in store.search_words("lantern", table="references", allowed=worst, limit=3)] == worst[:3]
    found = store.search_words("lantern", table="passages", allowed={worst[-1]}, limit=1)
    assert [i for i, _ in found] == [passage_id(worst[-1], 1)]
    assert store.search_words("lantern", table="references", allowed=[]) == []
    assert len(store.references(worst)) == count * 5 // 6


def test_words_of_equal_rank_stand_in_the_order_of_gathering(store: Store) -> None:
    many = [picture(n, title="lantern") for n in (5, 3, 8, 1, 9)]
    for r in many:
        told = tuple(Passage(passage_id(r.id, n), r.id, n, "lantern", 0, 5) for n in (1, 2, 10))
        store.add_references([NewReference(r, told)])
    ids = [r.id for r in many]
    assert ids != sorted(ids)
    store.change_reference(ids[0], description="of tin")  # now longer, so worse
    for allowed in (None, ids):
        found = store.search_words("lantern", table="references", allowed=allowed, limit=4)
        assert [i for i, _ in found] == ids[1:]
        found = store.search_words("lantern", table="passages", allowed=allowed, limit=8)
        assert [i for i, _ in found] == [passage_id(i, n) for i in ids for n in (1, 2, 10)][:8]


def test_bm25_is_what_its_formula_says(store: Store) -> None:
    """Robertson and Zaragoza (2009) with k1 = 1.2, b = 0.75, as https://sqlite.org/fts5.html states, sign turned."""
    import math

    texts = ["cart ford", "cart cart wheel ford sand", "boat", "gull on sand"]
    store.add_references(
        [NewReference(picture(n), (Passage(f"p{n}", picture(n).id, 1, text, 0, 1),)) for n, text in enumerate(texts)]
    )
    lengths = [len(text.split()) for text in texts]
    mean = sum(lengths) / 4
    idf = math.log((4 - 2 + 0.5) / (2 + 0.5))
    idf = idf if idf > 0 else 1e-6  # FTS5 keeps the weight of a common word above nothing
    expected = {}
    for n, text in enumerate(texts):
        f = text.split().count("cart")
        if f:
            expected[f"p{n}"] = -idf * f * 2.2 / (f + 1.2 * (0.25 + 0.75 * lengths[n] / mean))
    assert dict(store.search_words("cart", table="passages")) == pytest.approx(expected, rel=1e-9)
    idf_once = math.log((4 - 1 + 0.5) / (1 + 0.5))
    assert dict(store.search_words("boat", table="passages"))["p2"] == pytest.approx(
        -idf_once * 2.2 / (1 + 1.2 * (0.25 + 0.75 / mean)), rel=1e-9
    )


@pytest.mark.parametrize("query", ['"open', "AND", "title : ", "nocolumn : x", "(", "NEAR(", "*"])
def test_a_query_that_cannot_be_read_is_named(full: Store, query: str) -> None:
    with pytest.raises(BadQuery):
        full.search_words(query, table="references")


def test_quotes_of_other_widths_stay_within_quotes(full: Store) -> None:
    assert full.search_words('"x\uff02 OR lantern"', table="references") == []
    assert full.search_words("  ", table="references") == []
    assert full.search_words("lantern", table="references", limit=0) == []
    with pytest.raises(BadQuery):
        full.search_words("x", table="history")


# --- details, passages, frames, settings --------------------------------------------------------------------------


def test_the_same_region_is_the_same_detail(full: Store) -> None:
    region = (0.25, 0.25, 0.5, 0.5)
    one = Detail(detail_id(some.PICTURE.id, region), some.PICTURE.id, region, "first")
    full.add_details([one, replace(one, note="")])
    assert full.detail(one.id) == one
    full.add_details([replace(one, note="second")])
    assert full.detail(one.id).note == "second"
    assert full.details(some.PICTURE.id) == [some.DETAIL, replace(one, note="second")]
    assert full.history(f"detail:{one.id}")[0].before == {"note": "first"}
    full.remove_detail(one.id)
    assert full.history(f"detail:{one.id}")[0].action == "removed"
    for missing in (full.detail, full.remove_detail):
        with pytest.raises(UnknownRecord):
            missing(one.id)
    with pytest.raises(InUse):
        full.remove_detail(some.DETAIL.id)
    with pytest.raises(UnknownRecord):
        full.add_details([replace(one, reference="nothing")])


@pytest.mark.parametrize(
    "region", [(-0.1, 0, 0.5, 0.5), (0, 0, 0, 0.5), (0.6, 0, 0.5, 0.5), (0, 0.5, 0.5, 0.6), (0, 0, float("nan"), 1)]
)
def test_a_region_off_the_picture_is_refused(full: Store, region: tuple[float, float, float, float]) -> None:
    with pytest.raises(RecordRefused):
        full.add_details([Detail("d", some.PICTURE.id, region)])
    assert full.details() == [some.DETAIL]


def test_passages_by_text_and_by_id(full: Store) -> None:
    assert full.passages(some.LETTER.id) == list(some.PASSAGES)
    assert full.passages(some.PICTURE.id) == []
    assert full.passage(some.PASSAGES[1].id) == some.PASSAGES[1]
    with pytest.raises(UnknownRecord):
        full.passage("nothing")


def test_frames_and_what_is_said_of_them(full: Store) -> None:
    assert full.add_frame(replace(some.FRAME, source_name="again.tif")) == some.FRAME
    assert full.frame(some.FRAME.id) == some.FRAME
    full.note_frames([FrameNote(some.FRAME.id, "need:lantern", "hidden", "by the shawl")])
    assert full.frame_notes(some.FRAME.id)[1].says == "hidden"
    change = full.history(f"frame:{some.FRAME.id}", limit=1)[0]
    assert change.before is not None
    assert (change.before["says"], change.action) == ("present", "changed")
    with pytest.raises(UnknownRecord):
        full.frame("nothing")
    with pytest.raises(UnknownRecord):
        full.note_frames([FrameNote("nothing", "need:lantern", "present")])
    with pytest.raises(UnknownRecord):
        full.add_frame(replace(some.FRAME, id="frame-2", scene="nothing"))
    assert full.frames("first-light") == [some.FRAME]


@pytest.mark.parametrize("value", [None, 1, 2.5, "ſ", [1, {"a": None}], {"b": [True]}])
def test_settings_hold_any_json(store: Store, value: object) -> None:
    assert store.setting("k", "default") == "default"
    store.set_setting("k", value)
    assert store.setting("k", "default") == value
    store.set_setting("k", value)
    assert [c.action for c in store.history("setting:k")] == ["added"]


def test_history_is_newest_first_and_timed_in_utc(full: Store) -> None:
    from datetime import UTC, datetime, timedelta

    changes = full.history()
    assert [c.record for c in changes[-3:]] == [f"reference:{r.id}" for r in (some.LANTERN, some.LETTER, some.PICTURE)]
    assert full.history(limit=2) == changes[:2]
    at = datetime.fromisoformat(changes[0].at)
    assert at.utcoffset() == timedelta(0)
    assert abs(datetime.now(UTC) - at) < timedelta(minutes=5)


# --- ids ----------------------------------------------------------------------------------------------------------


def test_ids_follow_from_what_a_record_is() -> None:
    # SHA-256 of "abc", FIPS 180-2, appendix B.1
    digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert reference_id(digest) == "ref-ba7816bf8f01"
    assert passage_id("ref-1", 3) == "ref-1.p3"
    assert detail_id("ref-1", (0.1, 0.2, 0.3, 0.4)) == detail_id("ref-1", (0.1 + 1e-9, 0.2, 0.3, 0.4))
    assert detail_id("ref-1", (0.1, 0.2, 0.3, 0.4)) != detail_id("ref-1", (0.1, 0.2, 0.3, 0.41))
    assert detail_id("ref-1", (0.1, 0.2, 0.3, 0.4)).startswith("ref-1.d")
    assert frame_id("a", digest) != frame_id("b", digest)
    assert object_id(["a", "bc"]) != object_id(["ab", "c"])
