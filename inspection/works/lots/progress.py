"""Progress of a project by section and coat: prepared, coated, inspected, released, in m²; nothing of it is typed.

What was prepared and coated is claimed by lots, at most the whole of an area. Inspected is an area after a coat where
the thickness that stands passes; released, one where a point was released or waived and no hold point is open.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Q

from accounts.models import Person
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.works.films import films_of
from inspection.works.models import Lot, LotMix, LotPlace
from inspection.works.signals import progress_asked

# Of an area and a coat; no coat: the bare steel.
Step = tuple[UUID, UUID | None]
# The days whose mean the forecast goes by; so few may mislead, as the page says.
DAYS = 14
NOTHING = Decimal(0)
STEEL = (Lot.Activity.BLAST, Lot.Activity.PRECLEAN)
FILM = (Lot.Activity.COAT, Lot.Activity.REPAIR)


@dataclass
class Told:
    """By step when what stands there passed, its mean film in nm through all coats, and when it was released."""

    inspected: dict[Step, datetime] = field(default_factory=dict)
    mean_nm: dict[Step, float] = field(default_factory=dict)
    released: dict[Step, datetime] = field(default_factory=dict)


@dataclass
class Line:
    """One section and step: how many m² have it to be done, and how far they are."""

    section: str
    coat: Coat | None
    of_m2: Decimal = NOTHING
    claimed_m2: Decimal = NOTHING
    inspected_m2: Decimal = NOTHING
    released_m2: Decimal = NOTHING
    # Of those claimed: paint used, unthinned; m² with a mean of their own, and that mean times m².
    litres: Decimal = NOTHING
    measured_m2: Decimal = NOTHING
    film_m2: float = 0.0

    @property
    def step(self) -> str:
        return self.coat.told if self.coat else "Prepared steel"

    @property
    def mean_um(self) -> float | None:
        """Of this coat alone, weighed by m²; None where nothing was measured."""
        return self.film_m2 / float(self.measured_m2) if self.measured_m2 else None


@dataclass(frozen=True)
class Done:
    """So many m² of a step done on a day of the project."""

    day: date
    m2: Decimal


@dataclass(frozen=True)
class Progress:
    lines: list[Line]
    claimed: list[Done]
    inspected: list[Done]
    total_m2: Decimal

    @property
    def claimed_m2(self) -> Decimal:
        return sum((each.m2 for each in self.claimed), NOTHING)

    @property
    def inspected_m2(self) -> Decimal:
        return sum((each.m2 for each in self.inspected), NOTHING)


@dataclass(frozen=True)
class Forecast:
    """When the last coat would be claimed, were it to go on as in the days before; None: nothing was coated then."""

    a_day_m2: Decimal
    left_m2: Decimal
    end: date | None


@dataclass
class _Claims:
    """By step the m² that lots claim, with the day each part was done, and the litres that went there."""

    m2: dict[Step, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    parts: dict[Step, list[Done]] = field(default_factory=lambda: defaultdict(list))
    litres: dict[Step, Decimal] = field(default_factory=lambda: defaultdict(Decimal))


def progress_of(person: Person, project: Project) -> Progress:
    """By section and coat, in a number of reads that does not grow with areas, lots or points."""
    rows = InspectionArea.objects.visible_to(person).in_use().whole().filter(structure__project=project)
    areas = list(rows.select_related("structure", "section", "system").order_by("structure__name", "section__path"))
    films, claims, told = films_of(areas), _claims(project), told_of(project)
    lines: dict[tuple[str, UUID | None], Line] = {}
    claimed: list[Done] = []
    inspected: list[Done] = []
    total = NOTHING
    for area in areas:
        below: float | None = 0.0
        for coat in (None, *films[area.pk]):
            step, line = (area.pk, coat.pk if coat else None), _line(lines, area, coat)
            _count(line, area, step, claims, told)
            if coat is None:
                continue
            total += area.area_m2
            below = _film(line, area, told.mean_nm.get(step), below)
            claimed += capped(claims.parts[step], area.area_m2)
            if at := told.inspected.get(step):
                inspected.append(Done(project.day_of(at), area.area_m2))
    return Progress(list(lines.values()), _by_day(claimed), _by_day(inspected), total)


def progress_until(project: Project, moments: Sequence[datetime]) -> list[dict[UUID | None, Line]]:
    """By coat, and for the bare steel, how far the whole project was at each of the moments: a report of a day.

    The areas are those in use then, as they are measured now; mean films and litres are left out.
    """
    areas = list(
        InspectionArea.objects.whole()
        .filter(structure__project=project)
        .filter(Q(retired_at=None) | Q(retired_at__gt=min(moments)))
        .select_related("system")
        .order_by("system__name", "code")
    )
    films, found = films_of(areas), []
    for moment in moments:
        claims, told = _claims(project, moment), told_of(project, moment)
        lines: dict[UUID | None, Line] = {}
        for area in areas:
            if area.retired_at and area.retired_at <= moment:
                continue
            for coat in (None, *films[area.pk]):
                pk = coat.pk if coat else None
                _count(lines.setdefault(pk, Line("", coat)), area, (area.pk, pk), claims, told)
        found.append(lines)
    return found


def _line(lines: dict[tuple[str, UUID | None], Line], area: InspectionArea, coat: Coat | None) -> Line:
    return lines.setdefault((area.lies_in, coat.pk if coat else None), Line(area.lies_in, coat))


def _count(line: Line, area: InspectionArea, step: Step, claims: _Claims, told: Told) -> None:
    line.of_m2 += area.area_m2
    line.claimed_m2 += min(claims.m2[step], area.area_m2)
    line.litres += claims.litres[step]
    line.inspected_m2 += area.area_m2 if step in told.inspected else NOTHING
    line.released_m2 += area.area_m2 if step in told.released else NOTHING


def _film(line: Line, area: InspectionArea, mean_nm: float | None, below: float | None) -> float | None:
    """Count what the coat adds to the film below it; the film through it, None where it was not measured."""
    if mean_nm is not None and below is not None:
        line.measured_m2 += area.area_m2
        line.film_m2 += (mean_nm - below) / 1000 * float(area.area_m2)
    return mean_nm


def _claims(project: Project, until: datetime | None = None) -> _Claims:
    """What the project's lots claim; a lot's litres are shared out by m². Stripe coats add nothing to the film."""
    found = _Claims()
    ended = {"ended_at__lt": until} if until else {"ended_at__isnull": False}
    rows = LotPlace.objects.filter(lot__in=Lot.objects.that_count().filter(project=project, **ended))
    places = list(rows.filter(lot__activity__in=(*STEEL, *FILM)).select_related("lot").order_by("lot__ended_at"))
    of_lot: dict[UUID, Decimal] = defaultdict(Decimal)
    for place in places:
        of_lot[place.lot_id] += place.m2
    mixed: dict[UUID, Decimal] = defaultdict(Decimal)
    for row in LotMix.objects.filter(lot__in=of_lot).select_related("mix"):
        mixed[row.lot_id] += row.unthinned_l
    for place in places:
        lot, step = place.lot, (place.area_id, place.lot.coat_id)
        used = mixed[lot.pk] + (lot.drawn_l or NOTHING) - (lot.returned_l or NOTHING)
        found.litres[step] += used * place.m2 / of_lot[lot.pk]
        # Pre-cleaning prepares nothing for paint, and a repair covers again what was covered.
        if lot.activity in (Lot.Activity.BLAST, Lot.Activity.COAT) and lot.ended_at:
            found.m2[step] += place.m2
            found.parts[step].append(Done(project.day_of(lot.ended_at), place.m2))
    return found


def told_of(project: Project, until: datetime | None = None) -> Told:
    """What the rooms above know of the steps of the project, or knew of until a moment."""
    answers: list[tuple[Any, Any]] = progress_asked.send(sender=Lot, project=project, until=until)
    found = Told()
    for _, told in answers:
        found.inspected |= told.inspected
        found.mean_nm |= told.mean_nm
        found.released |= told.released
    return found


def capped(parts: Sequence[Done], most: Decimal) -> list[Done]:
    """The parts in their order, until they are the whole of an area."""
    kept, left = [], most
    for part in parts:
        kept.append(Done(part.day, min(part.m2, left)))
        left -= kept[-1].m2
    return [part for part in kept if part.m2]


def _by_day(parts: Iterable[Done]) -> list[Done]:
    days: dict[date, Decimal] = defaultdict(Decimal)
    for part in parts:
        days[part.day] += part.m2
    return [Done(day, days[day]) for day in sorted(days)]


def summed(parts: Sequence[Done]) -> list[tuple[date, float]]:
    """By day what was done until its end."""
    found, so_far = [], NOTHING
    for part in parts:
        so_far += part.m2
        found.append((part.day, float(so_far)))
    return found


def forecast(progress: Progress, today: date) -> Forecast:
    """By the mean of the last days, those without work among them (common practice, no source)."""
    since = today - timedelta(days=DAYS)
    lately = sum((each.m2 for each in progress.claimed if since < each.day <= today), NOTHING)
    a_day, left = lately / DAYS, max(progress.total_m2 - progress.claimed_m2, NOTHING)
    if not left or not a_day:
        return Forecast(a_day, left, None)
    days = -(-left // a_day)
    return Forecast(a_day, left, today + timedelta(days=int(days)) if days < 36_500 else None)
