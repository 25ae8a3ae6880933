"""References leaving the archive, whole and readable elsewhere: originals, a CSV sheet, linked data, a IIIF manifest.

All four lie in one new folder; each of the three documents can be gathered again with what lies beside it. What they
carry is everything recorded, rights included, whether or not it may be published: for that there is `publishing`.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from refarchive.jobs.folders import new_folder
from refarchive.jobs.kit import Kit
from refarchive.publish import linked, manifest, table
from refarchive.records.model import Reference
from refarchive.sources.sheet import csv_cell

FILES = "files"
SHEET, LINKED, MANIFEST = "references.csv", "references.jsonld", "manifest.json"


@dataclass(frozen=True)
class Left:
    """What was written. `missing` are references whose original is not in the archive any more."""

    folder: Path
    references: int
    details: int
    files: int
    in_manifest: int
    missing: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {**vars(self), "folder": str(self.folder), "missing": list(self.missing)}


def leave(kit: Kit, references: Sequence[Reference], out: Path, *, title: str, base: str = manifest.NOWHERE) -> Left:
    """Write references with their originals and details into the new folder `out`: all of it, or nothing.

    Parameters
    ----------
    kit, references
        The archive, and what is to leave it.
    out
        Empty or not there yet, and outside the archive.
    title
        Of the manifest.
    base
        The address at which the folder will lie, for the addresses in the manifest; it ends in a slash.

    Raises
    ------
    CannotPrint
        where the folder holds something already or cannot be written.
    """
    ids = {r.id for r in references}
    details = [detail for detail in kit.store.details() if detail.reference in ids]
    with new_folder(out, kit.folder) as folder:
        files, missing = _originals(kit, references, folder)
        iiif = manifest.document(title, references, details, files, base)
        _write(folder / SHEET, table.sheet(references, files, csv_cell), encoding="utf-8-sig")
        _write(folder / LINKED, _as_json(linked.document(references, details, files)))
        if iiif["items"]:
            _write(folder / MANIFEST, _as_json(iiif))
    return Left(Path(os.path.abspath(out)), len(references), len(details), len(files), len(iiif["items"]), missing)


def _originals(kit: Kit, references: Sequence[Reference], folder: Path) -> tuple[dict[str, str], tuple[str, ...]]:
    """Copies of the originals, by id; whole files come before the pages that were taken from them."""
    files: dict[str, str] = {}
    missing = []
    (folder / FILES).mkdir()
    for reference in references:
        if not reference.sha256:
            continue
        original = kit.files.original(reference.sha256, reference.suffix)
        name = f"{FILES}/{reference.id}-{_slug(reference)}{reference.suffix}"
        try:
            shutil.copyfile(original, folder / name)
        except FileNotFoundError:
            missing.append(reference.id)
        else:
            files[reference.id] = name
        if kit.progress is not None:
            kit.progress(len(files), len(references), name)
    return files, tuple(missing)


def _slug(reference: Reference) -> str:
    """A file name that any system takes, from the one it was gathered under."""
    stem = PurePosixPath(reference.source_name or reference.title).stem
    return re.sub(r"[^A-Za-z0-9]+", "-", stem).strip("-").lower()[:60] or "reference"


def _as_json(document: dict[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def _write(path: Path, text: str, encoding: str = "utf-8") -> None:
    path.write_bytes(text.encode(encoding, "replace"))
