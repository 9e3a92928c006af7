"""The certificates that checks stand on, seen as they are today: corrected, withdrawn, in date or not."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Q

from inspection.instruments.models import Certificate, CertifiedValue, StandardUse, Verification


class Papers:
    """A few certificates with every later version of them and every certificate above them, read in a few queries.

    The number of queries follows the depth of the chains (certificate, its laboratory's, the institute's), never the
    number of certificates.
    """

    def __init__(self, ids: Iterable[UUID]) -> None:
        self._rows: dict[UUID, Certificate] = {}
        asked: set[UUID] = set()
        frontier = set(ids)
        while frontier:
            found = Certificate.objects.filter(Q(pk__in=frontier) | Q(replaces__in=frontier)).only(
                "number", "version", "replaces_id", "parent_id", "issued", "expires", "withdrawn_at",
                "withdrawal_reason", "coverage_factor",
            )  # fmt: skip
            self._rows.update((row.pk, row) for row in found)
            asked |= frontier
            frontier = {pk for row in self._rows.values() for pk in (row.pk, row.parent_id) if pk} - asked
        self._replaced_by = {row.replaces_id: row.pk for row in self._rows.values() if row.replaces_id}

    def current(self, pk: UUID) -> Certificate:
        """The latest version of the certificate."""
        while pk in self._replaced_by:
            pk = self._replaced_by[pk]
        return self._rows[pk]

    def doubt(self, pk: UUID, on: date) -> str:
        """Why the certificate, as it is today, could not be relied on that day; empty when it could."""
        row = self.current(pk)
        if reason := row.unusable_because(on):
            return reason
        seen: set[UUID] = set()
        while row.parent_id and row.pk not in seen:
            seen.add(row.pk)
            parent = self.current(row.parent_id)
            if parent.withdrawn_at:
                return (
                    f"certificate {self.current(pk)} is traceable to certificate {parent}, withdrawn on "
                    f"{parent.withdrawn_at:%Y-%m-%d}: {parent.withdrawal_reason.rstrip('.')}"
                )
            row = parent
        return ""

    @property
    def ids(self) -> set[UUID]:
        return set(self._rows)


def papers_under(gauges: Any, start: datetime | None, end: datetime | None) -> set[UUID]:
    """The certificates that checks of the gauges within the stretch of time rest on, with every version and parent."""
    checks = Verification.objects.filter(gauge__in=gauges)
    if start is not None:
        checks = checks.filter(taken_at__gte=start)
    if end is not None:
        checks = checks.filter(taken_at__lte=end)
    uses = StandardUse.objects.filter(point__verification__in=checks.order_by().values("pk"))
    of_gauges = CertifiedValue.objects.filter(gauge__in=gauges)
    return Papers(
        {
            *uses.order_by().values_list("certified_value__certificate", flat=True).distinct(),
            *of_gauges.order_by().values_list("certificate", flat=True).distinct(),
        }
    ).ids
