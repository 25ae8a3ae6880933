"""Whatever is typed becomes a well-formed full-text query: checked against SQLite's own FTS5."""

from __future__ import annotations

import sqlite3
import unicodedata

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from refarchive.search.words import MOST_TERMS, match_words

TEXTS = [
    "The pilot boat crossed the sands at low water.",
    "A boat for the pilot, tarred black.",
    "Oilskin coat, buttoned high; sou'wester.",
    "Oil skin apron AND cap; don't NEAR the fire.",
    "Crème brûlée; ſalt; naïve £5 — 1871",
    "हिन्दी किताब",
]


@pytest.fixture(scope="module")
def table():
    connection = sqlite3.connect(":memory:")
    connection.execute("CREATE VIRTUAL TABLE t USING fts5(text, tokenize = 'porter unicode61 remove_diacritics 2')")
    connection.executemany("INSERT INTO t VALUES (?)", [(unicodedata.normalize("NFKC", text),) for text in TEXTS])
    yield connection
    connection.close()


def found(table: sqlite3.Connection, words: str) -> list[int]:
    match = unicodedata.normalize("NFKC", match_words(words))
    rows = table.execute("SELECT rowid FROM t WHERE t MATCH ? ORDER BY bm25(t)", (match,)) if match else []
    return [row[0] - 1 for row in rows]


@settings(max_examples=400, deadline=None)
@given(st.text() | st.text(alphabet="\"'“”*^:()+-{}ANDORNEARtheab0,\0 ＂\ud800ſ—/\\_", max_size=60))
@example('"')
@example('a"b')
@example("NEAR(a b, 3)")
@example("text : a* AND NOT ^b")
@example("\0a\0")
@example("＂open")
@example("\ud800x")
def test_never_a_syntax_error(table, words):
    match = unicodedata.normalize("NFKC", match_words(words))
    if match:
        table.execute("SELECT count(*) FROM t WHERE t MATCH ?", (match,)).fetchone()
    searchable = any(unicodedata.category(c)[0] in "LN" for c in unicodedata.normalize("NFKC", words))
    assert bool(match) == searchable


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(TEXTS), st.data())
def test_every_word_of_a_text_finds_it(table, text, data):
    words = [w for w in text.split() if any(unicodedata.category(c)[0] in "LN" for c in w)]
    assert TEXTS.index(text) in found(table, data.draw(st.sampled_from(words)))


def test_any_word_is_enough_and_more_words_rank_higher(table):
    assert found(table, "a tarred boat with a purple funnel")[0] == 1
    assert set(found(table, "pilot purple")) == {0, 1}


def test_quotation_marks_make_a_phrase(table):
    assert found(table, '"pilot boat"') == [0]
    assert found(table, "“pilot boat”") == [0]
    assert set(found(table, '"pilot boat')) == {0, 1}  # never closed: plain words


def test_operators_and_punctuation_are_literal(table):
    assert match_words("NEAR") == '"NEAR"'
    assert found(table, "NEAR") == [3]
    assert match_words("coat* ^cap (x:y)") == '"coat" OR "cap" OR "x" OR "y"'
    assert match_words("a AND the") == '"a" OR "AND" OR "the"'  # only common words: they are all there is
    assert found(table, "don't") == [3]


def test_hyphenated_words_find_both_spellings_in_two_words(table):
    assert 3 in found(table, "oil-skin")
    assert 2 in found(table, "oilskin")


def test_accents_and_old_letters_fold(table):
    assert found(table, "creme") == found(table, "Crème") == found(table, "salt") == [4]
    assert found(table, "हिन्दी") == [5]


@pytest.mark.parametrize("words", ["", "   ", "!!! — …", '""', "*", "\0", "😀", "'"])
def test_nothing_searchable_gives_nothing(words):
    assert match_words(words) == ""


def test_a_very_long_description_is_bounded(table):
    match = match_words(" ".join(f"word{n}" for n in range(5000)) * 100)
    assert match.count(" OR ") == MOST_TERMS - 1
    table.execute("SELECT count(*) FROM t WHERE t MATCH ?", (match,)).fetchone()


def test_a_word_given_twice_counts_once():
    assert match_words("Boat boat BOAT sea boat") == '"Boat" OR "sea"'
