"""Vectors of a shared archive: in its PostgreSQL database, searched there by pgvector.

They answer to the same names as `VectorFolder`, `VectorFile` and `Index`, so that what one person's machine encoded
serves everybody. Search is exact: pgvector reads every row that is allowed, in single precision, as FAISS does.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from refarchive.errors import ArchiveBusy, ArchiveTooNew, EncoderMismatch
from refarchive.records import sqlite
from refarchive.records.sql import listed
from refarchive.search import vector_folder
from refarchive.search.vectors import FORMAT, State, _same

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]

LOCK = 0x766563746F72  # "vector": the making of vectors, among the advisory locks of the database
BESIDE = "beside"  # before the names of vectors that are made to take the place of others
_PAGE = 2_000  # floats that fit into a page of 8 KiB, where a row is read quickest

_tables = sa.MetaData()
_head = sa.Table(
    "vector_head",
    _tables,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("format", sa.Integer, nullable=False),
    sa.Column("identity", sa.JSON, nullable=False),
    sa.Column("dimension", sa.Integer, nullable=False),
    sa.Column("generation", sa.BigInteger, nullable=False),  # one more with every change
)


class VectorTables:
    """The vectors in one database, by name; `before` stands before each name, and `lock` keeps others from writing."""

    def __init__(self, engine: sa.Engine, before: str = "", lock: int = LOCK) -> None:
        self._level: Any = None
        self._engine = engine
        self._before = before
        self._lock = lock
        self._kept: dict[str, VectorTable] = {}

    def file(self, name: str, identity: Mapping[str, object], dimension: int) -> VectorTable:
        """Vectors under a name, as whoever made them is now. Raises EncoderMismatch, ArchiveTooNew."""
        table = VectorTable(self._engine, self._before + name, identity=identity, dimension=dimension)
        self._kept[name] = table
        return table

    def opened(self, name: str) -> VectorTable | None:
        """Vectors under a name as whoever made them left them, None where there are none."""
        kept = self._kept.get(name)
        if kept is not None:
            kept.refresh()
            return kept
        with sqlite.reading(self._engine) as connection:
            head = _read_head(connection, self._before + name)
        return None if head is None else self.file(name, head["identity"], head["dimension"])

    def index(self, file: VectorTable) -> TableIndex:
        """What searches all rows as they are now."""
        return TableIndex(file)

    def holds(self, name: str) -> bool:
        """Whether anything was ever kept under a name."""
        with sqlite.reading(self._engine) as connection:
            return _read_head(connection, self._before + name) is not None

    def forget(self, name: str) -> None:
        """Throw the vectors under a name away."""
        self._kept.pop(name, None)
        with sqlite.writing(self._engine) as connection:
            _forget(connection, self._before + name)

    def beside(self) -> VectorTables:
        """Where vectors are made that are to take the place of these, which stay in use meanwhile."""
        return VectorTables(self._engine, self._before + BESIDE, self._lock + 1)

    def adopt(self, names: Sequence[str]) -> None:
        """Put what was made beside in the place of what is here, all of it or nothing; see `VectorFolder.adopt`."""
        beside = self.beside()
        with sqlite.writing(self._engine) as connection:
            heads = {name: _read_head(connection, beside._before + name) for name in names}
            if heads[names[-1]] is None:
                return
            for name, head in heads.items():
                before = _read_head(connection, self._before + name)
                self._kept.pop(name, None)
                _forget(connection, self._before + name)
                if head is None:
                    continue
                generation = max(head["generation"], before["generation"] if before is not None else 0) + 1
                named = sa.update(_head).where(_head.c.name == beside._before + name)
                connection.execute(named.values(name=self._before + name, generation=generation))
                tables = _named(beside._before + name), _named(self._before + name)
                connection.exec_driver_sql(f"ALTER TABLE {tables[0]} RENAME TO {tables[1]}")
                connection.exec_driver_sql(f"ALTER INDEX {tables[0]}_pkey RENAME TO {tables[1]}_pkey")

    def states(self, names: Iterable[str]) -> dict[str, list[int]]:
        """Of each vector file that is there, what changes whenever its rows do."""
        wanted = {self._before + name: name for name in names}
        with sqlite.reading(self._engine) as connection:
            if not sa.inspect(connection).has_table(_head.name):
                return {}
            heads = connection.execute(sa.select(_head.c.name, _head.c.generation))
            return {wanted[row.name]: [row.generation] for row in heads if row.name in wanted}

    def level_at(self) -> Any:
        """What `keep_level` was given last, None at first: it is kept while the archive is open."""
        return self._level

    def keep_level(self, stamp: Any) -> None:
        """Note that the vectors were level with the records as `stamp` tells both."""
        self._level = stamp

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Keep everybody else, on whatever machine, from making vectors meanwhile.

        Raises ArchiveBusy where another goes on for `vector_folder.WAIT_S` seconds.
        """
        with sqlite.named_errors(), self._engine.connect() as plain:
            connection = plain.execution_options(isolation_level="AUTOCOMMIT")
            connection.exec_driver_sql(f"SET lock_timeout = {round(1000 * vector_folder.WAIT_S)}")
            try:
                connection.exec_driver_sql(f"SELECT pg_advisory_lock({self._lock})")
            except sa.exc.OperationalError as error:
                if getattr(error.orig, "sqlstate", "") != "55P03":  # lock_not_available
                    raise
                raise ArchiveBusy(*vector_folder.BUSY) from None
            finally:
                connection.exec_driver_sql("RESET lock_timeout")
            try:
                yield
            finally:
                connection.exec_driver_sql(f"SELECT pg_advisory_unlock({self._lock})")


class VectorTable:
    """A matrix in the database with a key for each row; as `VectorFile`, which see."""

    def __init__(self, engine: sa.Engine, name: str, *, identity: Mapping[str, object], dimension: int) -> None:
        self.name = name
        self.folder = PurePosixPath("vectors") / name  # by which an index over it is kept
        self.identity = json.loads(json.dumps(dict(identity)))
        self.dimension = dimension
        self._engine = engine
        self._generation = -1
        self._keys: list[str] = []
        self._places: dict[str, int] = {}
        self.refresh()

    # --- reading ------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Look again where somebody has written since."""
        with sqlite.reading(self._engine) as connection:
            head = _read_head(connection, self.name)
            if head is None:
                self._generation, self._keys, self._places = 0, [], {}
                return
            self._check(head)
            if head["generation"] == self._generation:
                return
            query = f"SELECT key FROM {_named(self.name)} ORDER BY place"  # noqa: S608 (a name of ours)
            self._keys = list(connection.exec_driver_sql(query).scalars())
            self._generation = head["generation"]
        self._places = {key: place for place, key in enumerate(self._keys)}

    def _check(self, head: sa.RowMapping) -> None:
        if head["format"] > FORMAT:
            raise ArchiveTooNew(
                f"The vectors of {self.name} are of format {head['format']}; this version reads {FORMAT}.",
                "Install a later version of refarchive.",
            )
        if head["dimension"] != self.dimension or not _same(head["identity"], self.identity):
            theirs, ours = (str(one.get("name", "another")) for one in (head["identity"], self.identity))
            if theirs == ours:
                theirs, ours = f"{theirs} with other weights or preprocessing", f"{ours} as it is now"
            raise EncoderMismatch(
                f"The vectors of {self.name} were made by {theirs}, not by {ours}.",
                f"Make them anew: refarchive reencode ARCHIVE --encoder {self.identity.get('name', 'NAME')}",
            )

    @property
    def state(self) -> State:
        """What changes whenever rows come or go."""
        return self._generation, len(self._keys)

    def __len__(self) -> int:
        return len(self._keys)

    def __iter__(self) -> Iterator[str]:
        return iter(self._keys)

    def __contains__(self, key: object) -> bool:
        return key in self._places

    def keys(self) -> list[str]:
        """Keys in the order of the rows."""
        return list(self._keys)

    def matrix(self) -> Vectors:
        """All rows, float32 of shape (n, dimension)."""
        return self.rows(self._keys)

    def rows(self, keys: Sequence[str]) -> Vectors:
        """Rows of some keys in the order named, float32 of shape (n, dimension). Raises KeyError."""
        import numpy as np

        for key in keys:
            self._places[key]
        if not keys:
            return np.zeros((0, self.dimension), np.float32)
        with sqlite.reading(self._engine) as connection:
            _know_vectors(connection)
            table = _table(self.name)
            query = sa.select(table.c.key, table.c.row).where(table.c.key.in_(listed(keys)))
            found = {row.key: row.row for row in connection.execute(query)}
        return np.stack([_as_array(found[key]) for key in keys]).astype(np.float32)

    def damaged(self) -> list[str]:
        """None: the database's own checks look after its rows."""
        return []

    def unvouched(self) -> list[str]:
        """None: no sums of ours are kept."""
        return []

    def vouch(self) -> int:
        """Nothing is left to be vouched for."""
        return 0

    def strays(self) -> list[Path]:
        """None: no files are kept."""
        return []

    def missing(self, wanted: Iterable[str]) -> list[str]:
        """Those of the wanted keys that have no row, in the order named, each once."""
        return [key for key in dict.fromkeys(wanted) if key not in self._places]

    # --- writing ------------------------------------------------------------------------------------------------

    def append(self, keys: Sequence[str], vectors: Vectors) -> None:
        """Add rows (n, dimension) under new keys, all of them or none.

        Raises ValueError for a wrong shape, values that are not finite, or a key that is there already.
        """
        import numpy as np

        rows = np.ascontiguousarray(vectors, dtype=np.float32)
        if rows.shape != (len(keys), self.dimension):
            raise ValueError(f"rows of shape {rows.shape} for {len(keys)} keys of dimension {self.dimension}")
        if not np.isfinite(rows).all():
            raise ValueError("a vector has values that are not finite")
        if len(set(keys)) != len(keys) or any(key in self._places for key in keys):
            raise ValueError("a key is there already")
        if not keys:
            return
        with sqlite.writing(self._engine) as connection:
            self._make(connection)
            _know_vectors(connection)
            raw: Any = connection.connection.driver_connection
            into = f"COPY {_named(self.name)} (key, row) FROM STDIN (FORMAT BINARY)"
            with raw.cursor() as cursor, cursor.copy(into) as copy:
                copy.set_types(["text", "vector"])
                for key, row in zip(keys, rows, strict=True):
                    copy.write_row((key, row))
            self._count(connection, 1)
        for key in keys:
            self._places[key] = len(self._keys)
            self._keys.append(key)

    def drop(self, keys: Iterable[str]) -> None:
        """Remove rows, all of them or none; keys without one are passed over."""
        gone = {key for key in keys if key in self._places}
        if not gone:
            return
        with sqlite.writing(self._engine) as connection:
            table = _table(self.name)
            connection.execute(sa.delete(table).where(table.c.key.in_(listed(gone))))
            self._count(connection, 1)
        self._keys = [key for key in self._keys if key not in gone]
        self._places = {key: place for place, key in enumerate(self._keys)}

    def _count(self, connection: sa.Connection, more: int) -> None:
        """Tell everybody that the rows are others now; forget what we know where somebody wrote beside us."""
        counted = (
            sa.update(_head).where(_head.c.name == self.name).values(generation=_head.c.generation + more)
        ).returning(_head.c.generation)
        now = connection.execute(counted).scalar_one()
        self._generation = now if now == self._generation + more else -1

    def _make(self, connection: sa.Connection) -> None:
        head = _read_head(connection, self.name)
        if head is not None:
            self._check(head)
            return
        _tables.create_all(connection)
        values = {"format": FORMAT, "identity": self.identity, "dimension": self.dimension, "generation": 0}
        connection.execute(sa.insert(_head).values(name=self.name, **values))
        name, size = _named(self.name), int(self.dimension)
        connection.exec_driver_sql(
            f'CREATE TABLE {name} (key text COLLATE "C" PRIMARY KEY, place bigserial, row vector({size}) NOT NULL)'
        )
        if size <= _PAGE:
            connection.exec_driver_sql(f"ALTER TABLE {name} ALTER COLUMN row SET STORAGE PLAIN")


class TableIndex:
    """Exact inner-product search (pgvector) over rows with keys; as `Index`, which see."""

    told = ""

    def __init__(self, file: VectorTable) -> None:
        self._file = file
        self.keys = file.keys()
        self.dimension = file.dimension

    def __len__(self) -> int:
        return len(self.keys)

    def vector(self, key: str) -> Vectors | None:
        """The row of a key, shape (d,), or None."""
        return self._file.rows([key])[0] if key in self._file else None

    def search(self, query: Vectors, top: int, allowed_keys: Collection[str] | None = None) -> list[tuple[str, float]]:
        """The `top` best keys for a query (d,), as `(key, inner product)`, best first, ties in the order of the rows.

        Only `allowed_keys` take part where given. Raises ValueError for a query of another dimension or with values
        not finite.
        """
        import numpy as np

        row = np.ascontiguousarray(query, dtype=np.float32).reshape(-1)
        if row.shape != (self.dimension,) or not np.isfinite(row).all():
            raise ValueError(f"a query of dimension {row.shape[0]} in an index of dimension {self.dimension}")
        if top <= 0 or not self.keys or (allowed_keys is not None and not allowed_keys):
            return []
        values: dict[str, Any] = {"row": row, "top": top}
        where = ""
        if allowed_keys is not None:
            where, values["allowed"] = "WHERE key = ANY(%(allowed)s)", list(allowed_keys)
        with sqlite.reading(self._file._engine) as connection:
            _know_vectors(connection)
            found = connection.exec_driver_sql(
                f"SELECT key, -(row <#> %(row)s) AS product FROM {_named(self._file.name)} {where} "  # noqa: S608
                "ORDER BY row <#> %(row)s, place LIMIT %(top)s",
                values,
            )
            return [(key, float(product)) for key, product in found]

    def search_owned(
        self, query: Vectors, top: int, owner: Callable[[str], str], allowed: Collection[str] | None
    ) -> list[tuple[str, float]]:
        """As `search`, among the rows of the references allowed (of all where None); `owner` tells whose a key is."""
        if allowed is None:
            return self.search(query, top)
        wanted = set(allowed)
        keys = [key for key in self.keys if owner(key) in wanted]
        return self.search(query, top, None if len(keys) == len(self.keys) else keys)

    def best_of_each(
        self, query: Vectors, top: int, owner: Callable[[str], str], allowed: Collection[str] | None
    ) -> list[tuple[str, float]]:
        """As `search_owned`, but `top` counts references, and of each only its best row is told."""
        count = 2 * top
        while True:
            found = self.search_owned(query, count, owner, allowed)
            best: dict[str, tuple[str, float]] = {}
            for key, product in found:
                best.setdefault(owner(key), (key, product))
            if len(best) >= top or len(found) < count:
                return list(best.values())[:top]
            count *= 3


def _named(name: str) -> str:
    """The table of the vectors under a name, which is one of ours."""
    if not re.fullmatch("[a-z]{1,30}", name):
        raise ValueError(f"no name of vectors: {name!r}")
    return f"vectors_{name}"


def _forget(connection: sa.Connection, name: str) -> None:
    if _read_head(connection, name) is not None:
        connection.execute(sa.delete(_head).where(_head.c.name == name))
        connection.exec_driver_sql(f"DROP TABLE IF EXISTS {_named(name)}")


def _table(name: str) -> sa.TableClause:
    return sa.table(_named(name), sa.column("key", sa.Text()), sa.column("row"))


def _read_head(connection: sa.Connection, name: str) -> sa.RowMapping | None:
    if not sa.inspect(connection).has_table(_head.name):
        return None
    return connection.execute(sa.select(_head).where(_head.c.name == name)).mappings().first()


def _know_vectors(connection: sa.Connection) -> None:
    """Let the driver read and write vectors on this connection."""
    if "vectors" not in connection.info:
        from pgvector.psycopg import register_vector

        raw: Any = connection.connection.driver_connection
        register_vector(raw)
        connection.info["vectors"] = True


def _as_array(value: Any) -> Any:
    return value.to_numpy() if hasattr(value, "to_numpy") else value
