"""Search over rows with keys: one product of the whole matrix with the question, then the best of it, exactly.

The rows stay where they are, mapped from disk, and FAISS's own inner product reads them there at the speed of memory;
its flat index would hold a copy of them (`tests/bench/find.py` holds both side by side).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from refarchive.search.lists import NEAREST

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from refarchive.search.lists import Lists
    from refarchive.search.vectors import VectorFile, Vectors

Owner = Callable[[str], str]  # the reference that a key belongs to

# A row's product in single precision hangs on where the row lies, by some units of the last place. All rows so near to
# the last one wanted are worked out again in double precision, each in the same way.
NEAR = 1e-5
FEW = 0.25  # share of the rows below which only they are read
PART = 16_384  # rows between one time and the next at which another thread may run


class Index:
    """Exact inner-product search over rows with keys.

    Parameters
    ----------
    keys
        One key a row, no two the same.
    matrix
        float32 of shape (n, d), unit rows where the product is to be a cosine. It is not copied.
    """

    def __init__(self, keys: Sequence[str], matrix: Vectors) -> None:
        import numpy as np

        if matrix.ndim != 2 or len(matrix) != len(keys):
            raise ValueError(f"{len(keys)} keys for rows of shape {matrix.shape}")
        self.keys = list(keys)
        self._places = {key: place for place, key in enumerate(self.keys)}
        if len(self._places) != len(self.keys):
            raise ValueError("a key is there twice")
        self.dimension = int(matrix.shape[1])
        self._matrix = np.ascontiguousarray(matrix, np.float32)  # a mapped one stays mapped
        self.lists: Lists | None = None  # over the first of the rows
        self.looked = False  # for lists
        self._owners: dict[Owner, tuple[dict[str, int], NDArray[np.int32]]] = {}

    @classmethod
    def over(cls, file: VectorFile) -> Index:
        """Over all rows of a file as they are now."""
        return cls(file.keys(), file.matrix())

    def __len__(self) -> int:
        return len(self.keys)

    def vector(self, key: str) -> Vectors | None:
        """The row of a key, shape (d,), or None."""
        import numpy as np

        place = self._places.get(key)
        return None if place is None else np.array(self._matrix[place], dtype=np.float32)

    def search(self, query: Vectors, top: int, allowed_keys: Collection[str] | None = None) -> list[tuple[str, float]]:
        """The `top` best keys for a query (d,), as `(key, inner product)`, best first, ties in the order of the rows.

        Only `allowed_keys` take part where given: they are sorted out before the cut, so that `top` of them come back
        as long as there are so many. Raises ValueError for a query of another dimension or with values not finite.
        """
        import numpy as np

        places = None
        if allowed_keys is not None:
            known = {self._places[key] for key in allowed_keys if key in self._places}
            places = np.sort(np.fromiter(known, np.intp, len(known)))
        row = self._asked(query)
        return self._named(self._best(self._scores(row, places), row, top, places))

    def search_owned(
        self, query: Vectors, top: int, owner: Owner, allowed: Collection[str] | None
    ) -> list[tuple[str, float]]:
        """As `search`, among the rows of the references allowed (of all where None); `owner` tells whose a key is."""
        row, places = self._asked(query), self._kept(owner, allowed)
        return self._named(self._best(self._scores(row, places), row, top, places))

    def best_of_each(
        self, query: Vectors, top: int, owner: Owner, allowed: Collection[str] | None
    ) -> list[tuple[str, float]]:
        """As `search_owned`, but `top` counts references, and of each only its best row is told.

        Where there are lists and all references are allowed, the rows in the nearest lists and all that are in none are
        ranked, and not the rest: `told` says how many of the best that finds. A filter, and a question that is like
        nothing there, are served from all rows.
        """
        row = self._asked(query)
        if allowed is None and self.lists is not None and self.lists.probes:
            near = self._listed(self.lists, row)
            scores = self._scores(row, near)
            if _last(scores, NEAREST) >= self.lists.least:
                found = self._best_of_each(row, top, owner, near, scores)
                if len(found) == top:
                    return found
        places = self._kept(owner, allowed)
        return self._best_of_each(row, top, owner, places, self._scores(row, places))

    @property
    def told(self) -> str:
        """A sentence on how rows are looked up where they are many, "" where each is read and nothing was tried."""
        if self.lists is None:
            return ""
        share = f"{100 * self.lists.found:.1f} %"
        if not self.lists.probes:
            return f"Every vector was read: lists of them found only {share} of the nearest in a trial."
        return f"What is near is looked up in lists of vectors, which held {share} of the 20 nearest in a trial."

    def _listed(self, lists: Lists, row: Vectors) -> NDArray[np.intp]:
        import numpy as np

        return np.concatenate([lists.near(row), np.arange(len(lists.rows), len(self.keys))])

    def _best_of_each(
        self, row: Vectors, top: int, owner: Owner, places: NDArray[np.intp] | None, scores: Vectors
    ) -> list[tuple[str, float]]:
        # Rows: a reference has several, so more are looked at where these are of too few.
        count = 2 * top if len(scores) > 8 * top else len(scores)
        while True:
            best: dict[str, tuple[int, float]] = {}
            for place, product in self._best(scores, row, count, places):
                best.setdefault(owner(self.keys[place]), (place, product))
                if len(best) == top:
                    return self._named(best.values())
            if count >= len(scores):
                return self._named(best.values())
            count *= 3

    def _named(self, found: Iterable[tuple[int, float]]) -> list[tuple[str, float]]:
        return [(self.keys[place], product) for place, product in found]

    def _kept(self, owner: Owner, allowed: Collection[str] | None) -> NDArray[np.intp] | None:
        """Places of the rows of the references allowed, None for all."""
        import numpy as np

        if allowed is None:
            return None
        numbers, of_row = self._owned(owner)
        mask = np.zeros(len(numbers), bool)
        mask[[numbers[one] for one in allowed if one in numbers]] = True
        return None if mask.all() else np.flatnonzero(mask[of_row])

    def _owned(self, owner: Owner) -> tuple[dict[str, int], NDArray[np.int32]]:
        """Owners by number, and the number of each row's owner; worked out once."""
        import numpy as np

        if owner not in self._owners:
            numbers: dict[str, int] = {}
            of_row = [numbers.setdefault(owner(key), len(numbers)) for key in self.keys]
            self._owners[owner] = numbers, np.array(of_row, np.int32)
        return self._owners[owner]

    def _asked(self, query: Vectors) -> Vectors:
        import numpy as np

        row = np.ascontiguousarray(query, dtype=np.float32).reshape(-1)
        if row.shape != (self.dimension,) or not np.isfinite(row).all():
            raise ValueError(f"a query of dimension {row.size} in an index of dimension {self.dimension}")
        return row

    def _scores(self, row: Vectors, places: NDArray[np.intp] | None) -> Vectors:
        """Products in single precision, of all rows or of those in the places named."""
        if places is None or len(places) < FEW * len(self.keys):
            return _products(self._matrix, row, places)
        return _products(self._matrix, row)[places]

    def _best(
        self, scores: Vectors, row: Vectors, top: int, places: NDArray[np.intp] | None
    ) -> list[tuple[int, float]]:
        """Places of the best rows with their products in double precision, best first."""
        import numpy as np

        count = min(top, len(scores))
        if count <= 0:
            return []
        last = _last(scores, count)
        near = np.flatnonzero(scores >= last - NEAR * max(1.0, abs(last)))
        chosen = near if places is None else places[near]
        exact = np.einsum("ij,j->i", self._matrix[chosen].astype(np.float64), row.astype(np.float64))
        order = np.lexsort((chosen, -exact))[:count]
        return list(zip(chosen[order].tolist(), exact[order].tolist(), strict=True))


def _last(scores: Vectors, count: int) -> float:
    """The lowest of the `count` highest values, or of all."""
    import numpy as np

    place = max(0, len(scores) - count)
    return float(np.partition(scores, place)[place]) if len(scores) else -np.inf


def _products(matrix: Vectors, row: Vectors, places: NDArray[np.intp] | None = None) -> Vectors:
    """The product of each row (of those in the places named) with one row."""
    import faiss
    import numpy as np

    kernels: Any = faiss  # its stubs name the indexes, and not these two
    count, width = len(matrix) if places is None else len(places), len(row)
    found = np.empty(count, np.float32)
    numbers = None if places is None else places.astype(np.int64, copy=False)
    for start in range(0, count, PART):
        part = slice(start, start + PART)
        into, asked, many = faiss.swig_ptr(found[part]), faiss.swig_ptr(row), len(found[part])
        if numbers is None:
            kernels.fvec_inner_products_ny(into, asked, faiss.swig_ptr(matrix[part]), width, many)
        else:
            which = faiss.swig_ptr(numbers[part])
            kernels.fvec_inner_products_by_idx(into, asked, faiss.swig_ptr(matrix), which, width, 1, many)
    return found
