"""Plain shapes and words on a drawing of true size: one unit is one millimetre on paper.

What is drawn is SVG 1.1 without script, reference or colour. Every word is escaped and cut to a length. Labels find
their own place: the first free of eight around their point, or one further off with a leader line.

Widths of words are reckoned as of DejaVu Serif, the widest serif that a page is likely to be set in (advance widths
read from its file); in a narrower face a label takes less room than was kept for it.
"""

from __future__ import annotations

import html
import math
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from refarchive.paper.blocks import clean

INK, GREY, RULE, PAPER = "#1a1a1a", "#666666", "#b2b2b2", "#fafafa"
FACES = "Libertinus Serif, Linux Libertine O, Georgia, Times New Roman, serif"
SIZE = 2.55  # mm, of most words: a little over 7 points
LEADING = 1.16  # of a line of words, in its size

Dot = tuple[float, float]
Box = tuple[float, float, float, float]  # left, top, right, bottom

_EM = (
    (0.34, "' ,.il·’j-/:;\\|"),
    (0.41, "f()[]!IJt"),
    (0.51, '"r*_`°–s“”'),
    (0.6, "z?cvxyeao"),
    (0.65, "k$0123456789bdghnpqu{}"),
    (0.76, "LYPTFSZXAVBEKRC"),
    (0.89, "DGOQ#+<=>U^~−×wHN&"),
    (1.03, "%m@…MW"),
)
_WIDE = {character: em for em, characters in _EM for character in characters}
_ROUND = ((1, 0), (1, -1), (1, 1), (-1, 0), (-1, -1), (-1, 1), (0, -1), (0, 1))
LED, CROSSED = 8.0, 3.0  # what a leader line, and a line across the words, cost against each other, as mm of leader
CUT = 25.0  # what a leader line across other words costs, likewise
HEAVY = 0.35  # mm, from which a line is crossed twice as badly
_FURTHER = (4.0, 7.0, 10.0, 14.0, 18.0, 23.0, 29.0, 36.0, 44.0)  # mm, of leader lines


def words(value: object, limit: int = 60) -> str:
    """One line that can be printed, at most `limit` characters; what is cut ends in an ellipsis."""
    text = " ".join(clean(value, 4_000).replace("\ufffe", "").replace("\uffff", "").split())
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def width_mm(text: str, size: float = SIZE) -> float:
    """Room that a line of words takes [mm], rather too much than too little."""
    return size * sum(_em(character) for character in text)


def _em(character: str) -> float:
    if character in _WIDE:
        return _WIDE[character]
    if unicodedata.combining(character):
        return 0.0
    if unicodedata.east_asian_width(character) in "WF":
        return 1.05
    base = unicodedata.normalize("NFD", character)[0]
    return _WIDE.get(base, 1.0)


def clip(start: Dot, end: Dot, box: Box) -> tuple[Dot, Dot] | None:
    """The part of a line inside a box (Liang and Barsky 1984), None where it passes by."""
    (x, y), (dx, dy) = start, (end[0] - start[0], end[1] - start[1])
    first, last = 0.0, 1.0
    for way, room in ((-dx, x - box[0]), (dx, box[2] - x), (-dy, y - box[1]), (dy, box[3] - y)):
        if way == 0.0:
            if room < 0.0:
                return None
        elif way < 0.0:
            first = max(first, room / way)
        else:
            last = min(last, room / way)
    if first > last:
        return None
    return (x + first * dx, y + first * dy), (x + last * dx, y + last * dy)


def crossing(a: Dot, b: Dot, c: Dot, d: Dot) -> bool:
    """Whether the lines from a to b and from c to d cross."""
    return _side(a, b, c) != _side(a, b, d) and _side(c, d, a) != _side(c, d, b)


def _side(start: Dot, end: Dot, at: Dot) -> bool:
    return (end[0] - start[0]) * (at[1] - start[1]) - (end[1] - start[1]) * (at[0] - start[0]) > 0.0


def overlap(one: Box, other: Box) -> float:
    """Area that two boxes share [mm²]."""
    across = min(one[2], other[2]) - max(one[0], other[0])
    down = min(one[3], other[3]) - max(one[1], other[1])
    return across * down if across > 0.0 and down > 0.0 else 0.0


@dataclass(frozen=True)
class Label:
    """Words that belong to a point, or to any one of several points (along a line).

    `gap` is how far they keep from it [mm], `within` the box that they may not leave.
    """

    at: tuple[Dot, ...]
    lines: tuple[str, ...]
    within: Box
    gap: float = 1.6
    size: float = SIZE
    italic: bool = False

    @property
    def room(self) -> tuple[float, float]:
        """Width and height [mm]."""
        return max(width_mm(line, self.size) for line in self.lines), len(self.lines) * LEADING * self.size


class Sheet:
    """A drawing in the making: shapes in the order given, then the words over them."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.taken: list[Box] = []  # by symbols and words
        self.strokes: list[tuple[Dot, Dot]] = []  # lines that words had better not cross
        self.leaders: list[tuple[Dot, Dot]] = []
        self._shapes: list[str] = []
        self._words: list[str] = []

    # -- shapes --------

    def open(self, name: str) -> None:
        """Start a group."""
        self._shapes.append(f'<g class="{name}">')

    def close(self) -> None:
        """End a group."""
        self._shapes.append("</g>")

    def lines(
        self,
        dots: Sequence[Dot],
        name: str,
        *,
        weight: float = 0.25,
        dash: str = "",
        ink: str = INK,
        fill: str = "none",
        closed: bool = False,
        avoid: bool = True,
    ) -> None:
        """A line through points; `avoid` keeps words off it where there is room."""
        shown = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in dots) + ("Z" if closed else "")
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._shapes.append(
            f'<path class="{name}" d="{shown}" fill="{fill}" stroke="{ink}" stroke-width="{_n(weight)}"{dashed} '
            'stroke-linecap="butt" stroke-linejoin="round"/>'
        )
        if avoid:
            self.strokes += list(pairwise(dots)) * (2 if weight >= HEAVY else 1)

    def circle(
        self,
        at: Dot,
        radius: float,
        name: str,
        *,
        weight: float = 0.25,
        dash: str = "",
        ink: str = INK,
        fill: str = "none",
    ) -> None:
        """A circle."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._shapes.append(
            f'<circle class="{name}" cx="{_n(at[0])}" cy="{_n(at[1])}" r="{_n(radius)}" fill="{fill}" '
            f'stroke="{ink}" stroke-width="{_n(weight)}"{dashed}/>'
        )

    def cross(self, at: Dot, half: float, name: str, *, slant: bool = False, weight: float = 0.3) -> None:
        """Two lines that cross at a point, upright or slanting."""
        (x, y), turned = at, half * math.sqrt(0.5)
        arms = ((turned, turned), (turned, -turned)) if slant else ((half, 0.0), (0.0, half))
        shown = "".join(f"M{_n(x - dx)} {_n(y - dy)}L{_n(x + dx)} {_n(y + dy)}" for dx, dy in arms)
        self._shapes.append(
            f'<path class="{name}" d="{shown}" fill="none" stroke="{INK}" stroke-width="{_n(weight)}"/>'
        )

    def arrow(
        self,
        dots: Sequence[Dot],
        name: str,
        *,
        weight: float = 0.35,
        dash: str = "",
        fill: str = INK,
        head: float = 2.2,
    ) -> None:
        """A line that ends in a head; `fill` tells a full head from an open one."""
        (x, y), (bx, by) = dots[-1], dots[-2]
        long = math.hypot(x - bx, y - by) or 1.0
        ux, uy = (x - bx) / long, (y - by) / long
        foot = (x - head * ux, y - head * uy)
        wing = 0.36 * head
        sides = [(foot[0] - wing * uy, foot[1] + wing * ux), (foot[0] + wing * uy, foot[1] - wing * ux)]
        self.lines([*dots[:-1], foot], name, weight=weight, dash=dash)
        self.lines([sides[0], (x, y), sides[1]], f"{name}-head", weight=0.25, fill=fill, closed=True, avoid=False)
        self.keep((min(x, foot[0]) - wing, min(y, foot[1]) - wing, max(x, foot[0]) + wing, max(y, foot[1]) + wing))

    def keep(self, box: Box) -> None:
        """Keep words out of a box."""
        self.taken.append(box)

    # -- words --------

    def text(
        self, at: Dot, line: str, *, size: float = SIZE, italic: bool = False, end: bool = False, ink: str = INK
    ) -> Box:
        """A line of words at a fixed place (left end of its baseline, or right with `end`); its box."""
        style = ' font-style="italic"' if italic else ""
        anchor = ' text-anchor="end"' if end else ""
        self._words.append(
            f'<text x="{_n(at[0])}" y="{_n(at[1])}" font-size="{_n(size)}"{style}{anchor} fill="{ink}">'
            f"{html.escape(line)}</text>"
        )
        long = width_mm(line, size)
        left = at[0] - long if end else at[0]
        box = (left, at[1] - 0.86 * size, left + long, at[1] + 0.3 * size)
        self.keep(box)
        return box

    def label(self, label: Label) -> Box:
        """Set a label where it is free, or where it is least in the way; its box."""
        box, leader = self._place(label)
        if leader is not None:
            self.lines(leader, "leader", weight=0.13, ink=GREY, avoid=False)
            self.leaders.append(leader)
            self.strokes += [leader] * 4  # words over a leader line would seem to be what it names
        for number, line in enumerate(label.lines):
            baseline = box[1] + (number * LEADING + 0.86) * label.size
            self.text((box[0], baseline), line, size=label.size, italic=label.italic)
        return box

    def _place(self, label: Label) -> tuple[Box, tuple[Dot, Dot] | None]:
        """The first free place beside it that no line crosses, else the place that costs least."""
        wide, tall = label.room
        near = [_beside(dot, way, label.gap, wide, tall) for dot in label.at for way in _ROUND]
        inside = [box for box in near if _holds(label.within, box)]
        found: list[tuple[float, Box, tuple[Dot, Dot] | None]] = []
        for box in inside:
            if not self._covered(box):
                cost = CROSSED * self._crossed(box)
                if not cost:
                    return box, None
                found.append((cost, box, None))
        least = min((cost for cost, *_ in found), default=math.inf)
        for off, box, led in _far(label, wide, tall):
            if LED + off >= least:
                break
            if not self._covered(box):
                cost = LED + off + CROSSED * self._crossed(box) + (0.0 if self._clear(led) else CUT)
                least = min(least, cost)
                found.append((cost, box, led))
        if found:
            _, box, leader = min(found, key=lambda one: one[0])
            return box, leader
        rest = inside or [_pushed(label.within, box) for box in near]
        return min(rest, key=lambda box: sum(overlap(box, other) for other in self.taken)), None

    def _covered(self, box: Box) -> bool:
        left, top, right, bottom = box
        return any(one[0] < right and left < one[2] and one[1] < bottom and top < one[3] for one in self.taken)

    def _crossed(self, box: Box) -> int:
        left, top, right, bottom = box
        return sum(
            clip(start, end, box) is not None
            for start, end in self.strokes
            if (start[0] <= right or end[0] <= right)
            and (start[0] >= left or end[0] >= left)
            and (start[1] <= bottom or end[1] <= bottom)
            and (start[1] >= top or end[1] >= top)
        )

    def _clear(self, leader: tuple[Dot, Dot]) -> bool:
        """Whether a leader line passes all others and every box, save those that its own point lies in or beside."""
        (x, y), end = leader
        if any(crossing((x, y), end, *other) for other in self.leaders):
            return False
        for left, top, right, bottom in self.taken:
            own = left - 0.5 <= x <= right + 0.5 and top - 0.5 <= y <= bottom + 0.5
            if not own and clip((x, y), end, (left, top, right, bottom)) is not None:
                return False
        return True

    # -- the whole --------

    def written(self, title: str, description: str) -> str:
        """The drawing as one SVG text."""
        size = f'width="{_n(self.width)}mm" height="{_n(self.height)}mm"'
        ground = f'<rect width="{_n(self.width)}" height="{_n(self.height)}" fill="{PAPER}"/>'
        halo = f'paint-order="stroke" stroke="{PAPER}" stroke-width="0.7" stroke-linejoin="round"'
        return "\n".join(
            (
                '<?xml version="1.0" encoding="UTF-8"?>',
                f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" role="img" {size} '
                f'viewBox="0 0 {_n(self.width)} {_n(self.height)}">',
                f"<title>{html.escape(title)}</title>",
                f"<desc>{html.escape(description)}</desc>",
                ground,
                *self._shapes,
                f'<g class="words" font-family="{FACES}" {halo}>',
                *self._words,
                "</g>",
                "</svg>",
                "",
            )
        )


def bounds(dots: Iterable[Dot], more: float = 0.0) -> Box:
    """The box around points, wider by `more` on every side."""
    xs, ys = zip(*dots, strict=True)
    return min(xs) - more, min(ys) - more, max(xs) + more, max(ys) + more


def _n(value: float) -> str:
    return "0" if abs(value) < 5e-5 else f"{value:.4f}".rstrip("0").rstrip(".")


def _beside(dot: Dot, way: tuple[int, int], gap: float, wide: float, tall: float) -> Box:
    off = gap * (0.75 if all(way) else 1.0)
    left = dot[0] + way[0] * off - (wide if way[0] < 0 else 0.0 if way[0] else wide / 2.0)
    top = dot[1] + way[1] * off - (tall if way[1] < 0 else 0.0 if way[1] else tall / 2.0)
    return left, top, left + wide, top + tall


def _far(label: Label, wide: float, tall: float) -> Iterable[tuple[float, Box, tuple[Dot, Dot]]]:
    for off in _FURTHER:
        for dot in label.at:
            for step in range(16):
                turn = math.radians(22.5 * step)
                ux, uy = math.cos(turn), -math.sin(turn)
                x = dot[0] + ux * (label.gap + off + wide / 2.0)
                y = dot[1] + uy * (label.gap + off + tall / 2.0)
                box = (x - wide / 2.0, y - tall / 2.0, x + wide / 2.0, y + tall / 2.0)
                if _holds(label.within, box):
                    end = (min(max(dot[0], box[0]), box[2]), min(max(dot[1], box[1]), box[3]))
                    long = math.hypot(end[0] - dot[0], end[1] - dot[1])
                    part = max(0.0, 1.0 - 0.4 / long) if long else 0.0
                    near = label.gap * 0.6 / long if long else 0.0
                    dx, dy = end[0] - dot[0], end[1] - dot[1]
                    yield off, box, ((dot[0] + near * dx, dot[1] + near * dy), (dot[0] + part * dx, dot[1] + part * dy))


def _holds(outer: Box, inner: Box) -> bool:
    return outer[0] <= inner[0] and outer[1] <= inner[1] and inner[2] <= outer[2] and inner[3] <= outer[3]


def _pushed(outer: Box, box: Box) -> Box:
    dx = max(0.0, outer[0] - box[0]) or min(0.0, outer[2] - box[2])
    dy = max(0.0, outer[1] - box[1]) or min(0.0, outer[3] - box[3])
    return box[0] + dx, box[1] + dy, box[2] + dx, box[3] + dy
