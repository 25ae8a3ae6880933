"""Frames over time: checks beside each other and beside those before, what viewers said, what the encoder reads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.records.model import Region, Viewing

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image

    from refarchive.archive import Archive, PathLike
    from refarchive.encoders.base import Progress
    from refarchive.frames.lines import Line


class FrameDesk:
    """Reached as `archive.frame_work`; holds nothing of its own."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    def several(
        self,
        slug: str,
        frames: Sequence[PathLike],
        *,
        regions: Mapping[str, Region] | None = None,
        progress: bool | Progress = False,
    ) -> list[dict[str, Any]]:
        """Several frames checked against the intent, one row each, as JSON: word, figure and difference by measure.

        Every frame is kept as by `check`. Raises as `check`; frames before the one refused are kept.
        """
        rows = []
        with self._archive._progress(progress, "checking") as kit:
            for number, frame in enumerate(frames):
                kit.tell(number, len(frames), Path(frame).name)
                checked = self._archive.check(slug, frame, regions=regions)
                own = [line for line in checked.lines if line.against == "intent" and line.measure != "need"]
                measured = {line.measure: _brief(line) for line in own}
                rows.append({"frame": checked.frame.source_name, "id": checked.frame.id, "measures": measured})
        return rows

    def original(self, slug: str, frame: str) -> Path:
        """The kept file of a frame, by id or file name, to be checked again. Raises UnknownRecord."""
        from refarchive.jobs.choosing.kept_frames import frame_of

        found = frame_of(self._kit, self._archive.scene(slug), frame)
        return self._kit.files.original(found.sha256, found.suffix)

    def name(self, slug: str, frame: str) -> str:
        """The file name of a kept frame, by id. Raises UnknownRecord."""
        from refarchive.jobs.choosing.kept_frames import frame_of

        return frame_of(self._kit, self._archive.scene(slug), frame).source_name

    def picture(self, slug: str, frame: str, longest: int | None = 1600) -> Image:
        """The picture of a kept frame, upright sRGB. Raises UnknownRecord, SourceRefused."""
        from refarchive.jobs.choosing.kept_frames import frame_of, frame_picture

        return frame_picture(self._kit, frame_of(self._kit, self._archive.scene(slug), frame), longest)

    def laid_over(self, slug: str, frame: str, reference: str) -> tuple[Image | None, str]:
        """A kept frame half over a reference it was aligned with, or None; and in words how far that can be trusted.

        To look at; nothing is scored. Raises UnknownRecord, SourceRefused.
        """
        from refarchive.jobs.choosing.checking import lay_over

        return lay_over(self.picture(slug, frame), self._archive.picture(reference))

    def look_figure(self, slug: str, frame: str, *references: str) -> Figure:
        """Tones as curves and palettes as bars, of a kept frame, of what was meant, and of references, as a figure.

        Raises UnknownRecord, SourceRefused.
        """
        import numpy as np

        from refarchive.looks import colour, tone
        from refarchive.paper.plots import look_figure

        scene = self._archive.scene(slug)
        pictures = {"Frame": np.asarray(self.picture(slug, frame, 1000))}
        for name in references:
            pictures[self._archive.reference(name).title] = np.asarray(self._archive.picture(name, 1000))
        found = {name: colour.palette(picture, 8) for name, picture in pictures.items()}
        palettes = {name: list(zip(one.hexes, one.shares.tolist(), strict=True)) for name, one in found.items()}
        if scene.intent.palette:
            meant = {"Meant": [(one.hex, one.share) for one in scene.intent.palette]}
            palettes = {"Frame": palettes["Frame"], **meant, **palettes}
        return look_figure({name: tone.viewed_lightness(picture) for name, picture in pictures.items()}, palettes)

    def earlier(self, slug: str, frame: str) -> list[dict[str, Any]]:
        """Every check of a frame, oldest first: when, and its lines. Raises UnknownRecord."""
        from refarchive.jobs.choosing.kept_frames import frame_of

        found = frame_of(self._kit, self._archive.scene(slug), frame)
        return [{"at": at, "lines": lines} for at, lines in self._kit.store.looked.checks(found.id)]

    def compare(
        self, slug: str, frame: PathLike, region: Region, reference: str, detail: Region | None = None
    ) -> list[Line]:
        """A region of a frame against a reference or a detail of it, as far as its medium allows.

        Palette, values, layout, likeness, swatch, warmth, key, contrast, and the light on a rounded thing in both.

        Nothing is kept. Raises SourceRefused, UnknownRecord, BadQuery.
        """
        from refarchive.jobs.choosing.checking import compare_regions

        scene, found = self._archive.scene(slug), self._archive.reference(reference)
        return list(compare_regions(self._kit, scene, Path(frame), region, found, detail))

    def chart(
        self, frame: PathLike, corners: Sequence[tuple[float, float]], edition: str, *, out: PathLike | None = None
    ) -> dict[str, Any]:
        """Hold the 24-patch chart in a picture against its published colours, as JSON; nothing is kept.

        `corners` are fractions of the picture, by the dark skin, the bluish green, the black and the white; `edition`
        is "before November 2014" or "after November 2014". `out` names a PNG: the picture with the fitted matrix, to
        see what it would do. Raises SourceRefused, CannotMeasure, BadQuery, CannotPrint.
        """
        from refarchive.jobs.choosing.charting import read

        return read(Path(frame), corners, edition, Path(out) if out is not None else None)

    def view(
        self, slug: str, frame: str, words: str, *, viewer: str = "", seconds: float | None = None, print_size: str = ""
    ) -> Viewing:
        """Keep what somebody said of a frame they saw without a word beside it. Raises RecordRefused, UnknownRecord."""
        from refarchive.jobs.choosing.kept_frames import frame_of
        from refarchive.jobs.choosing.viewing import view

        found = frame_of(self._kit, self._archive.scene(slug), frame)
        return view(self._kit, found, words, viewer, seconds, print_size)

    def viewings(self, slug: str, frame: str) -> dict[str, Any]:
        """What a frame's viewers said, held against the scene's statements and misreadings, as JSON."""
        from refarchive.jobs.choosing.kept_frames import frame_of
        from refarchive.jobs.choosing.viewing import read_words

        scene = self._archive.scene(slug)
        return read_words(self._kit, scene, frame_of(self._kit, scene, frame))

    def machine_reading(self, slug: str, frame: str, masks: Mapping[str, Region] | None = None) -> dict[str, Any]:
        """How near the encoder finds a frame to the scene's sentences, with this archive's trust; no audience.

        `masks` are regions by name, taken out one at a time to see what carries each sentence.
        """
        from refarchive.jobs.choosing.kept_frames import frame_of
        from refarchive.jobs.choosing.viewing import read_by_encoder

        scene = self._archive.scene(slug)
        return read_by_encoder(self._kit, scene, frame_of(self._kit, scene, frame), masks)


def _brief(line: Line) -> dict[str, Any]:
    plain = line.frame if isinstance(line.frame, int | float | str) else None
    return {"frame": plain, "difference": line.difference, "verdict": line.verdict, "remedy": line.remedy}
