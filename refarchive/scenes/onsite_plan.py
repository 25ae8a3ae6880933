"""Reading and writing what a plan holds of place and light, by the fields of `records.onsite` alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from typing import Any, Protocol, TypeVar, get_args, get_origin, get_type_hints

from refarchive.errors import PlanRefused
from refarchive.records import model, onsite
from refarchive.scenes.places import Path

# What a list of tables is called in a plan, where that is not the field's name.
NAMES = {
    "candidates": "candidate", "landmarks": "landmark", "marks": "mark", "permissions": "permission",
    "constituents": "constituent", "entries": "entry", "depths": "depth", "calls": "call", "points": "point",
    "lights": "light", "figures": "figure",
}  # fmt: skip
T = TypeVar("T")


class Reader(Protocol):
    """What reading asks of the reader of plans."""

    def refuse(self, path: Path, problem: str, next_step: str) -> PlanRefused: ...
    def known(self, table: Mapping[str, Any], allowed: Any, path: Path) -> None: ...
    def text(self, table: Mapping[str, Any], key: str, path: Path, *, needed: bool = False) -> str: ...
    def texts(self, table: Mapping[str, Any], key: str, path: Path) -> tuple[str, ...]: ...
    def entries(self, table: Mapping[str, Any], key: str, path: Path, kind: type, what: str) -> list[Any]: ...
    def table(self, table: Mapping[str, Any], key: str, path: Path) -> Mapping[str, Any]: ...
    def evidence(self, table: Mapping[str, Any], path: Path) -> model.Evidence: ...


def read(kind: type[T], table: Mapping[str, Any], path: tuple[str | int, ...], reader: Reader) -> T:
    """A record of a kind from its table. Raises PlanRefused with the line and the field."""
    hints = get_type_hints(kind)
    known = {NAMES.get(one.name, one.name): one for one in fields(kind)}  # type: ignore[arg-type]
    reader.known(table, tuple(known), path)
    return kind(**{one.name: _value(one, hints[one.name], table, key, path, reader) for key, one in known.items()})


def _value(
    one: Field[Any], hint: Any, table: Mapping[str, Any], key: str, path: tuple[str | int, ...], reader: Reader
) -> Any:
    needed = one.default is MISSING
    if key not in table:
        if needed:
            raise reader.refuse((*path, key), "is missing.", f"Add {key} to this table.")
        return one.default
    at = (*path, key)
    kind = onsite.plain_type(hint)
    if is_dataclass(kind):
        return read(kind, reader.table(table, key, path), at, reader)  # type: ignore[arg-type]
    if get_origin(kind) is tuple:
        return _several(get_args(kind)[0], table, key, path, reader)
    if kind is str:
        return _word(one, reader.text(table, key, path, needed=needed), at, reader)
    if kind is bool:
        if not isinstance(table[key], bool):
            raise reader.refuse(at, f"is {repeated(table[key])}.", "Write true or false.")
        return table[key]
    return _number(one, kind, table[key], at, reader)


def _several(kind: Any, table: Mapping[str, Any], key: str, path: tuple[str | int, ...], reader: Reader) -> Any:
    if kind is model.Evidence:
        tables = reader.entries(table, key, path, dict, "tables")
        return tuple(reader.evidence(one, (*path, key, n)) for n, one in enumerate(tables))
    if is_dataclass(kind):
        tables = reader.entries(table, key, path, dict, "tables")
        return tuple(read(kind, one, (*path, key, n), reader) for n, one in enumerate(tables))  # type: ignore[arg-type]
    if kind is str:
        return reader.texts(table, key, path)
    if get_origin(kind) is tuple:
        rows = reader.entries(table, key, path, list, "pairs of numbers")
        return tuple(_numbers(row, 2, (*path, key, n), reader) for n, row in enumerate(rows))
    return _numbers(table[key], 2, (*path, key), reader)


def _numbers(values: Any, count: int, at: Path, reader: Reader) -> tuple[float, ...]:
    whole = isinstance(values, list) and len(values) == count
    if not whole or any(isinstance(v, bool) or not isinstance(v, int | float) or not abs(v) <= 1e6 for v in values):
        raise reader.refuse(at, f"is {repeated(values)}.", f"Give {count} numbers: [90, 2.5].")
    return tuple(float(v) for v in values)


def repeated(value: object) -> str:
    """A value of a plan as it stands in a sentence on it; Python writes no whole number of more than 4,300 digits."""
    try:
        return repr(value)
    except ValueError:
        return "a number of very many digits"


def _word(one: Field[Any], value: str, at: Path, reader: Reader) -> str:
    choices = one.metadata.get("choices", ())
    if choices and value not in choices:
        raise reader.refuse(at, f"is {repeated(value)}.", f"Use one of: {', '.join(c for c in choices if c)}.")
    return value


def _number(one: Field[Any], kind: Any, value: Any, at: Path, reader: Reader) -> Any:
    low, high = one.metadata["low"], one.metadata["high"]
    allowed = int if kind is int else (int, float)
    if isinstance(value, bool) or not isinstance(value, allowed) or not low <= value <= high:
        what = "a whole number" if kind is int else "a number"
        raise reader.refuse(at, f"is {repeated(value)}.", f"Give {what} from {low:g} to {high:g}.")
    return value if kind is int else float(value)


# --- written ---------------------------------------------------------------------------------------------------------


def written(record: Any, evidence: Callable[[model.Evidence], Mapping[str, Any]]) -> dict[str, Any]:
    """A record as the table that reading gives it back from; what stands at its default is left out."""
    table: dict[str, Any] = {}
    for one in fields(record):
        value = getattr(record, one.name)
        if value == one.default:
            continue
        table[NAMES.get(one.name, one.name)] = _as_table(value, evidence)
    return table


def _as_table(value: Any, evidence: Callable[[model.Evidence], Mapping[str, Any]]) -> Any:
    if isinstance(value, model.Evidence):
        return dict(evidence(value))
    if is_dataclass(value):
        return written(value, evidence)
    if isinstance(value, tuple):
        return [_as_table(one, evidence) for one in value]
    return value


def site_and_rig(data: Mapping[str, Any], reader: Reader) -> tuple[onsite.Site | None, onsite.Rig | None]:
    """What a plan says under [site] and [rig]; None where there is nothing."""
    site = read(onsite.Site, reader.table(data, "site", ()), ("site",), reader) if "site" in data else None
    rig = read(onsite.Rig, reader.table(data, "rig", ()), ("rig",), reader) if "rig" in data else None
    return site, rig
