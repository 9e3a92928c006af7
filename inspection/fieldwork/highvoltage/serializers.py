"""High-voltage tests as the API takes and shows them."""

from __future__ import annotations

from rest_framework import serializers

from inspection.fieldwork.highvoltage.models import HighVoltageRecord
from inspection.fieldwork.tested_serializers import NumberSent, optional_number, shown_of, words_sent
from inspection.fieldwork.wetsponge.serializers import HolidayTestSent
from inspection.standards.holiday_result import HIGH_STANDARDS


class HighVoltageSent(HolidayTestSent):
    standard = serializers.ChoiceField(HIGH_STANDARDS, help_text="That names the voltage for the film")
    thinnest_film_um = optional_number()
    dielectric_strength_kv_per_mm = optional_number("From the coating's maker")
    cured_h = optional_number()
    voltage_v = NumberSent(help_text="As set")
    voltmeter_v = optional_number("As a voltmeter showed; without it nothing is judged")
    electrode = words_sent()


SHOWN = shown_of(HighVoltageRecord, "tested_m2", "holidays", "cautions_confirmed_at")
