"""How large a ground plan can be drawn, and where its lines run in metres."""

from __future__ import annotations

import math

from refarchive.lighting.rig import Light, Placing
from refarchive.paper.ground import GroundPlan, Spot, foot_of, placed, reach_m
from refarchive.paper.svg import Box, bounds

WIDTH = 180.0  # mm, what A4 leaves between margins of 15 mm


HEIGHT = 267.0  # mm, likewise
REST, NARROW_REST = 72.0, 76.5  # mm, of heading, scale bar and key in four columns, and in three
COLUMNS_FROM = 170.0  # mm wide, from which the key has four columns
LOWEST = 70.0  # mm, of the view from above
FIRST = 20.0  # the largest scale, 1:20
SIDE, OVER = 17.0, 13.0  # mm kept free around what stands on the plan: for words, and arrows that come from outside
NEAR = 2.0  # mm, around circles
ABOVE, BELOW = 12.0, 5.0  # mm, over and under what the side view shows
STEPS = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0)
STEEP_DEG = 75.0  # tilt from which a beam is drawn as the circle that it lights


def scale_of(plan: GroundPlan, *, width_mm: float = WIDTH, height_mm: float = HEIGHT) -> float:
    """The denominator of the scale: 100 for 1:100, so that a metre is 10 mm on paper."""
    room = height_mm - (REST if width_mm >= COLUMNS_FROM else NARROW_REST)
    tens = 10.0
    while True:
        for step in STEPS:
            if step * tens < FIRST:
                continue
            mm = 1000.0 / (step * tens)
            left, low, right, high = above(plan, mm)
            start, floor, end, top = aside(plan, mm)
            tall = max((high - low) * mm, LOWEST) + (top - floor) * mm
            if max(right - left, end - start) * mm <= width_mm and tall <= room:
                return step * tens
        tens *= 10.0


def bar_m(scale: float, most_mm: float = 60.0) -> float:
    """Length of the scale bar [m]: the longest of 1, 2, 5, 10, 20 … that is at most so long on paper."""
    most = most_mm * scale / 1000.0
    tens = 10.0 ** math.floor(math.log10(most))
    return max(step * tens for step in (1.0, 2.0, 5.0) if step * tens <= most * (1.0 + 1e-9))


def above(plan: GroundPlan, mm: float) -> Box:
    """What the view from above shows, at so many millimetres to a metre: left, low, right, high [m]."""
    spots = [(x, y) for _, x, y, _ in placed(plan)]
    for one in plan.figures:
        spots += _square((one.x_m, one.y_m), math.hypot(one.wide_m, one.deep_m or 0.0) / 2.0)
    circles = list(spots)
    for stand in plan.stands:
        circles += _square(foot_of(plan, stand), reach_m(plan, stand))
    for line in plan.placings:
        light = plan.light(line.light)
        circles += _square(aim_of(plan, light)[:2], pool_m(light, line))
    near, far = bounds(circles, NEAR / mm), bounds(spots)
    return (
        min(near[0], far[0] - SIDE / mm),
        min(near[1], far[1] - OVER / mm),
        max(near[2], far[2] + SIDE / mm),
        max(near[3], far[3] + OVER / mm),
    )


def aside(plan: GroundPlan, mm: float) -> Box:
    """What the view from the side shows, likewise: start, floor, end, top [m]; the plan's level is always in it."""
    dots = [(along(plan, (x, y)), height) for _, x, y, height in placed(plan)]
    dots.append((dots[0][0], 0.0))
    left, low, right, high = bounds(dots)
    return left - SIDE / mm, low - BELOW / mm, right + SIDE / mm, high + ABOVE / mm


def _square(at: Spot, radius: float) -> list[Spot]:
    return [(at[0] - radius, at[1] - radius), (at[0] + radius, at[1] + radius)]


def along(plan: GroundPlan, spot: Spot) -> float:
    """How far along the lens a place lies [m]; along y without a camera."""
    turn = math.radians(0.0 if plan.camera is None else plan.camera.bearing_deg)
    return spot[0] * math.sin(turn) + spot[1] * math.cos(turn)


def aim_of(plan: GroundPlan, light: Light) -> tuple[float, float, float]:
    """Where a light's aim lies [m]."""
    point = next(point for point in plan.points if point.name == light.aimed_at)
    return point.x_m, point.y_m, point.height_m


def pool_m(light: Light, line: Placing) -> float:
    """Radius of what a steep beam lights around its aim [m]; 0 for one that slants."""
    if light.beam_deg is None or abs(line.tilt_deg) <= STEEP_DEG:
        return 0.0
    return line.distance_m * min(1.0, math.tan(math.radians(min(light.beam_deg, 90.0) / 2.0)))


def beam_ends(light: Light, line: Placing, *, upright: bool) -> tuple[tuple[float, float, float], ...]:
    """Ends of a beam's two edges, as far off as its aim: left and right, or under and over its axis."""
    turn, tilt = math.radians(line.bearing_deg or 0.0), math.radians(line.tilt_deg)
    axis = (math.sin(turn) * math.cos(tilt), math.cos(turn) * math.cos(tilt), math.sin(tilt))
    if upright:
        way = (-math.sin(turn) * math.sin(tilt), -math.cos(turn) * math.sin(tilt), math.cos(tilt))
    else:
        way = (math.cos(turn), -math.sin(turn), 0.0)
    half = math.radians((light.beam_deg or 0.0) / 2.0)
    ahead, off = line.distance_m * math.cos(half), line.distance_m * math.sin(half)
    at = (light.x_m, light.y_m, light.height_m)
    return tuple(
        (
            at[0] + ahead * axis[0] + sign * off * way[0],
            at[1] + ahead * axis[1] + sign * off * way[1],
            at[2] + ahead * axis[2] + sign * off * way[2],
        )
        for sign in (-1.0, 1.0)
    )
