"""A ground plan in words: every fact of the drawing as a sentence, for those who read or hear it instead."""

from __future__ import annotations

import math
from collections.abc import Sequence

from refarchive.lighting.rig import Light
from refarchive.paper.ground import (
    LETTERS,
    CameraPoint,
    GroundPlan,
    Spot,
    StandPlace,
    Wind,
    foot_of,
    in_water,
    reach_m,
    three_digits,
    water_gap_m,
)
from refarchive.paper.svg import words

CAUTION = (
    "Reach is the stand's height and half its modifier, to the far end of a boom; one that goes over its feet lands "
    "further by about their radius. Local codes and licensed, competent people decide where stands go."
)


def in_words(plan: GroundPlan) -> list[str]:
    """Everything on the drawing, as sentences."""
    said = [_whole(plan)]
    if plan.camera is not None:
        eye, (across, high) = plan.camera, plan.camera.view_deg
        said.append(
            f"The camera is at {_spot(eye.x_m, eye.y_m)}, {eye.height_m:.2f} m high, and looks to "
            f"{plan.bearing(eye.bearing_deg)}, {tilt_words(eye.tilt_deg)}; {eye.focal_mm:g} mm on "
            f"{eye.sensor_mm[0]:g} × {eye.sensor_mm[1]:g} mm takes in {across:.1f}° across and {high:.1f}° high."
        )
    for one in plan.figures:
        size = f"{one.wide_m:g} m wide" if one.deep_m is None else f"{one.wide_m:g} × {one.deep_m:g} m"
        away = "" if plan.camera is None else f", {_away(plan.camera, one.x_m, one.y_m):.2f} m from the camera"
        said.append(f"{words(one.name)} is at {_spot(one.x_m, one.y_m)}{away}, {one.height_m:.2f} m high, {size}.")
    if plan.rig is not None:
        for point in plan.rig.points:
            said.append(f"{words(point.name)} is marked at {_spot(point.x_m, point.y_m)}, {point.height_m:.2f} m high.")
    said += [_light(plan, light) for light in plan.lights]
    said += [_stand(plan, stand) for stand in plan.stands]
    if plan.stands:
        said.append(CAUTION)
    if plan.waterline is not None:
        line = plan.waterline
        where = f"runs across at y {metres(line.y_m)} m" if line.y_m is not None else "runs through "
        where += "; ".join(f"x {metres(x)} m, y {metres(y)} m" for x, y in line.spots[:12])
        more = len(line.spots) - 12
        where += f" and {more} corners more" if more > 0 else ""
        said.append(f"The waterline{_when(line.at)} {where}, at a height of {metres(line.level_m)} m.")
    said += [
        f"At {words(one.name)}, {_spot(one.x_m, one.y_m)}, the water is {one.depth_m:.2f} m deep."
        for one in plan.depths
    ]
    return [*said, *_sky_and_way(plan)]


def _whole(plan: GroundPlan) -> str:
    axes = "Metres, x to the right and y up the sheet"
    if plan.north_deg is None:
        return f"{axes}; north is not given, and bearings are clockwise from y."
    return f"{axes}, which is {three_digits(plan.north_deg)} from true north; bearings are from true north."


def _light(plan: GroundPlan, light: Light) -> str:
    line = plan.placing(light.number)
    throws = "straight" if line.bearing_deg is None else f"to {plan.bearing(line.bearing_deg)},"
    beam = "throws all round" if light.beam_deg is None else f"has a beam of {light.beam_deg:g}°"
    wide = f" and is {light.source_m:g} m wide" if light.source_m else ""
    return (
        f"Light {light.number} ({LETTERS[light.purpose]}, {light.purpose}; {words(light.unit)}) is at "
        f"{_spot(light.x_m, light.y_m)}, {light.height_m:.2f} m high, turned {throws} {tilt_words(line.tilt_deg)}, to "
        f"{words(light.aimed_at)}, {line.distance_m:.2f} m away; it {beam}{wide}."
    )


def _stand(plan: GroundPlan, stand: StandPlace) -> str:
    x, y = foot_of(plan, stand)
    reach = reach_m(plan, stand)
    what = "stands under it" if stand.x_m is None else "carries it on a boom"
    said = f"The stand of light {stand.light} {what} at {_spot(x, y)}; its tip-over reach is {reach:.2f} m"
    gap = water_gap_m(plan, (x, y))
    if gap is None:
        return f"{said}."
    if in_water(plan, (x, y)):
        return f"{said}. It stands in the water, {gap:.2f} m beyond the waterline."
    if gap < reach:
        return f"{said}, and the waterline is within it, {gap:.2f} m away."
    return f"{said}; the waterline is {gap:.2f} m away."


def _sky_and_way(plan: GroundPlan) -> list[str]:
    said = []
    if plan.sun is not None:
        said.append(
            f"The real sun stands at {three_digits(plan.sun.bearing_deg)}, {altitude_words(plan.sun.altitude_deg)}."
        )
    if plan.made_sun is not None:
        line = plan.placing(plan.made_sun)
        seen = "straight above" if line.seen_at_deg is None else f"at {plan.bearing(line.seen_at_deg)}"
        said.append(
            f"The made sun is light {plan.made_sun}: from {words(line.aimed_at)} it stands {seen}, "
            f"{altitude_words(-line.tilt_deg)}."
        )
    if plan.wind is not None:
        said.append(f"{wind_words(plan.wind).capitalize()}.")
    if plan.smoke is not None:
        drift = f" and drifts {plan.smoke.drift_m:.1f} m with the wind" if plan.smoke.drift_m and plan.wind else ""
        said.append(f"Smoke is made at {_spot(plan.smoke.x_m, plan.smoke.y_m)}{drift}.")
    if plan.exit_route:
        said.append("The exit runs " + " to ".join(_spot(x, y) for x, y in _thinned(plan.exit_route)) + ".")
    return said


def wind_words(wind: Wind) -> str:
    """Where the wind comes from, and how fast."""
    return f"wind from {three_digits(wind.from_deg)}" + ("" if wind.speed_m_s is None else f", {wind.speed_m_s:g} m/s")


def _when(at: str) -> str:
    return f" at {words(at)}" if at.strip() else ""


def _spot(x: float, y: float) -> str:
    return f"x {metres(x)} m, y {metres(y)} m"


def metres(value: float) -> str:
    """A length or height with a true minus, to the centimetre."""
    return f"{value + 0.0:.2f}".replace("-", "−") if abs(value) >= 0.005 else "0.00"


def _away(eye: CameraPoint, x: float, y: float) -> float:
    return math.hypot(x - eye.x_m, y - eye.y_m)


def _thinned(spots: Sequence[Spot]) -> Sequence[Spot]:
    return spots if len(spots) <= 12 else (*spots[:11], spots[-1])


def altitude_words(altitude_deg: float) -> str:
    """How high something stands in the sky, or how far below the horizon."""
    return f"{abs(altitude_deg):.0f}° {'below the horizon' if altitude_deg < 0 else 'high'}"


def tilt_words(tilt_deg: float) -> str:
    """How far down or up something points."""
    whole_deg = round(abs(tilt_deg))
    return "level" if not whole_deg else f"{whole_deg}° {'down' if tilt_deg < 0 else 'up'}"
