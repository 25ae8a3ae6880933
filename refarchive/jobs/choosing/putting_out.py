"""Putting a finished picture out: what is said of it, what its record drafts and lacks, its pages, and its file."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from refarchive.errors import BadQuery, CannotPrint, SourceRefused
from refarchive.jobs.choosing import particulars as saying
from refarchive.jobs.choosing.deciding import in_series
from refarchive.jobs.choosing.kept_frames import frame_file, frame_of, frame_picture, refuse_missing
from refarchive.jobs.choosing.printing import Printed
from refarchive.jobs.keeping.folders import new_folder
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.asking import asked
from refarchive.jobs.planning.dossier import as_jpeg, cited, write_whole
from refarchive.paper import statement_page
from refarchive.paper.citing import Citations, archival_caption
from refarchive.publish import caption, clearance, historical_note, statement
from refarchive.publish.photo_metadata import SOURCE_TYPES, PhotoMetadata, photo_metadata
from refarchive.records.bounded import read_bounded
from refarchive.records.files import open_picture, sniff
from refarchive.records.model import Frame, Reference, Scene
from refarchive.records.names import file_name
from refarchive.records.wall import LEAVE, LEAVE_KINDS, STANDINGS, Particulars
from refarchive.scenes.coverage import NeedCoverage, coverage

SUFFIXES = {"image/jpeg": ".jpg", "image/tiff": ".tif"}
THUMBNAIL_PX = 400  # long side
COLUMNS = ("Edition", "Size", "Edition of", "Made", "Placed", "Left, with proofs", "Looked at closely")


@dataclass(frozen=True)
class PutOut:
    """The file that was written, in words what was proved of it, and what the public version left out."""

    file: Path
    words: str
    left_out: tuple[str, ...]
    properties: tuple[tuple[str, str], ...]

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "file": str(self.file),
            "words": self.words,
            "left_out": list(self.left_out),
            "properties": dict(self.properties),
        }


@dataclass(frozen=True)
class _Record:
    """All that drafts are put together from."""

    scene: Scene
    frame: Frame
    told: Particulars
    revision: int
    references: Mapping[str, Reference]
    numbers: Citations
    covered: Sequence[NeedCoverage]
    questions: Any


def _record(kit: Kit, scene: Scene, name: str) -> _Record:
    frame = frame_of(kit, scene, name)
    told, revision = kit.store.after.particulars(frame.id)
    references, details, passages = cited(kit, scene)
    numbers = Citations(scene, references, details, passages)
    covered = coverage(scene, references, kit.store.families.all())
    return _Record(scene, frame, told, revision, references, numbers, covered, asked(kit, scene))


def words() -> dict[str, Any]:
    """The words that values may take, as JSON."""
    return {
        "leave_kinds": list(LEAVE_KINDS),
        "leave": list(LEAVE),
        "standings": list(STANDINGS),
        "source_types": [[code, meaning] for code, meaning in SOURCE_TYPES.items()],
    }


def document(kit: Kit, scene: Scene, name: str) -> dict[str, Any]:
    """All of a picture as JSON; see the façade."""
    record = _record(kit, scene, name)
    drafted, note, parts = _drafts(record)
    return {
        "frame": record.frame.id,
        "name": record.frame.source_name,
        "revision": record.revision,
        "values": saying.plain(record.told),
        "caption": {
            "text": caption.written(drafted.long),
            "short": caption.written(drafted.short),
            "label": caption.written(drafted.label),
            "claims": [_claim(one.text, one.rests_on) for one in drafted.long],
            "told": list(drafted.notices),
        },
        "note": {
            "text": note.text,
            "words": note.words,
            "claims": [{"section": one.section, **_claim(one.text, one.rests_on)} for one in note.claims],
            "told": [
                *note.notices,
                *(f"May go first: {note.claims[n].text}" for n in note.offered[:3]),
            ],
        },
        "missing": list(dict.fromkeys(one.words for one in (*drafted.debts, *note.debts))),
        "alt_hints": [
            f"{one.words} ({one.source})" for one in caption.alt_text_hints(record.told.alt_text, scene, record.told)
        ],
        "parts": [_part(one) for one in parts["parts"]],
        "statement": statement_page.in_all(parts),
        "checklist": _told(_checklist(record, date.today().isoformat())),
        "editions": _editions(record),
    }


def _drafts(record: _Record) -> tuple[caption.Caption, historical_note.Note, dict[str, Any]]:
    drafted = caption.draft_caption(record.scene, record.told, record.references, record.numbers)
    note = historical_note.draft_note(
        record.scene, record.told, record.covered, record.references, record.numbers, record.questions
    )
    found = statement.draft_statement(
        record.scene, record.told.parts, record.covered, record.references, record.numbers, record.questions
    )
    return drafted, note, statement.as_plain(found)


def _claim(text: str, rests_on: Sequence[caption.Basis]) -> dict[str, Any]:
    """A sentence, and in words what it rests on: plates and passages by number, else fields of the record."""
    numbers = statement_page.folded(one.number for one in rests_on if one.number)
    fields = list(dict.fromkeys(one.field.partition(".")[0] for one in rests_on if not one.number))
    return {"text": text, "rests_on": "; ".join(part for part in (numbers, ", ".join(fields)) if part)}


def _part(part: Mapping[str, Any]) -> dict[str, Any]:
    proposal = part["proposal"]
    proposed = f"The record proposes: {proposal['word']}." if proposal else ""
    return {
        "number": part["number"],
        "name": part["name"],
        "standing": part["word"],
        "why": part["why"],
        "proposed": part["disagreement"] or proposed,
    }


# --- permissions and editions ---------------------------------------------------------------------------------------


def _checklist(record: _Record, on: str) -> clearance.Checklist:
    site = record.scene.site
    permissions = site.permissions if site else ()
    return clearance.checklist(record.told, list(record.references.values()), permissions, on=on)


def checklist(kit: Kit, scene: Scene, name: str, on: str) -> list[dict[str, Any]]:
    """Permissions and releases as JSON; see the façade."""
    found: list[dict[str, Any]] = _checklist(_record(kit, scene, name), on or date.today().isoformat()).as_dict()[
        "items"
    ]
    return found


def _told(found: clearance.Checklist) -> dict[str, Any]:
    """The checklist in words: what is open, what is not, a sentence each."""
    still = found.open
    return {
        "summary": found.summary,
        "open": [_line(one) for one in still],
        "rest": [_line(one) for one in found.items if one not in still],
        "caution": found.caution,
    }


def _line(one: clearance.Item) -> str:
    lacks = f" Lacks {' and '.join(one.lacks)}." if one.lacks else ""
    step = f" {one.next_step}" if one.next_step else ""
    who = f", {one.who}" if one.who else ""
    return f"{one.kind.capitalize()}, {one.what or 'not said for what'}{who}: {one.state}.{lacks}{step}"


def _editions(record: _Record) -> dict[str, Any]:
    table = clearance.edition_table(record.told.editions, record.frame.width, record.frame.height)
    rows = [
        [
            one.name,
            f"{one.width_mm:.0f} × {one.height_mm:.0f} mm ({one.width_in:.1f} × {one.height_in:.1f} in)",
            f"{one.count} + {one.proofs} proofs" if one.proofs else str(one.count),
            str(one.made),
            str(one.placed),
            "–" if one.to_place is None else str(one.to_place),
            one.sentence,
        ]
        for one in table.rows
    ]
    return {"columns": list(COLUMNS), "rows": rows, "told": list(table.problems)}


# --- pages ----------------------------------------------------------------------------------------------------------


def print_pages(kit: Kit, scene: Scene, name: str, out: Path, *, only_statement: bool = False) -> Printed:
    """Write statement, caption and note as PDF. Raises UnknownRecord, SourceRefused, CannotPrint.

    Told through `kit.progress`; stopped at any step, nothing is written.
    """
    from refarchive.paper.pdf import count_pages, write_pdf

    record = _record(kit, scene, name)
    drafted, note, parts = _drafts(record)
    told = record.told
    made = statement_page.statement_document(
        told.title or scene.title,
        parts,
        caption.as_plain(drafted),
        historical_note.as_plain(note),
        scene=scene.title,
        version=f"revision {record.revision}",
        date=date.today().isoformat(),
        alt_text=told.alt_text,
        left_caption=told.caption,
        left_note=told.note,
        sources=[(record.numbers.number(one.id), archival_caption(one)) for one in record.numbers.cited],
    )
    if only_statement:
        made["sections"] = made["sections"][:1]
    kit.tell(0, 2, "opening the picture")
    pictures = statement_page.statement_pictures(frame_picture(kit, record.frame, None), parts)
    kit.tell(1, 2, "setting the pages")
    pdf = write_pdf(made, pictures)
    kit.tell(2, 2, "writing")
    what = "statement" if only_statement else "words"
    path = write_whole(out / f"{stem(record.frame.source_name)}-{what}.pdf", pdf)
    return Printed(path, f"{count_pages(pdf)} pages of {record.frame.source_name}.")


def print_statement(kit: Kit, scene: Scene, name: str, out: Path) -> Printed:
    """Write the statement alone as PDF. Raises as `print_pages`."""
    return print_pages(kit, scene, name, out, only_statement=True)


# --- the file -------------------------------------------------------------------------------------------------------


def write(kit: Kit, scene: Scene, name: str, final: Path | None, public: bool, out: Path) -> PutOut:
    """Write a copy of the final file with its metadata; see the façade.

    Told through `kit.progress`; stopped at any step, no file is left.
    """
    record = _record(kit, scene, name)
    source = final or frame_file(kit, record.frame)
    kit.tell(0, 2, "putting the metadata in")
    made, kind, metadata = _with_metadata(record.told, scene, source, public)
    version = "public" if public else "private"
    path = out / f"{stem(final.name if final else record.frame.source_name)}-{version}{SUFFIXES[kind]}"
    if path.exists():
        raise CannotPrint(f"There is a file {path.name} already.", "Name another folder, or move it away.")
    write_whole(path, made)
    try:
        kit.tell(1, 2, "looking whether the picture is the same")
        _prove(source, path)
        kit.tell(2, 2, "the picture is the same")
    except BaseException:  # not proved, or stopped before it was; of a file cut short the picture cannot be read
        os.unlink(path)
        raise
    left = tuple(f"{what}: {why}" for what, why in metadata.left_out)
    cut = f" Cut in the older IIM block, whole in XMP: {', '.join(metadata.shortened)}." if metadata.shortened else ""
    told = f"The {version} version, with {len(metadata.rows)} properties; pixels and compressed data are the same.{cut}"
    return PutOut(path, told, left, metadata.rows)


def _with_metadata(told: Particulars, scene: Scene, source: Path, public: bool) -> tuple[bytes, str, PhotoMetadata]:
    """A final file with its metadata, its media type, and the metadata. Raises SourceRefused, PublishRefused."""
    from refarchive.publish.embed import LARGEST_FILE, embed, picture_digest

    try:
        kind = sniff(source)
        data = read_bounded(source, LARGEST_FILE) if kind in SUFFIXES else b""
    except OSError as error:
        raise SourceRefused(f"{source.name} cannot be read: {error.strerror}.", "Check its name.") from None
    if kind not in SUFFIXES:
        raise SourceRefused(
            f"{source.name} is no JPEG and no TIFF, and metadata go into no other file here.",
            "Name the finished JPEG or TIFF with --final.",
        )
    metadata = photo_metadata(told, on=date.today().isoformat(), private=not public, event=scene.when)
    made = embed(data, metadata)
    if picture_digest(made) != picture_digest(data):
        raise CannotPrint("The picture would not have been the same in the copy.", "Report this; nothing was written.")
    return made, kind, metadata


def stem(name: str) -> str:
    """What the name of a written file begins with: a file's name without its ending, as any disk takes it."""
    return Path(file_name(name)).stem


def _prove(source: Path, copy: Path) -> None:
    """Refuse a copy that does not show the same pixels."""
    import numpy as np

    if not np.array_equal(np.asarray(open_picture(source)), np.asarray(open_picture(copy))):
        raise CannotPrint("The copy does not show the same pixels.", "Report this; the copy was taken away again.")


def write_series(kit: Kit, series: str, base: str, out: Path) -> dict[str, Any]:
    """Write the finished pictures of a series and their IIIF manifest into a new folder; see the façade."""
    from refarchive import __version__
    from refarchive.publish.series_manifest import File, Finished, series_manifest
    from refarchive.records.terms import BASE

    pairs = in_series(kit, series)
    if not pairs:
        raise BadQuery(f"The series {series!r} has no finished picture yet.", "Decide for one first.")
    refuse_missing(kit, (frame for _, frame in pairs))
    with new_folder(out, kit.folder) as folder:
        rows = []
        for part in ("pictures", "thumbnails"):
            (folder / part).mkdir()
        for number, (scene, frame) in enumerate(pairs, start=1):
            told = kit.store.after.particulars(frame.id)[0]
            told = replace(told, title=told.title or scene.title)
            made, kind, _ = _with_metadata(told, scene, frame_file(kit, frame), True)
            name = f"{number:02d}-{scene.slug}"
            picture = File(f"pictures/{name}{SUFFIXES[kind]}", kind, frame.width, frame.height)
            (folder / picture.path).write_bytes(made)
            small = frame_picture(kit, frame, THUMBNAIL_PX)
            (folder / "thumbnails" / f"{name}.jpg").write_bytes(as_jpeg(small, THUMBNAIL_PX))
            thumbnail = File(f"thumbnails/{name}.jpg", "image/jpeg", *small.size)
            rows.append(Finished(told, picture, thumbnail, scene.when))
            if kit.progress is not None:
                kit.progress(number, len(pairs), scene.title)
        document = series_manifest(
            rows, label=series, on=date.today().isoformat(), program=f"refarchive {__version__}", base=base or BASE
        )
        text = json.dumps(document, ensure_ascii=False, indent=2)
        (folder / "manifest.json").write_text(text, encoding="utf-8")
    return document
