"""The rig of a scene worked out: light at each point, what would reach the intent, batteries, booms, wind, the walk in.

The plan's records become the lighting room's own objects here, and what it refuses is refused as a field of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import Any

from refarchive.errors import LightingRefused, PlanRefused, UnknownRecord
from refarchive.lighting import contrast, exposure, loadin, power, rigging
from refarchive.lighting import rig as rigs
from refarchive.records import onsite
from refarchive.records.model import Scene

GUST_M_S = 8.0  # the gust that stands are worked out for where nobody names one (common practice, no source)


@dataclass(frozen=True)
class Lit:
    """A rig with all that follows from it. `changes` are those that alone reach the contrast meant at `contrast_at`."""

    rig: rigs.Rig
    readings: tuple[rigs.PointReading, ...]
    units: tuple[rigs.Placing, ...]
    camera_words: str = ""  # as it is marked on the camera
    contrast_at: str = ""
    contrast_meant: float | None = None
    changes: tuple[contrast.PowerChange, ...] = ()
    contrast_words: str = ""
    power: power.PowerList | None = None
    power_words: str = ""
    booms: tuple[tuple[int, rigging.BoomBalance], ...] = ()
    wind: tuple[tuple[int, rigging.Wind], ...] = ()
    load_in: loadin.LoadIn | None = None


def of_scene(scene: Scene) -> Lit:
    """The rig of a scene worked out. Raises UnknownRecord where it has none, PlanRefused for what cannot be."""
    plan = plan_of(scene)
    with fields_of_the_plan():
        return _worked_out(scene, plan)


def plan_of(scene: Scene) -> onsite.Rig:
    """What the scene's plan says of its rig. Raises UnknownRecord where it says nothing."""
    if scene.rig is None:
        raise UnknownRecord(
            f"The scene {scene.slug!r} has no rig yet.", "Add [rig] with its lights and points to the plan."
        )
    return scene.rig


@contextmanager
def fields_of_the_plan() -> Iterator[None]:
    """What the lighting room refuses, refused as a field of the plan: raises PlanRefused for LightingRefused."""
    try:
        yield
    except LightingRefused as error:
        raise PlanRefused(
            f"rig, {error.field}: {error.problem}", error.next_step, field=f"rig, {error.field}"
        ) from None


def _worked_out(scene: Scene, plan: onsite.Rig) -> Lit:
    rig = rig_of(plan)
    readings = rigs.readings(rig)
    meant = scene.intent.lit_to_shadow
    at = plan.contrast_at
    changes, said = _changes(rig, at, meant, scene.intent.lit_to_shadow_tolerance)
    fed = _fed(plan)
    listed, cold_words = _power(plan, fed)
    booms = tuple(
        (
            light.number,
            rigging.balance_boom(
                load_kg=boom.load_kg, load_arm_m=boom.load_arm_m, counter_arm_m=boom.counter_arm_m,
                boom_kg=boom.boom_kg,
                hung=[rigging.Hung("battery packs", boom.packs_kg, boom.counter_arm_m)] if boom.packs_kg else (),
            ),
        )
        for light in plan.lights
        if (boom := light.boom) is not None
    )  # fmt: skip
    hanging = {number: abs(balance.left_over_kgm) for number, balance in booms}
    wind = tuple(
        (
            light.number,
            rigging.in_wind(
                rigging.Stand(
                    stand.weight_kg, stand.height_m, stand.area_m2,
                    rigging.tipping_radius_m(stand.foot_radius_m, stand.feet),
                    off_centre_kgm=hanging.get(light.number, 0.0),
                ),
                GUST_M_S,
            ),
        )
        for light in plan.lights
        if (stand := light.stand) is not None
    )  # fmt: skip
    return Lit(
        rig,
        readings,
        rigs.schedule(rig),
        _marked(plan),
        at,
        meant,
        changes,
        said,
        listed,
        cold_words,
        booms,
        wind,
        _load_in(plan),
    )


def rig_of(plan: onsite.Rig) -> rigs.Rig:
    """The plan's rig as the lighting room has it; marked apertures and times are taken at their exact values.

    Raises LightingRefused.
    """
    camera = rigs.Camera(_exact_f(plan.f_number), plan.iso, _exact_s(plan.shutter_s), plan.sync_s)
    points = tuple(
        rigs.Point(p.name, p.x_m, p.y_m, p.height_m, p.facing_deg, p.facing_up_deg, p.ambient_ev100)
        for p in plan.points
    )
    lights = tuple(
        rigs.Light(
            light.number, light.unit, light.purpose, light.x_m, light.y_m, light.height_m,  # type: ignore[arg-type]
            light.aimed_at, light.power, light.guide_number_m,
            rigs.Reading(light.reading.f_number, light.reading.iso, light.reading.at or light.aimed_at,
                         light.reading.power) if light.reading else None,
            light.loss_stops, light.source_m, light.beam_deg, light.edge, light.least_power,  # type: ignore[arg-type]
            tuple(_item(item) for item in light.kit),
        )
        for light in plan.lights
    )  # fmt: skip
    return rigs.Rig(lights, points, camera, plan.ambient_ev100)


def _marked(plan: onsite.Rig) -> str:
    """Aperture, time and ISO as they are marked: f/8, 1/125 s, ISO 100."""
    return f"f/{plan.f_number:g}, {exposure.shutter_words(plan.shutter_s)}, ISO {plan.iso:g}"


def _exact_f(marked: float) -> float:
    try:
        return exposure.exact_f_number(marked)
    except LightingRefused:
        return marked


def _exact_s(marked: float) -> float:
    try:
        return exposure.exact_shutter_s(marked)
    except LightingRefused:
        return marked


def _item(item: onsite.Item) -> loadin.Item:
    return loadin.Item(item.name, item.kg, item.count, item.hands)


def _changes(
    rig: rigs.Rig, at: str, meant: float | None, tolerance: float
) -> tuple[tuple[contrast.PowerChange, ...], str]:
    if not at:
        return (), "The plan names no point whose contrast the intent speaks of: add contrast_at to [rig]."
    now = rigs.reading_at(rig, at).lit_to_shadow_stops
    if meant is None:
        return (), "The intent sets no lit_to_shadow, so there is nothing to reach."
    if now is None:
        return (), f"{at} has no contrast yet; it needs a key, and a fill or ambient light."
    if abs(now - meant) <= tolerance:
        return (), f"{at} has {now:.1f} stops from lit to shadow, within {tolerance:g} of the {meant:g} that are meant."
    said = f"{at} has {now:.1f} stops from lit to shadow, and {meant:g} are meant, give or take {tolerance:g}."
    return contrast.to_contrast(rig, at, meant), said


def _fed(plan: onsite.Rig) -> list[tuple[power.Draw, power.Battery]]:
    return [
        (
            power.Draw(light.number, light.full_ws, light.power, light.flashes, light.recycle_full_s),
            power.Battery(light.battery_wh),
        )
        for light in plan.lights
        if light.full_ws and light.battery_wh and light.flashes
    ]


def _power(plan: onsite.Rig, fed: list[tuple[power.Draw, power.Battery]]) -> tuple[power.PowerList | None, str]:
    if not fed:
        return None, "No light has full_ws, battery_wh and flashes, so batteries are not counted."
    if plan.celsius is None:
        return power.power_list(fed), "No temperature is planned: cold is not counted."
    share = power.cold_share(plan.celsius)
    said = f"At {plan.celsius:g} °C a battery is taken to give {100 * share:.0f} % (common practice, no source)."
    return power.power_list(fed, cold=share), said.replace("-", "−")


def _load_in(plan: onsite.Rig) -> loadin.LoadIn | None:
    if not plan.carriers or not plan.way:
        return None
    items = [_item(item) for light in plan.lights for item in light.kit] + [_item(item) for item in plan.kit]
    carriers = [loadin.Carriers(one.count, one.kg_each) for one in plan.carriers]
    way = [
        loadin.Stretch(one.name, one.length_m, one.how, one.laden_m_s, one.empty_m_s)  # type: ignore[arg-type]
        for one in plan.way
    ]
    return loadin.load_in(items, carriers, way)


def document(lit: Lit) -> dict[str, Any]:
    """What was worked out, as JSON."""
    camera = lit.rig.camera
    return {
        "camera": {
            **asdict(camera),
            "words": lit.camera_words,
        },
        "points": [
            {
                "point": one.point,
                "words": one.sentence,
                "stops": one.stops,
                "f_number": one.f_number,
                "key": one.key,
                "fill": one.fill,
                "ambient": one.ambient,
                "lit_to_shadow_stops": one.lit_to_shadow_stops,
                "lights": [{**asdict(light), "stops": light.stops} for light in one.lights],
            }
            for one in lit.readings
        ],
        "units": [asdict(one) for one in lit.units],
        "contrast": {
            "at": lit.contrast_at,
            "meant_stops": lit.contrast_meant,
            "words": lit.contrast_words,
            "changes": [{**asdict(one), "by_stops": one.by_stops} for one in lit.changes],
        },
        "power": None if lit.power is None else {**asdict(lit.power), "words": lit.power_words},
        "booms": [{"light": number, **asdict(balance)} for number, balance in lit.booms],
        "wind": [{"light": number, **asdict(found)} for number, found in lit.wind],
        "load_in": None if lit.load_in is None else asdict(lit.load_in),
        "cautions": cautions(lit),
    }


def cautions(lit: Lit) -> list[str]:
    """What has to stand on every page about it."""
    said = [power.CAUTION]
    if lit.booms or lit.wind:
        said.append(rigging.CAUTION)
    if lit.load_in is not None:
        said.append(loadin.CAUTION)
    return said
