"""The historical note that goes out with a picture, drafted from the record: about 150 to 300 words in seven sections.

The tool adds no facts. Every sentence is a template of ours around words of the record, repeated as they stand there,
with the evidence it rests on; what the person wrote as an opinion is quoted as theirs. The person then rewrites it.

What goes where (ours, by the rules of `statement`; that a note tells these apart is common practice, no source):

- *known*: needs with at least one independent witness of the time, unless the person marked them by another word.
- *disputed*: evidence that contradicts; evidence that shows another time than the scene's; questions of first dates
  that name a thing of the plan and are not answered. Questions found by meaning are left out and counted in a notice.
- *inferred*: needs with other support only, or that the person calls inferred.
- *invented and unknown*: only where the person said so, of a part of the picture, or by keeping a thing on purpose.
  Needs that nothing supports and nobody spoke of are not in the note: they are listed as owed to it.
- Where the person says *supported* and no witness of the time is recorded, the note says *inferred*, and a notice why.

One reference is told once for all needs that it is the first to support, the one that supports most needs first.

Length. Words are runs between white space that hold a letter or a digit, headings included. A note over the most is
not cut: `offered` names the sentences that may go, in the order of `DROPS`. One under the least is not padded.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from refarchive.publish.caption import (
    Basis,
    Clause,
    Debt,
    Numbers,
    event_clause,
    key_basis,
    place_parts,
    repeated,
    say,
    tidy,
)
from refarchive.publish.statement import (
    KEPT,
    Proposal,
    gap_days,
    grounds_of,
    proposed_standing,
    reserve,
    supporting,
)
from refarchive.records.dates import shown
from refarchive.records.model import Evidence, Need, Reference, Scene
from refarchive.records.wall import Part, Particulars
from refarchive.scenes.anachronism import BY_NAME, Asked
from refarchive.scenes.coverage import NeedCoverage

FEWEST, MOST = 150, 300  # words
SECTIONS: Mapping[str, str] = {
    "event": "",  # opens the note, without a heading
    "known": "Known",
    "disputed": "Disputed",
    "inferred": "Inferred",
    "invented": "Invented and unknown",
    "site": "The place, then and now",
    "thanks": "Thanks",
}
# What may be left out of a note that is too long, in this order; of one kind the last sentence first. The event and its
# source, what is disputed, invented or unknown, the place and the thanks stay: without them a picture looks surer.
DROPS = ("why this place", "the person's words", "contributors", "changes since", "inferred", "known")

TEMPLATES: Mapping[str, str] = {
    "source": "The picture starts from {title} ({witness}).",
    "source and maker": "The picture starts from {title}, by {maker} ({witness}).",
    "story": "In the photographer's words: “{story}”",
    "known, shows": "{title} ({witness}) shows: {needs}.",
    "known, describes": "{title} ({witness}) describes: {needs}.",
    "known, both": "{title} ({witness}) shows and describes: {needs}.",
    "known, object": "{title} ({witness}) bears out: {needs}.",
    "against": "{title} ({witness}) contradicts: {needs}.",
    "against, noted": "{title} ({witness}) contradicts: {needs}. The photographer notes: “{note}”",
    "another time": "{title} ({witness}) shows {depicts}; the event is of {date}.",
    "open": "For {need} the question is open whether it was there yet: {thing}.",
    "inferred": "From {title} ({witness}) is inferred: {needs}.",
    "inferred by the person": "The photographer infers, with no evidence recorded: {names}.",
    "inferred by the person, why": "The photographer infers {name}: “{why}”",
    "invented": "Invented by the photographer: {names}.",
    "invented, why": "The photographer invented {name}: “{why}”",
    "unknown": "Not known, the photographer says: {names}.",
    "unknown, why": "{name} is not known, the photographer says: “{why}”",
    "kept": "Kept on purpose in {need}: {thing}.",
    "kept, why": "Kept on purpose in {need}: {thing}, “{note}”",
    "place": "The place is taken to be {name}, within {radius} m.",
    "place, why": "The photographer's reason: “{reason}”",
    "changed": "Changed since: {changed}.",
    "taken": "The picture was made at {at}.",
    "thanks": "Thanks to {names}.",
    "contributors": "Contributors: {names}.",
}


@dataclass(frozen=True)
class Claim:
    """A sentence of the note: its section, what it rests on, and under which word of `DROPS` it may go ("": never)."""

    section: str
    text: str
    rests_on: tuple[Basis, ...]
    drop: str = ""


@dataclass(frozen=True)
class Note:
    """A drafted note. `offered` are indexes of claims that may go until it is no longer than `MOST`, first to go first.

    `debts` are what the record lacks; `notices` say what is to be known of the draft.
    """

    claims: tuple[Claim, ...]
    words: int
    offered: tuple[int, ...] = ()
    debts: tuple[Debt, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The note as paragraphs, one for each section that has anything to say."""
        return note_text(self.claims)


def note_text(claims: Iterable[Claim]) -> str:
    """Claims as paragraphs under the headings of their sections."""
    told: dict[str, list[str]] = {name: [] for name in SECTIONS}
    for claim in claims:
        told[claim.section].append(claim.text)
    paragraphs = [(SECTIONS[name], " ".join(own)) for name, own in told.items() if own]
    return "\n\n".join(f"{heading}. {words}" if heading else words for heading, words in paragraphs)


def count_words(text: str) -> int:
    """Words of a text: runs between white space that hold a letter or a digit.

    >>> count_words("Isaac Garrow – a pilot's “staff”, 1869.")
    6
    """
    return sum(any(character.isalnum() for character in run) for run in text.split())


def parts_no_words(text: str) -> bool:
    """Whether some of a text is in a script that sets no blanks between words, so that a count of them is too low."""
    return any(
        "\u3040" <= c <= "\u30ff" or "\u3400" <= c <= "\u9fff" or "\u0e00" <= c <= "\u0eff" or "\u1000" <= c <= "\u109f"
        or "\u1780" <= c <= "\u17ff" or "\U00020000" <= c <= "\U0003ffff"
        for c in text
    )  # fmt: skip


def without(note: Note, dropped: Iterable[int]) -> Note:
    """The note without some of its claims, counted again."""
    gone = set(dropped)
    kept = tuple(claim for index, claim in enumerate(note.claims) if index not in gone)
    return _measured(Note(kept, 0, debts=note.debts, notices=note.notices[1:]))


# --- drafting ---------------------------------------------------------------------------------------------------------


@dataclass
class _Draft:
    """What is known while the note is drafted, and what is collected."""

    scene: Scene
    own: Particulars
    references: Mapping[str, Reference]
    numbers: Numbers
    asked: Asked
    proposals: Mapping[str, Proposal]
    claims: list[Claim] = field(default_factory=list)
    debts: list[Debt] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def say(
        self, section: str, template: str, /, *cited: Basis, drop: str = "", **told: Basis | Sequence[Basis]
    ) -> None:
        self.add(section, say(TEMPLATES, template, *cited, **told), drop)

    def add(self, section: str, clause: Clause, drop: str = "") -> None:
        self.claims.append(Claim(section, clause.text, clause.rests_on, drop))

    def grounds(self, need: Need, pieces: Iterable[Evidence]) -> list[Basis]:
        return [grounds_of(one, need, self.references, self.numbers) for one in pieces]

    def title(self, reference: Reference) -> Basis:
        name = f"reference:{reference.id}"
        number = self.numbers.number(reference.id)
        found = repeated(f"{name}.title", reference.title) or repeated(f"{name}.source_name", reference.source_name)
        return replace(found or Basis(name, tidy(number, "number")), number=number, reference=reference.id)

    def witness(self, reference: Reference) -> list[Basis]:
        """The kind of witness and the date, as they stand in brackets."""
        name = f"reference:{reference.id}"
        dated = [Basis(f"{name}.when", tidy(shown(reference.when), f"{name}.when"))] if reference.when else []
        return [Basis(f"{name}.witness", reference.witness.value), *dated]


def draft_note(
    scene: Scene,
    particulars: Particulars,
    coverage: Sequence[NeedCoverage],
    references: Mapping[str, Reference],
    numbers: Numbers,
    asked: Asked | None = None,
) -> Note:
    """Draft the note of a scene's finished picture; `coverage` is that of the scene's needs.

    Raises
    ------
    RecordRefused
        for a field too long to be one.
    """
    known = asked or Asked()
    proposals = {row.need.slug: proposed_standing(row.need, row, scene, references, numbers, known) for row in coverage}
    draft = _Draft(scene, particulars, references, numbers, known, proposals)
    _event(draft)
    firm, soft = _sorted(draft)
    _known(draft, firm)
    _disputed(draft)
    _inferred(draft, soft)
    _invented(draft)
    _site(draft)
    _thanks(draft)
    note = Note(tuple(draft.claims), 0, debts=tuple(draft.debts), notices=tuple(draft.notices))
    return _measured(note)


def _measured(note: Note) -> Note:
    """The note with its words counted, what is said of their number first, and what may go where there are too many."""
    words = count_words(note.text)
    told = f"The note has {words} words; about {FEWEST} to {MOST} are usual."
    offered: list[int] = []
    left = words
    if words > MOST:
        order = [
            index for kind in DROPS for index in reversed(range(len(note.claims))) if note.claims[index].drop == kind
        ]
        while left > MOST and order:
            offered.append(order.pop(0))
            kept = [claim for index, claim in enumerate(note.claims) if index not in offered]
            left = count_words(note_text(kept))
        told += f" Nothing is cut: without the {len(offered)} sentences offered to go it has {left}."
        if left > MOST:
            told += " That is still more, and the rest is not offered: shorten what the record itself says."
    elif words < FEWEST:
        told += " It is not padded: what the record lacks is listed."
    if parts_no_words(note.text):
        told += " Part of it is in a script that sets no blanks between words, so the number is too low."
    return replace(note, words=words, offered=tuple(offered), notices=(told, *note.notices))


def _event(draft: _Draft) -> None:
    scene = draft.scene
    key = key_basis(scene, draft.references, draft.numbers)
    clause = event_clause(scene, draft.own, key)
    if clause:
        draft.add("event", clause)
    for name, value, words in (
        ("scene.event", draft.own.event or scene.event, "No event is recorded."),
        ("scene.when", scene.when, "No date of the event is recorded."),
        ("scene.key_reference", key, "No key reference is recorded, so the note names no source of the picture."),
    ):
        if not value:
            draft.debts.append(Debt(name, words))
    if key:
        reference = draft.references[key.reference]
        told: dict[str, Any] = {"title": draft.title(reference), "witness": draft.witness(reference)}
        maker = repeated(f"reference:{reference.id}.creator", reference.creator)
        if maker:
            draft.say("event", "source and maker", key, maker=maker, **told)
        else:
            draft.say("event", "source", key, **told)
    story = repeated("scene.story", scene.story)
    if story:
        draft.say("event", "story", drop="the person's words", story=story)


def _words_of(draft: _Draft, need: Need) -> dict[str, list[tuple[int, Part]]]:
    """The parts that show a need, with their numbers, by the person's word."""
    told: dict[str, list[tuple[int, Part]]] = {}
    for number, part in enumerate(draft.own.parts, start=1):
        if part.need == need.slug:
            told.setdefault(part.standing, []).append((number, part))
    return told


Supported = list[tuple[Need, list[Evidence]]]


def _sorted(draft: _Draft) -> tuple[Supported, Supported]:
    """Needs that are known, and needs that are inferred, each with the evidence that says so."""
    firm: Supported = []
    soft: Supported = []
    for slug, proposal in draft.proposals.items():
        need = next(one for one in draft.scene.needs if one.slug == slug)
        pieces = supporting(need, draft.references)
        direct = [one for one in pieces if not reserve(one, draft.references[one.reference], draft.scene)]
        said = _words_of(draft, need)
        word = proposal.word
        if not said and word == "unknown":
            draft.debts.append(
                Debt(f"need:{slug}.evidence", f"{proposal.name}: nothing supports it, and nobody said what it is.")
            )
        elif (not said and word == "supported") or ("supported" in said and direct):
            firm.append((need, direct))
        elif (not said and word == "inferred") or (pieces and ("supported" in said or "inferred" in said)):
            soft.append((need, pieces))
        if "supported" in said and not direct:
            draft.notices.append(
                f"{proposal.name} is marked supported; the record has no witness of the time, so it is not under known."
            )
    return firm, soft


def _told_once(needs: Supported) -> list[tuple[str, Supported]]:
    """References, each with the needs it is told for: the one that supports most of those left comes first."""
    left = list(needs)
    groups: list[tuple[str, Supported]] = []
    while left:
        counted: dict[str, int] = {}
        for _, pieces in left:
            for reference in dict.fromkeys(one.reference for one in pieces):
                counted[reference] = counted.get(reference, 0) + 1
        best = max(counted, key=lambda reference: counted[reference])  # of equals the first in the plan
        own = [(need, pieces) for need, pieces in left if any(one.reference == best for one in pieces)]
        groups.append((best, own))
        left = [pair for pair in left if pair not in own]
    return groups


def _name(need: Need) -> Basis:
    name = f"need:{need.slug}.name"
    return Basis(name, tidy(need.name, name) or need.slug, need=need.slug)


def _known(draft: _Draft, firm: Supported) -> None:
    for reference_id, own in _told_once(firm):
        reference = draft.references[reference_id]
        relations = {one.relation for _, pieces in own for one in pieces if one.reference == reference_id}
        way = relations.pop() if len(relations) == 1 else "both"
        cited = [basis for need, pieces in own for basis in draft.grounds(need, pieces)]
        draft.say(
            "known",
            "known, object" if reference.kind == "object" else f"known, {way}",
            *cited,
            drop="known",
            title=draft.title(reference),
            witness=draft.witness(reference),
            needs=[_name(need) for need, _ in own],
        )
    if not firm:
        draft.debts.append(Debt("scene.needs", "No need has an independent witness of the time: nothing is known."))


def _disputed(draft: _Draft) -> None:
    for need in draft.scene.needs:
        for one in need.evidence:
            if one.relation == "contradicts" and one.reference in draft.references:
                _against(draft, one, _name(need), draft.grounds(need, [one]))
    place = _chosen(draft)
    for one in place.evidence if place else ():
        if one.relation == "contradicts" and one.reference in draft.references:
            name = Basis("place.name", tidy(place.name if place else "", "place.name"))
            _against(draft, one, name, [_ground_of_place(draft, one)])
    _other_times(draft)
    asked = [one for one in draft.asked.questions if one.how == BY_NAME]
    for question in asked:
        need_asked = draft.scene.need(question.need)
        if need_asked:
            row = Basis(f"first dates:{question.thing}", tidy(question.thing, "first dates"), need=question.need)
            draft.say("disputed", "open", need=_name(need_asked), thing=row)
    rest = len(draft.asked.questions) - len(asked)
    if rest:
        draft.notices.append(
            f"{rest} open question{'s' if rest > 1 else ''} found by meaning {'are' if rest > 1 else 'is'} not in the "
            "note: answer on the plan first whether the thing is meant."
        )


def _against(draft: _Draft, one: Evidence, name: Basis, cited: Sequence[Basis]) -> None:
    reference = draft.references[one.reference]
    note = repeated(f"{cited[0].field}.note", one.note)
    told: dict[str, Any] = {
        "title": draft.title(reference), "witness": draft.witness(reference), "needs": name
    }  # fmt: skip
    if note:
        draft.say("disputed", "against, noted", *cited, note=note, **told)
    else:
        draft.say("disputed", "against", *cited, **told)


def _other_times(draft: _Draft) -> None:
    """What is cited as support, or as the key, and is entered as showing another time than the scene's."""
    scene = draft.scene
    used = [scene.key_reference, *(one.reference for need in scene.needs for one in supporting(need, draft.references))]
    for reference_id in dict.fromkeys(used):
        reference = draft.references.get(reference_id)
        if reference is None or reference.depicts is None or scene.when is None:
            continue
        if gap_days(reference.depicts, scene.when):
            name = f"reference:{reference.id}.depicts"
            draft.say(
                "disputed", "another time", title=draft.title(reference), witness=draft.witness(reference),
                depicts=Basis(name, tidy(shown(reference.depicts), name), reference=reference.id),
                date=Basis("scene.when", tidy(shown(scene.when), "scene.when")),
            )  # fmt: skip


def _inferred(draft: _Draft, soft: Supported) -> None:
    for reference_id, own in _told_once(soft):
        reference = draft.references[reference_id]
        cited = [basis for need, pieces in own for basis in draft.grounds(need, pieces)]
        draft.say(
            "inferred", "inferred", *cited, drop="inferred",
            title=draft.title(reference), witness=draft.witness(reference), needs=[_name(need) for need, _ in own],
        )  # fmt: skip
    told = {need.slug for need, _ in soft}
    bare = [
        (number, part)
        for number, part in enumerate(draft.own.parts, start=1)
        if part.standing == "inferred" and part.need not in told and not _has_support(draft, part)
    ]
    _by_the_person(draft, "inferred", "inferred by the person", bare)


def _has_support(draft: _Draft, part: Part) -> bool:
    need = draft.scene.need(part.need) if part.need else None
    return need is not None and bool(supporting(need, draft.references))


def _by_the_person(draft: _Draft, section: str, template: str, parts: Sequence[tuple[int, Part]]) -> None:
    """Parts by a word of the person: those with a reason in a sentence each, the others in one."""
    silent = []
    for number, part in parts:
        name = _part_name(draft, number, part)
        why = repeated(f"part:{number}.why", part.why)
        if why:
            draft.say(section, f"{template}, why", Basis(f"part:{number}.standing"), name=name, why=why)
        else:
            silent.append(name)
    if silent:
        draft.say(
            section, template, *(Basis(f"{one.field.rpartition('.')[0]}.standing") for one in silent), names=silent
        )


def _part_name(draft: _Draft, number: int, part: Part) -> Basis:
    need = draft.scene.need(part.need) if part.need else None
    found = repeated(f"part:{number}.name", part.name)
    if found:
        return replace(found, need=part.need)
    return _name(need) if need else Basis(f"part:{number}.number", str(number))


def _invented(draft: _Draft) -> None:
    parts = list(enumerate(draft.own.parts, start=1))
    for need in draft.scene.needs:
        for answer in need.answers:
            if answer.says != KEPT:
                continue
            name = f"need:{need.slug}.answers"
            thing = Basis(name, tidy(answer.thing, name), need=need.slug)
            note = repeated(f"{name}.note", answer.note)
            if note:
                draft.say("invented", "kept, why", need=_name(need), thing=thing, note=note)
            else:
                draft.say("invented", "kept", need=_name(need), thing=thing)
    for word in ("invented", "unknown"):
        _by_the_person(draft, "invented", word, [(n, part) for n, part in parts if part.standing == word])
    if not parts:
        draft.debts.append(
            Debt("particulars.parts", "No part of the picture is marked, so nothing is called invented or unknown.")
        )


def _chosen(draft: _Draft) -> Any:
    site = draft.scene.site
    return next((one for one in site.candidates if one.chosen), None) if site else None


def _ground_of_place(draft: _Draft, one: Evidence) -> Basis:
    return Basis(
        "place.evidence", "", draft.numbers.number(one.reference, one.detail, one.passage), one.reference, one.detail,
        one.passage, relation=one.relation, witness=draft.references[one.reference].witness.value,
    )  # fmt: skip


def _site(draft: _Draft) -> None:
    place = _chosen(draft)
    if place is None:
        draft.debts.append(Debt("scene.site", "No candidate for the place is chosen."))
    else:
        cited = [_ground_of_place(draft, one) for one in place.evidence if one.reference in draft.references]
        name = Basis("place.name", tidy(place.name, "place.name"))
        draft.say("site", "place", *cited, name=name, radius=Basis("place.radius_m", f"{place.radius_m:g}"))
        reason = repeated("place.reason", place.reason)
        if reason:
            draft.say("site", "place, why", drop="why this place", reason=reason)
        changed = [one for word in place.changed if (one := repeated("place.changed", word))]
        if changed:
            draft.say("site", "changed", drop="changes since", changed=changed)
    at = place_parts("particulars.taken_at", draft.own.taken_at)
    if at:
        draft.say("site", "taken", at=at)
    else:
        draft.debts.append(Debt("particulars.taken_at", "No place of the shoot is recorded."))


def _thanks(draft: _Draft) -> None:
    names = [one for name in draft.own.thanks if (one := repeated("particulars.thanks", name))]
    if names:
        draft.say("thanks", "thanks", names=names)
    else:
        draft.debts.append(Debt("particulars.thanks", "Nobody is thanked."))
    helped = [
        Basis("particulars.contributors", tidy(f"{name} ({role})" if role else name, "particulars.contributors"))
        for name, role in draft.own.contributors
        if name.strip()
    ]
    if helped:
        draft.say("thanks", "contributors", drop="contributors", names=helped)


def as_plain(note: Note) -> dict[str, Any]:
    """The note as JSON: its text, its claims with their sections, what may go, what is owed."""
    return {
        "text": note.text,
        "words": note.words,
        "claims": [asdict(claim) for claim in note.claims],
        "offered": list(note.offered),
        "debts": [asdict(one) for one in note.debts],
        "notices": list(note.notices),
        "headings": dict(SECTIONS),
    }
