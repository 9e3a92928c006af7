"""Calendar links, and who was told that something runs out."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from accounts.models import Letter, Person
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import ShortText


class CalendarLink(models.Model):
    """A private address under which a calendar program reads what runs out. Only the digest of its token is kept."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="calendar_links")
    name = ShortText(max_length=60)
    token_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-made_at",)

    def __str__(self) -> str:
        return f"Calendar link {self.name} of {self.person}"


@of_record
class Reminded(models.Model):
    """One person was told, in one letter, that one thing had come to one threshold. Never told again."""

    class Kind(models.TextChoices):
        CERTIFICATE = "certificate", "Certificate"
        QUALIFICATION = "qualification", "Qualification"
        EQUIPMENT = "equipment", "Equipment without a certificate"

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=13, choices=Kind)
    thing = models.UUIDField()
    due = models.DateField(help_text="The day on which it runs or ran out")
    threshold = models.IntegerField(help_text="Days left that were reached; negative: days overdue, told as escalated")
    day = models.DateField(help_text="The day of the letter")
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("thing", "kind", "due", "threshold", "person"), name="told_once_each"),
        )

    def __str__(self) -> str:
        return f"{self.person} told of {self.kind} {self.thing} on {self.day:%Y-%m-%d}"
