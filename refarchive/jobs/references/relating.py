"""Families proposed: which pictures of an archive may descend from one original, as questions to the person.

Nothing here confirms anything. Each proposal says in a sentence what was seen, and guesses how one may descend from the
other, giving its reasons; where the reasons disagree or there are none, it guesses nothing.

What is never found, so that silence is no proof of independence: a part of less than a sixth of the width and height;
a copy that kept the subject and moved the lines; two plates by different hands after one sketch; whatever only a
caption, a credit or a plate mark could tell. What is often missed: copies squeezed or seen at a slant by much, shown
small within another picture, or drawn very freely (`looks.copies` has the figures). Texts are not compared at all. And
found, but for the person to judge: two prints of one block used for two events are one picture, and two claims; plain
signs and letters resemble each other without descending from each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from refarchive.jobs.kit import Kit
from refarchive.jobs.references.signatures import Pair, pairs_kept, signatures
from refarchive.records.model import Family, FamilyMember, Reference, Region, Witness

if TYPE_CHECKING:
    from refarchive.looks.copies import Relation
    from refarchive.looks.signatures import Signature

__all__ = ["FamilyGroup", "FamilyProposal", "Proposed", "groups", "proposals", "propose", "signatures"]

AT_ONCE = 64  # pictures looked from between one keeping of the pairs and the next
LARGER = 1.5  # times the pixels a side, from which a copy speaks for being the nearer one to the original
DESCENTS = {  # of the later of two pictures, by the kind of their relation in `looks.copies`
    "same picture": "copy",
    "mirrored": "mirrored",
    "crop of": "crop",
    "recoloured": "recoloured",
    "re-drawn (possible)": "engraved after",
}
_CHANNELS = ("tones", "hashes", "edges", "")  # the surer first


@dataclass(frozen=True)
class FamilyProposal:
    """Two references that may descend from one original. "First" and "second" in `sentence` are those of `references`.

    kind, sentence, channel, inliers: as in `looks.copies.Relation`. regions: what is shared, in each; None where not
    known. descent: how the later would descend from the earlier. earlier, later: ids, a guess; both "" where nothing
    or contradictory things speak for an order. reasons: what the guess rests on, or why there is none.
    """

    references: tuple[str, str]
    titles: tuple[str, str]
    kind: str
    sentence: str
    channel: str
    inliers: int
    regions: tuple[Region | None, Region | None]
    descent: str
    earlier: str
    later: str
    reasons: str
    new: bool = False  # whether one of them was first looked at now


@dataclass(frozen=True)
class FamilyGroup:
    """References that proposals tie together, directly or through others, with what is confirmed already.

    members: how they would stand in one family, ready to be confirmed, corrected, or confirmed in part. families: ids
    of confirmed families that would be joined. apart: pairs among them that the person turned down before.
    """

    members: tuple[FamilyMember, ...]
    titles: tuple[str, ...]
    proposals: tuple[FamilyProposal, ...]
    families: tuple[str, ...] = ()
    apart: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Proposed:
    """Pairs, their groups, and pictures that could not be looked at: ids of those whose originals cannot be read."""

    proposals: tuple[FamilyProposal, ...]
    groups: tuple[FamilyGroup, ...]
    unread: tuple[str, ...] = field(default=())

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return asdict(self)


def propose(kit: Kit, only_new: bool = False) -> Proposed:
    """Look for families not confirmed or turned down yet: pairs, and the groups they form; see `proposals`."""
    made = signatures(kit)
    found = _found(kit, made, only_new)
    references = kit.store.references()
    titles = {r.id: r.title for r in references}
    tied = groups(found, kit.store.families.all(), kit.store.families.turned_down(), titles)
    unread = tuple(r.id for r in references if r.kind == "image" and r.sha256 and r.id not in made)
    return Proposed(tuple(found), tuple(tied), unread)


def proposals(kit: Kit, only_new: bool = False) -> list[FamilyProposal]:
    """Pairs of pictures that may be of one family, the surer first.

    Only pictures never looked from before are compared; what was found earlier is kept and given again, unless
    `only_new`. Left out are pairs within one confirmed family, and pairs that the person turned down, for themselves or
    for the families they are in by now. Told through `kit.progress`; may be stopped, and goes on from there.

    Raises ArchiveUnwritable.
    """
    return _found(kit, signatures(kit), only_new)


def _found(kit: Kit, made: dict[str, Signature], only_new: bool) -> list[FamilyProposal]:
    references = {r.id: r for r in kit.store.references()}
    digests = {one: references[one].sha256 for one in made}
    known = pairs_kept(kit)
    known.forget(set(digests.values()))
    order = list(made)
    todo = [place for place, one in enumerate(order) if digests[one] not in known.looked]
    new = {digests[order[place]] for place in todo}
    if todo:
        from refarchive.looks.proposing import Proposer

        proposer = Proposer(list(made.values()))
        for start in range(0, len(todo), AT_ONCE):
            part = todo[start : start + AT_ONCE]
            pairs = [
                Pair(digests[order[p.first]], digests[order[p.second]], p.relation) for p in proposer.look_from(part)
            ]
            known.keep((digests[order[place]] for place in part), pairs)
            if kit.progress is not None:
                kit.progress(min(start + AT_ONCE, len(todo)), len(todo), "comparing")
    by_digest = {digest: references[one] for one, digest in digests.items()}
    settled = _Settled(kit.store.families.all(), kit.store.families.turned_down())
    found = {}  # a search that was stopped may come upon a pair twice
    for pair in known.pairs:
        one, other = by_digest[pair.one], by_digest[pair.other]
        is_new = pair.one in new or pair.other in new
        if settled.about(one.id, other.id) or (only_new and not is_new):
            continue
        found[frozenset((one.id, other.id))] = _proposal(one, other, pair.relation, is_new)
    place = {one: n for n, one in enumerate(references)}
    return sorted(found.values(), key=lambda p: (_CHANNELS.index(p.channel), -p.inliers, place[p.references[0]]))


class _Settled:
    """What the person has said of pairs already."""

    def __init__(self, families: Sequence[Family], turned_down: set[tuple[str, str]]) -> None:
        self._family = {m.reference: family for family in families for m in family.members}
        self._apart = turned_down

    def about(self, one: str, other: str) -> bool:
        """Whether two are of one family, or were told apart: they, or others of their families."""
        ours, theirs = self._all(one), self._all(other)
        return ours == theirs or any(tuple(sorted((a, b))) in self._apart for a in ours for b in theirs)

    def _all(self, reference: str) -> list[str]:
        family = self._family.get(reference)
        return [m.reference for m in family.members] if family else [reference]


# --- which came first ---------------------------------------------------------------------------------------------


def _proposal(one: Reference, other: Reference, relation: Relation, new: bool) -> FamilyProposal:
    earlier, reasons = _earlier(one, other, relation)
    ids = (one.id, other.id)
    return FamilyProposal(
        references=ids,
        titles=(one.title, other.title),
        kind=relation.kind,
        sentence=relation.sentence,
        channel=relation.channel,
        inliers=relation.inliers,
        regions=(relation.region_in_first, relation.region_in_second),
        descent=DESCENTS.get(relation.kind, "unknown"),
        earlier=ids[earlier] if earlier is not None else "",
        later=ids[1 - earlier] if earlier is not None else "",
        reasons=reasons,
        new=new,
    )


def _earlier(one: Reference, other: Reference, relation: Relation) -> tuple[int | None, str]:
    """Which of two is likelier the earlier (0 or 1, None where nothing can be said), and why."""
    both = (one, other)
    said: list[tuple[int, str]] = []
    if (dated := _dated_earlier(one, other)) is not None:
        when = [r.when.text if r.when else "" for r in both]
        said.append((dated, f"the {_WORDS[dated]} is dated earlier ({when[dated]} against {when[1 - dated]})"))
    if relation.part in ("first", "second"):
        cut = 0 if relation.part == "first" else 1
        said.append((1 - cut, f"the {_WORDS[cut]} shows less"))
    derived = [r.witness in (Witness.SECOND_HAND, Witness.LATER) for r in both]
    if derived[0] != derived[1]:
        later = derived.index(True)
        said.append((1 - later, f"the {_WORDS[later]} is a {both[later].witness.value}"))
    if not said and relation.scale is not None and not 1 / LARGER < relation.scale < LARGER:
        larger = 1 if relation.scale > 1 else 0
        said.append((larger, f"the {_WORDS[larger]} is the larger file, which is a weak reason"))
    if not said:
        return None, "Nothing speaks for which came first."
    words = "; ".join(reason for _, reason in said)
    if len({which for which, _ in said}) > 1:
        return None, f"What speaks for an order disagrees: {words}."
    return said[0][0], f"A guess: {words}."


_WORDS = ("first", "second")


def _dated_earlier(one: Reference, other: Reference) -> int | None:
    """Which was made earlier by its date; ranges may overlap, so long as neither end speaks against it."""
    if one.when is None or other.when is None:
        return None
    ends = [
        (a > b) - (a < b)
        for a, b in ((one.when.earliest, other.when.earliest), (one.when.latest, other.when.latest))
        if a is not None and b is not None
    ]
    if len(ends) < 2 or not any(ends) or {-1, 1} <= set(ends):
        return None
    return 0 if -1 in ends else 1


# --- groups -------------------------------------------------------------------------------------------------------


def groups(
    found: Iterable[FamilyProposal],
    families: Sequence[Family] = (),
    turned_down: Iterable[tuple[str, str]] = (),
    titles: Mapping[str, str] | None = None,
) -> list[FamilyGroup]:
    """Proposals by the pictures they tie together, confirmed families taken in; in the order of the surest of each.

    `titles` are those of references that stand in families only.
    """
    pairs = list(found)
    named = dict(titles or {}) | {one: t for p in pairs for one, t in zip(p.references, p.titles, strict=True)}
    root: dict[str, str] = {}

    def of(one: str) -> str:
        while root.setdefault(one, one) != one:
            root[one] = root[root[one]]
            one = root[one]
        return one

    for p in pairs:
        root[of(p.references[1])] = of(p.references[0])
    for family in families:
        for member in family.members[1:]:
            root[of(member.reference)] = of(family.members[0].reference)
    tied: dict[str, list[FamilyProposal]] = {}
    for p in pairs:
        tied.setdefault(of(p.references[0]), []).append(p)
    apart = sorted(set(turned_down))
    return [
        _group(own, [f for f in families if of(f.members[0].reference) == here], apart, named)
        for here, own in tied.items()
    ]


def _group(
    pairs: Sequence[FamilyProposal],
    families: Sequence[Family],
    apart: Sequence[tuple[str, str]],
    titles: Mapping[str, str],
) -> FamilyGroup:
    members = {m.reference: m for family in families for m in family.members}
    confirmed = set(members)
    for p in pairs:
        for one in p.references:
            members.setdefault(one, FamilyMember(one))
    for p in pairs:  # the surest first: a member takes its descent from the first that says one
        if p.later and p.later not in confirmed and not members[p.later].after and not _comes_from(members, p):
            members[p.later] = FamilyMember(p.later, p.descent, p.earlier)
    sources = {m.after for m in members.values() if m.after}
    for one, member in list(members.items()):
        if one not in confirmed and one in sources and not member.after:
            members[one] = FamilyMember(one, "original")
    originals = [one for one, m in members.items() if m.descent == "original"]
    if len(originals) > 1:  # which of them all others descend from is for the person to say
        for one in originals:
            if one not in confirmed:
                members[one] = FamilyMember(one)
    return FamilyGroup(
        members=tuple(members.values()),
        titles=tuple(titles.get(one, "") for one in members),
        proposals=tuple(pairs),
        families=tuple(f.id for f in families),
        apart=tuple(pair for pair in apart if set(pair) <= set(members)),
    )


def _comes_from(members: dict[str, FamilyMember], p: FamilyProposal) -> bool:
    """Whether the earlier of a proposal is already said to come from the later."""
    here = p.earlier
    while here:
        if here == p.later:
            return True
        here = members[here].after if here in members else ""
    return False
