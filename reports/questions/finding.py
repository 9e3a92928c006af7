"""Looking through the readings of new records. One without its `ExaminedRecord` waits, after a fault too."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any
from uuid import UUID

import numpy as np
from django.db import transaction
from django.db.models import Q, QuerySet, Sum

from inspection.fieldwork.conformance import checks_of
from inspection.fieldwork.models import Reading, Record, ThicknessRecord
from inspection.standards.reading_questions import (
    Repeat,
    little_scatter,
    longest_repeat,
    prints_of,
    run_to_ask_of,
    uneven_digits,
)
from reports.questions.models import ExaminedRecord, ReadingPrint, ReadingQuestion

Kind = ReadingQuestion.Kind
AT_ONCE = 200
MOST_READINGS = 20_000
"""Of one record; what lies beyond is not looked through, and the question says so."""
MOST_TWINS = 20
IN_ONE_READ = 500
CLOCKS_APART = timedelta(minutes=5)
"""By which two clocks may differ, and within which nobody has come from one structure to another."""
LONGEST_RECORD = timedelta(hours=16)


def waiting() -> QuerySet[ThicknessRecord]:
    """Thickness records that stand and were not looked through yet, those that came first in front."""
    rows = ThicknessRecord.objects.current().filter(examined=None)
    return rows.order_by("received_at", "pk")  # type: ignore[return-value]  # the same class, which the plugin loses


def examine_new(most: int = AT_ONCE) -> int:
    """Look through so many records that wait; how many that were. Each is a transaction of its own."""
    rows = list(waiting().select_related("gauge", "standing", "area__structure")[:most])
    total = (ExaminedRecord.objects.aggregate(many=Sum("record__reading_count"))["many"] or 0) if rows else 0
    for record in rows:
        examine(record, compared=total)
        total += record.reading_count
    return len(rows)


@transaction.atomic
def examine(record: ThicknessRecord, *, compared: int) -> list[ReadingQuestion]:
    """The questions that one record gives rise to. `compared`: how many readings it is held against.

    Done twice it leaves the same: what was asked once of a record is not asked again.
    """
    _, new = ExaminedRecord.objects.get_or_create(record_id=record.pk)
    if not new:
        return []
    rows = Reading.objects.filter(record=record, void_reason="").order_by("spot", "order")
    pairs = list(rows.values_list("spot", "value_nm")[:MOST_READINGS])
    spots = np.array([spot for spot, _ in pairs], dtype=np.int64)
    values = np.array([value for _, value in pairs], dtype=np.int64)
    found: list[tuple[str, dict[str, Any], UUID | None]] = []
    if pairs:
        found += _repeated(record, values, compared)
        found += _scatter(record, values, spots)
        found += _digits(values, spots)
    found += _places(record)
    questions = [
        ReadingQuestion(project_id=record.project_id, record_id=record.pk, kind=kind, figures=figures, other_id=other)
        for kind, figures, other in found
    ]
    return ReadingQuestion.objects.bulk_create(questions, ignore_conflicts=True)


Found = Iterable[tuple[str, dict[str, Any], UUID | None]]


def _repeated(record: ThicknessRecord, values: Any, compared: int) -> Found:
    prints = prints_of(values)
    least = run_to_ask_of(values, compared)
    best: tuple[Repeat, UUID] | None = None
    if least is not None:
        twins = _twins(record, dict(prints))
        for other, shared in twins.items():
            theirs = _values(other)
            for first, other_first in shared:
                run = longest_repeat(values, theirs, first, other_first)
                if run.length >= least and (best is None or run.length > best[0].length):
                    best = run, other
    ReadingPrint.objects.bulk_create(
        [ReadingPrint(record_id=record.pk, code=code, first=first) for code, first in prints], batch_size=1_000
    )
    if best:
        run, other = best
        figures = {"length": run.length, "first": run.first + 1, "other_first": run.other_first + 1,
                   "least": least, "compared": compared}  # fmt: skip
        yield Kind.REPEATED, figures, other


def _twins(record: ThicknessRecord, prints: dict[int, int]) -> dict[UUID, list[tuple[int, int]]]:
    """By other record that stands, the places where a print of this one stands too; no more than so many records."""
    found: dict[UUID, list[tuple[int, int]]] = {}
    codes = list(prints)
    for start in range(0, len(codes), IN_ONE_READ):
        rows = ReadingPrint.objects.filter(code__in=codes[start : start + IN_ONE_READ], record__replaced_by=None)
        rows = rows.exclude(record=record.pk).exclude(record=record.replaces_id or record.pk)
        for code, other, first in rows.values_list("code", "record", "first")[: MOST_TWINS * IN_ONE_READ]:
            if other in found or len(found) < MOST_TWINS:
                found.setdefault(other, []).append((prints[code], first))
    return found


def _values(record: UUID) -> Any:
    rows = Reading.objects.filter(record=record, void_reason="").order_by("spot", "order")
    return np.array(rows.values_list("value_nm", flat=True)[:MOST_READINGS], dtype=np.int64)


def _scatter(record: ThicknessRecord, values: Any, spots: Any) -> Found:
    on_standards = [[int(um * 1000) for um in check.readings_um] for check in checks_of(record)]
    found = little_scatter(values, spots, on_standards)
    if found:
        figures = {"scatter_nm": found.scatter_nm, "freedom": found.freedom, "gauge_nm": found.gauge_nm,
                   "gauge_freedom": found.gauge_freedom, "chance": found.chance}  # fmt: skip
        yield Kind.SCATTER, figures, None


def _digits(values: Any, spots: Any) -> Found:
    found = uneven_digits(values, spots)
    if found:
        figures = {"counts": list(found.counts), "chi_square": found.chi_square, "chance": found.chance,
                   "step_nm": found.step_nm}  # fmt: skip
        yield Kind.DIGITS, figures, None


def _places(record: ThicknessRecord) -> Found:
    """A record of the same person, or with the same gauge, on another structure while this one was being measured."""
    begun, ended = record.taken_at + CLOCKS_APART, record.ended_at - CLOCKS_APART
    if begun > ended:
        return
    meanwhile = Record.objects.current().exclude(area__structure=record.area.structure_id).filter(
        Q(taken_by=record.taken_by_id) | Q(gauge=record.gauge_id), taken_at__lte=ended, ended_at__gte=begun,
        taken_at__gte=record.taken_at - LONGEST_RECORD,
    )  # fmt: skip
    other = meanwhile.order_by("taken_at", "pk").first()
    if other:
        figures = {
            "same_person": other.taken_by_id == record.taken_by_id,
            "same_gauge": other.gauge_id == record.gauge_id,
        }
        yield Kind.PLACES, figures, other.pk
