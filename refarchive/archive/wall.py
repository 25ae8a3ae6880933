"""After the shoot: frames, work prints, walls, sittings, how frames stand, and the decision, which is the person's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image

    from refarchive.archive import Archive, PathLike
    from refarchive.encoders.base import Progress
    from refarchive.jobs.choosing.printing import Printed
    from refarchive.jobs.choosing.shooting import Shoot
    from refarchive.records.wall import Arrangement, Decision, Judgement, Sitting


class WallDesk:
    """Reached as `archive.after`; holds nothing of its own. Frames are named by id or file name."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    # --- frames -------------------------------------------------------------------------------------------------

    def take(self, slug: str, *sources: PathLike, progress: bool | Progress = False) -> Shoot:
        """Take the files of a shoot in as frames of a scene: folders, or files by name; JPEG, TIFF, raw with a preview.

        Run again, it goes on where it stopped. What cannot be read stands in `refused`, and the rest goes on. Raises
        UnknownRecord, ArchiveUnwritable.
        """
        from refarchive.jobs.choosing.shooting import take

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "taking in") as kit:
            return take(kit, scene, [Path(one) for one in sources])

    def measure(self, slug: str, *, progress: bool | Progress = False) -> None:
        """Measure the frames of a scene against each other, those that were not; safe to stop and to run again."""
        from refarchive.jobs.choosing.comparing import measure

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "measuring") as kit:
            measure(kit, scene)

    def shoot(self, slug: str) -> dict[str, Any]:
        """The frames of a scene in the groups proposed, as JSON: what was measured of each, in words and figures."""
        from refarchive.jobs.choosing.comparing import document

        return document(self._kit, self._archive.scene(slug))

    def between(self, slug: str, one: str, other: str) -> dict[str, Any]:
        """What differs between two frames: `words`, `regions` as fractions of the first, `shift_px`, and `pictures`
        (the first, the second laid over it, and where they differ). Raises UnknownRecord, SourceRefused.
        """
        from refarchive.jobs.choosing.comparing import between

        return between(self._kit, self._archive.scene(slug), one, other)

    def thumbnail(self, slug: str, frame: str, longest: int = 256) -> bytes | None:
        """A frame as a small JPEG, None where its file cannot be read. Raises UnknownRecord."""
        from refarchive.jobs.choosing.kept_frames import thumbnail

        return thumbnail(self._kit, self._archive.scene(slug), frame, longest)

    # --- prints and walls ---------------------------------------------------------------------------------------

    def print_sizes(self, slug: str, frames: Sequence[str], count: int = 1) -> list[str]:
        """How large prints of frames would be on A4, `count` (1, 2 or 4) to a sheet, and what the eye would see of
        their pixels: a sentence for those that come out alike. Raises UnknownRecord, CannotPrint.
        """
        from refarchive.jobs.choosing.printing import sizes

        return sizes(self._kit, self._archive.scene(slug), frames, count)

    def print_frames(
        self,
        slug: str,
        frames: Sequence[str] = (),
        *,
        count: int = 1,
        paper: str = "",
        out: PathLike = ".",
        progress: bool | Progress = False,
    ) -> Printed:
        """Write sheets of work prints as PDF into `out`, and keep what was printed; all frames where none is named.

        Raises UnknownRecord, CannotPrint, SourceRefused.
        """
        from refarchive.jobs.choosing.printing import print_frames

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "setting the prints") as kit:
            return print_frames(kit, scene, frames, count, paper, Path(out))

    def print_index(self, slug: str, *, out: PathLike = ".", progress: bool | Progress = False) -> Printed:
        """Write all frames of a scene, small and in their groups, as PDF into `out`. Raises CannotPrint."""
        from refarchive.jobs.choosing.printing import print_index

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "setting the index") as kit:
            return print_index(kit, scene, Path(out))

    def prints_told(self, slug: str) -> list[str]:
        """What was printed of a scene, a sentence each, by day."""
        from refarchive.jobs.choosing.printing import prints_told

        return prints_told(self._kit, self._archive.scene(slug))

    def hang(
        self,
        slug: str,
        *,
        hung: Sequence[Mapping[str, Any]],
        wall: str = "wall",
        width_mm: float = 4000.0,
        height_mm: float = 2400.0,
        light: str = "",
        note: str = "",
        photograph: PathLike | None = None,
        at: str = "",
    ) -> Arrangement:
        """Keep what hangs where: for each picture `frame`, `x_mm`, `y_mm` (of its left upper corner, from the wall's),
        `width_mm`, `height_mm`, and `finished` for a finished picture of the series. Earlier arrangements stay.

        Raises UnknownRecord, RecordRefused, SourceRefused.
        """
        from refarchive.jobs.choosing.hanging import hang

        place = Path(photograph) if photograph is not None else None
        return hang(self._kit, self._archive.scene(slug), wall, width_mm, height_mm, hung, light, note, place, at)

    def walls(self, slug: str) -> list[dict[str, Any]]:
        """Every arrangement of a scene, oldest first, as JSON, with what is wrong with it in words."""
        from refarchive.jobs.choosing.hanging import document

        return document(self._kit, self._archive.scene(slug))

    def wall_photograph(self, slug: str, number: int, longest: int | None = 1600) -> Image:
        """The photograph kept with an arrangement. Raises UnknownRecord."""
        from refarchive.jobs.choosing.hanging import photograph

        return photograph(self._kit, self._archive.scene(slug), number, longest)

    def print_wall(self, slug: str, *, number: int | None = None, out: PathLike = ".") -> Printed:
        """Write a wall to scale as PDF into `out`, the latest where no number is given. Raises UnknownRecord."""
        from refarchive.jobs.choosing.hanging import print_wall

        return print_wall(self._kit, self._archive.scene(slug), number, Path(out))

    # --- sittings -----------------------------------------------------------------------------------------------

    def sit(
        self, slug: str, criterion: str, *, viewer: str = "", light: str = "", frames: Sequence[str] = ()
    ) -> Sitting:
        """Begin a sitting: by "story", "gesture", "light" or "series", among the frames named, or those that hang on
        the wall, or all. Raises UnknownRecord, RecordRefused, BadQuery for fewer than two frames.
        """
        from refarchive.jobs.choosing.sittings import begin

        return begin(self._kit, self._archive.scene(slug), criterion, viewer, light, frames)

    def next_pair(self, sitting: str) -> dict[str, Any]:
        """The pair of a sitting to be shown next, as JSON: `pair` (left, right; None where nothing is left to ask), the
        `scene`, and in `words` how far it is. Raises UnknownRecord.
        """
        from refarchive.jobs.choosing.sittings import next_pair

        return next_pair(self._kit, sitting)

    def still_open(self, sitting: str) -> list[str]:
        """What the pairs of a sitting have settled so far and what not, a sentence each; never whether it is enough."""
        from refarchive.jobs.choosing.sittings import open_still

        return open_still(self._kit, sitting)

    def say(self, sitting: str, left: str, right: str, says: str, reason: str = "") -> Judgement:
        """Keep what was said of a pair: "left", "right" or "neither yet". Raises UnknownRecord, RecordRefused."""
        from refarchive.jobs.choosing.sittings import say

        return say(self._kit, sitting, left, right, says, reason)

    def judgements(self, slug: str, criterion: str = "") -> list[Judgement]:
        """What was said of pairs of a scene, oldest first; by one criterion where named."""
        return self._kit.store.after.judgements(self._archive.scene(slug).slug, criterion)

    def read_sittings(self, slug: str, sheet: PathLike) -> int:
        """Take in sittings that were written down elsewhere, as CSV; returns how many judgements were new.

        Columns: day, time_utc, sitting, criterion, viewer, left, right, says, reason, repeats (the line's number, from
        1, whose pair it repeats). Raises SheetRefused with the line; nothing is kept then.
        """
        from refarchive.jobs.choosing.sittings import read_sheet

        return read_sheet(self._kit, self._archive.scene(slug), Path(sheet))

    def sittings_told(self, slug: str) -> list[str]:
        """The sittings of a scene, a sentence each."""
        from refarchive.jobs.choosing.sittings import told

        return told(self._kit, self._archive.scene(slug))

    def looked_at(self, slug: str) -> list[str]:
        """Ids of the frames that hung on a wall, or were shown in a sitting, in the order of the shoot."""
        from refarchive.jobs.choosing.sittings import looked_at

        return looked_at(self._kit, self._archive.scene(slug))

    def heard(self, slug: str) -> list[str]:
        """What viewers from outside said of the frames of a scene."""
        from refarchive.jobs.choosing.sittings import heard

        return heard(self._kit, self._archive.scene(slug))

    def standing(self, slug: str, criterion: str) -> dict[str, Any]:
        """How the frames of a scene stand by one criterion, as JSON: strengths with intervals, who is ahead of whom and
        what is not separated, circles, what changed over the weeks, and how far the same pair got the same answer.
        """
        from refarchive.jobs.choosing.standing import document

        return document(self._kit, self._archive.scene(slug), criterion)

    def standing_figure(self, slug: str, criterion: str) -> Figure:
        """The strengths with their intervals, drawn."""
        from refarchive.jobs.choosing.standing import figure

        return figure(self._kit, self._archive.scene(slug), criterion)

    # --- the decision -------------------------------------------------------------------------------------------

    def decide(
        self, slug: str, frame: str, sentence: str, *, turned_down: Mapping[str, str] | None = None, at: str = ""
    ) -> Decision:
        """Keep the sentence that decides for a frame, with those turned down and why. Raises UnknownRecord,
        RecordRefused.
        """
        from refarchive.jobs.choosing.deciding import decide

        return decide(self._kit, self._archive.scene(slug), frame, sentence, turned_down or {}, at)

    def decisions_told(self, slug: str) -> list[dict[str, Any]]:
        """Every decision of a scene, newest first, as JSON: `words`, and `turned_down` as sentences."""
        from refarchive.jobs.choosing.deciding import told

        return told(self._kit, self._archive.scene(slug))

    def finished(self, series: str, *, except_for: str = "") -> list[dict[str, Any]]:
        """The finished pictures of a series, as JSON: the frame last decided for in each scene, in the order kept."""
        from refarchive.jobs.choosing.deciding import finished

        return finished(self._kit, series, except_for)
