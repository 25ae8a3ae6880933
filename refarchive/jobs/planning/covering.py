"""Coverage of a scene over one archive: what each need rests on, and what in the archive could fill its gaps."""

from __future__ import annotations

from typing import Any

from refarchive.jobs.kit import Kit
from refarchive.jobs.planning import asking
from refarchive.jobs.references import finding
from refarchive.records.model import Reference, Scene
from refarchive.scenes.coverage import NeedCoverage, as_rows, coverage

NEAREST = 3  # references offered for each gap


def cover(kit: Kit, scene: Scene) -> tuple[NeedCoverage, ...]:
    """What every need of a scene rests on, families counted once."""
    return coverage(scene, _cited(kit, scene), kit.store.families.all())


def _cited(kit: Kit, scene: Scene) -> dict[str, Reference]:
    ids = list(dict.fromkeys(e.reference for need in scene.needs for e in need.evidence))
    return {r.id: r for r in kit.store.references(ids)}


def document(kit: Kit, scene: Scene) -> dict[str, Any]:
    """Coverage as JSON; each gap with the nearest references that the scene does not cite for it yet.

    `anachronisms` are open questions, `answered` those the person has answered;
    `later_words` sentences on evidence, for or against, that is later than the event.
    """
    rows = cover(kit, scene)
    titles = {r.id: r.title for r in _cited(kit, scene).values()}
    told = asking.asked(kit, scene)
    anachronisms: dict[str, list[dict[str, Any]]] = {}
    for question in told.questions:
        anachronisms.setdefault(question.need, []).append(asking.question_as_dict(question))
    answered: dict[str, list[dict[str, Any]]] = {}
    for question in told.answered:
        answered.setdefault(question.need, []).append(asking.question_as_dict(question))
    needs = as_rows(rows, titles, anachronisms)
    for row, entry in zip(rows, needs, strict=True):
        entry["answered"] = answered.get(row.need.slug, [])
        entry["later_words"] = [one.words for one in told.later if one.need == row.need.slug]
        entry["nearest"] = _nearest(kit, scene, row) if row.gap else []
    return {"scene": scene.slug, "needs": needs, "silence": told.silence, "notices": list(told.notices)}


def _nearest(kit: Kit, scene: Scene, row: NeedCoverage) -> list[dict[str, Any]]:
    from refarchive.search.finding import Query

    need = row.need
    words = ". ".join(part for part in (need.name, need.description) if part)
    cited = {e.reference for e in need.evidence}
    found = finding.find(kit, Query(words=words, top=NEAREST + len(cited) + 12))
    offered: dict[str, dict[str, Any]] = {}
    for hit in found.hits:
        one = hit.reference
        if one.id not in cited and one.id not in offered and len(offered) < NEAREST:
            offered[one.id] = {
                "reference": one.id,
                "title": one.title,
                "date": one.when.edtf if one.when else None,
                "witness": one.witness.value,
                "because": [{"source": b.source, "rank": b.rank} for b in hit.because],
            }
    return list(offered.values())
