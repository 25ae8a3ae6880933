"""What an archive is asked for, read: a region of a picture, the address of a database."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from refarchive.errors import BadQuery

if TYPE_CHECKING:
    from refarchive.archive import PathLike
    from refarchive.records.model import Region
    from refarchive.records.shared import Shared


def checked_region(region: Sequence[float]) -> Region:
    """Four fractions, kept inside the picture by a rounding's breadth. Raises BadQuery."""
    try:
        x, y, width, height = (float(value) for value in region)
    except (TypeError, ValueError):
        raise BadQuery("A region is four numbers.", "Give x, y, width, height as fractions from 0 to 1.") from None
    inside = 0 <= x < 1 and 0 <= y < 1 and width > 0 and height > 0 and x + width <= 1.0001 and y + height <= 1.0001
    if not inside:
        raise BadQuery(
            f"The region {x:g}, {y:g}, {width:g}, {height:g} is not inside the picture.",
            "Give x, y, width, height as fractions from 0 to 1, x + width and y + height at most 1.",
        )
    return (x, y, min(width, 1 - x), min(height, 1 - y))


def shared_at(database: str, files: PathLike) -> Shared | None:
    """Where a shared archive lies, None where no database is named. Raises BadQuery."""
    from refarchive.records import postgres
    from refarchive.records.shared import Shared

    if not database:
        if str(files):
            raise BadQuery("A folder of originals is named, and no database.", "Leave it out, or name the database.")
        return None
    postgres.checked(database)
    return Shared(database, str(Path(files).absolute()) if str(files) else "")


def database_named(archive: str) -> str:
    """The name of the database that an address means, "" for what is no address but a folder. Raises BadQuery."""
    from refarchive.records import postgres

    return postgres.checked(archive).get("dbname", "archive") if postgres.is_address(archive) else ""
