"""Files of record, named by their digest, outside the static tree."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models.people import Person


class StoredFile(models.Model):
    """What is known of a stored content. Two uploads of the same bytes share one row.

    The name is the one it came under first, for whoever runs the site. What an upload was called belongs to the record
    it came with: the first may have been another client's.
    """

    digest = models.CharField(max_length=64, primary_key=True)
    size = models.PositiveBigIntegerField()
    media_type = models.CharField(max_length=100)
    name = models.CharField(max_length=200)
    stored_at = models.DateTimeField(default=timezone.now)
    stored_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")

    def __str__(self) -> str:
        return self.name
