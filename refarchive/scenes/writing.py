"""Writing a scene out as the TOML plan that reading it would give back."""

from __future__ import annotations

from typing import Any, Protocol

from refarchive.errors import AmbiguousName, UnknownRecord
from refarchive.records import model
from refarchive.scenes.onsite_plan import written
from refarchive.scenes.plan import FACTS


class Records(Protocol):
    """What writing a plan asks of an archive."""

    def resolve(self, name: str) -> model.Reference: ...

    def reference(self, reference: str) -> model.Reference: ...

    def detail(self, detail: str) -> model.Detail: ...

    def passage(self, passage: str) -> model.Passage: ...


def write_plan(scene: model.Scene, records: Records) -> str:
    """The plan of a scene as TOML. References stand by file name where unique, else by id; empty fields are left out.

    Raises UnknownRecord where the scene stands on a record that the archive does not hold.
    """
    import tomli_w

    return tomli_w.dumps(_Writer(records).plan(scene))


class _Writer:
    def __init__(self, records: Records) -> None:
        self.records = records

    def name(self, reference: str) -> str:
        found = self.records.reference(reference)
        try:
            same = self.records.resolve(found.source_name).id == reference if found.source_name else False
        except (AmbiguousName, UnknownRecord):
            same = False
        return found.source_name if same else reference

    def plan(self, scene: model.Scene) -> dict[str, Any]:
        head: dict[str, Any] = {
            name: getattr(scene, name) for name in ("title", "slug", "series", "event", "place", "story", "currency")
        }
        head["date"] = _date(scene.when)
        head["latitude"], head["longitude"] = scene.latitude, scene.longitude
        head["key_reference"] = self.name(scene.key_reference) if scene.key_reference else ""
        head["statements"], head["misreadings"] = list(scene.statements), list(scene.misreadings)
        return _kept(
            {
                "scene": _kept(head),
                "intent": self.intent(scene.intent),
                "safety": dict(scene.safety),
                "figure": [
                    _kept({**_texts(f, "slug name performer role rank action wet"), "sizes": dict(f.sizes)})
                    for f in scene.figures
                ],
                "variation": [{"title": v.title, "moment": v.moment} for v in scene.variations],
                "need": [self.need(need) for need in scene.needs],
                "site": written(scene.site, self.evidence) if scene.site else {},
                "rig": written(scene.rig, self.evidence) if scene.rig else {},
            }
        )

    def intent(self, intent: model.Intent) -> dict[str, Any]:
        default = model.Intent()
        values: dict[str, Any] = {
            name: getattr(intent, name)
            for name in model.Intent.__dataclass_fields__
            if getattr(intent, name) != getattr(default, name)
        }
        if intent.palette:
            values["palette"] = [_kept({"hex": c.hex, "share": c.share, "name": c.name}) for c in intent.palette]
        if intent.like:
            values["like"] = [self.name(reference) for reference in intent.like]
        return _kept(values)

    def need(self, need: model.Need) -> dict[str, Any]:
        labels = {label: key for key, label in FACTS.get(need.department, {}).items()}
        sourcing = vars(need.sourcing)
        return _kept(
            {
                **_texts(need, "slug name department figure prominence description"),
                **{name: list(getattr(need, name)) for name in ("do", "dont", "substitutes", "breakdown")},
                "quantity": _kept(dict(vars(need.quantity))) if need.quantity != model.Quantity() else {},
                "sourcing": _kept(dict(sourcing)) if need.sourcing != model.Sourcing() else {},
                "facts": {labels.get(label, label): value for label, value in need.facts},
                "evidence": [self.evidence(e) for e in need.evidence],
                "answer": [_kept(dict(vars(answer))) for answer in need.answers],
                "swatch": [
                    _kept({"reference": self.name(s.reference), "region": _list(s.region), "name": s.name})
                    for s in need.swatches
                ],
            }
        )

    def evidence(self, evidence: model.Evidence) -> dict[str, Any]:
        region = self.records.detail(evidence.detail).region if evidence.detail else None
        quote = self.records.passage(evidence.passage).text[:300] if evidence.passage else ""
        return _kept(
            {
                "reference": self.name(evidence.reference),
                "relation": evidence.relation,
                "region": _list(region),
                "quote": quote.rpartition(" ")[0] if len(quote) == 300 else quote,
                "note": evidence.note,
                "fit": dict(evidence.fit),
            }
        )


def _texts(record: Any, names: str) -> dict[str, str]:
    return {name: getattr(record, name) for name in names.split()}


def _list(region: model.Region | None) -> list[float] | None:
    return list(region) if region else None


def _date(when: model.When | None) -> str:
    """The date as a plan may hold it: as written where that reads back, else its EDTF."""
    if when is None:
        return ""
    from refarchive.records.dates import read_date

    try:
        return when.text if read_date(when.text) == when else when.edtf
    except ValueError:
        return when.edtf


def _kept(values: dict[str, Any]) -> dict[str, Any]:
    """Without what is empty; numbers stay, nought too."""
    return {k: v for k, v in values.items() if v is not None and v != "" and v != [] and v != {} and v != ()}
