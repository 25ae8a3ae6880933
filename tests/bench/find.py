"""Finding at size: the whole answer beside FAISS's flat index over the same rows, opening, importing, and memory.

python tests/bench find:1000,10000,100000

A size is how many vectors the index of pictures has, six a reference (its whole and five tiles), 512 values each;
captions have 384. Rows are drawn at random around 1,000 centres: values of a centre are normal, and a row adds normal
noise of 0.7 to each, so that two rows of one centre have a cosine of about 0.67 and two of different centres of about
0. The question is one more such row, or, where a row of the table says so, a direction that is like nothing there.
Encoding the words is left out on both sides: the question is the same vector for both. Records are put in as the
store keeps them, in bulk.

FAISS scans for one question on one thread, whatever OMP_NUM_THREADS says, and so does ours.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import faiss
import numpy as np
import sqlalchemy as sa
from table import Row, best, least_work, memory_mb

import refarchive
from refarchive.encoders import base
from refarchive.jobs.references import finding, index, listing, palettes
from refarchive.records import model, schema, selecting
from refarchive.records import rows as stored
from refarchive.records.store import now
from refarchive.search import finding as finding_room
from refarchive.search.finding import Query
from refarchive.search.vectors import TILES, picture_key

WIDE = 512
WORDS = "lamp by the water"
TITLES = ("Lamp at the stage", "Cart on the sands", "Women by the water", "A pilot's staff", "Baskets and nets")
RARE = "Merrow Sands"
PART = 20_000
ROUNDS = 25


class Fixed:
    """An encoder of which only the space matters."""

    identity = base.Identity("bench", "0" * 64, WIDE, 0, "none")

    def word_space(self, meaning: Any) -> Any:
        return meaning

    def encode_words(self, texts: Any) -> np.ndarray:
        return _unit(np.random.default_rng(5).standard_normal((len(texts), WIDE)))


class FixedSentences:
    identity = base.Identity("bench sentences", "0" * 64, 384, 0, "none")

    def encode(self, texts: Any) -> np.ndarray:
        return _unit(np.random.default_rng(6).standard_normal((len(texts), 384)))


base.register("bench", lambda name, progress: Fixed())  # type: ignore[arg-type,return-value]


def _unit(values: np.ndarray) -> np.ndarray:
    return (values / np.linalg.norm(values, axis=1, keepdims=True)).astype(np.float32)


def _drawn(count: int, width: int, seed: int) -> Iterator[np.ndarray]:
    rng = np.random.default_rng(seed)
    centres = np.random.default_rng(width).standard_normal((1000, width), np.float32)
    for start in range(0, count, PART):
        many = min(PART, count - start)
        noise = np.float32(0.7) * rng.standard_normal((many, width), np.float32)
        yield _unit(centres[rng.integers(0, 1000, many)] + noise)


def made(folder: Path, references: int) -> None:
    """An archive of picture references, every hundredth of them from `RARE`, with all its vectors."""
    with refarchive.create(folder, "bench", who="bench") as archive:
        kit = _kit(archive)
        every = [
            model.Reference(
                f"ref-{n:012d}", "image", f"{TITLES[n % len(TITLES)]}, {n}", f"{n}.jpg", sha256=f"{n:064d}",
                suffix=".jpg", place=RARE if n % 100 == 0 else "Elsewhere", added_at=now(), width=10, height=10,
            )
            for n in range(references)
        ]  # fmt: skip
        with kit.store._writing() as connection:
            for start in range(0, references, PART):
                part = every[start : start + PART]
                connection.execute(sa.insert(schema.reference), [stored.reference_to_row(one) for one in part])
                for one in part:
                    selecting.put_reference_words(connection, one)
            kit.store._tell(connection, "added", f"reference:{every[-1].id}", None, stored.plain(every[-1]))
        keys = [picture_key(one.id, tile) for one in every for tile in range(len(TILES))]
        _append(kit.likeness, keys, WIDE, 1)
        _append(kit.colours, [one.id for one in every], palettes.WIDTH, 2)
        captions = index.captions_of(every)
        _append(kit.captions, list(captions), 384, 3)


def _append(file: Any, keys: list[str], width: int, seed: int) -> None:
    done = 0
    for part in _drawn(len(keys), width, seed):
        file.append(keys[done : done + len(part)], part)
        done += len(part)


def _kit(archive: Any) -> Any:
    archive._kit.sentences = FixedSentences()
    return archive._kit


def rows_of(vectors: int) -> Iterator[Row]:
    """All figures at one size."""
    references = max(vectors // len(TILES), 1)
    size = f"{references * len(TILES):,} vectors, {references:,} references"
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "archive"
        made(folder, references)
        like, words = Query(like=next(_drawn(1, WIDE, 4))[0]), Query(words=WORDS)
        unlike = Query(like=_unit(np.random.default_rng(4).standard_normal((1, WIDE)))[0])
        rare = Query(like=like.like, filter=model.Filter(places=(RARE,)))
        yield from _lists(folder, size)
        with refarchive.open(folder) as archive:
            yield Row("the first answer after a change", size, _took(lambda: finding.find(_kit(archive), like)))
        held = memory_mb("RssAnon")
        start = time.perf_counter()
        archive = refarchive.open(folder)
        yield Row("open an archive", size, time.perf_counter() - start, goal="under 0.3 s")
        kit = _kit(archive)
        start = time.perf_counter()
        assert len(finding.find(kit, like).hits) == min(20, references)
        yield Row("the first answer after opening", size, time.perf_counter() - start)
        asking = [partial(finding.find, kit, query) for query in (like, unlike, words, rare)]
        found = [best(work, ROUNDS) for work in asking]
        worked = [least_work(work, ROUNDS) for work in asking]
        # Pages of the mapped file count as the process's own while they are in memory: told apart from what is copied.
        yield Row("memory held after asking, mapped rows aside", size, max(0.0, memory_mb("RssAnon") - held), unit="MB")
        listed = listing.index(kit)
        lists, listed.lists = listed.lists, None
        exact = best(partial(finding.find, kit, like), ROUNDS)
        listed.lists = lists
        if lists is not None:
            yield from _recall(listed, size)
        flat = faiss.IndexFlatIP(WIDE)
        for begin in range(0, len(kit.likeness), PART):
            flat.add(np.ascontiguousarray(kit.likeness.matrix()[begin : begin + PART]))
        captions = faiss.IndexFlatIP(384)
        captions.add(np.ascontiguousarray(kit.captions.matrix()))
        told = kit.sentences.encode([WORDS])
        depth = min(1200, flat.ntotal)
        asked = np.asarray(like.like)[None]
        scan = partial(flat.search, asked, depth)
        bare, bare_work = best(scan, ROUNDS), least_work(scan, ROUNDS)

        def scans() -> None:
            flat.search(asked, depth)
            captions.search(told, min(200, references))

        both, both_work = best(scans, ROUNDS), least_work(scans, ROUNDS)
        archive.close()
    beside, goal = "faiss.IndexFlatIP", "at most 1 time"
    yield Row("find by likeness, whole answer", size, found[0], bare, goal, against=beside)
    yield Row("the same, like nothing there", size, found[1], bare, goal, against=beside)
    yield Row("the same, every vector read", size, exact, bare, goal, against=beside)
    yield Row(
        "find by words, encoding aside", size, found[2], both, "at most 1.5 times", against=f"{beside}, both spaces"
    )
    yield Row("find by likeness, filter keeps 1 %", size, found[3], found[0], goal, against="ours without a filter")
    yield Row("the same", size, found[3], exact, goal, against="ours, every vector read")
    for what, ours, theirs in (
        ("likeness", worked[0], bare_work),
        ("words", worked[2], both_work),
        ("likeness, filter keeps 1 %", worked[3], worked[0]),
    ):
        yield Row(f"processor time, {what}", size, ours, theirs, against="the same as above")


def _took(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _lists(folder: Path, size: str) -> Iterator[Row]:
    """What it takes to make lists, where there are enough vectors for them."""
    with refarchive.open(folder) as archive:
        kit = _kit(archive)
        start = time.perf_counter()
        if listing.bring_up_to_date(kit):
            yield Row("make lists of vectors", size, time.perf_counter() - start)


def _recall(listed: Any, size: str) -> Iterator[Row]:
    """How many of the 20 references nearest to 100 questions are found by lists."""
    rng = np.random.default_rng(7)
    lists = listed.lists
    for what, asked in (
        ("recall@20 by lists", next(_drawn(100, WIDE, 8))),
        ("the same, like nothing there", _unit(rng.standard_normal((100, WIDE)))),
    ):
        shares = []
        for one in asked:
            told = listed.best_of_each(one, 20, finding_room._picture_owner, None)
            listed.lists = None
            exact = listed.best_of_each(one, 20, finding_room._picture_owner, None)
            listed.lists = lists
            shares.append(len(set(told) & set(exact)) / 20)
        goal = "at least 0.98" if what.startswith("recall") else ""
        yield Row(
            f"{what} ({lists.probes} of {len(lists.centres):,} read)", size, float(np.mean(shares)), unit="", goal=goal
        )


def rows(*sizes: int) -> Iterator[Row]:
    """Figures at 1,000 to 1,000,000 vectors, or at the sizes named; a million takes some minutes to make, and 6 GB."""
    for vectors in sizes or (1_000, 10_000, 100_000, 1_000_000):
        yield from rows_of(vectors)
    command = [
        sys.executable,
        "-c",
        "import time; t = time.perf_counter(); import refarchive; print(time.perf_counter() - t)",
    ]
    times = [float(subprocess.run(command, capture_output=True, check=True, env=os.environ).stdout) for _ in range(5)]
    yield Row("import refarchive", "", min(times), goal="under 0.15 s")
