"""References that files in JSON tell of, made ready to be gathered: IIIF manifests and JSON-LD.

Reading stands in `sources`; storing in `gather`. Here is what lies between: which file is which, what of it may take
the place of what is known already, the details, and pictures on the web, fetched only where a person asked for it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable
from dataclasses import replace
from pathlib import Path, PurePosixPath
from urllib.parse import urlsplit

from refarchive.errors import SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.jobs.references import index
from refarchive.records import ids
from refarchive.records.files import PICTURE_SUFFIXES
from refarchive.records.model import Detail, Reference
from refarchive.sources.described import SUFFIXES, Described, DescribedRow, read_json
from refarchive.sources.fetching import fetch
from refarchive.sources.folder import Found, shown_name
from refarchive.sources.linked import is_linked, read_linked
from refarchive.sources.manifest import is_manifest, read_manifest
from refarchive.sources.sheet import SheetRow, apply


def is_described(path: Path) -> bool:
    """Whether a file, by its name, may tell of references."""
    return path.suffix.lower() in SUFFIXES


def read_described(path: Path) -> Described:
    """What a JSON file tells of references. Raises SourceRefused where it cannot be read, or tells of none."""
    document = read_json(path)
    if is_manifest(document):
        return read_manifest(path, document)
    if is_linked(document):
        return read_linked(path, document)
    raise SourceRefused(
        f"{shown_name(path.name)} is JSON, but neither a IIIF manifest nor JSON-LD that tells of references.",
        "Leave it out.",
    )


def said_of(reference: Reference, row: SheetRow, *, fresh: bool = False) -> Reference:
    """The reference with what a row says. What a foreign manifest says never takes the place of what a person typed."""
    if not isinstance(row, DescribedRow) or not row.told:
        return apply(reference, row)
    typed = set() if fresh else _typed(reference)
    fields = {name: value for name, value in row.fields.items() if name not in typed}
    after = apply(reference, replace(row, fields=fields))
    told = {field: origin for field, origin in row.told if field in fields}
    kept = tuple((field, origin) for field, origin in after.origins if field not in told)
    return replace(after, origins=(*kept, *told.items()))


def _typed(reference: Reference) -> set[str]:
    """Fields that hold something which came from no file."""
    told = {field for field, _ in reference.origins}
    held = {"date" if name == "when" else name for name, value in vars(reference).items() if value}
    if reference.title == index.title_from_name(reference.source_name):
        held.discard("title")
    return held - told


def add_details(kit: Kit, reference: Reference, rows: Iterable[SheetRow]) -> int:
    """Mark the details that rows tell of, where they are not marked with that note yet. Returns how many."""
    if reference.kind == "text":
        return 0
    known = {one.id: one for one in kit.store.details(reference.id)}
    told = [
        Detail(ids.detail_id(reference.id, region), reference.id, region, note)
        for row in rows
        for region, note in row.details
    ]
    new = list({d.id: d for d in told if d.id not in known or (d.note and d.note != known[d.id].note)}.values())
    if new:
        kit.store.add_details(new)
    return len(new)


# --- pictures on the web --------------------------------------------------------------------------------------------


def remote_found(row: DescribedRow, folder: Path) -> Found:
    """A place for a picture on the web: where it will be fetched to, and a name by which it is known the next time.

    Another address under the same name counts as a change: the size stands for the address.
    """
    suffix = PurePosixPath(urlsplit(row.url).path).suffix.lower()
    digest = hashlib.sha256(row.url.encode("utf-8", "replace")).hexdigest()
    path = folder / f"canvas-{row.line}-{digest[:8]}{suffix if suffix in PICTURE_SUFFIXES else '.jpg'}"
    return Found(path, f"{row.sheet.name}#canvas={row.line}", int(digest[:12], 16), 0)


def not_fetched(row: DescribedRow) -> tuple[str, str]:
    """Why a picture on the web was not gathered, and what to do."""
    host = shown_name(urlsplit(row.url).netloc, 80)
    return (
        f"{row.where} has its picture on the web ({host}), and nothing is fetched unasked.",
        "Gather with --fetch, or save the picture beside the manifest.",
    )


def fetch_picture(row: DescribedRow, into: Path, asked: bool | Collection[str]) -> None:
    """Fetch the picture of a row. `asked` may name hosts that are on a private network. Raises SourceRefused."""
    fetch(row.url, into, hosts=() if isinstance(asked, bool) else asked)
