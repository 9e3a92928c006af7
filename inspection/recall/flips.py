"""Verdicts that a corrected shim value would turn round: the readings taken again with the changed bias.

A gauge that was adjusted on a shim believed to be 125 µm, and really 127 µm, has shown everything near it 2 µm too thin
since. Between the shims of the check the difference runs straight from one to the next; outside them it stays that of
the nearest. This model is our own (common practice, no source); it moves no stored verdict, and says what to measure
again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from uuid import UUID

from inspection.fieldwork.judging import ReadingSent, judge
from inspection.fieldwork.models import Reading, ThicknessRecord
from inspection.foundation.refusals import Refused
from inspection.instruments.models import StandardUse, Verification
from inspection.projects.steps import lay_films
from inspection.standing.checks import Assumed
from inspection.standing.papers import Papers

ADJUSTED_ON_SHIMS = (Verification.Adjustment.ONE_POINT, Verification.Adjustment.TWO_POINT)
RECORDS_AT_ONCE = 200
# By thickness of the point as certified, how much more it really was; ascending.
Bias = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Flip:
    record: ThicknessRecord
    was: str
    would_be: str


def flips(assumed: Assumed) -> list[Flip]:
    """Records whose verdict would be another one, had the values been right when the gauge was adjusted on them."""
    biases = _biases(assumed)
    records = ThicknessRecord.objects.filter(standing__opening__in=list(biases), replaced_by=None)
    found: list[Flip] = []
    batch: list[ThicknessRecord] = []
    rows = records.select_related("coat__system", "area", "project", "standing").prefetch_related("coat__system__coats")
    for record in rows.order_by("pk").iterator(RECORDS_AT_ONCE):
        batch.append(record)
        if len(batch) == RECORDS_AT_ONCE:
            found += _turned(batch, biases)
            batch = []
    return found + _turned(batch, biases)


def _biases(assumed: Assumed) -> dict[UUID, Bias]:
    """By check that the gauge was adjusted in, what each of its points was off by."""
    standards = {standard for _, standard in assumed}
    touched = Verification.objects.filter(
        adjustment__in=ADJUSTED_ON_SHIMS, as_left=True, points__uses__certified_value__standard__in=standards
    ).values("pk")
    uses = list(
        StandardUse.objects.filter(point__verification__in=touched).values_list(
            "point__verification", "point__order", "certified_value__certificate", "certified_value__standard",
            "certified_value__value_nm",
        )
    )  # fmt: skip
    papers = Papers({use[2] for use in uses})
    points: dict[tuple[UUID, int], tuple[int, int]] = defaultdict(lambda: (0, 0))
    for verification, order, certificate, standard, relied_on in uses:
        value = relied_on or 0
        correction = assumed.get((papers.current(certificate).pk, standard)) if standard else None
        more = (correction.value_nm or value) - value if correction else 0
        thickness, off = points[verification, order]
        points[verification, order] = (thickness + value, off + more)
    found: dict[UUID, list[tuple[int, int]]] = defaultdict(list)
    for (verification, _), point in points.items():
        found[verification].append(point)
    return {pk: tuple(sorted(pairs)) for pk, pairs in found.items() if any(off for _, off in pairs)}


def _turned(records: Sequence[ThicknessRecord], biases: Mapping[UUID, Bias]) -> list[Flip]:
    readings: dict[UUID, list[ReadingSent]] = defaultdict(list)
    rows = Reading.objects.filter(record__in=[record.pk for record in records]).order_by("record", "spot", "order")
    columns = ("record", "spot", "order", "value_nm", "taken_at", "void_reason")
    for record_id, spot, order, value_nm, taken_at, void_reason in rows.values_list(*columns):
        readings[record_id].append(ReadingSent(spot, order, value_nm, taken_at, void_reason))
    lay_films((record.area_id, record.coat) for record in records)
    found = []
    for record in records:
        opening = record.standing.opening_id
        if opening is None:
            continue
        moved = taken_again(readings[record.pk], biases[opening])
        try:
            would_be = judge(record.coat, record.area, moved, record.correction_nm).verdict
        except Refused:
            # Thinner now than what is subtracted for the profile: nothing of it can be relied on.
            would_be = ThicknessRecord.Verdict.FAIL
        if would_be != record.verdict and would_be != _as_recorded(record, readings[record.pk]):
            found.append(Flip(record, record.verdict, would_be))
    return found


def _as_recorded(record: ThicknessRecord, readings: Sequence[ReadingSent]) -> str:
    """What the rule says today of the readings as they are: a rule that became wiser is no matter of the shims."""
    return judge(record.coat, record.area, readings, record.correction_nm).verdict


def taken_again(readings: Iterable[ReadingSent], bias: Bias) -> list[ReadingSent]:
    return [
        reading._replace(value_nm=max(0, reading.value_nm + off_at(reading.value_nm, bias))) for reading in readings
    ]


def off_at(nm: int, bias: Bias) -> int:
    """How much more the steel really carried than the gauge showed, to the nearest nanometre."""
    if nm <= bias[0][0]:
        return bias[0][1]
    for (low, off_low), (high, off_high) in pairwise(bias):
        if nm <= high:
            return off_low if high == low else off_low + round((off_high - off_low) * (nm - low) / (high - low))
    return bias[-1][1]
