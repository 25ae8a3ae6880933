"""Place and light of a scene: when to be there, and what the strobes must do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from refarchive.archive import Archive


class OnSiteDesk:
    """Reached as `archive.onsite`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive

    def rig(self, slug: str) -> dict[str, Any]:
        """The rig of a scene worked out, as JSON: light at each point, the unit schedule, what would reach the contrast
        meant, batteries, booms, wind, the walk in, and the cautions that go with them.

        Raises UnknownRecord where the scene has no rig, PlanRefused for what cannot be.
        """
        from refarchive.jobs import lit

        return lit.document(lit.of_scene(self._archive.scene(slug)))
