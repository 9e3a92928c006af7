"""Where work must stop until somebody has looked."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.admission import signed_by
from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.nonconformance.models import Nonconformance
from inspection.plan.models import Meaning, PlanLetterQuerySet, PlanLine
from inspection.projects.models import Coat, InspectionArea, OfProject, Party, Project

# How a point of the steel before its first coat says where it falls.
BARE_STEEL = "bare steel"


class OfAreas(OfProject):
    """A painting contractor's people see the points on the areas of their scope."""

    area_path = "area"


@of_record(
    may_change=(
        "coat", "title", "line", "kind", "measured", "state", "doubted_at", "fresh_from", "further", "lies",
        "passed_over_at", "passed_draft", "presented_at", "notified_for", "chain_broken",
    ),
    deletable=True,
)  # fmt: skip
class HoldPoint(models.Model):
    """One hold or witness point of the inspection and test plan: an area after a coat."""

    class Kind(models.TextChoices):
        HOLD = "hold", "Hold point"
        WITNESS = "witness", "Witness point"

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        RELEASED = "released", "Released"
        REFUSED = "refused", "Refused"
        WAIVED = "waived", "Waived"
        CLOSED = "closed", "Not applicable"

    class Further(models.TextChoices):
        """How what it requires beside its measurement stands: the worst of its requirements."""

        MET = "met", "Passes and is sound, or nothing is required"
        UNMET = "unmet", "Not yet so"
        LOST = "lost", "Fails, is in question, or there is none"

    class Lies(models.IntegerChoices):
        """Where it lies, in the order in which it wants somebody; the words of the board, the matrix and every list."""

        READY = 10, "Ready"
        DOUBT = 20, "In doubt"
        PASSED_OVER = 30, "Passed over"
        NOTIFIED = 35, "Notified"
        UNREADY = 40, "Not ready"
        REFUSED = 50, "Refused"
        RELEASED = 60, "Released"
        # Of a line that nobody holds: its evidence is complete, and nobody has to say so.
        PASSED = 65, "Passed"
        WAIVED = 70, "Waived"
        CLOSED = 90, "Not applicable"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="holdpoints")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="holdpoints")
    # The line of the plan that asks for it; none of a point planned by hand.
    line = models.ForeignKey(PlanLine, on_delete=models.PROTECT, related_name="points", null=True)
    # None of the bare steel, before the first coat.
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, related_name="holdpoints", null=True)
    # Whether it stands on the thickness measurement of its coat; if not, on what it requires alone.
    measured = models.BooleanField(default=True)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.HOLD)
    title = ShortText(max_length=160)
    # A copy of the last decision's outcome, moved only by a conditional update, so two deciders never both win.
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    # Since when a released point's evidence no longer holds; those who released it are told once, when this is set.
    doubted_at = models.DateTimeField(null=True, blank=True)
    # Once refused, only a measurement begun since counts; and since the rework, where one is said to have been done.
    fresh_from = models.DateTimeField(null=True, blank=True)
    # A copy of what follows from the requirements, kept as evidence changes; `manage.py standing` compares it.
    further = models.CharField(max_length=5, choices=Further, default=Further.MET)

    # Whether a link of its chain is not met that whoever released it did not accept: a copy of what `chain/since.py`
    # finds, kept as evidence changes; compared as well.
    chain_broken = models.BooleanField(default=False)
    # A copy of where the facts put it, kept as they change, so that a board of many reads an index; compared as well.
    lies = models.PositiveSmallIntegerField(choices=Lies, default=Lies.UNREADY)
    planned_at = models.DateTimeField(default=timezone.now)
    # When work went on over it while it held: a copy of what `passing.py` finds, kept as evidence changes.
    passed_over_at = models.DateTimeField(null=True, blank=True)
    passed_draft = models.ForeignKey(Nonconformance, on_delete=models.PROTECT, null=True, related_name="+")
    # Of a point that requires no record: when somebody on site said that it can be looked at.
    presented_at = models.DateTimeField(null=True, blank=True)
    # For when the first notice that stands calls those who inspect to it: a copy, kept by the room of notices.
    notified_for = models.DateTimeField(null=True, blank=True)

    objects = OfAreas.as_manager()

    class Meta:
        ordering = ("area__code", "coat__order")
        constraints = (
            models.UniqueConstraint(
                fields=("area", "coat", "kind"), condition=Q(line=None), name="one_point_an_area_and_coat"
            ),
            models.UniqueConstraint(fields=("area", "line"), name="one_point_an_area_and_line"),
            models.CheckConstraint(
                condition=Q(measured=False) | Q(coat__isnull=False), name="point_measured_of_a_coat"
            ),
        )
        indexes = (
            models.Index(fields=("project", "state")),
            models.Index(fields=("project", "lies", "id"), name="point_where_it_lies"),
        )

    def __str__(self) -> str:
        return f"{self.title}, {self.area.label}"

    @property
    def step(self) -> str:
        """After which coat it falls, by name; of the bare steel in words."""
        return self.coat.name if self.coat else BARE_STEEL

    @property
    def falls(self) -> str:
        return f"after {self.coat.name}" if self.coat else "before the first coat"


@of_record(deletable=True)
class Requirement(models.Model):
    """A kind of record that a point needs beside the measurement of its coat: it has to pass and be sound as well.

    Where `how_many` is more than one, so many records of the place have to; where `fresh_for` is given, the newest has
    to have begun no longer ago when the point is released.

    Of a place after a coat, or of the bare steel before the first. Gone with its point while nobody has decided.
    """

    point = models.ForeignKey(HoldPoint, on_delete=models.CASCADE, related_name="requirements")
    kind = models.CharField(max_length=12, help_text="Name of the kind of record")
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, null=True, related_name="+")
    how_many = models.PositiveSmallIntegerField(default=1)
    fresh_for = models.DurationField(null=True)

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("point", "kind"), name="requirement_once_a_point"),)

    def __str__(self) -> str:
        return f"{self.point} needs {self.kind}"


class PointLetterQuerySet(PlanLetterQuerySet):
    path = "point__project"
    area_path = "point__area"


@of_record(may_change=("ended_at", "ended_by"), deletable=True)
class PointLetter(models.Model):
    """What a party, or all of a kind, does at one point otherwise than its line says. Ended; gone with its point."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    point = models.ForeignKey(HoldPoint, on_delete=models.CASCADE, related_name="letters")
    party_kind = models.CharField(max_length=12, choices=Party.Kind)
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+", null=True)
    letter = ShortText(max_length=3)
    meaning = models.CharField(max_length=8, choices=Meaning)
    reason = LongText()
    given_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    given_at = models.DateTimeField(default=timezone.now)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    ended_at = models.DateTimeField(null=True)

    objects = PointLetterQuerySet.as_manager()

    class Meta:
        ordering = ("given_at", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("point", "party_kind"),
                condition=Q(party=None, ended_at=None),
                name="letter_once_a_point_and_kind",
            ),
            models.UniqueConstraint(
                fields=("point", "party"), condition=Q(ended_at=None), name="letter_once_a_point_and_party"
            ),
        )

    def __str__(self) -> str:
        return f"{self.letter} of {self.get_party_kind_display().lower()} at {self.point}"


@of_record
class Decision(models.Model):
    """What somebody decided on a point, and the evidence they were shown. Rows are only added."""

    class Outcome(models.TextChoices):
        RELEASED = "released", "Released"
        REFUSED = "refused", "Refused"
        PRESENTED = "presented", "Presented again"
        CLOSED = "closed", "Not applicable"
        WITHDRAWN = "withdrawn", "Refusal or waiver taken back"
        WAIVED = "waived", "Waived"
        ATTENDED = "attended", "Attended"
        ABSENT = "absent", "Did not come"
        DUE = "due", "Presented"
        NOT_DUE = "not_due", "Presentation taken back"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    point = models.ForeignKey(HoldPoint, on_delete=models.PROTECT, related_name="decisions")
    number = models.PositiveSmallIntegerField()
    outcome = models.CharField(max_length=9, choices=Outcome)
    reason = LongText(blank=True)
    # For which party it was said; none for points that no line of a plan stands behind.
    party = models.ForeignKey(Party, on_delete=models.PROTECT, null=True, related_name="decisions")
    # The state it left its point in; what was decided before that was kept follows `STATE_AFTER`.
    left = models.CharField(max_length=8, choices=HoldPoint.State, null=True)  # noqa: DJ001 - added to a table of record
    # Where a point is presented again after rework: when that was done, and by whom.
    reworked_at = models.DateTimeField(null=True, blank=True)
    reworked_by = ShortText(max_length=200, null=True, blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="decisions")
    signed_as = models.CharField(max_length=240, help_text="Name and organisation as they were then")
    admitted = models.TextField(  # noqa: DJ001 - added to a table of record
        null=True, help_text="How whoever signed was admitted, as known then: invited by whom, confirmed by whom, when"
    )
    at = models.DateTimeField(default=timezone.now)
    record = models.ForeignKey(Record, on_delete=models.PROTECT, null=True, related_name="decisions")
    evidence = models.JSONField(help_text="The evidence as shown: record, verdict, standing, climate")
    evidence_digest = models.CharField(max_length=64)

    class Meta:
        ordering = ("point", "number")
        constraints = (models.UniqueConstraint(fields=("point", "number"), name="decision_number_once_a_point"),)

    @property
    def signed(self) -> str:
        return signed_by(self.signed_as, self.admitted)

    @property
    def left_as(self) -> str:
        """The state in which it left its point."""
        return self.left or STATE_AFTER[self.Outcome(self.outcome)]


@of_record
class DecidedOn(models.Model):
    """A further record that a decision rests on: what its point required, and what its chain names."""

    decision = models.ForeignKey(Decision, on_delete=models.PROTECT, related_name="further")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("decision", "record"), name="further_record_once_a_decision"),)

    def __str__(self) -> str:
        return f"{self.decision_id} rests on {self.record_id}"


# The state a decision leaves its point in, where one party alone decides.
STATE_AFTER = {
    Decision.Outcome.RELEASED: HoldPoint.State.RELEASED,
    Decision.Outcome.REFUSED: HoldPoint.State.REFUSED,
    Decision.Outcome.PRESENTED: HoldPoint.State.WAITING,
    Decision.Outcome.WITHDRAWN: HoldPoint.State.WAITING,
    Decision.Outcome.CLOSED: HoldPoint.State.CLOSED,
    Decision.Outcome.WAIVED: HoldPoint.State.WAIVED,
}
