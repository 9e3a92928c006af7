"""Questions about the readings of a record, what was answered, and the prints by which repeated sequences are found."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.utils import timezone

from accounts.models import Person, Role
from inspection.fieldwork.models import Record
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText
from inspection.projects.models import Project


class QuestionQuerySet(models.QuerySet):
    def visible_to(self, person: Person) -> Self:
        """The quality manager's alone, and never of what they took themselves; to anybody else there is none."""
        if not person.has_role(Role.QUALITY_MANAGER) or not person.sees_every_project:
            return self.none()
        return self.exclude(record__taken_by=person).exclude(other__taken_by=person)


@of_record(may_change=("state",))
class ReadingQuestion(models.Model):
    """One question about one record. What it was asked of stands in `figures`, from which its sentences are made."""

    class Kind(models.TextChoices):
        REPEATED = "repeated", "The same readings elsewhere"
        SCATTER = "scatter", "Less scatter than the gauge’s own"
        PLACES = "places", "In two places at once"
        DIGITS = "digits", "Last digits"

    class State(models.TextChoices):
        OPEN = "open", "Open"
        EXPLAINED = "explained", "Explained"
        TAKEN_UP = "taken_up", "Taken up"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="+")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey(Record, on_delete=models.PROTECT, null=True, related_name="+")
    kind = models.CharField(max_length=8, choices=Kind)
    figures = models.JSONField(help_text="The arithmetic, by name")
    state = models.CharField(max_length=9, choices=State, default=State.OPEN)
    asked_at = models.DateTimeField(default=timezone.now)

    objects = QuestionQuerySet.as_manager()

    class Meta:
        ordering = ("-asked_at", "-id")
        indexes = (models.Index(fields=("state", "-asked_at", "-id"), name="reading_question_by_state"),)
        constraints = (models.UniqueConstraint(fields=("record", "kind"), name="one_question_of_a_kind_a_record"),)

    def __str__(self) -> str:
        # Nothing of whom or what it is about: the journal keeps this.
        return f"Question about readings, {self.asked_at:%Y-%m-%d}"


@of_record
class ReadingAnswer(models.Model):
    """What the quality manager made of a question. Rows are only added; the newest counts."""

    class Outcome(models.TextChoices):
        EXPLAINED = "explained", "Explained"
        TAKEN_UP = "taken_up", "Taken up"
        OPEN = "open", "Open again"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    question = models.ForeignKey(ReadingQuestion, on_delete=models.PROTECT, related_name="answers")
    outcome = models.CharField(max_length=9, choices=Outcome)
    text = LongText(help_text="What explains it, what is done about it, or why it is open again")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.get_outcome_display()}, {self.at:%Y-%m-%d}"

    @property
    def by_name(self) -> str:
        return self.by.name_at(self.at)


class ReadingPrint(models.Model):
    """A print of six readings in a row, and where in the record they begin; derived, and made again at will."""

    record = models.ForeignKey(Record, on_delete=models.CASCADE, related_name="+")
    code = models.BigIntegerField()
    first = models.PositiveIntegerField()

    class Meta:
        indexes = (models.Index(fields=("code",), include=("record", "first"), name="reading_print_code"),)

    def __str__(self) -> str:
        return f"Print at {self.first}"


class ExaminedRecord(models.Model):
    """A record whose readings were looked through: the row is the truth, and what has none waits."""

    record = models.OneToOneField(Record, on_delete=models.CASCADE, primary_key=True, related_name="examined")
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"Examined {self.at:%Y-%m-%d}"
