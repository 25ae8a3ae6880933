"""Whether what a plan says of place and light can be worked with at all, told before it is kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from refarchive.errors import PlanRefused, SiteRefused, UnknownRecord
from refarchive.records.model import Scene
from refarchive.records.onsite import Site


def refuse_unworkable(scene: Scene) -> None:
    """Refuse a plan whose rig, clock or day cannot be worked with: a light inside its subject, a time that no clock
    showed. Raises PlanRefused with the field.
    """
    if scene.site is not None:
        _check_site(scene, scene.site)
    if scene.rig is not None:
        from refarchive.jobs.planning import lit

        lit.of_scene(scene)


def _check_site(scene: Scene, site: Site) -> None:
    from refarchive.site import clocks
    from refarchive.site.instants import seconds_of_day
    from refarchive.site.skyline import Skyline

    if site.zone:
        _tried("zone", lambda: clocks.zone_of(site.zone))
    if site.event_time:
        _tried("event_time", lambda: seconds_of_day(site.event_time))
    if site.shoot:
        on, _, at = site.shoot.partition(" ")
        if not at:
            raise PlanRefused(
                f"site, shoot: {site.shoot!r} has no time.",
                'Give day and time: "2027-10-11 14:50".',
                field="site, shoot",
            )
        _tried("shoot", lambda: clocks.local_instant(on, at, site.zone or "UTC"))
    if site.tide is not None and site.tide.kind != "not tidal":
        from refarchive.jobs.planning import sited

        _tried("tide", lambda: sited.tide_of(scene, 0.0, 86_400.0))
    if site.window is not None:
        _check_window(scene)
    if site.skyline:
        _tried("skyline", lambda: Skyline(site.skyline))


def _check_window(scene: Scene) -> None:
    """Refuse dates, hours and marks that no window can be looked for with."""
    from refarchive.jobs.planning import windows

    try:
        windows.prepared(scene)
    except (SiteRefused, UnknownRecord) as error:
        raise PlanRefused(f"site, window: {error.problem}", error.next_step, field="site, window") from None


def _tried(field: str, look: Callable[[], Any]) -> None:
    try:
        look()
    except SiteRefused as error:
        raise PlanRefused(f"site, {field}: {error.problem}", error.next_step, field=f"site, {field}") from None
