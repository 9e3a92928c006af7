"""The form of a high-voltage test."""

from __future__ import annotations

from django import forms

from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.highvoltage.models import HighVoltageRecord
from inspection.fieldwork.tested_forms import figure
from inspection.fieldwork.wetsponge.forms import HolidayForm
from inspection.standards.holiday_result import HIGH_STANDARDS


class HighVoltage(HolidayForm):
    model = HighVoltageRecord
    figures = (*HolidayForm.figures, "voltmeter_v", "thinnest_film_um")
    stay = ("standard", "dielectric_strength_kv_per_mm", "most_per_m2", "electrode")
    field_order = (
        "area", "coat", "id", "taken_at", "standard", "dry_film_um", "thinnest_film_um",
        "dielectric_strength_kv_per_mm", "cured_h", "voltage_v", "voltmeter_v", "electrode", "speed_m_per_s",
        "earth_proven", "tested_m2", "holidays", "most_per_m2", "gauge", "note",
    )  # fmt: skip

    standard = forms.ChoiceField(
        label="Standard that names the voltage",
        choices=[(name, name[0].upper() + name[1:]) for name in HIGH_STANDARDS],
        help_text="That of the specification: the standards differ widely. The voltage it names for the film is worked "
        "out and told; where it names none, nothing is judged.",
    )  # fmt: skip
    thinnest_film_um = figure("Thinnest film, µm", "What it bears is not to be exceeded.", example="220")
    dielectric_strength_kv_per_mm = figure(
        "Dielectric strength of the coating, kV/mm", "From the coating’s maker.", example="15"
    )
    cured_h = figure("Film cured for, h", "Retained solvent conducts.", example="168")
    voltage_v = figure("Voltage set, V", required=True, example="3000")
    voltmeter_v = figure(
        "Voltage that a voltmeter showed, V", "Within 5 % of what is set (from memory); without it nothing is judged.",
        example="2950",
    )  # fmt: skip
    electrode = forms.CharField(label="Electrode", required=False, max_length=200)


class HighVoltageCorrection(HighVoltage, Corrected):
    pass
