"""Finding over one archive: the search room's question, with this archive's vectors, words and colours behind it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from refarchive.errors import BadQuery
from refarchive.jobs import measures
from refarchive.jobs.kit import Kit
from refarchive.records.model import Filter

if TYPE_CHECKING:
    from refarchive.search.finding import Findings


def rank_by_colour(kit: Kit, lab: Sequence[float], allowed: Sequence[str]) -> list[tuple[str, float]]:
    """Picture references among `allowed`, nearest to a Lab colour first, with their distance (CIEDE2000)."""
    from refarchive.looks import colour

    held = set(kit.colours.keys())
    keys = [key for key in allowed if key in held]
    if not keys:
        return []
    distances = colour.colour_closeness(measures.rows_as_palettes(kit.colours.rows(keys)), lab)
    return sorted(zip(keys, (float(d) for d in distances), strict=True), key=lambda pair: (pair[1], pair[0]))


def asked_colour(hexadecimal: str) -> tuple[float, float, float]:
    """Lab of a colour as typed. Raises BadQuery."""
    import re

    from refarchive.looks import colour

    if not re.fullmatch(r"#?[0-9a-fA-F]{6}", hexadecimal):
        raise BadQuery(f"{hexadecimal!r} is not a colour.", "Write it as #rrggbb, for instance #7a4b2a.")
    l, a, b = colour.hex_to_lab("#" + hexadecimal.lstrip("#"))  # noqa: E741 (the name of the coordinate)
    return float(l), float(a), float(b)


def find(kit: Kit, **asked: Any) -> Findings:
    """Ask; see `Archive.find`."""
    raise NotImplementedError


__all__ = ["Filter", "find", "rank_by_colour"]
