"""A rig of several lights on a plan, and the light that each named point has of it.

The plan is in metres: x to the right, y away from the foot of the sheet, height above the plan's own level. Bearings
are degrees clockwise from the plan's y. Light adds; stops and f-numbers are worked out at the end only.

What is taken for granted, and replaced by a reading wherever one was made:

* A light falls off as a uniform disc of its diameter does, N² = GN² / (d² + R²), which is the inverse square for a
  point. A guide number is of ISO 100, full power, in metres; what the modifier eats is stated in stops.
* A reading, by a meter turned to the light, stands in place of guide number and modifier loss. It is carried to other
  points, powers and ISOs.
* The beam is the full angle. Its edge is either "sharp", all of the light inside and none outside, or "cosine", half
  of the light at the beam's edge and none at twice the angle, (1 + cos(π·θ/beam))/2 at θ off the axis. Half the peak is
  how beam angles are commonly stated (from memory); real grids and reflectors differ, so meter.
* A point that faces somewhere has the cosine of the slant (Lambert) and nothing from behind. Without a facing it is
  read as if turned to each light in turn.
* Ambient light and fill reach the shadow side as they reach the lit side. Nothing stands in the way of a light.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from refarchive.errors import LightingRefused
from refarchive.lighting import exposure, falloff
from refarchive.lighting.checks import number, whole
from refarchive.lighting.loadin import Item

Purpose = Literal["key", "fill", "hair", "background", "effect"]
Edge = Literal["sharp", "cosine"]
Vector = tuple[float, float, float]

PURPOSES: tuple[Purpose, ...] = ("key", "fill", "hair", "background", "effect")
LEAST_POWER = 1 / 128  # common practice, no source; many heads stop earlier
MOST_EV = 30.0  # either way; no scene is lit by more or less
STRAIGHT = 1e-9  # m, within which a light stands straight above its aim


@dataclass(frozen=True)
class Point:
    """A named place on the plan: a face, a garment, a wall.

    `facing_deg` is the bearing of its normal, `facing_up_deg` how far that points up (−90 to 90); None faces each light
    in turn. `ambient_ev100` is the ambient light metered there, where it differs from the rig's.
    """

    name: str
    x_m: float
    y_m: float
    height_m: float
    facing_deg: float | None = None
    facing_up_deg: float = 0.0
    ambient_ev100: float | None = None

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise LightingRefused("A point has no name.", "Name what is there.", field="name")
        for field in ("x_m", "y_m", "height_m"):
            number(getattr(self, field), f"{self.name}: {field}")
        if self.facing_deg is not None:
            number(self.facing_deg, f"{self.name}: facing_deg")
            number(self.facing_up_deg, f"{self.name}: facing_up_deg", least=-90, most=90, unit="°")
        if self.ambient_ev100 is not None:
            number(self.ambient_ev100, f"{self.name}: ambient_ev100", least=-MOST_EV, most=MOST_EV)

    @property
    def normal(self) -> Vector | None:
        """The direction that it faces, of length 1."""
        if self.facing_deg is None:
            return None
        round_, up = math.radians(self.facing_deg), math.radians(self.facing_up_deg)
        return math.sin(round_) * math.cos(up), math.cos(round_) * math.cos(up), math.sin(up)


@dataclass(frozen=True)
class Reading:
    """What a flash meter showed of one light alone, turned to it, at a named point and at a fraction of full power."""

    f_number: float
    iso: float
    at: str
    power: float


@dataclass(frozen=True)
class Light:
    """One light: where it stands, what it is aimed at, and how much it gives.

    Lengths in metres, `beam_deg` the full angle (None throws all round), `source_m` the diameter of what shines,
    `power` and `least_power` fractions of full power, `modifier_loss_stops` what softbox, grid or gel take away.
    """

    number: int
    unit: str
    purpose: Purpose
    x_m: float
    y_m: float
    height_m: float
    aimed_at: str
    power: float = 1.0
    guide_number_m: float | None = None
    reading: Reading | None = None
    modifier_loss_stops: float = 0.0
    source_m: float = 0.0
    beam_deg: float | None = None
    edge: Edge = "cosine"
    least_power: float = LEAST_POWER
    kit: tuple[Item, ...] = ()

    def __post_init__(self) -> None:
        whole(self.number, "light number", least=1)
        said = f"light {self.number}: "
        if self.purpose not in PURPOSES:
            raise LightingRefused(
                f"Light {self.number} is for {self.purpose!r}.",
                f"Say one of: {', '.join(PURPOSES)}.",
                field=f"{said}purpose",
            )
        if self.edge not in ("sharp", "cosine"):
            raise LightingRefused(
                f"The beam of light {self.number} has no edge {self.edge!r}.",
                "Say sharp or cosine.",
                field=f"{said}edge",
            )
        for field in ("x_m", "y_m", "height_m"):
            number(getattr(self, field), said + field)
        number(self.least_power, f"{said}least_power", above=0, most=1)
        number(self.power, f"{said}power", least=self.least_power * (1 - 1e-9), most=1)
        number(self.modifier_loss_stops, f"{said}modifier_loss_stops", least=0, unit="stops")
        number(self.source_m, f"{said}source_m", least=0, unit="m")
        if self.beam_deg is not None:
            number(self.beam_deg, f"{said}beam_deg", above=0, most=360, unit="°")
        if self.reading is not None:
            number(self.reading.f_number, f"{said}reading f_number", above=0)
            number(self.reading.iso, f"{said}reading iso", above=0)
            number(self.reading.power, f"{said}reading power", above=0, most=1)
        elif self.guide_number_m is None:
            raise LightingRefused(
                f"Nothing tells how much light {self.number} gives.",
                "Give its guide number, or a reading of it.",
                field=f"{said}guide_number_m",
            )
        if self.guide_number_m is not None:
            number(self.guide_number_m, f"{said}guide_number_m", above=0, unit="m")


@dataclass(frozen=True)
class Camera:
    """What the picture is exposed with; `sync_s` is the shortest time that the flash can be used at [s]."""

    f_number: float
    iso: float
    shutter_s: float
    sync_s: float

    def __post_init__(self) -> None:
        number(self.f_number, "f_number", above=0)
        number(self.iso, "iso", above=0)
        exposure.check_sync(self.shutter_s, self.sync_s)


@dataclass(frozen=True)
class Rig:
    """Lights, points, camera, and the ambient light as an incident EV at ISO 100 (None for darkness)."""

    lights: tuple[Light, ...]
    points: tuple[Point, ...]
    camera: Camera
    ambient_ev100: float | None = None

    def __post_init__(self) -> None:
        if self.ambient_ev100 is not None:
            number(self.ambient_ev100, "ambient_ev100", least=-MOST_EV, most=MOST_EV)
        for kept, what in (
            ([light.number for light in self.lights], "light"),
            ([point.name for point in self.points], "point"),
        ):
            twice = [one for one, times in Counter(kept).items() if times > 1]
            if twice:
                raise LightingRefused(f"Two {what}s are called {twice[0]}.", "Call one otherwise.", field=what)
        for light in self.lights:
            aim = self.point(light.aimed_at, f"light {light.number}: aimed_at")
            _gap(light, aim)
            if light.reading is not None:
                read_at = self.point(light.reading.at, f"light {light.number}: reading at")
                if not _beam_share(light, aim, read_at):
                    raise LightingRefused(
                        f"The reading of light {light.number} was made at {read_at.name}, outside its beam.",
                        "Give a reading from inside the beam, or the beam's true angle.",
                        field=f"light {light.number}: reading at",
                    )

    def point(self, name: str, field: str = "point") -> Point:
        """The point of that name.

        Raises
        ------
        LightingRefused
            naming `field`, where the plan has none.
        """
        for point in self.points:
            if point.name == name:
                return point
        known = ", ".join(point.name for point in self.points) or "none yet"
        raise LightingRefused(f"The plan has no point {name!r}.", f"Name one of: {known}.", field=field)

    def light(self, light_number: int) -> Light:
        """The light of that number.

        Raises
        ------
        LightingRefused
            where the rig has none.
        """
        for light in self.lights:
            if light.number == light_number:
                return light
        raise LightingRefused(f"The rig has no light {light_number}.", "Give a light's number.", field="light")


@dataclass(frozen=True)
class LightAtPoint:
    """What one light does at one point.

    `amount` is its light over what the camera's aperture and ISO need (1 is the meter's exposure); `f_number` what a
    meter at the camera's ISO shows of it. `slant_deg` is the angle to the point's normal, None where it has none.
    """

    light: int
    point: str
    distance_m: float
    off_axis_deg: float
    slant_deg: float | None
    amount: float
    f_number: float
    near: bool
    measured: bool
    sentence: str

    @property
    def stops(self) -> float | None:
        """Stops against the camera's setting; None where no light arrives."""
        return _stops(self.amount)


@dataclass(frozen=True)
class PointReading:
    """All light at one point. Amounts are over what the camera's setting needs.

    `key` is all lights with that purpose; `fill` is what lights the shadow side, the fill lights and the ambient.
    Hair, background and effect lights count in `total` only. `ratio` is None where there is no key or no fill.
    """

    point: str
    lights: tuple[LightAtPoint, ...]
    ambient: float
    key: float
    fill: float
    total: float
    f_number: float
    ratio: exposure.LightingRatio | None
    sentence: str

    @property
    def stops(self) -> float | None:
        """All light in stops against the camera's setting; None in darkness."""
        return _stops(self.total)

    @property
    def lit_to_shadow_stops(self) -> float | None:
        """Stops from shadow to lit side, log2 of (key + fill) : fill."""
        return None if self.ratio is None else self.ratio.lit_to_shadow_stops


# -- what each point has --------


def light_at(rig: Rig, light: Light, point: Point) -> LightAtPoint:
    """What one light of a rig does at one point of it.

    Raises
    ------
    LightingRefused
        where the light stands inside the point.
    """
    aim = rig.point(light.aimed_at)
    gap = _gap(light, point)
    slant = None if point.normal is None else _angle(point.normal, _from(point, light))
    share = _beam_share(light, aim, point)
    if slant is not None:
        share *= max(0.0, math.cos(math.radians(slant))) if slant < 90.0 else 0.0
    camera = rig.camera
    squared = _strength(rig, light) * light.power * share / _spread(light, gap)  # f-number squared at ISO 100
    at_iso = squared * camera.iso / 100.0
    near = falloff.is_near(gap, light.source_m)
    amount = at_iso / camera.f_number**2
    if amount:
        said = f"Light {light.number} at {point.name}: {exposure.f_number_words(math.sqrt(at_iso))}, "
        said += f"{exposure.signed(math.log2(amount))} stops, from {gap:.2f} m."
    elif slant is not None and slant >= 90.0:
        said = f"Light {light.number} stands behind {point.name} and gives it nothing."
    else:
        said = f"{point.name} lies outside the beam of light {light.number}."
    if near:
        said += f" That is under {falloff.NEAR_TIMES:g} times the source ({light.source_m:g} m): taken as a disc."
    return LightAtPoint(
        light.number,
        point.name,
        gap,
        _off_axis(light, aim, point),
        slant,
        amount,
        math.sqrt(at_iso),
        near,
        light.reading is not None,
        said,
    )


def reading_at(rig: Rig, name: str) -> PointReading:
    """All light at a named point: each light, ambient, their sum, and the ratio of key to fill.

    Raises
    ------
    LightingRefused
        where the plan has no such point, or a light stands inside it.
    """
    point = rig.point(name)
    each = tuple(light_at(rig, light, point) for light in rig.lights)
    ev100 = rig.ambient_ev100 if point.ambient_ev100 is None else point.ambient_ev100
    camera = rig.camera
    ambient = 0.0
    if ev100 is not None:
        ambient = exposure.amount_of_stops(
            exposure.ev_at_iso(ev100, camera.iso) - exposure.exposure_value(camera.f_number, camera.shutter_s)
        )
    of = {light.number: light.purpose for light in rig.lights}
    key = sum(one.amount for one in each if of[one.light] == "key")
    fill = ambient + sum(one.amount for one in each if of[one.light] == "fill")
    total = ambient + sum(one.amount for one in each)
    f_number = camera.f_number * math.sqrt(total)
    ratio = exposure.LightingRatio(math.log2(key / fill)) if key and fill else None
    if not total:
        said = f"No light reaches {name}."
    else:
        said = f"{name}: {exposure.f_number_words(f_number)}, {exposure.signed(math.log2(total))} stops against the "
        said += f"camera's {exposure.f_number_words(camera.f_number)}."
        if ratio is not None:
            said += f" {ratio.words}; F is the fill lights and the ambient light."
        elif key:
            said += " Nothing lights its shadow side, so it has no ratio."
        else:
            said += " No key reaches it, so it has no ratio."
    return PointReading(name, each, ambient, key, fill, total, f_number, ratio, said)


def readings(rig: Rig) -> tuple[PointReading, ...]:
    """All light at every point of the plan, in the plan's order."""
    return tuple(reading_at(rig, point.name) for point in rig.points)


# -- where each light stands --------


@dataclass(frozen=True)
class Placing:
    """A light's line in the unit schedule, towards the point that it is aimed at.

    `bearing_deg` is the way it throws, `seen_at_deg` where it stands as seen from its aim, both None straight overhead;
    `tilt_deg` is negative downwards. `expected_f_number` is at the aim, at the camera's ISO, the meter turned to the
    light; `over_key_stops` is that against the first key's at its own aim, None without a key.
    """

    light: int
    unit: str
    purpose: Purpose
    aimed_at: str
    height_m: float
    distance_m: float
    bearing_deg: float | None
    seen_at_deg: float | None
    tilt_deg: float
    apparent_size_deg: float
    near: bool
    power: str
    expected_f_number: float
    over_key_stops: float | None
    reading: Reading | None


def schedule(rig: Rig) -> tuple[Placing, ...]:
    """Every light of the rig as its line in the unit schedule, in the rig's order."""
    expected = {}
    for light in rig.lights:
        aim = replace(rig.point(light.aimed_at), facing_deg=None)
        expected[light.number] = light_at(rig, light, aim).f_number
    keys = [light.number for light in rig.lights if light.purpose == "key"]
    lines = []
    for light in rig.lights:
        aim = rig.point(light.aimed_at)
        gap = _gap(light, aim)
        x, y, up = _from(light, aim)
        level = math.hypot(x, y)
        bearing = None if level < STRAIGHT else math.degrees(math.atan2(x, y)) % 360.0
        lines.append(
            Placing(
                light.number,
                light.unit,
                light.purpose,
                light.aimed_at,
                light.height_m,
                gap,
                bearing,
                None if bearing is None else (bearing + 180.0) % 360.0,
                math.degrees(math.atan2(up, level)),
                falloff.apparent_size_deg(light.source_m, gap),
                falloff.is_near(gap, light.source_m),
                exposure.power_words(light.power),
                expected[light.number],
                2.0 * math.log2(expected[light.number] / expected[keys[0]]) if keys else None,
                light.reading,
            )
        )
    return tuple(lines)


def with_power(rig: Rig, light_number: int, power: float) -> Rig:
    """The rig with one light at another fraction of full power.

    Raises
    ------
    LightingRefused
        where the rig has no such light, or the light cannot be set to that.
    """
    light = rig.light(light_number)
    return replace(rig, lights=tuple(replace(light, power=power) if one is light else one for one in rig.lights))


def kit_list(rig: Rig, also: Iterable[Item] = ()) -> tuple[Item, ...]:
    """All that the lights bring along, and what else is carried, equal things counted together."""
    counted: Counter[Item] = Counter()
    for item in (*(item for light in rig.lights for item in light.kit), *also):
        counted[replace(item, count=1)] += item.count
    return tuple(replace(item, count=count) for item, count in counted.items())


# -- geometry --------


def _stops(amount: float) -> float | None:
    return math.log2(amount) if amount else None


def _from(start: Light | Point, end: Light | Point) -> Vector:
    return end.x_m - start.x_m, end.y_m - start.y_m, end.height_m - start.height_m


def _gap(light: Light, point: Point) -> float:
    gap = math.hypot(*_from(light, point))
    if gap <= light.source_m / 2.0 or gap < STRAIGHT:
        raise LightingRefused(
            f"Light {light.number} stands inside {point.name}: {gap:.2f} m off, its source {light.source_m:g} m wide.",
            "Move the light or the point further than half the width of the source.",
            field=f"light {light.number}: position",
        )
    return gap


def _angle(one: Vector, other: Vector) -> float:
    across = math.hypot(
        one[1] * other[2] - one[2] * other[1],
        one[2] * other[0] - one[0] * other[2],
        one[0] * other[1] - one[1] * other[0],
    )
    return math.degrees(math.atan2(across, sum(a * b for a, b in zip(one, other, strict=True))))


def _off_axis(light: Light, aim: Point, point: Point) -> float:
    return _angle(_from(light, aim), _from(light, point))


def _beam_share(light: Light, aim: Point, point: Point) -> float:
    """Light on a point over that on the beam's axis, 0–1."""
    if light.beam_deg is None:
        return 1.0
    off = _off_axis(light, aim, point)
    if light.edge == "sharp":
        return float(off <= light.beam_deg / 2.0)
    return 0.5 * (1.0 + math.cos(math.pi * off / light.beam_deg)) if off < light.beam_deg else 0.0


def _spread(light: Light, gap: float) -> float:
    return gap**2 + (light.source_m / 2.0) ** 2


def _strength(rig: Rig, light: Light) -> float:
    """Guide number squared at ISO 100 and full power, the modifier on, in the beam's axis."""
    read = light.reading
    if read is None:
        return float((light.guide_number_m or 0.0) ** 2 * 2.0**-light.modifier_loss_stops)
    aim, point = rig.point(light.aimed_at), rig.point(read.at)
    at_100 = read.f_number**2 * 100.0 / read.iso
    return at_100 * _spread(light, _gap(light, point)) / (read.power * _beam_share(light, aim, point))
