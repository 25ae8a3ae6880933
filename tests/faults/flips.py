"""Flipping one bit in each kind of file of an archive, and asking verify: python -m tests.faults.flips --flips 20.

Kinds are found by walking a real archive, digits and digests in names aside, so that a new kind cannot be forgotten. In
the database a flip is harmless where all rows read as before (bytes that no row uses, an index told of and mended).
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

from PIL import Image

import refarchive
from refarchive.errors import RefArchiveError
from refarchive.jobs.references import listing
from refarchive.records.store import DATABASE
from tests.faults import quick

# What is not looked into, with the reason.
UNREAD = {
    "vectors/writing.lock": "an empty file, a lock",
    "vectors/level.json": "a hint: where it is not what it was, records and vectors are held against each other again",
    "archive.sqlite.tally": "damage to it is as if there were none; the next sound verify writes it anew",
}
# Rows without a history: where one is damaged, a source is looked at, or a frame measured, once more.
BOOKKEEPING = ('INSERT INTO "source_mark"', 'INSERT INTO "frame_look"')


def sample(place: Path) -> Path:
    """An archive with files of every kind, and a tally."""
    lists = patch.object(listing, "LARGE", 1)
    with lists, refarchive.create(place / "archive", "quick", who="tester") as archive:
        archive.gather(quick.scans(place / "scans", 6))
        quick.plan(archive)
        Image.open(place / "scans" / "p1.jpg").resize((320, 240)).save(place / "frame.jpg", quality=95)
        archive.after.take("ford", place / "frame.jpg")
        archive.after.thumbnail("ford", "frame.jpg")
        archive.evidence.propose_families()
        archive.describe("p2.jpg", title="A boat", description="Drawn up on the shingle, invented.")
        archive.verify()
    return place / "archive"


def kinds(archive: Path) -> dict[str, list[Path]]:
    """Files of an archive by kind: their path with digests and numbers left out."""
    found: dict[str, list[Path]] = {}
    for path in sorted(path for path in archive.rglob("*") if path.is_file()):
        name = path.relative_to(archive).as_posix()
        name = re.sub(r"\b[0-9a-f]{64}\b", "DIGEST", re.sub(r"/[0-9a-f]{2}/", "/XX/", name))
        found.setdefault(re.sub(r"\.\d+\.", ".N.", name), []).append(path)
    return found


def flip(path: Path, drawn: random.Random) -> tuple[int, int]:
    """Flip one bit of a file, its times kept; where it was."""
    content = bytearray(path.read_bytes())
    at, bit = drawn.randrange(len(content)), drawn.randrange(8)
    content[at] ^= 1 << bit
    times = path.stat()
    os.chmod(path, 0o644)
    path.write_bytes(content)
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    return at, bit


def said(archive: Path) -> list[str] | None:
    """All that the rows of the database say, bookkeeping aside, None where they cannot be read."""
    try:
        with closing(sqlite3.connect(f"file:{archive / DATABASE}?immutable=1", uri=True)) as connection:
            return [line for line in connection.iterdump() if not line.startswith(BOOKKEEPING)]
    except (sqlite3.Error, UnicodeDecodeError):
        return None


def seen(archive: Path) -> bool:
    """Whether verify, or opening, names a problem."""
    try:
        with refarchive.open(archive) as opened:
            return bool(opened.verify().problems)
    except RefArchiveError:
        return True


def flips(
    count: int, seed: int, *, only: str = "", tally: bool = True, telling: bool = False
) -> Iterator[tuple[str, str]]:
    """Kind and outcome ("found", "harmless", "missed at …") of flips, `count` for each kind of file.

    With `telling`, those in the database are drawn until they change what its rows say, or that they can be read.
    """
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        whole = sample(place)
        if not tally:
            (whole / "archive.sqlite.tally").unlink()
        before = said(whole)
        for kind, paths in kinds(whole).items():
            if kind in UNREAD or (only and only != kind):
                continue
            drawn = random.Random(f"{kind} {seed}")
            number = 0
            while number < count:
                copy = place / "copy"
                shutil.copytree(whole, copy)
                path = copy / drawn.choice(paths).relative_to(whole)
                at, bit = flip(path, drawn)
                same = kind == DATABASE and said(copy) == before
                if same and telling:  # most of a small database is bytes that no row uses
                    shutil.rmtree(copy)
                    continue
                number += 1
                if seen(copy):
                    yield kind, "found"
                elif same:
                    yield kind, "harmless"
                else:
                    yield kind, f"missed at {number}: byte {at}, bit {bit} of {path.name}"
                shutil.rmtree(copy)


def main() -> int:
    """Flip as often as asked, and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flips", type=int, default=20, help="for each kind of file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="one kind of file")
    parser.add_argument("--no-tally", action="store_true", help="as if no verify had gone before")
    parser.add_argument("--telling", action="store_true", help="in the database, only what changes what rows say")
    asked = parser.parse_args()
    quick.install()
    outcomes = list(flips(asked.flips, asked.seed, only=asked.only, tally=not asked.no_tally, telling=asked.telling))
    for (kind, outcome), count in sorted(Counter((k, o.partition(" at ")[0]) for k, o in outcomes).items()):
        print(f"{kind}: {count} {outcome}")
    missed = [f"{kind}, {outcome}" for kind, outcome in outcomes if outcome.startswith("missed")]
    for one in missed:
        print(f"  {one}")
    return int(bool(missed))


if __name__ == "__main__":
    sys.exit(main())
