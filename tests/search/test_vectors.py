"""Vectors on disk survive interruption; search sorts out before it cuts."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

from refarchive.errors import ArchiveDamaged, ArchiveTooNew, EncoderMismatch
from refarchive.search import vectors
from refarchive.search.scan import Index
from refarchive.search.vectors import TILES, VectorFile

IDENTITY = {"name": "built-in", "weights_sha256": "aa", "preprocessing": "x"}


def unit_rows(count: int, dimension: int, seed: int = 0) -> np.ndarray:
    rows = np.random.default_rng(seed).normal(size=(count, dimension)).astype(np.float32)
    return rows / np.linalg.norm(rows, axis=1, keepdims=True)


def opened(folder, dimension=4, **changes) -> VectorFile:
    return VectorFile(folder, identity=IDENTITY | changes, dimension=dimension)


def test_what_is_appended_is_read_back_by_another_process_too(tmp_path):
    file = opened(tmp_path / "v")
    assert not (tmp_path / "v").exists()  # opening writes nothing
    assert file.matrix().shape == (0, 4)
    rows = unit_rows(5, 4)
    file.append(["a", 'ref "quoted"\n', "ſ£—"], rows[:3])
    file.append(["d", "e"], rows[3:])
    again = opened(tmp_path / "v")
    assert again.keys() == ["a", 'ref "quoted"\n', "ſ£—", "d", "e"]
    np.testing.assert_array_equal(again.matrix(), rows)
    np.testing.assert_array_equal(again.rows(["e", "a"]), rows[[4, 0]])
    assert again.missing(["x", "a", "x", "y"]) == ["x", "y"]
    assert "d" in again
    assert len(again) == 5
    with pytest.raises(ValueError, match="read-only"):
        again.matrix()[0, 0] = 1


@pytest.mark.parametrize("lost_row_bytes", [0, 3, 16, 20])
@pytest.mark.parametrize("lost_key_bytes", [0, 1, 4, 5])
def test_a_torn_batch_never_misaligns_rows_and_keys(tmp_path, lost_row_bytes, lost_key_bytes):
    file = opened(tmp_path / "v")
    rows = unit_rows(4, 4)
    file.append(["a", "b"], rows[:2])
    file.append(["c", "d"], rows[2:])
    for path, lost in ((tmp_path / "v/rows.0.f32", lost_row_bytes), (tmp_path / "v/keys.0.txt", lost_key_bytes)):
        os.truncate(path, path.stat().st_size - lost)
    torn = opened(tmp_path / "v")
    kept = len(torn)
    assert kept == 4 - max(-(-lost_row_bytes // 16), -(-lost_key_bytes // 4))
    torn.append(["e"], np.full((1, 4), 7, np.float32))
    mended = opened(tmp_path / "v")
    assert mended.keys() == [*"abcd"[:kept], "e"]
    np.testing.assert_array_equal(mended.matrix(), np.vstack([rows[:kept], np.full((1, 4), 7)]).astype(np.float32))


@pytest.mark.parametrize("step", range(1, 12))
def test_a_process_killed_at_any_write_loses_at_most_that_batch(tmp_path, step):
    """The child is ended, without any clean-up, just before its n-th write to disk."""
    child = """
import os, sys, numpy as np, pathlib
from refarchive.search import vectors
left = int(sys.argv[2])
def dying(real):
    def call(*a, **k):
        global left
        left -= 1
        if left <= 0: os._exit(9)
        return real(*a, **k)
    return call
os.fsync, os.replace = dying(os.fsync), dying(os.replace)
f = vectors.VectorFile(pathlib.Path(sys.argv[1]), identity={"name": "n"}, dimension=2)
row = lambda k: np.full((1, 2), ord(k), np.float32)
f.append(["a"], row("a")); f.append(["b"], row("b"))
f.drop(["a"]); f.append(["c"], row("c"))
"""
    done = subprocess.run([sys.executable, "-c", child, str(tmp_path / "v"), str(step)], check=False)
    assert done.returncode in (0, 9)
    file = VectorFile(tmp_path / "v", identity={"name": "n"}, dimension=2)
    assert file.keys() in ([], ["a"], ["a", "b"], ["b"], ["b", "c"])
    assert file.matrix()[:, 0].tolist() == [ord(key) for key in file]
    file.append(["z"], np.full((1, 2), ord("z"), np.float32))
    again = VectorFile(tmp_path / "v", identity={"name": "n"}, dimension=2)
    assert again.matrix()[:, 0].tolist() == [ord(key) for key in again]


def test_dropping_keeps_the_others_and_leaves_no_litter(tmp_path):
    file = opened(tmp_path / "v")
    rows = unit_rows(4, 4)
    file.append(list("abcd"), rows)
    file.drop(["b", "nothing"])
    for one in (file, opened(tmp_path / "v")):
        assert one.keys() == ["a", "c", "d"]
        np.testing.assert_array_equal(one.matrix(), rows[[0, 2, 3]])
    file.drop("acd")
    assert opened(tmp_path / "v").keys() == []
    file.append(["e"], rows[:1])
    assert opened(tmp_path / "v").keys() == ["e"]
    assert len(list((tmp_path / "v").iterdir())) == 4


def test_a_flipped_bit_in_any_file_is_seen(tmp_path):
    file = opened(tmp_path / "v")
    file.append(["a", "b"], unit_rows(2, 4))
    file.append(["c"], unit_rows(1, 4))
    assert file.damaged() == []
    for name, at, spoilt in (("rows.0.f32", 20, "b"), ("keys.0.txt", 1, "`"), ("sums.0.u32", 9, "c")):
        path = tmp_path / "v" / name
        before = path.read_bytes()
        path.write_bytes(before[:at] + bytes([before[at] ^ 1]) + before[at + 1 :])
        assert opened(tmp_path / "v").damaged() == [spoilt]
        kept = opened(tmp_path / "v")
        kept.drop(
            ["x", *(key for key in kept if key == "a")]
        )  # a new generation does not take damage for what was meant
        assert set(opened(tmp_path / "v").damaged()) == {spoilt} - {"a"}
        for stray in kept.strays():
            stray.unlink()
        for old in (tmp_path / "v").iterdir():
            old.unlink()
        file = opened(tmp_path / "v")
        file.append(["a", "b"], unit_rows(2, 4))
        file.append(["c"], unit_rows(1, 4))
    head = tmp_path / "v/head.json"
    head.write_text(head.read_text().replace("built-in", "built-io"))
    with pytest.raises(ArchiveDamaged):
        opened(tmp_path / "v")


def test_bad_rows_are_refused_and_nothing_is_written(tmp_path):
    file = opened(tmp_path / "v")
    file.append(["a"], unit_rows(1, 4))
    before = {path.name: path.read_bytes() for path in (tmp_path / "v").iterdir()}
    for keys, rows in (
        (["b"], unit_rows(1, 3)),
        (["b", "c"], unit_rows(1, 4)),
        (["b"], np.full((1, 4), np.nan, np.float32)),
        (["a"], unit_rows(1, 4)),
        (["b", "b"], unit_rows(2, 4)),
    ):
        with pytest.raises(ValueError, match=r"row|finite|already"):
            file.append(keys, rows)
    assert {path.name: path.read_bytes() for path in (tmp_path / "v").iterdir()} == before


@pytest.mark.parametrize(
    "changes", [{"weights_sha256": "bb"}, {"preprocessing": "y"}, {"name": "other", "weights_sha256": ""}]
)
def test_another_encoders_vectors_are_refused_with_the_command_to_run(tmp_path, changes):
    opened(tmp_path / "v").append(["a"], unit_rows(1, 4))
    with pytest.raises(EncoderMismatch) as caught:
        opened(tmp_path / "v", **changes)
    assert f"refarchive reencode ARCHIVE --encoder {changes.get('name', 'built-in')}" in caught.value.next_step
    with pytest.raises(EncoderMismatch):
        opened(tmp_path / "v", dimension=5)


def test_the_same_weights_under_another_name_are_the_same_encoder(tmp_path):
    opened(tmp_path / "v").append(["a"], unit_rows(1, 4))
    assert opened(tmp_path / "v", name="the same file elsewhere").keys() == ["a"]


def test_a_damaged_or_later_head_is_named(tmp_path):
    opened(tmp_path / "v").append(["a"], unit_rows(1, 4))
    head = tmp_path / "v/head.json"
    content = json.loads(head.read_text())
    for text in ("", "[]", '{"format": 1}', "\x00"):
        head.write_text(text)
        with pytest.raises(ArchiveDamaged, match="verify ARCHIVE --repair"):
            opened(tmp_path / "v")
    head.write_text(json.dumps(content | {"format": 99}))
    with pytest.raises(ArchiveTooNew):
        opened(tmp_path / "v")
    head.write_text(json.dumps(content))
    (tmp_path / "v/keys.0.txt").write_text("not json\n")
    with pytest.raises(ArchiveDamaged):
        opened(tmp_path / "v")


def test_the_filter_comes_before_the_cut_and_equals_brute_force():
    """With 1 % allowed, the first 20 are the 20 best allowed ones: compared with NumPy over the allowed rows alone."""
    count, top = 5000, 20
    rows = unit_rows(count, 32)
    keys = [f"k{n}" for n in range(count)]
    index = Index(keys, rows)
    allowed = {f"k{n}" for n in range(0, count, 100)}
    for query in unit_rows(10, 32, seed=1):
        products = rows @ query
        best_overall = {keys[n] for n in np.argsort(-products)[:top]}
        assert len(best_overall & allowed) < top  # a cut before the filter would have come out short
        expected = [keys[n] for n in np.argsort(-products) if keys[n] in allowed][:top]
        found = index.search(query, top, allowed)
        assert [key for key, _ in found] == expected
        np.testing.assert_allclose([s for _, s in found], [products[keys.index(k)] for k in expected], atol=1e-6)
        assert [k for k, _ in index.search(query, top)] == [keys[n] for n in np.argsort(-products)[:top]]


def test_search_at_the_edges():
    rows = unit_rows(9, 4)
    index = Index([f"k{n}" for n in range(9)], rows)
    assert len(index.search(rows[0], 100)) == 9
    assert index.search(rows[0], 5, []) == []
    assert index.search(rows[0], 5, ["unknown"]) == []
    assert [k for k, _ in index.search(rows[8], 5, ["k8", "k8", "unknown"])] == ["k8"]
    assert Index([], np.zeros((0, 4), np.float32)).search(rows[0], 3) == []
    with pytest.raises(ValueError, match="dimension"):
        index.search(rows[0, :3], 1)
    with pytest.raises(ValueError, match="twice"):
        Index(["a", "a"], rows[:2])
    twins = Index(["b", "a", "c"], np.stack([rows[0], rows[0], rows[0]]))
    assert [k for k, _ in twins.search(rows[0], 3)] == ["b", "a", "c"]
    np.testing.assert_array_equal(index.vector("k3"), rows[3])
    assert index.vector("none") is None


def test_tiles_cover_the_picture_and_overlap():
    pixels = np.arange(100 * 80, dtype=np.uint16).reshape(80, 100)
    rgb = np.stack([pixels % 256, pixels // 256, pixels * 0], axis=-1).astype(np.uint8)
    picture = Image.fromarray(rgb)
    found = [picture.crop(box) for box in vectors.boxes(picture.size)]
    assert [tile.size for tile in found] == [(100, 80)] + [(60, 48)] * 5
    seen = np.zeros((80, 100), int)
    for tile, (x, y, w, h) in zip(found, TILES, strict=True):
        left, top = round(x * 100), round(y * 80)
        region = rgb[top : top + round(h * 80), left : left + round(w * 100)]
        np.testing.assert_array_equal(np.asarray(tile), region)
        seen[top : top + round(h * 80), left : left + round(w * 100)] += 1
    assert seen.min() >= 2
    for size in ((1, 1), (1, 500), (2, 2), (3, 1)):
        for left, top, right, bottom in vectors.boxes(size):
            assert 0 <= left < right <= size[0]
            assert 0 <= top < bottom <= size[1]


def test_keys_of_pictures():
    assert vectors.split_key(vectors.picture_key("ref-1", 4)) == ("ref-1", 4)


def test_a_head_whose_sum_lost_its_name_is_damaged(tmp_path):
    made = VectorFile(tmp_path / "likeness", identity={"name": "one"}, dimension=4)
    made.append(["a"], np.eye(1, 4, dtype=np.float32))
    head = tmp_path / "likeness" / "head.json"
    head.write_text(head.read_text().replace('"sum"', '"sul"'))
    with pytest.raises(ArchiveDamaged):
        VectorFile(tmp_path / "likeness", identity={"name": "one"}, dimension=4)
