"""What a plan holds of place, tide, window and light, as the person writes it; nothing here is worked out.

Fields carry their limits and choices, so that a plan is read, written and stored by what stands here alone. Times are
clock times of the site's zone ("2026-10-14 06:40"), heights are metres above the tide's datum, places in a rig metres
to the right of the camera (x) and away from it (y).
"""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from refarchive.records.model import Evidence

TIDES = ("not tidal", "constituents", "printed table")
CLOCKS = ("sundial", "local mean time", "zone", "unknown clock")
PURPOSES = ("key", "fill", "hair", "background", "effect")
WAYS = ("foot", "wading", "boat")
STATES = ("to be asked", "asked", "given", "refused")


def within(low: float, high: float, default: Any = MISSING) -> Any:
    """A field for a number within limits."""
    return field(default=default, metadata={"low": low, "high": high})


def one_of(choices: tuple[str, ...], default: Any = MISSING) -> Any:
    """A field for one of several words."""
    return field(default=default, metadata={"choices": choices})


# --- the place ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Candidate:
    """A place where it may have happened, with its evidence; `radius_m` is the doubt about the point."""

    name: str
    latitude: float = within(-90, 90)
    longitude: float = within(-180, 180)
    radius_m: float = within(0, 100_000)
    changed: tuple[str, ...] = ()  # what is otherwise there now: bank, bridge, shoreline, tidal reach
    access: str = ""
    permission: str = ""
    chosen: bool = False
    reason: str = ""  # why it was chosen, or turned down
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True)
class Landmark:
    """A named thing that distances and bearings are told to."""

    name: str
    latitude: float = within(-90, 90)
    longitude: float = within(-180, 180)


@dataclass(frozen=True)
class Mark:
    """A point in or beside the water; `bed_m` is the height of its ground above the tide's datum."""

    name: str
    bed_m: float = within(-100, 100)


@dataclass(frozen=True)
class Permission:
    """Leave to work: whose, for what, and from when until when (clock times of the zone)."""

    holder: str
    what: str = ""
    state: str = one_of(STATES, "to be asked")
    opens: str = ""
    closes: str = ""
    reference: str = ""
    contact: str = ""
    conditions: str = ""


# --- tide -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Constituent:
    """One harmonic constituent: its name, its amplitude, and its phase lag g."""

    name: str
    amplitude_m: float = within(0, 20)
    phase_deg: float = within(-360, 720)


@dataclass(frozen=True)
class Entry:
    """One high or low water of a printed table, by the clock of the zone."""

    at: str
    height_m: float = within(-20, 30)


@dataclass(frozen=True)
class Difference:
    """What a secondary port differs by from its standard port: minutes and metres at high and at low water."""

    high_min: float = within(-720, 720, 0.0)
    low_min: float = within(-720, 720, 0.0)
    high_m: float = within(-20, 20, 0.0)
    low_m: float = within(-20, 20, 0.0)


@dataclass(frozen=True)
class Tide:
    """Where heights of water come from; `phases_utc_offset_h` is the clock that the phases are given for."""

    kind: str = one_of(TIDES)
    station: str = ""
    datum: str = ""
    mean_level_m: float | None = within(-20, 30, None)
    phases_utc_offset_h: float = within(-14, 14, 0.0)
    source: str = ""
    constituents: tuple[Constituent, ...] = ()
    pasted: str = ""  # a table of constituents as it was copied, instead of or beside them
    entries: tuple[Entry, ...] = ()
    difference: Difference | None = None


# --- window and day -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Depth:
    """Between which depths a mark can be worked at, or with `carrying` be passed with a load."""

    mark: str
    most_m: float = within(-100, 100)
    least_m: float = within(-100, 100, 0.0)
    carrying: bool = False


@dataclass(frozen=True)
class Call:
    """Who is called so many minutes before the window begins."""

    who: str
    before_min: float = within(0, 2_880)


@dataclass(frozen=True)
class Window:
    """What must hold for the work, over which dates."""

    opens: str
    closes: str
    sun_least_deg: float | None = within(-90, 90, None)
    sun_most_deg: float | None = within(-90, 90, None)
    bearing_from_deg: float | None = within(0, 360, None)
    bearing_to_deg: float | None = within(0, 360, None)
    depths: tuple[Depth, ...] = ()
    crew_from: str = ""
    crew_until: str = ""
    load_in_min: float | None = within(0, 1_440, None)  # None: as worked out from the kit
    pack_out_min: float | None = within(0, 1_440, None)
    carry_in_daylight: bool = True
    least_min: float = within(0, 1_440, 20.0)
    smoke_wind_most_m_s: float | None = within(0, 60, None)
    calls: tuple[Call, ...] = ()


@dataclass(frozen=True)
class Site:
    """Where and when the picture is made, and what is known of the moment that it tells of."""

    zone: str = ""  # of the tz database: "Europe/London"
    height_m: float = within(-500, 9_000, 0.0)
    shoot: str = ""  # the moment of the picture, planned
    event_clock: str = one_of(("", *CLOCKS), "")
    event_time: str = ""
    event_doubt_min: float | None = within(0, 1_440, None)
    skyline: tuple[tuple[float, float], ...] = ()  # bearing, altitude in degrees
    vehicle_drop: str = ""
    emergency_access: str = ""
    signal: str = ""
    hospital: str = ""
    contacts: tuple[str, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    landmarks: tuple[Landmark, ...] = ()
    marks: tuple[Mark, ...] = ()
    permissions: tuple[Permission, ...] = ()
    tide: Tide | None = None
    window: Window | None = None


# --- the rig --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Point:
    """A named point of the plan: a face, a hem, a wall."""

    name: str
    x_m: float = within(-500, 500)
    y_m: float = within(-500, 500)
    height_m: float = within(-20, 100, 1.5)
    facing_deg: float | None = within(-360, 360, None)
    facing_up_deg: float = within(-90, 90, 0.0)
    ambient_ev100: float | None = within(-10, 20, None)
    depth_m: float | None = within(-5, 20, None)


@dataclass(frozen=True)
class Standing:
    """Where a figure stands, or with `deep_m` a thing such as a cart, turned clockwise by `turned_deg`."""

    name: str
    x_m: float = within(-500, 500)
    y_m: float = within(-500, 500)
    height_m: float = within(0.01, 100, 1.7)
    wide_m: float = within(0.01, 100, 0.5)
    deep_m: float | None = within(0.01, 100, None)
    turned_deg: float = within(-360, 360, 0.0)


@dataclass(frozen=True)
class Reading:
    """What a flash meter showed of one light."""

    f_number: float = within(0.5, 256)
    iso: float = within(1, 409_600)
    at: str = ""
    power: float = within(0, 1, 1.0)


@dataclass(frozen=True)
class Item:
    """One thing to be carried."""

    name: str
    kg: float = within(0, 500)
    count: int = within(1, 1_000, 1)
    hands: int = within(1, 20, 1)


@dataclass(frozen=True)
class Boom:
    """A boom: what hangs on which arm, about its pivot; `packs_kg` hang on the counter arm anyway.

    `x_m`, `y_m` and `top_m` are where its stand is, and how high the pivot.
    """

    load_kg: float = within(0, 100)
    load_arm_m: float = within(0, 20)
    counter_arm_m: float = within(0, 20)
    boom_kg: float = within(0, 100, 0.0)
    packs_kg: float = within(0, 200, 0.0)
    x_m: float | None = within(-500, 500, None)
    y_m: float | None = within(-500, 500, None)
    top_m: float | None = within(0, 20, None)


@dataclass(frozen=True)
class Stand:
    """A stand in the wind: what is blown upon, how high, and what holds it."""

    area_m2: float = within(0, 50)
    height_m: float = within(0, 20)
    foot_radius_m: float = within(0, 10)
    weight_kg: float = within(0, 500)  # stand, head, modifier and what hangs on it
    feet: int = within(3, 8, 3)


@dataclass(frozen=True)
class Light:
    """One light of the rig."""

    number: int = within(1, 200)
    unit: str = ""
    purpose: str = one_of(PURPOSES, "key")
    stands_for: str = ""  # the source in the story
    x_m: float = within(-500, 500, 0.0)
    y_m: float = within(-500, 500, 0.0)
    height_m: float = within(-20, 100, 2.0)
    aimed_at: str = ""
    power: float = within(0, 1, 1.0)
    guide_number_m: float | None = within(0, 1_000, None)
    reading: Reading | None = None
    loss_stops: float = within(0, 12, 0.0)
    modifier: str = ""
    gel: str = ""
    source_m: float = within(0, 20, 0.0)
    beam_deg: float | None = within(0, 360, None)
    edge: str = one_of(("cosine", "sharp"), "cosine")
    least_power: float = within(0, 1, 1 / 128)
    attendant: str = ""
    full_ws: float | None = within(0, 100_000, None)
    flashes: int = within(0, 100_000, 0)
    recycle_full_s: float = within(0, 600, 0.0)
    battery_wh: float | None = within(0, 10_000, None)
    boom: Boom | None = None
    stand: Stand | None = None
    kit: tuple[Item, ...] = ()


@dataclass(frozen=True)
class Stretch:
    """A part of the way in."""

    name: str
    length_m: float = within(0, 50_000)
    how: str = one_of(WAYS, "foot")
    laden_m_s: float | None = within(0, 10, None)
    empty_m_s: float | None = within(0, 10, None)


@dataclass(frozen=True)
class Carriers:
    """How many carry, and what each may carry at a time."""

    count: int = within(1, 200)
    kg_each: float = within(0, 200)


@dataclass(frozen=True)
class Smoke:
    """Where smoke is made, and how it is to drift (a bearing)."""

    x_m: float = within(-500, 500)
    y_m: float = within(-500, 500)
    drift_deg: float | None = within(0, 360, None)


@dataclass(frozen=True)
class Rig:
    """The lights of a scene and the camera they are for, drawn to one plan."""

    f_number: float = within(0.5, 256)
    iso: float = within(1, 409_600)
    shutter_s: float = within(0, 3_600)
    sync_s: float = within(0, 1)
    focal_mm: float = within(1, 2_000, 50.0)
    sensor_mm: tuple[float, ...] = (36.0, 24.0)
    camera_height_m: float = within(-20, 100, 1.5)
    lens_bearing_deg: float | None = within(0, 360, None)
    ambient_ev100: float | None = within(-10, 20, None)
    ambient_at: str = ""  # when it was read
    contrast_at: str = ""  # the point whose contrast the intent speaks of
    celsius: float | None = within(-60, 60, None)
    waterline_y_m: float | None = within(-500, 500, None)
    exit: tuple[tuple[float, float], ...] = ()  # points of the way out, x and y
    smoke: Smoke | None = None
    made_sun: int | None = within(1, 200, None)  # the light that stands for the sun
    figures: tuple[Standing, ...] = ()
    wind_from_deg: float | None = within(0, 360, None)
    points: tuple[Point, ...] = ()
    lights: tuple[Light, ...] = ()
    kit: tuple[Item, ...] = ()  # further things to be carried
    carriers: tuple[Carriers, ...] = ()
    way: tuple[Stretch, ...] = ()


# --- stored ---------------------------------------------------------------------------------------------------------

T = TypeVar("T")


def plain_type(hint: Any) -> Any:
    """A type without its None."""
    if get_origin(hint) in (Union, types.UnionType):
        return next(part for part in get_args(hint) if part is not type(None))
    return hint


def restored(kind: type[T], stored: Mapping[str, Any] | None) -> T | None:
    """A record from the JSON of `dataclasses.asdict`; what an earlier version did not know stands at its default."""
    if stored is None:
        return None
    hints = get_type_hints(kind)
    names = [one.name for one in fields(kind) if one.name in stored]  # type: ignore[arg-type]
    return kind(**{name: _restored(plain_type(hints[name]), stored[name]) for name in names})


def _restored(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if is_dataclass(kind):
        return restored(kind, value)  # type: ignore[arg-type]
    if get_origin(kind) is tuple:
        part = plain_type(get_args(kind)[0])
        return tuple(_restored(part, one) for one in value)
    return value
