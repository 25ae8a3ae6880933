"""Figures in the style of the pages: neutral ground, thin rules, told apart in black and white."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from refarchive.paper.blocks import clean
from refarchive.paper.citing import date_in_words
from refarchive.records.model import When, Witness
from refarchive.scenes.coverage import SPANS, NeedCoverage, WitnessFor

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK, RULE, PAPER = "#1c1c1a", "#b8b6b0", "#f6f5f1"
# One mark for each kind of witness, chosen to differ in outline rather than in colour.
MARKS = {
    Witness.OBJECT: "s",
    Witness.PHOTOGRAPH: "o",
    Witness.HANDMADE: "^",
    Witness.TEXT: "D",
    Witness.COMMERCIAL: "v",
    Witness.SECOND_HAND: "p",
    Witness.LATER: "<",
    Witness.UNKNOWN: "X",
}
FACES = ["DejaVu Serif", "DejaVu Sans"]  # come with Matplotlib; the second has more letters
FILES = (".png", ".svg", ".pdf")
LONGEST = 46  # characters of a name
LONGEST_NAME = 42  # characters of a need's name
LONGEST_TITLE = 80  # characters of a scene's


def coverage_figure(title: str, when: When | None, rows: Sequence[NeedCoverage]) -> Figure:
    """Needs, one to a line, against time before and after the scene; one mark for each independent witness.

    Filled marks speak for a need, hollow ones against it; the outline says what kind of witness it is. A need that
    nothing supports says so in words.
    """
    from matplotlib.figure import Figure

    height = 1.6 + 0.26 * max(len(rows), 1)
    figure = Figure(figsize=(8.3, height), facecolor=PAPER, layout="constrained")
    axes = figure.add_subplot()
    axes.set_facecolor(PAPER)
    for place, row in enumerate(rows):
        _line(axes, place, row)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_yticks(range(len(rows)), [in_a_figure(row.need.name, LONGEST_NAME) for row in rows])
    axes.set_xlim(-0.5, len(SPANS) - 0.5)
    axes.set_xticks(range(len(SPANS)), [_in_two_lines(label) for label in SPANS.values()])
    axes.xaxis.tick_top()
    axes.tick_params(length=0, labelsize=8, colors=INK)
    for edge in range(len(SPANS) - 1):
        axes.axvline(edge + 0.5, color=RULE, linewidth=0.5)
    _part_departments(axes, rows)
    for spine in axes.spines.values():
        spine.set_color(RULE)
    date = f", {date_in_words(when)}" if when else ", undated"
    title = in_a_figure(title, LONGEST_TITLE)
    axes.set_title(f"{title}{date}: what each need rests on", loc="left", fontsize=10, color=INK, family=FACES)
    _key(figure, rows)
    return figure


def _line(axes: Any, place: int, row: NeedCoverage) -> None:
    for column, span in enumerate(SPANS):
        here = [(w, True) for w in row.witnesses if w.span == span] + [
            (w, False) for w in row.against if w.span == span
        ]
        for number, (witness, speaks_for) in enumerate(here):
            axes.plot(
                column + (number - (len(here) - 1) / 2) * min(0.17, 0.9 / max(len(here), 1)),
                place,
                marker=MARKS[_kind(witness)],
                markersize=6,
                markeredgecolor=INK,
                markeredgewidth=1.0,
                markerfacecolor=INK if speaks_for else PAPER,
                linestyle="none",
            )
    if row.gap:
        middle = (len(SPANS) - 1) / 2  # of the whole row: it is said of no column
        room = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.5}
        axes.text(
            middle, place, "nothing yet", fontsize=7.5, style="italic", ha="center", va="center", color=INK, bbox=room
        )


def _kind(witness: WitnessFor) -> Witness:
    return Witness(witness.kinds[0])


def _in_two_lines(label: str) -> str:
    """The label broken at the space nearest its middle, where it has three words or more."""
    spaces = [n for n, character in enumerate(label) if character == " "]
    if len(spaces) < 2:
        return label
    middle = min(spaces, key=lambda n: abs(n - len(label) / 2))
    return f"{label[:middle]}\n{label[middle + 1 :]}"


def _part_departments(axes: Any, rows: Sequence[NeedCoverage]) -> None:
    """A rule between departments, and the name of each at the right."""
    for place, row in enumerate(rows):
        if place == 0 or row.need.department != rows[place - 1].need.department:
            axes.text(
                len(SPANS) - 0.45, place, row.need.department, fontsize=7.5, style="italic", va="center", color=INK
            )
            if place:
                axes.axhline(place - 0.5, color=INK, linewidth=0.6)


def _key(figure: Figure, rows: Sequence[NeedCoverage]) -> None:
    """The kinds of witness that occur, and what a hollow mark says."""
    from matplotlib.lines import Line2D

    kinds = {_kind(w) for row in rows for w in (*row.witnesses, *row.against)}
    style: dict[str, Any] = {"linestyle": "none", "markersize": 6, "markeredgecolor": INK, "markerfacecolor": INK}
    handles = [Line2D([], [], marker=mark, label=kind.value, **style) for kind, mark in MARKS.items() if kind in kinds]
    if any(row.against for row in rows):
        handles.append(Line2D([], [], marker="o", label="hollow: against", **{**style, "markerfacecolor": PAPER}))
    if handles:
        figure.legend(
            handles=handles, loc="outside lower left", ncols=4, fontsize=7.5, frameon=False, handletextpad=0.3
        )


def in_a_figure(name: str, longest: int = LONGEST) -> str:
    """A name on one line, as Matplotlib shows it: nothing in it is a formula, and no legend leaves it out.

    What its face has no letter for is written as its code, as in [U+6F22].
    """
    face = _face()
    shown = "".join(c if face.get_char_index(ord(c)) else f"[U+{ord(c):04X}]" for c in " ".join(clean(name).split()))
    shown = shown if len(shown) <= longest else shown[: longest - 1].rstrip() + "…"
    return re.sub(r"^_", " _", shown).replace("$", r"\$")


@cache
def _face() -> Any:
    from matplotlib.font_manager import findfont, get_font

    return get_font(findfont(FACES[-1]))


def as_file(figure: Figure, suffix: str) -> bytes:
    """The figure as PNG (200 dots per inch), SVG or PDF, by the suffix of its file name."""
    out = io.BytesIO()
    figure.savefig(out, format=suffix.lstrip(".").lower(), dpi=200, facecolor=PAPER)
    return out.getvalue()
