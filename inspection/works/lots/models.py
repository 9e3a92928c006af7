"""What one crew prepared or coated in one go: the lot, its places, and the lots it follows."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import Coat, InspectionArea, OfProject, Party, Project, StripeCoat


class LotQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """People of a painting contractor see the lots of their own crews."""
        return self.filter(crew__party__in=Party.objects.of_contractor(person))

    def current(self) -> Self:
        """Without the versions that a correction has replaced; those withdrawn are among them."""
        return self.filter(replaced_by=None)

    def that_count(self) -> Self:
        """The current ones that nobody withdrew."""
        return self.current().filter(withdrawn_at=None)


@of_record(may_change=("ended_at", "drawn_l", "returned_l", "withdrawn_at", "withdrawn_by", "withdrawn_why"))
class Lot(models.Model):
    """What one crew did in one go. It is ended once; what was entered wrong is corrected by a new version.

    The number, counted in the project, stays through all versions. Litres are of paint unthinned, pressure in bar.
    """

    class Activity(models.TextChoices):
        PRECLEAN = "preclean", "Pre-cleaning"
        BLAST = "blast", "Blast cleaning"
        STRIPE = "stripe", "Stripe coat"
        COAT = "coat", "Coat"
        REPAIR = "repair", "Repair"

    class Method(models.TextChoices):
        AIRLESS = "airless", "Airless spray"
        AIR_ASSISTED = "assisted", "Air-assisted airless spray"
        CONVENTIONAL = "convent", "Conventional air spray"
        PLURAL = "plural", "Plural-component spray"
        BRUSH = "brush", "Brush"
        ROLLER = "roller", "Roller"
        DRY_BLAST = "dryblast", "Dry abrasive blasting"
        WET_BLAST = "wetblast", "Wet abrasive blasting"
        JETTING = "jetting", "Water jetting"
        POWER_TOOL = "power", "Power tools"
        HAND_TOOL = "hand", "Hand tools"
        WASHING = "washing", "Washing"
        SOLVENT = "solvent", "Solvent cleaning"
        OTHER = "other", "Other, see the note"

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="lots")
    number = models.PositiveIntegerField()
    version = models.PositiveSmallIntegerField(default=1)
    activity = models.CharField(max_length=8, choices=Activity)
    coat = models.ForeignKey(
        Coat, on_delete=models.PROTECT, null=True, blank=True, related_name="lots", help_text="Null: the bare steel"
    )
    stripe = models.ForeignKey(StripeCoat, on_delete=models.PROTECT, null=True, blank=True, related_name="lots")
    crew = models.ForeignKey("works.Crew", on_delete=models.PROTECT, related_name="lots")
    shift = models.ForeignKey("works.Shift", on_delete=models.PROTECT, null=True, blank=True, related_name="lots")
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    method = models.CharField(max_length=8, choices=Method)
    pump_ratio = ShortText(max_length=20, blank=True)
    tip = ShortText(max_length=40, blank=True)
    pressure_bar = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    applicators = ShortText(max_length=200, blank=True)
    thinner_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    # Of paint that no mix below tells of.
    drawn_l = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    returned_l = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    note = LongText(blank=True)
    # What whoever began it was asked about and went on with; sentences, as they were told.
    gone_over = models.JSONField(default=list, blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    digest = models.CharField(max_length=64, help_text="Of what the sender sent")
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    why = LongText(blank=True, help_text="Why it replaces the version before")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ("-begun_at", "-number")
        indexes = (
            models.Index(fields=("project", "-begun_at"), name="lot_of_project"),
            models.Index(fields=("coat", "begun_at"), name="lot_of_coat"),
        )
        constraints = (
            models.UniqueConstraint(fields=("project", "number", "version"), name="lot_number_once_a_project"),
            models.CheckConstraint(condition=Q(ended_at=None) | Q(ended_at__gt=F("begun_at")), name="lot_in_order"),
            models.CheckConstraint(
                condition=Q(returned_l=None)
                | Q(drawn_l__isnull=False, returned_l__lte=F("drawn_l"), returned_l__gte=0),
                name="lot_returns_at_most_what_was_drawn",
            ),
            models.CheckConstraint(
                condition=Q(activity__in=("preclean", "blast"), coat=None)
                | Q(activity__in=("stripe", "coat"), coat__isnull=False)
                | Q(activity="repair"),
                name="lot_of_a_coat_or_of_the_bare_steel",
            ),
        )

    def __str__(self) -> str:
        return f"Lot {self.number}"

    @property
    def of(self) -> str:
        """What was done, with the coat if it is of one."""
        if self.coat is None:
            return str(self.get_activity_display())
        if self.activity == self.Activity.COAT:
            return self.coat.told
        step = self.stripe.name if self.stripe else self.get_activity_display()
        return f"{step}, {self.coat.told}"

    @property
    def mark(self) -> str:
        if self.withdrawn_at:
            return "plain"
        return "closed" if self.ended_at else "waiting"

    @property
    def state(self) -> str:
        if self.withdrawn_at:
            return "Withdrawn"
        return "Ended" if self.ended_at else "Under way"


class OfLot(OfProject):
    path = "lot__project"

    def in_scope_of(self, person: Person) -> Self:
        return self.filter(lot__in=Lot.objects.visible_to(person))


@of_record
class LotPlace(models.Model):
    """Where it was: an inspection area, and how much of it."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="places")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="lot_places")
    m2 = models.DecimalField(max_digits=9, decimal_places=2)

    objects = OfLot.as_manager()

    class Meta:
        ordering = ("lot", "area__code")
        constraints = (
            models.UniqueConstraint(fields=("lot", "area"), name="area_once_a_lot"),
            models.CheckConstraint(condition=Q(m2__gt=0), name="lot_place_above_zero"),
        )

    def __str__(self) -> str:
        return f"{self.area.label}, {self.m2} m²"


@of_record
class LotParent(models.Model):
    """That a lot follows another: what was blasted there, and is primed here."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="parents")
    parent = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="followed_by")

    objects = OfLot.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("lot", "parent"), name="parent_once_a_lot"),)

    def __str__(self) -> str:
        return f"{self.lot} follows {self.parent}"
