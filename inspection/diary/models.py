"""The entries of a project's day, who read a note to the next shift, and signatures under a day."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.models import Person, Role
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import OfProject, Party, Project
from inspection.works.models import Crew

WITHDRAWN = ("withdrawn_at", "withdrawn_by", "withdrawn_why")


class OfDiary(OfProject):
    def visible_to(self, person: Person) -> Self:
        """The diary is the company's own, and its auditors read it.

        A client reads of the day what the issued report prints of it; a contractor's people read nothing of it.
        """
        if not (person.is_company or person.has_role(Role.AUDITOR)):
            return self.none()
        return super().visible_to(person)

    def that_stand(self) -> Self:
        return self.filter(withdrawn_at=None)


class EntryQuerySet(OfDiary):
    def current(self) -> Self:
        """Without the versions that a correction has replaced; those withdrawn are among them."""
        return self.filter(replaced_by=None)

    def that_count(self) -> Self:
        """The current ones that nobody withdrew."""
        return self.current().that_stand()


@of_record(may_change=WITHDRAWN)
class DiaryEntry(models.Model):
    """One entry of a project's day. What was entered wrong is corrected by a new version that names the old one.

    Which columns an entry of a kind has, and needs, is told in `kinds.py`. Hours are of that day: of a crew those of
    each of its people. The clock is the project's own.
    """

    class Kind(models.TextChoices):
        CREW = "crew", "Crew on site"
        EQUIPMENT = "equipment", "Equipment"
        VISITOR = "visitor", "Visitor"
        INSTRUCTION = "instruction", "Instruction received"
        DELAY = "delay", "Delay"
        NARRATIVE = "narrative", "Narrative of the day"
        PLAN = "plan", "Plan for tomorrow"
        HANDOVER = "handover", "Note to the next shift"

    class Cause(models.TextChoices):
        WEATHER = "weather", "Weather"
        ACCESS = "access", "Access or scaffold"
        EQUIPMENT = "equipment", "Equipment"
        MATERIAL = "material", "Material"
        PEOPLE = "people", "People"
        INSPECTION = "inspect", "Waiting for an inspection or a release"
        INSTRUCTION = "instruct", "Waiting for an instruction"
        OTHER_WORK = "other", "Other work in the way"
        SAFETY = "safety", "Safety"
        ELSE = "else", "Something else, see the words"

    class State(models.TextChoices):
        WORKING = "working", "In use"
        IDLE = "idle", "Standing by"
        DOWN = "down", "Broken down"
        OFF = "off", "Taken off site"

    class Way(models.TextChoices):
        SPOKEN = "spoken", "Spoken"
        MEETING = "meeting", "At a meeting"
        PHONE = "phone", "By telephone"
        MESSAGE = "message", "By e-mail or message"
        LETTER = "letter", "By letter or site instruction"

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="diary_entries")
    day = models.DateField()
    kind = models.CharField(max_length=11, choices=Kind)
    version = models.PositiveSmallIntegerField(default=1)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="diary_entries")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, null=True, blank=True, related_name="diary_entries")
    organisation = ShortText(max_length=120, blank=True, help_text="Where it is no party of the project")
    who = ShortText(max_length=120, blank=True, help_text="A visitor, who instructed; of equipment what it is")
    people = models.PositiveSmallIntegerField(null=True, blank=True)
    hours = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    clock = models.TimeField(null=True, blank=True, help_text="When, by the project's clocks")
    cause = models.CharField(max_length=9, choices=Cause, blank=True)
    state = models.CharField(max_length=7, choices=State, blank=True)
    way = models.CharField(max_length=7, choices=Way, blank=True)
    text = LongText(blank=True)
    # What whoever entered it was asked about and went on with; sentences, as they were told.
    gone_over = models.JSONField(default=list, blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    digest = models.CharField(max_length=64, help_text="Of what the sender sent")
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    why = LongText(blank=True, help_text="Why it replaces the version before")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering = ("-day", "-entered_at", "-id")
        indexes = (models.Index(fields=("project", "-day", "kind"), name="diary_of_day"),)
        constraints = (
            models.CheckConstraint(
                condition=Q(hours=None) | Q(hours__gt=0, hours__lte=24), name="diary_hours_of_one_day"
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.project.code}, {self.day:%Y-%m-%d}"

    @property
    def by_name(self) -> str:
        """Who entered this version, under the name of that time."""
        return self.entered_by.name_at(self.entered_at)


class NoteReadQuerySet(OfDiary):
    path = "entry__project"

    def that_stand(self) -> Self:
        return self.filter(taken_back_at=None)


@of_record(may_change=("taken_back_at",))
class NoteRead(models.Model):
    """Somebody has read a note to the next shift; or had marked it by mistake, and took that back."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    entry = models.ForeignKey(DiaryEntry, on_delete=models.PROTECT, related_name="reads")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    taken_back_at = models.DateTimeField(null=True, blank=True)

    objects = NoteReadQuerySet.as_manager()

    class Meta:
        ordering = ("at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("entry", "person"), condition=Q(taken_back_at=None), name="note_read_once_a_person"
            ),
        )

    def __str__(self) -> str:
        return f"{self.entry} read by {self.person}"


@of_record(may_change=WITHDRAWN)
class DaySignature(models.Model):
    """A person's signature under all that they recorded and wrote on a day, as it stood then.

    `content` holds a line for each thing, `digest` is over them. What comes later is compared with it, and can be
    signed again under the next number.
    """

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="day_signatures")
    day = models.DateField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveSmallIntegerField()
    at = models.DateTimeField(default=timezone.now)
    signed_as = models.CharField(max_length=240, help_text="Name and organisation as they were then")
    content = models.JSONField(help_text="What was signed, thing by thing, with the digest of each")
    digest = models.CharField(max_length=64)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = OfDiary.as_manager()

    class Meta:
        ordering = ("-day", "-at", "-id")
        constraints = (
            models.UniqueConstraint(fields=("project", "day", "by", "number"), name="day_signed_once_a_number"),
        )

    def __str__(self) -> str:
        return f"Signature of {self.signed_as} under {self.day:%Y-%m-%d} of {self.project.code}"


@of_record
class SignedThing(models.Model):
    """One thing under a signature, so that a trace finds either from the other; its lines keep what was signed."""

    signature = models.ForeignKey(DaySignature, on_delete=models.PROTECT, related_name="things")
    kind = models.CharField(max_length=40, help_text="As a trace names it: of a record its kind")
    thing = models.UUIDField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("signature", "kind", "thing"), name="signed_thing_once_a_signature"),
        )
        indexes = (models.Index(fields=("thing", "kind", "signature")),)

    def __str__(self) -> str:
        return f"{self.signature} covers {self.kind} {self.thing}"
