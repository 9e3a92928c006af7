"""What is to be put right in the course of the work: opened by a record or a person, done, looked at, closed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.db import transaction

from accounts import journal
from accounts.models import Person
from accounts.rights import require
from inspection.fieldwork.kinds import BY_NAME, KINDS
from inspection.fieldwork.models import Record
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.text import line
from inspection.nonconformance import rework
from inspection.nonconformance.actions.raising import text_of
from inspection.nonconformance.models import ReworkEntry, ReworkItem
from inspection.projects.models import Coat, InspectionArea
from inspection.projects.preconditions import in_sight, in_time

Kind, State = ReworkEntry.Kind, ReworkItem.State
LEAVE_SOMETHING = [kind.name for kind in KINDS if kind.to_mend]
CORRECTED = "The record that opened it was corrected and no longer names this place."
LONGEST = 200


@transaction.atomic
def open_item(
    by: Person, *, id: UUID, area: InspectionArea, coat: Coat | None = None, what: str, place: str,  # noqa: A002 - the item's own name for it, as in the API
) -> tuple[ReworkItem, bool]:  # fmt: skip
    """Open one for what somebody saw; True when it is new. The same content under the same id answers with the stored.

    Raises Refused naming the field, Conflict for other content under a used id.
    """
    require(by, *rework.WORKERS, to="open an item of rework")
    in_sight(by, area, *([coat] if coat else []))
    if coat and coat.system.project_id != area.structure.project_id:
        raise Refused(f"{coat.name} is no coat of this project.", field="coat")
    said = {
        "area": area, "coat": coat, "what": line(what, field="what", most=LONGEST),
        "place": line(place, field="place", most=LONGEST),
    }  # fmt: skip
    stored = ReworkItem.objects.filter(pk=id).first()
    if stored is not None:
        seen = ReworkItem.objects.visible_to(by).filter(pk=id, opened_by=by, record=None, **said).exists()
        if not seen:
            raise Conflict(Fault("This id is used already. Nothing was changed: send it under another.", "id"))
        return stored, False
    item = ReworkItem.objects.create(id=id, project=area.structure.project, opened_by=by, **said)
    _tell_opened(by, item)
    return item, True


def follow_records(by: Person | None, records: Collection[UUID]) -> None:
    """Open an item for each place that these records leave to be put right; a correction drops what it no longer names.

    Within the transaction of the action that stored them. What was done already stays as it is.
    """
    if not records or not LEAVE_SOMETHING:
        return
    rows = Record.objects.filter(pk__in=list(records), kind__in=LEAVE_SOMETHING, replaced_by=None).order_by("pk")
    for row in rows.select_related("project", "taken_by"):
        kind = BY_NAME[row.kind]
        record = kind.model._default_manager.select_related("project", "area", "coat", "taken_by").get(pk=row.pk)  # type: ignore[attr-defined]  # every kind has one
        _follow(by or row.taken_by, record)


def _follow(by: Person, record: Record) -> None:
    to_mend = BY_NAME[record.kind].to_mend
    wanted = Counter((each.what, each.place) for each in (to_mend(record) if to_mend else ()))
    InspectionArea.objects.select_for_update(no_key=True).get(pk=record.area_id)
    for item in ReworkItem.objects.filter(record__in=rework.versions_upto(record)).order_by("opened_at", "pk"):
        of_record = (item.area_id, item.coat_id) == (record.area_id, record.coat_id)
        if item.state == State.DROPPED and not _dropped_by_hand(item):
            continue
        if of_record and wanted[item.what, item.place]:
            wanted[item.what, item.place] -= 1
        elif item.state == State.OPEN:
            _add(None, item, Kind.DROPPED, "rework_item.dropped", text=CORRECTED)
    for what, place in wanted.elements():
        item = ReworkItem.objects.create(
            project=record.project, area=record.area, coat=record.coat, what=what, place=place, record_id=record.pk,
            opened_by=by,
        )  # fmt: skip
        _tell_opened(by, item)


def _dropped_by_hand(item: ReworkItem) -> bool:
    return any(entry.kind == Kind.DROPPED and entry.person_id for entry in rework.in_force(item))


def _tell_opened(by: Person, item: ReworkItem) -> None:
    told = {"area": item.area.label, "what": item.what, "place": item.place, "record": item.record_id}
    journal.record("rework_item.opened", item, by=by, project_id=item.project_id, after=told)


@transaction.atomic
def mark_done(by: Person, *, item: ReworkItem, what: str, done_by: str, done_at: datetime) -> ReworkEntry:
    """Say what was done, by whom and when; the same again answers with what is stored. Another person then looks."""
    require(by, *rework.WORKERS, to="say what was done about an item of rework")
    locked = _held(by, item)
    what, done_by = text_of(what, "what"), line(done_by, field="done_by", most=LONGEST)
    if not what:
        raise Refused("Say what was done.", field="what")
    if faults := in_time(done_at, "done_at"):
        raise Refused(faults)
    if locked.record and done_at < locked.record.taken_at:
        began = f"{locked.record.taken_at.astimezone(locked.project.zone):%Y-%m-%d %H:%M}"
        raise Refused(f"It was found at {began}; what puts it right was done after that.", field="done_at")
    said = {"text": what, "done_by": done_by, "done_at": done_at}
    if stored := next((row for row in rework.in_force(locked) if _says(row, Kind.DONE, said)), None):
        return stored
    _refuse_unless(locked, State.OPEN)
    return _add(by, locked, Kind.DONE, "rework_item.done", **said)


def _says(row: ReworkEntry, kind: str, said: dict[str, object]) -> bool:
    return row.kind == kind and all(getattr(row, name) == value for name, value in said.items())


@transaction.atomic
def look_at(by: Person, *, item: ReworkItem, in_order: bool, note: str = "") -> ReworkEntry:
    """Say whether what was done is in order: it closes, or is open again. By another than who entered it."""
    require(by, *rework.WORKERS, to="look at rework that was done")
    locked = _held(by, item)
    note = text_of(note, "note")
    if not in_order and not note:
        raise Refused("Say what is not in order.", field="note")
    _refuse_unless(locked, State.DONE)
    done = rework.last_done(rework.in_force(locked))
    if done is not None and done.person_id == by.pk:
        raise Refused("Another person looks at it than the one who entered it as done.")
    kind, verb = (Kind.RIGHT, "closed") if in_order else (Kind.NOT_RIGHT, "not_in_order")
    return _add(by, locked, kind, f"rework_item.{verb}", text=note)


@transaction.atomic
def drop_item(by: Person, *, item: ReworkItem, reason: str) -> ReworkEntry:
    """Say why it is not to be done: opened by mistake, or part of something else."""
    require(by, *rework.WORKERS, to="drop an item of rework")
    locked = _held(by, item)
    reason = text_of(reason, "reason")
    if not reason:
        raise Refused("Say why it is not to be done.", field="reason")
    _refuse_unless(locked, State.OPEN, State.DONE)
    return _add(by, locked, Kind.DROPPED, "rework_item.dropped", text=reason)


@transaction.atomic
def take_entry_back(by: Person, *, entry: ReworkEntry, reason: str) -> ReworkEntry:
    """Say that an entry was wrong, with a reason; both stay readable, and the item is judged without it."""
    locked = _held(by, entry.item)
    fresh = ReworkEntry.objects.select_related("withdrawn_by", "item").get(pk=entry.pk)
    if not rework.may_take_back(by, fresh):
        raise NotAllowed("Only those who may make such an entry may take it back.")
    reason = text_of(reason, "reason")
    if not reason:
        raise Refused("Say why it is taken back; both stay readable.", field="reason")
    if hasattr(fresh, "withdrawn_by"):
        raise Conflict("It was taken back already.")
    return _add(by, locked, Kind.WITHDRAWAL, "rework_item.taken_back", text=reason, withdraws=fresh)


def _held(by: Person, item: ReworkItem) -> ReworkItem:
    in_sight(by, item)
    rows = ReworkItem.objects.select_related("project", "area", "record").select_for_update(of=("self",))
    return rows.get(pk=item.pk)


def _refuse_unless(locked: ReworkItem, *states: ReworkItem.State) -> None:
    if locked.state not in states:
        raise Conflict(f"It is {locked.get_state_display().lower()} now; look at it again.")


def _add(by: Person | None, locked: ReworkItem, kind: str, verb: str, **said: object) -> ReworkEntry:
    """Store the entry, let the item be what its entries now say, and journal both."""
    entry = ReworkEntry.objects.create(item=locked, kind=kind, person=by, **said)
    before, locked.state = locked.state, rework.state_by(rework.in_force(locked))
    locked.save(update_fields=["state"])
    journal.record(
        verb, locked, by=by, project_id=locked.project_id, before={"state": before},
        after={"state": locked.state, "entry": entry.pk}, reason=entry.text,
    )  # fmt: skip
    return entry
