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

    Of a family of more than a dozen not every pair is proposed, but a chain of pairs. `only`: places of the pictures to
    look from, such as those new since the last time; a pair is proposed where at least one of both is among them.

    Raises
    ------
    CannotMeasure
        where `only` names a place that does not exist.
    """
    return Proposer(signatures).look_from(range(len(signatures)) if only is None else only)


class Proposer:
    """Looks for copies among these pictures, from some of them at a time, so that a long search can be stopped.

    Holds about 0.35 MB for a picture full of detail.
    """

    def __init__(self, signatures: Sequence[Signature]) -> None:
        self._signatures = signatures
        self._voters: dict[str, _Voters] = {}
        self._seen: set[tuple[int, int]] = set()  # pairs compared in full
        self._tried: set[tuple[str, int, int, bool]] = set()

    def look_from(self, asked: Collection[int]) -> list[Proposal]:
        """Pairs with at least one of the places asked, ordered; a pair that was compared before is not given again.

        Raises
        ------
        CannotMeasure
            where a place does not exist.
        """
        from threadpoolctl import threadpool_limits

        places = sorted(set(asked))
        if any(not 0 <= i < len(self._signatures) for i in places):
            raise CannotMeasure("Only pictures that were handed in can be looked from.")
        with threadpool_limits(limits=1):  # threads for products this small cost more than they bring
            pairs = self._promising(places)
            self._seen |= pairs
            found = [Proposal(a, b, compare(self._signatures[a], self._signatures[b])) for a, b in sorted(pairs)]
        return [proposal for proposal in found if proposal.relation.kind != UNRELATED]

    def _promising(self, asked: Sequence[int]) -> set[tuple[int, int]]:
        """Pairs worth comparing in full: near hashes, or features that agree in the way they were found to be alike."""
        if not asked:
            return set()
        pairs = _near_hashes(self._signatures, asked) - self._seen
        for channel in ("tones", "edges"):
            if channel not in self._voters:
                self._voters[channel] = _Voters(self._signatures, channel)
            for one, two, mirrored in sorted(self._voters[channel].candidates(asked)):
                if (one, two) in pairs or (one, two) in self._seen or (channel, one, two, mirrored) in self._tried:
                    continue
                self._tried.add((channel, one, two, mirrored))
                found = match_features(self._signatures[one], self._signatures[two], channel, mirrored)
                if shared_by(self._signatures[one], self._signatures[two], found) is not None:
                    pairs.add((one, two))
        return pairs


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


class _Voters:
    """One channel's features of all pictures, ready to be searched."""

    def __init__(self, signatures: Sequence[Signature], channel: str) -> None:
        import faiss

        self._features: list[Features] = [getattr(s, channel) for s in signatures]
        self._owner = np.repeat(np.arange(len(self._features)), [len(f.points) for f in self._features])
        self._index: Any = None
        if self._owner.size < 2:
            return
        everything = np.concatenate([f.unit() for f in self._features])
        if len(everything) <= _FLAT_SEARCH:
            self._index = faiss.IndexFlatL2(128)
        else:
            cells = int(math.sqrt(len(everything)))
            self._index = faiss.IndexIVFFlat(faiss.IndexFlatL2(128), 128, cells)
            self._index.nprobe = _CELLS_SEARCHED
            self._index.cp.min_points_per_centroid = 1
            self._index.train(everything)
        self._index.add(everything)

    def candidates(self, asked: Sequence[int]) -> set[tuple[int, int, bool]]:
        """For each picture asked, and its mirror, the pictures where most of its strongest features find their like."""
        found: set[tuple[int, int, bool]] = set()
        if self._index is None:
            return found
        for start in range(0, len(asked), _ASKED_AT_ONCE):
            block = asked[start : start + _ASKED_AT_ONCE]
            for mirrored in (False, True):
                asking = [self._features[i].unit(mirrored)[:_VOTERS] for i in block]
                if not sum(map(len, asking)):
                    continue
                distance, neighbour = self._index.search(np.concatenate(asking), _NEIGHBOURS)
                ends = np.cumsum([len(a) for a in asking])
                for i, end, own in zip(block, ends, asking, strict=True):
                    rows = slice(int(end) - len(own), int(end))
                    best = self._voted(i, distance[rows], neighbour[rows])
                    found |= {(*_pair(i, j), mirrored) for j in best}
        return found

    def _voted(self, i: int, distance: NDArray[np.float32], neighbour: NDArray[np.int64]) -> list[int]:
        near = (distance < _VOTE_DISTANCE) & (neighbour >= 0)
        votes = np.zeros(len(self._features), dtype=np.int64)
        for row in np.where(near, self._owner[neighbour], i):
            votes[np.unique(row)] += 1  # a feature has one vote for each picture
        votes[i] = 0
        best = np.argsort(-votes, kind="stable")[:_CANDIDATES]
        return [int(j) for j in best if votes[j] >= _LEAST_VOTES]
