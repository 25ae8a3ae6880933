"""Place and light of a scene: when to be there, and what the strobes must do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from refarchive.archive import Archive
    from refarchive.encoders.base import Progress
    from refarchive.jobs.planning.drawn import Drawn


class OnSiteDesk:
    """Reached as `archive.onsite`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive

    def rig(self, slug: str) -> dict[str, Any]:
        """The rig of a scene worked out, as JSON: light at each point, the unit schedule, what would reach the contrast
        meant, batteries, booms, wind, the walk in, and the cautions that go with them.

        Raises UnknownRecord where the scene has no rig, PlanRefused for what cannot be.
        """
        from refarchive.jobs.planning import lit

        return lit.document(lit.of_scene(self._archive.scene(slug)))

    def day(self, slug: str, on: str) -> dict[str, Any]:
        """Sun and moon at a scene's place on a day (2027-10-11), as JSON. Raises UnknownRecord, SiteRefused."""
        from refarchive.jobs.planning import sited

        return sited.day_document(self._archive.scene(slug), on)

    def moment(self, slug: str) -> dict[str, Any]:
        """Where the sun stood at the moment that a scene tells of, as JSON; doubt of the clock is shown as a range.

        Raises UnknownRecord where the scene has no day or no place, SiteRefused.
        """
        from refarchive.jobs.planning import sited

        return sited.moment_document(self._archive.scene(slug))

    def site(self, slug: str, on: str | None = None, *, progress: bool | Progress = False) -> dict[str, Any]:
        """What is known of a scene's place, as JSON: its candidates apart, the day of the shoot (`on`, or the one
        planned), the windows where the plan sets any, and the moment that is told of. What the plan does not say stands
        among `notices`. Raises UnknownRecord, SiteRefused.
        """
        from refarchive.jobs.planning import windows

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "looking") as kit:
            return windows.site_document(kit, scene, on)

    def drawing(self, slug: str) -> Drawn:
        """The lighting plan of a scene drawn to scale: `svg`, from above and from the side, and `words`, the same in
        sentences. Raises UnknownRecord where the scene has no rig, PlanRefused.
        """
        from refarchive.jobs.planning import drawn

        return drawn.draw(self._archive.scene(slug))

    def look(self, slug: str, *, at: str = "", powers: Mapping[int, float] | None = None) -> dict[str, Any]:
        """The rig, the sun and the drawing as they would be at another time ("2027-10-11 14:50"), or with lights by
        number at other fractions of full power; nothing is kept. As JSON: `rig`, `day` (None without a place),
        `drawing`.

        Raises UnknownRecord, PlanRefused, SiteRefused.
        """
        from refarchive.jobs.planning import drawn

        return drawn.look(self._archive.scene(slug), at, powers or {})

    def windows(self, slug: str, *, progress: bool | Progress = False) -> dict[str, Any]:
        """When everything that a scene's plan asks for holds, over its dates, as JSON: each window with what begins and
        ends it, the room left and the calls worked backwards; for other days what alone keeps them shut.

        Raises UnknownRecord where the plan sets no window, SiteRefused.
        """
        from refarchive.jobs.planning import windows

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "looking") as kit:
            return windows.document(kit, scene)

    def window_figure(self, slug: str, found: Mapping[str, Any] | None = None) -> Figure:
        """The windows of a scene as a matplotlib figure, a strip for each day; `found` is what `windows` has answered
        already. Raises as `windows`.
        """
        from refarchive.paper.strips import window_figure

        return window_figure(self.windows(slug) if found is None else found)
