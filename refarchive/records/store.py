"""The store: the records, through SQLAlchemy Core. Every change is one transaction with its own history.

Methods take and return the dataclasses of `model`. They lie in `archive.sqlite`, or, for a shared archive, in a
PostgreSQL database. A store may be open in several processes at once, and a shared one on several machines; one of
them writes at a time, and each sees what the others committed.
"""

from __future__ import annotations

import difflib
import getpass
import os
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa

from refarchive.errors import AmbiguousName, ChangedMeanwhile, RecordRefused, UnknownRecord
from refarchive.records import model, rests_on, rows, schema, selecting, sqlite, taking_out
from refarchive.records.families import Families
from refarchive.records.hung import AfterTheShoot
from refarchive.records.looked import Looked
from refarchive.records.shared import Shared, make, ready
from refarchive.records.sql import listed_later
from refarchive.records.sqlite import DATABASE, folded

__all__ = ["DATABASE", "Store", "folded", "now"]

MAX_HISTORY = 100_000

# What every question asks is put together once: to do it each time takes longer than the database's own part.
_EVERY = sa.select(schema.reference).order_by(schema.reference.c.number)
_NAMED = _EVERY.where(schema.reference.c.id.in_(listed_later("ids")))
_ANY = sa.select(schema.reference.c.number).limit(1)
_LATEST = (
    sa.select(schema.history.c.number, schema.history.c.at, schema.history.c.record)
    .order_by(schema.history.c.number.desc())
    .limit(1)
)


def now() -> str:
    """The present moment, UTC, ISO 8601 to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


class Store:
    """The records of one archive folder."""

    def __init__(self, folder: Path, engine: sa.Engine, who: str) -> None:
        self.folder = folder
        self.who = who or os.environ.get("REFARCHIVE_WHO", "") or _login()
        self._engine = engine
        with sqlite.reading(engine):
            pass  # a database that cannot be reached is named at once
        self.families = Families(self._reading, self._writing, self._tell)
        self.looked = Looked(self._reading, self._writing, self._tell)
        self.after = AfterTheShoot(self._reading, self._writing, self._tell)

    # --- opening ------------------------------------------------------------------------------------------------

    @classmethod
    def create(cls, folder: Path, who: str = "", shared: Shared | None = None) -> Store:
        """Make the database in an existing folder, or in the PostgreSQL database named, whole or not at all.

        Raises ArchiveInTheWay where there is one, ArchiveUnwritable where the folder is not there or cannot be written.
        """
        return cls(folder, make(folder, shared), who)

    @classmethod
    def open(cls, folder: Path, who: str = "") -> Store:
        """Open the database in `folder`, bringing an older one up to date first (a copy of it is kept beside it).

        Raises ArchiveMissing, ArchiveDamaged, ArchiveTooNew, ArchiveBusy or ArchiveUnwritable.
        """
        return cls(folder, ready(folder), who)

    @property
    def shared(self) -> sa.Engine | None:
        """Connections to the PostgreSQL database of a shared archive, None where the records lie in the folder."""
        return None if self._engine.dialect.name == "sqlite" else self._engine

    def close(self) -> None:
        """Close the database; the store is of no use afterwards."""
        self._engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        with sqlite.reading(self._engine) as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[sa.Connection]:
        with sqlite.writing(self._engine) as connection:
            yield connection

    def _tell(self, connection: sa.Connection, action: str, record: str, before: Any, after: Any) -> None:
        connection.execute(
            sa.insert(schema.history).values(
                at=now(), who=self.who, action=action, record=record, before=before, after=after
            )
        )

    # --- references ---------------------------------------------------------------------------------------------

    def add_references(self, new: Sequence[model.NewReference]) -> None:
        """Store references with their passages and marks: all of them, or none.

        One that is held already (same id, same original) is left as it is, so that two programs may gather the same
        folder at once; its marks are kept.

        Raises RecordRefused where an id is held by another original, or an original by another id.
        """
        with self._writing() as connection:
            for item in new:
                reference = item.reference
                if not self._held_already(connection, reference):
                    connection.execute(sa.insert(schema.reference).values(rows.reference_to_row(reference)))
                    if item.passages:
                        connection.execute(sa.insert(schema.passage), [rows.plain(p) for p in item.passages])
                        selecting.put_passage_words(connection, item.passages)
                    selecting.put_reference_words(connection, reference)
                    self._tell(connection, "added", f"reference:{reference.id}", None, rows.plain(reference))
                for mark in item.marks:
                    _put_mark(connection, mark)

    def _held_already(self, connection: sa.Connection, reference: model.Reference) -> bool:
        table = schema.reference
        same = table.c.id == reference.id
        if reference.sha256:
            same |= table.c.sha256 == reference.sha256
        for row in connection.execute(sa.select(table.c.id, table.c.sha256).where(same)):
            if (row.id, row.sha256 or "") != (reference.id, reference.sha256):
                raise RecordRefused(
                    f"{reference.title!r} would have the id {reference.id!r}, and {row.id!r} is another record.",
                    "Give it an id of its own.",
                    records=(reference.id, row.id),
                )
            return True
        return False

    def change_reference(self, reference: str, **changes: Any) -> model.Reference:
        """Change fields of a reference; nothing is written where nothing differs. Returns it as it now is.

        Raises UnknownRecord, or RecordRefused for a field or value that a reference cannot have.
        """
        changes = _checked_changes(changes)
        with self._writing() as connection:
            before = self._reference(connection, reference)
            after = replace(before, **changes)
            if after != before:
                table = schema.reference
                connection.execute(sa.update(table).where(table.c.id == reference).values(rows.reference_to_row(after)))
                selecting.put_reference_words(connection, after, replacing=True)
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

    def remove_reference(self, *references: str) -> None:
        """Take references out, with their details, passages and marks; their originals stay on the disk.

        The history keeps what was said of them and of their details. Raises UnknownRecord, or InUse where a scene
        stands on one of them; none is taken out then.
        """
        with self._writing() as connection:
            for one in references:
                self._tell_removed(connection, taking_out.reference(connection, self._reference(connection, one)))

    def _tell_removed(self, connection: sa.Connection, gone: taking_out.Gone) -> None:
        for record, before in gone.items():
            self._tell(connection, "removed", record, before, None)

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
        with self._reading() as connection:
            told = connection.execute(_EVERY) if ids is None else connection.execute(_NAMED, {"ids": ids})
            found = [rows.row_to_reference(row) for row in told.mappings()]
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

    def references_named(self, source_name: str, *, beginning: bool = False) -> list[model.Reference]:
        """The references gathered from a file of this name, or of names that begin so, in the order of gathering."""
        table = schema.reference
        name: Any = table.c.source_name
        if beginning:  # cut to length rather than by LIKE, to which "A" is the same as "a" in SQLite
            name = sa.func.substr(name, 1, len(source_name))
        query = sa.select(table).where(name == source_name).order_by(table.c.number)
        with self._reading() as connection:
            return [rows.row_to_reference(row) for row in connection.execute(query).mappings()]

    def count(self) -> int:
        """How many references there are."""
        with self._reading() as connection:
            return connection.execute(sa.select(sa.func.count()).select_from(schema.reference)).scalar_one()

    def empty(self) -> bool:
        """Whether there is no reference at all; unlike `count`, as quick in a large archive."""
        with self._reading() as connection:
            return connection.execute(_ANY).first() is None

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
                table.c.source_name.iendswith(f"/{name}", autoescape=True),
                table.c.id.istartswith(name, autoescape=True) if len(name) >= 8 else sa.false(),
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
        """Store details; one that is there already takes the new note where it has one.

        Raises UnknownRecord for an unknown reference, RecordRefused for a region that is not on the picture.
        """
        with self._writing() as connection:
            self._add_details(connection, details)

    def _add_details(self, connection: sa.Connection, details: Sequence[model.Detail]) -> None:
        table = schema.detail
        for detail in details:
            rests_on.check_region(detail.region)
            row = connection.execute(sa.select(table).where(table.c.id == detail.id)).mappings().first()
            if row is None:
                self._reference(connection, detail.reference)
                connection.execute(sa.insert(table).values(rows.detail_to_row(detail)))
                self._tell(connection, "added", f"detail:{detail.id}", None, rows.plain(detail))
            elif detail.note and detail.note != row["note"]:
                connection.execute(sa.update(table).where(table.c.id == detail.id).values(note=detail.note))
                self._tell(connection, "changed", f"detail:{detail.id}", {"note": row["note"]}, {"note": detail.note})

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

    def remove_detail(self, *details: str) -> None:
        """Take details out, or none. Raises UnknownRecord, or InUse where a scene has one of them as evidence."""
        with self._writing() as connection:
            for one in details:
                self._tell_removed(connection, taking_out.detail(connection, one))

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
        table = schema.source_mark
        query = sa.select(*(table.c[field.name] for field in fields(model.SourceMark))).where(table.c.root == root)
        with self._reading() as connection:
            return {row.path: model.SourceMark(*row) for row in connection.execute(query)}

    def put_marks(self, marks: Sequence[model.SourceMark]) -> None:
        """Note what was seen; an earlier note of the same place is replaced.

        Marks are bookkeeping, not cataloguing: no history is kept of them. Raises UnknownRecord where one names a
        reference that is not there.
        """
        if marks:
            with self._writing() as connection:
                for mark in marks:
                    if mark.reference is not None:
                        self._reference(connection, mark.reference)
                    _put_mark(connection, mark)

    # --- scenes -------------------------------------------------------------------------------------------------

    def save_scene(
        self,
        scene: model.Scene,
        *,
        details: Sequence[model.Detail] = (),
        toml: str = "",
        expected: int | None = None,
    ) -> model.Scene:
        """Add or revise a scene, with the details it marks. An unchanged one keeps its revision.

        `expected` is the revision that the change was made on; None writes over whatever there is.

        Raises UnknownRecord where it stands on a reference, detail or passage that the archive does not hold,
        RecordRefused where it says something twice or impossible, and ChangedMeanwhile where the archive holds another
        revision than `expected`; nothing is written then.
        """
        table = schema.scene
        with self._writing() as connection:
            self._add_details(connection, details)
            row = connection.execute(sa.select(table).where(table.c.slug == scene.slug)).mappings().first()
            before = rows.read_scene(connection, row) if row else None
            revision = before.revision if before else 0
            if expected is not None and revision != expected:
                raise ChangedMeanwhile(
                    f"The scene {scene.slug!r} was changed meanwhile: it is at revision {revision}, and this change "
                    f"was made on {expected}.",
                    "Refresh, and make the change again.",
                    records=(scene.slug,),
                )
            if before == replace(scene, revision=revision, saved_at=before.saved_at if before else ""):
                if toml and row and toml != row["toml"]:
                    connection.execute(sa.update(table).where(table.c.slug == scene.slug).values(toml=toml))
                assert before is not None
                return before
            rests_on.check_scene(connection, scene)
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

    def remove_scene(self, *slugs: str) -> None:
        """Take scenes out, or none; the history keeps them. Raises UnknownRecord, or InUse where frames were shot."""
        with self._writing() as connection:
            for one in slugs:
                self._tell_removed(connection, taking_out.scene(connection, one, self._scene_row(connection, one)))

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

    def frame(self, frame: str) -> model.Frame:
        """One frame by id. Raises UnknownRecord."""
        with self._reading() as connection:
            return self._frame(connection, frame)

    def _frame(self, connection: sa.Connection, frame: str) -> model.Frame:
        row = connection.execute(sa.select(schema.frame).where(schema.frame.c.id == frame)).mappings().first()
        if row is None:
            raise UnknownRecord(f"There is no frame {frame!r}.", "Check the frame against its scene first.")
        found: model.Frame = rows.plain_row(model.Frame, row)
        return found

    def note_frames(self, notes: Sequence[model.FrameNote]) -> None:
        """Keep what the person says of frames; an earlier word on the same subject is replaced, and told in history.

        Raises UnknownRecord for a frame that is not there.
        """
        table = schema.frame_note
        with self._writing() as connection:
            for note in notes:
                self._frame(connection, note.frame)
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

    def last_change(self) -> tuple[int, str, str]:
        """Number, moment and record of the latest change, 0 and empty where there is none."""
        with self._reading() as connection:
            row = connection.execute(_LATEST).first()
        return (row.number, row.at, row.record) if row else (0, "", "")

    # --- selecting ----------------------------------------------------------------------------------------------

    def select(self, wanted: model.Filter) -> list[str]:
        """Ids of the references that pass a filter, in the order they were gathered.

        Raises BadQuery for a kind or witness that does not exist, UnknownRecord for a scene that does not.
        """
        table = schema.reference
        with self._reading() as connection:
            passes = selecting.conditions(connection, wanted)
            if wanted.scene:
                self._scene_row(connection, wanted.scene)
            query = sa.select(table.c.id).where(*passes).order_by(table.c.number)
            return list(connection.execute(query).scalars())

    def undated(self, wanted: model.Filter) -> int:
        """How many references a period left out only because they have no date."""
        if wanted.earliest is None and wanted.latest is None:
            return 0
        table = schema.reference
        with self._reading() as connection:
            rest = selecting.conditions(connection, replace(wanted, earliest=None, latest=None))
            query = sa.select(sa.func.count()).select_from(table).where(~selecting.dated(), *rest)
            return connection.execute(query).scalar_one()

    def search_words(
        self, match: str, *, table: str, allowed: Collection[str] | None = None, limit: int = 200
    ) -> list[tuple[str, float]]:
        """Best matches of an FTS5 query, as `(id, bm25)`, lower is better.

        `table` is "references" or "passages" (ids of passages come back); `allowed` are reference ids, applied before
        the cut to `limit`. Raises BadQuery where the query cannot be read.
        """
        with self._reading() as connection:
            return selecting.search(connection, match, table, allowed, limit)


def _login() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


def _checked_changes(changes: dict[str, Any]) -> dict[str, Any]:
    """Changes to a reference, refused where it has no such field or the field cannot take the value."""
    known = {f.name for f in fields(model.Reference)}
    for name, value in changes.items():
        if name not in known:
            raise RecordRefused(f"A reference has no field {name!r}.", f"Its fields: {', '.join(sorted(known))}.")
        if name in ("id", "sha256", "added_at"):
            raise RecordRefused(f"The {name} of a reference cannot be changed.", "Gather the other file instead.")
        if name == "kind" and value not in model.KINDS:
            raise RecordRefused(f"There is no kind {value!r}.", f"There are: {', '.join(model.KINDS)}.")
    if "witness" in changes:
        try:
            changes = {**changes, "witness": model.Witness(changes["witness"])}
        except ValueError:
            raise RecordRefused(
                f"There is no kind of witness {changes['witness']!r}.",
                f"There are: {', '.join(w.value for w in model.Witness)}.",
            ) from None
    if "subjects" in changes:
        changes = {**changes, "subjects": tuple(changes["subjects"])}
    return changes


def _put_mark(connection: sa.Connection, mark: model.SourceMark) -> None:
    table = schema.source_mark
    connection.execute(sa.delete(table).where(table.c.root == mark.root, table.c.path == mark.path))
    connection.execute(sa.insert(table).values(rows.plain(mark)))
