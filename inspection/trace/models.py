"""A recall: a certificate withdrawn or corrected, with all it touched, as one step."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.ids import new_id
from accounts.models import Person
from inspection.instruments.models import Certificate


class Recall(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="recalls")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = models.TextField()
    touched = models.JSONField(help_text="Counts and ids of what changed, as found when it was done")

    class Meta:
        ordering = ("-at",)
