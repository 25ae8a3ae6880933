"""What stands where for one picture: camera, figures, lights, stands, water, sun, wind and the way out.

The plan is the rig's: metres, x to the right, y away from the foot of the sheet, height above the plan's own level.
Bearings of things on the plan (lens, lights, what a figure faces) are clockwise from its y; `north_deg` is the bearing
of y from true north, and turns them into bearings that a compass knows. Of sun and wind, bearings are from true north.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from refarchive.errors import LightingRefused
from refarchive.lighting.checks import number, whole
from refarchive.lighting.rig import Light, Placing, Point, Rig, schedule
from refarchive.paper.svg import crossing, words

MOST_APART_M = 500.0
MOST = {"light": 60, "figure": 60, "point": 60, "stand": 60, "depth mark": 60, "corner": 500}
LETTERS = {"key": "K", "fill": "F", "hair": "H", "background": "B", "effect": "E"}
NAME = 30  # characters of a name on the drawing
Spot = tuple[float, float]


@dataclass(frozen=True)
class CameraPoint:
    """Where the lens is: metres; `bearing_deg` on the plan, `tilt_deg` up; focal length and sensor in millimetres."""

    x_m: float
    y_m: float
    height_m: float
    focal_mm: float
    sensor_mm: tuple[float, float] = (36.0, 24.0)
    bearing_deg: float = 0.0
    tilt_deg: float = 0.0

    def __post_init__(self) -> None:
        _numbers(self, "camera", "x_m", "y_m", "height_m", "bearing_deg")
        number(self.tilt_deg, "camera: tilt_deg", least=-90, most=90, unit="°")
        for side in self.sensor_mm:
            field_of_view_deg(side, self.focal_mm)

    @property
    def view_deg(self) -> tuple[float, float]:
        """Field of view across and high [°]."""
        across, high = (field_of_view_deg(side, self.focal_mm) for side in self.sensor_mm)
        return across, high


@dataclass(frozen=True)
class FigurePlace:
    """A figure, drawn as a circle; with `deep_m` a thing such as a cart, drawn as an oblong turned by `turned_deg`."""

    name: str
    x_m: float
    y_m: float
    height_m: float = 1.7
    wide_m: float = 0.5
    deep_m: float | None = None
    turned_deg: float = 0.0

    def __post_init__(self) -> None:
        _named(self.name, "figure: name")
        _numbers(self, self.name, "x_m", "y_m", "turned_deg")
        number(self.height_m, f"{self.name}: height_m", above=0, most=MOST_APART_M, unit="m")
        number(self.wide_m, f"{self.name}: wide_m", above=0, most=MOST_APART_M, unit="m")
        if self.deep_m is not None:
            number(self.deep_m, f"{self.name}: deep_m", above=0, most=MOST_APART_M, unit="m")


@dataclass(frozen=True)
class StandPlace:
    """The stand of a light. `modifier_m` is what it carries, across (None: as wide as the light's source).

    With `x_m` and `y_m` it stands elsewhere than its light and carries it on a boom, pivoted at `top_m` (None: at the
    light's height), whose counter arm is `counter_m` long.
    """

    light: int
    foot_radius_m: float = 0.5
    feet: int = 3
    modifier_m: float | None = None
    x_m: float | None = None
    y_m: float | None = None
    top_m: float | None = None
    counter_m: float = 0.0

    def __post_init__(self) -> None:
        said = f"stand of light {self.light}: "
        number(self.foot_radius_m, f"{said}foot_radius_m", above=0, most=MOST_APART_M, unit="m")
        number(whole(self.feet, f"{said}feet", least=3), f"{said}feet", most=12)
        number(self.counter_m, f"{said}counter_m", least=0, most=MOST_APART_M, unit="m")
        for name in ("modifier_m", "top_m"):
            if getattr(self, name) is not None:
                number(getattr(self, name), said + name, least=0, most=MOST_APART_M, unit="m")
        if (self.x_m is None) != (self.y_m is None):
            missing = "x_m" if self.x_m is None else "y_m"
            raise LightingRefused(
                f"The stand of light {self.light} has half a place.",
                "Give both x and y, or neither where it stands under its light.",
                field=said + missing,
            )
        if self.x_m is not None:
            _numbers(self, said.rstrip(": "), "x_m", "y_m")


@dataclass(frozen=True)
class Waterline:
    """Where the water's edge lies when the picture is taken: corners of a line, or one `y_m` right across the sheet.

    `level_m` is the water's height over the plan's level, `at` the time in words.
    """

    at: str
    spots: tuple[Spot, ...] = ()
    y_m: float | None = None
    level_m: float = 0.0

    def __post_init__(self) -> None:
        number(self.level_m, "waterline: level_m")
        _spots(self.spots, "waterline: spots")
        if self.y_m is not None:
            number(self.y_m, "waterline: y_m")
        if (self.y_m is None) == (len(self.spots) < 2):
            raise LightingRefused(
                "The waterline is no line.", "Give two corners or more, or one y_m, not both.", field="waterline: spots"
            )


@dataclass(frozen=True)
class DepthMark:
    """How deep the water is at a mark when the picture is taken [m]."""

    name: str
    x_m: float
    y_m: float
    depth_m: float

    def __post_init__(self) -> None:
        _named(self.name, "depth mark: name")
        _numbers(self, self.name, "x_m", "y_m")
        number(self.depth_m, f"{self.name}: depth_m", least=0, unit="m")


@dataclass(frozen=True)
class Sun:
    """Where the real sun stands: bearing from true north and altitude [°]."""

    bearing_deg: float
    altitude_deg: float

    def __post_init__(self) -> None:
        number(self.bearing_deg, "sun: bearing_deg")
        number(self.altitude_deg, "sun: altitude_deg", least=-90, most=90, unit="°")


@dataclass(frozen=True)
class Wind:
    """The wind: the bearing that it comes from, from true north [°], and its speed [m/s]."""

    from_deg: float
    speed_m_s: float | None = None

    def __post_init__(self) -> None:
        number(self.from_deg, "wind: from_deg")
        if self.speed_m_s is not None:
            number(self.speed_m_s, "wind: speed_m_s", least=0, unit="m/s")


@dataclass(frozen=True)
class Smoke:
    """Where smoke or mist is made, and how far it drifts before the exposure [m]."""

    x_m: float
    y_m: float
    drift_m: float = 0.0

    def __post_init__(self) -> None:
        _numbers(self, "smoke", "x_m", "y_m")
        number(self.drift_m, "smoke: drift_m", least=0, unit="m")


@dataclass(frozen=True)
class GroundPlan:
    """All that one drawing shows. `made_sun` is the number of the light that stands for the sun; `at` the time."""

    title: str = "Lighting plan"
    at: str = ""
    north_deg: float | None = None
    camera: CameraPoint | None = None
    figures: tuple[FigurePlace, ...] = ()
    rig: Rig | None = None
    stands: tuple[StandPlace, ...] = ()
    waterline: Waterline | None = None
    depths: tuple[DepthMark, ...] = ()
    sun: Sun | None = None
    made_sun: int | None = None
    wind: Wind | None = None
    smoke: Smoke | None = None
    exit_route: tuple[Spot, ...] = ()
    placings: tuple[Placing, ...] = field(init=False, repr=False, default=())

    def __post_init__(self) -> None:
        if self.north_deg is not None:
            number(self.north_deg, "north_deg")
        elif self.sun is not None or self.wind is not None:
            raise LightingRefused(
                f"The {'wind' if self.sun is None else 'sun'} has a bearing from north, and north is not given.",
                "Give the bearing of the plan's y axis.",
                field="north_deg",
            )
        _spots(self.exit_route, "exit_route")
        if len(self.exit_route) == 1:
            raise LightingRefused("The exit route is one point.", "Give where it ends, too.", field="exit_route")
        if not any((self.camera, self.figures, self.lights, self.points, self.waterline, self.depths, self.smoke)):
            raise LightingRefused(
                "There is nothing to draw.", "Give a camera, a figure, a light or a waterline.", field="plan"
            )
        for kind, kept in (
            ("light", self.lights),
            ("figure", self.figures),
            ("point", self.points),
            ("stand", self.stands),
            ("depth mark", self.depths),
        ):
            _few(kept, kind, f"{kind}s")
        wanted = [stand.light for stand in self.stands] + ([] if self.made_sun is None else [self.made_sun])
        for light_number in wanted:
            self.light(light_number)
        if len({stand.light for stand in self.stands}) < len(self.stands):
            raise LightingRefused("Two stands carry one light.", "Give each light one stand.", field="stands")
        _near(self)
        object.__setattr__(self, "placings", schedule(self.rig) if self.rig is not None else ())

    @property
    def lights(self) -> tuple[Light, ...]:
        """The rig's lights."""
        return () if self.rig is None else self.rig.lights

    @property
    def points(self) -> tuple[Point, ...]:
        """The rig's points."""
        return () if self.rig is None else self.rig.points

    def light(self, light_number: int) -> Light:
        """The rig's light of that number; refused where it has none."""
        if self.rig is None:
            raise LightingRefused("The plan has no rig.", "Give its lights, or leave this out.", field="rig")
        return self.rig.light(light_number)

    def placing(self, light_number: int) -> Placing:
        """Its line in the unit schedule."""
        return next(line for line in self.placings if line.light == light_number)

    def bearing(self, on_plan_deg: float) -> str:
        """A bearing of the plan as three digits, from north where north is known."""
        return three_digits(on_plan_deg + (self.north_deg or 0.0))

    def on_plan(self, from_north_deg: float) -> float:
        """A bearing from north as one of the plan."""
        return (from_north_deg - (self.north_deg or 0.0)) % 360.0


def field_of_view_deg(across_mm: float, focal_mm: float) -> float:
    """The angle that a lens set to infinity takes in across so much of the sensor [°]: 2·atan(w / 2f).

    >>> round(field_of_view_deg(36, 50), 1)
    39.6

    Raises
    ------
    LightingRefused
        where a length is not above 0.
    """
    across = number(across_mm, "camera: sensor_mm", above=0, unit="mm")
    return math.degrees(2.0 * math.atan(across / (2.0 * number(focal_mm, "camera: focal_mm", above=0, unit="mm"))))


def foot_of(plan: GroundPlan, stand: StandPlace) -> Spot:
    """Where a stand stands [m]."""
    light = plan.light(stand.light)
    return light.x_m if stand.x_m is None else stand.x_m, light.y_m if stand.y_m is None else stand.y_m


def top_m(plan: GroundPlan, stand: StandPlace) -> float:
    """Height of a stand's top [m]."""
    return plan.light(stand.light).height_m if stand.top_m is None else stand.top_m


def reach_m(plan: GroundPlan, stand: StandPlace) -> float:
    """Tip-over reach [m] from a stand's middle: its height and half its modifier, to the far end of a boom.

    The height of a boom's end is its distance from the stand's foot. A stand that goes over its feet lands further, by
    about their radius: the circle is where nothing lies in reach of a stand that falls about its middle.
    """
    light, (x, y), top = plan.light(stand.light), foot_of(plan, stand), top_m(plan, stand)
    arm = math.hypot(light.x_m - x, light.y_m - y)
    across = light.source_m if stand.modifier_m is None else stand.modifier_m
    head = math.hypot(light.height_m, arm) + across / 2.0
    return max(head, top, math.hypot(top, stand.counter_m))


def water_gap_m(plan: GroundPlan, at: Spot) -> float | None:
    """How far the waterline lies from a place [m], None without one."""
    line = plan.waterline
    if line is None:
        return None
    if line.y_m is not None:
        return abs(at[1] - line.y_m)
    return min(_to_line(at, *ends) for ends in pairwise(line.spots))


def in_water(plan: GroundPlan, at: Spot) -> bool:
    """Whether a place lies on the water's side of the waterline: where the nearest mark with water over it lies.

    False without a waterline, or without such a mark to tell the sides apart.
    """
    line, wet = plan.waterline, [(mark.x_m, mark.y_m) for mark in plan.depths if mark.depth_m > 0]
    if line is None or not wet:
        return False
    mark = min(wet, key=lambda spot: math.dist(at, spot))
    if line.y_m is not None:
        return (at[1] - line.y_m) * (mark[1] - line.y_m) > 0.0
    return not sum(crossing(at, mark, *ends) for ends in pairwise(line.spots)) % 2


def three_digits(bearing_deg: float) -> str:
    """A bearing as on a compass: 007°, 312°."""
    return f"{round(bearing_deg) % 360:03d}°"


# -- refusing --------


def _numbers(thing: object, said: str, *names: str) -> None:
    for name in names:
        number(getattr(thing, name), f"{said}: {name}")


def _named(name: str, where: str) -> None:
    if not name.strip():
        raise LightingRefused("Something on the plan has no name.", "Name what is there.", field=where)


def _few(kept: Sequence[object], kind: str, where: str) -> None:
    if len(kept) > MOST[kind]:
        raise LightingRefused(
            f"The plan has {len(kept)} {kind}s; one sheet shows {MOST[kind]}.",
            "Draw the scene in parts, a plan for each.",
            field=where,
        )


def _spots(spots: Sequence[Spot], where: str) -> None:
    _few(spots, "corner", where)
    for spot in spots:
        if len(spot) != 2:
            raise LightingRefused(f"A corner has {len(spot)} numbers.", "Give x and y.", field=where)
        for value in spot:
            number(value, where)


def _near(plan: GroundPlan) -> None:
    """Refuse what lies so far apart that no sheet shows it, a bearing typed into a place, or feet for metres."""
    spots = list(placed(plan))
    _, *axes = zip(*spots, strict=True)
    if math.hypot(*(max(axis) - min(axis) for axis in axes)) <= MOST_APART_M:
        return
    for n, (name, *spot) in enumerate(spots):
        for other_name, *other in spots[:n]:
            if (apart := math.dist(spot, other)) > MOST_APART_M:
                raise LightingRefused(
                    f"{words(other_name, NAME)} and {words(name, NAME)} are {apart:.0f} m apart; a plan shows "
                    f"{MOST_APART_M:g} m.",
                    "Give places in metres on the plan, and leave out what is further off.",
                    field=words(name, NAME),
                )


def placed(plan: GroundPlan) -> Iterable[tuple[str, float, float, float]]:
    """Everything with a place, as (name, x, y, height) [m]."""
    if plan.camera is not None:
        yield "camera", plan.camera.x_m, plan.camera.y_m, plan.camera.height_m
    for one in plan.figures:
        yield one.name, one.x_m, one.y_m, 0.0
        yield one.name, one.x_m, one.y_m, one.height_m
    if plan.rig is not None:
        for point in plan.rig.points:
            yield point.name, point.x_m, point.y_m, point.height_m
        for light in plan.rig.lights:
            yield f"light {light.number}", light.x_m, light.y_m, light.height_m
    for stand in plan.stands:
        yield f"stand of light {stand.light}", *foot_of(plan, stand), top_m(plan, stand)
    if plan.waterline is not None:
        level = plan.waterline.level_m
        for x, y in plan.waterline.spots:
            yield "waterline", x, y, level
        if plan.waterline.y_m is not None:
            xs = [one.x_m for one in (plan.camera, *plan.figures, *plan.lights, *plan.depths) if one is not None]
            yield "waterline", xs[0] if xs else 0.0, plan.waterline.y_m, level
    for mark in plan.depths:
        yield mark.name, mark.x_m, mark.y_m, (plan.waterline.level_m if plan.waterline else 0.0) - mark.depth_m
    if plan.smoke is not None:
        yield "smoke", plan.smoke.x_m, plan.smoke.y_m, 0.0
        if plan.wind is not None:
            turn = math.radians(plan.on_plan(plan.wind.from_deg + 180.0))
            far = plan.smoke.drift_m
            yield "smoke", plan.smoke.x_m + far * math.sin(turn), plan.smoke.y_m + far * math.cos(turn), 0.0
    for x, y in plan.exit_route:
        yield "exit", x, y, 0.0


def _to_line(at: Spot, start: Spot, end: Spot) -> float:
    dx, dy = end[0] - start[0], end[1] - start[1]
    square = dx * dx + dy * dy
    along = 0.0 if not square else ((at[0] - start[0]) * dx + (at[1] - start[1]) * dy) / square
    along = min(1.0, max(0.0, along))
    return math.dist(at, (start[0] + along * dx, start[1] + along * dy))
