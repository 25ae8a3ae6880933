"""Adding evidence to a written plan, or taking it out, with everything else in it left as the person wrote it."""

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
