"""Hardness as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.hardness import forms
from inspection.fieldwork.hardness.models import HardnessRecord
from inspection.fieldwork.hardness.recording import HARDNESS
from inspection.fieldwork.hardness.serializers import SHOWN, HardnessSent
from inspection.fieldwork.kind import Column, Discipline, RecordKind, Reliance, TakenByForm
from inspection.fieldwork.tested import facts_of, places_of
from inspection.fieldwork.tested_forms import as_recorded
from inspection.instruments.models import Gauge

NAMED = (
    ("least", "Least by the contract", ""), ("dry_film_um", "Dry film", "µm"),
    ("least_film_um", "Least film for these dents", "µm"), ("cured_h", "Cured for", "h"),
    ("steel_c", "Film at", "°C"), ("pencil_set", "Set of pencils", ""),
)  # fmt: skip


KIND = RecordKind(
    name=HardnessRecord.KIND,
    title="Hardness test",
    one="hardness record",
    many="hardness records",
    lead="How hard a film is, where the contract or the maker’s sheet asks: pencils, Buchholz, Barcol, Shore.",
    model=HardnessRecord,
    instrument=Gauge.Kind.HARDNESS,
    reliance=Reliance.SEEN,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(Column("Found", lambda record: record.found),),
    sentence=lambda record: record.found,
    facts=lambda record: facts_of(record, NAMED),
    digest=HARDNESS.digest,
    verdict=HARDNESS.judged_again,
    warnings=HARDNESS.warnings,
    doubts=HARDNESS.all_doubts,
    parts=lambda record: places_of(record, forms.line_of),
    taken=TakenByForm(
        form=forms.Hardness,
        correction=forms.HardnessCorrection,
        record=HARDNESS.record,
        as_recorded=as_recorded(places=forms.line_of),
        sent=HardnessSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={},
    ),
    reach="Methods are not converted into each other, and hardness alone does not show that a film has cured.",
)
