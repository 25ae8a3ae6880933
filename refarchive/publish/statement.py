"""What in a picture is supported, inferred, invented or unknown, by region: the person's words beside the record's.

The person marks parts of the picture and says a word for each. Beside it stands what the record proposes for the need
that the part shows, with why; where the two disagree, that is told, and neither is changed.

Rules of the proposal (ours; the distinction is common practice, no source for where the lines are drawn):

- *Of the time* is a piece of evidence that shows or describes the need; is a surviving object, a photograph from life,
  a hand-made image from life or a contemporary text; can, by its date, have been made within a year of the event's days
  (`OF_THE_TIME_DAYS`); shows no other time; and of which nobody has said that its place, rank, occupation or occasion
  is only near or far.
- *supported*: at least one independent witness of the time (a family of references is one witness).
- *inferred*: what there is, is otherwise: later, earlier, undated, second-hand, prescriptive, not yet judged, or of
  another place, rank, occupation or occasion. Without a date of the scene nothing is of the time.
- *invented*: the person said to a question of first dates that the thing is kept on purpose. Never from silence.
- *unknown*: nothing shows or describes it.

Evidence that contradicts, and open questions, never change the word: they stand beside it as disputed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise
from typing import Any

from refarchive.errors import RecordRefused
from refarchive.publish.caption import Basis, Numbers, tidy
from refarchive.records.model import Evidence, Need, Reference, Region, Scene, When, Witness
from refarchive.records.wall import STANDINGS, Part
from refarchive.scenes.anachronism import BY_NAME, Asked
from refarchive.scenes.coverage import SUPPORTING, NeedCoverage

OF_THE_TIME_DAYS = 366  # ours, no source: what was made within a year of the event
OF_THE_TIME = (Witness.OBJECT, Witness.PHOTOGRAPH, Witness.HANDMADE, Witness.TEXT)
MOST_PARTS = 99
KEPT = "kept on purpose"
_DAYS_PER_YEAR = 365.2425


@dataclass(frozen=True)
class Proposal:
    """What the record proposes for a need: a word of `STANDINGS`, why (whole, and in a few words), on what it rests,
    and what disputes it.
    """

    need: str  # slug
    name: str
    word: str
    why: str
    brief: str
    rests_on: tuple[Basis, ...] = ()
    disputed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Marked:
    """One part as the person marked it, numbered in the order given, beside what the record proposes.

    `proposal` is None where the part belongs to no need of the scene; `disagreement` is "" where the words agree.
    """

    number: int
    name: str
    region: Region
    word: str
    why: str  # the person's
    need: str
    proposal: Proposal | None
    disagreement: str


@dataclass(frozen=True)
class Overlap:
    """Two parts that lie over each other with different words, and the share of the picture that they both cover."""

    one: int
    other: int
    share: float


@dataclass(frozen=True)
class Statement:
    """The whole. Shares are parts of the picture's area, 0 to 1, each the union of rectangles.

    `shares` by word, which can add up to more than `marked_share` where parts with different words overlap;
    `contested_share` lies under more than one word.
    """

    parts: tuple[Marked, ...]
    unmarked: tuple[Proposal, ...]  # needs that no part shows
    shares: tuple[tuple[str, float], ...]
    marked_share: float
    contested_share: float
    overlaps: tuple[Overlap, ...]
    notices: tuple[str, ...]


# --- what the record proposes -----------------------------------------------------------------------------------------


def proposed_standing(
    need: Need,
    coverage: NeedCoverage,
    scene: Scene,
    references: Mapping[str, Reference],
    numbers: Numbers,
    asked: Asked | None = None,
) -> Proposal:
    """What the record proposes for a need, by the rules above; `coverage` is the need's own row."""
    pieces = supporting(need, references)
    direct = [one for one in pieces if not reserve(one, references[one.reference], scene)]
    kept = [answer for answer in need.answers if answer.says == KEPT]
    if kept:
        things = ", ".join(tidy(answer.thing, f"need:{need.slug}.answers") for answer in kept)
        word, why = "invented", f"Said to be kept on purpose: {things}."
        brief = why
    elif direct:
        groups = [w for w in coverage.witnesses if any(one.reference in w.references for one in direct)]
        many = f"{len(groups)} independent witnesses" if len(groups) != 1 else "One independent witness"
        told = "; ".join(_piece(one, references, numbers) for one in _one_each(direct))
        word, why, brief = "supported", f"{many} of the time: {told}.", f"{many} of the time."
    elif pieces:
        doubts = [reserve(one, references[one.reference], scene) for one in _one_each(pieces)]
        told = "; ".join(
            _piece(one, references, numbers, doubt) for one, doubt in zip(_one_each(pieces), doubts, strict=True)
        )
        word, why = "inferred", f"Nothing of the time: {told}."
        brief = f"Nothing of the time: {'; '.join(dict.fromkeys(doubts))}."
    else:
        word, why = "unknown", "Nothing in the record shows or describes it."
        brief = why
    against = [one for one in need.evidence if one.relation == "contradicts" and one.reference in references]
    grounds = [grounds_of(one, need, references, numbers) for one in (*pieces, *against)]
    return Proposal(
        need.slug,
        tidy(need.name, f"need:{need.slug}.name"),
        word,
        why,
        brief,
        tuple(grounds),
        (*(_against(one, references, numbers) for one in against), *_questions(need, asked)),
    )


def supporting(need: Need, references: Mapping[str, Reference]) -> list[Evidence]:
    """Evidence that shows or describes a need, of references that are known, in the order of the plan."""
    return [one for one in need.evidence if one.relation in SUPPORTING and one.reference in references]


def reserve(evidence: Evidence, reference: Reference, scene: Scene) -> str:
    """Why a piece of evidence is not of the time, in a few words; "" where it is."""
    witness = reference.witness
    if witness is Witness.UNKNOWN:
        return "its kind not yet judged"
    if witness not in OF_THE_TIME:
        return witness.value
    if not _days(scene.when):
        return "the scene having no date"
    if not _days(reference.when):
        return "undated"
    gap = gap_days(reference.when, scene.when)
    if abs(gap) > OF_THE_TIME_DAYS:
        return f"made {_length(abs(gap))} {'after' if gap > 0 else 'before'} the event"
    if reference.depicts and abs(gap_days(reference.depicts, scene.when)) > OF_THE_TIME_DAYS:
        return "showing another time"
    apart = [f"{aspect} {word}" for aspect, word in evidence.fit if word in ("near", "far")]
    return f"fitting only so far: {', '.join(apart)}" if apart else ""


def gap_days(one: When | None, other: When | None) -> int:
    """Days from the end of the earlier to the beginning of the later, positive where `one` is later; 0 if they meet."""
    if one is None or other is None:
        return 0
    if one.earliest is not None and other.latest is not None and one.earliest > other.latest:
        return one.earliest - other.latest
    if one.latest is not None and other.earliest is not None and one.latest < other.earliest:
        return one.latest - other.earliest
    return 0


def grounds_of(evidence: Evidence, need: Need, references: Mapping[str, Reference], numbers: Numbers) -> Basis:
    """A piece of evidence as something that a sentence rests on."""
    return Basis(
        field=f"need:{need.slug}.evidence",
        number=numbers.number(evidence.reference, evidence.detail, evidence.passage),
        reference=evidence.reference,
        detail=evidence.detail,
        passage=evidence.passage,
        need=need.slug,
        relation=evidence.relation,
        witness=references[evidence.reference].witness.value,
    )


def _days(when: When | None) -> bool:
    return when is not None and (when.earliest is not None or when.latest is not None)


def _length(days: int) -> str:
    """Whole years from two years on, months from two months on, rounded down."""
    if days >= 2 * _DAYS_PER_YEAR:
        return f"{int(days / _DAYS_PER_YEAR)} years"
    if days >= _DAYS_PER_YEAR / 6:
        return f"{int(days * 12 / _DAYS_PER_YEAR)} months"
    return f"{days} day{'' if days == 1 else 's'}"


def _one_each(pieces: Sequence[Evidence]) -> list[Evidence]:
    """The first piece of each reference."""
    return list({one.reference: one for one in reversed(pieces)}.values())[::-1]


def _piece(evidence: Evidence, references: Mapping[str, Reference], numbers: Numbers, doubt: str = "") -> str:
    number = numbers.number(evidence.reference, evidence.detail, evidence.passage)
    kind = references[evidence.reference].witness.value
    return f"{number} ({kind}, {doubt})" if doubt and doubt != kind else f"{number} ({kind})"


def _against(evidence: Evidence, references: Mapping[str, Reference], numbers: Numbers) -> str:
    note = tidy(evidence.note, "the note of a piece of evidence").rstrip(".")
    return f"{_piece(evidence, references, numbers)} contradicts it{f': “{note}”' if note else ''}."


def _questions(need: Need, asked: Asked | None) -> list[str]:
    own = [one for one in (asked.questions if asked else ()) if one.need == need.slug and one.how == BY_NAME]
    return [f"Open question: was this there yet, {tidy(one.thing, 'first dates')}?" for one in own]


# --- the statement ----------------------------------------------------------------------------------------------------


def draft_statement(
    scene: Scene,
    parts: Sequence[Part],
    coverage: Sequence[NeedCoverage],
    references: Mapping[str, Reference],
    numbers: Numbers,
    asked: Asked | None = None,
) -> Statement:
    """The parts as the person marked them beside what the record proposes; `coverage` is that of the scene's needs.

    Raises
    ------
    RecordRefused
        for a region that does not lie on the picture, a word that is none of `STANDINGS`, or too many parts.
    """
    _check(parts)
    proposals = {row.need.slug: proposed_standing(row.need, row, scene, references, numbers, asked) for row in coverage}
    marked = tuple(_marked(number, part, proposals) for number, part in enumerate(parts, start=1))
    shown = {part.need for part in parts}
    by_word = {word: [one.region for one in marked if one.word == word] for word in STANDINGS}
    overlaps = tuple(
        Overlap(a.number, b.number, share)
        for a, b in combinations(marked, 2)
        if a.word != b.word and (share := shared_area(a.region, b.region)) > 0
    )
    return Statement(
        parts=marked,
        unmarked=tuple(one for slug, one in proposals.items() if slug not in shown),
        shares=tuple((word, union_area(own)) for word, own in by_word.items()),
        marked_share=union_area([one.region for one in marked]),
        contested_share=_contested(marked),
        overlaps=overlaps,
        notices=tuple(_notices(marked, proposals)),
    )


def _check(parts: Sequence[Part]) -> None:
    from refarchive.records.rests_on import check_region

    if len(parts) > MOST_PARTS:
        raise RecordRefused(
            f"{len(parts)} parts are marked, more than the {MOST_PARTS} that one page can number.",
            "Join parts that rest on the same.",
        )
    for part in parts:
        check_region(part.region)
        if part.standing not in STANDINGS:
            raise RecordRefused(
                f"The part {tidy(part.name, 'a part')!r} is called {tidy(part.standing, 'its word')!r}.",
                f"Use one of: {', '.join(STANDINGS)}.",
            )


def _marked(number: int, part: Part, proposals: Mapping[str, Proposal]) -> Marked:
    proposal = proposals.get(part.need)
    name = tidy(part.name, f"part:{number}.name") or (proposal.name if proposal else "without a name")
    differ = ""
    if proposal is not None and proposal.word != part.standing:
        differ = f"Marked {part.standing}; the record proposes {proposal.word}. {proposal.why}"
    why = tidy(part.why, f"part:{number}.why")
    return Marked(number, name, part.region, part.standing, why, part.need, proposal, differ)


def _notices(marked: Sequence[Marked], proposals: Mapping[str, Proposal]) -> list[str]:
    told = [
        f"Part {one.number} names the need {tidy(one.need, 'a need')!r}, which the scene does not have."
        for one in marked
        if one.need and one.proposal is None
    ]
    told += [
        f"Part {one.number}, {one.name}, is called {one.word} and belongs to no need: the record has nothing to set "
        "beside that word."
        for one in marked
        if not one.need and one.word in ("supported", "inferred")
    ]
    for slug, proposal in proposals.items():
        own = [one for one in marked if one.need == slug]
        if len({one.word for one in own}) > 1:
            words = ", ".join(f"{one.word} in part {one.number}" for one in own)
            told.append(f"{proposal.name} is called by different words: {words}.")
    return told


# --- areas ------------------------------------------------------------------------------------------------------------


def union_area(regions: Sequence[Region]) -> float:
    """Area of the union of rectangles, as a share of the picture, 0 to 1.

    Exact: the edges are taken as the fractions that floating-point numbers are, and only the sum is rounded.

    >>> union_area([(0.0, 0.0, 0.5, 0.5), (0.25, 0.25, 0.5, 0.5)])
    0.4375
    """
    return float(_union([_edges(region) for region in regions]))


def shared_area(one: Region, other: Region) -> float:
    """Area that two rectangles share, as a share of the picture; exact as `union_area`."""
    return float(_shared(_edges(one), _edges(other)))


_Edges = tuple[Fraction, Fraction, Fraction, Fraction]  # left, top, right, bottom


def _edges(region: Region) -> _Edges:
    x, y, width, height = (Fraction(value) for value in region)
    whole, none = Fraction(1), Fraction(0)
    return (
        max(x, none), max(y, none), min(x + width, whole), min(y + height, whole)
    )  # fmt: skip


def _shared(one: _Edges, other: _Edges) -> Fraction:
    box = _cut(one, other)
    return max(box[2] - box[0], Fraction(0)) * max(box[3] - box[1], Fraction(0))


def _cut(one: _Edges, other: _Edges) -> _Edges:
    return max(one[0], other[0]), max(one[1], other[1]), min(one[2], other[2]), min(one[3], other[3])


def _union(boxes: Sequence[_Edges]) -> Fraction:
    """Strips between neighbouring upright edges; in each, the covered length of the boxes that reach across it."""
    xs = sorted({edge for box in boxes for edge in (box[0], box[2])})
    area = Fraction(0)
    for left, right in pairwise(xs):
        reach = Fraction(0)
        covered = Fraction(0)
        for top, bottom in sorted((box[1], box[3]) for box in boxes if box[0] <= left and right <= box[2]):
            if bottom > reach:
                covered += bottom - max(top, reach)
                reach = bottom
        area += covered * (right - left)
    return area


def _contested(marked: Sequence[Marked]) -> float:
    """Area under more than one word: the union of what parts with different words share."""
    pairs = [_cut(_edges(a.region), _edges(b.region)) for a, b in combinations(marked, 2) if a.word != b.word]
    return float(_union([box for box in pairs if box[0] < box[2] and box[1] < box[3]]))


def as_plain(statement: Statement) -> dict[str, Any]:
    """The statement as JSON."""
    plain = asdict(replace(statement, shares=()))
    plain["shares"] = dict(statement.shares)
    return plain
