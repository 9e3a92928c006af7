"""What a photo can be of: how the thing is found in somebody's sight, named, and reached."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Model, QuerySet
from django.http import Http404
from django.urls import reverse

from accounts.models import Person
from inspection.fieldwork.kinds import kind_of
from inspection.fieldwork.models import Record
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.models import Verification
from inspection.nonconformance.models import Nonconformance, ReworkItem
from inspection.notices.models import Notice
from inspection.photos.models import Photo
from inspection.projects.models import InspectionArea, Project
from inspection.works.models import Lot


@dataclass(frozen=True)
class Subject:
    """One kind of thing that has photos."""

    column: str
    seen: Callable[[Person], QuerySet[Any]]
    project: Callable[[Any], Project]
    area: Callable[[Any], InspectionArea | None]
    told: Callable[[Any], str]
    address: Callable[[Any], str]
    # Whose photos its page shows too: those of its former versions, where they do not go over.
    versions: Callable[[Any], Any] = lambda thing: [thing.pk]


def _decisions(person: Person) -> QuerySet[Any]:
    points = HoldPoint.objects.visible_to(person).order_by().values("pk")
    return Decision.objects.filter(point__in=points).select_related("point__project", "point__area__structure")


def _checks(person: Person) -> QuerySet[Any]:
    """Of projects in sight alone: company inspectors see checks of shared instruments made for others as well."""
    projects = Project.objects.visible_to(person).order_by().values("pk")
    return Verification.objects.visible_to(person).filter(project__in=projects).select_related("project", "gauge")


def _former_checks(check: Verification) -> list[UUID]:
    """The check and the versions that it replaces."""
    found, before = [check.pk], check.replaces_id
    while before:
        found.append(before)
        before = Verification.objects.filter(pk=before).values_list("replaces", flat=True).get()
    return found


def _record_told(record: Record) -> str:
    after = f", {record.coat.name}" if record.coat else ""
    at = record.taken_at.astimezone(record.project.zone)
    return f"{kind_of(record).one.capitalize()} of {record.area.label}{after}, {at:%Y-%m-%d %H:%M}"


SUBJECTS = {
    "record": Subject(
        "record",
        lambda person: Record.objects.visible_to(person).select_related("project", "area__structure", "coat"),
        lambda thing: thing.project, lambda thing: thing.area, _record_told,
        lambda thing: reverse(kind_of(thing).name, args=[thing.pk]),
    ),
    "nonconformance": Subject(
        "nonconformance",
        lambda person: Nonconformance.objects.visible_to(person).select_related("project", "area__structure"),
        lambda thing: thing.project, lambda thing: thing.area, str,
        lambda thing: reverse("nonconformance", args=[thing.pk]),
    ),
    "rework": Subject(
        "rework_item",
        lambda person: ReworkItem.objects.visible_to(person).select_related("project", "area__structure"),
        lambda thing: thing.project, lambda thing: thing.area, lambda thing: f"Rework: {thing}",
        lambda thing: reverse("rework_item", args=[thing.pk]),
    ),
    "notice": Subject(
        "notice", lambda person: Notice.objects.visible_to(person).select_related("project"),
        lambda thing: thing.project, lambda thing: None, str, lambda thing: reverse("notice", args=[thing.pk]),
    ),
    "decision": Subject(
        "decision", _decisions, lambda thing: thing.point.project, lambda thing: thing.point.area,
        lambda thing: f"{thing.get_outcome_display()}: {thing.point.title}",
        lambda thing: reverse("point", args=[thing.point_id]),
    ),
    "verification": Subject(
        "verification", _checks, lambda thing: thing.project, lambda thing: None, lambda thing: f"Check: {thing}",
        lambda thing: reverse("verification", args=[thing.pk]), _former_checks,
    ),
    "lot": Subject(
        "lot", lambda person: Lot.objects.visible_to(person).select_related("project"),
        lambda thing: thing.project, lambda thing: None, str, lambda thing: reverse("lot", args=[thing.pk]),
        lambda thing: Lot.objects.filter(project=thing.project_id, number=thing.number).order_by().values("pk"),
    ),
}  # fmt: skip
JOINED = (
    "project", "area__structure", "by", "withdrawn_by", "file", "record__project", "record__area__structure",
    "record__coat", "nonconformance", "rework_item", "notice", "decision__point", "verification__gauge", "lot",
)  # fmt: skip


def found(person: Person, name: str, pk: UUID) -> Any:
    """The thing, as far as the person sees it. Raises Http404 otherwise, and for a kind that has no photos."""
    thing = SUBJECTS[name].seen(person).filter(pk=pk).first() if name in SUBJECTS else None
    if thing is None:
        raise Http404
    return thing


def subject_of(photo: Photo) -> tuple[str, Subject, Any]:
    """Its word, its kind and the thing itself."""
    for name, kind in SUBJECTS.items():
        if getattr(photo, f"{kind.column}_id"):
            return name, kind, getattr(photo, kind.column)
    raise AssertionError("a photo is of one thing")


def told(photo: Photo) -> str:
    _, kind, thing = subject_of(photo)
    return kind.told(thing)


def address(photo: Photo) -> str:
    _, kind, thing = subject_of(photo)
    return kind.address(thing)


def began(photo: Photo) -> datetime | None:
    """When the record was begun, which a photo of it cannot be older than."""
    return photo.record.taken_at if photo.record else None


def of(thing: Model) -> str:
    """The word of the thing."""
    model = Record if isinstance(thing, Record) else type(thing)
    models = {Record: "record", Nonconformance: "nonconformance", ReworkItem: "rework", Notice: "notice",
              Decision: "decision", Verification: "verification", Lot: "lot"}  # fmt: skip
    return models[model]
