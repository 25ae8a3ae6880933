"""What goes out with a finished picture: words with what they rest on, permissions, editions, metadata, the file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from refarchive.archive import Archive, PathLike
    from refarchive.encoders.base import Progress
    from refarchive.jobs.choosing.printing import Printed
    from refarchive.jobs.choosing.putting_out import PutOut


class PublishDesk:
    """Reached as `archive.publishing`; holds nothing of its own. Frames are named by id or file name."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    def frame(self, slug: str) -> str:
        """The id of the frame last decided for in a scene, "" before any decision."""
        from refarchive.jobs.choosing.deciding import chosen

        found = chosen(self._kit, self._archive.scene(slug).slug)
        return found.id if found else ""

    def words(self) -> dict[str, Any]:
        """The words that values may take: kinds and states of permissions, standings of parts, source types."""
        from refarchive.jobs.choosing.putting_out import words

        return words()

    def document(self, slug: str, frame: str) -> dict[str, Any]:
        """All that is said of a picture, with what the record drafts and what it lacks, as JSON.

        `values` and their `revision`; `caption` and `note` as drafts, each claim with what it rests on; `parts`,
        `checklist`, `editions`, `alt_hints`, `missing`. Raises UnknownRecord.
        """
        from refarchive.jobs.choosing.putting_out import document

        return document(self._kit, self._archive.scene(slug), frame)

    def say(self, slug: str, frame: str, values: Mapping[str, Any], *, expected: int | None = None) -> int:
        """Change what is said of a picture: fields of `records.wall.Particulars`; the rest stays. Returns the revision.

        Raises UnknownRecord, BadQuery, RecordRefused, ChangedMeanwhile; nothing is changed then.
        """
        from refarchive.jobs.choosing.kept_frames import frame_of
        from refarchive.jobs.choosing.particulars import say

        return say(self._kit, frame_of(self._kit, self._archive.scene(slug), frame), values, expected)

    def checklist(self, slug: str, frame: str, on: str = "") -> list[dict[str, Any]]:
        """Permissions and releases as recorded, with what lacks and the next step, on a day (today), as JSON."""
        from refarchive.jobs.choosing.putting_out import checklist

        return checklist(self._kit, self._archive.scene(slug), frame, on)

    def print_statement(
        self, slug: str, frame: str, *, out: PathLike = ".", progress: bool | Progress = False
    ) -> Printed:
        """Write on one page what in the picture is supported, inferred, invented or unknown, as PDF into `out`."""
        from refarchive.jobs.choosing.putting_out import print_statement

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "setting the page") as kit:
            return print_statement(kit, scene, frame, Path(out))

    def print_pages(self, slug: str, frame: str, *, out: PathLike = ".", progress: bool | Progress = False) -> Printed:
        """Write caption, historical note with its evidence, and the statement, as PDF into `out`."""
        from refarchive.jobs.choosing.putting_out import print_pages

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "setting the pages") as kit:
            return print_pages(kit, scene, frame, Path(out))

    def write(
        self,
        slug: str,
        frame: str,
        *,
        final: PathLike | None = None,
        public: bool = True,
        out: PathLike = ".",
        progress: bool | Progress = False,
    ) -> PutOut:
        """Write a copy of the final file into `out`, its picture untouched, with all that is said of it as metadata.

        `final` is the finished JPEG or TIFF where it is another file than the frame that was kept. The public version
        leaves out exact coordinates and the names of persons without a release. A file that is there is not replaced.

        Raises UnknownRecord, SourceRefused, PublishRefused, CannotPrint; nothing is written then.
        """
        from refarchive.jobs.choosing.putting_out import write

        place = Path(final) if final is not None else None
        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "writing the file") as kit:
            return write(kit, scene, frame, place, public, Path(out))

    def write_series(
        self, series: str, out: PathLike, *, base: str = "", progress: bool | Progress = False
    ) -> dict[str, Any]:
        """Write the finished pictures of a series into the new folder `out`, their public versions, with a IIIF
        Presentation 3 manifest whose files will stand below the address `base`. Returns the manifest.

        Raises BadQuery for a series without finished pictures, PublishRefused, SourceRefused, CannotPrint; nothing is
        written then.
        """
        from refarchive.jobs.choosing.in_series import named
        from refarchive.jobs.choosing.putting_out import write_series

        with self._archive._progress(progress, "writing") as kit:
            return write_series(kit, named(kit, series), base, Path(out))
