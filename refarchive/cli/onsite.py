"""Commands on place and light: sun and moon there, and what the strobes do."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from refarchive.cli.answering import answer, cli, folder_argument, json_option, opened_archive


@cli.command()
@folder_argument
@click.argument("scene")
@json_option
def rig(archive: Path, scene: str, as_json: bool) -> None:
    """Work out a scene's lights: stops, batteries, weights."""
    with opened_archive(archive) as opened:
        document = opened.onsite.rig(scene)
    answer(as_json, document, lambda: _rig_lines(document))


def _rig_lines(document: dict[str, Any]) -> Iterator[str]:
    yield f"Camera  {document['camera']['words']}"
    for point in document["points"]:
        yield point["words"]
        yield from (f"   {light['sentence']}" for light in point["lights"])
    yield document["contrast"]["words"]
    yield from (f"   {change['sentence']}" for change in document["contrast"]["changes"])
    if document["power"]:
        yield document["power"]["sentence"]
        yield from (f"   {plan['sentence']}" for plan in document["power"]["plans"])
        yield f"   {document['power']['words']}"
    for what, name in (("booms", "Boom"), ("wind", "Stand")):
        yield from (f"{name} of light {one['light']}: {one['sentence']}" for one in document[what])
    if document["load_in"]:
        yield document["load_in"]["sentence"]
    yield from document["cautions"]


@cli.command()
@folder_argument
@click.argument("scene")
@click.option("--on", "on", metavar="DATE", help="A day of the shoot: 2027-10-11.")
@json_option
def site(archive: Path, scene: str, on: str | None, as_json: bool) -> None:
    """Say where the sun stands: on a day, and then."""
    with opened_archive(archive) as opened:
        document = opened.onsite.site(scene, on, progress=True)
    answer(as_json, document, lambda: _site_lines(document))


def _site_lines(document: dict[str, Any]) -> Iterator[str]:
    for one in document["places"]["candidates"]:
        told = f"{one['witnesses']} for it, {one['against']} against it"
        yield f"{one['name']}: {one['standing']}; {told}. {one['reason']}"
    for one in document["places"]["distances"]:
        yield f"{one['from']} to {one['to']}: {one['metres']:,.0f} m, {one['bearing_deg']:.0f}° ({one['compass']})"
    if day := document["day"]:
        yield f"{day['date']}, {day['place']['name'] or 'the place'} ({day['clock']})"
        yield f"   {day['sun']['words']}"
        for name in ("golden", "blue"):
            if day["sun"][name]:
                yield f"   {name.capitalize()} light {', '.join(one['words'] for one in day['sun'][name])}"
        yield f"   {day['moon']['words']}"
        if day["tide"]:
            yield f"   Tide: {day['tide']['words']} {day['tide']['notice']}".rstrip()
            yield from (f"      {one['mark']}: {one['words']}" for one in day["tide"]["marks"])
        if "shot" in day:
            yield f"   {day['shot']['words']}"
    if found := document["windows"]:
        yield f"When all of it holds, {found['opens']} to {found['closes']}: {'; '.join(found['must_hold'])}"
        for one in found["windows"]:
            yield f"   {one['date']}  {one['from']} to {one['until']}  {one['minutes']:.0f} min. {one['words']}"
        if not found["windows"]:
            yield "   never on these days"
        for n in found["best"][:1]:
            yield from (f"      {call['local']}  {call['what']}" for call in found["windows"][n]["calls"])
        if found["smoke"]:
            yield f"   {found['smoke']}"
    if then := document["then"]:
        yield f"{then['date']}, by local mean time"
        yield f"   {then['day']}"
        if then["reckoned"]:
            yield f"   {then['reckoned']['words']}"
            yield f"   {then['reckoned']['sun']}"
    yield from document["notices"]
