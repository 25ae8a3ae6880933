"""Finding the names of things in plain words: whole words, simple plurals, and hyphens, spaces or neither between them.

"Safety pins", "safety-pin" and "safetypin" are one name. A name that a negation stands right before ("no zip",
"without a zip", "no button or zip") is passed over; a comma or a full stop ends what a negation reaches. These rules
are ours, for English.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator

LONGEST_NAME = 8  # words looked at together

_CLAUSE = re.compile(r"[^.,;:!?()\[\]\n–—]+")
_WORD = re.compile(r"[^\W_]+")
_NEGATIONS = frozenset("no not nor neither never without".split())
_ARTICLES = frozenset("a an the any".split())
_NEGATING_PAIRS = frozenset((("instead", "of"), ("rather", "than")))


def key(name: str) -> str:
    """The form in which two spellings of one name are equal: singular words without anything between them.

    >>> key("Safety pins") == key("safety-pin") == key("safetypin")
    True
    """
    return "".join(singular(word) for word, _, _ in _words(name))


def singular(word: str) -> str:
    """An English plural's singular where a simple rule makes it; else the word as it is.

    >>> [singular(w) for w in ("braces", "matches", "glass", "gas", "dyes", "batteries")]
    ['brace', 'match', 'glass', 'gas', 'dye', 'battery']
    """
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "sses", "xes", "zzes")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


def found(text: str, keys: Iterable[str]) -> dict[str, str]:
    """Which of the names stand in the text: from key to the words as written, the first place of each."""
    wanted = frozenset(keys)
    places: dict[str, str] = {}
    for clause in _CLAUSE.finditer(text):
        words = list(_words(clause[0]))
        for first in range(len(words)):
            joined = ""
            for last in range(first, min(first + LONGEST_NAME, len(words))):
                joined += singular(words[last][0])
                if joined in wanted and joined not in places and not _negated([w for w, _, _ in words[:first]]):
                    places[joined] = clause[0][words[first][1] : words[last][2]]
    return places


def mentions(text: str, words: str) -> bool:
    """Whether every one of the words begins a word of the text; case, accents and plurals do not matter.

    >>> mentions("paraffin lamp; kerosene lamp", "lamps kero")
    True
    """
    there = [word for word, _, _ in _words(text)]
    return all(any(one.startswith(singular(word)) for one in there) for word, _, _ in _words(words))


def phrases(text: str) -> Iterator[str]:
    """The sentences of a text, and the parts that a colon or semicolon divides, but for those that begin by denying."""
    for part in re.split(r"(?<=[.!?])\s+|[;:\n]", text):
        plain = " ".join(part.split()).rstrip(".")
        words = [word for word, _, _ in _words(plain)]
        if words and words[0] not in _NEGATIONS:
            yield plain


def _negated(before: list[str]) -> bool:
    """Whether a negation stands right before: articles and the other half of an "or" between them do not count."""
    plain = [word for word in before if word not in _ARTICLES]
    while plain and plain[-1] == "or":
        del plain[-2:]
    near = plain[-2:]
    if near == ["not", "only"]:
        return False
    return bool(_NEGATIONS & set(near)) or tuple(near) in _NEGATING_PAIRS


def _words(text: str) -> Iterator[tuple[str, int, int]]:
    """Words without case, accents or apostrophes, and where each stands in the text."""
    for word in re.finditer(r"[^\W_]+(?:['’][^\W_]+)*", text):
        plain = unicodedata.normalize("NFKD", word[0].casefold())
        yield "".join(_WORD.findall(plain)), word.start(), word.end()
