"""Soluble salts on prepared steel, by patches of one area."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import JudgedRecord
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText
from inspection.projects.coating import SaltsAs


@of_record
class SaltsRecord(JudgedRecord):
    """Patches of one area (ISO 8502-6), by the conductivity of what they drew out of it (ISO 8502-9)."""

    class Unit(models.TextChoices):
        US_CM = "us_cm", "µS/cm"
        MS_M = "ms_m", "mS/m"

    class JudgedBy(models.TextChoices):
        EACH = "each", "Each patch"
        MEAN = "mean", "Mean of the patches"

    class Reference(models.TextChoices):
        """To which temperature the meter brings the conductivity, or it is brought."""

        C20 = "20", "20 °C"
        C25 = "25", "25 °C"

    KIND = "salts"

    conductivity_unit = models.CharField(max_length=5, choices=Unit)
    blank = models.DecimalField(max_digits=6, decimal_places=2)
    patches = models.JSONField(help_text="`place`, `conductivity`, `solution_c` and `lost` of each, as read")
    volume_ml = models.DecimalField(max_digits=6, decimal_places=2)
    patch_cm2 = models.DecimalField(max_digits=7, decimal_places=2)
    reference_c = models.CharField(max_length=2, choices=Reference)
    coefficient_pct_per_k = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    salt = models.CharField(max_length=8, choices=SaltsAs, blank=True)
    judged_by = models.CharField(max_length=4, choices=JudgedBy, blank=True)
    tests_wanted = models.PositiveSmallIntegerField(null=True, blank=True)
    minutes = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    patch_batch = ShortText(max_length=200, blank=True)
    consumable_expires = models.DateField(null=True, blank=True)
    # As the limit is expressed; empty where no patch has a result.
    mean_mg_m2 = models.FloatField(null=True)
    highest_mg_m2 = models.FloatField(null=True)

    def __str__(self) -> str:
        return f"Soluble salts on {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
