"""Which witness points had passed by a moment, such as a day's end: the rule of `Evidence.why_not`, asked of then."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Q

from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import ClimateRecord, Record, ThicknessRecord
from inspection.holdpoints.evidence import Evidence, Required
from inspection.holdpoints.models import HoldPoint, Requirement
from inspection.nonconformance.models import Nonconformance
from inspection.nonconformance.settling import by_place
from inspection.standing.models import Standing

Places = dict[tuple[UUID, UUID | None, str], list[Any]]
State = Nonconformance.State


def passed_by(points: Iterable[HoldPoint], at: datetime) -> set[UUID]:
    """Those of the points, all of them undecided then, that had passed: with records begun before it, as known now.

    Three queries and one a kind of record, of however many points. Only points of lines pass without a word.
    """
    asked = [point for point in points if point.kind == HoldPoint.Kind.WITNESS and point.line_id]
    if not asked:
        return set()
    needs: dict[UUID, list[Requirement]] = defaultdict(list)
    for row in Requirement.objects.filter(point__in=asked):
        needs[row.point_id].append(row)
    records = _records(asked, {row.kind for rows in needs.values() for row in rows}, at)
    open_then = _open_at(asked, at)
    found = set()
    for point in asked:
        place: Any = (point.area_id, point.coat_id)
        evidence = _evidence(point, needs[point.pk], records, tuple(open_then.get(place, ())), at)
        presented = point.presented_at is not None and point.presented_at < at
        if evidence.releasable and (evidence.rests_on_records or presented):
            found.add(point.pk)
    return found


def _records(points: Sequence[HoldPoint], kinds: set[str], at: datetime) -> Places:
    """What counts of the places and was begun before the moment, newest first."""
    found: Places = defaultdict(list)
    for name in sorted(kinds | {ThicknessRecord.KIND}):
        manager: Any = BY_NAME[name].model._default_manager
        rows = manager.filter(area__in={point.area_id for point in points}, taken_at__lt=at).current().that_count()
        stations = ["station"] if name == ClimateRecord.KIND else []
        for row in rows.select_related("project", "standing", *stations).newest_first():
            found[row.area_id, row.coat_id, name].append(row)
    return found


def _open_at(points: Sequence[HoldPoint], at: datetime) -> Any:
    rows = Nonconformance.objects.filter(
        Q(closed_at=None, state=State.OPEN) | Q(closed_at__gte=at, state=State.CLOSED),
        area__in={point.area_id for point in points}, raised_at__lt=at,
    )  # fmt: skip
    return by_place(rows)


def _evidence(
    point: HoldPoint, needs: Sequence[Requirement], records: Places, raised: tuple[Nonconformance, ...], at: datetime
) -> Evidence:
    measured = records.get((point.area_id, point.coat_id, ThicknessRecord.KIND), [])
    record = measured[0] if measured else None
    required = [_required(point, need, records, at) for need in needs]
    return Evidence(
        point=point, record=record, standing=getattr(record, "standing", None), climate=(), verifications=(),
        nonconformances=raised, required=tuple(each for each in required if not each.of_measurement),
        wanted=next((each for each in required if each.of_measurement), None),
    )  # fmt: skip


def _required(point: HoldPoint, need: Requirement, records: Places, at: datetime) -> Required:
    rows = records.get((point.area_id, need.coat_id, need.kind), [])
    record = rows[0] if rows else None
    station = getattr(record, "station", None)
    holds = [span for span in (need.fresh_for, station.holds_for if station else None) if span is not None]
    return Required(
        BY_NAME[need.kind], record, getattr(record, "standing", None), None if point.measured else point.fresh_from,
        need.how_many, sum(_carries(point, row) for row in rows), min(holds, default=None), at,
    )  # fmt: skip


def _carries(point: HoldPoint, record: Record) -> bool:
    """Whether it is one of so many that are wanted, as `ground.required` counts them."""
    standing = getattr(record, "standing", None)
    state = standing.state if standing else None
    if record.kind == ThicknessRecord.KIND:
        if point.coat is not None and not point.coat.decides:
            return True
        reliable = state == Standing.State.SOUND or (
            state == Standing.State.PROVISIONAL and point.project.provisional_releases
        )
        return record.verdict == Record.Verdict.PASS and reliable
    stands = BY_NAME[record.kind].reliance == Reliance.NONE or state == Standing.State.SOUND
    return record.verdict == Record.Verdict.PASS and stands
