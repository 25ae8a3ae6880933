"""References from JSON-LD with Dublin Core terms, as `publish.linked` writes them.

Only this shape is read: terms under `dcterms:` and ours under `own:`; other documents that use the same prefixes are
read as far as they use them. Contexts at an address are never fetched.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from refarchive.errors import BadDate, SourceRefused
from refarchive.records.dates import read_date
from refarchive.records.terms import DCTERMS, TERMS
from refarchive.sources.bundle import MOST_ROWS, Bundle, Marked, beside, read_json, region_of, words
from refarchive.sources.folder import Refusal, shown_name
from refarchive.sources.sheet import SheetRow, usable

_WRITTEN = {"date": "own:dateAsWritten", "depicts": "own:depictsAsWritten"}
MOST_DETAILS = 2_000  # of one reference


def is_linked(data: object) -> bool:
    """Whether a JSON document is linked data that uses Dublin Core terms."""
    context = data.get("@context") if isinstance(data, dict) else None
    return isinstance(context, dict) and context.get("dcterms") == DCTERMS


def read_linked(path: Path, data: Any = None) -> Bundle:
    """The references of a JSON-LD document. Raises SourceRefused where it is none."""
    data = read_json(path) if data is None else data
    name = shown_name(path.name)
    if not is_linked(data):
        raise SourceRefused(f"{name} is no linked data with Dublin Core terms.", "Its context should name dcterms.")
    graph = data.get("@graph", [data])
    nodes = [node for node in graph if isinstance(node, dict)] if isinstance(graph, list) else []
    if not nodes:
        raise SourceRefused(f"{name} describes nothing.", "Give a document with a @graph of references.")
    if len(nodes) > MOST_ROWS:
        raise SourceRefused(f"{name} describes {len(nodes):,} references, more than {MOST_ROWS:,}.", "Split it.")
    rows: list[SheetRow] = []
    marked: list[Marked] = []
    for number, node in enumerate(nodes, 1):
        rows.append(_row(path, number, node))
        details = node.get("own:details")
        for entry in (details if isinstance(details, list) else [])[:MOST_DETAILS]:
            if isinstance(entry, dict) and (region := _region(entry)) is not None:
                marked.append(Marked(number - 1, region, words(entry.get("oa:bodyValue"))))
    return Bundle(tuple(rows), tuple(marked))


def _row(path: Path, number: int, node: Mapping[str, Any]) -> SheetRow:
    fields: dict[str, str] = {}
    for term in TERMS:
        if value := _value(node.get(term.term)):
            fields[term.column] = value
    for column, written in _WRITTEN.items():
        text = words(node.get(written))
        if text and column in fields and _same(text, fields[column]):
            fields[column] = text
    own = str(node.get("@id") or "").rpartition(":")[2]
    if own.startswith("ref-"):
        fields["reference"] = own
    row = SheetRow(path.resolve(), number, "", fields)
    file = words(node.get("own:file"))
    row = usable(row, has_file=bool(file))
    if not file:
        if fields.get("title") or fields.get("identifier"):
            return row
        return _refused(row, f"Reference {number} names no file, no identifier and no title.", "Give it one of them.")
    found = beside(path, file)
    if found is None:
        return _refused(
            row, f"Reference {number}: there is no file {shown_name(file, 100)} beside it.", "Check the name."
        )
    return replace(row, file=found.relative_to(path.resolve().parent).as_posix(), path=found)


def _refused(row: SheetRow, problem: str, step: str) -> SheetRow:
    source = f"{shown_name(row.sheet.name)}, reference {row.line}"
    return replace(row, refused=True, problems=(*row.problems, Refusal(source, problem, step)))


def _value(value: object) -> str:
    if isinstance(value, list):
        return "; ".join(filter(None, map(_value, value[:500])))
    if isinstance(value, dict):
        return words(value.get("@value", value.get("@id", "")))
    return words(value)


def _same(text: str, edtf: str) -> bool:
    """Whether a date as written is the same days as the EDTF that goes with it."""
    try:
        one, other = read_date(text), read_date(edtf)
    except BadDate:
        return False
    return (one.earliest, one.latest) == (other.earliest, other.latest)


def _region(entry: Mapping[str, Any]) -> tuple[float, float, float, float] | None:
    target = entry.get("oa:hasTarget")
    selector = target.get("oa:hasSelector") if isinstance(target, dict) else None
    value = selector.get("own:value") if isinstance(selector, dict) else None
    return region_of(str(value), 0.0, 0.0) if value else None
