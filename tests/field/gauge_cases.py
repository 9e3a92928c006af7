"""Generated checks of gauges and instruments: the mean at the combined tolerance and a nanometre beside it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from decimal import Decimal
from fractions import Fraction
from random import Random
from types import SimpleNamespace
from typing import Any, cast

from inspection.foundation.units import Unit
from inspection.instruments import slips
from inspection.instruments.stack import stack_input
from inspection.instruments.verified_range import covers
from inspection.standards import InputFault, calculate
from tests.field.comparing import Case, refused

COMBINATIONS = ("root-sum-square", "sum")
FACTORS = ("2", "2", "2.0", "3", "1.96")


def points_out_of_place() -> Iterator[Case]:
    """Whether a decimal point may be out of its place: as the screen for odd readings of SSPC-PA 2 finds them odd."""
    others = [74_000, 75_000, 76_000]
    asked = {755_000: 75_500, 7_550: 75_500, 75_500: None, 112_500: None, 112_501: None, 37_499: None, 755_001: None}
    yield from (Case("meantOf", [value, others], meant) for value, meant in asked.items())
    yield Case("meantOf", [755_000, others[:2]], None)


def checks_of_gauges(seed: int, count: int, *, most: int = 2) -> Iterator[Case]:
    """The mean at the combined tolerance and a nanometre beside it, shims alone and in stacks, of several k."""
    rnd, done = Random(seed), 0
    while done < count:
        gauge = {"accuracy_pct": rnd.choice(("1", "2.50", "0", "3")), "accuracy_nm": rnd.choice((0, 1000, 2500))}
        points = [_point(rnd, gauge) for _ in range(rnd.choice((1, most)))]
        combination, done = rnd.choice(COMBINATIONS), done + len(points)
        yield Case("judgeGaugeCheck", [gauge, points, combination], _checked(gauge, points, combination),
                   many=len(points))  # fmt: skip


def points_of_checks(seed: int, count: int) -> Iterator[Case]:
    """As `checks_of_gauges`, with many points in a check."""
    return checks_of_gauges(seed, count, most=40)


def _point(rnd: Random, gauge: dict[str, Any]) -> dict[str, Any]:
    standards = [
        {"value_nm": rnd.choice((25_400, 50_300, 100_000, 127_000, 250_001)),
         "expanded_uncertainty_nm": rnd.choice((0, 300, 750, 1_300)), "coverage_factor": rnd.choice(FACTORS)}
        for _ in range(rnd.choice((1, 1, 2)))
    ]  # fmt: skip
    value = sum(each["value_nm"] for each in standards)
    own = Fraction(str(gauge["accuracy_pct"])) * value / 100 + gauge["accuracy_nm"]
    spread = sum(each["expanded_uncertainty_nm"] ** 2 for each in standards) ** 0.5
    edge = rnd.choice((int(own), int((float(own) ** 2 + spread**2) ** 0.5), int(own + Fraction(spread))))
    many = rnd.choice((1, 2, 3))
    readings = [value + rnd.choice((-1, 1)) * edge] * many
    readings[0] += rnd.choice((-1, 0, 0, 1, 1000)) * rnd.choice((1, many))
    return {"standards": standards, "readings_nm": [max(0, reading) for reading in readings]}


def _checked(gauge: dict[str, Any], points: list[dict[str, Any]], combination: str) -> dict[str, Any]:
    inputs = {
        "accuracy_pct": float(gauge["accuracy_pct"]), "accuracy_um": gauge["accuracy_nm"] / 1000,
        "combination": combination,
        "points": [
            stack_input([cast("Any", SimpleNamespace(**{**each, "coverage_factor": Decimal(each["coverage_factor"])}))
                         for each in point["standards"]])
            | {"readings_um": [reading / 1000 for reading in point["readings_nm"]]}
            for point in points
        ],
    }  # fmt: skip
    try:
        found = calculate("verify-gauge", inputs)
    except InputFault as wrong:
        return refused(wrong.faults)
    passed = found["verdict"] == "pass"
    return {
        "calculation": "verify-gauge", "verdict": found["verdict"], "result": found,
        "verified_from_nm": round(found["verified_from_um"] * 1000) if passed else None,
        "verified_to_nm": round(found["verified_to_um"] * 1000) if passed else None,
    }  # fmt: skip


def comparisons(seed: int, count: int) -> Iterator[Case]:
    """Instruments against a reference: the mean at the tolerance and a hundredth beside it."""
    rnd = Random(seed)
    for _ in range(count):
        reference = Decimal(rnd.choice(("84", "1413", "-2.50", "0", "5.001")))
        held = {"unit": rnd.choice(("µS/cm", "V")), "tolerance_pct": rnd.choice((None, "5", "2.5")),
                "tolerance": rnd.choice((None, "0.5", "3"))}  # fmt: skip
        edge = abs(reference) * Decimal(held["tolerance_pct"] or 0) / 100 + Decimal(held["tolerance"] or 0)
        readings = [
            str(reference + rnd.choice((-1, 1)) * edge + rnd.choice((0, 0, 0, 1, -1)) * Decimal("0.01"))
            for _ in range(rnd.choice((1, 1, 3)))
        ]
        given = {name: float(held[name]) for name in ("tolerance_pct", "tolerance") if held[name]}
        point = {"reference": float(reference), "readings": [float(reading) for reading in readings]}
        try:
            found = calculate("check-instrument", {"read_in": held["unit"], **given, "points": [point]})
            want = {"calculation": "check-instrument", "verdict": found["verdict"], "result": found}
        except InputFault as wrong:
            want = refused(wrong.faults)
        yield Case("judgeInstrumentCheck", [held, [{"reference": str(reference), "readings": readings}]], want)


def questions(seed: int, count: int) -> Iterator[Case]:
    """Readings on a shim ten times too large, of another shim, astray, scattered, and honest."""
    rnd = Random(seed)
    for _ in range(count):
        shims = [slips.Shim(name, value, rnd.choice((1_000.0, 1_500.5)))
                 for name, value in (("A", 25_400), ("B", 50_800), ("A + B", 76_200), ("C", 254_000))]  # fmt: skip
        under, accuracy = rnd.choice(shims), rnd.choice((508.0, 1_000.0, 1_762.5))
        wild = (
            under.value_nm * 10,
            under.value_nm // 10,
            rnd.choice(shims).value_nm + rnd.choice((-1000, 0, 1000, 1001)),
        )
        readings = [
            max(
                0,
                rnd.choice(wild)
                if rnd.random() < 0.15
                else under.value_nm + rnd.choice((-30, -20, -10, 0, 5, 10, 20, 30)) * 100,
            )
            for _ in range(rnd.randrange(1, 6))
        ]
        scatter, unit = rnd.choice((0.5, 1.0, 1.7)), rnd.choice(list(Unit))
        given = [readings, asdict(under), [asdict(shim) for shim in shims], accuracy, scatter, str(unit)]
        yield Case("checkSlips", given, slips.of_point(readings, under, shims, accuracy, scatter, unit))
        gauge = SimpleNamespace(
            accuracy_pct=rnd.choice((None, Decimal("2.50"), Decimal(1))), accuracy_nm=rnd.choice((None, 1_000))
        )
        stated = {"accuracy_pct": gauge.accuracy_pct and str(gauge.accuracy_pct), "accuracy_nm": gauge.accuracy_nm}
        told = slips.accuracy_nm(cast("Any", gauge), under.value_nm)
        yield Case("accuracyAt", [stated, under.value_nm], told, many=0)
        low, high = sorted(rnd.choices((25_400, 127_000, 250_000), k=2))
        at = rnd.choice((low * 9 // 10, high * 11 // 10)) + rnd.choice((-1, 0, 1))
        yield Case("covers", [low, high, at], covers(low, high, at))
