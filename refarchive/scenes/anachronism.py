"""Questions about what may not have been there yet, and evidence that is later than the event.

A first date refutes, it never confirms; and a name found in a plan is not yet the thing. So what comes out is a
question with its row and its source, for a person to answer. Finding nothing clears nothing: see `SILENCE`.

A question arises where the scene, or a part of its days, lies before a thing was invented, on sale, or in wider use;
where it follows an invention within `NEW_YEARS` years and nobody knows when it came to be sold or common; and where the
scene has no date to compare.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from refarchive.errors import CannotMeasure
from refarchive.records.dates import shown
from refarchive.records.firsts import First
from refarchive.records.model import Answer, Need, Reference, Scene, When
from refarchive.scenes.naming import found, key, phrases

SILENCE = (
    "Where no question is asked, nothing is cleared: the table of first dates is short, a thing can go by a name it "
    "does not know, and a first date says when a thing began, not that anybody here had one."
)
NO_DATE = "The scene has no date, so nothing can be said to be later than its event."
NO_END = "The scene's date has no end, so nothing can be said to be later than its event."

BY_NAME = "by name"
NEW_YEARS = 10  # ours, no source
NEAR = 0.55  # inner product of sentence vectors from which a phrase is asked about; chosen on half of a labelled set
MOST_BY_MEANING = 1  # of one need: the nearest thing only, which halves the needless questions
FEWEST_WORDS = 3  # of a phrase: vectors of one or two words are near anything of their kind
MOST_PHRASES = 60  # of one need
LONGEST_PHRASE = 400  # characters
# Stuffs in use for many centuries (ours, no source): a phrase that is nearest to one of these is not asked about.
OLD_STUFFS = (
    "cotton cloth", "linen cloth", "woollen cloth", "silk cloth", "knitted wool", "leather", "madder dye", "indigo dye",
    "hemp rope", "wicker",
)  # fmt: skip

# Fields of a need that tell of the work or of a class of things, not of what the picture shows, or what must not show.
UNSEEN = frozenset(
    {"Modern tells", "Hide or remove", "To restore", "Handled by", "Legal limits", "Water resistance", "Patch test"}
    | {"Chair time", "Reset time", "Fluid data sheet", "Drift", "Notice given", "Layer"}
)

_DAYS_PER_YEAR = 365.2425

EncodeSentences = Callable[[Sequence[str]], Any]  # n texts to n unit vectors, an array of shape (n, d)


class Standing(StrEnum):
    """How a scene lies to a row: why there is a question."""

    BEFORE = "before it was there"
    PERHAPS_BEFORE = "perhaps before it was there"
    BEFORE_SALE = "before it was on sale"
    BEFORE_COMMON = "before it was common"
    NEW = "when it was new"
    NO_DATE = "the scene has no date"


@dataclass(frozen=True)
class Question:
    """One question to a person. `words` is all of it, with the source; `how` says how the thing was found."""

    need: str  # slug
    thing: str
    row: First
    how: str  # "by name", or "by meaning, similarity 0.61"
    words: str
    standing: Standing
    where: str  # "name", "description", or the label of a field
    quoted: str  # the words of the plan it is about
    answer: Answer | None = None  # what the person said to it


@dataclass(frozen=True)
class Later:
    """Evidence that was made wholly after the event."""

    need: str  # slug
    reference: str
    relation: str
    days: int  # from the last day of the event to the first day it can be of
    dated: str  # its date and how long after the event, without a full stop
    words: str


@dataclass(frozen=True)
class Asked:
    """All that is asked of a scene, what of it the person has answered, and what is to be said of the asking."""

    questions: tuple[Question, ...] = ()
    answered: tuple[Question, ...] = ()
    later: tuple[Later, ...] = ()
    notices: tuple[str, ...] = ()
    silence: str = SILENCE


# -- questions --------


def questions(
    scene: Scene, rows: Sequence[First], encode_sentences: EncodeSentences | None = None, *, near: float = NEAR
) -> list[Question]:
    """What to ask of a scene's needs, in the order of the plan, names before meanings, with answers that were given.

    Without `encode_sentences` needs are matched by name only.

    Raises
    ------
    CannotMeasure
        where `encode_sentences` does not give one finite vector for each text.
    """
    asked = [(row, standing) for row in rows if (standing := stands(row, scene.when)) is not None]
    if not asked:
        return []
    by_key: dict[str, list[int]] = {}
    for index, (row, _) in enumerate(asked):
        for name in dict.fromkeys(key(name) for name in (row.thing, *row.also)):
            by_key.setdefault(name, []).append(index)
    named = {need.slug: _by_name(need, by_key) for need in scene.needs}
    meant = _by_meaning(scene.needs, rows, encode_sentences, near) if encode_sentences else {}
    place_of = {id(row): index for index, (row, _) in enumerate(asked)}
    out: list[Question] = []
    for need in scene.needs:
        for index, (where, quoted) in named[need.slug].items():
            row, standing = asked[index]
            words = sentence(row, standing, scene.when)
            said = need.answered(row.thing)
            out.append(Question(need.slug, row.thing, row, BY_NAME, words, standing, where, quoted, said))
        hits = [(place_of.get(id(rows[hit[1]])), hit) for hit in meant.get(need.slug, ())]
        unnamed = [(place, hit) for place, hit in hits if place is not None and place not in named[need.slug]]
        for place, (similarity, _, where, quoted) in unnamed[:MOST_BY_MEANING]:
            row, standing = asked[place]
            dated = sentence(row, standing, scene.when, named=False)
            words = f"Your words “{quoted}” come near this thing; is it meant? {dated}"
            how = f"by meaning, similarity {similarity:.2f}"
            said = need.answered(row.thing)
            out.append(Question(need.slug, row.thing, row, how, words, standing, where, quoted, said))
    return out


def stands(row: First, scene: When | None) -> Standing | None:
    """Why the row is a question to a scene of that date; None where it is none."""
    if scene is None or (scene.earliest is None and scene.latest is None):
        return Standing.NO_DATE
    first = row.invented or row.on_sale or row.common
    if first is None or first.earliest is None:
        return None
    if scene.latest is not None and scene.latest < first.earliest:
        return Standing.BEFORE
    begins = scene.earliest
    if begins is None or begins < first.earliest or (first.latest is not None and begins < _last_start(first)):
        return Standing.PERHAPS_BEFORE
    for when, standing in ((row.on_sale, Standing.BEFORE_SALE), (row.common, Standing.BEFORE_COMMON)):
        if when is not None and when.earliest is not None and begins < when.earliest:
            return standing
    if row.on_sale is None and row.common is None:
        since = first.latest if first.latest is not None else first.earliest
        if begins - since <= NEW_YEARS * _DAYS_PER_YEAR:
            return Standing.NEW
    return None


def _last_start(first: When) -> int:
    """The last day on which the thing can have begun, a year or a shorter date being taken at its beginning."""
    assert first.earliest is not None
    if first.latest is None or first.latest - first.earliest <= 366:
        return first.earliest
    return first.latest


def _pieces(need: Need) -> list[tuple[str, str]]:
    """What a need says of the thing itself: where it says it, and the words."""
    facts = [(label, value) for label, value in need.facts if label not in UNSEEN]
    return [("name", need.name), ("description", need.description), *facts]


def _named_pieces(need: Need) -> list[tuple[str, str]]:
    """The same and what may stand in its place, which are looked through for names."""
    return [*_pieces(need), *(("substitute", substitute) for substitute in need.substitutes)]


def _by_name(need: Need, by_key: Mapping[str, Sequence[int]]) -> dict[int, tuple[str, str]]:
    """Rows whose name stands in the need: from their index to where it stands and as what."""
    hits: dict[int, tuple[str, str]] = {}
    for where, text in _named_pieces(need):
        for name, quoted in sorted(found(text, by_key).items(), key=lambda hit: -len(hit[1])):  # the longest first
            for index in by_key[name]:
                hits.setdefault(index, (where, quoted))
    return hits


OLD = -1  # in place of the index of a row: the nearest is one of OLD_STUFFS
Hit = tuple[float, int, str, str]  # similarity, index of the row, where, the phrase


def _by_meaning(
    needs: Sequence[Need], rows: Sequence[First], encode_sentences: EncodeSentences, near: float
) -> dict[str, list[Hit]]:
    """For each need the rows that are the nearest of all to one of its phrases, and at least `near` it; nearest first.

    All rows take part, and `OLD_STUFFS`, so that what was there long since and is nearer keeps a later thing from being
    asked about.
    """
    names = [(name, index) for index, row in enumerate(rows) for name in (row.thing, *row.also)]
    names += [(name, OLD) for name in OLD_STUFFS]
    said = [(need.slug, where, phrase) for need in needs for where, phrase in _phrases_of(need)]
    if not said:
        return {}
    likeness = _vectors([phrase for _, _, phrase in said], encode_sentences) @ (
        _vectors([name for name, _ in names], encode_sentences).T
    )
    best: dict[str, dict[int, Hit]] = {}
    for (slug, where, phrase), line in zip(said, likeness.tolist(), strict=True):
        similarity, index = max(zip(line, (index for _, index in names), strict=True), key=lambda pair: pair[0])
        hits = best.setdefault(slug, {})
        if index != OLD and similarity >= near and (index not in hits or similarity > hits[index][0]):
            hits[index] = (similarity, index, where, phrase)
    return {slug: sorted(hits.values(), key=lambda hit: (-hit[0], hit[1])) for slug, hits in best.items()}


def _phrases_of(need: Need) -> list[tuple[str, str]]:
    spoken = [(where, phrase[:LONGEST_PHRASE]) for where, text in _pieces(need) for phrase in phrases(text)]
    return [(where, phrase) for where, phrase in spoken if len(phrase.split()) >= FEWEST_WORDS][:MOST_PHRASES]


def _vectors(texts: Sequence[str], encode_sentences: EncodeSentences) -> Any:
    import numpy as np

    vectors = np.asarray(encode_sentences(texts), np.float32)
    if vectors.ndim != 2 or len(vectors) != len(texts) or not np.isfinite(vectors).all():
        raise CannotMeasure(
            "The sentence encoder did not give one vector for each phrase, so nothing is matched by meaning.",
            "Match by name only, or mend the encoder.",
        )
    return vectors


# -- sentences --------


def sentence(row: First, standing: Standing, scene: When | None, *, named: bool = True) -> str:
    """The question: the thing, its dates, the scene's date, the region and the source.

    With `named` false the question whether the thing is meant has been put already, before these words.
    """
    dates = [(row.invented, "not before"), (row.on_sale, "on sale"), (row.common, "common")]
    given = [(word, shown(when)) for when, word in dates if when is not None]
    first_word, first_date = given[0]
    lead = "not before" if first_word == "not before" else f"not {first_word} before"
    rest = "; ".join(f"{word} {date}" for word, date in given[1:])
    thing = row.thing[:1].upper() + row.thing[1:]
    when = shown(scene) if scene is not None else ""
    told = {
        Standing.BEFORE: f"the scene is of {when}.{' Is another thing meant?' if named else ''}",
        Standing.PERHAPS_BEFORE: f"the scene, {when}, may lie before that or after. Was it there yet?",
        Standing.BEFORE_SALE: f"the scene, {when}, begins before it was on sale. Could it be had?",
        Standing.BEFORE_COMMON: f"the scene, {when}, begins before it was common. Would this person have had one?",
        Standing.NEW: f"the scene, {when}, follows closely; when it was sold or common is not known. Was it there?",
        Standing.NO_DATE: "the scene has no date. Which came first?",
    }[standing]
    region = f" Region: {row.region.replace('; ', ', ')}." if row.region else ""
    source = f"{'Source (weak)' if row.weak else 'Source'}: {row.source.rstrip('.')}."
    return f"{thing}: {lead} {first_date}{f' ({rest})' if rest else ''}; {told}{region} {source}"


# -- evidence after the event --------


def later_than_event(scene: Scene, references: Mapping[str, Reference]) -> list[Later]:
    """Evidence of a scene that was made wholly after it, in the order of the plan; each reference once for a need.

    What is only perhaps later is not listed, nor what has no date; an undated scene has none (see `NO_DATE`).
    References not in `references` are passed over.
    """
    if scene.when is None or scene.when.latest is None:
        return []
    out: list[Later] = []
    for need in scene.needs:
        first: dict[str, str] = {}
        for one in need.evidence:
            first.setdefault(one.reference, one.relation)
        for reference_id, relation in first.items():
            reference = references.get(reference_id)
            made = reference.when if reference else None
            if reference is None or made is None or made.earliest is None or made.earliest <= scene.when.latest:
                continue
            days = made.earliest - scene.when.latest
            told = f"is dated {shown(made)}, {_length(days)} after the event of {shown(scene.when)}"
            title = reference.title or reference.source_name
            words = f"{title} {told}; it is cited as what {relation} “{need.name}”."
            out.append(Later(need.slug, reference_id, relation, days, told, words))
    return out


def _length(days: int) -> str:
    """A number of days in words: whole years from two years on, months from two months on (rounded down)."""
    if days >= 2 * _DAYS_PER_YEAR:
        return f"{int(days / _DAYS_PER_YEAR)} years"
    if days >= 2 * _DAYS_PER_YEAR / 12:
        return f"{int(days * 12 / _DAYS_PER_YEAR)} months"
    return f"{days} day{'' if days == 1 else 's'}"
