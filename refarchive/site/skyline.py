"""A skyline: the height of hills, trees and roofs round a place, as seen from it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from refarchive.errors import SiteRefused
from refarchive.site.instants import Array, number

_STEP = "Give (bearing, altitude) in degrees, such as (245, 8.5), one point for each bend of the skyline."


@dataclass(frozen=True)
class Skyline:
    """Points (bearing clockwise from true north [°], altitude as seen [°]), joined by straight lines round the circle.

    Raises
    ------
    SiteRefused
        without a point, for a bearing outside 0–360 or an altitude outside −30–90, and for two altitudes at a bearing.

    >>> Skyline(((350, 4.0), (10, 8.0))).altitude_at(0.0).item()
    6.0
    """

    points: tuple[tuple[float, float], ...]

    def __init__(self, points: Iterable[Any]) -> None:
        found: dict[float, float] = {}
        for n, point in enumerate(points, 1):
            try:
                given_bearing, given_altitude = point
            except (TypeError, ValueError):
                raise SiteRefused(
                    f"skyline: point {n} is not a bearing and an altitude.", _STEP, field="skyline"
                ) from None
            bearing = number(given_bearing, f"skyline, bearing of point {n}", 0, 360, "degrees from true north") % 360
            altitude = number(given_altitude, f"skyline, altitude of point {n}", -30, 90, "degrees")
            if found.setdefault(bearing, altitude) != altitude:
                raise SiteRefused(
                    f"skyline: two altitudes are given at bearing {bearing:g}°.",
                    "Put a step of the skyline at two bearings, such as 90 and 90.1.",
                    field="skyline",
                )
        if not found:
            raise SiteRefused("skyline: no point is given.", _STEP, field="skyline")
        object.__setattr__(self, "points", tuple(sorted(found.items())))

    def altitude_at(self, bearing_deg: ArrayLike) -> Array:
        """Altitude of the skyline [°] at bearings [°], shape kept."""
        bearings, altitudes = np.array(self.points).T
        return np.asarray(np.interp(np.asarray(bearing_deg, np.float64), bearings, altitudes, period=360.0))
