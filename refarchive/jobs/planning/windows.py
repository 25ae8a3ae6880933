"""The windows of a scene: what its plan says must hold, over its dates, and the day worked backwards from each."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from refarchive.errors import SiteRefused, UnknownRecord
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning import lit, sited
from refarchive.paper.strips import in_words
from refarchive.records import onsite
from refarchive.records.model import Scene
from refarchive.site import sun, tide, window
from refarchive.site.instants import DAY_S, Array, LocalDay, Span

CARRY_LIGHT_DEG = -6.0  # the sun's altitude from which there is light to carry by: civil twilight
BEST = 3


def site_document(kit: Kit, scene: Scene, on: str | None) -> dict[str, Any]:
    """What `sited.site_document` answers, with `windows`: None where the plan sets none.

    Raises UnknownRecord, SiteRefused.
    """
    planned = scene.site is not None and scene.site.window is not None
    return {**sited.site_document(kit, scene, on), "windows": document(kit, scene) if planned else None}


def document(kit: Kit, scene: Scene) -> dict[str, Any]:
    """Every window of a scene over its dates, as JSON, the best ones with their calls; told through `kit.progress`.

    Raises UnknownRecord where the plan sets no window or no place, SiteRefused for what cannot be worked with.
    """
    _, plan = _planned(scene)
    days, constraints, on_the_way, names = prepared(scene)
    load_in, pack_out, how = _carrying(scene, plan)
    light = window.Limit("light to carry by", _sun(scene)[0], CARRY_LIGHT_DEG, 90.0, "°")
    carrying: list[window.Constraint] = [light] if plan.carry_in_daylight else []
    carrying += [
        one for one in constraints if isinstance(one, window.Open)
    ]  # the crew's hours and leave hold for it too
    carrying += on_the_way
    crew = window.Crew(load_in, pack_out, tuple(carrying), plan.least_min)
    spans = [Span(day.start, day.end) for day in days]
    found = window.windows(
        spans, constraints, crew, told=lambda done, of: kit.tell(done, of, "looking through the days")
    )
    best = found.best(BEST)
    made = {
        "scene": scene.slug,
        "opens": plan.opens,
        "closes": plan.closes,
        "clock": days[0].zone or days[0].clock,
        "must_hold": names,
        "names": [one.name for one in constraints],
        "carrying": {"in_min": load_in, "out_min": pack_out, "how": how},
        "windows": [_window(one, days, scene, plan, load_in, pack_out) for one in found.windows],
        "best": [found.windows.index(one) for one in best],
        "days": [
            {
                "date": _date(day),
                "holds": [
                    {"what": name, "hours": [_hours(span, day) for span in spans]}
                    for name, spans in window.strips(Span(day.start, day.end), constraints)
                ],
            }
            for day in days
        ],
        "shut": [{"date": _date(days[n]), "by": list(names_)} for n, names_ in found.shut],
        "smoke": _smoke(plan),
        "notices": [found.notice],
    }
    return {**made, "in_words": in_words(made)}


def prepared(
    scene: Scene,
) -> tuple[list[LocalDay], list[window.Constraint], list[window.Constraint], list[str]]:
    """The days to look at, what must hold, what must hold while things are carried, and both in words.

    Raises UnknownRecord, SiteRefused.
    """
    site, plan = _planned(scene)
    days = _days(scene, plan)
    start, end = days[0].start - DAY_S, days[-1].end + DAY_S
    return days, *constraints_of(scene, site, plan, days, start, end)


def constraints_of(
    scene: Scene, site: onsite.Site, plan: onsite.Window, days: list[LocalDay], start: float, end: float
) -> tuple[list[window.Constraint], list[window.Constraint], list[str]]:
    """What must hold, what must hold while things are carried, and both in words.

    Raises SiteRefused, UnknownRecord for a mark there is none of.
    """
    altitude, bearing = _sun(scene)
    found: list[window.Constraint] = []
    on_the_way: list[window.Constraint] = []
    words: list[str] = []
    low, high = plan.sun_least_deg, plan.sun_most_deg
    if low is not None or high is not None:
        least, most = (-90.0 if low is None else low), (90.0 if high is None else high)
        found.append(window.Limit("the sun's height", altitude, least, most, "°"))
        words.append(f"the sun between {least:g}° and {most:g}° high".replace("-", "−"))
    if plan.bearing_from_deg is not None and plan.bearing_to_deg is not None:
        one, other = plan.bearing_from_deg, plan.bearing_to_deg
        found.append(window.bearing_limit("the sun's bearing", bearing, one, other))
        words.append(f"its bearing from {one:g}° to {other:g}°")
    water = sited.tide_of(scene, start, end) if plan.depths else None
    marks = {mark.name: mark for mark in site.marks}
    for depth in plan.depths:
        if depth.mark not in marks:
            raise UnknownRecord(
                f"The window names the mark {depth.mark!r}, and there is none.", "Add it as [[site.mark]] with bed_m."
            )
        if water is None:
            continue
        (on_the_way if depth.carrying else found).append(_depth(water, marks[depth.mark], depth))
        while_ = " while things are carried" if depth.carrying else ""
        words.append(f"{depth.least_m:g} to {depth.most_m:g} m of water at {depth.mark}{while_}".replace("-", "−"))
    if plan.crew_from or plan.crew_until:
        first, last = plan.crew_from or "00:00", plan.crew_until or "24:00"
        hours = tuple(Span(_shown(scene, day, first), _shown(scene, day, last)) for day in days)
        found.append(window.Open("the crew's hours", hours))
        words.append(f"the crew at work from {first} to {last}")
    for leave in site.permissions:
        if leave.opens and leave.closes:
            span = Span(sited.instant_of(scene, leave.opens), sited.instant_of(scene, leave.closes))
            found.append(window.Open(f"leave of {leave.holder}", (span,)))
            words.append(f"leave of {leave.holder} ({leave.state}), {leave.opens} to {leave.closes}")
    return found, on_the_way, words


def _shown(scene: Scene, day: LocalDay, clock: str) -> float:
    """The instant at which the clock of the place shows a time on a day; summer time may begin or end before it."""
    return day.end if clock == "24:00" else sited.instant_of(scene, f"{_date(day)} {clock}")


def _depth(water: tide.Tide, mark: onsite.Mark, depth: onsite.Depth) -> window.Limit:
    return window.Limit(
        f"depth at {mark.name}", lambda at: tide.depth_m(water, at, mark.bed_m), depth.least_m, depth.most_m, "m"
    )


def _planned(scene: Scene) -> tuple[onsite.Site, onsite.Window]:
    if scene.site is None or scene.site.window is None:
        raise UnknownRecord(
            f"The scene {scene.slug!r} has no window yet.", "Add [site.window] with opens, closes and what must hold."
        )
    return scene.site, scene.site.window


def _days(scene: Scene, plan: onsite.Window) -> list[LocalDay]:
    try:
        first, last = date.fromisoformat(plan.opens), date.fromisoformat(plan.closes)
    except ValueError:
        raise SiteRefused(
            f"window: {plan.opens!r} to {plan.closes!r} are no dates.", "Write both as 2027-10-04.", field="window"
        ) from None
    if last < first:
        raise SiteRefused("window: it closes before it opens.", "Give the earlier date first.", field="closes")
    if (last - first).days >= window.MOST_DAYS:
        raise SiteRefused(
            f"window: that is more than {window.MOST_DAYS} days.", "Ask for fewer at a time.", field="closes"
        )
    return [sited.day_of(scene, (first + timedelta(n)).isoformat()) for n in range((last - first).days + 1)]


def _sun(scene: Scene) -> tuple[Any, Any]:
    """The sun's altitude and bearing over time; what was asked last is kept, since both are asked of the same."""
    latitude, longitude, _ = sited.point_of(scene)
    kept: dict[bytes, sun.Position[Array]] = {}

    def position(at: Array) -> sun.Position[Array]:
        key = np.asarray(at).tobytes()
        if key not in kept:
            kept.clear()
            kept[key] = sun.position(latitude, longitude, at)
        return kept[key]

    return lambda at: position(at).geometric_altitude_deg, lambda at: position(at).azimuth_deg


def _carrying(scene: Scene, plan: onsite.Window) -> tuple[float, float, str]:
    """Minutes in and out, as the plan says or as the kit and the way give them; and which."""
    told_in, told_out = plan.load_in_min, plan.pack_out_min
    if told_in is not None and told_out is not None:
        return told_in, told_out, "as the plan says"
    load = None if scene.rig is None else lit.of_scene(scene).load_in
    if load is None:
        return told_in or 0.0, told_out or 0.0, "as far as the plan says; the rig has no kit, carriers and way"
    minutes_in = float(load.minutes_in) if told_in is None else told_in
    minutes_out = float(load.minutes_out) if told_out is None else told_out
    return minutes_in, minutes_out, f"from the kit: {load.sentence}"


def _window(
    one: window.Window, days: list[LocalDay], scene: Scene, plan: onsite.Window, load_in: float, pack_out: float
) -> dict[str, Any]:
    day = next(day for day in days if day.start <= one.span.earliest < day.end)
    calls = window.call_times(one.span, [(call.who, call.before_min) for call in plan.calls], load_in, pack_out)
    return {
        "date": _date(day),
        "from": day.time(one.span.earliest),
        "until": _clock(one.span.latest, days, day),
        "hours": _hours(one.span, day),
        "earliest": one.span.earliest,
        "latest": one.span.latest,
        "minutes": one.span.minutes,
        "begun_by": list(one.begun_by),
        "ended_by": list(one.ended_by),
        "slack": [{"what": name, "room": room, "unit": unit} for name, room, unit in one.slack],
        "words": one.sentence,
        "calls": [{"what": call.what, "local": _clock(call.at, days, day)} for call in calls],
    }


def _hours(span: Span, day: LocalDay) -> list[float]:
    """A stretch as hours after the day's midnight."""
    return [round((span.earliest - day.start) / 3600, 2), round((span.latest - day.start) / 3600, 2)]


def _clock(at: float, days: list[LocalDay], day: LocalDay) -> str:
    """The clock's time, with the date where it is another day's."""
    if day.start <= at <= day.end:
        return day.time(at)
    other = next((one for one in days if one.start <= at < one.end), None)
    if other is not None:
        return f"{_date(other)} {other.time(at)}"
    return ("the day before " if at < day.start else "the day after ") + day.time(at)


def _date(day: LocalDay) -> str:
    return "-".join(f"{part:02d}" for part in day.date)


def _smoke(plan: onsite.Window) -> str:
    if plan.smoke_wind_most_m_s is None:
        return ""
    return (
        f"Smoke only below {plan.smoke_wind_most_m_s:g} m/s of wind, measured on the day; wind is not predicted here."
    )
