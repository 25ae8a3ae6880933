"""References leaving the archive, with everything that is known of them, so that another archive can take them in.

This is an exchange between archives, not a publication: nothing is left out for its rights, and each picture's rights
go with it. For pictures that go out into the world see `publishing`.

What does not leave: scenes and their evidence, families, frames, the history, and when a reference was added. The days
that a date covers follow from its EDTF and are worked out anew. The words of a PDF's page leave with the whole PDF.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from refarchive import __version__
from refarchive.errors import ArchiveDamaged, UnknownRecord
from refarchive.jobs.keeping.folders import new_folder
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import open_reference
from refarchive.paper.blocks import clean
from refarchive.publish.linked import as_jsonld
from refarchive.publish.manifest import as_manifest
from refarchive.publish.table import as_csv
from refarchive.records.files import hash_of, picture_size
from refarchive.records.model import Detail, Reference
from refarchive.records.terms import WRITTEN_BY
from refarchive.records.uses import CAUTION, standing

SHEET, LINKED, MANIFEST, RIGHTS = "references.csv", "references.jsonld", "manifest.json", "rights.txt"
FOLDERS = {True: "originals", False: "previews"}
WHOLE = 1_000_000  # characters: nothing is cut
LONGEST_NAME = 80  # characters of a file name's stem


@dataclass(frozen=True)
class Left:
    """What was written: files by reference (objects have none), and how many details."""

    folder: Path
    files: dict[str, Path]
    references: int
    details: int
    originals: bool
    notices: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "folder": str(self.folder),
            "sheet": str(self.folder / SHEET),
            "linked": str(self.folder / LINKED),
            "manifest": str(self.folder / MANIFEST),
            "references": self.references,
            "details": self.details,
            "originals": self.originals,
            "files": [{"reference": one, "file": str(path)} for one, path in self.files.items()],
            "notices": list(self.notices),
            "caution": CAUTION,
        }


def leave(kit: Kit, references: Sequence[Reference], out: Path, *, label: str, originals: bool = True) -> Left:
    """Write references into the new folder `out`: as a sheet, as JSON-LD, as a IIIF manifest, with their files.

    Each of the three tells the same; one of them is enough to come back by. `originals=False` writes previews in place
    of the originals of pictures: smaller, and another archive takes them for pictures of their own. Texts and PDFs go
    as they are. All of it is written, or nothing.

    Raises
    ------
    UnknownRecord
        where there is no reference to write.
    ArchiveDamaged, SourceRefused
        where an original is missing or is not what it was.
    CannotPrint
        where the folder holds something already, is inside the archive, or cannot be written.
    """
    if not references:
        raise UnknownRecord("There is no reference to write.", "Gather something, or choose less narrowly.")
    chosen = {one.id for one in references}
    details: dict[str, list[Detail]] = {}
    for detail in kit.store.details():
        if detail.reference in chosen:
            details.setdefault(detail.reference, []).append(detail)
    with new_folder(out, kit.folder) as folder:
        files = _write(kit, references, details, folder, label, originals)
    out = Path(os.path.abspath(out))
    return Left(
        folder=out,
        files={one: out / path for one, path in files.items()},
        references=len(references),
        details=sum(map(len, details.values())),
        originals=originals,
        notices=tuple(_notices(references, originals)),
    )


def _write(
    kit: Kit,
    references: Sequence[Reference],
    details: dict[str, list[Detail]],
    folder: Path,
    label: str,
    originals: bool,
) -> dict[str, str]:
    """Everything into the folder; paths by reference, relative to it."""
    files: dict[str, str] = {}
    shown: dict[str, tuple[str, str, int, int]] = {}
    taken: set[str] = set()
    for done, reference in enumerate(references, 1):
        if reference.sha256:
            small = not originals and reference.media_type.startswith("image/")
            suffix, media_type = (".jpg", "image/jpeg") if small else (reference.suffix, reference.media_type)
            path = f"{FOLDERS[not small]}/{_name(reference, suffix, taken)}"
            goal = folder / path
            goal.parent.mkdir(exist_ok=True)
            if small:
                _copy_preview(kit, reference, goal)
                width, height, _ = picture_size(goal)
            else:
                _copy_original(kit, reference, goal)
                width, height = reference.width, reference.height
            files[reference.id] = path
            shown[reference.id] = (path, media_type, width, height)
        if kit.progress is not None:
            kit.progress(done, len(references), reference.title[:40])
    program = f"{WRITTEN_BY[1]} {__version__}"
    (folder / SHEET).write_bytes(_encoded(as_csv(references, details, files), mark=True))
    (folder / LINKED).write_bytes(_encoded(_json(as_jsonld(references, details, files))))
    (folder / MANIFEST).write_bytes(
        _encoded(_json(as_manifest(references, details, shown, label=label, program=program)))
    )
    (folder / RIGHTS).write_bytes(_encoded(_rights(references, files)))
    return files


def _copy_original(kit: Kit, reference: Reference, goal: Path) -> None:
    source = kit.files.original(reference.sha256, reference.suffix)
    if source.is_file():
        shutil.copyfile(source, goal)
        if hash_of(goal) == reference.sha256:
            return
    raise ArchiveDamaged(
        f"The original of {reference.title or reference.source_name!r} ({reference.id}) is missing or damaged.",
        "refarchive verify says what is; restore it from a backup, or leave that reference out.",
        records=(reference.id,),
    )


def _copy_preview(kit: Kit, reference: Reference, goal: Path) -> None:
    preview = kit.files.preview(reference.sha256)
    if not preview.is_file():
        kit.files.write_preview(reference.sha256, open_reference(kit, reference))
    shutil.copyfile(preview, goal)


def _name(reference: Reference, suffix: str, taken: set[str]) -> str:
    """A file name that every system takes, near to the one as gathered, and no other reference's."""
    stem = PurePosixPath(reference.source_name.replace("\\", "/")).name
    stem = stem.removesuffix(suffix) if stem.lower().endswith(suffix) else stem
    plain = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode()
    plain = re.sub(r"[^A-Za-z0-9]+", "-", plain)[:LONGEST_NAME].strip("-") or "reference"
    name = f"{plain}{suffix}"
    if name.lower() in taken or re.fullmatch(r"(?i)con|prn|aux|nul|com\d|lpt\d", plain):
        name = f"{plain}-{reference.id.removeprefix('ref-')}{suffix}"
    taken.add(name.lower())
    return name


def _rights(references: Iterable[Reference], files: dict[str, str]) -> str:
    """What is recorded of the rights in each, for people."""
    parts = ["For exchange between archives, not for publication.", CAUTION]
    for reference in references:
        title = " ".join((reference.title or reference.source_name or reference.id).split())
        told = f"{title} ({files.get(reference.id, 'no file')})\n{standing(reference).words}"
        parts.append(clean(told, WHOLE, lines=True))
    return "\n\n".join(parts) + "\n"


def _notices(references: Sequence[Reference], originals: bool) -> Iterable[str]:
    wholes = {one.source_name for one in references if one.media_type == "application/pdf"}
    pages = [one for one in references if "#page=" in one.source_name]
    alone = [one for one in pages if one.source_name.partition("#page=")[0] not in wholes]
    if alone:
        yield f"{len(alone)} pages of PDFs leave without their words, which come only with the PDF as a whole."
    if not originals:
        yield "Previews stand in for originals: another archive takes them for pictures of their own."


def _json(document: dict[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, indent=1)


def _encoded(text: str, *, mark: bool = False) -> bytes:
    return text.encode("utf-8-sig" if mark else "utf-8", "replace")  # the mark tells spreadsheets: UTF-8
