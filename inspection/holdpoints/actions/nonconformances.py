"""Nonconformances: raised by a failing measurement or by a person, repaired, closed by a passing measurement."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, Max, OuterRef
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.refusals import Conflict, Refused
from accounts.rights import require
from accounts.text import line
from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.models import HoldPoint, Nonconformance
from inspection.projects.checks import in_sight
from inspection.projects.models import Coat, InspectionArea, Project

MEASURED_AGAIN = "Measured again and passed."
LONGEST_TEXT = 4_000


@transaction.atomic
def raise_nonconformance(
    by: Person, *, area: InspectionArea, coat: Coat, title: str, description: str = ""
) -> Nonconformance:
    """Raise one that somebody saw. It holds back the hold points of the area and coat until it is closed."""
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="raise a nonconformance")
    in_sight(by, area, coat)
    if coat.system_id != area.system_id:
        raise Refused(f"{coat.name} is not a coat of the system on area {area.label}.", field="coat")
    title = line(title, field="title", most=200)
    return _raise(by, area=area, coat=coat, title=title, description=_text(description, "description"))


@transaction.atomic
def raise_for_lost_ground(by: Person, *, points: Iterable[HoldPoint], because: str) -> list[Nonconformance]:
    """Raise one for each area and coat whose release has lost what it stood on; one journal entry a project.

    The points come with area and coat loaded.
    """
    places = {(point.project_id, point.area_id, point.coat_id): point for point in points}
    raised: list[Nonconformance] = []
    for project_id, of_project in groupby(sorted(places), key=lambda place: place[0]):
        project = _hold_numbers(project_id)
        fallen = [places[place] for place in of_project]
        rows = [
            Nonconformance(
                project=project, number=number, area=point.area, coat=point.coat, description=because, raised_by=by,
                title=f"The release of {point.coat.name} on {point.area.label} lost its ground"[:200],
            )
            for number, point in enumerate(fallen, start=_last_number(project) + 1)
        ]  # fmt: skip
        raised += Nonconformance.objects.bulk_create(rows)
        after = {"numbers": [row.number for row in rows]}
        journal.record("nonconformance.raised", project, by=by, project_id=project.pk, after=after, reason=because)
    return raised


def close_regained_ground(by: Person, *, raised: Iterable[UUID], because: str) -> list[Nonconformance]:
    """Close those of a recall that was taken back, where nobody has recorded a repair and no release is in doubt."""
    doubted = HoldPoint.objects.filter(area=OuterRef("area"), coat=OuterRef("coat")).exclude(doubted_at=None)
    found = Nonconformance.objects.filter(
        ~Exists(doubted), pk__in=list(raised), state=Nonconformance.State.OPEN, repair=""
    )
    rows = list(found.select_related("project").select_for_update(of=("self",)).order_by("project", "number"))
    held = Nonconformance.objects.filter(pk__in=[row.pk for row in rows])
    held.update(state=Nonconformance.State.CLOSED, repair=because, closed_by=by, closed_at=timezone.now())
    for project, closed in groupby(rows, key=lambda row: row.project):
        after = {"numbers": [row.number for row in closed]}
        journal.record("nonconformance.closed", project, by=by, project_id=project.pk, after=after, reason=because)
    return rows


@transaction.atomic
def record_repair(by: Person, *, nonconformance: Nonconformance, repair: str) -> Nonconformance:
    """Say what was done. What was said before stays."""
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="record a repair")
    locked = _open_one(by, nonconformance)
    text = _text(repair, "repair")
    if not text:
        raise Refused("Say what was done.", field="repair")
    before = locked.repair
    locked.repair = "\n".join(part for part in (before, text) if part)
    locked.save(update_fields=["repair"])
    journal.record(
        "nonconformance.repaired", locked, by=by, project_id=locked.project_id, before={"repair": before},
        after={"repair": locked.repair},
    )  # fmt: skip
    return locked


@transaction.atomic
def close_nonconformance(
    by: Person, *, nonconformance: Nonconformance, record: ThicknessRecord | None = None
) -> Nonconformance:
    """Close it. One that a measurement raised closes with a passing one; any other by a quality manager, once repaired.

    Raises Refused saying what is missing.
    """
    locked = _open_one(by, nonconformance)
    if locked.record_id:
        require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="close a nonconformance")
        newest = _newest(locked.area_id, locked.coat_id)
        if record is not None and record != newest:
            raise Refused("Only the newest measurement of the area can close it.", field="record")
        if newest is None or newest.verdict != ThicknessRecord.Verdict.PASS:
            raise Refused("A measurement raised it; repair, measure the area again, and a passing one closes it.")
        return _close(by, locked, newest)
    require(by, Role.QUALITY_MANAGER, to="close a nonconformance that was not raised by a measurement")
    if not locked.repair:
        raise Refused("Record first what was done about it.", field="repair")
    return _close(by, locked, None)


@transaction.atomic
def follow_measurements(by: Person | None, records: Iterable[UUID]) -> None:
    """Raise one for each area whose new measurement fails; close those whose newest measurement passes."""
    judged = ThicknessRecord.objects.current().filter(
        pk__in=list(records), verdict__in=(ThicknessRecord.Verdict.FAIL, ThicknessRecord.Verdict.PASS)
    )
    for record in judged.select_related("project", "area", "coat").order_by("project", "taken_at", "pk"):
        _follow(by, record)


def _follow(by: Person | None, record: ThicknessRecord) -> None:
    # Two measurements of one area at once: the second waits here and sees what the first raised or closed.
    InspectionArea.objects.select_for_update(no_key=True).get(pk=record.area_id)
    rows = Nonconformance.objects.filter(area=record.area_id, coat=record.coat_id, state=Nonconformance.State.OPEN)
    raised = list(rows.exclude(record=None).order_by("number"))
    if record.verdict == ThicknessRecord.Verdict.FAIL and not raised:
        failed = [check["sentence"] for check in record.result.get("checks", ()) if check["passed"] is False]
        title = f"{record.coat.name} on {record.area.label} does not meet {record.coat.rule_name}"[:200]
        description = "\n".join(["Not kept:", *failed]) if failed else ""
        raised = [_raise(by, area=record.area, coat=record.coat, title=title, description=description, record=record)]
    newest = _newest(record.area_id, record.coat_id)
    if newest and newest.verdict == ThicknessRecord.Verdict.PASS:
        for nonconformance in raised:
            _close(by, nonconformance, newest)


def _newest(area: UUID, coat: UUID) -> ThicknessRecord | None:
    return ThicknessRecord.objects.of_place(area, coat).first()  # type: ignore[no-any-return]


def _raise(
    by: Person | None,
    *,
    area: InspectionArea,
    coat: Coat,
    title: str,
    description: str,
    record: ThicknessRecord | None = None,
) -> Nonconformance:
    project = _hold_numbers(area.structure.project_id)
    raised = Nonconformance.objects.create(
        project=project, number=_last_number(project) + 1, area=area, coat=coat, title=title[:200],
        description=description, record=record, raised_by=by,
    )  # fmt: skip
    journal.record(
        "nonconformance.raised", raised, by=by, project_id=project.pk,
        after={"area": area.label, "coat": coat.name, "record": record.pk if record else None},
    )  # fmt: skip
    return raised


def _close(by: Person | None, nonconformance: Nonconformance, record: ThicknessRecord | None) -> Nonconformance:
    nonconformance.state = Nonconformance.State.CLOSED
    nonconformance.repair = nonconformance.repair or MEASURED_AGAIN
    nonconformance.closed_by, nonconformance.closed_at = by, timezone.now()
    nonconformance.closing_record = record
    nonconformance.save(update_fields=["state", "repair", "closed_by", "closed_at", "closing_record"])
    journal.record(
        "nonconformance.closed", nonconformance, by=by, project_id=nonconformance.project_id,
        after={"record": record.pk if record else None, "repair": nonconformance.repair},
    )  # fmt: skip
    return nonconformance


def _hold_numbers(project: UUID) -> Project:
    """The project, held until the transaction ends, so that no number is given twice."""
    return Project.objects.select_for_update(no_key=True).get(pk=project)


def _last_number(project: Project) -> int:
    return Nonconformance.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0


def _open_one(by: Person, nonconformance: Nonconformance) -> Nonconformance:
    in_sight(by, nonconformance)
    locked = (
        Nonconformance.objects.select_for_update(of=("self",)).select_related("closed_by").get(pk=nonconformance.pk)
    )
    if locked.state == Nonconformance.State.CLOSED:
        who = locked.closed_by.name_at(locked.closed_at) if locked.closed_by and locked.closed_at else "The platform"
        raise Conflict(f"{who} closed it already, on {locked.closed_at:%Y-%m-%d %H:%M} UTC.")
    return locked


def _text(text: str, field: str) -> str:
    text = text.strip()
    if len(text) > LONGEST_TEXT or "\0" in text:
        raise Refused(f"Give at most {LONGEST_TEXT} plain characters.", field=field)
    return text
