"""Of whom the company demands a second factor at sign-in."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models.people import Person
from inspection.foundation.of_record import of_record


@of_record
class FactorRule(models.Model):
    """One choice of the company; the newest is in force, and none is changed afterwards."""

    roles = models.JSONField(default=list)
    chosen_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    chosen_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return "Who needs a second factor"
