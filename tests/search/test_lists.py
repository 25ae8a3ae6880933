"""Lists over rows, held against plain products with every row: what they find, what they refuse, when they give up."""

from __future__ import annotations

import json
import random
import zlib

import numpy as np
import pytest

from refarchive.search import lists
from refarchive.search.lists import Lists
from refarchive.search.scan import Index
from refarchive.search.vectors import picture_key, split_key

COUNT, WIDE = 6_000, 24


def owner(key: str) -> str:
    return split_key(key)[0]


def unit(rows: np.ndarray) -> np.ndarray:
    return (rows / np.linalg.norm(rows, axis=1, keepdims=True)).astype(np.float32)


def gathered(count: int = COUNT, seed: int = 1) -> np.ndarray:
    """Rows around sixty centres."""
    rng = np.random.default_rng(seed)
    centres = rng.standard_normal((60, WIDE))
    return unit(centres[rng.integers(0, 60, count)] + 0.4 * rng.standard_normal((count, WIDE)))


@pytest.fixture(scope="module")
def rows() -> np.ndarray:
    return gathered()


@pytest.fixture(scope="module")
def parted(rows: np.ndarray) -> Lists:
    return lists.made(rows, "these")


def nearest(rows: np.ndarray, question: np.ndarray, count: int) -> set[int]:
    return set(np.argsort(-(rows.astype(np.float64) @ question))[:count].tolist())


def test_what_is_found_of_the_nearest_is_what_the_trial_said(rows: np.ndarray, parted: Lists) -> None:
    """Questions that were no part of the trial: new rows around the same centres."""
    keys = [picture_key(f"ref-{n}") for n in range(COUNT)]
    index = Index(keys, rows)
    index.lists = parted
    shares, read = [], []
    for question in gathered(COUNT + 100)[COUNT:]:
        found = index.best_of_each(question, 20, owner, None)
        wanted = {keys[n] for n in nearest(rows, question, 20)}
        shares.append(len(wanted & {key for key, _ in found}) / 20)
        read.append(len(parted.near(question)) / COUNT)
        for key, product in found:
            assert product == pytest.approx(float(rows[keys.index(key)].astype(np.float64) @ question), abs=1e-12)
    assert np.mean(shares) >= 0.98
    assert np.mean(read) < lists.MOST_READ
    assert parted.found >= lists.ENOUGH
    assert abs(np.mean(shares) - parted.found) < 0.02
    assert "%" in index.told


def test_the_lists_read_are_those_that_hold_the_nearest(rows: np.ndarray, parted: Lists) -> None:
    """By themselves, against NumPy's products with every row: an index would hide a miss by reading all rows."""
    questions = gathered(COUNT + 100)[COUNT:]
    held = [len(nearest(rows, question, 20) & set(parted.near(question).tolist())) / 20 for question in questions]
    assert np.mean(held) >= 0.98


def test_a_question_like_nothing_there_is_answered_from_all_rows(rows: np.ndarray, parted: Lists) -> None:
    keys = [picture_key(f"ref-{n}") for n in range(COUNT)]
    index, plain = Index(keys, rows), Index(keys, rows)
    index.lists = parted
    by_lists, missed = 0, 0
    for question in unit(np.random.default_rng(9).standard_normal((50, WIDE))):
        near = parted.near(question)
        missed += len(nearest(rows, question, 20) - set(near.tolist()))
        found = index.best_of_each(question, 20, owner, None)
        by_lists += found != plain.best_of_each(question, 20, owner, None)
    assert missed > 100  # lists alone would have missed many
    assert by_lists <= 2


def test_every_row_is_in_one_list_that_of_the_nearest_centre(rows: np.ndarray, parted: Lists) -> None:
    assert sorted(parted.rows.tolist()) == list(range(COUNT))
    products = rows.astype(np.float64) @ parted.centres.T.astype(np.float64)
    for number in range(len(parted.centres)):
        for row in parted.rows[parted.starts[number] : parted.starts[number + 1]]:
            assert products[row, number] >= products[row].max() - 1e-6


def test_rows_that_gather_nowhere_are_all_read_and_that_is_told() -> None:
    rows = unit(np.random.default_rng(2).standard_normal((4_000, 256)))
    parted = lists.made(rows, "random")
    assert parted.probes == 0
    assert parted.found < lists.ENOUGH
    index = Index([picture_key(f"ref-{n}") for n in range(4_000)], rows)
    exact = index.best_of_each(rows[5], 30, owner, None)
    index.lists = parted
    assert index.best_of_each(rows[5], 30, owner, None) == exact
    assert index.told.startswith("Every vector was read")


def test_rows_added_since_and_filters_miss_nothing(rows: np.ndarray, parted: Lists) -> None:
    more = gathered(COUNT + 300)[COUNT:]
    keys = [picture_key(f"ref-{n // 6}", n % 6) for n in range(COUNT + 300)]
    index = Index(keys, np.concatenate([rows, more]))
    plain = Index(keys, np.concatenate([rows, more]))
    index.lists = parted
    for n in range(0, 300, 25):
        assert index.best_of_each(more[n], 1, owner, None)[0][0] == keys[COUNT + n]  # itself, though in no list
    allowed = {f"ref-{n}" for n in range(0, 1_050, 100)}
    for n in range(20):
        assert index.best_of_each(more[n], 20, owner, allowed) == plain.best_of_each(more[n], 20, owner, allowed)
    everything = index.best_of_each(more[0], 5_000, owner, None)  # more than the lists read hold
    assert everything == plain.best_of_each(more[0], 5_000, owner, None)


def test_what_is_kept_is_read_back_and_nothing_else_is(parted: Lists) -> None:
    content = parted.to_bytes()
    again = Lists.from_bytes(content)
    assert (again.probes, again.found, again.stamp) == (parted.probes, parted.found, "these")
    for name in ("centres", "starts", "rows"):
        np.testing.assert_array_equal(getattr(again, name), getattr(parted, name))
    assert not content.startswith(b"\x80")  # no pickle
    drawn = random.Random(1)
    for _ in range(200):
        spoilt = bytearray(content)
        spoilt[drawn.randrange(len(spoilt))] ^= 1 << drawn.randrange(8)
        with pytest.raises(ValueError):  # noqa: PT011 (whatever is wrong with it)
            Lists.from_bytes(bytes(spoilt))
    for cut in (0, 5, 9, 200, len(content) - 1):
        with pytest.raises(ValueError):  # noqa: PT011
            Lists.from_bytes(content[:cut])


def forged(parted: Lists, **changes: object) -> bytes:
    """As somebody who means ill would write them: the checksum is right."""
    content = parted.to_bytes().partition(b"\n")[2]
    told, _, numbers = content.partition(b"\n")
    content = json.dumps(json.loads(told) | changes).encode() + b"\n" + numbers
    return b"%08x\n%s" % (zlib.crc32(content), content)


@pytest.mark.parametrize(
    "changes",
    [
        {"version": 2},
        {"rows": 10**18},
        {"rows": -1},
        {"centres": [10**9, 10**9]},
        {"centres": [0, 24]},
        {"centres": "many"},
        {"centres": [1e400, 24]},
        {"probes": 10**6},
        {"found": "all"},
        {"found": []},
        {"found": float("nan")},
        {"least": float("inf")},
        {"least": None},
    ],
)
def test_heads_that_cannot_be_are_refused(parted: Lists, changes: dict[str, object]) -> None:
    Lists.from_bytes(forged(parted))
    with pytest.raises(ValueError):  # noqa: PT011
        Lists.from_bytes(forged(parted, **changes))


def test_rows_twice_or_beyond_the_last_are_refused(parted: Lists) -> None:
    for value in (int(parted.rows[1]), COUNT, 2**31):
        rows = parted.rows.copy()
        rows[0] = value
        with pytest.raises(ValueError, match="twice"):
            Lists.from_bytes(Lists(parted.centres, parted.starts, rows, 1, 1.0, 0.0, "").to_bytes())


def test_making_tells_how_far_it_is_and_can_be_stopped(rows: np.ndarray) -> None:
    told: list[tuple[int, int, str]] = []
    lists.made(rows[:500], "", lambda *step: told.append(step))
    assert len({words for _, _, words in told}) == 3
    assert all(0 < done <= of for done, of, _ in told)

    def stop(done: int, of: int, words: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        lists.made(rows[:500], "", stop)


@pytest.mark.parametrize("count", [1, 2, 30])
def test_few_rows_are_no_trouble(rows: np.ndarray, count: int) -> None:
    parted = lists.made(rows[:count], "")
    assert sorted(Lists.from_bytes(parted.to_bytes()).rows.tolist()) == list(range(count))
