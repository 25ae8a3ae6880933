"""A small camera raw file (DNG) of a known scene, written tag by tag after Adobe's published DNG specification 1.4."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import tifffile

WHITE, BLACK = 15_000, 500
D65_TO_SRGB = (  # XYZ to a camera whose channels are those of linear sRGB (IEC 61966-2-1)
    (32406, 10000), (-15372, 10000), (-4986, 10000),
    (-9689, 10000), (18758, 10000), (415, 10000),
    (557, 10000), (-2040, 10000), (10570, 10000),
)  # fmt: skip


def write_dng(path: Path, light: np.ndarray) -> Path:
    """A raw file with an RGGB mosaic of scene-linear light (H, W, 3), 0-1, both sides even."""
    mosaic = np.empty(light.shape[:2])
    mosaic[0::2, 0::2] = light[0::2, 0::2, 0]
    mosaic[0::2, 1::2] = light[0::2, 1::2, 1]
    mosaic[1::2, 0::2] = light[1::2, 0::2, 1]
    mosaic[1::2, 1::2] = light[1::2, 1::2, 2]
    data = np.clip(np.rint(BLACK + mosaic * (WHITE - BLACK)), 0, 65535).astype(np.uint16)
    flat = [n for pair in D65_TO_SRGB for n in pair]
    tags = [
        (271, 2, 0, "Invented", True),
        (272, 2, 0, "Box", True),
        (33421, 3, 2, (2, 2), True),  # CFARepeatPatternDim
        (33422, 1, 4, bytes((0, 1, 1, 2)), True),  # CFAPattern: red, green, green, blue
        (50706, 1, 4, bytes((1, 4, 0, 0)), True),  # DNGVersion
        (50707, 1, 4, bytes((1, 1, 0, 0)), True),  # DNGBackwardVersion
        (50708, 2, 0, "Invented Box", True),  # UniqueCameraModel
        (50714, 3, 1, BLACK, True),  # BlackLevel
        (50717, 3, 1, WHITE, True),  # WhiteLevel
        (50721, 10, 9, flat, True),  # ColorMatrix1
        (50728, 5, 3, (1, 1, 1, 1, 1, 1), True),  # AsShotNeutral
        (50778, 3, 1, 21, True),  # CalibrationIlluminant1: D65
    ]
    tifffile.imwrite(path, data, photometric=32803, extratags=tags, compression=None, metadata=None)
    return path
