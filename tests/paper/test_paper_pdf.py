"""The PDF: read back with poppler, an independent reader."""

from __future__ import annotations

import re
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from poppler import poppler, text_of

from refarchive.errors import CannotPrint
from refarchive.paper import blocks
from refarchive.paper.pdf import PDF_UA, count_pages, write_pdf
from refarchive.records.model import Evidence, Need


def test_sheets_are_a4_tagged_and_titled(made_pdf: bytes) -> None:
    info = dict(re.findall(r"^([^:]+):\s+(.*)$", poppler("pdfinfo", made_pdf).decode(), re.MULTILINE))
    width, height = map(float, re.findall(r"[\d.]+", info["Page size"])[:2])
    # ISO 216: A4 is 210 mm by 297 mm; a point is 25.4/72 mm.
    assert width * 25.4 / 72 == pytest.approx(210, abs=0.05)
    assert height * 25.4 / 72 == pytest.approx(297, abs=0.05)
    assert info["Title"] == "First light on the sands"
    assert info["Tagged"] == "yes"
    assert int(info["Pages"]) == count_pages(made_pdf)
    assert "CreationDate" not in info


def test_it_claims_universal_access(made_pdf: bytes) -> None:
    # ISO 14289-1, clause 5: the identification schema in the metadata. The setter refuses what does not conform.
    assert PDF_UA == "ua-1"
    assert re.search(rb"<pdfuaid:part>1</pdfuaid:part>", made_pdf)


def test_every_sheet_says_which_of_how_many(made_pdf: bytes) -> None:
    sheets = poppler("pdftotext", made_pdf).decode().split("\f")[:-1]
    for number, sheet in enumerate(sheets, 1):
        head = " ".join(sheet.split())
        assert f"page {number} of {len(sheets)}" in head
        assert "revision 3, 2026-02-11" in head
        assert "First light on the sands" in head
    assert "Wardrobe" in sheets[1][:200]


def test_every_caption_reads_back(made: Any, made_pdf: bytes) -> None:
    text = text_of(made_pdf)
    document = made.dossier()
    entries = [b for s in document["sections"] if s["id"] == "sources" for b in blocks.walk(s) if "caption" in b]
    assert len(entries) == 15
    for entry in entries:
        assert " ".join(f"{entry['number']} {entry['caption']}".replace("\u00a0", " ").split()) in text
    for piece in ("ſarah Dove; £3 — 4s. — 6d., née Côté", "Élise Thornby", "31 × 47 cm", "linſey petticoat ſtriped"):
        assert piece in text
    # Laid out from right to left; poppler gives the letters in reading order between direction marks.
    assert "יעל אלון" in re.sub("[\u202a-\u202e]", "", text)


def test_cautions_read_back(made_pdf: bytes) -> None:
    text = text_of(made_pdf)
    assert "Local codes and licensed, competent people decide what may be done and how." in text
    assert "a flash unit holds a lethal voltage even after it has been in water" in text
    assert not re.search(r"\bsafe(ly)?\b", text, re.IGNORECASE)


def test_texts_are_no_markup(hostile_pdf: bytes, nasty: str) -> None:
    text = text_of(hostile_pdf)
    assert " ".join(nasty.split()) in text
    assert " 49 " not in text
    assert "[U+202E]gnp.exe [U+D800]" in text
    assert "يوسف" in re.sub("[\u202a-\u202e]", "", text)


def test_no_word_leaves_the_sheet(hostile_pdf: bytes) -> None:
    boxes = poppler("pdftotext", hostile_pdf, "-bbox").decode()
    found = [(float(a), float(b)) for a, b in re.findall(r'<word xMin="([\d.-]+)".*?xMax="([\d.-]+)"', boxes)]
    assert len(found) > 1000
    millimetre = 72 / 25.4
    assert min(a for a, _ in found) >= 20 * millimetre
    assert max(b for _, b in found) <= (210 - 18) * millimetre


def test_a_letter_without_a_face_is_written_as_its_code(made: Any) -> None:
    # A noncharacter: no face can hold it (Unicode 15, section 23.7), on this machine or another.
    scene = replace(made.scene, story="Before \ufdd0 dawn ☐")
    pdf = write_pdf(replace(made, scene=scene).dossier("effects"), {})
    text = text_of(pdf)
    assert "Before [U+FDD0] dawn" in text
    assert "☐" in text or "[U+2610]" in text


def test_bookmarks_name_sections_and_needs(made_pdf: bytes) -> None:
    structure = poppler("pdfinfo", made_pdf, "-struct-text").decode()
    for title in ("Sources and rights", "Open questions", "Sun-bonnet"):
        assert title in structure
    assert b"/Outlines" in made_pdf


def test_twice_is_the_same_bytes(made: Any, made_pdf: bytes) -> None:
    document = made.dossier()
    assert write_pdf(document, made.pictures(document)) == made_pdf


def test_nothing_is_left_behind(made: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    write_pdf(made.dossier("effects"), {})
    with pytest.raises(CannotPrint):
        write_pdf(made.dossier("effects"), {"pl-001": b"no picture"})
    assert not list(tmp_path.iterdir())


def test_a_picture_gone_is_said(made: Any) -> None:
    assert "The picture could not be opened" in text_of(write_pdf(made.dossier("effects"), {}))


def test_sixty_plates_stand_whole(made: Any, prepare: Any) -> None:
    references = {
        f"r{n}": replace(
            made.references["sands"], id=f"r{n}", title=f"Plate of the sands {n}", width=300, height=200 + n
        )
        for n in range(60)
    }
    needs = tuple(
        Need(f"n{n}", f"Thing {n}", "props", evidence=(Evidence(f"r{n}", "shows"),), prominence="background")
        for n in range(60)
    )
    scene = replace(made.scene, key_reference="r0", needs=needs, intent=type(made.scene.intent)())
    big = replace(made, scene=scene, references=references)
    document = big.dossier()
    text = text_of(write_pdf(document, prepare(big.requests(document), references)))
    for n in range(60):
        assert f"Pl. {n + 1} " in text
        assert f"Thing {n} " in text


def test_a_wrong_document_is_a_named_problem(made: Any) -> None:
    document = made.dossier("effects")
    document["sections"][0]["pages"][0]["blocks"].append({"type": "table", "columns": [], "rows": "x"})
    with pytest.raises(CannotPrint, match="cannot be set as PDF"):
        write_pdf(document, {})
