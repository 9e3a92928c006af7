"""The inspection and test plan: what is inspected, against what, and at what each party stops, attends or looks."""

from __future__ import annotations

import re
from typing import Any, Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from accounts.admission import signed_by
from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import OfProject, Party, Project

LONGEST_NUMBER = 12


class Meaning(models.TextChoices):
    """What a letter of the legend asks of the party that it is written for (common practice, no source)."""

    HOLD = "hold", "Hold: the next step waits until the party releases or waives in writing"
    WITNESS = "witness", "Witness: the party gets notice; work may go on after the agreed time"
    REVIEW = "review", "Review: the party reads the papers; nothing waits for it"
    MONITOR = "monitor", "Monitor: the party looks at random, without notice"
    PERFORM = "perform", "Perform: the party does it"


class LeadUnit(models.TextChoices):
    HOURS = "hours", "working hours"
    DAYS = "days", "working days"


class Plan(models.Model):
    """The plan of a project, of which there is one, or a template kept by the company: one without a project."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="plans", null=True, blank=True)
    name = ShortText(max_length=120)
    from_template = models.ForeignKey("self", on_delete=models.SET_NULL, related_name="+", null=True, blank=True)

    objects = OfProject.as_manager()

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(fields=("project",), name="one_plan_a_project"),
            models.UniqueConstraint(fields=("name",), condition=Q(project=None), name="template_name_once"),
        )

    def __str__(self) -> str:
        return self.name


class OfPlan(OfProject):
    path = "plan__project"


class RevisionQuerySet(OfPlan):
    def in_scope_of(self, person: Person) -> Self:
        """A painting contractor's people see what came into force, and drafts that their party was asked to approve."""
        asked = ApprovalAsked.objects.filter(revision=OuterRef("pk"), party__in=Party.objects.of_contractor(person))
        states = (PlanRevision.State.IN_FORCE, PlanRevision.State.SUPERSEDED)
        seen = self.filter(plan__project__in=Project.objects.visible_to(person))
        return seen.filter(Q(state__in=states) | Exists(asked))


class PlanRevision(models.Model):
    """One revision of a plan. Its lines can be changed while it is a draft, and never after."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        IN_FORCE = "in_force", "In force"
        SUPERSEDED = "superseded", "Superseded"
        DISCARDED = "discarded", "Thrown away"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    note = LongText(blank=True, help_text="What this revision changes, and why")
    created_at = models.DateTimeField(default=timezone.now)
    # From this day of the project on, once it is in force; a template's and a draft's have none.
    applies_from = models.DateField(null=True, blank=True)
    in_force_at = models.DateTimeField(null=True, blank=True)
    brought_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    # Of what its lines say, as it came into force.
    digest = models.CharField(max_length=64, blank=True)

    objects = RevisionQuerySet.as_manager()

    class Meta:
        ordering = ("plan", "number")
        constraints = (
            models.UniqueConstraint(fields=("plan", "number"), name="revision_number_once_a_plan"),
            models.UniqueConstraint(fields=("plan",), condition=Q(state="draft"), name="one_draft_a_plan"),
            models.UniqueConstraint(fields=("plan",), condition=Q(state="in_force"), name="one_in_force_a_plan"),
        )

    def __str__(self) -> str:
        return f"{self.plan}, revision {self.number}"

    @property
    def is_draft(self) -> bool:
        return self.state == self.State.DRAFT


class OfRevision(OfProject):
    path = "revision__plan__project"


class ApprovalAsked(models.Model):
    """A party without whose approval a draft does not come into force."""

    revision = models.ForeignKey(PlanRevision, on_delete=models.CASCADE, related_name="asked")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")

    objects = OfRevision.as_manager()

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("revision", "party"), name="approval_asked_once_a_party"),)

    def __str__(self) -> str:
        return f"{self.party} on {self.revision}"


class ApprovalQuerySet(OfRevision):
    def in_scope_of(self, person: Person) -> Self:
        """A painting contractor's people see what was given for their own party."""
        return self.filter(party__in=Party.objects.of_contractor(person))


@of_record(may_change=("withdrawn_at", "withdrawn_by", "withdrawn_because"))
class Approval(models.Model):
    """That somebody approved a draft for their party, as its lines read then. It counts while they read so still."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    revision = models.ForeignKey(PlanRevision, on_delete=models.PROTECT, related_name="approvals")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_as = models.CharField(max_length=240, help_text="Name and organisation as they were then")
    admitted = models.TextField(blank=True, help_text="How whoever signed was admitted, as known then")
    at = models.DateTimeField(default=timezone.now)
    digest = models.CharField(max_length=64, help_text="Of what the lines said")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawn_because = LongText(blank=True)

    objects = ApprovalQuerySet.as_manager()

    class Meta:
        ordering = ("at",)
        constraints = (
            models.UniqueConstraint(
                fields=("revision", "party", "digest"), condition=Q(withdrawn_at=None), name="approval_once_a_party"
            ),
        )

    def __str__(self) -> str:
        return f"{self.party} approved {self.revision}"

    @property
    def signed(self) -> str:
        return signed_by(self.signed_as, self.admitted)


class PlanLine(models.Model):
    """One line: an activity, how often, by what it is accepted, and how."""

    class Activity(models.TextChoices):
        DOCUMENTS = "documents", "Document review"
        MEETING = "meeting", "Pre-job meeting"
        RECEIPT = "receipt", "Receipt of materials"
        STEELWORK = "steelwork", "Steelwork"
        PRE_CLEANING = "pre_cleaning", "Pre-cleaning"
        CLIMATE = "climate", "Climate"
        AIR = "air", "Compressed air"
        ABRASIVE = "abrasive", "Abrasive"
        CLEANLINESS = "cleanliness", "Surface cleanliness"
        PROFILE = "profile", "Surface profile"
        SALTS = "salts", "Soluble salts"
        DUST = "dust", "Dust"
        MIXING = "mixing", "Mixing"
        STRIPE = "stripe", "Stripe coat"
        APPLICATION = "application", "Application of a coat"
        WET_FILM = "wet_film", "Wet film thickness"
        VISUAL = "visual", "Visual inspection of a coat"
        THICKNESS = "thickness", "Dry film thickness"
        CURE = "cure", "Cure"
        HOLIDAY = "holiday", "Holiday detection"
        ADHESION = "adhesion", "Adhesion"
        FINAL_VISUAL = "final_visual", "Final visual inspection"
        REPAIR = "repair", "Repair"
        DOSSIER = "dossier", "Dossier"

    class Scope(models.TextChoices):
        PROJECT = "project", "Project"
        STRUCTURE = "structure", "Structure"
        AREA = "area", "Inspection area"
        LOT = "lot", "Lot"
        SHIFT = "shift", "Shift"
        COMPRESSOR_DAY = "compressor_day", "Compressor and day"
        DELIVERY = "delivery", "Delivery"
        BATCH = "batch", "Batch"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    revision = models.ForeignKey(PlanRevision, on_delete=models.CASCADE, related_name="lines")
    number = ShortText(max_length=LONGEST_NUMBER, help_text="As 4.2")
    # What the number is put in order by: 4.9 before 4.10.
    order_key = models.CharField(max_length=100, editable=False)
    activity = models.CharField(max_length=16, choices=Activity)
    title = ShortText(max_length=160)
    scope = models.CharField(max_length=16, choices=Scope, default=Scope.AREA)
    frequency = ShortText(max_length=160, help_text="As: every area; three in the first 100 m², then one a 100 m²")
    criterion = ShortText(max_length=300, help_text="By what it is accepted")
    method = ShortText(max_length=160, blank=True, help_text="Method or standard")
    # After which coat of an area's system it falls; none before the first, on the bare steel.
    coat_order = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    # The notice asked for this line; where it says nothing, the project's for what the letters mean.
    lead = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(1000)])
    lead_unit = models.CharField(max_length=5, choices=LeadUnit, blank=True, default="")
    # The line of the revision before that it carries on, under another number even.
    carries_on = models.ForeignKey("self", on_delete=models.PROTECT, related_name="carried_on", null=True, blank=True)
    template_line = models.ForeignKey("self", on_delete=models.SET_NULL, related_name="+", null=True, blank=True)

    objects = OfRevision.as_manager()

    class Meta:
        ordering = ("revision", "order_key")
        constraints = (
            models.UniqueConstraint(fields=("revision", "number"), name="line_number_once_a_revision"),
            models.CheckConstraint(
                condition=Q(lead=None, lead_unit="") | (~Q(lead=None) & ~Q(lead_unit="")),
                name="line_lead_with_its_unit",
            ),
        )

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.order_key = order_key(self.number)
        super().save(*args, **kwargs)


def order_key(number: str) -> str:
    """The number of a line as text that sorts as people count: 4.9 before 4.10."""
    return re.sub(r"\d+", lambda digits: digits[0].zfill(LONGEST_NUMBER), number.casefold())[:100]


class OfLine(OfProject):
    path = "line__revision__plan__project"


class LineRequirement(models.Model):
    """A kind of record that a line needs at each of its places: how many of them, and how fresh they must be."""

    line = models.ForeignKey(PlanLine, on_delete=models.CASCADE, related_name="requirements")
    kind = models.CharField(max_length=12, help_text="Name of the kind of record")
    how_many = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(100)])
    fresh_hours = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1)], help_text="Hours after which it no longer counts"
    )

    objects = OfLine.as_manager()

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("line", "kind"), name="requirement_kind_once_a_line"),)

    def __str__(self) -> str:
        return f"{self.line} needs {self.kind}"


class PlanLetterQuerySet(OfProject):
    def told_to(self, person: Person | None) -> Self:
        """All but those of other painting contractors, where the person is one contractor's."""
        if person is None or not person.is_contractors:
            return self
        contractors = Party.Kind.CONTRACTOR
        return self.filter(Q(party=None) | ~Q(party_kind=contractors) | Q(party__organisation=person.organisation_id))


class InterventionQuerySet(PlanLetterQuerySet):
    path = OfLine.path


class Intervention(models.Model):
    """What one party does at a line. The meaning is that of its letter in the legend when it was written."""

    line = models.ForeignKey(PlanLine, on_delete=models.CASCADE, related_name="interventions")
    party_kind = models.CharField(max_length=12, choices=Party.Kind)
    # One party of that kind; all of the kind where there is none, as always in a template.
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    letter = ShortText(max_length=3)
    meaning = models.CharField(max_length=8, choices=Meaning)

    objects = InterventionQuerySet.as_manager()

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(
                fields=("line", "party_kind"), condition=Q(party=None), name="intervention_once_a_line_and_kind"
            ),
            models.UniqueConstraint(fields=("line", "party"), name="intervention_once_a_line_and_party"),
        )

    def __str__(self) -> str:
        return f"{self.letter} of {self.get_party_kind_display().lower()} at {self.line}"


class LegendLetter(models.Model):
    """A letter of a project's legend, or of the company's own (no project): what it means, in the contract's word."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="legend", null=True, blank=True)
    letter = ShortText(max_length=3)
    meaning = models.CharField(max_length=8, choices=Meaning)
    word = ShortText(max_length=40)

    objects = OfProject.as_manager()

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(fields=("project", "letter"), name="letter_once_a_project"),
            models.UniqueConstraint(fields=("letter",), condition=Q(project=None), name="letter_once_of_the_company"),
        )

    def __str__(self) -> str:
        return f"{self.letter} {self.word}"


class WorkingCalendar(models.Model):
    """When a project works: by it is counted how long before an inspection notice was given."""

    project = models.OneToOneField(Project, on_delete=models.CASCADE, related_name="working_calendar")
    weekdays = models.CharField(max_length=7, default="12345", help_text="Days worked, Monday is 1 and Sunday 7")
    # The working hours of a day, where they are declared; without, all of its hours count.
    begins = models.TimeField(null=True, blank=True)
    ends = models.TimeField(null=True, blank=True)

    objects = OfProject.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(begins=None, ends=None) | Q(begins__lt=models.F("ends")), name="calendar_begins_before_end"
            ),
        )

    def __str__(self) -> str:
        return f"Working calendar of {self.project}"


class LeadTime(models.Model):
    """How long before an inspection those must have notice whose letter means this."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="lead_times")
    meaning = models.CharField(max_length=8, choices=Meaning)
    lead = models.PositiveSmallIntegerField(validators=[MaxValueValidator(1000)])
    unit = models.CharField(max_length=5, choices=LeadUnit, default=LeadUnit.HOURS)

    objects = OfProject.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("project", "meaning"), name="lead_time_once_a_meaning"),)

    def __str__(self) -> str:
        return f"{self.lead} {self.get_unit_display()}"


class ClosedDay(models.Model):
    """A day on which a project does not work, though its weekday is worked."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="closed_days")
    day = models.DateField()
    why = ShortText(max_length=80, blank=True)

    objects = OfProject.as_manager()

    class Meta:
        ordering = ("day",)
        constraints = (models.UniqueConstraint(fields=("project", "day"), name="closed_day_once_a_project"),)

    def __str__(self) -> str:
        return f"{self.day} {self.why}".strip()
