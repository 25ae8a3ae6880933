"""Which notations fit a caption: by Iconclass's own keywords and words first, then by the meaning of the sentence.

Each word of the caption is looked up by itself (SQLite's FTS5 with Porter's stemmer, so that "carried" finds
"carrying") and counts by BM25: a rare word more than a common one, a keyword more than a word of the notation's text,
both together most, and the higher a notation stands the more. A suggestion takes its words away from those after it, so
that a caption of three things is not answered with one of them five times. A plain parent that answers to the same
words comes before what lies beneath it. Bible, literature, mythology and
Christian religion, classes 7 to 9 and 11, and doubled letters, are held back: a staged scene of daily life rarely means
them. The weights are common sense, no source; how well they do is measured in the tests.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from refarchive.errors import BadQuery
from refarchive.subjects.data import ANY, data
from refarchive.subjects.tree import Notation, all_above, notation

Encode = Callable[[Sequence[str]], Any]  # texts -> unit vectors, one row each

MOST_WORDS = 60  # of a caption, each of them one look-up
CANDIDATES = 60  # reach the second, slower look by sentence vectors
PER_WORD = 400

_KEYWORD_WEIGHT, _TEXT_WEIGHT = 3.0, 1.0
_IN_TEXT = 0.5  # what a word of the text is worth beside a keyword
_DEEPER = 0.06  # taken off for each character of a notation beyond the first three
_HELD_BACK = 0.4  # Bible, literature, mythology, saints
_DOUBLED = 0.6  # female, fabulous, ideal, contrary
_AGAIN = 0.35  # what a word is worth after a suggestion has answered to it
_MEANING = 1.0  # weight of the sentence vectors beside that of the words, both from 0 to 1

_EMPTY_WORDS = frozenset(
    "a about above after all along among an and are as at be before behind being below beneath beside between but by "
    "down for from had has have he her here hers him his in into is it its last near no nor not of off on one onto or "
    "other out over own past she so some such than that the their them then there these they this those three through "
    "to two under up upon was were when where which while who whose with within without".split()
)


@dataclass(frozen=True)
class Suggestion:
    """A notation proposed, and why: `words` of the caption it answered to, `meaning` the cosine of the sentences (None
    where no sentence vectors were asked for), `because` in one sentence. `score` only orders what one caption is given.
    """

    notation: Notation
    score: float
    words: tuple[str, ...]
    meaning: float | None
    because: str


@dataclass
class _Candidate:
    code: str
    by_keyword: dict[str, float]  # word of the caption -> its worth
    by_text: dict[str, float]
    factor: float
    meaning: float | None = None

    @property
    def words(self) -> frozenset[str]:
        return frozenset(self.by_keyword) | frozenset(self.by_text)

    def worth(self, left: dict[str, float]) -> float:
        """By words alone; `left` says what each word is still worth."""
        found = [*self.by_text.items(), *self.by_keyword.items()]
        return self.factor * sum(worth * left.get(word, 1.0) for word, worth in found)


def suggest(text: str, top: int = 10, encode: Encode | None = None) -> list[Suggestion]:
    """Notations for a caption or a query, best first, each with its reason; none where no word is known to Iconclass.

    `encode` turns texts into unit vectors (rows), and then what the words found is put in order by meaning as well.

    Raises BadQuery for `top` under 1, and SubjectsUnavailable.
    """
    if top < 1:
        raise BadQuery("Fewer than one suggestion was asked for.", "Ask for at least one.")
    candidates = _candidates(_words(text))
    if not candidates:
        return []
    best = sorted(candidates.values(), key=lambda c: (-c.worth({}), len(c.code), c.code))[: max(CANDIDATES, top)]
    pool = {candidate.code: candidate for candidate in best}
    for candidate in best:  # a parent that answers to the same words is a candidate, however it scored
        pool |= {code: candidates[code] for code in _plainer(candidate, candidates)}
    if encode is not None:
        _weigh_meaning(text, list(pool.values()), encode)
    return _chosen(pool, top)


def _words(text: str) -> list[str]:
    found = re.findall(r"[^\W\d_]+(?:['’][^\W\d_]+)?", text.casefold())
    plain = [word.partition("'")[0].partition("’")[0] for word in found]
    return list(dict.fromkeys(w for w in plain if len(w) > 1 and w not in _EMPTY_WORDS))[:MOST_WORDS]


@cache
def _index() -> sqlite3.Connection:
    """Keywords and words of every notation that can be suggested, in memory: no names to be filled in, no keys."""
    known = data()
    connection = sqlite3.connect(":memory:", check_same_thread=False)
    connection.execute("CREATE VIRTUAL TABLE notation USING fts5 (code UNINDEXED, keywords, text, tokenize='porter')")
    connection.executemany(
        "INSERT INTO notation VALUES (?, ?, ?)",
        (
            (code, "; ".join(known.keywords.get(code, ())), known.texts.get(code, ""))
            for code in known.below
            if ANY not in code
        ),
    )
    return connection


def _candidates(words: Sequence[str]) -> dict[str, _Candidate]:
    found: dict[str, _Candidate] = {}
    for word in words:
        for column in ("keywords", "text"):
            rows = _index().execute(
                "SELECT code, -bm25(notation, 0.0, ?, ?) AS worth FROM notation WHERE notation MATCH ? "
                "ORDER BY worth DESC, length(code), code LIMIT ?",
                (_KEYWORD_WEIGHT, _TEXT_WEIGHT, f'{column}: "{word}"', PER_WORD),
            )
            for code, worth in rows.fetchall():
                candidate = found.setdefault(code, _Candidate(code, {}, {}, _factor(code)))
                if column == "keywords":
                    candidate.by_keyword[word] = worth
                else:
                    candidate.by_text[word] = worth * _IN_TEXT
    return found


def _factor(code: str) -> float:
    doubled = _DOUBLED if re.match(r"\d\d?([A-Z])\1", code) else 1.0
    deeper = 1.0 / (1.0 + _DEEPER * max(0, len(code.partition("(")[0]) - 3))
    return deeper * doubled * (_HELD_BACK if code[0] in "789" or code.startswith("11") else 1.0)


def _plainer(candidate: _Candidate, candidates: dict[str, _Candidate]) -> list[str]:
    """What stands above a candidate and answers to every one of its words, the highest first."""
    above = [c for c in all_above(candidate.code) if c in candidates and candidates[c].words >= candidate.words]
    return sorted(above, key=len)


def _weigh_meaning(text: str, candidates: Sequence[_Candidate], encode: Encode) -> None:
    known = data()
    texts = [known.texts.get(candidate.code, candidate.code) for candidate in candidates]
    vectors = encode([text, *texts])
    for candidate, vector in zip(candidates, vectors[1:], strict=True):
        candidate.meaning = float(sum(float(a) * float(b) for a, b in zip(vectors[0], vector, strict=True)))


def _chosen(pool: dict[str, _Candidate], top: int) -> list[Suggestion]:
    left: dict[str, float] = {}  # what each word is still worth
    most = max(candidate.worth(left) for candidate in pool.values())

    def score(candidate: _Candidate) -> float:
        meaning = max(candidate.meaning or 0.0, 0.0) * candidate.factor
        return candidate.worth(left) / most + _MEANING * meaning

    waiting, chosen = dict(pool), list[Suggestion]()
    while waiting and len(chosen) < top:
        best = min(waiting.values(), key=lambda c: (-score(c), len(c.code), c.code))
        best = next((waiting[code] for code in _plainer(best, waiting)), best)
        chosen.append(_suggestion(best, score(best)))
        del waiting[best.code]
        for word in best.words:
            left[word] = left.get(word, 1.0) * _AGAIN
    return chosen


def _suggestion(candidate: _Candidate, score: float) -> Suggestion:
    told = []
    if candidate.by_keyword:
        told.append(f"{_listed(candidate.by_keyword)} among its keywords")
    if only := [word for word in candidate.by_text if word not in candidate.by_keyword]:
        told.append(f"{_listed(only)} in its words")
    if candidate.meaning is not None:
        told.append(f"likeness of meaning {candidate.meaning:.2f}")
    because = f"{'; '.join(told)}."
    words = tuple(sorted(candidate.words))
    return Suggestion(notation(candidate.code), round(score, 4), words, candidate.meaning, because)


def _listed(words: Sequence[str] | dict[str, float]) -> str:
    return " and ".join(f"“{word}”" for word in words)
