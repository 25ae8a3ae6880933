"""Does a frame say without words what it is meant to say? People's words, and apart from them the machine's reading.

People come first: somebody looks for a few seconds, without text, and says what is happening. Their words are held
against the scene's statements and misreadings by sentence vectors, and what comes out is counts over viewers, never a
mark for the picture. The machine's reading, how near the frame is to each sentence among distractors, is shown only
with the archive's measured trust, and is no audience.

Vectors come in ready: unit length, (n, d), in one space.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotMeasure

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from refarchive.search.trust import Trust

STATEMENT, MISREADING = "statement", "misreading"
NEAR = 0.25  # inner product of sentence vectors from which words count as saying a sentence; ours, measured in a test
CLEARLY = 0.05  # by how much one sentence must be nearer than any other to count as the one
MOST_WORDS = 2_000  # characters of one viewer


@dataclass(frozen=True)
class Said:
    """One viewer's words against a scene's sentences.

    nearest: places of the sentences near enough, nearest first; empty where the words say none of them. kind: that of
    the nearest, "" for none; "both" where a statement and a misreading are as near as can be told.
    """

    words: str
    viewer: str
    print_size: str
    nearest: tuple[int, ...]
    similarity: tuple[float, ...]  # to every sentence
    kind: str


@dataclass(frozen=True)
class Reading:
    """What several viewers said, by sentence and by print size.

    understood: how many said a statement and no misreading as clearly. misread: how many said a misreading. neither: of
    how many nothing came near. by_sentence: how many named each as the nearest. by_size: the same three counts for each
    print size. agreement: mean likeness of viewers' words to each other, None for fewer than two.
    """

    said: tuple[Said, ...]
    understood: int
    misread: int
    neither: int
    by_sentence: tuple[int, ...]
    by_size: dict[str, tuple[int, int, int]]
    agreement: float | None

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return asdict(self)


def read(
    viewings: Sequence[tuple[str, str, str]],
    vectors: ArrayLike,
    sentences: ArrayLike,
    kinds: Sequence[str],
    *,
    near: float = NEAR,
    clearly: float = CLEARLY,
) -> Reading:
    """Hold viewers' words against a scene's sentences.

    Parameters
    ----------
    viewings
        (words, viewer, print size) of each.
    vectors, sentences
        Unit sentence vectors of the words, (n, d), and of the sentences, (m, d).
    kinds
        "statement" or "misreading" for each sentence.
    near, clearly
        See `NEAR` and `CLEARLY`.

    Raises
    ------
    CannotMeasure
        where the vectors do not fit the words or each other, or a kind is none.
    """
    import numpy as np

    own, told = np.asarray(vectors, dtype=np.float64), np.asarray(sentences, dtype=np.float64)
    if own.ndim != 2 or told.ndim != 2 or len(own) != len(viewings) or len(told) != len(kinds):
        raise CannotMeasure("Words and sentences need one vector each.")
    if len(own) and len(told) and own.shape[1] != told.shape[1]:
        raise CannotMeasure("Words and sentences were encoded differently.", "Encode both again.")
    if any(kind not in (STATEMENT, MISREADING) for kind in kinds):
        raise CannotMeasure(f"A sentence is a {STATEMENT} or a {MISREADING}.")
    likeness = own @ told.T if len(told) else np.zeros((len(own), 0))
    said = tuple(
        _said(viewing, row, kinds, near, clearly) for viewing, row in zip(viewings, likeness.tolist(), strict=True)
    )
    counts = [0] * len(kinds)
    for one in said:
        if one.nearest:
            counts[one.nearest[0]] += 1
    sizes = {
        size: tuple(one for one in said if one.print_size == size) for size in dict.fromkeys(v[2] for v in viewings)
    }
    pairs = own @ own.T
    upper = pairs[np.triu_indices(len(own), 1)] if len(own) > 1 else np.zeros(0)
    return Reading(
        said,
        *_counted(said),
        by_sentence=tuple(counts),
        by_size={size: _counted(group) for size, group in sizes.items()},
        agreement=float(upper.mean()) if upper.size else None,
    )


def _said(
    viewing: tuple[str, str, str], row: Sequence[float], kinds: Sequence[str], near: float, clearly: float
) -> Said:
    words, viewer, size = viewing
    order = sorted((n for n, value in enumerate(row) if value >= near), key=lambda n: -row[n])
    kind = ""
    if order:
        kind = kinds[order[0]]
        rivals = [n for n in order[1:] if kinds[n] != kind and row[n] > row[order[0]] - clearly]
        kind = "both" if rivals else kind
    return Said(words[:MOST_WORDS], viewer, size, tuple(order), tuple(row), kind)


def _counted(said: Sequence[Said]) -> tuple[int, int, int]:
    return (
        sum(one.kind == STATEMENT for one in said),
        sum(one.kind in (MISREADING, "both") for one in said),
        sum(not one.kind for one in said),
    )


# -- the machine's reading --------


@dataclass(frozen=True)
class MachineReading:
    """How near the frame is, to the encoder, to each sentence among distractors; and why that may say nothing.

    ranks: of each sentence among all sentences and distractors, from 1. scores: inner products. trusted: whether this
    archive's measured trust is above chance. sentence: for a person; always with the trust.
    """

    ranks: tuple[int, ...]
    scores: tuple[float, ...]
    of: int
    trusted: bool
    sentence: str


MACHINE = "A machine's reading, and no audience."


def machine_reading(
    frame: ArrayLike, sentences: ArrayLike, distractors: ArrayLike, kinds: Sequence[str], trust: Trust
) -> MachineReading:
    """The encoder's reading of a frame.

    Parameters
    ----------
    frame
        Unit word-space vector (w,).
    sentences, distractors
        Unit word-space vectors (m, w) and (k, w): of the scene's sentences, and of sentences about other things.
    kinds
        "statement" or "misreading" for each sentence.
    trust
        What was measured of this encoder on this archive.

    Raises
    ------
    CannotMeasure
        where sentences and kinds are not as many.
    """
    import numpy as np

    own = np.asarray(frame, dtype=np.float64).ravel()
    told = np.asarray(sentences, dtype=np.float64).reshape(-1, own.size)
    others = np.asarray(distractors, dtype=np.float64).reshape(-1, own.size)
    if len(told) != len(kinds):
        raise CannotMeasure("Each sentence needs a vector and a kind.")
    scores, rivals = told @ own, others @ own
    every = np.concatenate([scores, rivals])
    ranks = tuple(int(np.count_nonzero(every >= score)) for score in scores)  # ties count against
    share = trust.caption_in_five
    trusted = share is not None and share.low > share.chance
    if not trusted:
        known = "too few captions to measure" if share is None else share.words
        said = f"Cannot tell: on this archive the encoder is not measurably better than chance ({known}). {MACHINE}"
    else:
        assert share is not None
        best = min(range(len(kinds)), key=lambda n: ranks[n]) if kinds else -1
        first = (
            f"Nearest of the scene's sentences is a {kinds[best]}, at rank {ranks[best]} of {every.size}"
            if kinds
            else ""
        )
        said = f"{first}. {MACHINE} Its trust here: the right caption among the first five for {share.words}."
    return MachineReading(ranks, tuple(float(s) for s in scores), int(every.size), trusted, said)


def what_carries(whole: ArrayLike, masked: ArrayLike, sentences: ArrayLike) -> list[list[float]]:
    """How much nearness each sentence loses when a marked thing is masked: (things, sentences), positive for a loss.

    `whole` is the frame's unit word-space vector (w,), `masked` those of the frame with one thing masked each (t, w).
    """
    import numpy as np

    own = np.asarray(whole, dtype=np.float64).ravel()
    without = np.asarray(masked, dtype=np.float64).reshape(-1, own.size)
    told = np.asarray(sentences, dtype=np.float64).reshape(-1, own.size)
    lost = (told @ own)[None, :] - without @ told.T
    return [[float(value) for value in row] for row in lost]
