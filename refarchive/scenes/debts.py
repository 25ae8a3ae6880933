"""Capture first, finish later: what is still missing of each reference, sorted by what it holds up.

First come references that are some need's only independent witness, then those that more needs stand on, then the rest
by how much is missing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from refarchive.records.model import Family, Reference, Scene
from refarchive.scenes.coverage import coverage
from refarchive.scenes.tracing import uses_in


@dataclass(frozen=True)
class Debt:
    """What one reference still owes.

    `holds_up` are the (scene, need) it is cited for; `alone` those that have no other independent witness.
    """

    reference: Reference
    missing: tuple[str, ...]
    holds_up: tuple[tuple[str, str], ...]
    alone: tuple[tuple[str, str], ...]
    scenes: tuple[str, ...]  # that use it in any way


def debts(references: Sequence[Reference], scenes: Sequence[Scene], families: Sequence[Family] = ()) -> list[Debt]:
    """The debts of all references that have any, the most pressing first; equals in the order given."""
    known = {r.id: r for r in references}
    rows = [(scene.slug, row) for scene in scenes for row in coverage(scene, known, families)]
    cited: dict[str, list[tuple[str, str]]] = {}
    alone: dict[str, list[tuple[str, str]]] = {}
    for slug, row in rows:
        for witness in row.witnesses:
            for one in witness.references:
                cited.setdefault(one, []).append((slug, row.need.slug))
                if len(row.witnesses) == 1:
                    alone.setdefault(one, []).append((slug, row.need.slug))
    used = _scenes_of(references, scenes)
    found = [
        Debt(r, r.missing, tuple(cited.get(r.id, ())), tuple(alone.get(r.id, ())), used.get(r.id, ()))
        for r in references
        if r.missing
    ]
    return sorted(found, key=lambda d: (-len(d.alone), -len(d.scenes), -len(d.holds_up), -len(d.missing)))


def _scenes_of(references: Sequence[Reference], scenes: Sequence[Scene]) -> Mapping[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {r.id: {} for r in references}
    for scene in scenes:
        for use in uses_in(scene):
            if use.through in found:
                found[use.through][scene.slug] = None
    return {one: tuple(slugs) for one, slugs in found.items()}
