"""Days in the Julian and the Gregorian calendar, and dates as England and Russia wrote them before their change.

Every day has one Julian day number, and that is what the archive counts in. `julian_day` and `calendar_date` know the
two calendars by rule, for any year. `convert` and `as_written` know two countries besides:

* England (with Wales, Scotland, Ireland and the colonies): Julian to Wednesday 2 September 1752, Gregorian from
  Thursday 14 September, by the Calendar (New Style) Act 1750. By the same Act the year, which had begun on 25 March,
  began on 1 January from 1752, so that the year 1751 ran from 25 March to 31 December only. (In Scotland it had begun
  on 1 January since 1600.)
* Russia: Julian to 31 January 1918, Gregorian from 14 February, by the decree of the Council of People's Commissars of
  24 January 1918 (Julian).

A date between 1 January and 24 March was often written with both years, "11 February 1731/2": the English year and the
year from 1 January. `OldStyle` keeps a date as it was written beside the days that it stands for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from refarchive.errors import BadDate

Calendar = Literal["gregorian", "julian"]
Reckoning = Literal["gregorian", "julian", "england", "russia"]
YearBegins = Literal["1 January", "25 March"]
Date = tuple[int, int, int]  # year (astronomical), month, day

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

NEXT_STEP = (
    "Write it as EDTF (1871, 1871-02-03, 186X, 1870~, 1869/1871, ../1856) or plainly (3 February 1871, c. 1870, "
    "winter 1870/71, Michaelmas 1869, 11 February 1731/2)."
)


@dataclass(frozen=True)
class Change:
    """The day on which a country left the Julian calendar for the Gregorian."""

    country: str
    last_julian: Date
    first_gregorian: Date


CHANGES: dict[str, Change] = {
    "england": Change("England", (1752, 9, 2), (1752, 9, 14)),
    "russia": Change("Russia", (1918, 1, 31), (1918, 2, 14)),
}
_NEW_YEAR_MOVED = 1752  # in England: the first year that began on 1 January


def is_leap(year: int, calendar: Calendar = "gregorian") -> bool:
    """Whether an astronomical year (0 is 1 BCE) has a 29 February."""
    if calendar == "julian":
        return year % 4 == 0
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def days_in_month(year: int, month: int, calendar: Calendar = "gregorian") -> int:
    """Length of a month [days]; `month` is 1–12."""
    if month == 2:
        return 29 if is_leap(year, calendar) else 28
    return 30 if month in (4, 6, 9, 11) else 31


def julian_day(year: int, month: int, day: int, calendar: Calendar = "gregorian") -> int:
    """Julian day number of a calendar day: the integer that its Julian date has at noon.

    Years are astronomical: 0 is 1 BCE, -1 is 2 BCE. Integers throughout, so every year is exact.

    Raises
    ------
    BadDate
        where the calendar has no such day.

    >>> julian_day(1957, 10, 4)  # Meeus, Astronomical Algorithms, ch. 7: 1957 October 4.81 is JD 2436116.31
    2436116
    """
    if not 1 <= month <= 12 or not 1 <= day <= days_in_month(year, month, calendar):
        raise BadDate(
            f"There is no day {year:04d}-{month:02d}-{day:02d} in the {calendar.title()} calendar.", NEXT_STEP
        )
    # Count in years that begin on 1 March, so that the leap day comes last.
    shifted = year - 1 if month < 3 else year
    day_of_year = (153 * ((month + 9) % 12) + 2) // 5 + day - 1
    days = 365 * shifted + shifted // 4 + day_of_year
    if calendar == "julian":
        return days + 1721118
    return days - shifted // 100 + shifted // 400 + 1721120


def calendar_date(jdn: int, calendar: Calendar = "gregorian") -> tuple[int, int, int]:
    """Year (astronomical), month and day of a Julian day number.

    >>> calendar_date(2361221, "julian"), calendar_date(2361221)
    ((1752, 9, 2), (1752, 9, 13))
    """
    if calendar == "julian":
        cycle, rest = divmod(jdn - 1721118, 1461)
        year_of_cycle = min(rest // 365, 3)
        year, day_of_year = 4 * cycle + year_of_cycle, rest - 365 * year_of_cycle
    else:
        cycle, rest = divmod(jdn - 1721120, 146097)
        year_of_cycle = (rest - rest // 1460 + rest // 36524 - rest // 146096) // 365
        year = 400 * cycle + year_of_cycle
        day_of_year = rest - (365 * year_of_cycle + year_of_cycle // 4 - year_of_cycle // 100)
    shifted_month = (5 * day_of_year + 2) // 153
    day = day_of_year - (153 * shifted_month + 2) // 5 + 1
    month = shifted_month + 3 if shifted_month < 10 else shifted_month - 9
    return (year + 1 if month < 3 else year), month, day


def iso_day(jdn: int) -> str:
    """A Julian day number as YYYY-MM-DD, proleptic Gregorian; years before 1 CE as astronomical years (-0043)."""
    year, month, day = calendar_date(jdn)
    sign = "-" if year < 0 else "+" if year > 9999 else ""
    return f"{sign}{abs(year):04d}-{month:02d}-{day:02d}"


def weekday(jdn: int) -> str:
    """Name of the day of the week of a Julian day number, the same in both calendars.

    >>> weekday(2434924)  # Meeus, Astronomical Algorithms, ch. 7: 1954 June 30 was a Wednesday
    'Wednesday'
    """
    return WEEKDAYS[jdn % 7]


def day_words(jdn: int, calendar: Calendar = "gregorian") -> str:
    """A Julian day number as "3 February 1871"; years before 1 CE as "15 March 44 BC"."""
    year, month, day = calendar_date(jdn, calendar)
    return f"{day} {MONTHS[month - 1]} {year_words(year)}"


def year_words(year: int) -> str:
    """An astronomical year as people write it: "1871", "44 BC"."""
    return str(year) if year > 0 else f"{1 - year} BC"


# -- dates as they were written --------


def convert(year: int, month: int, day: int, *, calendar: Reckoning, year_begins: YearBegins = "1 January") -> int:
    """Julian day number of a date as it was written.

    Parameters
    ----------
    year
        The year as written, astronomical (0 is 1 BCE); of a date with two years, the first.
    month, day
        As written; `month` is 1–12.
    calendar
        "gregorian" or "julian" by rule, "england" or "russia" with that country's change.
    year_begins
        The day on which the writer's year began. With "25 March", 24 March 1731 is the day before 25 March 1732. In
        "england" it holds up to 1751, and years from 1752 on begin on 1 January.

    Raises
    ------
    BadDate
        where there was no such day: no such day of the month, a day that the change left out, or a day between
        1 January and 24 March 1751 in England with the year beginning on 25 March.

    >>> convert(1731, 2, 11, calendar="england", year_begins="25 March") == julian_day(1732, 2, 22)
    True
    """
    if calendar not in ("gregorian", "julian", *CHANGES) or year_begins not in ("1 January", "25 March"):
        raise BadDate(
            f"There is no calendar “{calendar}” with a year beginning on {year_begins}.",
            "Name gregorian, julian, england or russia, and 1 January or 25 March.",
        )
    if year_begins == "25 March" and (month, day) < (3, 25) and not (calendar == "england" and year >= _NEW_YEAR_MOVED):
        if calendar == "england" and year == _NEW_YEAR_MOVED - 1:
            raise BadDate(
                f"There was no {_shown(year, month, day)} in England: 1751 began on 25 March and ended on 31 December.",
                "Write 1750/1 or 1752 for the year, whichever is meant.",
            )
        year += 1
    if calendar == "gregorian" or calendar == "julian":
        return julian_day(year, month, day, calendar)
    change = CHANGES[calendar]
    if (year, month, day) <= change.last_julian:
        return julian_day(year, month, day, "julian")
    if (year, month, day) < change.first_gregorian:
        raise BadDate(
            f"There was no {_shown(year, month, day)} in {change.country}: {_shown(*change.last_julian)} was followed "
            f"by {_shown(*change.first_gregorian)}.",
            "Write which calendar is meant, Julian or Gregorian, after the date.",
        )
    return julian_day(year, month, day)


def as_written(jdn: int, *, calendar: Reckoning, year_begins: YearBegins = "1 January") -> Date:
    """Year, month and day that a Julian day number was written with: the other way round from `convert`.

    >>> as_written(julian_day(1752, 9, 13), calendar="england")
    (1752, 9, 2)
    """
    if calendar == "gregorian" or calendar == "julian":
        year, month, day = calendar_date(jdn, calendar)
    else:
        change = CHANGES[calendar]
        year, month, day = calendar_date(jdn, "gregorian" if jdn >= julian_day(*change.first_gregorian) else "julian")
    moved = calendar == "england" and year >= _NEW_YEAR_MOVED
    if year_begins == "25 March" and (month, day) < (3, 25) and not moved:
        year -= 1
    return year, month, day


@dataclass(frozen=True)
class OldStyle:
    """A date as it was written in another reckoning than today's, and the days that it stands for.

    `month` and `day` are None where only the year, or only the month, was written. With `both_years` the date was
    written with two years (1731/2), and `year` is the first of them.
    """

    year: int
    month: int | None = None
    day: int | None = None
    calendar: Reckoning = "julian"
    year_begins: YearBegins = "1 January"
    both_years: bool = False

    @property
    def days(self) -> tuple[int, int]:
        """First and last Julian day number.

        Raises
        ------
        BadDate
            where there was no such day, or where both years are written of a date that has only one.
        """
        if self.both_years and (self.month is None or (self.month, self.day or 1) >= (3, 25)):
            raise BadDate(
                f"“{self}” has two years, which only days from 1 January to 24 March can have.",
                "Write the one year that the day lies in.",
            )
        if self.day is not None and self.month is not None:
            only = self._number(self.month, self.day)
            return only, only
        if self.month is not None:
            if self.month == 3 and self.year_begins == "25 March" and not self._from_january and not self.both_years:
                raise BadDate(
                    f"“{self}” can mean the days from 25 March on or those before 25 March a year later.",
                    "Write the day too, or both years for the days up to 24 March.",
                )
            last = 24 if self.both_years and self.month == 3 else 31
            return self._existing([(self.month, day) for day in range(1, last + 1)])
        from_january = self.year_begins == "1 January" or self._from_january
        ends = [(1, 1), (12, 31)] if from_january else [(3, 25), (12, 31), (3, 24)]
        return self._existing(ends)

    @property
    def _from_january(self) -> bool:
        return self.calendar == "england" and self.year >= _NEW_YEAR_MOVED

    def _number(self, month: int, day: int) -> int:
        year = self.year
        if self.both_years and self.calendar == "england":  # 1751/2 was written too, though 1751 had ended
            return convert(year + 1, month, day, calendar="england")
        return convert(year, month, day, calendar=self.calendar, year_begins=self.year_begins)

    def _existing(self, days: list[tuple[int, int]]) -> tuple[int, int]:
        numbers = []
        problem: BadDate | None = None
        for month, day in days:
            try:
                numbers.append(self._number(month, day))
            except BadDate as none_such:
                problem = problem or none_such
        if not numbers:
            raise problem or BadDate(f"There was no “{self}”.", NEXT_STEP)
        return min(numbers), max(numbers)

    def __str__(self) -> str:
        year = year_words(self.year)
        if self.both_years:  # 1731/2, 1709/10, 1699/1700
            following = self.year + 1
            year += f"/{following if following % 100 == 0 else following % (10 if following % 10 else 100)}"
        month = (
            "" if self.month is None else f"{MONTHS[self.month - 1]} " if 1 <= self.month <= 12 else f"{self.month} "
        )
        return f"{'' if self.day is None else f'{self.day} '}{month}{year}"


def _shown(year: int, month: int, day: int) -> str:
    return f"{day} {MONTHS[month - 1] if 1 <= month <= 12 else month} {year_words(year)}"
