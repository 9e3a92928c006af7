"""Every read of the field room. Each starts from what the person may see, in a number of queries that stays put."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from operator import itemgetter
from typing import Any, cast
from uuid import UUID

from django.db.models import (
    F,
    QuerySet,
    Value,
)

from accounts.models import JournalEntry, Person
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import (
    PUT_RIGHT,
    ClimateRecord,
    Reading,
    Record,
    RecordQuerySet,
    Sheet,
    ThicknessRecord,
)
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.instruments import overdue
from inspection.instruments.models import Gauge, InstrumentRules, Verification
from inspection.projects.models import Coat, InspectionArea, Project

MOST_OTHERS = 5
MOST_ALREADY = 5
# As many as a list to choose from stays readable with; the area chosen first narrows it.
MOST_PROFILES = 50
# Fewer readings may well agree by chance with those of another place; our own limit.
FEWEST_ELSEWHERE = 5


def open_projects(person: Person) -> QuerySet[Project]:
    return Project.objects.visible_to(person).filter(closed_at=None)


def thickness_records(person: Person) -> RecordQuerySet:
    """With what a list shows of each record, its standing and newer version among it."""
    return seen_of_kind(person, ThicknessRecord)


def records_seen(person: Person) -> RecordQuerySet:
    """Records of every kind, by the row that all have."""
    return cast("RecordQuerySet", _with_named(Record.objects.visible_to(person)))


def seen_of_kind(person: Person, model: type[Record], *, light: bool = True) -> RecordQuerySet:
    """Records of one kind, with what a list or a page shows of each; `light` without what the rule was told."""
    found = _with_named(model._default_manager.visible_to(person))  # type: ignore[attr-defined]  # every kind is OfProject
    if model is ClimateRecord:
        found = found.select_related("station")
    return cast("RecordQuerySet", found.defer("inputs", "result") if light else found)


def _with_named(records: Any) -> Any:
    return records.select_related(
        "project", "area__system", "coat__system", "gauge", "taken_by", "standing", "replaced_by"
    )


def profiles_to_take_from(project: Project, area: InspectionArea | None) -> RecordQuerySet:
    """The surface profile records whose correction a measurement can take: those that no correction replaced, newest
    first, of the area where it is known, and else the newest few of the project."""
    of_project = ProfileRecord.objects.filter(project=project).current()
    wanted = of_project.filter(area=area) if area else of_project
    newest = wanted.newest_first().values("pk")[:MOST_PROFILES]
    found = ProfileRecord.objects.filter(pk__in=list(newest.values_list("pk", flat=True)))
    return found.select_related("project", "area__structure").newest_first()


def readings_of(record: ThicknessRecord) -> list[ReadingSent]:
    """All readings of a record, voided ones among them, by spot and order."""
    columns = ("spot", "order", "value_nm", "taken_at", "void_reason")
    rows = Reading.objects.filter(record=record).order_by("spot", "order").values_list(*columns)
    return [ReadingSent(*row) for row in rows]


def readings_of_records(records: Any) -> QuerySet[Reading]:
    """The readings of these records (ids, or a query of ids), record by record, by spot and order."""
    return Reading.objects.filter(record__in=records).order_by("record", "spot", "order")


def versions_of(record: Record) -> list[Any]:
    """Every version of the record, oldest first, itself among them; empty when there is only one."""
    manager = Record.objects
    first: Any = record
    while first.replaces_id:
        first = manager.select_related("taken_by").get(pk=first.replaces_id)
    chain = [first]
    while newer := manager.select_related("taken_by").filter(replaces=chain[-1]).first():
        chain.append(newer)
    return chain if len(chain) > 1 else []


def others_of_same_place(person: Person, record: ThicknessRecord) -> RecordQuerySet:
    """Newest first, the other records of the same area after the same coat: measured again, or by two at once."""
    others = thickness_records(person).of_place(record.area_id, record.coat_id)
    return others.exclude(pk=record.pk)[:MOST_OTHERS]


@dataclass(frozen=True)
class StoredAlready:
    """A record that holds the same file, or else the same readings, as something about to be stored."""

    record: ThicknessRecord
    same_file: bool

    @property
    def words(self) -> str:
        at = self.record.taken_at.astimezone(self.record.project.zone)
        what = "file is" if self.same_file else "readings are"
        return (
            f"The same {what} stored already: {self.record.area.label} after {self.record.coat.name}, "
            f"{at:%Y-%m-%d %H:%M}, by {self.record.by_name}."
        )


def stored_already(
    person: Person, *, project: Project, area: InspectionArea, coat: Coat, readings: Sequence[ReadingSent],
    file_digest: str = "", corrects: ThicknessRecord | None = None, apart_from: UUID | None = None,
) -> list[StoredAlready]:  # fmt: skip
    """What the person may see of the same file, and in this project of the same readings in their order; newest first.

    A correction is expected to repeat the versions before it, so those are passed over.
    """
    past = {row.pk for row in versions_of(corrects)} | {corrects.pk} if corrects else set()
    records = thickness_records(person).exclude(pk__in=past | ({apart_from} if apart_from else set()))
    of_file = list(records.filter(file__digest=file_digest)[:MOST_ALREADY]) if file_digest else []
    alike = _alike(records, project, readings)
    if len(readings) < FEWEST_ELSEWHERE:
        alike = alike.filter(area=area, coat=coat)
    candidates = list(alike.exclude(pk__in=[row.pk for row in of_file])[:MOST_ALREADY])
    wanted = [reading.value_nm for reading in sorted(readings, key=itemgetter(0, 1))]
    # One query for each of so few, which spares telling their thousands of readings apart.
    stored = Reading.objects.order_by("spot", "order").values_list("value_nm", flat=True)
    same = [StoredAlready(row, same_file=False) for row in candidates if list(stored.filter(record=row)) == wanted]
    return [*(StoredAlready(row, same_file=True) for row in of_file), *same]


def _alike(records: RecordQuerySet, project: Project, readings: Sequence[ReadingSent]) -> RecordQuerySet:
    """As many readings that count, between the same two as the gauge showed them."""
    counting = [reading.value_nm for reading in readings if not reading.void_reason]
    if not counting:
        return records.none()
    return records.filter(
        project=project, reading_count=len(counting), lowest_nm=Value(min(counting)) - F("correction_nm"),
        highest_nm=Value(max(counting)) - F("correction_nm"),
    )  # fmt: skip


def others_measuring(sheet: Sheet) -> list[str]:
    """Who else has an open sheet for the same area and coat; a second one of the same person is none of these."""
    others = Sheet.objects.filter(area=sheet.area_id, coat=sheet.coat_id, closed_at=None)
    others = others.exclude(person=sheet.person_id)
    return list(others.order_by("person__name").values_list("person__name", flat=True).distinct())


def another_of_ones_own(sheet: Sheet) -> Sheet | None:
    """An open sheet that the same person began for the same area and coat, the newest one."""
    same = Sheet.objects.filter(area=sheet.area_id, coat=sheet.coat_id, person=sheet.person_id, closed_at=None)
    return same.exclude(pk=sheet.pk).order_by("-begun_at").first()


def sheet_readings(sheet: Sheet) -> list[ReadingSent]:
    return [ReadingSent(r.spot, r.order, r.value_nm, r.taken_at, r.void_reason) for r in sheet.readings.all()]


@dataclass(frozen=True)
class Slip:
    """A typing slip put right at once on the sheet: neither a voided reading nor a repeat."""

    spot: int
    order: int
    typed_nm: int
    meant_nm: int
    at: datetime


def slips_of(sheet: UUID) -> list[Slip]:
    """The typing slips put right on a sheet, or on that which became the record of this id, oldest first."""
    entries = JournalEntry.objects.filter(object_type=Sheet._meta.label_lower, object_id=str(sheet), verb=PUT_RIGHT)
    rows: Iterable[tuple[Any, Any, datetime]] = entries.order_by("pk").values_list("before", "after", "at")
    return [
        Slip(before["spot"], before["reading"], before["value_nm"], after["value_nm"], at) for before, after, at in rows
    ]


def thickness_gauges(person: Person) -> QuerySet[Gauge]:
    return gauges_in_use(person).filter(kind=Gauge.Kind.THICKNESS)


def gauges_in_use(person: Person) -> QuerySet[Gauge]:
    return Gauge.objects.visible_to(person).exclude(state=Gauge.State.RETIRED)


def last_checks(
    gauges: Iterable[Gauge], start: datetime, end: datetime, *, ending: bool = False
) -> dict[UUID, Verification]:
    """The newest check of each gauge in the stretch of time, with its last moment if `ending`; absent without one."""
    until = {"taken_at__lte" if ending else "taken_at__lt": end}
    rows = Verification.objects.current().filter(gauge__in=list(gauges), taken_at__gte=start, **until)
    rows = rows.select_related("gauge").order_by("taken_at").defer("inputs", "result")
    return {row.gauge_id: row for row in rows}


@dataclass(frozen=True)
class RunOut:
    """What had run out on a day, in words, and whether the company lets work begin all the same."""

    of_gauges: dict[UUID, str]
    of_person: list[str]
    warns: bool

    def __bool__(self) -> bool:
        return bool(self.of_gauges or self.of_person)


def run_out(person: Person, gauges: Iterable[Gauge], day: date, project: Project) -> RunOut:
    """What the person, about to begin work on the project with one of the gauges, is told beforehand."""
    of_person = overdue.of_person(person, day, project)
    return RunOut(overdue.of_things(day, gauges), of_person, InstrumentRules.now().warns)
