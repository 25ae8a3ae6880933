"""Subjects as references keep them: "25F72 molluscs", or plain words such as "cockle gatherers".

One form is written: the notation, a space, its words up to the first semicolon (sheets separate subjects by those).
What is read is the notation at the beginning, alone or before any words; two notations joined by a colon count as both.
A class of digits only, such as 14, is taken for a notation only alone or before its own words: "14 February" is words.
"""

from __future__ import annotations

from functools import lru_cache

from refarchive.errors import BadQuery, UnknownRecord
from refarchive.subjects import tree


def as_subject(code: str) -> str:
    """A notation as a reference keeps it, for instance "25F72 molluscs". Raises as `notation`."""
    found = tree.notation(code)
    return f"{found.code} {found.text.partition(';')[0].strip()}".strip()


@lru_cache(maxsize=65_536)
def codes_in(subject: str) -> tuple[str, ...]:
    """The notations that a kept subject begins with, as Iconclass spells them; none for plain words."""
    given = " ".join(subject.split())
    if not given[:1].isdigit():
        return ()
    whole, rest = _cut(given)
    codes = [_existing(part) for part in _joined(whole)]
    if not all(codes):
        return ()
    if len(codes) == 1 and codes[0].isdigit() and rest:
        kept = as_subject(codes[0]).casefold()
        if f"{codes[0]} {rest}".casefold() not in (kept, f"{codes[0]} {tree.notation(codes[0]).text}".casefold()):
            return ()
    return tuple(codes)


def notation_asked(subject: str) -> str:
    """The one notation that a subject asked for means, or "" where it is plain words."""
    codes = codes_in(subject)
    return codes[0] if len(codes) == 1 else ""


@lru_cache(maxsize=65_536)
def holds(subject: str, code: str) -> bool:
    """Whether a kept subject is the notation, or one beneath it. `code` is spelt as Iconclass spells it."""
    return any(one == code or code in tree.all_above(one) for one in codes_in(subject))


def _existing(code: str) -> str:
    try:
        return tree.notation(code).code
    except (BadQuery, UnknownRecord):
        return ""


def _cut(given: str) -> tuple[str, str]:
    """The notation, which may have blanks inside its brackets, and what follows it."""
    depth = 0
    for place, character in enumerate(given):
        depth += (character == "(") - (character == ")")
        if character == " " and depth <= 0:
            return given[:place], given[place + 1 :].strip()
    return given, ""


def _joined(whole: str) -> list[str]:
    """The notations of a combination such as 61B:31D14; a colon within brackets belongs to the name."""
    parts, depth = [""], 0
    for character in whole:
        depth += (character == "(") - (character == ")")
        if character == ":" and depth <= 0:
            parts.append("")
        else:
            parts[-1] += character
    return parts
