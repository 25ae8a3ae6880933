"""Records to rows and back: the one place where a dataclass meets a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, fields, replace
from typing import Any

import sqlalchemy as sa

from refarchive.records import model, onsite, schema

Row = sa.RowMapping

_REFERENCE_TEXTS = (
    "title",
    "source_name",
    "creator",
    "place",
    "description",
    "medium",
    "dimensions",
    "collection",
    "accession",
    "credit",
    "source",
    "rights",
    "identifier",
    "suffix",
    "media_type",
    "added_at",
    "digitised",
    "basis",
    "basis_evidence",
)


def when_to_row(when: model.When | None, prefix: str = "") -> dict[str, Any]:
    values = (None,) * 4 if when is None else (when.edtf, when.text, when.earliest, when.latest)
    return dict(zip(_when_columns(prefix), values, strict=True))


def row_to_when(row: Row, prefix: str = "") -> model.When | None:
    edtf, text, earliest, latest = (row[name] for name in _when_columns(prefix))
    return None if edtf is None else model.When(edtf, text, earliest, latest)


def _when_columns(prefix: str) -> tuple[str, str, str, str]:
    if prefix:
        return f"{prefix}_edtf", f"{prefix}_text", f"{prefix}_earliest", f"{prefix}_latest"
    return "date_edtf", "date_text", "earliest", "latest"


def reference_to_row(reference: model.Reference) -> dict[str, Any]:
    return {
        "id": reference.id,
        "kind": reference.kind,
        **{name: getattr(reference, name) for name in _REFERENCE_TEXTS},
        **when_to_row(reference.when),
        **when_to_row(reference.depicts, "depicts"),
        "subjects": list(reference.subjects),
        "origins": [list(pair) for pair in reference.origins],
        "witness": reference.witness.value,
        "sha256": reference.sha256 or None,
        "width": reference.width,
        "height": reference.height,
    }


def row_to_reference(row: Row) -> model.Reference:
    return model.Reference(
        id=row["id"],
        kind=row["kind"],
        **{name: row[name] for name in _REFERENCE_TEXTS},
        when=row_to_when(row),
        depicts=row_to_when(row, "depicts"),
        subjects=tuple(row["subjects"]),
        origins=tuple((field, origin) for field, origin in row["origins"]),
        witness=model.Witness(row["witness"] or model.Witness.UNKNOWN.value),
        sha256=row["sha256"] or "",
        width=row["width"],
        height=row["height"],
    )


def detail_to_row(detail: model.Detail) -> dict[str, Any]:
    x, y, width, height = detail.region
    return {
        "id": detail.id, "reference": detail.reference, "x": x, "y": y, "width": width, "height": height,
        "note": detail.note,
    }  # fmt: skip


def row_to_detail(row: Row) -> model.Detail:
    return model.Detail(row["id"], row["reference"], (row["x"], row["y"], row["width"], row["height"]), row["note"])


def plain(record: Any) -> dict[str, Any]:
    """A record as JSON-able values, for the history."""
    return asdict(record)


def plain_row(kind: type, row: Row) -> Any:
    """A record whose fields are exactly columns of its table."""
    return kind(**{f.name: row[f.name] for f in fields(kind)})


# --- scenes: one record spread over six tables --------------------------------------------------------------------


def write_scene(connection: sa.Connection, scene: model.Scene, toml: str) -> None:
    """Insert a scene or replace it with everything below it; its row keeps its number."""
    values = {
        **{n: getattr(scene, n) for n in ["title", "event", "story", "place", "series", "currency", "saved_at"]},
        **when_to_row(scene.when),
        "toml": toml,
        "latitude": scene.latitude,
        "longitude": scene.longitude,
        "key_reference": scene.key_reference or None,
        "intent": asdict(scene.intent),
        "safety": [list(pair) for pair in scene.safety],
        "revision": scene.revision,
        "site": asdict(scene.site) if scene.site else None,
        "rig": asdict(scene.rig) if scene.rig else None,
    }
    table = schema.scene
    done = connection.execute(sa.update(table).where(table.c.slug == scene.slug).values(values))
    if not done.rowcount:
        connection.execute(sa.insert(table).values(slug=scene.slug, **values))
    for child in (schema.scene_line, schema.figure, schema.need):  # swatches and evidence go with their need
        connection.execute(sa.delete(child).where(child.c.scene == scene.slug))
    lines = [
        *({"kind": "statement", "position": n, "text": text} for n, text in enumerate(scene.statements)),
        *({"kind": "misreading", "position": n, "text": text} for n, text in enumerate(scene.misreadings)),
        *(
            {"kind": "variation", "position": n, "title": v.title, "text": v.moment}
            for n, v in enumerate(scene.variations)
        ),
    ]
    _insert(connection, schema.scene_line, [{"title": "", **line, "scene": scene.slug} for line in lines])
    _insert(
        connection,
        schema.figure,
        [
            {**asdict(f), "sizes": [list(pair) for pair in f.sizes], "scene": scene.slug, "position": n}
            for n, f in enumerate(scene.figures)
        ],
    )
    _insert(connection, schema.need, [_need_row(scene.slug, n, need) for n, need in enumerate(scene.needs)])
    _insert(
        connection,
        schema.swatch,
        [
            {**asdict(s), "region": list(s.region) if s.region else None,
             "scene": scene.slug, "need": need.slug, "position": n}
            for need in scene.needs
            for n, s in enumerate(need.swatches)
        ],
    )  # fmt: skip
    _insert(
        connection,
        schema.evidence,
        [
            {**asdict(e), "fit": [list(f) for f in e.fit], "scene": scene.slug, "need": need.slug, "position": n}
            for need in scene.needs
            for n, e in enumerate(need.evidence)
        ],
    )


def _insert(connection: sa.Connection, table: sa.Table, rows: Sequence[dict[str, Any]]) -> None:
    if rows:
        connection.execute(sa.insert(table), rows)


def _need_row(scene: str, position: int, need: model.Need) -> dict[str, Any]:
    row = asdict(need)
    del row["swatches"], row["evidence"]
    row["facts"] = [list(pair) for pair in need.facts]
    row["answers"] = [asdict(answer) for answer in need.answers]
    return {**row, "scene": scene, "position": position}


def read_scene(connection: sa.Connection, row: Row) -> model.Scene:
    """Put a scene together again from its row and everything below it."""
    slug = row["slug"]

    def below(table: sa.Table) -> list[Row]:
        query = sa.select(table).where(table.c.scene == slug).order_by(table.c.position)
        return list(connection.execute(query).mappings())

    lines = below(schema.scene_line)
    swatches: dict[str, list[model.Swatch]] = {}
    for r in below(schema.swatch):
        region = tuple(r["region"]) if r["region"] else None
        swatches.setdefault(r["need"], []).append(model.Swatch(r["reference"], region, r["name"]))
    evidence: dict[str, list[model.Evidence]] = {}
    for r in below(schema.evidence):
        one: model.Evidence = plain_row(model.Evidence, r)
        evidence.setdefault(r["need"], []).append(replace(one, fit=_pairs(r["fit"])))
    needs = tuple(
        model.Need(
            **{n: r[n] for n in ["slug", "name", "department", "figure", "description", "prominence"]},
            facts=_pairs(r["facts"]),
            do=tuple(r["do"]),
            dont=tuple(r["dont"]),
            substitutes=tuple(r["substitutes"]),
            breakdown=tuple(r["breakdown"]),
            quantity=model.Quantity(**r["quantity"]),
            sourcing=model.Sourcing(**r["sourcing"]),
            swatches=tuple(swatches.get(r["slug"], ())),
            evidence=tuple(evidence.get(r["slug"], ())),
            answers=tuple(model.Answer(**answer) for answer in r["answers"]),
        )
        for r in below(schema.need)
    )
    intent = dict(row["intent"])
    intent["palette"] = tuple(model.PaletteColour(**colour) for colour in intent["palette"])
    intent["like"] = tuple(intent["like"])
    return model.Scene(
        slug=slug,
        **{
            n: row[n]
            for n in [
                "title",
                "event",
                "story",
                "place",
                "series",
                "currency",
                "latitude",
                "longitude",
                "revision",
                "saved_at",
            ]
        },
        when=row_to_when(row),
        key_reference=row["key_reference"] or "",
        statements=tuple(r["text"] for r in lines if r["kind"] == "statement"),
        misreadings=tuple(r["text"] for r in lines if r["kind"] == "misreading"),
        variations=tuple(model.Variation(r["title"], r["text"]) for r in lines if r["kind"] == "variation"),
        intent=model.Intent(**intent),
        figures=tuple(
            model.Figure(
                **{n: r[n] for n in ["slug", "name", "performer", "role", "rank", "action", "wet"]},
                sizes=_pairs(r["sizes"]),
            )
            for r in below(schema.figure)
        ),
        needs=needs,
        safety=_pairs(row["safety"]),
        site=onsite.restored(onsite.Site, row["site"]),
        rig=onsite.restored(onsite.Rig, row["rig"]),
    )


def _pairs(values: Sequence[Sequence[str]]) -> tuple[tuple[str, str], ...]:
    return tuple((pair[0], pair[1]) for pair in values)
