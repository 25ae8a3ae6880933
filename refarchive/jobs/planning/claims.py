"""Claims over one archive, followed both ways with the numbers the dossier prints; what a change would do to them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from refarchive.errors import UnknownRecord
from refarchive.jobs.kit import Kit
from refarchive.records.model import Evidence, Reference, Scene
from refarchive.scenes.debts import debts
from refarchive.scenes.effects import effects
from refarchive.scenes.tracing import claim, uses


def uses_of(kit: Kit, reference: Reference) -> dict[str, Any]:
    """Where a reference is used, as JSON: its details and passages, and every need they stand for."""
    family = kit.store.families.of(reference.id)
    scenes = kit.store.scenes()
    found = uses(reference.id, scenes, family)
    by_slug = {scene.slug: scene for scene in scenes}
    cited = {slug: _citations(kit, by_slug[slug]) for slug in dict.fromkeys(use.scene for use in found)}
    return {
        "reference": reference.id,
        "title": reference.title,
        "details": [
            {"detail": d.id, "region": list(d.region), "note": d.note} for d in kit.store.details(reference.id)
        ],
        "family": [m.reference for m in family.members] if family else [],
        "uses": [
            {
                "scene": use.scene,
                "role": use.role,
                "department": use.department,
                "need": use.need,
                "need_name": use.need_name,
                "number": cited[use.scene].number(use.through, use.detail, use.passage),
                "detail": use.detail,
                "passage": use.passage,
                "through": use.through,
                "note": use.note,
            }
            for use in found
        ],
    }


def claim_of(kit: Kit, scene: Scene, slug: str) -> dict[str, Any]:
    """What one need of a scene stands on, as JSON, down to the region of a picture or the words of a text.

    Raises UnknownRecord, naming the needs there are.
    """
    need = scene.need(slug)
    if need is None:
        known = ", ".join(n.slug for n in scene.needs) or "none"
        raise UnknownRecord(f"The scene {scene.slug!r} has no need {slug!r}.", f"There are: {known}.")
    cited = _citations(kit, scene)
    families = {m.reference: family for family in kit.store.families.all() for m in family.members}
    supports = claim(need, families)
    wanted = {s.evidence.reference for s in supports} | {one for s in supports for one in s.family}
    titles = {r.id: r for r in kit.store.references(sorted(wanted))}
    return {
        "scene": scene.slug,
        "need": need.slug,
        "need_name": need.name,
        "department": need.department,
        "evidence": [
            {
                "relation": s.evidence.relation,
                "number": cited.number_of(s.evidence),
                "reference": s.evidence.reference,
                "title": titles[s.evidence.reference].title if s.evidence.reference in titles else None,
                "witness": titles[s.evidence.reference].witness.value if s.evidence.reference in titles else None,
                "fit": dict(s.evidence.fit),
                "note": s.evidence.note,
                **_part(kit, s.evidence),
                "family": [{"reference": one, "title": titles[one].title} for one in s.family if one in titles],
            }
            for s in supports
        ],
    }


def _part(kit: Kit, evidence: Evidence) -> dict[str, Any]:
    """The marked region or the words a piece of evidence points at."""
    if evidence.detail:
        detail = kit.store.detail(evidence.detail)
        return {"detail": {"detail": detail.id, "region": list(detail.region), "note": detail.note}, "passage": None}
    if evidence.passage:
        passage = kit.store.passage(evidence.passage)
        return {"detail": None, "passage": {"passage": passage.id, "number": passage.number, "text": passage.text}}
    return {"detail": None, "passage": None}


def _citations(kit: Kit, scene: Scene) -> Any:
    from refarchive.jobs.planning.dossier import cited
    from refarchive.paper.citing import Citations

    return Citations(scene, *cited(kit, scene))


def effects_of(kit: Kit, reference: Reference, changes: dict[str, Any]) -> list[dict[str, Any]]:
    """What changing a reference would do to every need of every scene, as JSON; nothing is changed.

    `changes` are fields of `Reference` with their new values.
    """
    scenes = kit.store.scenes()
    ids = {e.reference for scene in scenes for need in scene.needs for e in need.evidence} | {reference.id}
    references = {r.id: r for r in kit.store.references(sorted(ids))}
    found = effects(replace(reference, **changes), scenes, references, kit.store.families.all())
    return [
        {
            "scene": effect.scene,
            "department": effect.department,
            "need": effect.need,
            "need_name": effect.need_name,
            "changes": [{"what": what, "before": before, "after": after} for what, before, after in effect.changes],
        }
        for effect in found
    ]


def debts_of(kit: Kit) -> list[dict[str, Any]]:
    """What is missing of each reference, as JSON, those first that most stands on."""
    return [
        {
            "reference": debt.reference.id,
            "title": debt.reference.title,
            "source_name": debt.reference.source_name,
            "missing": list(debt.missing),
            "scenes": list(debt.scenes),
            "holds_up": [{"scene": scene, "need": need} for scene, need in debt.holds_up],
            "alone": [{"scene": scene, "need": need} for scene, need in debt.alone],
        }
        for debt in debts(kit.store.references(), kit.store.scenes(), kit.store.families.all())
    ]
