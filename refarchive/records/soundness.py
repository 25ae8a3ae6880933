"""Whether the database is sound: its pages, what rows stand on, the words tables, and what the rows say."""

from __future__ import annotations

import sqlalchemy as sa

from refarchive.errors import RefArchiveError
from refarchive.records import migrate, rows, schema, selecting, tally
from refarchive.records.model import Passage
from refarchive.records.store import Store, folded

MOST_TOLD = 20  # sentences of one kind


def problems(store: Store, *, repair: bool = False) -> list[str]:
    """Sentences on what is wrong with the database. With `repair` the words tables are made anew where they differ.

    Where nothing is wrong, a tally is kept for the next time. Of a shared archive only what the rows say is held
    against the history: the pages, and what rows stand on, are looked after by its server.
    """
    if store.shared is not None:
        with store._reading() as connection:
            return tally.against_history(connection)[:MOST_TOLD]
    try:
        with store._reading() as connection:
            found = [
                f"The database is damaged: {row[0]}."
                for row in connection.exec_driver_sql(f"PRAGMA integrity_check({MOST_TOLD})")
                if row[0] != "ok" and "fts5" not in row[0].lower()
            ]
            found += [
                f"A row of {row[0]} in the database stands on a row of {row[2]} that is not there."
                for row in connection.exec_driver_sql("PRAGMA foreign_key_check").all()[:MOST_TOLD]
            ]
    except RefArchiveError as error:
        return [f"{error.problem} {_BACKUP}"]
    try:
        with store._reading() as connection:
            found += _saying(store, connection)
    except RefArchiveError as error:
        found.append(error.problem)
    except Exception as error:  # a row that no longer can be read as what it is
        found.append(f"A row of the database cannot be read ({type(error).__name__}: {error}).")
    wrong_words = _words_wrong(store)
    # Never anew from rows that are themselves in doubt: the words are then the only other copy of what was said.
    if wrong_words and repair and not found:
        wrong_words = _words_anew(store)
    if not found and not wrong_words:
        with store._reading() as connection:
            tally.keep(store.folder, tally.taken(connection, migrate.head()))
    return ([*found, _BACKUP] if found else []) + wrong_words


_BACKUP = (
    "What the database says cannot be made anew from the rest: take archive.sqlite from a backup or a packed archive, "
    "or set right by hand what is named here. A copy from before the last update may lie beside it, as "
    "archive.sqlite.before-…"
)


def _saying(store: Store, connection: sa.Connection) -> list[str]:
    found = tally.against_history(connection)[:MOST_TOLD]
    before = tally.read(store.folder)
    if before is not None:
        found += tally.changed_untold(before, tally.taken(connection, migrate.head()), connection)[:MOST_TOLD]
    return found


def _words_wrong(store: Store) -> list[str]:
    wrong = []
    for name in schema.WORD_TABLES:
        try:
            with store._writing() as connection:
                # Reads all of the index and holds it against the text beside it; nothing is written.
                connection.exec_driver_sql(f"INSERT INTO {name} ({name}) VALUES ('integrity-check')")  # noqa: S608
            with store._reading() as connection:
                sound = _words(connection, name) == _words_meant(connection, name)
        except Exception:  # a damaged index gives errors of many kinds
            sound = False
        if not sound:
            wrong.append(f"The words kept for searching ({name}) are not those of the records.")
    return wrong


def _words(connection: sa.Connection, name: str) -> dict[str, tuple[str, ...]]:
    columns = ", ".join(schema.WORD_TABLES[name])
    return {str(r[0]): tuple(r[1:]) for r in connection.exec_driver_sql(f"SELECT {columns} FROM {name}")}  # noqa: S608


def _words_meant(connection: sa.Connection, name: str) -> dict[str, tuple[str, ...]]:
    columns = schema.WORD_TABLES[name]
    if name == "passage_words":
        found = connection.execute(sa.select(schema.passage.c.id, schema.passage.c.text))
        return {row.id: (folded(row.text),) for row in found}
    references = (rows.row_to_reference(r) for r in connection.execute(sa.select(schema.reference)).mappings())
    words = (selecting.reference_words(reference) for reference in references)
    return {one["id"]: tuple(folded(one[c]) for c in columns[1:]) for one in words}


def _words_anew(store: Store) -> list[str]:
    try:
        with store._writing() as connection:
            for name in schema.WORD_TABLES:
                connection.exec_driver_sql(f"DROP TABLE {name}")
                connection.exec_driver_sql(schema.word_table_ddl(name))
            for row in connection.execute(sa.select(schema.reference)).mappings().all():
                selecting.put_reference_words(connection, rows.row_to_reference(row))
            passages = connection.execute(sa.select(schema.passage)).mappings().all()
            if passages:
                selecting.put_passage_words(connection, [rows.plain_row(Passage, row) for row in passages])
    except Exception as error:
        return [f"The words kept for searching cannot be made anew ({type(error).__name__}: {error})."]
    return _words_wrong(store)
