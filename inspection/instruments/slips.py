"""What in the readings of a check looks like a slip of hand or of shim, to be asked before the check is stored.

A gauge that reads wrong by the same amount on every shim is no slip, and nothing is asked of it. The limits are our own
declared figures; no standard gives them.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol
from uuid import UUID

from inspection.foundation.refusals import Fault
from inspection.foundation.units import Unit, in_unit
from inspection.instruments.models import CertifiedValue, Gauge, ReferenceStandard, Verification, VerificationPoint

# A reading this close to ten times, or a tenth of, the thickness under it has a decimal point out of place.
TENFOLD_WITHIN_PCT = 10
# So many times the stated accuracy away from the middle of the others, a reading is a stray one.
STRAY_ACCURACIES = 3
# Three readings scatter by more than three times the repeatability once in a thousand (F distribution with 2 and about
# 30 degrees of freedom). Less than half the stated accuracy is never asked about; without a history, less than it all.
SCATTER_REPEATABILITIES = 3
LEAST_ASKED = 0.5
WITHOUT_HISTORY = 1.0
CHECKS_BEFORE = 30
LEAST_FREEDOM = 8


class Point(Protocol):
    @property
    def standards(self) -> Sequence[ReferenceStandard]: ...
    @property
    def readings_nm(self) -> Sequence[int]: ...


@dataclass(frozen=True)
class Shim:
    """A thickness of the set, and how far from it a reading may lie and still belong to it; nm."""

    name: str
    value_nm: int
    within_nm: float


def of_check(check: Verification, points: Sequence[Point], certified: Mapping[UUID, CertifiedValue]) -> list[Fault]:
    """A question for each reading, or point, that looks like a slip; the point is the row."""
    gauge, unit = check.gauge, Unit(check.project.unit)
    shims = _set_of(gauge, certified.values())
    ratio = scatter_allowed(_earlier(check))
    asked = []
    for row, point in enumerate(points, start=1):
        values = [certified[standard.pk] for standard in point.standards]
        under = Shim(
            " + ".join(standard.identity for standard in point.standards),
            sum(value.value_nm or 0 for value in values),
            check.result["points"][row - 1]["tolerance_um"] * 1000,
        )
        accuracy = accuracy_nm(gauge, under.value_nm)
        asked += [
            Fault(words, "points", row) for words in of_point(point.readings_nm, under, shims, accuracy, ratio, unit)
        ]
    return asked


def of_point(
    readings_nm: Sequence[int], under: Shim, shims: Sequence[Shim], accuracy: float, scatter: float, unit: Unit
) -> list[str]:
    """The questions about one point. `accuracy` is what the maker states there in nm, `scatter` a multiple of it."""
    asked, usual = [], []
    for number, reading in enumerate(readings_nm, start=1):
        words = _tenfold(reading, under, unit) or _of_another(reading, under, shims, unit)
        if words:
            asked.append(f"Reading {number}, {in_unit(reading, unit)} {unit.label}, {words}")
        else:
            usual.append((number, reading))
    stray = _stray(usual, accuracy)
    if stray:
        number, reading, middle = stray
        asked.append(
            f"Reading {number}, {in_unit(reading, unit)} {unit.label}, lies far from the others, about "
            f"{in_unit(round(middle), unit)} {unit.label}: is it right?"
        )
        usual = [one for one in usual if one[0] != number]
    if len(usual) > 1:
        found = statistics.stdev(reading for _, reading in usual)
        if found > scatter * accuracy:
            asked.append(
                f"The readings on {under.name} scatter by {in_unit(round(found), unit)} {unit.label} (s), more than "
                f"the {in_unit(round(scatter * accuracy), unit)} {unit.label} expected of this gauge: was the probe "
                "held square, the shim flat and clean?"
            )
    return asked


def _tenfold(reading: int, under: Shim, unit: Unit) -> str:
    for factor, words in ((10, "ten times"), (0.1, "a tenth of")):
        expected = under.value_nm * factor
        if expected and abs(reading - expected) * 100 <= TENFOLD_WITHIN_PCT * expected:
            there = f"{in_unit(under.value_nm, unit)} {unit.label} of {under.name}"
            return f"is about {words} the {there}: is the decimal point in its place?"
    return ""


def _of_another(reading: int, under: Shim, shims: Sequence[Shim], unit: Unit) -> str:
    if abs(reading - under.value_nm) <= under.within_nm:
        return ""
    others = [shim for shim in shims if shim.name != under.name]
    fitting = [shim for shim in others if abs(reading - shim.value_nm) <= shim.within_nm]
    if not fitting:
        return ""
    other = min(fitting, key=lambda shim: abs(reading - shim.value_nm))
    there = f"{in_unit(other.value_nm, unit)} {unit.label}"
    return f"fits {other.name} ({there}), not {under.name}: which shim lay under the probe?"


def _stray(readings: Sequence[tuple[int, int]], accuracy: float) -> tuple[int, int, float] | None:
    """The one reading that lies furthest from the middle of the others, where that is too far, with that middle."""
    if len(readings) < 3:
        return None
    middles = [
        (number, reading, statistics.median(other for place, other in readings if place != number))
        for number, reading in readings
    ]
    number, reading, middle = max(middles, key=lambda found: abs(found[1] - found[2]))
    return (number, reading, middle) if abs(reading - middle) > STRAY_ACCURACIES * accuracy else None


def scatter_allowed(earlier: Iterable[tuple[Sequence[int], float]]) -> float:
    """As a multiple of the stated accuracy, by the gauge's own repeatability: pooled over readings in its checks."""
    freedom, squares = 0, 0.0
    for readings, accuracy in earlier:
        if len(readings) > 1 and accuracy:
            freedom += len(readings) - 1
            squares += statistics.variance(readings) * (len(readings) - 1) / accuracy**2
    if freedom < LEAST_FREEDOM:
        return WITHOUT_HISTORY
    return max(LEAST_ASKED, SCATTER_REPEATABILITIES * float((squares / freedom) ** 0.5))


def accuracy_nm(gauge: Gauge, nm: int) -> float:
    """What the maker states at a thickness: ± a % ± b."""
    return float(gauge.accuracy_pct or 0) * nm / 100 + (gauge.accuracy_nm or 0)


def _earlier(check: Verification) -> list[tuple[Sequence[int], float]]:
    before = Verification.objects.current().filter(gauge=check.gauge, taken_at__lt=check.taken_at)
    newest = before.exclude(pk=check.replaces_id).order_by("-taken_at").values("pk")[:CHECKS_BEFORE]
    rows = VerificationPoint.objects.filter(verification__in=list(newest.values_list("pk", flat=True)))
    return [(row.shown_nm, accuracy_nm(check.gauge, row.thickness_nm)) for row in rows.order_by()]


def _set_of(gauge: Gauge, certified: Iterable[CertifiedValue]) -> list[Shim]:
    """Every standard on the certificates that were used: the set the shims came from."""
    papers = {value.certificate_id for value in certified}
    rows = CertifiedValue.objects.filter(certificate__in=papers, standard__isnull=False).select_related("standard")
    return [
        Shim(
            str(row.standard), row.value_nm or 0,
            accuracy_nm(gauge, row.value_nm or 0) + (row.expanded_uncertainty_nm or 0),
        )
        for row in rows.order_by("value_nm", "pk")
    ]  # fmt: skip
