"""Reads of projects that are more than a line. They start from what the person may see."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Case, Count, Exists, F, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce

from accounts.models import Person, Role, RoleGrant
from accounts.models.people import SEES_EVERYTHING
from inspection.projects.coating import CoatingSystemQuerySet
from inspection.projects.models import (
    KINDS_OF_ROLE,
    SEPARATOR,
    AreaQuerySet,
    Coat,
    CoatingSystem,
    DataSheet,
    InspectionArea,
    Membership,
    Party,
    Project,
    Section,
    Structure,
)

# Of areas: a repaired part lies within its area, which has its m² already.
SURFACE = Sum("area_m2", filter=Q(repair_of=None))


def _of_areas(person: Person, expression: Any) -> Subquery:
    areas = InspectionArea.objects.in_use()
    # Whoever sees the project sees all its areas, but for contractors.
    seen = areas.visible_to(person) if person.is_contractors else areas
    seen = seen.filter(structure__project=OuterRef("pk")).order_by()
    return Subquery(seen.values("structure__project").annotate(found=expression).values("found"))


def project_rows(person: Person) -> QuerySet[Project]:
    """Visible projects, open ones first, each with how many areas it has and how many square metres they are."""
    return (
        Project.objects.visible_to(person)
        .select_related("client", "contractor")
        .annotate(
            area_count=Coalesce(_of_areas(person, Count("pk")), 0),
            area_m2=Coalesce(_of_areas(person, SURFACE), Decimal(0)),
        )
        .order_by("closed_at", "code")
    )


def structures_of(project: Project, person: Person) -> QuerySet[Structure]:
    """Those the person sees, each with how many areas in use it has and how many square metres they are."""
    in_use = Q(areas__retired_at=None)
    if person.is_contractors:
        in_use &= Q(areas__in=InspectionArea.objects.visible_to(person))
    structures: QuerySet[Structure] = Structure.objects.visible_to(person).filter(project=project)
    return structures.annotate(
        area_count=Count("areas", filter=in_use),
        area_m2=Coalesce(Sum("areas__area_m2", filter=in_use & Q(areas__repair_of=None)), Decimal(0)),
    )


# The coats of systems in their order, with their data sheets and stripe coats.
COATS = Prefetch(
    "coats",
    Coat.objects.order_by("order").select_related("data_sheet").prefetch_related("data_sheet__rows", "stripes"),
)


def revisions_of(system: CoatingSystem) -> list[CoatingSystem]:
    """All revisions of the system, taken-back ones too, oldest first.

    Each with `area_count` of the areas in use under it, and the revision that `followed_by` it since it applies.
    """
    later = CoatingSystem.objects.filter(revises=OuterRef("pk"), taken_back_at=None, applied_at__isnull=False)
    of_name = CoatingSystem.objects.filter(project=system.project_id, name=system.name)
    in_use = Count("areas", filter=Q(areas__retired_at=None))
    rows = of_name.select_related("project", "specification_revision__specification", "issued_by")
    return list(rows.annotate(area_count=in_use, followed_by=Subquery(later.values("number")[:1])).order_by("number"))


def coats_where(system: CoatingSystem) -> QuerySet[Coat]:
    """The coats of a system, each with how many areas of a later revision keep it (`kept_by`)."""
    kept = Count("kept_on__area", filter=Q(kept_on__system=F("kept_on__area__system")), distinct=True)
    return system.coats.annotate(kept_by=kept).select_related("carries_on__system").order_by("order")


def areas_of(project: Project, words: str = "", *, retired: bool = False) -> AreaQuerySet:
    """The project's areas in use, or with those retired; all of them, or those whose code or name holds the words."""
    areas = InspectionArea.objects.all() if retired else InspectionArea.objects.in_use()
    areas = areas.filter(structure__project=project)
    return _holding(areas, words).select_related(*WITH_PLACE).order_by("structure__name", "code")


# What an area's own words and those of where it lies are read from.
WITH_PLACE = ("structure", "section", "system")


def _holding(areas: AreaQuerySet, words: str) -> AreaQuerySet:
    return areas.filter(Q(code__icontains=words) | Q(name__icontains=words)) if words else areas


def areas_at(structure: Structure, section: Section | None, words: str = "", *, retired: bool = False) -> AreaQuerySet:
    """The areas in use, or with those retired, of a structure or of a section and below it, by their paths."""
    areas = InspectionArea.objects.all() if retired else InspectionArea.objects.in_use()
    areas = areas.filter(structure=structure)
    if section:
        areas = areas.within(section)
    return _holding(areas, words).select_related(*WITH_PLACE).order_by(F("section__path").asc(nulls_first=True), "code")


@dataclass
class Branch:
    """A section with what hangs in it and below it: how many sections and areas, and their m²."""

    section: Section
    sections: int = 0
    areas: int = 0
    area_m2: Decimal = Decimal(0)


@dataclass(frozen=True)
class Tree:
    """What a structure's page shows of its tree: the way down to the place looked at, and the sections right below."""

    trail: list[Section]
    branches: list[Branch]

    @property
    def at(self) -> Section | None:
        return self.trail[-1] if self.trail else None


def tree_at(structure: Structure, section: Section | None, person: Person) -> Tree:
    """The tree that the person sees at a section, or at the top; three reads however much there is."""
    seen = Section.objects.visible_to(person).filter(structure=structure)
    branches = {each.pk: Branch(each) for each in seen.order_by()}
    hung = (
        InspectionArea.objects.in_use().visible_to(person).filter(structure=structure).exclude(section=None).order_by()
    )
    sums = hung.values("section").annotate(many=Count("pk"), m2=Coalesce(SURFACE, Decimal(0)))
    for pk, areas, area_m2 in sums.values_list("section", "many", "m2"):
        branches[pk].areas, branches[pk].area_m2 = areas, area_m2
    # From the deepest up, so that each has gathered all below it before it is added to the one above.
    for branch in sorted(branches.values(), key=lambda each: each.section.path.count(SEPARATOR), reverse=True):
        above = branches.get(branch.section.parent_id) if branch.section.parent_id else None
        if above:
            above.sections += branch.sections + 1
            above.areas += branch.areas
            above.area_m2 += branch.area_m2
    here = section.pk if section else None
    below = [branch for branch in branches.values() if branch.section.parent_id == here]
    return Tree(trail_of(section), sorted(below, key=lambda branch: as_counted(branch.section.name)))


def trail_of(section: Section | None) -> list[Section]:
    """The sections from the top down to this one, itself the last; none for none."""
    if section is None:
        return []
    names = section.path.split(SEPARATOR)
    paths = [SEPARATOR.join(names[:depth]) for depth in range(1, len(names) + 1)]
    above = Section.objects.filter(structure=section.structure_id, path__in=paths).select_related("structure")
    return sorted(above, key=lambda each: len(each.path))


def as_counted(name: str) -> list[tuple[int, str]]:
    """The key by which names are put in order as people count them: Frame 9 before Frame 10."""
    return [(int(part), "") if part.isdecimal() else (0, part.casefold()) for part in re.split(r"(\d+)", name)]


def members_of(project: Project, person: Person) -> QuerySet[Membership]:
    rows: QuerySet[Membership] = Membership.objects.visible_to(person).filter(project=project, ended_at=None)
    return rows.select_related("person__organisation").order_by("role", "person__name")


def parties_shown(person: Person) -> QuerySet[Party]:
    """The parties that a person sees, those that ended last; of each project in the order of their kinds."""
    order = Case(*(When(kind=kind, then=Value(place)) for place, kind in enumerate(Party.Kind.values)))
    rows: QuerySet[Party] = Party.objects.visible_to(person).select_related("project", "organisation")
    return rows.order_by(F("ended_at").asc(nulls_first=True), order, "organisation__name", "pk")


def people_of(parties: Iterable[Party], person: Person) -> dict[UUID, list[Membership]]:
    """By party, the people who take part for it and whom the person is told of."""
    parties = list(parties)
    rows = Membership.objects.in_force().visible_to(person).filter(project__in={party.project_id for party in parties})
    found: dict[UUID, list[Membership]] = {party.pk: [] for party in parties}
    for membership in rows.select_related("person").order_by("person__name"):
        for party in parties:
            theirs = (party.project_id, party.organisation_id) == (membership.project_id, membership.organisation_id)
            if theirs and party.ended_at is None and party.kind in KINDS_OF_ROLE.get(membership.role, (party.kind,)):
                found[party.pk].append(membership)
    return found


def parties_of(person: Person, project: Project) -> QuerySet[Party]:
    """The parties of a project in force for which the person acts: those of the organisation they take part for.

    A quality manager acts for the company without taking part.
    """
    return acting_for(person).filter(project=project).select_related("organisation")


def acting_for(person: Person) -> QuerySet[Party]:
    """The same of all projects. An auditor takes part for nobody."""
    parts = Membership.objects.in_force_of(person).filter(project=OuterRef("project")).exclude(role=Role.AUDITOR)
    theirs = Q(Exists(parts.filter(organisation=OuterRef("organisation"))))
    if person.has_role(Role.QUALITY_MANAGER):
        theirs |= Q(organisation=person.organisation_id, kind=Party.Kind.INSPECTION)
    return Party.objects.in_force().filter(theirs)


def losing_sight(party: Party) -> QuerySet[Membership]:
    """The parts by which people see the project as long as this party stands, and no longer."""
    mine = Membership.objects.in_force().filter(project=party.project_id, organisation=party.organisation_id)
    roles = [role for role, kinds in KINDS_OF_ROLE.items() if party.kind in kinds]
    for role in list(roles):
        others = party.project.parties.filter(ended_at=None, organisation=party.organisation_id)
        if others.filter(kind__in=KINDS_OF_ROLE[role]).exclude(pk=party.pk).exists():
            roles.remove(role)
    return mine.filter(role__in=roles).select_related("person").order_by("person__name")


def who_sees(people: Iterable[UUID], projects: Iterable[UUID]) -> set[tuple[UUID, UUID]]:
    """Each of the people with each of the projects they see, as `visible_to` has it; for whom to write to."""
    people, projects = list(people), list(projects)
    parts = Membership.objects.in_force().filter(person__in=people, project__in=projects)
    managers = RoleGrant.objects.filter(
        person__in=people, role__in=SEES_EVERYTHING, ended_at=None, person__is_active=True
    ).values_list("person", flat=True)
    everything = {(person, project) for person in managers for project in projects}
    return everything | set(parts.values_list("person", "project"))


def areas_seen_by(person: Person) -> QuerySet[InspectionArea]:
    areas: QuerySet[InspectionArea] = InspectionArea.objects.visible_to(person).select_related(*WITH_PLACE)
    return areas.prefetch_related("made_from")


def sections_seen_by(person: Person) -> QuerySet[Section]:
    sections: QuerySet[Section] = Section.objects.visible_to(person).select_related("structure")
    return sections


def systems_seen_by(person: Person) -> CoatingSystemQuerySet:
    systems: CoatingSystemQuerySet = CoatingSystem.objects.visible_to(person).prefetch_related(COATS)
    return systems


def sheets_seen_by(person: Person) -> QuerySet[DataSheet]:
    sheets: QuerySet[DataSheet] = DataSheet.objects.visible_to(person).select_related("project")
    return sheets.prefetch_related("rows")


def sums_of(areas: QuerySet[InspectionArea]) -> dict[str, Any]:
    """How many areas there are, with their m² and the lengths that are known of them, in m."""
    return areas.order_by().aggregate(
        areas=Count("pk"), area_m2=Coalesce(SURFACE, Decimal(0)), edges_m=Sum("edges_m"), welds_m=Sum("welds_m")
    )
