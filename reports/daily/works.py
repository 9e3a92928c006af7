"""What a report tells of the work of its day: lots, the mixes they took, and the batches these were mixed of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID

from django.db.models import Prefetch, Q, QuerySet

from inspection.fieldwork.kind import Discipline
from inspection.projects.models import Project
from inspection.works.models import BatchStep, Lot, LotMix, LotParent, LotPlace, Mix, MixPart, PaintBatch
from inspection.works.paint.fitness import fitness
from reports.daily.facts import Correction
from reports.daily.parts import Part
from reports.daily.work_corrections import of_discipline, work_corrections
from reports.daily.work_facts import BatchTold, LotTold, MixTold

LITRES, KILOGRAMS = "l", "kg"


class Works(NamedTuple):
    lots: tuple[LotTold, ...]
    mixes: tuple[MixTold, ...]
    batches: tuple[BatchTold, ...]
    corrections: tuple[Correction, ...]


def works_told(project: Project, of: Part) -> Works:
    """In a number of reads that does not grow with lots, mixes or batches."""
    begins, ends = of.begins, of.ends
    lots = _lots(project, of)
    of_paint = of.tells(Discipline.COATING)
    mixes = _mixes(project, begins, ends, {row.mix_id for lot in lots for row in lot.mixes.all()}) if of_paint else []
    mixed_of = {part.batch_id for mix in mixes for part in mix.parts.all()}
    batches = _batches(project, begins, ends, mixed_of) if of_paint else []
    used: dict[UUID, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for mix in mixes:
        for part in mix.parts.all() if mix.mixed_at >= begins else ():
            used[part.batch_id][part.unit] += part.amount
    return Works(
        lots=tuple(_lot(lot, of) for lot in lots),
        mixes=tuple(_mix(mix, of) for mix in mixes),
        batches=tuple(_batch(batch, used[batch.pk], of) for batch in batches),
        corrections=tuple(work_corrections(project, of)),
    )


def worked_on(project: Project, of: Part) -> bool:
    """Whether a lot was begun or ended, or paint mixed or received, in the part."""
    begins, ends = of.begins, of.ends
    of_lots = Q(begun_at__gte=begins, begun_at__lt=ends) | Q(ended_at__gte=begins, ended_at__lt=ends)
    if Lot.objects.that_count().filter(of_lots, of_discipline(of), project=project).exists():
        return True
    return of.tells(Discipline.COATING) and (
        Mix.objects.that_count().filter(project=project, mixed_at__gte=begins, mixed_at__lt=ends).exists()
        or PaintBatch.objects.that_count()
        .filter(project=project, received_at__gte=begins, received_at__lt=ends)
        .exists()
    )


# --- lots -------------------------------------------------------------------------------------------------------------


def _lots(project: Project, of: Part) -> list[Lot]:
    """Those that were under way in the part, in the order in which they were begun."""
    rows = (
        _under_way(project, of)
        .select_related("coat__system", "stripe", "crew__party__organisation", "entered_by")
        .prefetch_related(
            Prefetch("places", LotPlace.objects.select_related("area").order_by("area__code", "pk")),
            Prefetch("mixes", LotMix.objects.select_related("mix").order_by("mix__number")),
            Prefetch("parents", LotParent.objects.select_related("parent").order_by("parent__number")),
        )
    )
    return list(rows.order_by("begun_at", "number"))


def _under_way(project: Project, of: Part) -> QuerySet[Lot]:
    rows: QuerySet[Lot] = Lot.objects.that_count().filter(of_discipline(of), project=project, begun_at__lt=of.ends)
    return rows.filter(Q(ended_at=None) | Q(ended_at__gte=of.begins))


def lots_of(project: Project, of: Part) -> list[UUID]:
    """The ids of the lots that the report of the part tells."""
    return list(_under_way(project, of).order_by("pk").values_list("pk", flat=True))


def _lot(lot: Lot, of: Part) -> LotTold:
    ended_at = lot.ended_at if lot.ended_at and lot.ended_at < of.ends else None
    return LotTold(
        number=lot.number, what=lot.of, crew=f"{lot.crew}, {lot.crew.party.organisation.name_at(lot.begun_at)}",
        begun_at=lot.begun_at, ended_at=ended_at, method=str(lot.get_method_display()), settings=_settings(lot),
        places=tuple((place.area.label, float(place.m2)) for place in lot.places.all()),
        follows=tuple(each.parent.number for each in lot.parents.all()),
        # What was drawn is told when the lot ends; until then it may yet change.
        paint=tuple(_paint(lot, told=ended_at is not None)), gone_over=tuple(lot.gone_over), note=lot.note,
        by=lot.entered_by.name_at(lot.entered_at), late=None if lot.replaces_id else _late(lot.entered_at, of),
    )  # fmt: skip


def _settings(lot: Lot) -> str:
    told = (
        ("pump", lot.pump_ratio, ""), ("tip", lot.tip, ""), ("pressure", _figure(lot.pressure_bar), " bar"),
        ("thinner", _figure(lot.thinner_pct), " %"), ("applied by", lot.applicators, ""),
    )  # fmt: skip
    return ", ".join(f"{name} {value}{unit}" for name, value, unit in told if value)


def _paint(lot: Lot, *, told: bool) -> Iterator[str]:
    for row in lot.mixes.all():
        yield f"{row.mix}{_litres(row.drawn_l, row.returned_l) if told else ''}"
    if told and lot.drawn_l is not None:
        yield f"Other paint{_litres(lot.drawn_l, lot.returned_l)}"


def _litres(drawn: Decimal | None, returned: Decimal | None) -> str:
    if drawn is None:
        return ""
    return f": {_figure(drawn)} l drawn{f', {_figure(returned)} l returned' if returned else ''}"


# --- mixes and batches ------------------------------------------------------------------------------------------------


def _mixes(project: Project, begins: datetime, ends: datetime, taken: Iterable[UUID]) -> list[Mix]:
    rows = Mix.objects.that_count().filter(project=project)
    rows = rows.filter(Q(mixed_at__gte=begins, mixed_at__lt=ends) | Q(pk__in=list(taken)))
    parts = MixPart.objects.filter(taken_out_at=None).select_related("batch")
    parts = parts.order_by("batch__component", "batch__number")
    return list(
        rows.select_related("coat__system", "entered_by")
        .prefetch_related(Prefetch("parts", parts))
        .order_by("mixed_at", "number")
    )


def _mix(mix: Mix, of: Part) -> MixTold:
    wanted = f" of {mix.ratio_wanted}" if mix.ratio_wanted else ""
    ratio = f"{mix.ratio_mixed}{wanted} {mix.get_ratio_by_display()}".strip() if mix.ratio_mixed else ""
    return MixTold(
        number=mix.number, coat=mix.coat.told if mix.coat else "", mixed_at=mix.mixed_at,
        parts=tuple(
            f"{_figure(part.amount)} {part.unit} {part.batch.get_component_display()}, batch {part.batch.number}"
            for part in mix.parts.all()
        ),
        ratio=ratio, thinner_pct=_float(mix.thinner_pct), paint_c=_float(mix.paint_c),
        stirred=str(mix.get_stirred_display()), usable_from=mix.usable_from, usable_until=mix.usable_until,
        used_until=mix.used_until if mix.used_until and mix.used_until < of.ends else None,
        gone_over=tuple(mix.gone_over), reason=mix.reason, note=mix.note,
        by=mix.entered_by.name_at(mix.entered_at), late=_late(mix.entered_at, of),
    )  # fmt: skip


def _batches(project: Project, begins: datetime, ends: datetime, used: Iterable[UUID]) -> list[PaintBatch]:
    befell = BatchStep.objects.filter(batch__project=project, withdrawn_at=None, at__gte=begins, at__lt=ends)
    rows = PaintBatch.objects.filter(project=project).filter(
        Q(withdrawn_at=None) & (Q(received_at__gte=begins, received_at__lt=ends) | Q(pk__in=befell.values("batch")))
        # What was mixed was mixed of it, even where it was withdrawn since.
        | Q(pk__in=list(used))
    )
    steps = BatchStep.objects.filter(at__lt=ends).order_by("at", "entered_at")
    return list(
        rows.select_related("project", "entered_by")
        .prefetch_related(Prefetch("steps", steps))
        .order_by("product", "component", "number")
    )


def _batch(batch: PaintBatch, used: dict[str, Decimal], of: Part) -> BatchTold:
    begins, ends = of.begins, of.ends
    stood = fitness(batch, ends)
    steps = [step for step in batch.steps.all() if step.withdrawn_at is None and step.at >= begins]
    that_day = [f"{step.get_what_display()}{': ' if step.why else ''}{step.why}" for step in steps]
    if begins <= batch.received_at < ends:
        that_day.insert(0, f"Received, {batch.place}" if batch.place else "Received")
    return BatchTold(
        what=f"{batch.product}, {batch.get_component_display()}", number=batch.number, received=batch.amount,
        made_on=batch.made_on, expires_on=stood.until, stood=stood.words, is_fit=stood.is_fit,
        that_day=tuple(that_day), used_l=float(used.get(LITRES, 0)), used_kg=float(used.get(KILOGRAMS, 0)),
        late=_late(batch.entered_at, of) if batch.received_at >= begins else None,
    )  # fmt: skip


def _late(entered_at: datetime, of: Part) -> datetime | None:
    """When it was entered, if that was after its day had ended; a shift that has ended is not a day that has."""
    return entered_at if entered_at >= of.day_ends else None


def _figure(value: Decimal | None) -> str:
    return "" if value is None else f"{value.normalize():f}"


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
