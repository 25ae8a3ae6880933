"""How far apart places are, and in which direction: geodesics on the WGS 84 ellipsoid (Karney 2013, GeographicLib)."""

from __future__ import annotations

from refarchive.site.instants import latitude_deg, longitude_deg, number

POINTS = (
    "north", "north-north-east", "north-east", "east-north-east", "east", "east-south-east", "south-east",
    "south-south-east", "south", "south-south-west", "south-west", "west-south-west", "west", "west-north-west",
    "north-west", "north-north-west",
)  # fmt: skip
HOW = "Geodesics on the WGS 84 ellipsoid; bearings from true north at the place told from."


def between(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """Distance [m] and bearing at the first place [°, 0–360) of two places (latitude, longitude) [°].

    Raises
    ------
    SiteRefused
        for a latitude or longitude that is none.
    """
    from geographiclib.geodesic import Geodesic

    lat1, lon1 = latitude_deg(one[0]), longitude_deg(one[1])
    lat2, lon2 = latitude_deg(other[0]), longitude_deg(other[1])
    found = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
    return float(found["s12"]), float(found["azi1"]) % 360.0


def beyond(place: tuple[float, float], bearing_deg: float, metres: float) -> tuple[float, float]:
    """The place (latitude, longitude) [°] so many metres from another in a direction. Raises SiteRefused."""
    from geographiclib.geodesic import Geodesic

    lat, lon = latitude_deg(place[0]), longitude_deg(place[1])
    away = number(metres, "metres", 0, 20_100_000, "m")
    found = Geodesic.WGS84.Direct(lat, lon, number(bearing_deg, "bearing_deg", -360, 360, "degrees"), away)
    return float(found["lat2"]), float(found["lon2"])


def compass(bearing_deg: float) -> str:
    """A bearing in words, one of 16 points.

    >>> compass(304)
    'north-west'
    """
    return POINTS[round(bearing_deg % 360.0 / 22.5) % 16]
