"""From what a clock showed to universal time: today's clocks with their zones, and the clocks of the past.

Before zones, a place kept its own time: by the sundial (apparent solar time), or later by the sun's mean (local mean
time). With LAT and LMT for what such a clock shows, EoT for the equation of time:

    UT = LAT − EoT − longitude / 15        UT = LMT − longitude / 15

An hour's doubt about the clock turns the sun by 15°, so what nobody recorded is told as a stretch, never as an instant.
Dates are Gregorian: turn a Julian one round first. The time zone database is reliable from 1970; for earlier years it
follows one town of each zone (its own statement), and for the time before zones it is not used here at all.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal, get_args
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from refarchive.errors import SiteRefused
from refarchive.site import sun
from refarchive.site.instants import (
    DAY_S,
    EPOCH,
    Date,
    LocalDay,
    Span,
    TimeOfDay,
    civil,
    day_start,
    instant,
    longitude_deg,
    number,
    seconds_of_day,
    year_month_day,
)

Clock = Literal["sundial", "local mean time", "zone", "unknown clock"]
CLOCKS: tuple[str, ...] = get_args(Clock)

UNKNOWN_DOUBT_MIN = 30.0  # either way, for a clock nobody recorded: common practice, no source
MOST_DOUBT_MIN = 720.0
LONGEST_ZONE = 100  # characters; each part of a name is looked for beneath the one before
ZONES_RELIABLE_FROM = 1970  # the time zone database's own statement
BEFORE_1970 = (
    "Before 1970 the time zone database follows one town of each zone; another place in the zone may have kept other "
    "time. Compare a newspaper or almanac of the place."
)


@dataclass(frozen=True)
class Reckoned:
    """The universal time of what a clock of the past showed, as a stretch, and how it was reckoned."""

    span: Span
    clock: str
    sentence: str

    @property
    def earliest(self) -> float:
        """The earliest instant meant [s since 1970]."""
        return self.span.earliest

    @property
    def latest(self) -> float:
        """The latest instant meant [s since 1970]."""
        return self.span.latest


# -- today's clocks --------


def zone_of(name: str, field: str = "zone") -> ZoneInfo:
    """The IANA zone of a name such as Europe/London.

    Raises
    ------
    SiteRefused
        where there is none; names like it are offered.
    """
    try:
        if not isinstance(name, str) or not name.strip() or len(name) > LONGEST_ZONE:
            raise ValueError
        return ZoneInfo(name.strip())
    except (ZoneInfoNotFoundError, ValueError, OSError):
        known = available_timezones()
        name = str(name)[:LONGEST_ZONE]
        towns = {zone.rpartition("/")[2].lower(): zone for zone in sorted(known)}
        wanted = str(name).strip().replace(" ", "_").lower()
        near = difflib.get_close_matches(wanted.rpartition("/")[2], towns, 3)
        like = f"Did you mean {' or '.join(towns[one] for one in near)}?" if near else "Give one such as Europe/London."
        raise SiteRefused(f"{field}: there is no time zone “{name}”.", like, field=field) from None


def local_instant(day: Date, clock: TimeOfDay, zone: str, *, fold: int | None = None) -> datetime:
    """The instant, in UTC, at which the clocks of a zone show a time on a day.

    Parameters
    ----------
    day, clock
        A `date` or 1871-02-03; a `time` or 17:20.
    zone
        An IANA name such as Europe/London.
    fold
        For an hour that comes twice: 0 the first time, 1 the second.

    Raises
    ------
    SiteRefused
        for an unknown zone; for a time the clocks jumped over, or that came twice and `fold` is None; for a day before
        the zone was kept.

    >>> local_instant("2015-08-02", "05:00", "America/Denver").isoformat()
    '2015-08-02T11:00:00+00:00'
    """
    midnight = datetime.combine(_plain(day), time.min)
    return as_utc(midnight + timedelta(seconds=seconds_of_day(clock)), zone, fold=fold)


def as_utc(moment: datetime, zone: str | None = None, *, fold: int | None = None, field: str = "time") -> datetime:
    """A datetime in UTC: one with a zone is only turned, one without is read on the clocks of `zone`.

    Raises
    ------
    SiteRefused
        as `local_instant`, and for a datetime without a zone where none is given.
    """
    if not isinstance(moment, datetime):
        raise SiteRefused(f"{field}: “{moment}” is not a date and time.", "Give a datetime.", field=field)
    if fold not in (None, 0, 1):
        raise SiteRefused(
            f"fold: “{fold}” is neither 0 nor 1.", "Give 0 for the first time, 1 for the second.", field="fold"
        )
    if moment.utcoffset() is not None:
        return _turned(moment, field)
    if zone is None:
        raise SiteRefused(
            f"{field}: {moment:%Y-%m-%d %H:%M} has no time zone.",
            "Give the zone of the place, such as Europe/London.",
            field="zone",
        )
    found = zone_of(zone)
    plain = moment.replace(fold=0, tzinfo=None)
    first, second = (_turned(plain.replace(tzinfo=found, fold=n), field) for n in (0, 1))
    _refuse_before_zones(first, found)
    if first == second:
        return first
    shown, said = f"{plain:%H:%M} on {plain:%Y-%m-%d}", found.key
    if first.astimezone(found).replace(tzinfo=None, fold=0) != plain:
        change = _first_instant(found, second, first, plain)
        before, after = (change - timedelta(seconds=1)).astimezone(found), change.astimezone(found)
        stopped = before.replace(tzinfo=None) + timedelta(seconds=1)
        raise SiteRefused(
            f"{field}: {shown} does not exist in {said}: the clocks went from {stopped:%H:%M} to {after:%H:%M}.",
            "Give a time before or after the gap.",
            field=field,
        )
    if fold is None:
        names = " or ".join(
            f"fold={n} for {one:%H:%M} UT ({one.astimezone(found):%Z})" for n, one in enumerate((first, second))
        )
        raise SiteRefused(
            f"{field}: {shown} came twice in {said}, because the clocks went back.", f"Give {names}.", field="fold"
        )
    return second if fold else first


def zone_day(day: Date, zone: str) -> LocalDay:
    """A calendar day of a zone, from its first instant to that of the next: 23 to 25 hours where the clocks change.

    Raises
    ------
    SiteRefused
        for an unknown zone, a day the zone left out, and a day before the zone was kept.
    """
    found = zone_of(zone)
    first = _plain(day)
    if first >= date.max - timedelta(days=1):
        raise SiteRefused(f"date: {first} is too late for a time zone.", "Give an earlier day.", field="date")
    start, end = (_midnight(found, first + timedelta(days=n)) for n in (0, 1))
    _refuse_before_zones(start, found)
    if start >= end:
        raise SiteRefused(
            f"date: {first} was left out in {found.key}, where the date line was moved.",
            "Give the day before or after.",
            field="date",
        )
    caution = BEFORE_1970 if first.year < ZONES_RELIABLE_FROM else ""
    return LocalDay(
        (first.year, first.month, first.day), _s(start), _s(end), zone=found.key, clock=found.key, caution=caution
    )


def mean_day(day: Date, longitude: float) -> LocalDay:
    """A calendar day of local mean time at a longitude [°], for years without zones."""
    offset = longitude_deg(longitude) * 240
    start = day_start(day) - offset
    return LocalDay(year_month_day(day), start, start + DAY_S, offset_s=offset, clock="local mean time")


def offset_day(day: Date, offset_hours: float) -> LocalDay:
    """A calendar day of a clock a number of hours ahead of universal time, −16 to 16."""
    hours = number(offset_hours, "offset_hours", -16, 16, "hours")
    start = day_start(day) - hours * 3600
    return LocalDay(
        year_month_day(day), start, start + DAY_S, offset_s=hours * 3600, clock=f"UT{hours:+g} h".replace("-", "−")
    )


# -- clocks of the past --------


def historical(
    day: Date,
    clock_time: TimeOfDay,
    clock: Clock,
    *,
    longitude: float | None = None,
    offset_hours: float | None = None,
    doubt_min: float | None = None,
) -> Reckoned:
    """The universal time meant by what a clock of the past showed on a Gregorian day.

    Parameters
    ----------
    day, clock_time
        A `date`, 1783-09-03 or (1066, 10, 20); a `time` or 12:00.
    clock
        sundial, local mean time, zone (with `offset_hours` ahead of universal time), or unknown clock: a stretch that
        holds both the sundial's and the mean time.
    longitude
        [°], east positive; wanted by every clock but zone.
    offset_hours
        Hours that a zone clock is ahead of universal time, −16 to 16.
    doubt_min
        How far off the clock or its reader may have been, either way [min], 0–720; for an unknown clock 30 where not
        given (`UNKNOWN_DOUBT_MIN`), else 0.

    Raises
    ------
    SiteRefused
        for an unknown clock, a value out of range, or one that the clock wants and was not given.
    """
    if clock not in CLOCKS:
        raise SiteRefused(f"clock: “{clock}” is not known.", f"Give one of: {', '.join(CLOCKS)}.", field="clock")
    shown = day_start(day) + seconds_of_day(clock_time)
    given = doubt_min if doubt_min is not None else UNKNOWN_DOUBT_MIN if clock == "unknown clock" else 0.0
    doubt = number(given, "doubt_min", 0, MOST_DOUBT_MIN, "minutes")
    if clock == "zone":
        if offset_hours is None:
            raise SiteRefused(
                "offset_hours: a zone clock needs it.", "Give the hours ahead of universal time.", field="offset_hours"
            )
        meant = [shown - number(offset_hours, "offset_hours", -16, 16, "hours") * 3600]
    else:
        if longitude is None:
            raise SiteRefused(
                f"longitude: the clock “{clock}” needs it.", "Give the place's longitude.", field="longitude"
            )
        mean = shown - longitude_deg(longitude) * 240
        apparent = mean
        for _ in range(3):  # the equation of time moves by half a minute a day at most
            apparent = mean - 60 * sun.equation_of_time_min(apparent)
        meant = {"sundial": [apparent], "local mean time": [mean]}.get(clock, [apparent, mean])
    span = Span(min(meant) - 60 * doubt, max(meant) + 60 * doubt)
    sentence = f"{span}, taking the time for {_TAKEN[clock]}{f', give or take {doubt:g} min' if doubt else ''}."
    return Reckoned(span, clock, sentence)


_TAKEN = {
    "sundial": "the sundial's (apparent solar time)",
    "local mean time": "the place's own mean time",
    "zone": "that of the zone given",
    "unknown clock": "the sundial's or the place's mean time, nobody having recorded which",
}


def sundial_time(utc: object, longitude: float) -> tuple[tuple[int, int, int], float]:
    """What a sundial shows: the date, and seconds after its midnight."""
    at = instant(utc)
    year, month, of_month, rest = civil(at + longitude_deg(longitude) * 240 + 60 * sun.equation_of_time_min(at))
    return (year, month, of_month), rest


# -- within --------


def _plain(day: Date) -> date:
    year, month, of_month = year_month_day(day)
    if not 1 <= year <= 9999:
        raise SiteRefused(
            f"date: time zones are not reckoned in the year {year}.".replace("-", "−"),
            "Take local mean time or the sundial for it.",
            field="date",
        )
    return date(year, month, of_month)


def _turned(moment: datetime, field: str) -> datetime:
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        raise SiteRefused(
            f"{field}: {moment:%Y-%m-%d} is too near the end of the calendar.", "Give another day.", field=field
        ) from None


def _refuse_before_zones(moment: datetime, zone: ZoneInfo) -> None:
    local = moment.astimezone(zone)
    if local.tzname() == "LMT":
        raise SiteRefused(
            f"zone: {zone.key} was not yet kept on {local:%Y-%m-%d}; places went by their own time.",
            "Take local mean time or the sundial with the place's longitude.",
            field="zone",
        )


def _midnight(zone: ZoneInfo, day: date) -> datetime:
    """The first instant of a day, also where its midnight was jumped over."""
    plain = datetime.combine(day, time.min)
    first, second = (_turned(plain.replace(tzinfo=zone, fold=n), "date") for n in (0, 1))
    return first if first <= second else _first_instant(zone, second, first, plain)


def _first_instant(zone: ZoneInfo, before: datetime, after: datetime, shown: datetime) -> datetime:
    """The first whole second in (before, after] at which the clocks show at least `shown`."""
    low, high = 0, round((after - before).total_seconds())
    while high - low > 1:
        half = (low + high) // 2
        if (before + timedelta(seconds=half)).astimezone(zone).replace(tzinfo=None) >= shown:
            high = half
        else:
            low = half
    return before + timedelta(seconds=high)


def _s(moment: datetime) -> float:
    return (moment - EPOCH).total_seconds()
