"""The frames of a shoot: taken in, measured against each other, and grouped.

Files are kept one by one, so that a run that was stopped goes on where it stopped. What was measured is kept with the
frame, with the version that measured it, and made anew when either the frames or the version change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from refarchive.errors import SourceRefused
from refarchive.jobs.choosing.kept_frames import keep_frame
from refarchive.jobs.kit import Kit
from refarchive.records.files import PICTURE_SUFFIXES, hash_of
from refarchive.records.model import Frame, Scene
from refarchive.sources.folder import Refusal, walk
from refarchive.sources.linear import RAW_SUFFIXES
from refarchive.sources.shot import read_shot

MOST_FRAMES = 2_000  # of one scene


@dataclass
class Shoot:
    """What a run took in. `beside` are raw files left alone because a developed picture of their name lies there."""

    added: list[Frame] = field(default_factory=list)
    unchanged: int = 0
    beside: list[str] = field(default_factory=list)
    refused: list[dict[str, str]] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "added": [{"id": one.id, "source_name": one.source_name, "taken": one.taken} for one in self.added],
            "unchanged": self.unchanged,
            "beside": self.beside,
            "refused": self.refused,
        }


def take(kit: Kit, scene: Scene, sources: Sequence[Path]) -> Shoot:
    """Take the picture files of folders, or files by name, in as frames of a scene; what was taken already stays.

    What cannot be read is told in `refused`, and the rest goes on.
    """
    done = Shoot()
    known = {frame.sha256 for frame in kit.store.frames(scene.slug)}
    places = [one for source in sources for one in walk(source)]
    developed = {_stem(one.path) for one in places if not isinstance(one, Refusal) and _is_picture(one.path)}
    for number, place in enumerate(places, start=1):
        if isinstance(place, Refusal):
            done.refused.append({"source": place.source, "problem": place.problem, "next_step": place.next_step})
            continue
        raw = place.path.suffix.lower() in RAW_SUFFIXES
        if raw and _stem(place.path) in developed:
            done.beside.append(place.relative)
        elif raw or _is_picture(place.path):
            try:
                _take_one(kit, scene, place.path, known, done)
            except SourceRefused as error:
                done.refused.append({"source": place.relative, "problem": error.problem, "next_step": error.next_step})
        if kit.progress is not None:
            kit.progress(number, len(places), place.relative)
    return done


def _stem(path: Path) -> Path:
    return path.with_suffix("")


def _is_picture(path: Path) -> bool:
    return path.suffix.lower() in PICTURE_SUFFIXES


def _take_one(kit: Kit, scene: Scene, path: Path, known: set[str], done: Shoot) -> None:
    if hash_of(path) in known:
        done.unchanged += 1
        return
    if len(known) >= MOST_FRAMES:
        raise SourceRefused(
            f"{path.name} is one frame too many: a scene holds {MOST_FRAMES:,}.", "Take in those worth looking at."
        )
    shot = read_shot(path)
    frame = keep_frame(kit, scene, path, shot)
    done.added.append(frame)
    known.add(frame.sha256)
