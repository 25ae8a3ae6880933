"""The caption of a finished picture, drafted from the record: short, long, and as the label beside a print.

Every clause is a template of ours around words of the record, repeated as they stand there, and carries what it rests
on: which field, and which reference under which number. What the record lacks is not written around but listed as a
debt. Alternative text is the person's own; here are hints only.

Sources. The label keeps the order of an art-historical caption: maker, title, date, medium, dimensions (height before
width), owner (Princeton Visual Resources, “How Princeton Art and Archaeology majors should caption illustrations”).
Lengths of an alternative text: see `ALT_AIM`. What a caption says first is common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Protocol

from refarchive.errors import BadDate, RecordRefused
from refarchive.records.dates import read_date, shown
from refarchive.records.model import Reference, Scene
from refarchive.records.wall import Edition, Particulars, Place

LONGEST_FIELD = 4_000  # characters
# “Target is 125 characters, not to exceed 250”: the property's authors on IPTC's Alt Text (Accessibility), CSUN
# Assistive Technology Conference, 15 March 2022. WCAG 2 sets no limit (discussion 2126 of its repository).
ALT_AIM, ALT_MOST = 125, 250
LARGE = 0.05  # share of the picture from which a marked part is missed in the alternative text; ours, no source

TEMPLATES: Mapping[str, str] = {
    "title": "{title}.",
    "title and series": "{title}, from the series {series}.",
    "event": "{event}.",
    "event, date": "{date}: {event}.",
    "event, place": "{place}: {event}.",
    "event, place, date": "{place}, {date}: {event}.",
    "place": "{place}.",
    "date": "{date}.",
    "place, date": "{place}, {date}.",
    "figure": "{name}: {action}.",
    "shot at, on": "Photographed at {at} on {on}.",
    "shot at, in": "Photographed at {at} in {on}.",
    "shot at": "Photographed at {at}.",
    "shot on": "Photographed on {on}.",
    "shot in": "Photographed in {on}.",
    "maker": "Photograph by {maker}.",
    "label": "{maker}, {title}, {on}.",
    "label, undated": "{maker}, {title}.",
    "label, no maker": "{title}, {on}.",
    "print": "{paper}, {height} × {width} mm.",
    "print, no paper": "{height} × {width} mm.",
    "edition": "Edition of {count}.",
    "edition and proofs": "Edition of {count}, and {proofs} artist's proofs.",
    "credit": "{credit}.",
}


class Numbers(Protocol):
    """Whatever knows under which number a scene cites a reference, a detail or a passage of it."""

    def number(self, reference_id: str, detail_id: str | None = None, passage_id: str | None = None) -> str: ...


@dataclass(frozen=True)
class Basis:
    """One thing that a clause rests on: a field, with the words that it repeats, or evidence, with its number.

    `field` reads "scene.event", "need:cart.name", "part:2.why", "reference:ref-1.title" or "need:cart.evidence".
    """

    field: str
    words: str = ""  # as they stand in the clause; "" where it is cited and not repeated
    number: str = ""  # as the scene's pages cite it: "Pl. 3 b"
    reference: str = ""
    detail: str | None = None
    passage: str | None = None
    need: str = ""
    relation: str = ""
    witness: str = ""


@dataclass(frozen=True)
class Clause:
    """A sentence, and what it rests on."""

    text: str
    rests_on: tuple[Basis, ...]


@dataclass(frozen=True)
class Debt:
    """What the record lacks: the field, and a sentence."""

    field: str
    words: str


@dataclass(frozen=True)
class Caption:
    """A drafted caption in its three forms, what is owed to it, and what looks wrong."""

    short: tuple[Clause, ...]
    long: tuple[Clause, ...]
    label: tuple[Clause, ...]
    debts: tuple[Debt, ...] = ()
    notices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Hint:
    """One thing to think of in an alternative text, and where the advice is from."""

    words: str
    source: str = "common practice"


# --- words of the record ----------------------------------------------------------------------------------------------


def tidy(value: str, name: str) -> str:
    """A text of the record as one line: white space made single, controls and marks of direction left out.

    Raises
    ------
    RecordRefused
        for a text of more than `LONGEST_FIELD` characters, which is no field of a caption.
    """
    if len(value) > LONGEST_FIELD:
        raise RecordRefused(
            f"{name} holds {len(value):,} characters, more than the {LONGEST_FIELD:,} that a draft takes.",
            "Shorten it; what is long belongs into a text that is gathered.",
        )
    kept = (" " if c.isspace() else c for c in value if c.isspace() or unicodedata.category(c) not in ("Cc", "Cs"))
    return " ".join("".join(c for c in kept if not ("\u202a" <= c <= "\u202e" or "\u2066" <= c <= "\u2069")).split())


def repeated(name: str, value: str) -> Basis | None:
    """A field whose words a clause repeats; None where it is empty."""
    words = tidy(value, name)
    return Basis(name, words) if words else None


def say(templates: Mapping[str, str], name: str, /, *cited: Basis, **fields: Basis | Sequence[Basis]) -> Clause:
    """A clause from a template: words of fields in their places (several parted by commas, or semicolons where they
    hold commas), then what is cited without being repeated.
    """
    told = {key: _joined(value) for key, value in fields.items()}
    grounds = [one for value in fields.values() for one in ([value] if isinstance(value, Basis) else value)]
    return Clause(_ended(templates[name].format(**told)), tuple(dict.fromkeys((*grounds, *cited))))


def _joined(value: Basis | Sequence[Basis]) -> str:
    if isinstance(value, Basis):
        return value.words
    words = list(dict.fromkeys(one.words for one in value))
    return ("; " if len(words) > 2 or any("," in one for one in words) else ", ").join(words)


def _ended(text: str) -> str:
    """One mark at the end of a sentence, also behind a closing quotation mark."""
    whole = text[:-1] if re.search(r"[.!?…][”’\")]*\.$", text) else text
    return whole if re.search(r"[.!?…][”’\")]*$", whole) else f"{whole}."


def written(clauses: Iterable[Clause]) -> str:
    """Clauses as running text."""
    return " ".join(clause.text for clause in clauses)


def first(*found: Basis | None) -> Basis | None:
    """The first that is there."""
    return next((one for one in found if one is not None), None)


# --- the caption ------------------------------------------------------------------------------------------------------


@dataclass
class _Draft:
    """What is being collected for one caption."""

    scene: Scene
    particulars: Particulars
    key: Basis | None
    debts: list[Debt] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def want(self, found: Basis | None, name: str, words: str) -> Basis | None:
        if found is None:
            self.debts.append(Debt(name, words))
        return found


def draft_caption(
    scene: Scene,
    particulars: Particulars,
    references: Mapping[str, Reference] | None = None,
    numbers: Numbers | None = None,
    *,
    edition: Edition | None = None,
) -> Caption:
    """Draft the caption of a scene's finished picture; what the person entered with the picture goes before the plan.

    `edition` is the print that the label is for; without it, the only one there is.

    Raises
    ------
    RecordRefused
        for a field too long to be one.
    """
    own = particulars
    own = particulars
    draft = _Draft(scene, own, key_basis(scene, references or {}, numbers))
    title = draft.want(
        first(repeated("particulars.title", own.title), repeated("scene.title", scene.title)),
        "particulars.title", "No title is recorded.",
    )  # fmt: skip
    series = draft.want(repeated("scene.series", scene.series), "scene.series", "No series is recorded.")
    event = event_clause(scene, own, draft.key)
    short_event = event_clause(scene, own, draft.key, place=False)
    _event_debts(draft)
    figures = _figures(draft)
    shoot, on = _shoot(draft)
    maker = draft.want(
        repeated("particulars.creator", own.creator), "particulars.creator", "No photographer is recorded."
    )
    made_by = [say(TEMPLATES, "maker", maker=maker)] if maker else []
    long, short = [], []
    if title:
        short.append(say(TEMPLATES, "title", title=title))
        long.append(say(TEMPLATES, "title and series", title=title, series=series) if series else short[0])
    label = _label(draft, title, on, maker, edition)
    return Caption(
        (*short, *([short_event] if short_event else []), *made_by),
        (*long, *([event] if event else []), *figures, *shoot, *made_by),
        tuple(label),
        tuple(draft.debts),
        tuple(draft.notices),
    )


def key_basis(scene: Scene, references: Mapping[str, Reference], numbers: Numbers | None) -> Basis | None:
    """The scene's key reference as a thing that is cited, None where there is none."""
    found = references.get(scene.key_reference)
    if found is None:
        return None
    number = numbers.number(found.id) if numbers else ""
    return Basis("scene.key_reference", "", number, found.id, witness=found.witness.value)


def event_clause(scene: Scene, own: Particulars, key: Basis | None, *, place: bool = True) -> Clause | None:
    """Where, when and what, as far as the record goes; None where it says none of it. With `place` false not where."""
    parts: dict[str, Basis] = {}
    where = first(repeated("scene.place", scene.place), *place_parts("particulars.shown", own.shown)) if place else None
    if where:
        parts["place"] = where
    if scene.when:
        parts["date"] = Basis("scene.when", tidy(shown(scene.when), "scene.when"))
    event = first(repeated("particulars.event", own.event), repeated("scene.event", scene.event))
    if event:
        parts["event"] = event
    names = [name for name in ("event", "place", "date") if name in parts]
    return say(TEMPLATES, ", ".join(names), *([key] if key else []), **parts) if names else None


def _event_debts(draft: _Draft) -> None:
    scene, own = draft.scene, draft.particulars
    if not (own.event.strip() or scene.event.strip()):
        draft.debts.append(Debt("scene.event", "No event is recorded."))
    if scene.when is None:
        draft.debts.append(Debt("scene.when", "No date of the event is recorded."))
    if not scene.place.strip() and not place_parts("particulars.shown", own.shown):
        draft.debts.append(Debt("scene.place", "No place of the event is recorded."))


def _figures(draft: _Draft) -> list[Clause]:
    told = []
    for figure in draft.scene.figures:
        where = f"figure:{figure.slug}"
        name = repeated(f"{where}.name", figure.name)
        action = draft.want(
            repeated(f"{where}.action", figure.action), f"{where}.action",
            f"What {tidy(figure.name, where) or figure.slug} does is not recorded.",
        )  # fmt: skip
        if name and action:
            told.append(say(TEMPLATES, "figure", name=name, action=action))
    if not draft.scene.figures:
        draft.debts.append(Debt("scene.figures", "No figure is recorded."))
    return told


def _shoot(draft: _Draft) -> tuple[list[Clause], Basis | None]:
    """When and where it was photographed, and the day alone; the day of the event is never taken for it."""
    own = draft.particulars
    at = place_parts("particulars.taken_at", own.taken_at)
    if not at:
        draft.debts.append(Debt("particulars.taken_at", "No place of the shoot is recorded."))
    on = draft.want(repeated("particulars.created", own.created), "particulars.created", "No shoot day is recorded.")
    word = "on"
    if on:
        try:
            when = read_date(on.words)
        except BadDate as error:
            draft.notices.append(f"The day of the shoot stands as it was written. {error.problem}")
        else:
            on = replace(on, words=tidy(shown(when), "particulars.created"))
            word = "on" if when.earliest is not None and when.earliest == when.latest else "in"
            event = draft.scene.when
            if event and event.latest is not None and when.earliest is not None and when.earliest <= event.latest:
                draft.notices.append(
                    f"The day of the shoot, {on.words}, is not after the event of {shown(event)}: look at both."
                )
    if at and on:
        return [say(TEMPLATES, f"shot at, {word}", at=at, on=on)], on
    if at:
        return [say(TEMPLATES, "shot at", at=at)], on
    return ([say(TEMPLATES, f"shot {word}", on=on)] if on else []), on


def place_parts(name: str, place: Place) -> list[Basis]:
    """What is recorded of a place, from the exact one to the country, as bases under `name`."""
    parts = ("sublocation", "city", "province", "country")
    found = (repeated(f"{name}.{part}", getattr(place, part)) for part in parts)
    return [one for one in found if one]


def _label(
    draft: _Draft, title: Basis | None, on: Basis | None, maker: Basis | None, edition: Edition | None
) -> list[Clause]:
    told = []
    own = draft.particulars
    if title and maker and on:
        told.append(say(TEMPLATES, "label", maker=maker, title=title, on=on))
    elif title and maker:
        told.append(say(TEMPLATES, "label, undated", maker=maker, title=title))
    elif title:
        told.append(
            say(TEMPLATES, "label, no maker", title=title, on=on) if on else say(TEMPLATES, "title", title=title)
        )
    one = edition or (own.editions[0] if len(own.editions) == 1 else None)
    if one is None:
        words = (
            f"{len(own.editions)} print sizes are recorded; name the one." if own.editions else "No print is recorded."
        )
        draft.debts.append(Debt("particulars.editions", words))
    else:
        name = f"edition:{tidy(one.name, 'edition')}"
        sizes = {side: Basis(f"{name}.{side}_mm", f"{getattr(one, f'{side}_mm'):g}") for side in ("height", "width")}
        paper = repeated(f"{name}.paper", f"{one.paper[:1].upper()}{one.paper[1:]}")  # it begins a sentence
        told.append(
            say(TEMPLATES, "print", paper=paper, **sizes) if paper else say(TEMPLATES, "print, no paper", **sizes)
        )
        count = Basis(f"{name}.count", str(one.count))
        if one.count and one.proofs:
            proofs = Basis(f"{name}.proofs", str(one.proofs))
            told.append(say(TEMPLATES, "edition and proofs", count=count, proofs=proofs))
        elif one.count:
            told.append(say(TEMPLATES, "edition", count=count))
    credit = draft.want(
        repeated("particulars.credit_line", own.credit_line), "particulars.credit_line", "No credit line is recorded."
    )
    return [*told, *([say(TEMPLATES, "credit", credit=credit)] if credit else [])]


def as_plain(caption: Caption) -> dict[str, Any]:
    """The caption as JSON: each form as text and as clauses, debts and notices."""
    forms = {"short": caption.short, "long": caption.long, "label": caption.label}
    return {
        **{name: {"text": written(own), "clauses": [asdict(one) for one in own]} for name, own in forms.items()},
        "debts": [asdict(one) for one in caption.debts],
        "notices": list(caption.notices),
    }


# --- alternative text -------------------------------------------------------------------------------------------------

_IPTC = "IPTC's authors, CSUN Assistive Technology Conference 2022; WCAG 2 sets no limit"
_OPENING = re.compile(
    r"(?:an?\s+|the\s+|this\s+(?:is\s+)?(?:an?\s+)?)?(?:picture|image|photo(?:graph)?|graphic)\b", re.I
)
_FILE = re.compile(r"\S+\.(?:jpe?g|tiff?|png|dng|heic|webp)\b", re.I)
_SMALL_WORDS = frozenset(
    "the and his her its for not but one two from with that this their there where which under over into upon".split()
)


def alt_text_hints(text: str, scene: Scene, particulars: Particulars) -> tuple[Hint, ...]:
    """What to think of in an alternative text that the person wrote; nothing here is a verdict.

    Whether it names what can be seen is looked up by words of the figures, of the needs and of the parts that the
    person marked, so a synonym is missed.
    """
    told = tidy(text, "particulars.alt_text")
    if not told:
        return (
            Hint("There is no alternative text yet: write what can be seen, for those who cannot see it.", "WCAG 2"),
        )
    hints = []
    if len(told) > ALT_MOST:
        hints.append(Hint(f"It has {len(told)} characters; {ALT_AIM} are aimed at, {ALT_MOST} are the most.", _IPTC))
    elif len(told) > ALT_AIM:
        hints.append(Hint(f"It has {len(told)} characters, within {ALT_MOST}; {ALT_AIM} are aimed at.", _IPTC))
    if _OPENING.match(told):
        hints.append(Hint("It need not say that it is a picture: whoever reads it out says so already."))
    if _FILE.search(told):
        hints.append(Hint("It holds the name of a file, which nobody sees in the picture."))
    same = {particulars.caption: "caption", particulars.title: "title", scene.title: "title", scene.event: "event"}
    for other, what in same.items():
        if other.strip() and tidy(other, what).casefold().rstrip(".") == told.casefold().rstrip("."):
            hints.append(Hint(f"It is the {what} again, which stands beside the picture: say what is seen."))
            break
    return (*hints, *_unnamed(told, scene, particulars))


def _unnamed(told: str, scene: Scene, particulars: Particulars) -> list[Hint]:
    words = _stems(told)
    needs = {need.slug: need.name for need in scene.needs}
    large = [
        part.name or needs.get(part.need, "") for part in particulars.parts if part.region[2] * part.region[3] >= LARGE
    ]
    large = [name for name in dict.fromkeys(large) if name]
    known = [*(f"{figure.name} {figure.role}" for figure in scene.figures), *needs.values(), *large]
    if known and not any(words & _stems(one) for one in known):
        return [Hint("It names none of the figures, needs or marked parts of the scene, by their words.")]
    unsaid = [tidy(name, "part") for name in large if _stems(name) and not words & _stems(name)]
    return [Hint(f"Large in the picture, and not named by these words: {'; '.join(unsaid[:6])}.")] if unsaid else []


def _stems(text: str) -> frozenset[str]:
    """Words of three letters and more, without a plural's s: enough to find a name again, and no more than that."""
    words = re.findall(r"[^\W\d_]{3,}", text.casefold())
    return frozenset(word.removesuffix("s") for word in words if word not in _SMALL_WORDS)
