"""Climate on site: humidity, dew point and whether the steel may be painted.

Relative humidity is taken over water at every temperature, as meteorology and humidity instruments do; below
0 °C the frost point is given beside the dew point. The enhancement factor of moist air is taken as 1: it is
0.4 % of the vapour pressure and cancels in humidity and dew point.
"""

import math
from dataclasses import dataclass
from fractions import Fraction

from .registry import Check, Fault, InputFault, Source, calculation, choice, number

WMO = Source("WMO-No. 8", "Annex 4.B (constants as quoted by instrument handbooks)", "Annex 4.B", "stored source")
WMO_ICE = Source("WMO-No. 8", "ice constants as carried in public program texts", "Annex 4.B", "stored source")
PSYCHROMETER = Source(
    "WMO-No. 8", "2008, ventilated psychrometer, 0.000662 per K over water", "Part I, 4", "stored source"
)
ISO_8502_4 = Source(
    "ISO 8502-4", "2017", "abstract: least steel temperature from air temperature and RH", "stored source"
)
MIL_HDBK_1110 = Source("MIL-HDBK-1110", "UFC 3-190-06", "9.6.6, 10.3.6", "stored source")
FHWA = Source("FHWA-RD-98-084", "1998", "steel 3 °C (5 °F) above dew point", "stored source")
IMO_CLIMATE = Source("IMO MSC.215(82)", "2006", "Table 1", "stored source")

LOWEST_AIR_C, HIGHEST_AIR_C = -20.0, 60.0
LOWEST_DEW_POINT_C = -45.0  # the constants over water are fitted from here to 60 °C
COEFFICIENT_OVER_WATER, COEFFICIENT_OVER_ICE = 0.000662, 0.000583
_MAGNUS = {"water": (6.112, 17.62, 243.12), "ice": (6.112, 22.46, 272.62)}


def saturation_hpa(temperature_c: float, over: str = "water") -> float:
    """Saturation vapour pressure in hPa at a temperature in °C, over a plane surface of water or ice.

    Magnus form of WMO-No. 8, Annex 4.B. Over water from -45 to 60 °C, over ice from -65 to 0 °C.
    """
    scale, slope, offset = _MAGNUS[over]
    return scale * math.exp(slope * temperature_c / (offset + temperature_c))


def saturated_at_c(vapour_pressure_hpa: float, over: str = "water") -> float:
    """Temperature in °C at which a vapour pressure in hPa saturates: dew point over water, frost point over ice."""
    scale, slope, offset = _MAGNUS[over]
    ratio = math.log(vapour_pressure_hpa / scale)
    return offset * ratio / (slope - ratio)


def psychrometer_hpa(dry_c: float, wet_c: float, over: str, pressure_hpa: float, coefficient_per_k: float) -> float:
    """Vapour pressure in hPa from a dry and a wet bulb: e = es(wet) - A p (dry - wet), WMO-No. 8."""
    return saturation_hpa(wet_c, over) - coefficient_per_k * pressure_hpa * (dry_c - wet_c)


def as_typed(value: float) -> Fraction:
    """The decimal a person typed, exactly: 20.9 - 17.9 is then 3 and meets a rule of 3."""
    return Fraction(repr(value))


@dataclass(frozen=True, kw_only=True)
class SaturationIn:
    temperature_c: float = number("Temperature", unit="°C", minimum=-45.0, maximum=HIGHEST_AIR_C)
    over: str = choice("Over", ("water", "ice"), default="water")


@dataclass(frozen=True, kw_only=True)
class SaturationOut:
    saturation_vapour_pressure_hpa: float
    saturation_vapour_pressure_pa: float


@calculation(
    "saturation-vapour-pressure",
    title="Saturation vapour pressure",
    group="Climate",
    sources=(WMO, WMO_ICE),
)
def saturation_vapour_pressure(inputs: SaturationIn) -> SaturationOut:
    """Saturation vapour pressure over water (-45 to 60 °C) or ice (up to 0 °C); WMO-No. 8, Annex 4.B."""
    if inputs.over == "ice" and inputs.temperature_c > 0:
        raise InputFault([Fault("temperature_c", "There is no ice above 0 °C: choose water or a lower temperature.")])
    pressure = saturation_hpa(inputs.temperature_c, inputs.over)
    return SaturationOut(saturation_vapour_pressure_hpa=pressure, saturation_vapour_pressure_pa=100 * pressure)


@dataclass(frozen=True, kw_only=True)
class AirIn:
    """Air as one instrument shows it: dry bulb with a wet bulb, a relative humidity or a dew point."""

    dry_bulb_c: float = number("Air temperature (dry bulb)", unit="°C", minimum=LOWEST_AIR_C, maximum=HIGHEST_AIR_C)
    wet_bulb_c: float | None = number(
        "Wet bulb temperature", unit="°C", minimum=-30.0, maximum=HIGHEST_AIR_C, optional=True
    )
    relative_humidity_pct: float | None = number(
        "Relative humidity", unit="%", minimum=0.0, maximum=100.0, optional=True
    )
    dew_point_c: float | None = number(
        "Dew point", unit="°C", minimum=LOWEST_DEW_POINT_C, maximum=HIGHEST_AIR_C, optional=True
    )
    wet_bulb_over: str | None = choice("Wet bulb covered by (needed at or below 0 °C)", ("water", "ice"), optional=True)
    pressure_hpa: float = number("Air pressure", unit="hPa", minimum=500.0, maximum=1100.0, default=1013.25)
    psychrometer_coefficient_per_k: float | None = number(
        "Psychrometer coefficient (0.000662 over water and 0.000583 over ice when left empty)",
        unit="per K",
        minimum=0.0005,
        maximum=0.0012,
        optional=True,
    )


@dataclass(frozen=True, kw_only=True)
class Air:
    """The humidity of the air, with the psychrometer values it rests on where a wet bulb was read."""

    vapour_pressure_hpa: float
    relative_humidity_pct: float
    dew_point_c: float
    frost_point_c: float | None
    psychrometer_coefficient_per_k: float | None
    pressure_hpa: float | None


def air_state(air: AirIn) -> Air:
    """Vapour pressure, relative humidity and dew point of the air.

    Raises InputFault when not exactly one of wet bulb, humidity and dew point is given, when the pair is
    impossible, or when the dew point would lie below -45 °C, where the formula no longer holds.
    """
    _one_humidity(air)
    coefficient = pressure = None
    if air.wet_bulb_c is not None:
        over = _wet_bulb_cover(air)
        usual = COEFFICIENT_OVER_ICE if over == "ice" else COEFFICIENT_OVER_WATER
        coefficient = air.psychrometer_coefficient_per_k if air.psychrometer_coefficient_per_k is not None else usual
        pressure = air.pressure_hpa
        vapour = psychrometer_hpa(air.dry_bulb_c, air.wet_bulb_c, over, pressure, coefficient)
        if vapour <= 0:
            _fault(
                "wet_bulb_c",
                f"A wet bulb of {air.wet_bulb_c:g} °C cannot occur at a dry bulb of {air.dry_bulb_c:g} °C: the vapour "
                "pressure would be zero or less. Read both thermometers again.",
            )
    elif air.relative_humidity_pct is not None:
        if air.relative_humidity_pct == 0:
            _fault("relative_humidity_pct", "At 0 % there is no dew point: give a humidity above 0 and up to 100 %.")
        vapour = saturation_hpa(air.dry_bulb_c) * air.relative_humidity_pct / 100
    else:
        assert air.dew_point_c is not None
        if air.dew_point_c > air.dry_bulb_c:
            _fault(
                "dew_point_c",
                f"The dew point ({air.dew_point_c:g} °C) cannot be above the air temperature ({air.dry_bulb_c:g} °C).",
            )
        vapour = saturation_hpa(air.dew_point_c)
    dew_point = air.dew_point_c if air.dew_point_c is not None else saturated_at_c(vapour)
    if dew_point < LOWEST_DEW_POINT_C:
        _fault(
            "dry_bulb_c",
            f"The dew point would be {dew_point:.1f} °C, below {LOWEST_DEW_POINT_C:g} °C where the formula holds.",
        )
    return Air(
        vapour_pressure_hpa=vapour,
        relative_humidity_pct=100 * vapour / saturation_hpa(air.dry_bulb_c),
        dew_point_c=dew_point,
        frost_point_c=saturated_at_c(vapour, "ice") if dew_point < 0 else None,
        psychrometer_coefficient_per_k=coefficient,
        pressure_hpa=pressure,
    )


def _one_humidity(air: AirIn) -> None:
    names = ("wet_bulb_c", "relative_humidity_pct", "dew_point_c")
    given = [name for name in names if getattr(air, name) is not None]
    if not given:
        _fault("wet_bulb_c", "Give one of: wet bulb temperature, relative humidity, dew point.")
    if len(given) > 1:
        raise InputFault([Fault(name, "Give only one of wet bulb, relative humidity and dew point.") for name in given])


def _wet_bulb_cover(air: AirIn) -> str:
    wet = air.wet_bulb_c
    assert wet is not None
    if wet > air.dry_bulb_c:
        _fault("wet_bulb_c", f"The wet bulb ({wet:g} °C) cannot be above the dry bulb ({air.dry_bulb_c:g} °C).")
    if wet > 0:
        if air.wet_bulb_over == "ice":
            _fault("wet_bulb_over", f"There is no ice on a wet bulb at {wet:g} °C: choose water.")
        return "water"
    if air.wet_bulb_over is None:
        _fault("wet_bulb_over", "At or below 0 °C say whether the wet bulb carries water or ice.")
    assert air.wet_bulb_over is not None
    return air.wet_bulb_over


def _fault(field: str, message: str) -> None:
    raise InputFault([Fault(field, message)])
