"""A small encoder that comes in through the registry as an outsider's would; `conftest.py` registers it as "tiny"."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import numpy as np
from PIL import Image

from refarchive.encoders import base


class TinyEncoder:
    """Mean colours of a 4 × 4 grid, and words by digest: quick, deterministic, and one space for both."""

    def __init__(self, name: str, size: int = 48) -> None:
        self._name, self._size = name, size

    @property
    def identity(self) -> base.Identity:
        digest = hashlib.sha256(self._name.encode()).hexdigest()
        return base.Identity(self._name, digest, self._size, 0, "4 × 4 mean colours")

    def encode_pictures(self, pictures: Sequence[Image.Image]) -> base.PictureCodes:
        rows = [np.asarray(p.resize((4, 4), Image.Resampling.BOX), np.float32).reshape(-1) - 127 for p in pictures]
        stacked = np.stack(rows)[:, : self._size] + 1e-3 if rows else np.zeros((0, self._size), np.float32)
        return base.PictureCodes((stacked / np.linalg.norm(stacked, axis=1, keepdims=True)).astype(np.float32), None)

    def word_space(self, meaning: np.ndarray) -> np.ndarray:
        return meaning

    def encode_words(self, texts: Sequence[str]) -> np.ndarray:
        rows = [np.frombuffer(hashlib.sha512(t.encode()).digest()[: self._size], np.uint8) for t in texts]
        centred = np.stack(rows).astype(np.float32) - 127
        return centred / np.linalg.norm(centred, axis=1, keepdims=True)
