"""A wall drawn to scale.

The wall is a neutral mid-grey (L* 50), each picture at its place and size, whole, with a small number; thin measure
lines; a bar to measure by; and the line of the eyes. What is a work print and what a finished picture is said in words.
Nothing is corrected: what overlaps, or does not lie on the wall, is drawn so; `wall_page.hanging_problems` tells it.

Millimetres on the wall are counted from its left upper corner, as in `records.wall`; those on paper are so many times
smaller as the scale says. The line of the eyes lies 1.55 m over the lower edge of the wall, which is taken as the
floor: common practice, no source.
"""

from __future__ import annotations

import base64
import html
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from refarchive.errors import CannotPrint
from refarchive.paper import svg as drawn
from refarchive.paper.blocks import clean
from refarchive.paper.print_sizes import MM_PER_POINT, Box, positive
from refarchive.paper.sheets import GREY, INK, Item, area, picture, rule, words
from refarchive.paper.shown import measured
from refarchive.records.wall import Arrangement, Hung

SCALES: Final = (10, 20, 25, 50)
EYE_MM: Final = 1_550.0  # over the floor; common practice, no source
GROUND: Final = "#777777"  # sRGB 119: L* 50.0
BLANK: Final = "#c6c6c6"  # where no picture is at hand
MOST_HUNG: Final = 200
_CAPITAL: Final = 0.645  # of the size of the letters: height of capitals in Libertinus Serif
_LEFT, _RIGHT, _TOP, _BOTTOM = 15.0, 17.0, 3.0, 19.0  # mm around the wall on paper
_MOST_PICTURES: Final = 40_000_000  # bytes inside one SVG
_SMALL: Final = 5.6  # pt


@dataclass(frozen=True)
class Piece:
    """What is known of a picture that hangs: its name, the name of its file among the pictures, and since when."""

    name: str
    picture: str = ""
    width_px: int = 0  # upright; 0 where it is not known
    height_px: int = 0
    since: str = ""  # day


def numbered(arrangement: Arrangement) -> tuple[Hung, ...]:
    """What hangs, in the order of its numbers from 1: from left to right, and from the top where two begin alike."""
    return tuple(sorted(arrangement.hung, key=lambda one: (one.x_mm, one.y_mm, one.frame, one.print)))


def checked(arrangement: Arrangement) -> tuple[Hung, ...]:
    """What hangs, in the order of its numbers. Raises CannotPrint for sizes and places that cannot be."""
    for value, what in ((arrangement.width_mm, "width"), (arrangement.height_mm, "height")):
        positive(value, f"the {what} of the wall", least=200.0, most=100_000.0, unit="mm")
    if len(arrangement.hung) > MOST_HUNG:
        raise CannotPrint(
            f"{len(arrangement.hung)} pictures on one wall cannot be drawn.", f"Draw at most {MOST_HUNG}."
        )
    for one in arrangement.hung:
        of = f"of {clean(one.frame, 40)!r} on the wall"
        for value, what in ((one.width_mm, "width"), (one.height_mm, "height")):
            positive(value, f"the {what} {of}", least=1.0, most=20_000.0, unit="mm")
        for value in (one.x_mm, one.y_mm):
            positive(value, f"the place {of}", least=-100_000.0, most=100_000.0, unit="mm")
    return numbered(arrangement)


def name_of(one: Hung, pieces: Mapping[str, Piece]) -> str:
    """The name, on one line, else the frame's id."""
    piece = pieces.get(one.frame)
    return drawn.words((piece.name if piece else "") or one.frame or "without a name", 60)


def kind_of(one: Hung) -> str:
    """What it is, in words."""
    return "finished picture" if one.finished else "work print" if one.print else "arranged on screen"


def size_of(one: Hung) -> str:
    """Width and height of the picture, in words."""
    return f"{one.width_mm:.0f} × {one.height_mm:.0f} mm"


def told_of(one: Hung, pieces: Mapping[str, Piece]) -> str:
    """Its name, kind and size, in words."""
    return f"{name_of(one, pieces)}, {kind_of(one)}, {size_of(one)}"


# --- the drawing ------------------------------------------------------------------------------------------------------


def scale_for(arrangement: Arrangement, width_mm: float, height_mm: float) -> int:
    """The largest of the scales 1:10, 1:20, 1:25 and 1:50 at which the drawing fits into a room on paper.

    Raises
    ------
    CannotPrint
        where it fits at none of them.
    """
    checked(arrangement)
    for scale in SCALES:
        wide, tall = _extent(arrangement, scale)
        if wide <= width_mm + 1e-6 and tall <= height_mm + 1e-6:
            return scale
    room = width_mm - _LEFT - _RIGHT, height_mm - _TOP - _BOTTOM
    most = [math.floor(side * SCALES[-1] / 100.0) / 10.0 for side in room]  # metres, rounded down
    raise CannotPrint(
        f"A wall of {metres(arrangement.width_mm)} × {metres(arrangement.height_mm)} does not fit at 1:{SCALES[-1]}.",
        f"Divide it into walls of at most {most[0]:.1f} × {most[1]:.1f} m.",
    )


def _extent(arrangement: Arrangement, scale: float) -> tuple[float, float]:
    return _LEFT + arrangement.width_mm / scale + _RIGHT, _TOP + arrangement.height_mm / scale + _BOTTOM


def metres(length_mm: float) -> str:
    """A length in words, as 4.20 m."""
    return f"{length_mm / 1000.0:.2f} m"


def wall_items(
    arrangement: Arrangement,
    pieces: Mapping[str, Piece],
    scale: int,
    *,
    at: tuple[float, float] = (0.0, 0.0),
    eye_mm: float | None = EYE_MM,
) -> tuple[float, float, list[Item]]:
    """The drawing as items of a sheet, with its left upper corner `at` a place on it; its width and height [mm]."""
    hung = checked(arrangement)
    wide, tall = _extent(arrangement, scale)
    left, top = at[0] + _LEFT, at[1] + _TOP
    right, bottom = left + arrangement.width_mm / scale, top + arrangement.height_mm / scale
    items = [area((left, top, right - left, bottom - top), fill=GROUND)]
    if eye_mm is not None and eye_mm < arrangement.height_mm:
        eye = bottom - eye_mm / scale
        items.append(rule(left, eye, right + 2.0, eye, ink="#c4c4c4"))
        items.append(words(right + 3.0, eye - 2.1, _RIGHT - 3.0, "eyes at", _SMALL, ink=GREY))
        items.append(words(right + 3.0, eye + 0.4, _RIGHT - 3.0, metres(eye_mm), _SMALL, ink=GREY))
    frame = (at[0], at[1], at[0] + wide, at[1] + tall)
    boxes = [
        (left + one.x_mm / scale, top + one.y_mm / scale, one.width_mm / scale, one.height_mm / scale) for one in hung
    ]
    for n, (one, box) in enumerate(zip(hung, boxes, strict=True), start=1):
        items += _piece(n, one, box, pieces, frame)
    items += _numbers(boxes, (left, top, right, bottom), frame)
    items += _measures(arrangement, scale, (left, top, right, bottom), eye_mm)
    return wide, tall, items


def _piece(n: int, one: Hung, box: Box, pieces: Mapping[str, Piece], frame: Box) -> list[Item]:
    x, y, wide, tall = box
    piece = pieces.get(one.frame)
    inside = frame[0] <= x and frame[1] <= y and x + wide <= frame[2] and y + tall <= frame[3]
    if not inside:
        # What is not on the drawing is shown as far as it is, without its picture.
        x, y, end, low = max(x, frame[0]), max(y, frame[1]), min(x + wide, frame[2]), min(y + tall, frame[3])
        return [area((x, y, end - x, low - y), fill=BLANK)] if end > x and low > y else []
    items = [area(box, fill=BLANK)]
    if piece and piece.picture and piece.width_px > 0 and piece.height_px > 0:
        aspect = piece.width_px / piece.height_px
        own = (min(wide, tall * aspect), min(tall, wide / aspect))
        if min(own) >= 0.5:
            place = (x + (wide - own[0]) / 2.0, y + (tall - own[1]) / 2.0, *own)
            alt = f"{n}, {told_of(one, pieces)}."
            items.append(picture(place, piece.picture, alt, most_ppi=300.0, as_it_is_bytes=100_000))
    return items


def _numbers(boxes: Sequence[Box], wall: Box, frame: Box) -> Iterable[Item]:
    """A number by each picture: under it, else over or beside it, where that is free; else in its corner."""
    taken = list(boxes)
    size = 6.4
    for n, (x, y, wide, tall) in enumerate(boxes, start=1):
        room, high = drawn.width_mm(str(n), size * MM_PER_POINT), _CAPITAL * size * MM_PER_POINT
        places = (
            (x, y + tall + 0.9), (x, y - 0.9 - high),
            (x + wide + 0.8, y + tall - high), (x - 0.8 - room, y + tall - high),
            (x + wide - room, y + tall + 0.9), (x + wide - room, y - 0.9 - high),
        )  # fmt: skip
        free = [
            p for p in places
            if wall[0] < p[0] and wall[1] < p[1] and p[0] + room < wall[2] and p[1] + high < wall[3]
            and not any(drawn.overlap(_corners((*p, room, high)), _corners(other)) for other in taken)
        ]  # fmt: skip
        if free:
            taken.append((*free[0], room, high))
            yield words(*free[0], room + 1.0, str(n), size, ink="#000000")
        elif frame[0] <= x and frame[1] <= y and x + room + 1.2 <= frame[2] and y + tall <= frame[3]:
            at = (x, y + tall - high - 1.2, room + 1.2, high + 1.2)
            yield area(at, fill="#ffffff")
            yield words(at[0] + 0.6, at[1] + 0.6, room + 1.0, str(n), size, ink="#000000")


def _corners(box: Box) -> Box:
    return box[0], box[1], box[0] + box[2], box[1] + box[3]


def _measures(arrangement: Arrangement, scale: int, wall: Box, eye_mm: float | None) -> list[Item]:
    left, top, right, bottom = wall
    down, aside = bottom + 3.0, left - 3.0
    high = metres(arrangement.height_mm)
    items = [
        rule(left, down, right, down),
        rule(left, down - 1.0, left, down + 1.0),
        rule(right, down - 1.0, right, down + 1.0),
        words(left, down + 1.6, right - left, metres(arrangement.width_mm), _SMALL, align="center", ink=GREY),
        rule(aside, top, aside, bottom),
        rule(aside - 1.0, top, aside + 1.0, top),
        rule(aside - 1.0, bottom, aside + 1.0, bottom),
        words(aside - 12.0, (top + bottom) / 2.0 - 0.7, 10.6, high, _SMALL, align="right", ink=GREY),
    ]
    metre = 1000.0 / scale
    # One metre, or half of one where the wall is narrower than that.
    long, ends = (metre, ("0", "0.5", "1 m")) if right - left >= metre else (metre / 2.0, ("0", "0.25", "0.5 m"))
    y = down + 9.0
    items.append(rule(left, y, left + long, y, weight_pt=0.5, ink=INK))
    for part, label in zip((0.0, 0.5, 1.0), ends, strict=True):
        x = left + part * long
        items.append(rule(x, y - 1.4, x, y, weight_pt=0.5, ink=INK))
        room = min(long / 2.0, 12.0)
        start, align = (
            (x, "left") if part == 0.0 else (x - room, "right") if part == 1.0 else (x - room / 2.0, "center")
        )
        items.append(words(start, y + 1.3, room, label, _SMALL, align=align))  # type: ignore[arg-type]
    said = f"1:{scale} where the page is printed at 100 %"
    items.append(words(left + long + 4.0, y - 1.2, 70.0, said, _SMALL, italic=True, ink=GREY))
    if eye_mm is not None and eye_mm < arrangement.height_mm:
        said = f"Eyes {metres(eye_mm)} over the lower edge, taken as the floor: common practice, no source"
        items.append(words(left + long + 4.0, y + 1.3, 110.0, said, _SMALL, italic=True, ink=GREY))
    return items


def wall_drawing(
    arrangement: Arrangement,
    pieces: Mapping[str, Piece],
    pictures: Mapping[str, bytes] | None = None,
    *,
    width_mm: float = 273.0,
    height_mm: float = 160.0,
    scale: int | None = None,
    eye_mm: float | None = EYE_MM,
) -> str:
    """The wall as one SVG text, its pictures inside it, and under it the names that its numbers stand for.

    Parameters
    ----------
    arrangement
        What hangs where.
    pieces
        What is known of each picture, by its frame's id.
    pictures
        JPEG or PNG files by the names that the pieces give; small ones, since they travel inside the SVG. Where one
        lacks, its place stays blank.
    width_mm, height_mm, scale
        The room for the wall, without the names, and the scale; the largest that fits unless one is given.
    eye_mm
        How high over the lower edge the line of the eyes lies; None leaves it out.

    Raises
    ------
    CannotPrint
        where a number or a picture cannot be used, or the wall fits at no scale.
    """
    chosen = (
        scale_for(arrangement, width_mm, height_mm)
        if scale is None
        else int(positive(scale, "the scale", least=1, most=1000))
    )
    wide, tall, items = wall_items(arrangement, pieces, chosen, eye_mm=eye_mm)
    # A narrow wall is drawn on a sheet that its words have room on.
    ends = [
        item["x"] + drawn.width_mm(item["text"], item["size"] * MM_PER_POINT)
        for item in items
        if item.get("align") == "left"
    ]
    wide = max(wide, 110.0, *ends)
    hung = numbered(arrangement)
    columns = 2 if wide >= 190.0 and len(hung) > 3 else 1
    rows = math.ceil(len(hung) / columns)
    room = (wide - 6.0 * (columns - 1)) / columns
    for n, one in enumerate(hung, start=1):
        column, row = divmod(n - 1, rows)
        x, y = column * (room + 6.0), tall + 2.0 + row * 4.0
        items.append(words(x, y, 6.0, str(n), 7.0, align="right"))
        items.append(words(x + 8.0, y, room - 8.0, _fitted(told_of(one, pieces), room - 8.0, 7.0), 7.0))
    told = [f"{n}: {told_of(one, pieces)}." for n, one in enumerate(hung, start=1)]
    about = f"The wall {drawn.words(arrangement.wall)}, drawn 1:{chosen}. {' '.join(told) or 'Nothing hangs on it.'}"
    return _svg(wide, tall + 2.0 + rows * 4.0 + 1.0, items, pictures or {}, drawn.words(arrangement.wall), about)


def _fitted(line: str, room_mm: float, size_pt: float) -> str:
    while drawn.width_mm(line, size_pt * MM_PER_POINT) > room_mm and len(line) > 2:
        line = line[:-2].rstrip() + "…"
    return line


def _svg(wide: float, tall: float, items: Iterable[Item], pictures: Mapping[str, bytes], title: str, about: str) -> str:
    """Items of a sheet as SVG 1.1 without script or reference; pictures travel inside."""
    left = _MOST_PICTURES
    shapes = []
    for item in items:
        x, y = item["x"], item["y"]
        if item["type"] == "area":
            shapes.append(f'<rect {_svg_box(item)} fill="{item["fill"]}"/>')
        elif item["type"] == "rule":
            shapes.append(
                f'<path d="M{x:.3f} {y:.3f}l{item["w"]:.3f} {item["h"]:.3f}" fill="none" stroke="{item["ink"]}" '
                f'stroke-width="{item["weight"] * MM_PER_POINT:.3f}"/>'
            )
        elif item["type"] == "words":
            shapes.append(_svg_words(item))
        elif item["picture"] in pictures:
            data = pictures[item["picture"]]
            shown = measured(item["picture"], data)
            left -= len(data)
            if shown.suffix == "svg" or left < 0:
                raise CannotPrint("The pictures of the wall are no small JPEG or PNG files.", "Give their previews.")
            code = base64.b64encode(data).decode("ascii")
            shapes.append(
                f'<image {_svg_box(item)} preserveAspectRatio="xMidYMid meet" '
                f'href="data:{shown.media_type};base64,{code}">'
                f"<title>{html.escape(item['alt'])}</title></image>"
            )
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" role="img" width="{wide:.3f}mm" '
            f'height="{tall:.3f}mm" viewBox="0 0 {wide:.3f} {tall:.3f}">',
            f"<title>{html.escape(title)}</title>",
            f"<desc>{html.escape(about)}</desc>",
            f'<rect width="{wide:.3f}" height="{tall:.3f}" fill="{drawn.PAPER}"/>',
            f'<g font-family="{drawn.FACES}">',
            *shapes,
            "</g>",
            "</svg>",
            "",
        )
    )


def _svg_box(item: Mapping[str, Any]) -> str:
    return f'x="{item["x"]:.3f}" y="{item["y"]:.3f}" width="{item["w"]:.3f}" height="{item["h"]:.3f}"'


def _svg_words(item: Mapping[str, Any]) -> str:
    size = item["size"] * MM_PER_POINT
    anchor, off = {"left": ("start", 0.0), "center": ("middle", 0.5), "right": ("end", 1.0)}[item["align"]]
    style = ' font-style="italic"' if item["style"] == "italic" else ""
    return (
        f'<text x="{item["x"] + off * item["w"]:.3f}" y="{item["y"] + _CAPITAL * size:.3f}" font-size="{size:.3f}" '
        f'text-anchor="{anchor}"{style} fill="{item["ink"]}">{html.escape(item["text"])}</text>'
    )
