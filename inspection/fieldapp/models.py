"""Acts that the field app sent and that were done, so that the same sent again is not done twice."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models import Person


class DoneOnce(models.Model):
    """One request that was carried out under the key of its sender; what it said is kept as a digest alone."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    key = models.UUIDField()
    digest = models.CharField(max_length=64)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("person", "key"), name="done_once"),)
