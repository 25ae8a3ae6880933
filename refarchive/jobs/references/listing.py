"""Lists over a large file of pictures' vectors (`search.lists`), kept beside it: made, known for stale, made anew.

They lie in `vectors/lists/` and are a cache. Lists that are damaged, or of other rows, are not used: every row is read
then, as in a small archive. Rows added since are all read, until they are so many that the lists are made anew. That
takes a while, so it is done after gathering, encoding anew and mending, and never by a question.
"""

from __future__ import annotations

import zlib
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from refarchive import leftovers
from refarchive.jobs.kit import Kit
from refarchive.jobs.references.signatures import write_whole
from refarchive.records.bounded import read_bounded

if TYPE_CHECKING:
    from refarchive.search.lists import Lists
    from refarchive.search.scan import Index
    from refarchive.search.vectors import VectorFile

FOLDER, NAME = "lists", "likeness.lists"
# Rows from which lists are made. Figures in tests/bench/README.md: below, a scan over two cores takes so little of an
# answer that minutes of making lists are not worth it.
LARGE = 300_000
MOST_BYTES = 1 << 28  # of a file that is read: lists over some forty million rows
MOST_NEW = 0.1  # share of rows added since, from which the lists are made anew


def bring_up_to_date(kit: Kit) -> bool:
    """Make lists where the archive is large and they are missing, damaged or stale; whether they were made.

    Told through `kit.progress`, and may be stopped by it: then nothing is kept. Raises ArchiveUnwritable.
    """
    from refarchive.search import lists

    if kit.store.shared is not None:
        return False  # the database searches its own rows
    path = _path(kit)
    with suppress(OSError):
        leftovers.sweep(path.parent.glob(".making-*"))
    # Looked at as they lie, for no encoder is to be loaded for this.
    file = vars(kit).get("likeness") or kit.vectors.opened("likeness")
    if file is None or len(file) < LARGE:
        with suppress(OSError):  # they are not used either
            path.unlink()
        return False
    kept = of(kit, file)
    if kept is not None and len(file) - len(kept.rows) <= MOST_NEW * len(file):
        return False
    stamp = _stamp(file, len(file))
    if not stamp:
        return False  # sums are lost: verify names that, and mends it
    made = lists.made(file.matrix(), stamp, kit.progress)
    write_whole(path, made.to_bytes())
    kit.forget_index(file)
    return True


def of(kit: Kit, file: VectorFile) -> Lists | None:
    """The lists that are kept, None where there are none, or none that can be read, or they are of other rows."""
    try:
        found = _read(kit)
    except (OSError, ValueError):
        return None
    fits = len(found.rows) <= len(file) and found.centres.shape[1] == file.dimension
    return found if fits and found.stamp and found.stamp == _stamp(file, len(found.rows)) else None


def damaged(kit: Kit) -> bool:
    """Whether lists are there that cannot be read."""
    try:
        _read(kit)
    except FileNotFoundError:
        return False
    except (OSError, ValueError):
        return True
    return False


def index(kit: Kit) -> Index:
    """What searches pictures by likeness: with lists where there are any that fit."""
    held = kit.kept_index(kit.likeness)
    if kit.store.shared is None and held.lists is None and len(held) >= LARGE and not held.looked:
        held.lists, held.looked = of(kit, kit.likeness), True
    return held


def _path(kit: Kit) -> Path:
    return kit.folder / "vectors" / FOLDER / NAME


def _read(kit: Kit) -> Lists:
    from refarchive.search.lists import Lists

    return Lists.from_bytes(read_bounded(_path(kit), MOST_BYTES))


def _stamp(file: VectorFile, count: int) -> str:
    """What the first rows are: a checksum of the checksums that are kept of each with its key."""
    sums = file.sums(count)
    return f"{count}:{zlib.crc32(sums):08x}" if len(sums) == 4 * count else ""
