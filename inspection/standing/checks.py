"""Verifications as they stand today: with the corrected values of their standards, and what casts doubt on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Any
from uuid import UUID

from inspection.instruments.models import CertifiedValue, StandardUse, Verification
from inspection.instruments.site_checks import BY_ACCURACY, SITE_CHECKS
from inspection.instruments.stack import stack_input
from inspection.standards.registry import InputFault, calculate
from inspection.standing.judgement import Check
from inspection.standing.papers import Papers

Stated = tuple[int | None, int | None, Decimal | None, Decimal | None, float]


@dataclass(frozen=True)
class Use:
    """One standard used in a point of a verification, by the certified value relied on then."""

    order: int
    certificate: UUID
    coverage_factor: float
    standard: UUID
    identity: str
    value_nm: int | None
    expanded_uncertainty_nm: int | None
    # Of a standard solution; a reference instrument has no value of its own.
    value: Decimal | None = None
    expanded_uncertainty: Decimal | None = None

    @property
    def stated(self) -> Stated:
        return self.value_nm, self.expanded_uncertainty_nm, self.value, self.expanded_uncertainty, self.coverage_factor


@dataclass(frozen=True)
class Correction:
    """What today's version of the certificate says of a standard, or that it no longer names it."""

    certificate: str
    value_nm: int | None
    expanded_uncertainty_nm: int | None
    coverage_factor: float
    value: Decimal | None = None
    expanded_uncertainty: Decimal | None = None
    named: bool = True

    @property
    def stated(self) -> Stated:
        return self.value_nm, self.expanded_uncertainty_nm, self.value, self.expanded_uncertainty, self.coverage_factor


# By certificate, in its newest version, and standard: values as if they had been corrected already.
Assumed = Mapping[tuple[UUID, UUID], Correction]
NOTHING: Assumed = {}


def checks_of(verifications: Sequence[Verification], assumed: Assumed = NOTHING) -> dict[UUID, Check]:
    """Each verification as a Check, in a bounded number of queries. They come with `gauge` and `project` loaded."""
    uses = _uses(verifications)
    of_gauges = _gauge_certificates({verification.gauge_id for verification in verifications})
    papers = Papers(
        {use.certificate for found in uses.values() for use in found}
        | {pk for found in of_gauges.values() for pk in found}
    )
    corrections = _corrections([use for found in uses.values() for use in found], papers, assumed)
    changed = [pk for pk, found in uses.items() if _corrected_by(found, corrections)]
    inputs = dict(Verification.objects.filter(pk__in=changed).values_list("pk", "inputs")) if changed else {}
    checks = {}
    for verification in verifications:
        on = verification.project.day_of(verification.taken_at)
        found = uses.get(verification.pk, [])
        doubts = (
            *_gauge_doubts(verification, of_gauges.get(verification.gauge_id, []), papers, on),
            *_standard_doubts(found, papers, corrections, on),
        )
        check = Check(
            verification.pk,
            verification.taken_at,
            verification.verdict == Verification.Verdict.PASS,
            # A failed check covers nothing.
            verification.verified_from_nm or 0,
            verification.verified_to_nm or 0,
            verification.as_left and verification.adjustment != Verification.Adjustment.NONE,
            doubts,
        )
        if verification.pk in inputs:
            rule = SITE_CHECKS[verification.gauge.kind].calculation
            check = _recomputed(check, rule, inputs[verification.pk], found, corrections)
        checks[verification.pk] = check
    return checks


def _uses(verifications: Iterable[Verification]) -> dict[UUID, list[Use]]:
    found: dict[UUID, list[Use]] = defaultdict(list)
    rows = StandardUse.objects.filter(point__verification__in=[v.pk for v in verifications]).values_list(
        "point__verification", "point__order", "certified_value__certificate",
        "certified_value__certificate__coverage_factor", "certified_value__standard",
        "certified_value__standard__identity", "certified_value__value_nm", "certified_value__expanded_uncertainty_nm",
        "certified_value__value", "certified_value__expanded_uncertainty",
    )  # fmt: skip
    for row in rows.order_by("point__order", "pk"):
        verification, order, certificate, coverage, standard, identity, nm, uncertainty_nm, value, uncertainty = row
        found[verification].append(
            Use(
                order, certificate, float(coverage), standard, identity or "", nm, uncertainty_nm, value, uncertainty
            )
        )  # fmt: skip
    return found


def _gauge_certificates(gauges: Iterable[UUID]) -> dict[UUID, list[UUID]]:
    found: dict[UUID, list[UUID]] = defaultdict(list)
    for gauge, certificate in CertifiedValue.objects.filter(gauge__in=gauges).values_list("gauge", "certificate"):
        found[gauge].append(certificate)
    return found


def _corrections(uses: Sequence[Use], papers: Papers, assumed: Assumed) -> dict[tuple[UUID, UUID], Correction]:
    """By certificate relied on and standard, what has changed since; nothing for a version that says the same."""
    now = {use.certificate: papers.current(use.certificate) for use in uses}
    replaced = {row.pk for pk, row in now.items() if row.pk != pk}
    values = {
        (value.certificate_id, value.standard_id): value
        for value in CertifiedValue.objects.filter(certificate__in=replaced, standard__isnull=False)
    } if replaced else {}  # fmt: skip
    found = {}
    for use in uses:
        row = now[use.certificate]
        correction = assumed.get((row.pk, use.standard))
        if correction is None and row.pk != use.certificate:
            value = values.get((row.pk, use.standard))
            correction = Correction(
                str(row),
                value.value_nm if value else None,
                value.expanded_uncertainty_nm if value else None,
                float(row.coverage_factor),
                value.value if value else None,
                value.expanded_uncertainty if value else None,
                named=value is not None,
            )
        if correction and (not correction.named or correction.stated != use.stated):
            found[use.certificate, use.standard] = correction
    return found


def _corrected_by(uses: Iterable[Use], corrections: Mapping[tuple[UUID, UUID], Correction]) -> list[str]:
    """The certificates whose corrected values change this verification."""
    found = (corrections.get((use.certificate, use.standard)) for use in uses)
    return sorted({correction.certificate for correction in found if correction and correction.named})


def _gauge_doubts(verification: Verification, certificates: Sequence[UUID], papers: Papers, on: date) -> Iterator[str]:
    """Nothing when any current certificate of the gauge could be relied on that day; else why the nearest could not."""
    if not certificates:
        yield f"gauge {verification.gauge} has no certificate"
        return
    current = {papers.current(pk).pk: papers.current(pk) for pk in certificates}
    naming = [row for pk, row in current.items() if pk in certificates]
    if any(not papers.doubt(row.pk, on) for row in naming):
        return
    if not naming:
        yield f"gauge {verification.gauge}: certificate {next(iter(current.values()))} no longer names it"
        return
    nearest = max(naming, key=lambda row: (row.issued <= on, row.issued, row.pk))
    yield f"gauge {verification.gauge}: {papers.doubt(nearest.pk, on)}"


def _standard_doubts(
    uses: Sequence[Use], papers: Papers, corrections: Mapping[tuple[UUID, UUID], Correction], on: date
) -> Iterator[str]:
    by_reason: dict[str, list[str]] = defaultdict(list)
    for use in uses:
        correction = corrections.get((use.certificate, use.standard))
        if correction and not correction.named:
            by_reason[f"certificate {correction.certificate} no longer names it"].append(use.identity)
        if reason := papers.doubt(use.certificate, on):
            by_reason[reason].append(use.identity)
    for reason, identities in by_reason.items():
        yield f"{', '.join(dict.fromkeys(identities))}: {reason}"


def _recomputed(
    check: Check,
    rule: str,
    given: Mapping[str, Any],
    uses: Sequence[Use],
    corrections: Mapping[tuple[UUID, UUID], Correction],
) -> Check:
    """The check judged again by its rule with what the certificates say today."""
    papers = " and ".join(_corrected_by(uses, corrections))
    points = [
        point | _corrected_point(point, list(stack), corrections)
        for point, (_, stack) in zip(given["points"], groupby(uses, key=lambda use: use.order), strict=True)
    ]
    try:
        answer = calculate(rule, {**given, "points": points})
    except InputFault as fault:
        why = f"cannot be judged with the values of certificate {papers}: {fault}"
        return replace(check, passed=False, recomputed=why, corrected_by=papers)
    check = replace(check, now=answer, corrected_by=papers)
    if answer["verdict"] != "pass":
        return replace(
            check, passed=False, recomputed=f"does not pass with the corrected values of certificate {papers}"
        )
    if rule != BY_ACCURACY:
        return replace(check, passed=True)
    from_nm, to_nm = (round(answer[f"verified_{end}_um"] * 1000) for end in ("from", "to"))
    return replace(check, passed=True, from_nm=from_nm, to_nm=to_nm)


def _corrected_point(
    point: Mapping[str, Any], stack: Sequence[Use], corrections: Mapping[tuple[UUID, UUID], Correction]
) -> dict[str, Any]:
    """The point with the values and uncertainties that its standards' certificates state today."""
    now = [corrections.get((use.certificate, use.standard)) for use in stack]
    if not any(now):
        return {}
    said = [correction if correction and correction.named else use for use, correction in zip(stack, now, strict=True)]
    if "reference" in point:
        # What a reference instrument showed stays what it showed.
        value = said[0].value
        return {} if value is None else {"reference": float(value)}
    return stack_input(said)
