"""Paint: the batches that a project received, what befell them, and what was mixed of them."""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from accounts.models import Person, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import Coat, OfProject, Party, Project

# What a correction may put right; the journal keeps what stood before.
DECLARED = (
    "product", "component", "number", "made_on", "expires_on", "received", "unit", "containers", "storage_min_c",
    "storage_max_c", "received_at", "received_by", "place", "note", "file", "file_name",
)  # fmt: skip
MIXED = (
    "coat", "sheet_told", "mixed_at", "used_from", "used_until", "stirred", "paint_c", "thinner_pct", "ratio_by",
    "ratio_wanted", "ratio_mixed", "deviation_pct", "usable_from", "usable_until", "pot_life_told", "note",
    "gone_over", "reason",
)  # fmt: skip
WITHDRAWN = ("withdrawn_at", "withdrawn_by", "withdrawn_why")


class Component(models.TextChoices):
    BASE = "base", "A, base"
    HARDENER = "hardener", "B, hardener"
    SINGLE = "single", "Single component"
    THINNER = "thinner", "Thinner"


class Unit(models.TextChoices):
    LITRES = "l", "Litres"
    KILOGRAMS = "kg", "Kilograms"


class OfParty(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """People of a painting contractor see what their own organisation entered."""
        return self.filter(party__in=Party.objects.of_contractor(person))

    def that_count(self) -> Self:
        """Without those that were withdrawn."""
        return self.filter(withdrawn_at=None)


@of_record(may_change=(*DECLARED, *WITHDRAWN))
class PaintBatch(models.Model):
    """What was received of one batch of one component. Litres or kilograms; temperatures in °C.

    It is corrected and withdrawn with a reason that the journal keeps; what befell it stands in its steps.
    """

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="batches")
    party = models.ForeignKey(
        Party, on_delete=models.PROTECT, related_name="batches", help_text="For whom it was entered"
    )
    product = ShortText(max_length=120)
    component = models.CharField(max_length=8, choices=Component)
    number = ShortText(max_length=60)
    made_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    received = models.DecimalField(max_digits=9, decimal_places=2)
    unit = models.CharField(max_length=2, choices=Unit)
    containers = models.PositiveIntegerField(null=True, blank=True)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    file_name = ShortText(max_length=200, blank=True)
    storage_min_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    storage_max_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    received_at = models.DateTimeField()
    received_by = ShortText(max_length=120, blank=True)
    place = ShortText(max_length=120, blank=True)
    note = LongText(blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    digest = models.CharField(max_length=64, help_text="Of what the sender sent")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = OfParty.as_manager()

    class Meta:
        ordering = ("product", "component", "number")
        indexes = (models.Index(fields=("project", "product", "component"), name="batch_of_project"),)
        constraints = (
            models.UniqueConstraint(
                fields=("project", "party", "product", "component", "number"),
                condition=Q(withdrawn_at=None),
                name="batch_once_a_project",
            ),
            models.CheckConstraint(condition=Q(received__gt=0), name="batch_above_zero"),
            models.CheckConstraint(
                condition=Q(made_on=None) | Q(expires_on=None) | Q(expires_on__gte=F("made_on")),
                name="batch_expires_after_it_was_made",
            ),
        )

    def __str__(self) -> str:
        return f"{self.product}, {self.get_component_display()}, batch {self.number}"

    @property
    def amount(self) -> str:
        return f"{self.received.normalize():f} {self.unit}"

    @property
    def container_holds(self) -> Decimal | None:
        """What one container holds, in the batch's unit; None where their number was not told."""
        return self.received / self.containers if self.containers else None


class OfBatch(OfProject):
    path = "batch__project"

    def in_scope_of(self, person: Person) -> Self:
        return self.filter(batch__in=PaintBatch.objects.visible_to(person))


@of_record(may_change=WITHDRAWN)
class BatchStep(models.Model):
    """What befell a batch: its shelf life extended in writing by the maker, put in quarantine, released from it."""

    class What(models.TextChoices):
        EXTENDED = "extended", "Shelf life extended by the maker"
        QUARANTINED = "quarantined", "Put in quarantine"
        RELEASED = "released", "Released from quarantine"

    id = models.UUIDField(primary_key=True, default=new_id)
    batch = models.ForeignKey(PaintBatch, on_delete=models.PROTECT, related_name="steps")
    what = models.CharField(max_length=11, choices=What)
    at = models.DateTimeField(help_text="When it came to hold")
    # Of an extension: the day of the letter, until when, and how the letter is known.
    dated = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    reference = ShortText(max_length=120, blank=True)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    file_name = ShortText(max_length=200, blank=True)
    why = LongText(blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = OfBatch.as_manager()

    class Meta:
        ordering = ("batch", "at", "entered_at")
        constraints = (
            models.CheckConstraint(
                condition=Q(what="extended", dated__isnull=False, expires_on__isnull=False)
                | (~Q(what="extended") & Q(dated=None, expires_on=None)),
                name="extension_says_from_and_until",
            ),
        )

    def __str__(self) -> str:
        return f"{self.batch}: {self.get_what_display()}"


@of_record(may_change=(*MIXED, *WITHDRAWN))
class Mix(models.Model):
    """Paint mixed at one moment of batches of its project. Its number is counted in the project.

    `thinner_pct` is by volume of the paint; `deviation_pct` how far the hardener lies from what the ratio asks for the
    base. What it is usable from and until follows from the data sheet at the paint's temperature, where it states it.
    """

    class Stirred(models.TextChoices):
        POWER = "power", "Power mixer"
        SHAKER = "shaker", "Shaking machine"
        PLURAL = "plural", "By a plural-component machine"
        HAND = "hand", "By hand"
        OTHER = "other", "Other, see the note"

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="mixes")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="mixes")
    number = models.PositiveIntegerField()
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, null=True, blank=True, related_name="mixes")
    sheet_told = ShortText(max_length=200, blank=True, help_text="The data sheet by which it was reckoned")
    mixed_at = models.DateTimeField()
    used_from = models.DateTimeField(null=True, blank=True)
    used_until = models.DateTimeField(null=True, blank=True)
    stirred = models.CharField(max_length=6, choices=Stirred)
    paint_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    thinner_pct = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    ratio_by = models.CharField(
        max_length=6, choices=(("volume", "by volume"), ("mass", "by mass")), blank=True, default=""
    )
    ratio_wanted = ShortText(max_length=40, blank=True)
    ratio_mixed = ShortText(max_length=40, blank=True)
    deviation_pct = models.DecimalField(max_digits=9, decimal_places=1, null=True, blank=True)
    usable_from = models.DateTimeField(null=True, blank=True)
    usable_until = models.DateTimeField(null=True, blank=True)
    pot_life_told = LongText(blank=True, help_text="How it was found, or why it is not stated")
    note = LongText(blank=True)
    # What whoever entered it was asked about and went on with; sentences, as they were told; and why it was.
    gone_over = models.JSONField(default=list, blank=True)
    reason = LongText(blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    digest = models.CharField(max_length=64, help_text="Of what the sender sent")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = OfParty.as_manager()

    class Meta:
        ordering = ("-mixed_at", "-number")
        indexes = (models.Index(fields=("project", "-mixed_at"), name="mix_of_project"),)
        constraints = (
            models.UniqueConstraint(fields=("project", "number"), name="mix_number_once_a_project"),
            models.CheckConstraint(
                condition=Q(used_until=None) | Q(used_from__isnull=False, used_until__gte=F("used_from")),
                name="mix_used_in_order",
            ),
        )

    def __str__(self) -> str:
        return f"Mix {self.number}"


class OfMix(OfProject):
    path = "mix__project"

    def in_scope_of(self, person: Person) -> Self:
        return self.filter(mix__in=Mix.objects.visible_to(person))

    def that_count(self) -> Self:
        """Those that no correction took out, of mixes that nobody withdrew."""
        return self.filter(taken_out_at=None, mix__withdrawn_at=None)


@of_record(may_change=("taken_out_at",))
class MixPart(models.Model):
    """So much of one batch in a mix; a correction takes it out and puts another in."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="parts")
    batch = models.ForeignKey(PaintBatch, on_delete=models.PROTECT, related_name="parts")
    containers = models.PositiveIntegerField(null=True, blank=True, help_text="Whole ones; null: it was measured")
    amount = models.DecimalField(max_digits=9, decimal_places=3)
    unit = models.CharField(max_length=2, choices=Unit)
    taken_out_at = models.DateTimeField(null=True, blank=True)

    objects = OfMix.as_manager()

    class Meta:
        ordering = ("mix", "batch__component", "batch__number")
        constraints = (
            models.UniqueConstraint(fields=("mix", "batch"), condition=Q(taken_out_at=None), name="batch_once_a_mix"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="mix_part_above_zero"),
        )

    def __str__(self) -> str:
        return f"{self.amount.normalize():f} {self.unit} of {self.batch}"
