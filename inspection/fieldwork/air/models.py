"""Compressed air, by a collector held in it."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import JudgedRecord
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText


@of_record
class AirRecord(JudgedRecord):
    """One test of the air of one compressor (ASTM D4285), at the area that is worked with it."""

    class Seen(models.TextChoices):
        NO = "no", "None seen"
        YES = "yes", "Seen"

    KIND = "air"

    compressor = ShortText(max_length=200)
    outlet = ShortText(max_length=200, blank=True)
    oil = models.CharField(max_length=3, choices=Seen)
    water = models.CharField(max_length=3, choices=Seen)
    held_s = models.PositiveIntegerField()
    distance_cm = models.DecimalField(max_digits=5, decimal_places=1)
    running_h = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    every_h = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    consumable_batch = ShortText(max_length=200, blank=True)
    consumable_expires = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return f"Compressed air at {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
