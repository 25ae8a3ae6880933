"""What a document that names many references at once gives: rows like those of a sheet, and details marked on them."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from refarchive.errors import SourceRefused
from refarchive.records.model import Region
from refarchive.sources.folder import Refusal, shown_name
from refarchive.sources.passages import read_bounded
from refarchive.sources.sheet import SheetRow

LARGEST = 100_000_000  # bytes
DEEPEST = 200  # brackets within brackets
MOST_ROWS = 20_000
LONGEST_VALUE = 100_000  # characters


@dataclass(frozen=True)
class Marked:
    """A detail of a reference that one of the rows describes: by its place among the rows, from 0."""

    row: int
    region: Region
    note: str


@dataclass(frozen=True)
class Wanted:
    """A picture that lies elsewhere, to be fetched only where a person asks for it."""

    row: int
    address: str


@dataclass(frozen=True)
class Bundle:
    """Rows in the order of the document, what is marked on them, and what there is to say."""

    rows: tuple[SheetRow, ...]
    marked: tuple[Marked, ...] = ()
    wanted: tuple[Wanted, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def problems(self) -> tuple[Refusal, ...]:
        """All problems of all rows, in order."""
        return tuple(problem for row in self.rows for problem in row.problems)


def read_json(path: Path) -> Any:
    """The content of a JSON file. Raises SourceRefused where it is none, too large or too deep."""
    name = shown_name(path.name)
    try:
        return json.loads(_shallow(read_bounded(path, LARGEST).decode("utf-8-sig"), name))
    except UnicodeDecodeError:
        raise SourceRefused(f"{name} is not UTF-8 text.", "Save it as UTF-8.") from None
    except (json.JSONDecodeError, RecursionError) as error:
        where = f" (line {error.lineno})" if isinstance(error, json.JSONDecodeError) else ""
        raise SourceRefused(f"{name} is no JSON that can be read{where}.", "Fetch or write it anew.") from None


def _shallow(text: str, name: str) -> str:
    """The text, where its brackets are not nested deeper than any honest document's: a parser could overflow."""
    depth = deepest = 0
    quoted = escaped = False
    for character in text:
        if quoted:
            if escaped:
                escaped = False
            elif character == "\\":
                escaped = True
            elif character == '"':
                quoted = False
        elif character == '"':
            quoted = True
        elif character in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif character in "]}":
            depth -= 1
    if deepest > DEEPEST:
        raise SourceRefused(f"{name} is nested {deepest} deep, more than {DEEPEST}.", "Fetch or write it anew.")
    return text


def beside(document: Path, name: str) -> Path | None:
    """The file of this name in the document's folder or below; None where there is none, or it leads out."""
    windows = PureWindowsPath(name)
    if not name or "\0" in name or PurePosixPath(name).is_absolute() or windows.drive or ".." in windows.parts:
        return None
    folder = document.resolve().parent
    try:
        path = (folder / name).resolve()
        return path if path.is_relative_to(folder) and path.is_file() else None
    except (OSError, RuntimeError, ValueError):
        return None


def words(value: object, most: int = LONGEST_VALUE) -> str:
    """Text of a value that should be one: control characters out, bounded; "" for what is no text."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return ""
    text = "".join(c if c.isprintable() or c == "\n" else " " for c in str(value)[:most])
    return text.strip()


def region_of(fragment: str, width: float, height: float) -> Region | None:
    """The region of a media fragment: xywh=percent:… or xywh=(pixel:)… of a picture of this size; None for no region.

    Source: W3C Media Fragments URI 1.0, section 4.2.2. What reaches over the edge is cut there.
    """
    prefix, _, numbers = fragment.partition("xywh=")
    if prefix or not numbers:
        return None
    unit, colon, rest = numbers.partition(":")
    if not colon:
        unit, rest = "pixel", numbers
    try:
        x, y, w, h = (float(part) for part in rest.split(","))
    except ValueError:
        return None
    across, down = {"percent": (100.0, 100.0), "pixel": (float(width), float(height))}.get(unit, (0.0, 0.0))
    if not (across > 0 and down > 0 and all(map(math.isfinite, (x, y, w, h)))):
        return None
    whole = (x / across, y / down, w / across, h / down)
    if min(whole[:2]) >= 0 and min(whole[2:]) > 0 and whole[0] + whole[2] <= 1 and whole[1] + whole[3] <= 1:
        return whole
    left, top = max(0.0, x / across), max(0.0, y / down)
    right, bottom = min(1.0, (x + w) / across), min(1.0, (y + h) / down)
    if not (right - left > 0 and bottom - top > 0):
        return None
    return (left, top, right - left, bottom - top)
