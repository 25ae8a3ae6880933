"""Small pictures for a sheet of many: made from the preview, kept in memory for as long as the preview is the same."""

from __future__ import annotations

import io
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from refarchive.errors import ArchiveDamaged
from refarchive.records.bounded import open_regular
from refarchive.records.files import PREVIEW_SIDE

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_KEPT = 2_000  # about 10 KB each


def thumbnail(preview: Path, longest: int) -> bytes:
    """JPEG of a preview file, its long side at most `longest` pixels; a smaller preview is not made larger.

    Raises ArchiveDamaged where the file is no picture any more.
    """
    from PIL import Image

    try:
        known = preview.stat()
        return _made(preview, longest, known.st_mtime_ns, known.st_size)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):  # what Pillow raises for a broken file
        raise ArchiveDamaged(
            f"The preview {preview.name} cannot be read.", "Make it anew: refarchive verify ARCHIVE --repair"
        ) from None


def pixels(small: bytes) -> NDArray[np.uint8]:
    """A thumbnail as an array of shape (height, width, 3)."""
    import numpy as np
    from PIL import Image

    with Image.open(io.BytesIO(small), formats=["JPEG"]) as picture:
        return np.asarray(picture.convert("RGB"))


@lru_cache(maxsize=MOST_KEPT)
def _made(preview: Path, longest: int, _changed: int, _size: int) -> bytes:
    from PIL import Image

    with open_regular(preview) as file, Image.open(file, formats=["JPEG"]) as picture:
        if max(picture.size) > PREVIEW_SIDE:
            raise ValueError("larger than any preview")
        # A JPEG can be read at a half, a quarter or an eighth of its size, several times as fast; twice the size that
        # is wanted leaves enough to reduce well.
        picture.draft("RGB", (2 * longest, 2 * longest))
        small = picture.convert("RGB")
    small.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    data = io.BytesIO()
    small.save(data, "JPEG", quality=85)
    return data.getvalue()
