"""Groups of frames from time and likeness, held against SciPy's single-linkage clustering, scikit-image's threshold by
Otsu and known bursts.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.cluster.hierarchy import fcluster, linkage
from skimage.filters import threshold_otsu

from refarchive.errors import CannotMeasure
from refarchive.looks.runs import GAP_S, LEAST_GAP_S, UNLIKE_BITS, runs


def test_bursts_minutes_apart_come_out_as_they_were_shot() -> None:
    random = np.random.default_rng(5)
    times, wanted, at = [], [], 0.0
    for burst in range(9):
        at += float(random.uniform(60, 400))
        for _ in range(int(random.integers(1, 6))):
            times.append(at)
            wanted.append(burst)
            at += float(random.uniform(0.4, 3.0))
    found = runs(times, [0] * len(times))
    assert [frame for run in found.runs for frame in run.frames] == list(range(len(times)))
    assert [n for n, run in enumerate(found.runs) for _ in run.frames] == wanted
    assert found.told
    assert 3.0 < found.gap_s < 60.0


@pytest.mark.parametrize("seed", range(8))
def test_the_gap_parts_short_from_long_where_otsu_s_threshold_does(seed: int) -> None:
    # scikit-image's threshold_otsu on the logarithms of the gaps, each gap a bin of its own.
    random = np.random.default_rng(seed)
    gaps = np.exp(np.concatenate([random.normal(0.5, 0.8, 20 + 9 * seed), random.normal(4.0, 1.2, 12)]))
    found = runs([0.0, *np.cumsum(random.permutation(gaps))], [0] * (len(gaps) + 1))
    logs = np.log(np.sort(gaps))
    threshold = threshold_otsu(hist=(np.ones(len(logs)), logs))
    assert found.told
    assert int((gaps > found.gap_s).sum()) == int((logs > threshold).sum()) == len(found.runs) - 1


@given(st.lists(st.floats(0, 5_000).map(lambda t: round(t, 2)), min_size=2, max_size=30))
def test_the_groups_are_those_of_single_linkage_at_the_same_gap(times: list[float]) -> None:
    found = runs(times, [0] * len(times))
    labels = fcluster(linkage(np.array(times)[:, None], "single"), found.gap_s, "distance")
    theirs = {frozenset(np.flatnonzero(labels == label).tolist()) for label in set(labels)}
    assert {frozenset(run.frames) for run in found.runs} == theirs


def test_another_picture_begins_a_group_though_the_time_runs_on() -> None:
    other = (1 << (UNLIKE_BITS + 1)) - 1
    found = runs([0.0, 1.0, 2.0, 3.0], [0, 0, other, other])
    assert [run.frames for run in found.runs] == [(0, 1), (2, 3)]
    assert "another picture" in found.runs[1].words
    near = (1 << UNLIKE_BITS) - 1
    assert len(runs([0.0, 1.0], [0, near]).runs) == 1


def test_without_a_time_likeness_alone_tells() -> None:
    other = (1 << 40) - 1
    found = runs([None, None, None, 4.0], [0, other, 1, 0])
    assert [run.frames for run in found.runs] == [(3,), (0, 2), (1,)]
    assert found.runs[1].words == "2 frames without a time, alike"


def test_even_or_few_gaps_tell_nothing_and_a_stated_one_is_taken() -> None:
    for times in ([0.0, 10.0], [float(10 * n) for n in range(12)]):
        found = runs(times, [0] * len(times))
        assert (found.gap_s, found.told) == (GAP_S, False)
        assert len(found.runs) == 1


def test_a_split_is_never_shorter_than_a_burst_can_be() -> None:
    times = [0.0, 0.1, 0.2, 0.3, 1.5, 1.6, 1.7]
    assert runs(times, [0] * 7).gap_s >= LEAST_GAP_S


def test_no_frame_and_one_frame() -> None:
    assert runs([], []).runs == ()
    assert runs([3.0], [1]).runs[0].words == "1 frame"


@pytest.mark.parametrize(
    ("times", "hashes"),
    [([0.0], []), ([float("nan")], [0]), ([0.0], [-1]), ([0.0], [1 << 64]), ([0.0] * 5_001, [0] * 5_001)],
)
def test_what_is_no_shoot_is_refused(times, hashes) -> None:
    with pytest.raises(CannotMeasure):
        runs(times, hashes)
