"""Rows a standing follows from, made straight from the models and told to the listeners as an action would."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts.models import Person
from inspection.fieldwork.models import Reading, ThicknessRecord
from inspection.fieldwork.storing import store
from inspection.foundation.ids import new_id
from inspection.instruments.models import (
    Certificate,
    CertifiedValue,
    Gauge,
    GaugeIncident,
    ReferenceStandard,
    StandardUse,
    Verification,
    VerificationPoint,
)
from inspection.instruments.signals import evidence_changed
from inspection.standards.registry import calculate
from tests.cast import DAY, Cast, Site
from tests.past_triggers import rewrite

START_OF_DAY = datetime.combine(DAY, datetime.min.time(), tzinfo=UTC)


def clock(text: str) -> datetime:
    """ "07:15" on the day of the cast."""
    hours, minutes = text.split(":")
    return START_OF_DAY + timedelta(hours=int(hours), minutes=int(minutes))


def told(**what: Any) -> None:
    with transaction.atomic():
        evidence_changed.send(sender=told, by=None, because="a test", **what)


def verify(
    cast: Cast,
    at: str | datetime,
    *,
    gauge: Gauge | None = None,
    off_by_nm: int = 0,
    shims: Sequence[int] = (50, 250),
    tell: bool = True,
    site: Site | None = None,
    purpose: str = Verification.Purpose.OPENING,
    adjustment: str = Verification.Adjustment.NONE,
    by: Person | None = None,
    **more: Any,
) -> Verification:
    """A check of the gauge on shims, whose readings are off by so much; the rule itself judges them."""
    gauge = gauge or cast.gauge
    taken_at = clock(at) if isinstance(at, str) else at
    values = [
        CertifiedValue.objects.filter(standard=cast.shims[nominal]).earliest("certificate__recorded_at", "pk")
        for nominal in shims
    ]
    readings = [[(value.value_nm or 0) + off_by_nm + wobble for wobble in (-100, 0, 100)] for value in values]
    inputs = {
        "points": [
            {
                "certified_um": (value.value_nm or 0) / 1000,
                "expanded_uncertainty_um": (value.expanded_uncertainty_nm or 0) / 1000,
                "coverage_factor": 2,
                "readings_um": [reading / 1000 for reading in row],
            }
            for value, row in zip(values, readings, strict=True)
        ],
        "accuracy_pct": float(Decimal(str(gauge.accuracy_pct))),
        "accuracy_um": (gauge.accuracy_nm or 0) / 1000,
    }
    result = calculate("verify-gauge", inputs)
    verification = Verification.objects.create(
        id=new_id(), gauge=gauge, project=(site or cast.site).project, purpose=purpose,
        adjustment=adjustment, taken_at=taken_at,
        taken_by=by or cast.ines, inputs=inputs, result=result, verdict=result["verdict"],
        verified_from_nm=round(result.get("verified_from_um", 0) * 1000),
        verified_to_nm=round(result.get("verified_to_um", 0) * 1000), digest="0" * 64, **more,
    )  # fmt: skip
    for order, (value, row) in enumerate(zip(values, readings, strict=True), start=1):
        point = VerificationPoint.objects.create(
            verification=verification, order=order, certified_nm=value.value_nm or 0,
            expanded_uncertainty_nm=value.expanded_uncertainty_nm or 0, readings_nm=row,
        )  # fmt: skip
        StandardUse.objects.create(point=point, certified_value=value)
    if tell:
        told(gauges=[gauge.pk], since=taken_at)
    return verification


@transaction.atomic
def measure(
    cast: Cast,
    first: str,
    last: str,
    *,
    values_um: Sequence[float] = (90, 100, 110),
    site: Site | None = None,
    gauge: Gauge | None = None,
    coat: int = 0,
    verdict: str = "pass",
    correction_nm: int = 0,
    replaces: ThicknessRecord | None = None,
    at: datetime | None = None,
    tell: bool = True,
    area: Any = None,
    pk: UUID | None = None,
    by: Person | None = None,
) -> ThicknessRecord:
    """A thickness record with these readings, between two times of the day (or from `at` on)."""
    site = site or cast.site
    shown = [round(value * 1000) for value in values_um]
    kept = [value - correction_nm for value in shown]
    began, ended = (clock(first), clock(last)) if at is None else (at, at + timedelta(minutes=20))
    record = ThicknessRecord(
        id=pk or new_id(), project=site.project, area=area or site.area, coat=site.coats[coat],
        taken_by=by or cast.ines, taken_at=began, ended_at=ended,
        source="page", digest="0" * 64, gauge=gauge or cast.gauge,
        profile_way="correction" if correction_nm else "adjusted",
        correction_nm=correction_nm, unit="um", calculation=site.coats[coat].rule, inputs={},
        result={"rule": site.coats[coat].rule_name, "checks": []}, verdict=verdict, readings_wanted=len(shown),
        reading_count=len(shown), mean_nm=sum(kept) // len(kept), lowest_nm=min(kept), highest_nm=max(kept),
        replaces=replaces, replacement_reason="wrong area" if replaces else "",
    )  # fmt: skip
    store(record)
    Reading.objects.bulk_create(
        Reading(record=record, spot=spot, order=1, value_nm=value) for spot, value in enumerate(shown, start=1)
    )
    if tell:
        told(records=[record.pk])
    return record


def fall(cast: Cast, at: str, what: str = "dropped on the deck") -> GaugeIncident:
    incident = GaugeIncident.objects.create(gauge=cast.gauge, at=clock(at), what=what, reported_by=cast.ines)
    told(gauges=[cast.gauge.pk], since=incident.at)
    return incident


def withdraw(cast: Cast, certificate: Certificate, reason: str = "the laboratory's oven was out") -> None:
    rewrite(
        Certificate.objects.filter(pk=certificate.pk),
        withdrawn_at=timezone.now(),
        withdrawn_by=cast.quinn,
        withdrawal_reason=reason,
    )
    told(gauges=[cast.gauge.pk])


def correct(cast: Cast, certificate: Certificate, *, more_nm: int = 0, **dates: date) -> Certificate:
    """A new version of the certificate, each value larger by so much; its readings on shims then look smaller."""
    version = Certificate.objects.create(
        number=certificate.number, version=certificate.version + 1, replaces=certificate,
        replacement_reason="a slip of the laboratory", laboratory=certificate.laboratory,
        issued=dates.get("issued", certificate.issued), expires=dates.get("expires", certificate.expires),
        traceable_to=certificate.traceable_to, parent=certificate.parent, recorded_by=cast.quinn,
    )  # fmt: skip
    for value in certificate.values.all():
        CertifiedValue.objects.create(
            certificate=version, gauge=value.gauge, standard=value.standard,
            value_nm=None if value.value_nm is None else value.value_nm + more_nm,
            expanded_uncertainty_nm=value.expanded_uncertainty_nm,
        )  # fmt: skip
    told(gauges=[cast.gauge.pk])
    return version


def new_gauge_certificate(cast: Cast, number: str, issued: date, expires: date) -> Certificate:
    certificate = Certificate.objects.create(
        number=number, laboratory="Example Laboratory", issued=issued, expires=expires, recorded_by=cast.quinn,
        traceable_to="National institute",
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=certificate, gauge=cast.gauge)
    told(gauges=[cast.gauge.pk])
    return certificate


def shim(cast: Cast, nominal: int) -> ReferenceStandard:
    return cast.shims[nominal]
