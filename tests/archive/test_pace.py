"""How fast and how much longer: reckoned by hand on a clock of our own, with pauses and with what was done before."""

from __future__ import annotations

import pytest
from tqdm import tqdm

from refarchive.archive.pace import Pace, Pacing, counted


class Clock:
    """Seconds that pass when they are told to."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def steps(pacing: Pacing, clock: Clock, count: int, each_s: float, of: int, done: int = 0) -> Pace:
    """So many steps of equal length; the pace after the last."""
    pace = pacing.told(done, of)
    for number in range(count):
        clock.now += each_s
        pace = pacing.told(done + number + 1, of)
    return pace


def test_nothing_is_said_before_there_is_something_to_go_on(clock: Clock) -> None:
    pacing = Pacing(clock)
    assert pacing.told(0, 100) == Pace()
    clock.now += 2.9
    assert pacing.told(50, 100).words == ""
    assert steps(Pacing(clock), clock, 20, 1.0, 0).words == ""  # of nobody knows how many


def test_an_even_run_is_reckoned_as_by_hand(clock: Clock) -> None:
    pace = steps(Pacing(clock), clock, 400, 0.025, 10_000)
    assert pace.per_second == pytest.approx(40, rel=0.03)
    assert pace.left_s == pytest.approx(9_600 / 40, rel=0.03)
    assert pace.words == "40 a second, about 4 minutes left"


def test_an_even_run_is_reckoned_as_by_tqdm(clock: Clock) -> None:
    """Against tqdm's own meter, which has the mean speed since the beginning."""
    pace = steps(Pacing(clock), clock, 400, 0.025, 10_000)
    told = tqdm.format_meter(400, 10_000, 10.0, bar_format="{rate_fmt} {remaining}")
    assert told == "40.00it/s 04:00"
    assert (pace.per_second, pace.left_s) == (pytest.approx(40, rel=0.03), pytest.approx(4 * 60, rel=0.03))


def test_what_was_done_before_is_no_speed(clock: Clock) -> None:
    assert steps(Pacing(clock), clock, 100, 0.1, 10_000, done=9_000).per_second == pytest.approx(10, rel=0.11)
    pacing = Pacing(clock)  # an unchanged folder: 9,000 are passed over in no time, then the work begins
    steps(pacing, clock, 9_000, 0.0002, 10_000)
    pace = steps(pacing, clock, 100, 0.1, 10_000, done=9_000)
    assert pace.per_second == pytest.approx(10, rel=0.11)
    assert pace.left_s == pytest.approx(90, rel=0.11)


def test_a_pause_counts_for_no_more_than_its_moment(clock: Clock) -> None:
    pacing = Pacing(clock)
    steps(pacing, clock, 100, 0.1, 1_000)
    clock.now += 3 * 3600  # the lid was shut
    assert steps(pacing, clock, 10, 0.1, 1_000, done=100).per_second == pytest.approx(10, rel=0.11)


def test_a_change_of_speed_is_followed(clock: Clock) -> None:
    pacing = Pacing(clock)
    steps(pacing, clock, 300, 0.1, 10_000)
    assert steps(pacing, clock, 60, 1.0, 10_000, done=300).per_second == pytest.approx(1)


def test_other_work_begins_anew(clock: Clock) -> None:
    pacing = Pacing(clock)
    steps(pacing, clock, 100, 0.1, 1_000)
    assert pacing.told(1, 7) == Pace()
    steps(pacing, clock, 100, 0.1, 1_000)
    assert pacing.told(0, 1_000) == Pace()


@pytest.mark.parametrize(
    ("per_second", "left_s", "words"),
    [
        (41.4, 236.0, "41 a second, about 4 minutes left"),
        (1234.5, 3.0, "1,234 a second, a few seconds left"),
        (3.21, 42.0, "3.2 a second, about 40 seconds left"),
        (2.0, 61.0, "2 a second, about 1 minute left"),
        (0.5, 3_000.0, "30 a minute, about 50 minutes left"),
        (0.0211, 7_200.0, "1.3 a minute, about 2 hours left"),
        (0.001, 400_000.0, "4 an hour, about 5 days left"),
        (0.00001, 86_400.0, "1 an hour, about 24 hours left"),
    ],
)
def test_words(per_second: float, left_s: float, words: str) -> None:
    assert Pace(per_second, left_s).words == words


def test_what_is_counted() -> None:
    assert counted(312, 10_000) == "312 of 10,000"
    assert counted(0, 1) == ""
