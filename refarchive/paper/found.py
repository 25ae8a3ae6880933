"""Content of a printed find: what was asked, and each answer with the reasons why it is there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from refarchive.paper import blocks
from refarchive.paper.blocks import Block, Document
from refarchive.paper.citing import PlateRequest, alternative, credited, short_caption
from refarchive.records.model import Passage, Reference, Region
from refarchive.records.uses import CAUTION, standing
from refarchive.scenes.mediums import in_brief

COUNTED = "The numbers count pictures and texts together; what is missing here stands further down."
WAYS = {"picture, by words": "what the picture shows"}
SHORT = {
    "words in the caption": "the words of its caption",
    "meaning of the caption": "what its caption means",
    "words in a passage": "words that stand in it",
    "meaning of a passage": "what this passage tells",
    "picture, by words": "what the picture shows",
    "likeness": "how it looks",
    "colour": "its colours",
}
SIDE_PX = 700  # long side of a picture on the sheet


class Reason(Protocol):
    """Why an answer is there."""

    @property
    def source(self) -> str: ...

    @property
    def rank(self) -> int: ...

    @property
    def note(self) -> str: ...


class Answer(Protocol):
    """One answer, as finding gives it."""

    @property
    def rank(self) -> int: ...

    @property
    def reference(self) -> Reference: ...

    @property
    def region(self) -> Region | None: ...

    @property
    def passage(self) -> Passage | None: ...

    @property
    def because(self) -> Sequence[Reason]: ...


def found_sheet(
    question: str, answers: Sequence[Answer], notes: Sequence[str], *, encoder: str, date: str
) -> tuple[Document, tuple[PlateRequest, ...]]:
    """The document of a find, and the pictures it shows: pictures first, then passages and object records."""
    requests: list[PlateRequest] = []
    pictures: list[blocks.Plate] = []
    texts: list[Block] = []
    for answer in answers:
        reference = answer.reference
        number = f"{answer.rank}"
        witness = reference.witness.value.capitalize()
        stands = standing(reference)
        told = " ".join(part for part in (f"{short_caption(reference)}. {witness}.", in_brief(reference)) if part)
        caption = f"{told} {in_short(answer)}"
        rights = f"Rights: {stands.label}. Publication: {stands.may_be_published}."
        ranks = f"{reasons(answer)} " if answer.because else ""
        remark = f"{credited(f'{ranks}{rights}', reference)} {reference.id}"
        if reference.kind == "image":
            name = f"hit-{answer.rank:04d}"
            requests.append(PlateRequest(name, reference.id, None, SIDE_PX))
            alt = alternative(reference, number)
            pictures.append(blocks.plate(name, number, caption, alt, remark=remark, size="small"))
        elif answer.passage is not None:
            texts.append(blocks.quote(answer.passage.text, number, caption, remark))
        else:
            texts.append(blocks.facts([(number, [caption, remark])]))
    asked = blocks.facts([("Notes", list(notes)), ("Pictures compared by", f"encoder {encoder}")])
    pages = [blocks.page("", [asked])]
    if pictures:
        counted = [blocks.text(COUNTED, "small")] if texts else []
        pages.append(blocks.page("Pictures", [*counted, blocks.plates(pictures)]))
    if texts:
        pages.append(blocks.page("Texts and objects", texts))
    pages.append(blocks.page("Rights", [blocks.text(CAUTION, "small")]))
    section = blocks.section("found", "What was found", pages)
    about = "The number is the place in the answer as a whole; the reasons give the place in each source."
    return blocks.document("References found", question, "Find", "", date, about, [section]), tuple(requests)


def reasons(answer: Answer) -> str:
    """The place that each way of looking gave: "Ranked 1st by words in the caption, 3rd by likeness (middle part)."."""
    parts = []
    for reason in answer.because:
        kept = "; ".join(p for p in reason.note.split(", ") if p and not p.startswith("similarity"))
        parts.append(
            f"{ordinal(reason.rank)} by {WAYS.get(reason.source, reason.source)}" + (f" ({kept})" if kept else "")
        )
    return f"Ranked {', '.join(parts)}." if parts else "It passes the filters."


def in_short(answer: Answer) -> str:
    """What it is here for, the foremost first: "Above all for the words of its caption; also for how it looks."."""
    ways = [SHORT.get(one.source, one.source) for one in sorted(answer.because, key=lambda one: one.rank)]
    if not ways:
        return "It passes the filters."
    first, *others = dict.fromkeys(ways)
    if not others:
        return f"For {first}."
    also = f"{', '.join(others[:-1])} and {others[-1]}" if len(others) > 1 else others[0]
    return f"Above all for {first}; also for {also}."


def ordinal(number: int) -> str:
    """1st, 2nd, 3rd, 4th …

    >>> [ordinal(n) for n in (1, 2, 3, 4, 11, 22, 113)]
    ['1st', '2nd', '3rd', '4th', '11th', '22nd', '113th']
    """
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
