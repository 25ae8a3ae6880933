"""What a change to one reference does to the scenes: coverage before and after, need by need.

Redating can move a witness from the scene's days to later; regrading can make a photograph from life a later
reconstruction. Neither changes whether a need is cited, so each difference is spelt out rather than summed up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from refarchive.records.model import Family, Reference, Scene
from refarchive.scenes.coverage import NeedCoverage, WitnessFor, coverage


@dataclass(frozen=True)
class Effect:
    """How one need stands before and after; `changes` are (what, before, after) in words, none equal."""

    scene: str
    need: str
    need_name: str
    department: str
    changes: tuple[tuple[str, str, str], ...]


def effects(
    changed: Reference, scenes: Sequence[Scene], references: Mapping[str, Reference], families: Sequence[Family] = ()
) -> tuple[Effect, ...]:
    """Every need that stands otherwise once `references[changed.id]` is replaced by `changed`.

    Parameters
    ----------
    changed
        The reference as it would be; its id must be in `references`.
    references
        All that the scenes cite, by id, as they are.
    scenes, families
        All that there are; needs come in the order of the scenes.
    """
    after = {**references, changed.id: changed}
    found = []
    for scene in scenes:
        old, new = coverage(scene, references, families), coverage(scene, after, families)
        for before, now in zip(old, new, strict=True):
            if changes := _differences(before, now, changed.id):
                need = before.need
                found.append(Effect(scene.slug, need.slug, need.name, need.department, changes))
    return tuple(found)


def _differences(before: NeedCoverage, after: NeedCoverage, reference: str) -> tuple[tuple[str, str, str], ...]:
    pairs = [
        ("rests on", _kinds(before), _kinds(after)),
        ("in time", _times(before), _times(after)),
        ("only later evidence", _yes(before.only_later), _yes(after.only_later)),
        ("kind of this witness", _own(before, reference, "kind"), _own(after, reference, "kind")),
        ("this witness in time", _own(before, reference, "time"), _own(after, reference, "time")),
        ("made after the event", _own(before, reference, "later"), _own(after, reference, "later")),
    ]
    return tuple(pair for pair in pairs if pair[1] != pair[2])


def _kinds(row: NeedCoverage) -> str:
    return "; ".join(f"{count} {kind}" for kind, count in row.by_kind.items()) or "nothing"


def _times(row: NeedCoverage) -> str:
    return ", ".join(f"{count} {word}" for word, count in row.by_period.items() if count) or "nothing"


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _own(row: NeedCoverage, reference: str, what: str) -> str:
    """What stands of the witness that the reference belongs to, for the need or against it."""
    found: list[WitnessFor] = [w for w in (*row.witnesses, *row.against) if reference in w.references]
    if not found:
        return "–"
    witness = found[0]
    return {"kind": ", ".join(witness.kinds), "time": witness.date_fit, "later": _yes(witness.later)}[what]
