"""References as a IIIF Presentation 3 manifest: a canvas for each, details as Web Annotations on it.

The canvas of a picture has the picture's size in pixels. A text stands on a canvas without a picture, with its file to
be read beside it (`rendering`); an object without a file on a canvas with neither. All that is known of a reference
stands in pairs of metadata with English labels.

Addresses in a manifest must be web addresses, and an export has none. Ours begin with one where nothing can ever be;
what lies beneath it lies beside the manifest. Whoever puts the folder on the web writes its address over ours.
"""

from __future__ import annotations

import html
import re
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from refarchive.records.fragments import CONFORMS_TO, fragment
from refarchive.records.model import Detail, Reference
from refarchive.records.rights import canonical_uri
from refarchive.records.terms import BASE, TERMS, WRITTEN_BY, origins_told, texts

CONTEXT = "http://iiif.io/api/presentation/3/context.json"
EMPTY_SIDE = 1000  # of a canvas without a picture, which must have some size
_ALLOWED_RIGHTS = re.compile(
    r"http://(?:creativecommons\.org/(?:licenses|publicdomain)/|rightsstatements\.org/vocab/)\S+"
)
NO_TITLE = "Without a title"


def as_manifest(
    references: Sequence[Reference],
    details: Mapping[str, Sequence[Detail]],
    files: Mapping[str, tuple[str, str, int, int]],
    *,
    label: str,
    program: str,
    base: str = BASE,
) -> dict[str, Any]:
    """The manifest. `files` are by id: path relative to the manifest, media type, width and height (0 for no picture).

    `program` is what wrote it, with its version; `base` is the address of the folder, with a slash at its end.
    """
    canvases = [_canvas(one, details.get(one.id, ()), files.get(one.id), base) for one in references]
    return {
        "@context": CONTEXT,
        "id": f"{base}manifest.json",
        "type": "Manifest",
        "label": _words("en", label or NO_TITLE),
        "metadata": [_pair(WRITTEN_BY[0], [program])],
        "items": canvases,
    }


def _canvas(
    reference: Reference, details: Sequence[Detail], file: tuple[str, str, int, int] | None, base: str
) -> dict[str, Any]:
    own = f"{base}canvas/{reference.id}"
    path, media_type, width, height = file or ("", "", 0, 0)
    canvas: dict[str, Any] = {
        "id": own,
        "type": "Canvas",
        "label": _words("none", reference.title or NO_TITLE),
        "width": width or EMPTY_SIDE,
        "height": height or EMPTY_SIDE,
        "metadata": _metadata(reference),
    }
    if reference.description:
        canvas["summary"] = _words("none", reference.description)
    if reference.credit:
        canvas["requiredStatement"] = _pair("Credit line", [reference.credit])
    uri = canonical_uri(reference.rights)
    if uri and _ALLOWED_RIGHTS.fullmatch(uri):
        canvas["rights"] = uri
    body = {"id": base + quote(path), "format": media_type}
    painted = {**body, "type": "Image", "width": width, "height": height}
    page: dict[str, Any] = {"id": f"{own}/page", "type": "AnnotationPage", "items": []}
    if width:
        page["items"] = [
            {"id": f"{own}/picture", "type": "Annotation", "motivation": "painting", "body": painted, "target": own}
        ]
    elif path:
        canvas["rendering"] = [{**body, "type": "Text", "label": _words("none", reference.title or NO_TITLE)}]
    canvas["items"] = [page]
    if details:
        notes = [_note(own, n, detail, (width, height)) for n, detail in enumerate(details, 1)]
        canvas["annotations"] = [{"id": f"{own}/details", "type": "AnnotationPage", "items": notes}]
    return canvas


def _metadata(reference: Reference) -> list[dict[str, Any]]:
    told: dict[str, list[str]] = {name: [text] for name, text in texts(reference).items() if text}
    told["subjects"], told["origins"] = list(reference.subjects), origins_told(reference)
    return [_pair(term.label, told[term.field]) for term in TERMS if told.get(term.field)]


def _note(canvas: str, number: int, detail: Detail, size: tuple[int, int]) -> dict[str, Any]:
    """A detail as the W3C Web Annotation Data Model has it: in pixels where they are whole, else in per cent."""
    return {
        "id": f"{canvas}/detail/{number}",
        "type": "Annotation",
        "motivation": "commenting",
        "body": {"type": "TextualBody", "value": detail.note, "format": "text/plain"},
        "target": {
            "type": "SpecificResource",
            "source": canvas,
            "selector": {
                "type": "FragmentSelector",
                "conformsTo": CONFORMS_TO,
                "value": fragment(detail.region, *size),
            },
        },
    }


def _pair(label: str, values: Sequence[str]) -> dict[str, Any]:
    return {"label": {"en": [label]}, "value": _words("none", *values)}


def _words(language: str, *values: str) -> dict[str, list[str]]:
    return {language: [_not_markup(value) for value in values]}


def _not_markup(text: str) -> str:
    """A text as it is, unless a reader would take it for HTML (it begins with < and ends with >): then as its HTML."""
    looks = text.lstrip().startswith("<") and text.rstrip().endswith(">")
    return f"<span>{html.escape(text, quote=False)}</span>" if looks else text
