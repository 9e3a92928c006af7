"""How tables with heads of their own were told to be read, and which were stored, kept for an organisation's people."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models import Organisation, Person
from inspection.foundation.of_record import of_record


class ToldTable(models.Model):
    """How a table with this head was told to be read last; it is read so again for those of the same organisation.

    It holds what columns are and no word of any file: the head only as its digest.
    """

    organisation = models.ForeignKey(Organisation, on_delete=models.CASCADE, related_name="+")
    table = models.CharField(max_length=20)
    head_digest = models.CharField(max_length=64)
    shape = models.JSONField(help_text="What each column is, and the order of days")
    told_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    told_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("organisation", "table", "head_digest"), name="table_told_once"),
        )

    def __str__(self) -> str:
        return f"Table told on {self.told_at:%Y-%m-%d %H:%M} UTC"


@of_record
class StoredTable(models.Model):
    """That a table was stored: by its file where it came as one, and by what its rows said.

    It lets those of the same organisation be told when the same comes again. The rows themselves are what was stored.
    """

    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="+")
    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    table = models.CharField(max_length=20)
    file_digest = models.CharField(max_length=64, blank=True, default="")
    rows_digest = models.CharField(max_length=64)
    rows = models.PositiveIntegerField()
    stored_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    stored_at = models.DateTimeField(default=timezone.now)

    class Meta:
        indexes = (
            models.Index(fields=("organisation", "table", "rows_digest"), name="table_stored_by_rows"),
            models.Index(fields=("organisation", "table", "file_digest"), name="table_stored_by_file"),
        )

    def __str__(self) -> str:
        return f"Table stored on {self.stored_at:%Y-%m-%d %H:%M} UTC"
