"""Certificates: recording them whole, correcting them by a new version, withdrawing them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal, vault
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.attachments import UploadedContent, file_faults, media_type_of
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.units import Unit, in_unit
from inspection.instruments.models import (
    SOLUTION_UNIT,
    Certificate,
    CertifiedValue,
    Gauge,
    ReferenceStandard,
    stated,
)
from inspection.instruments.queries import gauges_resting_on
from inspection.instruments.signals import tell_of_evidence
from inspection.projects.preconditions import in_sight, row_faults, save_new, snapshot

# A certified value further from what the thing is sold as is a slip of key, row or unit (own figure).
FAR_FROM_NOMINAL_PCT = 20
FAR_FROM_NOMINAL_NM = 5_000


@dataclass(frozen=True)
class StandardValue:
    """What a certificate says of one reference standard: a thickness in nm, or a conductivity in µS/cm.

    Of a reference instrument it states no value: that it was calibrated.
    """

    standard: ReferenceStandard
    value_nm: int | None = None
    expanded_uncertainty_nm: int | None = None
    value: Decimal | None = None
    expanded_uncertainty: Decimal | None = None

    @property
    def told(self) -> str:
        """As a certificate would state it, with its unit."""
        return stated(self.value_nm, self.expanded_uncertainty_nm, self.value, self.expanded_uncertainty)

    @classmethod
    def of(cls, row: CertifiedValue) -> StandardValue:
        """As a certificate states it already."""
        if row.standard is None:
            raise ValueError(f"{row} is of no standard")
        return cls(row.standard, row.value_nm, row.expanded_uncertainty_nm, row.value, row.expanded_uncertainty)


@dataclass(frozen=True, kw_only=True)
class Paper:
    """A certificate as it is to be recorded."""

    number: str
    laboratory: str
    accreditation: str = ""
    issued: date
    expires: date
    coverage_factor: Decimal = Decimal(2)
    traceable_to: str
    parent: Certificate | None = None
    gauges: Sequence[Gauge] = ()
    values: Sequence[StandardValue] = ()
    file: UploadedContent | None = None

    def row(self, by: Person) -> Certificate:
        """The unsaved certificate."""
        return Certificate(
            number=self.number.strip(), laboratory=self.laboratory.strip(), accreditation=self.accreditation.strip(),
            issued=self.issued, expires=self.expires, coverage_factor=self.coverage_factor,
            traceable_to=self.traceable_to.strip(), parent=self.parent, recorded_by=by, recorded_at=timezone.now(),
        )  # fmt: skip


@transaction.atomic
def record_certificate(by: Person, **given: Any) -> Certificate:
    """Record a certificate with every value it states, whole or not at all; takes the fields of `Paper`.

    One without gauges or values stands for a certificate further up the chain, to which others are traceable.
    """
    require(by, Role.QUALITY_MANAGER, to="record certificates")
    paper = Paper(**given)
    certificate = paper.row(by)
    faults = paper_faults(by, paper)
    if faults:
        raise Refused(faults)
    _store(by, certificate, paper, already=_already(certificate))
    journal.record("certificate.recorded", certificate, by=by, after=_as_journalled(certificate, paper))
    _tell(by, {certificate.pk}, since=certificate.issued, because=f"Certificate {certificate} was recorded.")
    return certificate


def _already(certificate: Certificate) -> str:
    return f"Certificate {certificate.number} of {certificate.laboratory} is already recorded; correct that one."


def paper_faults(by: Person, paper: Paper) -> list[Fault]:
    """What would keep a new certificate from being recorded. Faults of a value carry its number as the row."""
    certificate = paper.row(by)
    faults = _faults(by, certificate, paper)
    same = Certificate.objects.filter(number__iexact=certificate.number, laboratory__iexact=certificate.laboratory)
    if same.exists():
        faults.append(Fault(_already(certificate), "number"))
    return faults


@transaction.atomic
def record_certificates(by: Person, papers: Sequence[Paper]) -> list[Certificate]:
    """Record many certificates, all or none. A fault carries the place of its certificate, from 1, as the row."""
    recorded = []
    for place, paper in enumerate(papers, start=1):
        try:
            recorded.append(
                record_certificate(by, **{field.name: getattr(paper, field.name) for field in fields(paper)})
            )
        except NotAllowed:
            raise
        except Refused as refusal:
            raise Refused([replace(fault, row=place) for fault in refusal.faults]) from refusal
    return recorded


@transaction.atomic
def correct_certificate(
    by: Person, *, certificate: Certificate, reason: str, told: set[UUID] | None = None, **given: Any
) -> Certificate:
    """Record a corrected version, which replaces the one named; takes the fields of `Paper`, whole.

    Without a new file it keeps the old one's. `told` is given the ids of the people who were written to.
    """
    require(by, Role.QUALITY_MANAGER, to="correct certificates")
    in_sight(by, certificate)
    paper = Paper(**given)
    old = Certificate.objects.select_for_update().get(pk=certificate.pk)
    already = f"Certificate {old} has already been corrected; correct its newest version."
    if Certificate.objects.filter(replaces=old).exists():
        raise Conflict(already)
    if old.withdrawn_at:
        raise Conflict(f"Certificate {old} was withdrawn; record the new certificate under its own number.")
    new = paper.row(by)
    new.version, new.replaces, new.replacement_reason, new.file = old.version + 1, old, reason.strip(), old.file
    new.file_name = old.file_name
    faults = _faults(by, new, paper)
    if not new.replacement_reason:
        faults.append(Fault("Say what was wrong and why it is right now.", "reason"))
    if faults:
        raise Refused(faults)
    _store(by, new, paper, already=already)
    journal.record(
        "certificate.corrected", new, by=by, before=snapshot(old), after=_as_journalled(new, paper),
        reason=new.replacement_reason,
    )  # fmt: skip
    because = f"Certificate {old} was corrected: {new.replacement_reason}"
    _tell(by, {old.pk, new.pk}, since=min(old.issued, new.issued), because=because, told=told)
    return new


@transaction.atomic
def withdraw_certificate(
    by: Person, *, certificate: Certificate, reason: str, at: datetime | None = None, told: set[UUID] | None = None
) -> Certificate:
    """Withdraw a certificate: nothing may rely on it any more, whenever it was used.

    `told` is given the ids of the people who were written to.
    """
    require(by, Role.QUALITY_MANAGER, to="withdraw certificates")
    in_sight(by, certificate)
    reason = reason.strip()
    if not reason:
        raise Refused("Say why it is withdrawn; everyone who relied on it reads this.", field="reason")
    changed = Certificate.objects.filter(pk=certificate.pk, withdrawn_at=None).update(
        withdrawn_at=at or timezone.now(), withdrawn_by=by, withdrawal_reason=reason
    )
    certificate.refresh_from_db()
    if not changed:
        raise Conflict(f"Certificate {certificate} was already withdrawn: {certificate.withdrawal_reason}")
    journal.record("certificate.withdrawn", certificate, by=by, reason=reason)
    because = f"Certificate {certificate} was withdrawn: {reason}"
    _tell(by, {certificate.pk}, since=certificate.issued, because=because, told=told)
    return certificate


@transaction.atomic
def reinstate_certificate(
    by: Person, *, certificate: Certificate, reason: str, told: set[UUID] | None = None
) -> Certificate:
    """Take a withdrawal back, as a step of its own; the journal keeps both.

    `told` is given the ids of the people who were written to.
    """
    require(by, Role.QUALITY_MANAGER, to="reinstate certificates")
    in_sight(by, certificate)
    reason = reason.strip()
    if not reason:
        raise Refused("Say why it can be relied on again.", field="reason")
    certificate = Certificate.objects.select_for_update().get(pk=certificate.pk)
    if certificate.withdrawn_at is None:
        raise Conflict(f"Certificate {certificate} is not withdrawn.")
    before = {"withdrawn_at": certificate.withdrawn_at, "reason": certificate.withdrawal_reason}
    certificate.withdrawn_at = certificate.withdrawn_by = None
    certificate.withdrawal_reason = ""
    certificate.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    journal.record("certificate.reinstated", certificate, by=by, before=before, reason=reason)
    because = f"Certificate {certificate} was reinstated: {reason}"
    _tell(by, {certificate.pk}, since=certificate.issued, because=because, told=told)
    return certificate


def _faults(by: Person, certificate: Certificate, paper: Paper) -> list[Fault]:
    faults = _date_faults(certificate)
    for field, words in (
        ("number", "Give the number printed on the certificate."),
        ("laboratory", "Name the laboratory that issued it."),
        ("traceable_to", "Name the national institute or the standard it is traceable to."),
    ):
        if not getattr(certificate, field):
            faults.append(Fault(words, field))
    if certificate.coverage_factor < 1:
        faults.append(Fault("The coverage factor is at least 1; certificates mostly state k = 2.", "coverage_factor"))
    if certificate.parent:
        in_sight(by, certificate.parent)
        if certificate.parent.withdrawn_at:
            faults.append(Fault(f"Certificate {certificate.parent} was withdrawn; name another.", "parent"))
        elif certificate.parent.issued > certificate.issued:
            faults.append(Fault(f"Certificate {certificate.parent} was issued later than this one.", "parent"))
    told = {fault.field for fault in faults}
    faults += [fault for fault in row_faults(certificate) if fault.field not in told]
    in_sight(by, *paper.gauges, *(value.standard for value in paper.values))
    if len(set(paper.gauges)) < len(paper.gauges):
        faults.append(Fault("Name each gauge once.", "gauges"))
    seen: set[UUID] = set()
    for row, value in enumerate(paper.values, start=1):
        faults += value_faults(value, row)
        if value.standard.pk in seen:
            faults.append(Fault(f"{value.standard} stands in an earlier row; give one value each.", "standard", row))
        seen.add(value.standard.pk)
    return faults + (file_faults(paper.file) if paper.file else [])


def _date_faults(certificate: Certificate) -> list[Fault]:
    faults = []
    if certificate.issued > timezone.now().date():
        faults.append(Fault(f"{certificate.issued} lies in the future; give the date printed on it.", "issued"))
    if certificate.issued.year < 1980:
        faults.append(Fault(f"{certificate.issued} is too long ago; check the year.", "issued"))
    if certificate.expires <= certificate.issued:
        faults.append(Fault("The expiry date must be after the issue date.", "expires"))
    elif certificate.expires.year > certificate.issued.year + 30:
        faults.append(Fault(f"{certificate.expires} is too far off; check the year.", "expires"))
    return faults


def value_faults(value: StandardValue, row: int | None = None) -> list[Fault]:
    """What cannot be right in one certified value."""
    if value.standard.kind == ReferenceStandard.Kind.INSTRUMENT:
        given = (value.value_nm, value.value, value.expanded_uncertainty_nm, value.expanded_uncertainty)
        words = f"{value.standard} is an instrument: its certificate covers it, and states no value of its own here."
        return [Fault(words, "value", row)] if any(each is not None for each in given) else []
    if value.standard.kind == ReferenceStandard.Kind.SOLUTION:
        return _solution_faults(value, row)
    if value.value_nm is None or value.expanded_uncertainty_nm is None:
        return [Fault("Give its certified thickness and the uncertainty of that.", "value", row)]
    return _thickness_faults(value.standard, value.value_nm, value.expanded_uncertainty_nm, row)


def _solution_faults(value: StandardValue, row: int | None) -> list[Fault]:
    if value.value is None or value.expanded_uncertainty is None:
        return [
            Fault(f"Give its certified conductivity and the uncertainty of that, in {SOLUTION_UNIT}.", "value", row)
        ]
    faults, nominal = [], value.standard.nominal or Decimal(0)
    if abs(value.value - nominal) * 100 > nominal * FAR_FROM_NOMINAL_PCT:
        words = f"{value.value:f} {SOLUTION_UNIT} is far from the {value.standard.sold_as} {value.standard} is sold as."
        faults.append(Fault(f"{words[:-1]}; check value and row.", "value", row))
    if not 0 < value.expanded_uncertainty <= nominal / 2:
        faults.append(Fault("Give the expanded uncertainty printed with the value, more than 0.", "uncertainty", row))
    return faults


def _thickness_faults(standard: ReferenceStandard, value_nm: int, uncertainty_nm: int, row: int | None) -> list[Fault]:
    faults, nominal, unit = [], standard.nominal_nm or 0, Unit.UM
    allowed = max(nominal * FAR_FROM_NOMINAL_PCT // 100, FAR_FROM_NOMINAL_NM)
    if abs(value_nm - nominal) > allowed:
        sold_as = f"the {in_unit(nominal, unit)} µm {standard} is sold as"
        words = f"{in_unit(value_nm, unit)} µm is far from {sold_as}; check value and row."
        faults.append(Fault(words, "value", row))
    if uncertainty_nm < 0 or (uncertainty_nm == 0 and nominal):
        faults.append(Fault("Give the expanded uncertainty printed with the value, more than 0.", "uncertainty", row))
    elif uncertainty_nm > max(nominal // 2, 10_000):
        faults.append(Fault("An expanded uncertainty this large cannot be right; check it.", "uncertainty", row))
    return faults


def _store(by: Person, certificate: Certificate, paper: Paper, *, already: str) -> None:
    if paper.file:
        media_type = media_type_of(paper.file.content)
        certificate.file = vault.store(paper.file.content, name=paper.file.name, media_type=media_type, by=by)
        certificate.file_name = vault.name_of(paper.file.name)
    save_new(certificate, already=already, field="number")
    CertifiedValue.objects.bulk_create(
        [
            *(CertifiedValue(certificate=certificate, gauge=gauge) for gauge in paper.gauges),
            *(
                CertifiedValue(
                    certificate=certificate,
                    standard=value.standard,
                    value_nm=value.value_nm,
                    expanded_uncertainty_nm=value.expanded_uncertainty_nm,
                    value=value.value,
                    expanded_uncertainty=value.expanded_uncertainty,
                )
                for value in paper.values
            ),
        ]
    )


def _as_journalled(certificate: Certificate, paper: Paper) -> dict[str, object]:
    return {
        **snapshot(certificate),
        "gauges": [gauge.identity for gauge in paper.gauges],
        "values": [
            {
                "standard": v.standard.identity,
                "value_nm": v.value_nm,
                "expanded_uncertainty_nm": v.expanded_uncertainty_nm,
                **({} if v.value is None else {"value": v.value, "expanded_uncertainty": v.expanded_uncertainty}),
            }
            for v in paper.values
        ],
    }


def _tell(by: Person, certificates: set[UUID], *, since: date, because: str, told: set[UUID] | None = None) -> None:
    """Say which gauges' records may stand differently now."""
    gauges = gauges_resting_on(certificates)
    if gauges:
        start = datetime.combine(since, time(0), tzinfo=UTC)
        written_to = tell_of_evidence(Certificate, by=by, gauges=sorted(gauges), since=start, because=because)
        if told is not None:
            told |= written_to
