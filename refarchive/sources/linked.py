"""Reading references from JSON-LD: what `publish.linked` writes, and like documents with Dublin Core terms.

This is no whole JSON-LD processor: names are taken as prefixed ("dcterms:title", "dc:title"), as full addresses, or as
the document's own context renames them. A context at an address is never fetched.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from refarchive.errors import SourceRefused
from refarchive.records.fragments import region_in
from refarchive.records.model import Region
from refarchive.records.terms import DCTERMS, LISTS, OWN, TERMS, joined
from refarchive.sources.described import (
    MOST_DETAILS,
    MOST_ROWS,
    Described,
    DescribedRow,
    bounded,
    complete,
    listed,
    local_path,
    objects,
    text_of,
)
from refarchive.sources.folder import shown_name
from refarchive.sources.sheet import COLUMNS, refused

_ELEMENTS = "http://purl.org/dc/elements/1.1/"
_PREFIXES = {
    "dcterms": DCTERMS,
    "dc": _ELEMENTS,
    "ref": OWN,
    "oa": "http://www.w3.org/ns/oa#",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
}


def is_linked(document: Any) -> bool:
    """Whether a JSON document may be JSON-LD that tells of references."""
    if isinstance(document, list):
        return bool(document) and all(isinstance(one, dict) and "@id" in one for one in document[:10])
    return isinstance(document, dict) and ("@graph" in document or ("@context" in document and "@id" in document))


def read_linked(path: Path, document: Any) -> Described:
    """The references of a JSON-LD document; files must lie in its folder.

    Raises
    ------
    SourceRefused
        where it tells of nothing under a name that is known, or of more than 20,000 things.
    """
    path = path.resolve()
    name = shown_name(path.name)
    context = document.get("@context") if isinstance(document, dict) else None
    names = _Names(context)
    graph = document.get("@graph", [document]) if isinstance(document, dict) else document
    nodes = [names.expanded(node) for node in objects(graph)]
    nodes = [node for node in nodes if any(key in _FIELD_OF for key in node)]
    if not nodes:
        raise SourceRefused(
            f"{name} is JSON-LD, but tells of nothing in Dublin Core terms.", "Leave it out, or write a sheet of it."
        )
    if len(nodes) > MOST_ROWS:
        raise SourceRefused(f"{name} tells of more than {MOST_ROWS:,} things.", "Split it.")
    rows: list[DescribedRow] = []
    seen: dict[str, int] = {}
    for number, node in enumerate(nodes, 1):
        row = _row(path, number, node)
        if not row.refused and (first := seen.setdefault(row.identity, number)) != number:
            row = refused(row, f"{row.where} tells of the same as record {first}, which stands.", "Merge the two.")
        rows.append(row)
    return Described(tuple(rows))


def _field_of() -> dict[str, str]:
    """Fields by full name: our own terms, and what a sheet takes for the same."""
    found = {}
    for column in COLUMNS:
        for also in column.also:
            prefix, _, local = also.partition(":")
            found[f"{_PREFIXES.get(prefix, '')}{local}"] = column.name
    return found | _OWN_FIELD_OF


_OWN_FIELD_OF = {
    f"{_PREFIXES[prefix]}{local}": t.field for t in TERMS for prefix, _, local in [t.property.partition(":")]
}
_FIELD_OF = _field_of()


class _Names:
    """Names of a document as full ones, by its own context and the usual prefixes."""

    def __init__(self, context: Any) -> None:
        self.terms: dict[str, str] = dict(_PREFIXES)
        for one in objects(context):
            for name, meaning in list(one.items())[:1000]:
                full = meaning.get("@id") if isinstance(meaning, dict) else meaning
                if isinstance(full, str):
                    self.terms[name] = full

    def full(self, name: str) -> str:
        if name.startswith("@"):
            return name
        for _ in range(3):  # a term may be a prefixed name itself; one that goes in a circle stays what it is
            if name in self.terms:
                name = self.terms[name]
                continue
            prefix, colon, local = name.partition(":")
            if not colon or local.startswith("//") or prefix not in self.terms:
                break
            name = f"{self.terms[prefix]}{local}"
        return name

    def expanded(self, value: Any) -> Any:
        if isinstance(value, dict):
            return {self.full(key): self.expanded(inner) for key, inner in value.items()}
        return [self.expanded(one) for one in value] if isinstance(value, list) else value


def _row(path: Path, number: int, node: Mapping[str, Any]) -> DescribedRow:
    fields: dict[str, str] = {}
    known = _OWN_FIELD_OF if f"{OWN}reference" in node else _FIELD_OF
    for name, value in node.items():
        field = known.get(name)
        texts = [text for one in listed(value) if (text := _text(one)).strip()]
        if field is not None and texts and field not in fields:
            fields[field] = bounded(joined(texts) if field in LISTS else "; ".join(texts))
    file = next((_text(one) for one in listed(node.get(f"{OWN}file"))), "")
    if file:
        file = local_path(file, "", path.parent) or file
    details = tuple(found for one in list(objects(node.get(f"{OWN}detail")))[:MOST_DETAILS] if (found := _detail(one)))
    row = complete(DescribedRow(path, number, "", fields, details=details), file)
    if not file and not any(row.fields.get(name) for name in ("reference", "identifier", "title")):
        return refused(row, f"{row.where} names no file, no identifier and no title.", "Give it one of them.")
    return row


def _text(value: Any) -> str:
    if isinstance(value, dict):
        return text_of(value.get("@value", value.get("@id")))
    return text_of(value)


def _detail(annotation: Mapping[str, Any]) -> tuple[Region, str] | None:
    oa = _PREFIXES["oa"]
    for target in objects(annotation.get(f"{oa}hasTarget")):
        for selector in objects(target.get(f"{oa}hasSelector")):
            values = [_text(one) for one in listed(selector.get(f"{_PREFIXES['rdf']}value"))]
            if (region := next(filter(None, map(region_in, values)), None)) is not None:
                return region, bounded(_text(next(iter(listed(annotation.get(f"{oa}bodyValue"))), "")))
    return None
