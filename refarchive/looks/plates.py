"""How a plate of the period would have seen a picture: a simulation, to compare values with an early photograph by.

Before dyes made emulsions see green and yellow (sold from 1882–83), plates registered violet and blue; orthochromatic
plates added green and yellow and stayed blind to red. A picture's colours are taken for surfaces in daylight: spectra
that would give them are made from the three basis spectra of Mallett & Yuksel (2019), which add up to white, and laid
under daylight D65 and the plate's sensitivity. So each plate comes down to three weights for linear red, green, blue.

The sensitivities are smooth curves after the ranges that handbooks give (violet and blue to about 500 nm for collodion
and plain gelatine; to about 590 nm with a dip in the blue-green for orthochromatic); their shapes are from memory and
no measurement of any plate. Nothing of a plate's contrast, its ultraviolet or its grain is in them.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.looks import colour

Plate = Literal["blue-sensitive", "orthochromatic"]
PLATES: tuple[Plate, ...] = ("blue-sensitive", "orthochromatic")
# (centre, width, height) of the bumps a sensitivity is made of, nm; from memory, weak.
_BUMPS: dict[Plate, tuple[tuple[float, float, float], ...]] = {
    "blue-sensitive": ((425.0, 32.0, 1.0),),
    "orthochromatic": ((430.0, 35.0, 1.0), (555.0, 20.0, 0.8)),
}
ASSUMED = {
    "blue-sensitive": "A simulation: as a plate that sees violet and blue to about 500 nm would take it in daylight.",
    "orthochromatic": "A simulation: as a plate that sees to about 590 nm, and no red, would take it in daylight.",
}


def sensitivity(plate: Plate, wavelengths_nm: ArrayLike) -> NDArray[np.float64]:
    """Relative sensitivity of a plate at wavelengths in nm; see the module's text for how far to trust it."""
    nm = np.asarray(wavelengths_nm, dtype=np.float64)
    found = np.zeros(nm.shape)
    for centre, width, height in _BUMPS[plate]:
        found += height * np.exp(-0.5 * ((nm - centre) / width) ** 2)
    return found


@cache
def weights(plate: Plate) -> tuple[float, float, float]:
    """What of linear red, green and blue (sRGB) a plate registers; not below 0, adding up to 1.

    >>> red, green, blue = weights("blue-sensitive")
    >>> blue > 0.8 and red < 0.1
    True
    """
    import colour as science

    basis = science.recovery.MSDS_BASIS_FUNCTIONS_sRGB_MALLETT2019
    nm = np.asarray(basis.wavelengths, dtype=np.float64)
    daylight = science.SDS_ILLUMINANTS["D65"].copy().align(basis.shape)
    light = np.asarray(daylight.values, dtype=np.float64) * sensitivity(plate, nm)
    parts = np.clip(light @ np.asarray(basis.values, dtype=np.float64), 0.0, None)
    red, green, blue = (float(part) for part in parts / parts.sum())
    return red, green, blue


def registered(picture: ArrayLike, plate: Plate) -> NDArray[np.float64]:
    """What a plate registers of a picture: (H, W) relative exposure, white is 1.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    array = colour.check_picture(picture)
    return np.stack([colour.linear(row) @ np.array(weights(plate)) for row in array])


def as_plate(picture: ArrayLike, plate: Plate) -> NDArray[np.uint8]:
    """The picture as such a plate would see it, grey sRGB (H, W, 3) uint8; to be shown with the sentence in `ASSUMED`.

    Raises
    ------
    CannotMeasure
        where it is not a picture.
    """
    grey = np.rint(colour.encoded(registered(picture, plate)) * 255.0).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=-1)
