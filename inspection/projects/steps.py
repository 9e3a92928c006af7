"""Which coats an area has and is to have, step by step, where revisions of its coating system followed one another.

A coat that was judged keeps the revision it was judged by (`KeptCoat`); the steps after it are those of the revision
that is in force. What is recorded is judged by the revision that was in force on its area when it was taken.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import F, Max, OuterRef, QuerySet, Subquery

from inspection.projects.models import Coat, CoatingSystem, FormerSystem, InspectionArea, KeptCoat
from inspection.projects.signals import coats_judged

Pair = tuple[UUID, UUID]


@dataclass
class Judged:
    """By pairs of the ids of an area and a coat: what somebody judged, and where something is begun."""

    judged: set[Pair] = field(default_factory=set)
    begun: set[Pair] = field(default_factory=set)
    # When what stands there was measured, of those judged by a measurement.
    when: dict[Pair, datetime] = field(default_factory=dict)


@dataclass(frozen=True)
class Move:
    """On these areas a step moved from one coat to another; to None where it is no step of theirs any more."""

    coat: Coat
    to: Coat | None
    areas: Sequence[UUID]


def judged_on(coats: Iterable[Coat], areas: Collection[UUID] | None = None, *, since: datetime | None = None) -> Judged:
    """What is judged and begun after the coats, room by room."""
    ids, found = [coat.pk for coat in coats], Judged()
    answers: list[tuple[Any, Any]] = coats_judged.send(sender=Coat, coats=ids, areas=areas, since=since)
    for _, told in answers:
        found.judged |= told.judged
        found.begun |= told.begun
        found.when |= told.when
    if areas is not None:
        found.judged = {pair for pair in found.judged if pair[0] in areas}
        found.begun = {pair for pair in found.begun if pair[0] in areas}
    return found


def kept_on(areas: Iterable[UUID], system: CoatingSystem) -> dict[UUID, list[KeptCoat]]:
    """The coats that areas keep of former revisions under this one, in the order they lie on the steel."""
    found: dict[UUID, list[KeptCoat]] = defaultdict(list)
    rows = KeptCoat.objects.filter(system=system, area__in=list(areas)).select_related("coat__system")
    for row in rows.order_by("area", "number"):
        found[row.area_id].append(row)
    return found


def film_of(kept: Sequence[KeptCoat], coats: Iterable[Coat]) -> list[Coat]:
    """The steps of an area: what it keeps, then the coats of its system that nothing kept stands for."""
    upto = max((row.stands_for for row in kept), default=0)
    return [row.coat for row in kept] + sorted(
        (coat for coat in coats if coat.order > upto), key=lambda coat: coat.order
    )


def steps_of(area: InspectionArea) -> list[Coat]:
    """The coats of the area from the steel up, each by the revision it is under there; each knows what lies below."""
    coats = area.system.coats.select_related("system", "data_sheet").prefetch_related("system__coats")
    return with_films(film_of(kept_on([area.pk], area.system)[area.pk], coats))


@dataclass(frozen=True)
class StepShown:
    """A step of an area as its page shows it: by which revision it is, and when it was judged, if it was."""

    coat: Coat
    judged: bool
    measured_at: datetime | None
    kept: bool


def steps_shown(area: InspectionArea) -> list[StepShown]:
    steps = steps_of(area)
    told = judged_on(steps, {area.pk})
    return [
        StepShown(
            coat, (area.pk, coat.pk) in told.judged, told.when.get((area.pk, coat.pk)),
            coat.system_id != area.system_id,
        )
        for coat in steps
    ]  # fmt: skip


def with_films(steps: list[Coat]) -> list[Coat]:
    """The same coats; where they are of more than one revision, each is held to the sum of what lies under it there."""
    if len({coat.system_id for coat in steps}) > 1:
        for place, coat in enumerate(steps, start=1):
            coat.film = steps[:place]
    return steps


def lay_films(placed: Iterable[tuple[UUID, Coat]]) -> None:
    """As `film_on`, for many coats at once, each on the area of the id beside it."""
    revised = [(area, coat) for area, coat in placed if coat.system.number]
    if not revised:
        return
    rows = KeptCoat.objects.filter(
        area__among=list({area for area, _ in revised}), system__in={coat.system_id for _, coat in revised}
    )
    kept: dict[Pair, list[KeptCoat]] = defaultdict(list)
    for row in rows.select_related("coat__system").order_by("number"):
        kept[row.area_id, row.system_id].append(row)
    for area, coat in revised:
        film = film_of(kept[area, coat.system_id], coat.system.coats.all())
        below = [each.pk for each in film]
        coat.film = film[: below.index(coat.pk) + 1] if kept[area, coat.system_id] and coat.pk in below else None


def film_on(area: InspectionArea, coat: Coat) -> Coat:
    """The coat, with what lies under it on this area where that is of a former revision.

    A gauge shows the sum of all layers, so a coat of the new revision over one that keeps the former is held to the sum
    of the two as each was specified (common practice, no source).
    """
    lay_films([(area.pk, coat)])
    return coat


def system_at(area: InspectionArea, at: datetime) -> CoatingSystem:
    """The system, or the revision of it, that was in force on the area at a moment."""
    left = area.former_systems.filter(left_at__gt=at).select_related("system").order_by("left_at").first()
    return left.system if left else area.system


def lineage(system: CoatingSystem) -> Iterator[CoatingSystem]:
    """The system, what it revises, what that revises, and so on."""
    each: CoatingSystem | None = system
    while each:
        yield each
        each = each.revises


def same_line(one: CoatingSystem, other: CoatingSystem) -> bool:
    """Whether they are revisions of one system."""
    if one.project_id != other.project_id:
        return False
    return [*lineage(one)][-1] == [*lineage(other)][-1]


def same_step(coat: Coat, system: CoatingSystem) -> Coat | None:
    """The coat of another revision of its system that is the same step; None where that has no such step."""
    steps = {each.pk for each in _origins(coat)}
    for each in system.coats.select_related("system"):
        if each.pk in steps or any(origin.pk == coat.pk for origin in _origins(each)):
            return each
    return None


def _origins(coat: Coat) -> Iterator[Coat]:
    each: Coat | None = coat
    while each:
        yield each
        each = each.carries_on


def coat_at(area: InspectionArea, coat: Coat, at: datetime) -> Coat:
    """By which coat the step is judged on the area at a moment: that of the revision in force then, or the one kept.

    A coat of an unrelated system, or of a step that the revision in force had not, is answered as it is.
    """
    if not is_revised(coat.system):
        return coat
    then = system_at(area, at)
    if coat.system_id == then.pk:
        same: Coat | None = coat
    else:
        same = same_step(coat, then) if same_line(coat.system, then) else None
    if same is None:
        return coat
    kept = KeptCoat.objects.filter(area=area, system=then, stands_for=same.order).select_related("coat__system")
    stays = kept.order_by("-number").first()
    return stays.coat if stays else same


def is_revised(system: CoatingSystem) -> bool:
    """Whether it is a revision, or has one."""
    return bool(system.number) or CoatingSystem.objects.filter(revises=system.pk).exists()


def is_kept(area: InspectionArea, coat: Coat) -> bool:
    """Whether the area keeps the coat, of a former revision of its system, as it was judged."""
    return KeptCoat.objects.filter(area=area, system=area.system_id, coat=coat).exists()


def coats_now(areas: Collection[InspectionArea], coat: Coat) -> dict[UUID, Coat]:
    """By area the coat that is this step of it now: the coat itself, or what it keeps of a former revision instead.

    An area that has no such step is left out.
    """
    same = {area.pk: coat for area in areas if area.system_id == coat.system_id}
    upto: dict[UUID, int] = defaultdict(int)
    instead: dict[UUID, Coat] = {}
    rows = KeptCoat.objects.filter(area__in=[area.pk for area in areas], system=F("area__system"))
    for row in rows.select_related("coat__system").order_by("number"):
        upto[row.area_id] = max(upto[row.area_id], row.stands_for)
        if row.coat_id == coat.pk or (row.area_id in same and row.stands_for == coat.order):
            instead[row.area_id] = row.coat
    return {area: each for area, each in same.items() if coat.order > upto[area]} | instead


def stands_for_outer(system: str = "system") -> Subquery:
    """In SQL: the order up to which coats that the outer area keeps stand for those of its system; NULL for none."""
    kept = KeptCoat.objects.filter(area=OuterRef("pk"), system=OuterRef(system)).order_by()
    return Subquery(kept.values("area").annotate(upto=Max("stands_for")).values("upto"))


def left_before(areas: Iterable[UUID]) -> dict[UUID, datetime]:
    """When each of the areas was last given another system, of those that were."""
    rows: QuerySet[FormerSystem] = FormerSystem.objects.filter(area__in=list(areas)).order_by()
    return dict(rows.values_list("area").annotate(last=Max("left_at")))
