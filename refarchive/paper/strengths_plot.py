"""Strengths of frames with their intervals, drawn in the style of the pages: a point and a line for each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refarchive.paper.figures import INK, PAPER, RULE, in_a_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST = 60  # frames in one drawing
LONGEST = 40  # characters of a name


def strengths_figure(rows: Sequence[Mapping[str, Any]], criterion: str) -> Figure:
    """A line for each frame, in the order given; groups that nothing connects stand apart.

    Parameters
    ----------
    rows
        `frame`, `strength`, `low`, `high` (None for one that was compared with nothing), `group`.
    criterion
        By what it was asked.
    """
    from matplotlib.figure import Figure

    shown = list(rows)[:MOST]
    places, at = [], 0.0
    for number, row in enumerate(shown):
        if number and row["group"] != shown[number - 1]["group"]:
            at += 0.8
        places.append(at)
        at += 1.0
    figure = Figure(figsize=(8.3, 1.0 + 0.27 * max(at, 2.0)), facecolor=PAPER, layout="constrained")
    axes = figure.subplots()
    axes.axvline(0.0, color=RULE, linewidth=0.8)
    for place, row in zip(places, shown, strict=True):
        if row["low"] is not None:
            axes.plot([row["low"], row["high"]], [place, place], color=INK, linewidth=1.0)
            axes.plot([row["strength"]], [place], marker="o", markersize=4.5, color=INK)
        else:
            axes.plot([0.0], [place], marker="o", markersize=4.5, markerfacecolor=PAPER, color=INK)
    axes.set_yticks(places, [in_a_figure(str(row["frame"]), LONGEST) for row in shown])
    axes.set_ylim(at - 0.3, -0.7)
    axes.set_xlabel(
        f"preferred more often by {criterion} →   (logarithm of odds; the line is the interval)", fontsize=8, color=INK
    )
    axes.set_facecolor(PAPER)
    axes.tick_params(colors=INK, labelsize=8, length=0)
    for name, spine in axes.spines.items():
        spine.set_visible(name == "bottom")
        spine.set_color(RULE)
    return figure
