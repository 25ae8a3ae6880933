"""A series as a IIIF manifest, by the schema as iiif-prezi3 has it, and by rules of the specification's text."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import iiif_prezi3
import pytest
from finished import ON, PARTICULARS

from refarchive.errors import PublishRefused
from refarchive.publish.series_manifest import File, Finished, series_manifest
from refarchive.records.dates import read_date
from refarchive.records.wall import Particulars

PICTURE = File("pictures/01 première lumière.jpg", "image/jpeg", 6000, 4000)
SMALL = File("small/01.jpg", "image/jpeg", 600, 400)
RIGHTS = "http://creativecommons.org/licenses/by-nc/4.0/"


def pictures() -> list[Finished]:
    first = replace(PARTICULARS, rights="CC BY-NC 4.0")
    second = replace(first, frame="f 2/ü", title="<b>Lamp</b>", alt_text="", note="", created="")
    return [
        Finished(first, PICTURE, SMALL, read_date("1871-02-03")),
        Finished(second, replace(PICTURE, path="pictures/02.tif", media_type="image/tiff", width=999)),
    ]


def made(some: list[Finished] | None = None, **changes: Any) -> dict[str, Any]:
    told = {"label": "The sands", "on": ON, "program": "refarchive 0.1", **changes}
    return series_manifest(pictures() if some is None else some, **told)


def everything(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
    for child in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        yield from everything(child)


def test_it_is_one_by_the_published_schema() -> None:
    document = made(
        base="https://nobody.invalid/series", summary="Nine pictures.", language="en",
        see_also=[("captions.csv", "text/csv", "Captions as a table")],
    )  # fmt: skip
    manifest = iiif_prezi3.Manifest(**json.loads(json.dumps(document)))
    assert str(manifest.id) == "https://nobody.invalid/series/manifest.json"
    assert [(canvas.width, canvas.height) for canvas in manifest.items] == [(6000, 4000), (999, 4000)]
    bodies = [canvas.items[0].items[0].body for canvas in manifest.items]
    assert [(str(body.id), body.format, body.width) for body in bodies] == [
        ("https://nobody.invalid/series/pictures/01%20premi%C3%A8re%20lumi%C3%A8re.jpg", "image/jpeg", 6000),
        ("https://nobody.invalid/series/pictures/02.tif", "image/tiff", 999),
    ]
    assert str(manifest.rights) == RIGHTS
    with pytest.raises(ValueError, match="validation error"):
        iiif_prezi3.Manifest(**{**document, "behavior": ["Individuals!"], "id": "manifest.json"})  # it can say no


def test_it_follows_the_rules_that_the_specification_states_in_words() -> None:
    """IIIF Presentation API 3.0, sections 3.1 to 3.4 and 5: ids, types, behaviors, language maps, what must be."""
    document = made(base="http://nobody.invalid/a/", summary="s", see_also=[("a.csv", "text/csv", "t")])
    assert document["@context"] == "http://iiif.io/api/presentation/3/context.json"
    assert sum("@context" in node for node in everything(document)) == 1
    typed = [node for node in everything(document) if "type" in node]
    assert all(node["id"].startswith("http://nobody.invalid/a/") for node in typed)
    own = [node["id"] for node in typed if node["type"] in ("Manifest", "Canvas", "AnnotationPage", "Annotation")]
    assert len(own) == len(set(own)) == 7
    assert not any("#" in node["id"] for node in typed if node["type"] == "Canvas")  # a canvas id has no fragment
    assert document["behavior"] == ["individuals"]  # one of those valid on a manifest, only one of its group
    for node in typed:
        for name in ("label", "summary"):
            if name in node:
                assert all(isinstance(texts, list) and all(texts) for texts in node[name].values())
        for pair in [*node.get("metadata", ()), *filter(None, [node.get("requiredStatement")])]:
            assert set(pair) == {"label", "value"}
            assert all(text for texts in pair["value"].values() for text in texts)
    for canvas in document["items"]:
        (page,) = canvas["items"]
        (painting,) = page["items"]
        assert (painting["motivation"], painting["target"]) == ("painting", canvas["id"])
        assert isinstance(canvas["width"], int)
    assert [one["type"] for one in document["seeAlso"]] == ["Dataset"]
    assert document["thumbnail"][0]["type"] == "Image"


def test_what_stands_in_it_is_the_public_version() -> None:
    text = json.dumps(made(), ensure_ascii=False)
    for secret in ("54.12", "2.98", "名無し", "Μηδείς", "letter 3"):
        assert secret not in text
    (first, second) = made()["items"]
    assert first["summary"] == {"none": [PARTICULARS.caption]}
    rows = {pair["label"]["en"][0]: pair["value"]["none"] for pair in first["metadata"]}
    assert rows["Alternative text"] == ["Nine figures on wet sand."]
    assert rows["Photographed on"] == ["2026-02-14"]
    assert rows["Contributors"] == ["C. Carter (costume)", "لا أحد (smoke)"]
    assert rows["Place shown"] == ["Merrow Sands, Nowhere, GB"]
    assert "Alternative text" not in {pair["label"]["en"][0] for pair in second["metadata"]}
    assert second["label"] == {"none": ["<span>&lt;b&gt;Lamp&lt;/b&gt;</span>"]}  # a title, and no markup


@pytest.mark.parametrize(
    ("rights", "uri"),
    [
        ("in copyright", "http://rightsstatements.org/vocab/InC/1.0/"),
        ("https://creativecommons.org/licenses/by/4.0/deed.de", "http://creativecommons.org/licenses/by/4.0/"),
        ("ask Mrs Nobody", None),
        ("", None),
    ],
)
def test_rights_are_only_addresses_that_the_api_allows(rights: str, uri: str | None) -> None:
    document = made([replace(pictures()[0], particulars=replace(PARTICULARS, rights=rights))])
    assert document.get("rights") == document["items"][0].get("rights") == uri


def test_only_what_all_pictures_share_is_said_of_the_series() -> None:
    first, second = pictures()
    other = replace(second, particulars=replace(second.particulars, rights="CC0", credit_line="Someone"))
    document = made([first, other])
    assert "rights" not in document
    assert "requiredStatement" not in document
    assert made()["requiredStatement"] == made()["items"][0]["requiredStatement"]


def test_a_bare_picture_is_enough() -> None:
    document = made([Finished(Particulars("f"), PICTURE)], label="")
    iiif_prezi3.Manifest(**document)
    assert document["label"] == document["items"][0]["label"] == {"none": ["Without a title"]}
    assert "metadata" not in document["items"][0]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"some": []}, "pictures"),
        ({"some": [pictures()[0], pictures()[0]]}, "pictures"),
        ({"some": [Finished(Particulars(""), PICTURE)]}, "pictures"),
        ({"some": [Finished(Particulars("f"), replace(PICTURE, width=0))]}, "width"),
        ({"some": [Finished(Particulars("f"), replace(PICTURE, height=10**9))]}, "width"),
        ({"some": [Finished(Particulars("f"), replace(PICTURE, media_type="text/html"))]}, "media_type"),
        *(
            ({"some": [Finished(Particulars("f"), replace(PICTURE, path=path))]}, "path")
            for path in ("", "/etc/passwd", "../a.jpg", "a/../b", "a\\b", "https://x/y.jpg", "a//b", "\ud800.jpg")
        ),
        ({"base": "ftp://x/"}, "base"),
        ({"base": "https://x/?a=1"}, "base"),
        ({"base": "https://x/#a"}, "base"),
        ({"base": "javascript:alert(1)"}, "base"),
        ({"language": "en_GB"}, "language"),
        ({"some": [Finished(replace(PARTICULARS, created="1871-01-01"), PICTURE, None, read_date("1871"))]}, "created"),
    ],
)
def test_what_cannot_be_is_refused_by_field(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(PublishRefused) as refused:
        made(**changes)
    assert refused.value.field == field
    assert refused.value.next_step
