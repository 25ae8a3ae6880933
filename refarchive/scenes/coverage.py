"""What each need of a scene rests on: independent witnesses by kind, gaps, contradictions, and what would change that.

A family of references is one witness, however many of its members are cited. Evidence that contradicts never supports.
Fit in time is computed from the days a reference can be of and the days of the scene: *exact* where they overlap,
*near* within `NEAR_YEARS` years, *far* beyond, *unknown* where either is undated (common practice, no source).
Nothing here is one number: kinds, fits and times stand side by side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from refarchive.records.model import Evidence, Family, Need, Reference, Scene, When, Witness

NEAR_YEARS = 10
_DAYS_PER_YEAR = 365.2425
SUPPORTING = ("shows", "describes")
# Where a witness lies to the scene in time, with the words of a table's head.
SPANS = {
    "far before": f"over {NEAR_YEARS} years before",
    "near before": f"up to {NEAR_YEARS} years before",
    "exact": "may be of the scene's days",
    "near after": f"up to {NEAR_YEARS} years after",
    "far after": f"over {NEAR_YEARS} years after",
    "unknown": "undated",
}


@dataclass(frozen=True)
class WitnessFor:
    """One independent witness for or against a need: a reference, or the members of one family that are cited.

    `kinds` are the kinds of witness of the members; `date_fit` the best of theirs; `entered_fit` what the person said
    of place, rank, occupation and occasion, the best word of each aspect. `later` says that every member is dated
    wholly after the scene; `span` is the fit in time with its direction, a key of `SPANS`.
    """

    references: tuple[str, ...]
    kinds: tuple[str, ...]
    date_fit: str  # exact, near, far, unknown
    entered_fit: tuple[tuple[str, str], ...]
    later: bool
    span: str = "unknown"


@dataclass(frozen=True)
class NeedCoverage:
    """What one need rests on."""

    need: Need
    witnesses: tuple[WitnessFor, ...]  # for it
    against: tuple[WitnessFor, ...]  # contradicting it

    @property
    def gap(self) -> bool:
        """Whether nothing supports it."""
        return not self.witnesses

    @property
    def only_later(self) -> bool:
        """Whether all that supports it is dated after the scene, or is a later reconstruction."""
        reconstruction = (Witness.LATER.value,)
        return bool(self.witnesses) and all(w.later or w.kinds == reconstruction for w in self.witnesses)

    @property
    def by_kind(self) -> dict[str, int]:
        """How many independent witnesses of each kind; one with members of several kinds counts under the first."""
        counted: dict[str, int] = {}
        for witness in self.witnesses:
            counted[witness.kinds[0]] = counted.get(witness.kinds[0], 0) + 1
        return counted

    @property
    def by_period(self) -> dict[str, int]:
        """How many independent witnesses by fit in time."""
        return {word: sum(w.date_fit == word for w in self.witnesses) for word in ("exact", "near", "far", "unknown")}

    @property
    def by_span(self) -> dict[str, dict[str, int]]:
        """How many independent witnesses of each kind, by span of time; spans without any are left out."""
        counted: dict[str, dict[str, int]] = {}
        for name in SPANS:
            for witness in self.witnesses:
                if witness.span == name:
                    kinds = counted.setdefault(name, {})
                    kinds[witness.kinds[0]] = kinds.get(witness.kinds[0], 0) + 1
        return counted


def span(reference: When | None, scene: When | None) -> str:
    """The fit in time and its direction: a key of `SPANS`."""
    fit = date_fit(reference, scene)
    if reference is None or scene is None or fit in ("exact", "unknown"):
        return fit
    return f"{fit} {'after' if _gap_days(reference, scene) > 0 else 'before'}"


def date_fit(reference: When | None, scene: When | None) -> str:
    """How a reference's days lie to the scene's: exact, near, far or unknown."""
    if reference is None or scene is None:
        return "unknown"
    gap = _gap_days(reference, scene)
    if gap == 0:
        return "exact"
    return "near" if abs(gap) <= NEAR_YEARS * _DAYS_PER_YEAR else "far"


def _gap_days(one: When, other: When) -> int:
    if one.earliest is not None and other.latest is not None and one.earliest > other.latest:
        return one.earliest - other.latest
    if one.latest is not None and other.earliest is not None and one.latest < other.earliest:
        return one.latest - other.earliest
    return 0


def coverage(
    scene: Scene, references: Mapping[str, Reference], families: Sequence[Family] = ()
) -> tuple[NeedCoverage, ...]:
    """What every need of a scene rests on, in the order of the plan. References not in `references` are passed over."""
    return tuple(NeedCoverage(need, *rests_on(need.evidence, scene, references, families)) for need in scene.needs)


def rests_on(
    evidence: Sequence[Evidence], scene: Scene, references: Mapping[str, Reference], families: Sequence[Family] = ()
) -> tuple[tuple[WitnessFor, ...], tuple[WitnessFor, ...]]:
    """Independent witnesses for and against something that evidence was collected for, such as a place."""
    family_of = {member.reference: family.id for family in families for member in family.members}
    return (
        _witnesses([e for e in evidence if e.relation in SUPPORTING], scene, references, family_of),
        _witnesses([e for e in evidence if e.relation == "contradicts"], scene, references, family_of),
    )


def _witnesses(
    evidence: Sequence[Evidence], scene: Scene, references: Mapping[str, Reference], family_of: Mapping[str, str]
) -> tuple[WitnessFor, ...]:
    groups: dict[str, list[Evidence]] = {}
    for one in evidence:
        if one.reference in references:
            groups.setdefault(family_of.get(one.reference, one.reference), []).append(one)
    return tuple(_witness(group, scene, references) for group in groups.values())


def _witness(group: Sequence[Evidence], scene: Scene, references: Mapping[str, Reference]) -> WitnessFor:
    ids = tuple(dict.fromkeys(e.reference for e in group))
    own = [references[i] for i in ids]
    order = ("exact", "near", "far", "unknown")
    spans = [span(r.depicts or r.when, scene.when) for r in own]
    best = min(spans, key=lambda word: order.index(word.split()[0]))
    entered: dict[str, str] = {}
    for aspect, word in (pair for e in group for pair in e.fit):
        entered[aspect] = min(entered.get(aspect, "unknown"), word, key=order.index)
    return WitnessFor(
        references=ids,
        kinds=tuple(dict.fromkeys(r.witness.value for r in own)),
        date_fit=best.split()[0],
        entered_fit=tuple(entered.items()),
        later=all(_later(r.when, scene.when) for r in own),
        span=best,
    )


def _later(made: When | None, scene: When | None) -> bool:
    return made is not None and scene is not None and _gap_days(made, scene) > 0


def what_would_change(row: NeedCoverage, titles: Mapping[str, str]) -> str:
    """The smallest fact, added or taken away, that would turn the need from supported to unsupported or back.

    `titles` names references by id. Two witnesses found to be one family leave a need supported, so the smallest loss
    that unsupports it is always the loss of every independent witness; with one, that one is named.
    """

    def named(witness: WitnessFor) -> str:
        told = " and ".join(titles.get(one, one) for one in witness.references)
        return f"{told} (one family)" if len(witness.references) > 1 else told

    if not row.witnesses:
        if row.against:
            return f"One reference that shows or describes it; now only {named(row.against[0])} speaks, against it."
        return "One reference that shows or describes it."
    if len(row.witnesses) == 1:
        return f"It stands on {named(row.witnesses[0])} alone: without that, nothing supports it."
    every = "both" if len(row.witnesses) == 2 else f"all {len(row.witnesses)}"
    return f"It would be without support only if {every} were given up: {'; '.join(map(named, row.witnesses))}."


def as_rows(
    rows: Sequence[NeedCoverage], titles: Mapping[str, str], anachronisms: Mapping[str, Sequence[Any]] | None = None
) -> list[dict[str, Any]]:
    """Coverage as JSON. `anachronisms` are questions by slug of the need."""
    return [
        {
            "need": row.need.slug,
            "name": row.need.name,
            "department": row.need.department,
            "independent_witnesses": len(row.witnesses),
            "by_kind": row.by_kind,
            "by_period": row.by_period,
            "by_span": row.by_span,
            "gap": row.gap,
            "only_later": row.only_later,
            "contradicted_by": [one for witness in row.against for one in witness.references],
            "later_evidence": [one for w in row.witnesses if w.later for one in w.references],
            "witnesses": [
                {
                    "references": list(w.references),
                    "kinds": list(w.kinds),
                    "date_fit": w.date_fit,
                    "span": w.span,
                    "fit": dict(w.entered_fit),
                }
                for w in row.witnesses
            ],
            "what_would_change": what_would_change(row, titles),
            "anachronisms": list((anachronisms or {}).get(row.need.slug, ())),
        }
        for row in rows
    ]
