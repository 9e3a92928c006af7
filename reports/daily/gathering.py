"""Gathering the facts of one project and day, in a number of queries that does not grow with the records."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from itertools import chain
from typing import Any
from uuid import UUID

from django.db.models import Q

from accounts.models import Organisation, Person, Qualification
from inspection.fieldwork.climate.kind import more_read
from inspection.fieldwork.kind import Discipline
from inspection.fieldwork.kinds import KINDS, kind_of
from inspection.fieldwork.models import ClimateRecord, Record, ThicknessRecord
from inspection.foundation.text import on_one_line
from inspection.instruments.models import Verification
from inspection.projects.models import Project
from inspection.standards.climate import USUAL_MARGIN_C
from reports.daily.chains import chains_told
from reports.daily.corrections import corrections_told
from reports.daily.diary import diary_told, entries_of
from reports.daily.facts import (
    Climate,
    DayFacts,
    FailedCheck,
    Observed,
    PersonOnSite,
    RestsOn,
    Thickness,
)
from reports.daily.instruments import checks_told, instruments_told
from reports.daily.not_conforming import nonconformances_told, rework_told
from reports.daily.notices import notices_told
from reports.daily.parts import Part, part_of
from reports.daily.photos import photos_told
from reports.daily.points import points_told
from reports.daily.progress import progress_told
from reports.daily.records import Shown, readings_of, records_of
from reports.daily.stations import stations_told
from reports.daily.works import works_told
from reports.papers.models import CompanyHead, ProjectHead

# Their parts of the report show more than a line.
TOLD_APART = (ClimateRecord.KIND, ThicknessRecord.KIND)


def gather(project: Project, day: date, part: str = "") -> DayFacts:
    """The facts of the project's day, or of the shift or discipline of it so named, as far as they are known now.

    Raises Refused where the day is not divided so.
    """
    of = part_of(project, day, part)
    then = Q(taken_at__gte=of.begins, taken_at__lt=of.ends)
    taken = {kind.name: records_of(kind.model, project, then) if of.tells(kind.discipline) else [] for kind in KINDS}
    climates, thicknesses = taken[ClimateRecord.KIND], taken[ThicknessRecord.KIND]
    readings = readings_of(thicknesses)
    others = [rows for name, rows in taken.items() if name not in TOLD_APART]
    observed = [row for row in chain(*others) if not hasattr(row, "replaced_by")]
    current_climates = [record for record in climates if not hasattr(record, "replaced_by")]
    current = [record for record in thicknesses if not hasattr(record, "replaced_by")]
    checks = checks_told(project, of, current)
    points = points_told(project, of.begins, of.ends, current) if of.tells(Discipline.INSPECTION) else ()
    works = works_told(project, of)
    entries = entries_of(project, day, of)
    of_all = [*climates, *thicknesses, *chain(*others)]
    return DayFacts(
        **_head(project, of),
        structures=tuple(sorted({record.area.structure.name for record in (*current, *current_climates, *observed)})),
        day=day,
        people=_people(day, of.day_begins, [
            *((kind_of(record).one, record.taken_by) for record in (*current_climates, *current, *observed)),
            *(("gauge check", check.taken_by) for check in checks if _made_there(check, project, of)),
            *(("diary note", entry.entered_by) for entry in entries),
        ]),
        climates=tuple(_climate(record, of.day_ends) for record in current_climates),
        thicknesses=tuple(_thickness(record, readings[record.pk], of.day_ends) for record in current),
        observed=tuple(_observed(record, of.day_ends) for record in observed),
        instruments=instruments_told(day, [*current_climates, *observed], current, checks, project),
        points=points,
        nonconformances=nonconformances_told(project, of),
        rework=rework_told(project, of),
        photos=photos_told(project, of),
        corrections=(*corrections_told(project, of, of_all, readings), *works.corrections),
        lots=works.lots,
        mixes=works.mixes,
        batches=works.batches,
        progress=progress_told(project, of.begins, of.ends) if of.tells(Discipline.COATING) else (),
        chains=chains_told(project, of),
        notices=notices_told(project, of.begins, of.ends) if of.tells(Discipline.INSPECTION) else (),
        **diary_told(project, day, of, entries),
        stations=stations_told(project, current_climates, of.begins, of.ends) if of.tells(Discipline.COATING) else (),
        rests_on=RestsOn(
            thickness=_ids(current), climate=_ids(current_climates), verification=_ids(checks),
            holdpoint=tuple(point.id for point in points),
        ),
    )  # fmt: skip


def _made_there(check: Verification, project: Project, of: Part) -> bool:
    """Whether the check is somebody's work there: of this project and, of one shift or discipline, in its hours."""
    return check.project_id == project.pk and (not of.name or of.begins <= check.taken_at < of.ends)


def _head(project: Project, of: Part) -> dict[str, Any]:
    """Who reports to whom of what; names, and what stands at the head, are those of the day, in all its papers."""
    begins, ends = of.day_begins, of.day_ends
    company = Organisation.objects.filter(kind=Organisation.Kind.COMPANY).order_by("pk").first()
    ours, head = CompanyHead.objects.of(ends), ProjectHead.objects.filter(project=project).of(ends)
    return {
        "begins": of.begins,
        "ends": of.ends,
        "part": of.name,
        "one_a": of.one_a if of.name else "",
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
