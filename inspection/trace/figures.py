"""The figures of a thing as lines of text for the readable part of a bundle; read from rows that are fetched whole."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from inspection.fieldwork.kind import RecordKind
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.fieldwork.verdicts_shown import told
from inspection.foundation.units import Unit, in_unit
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Certificate, Verification
from inspection.nonconformance.models import Nonconformance, RepairedPart
from inspection.standards.units import excluded
from inspection.trace.sight import words_withheld
from inspection.works.models import Lot, Mix, PaintBatch

# A record of more readings than this tells them in sum; every single one stands in its JSON.
MOST_READINGS = 300
MOST_PLACES = 12
RESULTS = {True: "pass", False: "fail", None: "not decided yet"}


def certificate(row: Certificate) -> list[str]:
    k = f"{row.coverage_factor.normalize():f}"
    return [
        f"{value.standard}: {in_unit(value.value_nm, Unit.UM)} µm, "
        f"expanded uncertainty {in_unit(value.expanded_uncertainty_nm or 0, Unit.UM, 2)} µm (k = {k})"
        if value.standard and value.value_nm is not None
        else f"{value.standard}: {f'{value.told} (k = {k})' if value.told else 'calibrated'}"
        if value.standard
        else f"Gauge {value.gauge}"
        for value in row.values.all()
    ]


def verification(row: Verification) -> list[str]:
    answers = row.result.get("points", ())
    lines = []
    for point, found in zip(row.points.all(), answers, strict=False):
        names = " + ".join(str(use.certified_value.standard) for use in point.uses.all())
        if point.readings is not None:
            lines.append(_compared(names, row.inputs["read_in"], point.readings, found))
            continue
        shown = " ".join(in_unit(nm, Unit.UM) for nm in point.shown_nm)
        lines.append(
            f"{names}, certified {in_unit(point.thickness_nm, Unit.UM)} µm: readings {shown}; error "
            f"{found['error_um']:+.2f} µm, tolerance ±{found['tolerance_um']:.2f} µm: {found['verdict']}"
        )
    if row.replaces:
        old = [" ".join(point.readings_told) for point in row.replaces.points.all()]
        was = f"then {row.replaces.verdict}, readings {'; '.join(old)}"
        why = "" if words_withheld(row) else f" {row.replacement_reason}"
        lines.append(f"Corrects an earlier version ({was}):{why} By {row.corrector_name}")
    newer = getattr(row, "replaced_by", None)
    if newer:
        lines.append("Replaced by a correction" + ("" if words_withheld(row) else f": {newer.replacement_reason}"))
    return [*lines, f"Tolerance: {row.tolerance_in_words}"]


def _compared(name: str, unit: str, readings: Sequence[float], found: dict[str, Any]) -> str:
    shown = " ".join(f"{reading:g}" for reading in readings)
    return (
        f"{name}, {found['reference']:g} {unit}: readings {shown}; error {found['error']:+.4g} {unit}, "
        f"tolerance ±{found['tolerance']:.4g} {unit}: {found['verdict']}"
    )


def record(row: Record, kind: RecordKind) -> list[str]:
    """What was found in a line, and what the record is made of, a line each."""
    parts = kind.parts(row)
    shown = [f"{parts.heads[0]} {': '.join(cells)}" for cells in parts.rows] if parts else []
    return [kind.sentence(row), *([f"{parts.caption}:"] if parts else []), *shown]


def thickness(row: ThicknessRecord) -> list[str]:
    """The conditions, each with how it came out; the readings, spot by spot where they are few enough to read."""
    unit = Unit(row.unit)
    conditions: dict[tuple[str, Any], list[dict[str, Any]]] = {}
    for check in row.result.get("checks", ()):
        conditions.setdefault((check["sentence"], check["limit"]), []).append(check)
    lines = [_condition(checks, unit) for checks in conditions.values()]
    readings = row.readings.all()
    subtracted = f", {in_unit(row.correction_nm, unit)} {unit.label} to be subtracted" if row.correction_nm else ""
    if len(readings) > MOST_READINGS:
        return [*lines, _in_sum(row, unit)]
    spots: dict[int, list[str]] = {}
    for reading in readings:
        void = " (void)" if reading.void_reason else ""
        spots.setdefault(reading.spot, []).append(f"{in_unit(reading.value_nm, unit)}{void}")
    shown = "; ".join(" ".join(values) for values in spots.values())
    return [*lines, f"Readings by spot, in {unit.label}{subtracted}: {shown}"]


def _condition(checks: Sequence[dict[str, Any]], unit: Unit) -> str:
    """One condition, and where it was not met if it was judged in many places."""
    first = checks[0]
    limit, observed = told(first["limit"], first["observed"], first["unit"], unit)
    if len(checks) == 1:
        return f"{first['sentence']} Limit {limit}{excluded(first)}, observed {observed}: {RESULTS[first['passed']]}"
    missed = [check for check in checks if check["passed"] is False]
    undecided = sum(check["passed"] is None for check in checks)
    if not missed and undecided:
        return (
            f"{first['sentence']} Limit {limit}: not decided yet in {undecided} of {len(checks)} places, met in the "
            "others, each in its JSON."
        )
    if not missed:
        return f"{first['sentence']} Limit {limit}: met in all {len(checks)} places, each in its JSON."
    places = ", ".join(
        f"{check.get('where') or 'one'} ({told(check['limit'], check['observed'], check['unit'], unit)[1]})"
        for check in missed[:MOST_PLACES]
    )
    more = f" and {len(missed) - MOST_PLACES} more" if len(missed) > MOST_PLACES else ""
    met = len(checks) - len(missed) - undecided
    return (
        f"{first['sentence']} Limit {limit}: fail, met in {met} of {len(checks)} places, each in its JSON. Not met in "
        f"{places}{more}."
    )


def _in_sum(row: ThicknessRecord, unit: Unit) -> str:
    mean, lowest, highest = (
        "–" if nm is None else in_unit(nm, unit) for nm in (row.mean_nm, row.lowest_nm, row.highest_nm)
    )
    judged = ", the correction subtracted" if row.correction_nm else ""
    return (
        f"{row.reading_count} readings, in {unit.label}{judged}: mean {mean}, lowest {lowest}, highest {highest}. They "
        "are too many to be read here; every single one stands in its JSON."
    )


def holdpoint(row: HoldPoint) -> list[str]:
    return [
        f"{decision.get_outcome_display()} {decision.at:%Y-%m-%d %H:%M} UTC by {decision.signed}"
        + (f": {decision.reason}" if decision.reason else "")
        for decision in row.decisions.all()
    ]


def nonconformance(row: Nonconformance) -> list[str]:
    return [
        f"{entry.get_kind_display()} {entry.at:%Y-%m-%d %H:%M} UTC by {entry.signed}: {entry.text}"
        for entry in row.dispositions.all()
    ] + [_repaired(part) for part in row.repaired_parts.all()]


def _repaired(row: RepairedPart) -> str:
    """The part, and what the rest of the area is without it."""
    undone = f"; undone {row.undone_at:%Y-%m-%d %H:%M} UTC: {row.undone_why}" if row.undone_at else ""
    rests = [f"{rest.get_verdict_display().lower()} ({rest.digest[:12]})" for rest in row.remainders.all()]
    left_out = ", ".join(map(str, row.left_out))
    told = f"Repaired part {row.part.label}, {row.area_m2} m², made {row.made_at:%Y-%m-%d %H:%M} UTC"
    return f"{told}; the rest of the area without spots {left_out}: {', '.join(rests) or 'not judged'}{undone}"


def batch(row: PaintBatch) -> list[str]:
    told = [f"{row.amount} received {row.received_at:%Y-%m-%d %H:%M} UTC; expires {row.expires_on or 'not stated'}"]
    for step in row.steps.all():
        until = f" until {step.expires_on:%Y-%m-%d} by {step.reference}" if step.expires_on else f": {step.why}"
        back = ", taken back" if step.withdrawn_at else ""
        told.append(f"{step.at:%Y-%m-%d %H:%M} UTC {step.get_what_display()}{until}{back}")
    return told


def mix(row: Mix) -> list[str]:
    told = [str(part) for part in row.parts.all() if part.taken_out_at is None]
    if row.ratio_mixed:
        told.append(f"ratio {row.ratio_mixed} {row.get_ratio_by_display()}, asked {row.ratio_wanted or 'not stated'}")
    if row.usable_until:
        told.append(f"usable until {row.usable_until:%Y-%m-%d %H:%M} UTC")
    return told + [f"gone over: {each}" for each in row.gone_over]


def lot(row: Lot) -> list[str]:
    ended = f" to {row.ended_at:%Y-%m-%d %H:%M}" if row.ended_at else ", not ended"
    took = []
    for each in row.mixes.all():
        litres = f", {each.drawn_l.normalize():f} l drawn" if each.drawn_l is not None else ""
        back = f", {each.returned_l.normalize():f} l returned" if each.returned_l is not None else ""
        took.append(f"took of {each.mix}{litres}{back}")
    return [
        f"{row.of} begun {row.begun_at:%Y-%m-%d %H:%M}{ended} UTC by {row.crew}",
        *(str(place) for place in row.places.all()),
        *took,
        *(f"gone over: {each}" for each in row.gone_over),
    ]
