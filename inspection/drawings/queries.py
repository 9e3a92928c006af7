"""Reads of drawings: those in sight, the revision that stands, what is drawn over it; areas on no drawing."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from accounts.models import Person
from inspection.drawings.models import Drawing, DrawingArea, DrawingNote, DrawingRevision
from inspection.projects.models import InspectionArea, Project


def drawings_seen(person: Person) -> QuerySet[Drawing]:
    """What the person sees, each with its revisions in order and the areas it shows that they see: three queries."""
    areas = DrawingArea.objects.visible_to(person).that_stand().select_related("area__structure")
    return drawings_revised(person).prefetch_related(Prefetch("areas", areas))


def drawings_revised(person: Person) -> QuerySet[Drawing]:
    """What the person sees, each with its revisions in order: two queries."""
    revisions = DrawingRevision.objects.select_related("by", "withdrawn_by", "file").order_by("order")
    rows: QuerySet[Drawing] = Drawing.objects.visible_to(person)
    return rows.select_related("project", "section__structure").prefetch_related(Prefetch("revisions", revisions))


def places_on(person: Person, project: Project) -> dict[UUID, list[tuple[UUID, int | None, int | None]]]:
    """By drawing the areas it shows that the person sees, with their places, as plain rows: there may be very many."""
    rows: Any = DrawingArea.objects.visible_to(person).that_stand().filter(drawing__project=project)
    found: dict[UUID, list[tuple[UUID, int | None, int | None]]] = {}
    for drawing, *place in rows.values_list("drawing", "area", "x", "y"):
        found.setdefault(drawing, []).append((*place,))
    return found


def standing(drawing: Drawing) -> DrawingRevision | None:
    """Of a drawing read by `drawings_seen`: the last revision that nobody withdrew."""
    kept = [each for each in drawing.revisions.all() if each.withdrawn_at is None]
    return kept[-1] if kept else None


def revisions_seen(person: Person) -> QuerySet[DrawingRevision]:
    rows: QuerySet[DrawingRevision] = DrawingRevision.objects.visible_to(person)
    return rows.select_related("drawing__project", "drawing__section__structure", "file", "by", "withdrawn_by")


def notes_seen(person: Person) -> QuerySet[DrawingNote]:
    rows: QuerySet[DrawingNote] = DrawingNote.objects.visible_to(person)
    return rows.select_related(
        "drawing__project", "revision__file", "area__structure", "by", "withdrawn_by", "replaced_by"
    )


def notes_of(person: Person, drawing: Drawing) -> list[DrawingNote]:
    """Of a drawing, whatever revision they are on: those that stand, in their order."""
    rows: Any = notes_seen(person)
    return list(rows.filter(drawing=drawing).that_stand().order_by("number"))


def versions_of(person: Person, note: DrawingNote) -> list[DrawingNote]:
    """All versions of a note that the person sees, the first one first."""
    return list(notes_seen(person).filter(drawing=note.drawing_id, number=note.number).order_by("version"))


def of_area(person: Person, area: InspectionArea) -> list[tuple[Drawing, DrawingRevision]]:
    """The drawings that show the area, with the revision that stands."""
    shown = DrawingArea.objects.filter(area=area, ended_at=None).order_by().values("drawing")
    found = [(each, standing(each)) for each in drawings_seen(person).filter(pk__in=shown)]
    return [(drawing, revision) for drawing, revision in found if revision]


def areas_on_no_drawing(person: Person, project: Project) -> QuerySet[InspectionArea]:
    """Areas in use that no drawing shows which stands."""
    kept = DrawingRevision.objects.filter(withdrawn_at=None).order_by().values("drawing")
    shown = DrawingArea.objects.filter(area=OuterRef("pk"), ended_at=None, drawing__in=kept)
    rows: QuerySet[InspectionArea] = InspectionArea.objects.in_use().whole().visible_to(person)
    return rows.filter(~Exists(shown), structure__project=project).select_related("structure")


def area_named(person: Person, project: UUID, pk: UUID) -> InspectionArea | None:
    """An area of the project, as far as the person sees it."""
    rows = InspectionArea.objects.visible_to(person).filter(structure__project=project, pk=pk)
    return rows.select_related("structure__project").first()
