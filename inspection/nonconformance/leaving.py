"""Nonconformances that whoever leaves has raised and nobody has closed."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.dispatch import receiver
from django.urls import reverse

from accounts.models import Person
from accounts.signals import Unfinished, unfinished
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Project


@receiver(unfinished, dispatch_uid="nonconformance")
def raised(sender: Any, by: Person, person: Person | None, project: Any, **sent: Any) -> list[Unfinished]:
    projects = Project.objects.visible_to(by)
    if project is not None:
        projects = projects.filter(pk=project.pk)
    return _open(projects) if person is None else _open(projects, raised_by=person)


def _open(projects: QuerySet[Project], **narrow: Any) -> list[Unfinished]:
    rows = Nonconformance.objects.filter(project__in=projects, state=Nonconformance.State.OPEN, **narrow)
    return [
        Unfinished(f"Open nonconformance {row}, {row.project.code}", reverse("nonconformance", args=[row.pk]))
        for row in rows.select_related("project").order_by("raised_at")
    ]
