"""The journal: who did what, when, and why. Rows are only added; a database trigger refuses the rest."""

from __future__ import annotations

from django.db import models

from accounts.models.people import Person
from inspection.foundation.of_record import of_record


@of_record
class JournalEntry(models.Model):
    at = models.DateTimeField()
    actor = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    # As it was then: the person may change their name later.
    actor_text = models.CharField(max_length=200)
    verb = models.CharField(max_length=60)
    object_type = models.CharField(max_length=60)
    object_id = models.CharField(max_length=64)
    object_text = models.CharField(max_length=300)
    project_id = models.UUIDField(null=True)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    reason = models.TextField(blank=True)
    request_id = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64)

    class Meta:
        indexes = (
            models.Index(fields=("object_type", "object_id")),
            models.Index(fields=("project_id", "id")),
        )

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor_text} {self.verb} {self.object_text}"


@of_record
class ChainLink(models.Model):
    """An entry's place in the chain: its code rests on the code before it, under a key that is not in the database."""

    number = models.PositiveBigIntegerField(primary_key=True)
    entry = models.OneToOneField(JournalEntry, on_delete=models.PROTECT, related_name="link")
    key = models.CharField(max_length=12, help_text="Name of the key")
    code = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"{self.number}:{self.code[:12]}"
