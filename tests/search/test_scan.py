"""The search over rows beside a plain product over the rows that are kept, in double precision."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from refarchive.search import scan
from refarchive.search.scan import Index
from refarchive.search.vectors import picture_key, split_key


def owner(key: str) -> str:
    return split_key(key)[0]


def brute(keys, rows, query, top, kept):
    """Every row that is kept, sorted by its product, then by its place."""
    products = rows.astype(np.float64) @ query.astype(np.float64)
    places = [n for n, key in enumerate(keys) if kept is None or owner(key) in kept]
    return [keys[n] for n in sorted(places, key=lambda n: (-products[n], n))[:top]]


@given(
    st.integers(0, 2**32 - 1),
    st.integers(1, 40),
    st.integers(1, 30),
    st.none() | st.sets(st.integers(0, 45), max_size=41),
)
def test_what_a_filter_keeps_is_ranked_as_a_plain_product_over_it(seed, references, top, numbers):
    rng = np.random.default_rng(seed)
    keys = [picture_key(f"ref-{n}", tile) for n in range(references) for tile in range(int(rng.integers(1, 7)))]
    rng.shuffle(keys)
    rows = rng.integers(-3, 4, (len(keys), 4)).astype(np.float32)  # few values, so that many rows are equal
    query = rng.integers(-3, 4, 4).astype(np.float32)
    kept = None if numbers is None else {f"ref-{n}" for n in numbers}
    index = Index(keys, rows)
    found = index.search_owned(query, top, owner, kept)
    assert [key for key, _ in found] == brute(keys, rows, query, top, kept)
    named = None if kept is None else [key for key in keys if owner(key) in kept]
    assert index.search(query, top, named) == found
    firsts: dict[str, str] = {}
    for key in brute(keys, rows, query, len(keys), kept):
        firsts.setdefault(owner(key), key)
    assert [key for key, _ in index.best_of_each(query, top, owner, kept)] == list(firsts.values())[:top]


def test_parts_give_what_one_product_gives(monkeypatch, tmp_path):
    rng = np.random.default_rng(1)
    rows = rng.standard_normal((1001, 16)).astype(np.float32)
    rows.tofile(tmp_path / "rows.f32")
    mapped = np.memmap(tmp_path / "rows.f32", "<f4", "r", shape=rows.shape)
    keys = [picture_key(f"ref-{n // 6}", n % 6) for n in range(len(rows))]
    monkeypatch.setattr(scan, "PART", 50)
    for kept in (None, {"ref-3"}, {f"ref-{n}" for n in range(0, 160, 4)}, {f"ref-{n}" for n in range(160)}):
        found = Index(keys, mapped).search_owned(rows[7], 50, owner, kept)
        assert [key for key, _ in found] == brute(keys, rows, rows[7], 50, kept)
        products = {
            key: float(rows[keys.index(key)].astype(np.float64) @ rows[7].astype(np.float64)) for key, _ in found
        }
        assert all(abs(score - products[key]) < 1e-9 for key, score in found)
