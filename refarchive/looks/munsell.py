"""Munsell notation of a swatch: hue, value and chroma as dyers, fabric buyers and conservators name a colour.

The colour is adapted from D50 to illuminant C, which the notation is defined for, by the Bradford transform, and looked
up in the renotation of 1943 through colour-science. Books of chips are cut in steps of hue 2.5, value 1 (to 9,
greys to 9.5) and chroma 2 (common practice, no source); the nearest such chip is given with how far off it is. A
notation read from a screen or a file guides a search; a chip held to the cloth in daylight decides.

Sources: Newhall, Nickerson & Judd 1943 (renotation); ASTM D1535 (value).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refarchive.errors import CannotMeasure
from refarchive.looks import colour
from refarchive.looks.quiet import quiet

Array = NDArray[np.float64]

FAMILIES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
HUE_STEP, CHROMA_STEP = 2.5, 2
MOST_LAB = 200.0  # no colour that anything shows lies beyond
GREY_CHROMA = 0.5  # below it a colour is called neutral (ours)
# Of X, Y, Z, tried in turn: the library's search fails on some colours of its own table, and beside its seam of hues.
NUDGES = (
    (1, 1, 1),
    (0.998, 0.998, 0.998),
    (1.002, 1.002, 1.002),
    (1.002, 1, 1),
    (0.998, 1, 1),
    (1, 1, 1.003),
    (1, 1, 0.997),
)
TWO_DECIMALS = (2, 2, 2)  # of hue, value and chroma
_CHIP = re.compile(r"(?:(\d+(?:\.\d+)?)([A-Z]{1,2}) |N ?)(\d+(?:\.\d+)?)/(\d+(?:\.\d+)?)?")
_READ = re.compile(r"(\d+(?:\.\d+)?)([A-Z]{1,2}) (\d+(?:\.\d+)?)/(\d+(?:\.\d+)?)|N(\d+(?:\.\d+)?)")


@dataclass(frozen=True)
class Notation:
    """The Munsell notation of a swatch, or why there is none (then both are "").

    exact: to a tenth, as "9.4YR 6.1/5.8". chip: the nearest of a book, as "10YR 6/6". chip_difference: ΔE00 from the
    swatch to that chip; None where the chip itself lies outside what the notation was measured for.
    """

    exact: str
    chip: str
    chip_difference: float | None
    sentence: str


def notation(lab: ArrayLike) -> Notation:
    """The notation of one Lab colour (`colour.LAB_WHITE`).

    Raises
    ------
    CannotMeasure
        where it is not three finite numbers.
    """
    values = np.asarray(lab, dtype=np.float64)
    if values.shape != (3,) or not np.isfinite(values).all() or np.abs(values).max() > MOST_LAB:
        raise CannotMeasure("A colour needs three Lab values.", "L* runs from 0 to 100.")
    read = _looked_up(values)
    if read is None:
        said = "Cannot tell: the colour lies outside those that the notation was measured for."
        return Notation("", "", None, said)
    hue, family, value, chroma = read
    if chroma < GREY_CHROMA:
        exact, chip = f"N {value:.1f}/", "N 9.5/" if value > 9.25 else f"N {max(1, round(value)):d}/"
    else:
        exact = _written(hue, family, f"{value:.1f}", f"{chroma:.1f}", 0.1)
        even = max(CHROMA_STEP, CHROMA_STEP * math.floor(chroma / CHROMA_STEP + 0.5))
        chip = _written(hue, family, f"{min(9, max(1, round(value))):d}", f"{even:d}", HUE_STEP)
    there = chip_lab(chip)
    off = None if there is None else float(colour.delta_e_2000(values, there))
    near = "" if off is None else f", {off:.1f} ΔE00 from it"
    return Notation(exact, chip, off, f"Munsell {exact}; nearest chip {chip}{near}.")


def chip_lab(chip: str) -> Array | None:
    """Lab (`colour.LAB_WHITE`) of a notation as "10YR 6/6" or "N 5/"; None where it lies outside the renotation.

    Raises
    ------
    CannotMeasure
        where it is not written so.
    """
    found = _CHIP.fullmatch(chip)
    if found is None or (found[1] is None) != (found[4] is None) or (found[2] or "R") not in FAMILIES:
        raise CannotMeasure(f"{chip[:40]!r} is no Munsell notation.", "Write it as 10YR 6/6, or N 5/ for a grey.")
    return _lab_of(f"N{found[3]}" if found[1] is None else f"{found[1]}{found[2]} {found[3]}/{found[4]}")


def _lab_of(asked: str) -> Array | None:
    """Lab of a notation as the library writes it; None where it knows none."""
    from colour import xyY_to_XYZ
    from colour.notation.munsell import munsell_colour_to_xyY

    try:
        with quiet():
            xyz = np.asarray(xyY_to_XYZ(munsell_colour_to_xyY(asked)), dtype=np.float64)
    except (ValueError, AssertionError, RuntimeError, IndexError):
        return None
    if not np.isfinite(xyz).all():
        return None
    return colour.xyz_to_lab(colour.adaptation(_white_c(), colour.D50) @ xyz)


def _looked_up(lab: Array) -> tuple[float, str, float, float] | None:
    """Hue 0–10, family, value and chroma; None outside the renotation. Neutrals come as 0, "R", value, 0."""
    from colour import XYZ_to_xyY
    from colour.notation.munsell import xyY_to_munsell_colour

    xyz = colour.adaptation(colour.D50, _white_c()) @ colour.lab_to_xyz(lab)
    if xyz.min() < 0:
        return None
    for nudge in NUDGES:
        try:
            with quiet():  # it calls many dark colours impossible and answers still; tests hold its answers to them
                told = str(xyY_to_munsell_colour(XYZ_to_xyY(xyz * np.array(nudge)), *TWO_DECIMALS))
        except (ValueError, AssertionError, RuntimeError, IndexError):
            continue
        found = _READ.fullmatch(told)
        if found is not None and found[5] is not None:
            return 0.0, "R", float(found[5]), 0.0
        if found is not None:
            return float(found[1]), found[2], float(found[3]), float(found[4])
    return None


def _written(hue: float, family: str, value: str, chroma: str, step: float) -> str:
    """A notation with the hue in steps; 0 of a family is 10 of the one before."""
    rounded = step * math.floor(hue / step + 0.5)
    if rounded <= 1e-9:
        rounded, family = 10.0, FAMILIES[FAMILIES.index(family) - 1]
    return f"{rounded:.3g}{family} {value}/{chroma}"


def _white_c() -> Array:
    from colour import CCS_ILLUMINANTS

    x, y = (float(v) for v in CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"])
    return np.array([x / y, 1.0, (1.0 - x - y) / y])
