"""Steelwork: welds, edges and surface before they are painted."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import JudgedRecord
from inspection.foundation.of_record import of_record
from inspection.projects.coating import SteelworkGrade


@of_record
class SteelworkRecord(JudgedRecord):
    """The imperfections of one area by type, and the preparation grade each reaches (ISO 8501-3)."""

    KIND = "steelwork"

    wanted_grade = models.CharField(max_length=2, choices=SteelworkGrade, blank=True)
    imperfections = models.JSONField(help_text="`place`, `type`, `grade` and `radius_mm` of each")
    grinding_passes = models.PositiveSmallIntegerField(null=True, blank=True)

    def __str__(self) -> str:
        return f"Steelwork of {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
