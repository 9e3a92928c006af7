"""What a day's report tells of the diary: its entries as they stand, hours by party and cause, signatures."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from inspection.diary.kinds import KINDS, head_of
from inspection.diary.models import DaySignature, DiaryEntry
from inspection.diary.queries import in_order, signed_of, totals_of
from inspection.diary.work import work_of
from inspection.projects.models import Project
from reports.daily.diary_facts import DiaryLine, HoursLost, PersonHours, SignedDay

PRINTED = tuple(kind.name for kind in KINDS if not kind.own)


def entries_of(project: Project, day: date) -> list[DiaryEntry]:
    """The entries of the day that a report prints, in the order in which they are read; one query."""
    rows = DiaryEntry.objects.that_count().filter(project=project, day=day, kind__in=PRINTED)
    related = rows.select_related("project", "crew", "party__organisation", "entered_by__organisation")
    found = in_order(related.order_by("entered_at", "pk"))
    return sorted(found, key=lambda entry: PRINTED.index(DiaryEntry.Kind(entry.kind)))


def diary_told(project: Project, day: date, ends: datetime, entries: Sequence[DiaryEntry]) -> dict[str, Any]:
    """The facts by their names."""
    totals = totals_of(entries)
    return {
        "diary": tuple(_line(entry, ends) for entry in entries),
        "person_hours": tuple(PersonHours(whose, people, float(hours)) for whose, people, hours in totals.people),
        "hours_lost": tuple(HoursLost(cause, whose, float(hours)) for cause, whose, hours in totals.lost),
        "signed": _signed(project, day),
    }


def _line(entry: DiaryEntry, ends: datetime) -> DiaryLine:
    return DiaryLine(
        kind=entry.kind,
        clock=f"{entry.clock:%H:%M}" if entry.clock else "",
        told=head_of(entry),
        text=entry.text,
        by=entry.by_name,
        why=entry.why,
        late=entry.entered_at if entry.entered_at >= ends and entry.version == 1 else None,
    )


def _signed(project: Project, day: date) -> tuple[SignedDay, ...]:
    rows = DaySignature.objects.that_stand().filter(project=project, day=day)
    people = set(rows.order_by().values_list("by", flat=True))
    return tuple(
        SignedDay(
            signed_as=each.signature.signed_as, at=each.signature.at, covers=each.covers,
            digest=each.signature.digest, since=each.since,
        )
        for each in signed_of(rows, work_of(project, day, people))
    )  # fmt: skip


def days_entered(project: Project, since: datetime, until: datetime) -> set[date]:
    """The days of which something was entered in the time given, or that were signed in it."""
    of_entries = DiaryEntry.objects.filter(project=project, kind__in=PRINTED, entered_at__range=(since, until))
    of_signatures = DaySignature.objects.filter(project=project, at__range=(since, until))
    return {day for rows in (of_entries, of_signatures) for day in rows.order_by().values_list("day", flat=True)}


def anything_entered(project: Project, day: date) -> bool:
    return DiaryEntry.objects.that_count().filter(project=project, day=day, kind__in=PRINTED).exists()
