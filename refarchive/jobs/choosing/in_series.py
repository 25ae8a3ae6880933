"""The finished pictures of a series, measured; another frame among them; other orders, as figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from refarchive.errors import BadQuery
from refarchive.frames import series as measuring
from refarchive.frames.ordering import ARRANGEMENTS, BY_DATE, Order
from refarchive.frames.reads import TO_ORDER_BY, Person, Read, Thing
from refarchive.jobs.choosing import deciding
from refarchive.jobs.choosing.checking import MARK
from refarchive.jobs.choosing.kept_frames import frame_of, frame_picture, refuse_missing
from refarchive.jobs.kit import Kit
from refarchive.records.model import Frame, Scene
from refarchive.records.store import now
from refarchive.records.wall import SeriesOrder

SIDE = 1000  # pixels, long side, at which pictures are measured
NOBODY = ("to be ", "as in ", "not yet", "nobody")  # how a plan begins where it names no performer


def reads(kit: Kit, series: str) -> list[Read]:
    """The finished pictures of a series, measured, in order; told through `kit.progress`.

    Raises SourceRefused, naming every picture whose file is missing, before any is measured.
    """
    return read_all(kit, deciding.in_series(kit, series))


def read_all(kit: Kit, pairs: Sequence[tuple[Scene, Frame]]) -> list[Read]:
    """Pictures with their scenes, measured, in the order given. Told and raises as `reads`."""
    refuse_missing(kit, (frame for _, frame in pairs))
    found = []
    for number, (scene, frame) in enumerate(pairs):
        kit.tell(number, len(pairs), f"measuring {scene.title[:40]}")
        found.append(read(kit, scene, frame))
    return found


def read(kit: Kit, scene: Scene, frame: Frame) -> Read:
    """One frame, measured, with what its scene's record knows of it; measured anew when that changes.

    Raises SourceRefused.
    """
    notes = kit.store.frame_notes(frame.id)
    figures = tuple(
        (x, y, w, h)
        for note in notes
        if note.subject.startswith(f"{MARK}figure:")
        for x, y, w, h in [tuple(float(part) for part in note.says.split(","))]
    )
    known = {
        r.id: (r.sha256 or r.id, r.title) for r in kit.store.references(sorted({e.reference for e in scene.evidence}))
    }
    things = tuple(
        Thing(
            need.name,
            need.slug,
            need.department,
            tuple(dict.fromkeys(known[e.reference] for e in need.evidence if e.reference in known)),
        )
        for need in scene.needs
    )
    people = tuple(
        Person(one.name, "" if one.performer.casefold().strip().startswith(NOBODY) else one.performer)
        for one in scene.figures
    )
    light = _light(kit, frame)

    def measured() -> Read:
        import numpy as np

        picture = frame_picture(kit, frame, SIDE)
        return measuring.read_picture(
            np.asarray(picture),
            name=frame.id,
            title=scene.title,
            figures=figures,
            light_deg=light,
            things=things,
            place=scene.place,
            people=people,
            vector=kit.encoder.encode_pictures([picture]).likeness[0],
        )

    key = ("in series", frame.id, frame.sha256, scene.title, figures, light, things, scene.place, people)
    return kit.remembered(key, measured)


def _light(kit: Kit, frame: Frame) -> float | None:
    """Where the light comes from, as the last check of a marked thing in the frame found; None where none did."""
    for _, lines in reversed(kit.store.looked.checks(frame.id)):
        for line in lines:
            if line.get("measure") == "light" and isinstance(line.get("frame"), int | float):
                return float(line["frame"])
    return None


def in_order(kit: Kit, series: str) -> dict[str, Any]:
    """The pictures of a series in order, as JSON, and by what they could be put in another; nothing is measured."""
    pictures = [
        {"id": frame.id, "scene": scene.slug, "title": scene.title, "name": frame.source_name}
        for scene, frame in deciding.in_series(kit, series)
    ]
    decided = {one["scene"] for one in pictures}
    waiting = [s.title for s in kit.store.scenes() if s.series == series and s.slug not in decided]
    told = [f"Not decided yet: {', '.join(waiting)}."] if waiting else []
    told += [f"{one.at[:10]}: {one.note}" for one in kit.store.after.orders(series) if one.note]
    return {
        "series": series,
        "pictures": pictures,
        "measures": list(TO_ORDER_BY),
        "arrangements": list(ARRANGEMENTS),
        "told": told,
    }


def document(kit: Kit, series: str) -> dict[str, Any]:
    """A series as JSON: its pictures in order, neighbours, and how key, contrast and warmth run along it."""
    found = reads(kit, series)
    return {
        **in_order(kit, series),
        "neighbours": [one.as_dict() for one in measuring.neighbours(found)] if found else [],
        "rhythm": [
            {"measure": one.measure, "word": one.word, "words": one.sentence, "told": one.told}
            for one in rhythms(found)
        ],
    }


def rhythms(found: Sequence[Read]) -> Sequence[Any]:
    """How key, contrast and warmth run along the series; nothing for a series without pictures."""
    return measuring.rhythms(found) if found else ()


def sit(kit: Kit, series: str, scene: Scene, name: str) -> dict[str, Any]:
    """How a frame would sit at each place of a series, as JSON; the scene's own finished picture is left out then.

    Raises UnknownRecord, SourceRefused, CannotMeasure.
    """
    frame = frame_of(kit, scene, name)
    pairs = [(s, f) for s, f in deciding.in_series(kit, series) if s.slug != scene.slug]
    if not pairs:
        return {"frame": frame.id, "seats": [], "echoes": [], "words": "The series has no other finished picture yet."}
    *others, candidate = read_all(kit, [*pairs, (scene, frame)])
    seats = measuring.sit(candidate, others)
    echoes = measuring.echoes(candidate, others)
    return {
        "frame": frame.id,
        "seats": [one.as_dict() for one in seats],
        "echoes": [{"title": e.title, "repeats": [vars(r) for r in e.repeats]} for e in echoes],
        "words": f"{frame.source_name} at each of {len(seats)} places. None is best: look.",
    }


def keep_order(kit: Kit, series: str, frames: Sequence[str], note: str, at: str = "") -> None:
    """Keep an order of the finished pictures. Raises BadQuery where it does not name each of them once."""
    there = [frame.id for _, frame in deciding.in_series(kit, series)]
    if sorted(frames) != sorted(there):
        raise BadQuery(
            f"The order names {len(set(frames))} pictures, and the series has {len(there)} finished ones.",
            "Name each of them once.",
        )
    kit.store.after.add_order(SeriesOrder(series, at or now(), tuple(frames), note.strip()))


def order_of(
    kit: Kit,
    series: str,
    found: Sequence[Read],
    arrangement: str,
    measure: str,
    fixed: Mapping[int, int] | None = None,
) -> Order:
    """Another order of pictures of a series by one criterion; dates are those of their scenes. Raises CannotMeasure."""
    spans = None
    if arrangement == BY_DATE:
        when = {frame.id: scene.when for scene, frame in deciding.in_series(kit, series)}
        dates = [when.get(one.name) for one in found]
        spans = [
            (float(one.earliest), float(one.latest))
            if one and one.earliest is not None and one.latest is not None
            else None
            for one in dates
        ]
    return measuring.propose(found, arrangement, measure, fixed=fixed, spans=spans)


def propose(kit: Kit, series: str, arrangement: str, measure: str, fixed: Mapping[int, int] | None) -> dict[str, Any]:
    """Another order by one criterion, as JSON, with its steps beside those of the present one. Raises CannotMeasure."""
    pairs = deciding.in_series(kit, series)
    order = order_of(kit, series, read_all(kit, pairs), arrangement, measure, fixed)
    return {
        "arrangement": arrangement,
        "measure": measure,
        "frames": [pairs[place][1].id for place in order.places],
        "titles": [pairs[place][0].title for place in order.places],
        "now": vars(order.now),
        "then": vars(order.then),
        "exact": order.exact,
        "words": [" → ".join(pairs[place][0].title for place in order.places) + ".", _steps(order), order.how],
    }


def _steps(order: Any) -> str:
    def told(one: Any) -> str:
        greatest = "–" if one.greatest is None else f"{one.greatest:.1f}"
        return f"{one.total:.1f} in all, the greatest {greatest}"

    moved = f"{order.moved} of {len(order.places)} places change"
    return f"Steps now: {told(order.now)}. Steps then: {told(order.then)}. {moved}."


def series_of(kit: Kit, scene: Scene) -> str:
    """The series of a scene. Raises BadQuery where its plan names none."""
    if not scene.series:
        raise BadQuery(f"The plan of {scene.title!r} names no series.", "Write series = in its [scene].")
    return scene.series


def named(kit: Kit, series: str) -> str:
    """The series named, or the only one there is. Raises BadQuery."""
    there = list(dict.fromkeys(scene.series for scene in kit.store.scenes() if scene.series))
    if series in there:
        return series
    if not series and len(there) == 1:
        return there[0]
    problem = f"There is no series {series!r}." if series else "There is more than one series, or none."
    raise BadQuery(problem, f"There are: {', '.join(there) or 'none'}. A scene names its series in its plan.")
