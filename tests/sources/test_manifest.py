"""Manifests as others write them: what is taken, under which field, and one clear sentence for each thing that is not.

Shapes after the IIIF Presentation API 3.0 (iiif.io/api/presentation/3.0) and the W3C Web Annotation Data Model; a good
manifest here is checked with the published schema, as iiif-prezi3 has it.
"""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import iiif_prezi3
import pytest
from drawn import draw
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refarchive.errors import SourceRefused
from refarchive.sources.described import Described, read_json, without_markup
from refarchive.sources.manifest import is_manifest, read_manifest

BASE = "https://museum.example/album"


def canvas(number: int, picture: str = "", **more: Any) -> dict[str, Any]:
    own = f"{BASE}/canvas/{number}"
    body = {
        "id": picture or f"{BASE}/p{number}.png",
        "type": "Image",
        "format": "image/png",
        "height": 120,
        "width": 160,
    }
    painting = {"id": f"{own}/a", "type": "Annotation", "motivation": "painting", "body": body, "target": own}
    return {
        "id": own, "type": "Canvas", "label": {"none": [f"{number}r"]}, "height": 1200, "width": 1600,
        "items": [{"id": f"{own}/p", "type": "AnnotationPage", "items": [painting]}], **more,
    }  # fmt: skip


def pair(label: str, *values: str) -> dict[str, Any]:
    return {"label": {"en": [label]}, "value": {"none": list(values)}}


def manifest(*canvases: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        "@context": "http://iiif.io/api/presentation/3/context.json", "id": f"{BASE}/manifest.json", "type": "Manifest",
        "label": {"de": ["Das Album"], "en": ["The album"]}, "items": list(canvases), **more,
    }  # fmt: skip


GOOD = manifest(
    canvas(1, metadata=[pair("Date", "1871"), pair("Shelf", "in the box")], navDate="1900-05-03T00:00:00Z"),
    canvas(2),
    summary={"en": ["<p>Views of the <b>sands</b></p>"]},
    metadata=[pair("Photographer", "S. Orrin"), pair("Keywords", "sand; wet", "carts"), pair("Date", "um 1870 herum?")],
    requiredStatement=pair("Attribution", "Courtesy of nobody"),
    rights="http://rightsstatements.org/vocab/NoC-NC/1.0/",
    provider=[{"id": "https://museum.example/", "type": "Agent", "label": {"en": ["A museum"]}}],
    homepage=[{"id": "https://museum.example/album.html", "type": "Text", "label": {"en": ["Page"]}}],
)


@pytest.fixture
def beside(tmp_path: Path) -> Path:
    folder = tmp_path / "album"
    for number in (1, 2, 3):
        draw(folder / f"p{number}.png", number)
    draw(tmp_path / "outside.png", 9)
    return folder


def read(folder: Path, document: Any) -> Described:
    path = folder / "manifest.json"
    path.write_text(json.dumps(document), "utf-8")
    found = read_json(path)
    assert is_manifest(found)
    return read_manifest(path, found)


def problems(found: Described) -> list[str]:
    return [problem.problem for row in found.rows for problem in row.problems]


def noted(target: Any, body: Any = None, motivation: Any = "commenting") -> dict[str, Any]:
    words = {"type": "TextualBody", "value": "a note"} if body is None else body
    one = {"id": f"{BASE}/n", "type": "Annotation", "motivation": motivation, "body": words, "target": target}
    return {"annotations": [{"id": f"{BASE}/np", "type": "AnnotationPage", "items": [one]}]}


def test_what_a_museum_says_goes_to_its_field_with_its_origin(beside: Path) -> None:
    iiif_prezi3.Manifest(**GOOD)
    first, second = read(beside, GOOD).rows
    assert first.path == beside / "p1.png"
    assert first.fields == {
        "title": "The album, 1r", "creator": "S. Orrin", "date": "1871", "subjects": "sand\\; wet; carts",
        "credit": "Courtesy of nobody", "rights": "http://rightsstatements.org/vocab/NoC-NC/1.0/",
        "collection": "A museum", "source": f"{BASE}.html", "identifier": f"{BASE}/canvas/1",
        "description": "Views of the sands\nShelf: in the box\nDate: um 1870 herum?",
    }  # fmt: skip
    origins = dict(first.told)
    assert origins["creator"] == "IIIF metadata “Photographer”"
    assert origins["credit"] == "IIIF requiredStatement"
    assert set(origins) == set(first.fields)
    assert "date" not in second.fields  # what cannot be read is kept in words, and nothing is invented
    assert "um 1870 herum?" in second.fields["description"]


@pytest.mark.parametrize(
    ("given_date", "edtf"), [("1856-01-01T00:00:00Z", "1856~"), ("1871-02-21T00:00:00Z", "1871-02-21~")]
)
def test_nav_date_is_a_last_resort_and_says_so(beside: Path, given_date: str, edtf: str) -> None:
    found = read(
        beside, manifest(canvas(1, navDate=given_date), canvas(2, metadata=[pair("Date", "1871")], navDate=given_date))
    )
    assert [row.fields["date"] for row in found.rows] == [edtf, "1871"]
    assert dict(found.rows[0].told)["date"] == "IIIF navDate"
    assert len(found.notices) == 1
    assert "navDate" in found.notices[0]
    assert "canvases" not in found.notices[0]  # one of the two had a date of its own


@pytest.mark.parametrize(
    "target",
    [
        f"{BASE}/canvas/1#xywh=160,240,320,480",
        f"{BASE}/canvas/1#xywh=pixel:160,240,320,480",
        f"{BASE}/canvas/1#xywh=percent:10,20,20,40",
        f"{BASE}/canvas/1#xywh=pct:10.0,20,20,40",
        {"type": "SpecificResource", "source": f"{BASE}/canvas/1",
         "selector": {"type": "FragmentSelector", "value": "xywh=160,240,320,480"}},
        {"source": {"id": f"{BASE}/canvas/1", "type": "Canvas"},
         "selector": [{"type": "SvgSelector", "value": "<svg/>"},
                      {"type": "FragmentSelector", "value": "xywh=percent:10,20,20,40"}]},
        [{"id": f"{BASE}/canvas/1#xywh=160,240,320,480", "type": "Canvas"}],
    ],
)  # fmt: skip
def test_regions_in_pixels_and_per_cent_are_details(beside: Path, target: Any) -> None:
    (row,) = read(beside, manifest(canvas(1, **noted(target)))).rows
    assert row.details == (((0.1, 0.2, 0.2, 0.4), "a note"),)


def test_regions_are_cut_at_the_edge_and_bodies_of_all_kinds_are_notes(beside: Path) -> None:
    over = noted(
        f"{BASE}/canvas/1#xywh=percent:90,-5,20,10", [{"type": "TextualBody", "value": "<p>a</p>"}, "b"], ["tagging"]
    )
    (row,) = read(beside, manifest(canvas(1, **over))).rows
    assert row.details == (((0.9, 0.0, 0.1, 0.05), "a\nb"),)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (noted(f"{BASE}/canvas/7#xywh=0,0,9,9"), "something else than its canvas"),
        (noted(f"{BASE}/canvas/1#xywh=0,0,0,9"), "no rectangle"),
        (noted(f"{BASE}/canvas/1#xywh=a,b"), "no rectangle"),
        (noted({"source": f"{BASE}/canvas/1", "selector": {"type": "SvgSelector", "value": "<svg/>"}}), "no rectangle"),
        (noted(f"{BASE}/canvas/1", motivation="supplementing"), "Text of the canvas"),
        ({"annotations": [{"id": "https://elsewhere.example/a", "type": "AnnotationPage"}]}, "lies elsewhere"),
    ],
)
def test_annotations_that_mark_nothing_are_told(beside: Path, more: dict[str, Any], words: str) -> None:
    found = read(beside, manifest(canvas(1, **more)))
    assert found.rows[0].details == ()
    assert any(words in notice for notice in found.notices)


def test_a_note_on_the_whole_is_kept_in_words(beside: Path) -> None:
    (row,) = read(beside, manifest(canvas(1, **noted(f"{BASE}/canvas/1")))).rows
    assert row.fields["description"] == "a note"
    (row,) = read(beside, manifest(canvas(1, **noted(f"{BASE}/canvas/1", motivation="tagging")))).rows
    assert row.fields["subjects"] == "a note"


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("../outside.png", "leads out"), ("file:///etc/passwd", "leads out"), ("/etc/passwd", "leads out"),
        ("%2e%2e/outside.png", "leads out"), (f"{BASE}/../outside.png", "leads out"), ("gone.png", "no file"),
        ("urn:x:y", "no file"), ("data:image/png;base64,AAAA", "no file"), ("p\x001.png", "no file|leads out"),
    ],
)  # fmt: skip
def test_pictures_outside_or_missing_are_refused_and_the_others_stand(beside: Path, address: str, words: str) -> None:
    import re

    found = read(beside, manifest(canvas(1, address), canvas(2)))
    assert [row.refused for row in found.rows] == [True, False]
    (problem,) = problems(found)
    assert re.search(words, problem)
    assert problem.startswith("Canvas 1: ")


def test_inside_by_any_name_and_elsewhere_by_its_address(beside: Path) -> None:
    inside = (beside / "p2.png").as_uri()
    found = read(beside, manifest(canvas(1, "p1.png"), canvas(2, inside), canvas(3, "https://other.example/p3.png")))
    assert [row.path for row in found.rows] == [beside / "p1.png", beside / "p2.png", None]
    assert [row.url for row in found.rows] == ["", "", "https://other.example/p3.png"]
    bare = canvas(1)
    bare["items"][0]["items"][0]["body"] = {
        "type": "Image", "service": [{"id": "https://other.example/iiif/1", "type": "ImageService3"}]
    }  # fmt: skip
    assert read(beside, manifest(bare)).rows[0].url == "https://other.example/iiif/1/full/max/0/default.jpg"


def test_a_choice_gives_its_first_and_a_picture_shown_twice_stands_once(beside: Path) -> None:
    choosing = canvas(1)
    body = choosing["items"][0]["items"][0]["body"]
    choosing["items"][0]["items"][0]["body"] = {"type": "Choice", "items": [body, {**body, "id": f"{BASE}/p2.png"}]}
    again = canvas(2, f"{BASE}/p1.png", **noted(f"{BASE}/canvas/2#xywh=percent:1,2,3,4"))
    found = read(beside, manifest(choosing, again))
    assert [row.refused for row in found.rows] == [False, True]
    assert problems(found) == ["Canvas 2 shows the same picture as canvas 1, which stands."]
    assert found.rows[0].details == (((0.01, 0.02, 0.03, 0.04), "a note"),)  # its details are not lost


def test_the_same_id_twice_is_told_and_nothing_is_lost(beside: Path) -> None:
    twin = {**canvas(2), "id": f"{BASE}/canvas/1"}
    found = read(beside, manifest(canvas(1), twin))
    assert [row.refused for row in found.rows] == [False, False]
    assert problems(found) == ["Canvas 2 has the same id as canvas 1."]
    assert [row.fields.get("identifier", "") for row in found.rows] == [f"{BASE}/canvas/1", ""]


def test_a_canvas_without_a_picture_or_that_is_none(beside: Path) -> None:
    found = read(beside, manifest(canvas(1, items=[]), canvas(2), "x", {"type": "Range"}))  # type: ignore[arg-type]
    assert problems(found) == ["Canvas 1 has no picture.", "Canvas 3 is no canvas.", "Canvas 4 is no canvas."]


def test_five_thousand_canvases_are_read(beside: Path) -> None:
    found = read(beside, manifest(*(canvas(n, f"https://other.example/{n}.jpg") for n in range(1, 5001))))
    assert len(found.rows) == 5000
    assert problems(found) == []
    with pytest.raises(SourceRefused, match="more than 20,000"):
        read(beside, manifest(*[{}] * 20_001))


@pytest.mark.parametrize(
    ("document", "words"),
    [
        (
            {"@context": "http://iiif.io/api/presentation/2/context.json", "@type": "sc:Manifest", "sequences": []},
            "version 2",
        ),
        (
            {**manifest(), "type": "Collection", "items": [{"id": "a", "label": {"en": ["Box 1"]}}]},
            "collection of 1 .*Box 1",
        ),
        (manifest(), "without canvases"),
        ({**manifest(), "type": "Canvas"}, "no manifest"),
        ({**manifest(), "type": ["x"]}, "no manifest"),
    ],
)
def test_other_documents_of_iiif_are_refused_by_name(beside: Path, document: Any, words: str) -> None:
    with pytest.raises(SourceRefused, match=words) as told:
        read(beside, document)
    assert told.value.next_step


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "not JSON"), (b"{", "not JSON"), (b"\xff\xfe{", "not UTF-8"), (b'{"a": NaN}', "no number"),
        (b"[" * 100_000 + b"]" * 100_000, "deep"), (b"[" * 200 + b"]" * 200, "deep"), (b"1" * 5000, "not JSON"),
    ],
)  # fmt: skip
def test_what_is_no_json_is_refused(tmp_path: Path, data: bytes, words: str) -> None:
    path = tmp_path / "m.json"
    path.write_bytes(data)
    with pytest.raises(SourceRefused, match=words):
        read_json(path)


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.sampled_from("id type label items body target annotations metadata value selector source".split()),
        inner, max_size=4,
    ),
    max_leaves=12,
)  # fmt: skip


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_whatever_stands_in_a_manifest_is_read_or_refused(beside: Path, data: st.DataObject) -> None:
    document: Any = deepcopy(GOOD)
    here = document
    for _ in range(data.draw(st.integers(1, 6))):  # one thing in it, somewhere, becomes something else
        keys = list(here) if isinstance(here, dict) else list(range(len(here)))
        key = data.draw(st.sampled_from(keys))
        if not isinstance(here[key], (dict, list)) or not here[key]:
            break
        here, parent = here[key], here
    else:
        here = parent
    keys = list(here) if isinstance(here, dict) else list(range(len(here)))
    here[data.draw(st.sampled_from(keys))] = data.draw(_JSON)
    path = beside / "m.json"
    path.write_text(json.dumps(document), "utf-8")
    try:
        found = read_manifest(path, read_json(path))
    except SourceRefused as refused:
        assert refused.next_step
        return
    for row in found.rows:
        assert row.refused or row.path is not None or row.url
        assert all(isinstance(value, str) for value in row.fields.values())


@pytest.mark.parametrize(
    ("markup", "words"),
    [
        ("<p>A cart<br/>at the ford</p>", "A cart\nat the ford"), ("<b>a</b> &amp; <i>b</i>", "a & b"),
        ("1 < 2 > 1", "1 < 2 > 1"), ("<script>x</script><p>y</p>", "y"), ("<a href='x'>y</a>", "y"), ("<>", "<>"),
    ],
)  # fmt: skip
def test_markup_becomes_words(markup: str, words: str) -> None:
    assert without_markup(markup).strip() == words
