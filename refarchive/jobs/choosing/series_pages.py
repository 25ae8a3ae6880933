"""A series on the screen and on paper: drawn line by line, with a frame tried at each place."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotMeasure, SourceRefused
from refarchive.frames.ordering import BY_DATE, BY_KEY, SMOOTH
from refarchive.frames.reads import Read
from refarchive.jobs.choosing import deciding, in_series
from refarchive.jobs.choosing.kept_frames import frame_of, frame_picture
from refarchive.jobs.choosing.printing import Printed
from refarchive.jobs.kit import Kit
from refarchive.jobs.planning.dossier import write_whole
from refarchive.paper import series_page
from refarchive.records.model import Frame, Scene
from refarchive.scenes.plan import slug_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SMALL_PX = 900  # long side of pictures in a line
ORDERS = ((SMOOTH, "palette"), (SMOOTH, "key"), (BY_KEY, ""), (BY_DATE, ""))  # shown on paper beside the present one


def figures(kit: Kit, series: str) -> tuple[list[Figure], str]:
    """The series drawn, a figure for each line, and what they show in words; nothing for a series without pictures."""
    reads, pictures, _ = _looked_at(kit, series, None)
    if not reads:
        return [], ""
    titles = "; ".join(f"{number}. {one.title}" for number, one in enumerate(reads, start=1))
    words = f"The series in order: {titles}. Beneath each its colours, its lights and darks, horizon, light and warmth."
    return series_page.line_figures(reads, pictures), words


def print_series(kit: Kit, series: str, tried: tuple[Scene, str] | None, out: Path) -> Printed:
    """Write the page of a series. Raises CannotMeasure where it has no picture, SourceRefused, CannotPrint.

    Told through `kit.progress`; stopped at any step, nothing is written.
    """
    from refarchive.paper.pdf import count_pages, write_pdf

    reads, pictures, candidate = _looked_at(kit, series, tried)
    orders = []
    for arrangement, measure in ORDERS if len(reads) > 2 else ():
        try:
            orders.append((measure, in_series.order_of(kit, series, reads, arrangement, measure)))
        except CannotMeasure:
            continue  # a measure that none of the pictures has
    kit.tell(len(reads), len(reads) + 1, "setting the pages")
    document = series_page.series_page(series, reads, date=date.today().isoformat(), candidate=candidate, orders=orders)
    pdf = write_pdf(document, series_page.line_pictures(reads, pictures, candidate))
    kit.tell(len(reads) + 1, len(reads) + 1, "writing the pages")
    path = write_whole(out / f"{slug_of(series)}-series.pdf", pdf)
    return Printed(path, f"{len(reads)} pictures on {count_pages(pdf)} pages.")


def _looked_at(kit: Kit, series: str, tried: tuple[Scene, str] | None) -> tuple[list[Read], list[Any], Read | None]:
    """What was measured of the series, small pictures in the same order, and the candidate, whose picture is last.

    Of the candidate's own scene the finished picture is left out.
    """
    pairs: list[tuple[Scene, Frame]] = [
        pair for pair in deciding.in_series(kit, series) if tried is None or pair[0].slug != tried[0].slug
    ]
    own = [] if tried is None or not pairs else [(tried[0], frame_of(kit, *tried))]
    reads = in_series.read_all(kit, [*pairs, *own])
    pictures = [_small(kit, frame) for _, frame in [*pairs, *own]]
    return reads[: len(pairs)], pictures, reads[-1] if own else None


def _small(kit: Kit, frame: Frame) -> Any:
    import numpy as np

    try:
        return np.asarray(frame_picture(kit, frame, SMALL_PX))
    except SourceRefused:
        return None
