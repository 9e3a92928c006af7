"""Forms of a logger's files: the file with how it is read, and which time of a log is asked about."""

from __future__ import annotations

from typing import Any

from django import forms

from inspection.fieldwork.climate.logger_files import LONGEST_GAP_MIN, end_of
from inspection.fieldwork.climate.station_forms import CoatsField
from inspection.fieldwork.storing import LONGEST_NOTE
from inspection.foundation.form_fields import Figure, LocalMoment
from inspection.foundation.refusals import Refused
from inspection.projects.models import Coat, Station


class LoggerUpload(forms.Form):
    file = forms.FileField(label="The logger’s file", help_text="A text or workbook, at most 100,000 rows and 10 MB")
    gap_min = Figure(
        label="A gap is longer than, minutes", initial=15, example="15",
        help_text="Between samples further apart nothing is known, and nothing is credited. Usually two or three "
        "times the logger’s interval.",
    )  # fmt: skip
    note = forms.CharField(label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea({"rows": 2}))

    def __init__(self, *args: Any, station: Station | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)

    @property
    def gap(self) -> float:
        return float(min(self.cleaned_data["gap_min"], LONGEST_GAP_MIN * 10))


class OneCoatField(forms.ModelChoiceField):
    label_from_instance = CoatsField.label_from_instance


class Asked(forms.Form):
    """Which time of a station's log, and against which coat: such as its application and the hours of its cure."""

    begins = LocalMoment(label="From")
    ends = LocalMoment(label="Until")
    cure_h = Figure(label="And hours of cure after it", required=False, example="24")
    coat = OneCoatField(
        Coat.objects.none(),
        label="Against the limits of",
        required=False,
        empty_label="No coat: the usual margin of 3 °C",
    )

    def __init__(self, *args: Any, station: Station, coats: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("begins", "ends"):
            self.fields[name].zone = station.project.zone  # type: ignore[attr-defined]  # the field is a LocalMoment
        self.fields["coat"].queryset = coats  # type: ignore[attr-defined]  # the field is a ModelChoiceField

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or {}
        if values.get("begins") and values.get("ends") and not self.errors:
            try:
                values["ends"] = end_of(values["begins"], values["ends"], float(values.get("cure_h") or 0))
            except Refused as refusal:
                for fault in refusal.faults:
                    self.add_error(fault.field, fault.message)
        return values
