"""The checks of a gauge around a measurement, with the certificates under each and what each covers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from inspection.fieldwork.models import ThicknessRecord
from inspection.instruments.models import Certificate, CertifiedValue, StandardUse, Verification
from inspection.standing.models import Standing


@dataclass(frozen=True)
class CheckEvidence:
    """A check of the gauge that the standing rests on, with the certificates under it and what each covers."""

    verification: Verification
    when: str
    papers: tuple[tuple[Certificate, tuple[str, ...]], ...]


Papers = dict[UUID, dict[Certificate, list[str]]]


def papers_of(records: Sequence[ThicknessRecord]) -> Papers:
    """By check around one of the records, the certificates under it, each with the things it is for."""
    papers: Papers = defaultdict(lambda: defaultdict(list))
    checks = {check.pk: (check, record) for record in records for check in _around(getattr(record, "standing", None))}
    gauges = {record.gauge_id for record in records}
    of_gauges = CertifiedValue.objects.filter(gauge__in=gauges, certificate__replaced_by=None)
    by_gauge: dict[UUID | None, list[Certificate]] = defaultdict(list)
    for value in of_gauges.select_related("certificate").order_by("certificate__issued"):
        by_gauge[value.gauge_id].append(value.certificate)
    for check, record in checks.values():
        day = record.project.day_of(check.taken_at)
        for certificate in by_gauge[record.gauge_id]:
            if certificate.issued <= day <= certificate.expires:
                papers[check.pk][certificate].append(str(record.gauge))
    uses = StandardUse.objects.filter(point__verification__in=list(checks))
    for use in uses.select_related("certified_value__certificate", "certified_value__standard", "point").order_by("pk"):
        value = use.certified_value
        papers[use.point.verification_id][value.certificate].append(str(value.standard))
    return papers


def _around(standing: Standing | None) -> list[Verification]:
    return [check for check in (standing.opening, standing.closing) if check] if standing else []


def checks_of(standing: Standing, papers: Papers) -> tuple[CheckEvidence, ...]:
    named = ((standing.opening, "before work"), (standing.closing, "after work"))
    return tuple(
        CheckEvidence(
            check,
            when,
            tuple((paper, tuple(dict.fromkeys(things))) for paper, things in papers[check.pk].items()),
        )
        for check, when in named
        if check
    )
