"""A sheet of provenance in CSV: one row for each file, or for each object that has no file.

Cells are text and stay text: no number, date or formula is made of them. A row with a mistake is kept with a sentence
that names its line; a sheet that cannot be read at all is refused.
"""

from __future__ import annotations

import hashlib
import io
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any, NamedTuple

from refarchive.errors import BadDate, SheetRefused, SourceRefused
from refarchive.records.dates import read_date
from refarchive.records.model import KINDS, Reference, Witness
from refarchive.sources.folder import shown_name
from refarchive.sources.passages import decode, read_bounded

if TYPE_CHECKING:
    import pandas as pd

LARGEST_SHEET = 50_000_000  # bytes
LONGEST_CELL = 100_000  # characters
LONGEST_HEADER = 100_000  # characters of the first line
MOST_COLUMNS = 200
MOST_ROWS = 200_000


class Column(NamedTuple):
    """A column that a sheet may have."""

    name: str
    meaning: str  # one sentence
    also: tuple[str, ...] = ()  # Dublin Core names that mean the same


COLUMNS: tuple[Column, ...] = (
    Column("file", "The file's name, relative to the sheet and within its folder; empty for an object without a file."),
    Column("title", "What the reference is called.", ("dc:title", "dcterms:title")),
    Column("creator", "Who made it, as known.", ("dc:creator", "dcterms:creator")),
    Column(
        "date",
        "When the thing was made, as EDTF (1871, 186X, 1870~) or in plain words (c. 1870), never when it was scanned.",
        ("dcterms:created", "dc:date", "dcterms:date"),
    ),
    Column(
        "place", "Where it was made or what place it shows.", ("dcterms:spatial", "dc:coverage", "dcterms:coverage")
    ),
    Column("source", "Where this copy comes from: book and page, web page, person.", ("dc:source", "dcterms:source")),
    Column(
        "rights", "Who may use it how, in words or as the URI of a rights statement.", ("dc:rights", "dcterms:rights")
    ),
    Column("description", "What is to be seen or read in it.", ("dc:description", "dcterms:description")),
    Column("medium", "What it is made of or how it was made.", ("dc:format", "dcterms:medium", "dcterms:format")),
    Column("dimensions", "The size of the thing itself, with its unit.", ("dcterms:extent",)),
    Column("collection", "Who keeps it."),
    Column("accession", "Its number there."),
    Column("credit", "The credit line that its keeper asks for."),
    Column("witness", f"What kind of evidence it is: {', '.join(w.value for w in Witness)}."),
    Column("subjects", "What it is about, separated by semicolons.", ("dc:subject", "dcterms:subject", "subject")),
    Column("identifier", "A name for it that nothing else has.", ("dc:identifier", "dcterms:identifier")),
    Column("kind", f"One of {', '.join(KINDS)}; worked out from the file where it is left empty."),
)
COLUMN_NAMES = tuple(column.name for column in COLUMNS)
_ALIASES = {alias: column.name for column in COLUMNS for alias in (column.name, *column.also)}
_REFERENCE_TEXTS = (
    "title", "creator", "place", "source", "rights", "description", "medium", "dimensions", "collection",
    "accession", "credit", "identifier",
)  # fmt: skip


@dataclass(frozen=True)
class SheetRow:
    """One row. `fields` holds what can be used, by column name, empty cells left out."""

    line: int  # in the file, from 1, of the row's first line
    file: str  # relative to the sheet, forward slashes; "" for an object without a file
    fields: dict[str, str]
    problems: tuple[str, ...] = ()  # sentences, each naming the line
    refused: bool = False  # True: gather nothing from this row; False: only the cells complained of are left out
    path: Path | None = None  # of the file, free of links

    @property
    def key(self) -> str:
        """What tells this row from others: its file, else its identifier, else what it says of itself."""
        if self.file:
            return f"file:{self.file}"
        if identifier := self.fields.get("identifier"):
            return f"identifier:{identifier}"
        told = "\0".join(self.fields.get(name, "") for name in ("title", "creator", "date", "source"))
        return f"told:{hashlib.sha256(told.encode('utf-8', 'replace')).hexdigest()[:32]}"


@dataclass(frozen=True)
class Sheet:
    """A sheet as read: its rows in order, and what there is to say of the sheet as a whole."""

    rows: tuple[SheetRow, ...]
    notices: tuple[str, ...] = ()  # unknown columns, guessed encodings

    @property
    def problems(self) -> tuple[str, ...]:
        """All problems of all rows, in order."""
        return tuple(problem for row in self.rows for problem in row.problems)


def read_sheet(path: Path) -> Sheet:
    """Read a CSV sheet: comma, semicolon or tab; UTF-8, UTF-16 or Windows-1252; names of columns in the first line.

    Raises
    ------
    SheetRefused
        where the file cannot be read, is no CSV, is too large, or has no column that is known.
    """
    path = Path(path)
    name = shown_name(path.name)
    try:
        text, guessed = decode(read_bounded(path, LARGEST_SHEET), name)
    except SourceRefused as error:
        raise SheetRefused(error.problem, error.next_step) from None
    table = _table(text, name)
    columns, notices = _columns([str(cell) for cell in table.iloc[0]], table, name)
    folder = path.resolve().parent
    rows: list[SheetRow] = []
    seen: dict[str, int] = {}
    line = 1 + _lines_within(table.iloc[0])
    for cells in table.iloc[1:].itertuples(index=False, name=None):
        here, line = line, line + _lines_within(cells)
        if any(cell.strip() for cell in cells):
            row = _row(here, cells, columns, folder)
            if not row.refused and (first := seen.setdefault(row.key, row.line)) != row.line:
                same = f"the same file as line {first}" if row.file else f"the same object as line {first}"
                row = _refuse(row, f"Line {here} describes {same}; the first one stands.")
            rows.append(row)
    if not rows:
        notices.append(f"{name} has no rows below its first line.")
    return Sheet(tuple(rows), tuple(filter(None, (guessed, *notices))))


# -- the table --------


def _table(text: str, name: str) -> pd.DataFrame:
    """All cells as text, the header being row 0; short rows are filled up with empty cells."""
    import pandas as pd

    text = text.lstrip("\r\n")
    header = re.match(r"[^\r\n]*", text)
    first_line = header[0] if header else ""
    if not first_line.strip():
        raise SheetRefused(f"{name} is empty.", "Give it a first line with the names of its columns.")
    if len(first_line) > LONGEST_HEADER:
        raise SheetRefused(f"The first line of {name} is too long to name columns.", "Save it as CSV with line breaks.")
    separator = next((s for s in ",;\t" if s in first_line), ",")
    if first_line.count(separator) >= MOST_COLUMNS:
        raise SheetRefused(f"{name} has more than {MOST_COLUMNS} columns.", "Leave out the columns not needed.")
    try:
        table = pd.read_csv(
            io.StringIO(text, newline=""),
            sep=separator,
            header=None,
            dtype=str,
            keep_default_na=False,
            na_filter=False,
            skip_blank_lines=False,
            on_bad_lines="error",
            nrows=MOST_ROWS + 2,
        )
    except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError, OverflowError) as error:
        raise SheetRefused(f"{name} cannot be read as CSV: {_reason(str(error))}.", "Correct it there.") from None
    if len(table) > MOST_ROWS + 1:
        raise SheetRefused(f"{name} has more than {MOST_ROWS:,} rows.", "Split it.")
    return table.fillna("")


def _reason(message: str) -> str:
    if found := re.search(r"Expected (\d+) fields in line (\d+), saw (\d+)", message):
        return (
            f"line {found[2]} has {found[3]} cells where the first line has {found[1]}; put cells with commas in quotes"
        )
    if found := re.search(r"EOF inside string starting at row (\d+)", message):
        return f"a quotation mark opened in line {int(found[1]) + 1} is never closed"
    return "its quotation marks or separators do not add up"


def _columns(header: list[str], table: pd.DataFrame, name: str) -> tuple[dict[str, list[int]], list[str]]:
    """Where each known column stands (several names may mean one), and notices about the others."""
    columns: dict[str, list[tuple[int, int]]] = {}
    notices: list[str] = []
    for index, cell in enumerate(header):
        word = re.sub(r"^(dc|dcterms)\.", r"\1:", " ".join(cell.strip().lower().split()))
        if known := _ALIASES.get(word):
            rank = ([*next(c for c in COLUMNS if c.name == known).also, word].index(word)) if word != known else -1
            columns.setdefault(known, []).append((rank, index))
        elif word:
            notices.append(f"The column “{shown_name(cell.strip(), 60)}” of {name} is not known and was left out.")
        elif any(value.strip() for value in table.iloc[1:, index]):
            notices.append(f"Column {index + 1} of {name} has no name and was left out.")
    if not columns:
        raise SheetRefused(
            f"The first line of {name} names no column that is known.", f"Known are {', '.join(COLUMN_NAMES)}."
        )
    return {known: [index for _, index in sorted(places)] for known, places in columns.items()}, notices


def _lines_within(cells: Iterable[Any]) -> int:
    """How many lines of the file a row takes: line breaks within quoted cells count."""
    return 1 + sum(len(re.findall(r"\r\n|\r|\n", cell)) for cell in cells if "\n" in cell or "\r" in cell)


# -- one row --------


def _row(line: int, cells: tuple[str, ...], columns: dict[str, list[int]], folder: Path) -> SheetRow:
    fields: dict[str, str] = {}
    problems: list[str] = []
    for column, places in columns.items():
        values = list(dict.fromkeys(filter(None, (cells[place].strip() for place in places))))
        if any(len(value) > LONGEST_CELL for value in values):
            sentence = f"Line {line} has more than {LONGEST_CELL:,} characters in its {column}."
            return SheetRow(line, "", {}, (sentence,), refused=True)
        if values:
            fields[column] = values[0]
        if len(values) > 1:
            problems.append(f"Line {line} gives {len(values)} values for {column}; the first one stands.")
    file = fields.pop("file", "")
    problems += _unusable(line, fields, has_file=bool(file))
    row = SheetRow(line, "", fields, tuple(problems))
    if not file:
        if not fields.get("identifier") and not fields.get("title"):
            return _refuse(row, f"Line {line} names no file, no identifier and no title.")
        return row
    return _with_file(row, file, folder)


def _unusable(line: int, fields: dict[str, str], *, has_file: bool) -> list[str]:
    """Take out of `fields` what cannot be used, and say why."""
    problems: list[str] = []
    if date := fields.get("date"):
        try:
            read_date(date)
        except BadDate as error:
            problems.append(f"Line {line}: {_lower_first(_shortened(error.problem))}")
            del fields["date"]
    if word := fields.get("witness"):
        known = _witness(word)
        if known is None:
            words = ", ".join(w.value for w in Witness)
            problems.append(f"Line {line}: “{shown_name(word, 60)}” is no kind of witness; known are {words}.")
            del fields["witness"]
        else:
            fields["witness"] = known.value
    if word := fields.get("kind"):
        kind = word.lower()
        if kind not in KINDS or (not has_file and kind != "object"):
            known_kinds = ", ".join(KINDS) if has_file else "object, since it names no file"
            problems.append(f"Line {line}: “{shown_name(word, 60)}” is no kind it can have; known are {known_kinds}.")
            del fields["kind"]
        else:
            fields["kind"] = kind
    return problems


def _witness(word: str) -> Witness | None:
    plain = " ".join(word.lower().replace("_", " ").split())
    return next((w for w in Witness if plain in (w.value, w.value.replace("-", " "), w.name.lower())), None)


def _with_file(row: SheetRow, cell: str, folder: Path) -> SheetRow:
    """The row with its file found, or refused where the file is missing or lies outside the sheet's folder."""
    line, shown = row.line, shown_name(cell)
    windows = PureWindowsPath(cell)
    if PurePosixPath(cell).is_absolute() or windows.drive or windows.root or ".." in windows.parts:
        return _refuse(row, f"Line {line}: {shown} leads out of the sheet's folder.")
    for spelling in _spellings(cell):
        try:
            path = (folder / spelling).resolve()
            exists = path.is_file()
        except (OSError, RuntimeError, ValueError):
            continue
        if not path.is_relative_to(folder):
            return _refuse(row, f"Line {line}: {shown} leads out of the sheet's folder.")
        if exists:
            return replace(row, file=path.relative_to(folder).as_posix(), path=path)
        if path.exists():
            return _refuse(row, f"Line {line}: {shown} is not a file.")
    return _refuse(row, f"Line {line}: there is no file {shown} beside the sheet.")


def _spellings(cell: str) -> list[str]:
    """The name as written, with backslashes as separators, and in both forms of composed letters."""
    slashed = (cell, cell.replace("\\", "/"))
    return list(
        dict.fromkeys(unicodedata.normalize(form, s) if form else s for form in ("", "NFC", "NFD") for s in slashed)
    )


def _refuse(row: SheetRow, problem: str) -> SheetRow:
    return replace(row, problems=(*row.problems, problem), refused=True)


def _shortened(sentence: str) -> str:
    return shown_name(sentence, 400)


def _lower_first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


# -- using and writing --------


def apply(reference: Reference, row: SheetRow) -> Reference:
    """The reference with every cell of the row that is filled; empty cells change nothing.

    `kind` is applied only where the reference has no file: with one, the file decides.
    """
    fields = row.fields
    changes: dict[str, Any] = {name: fields[name] for name in _REFERENCE_TEXTS if fields.get(name)}
    if date := fields.get("date"):
        changes["when"] = read_date(date)
    if witness := fields.get("witness"):
        changes["witness"] = Witness(witness)
    if subjects := fields.get("subjects"):
        changes["subjects"] = tuple(dict.fromkeys(s for s in (part.strip() for part in subjects.split(";")) if s))
    if (kind := fields.get("kind")) and not reference.source_name:
        changes["kind"] = kind
    return replace(reference, **changes)


def csv_cell(value: str) -> str:
    """A value for *writing* to CSV such that no spreadsheet takes it for a formula: an apostrophe goes before it.

    What counts as one follows OWASP's page on CSV injection: = + - @ tab and carriage return at the beginning; a line
    feed is counted too, and any of them after leading spaces. Quoting is the CSV writer's work.

    >>> csv_cell("=1+1"), csv_cell("cart")
    ("'=1+1", 'cart')
    """
    start = value.lstrip(" \u00a0")[:1]
    return f"'{value}" if start and start in "=+-@\t\r\n＝＋－＠" else value
