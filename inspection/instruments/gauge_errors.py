"""A gauge's errors over time: control chart, signals, drift, and advice on the interval between its calibrations."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.db.models import Q

from accounts.models import Person
from inspection.foundation.units import um
from inspection.instruments.models import (
    Certificate,
    CertifiedValue,
    Gauge,
    StandardUse,
    Verification,
    VerificationPoint,
)
from inspection.standards import InputFault, calculate

MOST_CHECKS = 300
# Limits drawn from fewer values than this say little (own figure; the handbook speaks of about twenty).
FEWEST_FOR_LIMITS = 8
FEWEST_FOR_DRIFT = 5
EWMA_WEIGHT = 0.3
CHECKS_AS_FOUND = "found"
# Such a check says nothing of the gauge as it was before.
AFTER_ADJUSTING = Q(as_left=True) & ~Q(adjustment=Verification.Adjustment.NONE)


@dataclass(frozen=True)
class ErrorAt:
    """The error of one check on one standard: mean reading less certified value, in µm."""

    verification: UUID
    order: int
    at: datetime
    day: date
    purpose: str
    as_left: bool
    passed: bool
    error_um: float
    mean_um: float


@dataclass
class Series:
    """The errors on one standard, or one stack, oldest first."""

    key: str
    label: str
    certified_um: float
    errors: list[ErrorAt] = field(default_factory=list)


def series_of(gauge: Gauge, person: Person, *, as_found: bool = False) -> list[Series]:
    """The newest checks the person may see, by what they were made on; most checks first."""
    checks = Verification.objects.visible_to(person).current().filter(gauge=gauge).select_related("project")
    if as_found:
        checks = checks.filter(as_left=False)
    newest = {check.pk: check for check in checks.order_by("-taken_at")[:MOST_CHECKS]}
    points = list(VerificationPoint.objects.filter(verification__in=list(newest)))
    stood_on = _standards(points)
    series: dict[str, Series] = {}
    for point in sorted(points, key=lambda point: (newest[point.verification_id].taken_at, point.order)):
        check = newest[point.verification_id]
        standards = stood_on[point.pk]
        key = ".".join(str(pk) for pk, _ in sorted(standards))
        found = series.setdefault(key, Series(key, " + ".join(name for _, name in standards), 0))
        found.certified_um = um(point.thickness_nm)
        found.errors.append(_error(check, point))
    return sorted(series.values(), key=lambda one: (-len(one.errors), one.certified_um))


def _standards(points: list[VerificationPoint]) -> dict[int, list[tuple[UUID, str]]]:
    found: dict[int, list[tuple[UUID, str]]] = defaultdict(list)
    rows = StandardUse.objects.filter(point__in=points).order_by("pk")
    for point, pk, identity in rows.values_list(
        "point", "certified_value__standard", "certified_value__standard__identity"
    ):
        if pk:
            found[point].append((pk, str(identity)))
    return found


def _error(check: Verification, point: VerificationPoint) -> ErrorAt:
    mean = Fraction(sum(point.shown_nm), len(point.shown_nm) * 1000)
    return ErrorAt(
        verification=check.pk,
        order=point.order,
        at=check.taken_at,
        day=check.project.day_of(check.taken_at),
        purpose=check.get_purpose_display(),
        as_left=check.as_left,
        passed=check.verdict == Verification.Verdict.PASS,
        error_um=float(mean - Fraction(point.thickness_nm, 1000)),
        mean_um=float(mean),
    )


def today_of(series: Series | None, now: datetime) -> date:
    """The day in UTC, or that of the newest check where its project's day is already the next."""
    return max([now.date(), *(error.day for error in series.errors)]) if series else now.date()


def calibration_of(gauge: Gauge, day: date) -> Certificate | None:
    """The newest that was issued by that day and neither replaced nor withdrawn, run out or not."""
    values = CertifiedValue.objects.filter(
        gauge=gauge, certificate__replaced_by=None, certificate__withdrawn_at=None, certificate__issued__lte=day
    )
    newest = values.select_related("certificate").order_by("-certificate__issued", "-certificate__recorded_at").first()
    return newest.certificate if newest else None


def failed_check(gauge: Gauge, person: Person, calibration: Certificate | None) -> Verification | None:
    """The newest failed check the person may see, while nothing has settled it.

    What settles it: a later passing check that was not made after adjusting, or a calibration of a later day.
    """
    checks = Verification.objects.visible_to(person).current().filter(gauge=gauge).select_related("project")
    telling = checks.exclude(AFTER_ADJUSTING, verdict=Verification.Verdict.PASS)
    newest = telling.order_by("-taken_at", "verdict").first()
    if not newest or newest.verdict == Verification.Verdict.PASS:
        return None
    settled = calibration and calibration.issued > newest.project.day_of(newest.taken_at)
    return None if settled else newest


@dataclass(frozen=True)
class Study:
    """What the errors of one series say. None where there are too few of them to say it.

    After a failed check that nothing has settled there is no advice, and the days of the forecast do not hold.
    """

    series: Series
    tolerance_um: float | None
    calibration: Certificate | None
    failed: Verification | None
    individuals: dict[str, Any] | None
    ewma: dict[str, Any] | None
    forecast: dict[str, Any] | None
    advice: dict[str, Any] | None

    @property
    def limits(self) -> tuple[float, float] | None:
        return (self.individuals["lower"], self.individuals["upper"]) if self.individuals else None

    @property
    def signals(self) -> list[tuple[ErrorAt, str]]:
        """The checks that stand out, and on which chart."""
        found = []
        for index, error in enumerate(self.series.errors):
            charts = [
                name
                for name, answer in (("individuals chart", self.individuals), ("weighted average", self.ewma))
                if answer and index in answer["signals"]
            ]
            if charts:
                found.append((error, " and ".join(charts)))
        return found


def study(series: Series, *, calibration: Certificate | None, failed: Verification | None) -> Study:
    """Limits, weighted average, drift and interval advice from the errors of one series."""
    values = [error.error_um for error in series.errors]
    tolerance_um = tolerance_at(series)
    individuals = ewma = forecast = advice = None
    if len(values) >= FEWEST_FOR_LIMITS:
        individuals = _answer("drift-individuals", {"values": values})
        if individuals and individuals["sigma"] > 0:
            given = {"values": values, "lambda": EWMA_WEIGHT, "target": individuals["centre"]}
            ewma = _answer("drift-ewma", given | {"sigma": individuals["sigma"]})
    if len({error.day for error in series.errors}) >= FEWEST_FOR_DRIFT and tolerance_um:
        dated = [{"date": error.day.isoformat(), "value": error.error_um} for error in series.errors]
        forecast = _forecast(dated, tolerance_um)
        if calibration and not failed:
            advice = _interval_advice({"errors_um": dated, "tolerance_um": tolerance_um}, calibration)
    return Study(series, tolerance_um, calibration, failed, individuals, ewma, forecast, advice)


def _interval_advice(given: dict[str, Any], calibration: Certificate) -> dict[str, Any] | None:
    interval = {
        "method": "control chart",
        "calibrated_on": calibration.issued.isoformat(),
        "current_interval_days": (calibration.expires - calibration.issued).days,
    }
    return _answer("interval-advice", given | interval)


def _forecast(dated: list[dict[str, Any]], tolerance_um: float) -> dict[str, Any] | None:
    """The fitted drift; `half_width` is what its slope is uncertain by, at the confidence of the forecast."""
    answer = _answer("drift-forecast", {"errors_um": dated, "tolerance_um": tolerance_um})
    if answer:
        answer["half_width"] = answer["slope_standard_uncertainty_per_year_um"] * answer["coverage_factor"]
    return answer


def study_of(gauge: Gauge, series: Series, person: Person, *, now: datetime) -> Study:
    """The study of one series of a gauge, against the tolerance and the interval it is held to now."""
    calibration = calibration_of(gauge, today_of(series, now))
    return study(series, calibration=calibration, failed=failed_check(gauge, person, calibration))


def _answer(name: str, given: dict[str, Any]) -> dict[str, Any] | None:
    """What the core answers, or nothing where these values allow no answer, such as errors that are all the same."""
    try:
        return calculate(name, given)
    except InputFault:
        return None


def tolerance_at(series: Series) -> float | None:
    """The combined tolerance (±, µm) that the newest check of the series was held to."""
    if not series.errors:
        return None
    last = series.errors[-1]
    result = Verification.objects.values_list("result", flat=True).get(pk=last.verification)
    return float(result["points"][last.order - 1]["tolerance_um"])
