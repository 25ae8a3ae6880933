"""Words and folded values in SQLite: its full-text tables (FTS5, BM25), and functions of ours that it calls."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence

import sqlalchemy as sa

from refarchive.errors import BadQuery
from refarchive.records import model, schema
from refarchive.records.sql import holds
from refarchive.records.sqlite import folded, plain

# Rows of equal rank stand in the order of gathering, which is that of their numbers. An id lies in another table; to
# fetch it for each row that matches would cost more than all the rest: it is fetched for the best only.
_SEARCH = """
    SELECT words.id, best.badness FROM (
        SELECT rowid AS number, bm25({table}) AS badness FROM {table}
        WHERE {table} MATCH :match {narrowed} ORDER BY badness, number LIMIT :limit
    ) AS best JOIN {table} AS words ON words.rowid = best.number ORDER BY best.badness, best.number"""
_AMONG = {
    "references": "AND rowid IN (SELECT number FROM reference WHERE id IN (SELECT value FROM json_each(:allowed)))",
    "passages": """AND id IN (
        SELECT id FROM passage WHERE reference IN (SELECT value FROM json_each(:allowed)))""",
}
_TABLES = {"references": "reference_words", "passages": "passage_words"}


def search(
    connection: sa.Connection, match: str, table: str, allowed: Collection[str] | None, limit: int
) -> list[tuple[str, float]]:
    """Best matches of an FTS5 query, as `selecting.search` says."""
    query = _SEARCH.format(table=_TABLES[table], narrowed="" if allowed is None else _AMONG[table])
    values = {"match": match, "limit": limit} | ({} if allowed is None else {"allowed": json.dumps(list(allowed))})
    try:
        return [(row[0], float(row[1])) for row in connection.execute(sa.text(query), values)]
    except sa.exc.OperationalError as error:
        if (getattr(error.orig, "sqlite_errorcode", 0) & 0xFF) != 1:  # SQLITE_ERROR: the query, not the disk
            raise
        raise BadQuery(f"The words cannot be searched for as written ({error.orig}).", "Put them in quotes.") from None


def put_reference(
    connection: sa.Connection, reference: model.Reference, values: Mapping[str, str], replacing: bool
) -> None:
    """Keep the words of one reference, under its own number, so that they are found again without reading them all."""
    table = schema.reference
    number = connection.execute(sa.select(table.c.number).where(table.c.id == reference.id)).scalar_one()
    if replacing:
        connection.execute(sa.text("DELETE FROM reference_words WHERE rowid = :number"), {"number": number})
    _put(connection, "reference_words", [values], number)


def put_passages(connection: sa.Connection, passages: Sequence[model.Passage]) -> None:
    """Keep the words of passages."""
    _put(connection, "passage_words", [{"id": p.id, "text": p.text} for p in passages])


def drop(connection: sa.Connection, reference: str) -> None:
    """Take out the words of a reference and of its passages, before they go themselves."""
    owned = {"reference": reference}
    connection.execute(
        sa.text("DELETE FROM reference_words WHERE rowid = (SELECT number FROM reference WHERE id = :reference)"), owned
    )
    connection.execute(
        sa.text("DELETE FROM passage_words WHERE id IN (SELECT id FROM passage WHERE reference = :reference)"), owned
    )


def has_part(column: sa.Column[str], parts: Sequence[str]) -> sa.ColumnElement[bool]:
    """References whose place or rights holds one of the parts, whatever its case."""
    # Each value is looked at once, however many have it. The limit, which is none, keeps SQLite from turning this into
    # a condition on every row.
    every = sa.select(column).distinct().limit(-1).subquery()
    value = every.c[column.name]
    return column.in_(sa.select(value).where(sa.or_(*(holds(sa.func.plain(value), plain(part)) for part in parts))))


def has_subject(subjects: Sequence[str], codes: Sequence[str]) -> sa.ColumnElement[bool]:
    """References with one of the subjects, whatever its case, or with a notation at or beneath one of the codes."""
    subject = sa.func.json_each(schema.reference.c.subjects).table_valued("value")
    same = sa.func.plain(subject.c.value).in_([plain(s) for s in subjects])
    # A subject that is no notation begins with a digit seldom, so that Iconclass is asked of few.
    beneath = [subject.c.value.op("GLOB")("[0-9]*") & sa.func.holds_subject(subject.c.value, code) for code in codes]
    return sa.exists(sa.select(1).select_from(subject).where(sa.or_(same, *beneath)))


def _put(connection: sa.Connection, table: str, values: Sequence[Mapping[str, str]], number: int | None = None) -> None:
    columns = schema.WORD_TABLES[table]
    named = ", ".join(f":{c}" for c in columns)
    found = [{c: v if c == "id" else folded(v) for c, v in one.items()} | {"number": number} for one in values]
    # A row number left null is given by SQLite.
    connection.execute(
        sa.text(f"INSERT INTO {table} (rowid, {', '.join(columns)}) VALUES (:number, {named})"),  # noqa: S608
        found,
    )
