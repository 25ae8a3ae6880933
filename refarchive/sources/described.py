"""JSON that describes references: reading the file itself, bounded, and what its readers hand on.

Two readers use this: `manifest` (IIIF Presentation 3) and `linked` (JSON-LD). Both hand on rows like those of a sheet.
Nothing here opens a file that the JSON names, and nothing is ever fetched.
"""

from __future__ import annotations

import html
import html.parser
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from refarchive.errors import SourceRefused
from refarchive.records.terms import FIELDS, KEPT
from refarchive.sources.folder import shown_name
from refarchive.sources.passages import read_bounded
from refarchive.sources.sheet import LONGEST_CELL, SheetRow, usable, with_file

SUFFIXES = (".json", ".jsonld")
LARGEST_JSON = 50_000_000  # bytes
MOST_ROWS = 20_000  # canvases, or records
MOST_DETAILS = 1_000  # of one picture
DEEPEST = 60  # objects within objects


@dataclass(frozen=True)
class DescribedRow(SheetRow):
    """What a file says of one reference. `sheet` is that file, `line` the number of the canvas or record in it."""

    unit: str = "Record"  # what `line` counts
    url: str = ""  # of a picture that lies elsewhere on the web
    told: tuple[tuple[str, str], ...] = ()  # (field, part of the file that says it); empty where an archive wrote it

    @property
    def where(self) -> str:
        """The row as sentences name it."""
        return f"{self.unit} {self.line}"

    @property
    def beside(self) -> str:
        """What the row stands in, as sentences name it."""
        return "manifest" if self.unit == "Canvas" else "file"


@dataclass(frozen=True)
class Described:
    """What a file says of references: a row for each, in its order, and what there is to say of the file itself."""

    rows: tuple[DescribedRow, ...]  # with problems of their own, some of them refused
    notices: tuple[str, ...] = ()


def read_json(path: Path) -> Any:
    """The content of a JSON file of at most 50 MB.

    Raises
    ------
    SourceRefused
        where it cannot be read, is too large, is no JSON, or has objects within objects more than 60 deep.
    """
    name = shown_name(path.name)
    data = read_bounded(path, LARGEST_JSON)
    again = "Fetch or save it again, or leave it out."
    try:
        document = json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
    except UnicodeDecodeError:
        raise SourceRefused(f"{name} is not UTF-8, as JSON must be.", again) from None
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise SourceRefused(f"{name} is not JSON: {error.msg} ({where}).", again) from None
    except RecursionError:
        raise SourceRefused(f"{name} has objects within objects more than {DEEPEST} deep.", "Leave it out.") from None
    except ValueError as error:
        raise SourceRefused(f"{name} is not JSON: {shown_name(str(error), 100)}.", again) from None
    if _deeper_than(document, DEEPEST):
        raise SourceRefused(f"{name} has objects within objects more than {DEEPEST} deep.", "Leave it out.")
    return document


def _no_number(word: str) -> Any:
    raise ValueError(f"{word} is no number")


def _deeper_than(document: Any, most: int) -> bool:
    level = [document]
    for _ in range(most):
        level = [inner for one in level for inner in _inside(one)]
        if not level:
            return False
    return True


def _inside(one: Any) -> list[Any]:
    values = list(one.values()) if isinstance(one, dict) else one if isinstance(one, list) else []
    return [value for value in values if isinstance(value, (dict, list))]


def listed(value: Any) -> list[Any]:
    """A value as a list: itself where it is one, nothing where it is null."""
    return value if isinstance(value, list) else [] if value is None else [value]


def complete(row: DescribedRow, file: str) -> DescribedRow:
    """The row with what cannot be used taken out, and its file found; an archive's own row says what is empty."""
    if row.fields.get("reference"):
        row = replace(row, emptied=frozenset(FIELDS) - frozenset(row.fields) - frozenset(KEPT))
    row = usable(row, has_file=bool(file or row.url))
    return with_file(row, file) if file else row


def objects(value: Any) -> Iterator[dict[str, Any]]:
    """The objects in a list, or the one object; whatever else stands there is passed over."""
    return (one for one in listed(value) if isinstance(one, dict))


def text_of(value: Any) -> str:
    """A string or number as text; "" for anything else."""
    if isinstance(value, str):
        return value
    return str(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else ""


def bounded(text: str) -> str:
    """Text that a field can hold: none of what no database takes, at most 100,000 characters."""
    return text.encode("utf-8", "replace").decode("utf-8").replace("\0", "\ufffd")[:LONGEST_CELL]


# --- where a file is -----------------------------------------------------------------------------------------------


def local_path(uri: str, base: str, folder: Path) -> str | None:
    """The path of a file named by a URI, relative to the folder of the JSON file, or None for what lies on the web.

    Relative names, `file:` URIs and addresses beneath that of the JSON file itself (`base`) are local: what stands on
    the web beside a manifest lies beside it on the disk. The path is a claim, to be checked like the cell of a sheet.
    """
    try:
        parts = urlsplit(uri)
        if parts.scheme == "file":
            path = Path(unquote(parts.path))
            return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else path.as_posix()
        if parts.scheme in ("http", "https"):
            above = f"{base.rpartition('/')[0]}/"
            beneath = base.count("/") >= 3 and uri.startswith(above)
            return unquote(urlsplit(uri[len(above) :]).path) if beneath else None
    except ValueError:
        return uri
    return uri if parts.scheme else unquote(parts.path)


# --- text that may be HTML ------------------------------------------------------------------------------------------


class _Words(html.parser.HTMLParser):
    BREAKS = frozenset("p br div li tr h1 h2 h3 h4 h5 h6 ul ol table".split())
    HIDDEN = frozenset("script style template".split())

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in self.BREAKS and self.words:
            self.words.append("\n")
        self.hidden += tag in self.HIDDEN

    def handle_endtag(self, tag: str) -> None:
        self.hidden = max(0, self.hidden - (tag in self.HIDDEN))

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


def without_markup(text: str) -> str:
    r"""The words of a text, which is HTML where it begins with < and ends with > (IIIF Presentation 3.0, 4.5).

    >>> without_markup("<p>A cart<br>at the ford</p>")
    'A cart\nat the ford'
    """
    if not (text.lstrip().startswith("<") and text.rstrip().endswith(">")):
        return text
    reader = _Words()
    try:
        reader.feed(text)
        reader.close()
    except (AssertionError, ValueError):
        return text
    return "".join(reader.words)
