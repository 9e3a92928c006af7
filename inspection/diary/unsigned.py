"""Days of a project on which people recorded or wrote, and which they have not signed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from django.db.models import DateTimeField, ExpressionWrapper, F, Value
from django.db.models.functions import TruncHour

from accounts.models import Person
from inspection.diary.models import DaySignature, DiaryEntry
from inspection.fieldwork.models import Record
from inspection.projects.models import Project


@dataclass(frozen=True)
class UnsignedDay:
    """A day that somebody worked on and has not signed; it was over at `ended`."""

    day: date
    who: str
    ended: datetime


def days_not_signed(person: Person, project: Project, at: datetime) -> list[UnsignedDay]:
    """Of all who recorded or wrote there, up to the last day that is over at the moment; the oldest first.

    Four reads, however many days and people. Nothing to whoever reads nothing of the diary.
    """
    entries = DiaryEntry.objects.visible_to(person)
    if entries.query.is_empty() or not Project.objects.visible_to(person).filter(pk=project.pk).exists():
        return []
    worked = _recorded(project, at)
    written = entries.filter(project=project).that_count()  # type: ignore[attr-defined]  # ours
    worked |= set(written.order_by().values_list("entered_by", "day").distinct())
    signed = DaySignature.objects.that_stand().filter(project=project).order_by()
    worked -= set(signed.values_list("by", "day"))
    today = project.day_of(at)
    past = [(by, day) for by, day in worked if day < today]
    names = dict(Person.objects.filter(pk__in={by for by, _ in past}).values_list("pk", "name")) if past else {}
    found = [UnsignedDay(day, names[by], project.day_bounds(day)[1]) for by, day in past]
    return sorted(found, key=lambda each: (each.day, each.who))


def _recorded(project: Project, at: datetime) -> set[tuple[UUID, date]]:
    """Who recorded on which day; the database tells the hours, counted from where the day begins."""
    begins = project.day_bounds(project.day_of(at))[0]
    past = timedelta(minutes=begins.minute)
    hour = TruncHour(ExpressionWrapper(F("taken_at") - Value(past), output_field=DateTimeField()), tzinfo=UTC)
    rows = Record.objects.filter(project=project, taken_at__lte=at).annotate(hour=hour).order_by()
    return {(by, project.day_of(begun + past)) for by, begun in rows.values_list("taken_by", "hour").distinct()}
