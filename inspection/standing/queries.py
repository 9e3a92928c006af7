"""Gathering the facts that standings follow from, for many records in a bounded number of queries."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple, TypeVar, cast
from uuid import UUID

from django.db.models import Count

from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import names
from inspection.fieldwork.models import Reading, Record, RecordQuerySet, ThicknessRecord
from inspection.foundation.units import Unit
from inspection.instruments.models import GaugeIncident, Verification
from inspection.projects.models import Project
from inspection.standing import certified, profile_used
from inspection.standing.checks import NOTHING, Assumed, checks_of
from inspection.standing.judgement import Check, Facts, Incident, Judgement, judge
from inspection.standing.profile_used import Taken
from inspection.works.belonging import Moment, Shifts, Span

# Records read and judged at once. SQLite takes 32,766 values in one statement; this stays well below.
BATCH = 1000
UNKNOWN: Mapping[UUID, Check] = {}
T = TypeVar("T")


class Measured(NamedTuple):
    """What a standing needs of a record, in the order of COLUMNS."""

    pk: UUID
    project: UUID
    person: UUID
    gauge: UUID
    first_at: datetime
    last_at: datetime
    unit: str
    reading_count: int
    lowest_nm: int | None
    highest_nm: int | None
    correction_nm: int
    profile_way: str
    profile_record: UUID | None

    @property
    def taken(self) -> Taken | None:
        """The correction, where it was taken from a record."""
        profile = self.profile_record
        return Taken(self.pk, self.profile_way, self.correction_nm, profile) if profile else None

    def as_shown(self, nm: int | None) -> int | None:
        """The thickness as the gauge showed it: a gauge's range knows nothing of what is subtracted afterwards."""
        return None if nm is None else nm + self.correction_nm

    def is_covered_by(self, checks: Iterable[Check]) -> bool:
        ends = [nm for nm in (self.as_shown(self.lowest_nm), self.as_shown(self.highest_nm)) if nm is not None]
        return all(check.covers(nm) for check in checks for nm in ends)


COLUMNS = (
    "pk", "project", "taken_by", "gauge", "taken_at", "ended_at", "unit", "reading_count", "lowest_nm",
    "highest_nm", "correction_nm", "profile_way", "profile_record",
)  # fmt: skip
OF_OTHER_KINDS = ("pk", "project", "taken_by", "gauge", "taken_at", "ended_at", "reading_count")
SUSPECT = "all that was measured since the last passing check is suspect (common practice, no source)"


def compute(
    record_ids: Iterable[UUID], at: datetime, assumed: Assumed = NOTHING, known: Mapping[UUID, Check] = UNKNOWN
) -> dict[UUID, Judgement]:
    """What the standing of each record is at the moment, from facts alone. Reads in batches, writes nothing.

    `assumed` are certified values taken as corrected already: what would the standings be then? `known` are checks
    judged so before.
    """
    found: dict[UUID, Judgement] = {}
    for batch in batches(list(record_ids)):
        found.update((facts.record, judge(facts, at)) for facts in gather(batch, assumed, known))
        others = [pk for pk in batch if pk not in found]
        if others:
            found.update(certified.judged(others))
    return found


def relied_on() -> RecordQuerySet:
    """The records that have a standing, by the row that all kinds have."""
    kinds = names(Reliance.CERTIFIED, Reliance.CHECKED, Reliance.SEEN)
    return cast("RecordQuerySet", Record.objects.filter(kind__in=kinds))


def batches(items: Sequence[T], size: int = BATCH) -> Iterator[Sequence[T]]:
    for start in range(0, len(items), size):
        yield items[start : start + size]


def gather(
    record_ids: Sequence[UUID], assumed: Assumed = NOTHING, known: Mapping[UUID, Check] = UNKNOWN
) -> Iterator[Facts]:
    """The facts about these records, in a number of queries that does not grow with them."""
    rows = ThicknessRecord.objects.filter(pk__in=record_ids).order_by("taken_at", "pk")
    thicknesses = [Measured(*row) for row in rows.values_list(*COLUMNS)]
    of_thickness = {record.pk for record in thicknesses}
    records = thicknesses + _of_other_kinds([pk for pk in record_ids if pk not in of_thickness])
    if not records:
        return
    projects = Project.objects.in_bulk({record.project for record in records})
    shifts = _shifts(records, projects)
    start, end = min(start for start, _ in shifts.values()), max(end for _, end in shifts.values())
    gauges = {record.gauge for record in records}
    checks = _timed(_checks(gauges, start, end, assumed, known))
    happened = GaugeIncident.objects.filter(gauge__in=gauges, at__gte=start, at__lt=end)
    incidents = _timed((gauge, Incident(at)) for gauge, at in happened.values_list("gauge", "at"))
    within = {record.pk: _during(checks[record.gauge], *shifts[record.pk]) for record in records}
    corrections = profile_used.doubts([record.taken for record in records if record.taken])
    values = _values([record.pk for record in records if not record.is_covered_by(within[record.pk])])
    for record in records:
        yield Facts(
            record=record.pk,
            first_at=record.first_at,
            last_at=record.last_at,
            shift_start=shifts[record.pk][0],
            shift_end=shifts[record.pk][1],
            zone=projects[record.project].zone,
            unit=Unit(record.unit),
            reading_count=record.reading_count,
            lowest_nm=record.as_shown(record.lowest_nm),
            highest_nm=record.as_shown(record.highest_nm),
            values=tuple(values.get(record.pk, ())),
            checks=tuple(within[record.pk]),
            incidents=tuple(_during(incidents[record.gauge], *shifts[record.pk])),
            correction=corrections.get(record.pk, ()),
            **({} if record.pk in of_thickness else {"suspect": SUSPECT}),
        )


def _of_other_kinds(record_ids: Sequence[UUID]) -> list[Measured]:
    """Those of the records whose instrument was to be checked on site before and after; they have no range to keep."""
    if not record_ids:
        return []
    rows = certified.between_checks().filter(pk__in=record_ids).order_by("taken_at", "pk")
    return [
        Measured(pk, project, person, gauge, first, last, Unit.UM.value, count, None, None, 0, "", None)
        for pk, project, person, gauge, first, last, count in rows.values_list(*OF_OTHER_KINDS)
    ]


def _shifts(records: Iterable[Measured], projects: dict[UUID, Project]) -> dict[UUID, Span]:
    """The shift of each record: that of whoever measured, when they began to."""
    began = {record.pk: Moment(record.project, record.person, record.first_at) for record in records}
    shifts = Shifts(projects, began.values())
    return {pk: shifts.of(moment) for pk, moment in began.items()}


def _checks(
    gauges: set[UUID], start: datetime, end: datetime, assumed: Assumed, known: Mapping[UUID, Check]
) -> Iterator[tuple[UUID, Check]]:
    found = list(
        Verification.objects.current()
        .filter(gauge__in=gauges, taken_at__gte=start, taken_at__lt=end)
        .select_related("gauge", "project")
        .defer("inputs", "result", "note")
    )
    checks = {**known, **checks_of([check for check in found if check.pk not in known], assumed)}
    return ((verification.gauge_id, checks[verification.pk]) for verification in found)


def _timed(pairs: Iterable[tuple[UUID, T]]) -> dict[UUID, list[T]]:
    """What happened to each gauge, in order of time."""
    by_gauge: dict[UUID, list[T]] = defaultdict(list)
    for gauge, event in pairs:
        by_gauge[gauge].append(event)
    for events in by_gauge.values():
        events.sort(key=lambda event: event.at)  # type: ignore[attr-defined]  # every event has a moment
    return by_gauge


def _during(events: Sequence[T], start: datetime, end: datetime) -> Sequence[T]:
    def when(event: T) -> datetime:
        return event.at  # type: ignore[attr-defined, no-any-return]  # every event has a moment

    return events[bisect_left(events, start, key=when) : bisect_left(events, end, key=when)]


def _values(records: Sequence[UUID]) -> dict[UUID, list[tuple[int, int]]]:
    """How often each value was read, of the few records with readings outside what a check covered."""
    found: dict[UUID, list[tuple[int, int]]] = defaultdict(list)
    if records:
        rows = Reading.objects.filter(record__in=records, void_reason="").order_by()
        for record, value, many in rows.values_list("record", "value_nm").annotate(Count("pk")):
            found[record].append((value, many))
    return found
