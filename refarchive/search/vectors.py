"""Vectors on disk; `scan.py` searches them.

A `VectorFile` is a folder of four files: `head.json` (format version, what made the vectors, dimension, generation),
`rows.N.f32` (raw little-endian float32, row after row), `keys.N.txt` (one JSON string a line) and `sums.N.u32` (a
CRC-32 of each key with its row, for a flipped bit is as good a number as any other), N being the generation. Sums are
looked at by verify alone. A row without one (of a file older than sums, or after a power failure) is given one by a
repair where it looks like its neighbours; one that is wrong condemns its row, which is made anew.

Rows are written and brought to disk before their keys, so that an interruption between the two leaves rows without
keys; the shorter of both counts, and the rest is cut off before anything is added. Dropping writes the next generation
whole and then swaps the head, the one step that counts.

One process writes at a time; any number may read what was there when they looked.

Pictures are keyed "ref-…#0" for the whole and "#1" to "#5" for five overlapping tiles, so that a detail finds its
whole.
"""

from __future__ import annotations

import json
import os
import struct
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.errors import ArchiveDamaged, ArchiveTooNew, EncoderMismatch
from refarchive.records.bounded import REFUSED, read_bounded
from refarchive.records.files import settle

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]

State = tuple[int, int]
MOST_WIDE = 1 << 20  # values of a row: what says more is no vector file
FORMAT = 1
HEAD = "head.json"
HEAD_BEFORE_SUMS = frozenset({"format", "identity", "dimension", "generation"})  # names in a head without a sum
MOST_GENERATIONS = 10**12
LARGEST_HEAD = 1_000_000  # bytes
LARGEST_FILE = 4_000_000_000  # bytes, of keys and of sums

# The whole, then four corners and the middle, each 60 % of either side: neighbours overlap by a fifth of the side, so
# that anything up to 20 % of a side wide lies whole within one tile.
TILES: tuple[tuple[float, float, float, float], ...] = (
    (0.0, 0.0, 1.0, 1.0),
    (0.0, 0.0, 0.6, 0.6),
    (0.4, 0.0, 0.6, 0.6),
    (0.0, 0.4, 0.6, 0.6),
    (0.4, 0.4, 0.6, 0.6),
    (0.2, 0.2, 0.6, 0.6),
)
TILE_NAMES = ("whole", "upper left", "upper right", "lower left", "lower right", "middle")


def boxes(size: tuple[int, int]) -> list[tuple[int, int, int, int]]:
    """The whole picture and its five tiles in pixels, in the order of TILES; each at least one pixel wide and high.

    `size` is width and height; a box is left, top, right, bottom, as Pillow cuts.

    >>> boxes((10, 5))[:3]
    [(0, 0, 10, 5), (0, 0, 6, 3), (4, 0, 10, 3)]
    """
    width, height = size
    found = []
    for x, y, w, h in TILES:
        left, top = min(int(x * width), width - 1), min(int(y * height), height - 1)
        right, bottom = max(left + 1, round((x + w) * width)), max(top + 1, round((y + h) * height))
        found.append((left, top, right, bottom))
    return found


def picture_key(reference: str, tile: int = 0) -> str:
    """Key of a picture's whole (0) or of one of its tiles (1–5)."""
    return f"{reference}#{tile}"


def split_key(key: str) -> tuple[str, int]:
    """Reference and tile of a picture's key.

    >>> split_key("ref-0123456789ab#3"), split_key("ref-0123456789ab")
    (('ref-0123456789ab', 3), ('ref-0123456789ab', 0))
    """
    reference, mark, tile = key.rpartition("#")
    return (reference, int(tile)) if mark else (key, 0)


class VectorFile:
    """An append-only matrix on disk with a key for each row.

    Parameters
    ----------
    folder
        Where the files lie. Nothing is created before the first `append`.
    identity
        What made the vectors, as a JSON object (`Identity.as_dict()`). A file made by another is refused. The field
        `name` alone may differ where both name weights by hash: a checkpoint may lie elsewhere on another machine.
    dimension
        Length of a row.

    Raises
    ------
    EncoderMismatch
        where the file there was made by another encoder, other weights, or other preprocessing.
    ArchiveTooNew
        where it was written in a later format.
    ArchiveDamaged
        where its head cannot be read or its parts contradict each other.
    """

    def __init__(self, folder: Path, *, identity: Mapping[str, object], dimension: int) -> None:
        self.folder = Path(folder)
        self.identity = json.loads(json.dumps(dict(identity)))
        self.dimension = dimension
        self._generation = 0
        self._keys: list[str] = []
        self._key_bytes = 0  # on disk, of the valid lines
        self._places: dict[str, int] = {}
        self.reload()

    # --- reading ------------------------------------------------------------------------------------------------

    def reload(self) -> None:
        """Look again at what is on disk."""
        head = self._read_head()
        self._key_bytes = 0
        self._generation = 0 if head is None else int(head["generation"])
        self._keys = [] if head is None else self._valid_keys()
        self._places = {key: place for place, key in enumerate(self._keys)}
        if len(self._places) != len(self._keys):
            raise self._damaged("names a key twice")

    def refresh(self) -> None:
        """Look again where another program has written since."""
        head = self._read_head()
        now = 0 if head is None else int(head["generation"])
        path = self._keys_path()
        size = path.stat().st_size if path.is_file() else 0
        if (now, size) != (self._generation, self._key_bytes):
            self.reload()

    @property
    def state(self) -> State:
        """What changes whenever rows come or go: the generation, and how many rows it has."""
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
        """All rows, float32 of shape (n, dimension), mapped from disk and not writable."""
        import numpy as np

        shape = (len(self._keys), self.dimension)
        if not self._keys:
            return np.zeros(shape, np.float32)
        return np.memmap(self._rows_path(), dtype="<f4", mode="r", shape=shape)

    def rows(self, keys: Sequence[str]) -> Vectors:
        """Rows of some keys in the order named, float32 of shape (n, dimension), a copy. Raises KeyError."""
        import numpy as np

        places = np.asarray([self._places[key] for key in keys], dtype=np.intp)
        return np.array(self.matrix()[places], dtype=np.float32)

    def missing(self, wanted: Iterable[str]) -> list[str]:
        """Those of the wanted keys that have no row, in the order named, each once."""
        return [key for key in dict.fromkeys(wanted) if key not in self._places]

    def damaged(self) -> list[str]:
        """Keys whose row, or whose own text, is not what was written or cannot be one; all rows are read."""
        sums, without = self._sums_kept(self._keys), self._without_sum()
        condemned = self._unlikely(without)
        matrix = self.matrix()
        return [
            key
            for place, key in enumerate(self._keys)
            if key in condemned
            or (key not in without and sums[4 * place : 4 * place + 4] != _sum(key, matrix[place].tobytes()))
        ]

    def unvouched(self) -> list[str]:
        """Keys of rows that look right and carry no sum."""
        without = self._without_sum()
        condemned = self._unlikely(without)
        return [key for key in without if key not in condemned]

    def vouch(self) -> int:
        """Write the sums of rows that look right and carry none; returns how many. Other sums stay as they are."""
        keys = self.unvouched()
        if not keys:
            return 0
        sums = bytearray(self._sums_kept(self._keys))
        matrix = self.matrix()
        for key in keys:
            place = self._places[key]
            sums[4 * place : 4 * place + 4] = _sum(key, matrix[place].tobytes())
        half = self._sums_path().with_suffix(".part")
        _write(half, bytes(sums))
        os.replace(half, self._sums_path())
        settle(self.folder)
        return len(keys)

    def _without_sum(self) -> dict[str, int]:
        """Places, by key, of rows whose sum was never written: none is there, or only the zeros that fill its place."""
        sums = self._sums_kept(self._keys)
        return {key: place for place, key in enumerate(self._keys) if not any(sums[4 * place : 4 * place + 4])}

    def _unlikely(self, places: Mapping[str, int]) -> set[str]:
        """Keys of rows that no encoder wrote: not finite, all zeros, or not of length 1 where the others are."""
        import numpy as np

        if not places:
            return set()
        matrix = self.matrix()
        with np.errstate(all="ignore"):  # a part of the mapped rows at a time, never a copy of all of them
            lengths = np.sqrt(np.einsum("ij,ij->i", matrix, matrix, dtype=np.float64))
        wrong = ~np.isfinite(lengths) | (lengths == 0.0)
        if not wrong.all() and abs(np.median(lengths[~wrong]) - 1.0) < 1e-3:
            wrong |= np.abs(lengths - 1.0) > 1e-3
        return {key for key, place in places.items() if wrong[place]}

    def sums(self, count: int) -> bytes:
        """What is kept to know damage by of the first `count` rows, four bytes each; fewer where some are lost."""
        try:
            return _content(self._sums_path(), LARGEST_FILE)[: 4 * count]
        except FileNotFoundError:
            return b""

    def strays(self) -> list[Path]:
        """Files of other generations and half-made heads, which a killed program left and nothing reads."""
        mine = {HEAD, *(path.name for path in (self._rows_path(), self._keys_path(), self._sums_path()))}
        if not self.folder.is_dir():
            return []
        return sorted(path for path in self.folder.iterdir() if path.name not in mine)

    # --- writing ------------------------------------------------------------------------------------------------

    def append(self, keys: Sequence[str], vectors: Vectors) -> None:
        """Add rows (n, dimension) under new keys.

        Raises ValueError for a wrong shape, values that are not finite, or a key that is there already; then nothing
        is written.
        """
        import numpy as np

        rows = np.ascontiguousarray(vectors, dtype="<f4")
        if rows.shape != (len(keys), self.dimension):
            raise ValueError(f"rows of shape {rows.shape} for {len(keys)} keys of dimension {self.dimension}")
        if not np.isfinite(rows).all():
            raise ValueError("a vector has values that are not finite")
        if len(set(keys)) != len(keys) or any(key in self._places for key in keys):
            raise ValueError("a key is there already")
        if not keys:
            return
        if not (self.folder / HEAD).exists():
            self.folder.mkdir(parents=True, exist_ok=True)
            self._write_head(self._generation)
        self._add(self._rows_path(), self._row_bytes * len(self._keys), rows.tobytes())
        # Sums are not waited for: after a power failure a few rows may be made anew, and nothing is slower for them.
        self._add(self._sums_path(), 4 * len(self._keys), _sums(keys, rows), wait=False)
        self._add(self._keys_path(), self._key_bytes, _lines(keys))
        self._key_bytes += len(_lines(keys))
        for key in keys:
            self._places[key] = len(self._keys)
            self._keys.append(key)

    def drop(self, keys: Iterable[str]) -> None:
        """Remove rows; keys without one are passed over. Interrupted at any point, all rows are still there."""
        gone = {key for key in keys if key in self._places}
        if not gone:
            return
        kept = [key for key in self._keys if key not in gone]
        rows = self.rows(kept)
        old = [self._rows_path(), self._keys_path(), self._sums_path()]
        sums = self._sums_kept(kept)
        after = self._generation + 1
        _write(self._rows_path(after), rows.astype("<f4").tobytes())
        _write(self._sums_path(after), sums)
        _write(self._keys_path(after), _lines(kept))
        self._write_head(after)
        self._generation = after
        self._keys = kept
        self._key_bytes = len(_lines(kept))
        self._places = {key: place for place, key in enumerate(kept)}
        for path in old:
            with suppress(
                OSError
            ):  # where a reader still maps it, it stays until the next drop; it is never read again
                path.unlink(missing_ok=True)

    # --- on disk ------------------------------------------------------------------------------------------------

    @property
    def _row_bytes(self) -> int:
        return 4 * self.dimension

    def _rows_path(self, generation: int | None = None) -> Path:
        return self.folder / f"rows.{self._generation if generation is None else generation}.f32"

    def _keys_path(self, generation: int | None = None) -> Path:
        return self.folder / f"keys.{self._generation if generation is None else generation}.txt"

    def _sums_path(self, generation: int | None = None) -> Path:
        return self.folder / f"sums.{self._generation if generation is None else generation}.u32"

    def _sums_kept(self, keys: Sequence[str]) -> bytes:
        """Sums as they were written, not reckoned again: damage is not to be taken for what was meant."""
        try:
            sums = _content(self._sums_path(), LARGEST_FILE)
        except FileNotFoundError:
            sums = b""
        sums = sums.ljust(4 * len(self._keys), b"\0")
        return b"".join(sums[4 * self._places[key] : 4 * self._places[key] + 4] for key in keys)

    def _damaged(self, how: str) -> ArchiveDamaged:
        return ArchiveDamaged(
            f"The vector file {self.folder.name} {how}.", "Have it made anew: refarchive verify ARCHIVE --repair"
        )

    def _read_head(self) -> dict[str, Any] | None:
        try:
            text = _content(self.folder / HEAD, LARGEST_HEAD)
        except FileNotFoundError:
            return None
        try:
            head = json.loads(text)
            kept = head.pop("sum", None)
            if kept is None and set(head) - HEAD_BEFORE_SUMS:  # the name of the sum is what was damaged
                raise ValueError("another name")
            if kept not in (None, _head_sum(head)) and int(head["format"]) <= FORMAT:
                raise ValueError("another sum")
            version, generation = int(head["format"]), int(head["generation"])
            identity, dimension = dict(head["identity"]), int(head["dimension"])
            if not (version >= 1 and 0 <= generation <= MOST_GENERATIONS and 1 <= dimension <= MOST_WIDE):
                raise ValueError("numbers that cannot be")
        except (ValueError, TypeError, KeyError, AttributeError, OverflowError, RecursionError) as error:
            raise self._damaged("has a head that cannot be read") from error
        if version > FORMAT:
            raise ArchiveTooNew(
                f"The vector file {self.folder.name} is of format {version}; this version reads {FORMAT}.",
                "Install a later version of refarchive.",
            )
        if dimension != self.dimension or not _same(identity, self.identity):
            theirs, ours = (str(one.get("name", "another")) for one in (identity, self.identity))
            if theirs == ours:
                theirs, ours = f"{theirs} with other weights or preprocessing", f"{ours} as it is now"
            raise EncoderMismatch(
                f"The vectors in {self.folder.name} were made by {theirs}, not by {ours}.",
                f"Make them anew: refarchive reencode ARCHIVE --encoder {self.identity.get('name', 'NAME')}",
            )
        return {"generation": generation}

    def _write_head(self, generation: int) -> None:
        head = {
            "format": FORMAT,
            "identity": self.identity,
            "dimension": self.dimension,
            "generation": generation,
        }
        head["sum"] = _head_sum(head)
        half = self.folder / f"{HEAD}.part"
        _write(half, json.dumps(head, ensure_ascii=False, indent=1).encode())
        os.replace(half, self.folder / HEAD)
        settle(self.folder)

    def _valid_keys(self) -> list[str]:
        try:
            whole_lines = _content(self._keys_path(), LARGEST_FILE).split(b"\n")[:-1]  # a torn last line has no newline
            rows = self._rows_path().stat().st_size // self._row_bytes
        except FileNotFoundError:
            return []  # interrupted between the head and the first rows
        lines = whole_lines[:rows]
        try:
            keys = json.loads(b"[" + b",".join(lines) + b"]")  # at once: a million one by one take a second
        except ValueError as error:
            raise self._damaged("has keys that cannot be read") from error
        if len(keys) != len(lines) or not all(isinstance(key, str) for key in keys):
            raise self._damaged("has keys that cannot be read")
        self._key_bytes = sum(map(len, lines)) + len(lines)
        return list(keys)

    @staticmethod
    def _add(path: Path, valid: int, more: bytes, *, wait: bool = True) -> None:
        """Cut a file to its valid length (or fill it up with zeros), add to it, and bring it to disk."""
        with open(path, "r+b" if path.exists() else "w+b") as file:
            file.truncate(valid)
            file.seek(valid)
            file.write(more)
            file.flush()
            if wait:
                os.fsync(file.fileno())


def _content(path: Path, largest: int) -> bytes:
    """All bytes of a file. Raises ArchiveDamaged for a pipe, a folder and what is larger; OSError."""
    try:
        return read_bounded(path, largest)
    except OSError as error:
        if error.errno not in REFUSED:
            raise
        raise ArchiveDamaged(
            f"The vector file {path.parent.name} cannot be read: {path.name}: {error.strerror}.",
            "Have it made anew: refarchive verify ARCHIVE --repair",
        ) from None


def opened(folder: Path) -> VectorFile | None:
    """The vector file in a folder as whoever made it left it, without asking who that was; None where there is none.

    For looking at keys without loading an encoder. Raises ArchiveDamaged where its head cannot be read.
    """
    try:
        head = json.loads(_content(folder / HEAD, LARGEST_HEAD))
        return VectorFile(folder, identity=head["identity"], dimension=int(head["dimension"]))
    except FileNotFoundError:
        return None
    except (ValueError, TypeError, KeyError, OverflowError, RecursionError) as error:
        raise ArchiveDamaged(
            f"The vector file {folder.name} has a head that cannot be read.",
            "Have it made anew: refarchive verify ARCHIVE --repair",
        ) from error


def _same(a: Mapping[str, object], b: Mapping[str, object]) -> bool:
    if a.get("weights_sha256") and b.get("weights_sha256"):
        a, b = ({key: value for key, value in one.items() if key != "name"} for one in (a, b))
    return a == b


def _lines(keys: Iterable[str]) -> bytes:
    return b"".join(json.dumps(key).encode("ascii") + b"\n" for key in keys)


def _sum(key: str, row: bytes) -> bytes:
    return struct.pack("<I", zlib.crc32(row, zlib.crc32(_lines([key]))))


def _sums(keys: Sequence[str], rows: Vectors) -> bytes:
    return b"".join(_sum(key, row.tobytes()) for key, row in zip(keys, rows, strict=True))


def _head_sum(head: Mapping[str, Any]) -> int:
    return zlib.crc32(json.dumps(head, sort_keys=True).encode("ascii"))


def _write(path: Path, content: bytes) -> None:
    with open(path, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
