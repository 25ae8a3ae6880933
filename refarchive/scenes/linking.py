"""Changing a written plan: entries and values in or out, with all else left as the person wrote it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

At = Sequence[str | int]


def with_entry(plan: str, at: At, values: Mapping[str, Any]) -> str:
    """The plan with one more table at the end of a list of tables; comments and layout stay.

    Parameters
    ----------
    plan
        TOML that reads as a plan.
    at
        Which list: ("need",), ("figure",), ("need", 2, "evidence").
    values
        Keys and values as the plan writes them; None, "" and empty lists are left out.
    """
    import tomlkit

    document: Any = tomlkit.parse(plan)
    entry = tomlkit.table()
    for key, value in values.items():
        if not _empty(value):
            entry[key] = value
    table = _table(document, at[:-1])
    if table.get(at[-1]):
        entries = table[at[-1]]
        entries.append(entry if not isinstance(entries, tomlkit.items.Array) else _inline(entry))
    else:
        entries = tomlkit.aot()
        entries.append(entry)
        table[at[-1]] = entries
    return tomlkit.dumps(document)


def without_entry(plan: str, at: At, place: int) -> str:
    """The plan without the table at this place, from 0, of a list of tables; an empty list goes with its last."""
    import tomlkit

    document: Any = tomlkit.parse(plan)
    table = _table(document, at[:-1])
    del table[at[-1]][place]
    if not table[at[-1]]:
        del table[at[-1]]
    return tomlkit.dumps(document)


def with_values(plan: str, values: Mapping[tuple[str | int, ...], Any]) -> str:
    """The plan with other values; comments and layout stay.

    Parameters
    ----------
    plan
        TOML that reads as a plan.
    values
        By where they stand: ("scene", "story"), ("need", 0, "sourcing", "state"). None, "" and empty lists take a
        value away; a table that is not there is made. A list of tables is written in one line each.
    """
    import tomlkit

    document: Any = tomlkit.parse(plan)
    for path, value in values.items():
        at: Any = document
        for part in path[:-1]:
            if isinstance(part, str) and part not in at:
                if _empty(value):
                    break
                at[part] = tomlkit.table()
            at = at[part]
        else:
            if not _empty(value):
                at[path[-1]] = _written(value)
            elif path[-1] in at:
                del at[path[-1]]
    return tomlkit.dumps(document)


def _table(document: Any, at: At) -> Any:
    for part in at:
        document = document[part]
    return document


def _empty(value: Any) -> bool:
    return value is None or value == "" or value == [] or value == {}


def _inline(values: Mapping[str, Any]) -> Any:
    import tomlkit

    made = tomlkit.inline_table()
    for key, value in values.items():
        if not _empty(value):
            made[key] = value
    return made


def _written(value: Any) -> Any:
    """A value as TOML; a list of mappings as inline tables, one a line."""
    import tomlkit

    if not isinstance(value, list) or not value or not isinstance(value[0], Mapping):
        return value
    array = tomlkit.array()
    for one in value:
        array.add_line(_inline(one))
    array.add_line(indent="")
    return array
