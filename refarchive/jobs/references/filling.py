"""Debts worked off in one place: a CSV of what is missing, written out, filled in by a person, and taken in again."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from refarchive.errors import RefArchiveError, SheetRefused, SourceRefused
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.claims import debts_of
from refarchive.jobs.planning.dossier import write_whole
from refarchive.jobs.references import index
from refarchive.jobs.references.describing import read_changes
from refarchive.records.model import Reference
from refarchive.sources.folder import shown_name
from refarchive.sources.passages import decode, read_bounded
from refarchive.sources.sheet import LARGEST_SHEET, LONGEST_CELL, csv_cell

FIELDS = ("creator", "date", "place", "source", "rights", "description", "witness")
TOLD = ("reference", "title", "source_name", "missing", "holds_up")  # for the reader; only the first is read again
MOST_ROWS = 200_000


def write_debts(kit: Kit, path: Path) -> int:
    """Write every reference that owes something, the most pressing first, with what is known of it so far."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([*TOLD, *FIELDS])
    owed = debts_of(kit)
    known = {r.id: r for r in kit.store.references([debt["reference"] for debt in owed])}
    for debt in owed:
        stands = "; ".join(f"{one['scene']}: {one['need']}" for one in debt["holds_up"])
        told = [debt["reference"], debt["title"], debt["source_name"], ", ".join(debt["missing"]), stands]
        writer.writerow([csv_cell(cell) for cell in (*told, *(_as_text(known[debt["reference"]], f) for f in FIELDS))])
    write_whole(path, out.getvalue().encode("utf-8-sig"))  # the mark lets spreadsheets see that it is UTF-8
    return len(owed)


def _as_text(reference: Reference, field: str) -> str:
    if field == "date":
        return reference.when.text if reference.when else ""
    if field == "witness":
        return "" if "witness" in reference.missing else reference.witness.value
    return str(getattr(reference, field))


def fill(kit: Kit, path: Path) -> dict[str, Any]:
    """Take in a filled CSV. Empty cells change nothing, equal ones neither; a row with a mistake is left as it was.

    Returns {"changed": n, "unchanged": n, "refused": [{"source", "problem", "next_step"}]}. Running it again changes
    nothing.
    """
    changed, unchanged, refused = 0, 0, []
    for line, cells in _rows(path):
        try:
            reference = kit.store.resolve(cells["reference"])
            said = {
                field: cells[field]
                for field in FIELDS
                if cells.get(field) and cells[field] not in (now := _as_text(reference, field), csv_cell(now))
            }
            changes, _ = read_changes(reference, said)
            if changes:
                kit.store.change_reference(reference.id, **changes)
        except RefArchiveError as error:
            source = f"{shown_name(path.name)}, line {line}"
            refused.append({"source": source, "problem": error.problem, "next_step": error.next_step})
            continue
        changed += bool(changes)
        unchanged += not changes
    index.bring_up_to_date(kit)
    return {"changed": changed, "unchanged": unchanged, "refused": refused}


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """Line numbers and cells of a filled CSV; all of it is read before anything is changed."""
    name = shown_name(path.name)
    try:
        text, _ = decode(read_bounded(path, LARGEST_SHEET), name)
    except SourceRefused as error:
        raise SheetRefused(error.problem, error.next_step) from None
    first = text.lstrip("\ufeff\r\n").partition("\n")[0]
    separator = next((s for s in ",;\t" if s in first), ",")
    csv.field_size_limit(LONGEST_CELL)
    reader = csv.DictReader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=separator, strict=True)
    rows: list[tuple[int, dict[str, str]]] = []
    try:
        if "reference" not in (reader.fieldnames or ()):
            raise SheetRefused(f"{name} has no column “reference”.", "Write it with: refarchive debts ARCHIVE --sheet")
        for cells in reader:
            kept = {key: value.strip() for key, value in cells.items() if isinstance(key, str) and value}
            if kept.get("reference"):
                rows.append((reader.line_num, kept))
            if len(rows) > MOST_ROWS:
                raise SheetRefused(f"{name} has more than {MOST_ROWS:,} rows.", "Split it.")
    except csv.Error as error:
        raise SheetRefused(f"{name} cannot be read as CSV: {error}.", "Save it as CSV again.") from None
    return rows
