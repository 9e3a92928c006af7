"""How probable it is that the area of a thickness record conforms, beside its verdict and never in its place.

What goes into it: the spots of the record, the checks of its gauge that its standing rests on, the certificates of the
standards they were made with, and the correction for the profile.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Min

from inspection.fieldwork.judging import ReadingSent, spots_of
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.units import um
from inspection.instruments.gauge_errors import AFTER_ADJUSTING
from inspection.instruments.models import Verification, VerificationPoint
from inspection.projects.models import Coat
from inspection.standards.area_conformance import (
    GaugeCheck,
    Instrument,
    Limits,
    Part,
    Told,
    budget,
    film_of,
    instrument,
    notes_of,
    tell,
)
from inspection.standards.pa2_spots import LEVELS
from inspection.standards.thickness_imo import SHARE_AT_NOMINAL_PCT
from inspection.standards.thickness_iso19840 import SHARE_BELOW_PCT

FEWEST_SPOTS = 2
TABLE_HALF_WIDTH_UM = 7.5
"""Half the step between the values of ISO 19840 for two grades of profile; common practice, no source."""
USUAL_K = 2
NOTHING_OF_CORRECTION = "The correction was typed, and nothing tells how sure it is: none of that is counted."
BY_ACCURACY = "There is no check of the gauge to go by: its stated accuracy is taken instead."
NOT_RELIABLE = "The record is in question, and so is this: {why}"


@dataclass(frozen=True)
class Conformance:
    """What is told beside the verdict. Thicknesses in µm, probabilities and shares from 0 to 1."""

    told: Told
    limits: Limits
    gauge: Instrument
    checks: int
    notes: tuple[str, ...]

    @property
    def parts(self) -> tuple[Part, ...]:
        return budget(self.told, self.gauge)


def conformance_of(record: ThicknessRecord, readings: Sequence[ReadingSent]) -> Conformance | None:
    """What can be told of the record; None with fewer than two spots, or where its rule names no limit for them.

    One read. The checks are those that the standing rests on, whoever asks: a record says the same to everybody.
    """
    limits = limits_of(record.calculation, record.inputs)
    means = [float(Fraction(sum(spot.shown_nm), 1000 * len(spot.shown_nm)))
             for spot in spots_of(readings, record.correction_nm) if spot.shown_nm]  # fmt: skip
    if limits is None or len(means) < FEWEST_SPOTS:
        return None
    checks = checks_of(record)
    gauge = instrument(
        checks,
        accuracy_um=_accuracy(record, sum(means) / len(means)),
        half_width_um=TABLE_HALF_WIDTH_UM if record.profile_way == ThicknessRecord.ProfileWay.CORRECTION else 0,
        correction_readings=[um(nm) for nm in _base_metal(record)],
    )
    told = tell(film_of(means, gauge, correction_um=um(record.correction_nm)), limits)
    return Conformance(told, limits, gauge, len(checks), (*_notes(record, checks), *notes_of(told)))


def limits_of(calculation: str, inputs: Mapping[str, Any]) -> Limits | None:
    """What the rule holds a mean to, and the thickness that a spot or a share of the readings is held to; µm.

    SSPC-PA 2: the mean of all spots against minimum and maximum, and how much lies below what a spot must reach.
    ISO 19840: the mean against nominal, 20 % below it. IMO: 10 % below nominal. None where nothing is limited.
    """
    given = {name: float(value) for name, value in inputs.items() if name.endswith("_um") and _is_number(value)}
    nominal = given.get("nominal_um")
    found = Limits()
    if calculation == Coat.Rule.PA2 and "minimum_um" in given:
        level, minimum = LEVELS[inputs.get("level") or 3], given["minimum_um"]
        upper = given.get("maximum_um") if level.area_has_maximum else None
        found = Limits(mean_lower=minimum, mean_upper=upper, share_limit=minimum * level.spot_minimum_pct / 100)
    elif calculation == Coat.Rule.ISO_19840:
        found = Limits(mean_lower=nominal, share_limit=nominal, share=SHARE_BELOW_PCT / 100)
    elif calculation == Coat.Rule.IMO_PSPC:
        found = Limits(share_limit=nominal, share=1 - SHARE_AT_NOMINAL_PCT / 100)
    elif calculation == Coat.Rule.DECLARED:
        share = float(inputs.get("share_below_pct") or 0) / 100
        found = Limits(
            mean_lower=given.get("minimum_mean_um"), mean_upper=given.get("maximum_mean_um"),
            share_limit=nominal if share else given.get("minimum_each_um"), share=share or None,
        )  # fmt: skip
    return None if found == Limits() or (found.share is not None and found.share_limit is None) else found


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def checks_of(record: ThicknessRecord) -> list[GaugeCheck]:
    """The gauge on each standard before and after the work; what was found only after adjusting it tells nothing."""
    opening, closing = _brackets(record)
    made = Verification.objects.filter(pk__in=[pk for pk in (opening, closing) if pk])
    told = made.exclude(AFTER_ADJUSTING, pk=closing) if closing else made
    rows = VerificationPoint.objects.filter(verification__in=told).order_by("verification", "order")
    rows = rows.annotate(k=Min("uses__certified_value__certificate__coverage_factor"))
    return [
        GaugeCheck(
            certified_um=Fraction(point.thickness_nm, 1000),
            expanded_uncertainty_um=Fraction(point.expanded_uncertainty_nm or 0, 1000),
            coverage_factor=Fraction(point.k or USUAL_K),
            readings_um=tuple(Fraction(nm, 1000) for nm in point.shown_nm),
        )
        for point in rows
    ]


def _brackets(record: ThicknessRecord) -> tuple[UUID | None, UUID | None]:
    standing = _standing(record)
    return (standing.opening_id, standing.closing_id) if standing else (None, None)


def _standing(record: ThicknessRecord) -> Any:
    try:
        return record.standing  # type: ignore[attr-defined]  # the row of a higher room that points here
    except ObjectDoesNotExist:
        return None


def _accuracy(record: ThicknessRecord, mean_um: float) -> float:
    """± of the gauge at this thickness, in µm, as its maker states it."""
    gauge = record.gauge
    return float(gauge.accuracy_pct or 0) / 100 * mean_um + um(gauge.accuracy_nm or 0)


def _base_metal(record: ThicknessRecord) -> list[int]:
    by_readings = record.profile_way == ThicknessRecord.ProfileWay.BASE_METAL
    return record.profile_record.base_metal_nm if by_readings and record.profile_record else []


def _notes(record: ThicknessRecord, checks: Sequence[GaugeCheck]) -> list[str]:
    found = [] if checks else [BY_ACCURACY]
    typed = record.profile_way == ThicknessRecord.ProfileWay.BASE_METAL and not record.profile_record_id
    if typed:
        found.append(NOTHING_OF_CORRECTION)
    standing = _standing(record)
    if standing and standing.state == "in_question" and standing.reasons:
        found.append(NOT_RELIABLE.format(why=standing.reasons[0]))
    return found
