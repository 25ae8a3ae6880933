"""A series on paper: its finished pictures in order and their rhythm, the table of neighbours, how a candidate would
sit, and alternatives in order.

The figure is one line of pictures or several, all equally high and never cropped; beneath each its palette, its lights
and darks on one L* axis that all lines share, where its horizon lies, where its light comes from, its warmth. Nothing
is coloured but the pictures and the bars of their own colours. Every figure drawn stands in a table too.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from refarchive.errors import CannotPrint
from refarchive.frames.ordering import BY_DATE, BY_KEY, CONTRASTING, Order
from refarchive.frames.reads import BETWEEN_NEIGHBOURS, CANNOT_TELL, MEASURES, Read, shown
from refarchive.frames.rhythm import Rhythm
from refarchive.frames.series import Difference, Echo, Pair, Repeat, Seat, echoes, neighbours, rhythms, sit
from refarchive.paper import blocks
from refarchive.paper.blocks import Block, Document, Page
from refarchive.paper.figures import INK, PAPER, RULE
from refarchive.paper.print_sizes import MM_PER_INCH

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

WIDTH, MARGIN, GAP = 168.0, 15.0, 3.0  # mm: the sheet's text, the names of the rows, between pictures
TALLEST, SHORTEST, MANY = 30.0, 18.0, 14.0  # mm of pictures: one line, several, of more than 20 pictures
LEAST_SLOT = 9.0  # mm, for very narrow pictures
BAR, SCORE, LEVEL, LIGHT = 3.0, 22.0, 9.0, 8.0  # mm, heights of the rows
DOTS_PER_INCH = 220
GREY = "#77756f"
NONE = "–"
CANDIDATE = "C"
ABOUT = (
    "What is side by side on the wall, measured; there is no figure for the whole and no best order. Near is no praise "
    "and far no fault. Figures depend on how the files were developed."
)
LEGEND = (
    ("Figure", "Beneath each picture: its colours, as wide as their shares; a line from the 5th to the 95th percentile "
     "of L*, from 0 (black) to 100 (white), with a dot at the median; the row of its strongest level edge, in a frame "
     "as high as the picture; an arrow the way the light falls, where it was marked; warmth in mired, more is warmer."),
    ("far, near", "In the upper, and within the lower, quarter of the differences between all pictures of this series. "
     "Where fewer than five pictures carry a measure, and at the extremes, absolute limits decide, which are ours: "),
    (NONE, "Cannot tell."),
)  # fmt: skip
HEADS = {
    "palette": "Palette, ΔE00",
    "key": "Key, L*",
    "contrast": "Contrast, L*",
    "warmth": "Warmth, mired",
    "horizon": "Horizon, %",
    "light": "Light",
    "scale": "Figure, %",
}


# -- the figure --------


@dataclass(frozen=True)
class _Slot:
    """Where one picture stands in its line: number as shown, its read, left edge and widths in mm."""

    number: str
    read: Read
    picture: int  # in the list of pictures; the candidate comes last
    left: float
    width: float
    own: float  # of the picture itself, which a narrow one does not fill

    @property
    def middle(self) -> float:
        return self.left + self.width / 2


@dataclass(frozen=True)
class _Line:
    slots: tuple[_Slot, ...]
    tall: float  # of its pictures


def _lines(reads: Sequence[Read], candidate: Read | None) -> list[_Line]:
    """The lines that the pictures make, all equally high: as high as they can be in as few lines as they need."""
    shown = [*reads, *([candidate] if candidate else [])]
    least = MANY if len(shown) > 20 else SHORTEST
    lowest = min(least, (WIDTH - MARGIN) / max(read.aspect for read in shown))
    few = _parted(reads, candidate, lowest)
    tall = TALLEST
    while tall > lowest:
        lines = _parted(reads, candidate, tall)
        inside = all(line.slots[-1].left + line.slots[-1].width <= WIDTH + 1e-6 for line in lines)
        if len(lines) == len(few) and inside:
            return lines
        tall -= 0.5
    return few


def _parted(reads: Sequence[Read], candidate: Read | None, tall: float) -> list[_Line]:
    lines: list[list[_Slot]] = [[]]
    at = MARGIN
    for number, read in enumerate([*reads, *([candidate] if candidate else [])]):
        own = read.aspect * tall
        width = max(LEAST_SLOT, own)
        is_candidate = number == len(reads)
        if lines[-1] and is_candidate:
            at += GAP
        if lines[-1] and at + width > WIDTH + 1e-6:
            lines.append([])
            at = MARGIN
        lines[-1].append(_Slot(CANDIDATE if is_candidate else str(number + 1), read, number, at, width, own))
        at += width + GAP
    return [_Line(tuple(slots), tall) for slots in lines]


def line_figures(
    reads: Sequence[Read], pictures: Sequence[NDArray[Any] | None], candidate: Read | None = None
) -> list[Figure]:
    """The series drawn, a matplotlib figure for each line of pictures.

    Parameters
    ----------
    reads
        What was measured, in order.
    pictures
        Small pictures, uint8 (h, w, 3), in the same order, the candidate's last; None for one that cannot be shown.
    candidate
        A picture that does not hang in the series, set apart at the end.

    Raises
    ------
    CannotPrint
        where there are not as many pictures as reads.
    """
    if len(pictures) != len(reads) + (candidate is not None):
        raise CannotPrint(f"{len(pictures)} pictures do not fit {len(reads)} of a series.", "Prepare them again.")
    return [_drawn(line, pictures) for line in _lines(reads, candidate)]


def line_pictures(
    reads: Sequence[Read], pictures: Sequence[NDArray[Any] | None], candidate: Read | None = None
) -> dict[str, bytes]:
    """The figures as PNG files, by the names that `series_page` uses. Takes and raises as `line_figures`."""
    made = {}
    for number, figure in enumerate(line_figures(reads, pictures, candidate), start=1):
        written = io.BytesIO()
        figure.savefig(written, format="png", dpi=DOTS_PER_INCH, facecolor="none", metadata={"Software": None})
        made[_name(number)] = written.getvalue()
    return made


def _name(number: int) -> str:
    return f"series-line-{number:02d}"


def _drawn(line: _Line, pictures: Sequence[NDArray[Any] | None]) -> Figure:
    from matplotlib.figure import Figure as Drawn

    top = 4.5
    bar = top + line.tall + 1.5
    score = bar + BAR + 3.5
    level = score + SCORE + 3.5
    light = level + LEVEL + 2.0
    warm = light + LIGHT + 3.2
    height = warm + 1.8
    figure = Drawn(figsize=(WIDTH / MM_PER_INCH, height / MM_PER_INCH), facecolor=PAPER)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, WIDTH)
    axes.set_ylim(height, 0)
    axes.axis("off")
    _axis(axes, line, score, level, light, warm)
    for slot in line.slots:
        _write(axes, slot.middle, 3.2, slot.number, 7.5, centred=True)
        _picture(axes, slot, pictures[slot.picture], top, line.tall)
        _palette(axes, slot, bar)
        _tones(axes, slot, score)
        _horizon(axes, slot, level)
        _arrow(axes, slot, light)
        mired = slot.read.warmth_mired
        _write(axes, slot.middle, warm, NONE if mired is None else f"{mired:.0f}", 7, centred=True)
    medians = [
        (slot.middle, score + SCORE * (1 - slot.read.key / 100)) for slot in line.slots if slot.number != CANDIDATE
    ]
    if len(medians) > 1:
        axes.plot(*zip(*medians, strict=True), color=GREY, linewidth=0.5, zorder=2)
    apart = next((slot for slot in line.slots[1:] if slot.number == CANDIDATE), None)
    if apart is not None:
        x = apart.left - GAP
        axes.plot([x, x], [top, warm], color=RULE, linewidth=0.5)
    return figure


def _axis(axes: Axes, line: _Line, score: float, level: float, light: float, warm: float) -> None:
    """The rules that the lines share, and what the rows are called."""
    left, right = MARGIN, max(slot.left + slot.width for slot in line.slots)
    for lightness in (0, 25, 50, 75, 100):
        y = score + SCORE * (1 - lightness / 100)
        axes.plot([left - 1.5, right], [y, y], color=RULE, linewidth=0.5 if lightness % 50 == 0 else 0.25, zorder=1)
        if lightness % 50 == 0:
            _write(axes, left - 2.3, y + 0.8, f"{lightness}", 6, end=True)
    for y, name in (
        (score + SCORE / 2 + 0.9, "L*"),
        (level + LEVEL / 2 + 0.9, "horizon"),
        (light + LIGHT / 2 + 0.9, "light"),
        (warm, "mired"),
    ):
        _write(axes, 0.5, y, name, 6.5)


def _write(axes: Axes, x: float, y: float, what: str, size: float, *, centred: bool = False, end: bool = False) -> None:
    align = "center" if centred else "right" if end else "left"
    axes.text(x, y, what, fontsize=size, color=INK, family="serif", ha=align, va="baseline")


def _picture(axes: Axes, slot: _Slot, picture: NDArray[Any] | None, top: float, tall: float) -> None:
    left = slot.middle - slot.own / 2
    if picture is not None:
        box = (left, left + slot.own, top + tall, top)
        axes.imshow(picture, extent=box, aspect="auto", interpolation="antialiased", zorder=2)
        return
    axes.plot(*_frame(left, top, slot.own, tall), color=RULE, linewidth=0.5)
    _write(axes, slot.middle, top + tall / 2 + 0.9, "not shown", 6, centred=True)


def _frame(left: float, top: float, wide: float, tall: float) -> tuple[list[float], list[float]]:
    return [left, left + wide, left + wide, left, left], [top, top, top + tall, top + tall, top]


def _palette(axes: Axes, slot: _Slot, top: float) -> None:
    from matplotlib.patches import Rectangle

    at = slot.left
    for hexed, share in zip(slot.read.palette.hexes, slot.read.palette.shares, strict=True):
        wide = float(share) * slot.width
        axes.add_patch(Rectangle((at, top), wide, BAR, facecolor=hexed, edgecolor="none", linewidth=0))
        at += wide
    axes.plot(*_frame(slot.left, top, slot.width, BAR), color=RULE, linewidth=0.3)


def _tones(axes: Axes, slot: _Slot, top: float) -> None:
    low, middle, high = (top + SCORE * (1 - v / 100) for v in (slot.read.p5, slot.read.key, slot.read.p95))
    x = slot.middle
    axes.plot([x, x], [low, high], color=INK, linewidth=1.0, zorder=3, solid_capstyle="butt")
    for y in (low, high):
        axes.plot([x - 0.8, x + 0.8], [y, y], color=INK, linewidth=1.0, zorder=3, solid_capstyle="butt")
    axes.plot([x], [middle], marker="o", markersize=3.6, color=INK, zorder=4)


def _horizon(axes: Axes, slot: _Slot, top: float) -> None:
    axes.plot(*_frame(slot.left, top, slot.width, LEVEL), color=RULE, linewidth=0.3)
    if slot.read.horizon is None:
        _write(axes, slot.middle, top + LEVEL / 2 + 0.9, NONE, 7, centred=True)
        return
    y = top + slot.read.horizon * LEVEL
    axes.plot([slot.left, slot.left + slot.width], [y, y], color=INK, linewidth=0.8, solid_capstyle="butt")


def _arrow(axes: Axes, slot: _Slot, top: float) -> None:
    """From the side that the light comes from, through the middle."""
    if slot.read.light_deg is None:
        _write(axes, slot.middle, top + LIGHT / 2 + 0.9, NONE, 7, centred=True)
        return
    turn, half = math.radians(slot.read.light_deg), LIGHT / 2 - 0.4
    dx, dy = half * math.cos(turn), -half * math.sin(turn)
    x, y = slot.middle, top + LIGHT / 2
    axes.annotate(
        "",
        xy=(x - dx, y - dy),
        xytext=(x + dx, y + dy),
        arrowprops={"arrowstyle": "-|>,head_width=0.13,head_length=0.3", "color": INK, "linewidth": 0.8,
                    "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip


# -- the page --------


def series_page(
    series: str,
    reads: Sequence[Read],
    *,
    date: str,
    version: str = "",
    candidate: Read | None = None,
    orders: Sequence[tuple[str, Order]] = (),
) -> Document:
    """What the page of a series says; its pictures come from `line_pictures`.

    Parameters
    ----------
    series
        Its name.
    reads
        The finished pictures in order.
    date, version
        As printed in the header.
    candidate
        A picture whose place is looked for.
    orders
        Alternatives with the measure that each goes by ("" for a date).

    Raises
    ------
    CannotMeasure
        where there is no picture, or the candidate hangs in the series already.
    """
    pairs, runs = neighbours(reads), rhythms(reads)
    count = len(reads)
    sections = [
        blocks.section("series", "The series in order", [_in_order(reads, candidate)], start="sheet"),
        blocks.section("rhythm", "Rhythm", [_rhythm(runs)]),
        blocks.section("neighbours", "Side by side", [_neighbours(pairs)]),
    ]
    if candidate is not None:
        seats, again = sit(candidate, reads), echoes(candidate, reads)
        sections.append(
            blocks.section(
                "candidate", f"How “{candidate.title}” would sit", [_seats(seats, again, count)], start="sheet"
            )
        )
    if orders:
        sections.append(blocks.section("orders", "Other orders", [_orders(orders)]))
    sections += [
        blocks.section("figures", "Picture by picture", [_figures(reads, candidate)]),
        blocks.section("words", "How to read it", [blocks.page("", [blocks.facts(_legend())])]),
    ]
    return blocks.document(
        series, f"{count} finished picture{'' if count == 1 else 's'}", series, version, date, ABOUT, sections
    )


def _in_order(reads: Sequence[Read], candidate: Read | None) -> Page:
    plates: list[Block] = []
    for number, line in enumerate(_lines(reads, candidate), start=1):
        names = "; ".join(f"{slot.number} {slot.read.title}" for slot in line.slots)
        ends = line.slots[0].number, line.slots[-1].number
        which = f"Picture {ends[0]}" if ends[0] == ends[1] else f"Pictures {ends[0]} to {ends[1]}"
        alt = (
            f"{which} of the series side by side at one height, and beneath each its colours, its lights and darks on"
            " an axis of L*, its horizon, its light and its warmth. Its figures stand in a table further on."
        )
        plates.append(blocks.plate(_name(number), "", names, alt))
    return blocks.page("", [blocks.text(ABOUT, "small"), *plates])


def _rhythm(runs: Iterable[Rhythm]) -> Page:
    return blocks.page(
        "",
        [
            blocks.facts((one.measure.capitalize(), one.told) for one in runs),
            blocks.text(
                "Chance orders are all orders of the same pictures. Three measures are looked at for two patterns each:"
                " up to one chance series in five shows one.",
                "small",
            ),
        ],
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _cell(one: Difference) -> str:
    """A figure without its unit, and its word."""
    if one.word == CANNOT_TELL:
        return NONE
    figure = one.shown.split(" ")[0]
    return f"{figure} {one.word}".rstrip()


def _row(head: Sequence[str], pair: Pair) -> list[str]:
    return [*head, *(_cell(pair[measure]) for measure in BETWEEN_NEIGHBOURS)]


def _columns(*first: str) -> list[str]:
    return [*first, *(HEADS[measure] for measure in BETWEEN_NEIGHBOURS)]


def _neighbours(pairs: Sequence[Pair]) -> Page:
    if not pairs:
        return blocks.page("", [blocks.text("One picture has no neighbour.")])
    names = [f"{number}, {number + 1}" for number in range(1, len(pairs) + 1)]
    return blocks.page(
        "",
        [
            blocks.text("Steps run from left to right along the wall.", "small"),
            blocks.table(_columns("Pair"), [_row([name], pair) for name, pair in zip(names, pairs, strict=True)]),
            *_told("What repeats", [(name, _repeats(pair.repeats)) for name, pair in zip(names, pairs, strict=True)]),
            *_told(
                "Proportions that change",
                [(n, [p.shapes]) for n, p in zip(names, pairs, strict=True) if not p.shapes.endswith("of one shape.")],
            ),
        ],
    )


def _told(title: str, rows: Iterable[tuple[str, Sequence[str]]]) -> list[Block]:
    """Rows with a heading, or nothing where no row says anything."""
    kept = [(name, lines) for name, lines in rows if lines]
    return [blocks.heading(title), blocks.facts(kept)] if kept else []


def _repeats(found: Sequence[Repeat]) -> list[str]:
    return [f"{_capital(one.kind)}: {one.what}, {one.how}." for one in found]


def _seats(seats: Sequence[Seat], again: Sequence[Echo], count: int) -> Page:
    rows = []
    for seat in seats:
        name = _seat(seat.place, count)
        first = True
        for beside, pair in ((seat.place, seat.before), (seat.place + 1, seat.after)):
            if pair is not None:
                rows.append(_row([name if first else "", str(beside)], pair))
                first = False
    return blocks.page(
        "",
        [
            blocks.text(
                "Every place in turn, in the order of the wall: the candidate's differences to the picture before it"
                " and to the one after. Steps run from left to right.",
                "small",
            ),
            blocks.table(_columns("Place", "Beside"), rows),
            *_told("What it would repeat", _echoed(again)),
        ],
    )


def _echoed(again: Sequence[Echo]) -> list[tuple[str, list[str]]]:
    """What would be repeated, each once, with the numbers of the pictures that have it."""
    found: dict[tuple[str, str], list[str]] = {}
    for echo in again:
        for one in echo.repeats:
            head = _capital(one.kind) if one.kind == "picture" else f"{_capital(one.kind)}: {one.what}"
            found.setdefault((head, one.how), []).append(str(echo.number + 1))
    return [(head, [f"{', '.join(numbers)}: {how}."]) for (head, how), numbers in found.items()]


def _seat(place: int, count: int) -> str:
    if place == 0:
        return "before 1"
    return f"after {count}" if place == count else f"between {place} and {place + 1}"


def _orders(orders: Sequence[tuple[str, Order]]) -> Page:
    rows = []
    for measure, order in orders:
        unit = (lambda v: f"{v:,.0f} days") if order.arrangement == BY_DATE else _with_unit(measure or "key")
        name = f"{_capital(order.arrangement)}, {measure}" if measure else _capital(order.arrangement)
        if order.arrangement == BY_KEY:
            name = "By key, dark to light"
        rows.append(
            [
                name,
                ", ".join(str(k + 1) for k in order.places),
                _now_then(order.now.total, order.then.total, unit),
                _now_then(order.now.greatest, order.then.greatest, unit),
                _now_then(order.now.least, order.then.least, unit),
            ]
        )
    hows = [
        (row[0], [order.how, *_held(order), *_bound(measure, order)])
        for row, (measure, order) in zip(rows, orders, strict=True)
    ]
    return blocks.page(
        "",
        [
            blocks.text(
                "Each by one stated criterion; from the present order to this one. None is a proposal to take.", "small"
            ),
            blocks.table(["Criterion", "Order", "Total of steps", "Greatest step", "Least step"], rows),
            blocks.facts(hows),
        ],
    )


def _with_unit(measure: str) -> Any:
    return lambda value: shown(value, measure)


def _now_then(now: float | None, then: float | None, unit: Any) -> str:
    if now is None or then is None:
        return NONE
    return f"{unit(now)} → {unit(then)}"


def _held(order: Order) -> list[str]:
    if not order.held:
        return []
    which = ", ".join(str(k + 1) for k in order.held)
    return [f"Kept in place, as nothing is known of them by this measure: {which}. Steps beside them are not counted."]


def _bound(measure: str, order: Order) -> list[str]:
    if order.exact or order.bound is None or not measure:
        return []
    figure = shown(order.bound, measure)
    if order.arrangement == CONTRASTING:
        return [f"No order has a least step over {figure}."]
    return [f"No order has a total under {figure}."]


def _figures(reads: Sequence[Read], candidate: Read | None) -> Page:
    rows: list[list[str]] = []
    places: dict[str, list[str]] = {}
    named = [(str(number), read) for number, read in enumerate(reads, start=1)]
    for number, read in [*named, *([(CANDIDATE, candidate)] if candidate else [])]:
        rows.append(
            [
                number,
                read.title,
                f"{read.key:.0f}",
                f"{read.p5:.0f}–{read.p95:.0f}",
                NONE if read.warmth_mired is None else f"{read.warmth_mired:.0f}",
                NONE if read.horizon is None else f"{100 * read.horizon:.0f}",
                NONE if read.light_deg is None else f"{read.light_deg:.0f}°",
                NONE if read.scale is None else f"{100 * read.scale:.0f}",
                f"{read.aspect:.2f} {read.orientation}",
            ]
        )
        if read.place:
            places.setdefault(read.place, []).append(number)
    heads = ["No.", "Title", "Key, L*", "5th–95th", "Mired", "Horizon, %", "Light", "Figure, %", "Shape"]
    return blocks.page(
        "",
        [
            blocks.table(heads, rows),
            *_told("Places", [(", ".join(numbers), [place]) for place, numbers in places.items()]),
            *_told("Cannot tell", _untold(named)),
        ],
    )


def _untold(named: Sequence[tuple[str, Read]]) -> list[tuple[str, list[str]]]:
    """Why a figure is missing, each reason once with the numbers of the pictures."""
    found: dict[tuple[str, str], list[str]] = {}
    for number, read in named:
        for measure, why in read.untold.items():
            found.setdefault((measure, why.removeprefix("Cannot tell: ")), []).append(number)
    return [(_capital(measure), [f"{', '.join(numbers)}: {why}"]) for (measure, why), numbers in found.items()]


def _legend() -> list[tuple[str, str]]:
    limits = "; ".join(
        f"{name} {shown(MEASURES[name].near or 0.0, name)} and {shown(MEASURES[name].far or 0.0, name)}"
        for name in BETWEEN_NEIGHBOURS
    )
    how = [(_capital(name), MEASURES[name].how) for name in BETWEEN_NEIGHBOURS]
    return [(name, words + limits + "." if name.startswith("far") else words) for name, words in LEGEND] + how
