"""Frames that an archive keeps: found by name, opened as pictures, and small."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from refarchive.errors import SourceRefused, UnknownRecord
from refarchive.jobs.kit import Kit
from refarchive.jobs.references.thumbnails import thumbnail as small
from refarchive.records import ids
from refarchive.records.model import Frame, Scene
from refarchive.records.store import now
from refarchive.sources.shot import Shot, shot_picture

if TYPE_CHECKING:
    from PIL.Image import Image


def frame_of(kit: Kit, scene: Scene, name: str) -> Frame:
    """A frame of a scene by id or file name, the last one of a name. Raises UnknownRecord, naming those there are."""
    frames = kit.store.frames(scene.slug)
    found = [frame for frame in frames if name in (frame.id, frame.source_name)]
    if not found:
        known = ", ".join(frame.source_name for frame in frames) or "none yet"
        raise UnknownRecord(f"The scene {scene.slug!r} has no frame {name!r}.", f"There are: {known}. Check it first.")
    return found[-1]


def keep_frame(kit: Kit, scene: Scene, path: Path, shot: Shot) -> Frame:
    """Keep a file as a frame of a scene; one that is kept already is returned as it is. Raises ArchiveUnwritable."""
    kept = kit.files.keep(path, shot.media_type)
    frame = Frame(
        ids.frame_id(scene.slug, kept.sha256),
        scene.slug,
        path.name,
        kept.sha256,
        kept.suffix,
        shot.width,
        shot.height,
        now(),
        shot.taken,
    )
    return kit.store.add_frame(frame)


def frame_file(kit: Kit, frame: Frame) -> Path:
    """The kept file of a frame. Raises SourceRefused where it is missing."""
    path = kit.files.original(frame.sha256, frame.suffix)
    if not path.is_file():
        raise SourceRefused(f"The file of the frame {frame.source_name!r} is missing.", "Restore a backup.")
    return path


def refuse_missing(kit: Kit, frames: Iterable[Frame]) -> None:
    """Refuse work on several frames where the files of any are missing. Raises SourceRefused, naming all of them."""
    gone = [one for one in frames if not kit.files.original(one.sha256, one.suffix).is_file()]
    if gone:
        names = ", ".join(f"{one.source_name!r} of {one.scene!r}" for one in gone)
        what = "The file of a frame is" if len(gone) == 1 else f"The files of {len(gone)} frames are"
        raise SourceRefused(
            f"{what} missing: {names}.", "Put copies back: refarchive verify ARCHIVE --repair --from FOLDER"
        )


def frame_picture(kit: Kit, frame: Frame, longest: int | None = 1600) -> Image:
    """The picture of a frame, upright sRGB; of a raw file its preview. Raises SourceRefused."""
    return shot_picture(frame_file(kit, frame), longest)


def thumbnail(kit: Kit, scene: Scene, name: str, longest: int) -> bytes | None:
    """A frame as a small JPEG, made once and kept among the previews; None where its file cannot be read."""
    frame = frame_of(kit, scene, name)
    try:
        path = kit.files.preview(frame.sha256)
        if not path.is_file():
            kit.files.write_preview(frame.sha256, frame_picture(kit, frame))
        return small(path, longest)
    except SourceRefused:
        return None
