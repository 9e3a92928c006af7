"""Every read of the field room. Each starts from what the person may see, in a number of queries that stays put."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, cast
from uuid import UUID

from django.db.models import (
    Case,
    Count,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    UUIDField,
    Value,
    When,
    Window,
)
from django.db.models.functions import RowNumber

from accounts.models import JournalEntry, Person
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import (
    PUT_RIGHT,
    ClimateRecord,
    Latest,
    Reading,
    Record,
    RecordQuerySet,
    Sheet,
    ThicknessRecord,
)
from inspection.instruments import doubt, overdue
from inspection.instruments.models import Gauge, InstrumentRules, Verification
from inspection.projects.models import Coat, InspectionArea, Project

MOST_OTHERS = 5
MOST_ALREADY = 5
# Fewer readings may well agree by chance with those of another place; our own limit.
FEWEST_ELSEWHERE = 5
MOST_NEXT = 6
MOST_OF_DAY = 15


def open_projects(person: Person) -> QuerySet[Project]:
    return Project.objects.visible_to(person).filter(closed_at=None)


def thickness_records(person: Person) -> RecordQuerySet:
    """With what a list shows of each record, its standing and newer version among it."""
    found = ThicknessRecord.objects.visible_to(person).select_related(
        "project", "area", "coat", "gauge", "taken_by", "standing", "replaced_by"
    )
    return cast("RecordQuerySet", found.defer("inputs", "result"))


def climate_records(person: Person) -> RecordQuerySet:
    found = ClimateRecord.objects.visible_to(person)
    return cast("RecordQuerySet", found.select_related("project", "area", "coat", "gauge", "taken_by", "replaced_by"))


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
    wanted = [reading.value_nm for reading in sorted(readings, key=lambda reading: reading[:2])]
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
    gauges = Gauge.objects.visible_to(person).filter(kind=Gauge.Kind.THICKNESS)
    return gauges.exclude(state=Gauge.State.RETIRED)


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


# --- today ------------------------------------------------------------------------------------------------------------
@dataclass
class GaugeToday:
    gauge: Gauge
    check: Verification | None
    run_out: str = ""
    reported: str = ""


@dataclass
class ProjectToday:
    """What an inspector comes for in the morning and goes on with during the day, of one project."""

    project: Project
    day: date
    sheets: list[Sheet] = field(default_factory=list)
    gauges: list[GaugeToday] = field(default_factory=list)
    thickness: list[ThicknessRecord] = field(default_factory=list)
    climate: list[ClimateRecord] = field(default_factory=list)
    thickness_count: int = 0
    climate_count: int = 0
    next: list[AreaNext] = field(default_factory=list)
    # How many areas want measuring, those not shown among them.
    wanting: int = 0
    run_out: RunOut | None = None


@dataclass
class AreaNext:
    area: InspectionArea
    coat: Coat
    why: str
    record: UUID | None
    # How many areas of its project want measuring.
    of: int


def today(person: Person, at: datetime, of: Iterable[Project] | None = None) -> list[ProjectToday]:
    """The day of each open project, or of those given; of its records the newest, and how many there are."""
    asked = open_projects(person) if of is None else of
    projects = {project.pk: project for project in asked}
    found = {pk: ProjectToday(project, project.day_of(at)) for pk, project in projects.items()}
    if not projects:
        return []
    for sheet in _own_sheets(person):
        if sheet.project_id in found:
            found[sheet.project_id].sheets.append(sheet)
    today_of = _within([(pk, *project.day_bounds(found[pk].day)) for pk, project in projects.items()])
    for thickness in _newest_of_each(thickness_records(person).current().filter(today_of)):
        item = found[thickness.project_id]
        item.thickness.append(thickness)
        item.thickness_count = thickness.count
    for climate in _newest_of_each(climate_records(person).current().filter(today_of)):
        item = found[climate.project_id]
        item.climate.append(climate)
        item.climate_count = climate.count
    for area in _areas_next(list(projects)):
        item = found[area.area.structure.project_id]
        item.next.append(area)
        item.wanting = area.of
    _add_gauges(person, list(found.values()), at)
    return list(found.values())


def _newest_of_each(records: RecordQuerySet) -> QuerySet[Any]:
    """The newest records of each project, with the `count` of all that the project has among them."""
    newest = Window(RowNumber(), partition_by=F("project"), order_by=[F("taken_at").desc(), F("pk").desc()])
    numbered = records.annotate(place=newest, count=Window(Count("*"), partition_by=F("project")))
    return cast("QuerySet[Any]", numbered.filter(place__lte=MOST_OF_DAY))


def _within(spans: Sequence[tuple[UUID, datetime, datetime]]) -> Q:
    wanted = Q(pk=None)
    for project, start, end in spans:
        wanted |= Q(project=project, taken_at__gte=start, taken_at__lt=end)
    return wanted


def _own_sheets(person: Person) -> QuerySet[Sheet]:
    sheets = Sheet.objects.visible_to(person).filter(person=person, closed_at=None)
    sheets = sheets.select_related("project", "area", "coat", "gauge").annotate(noted=Count("readings"))
    return cast("QuerySet[Sheet]", sheets)


def _add_gauges(person: Person, shown: list[ProjectToday], at: datetime) -> None:
    """The gauges in the person's hands, each with its newest check of the project's shift."""
    gauges = list(thickness_gauges(person).filter(holder=person))
    shifts = [item.project.shift_of(at) for item in shown]
    # The day is one or, around midnight or across zones, two; never as many as there are projects.
    by_day = {day: overdue.of_things(day, gauges) for day in {item.day for item in shown}}
    papers, warns = overdue.PersonsPapers(person), InstrumentRules.now().warns
    for item in shown:
        item.run_out = RunOut(by_day[item.day], papers.against(item.day, item.project), warns)
    if not gauges:
        return
    start, end = min(start for start, _ in shifts), max(end for _, end in shifts)
    reported = doubt.reported(gauges)
    rows = Verification.objects.current().filter(gauge__in=gauges, taken_at__gte=start, taken_at__lt=end)
    checks = list(rows.order_by("-taken_at").defer("inputs", "result"))
    for item, (begin, finish) in zip(shown, shifts, strict=True):
        for gauge in gauges:
            of_shift = (row for row in checks if row.gauge_id == gauge.pk and begin <= row.taken_at < finish)
            words = by_day[item.day].get(gauge.pk, "")
            found = reported.get(gauge.pk)
            told = doubt.in_words(found.at, found.what, item.project.zone) if found else ""
            item.gauges.append(GaugeToday(gauge, next(of_shift, None), words, told))


def _areas_next(projects: list[UUID]) -> list[AreaNext]:
    """Of each project the first areas that want measuring: failing, short of readings, coat to come, not begun."""
    last = Latest.objects.filter(area=OuterRef("pk"), kind=ThicknessRecord.KIND).order_by("-coat__order")
    coats = Coat.objects.filter(system=OuterRef("system")).order_by("-order")
    areas = (
        InspectionArea.objects.filter(structure__project__in=projects)
        .annotate(
            last_record=Subquery(last.values("record")[:1], output_field=UUIDField()),
            last_verdict=Subquery(last.values("record__verdict")[:1]),
            last_order=Subquery(last.values("coat__order")[:1]),
            last_coat=Subquery(coats.values("order")[:1]),
        )
        .exclude(last_coat=None)
        # Written as what stays: a condition on what is absent is neither true nor false in SQL.
        .filter(Q(last_verdict=None) | ~Q(last_verdict="pass") | Q(last_order__lt=F("last_coat")))
        .annotate(
            urgency=Case(
                When(last_verdict="fail", then=Value(0)),
                When(last_verdict="incomplete", then=Value(1)),
                When(last_verdict="pass", then=Value(2)),
                default=Value(3),
                output_field=IntegerField(),
            )
        )
        .annotate(
            place=Window(
                RowNumber(), partition_by=[F("structure__project")], order_by=[F("urgency").asc(), F("code").asc()]
            ),
            of=Window(Count("pk"), partition_by=[F("structure__project")]),
        )
        .filter(place__lte=MOST_NEXT)
        .select_related("structure")
        .prefetch_related("system__coats")
    )
    return [_area_next(area) for area in sorted(areas, key=lambda area: area.place)]


def _area_next(area: Any) -> AreaNext:
    coats = {coat.order: coat for coat in area.system.coats.all()}
    if area.last_verdict is None:
        return AreaNext(area, coats[min(coats)], "not measured yet", None, area.of)
    if area.last_verdict == "pass":
        order = min(order for order in coats if order > area.last_order)
        return AreaNext(area, coats[order], f"{coats[area.last_order].name} passed", area.last_record, area.of)
    why = {"fail": "failed: repair and measure again", "not judged": "its rule does not reach this thickness"}
    words = why.get(area.last_verdict, "more readings wanted")
    return AreaNext(area, coats[area.last_order], words, area.last_record, area.of)
