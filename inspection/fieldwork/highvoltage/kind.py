"""High-voltage holiday tests as a kind of record."""

from __future__ import annotations

from inspection.fieldwork.highvoltage import forms
from inspection.fieldwork.highvoltage.models import HighVoltageRecord
from inspection.fieldwork.highvoltage.recording import HIGH_VOLTAGE
from inspection.fieldwork.highvoltage.serializers import SHOWN, HighVoltageSent
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance, TakenByForm
from inspection.fieldwork.tested import told
from inspection.fieldwork.tested_forms import as_recorded
from inspection.fieldwork.wetsponge.forms import line_of
from inspection.fieldwork.wetsponge.kind import holiday_facts, holidays_found, to_mend
from inspection.instruments.models import Gauge

# Common practice, no source; docs/cautions.md says the same.
CAUTIONS = (
    "High voltage can kill, light vapour and puncture sound film. Local codes and licensed practice come first.",
    "The film is fully cured and dry; one that was immersed is not tested without thought for the water it holds.",
    "The voltage stays below what the thinnest film bears. The maker was asked; a calculation is no permission.",
    "The structure is earthed and the earth is proven. Whoever tests is dry and insulated; others are kept away.",
    "There is no flammable vapour: gas was tested for first. Wearers of pacemakers keep away.",
)


def _facts(record: HighVoltageRecord) -> Facts:
    sent, named, zone = record.observed, record.result.get("named_v"), record.project.zone
    confirmed = record.cautions_confirmed_at
    when = f"{record.by_name}, {confirmed.astimezone(zone):%Y-%m-%d %H:%M}" if confirmed else "no confirmation is kept"
    return [
        *holiday_facts(record),
        ("Voltage the standard names", f"{named:.0f} V" if named else "none for this film"),
        ("Voltmeter", told(sent.get("voltmeter_v", "not read"), "V")),
        ("Thinnest film", told(sent.get("thinnest_film_um", "not said"), "µm")),
        ("Dielectric strength", told(sent.get("dielectric_strength_kv_per_mm", "not said"), "kV/mm")),
        ("Cured for", told(sent.get("cured_h", "not said"), "h")),
        ("Electrode", sent.get("electrode", "not said")),
        ("Cautions confirmed", when),
    ]


KIND = RecordKind(
    name=HighVoltageRecord.KIND,
    title="High-voltage holiday test",
    one="high-voltage test record",
    many="high-voltage test records",
    lead="Holidays through a thick film, looked for with a spark. Only for those who are trained and licensed to.",
    model=HighVoltageRecord,
    instrument=Gauge.Kind.HOLIDAY,
    reliance=Reliance.CERTIFIED,
    discipline=Discipline.INSPECTION,
    of_coat="after",
    columns=(
        Column("Tested, m²", lambda record: f"{float(record.tested_m2):g}", is_number=True),
        Column("Holidays", lambda record: str(record.holidays), is_number=True),
    ),
    sentence=lambda record: f"{told(record.observed['voltage_v'], 'V')}, {record.found}",
    facts=_facts,
    digest=HIGH_VOLTAGE.digest,
    verdict=HIGH_VOLTAGE.judged_again,
    warnings=HIGH_VOLTAGE.warnings,
    doubts=HIGH_VOLTAGE.all_doubts,
    parts=holidays_found,
    to_mend=to_mend,
    taken=TakenByForm(
        form=forms.HighVoltage,
        correction=forms.HighVoltageCorrection,
        record=HIGH_VOLTAGE.record,
        as_recorded=as_recorded(holidays=line_of),
        sent=HighVoltageSent,
        shown=SHOWN.shown,
        detail=SHOWN.detail,
        answer=SHOWN.answer,
        fields={},
        cautions=CAUTIONS,
    ),
    reach="A voltage worked out is no permission: a qualified person decides, by local codes and the maker’s word. The "
    "spark finds holes, and no film that is merely thin.",
)
