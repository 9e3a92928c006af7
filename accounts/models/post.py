"""Outgoing mail as rows: written in the transaction that causes it, sent once by a task."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models
from django.utils import timezone

from accounts.models.people import Person
from inspection.foundation.ids import new_id

# A sweep takes letters every half minute; what waits longer than this meets an obstacle.
LATE_AFTER = timedelta(minutes=10)


class LetterQuerySet(models.QuerySet["Letter"]):
    def waiting(self) -> LetterQuerySet:
        """Neither sent nor set aside."""
        return self.filter(sent_at=None, set_aside_at=None)

    def late(self, at: datetime) -> LetterQuerySet:
        """Waiting for longer than the next sweep: something stood in the way."""
        return self.waiting().filter(models.Q(attempts__gt=0) | models.Q(written_at__lt=at - LATE_AFTER))


class Letter(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    kind = models.CharField(max_length=40)
    about = models.CharField(max_length=120, help_text="The object it is about, and the period where it recurs.")
    recipient = models.EmailField(max_length=254)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="letters")
    # The one project it speaks of, if it does: who leaves that is sent nothing more of it.
    project_id = models.UUIDField(null=True, blank=True)
    subject = models.CharField(max_length=200)
    body = models.TextField()
    written_at = models.DateTimeField(default=timezone.now)
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    set_aside_at = models.DateTimeField(null=True, blank=True)
    next_try_at = models.DateTimeField(default=timezone.now)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.TextField(blank=True)

    objects = LetterQuerySet.as_manager()

    class Meta:
        ordering = ("written_at",)
        indexes = (
            models.Index(
                fields=("next_try_at",), condition=models.Q(sent_at=None, set_aside_at=None), name="letters_waiting"
            ),
        )
        constraints = (
            # Once each: the same letter about the same thing is never written twice to one address.
            models.UniqueConstraint(fields=("kind", "about", "recipient"), name="one_letter_each"),
        )

    def __str__(self) -> str:
        return f"{self.subject} to {self.recipient}"
