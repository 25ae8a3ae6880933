"""What a dossier says, page by page, as a plain document; how it looks is for those who set it.

Order: cover, figures, one section for each department, place and light, costs, what the picture must say, what each
need rests on, cautions, sources and rights, open questions. A department's copy keeps the cover, its own section, what
it is given on place and light, the cautions, the sources it cites and its own open questions, under the numbers of the
whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from refarchive.errors import UnknownRecord
from refarchive.paper import blocks
from refarchive.paper.blocks import Block, Document, FactValue, Page, Plate, Section
from refarchive.paper.cautions import ALWAYS, CAUTIONS, DEFERRAL
from refarchive.paper.citing import (
    Citations,
    PlateRequest,
    alternative,
    archival_caption,
    date_in_words,
    date_of,
    early_photograph,
    long_credit,
    needs_in_order,
    short_caption,
    undated,
)
from refarchive.paper.costs import (
    BY_PIECE,
    TITLES,
    amounts,
    costs_section,
    pieces_page,
    quantity_in_words,
    sourcing_facts,
)
from refarchive.paper.intended import intended
from refarchive.paper.questioning import answered, from_first_dates, later_evidence
from refarchive.paper.rests_on import standing_section
from refarchive.paper.source_entries import source_entry
from refarchive.records.model import (
    DEPARTMENTS,
    Detail,
    Evidence,
    Figure,
    Need,
    Passage,
    Quantity,
    Reference,
    Region,
    Scene,
    Sourcing,
    Swatch,
    Witness,
)
from refarchive.records.uses import CAUTION
from refarchive.scenes.anachronism import Asked
from refarchive.scenes.coverage import NeedCoverage
from refarchive.scenes.mediums import in_brief

__all__ = ["PlateRequest", "SwatchReading", "dossier", "plates"]

SUPPORTING = ("shows", "describes")
ABOUT = (
    "Compiled from the photographer's own archive. Pl. numbers are pictures, T. numbers texts, O. numbers objects "
    "without a picture; a letter is a marked detail. The numbers are the same in every copy of this dossier. A "
    "reference shows, describes or contradicts a need; what kind of witness it is stands beside it and is not a "
    "ranking."
)


@dataclass(frozen=True)
class SwatchReading:
    """A colour as read from a picture: sRGB "#rrggbb", CIE Lab (D50), and the CIEDE2000 distance within which four
    fifths of the pixels lie; its Munsell notation as a sentence, or "".
    """

    hex: str
    lab: tuple[float, float, float]
    spread: float
    reference: str
    region: Region | None = None
    munsell: str = ""


def dossier(
    scene: Scene,
    *,
    references: Mapping[str, Reference],
    details: Mapping[str, Detail],
    passages: Mapping[str, Passage],
    swatches: Mapping[tuple[str, int], SwatchReading],
    version: str,
    date: str,
    department: str | None = None,
    further_questions: Sequence[tuple[str, str, str]] = (),
    coverage: Sequence[NeedCoverage] = (),
    asked: Asked | None = None,
    onsite: Sequence[Section] = (),
) -> Document:
    """Write the dossier of a scene, whole or for one department.

    Parameters
    ----------
    scene
        The scene, needs and evidence included.
    references, details, passages
        Records by id; all that the scene cites. What is missing is named under the open questions.
    swatches
        Readings by (slug of the need, index in its swatches).
    version, date
        As printed in the header of each page.
    department
        One of the departments for its copy, None for the whole.
    coverage
        What each need rests on, for the whole dossier's page on it; without it there is no such page.
    asked
        Questions from first dates and evidence later than the event, for the open questions.
    onsite
        The sections on place and light that this copy holds.
    further_questions
        (department or "" for all, what it is about, the question), for instance what a check of dates found.

    Raises
    ------
    UnknownRecord
        where `department` is none of the departments.
    """
    check_department(department)
    cite = Citations(scene, references, details, passages)
    writer = _Writer(scene, cite, swatches, department, coverage, asked)
    return writer.document(version, date, further_questions, onsite)


def check_department(department: str | None) -> None:
    """Refuse a department that there is none of. Raises UnknownRecord."""
    if department is not None and department not in DEPARTMENTS:
        raise UnknownRecord(f"There is no department {department!r}.", f"Departments: {', '.join(DEPARTMENTS)}.")


def plates(
    document: Document,
    scene: Scene,
    *,
    references: Mapping[str, Reference],
    details: Mapping[str, Detail],
) -> tuple[PlateRequest, ...]:
    """Pictures that a dossier of this scene shows, in order of first use."""
    citations = Citations(scene, references, details, {})
    pairs: dict[tuple[str, str | None], None] = {}
    for need in scene.needs:
        pairs |= dict.fromkeys((e.reference, e.detail) for e in need.evidence)
    pairs |= dict.fromkeys((r.id, None) for r in citations.cited)
    for reference, detail in pairs:
        for small in (False, True):
            citations.picture(reference, None, small=small)
            citations.picture(reference, detail, small=small)
    return tuple(citations.requests[name] for name in blocks.pictures_of(document) if name in citations.requests)


class _Writer:
    def __init__(
        self,
        scene: Scene,
        citations: Citations,
        readings: Mapping[tuple[str, int], SwatchReading],
        department: str | None,
        coverage: Sequence[NeedCoverage] = (),
        asked: Asked | None = None,
    ) -> None:
        self.scene = scene
        self.asked = asked or Asked()
        self.asking = asked is not None
        self.coverage = coverage
        self.cite = citations
        self.readings = readings
        self.department = department
        self.needs = tuple(n for n in needs_in_order(scene) if department in (None, n.department))

    def document(
        self, version: str, date: str, further: Sequence[tuple[str, str, str]], more: Sequence[Section]
    ) -> Document:
        scene, whole = self.scene, self.department is None
        sections = [self.cover()]
        if whole:
            sections.append(self.figures())
        sections += [self.department_section(d) for d in DEPARTMENTS if self.department in (None, d)]
        sections += more
        if whole:
            sections += [costs_section(self.needs, self.scene.currency), self.story()]
            sections.append(standing_section(self.coverage, self.cite))
        sections += [self.cautions(), self.sources(), self.questions(further)]
        copy = "Whole dossier" if whole else f"Copy for {self.department}"
        subtitle = " · ".join(x for x in (copy, scene.series) if x)
        return blocks.document(scene.title, subtitle, scene.title, version, date, ABOUT, sections)

    # --- cover and figures --------------------------------------------------------------------------------------

    def cover(self) -> Section:
        scene = self.scene
        parts: list[Block] = []
        if scene.story:
            parts.append(blocks.text(scene.story, "lead"))
        key = self.cite.references.get(scene.key_reference)
        if key is not None and self.cite.is_picture(key.id):
            parts.append(self.plate(Evidence(key.id, "shows"), "large"))
        rows: list[tuple[str, FactValue]] = [
            ("Event", scene.event),
            ("Date", date_in_words(scene.when) if scene.when else "Not dated"),
            ("Place", _place(scene)),
        ]
        if key is not None:
            rows.append(("Key reference", f"{self.cite.number(key.id)}, {short_caption(key)}"))
        parts += [blocks.facts(rows), blocks.text(ABOUT, "small")]
        return blocks.section("cover", "Cover", [blocks.page("", parts)], start="sheet")

    def figures(self) -> Section:
        rows = [
            (f.name, f.performer or "not cast", f.role, f.rank, f.action, f.wet, self._count(f))
            for f in self.scene.figures
        ]
        columns = ("Figure", "Performer", "Role", "Rank", "Action", "How wet", "Needs")
        pages = [blocks.page("", [blocks.table(columns, rows, numeric=(6,))])] if rows else []
        return blocks.section("figures", "Figures", pages)

    def _count(self, figure: Figure) -> int:
        return sum(n.figure == figure.slug for n in self.scene.needs)

    # --- departments --------------------------------------------------------------------------------------------

    def department_section(self, department: str) -> Section:
        needs = [n for n in self.needs if n.department == department]
        pages: list[Page] = []
        if department == "light":
            pages += self.intended_look()
        if department == "wardrobe":
            for figure in self.scene.figures:
                own = [n for n in needs if n.figure == figure.slug]
                if own or figure.sizes:
                    pages.append(self.figure_page(figure, own))
                    pages += [self.need_page(n) for n in own]
            named = {f.slug for f in self.scene.figures}
            pages += [self.need_page(n) for n in needs if n.figure not in named]
        else:
            pages += [self.need_page(n) for n in needs]
        if len(needs) > 1 or any(a is not None for n in needs for a in amounts(n)):
            pages.append(pieces_page(department, needs, self.scene.currency))
        if not pages and self.department == department:
            pages.append(blocks.page("", [blocks.text("The scene has no needs in this department yet.")]))
        return blocks.section(
            f"department-{DEPARTMENTS.index(department) + 1}",
            TITLES[department],
            pages,
            department=department,
            start="sheet" if department in BY_PIECE or self.department else "flow",
        )

    def figure_page(self, figure: Figure, needs: Sequence[Need]) -> Page:
        rows = [
            ("Performer", figure.performer or "Not cast"),
            ("Role", figure.role),
            ("Rank", figure.rank),
            ("Action", figure.action),
            ("How wet", figure.wet),
            ("Sizes", "; ".join(f"{label} {value}" for label, value in figure.sizes) or "Not taken"),
        ]
        layers = [
            (
                need.name,
                dict(need.facts).get("Layer", ""),
                dict(need.facts).get("Material", ""),
                need.prominence,
                need.quantity.total,
                "; ".join(dict.fromkeys(map(self.cite.number_of, need.evidence))) or "none",
            )
            for need in needs
        ]
        columns = ("Worn or carried", "Layer", "Material", "Seen in", "Pieces", "Evidence")
        parts = [blocks.facts(rows), blocks.table(columns, layers, numeric=(4,))]
        return blocks.page(figure.name, parts, start="sheet")

    def need_page(self, need: Need) -> Page:
        figure = self.scene.figure(need.figure)
        pieces = need.department in BY_PIECE
        sourced = pieces or need.sourcing != Sourcing()
        beside: list[Block] = [
            blocks.facts(
                [
                    ("For", figure.name if figure and need.department != "wardrobe" else ""),
                    ("Seen in", need.prominence),
                    *need.facts,
                    ("Do", need.do),
                    ("Don't", need.dont),
                    ("Acceptable instead", need.substitutes),
                    ("Breakdown", [f"{n}. {stage}" for n, stage in enumerate(need.breakdown, 1)]),
                    ("Pieces", quantity_in_words(need) if pieces or need.quantity != Quantity() else ""),
                    *(sourcing_facts(need.sourcing, self.scene.currency) if sourced else ()),
                ]
            )
        ]
        # Swatches stand first: on a later sheet nobody could tell what they are the colour of.
        swatches = blocks.swatches(self.swatch(need, n, s) for n, s in enumerate(need.swatches))
        parts: list[Block] = [blocks.text(need.description), swatches]
        pictured = [e for e in need.evidence if self.cite.is_picture(e.reference)]
        main = next((e for e in pictured if e.relation in SUPPORTING), pictured[0] if pictured else None)
        if main is None:
            parts += beside
        else:
            others = [self.plate(e, "small") for e in pictured if e is not main]
            size = "medium" if need.prominence == "background" else "large"
            parts.append(self.plate(main, size, details=others, beside=beside))
        parts += [self.quotation(e) for e in need.evidence if e.passage in self.cite.passages]
        if need.evidence:
            columns = ("Number", "Relation", "Witness", "Date", "What it bears on")
            parts.append(blocks.table(columns, [self.claim(e) for e in need.evidence]))
        else:
            parts.append(blocks.text("No evidence yet: see the open questions.", "small"))
        own_sheet = pieces and main is not None and need.prominence != "background"
        return blocks.page(need.name, parts, start="sheet" if own_sheet else "flow")

    def claim(self, evidence: Evidence) -> tuple[str, str, str, str, str]:
        reference = self.cite.references.get(evidence.reference)
        number = self.cite.number_of(evidence)
        if reference is None:
            return number, evidence.relation, "", "", evidence.note
        detail = self.cite.details.get(evidence.detail or "")
        note = evidence.note or (detail.note if detail else "") or reference.title
        return number, evidence.relation, reference.witness.value, date_of(reference), note

    def plate(
        self, evidence: Evidence, size: str, *, details: Iterable[Plate] = (), beside: Iterable[Block] = ()
    ) -> Plate:
        reference = self.cite.references[evidence.reference]
        detail = self.cite.details.get(evidence.detail or "")
        number = self.cite.number_of(replace(evidence, passage=None))
        small = size == "small"
        note = evidence.note or (detail.note if detail else "")
        before = ["Contradicts."] if evidence.relation == "contradicts" else []
        if detail is not None:
            before.append(f"{note}." if note else "Detail.")
        if small:
            caption = " ".join([*before, short_caption(reference)])
        else:
            caption = archival_caption(reference, " ".join(before))
        if brief := in_brief(reference):
            caption = f"{caption.rstrip('.')}. {brief}"
        within = None
        if detail is not None:
            within = {"picture": self.cite.picture(reference.id, small=True), "region": list(detail.region)}
        return blocks.plate(
            self.cite.picture(reference.id, evidence.detail, small=small and detail is None),
            number,
            caption,
            alternative(reference, number, note if detail is not None else ""),
            size=size,
            within=within,
            details=details,
            beside=beside,
        )

    def quotation(self, evidence: Evidence) -> Block:
        passage = self.cite.passages[evidence.passage or ""]
        reference = self.cite.references.get(evidence.reference)
        caption = f"{short_caption(reference)}; {reference.witness.value}" if reference else ""
        if reference and (brief := in_brief(reference)):
            caption = f"{caption}. {brief}"
        return blocks.quote(passage.text, self.cite.number_of(evidence), caption)

    def swatch(self, need: Need, index: int, swatch: Swatch) -> dict[str, str]:
        reading = self.readings.get((need.slug, index))
        reference = self.cite.references.get(swatch.reference)
        number = self.cite.number(swatch.reference)
        if reading is None:
            return {"hex": "", "lab": "not read", "name": swatch.name, "note": f"To be read from {number}."}
        region = reading.region if reading.region is not None else swatch.region
        where = f"from the whole of {number}" if region is None else f"from {number}, {_region(region)}"
        spread = f"four fifths of the pixels there lie within {reading.spread:.1f} ΔE00 of it."
        note = f"Read {where}; {spread} {reading.munsell}".rstrip()
        if reference is not None:
            note = f"{note} {early_photograph(reference)}".strip()
        return {"hex": reading.hex, "lab": _lab(reading.lab), "name": swatch.name, "note": note}

    def intended_look(self) -> list[Page]:
        intent = self.scene.intent
        colours = [
            {"hex": c.hex, "lab": "intended", "name": c.name, "note": f"{c.share * 100:.0f} % of the picture."}
            for c in intent.palette
        ]
        like = [
            self.plate(Evidence(r, "shows"), "small") for r in dict.fromkeys(intent.like) if self.cite.is_picture(r)
        ]
        parts = [blocks.facts(intended(intent)), blocks.swatches(colours), blocks.plates(like)]
        page = blocks.page("Intended look", parts)
        return [page] if page["blocks"] else []

    # --- story, cautions, sources -------------------------------------------------------------------------------

    def story(self) -> Section:
        scene = self.scene
        parts: list[Block] = []
        if scene.statements:
            parts.append(blocks.listing(scene.statements, "Without a word of text it must say"))
        if scene.misreadings:
            parts.append(blocks.listing(scene.misreadings, "It must not be read as"))
        if scene.variations:
            parts += [
                blocks.heading("Planned variations: other moments of the same scene"),
                blocks.facts((v.title, v.moment or "not described yet") for v in scene.variations),
            ]
        return blocks.section("story", "What the picture must say", [blocks.page("", parts)] if parts else [])

    def cautions(self) -> Section:
        arranged: dict[str, list[str]] = {}
        for topic, words in self.scene.safety:
            arranged.setdefault(topic, []).append(words)
        parts: list[Block] = [blocks.text(DEFERRAL, "lead")]
        for topic, title, words in CAUTIONS:
            if topic in ALWAYS or topic in arranged:
                done = [f"Arranged: {w}" for w in arranged.pop(topic, [])]
                parts.append(blocks.caution(title, words, done or ["Arranged: nothing entered yet."]))
        parts += [blocks.caution(topic, "", [f"Arranged: {w}" for w in words]) for topic, words in arranged.items()]
        return blocks.section("safety", "Water and safety: cautions", [blocks.page("", parts)], start="sheet")

    def cited(self) -> tuple[Reference, ...]:
        """References that this copy cites, by number."""
        if self.department is None:
            return self.cite.cited
        ids = {self.scene.key_reference}
        for need in self.needs:
            ids |= {e.reference for e in need.evidence} | {s.reference for s in need.swatches}
        if self.department == "light":
            ids |= set(self.scene.intent.like)
        return tuple(r for r in self.cite.cited if r.id in ids)

    def sources(self) -> Section:
        entries: list[Block] = []
        for reference in self.cited():
            entry = source_entry(reference, self.cite, self.needs, self.scene.key_reference)
            entries += [entry, *long_credit(reference, self.cite.number(reference.id))]
        pages = [blocks.page("", [blocks.text(CAUTION, "small"), *entries])] if entries else []
        return blocks.section("sources", "Sources and rights", pages, start="sheet")

    # --- open questions -----------------------------------------------------------------------------------------

    def questions(self, further: Sequence[tuple[str, str, str]]) -> Section:
        unsupported, against, lost, unread = [], [], [], []
        for need in self.needs:
            about = f"{need.name} ({need.department})"
            known = [e for e in need.evidence if e.reference in self.cite.references]
            lost += [(about, f"names the reference {e.reference}.") for e in need.evidence if e not in known]
            if not any(e.relation in SUPPORTING for e in known):
                only = "; what there is contradicts it" if known else ""
                unsupported.append((about, f"nothing in the archive shows or describes it yet{only}."))
            for evidence in known:
                if evidence.relation == "contradicts":
                    note = f": {evidence.note}" if evidence.note else "."
                    against.append((about, f"{self.cite.number_of(evidence)} contradicts it{note}"))
            unread += [
                (about, f"{swatch.name or 'the swatch'} could not be read from {self.cite.number(swatch.reference)}.")
                for index, swatch in enumerate(need.swatches)
                if (need.slug, index) not in self.readings
            ]
        cited = [(self.cite.number(r.id), r) for r in self.cited()]
        key = [] if self.scene.key_reference else [(self.scene.title, "no key reference is chosen.")]
        if self.scene.key_reference and self.scene.key_reference not in self.cite.references:
            lost.append((self.scene.title, f"names the key reference {self.scene.key_reference}."))
        groups: list[tuple[str, list[tuple[str, str]]]] = [
            ("Needs without evidence", unsupported),
            ("Contradictions", against),
            ("Key reference", key),
            ("References named but not in the archive", lost),
            ("References without a date", [(n, short_caption(r)) for n, r in cited if undated(r)]),
            (
                "References whose kind of witness is not yet judged",
                [(n, short_caption(r)) for n, r in cited if r.witness is Witness.UNKNOWN],
            ),
            ("Rights not recorded", [(n, short_caption(r)) for n, r in cited if not r.rights]),
            ("Colours not read", unread),
            ("What may not have been there yet", from_first_dates(self.asked, self.needs, by_name=True)),
            ("Perhaps meant, by likeness of words alone", from_first_dates(self.asked, self.needs, by_name=False)),
            ("Asked and answered", answered(self.asked, self.needs)),
            ("Evidence later than the event", later_evidence(self.asked, self.needs, self.cite)),
            ("Further questions", [(a, q) for d, a, q in further if not d or self.department in (None, d)]),
        ]
        parts = [blocks.question(title, items) for title, items in groups if items]
        if not parts:
            parts = [blocks.text("None recorded. That says what was entered, not that nothing is in doubt.")]
        if self.asking:
            parts += [blocks.text(words, "small") for words in (self.asked.silence, *self.asked.notices)]
        return blocks.section("questions", "Open questions", [blocks.page("", parts)], start="sheet")


def _place(scene: Scene) -> str:
    if scene.latitude is None or scene.longitude is None:
        return scene.place
    north, east = "N" if scene.latitude >= 0 else "S", "E" if scene.longitude >= 0 else "W"
    point = f"{abs(scene.latitude):.5f}° {north}, {abs(scene.longitude):.5f}° {east} (WGS 84)"
    return f"{scene.place}, {point}" if scene.place else point


def _region(region: Region) -> str:
    x, y, width, height = region
    return (
        f"{x * 100:.0f}–{(x + width) * 100:.0f} % from the left, {y * 100:.0f}–{(y + height) * 100:.0f} % from the top"
    )


def _lab(lab: tuple[float, float, float]) -> str:
    lightness, a, b = (round(v, 1) + 0.0 for v in lab)
    return f"L* {lightness:.1f}, a* {a:.1f}, b* {b:.1f}".replace("-", "−")
