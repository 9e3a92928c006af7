"""What a report tells of instruments: their certificates, the checks of its hours and those its records rest on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Q

from inspection.fieldwork.kind import Discipline
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.foundation.units import Unit, in_unit
from inspection.instruments.models import CertifiedValue, Gauge, Verification
from inspection.instruments.queries import in_force_on, newest_certified
from inspection.projects.models import Project
from inspection.standards.units import exact
from inspection.standing.checks import checks_of
from inspection.standing.judgement import Check
from reports.daily.facts import CheckPoint, ComparedPoint, GaugeCheck, Instrument, StandardUsed
from reports.daily.parts import Part


def checks_told(project: Project, of: Part, records: Sequence[ThicknessRecord]) -> list[Verification]:
    """The checks made on this project in the part, and those that its records rest on."""
    if not of.tells(Discipline.INSPECTION):
        return []
    relied_on = {
        check
        for record in records
        if (standing := getattr(record, "standing", None))
        for check in (standing.opening_id, standing.closing_id)
        if check
    }
    then = Q(project=project, taken_at__gte=of.begins, taken_at__lt=of.ends)
    return list(
        Verification.objects.current()
        .filter(then | Q(pk__in=relied_on))
        .select_related("gauge", "project", "taken_by__organisation")
        .prefetch_related("points__uses__certified_value__certificate", "points__uses__certified_value__standard")
        .order_by("taken_at", "pk")
    )


def instruments_told(
    day: date,
    others: Sequence[Record],
    thicknesses: Sequence[ThicknessRecord],
    checks: Sequence[Verification],
    project: Project,
) -> tuple[Instrument, ...]:
    rows: Iterable[Any] = (*others, *thicknesses, *checks)
    gauges: dict[UUID, Gauge] = {row.gauge.pk: row.gauge for row in rows if row.gauge}
    # What was in force that day; where nothing was, the newest there is, with what stands against it.
    certified = {**newest_certified(gauges=gauges.values()), **in_force_on(day, gauges=gauges.values())}
    by_gauge: dict[UUID, list[GaugeCheck]] = defaultdict(list)
    now = checks_of(checks)
    for check in checks:
        by_gauge[check.gauge_id].append(_gauge_check(check, now[check.pk], day, project))
    judged = {record.gauge_id for record in thicknesses}
    ordered = sorted(gauges.values(), key=lambda gauge: gauge.identity)
    return tuple(_instrument(day, gauge, certified, by_gauge[gauge.pk], gauge.pk in judged) for gauge in ordered)


def _instrument(
    day: date, gauge: Gauge, certified: dict[UUID, CertifiedValue], checks: Sequence[GaugeCheck], judged: bool
) -> Instrument:
    certificate = certified[gauge.pk].certificate if gauge.pk in certified else None
    described = " ".join(part for part in (gauge.maker, gauge.model) if part)
    return Instrument(
        identity=gauge.identity,
        kind=gauge.get_kind_display(),
        described=", ".join(part for part in (described, f"serial {gauge.serial}" if gauge.serial else "") if part),
        certificate=str(certificate) if certificate else "",
        expires=certificate.expires if certificate else None,
        unusable=certificate.unusable_because(day) if certificate else "no certificate on record",
        checks=tuple(checks),
        judged=judged,
    )


def _gauge_check(check: Verification, now: Check, day: date, project: Project) -> GaugeCheck:
    """The check with the values known now, by which its records are judged; what was found then is told beside it.

    What was noted on a check made for another project is that project's.
    """
    unit = Unit(project.unit)
    points = list(check.points.all())
    answers = list((now.now or check.result).get("points", []))
    answers += [{}] * (len(points) - len(answers))
    pairs = list(zip(points, answers, strict=False))
    told = [_check_point(point, answer, day) for point, answer in pairs if point.readings is None]
    of_other = [(point, answer) for point, answer in pairs if point.readings]
    compared = [_compared_point(point, answer, check.inputs["read_in"], day) for point, answer in of_other]
    covers = now.passed and bool(now.to_nm)
    return GaugeCheck(
        id=str(check.pk),
        at=check.taken_at,
        purpose=check.get_purpose_display(),
        adjustment=check.get_adjustment_display(),
        surface=check.get_surface_display(),
        by=check.by_name,
        verdict="pass" if now.passed else "fail",
        verified_from_nm=now.from_nm if covers else None,
        verified_to_nm=now.to_nm if covers else None,
        points=tuple(told),
        combination="" if compared else check.combination.in_words,
        note=check.note if check.project_id == project.pk else "",
        as_found=_as_found(check, now, points, unit),
        compared=tuple(compared),
    )


def _as_found(check: Verification, now: Check, points: Sequence[Any], unit: Unit) -> str:
    if not now.corrected_by:
        return ""
    in_its_unit = unit.label
    relied_on = ", ".join(in_unit(point.certified_nm, unit) for point in points if point.certified_nm is not None)
    if not relied_on:
        relied_on, in_its_unit = ", ".join(f"{point.reference:g}" for point in points), check.inputs["read_in"]
    outcome = f"it {now.recomputed}" if now.recomputed else "it still passes"
    return (
        f"Certificate {now.corrected_by} has been corrected since. Judged with the corrected values, as shown here, "
        f"{outcome}. As found then, relying on {relied_on} {in_its_unit}: {check.get_verdict_display().lower()}."
    )


def _compared_point(point: Any, answer: dict[str, Any], unit: str, day: date) -> ComparedPoint:
    (use,) = point.uses.all()
    value = use.certified_value
    reference, mean = float(point.reference), sum(point.readings) / len(point.readings)
    return ComparedPoint(
        standard=value.standard.identity,
        certificate=str(value.certificate),
        expires=value.certificate.expires,
        unusable=value.certificate.unusable_because(day),
        unit=unit,
        reference=answer.get("reference", reference),
        readings=len(point.readings),
        mean=answer.get("mean", mean),
        error=answer.get("error", mean - reference),
        tolerance=answer.get("tolerance", 0),
        verdict=answer.get("verdict", ""),
    )


def _check_point(point: Any, answer: dict[str, Any], day: date) -> CheckPoint:
    mean = sum(point.readings_nm) / len(point.readings_nm)
    tolerance, certified_um = answer.get("tolerance_um"), answer.get("certified_um")
    certified_nm = point.certified_nm if certified_um is None else round(exact(certified_um) * 1000)
    values = [use.certified_value for use in point.uses.all()]
    return CheckPoint(
        standards=tuple(
            StandardUsed(
                identity=value.standard.identity,
                certified_nm=value.value_nm or 0,
                certificate=str(value.certificate),
                expires=value.certificate.expires,
                unusable=value.certificate.unusable_because(day),
            )
            for value in sorted(values, key=lambda value: value.standard.identity)
        ),
        certified_nm=certified_nm,
        readings=len(point.readings_nm),
        mean_nm=mean,
        error_nm=mean - certified_nm,
        tolerance_nm=None if tolerance is None else round(tolerance * 1000, 3),
        verdict=answer.get("verdict", ""),
    )
