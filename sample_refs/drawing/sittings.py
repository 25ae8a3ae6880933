"""A month of looking, simulated: who was shown which two frames on which day, what they said, and where prints hung.

Nobody looked. Each frame has a latent strength for each criterion; a judge sees the difference through noise
(Bradley and Terry's model: the odds of "left" are exp(left - right)), and says "neither yet" where the two are near,
after Davidson (1970): its weight is `TIE` times the root of both. Built in on purpose, so that a tool can be tried:

- drift: in First light, by story, FL_0426 rises and FL_0414 falls steadily over the four weeks (`DRIFT` a day);
- an intransitive habit: in First light, by gesture, FL_0413 beats FL_0421, FL_0421 beats FL_0426, FL_0426 beats
  FL_0413, nine times in ten, whatever the strengths;
- hidden repeats: about one pair in six was shown before, by the same criterion to the same viewer, sides exchanged;
- outside viewers have strengths of their own, halfway between the photographer's and none.
"""

from __future__ import annotations

# fmt: off
import math
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
from drawing.shoots import FERRY, FIRST, PILOT, TAKES, table

TIE = 0.55  # Davidson's nu
REPEATED = 1 / 6
HABIT = 0.9
DRIFT = {("FL_0426.jpg", "story"): 0.16, ("FL_0414.jpg", "story"): -0.16}  # a day
LOOP = {("FL_0413.jpg", "FL_0421.jpg"), ("FL_0421.jpg", "FL_0426.jpg"), ("FL_0426.jpg", "FL_0413.jpg")}  # wins, loses

STRENGTHS: dict[str, dict[str, tuple[float, float, float, float]]] = {  # by story, gesture, light, series
    FIRST: {
        "FL_0412.jpg": (0.3, 0.1, 0.5, 0.7), "FL_0413.jpg": (0.6, 0.7, 0.5, 0.8), "FL_0414.jpg": (1.5, 0.9, 0.4, 0.4),
        "FL_0417.jpg": (0.8, 1.0, 0.2, 0.3), "FL_0418.jpg": (-0.9, -0.6, -1.0, -1.2), "FL_0421.jpg": (0.2, 0.6, 0.9,
                0.2),
        "FL_0422.jpg": (-1.2, -1.0, -0.8, -1.3), "FL_0426.jpg": (-1.4, 0.8, 1.2, 1.0), "FL_0427.jpg": (-0.7, -0.9, 0.8,
                -0.6),
    },
    PILOT: {
        "PX_1187.jpg": (0.5, 0.3, 0.4, 0.6), "PX_1188.jpg": (0.7, 0.6, 0.4, 0.2), "PX_1191.jpg": (0.2, 0.1, 0.3, 0.5),
        "PX_1192.jpg": (1.3, 1.2, 0.4, 0.8), "PX_1193.jpg": (0.0, 0.3, -1.1, -0.7), "PX_1196.jpg": (0.4, 0.7, 0.8, 0.4),
        "PX_1197.jpg": (-1.0, -0.6, -0.7, -1.1), "PX_1199.jpg": (-0.6, -0.8, 1.0, 0.5),
    },
    FERRY: {
        "ST_2031.jpg": (1.2, 0.9, 0.9, 1.0), "ST_2032.jpg": (1.0, 0.8, 0.9, 0.9), "ST_2034.jpg": (0.5, 0.4, 0.4, 0.4),
        "ST_2035.jpg": (-0.1, -0.3, 0.4, -0.2), "ST_2036.jpg": (-0.8, -0.3, -1.3, -1.2), "ST_2039.jpg": (0.7, 0.6, 1.0,
                0.6),
        "ST_2040.jpg": (-0.9, -0.6, -0.7, -1.1), "ST_2044.jpg": (-0.3, 0.5, 0.2, -0.4),
    },
}
CRITERIA = ("story", "gesture", "light", "series")
Plan = tuple[str, str, str, int]  # UTC start, criterion, viewer, pairs
SITTINGS: dict[str, tuple[Plan, ...]] = {
    FIRST: (
        ("2025-03-08 07:40", "story", "", 12), ("2025-03-10 20:15", "gesture", "", 12), ("2025-03-12 07:35", "light",
                "", 10),
        ("2025-03-15 07:50", "story", "", 14), ("2025-03-17 20:40", "gesture", "", 12), ("2025-03-20 15:05", "story",
                "Maud", 10),
        ("2025-03-22 07:30", "story", "", 12), ("2025-03-24 20:20", "gesture", "", 14), ("2025-03-27 15:30", "story",
                "Ilias", 8),
        ("2025-03-29 06:45", "story", "", 14), ("2025-03-31 19:10", "series", "", 10), ("2025-04-03 06:50", "story",
                "", 12),
    ),
    PILOT: (
        ("2025-11-02 08:10", "story", "", 12), ("2025-11-05 20:30", "gesture", "", 10), ("2025-11-12 08:05", "light",
                "", 8),
        ("2025-11-20 15:20", "story", "Oda", 8), ("2025-11-24 20:10", "story", "", 12),
    ),
    FERRY: (
        ("2025-11-08 08:20", "story", "", 12), ("2025-11-15 20:25", "light", "", 10), ("2025-11-27 15:40", "story",
                "Maud", 8),
        ("2025-12-03 08:15", "story", "", 10),
    ),
}
BECAUSE: dict[tuple[str, str], tuple[str, ...]] = {  # frame and criterion: what speaks for it
    ("FL_0412.jpg", "story"): ("plain, they simply go", "nothing asks to be looked at first"),
    ("FL_0413.jpg", "story"): ("the hand at her throat is the cold", "they keep together here"),
    ("FL_0414.jpg", "story"): ("the step carries the whole string", "she is going, not standing"),
    ("FL_0417.jpg", "story"): ("she looks for somebody who is not there", "the look back makes the gap"),
    ("FL_0421.jpg", "story"): ("one fewer, and one sees it", "three are enough"),
    ("FL_0426.jpg", "story"): ("the raised arm: found or lost, one cannot tell", "the mist holds the missing one"),
    ("FL_0427.jpg", "story"): ("somebody sees us", ),
    ("FL_0413.jpg", "gesture"): ("quiet hands", "all four do something small"),
    ("FL_0414.jpg", "gesture"): ("the foot off the sand", ),
    ("FL_0417.jpg", "gesture"): ("the turned head", "her weight is still forward while she looks back"),
    ("FL_0421.jpg", "gesture"): ("the lantern arm is straight and strong", "high lantern, low head"),
    ("FL_0426.jpg", "gesture"): ("the arm against the sky", "four different ways of standing still"),
    ("FL_0412.jpg", "light"): ("the pool on the sand is the right size", ),
    ("FL_0421.jpg", "light"): ("her face is lit for once", "the light is between them"),
    ("FL_0426.jpg", "light"): ("mist takes the lantern further", "the band and the mist are one tone"),
    ("FL_0427.jpg", "light"): ("soft all through", ),
    ("FL_0413.jpg", "series"): ("sits beside the crossing", ),
    ("FL_0426.jpg", "series"): ("same arm as the pilot's, and a year apart", ),
    ("PX_1192.jpg", "story"): ("everything hangs on that foot", "he tests, they wait"),
    ("PX_1188.jpg", "story"): ("the mare knows", ),
    ("PX_1187.jpg", "story"): ("his back and their trust in it", ),
    ("PX_1196.jpg", "story"): ("stop, it says, and one wants to know why", ),
    ("PX_1192.jpg", "gesture"): ("the lifted foot", "her low head answers his foot"),
    ("PX_1188.jpg", "gesture"): ("the mare's neck", ),
    ("PX_1196.jpg", "light"): ("haze parts the man from the cart", ),
    ("PX_1199.jpg", "light"): ("grey on grey at last", ),
    ("ST_2031.jpg", "story"): ("nobody looks where the boat should be, but she", "three ways of waiting"),
    ("ST_2032.jpg", "story"): ("she leans a little to the water", ),
    ("ST_2039.jpg", "story"): ("the lamp gives up before they do", ),
    ("ST_2034.jpg", "story"): ("heavier rain, and they stay", ),
    ("ST_2044.jpg", "story"): ("now something comes", ),
    ("ST_2031.jpg", "light"): ("the lamp shows the rain, not the water", ),
    ("ST_2039.jpg", "light"): ("almost nothing, and enough", ),
}
AGAINST: dict[str, tuple[str, ...]] = {  # what speaks against the other
    "FL_0418.jpg": ("the other is soft",), "FL_0422.jpg": ("the other lantern eats everything",
            "she poses in the other"),
    "FL_0427.jpg": ("the other looks at me",), "PX_1193.jpg": ("the other sky is gone",),
            "PX_1197.jpg": ("the other is soft",),
    "PX_1199.jpg": ("without the carrier nobody is led",), "ST_2036.jpg": ("the other is too bright to be their lamp",),
    "ST_2040.jpg": ("the other is soft",), "ST_2044.jpg": ("in the other the waiting is over",),
    "ST_2035.jpg": ("a step is too much there",),
}
NEITHER = ("cannot tell them apart tonight", "no difference that matters tonight", "both say it, neither yet",
        "ask again in daylight")
Row = tuple[str, str, str, int, str, str, str, str, str, str, str]
HEAD = ("scene", "day", "time_utc", "sitting", "criterion", "viewer", "left", "right", "says", "reason", "repeats")


@cache
def judgements() -> tuple[Row, ...]:
    """Every judgement in the order of the file, as its columns."""
    random = np.random.default_rng(20270308)
    rows: list[Row] = []
    for scene, plans in SITTINGS.items():
        first_day = datetime.fromisoformat(plans[0][0]).replace(tzinfo=UTC)
        seen: dict[tuple[str, str], dict[tuple[str, str], int]] = {}
        for number, (start, criterion, viewer, pairs) in enumerate(plans, 1):
            at = datetime.fromisoformat(start).replace(tzinfo=UTC)
            counts = seen.setdefault((criterion, viewer), {})
            shown: list[tuple[str, str]] = []
            for _ in range(pairs):
                left, right, repeats = _pair(rows, scene, criterion, viewer, counts, shown, random)
                days = (at - first_day).total_seconds() / 86400
                says = _says(scene, criterion, viewer, left, right, days, random)
                reason = _reason(criterion, left, right, says, random)
                rows.append((scene, f"{at:%Y-%m-%d}", f"{at:%H:%M:%S}", number, criterion, viewer, left, right, says,
                        reason, repeats))
                at += timedelta(seconds=int(random.integers(25, 140)))
    return tuple(rows)


def _pair(rows: list[Row], scene: str, criterion: str, viewer: str, counts: dict[tuple[str, str], int],
        shown: list[tuple[str, str]], random: np.random.Generator) -> tuple[str, str, str]:
    """The next pair: mostly one that was shown least, sometimes an earlier one again with its sides exchanged."""
    frames = list(STRENGTHS[scene])
    again = {row[10] for row in rows}
    old = [n for n, row in enumerate(rows, 1) if (row[0], row[4], row[5]) == (scene, criterion, viewer) and not row[10]
            and n < len(rows) - 3 and str(n) not in again]
    if old and random.random() < REPEATED:
        number = int(random.choice(old))
        left, right = rows[number - 1][7], rows[number - 1][6]
        return left, right, str(number)
    every = [(a, b) for k, a in enumerate(frames) for b in frames[k + 1 :] if (a, b) not in shown]
    least = min(counts.get(pair, 0) for pair in every)
    pairs = [one for one in every if counts.get(one, 0) == least]
    turning = [one for one in every if one in LOOP or one[::-1] in LOOP]
    if scene == FIRST and criterion == "gesture" and turning and random.random() < 0.3:
        pairs = turning  # a person goes back to what will not settle
    chosen = pairs[int(random.integers(len(pairs)))]
    counts[chosen] = counts.get(chosen, 0) + 1
    shown.append(chosen)
    left, right = chosen if random.random() < 0.5 else chosen[::-1]
    return left, right, ""


def _says(scene: str, criterion: str, viewer: str, left: str, right: str, days: float,
        random: np.random.Generator) -> str:
    """What the simulated judge says of a pair."""
    if scene == FIRST and criterion == "gesture" and not viewer and random.random() < HABIT:
        if (left, right) in LOOP:
            return "left"
        if (right, left) in LOOP:
            return "right"
    column = CRITERIA.index(criterion)

    def strength(frame: str) -> float:
        own = STRENGTHS[scene][frame][column] * (0.5 if viewer else 1.0) * 1.6
        return own + (0.0 if viewer else DRIFT.get((frame, criterion), 0.0) * days)

    a, b = math.exp(strength(left)), math.exp(strength(right))
    tie = TIE * math.sqrt(a * b)
    draw = random.random() * (a + b + tie)
    return "left" if draw < a else "right" if draw < a + b else "neither yet"


def _reason(criterion: str, left: str, right: str, says: str, random: np.random.Generator) -> str:
    """One short line, or none."""
    if says == "neither yet":
        return str(random.choice(NEITHER)) if random.random() < 0.5 else ""
    ahead, behind = (left, right) if says == "left" else (right, left)
    lines = [*BECAUSE.get((ahead, criterion), ()), *AGAINST.get(behind, ())]
    return lines[int(random.integers(len(lines)))] if lines and random.random() < 0.7 else ""


def sittings() -> str:
    """All judgements, as CSV; `repeats` counts rows from 1, the one after the heading."""
    return table(HEAD, judgements())


WORDS = (  # scene, frame, viewer, words; before anything was said to the viewer about the picture
    (FIRST, "FL_0413.jpg", "Maud", "Women going to work, somewhere by the sea. It is freezing and nobody talks."),
    (FIRST, "FL_0426.jpg", "Maud",
            "They are looking for someone. The one in front has heard something and the others hold their breath."),
    (FIRST, "FL_0427.jpg", "Maud", "I feel caught watching them."),
    (FIRST, "FL_0413.jpg", "Ilias", "Refugees? No, they have baskets. They go out, not away. Very early, long ago."),
    (FIRST, "FL_0422.jpg", "Ilias", "A lamp. I cannot see past it."),
    (FIRST, "FL_0426.jpg", "Ilias",
            "She waves to a boat. Or she says stop. The next thing is that somebody answers, or nobody does."),
    (FIRST, "FL_0421.jpg", "Hedda",
            "A procession? A light carried high, so something holy. Then the baskets say fish."),
    (FIRST, "FL_0417.jpg", "Hedda", "One turns round: somebody has stayed behind."),
    (PILOT, "PX_1192.jpg", "Oda",
            "The man in yellow feels for the ground with his foot. If he is wrong they all go in."),
    (PILOT, "PX_1193.jpg", "Oda", "He looks back to see if they still follow. The sky hurts my eyes."),
    (PILOT, "PX_1199.jpg", "Oda", "A horse alone with a cart walks after a stranger. It is a dream, I think."),
    (PILOT, "PX_1188.jpg", "Joris", "The horse does not want to. The man in the shirt does not want to either."),
    (PILOT, "PX_1196.jpg", "Joris", "Stop! Two hundred years ago, a river, fog. They will turn back."),
    (FERRY, "ST_2031.jpg", "Maud",
            "They wait for someone who comes over the water. It has been hours. One has fallen asleep."),
    (FERRY, "ST_2036.jpg", "Maud", "A railway platform?"),
    (FERRY, "ST_2044.jpg", "Maud", "There he is. It is good news, or they would run."),
    (FERRY, "ST_2031.jpg", "Joris", "Three nuns and a street lamp by the sea. The tall one prays to the lamp."),
    (FERRY, "ST_2039.jpg", "Joris",
            "The lamp goes out soon. Nobody has come. The one at the chain has given up looking."),
)


def viewers() -> str:
    """What outside viewers said of a frame before they were told anything, as CSV."""
    return table(("scene", "frame", "viewer", "words"), WORDS)


PRINT = (270, 180)  # the picture on an A4 sheet laid across
LARGE = (900, 600)
WALL = ("studio, north side", 3600, 2400)
Hung = tuple[str, int, int, tuple[int, int], str]


def _row(frames: Iterable[str], x: int, y: int, step: int = 330) -> list[Hung]:
    return [(frame, x + k * step, y, PRINT, "no") for k, frame in enumerate(frames)]


def _named(scene: str) -> list[str]:
    return [take.name for take in TAKES if take.scene == scene]


def walls() -> str:
    """What hung where, twice for each scene, as CSV: left upper corners from the wall's left upper corner."""
    first, pilot, ferry = (_named(scene) for scene in (FIRST, PILOT, FERRY))
    made: list[tuple[str, str, list[Hung]]] = [
        (FIRST, "2025-03-06", [*_row(first[:5], 980, 1020), *_row(first[5:], 1145, 1240)]),
        (FIRST, "2025-03-25", [*_row(("FL_0413.jpg", "FL_0414.jpg", "FL_0417.jpg"), 1310, 1020), *_row(("FL_0421.jpg",
            "FL_0426.jpg"), 1475, 1240)]),
        (PILOT, "2025-11-01", [("FL_0426.jpg", 240, 860, LARGE, "yes"), *_row(pilot[:4], 1400, 960), *_row(pilot[4:],
            1400, 1180)]),
        (PILOT, "2025-11-18", [("FL_0426.jpg", 240, 860, LARGE, "yes"), *_row(("PX_1187.jpg", "PX_1188.jpg",
            "PX_1192.jpg", "PX_1196.jpg"), 1400, 1070)]),
        (FERRY, "2025-11-06", [("FL_0426.jpg", 120, 860, LARGE, "yes"), *_row(ferry[:4], 1160, 960), *_row(ferry[4:],
            1160, 1180)]),
        (FERRY, "2025-11-29", [("FL_0426.jpg", 120, 860, LARGE, "yes"), ("PX_1192.jpg", 2580, 860, LARGE, "yes"),
            *_row(("ST_2031.jpg", "ST_2032.jpg", "ST_2039.jpg", "ST_2044.jpg"), 1160, 1070)]),
    ]
    return table(("wall", "scene", "day", "wall_width_mm", "wall_height_mm", "frame", "x_mm", "y_mm", "width_mm",
        "height_mm", "finished"), ((WALL[0], scene, day, WALL[1], WALL[2], frame, x, y, *size, finished)
        for scene, day, hung in made for frame, x, y, size, finished in hung))
