"""What stands on the sheets that are printed after a shoot: work prints to be hung, and an index of all frames.

A work print is for looking at for weeks: the picture, whole, and under it in small letters which frame it is. At the
foot of each sheet stand a bar of 50 mm, which shows whether the printer kept the scale, and a strip of greys and
colours, always the same. Two strips printed on different days and seen side by side show what has changed in printer,
ink or paper; without them that looks like a difference between pictures.

The strip's colours are given as sRGB values (IEC 61966-2-1) in a picture, so that a printer takes them the way it takes
the pictures; the lightness printed under a grey is that value's L* (ISO/CIE 11664-4, relative to D50). The colours are
chosen here, and less vivid than a screen's, since what a paper cannot show does not visibly drift.

Sizes are in millimetres. Nothing is opened or looked up here; pictures are named.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import Final

from refarchive.errors import CannotPrint
from refarchive.paper import sheets
from refarchive.paper.blocks import clean
from refarchive.paper.print_sizes import Box, Fineness, Layout, Margins, fineness, layout, positive
from refarchive.paper.sheets import GREY, HAIR, Document, Item, picture, rule, words

GREYS: Final = (10, 20, 30, 40, 50, 60, 70, 80, 90, 95)  # L*, to the nearest sRGB value
COLOURS: Final = (
    ("red", (176, 52, 52)),
    ("yellow", (222, 190, 66)),
    ("green", (62, 128, 74)),
    ("cyan", (58, 138, 160)),
    ("blue", (52, 74, 148)),
    ("magenta", (160, 66, 118)),
    ("skin, light", (214, 172, 148)),
    ("skin, dark", (112, 76, 58)),
    ("earth", (128, 108, 78)),
)
STRIP: Final = "strip of greys and colours"  # its name among the pictures
BAR_MM: Final = 50.0
GREY_MM, COLOUR_MM, PATCH_TALL_MM = 5.5, 7.6, 7.0  # widths of a grey and of a colour, and the height of all
MOST_PRINTS: Final = 200
MOST_FRAMES: Final = 1_000  # on an index
CAPTION_MM: Final = 9.0
FOOT_MM: Final = 24.0
_BARE_FOOT_MM: Final = 7.0  # without the strip
_LEAST_WIDE_MM: Final = 180.0  # that the strip and the bar take beside each other


@dataclass(frozen=True)
class Shot:
    """One frame as it is printed: the name of its picture, its pixels (upright), and what identifies it."""

    picture: str
    width_px: int
    height_px: int
    frame: str  # id
    short_id: str
    file_name: str
    scene: str = ""
    alt: str = ""


@dataclass(frozen=True)
class Placed:
    """Where and how large a frame is printed, and how fine it is there."""

    shot: Shot
    sheet: str
    width_mm: float
    height_mm: float
    fineness: Fineness


@dataclass(frozen=True)
class WorkPrints:
    """Sheets of work prints, and what stands on them. `document` is for `sheets.write_sheets`."""

    document: Document
    placed: tuple[Placed, ...]


def work_prints(
    shots: Sequence[Shot],
    per_sheet: int,
    *,
    printed: str,
    first_sheet: int = 1,
    sheet: str = "A4",
    margins: Margins | None = None,
    strip: bool = True,
) -> WorkPrints:
    """Lay frames out on sheets, one, two or four to each, in the order given.

    Parameters
    ----------
    shots
        At most 200.
    per_sheet
        1, 2 or 4.
    printed
        The day, as it is to stand on the sheets.
    first_sheet
        Number of the first sheet; the others follow it.
    sheet, margins
        "A4" or "A3", and the white around, 10 mm unless given.
    strip
        Whether the strip of greys and colours stands at the foot; its picture is `strip_png()`, named `STRIP`.

    Raises
    ------
    CannotPrint
        where a value cannot be used.
    """
    if not 1 <= len(shots) <= MOST_PRINTS:
        raise CannotPrint(f"{len(shots)} frames cannot be printed at once.", f"Choose from 1 to {MOST_PRINTS}.")
    if str(sheet).strip().upper() not in ("A3", "A4"):
        raise CannotPrint(f"Work prints are not laid out on {clean(sheet, 40)!r}.", 'Give "A4" or "A3".')
    first = int(positive(first_sheet, "the number of the first sheet", least=1, most=99_999))
    pages: list[sheets.Sheet] = []
    placed: list[Placed] = []
    for at in range(0, len(shots), max(1, per_sheet)):
        together = shots[at : at + max(1, per_sheet)]
        found = layout(
            per_sheet,
            [_aspect(one) for one in together],
            sheet,
            margins,
            caption_mm=CAPTION_MM,
            foot_mm=FOOT_MM if strip else _BARE_FOOT_MM,
        )
        number = str(first + len(pages))
        if found.foot[2] < _LEAST_WIDE_MM and strip:
            raise CannotPrint(
                f"The strip and the bar need {_LEAST_WIDE_MM:g} mm beside each other; between these margins are "
                f"{found.foot[2]:.0f} mm.",
                "Give margins of at most 15 mm, or leave the strip out.",
            )
        items: list[Item] = []
        for one, box, under in zip(together, found.pictures, found.captions, strict=True):
            placed.append(Placed(one, number, box[2], box[3], fineness(one.width_px, one.height_px, box[2], box[3])))
            items += _print(one, box, under, number, printed, titled=not items)
        items += _foot(found, printed, number, strip)
        pages.append(sheets.sheet(found.width_mm, found.height_mm, items))
    scenes = list(dict.fromkeys(clean(one.scene, 200) for one in shots if one.scene))
    title = f"Work prints, {', '.join(scenes[:3]) or 'no scene named'}"
    about = f"{len(shots)} frames on {len(pages)} sheets, printed {clean(printed, 40)}."
    return WorkPrints(sheets.document(title, about, pages), tuple(placed))


def _aspect(one: Shot | Indexed) -> float:
    across, down = (
        positive(side, f"a side of the picture of {clean(one.file_name, 60)!r}", least=1, most=100_000, unit="px")
        for side in (one.width_px, one.height_px)
    )
    return across / down


def _print(one: Shot, box: Box, under: Box, number: str, printed: str, *, titled: bool) -> list[Item]:
    """A picture and what identifies it, under it from its left edge, or from its cell's where the picture is narrow."""
    said = clean(one.alt, 500) or f"Frame {clean(one.file_name, 80)} of {clean(one.scene, 120) or 'a scene not named'}."
    wide = max(box[2], min(under[2], 84.0))
    left = min(max(box[0] + (box[2] - wide) / 2.0, under[0]), under[0] + under[2] - wide)
    name_wide = wide * 0.5
    line = under[1] + 2.6
    size = f"{box[2]:.0f} × {box[3]:.0f} mm"
    small = "  ·  ".join((clean(one.short_id, 16), f"printed {clean(printed, 24)}", f"sheet {number}", size))
    return [
        words(left, line, wide - name_wide - 2.0, one.scene or "No scene named", 7.6, italic=True, level=int(titled)),
        picture(box, one.picture, said),
        words(left + wide - name_wide, line, name_wide, one.file_name, 7.6, align="right", cut="middle"),
        words(left, line + 3.5, wide, small, 6.2, ink=GREY),
    ]


# --- the foot -------------------------------------------------------------------------------------------------------


def grey_value(lightness: float) -> int:
    """The sRGB value, 0 to 255, of the grey whose L* is nearest."""
    from refarchive.looks.colour import lab_to_srgb

    return round(float(lab_to_srgb([lightness, 0.0, 0.0])[0]) * 255.0)


def lightness_of(value: int) -> float:
    """L* of a grey given as an sRGB value, 0 to 255."""
    from refarchive.looks.colour import srgb_to_lab

    return float(srgb_to_lab([value / 255.0] * 3)[0])


@lru_cache(maxsize=1)
def patches() -> tuple[tuple[str, tuple[int, int, int], str], ...]:
    """The strip from left to right: a name or the L*, the sRGB value, and how the value is printed."""
    greys = [grey_value(wanted) for wanted in GREYS]
    return (
        *((f"L* {lightness_of(v):.1f}", (v, v, v), str(v)) for v in greys),
        *((name.replace(",", ""), rgb, " ".join(map(str, rgb))) for name, rgb in COLOURS),
    )


def patch_edges_mm() -> tuple[float, ...]:
    """Where each patch of the strip begins, from its left end, and where the last one ends."""
    edges = [0.0]
    for n in range(len(patches())):
        edges.append(edges[-1] + (GREY_MM if n < len(GREYS) else COLOUR_MM))
    return tuple(edges)


@lru_cache(maxsize=1)
def strip_png() -> bytes:
    """The strip as a picture, ten pixels to the millimetre, in sRGB."""
    from PIL import Image

    edges = [round(10.0 * edge) for edge in patch_edges_mm()]
    tall = round(10.0 * PATCH_TALL_MM)
    made = Image.new("RGB", (edges[-1], tall))
    for (_, rgb, _), left, right in zip(patches(), edges, edges[1:], strict=False):
        made.paste(rgb, (left, 0, right, tall))
    out = io.BytesIO()
    made.save(out, "PNG")
    return out.getvalue()


def _foot(found: Layout, printed: str, number: str, strip: bool) -> list[Item]:
    left, top, wide, _ = found.foot
    if not strip:
        return _bar(left + wide - BAR_MM, top + 4.0)
    edges, tall = patch_edges_mm(), PATCH_TALL_MM
    y = top + 3.0
    said = "; ".join(f"{name}, sRGB {value}" for name, _, value in patches())
    alt = f"Strip of greys and colours, from the left: {said}."
    items = [picture((left, y, edges[-1], tall), STRIP, alt, sharp=True)]
    for (name, _, value), begins, ends in zip(patches(), edges, edges[1:], strict=False):
        for line, label in ((1.1, name), (2.9, value)):
            items.append(words(left + begins, y + tall + line, ends - begins, label, 4.3, align="center", ink=GREY))
    items += _bar(left + wide - BAR_MM, y + 3.4)
    told = (
        "Compare with the first day’s strip under the same light: where a patch looks different, printer, ink or paper "
        "has changed, not the picture. Greys: L* and sRGB value; colours: sRGB red, green, blue."
    )
    items.append(words(left, y + tall + 6.3, wide, told, 5.6, italic=True, ink=GREY, cut="wrap"))
    blanks = (
        (f"Strip of {clean(printed, 24)}, sheet {number}.    Compared with the strip of", 26.0),
        ("on", 26.0),
        ("by the light of", 34.0),
    )
    items.append(sheets.blanks(left, top + FOOT_MM - 2.0, wide, blanks, 6.2))
    return items


def _bar(left: float, y: float) -> list[Item]:
    """The bar of 50 mm with a tick each 10 mm, its upper edge at y: from the middle of its first tick to its last's."""
    items = [rule(left, y + 2.0, left + BAR_MM, y + 2.0, weight_pt=0.5, ink=sheets.INK)]
    for n in range(6):
        x = left + n * 10.0
        items.append(rule(x, y + (0.0 if n in (0, 5) else 0.9), x, y + 2.0, weight_pt=0.5, ink=sheets.INK))
    items.append(words(left, y + 3.3, 20.0, "0", 5.6))
    items.append(words(left + BAR_MM - 20.0, y + 3.3, 20.0, "50 mm", 5.6, align="right"))
    items.append(words(left + 8.0, y + 3.3, 28.0, "Print at 100 %", 5.6, italic=True, align="center", ink=GREY))
    return items


# --- the index ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Indexed:
    """One frame of an index: the name of its picture ("" where there is none), its pixels, and what stands under it."""

    picture: str
    width_px: int
    height_px: int
    file_name: str
    time: str = ""
    group: str = ""
    alt: str = ""


_SIDE, _TOP, _BOTTOM = 14.0, 26.0, 14.0  # mm
_ACROSS, _DOWN = 5.0, 1.9  # mm between columns; from a picture to its words
_WORDS, _BELOW = 5.4, 4.4  # mm that both lines take, and from them to the next row
_HEADED = 8.2  # mm, of a group's rule and words
_PARTED = 4.0  # of the rule alone, before frames without a group
_FINE = 300.0  # pixels per inch of small pictures


def index_sheets(frames: Sequence[Indexed], *, title: str, day: str = "", columns: int = 5, rows: int = 6) -> Document:
    """All frames of a shoot, small, on upright A4 sheets: `columns` across, and at most `rows` down.

    Frames that follow each other with the same `group` stand together under a thin rule with its words; a new group
    begins a new row. Frames keep their order.

    Raises
    ------
    CannotPrint
        where there are none or more than 1000, or columns and rows are not 3 to 8.
    """
    if not 1 <= len(frames) <= MOST_FRAMES:
        raise CannotPrint(
            f"An index of {len(frames)} frames cannot be printed.", f"Give from 1 to {MOST_FRAMES}, and the rest after."
        )
    across, down = (int(positive(v, n, least=3, most=8)) for v, n in ((columns, "the columns"), (rows, "the rows")))
    wide, tall = 210.0, 297.0
    cell = (wide - 2.0 * _SIDE - _ACROSS * (across - 1)) / across
    high = (tall - _TOP - _BOTTOM - _HEADED) / down - _DOWN - _WORDS - _BELOW
    made: list[list[Item]] = []
    y, on_sheet = 0.0, down
    for group, together in groupby(frames, lambda one: clean(one.group, 200)):
        members = list(together)
        for at in range(0, len(members), across):
            row = members[at : at + across]
            low = min(high, max(cell * max(one.height_px, 1) / max(one.width_px, 1) for one in row))
            step = low + _DOWN + _WORDS + _BELOW
            parted = _HEADED if group else _PARTED if made else 0.0
            needed = step + (parted if at == 0 else 0.0)
            if on_sheet >= down or y + needed - _BELOW > tall - _BOTTOM + 0.01:
                made.append([])
                y, on_sheet = _TOP, 0
            if group and (at == 0 or on_sheet == 0):
                made[-1] += _headed(y, group, continued=at > 0)
                y += _HEADED
            elif at == 0 and on_sheet:
                made[-1].append(rule(_SIDE, y, wide - _SIDE, y, ink=HAIR))
                y += _PARTED
            for n, one in enumerate(row):
                made[-1] += _small(one, (_SIDE + n * (cell + _ACROSS), y, cell, low))
            y += step
            on_sheet += 1
    told = f"{len(frames)} frames" + (f", {clean(day, 40)}" if day else "")
    pages = []
    for number, items in enumerate(made, start=1):
        head = [
            words(_SIDE, 13.0, wide - 2.0 * _SIDE - 46.0, clean(title, 200) or "Index", 15.0, level=1),
            words(wide - _SIDE - 44.0, 14.9, 44.0, f"page {number} of {len(made)}", 8.0, align="right", ink=GREY),
            words(_SIDE, 20.2, wide - 2.0 * _SIDE, told, 8.0, ink=GREY),
        ]
        pages.append(sheets.sheet(wide, tall, [*head, *items]))
    return sheets.document(f"Index, {clean(title, 200)}" if title else "Index", told, pages)


def _headed(y: float, group: str, *, continued: bool) -> list[Item]:
    wide = 210.0 - 2.0 * _SIDE
    return [
        rule(_SIDE, y, _SIDE + wide, y, ink=HAIR),
        words(_SIDE, y + 2.0, wide, group + (", continued" if continued else ""), 8.6, italic=True),
    ]


def _small(one: Indexed, cell: Box) -> Iterable[Item]:
    x, y, wide, high = cell
    aspect = positive(_aspect(one), "the width over the height of a picture", least=0.05, most=20.0)
    size = min(wide, high * aspect), min(high, wide / aspect)
    said = clean(one.alt, 300) or f"Frame {clean(one.file_name, 80)}."
    line = y + high + _DOWN
    # Pictures stand on one line and begin at the left, as their words do.
    box = (x, y + high - size[1], *size)
    yield picture(box, one.picture, said, most_ppi=_FINE, as_it_is_bytes=60_000)
    yield words(x, line, wide, one.file_name, 6.4, cut="middle")
    yield words(x, line + 3.0, wide, one.time, 6.4, ink=GREY)
