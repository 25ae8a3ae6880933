"""A dossier's sections on place and light with their drawings, worked out once, and only what the copy holds."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from refarchive.jobs.kit import Kit
from refarchive.records.model import Scene

if TYPE_CHECKING:
    from refarchive.paper.blocks import Section
    from refarchive.paper.citing import Citations

GROUND_PLAN, WINDOWS = "ground-plan", "windows"
OF_PLACE, OF_LIGHT = ("set", "light", "effects"), ("light",)  # departments whose copies hold them


@dataclass
class OnSiteSections:
    """The sections in order, and the drawings that they show, by name."""

    sections: list[Section] = field(default_factory=list)
    drawings: dict[str, bytes] = field(default_factory=dict)


def on_site(kit: Kit, scene: Scene, cite: Citations, department: str | None) -> OnSiteSections:
    """The sections on place and light of a department's copy, or of the whole for None; none for what is not planned.

    Raises UnknownRecord, SiteRefused, PlanRefused.
    """
    made = OnSiteSections()
    if scene.site is not None and (_holds(department, OF_PLACE) or scene.site.window is not None):
        _place(made, kit, scene, cite, department)
    if scene.rig is not None and _holds(department, OF_LIGHT):
        _light(made, scene)
    return made


def _holds(department: str | None, departments: tuple[str, ...]) -> bool:
    return department is None or department in departments


def _place(made: OnSiteSections, kit: Kit, scene: Scene, cite: Citations, department: str | None) -> None:
    from refarchive.jobs.planning import windows
    from refarchive.paper import onsite_pages
    from refarchive.paper.figures import as_file
    from refarchive.paper.strips import window_figure

    answer = windows.site_document(kit, scene, None)
    found = answer["windows"]
    sheet = onsite_pages.call_sheet(scene, answer, found) if found else None
    if sheet is not None:
        made.sections.append(sheet)  # every department is called
    if _holds(department, OF_PLACE):
        if found:
            made.drawings[WINDOWS] = as_file(window_figure(found), ".png")
        made.sections.append(onsite_pages.site_section(scene, cite, answer, WINDOWS if found else None))


def _light(made: OnSiteSections, scene: Scene) -> None:
    from refarchive.jobs.planning import drawn, lit
    from refarchive.paper import onsite_pages

    plan = drawn.draw(scene)
    made.drawings[GROUND_PLAN] = plan.svg.encode()
    made.sections.append(onsite_pages.light_section(scene, lit.document(lit.of_scene(scene)), GROUND_PLAN, plan.words))
