"""Content of a printed find: what was asked, and each answer with the reasons why it is there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from refarchive.paper import blocks
from refarchive.paper.blocks import Block, Document
from refarchive.paper.citing import PlateRequest, alternative, date_of, short_caption
from refarchive.records.model import Passage, Reference, Region

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
        caption = f"{short_caption(reference)}. {reference.witness.value.capitalize()}. {reasons(answer)}"
        if reference.kind == "image":
            name = f"hit-{answer.rank:04d}"
            requests.append(PlateRequest(name, reference.id, None, SIDE_PX))
            pictures.append(blocks.plate(name, number, caption, alternative(reference, number), size="small"))
        elif answer.passage is not None:
            texts.append(blocks.quote(answer.passage.text, number, caption))
        else:
            texts.append(blocks.facts([(number, f"{reference.title} ({date_of(reference)}). {reasons(answer)}")]))
    asked = blocks.facts([("Asked for", question or "everything"), ("Encoder", encoder), ("Also", list(notes))])
    pages = [blocks.page("", [asked])]
    if pictures:
        pages.append(blocks.page("Pictures", [blocks.plates(pictures)]))
    if texts:
        pages.append(blocks.page("Texts and objects", texts))
    section = blocks.section("found", "What was found", pages)
    about = "The number is the place in the answer as a whole; the reasons give the place in each source."
    return blocks.document("References found", question, "Find", "", date, about, [section]), tuple(requests)


def reasons(answer: Answer) -> str:
    """The reasons in one sentence: each source with the place it gave, and its note."""
    parts = [f"{b.source}: {b.rank}" + (f" ({b.note})" if b.note else "") for b in answer.because]
    return "Because of " + "; ".join(parts) + "." if parts else "It passes the filters."
