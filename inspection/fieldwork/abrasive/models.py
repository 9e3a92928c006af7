"""Abrasive, by delivery or batch."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import JudgedRecord
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText


@of_record
class AbrasiveRecord(JudgedRecord):
    """One sample of abrasive, at the area that is blasted with it: conductivity, oil in the vial, papers."""

    class Use(models.TextChoices):
        NEW = "new", "New"
        RECYCLED = "recycled", "Recycled"

    class Method(models.TextChoices):
        """By volume or by weight; one gives no figure of the other (ASTM D4940, partial text)."""

        D4940 = "D4940", "ASTM D4940, by volume"
        ISO_11127 = "ISO11127-6", "ISO 11127-6, by weight"

    class Limit(models.TextChoices):
        AB_1 = "AB1", "SSPC-AB 1, 1000 µS/cm by D4940"
        ISO_11126 = "ISO11126", "ISO 11126, 250 µS/cm by ISO 11127-6"
        DECLARED = "declared", "As declared below"

    class Unit(models.TextChoices):
        US_CM = "us_cm", "µS/cm"
        MS_M = "ms_m", "mS/m"

    class Oil(models.TextChoices):
        NONE = "none", "None seen"
        SEEN = "seen", "Seen"

    KIND = "abrasive"

    product = ShortText(max_length=200)
    delivery = ShortText(max_length=200)
    use = models.CharField(max_length=8, choices=Use)
    method = models.CharField(max_length=10, choices=Method)
    conductivity_unit = models.CharField(max_length=5, choices=Unit)
    water = models.DecimalField(max_digits=6, decimal_places=2)
    leachates = models.JSONField(help_text="`place` and `conductivity` of each, as read")
    limit = models.CharField(max_length=8, choices=Limit)
    limit_us_cm = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    oil = models.CharField(max_length=4, choices=Oil, blank=True)
    papers = ShortText(max_length=200, blank=True)
    mean_us_cm = models.FloatField()

    def __str__(self) -> str:
        return f"Abrasive at {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
