"""Field records, checks and certificates: digests and verdicts computed again from rows, and against the journal."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Any
from uuid import UUID

from inspection.fieldwork.actions.thickness import thickness_digest
from inspection.fieldwork.judging import ReadingSent, judge_again
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.fieldwork.models import Reading, ThicknessRecord
from inspection.foundation.refusals import Refused
from inspection.instruments.actions.check_results import as_given, as_sent
from inspection.instruments.actions.verifications import check_digest
from inspection.instruments.models import Certificate, Verification
from inspection.instruments.site_checks import SITE_CHECKS
from inspection.projects.preconditions import snapshot
from inspection.standards import InputFault, calculate
from reports.verify.told import disagreements, told_of

FIXED = (
    "number", "version", "replaces_id", "laboratory", "issued", "expires", "traceable_to", "parent_id", "file_id",
    "recorded_by_id",
)  # fmt: skip


def differences() -> Iterator[str]:
    yield from _thicknesses()
    yield from _taken_by_form()
    yield from _checks()
    yield from _certificates()


def _thicknesses() -> Iterator[str]:
    rows = ThicknessRecord.objects.select_related("area", "coat").order_by("pk")
    readings = _Readings()
    for batch in told_of(rows, ("thickness.recorded", "thickness.corrected")):
        for record, entry in batch:
            what = f"thickness record {record.pk} ({record})"
            its = readings.of(record.pk)
            if thickness_digest(record, its) != record.digest:
                yield f"{what}: record and readings do not match their digest"
            yield from (f"{what}: {wrong}" for wrong in _judged_otherwise(record, its))
            stored = {"digest": record.digest, "verdict": record.verdict, "readings": record.reading_count}
            yield from disagreements(what, stored, entry)


class _Readings:
    """All readings as one stream, record by record in the order of the records' ids."""

    def __init__(self) -> None:
        rows = Reading.objects.order_by("record_id", "spot", "order").values_list(
            "record_id", "spot", "order", "value_nm", "taken_at", "void_reason"
        )
        self._groups = groupby(rows.iterator(chunk_size=5_000), key=itemgetter(0))
        self._ahead = next(self._groups, None)

    def of(self, record: UUID) -> list[ReadingSent]:
        """The record's; those of records before it, which were stored meanwhile, are passed over."""
        while self._ahead and self._ahead[0] < record:
            self._ahead = next(self._groups, None)
        if self._ahead is None or self._ahead[0] != record:
            return []
        its = [ReadingSent(*row[1:]) for row in self._ahead[1]]
        self._ahead = next(self._groups, None)
        return its


def _judged_otherwise(record: ThicknessRecord, readings: list[ReadingSent]) -> Iterator[str]:
    try:
        judged = judge_again(record, readings)
    except Refused as refusal:
        yield f"its readings cannot be judged: {refusal}"
        return
    if judged.verdict != record.verdict:
        yield f"its verdict is {record.verdict}, its readings give {judged.verdict}"
    kept = record.result.get("verdict")
    # Rules of earlier versions left it to the record to say that a passing sample was cut short.
    if kept != record.verdict and (kept, record.verdict) != ("pass", ThicknessRecord.Verdict.INCOMPLETE):
        yield f"its verdict is {record.verdict}, the answer kept with it says {kept}"
    if any(judged.inputs.get(name) != given for name, given in record.inputs.items()):
        yield "the readings it was judged by are not its readings"
    values = judged.values_nm
    found = (len(values), min(values), max(values), round(judged.mean_nm))
    if found != (record.reading_count, record.lowest_nm, record.highest_nm, record.mean_nm):
        yield "its count, lowest, highest or mean is not that of its readings"


def _taken_by_form() -> Iterator[str]:
    """Those that are taken in one go, whatever their kind."""
    for kind, _ in TAKEN_BY_FORM:
        rows: Any = kind.model._default_manager.select_related("area", "project").order_by("pk")
        for batch in told_of(rows, kind.verbs):
            for record, entry in batch:
                what = f"{kind.one} {record.pk} ({record})"
                if kind.digest(record) != record.digest:
                    yield f"{what}: what was read does not match its digest"
                verdict = kind.verdict(record)
                if verdict != record.verdict:
                    yield f"{what}: its verdict is {record.verdict}, what was read gives {verdict}"
                yield from disagreements(what, {"digest": record.digest, "verdict": record.verdict}, entry)


def _checks() -> Iterator[str]:
    rows = (
        Verification.objects.select_related("gauge")
        .order_by("pk")
        .prefetch_related("points__uses__certified_value__certificate", "points__uses__certified_value__standard")
    )
    for batch in told_of(rows, ("verification.recorded", "verification.corrected")):
        for check, entry in batch:
            what = f"check {check.pk} ({check})"
            points = sorted(check.points.all(), key=lambda point: point.order)
            values = [[use.certified_value for use in sorted(point.uses.all(), key=_by_id)] for point in points]
            sent = [as_sent(point, stack) for point, stack in zip(points, values, strict=True)]
            if check_digest(check, sent) != check.digest:
                yield f"{what}: the check and its readings do not match their digest"
            given = [as_given(point, stack) for point, stack in zip(points, values, strict=True) if stack]
            if given != check.inputs["points"]:
                yield f"{what}: the certified values or readings it was judged by are not those that are stored"
            verdict = _verdict(SITE_CHECKS[check.gauge.kind].calculation, {**check.inputs, "points": given})
            if verdict != check.verdict:
                yield f"{what}: its verdict is {check.verdict}, its readings give {verdict}"
            yield from disagreements(what, {"digest": check.digest, "verdict": check.verdict}, entry)


def _stated(*values: Any) -> tuple[float, ...]:
    """What a certificate states of a standard, one way to write it; of a reference instrument nothing."""
    return tuple(-1.0 if value is None else float(value) for value in values)


def _by_id(row: Any) -> int:
    return int(row.pk)


def _verdict(calculation: str, inputs: dict[str, Any]) -> str:
    try:
        return str(calculate(calculation, inputs)["verdict"])
    except InputFault:
        return "none"


def _certificates() -> Iterator[str]:
    rows = Certificate.objects.order_by("pk").prefetch_related("values__standard")
    for batch in told_of(rows, ("certificate.recorded", "certificate.corrected")):
        for certificate, entry in batch:
            what = f"certificate {certificate}"
            row = snapshot(certificate)
            yield from disagreements(what, {name: row[name] for name in FIXED}, entry)
            if entry is None:
                continue
            stated = sorted(
                _stated(v["value_nm"], v["expanded_uncertainty_nm"], v.get("value"), v.get("expanded_uncertainty"))
                for v in (entry.after or {}).get("values", ())
            )
            values = certificate.values.all()
            if stated != sorted(
                _stated(v.value_nm, v.expanded_uncertainty_nm, v.value, v.expanded_uncertainty)
                for v in values
                if v.standard_id
            ):
                yield f"{what}: its certified values are not those of journal entry {entry.pk}"
