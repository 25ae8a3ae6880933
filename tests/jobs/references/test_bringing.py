"""Manifests gathered into an archive: what they say, their details, and pictures on the web fetched only when asked."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from drawn import draw

from refarchive.archive import Archive


def canvas(number: int, picture: str, **more: Any) -> dict[str, Any]:
    own = f"https://museum.example/c{number}"
    note = {
        "id": f"{own}/n", "type": "Annotation", "motivation": "commenting",
        "body": {"type": "TextualBody", "value": f"note {number}"}, "target": f"{own}#xywh=percent:10,20,30,40",
    }  # fmt: skip
    painting = {"type": "Annotation", "motivation": "painting", "body": {"id": picture, "type": "Image"}, "target": own}
    return {
        "id": own, "type": "Canvas", "label": {"none": [f"leaf {number}"]}, "height": 100, "width": 100,
        "items": [{"type": "AnnotationPage", "items": [painting]}],
        "annotations": [{"type": "AnnotationPage", "items": [note]}], **more,
    }  # fmt: skip


def written(path: Path, *canvases: dict[str, Any]) -> Path:
    metadata = [{"label": {"en": ["Artist"]}, "value": {"en": ["S. Orrin"]}}]
    path.write_text(
        json.dumps(
            {
                "@context": "http://iiif.io/api/presentation/3/context.json",
                "id": "https://museum.example/m.json",
                "type": "Manifest",
                "label": {"en": ["Album"]},
                "metadata": metadata,
                "items": canvases,
            }
        ),
        "utf-8",
    )
    return path


@pytest.fixture
def album(tmp_path: Path) -> Path:
    folder = tmp_path / "album"
    draw(folder / "a.png", 1)
    draw(folder / "b.png", 2)
    return written(folder / "m.json", canvas(1, "a.png"), canvas(2, "b.png"), canvas(3, "gone.png"))


class Quiet(SimpleHTTPRequestHandler):
    asked: list[str] = []  # noqa: RUF012

    def do_GET(self) -> None:
        self.asked.append(self.path)
        super().do_GET()

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def server(tmp_path: Path) -> Iterator[str]:
    draw(tmp_path / "web" / "a.png", 1)
    (tmp_path / "web" / "page.png").write_text("<html>no picture</html>", "utf-8")
    Quiet.asked = []
    held = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(tmp_path / "web")))
    threading.Thread(target=held.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()
    yield f"127.0.0.1:{held.server_port}"
    held.shutdown()
    held.server_close()


def test_a_manifest_is_gathered_and_again_changes_nothing(archive: Archive, album: Path) -> None:
    report = archive.gather(album)
    assert (report.added, report.details) == (2, 2)
    assert [one["problem"] for one in report.refused] == ["Canvas 3: there is no file gone.png beside the manifest."]
    one = archive.reference("a.png")
    assert (one.title, one.creator) == ("Album, leaf 1", "S. Orrin")
    assert dict(one.origins)["creator"] == "IIIF metadata “Artist”"
    assert [(d.region, d.note) for d in archive.details("a.png")] == [((0.1, 0.2, 0.3, 0.4), "note 1")]
    before = len(archive.history())
    again = archive.gather(album.parent)  # the folder that holds it, too
    assert (again.added, again.revised, again.details, again.unchanged) == (0, 0, 0, 2)
    assert len(archive.history()) == before


def test_what_a_person_typed_is_not_taken_back_by_a_manifest(archive: Archive, album: Path, tmp_path: Path) -> None:
    archive.gather(album)
    archive.describe("a.png", creator="Mrs. Orrin", title="The cart")
    report = archive.gather(album)
    assert report.revised == 0
    one = archive.reference("a.png")
    assert (one.creator, one.title) == ("Mrs. Orrin", "The cart")
    sheet = album.parent / "s.csv"
    sheet.write_text("file,creator\nb.png,Miss Orrin\n", "utf-8")
    archive.gather(album, sheet=sheet)
    archive.gather(album)
    assert archive.reference("b.png").creator == "Miss Orrin"


def test_a_picture_gathered_before_takes_what_the_manifest_says(archive: Archive, album: Path) -> None:
    archive.gather(album.parent / "a.png")
    assert archive.reference("a.png").title == "a"
    report = archive.gather(album)
    assert (report.added, report.unchanged, report.revised) == (1, 1, 1)
    assert archive.reference("a.png").title == "Album, leaf 1"


def test_nothing_is_fetched_unasked(archive: Archive, server: str, tmp_path: Path) -> None:
    path = written(tmp_path / "m.json", canvas(1, f"http://{server}/a.png"))
    report = archive.gather(path)
    ((refused),) = report.refused
    assert "nothing is fetched unasked" in refused["problem"]
    assert "--fetch" in refused["next_step"]
    assert "private network" in archive.gather(path, fetch=True).refused[0]["problem"]  # a server of this machine
    assert Quiet.asked == []
    assert len(archive) == 0


def test_fetched_when_asked_and_not_a_second_time(archive: Archive, server: str, tmp_path: Path) -> None:
    path = written(
        tmp_path / "m.json",
        canvas(1, f"http://{server}/a.png"),
        canvas(2, f"http://{server}/page.png"),
        canvas(3, f"http://{server}/none.png"),
    )
    report = archive.gather(path, fetch=[server])
    assert (report.added, report.details) == (1, 1)
    assert len(report.refused) == 2
    assert any("404" in one["problem"] for one in report.refused)
    (one,) = archive.references()
    assert (one.source_name, one.title) == ("m.json#canvas=1", "Album, leaf 1")
    original = archive._kit.files.original(one.sha256, one.suffix)
    assert original.read_bytes() == (tmp_path / "web" / "a.png").read_bytes()
    again = archive.gather(path)
    assert (again.added, again.unchanged, len(again.refused)) == (0, 1, 2)
    draw(tmp_path / "web" / "none.png", 3)
    assert archive.gather(path, fetch=[server]).added == 1  # a failure is not remembered
    assert Quiet.asked.count("/a.png") == 1


def test_other_json_is_refused_and_the_rest_goes_on(archive: Archive, album: Path) -> None:
    (album.parent / "x.json").write_text('{"a": 1}', "utf-8")
    (album.parent / "broken.json").write_text("{", "utf-8")
    report = archive.gather(album.parent)
    assert report.added == 2
    told = " ".join(one["problem"] for one in report.refused)
    assert "neither a IIIF manifest nor JSON-LD" in told
    assert "broken.json is not JSON" in told


def test_linked_data_of_others_is_taken_by_its_dublin_core(archive: Archive, tmp_path: Path) -> None:
    draw(tmp_path / "in" / "a.png", 1)
    document = {
        "@context": {"dct": "http://purl.org/dc/terms/", "name": "dct:title", "loop": "loop"},
        "@graph": [
            {"@id": "x", "name": {"@value": "A cart"}, "dct:created": "1871", "dc:subject": ["sand", "cart"],
             "urn:refarchive:file": {"@id": "a.png"}, "loop": 1},
            {"@id": "y", "http://purl.org/dc/terms/title": "A staff", "dcterms:created": "31 April 1871"},
            {"@id": "z", "foaf:name": "nobody"},
        ],
    }  # fmt: skip
    (tmp_path / "in" / "r.jsonld").write_text(json.dumps(document), "utf-8")
    report = archive.gather(tmp_path / "in" / "r.jsonld")
    assert report.added == 2
    assert ["31 April" in one["problem"] for one in report.refused] == [True]
    picture, staff = archive.references()
    assert (picture.title, picture.subjects, picture.when and picture.when.edtf) == ("A cart", ("sand", "cart"), "1871")
    assert (staff.kind, staff.title) == ("object", "A staff")
