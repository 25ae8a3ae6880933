"""Open questions from first dates, and evidence later than the event, as items of the dossier's page on them."""

from __future__ import annotations

from collections.abc import Sequence

from refarchive.paper.citing import Citations
from refarchive.records.model import Need
from refarchive.scenes.anachronism import BY_NAME, Asked


def from_first_dates(asked: Asked, needs: Sequence[Need], *, by_name: bool) -> list[tuple[str, str]]:
    """What each question is about, and the question with its source, in the order of the needs.

    Those where the plan names the thing, or those where only its words are like the thing's: such are often beside
    the point, and stand apart.
    """
    return [
        (f"{need.name} ({need.department})", question.words)
        for need in needs
        for question in asked.questions
        if question.need == need.slug and (question.how == BY_NAME) == by_name
    ]


def answered(asked: Asked, needs: Sequence[Need]) -> list[tuple[str, str]]:
    """Questions that the person has answered, with the answer first."""
    return [
        (
            f"{need.name} ({need.department})",
            " ".join(
                part for part in (f"{question.answer.says.capitalize()}.", question.answer.note, question.words) if part
            ),
        )
        for need in needs
        for question in asked.answered
        if question.need == need.slug and question.answer is not None
    ]


def later_evidence(asked: Asked, needs: Sequence[Need], cite: Citations) -> list[tuple[str, str]]:
    """References made after the event, by number, each once with what it is cited for."""
    names: dict[str, list[str]] = {}
    dated: dict[str, str] = {}
    for need in needs:
        for one in asked.later:
            if one.need == need.slug and one.reference in cite.references:
                names.setdefault(one.reference, []).append(need.name)
                dated[one.reference] = one.dated
    return [(cite.number(one), f"{dated[one]}; cited for: {'; '.join(cited)}.") for one, cited in names.items()]
