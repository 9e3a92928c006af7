"""Thickness as a kind of record. It is measured on a sheet or uploaded, so it has pages of its own."""

from __future__ import annotations

from inspection.fieldwork import queries
from inspection.fieldwork.actions.thickness import run_out_of, thickness_digest
from inspection.fieldwork.judging import judge_again
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.units import with_unit
from inspection.instruments.models import Gauge


def _mean(record: ThicknessRecord) -> str:
    return with_unit(record.mean_nm, record.project.unit)


def _sentence(record: ThicknessRecord) -> str:
    lowest, highest = (with_unit(nm, record.project.unit) for nm in (record.lowest_nm, record.highest_nm))
    return f"{record.reading_count} readings, mean {_mean(record)}, lowest {lowest}, highest {highest}"


def _facts(record: ThicknessRecord) -> Facts:
    return [
        ("Readings", f"{record.reading_count}, mean {_mean(record)}"),
        ("Rule", record.coat.rule_name),
        ("Profile under the film", record.get_profile_way_display()),
    ]


KIND = RecordKind(
    name=ThicknessRecord.KIND,
    title="Thickness",
    one="thickness record",
    many="thickness records",
    lead="Each is one complete measurement of an area after a coat.",
    model=ThicknessRecord,
    instrument=Gauge.Kind.THICKNESS,
    reliance=Reliance.CHECKED,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(
        Column("Readings", lambda record: str(record.reading_count), is_number=True),
        Column("Mean", _mean, is_number=True),
        Column("Gauge", lambda record: record.gauge.identity),
    ),
    sentence=_sentence,
    facts=_facts,
    digest=lambda record: thickness_digest(record, queries.readings_of(record)),
    verdict=lambda record: judge_again(record, queries.readings_of(record)).verdict,
    warnings=run_out_of,
    doubts=lambda record: [],
)
