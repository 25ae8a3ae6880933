"""Packing and unpacking an archive, against `tarfile` and `zipfile` with `hashlib` doing the same.

python tests/bench packing            400 MB in files of 8 MB, and 20 MB in files of 20 kB
python tests/bench packing:4000       so many MB in files of 8 MB

Both sides read each file once, write it once, reckon its SHA-256 and bring all to the disk; unpacking verifies each
digest.
Ours also looks at every header first, keeps names apart, and makes sure that records and originals belong together.
"""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import sqlite3
import tarfile
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import BinaryIO

from table import Row, best, memory_mb

import refarchive
from refarchive.archive.packs import pack, unpack

ROUNDS = 3
CHUNK = 1 << 20
SUMS = "SHA256SUMS"


def rows(*megabytes: int) -> Iterator[Row]:
    """Seconds for packing and unpacking, beside tar and zip of the library, and the memory that ours takes more."""
    with tempfile.TemporaryDirectory(prefix="bench-packing-") as name:
        place = Path(name)
        for number, (size, each) in enumerate([*((size, 8_000_000) for size in megabytes or (400,)), (20, 20_000)]):
            archive = made(place / f"archive-{number}", size * 1_000_000 // each, each)
            told = f"{size} MB in files of {each / 1e6:g} MB"
            before = memory_mb()
            ours = best(lambda a=archive: anew(place / "ours.tar", lambda goal: pack(a, goal)), ROUNDS)
            back = best(lambda: anew(place / "ours", lambda goal: unpack(place / "ours.tar", goal)), ROUNDS)
            more = memory_mb("VmHWM") - before
            for kind, write, read in (("tarfile", tar, untar), ("zipfile", stored_zip, unzip)):
                bare = best(lambda a=archive, w=write: anew(place / "bare", lambda goal: w(a, goal)), ROUNDS)
                yield Row("pack", told, ours, bare, "at most 1.3 times", against=f"{kind}, hashlib, fsync")
                bare = best(lambda r=read: anew(place / "out", lambda goal: r(place / "bare", goal)), ROUNDS)
                yield Row("unpack", told, back, bare, "at most 1.3 times", against=f"{kind}, hashlib, fsync")
            yield Row("pack and unpack: memory", told, more, goal="under 50 MB", unit="MB")
            shutil.rmtree(archive)


def made(folder: Path, count: int, size: int) -> Path:
    """An archive with so many originals that nothing in its records names, and a database of about 20 MB."""
    refarchive.create(folder, "built-in", who="bench").close()
    dice = random.Random(size)
    for _ in range(count):
        content = dice.randbytes(size)
        sha256 = hashlib.sha256(content).hexdigest()
        (folder / "originals" / sha256[:2]).mkdir(exist_ok=True)
        (folder / "originals" / sha256[:2] / f"{sha256}.jpg").write_bytes(content)
    with closing(sqlite3.connect(folder / "archive.sqlite")) as connection, connection:
        connection.execute("CREATE TABLE filling (content BLOB)")
        connection.executemany("INSERT INTO filling VALUES (?)", ((dice.randbytes(2000),) for _ in range(10_000)))
    return folder


def anew(goal: Path, work: Callable[[Path], object]) -> None:
    """Work towards a goal that is not there yet."""
    if goal.is_dir():
        shutil.rmtree(goal)
    goal.unlink(missing_ok=True)
    work(goal)


class Hashing:
    """A file that is read through, with its digest reckoned on the way."""

    def __init__(self, file: BinaryIO) -> None:
        self.file, self.digest = file, hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        piece = self.file.read(size)
        self.digest.update(piece)
        return piece


def found(archive: Path) -> list[Path]:
    return sorted(path for path in archive.rglob("*") if path.is_file())


def synced(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)


def tar(archive: Path, goal: Path) -> None:
    """A tar of all files and their digests."""
    sums = ""
    with tarfile.open(goal, "w", copybufsize=CHUNK) as target:
        for path in found(archive):
            info = target.gettarinfo(path, str(path.relative_to(archive)))
            with open(path, "rb") as file:
                hashing = Hashing(file)
                target.addfile(info, hashing)  # type: ignore[arg-type]
            sums += f"{hashing.digest.hexdigest()}  {info.name}\n"
    goal.with_name(SUMS).write_text(sums, "utf-8")
    synced(goal)


def untar(source: Path, goal: Path) -> None:
    """All files of a tar, each against its digest."""
    sums = digests(source)
    with tarfile.open(source, copybufsize=CHUNK) as held:
        for info in held:
            file = held.extractfile(info)
            assert file is not None
            written(file, goal / info.name, sums[info.name])  # type: ignore[arg-type]
    for path in goal.rglob("*"):
        synced(path)


def stored_zip(archive: Path, goal: Path) -> None:
    """A ZIP64 of all files, not compressed, and their digests."""
    sums = ""
    with zipfile.ZipFile(goal, "w") as target:
        for path in found(archive):
            name, digest = str(path.relative_to(archive)), hashlib.sha256()
            with open(path, "rb") as file, target.open(name, "w", force_zip64=True) as member:
                while piece := file.read(CHUNK):
                    digest.update(piece)
                    member.write(piece)
            sums += f"{digest.hexdigest()}  {name}\n"
    goal.with_name(SUMS).write_text(sums, "utf-8")
    synced(goal)


def unzip(source: Path, goal: Path) -> None:
    """All files of a ZIP, each against its digest."""
    sums = digests(source)
    with zipfile.ZipFile(source) as held:
        for info in held.infolist():
            with held.open(info) as file:
                written(file, goal / info.filename, sums[info.filename])  # type: ignore[arg-type]
    for path in goal.rglob("*"):
        synced(path)


def digests(source: Path) -> dict[str, str]:
    return {line[66:]: line[:64] for line in source.with_name(SUMS).read_text("utf-8").splitlines()}


def written(file: BinaryIO, goal: Path, sha256: str) -> None:
    goal.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with open(goal, "wb") as target:
        while piece := file.read(CHUNK):
            digest.update(piece)
            target.write(piece)
    if digest.hexdigest() != sha256:
        raise ValueError(goal.name)
