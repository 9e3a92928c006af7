"""Who works together, and when: the crews of a project, their people, their shifts as planned and as worked."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Self

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.text_columns import ShortText
from inspection.projects.models import OfProject, Party, Project
from inspection.works.lots.mix_models import LotMix
from inspection.works.lots.models import Lot, LotParent, LotPlace
from inspection.works.paint.models import BatchStep, Mix, MixPart, PaintBatch

__all__ = [
    "BatchStep", "Crew", "CrewPerson", "Lot", "LotMix", "LotParent", "LotPlace", "Mix", "MixPart", "PaintBatch",
    "Shift", "bounds",
]  # fmt: skip

# A declared limit (common practice, no source): what is longer is a slip, or an end that nobody told.
LONGEST_SHIFT = timedelta(hours=16)


class CrewQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """People of a painting contractor see the crews of their own organisation."""
        return self.filter(party__in=Party.objects.of_contractor(person))

    def in_use(self) -> CrewQuerySet:
        return self.filter(ended_at=None)


class Crew(models.Model):
    """People of one party who work together on a project. Ended, never deleted; an end is taken back."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="crews")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="crews")
    name = ShortText(max_length=60)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = CrewQuerySet.as_manager()

    class Meta:
        ordering = ("project", "name")
        constraints = (models.UniqueConstraint(fields=("project", "name"), name="crew_name_once_a_project"),)

    def __str__(self) -> str:
        return self.name


class OfCrew(OfProject):
    path = "crew__project"

    def visible_to(self, person: Person) -> OfCrew:
        return self.filter(crew__in=Crew.objects.visible_to(person))


class CrewPersonQuerySet(OfCrew):
    def at(self, moment: datetime) -> CrewPersonQuerySet:
        """Those who belong to their crew at the moment."""
        return self.filter(Q(ended_at=None) | Q(ended_at__gt=moment), begun_at__lte=moment)


class CrewPerson(models.Model):
    """A person in a crew from one moment to another; of one project they are in one crew at a time."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="people")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="crews")
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = CrewPersonQuerySet.as_manager()

    class Meta:
        ordering = ("crew", "begun_at")
        constraints = (
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gt=F("begun_at")), name="crew_person_ends_after_beginning"
            ),
        )

    def __str__(self) -> str:
        return f"{self.person} in {self.crew}"


class ShiftQuerySet(OfCrew):
    def that_hold(self) -> ShiftQuerySet:
        """Without those called off."""
        return self.filter(called_off_at=None)


class Shift(models.Model):
    """One shift of a crew: as planned, and as worked where somebody told it.

    Planning and correcting keep those of one crew apart. Where a forgotten end makes two overlap, the later counts.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="shifts")
    planned_begin = models.DateTimeField(null=True, blank=True)
    planned_end = models.DateTimeField(null=True, blank=True)
    begun_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    # The bounds that count, which follow from those four; see `bounds`.
    begins_at = models.DateTimeField(editable=False)
    ends_at = models.DateTimeField(editable=False)
    called_off_at = models.DateTimeField(null=True, blank=True)

    objects = ShiftQuerySet.as_manager()

    class Meta:
        ordering = ("begins_at",)
        indexes = (models.Index(fields=("crew", "begins_at"), name="shift_of_crew"),)
        constraints = (
            models.CheckConstraint(
                condition=Q(planned_begin=None, planned_end=None, begun_at__isnull=False)
                | Q(planned_begin__isnull=False, planned_end__gt=F("planned_begin")),
                name="shift_planned_or_begun",
            ),
            models.CheckConstraint(condition=Q(ends_at__gt=F("begins_at")), name="shift_ends_after_beginning"),
        )

    def __str__(self) -> str:
        zone = self.crew.project.zone
        return f"{self.crew}, {self.begins_at.astimezone(zone):%Y-%m-%d %H:%M}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.begins_at, self.ends_at = bounds(self.planned_begin, self.planned_end, self.begun_at, self.ended_at)
        super().save(*args, **kwargs)

    @property
    def is_assumed(self) -> bool:
        """Whether it was begun and its end has passed without anybody telling it."""
        return self.begun_at is not None and self.ended_at is None and self.ends_at <= timezone.now()

    @property
    def is_under_way(self) -> bool:
        return (
            self.begun_at is not None
            and self.ended_at is None
            and self.called_off_at is None
            and self.ends_at > timezone.now()
        )


def bounds(
    planned_begin: datetime | None, planned_end: datetime | None, begun_at: datetime | None, ended_at: datetime | None
) -> tuple[datetime, datetime]:
    """The bounds [begin, end) that count: what was told of the work, else what was planned.

    An end that nobody told is assumed to be the planned one, and at the latest 16 h after the beginning. Depends on no
    clock: what it answers today it answers tomorrow.
    """
    begin = begun_at or planned_begin
    if begin is None:
        raise ValueError("a shift is planned or has begun")
    latest = begin + LONGEST_SHIFT
    return begin, ended_at or min(planned_end or latest, latest)
