"""What a data logger noted at a climate station: one row a file, with its samples as compressed columns."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models import Person, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import Station
from inspection.projects.of_project import WithAreas


class OfStation(WithAreas):
    """Rows of a station: a painting contractor's people see them where it serves an area of their scope."""

    path = "station__project"
    from_area = "served_by__station__logger_files"

    def that_count(self) -> OfStation:
        """Without those withdrawn."""
        return self.filter(withdrawn_at=None)


@of_record(may_change=("withdrawn_at", "withdrawn_why"))
class LoggerFile(models.Model):
    """A logger's file as it was read: kept whole, by its digest once a station; withdrawn and brought back, never lost.

    `samples` holds the columns of `samples.py`, compressed: 100,000 rows take about a megabyte and one read.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="logger_files")
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    # Of this upload: the same bytes may have come elsewhere under another name.
    file_name = ShortText(max_length=200)
    columns = models.JSONField(help_text="Which quantity was read from which head of the file")
    shape = models.JSONField(
        null=True, blank=True, default=None,
        help_text="How its lines and columns were told to be read, with the order of days; null where its head says it",
    )  # fmt: skip
    time_zone = models.CharField(max_length=60, help_text="Of the times written without an offset")
    longest_gap = models.DurationField(help_text="What lies further apart is a gap, in which nothing is known")
    rows = models.PositiveIntegerField()
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    samples = models.BinaryField()
    received_at = models.DateTimeField(default=timezone.now)
    received_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    note = LongText(blank=True, default="")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_why = LongText(blank=True, default="")

    objects = OfStation.as_manager()

    class Meta:
        ordering = ("-first_at", "-id")
        indexes = (models.Index(fields=("station", "first_at"), name="logger_file_of_station"),)
        constraints = (
            models.UniqueConstraint(fields=("station", "file"), name="logger_file_once_a_station"),
            models.CheckConstraint(condition=models.Q(last_at__gt=models.F("first_at")), name="logger_file_lasts"),
        )

    def __str__(self) -> str:
        return f"{self.file_name}, {self.station.code}"
