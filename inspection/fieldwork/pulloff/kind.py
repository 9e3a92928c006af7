"""Pull-off tests as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.kind import Column, Discipline, Facts, Parts, RecordKind, Reliance, TakenByForm, ToMend
from inspection.fieldwork.pulloff import forms
from inspection.fieldwork.pulloff.models import PullOffRecord
from inspection.fieldwork.pulloff.recording import PULL_OFF, in_order
from inspection.fieldwork.pulloff.serializers import SHOWN, PullOffSent
from inspection.fieldwork.tested import told
from inspection.fieldwork.tested_forms import as_recorded
from inspection.instruments.models import Gauge


def _facts(record: PullOffRecord) -> Facts:
    sent = record.observed
    named = [
        ("Tests asked for", told(sent["tests_wanted"])),
        ("Least mean", told(sent.get("minimum_mean_mpa", "not given"), "MPa")),
        ("Least single strength", told(sent.get("minimum_single_mpa", "not given"), "MPa")),
        ("Instrument of the contract", sent.get("contract_instrument", "not given")),
        ("Instrument used", sent["used_instrument"]),
        ("Dolly", told(sent["dolly_mm"], "mm")),
        ("Steel", told(sent["steel_mm"], "mm") + (", stiffened" if sent.get("steel_stiffened") else "")),
        ("Film cut round the dolly", "yes" if sent.get("film_cut") else "no"),
    ]
    glue = sent.get("glue", "not said") + (
        f", cured {told(sent['glue_cured_h'], 'h')}" if "glue_cured_h" in sent else ""
    )
    return [("Standard", record.method), ("Found", record.found), *named, ("Glue", glue)]


def _parts(record: PullOffRecord) -> Parts:
    """What was read of each dolly; a glue failure above the share and below the limit is no result."""
    no_result, at_least = (set(record.result.get(name, ())) for name in ("repeat_tests", "at_least_tests"))
    rows = []
    for row, test in enumerate(record.observed["tests"], start=1):
        strength = f"{test['strength_mpa']:g} MPa" if "strength_mpa" in test else f"{test['strength_psi']:g} psi"
        said = "no result: the glue failed" if row in no_result else "at least so much" if row in at_least else "counts"
        failures = ", ".join(f"{code} {share:g} %" for code, share in in_order(test))
        rows.append((str(row), test["place"], strength, failures, said))
    return Parts("Tests as read", ("Test", "Place", "Strength", "Failure", "Result"), tuple(rows))


KIND = RecordKind(
    name=PullOffRecord.KIND,
    title="Pull-off",
    one="pull-off test record",
    many="pull-off test records",
    lead="Adhesion by pulling dollies off the film; each test leaves a place to be mended.",
    model=PullOffRecord,
    instrument=Gauge.Kind.ADHESION,
    reliance=Reliance.CERTIFIED,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(
        Column("Standard", lambda record: record.method),
        Column("Found", lambda record: record.found),
    ),
    sentence=lambda record: f"{record.method}, {record.found}",
    facts=_facts,
    digest=PULL_OFF.digest,
    verdict=PULL_OFF.judged_again,
    warnings=PULL_OFF.warnings,
    doubts=PULL_OFF.all_doubts,
    parts=_parts,
    to_mend=lambda record: [ToMend("Pull-off test", test["place"]) for test in record.observed["tests"]],
    taken=TakenByForm(
        form=forms.PullOff,
        correction=forms.PullOffCorrection,
        record=PULL_OFF.record,
        as_recorded=as_recorded(tests=forms.line_of),
        sent=PullOffSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={},
    ),
    reach="Results of different instruments and dollies do not compare, and the steel’s thickness counts. Strengths "
    "are the contract’s: the standards name none.",
)
