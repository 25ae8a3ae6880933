"""Quickly drawn pictures for tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image


def draw(path: Path, seed: int = 0, size: tuple[int, int] = (160, 120)) -> Path:
    """A picture of random blocks, saved by its suffix."""
    blocks = np.random.default_rng(seed).integers(0, 256, (6, 8, 3), dtype=np.uint8)
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(blocks).resize(size, Image.Resampling.NEAREST).save(path)
    return path
