"""Pictures as pages take them: photographs as JPEG or PNG, drawings of our own as SVG, measured before they are set."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import Any

from refarchive.errors import CannotPrint

_KINDS = {"JPEG": ("jpg", "image/jpeg"), "PNG": ("png", "image/png")}
_SVG = ("svg", "image/svg+xml")
_MOST_PIXELS = 60_000_000
_MOST_SVG = 4_000_000  # bytes
_INSTRUCTION = re.compile(rb"<\?(?!xml\s)")  # to whoever shows it: a style sheet to be fetched, for instance
_SPACE = "{http://www.w3.org/2000/svg}"
_ELEMENTS = frozenset("svg g title desc path rect circle ellipse line polyline polygon text tspan".split())
_ATTRIBUTES = frozenset(
    "class width height viewBox version role x y dx dy d r cx cy rx ry x1 y1 x2 y2 points transform fill fill-opacity "
    "opacity stroke stroke-width stroke-dasharray stroke-linecap stroke-linejoin stroke-opacity paint-order "
    "font-family font-size font-style font-weight text-anchor".split()
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
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):  # what Pillow raises for a broken file
        kind = None
    if kind not in _KINDS or width * height > _MOST_PIXELS:
        raise CannotPrint(f"The picture {name!r} is no JPEG or PNG that can be set.", "Prepare it again.")
    return Shown(*_KINDS[kind], width, height)


def _drawing(name: str, data: bytes) -> Shown:
    """An SVG of plain shapes and words, its size in millimetres. What its words say is nobody's business here."""
    from defusedxml import ElementTree  # type: ignore[import-untyped]
    from defusedxml.common import DefusedXmlException  # type: ignore[import-untyped]

    problem = CannotPrint(f"The drawing {name!r} is no plain SVG with a size in millimetres.", "Draw it again.")
    if len(data) > _MOST_SVG or _INSTRUCTION.search(data):
        raise problem
    try:
        root = ElementTree.fromstring(data, forbid_dtd=True)
    except (ElementTree.ParseError, DefusedXmlException, ValueError, LookupError):
        raise problem from None
    if not all(map(_plain, root.iter())):
        raise problem
    sizes = [re.fullmatch(r"([0-9]+(?:\.[0-9]+)?)mm", root.get(side, "")) for side in ("width", "height")]
    if root.tag != f"{_SPACE}svg" or not all(sizes):
        raise problem
    width, height = (float(size[1]) for size in sizes if size)
    if not 0 < width <= 2_000 or not 0 < height <= 2_000:
        raise problem
    return Shown(*_SVG, width, height)


def _plain(element: Any) -> bool:
    """Whether an element and its attributes are among those that draw, and name nothing that lies elsewhere."""
    return (
        element.tag.removeprefix(_SPACE) in _ELEMENTS
        and element.tag.startswith(_SPACE)
        and all(name in _ATTRIBUTES and "url" not in value.lower() for name, value in element.items())
    )
