"""How alike two pictures are as arrangements of pixels: hashes, edges, structural similarity, and percentiles.

None of this is likeness of subject or mood. Hashes find near copies (recompressed, resized, greyed); cropping by a
tenth already reaches the range of unrelated pictures, so they must not be taken for more: `copies` goes on from there.
Structural similarity compares two aligned pictures of equal size.

Sources: Wang, Bovik, Sheikh & Simoncelli 2004 (SSIM). The hashes are the widely used difference hash and DCT hash
(common practice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour

if TYPE_CHECKING:
    from PIL.Image import Image

Array = NDArray[np.float64]

NEAR_COPY_BITS = 8  # at most so many of 64 bits differ between near copies (common practice, no source)


def _grey(picture: ArrayLike) -> Image:
    """The picture as 8-bit encoded luma."""
    from PIL import Image

    array = colour.check_picture(picture)
    if array.dtype != np.uint8:
        colour.linear(array)  # refuses values outside 0–1
        array = np.rint(array * 255.0).astype(np.uint8)
    return Image.fromarray(np.ascontiguousarray(array)).convert("L")


def _packed(bits: NDArray[np.bool_]) -> int:
    return int.from_bytes(np.packbits(bits.ravel()).tobytes(), "big")


def difference_hash(picture: ArrayLike) -> int:
    """64 bits: whether each of 8 × 8 cells is lighter than its left neighbour, row by row, first bit the highest.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    from PIL import Image

    cells = np.asarray(_grey(picture).resize((9, 8), Image.Resampling.LANCZOS), dtype=np.int16)
    return _packed(cells[:, 1:] > cells[:, :-1])


def frequency_hash(picture: ArrayLike) -> int:
    """64 bits: whether each of the 8 × 8 lowest frequencies (DCT-II of 32 × 32 cells) lies above their median.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    from PIL import Image

    cells = np.asarray(_grey(picture).resize((32, 32), Image.Resampling.LANCZOS), dtype=np.float64)
    wave = np.cos(np.pi * np.arange(8)[:, None] * (2 * np.arange(32)[None, :] + 1) / 64.0)  # DCT-II, unscaled
    low = 4.0 * wave @ cells @ wave.T
    low[np.abs(low) < 1e-6] = 0.0  # rounding noise of flat pictures carries no sign
    return _packed(low > np.median(low))


def bits_apart(first: int, second: int) -> int:
    """How many of the 64 bits of two hashes differ (Hamming distance).

    Raises
    ------
    CannotMeasure
        where one is not a 64-bit hash.
    """
    if not (0 <= first < 1 << 64 and 0 <= second < 1 << 64):
        raise CannotMeasure("A hash must be a whole number of 64 bits.")
    return (first ^ second).bit_count()


def edge_map(grey: ArrayLike) -> NDArray[np.uint8]:
    """Where the edges of a grey picture run, each as strong as its surroundings allow: (H, W) uint8 → (H, W) uint8.

    A drawn line and the step between two tones both become one soft ridge, so an engraving and the photograph it was
    made after look much alike here, though their tones do not. The strength of the gradient, softened, over its mean
    nearby.

    Raises
    ------
    CannotMeasure
        where it is not (H, W) uint8.
    """
    import cv2

    array = np.asarray(grey)
    if array.ndim != 2 or array.dtype != np.uint8 or 0 in array.shape:
        raise CannotMeasure(f"A grey picture is uint8 of shape (H, W), not {array.dtype} of {array.shape}.")
    soft = cv2.GaussianBlur(array.astype(np.float32), (0, 0), 1.0)
    steep = np.hypot(cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1))
    ridge = cv2.GaussianBlur(steep, (0, 0), 1.5)
    nearby = cv2.GaussianBlur(ridge, (0, 0), 16.0) + 0.02 * float(ridge.max()) + 1e-3
    return np.clip(np.rint(ridge / nearby * 90.0), 0, 255).astype(np.uint8)


def structural_similarity(first: ArrayLike, second: ArrayLike) -> float:
    """Mean SSIM of the encoded luma of two aligned pictures of equal size: 1 where identical, around 0 where unrelated.

    The settings of the paper: Gaussian window of sigma 1.5, population covariance, 255 grey levels.

    Raises
    ------
    CannotMeasure
        where the pictures differ in size or are smaller than the 11 × 11 window.
    """
    from skimage.metrics import structural_similarity as ssim

    one, two = np.asarray(_grey(first)), np.asarray(_grey(second))
    if one.shape != two.shape:
        raise CannotMeasure(
            f"The pictures differ in size ({one.shape[1]} × {one.shape[0]} and {two.shape[1]} × {two.shape[0]}).",
            "Bring both to one size and framing first.",
        )
    if min(one.shape) < 11:
        raise CannotMeasure("The pictures are smaller than the 11 × 11 pixels that structural similarity looks at.")
    value = ssim(  # type: ignore[no-untyped-call]
        one, two, gaussian_weights=True, sigma=1.5, use_sample_covariance=False, data_range=255
    )
    return float(value)


def percentile_within(value: float, population: ArrayLike) -> float:
    """Where a value stands within a population, 0–100: the percentage below it plus half of those equal to it.

    So the one largest of n stands at 100 − 50/n, never at 100, and in a population of equals everyone stands at 50.

    >>> percentile_within(3, [1, 2, 3, 4])
    62.5

    Raises
    ------
    CannotMeasure
        where the population is empty, or any number is not finite.
    """
    others = np.asarray(population, dtype=np.float64).ravel()
    if others.size == 0:
        raise CannotMeasure("There is nothing to compare with.", "Gather more references first.")
    if not (np.isfinite(others).all() and np.isfinite(value)):
        raise CannotMeasure("A percentile needs finite numbers.")
    below, equal = int((others < value).sum()), int((others == value).sum())
    return 100.0 * (below + 0.5 * equal) / others.size
