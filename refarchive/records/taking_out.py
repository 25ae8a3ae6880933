"""Records taken out: what goes with them, and what stands on them and so keeps them in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa

from refarchive.errors import InUse, UnknownRecord
from refarchive.records import model, rests_on, rows, schema, selecting

Gone = Mapping[str, dict[str, Any]]  # what was taken out, by the name that the history has for it, as it was


def reference(connection: sa.Connection, before: model.Reference) -> Gone:
    """Take a reference out, with its details, passages and marks. Raises InUse where a scene or a family has it."""
    member = sa.select(schema.family_member).where(schema.family_member.c.reference == before.id)
    if connection.execute(member).first():
        raise InUse(f"{before.title!r} is in a family.", "Take it out of its family first.", records=(before.id,))
    if found := rests_on.scenes_on(connection, before.id):
        raise InUse(
            f"{before.title!r} is used in the scene {found[0]!r}.",
            "Take it out of that scene first.",
            records=(before.id, *found),
        )
    query = sa.select(schema.detail).where(schema.detail.c.reference == before.id)
    details = [rows.row_to_detail(row) for row in connection.execute(query).mappings()]
    selecting.drop_words(connection, before.id)
    for table in (schema.detail, schema.passage, schema.source_mark):
        connection.execute(sa.delete(table).where(table.c.reference == before.id))
    connection.execute(sa.delete(schema.reference).where(schema.reference.c.id == before.id))
    gone = {f"detail:{detail.id}": rows.plain(detail) for detail in details}
    return {**gone, f"reference:{before.id}": rows.plain(before)}


def detail(connection: sa.Connection, detail: str) -> Gone:
    """Take a detail out. Raises UnknownRecord, or InUse where a scene has it as evidence."""
    table = schema.detail
    row = connection.execute(sa.select(table).where(table.c.id == detail)).mappings().first()
    if row is None:
        raise UnknownRecord(f"There is no detail {detail!r}.", "Nothing was removed.")
    used = sa.select(schema.evidence.c.scene).where(schema.evidence.c.detail == detail)
    sited = sa.select(schema.scene.c.slug).where(rests_on.in_site(detail))
    if found := connection.execute(used.union(sited)).scalars().all():
        raise InUse(
            f"The detail {detail!r} is evidence in the scene {found[0]!r}.",
            "Take it out of that scene first.",
            records=(detail, *found),
        )
    connection.execute(sa.delete(table).where(table.c.id == detail))
    return {f"detail:{detail}": rows.plain(rows.row_to_detail(row))}


def scene(connection: sa.Connection, slug: str, row: rows.Row) -> Gone:
    """Take a scene out. Raises InUse where frames were shot for it."""
    shot = sa.select(schema.frame.c.id).where(schema.frame.c.scene == slug).order_by(schema.frame.c.number)
    if frames := connection.execute(shot).scalars().all():
        raise InUse(
            f"{len(frames)} frames were shot for the scene {slug!r}.",
            "Keep the scene, for its frames cannot be without one.",
            records=(slug, *frames),
        )
    before = rows.plain(rows.read_scene(connection, row))
    connection.execute(sa.delete(schema.scene).where(schema.scene.c.slug == slug))
    return {f"scene:{slug}": before}
