"""What a day's report tells of the diary: its entries as they stand, hours by party and cause, signatures."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet

from inspection.diary.kinds import KINDS, head_of
from inspection.diary.models import DaySignature, DiaryEntry
from inspection.diary.queries import in_order, signed_of, totals_of
from inspection.diary.work import work_of
from inspection.fieldwork.kind import Discipline
from inspection.fieldwork.models import Record
from inspection.instruments.models import Verification
from inspection.projects.models import Project
from inspection.works.models import Shift
from reports.daily.diary_facts import DiaryLine, HoursLost, PersonHours, SignedDay
from reports.daily.models import Basis, Reporting
from reports.daily.parts import Part, parts_of

PRINTED = tuple(kind.name for kind in KINDS if not kind.own)


def entries_of(project: Project, day: date, of: Part) -> list[DiaryEntry]:
    """The entries of the day that the report of the part prints, in the order in which they are read."""
    if not of.tells(Discipline.INSPECTION):
        return []
    rows = DiaryEntry.objects.that_count().filter(project=project, day=day, kind__in=PRINTED)
    related = rows.select_related("project", "crew", "party__organisation", "entered_by__organisation")
    found = in_order(related.order_by("entered_at", "pk"))
    if of.one_a == Reporting.OneA.SHIFT:
        then = _moments(project, day, found, of)
        found = [entry for entry in found if of.holds(then[entry.pk])]
    return sorted(found, key=lambda entry: PRINTED.index(DiaryEntry.Kind(entry.kind)))


def _moments(project: Project, day: date, entries: Sequence[DiaryEntry], of: Part) -> dict[UUID, datetime]:
    """By entry, when what it tells was: by its clock, of a crew its shift that day, else when it was first entered."""
    versions = DiaryEntry.objects.filter(project=project, day=day, replaces__isnull=False)
    former = {pk: replaced for pk, replaced in versions.values_list("pk", "replaces") if replaced}
    entered = dict(DiaryEntry.objects.filter(project=project, day=day).values_list("pk", "entered_at"))
    worked = Shift.objects.that_hold().filter(
        crew__in={entry.crew_id for entry in entries}, begins_at__gte=of.day_begins, begins_at__lt=of.day_ends
    )
    begun = dict(worked.order_by("-begins_at").values_list("crew", "begins_at"))
    found = {}
    for entry in entries:
        first = entry.pk
        # A correction may have been entered in another shift than what it corrects.
        while first in former:
            first = former[first]
        clock = of.clock_of(project, day, entry.clock) if entry.clock else None
        found[entry.pk] = clock or begun.get(entry.crew_id) or entered.get(first, entry.entered_at)
    return found


def diary_told(project: Project, day: date, of: Part, entries: Sequence[DiaryEntry]) -> dict[str, Any]:
    """The facts by their names."""
    totals = totals_of(entries)
    return {
        "diary": tuple(_line(entry, of.day_ends) for entry in entries),
        "person_hours": tuple(PersonHours(whose, people, float(hours)) for whose, people, hours in totals.people),
        "hours_lost": tuple(HoursLost(cause, whose, float(hours)) for cause, whose, hours in totals.lost),
        "signed": _signed(project, day, of),
    }


def diary_of(project: Project, day: date, of: Part) -> list[tuple[str, UUID]]:
    """The entries and the signatures that the report of the part tells of, as a trace names them."""
    entries = [(Basis.ENTRY, entry.pk) for entry in entries_of(project, day, of)]
    signed = signed_of(_signatures_in(project, day, of), {})
    return entries + [(Basis.SIGNATURE, each.signature.pk) for each in signed]


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


def _signatures_in(project: Project, day: date, of: Part) -> QuerySet[DaySignature]:
    """The signatures under the day: in each paper those of who wrote something that it tells, the others in the last.

    A signature covers all that its person recorded on the day, whatever the papers are.
    """
    rows = DaySignature.objects.that_stand().filter(project=project, day=day)
    if of.one_a != Reporting.OneA.DAY:
        wrote = {part.name: writers_in(project, day, part) for part in parts_of(project, day)}
        elsewhere = set().union(*wrote.values()) if of.is_last else set()
        mine = Q(by__in=wrote.get(of.name, set()))
        rows = rows.filter(mine | ~Q(by__in=elsewhere) if of.is_last else mine)
    return rows


def _signed(project: Project, day: date, of: Part) -> tuple[SignedDay, ...]:
    rows = _signatures_in(project, day, of)
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


def writers_in(project: Project, day: date, of: Part) -> set[UUID]:
    """Who wrote what the part's report tells: who recorded, checked a gauge, entered into the diary what it prints."""
    then = Q(project=project, taken_at__gte=of.begins, taken_at__lt=of.ends)
    rows: list[Any] = [Record.objects.filter(then, kind__in=of.kinds).values_list("taken_by", flat=True)]
    if of.tells(Discipline.INSPECTION):
        rows.append(Verification.objects.filter(then).values_list("taken_by", flat=True))
    found = {pk for each in rows for pk in each.order_by().distinct()}
    return found | {entry.entered_by_id for entry in entries_of(project, day, of)}
