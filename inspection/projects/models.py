"""What is inspected, for whom, and what was specified for it."""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Self
from zoneinfo import ZoneInfo

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Value
from django.db.models.functions import Concat, Length, Substr
from django.utils import timezone

from accounts.models import Organisation, Person, Role, RoleGrant, Scheme
from inspection.foundation import among  # noqa: F401 - registers the lookup for every room
from inspection.foundation.ids import new_id
from inspection.foundation.text_columns import LongText, ShortText
from inspection.foundation.units import Unit
from inspection.projects.coating import Coat, CoatingSystem, DataSheet, DataSheetRow, KeptCoat, StripeCoat
from inspection.projects.limits import Limits
from inspection.projects.of_project import OfProject, WithAreas
from inspection.projects.specification_models import Deviation, DeviationAnswer, Specification, SpecificationRevision
from inspection.projects.station_models import Station, StationArea
from inspection.projects.told_table_models import StoredTable, ToldTable

__all__ = [
    "Coat", "CoatingSystem", "DataSheet", "DataSheetRow", "Deviation", "DeviationAnswer", "FormerSystem",
    "InspectionArea", "KeptCoat", "Limits", "Membership", "OfProject", "Party", "Project", "Scope", "Section",
    "Specification", "SpecificationRevision", "Station", "StationArea", "StoredTable", "StripeCoat",
    "Structure", "ToldTable",
]  # fmt: skip

# Between the names of a section's path.
SEPARATOR = " / "
LONGEST_PATH = 500


class ProjectQuerySet(models.QuerySet["Project"]):
    def visible_to(self, person: Person) -> ProjectQuerySet:
        """All for the company's quality managers and administrators; for others those their part is in force in."""
        if person.sees_every_project:
            return self
        if not person.roles:
            return self.none()
        return self.filter(pk__in=Membership.objects.in_force_of(person).values("project"))


class Project(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    code = ShortText(max_length=60, unique=True)
    name = ShortText(max_length=120)
    client = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="projects")
    contractor = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    time_zone = ShortText(max_length=60, default="UTC", help_text="IANA name, such as Europe/Oslo")
    unit = models.CharField(max_length=3, choices=Unit, default=Unit.UM)
    shift_starts = ShortText(
        max_length=60,
        default="06:00",
        help_text="When shifts begin, as 06:00 or 06:00, 18:00. The first begins the day.",
    )
    provisional_releases = models.BooleanField(
        default=False, help_text="Points may be released before the check of the gauge after work"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    schemes_asked = models.ManyToManyField(
        Scheme, blank=True, related_name="+", help_text="Under which whoever measures must hold a paper"
    )

    objects = ProjectQuerySet.as_manager()

    class Meta:
        ordering = ("code",)

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        super().save(*args, **kwargs)
        named = kwargs.get("update_fields")
        if named is None or {"client", "contractor"} & set(named):
            Party.objects.of_project(self)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    @property
    def shift_times(self) -> list[time]:
        return sorted(time.fromisoformat(part.strip()) for part in self.shift_starts.split(","))

    def shift_of(self, at: datetime) -> tuple[datetime, datetime]:
        """The shift that holds the moment, as UTC [start, end): from one shift's start to the next one's."""
        day = at.astimezone(self.zone).date()
        starts = [
            self.moment_on(day + timedelta(days=offset), start)
            for offset in (-1, 0, 1, 2)
            for start in self.shift_times
        ]
        return max(start for start in starts if start <= at), min(start for start in starts if start > at)

    def day_of(self, at: datetime) -> date:
        """The project's day that holds the moment; it begins with the first shift, so a night shift is one day."""
        day = at.astimezone(self.zone).date()
        return day if at >= self.moment_on(day, self.shift_times[0]) else day - timedelta(days=1)

    def day_bounds(self, day: date) -> tuple[datetime, datetime]:
        """The project's day as UTC [start, end)."""
        first = self.shift_times[0]
        return self.moment_on(day, first), self.moment_on(day + timedelta(days=1), first)

    def moment_on(self, day: date, clock: time) -> datetime:
        """A time of the project's clock, in UTC, where moments can be compared also in the night that clocks change.

        A time that comes twice is the first of the two; one that is left out is as long after the last that was there.
        """
        return datetime.combine(day, clock, tzinfo=self.zone).astimezone(UTC)


class PartyQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """A contractor's people are told of all parties but other contractors."""
        mine = self.filter(project__in=Project.objects.visible_to(person))
        return mine.exclude(~Q(organisation=person.organisation_id), kind=Party.Kind.CONTRACTOR)

    def of_contractor(self, person: Person) -> PartyQuerySet:
        """The parties in force for which a painting contractor's person acts."""
        projects = Project.objects.visible_to(person)
        return self.in_force().filter(
            project__in=projects, organisation=person.organisation_id, kind=Party.Kind.CONTRACTOR
        )

    def of_whole_project(self, person: Person) -> PartyQuerySet:
        """Those of them to which nothing is given by itself, so that all of the project is theirs."""
        given = Scope.objects.filter(party=OuterRef("pk"), ended_at=None)
        return self.of_contractor(person).filter(~Exists(given)).order_by()

    def in_force(self) -> PartyQuerySet:
        return self.filter(ended_at=None)

    def of_project(self, project: Project) -> None:
        """Let the project's client, its painting contractor and the company be among its parties."""
        company = Organisation.objects.filter(kind=Organisation.Kind.COMPANY).values_list("pk", flat=True).first()
        named = {
            Party.Kind.CLIENT: project.client_id, Party.Kind.CONTRACTOR: project.contractor_id,
            Party.Kind.INSPECTION: company,
        }  # fmt: skip
        stand = set(self.in_force().filter(project=project).values_list("kind", "organisation"))
        for kind, organisation in named.items():
            if organisation and (kind, organisation) not in stand:
                self.create(project=project, kind=kind, organisation_id=organisation)


class Party(models.Model):
    """An organisation's part in a project, of one kind; several of a kind, and one organisation may be of several.

    The client whom reports address (`Project.client`), the painting contractor (`Project.contractor`) and the company
    that runs the site are always among them. Ended, never deleted; an end is taken back.
    """

    class Kind(models.TextChoices):
        CLIENT = "client", "Client"
        OWNER = "owner", "Owner"
        CLASS = "class", "Classification society"
        CONTRACTOR = "contractor", "Painting contractor"
        MAKER = "maker", "Paint maker"
        INSPECTION = "inspection", "Inspection company"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="parties")
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="parties")
    kind = models.CharField(max_length=12, choices=Kind)
    begun_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = PartyQuerySet.as_manager()

    class Meta:
        ordering = ("project", "kind", "begun_at")
        constraints = (
            models.UniqueConstraint(
                fields=("project", "organisation", "kind"), condition=Q(ended_at=None),
                name="party_once_a_project_and_kind",
            ),
        )  # fmt: skip

    def __str__(self) -> str:
        return f"{self.organisation} ({self.get_kind_display().lower()})"

    def is_told_to(self, person: Person) -> bool:
        """Whether it is none of the contractors that a contractor's person is not told of."""
        return self.kind != self.Kind.CONTRACTOR or not person.names_no_contractor(self.organisation_id)

    @property
    def is_named(self) -> bool:
        """Whether the project itself names it: its client, its painting contractor, or the company."""
        named = {
            self.Kind.CLIENT: self.project.client_id, self.Kind.CONTRACTOR: self.project.contractor_id,
            self.Kind.INSPECTION: self.organisation_id,
        }  # fmt: skip
        return named.get(self.Kind(self.kind)) == self.organisation_id


# By the role in which the people of a party take part, the kinds of party that are theirs; all others take part for
# no party, or for the company.
KINDS_OF_ROLE: dict[str, tuple[Party.Kind, ...]] = {
    Role.CLIENT: (Party.Kind.CLIENT, Party.Kind.OWNER, Party.Kind.CLASS, Party.Kind.MAKER),
    Role.CONTRACTOR: (Party.Kind.CONTRACTOR,),
}


class MembershipQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """The people of the parties a contractor's person is told of; not the auditor's, nor another contractor's."""
        mine = self.filter(project__in=Project.objects.visible_to(person))
        told = Q(role__in=(Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CLIENT)) | Q(organisation=person.organisation_id)
        return mine.filter(told)

    def in_force(self) -> MembershipQuerySet:
        """Those that let their person see the project: neither part, role nor party has ended or changed.

        The person is confirmed, still holds the role, still belongs to the organisation they took part for, and where
        the role is that of a party's people, the organisation is such a party of the project now.
        """
        held = RoleGrant.objects.filter(person=OuterRef("person"), role=OuterRef("role"), ended_at=None)
        return self.filter(
            Exists(held), _of_a_party(Role.values), ended_at=None, person__is_active=True,
            person__confirmed_at__isnull=False, organisation=F("person__organisation"),
        )  # fmt: skip

    def in_force_of(self, person: Person) -> MembershipQuerySet:
        """`in_force` of one person, whose roles and organisation are known; every page asks it."""
        return self.filter(
            _of_a_party(person.roles), person=person, ended_at=None, role__in=person.roles,
            organisation=person.organisation_id,
        )  # fmt: skip


def _of_a_party(roles: Collection[str]) -> Q:
    """Parts in one of the roles whose organisation is such a party of the project now, where the role asks for it."""
    party = Party.objects.in_force().filter(project=OuterRef("project"), organisation=OuterRef("organisation"))
    found = ~Q(role__in=KINDS_OF_ROLE)
    for role in sorted(KINDS_OF_ROLE.keys() & roles):
        found |= Q(Exists(party.filter(kind__in=KINDS_OF_ROLE[role])), role=role)
    return found


class Membership(models.Model):
    """A person's part in a project, for the organisation they belonged to then. Ended, never deleted."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="memberships")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16, choices=Role)
    begun_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("project", "person"), condition=Q(ended_at=None), name="one_open_membership_a_person"
            ),
        )

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.organisation_id is None:
            self.organisation_id = self.person.organisation_id
        super().save(*args, **kwargs)


class StructureQuerySet(WithAreas):
    from_area = "structure"


class Structure(models.Model):
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="structures")
    name = ShortText(max_length=120)
    description = LongText(blank=True)

    objects = StructureQuerySet.as_manager()

    class Meta:
        ordering = ("name",)
        constraints = (models.UniqueConstraint(fields=("project", "name"), name="structure_name_once_a_project"),)

    def __str__(self) -> str:
        return self.name


class OfStructure(OfProject):
    path = "structure__project"


class SectionQuerySet(OfStructure):
    def in_scope_of(self, person: Person) -> Self:
        """Those that hold an area of the contractor's scope, at any depth; all where no scope is given."""
        areas = InspectionArea.objects.visible_to(person).filter(structure=OuterRef("structure")).order_by()
        whole = Party.objects.of_whole_project(person).values("project")
        held = Exists(areas.filter(section=OuterRef("pk"))) | Exists(_below(areas, "section__path", OuterRef("path")))
        return self.filter(Q(structure__project__in=whole) | Q(held))

    def within(self, section: Section) -> SectionQuerySet:
        """The section and all below it."""
        below = Q(path__startswith=section.path + SEPARATOR)
        return self.filter(Q(pk=section.pk) | below, structure=section.structure_id)


class Section(models.Model):
    """A part of a structure that holds others, or inspection areas, at any depth.

    Its path is the names from the top down: whatever lies below it begins with its path. Actions keep the paths of all
    below it when it is renamed or moved.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    structure = models.ForeignKey(Structure, on_delete=models.PROTECT, related_name="sections")
    parent = models.ForeignKey("self", on_delete=models.PROTECT, related_name="parts", null=True, blank=True)
    name = ShortText(max_length=60)
    path = ShortText(max_length=LONGEST_PATH, editable=False)

    objects = SectionQuerySet.as_manager()

    class Meta:
        ordering = ("path",)
        constraints = (models.UniqueConstraint(fields=("structure", "path"), name="section_path_once_a_structure"),)

    def __str__(self) -> str:
        return self.path

    @property
    def name_path(self) -> str:
        """Structure and path, as it is named away from its structure's page."""
        return f"{self.structure.name}{SEPARATOR}{self.path}"


def _below(rows: models.QuerySet[Any], path: str, above: OuterRef) -> models.QuerySet[Any]:
    """Those of the rows whose path leads on from another one, of the outer query; exact in case, as no LIKE is."""
    beginning = Concat(above, Value(SEPARATOR), output_field=models.CharField())
    known = rows.filter(**{f"{path}__isnull": False})
    return _beginning(known, beginning, of=path)


def _above(rows: models.QuerySet[Any], path: str, below: OuterRef) -> models.QuerySet[Any]:
    """Those of the rows whose path leads to another one, which the outer query has."""
    return _beginning(rows, Concat(path, Value(SEPARATOR), output_field=models.CharField()), of=below)


def _beginning(rows: models.QuerySet[Any], beginning: Concat, *, of: str | OuterRef) -> models.QuerySet[Any]:
    """The rows in which a path begins so."""
    found: models.QuerySet[Any] = rows.alias(beginning=beginning, begins=Substr(of, 1, Length(beginning)))
    return found.filter(begins=F("beginning"))


class AreaQuerySet(OfStructure):
    def in_scope_of(self, person: Person) -> Self:
        """The areas given to the contractor's party, each by itself or with a section; all where nothing is given."""
        parties = Party.objects.of_contractor(person)
        given = Scope.objects.filter(ended_at=None, party__in=parties).order_by()
        sections = given.filter(section__structure=OuterRef("structure"))
        whole = Q(structure__project__in=Party.objects.of_whole_project(person).values("project"))
        by_itself = Q(Exists(given.filter(area=OuterRef("pk"))))
        in_section = Q(Exists(sections.filter(section=OuterRef("section"))))
        below = Q(Exists(_above(sections, "section__path", OuterRef("section__path"))))
        return self.filter(whole | by_itself | in_section | below)

    def in_use(self) -> AreaQuerySet:
        return self.filter(retired_at=None)

    def whole(self) -> AreaQuerySet:
        """Without repaired parts, whose m² lie within those of their areas."""
        return self.filter(repair_of=None)

    def within(self, section: Section) -> AreaQuerySet:
        """Those that hang in the section or anywhere below it."""
        below = Q(section__path__startswith=section.path + SEPARATOR, section__structure=section.structure_id)
        return self.filter(Q(section=section.pk) | below)


class InspectionArea(models.Model):
    class Shape(models.TextChoices):
        PLATE = "plate", "Plate"
        PIPE = "pipe", "Pipe"
        BEAM = "beam", "Beam or girder"
        EDGE = "edge", "Edges and welds"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    structure = models.ForeignKey(Structure, on_delete=models.PROTECT, related_name="areas")
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="areas", null=True, blank=True)
    system = models.ForeignKey(CoatingSystem, on_delete=models.PROTECT, related_name="areas")
    code = ShortText(max_length=60)
    # The structure's name while another structure of the project has an area of the same code; empty otherwise.
    told_by = models.CharField(max_length=120, blank=True, default="", editable=False)
    name = ShortText(max_length=120)
    area_m2 = models.DecimalField(max_digits=9, decimal_places=2, validators=[MinValueValidator(0.01)])
    edges_m = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    welds_m = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    # What IMO MSC.215(82) counts by length or piece, by the names of the count's inputs; see `tank_sizes.py`.
    tank_sizes = models.JSONField(default=dict, blank=True, editable=False)
    shape = models.CharField(max_length=8, choices=Shape, default=Shape.PLATE)
    # Out of use since: nothing new begins there, while its records and decisions stay.
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)
    retired_why = LongText(blank=True, default="", editable=False)
    # What was divided or merged to make it; those are retired, and theirs is the way back.
    made_from = models.ManyToManyField("self", symmetrical=False, related_name="became", editable=False)
    # The area of which this is a part that is repaired: its m² lie within that area's and are counted there.
    repair_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="repaired_parts", editable=False
    )

    objects = AreaQuerySet.as_manager()

    class Meta:
        ordering = ("code",)
        constraints = (
            models.UniqueConstraint(fields=("structure", "code"), name="area_code_once_a_structure"),
            models.CheckConstraint(condition=Q(area_m2__gt=0), name="area_above_zero"),
            models.CheckConstraint(condition=Q(edges_m=None) | Q(edges_m__gte=0), name="area_edges_not_negative"),
            models.CheckConstraint(condition=Q(welds_m=None) | Q(welds_m__gte=0), name="area_welds_not_negative"),
        )
        indexes = (models.Index(fields=("id",), condition=Q(retired_at__isnull=False), name="area_out_of_use"),)

    def __str__(self) -> str:
        return f"{self.code} {self.name} ({self.told_by})" if self.told_by else f"{self.code} {self.name}"

    @property
    def label(self) -> str:
        """The code as it is shown: with the structure where the code alone could mean another area too."""
        return f"{self.code} ({self.told_by})" if self.told_by else self.code

    @property
    def lies_in(self) -> str:
        """Where it lies: the structure, and the path of its section if it hangs in one."""
        return SEPARATOR.join([self.structure.name, self.section.path] if self.section else [self.structure.name])


class Scope(models.Model):
    """A section with all below it, or an area, given to a painting contractor's party as its own.

    The people of a party to which something is given see of the project those areas and no others; those of a party to
    which nothing is given see all. Ended, never deleted; what was ended by mistake is given again.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="scope")
    section = models.ForeignKey(Section, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, null=True, blank=True, related_name="scopes")
    begun_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = models.Manager()

    class Meta:
        ordering = ("begun_at",)
        constraints = (
            models.CheckConstraint(
                condition=Q(section=None, area__isnull=False) | Q(section__isnull=False, area=None),
                name="scope_is_a_section_or_an_area",
            ),
            models.UniqueConstraint(
                fields=("party", "section"), condition=Q(ended_at=None), name="section_once_in_a_scope"
            ),
            models.UniqueConstraint(fields=("party", "area"), condition=Q(ended_at=None), name="area_once_in_a_scope"),
        )

    def __str__(self) -> str:
        return self.area.label if self.area else self.section.name_path if self.section else ""


class FormerSystem(models.Model):
    """A coating system that an area had until it was given another: what was recorded under it is still known by it."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    area = models.ForeignKey(InspectionArea, on_delete=models.PROTECT, related_name="former_systems")
    system = models.ForeignKey(CoatingSystem, on_delete=models.PROTECT, related_name="+")
    left_at = models.DateTimeField()

    class Meta:
        ordering = ("left_at",)

    def __str__(self) -> str:
        return f"{self.system} until {self.left_at:%Y-%m-%d}"
