"""Wet film as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.kind import Column, Discipline, Facts, Parts, RecordKind, Reliance, TakenByForm
from inspection.fieldwork.tested import told
from inspection.fieldwork.tested_forms import as_recorded
from inspection.fieldwork.wetfilm import forms
from inspection.fieldwork.wetfilm.models import WetFilmRecord
from inspection.fieldwork.wetfilm.recording import WET_FILM, record_wet_film
from inspection.fieldwork.wetfilm.serializers import SHOWN, WetFilmSent


def _aim(record: WetFilmRecord) -> str:
    return "not known" if record.aim_um is None else f"{record.aim_um:.0f} µm"


def _facts(record: WetFilmRecord) -> Facts:
    dry = record.inputs.get("dry_film_um")
    for_dry = f", for {told(dry, 'µm')} dry" if dry else ""
    return [
        ("Found", record.found),
        ("Wet film to aim at", f"{_aim(record)}{for_dry}"),
        ("Thinner", told(record.observed.get("thinner_pct", 0), "%")),
        *([("Lot", str(record.lot))] if record.lot else []),
    ]


def _parts(record: WetFilmRecord) -> Parts:
    low = set(record.result.get("low", ()))
    rows = [
        (str(row), reading.get("place", "–"), f"{reading['um']} µm", "below" if row in low else "–")
        for row, reading in enumerate(record.observed["readings"], start=1)
    ]
    return Parts("Readings of the comb", ("Number", "Place", "Last tooth wetted", "Of the aim"), tuple(rows))


KIND = RecordKind(
    name=WetFilmRecord.KIND,
    title="Wet film",
    one="wet film record",
    many="wet film records",
    lead="What a comb shows of a coat while it is wet, beside the film to aim at.",
    model=WetFilmRecord,
    instrument=None,
    reliance=Reliance.SEEN,
    discipline=Discipline.COATING,
    of_coat="for",
    columns=(
        Column("Lowest", lambda record: f"{record.lowest_um} µm", is_number=True),
        Column("Aim", _aim, is_number=True),
        Column("Below", lambda record: str(record.low_count), is_number=True),
    ),
    sentence=lambda record: record.found,
    facts=_facts,
    digest=WET_FILM.digest,
    verdict=WET_FILM.judged_again,
    warnings=WET_FILM.warnings,
    doubts=WET_FILM.all_doubts,
    parts=_parts,
    taken=TakenByForm(
        form=forms.WetFilm,
        correction=forms.WetFilmCorrection,
        record=record_wet_film,
        as_recorded=as_recorded(readings=forms.line_of),
        sent=WetFilmSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={"readings_um": "readings"},
    ),
    reach="A comb guides the applicator: low places are gone over while they are wet. It never accepts a coat.",
    caution="Fresh paint gives off solvents: mask and gloves by its safety data sheet, no ignition, fresh air.",
)
