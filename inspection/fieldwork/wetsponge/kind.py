"""Wet-sponge holiday tests as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.kind import Column, Discipline, Facts, Parts, RecordKind, Reliance, TakenByForm, ToMend
from inspection.fieldwork.tested import told
from inspection.fieldwork.tested_forms import as_recorded
from inspection.fieldwork.wetsponge import forms
from inspection.fieldwork.wetsponge.models import HolidayTest, WetSpongeRecord
from inspection.fieldwork.wetsponge.recording import WET_SPONGE
from inspection.fieldwork.wetsponge.serializers import SHOWN, WetSpongeSent
from inspection.instruments.models import Gauge


def holiday_facts(record: HolidayTest) -> Facts:
    """What both ways of looking for holidays tell."""
    sent = record.observed
    return [
        ("Found", record.found),
        ("Standard", sent["standard"]),
        ("Dry film", told(sent["dry_film_um"], "µm")),
        ("Voltage set", told(sent["voltage_v"], "V")),
        ("Allowed", f"{told(sent['most_per_m2'])} on a m²" if sent.get("most_per_m2") else "none"),
        ("Moved at", told(sent.get("speed_m_per_s", "not said"), "m/s")),
        ("Earth and device proven", "yes" if sent.get("earth_proven") else "no"),
    ]


def holidays_found(record: HolidayTest) -> Parts | None:
    """Each holiday with its place."""
    rows = [
        (str(row), hole["place"], hole.get("seen", "–"))
        for row, hole in enumerate(record.observed.get("holidays", ()), start=1)
    ]
    return Parts("Holidays found", ("Number", "Place", "Seen"), tuple(rows)) if rows else None


def to_mend(record: HolidayTest) -> list[ToMend]:
    return [ToMend("Holiday", hole["place"]) for hole in record.observed.get("holidays", ())]


def _facts(record: WetSpongeRecord) -> Facts:
    return [*holiday_facts(record), ("Wetting agent", "yes" if record.observed.get("wetting_agent") else "no")]


KIND = RecordKind(
    name=WetSpongeRecord.KIND,
    title="Wet-sponge holiday test",
    one="wet-sponge test record",
    many="wet-sponge test records",
    lead="Holidays through the film, looked for with a wet sponge at low voltage.",
    model=WetSpongeRecord,
    instrument=Gauge.Kind.HOLIDAY,
    reliance=Reliance.CERTIFIED,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(
        Column("Tested, m²", lambda record: f"{float(record.tested_m2):g}", is_number=True),
        Column("Holidays", lambda record: str(record.holidays), is_number=True),
    ),
    sentence=lambda record: record.found,
    facts=_facts,
    digest=WET_SPONGE.digest,
    verdict=WET_SPONGE.judged_again,
    warnings=WET_SPONGE.warnings,
    doubts=WET_SPONGE.all_doubts,
    parts=holidays_found,
    to_mend=to_mend,
    taken=TakenByForm(
        form=forms.WetSponge,
        correction=forms.WetSpongeCorrection,
        record=WET_SPONGE.record,
        as_recorded=as_recorded(holidays=forms.line_of),
        sent=WetSpongeSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={},
    ),
    reach="The sponge finds holes through to the steel, and no thin places. It holds for a cured, dry film.",
)
