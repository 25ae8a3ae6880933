"""Which light to turn up or down, and by how much, for the contrast intended at a point.

Contrast is in stops from shadow to lit side, log2 of (key + fill) : fill, fill being the fill lights and the ambient
light. Each light is changed alone, within what its power allows, and the whole rig is then worked out again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from refarchive.errors import LightingRefused
from refarchive.lighting import exposure
from refarchive.lighting.rig import Light, PointReading, Purpose, Rig, reading_at, with_power


@dataclass(frozen=True)
class PowerChange:
    """One light's power, changed alone for an intended contrast at a point, and what that gives when worked out again.

    `to_power` is the exact fraction, or the nearest that the light can do where `reached` is False; `contrast_stops` is
    the rig's with it. `set_power` is it to a tenth of a stop, as it is set on the light, and `set_contrast_stops` what
    that gives. `lit_side_stops` is by how much the lit side changes.
    """

    light: int
    purpose: Purpose
    from_power: float
    to_power: float
    reached: bool
    contrast_stops: float
    set_power: float
    set_contrast_stops: float
    lit_side_stops: float
    sentence: str

    @property
    def by_stops(self) -> float:
        """The change of power in stops."""
        return math.log2(self.to_power / self.from_power)


def to_contrast(rig: Rig, name: str, lit_to_shadow_stops: float) -> tuple[PowerChange, ...]:
    """For every key and fill light at a point, the power at which it alone brings the contrast intended there.

    Those that reach it come first, the smallest change before others. Empty where no key or fill light is there to be
    changed.

    Raises
    ------
    LightingRefused
        where the contrast is not above 0, the plan has no such point, or the point has no ratio now.
    """
    wanted = exposure.ratio_of_contrast(lit_to_shadow_stops).key_to_fill
    now = reading_at(rig, name)
    if now.ratio is None:
        raise LightingRefused(
            f"{name} has no contrast yet: {'nothing lights its shadow side' if now.key else 'no key reaches it'}.",
            "Give it a key, and a fill or ambient light.",
            field="point",
        )
    found = []
    for one in now.lights:
        light = rig.light(one.light)
        if light.purpose not in ("key", "fill") or not one.amount:
            continue
        if light.purpose == "key":
            needed = wanted * now.fill - (now.key - one.amount)
        else:
            needed = now.key / wanted - (now.fill - one.amount)
        found.append(_change(rig, now, light, needed / one.amount * light.power, lit_to_shadow_stops))
    return tuple(sorted(found, key=lambda change: (not change.reached, abs(change.by_stops), change.light)))


def _change(rig: Rig, now: PointReading, light: Light, exact: float, wanted_stops: float) -> PowerChange:
    reached = light.least_power * (1 - 1e-9) <= exact <= 1 + 1e-9
    power = min(1.0, max(light.least_power, exact))
    tenth = 2.0 ** (round(10.0 * math.log2(power)) / 10.0)
    set_power = min(1.0, max(light.least_power, tenth))
    then = reading_at(with_power(rig, light.number, power), now.point)
    when_set = reading_at(with_power(rig, light.number, set_power), now.point)
    contrast, set_contrast = then.lit_to_shadow_stops or 0.0, when_set.lit_to_shadow_stops or 0.0
    lit = math.log2((then.key + then.fill) / (now.key + now.fill))
    by = math.log2(power / light.power)
    words = f"{exposure.power_words(light.power)} to {exposure.power_words(power)}"
    if reached:
        said = f"Light {light.number} ({light.purpose}) from {words}, {exposure.signed(by)} stops: "
        said += f"lit to shadow {set_contrast:.1f} stops, the lit side {exposure.signed(lit)} stops."
    else:
        end = "full" if exact > 1 else exposure.power_words(light.least_power)
        how = "more than full" if exact > 1 else f"less than its least, {end}"
        said = f"Light {light.number} ({light.purpose}) would need {how}: at {end} lit to shadow is "
        said += f"{contrast:.2f} stops, not {wanted_stops:.2f}."
    return PowerChange(
        light.number,
        light.purpose,
        light.power,
        power,
        reached,
        contrast,
        set_power,
        set_contrast,
        lit,
        said,
    )
