"""What a long job works with: the store, the files, and the encoders, each loaded only when first needed."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, cast

from refarchive.encoders import base
from refarchive.errors import EncoderMismatch

if TYPE_CHECKING:
    from refarchive.encoders.sentences import Sentences
    from refarchive.records.files import Files
    from refarchive.records.store import Store
    from refarchive.search.scan import Index
    from refarchive.search.vector_folder import VectorFolder
    from refarchive.search.vectors import State, VectorFile, Vectors

Progress = base.Progress
Made = TypeVar("Made")
MOST_REMEMBERED = 500  # results, the oldest of which is forgotten first


@dataclass
class Kit:
    """One archive's store and files, with its encoders and vector files.

    The vector files are: `likeness` and `meaning` (of pictures and their tiles, by this archive's picture encoder),
    `captions` and `passages` (by the sentence encoder), `colours` (palettes).
    """

    store: Store
    files: Files
    folder: Path
    encoder_name: str
    _indexes: dict[tuple[str, str], tuple[State, Index]] = field(default_factory=dict, repr=False)
    _remembered: dict[Hashable, Any] = field(default_factory=dict, repr=False)
    _told: threading.local = field(default_factory=threading.local, repr=False)

    @property
    def progress(self) -> Progress | None:
        """Whom the work of this thread tells how far it is; another thread's work tells somebody else, or nobody."""
        found: Progress | None = getattr(self._told, "progress", None)
        return found

    @progress.setter
    def progress(self, progress: Progress | None) -> None:
        self._told.progress = progress

    @property
    def may_fetch(self) -> bool:
        """Whether the work of this thread may fetch weights that are not on this machine, telling of it."""
        return bool(getattr(self._told, "may_fetch", False))

    @may_fetch.setter
    def may_fetch(self, allowed: bool) -> None:
        self._told.may_fetch = allowed

    def tell(self, done: int, of: int, words: str) -> None:
        """Tell of a step of long work where somebody listens, who may stop it by what the telling raises."""
        if self.progress is not None:
            self.progress(done, of, words)

    @cached_property
    def encoder(self) -> base.Encoder:
        """The picture encoder. Raises UnknownEncoder or WeightsUnavailable."""
        import refarchive.encoders  # noqa: F401  (registers those that ship)

        return base.load(self.encoder_name, self.progress if self.may_fetch else None)

    @cached_property
    def sentences(self) -> Sentences:
        """The sentence encoder for captions and passages."""
        from refarchive.encoders.sentences import shared

        return shared()

    @cached_property
    def likeness(self) -> VectorFile:
        """Unit likeness vectors of pictures, keyed "ref-…#0" for the whole and "#1"… for tiles."""
        identity = self.encoder.identity
        return self._file("likeness", identity.as_dict(), identity.likeness_dimension)

    @cached_property
    def meaning(self) -> VectorFile:
        """Raw meanings of pictures, keyed likewise; the likeness file itself where there is one space for both."""
        identity = self.encoder.identity
        if not identity.meaning_dimension:
            return self.likeness
        return self._file("meaning", identity.as_dict(), identity.meaning_dimension)

    @cached_property
    def captions(self) -> VectorFile:
        """Sentence vectors of captions, keyed by reference."""
        return self._file("captions", self.sentences.identity.as_dict(), self.sentences.identity.likeness_dimension)

    @cached_property
    def passages(self) -> VectorFile:
        """Sentence vectors of passages, keyed by passage."""
        return self._file("passages", self.sentences.identity.as_dict(), self.sentences.identity.likeness_dimension)

    @cached_property
    def colours(self) -> VectorFile:
        """Palettes of pictures, keyed by reference."""
        from refarchive.jobs.references import palettes

        return self._file("colours", {"name": "palette", "colours": palettes.COLOURS, "version": 1}, palettes.WIDTH)

    def kept_index(self, file: VectorFile, rows: Callable[[], Vectors] | None = None, kind: str = "rows") -> Index:
        """An index over a vector file, or over what `rows` makes of it, kept until the file has other keys."""
        from refarchive.search.scan import Index

        place = str(file.folder), kind
        state, held = self._indexes.get(place, (None, None))
        if held is None or state != file.state:
            state = file.state
            held = self.vectors.index(file) if rows is None else Index(file.keys(), rows())
            self._indexes[place] = state, held
        return held

    def forget_index(self, file: VectorFile) -> None:
        """Let the index over a vector file be made anew when it is next asked for."""
        self._indexes.pop((str(file.folder), "rows"), None)

    def remembered(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What `make` gave for the same key before, while this archive is open; `key` says all that it rests on."""
        if key in self._remembered:
            found: Made = self._remembered[key]
            return found
        made = make()
        if len(self._remembered) >= MOST_REMEMBERED:
            del self._remembered[next(iter(self._remembered))]
        self._remembered[key] = made
        return made

    @cached_property
    def vectors(self) -> VectorFolder:
        """Where the vector files are kept: in the folder, or for a shared archive in its database."""
        from refarchive.search.vector_folder import VectorFolder

        if self.store.shared is not None:
            from refarchive.search.vector_tables import VectorTables

            return cast("VectorFolder", VectorTables(self.store.shared))
        return VectorFolder(self.folder / "vectors")

    def check_encoder(self) -> None:
        """Raise EncoderMismatch where somebody gave the archive another encoder since it was opened here."""
        chosen = self.store.setting("encoder", {}).get("name")
        if chosen != self.encoder_name:
            raise EncoderMismatch(
                f"The archive was encoded anew with {chosen} since it was opened here, with {self.encoder_name}.",
                "Close it and open it again. What was saved is kept.",
            )

    @contextmanager
    def with_its_encoder(self) -> Iterator[None]:
        """Tell vectors that were made anew meanwhile, by somebody else, from those of a wrong encoder."""
        try:
            yield
        except EncoderMismatch:
            self.check_encoder()
            raise

    def _file(self, name: str, identity: dict[str, object], dimension: int) -> VectorFile:
        with self.with_its_encoder():
            return self.vectors.file(name, identity, dimension)
