"""References as JSON-LD with Dublin Core terms.

One object to a reference, its id as a URN, each field under the term that means the same (DCMI Metadata Terms), dates
as EDTF with their type; details as Web Annotations with a fragment selector (W3C Web Annotation, Media Fragments).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from refarchive.publish.table import cells
from refarchive.records.model import Detail, Reference
from refarchive.records.terms import DCTERMS, EDTF_TYPE, OWN, TERMS

URN = "urn:refarchive:"
CONTEXT: dict[str, Any] = {"dcterms": DCTERMS, "own": OWN, "oa": "http://www.w3.org/ns/oa#", "edtf": EDTF_TYPE}
DATES = {"date": "own:dateAsWritten", "depicts": "own:depictsAsWritten"}


def document(references: Sequence[Reference], details: Sequence[Detail], files: Mapping[str, str]) -> dict[str, Any]:
    """The whole, ready for JSON. `files` are names by id, relative to the document."""
    marked: dict[str, list[Detail]] = {}
    for detail in details:
        marked.setdefault(detail.reference, []).append(detail)
    return {"@context": CONTEXT, "@graph": [_node(r, marked.get(r.id, []), files.get(r.id, "")) for r in references]}


def _node(reference: Reference, details: Sequence[Detail], file: str) -> dict[str, Any]:
    told = cells(reference)
    node: dict[str, Any] = {"@id": f"{URN}{reference.id}"}
    for term in TERMS:
        if term.column not in told:
            continue
        value: Any = told[term.column]
        if term.column in DATES:
            when = reference.when if term.column == "date" else reference.depicts
            assert when is not None
            value = {"@value": when.edtf, "@type": EDTF_TYPE}
            node[DATES[term.column]] = told[term.column]
        elif term.column == "subjects":
            value = list(reference.subjects)
        elif term.column == "rights" and told["rights"].startswith(("http://", "https://")):
            value = {"@id": told["rights"]}
        node[term.term] = value
    if file:
        node["own:file"] = file
    if details:
        node["own:details"] = [_annotation(reference.id, detail) for detail in details]
    return node


def _annotation(reference: str, detail: Detail) -> dict[str, Any]:
    x, y, width, height = (100 * value for value in detail.region)
    return {
        "@type": "oa:Annotation",
        "oa:bodyValue": detail.note,
        "oa:hasTarget": {
            "oa:hasSource": {"@id": f"{URN}{reference}"},
            "oa:hasSelector": {
                "@type": "oa:FragmentSelector",
                "own:value": f"xywh=percent:{x:.13g},{y:.13g},{width:.13g},{height:.13g}",
            },
        },
    }
