"""Pictures as pages take them: photographs as JPEG or PNG, drawings of our own as SVG, measured before they are set."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

from refarchive.errors import CannotPrint

_KINDS = {"JPEG": ("jpg", "image/jpeg"), "PNG": ("png", "image/png")}
_SVG = ("svg", "image/svg+xml")
_MOST_PIXELS = 60_000_000
_MOST_SVG = 4_000_000  # bytes
_FORBIDDEN = re.compile(
    rb"<\s*(script|foreignObject|image|use|a)\b|\bon[a-z]+\s*=|(xlink:)?href\s*=|url\s*\(", re.IGNORECASE
)


@dataclass(frozen=True)
class Shown:
    """A picture's file suffix and media type, and its size (pixels, or millimetres of a drawing), upright."""

    suffix: str
    media_type: str
    width: float
    height: float

    @property
    def millimetres(self) -> float | None:
        """The width that a drawing is to be set at, so that its scale holds; None for a photograph."""
        return self.width if self.suffix == "svg" else None

    @property
    def aspect(self) -> float:
        return self.width / self.height


def is_drawing(data: bytes) -> bool:
    """Whether a file begins as a drawing does; whether it is one that can be set, `measured` says."""
    return data.lstrip()[:5] in (b"<?xml", b"<svg ", b"<svg\n")


def measured(name: str, data: bytes) -> Shown:
    """Look at a picture. Raises CannotPrint for what is no JPEG, PNG or plain drawing, or is too large."""
    if is_drawing(data):
        return _drawing(name, data)
    from PIL import Image

    try:
        with Image.open(io.BytesIO(data), formats=tuple(_KINDS)) as picture:
            width, height = picture.size
            kind = picture.format
            if picture.getexif().get(0x0112, 1) in (5, 6, 7, 8):
                width, height = height, width
    except (OSError, ValueError, Image.DecompressionBombError):
        kind = None
    if kind not in _KINDS or width * height > _MOST_PIXELS:
        raise CannotPrint(f"The picture {name!r} is no JPEG or PNG that can be set.", "Prepare it again.")
    return Shown(*_KINDS[kind], width, height)


def _drawing(name: str, data: bytes) -> Shown:
    """An SVG without scripts, references or anything from elsewhere, its size in millimetres."""
    from defusedxml import ElementTree  # type: ignore[import-untyped]
    from defusedxml.common import DefusedXmlException  # type: ignore[import-untyped]

    problem = CannotPrint(f"The drawing {name!r} is no plain SVG with a size in millimetres.", "Draw it again.")
    if len(data) > _MOST_SVG or _FORBIDDEN.search(data):
        raise problem
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, DefusedXmlException, ValueError):
        raise problem from None
    sizes = [re.fullmatch(r"([0-9]+(?:\.[0-9]+)?)mm", root.get(side, "")) for side in ("width", "height")]
    if not root.tag.endswith("svg") or not all(sizes):
        raise problem
    width, height = (float(size[1]) for size in sizes if size)
    if not 0 < width <= 2_000 or not 0 < height <= 2_000:
        raise problem
    return Shown(*_SVG, width, height)
