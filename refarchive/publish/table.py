"""References as a sheet in CSV that this archive, or another, reads back (see `sources.sheet`)."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

from refarchive.records.model import Detail, Reference
from refarchive.records.terms import FIELDS, details_text, texts
from refarchive.sources.sheet import csv_cell

COLUMNS = ("file", *FIELDS, "details")


def as_csv(references: Sequence[Reference], details: Mapping[str, Sequence[Detail]], files: Mapping[str, str]) -> str:
    """The sheet, a line for each reference. `files` are paths by id, relative to the sheet; an object has none.

    White space around a value, around a subject or around a line of a note's end does not survive in cells.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for reference in references:
        told = texts(reference)
        row = [files.get(reference.id, ""), *told.values(), details_text(details.get(reference.id, ()))]
        writer.writerow([csv_cell(cell) for cell in row])
    return out.getvalue()
