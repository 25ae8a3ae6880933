"""Plate numbers and captions of a scene: who is cited under which number, the same in every copy.

Pictures are Pl. 1, Pl. 2 …, texts T. 1 … and object records without a file O. 1 …, in the order in which the whole
scene first cites them; marked details take letters (Pl. 3 b). A department's copy is numbered from the whole scene, so
that two departments talking to each other mean the same picture.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from refarchive.paper import blocks
from refarchive.paper.blocks import CAPTION_LIMIT, TEXT_LIMIT, Block
from refarchive.records.model import (
    DEPARTMENTS,
    Detail,
    Evidence,
    Need,
    Passage,
    Reference,
    Region,
    Scene,
    When,
)
from refarchive.records.uses import standing
from refarchive.scenes.mediums import from_before_dyes

EARLY_PLATE = (
    "Plates before orthochromatic emulsions, sold from 1882–83, registered mainly blue and violet: blues went pale, "
    "yellows and reds dark. Take no colour and compare no values from it."
)
MONTHS = ("January February March April May June July August September October November December").split()
CAPTION_CREDIT = CAPTION_LIMIT - 500  # characters of a credit line that still leave room for what it credits
ROW_LIMIT = 800  # characters of a row beside a picture, which no sheet can part
BELOW = "credit line of"
FULL_PX, DETAIL_PX, SMALL_PX = 1_500, 1_000, 480


@dataclass(frozen=True)
class PlateRequest:
    """One picture to prepare: name on the page, what to cut from what, and how large it need be at most."""

    name: str
    reference: str  # id of the reference, "" where `frame` names a frame
    region: Region | None = None
    longest_px: int = FULL_PX
    frame: str = ""  # id of a frame


def letters(index: int) -> str:
    """a, b … z, aa, ab … for 0, 1 …"""
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(97 + rest) + name
    return name


def needs_in_order(scene: Scene) -> tuple[Need, ...]:
    """Needs by department in the printing order; within wardrobe and hair by figure as listed; else as in the plan."""
    figures = {f.slug: i for i, f in enumerate(scene.figures)}
    departments = {d: i for i, d in enumerate(DEPARTMENTS)}

    def place(item: tuple[int, Need]) -> tuple[int, int, int]:
        index, need = item
        by_figure = need.department in ("wardrobe", "hair and make-up")
        return (
            departments.get(need.department, len(departments)),
            figures.get(need.figure, len(figures)) if by_figure else 0,
            index,
        )

    return tuple(need for _, need in sorted(enumerate(scene.needs), key=place))


class Citations:
    """Numbers, captions and picture names of everything a scene cites."""

    def __init__(
        self,
        scene: Scene,
        references: Mapping[str, Reference],
        details: Mapping[str, Detail],
        passages: Mapping[str, Passage],
    ) -> None:
        self.scene = scene
        self.references = references
        self.details = details
        self.passages = passages
        self._numbers: dict[str, tuple[str, int]] = {}
        self._letters: dict[str, str] = {}
        self._requests: dict[str, PlateRequest] = {}
        counts = {"Pl.": 0, "T.": 0, "O.": 0}
        lettered: dict[str, int] = {}
        for reference_id, detail_id in _cited(scene):
            reference = references.get(reference_id)
            if reference is None:
                continue
            if reference_id not in self._numbers:
                series = _series(reference)
                counts[series] += 1
                self._numbers[reference_id] = (series, counts[series])
            detail = details.get(detail_id or "")
            if detail is not None and detail.reference == reference_id and detail.id not in self._letters:
                lettered[reference_id] = lettered.get(reference_id, -1) + 1
                self._letters[detail.id] = letters(lettered[reference_id])

    # --- numbers ------------------------------------------------------------------------------------------------

    @property
    def cited(self) -> tuple[Reference, ...]:
        """References the whole scene cites: pictures, then texts, then object records, by number."""
        order = {"Pl.": 0, "T.": 1, "O.": 2}
        ids = sorted(self._numbers, key=lambda i: (order[self._numbers[i][0]], self._numbers[i][1]))
        return tuple(self.references[i] for i in ids)

    def number(self, reference_id: str, detail_id: str | None = None, passage_id: str | None = None) -> str:
        """As printed: "Pl. 3", "Pl. 3 b", "T. 1, passage 4"; "not in the archive" for an unknown reference."""
        if reference_id not in self._numbers:
            return "not in the archive"
        series, count = self._numbers[reference_id]
        base = f"{series}\u00a0{count}"
        if detail_id in self._letters:
            return f"{base}\u00a0{self._letters[detail_id]}"
        passage = self.passages.get(passage_id or "")
        return f"{base}, passage\u00a0{passage.number}" if passage is not None else base

    def number_of(self, evidence: Evidence) -> str:
        """The number of one piece of evidence."""
        return self.number(evidence.reference, evidence.detail, evidence.passage)

    # --- pictures -----------------------------------------------------------------------------------------------

    def is_picture(self, reference_id: str) -> bool:
        """Whether there is a picture of it to print."""
        reference = self.references.get(reference_id)
        return reference is not None and _series(reference) == "Pl."

    def picture(self, reference_id: str, detail_id: str | None = None, *, small: bool = False) -> str | None:
        """Name of the picture on the page, None where there is none to show; remembered as to be prepared."""
        if not self.is_picture(reference_id) or reference_id not in self._numbers:
            return None
        name = f"pl-{self._numbers[reference_id][1]:03d}"
        region: Region | None = None
        if detail_id in self._letters:
            name += f"-{self._letters[detail_id]}"
            region = self.details[detail_id].region
        longest = SMALL_PX if small else (FULL_PX if region is None else DETAIL_PX)
        name += "-small" if small else ""
        self._requests.setdefault(name, PlateRequest(name, reference_id, region, longest))
        return name

    @property
    def requests(self) -> Mapping[str, PlateRequest]:
        """What `picture` was asked for, by name."""
        return self._requests


def _series(reference: Reference) -> str:
    if reference.kind == "text":
        return "T."
    return "Pl." if reference.kind == "image" or reference.media_type.startswith("image/") else "O."


def _cited(scene: Scene) -> Iterator[tuple[str, str | None]]:
    if scene.key_reference:
        yield scene.key_reference, None
    for need in needs_in_order(scene):
        for evidence in need.evidence:
            yield evidence.reference, evidence.detail
        for swatch in need.swatches:
            yield swatch.reference, None
    for reference in scene.intent.like:
        yield reference, None
    for place in scene.site.candidates if scene.site else ():
        for evidence in place.evidence:
            yield evidence.reference, evidence.detail


# --- words about a reference ----------------------------------------------------------------------------------------


def date_of(reference: Reference) -> str:
    """The date as shown, or "undated"."""
    return date_in_words(reference.when) if reference.when else "undated"


def date_in_words(when: When) -> str:
    """The date as the person wrote it; where that is bare EDTF, in words as far as these few patterns go."""
    if when.text and when.text != when.edtf:
        return when.text
    start, slash, end = when.edtf.partition("/")
    if not slash:
        return _edtf_in_words(start)
    if start in ("", ".."):
        return f"{_edtf_in_words(end)} or earlier"
    if end in ("", ".."):
        return f"{_edtf_in_words(start)} or later"
    return f"{_edtf_in_words(start)} to {_edtf_in_words(end)}"


def _edtf_in_words(edtf: str) -> str:
    found = re.fullmatch(r"(\d{3}[\dX])(?:-(0[1-9]|1[0-2])(?:-(\d\d))?)?([~?%]?)", edtf)
    if found is None:
        return edtf
    year, month, day, mark = found.groups()
    if year.endswith("X"):
        if month:
            return edtf
        year = f"{year[:3]}0s"
    words = " ".join(x for x in ((day or "").lstrip("0"), MONTHS[int(month) - 1] if month else "", year) if x)
    return {"": words, "~": f"c. {words}", "?": f"{words}, uncertain", "%": f"c. {words}, uncertain"}[mark]


def undated(reference: Reference) -> bool:
    """Whether nothing is known of its days."""
    return reference.when is None or (reference.when.earliest is None and reference.when.latest is None)


def short_caption(reference: Reference) -> str:
    """Title and date."""
    return f"{reference.title or reference.source_name or 'Untitled'}, {date_of(reference)}"


def archival_caption(reference: Reference, before: str = "", *, credit: bool = True) -> str:
    """Maker; title; date; medium; dimensions; collection; accession; credit, in that order, what is empty left out.

    The order is that of archival picture captions (common practice, no source); `before` is put first. The credit line
    stands as it was given, whole: where all is too long for a caption the other parts are cut, and a credit line too
    long for any caption is left to the pages on sources, which give it a row of its own (`credit` False).
    """
    first = ", ".join([reference.creator or "Maker not known", reference.title or "Untitled", date_of(reference)])
    second = ", ".join(x for x in (reference.medium, reference.dimensions) if x)
    second = second[:1].upper() + second[1:]
    third = ", ".join(x for x in (reference.collection, reference.accession) if x)
    parts = (p.strip() for p in (first, second, third))
    told = " ".join(part if part[-1] in ".!?" else f"{part}." for part in parts if part)
    told = f"{before} {told}".strip()
    return credited(told, reference) if credit else told


def credited(told: str, reference: Reference) -> str:
    """What is told of a reference, and its credit line after it; together at most `CAPTION_LIMIT` characters."""
    credit = reference.credit.strip()
    if len(credit) > CAPTION_CREDIT:
        credit = "Credit line: see the source."
    room = CAPTION_LIMIT - len(credit) - 1
    if len(told) > room:
        told = f"{told[: room - 2]} …"
    return f"{told} {credit}".strip()


def alternative(reference: Reference, number: str, note: str = "") -> str:
    """Words for those who do not see the picture."""
    what = f"Detail of {short_caption(reference)}: {note}" if note else short_caption(reference)
    description = f" {reference.description}" if reference.description and not note else ""
    return f"{number}. {what}.{description}".replace("..", ".")[:600]


def rights_facts(reference: Reference) -> list[tuple[str, str]]:
    """Rows on its rights: the statement with its URI, what it may be used for, the credit line as it was given."""
    stands = standing(reference)
    if stands.study == stands.brief:
        uses = f"Study and the crew's brief: {stands.study}."
    else:
        uses = f"Study: {stands.study}. The crew's brief: {stands.brief}."
    uses = f"{uses} Publication: {stands.publication}."
    credit = stands.credit_line if len(stands.credit_line) <= ROW_LIMIT else "in full below"
    return [("Rights", _row(stands.statement)), ("Use", _row(uses)), ("Credit line", credit)]


def long_credit(reference: Reference, number: str) -> list[Block]:
    """The whole credit line where it is too long for a row: running text, which goes on over sheets as it needs."""
    if len(reference.credit) <= ROW_LIMIT:
        return []
    lead, *rest = in_pieces(f"{BELOW.capitalize()} {number}: {reference.credit}")
    return [blocks.text(piece, "small") for piece in (lead, *rest)]


def _row(text: str) -> str:
    return text if len(text) <= ROW_LIMIT else f"{text[:ROW_LIMIT]} … (whole in the archive)"


def in_pieces(text: str, longest: int = TEXT_LIMIT) -> list[str]:
    """A text in pieces that a page takes whole, parted at blanks where there are any."""
    pieces = []
    while len(text) > longest:
        at = text.rfind(" ", 1, longest) + 1 or longest
        pieces.append(text[:at])
        text = text[at:]
    return [*pieces, text] if text else pieces


def early_photograph(reference: Reference) -> str:
    """Why no colour should be taken from a photograph, "" where nothing is known against it."""
    early = from_before_dyes(reference)
    if early is None:
        return f"A photograph that may be from before 1883. {EARLY_PLATE}"
    return f"A photograph from before 1883. {EARLY_PLATE}" if early else ""
