"""How far each record can be relied on: a stored copy of what follows from facts, kept true by actions."""

from __future__ import annotations

from django.db import models

from inspection.fieldwork.models import Record
from inspection.instruments.models import Verification


class Standing(models.Model):
    class State(models.TextChoices):
        SOUND = "sound", "Sound"
        PROVISIONAL = "provisional", "Provisional"
        IN_QUESTION = "in_question", "In question"

    record = models.OneToOneField(Record, on_delete=models.PROTECT, primary_key=True, related_name="standing")
    state = models.CharField(max_length=11, choices=State)
    reasons = models.JSONField(
        default=list, help_text="Sentences, one a fact that stands against it or is still awaited"
    )
    opening = models.ForeignKey(Verification, on_delete=models.PROTECT, null=True, related_name="opens")
    closing = models.ForeignKey(Verification, on_delete=models.PROTECT, null=True, related_name="closes")
    # When the closing check falls due; a record without one is looked at again by the sweep once that is past.
    due_at = models.DateTimeField()
    computed_at = models.DateTimeField()

    class Meta:
        indexes = (
            models.Index(fields=("state", "due_at")),
            # What the sweep asks for every half minute: few rows, however many records there are.
            models.Index(
                fields=("due_at",),
                condition=models.Q(closing=None, computed_at__lt=models.F("due_at")),
                name="standing_waiting_for_a_check",
            ),
        )
