"""PDFs come in as pages with pictures and words; poppler's pdftotext and pdfimages are the second opinion."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
from drawn import draw
from PIL import Image
from pypdf import PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, NameObject, NumberObject, StreamObject

from refarchive.archive import Archive
from refarchive.errors import SourceRefused
from refarchive.sources import pdf_apart, pdf_pages

PAGES = (
    "Heads of a sermon. The women went out before day with one lantern between them.",
    "",
    "The pilot carried a pole of ash, nine feet long, shod with iron at the foot.",
)


def printed(path: Path, texts: tuple[str, ...] = PAGES, title: str = "Sermon & pole") -> Path:
    """A PDF of A5 pages, one text each."""
    import typst

    source = path.with_suffix(".typ")
    head = f'#set document(title: "{title}")\n#set page("a5")\n'
    source.write_text(head + "\n#pagebreak()\n".join(texts), "utf-8")
    typst.compile(str(source), output=str(path))
    source.unlink()
    return path


@pytest.fixture
def pdf(tmp_path: Path) -> Path:
    return printed(tmp_path / "scans.pdf")


def test_pages_have_the_words_that_poppler_reads(pdf: Path) -> None:
    with pdf_pages.opened(pdf) as pages:
        assert pages.count == 3
        assert pages.title == "Sermon & pole"
        for number, text in enumerate(PAGES, 1):
            command = ["pdftotext", "-f", str(number), "-l", str(number), str(pdf), "-"]
            other = subprocess.run(command, capture_output=True, text=True, check=True).stdout
            assert pages.text(number).split() == other.split() == text.split()


def test_pages_look_as_poppler_draws_them(pdf: Path, tmp_path: Path) -> None:
    with pdf_pages.opened(pdf) as pages:
        own = pages.picture(1)
    subprocess.run(["pdftoppm", "-r", "200", "-f", "1", "-l", "1", "-png", str(pdf), str(tmp_path / "p")], check=True)
    other = Image.open(next(tmp_path.glob("p-*.png"))).convert("RGB")
    assert own.size == pytest.approx(other.size, abs=1)
    small = [np.asarray(p.resize((74, 105), Image.Resampling.BOX), float) for p in (own, other)]
    assert np.abs(small[0] - small[1]).mean() < 2


def test_a_pdf_is_gathered_page_by_page(archive: Archive, pdf: Path) -> None:
    report = archive.gather(pdf)
    assert (report.added, report.refused, report.notices) == (3, [], [])
    whole, first, third = archive.references()
    assert (whole.kind, whole.media_type, whole.title) == ("text", "application/pdf", "Sermon & pole")
    assert (first.kind, first.title, first.source_name) == ("image", "Sermon & pole, page 1", "scans.pdf#page=1")
    assert third.source_name == "scans.pdf#page=3"
    assert archive._kit.files.original(whole.sha256, ".pdf").read_bytes() == pdf.read_bytes()
    assert [p.text for p in archive.passages(third.id)] == [PAGES[2]]
    (hit,) = [h for h in archive.find("pole of ash").hits if h.passage is not None][:1]
    assert hit.reference.id == third.id
    among_texts = archive.find("pole of ash", kind="text").hits
    assert third.id in [h.reference.id for h in among_texts if h.passage is not None]
    among_pictures = archive.find("pole of ash", kind="image").hits
    assert third.id in [h.reference.id for h in among_pictures]
    assert whole.id not in [h.reference.id for h in among_pictures]
    assert archive.preview(first.id).is_file()
    assert archive.verify().problems == []


def test_again_it_opens_nothing_and_from_elsewhere_it_is_known(archive: Archive, pdf: Path, tmp_path: Path) -> None:
    archive.gather(pdf)
    again = archive.gather(pdf)
    assert (again.added, again.unchanged) == (0, 1)
    other = tmp_path / "other"
    other.mkdir()
    (other / "copy.pdf").write_bytes(pdf.read_bytes())
    moved = archive.gather(other)
    assert (moved.added, len(moved.duplicates)) == (0, 1)
    assert len(archive) == 3


def test_a_sheet_says_the_same_of_the_whole_and_of_each_page(archive: Archive, pdf: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("file,title,date,witness\nscans.pdf,Two heads,1871,contemporary text\n", "utf-8")
    archive.gather(sheet=sheet)
    titles = [r.title for r in archive.references()]
    assert titles == ["Two heads", "Two heads, page 1", "Two heads, page 3"]
    assert {r.when.edtf for r in archive.references() if r.when} == {"1871"}
    assert archive.gather(sheet=sheet).revised == 0
    archive.describe("scans.pdf#page=3", title="The pole")
    sheet.write_text("file,title,place\nscans.pdf,The sermon,Merrow Sands\n", "utf-8")
    assert archive.gather(sheet=sheet).revised == 3
    titles = [r.title for r in archive.references()]
    assert titles == ["The sermon", "The sermon, page 1", "The pole"]  # a name given by hand stands
    assert {r.place for r in archive.references()} == {"Merrow Sands"}
    assert archive.gather(sheet=sheet).revised == 0


def test_a_scan_without_words_says_so(archive: Archive, tmp_path: Path) -> None:
    pictures = [Image.open(draw(tmp_path / "in" / f"{n}.png", n)).convert("RGB") for n in range(2)]
    pictures.append(Image.new("RGB", (300, 400), "white"))
    path = tmp_path / "scan.pdf"
    pictures[0].save(path, "PDF", save_all=True, append_images=pictures[1:], resolution=100)
    report = archive.gather(path)
    assert report.added == 3  # the whole and two pages: the blank one is left out
    assert report.notices == ["scan.pdf has no text in it: its pages were taken as pictures only."]


def form(drawn: bytes) -> StreamObject:
    """A form of a PDF: something drawn under a name, which pages and other forms may draw again."""
    made = StreamObject()
    made.update({NameObject("/Type"): NameObject("/XObject"), NameObject("/Subtype"): NameObject("/Form")})
    made[NameObject("/BBox")] = ArrayObject([NumberObject(n) for n in (0, 0, 600, 800)])
    made.set_data(drawn)
    return made


def drawing_itself(writer: PdfWriter) -> None:
    """A page with a form that draws itself three times over: PDFium asks for memory without end."""
    page = writer.add_blank_page(600, 800)
    own = form(b"/F Do /F Do /F Do")
    named = DictionaryObject({NameObject("/XObject"): DictionaryObject({NameObject("/F"): writer._add_object(own)})})
    own[NameObject("/Resources")] = page[NameObject("/Resources")] = named
    page[NameObject("/Contents")] = writer._add_object(form(b"/F Do"))


def bad(kind: str, path: Path) -> Path:
    writer = PdfWriter()
    if kind == "bomb":
        writer.append(printed(path.with_name("open.pdf")))  # three good pages come first
        drawing_itself(writer)
    if kind == "empty":
        writer.write(path)
        return path
    if kind == "locked":
        writer.append(printed(path.with_name("open.pdf")))
        writer.encrypt("secret", algorithm="RC4-128")
    elif kind == "long":
        for _ in range(2000):
            writer.add_blank_page(200, 300)
    elif kind == "blank":
        writer.add_blank_page(200, 300)
    if kind == "cut":
        path.write_bytes(printed(path.with_name("open.pdf")).read_bytes()[:400])
    elif kind == "nonsense":
        path.write_bytes(b"%PDF-1.7\n" + b"nonsense " * 50)
    else:
        writer.write(path)
    path.with_name("open.pdf").unlink(missing_ok=True)
    return path


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("locked", "locked with a password"),
        ("long", "has 2,000 pages"),
        ("bomb", "Page 4 of bad.pdf cannot be read"),
        ("empty", "damaged"),
        ("blank", "only blank pages"),
        ("cut", "damaged"),
        ("nonsense", "damaged"),
    ],
)
def test_what_cannot_be_taken_is_refused_and_leaves_nothing(
    archive: Archive, tmp_path: Path, kind: str, words: str
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    bad(kind, folder / "bad.pdf")
    draw(folder / "good.jpg", 1)
    report = archive.gather(folder)
    assert report.added == 1
    ((refused),) = report.refused
    assert words in refused["problem"]
    assert refused["next_step"]
    assert [r.source_name for r in archive.references()] == ["good.jpg"]
    kept = [p for p in (archive.folder / "originals").rglob("*") if p.is_file() or p.name.startswith(".")]
    assert [p.suffix for p in kept] == [".jpg"]
    again = archive.gather(folder)
    assert (again.added, again.unchanged, len(again.refused)) == (0, 1, 1)


def test_a_page_that_takes_too_long_is_refused(pdf: Path, tmp_path: Path) -> None:
    with pytest.raises(SourceRefused, match=r"scans\.pdf cannot be read: .* takes more than 0.01 seconds"):
        pdf_apart.read_pdf(pdf, tmp_path, seconds_a_page=0.01)


def test_read_apart_is_what_is_read_here(pdf: Path, tmp_path: Path) -> None:
    read = pdf_apart.read_pdf(pdf, tmp_path)
    assert (read.count, read.title, [p.number for p in read.pages]) == (3, "Sermon & pole", [1, 3])
    with pdf_pages.opened(pdf) as pages:
        for page in read.pages:
            assert page.text == pages.text(page.number)
            assert Image.open(page.picture).tobytes() == pages.picture(page.number).tobytes()


def test_an_enormous_page_is_drawn_within_bounds(tmp_path: Path) -> None:
    writer = PdfWriter()
    writer.add_blank_page(14_400, 9_000)  # five metres wide
    path = tmp_path / "wall.pdf"
    writer.write(path)
    with pdf_pages.opened(path) as pages:
        assert max(pages.picture(1).size) <= pdf_pages.LONGEST_SIDE
        with pytest.raises(SourceRefused):
            pages.text(2)
