"""Instants, stretches of time and local days as numbers, and the checks of what a person gives.

An instant is a number: seconds of universal time since 1970-01-01 00:00, days of 86 400 s, negative before. Years far
outside what `datetime` and pandas hold can be counted so. Dates are Gregorian, also before 1582; years are
astronomical (−43 is 44 BCE). Year 0 is refused, because 0000 is what an unset date looks like.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from refarchive.errors import SiteRefused

Array = NDArray[np.float64]
Date = date | str | tuple[int, int, int]
TimeOfDay = time | str

DAY_S = 86_400.0
FIRST_YEAR, LAST_YEAR = -2000, 6000  # of the solar position algorithm (Reda & Andreas 2004)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DATE = re.compile(r"([-−]?\d{1,4})-(\d{1,2})-(\d{1,2})")
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d+)?))?")


# -- what a person gives --------


def number(value: object, field: str, least: float, most: float, unit: str) -> float:
    """A finite number between `least` and `most`, both included.

    Raises
    ------
    SiteRefused
        where it is not; `field` names the value.
    """
    try:
        found = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        found = math.nan
    if isinstance(value, bool) or not math.isfinite(found):
        raise SiteRefused(f"{field}: “{value}” is not a number.", f"Give {least:g} to {most:g} {unit}.", field=field)
    if not least <= found <= most:
        raise SiteRefused(
            f"{field}: {found:g} lies outside {least:g} to {most:g} {unit}.".replace("-", "−"),
            f"Give {least:g} to {most:g} {unit}.".replace("-", "−"),
            field=field,
        )
    return found


def latitude_deg(value: object, field: str = "latitude") -> float:
    """A latitude [°], north positive."""
    return number(value, field, -90, 90, "degrees, north positive")


def longitude_deg(value: object, field: str = "longitude") -> float:
    """A longitude [°], east positive."""
    return number(value, field, -180, 180, "degrees, east positive")


def year_month_day(day: Date, field: str = "date") -> tuple[int, int, int]:
    """Year, month and day of a date given as a `date`, as 1871-02-03, or as three whole numbers.

    Raises
    ------
    SiteRefused
        where there is no such day, or its year is 0 or outside −2000 to 6000.
    """
    write = "Write it as year-month-day, such as 1871-02-03."
    if isinstance(day, datetime):
        raise SiteRefused(f"{field}: {day} is an instant, not a day.", "Give the day without a time.", field=field)
    if isinstance(day, date):
        parts: tuple[int, ...] = (day.year, day.month, day.day)
    elif isinstance(day, str):
        found = _DATE.fullmatch(day.strip())
        if not found:
            raise SiteRefused(f"{field}: “{day}” is not a day.", write, field=field)
        parts = tuple(int(part.replace("−", "-")) for part in found.groups())
    else:
        try:
            if any(isinstance(part, bool) or int(part) != part for part in day):
                raise ValueError
            parts = tuple(int(part) for part in day)
        except (TypeError, ValueError, OverflowError):
            parts = ()
        if len(parts) != 3:
            raise SiteRefused(f"{field}: “{day}” is not a year, a month and a day.", write, field=field)
    year, month, of_month = parts
    shown = f"{year:04d}-{month:02d}-{of_month:02d}"
    if year == 0:
        raise SiteRefused(f"{field}: {shown} has no year: 0000 stands for a date never set.", write, field=field)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise SiteRefused(
            f"{field}: {shown} lies outside the years −2000 to 6000.", "Give a year between them.", field=field
        )
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    lengths = (31, 29 if leap else 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    if not (1 <= month <= 12 and 1 <= of_month <= lengths[month - 1]):
        raise SiteRefused(f"{field}: there is no day {shown} in the Gregorian calendar.", write, field=field)
    return year, month, of_month


def day_start(day: Date, field: str = "date") -> float:
    """The instant at which a date begins in universal time [s since 1970].

    >>> day_start("1752-09-14") / 86400 + 2440587.5  # the first Gregorian day in England is JD 2361221.5
    2361221.5
    """
    year, month, of_month = year_month_day(day, field)
    shifted, of_year = year - (month < 3), (153 * ((month + 9) % 12) + 2) // 5 + of_month - 1
    days = 365 * shifted + shifted // 4 - shifted // 100 + shifted // 400 + of_year
    return DAY_S * (days - 719_468)


def seconds_of_day(clock: TimeOfDay, field: str = "time") -> float:
    """Seconds after midnight of a time of day given as a `time` or as 17:20 or 17:20:30.

    Raises
    ------
    SiteRefused
        where it is no time of day, or carries a zone of its own.
    """
    write = "Write it as hours and minutes, such as 17:20."
    if isinstance(clock, time):
        if clock.tzinfo is not None:
            raise SiteRefused(f"{field}: {clock} brings a zone of its own.", "Give the zone apart.", field=field)
        return clock.hour * 3600 + clock.minute * 60 + clock.second + clock.microsecond / 1e6
    found = _TIME.fullmatch(clock.strip()) if isinstance(clock, str) else None
    if not found:
        raise SiteRefused(f"{field}: “{clock}” is not a time of day.", write, field=field)
    hours, minutes, rest = int(found[1]), int(found[2]), float(found[3] or 0)
    if hours > 23 or minutes > 59 or rest >= 60:
        raise SiteRefused(
            f"{field}: there is no time {clock}.", "Give 00:00 to 23:59; 24:00 is 00:00 of the next day.", field=field
        )
    return hours * 3600 + minutes * 60 + rest


def instants(utc: object, field: str = "utc") -> Array:
    """Instants [s since 1970] of what was given: aware datetimes or seconds, one or an array of them, shape kept.

    Raises
    ------
    SiteRefused
        for a datetime without a zone, for what is no number, and outside the years −2000 to 6000.
    """
    step = "Give a datetime with a zone, or seconds of universal time since 1970."
    given = np.asarray(utc)
    if given.dtype.kind == "M":
        raise SiteRefused(f"{field}: numpy's times carry no zone.", step, field=field)
    if given.dtype.kind == "O":
        flat = [_seconds(one, field, step) for one in given.ravel().tolist()]
        given = np.array(flat, dtype=np.float64).reshape(given.shape)
    elif given.dtype.kind not in "iuf":
        raise SiteRefused(f"{field}: “{utc}” is not an instant.", step, field=field)
    found = given.astype(np.float64)
    if not np.isfinite(found).all():
        raise SiteRefused(f"{field}: an instant is not a finite number.", step, field=field)
    first, last = _reach()
    if found.size and not (first <= found.min() and found.max() < last):
        raise SiteRefused(
            f"{field}: the sun is reckoned only within the years −2000 to 6000.",
            "Give an instant in those years, in seconds (not milliseconds).",
            field=field,
        )
    return found


def instant(utc: object, field: str = "utc") -> float:
    """One instant [s since 1970]; refuses what `instants` refuses, and several."""
    found = instants(utc, field)
    if found.size != 1:
        raise SiteRefused(f"{field}: one instant is wanted, {found.size} were given.", "Give one.", field=field)
    return float(found.ravel()[0])


def _seconds(one: object, field: str, step: str) -> float:
    if isinstance(one, datetime):
        if one.tzinfo is None or one.utcoffset() is None:
            raise SiteRefused(f"{field}: {one} has no zone.", step, field=field)
        return (one - EPOCH).total_seconds()
    if isinstance(one, (int, float, np.integer, np.floating)) and not isinstance(one, bool):
        try:
            return float(one)
        except OverflowError:
            return math.inf
    raise SiteRefused(f"{field}: “{one}” is not an instant.", step, field=field)


def _reach() -> tuple[float, float]:
    # A day more at the end, so that a local day of the last year fits.
    return day_start((FIRST_YEAR, 1, 1)) - DAY_S, day_start((LAST_YEAR, 12, 31)) + 2 * DAY_S


# -- instants as words --------


def civil(utc: float) -> tuple[int, int, int, float]:
    """Year (astronomical), month, day and seconds after midnight of an instant, in universal time.

    >>> civil(0.0)
    (1970, 1, 1, 0.0)
    """
    days, rest = divmod(utc, DAY_S)
    cycle, of_cycle = divmod(int(days) + 719_468, 146_097)
    of = (of_cycle - of_cycle // 1460 + of_cycle // 36524 - of_cycle // 146096) // 365
    of_year = of_cycle - (365 * of + of // 4 - of // 100)
    shifted = (5 * of_year + 2) // 153
    month = shifted + 3 if shifted < 10 else shifted - 9
    return 400 * cycle + of + (month < 3), month, of_year - (153 * shifted + 2) // 5 + 1, rest


def written(utc: float) -> str:
    """An instant to the nearest second: 1783-09-03 11:49:44 UT."""
    year, month, day, rest = civil(math.floor(utc + 0.5))
    whole = int(rest)
    shown = f"{year:05d}" if year < 0 else f"{year:04d}"
    return f"{shown}-{month:02d}-{day:02d} {whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d} UT"


def years_and_months(utc: Array) -> tuple[Array, Array]:
    """Year (astronomical) and month of each instant."""
    months = np.floor(utc / DAY_S).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    return (1970 + months // 12).astype(np.float64), (months % 12 + 1).astype(np.float64)


@dataclass(frozen=True)
class Span:
    """A stretch of time [s since 1970]: from `earliest` to `latest`."""

    earliest: float
    latest: float

    @property
    def middle(self) -> float:
        """Halfway between the ends."""
        return (self.earliest + self.latest) / 2

    @property
    def minutes(self) -> float:
        """Its length [min]."""
        return (self.latest - self.earliest) / 60

    def __contains__(self, utc: float) -> bool:
        return self.earliest <= utc <= self.latest

    def __str__(self) -> str:
        if self.latest - self.earliest < 1:
            return written(self.middle)
        return f"{written(self.earliest)} to {written(self.latest)}"


@dataclass(frozen=True)
class LocalDay:
    """One day from local midnight to local midnight, and the clock that says so.

    `start` and `end` are instants [s since 1970]: 23 to 25 hours apart where the clock changes. The clock is the IANA
    `zone`, or where that is empty, `offset_s` seconds ahead of universal time. `caution` says what to doubt.
    """

    date: tuple[int, int, int]
    start: float
    end: float
    zone: str = ""
    offset_s: float = 0.0
    clock: str = ""
    caution: str = ""

    def time(self, utc: float) -> str:
        """What the local clock shows, to the nearest minute: 17:18; 24:00 at the day's end."""
        nearest = utc + 30
        if self.end - 30 <= utc <= self.end:
            return "24:00"
        if self.zone:
            shown = (EPOCH + timedelta(seconds=nearest)).astimezone(ZoneInfo(self.zone))
            return f"{shown.hour:02d}:{shown.minute:02d}"
        minutes = int((nearest + self.offset_s) % DAY_S // 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}"

    def times(self, span: Span) -> str:
        """A stretch on the local clock: 05:12 to 06:03."""
        return f"{self.time(span.earliest)} to {self.time(span.latest)}"
