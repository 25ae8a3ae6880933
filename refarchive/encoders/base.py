"""What an encoder is, and the one registry through which shipped and outside encoders come in.

An encoder turns pictures into vectors, and words into vectors that can be compared with pictures. Some encoders have
one space for both (contrastive models); others compare pictures with pictures in one space and words with pictures in
another, which may depend on the archive as a whole. Both fit this protocol:

* `encode_pictures` returns for each picture its `likeness` vector, and its `meaning`: the raw values kept on disk from
  which word-space vectors are made. Where the two are the same array, `meaning` is None.
* `word_space` turns the kept meanings of the *whole archive* into word-space vectors; cheap (a small matrix product),
  so that it can be repeated as the archive grows.
* `encode_words` puts words into the same word space.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

from refarchive.errors import UnknownEncoder

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL.Image import Image

    Vectors = NDArray[np.float32]

Box = tuple[int, int, int, int]  # left, top, right, bottom in pixels, the last two beyond the part
Progress = Callable[[int, int, str], None]  # done, of how many (0 unknown), what


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@dataclass(frozen=True)
class Identity:
    """What an index must name so that no other encoder's vectors are ever mixed into it."""

    name: str  # as typed: "built-in", "openclip:MODEL:WEIGHTS"
    weights_sha256: str
    likeness_dimension: int
    meaning_dimension: int  # 0 where meaning and likeness are the same
    preprocessing: str  # short, exact: size, resampling, crop, mean and deviation

    def as_dict(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True)
class PictureCodes:
    """The vectors of n pictures.

    likeness: float32 of shape (n, likeness_dimension), unit length, compared by inner product.
    meaning: float32 of shape (n, meaning_dimension), raw, or None where it would equal `likeness`.
    """

    likeness: Vectors
    meaning: Vectors | None


@runtime_checkable
class Encoder(Protocol):
    """A picture encoder with a way to compare words with pictures."""

    @property
    def identity(self) -> Identity: ...

    def encode_pictures(self, pictures: Sequence[Image]) -> PictureCodes:
        """Encode upright sRGB pictures (PIL mode RGB, any size). An empty sequence gives arrays of shape (0, d)."""
        ...

    def word_space(self, meaning: Vectors) -> Vectors:
        """Turn kept meanings (n, m) of the whole archive into unit word-space vectors (n, w)."""
        ...

    def encode_words(self, texts: Sequence[str]) -> Vectors:
        """Encode words or sentences as unit word-space vectors (n, w)."""
        ...


@runtime_checkable
class CutsParts(Protocol):
    """What an encoder may do besides: encode parts of pictures without their being cut out first."""

    def encode_parts(self, pictures: Sequence[Image], boxes: Sequence[Sequence[Box]]) -> PictureCodes:
        """Encode the parts of each picture, box after box of one picture after the other."""
        ...


def encode_parts(encoder: Encoder, pictures: Sequence[Image], boxes: Sequence[Sequence[Box]]) -> PictureCodes:
    """Encode parts of upright sRGB pictures, box after box of one picture after the other."""
    if isinstance(encoder, CutsParts):
        return encoder.encode_parts(pictures, boxes)
    return encoder.encode_pictures(
        [picture.crop(box) for picture, its in zip(pictures, boxes, strict=True) for box in its]
    )


Maker = Callable[[str, Progress | None], Encoder]
_makers: dict[str, Maker] = {}


def register(prefix: str, maker: Maker) -> None:
    """Make encoders known under `prefix` ("built-in", or "openclip" for names like "openclip:MODEL:WEIGHTS").

    `maker(name, progress)` gets the whole name as typed and loads the encoder.
    """
    _makers[prefix] = maker


def registered() -> tuple[str, ...]:
    """Prefixes known now, in order of registration."""
    return tuple(_makers)


def load(name: str, progress: Progress | None = None) -> Encoder:
    """Load an encoder by its name.

    Raises
    ------
    UnknownEncoder
        where no registered prefix matches.
    WeightsUnavailable
        where the weights are not on this machine and cannot be fetched.
    """
    maker = _makers.get(name.partition(":")[0])
    if maker is None:
        known = ", ".join(_makers) or "none"
        raise UnknownEncoder(f"No encoder is called {name!r}.", f"Available: {known}.")
    return maker(name, progress)
