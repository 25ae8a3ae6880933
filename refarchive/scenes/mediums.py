"""Cautions by medium: what a kind of picture or text is known to get wrong, carried wherever a reference is shown.

Sources: photographic plates before dye-sensitised (orthochromatic) emulsions, sold from 1882–83, registered mainly blue
and violet. The rest is common practice, no source; the mirroring of direct positives is from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from refarchive.records.model import Reference, Witness

ORTHOCHROMATIC_FROM = 2_408_812  # Julian day number of 1 January 1883

_PROCESS = (
    r"daguerr?eotyp|ambrotyp|tintyp|ferrotyp|calotyp|talbotyp|cyanotyp|platinotyp|autochrom|albumen|collodion"
    r"|salt(ed)?[ -](paper )?print|carte[ -]de[ -]visite|cabinet card|stereo(graph|view|card)|glass negative"
    r"|gelatin[ -]silver|lantern slide|silver print|direct positive"
)
_PERIOD_PROCESS = re.compile(_PROCESS, re.IGNORECASE)
_PHOTOGRAPH = re.compile(rf"photo|fotogr|{_PROCESS}", re.IGNORECASE)
_DIRECT_POSITIVE = re.compile(r"daguerr?eotyp|ambrotyp|tintyp|ferrotyp|direct positive", re.IGNORECASE)
_ENGRAVING = re.compile(r"engrav|woodcut|line block", re.IGNORECASE)
_PRESS = re.compile(r"press|newspaper|illustrated|journal|gazette|intelligencer|magazine|periodical", re.IGNORECASE)
_PLATE = re.compile(r"fashion|catalogue|advertis|trade card", re.IGNORECASE)


@dataclass(frozen=True)
class Caution:
    """One thing a medium is known to get wrong: a sentence, and a few words for captions ("": none needed there)."""

    brief: str
    sentence: str


def is_photograph(reference: Reference) -> bool:
    """Whether the picture of a reference is a photograph of its date.

    What "photograph of the object" says of a surviving object was made to record it, at a date that is not the
    object's; only the name of a process makes such a reference a photograph of its own date.
    """
    if reference.witness is Witness.PHOTOGRAPH:
        return True
    named = _PERIOD_PROCESS if reference.witness is Witness.OBJECT else _PHOTOGRAPH
    return bool(named.search(reference.medium))


def from_before_dyes(reference: Reference) -> bool | None:
    """Whether it is a photograph from before plates saw more than blue and violet; None where it may be."""
    if not is_photograph(reference):
        return False
    when = reference.when
    if when is not None and when.latest is not None and when.latest < ORTHOCHROMATIC_FROM:
        return True
    return None if when is None or when.earliest is None or when.earliest < ORTHOCHROMATIC_FROM else False


def cautions(reference: Reference) -> tuple[str, ...]:
    """Sentences of caution for a reference, in the order of weight; none where nothing is known against it."""
    return tuple(one.sentence for one in known_against(reference))


def in_brief(reference: Reference) -> str:
    """The cautions as a caption carries them: "Caution: no colour, no values; mirrored", or ""."""
    briefs = [one.brief for one in known_against(reference) if one.brief]
    return f"Caution: {'; '.join(briefs)}." if briefs else ""


def known_against(reference: Reference) -> tuple[Caution, ...]:
    """What is known to be wrong with a reference's medium or kind of witness, in the order of weight."""
    found = []
    medium = reference.medium
    told = " ".join((medium, reference.source, reference.collection, reference.description))
    early = from_before_dyes(reference) if reference.kind == "image" else False
    if early:
        found.append(
            Caution(
                "no colour, no values",
                "No colour and no values from it: plates before 1883 registered mainly blue and violet.",
            )
        )
    elif early is None:
        found.append(
            Caution(
                "no colour until dated",
                "It may be from before 1883, when plates registered mainly blue and violet: take no colour from it "
                "until it is dated.",
            )
        )
    if _DIRECT_POSITIVE.search(medium):
        found.append(Caution("mirrored", "A direct positive shows its sitter mirrored: check the buttoning side."))
    if _ENGRAVING.search(medium) and (_PRESS.search(told) or reference.witness is Witness.SECOND_HAND):
        found.append(
            Caution(
                "engraved at second hand",
                "Press engravings were made after sketches and photographs, and blocks were used again for others.",
            )
        )
    if reference.witness is Witness.COMMERCIAL or _PLATE.search(medium):
        found.append(
            Caution("made to sell", "Commercial and prescriptive: it shows what was to be sold or worn, not what was.")
        )
    if reference.witness is Witness.HANDMADE:
        found.append(Caution("", "Made by hand: varnish, fading, flattery and studio costume may speak in it."))
    if reference.witness is Witness.OBJECT:
        found.append(Caution("", "What survives is more often the best, the unusual and the small."))
    if reference.witness is Witness.LATER:
        found.append(
            Caution(
                "later memory",
                "Later recollection or reconstruction: it shows what was remembered or imagined.",
            )
        )
    return tuple(found)
