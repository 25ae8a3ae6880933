"""A sheet of provenance in CSV: one row for each file, or for each object that has no file.

Cells are text and stay text: no number, date or formula is made of them. A row with a mistake is kept with a sentence
that names its line; a sheet that cannot be read at all is refused.
"""

from __future__ import annotations

import hashlib
import io
import re
import stat
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from refarchive.errors import BadDate, SheetRefused, SourceRefused
from refarchive.records.dates import iso_day, julian_day, read_date
from refarchive.records.model import KINDS, Reference, Region, When, Witness
from refarchive.records.terms import KEPT, details_in, origins_in, parted
from refarchive.sources import mapping as mapped
from refarchive.sources.folder import Refusal, shown_name
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
    Column("credit", "The credit line that its keeper asks for; it is printed as given."),
    Column("basis", "Why it may be published: a permission, a licence, an expired term."),
    Column("basis_evidence", "Where that can be read: a letter, a page, a file."),
    Column("witness", f"What kind of evidence it is: {', '.join(w.value for w in Witness)}."),
    Column("subjects", "What it is about, separated by semicolons.", ("dc:subject", "dcterms:subject", "subject")),
    Column("identifier", "A name for it that nothing else has.", ("dc:identifier", "dcterms:identifier")),
    Column("date_text", "The date of making in the words to be shown, where the date is given as EDTF."),
    Column("depicts", "The date of what it shows, where that is not when it was made.", ("dcterms:temporal",)),
    Column("depicts_text", "That date in the words to be shown."),
    Column("digitised", "The day of scanning or photographing, as year-month-day."),
    Column("details", "Marked regions, one a line: xywh=percent:x,y,width,height, a space, the note."),
    Column("origins", "Where values come from that nobody typed, separated by semicolons: creator = EXIF Artist."),
    Column("source_name", "The name of its file when it was first gathered, in a sheet that an archive wrote."),
    Column("reference", "Its id, in a sheet that an archive wrote; empty cells of such a row take values away."),
    Column("kind", f"One of {', '.join(KINDS)}; worked out from the file where it is left empty."),
)
COLUMN_NAMES = tuple(column.name for column in COLUMNS)
_ALIASES = {alias: column.name for column in COLUMNS for alias in (column.name, *column.also)}
_REFERENCE_TEXTS = (
    "title", "creator", "place", "source", "rights", "description", "medium", "dimensions", "collection",
    "accession", "credit", "basis", "basis_evidence", "identifier", "digitised",
)  # fmt: skip


@dataclass(frozen=True)
class SheetRow:
    """One row. `fields` holds what can be used, by column name, empty cells left out."""

    sheet: Path  # where the row stands
    line: int  # in the sheet, from 1, of the row's first line
    file: str  # relative to the sheet, forward slashes; "" for an object without a file
    fields: dict[str, str]
    problems: tuple[Refusal, ...] = ()  # each names its line
    refused: bool = False  # True: gather nothing from this row; False: only the cells complained of are left out
    path: Path | None = None  # of the file, free of links
    details: tuple[tuple[Region, str], ...] = ()  # regions of the picture, and notes
    emptied: frozenset[str] = frozenset()  # fields that an archive wrote as empty

    @property
    def where(self) -> str:
        """The row as sentences name it."""
        return f"Line {self.line}"

    @property
    def beside(self) -> str:
        """What the row stands in, as sentences name it."""
        return "sheet"

    @property
    def identity(self) -> str:
        """What tells this row from others: its file, else its identifier, else what it says of itself."""
        if self.file:
            return f"file:{self.file}"
        if reference := self.fields.get("reference"):
            return f"reference:{reference}"
        if identifier := self.fields.get("identifier"):
            return f"identifier:{identifier}"
        told = "\0".join(self.fields.get(name, "") for name in ("title", "creator", "date", "source"))
        return f"told:{hashlib.sha256(told.encode('utf-8', 'replace')).hexdigest()[:32]}"


_Row = TypeVar("_Row", bound=SheetRow)


@dataclass(frozen=True)
class Sheet:
    """A sheet as read: its rows in order, and what there is to say of the sheet as a whole."""

    rows: tuple[SheetRow, ...]
    notices: tuple[str, ...] = ()  # unknown columns, guessed encodings
    key: str = ""  # of its columns, whatever their order
    said: tuple[tuple[str, str], ...] = ()  # what a person said of them, now or before

    @property
    def problems(self) -> tuple[Refusal, ...]:
        """All problems of all rows, in order."""
        return tuple(problem for row in self.rows for problem in row.problems)


def read_sheet(
    path: Path,
    mapping: Mapping[str, str] | None = None,
    remembered: Mapping[str, Mapping[str, str]] | None = None,
) -> Sheet:
    """Read a CSV sheet: comma, semicolon or tab; UTF-8, UTF-16 or Windows-1252; names of columns in the first line.

    `mapping` says what columns of other names hold ({"Artist": "creator", "Shelf": ""}; "" leaves one out); it goes
    before what a name means by itself. `remembered` holds what was said before, by the `key` of the sheets' columns.

    Raises
    ------
    SheetRefused
        where the file cannot be read, is no CSV, is too large, or has no column that is known, and where `mapping`
        makes no sense for it.
    """
    path = Path(path)
    name = shown_name(path.name)
    try:
        text, guessed = decode(read_bounded(path, LARGEST_SHEET), name)
    except SourceRefused as error:
        raise SheetRefused(error.problem, error.next_step) from None
    blank = len(_line_ends(text[: len(text) - len(text.lstrip("\r\n"))]))
    table = _table(text.lstrip("\r\n"), name)
    header = [str(cell) for cell in table.iloc[0]]
    now = mapped.checked(mapping or {}, COLUMN_NAMES, header, name)
    key = mapped.key_of(header)
    before = {word: column for word, column in (remembered or {}).get(key, {}).items() if column in ("", *COLUMN_NAMES)}
    columns, notices = _columns(header, table, name, now, before)
    place = path.resolve()
    rows: list[SheetRow] = []
    seen: dict[str, int] = {}
    line = 1 + blank + _lines_within(table.iloc[0]) - 1
    for cells in table.iloc[1:].itertuples(index=False, name=None):
        line += 1
        if any(cell.strip() for cell in cells):
            row = _row(place, line, cells, columns)
            if not row.refused and (first := seen.setdefault(row.identity, line)) != line:
                same = "file" if row.file else "object"
                row = refused(
                    row,
                    f"Line {line} describes the same {same} as line {first}, which stands.",
                    "Merge the two lines.",
                )
            rows.append(row)
        line += _lines_within(cells) - 1
    if not rows:
        notices.append(f"{name} has no rows below its first line.")
    return Sheet(tuple(rows), tuple(filter(None, (guessed, *notices))), key, tuple((before | now).items()))


# -- the table --------


def _table(text: str, name: str) -> pd.DataFrame:
    """All cells as text, the header being row 0; short rows are filled up with empty cells."""
    import pandas as pd

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


def _columns(
    header: list[str], table: pd.DataFrame, name: str, now: Mapping[str, str], before: Mapping[str, str]
) -> tuple[dict[str, list[int]], list[str]]:
    """Where each known column stands (several names may mean one), and notices about the others."""
    columns: dict[str, list[tuple[int, int]]] = {}
    notices: list[tuple[int, str]] = []  # by the place of their column
    unknown: list[tuple[int, str]] = []
    for index, cell in enumerate(header):
        said = now.get(word := mapped.word_of(cell), before.get(word))
        if said is not None:
            how = f"read as {said}" if said else "left out"
            when = "" if word in now else " before"
            if said != word and (said or word not in now):
                notices.append((index, f"The column “{shown_name(cell.strip(), 60)}” was {how}, as you said{when}."))
            if said:
                columns.setdefault(said, []).append((-2, index))
            continue
        word = re.sub(r"^(dc|dcterms)\.", r"\1:", " ".join(cell.strip().lower().split()))
        if known := _ALIASES.get(word):
            rank = ([*next(c for c in COLUMNS if c.name == known).also, word].index(word)) if word != known else -1
            columns.setdefault(known, []).append((rank, index))
        elif word:
            unknown.append((index, cell.strip()))
        elif any(value.strip() for value in table.iloc[1:, index]):
            notices.append((index, f"Column {index + 1} of {name} has no name and was left out."))
    may_mean = mapped.suggest_mapping((cell for _, cell in unknown), columns)
    for place, cell in unknown:
        said_so = f"The column “{shown_name(cell, 60)}” of {name} is not known and was left out."
        notices.append((place, f"{said_so} {_say(cell, may_mean[cell])}" if cell in may_mean else said_so))
    if not columns:
        raise SheetRefused(
            f"The first line of {name} names no column that is known.",
            " ".join([f"Known are {', '.join(COLUMN_NAMES)}.", *(_say(cell, may_mean[cell]) for cell in may_mean)]),
        )
    told = [notice for _, notice in sorted(notices)]
    return {known: [index for _, index in sorted(places)] for known, places in columns.items()}, told


def _say(cell: str, column: str) -> str:
    return f'It may be {column}: say so with --column "{shown_name(cell, 60)}={column}".'


def _lines_within(cells: Iterable[Any]) -> int:
    """How many lines of the file a row takes: line breaks within quoted cells count."""
    return 1 + sum(len(_line_ends(cell)) for cell in cells if "\n" in cell or "\r" in cell)


def _line_ends(text: str) -> list[str]:
    return re.findall(r"\r\n|\r|\n", text)


# -- one row --------

_CORRECT = "Correct the cell and gather again."


def _row(sheet: Path, line: int, cells: tuple[str, ...], columns: dict[str, list[int]]) -> SheetRow:
    row = SheetRow(sheet, line, "", {})
    fields = row.fields
    for column, places in columns.items():
        values = list(dict.fromkeys(filter(None, (plain_cell(cells[place].strip()) for place in places))))
        if any(len(value) > LONGEST_CELL for value in values):
            fields.clear()
            return refused(
                row, f"Line {line} has more than {LONGEST_CELL:,} characters in its {column}.", "Shorten the cell."
            )
        if values:
            fields[column] = values[0]
        if len(values) > 1:
            row = complain(
                row,
                f"Line {line} gives {len(values)} values for {column}; the first one stands.",
                "Keep one of those columns.",
            )
    file = fields.pop("file", "")
    if fields.get("reference"):
        row = replace(row, emptied=frozenset(columns) - frozenset(fields) - {"file", "details", *KEPT})
    row = usable(row, has_file=bool(file))
    if file:
        return with_file(row, file)
    if not fields.get("reference") and not fields.get("identifier") and not fields.get("title"):
        return refused(row, f"Line {line} names no file, no identifier and no title.", "Give it one of them.")
    return row


def usable(row: _Row, *, has_file: bool) -> _Row:
    """The row with the cells taken out that cannot be used, and what is wrong with each."""
    fields, where = row.fields, row.where
    for name in ("date", "depicts"):
        if date := fields.get(name):
            try:
                read_date(date)
            except BadDate as error:
                del fields[name]
                row = complain(row, f"{where}: {_lower_first(shown_name(error.problem, 400))}", error.next_step)
    if (day := fields.get("digitised")) and not _is_day(day):
        del fields["digitised"]
        row = complain(
            row, f"{where}: “{shown_name(day, 60)}” is not the day of a scan.", "Write it as year-month-day."
        )
    if (own := fields.get("reference")) and not _REFERENCE.fullmatch(own):
        del fields["reference"]
        row = complain(row, f"{where}: “{shown_name(own, 60)}” is no id of a reference.", "Leave that cell empty.")
    if told := fields.pop("details", ""):
        marked, wrong = details_in(told)
        row = replace(row, details=marked)
        for one in wrong[:5]:
            row = complain(row, f"{where}: “{shown_name(one, 60)}” marks no region of a picture.", _CORRECT)
    if word := fields.get("witness"):
        if (witness := _witness(word)) is not None:
            fields["witness"] = witness.value
        else:
            del fields["witness"]
            known = ", ".join(w.value for w in Witness)
            row = complain(row, f"{where}: “{shown_name(word, 60)}” is no kind of witness.", f"Known are {known}.")
    if word := fields.get("kind"):
        fields["kind"] = word.lower()
        unseen = not has_file and word.lower() != "object" and not fields.get("reference")
        if word.lower() not in KINDS or unseen:
            del fields["kind"]
            known = ", ".join(KINDS) if has_file else "object, since the line names no file"
            row = complain(row, f"{where}: “{shown_name(word, 60)}” is no kind it can have.", f"Known: {known}.")
    return row


_REFERENCE = re.compile(r"ref-[0-9a-f]{12}")


def _is_day(text: str) -> bool:
    found = re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", text)
    try:
        return found is not None and iso_day(julian_day(int(found[1]), int(found[2]), int(found[3]))) == text
    except BadDate:
        return False


def _witness(word: str) -> Witness | None:
    plain = " ".join(word.lower().replace("_", " ").split())
    return next((w for w in Witness if plain in (w.value, w.value.replace("-", " "), w.name.lower())), None)


def with_file(row: _Row, cell: str) -> _Row:
    """The row with its file found, or refused where the file is missing or lies outside the {row.beside}'s folder."""
    folder = row.sheet.parent
    shown = shown_name(cell)
    outside = f"{row.where}: {shown} leads out of the {row.beside}'s folder."
    copy = f"Copy the file beside the {row.beside}."
    windows = PureWindowsPath(cell)
    if PurePosixPath(cell).is_absolute() or windows.drive or windows.root or ".." in windows.parts:
        return refused(row, outside, copy)
    for spelling in _spellings(cell):
        try:
            path = (folder / spelling).resolve()
            status = path.stat()
        except (OSError, RuntimeError, ValueError):
            if _leads_out(folder / spelling, folder):
                return refused(row, outside, copy)
            continue
        if not path.is_relative_to(folder):
            return refused(row, outside, copy)
        if not stat.S_ISREG(status.st_mode):
            return refused(row, f"{row.where}: {shown} is not a file.", "Name a file.")
        return replace(row, file=path.relative_to(folder).as_posix(), path=path)
    return refused(row, f"{row.where}: there is no file {shown} beside the {row.beside}.", "Check the name.")


def _leads_out(path: Path, folder: Path) -> bool:
    """Whether what cannot be opened is a link out of the folder: its target is then not said to be there or not."""
    try:
        return not path.resolve().is_relative_to(folder)
    except (OSError, RuntimeError, ValueError):
        return False


def _spellings(cell: str) -> list[str]:
    """The name as written, with backslashes as separators, and in both forms of composed letters."""
    names = (cell, cell.replace("\\", "/"))
    composed = (unicodedata.normalize("NFC", name) for name in names)
    decomposed = (unicodedata.normalize("NFD", name) for name in names)
    return list(dict.fromkeys((*names, *composed, *decomposed)))


def complain(row: _Row, problem: str, next_step: str) -> _Row:
    """The row with one more thing to say of it."""
    source = f"{shown_name(row.sheet.name)}, {_lower_first(row.where)}"
    return replace(row, problems=(*row.problems, Refusal(source, problem, next_step)))


def refused(row: _Row, problem: str, next_step: str) -> _Row:
    """The row, not to be gathered, and why."""
    return replace(complain(row, problem, next_step), refused=True)


def _lower_first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


# -- using and writing --------


def apply(reference: Reference, row: SheetRow) -> Reference:
    """The reference with every cell of the row that is filled; empty cells change nothing.

    In a row that an archive wrote (one with an id) empty cells take values away, so that it comes back as it left.
    `kind` is applied only where the reference has no file: with one, the file decides.
    """
    fields = row.fields
    changes: dict[str, Any] = {name: "" for name in _REFERENCE_TEXTS if name in row.emptied}
    changes |= {name: fields[name] for name in _REFERENCE_TEXTS if fields.get(name)}
    for name, field in (("date", "when"), ("depicts", "depicts")):
        if date := fields.get(name):
            changes[field] = _when(date, fields.get(f"{name}_text", ""))
        elif name in row.emptied:
            changes[field] = None
    if witness := fields.get("witness"):
        changes["witness"] = Witness(witness)
    elif "witness" in row.emptied:
        changes["witness"] = Witness.UNKNOWN
    if (subjects := fields.get("subjects")) or "subjects" in row.emptied:
        changes["subjects"] = parted(subjects or "")
    if (kind := fields.get("kind")) and not reference.source_name:
        changes["kind"] = kind
    if (first := fields.get("source_name")) and fields.get("reference") and reference.source_name:
        changes["source_name"] = first
    if (origins := fields.get("origins")) or "origins" in row.emptied:
        kept = origins_in(origins or "")
    else:
        told = {"date" if name == "when" else name for name in changes}
        kept = tuple((field, origin) for field, origin in reference.origins if field not in told)
    return replace(reference, **changes, origins=kept)


def _when(date: str, words: str) -> When:
    read = read_date(date)
    return replace(read, text=words) if words else read


_FORMULA = "=+-@\t\r\n＝＋－＠"


def csv_cell(value: str) -> str:
    """A value for *writing* to CSV such that no spreadsheet takes it for a formula: an apostrophe goes before it.

    What counts as one follows OWASP's page on CSV injection: = + - @ tab and carriage return at the beginning; a line
    feed is counted too, and any of them after leading spaces. Quoting is the CSV writer's work. A value that looks
    protected already gets one apostrophe more, so that `plain_cell` gives every value back.

    >>> csv_cell("=1+1"), csv_cell("cart"), csv_cell("'=1")
    ("'=1+1", 'cart', "''=1")
    """
    start = value.lstrip("'").lstrip(" \u00a0")[:1]
    return f"'{value}" if start and start in _FORMULA else value


def plain_cell(cell: str) -> str:
    """A cell as `csv_cell` wrote it, without the apostrophe that keeps a spreadsheet from reckoning; else as it is.

    >>> plain_cell("'=1+1"), plain_cell("'cart'")
    ('=1+1', "'cart'")
    """
    return cell[1:] if cell.startswith("'") and csv_cell(cell[1:]) != cell[1:] else cell
