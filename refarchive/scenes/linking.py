"""Changing a written plan: evidence, needs and values in or out, with all else left as the person wrote it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def with_evidence(plan: str, need: int, evidence: Mapping[str, Any]) -> str:
    """The plan with one more piece of evidence at the end of its need's; comments and layout stay.

    Parameters
    ----------
    plan
        TOML that reads as a plan.
    need
        Place of the need among the plan's, from 0.
    evidence
        Keys and values as the plan writes them: reference, relation, region, quote, note, fit.
    """
    import tomlkit

    document: Any = tomlkit.parse(plan)
    entry = tomlkit.table()
    for key, value in evidence.items():
        entry[key] = value
    table: Any = document["need"][need]
    if table.get("evidence"):
        table["evidence"].append(entry)
    else:
        entries = tomlkit.aot()
        entries.append(entry)
        table["evidence"] = entries
    return tomlkit.dumps(document)


def without_evidence(plan: str, need: int, place: int) -> str:
    """The plan without the piece of evidence at this place of the need's, from 0."""
    import tomlkit

    document: Any = tomlkit.parse(plan)
    table: Any = document["need"][need]
    del table["evidence"][place]
    if not table["evidence"]:
        del table["evidence"]
    return tomlkit.dumps(document)


def with_values(plan: str, values: Mapping[tuple[str | int, ...], Any]) -> str:
    """The plan with other values; comments and layout stay.

    Parameters
    ----------
    plan
        TOML that reads as a plan.
    values
        By where they stand: ("scene", "story"), ("need", 0, "sourcing", "state"). None, "" and empty lists take a
        value away; a table that is not there is made.
    """
    import tomlkit

    document: Any = tomlkit.parse(plan)
    for path, value in values.items():
        at: Any = document
        gone = value is None or value == "" or value == []
        for part in path[:-1]:
            if isinstance(part, str) and part not in at:
                if gone:
                    break
                at[part] = tomlkit.table()
            at = at[part]
        else:
            if not gone:
                at[path[-1]] = value
            elif path[-1] in at:
                del at[path[-1]]
    return tomlkit.dumps(document)


def with_need(plan: str, values: Mapping[str, Any]) -> str:
    """The plan with one more need at its end."""
    import tomlkit

    document: Any = tomlkit.parse(plan)
    entry = tomlkit.table()
    for key, value in values.items():
        if value not in ("", None, []):
            entry[key] = value
    if "need" in document:
        document["need"].append(entry)
    else:
        entries = tomlkit.aot()
        entries.append(entry)
        document["need"] = entries
    return tomlkit.dumps(document)


def without_need(plan: str, need: int) -> str:
    """The plan without the need at this place, from 0, and its evidence."""
    import tomlkit

    document: Any = tomlkit.parse(plan)
    del document["need"][need]
    if not document["need"]:
        del document["need"]
    return tomlkit.dumps(document)
