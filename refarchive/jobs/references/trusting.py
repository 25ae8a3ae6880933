"""Trust: the archive's own captioned pictures as a test of its encoder, kept until records or encoder change."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from refarchive.errors import SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import cut, open_reference
from refarchive.jobs.references import index
from refarchive.records.model import Reference, Region
from refarchive.search.trust import Share, Trust, chance_of, ranks, within

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL.Image import Image

SETTING = "trust"
VERSION = 1
MOST_DETAILS = 400  # pictures a piece is cut from; of more every so-manieth is taken
PIECE_SHARE = 0.42  # of width and height; not that of the tiles an index holds
BATCH = 16
ROWS = 64  # pictures, or pieces of them, compared with everything at a time
SENTENCES = 256  # captions encoded between one word of progress and the next


def trust(kit: Kit) -> Trust:
    """What was measured for the archive as it now is: kept from the last time, or measured now."""
    index.bring_up_to_date(kit)
    references = [r for r in kit.store.references() if r.kind == "image"]
    mark = _fingerprint(kit, references)
    kept = kit.store.setting(SETTING)
    if isinstance(kept, dict) and kept.get("fingerprint") == mark:
        return _from_dict(kept["trust"])
    measured = _measure(kit, references)
    kit.store.set_setting(SETTING, {"fingerprint": mark, "trust": measured.as_dict()})
    return measured


def _fingerprint(kit: Kit, references: Sequence[Reference]) -> str:
    families = [[m.reference for m in family.members] for family in kit.store.families.all()]
    told = [VERSION, kit.likeness.identity, [(r.id, index.caption_of(r)) for r in references], families]
    return hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()


def _from_dict(kept: dict[str, Any]) -> Trust:
    values: dict[str, Any] = {k: Share(**v) if isinstance(v, dict) else v for k, v in kept.items()}
    return Trust(**values)


def _measure(kit: Kit, references: Sequence[Reference]) -> Trust:
    captioned = [r for r in references if index.caption_of(r)]
    families = {m.reference: family.id for family in kit.store.families.all() for m in family.members}
    first, five = _captions(kit, captioned, families)
    whole, in_five = _details(kit, references, families)
    return Trust(kit.encoder_name, len(captioned), len(references), first, five, whole, in_five)


def _captions(kit: Kit, captioned: Sequence[Reference], families: dict[str, str]) -> tuple[Share | None, Share | None]:
    """For each picture: where its caption comes among all captions."""
    from refarchive.search.vectors import picture_key

    if len(captioned) < 2:
        return None, None
    keys = list(kit.meaning.keys())
    space = kit.encoder.word_space(kit.meaning.matrix())
    place = {key: n for n, key in enumerate(keys)}
    captions = [index.caption_of(r) for r in captioned]
    words = _encoded(kit, captions)
    right = _right(captioned, families, captions)
    rows = [place[picture_key(r.id)] for r in captioned]
    return _shares(_ranks(right, lambda part: space[rows[part]] @ words.T), right, len(captioned))


def _ranks(right: Sequence[set[int]], scores: Callable[[slice], NDArray[np.float32]]) -> NDArray[np.int64]:
    """Ranks of the right answers; not all against all at once, which would grow with the square."""
    import numpy as np

    parts = [slice(start, start + ROWS) for start in range(0, len(right), ROWS)]
    return np.concatenate([ranks(scores(part), right[part]) for part in parts])


def _encoded(kit: Kit, captions: Sequence[str]) -> NDArray[np.float32]:
    import numpy as np

    rows = []
    for start in range(0, len(captions), SENTENCES):
        rows.append(np.asarray(kit.encoder.encode_words(captions[start : start + SENTENCES]), np.float32))
        if kit.progress is not None:
            kit.progress(min(start + SENTENCES, len(captions)), len(captions), "captions")
    return np.concatenate(rows)


def _right(references: Sequence[Reference], families: dict[str, str], captions: Sequence[str]) -> list[set[int]]:
    """For each reference the places of those that count as it: itself, its family, and equal captions."""
    groups: dict[str, set[int]] = {}
    for n, reference in enumerate(references):
        for name in (families.get(reference.id, reference.id), f"caption:{captions[n]}" if captions[n] else ""):
            if name:
                groups.setdefault(name, set()).add(n)
    return [
        groups[families.get(r.id, r.id)] | (groups[f"caption:{captions[n]}"] if captions[n] else set())
        for n, r in enumerate(references)
    ]


def _details(kit: Kit, references: Sequence[Reference], families: dict[str, str]) -> tuple[Share | None, Share | None]:
    """For pieces cut from pictures: where the picture comes among all pictures, by whole or tile, as finding looks."""
    import numpy as np

    if len(references) < 2:
        return None, None
    step = max(1, -(-len(references) // MOST_DETAILS))
    asked: list[int] = []
    vectors: list[Any] = []
    waiting: list[Image] = []

    def encode() -> None:
        if waiting:
            vectors.append(kit.encoder.encode_pictures(waiting).likeness)
            waiting.clear()

    for n in range(0, len(references), step):
        try:
            picture = open_reference(kit, references[n], longest=1600)
        except SourceRefused:
            continue
        waiting.append(cut(picture, _piece(references[n].id)))
        asked.append(n)
        if len(waiting) >= BATCH:
            encode()
        if kit.progress is not None:
            kit.progress(n + 1, len(references), "trust")
    encode()
    if not asked:
        return None, None
    owner = {r.id: n for n, r in enumerate(references)}
    keys = list(kit.likeness.keys())
    columns = np.array([owner[key.partition("#")[0]] for key in keys])
    whole = _right(references, families, [""] * len(references))
    right = [whole[n] for n in asked]
    pieces, matrix = np.concatenate(vectors), kit.likeness.matrix()
    best = _best_of_each(columns, len(references))
    return _shares(_ranks(right, lambda part: best(pieces[part] @ matrix.T)), right, len(references))


def _best_of_each(owners: NDArray[np.intp], count: int) -> Callable[[NDArray[np.float32]], NDArray[np.float32]]:
    """What tells, of scores (m, k), the highest of each owner, shape (m, count); minus infinity where one has none."""
    import numpy as np

    order = np.argsort(owners, kind="stable")
    there, starts = np.unique(owners[order], return_index=True)

    def best(scores: NDArray[np.float32]) -> NDArray[np.float32]:
        found = np.full((len(scores), count), -np.inf, np.float32)
        if len(there):
            found[:, there] = np.maximum.reduceat(scores[:, order], starts, axis=1)
        return found

    return best


def _shares(found: Any, right: Sequence[set[int]], answers: int) -> tuple[Share | None, Share | None]:
    return (
        within(found, 1, chance_of(right, answers, 1)),
        within(found, 5, chance_of(right, answers, 5)),
    )


def _piece(reference: str) -> Region:
    """A piece of a picture at a place that follows from its id: the same every time, unlike any tile."""
    digest = hashlib.sha256(reference.encode()).digest()
    room = 1.0 - PIECE_SHARE
    return (digest[0] / 255 * room, digest[1] / 255 * room, PIECE_SHARE, PIECE_SHARE)
