"""Sun and moon of a scene's place: on the day of the shoot, and at the moment that is told of."""

from __future__ import annotations

from typing import Any

from refarchive.errors import EphemerisUnavailable, SiteRefused, UnknownRecord
from refarchive.jobs.kit import Kit
from refarchive.records import onsite
from refarchive.records.calendars import calendar_date
from refarchive.records.model import Scene
from refarchive.scenes.coverage import rests_on
from refarchive.site import clocks, distances, moon, sun, tide
from refarchive.site.instants import LocalDay, Span, seconds_of_day, written
from refarchive.site.pasted import read_constituents

NOT_TIDAL = "Not tidal."
NOTICE = f"{tide.NOTICE} Those who know the place decide on the day."


def point_of(scene: Scene) -> tuple[float, float, str]:
    """Latitude and longitude of the place chosen, or of the scene, and its name. Raises UnknownRecord for neither."""
    for place in scene.site.candidates if scene.site else ():
        if place.chosen:
            return place.latitude, place.longitude, place.name
    if scene.latitude is None or scene.longitude is None:
        raise UnknownRecord(
            f"The scene {scene.slug!r} has no place with coordinates.",
            "Add latitude and longitude to [scene], or a [[site.candidate]] with chosen = true.",
        )
    return scene.latitude, scene.longitude, scene.place


def day_of(scene: Scene, on: str) -> LocalDay:
    """A day at the place: of its zone, or of local mean time where the plan names none. Raises SiteRefused."""
    _, longitude, _ = point_of(scene)
    zone = scene.site.zone if scene.site else ""
    return clocks.zone_day(on, zone) if zone else clocks.mean_day(on, longitude)


def sun_of(scene: Scene, local: LocalDay) -> sun.Day:
    """The sun's day at the place, with its skyline where the plan has one."""
    latitude, longitude, _ = point_of(scene)
    return sun.day(latitude, longitude, local, skyline=_skyline(scene))


def site_document(kit: Kit, scene: Scene, on: str | None) -> dict[str, Any]:
    """The day and the moment told of, as JSON; what the plan does not say, among `notices`."""
    notices: list[str] = []
    planned = scene.site.shoot.partition(" ")[0] if scene.site else ""
    day = day_document(scene, on or planned) if on or planned else None
    if day is None:
        notices.append("No day is named, and the plan sets none: name one, or add shoot to [site].")
    try:
        then = moment_document(scene)
    except UnknownRecord as missing:
        then = None
        notices.append(f"{missing.problem} {missing.next_step}")
    if then is not None and then["reckoned"] is None:
        notices.append("The plan does not say at what time it happened: add event_clock and event_time to [site].")
    return {
        "scene": scene.slug,
        "places": places_document(kit, scene),
        "day": day,
        "then": then,
        "notices": [*notices, NOTICE],
    }


def day_document(scene: Scene, on: str) -> dict[str, Any]:
    """Sun and moon on one day, as JSON: instants in universal time and on the place's clock."""
    latitude, longitude, name = point_of(scene)
    local = day_of(scene, on)
    seen = sun_of(scene, local)
    date = "-".join(f"{part:02d}" for part in local.date)
    document: dict[str, Any] = {
        "date": date,
        "clock": local.zone or local.clock,
        "place": {"name": name, "latitude": latitude, "longitude": longitude},
        "sun": {
            "words": seen.sentence,
            "events": [{"kind": event.kind, **_at(event.at, local)} for event in seen.events],
            "missing": seen.missing,
            "golden": [_stretch(span, local) for span in seen.golden],
            "blue": [_stretch(span, local) for span in seen.blue],
            "above_skyline": None if seen.clear is None else [_stretch(span, local) for span in seen.clear],
            "highest_deg": seen.highest_deg,
        },
        "moon": _moon(latitude, longitude, local),
        "tide": _tide(scene, local),
        "cautions": [*seen.cautions],
    }
    if scene.site and scene.site.shoot.startswith(date):
        document["shot"] = _shot(scene, scene.site, local)
    return document


def shot(scene: Scene) -> dict[str, Any] | None:
    """Where the sun stands at the moment planned for the picture, as JSON; None where none is planned.

    Raises UnknownRecord without a place, SiteRefused.
    """
    if scene.site is None or not scene.site.shoot:
        return None
    return _shot(scene, scene.site, day_of(scene, scene.site.shoot.partition(" ")[0]))


def _shot(scene: Scene, site: onsite.Site, local: LocalDay) -> dict[str, Any]:
    latitude, longitude, _ = point_of(scene)
    on, _, at = site.shoot.partition(" ")
    shown = clocks.local_instant(on, at, local.zone).timestamp() if local.zone else None
    instant = local.start + seconds_of_day(at) if shown is None else shown
    position = sun.position(latitude, longitude, instant, site.height_m)
    return {
        **_at(instant, local),
        "azimuth_deg": position.azimuth_deg,
        "altitude_deg": position.apparent_altitude_deg,
        "behind_skyline": sun.behind_skyline(position, site.skyline) if site.skyline else None,
        "words": f"At {local.time(instant)} the sun stands at bearing {position.azimuth_deg:.0f}°, "
        f"{position.apparent_altitude_deg:.1f}° high.".replace("-", "−"),
    }


def moment_document(scene: Scene) -> dict[str, Any]:
    """The sun at the moment that the scene tells of, as JSON; the doubt of the clock shown as a range.

    Raises UnknownRecord where the plan does not say when, SiteRefused for what cannot be reckoned.
    """
    when, site = scene.when, scene.site
    if when is None or when.earliest is None or when.earliest != when.latest:
        raise UnknownRecord(
            f"The scene {scene.slug!r} is not dated to one day.", "Give its date as a day to know where the sun stood."
        )
    latitude, longitude, name = point_of(scene)
    date = calendar_date(when.earliest)
    local = clocks.mean_day(date, longitude)
    seen = sun.day(latitude, longitude, local)
    document: dict[str, Any] = {
        "date": "-".join(f"{part:02d}" for part in date),
        "clock": "local mean time",
        "place": {"name": name, "latitude": latitude, "longitude": longitude},
        "day": seen.sentence,
        "events": [{"kind": event.kind, **_at(event.at, local)} for event in seen.events],
        "reckoned": None,
    }
    if site is not None and site.event_time and site.event_clock:
        found = clocks.historical(
            date, site.event_time, site.event_clock,  # type: ignore[arg-type]
            longitude=longitude, offset_hours=0.0 if site.event_clock == "zone" else None,
            doubt_min=site.event_doubt_min,
        )  # fmt: skip
        stood = sun.position_over(latitude, longitude, found.span)
        document["reckoned"] = {
            "earliest": written(found.earliest),
            "latest": written(found.latest),
            "clock": found.clock,
            "words": found.sentence,
            "azimuth_from_deg": stood.azimuth_from_deg,
            "azimuth_to_deg": (stood.azimuth_from_deg + stood.azimuth_arc_deg) % 360,
            "altitude_least_deg": stood.least_altitude_deg,
            "altitude_most_deg": stood.most_altitude_deg,
            "sun": stood.sentence,
        }
    return document


def places_document(kit: Kit, scene: Scene) -> dict[str, Any]:
    """The candidates for the place with their independent witnesses for and against, and distances and bearings from
    each to the landmarks and to the others, as JSON; the chosen one first.
    """
    site = scene.site or onsite.Site()
    cited = list(dict.fromkeys(e.reference for place in site.candidates for e in place.evidence))
    references, families = {r.id: r for r in kit.store.references(cited)}, kit.store.families.all()
    candidates = []
    for place in sorted(site.candidates, key=lambda one: not one.chosen):
        for_it, against = rests_on(place.evidence, scene, references, families)
        candidates.append(
            {
                "name": place.name,
                "standing": "chosen" if place.chosen else "turned down" if place.reason else "not decided",
                "reason": place.reason,
                "latitude": place.latitude,
                "longitude": place.longitude,
                "radius_m": place.radius_m,
                "witnesses": len(for_it),
                "kinds": sorted({kind for one in for_it for kind in one.kinds}),
                "against": len(against),
            }
        )
    goals = [(one.name, (one.latitude, one.longitude)) for one in site.landmarks]
    goals += [(one.name, (one.latitude, one.longitude)) for one in site.candidates]
    found = []
    for place in sorted(site.candidates, key=lambda one: not one.chosen):
        for name, goal in goals:
            if name != place.name:
                metres, bearing = distances.between((place.latitude, place.longitude), goal)
                found.append(
                    {
                        "from": place.name,
                        "to": name,
                        "metres": metres,
                        "bearing_deg": bearing,
                        "compass": distances.compass(bearing),
                    }
                )
    return {"candidates": candidates, "distances": found, "how": distances.HOW}


# --- tide -----------------------------------------------------------------------------------------------------------


def tide_of(scene: Scene, start: float, end: float) -> tide.Tide | None:
    """The tide at the place, to be asked between two instants; None where it is not tidal, or the plan says nothing.

    Raises SiteRefused for what cannot be predicted from.
    """
    said = scene.site.tide if scene.site else None
    if said is None or said.kind == "not tidal":
        return None
    found: tide.Tide
    if said.kind == "constituents":
        if said.mean_level_m is None:
            raise SiteRefused(
                "tide, mean_level_m: is missing.", "Give the mean level above the datum.", field="mean_level_m"
            )
        kept = tuple(tide.Constituent(c.name, c.amplitude_m, c.phase_deg) for c in said.constituents)
        kept += read_constituents(said.pasted) if said.pasted else ()
        found = tide.Harmonic(kept, said.mean_level_m, said.datum, said.phases_utc_offset_h)
    else:
        found = tide.Printed(tuple((instant_of(scene, e.at), e.height_m) for e in said.entries), said.datum)
        start, end = found.entries[0][0], found.entries[-1][0]  # it is known over its own days alone, and all of them
    if said.difference is None:
        return found
    d = said.difference
    return tide.secondary(found, start, end, high_min=d.high_min, low_min=d.low_min, high_m=d.high_m, low_m=d.low_m)


def instant_of(scene: Scene, shown: str) -> float:
    """The instant at which the clock of the place shows a day and a time."""
    on, _, at = shown.partition(" ")
    zone = scene.site.zone if scene.site else ""
    if zone:
        return clocks.local_instant(on, at, zone).timestamp()
    return day_of(scene, on).start + seconds_of_day(at)


def _tide(scene: Scene, local: LocalDay) -> dict[str, Any] | None:
    """High and low waters of a day, the depth at each mark when the picture is planned; None where nothing is said."""
    said = scene.site.tide if scene.site else None
    if scene.site is None or said is None:
        return None
    found = tide_of(scene, local.start, local.end)
    if found is None:
        return {"words": NOT_TIDAL, "waters": [], "marks": [], "method": "", "notice": ""}
    waters = tide.highs_and_lows(found, local.start, local.end)
    words = ", ".join(f"{kind} {local.time(at)} {height:.2f} m" for at, height, kind in waters)
    marks = []
    if scene.site.shoot.startswith("-".join(f"{part:02d}" for part in local.date)):
        at = instant_of(scene, scene.site.shoot)
        for mark in scene.site.marks:
            depth = float(tide.depth_m(found, at, mark.bed_m))
            told = f"{depth:.2f} m deep" if depth >= 0 else f"dry by {-depth:.2f} m"
            marks.append({"mark": mark.name, "bed_m": mark.bed_m, "depth_m": depth, "words": told})
    return {
        "words": f"{words.capitalize()}, above {said.datum}." if words else "No high or low water on this day.",
        "station": said.station,
        "waters": [{"kind": kind, "height_m": height, **_at(when, local)} for when, height, kind in waters],
        "marks": marks,
        "method": found.method,
        "source": said.source,
        "notice": tide.NOTICE,
    }


def _skyline(scene: Scene) -> Any:
    return scene.site.skyline if scene.site and scene.site.skyline else None


def _moon(latitude: float, longitude: float, local: LocalDay) -> dict[str, Any]:
    """The moon's day; where the ephemeris does not reach, that, in words."""
    try:
        seen = moon.day(latitude, longitude, local)
    except (SiteRefused, EphemerisUnavailable) as error:
        return {"words": f"{error.problem} {error.next_step}".strip()}
    return {
        "words": seen.sentence,
        "rises": [_at(at, local) for at in seen.rises],
        "sets": [_at(at, local) for at in seen.sets],
        "phase": seen.phase.name,
        "illuminated": seen.phase.illuminated,
    }


def _at(instant: float, local: LocalDay) -> dict[str, str]:
    return {"utc": written(instant), "local": local.time(instant)}


def _stretch(span: Span, local: LocalDay) -> dict[str, str]:
    return {"from": local.time(span.earliest), "until": local.time(span.latest), "words": local.times(span)}
