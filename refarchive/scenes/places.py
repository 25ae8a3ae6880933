"""Where in a TOML text a value stands, so that a refusal can name the line.

The standard library's parser gives values without positions. This index reads only the outline of the text (table
headers and keys at the start of a line) and is used for messages alone: never to read a value.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

Path = Sequence[str | int]

_NAMES = re.compile(r"[A-Za-z0-9_.\-\"' ]+")
MOST_PARTS = 30  # of a dotted name: no value of a plan lies as deep
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-]+|\"[^\"]*\"|'[^']*')\s*(\.[^=]*)?=")


class Places:
    """Line numbers (from 1) of the keys of a TOML text."""

    def __init__(self, text: str) -> None:
        self._lines: dict[tuple[str | int, ...], int] = {}
        counts: dict[tuple[str | int, ...], int] = {}
        table: tuple[str | int, ...] = ()
        quote = ""
        for number, line in enumerate(text.splitlines(), start=1):
            if quote:  # inside a multi-line string
                if line.count(quote) % 2:
                    quote = ""
                continue
            header = _header(line)
            if header:
                names, repeated = header
                table = ()
                for position, name in enumerate(names):
                    table = (*table, name)
                    last = position == len(names) - 1
                    if last and repeated:
                        counts[table] = counts.get(table, -1) + 1
                    if table in counts:
                        table = (*table, counts[table])
                self._lines.setdefault(table, number)
                continue
            key = _KEY.match(line)
            if key:
                self._lines.setdefault((*table, key.group(1).strip("\"'")), number)
            for mark in ('"""', "'''"):
                if line.count(mark) % 2:
                    quote = mark

    def line(self, path: Path) -> int | None:
        """Line of the value at `path`, or of the nearest thing around it that has one."""
        for end in range(len(path), 0, -1):
            found = self._lines.get(tuple(path[:end]))
            if found is not None:
                return found
        return None


def _header(line: str) -> tuple[list[str], bool] | None:
    """The names of a table's header and whether it is one of a list; None for another line."""
    line = line.strip()
    if not line.startswith("["):
        return None
    repeated = line.startswith("[[")
    inside, closing, rest = line[1 + repeated :].partition("]]" if repeated else "]")
    if not closing or not _NAMES.fullmatch(inside) or rest.strip()[:1] not in ("", "#"):
        return None
    names = inside.split(".", MOST_PARTS)
    return ([part.strip().strip("\"'") for part in names], repeated) if len(names) <= MOST_PARTS else None


def field_name(path: Path) -> str:
    """`path` as a person would say it: needs are counted from 1 ("need 3, evidence 1, relation")."""
    words: list[str] = []
    for part in path:
        if isinstance(part, int):
            words[-1] = f"{words[-1]} {part + 1}"
        else:
            words.append(part)
    return ", ".join(words)
