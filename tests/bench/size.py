"""An archive of 100,000 references: opening it, what that holds in memory, and reading all records.

Rows go in through the store, as a gathering puts them in; there are no pictures and no vectors (find.py has those).
Each measurement is taken in a process of its own: what another opened or imported would be there already.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from table import Row

import refarchive
from refarchive.records.ids import reference_id
from refarchive.records.model import NewReference, Reference, SourceMark
from refarchive.records.store import Store, now

REFERENCES = 100_000
TOGETHER = 2000  # rows in one transaction
ROUNDS = 5
BARE = "import time; s = time.perf_counter(); import sqlalchemy.dialects.sqlite; print([time.perf_counter() - s])"
ROOT = hashlib.sha256(b"scans").hexdigest()[:32]
MEASURE = """
import json, sys, time
from pathlib import Path

def memory():
    line = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmRSS"))
    return int(line.split()[1]) / 1024

start = time.perf_counter()
import refarchive
imported = time.perf_counter() - start
if len(sys.argv) > 2:  # what opening imports is there already
    refarchive.open(sys.argv[2]).close()
held = memory()
start = time.perf_counter()
archive = refarchive.open(sys.argv[1])
opened = time.perf_counter() - start
after = memory() - held
start = time.perf_counter()
counted = len(archive)
count = time.perf_counter() - start
start = time.perf_counter()
references = archive.references()
read = time.perf_counter() - start
assert counted == len(references)
print(json.dumps([imported, opened, after, count, read, memory() - held]))
"""


def rows(*sizes: int) -> Iterator[Row]:
    """`sizes`: how many references; 100,000 where none is named."""
    with tempfile.TemporaryDirectory(prefix="bench-size-") as name:
        empty = _made(Path(name) / "empty", 0)
        for size in sizes or (REFERENCES,):
            archive = _made(Path(name) / f"of-{size}", size)
            told = f"{size:,} references"
            first = _least(MEASURE, archive)
            again = _least(MEASURE, archive, empty)
            bare = _least(MEASURE, empty, empty)
            library = _least(BARE)
            yield Row("import refarchive", "", first[0], goal="under 0.15 s")
            yield Row(
                "open an archive, the first in its process", told, first[1], library[0], "under 0.3 s",
                against="import sqlalchemy",
            )  # fmt: skip
            yield Row("open an archive", told, again[1], bare[1], "under 0.3 s", against="an empty archive")
            yield Row("memory held after opening", told, again[2], bare[2], unit="MB", against="an empty archive")
            yield Row("count the references", told, again[3])
            yield Row("read all records", told, again[4])
            yield Row("memory held with all records read", told, again[5], unit="MB")


def _least(code: str, *archives: Path) -> list[float]:
    """Each figure that a piece of code prints, at its least over a few processes."""
    found = []
    for _ in range(ROUNDS):
        command = [sys.executable, "-c", code, *map(str, archives)]
        found.append(json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout))
    return [min(figures) for figures in zip(*found, strict=True)]


def _made(folder: Path, size: int) -> Path:
    refarchive.create(folder, "built-in", who="bench").close()
    with Store.open(folder, "bench") as store:
        for start in range(0, size, TOGETHER):
            store.add_references([_new(number) for number in range(start, min(size, start + TOGETHER))])
    return folder


def _new(number: int) -> NewReference:
    digest = hashlib.sha256(str(number).encode()).hexdigest()
    name = f"box {number // 500:03d}/plate {number:06d}.jpg"
    reference = Reference(
        id=reference_id(digest), kind="image", title=f"Cockle gatherers, plate {number}", source_name=name,
        creator="Unknown", place="Merrow Sands", description="Women with rakes and baskets on wet sand, low tide.",
        sha256=digest, suffix=".jpg", media_type="image/jpeg", width=3600, height=2400, added_at=now(),
    )  # fmt: skip
    return NewReference(reference, (), (SourceMark(ROOT, name, 1_700_000 + number, number, digest, reference.id),))
