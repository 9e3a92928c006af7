"""Reads about people and tokens that are more than a line."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db.models import Count, F, Prefetch, Q, QuerySet
from django.utils import timezone

from accounts.models import (
    ApiToken,
    Invitation,
    Letter,
    Organisation,
    Person,
    Qualification,
    Role,
    RoleGrant,
    Scheme,
)
from accounts.rights import require


def live_tokens(person: Person) -> QuerySet[ApiToken]:
    """The person's own tokens that still open the door, oldest first."""
    tokens: QuerySet[ApiToken] = ApiToken.objects.filter(user=person, expiry__gt=timezone.now()).order_by("created")
    return tokens


def company_name() -> str:
    """The inspection company, as it was founded; before that, as the settings call it."""
    founded = Organisation.objects.filter(kind=Organisation.Kind.COMPANY).order_by("pk")
    return founded.values_list("name", flat=True).first() or str(settings.COMPANY_NAME)


def everybody(by: Person) -> QuerySet[Organisation]:
    """Organisations with their people and the roles each holds; for those who manage people."""
    require_manager(by)
    held = Prefetch("grants", RoleGrant.objects.filter(ended_at=None).order_by("role"), to_attr="held")
    people = Person.objects.order_by("-is_active", "name").prefetch_related(held)
    return Organisation.objects.prefetch_related(Prefetch("people", people))


def late_letters(by: Person, at: datetime) -> QuerySet[Letter]:
    """Letters that something keeps from being sent, the oldest first; for those who manage people."""
    require_manager(by)
    return Letter.objects.late(at).order_by("written_at", "pk")


def open_invitations(by: Person, at: datetime | None = None) -> QuerySet[Invitation]:
    require_manager(by)
    return Invitation.objects.filter(
        accepted_at=None, withdrawn_at=None, expires_at__gt=at or timezone.now()
    ).select_related("organisation", "invited_by")


def manageable(by: Person) -> QuerySet[Person]:
    """The people whose page the person may open and change."""
    require_manager(by)
    return Person.objects.select_related("organisation")


def papers_of(person: Person) -> QuerySet[Qualification]:
    """Every paper recorded for the person, by the day it runs out, those that never do and those withdrawn last."""
    return (
        Qualification.objects.filter(person=person)
        .select_related("scheme")
        .order_by(F("withdrawn_at").asc(nulls_first=True), F("expires").asc(nulls_last=True), "issued", "pk")
    )


def schemes_with_papers() -> QuerySet[Scheme]:
    """The company's schemes, those on the list first, each with how many papers stand under it."""
    standing = Count("qualifications", filter=Q(qualifications__withdrawn_at=None))
    return Scheme.objects.annotate(papers=standing).order_by(F("retired_at").asc(nulls_first=True), "name")


def require_manager(by: Person) -> None:
    """Raises NotAllowed for all but administrators and quality managers."""
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to="manage people")
