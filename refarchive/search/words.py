"""A person's words as a query of SQLite's full-text search (FTS5). Whatever was typed, the query is well formed."""

from __future__ import annotations

import re
import unicodedata

MOST_TERMS = 200  # distinct terms of one query; a longer description is cut there
MOST_CHARACTERS = 20_000

# Words that stand in nearly every English text and tell nothing apart (common practice, no source). They are left out
# where other words remain; within quotation marks they stay.
COMMON = frozenset(
    re.findall(
        "[a-z]+",
        "a an and are as at be been but by for from had has have he her his i in into is it its of on or she so than "
        "that the their them then there these they this those to was were which who whose will with",
    )
)

_QUOTED = re.compile(r"[\"“”„«»]([^\"“”„«»]*)[\"“”„«»]")
_APOSTROPHES, _HYPHENS = "'’", "-‐‑"


def match_words(text: str) -> str:
    """Any of the words, as an FTS5 MATCH expression; best matches first is left to BM25. "" for nothing searchable.

    Words within quotation marks are one phrase. A word joined by hyphens is looked for as a phrase and by its parts.
    Everything else (AND, NEAR, *, :, ^, brackets, NUL) is literal text or parts words.

    >>> match_words('the wet "pilot boat" AND oil-skin')
    '"pilot boat" OR "wet" OR "oil skin" OR "oil" OR "skin"'
    """
    # The store folds both sides by NFKC, which may turn a wide character into a quotation mark: do it before quoting.
    text = unicodedata.normalize("NFKC", text[:MOST_CHARACTERS])
    terms = [" ".join(_parts(quoted)) for quoted in _QUOTED.findall(text)]
    common: list[str] = []
    for word in _QUOTED.sub(" ", text).split():
        for piece in _pieces(word):
            parts = _parts(piece)
            if len(parts) == 1:
                (common if parts[0].casefold() in COMMON else terms).append(parts[0])
            else:
                terms.append(" ".join(parts))
                if not any(mark in piece for mark in _APOSTROPHES):
                    terms += [part for part in parts if len(part) > 1 and part.casefold() not in COMMON]
    distinct: dict[str, str] = {}
    for term in [term for term in terms if term] or common:
        distinct.setdefault(term.casefold(), term)
    return " OR ".join(f'"{term}"' for term in list(distinct.values())[:MOST_TERMS])


def _is_of_words(character: str) -> bool:
    return unicodedata.category(character)[0] in "LNM"


def _pieces(word: str) -> list[str]:
    """What stands between separators, joined words whole: "wet/oil-skin" gives "wet" and "oil-skin"."""
    kept = "".join(c if _is_of_words(c) or c in _APOSTROPHES + _HYPHENS else " " for c in word)
    return [piece for piece in kept.split() if _parts(piece)]


def _parts(text: str) -> list[str]:
    """The words of a text, parted at everything that is neither letter, figure nor a mark upon one."""
    found = "".join(c if _is_of_words(c) else " " for c in text).split()
    return [part for part in found if any(unicodedata.category(c)[0] in "LN" for c in part)]
