"""Work prints and the index of a shoot: laid out, set as PDF, and kept as printed on their day."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path

from refarchive.errors import BadQuery, SourceRefused
from refarchive.jobs.choosing.kept_frames import frame_file, frame_of, frame_picture, refuse_missing
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import as_jpeg, write_whole
from refarchive.paper import print_pictures, sheets, work_prints
from refarchive.records import ids
from refarchive.records.files import sniff
from refarchive.records.model import Frame, Scene
from refarchive.records.wall import Print
from refarchive.sources.passages import read_bounded

COUNTS = (1, 2, 4)
INDEX_PX = 500  # long side of small pictures


@dataclass(frozen=True)
class Printed:
    """A PDF that was written, and in words what stands in it."""

    pdf: Path
    words: str


def _asked(kit: Kit, scene: Scene, names: Sequence[str]) -> list[Frame]:
    frames = [frame_of(kit, scene, name) for name in names] or kit.store.frames(scene.slug)
    if not frames:
        raise BadQuery(f"The scene {scene.slug!r} has no frame yet.", "Take the shoot in first.")
    return list({frame.id: frame for frame in frames}.values())


def _shot(scene: Scene, frame: Frame) -> work_prints.Shot:
    return work_prints.Shot(
        frame.id,
        frame.width,
        frame.height,
        frame.id,
        frame.id.removeprefix("frame-")[:6],
        frame.source_name,
        scene.title,
        f"Frame {frame.source_name} of {scene.title}",
    )


def _laid_out(kit: Kit, scene: Scene, frames: Sequence[Frame], count: int, printed: str) -> work_prints.WorkPrints:
    """Frames on sheets whose numbers follow those printed before."""
    if count not in COUNTS:
        raise BadQuery(f"{count} pictures on a sheet cannot be set.", "Ask for 1, 2 or 4.")
    there = {one.sheet for one in kit.store.after.prints(scene.slug)}
    return work_prints.work_prints(
        [_shot(scene, frame) for frame in frames],
        count,
        printed=printed,
        first_sheet=len(there) + 1,
    )


def sizes(kit: Kit, scene: Scene, names: Sequence[str], count: int) -> list[str]:
    """How large and how fine prints would be, a sentence for those that are alike; see the façade."""
    laid = _laid_out(kit, scene, _asked(kit, scene, names), count, "")
    told: dict[str, list[str]] = {}
    for one in laid.placed:
        words = f"{one.width_mm:.0f} × {one.height_mm:.0f} mm, {one.fineness.sentence}"
        told.setdefault(words, []).append(one.shot.file_name)
    return [f"{', '.join(names)}: {words}" for words, names in told.items()]


def sizes_mm(frame: Frame) -> list[list[object]]:
    """Sizes in which a frame can be printed on A4, as (width, height, words): one, two or four to a sheet."""
    return [list(one) for one in _sizes_mm(frame.width, frame.height)]


@lru_cache(maxsize=256)
def _sizes_mm(width_px: int, height_px: int) -> tuple[tuple[float, float, str], ...]:
    """The same for every frame of a camera, so it is worked out once."""
    shot = work_prints.Shot("", width_px, height_px, "", "", "")
    found = []
    for count, words in zip(COUNTS, ("one to a sheet", "two to a sheet", "four to a sheet"), strict=True):
        (one,) = work_prints.work_prints([shot], count, printed="").placed
        found.append((round(one.width_mm, 1), round(one.height_mm, 1), words))
    return tuple(found)


def print_frames(kit: Kit, scene: Scene, names: Sequence[str], count: int, paper: str, out: Path) -> Printed:
    """Write sheets of work prints, and keep what was printed; see the façade.

    Told through `kit.progress`; stopped at any step, no sheet is written, and none is kept as printed.
    """
    frames = _asked(kit, scene, names)
    refuse_missing(kit, frames)
    today = date.today().isoformat()
    laid = _laid_out(kit, scene, frames, count, today)
    made = sheets.write_sheets(laid.document, _OneByOne(kit, frames))
    kit.tell(len(frames) + 1, len(frames) + 1, "writing the sheets")
    path = write_whole(out / f"{scene.slug}-prints-{int(laid.placed[0].sheet):03d}.pdf", made.pdf)
    kit.store.after.add_prints(
        [
            Print(
                ids.print_id(one.shot.frame, f"{today} {one.sheet}"),
                one.shot.frame,
                one.sheet,
                today,
                one.width_mm,
                one.height_mm,
                one.fineness.ppi,
                paper.strip(),
            )
            for one in laid.placed
        ]
    )
    leaves = len(laid.document["sheets"])
    return Printed(path, f"{len(frames)} prints on {leaves} {'sheet' if leaves == 1 else 'sheets'}. Print at 100 %.")


class _OneByOne(Mapping[str, bytes]):
    """The files of frames, and the strip of tones, by name; each read when it is asked for, and held by nobody here."""

    def __init__(self, kit: Kit, frames: Sequence[Frame]) -> None:
        self._kit = kit
        self._frames = {frame.id: frame for frame in frames}
        self._read = 0

    def __getitem__(self, name: str) -> bytes:
        if name == work_prints.STRIP:
            return work_prints.strip_png()
        frame = self._frames[name]
        self._kit.tell(min(self._read, len(self._frames)), len(self._frames) + 1, frame.source_name)
        self._read += 1
        return _file(self._kit, frame)

    def __contains__(self, name: object) -> bool:
        return name == work_prints.STRIP or name in self._frames

    def __iter__(self) -> Iterator[str]:
        return iter((work_prints.STRIP, *self._frames))

    def __len__(self) -> int:
        return 1 + len(self._frames)


def _file(kit: Kit, frame: Frame) -> bytes:
    """The bytes that a sheet holds: the file itself where it is a JPEG, PNG or TIFF, else a JPEG of its picture."""
    path = frame_file(kit, frame)
    if sniff(path) in ("image/jpeg", "image/png", "image/tiff") and frame.suffix != ".raw":
        return read_bounded(path, print_pictures.MOST_BYTES)
    picture = frame_picture(kit, frame, None)
    return as_jpeg(picture, max(picture.size))


def print_index(kit: Kit, scene: Scene, out: Path) -> Printed:
    """Write all frames, small and in their groups; see the façade."""
    from refarchive.jobs.choosing.comparing import document

    told = document(kit, scene)
    by_id = {frame.id: frame for frame in _asked(kit, scene, ())}
    group = {name: one["words"] for one in told["groups"] for name in one["frames"]}
    pictures: dict[str, bytes] = {}
    rows = []
    steps = len(told["frames"]) + 1
    for number, one in enumerate(told["frames"]):
        frame = by_id[one["id"]]
        kit.tell(number, steps, frame.source_name)
        with suppress(SourceRefused):  # the index says that there is none
            pictures[frame.id] = as_jpeg(frame_picture(kit, frame, INDEX_PX), INDEX_PX)
        rows.append(
            work_prints.Indexed(
                frame.id if frame.id in pictures else "",
                frame.width,
                frame.height,
                frame.source_name,
                one["taken_words"],
                group.get(frame.id, ""),
            )
        )
    made = work_prints.index_sheets(rows, title=f"{scene.title}: index", day=date.today().isoformat())
    kit.tell(steps - 1, steps, "setting the sheets")
    path = write_whole(out / f"{scene.slug}-index.pdf", sheets.write_sheets(made, pictures).pdf)
    return Printed(path, f"{len(rows)} frames on {len(made['sheets'])} sheets.")


def prints_told(kit: Kit, scene: Scene) -> list[str]:
    """What was printed, newest first, a sentence each."""
    names = {frame.id: frame.source_name for frame in kit.store.frames(scene.slug)}
    rows = []
    for one in reversed(kit.store.after.prints(scene.slug)):
        paper = f", {one.paper}" if one.paper else ""
        rows.append(
            f"{one.printed}, sheet {one.sheet}: {names.get(one.frame, one.frame)}, {one.width_mm:.0f} × "
            f"{one.height_mm:.0f} mm, {one.pixels_per_inch:.0f} pixels per inch{paper}."
        )
    return rows
