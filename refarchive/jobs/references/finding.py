"""Finding over one archive: the search room's question, with this archive's vectors, words and colours behind it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from refarchive.errors import BadQuery
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import index, listing, palettes

if TYPE_CHECKING:
    from refarchive.search.finding import Findings, Query, Sources
    from refarchive.search.scan import Index
    from refarchive.search.vectors import VectorFile


def rank_by_colour(kit: Kit, lab: Sequence[float], allowed: Sequence[str] | None) -> list[tuple[str, float]]:
    """Picture references among `allowed` (all where None), nearest to a Lab colour first, and how far (CIEDE2000)."""
    from refarchive.looks import colour

    keys = kit.colours.keys() if allowed is None else [key for key in allowed if key in kit.colours]
    if not keys:
        return []
    distances = colour.colour_closeness(palettes.rows_as_palettes(kit.colours.rows(keys)), lab)
    return sorted(zip(keys, (float(d) for d in distances), strict=True), key=lambda pair: (pair[1], pair[0]))


def asked_colour(hexadecimal: str) -> tuple[float, float, float]:
    """Lab of a colour as typed. Raises BadQuery."""
    import re

    from refarchive.looks import colour

    if not re.fullmatch(r"#?[0-9a-fA-F]{6}", hexadecimal):
        raise BadQuery(f"{hexadecimal!r} is not a colour.", "Write it as #rrggbb, for instance #7a4b2a.")
    l, a, b = colour.hex_to_lab("#" + hexadecimal.lstrip("#"))  # noqa: E741 (the name of the coordinate)
    return float(l), float(a), float(b)


def find(kit: Kit, query: Query) -> Findings:
    """Ask this archive; indexes are built when a source first needs them, and kept while the records stay level."""
    from refarchive.search import finding

    index.bring_up_to_date(kit)
    return finding.find(query, sources_of(kit))


def sources_of(kit: Kit) -> Sources:
    """Where finding looks, for one archive."""
    from refarchive.search import finding

    def index_of(file: VectorFile) -> Index:
        return kit.kept_index(file)

    def word_space() -> Index:
        return kit.kept_index(kit.meaning, lambda: kit.encoder.word_space(kit.meaning.matrix()), "words")

    if kit.store.empty():
        return finding.Sources(store=kit.store, encoder=kit.encoder_name)
    return finding.Sources(
        store=kit.store,
        encoder=kit.encoder_name,
        likeness=lambda: listing.index(kit),
        word_space=word_space,
        captions=lambda: index_of(kit.captions),
        passages=lambda: index_of(kit.passages),
        encode_words=lambda texts: kit.encoder.encode_words(texts),
        encode_sentences=lambda texts: kit.sentences.encode(texts),
        rank_by_colour=lambda lab, allowed: rank_by_colour(kit, lab, allowed),
        word_weight=finding.word_weight_of(kit.encoder.identity),
    )


def document(found: Findings, first: int = 0, count: int | None = None) -> dict[str, Any]:
    """What was found, as JSON; of its hits those from place `first` (from 0) on, at most `count`."""
    from refarchive.jobs.references.describing import summary
    from refarchive.paper.found import in_short, reasons

    return {
        "encoder": {"name": found.encoder},
        "hits": [
            {
                "rank": hit.rank,
                **summary(hit.reference),
                "score": hit.score,
                "region": list(hit.region) if hit.region else None,
                "passage": hit.passage.text if hit.passage else None,
                "because": [{"source": b.source, "rank": b.rank, "note": b.note} for b in hit.because],
                "in_short": in_short(hit),
                "reasons": reasons(hit),
                "outside_period": hit.note,
            }
            for hit in found.hits[first : None if count is None else first + count]
        ],
        "notes": list(found.notes),
    }
