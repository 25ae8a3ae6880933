"""Finding measured on material from outside: captioned pictures, and a dictionary of 1913."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from refarchive.encoders import load, sentences
from refarchive.records.files import open_picture
from refarchive.records.ids import object_id, passage_id
from refarchive.records.model import NewReference, Passage, Reference
from refarchive.records.store import Store
from refarchive.search import finding, fusion
from refarchive.search.finding import Query, Sources
from refarchive.search.scan import Index
from refarchive.search.vectors import picture_key
from refarchive.sources.passages import split

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def read(name: str) -> list[dict[str, str]]:
    lines = (AUTHORITIES / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def rank_of(hits: tuple[finding.Hit, ...], wanted: set[str]) -> int | None:
    return next((hit.rank for hit in hits if hit.reference.id in wanted), None)


def test_a_caption_finds_its_picture_in_the_first_ten(stamps, tmp_path):
    """Debian's tuxpaint-stamps-default: 785 pictures of objects on transparent ground, 674 distinct captions.

    The pictures are gathered without their captions, so that only what the built-in encoder sees can find them.
    """
    captions: dict[str, set[str]] = {}
    files: dict[str, Path] = {}
    for file in sorted(stamps.rglob("*.png")):
        beside = file.with_suffix(".txt")
        if beside.exists():
            caption = beside.read_text(encoding="utf-8").splitlines()[0].strip()
            reference = object_id([str(file.relative_to(stamps))])
            files[reference] = file
            captions.setdefault(caption, set()).add(reference)
    assert len(files) > 700
    assert len(captions) > 600
    store = Store.create(tmp_path)
    nameless = [Reference(id=r, kind="image", title="", source_name="") for r in files]
    store.add_references([NewReference(reference) for reference in nameless])

    encoder = load("built-in")
    meaning = encoder.encode_pictures([open_picture(file, longest=512) for file in files.values()]).meaning
    index = Index([picture_key(reference) for reference in files], encoder.word_space(meaning))
    # Sentences are encoded in one go: one at a time they would take most of the test's time.
    encoded = dict(zip(captions, encoder.encode_words(list(captions)), strict=True))
    sources = Sources(
        store=store, word_space=lambda: index, encode_words=lambda texts: [encoded[text] for text in texts]
    )
    ranks = [rank_of(finding.find(Query(words=c, top=10), sources).hits, own) for c, own in captions.items()]
    store.close()
    recall = sum(rank is not None for rank in ranks) / len(ranks)
    print(f"recall@10 {recall:.3f}, MRR@10 {fusion.mean_reciprocal_rank(ranks):.3f} over {len(ranks)} captions")
    assert recall >= 0.30  # chance is about 10 / 785


@pytest.fixture(scope="module")
def entries(dictionary, tmp_path_factory):
    """300 headwords, each a text reference without a title, its noun articles of 1913 as passages."""
    store = Store.create(tmp_path_factory.mktemp("entries"))
    ids: dict[str, str] = {}
    new: list[NewReference] = []
    for row in read("gcide_headwords.csv"):
        text = dictionary.nouns_of_1913(row["headword"])
        assert text, row
        reference = ids[row["headword"]] = object_id(["entry", row["headword"]])
        passages = [Passage(passage_id(reference, n), reference, n, *part) for n, part in enumerate(split(text), 1)]
        new.append(NewReference(Reference(reference, "text", title="", source_name=""), tuple(passages)))
    assert len(ids) == 300
    store.add_references(new)
    encoder = sentences.shared()
    every = store.passages()
    index = Index([passage.id for passage in every], encoder.encode([passage.text for passage in every]))
    yield Sources(store=store, passages=lambda: index, encode_sentences=encoder.encode), ids
    store.close()


def test_a_paraphrase_finds_its_entry_in_the_first_ten(entries):
    """Definitions of 1913 from Debian's dict-gcide; descriptions written down before any result was seen."""
    sources, ids = entries
    asked = read("gcide_paraphrases.csv")
    assert len(asked) == 60
    for row in asked:
        assert row["headword"].casefold() not in row["paraphrase"].casefold().split()
    ranks = [rank_of(finding.find(Query(r["paraphrase"], top=10), sources).hits, {ids[r["headword"]]}) for r in asked]
    found = sum(rank is not None for rank in ranks) / len(ranks)
    print(f"found {found:.3f}, MRR@10 {fusion.mean_reciprocal_rank(ranks):.3f}")
    assert found >= 0.70


def test_each_source_of_passages_does_its_share(entries):
    """Neither full text nor sentence vectors carry the other: each alone finds more than half."""
    sources, ids = entries
    by_words = Sources(store=sources.store)
    found = {finding.PASSAGE_WORDS: 0, finding.PASSAGE_MEANING: 0}
    for row in read("gcide_paraphrases.csv"):
        own = ids[row["headword"]]
        hits = finding.find(Query(row["paraphrase"], top=10), by_words).hits
        found[finding.PASSAGE_WORDS] += rank_of(hits, {own}) is not None
        near = sources.passages().search(sentences.shared().encode([row["paraphrase"]])[0], 10)
        found[finding.PASSAGE_MEANING] += own in {finding.passage_owner(key) for key, _ in near}
    print(found)
    assert min(found.values()) > 30
