"""The windows of a scene drawn: a strip for each day, a line for each thing that must hold, and where all do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SHEET, INK, QUIET = "#f7f5f0", "#222222", "#8a8780"
MOST_DAYS = 31  # on one figure


def window_figure(found: Mapping[str, Any]) -> Figure:
    """A matplotlib figure of what `onsite.windows` answers: at most a month, from the first day with a window on where
    there are more.
    """
    from matplotlib.figure import Figure as Drawn

    days = _shown(found)
    names = [one["what"] for one in days[0]["holds"]]
    drawn = Drawn(figsize=(7.2, 0.9 + 0.34 * len(days)), facecolor=SHEET)
    axes = drawn.add_axes(
        (0.13, 0.6 / (0.9 + 0.34 * len(days)), 0.85, 1 - 1.0 / (0.9 + 0.34 * len(days))), facecolor=SHEET
    )
    for row, day in enumerate(days):
        for line, one in enumerate(day["holds"]):
            at = row + 0.18 + 0.5 * line / max(1, len(names))
            for start, end in one["hours"]:
                axes.plot([start, end], [at, at], color=QUIET, linewidth=1.1, solid_capstyle="butt")
        for one in found["windows"]:
            if one["date"] == day["date"]:
                start, end = one["hours"]
                axes.fill_between([start, end], row + 0.1, row + 0.78, color=INK, linewidth=0, zorder=3)
                label = f"{one['from']} to {one['until']}"
                ground = {"facecolor": SHEET, "edgecolor": "none", "pad": 1.2}
                axes.text(end + 0.15, row + 0.46, label, fontsize=7, va="center", color=INK, zorder=4, bbox=ground)
    axes.set_ylim(len(days), 0)
    axes.set_xlim(0, 24)
    axes.set_xticks(range(0, 25, 2), [f"{hour:02d}" for hour in range(0, 25, 2)], fontsize=7)
    axes.set_yticks([row + 0.44 for row in range(len(days))], [day["date"] for day in days], fontsize=7)
    axes.set_xlabel(
        f"Hours on the clock of {found['clock']}. Lines from the top: {'; '.join(names)}.", fontsize=7, wrap=True
    )
    axes.tick_params(length=0)
    for row in range(1, len(days)):
        axes.axhline(row, color="#d5d2ca", linewidth=0.5)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    return drawn


def _shown(found: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    days: list[Mapping[str, Any]] = list(found["days"])
    if len(days) <= MOST_DAYS:
        return days
    dates = [one["date"] for one in found["windows"]]
    first = next((n for n, day in enumerate(days) if day["date"] in dates), 0)
    return days[first : first + MOST_DAYS] or days[:MOST_DAYS]


def in_words(found: Mapping[str, Any]) -> str:
    """What the figure shows, for those who hear it."""
    told = [f"{one['date']} {one['from']} to {one['until']}" for one in found["windows"]]
    return (
        f"All holds on {len(told)} stretches: {'; '.join(told)}." if told else "Nothing holds all on any of the days."
    )
