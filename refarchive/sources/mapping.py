"""Columns of other people's sheets: what they may mean, and a person's word on it, checked.

Names as museums, libraries and picture agencies head their columns (common practice, no source). A suggestion is only
that: nothing is read into a column until a person says so. What was said holds for sheets with the same columns: the
next museum may mean something else by the same word.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping

from refarchive.errors import SheetRefused
from refarchive.sources.folder import shown_name

MOST_MAPPED = 200

# What others call our columns.
MAY_MEAN = {
    "file": "filename file_name image image_file picture path scan asset",
    "title": "name object_name caption headline work",
    "creator": "artist maker author photographer engraver painter attributed_to by",
    "date": "date_made date_created made dated year production_date creation_date",
    "place": "location place_made place_of_origin origin town city where",
    "source": "found_in provenance url link web_page book where_from",
    "rights": "copyright licence license rights_statement usage",
    "description": "desc summary text abstract content physical_description notes note remarks comments",
    "medium": "material materials technique media support",
    "dimensions": "size measurements extent",
    "collection": "museum repository institution holder held_by owner",
    "accession": "object_number accession_number accession_no inventory_number inv_no shelfmark call_number",
    "credit": "credit_line courtesy",
    "witness": "kind_of_witness evidence",
    "subjects": "keywords tags topics",
    "identifier": "id ref reference_number",
    "kind": "type object_type",
}
_MEANING = {word: column for column, words in MAY_MEAN.items() for word in words.split()}


def word_of(header: str) -> str:
    """A column's name in the form in which names are compared: lower case, words joined by underscores.

    >>> word_of("Date made ")
    'date_made'
    """
    plain = "".join(c if c.isalnum() else " " for c in header.casefold())
    return "_".join(plain.split())


def suggest_mapping(headers: Iterable[str], known: Iterable[str] = ()) -> dict[str, str]:
    """What unknown columns may mean: from their names as written to our columns, of those that are still free.

    >>> suggest_mapping(["Artist", "Date made", "Shelf"], ["title"])
    {'Artist': 'creator', 'Date made': 'date'}
    """
    taken = set(known)
    found: dict[str, str] = {}
    for header in headers:
        column = _MEANING.get(word_of(header))
        if column is not None and column not in taken:
            found[header] = column
            taken.add(column)
    return found


def key_of(headers: Iterable[str]) -> str:
    """What tells a sheet's columns from those of others, whatever their order.

    >>> key_of(["Artist", "Title"]) == key_of(["title", "ARTIST "]) != key_of(["Artist"])
    True
    """
    words = sorted({word for header in headers if (word := word_of(header))})
    return hashlib.sha256("\0".join(words).encode("utf-8", "replace")).hexdigest()[:32]


def checked(mapping: Mapping[str, str], columns: Iterable[str], headers: Iterable[str], name: str) -> dict[str, str]:
    """A person's mapping by comparable names; "" leaves a column out. `headers` are those of the sheet `name`.

    Raises
    ------
    SheetRefused
        where it names a column that the sheet or we have none of, or says two things of one.
    """
    ours = list(columns)
    theirs = {word: header.strip() for header in headers if (word := word_of(header))}
    if len(mapping) > MOST_MAPPED:
        raise SheetRefused(f"{len(mapping)} columns are too many.", f"Name at most {MOST_MAPPED}.")
    found: dict[str, str] = {}
    for header, column in mapping.items():
        word, target = word_of(str(header)), word_of(str(column))
        shown = shown_name(str(header).strip(), 60)
        if word not in theirs:
            named = ", ".join(f"“{shown_name(own, 60)}”" for own in list(theirs.values())[:40])
            raise SheetRefused(f"{name} has no column “{shown}”.", f"Its columns: {named}.")
        if (target or str(column).strip()) and target not in ours:
            raise SheetRefused(
                f"There is no column “{shown_name(str(column), 60)}” to read “{shown}” into.",
                f"There are: {', '.join(ours)}; or nothing, to leave it out.",
            )
        if found.setdefault(word, target) != target:
            both = " and ".join(sorted(word or "nothing" for word in (found[word], target)))
            raise SheetRefused(f"The column “{shown}” cannot be both {both}.", "Say one of them.")
    return found
