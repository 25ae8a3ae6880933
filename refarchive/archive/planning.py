"""Planning without an editor: scenes begun, values and needs changed, with the revision that a change was made on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from refarchive.errors import UnknownRecord

if TYPE_CHECKING:
    from refarchive.archive import Archive
    from refarchive.records.model import Scene


class PlanDesk:
    """Reached as `archive.planning`; holds nothing of its own. The plan keeps its comments and its order."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive

    def begin(self, title: str, *, event: str = "", story: str = "", date: str = "") -> Scene:
        """A new scene of which little more than the title is known. Raises PlanRefused, RecordRefused."""
        from refarchive.scenes.linking import with_values
        from refarchive.scenes.plan import slug_of

        values = {"title": title, "slug": slug_of(title), "event": event, "story": story, "date": date}
        text = with_values("[scene]\n", {("scene", key): value for key, value in values.items()})
        return self._archive.plan(text, expected=0)

    def change(
        self,
        slug: str,
        *,
        scene: Mapping[str, Any] | None = None,
        intent: Mapping[str, Any] | None = None,
        needs: Mapping[str, Mapping[str, Any]] | None = None,
        expected: int | None = None,
    ) -> Scene:
        """Change values of a scene, of its intent, and of its needs by slug ({"lamp": {"sourcing": {"state": "own"}}}).

        Keys and values are those of a plan; None or "" takes one away. `expected` is the revision the change was made
        on. Raises PlanRefused with the field, ChangedMeanwhile, UnknownRecord; nothing is changed then.
        """
        from refarchive.scenes.linking import with_values

        now = self._archive.scene(slug)
        values: dict[tuple[str | int, ...], Any] = {("scene", "slug"): slug}  # a new title must not make another scene
        values |= {("scene", key): value for key, value in (scene or {}).items()}
        values |= {("intent", key): value for key, value in (intent or {}).items()}
        for name, said in (needs or {}).items():
            place = self._place(now, name)
            values["need", place, "slug"] = name
            for key, value in said.items():
                if isinstance(value, Mapping):
                    values |= {("need", place, key, part): one for part, one in value.items()}
                else:
                    values["need", place, key] = value
        text = with_values(self._archive.plan_text(slug), values)
        return self._archive.plan(text, expected=now.revision if expected is None else expected)

    def add_need(self, slug: str, values: Mapping[str, Any], *, expected: int | None = None) -> Scene:
        """One more need at the end of a scene: name, department, figure, description. Raises as `change`."""
        from refarchive.scenes.linking import with_need, with_values

        now = self._archive.scene(slug)
        text = with_need(self._archive.plan_text(slug), values)
        text = with_values(text, {("scene", "slug"): slug})
        return self._archive.plan(text, expected=now.revision if expected is None else expected)

    def remove_need(self, slug: str, need: str, *, expected: int | None = None) -> Scene:
        """Take a need and its evidence out of a scene; history keeps it. Raises UnknownRecord, ChangedMeanwhile."""
        from refarchive.scenes.linking import without_need

        now = self._archive.scene(slug)
        text = without_need(self._archive.plan_text(slug), self._place(now, need))
        return self._archive.plan(text, expected=now.revision if expected is None else expected)

    def _place(self, scene: Scene, need: str) -> int:
        for place, one in enumerate(scene.needs):
            if one.slug == need:
                return place
        raise UnknownRecord(
            f"The scene {scene.slug!r} has no need {need!r}.",
            f"There are: {', '.join(one.slug for one in scene.needs) or 'none'}.",
        )
