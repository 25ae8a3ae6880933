"""What a filter asks of the database, and the words tables: kept, and searched."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from typing import Any

import sqlalchemy as sa

from refarchive.errors import BadQuery
from refarchive.records import model, schema
from refarchive.records.database import folded, plain
from refarchive.subjects.stored import notation_asked


def listed(values: Collection[str]) -> Any:
    """Any number of values for an IN, beyond SQLite's limit on bound variables."""
    return sa.select(sa.func.json_each(json.dumps(list(values))).table_valued("value").c.value)


def dated() -> sa.ColumnElement[bool]:
    """References with a date that says anything: one whose both ends are unknown is as good as none."""
    table = schema.reference
    return table.c.date_edtf.is_not(None) & (table.c.earliest.is_not(None) | table.c.latest.is_not(None))


def conditions(wanted: model.Filter) -> list[sa.ColumnElement[bool]]:
    """The filter as conditions on the table of references, all of which must hold.

    Periods pass by overlap, an end left None being open. Kinds and witnesses are compared whole; of places and rights
    a part is enough; subjects are compared whole, but one that is a notation of Iconclass also finds all that Iconclass
    has beneath it: 25F2 finds "25F23(LION) lion". Case never matters, in any script.

    Raises BadQuery for a kind or witness that does not exist, and a period that ends before it begins.
    """
    table = schema.reference
    found: list[sa.ColumnElement[bool]] = []
    _refuse_unknown("kind", wanted.kinds, model.KINDS)
    _refuse_unknown("kind of witness", wanted.witnesses, [w.value for w in model.Witness])
    if wanted.earliest is not None and wanted.latest is not None and wanted.earliest > wanted.latest:
        raise BadQuery("The period asked for ends before it begins.", "Give the earlier date first.")
    if wanted.earliest is not None or wanted.latest is not None:
        found.append(dated())
    if wanted.latest is not None:
        found.append(table.c.earliest.is_(None) | (table.c.earliest <= wanted.latest))
    if wanted.earliest is not None:
        found.append(table.c.latest.is_(None) | (table.c.latest >= wanted.earliest))
    if wanted.kinds:
        passage = schema.passage
        has_text = sa.exists().where(passage.c.reference == table.c.id)  # pictures of pages whose words are known
        found.append(table.c.kind.in_(wanted.kinds) | (has_text if "text" in wanted.kinds else sa.false()))
    if wanted.witnesses:
        found.append(table.c.witness.in_([str(w) for w in wanted.witnesses]))
    for column, parts in ((table.c.place, wanted.places), (table.c.rights, wanted.rights)):
        if parts:
            found.append(sa.or_(*(sa.func.instr(sa.func.plain(column), plain(part)) > 0 for part in parts)))
    if wanted.subjects:
        subject = sa.func.json_each(table.c.subjects).table_valued("value")
        same = sa.func.plain(subject.c.value).in_([plain(s) for s in wanted.subjects])
        # A subject that is no notation begins with a digit seldom, so that Iconclass is asked of few.
        beneath = [
            subject.c.value.op("GLOB")("[0-9]*") & sa.func.holds_subject(subject.c.value, code)
            for code in (notation_asked(s) for s in wanted.subjects)
            if code
        ]
        found.append(sa.exists(sa.select(1).select_from(subject).where(sa.or_(same, *beneath))))
    if wanted.scene:
        used = sa.select(schema.evidence.c.reference).where(schema.evidence.c.scene == wanted.scene)
        site = sa.cast(schema.scene.c.site, sa.Text)
        sited = sa.select(1).where((schema.scene.c.slug == wanted.scene) & (sa.func.instr(site, table.c.id) > 0))
        found.append(table.c.id.in_(used) | sa.exists(sited))
    return found


def _refuse_unknown(what: str, asked: Sequence[str], known: Sequence[str]) -> None:
    for one in asked:
        if str(one) not in known:
            raise BadQuery(f"There is no {what} {str(one)!r}.", f"There are: {', '.join(known)}.")


_SEARCHES = {
    "references": """
        SELECT id, bm25(reference_words) AS badness FROM reference_words
        WHERE reference_words MATCH :match AND (:allowed IS NULL OR id IN (SELECT value FROM json_each(:allowed)))
        ORDER BY badness, id LIMIT :limit""",
    "passages": """
        SELECT passage_words.id, bm25(passage_words) AS badness FROM passage_words
        JOIN passage ON passage.id = passage_words.id
        WHERE passage_words MATCH :match
        AND (:allowed IS NULL OR passage.reference IN (SELECT value FROM json_each(:allowed)))
        ORDER BY badness, passage_words.id LIMIT :limit""",
}


def search(
    connection: sa.Connection, match: str, table: str, allowed: Collection[str] | None, limit: int
) -> list[tuple[str, float]]:
    """Best matches of an FTS5 query as (id, bm25), lower is better; `allowed` is applied before the cut.

    Raises BadQuery where FTS5 cannot read the query, and for an unknown table.
    """
    if table not in _SEARCHES:
        raise BadQuery(f"There are no words of {table!r}.", f"Search {' or '.join(_SEARCHES)}.")
    if not match.strip() or limit < 1:
        return []
    values = {
        # The one character that would turn into FTS5's own quotation mark and end a quoted word before its time.
        "match": folded(match.replace("\uff02", " ")),
        "allowed": None if allowed is None else json.dumps(list(allowed)),
        "limit": limit,
    }
    try:
        return [(row[0], float(row[1])) for row in connection.execute(sa.text(_SEARCHES[table]), values)]
    except sa.exc.OperationalError as error:
        if (getattr(error.orig, "sqlite_errorcode", 0) & 0xFF) != 1:  # SQLITE_ERROR: the query, not the disk
            raise
        raise BadQuery(f"The words cannot be searched for as written ({error.orig}).", "Put them in quotes.") from None


def put_reference_words(connection: sa.Connection, reference: model.Reference, *, replacing: bool = False) -> None:
    """Keep a reference's words, under its own number, so that they are found again without reading them all."""
    table = schema.reference
    number = connection.execute(sa.select(table.c.number).where(table.c.id == reference.id)).scalar_one()
    if replacing:
        connection.execute(sa.text("DELETE FROM reference_words WHERE rowid = :number"), {"number": number})
    _put(connection, "reference_words", [reference_words(reference)], number)


def reference_words(reference: model.Reference) -> dict[str, str]:
    """The words of a reference by column, not folded yet."""
    return {
        "id": reference.id,
        "title": reference.title,
        "description": reference.description,
        "creator": reference.creator,
        "place": reference.place,
        "medium": reference.medium,
        "subjects": "; ".join(reference.subjects),
        "other": "; ".join(
            (reference.collection, reference.accession, reference.identifier, reference.source, reference.source_name)
        ),
    }


def put_passage_words(connection: sa.Connection, passages: Sequence[model.Passage]) -> None:
    """Keep the words of passages."""
    _put(connection, "passage_words", [{"id": p.id, "text": p.text} for p in passages])


def drop_words(connection: sa.Connection, reference: str) -> None:
    """Take out the words of a reference and of its passages, before they go themselves."""
    owned = {"reference": reference}
    connection.execute(
        sa.text("DELETE FROM reference_words WHERE rowid = (SELECT number FROM reference WHERE id = :reference)"), owned
    )
    connection.execute(
        sa.text("DELETE FROM passage_words WHERE id IN (SELECT id FROM passage WHERE reference = :reference)"), owned
    )


def _put(connection: sa.Connection, table: str, values: Sequence[dict[str, str]], number: int | None = None) -> None:
    columns = schema.WORD_TABLES[table]
    named = ", ".join(f":{c}" for c in columns)
    found = [{c: v if c == "id" else folded(v) for c, v in one.items()} | {"number": number} for one in values]
    # A row number left null is given by SQLite.
    connection.execute(
        sa.text(f"INSERT INTO {table} (rowid, {', '.join(columns)}) VALUES (:number, {named})"),  # noqa: S608
        found,
    )
