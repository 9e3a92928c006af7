"""Gathering the facts of one project and day, in a number of queries that does not grow with the records."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from itertools import chain
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Q

from accounts.models import Organisation, Person, Qualification
from inspection.fieldwork.climate.kind import more_read
from inspection.fieldwork.kinds import KINDS, kind_of
from inspection.fieldwork.models import ClimateRecord, Reading, Record, ThicknessRecord
from inspection.foundation.text import on_one_line
from inspection.foundation.units import Unit, in_unit
from inspection.instruments.models import CertifiedValue, Gauge, Verification
from inspection.instruments.queries import in_force_on, newest_certified
from inspection.projects.models import Project
from inspection.projects.steps import lay_films
from inspection.standards.climate import USUAL_MARGIN_C
from inspection.standards.units import exact
from inspection.standing.checks import checks_of
from inspection.standing.judgement import Check
from reports.daily.chains import chains_told
from reports.daily.diary import diary_told, entries_of
from reports.daily.facts import (
    CheckPoint,
    Climate,
    ComparedPoint,
    Correction,
    DayFacts,
    FailedCheck,
    GaugeCheck,
    Instrument,
    Observed,
    PersonOnSite,
    RestsOn,
    StandardUsed,
    Thickness,
)
from reports.daily.not_conforming import nonconformances_told, rework_told
from reports.daily.notices import notices_told
from reports.daily.photos import photos_told
from reports.daily.points import points_told
from reports.daily.progress import progress_told
from reports.daily.stations import stations_told
from reports.daily.works import works_told
from reports.papers.models import CompanyHead, ProjectHead


class Shown(NamedTuple):
    """A reading as the gauge showed it; hundreds of them make no model instances."""

    spot: int
    order: int
    value_nm: int
    void_reason: str


# Their parts of the report show more than a line.
TOLD_APART = (ClimateRecord.KIND, ThicknessRecord.KIND)
Readings = dict[UUID, list[Shown]]


def gather(project: Project, day: date) -> DayFacts:
    """The facts of the project's day [begins, ends), as far as they are known now."""
    begins, ends = project.day_bounds(day)
    of_day = Q(taken_at__gte=begins, taken_at__lt=ends)
    climates, thicknesses = _records(ClimateRecord, project, of_day), _records(ThicknessRecord, project, of_day)
    readings: Readings = defaultdict(list)
    rows = Reading.objects.filter(record__in=[record.pk for record in thicknesses]).order_by("spot", "order")
    for record, *reading in rows.values_list("record", *Shown._fields):
        readings[record].append(Shown._make(reading))
    others = [_records(kind.model, project, of_day) for kind in KINDS if kind.name not in TOLD_APART]
    observed = [row for row in chain(*others) if not hasattr(row, "replaced_by")]
    current_climates = [record for record in climates if not hasattr(record, "replaced_by")]
    current = [record for record in thicknesses if not hasattr(record, "replaced_by")]
    checks = _verifications(project, begins, ends, current)
    points = points_told(project, begins, ends, current)
    works = works_told(project, begins, ends)
    entries = entries_of(project, day)
    return DayFacts(
        **_head(project, begins, ends),
        structures=tuple(sorted({record.area.structure.name for record in (*current, *current_climates, *observed)})),
        day=day,
        begins=begins,
        ends=ends,
        people=_people(day, begins, [
            *((kind_of(record).one, record.taken_by) for record in (*current_climates, *current, *observed)),
            *(("gauge check", check.taken_by) for check in checks if check.project_id == project.pk),
            *(("diary note", entry.entered_by) for entry in entries),
        ]),
        climates=tuple(_climate(record, ends) for record in current_climates),
        thicknesses=tuple(_thickness(record, readings[record.pk], ends) for record in current),
        observed=tuple(_observed(record, ends) for record in observed),
        instruments=_instruments(day, [*current_climates, *observed], current, checks, project),
        points=points,
        nonconformances=nonconformances_told(project, begins, ends),
        rework=rework_told(project, begins, ends),
        photos=photos_told(project, begins, ends),
        corrections=(
            *_corrections(project, begins, ends, [*climates, *thicknesses, *chain(*others)], readings),
            *works.corrections,
        ),
        lots=works.lots,
        mixes=works.mixes,
        batches=works.batches,
        progress=progress_told(project, begins, ends), chains=chains_told(project, begins, ends),
        notices=notices_told(project, ends),
        **diary_told(project, day, ends, entries),
        stations=stations_told(project, current_climates, begins, ends),
        rests_on=RestsOn(
            thickness=_ids(current), climate=_ids(current_climates), verification=_ids(checks),
            holdpoint=tuple(point.id for point in points),
        ),
    )  # fmt: skip


def _head(project: Project, begins: datetime, ends: datetime) -> dict[str, Any]:
    """Who reports to whom of what; names as they were that day."""
    company = Organisation.objects.filter(kind=Organisation.Kind.COMPANY).order_by("pk").first()
    ours, head = CompanyHead.objects.of(ends), ProjectHead.objects.filter(project=project).of(ends)
    return {
        "company": company.name_at(begins) if company else "",
        "project_code": on_one_line(project.code),
        "project_name": on_one_line(project.name),
        "client": project.client.name_at(begins),
        "contractor": project.contractor.name_at(begins) if project.contractor else "",
        "zone": project.time_zone,
        "unit": project.unit,
        "address": ours.address if ours else "",
        "logo": ours.logo_id or "" if ours else "",
        "order_number": head.order_number if head else "",
        "references": tuple(head.references.splitlines()) if head else (),
        "distribution": tuple(head.distribution.splitlines()) if head else (),
    }


def _ids(rows: Iterable[Any]) -> tuple[str, ...]:
    return tuple(sorted(str(row.pk) for row in rows))


def _records(model: Any, project: Project, which: Q) -> list[Any]:
    related = [
        "project", "area__structure", "coat__system", "taken_by__organisation", "gauge", "replaces", "replaced_by",
        "standing",
    ]  # fmt: skip
    of_kind = f"replaces__{model._meta.model_name}"
    rows = model.objects.filter(which, project=project).select_related(*related, of_kind, f"{of_kind}__project")
    rows = rows.defer("inputs", f"{of_kind}__inputs", f"{of_kind}__result")
    if model is ClimateRecord:
        rows = rows.select_related("station")
    if model is ThicknessRecord:
        rows = rows.prefetch_related("coat__system__coats")
        found = list(rows.order_by("area__code", "coat__order", "taken_at", "pk"))
        lay_films((record.area_id, record.coat) for record in found)
        return found
    return list(rows.order_by("taken_at", "pk"))


def _late(record: Record, ends: datetime) -> datetime | None:
    """When a record came in, if that was after its day had ended; a correction is told as one instead."""
    return record.received_at if record.received_at >= ends and not record.replaces_id else None


def failed_checks(result: dict[str, Any]) -> tuple[FailedCheck, ...]:
    """The checks of a stored result that were not met, as the standards core explained them."""
    return tuple(
        FailedCheck(
            sentence=check["sentence"],
            clause=check.get("clause", ""),
            limit=check.get("limit"),
            observed=check.get("observed"),
            unit=check.get("unit", ""),
            decided_by=tuple(check.get("decided_by", ())),
            counted_in=check.get("counted_in", "reading"),
            where=check.get("where", ""),
        )
        for check in result.get("checks", ())
        if check["passed"] is False
    )


def _climate(record: ClimateRecord, ends: datetime) -> Climate:
    coat = record.coat
    return Climate(
        id=str(record.pk),
        at=record.taken_at,
        area=record.area.label,
        coat=coat.told if coat else "",
        dry_bulb_c=float(record.dry_bulb_c),
        wet_bulb_c=None if record.wet_bulb_c is None else float(record.wet_bulb_c),
        humidity_pct=record.found_humidity_pct,
        surface_c=float(record.surface_c),
        dew_point_c=record.dew_point_c,
        margin_c=record.margin_c,
        margin_min_c=float(coat.margin_min_c if coat else USUAL_MARGIN_C),
        humidity_min_pct=float(coat.humidity_min_pct) if coat and coat.humidity_min_pct is not None else None,
        humidity_max_pct=float(coat.humidity_max_pct) if coat else None,
        verdict=record.verdict,
        by=record.by_name,
        gauge=record.gauge.identity if record.gauge else "",
        note=record.note,
        failed=failed_checks(record.result),
        late=_late(record, ends),
        station=record.station.code if record.station else "",
        more=more_read(record),
    )


def _thickness(record: ThicknessRecord, readings: Sequence[Shown], ends: datetime) -> Thickness:
    minimum, nominal, maximum = record.coat.through
    standing = getattr(record, "standing", None)
    return Thickness(
        id=str(record.pk),
        structure=record.area.structure.name,
        area=record.area.label,
        area_name=record.area.name,
        area_m2=float(record.area.area_m2),
        coat=record.coat.told,
        coat_order=record.coat.order,
        product=record.coat.product,
        rule=record.result.get("rule") or record.coat.rule_name,
        edition=record.result.get("edition", ""),
        for_control=not record.coat.decides,
        minimum_nm=minimum,
        nominal_nm=nominal,
        maximum_nm=maximum,
        values_nm=tuple(reading.value_nm - record.correction_nm for reading in readings if not reading.void_reason),
        spots=tuple(reading.spot for reading in readings if not reading.void_reason),
        wanted=record.readings_wanted,
        mean_nm=record.mean_nm,
        lowest_nm=record.lowest_nm,
        highest_nm=record.highest_nm,
        profile_way=record.get_profile_way_display(),
        correction_nm=record.correction_nm,
        verdict=record.verdict,
        standing=standing.state if standing else "",
        reasons=tuple(standing.reasons) if standing else (),
        gauge=record.gauge.identity,
        began=record.taken_at,
        ended=record.ended_at,
        by=record.by_name,
        note=record.note,
        failed=failed_checks(record.result),
        late=_late(record, ends),
    )


def _observed(record: Any, ends: datetime) -> Observed:
    kind, standing = kind_of(record), getattr(record, "standing", None)
    return Observed(
        id=str(record.pk),
        kind=kind.name,
        title=kind.title,
        at=record.taken_at,
        structure=record.area.structure.name,
        area=record.area.label,
        coat=record.coat.name if record.coat else "",
        found=kind.sentence(record),
        verdict=record.verdict,
        standing=standing.state if standing else "",
        reasons=tuple(standing.reasons) if standing else (),
        by=record.by_name,
        gauge=record.gauge.identity if record.gauge else "",
        note=record.note,
        failed=failed_checks(record.result),
        late=_late(record, ends),
    )


# --- people ----------------------------------------------------------------------------------------------------------


def _people(day: date, begins: datetime, done: Iterable[tuple[str, Person]]) -> tuple[PersonOnSite, ...]:
    """Who recorded or wrote something, each with what of it and how many, and the qualifications valid that day."""
    deeds: dict[UUID, Counter[str]] = defaultdict(Counter)
    who: dict[UUID, Person] = {}
    for what, person in done:
        who[person.pk] = person
        deeds[person.pk][what] += 1
    held: dict[UUID, list[str]] = defaultdict(list)
    valid = Qualification.objects.filter(Q(expires=None) | Q(expires__gte=day), person__in=list(who), issued__lte=day)
    for paper in valid.standing().order_by("scheme__name", "number"):
        until = f"valid to {paper.expires:%Y-%m-%d}" if paper.expires else "never runs out"
        held[paper.person_id].append(f"{paper}, {paper.number}, {until}")
    return tuple(
        PersonOnSite(
            name=person.name_at(begins),
            organisation=person.organisation.name_at(begins),
            qualifications=tuple(held[pk]),
            recorded=", ".join(f"{count} {what}{'s' if count > 1 else ''}" for what, count in deeds[pk].items()),
        )
        for pk, person in sorted(who.items(), key=lambda item: (item[1].name, item[0]))
    )


# --- instruments -----------------------------------------------------------------------------------------------------


def _verifications(
    project: Project, begins: datetime, ends: datetime, records: Sequence[ThicknessRecord]
) -> list[Verification]:
    """The checks made on this project that day, and those that the day's records rest on."""
    relied_on = {
        check
        for record in records
        if (standing := getattr(record, "standing", None))
        for check in (standing.opening_id, standing.closing_id)
        if check
    }
    of_day = Q(project=project, taken_at__gte=begins, taken_at__lt=ends)
    return list(
        Verification.objects.current()
        .filter(of_day | Q(pk__in=relied_on))
        .select_related("gauge", "project", "taken_by__organisation")
        .prefetch_related("points__uses__certified_value__certificate", "points__uses__certified_value__standard")
        .order_by("taken_at", "pk")
    )


def _instruments(
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


# --- corrections -----------------------------------------------------------------------------------------------------


def _corrections(
    project: Project, begins: datetime, ends: datetime, of_day: Sequence[Any], readings: Readings
) -> tuple[Correction, ...]:
    """Corrections to the day's records, corrections entered that day to older ones, and voided readings."""
    entered = Q(replaces__isnull=False, received_at__gte=begins, received_at__lt=ends)
    older = entered & ~Q(taken_at__gte=begins, taken_at__lt=ends)
    rows = [*of_day, *chain(*(_records(kind.model, project, older) for kind in KINDS))]
    found = [_correction(row, project.unit) for row in rows if row.replaces_id]
    for row in of_day:
        for reading in readings.get(row.pk, ()) if not hasattr(row, "replaced_by") else ():
            if reading.void_reason:
                found.append(_voided(row, reading, project.unit))
    return tuple(found)


def _correction(row: Any, unit: str) -> Correction:
    place = f"{row.area.label}, {row.coat.name}" if row.coat else row.area.label
    return Correction(
        what=f"{kind_of(row).title} of {place}",
        change=f"{_outcome(getattr(row.replaces, row._meta.model_name), unit)}, became {_outcome(row, unit)}",
        reason=row.replacement_reason,
        by=row.by_name,
        at=row.received_at,
    )


def _outcome(row: Any, unit: str) -> str:
    verdict = row.get_verdict_display().lower()
    if isinstance(row, ClimateRecord):
        return f"margin {row.margin_c:.1f} °C, {verdict}".replace("-", "−")
    if not isinstance(row, ThicknessRecord):
        return f"{kind_of(row).sentence(row)}, {verdict}"
    mean = "no mean" if row.mean_nm is None else f"mean {in_unit(row.mean_nm, unit)} {Unit(unit).label}"
    return f"{mean}, {verdict}"


def _voided(row: ThicknessRecord, reading: Shown, unit: str) -> Correction:
    shown = f"{in_unit(reading.value_nm, unit)} {Unit(unit).label}"
    return Correction(
        what=f"Thickness of {row.area.label}, {row.coat.name}",
        change=f"spot {reading.spot}, reading {reading.order} ({shown}) voided",
        reason=reading.void_reason,
        by=row.by_name,
        at=None,
    )
