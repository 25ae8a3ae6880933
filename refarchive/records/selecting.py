"""What a filter asks of the database, and the words tables: kept, and searched."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import sqlalchemy as sa

from refarchive.errors import BadQuery
from refarchive.records import model, schema, words_fts5
from refarchive.records.sql import holds, listed
from refarchive.records.sqlite import folded
from refarchive.subjects.stored import notation_asked

__all__ = ["conditions", "dated", "listed", "search"]

TABLES = ("references", "passages")


def _words(connection: sa.Connection) -> Any:
    """How this database keeps words, and compares values without regard to case."""
    if connection.dialect.name == "sqlite":
        return words_fts5
    from refarchive.records import words_tsvector

    return words_tsvector


def dated() -> sa.ColumnElement[bool]:
    """References with a date that says anything: one whose both ends are unknown is as good as none."""
    table = schema.reference
    return table.c.date_edtf.is_not(None) & (table.c.earliest.is_not(None) | table.c.latest.is_not(None))


def conditions(connection: sa.Connection, wanted: model.Filter) -> list[sa.ColumnElement[bool]]:
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
            found.append(_words(connection).has_part(column, parts))
    if wanted.subjects:
        codes = [code for code in (notation_asked(s) for s in wanted.subjects) if code]
        found.append(_words(connection).has_subject(wanted.subjects, codes))
    if wanted.scene:
        used = sa.select(schema.evidence.c.reference).where(schema.evidence.c.scene == wanted.scene)
        site = sa.cast(schema.scene.c.site, sa.Text)
        sited = sa.select(1).where((schema.scene.c.slug == wanted.scene) & holds(site, table.c.id))
        found.append(table.c.id.in_(used) | sa.exists(sited))
    return found


def _refuse_unknown(what: str, asked: Sequence[str], known: Sequence[str]) -> None:
    for one in asked:
        if str(one) not in known:
            raise BadQuery(f"There is no {what} {str(one)!r}.", f"There are: {', '.join(known)}.")


def search(
    connection: sa.Connection, match: str, table: str, allowed: Collection[str] | None, limit: int
) -> list[tuple[str, float]]:
    """Best matches of an FTS5 query as (id, bm25), lower is better; `allowed` is applied before the cut.

    Raises BadQuery where FTS5 cannot read the query, and for an unknown table.
    """
    if table not in TABLES:
        raise BadQuery(f"There are no words of {table!r}.", f"Search {' or '.join(TABLES)}.")
    if not match.strip() or limit < 1:
        return []
    # The one character that would turn into FTS5's own quotation mark and end a quoted word before its time.
    clean = folded(match.replace("\uff02", " "))
    found: list[tuple[str, float]] = _words(connection).search(connection, clean, table, allowed, limit)
    return found


def put_reference_words(connection: sa.Connection, reference: model.Reference, *, replacing: bool = False) -> None:
    """Keep the words of a reference that is stored."""
    _words(connection).put_reference(connection, reference, reference_words(reference), replacing)


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
    _words(connection).put_passages(connection, passages)


def drop_words(connection: sa.Connection, reference: str) -> None:
    """Take out the words of a reference and of its passages, before they go themselves."""
    _words(connection).drop(connection, reference)
