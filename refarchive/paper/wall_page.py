"""The page of a wall: the drawing to a round scale, what hangs where, how large and since when, and what is amiss.

What is amiss is told in words and not put right. Sizes and places are millimetres on the wall, from its left upper
corner, as in `records.wall`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from refarchive.paper import sheets
from refarchive.paper import svg as drawn
from refarchive.paper.blocks import clean
from refarchive.paper.print_sizes import MM_PER_POINT
from refarchive.paper.sheets import GREY, HAIR, Document, Item, rule, words
from refarchive.paper.wall_drawing import (
    EYE_MM,
    SCALES,
    Piece,
    checked,
    kind_of,
    name_of,
    numbered,
    scale_for,
    size_of,
    wall_drawing,
    wall_items,
)
from refarchive.records.wall import Arrangement, Hung

__all__ = [
    "EYE_MM", "SCALES", "Piece", "WallPage", "hanging_problems", "hung_since", "numbered", "scale_for", "wall_drawing",
    "wall_items", "wall_page",
]  # fmt: skip

MOST_TOLD = 60  # sentences
_MOST_OFF = 0.02  # part by which a picture's proportions may differ from those it hangs in


def hung_since(history: Sequence[Arrangement]) -> dict[str, str]:
    """The day since which each frame hangs, without a break, on the wall of the last arrangement; oldest first."""
    since: dict[str, str] = {}
    for one in history:
        if one.wall == history[-1].wall:
            since = {hung.frame: since.get(hung.frame, one.at[:10]) for hung in one.hung}
    return since


# --- what is amiss ----------------------------------------------------------------------------------------------------


def hanging_problems(arrangement: Arrangement, pieces: Mapping[str, Piece] | None = None) -> tuple[str, ...]:
    """Tell what overlaps, what leaves the wall, what hangs twice, and what hangs in other proportions than it has.

    Raises CannotPrint for sizes and places that are no numbers.
    """
    known = pieces or {}
    hung = checked(arrangement)
    names = [f"{n} ({name_of(one, known)})" for n, one in enumerate(hung, start=1)]
    told = []
    for one, name in zip(hung, names, strict=True):
        beyond = [
            f"{by:.0f} mm beyond the {edge} edge"
            for by, edge in (
                (-one.x_mm, "left"),
                (one.x_mm + one.width_mm - arrangement.width_mm, "right"),
                (-one.y_mm, "upper"),
                (one.y_mm + one.height_mm - arrangement.height_mm, "lower"),
            )
            if by > 0.5
        ]
        if beyond:
            told.append(f"{name} reaches {' and '.join(beyond)} of the wall.")
    for n, one in enumerate(hung):
        for m in range(n + 1, len(hung)):
            other = hung[m]
            wide = min(one.x_mm + one.width_mm, other.x_mm + other.width_mm) - max(one.x_mm, other.x_mm)
            tall = min(one.y_mm + one.height_mm, other.y_mm + other.height_mm) - max(one.y_mm, other.y_mm)
            if wide > 0.5 and tall > 0.5:
                told.append(f"{names[n]} and {names[m]} overlap by {wide:.0f} × {tall:.0f} mm.")
            if one.print and one.print == other.print:
                told.append(f"{names[n]} and {names[m]} are one and the same print, which cannot hang twice.")
    for one, name in zip(hung, names, strict=True):
        piece = known.get(one.frame)
        if piece and piece.width_px > 0 and piece.height_px > 0:
            own, given = piece.width_px / piece.height_px, one.width_mm / one.height_mm
            if abs(math.log(own / given)) > _MOST_OFF:
                told.append(
                    f"{name} hangs as {size_of(one)}, {given:.2f} times as wide as high, but its picture is "
                    f"{own:.2f} times as wide as high: measure it again."
                )
    if len(told) > MOST_TOLD:
        told[MOST_TOLD:] = [f"And {len(told) - MOST_TOLD} more of this kind."]
    return tuple(told)


# --- the page ---------------------------------------------------------------------------------------------------------

_WIDE, _TALL, _MARGIN = 297.0, 210.0, 12.0
_ROW, _GUTTER = 4.6, 10.0


CLEAR = "nothing overlaps, and all of it lies on the wall"


@dataclass(frozen=True)
class WallPage:
    """The page of a wall, for `sheets.write_sheets`; its scale, and what is amiss."""

    document: Document
    scale: int
    problems: tuple[str, ...]


def wall_page(arrangement: Arrangement, pieces: Mapping[str, Piece], *, eye_mm: float | None = EYE_MM) -> WallPage:
    """The wall on lying A4, to a round scale, with a list of what hangs and what is amiss.

    Raises CannotPrint as `wall_drawing` does.
    """
    inner = _WIDE - 2.0 * _MARGIN
    top = 29.0
    scale = scale_for(arrangement, inner, _TALL - _MARGIN - top - 26.0)
    problems = hanging_problems(arrangement, pieces)
    _, tall, items = wall_items(arrangement, pieces, scale, at=(_MARGIN, top), eye_mm=eye_mm)
    about = "; ".join(
        part
        for part in (
            f"hung {clean(arrangement.at, 40)[:10]}",
            f"light: {clean(arrangement.light, 160)}" if arrangement.light.strip() else "",
            clean(arrangement.note, 200),
            "" if problems else CLEAR,
        )
        if part
    )
    title = clean(arrangement.wall, 200) or "Wall"
    flow = _Flow(title, [*_head(title, about, scale), *items], top + tall + 3.0)
    flow.listed(numbered(arrangement), pieces)
    if problems:
        flow.told(problems)
    pages = [sheets.sheet(_WIDE, _TALL, one) for one in flow.sheets]
    return WallPage(
        sheets.document(f"Wall, {title}", f"{len(arrangement.hung)} pictures at 1:{scale}.", pages), scale, problems
    )


def _head(title: str, about: str, scale: int) -> list[Item]:
    inner = _WIDE - 2.0 * _MARGIN
    return [
        words(_MARGIN, 12.0, inner - 30.0, title, 15.0, level=1),
        words(_WIDE - _MARGIN - 28.0, 13.4, 28.0, f"1:{scale}", 11.0, align="right"),
        words(_MARGIN, 19.6, inner, about, 8.0, ink=GREY),
    ]


class _Flow:
    """Rows that go on to further sheets where one is full."""

    def __init__(self, title: str, items: list[Item], y: float) -> None:
        self.title, self.sheets, self.y = title, [items], y

    def _next(self) -> None:
        head = words(_MARGIN, _MARGIN, _WIDE - 2.0 * _MARGIN - 34.0, self.title, 9.0, italic=True, level=1)
        page = f"sheet {len(self.sheets) + 1}"
        self.sheets.append([head, words(_WIDE - _MARGIN - 30.0, _MARGIN, 30.0, page, 8.0, align="right", ink=GREY)])
        self.y = _MARGIN + 9.0

    @property
    def _left(self) -> float:
        return _TALL - _MARGIN - self.y

    def listed(self, hung: Sequence[Hung], pieces: Mapping[str, Piece]) -> None:
        """What hangs, in two columns: number, name, kind, size, since."""
        at = 0
        while at < len(hung):
            fit = int((self._left - 5.0) / _ROW)
            if fit < 2:
                self._next()
                continue
            rows = min(fit, math.ceil((len(hung) - at) / 2))
            wide = (_WIDE - 2.0 * _MARGIN - _GUTTER) / 2.0
            for column in range(2):
                part = hung[at + column * rows : at + (column + 1) * rows]
                if part:
                    self._column(part, at + column * rows + 1, pieces, _MARGIN + column * (wide + _GUTTER), wide)
            at += 2 * rows
            self.y += 5.0 + rows * _ROW + 3.0

    def _column(self, part: Sequence[Hung], first: int, pieces: Mapping[str, Piece], x: float, wide: float) -> None:
        ends = (x + 8.0, x + wide - 76.0, x + wide - 48.0, x + wide - 21.0, x + wide)
        items = self.sheets[-1]
        heads = zip(ends, ends[1:], ("what", "as", "mm", "hung since"), strict=False)
        items += [words(a, self.y, b - a - 2.0, head, 6.4, italic=True, ink=GREY) for a, b, head in heads]
        for n, one in enumerate(part):
            y = self.y + 4.6 + n * _ROW
            piece = pieces.get(one.frame)
            said = (
                name_of(one, pieces),
                kind_of(one),
                size_of(one).removesuffix(" mm"),
                clean(piece.since, 40) if piece else "",
            )
            items.append(rule(x, y - 1.5, x + wide, y - 1.5, ink=HAIR))
            items.append(words(x, y, 6.0, str(first + n), 7.4))
            items += [words(a, y, b - a - 2.0, v, 7.4) for a, b, v in zip(ends, ends[1:], said, strict=False)]

    def told(self, said: Iterable[str]) -> None:
        """Sentences across the sheet, as many lines as they need."""
        wide = _WIDE - 2.0 * _MARGIN
        for sentence in said:
            lines = math.ceil(drawn.width_mm(sentence, 7.4 * MM_PER_POINT) / (wide - 8.0))
            high = lines * 7.4 * MM_PER_POINT * 1.3 + 1.4
            if self._left < high:
                self._next()
            self.sheets[-1].append(words(_MARGIN, self.y, wide, sentence, 7.4, cut="wrap", ink=GREY))
            self.y += high
