"""Dust on prepared steel, by tapes of one area."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import JudgedRecord
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText


@of_record
class DustRecord(JudgedRecord):
    """Tapes pressed on one area, each rated by quantity and size (ISO 8502-3)."""

    KIND = "dust"

    tapes = models.JSONField(help_text="`place`, `quantity` and `size_class` of each")
    tapes_wanted = models.PositiveSmallIntegerField(null=True, blank=True)
    pressed_by = ShortText(max_length=200, blank=True)
    consumable_batch = ShortText(max_length=200, blank=True)
    consumable_expires = models.DateField(null=True, blank=True)
    worst_quantity = models.PositiveSmallIntegerField()
    worst_size_class = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return f"Dust on {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
