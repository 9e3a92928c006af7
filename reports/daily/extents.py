"""How far nonconformances reach and what is repaired of their areas, gathered as it stood at a part's end."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.verdicts_shown import CheckShown, checks_shown
from inspection.foundation.units import Unit
from inspection.nonconformance.extent import searched
from inspection.nonconformance.models import ExtentSpot, Nonconformance, Remainder, RepairedPart
from reports.daily.extent_facts import Reaching, RepairedTold, SpotOutward


def reaching(rows: Sequence[Nonconformance], until: datetime) -> dict[UUID, Reaching]:
    """By nonconformance of a film, the search for its extent; those without a spot have none. One query."""
    of_film = {row.pk: row for row in rows if row.coat and row.coat.minimum_nm}
    known = ExtentSpot.objects.filter(nonconformance__in=list(of_film), at__lt=until)
    known = known.filter(Q(withdrawn_at=None) | Q(withdrawn_at__gte=until)).order_by("number") if of_film else known
    spots: dict[UUID, list[ExtentSpot]] = defaultdict(list)
    for spot in known if of_film else ():
        spots[spot.nonconformance_id].append(spot)
    return {pk: _reaching(of_film[pk], of_one) for pk, of_one in spots.items()}


def _reaching(row: Nonconformance, spots: list[ExtentSpot]) -> Reaching:
    told = searched(row, spots)
    return Reaching(
        minimum_nm=row.coat.minimum_nm or 0 if row.coat else 0, maximum_nm=row.coat.maximum_nm if row.coat else None,
        by_units=told.by_units, finished=told.outcome.finished,
        spots=tuple(SpotOutward(spot.direction, tuple(spot.readings_nm), spot.ended) for spot in spots),
        area_m2=told.outcome.area_m2,
    )  # fmt: skip


def repaired_told(rows: Sequence[Nonconformance], begins: datetime, until: datetime) -> dict[UUID, list[RepairedTold]]:
    """By nonconformance, its repaired parts that were made by then and not undone before: three queries at most."""
    parts = RepairedPart.objects.filter(nonconformance__in=[row.pk for row in rows if row.coat_id], made_at__lt=until)
    parts = parts.filter(Q(undone_at=None) | Q(undone_at__gte=begins)).select_related("part", "nonconformance__project")
    made = list(parts.order_by("made_at", "pk"))
    if not made:
        return {}
    rests = {
        row.repaired_id: row
        for row in Remainder.objects.filter(repaired__in=made, judged_at__lt=until).order_by("judged_at", "pk")
    }
    measured = ThicknessRecord.objects.filter(area__in=[row.part_id for row in made], taken_at__lt=until)
    newest = {
        (row.area_id, row.coat_id): row
        for row in measured.current().that_count().select_related("standing").order_by("taken_at", "pk")
    }
    found: dict[UUID, list[RepairedTold]] = defaultdict(list)
    for row in made:
        record = newest.get((row.part_id, row.nonconformance.coat_id))  # type: ignore[arg-type]  # it is of a coat
        found[row.nonconformance_id].append(_told(row, rests.get(row.pk), record, until))
    return found


def _told(row: RepairedPart, rest: Remainder | None, record: ThicknessRecord | None, until: datetime) -> RepairedTold:
    undone = row.undone_at if row.undone_at and row.undone_at < until else None
    standing = getattr(record, "standing", None)
    unit = Unit(row.nonconformance.project.unit)
    checks = checks_shown(rest.result, unit) if rest else []
    return RepairedTold(
        part=row.part.label, area_m2=float(row.area_m2), left_out=tuple(row.left_out), made_at=row.made_at,
        undone_at=undone, undone_why=row.undone_why if undone else "",
        rest=rest.get_verdict_display() if rest else "", rest_digest=rest.digest if rest else "",
        rest_words=tuple(map(_in_words, checks)),
        record=str(record.pk) if record else "", measured_at=record.taken_at if record else None,
        verdict=record.get_verdict_display() if record else "",
        standing=standing.get_state_display() if standing else "",
    )  # fmt: skip


def _in_words(check: CheckShown) -> str:
    where = f"{check.where[0].upper()}{check.where[1:]}: " if check.where else ""
    return f"{where}{check.sentence} Observed {check.observed}, limit {check.limit}."
