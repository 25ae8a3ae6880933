"""Gather references, say where they come from, mark details, and fill in what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from refarchive.errors import BadQuery, ChangedMeanwhile
from refarchive.panels.base import LARGE_PX, Answer, Panel, answers, checked_region, jpeg, script, style
from refarchive.records.model import Reference, Witness

FIELDS = ("title", "creator", "date", "place", "source", "rights", "witness", "description", "medium", "credit")
PASSAGES = 20  # of a text, shown
LISTED = 200  # references or debts in one answer


class Gather(Panel):
    """The panel of gathering and of what is said of references."""

    _esm = script("editing", "gather")
    _css = style("gather")

    @answers("start")
    def start(self) -> Answer:
        """What there is, and what is missing of it."""
        return {
            "references": len(self.archive),
            "witnesses": [one.value for one in Witness],
            "missing": self._missing(),
        }

    def _missing(self) -> list[dict[str, Any]]:
        return [
            {"reference": one["reference"], "title": one["title"], "missing": list(one["missing"])}
            for one in self.archive.evidence.debts()[:LISTED]
        ]

    @answers("gather", long=True, kept="What was taken in until then is kept. Gather the same again to go on.")
    def gather(
        self,
        number: int,
        uploads: Sequence[str] = (),
        place: str = "",
        sheet: str = "",
        said: Mapping[str, str] | None = None,
    ) -> Answer:
        """Take in files from the browser, or a file or folder of this computer, or what a sheet names."""
        sources = [self.taken(one) for one in uploads]
        if place.strip():
            sources.append(Path(place.strip()).expanduser())
        if not sources and not sheet:
            raise BadQuery("Nothing was chosen.", "Choose files, or write where a folder lies on this computer.")
        given = {key: value.strip() for key, value in (said or {}).items() if key in FIELDS and value.strip()}
        before = {reference.id for reference in self.archive.references()}
        report = self.archive.gather(
            *sources,
            sheet=self.taken(sheet) if sheet else None,
            progress=self.telling(number),
        )
        fresh = [one.id for one in self.archive.references() if one.id not in before]
        for one in fresh if given else ():
            self.archive.describe(one, **given)
        places, pictures = self.previews(fresh)
        shown = [
            {**self.archive.summary(self.archive.reference(one)), "picture": where}
            for one, where in zip(fresh[:LISTED], places, strict=False)
        ]
        told = {**report.as_dict(), "references": shown, "missing": self._missing(), "whole": len(self.archive)}
        return told, pictures

    @answers("open")
    def open_reference(self, name: str) -> Answer:
        """One reference to be worked on: what is said of it, its details, its picture."""
        reference = self.archive.reference(name)
        text = reference.kind == "text"
        document = {
            "reference": reference.id,
            "kind": reference.kind,
            "missing": list(reference.missing),
            "said": _said(reference),
            "details": self._details(reference.id),
            "passages": [one.text for one in self.archive.passages(reference.id)[:PASSAGES]] if text else [],
        }
        if reference.kind != "image":
            return document
        return document, [jpeg(self.archive.picture(reference.id, LARGE_PX))]

    @answers("preview")
    def preview(self, name: str, date: str) -> Answer:
        """What a date is understood as, and what it would change, before it is kept."""
        if not date.strip():
            return {"words": "No date.", "effects": []}
        seen = self.archive.evidence.preview(name, date=date)
        changes = [
            f"{one['need_name']}: {change['what']} {change['before']} → {change['after']}"
            for one in seen["effects"]
            for change in one["changes"]
        ]
        return {"words": seen["understood"].get("date", ""), "effects": changes}

    @answers("save")
    def save(self, name: str, said: Mapping[str, str], was: Mapping[str, str]) -> Answer:
        """Keep what is said of a reference. `was` is what the panel showed before: only what differs from it is
        changed, and nothing that somebody else has changed since.
        """
        now = _said(self.archive.reference(name))
        given = {key: str(value).strip() for key, value in said.items() if key in FIELDS}
        changed = {key: value for key, value in given.items() if value != str(was.get(key, "")).strip()}
        meanwhile = [key for key in changed if now[key] != str(was.get(key, ""))]
        if meanwhile:
            raise ChangedMeanwhile(
                f"{now['title']!r} was changed meanwhile: {', '.join(meanwhile)}.",
                "Open it again, and make the change on what it says now.",
                records=(name,),
            )
        if changed:
            self.archive.describe(name, **changed)
        return {
            "changed": sorted(changed),
            "missing": self._missing(),
            "said": _said(self.archive.reference(name)),
        }

    @answers("mark")
    def mark(self, name: str, region: Sequence[float] | None = None, note: str = "") -> Answer:
        """Keep a marked detail with its note."""
        part = checked_region(region)
        if part is None:
            raise BadQuery("Nothing is marked.", "Draw a box on the picture first.")
        self.archive.mark(name, part, note.strip())
        return {"details": self._details(name)}

    def _details(self, name: str) -> list[dict[str, Any]]:
        return [{"id": one.id, "region": list(one.region), "note": one.note} for one in self.archive.details(name)]


def _said(reference: Reference) -> dict[str, str]:
    """What is said of a reference, as a person writes it."""
    said = {key: str(getattr(reference, key)) for key in FIELDS if key not in ("date", "witness")}
    when = reference.when
    return {**said, "date": (when.text or when.edtf) if when else "", "witness": reference.witness.value}
