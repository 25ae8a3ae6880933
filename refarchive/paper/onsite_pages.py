"""Pages on place and light: the exact place, sun and moon, who gave leave; the lighting plan and what it needs.

What was worked out comes as the documents that the archive answers, so that the numbers on paper are those.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from refarchive.paper import blocks
from refarchive.paper.blocks import Block, FactValue, Page, Section
from refarchive.paper.cautions import CAUTIONS, DEFERRAL
from refarchive.paper.citing import Citations
from refarchive.records import onsite
from refarchive.records.model import Evidence, Scene

NO_VALUE = "–"
SUPPORTING = ("shows", "describes")
DRAWN_TO_SCALE = "From above and from the side, to scale; measure by the bar. The same stands in words further on."
Answer = Mapping[str, Any]


# --- the place, sun and moon ----------------------------------------------------------------------------------------


def site_section(scene: Scene, cite: Citations, found: Answer, strip: str | None = None) -> Section:
    """The section on a scene's place; `found` is what `onsite.site` answers, with `windows` as `onsite.windows` does;
    `strip` is the name of the picture of its windows.
    """
    site = scene.site or onsite.Site()
    pages = [_place(candidate, cite) for candidate in _in_order(site.candidates)]
    pages += _side_by_side(site, found["places"])
    pages += _between(found["places"])
    if found["day"]:
        pages.append(_day(found["day"]))
        pages += _tide(found["day"])
    if found.get("windows"):
        pages += _windows(found["windows"], strip)
    if found["then"]:
        pages.append(_then(found["then"]))
    pages += _access(site)
    pages.append(_cautions("tide", "water", notices=found["notices"]))
    return blocks.section("site", "Site, sun and tide", pages, start="sheet")


def _in_order(candidates: Sequence[onsite.Candidate]) -> list[onsite.Candidate]:
    return sorted(candidates, key=lambda one: not one.chosen)


def _place(place: onsite.Candidate, cite: Citations) -> Page:
    rows: list[tuple[str, FactValue]] = [
        ("Where", f"{coordinates(place.latitude, place.longitude)}, within {place.radius_m:g} m"),
        ("Why", place.reason or "No reason is written yet."),
        ("For it", [_piece(e, cite) for e in place.evidence if e.relation in SUPPORTING] or ["nothing yet"]),
        ("Against it", [_piece(e, cite) for e in place.evidence if e.relation not in SUPPORTING]),
        ("Changed since", list(place.changed)),
        ("Access", place.access),
        ("Leave", place.permission),
    ]
    standing = "chosen" if place.chosen else "turned down" if place.reason else "not decided"
    return blocks.page(f"{place.name} ({standing})", [blocks.facts(rows)])


def _piece(evidence: Evidence, cite: Citations) -> str:
    reference = cite.references.get(evidence.reference)
    witness = f" ({reference.witness.value})" if reference else ""
    fit = ", ".join(f"{aspect} {word}" for aspect, word in evidence.fit)
    told = "; ".join(part for part in (evidence.note, fit) if part)
    return f"{cite.number_of(evidence)}{witness} {evidence.relation} it{f': {told}' if told else ''}"


def _side_by_side(site: onsite.Site, places: Answer) -> list[Page]:
    """The candidates as columns, a line for each thing they are compared by."""
    told = places["candidates"]
    if len(told) < 2:
        return []
    known = {one.name: one for one in site.candidates}
    lines: list[tuple[str, list[str]]] = [
        ("Standing", [one["standing"] for one in told]),
        ("Doubt about the point", [f"{one['radius_m']:g} m" for one in told]),
        ("Independent witnesses for it", [", ".join([str(one["witnesses"] or "none"), *one["kinds"]]) for one in told]),
        ("Against it", [str(one["against"] or "none") for one in told]),
        ("Changed since", ["; ".join(known[one["name"]].changed) for one in told]),
        ("Access", [known[one["name"]].access for one in told]),
    ]  # fmt: skip
    table = blocks.table(("", *(one["name"] for one in told)), [(label, *values) for label, values in lines])
    return [blocks.page("The candidates side by side", [table])]


def _between(places: Answer) -> list[Page]:
    """Distances and bearings from each candidate to the landmarks and the other candidates."""
    if not places["distances"]:
        return []
    rows = [
        (one["from"], one["to"], f"{one['metres']:,.0f} m", f"{one['bearing_deg']:.0f}° ({one['compass']})")
        for one in places["distances"]
    ]
    table = blocks.table(("From", "To", "Distance", "Bearing"), rows, numeric=(2,))
    return [blocks.page("Distances and bearings", [table, blocks.text(places["how"], "small")])]


def coordinates(latitude: float, longitude: float) -> str:
    """A point in words: 54.06000° N, 3.64000° W."""
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    return f"{abs(latitude):.5f}° {north}, {abs(longitude):.5f}° {east}"


def _day(day: Answer) -> Page:
    rows: list[tuple[str, FactValue]] = [(event["kind"].capitalize(), event["local"]) for event in day["sun"]["events"]]
    rows += [(f"{name.capitalize()} light", [one["words"] for one in day["sun"][name]]) for name in ("golden", "blue")]
    if "shot" in day:
        rows.append(("The picture", day["shot"]["words"]))
    rows += [("Missing", list(day["sun"]["missing"].values())), ("Moon", day["moon"]["words"])]
    small = (
        "Sunrise and sunset at −50′, twilights at −6°, −12° and −18° (US Naval Observatory); golden and blue light "
        "from −4° to 6° and from −6° to −4°: common practice, no source. Bearings from true north."
    )
    heading = f"{day['date']}, clock of {day['clock']}"
    return blocks.page(heading, [blocks.facts(rows), blocks.text(" ".join([small, *day["cautions"]]), "small")])


def _tide(day: Answer) -> list[Page]:
    tide = day["tide"]
    if not tide:
        return []
    if not tide["waters"]:
        return [blocks.page("Tide", [blocks.text(tide["words"])])]
    rows = [(one["kind"].capitalize(), one["local"], f"{one['height_m']:.2f} m") for one in tide["waters"]]
    parts = [blocks.table(("Water", f"Clock of {day['clock']}", "Height"), rows, numeric=(2,))]
    if tide["marks"]:
        marks = [(one["mark"], f"{one['bed_m']:g} m", one["words"]) for one in tide["marks"]]
        parts.append(blocks.table(("Mark", "Bed above the datum", "When the picture is planned"), marks))
    source = f"Source: {tide['source'].rstrip('.')}." if tide["source"] else ""
    told = " ".join(part for part in (tide["method"], source, tide["notice"]) if part)
    title = f"Tide at {tide['station']}" if tide["station"] else "Tide"
    return [blocks.page(title, [*parts, blocks.text(told, "small")])]


def _then(then: Answer) -> Page:
    rows: list[tuple[str, FactValue]] = [("The day", then["day"])]
    if then["reckoned"]:
        rows += [("The time", then["reckoned"]["words"]), ("The sun", then["reckoned"]["sun"])]
    small = "By local mean time; standard zones were not kept then. An hour of doubt is 15° of the sun's way."
    return blocks.page(f"The moment told of, {then['date']}", [blocks.facts(rows), blocks.text(small, "small")])


def _windows(found: Answer, strip: str | None) -> list[Page]:
    rows = [
        (one["date"], one["from"], one["until"], f"{one['minutes']:.0f}", one["words"])
        for one in (found["windows"][n] for n in found["best"])
    ]
    parts: list[Block] = [
        blocks.facts(
            [
                ("Must hold", list(found["must_hold"])),
                ("Carrying", f"{found['carrying']['in_min']:.0f} min in, {found['carrying']['out_min']:.0f} min out, "
                 f"{found['carrying']['how']}"),
                ("Smoke", found["smoke"]),
            ]
        )
    ]  # fmt: skip
    columns = ("Date", "From", "Until", "Minutes", "What bounds it")
    if rows:
        parts.append(blocks.table(columns, rows, numeric=(3,)))
    else:
        parts.append(blocks.text("On none of the days all of it holds at once."))
    alone: dict[str, list[str]] = {}
    for one in found["shut"]:
        alone.setdefault(", or ".join(one["by"]) or "more than one thing", []).append(one["date"][5:])
    if alone:
        facts = [(f"Shut by {why}", ", ".join(dates)) for why, dates in alone.items()]
        parts.append(blocks.facts(facts))
    title = f"When all of it holds, {found['opens']} to {found['closes']}"
    pages = [blocks.page(title, [*parts, blocks.text(" ".join(found["notices"]), "small")], start="sheet")]
    if strip:
        caption = f"Black: all holds. Grey lines from the top: {', '.join(found['names'])}."
        pages.append(blocks.page("", [blocks.plate(strip, "Days", caption, found["in_words"], size="large")]))
    return pages


def call_sheet(scene: Scene, found: Answer, windows: Answer) -> Section | None:
    """One page for the day planned: when who is called, what sun and water do, who is wet, whom to ring, who may stop
    the work. None where no window lies on the day of the shoot.
    """
    day = found["day"]
    here = [one for one in windows["windows"] if day and one["date"] == day["date"]]
    if not day or not here:
        return None
    site, one = scene.site or onsite.Site(), here[0]
    rows: list[tuple[str, FactValue]] = [
        ("Scene", f"{scene.title}. {scene.event}"),
        ("Where", f"{day['place']['name']}, {coordinates(day['place']['latitude'], day['place']['longitude'])}"),
        ("Window", f"{one['from']} to {one['until']}, clock of {day['clock']}"),
        ("Sun", " ".join(x for x in (day["sun"]["words"], day.get("shot", {}).get("words", "")) if x)),
        ("Tide", day["tide"]["words"] if day["tide"] else ""),
        ("Marks", "; ".join(f"{mark['mark']} {mark['words']}" for mark in day["tide"]["marks"]) if day["tide"] else ""),
        ("Weather", "to be entered on the day before: wind, rain, air and water temperature"),
        ("Vehicles", site.vehicle_drop),
        ("Emergency access", site.emergency_access),
        ("Signal", site.signal),
        ("Hospital", site.hospital),
        ("Contacts", "; ".join(site.contacts)),
    ]  # fmt: skip
    calls = [(call["local"], call["what"]) for call in one["calls"]]
    cast = [(figure.name, figure.performer or "not cast", figure.wet) for figure in scene.figures]
    arranged = dict(scene.safety)
    stop = arranged.pop("who may stop the work", "to be said before the first take")
    parts = [
        blocks.facts(rows),
        blocks.table(("At", "Who or what"), calls),
        blocks.table(("Figure", "Performer", "How wet; dry clothes and warmth ready"), cast),
        blocks.facts([(topic.capitalize(), _first_sentence(words)) for topic, words in arranged.items()]),
        blocks.caution("Who may stop the work", stop),
        blocks.text(f"{DEFERRAL} {windows['notices'][0]}", "small"),
    ]
    page = blocks.page(f"{day['date']}", parts, start="sheet")
    return blocks.section("call-sheet", "Call sheet", [page], start="sheet")


def _first_sentence(words: str) -> str:
    """What fits a line of the call sheet; the whole stands on the dossier's page of cautions."""
    return re.split(r"(?<=[.;])\s", words.strip(), maxsplit=1)[0].rstrip(";")


def _access(site: onsite.Site) -> list[Page]:
    pages = []
    if site.permissions:
        rows = [
            (p.holder, p.what, p.state, " to ".join(x for x in (p.opens, p.closes) if x), p.reference, p.conditions)
            for p in site.permissions
        ]
        columns = ("Holder", "For what", "State", "From and until", "Reference", "Conditions")
        pages.append(blocks.page("Leave to work", [blocks.table(columns, rows)]))
    facts: list[tuple[str, FactValue]] = [
        ("Vehicles", site.vehicle_drop),
        ("Emergency access", site.emergency_access),
        ("Signal", site.signal),
        ("Hospital", site.hospital),
        ("Contacts", list(site.contacts)),
    ]
    if any(value for _, value in facts):
        pages.append(blocks.page("Access and help", [blocks.facts(facts)]))
    return pages


def _cautions(*topics: str, notices: Sequence[str] = (), also: Sequence[str] = ()) -> Page:
    said = [blocks.caution(title, words) for topic, title, words in CAUTIONS if topic in topics]
    more = [blocks.text(words) for words in also]
    return blocks.page("Cautions", [*said, *more, blocks.text(" ".join([DEFERRAL, *notices]), "small")])


# --- light ----------------------------------------------------------------------------------------------------------


def light_section(scene: Scene, found: Answer, picture: str | None = None, words: Sequence[str] = ()) -> Section:
    """The section on a scene's lights; `found` is what `onsite.rig` answers, `picture` the name of the plan drawn to
    scale, `words` the same in sentences.
    """
    rig = scene.rig or onsite.Rig(f_number=8, iso=100, shutter_s=1, sync_s=1)
    pages = []
    if picture:
        plate = blocks.plate(picture, "Plan", DRAWN_TO_SCALE, " ".join(words), size="large")
        pages.append(blocks.page("", [plate], start="sheet"))
    pages += [_camera(rig, found), _schedule(rig, found), _points(found), *_power(found), *_rigging(found)]
    if words:
        pages.append(blocks.page("The plan in words", [blocks.listing(words)]))
    pages.append(_cautions("power", "height", also=found["cautions"]))
    return blocks.section("light-plan", "Lighting plan", pages, start="sheet")


def _camera(rig: onsite.Rig, found: Answer) -> Page:
    bearing = "" if rig.lens_bearing_deg is None else f", lens bearing {rig.lens_bearing_deg:.0f}° from true north"
    ambient = "" if rig.ambient_ev100 is None else f"EV {rig.ambient_ev100:g} at ISO 100, incident. {rig.ambient_at}"
    rows: list[tuple[str, FactValue]] = [
        ("Exposure", f"{found['camera']['words']}; flash up to 1/{1 / rig.sync_s:.0f} s"),
        ("Lens", f"{rig.focal_mm:g} mm on {' × '.join(f'{x:g}' for x in rig.sensor_mm)} mm, "
         f"{rig.camera_height_m:g} m high{bearing}"),
        ("Ambient light", ambient or "not read yet"),
        ("Contrast", [found["contrast"]["words"], *(one["sentence"] for one in found["contrast"]["changes"])]),
    ]  # fmt: skip
    return blocks.page("Camera and contrast", [blocks.facts(rows)])


def _schedule(rig: onsite.Rig, found: Answer) -> Page:
    lights = {light.number: light for light in rig.lights}
    rows, notes = [], []
    for unit in found["units"]:
        light = lights[unit["light"]]
        over = NO_VALUE if unit["over_key_stops"] is None else f"{unit['over_key_stops']:+.1f}".replace("-", "−")
        measured = f"f/{light.reading.f_number:g} at {light.reading.at or light.aimed_at}" if light.reading else ""
        seen = unit["seen_at_deg"]
        rows.append(
            (
                unit["light"],
                ", ".join(x for x in (unit["unit"], light.modifier, light.gel) if x),
                unit["purpose"],
                unit["aimed_at"],
                NO_VALUE if seen is None else f"{seen:.0f}°",
                f"{unit['height_m']:g} m",
                f"{unit['distance_m']:.1f} m",
                f"{unit['tilt_deg']:.0f}°".replace("-", "−"),
                unit["power"],
                over,
                f"f/{unit['expected_f_number']:.1f}",
                measured,
            )
        )
        told = [f"stands for {light.stands_for}" if light.stands_for else "", _held(light, found)]
        told.append(f"attended by {light.attendant}" if light.attendant else "nobody attends it yet")
        notes.append((f"Light {unit['light']}", "; ".join(part for part in told if part)))
    columns = (
        "No.", "Unit", "For", "Aimed at", "Stands at", "High", "Away", "Tilt", "Power", "Stops to key", "Expected",
        "Measured",
    )  # fmt: skip
    small = (
        "Where a light stands is told as seen from what it is aimed at, 0° being straight on from the camera's view, "
        "clockwise from above. Expected readings are incident, towards the light, at the camera's ISO; a measured one "
        "overrides."
    )
    return blocks.page("Unit schedule", [blocks.table(columns, rows), blocks.facts(notes), blocks.text(small, "small")])


def _held(light: onsite.Light, found: Answer) -> str:
    boom = next((one for one in found["booms"] if one["light"] == light.number), None)
    if boom is None:
        return "on a stand"
    return f"on a boom, {boom['ballast_kg']:.1f} kg of ballast on the counter arm"


def _points(found: Answer) -> Page:
    def stops(value: float | None) -> str:
        return "none" if value is None else f"{value:+.1f}".replace("-", "−")

    numbers = [unit["light"] for unit in found["units"]]
    rows = [
        (
            one["point"],
            *(stops(next(light["stops"] for light in one["lights"] if light["light"] == n)) for n in numbers),
            stops(one["stops"]),
            NO_VALUE if one["lit_to_shadow_stops"] is None else f"{one['lit_to_shadow_stops']:.1f}",
        )
        for one in found["points"]
    ]
    columns = ("Point", *(f"Light {n}" for n in numbers), "Sum", "Lit to shadow")
    small = (
        "In stops against the camera's setting, added as light and not as stops, ambient light counted in the sum. Lit "
        "to shadow is log2 of (key + fill) : fill, fill being the fill lights and the ambient light."
    )
    table = blocks.table(columns, rows, numeric=tuple(range(1, len(columns))))
    return blocks.page("Light at each point", [table, blocks.text(small, "small")])


def _power(found: Answer) -> list[Page]:
    if not found["power"]:
        return []
    rows = [
        (
            plan["light"],
            f"{plan['energy_ws']:g} Ws",
            plan["flashes_each"],
            plan["needed"],
            plan["spares"],
            f"{plan['recycling_s']:.1f} s",
        )
        for plan in found["power"]["plans"]
    ]
    columns = ("Light", "A flash", "Flashes a battery", "Batteries", "Spare", "Recycles in")
    words = f"{found['power']['sentence']} {found['power']['words']}"
    table = blocks.table(columns, rows, numeric=(0, 1, 2, 3, 4, 5))
    return [blocks.page("Power list", [table, blocks.text(words, "small")])]


def _rigging(found: Answer) -> list[Page]:
    rows: list[tuple[str, FactValue]] = []
    for one in found["booms"]:
        rows.append((f"Boom of light {one['light']}", one["sentence"]))
    for one in found["wind"]:
        rows.append((f"Stand of light {one['light']}", one["sentence"]))
    if found["load_in"]:
        rows.append(("The walk in", found["load_in"]["sentence"]))
    return [blocks.page("Booms, stands, wind and the walk in", [blocks.facts(rows)])] if rows else []
