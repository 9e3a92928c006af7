"""Cure tests as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.cure import forms
from inspection.fieldwork.cure.models import CureRecord
from inspection.fieldwork.cure.recording import CURE
from inspection.fieldwork.cure.serializers import SHOWN, CureSent
from inspection.fieldwork.kind import Column, Discipline, RecordKind, Reliance, TakenByForm
from inspection.fieldwork.tested import facts_of, places_of
from inspection.fieldwork.tested_forms import as_recorded
from inspection.instruments.models import Gauge

NAMED = (
    ("least", "Least by the contract", ""), ("solvent", "Solvent", ""), ("double_rubs", "Double rubs made", ""),
    ("agreed_double_rubs", "Double rubs agreed", ""), ("agreed_result", "Result agreed", ""),
    ("dry_film_before_um", "Dry film before", "µm"), ("dry_film_after_um", "Dry film after", "µm"),
    ("cured_h", "Cured for", "h"), ("steel_c", "Steel", "°C"),
)  # fmt: skip


KIND = RecordKind(
    name=CureRecord.KIND,
    title="Cure test",
    one="cure test record",
    many="cure test records",
    lead="Whether a film has cured, by solvent rubs; hardness is a test of its own.",
    model=CureRecord,
    instrument=Gauge.Kind.HARDNESS,
    reliance=Reliance.SEEN,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(Column("Found", lambda record: record.found),),
    sentence=lambda record: record.found,
    facts=lambda record: facts_of(record, NAMED),
    digest=CURE.digest,
    verdict=CURE.judged_again,
    warnings=CURE.warnings,
    doubts=CURE.all_doubts,
    parts=lambda record: places_of(record, forms.line_of),
    taken=TakenByForm(
        form=forms.Cure,
        correction=forms.CureCorrection,
        record=CURE.record,
        as_recorded=as_recorded(places=forms.line_of),
        sent=CureSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={},
    ),
    reach="Neither hardness nor solvent resistance alone shows that a film has cured; some films resist before they "
    "are.",
)
