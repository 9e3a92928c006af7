"""Climate on site: humidity, dew point and whether the steel may be painted.

Relative humidity is taken over water at every temperature, as meteorology and humidity instruments do; below
0 °C the frost point is given beside the dew point. The enhancement factor of moist air is taken as 1: it is
0.4 % of the vapour pressure and cancels in humidity and dew point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Fault,
    InputFault,
    Source,
    calculation,
    choice,
    exact,
    number,
    result,
)
from inspection.standards.units import shown

WMO = Source("WMO-No. 8", "constants over water as quoted by instrument handbooks", "Annex 4.B", "stored source")
WMO_ICE = Source("WMO-No. 8", "constants over ice as carried in public program texts", "Annex 4.B", "stored source")
PSYCHROMETER = Source("WMO-No. 8", "2008: 0.000662 per K ventilated; 0.000583 over ice", "I.4", "stored source")
MARGIN_SOURCES = (
    Source("MIL-HDBK-1110 / UFC 3-190-06", "steel 5 °F above dew point", "9.6.6", "stored source"),
    Source("FHWA-RD-98-084", "1998, steel 3 °C (5 °F) above dew point", "", "stored source"),
    Source("IMO MSC.215(82)", "2006, steel at least 3 °C above dew point, RH at most 85 %", "", "stored source"),
)

LOWEST_AIR_C, HIGHEST_AIR_C = -20, 60
LOWEST_DEW_POINT_C = -45  # the constants over water are fitted from here to 60 °C
OVER_WATER_PER_K, OVER_ICE_PER_K = 0.000662, 0.000583
USUAL_MARGIN_C = Fraction(3)
MAGNUS = {"water": (6.112, 17.62, 243.12), "ice": (6.112, 22.46, 272.62)}


def saturation_hpa(temperature_c: float, over: str = "water") -> float:
    """Saturation vapour pressure in hPa at a temperature in °C, over a plane surface of water or ice.

    Magnus form of WMO-No. 8, Annex 4.B: over water from -45 to 60 °C, over ice from -65 to 0 °C.
    """
    scale, slope, offset = MAGNUS[over]
    return scale * math.exp(slope * temperature_c / (offset + temperature_c))


def saturated_at_c(vapour_pressure_hpa: float, over: str = "water") -> float:
    """Temperature in °C at which a vapour pressure in hPa saturates: dew point over water, frost point over ice."""
    scale, slope, offset = MAGNUS[over]
    ratio = math.log(vapour_pressure_hpa / scale)
    return offset * ratio / (slope - ratio)


def condensing_c(dew_point_c: float) -> float:
    """Temperature in °C at or below which moisture settles on a surface: the dew point, and below 0 °C the frost point.

    Frost settles on colder steel already above the dew point over water: at a dew point of -10 °C by about 1.1 °C.
    """
    return dew_point_c if dew_point_c >= 0 else saturated_at_c(saturation_hpa(dew_point_c), "ice")


def psychrometer_hpa(dry_c: float, wet_c: float, over: str, pressure_hpa: float, coefficient_per_k: float) -> float:
    """Vapour pressure in hPa from dry and wet bulb in °C: e = es(wet) - A p (dry - wet); WMO-No. 8, 2008."""
    return saturation_hpa(wet_c, over) - coefficient_per_k * pressure_hpa * (dry_c - wet_c)


@dataclass(frozen=True, kw_only=True)
class SaturationIn:
    temperature_c: float = number("Temperature", minimum=LOWEST_DEW_POINT_C, maximum=HIGHEST_AIR_C)
    over: str = choice("Over", ("water", "ice"), default="water")

    def __post_init__(self) -> None:
        if self.over == "ice" and self.temperature_c > 0:
            raise InputFault.at("temperature_c", "there is no ice above 0 °C: choose water or a lower temperature")


@dataclass(frozen=True, kw_only=True)
class SaturationOut:
    saturation_vapour_pressure_hpa: float = result("Saturation vapour pressure")
    saturation_vapour_pressure_pa: float = result("Saturation vapour pressure")


@calculation(
    "saturation-vapour-pressure",
    title="Saturation vapour pressure",
    group="Climate",
    sources=(WMO, WMO_ICE),
    example={"temperature_c": 25},
)
def saturation_vapour_pressure(inputs: SaturationIn) -> SaturationOut:
    """Vapour pressure at which air is saturated over water (-45 to 60 °C) or ice (up to 0 °C)."""
    pressure = saturation_hpa(inputs.temperature_c, inputs.over)
    return SaturationOut(saturation_vapour_pressure_hpa=pressure, saturation_vapour_pressure_pa=100 * pressure)


@dataclass(frozen=True, kw_only=True)
class AirIn:
    """Air as an instrument shows it: dry bulb with one of wet bulb, relative humidity, dew point."""

    dry_bulb_c: float = number("Air temperature (dry bulb)", minimum=LOWEST_AIR_C, maximum=HIGHEST_AIR_C)
    wet_bulb_c: float | None = number("Wet bulb", minimum=-40, maximum=HIGHEST_AIR_C, optional=True)
    relative_humidity_pct: float | None = number("Relative humidity", above=0, maximum=100, optional=True)
    dew_point_c: float | None = number("Dew point", minimum=LOWEST_DEW_POINT_C, maximum=HIGHEST_AIR_C, optional=True)
    wet_bulb_over: str | None = choice(
        "Wet bulb covered by", ("water", "ice"), help="Needed when the wet bulb is at or below 0 °C.", optional=True
    )
    pressure_hpa: Fraction = number("Air pressure", minimum=500, maximum=1100, default=1013.25)
    psychrometer_coefficient_per_k: float | None = number(
        "Psychrometer coefficient",
        unit="1/K",
        help="Left empty: 0.000662 over water, 0.000583 over ice (ventilated psychrometer).",
        minimum=0.0005,
        maximum=0.0012,
        optional=True,
    )

    def __post_init__(self) -> None:
        names = ("wet_bulb_c", "relative_humidity_pct", "dew_point_c")
        given = [name for name in names if getattr(self, name) is not None]
        if not given:
            raise InputFault.at("wet_bulb_c", "give one of wet bulb, relative humidity and dew point")
        if len(given) > 1:
            raise InputFault(Fault(name, "give only one of wet bulb, humidity and dew point") for name in given)
        for name, words in (("wet_bulb_c", "wet bulb"), ("dew_point_c", "dew point")):
            value = getattr(self, name)
            if value is not None and value > self.dry_bulb_c:
                raise InputFault.at(
                    name,
                    f"the {words} ({shown(value)} °C) cannot be above the air temperature "
                    f"({shown(self.dry_bulb_c)} °C): read both again",
                )
        if self.wet_bulb_c is not None:
            self._refuse_unclear_cover(self.wet_bulb_c)

    def _refuse_unclear_cover(self, wet_bulb_c: float) -> None:
        if wet_bulb_c > 0 and self.wet_bulb_over == "ice":
            raise InputFault.at("wet_bulb_over", "there is no ice on a wet bulb above 0 °C: choose water")
        if wet_bulb_c <= 0 and self.wet_bulb_over is None:
            raise InputFault.at("wet_bulb_over", "at or below 0 °C say whether the wet bulb carries water or ice")

    @property
    def coefficient_per_k(self) -> float:
        """The declared psychrometer coefficient, or the usual one for what covers the bulb."""
        if self.psychrometer_coefficient_per_k is not None:
            return self.psychrometer_coefficient_per_k
        return OVER_ICE_PER_K if self.wet_bulb_over == "ice" else OVER_WATER_PER_K


@dataclass(frozen=True, kw_only=True)
class Air:
    """What the readings say of the air."""

    vapour_pressure_hpa: float
    relative_humidity_pct: float
    dew_point_c: float


def air_of(inputs: AirIn) -> Air:
    """Vapour pressure (hPa), relative humidity (%) and dew point (°C) of the air.

    Raises InputFault for a pair of bulbs that cannot occur and for a dew point below -45 °C, where the formula
    no longer holds. A humidity or dew point that was given is handed on as given.
    """
    dry = inputs.dry_bulb_c
    if inputs.wet_bulb_c is not None:
        over = inputs.wet_bulb_over or "water"
        vapour = psychrometer_hpa(dry, inputs.wet_bulb_c, over, float(inputs.pressure_hpa), inputs.coefficient_per_k)
    elif inputs.relative_humidity_pct is not None:
        vapour = saturation_hpa(dry) * inputs.relative_humidity_pct / 100
    else:
        vapour = saturation_hpa(inputs.dew_point_c if inputs.dew_point_c is not None else dry)
    if vapour < saturation_hpa(LOWEST_DEW_POINT_C):
        field = "relative_humidity_pct" if inputs.wet_bulb_c is None else "wet_bulb_c"
        if vapour <= 0:
            raise InputFault.at(field, "these bulbs cannot occur together (no vapour would be left): read both again")
        raise InputFault.at(field, f"the dew point would lie below {LOWEST_DEW_POINT_C} °C, where the formula ends")
    humidity = inputs.relative_humidity_pct
    return Air(
        vapour_pressure_hpa=vapour,
        relative_humidity_pct=100 * vapour / saturation_hpa(dry) if humidity is None else humidity,
        dew_point_c=saturated_at_c(vapour) if inputs.dew_point_c is None else inputs.dew_point_c,
    )


@dataclass(frozen=True, kw_only=True)
class DewPointIn(AirIn):
    surface_c: float | None = number("Surface temperature", minimum=-40, maximum=100, optional=True)


@dataclass(frozen=True, kw_only=True)
class DewPointOut:
    vapour_pressure_hpa: float = result("Vapour pressure")
    relative_humidity_pct: float = result("Relative humidity")
    dew_point_c: float = result("Dew point")
    frost_point_c: float | None = result("Frost point", optional=True)
    margin_c: float | None = result("Surface above dew point by", optional=True)
    frost_margin_c: float | None = result("Surface above frost point by", optional=True)
    surface_relative_humidity_pct: float | None = result("Relative humidity at the surface", optional=True)
    psychrometer_coefficient_per_k: float | None = result("Psychrometer coefficient", unit="1/K", optional=True)
    pressure_hpa: float | None = result("Air pressure", optional=True)


@calculation(
    "dew-point",
    title="Dew point and humidity",
    group="Climate",
    sources=(WMO, WMO_ICE, PSYCHROMETER),
    example={"dry_bulb_c": 23.0, "wet_bulb_c": 18.0, "surface_c": 21.0},
    caution="A wet bulb must be read in moving air (at least about 2.2 m/s) after it has stopped falling.",
)
def dew_point(inputs: DewPointIn) -> DewPointOut:
    """Dew point and humidity from a psychrometer, a hygrometer or a dew-point meter, and how the steel lies to it.

    Air from -20 to 60 °C. Humidity is over water; below 0 °C the frost point is given too. A surface humidity
    above 100 % means that water condenses on the surface.
    """
    air = air_of(inputs)
    surface = inputs.surface_c
    at_surface = None if surface is None else 100 * air.vapour_pressure_hpa / saturation_hpa(surface)
    frost = condensing_c(air.dew_point_c) if air.dew_point_c < 0 else None
    psychrometer = inputs.wet_bulb_c is not None
    return DewPointOut(
        vapour_pressure_hpa=air.vapour_pressure_hpa,
        relative_humidity_pct=air.relative_humidity_pct,
        dew_point_c=air.dew_point_c,
        frost_point_c=frost,
        margin_c=None if surface is None else float(exact(surface) - exact(air.dew_point_c)),
        frost_margin_c=None if surface is None or frost is None else surface - frost,
        surface_relative_humidity_pct=at_surface,
        psychrometer_coefficient_per_k=inputs.coefficient_per_k if psychrometer else None,
        pressure_hpa=float(inputs.pressure_hpa) if psychrometer else None,
    )
