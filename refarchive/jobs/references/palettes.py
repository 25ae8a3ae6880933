"""Colours of whole archives: the palette of each picture, kept beside the vectors so that search by colour is cheap."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

COLOURS = 8  # palette entries kept for each picture
WIDTH = COLOURS * 4  # L*, a*, b*, share of each


def palette_row(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The palette of an upright sRGB picture as one row of `WIDTH` numbers; unused entries have share 0."""
    import numpy as np

    from refarchive.looks import colour

    found = colour.palette(picture, colours=COLOURS)
    row = np.zeros((COLOURS, 4), dtype=np.float32)
    row[: len(found.shares), :3] = found.lab
    row[: len(found.shares), 3] = found.shares
    return row.reshape(-1)


def rows_as_palettes(rows: NDArray[np.float32]) -> list[Any]:
    """Rows back to `(lab (k, 3), shares (k,))` pairs."""
    table = rows.reshape(len(rows), COLOURS, 4)
    return [(entry[entry[:, 3] > 0, :3], entry[entry[:, 3] > 0, 3]) for entry in table]
