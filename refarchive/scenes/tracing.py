"""Following a claim both ways: from a picture to the needs that stand on it, and from a need down to its pictures.

Up: reference → its details and passages → needs, swatches, intents and key references, with the number under which the
dossier cites it. Down: need → evidence → detail or passage → reference → the rest of its family.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from refarchive.records.model import Evidence, Family, Need, Scene

# How a scene can use a reference; the relations of evidence come first.
ROLES = ("shows", "describes", "contradicts", "swatch", "intent", "key reference")


@dataclass(frozen=True)
class Use:
    """One place where a scene uses a reference.

    `role` is one of `ROLES`; `need` and `department` are "" where the scene as a whole uses it. `detail` and `passage`
    say which part, None for the whole. `through` is the reference itself, or the member of its family that is cited.
    """

    scene: str
    role: str
    through: str
    need: str = ""
    need_name: str = ""
    department: str = ""
    detail: str | None = None
    passage: str | None = None
    note: str = ""


def uses(reference: str, scenes: Sequence[Scene], family: Family | None = None) -> tuple[Use, ...]:
    """Every place where the scenes use a reference or, with its family, a member of it; scenes in the order given."""
    members = {reference} | ({member.reference for member in family.members} if family else set())
    return tuple(use for scene in scenes for use in uses_in(scene) if use.through in members)


def uses_in(scene: Scene) -> Iterator[Use]:
    """Every use a scene makes of any reference: the scene's own first, then its needs in the order of the plan."""
    if scene.key_reference:
        yield Use(scene.slug, "key reference", scene.key_reference)
    for one in scene.intent.like:
        yield Use(scene.slug, "intent", one)
    for need in scene.needs:
        for e in need.evidence:
            yield _of(scene, need, e.reference, e.relation, e.detail, e.passage, e.note)
        for swatch in need.swatches:
            yield _of(scene, need, swatch.reference, "swatch", None, None, swatch.name)
    for place in scene.site.candidates if scene.site else ():
        for e in place.evidence:
            yield Use(scene.slug, e.relation, e.reference, "", place.name, "place", e.detail, e.passage, e.note)


def _of(scene: Scene, need: Need, reference: str, role: str, detail: str | None, passage: str | None, note: str) -> Use:
    return Use(scene.slug, role, reference, need.slug, need.name, need.department, detail, passage, note)


@dataclass(frozen=True)
class Support:
    """One piece of evidence of a need, with the others of its family that the archive holds."""

    evidence: Evidence
    family: tuple[str, ...]  # ids of the other members


def claim(need: Need, families: Mapping[str, Family]) -> tuple[Support, ...]:
    """What a need's claim stands on, in the order of the plan. `families` by id of each member."""
    return tuple(Support(e, _others(e.reference, families.get(e.reference))) for e in need.evidence)


def _others(reference: str, family: Family | None) -> tuple[str, ...]:
    return tuple(m.reference for m in family.members if m.reference != reference) if family else ()
