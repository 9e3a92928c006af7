"""Nonconformances and items of rework as a day's report tells them: as they stood at its end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Prefetch, Q
from django.db.models.functions import Coalesce

from accounts.models import JournalEntry
from inspection.fieldwork.kind import Discipline
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import Record
from inspection.nonconformance.models import Disposition, Nonconformance, ReworkEntry, ReworkItem
from inspection.nonconformance.queries import PLACE
from inspection.nonconformance.rework import state_by
from inspection.projects.models import Project
from reports.daily.extents import reaching, repaired_told
from reports.daily.facts import Nonconforming, Rework, Said
from reports.daily.parts import Part

Kind = Disposition.Kind
SETTLED = (ReworkItem.State.CLOSED, ReworkItem.State.DROPPED)
DONE = (ReworkItem.State.DONE, ReworkItem.State.CLOSED)


def of_kinds(of: Part) -> Q:
    """What arose on a record of a kind that the part tells; what arose on none is told with the inspection."""
    if of.discipline is None:
        return Q()
    on_none = Q(record=None) if of.tells(Discipline.INSPECTION) else Q(pk__in=[])
    return Q(record__kind__in=of.kinds) | on_none


def nonconformances_told(project: Project, of: Part) -> tuple[Nonconforming, ...]:
    """Raised or closed in the part, or open at its end. What a measurement raised belongs to when it was measured."""
    begins, ends = of.begins, of.ends
    of_measurement = Coalesce("record__taken_at", "raised_at")
    rows = Nonconformance.objects.filter(of_kinds(of), project=project)
    rows = rows.annotate(began=of_measurement).filter(began__lt=ends)
    rows = rows.filter(Q(closed_at=None) | Q(closed_at__gte=begins)).select_related(*PLACE, "record")
    known = Disposition.objects.filter(at__lt=ends).order_by("at", "pk")
    found = list(rows.prefetch_related(Prefetch("dispositions", known)).order_by("number"))
    drafts, reach, parts = _drafts(found, ends), reaching(found, ends), repaired_told(found, begins, ends)
    return tuple(
        replace(
            _told(project, row, of, draft=row.pk in drafts), reaches=reach.get(row.pk),
            repaired=tuple(parts.get(row.pk, ())),
        )
        for row in found
    )  # fmt: skip


def arose_in(project: Project, of: Part) -> bool:
    """Whether a nonconformance was raised or closed in the part, or belongs to it by its measurement."""
    began = Coalesce("record__taken_at", "raised_at")
    rows = Nonconformance.objects.filter(of_kinds(of), project=project).annotate(began=began)
    moved = [Q(**{f"{when}__gte": of.begins, f"{when}__lt": of.ends}) for when in ("began", "raised_at", "closed_at")]
    return rows.filter(moved[0] | moved[1] | moved[2]).exists()


def _told(project: Project, row: Any, of: Part, *, draft: bool) -> Nonconforming:
    begins, ends = of.begins, of.ends
    closed_at = row.closed_at if row.closed_at and row.closed_at < ends else None
    words = [word for word, then in (("raised", row.began >= begins), ("closed", closed_at is not None)) if then]
    stood = _standing(row.dispositions.all())
    grade = next((str(each.get_choice_display()) for each in reversed(stood) if each.kind == Kind.GRADE), "")
    return Nonconforming(
        number=row.number, title=row.title, area=row.area.label if row.area else row.place,
        coat=row.coat.name if row.coat else "", raised_at=row.raised_at,
        closed_at=closed_at, that_day=" and ".join(words) or "open",
        repair=row.repair if closed_at and not draft else "",
        late=row.raised_at if row.raised_at >= of.day_ends else None, draft=draft, grade=grade,
        of_record=str(row.record_id or ""), on=_of(project, row.record) if row.record else "",
        said=tuple(_said(each) for each in stood if each.at >= begins),
    )  # fmt: skip


def _of(project: Project, record: Record) -> str:
    at = record.taken_at.astimezone(project.zone)
    return f"{BY_NAME[record.kind].title} of {at:%Y-%m-%d %H:%M}"


def _drafts(rows: Sequence[Nonconformance], ends: datetime) -> set[UUID]:
    """Those that were drafts when the day ended, or were never issued; the journal says when one was."""
    if not rows:
        return set()
    told = JournalEntry.objects.filter(
        Q(verb="nonconformance.issued", at__gte=ends) | Q(verb="nonconformance.dropped"),
        object_type=Nonconformance._meta.label_lower, object_id__in=[str(row.pk) for row in rows],
    )  # fmt: skip
    later = {UUID(pk) for pk in told.values_list("object_id", flat=True)}
    return later | {row.pk for row in rows if row.state == Nonconformance.State.DRAFT}


def _standing(entries: Iterable[Disposition]) -> list[Disposition]:
    """Those that none of the others takes back."""
    known = list(entries)
    taken_back = {each.withdraws_id for each in known}
    return [each for each in known if each.kind != Kind.WITHDRAWAL and each.pk not in taken_back]


def _said(each: Disposition) -> Said:
    chosen = f": {each.get_choice_display().lower()}" if each.choice else ""
    by = f"{each.done_by}, as {each.signed_as} entered" if each.done_by else each.signed_as
    return Said(f"{each.get_kind_display()}{chosen}", each.at, by, each.text)


def rework_told(project: Project, of: Part) -> tuple[Rework, ...]:
    """Items opened by the part's end and not settled before it began, as their entries made them at its end."""
    begins, ends = of.begins, of.ends
    rows = ReworkItem.objects.filter(of_kinds(of), project=project).annotate(
        began=Coalesce("record__taken_at", "opened_at")
    )
    rows = rows.filter(began__lt=ends).select_related("area__structure", "coat").order_by("began", "pk")
    # What was settled before the day and not touched since has nothing to tell.
    since = Exists(ReworkEntry.objects.filter(item=OuterRef("pk"), at__gte=begins))
    rows = rows.filter(~Q(state__in=SETTLED) | Q(began__gte=begins) | since)
    entries_by_then = ReworkEntry.objects.filter(at__lt=ends).select_related("person")
    found = []
    for row in rows.prefetch_related(Prefetch("entries", entries_by_then)):
        then, before = (_in_force(row.entries.all(), until) for until in (ends, begins))
        state = state_by(then)
        if state in SETTLED and state == state_by(before):
            continue
        done = next((entry for entry in reversed(then) if entry.kind == ReworkEntry.Kind.DONE), None)
        found.append(
            Rework(
                what=row.what, place=row.place, area=row.area.label, coat=row.coat.name if row.coat else "",
                opened_at=row.began, state=str(ReworkItem.State(state).label),
                done=f"{done.text}, {done.done_by}" if done and state in DONE else "",
                late=row.opened_at if row.opened_at >= of.day_ends else None,
                said=tuple(_word(entry) for entry in then if entry.at >= begins),
            )
        )  # fmt: skip
    return tuple(found)


def _in_force(entries: Iterable[ReworkEntry], until: datetime) -> list[ReworkEntry]:
    """The entries until a moment that none of the others takes back."""
    known = [entry for entry in entries if entry.at < until]
    taken_back = {entry.withdraws_id for entry in known}
    return [entry for entry in known if entry.kind != ReworkEntry.Kind.WITHDRAWAL and entry.pk not in taken_back]


def _word(entry: ReworkEntry) -> Said:
    by = entry.person.name_at(entry.at) if entry.person else "the platform"
    return Said(str(entry.get_kind_display()), entry.at, entry.done_by or by, entry.text)
