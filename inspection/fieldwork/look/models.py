"""The last look at prepared steel before its first coat."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import JudgedRecord
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText


@of_record
class LookRecord(JudgedRecord):
    """Prepared steel of one area, looked at just before it is painted."""

    class FlashRust(models.TextChoices):
        """By what is seen of the steel, how it wipes and what the cloth shows."""

        NONE = "none", "None, steel fully seen"
        LIGHT = "L", "L, light, steel seen through it"
        MODERATE = "M", "M, moderate, steel obscured"
        HEAVY = "H", "H, heavy, steel hidden"

    class Seen(models.TextChoices):
        NONE = "none", "None seen"
        SEEN = "seen", "Seen"

    KIND = "look"

    blasted_at = models.DateTimeField()
    flash_rust = models.CharField(max_length=4, choices=FlashRust)
    most_flash_rust = models.CharField(max_length=4, choices=FlashRust, blank=True)
    contamination = models.CharField(max_length=4, choices=Seen)
    condensation = models.CharField(max_length=4, choices=Seen)
    seen_as = ShortText(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"Last look at {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
