"""The registers of equipment, certificates and checks, as lists and pages show them. Sight first, one query a list."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import (
    Case,
    Count,
    DateField,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    UUIDField,
    Value,
    When,
)

from accounts.models import Person, Role
from inspection.instruments.doubt import UNTOLD
from inspection.instruments.models import (
    Certificate,
    CertifiedValue,
    Custody,
    Equipment,
    Gauge,
    GaugeIncident,
    ReferenceStandard,
    StandardUse,
    Verification,
    VerificationPoint,
)
from inspection.instruments.queries import EXPIRING_DAYS
from inspection.projects.models import Membership, Project

# Records a page of a check names.
MOST_RESTING = 50

PAPERS = {
    "valid": "In date",
    "expiring": f"Expiring within {EXPIRING_DAYS} days",
    "none": "Expired or without a certificate",
}


def with_papers(things: QuerySet[Any], field: str, day: date) -> QuerySet[Any]:
    """Each thing with the certificate that reaches furthest of those neither withdrawn nor corrected, if it has one."""
    usable = CertifiedValue.objects.filter(
        **{field: OuterRef("pk")},
        certificate__replaced_by=None,
        certificate__withdrawn_at=None,
        certificate__issued__lte=day,
    ).order_by("-certificate__expires", "-certificate__issued")
    annotated: QuerySet[Any] = things.annotate(
        paper_id=Subquery(usable.values("certificate")[:1], output_field=UUIDField()),
        paper_number=Subquery(usable.values("certificate__number")[:1]),
        paper_expires=Subquery(usable.values("certificate__expires")[:1], output_field=DateField()),
        certified_nm=Subquery(usable.values("value_nm")[:1]),
        uncertainty_nm=Subquery(usable.values("expanded_uncertainty_nm")[:1]),
        coverage_factor=Subquery(usable.values("certificate__coverage_factor")[:1]),
        certified_value=Subquery(usable.values("value")[:1]),
        uncertainty_value=Subquery(usable.values("expanded_uncertainty")[:1]),
    )
    return annotated


def filtered(
    things: QuerySet[Any], *, day: date, words: str = "", kind: str = "", state: str = "", papers: str = ""
) -> QuerySet[Any]:
    """Only the things that the filters of the register ask for; what is empty or unknown filters nothing."""
    if words:
        things = things.filter(Q(identity__icontains=words) | Q(serial__icontains=words) | Q(model__icontains=words))
    if kind:
        things = things.filter(kind=kind)
    if state in Equipment.State.values:
        things = things.filter(state=state)
    if papers == "valid":
        things = things.filter(paper_expires__gte=day)
    elif papers == "expiring":
        things = things.filter(paper_expires__range=(day, day + timedelta(days=EXPIRING_DAYS)))
    elif papers == "none":
        things = things.filter(Q(paper_expires=None) | Q(paper_expires__lt=day))
    return things


def gauges_for(person: Person, day: date) -> QuerySet[Gauge]:
    """With their papers, and the newest of what was reported of each and is not settled yet."""
    incidents = GaugeIncident.objects.visible_to(person).unsettled().filter(gauge=OuterRef("pk"))
    newest = incidents.order_by("-at", "-pk")
    what = Subquery(newest.values("what")[:1]) if person.is_company else Value(UNTOLD)
    gauges: QuerySet[Gauge] = _register(
        Gauge.objects.visible_to(person).annotate(reported_at=Subquery(newest.values("at")[:1]), reported_what=what),
        "gauge", person, day, "identity",
    )  # fmt: skip
    return gauges


def standards_for(person: Person, day: date) -> QuerySet[ReferenceStandard]:
    return _register(
        ReferenceStandard.objects.visible_to(person),
        "standard",
        person,
        day,
        F("nominal_nm").asc(nulls_last=True),
        "identity",
    )


def _register(things: QuerySet[Any], field: str, person: Person, day: date, *then: Any) -> QuerySet[Any]:
    """What the person holds first, then what is in service, then the rest."""
    held = Case(When(holder=person, then=Value(0)), default=Value(1), output_field=IntegerField())
    used = Case(When(state=Equipment.State.IN_SERVICE, then=Value(0)), default=Value(1), output_field=IntegerField())
    return with_papers(things, field, day).select_related("holder").order_by(held, used, *then)


def values_of(thing: Gauge | ReferenceStandard) -> QuerySet[CertifiedValue]:
    """Every version of every certificate of a thing, newest first."""
    replaced = Certificate.objects.filter(replaces=OuterRef("certificate"))
    return (
        thing.certified_values.select_related("certificate")
        .annotate(replaced=Exists(replaced))
        .order_by("-certificate__issued", "-certificate__version")
    )


def certificates_for(person: Person) -> QuerySet[Certificate]:
    """Certificates in their newest versions, with how many gauges and standards each covers."""
    return (
        Certificate.objects.visible_to(person)
        .filter(replaced_by=None)
        .annotate(
            gauge_count=Count("values__gauge", distinct=True), standard_count=Count("values__standard", distinct=True)
        )
        .order_by("-issued", "number")
    )


def verifications_for(person: Person) -> QuerySet[Verification]:
    rows: QuerySet[Verification] = Verification.objects.visible_to(person).select_related(
        "gauge", "project", "taken_by", "corrected_by", "replaced_by"
    )
    return rows.order_by("-taken_at", "-pk")


def with_points(verifications: QuerySet[Verification]) -> QuerySet[Verification]:
    """With their points, and what each point relied on."""
    uses = StandardUse.objects.select_related(
        "certified_value__standard", "certified_value__certificate__replaced_by"
    ).order_by("pk")
    points = VerificationPoint.objects.order_by("order").prefetch_related(Prefetch("uses", uses))
    return verifications.prefetch_related(Prefetch("points", points))


def resting_on(check: Verification, person: Person) -> tuple[list[Any], int]:
    """The standings that the check bears on, as the person may see them: it came before the record, after, or within.

    They are kept by a room above this one, which is reached only through what points here. The newest records' come
    first, at most MOST_RESTING; with how many there are. Nothing rests on a version that a correction replaced.
    """
    if hasattr(check, "replaced_by"):
        return [], 0
    standings: Any = check.closes.model._default_manager
    within = Q(
        record__gauge=check.gauge_id,
        record__taken_at__lte=check.taken_at,
        record__ended_at__gte=check.taken_at,
    )
    found = standings.filter(Q(opening=check) | Q(closing=check) | within, record__replaced_by=None)
    found = found.filter(record__project__in=Project.objects.visible_to(person))
    shown = found.select_related("record__area", "record__coat", "record__project")
    return list(shown.order_by("-record__taken_at", "record")[:MOST_RESTING]), found.count()


def to_confirm(person: Person) -> set[UUID]:
    """Instruments and standards that were handed to the person, who has not said yet that they have them."""
    later = Custody.objects.filter(
        Q(gauge=OuterRef("gauge")) | Q(standard=OuterRef("standard")), from_when__gt=OuterRef("from_when")
    )
    open_ones = Custody.objects.filter(holder=person, confirmed_at=None).exclude(Exists(later))
    return {gauge or standard for gauge, standard in open_ones.values_list("gauge", "standard")}


def holders() -> QuerySet[Person]:
    """Who may hold equipment."""
    return (
        Person.objects.filter(
            is_active=True, organisation__kind="company", grants__ended_at=None,
            grants__role__in=(Role.INSPECTOR, Role.QUALITY_MANAGER),
        )
        .distinct()
        .order_by("name")
    )  # fmt: skip


def identities() -> list[str]:
    """What is written on the labels of all gauges and standards."""
    kinds = (Gauge, ReferenceStandard)
    return [identity for kind in kinds for identity in kind._default_manager.values_list("identity", flat=True)]


def zone_of(person: Person) -> ZoneInfo:
    """The zone of the project the person joined last; without one, that of the open projects they see, if it is one.

    Where it is several, UTC.
    """
    membership = (
        Membership.objects.filter(person=person, ended_at=None, project__closed_at=None)
        .select_related("project")
        .order_by(F("begun_at").desc())
        .first()
    )
    if membership:
        return membership.project.zone
    seen = Project.objects.visible_to(person).filter(closed_at=None).order_by()
    zones = list(seen.values_list("time_zone", flat=True).distinct()[:2])
    return ZoneInfo(zones[0]) if len(zones) == 1 else ZoneInfo("UTC")


def zone_of_gauge(gauge: Gauge, person: Person) -> ZoneInfo:
    """The zone of the project a gauge was checked for last, of those the person sees; else the person's own."""
    newest = Verification.objects.visible_to(person).filter(gauge=gauge).select_related("project").first()
    return newest.project.zone if newest else zone_of(person)
