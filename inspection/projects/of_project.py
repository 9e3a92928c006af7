"""Rows that belong to one project, and who sees them."""

from __future__ import annotations

from typing import Any, ClassVar, Self

from django.apps import apps
from django.db import models
from django.db.models import Q

from accounts.models import Person


def _rows(name: str) -> Any:
    """The manager of a model of this room; by its name, since the models are made of what stands here."""
    return apps.get_model("projects", name)._default_manager


class OfProject(models.QuerySet):
    """Rows that belong to one project; `path` leads to it."""

    path = "project"
    # The way to the inspection area that must be in a painting contractor's scope; without one they see no such row.
    area_path: ClassVar[str | None] = None

    def visible_to(self, person: Person) -> Self:
        if person.sees_every_project:
            return self
        if person.is_contractors:
            return self.in_scope_of(person)
        return self.filter(**{f"{self.path}__in": _rows("Project").visible_to(person)})

    def in_scope_of(self, person: Person) -> Self:
        """What a painting contractor's person sees of such rows."""
        if self.area_path is None:
            return self.none()
        return self.filter(**{f"{self.area_path}__in": _rows("InspectionArea").visible_to(person)})


class WithAreas(OfProject):
    """Rows that a painting contractor's people see where an area of their scope belongs to them."""

    # From an area to the row.
    from_area: ClassVar[str]

    def in_scope_of(self, person: Person) -> Self:
        """Those with an area in scope; all of a project of which nothing is given by itself."""
        areas = _rows("InspectionArea").visible_to(person)
        whole = _rows("Party").of_whole_project(person).values("project")
        return self.filter(Q(**{f"{self.path}__in": whole}) | Q(pk__in=areas.order_by().values(self.from_area)))
