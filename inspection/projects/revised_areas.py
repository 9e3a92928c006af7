"""What becomes of areas when a revision of their coating system applies, is late to apply, or is taken back.

What is unfinished moves to the revision; a coat that was judged under the former stays there, and nothing more is asked
for it. Steps that lie under a judged one stay with it: they are covered.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Refused
from inspection.projects.actions import goes_on
from inspection.projects.breakdown import Change, touched
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, CoatingSystem, FormerSystem, InspectionArea, KeptCoat, Project
from inspection.projects.preconditions import in_sight
from inspection.projects.signals import coats_moved
from inspection.projects.steps import Move, film_of, judged_on, kept_on, left_before


@dataclass
class Foreseen:
    """What becomes of the areas of a system when a revision is applied."""

    areas: list[InspectionArea]
    # By area the coats that it keeps, from the steel up.
    kept: dict[UUID, list[Coat]] = field(default_factory=dict)
    # By area all steps it has under the former.
    steps: dict[UUID, list[Coat]] = field(default_factory=dict)

    @property
    def stay(self) -> set[tuple[UUID, UUID]]:
        return {(area, coat.pk) for area, coats in self.kept.items() for coat in coats}

    def moving(self) -> dict[UUID, list[UUID]]:
        """By coat of the former system the areas on which its step moves."""
        found: dict[UUID, list[UUID]] = defaultdict(list)
        for area, steps in self.steps.items():
            for coat in steps[len(self.kept[area]) :]:
                found[coat.pk].append(area)
        return found


def foresee(system: CoatingSystem, *, begun_stay: bool, areas: Sequence[InspectionArea] | None = None) -> Foreseen:
    """Of each area under the system, which coats stay with it: all up to the last that was judged, or begun."""
    if areas is None:
        areas = list(InspectionArea.objects.filter(system=system).select_related("structure").order_by("pk"))
    found = Foreseen(list(areas))
    kept, coats = kept_on([area.pk for area in areas], system), list(system.coats.select_related("system"))
    earlier = {row.coat_id: row.coat for rows in kept.values() for row in rows}
    told = judged_on([*coats, *earlier.values()], {area.pk for area in areas})
    done = told.judged | told.begun if begun_stay else told.judged
    for area in areas:
        steps = film_of(kept[area.pk], coats)
        last = max((place for place, coat in enumerate(steps, start=1) if (area.pk, coat.pk) in done), default=0)
        found.steps[area.pk] = steps
        found.kept[area.pk] = steps[: max(last, len(kept[area.pk]))]
    return found


def told_of(by: Person, system: CoatingSystem, *, applies_from: date, begun_stay: bool) -> list[str]:
    """What issuing a revision of the system from that day does, in sentences: which areas, coats, points, records."""
    found = foresee(system, begun_stay=begun_stay)
    if not found.areas:
        return []
    today = system.project.day_of(timezone.now())
    when = f"On {applies_from:%Y-%m-%d}" if applies_from > today else "At once"
    many, keeping = len(found.areas), sum(1 for coats in found.kept.values() if coats)
    steps = sum(len(each) for each in found.steps.values())
    staying = len(found.stay)
    moving = steps - staying
    told = [
        f"{when} {_areas(many)} of {system} {'moves' if many == 1 else 'move'} to the revision.",
    ]
    told.append(
        f"{_coats(staying)} judged before, or lying under one, {'stays' if staying == 1 else 'stay'} as judged, on "
        f"{_areas(keeping)}; {_coats(moving)} not judged {'moves' if moving == 1 else 'move'}."
    )
    if applies_from < today:
        told.append(
            f"{applies_from:%Y-%m-%d} has passed: what was judged since keeps the former revision, and what was taken "
            "since and arrives late is judged by the new one."
        )
    if applies_from > today:
        told.append("What is judged until that day stays too: the figures here are those of now.")
    return told + touched(by, found.areas, Change.REVISED, stay=found.stay)


def _areas(many: int) -> str:
    return "1 area" if many == 1 else f"{many} areas"


def _coats(many: int) -> str:
    return "1 coat" if many == 1 else f"{many} coats"


# --- applied --------------------------------------------------------------------------------------------------------
def apply_due(at: datetime | None = None, *, project: Project | None = None) -> None:
    """Apply every revision whose day has come, of one project or of all; each by itself."""
    waiting = CoatingSystem.objects.filter(revises__isnull=False, applied_at=None, taken_back_at=None)
    if project:
        waiting = waiting.filter(project=project)
    for revision in waiting.select_related("project").order_by("applies_from", "number"):
        if revision.applies_from and revision.applies_from <= revision.project.day_of(at or timezone.now()):
            _apply_once(revision.pk)


@transaction.atomic
def _apply_once(pk: UUID) -> None:
    waiting = CoatingSystem.objects.select_for_update(of=("self",)).select_related("project", "revises")
    revision = waiting.filter(pk=pk, applied_at=None, taken_back_at=None).first()
    if revision and revision.issued_by:
        apply(revision.issued_by, revision)


def apply(by: Person, revision: CoatingSystem) -> None:
    """Move the areas of the former to the revision, with all that is unfinished on them."""
    former = revision.revises
    if former is None:
        return
    rows = InspectionArea.objects.select_for_update(of=("self",)).select_related("structure")
    found = foresee(
        former, begun_stay=revision.begun_stay, areas=list(rows.filter(system=former).order_by("pk"))
    )  # fmt: skip
    moment = moment_of(revision)
    areas = [area.pk for area in found.areas]
    last = left_before(areas)
    FormerSystem.objects.bulk_create(
        [
            FormerSystem(area_id=area, system=former, left_at=max(moment, last.get(area, moment)))
            for area in areas
        ],
        batch_size=1_000,
    )  # fmt: skip
    _keep(revision, former, found)
    InspectionArea.objects.filter(system=former).update(system=revision)
    revision.applied_at = timezone.now()
    revision.save(update_fields=["applied_at"])
    journal.record(
        "system.revision_applied", revision, by=by, project_id=revision.project_id, reason=revision.why,
        after={
            "areas": [area.label for area in found.areas],
            "kept": {area.label: [str(coat) for coat in found.kept[area.pk]]
                     for area in found.areas if found.kept[area.pk]},
        },
    )  # fmt: skip
    to = {coat.carries_on_id: coat for coat in revision.coats.select_related("system") if coat.carries_on_id}
    coats = {coat.pk: coat for coat in former.coats.select_related("system")}
    moves = [Move(coats[coat], to.get(coat), moved) for coat, moved in found.moving().items()]
    _tell(by, revision, moves, f"{revision} applies from {revision.applies_from:%Y-%m-%d}: {revision.why}")


def moment_of(revision: CoatingSystem) -> datetime:
    """The moment from which it applies: the begin of its day, in the project's zone and shifts."""
    day = revision.applies_from
    if day is None:
        raise ValueError(f"{revision} applies from no day")
    return revision.project.day_bounds(day)[0]


def _keep(revision: CoatingSystem, former: CoatingSystem, found: Foreseen) -> None:
    orders = {coat.carries_on_id: coat.order for coat in revision.coats.all() if coat.carries_on_id}
    of_former = {coat.order: coat.pk for coat in former.coats.all()}
    earlier = {
        (row.area_id, row.coat_id): of_former.get(row.stands_for)
        for rows in kept_on([area for area, coats in found.kept.items() if coats], former).values()
        for row in rows
    }
    rows = [
        KeptCoat(
            area_id=area, system=revision, coat=coat, number=number,
            stands_for=orders.get(earlier.get((area, coat.pk), coat.pk) or coat.pk, 0),
        )
        for area, coats in found.kept.items()
        for number, coat in enumerate(coats, start=1)
    ]  # fmt: skip
    KeptCoat.objects.bulk_create(rows, batch_size=1_000)


def _tell(by: Person, revision: CoatingSystem, moves: Sequence[Move], because: str) -> None:
    moves = [move for move in moves if move.areas]
    if moves:
        coats_moved.send(sender=Coat, by=by, project=revision.project, moves=moves, because=because)


# --- late -----------------------------------------------------------------------------------------------------------
@transaction.atomic
def keep_late(by: Person, *, area: InspectionArea, coat: Coat, because: str) -> bool:
    """Let a step stay with the revision that what arrived late was judged by; False where it does so, or cannot.

    It cannot where the step, or one over it, was judged by the revision in force meanwhile.
    """
    system = area.system
    former = system.revises
    if former is None or coat.system_id != former.pk:
        return False
    kept, coats = kept_on([area.pk], system)[area.pk], list(system.coats.all())
    steps = film_of(kept_on([area.pk], former)[area.pk], former.coats.all())
    if coat not in steps or coat.pk in {row.coat_id for row in kept}:
        return False
    if judged_on(coats, {area.pk}).judged:
        return False
    found = Foreseen([area], {area.pk: steps[: steps.index(coat) + 1]}, {area.pk: steps})
    KeptCoat.objects.filter(area=area, system=system).delete()
    _keep(system, former, found)
    to = {each.carries_on_id: each for each in coats}
    stay = found.kept[area.pk][len(kept) :]
    moves = [Move(to[each.pk], each, [area.pk]) for each in stay if each.pk in to]
    journal.record(
        "area.coats_kept", area, by=by, project_id=system.project_id, reason=because,
        after={"kept": [f"{each} of {each.system}" for each in found.kept[area.pk]]},
    )  # fmt: skip
    _tell(by, system, moves, because)
    return True


# --- taken back -----------------------------------------------------------------------------------------------------
@transaction.atomic
def take_back(by: Person, *, system: CoatingSystem, reason: str) -> CoatingSystem:
    """Take a revision back while nothing was judged or begun under it: areas and points return to the former."""
    require(by, Role.QUALITY_MANAGER, to="take a revision of a coating system back")
    in_sight(by, system)
    rows = CoatingSystem.objects.select_for_update(of=("self",)).select_related("project", "revises")
    revision = rows.get(pk=system.pk)
    former = revision.revises
    goes_on(revision.project)
    if former is None:
        raise Conflict(f"{revision} is no revision; there is nothing to take back to.")
    if revision.taken_back_at:
        raise Conflict(f"{revision} was taken back on {revision.taken_back_at:%Y-%m-%d}.")
    if after := revision.revisions.filter(taken_back_at=None).first():
        raise Conflict(f"{after} follows it; take that back first.")
    if faults := reason_faults(reason):
        raise Refused(faults)
    if revision.applied_at:
        _return_areas(by, revision, former, reason.strip())
    revision.taken_back_at, revision.taken_back_why = timezone.now(), reason.strip()
    revision.save(update_fields=["taken_back_at", "taken_back_why"])
    journal.record(
        "system.revision_taken_back", revision, by=by, project_id=revision.project_id, reason=reason.strip(),
        before={"taken_back_at": None}, after={"taken_back_at": revision.taken_back_at},
    )  # fmt: skip
    return revision


def _return_areas(by: Person, revision: CoatingSystem, former: CoatingSystem, reason: str) -> None:
    coats = list(revision.coats.select_related("system", "carries_on__system"))
    areas = list(InspectionArea.objects.select_for_update().filter(system=revision).order_by("pk"))
    _refuse_judged(revision, coats, areas)
    pks = [area.pk for area in areas]
    kept = kept_on(pks, revision)
    moves = []
    for coat in coats:
        on = [pk for pk in pks if coat in film_of(kept[pk], coats)]
        moves.append(Move(coat, coat.carries_on, on))
    KeptCoat.objects.filter(system=revision).delete()
    FormerSystem.objects.filter(system=former, area__in=pks, left_at__gte=moment_of(revision)).delete()
    InspectionArea.objects.filter(system=revision).update(system=former)
    _tell(by, revision, moves, f"{revision} was taken back: {reason}")


def _refuse_judged(revision: CoatingSystem, coats: Sequence[Coat], areas: Sequence[InspectionArea]) -> None:
    """Raise Conflict where something rests on the revision: what it says must stay readable, and in force there."""
    told = judged_on(coats, since=revision.applied_at)
    labels = {area.pk: area.label for area in areas}
    on = sorted({labels[area] for area, _ in told.judged | told.begun if area in labels})
    if on:
        more = f" and {len(on) - 3} more" if len(on) > 3 else ""
        raise Conflict(
            f"On {', '.join(on[:3])}{more} something was recorded or decided under {revision}; revise it instead."
        )
    if away := [row.area.label for row in _gone_since(revision)]:
        raise Conflict(
            f"{', '.join(sorted(away)[:3])} had {revision} and has another system now; give it back there first."
        )


def _gone_since(revision: CoatingSystem) -> Iterable[FormerSystem]:
    gone = FormerSystem.objects.filter(system=revision).exclude(area__system=revision)
    return gone.select_related("area")
