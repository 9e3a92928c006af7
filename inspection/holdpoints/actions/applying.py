"""Points of the lines of a plan: a point for each line at each area, and what becomes of them in a new revision."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.refusals import Refused
from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.actions.points import decide, locked_point
from inspection.holdpoints.actions.several import keep_kinds
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import Decision, HoldPoint, Requirement
from inspection.plan.models import Meaning, PlanLine, PlanRevision
from inspection.plan.queries import lines_in_force, lines_of
from inspection.plan.wording import AFTER_A_COAT
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Project
from inspection.projects.preconditions import in_sight
from inspection.projects.steps import film_of, kept_on

# Areas that get points in one go: with thirty lines that is sixty thousand points.
MOST_AREAS = 2_000
AT_ONCE = 2_000


@dataclass(frozen=True)
class Applied:
    """How many points were planned, and the lines that name a coat which an area's system has not."""

    planned: int
    areas: int
    without_coat: tuple[str, ...] = ()


def of_areas(lines: Iterable[PlanLine]) -> list[PlanLine]:
    """Those of the lines that fall at each inspection area; the others stand in the plan."""
    return [line for line in lines if line.scope == PlanLine.Scope.AREA]


@transaction.atomic
def apply_plan(by: Person, *, project: Project, areas: Sequence[InspectionArea]) -> Applied:
    """Plan a point for each line of the plan in force on each of the areas; what is planned already stays as it is.

    Raises Refused without a plan in force, without areas, and for areas that are retired or of another project.
    """
    require(by, Role.QUALITY_MANAGER, to="apply a plan")
    in_sight(by, project, *areas)
    lines = of_areas(lines_in_force(project))
    if project.closed_at:
        raise Refused(f"Project {project.code} is closed.", field="areas")
    if not lines:
        raise Refused("The project has no plan in force with lines that fall at each area.", field="areas")
    if not 0 < len(areas) <= MOST_AREAS:
        raise Refused(f"Choose 1 to {MOST_AREAS:,} areas at once.", field="areas")
    rows = InspectionArea.objects.select_for_update(of=("self",), no_key=True).select_related("structure", "system")
    held = list(rows.filter(pk__among=[area.pk for area in areas]).order_by("code", "pk"))
    for area in held:
        if area.retired_at or area.structure.project_id != project.pk:
            raise Refused(f"Area {area.label} is out of use or of another project.", field="areas")
    return _planned(by, project, lines, held)


def _planned(by: Person, project: Project, lines: Sequence[PlanLine], areas: Sequence[InspectionArea]) -> Applied:
    steps = _steps(areas)
    # A line that carries on another is at an area already where that one is.
    former = {line.pk: _chain(line) for line in lines}
    named = [pk for chain in former.values() for pk in chain]
    planned = HoldPoint.objects.filter(area__among=[area.pk for area in areas], line__in=named)
    planned = HoldPoint.objects.filter(area__among=[area.pk for area in areas], line__in=named)
    there = set(planned.values_list("area", "line"))
    points: list[HoldPoint] = []
    requires: list[Requirement] = []
    missing = set()
    for area in areas:
        for line in lines:
            if any((area.pk, pk) in there for pk in former[line.pk]):
                continue
            coat = steps[area.pk].get(line.coat_order) if line.coat_order else None
            if line.coat_order and coat is None:
                missing.add(f"{line}: {area.system} has no coat {line.coat_order}")
                continue
            point = HoldPoint(
                project=project, area=area, coat=coat, line=line, kind=kind_of(line), title=line.title,
                measured=coat is not None and _measures(line),
            )  # fmt: skip
            points.append(point)
            requires += _requirements(point, line, steps[area.pk].get(1))
    HoldPoint.objects.bulk_create(points, batch_size=AT_ONCE)
    Requirement.objects.bulk_create(requires, batch_size=AT_ONCE)
    for first in range(0, len(points), AT_ONCE):
        keep_places(HoldPoint.objects.filter(pk__among=[point.pk for point in points[first : first + AT_ONCE]]))
    if points:
        journal.record(
            "holdpoint.plan_applied", project, by=by, project_id=project.pk,
            after={
                "points": len(points), "lines": [str(line) for line in lines],
                "areas": sorted({point.area.label for point in points})[:MOST_AREAS],
            },
        )  # fmt: skip
    return Applied(len(points), len({point.area_id for point in points}), tuple(sorted(missing)))


def kind_of(line: PlanLine) -> HoldPoint.Kind:
    """A hold point where any party holds it; else a witness point, which holds nothing."""
    holds = any(each.meaning == Meaning.HOLD for each in line.interventions.all())
    return HoldPoint.Kind.HOLD if holds else HoldPoint.Kind.WITNESS


def _measures(line: PlanLine) -> bool:
    return any(each.kind == ThicknessRecord.KIND for each in line.requirements.all())


def _requirements(point: HoldPoint, line: PlanLine, first: Coat | None) -> list[Requirement]:
    """What the line requires of records; the measurement is the point's own, but for how many and how fresh.

    A record made for a coat is, on the bare steel, for the first one that goes on. What the line asks and no point can
    follow, `not_followed` says.
    """
    return [
        Requirement(
            point=point, kind=each.kind, coat=_coat_of(each.kind, point, first), how_many=each.how_many,
            fresh_for=timedelta(hours=each.fresh_hours) if each.fresh_hours else None,
        )
        for each in line.requirements.all()
        if (each.kind != ThicknessRecord.KIND or each.how_many > 1 or each.fresh_hours)
        and not (each.kind in AFTER_A_COAT and point.coat_id is None)
    ]  # fmt: skip


def _coat_of(kind: str, point: HoldPoint, first: Coat | None) -> Coat | None:
    if not BY_NAME[kind].of_coat:
        return None
    return point.coat or first


def _steps(areas: Iterable[InspectionArea]) -> dict[UUID, dict[int, Coat]]:
    """By area its coats from the steel up, by number: what it keeps of a former revision, then those of its system."""
    of_system: dict[CoatingSystem, list[InspectionArea]] = defaultdict(list)
    for area in areas:
        of_system[area.system].append(area)
    found = {}
    for system, its_areas in of_system.items():
        coats, kept = list(system.coats.all()), kept_on([area.pk for area in its_areas], system)
        for area in its_areas:
            found[area.pk] = dict(enumerate(film_of(kept.get(area.pk, ()), coats), start=1))
    return found


def _chain(line: PlanLine) -> list[UUID]:
    """The line and those it carries on, newest first."""
    chain = [line.pk]
    before = line.carries_on
    while before is not None:
        chain.append(before.pk)
        before = before.carries_on
    return chain


def follow_revision(by: Person, revision: PlanRevision, former: PlanRevision | None, because: str) -> None:
    """Let points that nobody has decided follow the revision now in force; what was decided keeps its own line.

    A line that carries another on takes its points over. Points of lines that are gone are taken away, or closed where
    something was said of them. New lines come to the areas on which the plan is applied already.
    """
    if former is None:
        return
    project = revision.plan.project
    if project is None:
        return
    lines = of_areas(lines_of(revision))
    carried = {line.carries_on_id: line for line in lines if line.carries_on_id}
    areas = list(HoldPoint.objects.filter(line__revision=former).order_by().values_list("area", flat=True).distinct())
    moved: list[UUID] = []
    for old in former.lines.all():
        waiting = HoldPoint.objects.filter(line=old, state=HoldPoint.State.WAITING, decisions=None)
        if old.pk not in carried:
            _take_away(by, old, because)
            continue
        line = carried[old.pk]
        pks = list(waiting.values_list("pk", flat=True))
        HoldPoint.objects.filter(pk__among=pks).update(
            line=line, title=line.title, kind=kind_of(line), measured=_measures(line) and line.coat_order is not None
        )
        Requirement.objects.filter(point__among=pks).delete()
        points = HoldPoint.objects.filter(pk__among=pks)
        of_points = [point.area for point in points.select_related("area__system")]
        steps = _steps(of_points) if line.coat_order is None else {}
        Requirement.objects.bulk_create(
            [
                row
                for point in points.select_related("coat")
                for row in _requirements(point, line, steps.get(point.area_id, {}).get(1))
            ],
            batch_size=AT_ONCE,
        )
        moved += pks
    for first in range(0, len(moved), AT_ONCE):
        keep_kinds(list(HoldPoint.objects.filter(pk__among=moved[first : first + AT_ONCE])))
    there = (
        InspectionArea.objects.in_use()
        .whole()
        .filter(pk__among=areas)
        .select_related("structure", "system")
        .order_by("code", "pk")
    )
    added = _planned(by, project, lines, list(there))
    journal.record(
        "holdpoint.plan_revised", project, by=by, project_id=project.pk, reason=because,
        after={"revision": revision.number, "moved": len(moved), "added": added.planned},
    )  # fmt: skip


def _take_away(by: Person, line: PlanLine, because: str) -> None:
    said = Decision.objects.filter(point=OuterRef("pk"))
    untouched = HoldPoint.objects.filter(~Exists(said), line=line, state=HoldPoint.State.WAITING)
    Requirement.objects.filter(point__in=untouched).delete()
    untouched.delete()
    for point in HoldPoint.objects.filter(line=line, state__in=(HoldPoint.State.WAITING, HoldPoint.State.REFUSED)):
        held = locked_point(point)
        decide(by, held, Decision.Outcome.CLOSED, evidence_of(held), reason=because)


def touched_by_revision(revision: PlanRevision) -> list[str]:
    """What a revision that comes into force touches, a sentence each."""
    former = PlanRevision.objects.filter(plan=revision.plan_id, state=PlanRevision.State.IN_FORCE).first()
    if former is None:
        return []
    many: dict[str, int] = defaultdict(int)
    carried = set(revision.lines.exclude(carries_on=None).values_list("carries_on", flat=True))
    rows = HoldPoint.objects.filter(line__revision=former).values_list("line", "state", "area")
    areas = set()
    for line, state, area in rows:
        areas.add(area)
        if state != HoldPoint.State.WAITING:
            many["keep"] += 1
        else:
            many["move" if line in carried else "go"] += 1
    added = len(of_areas(line for line in revision.lines.all() if line.carries_on_id is None)) * len(areas)
    told = (
        ("move", "{} that nobody has decided on {} taken over by the line that carries theirs on."),
        ("keep", "{} that were decided on or are not applicable keep the line they had then."),
        ("go", "{} of lines that are gone {} taken away, or not applicable where something was said."),
    )
    sentences = [words.format(_points(many[key]), "are") for key, words in told if many[key]]
    if added:
        sentences.append(f"{_points(added)} of new lines come to the {len(areas)} areas the plan is applied to.")
    return sentences


def _points(many: int) -> str:
    return "1 point" if many == 1 else f"{many:,} points"
