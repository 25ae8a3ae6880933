"""How a shared archive's searches compare with the bare libraries, on invented vectors and words.

    python tests/bench/shared_archive.py [VECTORS] [DIMENSION] [CAPTIONS]

Run by hand. Prints seconds a question, and ratios to FAISS (flat) and SQLite's FTS5 in the same run, on one machine: a
network adds its own.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from postgres_server import Server

from refarchive.records import postgres, words_tsvector
from refarchive.records.model import NewReference, Reference
from refarchive.records.shared import Shared, write
from refarchive.records.store import Store
from refarchive.search.scan import Index
from refarchive.search.vector_tables import VectorTables
from refarchive.search.words import match_words

ASKED = 7
TOP = 200


def timed(ask: Callable[[Any], Any], questions: list[Any]) -> float:
    """Median seconds of a question, after one that warms up."""
    ask(questions[0])
    taken = []
    for question in questions:
        begun = time.perf_counter()
        ask(question)
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def captions(count: int, rng: np.random.Generator) -> list[str]:
    """Captions of twelve words, of 20,000; frequencies fall as Mandelbrot (1953) has it, common words left out."""
    often = 1 / (np.arange(20_000) + 30.0)
    ranks = rng.choice(20_000, size=(count, 12), p=often / often.sum())
    return [" ".join(f"w{rank}x" for rank in row) for row in ranks]


def words(server: Server, count: int, rng: np.random.Generator) -> None:
    texts = captions(count, rng)
    questions = [match_words(" ".join(texts[n].split()[:4])) for n in rng.integers(0, count, ASKED)]
    rate: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
        write(Path(other), Shared(server.database("made")))
        for kind, store in (("sqlite", Store.create(Path(one))), ("postgresql", Store.open(Path(other)))):
            begun = time.perf_counter()
            for start in range(0, count, 1000):
                store.add_references(
                    [
                        NewReference(Reference(f"ref-{n:09d}", "object", texts[n], ""))
                        for n in range(start, min(start + 1000, count))
                    ]
                )
            print(f"{kind}: {count / (time.perf_counter() - begun):.0f} references a second kept", flush=True)
            if store.shared is not None:
                with store.shared.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
                    connection.exec_driver_sql("SET default_transaction_read_only = off")
                    connection.exec_driver_sql(f"ANALYZE {words_tsvector.reference_words.name}")
            ask = lambda q, store=store: store.search_words(q, table="references", limit=TOP)  # noqa: E731
            rate[kind] = timed(ask, questions)
            everything = [f"ref-{n:09d}" for n in range(0, count, 2)]
            half = timed(lambda q: store.search_words(q, table="references", allowed=everything, limit=TOP), questions)  # noqa: B023
            print(f"{kind}: words {rate[kind] * 1000:.1f} ms, half of all allowed {half * 1000:.1f} ms", flush=True)
            store.found = [ask(q) for q in questions]  # type: ignore[attr-defined]
            if kind == "sqlite":
                first = store.found  # type: ignore[attr-defined]
            else:
                same = [[i for i, _ in a] == [i for i, _ in b] for a, b in zip(first, store.found, strict=True)]  # type: ignore[attr-defined]
                print(f"same ids in the same order: {sum(same)} of {len(same)} questions")
            store.close()
    print(f"words: PostgreSQL takes {rate['postgresql'] / rate['sqlite']:.1f} times as long as FTS5")


def vectors(server: Server, count: int, dimension: int, rng: np.random.Generator) -> None:
    rows = rng.normal(size=(count, dimension)).astype(np.float32)
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    questions = list(rows[rng.integers(0, count, ASKED)] + rng.normal(size=(ASKED, dimension)).astype(np.float32) / 20)
    keys = [f"ref-{n:09d}#0" for n in range(count)]
    engine = postgres.engine_for(server.database("made"))
    tables = VectorTables(engine)
    file = tables.file("likeness", {"name": "bench"}, dimension)
    begun = time.perf_counter()
    for start in range(0, count, 5000):
        file.append(keys[start : start + 5000], rows[start : start + 5000])
    print(f"vectors: {count / (time.perf_counter() - begun):.0f} rows a second kept", flush=True)
    flat, table = Index(keys, rows), tables.index(file)
    for what, allowed in (("all", None), ("half", keys[::2]), ("1 %", keys[::100])):
        bare = timed(lambda q: flat.search(q, TOP, allowed), questions)  # noqa: B023
        shared = timed(lambda q: table.search(q, TOP, allowed), questions)  # noqa: B023
        told = f"FAISS {bare * 1000:.1f} ms, pgvector {shared * 1000:.1f} ms, {shared / bare:.1f} times"
        print(f"vectors, {what} allowed: {told}", flush=True)
    exact = [[k for k, _ in table.search(q, TOP)] for q in questions]
    assert exact == [[k for k, _ in flat.search(q, TOP)] for q in questions]
    approximate(engine, keys, questions, exact)
    engine.dispose()


def approximate(engine: Any, keys: list[str], questions: list[Any], exact: list[list[str]]) -> None:
    """An HNSW index of pgvector over the same rows: what it costs, how fast it is, and what it finds of the best 20."""
    from pgvector.psycopg import register_vector

    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("SET default_transaction_read_only = off")
        connection.exec_driver_sql("SET maintenance_work_mem = '1GB'")
        begun = time.perf_counter()
        connection.exec_driver_sql("CREATE INDEX near ON vectors_likeness USING hnsw (row vector_ip_ops)")
        size = connection.exec_driver_sql("SELECT pg_relation_size('near') / 1e6").scalar()
        print(f"HNSW: {time.perf_counter() - begun:.0f} s to make, {size:.0f} MB", flush=True)
        register_vector(connection.connection.driver_connection)
        connection.exec_driver_sql("SET enable_seqscan = off")
        connection.exec_driver_sql("SET hnsw.iterative_scan = strict_order")
        few = set(keys[::100])
        for wide in (40, 200, 400, 1000):
            connection.exec_driver_sql(f"SET hnsw.ef_search = {wide}")
            for what, allowed in (("all", None), ("1 %", list(few))):
                where = "" if allowed is None else "WHERE key = ANY(%(allowed)s)"

                def ask(row: Any, where: str = where, allowed: Any = allowed) -> list[str]:
                    values = {"row": row, "top": TOP, "allowed": allowed}
                    order = f"SELECT key FROM vectors_likeness {where} ORDER BY row <#> %(row)s LIMIT %(top)s"
                    return list(connection.exec_driver_sql(order, values).scalars())

                taken = timed(ask, questions)
                told = f"HNSW, ef_search {wide}, {what} allowed: {1000 * taken:.1f} ms"
                if allowed is None:
                    shares = [len({*best[:20]} & {*ask(q)[:20]}) / 20 for q, best in zip(questions, exact, strict=True)]
                    told += f", recall@20 {statistics.mean(shares):.3f}"
                print(told, flush=True)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    dimension = int(sys.argv[2]) if len(sys.argv) > 2 else 512
    texts = int(sys.argv[3]) if len(sys.argv) > 3 else 20_000
    server = Server()
    try:
        server.ask("CREATE DATABASE made")
        postgres.make(server.address("made")).dispose()
        rng = np.random.default_rng(0)
        print(f"{count} vectors of {dimension}, {texts} captions", flush=True)
        vectors(server, count, dimension, rng)
        words(server, texts, rng)
    finally:
        server.close()


if __name__ == "__main__":
    main()
