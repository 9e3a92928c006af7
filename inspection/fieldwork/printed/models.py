"""A printed sheet: who printed it, when, for which areas, and what was planned for each then."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText
from inspection.projects.models import Coat, InspectionArea, OfProject, Project


@of_record(may_change=("withdrawn_at", "withdrawn_by", "withdrawn_why"))
class PrintedSheet(models.Model):
    """One printing, of one area or of many. Set aside with a reason where the paper is lost or was not wanted."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="printed_sheets")
    code = models.CharField(max_length=6, unique=True, help_text="Short, to be typed off the paper")
    printed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    printed_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawn_why = LongText(blank=True)

    objects = OfProject.as_manager()

    class Meta:
        ordering = ("-printed_at", "-pk")
        indexes = (models.Index(fields=("project", "-printed_at"), name="printed_of_project"),)

    def __str__(self) -> str:
        return f"Printed sheet {self.code}"


class OfSheet(OfProject):
    path = "sheet__project"


@of_record
class PrintedArea(models.Model):
    """One area of a sheet after one coat, a page or more of paper. Its id is that of the record it becomes."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    sheet = models.ForeignKey(PrintedSheet, on_delete=models.PROTECT, related_name="areas")
    number = models.PositiveSmallIntegerField(help_text="From 1, in the order of the paper")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="+")
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, related_name="+")
    plan = models.JSONField(help_text="What was planned for it when it was printed; thicknesses in nanometres")

    objects = OfSheet.as_manager()

    class Meta:
        ordering = ("sheet", "number")
        constraints = (
            models.UniqueConstraint(fields=("sheet", "number"), name="printed_number_once_a_sheet"),
            models.UniqueConstraint(fields=("sheet", "area", "coat"), name="printed_place_once_a_sheet"),
        )

    def __str__(self) -> str:
        return f"{self.code}: {self.area.label} after {self.coat.name}"

    @property
    def code(self) -> str:
        """As it stands on the paper."""
        return f"{self.sheet.code}-{self.number}"
