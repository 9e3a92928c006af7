"""What the standards core makes of a check, by the rule of its kind of instrument; and its points as they are kept."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import um
from inspection.instruments.actions.check_points import PointSent
from inspection.instruments.models import CertifiedValue, Gauge, StandardUse, Verification, VerificationPoint
from inspection.instruments.site_checks import SITE_CHECKS, SiteCheck, tolerance_of
from inspection.instruments.stack import stack_input
from inspection.standards import InputFault, calculate


def judge(
    verification: Verification, points: list[PointSent], certified: dict[UUID, CertifiedValue], combination: str
) -> None:
    """Let the standards core judge, and keep what it was given and what it answered."""
    check = SITE_CHECKS[verification.gauge.kind]
    verification.inputs = (
        _of_accuracy(verification.gauge, points, certified, combination)
        if check.of_thickness
        else _of_tolerance(verification.gauge, check, points, certified)
    )
    try:
        verification.result = calculate(check.calculation, verification.inputs)
    except InputFault as wrong:
        raise Refused(Fault(fault.message, fault.field) for fault in wrong.faults) from wrong
    verification.verdict = verification.result["verdict"]
    if verification.verdict == Verification.Verdict.PASS and check.of_thickness:
        verification.verified_from_nm = round(verification.result["verified_from_um"] * 1000)
        verification.verified_to_nm = round(verification.result["verified_to_um"] * 1000)


def _of_accuracy(
    gauge: Gauge, points: list[PointSent], certified: dict[UUID, CertifiedValue], combination: str
) -> dict[str, Any]:
    return {
        "accuracy_pct": float(gauge.accuracy_pct or 0),
        "accuracy_um": um(gauge.accuracy_nm or 0),
        "combination": combination,
        "points": [
            stack_input([certified[standard.pk] for standard in point.standards])
            | {"readings_um": [um(reading) for reading in point.readings_nm]}
            for point in points
        ],
    }


def _of_tolerance(
    gauge: Gauge, check: SiteCheck, points: list[PointSent], certified: dict[UUID, CertifiedValue]
) -> dict[str, Any]:
    pct, fixed = tolerance_of(gauge)
    return {
        "read_in": check.unit,
        **({"tolerance_pct": float(pct)} if pct else {}),
        **({"tolerance": float(fixed)} if fixed else {}),
        "points": [
            compared_input(_reference(point, certified), [float(reading) for reading in point.readings])
            for point in points
        ],
    }


def compared_input(reference: Decimal, readings: list[float]) -> dict[str, Any]:
    """A point of an instrument that reads no thickness, as the standards core takes it."""
    return {"reference": float(reference), "readings": readings}


def _reference(point: PointSent, certified: dict[UUID, CertifiedValue]) -> Decimal:
    """What the instrument is compared with: what the reference showed, or what is certified of the standard."""
    if point.reference is not None:
        return point.reference
    return certified[point.standards[0].pk].value or Decimal(0)


def store_points(verification: Verification, points: list[PointSent], certified: dict[UUID, CertifiedValue]) -> None:
    answers = zip(points, verification.inputs["points"], verification.result["points"], strict=True)
    for order, (point, given, judged) in enumerate(answers, start=1):
        values = [certified[standard.pk] for standard in point.standards]
        found: dict[str, Any] = (
            {"reference": _reference(point, certified), "readings": given["readings"]}
            if point.readings
            else {
                "certified_nm": sum(value.value_nm or 0 for value in values),
                "expanded_uncertainty_nm": round(judged["standard_uncertainty_um"] * given["coverage_factor"] * 1000),
                "readings_nm": list(point.readings_nm),
            }
        )
        row = VerificationPoint.objects.create(verification=verification, order=order, **found)
        StandardUse.objects.bulk_create([StandardUse(point=row, certified_value=value) for value in values])


def as_sent(point: VerificationPoint, values: Sequence[CertifiedValue]) -> PointSent:
    """A point that is stored, as it was sent; `values` are those it relied on, in order."""
    standards = [value.standard for value in values if value.standard]
    if point.readings is None:
        return PointSent(standards, point.shown_nm)
    read = all(value.value is None for value in values)
    return PointSent(
        standards, readings=[Decimal(str(reading)) for reading in point.readings],
        reference=point.reference if read else None,
    )  # fmt: skip


def as_given(point: VerificationPoint, values: Sequence[CertifiedValue]) -> dict[str, Any]:
    """A point that is stored, as its rule is given it by what the certificates relied on state."""
    if point.readings is None:
        return stack_input(values) | {"readings_um": [um(reading) for reading in point.shown_nm]}
    certified = values[0].value if values else None
    return compared_input((point.reference or Decimal(0)) if certified is None else certified, point.readings)
