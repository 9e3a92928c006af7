"""What chains are told from, read for many places at once: as many reads for hundreds as for one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import zip_longest
from typing import Any
from uuid import UUID

from django.db.models import Q, prefetch_related_objects

from inspection.fieldwork.climate.logs_served import ServedLog, logs_of
from inspection.fieldwork.models import ClimateRecord, Record, ThicknessRecord
from inspection.fieldwork.served import climate_of
from inspection.holdpoints.chain.asked_of_steel import STEEL_KINDS
from inspection.holdpoints.chain.what_stands import Part, whole_since
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outcomes import LEAVES
from inspection.plan.models import PlanLine, PlanRevision
from inspection.projects.models import Coat, InspectionArea, StripeCoat
from inspection.works.films import films_of
from inspection.works.models import Lot, LotMix, LotPlace, MixPart

COAT, BLAST = Lot.Activity.COAT, Lot.Activity.BLAST


@dataclass(frozen=True)
class Step:
    """A chain that is asked for: of a coat on an area, or of its bare steel; of one lot there, or of all that made it.

    `besides` are kinds of record that the thing itself rests on, so that they do not come before it.
    """

    area: UUID
    coat: UUID | None
    lot: Lot | None = None
    besides: frozenset[str] = frozenset()


@dataclass
class Facts:
    """All that is recorded of some places as of a moment; what is not there is not recorded."""

    at: datetime
    areas: dict[UUID, InspectionArea]
    coats: dict[UUID, Coat]
    films: dict[UUID, list[Coat]]
    lots: dict[UUID, list[Lot]]
    # By lot and area, how much of it in m².
    m2: dict[tuple[UUID, UUID], Decimal]
    # By lot what it took of mixes; by mix the parts of batches.
    mixes: dict[UUID, list[LotMix]]
    parts: dict[UUID, list[MixPart]]
    # By area, coat and kind, oldest first.
    records: dict[tuple[UUID, UUID | None, str], list[Record]]
    # By area and coat what failed of it, whatever was looked at, but for climate.
    failed: dict[tuple[UUID, UUID | None], list[Record]]
    # All that counts there, also after the moment: a decision keeps it whole.
    climate: dict[tuple[UUID, UUID | None], list[Any]]
    # What loggers noted there while coats went on.
    logs: dict[UUID, list[ServedLog]]
    holds: dict[UUID, list[HoldPoint]]
    # By point what was decided of it, oldest first, without what leaves its state.
    decided: dict[UUID, list[Decision]]
    # By area and coat when a point there was refused.
    refused: dict[tuple[UUID, UUID | None], list[datetime]]
    lines: dict[UUID, list[PlanLine]]
    # Where a line of the plan does not apply.
    closed: set[tuple[UUID, UUID]]
    stripes: dict[UUID, list[StripeCoat]]

    def told(self, area: UUID, at: datetime) -> str:
        """A moment in the zone of the area's project."""
        return f"{at.astimezone(self.areas[area].structure.project.zone):%Y-%m-%d %H:%M}"

    def read(self, area: UUID, coat: UUID | None) -> list[Any]:
        """The climate that was read for the coat until the moment, oldest first."""
        return [row for row in self.climate.get((area, coat), ()) if row.taken_at <= self.at]

    def ended(self, lot: Lot) -> datetime | None:
        """When the lot ended, as far as it had by then."""
        return lot.ended_at if lot.ended_at and lot.ended_at <= self.at else None

    def film(self, area: UUID, coat: Coat) -> list[Coat]:
        """The coats of the area from the steel up; by the system of the coat where the area has left that."""
        film = self.films.get(area, [])
        if any(each.pk == coat.pk for each in film):
            return film
        return sorted((each for each in self.coats.values() if each.system_id == coat.system_id), key=_order)

    def laid_by(self, area: UUID, coat: Coat, at: datetime | None = None) -> list[Lot]:
        """The lots by which the coat stood there at a moment, also by the revision before it, oldest first."""
        return self._divided(area, coat, at)[1]

    def gone(self, area: UUID, coat: Coat) -> list[Lot]:
        """The lots of the coat that stand no more: blasted off, or coated over whole after a failure."""
        return self._divided(area, coat, None)[0]

    def _divided(self, area: UUID, coat: Coat, at: datetime | None) -> tuple[list[Lot], list[Lot]]:
        """The lots of the coat that were gone at a moment, and those that stood."""
        at = at or self.at
        same = {coat.pk, coat.carries_on_id}
        lots = [lot for lot in self._painting(area, at) if lot.coat_id in same]
        failed = [row.taken_at for pk in same for row in self.failed.get((area, pk), ()) if row.taken_at <= at]
        failed += [moment for pk in same for moment in self.refused.get((area, pk), ()) if moment <= at]
        again = whole_since(self._parts(area, lots), failed, self.areas[area].area_m2) if failed else None
        since = max(filter(None, (again, self._bare_since(area, at))), default=None)
        if since is None:
            return [], lots
        return [lot for lot in lots if lot.begun_at < since], [lot for lot in lots if lot.begun_at >= since]

    def _painting(self, area: UUID, at: datetime) -> list[Lot]:
        return [lot for lot in self.lots.get(area, ()) if lot.activity == COAT and lot.begun_at <= at]

    def _parts(self, area: UUID, lots: Iterable[Lot]) -> list[Part]:
        return [(lot.begun_at, self.m2[lot.pk, area]) for lot in lots]

    def _bare_since(self, area: UUID, at: datetime) -> datetime | None:
        """When the last blast of the whole area was begun."""
        blasts = [lot for lot in self.lots.get(area, ()) if lot.activity == BLAST and lot.begun_at <= at]
        painted = [lot.begun_at for lot in self._painting(area, at)]
        return whole_since(self._parts(area, blasts), painted, self.areas[area].area_m2)

    def begun(self, area: UUID, coat: Coat) -> datetime | None:
        """When the coat that stands went on, or was there at the latest: its first lot, else its first measurement."""
        lots = self.laid_by(area, coat)
        if lots:
            return min(lot.begun_at for lot in lots)
        bare = self._bare_since(area, self.at)
        measured = self.records.get((area, coat.pk, ThicknessRecord.KIND), ())
        since = [record.taken_at for record in measured if bare is None or record.taken_at >= bare]
        return min(since, default=None)

    def newest(self, area: UUID, coat: UUID | None, kind: str, before: datetime | None) -> Record | None:
        """The record that stood at a moment: the last that was begun by then."""
        rows = self.records.get((area, coat, kind), ())
        return next((row for row in reversed(rows) if before is None or row.taken_at <= before), None)

    def lines_at(self, area: InspectionArea) -> list[PlanLine]:
        """The lines in force that apply on the area."""
        rows = self.lines.get(area.structure.project_id, ())
        return [line for line in rows if (area.pk, line.pk) not in self.closed]


def facts_of(steps: Sequence[Step], at: datetime) -> Facts:
    """What is known now of what was until the moment."""
    ids = {step.area for step in steps}
    rows = InspectionArea.objects.select_related("system", "structure__project")
    areas = {area.pk: area for area in rows.filter(pk__among=list(ids))}
    prefetch_related_objects(list(areas.values()), "system__coats")
    films = films_of(areas.values())
    asked = {step.coat for step in steps if step.coat}
    in_films = {coat.pk: coat for film in films.values() for coat in film}
    coats = in_films | _of_former_systems(asked - in_films.keys())
    prefetch_related_objects(list(coats.values()), "system__coats")
    lots, m2 = _lots(ids, at)
    mixes, parts = _paint({lot.pk for rows in lots.values() for lot in rows})
    holds, decided, closed, refused = _points(ids, at)
    records, failed = _records(ids, coats, at)
    return Facts(
        at=at, areas=areas, coats=coats, films=films, lots=lots, m2=m2, mixes=mixes, parts=parts,
        records=records, failed=failed, refused=refused, climate=climate_of(ids, coats, for_no_coat=True), holds=holds,
        decided=decided, closed=closed, stripes=_stripes(coats), logs=logs_of(ids, _spans(lots, at)),
        lines=_lines({area.structure.project_id for area in areas.values()}),
    )  # fmt: skip


def _spans(lots: dict[UUID, list[Lot]], at: datetime) -> list[tuple[datetime, datetime]]:
    """When paint went on: of each lot with a coat, once, from its begin to its end, or until now."""
    painting = {lot.pk: lot for rows in lots.values() for lot in rows if lot.coat_id}
    spans = [(lot.begun_at, min(lot.ended_at or at, at)) for lot in painting.values()]
    return [(begun, ended) for begun, ended in spans if begun < ended]


def _of_former_systems(asked: set[UUID]) -> dict[UUID, Coat]:
    """The coats, with all of their systems, that areas had before they were given another."""
    if not asked:
        return {}
    rows = Coat.objects.filter(system__coats__in=asked).select_related("system", "data_sheet")
    return {coat.pk: coat for coat in rows.prefetch_related("data_sheet__rows").distinct()}


def _order(coat: Coat) -> int:
    return coat.order


def _lots(areas: set[UUID], at: datetime) -> tuple[dict[UUID, list[Lot]], dict[tuple[UUID, UUID], Decimal]]:
    """By area the lots there that count, oldest first; and by lot and area its m²."""
    found: dict[UUID, list[Lot]] = defaultdict(list)
    m2: dict[tuple[UUID, UUID], Decimal] = {}
    counting = {"lot__replaced_by": None, "lot__withdrawn_at": None, "lot__begun_at__lte": at}
    rows = LotPlace.objects.filter(area__among=list(areas), **counting)
    for place in rows.select_related("lot__coat", "lot__stripe").order_by("lot__begun_at", "lot__number"):
        found[place.area_id].append(place.lot)
        m2[place.lot_id, place.area_id] = place.m2
    return found, m2


def _paint(lots: set[UUID]) -> tuple[dict[UUID, list[LotMix]], dict[UUID, list[MixPart]]]:
    mixes: dict[UUID, list[LotMix]] = defaultdict(list)
    parts: dict[UUID, list[MixPart]] = defaultdict(list)
    if not lots:
        return mixes, parts
    for row in LotMix.objects.filter(lot__among=list(lots)).select_related("mix").order_by("mix__number"):
        mixes[row.lot_id].append(row)
    named = {row.mix_id for rows in mixes.values() for row in rows}
    counting = MixPart.objects.that_count().filter(mix__among=list(named)).select_related("mix", "batch__project")
    for part in counting.prefetch_related("batch__steps").order_by("mix__number", "batch__number"):
        parts[part.mix_id].append(part)
    return mixes, parts


def _records(
    areas: set[UUID], coats: Iterable[UUID], at: datetime
) -> tuple[dict[tuple[UUID, UUID | None, str], list[Record]], dict[tuple[UUID, UUID | None], list[Record]]]:
    """By area, coat and kind what chains go by; and by area and coat what failed after it, but for climate."""
    failed: dict[tuple[UUID, UUID | None], list[Record]] = defaultdict(list)
    found: dict[tuple[UUID, UUID | None, str], list[Record]] = defaultdict(list)
    after = Q(kind=ThicknessRecord.KIND) | (Q(verdict=Record.Verdict.FAIL) & ~Q(kind=ClimateRecord.KIND))
    which = Q(coat=None, kind__in=STEEL_KINDS) | (Q(coat__in=list(coats)) & after)
    rows = (
        Record.objects.current()
        .that_count()
        .filter(which, area__among=list(areas), taken_at__lte=at)
        .select_related("standing")
    )
    for row in rows.order_by("taken_at", "pk"):
        found[row.area_id, row.coat_id, row.kind].append(row)
        if row.coat_id and row.verdict == Record.Verdict.FAIL:
            failed[row.area_id, row.coat_id].append(row)
    return found, failed


def _points(
    areas: set[UUID], at: datetime
) -> tuple[
    dict[UUID, list[HoldPoint]], dict[UUID, list[Decision]], set[tuple[UUID, UUID]],
    dict[tuple[UUID, UUID | None], list[datetime]],
]:  # fmt: skip
    """By area its hold points; by point what was decided of it; which lines do not apply where; and refusals."""
    places: dict[UUID, tuple[UUID, UUID | None]] = {}
    holds: dict[UUID, list[HoldPoint]] = defaultdict(list)
    closed: set[tuple[UUID, UUID]] = set()
    points = HoldPoint.objects.filter(area__among=list(areas)).select_related("coat", "line")
    for point in points.order_by("coat__order", "line__order_key", "pk"):
        places[point.pk] = (point.area_id, point.coat_id)
        if point.state == HoldPoint.State.CLOSED:
            if point.line_id:
                closed.add((point.area_id, point.line_id))
        elif point.kind == HoldPoint.Kind.HOLD:
            holds[point.area_id].append(point)
    decided: dict[UUID, list[Decision]] = defaultdict(list)
    said = (
        Decision.objects.filter(point__area__among=list(areas), at__lte=at)
        .exclude(outcome__in=LEAVES)
        .defer("evidence")
    )
    for decision in said.order_by("number"):
        decided[decision.point_id].append(decision)
    refused: dict[tuple[UUID, UUID | None], list[datetime]] = defaultdict(list)
    for pk, said_of in decided.items():
        if pk in places:
            refused[places[pk]] += _refusals(said_of)
    return holds, decided, closed, refused


def _refusals(decided: Sequence[Decision]) -> Iterator[datetime]:
    """When a point was refused, without what was taken back."""
    for decision, then in zip_longest(decided, decided[1:]):
        back = then is not None and then.outcome == Decision.Outcome.WITHDRAWN
        if decision.outcome == Decision.Outcome.REFUSED and not back:
            yield decision.at


def _lines(projects: set[UUID]) -> dict[UUID, list[PlanLine]]:
    found: dict[UUID, list[PlanLine]] = defaultdict(list)
    rows = PlanLine.objects.filter(
        revision__plan__project__in=projects, revision__state=PlanRevision.State.IN_FORCE,
    ).select_related("revision__plan").prefetch_related("requirements")  # fmt: skip
    for line in rows.order_by("order_key"):
        project = line.revision.plan.project_id
        if project:
            found[project].append(line)
    return found


def _stripes(coats: Iterable[UUID]) -> dict[UUID, list[StripeCoat]]:
    found: dict[UUID, list[StripeCoat]] = defaultdict(list)
    for stripe in StripeCoat.objects.filter(coat__in=list(coats)):
        found[stripe.coat_id].append(stripe)
    return found
