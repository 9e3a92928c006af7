"""Correcting a thickness record by the cells that change: the rest is taken from the record as it stands."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.db.models import Q

from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork import queries
from inspection.fieldwork.actions.thickness import record_thickness
from inspection.fieldwork.grid import MOST_CHANGES, Changes, changed, differences, doubts
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.foundation.units import Unit
from inspection.projects.preconditions import in_sight


@transaction.atomic
def correct_cells(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - the record's own name for it, in every action and in the API
    record: ThicknessRecord,
    changes: Changes,
    reason: str,
    source: str = ThicknessRecord.Source.PAGE,
    ask: bool = True,
) -> tuple[ThicknessRecord, bool]:
    """Store a new version of the record with the changed readings; True when it is new.

    Area, coat, gauge, times, profile and note are those of the record; a file is not taken along, since it does not
    hold these readings. The same sent again answers with what was stored. Raises Refused naming spot and reading,
    Asked for what is doubtful unless `ask` is False, Conflict where the record was corrected meanwhile, NotAllowed
    and Http404.
    """
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="record thickness")
    in_sight(by, record)
    if len(changes) > MOST_CHANGES:
        raise Refused(f"Change at most {MOST_CHANGES} readings at once; these are {len(changes)}.", field="changes")
    readings = queries.readings_of(record)
    found = differences(readings, changes)
    if not found:
        raise Refused("Nothing is changed: every reading is as it is stored.", field="changes")
    then = changed(readings, changes)
    # Stored already, or corrected by somebody else: told as such, and not asked before.
    settled = Record.objects.filter(Q(pk=id) | Q(replaces=record)).exists()
    if ask and not settled and (asked := doubts(found, then, Unit(record.unit))):
        raise Asked(asked)
    try:
        return record_thickness(
            by, id=id, project=record.project, area=record.area, coat=record.coat, gauge=record.gauge,
            profile_way=record.profile_way, correction_nm=record.correction_nm, profile_record=record.profile_record,
            unit=record.unit, readings=then, first_reading_at=record.first_reading_at,
            last_reading_at=record.last_reading_at, note=record.note, source=source, replaces=record,
            replacement_reason=reason,
        )  # fmt: skip
    except Refused as refusal:
        # The rows are those of all readings, which whoever changed some of them did not count.
        raise type(refusal)(_by_place(fault, then) for fault in refusal.faults) from refusal


def _by_place(fault: Fault, readings: list[ReadingSent]) -> Fault:
    if fault.row is None:
        return fault
    reading = readings[fault.row - 1]
    return Fault(f"Spot {reading.spot}, reading {reading.order}: {fault.message}", "changes")
