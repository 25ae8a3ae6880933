"""What stands where in a PDF, read from its content streams by pypdf: pictures and filled paths, in millimetres."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pypdf
from pypdf.generic import ContentStream

Matrix = tuple[float, float, float, float, float, float]
MM = 25.4 / 72.0


@dataclass(frozen=True)
class Found:
    """A picture, a filled or a stroked path: its box from the sheet's left upper corner, and what draws it."""

    kind: str  # "picture", "filled" or "stroked"
    left: float
    top: float
    width: float
    height: float
    thing: Any  # the image XObject, or the colour as written

    @property
    def box(self) -> tuple[float, float, float, float]:
        return self.left, self.top, self.width, self.height


def _times(a: Matrix, b: Matrix) -> Matrix:
    """First a, then b (ISO 32000-1, 8.3.4)."""
    return (
        a[0] * b[0] + a[1] * b[2],
        a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2],
        a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4],
        a[4] * b[1] + a[5] * b[3] + b[5],
    )


def _at(m: Matrix, x: float, y: float) -> tuple[float, float]:
    return m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]


def _walked(operations: Any, resources: Any, reader: pypdf.PdfReader, matrix: Matrix, high: float) -> Iterator[Found]:
    stack: list[tuple[Matrix, Any]] = []
    path: list[tuple[float, float]] = []
    colour: Any = None

    def boxed(kind: str, dots: list[tuple[float, float]], thing: Any) -> Found:
        xs, ys = [x for x, _ in dots], [y for _, y in dots]
        return Found(
            kind, min(xs) * MM, (high - max(ys)) * MM, (max(xs) - min(xs)) * MM, (max(ys) - min(ys)) * MM, thing
        )

    for operands, operator in operations:
        name = operator.decode() if isinstance(operator, bytes) else operator
        if name == "q":
            stack.append((matrix, colour))
        elif name == "Q":
            matrix, colour = stack.pop()
        elif name == "cm":
            matrix = _times(tuple(map(float, operands)), matrix)  # type: ignore[arg-type]
        elif name in ("scn", "sc", "rg", "g"):
            colour = tuple(map(float, operands))
        elif name in ("m", "l"):
            path.append(_at(matrix, float(operands[0]), float(operands[1])))
        elif name == "re":
            x, y, wide, tall = map(float, operands)
            path += [_at(matrix, x, y), _at(matrix, x + wide, y + tall)]
        elif name in ("f", "f*", "B", "S"):
            if path:
                yield boxed("stroked" if name == "S" else "filled", path, colour)
            path = []
        elif name == "n":
            path = []
        elif name == "Do":
            thing = resources["/XObject"][operands[0]].get_object()
            if thing["/Subtype"] == "/Image":
                yield boxed("picture", [_at(matrix, x, y) for x in (0, 1) for y in (0, 1)], thing)
            else:
                own = tuple(map(float, thing.get("/Matrix", (1, 0, 0, 1, 0, 0))))
                inner = ContentStream(thing, reader).operations
                yield from _walked(inner, thing.get("/Resources", resources), reader, _times(own, matrix), high)  # type: ignore[arg-type]


def placed(pdf: bytes, page: int = 0) -> list[Found]:
    """Everything drawn on a page, in order."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    sheet = reader.pages[page]
    operations = ContentStream(sheet.get_contents(), reader).operations
    high = float(sheet.mediabox.height)
    return list(_walked(operations, sheet["/Resources"], reader, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), high))


def pictures(pdf: bytes, page: int = 0) -> list[Found]:
    """The pictures of a page, in order."""
    return [one for one in placed(pdf, page) if one.kind == "picture"]


def sheet_mm(pdf: bytes, page: int = 0) -> tuple[float, float]:
    """Width and height of a sheet."""
    box = pypdf.PdfReader(io.BytesIO(pdf)).pages[page].mediabox
    return float(box.width) * MM, float(box.height) * MM


def profile_of(picture: Any) -> bytes:
    """The ICC profile of an image XObject. Fails where its colours are of the device."""
    space = picture["/ColorSpace"]
    assert space[0] == "/ICCBased", space
    return bytes(space[1].get_object().get_data())
