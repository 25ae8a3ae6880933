"""References as linked data: JSON-LD with the DCMI Metadata Terms, details as Web Annotations.

What has no equivalent among those terms goes by `urn:refarchive:` names. No context is referred to at an address: the
file is whole by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from refarchive.records.fragments import CONFORMS_TO, fragment
from refarchive.records.model import Detail, Reference
from refarchive.records.rights import canonical_uri
from refarchive.records.terms import DCTERMS, EDTF_TYPE, OWN, TERMS, origins_told, texts

CONTEXT = {
    "dcterms": DCTERMS,
    "dcmitype": "http://purl.org/dc/dcmitype/",
    "ref": OWN,
    "oa": "http://www.w3.org/ns/oa#",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "edtf": EDTF_TYPE.rpartition("/")[0] + "/",
}
TYPES = {"image": "dcmitype:StillImage", "text": "dcmitype:Text", "object": "dcmitype:PhysicalObject"}


def as_jsonld(
    references: Sequence[Reference], details: Mapping[str, Sequence[Detail]], files: Mapping[str, str]
) -> dict[str, Any]:
    """The document, a node for each reference. `files` are paths by id, relative to the document."""
    nodes = [_node(one, details.get(one.id, ()), files.get(one.id, "")) for one in references]
    return {"@context": CONTEXT, "@graph": nodes}


def _node(reference: Reference, details: Sequence[Detail], file: str) -> dict[str, Any]:
    told: dict[str, Any] = {**texts(reference)}
    told["subjects"], told["origins"] = list(reference.subjects), origins_told(reference)
    for name in ("date", "depicts"):
        told[name] = {"@value": told[name], "@type": "edtf:EDTF"} if told[name] else ""
    if told["digitised"]:
        told["digitised"] = {"@value": told["digitised"], "@type": "xsd:date"}
    node: dict[str, Any] = {"@id": f"{OWN}{reference.id}", "@type": TYPES[reference.kind]}
    node |= {term.property: told[term.field] for term in TERMS if told[term.field]}
    uri = canonical_uri(reference.rights)
    if uri and "creativecommons.org" in uri:
        node["dcterms:license"] = {"@id": uri}
    elif uri:
        node["ref:rightsStatement"] = {"@id": uri}
    if file:
        node["ref:file"] = {"@id": quote(file)}
        node["dcterms:format"] = reference.media_type
    if details:
        node["ref:detail"] = [_detail(reference, one) for one in details]
    return node


def _detail(reference: Reference, detail: Detail) -> dict[str, Any]:
    """A Web Annotation (W3C Web Annotation Vocabulary) with a fragment selector, in per cent."""
    selector = {
        "@type": "oa:FragmentSelector",
        "dcterms:conformsTo": {"@id": CONFORMS_TO},
        "rdf:value": fragment(detail.region),
    }
    return {
        "@id": f"{OWN}{detail.id}",
        "@type": "oa:Annotation",
        "oa:motivatedBy": {"@id": "oa:describing"},
        "oa:bodyValue": detail.note,
        "oa:hasTarget": {"oa:hasSource": {"@id": f"{OWN}{reference.id}"}, "oa:hasSelector": selector},
    }
