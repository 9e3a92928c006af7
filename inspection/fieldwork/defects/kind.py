"""Visual defects as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.defects import forms
from inspection.fieldwork.defects.models import DefectsRecord
from inspection.fieldwork.defects.recording import DEFECTS
from inspection.fieldwork.defects.serializers import SHOWN, DefectsSent
from inspection.fieldwork.kind import Column, Discipline, Parts, RecordKind, Reliance, TakenByForm, ToMend
from inspection.fieldwork.tested_forms import as_recorded
from inspection.standards.visual_defects import extent_told


def _parts(record: DefectsRecord) -> Parts | None:
    rows = [
        (row["kind"], extent_told(row["kind"], row["extent"]), row["place"], "yes" if row["acceptable"] else "no")
        for row in record.observed.get("defects", ())
    ]
    return Parts("Defects seen", ("Kind", "Extent", "Place", "Acceptable"), tuple(rows)) if rows else None


KIND = RecordKind(
    name=DefectsRecord.KIND,
    title="Visual defects",
    one="visual inspection record",
    many="visual inspection records",
    lead="What was seen of a coat: each defect with its extent and place, acceptable or not to whoever looked.",
    model=DefectsRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(Column("Found", lambda record: record.found),),
    sentence=lambda record: record.found,
    facts=lambda record: [("Found", record.found)],
    digest=DEFECTS.digest,
    verdict=DEFECTS.judged_again,
    warnings=DEFECTS.warnings,
    doubts=DEFECTS.all_doubts,
    parts=_parts,
    to_mend=lambda record: [
        ToMend(row["kind"].capitalize(), row["place"])
        for row in record.observed.get("defects", ())
        if not row["acceptable"]
    ],
    taken=TakenByForm(
        form=forms.Defects,
        correction=forms.DefectsCorrection,
        record=DEFECTS.record,
        as_recorded=as_recorded(defects=forms.line_of),
        sent=DefectsSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={},
    ),
    reach="It says what whoever looked accepts. Ratings of ISO 4628 are for aged film and are no judgement of fresh "
    "paint.",
)
