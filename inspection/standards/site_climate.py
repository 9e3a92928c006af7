"""Whether the climate on site allows the work: the margin above dew point and the limits of a product."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.climate import (
    HIGHEST_AIR_C,
    LOWEST_DEW_POINT_C,
    MARGIN_SOURCES,
    PSYCHROMETER,
    USUAL_MARGIN_C,
    WMO,
    WMO_ICE,
    AirIn,
    air_of,
    condensing_c,
    saturation_hpa,
)
from inspection.standards.registry import (
    Check,
    Fault,
    InputFault,
    Judged,
    Source,
    calculation,
    exact,
    judged,
    number,
    result,
)
from inspection.standards.units import shown

LEAST_STEEL = Source(
    "ISO 8502-4", "2017, least steel temperature from air temperature and RH", "abstract", "stored source"
)
PRODUCT_LIMITS = Source("Data sheet of the product", "limits as declared", "", "common practice, no source")
FROST = Source("Below 0 °C the margin is taken from the frost point", "", "", "common practice, no source")
FAHRENHEIT_STEP = Fraction(5, 9)
MARGIN_HELP = "Left empty: 3 °C. 5 °F is only 2.78 °C: state the rule in its own unit."


def required_margin_c(minimum_c: Fraction | None, minimum_f: Fraction | None) -> Fraction:
    """The margin asked for, in °C and exact; a rule written in °F keeps its own size (5 °F = 25/9 °C)."""
    if minimum_c is not None and minimum_f is not None:
        raise InputFault(
            Fault(name, "give the margin once: in °C or in °F") for name in ("minimum_margin_c", "minimum_margin_f")
        )
    if minimum_f is not None:
        return minimum_f * FAHRENHEIT_STEP
    return USUAL_MARGIN_C if minimum_c is None else minimum_c


def settles_from_c(dew_point_c: Fraction) -> Fraction:
    """What the margin is taken from: the dew point exactly as it is, below 0 °C the frost point."""
    return dew_point_c if dew_point_c >= 0 else exact(condensing_c(float(dew_point_c)))


def margin_check(surface_c: Fraction, dew_point_c: Fraction, minimum_c: Fraction, where: str = "") -> Check:
    """Steel at least so far above the dew point, below 0 °C the frost point; exactly at the limit passes."""
    margin = surface_c - settles_from_c(dew_point_c)
    point = "dew point" if dew_point_c >= 0 else "frost point"
    return Check(
        name=f"margin above {point}",
        clause="MIL-HDBK-1110, 9.6.6; FHWA-RD-98-084; IMO MSC.215(82)",
        sentence=f"The surface must be at least this much warmer than the {point}.",
        limit=minimum_c,
        observed=margin,
        passed=margin >= minimum_c,
        unit="°C",
        where=where,
    )


@dataclass(frozen=True, kw_only=True)
class CondensationIn:
    surface_c: Fraction = number("Surface temperature", minimum=-40, maximum=100)
    dew_point_c: Fraction = number("Dew point", minimum=LOWEST_DEW_POINT_C, maximum=HIGHEST_AIR_C)
    minimum_margin_c: Fraction | None = number("Least margin", help=MARGIN_HELP, minimum=0, maximum=30, optional=True)
    minimum_margin_f: Fraction | None = number("Least margin", help=MARGIN_HELP, minimum=0, maximum=54, optional=True)

    def __post_init__(self) -> None:
        required_margin_c(self.minimum_margin_c, self.minimum_margin_f)


@dataclass(frozen=True, kw_only=True)
class CondensationOut(Judged):
    margin_c: Fraction = result("Surface above dew point (below 0 °C: frost point) by")
    frost_point_c: Fraction | None = result("Frost point", optional=True)
    minimum_margin_c: Fraction = result("Least margin")
    least_surface_c: Fraction = result("The surface must be at least")
    allowed: bool = result("Allowed by the margin rule")


@calculation(
    "condensation-rule",
    title="Surface above dew point",
    group="Climate",
    sources=(*MARGIN_SOURCES, LEAST_STEEL, FROST),
    example={"surface_c": 21.0, "dew_point_c": 15.2},
    caution="The margin says nothing of rain, wind, rising humidity or a surface that is colder elsewhere.",
)
def condensation_rule(inputs: CondensationIn) -> CondensationOut:
    """Is the surface far enough above the dew point? Compared exactly, as typed; a margin equal to the rule passes.

    Below 0 °C frost settles before dew would: the margin is then taken from the frost point, which lies higher (own
    choice, the careful one; the standards speak of the dew point).
    """
    minimum = required_margin_c(inputs.minimum_margin_c, inputs.minimum_margin_f)
    check = margin_check(inputs.surface_c, inputs.dew_point_c, minimum)
    settles = settles_from_c(inputs.dew_point_c)
    return CondensationOut(
        verdict=judged([check]),
        rule="margin above dew point",
        edition="",
        checks=(check,),
        margin_c=inputs.surface_c - settles,
        frost_point_c=settles if inputs.dew_point_c < 0 else None,
        minimum_margin_c=minimum,
        least_surface_c=settles + minimum,
        allowed=bool(check.passed),
    )


@dataclass(frozen=True, kw_only=True)
class ClimateLimitsIn(AirIn):
    surface_c: float = number("Surface temperature, coldest place", minimum=-40, maximum=100)
    warmest_surface_c: float | None = number(
        "Surface temperature, warmest place", minimum=-40, maximum=100, optional=True
    )
    minimum_air_c: float | None = number("Least air temperature", minimum=-40, maximum=100, optional=True)
    maximum_air_c: float | None = number("Greatest air temperature", minimum=-40, maximum=100, optional=True)
    minimum_surface_c: float | None = number("Least surface temperature", minimum=-40, maximum=100, optional=True)
    maximum_surface_c: float | None = number("Greatest surface temperature", minimum=-40, maximum=100, optional=True)
    minimum_relative_humidity_pct: float | None = number(
        "Least relative humidity", help="Some coatings cure with moisture.", minimum=0, maximum=100, optional=True
    )
    maximum_relative_humidity_pct: float | None = number(
        "Greatest relative humidity", minimum=0, maximum=100, optional=True
    )
    minimum_margin_c: Fraction | None = number("Least margin", help=MARGIN_HELP, minimum=0, maximum=30, optional=True)
    minimum_margin_f: Fraction | None = number("Least margin", help=MARGIN_HELP, minimum=0, maximum=54, optional=True)

    def __post_init__(self) -> None:
        super().__post_init__()
        required_margin_c(self.minimum_margin_c, self.minimum_margin_f)
        for what in ("air_c", "surface_c", "relative_humidity_pct"):
            least, most = getattr(self, f"minimum_{what}"), getattr(self, f"maximum_{what}")
            if least is not None and most is not None and least > most:
                raise InputFault.at(f"maximum_{what}", f"must not be below minimum_{what}")
        if self.warmest_surface_c is not None and self.warmest_surface_c < self.surface_c:
            raise InputFault.at("warmest_surface_c", "must not be below the coldest place, surface_c")


@dataclass(frozen=True, kw_only=True)
class ClimateLimitsOut(Judged):
    relative_humidity_pct: float = result("Relative humidity")
    dew_point_c: float = result("Dew point")
    frost_point_c: float | None = result("Frost point", optional=True)
    margin_c: float = result("Surface above dew point (below 0 °C: frost point) by")
    least_surface_c: float = result("The surface must be at least")
    surface_relative_humidity_pct: float = result("Relative humidity at the surface")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "climate-limits",
    title="Climate against the limits of a product",
    group="Climate",
    sources=(PRODUCT_LIMITS, *MARGIN_SOURCES, LEAST_STEEL, FROST, WMO, WMO_ICE, PSYCHROMETER),
    example={
        "dry_bulb_c": 18,
        "relative_humidity_pct": 70,
        "surface_c": 16.5,
        "minimum_air_c": 5,
        "minimum_surface_c": 10,
        "maximum_surface_c": 40,
        "maximum_relative_humidity_pct": 85,
    },
    caution="Limits are those declared for the product; a qualified person decides whether work may start or go on.",
)
def climate_limits(inputs: ClimateLimitsIn) -> ClimateLimitsOut:
    """Judge one climate reading against the declared limits of a product; every limit is inclusive.

    The coldest place must keep the margin above dew point (below 0 °C above the frost point, which lies higher);
    coldest and warmest place must keep the limits of surface temperature (MIL-HDBK-1110, 9.6.6.2). What is not limited
    is not judged, and for humidity and frost the notes say so.
    """
    air = air_of(inputs)
    checks = [*_air_checks(inputs, air.relative_humidity_pct), *_surface_checks(inputs)]
    minimum = required_margin_c(inputs.minimum_margin_c, inputs.minimum_margin_f)
    checks.append(margin_check(exact(inputs.surface_c), exact(air.dew_point_c), minimum, where="coldest place"))
    settles = settles_from_c(exact(air.dew_point_c))
    return ClimateLimitsOut(
        verdict=judged(checks),
        rule="limits declared for the product",
        edition="",
        checks=tuple(checks),
        relative_humidity_pct=air.relative_humidity_pct,
        dew_point_c=air.dew_point_c,
        frost_point_c=float(settles) if air.dew_point_c < 0 else None,
        margin_c=float(exact(inputs.surface_c) - settles),
        least_surface_c=float(settles + minimum),
        surface_relative_humidity_pct=100 * air.vapour_pressure_hpa / saturation_hpa(inputs.surface_c),
        notes=tuple(_notes(inputs, air.relative_humidity_pct)),
    )


def _notes(inputs: ClimateLimitsIn, humidity: float) -> Iterator[str]:
    if inputs.maximum_relative_humidity_pct is None:
        yield (
            f"No greatest relative humidity is declared: the {shown(humidity, 1)} % found was not judged. "
            "IMO MSC.215(82) has at most 85 %; take the limit from the data sheet."
        )
    if inputs.surface_c <= 0:
        yield "The steel is at or below 0 °C: look for frost and ice on it, which a margin does not show."


def _air_checks(inputs: ClimateLimitsIn, humidity: float) -> list[Check]:
    return [
        *_between("air temperature", inputs.dry_bulb_c, inputs.minimum_air_c, inputs.maximum_air_c, unit="°C"),
        *_between(
            "relative humidity",
            humidity,
            inputs.minimum_relative_humidity_pct,
            inputs.maximum_relative_humidity_pct,
            unit="%",
        ),
    ]


def _surface_checks(inputs: ClimateLimitsIn) -> list[Check]:
    coldest = inputs.surface_c
    warmest = coldest if inputs.warmest_surface_c is None else inputs.warmest_surface_c
    what = "surface temperature"
    return [
        *_between(what, coldest, inputs.minimum_surface_c, None, unit="°C", where="coldest place"),
        *_between(what, warmest, None, inputs.maximum_surface_c, unit="°C", where="warmest place"),
    ]


def _between(
    what: str, observed: float, least: float | None, most: float | None, *, unit: str, where: str = ""
) -> list[Check]:
    checks = []
    if least is not None:
        sentence = f"The {what} must not be below the least value declared for the product."
        name, passed = f"least {what}", exact(observed) >= exact(least)
        checks.append(Check(name, "data sheet", sentence, least, observed, passed, unit=unit, where=where))
    if most is not None:
        sentence = f"The {what} must not be above the greatest value declared for the product."
        name, passed = f"greatest {what}", exact(observed) <= exact(most)
        checks.append(Check(name, "data sheet", sentence, most, observed, passed, unit=unit, where=where))
    return checks
