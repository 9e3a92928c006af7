"""Cleanliness: how clean the prepared steel was found, by a grade as written."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import JudgedRecord
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText


@of_record
class CleanlinessRecord(JudgedRecord):
    """The cleanliness of one area before it is painted, with what it was before."""

    class StartCondition(models.TextChoices):
        """Of the steel before it was prepared: rust grades of ISO 8501-1, or coated (ISO 8501-2)."""

        A = "A", "A, mill scale, little rust"
        B = "B", "B, rust has begun, scale flakes"
        C = "C", "C, scale rusted away, slight pits"
        D = "D", "D, rusted, general pits"
        COATED = "coated", "Previously coated"

    KIND = "cleanliness"

    wanted = ShortText(max_length=40, blank=True, help_text="Where it is not the coating system's")
    found = ShortText(max_length=40)
    start_condition = models.CharField(max_length=6, choices=StartCondition, blank=True)
    pre_cleaning = ShortText(max_length=200, blank=True)
    share_pct = models.PositiveSmallIntegerField(null=True, blank=True)
    light_lx = models.PositiveIntegerField(null=True, blank=True)
    compared_with = ShortText(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"Cleanliness of {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
