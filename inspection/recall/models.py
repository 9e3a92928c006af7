"""A recall: a certificate withdrawn or corrected, or a batch of paint withdrawn, with all it touched, as one step.

And one of a certificate that was asked of a worker.
"""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText
from inspection.instruments.models import Certificate
from inspection.works.models import PaintBatch


class RecallQuerySet(models.QuerySet["Recall"]):
    def visible_to(self, person: Person) -> Self:
        """Those of the certificates and batches that the person may see."""
        seen = Certificate.objects.visible_to(person).order_by().values("pk")
        batches = PaintBatch.objects.visible_to(person).order_by().values("pk")
        return self.filter(Q(certificate__in=seen) | Q(batch__in=batches))


@of_record
class Recall(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    # Of one of the two.
    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, null=True, related_name="recalls")
    batch = models.ForeignKey(PaintBatch, on_delete=models.PROTECT, null=True, related_name="recalls")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    reason = LongText()
    touched = models.JSONField(help_text="Counts and ids of what changed, as found when it was done")

    objects = RecallQuerySet.as_manager()

    class Meta:
        ordering = ("-at",)
        constraints = (
            models.CheckConstraint(
                condition=Q(certificate=None, batch__isnull=False) | Q(certificate__isnull=False, batch=None),
                name="recall_of_a_certificate_or_a_batch",
            ),
        )

    def __str__(self) -> str:
        return f"Recall of {self.of}"

    @property
    def of(self) -> Certificate | PaintBatch | None:
        return self.batch if self.batch_id else self.certificate

    @property
    def kind(self) -> str:
        """What it is of, as the trace names it."""
        return "batch" if self.batch_id else "certificate"

    @property
    def way(self) -> str:
        return str(self.touched["way"])


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
