"""How light falls off with distance, and what the size of its source does.

The inverse square holds for a point. From a source of some size it is within 1 % from five times the largest dimension
on (the rule of five of photometry; definition 9.1.1 of the IES lighting definitions). Nearer than that the uniform disc
is given, whose light on its axis goes as 1/(d² + R²): exact for a disc that is as bright from every side (the view
factor of a disc, in Howell's catalogue of radiation configuration factors).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from refarchive.lighting.checks import number
from refarchive.lighting.exposure import MOST_STOPS

NEAR_TIMES = 5.0
SUN_DEG = 0.533  # mean apparent diameter


def inverse_square_stops(from_m: float, to_m: float) -> float:
    """Stops lost from one distance to another [m], of a point: 2·log2(d2/d1). Negative on the way towards it.

    >>> inverse_square_stops(1, 2)
    2.0
    """
    start = number(from_m, "from_m", above=0, unit="m")
    return 2.0 * math.log2(number(to_m, "to_m", above=0, unit="m") / start)


def is_near(distance_m: float, source_m: float) -> bool:
    """Whether a distance [m] is under five times the largest dimension of the source [m]."""
    return number(distance_m, "distance_m", above=0, unit="m") < NEAR_TIMES * number(source_m, "source_m", least=0)


def disc_share(distance_m: float, diameter_m: float) -> float:
    """Light of a uniform disc over that of a point of the same strength, on the axis: 1/(1 + (R/d)²), at most 1.

    >>> disc_share(1.0, 1.0), round(disc_share(2.0, 1.0), 6)
    (0.8, 0.941176)
    """
    distance = number(distance_m, "distance_m", above=0, unit="m")
    return 1.0 / (1.0 + (number(diameter_m, "diameter_m", least=0, unit="m") / (2.0 * distance)) ** 2)


@dataclass(frozen=True)
class FallOff:
    """Stops lost between two distances: by the inverse square, and of a disc of the source's size."""

    point_stops: float
    disc_stops: float
    near: bool
    sentence: str


def fall_off(from_m: float, to_m: float, source_m: float = 0.0) -> FallOff:
    """Stops lost from one distance to another [m], of a source with a largest dimension [m].

    `near` where the nearer distance is under five times that dimension: then the sentence gives the disc's figure.
    """
    point = inverse_square_stops(from_m, to_m)
    disc = point + math.log2(disc_share(from_m, source_m) / disc_share(to_m, source_m))
    nearest = min(from_m, to_m)
    near = is_near(nearest, source_m)
    said = f"From {from_m:g} to {to_m:g} m: {abs(disc if near else point):.2f} stops "
    said += "less." if to_m >= from_m else "more."
    if near:
        said += (
            f" {nearest:g} m is under {NEAR_TIMES:g} times the source ({source_m:g} m), so this is a uniform disc's "
            f"figure; the inverse square would say {abs(point):.2f}."
        )
    return FallOff(point, disc, near, said)


def depth_stops(nearest_m: float, depth_m: float) -> float:
    """Stops between the nearest and the farthest of a group [m] whose nearest stands at a distance [m]."""
    nearest = number(nearest_m, "nearest_m", above=0, unit="m")
    return inverse_square_stops(nearest, nearest + number(depth_m, "depth_m", least=0, unit="m"))


def least_distance_m(depth_m: float, stops: float) -> float:
    """The least distance [m] from which a group of a depth [m] differs by at most so many stops: p/(2^(s/2) − 1).

    >>> round(least_distance_m(2, 1), 4)
    4.8284
    """
    depth = number(depth_m, "depth_m", above=0, unit="m")
    return depth / math.expm1(0.5 * math.log(2.0) * number(stops, "stops", above=0, most=MOST_STOPS))


def apparent_size_deg(source_m: float, distance_m: float) -> float:
    """How large a source [m] looks from a distance [m], in degrees: 2·atan(D/2d). It makes the softness of a light."""
    half = 0.5 * number(source_m, "source_m", least=0, unit="m")
    return 2.0 * math.degrees(math.atan2(half, number(distance_m, "distance_m", above=0, unit="m")))


def shadow_edge_m(source_m: float, source_to_object_m: float, object_to_shadow_m: float) -> float:
    """Width of a shadow's soft edge [m]: D·b/a, the geometric unsharpness.

    `source_m` is the source's width, a its distance to what throws the shadow, b from there on to the shadow [m].
    """
    width = number(source_m, "source_m", least=0, unit="m")
    behind = number(object_to_shadow_m, "object_to_shadow_m", least=0, unit="m")
    return width * behind / number(source_to_object_m, "source_to_object_m", above=0, unit="m")


def sun_shadow_edge_m(object_to_shadow_m: float, sun_deg: float = SUN_DEG) -> float:
    """Width [m] of the soft edge of a shadow in clear sun, square to the light: 9.3 mm a metre."""
    behind = number(object_to_shadow_m, "object_to_shadow_m", least=0, unit="m")
    return 2.0 * behind * math.tan(math.radians(number(sun_deg, "sun_deg", above=0, below=180, unit="°")) / 2.0)


def slant_stops(angle_deg: float) -> float:
    """Stops on a matt surface whose normal stands at an angle [°] to the light: log2 cos (Lambert), none or less.

    Raises
    ------
    LightingRefused
        from 90° on, where the light comes from behind and the surface has none of it.
    """
    return math.log2(math.cos(math.radians(number(angle_deg, "angle_deg", least=0, below=90, unit="°"))))
