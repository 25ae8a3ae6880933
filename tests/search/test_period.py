"""Stretches of days: whether they meet and how far apart they are."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.search.period import gap_days, gap_words, overlaps

ends = st.one_of(st.none(), st.integers(-400, 400))
spans = st.tuples(ends, ends).filter(lambda s: s[0] is None or s[1] is None or s[0] <= s[1])


def members(span: tuple[int | None, int | None]) -> set[int]:
    first, last = span
    return set(range(-500 if first is None else first, (500 if last is None else last) + 1))


@settings(deadline=None)
@given(spans, spans)
def test_overlap_is_a_common_day(a: tuple, b: tuple) -> None:
    assert overlaps(a, b) == bool(members(a) & members(b))
    assert overlaps(a, b) == overlaps(b, a)


@settings(deadline=None)
@given(spans, spans)
def test_a_gap_is_the_smallest_move_that_makes_them_meet(a: tuple, b: tuple) -> None:
    gap = gap_days(a, b)
    assert gap == -gap_days(b, a)
    moved = tuple(None if end is None else end - gap for end in a)
    assert overlaps(moved, b)
    if gap:
        step = 1 if gap > 0 else -1
        assert not overlaps(tuple(None if end is None else end - gap + step for end in a), b)


def test_open_ends_meet_everything_on_their_side() -> None:
    assert overlaps((None, None), (None, None))
    assert overlaps((None, 10), (10, None))
    assert not overlaps((None, 9), (10, None))


def day(text: str) -> int:
    return datetime.date.fromisoformat(text).toordinal()  # any count of days will do


@pytest.mark.parametrize(
    ("a", "b", "words"),
    [
        (("1883-01-01", "1883-12-31"), ("1868-01-01", "1871-01-01"), "12 years after the period"),
        (("1855-01-01", "1855-12-31"), ("1868-01-01", "1874-12-31"), "12 years before the period"),
        (("1871-02-02", "1871-02-02"), ("1871-01-01", "1871-02-01"), "1 day after the period"),
        (("1871-03-01", "1871-03-01"), ("1871-01-01", "1871-02-01"), "28 days after the period"),
        (("1872-02-01", "1872-02-01"), ("1871-01-01", "1871-02-01"), "12 months after the period"),
        (("1871-02-01", "1871-02-01"), ("1871-01-01", "1871-02-01"), ""),
    ],
)
def test_gaps_in_words(a: tuple[str, str], b: tuple[str, str], words: str) -> None:
    assert gap_words((day(a[0]), day(a[1])), (day(b[0]), day(b[1]))) == words
