"""Documents that name many references at once: IIIF manifests and linked data among the sources of a gathering."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from refarchive.errors import SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.records import ids
from refarchive.records.files import hash_of
from refarchive.records.model import Detail
from refarchive.sources.bundle import Bundle, read_json
from refarchive.sources.fetching import fetch
from refarchive.sources.folder import shown_name
from refarchive.sources.linked import is_linked, read_linked
from refarchive.sources.manifest import is_manifest, read_manifest
from refarchive.sources.sheet import SheetRow

SUFFIXES = (".json", ".jsonld")

Refuse = Callable[[str, str, str], None]


def read(
    sources: Sequence[Path], fetched: Path | None, refuse: Refuse
) -> tuple[list[SheetRow], list[Path], list[Bundle]]:
    """The rows of all documents among the sources, the other sources, and the documents as read.

    `fetched` is a folder to fetch pictures into, None where nothing may be fetched. What is wrong goes to `refuse`.
    """
    rows: list[SheetRow] = []
    others: list[Path] = []
    bundles: list[Bundle] = []
    for source in sources:
        if source.suffix.lower() not in SUFFIXES or not source.is_file():
            others.append(source)
            continue
        try:
            bundle = _read(source)
        except SourceRefused as error:
            refuse(shown_name(source.name), error.problem, error.next_step)
            continue
        if fetched is not None:
            bundle = _with_fetched(bundle, source, fetched, refuse)
        for problem in bundle.problems:
            refuse(problem.source, problem.problem, problem.next_step)
        rows += [row for row in bundle.rows if not row.refused]
        bundles.append(bundle)
    return rows, others, bundles


def _read(source: Path) -> Bundle:
    data = read_json(source)
    if is_manifest(data):
        return read_manifest(source, data)
    if is_linked(data):
        return read_linked(source, data)
    raise SourceRefused(
        f"{shown_name(source.name)} is neither a IIIF manifest nor linked data with Dublin Core terms.", "Leave it out."
    )


def _with_fetched(bundle: Bundle, source: Path, folder: Path, refuse: Refuse) -> Bundle:
    """The bundle with the pictures it wants fetched; what cannot be had is refused by its own reason."""
    rows = list(bundle.rows)
    for wanted in bundle.wanted:
        row = rows[wanted.row]
        plain = replace(row, problems=row.problems[:-1])  # without the advice to fetch
        try:
            path = fetch(wanted.address, folder)
        except SourceRefused as error:
            refuse(f"{shown_name(source.name)}, canvas {row.line}", error.problem, error.next_step)
            rows[wanted.row] = plain
            continue
        fields = {"source": wanted.address, **row.fields}
        name = f"{source.stem}/{row.line:04d}"
        rows[wanted.row] = replace(plain, refused=False, file=name, path=path.resolve(), fields=fields)
    return replace(bundle, rows=tuple(rows), wanted=())


def mark(kit: Kit, bundles: Sequence[Bundle]) -> None:
    """Keep the details that documents mark, on those of their references that were taken in."""
    details: list[Detail] = []
    for bundle in bundles:
        for marked in bundle.marked:
            row = bundle.rows[marked.row]
            if row.refused:
                continue
            own = row.fields.get("reference", "")
            found = kit.store.references([own]) if own else []
            if not found and row.path is not None:
                known = kit.store.reference_by_sha256(hash_of(row.path))
                found = [known] if known is not None else []
            if found and found[0].kind != "text":
                one = found[0].id
                details.append(Detail(ids.detail_id(one, marked.region), one, marked.region, marked.note))
    held = {detail.id: detail for detail in kit.store.details()}
    kit.store.add_details([detail for detail in details if held.get(detail.id) != detail])
