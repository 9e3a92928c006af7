"""Reads on instruments that are more than a line."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from uuid import UUID

from inspection.instruments.models import Certificate, CertifiedValue, Gauge, ReferenceStandard, StandardUse


def with_descendants(certificates: set[UUID]) -> set[UUID]:
    """The certificates and all that are traceable to them, one query a generation."""
    found, newest = set(certificates), set(certificates)
    while newest:
        newest = set(Certificate.objects.filter(parent__in=newest).values_list("pk", flat=True)) - found
        found |= newest
    return found


def gauges_resting_on(certificates: set[UUID]) -> set[UUID]:
    """Gauges that the certificates, or any traceable to them, cover, or that were checked on what they certify."""
    values = CertifiedValue.objects.filter(certificate__in=with_descendants(certificates))
    covered = values.exclude(gauge=None).values_list("gauge", flat=True)
    checked = StandardUse.objects.filter(certified_value__in=values).values_list(
        "point__verification__gauge", flat=True
    )
    return {pk for pk in covered if pk} | set(checked.distinct())


def in_force_on(
    day: date, *, gauges: Iterable[Gauge] = (), standards: Iterable[ReferenceStandard] = ()
) -> dict[UUID, CertifiedValue]:
    """By gauge or standard id, the value of the newest certificate that is valid on the day; absent where none is."""
    valid = CertifiedValue.objects.filter(
        certificate__replaced_by=None,
        certificate__withdrawn_at=None,
        certificate__issued__lte=day,
        certificate__expires__gte=day,
    )
    return _newest(valid, gauges, standards)


def newest_certified(
    *, gauges: Iterable[Gauge] = (), standards: Iterable[ReferenceStandard] = ()
) -> dict[UUID, CertifiedValue]:
    """By gauge or standard id, the value of the newest certificate in its newest version, usable or not."""
    return _newest(CertifiedValue.objects.filter(certificate__replaced_by=None), gauges, standards)


def _newest(
    values: object, gauges: Iterable[Gauge], standards: Iterable[ReferenceStandard]
) -> dict[UUID, CertifiedValue]:
    found: dict[UUID, CertifiedValue] = {}
    for field, things in (("gauge", list(gauges)), ("standard", list(standards))):
        if things:
            rows = values.filter(**{f"{field}__in": things}).select_related("certificate__parent", field)  # type: ignore[attr-defined]
            for row in rows.order_by("certificate__issued", "certificate__recorded_at"):
                found[getattr(row, f"{field}_id")] = row
    return found


def newest_version(certificate: Certificate) -> Certificate:
    """The version that has not been corrected."""
    while later := Certificate.objects.filter(replaces=certificate).select_related("parent").first():
        certificate = later
    return certificate


def chain_above(certificate: Certificate) -> list[Certificate]:
    """The certificates this one is traceable to, in their newest versions, up to the last one recorded."""
    chain: list[Certificate] = []
    above = certificate.parent
    while above:
        above = newest_version(above)
        if above in chain or above == certificate:
            break
        chain.append(above)
        above = above.parent
    return chain


def withdrawn_above(certificate: Certificate) -> Certificate | None:
    """The first withdrawn certificate in the chain this one is traceable to."""
    return next((above for above in chain_above(certificate) if above.withdrawn_at), None)
