"""Exposure in numbers: EV, meters, f-numbers and shutter times as they really are, flash, filters and ratios.

Stops are powers of two of light: +1 is twice as much. Marked f-numbers and times are rounded; f/5.6 is 2^2.5 = 5.657,
1/125 is 2^-7 = 1/128. `exact_f_number` and `exact_shutter_s` say which power of two a mark stands for.

Sources: ISO 2720 (meters, with constants K and C); ASA PH2.5-1960 (APEX); ISO 1230 (conditions of a guide number; from
memory). K and C are each maker's choice within a range: 12.5 and 250 are common, and every function takes others.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from refarchive.errors import LightingRefused
from refarchive.lighting.checks import number

Steps = Literal["full", "half", "third"]

K_REFLECTED = 12.5  # cd·s/(m²·ISO)
C_INCIDENT = 250.0  # lx·s/ISO, of a flat receptor
K_RANGE = (10.6, 13.4)  # ISO 2720
C_RANGE_FLAT = (240.0, 400.0)
C_RANGE_DOME = (320.0, 540.0)
METRES_PER_FOOT = 0.3048
MOST_STOPS = 200.0  # beyond it a figure is a slip of the pen

_PER_STOP: dict[Steps, int] = {"full": 1, "half": 2, "third": 3}
# How far, in stops, a mark may stand from the power of two that it stands for: a little over what usual marks stray,
# which is most in f/1.2 for 2^(1/3) and in 1/10 for 2^-3.5.
_F_NUMBER_OFF: dict[Steps, float] = {"full": 0.12, "half": 0.12, "third": 0.15}
_SHUTTER_OFF: dict[Steps, float] = {"full": 0.12, "half": 0.2, "third": 0.12}


def amount_of_stops(stops: float) -> float:
    """Light over what it is counted against, of stops: 2^stops."""
    return float(2.0 ** number(stops, "stops", least=-MOST_STOPS, most=MOST_STOPS))


# -- exposure value and APEX --------


def exposure_value(f_number: float, shutter_s: float) -> float:
    """EV of an aperture and a time [s]: log2(N²/t), as set on the camera, whatever the ISO.

    >>> round(exposure_value(16, 1 / 125), 4)
    14.9658
    """
    n = number(f_number, "f_number", above=0)
    t = number(shutter_s, "shutter_s", above=0, unit="s")
    return 2.0 * math.log2(n) - math.log2(t)


def ev_at_iso(ev100: float, iso: float) -> float:
    """The EV to set at an ISO in a light metered as `ev100` at ISO 100."""
    return number(ev100, "ev100") + math.log2(number(iso, "iso", above=0) / 100.0)


def ev100_of(ev: float, iso: float) -> float:
    """The EV at ISO 100 of a light for which `ev` is set at `iso`: the other way round from `ev_at_iso`."""
    return number(ev, "ev") - math.log2(number(iso, "iso", above=0) / 100.0)


@dataclass(frozen=True)
class Apex:
    """An exposure in the additive system: Av + Tv = Bv + Sv = EV (ASA PH2.5-1960)."""

    aperture_value: float
    time_value: float
    speed_value: float

    @property
    def exposure_value(self) -> float:
        """EV, Av + Tv."""
        return self.aperture_value + self.time_value

    @property
    def brightness_value(self) -> float:
        """Bv, the brightness of the scene that this exposure is right for, by the meter."""
        return self.exposure_value - self.speed_value


def apex(f_number: float, shutter_s: float, iso: float) -> Apex:
    """Av = log2 N², Tv = −log2 t, Sv = log2(S / 3.125), so that ISO 100 is 5."""
    return Apex(
        2.0 * math.log2(number(f_number, "f_number", above=0)),
        -math.log2(number(shutter_s, "shutter_s", above=0, unit="s")),
        math.log2(number(iso, "iso", above=0) / 3.125),
    )


# -- meters (ISO 2720) --------


def luminance_cd_m2(ev100: float, k: float = K_REFLECTED) -> float:
    """Luminance [cd/m²] that a reflected-light meter with constant `k` reads as `ev100`: K·2^EV/100."""
    return number(k, "k", above=0) * amount_of_stops(number(ev100, "ev100", least=-MOST_STOPS, most=MOST_STOPS)) / 100.0


def illuminance_lx(ev100: float, c: float = C_INCIDENT) -> float:
    """Illuminance [lx] that an incident-light meter with constant `c` reads as `ev100`: C·2^EV/100."""
    return number(c, "c", above=0) * amount_of_stops(number(ev100, "ev100", least=-MOST_STOPS, most=MOST_STOPS)) / 100.0


def ev100_of_luminance(cd_m2: float, k: float = K_REFLECTED) -> float:
    """EV at ISO 100 of a luminance [cd/m²]."""
    return math.log2(100.0 * number(cd_m2, "cd_m2", above=0, unit="cd/m²") / number(k, "k", above=0))


def ev100_of_illuminance(lx: float, c: float = C_INCIDENT) -> float:
    """EV at ISO 100 of an illuminance [lx]."""
    return math.log2(100.0 * number(lx, "lx", above=0, unit="lx") / number(c, "c", above=0))


def meter_reflectance(k: float = K_REFLECTED, c: float = C_INCIDENT) -> float:
    """Reflectance (0–1) of the surface on which a reflected and an incident reading agree: πK/C, 15.7 % as set here."""
    return math.pi * number(k, "k", above=0) / number(c, "c", above=0)


def meter_note(k: float = K_REFLECTED, c: float = C_INCIDENT) -> str:
    """What the two constants imply of a grey card, and whether either lies outside the range of ISO 2720."""
    found = meter_reflectance(k, c)
    off = math.log2(0.18 / found)
    said = f"With K {k:g} and C {c:g} the two readings agree on a surface that reflects {100 * found:.1f} %"
    side = "brighter" if off > 0 else "darker"
    said += f", not 18 %: an 18 % card reads {abs(off):.2f} stop {side}." if abs(off) >= 0.005 else "."
    if not K_RANGE[0] <= k <= K_RANGE[1]:
        said += f" K {k:g} lies outside {K_RANGE[0]:g} to {K_RANGE[1]:g} of ISO 2720."
    if not C_RANGE_FLAT[0] <= c <= C_RANGE_DOME[1]:
        said += (
            f" C {c:g} lies outside {C_RANGE_FLAT[0]:g} to {C_RANGE_FLAT[1]:g} (flat) and {C_RANGE_DOME[0]:g} to "
            f"{C_RANGE_DOME[1]:g} (dome) of ISO 2720."
        )
    return said


# -- what the marks stand for --------


def _snapped(stops: float, steps: Steps, most_off: dict[Steps, float], mark: str, field: str) -> float:
    if steps not in _PER_STOP:
        raise LightingRefused(f"There is no scale in {steps!r} stops.", "Say full, half or third.", field="steps")
    per_stop = _PER_STOP[steps]
    nearest = round(stops * per_stop) / per_stop
    if abs(stops - nearest) > most_off[steps]:
        raise LightingRefused(
            f"{mark} is no mark on a scale of {steps} stops.",
            "Give a mark of that scale, or another scale.",
            field=field,
        )
    return nearest


def exact_f_number(marked: float, steps: Steps = "third") -> float:
    """The f-number that a mark stands for on a scale of full, half or third stops.

    Some marks stand for another number on another scale: 1.2 is 2^(1/3) in thirds and 2^(1/4) in halves.

    >>> round(exact_f_number(5.6), 5)
    5.65685

    Raises
    ------
    LightingRefused
        where the scale has no such mark.
    """
    n = number(marked, "f_number", above=0)
    return amount_of_stops(_snapped(2.0 * math.log2(n), steps, _F_NUMBER_OFF, f"f/{n:g}", "f_number") / 2.0)


def exact_shutter_s(marked_s: float, steps: Steps = "third") -> float:
    """The time [s] that a mark stands for; `marked_s` is 1/125 for the mark 1/125, 30 for 30 s.

    >>> 1 / exact_shutter_s(1 / 125)
    128.0

    Raises
    ------
    LightingRefused
        where the scale has no such mark.
    """
    t = number(marked_s, "shutter_s", above=0, unit="s")
    return amount_of_stops(_snapped(math.log2(t), steps, _SHUTTER_OFF, shutter_words(t), "shutter_s"))


_FULL_STOPS = (0.5, 0.7, 1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64, 90, 128, 180, 256)
_WIDEST = 2  # Av of the first mark is −2


def f_number_words(f_number: float) -> str:
    """An f-number as a flash meter shows it: the full stop below and tenths of a stop, "f/5.6 + 0.3".

    Beyond the scale of marks, f/0.5 to f/256, the number itself: "f/300".
    """
    n = number(f_number, "f_number", above=0)
    tenths = round(20.0 * math.log2(n))
    whole, rest = divmod(tenths, 10)
    if not 0 <= whole + _WIDEST < len(_FULL_STOPS):
        return f"f/{n:.2g}"
    return f"f/{_FULL_STOPS[whole + _WIDEST]:g}" + (f" + {rest / 10:.1f}" if rest else "")


def shutter_words(shutter_s: float) -> str:
    """A time as it is marked: "1/125 s", "0.5 s", "30 s"."""
    t = number(shutter_s, "shutter_s", above=0, unit="s")
    return f"1/{1.0 / t:.4g} s" if t < 0.3 else f"{t:.3g} s"


def signed(stops: float) -> str:
    """Stops to a tenth, with their sign: "+0.3", "−1.0", "0.0"."""
    return f"{stops:+.1f}".replace("-", "−") if abs(stops) >= 0.05 else "0.0"


# -- flash --------


def feet(metres: float) -> float:
    """Metres in feet; of a guide number, too."""
    return number(metres, "metres") / METRES_PER_FOOT


def metres(feet: float) -> float:
    """Feet in metres; of a guide number, too."""
    return number(feet, "feet") * METRES_PER_FOOT


def guide_number_m(gn100_m: float, *, iso: float = 100.0, power: float = 1.0, units: float = 1) -> float:
    """Guide number [m] at an ISO, at a fraction of full power (0–1], of so many equal units together.

    GN·√(S/100)·√p·√n: f-numbers go with the root of light. `gn100_m` is at ISO 100 and full power.

    >>> guide_number_m(51, iso=400)
    102.0
    """
    gn = number(gn100_m, "guide_number", above=0, unit="m")
    speed = number(iso, "iso", above=0) / 100.0
    return gn * math.sqrt(speed * number(power, "power", above=0, most=1) * number(units, "units", above=0))


def flash_f_number(guide_number: float, distance_m: float) -> float:
    """The aperture at a distance [m]: GN/d. Inverse square, so that it holds far from the source only."""
    return number(guide_number, "guide_number", above=0) / number(distance_m, "distance_m", above=0, unit="m")


def flash_distance_m(guide_number: float, f_number: float) -> float:
    """The distance [m] at which an aperture is right: GN/N."""
    return number(guide_number, "guide_number", above=0) / number(f_number, "f_number", above=0)


def power_stops(power: float) -> float:
    """A fraction of full power (0–1] in stops: 1/8 is −3."""
    return math.log2(number(power, "power", above=0, most=1))


def power_fraction(stops: float) -> float:
    """Stops below full (≤ 0) as a fraction of full power: −3 is 1/8."""
    return amount_of_stops(number(stops, "stops", most=0, least=-MOST_STOPS))


def power_words(power: float) -> str:
    """A fraction of full power as it is set: "full", "1/8", and between two with tenths of a stop, "1/8 + 0.3"."""
    tenths = round(10.0 * power_stops(power))
    below, rest = divmod(tenths, 10)
    return ("full" if below == 0 else f"1/{2**-below}") + (f" + {rest / 10:.1f}" if rest else "")


def energy_stops(from_ws: float, to_ws: float) -> float:
    """Stops from one stored energy to another [Ws]. Ws is what the capacitors hold, not the light that comes out."""
    return math.log2(number(to_ws, "to_ws", above=0, unit="Ws") / number(from_ws, "from_ws", above=0, unit="Ws"))


def stored_energy_ws(capacitance_uf: float, volts: float) -> float:
    """Energy in a capacitor [Ws = J], ½CV², of a capacitance in microfarad."""
    c = number(capacitance_uf, "capacitance_uf", above=0, unit="µF")
    return 0.5e-6 * c * number(volts, "volts", above=0, unit="V") ** 2


def sum_of_stops(stops: Iterable[float]) -> float:
    """Several lights together, each in stops against one and the same exposure: log2 Σ 2^s.

    Raises
    ------
    LightingRefused
        where there is none.
    """
    each = [number(one, "stops") for one in stops]
    if not each:
        raise LightingRefused("No light was given to add.", "Give the stops of at least one.", field="stops")
    top = max(each)
    return top + math.log2(sum(2.0 ** (one - top) for one in each))


@dataclass(frozen=True)
class Mixed:
    """Flash and ambient in one exposure, in stops against the exposure that the meter calls right."""

    flash_stops: float
    ambient_stops: float
    total_stops: float
    sentence: str


def flash_and_ambient(
    *,
    flash_reading: float,
    flash_reading_iso: float,
    ambient_ev100: float,
    f_number: float,
    shutter_s: float,
    iso: float,
    sync_s: float,
    flash_t01_s: float | None = None,
) -> Mixed:
    """Flash and ambient at the camera's aperture, time [s] and ISO.

    Aperture and ISO change both alike. The time changes the ambient light only, where it is no shorter than the sync
    limit and longer than the flash itself.

    `flash_reading` is the f-number that a flash meter shows, at the ISO that it was set to (`flash_reading_iso`);
    `ambient_ev100` the ambient light as an incident EV at ISO 100; `sync_s` the shortest time at which the whole frame
    is open to the flash [s]; `flash_t01_s` the time in which the flash falls to a tenth of its peak (t.1) [s], where
    known.

    Raises
    ------
    LightingRefused
        where a value cannot be used, or the time is shorter than the sync limit.
    """
    check_sync(shutter_s, sync_s)
    flash = 2.0 * math.log2(number(flash_reading, "flash_reading", above=0) / number(f_number, "f_number", above=0))
    flash += math.log2(number(iso, "iso", above=0) / number(flash_reading_iso, "flash_reading_iso", above=0))
    ambient = ev_at_iso(number(ambient_ev100, "ambient_ev100"), iso) - exposure_value(f_number, shutter_s)
    total = sum_of_stops((flash, ambient))
    said = f"Flash {signed(flash)}, ambient {signed(ambient)}, together {signed(total)} stops against the meter."
    if flash_t01_s is not None and shutter_s <= number(flash_t01_s, "flash_t01_s", above=0, unit="s"):
        said += (
            f" The flash lasts as long as the shutter is open ({shutter_words(flash_t01_s)}): some of it is cut off, "
            "and the figure for flash is too high."
        )
    return Mixed(flash, ambient, total, said)


def check_sync(shutter_s: float, sync_s: float) -> None:
    """Refuse a time [s] shorter than the sync limit [s].

    Raises
    ------
    LightingRefused
        naming `shutter_s`.
    """
    t, limit = number(shutter_s, "shutter_s", above=0, unit="s"), number(sync_s, "sync_s", above=0, unit="s")
    if t < limit * (1.0 - 1e-9):
        raise LightingRefused(
            f"At {shutter_words(t)} the shutter never opens the whole frame to the flash: the sync limit is "
            f"{shutter_words(limit)}.",
            "Give that time or a longer one, and take ambient light away with the aperture or a grey filter.",
            field="shutter_s",
        )


# -- grey filters --------


@dataclass(frozen=True)
class GreyFilter:
    """A neutral-density filter, by what it takes away."""

    stops: float

    @property
    def factor(self) -> float:
        """By how much exposure must be multiplied: 2^stops."""
        return amount_of_stops(self.stops)

    @property
    def density(self) -> float:
        """Optical density, log10 of the factor."""
        return self.stops * math.log10(2.0)


def grey_filter(*, stops: float | None = None, factor: float | None = None, density: float | None = None) -> GreyFilter:
    """A neutral-density filter from the one figure that is known of it.

    >>> round(grey_filter(density=3.0).stops, 4), round(grey_filter(density=3.0).factor)
    (9.9658, 1000)

    Raises
    ------
    LightingRefused
        where not exactly one is given, or it makes light.
    """
    given = [name for name, value in (("stops", stops), ("factor", factor), ("density", density)) if value is not None]
    if len(given) != 1:
        raise LightingRefused(
            "A grey filter is known by one figure.", "Give stops, factor or density, and only one.", field="filter"
        )
    if stops is not None:
        return GreyFilter(number(stops, "stops", least=0, most=MOST_STOPS))
    if factor is not None:
        return GreyFilter(math.log2(number(factor, "factor", least=1)))
    return GreyFilter(number(density, "density", least=0, most=60) / math.log10(2.0))


# -- lighting ratios --------


@dataclass(frozen=True)
class LightingRatio:
    """Key and fill, metered separately, under every name that a ratio goes by.

    Books print both (K + F) : F and K : F and call either one the lighting ratio. `words` names all three.
    """

    key_over_fill_stops: float

    @property
    def key_to_fill(self) -> float:
        """K : F."""
        return amount_of_stops(self.key_over_fill_stops)

    @property
    def key_and_fill_to_fill(self) -> float:
        """(K + F) : F, of the side that both reach to the side that only fill reaches."""
        return self.key_to_fill + 1.0

    @property
    def lit_to_shadow_stops(self) -> float:
        """Stops from shadow to lit side, log2 of (K + F) : F."""
        return math.log2(self.key_and_fill_to_fill)

    @property
    def words(self) -> str:
        """The ratio with its definition, whichever is meant."""
        return (
            f"(K + F) : F = {self.key_and_fill_to_fill:.3g} : 1, K : F = {self.key_to_fill:.3g} : 1, "
            f"lit to shadow {self.lit_to_shadow_stops:.1f} stops"
        )


def ratio_of_stops(key_over_fill_stops: float) -> LightingRatio:
    """From the stops that key meters above fill, each alone (negative where fill is the brighter)."""
    return LightingRatio(number(key_over_fill_stops, "key_over_fill_stops", least=-MOST_STOPS, most=MOST_STOPS))


def ratio_of_key_to_fill(key_to_fill: float) -> LightingRatio:
    """From K : F, above 0."""
    return LightingRatio(math.log2(number(key_to_fill, "key_to_fill", above=0)))


def ratio_of_key_and_fill_to_fill(ratio: float) -> LightingRatio:
    """From (K + F) : F, which is above 1 where there is a key at all."""
    return LightingRatio(math.log2(number(ratio, "key_and_fill_to_fill", above=1) - 1.0))


def ratio_of_contrast(lit_to_shadow_stops: float) -> LightingRatio:
    """From the stops between lit and shadow side, above 0."""
    stops = number(lit_to_shadow_stops, "lit_to_shadow_stops", above=0, most=MOST_STOPS)
    return LightingRatio(math.log2(math.expm1(stops * math.log(2.0))))
