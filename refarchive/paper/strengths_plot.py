"""Strengths of frames with their intervals, drawn in the style of the pages: a point and a line for each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refarchive.paper.figures import INK, PAPER, RULE, in_a_figure

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    Pictures = Mapping[str, NDArray[np.uint8]]

MOST = 60  # frames in one drawing
LONGEST = 40  # characters of a name
BARE, PICTURED = 0.27, 0.45  # inches of a line, without a picture and with one
WIDE, TALL = 40.0, 27.0  # points of a picture at most


def strengths_figure(rows: Sequence[Mapping[str, Any]], criterion: str, pictures: Pictures | None = None) -> Figure:
    """A line for each frame, in the order given; groups that nothing connects stand apart.

    Parameters
    ----------
    rows
        `frame`, `strength`, `low`, `high` (None for one that was compared with nothing), `group`.
    criterion
        By what it was asked.
    pictures
        Small ones by `frame`, uint8 of shape (height, width, 3), to stand beside the names.
    """
    from matplotlib.figure import Figure

    pictures = pictures or {}
    shown = list(rows)[:MOST]
    places, at = [], 0.0
    for number, row in enumerate(shown):
        if number and row["group"] != shown[number - 1]["group"]:
            at += 0.8
        places.append(at)
        at += 1.0
    figure = Figure(
        figsize=(8.3, 1.0 + (PICTURED if pictures else BARE) * max(at, 2.0)), facecolor=PAPER, layout="constrained"
    )
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
    if pictures:
        axes.tick_params(axis="y", pad=WIDE + 8)
    for place, row in zip(places, shown, strict=True):
        if row["frame"] in pictures:
            _picture(axes, place, pictures[row["frame"]])
    for name, spine in axes.spines.items():
        spine.set_visible(name == "bottom")
        spine.set_color(RULE)
    return figure


def _picture(axes: Axes, place: float, picture: NDArray[np.uint8]) -> None:
    """A picture between the name of a line and the line."""
    from matplotlib.offsetbox import AnnotationBbox, OffsetImage

    height, width = picture.shape[:2]
    image = OffsetImage(picture, zoom=min(WIDE / width, TALL / height), interpolation="antialiased")
    axes.add_artist(
        AnnotationBbox(
            image, (0.0, place), (-WIDE / 2 - 5, 0.0),  # points from the left end of the line
            xycoords=("axes fraction", "data"), boxcoords="offset points", frameon=False, pad=0, annotation_clip=False,
        )
    )  # fmt: skip
