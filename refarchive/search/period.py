"""Whether two stretches of days meet, and how far apart they are. Pure functions on Julian day numbers.

A span is `(first, last)`, both inclusive; None means open at that end.
"""

from __future__ import annotations

Span = tuple[int | None, int | None]

DAYS_PER_YEAR = 365.2425  # mean Gregorian year
DAYS_PER_MONTH = DAYS_PER_YEAR / 12


def overlaps(a: Span, b: Span) -> bool:
    """Whether the spans share at least one day.

    >>> overlaps((10, 20), (20, None)), overlaps((10, 20), (21, None))
    (True, False)
    """
    return gap_days(a, b) == 0


def gap_days(a: Span, b: Span) -> int:
    """How many days `a` lies outside `b`: positive after it, negative before it, 0 where they share a day.

    Days next to each other are 1 apart.

    >>> gap_days((30, 40), (10, 20)), gap_days((1, 2), (10, 20)), gap_days((15, 99), (10, 20))
    (10, -8, 0)
    """
    (a_first, a_last), (b_first, b_last) = a, b
    if a_first is not None and b_last is not None and a_first > b_last:
        return a_first - b_last
    if a_last is not None and b_first is not None and a_last < b_first:
        return a_last - b_first
    return 0


def gap_words(a: Span, b: Span) -> str:
    """The gap in words, such as "12 years after the period"; "" where the spans share a day.

    Rounded to whole years from two years on, to months from two months on, else days.

    >>> gap_words((30, 40), (10, 20))
    '10 days after the period'
    """
    gap = gap_days(a, b)
    if gap == 0:
        return ""
    length = abs(gap)
    if length >= 2 * DAYS_PER_YEAR:
        number, unit = round(length / DAYS_PER_YEAR), "year"
    elif length >= 2 * DAYS_PER_MONTH:
        number, unit = round(length / DAYS_PER_MONTH), "month"
    else:
        number, unit = length, "day"
    side = "after" if gap > 0 else "before"
    return f"{number} {unit}{'' if number == 1 else 's'} {side} the period"
