"""Finding over a small archive whose vectors are laid out by hand, so that every rank can be worked out by hand too."""

from __future__ import annotations

import numpy as np
import pytest

from refarchive.encoders.base import Identity
from refarchive.errors import BadQuery
from refarchive.records.dates import read_date
from refarchive.records.ids import passage_id
from refarchive.records.model import Filter, NewReference, Passage, Reference, Witness
from refarchive.search import finding
from refarchive.search.finding import Query, Sources
from refarchive.search.scan import Index
from refarchive.search.vector_tables import VectorTables
from refarchive.search.vectors import TILES, picture_key

AXES = np.eye(8, dtype=np.float32)
WORDS = {"shawl": 0, "boat": 1, "lamp": 2}  # what each axis of the toy sentence space means


def toy_sentences(texts):
    rows = np.full((len(texts), 8), 0.01, np.float32)
    for row, text in zip(rows, texts, strict=True):
        for word, axis in WORDS.items():
            row[axis] += word in text.casefold()
    return rows / np.linalg.norm(rows, axis=1, keepdims=True)


def reference(name: str, **fields) -> Reference:
    when = read_date(fields.pop("when")) if "when" in fields else None
    return Reference(**{"id": f"ref-{name}", "kind": "image", "title": name, "source_name": "", "when": when} | fields)


def indexed(store, name, keys, rows):
    """An index over rows where the store keeps its own: FAISS over a file, or pgvector over a table."""
    if store.shared is None:
        return Index(keys, rows)
    tables = VectorTables(store.shared)
    file = tables.file(name, {"name": "toy"}, rows.shape[1])
    file.append(keys, rows)
    return tables.index(file)


@pytest.fixture
def store(new_store):
    made = new_store()
    diary = "The women wore a shawl against the wind.", "We took the boat at low water.", "A lamp burned all night."
    made.add_references(
        [
            NewReference(
                reference("one", description="A woman with a knitted shawl", when="1868", place="Merrow Sands")
            ),
            NewReference(reference("two", description="Boat drawn up on the sands", when="1871", place="Merrow Sands")),
            NewReference(
                reference("three", description="Ferry stage with a lamp", when="1902", witness=Witness.PHOTOGRAPH)
            ),
            NewReference(reference("four", description="Cart at the ford")),
            NewReference(
                reference("diary", kind="text", when="1870", description="Diary of a sand pilot"),
                tuple(
                    Passage(passage_id("ref-diary", n), "ref-diary", n, text, 0, 1) for n, text in enumerate(diary, 1)
                ),
            ),
        ]
    )
    yield made
    made.close()


@pytest.fixture
def sources(store):
    pictures = ["ref-one", "ref-two", "ref-three", "ref-four"]
    keys, rows = [], []
    for axis, name in enumerate(pictures):  # each whole on an axis of its own; tile 4 of "four" shows what "one" shows
        for tile in range(len(TILES)):
            keys.append(picture_key(name, tile))
            rows.append(AXES[0] if (name, tile) == ("ref-four", 4) else AXES[axis] * 0.8 + AXES[4 + tile % 4] * 0.6)
    likeness = indexed(store, "likeness", keys, np.stack(rows))
    every, parts = store.references(), store.passages()
    captions = indexed(
        store, "captions", [f"{r.id}@digest" for r in every], toy_sentences([r.description for r in every])
    )
    passages = indexed(store, "passages", [p.id for p in parts], toy_sentences([p.text for p in parts]))
    colours = {"ref-one": 3.0, "ref-two": 1.0, "ref-three": 2.0}
    return Sources(
        store=store,
        encoder="toy",
        likeness=lambda: likeness,
        captions=lambda: captions,
        passages=lambda: passages,
        encode_sentences=toy_sentences,
        rank_by_colour=lambda lab, allowed: sorted(
            ((one, colours[one]) for one in (colours if allowed is None else allowed) if one in colours),
            key=lambda pair: pair[1],
        ),
    )


def names(found: finding.Findings) -> list[str]:
    return [hit.reference.title for hit in found.hits]


def test_words_find_captions_and_passages_and_every_hit_says_why(sources):
    found = finding.find(Query("a boat"), sources)
    assert found.encoder == "toy"
    first, second = found.hits[:2]
    assert {first.reference.title, second.reference.title} == {"two", "diary"}
    diary = next(hit for hit in found.hits if hit.reference.title == "diary")
    assert diary.passage is not None
    assert diary.passage.number == 2
    ranks = {b.source: b.rank for b in diary.because}
    assert ranks[finding.PASSAGE_WORDS] == ranks[finding.PASSAGE_MEANING] == 1
    two = next(hit for hit in found.hits if hit.reference.title == "two")
    assert two.passage is None
    assert {b.source: b.rank for b in two.because} == {finding.CAPTION_WORDS: 1, finding.CAPTION_MEANING: 1}
    assert [hit.rank for hit in found.hits] == list(range(1, len(found.hits) + 1))


def test_the_score_is_the_sum_over_the_reasons(sources):
    """Reciprocal rank fusion, k = 60: checked against the formula from the reasons that the hit itself gives.

    Captions and passages are two looks at the same words, and at the same meaning: the better of the two counts.
    """
    found = finding.find(Query("a boat with a lamp", colour=(50.0, 0.0, 0.0)), sources)
    for hit in found.hits:
        parts: dict[str, float] = {}
        for reason in hit.because:
            kind = reason.source.split()[0] if reason.source.startswith(("words", "meaning")) else reason.source
            parts[kind] = max(parts.get(kind, 0.0), 1 / (60 + reason.rank))
        assert hit.score == pytest.approx(sum(parts.values()), abs=1e-15)
    assert [hit.score for hit in found.hits] == sorted((hit.score for hit in found.hits), reverse=True)


def test_what_is_known_of_a_whole_text_counts_for_its_best_passage(sources):
    hits = finding.find(Query("lamp, from the pilot's diary"), sources).hits
    of_diary = [hit for hit in hits if hit.reference.title == "diary"]
    assert of_diary[0].passage.number == 3
    assert finding.CAPTION_WORDS in {b.source for b in of_diary[0].because}
    assert all(finding.CAPTION_WORDS not in {b.source for b in hit.because} for hit in of_diary[1:])
    assert all(hit.passage is not None for hit in of_diary)


def test_likeness_finds_a_detail_and_says_which_tile(sources):
    found = finding.find(Query(like=AXES[0] * 3), sources)
    four = found.hits[0]
    assert four.reference.title == "four"
    assert four.region == TILES[4]
    assert four.because == (finding.Because("likeness", 1, "similarity 1.00, lower right part"),)
    assert found.hits[1].reference.title == "one"
    assert found.hits[1].region is None  # the whole is as near as any tile
    assert len({hit.reference.id for hit in found.hits}) == len(found.hits) == 4


def test_a_reference_can_be_asked_about(sources):
    found = finding.find(Query(like_reference="ref-two"), sources)
    assert names(found)[0] == "two"
    assert "the picture asked about" in found.hits[0].because[0].note


def test_more_and_less_steer(sources):
    plain = names(finding.find(Query(like_reference="ref-one"), sources))
    more = names(finding.find(Query(like_reference="ref-one", more=("ref-three",)), sources))
    assert more.index("three") < plain.index("three")
    less = finding.find(Query(like_reference="ref-one", more=("ref-two",), less=("ref-three",)), sources)
    assert names(less)[-1] == "three"
    assert "asked for less like it" in less.hits[-1].because[0].note
    assert names(finding.find(Query(more=("ref-three",)), sources))[0] == "three"


def test_words_to_pictures_weigh_what_they_are_worth(sources):
    """One source that ranks everything cannot outvote a caption that holds the word."""
    from dataclasses import replace

    wrong = np.stack([AXES[5], AXES[6], AXES[7], AXES[0]])
    index = Index([picture_key(f"ref-{n}") for n in ("one", "two", "three", "four")], wrong)
    mistaken = replace(sources, word_space=lambda: index, encode_words=lambda _: AXES[:1], captions=None, passages=None)
    hits = finding.find(Query("shawl"), mistaken).hits
    assert hits[0].reference.title == "one"
    four = next(hit for hit in hits if hit.reference.title == "four")
    assert four.because == (finding.Because(finding.PICTURE_WORDS, 1, "similarity 1.00"),)
    assert four.score == pytest.approx(finding.CLASSES_WEIGHT / 61)
    apart, together = (Identity("n", "s", 8, dimension, "") for dimension in (1000, 0))
    assert finding.word_weight_of(apart) < finding.word_weight_of(together) == 1.0


def test_filters_are_told_and_come_before_the_cut(sources):
    period = read_date("1868/1874")
    query = Query(
        "boat",
        period="1868/1874",
        top=1,
        filter=Filter(period.earliest, period.latest, kinds=("image",), places=("merrow",)),
    )
    found = finding.find(query, sources)
    assert names(found) == ["two"]
    assert found.notes == ("2 of 5 references pass: period 1868/1874, kind image, place merrow.",)
    found = finding.find(Query("shawl", filter=Filter(period.earliest, period.latest)), sources)
    assert found.notes == ("3 of 5 references pass: period 1868-01-01/1874-12-31; 1 undated left out.",)
    assert "three" not in names(found)
    photographs = Query(
        "shawl boat", like=AXES[0], colour=(0.0, 0.0, 0.0), top=1, filter=Filter(witnesses=("photograph from life",))
    )
    assert names(finding.find(photographs, sources)) == ["three"]  # though it is nobody's first choice


def test_the_cut_never_hides_what_passes(new_store):
    """Of every 100 references one passes; all that do come back from every kind of source, in brute force's order."""
    store = new_store()
    rng = np.random.default_rng(0)
    count = 1000 if store.shared is None else 400
    every = [
        reference(f"{n}", title="boat " * (1 + n % 7), place="ford" if n % 100 == 50 else "stage") for n in range(count)
    ]
    store.add_references([NewReference(r) for r in every])
    rows = rng.normal(size=(count, len(TILES), 16)).astype(np.float32)
    rows /= np.linalg.norm(rows, axis=2, keepdims=True)
    keys = [picture_key(r.id, tile) for r in every for tile in range(len(TILES))]
    likeness = indexed(store, "likeness", keys, rows.reshape(-1, 16))
    captions = indexed(store, "captions", [r.id for r in every], rows[:, 0])
    sources = Sources(
        store, likeness=lambda: likeness, captions=lambda: captions, encode_sentences=lambda _: rows[:1, 0]
    )
    passing = [n for n in range(count) if n % 100 == 50]
    query = rng.normal(size=16).astype(np.float32)
    found = finding.find(Query(like=query, filter=Filter(places=("ford",)), top=10), sources)
    best = sorted(passing, key=lambda n: -(rows[n] @ query).max())
    assert [hit.reference.id for hit in found.hits] == [f"ref-{n}" for n in best]
    tiles = [TILES[t] if (t := int((rows[n] @ query).argmax())) else None for n in best]
    assert [hit.region for hit in found.hits] == tiles
    found = finding.find(Query("boat", filter=Filter(places=("ford",)), top=10), sources)
    assert {hit.reference.id for hit in found.hits} == {f"ref-{n}" for n in passing}
    assert all(len(hit.because) == 2 for hit in found.hits)
    unfiltered = finding.find(Query(like=query, top=300), sources)
    assert [hit.reference.id for hit in unfiltered.hits] == [
        f"ref-{n}" for n in sorted(range(count), key=lambda n: -(rows[n] @ query).max())[:300]
    ]
    store.close()


def test_beyond_the_period_comes_after_it_and_says_how_far(sources):
    period = read_date("1868/1874")
    query = Query("a lamp", filter=Filter(period.earliest, period.latest, kinds=("image",)), beyond_period=True)
    found = finding.find(query, sources)
    notes = {hit.reference.title: hit.note for hit in found.hits}
    assert notes == {"two": "", "one": "", "three": "27 years after the period", "four": "undated"}
    assert names(found).index("three") >= 2
    assert [hit.rank for hit in found.hits] == [1, 2, 3, 4]


def test_nothing_asked_lists_what_passes(sources):
    found = finding.find(Query(filter=Filter(kinds=("image",)), top=2), sources)
    assert names(found) == ["one", "two", "three", "four"]
    assert all(hit.because == () for hit in found.hits)
    assert finding.find(Query(filter=Filter(places=("nowhere",))), sources).hits == ()
    assert finding.find(Query("boat", filter=Filter(places=("nowhere",))), sources).hits == ()


def test_an_archive_without_vectors_still_finds_words(store):
    assert names(finding.find(Query("boat"), Sources(store)))[0] in ("two", "diary")
    found = finding.find(Query(like=AXES[0]), Sources(store))
    assert found.hits == ()
    assert "encoded" in found.notes[0]
    assert "colours" in finding.find(Query(colour=(1.0, 2.0, 3.0)), Sources(store)).notes[0]


def test_words_that_hold_nothing_are_said_to(sources):
    found = finding.find(Query("?! —"), sources)
    assert found.hits == ()
    assert found.notes == ("The words hold nothing that can be searched for.",)


def test_vectors_of_references_that_are_gone_are_passed_over(sources, store):
    store.remove_reference("ref-two")
    assert "two" not in names(finding.find(Query("boat", like=AXES[1], colour=(0.0, 0.0, 0.0)), sources))


@pytest.mark.parametrize(
    "query",
    [
        Query("boat", top=0),
        Query(less=("ref-one",)),
        Query("boat", less=("ref-one",)),
        Query(like=np.zeros(8)),
        Query(like=np.ones(7)),
        Query(like=np.full(8, np.nan)),
        Query(like_reference="ref-diary"),
        Query(more=("ref-unknown",)),
        Query(colour=(1.0, float("nan"), 0.0)),
    ],
)
def test_values_that_cannot_be_used_are_refused(sources, query):
    with pytest.raises(BadQuery) as caught:
        finding.find(query, sources)
    assert caught.value.next_step
