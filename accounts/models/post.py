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
    # An appointment that goes with it (RFC 5545), to be put into the reader's calendar.
    calendar = models.TextField(blank=True, default="")
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


class TidingQuerySet(models.QuerySet["Tiding"]):
    def waiting(self) -> TidingQuerySet:
        """In no digest yet."""
        return self.filter(letter=None, set_aside_at=None)


class Tiding(models.Model):
    """One thing that a person chose to hear of in a digest: each thing once, in one letter."""

    kind = models.CharField(max_length=40)
    about = models.CharField(max_length=120)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="tidings")
    project_id = models.UUIDField(help_text="The one it speaks of; it is told only to who still sees that")
    subject = models.CharField(max_length=200)
    body = models.TextField()
    calendar = models.TextField(blank=True, default="", help_text="As that of a letter")
    written_at = models.DateTimeField(default=timezone.now)
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, null=True, related_name="tidings")
    set_aside_at = models.DateTimeField(null=True, blank=True)

    objects = TidingQuerySet.as_manager()

    class Meta:
        ordering = ("written_at", "pk")
        indexes = (
            models.Index(
                fields=("person",), condition=models.Q(letter=None, set_aside_at=None), name="tidings_waiting"
            ),
        )
        constraints = (models.UniqueConstraint(fields=("kind", "about", "person"), name="one_tiding_each"),)

    def __str__(self) -> str:
        return f"{self.subject} to {self.person}"


class PostChoice(models.Model):
    """How a person hears of one kind of thing; without a row, as the kind itself says."""

    class Way(models.TextChoices):
        AT_ONCE = "at_once", "A letter at once"
        DIGEST = "digest", "In one letter an hour"
        PAGE = "page", "On the pages only"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="post_choices")
    kind = models.CharField(max_length=40)
    way = models.CharField(max_length=8, choices=Way)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("person", "kind"), name="one_choice_a_kind"),)

    def __str__(self) -> str:
        return f"{self.kind} to {self.person}: {self.get_way_display()}"
