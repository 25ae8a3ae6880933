"""References leave the archive and come back equal, by each of the three ways.

Looked at from outside: the manifest through the published IIIF schema as iiif-prezi3 has it, the JSON-LD through
rdflib, whose list of the DCMI Metadata Terms is closed.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import iiif_prezi3
import pytest
import rdflib
from drawn import draw
from PIL import Image
from rdflib.namespace import DCTERMS

import refarchive
from refarchive.archive import Archive
from refarchive.demo import shipped
from refarchive.errors import ArchiveDamaged, CannotPrint, UnknownRecord
from refarchive.records.dates import read_date
from refarchive.records.model import Reference, Witness
from refarchive.records.terms import FIELDS, TERMS

WAYS = ("references.csv", "references.jsonld", "manifest.json")
CC0 = "http://creativecommons.org/publicdomain/zero/1.0/"

# What is hard to carry: formulas, markup, semicolons, quotes, line breaks, other scripts, and words beside a date.
HARD: dict[str, Any] = {
    "title": "=SUM(A1)", "creator": "'=1; \"A\", <b>B</b>", "place": "<b>Merrow</b>", "source": "-5 °C",
    "description": "one\n\n  two, \"three\"; 'four' \\n five\\", "medium": "@cmd", "dimensions": "+3 × 4 cm",
    "collection": "Музей; 美術館", "accession": "007", "credit": "<p>© & Co</p>", "basis": "a permission; by letter",
    "basis_evidence": "letters/1.txt", "identifier": "urn:x:1", "subjects": ("sand; wet", "=1", "25F72 cockles", "a\\"),
    "witness": Witness.PHOTOGRAPH, "digitised": "2021-06-05", "rights": "CC BY 4.0",
    "when": replace(read_date("186X~"), text="the sixties; about"), "depicts": read_date("between 1783 and 1790"),
    "origins": (("creator", "EXIF Artist"), ("source", "XMP; photoshop = x")),
}  # fmt: skip
NOTES = {
    (0.1, 0.2, 0.3, 0.4): "the lantern",
    (1 / 3, 0.07, 1 / 7, 0.123456789): "=1+1\nsecond line \\n <b>not bold</b>",
    (0.0, 0.0, 1.0, 1.0): "",
}


def told(archive: Archive) -> list[Reference]:
    return [replace(one, added_at="") for one in archive.references()]


def come_back(out: Path, way: str, place: Path) -> Archive:
    fresh = refarchive.create(place, "tiny")
    source = out / way
    report = fresh.gather(sheet=source) if way.endswith(".csv") else fresh.gather(source)
    assert report.refused == []
    assert report.duplicates == []
    return fresh


@pytest.fixture(scope="module")
def samples(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Archive, Path]]:
    """The sample archive, with the details of its scenes, and what leaves of it."""
    place = tmp_path_factory.mktemp("samples")
    with refarchive.create(place / "archive", "tiny") as made:
        made.gather(sheet=shipped("sample_refs") / "references.csv")
        for plan in sorted((shipped("sample_refs") / "scenes").glob("*.toml")):
            made.read_scene(plan)
        made.exchange.write(place / "out")
        yield made, place / "out"


@pytest.fixture
def hard(archive: Archive, tmp_path: Path) -> Archive:
    """A picture, a bare picture, a text and an object, with what is hard to carry."""
    folder = tmp_path / "scans"
    for number, name in enumerate(("deep/a b ü#1.jpg", "bare.png", "deep/bare.png")):
        draw(folder / name, number)
    (folder / "letter.md").write_text("# A letter\n\nThe pilot went before with his staff.\n", "utf-8")
    (tmp_path / "sheet.csv").write_text("title,creator,date,kind\nA staff,Nobody,c. 1870,object\n", "utf-8")
    archive.gather(folder, sheet=tmp_path / "sheet.csv")
    first = archive.reference("deep/a b ü#1.jpg")
    archive._kit.store.change_reference(first.id, **HARD)
    archive._kit.store.change_reference(archive.references()[0].id, title="")
    archive._kit.store.change_reference(archive.reference("letter.md").id, creator="A. Nobody", title="=letter")
    for region, note in NOTES.items():
        archive.mark(first.id, region, note)
    return archive


@pytest.mark.parametrize("way", WAYS)
def test_the_sample_archive_comes_back_equal(samples: tuple[Archive, Path], tmp_path: Path, way: str) -> None:
    archive, out = samples
    assert len(archive) == 38
    assert len(archive.details()) > 5
    with come_back(out, way, tmp_path / "back") as back:
        assert told(back) == told(archive)
        assert back.details() == archive.details()
        assert [p.text for p in back._kit.store.passages()] == [p.text for p in archive._kit.store.passages()]
        assert back.verify().problems == []


@pytest.mark.parametrize("way", WAYS)
def test_what_is_hard_to_carry_comes_back_equal_and_again_changes_nothing(
    hard: Archive, tmp_path: Path, way: str
) -> None:
    hard.exchange.write(tmp_path / "out")
    with come_back(tmp_path / "out", way, tmp_path / "back") as back:
        assert told(back) == told(hard)
        assert {d.region: d.note for d in back.details()} == NOTES
        assert back.details() == hard.details()
        before = len(back.history())
        source = tmp_path / "out" / way
        again = back.gather(sheet=source) if way.endswith(".csv") else back.gather(source)
        assert (again.added, again.revised, again.details, again.unchanged) == (0, 0, 0, len(hard))
        assert len(back.history()) == before


def test_every_field_of_a_reference_leaves_or_follows_from_its_file() -> None:
    """A new field must be given a way out, or be named here."""
    from_the_file = {"sha256", "suffix", "media_type", "width", "height"}
    names = {"when": "date", "id": "reference"}
    known = {names.get(f.name, f.name) for f in fields(Reference)} - from_the_file - {"added_at"}
    assert known == set(FIELDS) - {"date_text", "depicts_text"}


def test_the_whole_folder_comes_back_at_once(hard: Archive, tmp_path: Path) -> None:
    hard.exchange.write(tmp_path / "out")
    with refarchive.create(tmp_path / "back", "tiny") as back:
        report = back.gather(tmp_path / "out")
        assert {one["source"] for one in report.refused} == {"references.csv"}
        by_id = {one.id: one for one in told(back)}
        assert all(by_id[one.id] == one for one in told(hard))


def test_a_changed_sheet_comes_back_into_the_same_archive(hard: Archive, tmp_path: Path) -> None:
    """Also where only previews went out: the files are not taken for new pictures, what is said of them is taken."""
    hard.exchange.write(tmp_path / "out", originals=False)
    sheet = tmp_path / "out" / "references.csv"
    rows = list(csv.DictReader(io.StringIO(sheet.read_bytes().decode("utf-8-sig"), newline="")))
    before = {one.id: one for one in told(hard)}
    changed = next(row for row in rows if row["reference"] == hard.reference("deep/a b ü#1.jpg").id)
    changed |= {"creator": "Mrs. Someone", "place": ""}
    with sheet.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    report = hard.gather(sheet=sheet)
    assert (report.added, report.revised, report.refused) == (0, 1, [])
    after = {one.id: one for one in told(hard)}
    one = changed["reference"]
    assert after.pop(one) == replace(before.pop(one), creator="Mrs. Someone", place="")
    assert after == before


@pytest.mark.parametrize("way", WAYS)
def test_a_pdf_comes_back_with_what_was_said_of_each_page(archive: Archive, tmp_path: Path, way: str) -> None:
    pages = [Image.open(draw(tmp_path / "in" / f"{n}.png", n)).convert("RGB") for n in range(2)]
    pages[0].save(tmp_path / "scan.pdf", "PDF", save_all=True, append_images=pages[1:], resolution=100)
    archive.gather(tmp_path / "scan.pdf")
    archive.describe(archive.reference("scan.pdf").id, creator="A. Nobody")
    archive.describe("scan.pdf#page=2", title="The second leaf", place="Merrow Sands")
    archive.exchange.write(tmp_path / "out")
    with come_back(tmp_path / "out", way, tmp_path / "back") as back:
        assert told(back) == told(archive)
        before = len(back.history())
        source = tmp_path / "out" / way
        again = back.gather(sheet=source) if way.endswith(".csv") else back.gather(source)
        assert (again.added, again.revised, again.unchanged, len(back.history())) == (0, 0, 3, before)


def test_the_manifest_is_one_by_the_published_schema(samples: tuple[Archive, Path]) -> None:
    archive, out = samples
    document = json.loads((out / "manifest.json").read_text("utf-8"))
    manifest = iiif_prezi3.Manifest(**document)
    assert len(manifest.items) == len(archive)
    noted = [a for canvas in manifest.items for page in canvas.annotations or () for a in page.items]
    assert len(noted) == len(archive.details())
    for canvas, one in zip(manifest.items, archive.references(), strict=True):
        assert str(canvas.rights) == CC0
        if one.kind == "image":
            (picture,) = canvas.items[0].items
            assert (canvas.width, canvas.height) == (one.width, one.height)
            assert (picture.body.format, picture.motivation) == (one.media_type, "painting")
    with pytest.raises(ValueError, match="validation error"):
        iiif_prezi3.Manifest(**{**document, "id": "manifest.json"})  # the schema can say no


def test_rights_in_a_manifest_are_only_uris_that_it_may_have(hard: Archive, tmp_path: Path) -> None:
    hard.exchange.write(tmp_path / "out")
    canvases = json.loads((tmp_path / "out" / "manifest.json").read_text("utf-8"))["items"]
    assert [c.get("rights") for c in canvases if c.get("rights")] == ["http://creativecommons.org/licenses/by/4.0/"]
    first = hard.reference("deep/a b ü#1.jpg")
    hard.describe(first.id, rights="ask the museum first")
    hard.exchange.write(tmp_path / "out2")
    canvases = json.loads((tmp_path / "out2" / "manifest.json").read_text("utf-8"))["items"]
    assert not any("rights" in canvas for canvas in canvases)


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated:DeprecationWarning")  # rdflib's own JSON-LD parser
def test_the_linked_data_says_the_same_to_another_reader(samples: tuple[Archive, Path]) -> None:
    archive, out = samples
    graph = rdflib.Graph().parse(out / "references.jsonld", format="json-ld")
    for one in archive.references():
        node = rdflib.URIRef(f"urn:refarchive:{one.id}")
        assert str(graph.value(node, DCTERMS.title)) == one.title
        assert {str(s) for s in graph.objects(node, DCTERMS.subject)} == set(one.subjects)
        assert str(graph.value(node, DCTERMS.license)) == CC0
        created = graph.value(node, DCTERMS.created)
        if one.when is not None:
            assert str(created) == one.when.edtf
            assert str(created.datatype) == "http://id.loc.gov/datatypes/edtf/EDTF"
        else:
            assert created is None
    oa = rdflib.Namespace("http://www.w3.org/ns/oa#")
    notes = {str(note) for note in graph.objects(None, oa.bodyValue)}
    assert notes == {detail.note for detail in archive.details()}
    used = {str(p) for p in graph.predicates() if str(p).startswith(str(DCTERMS))}
    assert len(used) > 10
    for term in TERMS:
        if term.property.startswith("dcterms:"):
            assert DCTERMS[term.property.removeprefix("dcterms:")]  # a KeyError where there is no such term


def test_scene_and_whole_or_not_at_all(samples: tuple[Archive, Path], tmp_path: Path) -> None:
    archive, out = samples
    done = archive.exchange.write(tmp_path / "scene", scene="first-light")
    assert 0 < done.references < 38
    assert json.loads((tmp_path / "scene" / "manifest.json").read_text("utf-8"))["label"] == {
        "en": [archive.scene("first-light").title]
    }
    with pytest.raises(CannotPrint, match="something"):
        archive.exchange.write(out)
    with pytest.raises(CannotPrint, match="inside the archive"):
        archive.exchange.write(archive.folder / "out")
    with pytest.raises(UnknownRecord):
        archive.exchange.write(tmp_path / "no", scene="no-such-scene")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["scene"]


def test_a_damaged_original_stops_it_and_nothing_is_left(hard: Archive, tmp_path: Path) -> None:
    one = hard.reference("letter.md")
    original = hard._kit.files.original(one.sha256, one.suffix)
    original.chmod(0o644)
    original.write_bytes(b"other")
    with pytest.raises(ArchiveDamaged, match=r"letter"):
        hard.exchange.write(tmp_path / "there" / "out")
    assert list((tmp_path / "there").iterdir()) == []


def test_by_command(hard: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from click.testing import CliRunner

    from refarchive.cli import cli

    result = CliRunner().invoke(cli, ["export", str(hard.folder), str(tmp_path / "out"), "--previews", "--json"])
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    assert (document["references"], document["details"], document["originals"]) == (5, 3, False)
    assert {Path(one["file"]).parent.name for one in document["files"]} == {"previews", "originals"}
    assert "No legal advice" in document["caution"]
