"""Nonconformances and items of rework as a day's report tells them: as they stood at its end."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Exists, OuterRef, Prefetch, Q
from django.db.models.functions import Coalesce

from inspection.nonconformance.models import Nonconformance, ReworkEntry, ReworkItem
from inspection.nonconformance.rework import state_by
from inspection.projects.models import Project
from reports.daily.facts import Nonconforming, Rework

SETTLED = (ReworkItem.State.CLOSED, ReworkItem.State.DROPPED)
DONE = (ReworkItem.State.DONE, ReworkItem.State.CLOSED)


def nonconformances_told(project: Project, begins: datetime, ends: datetime) -> tuple[Nonconforming, ...]:
    """Raised or closed that day, or open at its end. What a measurement raised belongs to the day it was measured."""
    of_measurement = Coalesce("record__taken_at", "raised_at")
    rows = Nonconformance.objects.filter(project=project).annotate(began=of_measurement).filter(began__lt=ends)
    rows = rows.filter(Q(closed_at=None) | Q(closed_at__gte=begins)).select_related("area", "coat").order_by("number")
    found = []
    for row in rows:
        closed_at = row.closed_at if row.closed_at and row.closed_at < ends else None
        words = [word for word, then in (("raised", row.began >= begins), ("closed", closed_at is not None)) if then]
        found.append(
            Nonconforming(
                number=row.number,
                title=row.title,
                area=row.area.label,
                coat=row.coat.name,
                raised_at=row.raised_at,
                closed_at=closed_at,
                that_day=" and ".join(words) or "open",
                repair=row.repair if closed_at else "",
                late=row.raised_at if row.raised_at >= ends else None,
            )
        )
    return tuple(found)


def rework_told(project: Project, begins: datetime, ends: datetime) -> tuple[Rework, ...]:
    """Items opened by the day's end and not settled before it began, as their entries made them at its end."""
    rows = ReworkItem.objects.filter(project=project).annotate(began=Coalesce("record__taken_at", "opened_at"))
    rows = rows.filter(began__lt=ends).select_related("area__structure", "coat").order_by("began", "pk")
    # What was settled before the day and not touched since has nothing to tell.
    since = Exists(ReworkEntry.objects.filter(item=OuterRef("pk"), at__gte=begins))
    rows = rows.filter(~Q(state__in=SETTLED) | Q(began__gte=begins) | since)
    rows = rows.prefetch_related(Prefetch("entries", ReworkEntry.objects.filter(at__lt=ends)))
    found = []
    for row in rows:
        entries = list(row.entries.all())
        then, before = (_settled(entries, until) for until in (ends, begins))
        if before in SETTLED and then == before:
            continue
        done = next((entry for entry in reversed(entries) if entry.kind == ReworkEntry.Kind.DONE), None)
        found.append(
            Rework(
                what=row.what, place=row.place, area=row.area.label, coat=row.coat.name if row.coat else "",
                opened_at=row.began, state=str(ReworkItem.State(then).label),
                done=f"{done.text}, {done.done_by}" if done and then in DONE else "",
            )
        )  # fmt: skip
    return tuple(found)


def _settled(entries: Sequence[ReworkEntry], until: datetime) -> ReworkItem.State:
    """What the entries until a moment made of an item."""
    known = [entry for entry in entries if entry.at < until]
    taken_back = {entry.withdraws_id for entry in known}
    return state_by([
        entry for entry in known if entry.kind != ReworkEntry.Kind.WITHDRAWAL and entry.pk not in taken_back
    ])  # fmt: skip
