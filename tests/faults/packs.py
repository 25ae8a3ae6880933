"""Bad packs, for as many cases as wanted: python -m tests.faults.packs --cases 20000 --seed 1 [--from 0].

A case follows from seed and number alone. Every other one is a sound pack with bytes changed anywhere; the others are
headers that a forger would write, with their checksum set right: links, devices, other programs' extensions, sizes that
cannot be, names that lead out, members twice, missing or in another order, heads that are no JSON or claim much. Each
is refused by name, with a next step and nothing written, or is the sound pack; it takes no more than the bounds below.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import resource
import shutil
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from refarchive.archive.packs import look_into, unpack
from refarchive.errors import RefArchiveError
from refarchive.jobs.keeping.pack_contents import travels
from refarchive.records import migrate
from refarchive.records import pack as container
from refarchive.records.portable import unportable
from refarchive.records.sqlite import DATABASE
from tests.hostile import mutations

MOST_S = 5.0  # a case
MOST_MB = 100.0  # all cases together, above what stood before the first
NAMES = (
    "../outside", "a/../../outside", "/tmp/outside", "C:/outside", "..\\outside", "nul", "a\0b", "n" * 300, "originals",
    "archive.sqlite-wal", "ARCHIVE.SQLITE", "archive.sqlite/x", "originals/AB/X.jpg", "vectors/writing.lock", "", ".",
    "\u202etxt", "ä/../x", "a//b", "a/", "./a", "originals/ab/x.jpg ", "originals/ab/x.jpg.",
)  # fmt: skip
KINDS = b"\x00123456 7gxLKNSVXADMZ\xff"  # what a header may call itself: links, devices, folders, extensions
FIELDS = ((0, 100), (100, 8), (108, 8), (116, 8), (124, 12), (136, 12), (157, 100), (257, 8), (345, 155))  # of a header

Members = list[tuple[str, bytes]]


def sound(place: Path) -> Members:
    """The least that is packed: a database that says it is an archive's, and a file or two."""
    with closing(sqlite3.connect(place / DATABASE)) as connection, connection:
        connection.execute("PRAGMA page_size = 512")
        connection.executescript(
            "CREATE TABLE alembic_version (version_num TEXT);"
            "CREATE TABLE reference (id TEXT, sha256 TEXT); CREATE TABLE history (id TEXT)"
        )
        connection.execute("INSERT INTO alembic_version VALUES (?)", (migrate.head(),))
    content = (place / DATABASE).read_bytes()
    (place / DATABASE).unlink()
    return [("originals/ab/x.jpg", b"picture"), ("scenes/premières lueurs.toml", b"[scene]\n"), (DATABASE, content)]


def written(path: Path, members: Members, head: bytes | None = None) -> bytes:
    """A pack whose digests are right."""
    if head is None:
        head = container.head_text(migrate.head(), True, "forger")
    with open(path, "w+b") as file:
        writer = container.Writer(file)
        writer.add(container.HEAD, len(head), [head])
        writer.add(container.ABOUT, 0, [])
        for name, content in members:
            writer.add(container.INSIDE + name, len(content), [content])
        writer.finish()
    content = path.read_bytes()
    path.unlink()
    return content


def case(seed: int, number: int, members: Members, whole: bytes, place: Path) -> bytes:
    """The bytes of one case."""
    drawn = random.Random(f"{seed} {number}")
    if number % 2 == 0:
        return mutations.case(drawn, [whole], [b"ustar\x0000", b"path=", b"size=", b"SHA256SUMS", b"archive.sqlite"])
    forge: Callable[..., bytes] = drawn.choice((_member, _member, _header, _header, _header, _head, _layout))
    return forge(drawn, members, whole, place / "forged")


def _member(drawn: random.Random, members: Members, whole: bytes, path: Path) -> bytes:
    """A member more or less, in its place or not, with digests that are right."""
    held = list(members)
    how = drawn.randrange(4)
    if how == 0:
        held.insert(drawn.randrange(len(held) + 1), (drawn.choice(NAMES), drawn.randbytes(drawn.choice((0, 1, 600)))))
    elif how == 1:
        held.insert(drawn.randrange(len(held) + 1), drawn.choice(held))
    elif how == 2:
        del held[drawn.randrange(len(held))]
    else:
        name, content = held.pop()
        held.append((name, mutations.case(drawn, [content])))
    return written(path, held)


def _header(drawn: random.Random, members: Members, whole: bytes, path: Path) -> bytes:
    """A field of one header changed, and its checksum set right, as POSIX.1-1988 reckons it."""
    data = bytearray(whole)
    heads = [at for at in range(0, len(data), 512) if data[at + 257 : at + 262] == b"ustar"]
    at = drawn.choice(heads)
    start, size = drawn.choice(
        ((0, 100), (100, 8), (108, 8), (116, 8), (124, 12), (136, 12), (157, 100), (257, 8), (345, 155))
    )
    if drawn.random() < 0.4:
        data[at + 156] = drawn.choice(KINDS)
    else:
        values = (b"", b"../x", b"/x", b"77777777777", b"\x80" + b"\xff" * 11, b"-1", b"0000644", drawn.randbytes(size))
        data[at + start : at + start + size] = drawn.choice(values)[:size].ljust(size, b"\0")
    data[at + 148 : at + 156] = b" " * 8
    data[at + 148 : at + 156] = b"%06o\0 " % sum(data[at : at + 512])
    return bytes(data)


def _head(drawn: random.Random, members: Members, whole: bytes, path: Path) -> bytes:
    """A head that says something else."""
    head = container.head_text(migrate.head(), True, "forger")
    nested = (b"[" * 30_000, b'{"format": 99}', b'{"format": ' + b"9" * 5_000 + b"}", b"null", b"", b"x" * 70_000)
    return written(path, members, drawn.choice((mutations.case(drawn, [head]), *nested)))


def _layout(drawn: random.Random, members: Members, whole: bytes, path: Path) -> bytes:
    """Blocks left out, told twice, added or put elsewhere."""
    blocks = [whole[at : at + 512] for at in range(0, len(whole), 512)]
    at, other = drawn.randrange(len(blocks)), drawn.randrange(len(blocks))
    how = drawn.randrange(4)
    if how == 0:
        del blocks[at : at + drawn.randint(1, 4)]
    elif how == 1:
        blocks[at:at] = blocks[other : other + drawn.randint(1, 4)]
    elif how == 2:
        blocks[at], blocks[other] = blocks[other], blocks[at]
    else:
        blocks.append(drawn.choice((bytes(512), drawn.randbytes(100), bytes(10_240))))
    return b"".join(blocks)


def tried(file: Path, place: Path, same: bool) -> tuple[str, str]:
    """What became of a pack ("refused", "opened"), and what was wrong with that, "" where nothing was."""
    before = sorted(path.name for path in place.iterdir())
    began = time.perf_counter()
    outcome, wrong = "refused", ""
    try:
        look_into(file)
        unpack(file, place / "back")
        outcome = "opened"
    except RefArchiveError as error:
        wrong = "" if error.problem and error.next_step else "refused without a next step"
    except Exception as error:
        wrong = f"{type(error).__name__}: {error}"
    if outcome == "opened":
        shutil.rmtree(place / "back")
        wrong = wrong or ("" if same else "opened though it is not what was packed")
    elif same:
        wrong = "a sound pack was refused"
    if sorted(path.name for path in place.iterdir()) != before:
        wrong = wrong or "something was written"
    if time.perf_counter() - began > MOST_S:
        wrong = wrong or "took too long"
    return outcome, wrong


def cases(count: int, seed: int, first: int, place: Path) -> tuple[Counter[str], list[str]]:
    """Try so many cases; outcomes counted, and what was wrong."""
    members = sound(place)
    whole = written(place / "whole", members)
    outcomes, wrong = Counter[str](), []
    outside = place / "inside"
    outside.mkdir()
    file = outside / "one.tar"
    file.write_bytes(whole)
    assert tried(file, outside, True) == ("opened", "")
    stood = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for number in range(first, first + count):
        data = case(seed, number, members, whole, place)
        file.write_bytes(data)
        outcome, told = tried(file, outside, data == whole)
        if told.startswith("opened") and _says_the_same(file, members):
            told = ""  # a member more or less that a pack may have, with digests that are right
        outcomes[outcome] += 1
        if told:
            wrong.append(f"case {number} of seed {seed} (SHA-256 {hashlib.sha256(data).hexdigest()[:12]}): {told}")
    if sorted(os.listdir(place)) != ["inside"]:
        wrong.append("something was written outside")
    more = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - stood) / 1024
    if more > MOST_MB:
        wrong.append(f"{more:.0f} MB more were taken")
    return outcomes, wrong


def _says_the_same(file: Path, members: Members) -> bool:
    """Whether a pack that opened is one that a packer could have written of these files, or of some of them."""
    content = file.read_bytes()
    contents = look_into(file)
    known = {container.INSIDE + name: hashlib.sha256(data).hexdigest() for name, data in members}
    names = [member.name for member in contents.members]
    found = {
        member.name: hashlib.sha256(content[member.at : member.at + member.size]).hexdigest()
        for member in contents.members
    }
    unknown = [name.removeprefix(container.INSIDE) for name in found if name not in known]
    return (
        len(names) == len(set(names))
        and container.INSIDE + DATABASE in names
        and all(known[name] == digest or name.endswith(DATABASE) for name, digest in found.items() if name in known)
        and not any(unportable(name) or not travels(name) for name in unknown)
    )


def main() -> int:
    """Try as many as asked, and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--from", dest="first", type=int, default=0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        outcomes, wrong = cases(asked.cases, asked.seed, asked.first, Path(place))
    print(dict(outcomes))
    for one in wrong:
        print(f"  {one}")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
