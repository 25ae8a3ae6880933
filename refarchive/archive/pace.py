"""How fast long work goes and how much longer it takes, told from what is done by when; and a bar that says so.

The command line and the panels take their words from here.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from refarchive.encoders.base import Progress

SLICE_S = 1.0  # steps are put together until they took so long
KEPT = 30  # slices
LEAST = 3  # slices before anything is said
BYTES = ", bytes"  # how the words of what counts bytes end


@dataclass(frozen=True)
class Pace:
    """Steps a second, and seconds left; both None while there is nothing to go on."""

    per_second: float | None = None
    left_s: float | None = None

    @property
    def words(self) -> str:
        """Both in words, "41 a second, about 4 minutes left"; "" while there is nothing to go on."""
        if self.per_second is None or self.left_s is None:
            return ""
        return f"{_rate(self.per_second)}, {_left(self.left_s)}"


class Pacing:
    """Watches one piece of work, which tells how much of how much is done.

    The speed is the median over the last slices of time, so that neither a pause nor a run of steps that were done
    before and are only passed over counts for more than its one slice. What is done already at the first word of it
    is no speed. `clock` gives seconds.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._of = -1
        self._done = 0
        self._slice = (0.0, 0)  # when it began, and what was done by then
        self._speeds: deque[float] = deque(maxlen=KEPT)

    def told(self, done: int, of: int) -> Pace:
        """The pace now that `done` steps of `of` are done; where `of` is another or less is done, it begins anew."""
        now = self._clock()
        if of != self._of or done < self._done:
            self._of, self._slice = of, (now, done)
            self._speeds.clear()
        self._done = done
        began, before = self._slice
        if now - began >= SLICE_S and done > before:
            self._speeds.append((done - before) / (now - began))
            self._slice = now, done
        if len(self._speeds) < LEAST or of <= 0:
            return Pace()
        speed = median(self._speeds)
        return Pace(speed, max(0, of - done) / speed)


def counted(done: int, of: int) -> str:
    """How much of how much, in words: "312 of 10,000"; "" for a single step, of which there is nothing to count."""
    return f"{done:,} of {of:,}" if of > 1 else ""


def _rate(per_second: float) -> str:
    for number, unit in ((per_second, "second"), (60 * per_second, "minute")):
        if number >= 1:
            return f"{number:,.0f} a {unit}" if number >= 10 else f"{number:.1f} a {unit}".replace(".0 ", " ")
    return f"{max(1, round(3600 * per_second))} an hour"


def _left(seconds: float) -> str:
    if seconds < 5:
        return "a few seconds left"
    if seconds < 55:
        return f"about {5 * round(seconds / 5)} seconds left"
    minutes = round(seconds / 60)
    if minutes < 90:
        return f"about {minutes} {'minute' if minutes == 1 else 'minutes'} left"
    hours = round(seconds / 3600)
    return f"about {hours} hours left" if hours < 48 else f"about {round(hours / 24)} days left"


@contextmanager
def bar(what: str, *, in_bytes: bool = False) -> Iterator[Progress]:
    """A bar on standard error, beginning with `what`, that is drawn as its progress is told."""
    from tqdm import tqdm

    from refarchive.archive.telling import visible

    pacing = Pacing()
    shape = "{desc}: {percentage:3.0f}% |{bar}| {n_fmt} of {total_fmt}{postfix}"
    with tqdm(
        desc=what, bar_format=shape, file=sys.stderr, dynamic_ncols=True, leave=False, delay=0.5, mininterval=0.2
    ) as drawn:

        def tell(done: int, total: int, name: str) -> None:
            drawn.unit_scale = in_bytes or name.endswith(BYTES)
            if drawn.total != (total or None):
                drawn.reset(total or None)
            pace = pacing.told(done, total)
            words = pace.words if not drawn.unit_scale else _in_bytes(pace)
            drawn.set_postfix_str(", ".join(part for part in (words, visible(name)) if part), refresh=False)
            drawn.update(done - drawn.n)

        yield tell


def _in_bytes(pace: Pace) -> str:
    if pace.per_second is None or pace.left_s is None:
        return ""
    return f"{pace.per_second / 1e6:,.1f} MB a second, {_left(pace.left_s)}"
