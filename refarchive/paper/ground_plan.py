"""The lighting plan drawn to scale as SVG: from above, and below that from the side, with a key.

One unit is one millimetre on paper, and both views have one scale. The side view is seen from the right of the camera,
along its lens; what lies to either side of the lens is projected onto that. Beams are drawn as they look from above and
from the side: one that slants down looks wider from above than its angle.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from refarchive.lighting.checks import number
from refarchive.lighting.rig import Light, Placing
from refarchive.paper.ground import (
    LETTERS,
    NAME,
    CameraPoint,
    DepthMark,
    FigurePlace,
    GroundPlan,
    Smoke,
    Spot,
    StandPlace,
    Sun,
    Waterline,
    Wind,
    field_of_view_deg,
    foot_of,
    placed,
    reach_m,
    three_digits,
    top_m,
)
from refarchive.paper.ground_words import altitude_words, in_words, tilt_words, wind_words
from refarchive.paper.svg import GREY, INK, PAPER, RULE, SIZE, Box, Dot, Label, Sheet, bounds, clip, width_mm, words

__all__ = [
    "CameraPoint", "DepthMark", "FigurePlace", "GroundPlan", "Smoke", "StandPlace", "Sun", "Waterline", "Wind",
    "field_of_view_deg", "ground_plan", "in_words", "scale_of",
]  # fmt: skip

WIDTH = 180.0  # mm, what A4 leaves between margins of 15 mm
ROOM = 146.0  # mm, that the two views share in height
SIDE, OVER = 17.0, 13.0  # mm kept free around what is drawn: for words, and for arrows that come from outside
TOP = 12.5  # mm, of the heading
STEPS = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0)
MOST_IN_FULL = 16  # lights whose figures stand beside them
STEEP_DEG = 75.0  # tilt from which a beam is drawn as the circle that it lights
PLAIN = "Plain shapes; see the key. They conform to no symbol standard."

BEAM, WATER, WAY, REACH, DRIFT, MADE = "1.5 0.9", "3.2 0.8 0.7 0.8", "2.4 1.1", "0.25 0.85", "0.7 0.7", "1 0.6"


def ground_plan(plan: GroundPlan, *, width_mm: float = WIDTH) -> str:
    """The plan and its side view as one SVG text, so many millimetres wide; at most about 245 mm high.

    The scale is the largest round one at which both views fit; it is written under them, with a bar to measure by.

    Raises
    ------
    LightingRefused
        where the width is not from 140 to 280 mm.
    """
    wide = number(width_mm, "width_mm", least=140, most=280, unit="mm")
    scale = scale_of(plan, width_mm=wide)
    return _Drawing(plan, wide, scale).written()


def scale_of(plan: GroundPlan, *, width_mm: float = WIDTH) -> float:
    """The denominator of the scale: 100 for 1:100, so that a metre is 10 mm on paper."""
    left, low, right, high = _above(plan)
    start, floor, end, top = _aside(plan)
    room = width_mm - 2.0 * SIDE
    for tens in range(1, 6):
        for step in STEPS:
            scale = step * 10.0**tens
            mm = 1000.0 / scale
            if max(right - left, end - start) * mm <= room and (high - low + top - floor) * mm <= ROOM:
                return scale
    raise AssertionError("what lies 500 m apart fits a sheet at 1:100 000")


def bar_m(scale: float, most_mm: float = 60.0) -> float:
    """Length of the scale bar [m]: the longest of 1, 2, 5, 10, 20 … that is at most so long on paper."""
    most = most_mm * scale / 1000.0
    tens = 10.0 ** math.floor(math.log10(most))
    return max(step * tens for step in (1.0, 2.0, 5.0) if step * tens <= most * (1.0 + 1e-9))


# -- how much room it takes, in metres --------


def _above(plan: GroundPlan) -> Box:
    dots = [(x, y) for _, x, y, _ in placed(plan)]
    for stand in plan.stands:
        dots += bounds_dots(foot_of(plan, stand), reach_m(plan, stand))
    for one in plan.figures:
        dots += bounds_dots((one.x_m, one.y_m), math.hypot(one.wide_m, one.deep_m or 0.0) / 2.0)
    for line in plan.placings:
        if radius := _pool_m(plan.light(line.light), line):
            aim = _aim(plan, plan.light(line.light))
            dots += bounds_dots(aim[:2], radius)
    return _least(bounds(dots), 2.0)


def _aside(plan: GroundPlan) -> Box:
    dots = [(_along(plan, (x, y)), height) for _, x, y, height in placed(plan)]
    dots += [(dots[0][0], 0.0)]
    for stand in plan.stands:
        along = _along(plan, foot_of(plan, stand))
        dots += [(along - stand.foot_radius_m, 0.0), (along + stand.foot_radius_m, 0.0)]
    return _least(bounds(dots), 1.0)


def bounds_dots(at: Spot, radius: float) -> list[Spot]:
    """Two corners of the square around a circle."""
    return [(at[0] - radius, at[1] - radius), (at[0] + radius, at[1] + radius)]


def _least(box: Box, least: float) -> Box:
    more_x, more_y = (max(0.0, least - box[n + 2] + box[n]) / 2.0 for n in (0, 1))
    return box[0] - more_x, box[1] - more_y, box[2] + more_x, box[3] + more_y


def _along(plan: GroundPlan, spot: Spot) -> float:
    """How far along the lens a place lies [m]; along y without a camera."""
    turn = math.radians(0.0 if plan.camera is None else plan.camera.bearing_deg)
    return spot[0] * math.sin(turn) + spot[1] * math.cos(turn)


def _aim(plan: GroundPlan, light: Light) -> tuple[float, float, float]:
    assert plan.rig is not None
    point = plan.rig.point(light.aimed_at)
    return point.x_m, point.y_m, point.height_m


def _pool_m(light: Light, line: Placing) -> float:
    """Radius of what a steep beam lights around its aim [m]; 0 for one that slants."""
    if light.beam_deg is None or abs(line.tilt_deg) <= STEEP_DEG:
        return 0.0
    return line.distance_m * min(1.0, math.tan(math.radians(min(light.beam_deg, 90.0) / 2.0)))


def _edges(light: Light, line: Placing, *, upright: bool) -> tuple[tuple[float, float, float], ...]:
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


# -- drawing --------


@dataclass(frozen=True)
class _View:
    """A panel on the sheet and where metres lie in it."""

    panel: Box
    origin: Dot
    mm: float  # of a metre

    def at(self, across: float, up: float) -> Dot:
        return self.origin[0] + across * self.mm, self.origin[1] - up * self.mm

    @property
    def inner(self) -> Box:
        return self.panel[0] + 0.8, self.panel[1] + 0.8, self.panel[2] - 0.8, self.panel[3] - 0.8


@dataclass
class _Drawing:
    plan: GroundPlan
    width: float
    scale: float
    sheet: Sheet = field(init=False)
    view: _View = field(init=False)
    labels: list[Label] = field(default_factory=list)
    key: dict[str, Callable[[Dot], None]] = field(default_factory=dict)

    def written(self) -> str:
        plan, mm = self.plan, 1000.0 / self.scale
        self.sheet = Sheet(self.width, 0.0)
        self._heading()
        edges = (0.15, self.width - 0.15)
        left, low, right, high = _above(plan)
        tall = max((high - low) * mm + 2.0 * OVER, 70.0)
        panel = (edges[0], TOP, edges[1], TOP + tall)
        middle = ((panel[0] + panel[2]) / 2.0, (panel[1] + panel[3]) / 2.0)
        self.view = _View(panel, (middle[0] - (left + right) / 2.0 * mm, middle[1] + (low + high) / 2.0 * mm), mm)
        self._from_above()
        start, floor, end, top = _aside(plan)
        panel = (edges[0], panel[3] + 2.0, edges[1], panel[3] + 2.0 + (top - floor) * mm + 17.0)
        self.view = _View(panel, (middle[0] - (start + end) / 2.0 * mm, panel[3] - 5.0 + floor * mm), mm)
        self._from_the_side()
        self.sheet.height = self._foot(panel[3] + 6.0)
        return self.sheet.written(words(plan.title), " ".join(in_words(plan)))

    def _heading(self) -> None:
        plan = self.plan
        at = f", {words(plan.at, 40)}" if plan.at.strip() else ""
        self.sheet.text((0.3, 4.6), words(plan.title, 60) + at, size=4.2)
        if plan.north_deg is None:
            said = "North is not given: bearings are clockwise from straight up the sheet."
        else:
            said = f"Bearings are from true north; straight up the sheet is {three_digits(plan.north_deg)}."
        self.sheet.text((0.3, 9.8), f"{said} {PLAIN}", ink=GREY)

    def _panel(self, caption: str) -> None:
        left, top, right, bottom = self.view.panel
        around = [(left, top), (right, top), (right, bottom), (left, bottom)]
        self.sheet.lines(around, "panel", weight=0.15, ink=RULE, closed=True, avoid=False)
        self.sheet.text((left + 1.6, top + 3.8), caption, italic=True, ink=GREY)

    def _name(self, dots: Iterable[Dot], *lines: str, gap: float = 1.7, italic: bool = False) -> None:
        inner = self.view.inner
        at = tuple((min(max(x, inner[0]), inner[2]), min(max(y, inner[1]), inner[3])) for x, y in dots)
        self.labels.append(Label(at, lines, inner, gap, SIZE, italic))

    def _set_labels(self) -> None:
        self.sheet.open("labels")
        for label in self.labels:
            self.sheet.label(label)
        self.sheet.close()
        self.labels.clear()

    def _keep(self, at: Dot, half: float) -> None:
        self.sheet.keep((at[0] - half, at[1] - half, at[0] + half, at[1] + half))

    def _within(self, dots: Sequence[Dot], name: str, **style: object) -> list[tuple[Dot, Dot]]:
        """A line through points, as much of it as the panel shows."""
        shown = [part for ends in zip(dots, dots[1:], strict=False) if (part := clip(*ends, self.view.panel))]
        for part in shown:
            self.sheet.lines(part, name, **style)  # type: ignore[arg-type]
        return shown

    # -- from above --------

    def _from_above(self) -> None:
        sheet, plan = self.sheet, self.plan
        sheet.open("plan")
        self._panel("From above")
        self._north()
        self._reaches()
        self._water()
        self._sight_above()
        for line in plan.placings:
            self._light_above(line)
        for number_, stand in enumerate(plan.stands, start=1):
            self._stand_above(number_, stand)
        self._figures_above()
        self._depths_above()
        self._camera_above()
        self._wind_and_smoke()
        self._suns()
        self._exit()
        self._set_labels()
        sheet.close()

    def _north(self) -> None:
        if self.plan.north_deg is None:
            return
        at = (self.view.panel[2] - 9.5, self.view.panel[1] + 10.5)
        ux, uy = _way(self.plan.on_plan(0.0))
        tail, tip = (at[0] - 5.5 * ux, at[1] - 5.5 * uy), (at[0] + 5.5 * ux, at[1] + 5.5 * uy)
        self.sheet.arrow([tail, tip], "north", head=3.0)
        wide = width_mm("N")
        self.sheet.text((at[0] + 7.6 * ux - wide / 2.0, at[1] + 7.6 * uy + 0.35 * SIZE), "N")
        self._keep(at, 7.0)

    def _reaches(self) -> None:
        plan = self.plan
        for number_, stand in enumerate(plan.stands, start=1):
            x, y = foot_of(plan, stand)
            radius, middle = reach_m(plan, stand), self.view.at(x, y)
            mm = radius * self.view.mm
            self.sheet.circle(middle, mm, f"reach-{number_}", weight=0.22, dash=REACH, ink=GREY)
            ring = [_off(middle, 15.0 * step, mm) for step in range(25)]
            self.sheet.strokes += list(zip(ring, ring[1:], strict=False))
        self.key["tip-over reach of a stand"] = lambda at: self.sheet.circle(
            at, 1.6, "key", weight=0.22, dash=REACH, ink=GREY
        )
        if not plan.stands:
            del self.key["tip-over reach of a stand"]

    def _name_reaches(self) -> None:
        plan = self.plan
        for stand in plan.stands[:8]:
            middle, radius = self.view.at(*foot_of(plan, stand)), reach_m(plan, stand)
            ring = [_off(middle, turn, radius * self.view.mm) for turn in range(0, 360, 30)]
            self._name(ring, f"{stand.light}: tip-over reach {radius:.1f} m", gap=0.8, italic=True)

    def _water(self) -> None:
        line = self.plan.waterline
        if line is None:
            return
        if line.y_m is None:
            dots = [self.view.at(x, y) for x, y in line.spots]
        else:
            level = self.view.at(0.0, line.y_m)[1]
            dots = [(self.view.panel[0], level), (self.view.panel[2], level)]
        style = {"weight": 0.4, "dash": WATER}
        self._within(dots, "waterline", **style)
        self.key["waterline when it is taken"] = lambda at: self._dash(at, weight=0.4, dash=WATER)

    def _sight_above(self) -> None:
        eye = self.plan.camera
        if eye is None:
            return
        at, far = self.view.at(eye.x_m, eye.y_m), 4.0 * self.width
        for side in (-0.5, 0.5):
            self._within([at, _off(at, eye.bearing_deg + side * eye.view_deg[0], far)], "view", weight=0.2)
        self.key["edge of the picture"] = lambda at: self._dash(at, weight=0.2)

    def _camera_above(self) -> None:
        eye = self.plan.camera
        if eye is None:
            return
        at = self.view.at(eye.x_m, eye.y_m)
        self._square(at, "camera", eye.bearing_deg)
        self._name(
            [at],
            f"camera, {eye.focal_mm:g} mm",
            f"looks to {self.plan.bearing(eye.bearing_deg)}",
            f"{eye.view_deg[0]:.1f}° across",
            gap=2.4,
        )
        self.key["camera"] = lambda at: self._square(at, "key", 0.0)

    def _light_above(self, line: Placing) -> None:
        plan, sheet = self.plan, self.sheet
        light = plan.light(line.light)
        at, aim = self.view.at(light.x_m, light.y_m), self.view.at(*_aim(plan, light)[:2])
        radius = _pool_m(light, line)
        if radius:
            sheet.circle(aim, radius * self.view.mm, f"beam-{line.light}", weight=0.18, dash=BEAM)
        elif light.beam_deg is not None:
            under, over = _edges(light, line, upright=False)
            edges = [self.view.at(*under[:2]), at, self.view.at(*over[:2])]
            self._within(edges, f"beam-{line.light}", weight=0.18, dash=BEAM)
        self._aim_line(at, aim)
        turn = line.bearing_deg or 0.0
        self._head(at, turn, line.light, light.source_m)
        short = f"{light.number} {LETTERS[light.purpose]}"
        if len(plan.lights) <= MOST_IN_FULL:
            throws = "" if line.bearing_deg is None else f"  {plan.bearing(line.bearing_deg)}"
            short += f"{throws}  {line.distance_m:.1f} m"
        self._name([at], short, gap=2.2)
        self.key[f"{LETTERS[light.purpose]}: light, {light.purpose}"] = lambda at: self._triangle(at, 90.0, "key")
        if light.beam_deg is not None:
            self.key["edges of a beam"] = lambda at: self._dash(at, weight=0.18, dash=BEAM)
        if light.source_m:
            self.key["width of what shines"] = lambda at: self._dash(at, weight=0.55)
        self.key["line to what it is aimed at"] = lambda at: self._dash(at, weight=0.1, ink=GREY)

    def _aim_line(self, at: Dot, aim: Dot) -> None:
        self.sheet.lines([at, aim], "aim", weight=0.1, ink=GREY)

    def _head(self, at: Dot, turn: float, light_number: int, source_m: float) -> None:
        half = source_m / 2.0 * self.view.mm
        if half:
            ends = [_off(at, turn - 90.0, half), _off(at, turn + 90.0, half)]
            self.sheet.lines(ends, f"source-{light_number}", weight=0.55)
        self._triangle(at, turn, f"light-{light_number}")

    def _stand_above(self, number_: int, stand: StandPlace) -> None:
        foot = self.view.at(*foot_of(self.plan, stand))
        light = self.plan.light(stand.light)
        self._feet(foot, stand.foot_radius_m * self.view.mm, stand.feet, f"stand-{number_}")
        self.key["stand and its feet"] = lambda at: self._feet(at, 1.8, 3, "key")
        if stand.x_m is not None:
            head = self.view.at(light.x_m, light.y_m)
            self._boom(foot, head, stand.counter_m * self.view.mm, number_)
            self._name([foot], f"stand of {stand.light}", gap=2.0)

    def _boom(self, pivot: Dot, head: Dot, counter: float, number_: int) -> None:
        long = math.dist(pivot, head) or 1.0
        back = tuple(p - (h - p) / long * counter for p, h in zip(pivot, head, strict=True))
        self.sheet.lines([(back[0], back[1]), head], f"boom-{number_}", weight=0.45)
        self.key["boom"] = lambda at: self._dash(at, weight=0.45)

    def _figures_above(self) -> None:
        plan, mm = self.plan, self.view.mm
        for number_, one in enumerate(plan.figures, start=1):
            at = self.view.at(one.x_m, one.y_m)
            if one.deep_m is None:
                self.sheet.circle(at, one.wide_m / 2.0 * mm, f"figure-{number_}", weight=0.35, fill=PAPER)
                self._keep(at, one.wide_m / 2.0 * mm)
                self.key["figure"] = lambda at: self.sheet.circle(at, 1.4, "key", weight=0.35, fill=PAPER)
            else:
                corners = _oblong(at, one.wide_m * mm, one.deep_m * mm, one.turned_deg)
                self.sheet.lines(corners, f"figure-{number_}", weight=0.35, closed=True)
                self.sheet.strokes.append((corners[-1], corners[0]))
                self.key["thing, in its size"] = lambda at: self.sheet.lines(
                    _oblong(at, 3.6, 2.2, 0.0), "key", weight=0.35, closed=True
                )
            self._name([at], words(one.name, NAME), gap=max(1.4, one.wide_m / 2.0 * mm + 0.6))
        for number_, point in enumerate(plan.points, start=1):
            at = self.view.at(point.x_m, point.y_m)
            self.sheet.cross(at, 1.1, f"point-{number_}", slant=True)
            self._keep(at, 0.9)
            self._name([at], words(point.name, NAME))
            self.key["marked point"] = lambda at: self.sheet.cross(at, 1.1, "key", slant=True)

    def _depths_above(self) -> None:
        for number_, mark in enumerate(self.plan.depths, start=1):
            at = self.view.at(mark.x_m, mark.y_m)
            self.sheet.cross(at, 1.1, f"depth-{number_}")
            self._keep(at, 0.9)
            self._name([at], f"{words(mark.name, NAME)} {mark.depth_m:.2f} m")
            self.key["mark, and depth of water"] = lambda at: self.sheet.cross(at, 1.1, "key")

    def _wind_and_smoke(self) -> None:
        plan, smoke = self.plan, self.plan.smoke
        at = None if smoke is None else self.view.at(smoke.x_m, smoke.y_m)
        if plan.wind is not None:
            turn = plan.on_plan(plan.wind.from_deg + 180.0)
            tip = (self.view.panel[0] + 11.0, self.view.panel[1] + 14.0) if at is None else _off(at, turn, -3.2)
            tail = _off(tip, turn, -9.0)
            self.sheet.arrow([tail, tip], "wind", weight=0.3, fill=PAPER, head=2.8)
            for off in (0.0, 1.2):
                foot = _off(tail, turn, off)
                self.sheet.lines([_off(foot, turn - 135, 1.6), foot, _off(foot, turn + 135, 1.6)], "wind-tail")
            self._name([tail, _off(tail, turn, 4.5)], wind_words(plan.wind), gap=2.4)
            self.key["wind blows this way"] = lambda at: self._key_arrow(at, weight=0.3, fill=PAPER)
            if smoke is not None and at is not None and smoke.drift_m:
                end = _off(at, turn, smoke.drift_m * self.view.mm)
                self.sheet.arrow([at, end], "drift", weight=0.3, dash=DRIFT, fill=PAPER, head=2.0)
                self.key["drift of smoke"] = lambda at: self._key_arrow(at, weight=0.3, dash=DRIFT, fill=PAPER)
        if at is not None:
            self._puff(at, "smoke")
            self._keep(at, 1.8)
            drift = f", drifts {smoke.drift_m:g} m" if smoke is not None and smoke.drift_m and plan.wind else ""
            self._name([at], f"smoke{drift}", gap=2.4)
            self.key["smoke is made here"] = lambda at: self._puff(at, "key")

    def _suns(self) -> None:
        plan = self.plan
        if plan.sun is not None:
            turn = plan.on_plan(plan.sun.bearing_deg)
            self._sun_arrow(turn, 0.0, "sun", INK, "" if plan.sun.altitude_deg >= 0 else MADE)
            self.labels[-1] = self._said_of_sun(f"sun {three_digits(plan.sun.bearing_deg)}", plan.sun.altitude_deg)
            self.key["real sun: light comes this way"] = lambda at: self._key_sun(at, INK, "")
        if plan.made_sun is not None:
            line = plan.placing(plan.made_sun)
            if line.seen_at_deg is None:
                return
            near = plan.sun is not None and abs(_turned(plan.on_plan(plan.sun.bearing_deg), line.seen_at_deg)) < 20.0
            self._sun_arrow(line.seen_at_deg, 8.0 if near else 0.0, "made-sun", PAPER, MADE)
            self.labels[-1] = self._said_of_sun(f"made sun, light {plan.made_sun}", -line.tilt_deg)
            self.key["made sun: a light stands for it"] = lambda at: self._key_sun(at, PAPER, MADE)

    def _said_of_sun(self, what: str, altitude_deg: float) -> Label:
        at = self.labels[-1]
        return Label(at.at, (what, altitude_words(altitude_deg)), at.within, at.gap, at.size)

    def _sun_arrow(self, turn: float, aside: float, name: str, fill: str, dash: str) -> None:
        """An arrow from the panel's edge inwards, towards the middle of the figures."""
        left, top, right, bottom = self.view.panel
        figures = [self.view.at(one.x_m, one.y_m) for one in self.plan.figures]
        spots = figures or [((left + right) / 2.0, (top + bottom) / 2.0)]
        middle = (sum(x for x, _ in spots) / len(spots), sum(y for _, y in spots) / len(spots))
        start = _off(middle, turn + 90.0, aside)
        inside = (left + 3.2, top + 3.2, right - 3.2, bottom - 3.2)
        part = clip(start, _off(start, turn, 4.0 * self.width), inside)
        edge = part[1] if part else start
        self._disc(edge, name, fill)
        self.sheet.arrow([_off(edge, turn, -3.0), _off(edge, turn, -13.0)], f"{name}-arrow", dash=dash, fill=fill)
        self._keep(edge, 2.6)
        self._name([edge, _off(edge, turn, -7.0)], "", gap=3.0)

    def _exit(self) -> None:
        route = [self.view.at(x, y) for x, y in self.plan.exit_route]
        if not route:
            return
        self.sheet.arrow(route, "exit", weight=0.5, dash=WAY, head=3.0)
        halves = [((x + u) / 2.0, (y + v) / 2.0) for (x, y), (u, v) in zip(route, route[1:], strict=False)]
        self._name([route[-1], *halves], "exit", gap=1.8, italic=True)
        self.key["exit"] = lambda at: self._key_arrow(at, weight=0.5, dash=WAY, fill=INK)

    # -- from the side --------

    def _from_the_side(self) -> None:
        plan, sheet, view = self.plan, self.sheet, self.view
        sheet.open("elevation")
        seen = "Seen along x, from the right" if plan.camera is None else "From the side, seen from the camera's right"
        self._panel(f"{seen}; heights over the plan's level")
        self._heights()
        ground = view.at(0.0, 0.0)[1]
        sheet.lines([(view.panel[0], ground), (view.panel[2], ground)], "ground", weight=0.35)
        eye = plan.camera
        if eye is not None:
            at = view.at(_along(plan, (eye.x_m, eye.y_m)), eye.height_m)
            for side in (-0.5, 0.5):
                up = eye.tilt_deg + side * eye.view_deg[1]
                self._within([at, _off(at, 90.0 - up, 4.0 * self.width)], "view", weight=0.2)
            sheet.lines([(at[0], ground), at], "legs", weight=0.3)
        for number_, stand in enumerate(plan.stands, start=1):
            self._stand_aside(number_, stand)
        for line in plan.placings:
            self._light_aside(line)
        self._things_aside(ground)
        self._water_aside()
        if eye is not None:
            self._square(at, "camera", 90.0 - eye.tilt_deg)
            self._name([at], f"lens {eye.height_m:.2f} m", f"{eye.view_deg[1]:.1f}° high", gap=2.4)
        self._set_labels()
        sheet.close()

    def _heights(self) -> None:
        view = self.view
        step = next(s for s in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1e9) if s * view.mm >= 5.0)
        for count in range(1, 200):
            y = view.at(0.0, count * step)[1]
            if y < view.panel[1] + 6.5:
                break
            ends = [(view.panel[0], y), (view.panel[2], y)]
            self.sheet.lines(ends, "height", weight=0.09, ink=RULE, avoid=False)
            self.sheet.text((view.panel[2] - 1.2, y - 0.5), f"{count * step:g} m", size=2.2, end=True, ink=GREY)

    def _stand_aside(self, number_: int, stand: StandPlace) -> None:
        plan, view = self.plan, self.view
        along, top = _along(plan, foot_of(plan, stand)), top_m(plan, stand)
        light = plan.light(stand.light)
        radius = stand.foot_radius_m
        self.sheet.lines([view.at(along, 0.0), view.at(along, top)], f"stand-{number_}", weight=0.3)
        feet = [view.at(along + side, up) for side, up in ((-radius, 0.0), (0.0, 0.8 * radius), (radius, 0.0))]
        self.sheet.lines(feet, f"feet-{number_}", weight=0.25)
        if stand.x_m is not None:
            head = view.at(_along(plan, (light.x_m, light.y_m)), light.height_m)
            arm = math.dist(foot_of(plan, stand), (light.x_m, light.y_m))
            share = stand.counter_m / arm if arm else 0.0
            pivot = view.at(along, top)
            self._boom(pivot, head, share * math.dist(pivot, head), number_)

    def _light_aside(self, line: Placing) -> None:
        plan, view = self.plan, self.view
        light = plan.light(line.light)
        at = view.at(_along(plan, (light.x_m, light.y_m)), light.height_m)
        x, y, up = _aim(plan, light)
        aim = view.at(_along(plan, (x, y)), up)
        if light.beam_deg is not None:
            ends = [view.at(_along(plan, edge[:2]), edge[2]) for edge in _edges(light, line, upright=True)]
            self._within([ends[0], at, ends[1]], f"beam-{line.light}", weight=0.18, dash=BEAM)
        self._aim_line(at, aim)
        turn = math.degrees(math.atan2(aim[0] - at[0], at[1] - aim[1])) if math.dist(at, aim) > 1e-6 else 180.0
        self._triangle(at, turn, f"light-{line.light}")
        short = f"{light.number} {LETTERS[light.purpose]}"
        if len(plan.lights) <= MOST_IN_FULL:
            short += f"  {light.height_m:.2f} m  {tilt_words(line.tilt_deg)}"
        self._name([at], short, gap=2.2)

    def _things_aside(self, ground: float) -> None:
        plan, view = self.plan, self.view
        for number_, one in enumerate(plan.figures, start=1):
            along, wide = _along(plan, (one.x_m, one.y_m)), one.wide_m
            if one.deep_m is not None:
                turn = 0.0 if plan.camera is None else plan.camera.bearing_deg
                off = math.radians(one.turned_deg - turn)
                wide = abs(one.wide_m * math.sin(off)) + abs(one.deep_m * math.cos(off))
            left, top = view.at(along - wide / 2.0, one.height_m)
            right = view.at(along + wide / 2.0, 0.0)[0]
            name = f"figure-{number_}"
            self.sheet.lines([(left, ground), (left, top), (right, top), (right, ground)], name, weight=0.35)
            self._name([((left + right) / 2.0, top)], words(one.name, NAME), gap=1.2)
        for number_, point in enumerate(plan.points, start=1):
            at = view.at(_along(plan, (point.x_m, point.y_m)), point.height_m)
            self.sheet.cross(at, 1.1, f"point-{number_}", slant=True)
            self._keep(at, 0.9)

    def _water_aside(self) -> None:
        plan, view = self.plan, self.view
        level = 0.0 if plan.waterline is None else plan.waterline.level_m
        along = [_along(plan, (mark.x_m, mark.y_m)) for mark in plan.depths]
        if plan.waterline is not None:
            along += [_along(plan, spot) for spot in plan.waterline.spots]
            if plan.waterline.y_m is not None and (plan.camera is None or not plan.camera.bearing_deg % 180.0):
                along.append(_along(plan, (0.0, plan.waterline.y_m)))
        if along and (plan.depths or plan.waterline is not None):
            ends = [view.at(min(along), level), view.at(max(along), level)]
            self.sheet.lines(ends, "water", weight=0.4, dash=WATER)
        for number_, mark in enumerate(plan.depths, start=1):
            where = _along(plan, (mark.x_m, mark.y_m))
            top, bed = view.at(where, level), view.at(where, level - mark.depth_m)
            self.sheet.lines([top, bed], f"depth-{number_}", weight=0.3)
            self.sheet.lines([(bed[0] - 1.1, bed[1]), (bed[0] + 1.1, bed[1])], f"bed-{number_}", weight=0.3)
            self._name([bed], f"{words(mark.name, NAME)} {mark.depth_m:.2f} m", gap=0.9)

    # -- foot and key --------

    def _foot(self, top: float) -> float:
        sheet, mm = self.sheet, 1000.0 / self.scale
        long = bar_m(self.scale)
        start, half = 1.5, long * mm / 2.0
        sheet.open("scale-bar")
        for count, fill in enumerate((INK, PAPER)):
            left = start + count * half
            box = [(left, top - 0.6), (left + half, top - 0.6), (left + half, top + 0.6), (left, top + 0.6)]
            sheet.lines(box, "bar", weight=0.2, fill=fill, closed=True, avoid=False)
        sheet.close()
        for count in range(3):
            said = f"{long * count / 2.0:g}" + (" m" if count == 2 else "")
            sheet.text((start + count * half - 0.6, top + 3.6), said)
        said = f"About 1:{_grouped(self.scale)} on A4 ({self.width:g} mm wide)."
        sheet.text(
            (start + 2.0 * half + 9.0, top + 0.9), f"{said} Where a printer shrinks the sheet, the bar still holds."
        )
        return self._key(top + 9.0)

    def _key(self, top: float) -> float:
        columns, row = 4 if self.width >= 170 else 3, 4.3
        wide = self.width / columns
        self.sheet.lines([(0.0, top - 3.4), (self.width, top - 3.4)], "rule", weight=0.15, ink=RULE)
        self.sheet.open("key")
        rows = -(-len(self.key) // columns)
        for count, (said, draw) in enumerate(self.key.items()):
            left, y = (count // rows) * wide, top + (count % rows) * row
            draw((left + 4.5, y))
            self.sheet.text((left + 9.8, y + 0.85), said, size=2.4)
        self.sheet.close()
        y = top + rows * row + 0.6
        for line in self._under_key():
            self.sheet.text((0.3, y), line, size=2.4, ink=GREY)
            y += 3.3
        return y

    def _under_key(self) -> Iterable[str]:
        if self.plan.lights:
            full = len(self.plan.lights) <= MOST_IN_FULL
            yield (
                "Beside a light: number, purpose; from above, the bearing that it throws on and how far its aim is; "
                "from the side, height and tilt."
                if full
                else "Beside a light: number and purpose. Its bearing, distance, height and tilt are in the words."
            )
        if self.plan.stands:
            yield "Tip-over reach: the height and half the modifier, to the far end of a boom; feet add about their radius."
            yield "Local codes and licensed, competent people decide where stands go."

    # -- symbols --------

    def _triangle(self, at: Dot, turn: float, name: str) -> None:
        corners = [_off(at, turn + 120.0 * n, 1.9 if n == 0 else 1.9) for n in range(3)]
        self.sheet.lines(corners, name, weight=0.2, fill=INK, closed=True, avoid=False)
        self._keep(at, 1.5)

    def _square(self, at: Dot, name: str, turn: float) -> None:
        corners = [_off(at, turn + 45.0 + 90.0 * n, 2.1) for n in range(4)]
        self.sheet.lines(corners, name, weight=0.2, fill=INK, closed=True, avoid=False)
        self._keep(at, 1.6)

    def _feet(self, at: Dot, radius: float, feet: int, name: str) -> None:
        for n in range(feet):
            self.sheet.lines([at, _off(at, 360.0 * n / feet, radius)], name, weight=0.25)

    def _puff(self, at: Dot, name: str) -> None:
        for n in range(3):
            self.sheet.circle(_off(at, 120.0 * n, 0.8), 0.9, name, weight=0.2, fill=PAPER)

    def _disc(self, at: Dot, name: str, fill: str) -> None:
        self.sheet.circle(at, 1.2, name, weight=0.3, fill=fill)
        for n in range(8):
            ends = [_off(at, 45.0 * n, 1.6), _off(at, 45.0 * n, 2.4)]
            self.sheet.lines(ends, f"{name}-ray", weight=0.2, avoid=False)

    def _dash(self, at: Dot, *, weight: float, dash: str = "", ink: str = INK) -> None:
        self.sheet.lines([(at[0] - 4.0, at[1]), (at[0] + 4.0, at[1])], "key", weight=weight, dash=dash, ink=ink)

    def _key_arrow(self, at: Dot, *, weight: float, fill: str, dash: str = "") -> None:
        self.sheet.arrow([(at[0] - 4.0, at[1]), (at[0] + 4.0, at[1])], "key", weight=weight, dash=dash, fill=fill)

    def _key_sun(self, at: Dot, fill: str, dash: str) -> None:
        self._disc((at[0] - 2.0, at[1]), "key", fill)
        self.sheet.arrow([(at[0] + 0.6, at[1]), (at[0] + 4.2, at[1])], "key", dash=dash, fill=fill, head=1.8)


def _way(turn: float) -> Dot:
    """On paper, one unit along a bearing of the plan."""
    return math.sin(math.radians(turn)), -math.cos(math.radians(turn))


def _off(at: Dot, turn: float, far: float) -> Dot:
    ux, uy = _way(turn)
    return at[0] + far * ux, at[1] + far * uy


def _oblong(at: Dot, wide: float, deep: float, turn: float) -> list[Dot]:
    (ax, ay), (bx, by) = _way(turn + 90.0), _way(turn)
    return [
        (at[0] + sx * wide / 2.0 * ax + sy * deep / 2.0 * bx, at[1] + sx * wide / 2.0 * ay + sy * deep / 2.0 * by)
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]


def _turned(one: float, other: float) -> float:
    return (one - other + 180.0) % 360.0 - 180.0


def _grouped(scale: float) -> str:
    return f"{scale:,.1f}".rstrip("0").rstrip(".").replace(",", " ")
