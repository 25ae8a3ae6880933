"""Subjects over an archive: what a notation means and who has it, suggestions for a reference, widening a question."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

from refarchive.errors import BadQuery
from refarchive.jobs.kit import Kit
from refarchive.jobs.references.index import caption_of
from refarchive.records.model import Reference
from refarchive.search.finding import Findings
from refarchive.subjects import Suggestion, as_subject, codes_in, holds, suggest, tree


def code_asked(subject: str) -> str:
    """The notation that a person named, bare or as references keep it. Raises BadQuery and UnknownRecord."""
    codes = codes_in(subject)
    return codes[0] if len(codes) == 1 else tree.notation(subject).code


def subject_document(kit: Kit, subject: str) -> dict[str, Any]:
    """A notation as JSON: its words, what is above and below, and the references that hold it or anything beneath."""
    found = tree.notation(code_asked(subject))
    counts = _counts(kit)
    return {
        **_short(found.code, counts),
        "subject": as_subject(found.code),
        "keywords": list(found.keywords),
        "path": [_short(code, counts) for code in found.path],
        "above": list(found.above),
        "children": [_short(code, counts) for code in found.children],
        "keys": [_short(code, counts) for code in found.keys],
        "related": [_short(code, counts) for code in found.related],
        "held_by": [
            {"reference": r.id, "title": r.title, "subjects": [s for s in r.subjects if holds(s, found.code)]}
            for r in kit.store.references()
            if any(holds(s, found.code) for s in r.subjects)
        ],
    }


def browse_document(kit: Kit, subject: str = "") -> list[dict[str, Any]]:
    """The notations one step below, of the whole where none is named, each with how many references it finds."""
    counts = _counts(kit)
    codes = tree.notation(code_asked(subject)).children if subject else [one.code for one in tree.top()]
    return [_short(code, counts) for code in codes]


def suggestions(kit: Kit, words: str, top: int) -> list[dict[str, Any]]:
    """Notations for a caption or a query as JSON, best first, each with its reason."""
    found = suggest(words, top, lambda texts: kit.sentences.encode(texts))  # loaded only where words found something
    return [_suggested(one) for one in found]


def words_of(reference: Reference) -> str:
    """What is said of a reference in sentences. Raises BadQuery where nothing is."""
    words = caption_of(reference)
    if not words:
        raise BadQuery(f"Nothing is said yet of {reference.title!r}.", "Describe it, or ask with words of your own.")
    return words


def with_subject(reference: Reference, subject: str) -> tuple[str, ...]:
    """The subjects of a reference with one notation more, in the form kept; as they are where it has that already.

    Raises BadQuery, also for a notation whose name is still to be filled in, and UnknownRecord.
    """
    code = code_asked(subject)
    if "(...)" in code:
        raise BadQuery(f"{code} waits for a name.", f"Give one, for instance {code.replace('(...)', '(NAME)')}.")
    if any(codes_in(held) == (code,) for held in reference.subjects):
        return reference.subjects
    return (*reference.subjects, as_subject(code))


def widened(subject: str, levels: int) -> tuple[str, tuple[str, ...]]:
    """The subject to ask for, and sentences on how it was understood.

    Raises BadQuery where plain words are to be widened, or by less than nothing.
    """
    codes = codes_in(subject)
    if len(codes) != 1:
        if levels:
            raise BadQuery(
                f"{subject!r} is no notation of Iconclass, so nothing stands above it.",
                "Name a notation; from words, ask for suggestions: refarchive subjects ARCHIVE --suggest WORDS",
            )
        if not codes and tree.looks_like_one(subject):
            near = tree.nearest(subject)
            above = f" The nearest above it is “{as_subject(near)}”." if near else ""
            return subject, (f"Iconclass has no notation {subject!r}, so it was compared as a word.{above}",)
        return subject, ()
    code = tree.wider(codes[0], levels)
    told = f"Subject “{as_subject(code)}”, with all that Iconclass has beneath it."
    if not levels:
        return code, (told,)
    if code == codes[0]:
        return code, (f"Nothing stands above “{as_subject(code)}”, a main class.", told)
    return code, (f"Widened from “{as_subject(codes[0])}”.", told)


def with_notes(found: Findings, notes: tuple[str, ...]) -> Findings:
    """Findings with sentences before those they have."""
    return replace(found, notes=(*notes, *found.notes)) if notes else found


def _counts(kit: Kit) -> Counter[str]:
    """How many references hold each notation or anything beneath it."""
    counts: Counter[str] = Counter()
    for reference in kit.store.references():
        held = {code for subject in reference.subjects for code in codes_in(subject)}
        counts.update(held.union(*(tree.all_above(code) for code in held)))
    return counts


def _short(code: str, counts: Counter[str]) -> dict[str, Any]:
    return {"code": code, "text": tree.notation(code).text, "references": counts[code]}


def _suggested(one: Suggestion) -> dict[str, Any]:
    return {
        "code": one.notation.code,
        "text": one.notation.text,
        "path": [as_subject(code) for code in one.notation.path],
        "score": one.score,
        "words": list(one.words),
        "meaning": None if one.meaning is None else round(one.meaning, 4),
        "because": one.because,
    }
