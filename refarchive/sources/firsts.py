"""Tables of first dates in CSV: the one that comes with the package, and a person's own.

Both go through one reader. A cell is text and stays text: no formula is worked out. A row that cannot be used is left
out with a sentence that names its line; every other row stands.
"""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

from refarchive.errors import BadDate, SheetRefused, SourceRefused
from refarchive.records.dates import julian_day, read_date
from refarchive.records.firsts import First
from refarchive.records.model import When
from refarchive.sources.folder import Refusal, shown_name
from refarchive.sources.passages import decode, read_bounded

OWN_TABLE = "not_before.csv"  # its name in an archive's folder
COLUMNS = ("thing", "also", "invented", "on_sale", "common", "region", "source", "weak", "note")
DATES = ("invented", "on_sale", "common")

LARGEST_TABLE = 2_000_000  # bytes
MOST_ROWS = 5_000
MOST_NAMES = 30  # other names of one thing
# characters of a cell; a date bounds itself
LONGEST = {
    "thing": 120,
    "also": 1_000,
    "region": 200,
    "source": 500,
    "note": 2_000,
}

_SPELT = {"yes": True, "no": False, "": False}


@dataclass(frozen=True)
class Firsts:
    """A table as read: the rows that stand, in order, and what there is to say of the others and of the whole."""

    rows: tuple[First, ...]
    problems: tuple[Refusal, ...] = ()  # one for each row left out
    notices: tuple[str, ...] = ()


def shipped_firsts() -> Firsts:
    """The table that comes with the package."""
    data = files("refarchive").joinpath("data", "not_before.csv").read_bytes()
    return parse_firsts(data.decode("utf-8"), "the table that comes with refarchive")


def read_firsts(path: Path) -> Firsts:
    """Read a table of first dates: comma, semicolon or tab; names of columns in the first line.

    Raises
    ------
    SheetRefused
        where the file cannot be read, is no text, is too large, or does not name the columns needed.
    """
    path = Path(path)
    name = shown_name(path.name)
    try:
        text, guessed = decode(read_bounded(path, LARGEST_TABLE), name)
    except SourceRefused as error:
        raise SheetRefused(error.problem, error.next_step) from None
    read = parse_firsts(text, name)
    return Firsts(read.rows, read.problems, tuple(filter(None, (guessed, *read.notices))))


def firsts_for(folder: Path) -> Firsts:
    """The shipped table, and the archive's own where its folder holds one. An own row takes the place of its namesake.

    Raises
    ------
    SheetRefused
        where an own table lies there and cannot be read as a whole.
    """
    shipped = shipped_firsts()
    path = Path(folder) / OWN_TABLE
    if path.is_symlink():
        try:
            inside = path.resolve().is_relative_to(Path(folder).resolve())
        except (OSError, RuntimeError):  # RuntimeError: a loop of links, before Python 3.13
            raise SheetRefused(f"{OWN_TABLE} is a link that leads nowhere.", "Put the table in its place.") from None
        if not inside:
            raise SheetRefused(f"{OWN_TABLE} leads out of the archive's folder.", "Copy the table into it.")
    if not path.exists():
        return shipped
    return combined(shipped, read_firsts(path))


def combined(shipped: Firsts, own: Firsts) -> Firsts:
    """Both tables as one; an own row stands in place of a shipped one with the same name, and a notice says so."""
    mine = {_key(row.thing): row for row in own.rows}
    replaced = [row.thing for row in shipped.rows if _key(row.thing) in mine]
    notices = [f"Your own row for {thing} stands in place of the one that comes with refarchive." for thing in replaced]
    kept = tuple(row for row in shipped.rows if _key(row.thing) not in mine)
    return Firsts(kept + own.rows, shipped.problems + own.problems, (*shipped.notices, *own.notices, *notices))


def parse_firsts(text: str, name: str) -> Firsts:
    """The rows of a table given as text; `name` is what problems call it.

    Raises
    ------
    SheetRefused
        where the first line does not name the columns `thing` and `source` and one of the dates.
    """
    problems: list[Refusal] = []
    lines = _lines(text, name, problems)
    _, header = next(lines, (1, []))
    places = _places(header, name)
    unknown = [shown_name(cell.strip(), 60) for cell in header if cell.strip() and _word(cell) not in COLUMNS]
    notices = [f"The column “{cell}” of {name} is not known and was left out." for cell in unknown]
    rows: list[First] = []
    seen: dict[str, int] = {}
    for number, (line, cells) in enumerate(lines, 1):
        if number > MOST_ROWS:
            notices.append(f"{name} has more than {MOST_ROWS:,} rows; those from line {line} on were left out.")
            break
        try:
            if len(cells) > len(header):
                raise _Unusable(
                    f"has {len(cells)} cells where the first line has {len(header)}", "Put cells with commas in quotes."
                )
            row = _row({column: cells[i].strip() if i < len(cells) else "" for column, i in places.items()}, name, line)
            if (first := seen.setdefault(_key(row.thing), line)) != line:
                raise _Unusable(f"names the same thing as line {first}, which stands", "Merge the two lines.")
            rows.append(row)
        except _Unusable as error:
            problems.append(Refusal(f"{name}, line {line}", f"Line {line} {error.args[0]}.", error.args[1]))
    if not rows and not problems:
        notices.append(f"{name} has no rows below its first line.")
    return Firsts(tuple(rows), tuple(problems), tuple(notices))


class _Unusable(Exception):  # never leaves this module
    """Why a row is left out, to follow the words "Line 3", and the next step."""


def _lines(text: str, name: str, problems: list[Refusal]) -> Iterator[tuple[int, list[str]]]:
    """Number and cells of every line that is not empty; a line that is no CSV goes to the problems."""
    header = next((line for line in text.splitlines() if line.strip()), "")
    separator = next((s for s in ",;\t" if s in header), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            never = "end of data" in str(error)
            reason = (
                "opens a quotation mark that is never closed" if never else "has quotation marks that do not add up"
            )
            step = "Close it, and everything below it is read." if never else "Write a quotation mark in a cell twice."
            problems.append(Refusal(f"{name}, line {line}", f"Line {line} {reason}.", step))
            continue
        if any(cell.strip() for cell in cells):
            yield line, cells


def _places(header: Sequence[str], name: str) -> dict[str, int]:
    places: dict[str, int] = {}
    for index, cell in enumerate(header):
        if (word := _word(cell)) in COLUMNS:
            if word in places:
                raise SheetRefused(f"{name} has two columns named {word}.", "Keep one of them.")
            places[word] = index
    missing = [column for column in ("thing", "source") if column not in places]
    if missing or not any(date in places for date in DATES):
        wanted = " and ".join(missing) or "any date"
        raise SheetRefused(
            f"The first line of {name} does not name a column for {wanted}.", f"Known are {', '.join(COLUMNS)}."
        )
    return places


def _word(cell: str) -> str:
    return "_".join(cell.strip().lower().replace("-", " ").split())


def _row(cells: dict[str, str], name: str, line: int) -> First:
    for column, longest in LONGEST.items():
        value = cells.get(column, "")
        if len(value) > longest:
            raise _Unusable(f"has {len(value):,} characters in its {column}, more than {longest:,}", "Shorten it.")
        if not "".join(value.split()).isprintable():
            raise _Unusable(f"holds characters in its {column} that cannot be shown", "Type the cell again.")
    thing = _named(cells["thing"], "thing")
    also = [" ".join(part.split()) for part in cells.get("also", "").split(";") if part.strip()]
    if len(also) > MOST_NAMES:
        raise _Unusable(f"gives {len(also)} other names, more than {MOST_NAMES}", "Keep the usual ones.")
    for other in also:
        _named(other, "other name")
    if not cells["source"]:
        raise _Unusable("names no source", "Say where the date was read, or write “from memory”.")
    if (weak := _SPELT.get(cells.get("weak", "").lower())) is None:
        raise _Unusable(f"has “{shown_name(cells['weak'], 40)}” for weak", "Write yes or no.")
    invented, on_sale, common = (_date(cells.get(column, ""), column) for column in DATES)
    if invented is on_sale is common is None:
        raise _Unusable("gives no date", f"Fill one of {', '.join(DATES)}.")
    _in_order(invented, on_sale, common)
    return First(
        thing=thing,
        also=tuple(dict.fromkeys(also)),
        invented=invented,
        on_sale=on_sale,
        common=common,
        region=cells.get("region", ""),
        source=cells["source"],
        weak=weak,
        note=cells.get("note", ""),
        table=name,
        line=line,
    )


def _named(text: str, what: str) -> str:
    """The name in one line; refused where it is too short to look for."""
    plain = " ".join(text.split())
    if not plain:
        raise _Unusable("names no thing", "Fill the column thing.")
    if sum(character.isalpha() for character in plain) < 3:
        raise _Unusable(f"has “{shown_name(plain, 40)}” as {what}, which is too short to look for", "Write it out.")
    return plain


def _date(cell: str, column: str) -> When | None:
    if not cell:
        return None
    try:
        when = read_date(cell)
    except BadDate as error:
        problem = shown_name(error.problem, 400).rstrip(".")
        raise _Unusable(f"cannot be used: {problem[:1].lower()}{problem[1:]}", error.next_step) from None
    if when.earliest is None:
        raise _Unusable(
            f"gives “{shown_name(cell, 60)}” as {column}, whose beginning is open, so it says nothing about before",
            "Give the earliest year it can have been.",
        )
    if when.earliest > julian_day(datetime.date.today().year, 12, 31):
        raise _Unusable(f"gives “{shown_name(cell, 60)}” as {column}, which has not come yet", "Correct the year.")
    return when


def _in_order(*dates: When | None) -> None:
    """Refuse a date that ends before an earlier one of the three begins."""
    given = [(word, when) for word, when in zip(("invented", "on sale", "common"), dates, strict=True) if when]
    for (before, a), (after, b) in pairwise(given):
        if a.earliest is not None and b.latest is not None and b.latest < a.earliest:
            raise _Unusable(f"has it {after} before it was {before}", "Correct one of the two dates.")


def _key(thing: str) -> str:
    return " ".join(thing.casefold().replace("-", " ").split())
