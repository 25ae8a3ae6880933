"""Words and names made fit for where they go, for all who hold an archive."""

from __future__ import annotations


def visible(text: str) -> str:
    """Text for a terminal: control and direction marks made visible, line breaks too."""
    from refarchive.sources.folder import shown_name

    return shown_name(text, 100_000)


def file_name(name: str) -> str:
    """A name that every system takes for a file, near to the one given; its ending stays."""
    from refarchive.records import names

    return names.file_name(name)


def sheet_columns() -> dict[str, str]:
    """The columns a sheet may have, each with one sentence and the Dublin Core names that mean the same."""
    from refarchive.sources.sheet import COLUMNS

    return {c.name: c.meaning + (f" Also: {', '.join(c.also)}." if c.also else "") for c in COLUMNS}
