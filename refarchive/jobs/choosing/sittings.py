"""Sittings: which pair is shown next, what was said, and sittings that were written down elsewhere.

The next pair follows from the sitting's seed and from everything said so far, so that a sitting that was broken off
goes on where it stood. Whether a pair repeats an earlier one is worked out here and never shown while it is asked.
"""

from __future__ import annotations

import csv
import errno
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from refarchive.errors import BadQuery, RecordRefused, SheetRefused
from refarchive.frames import pairing
from refarchive.frames.strengths import LONGEST_NAME, MOST_ITEMS
from refarchive.jobs.choosing.kept_frames import frame_of
from refarchive.jobs.kit import Kit
from refarchive.records import ids
from refarchive.records.bounded import read_bounded
from refarchive.records.model import Scene
from refarchive.records.store import now
from refarchive.records.wall import ANSWERS, CRITERIA, Judgement, Sitting

LARGEST_SHEET = 5_000_000  # bytes
COLUMNS = ("day", "time_utc", "sitting", "criterion", "viewer", "left", "right", "says", "reason", "repeats")


def begin(kit: Kit, scene: Scene, criterion: str, viewer: str, light: str, frames: Sequence[str]) -> Sitting:
    """Begin a sitting. Raises UnknownRecord, RecordRefused, BadQuery."""
    shown = tuple(dict.fromkeys(frame_of(kit, scene, name).id for name in frames)) or _on_the_wall(kit, scene)
    if len(shown) < 2:
        raise BadQuery(
            f"{'One frame' if shown else 'No frame'} is there to be looked at.", "A sitting needs at least two frames."
        )
    if len(shown) > MOST_ITEMS:
        raise BadQuery(
            f"{len(shown)} frames are too many to be compared in pairs.", f"Hang or name at most {MOST_ITEMS}."
        )
    began = now()
    name = ids.sitting_id(scene.slug, began, criterion, f"{viewer}/{len(kit.store.after.sittings(scene.slug))}")
    sitting = Sitting(name, scene.slug, criterion, began, viewer.strip(), light.strip(), _seed(name), shown)
    kit.store.after.begin_sitting(sitting)
    return sitting


def _seed(name: str) -> int:
    return int(name.rpartition("-")[2][:8], 16) & 0x7FFFFFFF


def _on_the_wall(kit: Kit, scene: Scene) -> tuple[str, ...]:
    """The frames of the scene that hang now; all of them where fewer than two hang."""
    own = [frame.id for frame in kit.store.frames(scene.slug)]
    arrangements = kit.store.after.arrangements(scene.slug)
    hanging = {one.frame for one in arrangements[-1].hung} if arrangements else set()
    found = tuple(name for name in own if name in hanging)
    return found if len(found) >= 2 else tuple(own)


@dataclass(frozen=True)
class _Record:
    """What one viewer said by the criterion of a sitting, oldest first, of the frames that are looked at now."""

    answers: tuple[Judgement, ...]

    @property
    def triples(self) -> list[tuple[str, str, str]]:
        return [(one.left, one.right, one.says) for one in self.answers]

    @property
    def repeats(self) -> list[int | None]:
        places = {one.number: place for place, one in enumerate(self.answers)}
        return [None if one.repeats is None else places.get(one.repeats) for one in self.answers]


def said_by(kit: Kit, scene: str, criterion: str, viewer: str) -> tuple[list[Sitting], list[Judgement]]:
    """The sittings of one viewer by one criterion, and what was said in them, oldest first."""
    store = kit.store.after
    who = viewer.casefold()
    own = [one for one in store.sittings(scene) if one.criterion == criterion and one.viewer.casefold() == who]
    names = {one.id for one in own}
    return own, [one for one in store.judgements(scene, criterion) if one.sitting in names]


def _record(kit: Kit, sitting: Sitting) -> _Record:
    shown = set(sitting.frames)
    _, said = said_by(kit, sitting.scene, sitting.criterion, sitting.viewer)
    return _Record(tuple(one for one in said if {one.left, one.right} <= shown))


def _next(sitting: Sitting, record: _Record) -> pairing.Pair | None:
    return pairing.next_pair(sitting.frames, record.triples, seed=sitting.seed, repeats=record.repeats)


def next_pair(kit: Kit, sitting: str) -> dict[str, Any]:
    """The next pair of a sitting, as JSON; see the façade."""
    held = kit.store.after.sitting(sitting)
    record = _record(kit, held)
    asked = _next(held, record)
    count = sum(one.sitting == sitting for one in record.answers)
    words = f"{count} said in this sitting."
    if asked is None:
        words += " All pairs of these frames are separated: there is nothing more to ask by this criterion."
    return {"scene": held.scene, "pair": [asked.left, asked.right] if asked else None, "words": words}


def open_still(kit: Kit, sitting: str) -> list[str]:
    """What a sitting has settled and what not, in words; frames by file name."""
    held = kit.store.after.sitting(sitting)
    names = {frame.id: frame.source_name for frame in kit.store.frames(held.scene)}
    labels = [names[one] for one in held.frames]
    if len(set(labels)) != len(labels) or max(map(len, labels)) > LONGEST_NAME:
        labels = list(held.frames)
    by_id = dict(zip(held.frames, labels, strict=True))
    triples = [(by_id[left], by_id[right], says) for left, right, says in _record(kit, held).triples]
    return list(pairing.stopping(labels, triples).sentences)


def say(kit: Kit, sitting: str, left: str, right: str, says: str, reason: str) -> Judgement:
    """Keep what was said of a pair; where it is the pair that was to be shown, with what it repeats."""
    held = kit.store.after.sitting(sitting)
    record = _record(kit, held)
    asked = _next(held, record)
    repeats = None
    if asked is not None and (asked.left, asked.right) == (left, right) and asked.repeats is not None:
        repeats = record.answers[asked.repeats].number
    return kit.store.after.add_judgement(Judgement(sitting, left, right, says, now(), reason.strip(), repeats))


def read_sheet(kit: Kit, scene: Scene, sheet: Path) -> int:
    """Take in sittings from a CSV sheet; see the façade."""
    frames = {frame.source_name: frame.id for frame in kit.store.frames(scene.slug)}
    sittings: dict[tuple[str, ...], tuple[list[str], list[Judgement]]] = {}
    for line, row in enumerate(_rows(sheet), start=1):
        if row.get("scene", scene.slug) != scene.slug:
            continue
        left, right = (_frame(frames, row[side], line) for side in ("left", "right"))
        if row["says"] not in ANSWERS:
            raise _refused(line, f"{row['says'][:40]!r} is no answer", f"Say one of: {', '.join(ANSWERS)}.")
        if row["criterion"] not in CRITERIA:
            raise _refused(line, f"{row['criterion'][:40]!r} is no criterion", f"There are: {', '.join(CRITERIA)}.")
        again = row["repeats"].strip()
        if again and not (again.isdecimal() and len(again) <= 9 and 0 < int(again) < line):
            raise _refused(
                line, f"{again[:20]!r} is no number of a line before it", "Leave it empty, or count lines from 1."
            )
        at = _moment(row, line)
        key = (row["day"], row["sitting"], row["criterion"], row["viewer"].strip())
        shown, said = sittings.setdefault(key, ([], []))
        shown += [left, right]
        said.append(
            Judgement("", left, right, row["says"], at, row["reason"].strip(), int(again) if again else None, line)
        )
    kept = []
    for (_, number, criterion, viewer), (shown, said) in sittings.items():
        name = ids.sitting_id(scene.slug, said[0].at, criterion, f"{viewer}/sheet {number}")
        sitting = Sitting(name, scene.slug, criterion, said[0].at, viewer, "", _seed(name), tuple(dict.fromkeys(shown)))
        kept.append((sitting, [replace(one, sitting=name) for one in said]))
    try:
        return kit.store.after.add_sittings(kept)
    except RecordRefused as error:
        raise SheetRefused(f"{sheet.name}: {error.problem}", error.next_step) from None


def _rows(sheet: Path) -> list[dict[str, str]]:
    try:
        text = read_bounded(sheet, LARGEST_SHEET).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SheetRefused(f"{sheet.name} is not UTF-8 text.", "Save it as CSV in UTF-8.") from None
    except OSError as error:
        step = "Part it." if error.errno == errno.EFBIG else "Check its name."
        raise SheetRefused(f"{sheet.name} cannot be read: {error.strerror}.", step) from None
    try:
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        found = list(reader)
        names = set(reader.fieldnames or ())
    except csv.Error as error:
        raise SheetRefused(f"{sheet.name} is no CSV sheet ({error}).", "Save it as CSV in UTF-8.") from None
    if lacking := [name for name in COLUMNS if name not in names]:
        raise SheetRefused(f"{sheet.name} lacks the columns {', '.join(lacking)}.", "Name them in the first line.")
    return [
        {name: row.get(name) or "" for name in (*COLUMNS, *(("scene",) if "scene" in names else ()))} for row in found
    ]


def _refused(line: int, words: str, step: str) -> SheetRefused:
    return SheetRefused(f"Line {line}: {words}.", f"{step} Nothing was taken in.")


def _frame(frames: dict[str, str], name: str, line: int) -> str:
    if name not in frames:
        raise _refused(line, f"there is no frame {name[:80]!r}", "Take the shoot in first, or correct the name.")
    return frames[name]


def _moment(row: dict[str, str], line: int) -> str:
    from datetime import datetime

    said = f"{row['day'].strip()}T{row['time_utc'].strip() or '12:00:00'}"
    try:
        moment = datetime.fromisoformat(said.removesuffix("Z"))
    except ValueError:
        raise _refused(line, f"{said[:40]!r} is no moment", "Give a day as 2027-03-01 and a time as 18:30.") from None
    if moment.tzinfo is not None:
        raise _refused(line, "the time carries a zone", "Give it in UTC, without one.")
    return f"{moment.isoformat(timespec='seconds')}+00:00"


def told(kit: Kit, scene: Scene) -> list[str]:
    """The sittings of a scene, newest first, a sentence each."""
    said = kit.store.after.judgements(scene.slug)
    rows = []
    for one in reversed(kit.store.after.sittings(scene.slug)):
        own = [each for each in said if each.sitting == one.id]
        if not own:
            continue  # begun, and nothing said
        open_ = sum(each.says == "neither yet" for each in own)
        who = one.viewer or "the photographer"
        light = f", by {one.light}" if one.light else ""
        rows.append(
            f"{one.began[:16].replace('T', ' ')} UTC, {who}, {one.criterion}{light}: {len(own)} pairs of "
            f"{len(one.frames)} frames, {open_} left open."
        )
    return rows


def looked_at(kit: Kit, scene: Scene) -> list[str]:
    """Ids of the frames that hung, or were shown in a pair."""
    shown = {one.frame for wall in kit.store.after.arrangements(scene.slug) for one in wall.hung}
    shown |= {name for one in kit.store.after.judgements(scene.slug) for name in (one.left, one.right)}
    return [frame.id for frame in kit.store.frames(scene.slug) if frame.id in shown]


def heard(kit: Kit, scene: Scene) -> list[str]:
    """What viewers from outside said of the frames, a line each."""
    rows: list[str] = []
    for frame in kit.store.frames(scene.slug):
        for one in kit.store.looked.viewings(frame.id):
            rows.append(f"{frame.source_name}, {one.viewer or 'nobody named'}: “{one.words}”")
    return rows
