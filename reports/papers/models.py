"""Heads of papers. Each is entered anew where it changes, so that a paper of an earlier day keeps that of its day."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Self

from django.db import models
from django.utils import timezone

from accounts.models import Person, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import OfProject, Project


class CompanyHeads(models.QuerySet["CompanyHead"]):
    def of(self, moment: datetime) -> CompanyHead | None:
        """What held at a moment; before the first was entered, the first."""
        found: CompanyHead | None = held_at(self, moment)
        return found


@of_record
class CompanyHead(models.Model):
    """The company's address and logo, as entered at a moment."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    address = LongText(blank=True, help_text="As printed, with its line breaks")
    logo = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)

    objects = CompanyHeads.as_manager()

    class Meta:
        ordering = ("entered_at", "pk")

    def __str__(self) -> str:
        return f"Head of papers of {self.entered_at:%Y-%m-%d}"


class ProjectHeads(OfProject):
    def of(self, moment: datetime) -> ProjectHead | None:
        """What held at a moment; before the first was entered, the first."""
        found: ProjectHead | None = held_at(self, moment)
        return found

    def in_scope_of(self, person: Person) -> Self:
        """Contractors' people have no part in what the company tells its client."""
        return self.none()


@of_record
class ProjectHead(models.Model):
    """A project's order number, what its papers refer to and whom they go to, as entered at a moment."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="paper_heads")
    order_number = ShortText(max_length=80, blank=True)
    references = LongText(blank=True, help_text="Contract, specification and the like, one a line")
    distribution = LongText(blank=True, help_text="Who is sent the papers, one a line")
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)

    objects = ProjectHeads.as_manager()

    class Meta:
        ordering = ("entered_at", "pk")
        indexes = (models.Index(fields=("project", "entered_at"), name="paper_head_of_project"),)

    def __str__(self) -> str:
        return f"Head of papers of {self.project.code}, {self.entered_at:%Y-%m-%d}"


def held_at(rows: models.QuerySet[Any], moment: datetime) -> Any:
    """The newest entered before the moment, or else the first there is."""
    ordered = rows.order_by("entered_at", "pk")
    return ordered.filter(entered_at__lt=moment).last() or ordered.first()
