"""Reminders that a certificate or a qualification runs out: 60, 30 and 7 days before and on the day, once each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import chain
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from accounts import post
from accounts.models import Letter, Person, Qualification, Role
from inspection.instruments.models import Certificate, CertifiedValue, Equipment, Gauge, ReferenceStandard

THRESHOLDS = (0, 7, 30, 60)
CERTIFICATE, QUALIFICATION = "certificate-expiry", "qualification-expiry"


@dataclass(frozen=True)
class Due:
    """One thing running out and the threshold that was passed last."""

    kind: str
    what: UUID
    threshold: int
    subject: str
    body: str
    to: tuple[Person, ...] = field(compare=False)

    @property
    def about(self) -> str:
        return f"{self.what}:{self.threshold}"


@transaction.atomic
def remind(at: datetime | None = None) -> int:
    """Write the letters that are due on the day (UTC) of the moment; returns how many were new.

    After days without a worker only the threshold passed last is sent, once.
    """
    day = (at or timezone.now()).date()
    managers = list(
        Person.objects.filter(is_active=True, grants__role=Role.QUALITY_MANAGER, grants__ended_at=None).distinct()
    )
    due = list(chain(_certificates(day, managers), _qualifications(day, managers)))
    written = set(
        Letter.objects.filter(kind__in=(CERTIFICATE, QUALIFICATION), about__in={one.about for one in due}).values_list(
            "about", "recipient"
        )
    )
    return sum(
        post.write(one.kind, one.about, to=person, subject=one.subject, body=one.body)
        for one in due
        for person in one.to
        if (one.about, person.email) not in written
    )


def threshold_passed(expires: date, day: date) -> int | None:
    """The nearest threshold in days that has been reached; None while the expiry is further off than all of them."""
    return next((threshold for threshold in THRESHOLDS if (expires - day).days <= threshold), None)


def when(expires: date, day: date) -> str:
    left = (expires - day).days
    if left == 0:
        return f"runs out today, {expires:%Y-%m-%d}"
    if left < 0:
        return f"ran out on {expires:%Y-%m-%d}"
    return f"runs out on {expires:%Y-%m-%d}, in {left} day{'s' if left > 1 else ''}"


# --- certificates ----------------------------------------------------------------------------------------------------


def _certificates(day: date, managers: list[Person]) -> Iterable[Due]:
    for certificate, covered in running_certificates().items():
        threshold = threshold_passed(certificate.expires, day)
        if threshold is None:
            continue
        holders = [thing.holder for thing in covered if thing.holder and thing.holder.is_active]
        things = "\n".join(f"- {thing}{f', held by {thing.holder.name}' if thing.holder else ''}" for thing in covered)
        yield Due(
            CERTIFICATE, certificate.pk, threshold,
            subject=f"Certificate {certificate} {when(certificate.expires, day)}",
            body=(
                f"Certificate {certificate} of {certificate.laboratory} {when(certificate.expires, day)}.\n\n"
                f"It covers:\n{things}\n\nChecks and readings after that day cannot rest on it. "
                f"Send what it covers for calibration, or record the new certificate:\n"
                f"{settings.SITE_URL}{reverse('equipment')}\n"
            ),
            to=tuple({person.pk: person for person in (*managers, *holders)}.values()),
        )  # fmt: skip


def running_certificates() -> dict[Certificate, list[Equipment]]:
    """Each certificate that equipment in service rests on last, with that equipment.

    A certificate replaced, withdrawn or followed by a later one for the same thing is not among them.
    """
    values = CertifiedValue.objects.filter(certificate__replaced_by=None, certificate__withdrawn_at=None)
    covered: dict[Certificate, list[Equipment]] = defaultdict(list)
    for name, model in (("gauge", Gauge), ("standard", ReferenceStandard)):
        last: dict[UUID, CertifiedValue] = {}
        in_service = values.filter(**{f"{name}__state": model.State.IN_SERVICE})
        for value in in_service.select_related("certificate", f"{name}__holder").order_by("certificate__expires"):
            last[getattr(value, f"{name}_id")] = value
        for value in sorted(last.values(), key=lambda value: str(getattr(value, name))):
            covered[value.certificate].append(getattr(value, name))
    return covered


# --- qualifications --------------------------------------------------------------------------------------------------


def _qualifications(day: date, managers: list[Person]) -> Iterable[Due]:
    for paper in running_qualifications():
        threshold = threshold_passed(paper.expires, day)
        if threshold is None:
            continue
        yield Due(
            QUALIFICATION, paper.pk, threshold,
            subject=f"Qualification of {paper.person.name} {when(paper.expires, day)}",
            body=(
                f"{paper}, number {paper.number}, of {paper.person.name} {when(paper.expires, day)}.\n\n"
                f"Record the new one when it is there:\n{settings.SITE_URL}{reverse('me')}\n"
            ),
            to=tuple({person.pk: person for person in (*managers, paper.person)}.values()),
        )  # fmt: skip


def running_qualifications() -> list[Qualification]:
    """The last qualification of each active person under each scheme."""
    last = {
        (paper.person_id, paper.scheme): paper
        for paper in Qualification.objects.filter(person__is_active=True).select_related("person").order_by("expires")
    }
    return list(last.values())
