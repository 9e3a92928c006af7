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
from tests.field.comparing import Case, refused

# What rests on exp and log may differ in the last bits; it is kept as a double and shown to a tenth.
WITHIN = 1e-12
LIMITS = {
    "air_min_c": ("5.0", "10"), "air_max_c": ("40", "35.5"), "surface_min_c": ("3", "10.0"),
    "surface_max_c": ("40", "2"), "humidity_min_pct": ("40", "86"), "humidity_max_pct": ("85", "80.5"),
    "margin_min_c": ("3", "2.8", "5.0"),
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
        read = _air(rnd, limits)
        office = {name: _typed(name, value) for name, value in read.items() if value is not None}
        try:
            _, found = recording.judge_climate(_limited(coat), office)
            margin, least = Fraction(found["margin_c"]), Fraction((coat or {}).get("margin_min_c") or "3")
            near = abs(margin - least) < Fraction(1, 10**11) and "dew_point_c" not in office
            answer = {"calculation": "climate-limits", "verdict": found["verdict"], "result": found}
            yield Case("climateLimits", [read, coat], answer, WITHIN, near)
        except Refused as wrong:
            yield Case("climateLimits", [read, coat], refused(wrong.faults))


def _typed(name: str, value: str) -> Any:
    return value if name == "wet_bulb_over" else Decimal(value)


def _air(rnd: Random, limits: dict[str, str | None]) -> dict[str, str | None]:
    def at(name: str, otherwise: float) -> Decimal:
        limit = limits[name]
        near = Decimal(limit) + rnd.choice((-1, 0, 1)) * Decimal("0.1") if limit and rnd.random() < 0.4 else None
        return near if near is not None else Decimal(str(round(otherwise, 1)))

    dry = at(
        rnd.choice(("air_min_c", "air_max_c")), rnd.uniform(-25, 62) if rnd.random() < 0.2 else rnd.uniform(-5, 35)
    )
    surface = dry + rnd.choice((Decimal(3), Decimal("2.9"), Decimal("3.1"), Decimal(str(round(rnd.uniform(-8, 6), 1)))))
    if rnd.random() < 0.3:
        surface = at(rnd.choice(("surface_min_c", "surface_max_c")), rnd.uniform(-42, 40))
    read: dict[str, str | None] = {"dry_bulb_c": str(dry), "surface_c": str(surface), "wet_bulb_over": None}
    way = rnd.random()
    if way < 0.45:
        read["relative_humidity_pct"] = str(
            at(rnd.choice(("humidity_min_pct", "humidity_max_pct")), rnd.uniform(-1, 101))
        )
        if rnd.random() < 0.25:
            read["relative_humidity_pct"] = "100"
    elif way < 0.8:
        read["wet_bulb_c"] = str(dry - Decimal(str(round(rnd.uniform(-0.3, 9), 1))))
        read["wet_bulb_over"] = rnd.choice((None, "water", "ice"))
        read["pressure_hpa"] = rnd.choice((None, "1013.25", "498", "900.5"))
    elif way < 0.97:
        read["dew_point_c"] = str(surface - rnd.choice((Decimal(3), Decimal("2.9"), Decimal(5), Decimal("2.8"))))
    if rnd.random() < 0.2:
        read["warmest_surface_c"] = str(surface + Decimal(str(round(rnd.uniform(-0.3, 20), 1))))
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
