"""Reads of rework items: those in sight, what each entry made of one, who may do what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import cast
from uuid import UUID

from django.db.models import Prefetch, QuerySet

from accounts.models import Person, Role
from inspection.fieldwork.models import Record
from inspection.nonconformance.models import ReworkEntry, ReworkItem

Kind, State = ReworkEntry.Kind, ReworkItem.State
WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)


def rework_items(person: Person, *, project: UUID | None = None, area: UUID | None = None, state: str = "") -> (
    QuerySet[ReworkItem]
):  # fmt: skip
    """What the person sees, newest first, with what a list shows of each."""
    rows = cast("QuerySet[ReworkItem]", ReworkItem.objects.visible_to(person))
    wanted = {"project": project, "area": area, "state": state}
    rows = rows.filter(**{name: value for name, value in wanted.items() if value})
    return rows.select_related("project", "area__structure", "coat", "record", "opened_by")


def with_entries(rows: QuerySet[ReworkItem]) -> QuerySet[ReworkItem]:
    entries = ReworkEntry.objects.select_related("person", "withdraws", "withdrawn_by")
    return rows.prefetch_related(Prefetch("entries", entries))


def rework_entries(person: Person) -> QuerySet[ReworkEntry]:
    seen = ReworkItem.objects.visible_to(person).order_by().values("pk")
    return ReworkEntry.objects.filter(item__in=seen).select_related("item__project", "item__area", "withdrawn_by")


def in_force(item: ReworkItem) -> list[ReworkEntry]:
    """The entries that nobody took back, oldest first."""
    rows = item.entries.select_related("withdrawn_by", "person")
    return [row for row in rows if row.kind != Kind.WITHDRAWAL and not hasattr(row, "withdrawn_by")]


def state_by(entries: Iterable[ReworkEntry]) -> ReworkItem.State:
    """What the entries in force make of an item, whatever else was written: the last word counts."""
    state = State.OPEN
    for entry in entries:
        if entry.kind == Kind.DROPPED:
            return State.DROPPED
        if entry.kind == Kind.DONE:
            state = State.DONE
        elif entry.kind == Kind.RIGHT and state == State.DONE:
            state = State.CLOSED
        elif entry.kind == Kind.NOT_RIGHT:
            state = State.OPEN
    return state


def last_done(entries: Iterable[ReworkEntry]) -> ReworkEntry | None:
    return next((entry for entry in reversed(list(entries)) if entry.kind == Kind.DONE), None)


def may_take_back(person: Person, entry: ReworkEntry) -> bool:
    """Those who make such entries; what the platform dropped follows a correction and is taken back by another."""
    return entry.kind != Kind.WITHDRAWAL and entry.person_id is not None and person.has_role(*WORKERS)


def open_on(areas: Iterable[UUID]) -> dict[UUID, list[ReworkItem]]:
    """By area, the items there that nobody has closed, in one query."""
    found: dict[UUID, list[ReworkItem]] = defaultdict(list)
    for item in ReworkItem.objects.filter(area__in=set(areas)).still_open().order_by("opened_at", "pk"):
        found[item.area_id].append(item)
    return found


def versions_upto(record: Record) -> list[UUID]:
    """The record and what it corrects, back to the first: an item stays with the version that opened it."""
    found, before = [record.pk], record.replaces_id
    while before:
        found.append(before)
        before = Record.objects.values_list("replaces", flat=True).get(pk=before)
    return found
