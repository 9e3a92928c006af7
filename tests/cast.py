"""The cast of the tests: always the same people, two projects of two clients, one set of equipment.

Built straight from the models, so that a test of an action does not lean on another action. The morning is a fixed one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django.utils import timezone

from accounts.models import Organisation, Person, Role, RoleGrant, Scheme
from inspection.instruments.models import Certificate, CertifiedValue, Gauge, ReferenceStandard
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Membership, Project, Structure
from tests.past_triggers import rewrite

PASSWORD = "a long enough passphrase"
# A Wednesday; the shift of both projects begins at 06:00 UTC.
DAY = date(2026, 3, 4)
MORNING = datetime(2026, 3, 4, 7, 0, tzinfo=UTC)


@dataclass
class Site:
    """One project with all it needs for a measurement."""

    project: Project
    structure: Structure
    system: CoatingSystem
    coats: list[Coat]
    area: InspectionArea
    other_area: InspectionArea


@dataclass
class Cast:
    company: Organisation
    owner: Organisation
    other_owner: Organisation
    # Of the company
    admin: Person
    quinn: Person  # quality manager
    ines: Person  # inspector, member of `site`
    igor: Person  # inspector, member of `foreign`
    # Outside it
    clara: Person  # client of `site`
    carl: Person  # client of `foreign`
    audrey: Person  # auditor of `site`
    site: Site
    foreign: Site
    gauge: Gauge
    gauge_certificate: Certificate
    shims: dict[int, ReferenceStandard]  # by nominal µm
    shim_certificate: Certificate


def person(name: str, organisation: Organisation, role: Role) -> Person:
    someone = Person(
        name=name, email=f"{name.split(maxsplit=1)[0].lower()}@example.com", organisation=organisation,
        confirmed_at=MORNING,
    )  # fmt: skip
    someone.set_password(PASSWORD)
    someone.save()
    RoleGrant.objects.create(person=someone, role=role)
    return someone


def site(code: str, client: Organisation) -> Site:
    """A project with one structure, two areas (8 m² and 60 m²) and a system of three coats, one under each rule."""
    project = Project.objects.create(code=code, name=f"Works {code}", client=client, shift_starts="06:00, 18:00")
    structure = Structure.objects.create(project=project, name="Tank")
    system = CoatingSystem.objects.create(project=project, name="System 1", preparation_grade="Sa 2½")
    common = {"system": system, "product": "Paint", "volume_solids_pct": 60}
    coats = [
        Coat.objects.create(
            order=1, name="Primer", minimum_nm=60_000, nominal_nm=75_000, maximum_nm=120_000,
            rule=Coat.Rule.PA2, pa2_level=3, surface_min_c=5, surface_max_c=40, **common,
        ),
        Coat.objects.create(
            order=2, name="Intermediate", minimum_nm=100_000, nominal_nm=125_000, maximum_nm=200_000,
            rule=Coat.Rule.ISO_19840, recoat_min_hours=6, recoat_max_hours=240, **common,
        ),
        Coat.objects.create(
            order=3, name="Finish", minimum_nm=40_000, nominal_nm=50_000, maximum_nm=90_000,
            rule=Coat.Rule.IMO_PSPC, **common,
        ),
    ]  # fmt: skip
    areas = [
        InspectionArea.objects.create(structure=structure, system=system, code=number, name=name, area_m2=area_m2)
        for number, name, area_m2 in (("A1", "Hatch", 8), ("A2", "Shell", 60))
    ]
    return Site(project, structure, system, coats, *areas)


def equipment(recorder: Person) -> tuple[Gauge, Certificate, dict[int, ReferenceStandard], Certificate]:
    gauge = Gauge.objects.create(
        identity="G-01", serial="1001", range_from_nm=0, range_to_nm=1_500_000, accuracy_pct=1, accuracy_nm=1_000
    )
    paper = {
        "issued": date(2025, 9, 1),
        "expires": date(2026, 9, 1),
        "recorded_by": recorder,
        "laboratory": "Example Laboratory",
    }
    gauge_certificate = Certificate.objects.create(number="CG-1", traceable_to="National institute", **paper)
    CertifiedValue.objects.create(certificate=gauge_certificate, gauge=gauge)
    shim_certificate = Certificate.objects.create(number="CS-1", traceable_to="National institute", **paper)
    shims = {}
    for nominal, value_nm in ((50, 50_200), (125, 125_400), (250, 249_800), (500, 501_000)):
        shims[nominal] = ReferenceStandard.objects.create(identity=f"S-{nominal}", nominal_nm=nominal * 1000)
        CertifiedValue.objects.create(
            certificate=shim_certificate, standard=shims[nominal], value_nm=value_nm, expanded_uncertainty_nm=1_000
        )
    return gauge, gauge_certificate, shims, shim_certificate


def cast() -> Cast:
    # There is one a site, and a measurement of speed may have left one.
    company, _ = Organisation.objects.get_or_create(kind=Organisation.Kind.COMPANY, defaults={"name": "The Company"})
    owner = Organisation.objects.create(name="Owner One", kind=Organisation.Kind.CLIENT)
    other_owner = Organisation.objects.create(name="Owner Two", kind=Organisation.Kind.CLIENT)
    auditors = Organisation.objects.create(name="Audit Body", kind=Organisation.Kind.AUDITOR)
    admin = person("Adam Admin", company, Role.ADMINISTRATOR)
    quinn = person("Quinn Quality", company, Role.QUALITY_MANAGER)
    ines = person("Ines Inspector", company, Role.INSPECTOR)
    igor = person("Igor Inspector", company, Role.INSPECTOR)
    clara = person("Clara Client", owner, Role.CLIENT)
    carl = person("Carl Client", other_owner, Role.CLIENT)
    audrey = person("Audrey Auditor", auditors, Role.AUDITOR)
    home, foreign = site("P-1", owner), site("P-2", other_owner)
    for project, people in ((home.project, (ines, clara, audrey)), (foreign.project, (igor, carl))):
        for someone in people:
            Membership.objects.create(
                project=project, person=someone, organisation=someone.organisation, role=next(iter(someone.roles))
            )
    gauge, gauge_certificate, shims, shim_certificate = equipment(quinn)
    return Cast(
        company, owner, other_owner, admin, quinn, ines, igor, clara, carl, audrey,
        home, foreign, gauge, gauge_certificate, shims, shim_certificate,
    )  # fmt: skip


def scheme(name: str = "Coating inspector") -> Scheme:
    """The scheme of that name on the company's list."""
    return Scheme.objects.get_or_create(name=name)[0]


def bring_in_date() -> None:
    """Let every certificate be in date today as well: for what begins now and not on the fixed morning."""
    rewrite(Certificate.objects.all(), expires=timezone.now().date() + timedelta(days=200))
