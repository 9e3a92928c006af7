"""What was found not to conform, and what was done and decided about it."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Self

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.admission import signed_by
from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.instruments.models import Gauge
from inspection.projects.models import Coat, InspectionArea, OfProject, Party, Project
from inspection.works.lots.models import Lot
from inspection.works.paint.models import PaintBatch


class NonconformanceQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """On areas, lots and batches of their scope, and what is asked of them; of drafts only their own people's."""
        within = (
            Q(area__in=InspectionArea.objects.visible_to(person).order_by().values("pk"))
            | Q(lot__in=Lot.objects.visible_to(person).order_by().values("pk"))
            | Q(batch__in=PaintBatch.objects.visible_to(person).order_by().values("pk"))
            | Q(asked__in=Party.objects.of_contractor(person).order_by().values("pk"))
        )
        ours = Q(raised_by__organisation=person.organisation_id)
        projects = Project.objects.visible_to(person).order_by().values("pk")
        return self.filter(ours | (within & ~Q(state=Nonconformance.State.DRAFT)), project__in=projects)


@of_record(may_change=("state", "repair", "closed_by", "closed_at", "closing_record"))
class Nonconformance(models.Model):
    class State(models.TextChoices):
        # Drawn up by the platform; holds nothing back until somebody issues it.
        DRAFT = "draft", "Draft"
        OPEN = "open", "Open"
        CLOSED = "closed", "Closed"

    class Against(models.TextChoices):
        """What was found not to conform. Only what is against an area holds points back."""

        AREA = "area", "An area after a coat"
        LOT = "lot", "A lot"
        BATCH = "batch", "A paint batch"
        INSTRUMENT = "instrument", "An instrument"
        QUALIFICATION = "qualified", "A person’s qualification"
        PROCEDURE = "procedure", "A procedure"
        DOCUMENT = "document", "A document"
        PROJECT = "project", "The project"

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="nonconformances")
    number = models.PositiveIntegerField()
    against = models.CharField(max_length=10, choices=Against, default=Against.AREA)
    area = models.ForeignKey(
        InspectionArea, on_delete=models.PROTECT, null=True, blank=True, related_name="nonconformances"
    )
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, null=True, blank=True, related_name="nonconformances")
    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="nonconformances",
        help_text="In the version that stood when it was raised",
    )  # fmt: skip
    batch = models.ForeignKey(
        PaintBatch, on_delete=models.PROTECT, null=True, blank=True, related_name="nonconformances"
    )
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, null=True, blank=True, related_name="nonconformances")
    named = ShortText(
        max_length=200, blank=True, default="", help_text="Whose qualification, which procedure or which document"
    )
    asked = models.ForeignKey(
        Party, on_delete=models.PROTECT, null=True, blank=True, related_name="nonconformances",
        help_text="The party that is to answer it",
    )  # fmt: skip
    # Whether it began as a draft, which somebody issues with their signature.
    drafted = models.BooleanField(default=False)
    title = ShortText(max_length=200)
    description = LongText(blank=True)
    record = models.ForeignKey(Record, on_delete=models.PROTECT, null=True, related_name="nonconformances")
    raised_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    raised_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=6, choices=State, default=State.OPEN)
    repair = LongText(blank=True, help_text="What was done about it, as its dispositions say")
    closed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closing_record = models.ForeignKey(Record, on_delete=models.PROTECT, null=True, related_name="+")

    objects = NonconformanceQuerySet.as_manager()

    class Meta:
        ordering = ("-raised_at",)
        constraints = (
            models.UniqueConstraint(fields=("project", "number"), name="nonconformance_number_once_a_project"),
            models.UniqueConstraint(
                fields=("record",), condition=Q(record__isnull=False), name="one_nonconformance_a_record"
            ),
            models.CheckConstraint(
                condition=Q(against="area", area__isnull=False, coat__isnull=False)
                | (~Q(against="area") & Q(area__isnull=True, coat__isnull=True, record__isnull=True)),
                name="nonconformance_of_an_area_names_it",
            ),
        )

    def __str__(self) -> str:
        return f"NC-{self.number:03d} {self.title}"

    @property
    def place(self) -> str:
        """What it is against, in words; of an area with its coat."""
        if self.area and self.coat:
            return f"{self.coat.name} on {self.area.label}"
        if self.gauge:
            return f"Instrument {self.gauge}"
        if self.named:
            return f"{self.get_against_display().partition(' ')[2].capitalize()} {self.named}"
        return str(self.lot or self.batch or "The project")

    def age(self, at: datetime) -> int:
        """Whole days since the day on which it was raised, by the project's calendar."""
        zone = self.project.zone
        return (at.astimezone(zone).date() - self.raised_at.astimezone(zone).date()).days

    @property
    def days_open(self) -> int:
        return self.age(timezone.now())


@of_record
class Disposition(models.Model):
    """What was done or decided about a nonconformance, or that such an entry was wrong. Rows are only added."""

    class Kind(models.TextChoices):
        REWORK = "rework", "Rework"
        ISSUED = "issued", "Issued"
        CONCESSION = "concession", "Concession"
        CLOSURE = "closure", "Closed"
        ANSWER = "answer", "Answer"
        GRADE = "grade", "Class"
        AGAINST = "against", "Found against"
        CONTAINED = "contained", "Contained"
        CAUSE = "cause", "Root cause"
        DECISION = "decision", "Disposition"
        ACTION = "action", "Corrective action"
        COMPLETED = "completed", "Action done"
        COMMENT = "comment", "Comment"
        EFFECT = "effect", "Effect looked at"
        CONFIRMED = "confirmed", "Closing confirmed"
        WITHDRAWAL = "withdrawal", "Taken back"

    class Choice(models.TextChoices):
        """What an entry of a class, of what it is against, of a disposition or of the effect says in one word."""

        MINOR = "minor", "Minor"
        MAJOR = "major", "Major"
        CRITICAL = "critical", "Critical"
        AREA = "area", "The area"
        LOT = "lot", "A lot"
        BATCH = "batch", "A paint batch"
        QUALIFICATION = "qualified", "A person’s qualification"
        INSTRUMENT = "instrument", "An instrument"
        PROCEDURE = "procedure", "A procedure"
        DOCUMENT = "document", "A document"
        REWORK = "rework", "Rework"
        REPAIR = "repair", "Repair"
        AS_IT_IS = "as_it_is", "Use as it is, by concession"
        REJECT = "reject", "Reject"
        REACHED = "reached", "Reached"
        NOT_REACHED = "not", "Not reached"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    nonconformance = models.ForeignKey(Nonconformance, on_delete=models.PROTECT, related_name="dispositions")
    kind = models.CharField(max_length=10, choices=Kind)
    text = LongText(help_text="What was done, the reason, or what is answered")
    done_by = ShortText(max_length=200, blank=True, help_text="Who did the rework")
    done_at = models.DateTimeField(null=True, blank=True, help_text="When the rework was finished")
    choice = models.CharField(  # noqa: DJ001 - added to a table of record
        max_length=10,
        choices=Choice,
        null=True,
        help_text="The class, what it is against, the disposition, or the effect",
    )
    due = models.DateField(null=True, help_text="By when a corrective action is to be done, by the project's calendar")
    about = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, related_name="completed_by", help_text="The action that is done"
    )
    # What a concession accepts: the failing measurements that were known when it was given, by id.
    covers = models.JSONField(default=list)
    withdraws = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="withdrawn_by"
    )
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    signed_as = models.CharField(max_length=240, help_text="Name and organisation as they were then")
    admitted = models.TextField(  # noqa: DJ001 - added to a table of record
        null=True, help_text="How whoever signed was admitted, as known then: invited by whom, confirmed by whom, when"
    )
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(
                condition=~Q(kind="rework") | (Q(done_at__isnull=False) & ~Q(done_by="")),
                name="rework_when_and_by_whom",
            ),
            models.CheckConstraint(
                condition=Q(kind="withdrawal", withdraws__isnull=False)
                | (~Q(kind="withdrawal") & Q(withdraws__isnull=True)),
                name="only_a_withdrawal_takes_back",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on NC-{self.nonconformance.number:03d}"

    @property
    def signed(self) -> str:
        return signed_by(self.signed_as, self.admitted)


class ReworkItemQuerySet(OfProject):
    def still_open(self) -> Self:
        """Not yet closed: to be done, or done and to be looked at."""
        return self.filter(state__in=(ReworkItem.State.OPEN, ReworkItem.State.DONE))


@of_record(may_change=("state",))
class ReworkItem(models.Model):
    """A place to be put right in the course of the work: smaller than a nonconformance, and never one by itself."""

    class State(models.TextChoices):
        OPEN = "open", "Open"
        DONE = "done", "Done, to be looked at"
        CLOSED = "closed", "Closed"
        DROPPED = "dropped", "Not to be done"

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="rework_items")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="rework_items")
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    what = ShortText(max_length=200, help_text="What is to be put right")
    place = ShortText(max_length=200, help_text="Where on the area, so that it is found again")
    record = models.ForeignKey(
        Record, on_delete=models.PROTECT, null=True, blank=True, related_name="rework_items",
        help_text="The record that opened it, in the version that did",
    )  # fmt: skip
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=7, choices=State, default=State.OPEN)

    objects = ReworkItemQuerySet.as_manager()

    class Meta:
        ordering = ("-opened_at", "-id")
        indexes = (models.Index(fields=("area", "state"), name="rework_item_of_area"),)

    def __str__(self) -> str:
        return f"{self.what}, {self.place}"

    @property
    def mark(self) -> str:
        """The status that marks it on pages: what is done still waits for another's look."""
        return "waiting" if self.state == self.State.DONE else str(self.state)


@of_record
class ReworkEntry(models.Model):
    """What was done or said about a rework item, or that such an entry was wrong. Rows are only added."""

    class Kind(models.TextChoices):
        DONE = "done", "Done"
        RIGHT = "right", "Looked at and in order"
        NOT_RIGHT = "not_right", "Looked at and not in order"
        DROPPED = "dropped", "Not to be done"
        WITHDRAWAL = "withdrawal", "Taken back"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    item = models.ForeignKey(ReworkItem, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=Kind)
    text = LongText(blank=True, help_text="What was done, what was seen, or why")
    done_by = ShortText(max_length=200, blank=True, help_text="Who did it")
    done_at = models.DateTimeField(null=True, blank=True, help_text="When it was done")
    withdraws = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="withdrawn_by"
    )
    person = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, related_name="+", help_text="Who entered it; nobody: the platform"
    )
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("at", "pk")
        constraints = (
            models.CheckConstraint(
                condition=~Q(kind="done") | (Q(done_at__isnull=False) & ~Q(done_by="")),
                name="rework_item_done_when_and_by_whom",
            ),
            models.CheckConstraint(
                condition=Q(kind="withdrawal", withdraws__isnull=False)
                | (~Q(kind="withdrawal") & Q(withdraws__isnull=True)),
                name="only_a_withdrawal_takes_an_entry_back",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.item}"


class ExtentSpotQuerySet(OfProject):
    path = "nonconformance__project"

    def that_count(self) -> Self:
        return self.filter(withdrawn_at=None).order_by("number")


@of_record(may_change=("withdrawn_at", "withdrawn_by", "withdrawn_why"))
class ExtentSpot(models.Model):
    """One spot measured outward to find how far a nonconformance reaches, or that a direction ends without one."""

    class Ended(models.TextChoices):
        NO_PLACE = "no_place", "There is no further place to measure"
        SHIFT = "shift", "The surface coated in that shift ends"

    id = models.UUIDField(primary_key=True, default=new_id)
    nonconformance = models.ForeignKey(Nonconformance, on_delete=models.PROTECT, related_name="extent_spots")
    number = models.PositiveSmallIntegerField(help_text="In the order in which they were measured")
    direction = models.PositiveSmallIntegerField(help_text="Of eight, clockwise; 1 points up the surface")
    readings_nm = models.JSONField(default=list, help_text="Whole nanometres; empty where the direction ends")
    ended = models.CharField(max_length=8, choices=Ended, blank=True, default="")
    by_units = models.BooleanField(default=False, help_text="Whether steps count repeating units instead of 1.5 m")
    note = ShortText(max_length=200, blank=True, default="")
    measured_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = ExtentSpotQuerySet.as_manager()

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=("nonconformance", "number"), name="extent_spot_numbered_once"),
            models.CheckConstraint(condition=Q(direction__gte=1, direction__lte=8), name="extent_spot_of_eight"),
        )

    def __str__(self) -> str:
        return f"Spot {self.number} of NC-{self.nonconformance.number:03d}"


class RepairedPartQuerySet(OfProject):
    path = "nonconformance__project"

    def in_force(self) -> Self:
        return self.filter(undone_at=None)


@of_record(may_change=("undone_at", "undone_by", "undone_why"))
class RepairedPart(models.Model):
    """The part of an area that is repaired, made from the extent of a nonconformance: an area of its own within it."""

    id = models.UUIDField(primary_key=True, default=new_id)
    nonconformance = models.ForeignKey(Nonconformance, on_delete=models.PROTECT, related_name="repaired_parts")
    part = models.OneToOneField(InspectionArea, on_delete=models.PROTECT, related_name="repaired_part")
    area_m2 = models.DecimalField(max_digits=9, decimal_places=2, help_text="As it was marked out, in m²")
    left_out = models.JSONField(help_text="The spots of the failing measurement that lie within it, by number")
    extent = models.JSONField(help_text="What the search for the extent had found when it was made")
    note = ShortText(max_length=200, blank=True, default="", help_text="How it is marked on the surface")
    confirmed = models.JSONField(default=list, help_text="What was asked about it, and meant so")
    digest = models.CharField(max_length=64)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    undone_why = LongText(blank=True)

    objects = RepairedPartQuerySet.as_manager()

    class Meta:
        ordering = ("-made_at",)
        constraints = (
            models.UniqueConstraint(
                fields=("nonconformance",), condition=Q(undone_at=None), name="one_repaired_part_in_force"
            ),
        )

    def __str__(self) -> str:
        return self.part.label

    @property
    def content(self) -> dict[str, Any]:
        """What its digest is over."""
        raised = self.nonconformance
        return {
            "nonconformance": raised.pk, "area": raised.area_id, "coat": raised.coat_id, "area_m2": self.area_m2,
            "left_out": self.left_out, "extent": self.extent, "note": self.note,
        }  # fmt: skip


class RemainderQuerySet(OfProject):
    path = "repaired__nonconformance__project"


@of_record
class Remainder(models.Model):
    """What the rule says of a failing measurement without the spots within a repaired part; the record stays failed."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    repaired = models.ForeignKey(RepairedPart, on_delete=models.PROTECT, related_name="remainders")
    record = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="remainders", help_text="In the version that was judged again"
    )
    verdict = models.CharField(max_length=10, choices=Record.Verdict)
    inputs = models.JSONField(help_text="What the rule was given; giving it again gives the same verdict")
    result = models.JSONField(help_text="What the rule answered, check by check")
    digest = models.CharField(max_length=64)
    judged_at = models.DateTimeField(default=timezone.now)

    objects = RemainderQuerySet.as_manager()

    class Meta:
        ordering = ("judged_at", "pk")
        constraints = (models.UniqueConstraint(fields=("repaired", "record"), name="remainder_once_a_version"),)

    def __str__(self) -> str:
        return f"Remainder of {self.record_id} without {self.repaired_id}"

    @property
    def content(self) -> dict[str, Any]:
        """What its digest is over."""
        return {
            "repaired": self.repaired_id, "record": self.record_id, "record_digest": self.record.digest,
            "inputs": self.inputs, "result": self.result,
        }  # fmt: skip
