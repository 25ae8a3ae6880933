"""What was said and measured of frames over time: viewers' words, the lines of every check; nothing is overwritten."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from typing import Any

import sqlalchemy as sa

from refarchive.errors import RecordRefused, UnknownRecord
from refarchive.records import model, rows, schema

Opened = Callable[[], AbstractContextManager[sa.Connection]]
Tell = Callable[[sa.Connection, str, str, Any, Any], None]

LONGEST_WORDS = 5_000  # characters of one viewing
LONGEST_SECONDS = 3_600.0


class Looked:
    """Viewings and checks of one archive's frames; `Store.looked`."""

    def __init__(self, reading: Opened, writing: Opened, tell: Tell) -> None:
        self._reading, self._writing, self._tell = reading, writing, tell

    def add_viewing(self, viewing: model.Viewing) -> None:
        """Keep what one person said of a frame.

        Raises UnknownRecord for a frame that is not there, RecordRefused for no words, too many, or no such time.
        """
        if not viewing.words.strip() or len(viewing.words) > LONGEST_WORDS:
            raise RecordRefused(
                "A viewing needs the viewer's words, at most 5,000 characters.", "Write down what they said."
            )
        if viewing.seconds is not None and not 0 < viewing.seconds <= LONGEST_SECONDS:
            raise RecordRefused("The seconds of looking lie between 0 and 3,600.", "Leave them out where unknown.")
        with self._writing() as connection:
            _known(connection, viewing.frame)
            connection.execute(sa.insert(schema.viewing).values(rows.plain(viewing)))
            self._tell(connection, "added", f"viewing:{viewing.frame}", None, rows.plain(viewing))

    def viewings(self, frame: str) -> list[model.Viewing]:
        """What was said of a frame, in the order it was kept."""
        table = schema.viewing
        query = sa.select(table).where(table.c.frame == frame).order_by(table.c.number)
        with self._reading() as connection:
            return [rows.plain_row(model.Viewing, row) for row in connection.execute(query).mappings()]

    def add_check(self, frame: str, at: str, lines: Sequence[dict[str, Any]]) -> None:
        """Keep the lines of a check beside those before. Raises UnknownRecord."""
        with self._writing() as connection:
            _known(connection, frame)
            connection.execute(sa.insert(schema.frame_check).values(frame=frame, at=at, lines=list(lines)))

    def checks(self, frame: str) -> list[tuple[str, list[dict[str, Any]]]]:
        """When a frame was checked and what came out, oldest first."""
        table = schema.frame_check
        query = sa.select(table.c.at, table.c.lines).where(table.c.frame == frame).order_by(table.c.number)
        with self._reading() as connection:
            return [(row.at, row.lines) for row in connection.execute(query)]


def _known(connection: sa.Connection, frame: str) -> None:
    table = schema.frame
    if connection.execute(sa.select(table.c.id).where(table.c.id == frame)).first() is None:
        raise UnknownRecord(f"There is no frame {frame!r}.", "Check it once, and it is kept.")
