"""Notations: what they mean, what stands above and below them, and what is said of those that do not exist.

A notation is built of a class (one or two digits), a letter, which may be doubled (31AA female human figure), digits, a
name in brackets (25F23(LION)), digits that divide what is named (11H(JEROME)1), and a key (25F23(LION)(+46) sleeping).
Whether one stands beneath another is decided by the data, not by the spelling: 25FF23 stands beneath 25F23, 51AA does
not stand beneath 51A. A name that is not in the data may be filled in wherever Iconclass has (...); it stands where the
names that are in the data stand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from refarchive.errors import BadQuery, UnknownRecord
from refarchive.subjects.data import ANY, data

LONGEST_CHARS = 160

_NAME = r"\([^()+;\x00-\x1f]+\)"
_SYNTAX = re.compile(
    rf"(?P<stem>\d\d?(?:([A-Za-z])\2?)?\d*)(?P<name>{_NAME})?(?P<tail>\d*)(?:\(\+(?P<key>\d+(?:{_NAME})?)\))?",
    re.IGNORECASE,
)
_WITH_NAME = re.compile(r"\s*\(with [^()]*NAME[^()]*\)", re.IGNORECASE)


@dataclass(frozen=True)
class Notation:
    """One notation of Iconclass.

    `path` runs from the main class down to the parent, along the parent spelt most like it; `above` names the parents
    themselves, of which there are sometimes two. `children` are the notations one step below, `keys` the same notation
    with a key, one step more exact.
    """

    code: str
    text: str
    path: tuple[str, ...]
    above: tuple[str, ...]
    children: tuple[str, ...]
    keys: tuple[str, ...]
    keywords: tuple[str, ...]
    related: tuple[str, ...]


@dataclass(frozen=True)
class _Parts:
    """A notation that exists: `base` without its key; `slot` has its place in the data, with (...) for a free name."""

    code: str
    base: str
    slot: str
    name: str  # a name that is not in the data, brackets and all, or ""
    key: str


def notation(code: str) -> Notation:
    """What a notation means and where it stands.

    Raises BadQuery for what is no notation at all, UnknownRecord for one that does not exist, with the nearest above.
    """
    parts, known = _parts(code), data()
    if parts.key:
        queue, _ = known.keys[parts.slot]
        key = parts.key if f"{queue}{parts.key}" in known.texts else _freed(parts.key)
        added, words = known.texts.get(f"{queue}{key}", ""), known.keywords.get(f"{queue}{key}", ())
        if key != parts.key:
            added = f"{_WITH_NAME.sub('', added)}: {name_of(f'0{parts.key}').strip('()').lower()}"
        text = f"{_text(parts)} (+ {added})"
    else:
        words, text = (), _text(parts)
    return Notation(
        code=parts.code,
        text=text,
        path=ancestors(parts.code),
        above=_above(parts),
        children=() if parts.key else _below(parts),
        keys=_keyed(parts),
        keywords=tuple(dict.fromkeys((*known.keywords.get(parts.slot, ()), *words))),
        related=known.related[parts.slot],
    )


def top() -> tuple[Notation, ...]:
    """The ten main classes, 0 to 9."""
    return tuple(notation(str(digit)) for digit in range(10))


def children(code: str) -> tuple[Notation, ...]:
    """The notations one step below, keys aside. Raises as `notation`."""
    return tuple(notation(one) for one in notation(code).children)


def ancestors(code: str) -> tuple[str, ...]:
    """From the main class down to the parent, along the parent spelt most like the notation. Raises as `notation`."""
    found: list[str] = []
    here = _above(_parts(code))
    while here:
        found.append(here[0])
        here = _above(_parts(here[0]))
    return tuple(reversed(found))


def all_above(code: str) -> frozenset[str]:
    """Everything above a notation, along every parent. Raises as `notation`."""
    found: set[str] = set()
    waiting = list(_above(_parts(code)))
    while waiting:
        one = waiting.pop()
        if one not in found:
            found.add(one)
            waiting += _above(_parts(one))
    return frozenset(found)


def is_under(code: str, parent: str) -> bool:
    """Whether a notation stands beneath another, not being it. Raises as `notation`, for both."""
    return _parts(parent).code in all_above(code)


def wider(code: str, levels: int) -> str:
    """The notation some levels up, at most its main class; the key of a notation and a name are levels of their own.

    A place for a name, (...), is no level: 25F23(LION) widens to 25F23. Raises as `notation`, and BadQuery for fewer
    levels than none.
    """
    if levels < 0:
        raise BadQuery("A subject cannot be widened by less than nothing.", "Give the number of levels, from 0.")
    spelt = _parts(code).code
    path = [one for one in ancestors(spelt) if not one.endswith(ANY)]
    return ([*path, spelt])[max(0, len(path) - levels)]


def nearest(code: str) -> str:
    """The nearest notation that exists and begins like `code`, or "" where not even the first digit says anything."""
    rest = code.strip()[:LONGEST_CHARS]
    while rest:
        try:
            return _parts(rest, told=False).code
        except (BadQuery, UnknownRecord):
            opened = rest.rfind("(")
            rest = rest[:opened] if rest.endswith(")") and opened > 0 else rest[:-1]
    return ""


def looks_like_one(code: str) -> bool:
    """Whether text is spelt like a notation with a letter, though there may be none: 46C99, but not 1871 or 5 boats."""
    found = _SYNTAX.fullmatch(code.strip()) if len(code) <= LONGEST_CHARS else None
    return found is not None and any(character.isalpha() for character in found["stem"])


# --- taking apart -----------------------------------------------------------------------------------------------------


def _parts(code: str, *, told: bool = True) -> _Parts:
    """What a notation is made of; `told`: with the nearest one in the refusal, which this very function looks for."""
    given = " ".join(code.split())
    found = _SYNTAX.fullmatch(given) if len(given) <= LONGEST_CHARS else None
    if found is None:
        shown = given if len(given) <= 40 else f"{given[:40]} …"
        raise BadQuery(
            f"{shown!r} is no notation of Iconclass.",
            "A notation looks like 25F72, 11H(JEROME) or 25F(+46); from words, ask for suggestions.",
        )
    known = data()
    stem, name, tail = found["stem"].upper(), found["name"] or "", found["tail"]
    base = known.spelt.get(f"{stem}{name}{tail}".casefold(), "")
    slot = base
    if not base:
        slot = known.spelt.get(f"{stem}{ANY}{tail}".casefold(), "") if name else ""
        named = known.spelt.get(f"{stem}{name}".casefold(), f"{stem}{name.upper()}")  # keeps the data's own spelling
        base = f"{named}{tail}"
    if not slot:
        raise _unknown(given) if told else UnknownRecord(f"Iconclass has no notation {given!r}.")
    key = (found["key"] or "").upper()
    if key:
        suffixes = known.keys.get(slot, ("", ()))[1]
        if key not in suffixes and _freed(key) not in suffixes:
            raise _unknown(given) if told else UnknownRecord(f"Iconclass has no notation {given!r}.")
    whole = f"{base}(+{key})" if key else base
    return _Parts(code=whole, base=base, slot=slot, name="" if base == slot else name_of(base), key=key)


def name_of(code: str) -> str:
    """The name of a notation, brackets and all, or ""."""
    found = _SYNTAX.fullmatch(code)
    return (found["name"] or "") if found else ""


def _freed(key: str) -> str:
    return re.sub(r"\(.*\)", ANY, key)


def _unknown(given: str) -> UnknownRecord:
    above = _nearest_above(given)
    step = f"The nearest above it is {above} ({data().texts.get(above, '')})." if above else "Browse from the top."
    return UnknownRecord(f"Iconclass has no notation {given!r}.", step, records=(above,) if above else ())


def _nearest_above(given: str) -> str:
    opened = given.rfind("(")
    return nearest(given[:opened] if given.endswith(")") and opened > 0 else given[:-1])


def _above(parts: _Parts) -> tuple[str, ...]:
    known = data()
    if parts.key:
        suffixes = known.keys[parts.slot][1]
        shorter = parts.key.partition("(")[0] if parts.key.endswith(")") else parts.key[:-1]
        while shorter and shorter not in suffixes:
            shorter = shorter[:-1]
        return (f"{parts.base}(+{shorter})",) if shorter else (parts.base,)
    above = known.above[parts.slot]
    if not parts.name:
        return above
    if parts.slot.endswith(ANY):  # a name itself: it stands under (...), as the names in the data do
        doubled = [one for one in above if one.endswith(ANY)]
        return (parts.slot, *(one.replace(ANY, parts.name) for one in doubled))
    return tuple(one.replace(ANY, parts.name) for one in above)


def _below(parts: _Parts) -> tuple[str, ...]:
    below = data().below[parts.slot]
    return tuple(one.replace(ANY, parts.name) for one in below if ANY in one) if parts.name else below


def _keyed(parts: _Parts) -> tuple[str, ...]:
    """The same with a key, one step more exact."""
    suffixes = data().keys.get(parts.slot, ("", ()))[1]
    longer = [s for s in suffixes if s.startswith(parts.key) and s != parts.key]
    one_step = [s for s in longer if len(s) == len(parts.key) + 1 or s[len(parts.key) :].startswith("(")]
    return tuple(f"{parts.base}(+{suffix})" for suffix in one_step)


def _text(parts: _Parts) -> str:
    known = data()
    if parts.name:
        text, name = known.texts[parts.slot], parts.name.strip("()").lower()
        named = _WITH_NAME.sub("", text)
        return f"{named}: {name}"
    if parts.base in known.texts:
        return known.texts[parts.base]
    # Five notations lack words in the data: those of what they name, or stand under, are given.
    above = known.above[parts.base][0]
    name = name_of(parts.base).strip("()").lower()
    words = _WITH_NAME.sub("", known.texts[above])
    return f"{words}: {name}" if name and parts.base.endswith(")") else words
