"""Questions on a scene over one archive: first dates from the shipped table and the archive's own, and later evidence.

A person's own table can be nonsense: then what stands of it is used, and a notice says what does not. Nothing of it
keeps a scene's coverage or its dossier from being made.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from refarchive.errors import CannotMeasure, SheetRefused, WeightsUnavailable
from refarchive.jobs.kit import Kit
from refarchive.records.firsts import First
from refarchive.records.model import Scene, When
from refarchive.scenes.anachronism import NO_DATE, NO_END, Asked, Question, later_than_event, questions
from refarchive.scenes.naming import mentions
from refarchive.sources.firsts import OWN_TABLE, Firsts, firsts_for, shipped_firsts
from refarchive.sources.folder import Refusal

MOST_NOTICES = 10  # of rows left out; the rest are counted


def asked(kit: Kit, scene: Scene) -> Asked:
    """What to ask of a scene, and what of its evidence is later than its event. Raises nothing for a bad own table."""
    table = first_dates(kit)
    notices = _notices(table)
    cited = list(dict.fromkeys(e.reference for need in scene.needs for e in need.evidence))
    later = later_than_event(scene, {r.id: r for r in kit.store.references(cited)})
    if scene.when is None:
        notices.append(NO_DATE)
    elif scene.when.latest is None:
        notices.append(NO_END)
    try:
        found = questions(scene, table.rows, _encode(kit))
    except (CannotMeasure, WeightsUnavailable) as error:
        notices.append(f"{error.problem} First dates were looked for by name only. {error.next_step}".strip())
        found = questions(scene, table.rows)
    still = tuple(one for one in found if one.answer is None)
    answered = tuple(one for one in found if one.answer is not None)
    return Asked(still, answered, tuple(later), tuple(notices))


def first_dates(kit: Kit) -> Firsts:
    """Both tables of first dates; an own one that cannot be read as a whole is one problem, and the other stands."""
    try:
        return firsts_for(kit.folder)
    except SheetRefused as error:
        shipped = shipped_firsts()
        refused = Refusal(OWN_TABLE, error.problem, error.next_step)
        return Firsts(shipped.rows, (*shipped.problems, refused), shipped.notices)


def first_dates_document(kit: Kit, words: str = "") -> dict[str, Any]:
    """The rows of both tables that mention every one of the words, as JSON, with the problems of the own one."""
    table = first_dates(kit)
    rows = [row for row in table.rows if mentions(" ".join((row.thing, *row.also)), words)]
    return {
        "rows": [{"thing": row.thing, "also": list(row.also), **row_as_dict(row)} for row in rows],
        "problems": [{"source": p.source, "problem": p.problem, "next_step": p.next_step} for p in table.problems],
        "notices": list(table.notices),
    }


def question_as_dict(question: Question) -> dict[str, Any]:
    """A question as JSON, with its row."""
    return {
        "thing": question.thing,
        "question": question.words,
        "row": row_as_dict(question.row),
        "how": question.how,
        "where": question.where,
        "quoted": question.quoted,
        "standing": question.standing.value,
        "answer": None if question.answer is None else dict(vars(question.answer)),
    }


def row_as_dict(row: First) -> dict[str, Any]:
    """A row of a table of first dates as JSON; dates as EDTF or null."""

    def edtf(when: When | None) -> str | None:
        return when.edtf if when else None

    return {
        "invented": edtf(row.invented),
        "on_sale": edtf(row.on_sale),
        "common": edtf(row.common),
        "region": row.region,
        "source": row.source,
        "weak": row.weak,
        "note": row.note,
        "table": row.table,
        "line": row.line,
    }


def _encode(kit: Kit) -> Callable[[Sequence[str]], Any]:
    return lambda texts: kit.sentences.encode(texts)  # loaded only when there is something to ask


def _notices(table: Firsts) -> list[str]:
    said = [f"{p.source}: {p.problem} {p.next_step}" for p in table.problems[:MOST_NOTICES]]
    if more := len(table.problems) - MOST_NOTICES:
        said += [f"{more:,} more rows of {OWN_TABLE} were left out."] if more > 0 else []
    return [*said, *table.notices]
