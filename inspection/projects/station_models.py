"""Climate stations of a project: where air and steel are read for the inspection areas around."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.db import models
from django.db.models import F, Q

from inspection.foundation.ids import new_id
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.of_project import OfProject, WithAreas

# A reading counts for so long where the project says nothing else (common practice, no source).
USUALLY_HOLDS_FOR = timedelta(hours=4)


class StationQuerySet(WithAreas):
    """Of a station, a painting contractor's people see those that serve an area of their scope."""

    from_area = "served_by__station"

    def in_use(self) -> StationQuerySet:
        return self.filter(ended_at=None)


class Station(models.Model):
    """A place at which the climate is read for areas around it. Ended, never deleted; an end is taken back.

    A reading counts for every area it serves until the next one, and no longer than `holds_for`.
    """

    class Where(models.TextChoices):
        OUTDOORS = "outdoors", "Outdoors"
        SHELTERED = "sheltered", "Under a roof or sheeting"
        INDOORS = "indoors", "Indoors or in a tank"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="stations")
    code = ShortText(max_length=20)
    name = ShortText(max_length=120)
    where = models.CharField(max_length=9, choices=Where, default=Where.OUTDOORS)
    dehumidifier = models.BooleanField(default=False, help_text="Whether the air there is dried by a machine")
    holds_for = models.DurationField(default=USUALLY_HOLDS_FOR, help_text="How long a reading counts at most")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = LongText(blank=True, default="")

    objects = StationQuerySet.as_manager()

    class Meta:
        ordering = ("project", "code")
        constraints = (
            models.UniqueConstraint(fields=("project", "code"), name="station_code_once_a_project"),
            models.CheckConstraint(condition=Q(holds_for__gt=timedelta(0)), name="station_holds_for_some_time"),
        )

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    @property
    def holds_h(self) -> float:
        return self.holds_for / timedelta(hours=1)


class StationAreaQuerySet(OfProject):
    path = "station__project"
    area_path = "area"

    def at(self, moment: Any) -> StationAreaQuerySet:
        """Those that held at the moment, which may be an expression."""
        return self.filter(Q(ended_at=None) | Q(ended_at__gt=moment), begun_at__lte=moment)


class StationArea(models.Model):
    """An area that a station serves, from one moment to another."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="serves")
    area = models.ForeignKey("projects.InspectionArea", on_delete=models.PROTECT, related_name="served_by")
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = StationAreaQuerySet.as_manager()

    class Meta:
        ordering = ("station", "area__code", "begun_at")
        constraints = (
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gt=F("begun_at")), name="station_area_ends_after_beginning"
            ),
            models.UniqueConstraint(
                fields=("station", "area"), condition=Q(ended_at=None), name="station_serves_an_area_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.station.code} for {self.area.label}"

    def holds_at(self, moment: datetime) -> bool:
        return self.begun_at <= moment and (self.ended_at is None or moment < self.ended_at)
