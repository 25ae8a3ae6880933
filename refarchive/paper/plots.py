"""Plots in the style of the pages: palettes as bars, tones as curves, references on a line of time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refarchive.paper.figures import FACES, INK, LONGEST_TITLE, MARKS, PAPER, RULE, in_a_figure
from refarchive.records.model import Reference, Scene

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

STROKES = ("-", "--", ":", "-.")  # told apart without colour
MOST_LINES = 60  # references on one line of time
YEAR_0 = 1_721_060  # Julian day number of 1 January of the year 0, proleptic Gregorian
DAYS = 365.2425


def look_figure(
    tones: Mapping[str, NDArray[np.float64]], palettes: Mapping[str, Sequence[tuple[str, float]]]
) -> Figure:
    """How light and dark, and how colours, lie in a few pictures.

    Parameters
    ----------
    tones
        By name, L* of pixels, any shape: drawn as the share of the picture that is at most so light.
    palettes
        By name, colours as ("#rrggbb", share): drawn as bars, each colour as wide as its share.
    """
    import numpy as np
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.3, 3.2 + 0.42 * len(palettes)), facecolor=PAPER, layout="constrained")
    above, below = figure.subplots(2, 1, height_ratios=(3.0, 0.2 + 0.45 * len(palettes)))
    for (name, values), stroke in zip(tones.items(), STROKES * len(tones), strict=False):
        ordered = np.sort(np.asarray(values, dtype=np.float64).ravel())
        at = np.linspace(0, 100, 401)
        reached = 100.0 * np.searchsorted(ordered, at, side="right") / max(1, ordered.size)
        above.plot(at, reached, linestyle=stroke, color=INK, linewidth=1.2, label=in_a_figure(name))
    above.set_xlim(0, 100)
    above.set_ylim(0, 100)
    above.set_xlabel("L*", fontsize=8, color=INK)
    above.set_ylabel("% of the picture at most so light", fontsize=8, color=INK)
    above.legend(fontsize=7.5, frameon=False, loc="lower right")
    for place, colours in enumerate(palettes.values()):
        start, whole = 0.0, sum(share for _, share in colours) or 1.0
        for hexed, share in colours:
            below.barh(place, share / whole, left=start, height=0.7, color=hexed, edgecolor=RULE, linewidth=0.4)
            start += share / whole
    below.set_xlim(0, 1)
    below.set_ylim(len(palettes) - 0.5, -0.5)
    below.set_yticks(range(len(palettes)), [in_a_figure(name) for name in palettes])
    below.set_xticks([])
    _plain(above, below)
    return figure


def timeline_figure(scene: Scene, references: Sequence[Reference]) -> Figure:
    """The dated references of a scene, one to a line, over the time that each may be from; the scene's own as a band.

    The mark says what kind of witness it is, as in the figure of coverage; undated ones are counted in the title.
    """
    from matplotlib.figure import Figure
    from matplotlib.ticker import MaxNLocator

    dated = [(one, span) for one in references if (span := _span(one)) is not None]
    shown = sorted(dated, key=lambda pair: pair[1])[:MOST_LINES]
    figure = Figure(figsize=(8.3, 1.3 + 0.24 * max(1, len(shown))), facecolor=PAPER, layout="constrained")
    axes = figure.add_subplot()
    own = _span(scene)
    if own is not None:
        axes.axvspan(*own, color=RULE, alpha=0.6, linewidth=0)
        axes.axvline(sum(own) / 2, color=INK, linewidth=0.8, linestyle=":")  # a single day has no width to be seen
    for place, (reference, (start, end)) in enumerate(shown):
        axes.plot([start, end], [place, place], color=INK, linewidth=1.0)
        axes.plot((start + end) / 2, place, marker=MARKS[reference.witness], markersize=5, color=INK)
    axes.set_yticks(range(len(shown)), [in_a_figure(reference.title) for reference, _ in shown])
    axes.set_ylim(max(0.6, len(shown) - 0.4), -0.6)
    axes.xaxis.set_major_formatter("{x:.0f}")
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    undated, more = len(references) - len(dated), len(dated) - len(shown)
    rest = "".join(f"; {count} {what}" for count, what in ((undated, "undated"), (more, "more")) if count)
    title = in_a_figure(scene.title, LONGEST_TITLE)
    axes.set_title(f"{title}: its references in time{rest}", loc="left", fontsize=10, color=INK, family=FACES)
    _plain(axes)
    return figure


def _span(dated: Reference | Scene) -> tuple[float, float] | None:
    """From when to when, as years with parts; None where one end is open or nothing is known."""
    when = dated.when
    if when is None or when.earliest is None or when.latest is None:
        return None
    return (when.earliest - YEAR_0) / DAYS, (when.latest + 1 - YEAR_0) / DAYS


def _plain(*all_axes: Any) -> None:
    for axes in all_axes:
        axes.set_facecolor(PAPER)
        axes.tick_params(length=2, labelsize=8, colors=INK)
        for spine in axes.spines.values():
            spine.set_color(RULE)
