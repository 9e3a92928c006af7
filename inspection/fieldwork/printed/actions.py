"""Sheets printed, set aside and brought back; and a sheet entered, through the action that stores any measurement."""

from __future__ import annotations

import copy
import secrets
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.actions.thickness import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.fieldwork.printed.models import PrintedArea, PrintedSheet
from inspection.fieldwork.printed.plans import plan_now
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.queries import stored_already
from inspection.fieldwork.storing import LONGEST_NOTE, words
from inspection.foundation.refusals import Asked, Conflict, Fault, Refused
from inspection.instruments.models import Gauge
from inspection.projects.actions import goes_on
from inspection.projects.breakdown import of_system, still_in_use
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.projects.preconditions import in_sight
from inspection.projects.revised_areas import apply_due

# Without vowels, so that no word arises, and without what is mistaken for another on paper.
LETTERS = "23456789CFGHJKMNPQRTVWXY"
LENGTH = 6
MOST_AREAS = 60
# As many as still fill by hand; a larger area is divided, or measured with a gauge that keeps its readings.
MOST_SPOTS = 100
LONGEST_NAME = 120
PEOPLE = (Role.INSPECTOR, Role.QUALITY_MANAGER)


@transaction.atomic
def print_sheet(
    by: Person, *, id: UUID, project: Project, places: Sequence[tuple[InspectionArea, Coat]],  # noqa: A002 - the sender's
    at: datetime | None = None,
) -> tuple[PrintedSheet, bool]:  # fmt: skip
    """Keep what a sheet of these areas, each after a coat, tells; True when it is new. The same id again is the same.

    Raises Refused naming the row of an area out of use, of another project or system, too large for paper, or twice.
    """
    require(by, *PEOPLE, to="print sheets")
    areas = [copy.copy(area) for area, _ in places]
    coats = [copy.copy(coat) for _, coat in places]
    in_sight(by, project, *areas, *coats)
    stored = PrintedSheet.objects.filter(pk=id).first()
    if stored is not None:
        return _the_same(by, stored, project, places), False
    goes_on(project)
    if not places or len(places) > MOST_AREAS:
        raise Refused(f"Choose at least one area and at most {MOST_AREAS}.", field="places")
    apply_due(project=project)
    sheet = PrintedSheet(id=id, project=project, code=_free_code(), printed_by=by, printed_at=at or timezone.now())
    rows: list[PrintedArea] = []
    faults: list[Fault] = []
    for number, (area, coat) in enumerate(zip(areas, coats, strict=True), start=1):
        try:
            rows.append(_row(sheet, number, area, coat, before=rows))
        except Refused as refusal:
            faults += [Fault(fault.message, "places", number) for fault in refusal.faults]
    if faults:
        raise Refused(faults)
    sheet.save(force_insert=True)
    PrintedArea.objects.bulk_create(rows)
    journal.record(
        "printed_sheet.printed", sheet, by=by, project_id=project.pk,
        after={"code": sheet.code, "areas": [f"{row.area.label} after {row.coat.name}" for row in rows]},
    )  # fmt: skip
    return sheet, True


def _the_same(
    by: Person, stored: PrintedSheet, project: Project, places: Sequence[tuple[InspectionArea, Coat]]
) -> PrintedSheet:
    in_sight(by, stored)
    same = [(area.pk, coat.pk) for area, coat in places]
    if stored.project_id != project.pk or list(stored.areas.values_list("area", "coat")) != same:
        raise Conflict(Fault("A sheet with this id is printed already, for other areas.", "id"))
    return stored


def _row(
    sheet: PrintedSheet, number: int, area: InspectionArea, coat: Coat, *, before: Sequence[PrintedArea]
) -> PrintedArea:
    if area.structure.project_id != sheet.project_id:
        raise Refused(f"Area {area.label} belongs to another project than {sheet.project.code}.")
    still_in_use(area)
    of_system(area, coat)
    if any((row.area_id, row.coat_id) == (area.pk, coat.pk) for row in before):
        raise Refused(f"{area.label} after {coat.name} is chosen twice.")
    plan = plan_now(area, coat)
    if plan["spots"] > MOST_SPOTS:
        raise Refused(
            f"{area.label} wants {plan['spots']} spots after {coat.name}; a sheet takes at most {MOST_SPOTS}. Divide "
            "the area, or upload the readings of a gauge that keeps them."
        )
    return PrintedArea(sheet=sheet, number=number, area=area, coat=coat, plan=plan)


def _free_code() -> str:
    """A code that no sheet bears; of 190 million, so that one guessed leads nowhere."""
    while True:
        code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
        if not PrintedSheet.objects.filter(code=code).exists():
            return code


@transaction.atomic
def withdraw_sheet(by: Person, *, sheet: PrintedSheet, reason: str) -> PrintedSheet:
    """Set a sheet aside: the paper is lost, or was not wanted. What was entered from it stays."""
    sheet = _held(by, sheet, reason)
    if sheet.withdrawn_at:
        raise Conflict(f"Sheet {sheet.code} is set aside already.")
    sheet.withdrawn_at, sheet.withdrawn_by, sheet.withdrawn_why = timezone.now(), by, reason.strip()
    return _changed(by, sheet, "printed_sheet.withdrawn", reason)


@transaction.atomic
def restore_sheet(by: Person, *, sheet: PrintedSheet, reason: str) -> PrintedSheet:
    """Bring back a sheet that was set aside."""
    sheet = _held(by, sheet, reason)
    if not sheet.withdrawn_at:
        raise Conflict(f"Sheet {sheet.code} is not set aside.")
    sheet.withdrawn_at, sheet.withdrawn_by, sheet.withdrawn_why = None, None, ""
    return _changed(by, sheet, "printed_sheet.restored", reason)


def _held(by: Person, sheet: PrintedSheet, reason: str) -> PrintedSheet:
    require(by, *PEOPLE, to="set printed sheets aside")
    in_sight(by, sheet)
    if faults := words(reason=(reason, LONGEST_NOTE)) or ([] if reason.strip() else [Fault("Say why.", "reason")]):
        raise Refused(faults)
    return PrintedSheet.objects.select_for_update(of=("self",)).select_related("project").get(pk=sheet.pk)


def _changed(by: Person, sheet: PrintedSheet, verb: str, reason: str) -> PrintedSheet:
    sheet.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    journal.record(verb, sheet, by=by, project_id=sheet.project_id, reason=reason.strip())
    return sheet


@transaction.atomic
def enter_printed(
    by: Person, *, printed: PrintedArea, gauge: Gauge, profile_way: str, correction_nm: int = 0,
    profile_record: ProfileRecord | None = None, readings: Sequence[ReadingSent], first_reading_at: datetime,
    last_reading_at: datetime, measured_by: str = "", note: str = "", confirmed: bool = False,
) -> tuple[ThicknessRecord, bool]:  # fmt: skip
    """Store what was written on one area's paper as its record; True when it is new, the same again changes nothing.

    Raises as `record_thickness`; Conflict where the paper was entered already with other content; Asked, unless
    `confirmed`, for what looks like a slip.
    """
    in_sight(by, printed)
    sheet, area, coat = printed.sheet, printed.area, printed.coat
    if faults := words(measured_by=(measured_by, LONGEST_NAME)):
        raise Refused(faults)
    entered = ThicknessRecord.objects.filter(pk=printed.pk, area=area).first()
    if entered is None and not confirmed and (asked := _doubts(by, printed, readings, first_reading_at)):
        raise Asked(asked)
    by_whom = f", measured by {measured_by.strip()}" if measured_by.strip() else ""
    told = f"From printed sheet {printed.code}{by_whom}."
    try:
        record, new = record_thickness(
            by, id=printed.pk, project=sheet.project, area=area, coat=coat, gauge=gauge, profile_way=profile_way,
            correction_nm=correction_nm, profile_record=profile_record, unit=sheet.project.unit, readings=readings,
            first_reading_at=first_reading_at, last_reading_at=last_reading_at,
            note=f"{told} {note.strip()}" if note.strip() else told,
        )  # fmt: skip
    except Conflict:
        if entered is None:
            raise
        raise Conflict(entered_already(entered, printed)) from None
    if new:
        _tell_entered(by, printed, record)
    return record, new


@transaction.atomic
def record_by_id(
    by: Person, *, id: UUID, area: InspectionArea, coat: Coat,  # noqa: A002 - the sender's
    readings: Sequence[ReadingSent], first_reading_at: datetime, confirmed: bool, **sent: Any,
) -> tuple[ThicknessRecord, bool]:  # fmt: skip
    """Store a thickness record; where its id is that of a paper, what looks like a slip is asked as by its entry.

    Raises as `record_thickness`; Asked unless `confirmed`.
    """
    printed = PrintedArea.objects.visible_to(by).select_related("sheet__project", "area", "coat").filter(pk=id).first()
    if printed and (printed.area_id, printed.coat_id) != (area.pk, coat.pk):
        printed = None
    stored = ThicknessRecord.objects.filter(pk=id).exists()
    if printed and not stored and not confirmed and (asked := _doubts(by, printed, readings, first_reading_at)):
        raise Asked(asked)
    record, new = record_thickness(
        by, id=id, area=area, coat=coat, readings=readings, first_reading_at=first_reading_at, **sent
    )
    if printed and new:
        _tell_entered(by, printed, record)
    return record, new


def _tell_entered(by: Person, printed: PrintedArea, record: ThicknessRecord) -> None:
    journal.record(
        "printed_sheet.entered", printed.sheet, by=by, project_id=printed.sheet.project_id,
        after={"page": printed.number, "area": printed.area.label, "coat": printed.coat.name, "record": record.pk},
    )  # fmt: skip


def entered_already(record: ThicknessRecord, printed: PrintedArea) -> str:
    at = record.received_at.astimezone(record.project.zone)
    return (
        f"{printed.code} was entered already, by {record.by_name} at {at:%Y-%m-%d %H:%M}, with other content. Nothing "
        "was changed: look at that record, and correct it if it is wrong."
    )


def _doubts(by: Person, printed: PrintedArea, readings: Sequence[ReadingSent], first: datetime) -> list[Fault]:
    """What looks like a slip: a sheet set aside, a time before it was printed, measured meanwhile, stored elsewhere."""
    sheet, zone = printed.sheet, printed.sheet.project.zone
    found = []
    if sheet.withdrawn_at:
        found.append(Fault(f"Sheet {sheet.code} was set aside: {sheet.withdrawn_why}"))
    if first < sheet.printed_at.replace(second=0, microsecond=0):
        told = f"{first.astimezone(zone):%Y-%m-%d %H:%M}", f"{sheet.printed_at.astimezone(zone):%Y-%m-%d %H:%M}"
        found.append(Fault(f"The first reading, {told[0]}, lies before the printing, {told[1]}.", "first_reading_at"))
    since = ThicknessRecord.objects.filter(
        area=printed.area_id, coat=printed.coat_id, taken_at__gte=sheet.printed_at
    ).current().exclude(purpose=Record.Purpose.INVESTIGATION).order_by("-taken_at").first()  # fmt: skip
    if since is not None:
        found.append(
            Fault(
                f"{printed.area.label} was measured after {printed.coat.name} since the sheet was printed, at "
                f"{since.taken_at.astimezone(zone):%Y-%m-%d %H:%M} by {since.by_name}. Both are kept; the one begun "
                "last stands."
            )
        )
    already = stored_already(
        by, project=sheet.project, area=printed.area, coat=printed.coat, readings=list(readings), apart_from=printed.pk
    )
    return found + [Fault(one.words) for one in already]
