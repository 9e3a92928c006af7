"""Reads of batches and mixes. They start from what the person may see."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import cast
from uuid import UUID

from django.db.models import Prefetch, Q, QuerySet, Sum
from django.utils import timezone

from accounts.models import JournalEntry, Person
from inspection.projects.models import Coat, Project
from inspection.works.models import BatchStep, Mix, MixPart, PaintBatch
from inspection.works.paint.fitness import Fitness, fitness

# A mix without a stated pot life is looked at for so long on the page of the day (own figure).
UNSTATED_SHOWN = timedelta(hours=12)
MADE_OF = {"withdrawn": "a withdrawn batch", "quarantined": "a batch in quarantine", "expired": "an expired batch"}


@dataclass(frozen=True)
class BatchNow:
    """A batch with how it stands at a moment, what mixes took of it, and what is left."""

    batch: PaintBatch
    fitness: Fitness
    given: dict[str, Decimal]

    @property
    def left(self) -> Decimal:
        return self.batch.received - self.given.get(self.batch.unit, Decimal(0))

    @property
    def left_told(self) -> str:
        """What is left, in the unit it was received in; more taken than received is told as that."""
        other = [f"{amount.normalize():f} {unit}" for unit, amount in self.given.items() if unit != self.batch.unit]
        less = f", less {other[0]} taken" if other else ""
        left = self.left
        if left < 0:
            return f"{-left.normalize():f} {self.batch.unit} more taken than received"
        return f"{left.normalize():f} {self.batch.unit}{less}"

    @property
    def overdrawn(self) -> bool:
        return self.left < 0


def batches_seen(person: Person, project: UUID | None = None) -> QuerySet[PaintBatch]:
    rows = cast("QuerySet[PaintBatch]", PaintBatch.objects.visible_to(person))
    rows = rows.filter(project=project) if project else rows
    steps = BatchStep.objects.select_related("entered_by", "withdrawn_by", "file").order_by("at", "entered_at")
    return rows.select_related("project", "party__organisation", "file", "entered_by", "withdrawn_by").prefetch_related(
        Prefetch("steps", steps)
    )


def batches_now(batches: Sequence[PaintBatch], at: datetime | None = None) -> list[BatchNow]:
    """How the batches stand, in one read however many there are."""
    given: dict[UUID, dict[str, Decimal]] = defaultdict(dict)
    rows = MixPart.objects.that_count().filter(batch__in=[batch.pk for batch in batches])
    for row in rows.order_by().values("batch", "unit").annotate(sum=Sum("amount")):
        given[row["batch"]][row["unit"]] = row["sum"]
    at = at or timezone.now()
    return [BatchNow(batch, fitness(batch, at), given.get(batch.pk, {})) for batch in batches]


def batches_listed(person: Person, project: Project, *, words: str = "", component: str = "") -> QuerySet[PaintBatch]:
    rows = batches_seen(person, project.pk)
    if words:
        rows = rows.filter(Q(product__icontains=words) | Q(number__icontains=words))
    return rows.filter(component=component) if component else rows


@dataclass
class MixNow:
    """A mix with its parts, what speaks against it by what is known now, and how it stands at a moment."""

    mix: Mix
    at: datetime
    parts: list[MixPart] = field(default_factory=list)
    unfit: list[tuple[str, Fitness]] = field(default_factory=list)

    @property
    def doubts(self) -> list[str]:
        """What speaks against its batches now and is not among what it was stored with."""
        told = [doubt for _, each in self.unfit for doubt in each.doubts]
        return [doubt for doubt in told if doubt not in self.mix.gone_over]

    @property
    def is_running(self) -> bool:
        mix = self.mix
        until = mix.usable_until or mix.mixed_at + UNSTATED_SHOWN
        return mix.withdrawn_at is None and mix.used_until is None and until > self.at

    @property
    def minutes_left(self) -> int | None:
        until = self.mix.usable_until
        return int((until - self.at).total_seconds() // 60) if until and self.is_running else None

    @property
    def state(self) -> tuple[str, str]:
        """Its mark and words."""
        if self.mix.withdrawn_at:
            return "plain", "Withdrawn"
        if self.unfit:
            kinds = sorted({MADE_OF[each.mark] for _, each in self.unfit if each.mark in MADE_OF})
            return "expired", f"Made of {' and '.join(kinds) or 'a doubtful batch'}"
        if self.mix.used_until:
            return ("open", "Used, with doubts") if self.mix.gone_over else ("done", "Used")
        return self._usable()

    def _usable(self) -> tuple[str, str]:
        mix, zone = self.mix, self.mix.project.zone
        if mix.usable_from and self.at < mix.usable_from:
            return "waiting", f"Usable from {mix.usable_from.astimezone(zone):%H:%M}"
        if mix.usable_until is None:
            return "incomplete", "Pot life not stated"
        words = f"{mix.usable_until.astimezone(zone):%Y-%m-%d %H:%M}"
        if self.at > mix.usable_until:
            return "plain", f"Pot life ended {words}"
        return ("open" if mix.gone_over else "valid"), f"Usable until {words}"


def mixes_seen(person: Person, project: UUID | None = None) -> QuerySet[Mix]:
    rows = cast("QuerySet[Mix]", Mix.objects.visible_to(person))
    rows = rows.filter(project=project) if project else rows
    parts = MixPart.objects.filter(taken_out_at=None).select_related("batch__project").prefetch_related("batch__steps")
    return rows.select_related(
        "project", "party__organisation", "coat__system", "entered_by", "withdrawn_by"
    ).prefetch_related(Prefetch("parts", parts.order_by("batch__component", "batch__number"), to_attr="standing"))


def mixes_now(mixes: Iterable[Mix], at: datetime | None = None) -> list[MixNow]:
    """How the mixes stand by what is known now; they come from `mixes_seen`."""
    at = at or timezone.now()
    found = []
    for mix in mixes:
        parts: list[MixPart] = list(mix.standing)  # type: ignore[attr-defined]  # by mixes_seen
        now = MixNow(mix, at, parts)
        for part in parts:
            stood = fitness(part.batch, mix.mixed_at)
            # A batch that was withdrawn later counts against what was made of it all the same.
            stood = fitness(part.batch, at) if part.batch.withdrawn_at else stood
            if not stood.is_fit:
                now.unfit.append((str(part.batch), stood))
        found.append(now)
    return found


def running(person: Person, projects: Iterable[UUID], at: datetime) -> dict[UUID, list[MixNow]]:
    """By project, the mixes that can still be used or were mixed lately and never told as used up; two reads."""
    rows = mixes_seen(person).filter(project__in=list(projects), withdrawn_at=None, used_until=None)
    rows = rows.filter(
        Q(usable_until__gt=at) | Q(usable_until=None, mixed_at__gt=at - UNSTATED_SHOWN), mixed_at__lte=at
    )
    found: dict[UUID, list[MixNow]] = defaultdict(list)
    for now in mixes_now(rows.order_by("usable_until", "mixed_at"), at):
        found[now.mix.project_id].append(now)
    return found


def coats_for(person: Person, project: Project) -> QuerySet[Coat]:
    rows = Coat.objects.visible_to(person).filter(system__in=project.systems.in_force())
    return cast("QuerySet[Coat]", rows.select_related("system", "data_sheet").order_by("system__name", "order"))


def history(thing: PaintBatch | Mix) -> list[JournalEntry]:
    """What the journal keeps of its changes, oldest first."""
    rows = JournalEntry.objects.filter(object_type=thing._meta.label_lower, object_id=str(thing.pk))
    return list(rows.select_related("actor").order_by("pk"))
