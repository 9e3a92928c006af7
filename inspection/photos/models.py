"""Photos: the bytes as they came, what they are of, and the layers drawn over them. Bytes are never changed."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.models import Person, Role, StoredFile
from inspection.fieldwork.models import Record
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.holdpoints.models import Decision
from inspection.instruments.models import Verification
from inspection.nonconformance.models import Nonconformance, ReworkItem
from inspection.notices.models import Notice
from inspection.projects.models import InspectionArea, OfProject, Project
from inspection.works.models import Lot

# Each photo is of one of these.
THINGS = ("record", "nonconformance", "rework_item", "notice", "decision", "verification", "lot")


def _of_one_thing() -> Q:
    found = Q()
    for name in THINGS:
        found |= Q(*((f"{each}__isnull", each != name) for each in THINGS))
    return found


def _outside(person: Person) -> Q:
    """What an outside party sees: what is shown to it, and what its own organisation sent."""
    return Q(shown=True, withdrawn_at=None) | Q(by__organisation=person.organisation_id)


class PhotoQuerySet(OfProject):
    def visible_to(self, person: Person) -> Self:
        """Those of what the person sees. Of the company's photos, outside parties see what is shown to them.

        A client's and a contractor's people see besides what their own organisation sent, withdrawn or not.
        """
        if person.sees_every_project:
            return self
        if not person.is_contractors:
            seen = super().visible_to(person)
            return seen.filter(_outside(person)) if person.has_role(Role.CLIENT) else seen
        return self.in_scope_of(person).filter(_outside(person))

    def in_scope_of(self, person: Person) -> Self:
        """Of records and items of rework they see none, and so no photos of them; nor those of a draft.

        Of notices they see those of their own, and what their own people sent; of lots those of their own crews.
        """
        areas = InspectionArea.objects.visible_to(person).order_by().values("pk")
        ours = Q(notice__party__organisation=person.organisation_id) | Q(by__organisation=person.organisation_id)
        raised = Nonconformance.objects.visible_to(person).order_by().values("pk")
        lots = Lot.objects.visible_to(person).order_by().values("pk")
        return self.filter(
            Q(nonconformance__in=raised)
            | Q(lot__in=lots)
            | Q(decision__isnull=False, area__in=areas)
            | Q(ours, notice__isnull=False),
            project__in=Project.objects.visible_to(person).order_by().values("pk"),
        )

    def that_stand(self) -> Self:
        return self.filter(withdrawn_at=None)


@of_record(
    may_change=(
        "caption", "shown", "in_report", "withdrawn_at", "withdrawn_by", "withdrawn_why", "record", "area", "came_with",
    )
)  # fmt: skip
class Photo(models.Model):
    """One photo of one thing. Its id is the sender's, so sending it again is safe; width and height as it is looked at.

    The file is kept as it came, with the position and camera data in it; what is shown is made anew without them.
    """

    class Format(models.TextChoices):
        JPEG = "jpeg", "JPEG"
        PNG = "png", "PNG"
        HEIC = "heic", "HEIC"
        WEBP = "webp", "WebP"

    id = models.UUIDField(primary_key=True, default=new_id)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="photos")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    # Where its record was corrected since: the version that it was sent with.
    came_with = models.ForeignKey(Record, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    nonconformance = models.ForeignKey(
        Nonconformance, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    rework_item = models.ForeignKey(ReworkItem, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    decision = models.ForeignKey(Decision, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    # Of these it stays with the version that it came with; the page of the one that stands shows it too.
    verification = models.ForeignKey(
        Verification, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    # Of this upload: the same bytes may have come elsewhere under another name.
    file_name = models.CharField(max_length=200)
    format = models.CharField(max_length=4, choices=Format)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    taken_at = models.DateTimeField(null=True, blank=True, help_text="By the camera's clock, where the file says so")
    received_at = models.DateTimeField(default=timezone.now)
    at_once = models.BooleanField(default=False, help_text="Sent when it was taken, so that its clock can be compared")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    caption = ShortText(max_length=200, blank=True)
    shown = models.BooleanField(default=False, help_text="Shown to the client and to the contractor whose area it is")
    in_report = models.BooleanField(default=False, help_text="Printed in the daily report, beside its record")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ("-received_at", "-id")
        indexes = (models.Index(fields=("project", "-received_at", "-id"), name="photo_of_project"),)
        constraints = (
            models.CheckConstraint(condition=_of_one_thing(), name="photo_of_one_thing"),
            # The report goes to the client.
            models.CheckConstraint(condition=Q(in_report=False) | Q(shown=True), name="photo_printed_is_shown"),
        )

    def __str__(self) -> str:
        return self.caption or f"Photo of {self.received_at:%Y-%m-%d %H:%M} UTC"

    @property
    def by_name(self) -> str:
        """Who sent it, under the name of that time."""
        return self.by.name_at(self.received_at)


class PhotoLayerQuerySet(OfProject):
    path = "photo__project"

    def visible_to(self, person: Person) -> Self:
        return self.filter(photo__in=Photo.objects.visible_to(person).order_by().values("pk"))


@of_record
class PhotoLayer(models.Model):
    """What is drawn over a photo, whole; the one with the greatest number stands. Without shapes: nothing is drawn."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="layers")
    number = models.PositiveSmallIntegerField()
    shapes = models.JSONField(help_text="Arrows, circles and texts; places as shares of width and height")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    objects = PhotoLayerQuerySet.as_manager()

    class Meta:
        ordering = ("photo", "number")
        constraints = (models.UniqueConstraint(fields=("photo", "number"), name="layer_number_once_a_photo"),)

    def __str__(self) -> str:
        return f"Layer {self.number} of {self.photo}"


class PhotoPart(models.Model):
    """Some bytes of a photo that is under way, for its sender alone; gone once the photo is kept, or given up."""

    by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the whole photo")
    begins = models.PositiveIntegerField(help_text="How many bytes of the photo come before")
    size = models.PositiveIntegerField()
    content = models.BinaryField()
    at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("by", "digest", "begins"), name="photo_part_once"),)

    def __str__(self) -> str:
        return f"{self.size} bytes from {self.begins} of {self.digest[:12]}…"
