"""A recall: a certificate withdrawn or corrected, with all it touched, as one step; and one asked of a worker."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText
from inspection.instruments.models import Certificate


@of_record
class Recall(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="recalls")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = LongText()
    touched = models.JSONField(help_text="Counts and ids of what changed, as found when it was done")

    class Meta:
        ordering = ("-at",)


class AskedRecall(models.Model):
    """A recall that touches too much to be done while somebody waits for the page; a worker carries it out."""

    class Way(models.TextChoices):
        WITHDRAWN = "withdrawn", "Withdraw"
        CORRECTED = "corrected", "Correct"
        REINSTATED = "reinstated", "Reinstate"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="+")
    way = models.CharField(max_length=10, choices=Way)
    # Standard, value and expanded uncertainty in nm of each value to be corrected.
    values = models.JSONField(default=list)
    reason = LongText()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True)
    done = models.OneToOneField(Recall, on_delete=models.PROTECT, null=True, related_name="asked")
    # Why it could not be done; empty while it is waited for, and when it was done.
    fault = models.TextField(blank=True)

    class Meta:
        ordering = ("-at",)
        constraints = (
            models.UniqueConstraint(
                fields=("certificate",), condition=Q(finished_at=None), name="one_asked_recall_a_certificate"
            ),
            models.CheckConstraint(
                condition=Q(done=None) | (Q(finished_at__isnull=False) & Q(fault="")), name="asked_recall_done_or_not"
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_way_display()} {self.certificate}"
