"""Fusion, Rocchio and ranking measures against published values and scikit-learn."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from sklearn.metrics import ndcg_score

from refarchive.search import fusion


def test_reciprocal_rank_fusion_by_hand():
    """The formula of Cormack, Clarke, Büttcher (SIGIR 2009), k = 60, worked by hand for three rankings."""
    fused = fusion.reciprocal_rank_fusion(["ABCD", "CAEB", "BCAF"])
    assert [item for item, _ in fused] == ["A", "C", "B", "E", "D", "F"]
    expected = {
        "A": 0.0483954908,
        "C": 0.0483954908,
        "B": 0.0481474749,
        "E": 0.0158730159,
        "D": 0.015625,
        "F": 0.015625,
    }
    for item, score in fused:
        assert score == pytest.approx(expected[item], abs=5e-11)
    assert dict(fused)["A"] == dict(fused)["C"]  # a tie to the last bit: best rank 1 each, A in the earlier ranking


def test_order_of_rankings_changes_scores_by_nothing():
    rng = random.Random(1)
    rankings = [rng.sample(range(40), 30) for _ in range(7)]
    first = dict(fusion.reciprocal_rank_fusion(rankings))
    for _ in range(5):
        rng.shuffle(rankings)
        assert dict(fusion.reciprocal_rank_fusion(rankings)) == first


def test_weights_and_k():
    fused = dict(fusion.reciprocal_rank_fusion(["ab", "b"], k=0, weights=[1, 0.5]))
    assert fused == {"a": 1.0, "b": 1.0}
    assert fusion.reciprocal_rank_fusion([]) == []
    for bad in ({"weights": [1.0]}, {"weights": [1, -1]}):
        with pytest.raises(ValueError, match="weight"):
            fusion.reciprocal_rank_fusion(["a", "b"], **bad)
    with pytest.raises(ValueError, match="twice"):
        fusion.reciprocal_rank_fusion(["aa"])


def test_rocchio_by_hand():
    """Weights 1, 0.75, 0.15 as in Manning, Raghavan, Schütze (2008), §9.1; worked by hand."""
    moved = fusion.rocchio(
        np.array([1, 0, 0, 1.0]), np.array([[1, 1, 0, 1.0], [1, 0, 0, 1]]), np.array([[0, 1, 1, 0.0]])
    )
    np.testing.assert_allclose(moved, [1.75, 0.225, -0.15, 1.75], atol=1e-12)
    np.testing.assert_array_equal(fusion.rocchio(np.array([1.0, 2.0]), np.zeros((0, 2)), np.zeros((0, 2))), [1, 2])


def test_dcg_of_the_worked_example():
    """Gains 3, 2, 3, 0, 1, 2 with log2(rank + 1), computed by hand."""
    gains = [3, 2, 3, 0, 1, 2]
    assert fusion.dcg(gains) == pytest.approx(6.861127, abs=5e-7)
    assert fusion.ndcg(gains) == pytest.approx(0.960808, abs=5e-7)
    assert fusion.ndcg(gains, [*gains, 3, 2], at=6) == pytest.approx(0.785002, abs=5e-7)


def test_dcg_of_jarvelin_and_kekalainen():
    """Järvelin and Kekäläinen (ACM TOIS 20(4), 2002): the DCG vector of their example, base 2, as they round it."""
    gains = [3, 2, 3, 0, 0, 1, 2, 2, 3, 0]
    published = [3, 5, 6.89, 6.89, 6.89, 7.28, 7.99, 8.66, 9.61, 9.61]
    for rank, value in enumerate(published, start=1):
        assert fusion.dcg(gains[:rank], discount="from rank 2") == pytest.approx(value, abs=0.005)


def test_ndcg_of_scikit_learns_documentation():
    """scikit-learn's documented example: 0.69 and 0.49."""
    truth = np.array([[10, 0, 0, 1, 5]])
    for scores, published in (([[0.1, 0.2, 0.3, 4, 70]], 0.69), ([[0.05, 1.1, 1.0, 0.5, 0.0]], 0.49)):
        ranked = truth[0][np.argsort(-np.array(scores[0]))]
        ours = fusion.ndcg(ranked.tolist(), truth[0].tolist())
        assert math.floor(ours * 100) / 100 == published
        assert ours == pytest.approx(ndcg_score(truth, np.array(scores)), abs=1e-12)


def test_ndcg_against_scikit_learn_on_random_rankings():
    rng = np.random.default_rng(3)
    for _ in range(30):
        truth, scores = rng.integers(0, 4, 20), rng.permutation(20).astype(float)
        at = int(rng.integers(1, 21))
        ranked = truth[np.argsort(-scores)].tolist()
        assert fusion.ndcg(ranked, truth.tolist(), at=at) == pytest.approx(
            ndcg_score([truth], [scores], k=at), abs=1e-12
        )


def test_nothing_to_gain():
    assert fusion.ndcg([0, 0]) == 0.0
    assert fusion.ndcg([]) == 0.0
    assert fusion.ndcg([0], [3]) == 0.0


def test_reciprocal_ranks():
    """Ranks 3, 2, 1: mean 0.611111, by hand."""
    assert fusion.mean_reciprocal_rank([3, 2, 1]) == pytest.approx(0.611111, abs=5e-7)
    assert fusion.mean_reciprocal_rank([None, 1]) == 0.5
    assert fusion.reciprocal_rank("abc", {"c", "b"}) == 0.5
    assert fusion.reciprocal_rank("abc", {"x"}) == 0.0
    for bad in ([], [0]):
        with pytest.raises(ValueError, match="ranks from 1"):
            fusion.mean_reciprocal_rank(bad)


def test_recall():
    assert fusion.recall_at("abcd", {"b", "d", "x"}, 3) == pytest.approx(1 / 3)
    with pytest.raises(ValueError, match="relevant"):
        fusion.recall_at("abc", set(), 3)


def test_rankings_of_one_group_count_once():
    """A look taken twice gives its best place only: one group of two is as good as its better half alone."""
    twice = fusion.reciprocal_rank_fusion(["ab", "ba", "cb"], groups=["words", "words", "picture"])
    assert dict(twice)["a"] == pytest.approx(1 / 61)
    assert dict(twice)["b"] == pytest.approx(1 / 61 + 1 / 62)
    assert fusion.reciprocal_rank_fusion(["ab", "ba"], groups=["x", "y"]) == fusion.reciprocal_rank_fusion(["ab", "ba"])
    with pytest.raises(ValueError, match="one group"):
        fusion.reciprocal_rank_fusion(["ab"], groups=[])
