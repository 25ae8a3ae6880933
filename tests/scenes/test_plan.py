"""Scene plans: what is read, what is refused with line and field, and that writing gives back what was read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refarchive.errors import PlanRefused
from refarchive.records.ids import passage_id, reference_id
from refarchive.records.model import NewReference, Passage, Reference
from refarchive.records.store import Store
from refarchive.scenes.places import Places
from refarchive.scenes.plan import FACTS, read_plan, slug_of
from refarchive.scenes.writing import write_plan

PLAN = """\
[scene]
title = "First light on the sands"
event = "Gatherers set out before dawn"
date = "1871-02"
story = "They walk out by one lantern."
key_reference = "dawn.jpg"
statements = ["It is cold", "They are many"]
misreadings = ["A shipwreck"]

[intent]
key = 34
like = ["dawn.jpg"]
palette = [ {hex = "#3B4652", share = 0.6}, {hex = "#c08a4a", share = 0.4, name = "lantern"} ]

[safety]
water = "A pilot walks with the crew."

[[figure]]
slug = "agnes"
name = "Agnes Thorn"
sizes = { height = "168 cm" }

[[variation]]
title = "The lantern put out"
moment = "Ten minutes later"

[[need]]
name = "Kerchief"
department = "wardrobe"
figure = "agnes"
quantity = { hero = 1, wet_doubles = 2, why = "two soaked takes" }
[need.facts]
material = "cotton"
layer = "headwear"
[[need.evidence]]
reference = "dawn.jpg"
relation = "shows"
region = [0.1, 0.2, 0.3, 0.4]
note = "tied behind"
fit = { occasion = "exact", place = "near" }
[[need.evidence]]
reference = "letter.txt"
relation = "describes"
quote = "a red  KERCHIEF"
[[need.swatch]]
reference = "dawn.jpg"
region = [0.1, 0.2, 0.1, 0.1]
name = "madder"

[[need]]
name = "Lantern"
department = "props"
"""


@pytest.fixture
def store(tmp_path: Path):
    made = Store.create(tmp_path)
    picture = Reference(reference_id("a" * 64), "image", "Dawn", "dawn.jpg", sha256="a" * 64, suffix=".jpg")
    text = Reference(reference_id("b" * 64), "text", "Letter", "letter.txt", sha256="b" * 64, suffix=".txt")
    passage = Passage(passage_id(text.id, 1), text.id, 1, "She wore a red kerchief.", 0, 24)
    made.add_references([NewReference(picture), NewReference(text, (passage,))])
    yield made
    made.close()


def test_reads_everything(store: Store) -> None:
    plan = read_plan(PLAN, store)
    scene = plan.scene
    assert (scene.slug, scene.when.edtf) == ("first-light-on-the-sands", "1871-02")
    assert scene.key_reference == reference_id("a" * 64)
    kerchief, lantern = scene.needs
    assert kerchief.slug == "agnes-kerchief"
    assert kerchief.facts == (("Layer", "headwear"), ("Material", "cotton"))  # printing order, not the plan's
    assert kerchief.quantity.total == 3
    assert kerchief.evidence[0].detail == plan.details[0].id
    assert plan.details[0].region == (0.1, 0.2, 0.3, 0.4)
    assert kerchief.evidence[0].fit == (("place", "near"), ("occasion", "exact"))
    assert kerchief.evidence[1].passage == passage_id(reference_id("b" * 64), 1)
    assert lantern.evidence == ()
    assert scene.intent.palette[0].hex == "#3b4652"


def test_written_out_it_reads_back_the_same(store: Store) -> None:
    plan = read_plan(PLAN, store)
    saved = store.save_scene(plan.scene, details=plan.details)
    again = read_plan(write_plan(saved, store), store)
    assert store.save_scene(again.scene, details=again.details).revision == saved.revision == 1


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "words"),
    [
        ('title = "First', 'titel = "First', 2, "scene, titel", "no field 'titel'"),
        ('date = "1871-02"', 'date = "11/12/1871"', 4, "scene, date", "11/12/1871"),
        ("key = 34", 'key = "dark"', 11, "intent, key", "'dark'"),
        ("key = 34", "warmth_k = 100", 11, "intent, warmth_k", "100"),
        ("key = 34", "warmth_tolerance_mired = -1", 11, "intent, warmth_tolerance_mired", "-1"),
        ("key = 34", "horizon = 1.2", 11, "intent, horizon", "1.2"),
        ("key = 34", 'horizon_tolerance = "some"', 11, "intent, horizon_tolerance", "'some'"),
        ("key = 34", "blown_most = 3", 11, "intent, blown_most", "3"),
        ("key = 34", "blocked_most = nan", 11, "intent, blocked_most", "nan"),
        ("key = 34", "layout_least = -2", 11, "intent, layout_least", "-2"),
        ("share = 0.4", "share = 0.9", 13, "intent, palette", "add up to 1.50"),
        ('"#3B4652"', '"blue"', 13, "intent, palette 1, hex", "'blue'"),
        ('department = "wardrobe"', 'department = "costume"', 29, "need 1, department", "'costume'"),
        ('department = "props"', "", 50, "need 2, department", "is missing"),
        ('figure = "agnes"', 'figure = "anna"', 30, "need 1, figure", "no figure 'anna'"),
        ('material = "cotton"', 'wool = "yes"', 33, "need 1, facts, wool", "no field 'wool'"),
        ("region = [0.1, 0.2, 0.3, 0.4]", "region = [0.9, 0.2, 0.3, 0.4]", 38, "need 1, evidence 1, region", "0.9"),
        ('relation = "describes"', 'relation = "proves"', 43, "need 1, evidence 2, relation", "'proves'"),
        ("a red  KERCHIEF", "a blue shawl", 44, "need 1, evidence 2, quote", "no passage"),
        ('reference = "letter.txt"', 'reference = "leter.txt"', 42, "need 1, evidence 2, reference", "leter.txt"),
        ('place = "near"', 'place = "hard by"', 40, "need 1, evidence 1, fit, place", "'hard by'"),
        ("hero = 1", "hero = -1", 31, "need 1, quantity, hero", "-1"),
        ("[safety]\nwater", "[safety]\nsharks", 16, "safety, sharks", "no field 'sharks'"),
    ],
)
def test_refuses_with_line_and_field(store: Store, old: str, new: str, line: int, field: str, words: str) -> None:
    assert old in PLAN
    with pytest.raises(PlanRefused) as caught:
        read_plan(PLAN.replace(old, new, 1), store)
    assert (caught.value.line, caught.value.field) == (line, field)
    assert words in caught.value.problem
    assert caught.value.next_step


def test_an_unknown_reference_suggests_the_near_one(store: Store) -> None:
    with pytest.raises(PlanRefused, match=r"letter\.txt"):
        read_plan(PLAN.replace('reference = "letter.txt"', 'reference = "leter.txt"'), store)


def test_broken_toml_names_its_line(store: Store) -> None:
    with pytest.raises(PlanRefused, match="Line 4") as caught:
        read_plan(PLAN.replace('date = "1871-02"', "date = = 3"), store)
    assert caught.value.line == 4


@pytest.mark.parametrize("text", ["", "[need]\n", "a = 1", "[scene]\n", "[[scene]]\ntitle='x'", "[scene]\ntitle='…'"])
def test_refuses_what_is_no_plan(store: Store, text: str) -> None:
    with pytest.raises(PlanRefused):
        read_plan(text, store)


def test_a_text_has_no_regions(store: Store) -> None:
    with pytest.raises(PlanRefused, match="has no regions"):
        read_plan(PLAN.replace('quote = "a red  KERCHIEF"', "region = [0, 0, 1, 1]"), store)


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    class Nothing:
        def resolve(self, name: str) -> Reference:
            raise AssertionError(name)

        def passages(self, reference: str | None = None) -> list[Passage]:
            return []

    for plan in (text, f'[scene]\ntitle = "x"\n{text}'):
        try:
            read_plan(plan, Nothing())
        except PlanRefused as error:
            assert error.problem


def test_places_are_not_fooled_by_strings() -> None:
    text = 'a = """\n[b]\nc = 1\n"""\n[b]\nc = 2\n[[d]]\n[[d]]\nd = 3\n[d.e]\nf = 1\n'
    places = Places(text)
    assert places.line(("b", "c")) == 6
    assert places.line(("d", 1, "d")) == 9
    assert places.line(("d", 1, "e", "f")) == 11
    assert places.line(("nowhere",)) is None


def test_slugs_are_plain() -> None:
    assert slug_of("The pilot’s crossing — Mærrow, été") == "the-pilots-crossing-mrrow-ete"


def test_labels_lead_back_to_their_keys() -> None:
    for labels in FACTS.values():
        assert len(set(labels.values())) == len(labels)
