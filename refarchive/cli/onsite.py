"""Commands on place and light: what the strobes do."""

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
