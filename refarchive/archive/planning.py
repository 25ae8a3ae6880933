"""Planning without an editor: scenes begun, values and needs changed, with the revision that a change was made on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from refarchive.errors import UnknownRecord

if TYPE_CHECKING:
    from refarchive.archive import Archive
    from refarchive.records.model import Scene

Values = Mapping[str, Any]


class PlanDesk:
    """Reached as `archive.planning`; holds nothing of its own. The plan keeps its comments and its order."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive

    def words(self) -> dict[str, Any]:
        """The keys and words a plan may hold, as JSON: facts of each department with their labels, topics of safety,
        departments, states of sourcing, fits of evidence, answers to questions.
        """
        from refarchive.records import model
        from refarchive.scenes.plan import FACTS, SAFETY_TOPICS

        return {
            "departments": list(model.DEPARTMENTS),
            "facts": {department: dict(labels) for department, labels in FACTS.items()},
            "safety": list(SAFETY_TOPICS),
            "states": list(model.SOURCING_STATES),
            "relations": list(model.RELATIONS),
            "fit_aspects": list(model.FIT_ASPECTS),
            "fit_words": list(model.FIT_WORDS),
            "answers": list(model.ANSWERS),
        }

    def begin(self, title: str, *, event: str = "", story: str = "", date: str = "") -> Scene:
        """A new scene of which little more than the title is known. Raises PlanRefused, RecordRefused."""
        from refarchive.scenes.linking import with_values
        from refarchive.scenes.plan import slug_of

        values = {"title": title, "slug": slug_of(title), "event": event, "story": story, "date": date}
        text = with_values("[scene]\n", {("scene", key): value for key, value in values.items()})
        return self._archive.plan(text, expected=0)

    def write(self, slug: str, toml: str, *, expected: int | None = None) -> Scene:
        """The whole plan of a scene from its text, as a person edits it.

        Raises PlanRefused with the line and the field, also where the text is of another scene, and ChangedMeanwhile;
        nothing is changed then.
        """
        import tomllib

        from refarchive.errors import PlanRefused
        from refarchive.scenes.plan import slug_of

        now = self._archive.scene(slug)
        try:
            head = tomllib.loads(toml).get("scene")
        except (ValueError, RecursionError):
            head = None  # refused below, with its line
        if isinstance(head, dict):
            named = str(head.get("slug") or slug_of(str(head.get("title", ""))))
            if named != slug:
                raise PlanRefused(
                    f"scene, slug: this text is of the scene {named!r}, and {slug!r} is open.",
                    f'Write slug = "{slug}" in [scene], or begin a new scene for it.',
                    field="scene, slug",
                )
        return self._archive.plan(toml, expected=now.revision if expected is None else expected)

    def change(
        self,
        slug: str,
        *,
        scene: Values | None = None,
        intent: Values | None = None,
        safety: Values | None = None,
        figures: Mapping[str, Values] | None = None,
        needs: Mapping[str, Values] | None = None,
        variations: list[dict[str, str]] | None = None,
        expected: int | None = None,
    ) -> Scene:
        """Change values of a scene, of its intent, of its safety, and of figures and needs by slug
        ({"lamp": {"sourcing": {"state": "own"}}}); `variations` are the whole list.

        Keys and values are those of a plan; None, "" and an empty list take one away, a list is taken as a whole.
        `expected` is the revision the change was made on. Raises PlanRefused with the field, ChangedMeanwhile,
        UnknownRecord; nothing is changed then.
        """
        from refarchive.scenes.linking import with_values

        now = self._archive.scene(slug)
        values: dict[tuple[str | int, ...], Any] = {("scene", "slug"): slug}  # a new title must not make another scene
        for table, given in (("scene", scene), ("intent", intent), ("safety", safety)):
            values |= {(table, key): value for key, value in (given or {}).items()}
        for kind, changed in (("figure", figures), ("need", needs)):
            for name, given in (changed or {}).items():
                place = place_of(now, kind, name)
                values[kind, place, "slug"] = name
                for key, value in given.items():
                    if isinstance(value, Mapping):
                        values |= {(kind, place, key, part): one for part, one in value.items()}
                    else:
                        values[kind, place, key] = value
        if variations is not None:
            values["variation",] = variations
        text = with_values(self._archive.plan_text(slug), values)
        return self._archive.plan(text, expected=now.revision if expected is None else expected)

    def add_need(self, slug: str, values: Values, *, expected: int | None = None) -> Scene:
        """One more need at the end of a scene: name, department, figure, description. Raises as `change`."""
        return self._add(slug, ("need",), values, expected)

    def remove_need(self, slug: str, need: str, *, expected: int | None = None) -> Scene:
        """Take a need and its evidence out of a scene; history keeps it. Raises UnknownRecord, ChangedMeanwhile."""
        return self._remove(slug, ("need",), place_of(self._archive.scene(slug), "need", need), expected)

    def add_figure(self, slug: str, values: Values, *, expected: int | None = None) -> Scene:
        """One more figure: name, performer, role, rank, action, wet, sizes. Raises as `change`."""
        return self._add(slug, ("figure",), values, expected)

    def remove_figure(self, slug: str, figure: str, *, expected: int | None = None) -> Scene:
        """Take a figure out of a scene. Raises PlanRefused where a need is still theirs, and as `remove_need`."""
        return self._remove(slug, ("figure",), place_of(self._archive.scene(slug), "figure", figure), expected)

    def judge(
        self, slug: str, need: str, evidence: int, *, note: str, fit: Mapping[str, str], expected: int | None = None
    ) -> Scene:
        """Say anew what a need's piece of evidence, counted from 0, tells (`note`), and how its place, rank, occupation
        and occasion fit the scene. Raises as `change`, and UnknownRecord where there is no such piece.
        """
        from refarchive.scenes.linking import with_values

        now = self._archive.scene(slug)
        place = place_of(now, "need", need)
        if not 0 <= evidence < len(now.needs[place].evidence):
            raise UnknownRecord(f"The need {need!r} has no evidence {evidence}.", "Open the scene again.")
        at = ("need", place, "evidence", evidence)
        text = with_values(self._archive.plan_text(slug), {(*at, "note"): note, (*at, "fit"): None})
        text = with_values(text, {(*at, "fit", aspect): word for aspect, word in fit.items()})
        return self._archive.plan(text, expected=now.revision if expected is None else expected)

    def answer(
        self, slug: str, need: str, thing: str, says: str, note: str = "", *, expected: int | None = None
    ) -> Scene:
        """Answer a question from first dates, so that it is not put again: `says` is one of the answers of `words`, ""
        to take the answer back. Raises as `change`.
        """
        now = self._archive.scene(slug)
        place = place_of(now, "need", need)
        given = [vars(one) for one in now.needs[place].answers if one.thing.casefold() != thing.casefold()]
        given += [{"thing": thing, "says": says, "note": note}] if says else []
        return self.change(slug, needs={need: {"answer": given}}, expected=expected)

    def colours_of(self, reference: str, count: int = 4) -> list[dict[str, Any]]:
        """The main colours of a reference's picture, as a palette for an intent may hold them: hex, share, name.

        Raises UnknownRecord, SourceRefused, CannotMeasure.
        """
        import numpy as np

        from refarchive.looks.colour import palette

        found = palette(np.asarray(self._archive.picture(reference, 1000)), count)
        shares = [round(float(share), 2) for share in found.shares]
        shares[0] = round(shares[0] + 1.0 - sum(shares), 2)  # what rounding left over
        return [{"hex": h, "share": s, "name": ""} for h, s in zip(found.hexes, shares, strict=True) if s > 0]

    def _add(self, slug: str, at: tuple[str, ...], values: Values, expected: int | None) -> Scene:
        from refarchive.scenes.linking import with_entry, with_values

        now = self._archive.scene(slug)
        text = with_values(with_entry(self._archive.plan_text(slug), at, values), {("scene", "slug"): slug})
        return self._archive.plan(text, expected=now.revision if expected is None else expected)

    def _remove(self, slug: str, at: tuple[str, ...], place: int, expected: int | None) -> Scene:
        from refarchive.scenes.linking import without_entry

        now = self._archive.scene(slug)
        text = without_entry(self._archive.plan_text(slug), at, place)
        return self._archive.plan(text, expected=now.revision if expected is None else expected)


def place_of(scene: Scene, kind: str, slug: str) -> int:
    """Where a figure or a need stands among those of its scene, from 0. Raises UnknownRecord."""
    slugs = [one.slug for one in scene.figures] if kind == "figure" else [one.slug for one in scene.needs]
    if slug in slugs:
        return slugs.index(slug)
    raise UnknownRecord(
        f"The scene {scene.slug!r} has no {kind} {slug!r}.", f"There are: {', '.join(slugs) or 'none'}."
    )
