"""Which certificate a thing can rely on, on which day, and what is wrong where it cannot."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from django.db.models import Q, QuerySet

from inspection.instruments.models import Certificate, CertifiedValue, Gauge, ReferenceStandard, StandardUse

# The first reminder goes out this long before; from then on a certificate is shown as expiring.
EXPIRING_DAYS = 60


def with_descendants(certificates: set[UUID]) -> set[UUID]:
    """The certificates, their earlier versions and all that are traceable to any of them, one query a generation."""
    found, newest = set(certificates), set(certificates)
    while newest:
        near = Certificate.objects.filter(Q(parent__in=newest) | Q(replaced_by__in=newest))
        newest = set(near.values_list("pk", flat=True)) - found
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
    values: QuerySet[CertifiedValue], gauges: Iterable[Gauge], standards: Iterable[ReferenceStandard]
) -> dict[UUID, CertifiedValue]:
    found: dict[UUID, CertifiedValue] = {}
    for name, things in (("gauge", list(gauges)), ("standard", list(standards))):
        if things:
            rows = values.filter(**{f"{name}__in": things}).select_related("certificate", name)
            for row in rows.order_by("certificate__issued", "certificate__recorded_at"):
                found[getattr(row, f"{name}_id")] = row
    return found


class Chains:
    """What certificates are traceable to, in the newest versions: a query a generation, not a query a certificate."""

    def __init__(self, certificates: Iterable[Certificate]) -> None:
        self._rows: dict[UUID, Certificate] = {}
        asked: set[UUID] = set()
        wanted = {certificate.parent_id for certificate in certificates if certificate.parent_id}
        while wanted:
            found = Certificate.objects.filter(Q(pk__in=wanted) | Q(replaces__in=wanted))
            self._rows.update((row.pk, row) for row in found)
            asked |= wanted
            wanted = {pk for row in self._rows.values() for pk in (row.pk, row.parent_id) if pk} - asked
        self._replaced_by = {row.replaces_id: row.pk for row in self._rows.values() if row.replaces_id}

    def above(self, certificate: Certificate) -> list[Certificate]:
        """From the one named as its parent up to the last one recorded."""
        chain: list[Certificate] = []
        pk = certificate.parent_id
        while pk:
            while pk in self._replaced_by:
                pk = self._replaced_by[pk]
            row = self._rows[pk]
            if row in chain or row == certificate:
                break
            chain.append(row)
            pk = row.parent_id
        return chain

    def withdrawn_above(self, certificate: Certificate, *, until: datetime | None = None) -> Certificate | None:
        """The nearest that is withdrawn, or was by that moment."""
        for above in self.above(certificate):
            if above.withdrawn_at and (until is None or above.withdrawn_at <= until):
                return above
        return None


@dataclass(frozen=True)
class Reliance:
    """What things can rely on, on one day. Where the company only warns, what has merely run out is relied on too."""

    day: date
    in_force: dict[UUID, CertifiedValue]
    newest: dict[UUID, CertifiedValue]
    # Of things without a certificate in force: the newest one issued by that day, where it has run out.
    run_out: dict[UUID, CertifiedValue]
    chains: Chains
    warns: bool = False
    # Of things that have none of these: what they relied on at a moment in the past, and was withdrawn only since.
    withdrawn_since: dict[UUID, CertifiedValue] = field(default_factory=dict)
    at: datetime | None = None

    @classmethod
    def on(
        cls,
        day: date,
        *,
        gauges: Iterable[Gauge] = (),
        standards: Iterable[ReferenceStandard] = (),
        warns: bool = False,
        at: datetime | None = None,
    ) -> Reliance:
        """With `at`, as it was known at that moment of the day: of what was made before it was heard of elsewhere."""
        gauges, standards = list(gauges), list(standards)
        in_force = in_force_on(day, gauges=gauges, standards=standards)
        newest = newest_certified(gauges=gauges, standards=standards)
        run_out = _run_out(day, in_force, newest, gauges, standards)
        since = _withdrawn_since(at, day, gauges, standards) if at else {}
        chains = Chains(value.certificate for value in (*in_force.values(), *run_out.values(), *since.values()))
        return cls(day, in_force, newest, run_out, chains, warns, since, at)

    def value(self, thing: Gauge | ReferenceStandard) -> CertifiedValue | None:
        """What the thing can rely on, if it can rely on anything."""
        found = self.in_force.get(thing.pk) or (self.run_out.get(thing.pk) if self.warns else None)
        return found or self.withdrawn_since.get(thing.pk)

    def why_not(self, thing: Gauge | ReferenceStandard) -> str:
        """Why the thing has no certificate to rely on; empty when it has one."""
        value = self.value(thing)
        if value:
            return self._broken(value)
        if thing.pk not in self.newest:
            return "it has no certificate"
        return (self.run_out.get(thing.pk) or self.newest[thing.pk]).certificate.unusable_because(self.day)

    def overdue(self, thing: Gauge | ReferenceStandard) -> str:
        """That its certificate has run out, and on which day; empty where it has not, or has worse against it."""
        value = self.run_out.get(thing.pk)
        return value.certificate.unusable_because(self.day) if value and not self._broken(value) else ""

    def since(self, thing: Gauge | ReferenceStandard) -> str:
        """That what it relied on at the moment was withdrawn since, itself or above it; empty where it was not."""
        value = self.value(thing)
        if value is None or self.at is None:
            return ""
        above = self.chains.withdrawn_above(value.certificate)
        told = f"certificate {value.certificate} is traceable to {above}, which was withdrawn since" if above else ""
        return value.certificate.unusable_because(self.day) if value.certificate.withdrawn_at else told

    def _broken(self, value: CertifiedValue) -> str:
        above = self.chains.withdrawn_above(value.certificate, until=self.at)
        return f"certificate {value.certificate} is traceable to {above}, which was withdrawn" if above else ""


def _withdrawn_since(
    at: datetime, day: date, gauges: Iterable[Gauge], standards: Iterable[ReferenceStandard]
) -> dict[UUID, CertifiedValue]:
    values = CertifiedValue.objects.filter(
        certificate__replaced_by=None, certificate__withdrawn_at__gt=at, certificate__issued__lte=day,
        certificate__expires__gte=day,
    )  # fmt: skip
    return _newest(values, gauges, standards)


def _run_out(
    day: date,
    in_force: dict[UUID, CertifiedValue],
    newest: dict[UUID, CertifiedValue],
    gauges: Iterable[Gauge],
    standards: Iterable[ReferenceStandard],
) -> dict[UUID, CertifiedValue]:
    lacking = newest.keys() - in_force.keys()
    if not lacking:
        return {}
    issued = CertifiedValue.objects.filter(certificate__replaced_by=None, certificate__issued__lte=day)
    found = _newest(
        issued, [gauge for gauge in gauges if gauge.pk in lacking], [one for one in standards if one.pk in lacking]
    )
    return {pk: value for pk, value in found.items() if not value.certificate.withdrawn_at}


def certificate_state(certificate: Certificate, on: date, *, replaced: bool = False) -> tuple[str, str]:
    """A state for the status mark and its words, as seen on the day."""
    if certificate.withdrawn_at:
        return "withdrawn", "Withdrawn"
    if replaced:
        return "replaced", "Replaced by a correction"
    if on < certificate.issued:
        return "waiting", "Not yet issued"
    return papers_state(certificate.expires, on)


def papers_state(expires: date | None, on: date) -> tuple[str, str]:
    """The same for a thing, by the day on which the certificate it relies on runs out."""
    if expires is None:
        return "expired", "No certificate"
    left = (expires - on).days
    if left < 0:
        return "expired", f"Expired {expires:%Y-%m-%d}"
    if left <= EXPIRING_DAYS:
        return "expiring", "Expires today" if left == 0 else f"Expires in {left} day{'s' if left > 1 else ''}"
    return "valid", f"Valid to {expires:%Y-%m-%d}"
