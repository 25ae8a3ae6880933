"""What a scene stands on, checked before it is stored, so that a sentence can name the very thing that is missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

import sqlalchemy as sa

from refarchive.errors import RecordRefused, UnknownRecord
from refarchive.records import model, schema
from refarchive.records.sql import elements, holds, listed


def check_scene(connection: sa.Connection, scene: model.Scene) -> None:
    """Refuse a scene that names what the archive does not hold, or the same slug twice.

    Raises
    ------
    UnknownRecord
        for a reference, detail or passage that is not there, or belongs to another reference than the one named.
    RecordRefused
        for a slug used twice, or a relation that does not exist.
    """
    for what, slugs in (("need", [n.slug for n in scene.needs]), ("figure", [f.slug for f in scene.figures])):
        twice = [slug for slug, times in Counter(slugs).items() if times > 1]
        if twice:
            raise RecordRefused(f"The scene {scene.slug!r} has two {what}s called {twice[0]!r}.", "Rename one of them.")
    evidence = [(f"need {need.slug!r}", e) for need in scene.needs for e in need.evidence]
    if scene.site:
        evidence += [(f"place {place.name!r}", e) for place in scene.site.candidates for e in place.evidence]
    for where, one in evidence:
        if one.relation not in model.RELATIONS:
            raise RecordRefused(
                f"The {where} has evidence with the relation {one.relation!r}.",
                f"Relations are: {', '.join(model.RELATIONS)}.",
            )
    named = [("key reference", scene.key_reference)] if scene.key_reference else []
    named += [("intent", one) for one in scene.intent.like]
    named += [(f"need {need.slug!r}", s.reference) for need in scene.needs for s in need.swatches]
    named += [(where, e.reference) for where, e in evidence]
    known = _owners(connection, schema.reference, schema.reference.c.id, {one for _, one in named})
    for where, reference in named:
        if reference not in known:
            raise _unknown(scene, where, "reference", reference)
    details = _owners(connection, schema.detail, schema.detail.c.reference, {e.detail for _, e in evidence if e.detail})
    passages = _owners(
        connection, schema.passage, schema.passage.c.reference, {e.passage for _, e in evidence if e.passage}
    )
    for where, e in evidence:
        for what, part, owners in (("detail", e.detail, details), ("passage", e.passage, passages)):
            if part is None:
                continue
            if part not in owners:
                raise _unknown(scene, where, what, part)
            if owners[part] != e.reference:
                raise UnknownRecord(
                    f"The {where} of the scene {scene.slug!r} names {part!r} as a {what} of "
                    f"{e.reference!r}, but it belongs to {owners[part]!r}.",
                    f"Name {owners[part]!r} as the reference.",
                    records=(part, e.reference, owners[part]),
                )


def _owners(connection: sa.Connection, table: sa.Table, owner: sa.Column[str], ids: Collection[str]) -> dict[str, str]:
    query = sa.select(table.c.id, owner.label("owner")).where(table.c.id.in_(listed(ids)))
    return {row.id: row.owner for row in connection.execute(query)}


def _unknown(scene: model.Scene, where: str, what: str, one: str) -> UnknownRecord:
    return UnknownRecord(
        f"The scene {scene.slug!r} ({where}) names the {what} {one!r}, which the archive does not hold.",
        "Gather it first, or correct the name; the scene was not saved.",
        records=(one,),
    )


def in_site(record: str | sa.Column[str]) -> sa.ColumnElement[bool]:
    """Whether a candidate for a scene's place names a reference, detail or passage; ids are found nowhere else."""
    return holds(sa.cast(schema.scene.c.site, sa.Text), record)


def scenes_on(connection: sa.Connection, reference: str) -> list[str]:
    """Slugs of the scenes that stand on a reference in any way, in the order they were added."""
    scene, liked = schema.scene, elements(schema.scene.c.intent, "like")
    part = schema.evidence.c.detail.in_(sa.select(schema.detail.c.id).where(schema.detail.c.reference == reference))
    query = (
        sa.select(scene.c.slug)
        .where(
            (scene.c.key_reference == reference)
            | scene.c.slug.in_(
                sa.select(schema.evidence.c.scene).where((schema.evidence.c.reference == reference) | part)
            )
            | scene.c.slug.in_(sa.select(schema.swatch.c.scene).where(schema.swatch.c.reference == reference))
            | sa.exists(sa.select(1).select_from(liked).where(liked.c.value == reference))
            | in_site(reference)
        )
        .order_by(scene.c.number)
    )
    return list(connection.execute(query).scalars())


def check_region(region: model.Region) -> None:
    """Refuse a region that does not lie on the picture, or has no area, or is no number."""
    x, y, width, height = region
    slack = 1e-9  # fractions of whole pixels do not always add up to exactly 1
    if not (x >= 0 and y >= 0 and width > 0 and height > 0 and x + width <= 1 + slack and y + height <= 1 + slack):
        raise RecordRefused(
            f"The region {tuple(region)} does not lie on the picture.",
            "Give x, y, width and height as fractions of the picture, 0 to 1.",
        )
