"""Words and folded values in PostgreSQL: the same words as in SQLite, ranked by the same measure.

PostgreSQL's own parser and dictionaries part and stem words in another way, and it ranks without regard to how rare a
word is. So texts are parted by SQLite's full-text search in memory, which is at hand wherever Python is, and kept as
vectors of those words (tsvector) with their places; the rows that hold a word come from a GIN index, and BM25 is
counted from them in the database. A question finds the same rows in the same order in both.

What differs: of one word at most 256 places are kept in one text, places after 16,383 count as one, and words longer
than 2,046 bytes are left out (limits of tsvector). A query is phrases joined by OR: what `search.words` writes.
"""

from __future__ import annotations

import json
import re
import sqlite3
import threading
from collections.abc import Collection, Mapping, Sequence
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql as pg

from refarchive.errors import BadQuery
from refarchive.records import model, schema
from refarchive.records.sqlite import folded, plain
from refarchive.subjects import tree
from refarchive.subjects.stored import codes_in

LONGEST_WORD = 2_046  # bytes: limits of tsvector, https://www.postgresql.org/docs/current/textsearch-limitations.html
LAST_PLACE = 16_383
MOST_PLACES = 256
MOST_BYTES = 1_000_000

_TEXT = sa.Text(collation="C")
tables = sa.MetaData()

reference_words = sa.Table(
    "reference_words",
    tables,
    sa.Column("id", _TEXT, primary_key=True),
    sa.Column("words", pg.TSVECTOR, nullable=False),
    sa.Column("length", sa.Integer, nullable=False),  # in words
    # For filters, made in Python so that case folds in every script as it does beside SQLite.
    sa.Column("place", _TEXT, nullable=False),
    sa.Column("rights", _TEXT, nullable=False),
    sa.Column("subjects", pg.ARRAY(_TEXT), nullable=False),
    sa.Column("codes", pg.ARRAY(_TEXT), nullable=False),  # notations of Iconclass, and all above them
    sa.Index("reference_words_words", "words", postgresql_using="gin"),
    sa.Index("reference_words_codes", "codes", postgresql_using="gin"),
)
passage_words = sa.Table(
    "passage_words",
    tables,
    sa.Column("id", _TEXT, primary_key=True),
    sa.Column("reference", _TEXT, nullable=False, index=True),
    sa.Column("words", pg.TSVECTOR, nullable=False),
    sa.Column("length", sa.Integer, nullable=False),
    sa.Index("passage_words_words", "words", postgresql_using="gin"),
)
_TABLES = {"references": (reference_words, "id"), "passages": (passage_words, "reference")}

# Robertson and Zaragoza (2009) with k1 = 1.2 and b = 0.75, and a least weight of 1e-6, as https://sqlite.org/fts5.html
# and its source have it, sign turned. A phrase counts as often as its words follow each other.
_SEARCH = """
WITH asked AS MATERIALIZED (
    SELECT p.nth, p.query::tsquery AS query, p.terms::json AS terms,
        CASE WHEN json_array_length(p.terms::json) = 1 THEN p.terms::json ->> 0 END AS single
    FROM unnest(CAST(:queries AS text[]), CAST(:terms AS text[])) WITH ORDINALITY AS p(query, terms, nth)
), held AS (
    SELECT count(*)::float8 AS rows, greatest(sum(length)::float8 / count(*), 1e-9) AS mean FROM {table}
), matched AS (
    SELECT asked.nth, asked.terms, asked.single, w.id, w.{owner} AS owner, w.length, w.words,
        count(*) OVER (PARTITION BY asked.nth)::float8 AS among
    FROM asked JOIN {table} AS w ON w.words @@ asked.query
), counted AS MATERIALIZED (
    SELECT m.nth, m.id, m.length::float8 AS length, held.mean,
        greatest(ln((held.rows - m.among + 0.5) / (m.among + 0.5)), 1e-6) AS weight,
        (CASE
            WHEN m.length = length(m.words) THEN 1  -- no word twice, so no phrase either
            WHEN m.single IS NOT NULL THEN greatest((
                SELECT cardinality(w.positions) FROM unnest(m.words) AS w WHERE w.lexeme = m.single COLLATE "C"
            ), 1)
            ELSE greatest((
                SELECT count(*) FROM (
                    SELECT place - (t.nth - 1) AS start
                    FROM json_array_elements_text(m.terms) WITH ORDINALITY AS t(term, nth),
                        unnest(m.words) AS w(lexeme, positions, weights), unnest(w.positions) AS place
                    WHERE w.lexeme = t.term COLLATE "C"
                    GROUP BY start HAVING count(DISTINCT t.nth) = json_array_length(m.terms)
                ) AS starts
            ), 1)
        END)::float8 AS times
    FROM matched AS m, held
    WHERE CAST(:allowed AS text[]) IS NULL OR m.owner = ANY(CAST(:allowed AS text[]))
)
SELECT found.id, found.badness FROM (
    SELECT id, -sum(weight * ((times * 2.2) / (times + 1.2 * (0.25 + 0.75 * length / mean))) ORDER BY nth) AS badness
    FROM counted GROUP BY id
) AS found {gathered} LIMIT :limit
"""
# Rows of equal rank stand in the order of gathering, as in SQLite.
_GATHERED = {
    "references": "JOIN reference USING (id) ORDER BY found.badness, reference.number",
    "passages": """JOIN passage USING (id) JOIN reference ON reference.id = passage.reference
        ORDER BY found.badness, reference.number, passage.number""",
}


def create(connection: sa.Connection) -> None:
    """Make the tables."""
    tables.create_all(connection)


def search(
    connection: sa.Connection, match: str, table: str, allowed: Collection[str] | None, limit: int
) -> list[tuple[str, float]]:
    """Best matches of phrases joined by OR, as `selecting.search` says."""
    phrases = [terms for terms in parted([[phrase] for phrase in _phrases(match)]) if terms]
    held = [[term for column in phrase for term, _ in column] for phrase in phrases]
    held = [terms for terms in held if terms and all(_keepable(term) for term in terms)]
    if not held:
        return []
    words, owner = _TABLES[table]
    values = {
        "queries": [" <-> ".join(_quoted(term) for term in terms) for terms in held],
        "terms": [json.dumps(terms) for terms in held],
        "allowed": None if allowed is None else list(allowed),
        "limit": limit,
    }
    query = sa.text(_SEARCH.format(table=words.name, owner=owner, gathered=_GATHERED[table]))
    return [(row.id, float(row.badness)) for row in connection.execute(query, values)]


def put_reference(
    connection: sa.Connection, reference: model.Reference, values: Mapping[str, str], replacing: bool
) -> None:
    """Keep the words of one reference, and what its filters compare."""
    if replacing:
        connection.execute(sa.delete(reference_words).where(reference_words.c.id == reference.id))
    columns = [values[name] for name in schema.WORD_TABLES["reference_words"][1:]]
    kept = {
        "id": reference.id,
        **_vector(parted([columns])[0]),
        "place": plain(reference.place),
        "rights": plain(reference.rights),
        "subjects": [plain(subject) for subject in reference.subjects],
        "codes": sorted({code for subject in reference.subjects for code in _codes(subject)}),
    }
    connection.execute(sa.insert(reference_words), kept)


def put_passages(connection: sa.Connection, passages: Sequence[model.Passage]) -> None:
    """Keep the words of passages."""
    found = parted([[one.text] for one in passages])
    connection.execute(
        sa.insert(passage_words),
        [
            {"id": one.id, "reference": one.reference, **_vector(columns)}
            for one, columns in zip(passages, found, strict=True)
        ],
    )


def drop(connection: sa.Connection, reference: str) -> None:
    """Take out the words of a reference and of its passages."""
    connection.execute(sa.delete(reference_words).where(reference_words.c.id == reference))
    connection.execute(sa.delete(passage_words).where(passage_words.c.reference == reference))


def has_part(column: sa.Column[str], parts: Sequence[str]) -> sa.ColumnElement[bool]:
    """References whose place or rights holds one of the parts, whatever its case."""
    kept = reference_words.c[column.name]
    return _among(sa.or_(*(sa.func.strpos(kept, plain(part)) > 0 for part in parts)))


def has_subject(subjects: Sequence[str], codes: Sequence[str]) -> sa.ColumnElement[bool]:
    """References with one of the subjects, whatever its case, or with a notation at or beneath one of the codes."""
    kept = reference_words.c
    same = kept.subjects.overlap(sa.cast([plain(s) for s in subjects], pg.ARRAY(_TEXT)))
    return _among(same | kept.codes.overlap(sa.cast(list(codes), pg.ARRAY(_TEXT))) if codes else same)


def _among(condition: sa.ColumnElement[bool]) -> sa.ColumnElement[bool]:
    return schema.reference.c.id.in_(sa.select(reference_words.c.id).where(condition))


def _codes(subject: str) -> set[str]:
    if not re.match("[0-9]", subject):
        return set()
    return {code for one in codes_in(subject) for code in (one, *tree.all_above(one))}


# --- words, as SQLite parts them -------------------------------------------------------------------------------------

_lock = threading.Lock()


@cache
def _parter() -> sqlite3.Connection:
    connection = sqlite3.connect(":memory:", check_same_thread=False, isolation_level=None)
    connection.execute(schema.word_table_ddl("passage_words"))
    connection.execute("CREATE VIRTUAL TABLE parted USING fts5vocab(passage_words, 'instance')")
    return connection


def parted(texts: Sequence[Sequence[str]]) -> list[list[list[tuple[str, int]]]]:
    """The words of texts, each text being columns: of each column, words as they are compared, and their places."""
    rows = [folded(column) for columns in texts for column in columns]
    found: list[list[tuple[str, int]]] = [[] for _ in rows]
    with _lock:
        connection = _parter()
        connection.execute("BEGIN")
        try:
            insert = "INSERT INTO passage_words (rowid, id, text) VALUES (?, '', ?)"
            connection.executemany(insert, ((n, _storable(row)) for n, row in enumerate(rows)))
            for number, term, place in connection.execute("SELECT doc, term, offset FROM parted"):
                found[number].append((term, place))
        finally:
            connection.execute("ROLLBACK")
    each = iter(found)
    return [[sorted(next(each), key=lambda pair: pair[1]) for _ in columns] for columns in texts]


def _storable(text: str) -> str:
    return text.encode("utf-8", "backslashreplace").decode()


def _vector(columns: Sequence[Sequence[tuple[str, int]]]) -> dict[str, Any]:
    """A tsvector as text, and how many words it stands for. No phrase reaches from one column into the next."""
    places: dict[str, list[int]] = {}
    length = first = size = 0
    for column in columns:
        length += len(column)
        for term, place in column:
            if not _keepable(term):
                continue
            known = places.setdefault(term, [])
            size += 2 + (0 if known else len(term.encode()) + 8)
            if size > MOST_BYTES:
                break
            if len(known) < MOST_PLACES - 1:
                known.append(min(first + place + 1, LAST_PLACE))
        first += column[-1][1] + 2 if column else 0
    told = " ".join(f"{_quoted(term)}:{','.join(map(str, at))}" for term, at in places.items() if at)
    return {"words": told, "length": length}


def _keepable(term: str) -> bool:
    return len(term.encode("utf-8", "surrogatepass")) <= LONGEST_WORD and "\0" not in term


def _quoted(term: str) -> str:
    return "'" + term.replace("\\", "\\\\").replace("'", "''") + "'"


_QUERY = re.compile(r'\s*(?:"((?:[^"]|"")*)"|(\w+))\s*')


def _phrases(match: str) -> list[str]:
    """The phrases of a query. Raises BadQuery for anything but phrases in quotes, or bare words, joined by OR."""
    phrases, place = [], 0
    while True:
        found = _QUERY.match(match, place)
        if found is None or found[2] in ("AND", "OR", "NOT", "NEAR"):
            raise BadQuery("The words cannot be searched for as written.", "Put them in quotes.")
        phrases.append(found[2] or found[1].replace('""', '"'))
        place = found.end()
        if place == len(match):
            return phrases
        if not match.startswith("OR", place):
            raise BadQuery("The words cannot be searched for as written.", "Put them in quotes, joined by OR.")
        place += 2
