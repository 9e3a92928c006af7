"""Nonconformances: raised by a failing measurement or drawn up, open or closed as the facts say."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, Max, OuterRef, Q
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.foundation.refusals import Refused
from inspection.foundation.text import on_one_line
from inspection.nonconformance.models import Disposition, Nonconformance, RepairedPart
from inspection.nonconformance.settling import Facts, Measured, PlaceKey, by_place, facts_of, in_force
from inspection.nonconformance.signals import nonconformances_moved
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.projects.preconditions import in_turn
from inspection.standing.actions import LONGEST_SHIFT

CORRECTED_AWAY = "The measurement that raised it was corrected to another area or coat."
NO_LONGER = "What closed it no longer holds."
LONGEST_TEXT = 4_000


def draft(by: Person | None, *, area: InspectionArea, coat: Coat, title: str, description: str) -> Nonconformance:
    """Draw one up that somebody has yet to issue or drop, within the caller's transaction; it holds nothing back."""
    state = Nonconformance.State.DRAFT
    return add_raised(
        by, project=area.structure.project_id, area=area, coat=coat, title=title, description=description, state=state,
        drafted=True, raised_by=None,
    )  # fmt: skip


@transaction.atomic
def follow_measurements(
    by: Person | None, records: Iterable[UUID], *, gauges: Iterable[UUID] = (), since: datetime | None = None
) -> None:
    """Settle every place that these records, or what the gauges measured since, may have changed.

    A place is an area after a coat. Only those with a failing record or a nonconformance of a measurement matter.
    """
    named = list(records)
    of_gauges = Q(gauge__in=list(gauges))
    if since is not None:
        of_gauges &= Q(taken_at__gte=since - LONGEST_SHIFT)
    # A correction may have moved the measurement to another place; the one it left is settled too.
    records = Record.objects.filter(kind=ThicknessRecord.KIND).that_count().order_by()
    touched = records.filter(Q(pk__in=named) | Q(replaced_by__in=named) | of_gauges)
    failed = touched.filter(pk__in=named, verdict=Record.Verdict.FAIL, replaced_by=None)
    raised = Nonconformance.objects.filter(area=OuterRef("area"), coat=OuterRef("coat")).exclude(record=None)
    followed = touched.filter(Exists(raised))
    # What is measured on a repaired part speaks for its area too.
    parts = touched.filter(area__repair_of__isnull=False)
    places = [place for rows in (failed, followed) for place in rows.values_list("area", "coat").distinct()]
    places += parts.values_list("area__repair_of", "coat").distinct()
    settle(by, {(area, coat) for area, coat in places})


def settle(by: Person | None, places: Collection[PlaceKey]) -> None:
    """Let what measurements raised at these places be open or closed as the facts now say; raise what is not yet."""
    if not places:
        return
    # Two measurements of one area at once: the second waits here and sees what the first raised or closed.
    areas = InspectionArea.objects.filter(pk__in=list({area for area, _ in places})).order_by("pk")
    held = {area.pk: area for area in areas.select_related("structure").select_for_update(of=("self",), no_key=True)}
    coats = Coat.objects.in_bulk(list({coat for _, coat in places}))
    facts = facts_of(places)
    rows = Nonconformance.objects.filter(area__in=list(held), coat__in=list(coats)).exclude(record=None)
    raised = by_place(rows.select_related("project").order_by("number"))
    for area, coat in sorted(places):
        _settle_place(by, facts[area, coat], raised[area, coat], area=held[area], coat=coats[coat])


def _settle_place(
    by: Person | None, facts: Facts, raised: list[Nonconformance], *, area: InspectionArea, coat: Coat
) -> None:
    still = facts.unanswered
    is_open = [row for row in raised if row.state == Nonconformance.State.OPEN]
    if not still:
        for row in is_open:
            _close(by, row, *_answer(facts, row))
    elif not is_open:
        standing = {record.pk for record in still}
        again = [row for row in raised if (now := facts.now(row.record_id)) and now.pk in standing]  # type: ignore[arg-type]  # the rows are those that a measurement raised
        failing = next((record for record in still if record.verdict == ThicknessRecord.Verdict.FAIL), None)
        if again or failing is None:
            reopen(by, (again or raised)[-1], because=NO_LONGER)
        else:
            _raise_for(by, failing, area=area, coat=coat)


def _answer(facts: Facts, row: Nonconformance) -> tuple[UUID | None, str]:
    """The measurement that closed it, and in words how, where its dispositions do not say so."""
    now = facts.now(row.record_id)  # type: ignore[arg-type]  # the rows are those that a measurement raised
    if now is None:
        return None, CORRECTED_AWAY
    if now.pk in facts.accepted:
        return None, ""
    if now.verdict == ThicknessRecord.Verdict.FAIL:
        shown = facts.shown_after(now)
        return (shown.pk if shown else None), ""
    holding = [record for record in facts.standing_now if record.holds]
    closing = now if now.verdict == ThicknessRecord.Verdict.PASS else holding[-1]
    return closing.pk, f"The measurement that raised it was corrected: {now.reason}"


def _raise_for(by: Person | None, failing: Measured, *, area: InspectionArea, coat: Coat) -> None:
    record = ThicknessRecord.objects.get(pk=failing.pk)
    failed = [check["sentence"] for check in record.result.get("checks", ()) if check["passed"] is False]
    # A rule that judges several parts of an area says the same of each.
    checks = list(dict.fromkeys(failed))
    title = f"{coat.name} on {area.label} does not meet {coat.rule_name}"
    description = "\n".join(["Not kept:", *checks]) if checks else ""
    project = area.structure.project_id
    add_raised(by, project=project, area=area, coat=coat, title=title, description=description, record=record)


def add_raised(by: Person | None, *, project: UUID, title: str, **columns: Any) -> Nonconformance:
    """Store one under the next number of its project and journal it, within the caller's transaction."""
    held = in_turn(project)
    raised = Nonconformance.objects.create(
        project=held, number=last_number(held) + 1, title=on_one_line(title)[:200], **{"raised_by": by, **columns}
    )
    verb = "nonconformance.drafted" if raised.state == Nonconformance.State.DRAFT else "nonconformance.raised"
    after = {
        "area": raised.area.label if raised.area else None, "coat": raised.coat.name if raised.coat else None,
        "record": raised.record_id, **({} if raised.area else {"against": raised.place}),
    }  # fmt: skip
    journal.record(verb, raised, by=by, project_id=held.pk, after=after)
    tell_moved([raised])
    return raised


def _close(by: Person | None, row: Nonconformance, record: UUID | None, words: str) -> None:
    row.state = Nonconformance.State.CLOSED
    row.repair = "\n".join(part for part in (done_about(row), words) if part)
    row.closed_by, row.closed_at, row.closing_record_id = by, timezone.now(), record
    row.save(update_fields=["state", "repair", "closed_by", "closed_at", "closing_record"])
    journal.record(
        "nonconformance.closed", row, by=by, project_id=row.project_id, after={"record": record, "repair": row.repair}
    )
    tell_moved([row])


def close(by: Person | None, row: Nonconformance) -> None:
    """Close one that a decision settles, on no measurement."""
    _close(by, row, None, "")


def drop_by_facts(by: Person | None, row: Nonconformance, *, because: str) -> None:
    """Close a draft whose ground is gone."""
    _close(by, row, None, because)


def reopen(by: Person | None, row: Nonconformance, *, because: str) -> None:
    """Open it again, since what closed it no longer holds; when it was closed stays in the journal."""
    before = {"state": row.state, "closed_at": row.closed_at, "record": row.closing_record_id}
    # A draft that was dropped, and never issued, is a draft again.
    issued = not row.drafted or in_force({"nonconformance": row, "kind": Disposition.Kind.ISSUED})
    row.state = Nonconformance.State.OPEN if issued else Nonconformance.State.DRAFT
    row.repair = done_about(row)
    row.closed_by = row.closed_at = row.closing_record = None
    row.save(update_fields=["state", "repair", "closed_by", "closed_at", "closing_record"])
    journal.record(
        "nonconformance.reopened", row, by=by, project_id=row.project_id, before=before, after={"state": row.state},
        reason=because,
    )  # fmt: skip
    tell_moved([row])


def tell_moved(rows: Iterable[Nonconformance]) -> None:
    """Let the rooms above know that these were raised, closed or opened again: of their areas and repaired parts."""
    rows = [row for row in rows if row.area_id]
    places = {(row.area_id, row.coat_id) for row in rows}
    places |= {(row.area.repair_of_id, row.coat_id) for row in rows if row.area and row.area.repair_of_id}
    parts = (
        RepairedPart.objects.in_force().filter(nonconformance__in=rows).select_related("nonconformance") if rows else ()
    )
    places |= {(row.part_id, row.nonconformance.coat_id) for row in parts}
    if places:
        nonconformances_moved.send(sender=Nonconformance, places=places)


def done_about(row: Nonconformance) -> str:
    """What its dispositions in force say, a line each."""
    return "\n".join(entry.text for entry in in_force({"nonconformance": row}))


def last_number(project: Project) -> int:
    return Nonconformance.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0


def text_of(text: str, field: str) -> str:
    text = text.strip()
    if len(text) > LONGEST_TEXT:
        raise Refused(f"Give at most {LONGEST_TEXT} characters.", field=field)
    return text
