"""References leave as CSV, JSON-LD and IIIF manifest and come back equal; outside readers agree on what was written.

iiif-prezi3 embodies the published JSON schema of IIIF Presentation 3; rdflib reads JSON-LD 1.1 and Dublin Core.
"""

from __future__ import annotations

import functools
import http.server
import json
import threading
import warnings
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from drawn import draw
from PIL import Image

import refarchive
from refarchive.archive import Archive
from refarchive.cli import cli
from refarchive.errors import CannotPrint, SourceRefused
from refarchive.jobs.leaving import LINKED, MANIFEST, SHEET
from refarchive.records.model import Reference
from refarchive.sources import fetching
from refarchive.sources.bundle import region_of
from refarchive.sources.linked import read_linked
from refarchive.sources.manifest import read_manifest

SHEET_TEXT = """file,title,creator,date,place,rights,credit,medium,subjects,witness,identifier,kind
a.jpg,=Cart; “at the ford”,J. N.,Michaelmas 1869,Merrow,CC BY 4.0,"© Nobody, by leave",print,25F72 molluscs; sand,,MM 1,
,Lantern,,1870~,,,,tin,,surviving object,MM 2,object
,Pole without a number,,,,,,ash,,,,object
letter.txt,A letter,Agnes,1871-02-23,,,,,,contemporary text,,
"""


@pytest.fixture
def full(archive: Archive, folder: Path) -> Archive:
    """Pictures, a text, objects; details; dates of several kinds; an origin; a basis."""
    (folder / "sheet.csv").write_text(SHEET_TEXT, "utf-8")
    made = Image.Exif()
    made[0x013B] = "Scanning Dept."
    picture = Image.open(draw(folder / "told.png", 9)).convert("RGB")
    picture.save(folder / "told.jpg", exif=made)
    (folder / "told.png").unlink()
    archive.gather(folder, sheet=folder / "sheet.csv")
    archive.mark("a.jpg", (0.34, 0.22, 0.3, 0.47), "Knot behind & <b>fold</b>")
    archive.mark("a.jpg", (0.4, 0.115, 0.2, 0.16), "")
    archive.mark("deep/c.tif", (1 / 3, 0.1, 1 / 7, 0.2), "a third")
    archive.describe("b.png", depicts="1783/1790", digitised="2021-05-06", basis="Own picture", basis_evidence="letter")
    archive.describe("e.gif", date="11 February 1731/2", description="Two lines\n\nof words")
    return archive


def again(tmp_path: Path, source: Path, *, sheet: bool = False) -> Archive:
    made = refarchive.create(tmp_path / f"again-{source.name}", "tiny", who="tester")
    report = made.gather(sheet=source) if sheet else made.gather(source)
    assert report.refused == []
    return made


def plain(reference: Reference) -> Reference:
    return replace(reference, added_at="")


def test_all_three_come_back_equal(full: Archive, tmp_path: Path) -> None:
    left = full.exchange.write(tmp_path / "out")
    assert (left.references, left.details, left.in_manifest, left.missing) == (10, 3, 6, ())
    before = {r.id: plain(r) for r in full.references()}
    pictures = {one: r for one, r in before.items() if r.kind == "image"}
    for name, expected in ((SHEET, before), (LINKED, before), (MANIFEST, pictures)):
        with again(tmp_path, tmp_path / "out" / name, sheet=name == SHEET) as other:
            assert {r.id: plain(r) for r in other.references()} == expected
            if name != SHEET:
                assert [(d.id, d.note) for d in other.details()] == [(d.id, d.note) for d in full.details()]
                for one, same in zip(other.details(), full.details(), strict=True):
                    assert one.region == pytest.approx(same.region, abs=1e-12)
            twice = other.gather(tmp_path / "out" / name) if name != SHEET else other.gather(sheet=left.folder / SHEET)
            assert (twice.added, twice.revised) == (0, 0)


def test_into_the_archive_they_came_from_nothing_is_added(full: Archive, tmp_path: Path) -> None:
    left = full.exchange.write(tmp_path / "out")
    before = full.references()
    for report in (full.gather(left.folder / MANIFEST), full.gather(left.folder / LINKED)):
        assert (report.added, report.revised, report.refused) == (0, 0, [])
    assert full.references() == before


def test_the_manifest_is_valid_and_says_what_we_know(full: Archive, tmp_path: Path) -> None:
    from iiif_prezi3 import Manifest

    left = full.exchange.write(tmp_path / "out", base="https://example.org/merrow")
    data = json.loads((left.folder / MANIFEST).read_text("utf-8"))
    read = Manifest(**data)
    assert read.id == "https://example.org/merrow/manifest.json"
    canvas = next(c for c in data["items"] if c["label"]["none"] == ["=Cart; “at the ford”"])
    assert canvas["rights"] == "http://creativecommons.org/licenses/by/4.0/"
    assert canvas["requiredStatement"]["value"]["none"] == ["© Nobody, by leave"]
    (page,) = canvas["annotations"]
    assert any(note["target"].endswith("#xywh=percent:34,22,30,47") for note in page["items"])
    picture = canvas["items"][0]["items"][0]["body"]
    with Image.open(left.folder / picture["id"].removeprefix("https://example.org/merrow/")) as image:
        assert (canvas["width"], canvas["height"]) == image.size


def test_linked_data_says_dublin_core_to_another_reader(full: Archive, tmp_path: Path) -> None:
    from rdflib import DCTERMS, Graph, URIRef

    left = full.exchange.write(tmp_path / "out")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # that library's reader uses an old class of its own
        graph = Graph().parse(left.folder / LINKED, format="json-ld")
    cart = URIRef(f"urn:refarchive:{full.reference('a.jpg').id}")
    assert str(graph.value(cart, DCTERMS.title)) == "=Cart; “at the ford”"
    created = graph.value(cart, DCTERMS.created)
    assert (str(created), str(created.datatype)) == ("1869-09-29", "http://id.loc.gov/datatypes/edtf/EDTF")
    assert {str(o) for o in graph.objects(cart, DCTERMS.subject)} == {"25F72 molluscs", "sand"}
    assert len(set(graph.subjects(DCTERMS.title))) == 10


def test_only_what_a_scene_uses(full: Archive, tmp_path: Path) -> None:
    full.plan('[scene]\ntitle = "S"\nevent = "e"\nstory = "s"\nkey_reference = "a.jpg"\n')
    done = CliRunner().invoke(cli, ["export", str(full.folder), str(tmp_path / "out"), "--scene", "s", "--json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["references"] == 1


def test_a_folder_with_something_in_it_and_the_archive_itself_are_refused(full: Archive, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("keep")
    for bad in (tmp_path / "out", full.folder / "out"):
        with pytest.raises(CannotPrint):
            full.exchange.write(bad)
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["mine.txt"]


def test_a_lost_original_is_named_and_the_rest_leaves(full: Archive, tmp_path: Path) -> None:
    lost = full.reference("b.png")
    full._kit.files.original(lost.sha256, lost.suffix).unlink()
    left = full.exchange.write(tmp_path / "out")
    assert left.missing == (lost.id,)
    assert left.in_manifest == 5


# -- manifests of others ----------------------------------------------------------------------------------------------


def manifest(*canvases: dict, **more: object) -> dict:
    return {
        "@context": "http://iiif.io/api/presentation/3/context.json",
        "id": "https://museum.example/m/manifest.json",
        "type": "Manifest",
        "label": {"fr": ["Album"]},
        "items": list(canvases),
        **more,
    }


def canvas(image: str, number: int = 1, **more: object) -> dict:
    own = f"https://museum.example/m/canvas/{number}"
    body = {"id": image, "type": "Image", "format": "image/jpeg"}
    painting = {"id": f"{own}/a", "type": "Annotation", "motivation": "painting", "body": body, "target": own}
    page = {"id": f"{own}/p", "type": "AnnotationPage", "items": [painting]}
    return {"id": own, "type": "Canvas", "width": 400, "height": 200, "items": [page], **more}


def written(folder: Path, data: object) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / "m.json"
    path.write_text(json.dumps(data), "utf-8")
    return path


def test_a_museums_manifest_in_its_own_words(archive: Archive, tmp_path: Path) -> None:
    draw(tmp_path / "m" / "images" / "cart 1.jpg", 3)
    told = canvas(
        "images/cart%201.jpg",
        label={"en": ["Cart"], "de": ["Karren"]},
        metadata=[
            {"label": {"en": ["Artist"]}, "value": {"none": ["J. Nobody"]}},
            {"label": {"en": ["Date made"]}, "value": {"none": ["about 1870"]}},
            {"label": "Odd", "value": 7},
        ],
        navDate="1999-01-01T00:00:00Z",
        annotations=[
            {
                "id": "x", "type": "AnnotationPage",
                "items": [
                    {
                        "type": "Annotation", "motivation": "tagging", "id": "y",
                        "body": [{"type": "TextualBody", "value": "wheel"}],
                        "target": {
                            "type": "SpecificResource", "source": "https://museum.example/m/canvas/1",
                            "selector": {"type": "FragmentSelector", "value": "xywh=100,50,200,100"},
                        },
                    },
                    {"type": "Annotation", "motivation": "commenting", "id": "z", "body": {}, "target": "nowhere"},
                ],
            }
        ],
    )  # fmt: skip
    data = manifest(
        told,
        rights="http://rightsstatements.org/vocab/NKC/1.0/",
        provider=[{"id": "https://museum.example", "type": "Agent", "label": {"en": ["Merrow Museum"]}}],
        requiredStatement={"label": {"en": ["Attribution"]}, "value": {"en": ["By kind leave"]}},
    )
    report = archive.gather(written(tmp_path / "m", data))
    assert (report.added, report.refused) == (1, [])
    (one,) = archive.references()
    assert (one.title, one.creator, one.collection, one.credit) == (
        "Cart",
        "J. Nobody",
        "Merrow Museum",
        "By kind leave",
    )
    assert one.rights == "http://rightsstatements.org/vocab/NKC/1.0/"
    assert one.source == "https://museum.example/m/manifest.json"
    assert one.when is not None
    assert one.when.edtf == "1870~"
    (detail,) = archive.details()
    assert (detail.region, detail.note) == ((0.25, 0.25, 0.5, 0.5), "wheel")


def test_what_is_wrong_is_said_canvas_by_canvas(archive: Archive, tmp_path: Path) -> None:
    draw(tmp_path / "m" / "a.jpg", 1)
    (tmp_path / "secret.jpg").write_bytes((tmp_path / "m" / "a.jpg").read_bytes())
    data = manifest(
        canvas("a.jpg"),
        canvas("a.jpg"),  # the same id
        canvas("missing.jpg", 3),
        canvas("../secret.jpg", 4),
        canvas("file:///etc/passwd", 5),
        canvas("https://museum.example/far.jpg", 6),
        {"id": "https://museum.example/7", "type": "Canvas", "items": []},
        canvas("a.jpg", 8, metadata=[{"label": {"en": ["Date"]}, "value": {"en": ["1783-02-29"]}}]),
    )
    report = archive.gather(written(tmp_path / "m", data))
    told = {r["source"].rpartition(" ")[2]: r["problem"] + " " + r["next_step"] for r in report.refused}
    assert "id of canvas 1" in told["2"]
    assert "no file missing.jpg" in told["3"]
    assert "no file" in told["4"]
    assert "no file" in told["5"]
    assert "--fetch" in told["6"]
    assert "no picture" in told["7"]
    assert "1783" in told["8"]
    assert report.added == 1


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"@context": "http://iiif.io/api/presentation/2/context.json", "@type": "sc:Manifest"}, "version 2"),
        ({**manifest(), "type": "Collection"}, "collection"),
        ({**manifest(), "type": "Range"}, "does not say"),
        (manifest(), "no canvas"),
        ({"@context": "https://schema.org"}, "neither"),
        ([1, 2], "neither"),
    ],
)
def test_documents_of_another_kind_are_refused(archive: Archive, tmp_path: Path, data: object, words: str) -> None:
    report = archive.gather(written(tmp_path / "m", data))
    assert words in report.refused[0]["problem"]
    assert len(archive) == 0


def test_what_is_no_json_is_refused(archive: Archive, tmp_path: Path) -> None:
    path = tmp_path / "m.json"
    for text in (b"", b"{", b"\xff\xfe", b"[" * 5000 + b"]" * 5000, b'{"a": ' * 300 + b"1" + b"}" * 300):
        path.write_bytes(text)
        report = archive.gather(path)
        assert len(report.refused) == 1
        assert report.refused[0]["next_step"]


def test_things_that_point_at_themselves_and_thousands_of_canvases(tmp_path: Path) -> None:
    draw(tmp_path / "m" / "a.jpg", 1)
    many = [canvas("a.jpg", n, label={"none": [f"Page {n}"]}) for n in range(5000)]
    many[0]["partOf"] = [{"id": "https://museum.example/m/manifest.json", "type": "Manifest"}]
    bundle = read_manifest(written(tmp_path / "m", manifest(*many)))
    assert len(bundle.rows) == 5000
    assert bundle.rows[4999].fields["title"] == "Page 4999"


def test_linked_data_of_others_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    context = {"dcterms": "http://purl.org/dc/terms/"}
    graph = [
        {"@id": "x:1", "dcterms:title": {"@value": "Pole"}, "dcterms:creator": ["A", "B"], "own:file": "../x"},
        {"@id": "x:2", "dcterms:title": "Rope", "dcterms:created": "1783-02-29"},
        {"@id": "x:3"},
        7,
    ]
    bundle = read_linked(written(tmp_path / "m", {"@context": context, "@graph": graph}))
    assert [row.refused for row in bundle.rows] == [True, False, True]
    assert bundle.rows[1].fields == {"title": "Rope"}
    assert len(bundle.problems) == 3
    with pytest.raises(SourceRefused):
        read_linked(written(tmp_path / "m", {"@context": "http://example.org/context", "@graph": graph}))


@pytest.mark.parametrize(
    ("fragment", "region"),
    [
        ("xywh=percent:25,25,50,50", (0.25, 0.25, 0.5, 0.5)),  # examples of Media Fragments 1.0, section 4.2.2
        ("xywh=160,120,320,240", (0.25, 0.25, 0.5, 0.5)),
        ("xywh=pixel:160,120,320,240", (0.25, 0.25, 0.5, 0.5)),
        ("xywh=600,0,100,100", (0.9375, 0.0, 0.0625, 100 / 480)),
        ("xywh=-10,0,100,100", (0.0, 0.0, 90 / 640, 100 / 480)),
        ("xywh=700,0,10,10", None),
        ("xywh=0,0,0,10", None),
        ("xywh=nan,0,1,1", None),
        ("xywh=inf,0,1,1", None),
        ("xywh=mm:1,1,1,1", None),
        ("xywh=1,2,3", None),
        ("t=10,20", None),
        ("", None),
    ],
)
def test_media_fragments(fragment: str, region: tuple[float, ...] | None) -> None:
    found = region_of(fragment, 640, 480)
    assert found == (None if region is None else pytest.approx(region))


# -- fetching ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def served(tmp_path: Path) -> Iterator[str]:
    """A server on this machine with a picture, a redirect into the machine, and nothing else."""
    draw(tmp_path / "served" / "far.jpg", 4)

    class Handler(http.server.SimpleHTTPRequestHandler):
        def do_GET(self) -> None:
            if self.path == "/turn.jpg":
                self.send_response(302)
                self.send_header("Location", "file:///etc/passwd")
                self.end_headers()
            else:
                super().do_GET()

        def log_message(self, *_: object) -> None:
            pass

    handler = functools.partial(Handler, directory=str(tmp_path / "served"))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def test_nothing_is_fetched_unless_asked_and_then_kept_with_its_address(
    archive: Archive, tmp_path: Path, served: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path / "m", manifest(canvas(f"{served}/far.jpg", label={"none": ["Far"]})))
    asked = archive.gather(path)
    assert (asked.added, len(asked.refused)) == (0, 1)
    inside = archive.gather(path, fetch=True)
    assert "inside this machine" in inside.refused[0]["problem"]
    monkeypatch.setattr(fetching, "_public", lambda number: True)
    fetched = archive.gather(path, fetch=True)
    assert (fetched.added, fetched.refused) == (1, [])
    (one,) = archive.references()
    assert (one.title, one.source) == ("Far", "https://museum.example/m/manifest.json")
    again = archive.gather(path, fetch=True)
    assert (again.added, again.revised, again.unchanged) == (0, 0, 1)


def test_what_cannot_be_fetched_is_said_and_leaves_nothing(
    tmp_path: Path, served: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fetching, "_public", lambda number: True)
    monkeypatch.setattr(fetching, "LARGEST", 100)
    folder = tmp_path / "into"
    folder.mkdir()
    for address, words in (
        (f"{served}/none.jpg", "HTTP 404"),
        (f"{served}/far.jpg", "larger than"),
        (f"{served}/turn.jpg", "could not be fetched"),
        ("ftp://example.org/x.jpg", "no address"),
        ("http://does-not-exist.invalid/x.jpg", "leads nowhere"),
    ):
        with pytest.raises(SourceRefused, match=words):
            fetching.fetch(address, folder)
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("inside", ["127.0.0.1", "10.1.2.3", "192.168.0.1", "169.254.169.254", "::1", "fe80::1%eth0"])
def test_addresses_inside_the_network_are_no_public_ones(inside: str) -> None:
    assert not fetching._public(inside)
    assert fetching._public("192.0.32.8")
