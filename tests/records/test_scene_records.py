"""Scenes come back exactly as they were saved, whatever they hold, and stand only on what is there."""

from __future__ import annotations

from dataclasses import replace

import archive_of_version_1 as some
import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refarchive.errors import ChangedMeanwhile, InUse, RecordRefused, UnknownRecord
from refarchive.records import model, schema, sqlite
from refarchive.records.model import Detail, Evidence, Figure, Intent, Need, NewReference, Passage, Scene, Swatch
from refarchive.records.store import Store


@pytest.fixture
def store(new_store):
    with new_store() as made:
        made.add_references(
            [NewReference(some.PICTURE), NewReference(some.LETTER, some.PASSAGES), NewReference(some.LANTERN)]
        )
        made.add_details([some.DETAIL])
        yield made


def saved(scene: Scene) -> Scene:
    return replace(scene, revision=0, saved_at="")


words = st.text(max_size=12)
texts = st.lists(words, max_size=3).map(tuple)
pairs = st.lists(st.tuples(words, words), max_size=3).map(tuple)
numbers = st.floats(allow_nan=False, allow_infinity=False)
fractions = st.floats(0, 1)
references = st.sampled_from([some.PICTURE.id, some.LETTER.id, some.LANTERN.id])
evidence = st.one_of(
    st.builds(Evidence, references, st.sampled_from(model.RELATIONS), st.none(), st.none(), words),
    st.builds(Evidence, st.just(some.PICTURE.id), st.just("shows"), st.just(some.DETAIL.id), st.none(), words),
    st.builds(Evidence, st.just(some.LETTER.id), st.just("describes"), st.none(), st.just(some.PASSAGES[0].id), words),
)
whens = st.none() | st.builds(model.When, words, words, st.none() | st.integers(-(2**40), 2**40), st.none())
needs = st.builds(
    Need,
    slug=words,
    name=words,
    department=words,
    figure=words,
    description=words,
    prominence=words,
    facts=pairs,
    do=texts,
    dont=texts,
    substitutes=texts,
    breakdown=texts,
    quantity=st.builds(model.Quantity, st.integers(0, 99), st.integers(0, 99), st.integers(0, 99), words),
    sourcing=st.builds(model.Sourcing, words, words, st.none() | numbers, st.none() | numbers, st.none(), words, words),
    swatches=st.lists(
        st.builds(Swatch, references, st.none() | st.tuples(fractions, fractions, fractions, fractions), words),
        max_size=2,
    ).map(tuple),
    evidence=st.lists(evidence, max_size=3).map(tuple),
)
figures = st.builds(Figure, words, words, words, words, words, words, words, pairs)
intents = st.builds(
    Intent,
    words=words,
    palette=st.lists(st.builds(model.PaletteColour, words, fractions, words), max_size=2).map(tuple),
    palette_tolerance=numbers,
    key=st.none() | numbers,
    contrast=st.none() | numbers,
    light_from=words,
    light_tilt_deg=st.none() | numbers,
    like=st.lists(references, max_size=2).map(tuple),
)
scenes = st.builds(
    Scene,
    slug=st.just("s"),
    title=words,
    event=words,
    story=words,
    when=whens,
    place=words,
    latitude=st.none() | numbers,
    longitude=st.none() | numbers,
    series=words,
    key_reference=st.just("") | references,
    statements=texts,
    misreadings=texts,
    intent=intents,
    figures=st.lists(figures, max_size=3, unique_by=lambda f: f.slug).map(tuple),
    variations=st.lists(st.builds(model.Variation, words, words), max_size=2).map(tuple),
    needs=st.lists(needs, max_size=3, unique_by=lambda n: n.slug).map(tuple),
    safety=pairs,
    currency=words,
)


@given(scenes)
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_scene_comes_back_as_it_went_in(store: Store, scene: Scene) -> None:
    kept = store.save_scene(scene)
    assert saved(kept) == scene
    assert store.scene("s") == kept
    assert store.save_scene(kept) == kept  # unchanged: no revision


def test_the_order_of_children_is_kept(store: Store) -> None:
    store.save_scene(some.SCENE)
    turned = replace(
        some.SCENE,
        needs=some.SCENE.needs[::-1],
        figures=some.SCENE.figures[::-1],
        statements=some.SCENE.statements[::-1],
    )
    assert store.save_scene(turned).revision == 2
    assert saved(store.scene(turned.slug)) == turned


def test_revisions_count_changes_and_history_tells_before_and_after(store: Store) -> None:
    one = store.save_scene(some.SCENE, toml="a")
    assert (one.revision, store.scene_toml(one.slug)) == (1, "a")
    assert store.save_scene(some.SCENE) == one
    assert store.scene_toml(one.slug) == "a"
    assert store.save_scene(some.SCENE, toml="a # comment") == one
    assert store.scene_toml(one.slug) == "a # comment"
    two = store.save_scene(replace(one, story="Other."), toml="b")
    assert (two.revision, two.story, store.scene_toml(one.slug)) == (2, "Other.", "b")
    changes = store.history(f"scene:{one.slug}")
    assert [c.action for c in changes] == ["changed", "added"]
    assert changes[0].before is not None
    assert changes[0].after is not None
    assert (changes[0].before["story"], changes[0].after["story"]) == (some.SCENE.story, "Other.")
    three = store.save_scene(replace(two, needs=()))
    assert three.needs == ()
    with sqlite.reading(store._engine) as connection:
        left = [
            connection.execute(sa.select(sa.func.count()).select_from(table)).scalar()
            for table in (schema.need, schema.evidence, schema.swatch)
        ]
    assert left == [0, 0, 0]


def with_evidence(*evidence: Evidence) -> Scene:
    return Scene("s", "S", "", "", needs=(Need("n", "N", "props", evidence=evidence),))


OTHER_DETAIL = Detail("d2", some.LANTERN.id, (0.0, 0.0, 1.0, 1.0))


@pytest.mark.parametrize(
    ("scene", "error", "told"),
    [
        (with_evidence(Evidence("nothing", "shows")), UnknownRecord, "'nothing'"),
        (with_evidence(Evidence(some.PICTURE.id, "shows", detail="no-detail")), UnknownRecord, "'no-detail'"),
        (with_evidence(Evidence(some.LETTER.id, "shows", passage="no-passage")), UnknownRecord, "'no-passage'"),
        (with_evidence(Evidence(some.LETTER.id, "shows", detail=some.DETAIL.id)), UnknownRecord, "belongs to"),
        (with_evidence(Evidence(some.PICTURE.id, "shows", passage=some.PASSAGES[0].id)), UnknownRecord, "belongs to"),
        (with_evidence(Evidence(some.PICTURE.id, "proves")), RecordRefused, "proves"),
        (Scene("s", "S", "", "", key_reference="no-key"), UnknownRecord, "no-key"),
        (Scene("s", "S", "", "", intent=Intent(like=("no-like",))), UnknownRecord, "no-like"),
        (
            Scene("s", "S", "", "", needs=(Need("n", "N", "props", swatches=(Swatch("no-swatch", None),)),)),
            UnknownRecord,
            "no-swatch",
        ),
        (Scene("s", "S", "", "", needs=(Need("n", "A", "props"), Need("n", "B", "set"))), RecordRefused, "two needs"),
        (Scene("s", "S", "", "", figures=(Figure("f", "A"), Figure("f", "B"))), RecordRefused, "two figures"),
    ],
)
def test_a_scene_that_stands_on_nothing_is_refused_by_name(store: Store, scene: Scene, error: type, told: str) -> None:
    store.save_scene(Scene("s", "As it was", "", ""))
    before = store.history()
    with pytest.raises(error, match=told) as caught:
        store.save_scene(scene, details=[OTHER_DETAIL])
    assert caught.value.next_step
    assert store.scene("s").title == "As it was"
    assert store.history() == before
    assert [d.id for d in store.details()] == [some.DETAIL.id]  # not even the detail it came with


def test_a_scene_may_mark_the_details_it_stands_on(store: Store) -> None:
    scene = with_evidence(Evidence(some.LANTERN.id, "shows", detail="d2"))
    assert saved(store.save_scene(scene, details=[OTHER_DETAIL])) == scene
    assert store.detail("d2") == OTHER_DETAIL


def test_scenes_in_order_and_out(store: Store) -> None:
    store.save_scene(Scene("b", "B", "", ""))
    store.save_scene(some.SCENE)
    store.save_scene(Scene("b", "B2", "", ""))
    assert [s.slug for s in store.scenes()] == ["b", "first-light"]
    assert saved(store.scenes()[1]) == some.SCENE
    store.add_frame(some.FRAME)
    with pytest.raises(InUse) as caught:
        store.remove_scene("first-light")
    assert caught.value.records == ("first-light", some.FRAME.id)
    store.remove_scene("b")
    assert [s.slug for s in store.scenes()] == ["first-light"]
    assert store.history("scene:b")[0].before is not None
    for missing in (store.scene, store.scene_toml, store.remove_scene):
        with pytest.raises(UnknownRecord, match="first-light"):
            missing("b")


def test_another_reference_s_passage_does_not_hide_behind_the_same_number(store: Store) -> None:
    other = replace(some.LETTER, id="ref-eeeeeeeeeeee", sha256="e" * 64)
    store.add_references([NewReference(other, (Passage("ref-eeeeeeeeeeee.p1", other.id, 1, "t", 0, 1),))])
    with pytest.raises(UnknownRecord, match="belongs to"):
        store.save_scene(with_evidence(Evidence(some.LETTER.id, "describes", passage="ref-eeeeeeeeeeee.p1")))


def test_a_change_made_on_an_old_revision_is_refused_and_nothing_lost(store: Store) -> None:
    first = store.save_scene(Scene("lamp", "Lamp", "e", "s"), expected=0)
    second = store.save_scene(replace(first, story="another"), expected=first.revision)
    with pytest.raises(ChangedMeanwhile, match="revision 2") as caught:
        store.save_scene(replace(first, story="a third"), expected=first.revision)
    assert caught.value.records == ("lamp",)
    assert store.scene("lamp") == second
    assert store.save_scene(replace(first, story="a third")).revision == 3  # who asks for no revision writes over it
