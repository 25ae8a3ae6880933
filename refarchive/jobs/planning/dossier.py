"""Printing: the pictures and colour readings that a page content asks for, and the files written at the end."""

from __future__ import annotations

import io
import os
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from refarchive import leftovers
from refarchive.errors import CannotMeasure, CannotPrint, SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.records.model import Detail, Passage, Reference, Scene
from refarchive.scenes.coverage import coverage

if TYPE_CHECKING:
    from PIL.Image import Image

    from refarchive.paper.citing import PlateRequest
    from refarchive.paper.pages import SwatchReading
    from refarchive.search.finding import Findings

QUALITY = 86  # of the JPEG pictures on pages


@dataclass(frozen=True)
class Written:
    """The files of a dossier and its number of pages."""

    pdf: Path
    html: Path
    pages: int


def write_dossier(kit: Kit, scene: Scene, department: str | None, out: Path) -> Written:
    """Write the dossier of a scene, whole or for one department, as PDF and HTML from the same content.

    Told through `kit.progress`; stopped at any step, nothing is written. Raises UnknownRecord for a department there is
    none of, and CannotPrint where nothing can be written into `out`.
    """
    from refarchive.jobs.planning.asking import asked
    from refarchive.jobs.planning.onsite_sections import on_site
    from refarchive.paper import pages
    from refarchive.paper.citing import Citations
    from refarchive.paper.html import write_html
    from refarchive.paper.pdf import count_pages, write_pdf

    pages.check_department(department)
    references, details, passages = cited(kit, scene)
    placed = on_site(kit, scene, Citations(scene, references, details, passages), department)
    document = pages.dossier(
        scene,
        references=references,
        details=details,
        passages=passages,
        swatches=_readings(kit, scene, references),
        version=f"revision {scene.revision}",
        date=date.today().isoformat(),
        department=department,
        coverage=coverage(scene, references, kit.store.families.all()),
        asked=asked(kit, scene),
        onsite=placed.sections,
    )
    requests = list(pages.plates(document, scene, references=references, details=details))
    steps = len(requests) + 2
    pictures = prepare(kit, requests, references, steps=steps) | placed.drawings
    name = scene.slug if department is None else f"{scene.slug}-{department.replace(' ', '-')}"
    kit.tell(len(requests), steps, "setting the PDF")
    pdf = write_pdf(document, pictures)
    kit.tell(len(requests) + 1, steps, "setting the HTML")
    html = write_html(document, pictures)
    kit.tell(steps, steps, "writing")
    return Written(
        write_whole(out / f"{name}-dossier.pdf", pdf),
        write_whole(out / f"{name}-dossier.html", html.encode("utf-8")),
        count_pages(pdf),
    )


def cited(kit: Kit, scene: Scene) -> tuple[dict[str, Reference], dict[str, Detail], dict[str, Passage]]:
    """References, details and passages that a scene cites, by id. Raises UnknownRecord for a detail or passage."""
    ids = {e.reference for e in scene.evidence} | {s.reference for n in scene.needs for s in n.swatches}
    ids |= set(scene.intent.like) | ({scene.key_reference} if scene.key_reference else set())
    references = {r.id: r for r in kit.store.references(sorted(ids))}
    details = {e.detail: kit.store.detail(e.detail) for e in scene.evidence if e.detail}
    passages = {e.passage: kit.store.passage(e.passage) for e in scene.evidence if e.passage}
    return references, details, passages


def open_reference(kit: Kit, reference: Reference, longest: int | None = None) -> Image:
    """The picture of a reference, upright sRGB. Raises SourceRefused where its original is missing or damaged."""
    from refarchive.records.files import open_picture

    path = kit.files.original(reference.sha256, reference.suffix)
    if not path.is_file():
        raise SourceRefused(f"The original of {reference.title!r} is missing from the archive.", "Restore a backup.")
    return open_picture(path, longest=longest)


def _readings(kit: Kit, scene: Scene, references: Mapping[str, Reference]) -> dict[tuple[str, int], SwatchReading]:
    import numpy as np

    from refarchive.looks import colour
    from refarchive.looks.munsell import notation
    from refarchive.paper.pages import SwatchReading

    readings: dict[tuple[str, int], SwatchReading] = {}
    opened: dict[str, np.ndarray] = {}
    total = sum(len(need.swatches) for need in scene.needs)
    done = 0
    for need in scene.needs:
        for number, swatch in enumerate(need.swatches):
            kit.tell(done, total, "reading colours")
            done += 1
            reference = references.get(swatch.reference)
            if reference is None or reference.kind != "image":
                continue
            with suppress(CannotMeasure, SourceRefused):  # the page says that it could not be read
                if reference.id not in opened:
                    opened[reference.id] = np.asarray(open_reference(kit, reference, longest=3000))
                region = swatch.region or (0.0, 0.0, 1.0, 1.0)
                found = colour.region_swatch(opened[reference.id], region)
                l, a, b = (float(v) for v in found.lab)  # noqa: E741 (the name of the coordinate)
                readings[need.slug, number] = SwatchReading(
                    found.hex, (l, a, b), found.spread, reference.id, swatch.region, notation(found.lab).sentence
                )
    return readings


def write_findings(kit: Kit, found: Findings, out: Path, question: str) -> Path:
    """Write what was found as one HTML file. Raises CannotPrint."""
    from refarchive.paper.found import found_sheet
    from refarchive.paper.html import write_html

    document, requests = found_sheet(
        question, found.hits, found.notes, encoder=found.encoder, date=date.today().isoformat()
    )
    pictures = prepare(kit, requests, {hit.reference.id: hit.reference for hit in found.hits})
    return write_whole(out, write_html(document, pictures).encode("utf-8"))


def prepare(
    kit: Kit,
    requests: Iterable[PlateRequest],
    references: Mapping[str, Reference],
    frames: Mapping[str, Image] | None = None,
    steps: int = 0,
) -> dict[str, bytes]:
    """JPEGs of the pictures asked for, cut and reduced; a damaged original is left out, and the page says so.

    Each is told as a step of so many, where `steps` says of how many.
    """
    made: dict[str, bytes] = {}
    for number, request in enumerate(requests):
        if steps:
            kit.tell(number, steps, f"plate {number + 1}")
        if request.frame:
            picture = (frames or {})[request.frame]
        else:
            longest = request.longest_px
            if request.region is not None:  # enough pixels for the cut, from a larger reading of the whole
                longest = int(min(longest / max(request.region[2], request.region[3], 0.02), 12_000))
            try:
                picture = open_reference(kit, references[request.reference], longest=longest)
            except SourceRefused:
                continue
        made[request.name] = as_jpeg(cut(picture, request.region), request.longest_px)
    return made


def cut(picture: Image, region: tuple[float, float, float, float] | None) -> Image:
    """The part of a picture, at least one pixel."""
    if region is None:
        return picture
    x, y, width, height = region
    left, top = int(x * picture.width), int(y * picture.height)
    right = max(round((x + width) * picture.width), left + 1)
    bottom = max(round((y + height) * picture.height), top + 1)
    return picture.crop((left, top, min(right, picture.width), min(bottom, picture.height)))


def as_jpeg(picture: Image, longest: int) -> bytes:
    """The picture as an sRGB JPEG, its long side at most `longest` pixels."""
    from PIL.Image import Resampling

    small = picture
    if max(small.size) > longest:
        small = picture.copy()
        small.thumbnail((longest, longest), resample=Resampling.LANCZOS, reducing_gap=3.0)
    data = io.BytesIO()
    small.save(data, "JPEG", quality=QUALITY, optimize=True)
    return data.getvalue()


def write_whole(path: Path, data: bytes) -> Path:
    """Write a file completely or not at all; missing folders are made. Raises CannotPrint."""
    name = ""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        leftovers.sweep(path.parent.glob(".writing-*"), leftovers.OURS_ALONE)  # of a killed run
        handle, name = tempfile.mkstemp(prefix=leftovers.prefix("writing"), dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except OSError as error:
        with suppress(OSError):
            os.unlink(name)
        raise CannotPrint(
            f"{path.name} cannot be written: {error.strerror}.", "Name another folder, or make room there."
        ) from None
    return path
