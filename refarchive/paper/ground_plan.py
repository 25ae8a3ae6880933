"""The lighting plan drawn to scale as SVG: from above, and below that from the side, with a key.

One unit is one millimetre on paper, and both views have one scale. The side view is seen from the right of the camera,
along its lens; what lies to either side of the lens is projected onto that. Beams are drawn as they look from above and
from the side: one that slants down looks wider from above than its angle.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from refarchive.lighting.checks import number
from refarchive.lighting.rig import Placing
from refarchive.paper import ground_symbols as symbols
from refarchive.paper.ground import (
    LETTERS,
    NAME,
    CameraPoint,
    DepthMark,
    FigurePlace,
    GroundPlan,
    Smoke,
    StandPlace,
    Sun,
    Waterline,
    Wind,
    field_of_view_deg,
    foot_of,
    reach_m,
    three_digits,
    top_m,
)
from refarchive.paper.ground_scale import (
    COLUMNS_FROM,
    HEIGHT,
    LOWEST,
    WIDTH,
    above,
    aim_of,
    along,
    aside,
    bar_m,
    beam_ends,
    pool_m,
    scale_of,
)
from refarchive.paper.ground_symbols import oblong, off, turned, way
from refarchive.paper.ground_words import altitude_words, in_words, metres, tilt_words, wind_words
from refarchive.paper.svg import GREY, INK, PAPER, RULE, SIZE, Box, Dot, Label, Sheet, clip, width_mm, words

__all__ = [
    "CameraPoint", "DepthMark", "FigurePlace", "GroundPlan", "Smoke", "StandPlace", "Sun", "Waterline", "Wind",
    "field_of_view_deg", "ground_plan", "in_words", "scale_of",
]  # fmt: skip

TOP = 12.5  # mm, of the heading
MOST_IN_FULL = 16  # lights whose figures stand beside them
PLAIN = "Plain shapes; see the key. They conform to no symbol standard."

BEAM, WATER, WAY, REACH, DRIFT, MADE = "1.5 0.9", "3.2 0.8 0.7 0.8", "2.4 1.1", "0.25 0.85", "0.7 0.7", "1 0.6"


def ground_plan(plan: GroundPlan, *, width_mm: float = WIDTH, height_mm: float = HEIGHT) -> str:
    """The plan and its side view as one SVG text, so many millimetres wide and at most so many high.

    The scale is the largest round one at which both views fit; it is written under them, with a bar to measure by.

    Raises
    ------
    LightingRefused
        where the width is not from 160 to 280 mm, or the height not from 180 to 400 mm.
    """
    wide = number(width_mm, "width_mm", least=160, most=280, unit="mm")
    high = number(height_mm, "height_mm", least=180, most=400, unit="mm")
    return _Drawing(plan, wide, scale_of(plan, width_mm=wide, height_mm=high)).written()


@dataclass(frozen=True)
class _View:
    """A panel on the sheet and where metres lie in it."""

    panel: Box
    origin: Dot
    mm: float  # of a metre
    floor: float | None = None  # of lines of sight and beams, where it is not the panel's

    @property
    def shown(self) -> Box:
        left, top, right, bottom = self.panel
        return left, top, right, bottom if self.floor is None else self.floor

    def at(self, across: float, up: float) -> Dot:
        return self.origin[0] + across * self.mm, self.origin[1] - up * self.mm

    @property
    def inner(self) -> Box:
        return self.panel[0] + 0.8, self.panel[1] + 0.8, self.panel[2] - 0.8, self.panel[3] - 0.8


def _view(panel: Box, shown: Box, mm: float) -> _View:
    """A panel with what it shows in its middle, taller than given where that needs it."""
    left, top, right, bottom = panel
    bottom = max(bottom, top + (shown[3] - shown[1]) * mm)
    across, up = (shown[0] + shown[2]) / 2.0, (shown[1] + shown[3]) / 2.0
    return _View((left, top, right, bottom), ((left + right) / 2.0 - across * mm, (top + bottom) / 2.0 + up * mm), mm)


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
        left, right = 0.15, self.width - 0.15
        self.view = _view((left, TOP, right, TOP + LOWEST), above(plan, mm), mm)
        self._from_above()
        below = self.view.panel[3] + 2.0
        self.view = _view((left, below, right, below), aside(plan, mm), mm)
        self._from_the_side()
        self.sheet.height = self._foot(self.view.panel[3] + 6.0)
        return self.sheet.written(words(plan.title), " ".join(in_words(plan)))

    def _heading(self) -> None:
        plan = self.plan
        at = f", {words(plan.at, 40)}" if plan.at.strip() else ""
        title = words(plan.title, 60) + at
        self.sheet.text((0.3, 4.6), title, size=min(4.2, 4.2 * (self.width - 1.0) / width_mm(title or " ", 4.2)))
        if plan.north_deg is None:
            said = "North is not given: bearings are clockwise from straight up the sheet."
        else:
            said = f"Bearings are from true north; straight up the sheet is {three_digits(plan.north_deg)}."
        self.sheet.text((0.3, 9.8), said, ink=GREY)

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

    def _within(self, dots: Sequence[Dot], name: str, **style: object) -> list[tuple[Dot, Dot]]:
        """A line through points, as much of it as the panel shows, and from the side as lies over the ground."""
        shown = [part for ends in pairwise(dots) if (part := clip(*ends, self.view.shown))]
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
        self._name_reaches()
        self._set_labels()
        sheet.close()

    def _north(self) -> None:
        if self.plan.north_deg is None:
            return
        at = (self.view.panel[2] - 9.5, self.view.panel[1] + 10.5)
        ux, uy = way(self.plan.on_plan(0.0))
        tail, tip = (at[0] - 5.5 * ux, at[1] - 5.5 * uy), (at[0] + 5.5 * ux, at[1] + 5.5 * uy)
        self.sheet.arrow([tail, tip], "north", head=3.0)
        wide = width_mm("N")
        self.sheet.text((at[0] + 7.6 * ux - wide / 2.0, at[1] + 7.6 * uy + 0.35 * SIZE), "N")
        symbols.keep(self.sheet, at, 7.0)

    def _reaches(self) -> None:
        plan = self.plan
        for number_, stand in enumerate(plan.stands, start=1):
            x, y = foot_of(plan, stand)
            radius, middle = reach_m(plan, stand), self.view.at(x, y)
            mm = radius * self.view.mm
            self.sheet.circle(middle, mm, f"reach-{number_}", weight=0.22, dash=REACH, ink=GREY)
            ring = [off(middle, 15.0 * step, mm) for step in range(25)]
            self.sheet.strokes += list(pairwise(ring))
            self.key["tip-over reach of a stand"] = lambda at: self.sheet.circle(
                at, 1.6, "key", weight=0.22, dash=REACH, ink=GREY
            )

    def _name_reaches(self) -> None:
        plan = self.plan
        for stand in plan.stands[:8]:
            middle, radius = self.view.at(*foot_of(plan, stand)), reach_m(plan, stand)
            ring = [off(middle, turn, radius * self.view.mm) for turn in range(0, 360, 30)]
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
        shown = self._within(dots, "waterline", weight=0.4, dash=WATER)
        if shown:
            said = f"waterline {words(line.at, NAME)}".rstrip()
            self._name([shown[-1][1], shown[0][0], *(end for _, end in shown)], said, gap=1.2, italic=True)
        self.key["waterline when it is taken"] = lambda at: symbols.dash(self.sheet, at, weight=0.4, dash=WATER)

    def _sight_above(self) -> None:
        eye = self.plan.camera
        if eye is None:
            return
        at, far = self.view.at(eye.x_m, eye.y_m), 4.0 * self.width
        for side in (-0.5, 0.5):
            self._within([at, off(at, eye.bearing_deg + side * eye.view_deg[0], far)], "view", weight=0.2)
        self.key["edge of the picture"] = lambda at: symbols.dash(self.sheet, at, weight=0.2)

    def _camera_above(self) -> None:
        eye = self.plan.camera
        if eye is None:
            return
        at = self.view.at(eye.x_m, eye.y_m)
        symbols.square(self.sheet, at, "camera", eye.bearing_deg)
        self._name(
            [at],
            f"camera, {eye.focal_mm:g} mm",
            f"looks to {self.plan.bearing(eye.bearing_deg)}",
            f"{eye.view_deg[0]:.1f}° across",
            gap=2.4,
        )
        self.key["camera"] = lambda at: symbols.square(self.sheet, at, "key", 0.0)

    def _light_above(self, line: Placing) -> None:
        plan, sheet = self.plan, self.sheet
        light = plan.light(line.light)
        at, aim = self.view.at(light.x_m, light.y_m), self.view.at(*aim_of(plan, light)[:2])
        radius = pool_m(light, line)
        if radius:
            sheet.circle(aim, radius * self.view.mm, f"beam-{line.light}", weight=0.18, dash=BEAM)
        elif light.beam_deg is not None:
            under, over = beam_ends(light, line, upright=False)
            edges = [self.view.at(*under[:2]), at, self.view.at(*over[:2])]
            self._within(edges, f"beam-{line.light}", weight=0.18, dash=BEAM)
        self._aim_line(at, aim)
        turn = line.bearing_deg or 0.0
        self._head(at, turn, line.light, light.source_m)
        short = f"{light.number} {LETTERS[light.purpose]}"
        if self._in_full:
            throws = "" if line.bearing_deg is None else f"  {plan.bearing(line.bearing_deg)}"
            short += f"{throws}  {line.distance_m:.1f} m"
        self._name([at], short, gap=2.2)
        self.key["light, and its purpose"] = lambda at: symbols.triangle(self.sheet, at, 90.0, "key")
        if light.beam_deg is not None:
            self.key["edges of a beam"] = lambda at: symbols.dash(self.sheet, at, weight=0.18, dash=BEAM)
        if light.source_m:
            self.key["width of what shines"] = lambda at: symbols.dash(self.sheet, at, weight=0.55)

    @property
    def _in_full(self) -> bool:
        return len(self.plan.lights) <= MOST_IN_FULL

    def _aim_line(self, at: Dot, aim: Dot) -> None:
        """A thin line from a light to what it is aimed at, where few enough are drawn to be followed."""
        if self._in_full:
            self.key["line to what it is aimed at"] = lambda at: symbols.dash(self.sheet, at, weight=0.1, ink=GREY)
            self.sheet.lines([at, aim], "aim", weight=0.1, ink=GREY)

    def _head(self, at: Dot, turn: float, light_number: int, source_m: float) -> None:
        half = source_m / 2.0 * self.view.mm
        if half:
            ends = [off(at, turn - 90.0, half), off(at, turn + 90.0, half)]
            self.sheet.lines(ends, f"source-{light_number}", weight=0.55)
        symbols.triangle(self.sheet, at, turn, f"light-{light_number}")

    def _stand_above(self, number_: int, stand: StandPlace) -> None:
        foot = self.view.at(*foot_of(self.plan, stand))
        light = self.plan.light(stand.light)
        symbols.feet(self.sheet, foot, stand.foot_radius_m * self.view.mm, stand.feet, f"stand-{number_}")
        self.key["stand and its feet"] = lambda at: symbols.feet(self.sheet, at, 1.8, 3, "key")
        if stand.x_m is not None:
            head = self.view.at(light.x_m, light.y_m)
            self._boom(foot, head, stand.counter_m * self.view.mm, number_)
            self._name([foot], f"stand of {stand.light}", gap=2.0)

    def _boom(self, pivot: Dot, head: Dot, counter: float, number_: int) -> None:
        long = math.dist(pivot, head) or 1.0
        back = tuple(p - (h - p) / long * counter for p, h in zip(pivot, head, strict=True))
        self.sheet.lines([(back[0], back[1]), head], f"boom-{number_}", weight=0.45)
        self.key["boom"] = lambda at: symbols.dash(self.sheet, at, weight=0.45)

    def _figures_above(self) -> None:
        plan, mm = self.plan, self.view.mm
        for number_, one in enumerate(plan.figures, start=1):
            at = self.view.at(one.x_m, one.y_m)
            if one.deep_m is None:
                self.sheet.circle(at, one.wide_m / 2.0 * mm, f"figure-{number_}", weight=0.35, fill=PAPER)
                symbols.keep(self.sheet, at, one.wide_m / 2.0 * mm)
                self.key["figure"] = lambda at: self.sheet.circle(at, 1.4, "key", weight=0.35, fill=PAPER)
            else:
                corners = oblong(at, one.wide_m * mm, one.deep_m * mm, one.turned_deg)
                self.sheet.lines(corners, f"figure-{number_}", weight=0.35, closed=True)
                self.sheet.strokes.append((corners[-1], corners[0]))
            self._name([at], words(one.name, NAME), gap=max(1.4, one.wide_m / 2.0 * mm + 0.6))
        for number_, point in enumerate(plan.points, start=1):
            at = self.view.at(point.x_m, point.y_m)
            self.sheet.cross(at, 1.1, f"point-{number_}", slant=True)
            symbols.keep(self.sheet, at, 0.9)
            self._name([at], words(point.name, NAME))
            self.key["marked point"] = lambda at: self.sheet.cross(at, 1.1, "key", slant=True)

    def _depths_above(self) -> None:
        for number_, mark in enumerate(self.plan.depths, start=1):
            at = self.view.at(mark.x_m, mark.y_m)
            self.sheet.cross(at, 1.1, f"depth-{number_}")
            symbols.keep(self.sheet, at, 0.9)
            self._name([at], f"{words(mark.name, NAME)} {mark.depth_m:.2f} m")
            self.key["mark, and depth of water"] = lambda at: self.sheet.cross(at, 1.1, "key")

    def _wind_and_smoke(self) -> None:
        plan, smoke = self.plan, self.plan.smoke
        at = None if smoke is None else self.view.at(smoke.x_m, smoke.y_m)
        if plan.wind is not None:
            turn = plan.on_plan(plan.wind.from_deg + 180.0)
            tip = (self.view.panel[0] + 13.0, self.view.panel[1] + 20.0) if at is None else off(at, turn, -3.2)
            tail = off(tip, turn, -9.0)
            self.sheet.arrow([tail, tip], "wind", weight=0.3, fill=PAPER, head=2.8)
            for back in (0.0, 1.2):
                foot = off(tail, turn, back)
                self.sheet.lines([off(foot, turn - 135, 1.6), foot, off(foot, turn + 135, 1.6)], "wind-tail")
            self._name([tail, off(tail, turn, 4.5)], wind_words(plan.wind), gap=2.4)
            self.key["wind blows this way"] = lambda at: symbols.key_arrow(self.sheet, at, weight=0.3, fill=PAPER)
            if smoke is not None and at is not None and smoke.drift_m:
                end = off(at, turn, smoke.drift_m * self.view.mm)
                self.sheet.arrow([at, end], "drift", weight=0.3, dash=DRIFT, fill=PAPER, head=2.0)
                self.key["drift of smoke"] = lambda at: symbols.key_arrow(
                    self.sheet, at, weight=0.3, dash=DRIFT, fill=PAPER
                )
        if at is not None:
            symbols.puff(self.sheet, at, "smoke")
            symbols.keep(self.sheet, at, 1.8)
            drift = f", drifts {smoke.drift_m:g} m" if smoke is not None and smoke.drift_m and plan.wind else ""
            self._name([at], f"smoke{drift}", gap=2.4)
            self.key["smoke is made here"] = lambda at: symbols.puff(self.sheet, at, "key")

    def _suns(self) -> None:
        plan = self.plan
        if plan.sun is not None:
            turn = plan.on_plan(plan.sun.bearing_deg)
            said = (f"sun {three_digits(plan.sun.bearing_deg)}", altitude_words(plan.sun.altitude_deg))
            self._sun_arrow(turn, 0.0, "sun", said, INK, "" if plan.sun.altitude_deg >= 0 else MADE)
            self.key["real sun, and its light"] = lambda at: symbols.key_sun(self.sheet, at, INK, "")
        if plan.made_sun is not None:
            line = plan.placing(plan.made_sun)
            said = (f"made sun, light {plan.made_sun}", altitude_words(-line.tilt_deg))
            if line.seen_at_deg is None:  # straight above its aim, and so from no side
                light = plan.light(plan.made_sun)
                self._name([self.view.at(light.x_m, light.y_m)], *said, gap=2.2)
                return
            near = plan.sun is not None and abs(turned(plan.on_plan(plan.sun.bearing_deg), line.seen_at_deg)) < 20.0
            self._sun_arrow(line.seen_at_deg, 8.0 if near else 0.0, "made-sun", said, PAPER, MADE)
            self.key["made sun, by a light"] = lambda at: symbols.key_sun(self.sheet, at, PAPER, MADE)

    def _sun_arrow(self, turn: float, beside: float, name: str, said: tuple[str, str], fill: str, dash: str) -> None:
        """An arrow from the panel's edge inwards, towards the middle of the figures."""
        left, top, right, bottom = self.view.panel
        figures = [self.view.at(one.x_m, one.y_m) for one in self.plan.figures]
        spots = figures or [((left + right) / 2.0, (top + bottom) / 2.0)]
        middle = (sum(x for x, _ in spots) / len(spots), sum(y for _, y in spots) / len(spots))
        start = off(middle, turn + 90.0, beside)
        inside = (left + 3.2, top + 3.2, right - 3.2, bottom - 3.2)
        part = clip(start, off(start, turn, 4.0 * self.width), inside)
        edge = part[1] if part else start
        symbols.disc(self.sheet, edge, name, fill)
        self.sheet.arrow([off(edge, turn, -3.0), off(edge, turn, -9.6)], f"{name}-arrow", dash=dash, fill=fill)
        symbols.keep(self.sheet, edge, 2.6)
        self._name([edge, off(edge, turn, -6.0)], *said, gap=3.0)

    def _exit(self) -> None:
        route = [self.view.at(x, y) for x, y in self.plan.exit_route]
        if not route:
            return
        self.sheet.arrow(route, "exit", weight=0.5, dash=WAY, head=3.0)
        halves = [((x + u) / 2.0, (y + v) / 2.0) for (x, y), (u, v) in pairwise(route)]
        self._name([route[-1], *halves], "exit", gap=1.8, italic=True)
        self.key["exit"] = lambda at: symbols.key_arrow(self.sheet, at, weight=0.5, dash=WAY, fill=INK)

    # -- from the side --------

    def _from_the_side(self) -> None:
        plan, sheet, view = self.plan, self.sheet, self.view
        sheet.open("elevation")
        seen = "Seen along x, from the right" if plan.camera is None else "From the side, seen from the camera's right"
        self._panel(f"{seen}; heights over the plan's level")
        self._heights()
        ground = view.at(0.0, 0.0)[1]
        if all(one.height_m >= 0.0 for one in (plan.camera, *plan.lights) if one is not None):
            self.view = view = replace(view, floor=ground)
        sheet.lines([(view.panel[0], ground), (view.panel[2], ground)], "ground", weight=0.35)
        self.key["the plan's level, from aside"] = lambda at: symbols.dash(self.sheet, at, weight=0.35)
        eye = plan.camera
        if eye is not None:
            at = view.at(along(plan, (eye.x_m, eye.y_m)), eye.height_m)
            for side in (-0.5, 0.5):
                up = eye.tilt_deg + side * eye.view_deg[1]
                self._within([at, off(at, 90.0 - up, 4.0 * self.width)], "view", weight=0.2)
            sheet.lines([(at[0], ground), at], "legs", weight=0.3)
        for number_, stand in enumerate(plan.stands, start=1):
            self._stand_aside(number_, stand)
        for line in plan.placings:
            self._light_aside(line)
        self._things_aside(ground)
        self._water_aside()
        if eye is not None:
            symbols.square(self.sheet, at, "camera", 90.0 - eye.tilt_deg)
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
        foot, top = along(plan, foot_of(plan, stand)), top_m(plan, stand)
        light = plan.light(stand.light)
        radius = stand.foot_radius_m
        self.sheet.lines([view.at(foot, 0.0), view.at(foot, top)], f"stand-{number_}", weight=0.3)
        feet = [view.at(foot + side, up) for side, up in ((-radius, 0.0), (0.0, 0.8 * radius), (radius, 0.0))]
        self.sheet.lines(feet, f"feet-{number_}", weight=0.25)
        if stand.x_m is not None:
            head = view.at(along(plan, (light.x_m, light.y_m)), light.height_m)
            arm = math.dist(foot_of(plan, stand), (light.x_m, light.y_m))
            share = stand.counter_m / arm if arm else 0.0
            pivot = view.at(foot, top)
            self._boom(pivot, head, share * math.dist(pivot, head), number_)

    def _light_aside(self, line: Placing) -> None:
        plan, view = self.plan, self.view
        light = plan.light(line.light)
        at = view.at(along(plan, (light.x_m, light.y_m)), light.height_m)
        x, y, up = aim_of(plan, light)
        aim = view.at(along(plan, (x, y)), up)
        if light.beam_deg is not None and self._in_full:
            ends = [view.at(along(plan, edge[:2]), edge[2]) for edge in beam_ends(light, line, upright=True)]
            self._within([ends[0], at, ends[1]], f"beam-{line.light}", weight=0.18, dash=BEAM)
        self._aim_line(at, aim)
        turn = math.degrees(math.atan2(aim[0] - at[0], at[1] - aim[1])) if math.dist(at, aim) > 1e-6 else 180.0
        symbols.triangle(self.sheet, at, turn, f"light-{line.light}")
        short = f"{light.number} {LETTERS[light.purpose]}"
        if self._in_full:
            short += f"  {light.height_m:.2f} m  {tilt_words(line.tilt_deg)}"
        self._name([at], short, gap=2.2)

    def _things_aside(self, ground: float) -> None:
        plan, view = self.plan, self.view
        for number_, one in enumerate(plan.figures, start=1):
            self.key["thing; figure from aside"] = lambda at: self.sheet.lines(
                oblong(at, 3.6, 2.2, 0.0), "key", weight=0.35, closed=True
            )
            middle, wide = along(plan, (one.x_m, one.y_m)), one.wide_m
            if one.deep_m is not None:
                turn = 0.0 if plan.camera is None else plan.camera.bearing_deg
                skew = math.radians(one.turned_deg - turn)
                wide = abs(one.wide_m * math.sin(skew)) + abs(one.deep_m * math.cos(skew))
            left, top = view.at(middle - wide / 2.0, one.height_m)
            right = view.at(middle + wide / 2.0, 0.0)[0]
            name = f"figure-{number_}"
            self.sheet.lines([(left, ground), (left, top), (right, top), (right, ground)], name, weight=0.35)
            self._name([((left + right) / 2.0, top)], words(one.name, NAME), gap=1.2)
        for number_, point in enumerate(plan.points, start=1):
            at = view.at(along(plan, (point.x_m, point.y_m)), point.height_m)
            self.sheet.cross(at, 1.1, f"point-{number_}", slant=True)
            symbols.keep(self.sheet, at, 0.9)

    def _water_aside(self) -> None:
        plan, view = self.plan, self.view
        level = 0.0 if plan.waterline is None else plan.waterline.level_m
        spread = [along(plan, (mark.x_m, mark.y_m)) for mark in plan.depths]
        if plan.waterline is not None:
            spread += [along(plan, spot) for spot in plan.waterline.spots]
            if plan.waterline.y_m is not None and (plan.camera is None or not plan.camera.bearing_deg % 180.0):
                spread.append(along(plan, (0.0, plan.waterline.y_m)))
        if spread:
            ends = [view.at(min(spread), level), view.at(max(spread), level)]
            self.sheet.lines(ends, "water", weight=0.4, dash=WATER)
            self._name(ends, f"water {metres(level)} m", gap=1.4, italic=True)
        for number_, mark in enumerate(plan.depths, start=1):
            where = along(plan, (mark.x_m, mark.y_m))
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
        beside = start + 2.0 * half + 9.0
        sheet.text((beside, top + 0.6), said)
        sheet.text((beside, top + 3.9), "Where a printer shrinks the sheet, the bar still holds.", ink=GREY)
        return self._key(top + 9.0)

    def _key(self, top: float) -> float:
        columns, row = 4 if self.width >= COLUMNS_FROM else 3, 4.1
        wide = self.width / columns
        self.sheet.lines([(0.0, top - 3.4), (self.width, top - 3.4)], "rule", weight=0.15, ink=RULE)
        self.sheet.open("key")
        rows = -(-len(self.key) // columns)
        for count, (said, draw) in enumerate(self.key.items()):
            left, y = (count // rows) * wide, top + (count % rows) * row
            draw((left + 4.5, y))
            self.sheet.text((left + 9.8, y + 0.85), said, size=2.4)
        self.sheet.close()
        y = top + rows * row + 1.6
        for line in self._under_key():
            self.sheet.text((0.3, y), line, size=2.4, ink=GREY)
            y += 3.2
        return y

    def _under_key(self) -> Iterable[str]:
        yield PLAIN
        if self.plan.lights:
            used = {light.purpose for light in self.plan.lights}
            purposes = ", ".join(f"{letter} {purpose}" for purpose, letter in LETTERS.items() if purpose in used)
            if self._in_full:
                yield f"Beside a light: number, purpose ({purposes}); from above, the bearing that it throws on and"
                yield "how far its aim is; from the side, height and tilt. Beams are drawn as they look from there."
            else:
                yield f"Beside a light: number, purpose ({purposes}). Bearing, distance, height, tilt are in the words."
        if self.plan.stands:
            yield "Tip-over reach: height and half the modifier, to the far end of a boom; going over its feet adds"
            yield "about their radius. Local codes and licensed, competent people decide where stands go."


def _grouped(scale: float) -> str:
    return f"{scale:,.1f}".rstrip("0").rstrip(".").replace(",", " ")
