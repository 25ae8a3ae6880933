"""Keeping the vector files level with the records: adding, making up for what is missing, making all of it anew."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from refarchive.errors import SourceRefused
from refarchive.jobs import measures
from refarchive.jobs.kit import Kit
from refarchive.records.files import PREVIEW_SIDE, open_picture
from refarchive.records.model import Reference

if TYPE_CHECKING:
    from PIL.Image import Image

BATCH = 16


def caption_of(reference: Reference) -> str:
    """What is encoded as a reference's caption: its title and description."""
    return ". ".join(part for part in (reference.title.strip(), reference.description.strip()) if part)


def caption_key(reference: Reference) -> str:
    """Key of a caption's vector: another caption has another key, so that no stale vector is ever used."""
    import hashlib

    return f"{reference.id}@{hashlib.sha256(caption_of(reference).encode('utf-8', 'replace')).hexdigest()[:12]}"


def add_pictures(kit: Kit, pictures: Sequence[tuple[str, Image]]) -> None:
    """Encode upright sRGB pictures with their tiles, take their palettes, and append all of it."""
    if not pictures:
        return
    import numpy as np

    from refarchive.search.vectors import tiles

    crops: list[Image] = []
    keys: list[str] = []
    for reference, picture in pictures:
        for number, crop in enumerate(tiles(picture)):
            crops.append(crop)
            keys.append(f"{reference}#{number}")
    codes = kit.encoder.encode_pictures(crops)
    if codes.meaning is not None:
        kit.meaning.append(keys, codes.meaning)
    kit.likeness.append(keys, codes.likeness)
    rows = [measures.palette_row(np.asarray(picture)) for _, picture in pictures]
    kit.colours.append([reference for reference, _ in pictures], np.stack(rows))


def bring_up_to_date(kit: Kit) -> int:
    """Make the vectors that are missing, and drop those of records that are gone. Returns how many were made."""
    references = kit.store.references()
    made = _pictures(kit, [r for r in references if r.kind == "image"]) if references else 0
    made += _sentences(kit, "captions", {caption_key(r): caption_of(r) for r in references})
    made += _sentences(kit, "passages", {p.id: p.text for p in kit.store.passages()})
    return made


def _pictures(kit: Kit, references: list[Reference]) -> int:
    if not references and not (kit.folder / "vectors").exists():
        return 0
    from refarchive.search.vectors import TILES

    whole = {r.id: [f"{r.id}#{n}" for n in range(len(TILES))] for r in references}
    keys = [key for group in whole.values() for key in group]
    files = [kit.likeness] if kit.meaning is kit.likeness else [kit.likeness, kit.meaning]
    short = {key.partition("#")[0] for file in files for key in file.missing(keys)}
    short |= set(kit.colours.missing(list(whole)))
    todo = [r for r in references if r.id in short]
    for file, wanted in [*((file, set(keys)) for file in files), (kit.colours, set(whole))]:
        file.drop([key for key in file.keys() if key not in wanted or key.partition("#")[0] in short])  # noqa: SIM118
    done = 0
    for start in range(0, len(todo), BATCH):
        pictures = []
        for reference in todo[start : start + BATCH]:
            try:
                picture = open_picture(kit.files.original(reference.sha256, reference.suffix), longest=PREVIEW_SIDE)
            except SourceRefused:
                continue  # the original is damaged: verify names it, and the rest goes on
            pictures.append((reference.id, picture))
        add_pictures(kit, pictures)
        done += len(pictures)
        if kit.progress is not None:
            kit.progress(min(start + BATCH, len(todo)), len(todo), "encoding")
    return done


def _sentences(kit: Kit, name: str, wanted: dict[str, str]) -> int:
    if not wanted and not (kit.folder / "vectors" / name).exists():
        return 0
    file = getattr(kit, name)
    file.drop([key for key in file.keys() if key not in wanted])  # noqa: SIM118 (a method of the file)
    todo = file.missing(list(wanted))
    for start in range(0, len(todo), 256):
        part = todo[start : start + 256]
        file.append(part, kit.sentences.encode([wanted[key] for key in part]))
        if kit.progress is not None and len(todo) > 256:
            kit.progress(min(start + 256, len(todo)), len(todo), name)
    return len(todo)


def reencode(kit: Kit) -> dict[str, Any]:
    """Throw the picture vectors away and make them with the kit's encoder.

    The encoder is loaded first, so that one that cannot be had leaves everything as it was.
    """
    identity = kit.encoder.identity
    for name in ("likeness", "meaning"):
        shutil.rmtree(kit.folder / "vectors" / name, ignore_errors=True)
    done = bring_up_to_date(kit)
    pictures = sum(r.kind == "image" for r in kit.store.references())
    return {"encoder": identity.as_dict(), "pictures": pictures, "made": done}
