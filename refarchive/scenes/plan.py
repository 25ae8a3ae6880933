"""Scene plans as TOML that a person can edit: reading with exact refusals, and writing back.

A plan names references by file name as gathered or by id. A `region` makes a detail of the picture, a `quote` finds the
passage that holds it, so nobody has to type an id. Reading changes nothing; `Plan.details` are the details that the
scene needs and that the caller stores together with it.
"""

from __future__ import annotations

import difflib
import re
import tomllib
import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, Protocol

from refarchive.errors import AmbiguousName, BadDate, PlanRefused, UnknownRecord
from refarchive.records import model
from refarchive.records.dates import read_date
from refarchive.records.ids import detail_id
from refarchive.scenes.onsite_plan import repeated, site_and_rig
from refarchive.scenes.places import Path, Places, field_name

TEXT_LIMIT = 4_000  # characters in one value
PLAN_LIMIT = 1_000_000  # characters in one plan
LIST_LIMIT = 500  # entries in one list

# Department fields of a need: key in the plan, label on the page. The order is the printing order.
FACTS: Mapping[str, Mapping[str, str]] = {
    "wardrobe": {
        "layer": "Layer",
        "material": "Material",
        "closure": "Closure",
        "construction": "Visible construction",
        "when_wet": "When wet",
    },
    "props": {
        "use": "Use",
        "handler": "Handled by",
        "material": "Material",
        "dimensions": "Dimensions",
        "weight": "Weight",
        "floats": "Floats or sinks",
        "lettering": "Lettering",
        "doubles": "Doubles",
        "legal": "Legal limits",
    },
    "hair and make-up": {
        "parting": "Parting",
        "length": "Length",
        "facial_hair": "Facial hair",
        "wig": "Wig",
        "weathering": "Weathering",
        "hands": "Hands",
        "teeth": "Teeth",
        "modern_tells": "Modern tells",
        "water_resistance": "Water resistance",
        "patch_test": "Patch test",
        "chair_time": "Chair time",
        "reset_time": "Reset time",
    },
    "set": {
        "view": "View",
        "hide_or_remove": "Hide or remove",
        "additions": "Additions",
        "restore": "To restore",
        "material": "Material",
        "dimensions": "Dimensions",
    },
    "light": {
        "source_in_story": "Source in the story",
        "quality": "Quality",
        "position": "Position",
        "ambient": "Ambient",
    },
    "effects": {
        "position": "Position",
        "fluid_sheet": "Fluid data sheet",
        "drift": "Drift",
        "notice": "Notice given",
        "reset_time": "Reset time",
    },
}
SAFETY_TOPICS = ("water", "cold", "tide", "power", "smoke", "height", "animals", "traffic", "who may stop the work")


class Lookup(Protocol):
    """What reading a plan asks of an archive."""

    def resolve(self, name: str) -> model.Reference: ...

    def passages(self, reference: str | None = None) -> list[model.Passage]: ...


@dataclass(frozen=True)
class Plan:
    """A scene as read, with the details its evidence and swatches mark."""

    scene: model.Scene
    details: tuple[model.Detail, ...]


def read_plan(text: str, lookup: Lookup) -> Plan:
    """Read a scene plan.

    Raises
    ------
    PlanRefused
        with the line and the field, for anything that is not TOML, missing, misspelt, out of range, or that names a
        reference, region or quotation the archive does not hold.
    """
    if len(text) > PLAN_LIMIT:
        raise PlanRefused(f"The plan has {len(text):,} characters.", f"Shorten it to {PLAN_LIMIT:,} or less.")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"at line (\d+)", str(error))
        line = int(at.group(1)) if at else len(text.splitlines()) or 1
        raise PlanRefused(
            f"Line {line} is not valid TOML: {error}.", "Correct that line and give the plan again.", line=line
        ) from None
    except ValueError as error:  # Python reads no number of more than some thousand digits
        raise PlanRefused(f"The plan has a number that cannot be read ({error}).", "Shorten the number.") from None
    except RecursionError:
        raise PlanRefused(
            "The plan nests values too deeply.", "Write it with tables and lists one level deep."
        ) from None
    return _Reader(text, lookup).plan(data)


def slug_of(title: str) -> str:
    """A short name for files and commands made of a title: lower-case ASCII letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")


class _Reader:
    def __init__(self, text: str, lookup: Lookup) -> None:
        self.places = Places(text)
        self.lookup = lookup
        self.details: dict[str, model.Detail] = {}

    # --- refusing -----------------------------------------------------------------------------------------------

    def refuse(self, path: Path, problem: str, next_step: str, records: tuple[str, ...] = ()) -> PlanRefused:
        line = self.places.line(path)
        where = f"Line {line}, {field_name(path)}" if line else field_name(path)
        return PlanRefused(f"{where}: {problem}", next_step, line=line, field=field_name(path), records=records)

    def known(self, table: Mapping[str, Any], allowed: Collection[str], path: Path) -> None:
        for key in table:
            if key not in allowed:
                near = difflib.get_close_matches(key, allowed, 1)
                hint = f"Did you mean {near[0]!r}? " if near else ""
                raise self.refuse(
                    (*path, key), f"there is no field {key!r} here.", f"{hint}Known: {', '.join(allowed)}."
                )

    # --- single values ------------------------------------------------------------------------------------------

    def text(self, table: Mapping[str, Any], key: str, path: Path, *, needed: bool = False) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            raise self.refuse((*path, key), "is not text.", "Put it in quotation marks.")
        if len(value) > TEXT_LIMIT:
            raise self.refuse((*path, key), f"has {len(value):,} characters.", f"Shorten it to {TEXT_LIMIT:,}.")
        if "\x00" in value:
            raise self.refuse((*path, key), "holds a NUL character.", "Remove it.")
        if needed and not value.strip():
            raise self.refuse((*path, key), "is missing.", f'Add {key} = "…" to this table.')
        return value.strip()

    def choice(
        self, table: Mapping[str, Any], key: str, path: Path, allowed: Collection[str], default: str | None = None
    ) -> str:
        value = self.text(table, key, path, needed=default is None)
        if not value and default is not None:
            return default
        if value not in allowed:
            raise self.refuse(
                (*path, key), f"is {repeated(value)}.", f"Use one of: {', '.join(a for a in allowed if a)}."
            )
        return value

    def number(
        self, table: Mapping[str, Any], key: str, path: Path, low: float, high: float, default: float | None = None
    ) -> float | None:
        if key not in table:
            return default
        value = table[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise self.refuse((*path, key), f"is {repeated(value)}.", f"Give a number from {low:g} to {high:g}.")
        return float(value)

    def count(self, table: Mapping[str, Any], key: str, path: Path, default: int) -> int:
        value = table.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 1000:
            raise self.refuse((*path, key), f"is {repeated(value)}.", "Give a whole number from 0 to 1000.")
        return value

    def texts(self, table: Mapping[str, Any], key: str, path: Path) -> tuple[str, ...]:
        values = self.entries(table, key, path, str, "texts in quotation marks")
        return tuple(self.text({key: value}, key, path) for value in values if value.strip())

    def entries(self, table: Mapping[str, Any], key: str, path: Path, kind: type, what: str) -> list[Any]:
        values = table.get(key, [])
        if not isinstance(values, list) or any(not isinstance(v, kind) for v in values):
            raise self.refuse((*path, key), f"is not a list of {what}.", f"Write {key} as a list.")
        if len(values) > LIST_LIMIT:
            raise self.refuse((*path, key), f"has {len(values)} entries.", f"Give at most {LIST_LIMIT}.")
        return values

    def table(self, table: Mapping[str, Any], key: str, path: Path) -> Mapping[str, Any]:
        value = table.get(key, {})
        if not isinstance(value, dict):
            raise self.refuse((*path, key), "is not a table.", f"Write it as [{'.'.join(map(str, (*path, key)))}].")
        return value

    def pairs(self, table: Mapping[str, Any], key: str, path: Path) -> tuple[tuple[str, str], ...]:
        inner = self.table(table, key, path)
        values = [(name, self.text(inner, name, (*path, key))) for name in inner]
        return tuple((name, value) for name, value in values if value)

    def date(self, table: Mapping[str, Any], key: str, path: Path) -> model.When | None:
        value = self.text(table, key, path)
        if not value:
            return None
        try:
            return read_date(value)
        except BadDate as error:
            raise self.refuse((*path, key), error.problem, error.next_step) from None

    def region(self, table: Mapping[str, Any], key: str, path: Path) -> model.Region | None:
        if key not in table:
            return None
        value = table[key]
        numbers = (
            isinstance(value, list)
            and len(value) == 4
            and all(isinstance(v, int | float) and not isinstance(v, bool) for v in value)
        )
        if numbers:
            x, y, width, height = (float(v) for v in value)
            if 0 <= x < 1 and 0 <= y < 1 and width > 0 and height > 0 and x + width <= 1.0001 and y + height <= 1.0001:
                return (x, y, min(width, 1 - x), min(height, 1 - y))
        raise self.refuse(
            (*path, key),
            f"is {repeated(value)}.",
            "Give [x, y, width, height] as fractions from 0 to 1, inside the picture.",
        )

    def hexadecimal(self, table: Mapping[str, Any], key: str, path: Path) -> str:
        value = self.text(table, key, path, needed=True)
        if not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
            raise self.refuse(
                (*path, key), f"is {repeated(value)}.", "Write a colour as #rrggbb, for instance #3b4652."
            )
        return value.lower()

    # --- references ---------------------------------------------------------------------------------------------

    def reference(self, table: Mapping[str, Any], key: str, path: Path) -> model.Reference:
        name = self.text(table, key, path, needed=True)
        try:
            return self.lookup.resolve(name)
        except (UnknownRecord, AmbiguousName) as error:
            raise self.refuse((*path, key), error.problem, error.next_step, error.records) from None

    def detail(self, reference: model.Reference, region: model.Region, note: str, path: Path) -> str:
        if reference.kind == "text":
            raise self.refuse(
                (*path, "region"), f"{reference.source_name!r} is a text and has no regions.", "Give a quote instead."
            )
        made = model.Detail(detail_id(reference.id, region), reference.id, region, note)
        self.details.setdefault(made.id, made)
        return made.id

    def passage(self, reference: model.Reference, quote: str, path: Path) -> str:
        wanted = _plain(quote)
        for passage in self.lookup.passages(reference.id):
            if wanted in _plain(passage.text):
                return passage.id
        raise self.refuse(
            (*path, "quote"),
            f"{reference.source_name!r} holds no passage with the words {quote[:80]!r}.",
            "Copy the words exactly as they stand in the text, from within one paragraph.",
            (reference.id,),
        )

    # --- the plan -----------------------------------------------------------------------------------------------

    def plan(self, data: Mapping[str, Any]) -> Plan:
        self.known(data, ("scene", "intent", "safety", "figure", "variation", "need", "site", "rig"), ())
        scene = self.scene(data)
        figures = tuple(
            self.figure(t, ("figure", n)) for n, t in enumerate(self.entries(data, "figure", (), dict, "tables"))
        )
        self.unique([f.slug for f in figures], "figure")
        variations = tuple(
            self.variation(t, ("variation", n))
            for n, t in enumerate(self.entries(data, "variation", (), dict, "tables"))
        )
        slugs = {f.slug for f in figures}
        needs = tuple(
            self.need(t, ("need", n), slugs) for n, t in enumerate(self.entries(data, "need", (), dict, "tables"))
        )
        self.unique([n.slug for n in needs], "need")
        site, rig = site_and_rig(data, self)
        scene = replace(
            scene,
            intent=self.intent(self.table(data, "intent", ()), ("intent",)),
            figures=figures,
            variations=variations,
            needs=needs,
            safety=self.safety(data),
            site=site,
            rig=rig,
        )
        return Plan(scene, tuple(self.details.values()))

    def unique(self, slugs: list[str], kind: str) -> None:
        for number, slug in enumerate(slugs):
            if slug in slugs[:number]:
                raise self.refuse((kind, number, "slug"), f"{slug!r} stands twice.", "Give each one a slug of its own.")

    def slug(self, table: Mapping[str, Any], path: Path, source: str) -> str:
        value = self.text(table, "slug", path) or slug_of(source)
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", value) or len(value) > 80:
            raise self.refuse(
                (*path, "slug"),
                f"is {repeated(value)}.",
                'Add a slug of lower-case letters, digits and hyphens: "first-light".',
            )
        return value

    def scene(self, data: Mapping[str, Any]) -> model.Scene:
        path = ("scene",)
        if "scene" not in data:
            raise PlanRefused("The plan has no [scene] table.", "Begin it with [scene] and a title.", field="scene")
        table = self.table(data, "scene", ())
        allowed = (
            "title slug series event date place latitude longitude story key_reference statements misreadings currency"
        )
        self.known(table, allowed.split(), path)
        title = self.text(table, "title", path, needed=True)
        key = self.reference(table, "key_reference", path).id if table.get("key_reference") else ""
        return model.Scene(
            slug=self.slug(table, path, title),
            title=title,
            event=self.text(table, "event", path),
            story=self.text(table, "story", path),
            when=self.date(table, "date", path),
            place=self.text(table, "place", path),
            latitude=self.number(table, "latitude", path, -90, 90),
            longitude=self.number(table, "longitude", path, -180, 180),
            series=self.text(table, "series", path),
            key_reference=key,
            statements=self.texts(table, "statements", path),
            misreadings=self.texts(table, "misreadings", path),
            currency=self.text(table, "currency", path),
        )

    def safety(self, data: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
        self.known(self.table(data, "safety", ()), SAFETY_TOPICS, ("safety",))
        return self.pairs(data, "safety", ())

    def intent(self, table: Mapping[str, Any], path: Path) -> model.Intent:
        self.known(table, tuple(model.Intent.__dataclass_fields__), path)
        default = model.Intent()
        colours = []
        for n, entry in enumerate(self.entries(table, "palette", path, dict, "tables with hex and share")):
            at = (*path, "palette", n)
            self.known(entry, ("hex", "share", "name"), at)
            share = self.number(entry, "share", at, 0, 1)
            if not share:
                raise self.refuse((*at, "share"), "is missing or nought.", "Give the part of the picture, from 0 to 1.")
            colours.append(model.PaletteColour(self.hexadecimal(entry, "hex", at), share, self.text(entry, "name", at)))
        total = sum(c.share for c in colours)
        if colours and abs(total - 1) > 0.02:
            raise self.refuse((*path, "palette"), f"the shares add up to {total:.2f}.", "Make them add up to 1.")

        def tolerance(name: str, high: float) -> float:
            value = self.number(table, name, path, 0, high, getattr(default, name))
            assert value is not None
            return value

        return model.Intent(
            words=self.text(table, "words", path),
            palette=tuple(colours),
            palette_tolerance=tolerance("palette_tolerance", 100),
            key=self.number(table, "key", path, 0, 100),
            key_tolerance=tolerance("key_tolerance", 100),
            contrast=self.number(table, "contrast", path, 0, 100),
            contrast_tolerance=tolerance("contrast_tolerance", 100),
            light_from=self.text(table, "light_from", path),
            light_tilt_deg=self.number(table, "light_tilt_deg", path, -360, 360),
            lit_to_shadow=self.number(table, "lit_to_shadow", path, 0, 12),
            lit_to_shadow_tolerance=tolerance("lit_to_shadow_tolerance", 6),
            light_tolerance_deg=tolerance("light_tolerance_deg", 180),
            warmth_k=self.number(table, "warmth_k", path, 1_000, 25_000),
            warmth_tolerance_mired=tolerance("warmth_tolerance_mired", 1_000),
            horizon=self.number(table, "horizon", path, 0, 1),
            horizon_tolerance=tolerance("horizon_tolerance", 1),
            blown_most=self.number(table, "blown_most", path, 0, 1),
            blocked_most=self.number(table, "blocked_most", path, 0, 1),
            layout_least=self.number(table, "layout_least", path, -1, 1),
            like=tuple(
                self.reference({"like": name}, "like", path).id
                for name in self.entries(table, "like", path, str, "reference names")
            ),
            likeness_percentile=tolerance("likeness_percentile", 100),
        )

    def figure(self, table: Mapping[str, Any], path: Path) -> model.Figure:
        self.known(table, tuple(model.Figure.__dataclass_fields__), path)
        name = self.text(table, "name", path, needed=True)
        words = {k: self.text(table, k, path) for k in ("performer", "role", "rank", "action", "wet")}
        return model.Figure(
            slug=self.slug(table, path, name), name=name, sizes=self.pairs(table, "sizes", path), **words
        )

    def variation(self, table: Mapping[str, Any], path: Path) -> model.Variation:
        self.known(table, ("title", "moment"), path)
        return model.Variation(self.text(table, "title", path, needed=True), self.text(table, "moment", path))

    def need(self, table: Mapping[str, Any], path: Path, figures: Collection[str]) -> model.Need:
        allowed = (
            "slug name department figure prominence description do dont substitutes breakdown quantity sourcing facts "
            "evidence swatch answer"
        )
        self.known(table, allowed.split(), path)
        name = self.text(table, "name", path, needed=True)
        department = self.choice(table, "department", path, model.DEPARTMENTS)
        figure = self.text(table, "figure", path)
        if figure and figure not in figures:
            raise self.refuse(
                (*path, "figure"), f"there is no figure {figure!r}.", f"Figures here: {', '.join(figures) or 'none'}."
            )
        return model.Need(
            slug=self.slug(table, path, f"{figure} {name}"),
            name=name,
            department=department,
            figure=figure,
            description=self.text(table, "description", path),
            prominence=self.choice(table, "prominence", path, ("close-up", "background", ""), ""),
            facts=self.facts(table, department, path),
            do=self.texts(table, "do", path),
            dont=self.texts(table, "dont", path),
            substitutes=self.texts(table, "substitutes", path),
            breakdown=self.texts(table, "breakdown", path),
            quantity=self.quantity(self.table(table, "quantity", path), (*path, "quantity")),
            sourcing=self.sourcing(self.table(table, "sourcing", path), (*path, "sourcing")),
            swatches=tuple(
                self.swatch(t, (*path, "swatch", n))
                for n, t in enumerate(self.entries(table, "swatch", path, dict, "tables"))
            ),
            evidence=tuple(
                self.evidence(t, (*path, "evidence", n))
                for n, t in enumerate(self.entries(table, "evidence", path, dict, "tables"))
            ),
            answers=tuple(
                self.answer(t, (*path, "answer", n))
                for n, t in enumerate(self.entries(table, "answer", path, dict, "tables"))
            ),
        )

    def answer(self, table: Mapping[str, Any], path: Path) -> model.Answer:
        self.known(table, ("thing", "says", "note"), path)
        says = self.choice(table, "says", path, model.ANSWERS)
        return model.Answer(self.text(table, "thing", path, needed=True), says, self.text(table, "note", path))

    def facts(self, table: Mapping[str, Any], department: str, path: Path) -> tuple[tuple[str, str], ...]:
        labels = FACTS[department]
        self.known(self.table(table, "facts", path), tuple(labels), (*path, "facts"))
        given = dict(self.pairs(table, "facts", path))
        return tuple((labels[key], given[key]) for key in labels if key in given)

    def quantity(self, table: Mapping[str, Any], path: Path) -> model.Quantity:
        self.known(table, ("hero", "wet_doubles", "spare", "why"), path)
        return model.Quantity(
            self.count(table, "hero", path, 1),
            self.count(table, "wet_doubles", path, 0),
            self.count(table, "spare", path, 0),
            self.text(table, "why", path),
        )

    def sourcing(self, table: Mapping[str, Any], path: Path) -> model.Sourcing:
        self.known(table, tuple(model.Sourcing.__dataclass_fields__), path)
        return model.Sourcing(
            state=self.choice(table, "state", path, model.SOURCING_STATES, "seek"),
            supplier=self.text(table, "supplier", path),
            deposit=self.number(table, "deposit", path, 0, 1e9),
            estimate=self.number(table, "estimate", path, 0, 1e9),
            actual=self.number(table, "actual", path, 0, 1e9),
            due=self.text(table, "due", path),
            owner=self.text(table, "owner", path),
        )

    def evidence(self, table: Mapping[str, Any], path: Path) -> model.Evidence:
        self.known(table, ("reference", "relation", "region", "quote", "note", "fit"), path)
        reference = self.reference(table, "reference", path)
        relation = self.choice(table, "relation", path, model.RELATIONS)
        note = self.text(table, "note", path)
        region = self.region(table, "region", path)
        quote = self.text(table, "quote", path)
        return model.Evidence(
            reference=reference.id,
            relation=relation,
            detail=self.detail(reference, region, note, path) if region else None,
            passage=self.passage(reference, quote, path) if quote else None,
            note=note,
            fit=self.fit(self.table(table, "fit", path), (*path, "fit")),
        )

    def fit(self, table: Mapping[str, Any], path: Path) -> tuple[tuple[str, str], ...]:
        self.known(table, model.FIT_ASPECTS, path)
        return tuple(
            (aspect, self.choice(table, aspect, path, model.FIT_WORDS))
            for aspect in model.FIT_ASPECTS
            if aspect in table
        )

    def swatch(self, table: Mapping[str, Any], path: Path) -> model.Swatch:
        self.known(table, ("reference", "region", "name"), path)
        reference = self.reference(table, "reference", path)
        if reference.kind == "text" or not reference.sha256:
            raise self.refuse(
                (*path, "reference"),
                f"{reference.title!r} is not a picture.",
                "Read a swatch from a picture reference.",
            )
        return model.Swatch(reference.id, self.region(table, "region", path), self.text(table, "name", path))


def _plain(text: str) -> str:
    """Text for comparing quotations: compatibility forms joined (ſ is s), case and spacing ignored."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())
