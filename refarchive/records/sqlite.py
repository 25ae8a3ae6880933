"""The SQLite file itself: connections and transactions, making it, opening it, bringing an older one up to date."""

from __future__ import annotations

import json
import os
import sqlite3
import unicodedata
import uuid
import weakref
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from refarchive import leftovers
from refarchive.errors import (
    ArchiveBusy,
    ArchiveDamaged,
    ArchiveInTheWay,
    ArchiveMissing,
    ArchiveTooNew,
    ArchiveUnwritable,
    RecordRefused,
    RefArchiveError,
)
from refarchive.records import migrate
from refarchive.records.files import settle
from refarchive.subjects.stored import holds

DATABASE = "archive.sqlite"
PATIENCE_S = 30.0  # how long a writer waits for another
KEPT = 4  # connections kept open for the next question, each with its pages in memory (2 MB); more are closed after use

# SQLite's primary result codes, https://sqlite.org/rescode.html
_BUSY = {5, 6}
_UNWRITABLE = {3, 8, 10, 13, 14, 23}  # PERM, READONLY, IOERR, FULL, CANTOPEN, AUTH
_DAMAGED = {11, 26}  # CORRUPT, NOTADB
_CONSTRAINT = {19}
# What SQLite says where a name in its own tables, or the text of a row, was spoilt.
_SPOILT = ("no such table", "no such column", "no such module", "Could not decode to UTF-8")
_VERIFY = "Restore it from a backup; refarchive verify ARCHIVE says what else is damaged."


def folded(text: str) -> str:
    """Text as the words tables hold it: compatibility forms joined, so that ſ finds s and ﬁ finds fi."""
    return unicodedata.normalize("NFKC", text)


def plain(text: str) -> str:
    """Text for comparing without regard to case, in any script."""
    return folded(text).casefold()


@lru_cache(maxsize=1000, typed=True)  # places and rights come again and again, and a filter asks each row's
def _plain_value(value: Any) -> str | None:
    return None if value is None else plain(str(value))


def engine_for(path: Path, *, foreign_keys: bool = True, make: bool = False) -> sa.Engine:
    """Connections to the file, each prepared the same way; it is made only where asked for."""
    # An address without mode=rw would make an empty database where a disk was taken away. Absolute once and for all.
    path = Path(os.path.abspath(path))
    address = f"{path.as_uri()}?mode={'rwc' if make else 'rw'}"

    def connect() -> sqlite3.Connection:
        # The pool lends a connection to one thread at a time, each time perhaps to another one.
        return sqlite3.connect(address, uri=True, timeout=PATIENCE_S, check_same_thread=False)

    # Opening a connection costs more than most questions: SQLite reads its tables' names, and prepares, each time. One
    # that is kept holds no lock and no view of the archive between questions (each is a transaction of its own, ended
    # before the connection goes back), so other programs, and a kill, find the file as if it were closed.
    engine = sa.create_engine(
        "sqlite://", poolclass=sa.pool.QueuePool, pool_size=KEPT, max_overflow=-1, pool_use_lifo=True, creator=connect
    )
    _engines.add(engine)

    @sa.event.listens_for(engine, "checkout")
    def look(_: sqlite3.Connection, record: Any, __: Any) -> None:
        # A kept connection would go on reading a file that was taken away, or that a backup was put in place of.
        if record.info.get("file") != _as_it_lies(path):
            raise sa.exc.DisconnectionError("the file is another")

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, record: Any) -> None:
        record.info["file"] = _as_it_lies(path)
        connection.isolation_level = None  # transactions are begun below, not by the driver
        connection.create_function("plain", 1, _plain_value, deterministic=True)
        connection.create_function("holds_subject", 2, lambda s, code: holds(str(s), code), deterministic=True)
        for pragma in (
            f"foreign_keys = {'ON' if foreign_keys else 'OFF'}",
            "journal_mode = WAL",
            # FULL: a commit is on the disk before it is acknowledged, so power loss takes nothing acknowledged. NORMAL
            # would be quicker, but in WAL it may lose the last commits, and a reference is gathered once in a life.
            "synchronous = FULL",
            # An archive may come from somebody else: what its schema says is not run as if it were ours.
            "trusted_schema = OFF",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @sa.event.listens_for(engine, "begin")
    def begin(connection: sa.Connection) -> None:
        # IMMEDIATE for writers takes the write lock at once: two writers wait for each other rather than fail midway.
        mode = "IMMEDIATE" if connection.get_execution_options().get("writes") else "DEFERRED"
        connection.exec_driver_sql(f"BEGIN {mode}")

    @sa.event.listens_for(engine, "before_cursor_execute", retval=True)
    def clean(_c: Any, _cursor: Any, statement: str, values: Any, _context: Any, many: bool) -> tuple[str, Any]:
        if many:
            return statement, [_storable(row) for row in values]
        return statement, _storable(values)

    return engine


def _as_it_lies(path: Path) -> tuple[int, int] | None:
    """Which file lies at a path, None where none does."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_dev, found.st_ino


_engines: weakref.WeakSet[sa.Engine] = weakref.WeakSet()
_of_the_parent: list[Any] = []


def _begin_anew() -> None:
    """In a forked process: leave what was open to the parent, unclosed, as https://sqlite.org/howtocorrupt.html asks.

    To close it here could give up the parent's locks; and a thread that held the pool's lock is not in this process.
    """
    for engine in _engines:
        _of_the_parent.append(engine.pool)
        engine.dispose(close=False)


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_begin_anew)


def _storable(values: Any) -> Any:
    """Halves of characters, from file names that are no UTF-8, are written out (`udcff` after a backslash)."""
    if not isinstance(values, tuple):
        return values
    return tuple(
        v.encode("utf-8", "backslashreplace").decode() if isinstance(v, str) and not v.isascii() else v for v in values
    )


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection that sees one state of the archive throughout. Database errors come out as named problems."""
    with named_errors(), engine.connect() as connection:
        yield connection


@contextmanager
def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
    """One transaction: all that is done inside is kept, or none of it where an error leaves the block."""
    with named_errors(), engine.connect().execution_options(writes=True) as connection, connection.begin():
        yield connection


@contextmanager
def named_errors() -> Iterator[None]:
    """Database errors within come out as named problems."""
    try:
        yield
    except (sa.exc.DBAPIError, sqlite3.Error) as error:
        problem = named(error)
        if problem is None:
            raise
        raise problem from error
    except (UnicodeDecodeError, json.JSONDecodeError) as error:  # in here nothing else is read but rows
        raise ArchiveDamaged(f"A row of the archive's database cannot be read ({error}).", _VERIFY) from error


def named(error: sa.exc.DBAPIError | sqlite3.Error) -> RefArchiveError | None:
    """The named problem behind a database error, None where it is a mistake of ours."""
    cause = error.orig if isinstance(error, sa.exc.DBAPIError) else error
    if isinstance(error, sa.exc.DBAPIError) and not isinstance(cause, sqlite3.Error):
        from refarchive.records import postgres

        return postgres.named(error)
    code = (getattr(cause, "sqlite_errorcode", None) or 0) & 0xFF
    if code in _BUSY:
        return ArchiveBusy(
            "Another program is writing to the archive and has not finished.", "Let it finish, then try again."
        )
    if code in _UNWRITABLE:
        return ArchiveUnwritable(
            f"The archive's database cannot be read or written ({cause}).",
            "Make room on the disk, or check the folder's permissions.",
        )
    if code in _DAMAGED:
        return ArchiveDamaged(f"The archive's database is not a readable one ({cause}).", "Restore it from a backup.")
    if str(cause).startswith(_SPOILT):
        return ArchiveDamaged(f"The archive's database is not what it should be ({cause}).", _VERIFY)
    if code in _CONSTRAINT:
        return RecordRefused(
            f"The archive cannot hold this as it was given ({cause}).", "Correct it and try again; nothing was changed."
        )
    return None


def make(folder: Path) -> sa.Engine:
    """Make the database in an existing folder, whole or not at all.

    Raises ArchiveInTheWay where there is one, ArchiveUnwritable where the folder is not there or cannot be written.
    """
    path = folder / DATABASE
    in_the_way = ArchiveInTheWay(
        f"There is an archive at {str(folder)!r} already.", "Open it, or choose another folder."
    )
    if path.exists():
        raise in_the_way
    if not folder.is_dir():
        raise ArchiveUnwritable(f"There is no folder {str(folder)!r}.", "Make the folder first.")
    made = folder / f"{leftovers.prefix('making')}{uuid.uuid4().hex}.sqlite"
    try:
        engine = engine_for(made, make=True)
        with writing(engine) as connection:
            migrate.upgrade(connection)
        engine.dispose()
        try:
            os.link(made, path)  # unlike a rename, it never replaces what another program just made
        except FileExistsError:
            raise in_the_way from None
        except OSError:  # a disk without links
            if path.exists():
                raise in_the_way from None
            os.replace(made, path)
        settle(folder)
    finally:
        for ending in ("", "-wal", "-shm"):
            with suppress(FileNotFoundError):
                os.unlink(f"{made}{ending}")
    return engine_for(path)


def ready(folder: Path) -> sa.Engine:
    """Connections to the database in `folder`, brought up to date first; a copy of an older one is kept beside it.

    Raises ArchiveMissing, ArchiveDamaged, ArchiveTooNew, ArchiveBusy or ArchiveUnwritable.
    """
    path = folder / DATABASE
    if not path.is_file():
        raise ArchiveMissing(
            f"There is no archive at {str(folder)!r}.", f"Make one with: refarchive new {str(folder)!r}"
        )
    with named_errors():
        found = _version(path)
    if found is None:
        raise ArchiveDamaged(
            f"{DATABASE} in {str(folder)!r} is not the database of an archive.", "Restore it from a backup."
        )
    if found != migrate.head():
        if not migrate.knows(found):
            raise ArchiveTooNew(
                f"The archive's database has version {found}, which this refarchive does not know.",
                "Install the newer refarchive that wrote it.",
            )
        _bring_up_to_date(path)
    return engine_for(path)


def _version(path: Path) -> str | None:
    """The version of the database, None where it is none of ours; nothing in the file is changed."""
    with closing(sqlite3.connect(path, timeout=PATIENCE_S)) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not {"alembic_version", "reference", "history"} <= tables:
            return None
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(row[0]) if row else None


def _bring_up_to_date(path: Path) -> None:
    # Foreign keys are off while tables are rebuilt (dropping the old copy of a table would delete or refuse what hangs
    # on it), and checked as a whole before anything is kept.
    engine = engine_for(path, foreign_keys=False)
    with writing(engine) as connection:
        if migrate.revision(connection) == migrate.head():
            return  # another program was quicker
        _back_up(path)
        migrate.upgrade(connection)
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        if broken:
            raise ArchiveDamaged(
                f"After bringing the archive up to date, {len(broken)} rows would stand on nothing, the first in "
                f"{broken[0][0]!r}; it was left as it was.",
                "Report this with the file, or open it with the refarchive that wrote it.",
            )


def _back_up(path: Path) -> Path:
    """Copy the database beside itself, under a name not yet taken. The caller holds the write lock."""
    number = 1
    while True:
        goal = path.with_name(f"{path.name}.before-{migrate.head()}{f'-{number}' if number > 1 else ''}")
        if not goal.exists():
            break
        number += 1
    part = goal.with_name(f"{goal.name}.part")
    part.unlink(missing_ok=True)  # of a run that was killed here; the write lock says that it is nobody's
    for ending in ("-journal", "-wal", "-shm"):
        part.with_name(f"{part.name}{ending}").unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as copy:
        source.backup(copy)
    with open(part, "rb+") as written:
        os.fsync(written.fileno())
    os.replace(part, goal)
    settle(goal.parent)  # the copy is on the disk before what it is a copy of is changed
    return goal
