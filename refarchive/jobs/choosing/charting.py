"""Reading a 24-patch chart in a picture file, and writing the picture as the fitted correction would leave it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from refarchive.errors import BadQuery, SourceRefused
from refarchive.jobs.planning.dossier import write_whole
from refarchive.records.files import open_picture

LONGEST = 6_000  # pixels of the long side that is read


def read(path: Path, corners: Sequence[tuple[float, float]], edition: str, out: Path | None) -> dict[str, Any]:
    """The chart as JSON; `corrected` names the PNG written, or is null where there was nothing to correct by.

    Raises SourceRefused for what is no picture, CannotMeasure for corners and editions that cannot be, BadQuery for an
    `out` that is no PNG, CannotPrint where it cannot be written.
    """
    import numpy as np
    from PIL import Image

    from refarchive.looks import chart

    if not path.exists():
        raise SourceRefused(f"There is no file at {str(path)!r}.", "Name the picture file with the chart in it.")
    if out is not None and out.suffix.lower() != ".png":
        raise BadQuery(f"{out.name!r} is no name for a PNG.", "End it in .png.")
    picture = np.asarray(open_picture(path, longest=LONGEST))
    found = chart.read_chart(picture, corners, edition)
    written = None
    if out is not None and found.matrix is not None:
        data = io.BytesIO()
        Image.fromarray(chart.corrected(picture, found.matrix)).save(data, "PNG")
        written = write_whole(out, data.getvalue())
    told = asdict(found)
    told["matrix"] = None if found.matrix is None else [[float(v) for v in row] for row in found.matrix]
    return {**told, "corrected": str(written) if written else None}
