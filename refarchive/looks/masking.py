"""A picture with one marked thing taken out: filled from around it, so that the hole itself says little."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour

WORKING_SIDE = 512  # pixels, long side: what is filled is soft, and encoders see less


def without_region(picture: ArrayLike, region: tuple[float, float, float, float]) -> NDArray[np.uint8]:
    """The picture, reduced to the working size, with the region filled from what lies around it (H, W, 3) uint8.

    `region` is (x, y, width, height) as fractions. The filling is Telea's (2004), softened.

    Raises
    ------
    CannotMeasure
        where it is no picture, or the region lies outside it or leaves nothing of it.
    """
    import cv2

    array = colour.check_picture(picture)
    if array.dtype != np.uint8:
        array = np.rint(array * 255.0).astype(np.uint8)
    x, y, width, height = region
    if not (0 <= x < 1 and 0 <= y < 1 and width > 0 and height > 0 and x + width <= 1.0001 and y + height <= 1.0001):
        raise CannotMeasure("The region lies outside the picture.", "Mark one inside it.")
    scale = min(1.0, WORKING_SIDE / max(array.shape[:2]))
    size = (max(1, round(array.shape[1] * scale)), max(1, round(array.shape[0] * scale)))
    small = np.asarray(cv2.resize(array, size, interpolation=cv2.INTER_AREA))
    left, top = int(x * size[0]), int(y * size[1])
    right, bottom = max(left + 1, round((x + width) * size[0])), max(top + 1, round((y + height) * size[1]))
    mask = np.zeros(small.shape[:2], np.uint8)
    mask[top:bottom, left:right] = 255
    if mask.all():
        raise CannotMeasure("The region is the whole picture.", "Mark a part of it.")
    filled = cv2.inpaint(np.ascontiguousarray(small), mask, 5, cv2.INPAINT_TELEA)
    soft = cv2.GaussianBlur(filled, (0, 0), max(1.0, 0.05 * min(right - left, bottom - top)))
    out = small.copy()
    out[mask > 0] = soft[mask > 0]
    return np.asarray(out)
