"""Keeping the stored standings true. Called by the signal, the sweep and a recall; never by a page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import F, Max, Min
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.foundation.locks import hold_shared
from inspection.instruments.models import Certificate, Gauge
from inspection.instruments.signals import evidence_changed
from inspection.projects.models import Project
from inspection.standing.judgement import Judgement
from inspection.standing.models import Standing
from inspection.standing.papers import papers_under
from inspection.standing.queries import batches, compute, relied_on

# No shift is longer than a day; one more hour for the day on which clocks go back.
LONGEST_SHIFT = timedelta(hours=25)


@transaction.atomic
def refresh(
    *,
    by: Person | None = None,
    records: Iterable[UUID] = (),
    gauges: Iterable[UUID] = (),
    since: datetime | None = None,
    because: str = "",
    at: datetime | None = None,
) -> list[UUID]:
    """Compute the standing of the named records, and of all that the gauges measured in shifts reaching past `since`.

    Writes only what changed, with one journal entry a batch and project, and returns the ids of those records.
    """
    at = at or timezone.now()
    wanted = list(dict.fromkeys(records))
    gauges = set(gauges)
    _hold_papers(gauges, wanted, since)
    hold_gauges(gauges, wanted)
    if gauges:
        measured = relied_on().filter(gauge__in=gauges)
        if since is not None:
            measured = measured.filter(taken_at__gte=since - LONGEST_SHIFT)
        known = set(wanted)
        ordered = measured.order_by("gauge", "taken_at").values_list("pk", flat=True)
        wanted += [pk for pk in ordered if pk not in known]
    return [pk for batch in batches(wanted) for pk in _refresh_batch(batch, by=by, because=because, at=at)]


@transaction.atomic
def put_right(records: Iterable[UUID], *, because: str, at: datetime | None = None) -> list[UUID]:
    """Compute the standing of the records; where one changed, all that rests on it follows as after any change."""
    changed = refresh(records=records, because=because, at=at)
    if changed:
        evidence_changed.send(sender=Standing, by=None, records=changed, gauges=[], since=None, because=because)
    return changed


def sweep_due(at: datetime | None = None) -> list[UUID]:
    """Look again at records whose closing check fell due after they were last looked at; run by the scheduler."""
    at = at or timezone.now()
    waiting = Standing.objects.filter(closing=None, due_at__lte=at, computed_at__lt=F("due_at"))
    due = list(waiting.values_list("record", flat=True))
    changed = put_right(due, because="The shift ended.", at=at)
    # What says the same as before was looked at too, and is not waiting any more.
    for batch in batches(due):
        waiting.filter(pk__in=batch).update(computed_at=at)
    return changed


def _hold_papers(gauges: Iterable[UUID], records: Sequence[UUID], since: datetime | None) -> None:
    """Keep the certificates that these standings rest on as they are until the transaction ends.

    A certificate may be withdrawn while a check that relies on it is being recorded, neither seeing the other. Whoever
    withdraws or corrects it holds its row before the gauges; so does everyone here, hence nobody waits in a circle.
    """
    papers: set[UUID] = set()
    for batch in batches(records):
        span = Record.objects.filter(pk__in=batch).aggregate(first=Min("taken_at"), last=Max("ended_at"))
        if span["first"]:
            of_records = Record.objects.filter(pk__in=batch).values("gauge")
            papers |= papers_under(of_records, span["first"] - LONGEST_SHIFT, span["last"] + LONGEST_SHIFT)
    if gauges:
        papers |= papers_under(list(gauges), since - LONGEST_SHIFT if since else None, None)
    hold_shared(Certificate.objects.filter(pk__in=papers))


def hold_gauges(gauges: Iterable[UUID], records: Sequence[UUID] = ()) -> None:
    """Hold the gauges, and those that took the records, until the transaction ends, in one order.

    A record and a check of its gauge may be entered at the same moment, neither seeing the other; whichever comes
    second waits here, and then judges with both.
    """
    wanted = set(gauges)
    for batch in batches(records):
        wanted.update(Record.objects.filter(pk__in=batch).values_list("gauge", flat=True))
    list(Gauge.objects.filter(pk__in=wanted).order_by("pk").select_for_update(no_key=True).values_list("pk"))


def _refresh_batch(batch: Iterable[UUID], *, by: Person | None, because: str, at: datetime) -> list[UUID]:
    stored = Standing.objects.in_bulk(list(batch))
    changed = {
        pk: judgement for pk, judgement in compute(batch, at).items() if not is_as_stored(stored.get(pk), judgement)
    }
    if not changed:
        return []
    _store(changed, stored, at)
    _journal(changed, stored, by=by, because=because, at=at)
    return list(changed)


def _store(changed: dict[UUID, Judgement], stored: dict[UUID, Standing], at: datetime) -> None:
    """Write them. Those that still lie between the same checks mostly change alike, and are written together."""
    alike: dict[tuple[str, tuple[str, ...]], list[UUID]] = defaultdict(list)
    apart = []
    for pk, judgement in changed.items():
        if lies_between(stored.get(pk)) == (judgement.opening, judgement.closing, judgement.due_at):
            alike[judgement.state, judgement.reasons].append(pk)
        else:
            apart.append(
                Standing(
                    record_id=pk, state=judgement.state, reasons=list(judgement.reasons),
                    opening_id=judgement.opening, closing_id=judgement.closing, due_at=judgement.due_at, computed_at=at,
                )
            )  # fmt: skip
    for (state, reasons), pks in alike.items():
        Standing.objects.filter(pk__in=pks).update(state=state, reasons=list(reasons), computed_at=at)
    Standing.objects.bulk_create(
        apart,
        update_conflicts=True,
        unique_fields=["record"],
        update_fields=["state", "reasons", "opening", "closing", "due_at", "computed_at"],
    )


def lies_between(stored: Standing | None) -> tuple[UUID | None, UUID | None, datetime] | None:
    return (stored.opening_id, stored.closing_id, stored.due_at) if stored else None


def is_as_stored(stored: Standing | None, judgement: Judgement) -> bool:
    return stored is not None and (
        (stored.state, tuple(stored.reasons), stored.opening_id, stored.closing_id, stored.due_at)
        == (judgement.state, judgement.reasons, judgement.opening, judgement.closing, judgement.due_at)
    )


def _journal(
    changed: dict[UUID, Judgement], stored: dict[UUID, Standing], *, by: Person | None, because: str, at: datetime
) -> None:
    by_project: dict[UUID, list[UUID]] = defaultdict(list)
    for pk, project_id in Record.objects.filter(pk__in=changed).values_list("pk", "project"):
        by_project[project_id].append(pk)
    projects = Project.objects.in_bulk(list(by_project))
    for project_id, pks in by_project.items():
        project = projects[project_id]
        journal.record(
            "standing.changed",
            project,
            by=by,
            project_id=project.pk,
            before={str(pk): stored[pk].state for pk in pks if pk in stored},
            after={str(pk): changed[pk].state for pk in pks},
            reason=because,
            at=at,
        )
