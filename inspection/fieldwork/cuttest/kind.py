"""Cut tests as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.cuttest import forms
from inspection.fieldwork.cuttest.models import CutTestRecord
from inspection.fieldwork.cuttest.recording import CUT_TEST
from inspection.fieldwork.cuttest.serializers import SHOWN, CutTestSent
from inspection.fieldwork.kind import Column, Discipline, Facts, Parts, RecordKind, Reliance, TakenByForm, ToMend
from inspection.fieldwork.tested import told
from inspection.fieldwork.tested_forms import as_recorded


def _scale(record: CutTestRecord) -> str:
    edition = record.observed.get("edition")
    return f"{record.scale}:{edition}" if edition else record.scale


def _facts(record: CutTestRecord) -> Facts:
    sent = record.observed
    standard = record.result.get("spacing_of_standard_mm")
    spacing = told(sent["spacing_mm"], "mm") if "spacing_mm" in sent else "none, an X-cut"
    agreed = (
        ", agreed"
        if sent.get("spacing_agreed")
        else f", the standard has {standard} mm"
        if standard and standard != sent.get("spacing_mm")
        else ""
    )
    return [
        ("Scale", _scale(record)),
        ("Worst rating found", f"{record.worst} ({record.scale})"),
        ("Worst rating allowed", sent.get("worst_rating", "not given")),
        ("Cuts asked for", told(sent.get("cuts_wanted", 1))),
        ("Total dry film", told(sent["dry_film_um"], "µm")),
        ("Spacing", f"{spacing}{agreed}"),
        ("Substrate", sent.get("substrate", "hard")),
        ("Textured", "yes" if sent.get("textured") else "no"),
        ("Cutting tool", sent.get("tool", "not said")),
    ]


def _parts(record: CutTestRecord) -> Parts:
    rows = [
        (str(row), cut["place"], cut["rating"], cut.get("seen", "–"))
        for row, cut in enumerate(record.observed["cuts"], start=1)
    ]
    return Parts(f"Cuts, rated by {_scale(record)}", ("Cut", "Place", "Rating", "Came off"), tuple(rows))


KIND = RecordKind(
    name=CutTestRecord.KIND,
    title="Cut test",
    one="cut test record",
    many="cut test records",
    lead="Adhesion by a lattice or an X cut through the film; each leaves a place to be mended.",
    model=CutTestRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(
        Column("Scale", _scale),
        Column("Worst rating", lambda record: record.worst),
    ),
    sentence=lambda record: record.found,
    facts=_facts,
    digest=CUT_TEST.digest,
    verdict=CUT_TEST.judged_again,
    warnings=CUT_TEST.warnings,
    doubts=CUT_TEST.all_doubts,
    parts=_parts,
    to_mend=lambda record: [ToMend("Cut test", cut["place"]) for cut in record.observed["cuts"]],
    taken=TakenByForm(
        form=forms.CutTest,
        correction=forms.CutTestCorrection,
        record=CUT_TEST.record,
        as_recorded=as_recorded(cuts=forms.line_of),
        sent=CutTestSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={},
    ),
    reach="The scales run opposite ways, 0 and 5B are both best, and are never converted. The test judges adhesion by "
    "what a tape takes off and measures no strength.",
)
