"""What hangs where: arrangements kept one after another, with a photograph of the wall, and a page to scale."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import BadQuery, CannotPrint, SourceRefused, UnknownRecord
from refarchive.jobs.choosing.kept_frames import frame_picture
from refarchive.jobs.choosing.printing import Printed
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import as_jpeg, write_whole
from refarchive.paper.sheets import write_sheets
from refarchive.paper.wall_drawing import Piece
from refarchive.paper.wall_page import hanging_problems, hung_since, wall_page
from refarchive.records.files import open_picture, picture_size
from refarchive.records.model import Scene
from refarchive.records.store import now
from refarchive.records.wall import Arrangement, Hung

if TYPE_CHECKING:
    from PIL.Image import Image

KEYS = frozenset({"frame", "x_mm", "y_mm", "width_mm", "height_mm", "finished", "print"})
DRAWN_PX = 900  # long side of a picture on the page
LATEST = "Name one that there is, or none for the latest."


def hang(
    kit: Kit,
    scene: Scene,
    wall: str,
    width_mm: float,
    height_mm: float,
    hung: Sequence[Mapping[str, Any]],
    light: str,
    note: str,
    photograph: Path | None,
    at: str = "",
) -> Arrangement:
    """Keep an arrangement; see the façade."""
    own = {frame.source_name: frame.id for frame in kit.store.frames(scene.slug)}
    pieces = tuple(_hung(kit, own, one) for one in hung)
    sha256 = suffix = ""
    if photograph is not None:
        kept = kit.files.keep(photograph, picture_size(photograph)[2])
        sha256, suffix = kept.sha256, kept.suffix
    made = Arrangement(
        wall.strip(), scene.slug, at or now(), width_mm, height_mm, pieces, light.strip(), note.strip(), sha256, suffix
    )
    return kit.store.after.add_arrangement(made)


def _hung(kit: Kit, own: Mapping[str, str], said: Mapping[str, Any]) -> Hung:
    """One picture as it was said; `own` are the scene's frames by file name, others are named by id."""
    if unknown := set(said) - KEYS:
        raise BadQuery(
            f"A picture on a wall has no {sorted(unknown)[0][:40]!r}.", f"It has: {', '.join(sorted(KEYS))}."
        )
    try:
        x, y, width, height = (float(said[key]) for key in ("x_mm", "y_mm", "width_mm", "height_mm"))
    except (KeyError, TypeError, ValueError, OverflowError):
        raise BadQuery(
            "A picture on a wall needs x_mm, y_mm, width_mm and height_mm as numbers.", "Give all four."
        ) from None
    if not all(map(math.isfinite, (x, y, width, height))):
        raise BadQuery("A place on a wall is no number.", "Give millimetres.")
    name = str(said.get("frame", ""))
    frame = kit.store.frame(own.get(name, name))
    return Hung(frame.id, x, y, width, height, bool(said.get("finished", False)), str(said.get("print", "")))


def document(kit: Kit, scene: Scene) -> list[dict[str, Any]]:
    """Every arrangement, oldest first, as JSON."""
    rows = []
    found = kit.store.after.arrangements(scene.slug)
    for one in found:
        note = f" {one.note}" if one.note else ""
        light = f", by {one.light}" if one.light else ""
        rows.append(
            {
                "number": one.number,
                "wall": one.wall,
                "at": one.at,
                "width_mm": one.width_mm,
                "height_mm": one.height_mm,
                "light": one.light,
                "note": one.note,
                "hung": [vars(each) for each in one.hung],
                "photographed": bool(one.photograph),
                "problems": _problems(kit, one, found),
                "words": f"{one.at[:10]}, {one.wall or 'wall'}: {len(one.hung)} pictures{light}.{note}",
            }
        )
    return rows


def _problems(kit: Kit, one: Arrangement, found: Sequence[Arrangement]) -> list[str]:
    """What is amiss, in words; of what an earlier version kept and nobody can draw, that."""
    try:
        return list(hanging_problems(one, pieces_of(kit, one, found)))
    except CannotPrint as error:
        return [error.problem]


def pieces_of(kit: Kit, arrangement: Arrangement, history: Sequence[Arrangement]) -> dict[str, Piece]:
    """What is known of the pictures of an arrangement: frames by file name, finished ones by their scene's title."""
    # By the day, not by the number: an arrangement may be written down after a later one.
    places = [place for place, one in enumerate(history) if one.number == arrangement.number]
    since = hung_since(history[: places[0] + 1]) if places else {}
    pieces = {}
    for one in arrangement.hung:
        frame = kit.store.frame(one.frame)
        name = kit.store.scene(frame.scene).title if one.finished else frame.source_name
        pieces[frame.id] = Piece(name, frame.id, frame.width, frame.height, since.get(frame.id, ""))
    return pieces


def print_wall(kit: Kit, scene: Scene, number: int | None, out: Path) -> Printed:
    """Write a wall to scale. Raises UnknownRecord, CannotPrint."""
    one = arrangement_of(kit, scene, number)
    pieces = pieces_of(kit, one, kit.store.after.arrangements(scene.slug))
    page = wall_page(one, pieces)
    pictures = {}
    for name in pieces:
        with suppress(SourceRefused):  # the page says that there is none
            pictures[name] = as_jpeg(frame_picture(kit, kit.store.frame(name), DRAWN_PX), DRAWN_PX)
    path = write_whole(out / f"{scene.slug}-wall-{one.at[:10]}.pdf", write_sheets(page.document, pictures).pdf)
    return Printed(path, f"{one.wall or 'The wall'} at 1:{page.scale}, {len(one.hung)} pictures. Print at 100 %.")


def arrangement_of(kit: Kit, scene: Scene, number: int | None) -> Arrangement:
    """One arrangement of a scene, the latest where no number is given. Raises UnknownRecord."""
    found = kit.store.after.arrangements(scene.slug)
    if not found:
        raise UnknownRecord(f"Nothing of the scene {scene.slug!r} hangs on a wall yet.", "Hang its frames first.")
    if number is None:
        return found[-1]
    for one in found:
        if one.number == number:
            return one
    raise UnknownRecord(f"The scene {scene.slug!r} has no arrangement {number}.", LATEST)


def photograph(kit: Kit, scene: Scene, number: int, longest: int | None) -> Image:
    """The photograph kept with an arrangement. Raises UnknownRecord."""
    one = arrangement_of(kit, scene, number)
    if not one.photograph:
        raise UnknownRecord("No photograph was kept with this arrangement.", "Keep one with the next.")
    return open_picture(kit.files.original(one.photograph, one.suffix), longest)
