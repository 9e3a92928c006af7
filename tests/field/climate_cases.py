"""Generated climate: air and steel in tenths at every limit and a tenth beside, saturated air, frost."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from random import Random
from types import SimpleNamespace
from typing import Any, cast

from inspection.fieldwork.climate import recording
from inspection.foundation.refusals import Refused
from inspection.standards import InputFault, calculate
from inspection.standards.registry import _written
from inspection.standards.site_climate import ClimateLimitsIn, climate_limits
from tests.field.comparing import Case, refused

# What rests on exp and log may differ in the last bits; it is kept as a double and shown to a tenth.
WITHIN = 1e-12
LIMITS = {
    "air_min_c": ("5.0", "10"), "air_max_c": ("40", "35.5"), "surface_min_c": ("3", "10.0"),
    "surface_max_c": ("40", "2"), "humidity_min_pct": ("40", "86"), "humidity_max_pct": ("85", "80.5"),
    "margin_min_c": ("3", "2.8", "5.0"),
}  # fmt: skip

BOUNDS = {
    "dry_bulb_c": (-20, 60), "surface_c": (-40, 100), "relative_humidity_pct": (0.1, 100), "pressure_hpa": (500, 1100),
    "dew_point_c": (-45, 60), "wet_bulb_c": (-40, 60),
}  # fmt: skip


def _limited(limits: dict[str, str | None] | None) -> Any:
    """A coat by its limits alone, each None where none is declared."""
    if limits is None:
        return None
    return SimpleNamespace(**{name: None if limit is None else Decimal(limit) for name, limit in limits.items()})


def climate(seed: int, count: int) -> Iterator[Case]:
    """Air and steel in tenths at every limit and a tenth beside; saturated air; bulbs that cannot occur; frost."""
    rnd = Random(seed)
    for number in range(count):
        limits = {name: rnd.choice(some) if rnd.random() < 0.6 else None for name, some in LIMITS.items()}
        coat = None if number % 10 == 0 else limits
        read = _air(rnd, limits, wild=0.15)
        office = {name: _typed(name, value) for name, value in read.items() if value is not None}
        try:
            _, found = recording.judge_climate(_limited(coat), office)
            margin, least = Fraction(found["margin_c"]), Fraction((coat or {}).get("margin_min_c") or "3")
            near = abs(margin - least) < Fraction(1, 10**11) and "dew_point_c" not in office
            answer = {"calculation": "climate-limits", "verdict": found["verdict"], "result": found}
            yield Case("climateLimits", [read, coat], answer, WITHIN, near)
        except Refused as wrong:
            yield Case("climateLimits", [read, coat], refused(wrong.faults))


def limits_alone(seed: int, count: int) -> Iterator[Case]:
    """As `climate`, by the rule alone, of what can be right."""
    rnd, done = Random(seed), 0
    while done < count:
        limits = {name: rnd.choice(some) if rnd.random() < 0.5 else None for name, some in LIMITS.items()}
        read = _air(rnd, limits, wild=0)
        office = {name: _number(name, value) for name, value in read.items() if value is not None}
        if not all(low <= office.get(name, low) <= high for name, (low, high) in BOUNDS.items()):
            continue
        office |= {named: float(limit) for named, name in recording.LIMITS.items() if (limit := limits[name])}
        least = Fraction(limits["margin_min_c"] or "3")
        try:
            given = ClimateLimitsIn(**{**office, "minimum_margin_c": least})
            found = _written(climate_limits(given), mil=False)
        except InputFault:
            continue
        near, done = abs(found["margin_c"] - least) < 1e-11 and "dew_point_c" not in office, done + 1
        yield Case("climateLimits", [read, limits], found, WITHIN, near, part=True)


def _typed(name: str, value: str) -> Any:
    return value if name == "wet_bulb_over" else Decimal(value)


def _air(rnd: Random, limits: dict[str, str | None], *, wild: float) -> dict[str, str | None]:
    """What was read, in tenths: beside a limit or anywhere; a share of it is nonsense."""

    def at(names: tuple[str, str], low: int, high: int) -> int:
        limit = limits[rnd.choice(names)] if rnd.random() < 0.4 else None
        return int(float(limit) * 10) + rnd.choice((-1, 0, 1)) if limit else rnd.randrange(low, high)

    def nonsense() -> bool:
        return rnd.random() < wild

    dry = rnd.randrange(-250, 630) if nonsense() else at(("air_min_c", "air_max_c"), -60, 350)
    surface = dry + rnd.choice((30, 29, 31, rnd.randrange(-80, 60)))
    if rnd.random() < 0.3:
        surface = at(("surface_min_c", "surface_max_c"), -420 if nonsense() else -60, 400)
    read: dict[str, str | None] = {"dry_bulb_c": str(dry / 10), "surface_c": str(surface / 10), "wet_bulb_over": None}
    way = rnd.random()
    if way < 0.5:
        beside = at(("humidity_min_pct", "humidity_max_pct"), *((-10, 1010) if nonsense() else (200, 1000)))
        read["relative_humidity_pct"] = str(beside / 10) if rnd.random() < 0.8 else "100"
    elif way < 0.8:
        wet = dry - rnd.randrange(-3 if nonsense() else 0, 90)
        read["wet_bulb_c"] = str(wet / 10)
        read["wet_bulb_over"] = rnd.choice((None, "water", "ice")) if nonsense() else "water" if wet > 0 else "ice"
        read["pressure_hpa"] = "498" if nonsense() else rnd.choice((None, "1013.25", "900.5"))
    elif way < 1 - wild / 5:
        read["dew_point_c"] = str(min(surface - rnd.choice((30, 29, 50, 28)), dry + (10 if nonsense() else 0)) / 10)
    if rnd.random() < 0.2:
        read["warmest_surface_c"] = str((surface + rnd.randrange(-3 if nonsense() else 0, 200)) / 10)
    return read


def saturated() -> Iterator[Case]:
    """Every tenth of a degree of saturated air, with the steel exactly at the margin."""
    for tenths in range(-200, 601):
        dry = Decimal(tenths) / 10
        read = {"dry_bulb_c": str(dry), "relative_humidity_pct": "100", "surface_c": str(dry + 3)}
        given = {name: float(value) for name, value in read.items()}
        yield Case("dewPoint", [read], calculate("dew-point", given))
        _, found = recording.judge_climate(None, {name: Decimal(value) for name, value in read.items()})
        answer = {"calculation": "climate-limits", "verdict": found["verdict"], "result": found}
        yield Case("climateLimits", [read, None], answer)


def dew_points(seed: int, count: int) -> Iterator[Case]:
    """Air in tenths by each of the three instruments, with and without the steel."""
    rnd = Random(seed)
    for _ in range(count):
        dry = Decimal(rnd.randrange(-200, 601)) / 10
        way = rnd.choice(("wet_bulb_c", "relative_humidity_pct", "dew_point_c"))
        value = (
            Decimal(rnd.randrange(1, 1001)) / 10
            if way == "relative_humidity_pct"
            else dry - Decimal(rnd.randrange(90)) / 10
        )
        read = {"dry_bulb_c": str(dry), way: str(value), "wet_bulb_over": rnd.choice((None, "water", "ice"))}
        if rnd.random() < 0.5:
            read["surface_c"] = str(Decimal(rnd.randrange(-400, 1001)) / 10)
        given = {name: _number(name, value) for name, value in read.items() if value is not None}
        try:
            yield Case("dewPoint", [read], calculate("dew-point", given), WITHIN)
        except InputFault as wrong:
            yield Case("dewPoint", [read], refused(wrong.faults))


def _number(name: str, value: str) -> Any:
    return value if name == "wet_bulb_over" else float(value)


def slips_of_climate(seed: int, count: int) -> Iterator[Case]:
    """°F typed as °C: exactly at our limits and a tenth beside."""
    rnd = Random(seed)
    for _ in range(count):
        air = Decimal(rnd.choice((400, 401, 399, 680, rnd.randrange(-200, 1200)))) / 10
        steel = air + Decimal(rnd.choice((400, 401, -400, -401, rnd.randrange(-500, 500)))) / 10
        record = cast("Any", SimpleNamespace(dry_bulb_c=air, surface_c=steel))
        want = refused(recording.doubts_of(record))["refused"]
        yield Case("climateDoubts", [{"dry_bulb_c": str(air), "surface_c": str(steel)}], want)
