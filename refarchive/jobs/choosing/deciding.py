"""Decisions, as the person wrote them, and the finished pictures of a series that follow from them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from refarchive.jobs.choosing.kept_frames import frame_of
from refarchive.jobs.kit import Kit
from refarchive.records.model import Frame, Scene
from refarchive.records.store import now
from refarchive.records.wall import Decision


def decide(kit: Kit, scene: Scene, frame: str, sentence: str, turned_down: Mapping[str, str], at: str = "") -> Decision:
    """Keep a decision. Raises UnknownRecord, RecordRefused."""
    chosen = frame_of(kit, scene, frame)
    down = tuple((frame_of(kit, scene, name).id, why.strip()) for name, why in turned_down.items())
    return kit.store.after.add_decision(Decision(scene.slug, chosen.id, at or now(), sentence.strip(), down))


def told(kit: Kit, scene: Scene) -> list[dict[str, Any]]:
    """Every decision of a scene, newest first, as JSON."""
    names = {frame.id: frame.source_name for frame in kit.store.frames(scene.slug)}
    return [
        {
            "frame": one.frame,
            "at": one.at,
            "sentence": one.sentence,
            "words": f"{one.at[:10]}: {names.get(one.frame, one.frame)}. {one.sentence}",
            "turned_down": [
                f"{names.get(frame, frame)}: {why or 'no reason was given'}" for frame, why in one.turned_down
            ],
        }
        for one in reversed(kit.store.after.decisions(scene.slug))
    ]


def chosen(kit: Kit, slug: str) -> Frame | None:
    """The frame that was last decided for in a scene, None before any decision."""
    decisions = kit.store.after.decisions(slug)
    return kit.store.frame(decisions[-1].frame) if decisions else None


def in_series(kit: Kit, series: str) -> list[tuple[Scene, Frame]]:
    """The finished pictures of a series: in the order last kept, then, in the order of the scenes, those it lacks."""
    found = {
        frame.id: (scene, frame)
        for scene in kit.store.scenes()
        if scene.series == series and (frame := chosen(kit, scene.slug)) is not None
    }
    orders = kit.store.after.orders(series)
    kept = [name for name in (orders[-1].frames if orders else ()) if name in found]
    return [found[name] for name in dict.fromkeys([*kept, *found])]


def finished(kit: Kit, series: str, except_for: str = "") -> list[dict[str, Any]]:
    """The finished pictures of a series as JSON, in order, with the sizes that they were printed or editioned in."""
    rows = []
    for scene, frame in in_series(kit, series) if series else []:
        if scene.slug == except_for:
            continue
        editions = kit.store.after.particulars(frame.id)[0].editions
        rows.append(
            {
                "id": frame.id,
                "scene": scene.slug,
                "title": scene.title,
                "name": frame.source_name,
                "sizes": [
                    *([one.width_mm, one.height_mm, one.name or "edition"] for one in editions),
                    *_usual(frame),
                ],
            }
        )
    return rows


def _usual(frame: Frame) -> list[list[Any]]:
    """Sizes to hang a finished picture in where no edition says any: its long side 600 or 900 mm."""
    long = max(frame.width, frame.height, 1)
    return [
        [mm * frame.width / long, mm * frame.height / long, f"{mm:.0f} mm on the long side"] for mm in (600.0, 900.0)
    ]
