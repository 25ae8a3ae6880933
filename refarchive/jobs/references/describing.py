"""What a person says of a reference, read into the fields that are stored, and what was understood of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from refarchive.errors import BadQuery
from refarchive.records.dates import iso_day, julian_day, understood
from refarchive.records.model import Reference, Witness

FIXED = frozenset("id kind source_name sha256 suffix media_type width height added_at origins".split())
DATES = {"date": "when", "depicts": "depicts"}  # as a person calls it, as it is stored


def read_changes(reference: Reference, said: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """Fields to change and, by the name they were said under, sentences on what was understood.

    Dates are text ("" takes one away); `witness` is a word; `subjects` a sequence of words. A value that a person gives
    takes the place of one read from a file, and its origin goes with that.

    Raises BadDate, and BadQuery for a field there is none of or a witness there is none of.
    """
    changes: dict[str, Any] = {}
    sentences: dict[str, str] = {}
    for name, value in said.items():
        if name in DATES:
            changes[DATES[name]], sentences[name] = _date(value)
        elif name in FIXED or name not in Reference.__dataclass_fields__:
            known = ", ".join(sorted({*DATES, *(set(Reference.__dataclass_fields__) - FIXED - {"when"})}))
            raise BadQuery(f"A reference has no field {name!r} that can be changed.", f"There are: {known}.")
        elif name == "witness":
            changes[name] = witness(value)
        elif name == "subjects":
            changes[name] = tuple(value)
        elif name == "digitised":
            changes[name] = _day(str(value))
        else:
            changes[name] = value
    told = {{"when": "date"}.get(name, name) for name in changes}
    kept = tuple((field, origin) for field, origin in reference.origins if field not in told)
    if kept != reference.origins:
        changes["origins"] = kept
    return changes, sentences


def _date(value: object) -> tuple[Any, str]:
    text = str(value or "").strip()
    if not text:
        return None, "No date."
    read = understood(text)
    return read.when, read.sentence


def _day(text: str) -> str:
    """An ISO day, as itself. Raises BadQuery for anything else."""
    parts = text.strip().split("-")
    if not text.strip():
        return ""
    try:
        year, month, day = (int(part) for part in parts)
        return iso_day(julian_day(year, month, day))
    except ValueError:
        raise BadQuery(
            f"{text!r} is not the day a picture was scanned on.", "Write it as year-month-day: 2024-05-17."
        ) from None


def witness(word: object) -> Witness:
    """The kind of witness by its words. Raises BadQuery, naming those there are."""
    try:
        return Witness(str(word).strip().lower())
    except ValueError:
        known = ", ".join(w.value for w in Witness)
        raise BadQuery(f"There is no kind of witness {str(word)!r}.", f"Use one of: {known}.") from None


def summary(reference: Reference) -> dict[str, Any]:
    """A reference as JSON, with the cautions that its medium carries and what it may be used for."""
    from refarchive.records.dates import shown
    from refarchive.records.uses import standing
    from refarchive.scenes.mediums import cautions

    return {
        "reference": reference.id,
        "kind": reference.kind,
        "title": reference.title,
        "source_name": reference.source_name,
        "creator": reference.creator,
        "date": reference.when.edtf if reference.when else None,
        "date_text": reference.when.text if reference.when else None,
        "date_shown": shown(reference.when) if reference.when else "undated",
        "place": reference.place,
        "witness": reference.witness.value,
        "rights": reference.rights,
        "rights_statement": standing(reference).as_dict(),
        "cautions": list(cautions(reference)),
        "missing": list(reference.missing),
    }
