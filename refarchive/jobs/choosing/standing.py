"""How the frames of a scene stand by one criterion, by what the photographer said of pairs: in words, and drawn.

Only the photographer's own answers are counted; what others said in sittings of theirs is counted apart. The tool names
no winner: it says what is ahead of what, what is not separated, and what would be asked next.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from refarchive.errors import ArchiveDamaged, ArchiveUnwritable, BadQuery
from refarchive.frames import choose, consistency, drift
from refarchive.frames.strengths import LONGEST_NAME
from refarchive.jobs.choosing.comparing import in_time
from refarchive.jobs.choosing.kept_frames import thumbnail
from refarchive.jobs.choosing.sittings import said_by
from refarchive.jobs.kit import Kit
from refarchive.jobs.references.thumbnails import pixels
from refarchive.records.model import Frame, Scene
from refarchive.records.wall import CRITERIA, Judgement

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

DAY_S = 86_400.0
MOST_LISTED = 40  # sentences of one kind
DRAWN_PX = 160  # long side of a frame beside its strength
HOW = (
    "Strengths are natural logarithms of odds (Bradley and Terry 1952; neither yet as Davidson 1970), every interval "
    "is from the full covariance. They tell of what was said, not of the pictures; the deciding sentence is yours."
)


@dataclass(frozen=True)
class _Said:
    """The answers of one viewer by one criterion, oldest first, with frames by their labels."""

    labels: dict[str, str]  # of frames that were shown or looked at, by id
    answers: tuple[Judgement, ...]

    def triple(self, one: Judgement) -> tuple[str, str, str]:
        return self.labels[one.left], self.labels[one.right], one.says

    @property
    def triples(self) -> list[tuple[str, str, str]]:
        return [self.triple(one) for one in self.answers]


def _said(kit: Kit, scene: Scene, criterion: str, viewer: str = "") -> _Said:
    if criterion not in CRITERIA:
        raise BadQuery(f"There is no criterion {criterion[:40]!r}.", f"There are: {', '.join(CRITERIA)}.")
    own, answers = said_by(kit, scene.slug, criterion, viewer)
    shown = {name for one in own for name in one.frames} | {n for one in answers for n in (one.left, one.right)}
    frames = [frame for frame in in_time(kit.store.frames(scene.slug)) if frame.id in shown]
    names = Counter(frame.source_name for frame in frames)
    labels = {frame.id: _label(frame, names[frame.source_name] == 1) for frame in frames}
    return _Said(labels, tuple(answers))


def _label(frame: Frame, alone: bool) -> str:
    """The file name of a frame; cut, and with the id, where it is too long or another frame has it too."""
    if alone and len(frame.source_name) <= LONGEST_NAME:
        return frame.source_name
    number = f" ({frame.id.removeprefix('frame-')})"
    return f"{frame.source_name[: LONGEST_NAME - len(number)]}{number}"


def document(kit: Kit, scene: Scene, criterion: str) -> dict[str, Any]:
    """How the frames stand, as JSON; see the façade. Raises BadQuery."""
    said = _said(kit, scene, criterion)
    items = list(said.labels.values())
    if not said.answers:
        nothing = f"Nothing was said of pairs by {criterion} yet."
        empty: dict[str, Any] = {key: [] for key in LISTS}
        return {"criterion": criterion, "words": nothing, "alt": nothing, "how": HOW, "counted": {}, **empty}
    found = choose.standing(items, said.triples)
    counted = found.counted()
    pairs = list(found.pairs())
    free = [names for group, names in zip(found.groups, found.unpassed(), strict=True) if len(group.items) > 1]
    return {
        "criterion": criterion,
        "words": _in_all(counted, free),
        "alt": _alt(found),
        "how": " ".join([*found.sentences, HOW]),
        "counted": counted,
        "strengths": _strengths(found),
        "ahead": _listed(p.sentence for p in pairs if p.word == choose.AHEAD),
        "open": _listed(p.sentence for p in pairs if p.word == choose.NOT_SEPARATED),
        "apart": _listed(p.sentence for p in pairs if p.word == choose.NO_COMPARISON),
        "cycles": _cycles(items, said),
        "drift": _drift(items, said),
        "consistency": _consistency(said),
        "reasons": _reasons(said),
        "others": _others(kit, scene, criterion),
    }


LISTS = ("strengths", "ahead", "open", "apart", "cycles", "drift", "consistency", "reasons", "others")


def _in_all(counted: dict[str, int], free: Sequence[Sequence[str]]) -> str:
    told = f"Of {sum(counted.values())} pairs, in {counted[choose.AHEAD]} one is ahead, "
    told += f"{counted[choose.NOT_SEPARATED]} are not separated, {counted[choose.NO_COMPARISON]} cannot be compared."
    for names in free:
        told += f" Nothing is ahead of {choose.listed(names, verb=False)}."
    return told


def _strengths(found: choose.Standing) -> list[dict[str, Any]]:
    """Strengths with their intervals, in the order of the shoot; each against the mean of its group."""
    rows = []
    for place, name in enumerate(found.items):
        group = found.groups[int(found.group_of[place])]
        reach = group.quantile * float(found.covariance[place, place]) ** 0.5 if len(group.items) > 1 else None
        middle = float(found.strengths[place])
        rows.append(
            {
                "frame": name,
                "strength": middle,
                "low": None if reach is None else middle - reach,
                "high": None if reach is None else middle + reach,
                "answers": int(found.answers[place].sum()),
                "group": int(found.group_of[place]),
            }
        )
    return sorted(rows, key=lambda row: row["group"])


def _listed(sentences: Any) -> list[str]:
    every = list(sentences)
    more = len(every) - MOST_LISTED
    return [*every[:MOST_LISTED], *([f"And {more} more pairs."] if more > 0 else [])]


def _alt(found: choose.Standing) -> str:
    rows = _strengths(found)
    return "Strengths with their intervals, in the order of the shoot: " + "; ".join(
        f"{row['frame']} {row['strength']:+.1f}" for row in rows
    ).replace("-", "−")


def _cycles(items: Sequence[str], said: _Said) -> list[str]:
    found = consistency.cycles(items, said.triples)
    return [found.sentence, *(one.sentence for one in found.cycles)] if found.cycles else []


def _drift(items: Sequence[str], said: _Said) -> list[str]:
    """Whether the order changed over the weeks, and of which frames."""
    days = [datetime.fromisoformat(one.at).timestamp() / DAY_S for one in said.answers]
    found = drift.drift(items, said.triples, days)
    told = [found.sentence]
    if found.word == drift.CHANGED and found.since_day is not None:
        day = datetime.fromtimestamp(found.since_day * DAY_S, UTC).date().isoformat()
        told = [f"Changed since {day}. {found.sentence}"]
        for one in found.moved:
            figures = f"{one.change:+.2f}, from {one.low:+.2f} to {one.high:+.2f}".replace("-", "−")
            told.append(f"{one.item}: {'higher' if one.change > 0 else 'lower'} than before ({figures}).")
    return told


def _consistency(said: _Said) -> list[str]:
    by_number = {one.number: one for one in said.answers}
    repeats = [
        (said.triple(by_number[one.repeats]), said.triple(one))
        for one in said.answers
        if one.repeats is not None and one.repeats in by_number
    ]
    return [consistency.self_consistency(repeats).sentence, consistency.side_bias(said.triples).sentence]


def _reasons(said: _Said) -> list[str]:
    """Why, in the photographer's words, newest first."""
    rows = []
    for one in reversed(said.answers):
        if one.reason:
            left, right = said.labels[one.left], said.labels[one.right]
            preferred = said.labels.get(one.ahead, "")
            what = (
                f"{preferred}, not {left if preferred == right else right}"
                if preferred
                else f"{left} or {right}: neither yet"
            )
            rows.append(f"{one.at[:10]}, {what}: “{one.reason}”")
    return rows[:MOST_LISTED]


def _others(kit: Kit, scene: Scene, criterion: str) -> list[str]:
    """What viewers other than the photographer preferred in sittings of their own, counted and no more."""
    viewers = {
        one.viewer.casefold(): one.viewer  # "ada" is Ada, by the name last given
        for one in kit.store.after.sittings(scene.slug)
        if one.viewer and one.criterion == criterion
    }
    rows = []
    for viewer in sorted(viewers.values()):
        said = _said(kit, scene, criterion, viewer)
        won = [said.labels[one.ahead] for one in said.answers if one.ahead]
        most = sorted({name: won.count(name) for name in won}.items(), key=lambda pair: (-pair[1], pair[0]))[:3]
        told = (
            ", ".join(f"{name} {'once' if count == 1 else f'{count} times'}" for name, count in most) or "nothing yet"
        )
        rows.append(f"{viewer} saw {len(said.answers)} pairs and preferred {told}.")
    return rows


def figure(kit: Kit, scene: Scene, criterion: str) -> Figure:
    """The strengths with their intervals, drawn. Raises BadQuery where nothing was said."""
    from refarchive.paper.strengths_plot import strengths_figure

    said = _said(kit, scene, criterion)
    if not said.answers:
        raise BadQuery(f"Nothing was said of pairs by {criterion} yet.", "Hold a sitting first.")
    rows = _strengths(choose.standing(list(said.labels.values()), said.triples))
    return strengths_figure(rows, criterion, dict(_pictures(kit, scene, said.labels)))


def _pictures(kit: Kit, scene: Scene, labels: Mapping[str, str]) -> Iterator[tuple[str, NDArray[np.uint8]]]:
    """Frames by their labels, small; a frame whose file cannot be read is left out."""
    for frame, label in labels.items():
        with suppress(ArchiveDamaged, ArchiveUnwritable):
            if (small := thumbnail(kit, scene, frame, DRAWN_PX)) is not None:
                yield label, pixels(small)
