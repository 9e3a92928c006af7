"""How tables with heads of their own were told to be read, kept for the people of an organisation."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models import Organisation, Person


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
