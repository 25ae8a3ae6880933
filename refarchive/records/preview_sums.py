"""The checksum that a preview carries, so that it can be held against itself.

It is the CRC-32 of all other bytes, in a comment right behind the JPEG's header: to make a preview again from its
original, only to compare, would take a hundred times as long.
"""

from __future__ import annotations

import zlib
from enum import Enum
from pathlib import Path

from refarchive.records.bounded import read_bounded

LARGEST = 32_000_000  # bytes: more than any preview takes
_START = b"\xff\xfe\x00\x18refarchive "  # a comment of 24 bytes, its length among them
_AT = 20  # behind the JFIF header, which comes first of all
_END = _AT + len(_START) + 11


class State(Enum):
    """What a preview's checksum says of it."""

    SOUND = "sound"
    NO_CHECKSUM = "without a checksum"
    DAMAGED = "damaged"
    MISSING = "missing"


def with_sum(jpeg: bytes) -> bytes:
    """A JPEG as Pillow writes it, with its checksum put in."""
    return jpeg[:_AT] + _START + b"%08x..." % zlib.crc32(jpeg) + jpeg[_AT:]


def state(path: Path) -> State:
    """Whether a preview is there and holds what was written. Raises nothing: what cannot be read is damaged."""
    try:
        data = read_bounded(path, LARGEST)
    except FileNotFoundError:
        return State.MISSING
    except OSError:
        return State.DAMAGED
    if data == with_sum(data[:_AT] + data[_END:]):
        return State.SOUND
    # A comment of which a letter is damaged is still one.
    alike = sum(a == b for a, b in zip(data[_AT:_END], _START, strict=False))
    return State.DAMAGED if alike > len(_START) // 2 else State.NO_CHECKSUM


def fits(path: Path, size: tuple[int, int] | None, longest: int) -> bool:
    """Whether a preview without a checksum decodes to its end and has the size of one.

    `size` is that of the upright original, width and height, None where it is not known; `longest` the long side of
    previews, all in pixels. Sides are allowed one pixel for rounding.
    """
    from PIL import Image

    try:
        with Image.open(path, formats=("JPEG",)) as image:
            if "jfif" not in image.info or max(image.size) > longest:
                return False
            if size is not None:
                scale = min(1.0, longest / max(size))
                if any(abs(side - whole * scale) > 1.0 for side, whole in zip(image.size, size, strict=True)):
                    return False
            image.load()
    except Exception:
        return False
    return True
