"""Excerpts of the US Naval Observatory's tables of risings and settings, read as printed."""

from __future__ import annotations

from pathlib import Path

AUTHORITY = Path(__file__).parents[1] / "authorities" / "usno_fredonia_2023.txt"


def table(title: str) -> dict[tuple[int, int], tuple[list[str], list[str]]]:
    """Rises and sets by (month, day) from a table of the US Naval Observatory."""
    found: dict[tuple[int, int], tuple[list[str], list[str]]] = {}
    rows = AUTHORITY.read_text().split(f"\n{title}\n")[1].splitlines()
    for row in rows:
        if not row[:2].isdigit():
            break
        for month in range(1, 13):
            cell = row[4 + 11 * (month - 1) : 13 + 11 * (month - 1)].ljust(9)
            rises, sets = found.setdefault((month, int(row[:2])), ([], []))
            rises += [cell[:4]] if cell[:4].strip() else []
            sets += [cell[5:9]] if cell[5:9].strip() else []
    return found


def minutes(shown: str) -> int:
    digits = shown.replace(":", "")
    return 60 * int(digits[:2]) + int(digits[2:])
