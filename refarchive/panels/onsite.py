"""Site and light: the sun at another time, the lights at another power, drawn again as the sliders move."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import traitlets

from refarchive.archive import Archive
from refarchive.errors import BadQuery
from refarchive.panels.base import NOTHING, Answer, Panel, answers, drawn, script, style

DAYS = 366  # that the slider reaches over


class OnSite(Panel):
    """The panel of site and light. `scene` is its slug; nothing that is tried here is kept."""

    _esm = script("onsite")
    _css = style("onsite")
    scene = traitlets.Unicode("").tag(sync=True)

    def __init__(self, archive: Archive, scene: str = "") -> None:
        super().__init__(archive, scene=scene)

    @answers("start")
    def start(self) -> Answer:
        """The scenes that have a rig."""
        scenes = [one for one in self.archive.scenes() if one.rig is not None]
        return {"scenes": [{"slug": one.slug, "title": one.title} for one in scenes]}

    @answers("open")
    def open_scene(self, slug: str) -> Answer:
        """What the sliders begin with: the day and time planned, each light's power in stops below full."""
        scene = self.archive.scene(slug)
        self.scene = slug
        if scene.rig is None:
            raise BadQuery(f"{scene.title!r} has no rig.", "Add [rig] with its lights and points to the plan.")
        shoot = (scene.site.shoot if scene.site else "") or f"{date.today().isoformat()} 12:00"
        on, _, at = shoot.partition(" ")
        hours, _, minutes = at.partition(":")
        return {
            "day": on,
            "minute": 60 * int(hours) + int(minutes[:2]),
            "days": DAYS,
            "lights": [
                {
                    "number": light.number,
                    "unit": light.unit,
                    "stops": -math.log2(light.power) if light.power else 0.0,
                    "most": -math.log2(light.least_power) if light.least_power else 7.0,
                }
                for light in scene.rig.lights
            ],
        }

    @answers("look")
    def look(self, slug: str, day: str, offset: int, minute: int, stops: Mapping[str, float]) -> Answer:
        """Sun, light and drawing at a time and with powers, given in stops below full."""
        try:
            on = date.fromisoformat(day) + timedelta(days=offset)
        except (ValueError, OverflowError):
            raise BadQuery(f"{day!r} is no day.", "Give a day as 2027-10-11.") from None
        at = f"{on.isoformat()} {minute // 60 % 24:02d}:{minute % 60:02d}"
        if strange := [number for number in stops if not re.fullmatch(r"\d{1,4}", number, re.ASCII)]:
            raise BadQuery(f"{strange[0]!r} is no number of a light.", "Open the scene again.")
        powers = {int(number): 2.0 ** -max(0.0, below) for number, below in stops.items()}
        found = self.archive.onsite.look(slug, at=at, powers=powers)
        return {"at": at, **_shown(found)}, [found["drawing"]["svg"].encode()]

    @answers("windows", long=True, kept=NOTHING)
    def windows(self, number: int, slug: str) -> Answer:
        """When all that the plan asks for holds, drawn, with the calls of the best."""
        self.tell(number, 0, 1, "Looking through the days")
        found = self.archive.onsite.windows(slug, progress=self.telling(number))
        best = [found["windows"][n] for n in found["best"]]
        document = {
            "must_hold": found["must_hold"],
            "best": [{key: one[key] for key in ("date", "from", "until", "minutes", "words", "calls")} for one in best],
            "alt": found["in_words"],
            "notices": [*found["notices"], *([found["smoke"]] if found["smoke"] else [])],
        }
        return document, [drawn(self.archive.onsite.window_figure(slug, found))]


def _shown(found: Mapping[str, Any]) -> dict[str, Any]:
    rig, day = found["rig"], found["day"]
    return {
        "sun": [day["shot"]["words"], day["sun"]["words"], day["moon"]["words"]] if day else [],
        "camera": rig["camera"]["words"],
        "contrast": [rig["contrast"]["words"], *(one["sentence"] for one in rig["contrast"]["changes"])],
        "points": [one["words"] for one in rig["points"]],
        "units": [
            {"light": one["light"], "power": one["power"], "expected": one["expected_f_number"]} for one in rig["units"]
        ],
        "cautions": rig["cautions"],
        "words": found["drawing"]["words"],
    }
