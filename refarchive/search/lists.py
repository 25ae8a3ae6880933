"""Rows parted into lists around centres, so that a question reads a few lists of a large file and not all of it.

FAISS finds the centres (k-means over directions) and each row's nearest; kept are the centres and the numbers of the
rows. The rows themselves stay where they are, mapped, and are ranked by exact products: FAISS's own index would hold a
second copy of all of them, and its reader is not meant for files from strangers.

What lists miss is measured when they are made: rows of their own are looked for both ways, and as many lists are
read as that asks for. Where a quarter of all rows would have to be read, the lists are of no use, and say so (`probes`
is 0). A question like nothing that is there has its nearest rows in no list in particular: it is known by how far even
they are, and answered from all rows (`least`).
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from refarchive.search.vectors import Vectors

    Places = NDArray[np.intp]

Tell = Callable[[int, int, str], None]

VERSION = 1
ENOUGH = 0.985  # share of the 20 nearest to be found in the trial: what is promised is 0.98
NEAREST = 20
ASKED = 200  # rows looked for in the trial
LEAST_READ = 4  # lists, whatever the trial says: a question may be less like the rows than they are like each other
MOST_READ = 0.25  # share of the rows beyond which reading them all is as quick
UNLIKE = 0.05  # share of the archive's own rows that would be taken for like nothing there: they are only slower
MOST_LISTS = 4096
ROUNDS = 8  # of k-means
TRAINED_ON = 64  # rows a centre
AT_ONCE = 16_384  # rows compared with all centres in one product


@dataclass(frozen=True)
class Lists:
    """Which rows lie around which centre.

    centres: float32 (k, d), of length 1. starts: (k + 1,), where each list begins among `rows`. rows: numbers of all
    rows from 0, each once. probes: how many lists a question reads, 0 where they are of no use. found: share of the
    nearest found in the trial. least: the product with its 20th nearest row below which a question is like nothing
    that is there. stamp: what the rows were, so that lists of others are known.
    """

    centres: Vectors
    starts: Places
    rows: Places
    probes: int
    found: float
    least: float
    stamp: str

    def near(self, query: Vectors, probes: int | None = None) -> Places:
        """Numbers of the rows in the lists nearest to a query (d,), in order."""
        import numpy as np

        count = min(self.probes if probes is None else probes, len(self.centres))
        best = np.argpartition(-(self.centres @ query), count - 1)[:count]
        return np.sort(np.concatenate([self.rows[self.starts[n] : self.starts[n + 1]] for n in best]))

    def to_bytes(self) -> bytes:
        """As a file: a checksum of all that follows, a head in JSON, and raw little-endian numbers."""
        head = {
            "version": VERSION,
            "centres": list(self.centres.shape),
            "rows": len(self.rows),
            "probes": self.probes,
            "found": self.found,
            "least": self.least,
            "stamp": self.stamp,
        }
        numbers = (self.centres.astype("<f4"), self.starts.astype("<u4"), self.rows.astype("<u4"))
        content = json.dumps(head).encode("ascii") + b"\n" + b"".join(one.tobytes() for one in numbers)
        return b"%08x\n%s" % (zlib.crc32(content), content)

    @classmethod
    def from_bytes(cls, content: bytes) -> Lists:
        """Read what `to_bytes` wrote. Raises ValueError for anything else: a changed bit, rows twice or not at all."""
        import numpy as np

        check, _, content = content.partition(b"\n")
        if len(check) != 8 or int(check, 16) != zlib.crc32(content):
            raise ValueError("another checksum")
        told, _, numbers = content.partition(b"\n")
        try:
            head: dict[str, Any] = json.loads(told)
            (many, wide), count = map(int, head["centres"]), int(head["rows"])
            probes, found, stamp = int(head["probes"]), float(head["found"]), str(head["stamp"])
            version, least = head["version"], float(head["least"])
        except (TypeError, KeyError, AttributeError, OverflowError, RecursionError) as error:
            raise ValueError("another head") from error
        if (
            version != VERSION
            or not (0 <= found <= 1 and -1 <= least <= 1)
            or not (1 <= many <= MOST_LISTS and wide >= 1 and count >= 1 and 0 <= probes <= many)
        ):
            raise ValueError("another version, or sizes that cannot be")
        if len(numbers) != 4 * (many * wide + many + 1 + count):
            raise ValueError("another length")
        values = np.frombuffer(numbers, "<u4")
        centres = values[: many * wide].view("<f4").reshape(many, wide)
        starts = values[many * wide : many * wide + many + 1].astype(np.intp)
        rows = values[-count:].astype(np.intp)
        if starts[0] != 0 or starts[-1] != count or (np.diff(starts) < 0).any() or not np.isfinite(centres).all():
            raise ValueError("lists that cannot be")
        if rows.max() >= count or (np.bincount(rows, minlength=count) != 1).any():
            raise ValueError("a row twice, or not at all")
        return cls(np.ascontiguousarray(centres), starts, rows, probes, found, least, stamp)


def made(matrix: Vectors, stamp: str, tell: Tell | None = None, *, seed: int = 1) -> Lists:
    """Part unit rows (n, d), n at least 1; by the root of n lists. `tell` may raise to stop: nothing is kept then.

    Holds the rows of one step in memory (64 a centre at most), and never all.
    """
    import numpy as np

    tell = tell or (lambda *_: None)
    count = len(matrix)
    many = max(1, min(MOST_LISTS, round(count**0.5)))
    centres = _centres(matrix, many, tell, seed)
    nearest = np.empty(count, np.int64)
    for start in range(0, count, AT_ONCE):
        nearest[start : start + AT_ONCE] = _nearest(centres, matrix[start : start + AT_ONCE])
        tell(min(start + AT_ONCE, count), count, "putting vectors into lists")
    rows = np.argsort(nearest, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(nearest, minlength=many))])
    return _tried(Lists(centres, starts, rows, 0, 0.0, 0.0, stamp), matrix, tell, seed)


def _centres(matrix: Vectors, many: int, tell: Tell, seed: int) -> Vectors:
    """Directions that rows gather around, by FAISS, one round at a time so that it can be stopped."""
    import faiss
    import numpy as np

    rng = np.random.default_rng(seed)
    sample = np.sort(rng.choice(len(matrix), min(len(matrix), TRAINED_ON * many), replace=False))
    rows = np.ascontiguousarray(matrix[sample], np.float32)
    centres = rows[np.sort(rng.choice(len(rows), many, replace=False))]
    for round_ in range(ROUNDS):
        means = faiss.Kmeans(
            rows.shape[1], many, niter=1, spherical=True, seed=seed, min_points_per_centroid=1,
            max_points_per_centroid=len(rows),
        )  # fmt: skip
        means.train(rows, init_centroids=centres)
        centres = np.asarray(means.centroids, np.float32).reshape(many, -1)
        tell(round_ + 1, ROUNDS, "finding centres of vectors")
    return np.ascontiguousarray(centres, np.float32)


def _nearest(centres: Vectors, rows: Vectors) -> NDArray[np.int64]:
    import faiss
    import numpy as np

    flat = faiss.IndexFlatIP(centres.shape[1])
    flat.add(centres)
    found: NDArray[np.int64] = flat.search(np.ascontiguousarray(rows, np.float32), 1)[1][:, 0]
    return found


def _tried(parted: Lists, matrix: Vectors, tell: Tell, seed: int) -> Lists:
    """The lists with what a trial says of them: how many are to be read (0 where too many), and what is found then."""
    import numpy as np

    count = len(matrix)
    asked = np.sort(np.random.default_rng(seed + 1).choice(count, min(ASKED, count), replace=False))
    questions = np.array(matrix[asked], np.float32)
    wanted, last = _exact(matrix, asked, questions, tell)
    least = float(np.clip(np.quantile(last, UNLIKE), -1, 1))
    # What is read is ranked exactly, so a question finds those of its nearest rows that lie in the lists it reads.
    sizes = np.diff(parted.starts)
    of_row = np.empty(count, np.intp)
    of_row[parted.rows] = np.repeat(np.arange(len(sizes)), sizes)
    order = np.argsort(-(questions @ parted.centres.T), axis=1)
    turns = np.argsort(order, axis=1)  # of each list, when a question would come to it
    probes, found = min(LEAST_READ, len(sizes)), 0.0
    while probes <= len(sizes) and sizes[order[:, :probes]].sum(axis=1).mean() <= MOST_READ * count:
        held = [np.mean(turn[of_row[near]] < probes) for turn, near in zip(turns, wanted, strict=True) if len(near)]
        found = float(np.mean(held)) if held else 1.0
        if found >= ENOUGH:
            return replace(parted, probes=probes, found=found, least=least)
        probes *= 2
    return replace(parted, found=found, least=least)


def _exact(matrix: Vectors, asked: Places, questions: Vectors, tell: Tell) -> tuple[list[Places], list[float]]:
    """The nearest rows of each question, itself aside, by products with every row; and the last one's product."""
    import numpy as np

    best = [(np.empty(0, np.float32), np.empty(0, np.intp)) for _ in asked]
    for start in range(0, len(matrix), AT_ONCE):
        products = questions @ matrix[start : start + AT_ONCE].T
        for n, (number, row) in enumerate(zip(asked, products, strict=True)):
            if start <= number < start + len(row):
                row[number - start] = -np.inf
            some = np.argpartition(-row, min(NEAREST, len(row) - 1))[:NEAREST]
            scores, places = np.concatenate([best[n][0], row[some]]), np.concatenate([best[n][1], some + start])
            order = np.argsort(-scores, kind="stable")[:NEAREST]
            best[n] = scores[order], places[order]
        tell(min(start + AT_ONCE, len(matrix)), len(matrix), "trying the lists")
    nearest = [places[np.isfinite(scores)] for scores, places in best]
    ends = [float(scores[len(near) - 1]) if len(near) else 1.0 for (scores, _), near in zip(best, nearest, strict=True)]
    return nearest, ends
