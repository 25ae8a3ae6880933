"""The store: `archive.sqlite`, through SQLAlchemy Core. Every change is one transaction with its own history.

Methods take and return the dataclasses of `model`. A store may be open in several processes at once; SQLite lets one
of them write at a time, and each sees what the others committed.
"""

from __future__ import annotations

import difflib
import getpass
import json
import os
import shutil
import sqlite3
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa

from refarchive.errors import AmbiguousName, ArchiveDamaged, ArchiveInTheWay, ArchiveMissing, ArchiveTooNew
from refarchive.errors import RefArchiveError, UnknownRecord
from refarchive.records import migrate, model, rows, schema

DATABASE = "archive.sqlite"
MAX_HISTORY = 100_000


class InUse(RefArchiveError, ValueError):
    """A record cannot be removed because others stand on it."""


def now() -> str:
    """The present moment, UTC, ISO 8601 to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def folded(text: str) -> str:
    """Text as the words tables hold it: compatibility forms joined, so that ſ finds s and ﬁ finds fi."""
    return unicodedata.normalize("NFKC", text)


def _engine(path: Path) -> sa.Engine:
    engine = sa.create_engine(f"sqlite:///{path}", poolclass=sa.pool.NullPool, connect_args={"timeout": 30})

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None  # transactions are begun below, not by the driver
        for pragma in (
            "foreign_keys = ON",
            "journal_mode = WAL",
            # FULL: a commit is on the disk before it is acknowledged, so power loss takes nothing acknowledged. NORMAL
            # would be quicker, but in WAL it may lose the last commits, and a reference is gathered once in a life.
            "synchronous = FULL",
            "busy_timeout = 30000",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @sa.event.listens_for(engine, "begin")
    def begin(connection: sa.Connection) -> None:
        # IMMEDIATE for writers takes the write lock at once: two writers wait for each other rather than fail midway.
        mode = "IMMEDIATE" if connection.get_execution_options().get("writes") else "DEFERRED"
        connection.exec_driver_sql(f"BEGIN {mode}")

    return engine


class Store:
    """The records of one archive folder."""

    def __init__(self, folder: Path, engine: sa.Engine, who: str) -> None:
        self.folder = folder
        self.who = who or os.environ.get("REFARCHIVE_WHO", "") or _login()
        self._engine = engine
        # One connection is held: the last one to close a WAL database checkpoints it, which would cost every call.
        self._held = engine.connect()

    # --- opening ------------------------------------------------------------------------------------------------

    @classmethod
    def create(cls, folder: Path, who: str = "") -> Store:
        """Make the database in an existing folder. Raises ArchiveInTheWay where there is one."""
        path = folder / DATABASE
        if path.exists():
            raise ArchiveInTheWay(f"There is an archive at {str(folder)!r} already.", "Open it, or choose another folder.")
        engine = _engine(path)
        with engine.connect().execution_options(writes=True) as connection, connection.begin():
            migrate.upgrade(connection)
        return cls(folder, engine, who)

    @classmethod
    def open(cls, folder: Path, who: str = "") -> Store:
        """Open the database in `folder`, bringing an older one up to date first (a copy of it is kept beside it).

        Raises ArchiveMissing, ArchiveDamaged or ArchiveTooNew.
        """
        path = folder / DATABASE
        if not path.is_file():
            raise ArchiveMissing(
                f"There is no archive at {str(folder)!r}.", f"Make one with: refarchive new {str(folder)!r}"
            )
        engine = _engine(path)
        try:
            with engine.connect() as connection:
                found = migrate.revision(connection)
            if found != migrate.head():
                cls._bring_up_to_date(path, engine, found)
            return cls(folder, engine, who)
        except sa.exc.DatabaseError as error:
            engine.dispose()
            raise ArchiveDamaged(
                f"{DATABASE} in {str(folder)!r} is not a readable database ({error.orig}).", "Restore it from a backup."
            ) from None

    @staticmethod
    def _bring_up_to_date(path: Path, engine: sa.Engine, found: str | None) -> None:
        if found is None or not migrate.knows(found):
            engine.dispose()
            raise ArchiveTooNew(
                f"The archive's database has version {found or 'none'}, which this refarchive does not know.",
                "Install the newer refarchive that wrote it.",
            )
        with engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        shutil.copy2(path, path.with_name(f"{DATABASE}.before-{migrate.head()}"))
        with engine.connect().execution_options(writes=True) as connection, connection.begin():
            migrate.upgrade(connection)

    def close(self) -> None:
        """Close the database; the store is of no use afterwards."""
        self._held.close()
        self._engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    @contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        with self._engine.connect() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[sa.Connection]:
        with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
            yield connection

    def _tell(self, connection: sa.Connection, action: str, record: str, before: Any, after: Any) -> None:
        connection.execute(
            sa.insert(schema.history).values(
                at=now(), who=self.who, action=action, record=record, before=before, after=after
            )
        )

    # --- references ---------------------------------------------------------------------------------------------

    def add_references(self, new: Sequence[model.NewReference]) -> None:
        """Store references with their passages and marks: all of them, or none."""
        with self._writing() as connection:
            for item in new:
                row = rows.reference_to_row(item.reference)
                connection.execute(sa.insert(schema.reference).values(row))
                if item.passages:
                    connection.execute(sa.insert(schema.passage), [rows.plain(p) for p in item.passages])
                    _put_passage_words(connection, item.passages)
                _put_reference_words(connection, item.reference)
                for mark in item.marks:
                    _put_mark(connection, mark)
                self._tell(connection, "added", f"reference:{item.reference.id}", None, rows.plain(item.reference))

    def change_reference(self, reference: str, **changes: Any) -> model.Reference:
        """Change fields of a reference; nothing is written where nothing differs. Returns it as it now is."""
        with self._writing() as connection:
            before = self._reference(connection, reference)
            after = replace(before, **changes)
            if after != before:
                if after.id != before.id or after.sha256 != before.sha256:
                    raise ValueError("the id and the original of a reference cannot be changed")
                table = schema.reference
                connection.execute(
                    sa.update(table).where(table.c.id == reference).values(rows.reference_to_row(after))
                )
                _put_reference_words(connection, after)
                old, new = rows.plain(before), rows.plain(after)
                changed = [k for k in new if new[k] != old[k]]
                self._tell(
                    connection,
                    "changed",
                    f"reference:{reference}",
                    {k: old[k] for k in changed},
                    {k: new[k] for k in changed},
                )
            return after

    def remove_reference(self, reference: str) -> None:
        """Take a reference out, with its details, passages and marks; its original stays on the disk.

        Raises InUse where a scene stands on it.
        """
        with self._writing() as connection:
            before = self._reference(connection, reference)
            used = [
                column.table.c.scene if "scene" in column.table.c else column.table.c.slug
                for column in (schema.evidence.c.reference, schema.swatch.c.reference, schema.scene.c.key_reference)
            ]
            for column, scene in zip(
                (schema.evidence.c.reference, schema.swatch.c.reference, schema.scene.c.key_reference), used, strict=True
            ):
                found = connection.execute(sa.select(scene).where(column == reference).distinct()).scalars().all()
                if found:
                    raise InUse(
                        f"{before.title!r} is used in the scene {found[0]!r}.",
                        "Take it out of that scene first.",
                        records=(reference, *found),
                    )
            passages = sa.select(schema.passage.c.id).where(schema.passage.c.reference == reference)
            for one in connection.execute(passages).scalars().all():
                connection.execute(sa.text("DELETE FROM passage_words WHERE id = :id"), {"id": one})
            connection.execute(sa.text("DELETE FROM reference_words WHERE id = :id"), {"id": reference})
            for table in (schema.detail, schema.passage, schema.source_mark):
                connection.execute(sa.delete(table).where(table.c.reference == reference))
            connection.execute(sa.delete(schema.reference).where(schema.reference.c.id == reference))
            self._tell(connection, "removed", f"reference:{reference}", rows.plain(before), None)

    def _reference(self, connection: sa.Connection, reference: str) -> model.Reference:
        query = sa.select(schema.reference).where(schema.reference.c.id == reference)
        row = connection.execute(query).mappings().first()
        if row is None:
            raise UnknownRecord(f"There is no reference {reference!r}.", "refarchive list shows them all.")
        return rows.row_to_reference(row)

    def reference(self, reference: str) -> model.Reference:
        """One reference by id. Raises UnknownRecord."""
        with self._reading() as connection:
            return self._reference(connection, reference)

    def references(self, ids: Sequence[str] | None = None) -> list[model.Reference]:
        """All references in the order they were gathered, or those named, in the order named (unknown ids left out)."""
        table = schema.reference
        query = sa.select(table).order_by(table.c.number)
        if ids is not None:
            query = query.where(table.c.id.in_(_listed(ids)))
        with self._reading() as connection:
            found = [rows.row_to_reference(row) for row in connection.execute(query).mappings()]
        if ids is None:
            return found
        by_id = {reference.id: reference for reference in found}
        return [by_id[one] for one in ids if one in by_id]

    def reference_by_sha256(self, sha256: str) -> model.Reference | None:
        """The reference whose original has this digest, if there is one."""
        query = sa.select(schema.reference).where(schema.reference.c.sha256 == sha256)
        with self._reading() as connection:
            row = connection.execute(query).mappings().first()
        return rows.row_to_reference(row) if row else None

    def count(self) -> int:
        """How many references there are."""
        with self._reading() as connection:
            return connection.execute(sa.select(sa.func.count()).select_from(schema.reference)).scalar_one()

    def resolve(self, name: str) -> model.Reference:
        """A reference by id, by file name as gathered, or by a beginning of its id (eight characters or more).

        Raises UnknownRecord or AmbiguousName.
        """
        table = schema.reference
        with self._reading() as connection:

            def match(condition: sa.ColumnElement[bool]) -> list[model.Reference]:
                query = sa.select(table).where(condition).order_by(table.c.number).limit(5)
                return [rows.row_to_reference(row) for row in connection.execute(query).mappings()]

            for condition in (
                table.c.id == name,
                table.c.source_name == name,
                table.c.source_name.endswith(f"/{name}", autoescape=True),
                table.c.id.startswith(name, autoescape=True) if len(name) >= 8 else sa.false(),
            ):
                found = match(condition)
                if len(found) == 1:
                    return found[0]
                if found:
                    raise AmbiguousName(
                        f"{len(found)} references are called {name!r}.",
                        f"Name one by its id: {', '.join(r.id for r in found)}.",
                        records=[r.id for r in found],
                    )
            names = connection.execute(sa.select(table.c.source_name).where(table.c.source_name != "")).scalars().all()
        near = difflib.get_close_matches(name, names, 3)
        hint = f"Did you mean {' or '.join(near)}?" if near else "refarchive list shows them all."
        raise UnknownRecord(f"There is no reference {name!r} in the archive.", hint)

    # --- details and passages -----------------------------------------------------------------------------------

    def add_details(self, details: Sequence[model.Detail]) -> None:
        """Store details; one that is there already takes the new note where it has one."""
        with self._writing() as connection:
            self._add_details(connection, details)

    def _add_details(self, connection: sa.Connection, details: Sequence[model.Detail]) -> None:
        table = schema.detail
        for detail in details:
            row = connection.execute(sa.select(table).where(table.c.id == detail.id)).mappings().first()
            if row is None:
                self._reference(connection, detail.reference)
                connection.execute(sa.insert(table).values(rows.detail_to_row(detail)))
                self._tell(connection, "added", f"detail:{detail.id}", None, rows.plain(detail))
            elif detail.note and detail.note != row["note"]:
                connection.execute(sa.update(table).where(table.c.id == detail.id).values(note=detail.note))
                self._tell(
                    connection, "changed", f"detail:{detail.id}", {"note": row["note"]}, {"note": detail.note}
                )

    def details(self, reference: str | None = None) -> list[model.Detail]:
        """All details, or those of one reference."""
        table = schema.detail
        query = sa.select(table).order_by(table.c.reference, table.c.y, table.c.x)
        if reference is not None:
            query = query.where(table.c.reference == reference)
        with self._reading() as connection:
            return [rows.row_to_detail(row) for row in connection.execute(query).mappings()]

    def detail(self, detail: str) -> model.Detail:
        """One detail by id. Raises UnknownRecord."""
        with self._reading() as connection:
            row = connection.execute(sa.select(schema.detail).where(schema.detail.c.id == detail)).mappings().first()
        if row is None:
            raise UnknownRecord(f"There is no detail {detail!r}.", "Mark it on the picture first.")
        return rows.row_to_detail(row)

    def passages(self, reference: str | None = None) -> list[model.Passage]:
        """All passages, or those of one text, in reading order."""
        table = schema.passage
        query = sa.select(table).order_by(table.c.reference, table.c.number)
        if reference is not None:
            query = query.where(table.c.reference == reference)
        with self._reading() as connection:
            return [rows.plain_row(model.Passage, row) for row in connection.execute(query).mappings()]

    def passage(self, passage: str) -> model.Passage:
        """One passage by id. Raises UnknownRecord."""
        with self._reading() as connection:
            row = connection.execute(sa.select(schema.passage).where(schema.passage.c.id == passage)).mappings().first()
        if row is None:
            raise UnknownRecord(f"There is no passage {passage!r}.", "Find it by its words.")
        result: model.Passage = rows.plain_row(model.Passage, row)
        return result

    # --- marks of gathered folders ------------------------------------------------------------------------------

    def marks(self, root: str) -> dict[str, model.SourceMark]:
        """What was last seen in one gathered folder, by relative path."""
        query = sa.select(schema.source_mark).where(schema.source_mark.c.root == root)
        with self._reading() as connection:
            found = [rows.plain_row(model.SourceMark, row) for row in connection.execute(query).mappings()]
        return {mark.path: mark for mark in found}

    def put_marks(self, marks: Sequence[model.SourceMark]) -> None:
        """Note what was seen; an earlier note of the same place is replaced."""
        if marks:
            with self._writing() as connection:
                for mark in marks:
                    _put_mark(connection, mark)

    # --- scenes -------------------------------------------------------------------------------------------------

    def save_scene(
        self, scene: model.Scene, *, details: Sequence[model.Detail] = (), toml: str = ""
    ) -> model.Scene:
        """Add or revise a scene, with the details it marks. An unchanged one keeps its revision.

        Raises UnknownRecord where it stands on a reference, detail or passage that the archive does not hold; nothing
        is written then.
        """
        table = schema.scene
        try:
            with self._writing() as connection:
                self._add_details(connection, details)
                row = connection.execute(sa.select(table).where(table.c.slug == scene.slug)).mappings().first()
                before = rows.read_scene(connection, row) if row else None
                revision = before.revision if before else 0
                if before == replace(scene, revision=revision, saved_at=before.saved_at if before else ""):
                    if toml and row and toml != row["toml"]:
                        connection.execute(sa.update(table).where(table.c.slug == scene.slug).values(toml=toml))
                    assert before is not None
                    return before
                after = replace(scene, revision=revision + 1, saved_at=now())
                rows.write_scene(connection, after, toml)
                self._tell(
                    connection,
                    "changed" if before else "added",
                    f"scene:{scene.slug}",
                    rows.plain(before) if before else None,
                    rows.plain(after),
                )
                return after
        except sa.exc.IntegrityError as error:
            raise UnknownRecord(
                f"The scene {scene.slug!r} stands on a record that the archive does not hold ({error.orig}).",
                "Gather the reference first, then save the scene again.",
            ) from None

    def _scene_row(self, connection: sa.Connection, slug: str) -> rows.Row:
        row = connection.execute(sa.select(schema.scene).where(schema.scene.c.slug == slug)).mappings().first()
        if row is None:
            known = connection.execute(sa.select(schema.scene.c.slug)).scalars().all()
            hint = f"Scenes here: {', '.join(known)}." if known else "Add one with: refarchive scene ARCHIVE FILE.toml"
            raise UnknownRecord(f"There is no scene {slug!r}.", hint)
        return row

    def scene(self, slug: str) -> model.Scene:
        """One scene. Raises UnknownRecord, naming those there are."""
        with self._reading() as connection:
            return rows.read_scene(connection, self._scene_row(connection, slug))

    def scene_toml(self, slug: str) -> str:
        """The plan as it was written, "" where the scene was not made from one."""
        with self._reading() as connection:
            return str(self._scene_row(connection, slug)["toml"])

    def scenes(self) -> list[model.Scene]:
        """All scenes, in the order they were added."""
        with self._reading() as connection:
            found = connection.execute(sa.select(schema.scene).order_by(schema.scene.c.number)).mappings().all()
            return [rows.read_scene(connection, row) for row in found]

    # --- frames -------------------------------------------------------------------------------------------------

    def add_frame(self, frame: model.Frame) -> model.Frame:
        """Store a frame of a scene; one that is there already is returned as it is."""
        table = schema.frame
        with self._writing() as connection:
            self._scene_row(connection, frame.scene)
            row = connection.execute(sa.select(table).where(table.c.id == frame.id)).mappings().first()
            if row is not None:
                return model.Frame(**{k: v for k, v in row.items() if k != "number"})
            connection.execute(sa.insert(table).values(rows.plain(frame)))
            self._tell(connection, "added", f"frame:{frame.id}", None, rows.plain(frame))
            return frame

    def frames(self, scene: str) -> list[model.Frame]:
        """The frames of a scene, in the order they came."""
        query = sa.select(schema.frame).where(schema.frame.c.scene == scene).order_by(schema.frame.c.number)
        with self._reading() as connection:
            return [rows.plain_row(model.Frame, row) for row in connection.execute(query).mappings()]

    def note_frames(self, notes: Sequence[model.FrameNote]) -> None:
        """Keep what the person says of frames; an earlier word on the same subject is replaced, and told in history."""
        table = schema.frame_note
        with self._writing() as connection:
            for note in notes:
                key = (table.c.frame == note.frame) & (table.c.subject == note.subject)
                row = connection.execute(sa.select(table).where(key)).mappings().first()
                before = rows.plain_row(model.FrameNote, row) if row else None
                if before == note:
                    continue
                connection.execute(sa.delete(table).where(key))
                connection.execute(sa.insert(table).values(rows.plain(note)))
                self._tell(
                    connection,
                    "changed" if before else "added",
                    f"frame:{note.frame}",
                    rows.plain(before) if before else None,
                    rows.plain(note),
                )

    def frame_notes(self, frame: str) -> list[model.FrameNote]:
        """What was said of a frame, by subject."""
        table = schema.frame_note
        query = sa.select(table).where(table.c.frame == frame).order_by(table.c.subject)
        with self._reading() as connection:
            return [rows.plain_row(model.FrameNote, row) for row in connection.execute(query).mappings()]

    # --- settings and history -----------------------------------------------------------------------------------

    def setting(self, key: str, default: Any = None) -> Any:
        """One setting of the archive."""
        with self._reading() as connection:
            row = connection.execute(sa.select(schema.setting.c.value).where(schema.setting.c.key == key)).first()
        return row[0] if row else default

    def set_setting(self, key: str, value: Any) -> None:
        """Change one setting (any JSON value)."""
        table = schema.setting
        with self._writing() as connection:
            row = connection.execute(sa.select(table.c.value).where(table.c.key == key)).first()
            if row is not None and row[0] == value:
                return
            connection.execute(sa.delete(table).where(table.c.key == key))
            connection.execute(sa.insert(table).values(key=key, value=value))
            self._tell(
                connection, "changed" if row else "added", f"setting:{key}", {"value": row[0]} if row else None,
                {"value": value},
            )  # fmt: skip

    def history(self, record: str | None = None, limit: int = 1000) -> list[model.Change]:
        """The latest changes, newest first; of one record ("reference:<id>", "scene:<slug>") where named."""
        table = schema.history
        query = sa.select(table).order_by(table.c.number.desc()).limit(min(limit, MAX_HISTORY))
        if record is not None:
            query = query.where(table.c.record == record)
        with self._reading() as connection:
            return [rows.plain_row(model.Change, row) for row in connection.execute(query).mappings()]

    # --- selecting ----------------------------------------------------------------------------------------------

    def select(self, wanted: model.Filter) -> list[str]:
        """Ids of the references that pass a filter, in the order they were gathered."""
        query = sa.select(schema.reference.c.id).where(*_conditions(wanted)).order_by(schema.reference.c.number)
        with self._reading() as connection:
            return list(connection.execute(query).scalars())

    def undated(self, wanted: model.Filter) -> int:
        """How many references a period left out only because they have no date."""
        if wanted.earliest is None and wanted.latest is None:
            return 0
        table = schema.reference
        rest = _conditions(replace(wanted, earliest=None, latest=None))
        query = sa.select(sa.func.count()).select_from(table).where(table.c.date_edtf.is_(None), *rest)
        with self._reading() as connection:
            return connection.execute(query).scalar_one()

    def search_words(
        self, match: str, *, table: str, allowed: Collection[str] | None = None, limit: int = 200
    ) -> list[tuple[str, float]]:
        """Best matches of an FTS5 query, as `(id, bm25)`, lower is better.

        `table` is "references" or "passages" (ids of passages come back); `allowed` are reference ids, applied before
        the cut to `limit`.
        """
        if not match:
            return []
        if table == "references":
            source, owner = "reference_words", "reference_words.id"
        else:
            source, owner = "passage_words JOIN passage ON passage.id = passage_words.id", "passage.reference"
        name = source.split()[0]
        narrowed = f"AND {owner} IN (SELECT value FROM json_each(:allowed))" if allowed is not None else ""
        query = (
            f"SELECT {name}.id, bm25({name}) AS rank FROM {source} "  # noqa: S608 (names are ours)
            f"WHERE {name} MATCH :match {narrowed} ORDER BY rank, {name}.id LIMIT :limit"
        )
        values = {"match": folded(match), "limit": limit, "allowed": json.dumps(list(allowed or ()))}
        if allowed is None:
            del values["allowed"]
        with self._reading() as connection:
            return [(row[0], float(row[1])) for row in connection.execute(sa.text(query), values)]


def _login() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


def _listed(values: Sequence[str]) -> Any:
    """Any number of values for an IN, beyond SQLite's limit on bound variables."""
    return sa.select(sa.func.json_each(json.dumps(list(values))).table_valued("value").c.value)


def _conditions(wanted: model.Filter) -> list[sa.ColumnElement[bool]]:
    table = schema.reference
    found: list[sa.ColumnElement[bool]] = []
    if wanted.earliest is not None or wanted.latest is not None:
        found.append(table.c.date_edtf.is_not(None))
    if wanted.latest is not None:
        found.append(table.c.earliest.is_(None) | (table.c.earliest <= wanted.latest))
    if wanted.earliest is not None:
        found.append(table.c.latest.is_(None) | (table.c.latest >= wanted.earliest))
    if wanted.kinds:
        found.append(table.c.kind.in_(wanted.kinds))
    if wanted.witnesses:
        found.append(table.c.witness.in_(wanted.witnesses))
    if wanted.places:
        found.append(sa.or_(*(table.c.place.icontains(place, autoescape=True) for place in wanted.places)))
    if wanted.rights:
        found.append(sa.or_(*(table.c.rights.icontains(words, autoescape=True) for words in wanted.rights)))
    if wanted.subjects:
        subject = sa.func.json_each(table.c.subjects).table_valued("value")
        folded_subjects = [s.casefold() for s in wanted.subjects]
        found.append(sa.exists(sa.select(1).select_from(subject).where(sa.func.lower(subject.c.value).in_(folded_subjects))))
    if wanted.scene:
        used = sa.select(schema.evidence.c.reference).where(schema.evidence.c.scene == wanted.scene)
        found.append(table.c.id.in_(used))
    return found


def _put_mark(connection: sa.Connection, mark: model.SourceMark) -> None:
    table = schema.source_mark
    connection.execute(sa.delete(table).where(table.c.root == mark.root, table.c.path == mark.path))
    connection.execute(sa.insert(table).values(rows.plain(mark)))


def _put_reference_words(connection: sa.Connection, reference: model.Reference) -> None:
    values = {
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
    connection.execute(sa.text("DELETE FROM reference_words WHERE id = :id"), {"id": reference.id})
    _put_words(connection, "reference_words", [values])


def _put_passage_words(connection: sa.Connection, passages: Sequence[model.Passage]) -> None:
    _put_words(connection, "passage_words", [{"id": p.id, "text": p.text} for p in passages])


def _put_words(connection: sa.Connection, table: str, values: Sequence[dict[str, str]]) -> None:
    columns = schema.WORD_TABLES[table]
    named = ", ".join(f":{c}" for c in columns)
    connection.execute(
        sa.text(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({named})"),  # noqa: S608 (names are ours)
        [{c: v if c == "id" else folded(v) for c, v in row.items()} for row in values],
    )
