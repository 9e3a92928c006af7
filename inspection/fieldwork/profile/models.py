"""Surface profile: the height of the blasted steel's roughness, by locations."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inspection.fieldwork.models import Record
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText
from inspection.instruments.models import Gauge


@of_record
class ProfileRecord(Record):
    """The profile of one area, before its first coat or before a coat that goes on blasted again. Heights in nm."""

    class Method(models.TextChoices):
        """By which way the height was found. Two ways do not give the same number (ASTM D4417, stored source)."""

        MICROMETER = "micrometer", "Depth micrometer"
        TAPE = "tape", "Replica tape"
        STYLUS = "stylus", "Stylus instrument"
        COMPARATOR = "comparator", "Comparator"

    class LocationValue(models.TextChoices):
        MEAN = "mean", "Mean of the location’s readings"
        MAXIMUM = "maximum", "Greatest of the location’s readings"

    class Abrasive(models.TextChoices):
        """Which comparator its grade is told by (ISO 8503-1)."""

        GRIT = "grit", "Grit"
        SHOT = "shot", "Shot"

    class TapeGrade(models.TextChoices):
        """Which heights a replica tape is read over; µm, ends included (stored source, see `replica_tape.py`)."""

        BELOW = "below", "Below coarse, 12 to 25 µm, for checks only"
        COARSE = "coarse", "Coarse, 20 to 64 µm"
        EXTRA = "extra", "Extra coarse, 38 to 115 µm"
        ABOVE = "above", "Above extra coarse, 116 to 127 µm"

    KIND = "profile"

    method = models.CharField(max_length=10, choices=Method)
    location_value = models.CharField(max_length=7, choices=LocationValue)
    film_nm = models.PositiveIntegerField(default=0, help_text="Of a replica tape, subtracted from every reading")
    # Of a replica tape: which heights it is for, of which batch it was, and its last day.
    tape_grade = models.CharField(max_length=6, choices=TapeGrade, blank=True, default="")
    consumable_batch = ShortText(max_length=200, blank=True, default="")
    consumable_expires = models.DateField(null=True, blank=True)
    readings_a_location = models.PositiveSmallIntegerField(help_text="How many were asked for at each")
    locations = models.JSONField(help_text="`apparatus` and `readings_nm` of each, as the instrument showed them")
    calculation = models.CharField(max_length=30, help_text="Name in the standards core; empty where none judged it")
    inputs = models.JSONField(help_text="What the rule was given; giving it again gives the same verdict")
    result = models.JSONField(help_text="What the rule answered, check by check")
    # Of the values of the locations, with the film subtracted; the mean may fall between nanometres.
    mean_nm = models.PositiveIntegerField()
    lowest_nm = models.PositiveIntegerField()
    highest_nm = models.PositiveIntegerField()

    # From which thickness readings take their correction: the abrasive gives the grade, the readings are a gauge's own.
    abrasive = models.CharField(max_length=4, choices=Abrasive, blank=True, default="")
    base_metal_nm = models.JSONField(
        default=list, blank=True, help_text="Of a coating thickness gauge on the bare blasted steel"
    )
    base_metal_gauge = models.ForeignKey(
        Gauge, on_delete=models.PROTECT, null=True, blank=True, related_name="base_metal_readings"
    )

    class Meta:
        constraints = (
            models.CheckConstraint(condition=Q(method="tape") | Q(film_nm=0), name="profile_film_of_a_tape_only"),
        )

    def __str__(self) -> str:
        return f"Surface profile of {self.area.label}, {self.taken_at:%Y-%m-%d %H:%M} UTC"
