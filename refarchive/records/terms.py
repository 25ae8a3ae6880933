"""Names that the fields of a reference have elsewhere: a label in English, and the Dublin Core term of the same sense.

Dublin Core: DCMI Metadata Terms (ISO 15836-2). What no term covers has a name of ours under `OWN`.
"""

from __future__ import annotations

from typing import NamedTuple

DCTERMS = "http://purl.org/dc/terms/"
OWN = "urn:refarchive:terms:"
EDTF_TYPE = "http://id.loc.gov/datatypes/edtf/EDTF"


class Term(NamedTuple):
    """One field as a column of a sheet, as a label for people, and as a term of linked data."""

    column: str
    label: str
    term: str  # "dcterms:…" or "own:…"


TERMS: tuple[Term, ...] = (
    Term("title", "Title", "dcterms:title"),
    Term("creator", "Maker", "dcterms:creator"),
    Term("date", "Date", "dcterms:created"),
    Term("depicts", "Date of what it shows", "dcterms:temporal"),
    Term("place", "Place", "dcterms:spatial"),
    Term("source", "Source", "dcterms:source"),
    Term("rights", "Rights", "dcterms:rights"),
    Term("description", "Description", "dcterms:description"),
    Term("medium", "Medium", "dcterms:medium"),
    Term("dimensions", "Dimensions", "dcterms:extent"),
    Term("collection", "Collection", "own:collection"),
    Term("accession", "Accession number", "own:accession"),
    Term("credit", "Credit line", "own:creditLine"),
    Term("basis", "Basis for publishing", "own:basis"),
    Term("basis_evidence", "Evidence of that basis", "own:basisEvidence"),
    Term("witness", "Kind of witness", "own:witness"),
    Term("subjects", "Subjects", "dcterms:subject"),
    Term("identifier", "Identifier", "dcterms:identifier"),
    Term("digitised", "Day of scanning", "own:digitised"),
    Term("origins", "Values read from the file", "own:origins"),
    Term("source_name", "File name as gathered", "own:sourceName"),
    Term("kind", "Kind", "own:kind"),
)
BY_LABEL = {term.label: term.column for term in TERMS}
