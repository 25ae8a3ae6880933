"""PostgreSQL as an archive's database: connections and transactions, making it, opening it. One database, one archive.

One person writes at a time, as in SQLite: a transaction that writes takes one lock of the whole archive before anything
is read, so that nothing is changed on a state already gone. Whoever only reads waits for nobody, sees one state
throughout, and cannot write.

The address is libpq's own, and so are its conventions: passwords from a password file or a service file, never from us.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa

from refarchive.errors import (
    ArchiveAway,
    ArchiveBusy,
    ArchiveDamaged,
    ArchiveInTheWay,
    ArchiveMissing,
    ArchiveTooNew,
    ArchiveUnwritable,
    BadQuery,
    RecordRefused,
    RefArchiveError,
)
from refarchive.records import migrate, schema, sqlite

SCHEMES = ("postgresql://", "postgres://")
LOCK = 0x7265666172  # "refar": the writing of records, among the advisory locks of the database
CONNECT_S = 10
FORGOTTEN_S = 120  # a transaction of a machine that fell asleep is given up
_SETTINGS = {
    "default_transaction_isolation": "repeatable\\ read",
    "default_transaction_read_only": "on",
    "idle_in_transaction_session_timeout": f"{FORGOTTEN_S}s",
}

# Classes and codes of errors, https://www.postgresql.org/docs/current/errcodes-appendix.html
_AWAY = ("08", "57P01", "57P02", "57P03", "57P05", "25P03", "53300")
_SHUT_OUT = ("28",)
_BUSY = ("55P03", "40", "57014")
_UNWRITABLE = ("53", "42501", "25006", "58")
_DAMAGED = ("XX001", "XX002")
_CONSTRAINT = ("23", "22")
_MISSING = ("3D",)


def is_address(text: str) -> bool:
    """Whether a text is the address of a PostgreSQL database."""
    return text.startswith(SCHEMES)


def checked(address: str) -> dict[str, str]:
    """What an address says, as libpq reads it. Raises BadQuery where it cannot, or where a password stands in it."""
    psycopg = _driver()
    try:
        told: dict[str, str] = psycopg.conninfo.conninfo_to_dict(address)
    except psycopg.Error:  # its words repeat the address, and a password with it
        raise BadQuery(
            "This is not the address of a PostgreSQL database.", "Give it as postgresql://HOST/DATABASE."
        ) from None
    if told.get("password"):
        raise BadQuery(
            "A password stands in the database's address, where others can read it.",
            "Leave it out, and keep it in a password file (PGPASSFILE, ~/.pgpass) or a service file of your own.",
        )
    return told


def shown(address: str) -> str:
    """An address as sentences name it: the database and its host."""
    told = checked(address)
    service = told.get("service")
    name = told.get("dbname") or (f"of the service {service}" if service else "of your name")
    host = told.get("host") or told.get("hostaddr")
    return f"{name!r}" + (f" on {host!r}" if host else "")


def _driver() -> Any:
    try:
        import psycopg
    except ImportError:
        raise ArchiveAway(
            "The records of this archive are kept by PostgreSQL, and its driver is not installed.",
            "Install it with: pip install 'refarchive[shared]'",
        ) from None
    return psycopg


def engine_for(address: str) -> sa.Engine:
    """Connections to the database, each prepared the same way; none is opened yet."""
    psycopg = _driver()
    told = checked(address)
    settings = " ".join(f"-c {name}={value}" for name, value in _SETTINGS.items())
    more = {
        "connect_timeout": told.get("connect_timeout", CONNECT_S),
        "application_name": told.get("application_name", "refarchive"),
        "options": f"{told.get('options', '')} {settings}".strip(),
        "client_encoding": "utf8",
    }
    engine = sa.create_engine(
        "postgresql+psycopg://",
        creator=lambda: psycopg.connect(address, **more),
        pool_pre_ping=True,  # a server that was started anew is found again
    )

    @sa.event.listens_for(engine, "begin")
    def begin(connection: sa.Connection) -> None:
        if connection.get_execution_options().get("writes"):
            connection.exec_driver_sql(
                "SET TRANSACTION ISOLATION LEVEL READ COMMITTED, READ WRITE;"
                f"SET LOCAL lock_timeout = {max(1, round(1000 * sqlite.PATIENCE_S))};"
                f"SELECT pg_advisory_xact_lock({LOCK});"
                "SET LOCAL lock_timeout = 0"
            )

    @sa.event.listens_for(engine, "before_cursor_execute", retval=True)
    def clean(_c: Any, _cursor: Any, statement: str, values: Any, _context: Any, many: bool) -> tuple[str, Any]:
        return statement, [_storable(row) for row in values] if many else _storable(values)

    return engine


def _storable(value: Any) -> Any:
    """Halves of characters are written out; NUL, which PostgreSQL keeps in no text, is stood in for."""
    if isinstance(value, str):
        if not value.isascii():
            value = value.encode("utf-8", "backslashreplace").decode()
        return value.replace("\0", schema.NUL)
    if isinstance(value, dict):
        return {name: _storable(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return type(value)(_storable(one) for one in value)
    return value


def named(error: sa.exc.DBAPIError) -> RefArchiveError | None:
    """The named problem behind a database error, None where it is a mistake of ours."""
    cause: Any = error.orig
    code = cause.sqlstate or ""
    # What libpq says where no connection comes about names host, database and user, never a password.
    words = " ".join(str(cause.diag.message_primary or cause).split())[:400]
    if code.startswith(_MISSING):
        return ArchiveMissing(f"The server has no such database ({words}).", "Ask whoever keeps the server to make it.")
    # Where no connection comes about libpq hands on no code, but says whether a password was wanted or used.
    attempt = getattr(cause, "pgconn", None)
    if code.startswith(_SHUT_OUT) or (not code and attempt and (attempt.needs_password or attempt.used_password)):
        return ArchiveAway(
            f"The server does not let you in ({words}).",
            "Check the names of the database and of yourself there, and your password file (PGPASSFILE, ~/.pgpass) or "
            "service file.",
        )
    if code.startswith(_AWAY) or (not code and type(cause).__name__ in ("OperationalError", "ConnectionTimeout")):
        return ArchiveAway(
            f"The server that keeps this archive's records cannot be reached, or went away meanwhile ({words}).",
            "What was not finished was not kept. See that the server runs and the network is up, then try again.",
        )
    if code.startswith(_BUSY):
        return ArchiveBusy("Somebody else is writing to the archive and has not finished.", "Wait, then try again.")
    if code.startswith(_DAMAGED):
        return ArchiveDamaged(f"The archive's database is damaged ({words}).", "Restore it from a backup.")
    if code.startswith(_UNWRITABLE):
        return ArchiveUnwritable(
            f"The archive's database cannot be read or written ({words}).",
            "Ask whoever keeps the server for room, or for the permission.",
        )
    if code.startswith(_CONSTRAINT):
        return RecordRefused(
            f"The archive cannot hold this as it was given ({words}).", "Correct it and try again; nothing was changed."
        )
    return None


def make(address: str) -> sa.Engine:
    """Make an archive's tables in an empty database, all of them or none.

    They are made as they are now; migrations from then on run here as they do in SQLite.

    Raises ArchiveInTheWay where the database holds anything, ArchiveAway, ArchiveMissing or ArchiveUnwritable.
    """
    with _opening(address) as engine, sqlite.writing(engine) as connection:
        if sa.inspect(connection).get_table_names():
            raise ArchiveInTheWay(
                f"The database {shown(address)} is not empty.",
                f"Join an archive there with: refarchive new {address} FOLDER --join; or name an empty database.",
            )
        encoding = connection.exec_driver_sql("SHOW server_encoding").scalar()
        if encoding != "UTF8":
            raise ArchiveUnwritable(
                f"The database keeps text as {encoding}, which cannot hold every script.", "Make it with encoding UTF8."
            )
        known = connection.exec_driver_sql("SELECT 1 FROM pg_available_extensions WHERE name = 'vector'").first()
        if known is None:
            raise ArchiveUnwritable("The server has no pgvector.", "Install it there; it keeps what finds pictures.")
        connection.exec_driver_sql("CREATE EXTENSION IF NOT EXISTS vector")
        from refarchive.records import words_tsvector

        schema.metadata.create_all(connection)
        words_tsvector.create(connection)
        migrate.stamp(connection)
    return engine


def ready(address: str) -> sa.Engine:
    """Connections to an archive's database, brought up to date first, whole or not at all.

    No copy is kept beside it: whoever keeps the server keeps its backups.

    Raises ArchiveMissing, ArchiveTooNew, ArchiveBusy, ArchiveAway or ArchiveUnwritable.
    """
    with _opening(address) as engine:
        with sqlite.reading(engine) as connection:
            there = {"alembic_version", "reference", "history"} <= set(sa.inspect(connection).get_table_names())
            found = migrate.revision(connection) if there else None
        if found is None:
            raise ArchiveMissing(
                f"There is no archive in the database {shown(address)}.", f"Make one with: refarchive new {address}"
            )
        if found != migrate.head():
            if not migrate.knows(found):
                raise ArchiveTooNew(
                    f"The archive's database has version {found}, which this refarchive does not know.",
                    "Install the newer refarchive that wrote it.",
                )
            with sqlite.writing(engine) as connection:
                if migrate.revision(connection) != migrate.head():  # nobody else was quicker
                    migrate.upgrade(connection)
    return engine


@contextmanager
def _opening(address: str) -> Iterator[sa.Engine]:
    """An engine that is closed again where opening the archive fails."""
    engine = engine_for(address)
    try:
        yield engine
    except BaseException:
        engine.dispose()
        raise
