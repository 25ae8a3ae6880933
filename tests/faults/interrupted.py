"""Gathering that is interrupted again and again, against one that is not: python -m tests.faults.interrupted.

With `--pictures 10000 --interruptions 10`, so many small pictures are drawn, no two alike, with a sheet, some copies
and some broken files among them, and gathered by the command in a process of its own: once without interruption, and
once interrupted so many times, by Ctrl-C (SIGINT) and by SIGKILL, and given again each time. Both archives are then
compared row by row; `differences` says what may differ, and why.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

import refarchive
from refarchive.records.files import hash_of
from refarchive.records.store import DATABASE
from refarchive.search.vectors import opened
from tests.faults import quick

ROOT = Path(__file__).parents[2]
COMMAND = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # a run in the background is started with it ignored
from tests.faults import quick
quick.install()
quick.light_palettes(float(sys.argv.pop(1)))
from refarchive.cli import main
main()
"""
EARLY_S = 1.5  # after its start, within which every fourth interruption comes: most of it is loading and looking
LATE_S = 0.2  # after a number of references is reached, within which the others come
VECTORS = ("likeness", "meaning", "colours", "captions", "passages")
CLOCK = ("added_at", "at")  # columns, and values in the history, that tell when something was done
# What an index of words looks like inside depends on how many transactions filled it; what it holds is compared.
INSIDE = ("_data", "_idx")
WORDS = ("reference_words", "passage_words")


@dataclass
class Outcome:
    """What a run of interruptions did, and what then differed."""

    signals: Counter[str] = field(default_factory=Counter)
    kept: list[int] = field(default_factory=list)  # references after each interruption
    compared: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


def sources(folder: Path, pictures: int) -> Path:
    """A folder of small pictures, every hundredth twice and a few of them broken, with three texts and a sheet."""
    quick.scans(folder, 0)
    drawn = np.random.default_rng(7)
    for number in range(pictures):
        blocks = drawn.integers(0, 256, (6, 8, 3), dtype=np.uint8)
        Image.fromarray(blocks).resize((96, 72), Image.Resampling.NEAREST).save(folder / f"p{number:05d}.jpg")
    for number in range(0, pictures, 100):
        shutil.copy(folder / f"p{number:05d}.jpg", folder / f"p{number:05d} again.jpg")
    for number in range(0, pictures, 1000):
        (folder / f"p{number:05d} broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    with (folder.parent / "sheet.csv").open("w", newline="", encoding="utf-8") as file:
        sheet = csv.writer(file)
        sheet.writerow(("file", "title", "date", "place"))
        for number in range(0, pictures, 3):
            row = (f"{folder.name}/p{number:05d}.jpg", f"Carrier's cart {number}", str(1800 + number % 100), "Merrow")
            sheet.writerow(row)
    return folder


def started(place: Path, archive: Path, pause_s: float = 0.0) -> subprocess.Popen[str]:
    """The command that gathers, in a process of its own; a pause makes each picture take so long at least."""
    words = ("gather", str(archive), str(place / "scans"), "--sheet", str(place / "sheet.csv"), "--json")
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, str(pause_s), *words], cwd=ROOT, stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def gathered(place: Path, archive: Path) -> dict[str, Any]:
    """What the command answers where it is left alone."""
    work = started(place, archive)
    answer, _ = work.communicate()
    assert work.returncode == 0, f"the command ended with {work.returncode}"
    found: dict[str, Any] = json.loads(answer)
    return found


def count(archive: Path) -> int:
    """References that are stored by now, as another program sees them."""
    with closing(sqlite3.connect(archive / DATABASE)) as connection:
        found: int = connection.execute("SELECT count(*) FROM reference").fetchone()[0]
        return found


def interrupt(
    place: Path, archive: Path, at_count: int, after_s: float, how: signal.Signals, pause_s: float = 0.0
) -> str:
    """Gather until a number of references is stored, and a moment longer; how it ended."""
    work = started(place, archive, pause_s)
    while work.poll() is None and count(archive) < at_count:
        time.sleep(0.01)
    time.sleep(after_s)
    work.send_signal(how)  # passed over where it has ended by itself
    work.communicate()
    return {130: "SIGINT", -signal.SIGINT: "SIGINT before the command began", -signal.SIGKILL: "SIGKILL"}.get(
        work.returncode, f"ended by itself with {work.returncode}"
    )


def run(place: Path, pictures: int, interruptions: int, seed: int, pause_s: float = 0.0) -> Outcome:
    """Gather with and without interruptions, and compare.

    Every interruption but the early ones comes after references of its own run were stored: what comes before a run has
    begun, or after it has ended, interrupts nothing. With few pictures a pause sees to it that none ends too soon.
    """
    drawn = random.Random(seed)
    sources(place / "scans", pictures)
    for name in ("whole", "interrupted"):
        refarchive.create(place / name, "quick", who="tester").close()
    gathered(place, place / "whole")
    archive, outcome = place / "interrupted", Outcome()
    whole = count(place / "whole")
    moments = sorted(drawn.uniform(0.02, 0.98) for _ in range(interruptions))
    kinds = [signal.SIGINT if number % 2 else signal.SIGKILL for number in range(interruptions)]
    drawn.shuffle(kinds)
    for number, (moment, how) in enumerate(zip(moments, kinds, strict=True)):
        early = number % 4 == 3
        after_s = drawn.uniform(0.0, EARLY_S if early else LATE_S)
        at_count = 0 if early else max(round(moment * whole), count(archive) + 1)
        ended = interrupt(place, archive, at_count, after_s, how, pause_s)
        outcome.signals[ended] += 1
        outcome.kept.append(count(archive))
    gathered(place, archive)
    outcome.wrong = list(differences(place / "whole", archive, outcome.compared))
    return outcome


def differences(whole: Path, other: Path, compared: Counter[str]) -> Iterator[str]:
    """Where two archives differ, a sentence each; `compared` counts what was looked at.

    Of the database every table, every column, in the order of the rows; but not the clock (`added_at` of references,
    `at` in the history, and both within what the history holds), and not how an index of words lies inside, of which
    the words, rows and places are compared instead. Of the vectors every row, as bytes, by key: rows that an
    interruption left out are made at the end of the next run, and stand in another order. Of originals and previews
    names and digests.
    """
    for archive in (whole, other):
        with refarchive.open(archive) as found:
            yield from (f"{archive.name}: {problem}" for problem in found.verify().problems)
    with closing(sqlite3.connect(whole / DATABASE)) as one, closing(sqlite3.connect(other / DATABASE)) as two:
        names = [tables(connection) for connection in (one, two)]
        if names[0] != names[1]:
            yield f"the tables differ: {set(names[0]) ^ set(names[1])}"
        for table in names[0]:
            yield from _compare(table, rows(one, table), rows(two, table), compared)
        for table in WORDS:
            yield from _compare(f"words of {table}", words(one, table), words(two, table), compared)
    for name in VECTORS:
        yield from _compare(f"vectors {name}", vectors(whole, name), vectors(other, name), compared)
    for part in ("originals", "previews"):
        yield from _compare(part, files(whole, part), files(other, part), compared)


def _compare(what: str, ours: Iterable[Any], theirs: Iterable[Any], compared: Counter[str]) -> Iterator[str]:
    one, two = list(ours), list(theirs)
    compared[what] += len(one)
    if one != two:
        pairs = zip(one, two, strict=False)
        place = next((n for n, (a, b) in enumerate(pairs) if a != b), min(len(one), len(two)))
        yield f"{what}: {len(one)} and {len(two)} rows, the first difference at {place}: " + " against ".join(
            str(rows_[place])[:300] if place < len(rows_) else "nothing" for rows_ in (one, two)
        )


def tables(connection: sqlite3.Connection) -> list[str]:
    """Names of all tables but those inside an index of words."""
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    return [name for (name,) in found if not name.endswith(INSIDE)]


def rows(connection: sqlite3.Connection, table: str) -> Iterator[dict[str, Any]]:
    """The rows of a table in their order, without the clock."""
    found = connection.execute(f'SELECT * FROM "{table}"')
    names = [column[0] for column in found.description]
    order = sorted(found, key=lambda row: [str(value) for value in row]) if "number" not in names else found
    for row in order:
        told = dict(zip(names, row, strict=True))
        if table == "history":
            told |= {key: _without_clock(told[key]) for key in ("before", "after")}
        yield {key: value for key, value in told.items() if key not in CLOCK}


def _without_clock(told: str | None) -> Any:
    value = None if told is None else json.loads(told)
    return {k: v for k, v in value.items() if k not in CLOCK} if isinstance(value, dict) else value


def words(connection: sqlite3.Connection, table: str) -> Iterator[tuple[Any, ...]]:
    """Every word of an index of words, with its row, column and place."""
    connection.execute(f"CREATE VIRTUAL TABLE temp.of_{table} USING fts5vocab(main, {table}, instance)")
    yield from sorted(connection.execute(f"SELECT term, doc, col, offset FROM temp.of_{table}"))


def vectors(archive: Path, name: str) -> Iterator[tuple[str, bytes]]:
    """Every row of a vector file as bytes, by key."""
    file = opened(archive / "vectors" / name)
    if file is not None:
        matrix = file.matrix()
        yield from sorted((key, matrix[place].tobytes()) for place, key in enumerate(file.keys()))


def files(archive: Path, part: str) -> Iterator[tuple[str, str]]:
    """Every file beneath a folder of an archive, by name, with its digest."""
    for path in sorted((archive / part).rglob("*")):
        if path.is_file():
            yield str(path.relative_to(archive)), hash_of(path)


def main() -> int:
    """Interrupt as often as asked, and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pictures", type=int, default=10_000)
    parser.add_argument("--interruptions", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    quick.install()
    with tempfile.TemporaryDirectory() as place:
        outcome = run(Path(place), asked.pictures, asked.interruptions, asked.seed)
    print(f"Ended by: {dict(outcome.signals)}. References stored by then: {outcome.kept}.")
    print("Compared: " + ", ".join(f"{number} {what}" for what, number in outcome.compared.items() if number) + ".")
    for one in outcome.wrong:
        print(f"  {one}")
    print("Nothing differs." if not outcome.wrong else f"{len(outcome.wrong)} differ.")
    return int(bool(outcome.wrong))


if __name__ == "__main__":
    sys.exit(main())
