"""Picture references as a IIIF Presentation 3 manifest, details as Web Annotations on its canvases.

A canvas is a picture at its own size in pixels. Every field goes along as a pair of label and value; rights only where
they are a URI that the standard allows (RightsStatements.org, Creative Commons). Addresses begin with `base`: put the
folder there and they are true; read from the folder itself, the files beside the manifest are taken. Texts and objects
without a picture cannot stand in a manifest.

Sources: IIIF Presentation API 3.0; W3C Web Annotation Data Model; W3C Media Fragments (xywh).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from refarchive.publish.table import cells
from refarchive.records.model import Detail, Reference
from refarchive.records.rights import canonical_uri
from refarchive.records.terms import TERMS

CONTEXT = "http://iiif.io/api/presentation/3/context.json"
NOWHERE = "https://refarchive.invalid/"  # a name that can never be an address (RFC 2606)


def document(
    title: str,
    references: Sequence[Reference],
    details: Sequence[Detail],
    files: Mapping[str, str],
    base: str = NOWHERE,
) -> dict[str, Any]:
    """The manifest, ready for JSON. `files` are names by id, relative to the manifest; `base` ends in a slash."""
    marked: dict[str, list[Detail]] = {}
    for detail in details:
        marked.setdefault(detail.reference, []).append(detail)
    shown = [r for r in references if r.kind == "image" and files.get(r.id) and r.width and r.height]
    return {
        "@context": CONTEXT,
        "id": f"{base}manifest.json",
        "type": "Manifest",
        "label": _words(title),
        "items": [_canvas(r, marked.get(r.id, []), base, files[r.id]) for r in shown],
    }


def _words(*values: str) -> dict[str, list[str]]:
    return {"none": list(values)}


def _canvas(reference: Reference, details: Sequence[Detail], base: str, file: str) -> dict[str, Any]:
    told = cells(reference)
    own = f"{base}canvas/{reference.id}"
    size = {"width": reference.width, "height": reference.height}
    body = {"id": base + quote(file), "type": "Image", "format": reference.media_type or "image/jpeg", **size}
    canvas: dict[str, Any] = {
        "id": own,
        "type": "Canvas",
        "label": _words(reference.title or reference.source_name),
        **size,
        "metadata": [
            {"label": {"en": [term.label]}, "value": _words(*_values(reference, term.column, told[term.column]))}
            for term in TERMS
            if term.column in told
        ],
        "items": [
            {
                "id": f"{own}/page",
                "type": "AnnotationPage",
                "items": [
                    {
                        "id": f"{own}/picture",
                        "type": "Annotation",
                        "motivation": "painting",
                        "body": body,
                        "target": own,
                    }
                ],
            }
        ],
    }
    if "description" in told:
        canvas["summary"] = _words(told["description"])
    if "credit" in told:
        canvas["requiredStatement"] = {"label": {"en": ["Credit line"]}, "value": _words(told["credit"])}
    if statement := canonical_uri(reference.rights):
        canvas["rights"] = statement
    if details:
        canvas["annotations"] = [
            {
                "id": f"{own}/details",
                "type": "AnnotationPage",
                "items": [_annotation(own, reference, number, detail) for number, detail in enumerate(details, 1)],
            }
        ]
    return canvas


def _values(reference: Reference, column: str, told: str) -> Sequence[str]:
    return reference.subjects if column == "subjects" else (told,)


def _annotation(canvas: str, reference: Reference, number: int, detail: Detail) -> dict[str, Any]:
    x, y, width, height = (100 * value for value in detail.region)
    return {
        "id": f"{canvas}/details/{number}",
        "type": "Annotation",
        "motivation": "commenting",
        "body": {"type": "TextualBody", "value": detail.note, "format": "text/plain"},
        "target": f"{canvas}#xywh=percent:{x:.13g},{y:.13g},{width:.13g},{height:.13g}",
    }
