"""Reads of the diary: a day with all that is told of it, notes nobody has read yet, signatures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import cast
from uuid import UUID

from django.db.models import Count, Exists, OuterRef, Prefetch, QuerySet, Sum
from django.utils import timezone

from accounts.models import Person, Role
from inspection.diary import work
from inspection.diary.actions import WRITERS, may_change
from inspection.diary.kinds import KINDS, EntryKind, head_of, whose
from inspection.diary.models import DaySignature, DiaryEntry, NoteRead
from inspection.fieldwork.models import Record
from inspection.foundation.refusals import NotAllowed
from inspection.projects.models import Project
from inspection.works.models import Crew, CrewPerson, Shift

# A note to the next shift that nobody of the next days read is old news (a declared limit, common practice, no source).
NOTE_STAYS = timedelta(days=14)
MOST_NOTES = 20
WEEK = timedelta(days=7)


@dataclass
class Told:
    """An entry as a page shows it."""

    entry: DiaryEntry
    head: str
    may_change: bool = False
    # When it was entered, if that was after its day had ended.
    late: datetime | None = None
    read_by: list[NoteRead] = field(default_factory=list)

    @property
    def is_read(self) -> bool:
        return bool(self.read_by)


@dataclass
class ShiftTold:
    """A shift of the day: how many people the crew has then, its hours, and whether the day tells of the crew."""

    shift: Shift
    people: int
    hours: Decimal
    entered: bool


@dataclass
class Signed:
    """A signature that stands, and what differs now from what was signed."""

    signature: DaySignature
    since: str
    covers: str


@dataclass
class Mine:
    """What the person recorded and wrote on the day, and how far they have signed it."""

    covers: str
    digest: str
    signed: Signed | None
    things: list[work.Thing]

    @property
    def to_sign(self) -> bool:
        return bool(self.covers) and (self.signed is None or bool(self.signed.since))


@dataclass
class Totals:
    """Hours of the day: those of people by whose they are, and those lost by cause and party."""

    people: list[tuple[str, int, Decimal]]
    lost: list[tuple[str, str, Decimal]]


@dataclass
class Day:
    project: Project
    day: date
    parts: list[tuple[EntryKind, list[Told]]]
    shifts: list[ShiftTold]
    notes: list[Told]
    signed: list[Signed]
    mine: Mine
    totals: Totals


def require_reader(person: Person) -> None:
    """The diary is read by the company's people and its auditors; the rest read the issued report."""
    if not (person.is_company or person.has_role(Role.AUDITOR)):
        raise NotAllowed("The diary is the inspection company's own; the issued daily report tells of the day.")


def entries_seen(person: Person) -> QuerySet[DiaryEntry]:
    """Every version that the person sees, with what is shown of each."""
    rows = cast("QuerySet[DiaryEntry]", DiaryEntry.objects.visible_to(person))
    return rows.select_related(
        "project", "crew", "party__organisation", "entered_by", "withdrawn_by", "replaces", "replaced_by"
    )


def signatures_seen(person: Person) -> QuerySet[DaySignature]:
    rows = cast("QuerySet[DaySignature]", DaySignature.objects.visible_to(person))
    return rows.select_related("project", "by", "withdrawn_by")


def days_of(person: Person, project: Project) -> QuerySet[DiaryEntry, date]:
    """The days of the project that the diary tells of, the latest first."""
    rows = DiaryEntry.objects.visible_to(person).filter(project=project).that_count()  # type: ignore[attr-defined]  # ours
    return rows.order_by("-day").values_list("day", flat=True).distinct()


def signers_of(person: Person, project: Project, days: Iterable[date]) -> dict[date, list[str]]:
    """By day, who has signed; one query."""
    rows = signatures_seen(person).filter(project=project, day__in=list(days), withdrawn_at=None)
    found: dict[date, list[str]] = defaultdict(list)
    for row in rows.order_by("at", "pk"):
        if row.signed_as not in found[row.day]:
            found[row.day].append(row.signed_as)
    return found


def lost_in_all(person: Person, project: Project) -> list[tuple[str, str, int, Decimal]]:
    """Hours lost over the whole project: cause, by whom, on how many days, hours; the most first, in one query."""
    rows = DiaryEntry.objects.visible_to(person).that_count().filter(  # type: ignore[attr-defined]  # ours
        project=project, kind=DiaryEntry.Kind.DELAY
    )  # fmt: skip
    sums = rows.order_by().values("cause", "party__organisation__name", "organisation")
    found = [
        (
            str(DiaryEntry.Cause(each["cause"]).label), each["party__organisation__name"] or each["organisation"],
            each["days"], each["lost"],
        )
        for each in sums.annotate(lost=Sum("hours"), days=Count("day", distinct=True))
    ]  # fmt: skip
    return sorted(found, key=lambda each: (-each[3], each[0], each[1]))


def day_of(person: Person, project: Project, day: date) -> Day:
    """All that the diary tells of the day; the number of queries does not grow with it."""
    rows = entries_seen(person).filter(project=project, day=day, replaced_by=None, withdrawn_at=None)
    reads = NoteRead.objects.filter(taken_back_at=None).select_related("person").order_by("at", "pk")
    entries = in_order(rows.prefetch_related(Prefetch("reads", reads)).order_by("entered_at", "pk"))
    told = [_told(person, entry) for entry in entries]
    people = set(
        DaySignature.objects.filter(project=project, day=day, withdrawn_at=None).values_list("by", flat=True)
    )  # fmt: skip
    now = work.work_of(project, day, people | {person.pk})
    signed = signed_of(signatures_seen(person).filter(project=project, day=day, withdrawn_at=None), now)
    mine = now.get(person.pk, [])
    own = next((each for each in signed if each.signature.by_id == person.pk), None)
    return Day(
        project=project,
        day=day,
        parts=[(kind, [each for each in told if each.entry.kind == kind.name]) for kind in KINDS],
        shifts=_shifts(person, project, day, entries),
        notes=notes_for(person, [project], until=day),
        signed=signed,
        mine=Mine(
            work.in_words(mine),
            work.digest_of(project, day, person, mine) if mine else "",
            own,
            work.things_of(mine, mine),
        ),
        totals=totals_of(entries),
    )


def notes_for(person: Person, projects: Iterable[Project], until: date | None = None) -> list[Told]:
    """Notes to the next shift that others wrote and the person has not read; the oldest first, one query.

    `until`: those of the days before it, and of the day itself.
    """
    if not person.has_role(*WRITERS):
        return []
    since = timezone.now() - NOTE_STAYS
    rows = entries_seen(person).filter(
        project__in=list(projects), kind=DiaryEntry.Kind.HANDOVER, replaced_by=None, withdrawn_at=None,
        entered_at__gte=since,
    )  # fmt: skip
    if until:
        rows = rows.filter(day__lte=until)
    read = NoteRead.objects.filter(entry=OuterRef("pk"), person=person.pk, taken_back_at=None)
    rows = rows.exclude(entered_by=person.pk).filter(~Exists(read)).order_by("entered_at", "pk")
    return [_told(person, entry) for entry in rows[:MOST_NOTES]]


def unsigned_days(person: Person, projects: Iterable[Project], at: datetime) -> list[tuple[Project, date]]:
    """The days before today of the last week on which the person recorded or wrote, and which they have not signed.

    Three queries, however many projects there are.
    """
    known = {project.pk: project for project in projects}
    since, mine = at - WEEK, {"project__in": list(known)}
    records = Record.objects.filter(**mine, taken_by=person.pk, taken_at__gte=since, taken_at__lte=at)
    days = {
        (pk, known[pk].day_of(taken)) for pk, taken in records.order_by().values_list("project", "taken_at").distinct()
    }  # fmt: skip
    entries = DiaryEntry.objects.that_count().filter(**mine, entered_by=person.pk, day__gte=since.date())
    days |= set(entries.order_by().values_list("project", "day").distinct())
    signed = DaySignature.objects.that_stand().filter(**mine, by=person.pk, day__gte=(since - WEEK).date())
    days -= set(signed.values_list("project", "day"))
    past = [(known[pk], day) for pk, day in days if day < known[pk].day_of(at)]
    return sorted(past, key=lambda each: (each[1], each[0].code))


def versions_of(entry: DiaryEntry, person: Person) -> list[DiaryEntry]:
    """All versions of what the entry tells, the first first."""
    rows = entries_seen(person).filter(project=entry.project_id, day=entry.day, kind=entry.kind)
    known = {row.pk: row for row in rows}
    first = known[entry.pk]
    while first.replaces_id in known:
        first = known[first.replaces_id]
    later = {row.replaces_id: row for row in known.values()}
    versions = [first]
    while versions[-1].pk in later:
        versions.append(later[versions[-1].pk])
    return versions


def totals_of(entries: Iterable[DiaryEntry]) -> Totals:
    """Hours of people by whose they are, and hours lost by cause and by whom; by name, so that they can be compared."""
    people: dict[str, tuple[int, Decimal]] = defaultdict(lambda: (0, Decimal(0)))
    lost: dict[tuple[str, str], Decimal] = defaultdict(Decimal)
    for entry in entries:
        hours = entry.hours or Decimal(0)
        if entry.kind == DiaryEntry.Kind.CREW and entry.people:
            heads, before = people[whose(entry)]
            people[whose(entry)] = (heads + entry.people, before + entry.people * hours)
        elif entry.kind == DiaryEntry.Kind.DELAY:
            lost[str(entry.get_cause_display()), whose(entry)] += hours
    return Totals(
        people=[(name, heads, hours) for name, (heads, hours) in sorted(people.items())],
        lost=[(cause, party, hours) for (cause, party), hours in sorted(lost.items())],
    )


def _told(person: Person, entry: DiaryEntry) -> Told:
    ends = entry.project.day_bounds(entry.day)[1]
    late = entry.entered_at if entry.entered_at >= ends and entry.version == 1 else None
    reads = list(entry.reads.all()) if "reads" in getattr(entry, "_prefetched_objects_cache", {}) else []
    return Told(entry, head_of(entry), may_change(person, entry), late, reads)


def in_order(entries: Iterable[DiaryEntry]) -> list[DiaryEntry]:
    """By the clock where they have one, as the project's day runs, which may begin in the evening."""

    def place(entry: DiaryEntry) -> tuple[bool, bool, str]:
        clock, first = entry.clock, entry.project.shift_times[0]
        return (clock is None, clock is not None and clock < first, clock.isoformat() if clock else "")

    return sorted(entries, key=place)


def _shifts(person: Person, project: Project, day: date, entries: Sequence[DiaryEntry]) -> list[ShiftTold]:
    """The shifts that begin on the day, of crews that the person sees; two queries."""
    begins, ends = project.day_bounds(day)
    rows = Shift.objects.visible_to(person).that_hold().filter(  # type: ignore[attr-defined]  # ours
        crew__project=project, begins_at__gte=begins, begins_at__lt=ends
    )  # fmt: skip
    shifts = list(rows.select_related("crew__project", "crew__party__organisation").order_by("begins_at", "crew__name"))
    parts = list(
        CrewPerson.objects.filter(crew__in={shift.crew_id for shift in shifts}).values_list(
            "crew", "person", "begun_at", "ended_at"
        )
        if shifts
        else ()
    )
    entered = {entry.crew_id for entry in entries if entry.crew_id}
    return [_shift(shift, parts, entered) for shift in shifts]


def shift_of_crew(person: Person, project: Project, day: date, crew: Crew) -> ShiftTold | None:
    """The crew's first shift of the day, to begin an entry with."""
    return next((each for each in _shifts(person, project, day, ()) if each.shift.crew_id == crew.pk), None)


def _shift(
    shift: Shift, parts: Sequence[tuple[UUID, UUID, datetime, datetime | None]], entered: set[UUID]
) -> ShiftTold:
    people = {
        person
        for crew, person, begun, ended in parts
        if crew == shift.crew_id and begun < shift.ends_at and (ended is None or ended > shift.begins_at)
    }
    seconds = Decimal(int((shift.ends_at - shift.begins_at).total_seconds()))
    hours = (seconds / 3600).quantize(Decimal("0.01")).normalize()
    return ShiftTold(shift, len(people), hours, shift.crew_id in entered)


def signed_of(rows: QuerySet[DaySignature], now: dict[UUID, list[work.Line]]) -> list[Signed]:
    """Of the signatures of a day the last of each person, in the order of signing, beside what is there `now`."""
    last = {row.by_id: row for row in rows.order_by("number")}
    return [
        Signed(row, work.since(row.content, now.get(row.by_id, [])), work.in_words(row.content))
        for row in sorted(last.values(), key=lambda each: (each.at, each.pk))
    ]
