"""Windows against brute force, minute by minute, and against almanac times."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refarchive.errors import SiteRefused
from refarchive.site import clocks, sun
from refarchive.site.instants import DAY_S, Span
from refarchive.site.window import Crew, Limit, Open, bearing_limit, call_times, strips, windows

START = 1_000_000 * 60.0


def days(count: int) -> list[Span]:
    return [Span(START + n * DAY_S, START + (n + 1) * DAY_S) for n in range(count)]


def wave(period_h: float, height: float, late_h: float = 0.0) -> Callable[[np.ndarray], np.ndarray]:
    return lambda at: height * np.cos(2 * np.pi * ((at - START) / 3_600 - late_h) / period_h)


def two_tides(at: np.ndarray) -> np.ndarray:
    return wave(12.42, 2.0)(at) + wave(12.0, 0.7, 1.0)(at)


@settings(deadline=None, max_examples=30)
@given(
    low=st.floats(-3, 2), more=st.floats(0.2, 3), sun_least=st.floats(-30, 20), hour=st.floats(0, 20),
    hours=st.floats(1, 20), carry_in=st.integers(0, 120), carry_out=st.integers(0, 120), least=st.integers(0, 60),
)  # fmt: skip
def test_every_minute_of_a_window_holds_and_no_room_is_missed(
    low: float, more: float, sun_least: float, hour: float, hours: float, carry_in: int, carry_out: int, least: int
) -> None:
    water = Limit("water", two_tides, low, low + more, "m")
    light = Limit("light", wave(24.0, 40.0, 13.0), sun_least, 90.0, "°")
    crew = Open("crew", tuple(Span(d.earliest + 3_600 * hour, d.earliest + 3_600 * (hour + hours)) for d in days(4)))
    found = windows(days(3), [water, light, crew], Crew(carry_in, carry_out, (light,), least))

    minutes = np.arange(START, START + 3 * DAY_S, 60.0)
    holds = water.holds(minutes) & light.holds(minutes) & crew.holds(minutes)
    carried = light.holds(np.arange(START, START + 3.5 * DAY_S, 60.0))
    told = np.zeros(len(minutes), bool)
    for one in found.windows:
        inside = (minutes >= one.span.earliest) & (minutes <= one.span.latest)
        assert holds[inside].all()  # a window never contains a moment that breaks a constraint
        assert one.span.minutes >= least - 1e-6
        before = light.holds(np.arange(one.span.earliest - 60 * carry_in + 1, one.span.earliest, 60.0))
        after = light.holds(np.arange(one.span.latest, one.span.latest + 60 * carry_out - 1, 60.0))
        assert before.all()
        assert after.all()
        told |= inside
    # Brute force: the longest run of minutes that hold, with carrying before and after, is found.
    n = 0
    while n < len(minutes):
        if not holds[n]:
            n += 1
            continue
        last = n
        while last + 1 < len(minutes) and holds[last + 1]:
            last += 1
        starts = [a for a in range(n, last + 1) if a >= carry_in and carried[a - carry_in : a + 1].all()]
        ends = [b for b in range(n, last + 1) if b + carry_out < len(carried) and carried[b : b + carry_out + 1].all()]
        if starts and ends and ends[-1] - starts[0] >= max(least, 2) + 2 and n > 0 and last + 1 < len(minutes):
            assert told[starts[0] + 1 : ends[-1]].all()
        n = last + 1


def test_edges_are_the_almanacs() -> None:
    """US Naval Observatory, Atlanta 2009-09-06 EDT: civil twilight 06:50, sunrise 07:15, both to the minute."""
    day = clocks.zone_day("2009-09-06", "America/New_York")
    altitude = Limit("sun", lambda at: sun.position(33.8, -84.4, at).geometric_altitude_deg, -6.0, -50 / 60, "°")
    found = windows([Span(day.start, day.end)], [altitude])
    morning, evening = (one.span for one in found.windows)
    assert (day.time(morning.earliest), day.time(morning.latest)) == ("06:50", "07:15")
    assert (day.time(evening.earliest), day.time(evening.latest)) == ("19:56", "20:21")
    assert found.windows[0].begun_by == ("sun",)


def test_what_binds_is_named_and_room_is_told() -> None:
    light = Limit("light", wave(24.0, 40.0, 12.0), 0.0, 90.0, "°")  # from 6 to 18 h
    crew = Open("crew", (Span(START + 8 * 3_600, START + 17 * 3_600),))
    (one,) = windows(days(1), [light, crew]).windows
    assert (one.begun_by, one.ended_by) == (("crew",), ("crew",))
    assert one.slack[0][:2] == ("light", pytest.approx(40 * math.cos(math.radians(75)), abs=0.05))  # at 17 h
    assert "Room left: light 10.4°" in one.sentence
    (tight,) = windows(days(1), [light], Crew(60, 30, (light,))).windows
    assert tight.span.earliest == pytest.approx(START + 7 * 3_600, abs=1)
    assert tight.span.latest == pytest.approx(START + 17.5 * 3_600, abs=1)
    assert tight.begun_by == ("60 min of carrying in (light)",)
    assert tight.ended_by == ("30 min of carrying out (light)",)


def test_a_day_without_a_window_names_what_alone_keeps_it_shut() -> None:
    light = Limit("light", wave(24.0, 40.0, 12.0), 0.0, 90.0, "°")
    leave = Open("leave", (Span(START + DAY_S, START + 2 * DAY_S),))
    night = Open("crew", tuple(Span(d.earliest, d.earliest + 3 * 3_600) for d in days(3)))
    found = windows(days(2), [light, leave])
    assert [one.span.earliest > START + DAY_S for one in found.windows] == [True]
    assert found.shut == ((0, ("leave",)),)
    assert windows(days(1), [light, leave, night]).shut == ((0, ()),)


def test_a_window_past_midnight_opens_every_day_it_touches() -> None:
    """78.2° N at midsummer: the sun is up for all of three days, so none of them is shut."""
    found_days = [clocks.zone_day(f"2026-06-{n}", "Arctic/Longyearbyen") for n in (20, 21, 22)]
    up = Limit("sun", lambda at: sun.position(78.2, 15.6, at).geometric_altitude_deg, 0.0, 90.0, "°")
    found = windows([Span(one.start, one.end) for one in found_days], [up])
    assert (len(found.windows), found.shut) == (1, ())
    assert found.windows[0].begun_by == ("the first or last day looked at",)
    night = Open("crew", (Span(START + 22 * 3_600, START + 26 * 3_600),))
    assert [n for n, _ in windows(days(3), [night]).shut] == [2]


def test_leave_that_also_holds_for_carrying_can_be_the_one_to_drop() -> None:
    light = Limit("light", wave(24.0, 40.0, 12.0), 0.0, 90.0, "°")
    leave = Open("leave", (Span(START + DAY_S, START + 2 * DAY_S),))
    assert windows(days(2), [light, leave], Crew(30, 30, (light, leave))).shut == ((0, ("leave",)),)


def test_carrying_may_begin_before_the_first_midnight() -> None:
    early = Open("early", (Span(START + 600, START + 7_200),))
    lit = Open("light", (Span(START - DAY_S, START + 5 * DAY_S),))
    (one,) = windows(days(1), [early], Crew(60, 0, (lit,))).windows
    assert one.span.earliest == pytest.approx(START + 600, abs=1)


def test_a_whole_round_of_bearings_always_holds() -> None:
    every = bearing_limit("b", lambda at: (at - START) / 240.0 % 360.0, 0.0, 360.0)
    assert [one.span.minutes for one in windows(days(1), [every]).windows] == [pytest.approx(1.5 * 1440, abs=1)]


def test_a_bearing_may_pass_through_north() -> None:
    bearing = bearing_limit("bearing", lambda at: (at - START) / 240.0 % 360.0, 350.0, 20.0)
    found = windows(days(2), [bearing])
    spans = [(one.span.earliest - START, one.span.latest - START) for one in found.windows]
    assert spans[1] == (pytest.approx(350 * 240, abs=1), pytest.approx(380 * 240, abs=1))


def test_summer_time_and_polar_days_are_days_like_others() -> None:
    day = clocks.zone_day("2026-03-29", "Europe/London")  # 23 hours
    up = Limit("sun", lambda at: sun.position(51.5, 0.0, at).geometric_altitude_deg, 0.0, 90.0, "°")
    (one,) = windows([Span(day.start, day.end)], [up]).windows
    assert day.time(one.span.earliest) in ("06:46", "06:47", "06:48")
    polar = clocks.zone_day("2026-12-21", "Arctic/Longyearbyen")
    dark = Limit("sun", lambda at: sun.position(78.2, 15.6, at).geometric_altitude_deg, 0.0, 90.0, "°")
    assert windows([Span(polar.start, polar.end)], [dark]).windows == ()


def test_the_best_are_the_longest() -> None:
    given_ = Open(
        "x", tuple(Span(START + h * 3_600, START + h * 3_600 + m * 60) for h, m in ((1, 20), (4, 50), (8, 50)))
    )
    found = windows(days(1), [given_])
    assert [round(one.span.minutes) for one in found.best(2)] == [50, 50]
    assert found.best(2)[0].span.earliest < found.best(2)[1].span.earliest


def test_the_day_is_worked_backwards_by_hand() -> None:
    calls = call_times(Span(36_000.0, 39_600.0), [("cast", 90), ("light", 200)], 35, 30)
    assert [(one.what, one.at) for one in calls] == [
        ("light", 36_000.0 - 12_000), ("cast", 36_000.0 - 5_400), ("first carry in", 36_000.0 - 2_100),
        ("window begins", 36_000.0), ("window ends; strike", 39_600.0), ("all off the site", 39_600.0 + 1_800),
    ]  # fmt: skip
    with pytest.raises(SiteRefused, match="call of cast"):
        call_times(Span(0.0, 1.0), [("cast", -1)], 0, 0)


def test_strips_are_those_that_hold() -> None:
    light = Limit("light", wave(24.0, 40.0, 12.0), 0.0, 90.0, "°")
    ((name, spans),) = strips(days(1)[0], [light])
    assert name == "light"
    assert (spans[0].earliest - START, spans[0].latest - START) == (
        pytest.approx(6 * 3_600, abs=301), pytest.approx(18 * 3_600, abs=301),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: windows([], [Open("x", ())]), "no day"),
        (lambda: windows(days(1), []), "nothing that must hold"),
        (lambda: windows(days(121), [Open("x", ())]), "more than 120 days"),
        (lambda: windows(days(1), [Open("x", ())], step_s=0), "step_s"),
        (lambda: Limit("depth", two_tides, 2.0, 1.0), "depth: from 2 to 1"),
        (lambda: Crew(-1), "load_in_min"),
        (lambda: bearing_limit("b", two_tides, 400, 20), "b: from"),
    ],
)
def test_what_cannot_be_is_refused(make: Callable[[], object], words: str) -> None:
    with pytest.raises(SiteRefused, match=words):
        make()
