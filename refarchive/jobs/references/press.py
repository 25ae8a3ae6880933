"""Pictures made ready to leave the archive for publication: those with a basis to be published on, with their credits.

Nothing leaves on a guess: a reference without a basis, without evidence of it, or without a credit line that its
licence asks for, is refused by name, or left out and said to be. Pictures are copies at full size, upright sRGB, with
no metadata of the original's (a scan may carry a place, a name, a serial number).
"""

from __future__ import annotations

import csv
import io
import os
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import RightsRefused, SourceRefused
from refarchive.jobs.keeping.folders import new_folder
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import cited, open_reference
from refarchive.paper.blocks import clean
from refarchive.paper.citing import Citations, archival_caption
from refarchive.records.model import Reference, Scene
from refarchive.records.uses import CAUTION, RightsStanding, standing
from refarchive.scenes.mediums import cautions
from refarchive.sources.sheet import csv_cell

if TYPE_CHECKING:
    from PIL.Image import Image

COLUMNS = (
    "file", "title", "caption", "credit_line", "rights", "rights_uri", "conditions", "basis", "basis_evidence",
    "cautions", "reference",
)  # fmt: skip
PICTURES = "pictures"
LOSSLESS = ("image/png", "image/tiff", "image/gif")  # originals whose copies are PNG; all others become JPEG
QUALITY = 95  # of JPEG copies, without chroma subsampling
NAMED = 8  # references a refusal names in its sentence; the error's `lacking` holds all
WHOLE = 1_000_000  # characters: no text is cut in what is written here


@dataclass(frozen=True)
class Published:
    """What was written: pictures by reference, what was left out and what each of those lacks, and what is no picture.

    `conditions` says, by reference, what holds when the picture goes out.
    """

    folder: Path
    pictures: dict[str, Path]
    left_out: dict[str, tuple[str, ...]] = field(default_factory=dict)
    conditions: dict[str, tuple[str, ...]] = field(default_factory=dict)
    no_picture: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "folder": str(self.folder),
            "pictures": [{"reference": one, "file": str(path)} for one, path in self.pictures.items()],
            "left_out": [{"reference": one, "lacks": list(lacks)} for one, lacks in self.left_out.items()],
            "conditions": [
                {"reference": one, "only_with": list(held)} for one, held in self.conditions.items() if held
            ],
            "no_picture": list(self.no_picture),
            "caution": CAUTION,
        }


def references_of(kit: Kit, scene: Scene) -> list[Reference]:
    """The references that a scene cites, in the order of its dossier's numbers."""
    references, details, passages = cited(kit, scene)
    return list(Citations(scene, references, details, passages).cited)


def publish(kit: Kit, what: Scene | Iterable[Reference], out: Path, *, leave_out: bool = False) -> Published:
    """Write pictures with captions, credit lines, rights and basis into the folder `out`: all of it, or nothing.

    `out` must be empty or not there yet, and outside the archive. It gets `pictures/`, `captions.csv`, `captions.txt`
    and, where `leave_out` left something out, `left-out.txt`. Texts and objects have no picture; the report names them.

    Raises
    ------
    RightsRefused
        where a reference lacks a basis, evidence of it, or the credit line its licence asks for, and `leave_out` is
        not given; or where nothing would remain.
    SourceRefused
        where an original is missing or damaged, and `leave_out` is not given.
    CannotPrint
        where the folder holds something already or cannot be written.
    """
    references = references_of(kit, what) if isinstance(what, Scene) else list({r.id: r for r in what}.values())
    pictures = [r for r in references if r.media_type.startswith("image/") or r.kind == "image"]
    stands = {r.id: standing(r) for r in pictures}
    lacking = {r.id: stands[r.id].lacks for r in pictures if stands[r.id].lacks}
    if not pictures:
        raise RightsRefused("There is no picture among these to publish.", "Name picture references.", lacking={})
    if lacking and (not leave_out or len(lacking) == len(pictures)):
        raise _refusal(pictures, lacking, leave_out)
    going = [r for r in pictures if r.id not in lacking]
    with new_folder(out, kit.folder) as folder:
        written = _write(kit, going, stands, folder, lacking, leave_out)
        if not written:
            raise _refusal(pictures, lacking, leave_out)
        if lacking:
            _write_text(folder / "left-out.txt", _left_out(pictures, lacking))
    out = Path(os.path.abspath(out))
    return Published(
        folder=out,
        pictures={one: out / PICTURES / name for one, name in written.items()},
        left_out=lacking,
        conditions={one: stands[one].conditions for one in written},
        no_picture=tuple(r.id for r in references if r.id not in stands),
    )


def _refusal(pictures: list[Reference], lacking: dict[str, tuple[str, ...]], leave_out: bool) -> RightsRefused:
    named = [
        f"{r.title or r.source_name} ({r.id}) lacks {' and '.join(lacking[r.id])}" for r in pictures if r.id in lacking
    ]
    more = f"; and {len(named) - NAMED} more" if len(named) > NAMED else ""
    nothing = " Nothing would remain." if leave_out else ""
    return RightsRefused(
        f"{len(named)} of {len(pictures)} pictures have nothing recorded to be published on: "
        f"{'; '.join(named[:NAMED])}{more}.{nothing}",
        "Ask, and record the answer: refarchive rights ARCHIVE REFERENCE --basis TEXT --evidence TEXT"
        + ("." if leave_out else "; or leave them out with --leave-out."),
        lacking=lacking,
    )


def _write(
    kit: Kit,
    references: list[Reference],
    stands: dict[str, RightsStanding],
    folder: Path,
    lacking: dict[str, tuple[str, ...]],
    leave_out: bool,
) -> dict[str, str]:
    """Pictures and captions into the folder; file names by reference. What cannot be opened joins `lacking`."""
    (folder / PICTURES).mkdir()
    written: dict[str, str] = {}
    digits = max(2, len(str(len(references))))
    for done, reference in enumerate(references, 1):
        try:
            picture = open_reference(kit, reference)
        except SourceRefused as error:
            if not leave_out:
                raise
            lacking[reference.id] = (f"a sound original ({error.problem})",)
            continue
        suffix = ".png" if reference.media_type in LOSSLESS else ".jpg"
        name = f"{len(written) + 1:0{digits}d}-{_slug(reference)}{suffix}"
        _save(picture, folder / PICTURES / name)
        written[reference.id] = name
        if kit.progress is not None:
            kit.progress(done, len(references), name)
    kept = [r for r in references if r.id in written]
    _write_text(folder / "captions.csv", _captions_csv(kept, stands, written), mark=True)
    _write_text(folder / "captions.txt", _captions_txt(kept, stands, written))
    return written


def _save(picture: Image, path: Path) -> None:
    """A copy in sRGB that says so, and carries nothing else."""
    from PIL import Image as pil  # noqa: N813 (`Image` is the type here)
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    bare = pil.new("RGB", picture.size)
    bare.paste(picture)
    if path.suffix == ".png":
        bare.save(path, "PNG", icc_profile=profile)
    else:
        bare.save(path, "JPEG", quality=QUALITY, subsampling=0, icc_profile=profile)


def _slug(reference: Reference) -> str:
    """A file name from the title: plain letters, digits and hyphens, at most 60 characters."""
    plain = unicodedata.normalize("NFKD", reference.title or Path(reference.source_name).stem)
    return re.sub(r"[^a-z0-9]+", "-", plain.encode("ascii", "ignore").decode().lower())[:60].strip("-") or "picture"


def _captions_csv(references: list[Reference], stands: dict[str, RightsStanding], files: dict[str, str]) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for reference in references:
        rights = stands[reference.id]
        writer.writerow(
            csv_cell(cell)
            for cell in (
                f"{PICTURES}/{files[reference.id]}", reference.title, archival_caption(reference), rights.credit_line,
                rights.label, rights.uri, "; ".join(rights.conditions), rights.basis, rights.evidence,
                " ".join(cautions(reference)), reference.id,
            )
        )  # fmt: skip
    return out.getvalue()


def _captions_txt(references: list[Reference], stands: dict[str, RightsStanding], files: dict[str, str]) -> str:
    parts = [CAUTION]
    for reference in references:
        rights = stands[reference.id]
        lines = [
            f"{PICTURES}/{files[reference.id]}",
            archival_caption(reference, credit=False),
            f"Credit line: {rights.credit_line or 'none was asked for'}",
            f"Rights: {rights.statement}",
            f"Published on this basis: {rights.basis} ({rights.evidence})",
            *(f"Only with: {condition}" for condition in rights.conditions),
            *(f"Caution: {caution}" for caution in cautions(reference)),
            f"Reference: {reference.id}",
        ]
        parts.append("\n".join(clean(line, WHOLE, lines=True) for line in lines))
    return "\n\n".join(parts) + "\n"


def _left_out(pictures: list[Reference], lacking: dict[str, tuple[str, ...]]) -> str:
    lines = [
        f"{len(lacking)} of {len(pictures)} pictures were left out, for what is not recorded of them.",
        CAUTION,
        "",
    ]
    for reference in pictures:
        if reference.id in lacking:
            lines.append(clean(f"{reference.title or reference.source_name} ({reference.id})", WHOLE))
            lines += [f"    lacks {clean(one, WHOLE)}" for one in lacking[reference.id]]
    return "\n".join(lines) + "\n"


def _write_text(path: Path, text: str, *, mark: bool = False) -> None:
    path.write_bytes(text.encode("utf-8-sig" if mark else "utf-8", "replace"))  # the mark tells spreadsheets: UTF-8
