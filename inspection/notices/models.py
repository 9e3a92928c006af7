"""Notices of inspection: of which points, when and where, and what became of them."""

from __future__ import annotations

from typing import Self

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.holdpoints.models import HoldPoint
from inspection.plan.models import PlanLine
from inspection.projects.models import InspectionArea, OfProject, Party, Project


class NoticeQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """What their own party gave; of the company's, those of which every place lies in their scope."""
        areas = InspectionArea.objects.visible_to(person).order_by()
        outside = NoticePlace.objects.filter(notice=OuterRef("pk")).exclude(area__in=areas.values("pk"))
        theirs = Q(party__organisation=person.organisation_id)
        whole = ~Q(party__kind=Party.Kind.CONTRACTOR) & ~Exists(outside)
        return self.filter(theirs | whole, project__in=Project.objects.visible_to(person))

    def standing(self) -> Self:
        return self.filter(state=Notice.State.STANDING)


@of_record(
    may_change=("state", "begins_at", "ends_at", "meeting_place", "sequence", "short_hours", "due_by"),
)
class Notice(models.Model):
    """That an inspection is to be held. What was given stays; its steps say what became of it.

    The columns that may change are copies of what its last steps say.
    """

    class State(models.TextChoices):
        STANDING = "standing", "Standing"
        WITHDRAWN = "withdrawn", "Withdrawn"
        HELD = "held", "Held"
        PARTLY = "partly", "Partly held"
        NOT_HELD = "not_held", "Not held"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="notices")
    number = models.PositiveIntegerField(help_text="Counted in its project")
    # For which party it was given: a painting contractor, or the company that inspects.
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_as = models.CharField(max_length=240, help_text="Name and organisation as they were then")
    given_at = models.DateTimeField(default=timezone.now)
    note = LongText(blank=True)
    # Of its areas, each once, as they were measured then; and what the sender said they are, where they did.
    area_m2 = models.DecimalField(max_digits=11, decimal_places=2)
    told_m2 = models.DecimalField(
        max_digits=11, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0.01)]
    )
    sent_digest = models.CharField(max_length=64)
    state = models.CharField(max_length=9, choices=State, default=State.STANDING)
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    meeting_place = ShortText(max_length=160)
    # How often what its readers were told of time and place has changed; RFC 5545 calls it so.
    sequence = models.PositiveIntegerField(default=0)
    # By how many working hours it was short when it was given or moved last, and by when it should have been.
    short_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    due_by = models.DateTimeField(null=True, blank=True)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering = ("begins_at", "pk")
        constraints = (
            models.UniqueConstraint(fields=("project", "number"), name="notice_number_once_a_project"),
            models.CheckConstraint(condition=Q(ends_at__gt=models.F("begins_at")), name="notice_begins_before_end"),
        )
        indexes = (
            models.Index(fields=("project", "begins_at"), name="notices_of_a_project"),
            models.Index(fields=("begins_at",), name="notices_by_time"),
        )

    def __str__(self) -> str:
        return f"Notice N-{self.number:03d}"

    @property
    def is_short(self) -> bool:
        return bool(self.short_hours)


class OfNotice(OfProject):
    """Rows of a notice; a painting contractor's people see those of the notices they see."""

    path = "notice__project"

    def in_scope_of(self, person: Person) -> Self:
        return self.filter(notice__in=Notice.objects.visible_to(person))


@of_record
class NoticeParty(models.Model):
    """A party to which a notice is given: one that holds or witnesses some of its points."""

    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, related_name="parties")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="notices")

    objects = OfNotice.as_manager()

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("notice", "party"), name="notice_once_a_party"),)

    def __str__(self) -> str:
        return f"{self.notice} to {self.party}"


@of_record(may_change=("point",))
class NoticePlace(models.Model):
    """One point of a notice: a line at an area. A point that is taken away later leaves its place here."""

    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, related_name="places")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(HoldPoint, on_delete=models.SET_NULL, related_name="notified", null=True)
    # None of a point that was planned by hand.
    line = models.ForeignKey(PlanLine, on_delete=models.PROTECT, related_name="+", null=True)
    title = ShortText(max_length=160)

    objects = OfNotice.as_manager()

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("notice", "point"), name="point_once_a_notice"),)

    def __str__(self) -> str:
        return f"{self.title}, {self.area.label}"


@of_record
class NoticeStep(models.Model):
    """One thing said of a notice. Rows are only added."""

    class What(models.TextChoices):
        GIVEN = "given", "Given"
        MOVED = "moved", "Moved"
        WITHDRAWN = "withdrawn", "Withdrawn"
        RESTORED = "restored", "Withdrawal taken back"
        ACKNOWLEDGED = "acknowledged", "Acknowledged"
        UNACKNOWLEDGED = "unacknowledged", "Acknowledgement taken back"
        HELD = "held", "Held"
        PARTLY = "partly", "Partly held"
        NOT_HELD = "not_held", "Not held"
        REOPENED = "reopened", "Outcome taken back"

    class Why(models.TextChoices):
        """Why an inspection was not held."""

        NOT_READY = "not_ready", "The work was not ready"
        NOBODY = "nobody", "Nobody came"
        POSTPONED = "postponed", "Postponed"
        OTHER = "other", "Another reason"

    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=14, choices=What)
    # For which party it was said.
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_as = models.CharField(max_length=240, help_text="Name and organisation as they were then")
    at = models.DateTimeField(default=timezone.now)
    # Time and place, where it says them; and how much notice that is.
    begins_at = models.DateTimeField(null=True)
    ends_at = models.DateTimeField(null=True)
    meeting_place = ShortText(max_length=160, blank=True)
    asked = ShortText(max_length=60, blank=True, help_text="The lead time asked for, where it is short")
    short_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    due_by = models.DateTimeField(null=True)
    why = models.CharField(max_length=9, choices=Why, blank=True)
    reason = LongText(blank=True)

    objects = OfNotice.as_manager()

    class Meta:
        ordering = ("notice", "number")
        constraints = (models.UniqueConstraint(fields=("notice", "number"), name="step_number_once_a_notice"),)

    def __str__(self) -> str:
        return f"{self.notice}: {self.get_what_display()}"


@of_record
class HeldPlace(models.Model):
    """A place of a notice at which the inspection was held, where it was held at some only."""

    step = models.ForeignKey(NoticeStep, on_delete=models.PROTECT, related_name="held")
    place = models.ForeignKey(NoticePlace, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("step", "place"), name="held_place_once_a_step"),)

    def __str__(self) -> str:
        return f"{self.place}, {self.step}"
