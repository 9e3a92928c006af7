"""A measurement under way, reading by reading on a phone, until it becomes a record and takes the sheet's id."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from inspection.fieldwork.actions.thickness import MOST_PLACE, MOST_READINGS, check_set_up, record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.leaving import left_open
from inspection.fieldwork.models import PUT_RIGHT, Sheet, SheetReading, ThicknessRecord
from inspection.fieldwork.profile.correction import settled_correction
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.storing import (
    LONGEST_REASON,
    another_id,
    coat_judged_by,
    is_seen,
    may_record,
    moments,
    replacing,
    words,
)
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.units import Unit, in_unit
from inspection.instruments import overdue
from inspection.instruments.models import Gauge
from inspection.projects.actions import goes_on
from inspection.projects.breakdown import of_system, still_in_use
from inspection.projects.models import Coat, InspectionArea
from inspection.projects.preconditions import in_sight


@transaction.atomic
def open_sheet(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - the sheet's id becomes the record's
    area: InspectionArea,
    coat: Coat,
    gauge: Gauge,
    profile_way: str,
    correction_nm: int = 0,
    profile_record: ProfileRecord | None = None,
    replaces: ThicknessRecord | None = None,
    replacement_reason: str = "",
    at: datetime | None = None,
) -> Sheet:
    """Begin a measurement. Opening the same sheet again answers with the one that is there.

    Refused, unless the company only warns, where the certificate of the gauge or the person's qualification has run
    out on the project's day.
    """
    at = at or timezone.now()
    project = area.structure.project
    may_record(by, project=project, area=area, coat=coat, gauge=gauge, what="thickness")
    if profile_record:
        in_sight(by, profile_record)
    correction_nm = settled_correction(
        area=area.pk, way=profile_way, correction_nm=correction_nm, profile=profile_record
    )
    check_set_up(gauge, profile_way, correction_nm)
    named, coat = coat, coat_judged_by(id, area=area, coat=coat, at=at, replaces=replaces)
    other = another_id(id, by, project)
    found = {sheet.pk: sheet for sheet in Sheet.objects.filter(pk__in=(id, other))}
    begun = found.get(other) or found.get(id)
    if begun is not None and begun.pk != other and not is_seen(by, begun):
        id, begun = other, None  # noqa: A001 - as it was sent, or else the one in its place
    if begun is not None:
        same = (begun.person_id, begun.area_id, begun.gauge_id) == (by.pk, area.pk, gauge.pk)
        if not same or begun.coat_id not in (named.pk, coat.pk):
            raise Conflict("A sheet with this id was begun already, for something else.")
        return begun
    goes_on(project)
    if replaces is None:
        still_in_use(area)
        of_system(area, coat)
    replacing(replaces, replacement_reason, by=by, project=project)
    run_out = overdue.begin(overdue.faults(project.day_of(at), by=by, gauge=gauge, project=project))
    sheet = Sheet.objects.create(
        id=id, project=project, area=area, coat=coat, gauge=gauge, profile_way=profile_way, person=by,
        correction_nm=correction_nm, profile_record=profile_record, replaces=replaces,
        replacement_reason=replacement_reason, begun_at=at,
    )  # fmt: skip
    after = {"area": area.label, "coat": coat.name, "gauge": gauge.identity}
    journal.record(
        "sheet.opened", sheet, by=by, project_id=project.pk, after=after | ({"run_out": run_out} if run_out else {})
    )
    return sheet


@transaction.atomic
def note_reading(
    by: Person,
    *,
    sheet: Sheet,
    spot: int,
    value_nm: int,
    taken_at: datetime | None = None,
    order: int | None = None,
) -> SheetReading:
    """Note the next reading of a spot. With `order` given, the same reading sent twice is noted once."""
    sheet = _own_open_sheet(by, sheet)
    faults = [] if 0 < spot <= MOST_PLACE else [Fault("Spots are counted from 1.", "spot")]
    if taken_at:
        faults += moments(taken_at=taken_at)
    faults += _value_faults(sheet, value_nm)
    if faults:
        raise Refused(faults)
    if sheet.readings.count() >= MOST_READINGS:
        raise Refused("The sheet is full; finish it and begin another.")
    noted = {reading.order: reading for reading in sheet.readings.filter(spot=spot)}
    if order is not None and order in noted:
        if noted[order].value_nm == value_nm:
            return noted[order]
        unit = Unit(sheet.project.unit)
        there = in_unit(noted[order].value_nm, unit)
        raise Conflict(
            Fault(f"Reading {order} of spot {spot} was noted already, as {there} {unit.label}; send it as the next.")
        )
    return SheetReading.objects.create(
        sheet=sheet, spot=spot, order=max(noted, default=0) + 1, value_nm=value_nm, taken_at=taken_at or timezone.now()
    )


@transaction.atomic
def put_reading_right(by: Person, *, reading: SheetReading, value_nm: int) -> SheetReading:
    """Put a typing slip right at once: only the newest reading of one's own sheet, before another one follows.

    It stays one reading, neither voided nor repeated; the journal keeps what was typed first. Raises Refused for a
    value the gauge cannot show, Conflict once something followed.
    """
    sheet = _own_open_sheet(by, reading.sheet)
    newest = sheet.readings.order_by("-pk").first()
    if newest is None or newest.pk != reading.pk or newest.void_reason:
        raise Conflict("Only the reading noted last can be put right; void an older one, with the reason.")
    faults = _value_faults(sheet, value_nm)
    if faults:
        raise Refused(faults)
    if newest.value_nm == value_nm:
        return newest
    place = {"spot": newest.spot, "reading": newest.order}
    before, newest.value_nm = newest.value_nm, value_nm
    newest.save(update_fields=["value_nm"])
    journal.record(
        PUT_RIGHT, sheet, by=by, project_id=sheet.project_id, before=place | {"value_nm": before},
        after=place | {"value_nm": value_nm},
    )  # fmt: skip
    return newest


def _value_faults(sheet: Sheet, value_nm: int) -> list[Fault]:
    gauge, unit = sheet.gauge, Unit(sheet.project.unit)
    lowest, highest = gauge.range_from_nm or 0, gauge.range_to_nm or 0
    if lowest <= value_nm <= highest:
        return []
    low, high = in_unit(lowest, unit), in_unit(highest, unit)
    return [
        Fault(
            f"{in_unit(value_nm, unit)} {unit.label} lies outside the range of gauge {gauge} ({low} to {high} "
            f"{unit.label}); check the figure and the unit.",
            "value",
        )
    ]


@transaction.atomic
def void_sheet_reading(by: Person, *, reading: SheetReading, reason: str) -> SheetReading:
    """Take a reading out of the arithmetic, with the reason; it stays on the sheet and in the record."""
    _own_open_sheet(by, reading.sheet)
    reason = reason.strip()
    faults = words(void_reason=(reason, LONGEST_REASON))
    if not reason:
        faults.append(Fault("Say why the reading is voided, and take a repeat reading in that spot.", "void_reason"))
    if faults:
        raise Refused(faults)
    reading.void_reason = reason
    reading.save(update_fields=["void_reason"])
    return reading


@transaction.atomic
def finish_sheet(by: Person, *, sheet: Sheet, note: str = "") -> ThicknessRecord:
    """Make the sheet a record. Finishing again answers with the record that was made."""
    sheet = Sheet.objects.select_for_update().get(pk=sheet.pk)
    if sheet.closed_at and sheet.person_id == by.pk:
        made = ThicknessRecord.objects.filter(pk=sheet.pk).first()
        if made:
            return made
    sheet = _own_open_sheet(by, sheet)
    noted = list(sheet.readings.all())
    if not noted:
        raise Refused("The sheet holds no readings yet.")
    record, _ = record_thickness(
        by, id=sheet.pk, project=sheet.project, area=sheet.area, coat=sheet.coat, gauge=sheet.gauge,
        profile_way=sheet.profile_way, correction_nm=sheet.correction_nm, profile_record=sheet.profile_record,
        unit=sheet.project.unit,
        readings=[ReadingSent(r.spot, r.order, r.value_nm, r.taken_at, r.void_reason) for r in noted],
        first_reading_at=min(r.taken_at for r in noted), last_reading_at=max(r.taken_at for r in noted), note=note,
        replaces=sheet.replaces, replacement_reason=sheet.replacement_reason,
    )  # fmt: skip
    sheet.closed_at = timezone.now()
    sheet.save(update_fields=["closed_at"])
    return record


@transaction.atomic
def abandon_sheet(by: Person, *, sheet: Sheet, reason: str) -> Sheet:
    """Close a sheet that becomes no record. Its readings are kept, and the journal says who, whose and why.

    The person's own; or, for a quality manager, one whose measurer has left or may no longer measure.
    """
    sheet = _locked_open_sheet(by, sheet) if may_give_up(by, sheet) else _own_open_sheet(by, sheet)
    if not reason.strip():
        raise Refused("Say why the measurement is given up; its readings are kept.", field="reason")
    sheet.closed_at = timezone.now()
    sheet.save(update_fields=["closed_at"])
    journal.record(
        "sheet.abandoned", sheet, by=by, project_id=sheet.project_id, reason=reason.strip(),
        after={"readings": sheet.readings.count(), "begun_by": sheet.person.name},
    )  # fmt: skip
    return sheet


def may_give_up(by: Person, sheet: Sheet) -> bool:
    """Whether the person may close the sheet of somebody who can no longer finish it."""
    return by.has_role(Role.QUALITY_MANAGER) and left_open(Sheet.objects.filter(pk=sheet.pk)).exists()


def _own_open_sheet(by: Person, sheet: Sheet) -> Sheet:
    """The sheet, locked until the transaction ends. Raises unless it is the person's own and still open."""
    in_sight(by, sheet)
    if sheet.person_id != by.pk:
        raise NotAllowed(f"{sheet.person.name} is measuring on this sheet; begin one of your own.")
    return _locked_open_sheet(by, sheet)


def _locked_open_sheet(by: Person, sheet: Sheet) -> Sheet:
    in_sight(by, sheet)
    sheet = Sheet.objects.select_for_update(of=("self",)).select_related("project", "gauge", "person").get(pk=sheet.pk)
    if sheet.closed_at:
        raise Conflict("This sheet is closed; its readings can no longer be changed.")
    return sheet
