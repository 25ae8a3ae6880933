"""Whether the rows still say what they said: a digest of each row, held against the history.

SQLite's own check looks at the structure of its pages and not at what rows say: a flipped bit in a title goes unseen.
A page checksum would see it, but Python's SQLite has none. So `verify`, where it finds nothing wrong, keeps a tally
beside the database: a CRC-32 of each row, and how far the history had come. Next time a row that is another, though
no change of it is told since, is damage. It costs nothing when records are written. What came in since the last tally
is held against the history alone, which keeps a second copy of most of what is said.
"""

from __future__ import annotations

import json
import os
import zlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from refarchive import leftovers
from refarchive.records import rows, schema
from refarchive.records.bounded import read_bounded

FILE = "archive.sqlite.tally"
LARGEST = 10_000_000  # bytes; some hundred are the rule
# Bookkeeping and caches without a history; damage there makes a file be looked at, or measured, again.
_UNTOLD = {"source_mark", "frame_look"}
# Tables whose rows follow from a told record, with the column that holds the record's name. All others only grow.
_OF_RECORD: dict[str, tuple[str, str]] = {
    "reference": ("reference", "id"),
    "passage": ("reference", "reference"),
    "scene": ("scene", "slug"),
    **dict.fromkeys(("scene_line", "figure", "need", "swatch", "evidence"), ("scene", "scene")),
    "frame_note": ("frame", "frame"),
    "particulars": ("picture", "frame"),
    "setting": ("setting", "key"),
}
_FAMILY = {"family", "family_member", "not_family"}  # any word on families may join or part others


@dataclass(frozen=True)
class Tally:
    """Digests of rows by table and key, and the number of the last change told by then."""

    version: str
    last: int
    sums: dict[str, dict[str, int]]


def taken(connection: sa.Connection, version: str) -> Tally:
    """The tally of all rows as they are now."""
    sums = {
        table.name: {key: _sum(values) for key, values in _rows(connection, table)}
        for table in schema.metadata.sorted_tables
        if table.name not in _UNTOLD
    }
    told = connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master")
    sums["schema"] = {json.dumps([str(row[1])]): _sum(row) for row in told}  # how the tables are made
    last = connection.execute(sa.select(sa.func.max(schema.history.c.number))).scalar() or 0
    return Tally(version, last, sums)


def changed_untold(before: Tally, after: Tally, connection: sa.Connection) -> list[str]:
    """Sentences on rows that are not what they were, though the history tells of no change."""
    if before.version != after.version:
        return []  # brought up to date since: every row may have been written anew
    table = schema.history
    told = set(connection.execute(sa.select(table.c.record).where(table.c.number > before.last)).scalars())
    families = any(record.startswith(("family:", "not-family:")) for record in told)
    wrong = []
    for name, sums in before.sums.items():
        now = after.sums.get(name, {})
        for key, was in sums.items():
            if now.get(key) == was or (name in _FAMILY and families) or told & _records(name, json.loads(key)):
                continue
            what = "is gone" if key not in now else "is not what it was"
            wrong.append(f"In the database, {name} {_shown(key)} {what}, and no change of it was ever told.")
    return wrong


def against_history(connection: sa.Connection) -> list[str]:
    """Sentences on records that are not what the history last said of them. Fields of a later version are left out."""
    table = schema.history
    last: dict[str, Any] = {}
    stated: dict[str, dict[str, Any]] = {}
    wrong = []
    for change in connection.execute(sa.select(table).order_by(table.c.number)):
        kind = change.record.partition(":")[0]
        if kind == "frame" and "sha256" not in (change.after or {}):
            continue  # a word on a frame, not the frame
        if kind in ("reference", "detail"):
            earlier = stated.get(change.record, {})
            if change.action == "changed" and not _agree(
                change.before, {k: earlier.get(k) for k in change.before or {}}
            ):
                wrong.append(f"The history of {change.record} contradicts itself at change {change.number}.")
            stated[change.record] = {**earlier, **(change.after or {})} if change.action != "removed" else {}
            last[change.record] = stated[change.record] or None
        elif kind in ("scene", "setting", "print", "sitting", "judgement", "arrangement", "picture", "frame"):
            last[change.record] = change.after
    now = _told_now(connection)
    for record, said in last.items():
        if (said is None) != (record not in now) or (said is not None and not _agree(said, now[record])):
            wrong.append(f"What the archive holds as {record} is not what the history last says of it.")
    kinds = {record.partition(":")[0] for record in last}
    for record in now:
        if record not in last and record.partition(":")[0] in kinds:
            wrong.append(f"The history does not tell how {record} came to be.")
    return wrong


def read(folder: Path) -> Tally | None:
    """The tally kept, None where there is none that can be read."""
    try:
        check, _, content = read_bounded(folder / FILE, LARGEST).partition(b"\n")
        if int(check, 16) != zlib.crc32(content):
            return None
        said = json.loads(content)
        return Tally(str(said["version"]), int(said["last"]), dict(said["sums"]))
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return None


def keep(folder: Path, tally: Tally) -> None:
    """Keep a tally, whole or not at all; a folder that cannot be written goes without."""
    content = json.dumps({"version": tally.version, "last": tally.last, "sums": tally.sums}).encode("ascii")
    part = folder / f"{leftovers.prefix('making')}tally"
    with suppress(OSError):
        try:
            part.write_bytes(b"%08x\n%s" % (zlib.crc32(content), content))
            os.replace(part, folder / FILE)
        finally:
            part.unlink(missing_ok=True)


def _rows(connection: sa.Connection, table: sa.Table) -> Iterator[tuple[str, tuple[Any, ...]]]:
    # As SQLite holds them: JSON is not parsed, so that what no longer is JSON can be read too.
    names = [column.name for column in table.columns]
    keys = [names.index(column.name) for column in table.primary_key.columns]
    listed = ", ".join(f'"{name}"' for name in names)
    for row in connection.exec_driver_sql(f'SELECT {listed} FROM "{table.name}"'):  # noqa: S608
        values = tuple(row)
        known = _named(table.name, dict(zip(names, values, strict=True)))
        yield json.dumps([str(values[k]) for k in keys] + known), values


def _named(table: str, row: dict[str, Any]) -> list[str]:
    """What names the record of a row, kept with its key: the row itself may be the one that is damaged."""
    if table == "detail":
        return [str(row["id"]), str(row["reference"])]
    return [str(row[_OF_RECORD[table][1]])] if table in _OF_RECORD else []


def _records(table: str, key: list[str]) -> set[str]:
    if table == "detail":
        return {f"detail:{key[-2]}", f"reference:{key[-1]}"}
    return {f"{_OF_RECORD[table][0]}:{key[-1]}"} if table in _OF_RECORD else set()


def _sum(values: Iterable[Any]) -> int:
    return zlib.crc32(repr(tuple(values)).encode("utf-8", "backslashreplace"))


def _shown(key: str) -> str:
    return " ".join(dict.fromkeys(json.loads(key)))


def _told_now(connection: sa.Connection) -> dict[str, Any]:
    """Records as the tables hold them now, in the form in which the history tells of them."""
    now: dict[str, Any] = {}

    def each(table: sa.Table) -> Iterator[Any]:
        return iter(connection.execute(sa.select(table)).mappings().all())

    for row in each(schema.reference):
        now[f"reference:{row['id']}"] = rows.plain(rows.row_to_reference(row))
    for row in each(schema.detail):
        now[f"detail:{row['id']}"] = rows.plain(rows.row_to_detail(row))
    for row in each(schema.scene):
        now[f"scene:{row['slug']}"] = rows.plain(rows.read_scene(connection, row))
    for row in each(schema.setting):
        now[f"setting:{row['key']}"] = {"value": row["value"]}
    for name, table, key in (
        ("frame", schema.frame, "id"),
        ("print", schema.work_print, "id"),
        ("sitting", schema.sitting, "id"),
        ("judgement", schema.judgement, "number"),
        ("arrangement", schema.arrangement, "number"),
    ):
        for row in each(table):
            now[f"{name}:{row[key]}"] = dict(row)
    for row in each(schema.particulars):
        now[f"picture:{row['frame']}"] = row["told"]
    return now


def _agree(said: Any, held: Any) -> bool:
    """Whether two values say the same as JSON, fields that only one of them has left out."""
    if isinstance(said, dict) and isinstance(held, dict):
        return all(_agree(value, held[key]) for key, value in said.items() if key in held)
    if isinstance(said, list | tuple) and isinstance(held, list | tuple):
        return len(said) == len(held) and all(_agree(a, b) for a, b in zip(said, held, strict=True))
    return bool(said == held or (said in ("", None) and held in ("", None)))


__all__ = ["FILE", "Tally", "against_history", "changed_untold", "keep", "read", "taken"]
