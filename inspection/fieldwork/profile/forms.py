"""The form of a surface profile record: a line of heights for each location."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from inspection.fieldwork.forms import Corrected, GaugeField, Observed, OnArea, ThicknessField
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.profile.recording import MOST_LOCATIONS, MOST_READINGS, LocationSent
from inspection.fieldwork.queries import thickness_gauges
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import Unit, in_unit, to_nm
from inspection.instruments import doubt
from inspection.instruments.models import Gauge

LONGEST = 20_000


class LocationsField(forms.CharField):
    """Lines such as “Pot 1: 55 57 63”: the apparatus if there are several, then the readings of the location."""

    def __init__(self, *, unit: str, **kwargs: Any) -> None:
        super().__init__(max_length=LONGEST, widget=forms.Textarea({"rows": 5, "class": "code"}), **kwargs)
        self.unit = unit

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return []
        faults: list[Fault] = []
        found = [
            self._location(line, row, faults) for row, line in enumerate(text.splitlines(), start=1) if line.strip()
        ]
        if faults:
            raise forms.ValidationError([str(fault) for fault in faults[:20]])
        return found

    def _location(self, line: str, row: int, faults: list[Fault]) -> LocationSent:
        apparatus, _, readings = line.rpartition(":")
        values = heights(readings, self.unit, row, faults)
        if not values and not faults:
            faults.append(Fault("Give the readings of the location, separated by spaces.", "", row))
        return LocationSent(values, apparatus.strip())


def heights(text: str, unit: str, row: int | None, faults: list[Fault]) -> list[int]:
    """Figures separated by spaces, in nm; those that are none are added to the faults."""
    values = []
    for figure in text.replace(";", " ").split():
        try:
            values.append(to_nm(figure, unit, row=row))
        except Refused as wrong:
            faults.extend(wrong.faults)
    return values


class HeightsField(forms.CharField):
    """A line of readings."""

    def __init__(self, *, unit: str, **kwargs: Any) -> None:
        super().__init__(max_length=LONGEST, **kwargs)
        self.unit = unit

    def to_python(self, value: Any) -> Any:
        faults: list[Fault] = []
        found = heights(super().to_python(value) or "", self.unit, None, faults)
        if faults:
            raise forms.ValidationError([str(fault) for fault in faults[:20]])
        return found


class Profile(Observed, OnArea):
    instrument = Gauge.Kind.PROFILE
    figures = (
        "method", "location_value", "film_nm", "locations", "tape_grade", "consumable_expires", "abrasive",
        "base_metal_nm", "base_metal_gauge",
    )  # fmt: skip

    method = forms.ChoiceField(label="Method", choices=ProfileRecord.Method.choices)
    location_value = forms.ChoiceField(
        label="Value of a location",
        choices=ProfileRecord.LocationValue.choices,
        help_text="SSPC-PA 17 speaks of the location average; ASTM D4417 B of 2014 keeps the maximum of ten. The "
        "specification says which.",
    )
    readings_a_location = forms.IntegerField(
        label="Readings asked for at each location",
        required=False,
        min_value=1,
        max_value=MOST_READINGS,
        help_text="Empty: by the method, 10 by depth micrometer, 2 replica tapes, 5 traces of a stylus, 1 by "
        "comparator. A specification may ask for others.",
    )

    abrasive = forms.ChoiceField(
        label="Abrasive", required=False, choices=[("", "Not said"), *ProfileRecord.Abrasive.choices],
        help_text="Tells the grade of the profile, which gives thickness readings their correction by ISO 19840.",
    )  # fmt: skip
    tape_grade = forms.ChoiceField(
        label="Grade of the tape", required=False, choices=[("", "No replica tape, or not said"),
                                                            *ProfileRecord.TapeGrade.choices],
        help_text="Near an end of its range, or outside it, a height is read again on the next grade.",
    )  # fmt: skip
    consumable_batch = forms.CharField(label="Batch of the tape", required=False, max_length=200)
    consumable_expires = forms.DateField(
        label="Last day of the tape", required=False, widget=forms.DateInput({"type": "date"}, "%Y-%m-%d")
    )
    base_metal_gauge = GaugeField(
        Gauge.objects.none(), label="Base metal read with", required=False, empty_label="Not read",
        help_text="The coating thickness gauge, on the bare blasted steel (SSPC-PA 2).",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = self.project.unit
        gauges = thickness_gauges(self.by)
        self.fields["base_metal_gauge"].offer(gauges, self.today, doubt.beside(gauges, self.project.zone))  # type: ignore[attr-defined]  # the field is a GaugeField
        label = Unit(unit).label
        self.fields["locations"] = LocationsField(
            unit=unit,
            label=f"Readings, a line for each location, in {label}",
            help_text="Such as 55 57 63, as the instrument showed them. With several blasting apparatus: Pot 1: 55 57 "
            f"63. Three locations at least for each apparatus and shift; at most {MOST_LOCATIONS}.",
        )
        self.fields["film"] = ThicknessField(
            unit=unit,
            label=f"Film of the replica tape to be subtracted, in {label}",
            required=False,
            help_text=f"{in_unit(50_000, unit)} {label} where the gauge showed film and replica together; empty where "
            "it was set to zero on the film, and for every other method.",
        )
        self.fields["base_metal"] = HeightsField(
            unit=unit, required=False, label=f"Base metal readings, in {label}",
            help_text="About ten, such as 8 9 11 7. Their mean is subtracted from thickness readings.",
        )  # fmt: skip
        self.fields["gauge"].label = "Profile gauge, tape gauge or comparator"
        self.order_fields(
            ["area", "id", "taken_at", "method", "location_value", "readings_a_location", "locations", "film",
             "tape_grade", "consumable_batch", "consumable_expires", "gauge", "abrasive", "base_metal",
             "base_metal_gauge"]
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or {}
        values["film_nm"] = values.pop("film", None) or 0
        values["base_metal_nm"] = values.pop("base_metal", None) or []
        return values


class ProfileCorrection(Profile, Corrected):
    pass


def locations_as_typed(record: ProfileRecord) -> str:
    """The lines of the form that give these locations."""
    unit = record.project.unit

    def line(at: dict[str, Any]) -> str:
        readings = heights_as_typed(at["readings_nm"], unit)
        return f"{at['apparatus']}: {readings}" if at["apparatus"] else readings

    return "\n".join(map(line, record.locations))


def heights_as_typed(readings_nm: Sequence[int], unit: str) -> str:
    digits = 3 if unit == Unit.UM else 2
    return " ".join(in_unit(nm, unit, digits).rstrip("0").rstrip(".") for nm in readings_nm)
