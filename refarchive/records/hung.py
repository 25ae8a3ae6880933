"""What is kept after the shoot: measured looks of frames, prints, sittings, walls, decisions, series, particulars.

Sayings are added and never overwritten; only the particulars of a picture are changed, with history.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime
from typing import Any, TypeVar

import sqlalchemy as sa

from refarchive.errors import ChangedMeanwhile, RecordRefused, UnknownRecord
from refarchive.records import onsite, rows, schema, wall

Opened = Callable[[], AbstractContextManager[sa.Connection]]
Tell = Callable[[sa.Connection, str, str, Any, Any], None]
Numbered = TypeVar("Numbered", wall.Judgement, wall.Arrangement, wall.Decision, wall.SeriesOrder)

LONGEST_REASON = 500  # characters
LONGEST_SENTENCE = 2_000
LONGEST_TEXT = 20_000
MOST_HUNG = 200  # as many as a wall is drawn with
LARGEST_MM = 100_000.0
WALL_MM, PICTURE_MM = (200.0, LARGEST_MM), (1.0, 20_000.0)  # sides, as they can be drawn
MOST_PARTS = 200


class AfterTheShoot:
    """The records of `wall` in one archive; `Store.after`."""

    def __init__(self, reading: Opened, writing: Opened, tell: Tell) -> None:
        self._reading, self._writing, self._tell = reading, writing, tell

    # --- looks of frames: a cache, without history --------------------------------------------------------------

    def looks(self, scene: str, version: str) -> dict[str, Any]:
        """What the frames of a scene measured as, by id, where this version measured them."""
        table, frame = schema.frame_look, schema.frame
        query = (
            sa.select(table.c.frame, table.c.told)
            .join(frame, frame.c.id == table.c.frame)
            .where(frame.c.scene == scene, table.c.version == version)
        )
        with self._reading() as connection:
            return {row.frame: row.told for row in connection.execute(query)}

    def put_looks(self, looks: Mapping[str, Any], version: str) -> None:
        """Keep what frames measured as, instead of what was kept. Raises UnknownRecord."""
        table = schema.frame_look
        with self._writing() as connection:
            for frame, told in looks.items():
                _frames(connection, [frame])
                connection.execute(sa.delete(table).where(table.c.frame == frame))
                connection.execute(sa.insert(table).values(frame=frame, version=version, told=told))

    # --- prints -------------------------------------------------------------------------------------------------

    def add_prints(self, prints: Sequence[wall.Print]) -> None:
        """Keep work prints. Raises UnknownRecord, RecordRefused for sizes that no print has."""
        with self._writing() as connection:
            _frames(connection, [one.frame for one in prints])
            for one in prints:
                _sized(one.width_mm, one.height_mm, "A print", PICTURE_MM)
                connection.execute(sa.insert(schema.work_print).values(rows.plain(one)))
                self._tell(connection, "added", f"print:{one.id}", None, rows.plain(one))

    def prints(self, scene: str) -> list[wall.Print]:
        """The work prints of a scene, by day."""
        table, frame = schema.work_print, schema.frame
        query = (
            sa.select(table)
            .join(frame, frame.c.id == table.c.frame)
            .where(frame.c.scene == scene)
            .order_by(table.c.printed, table.c.sheet, table.c.id)
        )
        with self._reading() as connection:
            return [rows.plain_row(wall.Print, row) for row in connection.execute(query).mappings()]

    # --- sittings -----------------------------------------------------------------------------------------------

    def begin_sitting(self, sitting: wall.Sitting) -> None:
        """Keep that a sitting began. Raises UnknownRecord, RecordRefused for a criterion there is none of."""
        with self._writing() as connection:
            self._begin(connection, sitting)

    def _begin(self, connection: sa.Connection, sitting: wall.Sitting) -> None:
        _one_of(sitting.criterion, wall.CRITERIA, "criterion")
        _short(sitting.viewer, 200, "A viewer's name")
        _short(sitting.light, 500, "The light")
        _scene(connection, sitting.scene)
        _frames(connection, sitting.frames, scene=sitting.scene)
        connection.execute(sa.insert(schema.sitting).values(rows.plain(sitting)))
        self._tell(connection, "added", f"sitting:{sitting.id}", None, rows.plain(sitting))

    def add_sittings(self, sittings: Sequence[tuple[wall.Sitting, Sequence[wall.Judgement]]]) -> int:
        """Keep whole sittings at once, or none of them; how many judgements were new.

        A sitting that is there stays as it is, and gains what it has no judgement for: of the same pair, sides and
        moment. `repeats` of a judgement is here the `number` that another of them carries; the store counts them anew.
        Raises as `begin_sitting` and `add_judgement`.
        """
        added = 0
        numbers: dict[int, int] = {}
        with self._writing() as connection:
            for sitting, judgements in sittings:
                there = sa.select(schema.sitting.c.id).where(schema.sitting.c.id == sitting.id)
                held: dict[tuple[str, str, str], list[int]] = {}
                if connection.execute(there).first() is None:
                    self._begin(connection, sitting)
                else:
                    held = _held(connection, sitting.id)
                for one in judgements:
                    if kept := held.get((one.left, one.right, one.at)):
                        numbers[one.number] = kept.pop(0)
                        continue
                    again = None if one.repeats is None else numbers.get(one.repeats)
                    numbers[one.number] = self._judge(connection, replace(one, repeats=again)).number
                    added += 1
        return added

    def sittings(self, scene: str) -> list[wall.Sitting]:
        """The sittings of a scene, in the order they began."""
        table = schema.sitting
        query = sa.select(table).where(table.c.scene == scene).order_by(table.c.began, table.c.number)
        with self._reading() as connection:
            return [_as_sitting(row) for row in connection.execute(query).mappings()]

    def sitting(self, sitting: str) -> wall.Sitting:
        """One sitting by id. Raises UnknownRecord."""
        with self._reading() as connection:
            return _sitting(connection, sitting)

    def add_judgement(self, judgement: wall.Judgement) -> wall.Judgement:
        """Keep what was said of a pair; with its number.

        Raises UnknownRecord; RecordRefused for a pair of one frame, of frames of another scene, for a word there is
        none of, and for a repeat of what was no earlier judgement of the same pair by the same criterion.
        """
        with self._writing() as connection:
            return self._judge(connection, judgement)

    def _judge(self, connection: sa.Connection, judgement: wall.Judgement) -> wall.Judgement:
        _one_of(judgement.says, wall.ANSWERS, "answer")
        if judgement.left == judgement.right:
            raise RecordRefused("A pair needs two frames.", "Show another frame beside it.")
        _short(judgement.reason, LONGEST_REASON, "A reason")
        table = schema.judgement
        sitting = _sitting(connection, judgement.sitting)
        _frames(connection, [judgement.left, judgement.right], scene=sitting.scene)
        if judgement.repeats is not None:
            row = connection.execute(sa.select(table).where(table.c.number == judgement.repeats)).mappings().first()
            if row is None or {row["left"], row["right"]} != {judgement.left, judgement.right}:
                raise RecordRefused("A repeat must show an earlier pair again.", "Leave the repeat out.")
            if _sitting(connection, row["sitting"]).criterion != sitting.criterion:
                raise RecordRefused("A repeat must ask by the same criterion.", "Leave the repeat out.")
        kept = _numbered(connection, table, judgement)
        self._tell(connection, "added", f"judgement:{kept.number}", None, rows.plain(kept))
        return kept

    def judgements(self, scene: str, criterion: str = "") -> list[wall.Judgement]:
        """What was said of pairs of a scene, in order; by one criterion where given."""
        table, sitting = schema.judgement, schema.sitting
        query = (
            sa.select(table)
            .join(sitting, sitting.c.id == table.c.sitting)
            .where(sitting.c.scene == scene)
            .order_by(table.c.number)
        )
        if criterion:
            query = query.where(sitting.c.criterion == criterion)
        with self._reading() as connection:
            return [rows.plain_row(wall.Judgement, row) for row in connection.execute(query).mappings()]

    # --- walls --------------------------------------------------------------------------------------------------

    def add_arrangement(self, arrangement: wall.Arrangement) -> wall.Arrangement:
        """Keep what hangs where, beside every arrangement before; with its number.

        Raises UnknownRecord, and RecordRefused for a wall or a picture of a size that cannot be drawn, or too many.
        """
        _sized(arrangement.width_mm, arrangement.height_mm, "A wall", WALL_MM)
        if len(arrangement.hung) > MOST_HUNG:
            raise RecordRefused(f"More than {MOST_HUNG} pictures hang here.", "Make a second wall.")
        for one in arrangement.hung:
            _sized(one.width_mm, one.height_mm, "A picture", PICTURE_MM)
            if not all(math.isfinite(v) and abs(v) <= LARGEST_MM for v in (one.x_mm, one.y_mm)):
                raise RecordRefused("A picture hangs at no place of this wall.", "Give millimetres from its corner.")
            _short(one.print, 200, "The name of a print")
        for words, what in ((arrangement.wall, "A wall's name"), (arrangement.light, "The light")):
            _short(words, 500, what)
        _short(arrangement.note, LONGEST_SENTENCE, "A note")
        arrangement = replace(arrangement, at=_moment(arrangement.at))
        with self._writing() as connection:
            _scene(connection, arrangement.scene)
            _frames(connection, [one.frame for one in arrangement.hung])
            kept = _numbered(connection, schema.arrangement, arrangement)
            self._tell(connection, "added", f"arrangement:{kept.number}", None, rows.plain(kept))
            return kept

    def arrangements(self, scene: str) -> list[wall.Arrangement]:
        """What hung where, oldest first."""
        table = schema.arrangement
        query = sa.select(table).where(table.c.scene == scene).order_by(table.c.at, table.c.number)
        with self._reading() as connection:
            return _restored(connection, query, wall.Arrangement)

    # --- decisions and series -----------------------------------------------------------------------------------

    def add_decision(self, decision: wall.Decision) -> wall.Decision:
        """Keep the deciding sentence and what was turned down. Raises UnknownRecord, RecordRefused."""
        if not decision.sentence.strip():
            raise RecordRefused("The deciding sentence is empty.", "Write in a sentence why it is this frame.")
        _short(decision.sentence, LONGEST_SENTENCE, "The deciding sentence")
        down = [frame for frame, _ in decision.turned_down]
        if decision.frame in down or len(set(down)) != len(down):
            raise RecordRefused(
                "A frame is chosen and turned down at once, or turned down twice.", "Name each frame once."
            )
        for _, why in decision.turned_down:
            _short(why, LONGEST_REASON, "A reason")
        decision = replace(decision, at=_moment(decision.at))
        with self._writing() as connection:
            _scene(connection, decision.scene)
            _frames(connection, [decision.frame, *down], scene=decision.scene)
            kept = _numbered(connection, schema.decision, decision)
            self._tell(connection, "added", f"decision:{decision.scene}", None, rows.plain(kept))
            return kept

    def decisions(self, scene: str = "") -> list[wall.Decision]:
        """What was decided, oldest first; of one scene where named."""
        table = schema.decision
        query = sa.select(table).order_by(table.c.at, table.c.number)
        if scene:
            query = query.where(table.c.scene == scene)
        with self._reading() as connection:
            return _restored(connection, query, wall.Decision)

    def add_order(self, order: wall.SeriesOrder) -> None:
        """Keep an order of a series, beside those before. Raises UnknownRecord, RecordRefused."""
        if len(set(order.frames)) != len(order.frames):
            raise RecordRefused("A picture stands twice in the series.", "Name each picture once.")
        _short(order.note, LONGEST_SENTENCE, "A note")
        order = replace(order, at=_moment(order.at))
        with self._writing() as connection:
            _frames(connection, order.frames)
            _numbered(connection, schema.series_order, order)
            self._tell(connection, "added", f"series:{order.series}", None, rows.plain(order))

    def orders(self, series: str) -> list[wall.SeriesOrder]:
        """The orders of a series, oldest first."""
        table = schema.series_order
        query = sa.select(table).where(table.c.series == series).order_by(table.c.at, table.c.number)
        with self._reading() as connection:
            return _restored(connection, query, wall.SeriesOrder)

    # --- what goes out ------------------------------------------------------------------------------------------

    def particulars(self, frame: str) -> tuple[wall.Particulars, int]:
        """What goes out with a picture, and its revision; nothing and 0 where nothing was said yet."""
        table = schema.particulars
        with self._reading() as connection:
            row = connection.execute(sa.select(table).where(table.c.frame == frame)).mappings().first()
        found = onsite.restored(wall.Particulars, row["told"]) if row else None
        return (found or wall.Particulars(frame), row["revision"] if row else 0)

    def put_particulars(self, told: wall.Particulars, *, expected: int | None = None) -> int:
        """Keep what goes out with a picture; returns its revision.

        Raises UnknownRecord, RecordRefused for a word there is none of, ChangedMeanwhile where the archive holds
        another revision than `expected`; nothing is changed then.
        """
        _check_particulars(told)
        table = schema.particulars
        with self._writing() as connection:
            _frames(connection, [told.frame])
            row = connection.execute(sa.select(table).where(table.c.frame == told.frame)).mappings().first()
            revision = row["revision"] if row else 0
            if expected is not None and expected != revision:
                raise ChangedMeanwhile(
                    f"What goes out with this picture was changed meanwhile: it is at revision {revision}, and this "
                    f"change was made on {expected}.",
                    "Refresh, and make the change again.",
                    records=(told.frame,),
                )
            if row and onsite.restored(wall.Particulars, row["told"]) == told:
                return int(revision)
            connection.execute(sa.delete(table).where(table.c.frame == told.frame))
            values = {"frame": told.frame, "told": rows.plain(told), "revision": revision + 1}
            connection.execute(sa.insert(table).values(values))
            before = row["told"] if row else None
            self._tell(connection, "changed" if row else "added", f"picture:{told.frame}", before, rows.plain(told))
            return int(revision) + 1


def _numbered(connection: sa.Connection, table: sa.Table, record: Numbered) -> Numbered:
    """Keep a record that the store counts; with its number."""
    values = rows.plain(record)
    del values["number"]
    number = connection.execute(sa.insert(table).values(values)).inserted_primary_key
    return replace(record, number=int(number[0]) if number else 0)


def _restored(connection: sa.Connection, query: sa.Select[Any], kind: type[Numbered]) -> list[Numbered]:
    found = connection.execute(query).mappings()
    return [one for row in found if (one := onsite.restored(kind, dict(row)))]


def _check_particulars(told: wall.Particulars) -> None:
    for name in ("title", "headline", "creator", "credit_line", "event", "web_statement", "rights"):
        _short(getattr(told, name), LONGEST_SENTENCE, f"The {name.replace('_', ' ')}")
    for name in ("caption", "note", "alt_text", "usage_terms", "copyright_notice"):
        _short(getattr(told, name), LONGEST_TEXT, f"The {name.replace('_', ' ')}")
    for name in ("keywords", "persons", "contributors", "thanks", "leaves", "parts", "editions"):
        if len(getattr(told, name)) > MOST_PARTS:
            raise RecordRefused(f"There are more than {MOST_PARTS} {name}.", "Shorten the list.")
    for name in (
        "created",
        "source_type",
        "keywords",
        "persons",
        "contributors",
        "thanks",
        "leaves",
        "parts",
        "editions",
        "taken_at",
        "shown",
    ):
        for words in _texts(getattr(told, name)):
            _short(words, LONGEST_SENTENCE, f"One of the texts in {name.replace('_', ' ')}")
    for leave in told.leaves:
        _one_of(leave.kind, wall.LEAVE_KINDS, "kind of permission")
        _one_of(leave.state, wall.LEAVE, "state of a permission")
    for part in told.parts:
        _one_of(part.standing, wall.STANDINGS, "standing")
        x, y, width, height = part.region
        if not (
            0 <= x < 1 and 0 <= y < 1 and width > 0 and height > 0 and x + width <= 1.0001 and y + height <= 1.0001
        ):
            raise RecordRefused(f"The region {part.name[:60]!r} lies outside the picture.", "Mark it anew.")
    for edition in told.editions:
        _sized(edition.width_mm, edition.height_mm, "An edition's picture", (0.0, LARGEST_MM))
        if min(edition.count, edition.proofs, edition.made, edition.placed) < 0:
            raise RecordRefused(f"The edition {edition.name[:60]!r} counts below none.", "Give whole numbers from 0.")


def _texts(value: Any) -> Iterator[str]:
    """Every text in a record, or in a tuple of them."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from _texts(one)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _texts(getattr(value, field.name))


def _one_of(value: str, known: Iterable[str], what: str) -> None:
    if value not in known:
        raise RecordRefused(f"There is no {what} {value[:40]!r}.", f"There are: {', '.join(known)}.")


def _short(words: str, limit: int, what: str) -> None:
    if len(words) > limit:
        raise RecordRefused(f"{what} has more than {limit:,} characters.", "Shorten it.")


def _sized(width_mm: float, height_mm: float, what: str, bounds: tuple[float, float]) -> None:
    least, most = bounds
    if not all(side > 0 and least <= side <= most for side in (width_mm, height_mm)):
        lower = f"of {least:g} mm or more" if least else "above 0"
        raise RecordRefused(
            f"{what} has a width and a height {lower}, at most {most / 1000:g} m.", "Give them in millimetres."
        )


def _moment(said: str) -> str:
    """A moment in UTC to the second, so that moments can be held against each other as text; without a zone, as UTC."""
    try:
        moment = datetime.fromisoformat(said)
        whole = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    except (ValueError, OverflowError):
        raise RecordRefused(f"{said[:40]!r} is no moment.", "Give it as 2027-03-01T18:30:00+00:00.") from None
    return whole.isoformat(timespec="seconds")


def _scene(connection: sa.Connection, slug: str) -> None:
    if connection.execute(sa.select(schema.scene.c.slug).where(schema.scene.c.slug == slug)).first() is None:
        raise UnknownRecord(f"There is no scene {slug!r}.", "Add its plan first.")


def _sitting(connection: sa.Connection, sitting: str) -> wall.Sitting:
    row = connection.execute(sa.select(schema.sitting).where(schema.sitting.c.id == sitting)).mappings().first()
    if row is None:
        raise UnknownRecord(f"There is no sitting {sitting!r}.", "Begin one.")
    return _as_sitting(row)


def _held(connection: sa.Connection, sitting: str) -> dict[tuple[str, str, str], list[int]]:
    """The numbers of what was said in a sitting, oldest first, by left, right and moment."""
    table = schema.judgement
    query = sa.select(table).where(table.c.sitting == sitting).order_by(table.c.number)
    found: dict[tuple[str, str, str], list[int]] = {}
    for row in connection.execute(query).mappings():
        found.setdefault((row["left"], row["right"], row["at"]), []).append(row["number"])
    return found


def _as_sitting(row: rows.Row) -> wall.Sitting:
    found = onsite.restored(wall.Sitting, dict(row))
    assert found is not None
    return found


def _frames(connection: sa.Connection, frames: Iterable[str], scene: str = "") -> None:
    """Refuse frames that are not there, or are of another scene than the one named."""
    table = schema.frame
    for frame in dict.fromkeys(frames):
        row = connection.execute(sa.select(table.c.scene).where(table.c.id == frame)).first()
        if row is None:
            raise UnknownRecord(f"There is no frame {frame!r}.", "Take the frames of the shoot in first.")
        if scene and row.scene != scene:
            raise RecordRefused(f"The frame {frame!r} is of the scene {row.scene!r}.", f"Name frames of {scene!r}.")
