"""Refusing numbers that cannot be used, in a sentence that names the field."""

from __future__ import annotations

import math
from numbers import Real

from refarchive.errors import LightingRefused

MOST = 1e9  # of any figure here, so that no sum overflows
LEAST = 1e-9  # by which a figure must lie above a limit that it may not reach


def number(
    value: object,
    field: str,
    *,
    above: float | None = None,
    least: float | None = None,
    below: float | None = None,
    most: float | None = None,
    unit: str = "",
) -> float:
    """The value as a float, where it is a finite number within the limits given.

    `above` and `below` are limits that it may not reach, `least` and `most` limits that it may; `unit` is said after
    the limit, as in "m".

    Raises
    ------
    LightingRefused
        naming `field`, where it is not.
    """
    name = field.replace("_", " ")
    try:
        found = float(value) if isinstance(value, Real) and not isinstance(value, bool) else math.nan
    except OverflowError:
        found = math.inf
    if math.isfinite(found) and abs(found) > MOST:
        raise LightingRefused(f"“{name}” is {found:g}, beyond all measure.", "Give it in its unit.", field=field)
    if not math.isfinite(found):
        raise LightingRefused(f"“{name}” is {value!r}, which is not a number.", "Give a number.", field=field)
    unit = f" {unit}" if unit else ""
    limits = (
        (above, found > (above or 0.0) + LEAST, "above"),
        (least, found >= (least or 0.0), "at least"),
        (below, found < (below or 0.0), "below"),
        (most, found <= (most or 0.0), "at most"),
    )
    for limit, kept, words in limits:
        if limit is not None and not kept:
            raise LightingRefused(
                f"“{name}” is {found:g}{unit}, which cannot be.",
                f"Give a number {words} {limit:g}{unit}.",
                field=field,
            )
    return found


def whole(value: object, field: str, *, least: int = 0) -> int:
    """The value as a whole number of at least `least`.

    Raises
    ------
    LightingRefused
        naming `field`, where it is not.
    """
    found = number(value, field, least=least)
    if found != int(found):
        raise LightingRefused(
            f"“{field.replace('_', ' ')}” is {found:g}, which is not a whole number.",
            "Give a whole number.",
            field=field,
        )
    return int(found)
