"""The form of a climate record: air by psychrometer or hygrometer, and the coldest steel."""

from __future__ import annotations

from typing import Any

from django import forms

from inspection.fieldwork.climate.recording import SEA_LEVEL_HPA
from inspection.fieldwork.forms import Corrected, HumidityField, Observed, OnProject, TenthField
from inspection.fieldwork.models import ClimateRecord
from inspection.instruments.models import Gauge
from inspection.standards import InputFault, calculate


class AirAndSteel(Observed):
    """What is read of the climate, wherever it is read."""

    instrument = Gauge.Kind.CLIMATE
    figures = (
        "dry_bulb_c", "wet_bulb_c", "relative_humidity_pct", "surface_c", "warmest_surface_c", "wind_m_s",
        "pressure_hpa",
    )  # fmt: skip
    READ_ORDER = (
        "id", "taken_at", "dry_bulb_c", "wet_bulb_c", "wet_bulb_over", "relative_humidity_pct", "surface_c",
        "warmest_surface_c", "wind_m_s", "rain", "dehumidifier_on", "pressure_hpa", "gauge", "note",
    )  # fmt: skip

    dry_bulb_c = TenthField(label="Air temperature (dry bulb), °C")
    wet_bulb_c = TenthField(
        label="Wet bulb, °C", required=False, help_text="Or relative humidity; give one of the two."
    )
    wet_bulb_over = forms.ChoiceField(
        label="Wet bulb covered by",
        required=False,
        choices=[("", "Above 0 °C"), ("water", "Water"), ("ice", "Ice")],
        help_text="Asked when the wet bulb is at or below 0 °C.",
    )
    relative_humidity_pct = HumidityField(label="Relative humidity, %", required=False)
    surface_c = TenthField(label="Steel, coldest place, °C")
    warmest_surface_c = TenthField(label="Steel, warmest place, °C", required=False)
    wind_m_s = TenthField(label="Wind, m/s", required=False, help_text="Where the spray goes on.")
    rain = forms.ChoiceField(label="Rain", required=False, choices=[("", "Not told"), *ClimateRecord.Rain.choices])
    dehumidifier_on = forms.TypedChoiceField(
        label="Dehumidifier", required=False, empty_value=None, coerce=lambda value: value == "True",
        choices=[("", "None, or not told"), ("True", "Runs"), ("False", "Stands still")],
    )  # fmt: skip
    pressure_hpa = forms.DecimalField(
        label="Air pressure, hPa",
        max_digits=6,
        decimal_places=2,
        initial=SEA_LEVEL_HPA,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        help_text="Sea level unless measured.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["gauge"].label = "Climate meter"

    def clean(self) -> dict[str, Any]:
        """While a field is wrong, the others are judged by their bounds all the same, so that all is told at once."""
        values: dict[str, Any] = super().clean() or {}
        given = {name: float(values[name]) for name in self.figures if values.get(name) is not None}
        if self.errors:
            try:
                calculate("climate-limits", given)
            except InputFault as wrong:
                for fault in wrong.faults:
                    if fault.field in given:
                        self.add_error(fault.field, fault.message)
        return values


class Climate(AirAndSteel, OnProject):
    field_order = ("area", "coat", *AirAndSteel.READ_ORDER)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        coat = self.fields["coat"]
        coat.label, coat.help_text = "For which coat", "Taken before it is applied or while it is; its limits hold."


class ClimateCorrection(Climate, Corrected):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A reading of a station may be for none.
        self.fields["coat"].required = self.initial.get("coat") is not None
