"""What is asked of vectors, wherever they are kept: files with FAISS, or tables with pgvector."""

from __future__ import annotations

import numpy as np
import pytest

from refarchive.errors import EncoderMismatch
from refarchive.search.vector_folder import VectorFolder
from refarchive.search.vector_tables import VectorTables

IDENTITY = {"name": "built-in", "weights_sha256": "aa", "preprocessing": "x"}


@pytest.fixture
def place(new_store, tmp_path):
    """Opens the same place of vectors, as often as asked, as another program would."""
    with new_store() as store:
        yield lambda: VectorFolder(tmp_path / "vectors") if store.shared is None else VectorTables(store.shared)


def unit_rows(count: int, dimension: int, seed: int = 0) -> np.ndarray:
    rows = np.random.default_rng(seed).normal(size=(count, dimension)).astype(np.float32)
    return rows / np.linalg.norm(rows, axis=1, keepdims=True)


def opened(place, dimension=4, **changes):
    return place().file("captions", IDENTITY | changes, dimension)


def test_what_is_appended_is_read_by_another_program(place):
    assert place().opened("captions") is None
    file, early = opened(place), opened(place)
    assert not place().holds("captions")  # opening writes nothing
    assert file.matrix().shape == (0, 4)
    rows = unit_rows(5, 4)
    file.append(["a", 'ref "quoted"\n', "ſ£—"], rows[:3])
    file.append(["d", "e"], rows[3:])
    early.refresh()
    for again in (early, opened(place), place().opened("captions")):
        assert again.keys() == ["a", 'ref "quoted"\n', "ſ£—", "d", "e"]
        np.testing.assert_array_equal(again.matrix(), rows)
        np.testing.assert_array_equal(again.rows(["e", "a"]), rows[[4, 0]])
        assert again.missing(["x", "a", "x", "y"]) == ["x", "y"]
        assert "d" in again
        assert len(again) == 5
    with pytest.raises(KeyError):
        file.rows(["nothing"])


def test_dropping_keeps_the_others_in_order(place):
    file = opened(place)
    rows = unit_rows(4, 4)
    file.append(list("abcd"), rows)
    file.drop(["b", "nothing"])
    for one in (file, opened(place)):
        assert one.keys() == ["a", "c", "d"]
        np.testing.assert_array_equal(one.matrix(), rows[[0, 2, 3]])
    file.append(["b"], rows[1:2])
    assert opened(place).keys() == ["a", "c", "d", "b"]
    place().forget("captions")
    assert not place().holds("captions")
    assert opened(place).keys() == []


def test_bad_rows_are_refused_and_nothing_is_written(place):
    file = opened(place)
    file.append(["a"], unit_rows(1, 4))
    for keys, rows in (
        (["b"], unit_rows(1, 3)),
        (["b", "c"], unit_rows(1, 4)),
        (["b"], np.full((1, 4), np.nan, np.float32)),
        (["a"], unit_rows(1, 4)),
        (["b", "b"], unit_rows(2, 4)),
    ):
        with pytest.raises(ValueError, match=r"row|finite|already"):
            file.append(keys, rows)
    assert opened(place).keys() == ["a"]


@pytest.mark.parametrize(
    "changes", [{"weights_sha256": "bb"}, {"preprocessing": "y"}, {"name": "other", "weights_sha256": ""}]
)
def test_another_encoders_vectors_are_refused_with_the_command_to_run(place, changes):
    opened(place).append(["a"], unit_rows(1, 4))
    with pytest.raises(EncoderMismatch) as caught:
        opened(place, **changes)
    assert f"refarchive reencode ARCHIVE --encoder {changes.get('name', 'built-in')}" in caught.value.next_step
    with pytest.raises(EncoderMismatch):
        opened(place, dimension=5)
    assert opened(place, name="the same file elsewhere").keys() == ["a"]


def test_the_filter_comes_before_the_cut_and_equals_brute_force(place):
    """With 1 % allowed, the first 20 are the 20 best allowed ones: compared with NumPy over the allowed rows alone."""
    count, top = 5000, 20
    rows = unit_rows(count, 32)
    keys = [f"k{n}" for n in range(count)]
    file = opened(place, 32)
    file.append(keys, rows)
    index = place().index(file)
    allowed = {f"k{n}" for n in range(0, count, 100)}
    for query in unit_rows(5, 32, seed=1):
        products = rows @ query
        best_overall = {keys[n] for n in np.argsort(-products)[:top]}
        assert len(best_overall & allowed) < top  # a cut before the filter would have come out short
        expected = [keys[n] for n in np.argsort(-products) if keys[n] in allowed][:top]
        found = index.search(query, top, allowed)
        assert [key for key, _ in found] == expected
        np.testing.assert_allclose([s for _, s in found], [products[keys.index(k)] for k in expected], atol=1e-6)
        assert [k for k, _ in index.search(query, top)] == [keys[n] for n in np.argsort(-products)[:top]]


def test_of_each_reference_the_best_row_is_told(place):
    """Compared with NumPy over all rows, where one reference has many of the best."""
    rows = unit_rows(400, 16)
    rows[:40] = unit_rows(1, 16) + 0.01 * unit_rows(40, 16, seed=3)
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    keys = [f"much#{n}" if n < 40 else f"r{n % 60}#{n}" for n in range(400)]
    file = opened(place, 16)
    file.append(keys, rows)
    index = place().index(file)
    assert index.told == ""
    question = rows[3]
    order = np.argsort(-(rows.astype(np.float64) @ question.astype(np.float64)))
    for allowed in (None, ["much", "r7", "r8"], []):
        first: dict[str, str] = {}
        for n in order:
            if allowed is None or keys[n].partition("#")[0] in allowed:
                first.setdefault(keys[n].partition("#")[0], keys[n])
        for top in (1, 10, 100):
            found = index.best_of_each(question, top, lambda key: key.partition("#")[0], allowed)
            assert [key for key, _ in found] == list(first.values())[:top]


def test_search_at_the_edges(place):
    rows = unit_rows(9, 4)
    file = opened(place)
    assert place().index(file).search(rows[0], 3) == []
    file.append([f"k{n}" for n in range(9)], rows)
    index = place().index(file)
    assert len(index) == len(index.search(rows[0], 100)) == 9
    assert index.search(rows[0], 5, []) == []
    assert index.search(rows[0], 5, ["unknown"]) == []
    assert [k for k, _ in index.search(rows[8], 5, ["k8", "k8", "unknown"])] == ["k8"]
    with pytest.raises(ValueError, match="dimension"):
        index.search(rows[0, :3], 1)
    np.testing.assert_array_equal(index.vector("k3"), rows[3])
    assert index.vector("none") is None
    file.append(["twin"], rows[:1])
    assert [k for k, _ in place().index(file).search(rows[0], 2)] == ["k0", "twin"]  # ties in the order of the rows


def test_what_was_made_beside_takes_the_place_of_what_was_there(place):
    names = ("meaning", "likeness")
    old, new, one = IDENTITY, IDENTITY | {"name": "other", "weights_sha256": "bb"}, unit_rows(3, 4)
    for name in names:
        place().file(name, old, 4).append(["a", "b", "c"], one)
    place().adopt(names)  # nothing lies beside
    assert place().opened("likeness").identity == old
    beside = place().beside()
    rows = unit_rows(2, 6, seed=1)
    beside.file("likeness", new, 6).append(["a", "b"], rows)
    reader = place().file("likeness", old, 4)
    assert reader.keys() == ["a", "b", "c"]  # in use until the other takes its place
    assert place().opened("likeness").identity == old
    with place().alone(), place().beside().alone():  # each has a lock of its own
        place().adopt(names)
    found = place().file("likeness", new, 6)
    assert found.keys() == ["a", "b"]
    np.testing.assert_array_equal(found.matrix(), rows)
    assert place().opened("meaning") is None  # nothing was made for it
    assert place().beside().opened("likeness") is None
    with pytest.raises(EncoderMismatch):
        place().file("likeness", old, 4)
    found.append(["c"], unit_rows(1, 6))
    place().beside().file("likeness", old, 4).append(["a"], one[:1])
    place().adopt(names)  # and once more
    assert place().opened("likeness").keys() == ["a"]
