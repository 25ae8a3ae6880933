"""How large pictures can stand on a sheet, and how fine they would be there: told before anything is printed.

Millimetres, pixels and pixels per inch; boxes are (left, top, width, height) from the sheet's left upper corner. Every
picture keeps its proportions, and nothing of it is cut away.

Sources. Sheets: ISO 216:2007, series A (the tests hold its table). How fine: a pixel is lost to sight where it spans
less than one minute of arc, the gap that a visual acuity of 1.0 resolves (ISO 8596; the value is from memory, not read
in the standard). The two distances of looking are common practice, no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from numbers import Real
from typing import Final

from refarchive.errors import CannotPrint

MM_PER_INCH: Final = 25.4
MM_PER_POINT: Final = MM_PER_INCH / 72.0
ARC_MIN: Final = 1.0  # minutes of arc that an eye of acuity 1.0 parts; from memory
READING_MM: Final = 300.0  # a print in the hand; common practice, no source
ARM_MM: Final = 500.0  # a print at arm's length; common practice, no source
COUNTS: Final = (1, 2, 4)  # pictures on a work-print sheet
LEAST_MM: Final = 10.0  # of a picture's shorter side: below that there is nothing to look at
_GRIDS: Final = {1: ((1, 1),), 2: ((2, 1), (1, 2)), 4: ((2, 2), (4, 1), (1, 4))}  # columns, rows

Box = tuple[float, float, float, float]


def iso_a_mm(number: int) -> tuple[int, int]:
    """Shorter and longer side of a sheet A`number` [mm], by the rule of ISO 216.

    A0 has an area of one square metre and sides as 1 to √2; each further size is half of the one before, and sides are
    given in whole millimetres, rounded down where at least 0.8 of one is not reached.

    Raises
    ------
    CannotPrint
        where the number is not a whole one from 0 to 10.

    >>> iso_a_mm(4)
    (210, 297)
    """
    if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number <= 10:
        raise CannotPrint(f"There is no sheet A{number!s:.20}.", "Give a size from A0 to A10.")
    short, long = (math.floor(1000.0 * 2.0 ** (power - number / 2.0) + 0.2) for power in (-0.25, 0.25))
    return short, long


def sheet_mm(name: str) -> tuple[int, int]:
    """Shorter and longer side [mm] of a sheet named as "A4". Raises CannotPrint for any other name."""
    found = re.fullmatch(r"[Aa]([0-9]|10)", str(name).strip())
    if not found:
        raise CannotPrint(f"{str(name)[:40]!r} is no sheet of ISO 216, series A.", 'Give a size from "A0" to "A10".')
    return iso_a_mm(int(found[1]))


@dataclass(frozen=True)
class Margins:
    """White around all that is printed [mm]; desk printers leave 3 to 6 mm blank (common practice, no source)."""

    left: float = 10.0
    top: float = 10.0
    right: float = 10.0
    bottom: float = 10.0


@dataclass(frozen=True)
class Layout:
    """A sheet and where its pictures stand on it."""

    sheet: str
    width_mm: float
    height_mm: float
    pictures: tuple[Box, ...]  # in the order given, whole and uncropped
    captions: tuple[Box, ...]  # under each, as wide as its cell
    foot: Box  # across the sheet, for what belongs to all

    @property
    def landscape(self) -> bool:
        """Whether the sheet is wider than high."""
        return self.width_mm > self.height_mm


def layout(
    count: int,
    aspects: Sequence[float],
    sheet: str = "A4",
    margins: Margins | None = None,
    *,
    caption_mm: float = 0.0,
    foot_mm: float = 0.0,
    gap_mm: float = 6.0,
) -> Layout:
    """Find the places of one, two or four pictures on a sheet, as large as they can be.

    Parameters
    ----------
    count
        How many places: 1, 2 or 4. Fewer pictures than places leave the last ones empty.
    aspects
        Width over height of each picture, upright, from 1/20 to 20.
    sheet, margins
        ISO 216 name, and the white around.
    caption_mm, foot_mm, gap_mm
        Height kept free under each picture and at the foot of the sheet, and the room between pictures.

    The sheet is upright or lies, and its places stand in columns and rows, whichever gives the pictures most area;
    where two ways give as much, the upright sheet. Pictures of one row stand on one line.

    Raises
    ------
    CannotPrint
        where a value cannot be used, or a picture would be under 10 mm.
    """
    if isinstance(count, bool) or count not in COUNTS:
        raise CannotPrint(f"{count!s:.20} pictures on a sheet cannot be laid out.", "Give 1, 2 or 4.")
    shapes = [positive(a, "the width over the height of a picture", least=0.05, most=20.0) for a in aspects]
    if not 1 <= len(shapes) <= count:
        raise CannotPrint(
            f"{len(shapes)} pictures were given for a sheet of {count}.", f"Give from 1 to {count} pictures a sheet."
        )
    short, long = sheet_mm(sheet)
    white = margins or Margins()
    sides = (white.left, white.top, white.right, white.bottom)
    left, top, right, bottom = (positive(m, "a margin", least=0.0, most=short / 3.0, unit="mm") for m in sides)
    caption, foot, gap = (
        positive(value, name, least=0.0, most=long / 3.0, unit="mm")
        for value, name in ((caption_mm, "the caption"), (foot_mm, "the foot"), (gap_mm, "the gap between pictures"))
    )
    best: tuple[float, Layout] | None = None
    for wide, tall in ((short, long), (long, short)):
        room = (left, top, wide - left - right, tall - top - bottom - foot)
        for columns, rows in _GRIDS[count]:
            found = _placed(shapes, room, columns, rows, caption, gap)
            if found is None:
                continue
            area = sum(box[2] * box[3] for box in found[0])
            if best is None or area > best[0] * (1.0 + 1e-9):
                at_foot = (left, tall - bottom - foot, wide - left - right, foot)
                best = area, Layout(sheet.strip().upper(), float(wide), float(tall), *found, foot=at_foot)
    if best is None:
        raise CannotPrint(
            f"A picture would be under {LEAST_MM:g} mm on this sheet.", "Take fewer to a sheet, or a larger sheet."
        )
    return best[1]


def _placed(
    shapes: Sequence[float], room: Box, columns: int, rows: int, caption: float, gap: float
) -> tuple[tuple[Box, ...], tuple[Box, ...]] | None:
    left, top, wide, tall = room
    cell = (wide - gap * (columns - 1)) / columns, (tall - gap * (rows - 1)) / rows - caption
    if min(cell) < LEAST_MM:
        return None
    sizes = [(min(cell[0], cell[1] * a), min(cell[1], cell[0] / a)) for a in shapes]
    if min(min(size) for size in sizes) < LEAST_MM:
        return None
    pictures, captions = [], []
    for n, (width, height) in enumerate(sizes):
        row, column = divmod(n, columns)
        x, y = left + column * (cell[0] + gap), top + row * (cell[1] + caption + gap)
        tallest = max(size[1] for size in sizes[row * columns : (row + 1) * columns])
        # All of a row end on one line, in the middle of what height is left, so that their words stand on one line too.
        line = y + (cell[1] + tallest) / 2.0
        pictures.append((x + (cell[0] - width) / 2.0, line - height, width, height))
        captions.append((x, line, cell[0], caption))
    return tuple(pictures), tuple(captions)


# --- how fine ---------------------------------------------------------------------------------------------------------


def needed_ppi(distance_mm: float) -> float:
    """Pixels per inch from which single pixels are lost to an eye of acuity 1.0 at a distance [mm].

    >>> round(needed_ppi(300.0))
    291
    """
    distance = positive(distance_mm, "the distance of looking", least=50.0, most=100_000.0, unit="mm")
    return MM_PER_INCH / (2.0 * distance * math.tan(math.radians(ARC_MIN / 120.0)))


def merging_mm(ppi: float) -> float:
    """Distance [mm] from which single pixels are lost to that eye: `needed_ppi` the other way round."""
    fine = positive(ppi, "the pixels per inch", least=0.1, most=100_000.0)
    return MM_PER_INCH / (2.0 * fine * math.tan(math.radians(ARC_MIN / 120.0)))


@dataclass(frozen=True)
class Fineness:
    """How fine a picture of so many pixels is at a size on paper."""

    ppi: float  # of the coarser of both sides
    merging_mm: float  # from this distance on single pixels are lost to an eye of acuity 1.0
    largest_mm: tuple[float, float]  # sides up to which they are lost at reading distance
    enlarged: bool  # whether it is larger than that: enlarged beyond its pixels for a print in the hand
    sentence: str


def fineness(width_px: int, height_px: int, width_mm: float, height_mm: float) -> Fineness:
    """Tell how fine a picture would be, and what one would see. Raises CannotPrint for sizes that cannot be."""
    across, down = (
        positive(v, "a side in pixels", least=1.0, most=1_000_000.0, unit="px") for v in (width_px, height_px)
    )
    wide, tall = (positive(v, "a side on paper", least=0.1, most=100_000.0, unit="mm") for v in (width_mm, height_mm))
    ppi = min(across / wide, down / tall) * MM_PER_INCH
    reading, arm = needed_ppi(READING_MM), needed_ppi(ARM_MM)
    largest = across / reading * MM_PER_INCH, down / reading * MM_PER_INCH
    said = f"{ppi:.0f} pixels per inch. "
    if ppi >= reading:
        said += f"In the hand ({READING_MM:g} mm away) a good eye sees no single pixels."
    elif ppi >= arm:
        said += (
            f"At arm's length ({ARM_MM:g} mm) a good eye sees no single pixels; in the hand ({READING_MM:g} mm) fine "
            "detail looks softer than paper could show it."
        )
    else:
        said += (
            f"Soft, or stepped, even at arm's length ({ARM_MM:g} mm); a good eye loses single pixels from "
            f"{merging_mm(ppi) / 1000.0:.1f} m."
        )
    enlarged = ppi < reading
    if enlarged:
        said += (
            f" Enlarged beyond its pixels for a print in the hand: up to {largest[0]:.0f} × {largest[1]:.0f} mm it "
            "would not be."
        )
    return Fineness(ppi, merging_mm(ppi), largest, enlarged, said)


def positive(value: object, what: str, *, least: float, most: float, unit: str = "") -> float:
    """The value as a float, where it is a number from `least` to `most`. Raises CannotPrint, naming it, where not."""
    after = f" {unit}" if unit else ""
    step = f"Give a number from {least:g} to {most:g}{after}."
    if isinstance(value, bool) or not isinstance(value, Real):
        raise CannotPrint(f"{what[:1].upper()}{what[1:]} is {str(value)[:40]!r}, which is not a number.", step)
    try:
        found = float(value)
    except OverflowError:
        found = math.inf
    if not least <= found <= most:
        raise CannotPrint(f"{what[:1].upper()}{what[1:]} is {found:g}{after}, which cannot be.", step)
    return found
