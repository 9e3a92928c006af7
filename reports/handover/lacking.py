"""What a project, or a section of it, still lacks before it can be handed over: by kind, whose turn it is, how old.

Each kind is read from its own home; nothing is stored here, and nothing is decided. A cell of the plan lacks something
until its point is released, waived or not applicable.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce
from django.urls import reverse

from accounts.models import Person
from inspection.diary.unsigned import UnsignedDay, days_not_signed
from inspection.fieldwork.kinds import kind_of
from inspection.fieldwork.models import Latest
from inspection.holdpoints.matrix import carried_on, lines_shown
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.party_letters import letters_of
from inspection.instruments.models import CertifiedValue, Gauge
from inspection.nonconformance.models import Nonconformance, ReworkItem
from inspection.nonconformance.queries import awaiting_another
from inspection.nonconformance.queries import nonconformances as nonconformances_seen
from inspection.nonconformance.rework import rework_items
from inspection.notices.queries import notices_seen, of_tab
from inspection.plan.models import Meaning
from inspection.projects.models import InspectionArea, Project, Section
from inspection.standing.models import Standing
from reports.daily.models import DailyReport, ReportIssue

Lies = HoldPoint.Lies
INSPECTORS, MANAGER, CONTRACTOR, CLIENT = "Inspectors", "Quality manager", "Painting contractor", "Client"


@dataclass(frozen=True)
class Scope:
    """Whose sight, which project or section of it, and the moment it is asked at."""

    person: Person
    project: Project
    section: Section | None
    at: datetime

    @property
    def areas(self) -> QuerySet[InspectionArea]:
        """In use, and seen by the person; of a whole project as a filter that an index answers."""
        areas: Any = InspectionArea.objects.filter(structure__project=self.project, retired_at=None)
        found: QuerySet[InspectionArea] = areas.within(self.section) if self.section else areas
        return found

    def of_areas(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        """Those on areas in use of the scope, by the rows' own `area`."""
        rows = rows.filter(area__retired_at=None)
        return rows.filter(area__in=self.areas.order_by().values("pk")) if self.section else rows


@dataclass(frozen=True)
class Lack:
    """One thing that is lacking."""

    what: str
    place: str
    owner: str
    since: datetime | None
    url: str

    def days(self, at: datetime) -> int | None:
        """Whole days since then."""
        return None if self.since is None else max((at - self.since).days, 0)


@dataclass(frozen=True)
class Kind:
    """One kind of lack: its rows, those longest lacking first, and how a window of them is told."""

    key: str
    title: str
    rows: Callable[[Scope], QuerySet[Any] | Sequence[Any]]
    told: Callable[[Scope, Collection[Any]], list[Lack]]


# --- points -----------------------------------------------------------------------------------------------------------
def _points(*lies: Lies, since: str) -> Callable[[Scope], QuerySet[Any]]:
    def rows(scope: Scope) -> QuerySet[Any]:
        seen = HoldPoint.objects.visible_to(scope.person).filter(project=scope.project, lies__in=lies)
        return scope.of_areas(seen).select_related("area__structure", "coat").order_by(since, "pk")

    return rows


def _ready(scope: Scope) -> QuerySet[Any]:
    """Without witness points, over which work may go on once their evidence is there."""
    return _points(Lies.READY, since="planned_at")(scope).filter(kind=HoldPoint.Kind.HOLD)


def _point_told(since: str, owner: str = "") -> Callable[[Scope, Collection[Any]], list[Lack]]:
    def told(scope: Scope, points: Collection[HoldPoint]) -> list[Lack]:
        whose = {} if owner else _holders(points)
        return [
            Lack(point.title, f"{point.area.label}, {point.falls}", owner or whose[point.pk], getattr(point, since),
                 reverse("point", args=[point.pk]))
            for point in points
        ]  # fmt: skip

    return told


def _refused(scope: Scope) -> QuerySet[Any]:
    """The longest refused first."""
    return _points(Lies.REFUSED, since="planned_at")(scope).order_by(Coalesce("fresh_from", "planned_at"), "pk")


def _refused_told(scope: Scope, points: Collection[HoldPoint]) -> list[Lack]:
    """Since it was refused; what went before was another's turn."""
    refusals = Decision.objects.filter(point__among=[point.pk for point in points], outcome=Decision.Outcome.REFUSED)
    refused = dict(refusals.order_by("number").values_list("point", "at"))
    told = _point_told("planned_at", CONTRACTOR)(scope, points)
    return [replace(lack, since=refused.get(point.pk, lack.since)) for lack, point in zip(told, points, strict=True)]


def _holders(points: Collection[HoldPoint]) -> dict[UUID, str]:
    """Which kinds of party have to say a word at each point; of one planned by hand the client, a witnessed one too."""
    found = {}
    for pk, letters in letters_of(points).items():
        kinds = [each.party.get_kind_display() for each in letters if each.meaning in (Meaning.HOLD, Meaning.WITNESS)]
        found[pk] = ", ".join(dict.fromkeys(map(str, kinds))) or CLIENT
    return found


def _unplanned(scope: Scope) -> QuerySet[Any]:
    """Areas on which lines of the plan in force have no point: `planned` of so many lines."""
    lines = lines_shown(scope.project, person=scope.person)
    if not lines:
        return scope.areas.none()
    now = Q(holdpoints__line__in=list(carried_on(scope.project, lines)))
    areas = (
        scope.areas.filter(repair_of=None)
        .annotate(planned=Count("holdpoints", filter=now))
        .filter(planned__lt=len(lines))
    )
    return areas.select_related("structure").order_by("code", "pk")


def _unplanned_told(scope: Scope, areas: Collection[Any]) -> list[Lack]:
    lines = len(lines_shown(scope.project, person=scope.person))
    url = reverse("points_matrix", args=[scope.project.pk])
    return [Lack(f"{lines - area.planned} of {lines} lines of the plan are not applied", area.label, MANAGER, None, url)
            for area in areas]  # fmt: skip


# --- records ----------------------------------------------------------------------------------------------------------
def _standing(state: Standing.State) -> Callable[[Scope], QuerySet[Any]]:
    def rows(scope: Scope) -> QuerySet[Any]:
        latest = Latest.objects.filter(record__project=scope.project, record__standing__state=state)
        named = scope.of_areas(latest).select_related("record__area__structure", "record__coat", "record__standing")
        return named.order_by("record__taken_at", "pk")

    return rows


def _standing_told(scope: Scope, rows: Collection[Latest]) -> list[Lack]:
    told = []
    for latest in rows:
        record, kind = latest.record, kind_of(latest.record)
        reasons = record.standing.reasons  # type: ignore[attr-defined]  # the row of the room of standings
        after = f", after {record.coat.name}" if record.coat else ""
        what = f"{kind.one.capitalize()}: {reasons[0]}" if reasons else kind.one.capitalize()
        url = reverse(kind.name, args=[record.pk])
        told.append(Lack(what, f"{record.area.label}{after}", INSPECTORS, record.taken_at, url))
    return told


# --- nonconformances and rework ---------------------------------------------------------------------------------------
def _nonconformances(scope: Scope) -> QuerySet[Any]:
    seen = nonconformances_seen(scope.person, project=scope.project.pk)
    unconfirmed = awaiting_another(seen).order_by().values("pk")
    rows = seen.filter(~Q(state=Nonconformance.State.CLOSED) | Q(pk__in=unconfirmed))
    of_areas = scope.of_areas(rows.exclude(area=None)).order_by().values("pk")
    # What is against no area belongs to the project, and to no section of it.
    rows = rows.filter(pk__in=of_areas) if scope.section else rows.filter(Q(pk__in=of_areas) | Q(area=None))
    return rows.order_by("raised_at", "pk")


def _nonconformances_told(scope: Scope, rows: Collection[Nonconformance]) -> list[Lack]:
    return [
        Lack(f"{row}{', closing to be confirmed' if row.state == row.State.CLOSED else ''}",
             f"{row.area.label}, {row.coat.name}" if row.area and row.coat else row.place,
             MANAGER if row.repair or row.state == row.State.DRAFT
             else CONTRACTOR, row.raised_at, reverse("nonconformance", args=[row.pk]))
        for row in rows
    ]  # fmt: skip


def _rework(scope: Scope) -> QuerySet[Any]:
    rows = rework_items(scope.person, project=scope.project.pk)
    open_states = (ReworkItem.State.OPEN, ReworkItem.State.DONE)
    return scope.of_areas(rows.filter(state__in=open_states)).order_by("opened_at", "pk")


def _rework_told(scope: Scope, rows: Collection[ReworkItem]) -> list[Lack]:
    return [
        Lack(str(row), row.area.label, INSPECTORS if row.state == row.State.DONE else CONTRACTOR, row.opened_at,
             reverse("rework_item", args=[row.pk]))
        for row in rows
    ]  # fmt: skip


# --- papers -----------------------------------------------------------------------------------------------------------
def _reports(scope: Scope) -> QuerySet[Any]:
    """Papers of days of the whole project that were never issued; a section has none of its own."""
    rows: QuerySet[Any] = DailyReport.objects.visible_to(scope.person).filter(project=scope.project)
    never = rows.filter(~Exists(ReportIssue.objects.filter(report=OuterRef("pk")))).order_by("day", "order")
    return never.none() if scope.section else never


def _reports_told(scope: Scope, rows: Iterable[DailyReport]) -> list[Lack]:
    zone = scope.project.zone
    return [
        Lack("Daily report not issued", row.of, MANAGER,
             datetime.combine(row.day, datetime.min.time(), tzinfo=zone), reverse("report", args=[row.pk]))
        for row in rows
    ]  # fmt: skip


def _days(scope: Scope) -> Sequence[UnsignedDay]:
    """Days worked and not signed by whoever did; of the whole project."""
    return [] if scope.section else days_not_signed(scope.person, scope.project, scope.at)


def _days_told(scope: Scope, rows: Iterable[UnsignedDay]) -> list[Lack]:
    return [
        Lack("Day worked, not signed", f"{row.day:%Y-%m-%d}", row.who, row.ended,
             reverse("day", args=[scope.project.pk, row.day]))
        for row in rows
    ]  # fmt: skip


def _notices(scope: Scope) -> QuerySet[Any]:
    """Notices whose time has passed and that nobody has given an outcome; of the whole project."""
    rows = notices_seen(scope.person).filter(of_tab(scope.at)["open"], project=scope.project).order_by("ends_at", "pk")
    return rows.none() if scope.section else rows


def _notices_told(scope: Scope, rows: Iterable[Any]) -> list[Lack]:
    return [
        Lack(f"Notice {row.number} has no outcome", row.meeting_place, f"{INSPECTORS}, {CONTRACTOR.lower()}",
             row.ends_at, reverse("notice", args=[row.pk]))
        for row in rows
    ]  # fmt: skip


def _instruments(scope: Scope) -> QuerySet[Any]:
    """Instruments that measured what stands here and have no certificate that is valid today."""
    day = scope.project.day_of(scope.at)
    valid = CertifiedValue.objects.filter(
        gauge=OuterRef("pk"), certificate__replaced_by=None, certificate__withdrawn_at=None,
        certificate__issued__lte=day, certificate__expires__gte=day,
    )  # fmt: skip
    latest = scope.of_areas(Latest.objects.filter(record__project=scope.project)).exclude(record__gauge=None)
    seen: QuerySet[Any] = Gauge.objects.visible_to(scope.person).exclude(state=Gauge.State.RETIRED)
    used = seen.filter(pk__in=latest.order_by().values("record__gauge"))
    return used.filter(~Exists(valid)).order_by("identity")


def _instruments_told(scope: Scope, rows: Iterable[Gauge]) -> list[Lack]:
    what = "No certificate is valid today"
    return [Lack(what, str(row), MANAGER, None, reverse("gauge", args=[row.pk])) for row in rows]


KINDS: tuple[Kind, ...] = (
    Kind("in-doubt", Lies.DOUBT.label, _points(Lies.DOUBT, since="doubted_at"), _point_told("doubted_at")),
    Kind("passed-over", Lies.PASSED_OVER.label, _points(Lies.PASSED_OVER, since="passed_over_at"),
         _point_told("passed_over_at")),
    Kind("refused", Lies.REFUSED.label, _refused, _refused_told),
    Kind("nonconformances", "Nonconformances", _nonconformances, _nonconformances_told),
    Kind("rework", "Rework", _rework, _rework_told),
    Kind("in-question", "Records in question", _standing(Standing.State.IN_QUESTION), _standing_told),
    Kind("provisional", "Records provisional", _standing(Standing.State.PROVISIONAL), _standing_told),
    Kind("not-released", "Ready, not released", _ready, _point_told("planned_at")),
    Kind("evidence", Lies.UNREADY.label, _points(Lies.UNREADY, Lies.NOTIFIED, since="planned_at"),
         _point_told("planned_at", INSPECTORS)),
    Kind("not-planned", "Plan not applied", _unplanned, _unplanned_told),
    Kind("instruments", "Instruments without a certificate", _instruments, _instruments_told),
    Kind("reports", "Daily reports not issued", _reports, _reports_told),
    Kind("days", "Days not signed", _days, _days_told),
    Kind("notices", "Notices without an outcome", _notices, _notices_told),
)  # fmt: skip
BY_KEY = {kind.key: kind for kind in KINDS}


def counts(scope: Scope) -> list[tuple[Kind, int]]:
    """Each kind with how many things lack it, a query or two each, however many there are."""
    return [(kind, _many(kind.rows(scope))) for kind in KINDS]


def _many(rows: QuerySet[Any] | Sequence[Any]) -> int:
    return rows.order_by().count() if isinstance(rows, QuerySet) else len(rows)
