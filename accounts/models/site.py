"""Which installation this database is at work in."""

from __future__ import annotations

from uuid import uuid4

from django.db import models
from django.utils import timezone


class Installation(models.Model):
    """The one row says where the records are kept; a file beside the database says the same. In a copy they differ."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.UUIDField(default=uuid4)
    since = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(id=1), name="one_installation"),)

    def __str__(self) -> str:
        return str(self.name)
