"""What is kept on disk to find copies: one signature for each original, and the pairs found so far.

Both lie in `vectors/signatures/` and are caches: what is missing, damaged or of another version is made anew. Each file
is written beside its place and then moved there, whole or not at all, so work that was stopped is gone on with.
"""

from __future__ import annotations

import json
import os
import tempfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive import leftovers
from refarchive.errors import ArchiveUnwritable, CannotMeasure, SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.records.bounded import REFUSED, read_bounded
from refarchive.records.files import PREVIEW_SIDE, open_picture

if TYPE_CHECKING:
    from refarchive.looks.copies import Relation
    from refarchive.looks.signatures import Signature

FOLDER, PAIRS = "signatures", "pairs.txt"  # a checksum, and on the next line JSON
LARGEST_PAIRS, LARGEST_SIGNATURE = 1_000_000_000, 20_000_000  # bytes
PAIRS_VERSION = 1  # raise it when pairs would be judged otherwise, so that all are looked at again


def signatures(kit: Kit) -> dict[str, Signature]:
    """Signatures by reference of all pictures whose originals can be read; those not kept yet are made and kept.

    Told through `kit.progress`. May be stopped at any time: each is kept as soon as it is made. Raises
    ArchiveUnwritable.
    """
    import numpy as np

    from refarchive.looks.signatures import signature

    pictures = [r for r in kit.store.references() if r.kind == "image" and r.sha256]
    _tidy(kit, {r.sha256 for r in pictures})
    found = {r.id: kept for r in pictures if (kept := _kept(_path(kit, r.sha256))) is not None}
    todo = [r for r in pictures if r.id not in found]
    for number, reference in enumerate(todo, start=1):
        try:
            picture = open_picture(kit.files.original(reference.sha256, reference.suffix), longest=PREVIEW_SIDE)
        except SourceRefused:
            continue  # the original is damaged: verify names it, and the rest goes on
        made = signature(np.asarray(picture))
        # Measured on a smaller picture, but it speaks of the original.
        made = replace(made, width=reference.width or made.width, height=reference.height or made.height)
        write_whole(_path(kit, reference.sha256), made.to_bytes())
        found[reference.id] = made
        if kit.progress is not None:
            kit.progress(number, len(todo), f"measuring {reference.title[:40]}")
    return {r.id: found[r.id] for r in pictures if r.id in found}


@dataclass(frozen=True)
class Pair:
    """Two originals by digest, and their relation; its "first" is `one`."""

    one: str
    other: str
    relation: Relation


class Pairs:
    """The pairs found so far, and which originals were already looked from."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.looked: set[str] = set()
        self.pairs: list[Pair] = []
        self.damaged = False  # what was there could not be read
        with suppress(FileNotFoundError):
            self._read(path)

    def keep(self, looked: Iterable[str], found: Iterable[Pair]) -> None:
        """Add originals that were looked from, with what was found, and bring it to disk. Raises ArchiveUnwritable."""
        self.looked |= set(looked)
        self.pairs += found
        document = {
            "version": _version(),
            "looked": sorted(self.looked),
            "pairs": [{"one": p.one, "other": p.other, "relation": asdict(p.relation)} for p in self.pairs],
        }
        content = json.dumps(document).encode("ascii")
        write_whole(self.path, b"%08x\n%s" % (zlib.crc32(content), content))

    def forget(self, but: set[str]) -> None:
        """Leave out originals that are gone. On disk that shows with the next `keep`."""
        self.looked &= but
        self.pairs = [p for p in self.pairs if p.one in but and p.other in but]

    def _read(self, path: Path) -> None:
        try:
            check, _, content = read_bounded(path, LARGEST_PAIRS).partition(b"\n")
            if int(check, 16) != zlib.crc32(content):
                raise ValueError("another checksum")
            document = json.loads(content)
            if document["version"] != _version():
                return
            looked = {str(one) for one in document["looked"]}
            pairs = [Pair(str(p["one"]), str(p["other"]), _relation(p["relation"])) for p in document["pairs"]]
        except (ValueError, TypeError, KeyError, OverflowError, RecursionError):
            self.damaged = True
        except OSError as error:
            if error.errno not in REFUSED:
                raise
            self.damaged = True
        else:
            self.looked, self.pairs = looked, pairs


def pairs_kept(kit: Kit) -> Pairs:
    """The pairs found so far in this archive."""
    return Pairs(_folder(kit) / PAIRS)


def damaged(kit: Kit, *, remove: bool = False) -> int:
    """How many of these cached files cannot be read; with `remove` they are taken away, to be made anew when needed."""
    spoilt = [path for path in _files(kit) if _kept(path) is None]
    if pairs_kept(kit).damaged:
        spoilt.append(_folder(kit) / PAIRS)
    if remove:
        for path in spoilt:
            path.unlink(missing_ok=True)
    return len(spoilt)


def sweep(kit: Kit) -> None:
    """Remove what a killed run left half-made."""
    leftovers.sweep(_folder(kit).rglob(".making-*"))


def write_whole(path: Path, content: bytes) -> None:
    """Write a file, whole or not at all. Raises ArchiveUnwritable where the disk is full or shut."""
    name = ""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=leftovers.prefix("making"), dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(name, 0o644)  # mkstemp's own would shut out whoever shares the folder
        os.replace(name, path)
    except OSError as error:
        raise ArchiveUnwritable(
            f"The archive's folder cannot be written: {error.strerror or error}.",
            "Make room on the disk, or check the folder's permissions.",
        ) from None
    finally:
        if name:
            with suppress(OSError):  # what went wrong first is what is told
                os.unlink(name)


def _folder(kit: Kit) -> Path:
    return kit.folder / "vectors" / FOLDER


def _path(kit: Kit, sha256: str) -> Path:
    name = kit.files.preview(sha256).stem  # refuses what is no digest
    return _folder(kit) / name[:2] / f"{name}.sig"


def _files(kit: Kit) -> Iterator[Path]:
    return _folder(kit).glob("??/*.sig")


def _kept(path: Path) -> Signature | None:
    from refarchive.looks.signatures import Signature

    try:
        return Signature.from_bytes(read_bounded(path, LARGEST_SIGNATURE))
    except (OSError, CannotMeasure):
        return None


def _tidy(kit: Kit, wanted: set[str]) -> None:
    """Remove signatures of originals that are gone, and what a killed run left half-made."""
    with suppress(OSError):  # a cache too many does no harm
        for path in _files(kit):
            if path.stem not in wanted:
                path.unlink(missing_ok=True)
        sweep(kit)


def _version() -> list[int]:
    from refarchive.looks.signatures import SIGNATURE_VERSION

    return [PAIRS_VERSION, SIGNATURE_VERSION]


def _relation(said: dict[str, Any]) -> Relation:
    from refarchive.looks.copies import KINDS, Relation

    values = {f.name: _tuples(said[f.name]) for f in fields(Relation)}
    if values["kind"] not in KINDS or not isinstance(values["sentence"], str):
        raise ValueError("no relation")
    return Relation(**values)


def _tuples(value: Any) -> Any:
    return tuple(_tuples(one) for one in value) if isinstance(value, list) else value
