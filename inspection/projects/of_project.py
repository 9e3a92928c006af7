"""Rows that belong to one project, and who sees them."""

from __future__ import annotations

from typing import Self

from django.apps import apps
from django.db import models

from accounts.models import Person


class OfProject(models.QuerySet):
    """Rows that belong to one project; `path` leads to it."""

    path = "project"

    def visible_to(self, person: Person) -> Self:
        if person.sees_every_project:
            return self
        projects = apps.get_model("projects", "Project")._default_manager
        return self.filter(**{f"{self.path}__in": projects.visible_to(person)})  # type: ignore[attr-defined]  # its manager is made of ProjectQuerySet
