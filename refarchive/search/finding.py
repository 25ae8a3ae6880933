"""Finding references: several ways of looking, each narrowed first, fused by rank, each hit saying why it is there.

A hit is a reference, or one passage of a text reference: the passage is the unit that text search returns, so a long
text may stand there more than once. What is known of the text as a whole (its caption) counts for its best passage.

How sources are weighed
-----------------------
Reciprocal rank fusion gives every source the same say. A source that answers every question with a ranking of all
pictures, right or wrong, would then push out what others are sure of. So the weight of "picture, by words" follows
what was measured once, on material that is no part of any archive: the built-in encoder puts the right picture among
the first ten for about 0.32 of 674 captions (tuxpaint-stamps-default), whereas sentence vectors alone put the right
dictionary entry there for 0.77 of 60 descriptions (dict-gcide), and its words alone for 0.97. Its weight is the ratio
of the first two, 0.4; an encoder trained on pictures and words together weighs 1, as do all other sources.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple, Protocol

from refarchive.encoders.base import Identity
from refarchive.errors import BadQuery
from refarchive.records.dates import iso_day
from refarchive.records.model import Filter, Passage, Reference, Region
from refarchive.search import fusion, period
from refarchive.search.vectors import TILE_NAMES, TILES, picture_key, split_key
from refarchive.search.words import match_words

if TYPE_CHECKING:
    from refarchive.encoders.base import Vectors
    from refarchive.search.scan import Index

DEPTH = 200  # how many of each source are fused, at least
CAPTION_WORDS = "words in the caption"
CAPTION_MEANING = "meaning of the caption"
PASSAGE_WORDS = "words in a passage"
PASSAGE_MEANING = "meaning of a passage"
PICTURE_WORDS = "picture, by words"
LIKENESS = "likeness"
COLOUR = "colour"

ONE_SPACE_WEIGHT = 1.0
CLASSES_WEIGHT = 0.4

# A caption and a passage of the same text answer the same question; counted twice, texts would crowd pictures out.
_GROUPS = {CAPTION_WORDS: "words", PASSAGE_WORDS: "words", CAPTION_MEANING: "meaning", PASSAGE_MEANING: "meaning"}

Lab = tuple[float, float, float]
Unit = tuple[str, str]  # reference, and passage or ""


class Shelf(Protocol):
    """What finding asks of the store."""

    def select(self, wanted: Filter) -> list[str]:
        """Ids of the references that pass a filter, in the order they were gathered."""
        ...

    def count(self) -> int:
        """How many references there are."""
        ...

    def undated(self, wanted: Filter) -> int:
        """How many references a period left out only because they have no date."""
        ...

    def search_words(
        self, match: str, *, table: str, allowed: Collection[str] | None = None, limit: int = 200
    ) -> list[tuple[str, float]]:
        """Best matches of an FTS5 query in "references" or "passages", as (id, bm25), lower is better."""
        ...

    def references(self, ids: Sequence[str]) -> list[Reference]:
        """References in the order named."""
        ...

    def passage(self, passage: str) -> Passage:
        """One passage."""
        ...


@dataclass(frozen=True)
class Sources:
    """Where to look. What is None is not there; indexes come as functions, called only when they are needed.

    likeness: pictures by likeness, keyed "ref-…#0" (whole) and "#1"… (tiles).
    word_space: the same pictures in the space of `encode_words`, keyed likewise.
    captions: sentence vectors of captions, keyed by reference; anything from "@" on in a key is passed over.
    passages: sentence vectors of passages, keyed by passage (`records.ids.passage_id`).
    rank_by_colour: ranks those allowed references (all where None) that have colours by distance from a Lab colour,
    nearest first.
    word_weight: weight of "picture, by words" (`word_weight_of`).
    """

    store: Shelf
    encoder: str = ""
    likeness: Callable[[], Index] | None = None
    word_space: Callable[[], Index] | None = None
    encode_words: Callable[[Sequence[str]], Vectors] | None = None
    captions: Callable[[], Index] | None = None
    passages: Callable[[], Index] | None = None
    encode_sentences: Callable[[Sequence[str]], Vectors] | None = None
    rank_by_colour: Callable[[Lab, Sequence[str] | None], list[tuple[str, float]]] | None = None
    word_weight: float = CLASSES_WEIGHT


@dataclass(frozen=True)
class Query:
    """What is looked for.

    like: a likeness vector (d,), of any length but zero. like_reference: the reference it came from, or, without
    `like`, the reference whose own vector is taken. colour: CIE Lab, under the white that `rank_by_colour` expects.
    period: the period as typed, for the notes. more, less: references to be like and unlike (Rocchio on likeness).
    beyond_period: show what lies outside the period too, after everything inside, each hit saying how far outside.
    """

    words: str = ""
    like: Vectors | None = field(default=None, compare=False)
    like_reference: str = ""
    colour: Lab | None = None
    filter: Filter = field(default_factory=Filter)
    period: str = ""
    top: int = 20
    more: tuple[str, ...] = ()
    less: tuple[str, ...] = ()
    beyond_period: bool = False


@dataclass(frozen=True)
class Because:
    """One reason for a hit: its rank in a source, from 1."""

    source: str
    rank: int
    note: str = ""


@dataclass(frozen=True)
class Hit:
    """One reference found, or one passage of it. `score` is the fused score, comparable within one finding only."""

    rank: int
    reference: Reference
    score: float
    region: Region | None = None  # the tile that matched, None for the whole
    passage: Passage | None = None
    because: tuple[Because, ...] = ()
    note: str = ""  # how far outside the period, "" inside


@dataclass(frozen=True)
class Findings:
    """What was found, by which encoder, and what was left out."""

    encoder: str
    hits: tuple[Hit, ...]
    notes: tuple[str, ...] = ()


class _Entry(NamedTuple):
    """One line of one source's ranking: a reference or a passage. Hundreds are made, and few of them told."""

    reference: str
    passage: str = ""
    tile: int = 0
    similarity: float | None = None
    distance: float | None = None
    asked: str = ""  # what it is to the question

    @property
    def note(self) -> str:
        told = [] if self.similarity is None else [f"similarity {self.similarity:.2f}"]
        told += [f"{TILE_NAMES[self.tile]} part"] if self.tile else []
        told += [] if self.distance is None else [f"distance {self.distance:.1f}"]
        return "; ".join(part for part in (", ".join(told), self.asked) if part)


@dataclass(frozen=True)
class _Ranking:
    source: str
    weight: float
    entries: list[_Entry]


def word_weight_of(identity: Identity) -> float:
    """Weight of "picture, by words" for an encoder: see the head of this module."""
    return CLASSES_WEIGHT if identity.meaning_dimension else ONE_SPACE_WEIGHT


def find(query: Query, sources: Sources) -> Findings:
    """Find references.

    Every source is narrowed to what passes the filter before it is cut. A query with nothing but a filter lists
    everything that passes, in the order it was gathered.

    Raises BadQuery for values that cannot be used.
    """
    _check(query)
    kept = None if query.filter.empty else sources.store.select(query.filter)  # None: all, without naming them
    notes = [] if kept is None else [_narrowed(query, sources.store, len(kept), sources.store.count())]
    asks_picture = query.like is not None or bool(query.like_reference or query.more or query.less)
    if not (query.words.strip() or asks_picture or query.colour is not None):
        listed = sources.store.references(sources.store.select(Filter()) if kept is None else kept)
        return Findings(sources.encoder, tuple(Hit(n, r, 0.0) for n, r in enumerate(listed, start=1)), tuple(notes))

    words = query.words if match_words(query.words) else ""
    if query.words.strip() and not words:
        notes.append("The words hold nothing that can be searched for.")
    likeness = _likeness_vector(query, sources, notes) if asks_picture else None
    hits = _hits(query, sources, words, likeness, kept, query.top, notes)
    if query.beyond_period and kept is not None and len(hits) < query.top:
        wider = replace(query.filter, earliest=None, latest=None)
        inside = set(kept)
        outside = [one for one in sources.store.select(wider) if one not in inside]
        more = _hits(query, sources, words, likeness, outside, query.top - len(hits), [])
        hits += [replace(hit, rank=len(hits) + hit.rank, note=_outside(hit.reference, query.filter)) for hit in more]
    return Findings(sources.encoder, tuple(hits), tuple(dict.fromkeys(notes)))


# --- the question ---------------------------------------------------------------------------------------------------


def _check(query: Query) -> None:
    if query.top < 1:
        raise BadQuery("Fewer than one hit was asked for.", "Give a number of 1 or more.")
    if query.less and not (query.more or query.like is not None or query.like_reference):
        raise BadQuery(
            "Nothing says what the pictures should be like, only what they should not.",
            "Name at least one reference to be more like, or a picture.",
        )
    if query.colour is not None and not (len(query.colour) == 3 and all(math.isfinite(v) for v in query.colour)):
        raise BadQuery("A colour is three finite numbers, L*, a* and b*.", "Give it as #rrggbb on the command line.")


def _narrowed(query: Query, store: Shelf, kept: int, total: int) -> str:
    """One sentence: how many the filter kept, by what.

    Example: "14 of 40 references pass: period 1868/1874, kind image; 6 undated left out."
    """
    wanted = query.filter
    told: list[str] = []
    if wanted.earliest is not None or wanted.latest is not None:
        days = [".." if day is None else iso_day(day) for day in (wanted.earliest, wanted.latest)]
        told.append(f"period {query.period or '/'.join(days)}")
    for name, values in (
        ("kind", wanted.kinds),
        ("witness", wanted.witnesses),
        ("place", wanted.places),
        ("rights", wanted.rights),
        ("subject", wanted.subjects),
        ("scene", (wanted.scene,) if wanted.scene else ()),
    ):
        if values:
            told.append(f"{name} {' or '.join(values)}")
    undated = store.undated(wanted)
    left = f"; {undated} undated left out" if undated else ""
    return f"{kept} of {total} references pass: {', '.join(told)}{left}."


def _outside(reference: Reference, wanted: Filter) -> str:
    when = reference.when
    if when is None:
        return "undated"
    return period.gap_words((when.earliest, when.latest), (wanted.earliest, wanted.latest))


def _likeness_vector(query: Query, sources: Sources, notes: list[str]) -> Vectors | None:
    """The unit likeness vector looked for, after Rocchio; None, with a note, where there is nothing to go by."""
    import numpy as np

    index = sources.likeness() if sources.likeness is not None else None
    if index is None or len(index) == 0:
        notes.append("No picture has been encoded yet, so none can be compared.")
        return None

    def row(reference: str) -> Vectors:
        found = index.vector(picture_key(reference))
        if found is None:
            raise BadQuery(
                f"The reference {reference} has no picture vector.",
                "Name a picture reference; refarchive verify ARCHIVE --repair makes missing vectors.",
                records=[reference],
            )
        return found

    start = np.zeros(index.dimension)
    if query.like is not None:
        start = np.asarray(query.like, np.float64).reshape(-1)
        if start.shape != (index.dimension,) or not np.isfinite(start).all() or not start.any():
            raise BadQuery(
                f"A likeness vector of {index.dimension} finite values, not all zero, is wanted.",
                "Encode the picture with this archive's own encoder.",
            )
        start = start / np.linalg.norm(start)
    elif query.like_reference:
        start = row(query.like_reference).astype(np.float64)
    steered = fusion.rocchio(
        start,
        np.array([row(reference) for reference in query.more]).reshape(-1, index.dimension),
        np.array([row(reference) for reference in query.less]).reshape(-1, index.dimension),
    )
    length = np.linalg.norm(steered)
    if length < 1e-9:
        raise BadQuery("What to be like and what to be unlike cancel out.", "Name other references.")
    return (steered / length).astype(np.float32)


# --- the sources ----------------------------------------------------------------------------------------------------


def passage_owner(passage: str) -> str:
    """Id of the reference a passage belongs to, read from the passage's id.

    >>> passage_owner("ref-0123456789ab.p12")
    'ref-0123456789ab'
    """
    return passage.rpartition(".p")[0]


def _rankings(
    query: Query, sources: Sources, words: str, likeness: Vectors | None, kept: list[str] | None, notes: list[str]
) -> list[_Ranking]:
    """Each source's ranking of what is kept, cut to the depth."""
    depth = max(DEPTH, query.top)
    found: list[_Ranking] = []

    def add(source: str, entries: list[_Entry], weight: float = 1.0) -> None:
        if entries:
            found.append(_Ranking(source, weight, entries[:depth]))

    if words:
        match = match_words(words)
        with ThreadPoolExecutor(1, thread_name_prefix="words") as database:  # it looks while vectors are compared here
            written = [
                (source, database.submit(_by_words, sources.store, match, table, kept, depth))
                for source, table in ((CAPTION_WORDS, "references"), (PASSAGE_WORDS, "passages"))
            ]
            meant = list(_by_meaning(sources, words, kept, depth))
        for source, looked in written:
            add(source, looked.result())
        for source, entries, weight in meant:
            add(source, entries, weight)
    if likeness is not None and sources.likeness is not None:
        asked = {query.like_reference: "the picture asked about"} if query.like_reference else {}
        asked |= dict.fromkeys(query.more, "asked for more like it") | dict.fromkeys(
            query.less, "asked for less like it"
        )
        index = sources.likeness()
        if kept is None and index.told:
            notes.append(index.told)
        entries = _by_picture(index, likeness, kept, depth)
        add(LIKENESS, [e._replace(asked=asked.get(e.reference, "")) for e in entries] if asked else entries)
    if query.colour is not None:
        ranked = [] if sources.rank_by_colour is None else sources.rank_by_colour(query.colour, kept)
        add(COLOUR, [_Entry(one, distance=distance) for one, distance in ranked])
        if not ranked and sources.store.count():
            notes.append("No picture's colours have been measured yet, so none can be compared.")
    return found


def _by_words(store: Shelf, match: str, table: str, allowed: list[str] | None, depth: int) -> list[_Entry]:
    ids = [one for one, _ in store.search_words(match, table=table, allowed=allowed, limit=depth)]
    return [_Entry(passage_owner(one), one) if table == "passages" else _Entry(one) for one in ids]


def _by_meaning(
    sources: Sources, words: str, allowed: list[str] | None, depth: int
) -> Iterator[tuple[str, list[_Entry], float]]:
    """What is near to the words as vectors: captions, passages, and pictures with the weight that they have."""
    indexes = [source() if source is not None else None for source in (sources.captions, sources.passages)]
    if sources.encode_sentences is not None and any(indexes):
        vector = sources.encode_sentences([words])[0]
        yield CAPTION_MEANING, _by_sentence(indexes[0], _caption_owner, vector, allowed, depth), 1.0
        yield PASSAGE_MEANING, _by_sentence(indexes[1], passage_owner, vector, allowed, depth), 1.0
    index = sources.word_space() if sources.word_space is not None else None
    if index is not None and len(index) and sources.encode_words is not None:
        vector = sources.encode_words([words])[0]
        yield PICTURE_WORDS, _by_picture(index, vector, allowed, depth), sources.word_weight


def _by_picture(index: Index, vector: Vectors, allowed: Collection[str] | None, depth: int) -> list[_Entry]:
    """References by the best of their whole and tiles, and which it was."""
    found = index.best_of_each(vector, depth, _picture_owner, allowed)
    parted = [(split_key(key), product) for key, product in found]
    return [_Entry(reference, tile=tile, similarity=product) for (reference, tile), product in parted]


def _by_sentence(
    index: Index | None, owner: Callable[[str], str], vector: Vectors, allowed: Collection[str] | None, depth: int
) -> list[_Entry]:
    if index is None:
        return []
    entries: dict[tuple[str, str], _Entry] = {}
    for key, product in index.search_owned(vector, depth, owner, allowed):
        passage = key if owner is passage_owner else ""
        entries.setdefault((owner(key), passage), _Entry(owner(key), passage, similarity=product))
    return list(entries.values())


def _picture_owner(key: str) -> str:
    return key.rpartition("#")[0] or key  # as `split_key` has it, in half the time


def _caption_owner(key: str) -> str:
    return key.partition("@")[0]


# --- the answer -----------------------------------------------------------------------------------------------------


def _hits(
    query: Query,
    sources: Sources,
    words: str,
    likeness: Vectors | None,
    kept: list[str] | None,
    top: int,
    notes: list[str],
) -> list[Hit]:
    rankings = _rankings(query, sources, words, likeness, kept, notes) if kept is None or kept else []
    of_passages = [r for r in rankings if r.source in (PASSAGE_WORDS, PASSAGE_MEANING)]
    best: dict[str, str] = {}  # of each text, the passage that stands for it
    for passage, _ in fusion.reciprocal_rank_fusion([[e.passage for e in r.entries] for r in of_passages]):
        best.setdefault(passage_owner(passage), passage)

    def unit(entry: _Entry) -> Unit:
        return entry.reference, entry.passage or best.get(entry.reference, "")

    fused = fusion.reciprocal_rank_fusion(
        [[unit(entry) for entry in ranking.entries] for ranking in rankings],
        weights=[ranking.weight for ranking in rankings],
        groups=[_GROUPS.get(ranking.source, ranking.source) for ranking in rankings],
    )[:top]
    chosen = {one for one, _ in fused}
    reasons: dict[Unit, list[tuple[_Ranking, int, _Entry]]] = {}
    for ranking in rankings:
        for rank, entry in enumerate(ranking.entries, start=1):
            if unit(entry) in chosen:
                reasons.setdefault(unit(entry), []).append((ranking, rank, entry))
    records = {r.id: r for r in sources.store.references(list({reference for reference, _ in chosen}))}
    hits: list[Hit] = []
    for one, score in fused:
        reference, passage = one
        if reference not in records:
            continue  # taken away since the filter was asked
        hits.append(
            Hit(
                rank=len(hits) + 1,
                reference=records[reference],
                score=score,
                region=_region(reasons[one]),
                passage=sources.store.passage(passage) if passage else None,
                because=tuple(Because(r.source, rank, entry.note) for r, rank, entry in reasons[one]),
            )
        )
    return hits


def _region(reasons: list[tuple[_Ranking, int, _Entry]]) -> Region | None:
    """The tile that matched: by likeness where a picture was asked for, else by words."""
    tiles = {ranking.source: entry.tile for ranking, _, entry in reasons}
    tile = tiles.get(LIKENESS, tiles.get(PICTURE_WORDS, 0))
    return TILES[tile] if tile else None
