"""Reads of lots. They start from what the person may see."""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast
from uuid import UUID

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery, Sum

from accounts.models import Person
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Project, StripeCoat
from inspection.works.lots.actions import LOGGERS
from inspection.works.models import Crew, Lot, LotMix, LotParent, LotPlace, Mix, Shift


def lots_seen(person: Person) -> QuerySet[Lot]:
    """Every version that the person sees, newest first, with what a list shows of each."""
    rows = cast("QuerySet[Lot]", Lot.objects.visible_to(person))
    places = LotPlace.objects.select_related("area").order_by("area__code")
    mixes = LotMix.objects.select_related("mix").order_by("mix__number")
    parents = LotParent.objects.select_related("parent").order_by("parent__number")
    m2 = LotPlace.objects.filter(lot=OuterRef("pk")).order_by().values("lot").annotate(sum=Sum("m2")).values("sum")
    rows = rows.select_related(
        "project", "coat__system", "stripe", "crew__party__organisation", "shift", "entered_by", "withdrawn_by",
        "replaces", "replaced_by",
    )  # fmt: skip
    return rows.prefetch_related(
        Prefetch("places", places), Prefetch("parents", parents), Prefetch("mixes", mixes)
    ).annotate(m2=Subquery(m2))


def lots_listed(
    person: Person, project: Project, *, area: UUID | None = None, activity: str = "", state: str = ""
) -> QuerySet[Lot]:
    """The current version of each lot of the project, narrowed; those withdrawn last."""
    rows = lots_seen(person).filter(project=project, replaced_by=None)
    if activity:
        rows = rows.filter(activity=activity)
    if state == "open":
        rows = rows.filter(ended_at=None, withdrawn_at=None)
    elif state == "ended":
        rows = rows.filter(ended_at__isnull=False, withdrawn_at=None)
    elif state == "withdrawn":
        rows = rows.filter(withdrawn_at__isnull=False)
    if area:
        rows = rows.filter(pk__in=LotPlace.objects.filter(area=area).values("lot"))
    return rows.order_by("-begun_at", "-number")


def versions_of(lot: Lot, person: Person) -> QuerySet[Lot]:
    rows = Lot.objects.visible_to(person).filter(project=lot.project_id, number=lot.number)
    return rows.select_related("entered_by").order_by("version")


def now_of(parents: list[LotParent], person: Person) -> dict[int, Lot]:
    """By number the current version of each lot that is followed, whichever version was named."""
    if not parents:
        return {}
    numbers = [each.parent.number for each in parents]
    rows = Lot.objects.visible_to(person).filter(
        project=parents[0].parent.project_id, number__in=numbers, replaced_by=None
    )
    return {lot.number: lot for lot in rows.select_related("coat__system", "stripe")}


def crews_for(person: Person, project: Project) -> QuerySet[Crew]:
    rows: QuerySet[Crew] = Crew.objects.visible_to(person).filter(project=project)
    return rows.select_related("party__organisation").order_by("name")


def shifts_for(person: Person, project: Project) -> QuerySet[Shift]:
    rows: QuerySet[Shift] = Shift.objects.visible_to(person).filter(crew__project=project, called_off_at=None)
    return rows.select_related("crew__project").order_by("-begins_at")


def coats_for(person: Person, project: Project) -> QuerySet[Coat]:
    """The coats of the project's systems that new work begins under."""
    systems = CoatingSystem.objects.visible_to(person).filter(project=project)
    in_force = CoatingSystem.objects.in_force().filter(pk__in=systems.values("pk"))
    rows: QuerySet[Coat] = Coat.objects.filter(system__in=in_force.values("pk"))
    return rows.select_related("system", "data_sheet").order_by("system__name", "order")


def stripes_for(person: Person, project: Project) -> QuerySet[StripeCoat]:
    rows: QuerySet[StripeCoat] = StripeCoat.objects.visible_to(person).filter(coat__system__project=project)
    return rows.select_related("coat__system").order_by("coat__system__name", "coat__order")


def areas_for(person: Person, project: Project) -> QuerySet[InspectionArea]:
    rows: QuerySet[InspectionArea] = InspectionArea.objects.visible_to(person).filter(structure__project=project)
    return rows.select_related("structure", "section", "system").order_by("structure__name", "code")


def mixes_by_number(person: Person, project: Project, numbers: Iterable[int]) -> dict[int, Mix]:
    rows = Mix.objects.visible_to(person).filter(project=project, number__in=list(numbers))
    return {mix.number: mix for mix in rows.select_related("coat")}


def may_log(person: Person) -> bool:
    return person.has_role(*LOGGERS)
