"""A dossier of many plates: against the bare libraries setting the same pictures at the same places, and nothing else.

The bare side reads the same originals with Pillow at the pixels that the dossier asks for, saves them as JPEG, and has
Typst put each where it stands in the dossier, with the same width and height, without a letter. Ours reads the
records, works out coverage, writes every caption, fact and question, tags the PDF for readers of screens (PDF/UA-1),
and writes the same as HTML. The references are drawn pictures of 12 megapixels with grain, as scans have.
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from table import Row, best, memory_mb

import refarchive
from refarchive.archive import Archive
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning import dossier as job
from refarchive.paper.citing import PlateRequest
from refarchive.records.model import Reference

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

from placed_in_pdf import pictures as placed  # noqa: E402

from tests.faults import quick  # noqa: E402

PLATES, SIZE, ROUNDS = 60, (4000, 3000), 3
NEED = """
[[need]]
name = "Thing {number}"
department = "props"
[[need.evidence]]
reference = "{reference}"
relation = "shows"
note = "How it is held, and what it is made of."
"""
SCENE = """[scene]
title = "At the ford"
slug = "ford"
event = "A cart crosses."
story = "The pilot goes before."
date = "1869"
"""


def scanned(path: Path, seed: int) -> None:
    """Soft fields of colour with grain."""
    random = np.random.default_rng(seed)
    small = Image.fromarray(random.integers(0, 256, (12, 16, 3), dtype=np.uint8))
    soft = np.asarray(small.resize(SIZE, Image.Resampling.BICUBIC), np.int16)
    grain = random.integers(-9, 10, (*soft.shape[:2], 1), np.int16)
    Image.fromarray(np.clip(soft + grain, 0, 255).astype(np.uint8)).save(path, quality=88)


def filled(place: Path, count: int) -> Archive:
    """An archive with a scene that rests on so many pictures."""
    quick.install()
    (place / "scans").mkdir()
    for number in range(count):
        scanned(place / "scans" / f"plate-{number:03d}.jpg", number)
    archive = refarchive.create(place / "archive", "quick", who="bench")
    archive.gather(place / "scans")
    needs = [NEED.format(number=n, reference=f"plate-{n:03d}.jpg") for n in range(count)]
    archive.plan(SCENE + "".join(needs))
    return archive


def set_bare(
    originals: Mapping[str, Path], wanted: Sequence[PlateRequest], pages: Sequence[Sequence[tuple[Any, ...]]]
) -> bytes:
    """The pictures wanted, reduced, and set where `pages` say, in millimetres."""
    import typst

    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        for number, one in enumerate(wanted):
            longest = one.longest_px
            with Image.open(originals[one.reference]) as image:
                image.draft(None, (longest, longest))
                image.thumbnail((longest, longest), Image.Resampling.LANCZOS, reducing_gap=3.0)
                image.convert("RGB").save(root / f"{number}.jpg", quality=job.QUALITY, optimize=True)
        files = {one.name: f"{number}.jpg" for number, one in enumerate(wanted)}
        sheets = (
            "".join(
                f'#place(top + left, dx: {left}mm, dy: {top}mm, image("{files[name]}", width: {w}mm, height: {h}mm))\n'
                for name, left, top, w, h in page
            )
            for page in pages
        )
        text = '#set page(paper: "a4", margin: 0pt)\n' + "#pagebreak()\n".join(sheets)
        (root / "bare.typ").write_text(text, "utf-8")
        pdf: bytes = typst.compile(str(root / "bare.typ"), root=str(root), ignore_system_fonts=True)
        return pdf


def first(archive: Archive, out: Path) -> tuple[list[PlateRequest], list[list[tuple[Any, ...]]]]:
    """The pictures that the dossier asks for, and for each page which of them stands where, in millimetres."""
    asked: list[PlateRequest] = []
    made: dict[str, bytes] = {}
    prepare = job.prepare

    def noted(
        kit: Kit, requests: Iterable[PlateRequest], references: Mapping[str, Reference], **more: int
    ) -> dict[str, bytes]:
        asked.extend(requests)
        made.update(prepare(kit, asked, references, **more))
        return made

    job.prepare = noted  # type: ignore[assignment]
    try:
        written = archive.dossier("ford", out=out)
    finally:
        job.prepare = prepare
    named = {hashlib.sha256(content).hexdigest(): name for name, content in made.items()}
    pdf = written.pdf.read_bytes()
    return asked, [
        [(named[hashlib.sha256(found.thing._data).hexdigest()], *found.box) for found in placed(pdf, number)]
        for number in range(written.pages)
    ]


def rows(*plates: int) -> Iterator[Row]:
    """A dossier of so many plates (60 unless said otherwise)."""
    for count in plates or (PLATES,):
        with tempfile.TemporaryDirectory(prefix="bench-dossier-") as name, filled(Path(name), count) as archive:
            yield from measured(archive, Path(name), count)


def measured(archive: Archive, place: Path, count: int) -> Iterator[Row]:
    """Both sides, once to load and to compare, then timed."""
    references = {r.id: r for r in archive.references()}
    originals = {one: archive._kit.files.original(r.sha256, r.suffix) for one, r in references.items()}
    asked, pages = first(archive, place / "first")
    shown = sum(map(len, pages))
    assert shown >= count, f"{shown} pictures in a dossier of {count} plates"
    bare = set_bare(originals, asked, pages)
    assert [len(placed(bare, number)) for number in range(len(pages))] == list(map(len, pages))
    before = memory_mb()
    Path("/proc/self/clear_refs").write_text("5")  # the peak starts anew; Linux only
    own = best(lambda: archive.dossier("ford", out=place / "again"), ROUNDS)
    more = memory_mb("VmHWM") - before
    other = best(lambda: set_bare(originals, asked, pages), ROUNDS)
    of_pictures = best(lambda: job.prepare(archive._kit, asked, references), ROUNDS)
    told = f"{count} plates, {shown} pictures on {len(pages)} pages"
    yield Row("dossier as PDF and HTML", told, own, other, against="Pillow, Typst")
    yield Row("dossier: of that, its pictures read and reduced", told, of_pictures)
    yield Row("dossier: more memory at its peak", told, more, unit="MB")
