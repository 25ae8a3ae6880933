"""The lighting plan of a scene drawn to scale: what its plan says, with the sun where it stands at the time planned."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from refarchive.errors import UnknownRecord
from refarchive.jobs.planning import lit, sited
from refarchive.paper.ground_plan import (
    CameraPoint,
    DepthMark,
    FigurePlace,
    GroundPlan,
    Smoke,
    StandPlace,
    Sun,
    Waterline,
    Wind,
    ground_plan,
    in_words,
)
from refarchive.records import onsite
from refarchive.records.model import Scene

FOOT_M = 0.5  # radius of a stand's feet where nobody says (common practice, no source)
SHEET_MM = (168.0, 226.0)  # at which it fits a sheet of the dossier with its heading
DRIFT_M = 4.0  # of smoke on the drawing, where nobody says


@dataclass(frozen=True)
class Drawn:
    """A drawing as SVG, and the same in sentences."""

    svg: str
    words: tuple[str, ...]


def draw(scene: Scene, *, width_mm: float = SHEET_MM[0], height_mm: float = SHEET_MM[1]) -> Drawn:
    """The plan and side view of a scene's lights. Raises UnknownRecord without a rig, PlanRefused."""
    rig = lit.plan_of(scene)
    with lit.fields_of_the_plan():
        plan = _plan(scene, rig)
        return Drawn(ground_plan(plan, width_mm=width_mm, height_mm=height_mm), tuple(in_words(plan)))


def look(scene: Scene, at: str, powers: Mapping[int, float]) -> dict[str, Any]:
    """The rig, the sun and the drawing at another time and with other powers, as JSON; nothing is kept.

    Raises UnknownRecord, PlanRefused, SiteRefused.
    """
    rig, site = lit.plan_of(scene), scene.site or onsite.Site()
    lights = tuple(replace(one, power=powers.get(one.number, one.power)) for one in rig.lights)
    shoot = at or site.shoot
    changed = replace(scene, rig=replace(rig, lights=lights), site=replace(site, shoot=shoot))
    day = None
    if shoot:
        with suppress(UnknownRecord):
            day = sited.day_document(changed, shoot.partition(" ")[0])
    found = draw(changed)
    return {
        "rig": lit.document(lit.of_scene(changed)),
        "day": day,
        "drawing": {"svg": found.svg, "words": list(found.words)},
    }


def _plan(scene: Scene, rig: onsite.Rig) -> GroundPlan:
    at, sun = _sun(scene)
    north = rig.lens_bearing_deg
    across, high = rig.sensor_mm if len(rig.sensor_mm) == 2 else (36.0, 24.0)
    deep = [p for p in rig.points if p.depth_m is not None]
    return GroundPlan(
        title=scene.title,
        at=at,
        north_deg=north,
        camera=CameraPoint(0.0, 0.0, rig.camera_height_m, rig.focal_mm, (across, high)),
        figures=tuple(
            FigurePlace(f.name, f.x_m, f.y_m, f.height_m, f.wide_m, f.deep_m, f.turned_deg) for f in rig.figures
        ),
        rig=lit.rig_of(rig),
        stands=tuple(_stand(light) for light in rig.lights),
        waterline=None if rig.waterline_y_m is None else Waterline(at, y_m=rig.waterline_y_m),
        depths=tuple(
            DepthMark(chr(ord("A") + n % 26), p.x_m, p.y_m, p.depth_m)
            for n, p in enumerate(deep)
            if p.depth_m is not None
        ),
        sun=sun if north is not None else None,
        made_sun=rig.made_sun,
        wind=Wind(rig.wind_from_deg) if rig.wind_from_deg is not None and north is not None else None,
        smoke=None if rig.smoke is None else Smoke(rig.smoke.x_m, rig.smoke.y_m, DRIFT_M),
        exit_route=rig.exit,
    )


def _stand(light: onsite.Light) -> StandPlace:
    feet = light.stand.foot_radius_m if light.stand else FOOT_M
    count = light.stand.feet if light.stand else 3
    if light.boom is None or light.boom.x_m is None or light.boom.y_m is None:
        return StandPlace(light.number, feet, count)
    boom = light.boom
    return StandPlace(light.number, feet, count, None, boom.x_m, boom.y_m, boom.top_m, boom.counter_arm_m)


def _sun(scene: Scene) -> tuple[str, Sun | None]:
    """When the picture is to be taken, and where the sun then stands; neither where the plan does not say."""
    if scene.site is None or not scene.site.shoot:
        return "", None
    try:
        shot = sited.shot(scene)
    except UnknownRecord:
        shot = None
    return scene.site.shoot, Sun(shot["azimuth_deg"], shot["altitude_deg"]) if shot else None
