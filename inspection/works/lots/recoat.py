"""The recoat clock of a project: which places open or close, and when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import UTC, datetime
from uuid import UUID

from django.db.models import QuerySet

from accounts.models import Person
from inspection.projects.models import InspectionArea, Project
from inspection.standards.drying import CLOSED, CLOSING, NOT_YET_OPEN, OPEN
from inspection.standards.recoat_clock import NOT_KNOWN
from inspection.works.lots.windows import COATS, Window, windows_of
from inspection.works.models import Lot, LotPlace

# Of the windows that need somebody tonight, those that are running out first.
ORDER = {CLOSING: 0, NOT_YET_OPEN: 1, OPEN: 2, CLOSED: 3, NOT_KNOWN: 4}
LATEST = datetime.max.replace(tzinfo=UTC)


def coated_areas(person: Person, projects: Iterable[UUID]) -> QuerySet[InspectionArea]:
    """The areas in use of projects on which a coat was recorded, as far as the person sees them and those lots."""
    wanted = list(projects)
    lots = Lot.objects.visible_to(person).filter(project__in=wanted, replaced_by=None, withdrawn_at=None)
    coated = LotPlace.objects.filter(lot__in=lots.order_by().values("pk"), lot__activity__in=COATS)
    rows: QuerySet[InspectionArea] = InspectionArea.objects.visible_to(person).in_use()
    return rows.filter(structure__project__in=wanted, pk__in=coated.filter(lot__coat__isnull=False).values("area"))


def project_windows(person: Person, project: Project, at: datetime) -> list[Window]:
    """Every place of the project that waits for its next coat, those first that close or open next."""
    areas = list(coated_areas(person, [project.pk]).select_related("system", "structure", "section").order_by("code"))
    return sorted(windows_of(areas, at), key=_urgency)


def tonight(person: Person, projects: Collection[Project], at: datetime) -> dict[UUID, list[Window]]:
    """By project what opens or closes until its day ends; no more reads for more projects."""
    areas = coated_areas(person, [project.pk for project in projects])
    by_project: dict[UUID, list[Window]] = defaultdict(list)
    for window in windows_of(list(areas.select_related("system", "structure", "section").order_by("code")), at):
        by_project[window.area.structure.project_id].append(window)
    found = {}
    for project in projects:
        _, until = project.day_bounds(project.day_of(at))
        found[project.pk] = sorted(soon(by_project[project.pk], until), key=_urgency)
    return found


def _urgency(window: Window) -> tuple[int, datetime]:
    clock = window.clock
    moment = clock.opens_at if clock.state == NOT_YET_OPEN else clock.closes_at
    return ORDER[clock.state], moment or LATEST


def soon(windows: list[Window], until: datetime) -> list[Window]:
    """Those that open or close before the moment, or are closing already."""
    return [
        each for each in windows
        if each.clock.state == CLOSING
        or (each.clock.state == NOT_YET_OPEN and each.clock.opens_at and each.clock.opens_at <= until)
        or (each.clock.state == OPEN and each.clock.closes_at and each.clock.closes_at <= until)
    ]  # fmt: skip
