"""What an inspector comes for in the morning and goes on with during the day, project by project."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, cast
from uuid import UUID

from django.db.models import Count, F, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from accounts.models import Person
from inspection.fieldwork.areas_next import AreaNext, areas_next
from inspection.fieldwork.climate.station_queries import Shown, shown, stations_seen
from inspection.fieldwork.due import Due
from inspection.fieldwork.kind import RecordKind
from inspection.fieldwork.kinds import KINDS, kind_of
from inspection.fieldwork.models import ClimateRecord, Record, Sheet
from inspection.fieldwork.queries import RunOut, gauges_in_use, open_projects, records_seen
from inspection.instruments import doubt, overdue
from inspection.instruments.models import Gauge, InstrumentRules, Verification
from inspection.instruments.site_checks import is_checked
from inspection.projects.models import Project, Station
from inspection.works.belonging import shifts_of
from inspection.works.lots.recoat import tonight
from inspection.works.lots.windows import Window as RecoatWindow
from inspection.works.paint.queries import MixNow, running
from inspection.works.queries import CrewNow, own_crews

MOST_OF_DAY = 60
# What is well is told in one line beyond so many.
MOST_GAUGES = 4
MOST_PLACES = 6
# The worst first; what was not judged says nothing.
WORST = (Record.Verdict.FAIL, Record.Verdict.INCOMPLETE, Record.Verdict.NOT_JUDGED, Record.Verdict.PASS)


@dataclass
class GaugeToday:
    """An instrument in the person's hands: its check of the shift, where it is to have one, and what is against it."""

    gauge: Gauge
    # Whose clocks its times are shown by.
    project: Project
    wants_check: bool
    check: Verification | None
    run_out: str = ""
    reported: str = ""

    @property
    def is_well(self) -> bool:
        checked = not self.wants_check or (self.check is not None and self.check.verdict == "pass")
        return checked and not self.run_out and not self.reported


@dataclass
class OfPlace:
    """The day's records of one area, or of one climate station, newest first."""

    label: str
    records: list[tuple[Record, RecordKind]] = field(default_factory=list)

    @property
    def worst(self) -> Record:
        return min(
            (record for record, _ in self.records), key=lambda record: WORST.index(Record.Verdict(record.verdict))
        )

    @property
    def is_well(self) -> bool:
        """Nothing failed, wants more readings, or is in question; the standing is kept by a room above this one."""
        standings = (getattr(record, "standing", None) for record, _ in self.records)
        doubted = any(standing is not None and standing.state == "in_question" for standing in standings)
        return not doubted and self.worst.verdict in (Record.Verdict.PASS, Record.Verdict.NOT_JUDGED)

    @property
    def failing(self) -> int:
        return sum(record.verdict == Record.Verdict.FAIL for record, _ in self.records)


@dataclass
class StationDue:
    """A climate station, and when it is to be read next; None where it was not read on the day."""

    station: Station
    due: Due | None


@dataclass
class ProjectToday:
    """What an inspector comes for in the morning and goes on with during the day, of one project."""

    project: Project
    day: date
    sheets: list[Sheet] = field(default_factory=list)
    gauges: list[GaugeToday] = field(default_factory=list)
    places: list[OfPlace] = field(default_factory=list)
    # Of the day how many records there are, and how many of each kind.
    many: int = 0
    of_kind: dict[str, int] = field(default_factory=dict)
    next: list[AreaNext] = field(default_factory=list)
    held: list[AreaNext] = field(default_factory=list)
    stations: list[StationDue] = field(default_factory=list)
    run_out: RunOut | None = None
    crew: CrewNow | None = None
    running: list[MixNow] = field(default_factory=list)
    windows: list[RecoatWindow] = field(default_factory=list)
    kinds: Sequence[RecordKind] = KINDS

    @property
    def wanting(self) -> int:
        """How many areas can be measured now, those not shown among them."""
        return self.next[0].of if self.next else 0

    @property
    def holding(self) -> int:
        """How many areas a hold point holds."""
        return self.held[0].of if self.held else 0

    @property
    def listed(self) -> int:
        return sum(len(place.records) for place in self.places)

    @property
    def places_shown(self) -> list[OfPlace]:
        """Where something failed or wants more readings, and while they are few all."""
        return [place for place in self.places if len(self.places) <= MOST_PLACES or not place.is_well]

    @property
    def places_folded(self) -> list[OfPlace]:
        """The others, told in one line."""
        return [place for place in self.places if len(self.places) > MOST_PLACES and place.is_well]

    @property
    def has_climate(self) -> bool:
        return ClimateRecord.KIND in self.of_kind

    @property
    def is_under_way(self) -> bool:
        """Whether something of the day lies there already, so that the page shows it unfolded."""
        shift = self.crew.shift if self.crew else None
        return bool(self.sheets or self.many or self.running or (shift and shift.is_under_way))


@dataclass
class InstrumentToday:
    """An instrument in the person's hands, as it is in the shift of each project, or of all alike (no project)."""

    gauge: Gauge
    states: list[tuple[Project | None, GaugeToday]]

    @property
    def is_well(self) -> bool:
        return all(state.is_well for _, state in self.states)


@dataclass
class InstrumentsToday:
    """The person's instruments: those that want something each by itself, those that are well folded once many."""

    shown: list[InstrumentToday]
    folded: list[InstrumentToday]
    # Whether what has run out is only warned of.
    warns: bool
    # The one project that a check belongs to, where there is only one.
    project: Project | None


def instruments_of(days: Sequence[ProjectToday]) -> InstrumentsToday:
    """What the days of the projects say of the person's instruments, each told once."""
    found: dict[UUID, InstrumentToday] = {}
    for day in days:
        for state in day.gauges:
            found.setdefault(state.gauge.pk, InstrumentToday(state.gauge, [])).states.append((day.project, state))
    for each in found.values():
        told = {(state.check.pk if state.check else None, state.run_out) for _, state in each.states}
        if len(told) == 1:
            each.states = [(None, each.states[0][1])]
    each_one = sorted(found.values(), key=lambda each: (each.is_well, each.gauge.identity))
    many = len(each_one) > MOST_GAUGES
    return InstrumentsToday(
        [each for each in each_one if not (many and each.is_well)],
        [each for each in each_one if many and each.is_well],
        warns=any(day.run_out and day.run_out.warns for day in days),
        project=days[0].project if len(days) == 1 else None,
    )  # fmt: skip


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
    _add_records(person, found)
    for area in areas_next(list(projects)):
        item = found[area.area.structure.project_id]
        (item.held if area.held_at else item.next).append(area)
    _add_stations(person, found, at)
    for pk, crew in own_crews(person, found, at).items():
        found[pk].crew = crew
    for pk, mixes in running(person, found, at).items():
        found[pk].running = mixes
    for pk, windows in tonight(person, [each.project for each in found.values()], at).items():
        found[pk].windows = windows
    _add_gauges(person, list(found.values()), at)
    return list(found.values())


def _add_records(person: Person, found: dict[UUID, ProjectToday]) -> None:
    """The day's records by place, the newest of each project, and how many there are of each kind."""
    of_day = _within([(pk, *item.project.day_bounds(item.day)) for pk, item in found.items()])
    seen = records_seen(person).current().filter(of_day)
    counts = seen.order_by().values_list("project", "kind").annotate(many=Count("pk"))
    for project, kind, many in counts:
        found[project].of_kind[kind] = many
        found[project].many += many
    newest = Window(RowNumber(), partition_by=F("project"), order_by=[F("taken_at").desc(), F("pk").desc()])
    rows: list[Record] = list(seen.annotate(place=newest).filter(place__lte=MOST_OF_DAY).order_by("project", "place"))
    climate = [row.pk for row in rows if row.kind == ClimateRecord.KIND]
    read_at = ClimateRecord.objects.filter(pk__in=climate).exclude(station=None).values_list("pk", "station__code")
    stations = dict(read_at) if climate else {}
    places: dict[tuple[UUID, Any], OfPlace] = {}
    for row in rows:
        station = stations.get(row.pk)
        key = (row.project_id, station or row.area_id)
        if key not in places:
            places[key] = OfPlace(f"Climate station {station}" if station else f"{row.area.label} {row.area.name}")
            found[row.project_id].places.append(places[key])
        places[key].records.append((row, kind_of(row)))


def _within(spans: Sequence[tuple[UUID, datetime, datetime]]) -> Q:
    wanted = Q(pk=None)
    for project, start, end in spans:
        wanted |= Q(project=project, taken_at__gte=start, taken_at__lt=end)
    return wanted


def _own_sheets(person: Person) -> QuerySet[Sheet]:
    sheets = Sheet.objects.visible_to(person).filter(person=person, closed_at=None)
    sheets = sheets.select_related("project", "area", "coat", "gauge").annotate(noted=Count("readings"))
    return cast("QuerySet[Sheet]", sheets)


def _add_stations(person: Person, found: dict[UUID, ProjectToday], at: datetime) -> None:
    """The stations in use, those first that are to be read soonest; those not read today last."""
    rows = list(stations_seen(person).filter(project__in=found, ended_at=None).order_by("code"))
    for each in shown(person, rows, at) if rows else ():
        item = found[each.station.project_id]
        item.stations.append(StationDue(each.station, _due_of(each, item, at)))
    for item in found.values():
        item.stations.sort(key=lambda each: (each.due is None, each.due.at if each.due else at))


def _due_of(read: Shown, item: ProjectToday, at: datetime) -> Due | None:
    start, end = item.project.day_bounds(item.day)
    return Due(read.until, at) if read.until and start <= read.newest[0].taken_at < end else None


def _add_gauges(person: Person, shown_of: list[ProjectToday], at: datetime) -> None:
    """The instruments in the person's hands, each with its newest check of the person's shift there."""
    gauges = list(gauges_in_use(person).filter(holder=person))
    of_projects = shifts_of(person.pk, [item.project for item in shown_of], at)
    shifts = [of_projects[item.project.pk] for item in shown_of]
    # The day is one or, around midnight or across zones, two; never as many as there are projects.
    by_day = {day: overdue.of_things(day, gauges) for day in {item.day for item in shown_of}}
    papers, warns = overdue.PersonsPapers(person), InstrumentRules.now().warns
    for item in shown_of:
        item.run_out = RunOut(by_day[item.day], papers.against(item.day, item.project), warns)
    if not gauges:
        return
    start, end = min(start for start, _ in shifts), max(end for _, end in shifts)
    reported = doubt.reported(gauges)
    rows = Verification.objects.current().filter(gauge__in=gauges, taken_at__gte=start, taken_at__lt=end)
    checks = list(rows.order_by("-taken_at").defer("inputs", "result"))
    for item, (begin, finish) in zip(shown_of, shifts, strict=True):
        for gauge in gauges:
            of_shift = (row for row in checks if row.gauge_id == gauge.pk and begin <= row.taken_at < finish)
            words = by_day[item.day].get(gauge.pk, "")
            found = reported.get(gauge.pk)
            told = doubt.in_words(found.at, found.what, item.project.zone) if found else ""
            item.gauges.append(
                GaugeToday(gauge, item.project, is_checked(gauge, at), next(of_shift, None), words, told)
            )
