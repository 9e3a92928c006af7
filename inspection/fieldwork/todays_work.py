"""What an inspector comes for in the morning and goes on with during the day, project by project."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, cast
from uuid import UUID

from django.db.models import (
    BooleanField,
    Case,
    CharField,
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
from django.db.models.functions import Coalesce, RowNumber

from accounts.models import Person
from inspection.fieldwork.judging import UNSPECIFIED
from inspection.fieldwork.kind import RecordKind
from inspection.fieldwork.kinds import KINDS
from inspection.fieldwork.models import ClimateRecord, Latest, Record, RecordQuerySet, Sheet, ThicknessRecord
from inspection.fieldwork.queries import RunOut, gauges_in_use, open_projects, seen_of_kind
from inspection.instruments import doubt, overdue
from inspection.instruments.models import Gauge, InstrumentRules, Verification
from inspection.instruments.site_checks import to_be_checked
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.projects.steps import stands_for_outer
from inspection.works.belonging import shifts_of
from inspection.works.lots.recoat import tonight
from inspection.works.lots.windows import Window as RecoatWindow
from inspection.works.paint.queries import MixNow, running
from inspection.works.queries import CrewNow, own_crews

MOST_NEXT = 6
MOST_OF_DAY = 15


@dataclass
class GaugeToday:
    gauge: Gauge
    check: Verification | None
    run_out: str = ""
    reported: str = ""


@dataclass
class OfKind:
    """The newest records of a kind that a day has, and how many there are."""

    kind: RecordKind
    newest: list[Record] = field(default_factory=list)
    many: int = 0


@dataclass
class ProjectToday:
    """What an inspector comes for in the morning and goes on with during the day, of one project."""

    project: Project
    day: date
    sheets: list[Sheet] = field(default_factory=list)
    gauges: list[GaugeToday] = field(default_factory=list)
    records: list[OfKind] = field(default_factory=list)
    next: list[AreaNext] = field(default_factory=list)
    # How many areas want measuring, those not shown among them.
    wanting: int = 0
    run_out: RunOut | None = None
    crew: CrewNow | None = None
    running: list[MixNow] = field(default_factory=list)
    windows: list[RecoatWindow] = field(default_factory=list)

    @property
    def not_recorded(self) -> list[RecordKind]:
        """The kinds of which nothing is recorded yet, without climate, of which the page says more."""
        return [each.kind for each in self.records if not each.newest and each.kind.model is not ClimateRecord]


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
    for kind in KINDS:
        of_kind = {pk: OfKind(kind) for pk in found}
        for record in _newest_of_each(seen_of_kind(person, kind.model).current().filter(today_of)):
            shown = of_kind[record.project_id]
            shown.newest.append(record)
            shown.many = record.count
        for pk, of_project in of_kind.items():
            found[pk].records.append(of_project)
    for area in _areas_next(list(projects)):
        item = found[area.area.structure.project_id]
        item.next.append(area)
        item.wanting = area.of
    for pk, crew in own_crews(person, found, at).items():
        found[pk].crew = crew
    for pk, mixes in running(person, found, at).items():
        found[pk].running = mixes
    for pk, windows in tonight(person, [each.project for each in found.values()], at).items():
        found[pk].windows = windows
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
    """The gauges in the person's hands, each with its newest check of the person's shift there."""
    gauges = list(gauges_in_use(person).filter(to_be_checked(at), holder=person))
    of_projects = shifts_of(person.pk, [item.project for item in shown], at)
    shifts = [of_projects[item.project.pk] for item in shown]
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
    # Of the coats it is to have now; what an area had under another system before says nothing of what is next.
    there = Latest.objects.filter(area=OuterRef("pk"), kind=ThicknessRecord.KIND)
    last = there.filter(coat__system=OuterRef("system")).order_by("-coat__order")
    # What it keeps of a former revision lies under all that is to come, and is done there or to be mended.
    kept = there.filter(coat__kept_on__area=OuterRef("pk"), coat__kept_on__system=OuterRef("system"))
    kept = kept.order_by("-coat__kept_on__number")
    coats = Coat.objects.filter(system=OuterRef("system")).order_by("-order")

    def newest(column: str, of: Any) -> Coalesce:
        return Coalesce(*(Subquery(rows.values(column)[:1], output_field=of) for rows in (last, kept)))

    areas = (
        InspectionArea.objects.in_use()
        .filter(structure__project__in=projects)
        .annotate(
            last_record=newest("record", UUIDField()),
            last_verdict=newest("record__verdict", CharField()),
            measured_after=newest("coat", UUIDField()),
            kept_upto=Coalesce(stands_for_outer(), 0),
            last_order=Coalesce(Subquery(last.values("coat__order")[:1]), F("kept_upto")),
            last_decides=newest("coat__decides", BooleanField()),
            last_coat=Subquery(coats.values("order")[:1]),
        )
        .exclude(last_coat=None)
        # Written as what stays: a condition on what is absent is neither true nor false in SQL.
        .filter((Q(last_verdict__isnull=False) & ~Q(last_verdict="pass")) | Q(last_order__lt=F("last_coat")))
        .annotate(
            urgency=Case(
                When(last_verdict="fail", last_decides=False, then=Value(2)),
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
    found = sorted(areas, key=lambda area: area.place)
    measured = Coat.objects.in_bulk([area.measured_after for area in found if area.measured_after])
    unspecified = _unspecified([area.last_record for area in found if area.last_verdict == "not judged"])
    return [_area_next(area, measured.get(area.measured_after), unspecified) for area in found]


def _unspecified(unjudged: list[UUID]) -> set[UUID]:
    """Those of the records that were not judged because a limit is missing."""
    lacking = ThicknessRecord.objects.filter(pk__in=unjudged, inputs__has_key=UNSPECIFIED) if unjudged else ()
    return {record.pk for record in lacking}


def _area_next(area: Any, measured: Coat | None, unspecified: Collection[UUID]) -> AreaNext:
    """`measured` is the coat after which it was measured last; `unspecified` are records with no limit to judge by."""
    to_come = sorted((coat for coat in area.system.coats.all() if coat.order > area.last_order), key=lambda c: c.order)
    if measured is None:
        return AreaNext(area, to_come[0], "not measured yet", None, area.of)
    of_control = area.last_verdict == "fail" and not area.last_decides
    if to_come and (area.last_verdict == "pass" or of_control):
        found = "failed, measured for control only" if of_control else "passed"
        return AreaNext(area, to_come[0], f"{measured.name} {found}", area.last_record, area.of)
    unjudged = "its rule does not reach this thickness"
    if area.last_record in unspecified:
        unjudged = "not judged: not every coat has the limits that its rule judges by"
    why = {"fail": "failed: repair and measure again", "not judged": unjudged}
    words = why.get(area.last_verdict, "more readings wanted")
    return AreaNext(area, measured, words, area.last_record, area.of)
