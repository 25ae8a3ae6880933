"""References as rows of cells by column, and as a CSV sheet that can be gathered again.

Every field of a reference is carried but the moment it was added; dates as they were written where reading that gives
them back, else as EDTF.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence

from refarchive.errors import BadDate
from refarchive.records.dates import read_date
from refarchive.records.model import Reference, When, Witness
from refarchive.records.terms import TERMS

COLUMNS = ("file", "reference", *(term.column for term in TERMS))


def cells(reference: Reference) -> dict[str, str]:
    """A reference's fields as text by column; empty ones are left out. The file is for the caller to add."""
    values = {
        "reference": reference.id,
        "date": _date(reference.when),
        "depicts": _date(reference.depicts),
        "witness": "" if reference.witness is Witness.UNKNOWN else reference.witness.value,
        "subjects": "; ".join(reference.subjects),
        "origins": "; ".join(f"{field} = {origin}" for field, origin in reference.origins),
    }
    for term in TERMS:
        if term.column not in values:
            values[term.column] = str(getattr(reference, term.column))
    return {column: values[column] for column in COLUMNS if values.get(column)}


def _date(when: When | None) -> str:
    if when is None:
        return ""
    try:
        return when.text if read_date(when.text) == when else when.edtf
    except BadDate:
        return when.edtf


def sheet(references: Sequence[Reference], files: Mapping[str, str], guarded: Callable[[str], str]) -> str:
    """A CSV of the references; `files` are names by id, relative to the sheet, of those that have one.

    `guarded` makes of a cell what no spreadsheet takes for a formula (`sources.sheet.csv_cell`).
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for reference in references:
        own = {"file": files.get(reference.id, ""), **cells(reference)}
        writer.writerow([guarded(own.get(column, "")) for column in COLUMNS])
    return out.getvalue()
