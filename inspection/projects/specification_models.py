"""What a project was specified by: specifications, their revisions, and deviations asked for and answered."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.models import Person, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.of_project import OfProject

WITHDRAWN = ("withdrawn_at", "withdrawn_by", "withdrawn_why")


class Specification(models.Model):
    """A specification of a project, by the number and title it bears; what it says stands in its revisions."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="specifications")
    number = ShortText(max_length=60)
    title = ShortText(max_length=160)

    objects = OfProject.as_manager()

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=("project", "number"), name="specification_number_once_a_project"),
        )

    def __str__(self) -> str:
        return f"{self.number} {self.title}"


class OfSpecification(OfProject):
    path = "specification__project"


class Withdrawable(models.Model):
    """What was entered by mistake is taken back, with the reason, and stays readable."""

    withdrawn_at = models.DateTimeField(null=True, blank=True, editable=False)
    withdrawn_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )
    withdrawn_why = LongText(blank=True, default="", editable=False)

    class Meta:
        abstract = True


@of_record(may_change=WITHDRAWN)
class SpecificationRevision(Withdrawable):
    """One revision as it was received: its text such as C2, its own date, the paper, and who reviewed it."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    specification = models.ForeignKey(Specification, on_delete=models.PROTECT, related_name="revisions")
    revision = ShortText(max_length=20)
    dated = models.DateField()
    clauses = LongText(blank=True, help_text="Those that bear on coating and inspection")
    reviewer = ShortText(max_length=120, blank=True)
    note = LongText(blank=True)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    # Of this upload: the same bytes may have come elsewhere under another name.
    file_name = models.CharField(max_length=200, blank=True)
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField(default=timezone.now)

    objects = OfSpecification.as_manager()

    class Meta:
        ordering = ("dated", "added_at")
        constraints = (
            models.UniqueConstraint(
                fields=("specification", "revision"), condition=Q(withdrawn_at=None),
                name="revision_once_a_specification",
            ),
        )  # fmt: skip

    def __str__(self) -> str:
        return f"{self.specification.number} revision {self.revision}"


@of_record(may_change=WITHDRAWN)
class Deviation(Withdrawable):
    """What was asked for instead of what a specification says. A request that was a mistake is taken back."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    specification = models.ForeignKey(Specification, on_delete=models.PROTECT, related_name="deviations")
    number = models.PositiveSmallIntegerField()
    clause = ShortText(max_length=60, blank=True)
    asked = LongText()
    asked_for = ShortText(max_length=160, help_text="Who asks: name and organisation")
    asked_on = models.DateField()
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)

    objects = OfSpecification.as_manager()

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=("specification", "number"), name="deviation_number_once_a_specification"),
        )

    def __str__(self) -> str:
        return f"Deviation {self.number} of {self.specification.number}"

    @property
    def is_answered(self) -> bool:
        """Whether an answer stands that was not taken back."""
        return any(answer.withdrawn_at is None for answer in self.answers.all())


class OfDeviation(OfProject):
    path = "deviation__specification__project"


@of_record(may_change=WITHDRAWN)
class DeviationAnswer(Withdrawable):
    """What was answered to a request, by whom. One answer stands at a time; one that was wrong is taken back first."""

    class Outcome(models.TextChoices):
        ACCEPTED = "accepted", "Accepted"
        CONDITIONS = "conditions", "Accepted with conditions"
        DECLINED = "declined", "Declined"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    deviation = models.ForeignKey(Deviation, on_delete=models.PROTECT, related_name="answers")
    outcome = models.CharField(max_length=10, choices=Outcome)
    answer = LongText()
    answered_by = ShortText(max_length=160, help_text="Who answered: name and organisation")
    answered_on = models.DateField()
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)

    objects = OfDeviation.as_manager()

    class Meta:
        ordering = ("entered_at",)
        constraints = (
            models.UniqueConstraint(
                fields=("deviation",), condition=Q(withdrawn_at=None), name="one_answer_stands_a_deviation"
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_outcome_display()}: {self.deviation}"
