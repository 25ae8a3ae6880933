"""What the fields of a reference are called outside the archive, and a reference as plain texts under those names.

One table serves all three ways out and in: the column of a sheet, the English label of a pair of IIIF metadata, and the
property of JSON-LD. What has an equivalent among the DCMI Metadata Terms goes by it, the rest by a name of our own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from refarchive.records.fragments import fragment, region_in
from refarchive.records.model import Detail, Reference, Region

OWN = "urn:refarchive:"
DCTERMS = "http://purl.org/dc/terms/"
EDTF_TYPE = "http://id.loc.gov/datatypes/edtf/EDTF"
WRITTEN_BY = ("Written by", "refarchive")  # the pair by which a manifest says that an archive wrote it
BASE = "https://refarchive.invalid/export/"  # where nothing can ever be (RFC 2606): files beneath it lie beside it


class Term(NamedTuple):
    """One field on its way out: column of a sheet, English label, JSON-LD property."""

    field: str
    label: str
    property: str


TERMS: tuple[Term, ...] = (
    Term("title", "Title", "dcterms:title"),
    Term("creator", "Maker", "dcterms:creator"),
    Term("date", "Date of making", "dcterms:created"),
    Term("date_text", "Date of making in words", "ref:createdInWords"),
    Term("depicts", "Date of what it shows", "dcterms:temporal"),
    Term("depicts_text", "Date of what it shows, in words", "ref:temporalInWords"),
    Term("place", "Place", "dcterms:spatial"),
    Term("source", "Source", "dcterms:source"),
    Term("rights", "Rights as recorded", "dcterms:rights"),
    Term("description", "Description", "dcterms:description"),
    Term("medium", "Medium", "dcterms:medium"),
    Term("dimensions", "Dimensions", "dcterms:extent"),
    Term("collection", "Kept by", "ref:collection"),
    Term("accession", "Number there", "ref:accession"),
    Term("credit", "Credit line", "ref:credit"),
    Term("basis", "Basis of publication", "ref:basis"),
    Term("basis_evidence", "Where that can be read", "ref:basisEvidence"),
    Term("witness", "Kind of witness", "ref:witness"),
    Term("subjects", "Subjects", "dcterms:subject"),
    Term("identifier", "Identifier", "dcterms:identifier"),
    Term("digitised", "Day of scanning", "ref:digitised"),
    Term("origins", "Values that nobody typed", "ref:origin"),
    Term("kind", "Kind", "ref:kind"),
    Term("source_name", "File name as gathered", "ref:sourceName"),
    Term("reference", "Reference", "ref:reference"),
)
FIELDS = tuple(term.field for term in TERMS)
LISTS = ("subjects", "origins")  # several values, which one text parts by semicolons
PLAIN = (
    "title", "creator", "place", "source", "rights", "description", "medium", "dimensions", "collection", "accession",
    "credit", "basis", "basis_evidence", "identifier", "digitised", "kind", "source_name",
)  # fmt: skip
KEPT = ("kind", "source_name", "reference")  # never taken away by being empty


def texts(reference: Reference) -> dict[str, str]:
    """Every field of `FIELDS` as text, "" where it is empty.

    A date is its EDTF, with the words shown where they are other ones; the days it covers follow from the EDTF. Left
    out are the moment of adding, and what follows from the file itself: digest, kind of file, size.
    """
    told: dict[str, str] = {name: getattr(reference, name) for name in PLAIN}
    for name, when in (("date", reference.when), ("depicts", reference.depicts)):
        told[name] = when.edtf if when else ""
        told[f"{name}_text"] = when.text if when and when.text != when.edtf else ""
    told["witness"] = reference.witness.value
    told["subjects"] = joined(reference.subjects)
    told["origins"] = joined(origins_told(reference))
    told["reference"] = reference.id
    return {name: told[name] for name in FIELDS}


def origins_told(reference: Reference) -> list[str]:
    """The origins of a reference's values, each as a text: "creator = EXIF Artist"."""
    return [f"{field} = {origin}" for field, origin in reference.origins]


def joined(parts: Iterable[str]) -> str:
    r"""Several texts as one, parted by semicolons; a semicolon within one has a backslash before it.

    >>> joined(["cart", "sand; wet"])
    'cart; sand\\; wet'
    """
    return "; ".join(re.sub(r"\\(?=\\*(?:;|$))", r"\\\\", part).replace(";", "\\;") for part in parts)


def parted(text: str) -> tuple[str, ...]:
    r"""The texts that `joined` made one of: without white space around them, without empty ones, each once.

    >>> parted('cart; sand\\; wet;cart')
    ('cart', 'sand; wet')
    """
    parts = re.findall(r"(?:\\[\\;]|[^;])+", text)
    plain = (re.sub(r"\\(;)|(\\)\\(?=\\*(?:;|$))", r"\1\2", part.strip()).strip() for part in parts)
    return tuple(dict.fromkeys(filter(None, plain)))


def origins_in(text: str) -> tuple[tuple[str, str], ...]:
    """Pairs of field and origin out of the text that `texts` makes of them."""
    pairs = (part.partition("=") for part in parted(text))
    told = ((field.strip(), origin.strip()) for field, _, origin in pairs)
    return tuple((field, origin) for field, origin in told if field and origin)


_MARKS = {"n": "\n", "r": "\r", "\\": "\\"}


def details_text(details: Iterable[Detail]) -> str:
    """Details as text, one a line: the region, a space, the note with its line breaks as backslash and n."""
    lines = []
    for detail in details:
        note = detail.note.replace("\\", "\\\\").replace("\n", "\\n").replace("\r", "\\r")
        lines.append(f"{fragment(detail.region)} {note}".rstrip(" "))
    return "\n".join(lines)


def details_in(text: str) -> tuple[tuple[tuple[Region, str], ...], tuple[str, ...]]:
    """Regions and notes out of such a text, and the lines that are none."""
    found: list[tuple[Region, str]] = []
    wrong: list[str] = []
    for line in filter(str.strip, re.split(r"\r\n|\r|\n", text)):
        where, _, note = line.strip().partition(" ")
        region = region_in(where)
        if region is None or not where.lower().startswith("xywh="):
            wrong.append(line)
        else:
            found.append((region, re.sub(r"\\([\\nr])", lambda m: _MARKS[m[1]], note)))
    return tuple(found), tuple(wrong)
