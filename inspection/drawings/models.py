"""Drawings of a project: their revisions with the file as it came, the areas they show, the notes put on them."""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Lower
from django.utils import timezone

from accounts.models import Person, Role, StoredFile
from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.models import InspectionArea, OfProject, Party, Project, Section

# Places are told in parts of this of the width, from the left, and of the height, from the top.
PARTS = 10_000
WITHDRAWN = ("withdrawn_at", "withdrawn_by", "withdrawn_why")


def _whole_projects(person: Person) -> models.QuerySet:
    """Those in which nothing is given to the contractor's party by itself, so that its people see all."""
    return Party.objects.of_whole_project(person).order_by().values("project")


def _areas(person: Person) -> models.QuerySet:
    return InspectionArea.objects.visible_to(person).order_by().values("pk")


def _placed(name: str) -> models.CheckConstraint:
    """A place has both its parts, or there is none."""
    within = Q(x__gte=0, x__lte=PARTS, y__gte=0, y__lte=PARTS)
    return models.CheckConstraint(condition=Q(x=None, y=None) | within, name=name)


class DrawingQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """Those that show an area of the contractor's scope; all of a project of which nothing is given by itself."""
        shown = DrawingArea.objects.filter(ended_at=None, area__in=_areas(person)).order_by().values("drawing")
        return self.filter(Q(project__in=_whole_projects(person)) | Q(pk__in=shown))


@of_record(may_change=("number", "title", "section"))
class Drawing(models.Model):
    """A drawing under its number, which is given once in a project. What it looks like is told by its revisions."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="drawings")
    section = models.ForeignKey(Section, on_delete=models.PROTECT, null=True, blank=True, related_name="drawings")
    number = ShortText(max_length=60)
    title = ShortText(max_length=200)

    objects = DrawingQuerySet.as_manager()

    class Meta:
        ordering = ("number", "id")
        constraints = (models.UniqueConstraint("project", Lower("number"), name="drawing_number_once_a_project"),)

    def __str__(self) -> str:
        return f"{self.number} {self.title}"


class OfDrawing(OfProject):
    path = "drawing__project"

    def visible_to(self, person: Person) -> Self:
        if person.sees_every_project:
            return self
        return self.filter(drawing__in=Drawing.objects.visible_to(person).order_by().values("pk"))


@of_record(may_change=("revision", *WITHDRAWN))
class DrawingRevision(models.Model):
    """One revision of a drawing: its file as it came, and the sides of the picture that is made of it.

    Its id is the sender's. The last that nobody withdrew is the one that stands; the others stay readable.
    """

    class Format(models.TextChoices):
        JPEG = "jpeg", "JPEG"
        PNG = "png", "PNG"
        HEIC = "heic", "HEIC"
        WEBP = "webp", "WebP"
        PDF = "pdf", "PDF"

    id = models.UUIDField(primary_key=True, default=new_id)
    drawing = models.ForeignKey(Drawing, on_delete=models.PROTECT, related_name="revisions")
    order = models.PositiveSmallIntegerField()
    revision = ShortText(max_length=40, help_text="As it is written on the drawing")
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    file_name = models.CharField(max_length=200)
    format = models.CharField(max_length=4, choices=Format)
    page = models.PositiveSmallIntegerField(default=1, help_text="Of a PDF: the page that is the drawing")
    # Of the picture, in pixels as it is looked at; nothing where none could be made.
    width = models.PositiveIntegerField(default=0)
    height = models.PositiveIntegerField(default=0)
    small_size = models.PositiveIntegerField(default=0, help_text="Bytes of the picture that a phone takes along")
    digest = models.CharField(max_length=64, help_text="Of what the sender sent")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = OfDrawing.as_manager()

    class Meta:
        ordering = ("drawing", "order")
        constraints = (
            models.UniqueConstraint(fields=("drawing", "order"), name="revision_order_once_a_drawing"),
            models.UniqueConstraint(
                "drawing", Lower("revision"), condition=Q(withdrawn_at=None), name="revision_once_a_drawing"
            ),
        )

    def __str__(self) -> str:
        return f"{self.drawing.number} revision {self.revision}"

    @property
    def by_name(self) -> str:
        return self.by.name_at(self.at)

    @property
    def has_picture(self) -> bool:
        return self.width > 0


class DrawingAreaQuerySet(OfDrawing):
    def visible_to(self, person: Person) -> Self:
        rows = super().visible_to(person)
        return rows.filter(area__in=_areas(person)) if person.is_contractors else rows

    def that_stand(self) -> Self:
        return self.filter(ended_at=None)


@of_record(may_change=("ended_at", "ended_by"))
class DrawingArea(models.Model):
    """An area that a drawing shows, and where. Ended, never deleted; given another place, by a row of its own."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    drawing = models.ForeignKey(Drawing, on_delete=models.PROTECT, related_name="areas")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="on_drawings")
    x = models.PositiveSmallIntegerField(null=True, blank=True)
    y = models.PositiveSmallIntegerField(null=True, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = DrawingAreaQuerySet.as_manager()

    class Meta:
        ordering = ("area__code", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("drawing", "area"), condition=Q(ended_at=None), name="area_once_on_a_drawing"
            ),
            _placed("area_on_drawing_has_both_parts"),
        )

    def __str__(self) -> str:
        return f"{self.area.label} on {self.drawing.number}"


class NoteQuerySet(OfDrawing):
    def visible_to(self, person: Person) -> Self:
        """Outside parties see what is shown to them and what their own organisation wrote, as with photos.

        A contractor's people see besides only notes of their areas; without an area, where the whole project is theirs.
        What stands now decides over the versions before it too: they go out of sight with it.
        """
        rows = super().visible_to(person)
        if not (person.is_contractors or person.has_role(Role.CLIENT)) or person.sees_every_project:
            return rows
        shown, own = Q(shown=True, withdrawn_at=None), Q(by__organisation=person.organisation_id)
        if person.is_contractors:
            shown &= Q(area__in=_areas(person)) | Q(area=None, drawing__project__in=_whole_projects(person))
        later = self.model._default_manager.filter(
            Q(shown=False) | Q(withdrawn_at__isnull=False), drawing=OuterRef("drawing"), number=OuterRef("number"),
            version__gt=OuterRef("version"),
        )  # fmt: skip
        return rows.filter(shown & ~Exists(later) | own)

    def current(self) -> Self:
        """Without the versions that a correction has replaced."""
        return self.filter(replaced_by=None)

    def that_stand(self) -> Self:
        return self.current().filter(withdrawn_at=None)


@of_record(may_change=("shown", *WITHDRAWN))
class DrawingNote(models.Model):
    """A note at a place of a drawing, numbered within it. Its id is the sender's; corrected by a new version."""

    id = models.UUIDField(primary_key=True, default=new_id)
    drawing = models.ForeignKey(Drawing, on_delete=models.PROTECT, related_name="notes")
    revision = models.ForeignKey(DrawingRevision, on_delete=models.PROTECT, related_name="notes")
    number = models.PositiveIntegerField()
    version = models.PositiveSmallIntegerField(default=1)
    area = models.ForeignKey(
        InspectionArea, on_delete=models.PROTECT, null=True, blank=True, related_name="drawing_notes"
    )
    x = models.PositiveSmallIntegerField(null=True, blank=True)
    y = models.PositiveSmallIntegerField(null=True, blank=True)
    text = LongText()
    at = models.DateTimeField(help_text="When it was seen")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField(default=timezone.now)
    shown = models.BooleanField(default=False, help_text="Shown to the client and to the contractor whose area it is")
    digest = models.CharField(max_length=64, help_text="Of what the sender sent")
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    why = LongText(blank=True, help_text="Why it replaces the version before")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = LongText(blank=True)

    objects = NoteQuerySet.as_manager()

    class Meta:
        ordering = ("drawing", "number", "version")
        constraints = (
            models.UniqueConstraint(fields=("drawing", "number", "version"), name="note_number_once_a_drawing"),
            _placed("note_has_both_parts"),
        )

    def __str__(self) -> str:
        return f"Note {self.number} on {self.drawing.number}"

    @property
    def by_name(self) -> str:
        """Who wrote this version, under the name of that time."""
        return self.by.name_at(self.received_at)
