"""The dossier's page on what each need rests on: witnesses, time, contradictions, what would change it."""

from __future__ import annotations

from collections.abc import Sequence

from refarchive.paper import blocks
from refarchive.paper.blocks import Section
from refarchive.paper.citing import Citations
from refarchive.scenes.coverage import NeedCoverage, WitnessFor, what_would_change

EXPLAINED = (
    "References that descend from one original are one witness, however many of them are cited. In time: exact where a "
    "reference can be of the scene's days, near within ten years, far beyond, unknown where one is undated. Silence is "
    "never a clearance, and no number here is a verdict."
)
COLUMNS = ("Need", "Rests on", "In time", "Against it", "What would change this")


def standing_section(rows: Sequence[NeedCoverage], cite: Citations) -> Section:
    """The section; without pages, and so left out, where the scene has no needs."""
    if not rows:
        return blocks.section("standing", "What this rests on", [])
    numbers = {one: cite.number(one) for row in rows for w in (*row.witnesses, *row.against) for one in w.references}
    table = blocks.table(COLUMNS, [_row(row, numbers) for row in rows])
    parts = [blocks.text(EXPLAINED, "small"), table]
    return blocks.section("standing", "What this rests on", [blocks.page("", parts)], start="sheet")


def _row(row: NeedCoverage, numbers: dict[str, str]) -> tuple[str, ...]:
    rests = "; ".join(f"{count} {kind}" for kind, count in row.by_kind.items()) or "nothing yet"
    if row.only_later:
        rests += " (only later evidence)"
    time = ", ".join(f"{count} {word}" for word, count in row.by_period.items() if count) or "–"
    against = "; ".join(_named(witness, numbers) for witness in row.against) or "–"
    return row.need.name, rests, time, against, what_would_change(row, numbers)


def _named(witness: WitnessFor, numbers: dict[str, str]) -> str:
    return " and ".join(numbers[one] for one in witness.references)
