"""A series: its finished pictures in order, what neighbours share and where they part, another frame among them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from refarchive.archive import Archive, PathLike
    from refarchive.encoders.base import Progress
    from refarchive.jobs.choosing.printing import Printed


class SeriesDesk:
    """Reached as `archive.series`; holds nothing of its own. A series is what scenes call so in their plans.

    Its finished pictures are the frames last decided for; "" names the only series there is.
    """

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._kit = archive._kit

    def document(self, series: str = "", *, progress: bool | Progress = False) -> dict[str, Any]:
        """The pictures in order, each pair of neighbours, and how key, contrast and warmth run along them, as JSON.

        Flags, never a score. Raises BadQuery for a series there is none of, SourceRefused.
        """
        from refarchive.jobs.choosing import in_series

        with self._archive._progress(progress, "measuring") as kit:
            return in_series.document(kit, in_series.named(kit, series))

    def in_order(self, series: str = "") -> dict[str, Any]:
        """The pictures in order, as JSON, with the measures and arrangements to order by; nothing is measured."""
        from refarchive.jobs.choosing import in_series

        return in_series.in_order(self._kit, self._named(series))

    def sit(self, slug: str, frame: str, *, progress: bool | Progress = False) -> dict[str, Any]:
        """How a frame would sit at every place of its scene's series, as JSON. Raises BadQuery, UnknownRecord."""
        from refarchive.jobs.choosing import in_series

        scene = self._archive.scene(slug)
        with self._archive._progress(progress, "measuring") as kit:
            return in_series.sit(kit, in_series.series_of(kit, scene), scene, frame)

    def keep_order(self, series: str, frames: Sequence[str], note: str = "", *, at: str = "") -> None:
        """Keep an order of the finished pictures, by the ids of their frames; earlier orders stay. Raises BadQuery."""
        from refarchive.jobs.choosing import in_series

        in_series.keep_order(self._kit, in_series.named(self._kit, series), frames, note, at)

    def propose(
        self,
        series: str,
        arrangement: str,
        measure: str = "",
        *,
        fixed: Mapping[int, int] | None = None,
        progress: bool | Progress = False,
    ) -> dict[str, Any]:
        """Another order by one criterion, as JSON, with its steps beside those of the order now; nothing is kept.

        `fixed` says by place which picture must stand there, both from 0. Raises BadQuery, CannotMeasure.
        """
        from refarchive.jobs.choosing import in_series

        with self._archive._progress(progress, "measuring") as kit:
            return in_series.propose(kit, in_series.named(kit, series), arrangement, measure, fixed)

    def figures(self, series: str = "", *, progress: bool | Progress = False) -> tuple[list[Figure], str]:
        """The series drawn, a matplotlib figure for each line of pictures, with palettes, key and contrast, horizons
        and light beneath; and the same in words.
        """
        from refarchive.jobs.choosing import series_pages

        with self._archive._progress(progress, "drawing") as kit:
            return series_pages.figures(kit, self._named(series))

    def print_page(
        self,
        series: str = "",
        *,
        candidate: tuple[str, str] | None = None,
        out: PathLike = ".",
        progress: bool | Progress = False,
    ) -> Printed:
        """Write the series as PDF into `out`; `candidate` is a scene and a frame to be tried at each place.

        Raises BadQuery, UnknownRecord, CannotPrint.
        """
        from refarchive.jobs.choosing import series_pages

        tried = None if candidate is None else (self._archive.scene(candidate[0]), candidate[1])
        with self._archive._progress(progress, "setting the pages") as kit:
            return series_pages.print_series(kit, self._named(series), tried, Path(out))

    def _named(self, series: str) -> str:
        from refarchive.jobs.choosing import in_series

        return in_series.named(self._kit, series)
