"""What all commands share: opening the archive, answering as lines or as JSON, common arguments."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from refarchive import __version__

if TYPE_CHECKING:
    from refarchive.archive import Archive


# C1 controls, marks of direction, separators of lines, halves of pairs; JSON itself escapes the other controls.
_UNSHOWN = re.compile("[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def visible_text(text: str) -> str:
    """Text with control and direction marks made visible: a title must not move the cursor or turn the line."""
    from refarchive.archive.telling import visible

    return visible(text)


GOES_ON = "What was done so far is kept; give the same command again to go on."
ONLY_WHOLE = "Nothing half-written is left: a file is written when it is whole. Give the same command again."


class Interrupted(KeyboardInterrupt):
    """Ctrl-C during work of which it is known what is kept, in words."""


@contextmanager
def opened_archive(folder: Path, stopped: str = GOES_ON) -> Iterator[Archive]:
    """An archive, open; `stopped` says what is kept of the work where Ctrl-C ends it."""
    import refarchive

    archive = refarchive.open(folder)
    try:
        yield archive
    except KeyboardInterrupt:
        raise Interrupted(stopped) from None
    finally:
        archive.close()


def as_json_text(document: Any, indent: int | None = 2) -> str:
    """A JSON document in which what steers a terminal, turns a line or is no whole character stands as its escape."""
    return _UNSHOWN.sub(_escaped, json.dumps(document, ensure_ascii=False, indent=indent))


def _escaped(found: re.Match[str]) -> str:
    return json.dumps(found[0])[1:-1]


def answer(as_json: bool, document: Any, lines: Callable[[], Iterator[str]]) -> None:
    if as_json:
        click.echo(as_json_text(document))
    else:
        for line in lines():
            click.echo(visible_text(line))


folder_argument = click.argument("archive", type=click.Path(path_type=Path))
json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document and nothing else.")


def region_value(_: click.Context, __: click.Parameter, value: str | None) -> tuple[float, float, float, float] | None:
    if value is None:
        return None
    try:
        x, y, width, height = (float(part) for part in value.split(","))
    except ValueError:
        raise click.BadParameter("give X,Y,W,H as four numbers from 0 to 1, for instance 0.2,0.1,0.3,0.3") from None
    return x, y, width, height


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__)
def cli() -> None:
    """Keep period references, find them again, plan a scene from them, print its dossier, check its frames.

    A reference is one picture, text or object record with its provenance. Scenes are planned in TOML files.
    """
