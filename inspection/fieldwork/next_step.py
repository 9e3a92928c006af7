"""After a record is stored, the next sensible steps: on its area, on the areas by the plan, with its gauge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from django.core.exceptions import ObjectDoesNotExist
from django.urls import reverse

from inspection.fieldwork.areas_next import AreaNext, areas_next
from inspection.fieldwork.due import Due
from inspection.fieldwork.kinds import KINDS, kind_of
from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.projects.models import InspectionArea


@dataclass(frozen=True)
class NextStep:
    words: str
    address: str


def next_steps(record: Record, at: datetime) -> list[NextStep]:
    """At most three; the number of queries is the same for every record."""
    return [*_in_order(record), *_closing(record, at)]


def _in_order(record: Record) -> Iterator[NextStep]:
    """What of the bare steel is not recorded there yet, in the order of the work; else which area comes next.

    After a thickness record first its own area: to be measured again, or its next coat.
    """
    if record.coat_id is None and (step := _of_steel(record)):
        yield step
        return
    own = record.area_id if record.kind == ThicknessRecord.KIND else None
    here = areas_next([record.project_id], 1, area=own) if own else []
    for each in here[:1]:
        yield _measure(each)
    others = [each for each in areas_next([record.project_id], 2) if each.area.pk != own and each.held_at is None]
    for each in others[:1]:
        yield _measure(each)


def _measure(each: AreaNext) -> NextStep:
    if each.held_at:
        words = f"{each.area.label}, {each.coat.name}: waits at a hold point"
        return NextStep(words, reverse("point", args=[each.held_at]))
    asked = urlencode({"area": each.area.pk, "coat": each.coat.pk})
    address = f"{reverse('thickness_start', args=[each.area.structure.project_id])}?{asked}"
    return NextStep(f"{each.area.label} after {each.coat.name} ({each.why})", address)


def _of_steel(record: Record) -> NextStep | None:
    """The next kind of record of the bare steel, in the order of the work, that its area has none of."""
    of_steel = [kind for kind in KINDS if kind.taken and not kind.of_coat]
    after = of_steel[of_steel.index(kind_of(record)) + 1 :] if kind_of(record) in of_steel else []
    there = Latest.objects.filter(area=record.area_id, coat=None, kind__in=[kind.name for kind in after])
    recorded = set(there.values_list("kind", flat=True))
    for kind in after:
        if kind.name not in recorded:
            area: InspectionArea = record.area
            address = f"{reverse(f'{kind.name}_new', args=[record.project_id])}?{urlencode({'area': area.pk})}"
            return NextStep(f"{kind.title.lower()} of {area.label}", address)
    return None


def _closing(record: Record, at: datetime) -> Iterator[NextStep]:
    """The check after work that the record waits for, with when it falls due; its standing is kept above this room."""
    if record.gauge_id is None:
        return
    try:
        standing = Record.objects.select_related("standing").get(pk=record.pk).standing  # type: ignore[attr-defined]  # the row that points here
    except ObjectDoesNotExist:
        return
    if record.gauge is None or standing.state != "provisional" or standing.closing_id is not None:
        return
    due = Due(standing.due_at, at)
    if due.is_past:
        return
    asked = urlencode({"gauge": record.gauge_id, "project": record.project_id, "purpose": "closing"})
    words = f"check {record.gauge.identity} after work, due by {due.at.astimezone(record.project.zone):%H:%M}"
    yield NextStep(words, f"{reverse('verification_new')}?{asked}")
