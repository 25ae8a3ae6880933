"""Which pictures of an archive may be copies of each other, without comparing every one with every other.

Compared are pairs whose hashes are near, and for each picture the dozen others in which most of its strongest features
find their like; so time grows with the number of pictures rather than of pairs. What is never found: `copies` says.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks.copies import UNRELATED, Relation, compare
from refarchive.looks.matching import match_features, shared_by
from refarchive.looks.signatures import Features, Signature

_HASH_BITS = 12  # whole pictures nearer than this are compared in full
_VOTERS = 120  # strongest features of a picture that look for their like in all others
_NEIGHBOURS = 10
_VOTE_DISTANCE = 0.2  # squared distance of unit-length features
_LEAST_VOTES = 4
_CANDIDATES = 12  # pictures looked at for each picture, each channel, as it is and mirrored
_FLAT_SEARCH = 20_000  # features up to which the search is exhaustive
_CELLS_SEARCHED = 12
_ASKED_AT_ONCE = 64  # pictures


@dataclass(frozen=True)
class Proposal:
    """Two pictures, by their places in the sequence handed in (first below second), and their relation."""

    first: int
    second: int
    relation: Relation


def propose(signatures: Sequence[Signature], *, only: Collection[int] | None = None) -> list[Proposal]:
    """Pairs of pictures that may be copies, ordered by their places.

    Compared are pairs whose hashes are near, and for each picture the dozen others in which most of its strongest
    features find their like; so time grows with the number of pictures rather than of pairs. Of a family of more than
    a dozen not every pair is proposed, but a chain of pairs. `only`: places of the pictures to look from, such as those
    new since the last time; a pair is proposed where at least one of both is among them.

    Raises
    ------
    CannotMeasure
        where `only` names a place that does not exist.
    """
    from threadpoolctl import threadpool_limits

    asked = range(len(signatures)) if only is None else sorted(set(only))
    if any(not 0 <= i < len(signatures) for i in asked):
        raise CannotMeasure("Only pictures that were handed in can be looked from.")
    with threadpool_limits(limits=1):  # threads for products this small cost more than they bring
        return _proposed(signatures, asked)


def _proposed(signatures: Sequence[Signature], asked: Sequence[int]) -> list[Proposal]:
    pairs = _near_hashes(signatures, asked)
    for channel in ("tones", "edges"):
        for one, two, mirrored in sorted(_votes(signatures, asked, channel)):
            if (one, two) in pairs:
                continue
            found = match_features(signatures[one], signatures[two], channel, mirrored)
            if shared_by(signatures[one], signatures[two], found) is not None:
                pairs.add((one, two))
    proposals = [Proposal(one, two, compare(signatures[one], signatures[two])) for one, two in sorted(pairs)]
    return [proposal for proposal in proposals if proposal.relation.kind != UNRELATED]


def _pair(one: int, two: int) -> tuple[int, int]:
    return (one, two) if one < two else (two, one)


def _near_hashes(signatures: Sequence[Signature], asked: Sequence[int]) -> set[tuple[int, int]]:
    """Pairs of whole pictures whose frequency hashes are near, as they are or mirrored."""
    if not signatures or not asked:
        return set()

    def signs(hashes: list[int]) -> NDArray[np.float32]:
        packed = np.array(hashes, dtype=">u8").view(np.uint8).reshape(-1, 8)
        return np.unpackbits(packed, axis=1).astype(np.float32) * 2 - 1

    kept = [i for i in range(len(signatures)) if not signatures[i].blank]
    rows = [i for i in asked if not signatures[i].blank]
    if not kept or not rows:
        return set()
    plain = signs([signatures[i].frequency for i in kept])
    found = set()
    for start in range(0, len(rows), 1024):
        block = rows[start : start + 1024]
        for hashes in ([signatures[i].frequency for i in block], [signatures[i].mirrored_frequency for i in block]):
            near = (64.0 - signs(hashes) @ plain.T) / 2 <= _HASH_BITS
            for r, c in zip(*np.nonzero(near), strict=True):
                if block[r] != kept[c]:
                    found.add(_pair(block[r], kept[c]))
    return found


def _votes(signatures: Sequence[Signature], asked: Sequence[int], channel: str) -> set[tuple[int, int, bool]]:
    """For each picture asked, and for its mirror, the pictures where most of its strongest features find their like."""
    import faiss

    features: list[Features] = [getattr(s, channel) for s in signatures]
    owner = np.repeat(np.arange(len(features)), [len(f.points) for f in features])
    if owner.size < 2:
        return set()
    everything = np.concatenate([f.unit() for f in features])
    index: Any
    if len(everything) <= _FLAT_SEARCH:
        index = faiss.IndexFlatL2(128)
    else:
        cells = int(math.sqrt(len(everything)))
        index = faiss.IndexIVFFlat(faiss.IndexFlatL2(128), 128, cells)
        index.nprobe = _CELLS_SEARCHED
        index.cp.min_points_per_centroid = 1
        index.train(everything)
    index.add(everything)
    found = set()
    for start in range(0, len(asked), _ASKED_AT_ONCE):
        block = asked[start : start + _ASKED_AT_ONCE]
        for mirrored in (False, True):
            asking = [features[i].unit(mirrored)[:_VOTERS] for i in block]
            if not sum(map(len, asking)):
                continue
            distance, neighbour = index.search(np.concatenate(asking), _NEIGHBOURS)
            ends = np.cumsum([len(a) for a in asking])
            for i, end, own in zip(block, ends, asking, strict=True):
                rows = slice(int(end) - len(own), int(end))
                near = (distance[rows] < _VOTE_DISTANCE) & (neighbour[rows] >= 0)
                votes = np.zeros(len(features), dtype=np.int64)
                for row in np.where(near, owner[neighbour[rows]], i):
                    votes[np.unique(row)] += 1  # a feature has one vote for each picture
                votes[i] = 0
                best = np.argsort(-votes, kind="stable")[:_CANDIDATES]
                found |= {(*_pair(i, int(j)), mirrored) for j in best if votes[j] >= _LEAST_VOTES}
    return found
