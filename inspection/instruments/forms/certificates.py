"""The form of a certificate: its head, what it covers, and a row for every certified value."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from accounts.models import Person
from inspection.foundation.form_fields import Day, Figure, Thickness, Uncertainty, number
from inspection.foundation.units import Unit
from inspection.instruments.actions import StandardValue, UploadedContent
from inspection.instruments.models import SOLUTION_UNIT, Certificate, Gauge, ReferenceStandard

FEWEST_ROWS, MOST_ROWS = 6, 60
WITHOUT_THICKNESS = (ReferenceStandard.Kind.SOLUTION, ReferenceStandard.Kind.INSTRUMENT)


class CertificateForm(forms.Form):
    number = forms.CharField(label="Certificate number", max_length=60)
    laboratory = forms.CharField(label="Laboratory", max_length=120)
    accreditation = forms.CharField(
        label="Its accreditation", max_length=60, required=False, help_text="As printed, such as CAL 014"
    )
    issued = Day(label="Issued")
    expires = Day(label="Expires", help_text="The last day on which it may be relied on")
    coverage_factor = Figure(
        label="Coverage factor k", example="2", initial="2", help_text="With which the uncertainties are stated"
    )
    traceable_to = forms.CharField(
        label="Traceable to", max_length=160, help_text="The national institute or the standard named on it"
    )
    parent = forms.ModelChoiceField(
        Certificate.objects.none(), label="Certificate it is traceable to, if you hold it", required=False,
        empty_label="None recorded",
    )  # fmt: skip
    gauges = forms.ModelMultipleChoiceField(
        Gauge.objects.none(), label="Gauges it calibrates", required=False, widget=forms.CheckboxSelectMultiple
    )
    file = forms.FileField(label="The certificate itself", required=False, help_text="PDF, PNG or JPEG")
    unit = forms.ChoiceField(
        label="Thicknesses are stated in", choices=Unit.choices, help_text=f"Of a standard solution: {SOLUTION_UNIT}"
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by = by
        parent: Any = self.fields["parent"]
        parent.queryset = Certificate.objects.visible_to(by).filter(replaced_by=None, withdrawn_at=None)
        parent.label_from_instance = lambda paper: f"{paper} of {paper.laboratory}"
        gauges: Any = self.fields["gauges"]
        gauges.queryset = Gauge.objects.visible_to(by).exclude(state=Gauge.State.RETIRED)

    def clean_file(self) -> UploadedContent | None:
        file = self.cleaned_data["file"]
        return sent_file(file) if file else None

    def values_for_action(self) -> dict[str, Any]:
        values = {name: value for name, value in self.cleaned_data.items() if name not in ("unit", "reason")}
        values["gauges"] = list(values["gauges"])
        values["coverage_factor"] = values["coverage_factor"] or Decimal(2)
        return values


class CorrectionForm(CertificateForm):
    reason = forms.CharField(
        label="What was wrong, and why it is right now", max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )


class ValueRow(forms.Form):
    standard = forms.ChoiceField(label="Standard", required=False)
    value = Thickness(label="Certified value", required=False)
    uncertainty = Uncertainty(label="Expanded uncertainty", required=False)

    def __init__(
        self,
        data: Any = None,
        *,
        number: int,
        unit: str,
        standards: dict[str, ReferenceStandard],
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, prefix=f"value{number}", initial=initial)
        self.number, self.caption, self.standards = number, f"Value {number}", standards
        choice: Any = self.fields["standard"]
        choice.choices = [("", "–"), *((pk, standard_label(standard)) for pk, standard in standards.items())]
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = f"{field.label}, row {number}"
            if isinstance(field, Thickness):
                field.unit = unit

    def clean_standard(self) -> ReferenceStandard | None:
        return self.standards.get(self.cleaned_data["standard"])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        standard = values.get("standard")
        if standard and standard.kind in WITHOUT_THICKNESS:
            return self._of_no_thickness(values, standard)
        if self.errors or not any(value is not None for value in values.values()):
            return values
        for name, words in (
            ("standard", "Choose the standard this value belongs to."),
            ("value", "Give its certified value."),
            ("uncertainty", "Give its expanded uncertainty."),
        ):
            if values.get(name) is None:
                self.add_error(name, words)
        return values

    def _of_no_thickness(self, values: dict[str, Any], standard: ReferenceStandard) -> dict[str, Any]:
        """The figures as they were typed: a conductivity has no unit to choose, an instrument has none at all."""
        for name in ("value", "uncertainty"):
            self.errors.pop(name, None)
            typed = self.data.get(self.add_prefix(name), "").strip().removeprefix("±")
            try:
                values[name] = number(typed, "write it as 84.2") if typed else None
            except ValueError as wrong:
                self.add_error(name, str(wrong))
            if standard.kind == ReferenceStandard.Kind.SOLUTION and not typed:
                self.add_error(name, f"Give its certified conductivity and the uncertainty, in {SOLUTION_UNIT}.")
        return values

    @property
    def filled(self) -> bool:
        return self.cleaned_data.get("standard") is not None

    def sent(self) -> StandardValue:
        standard, value, uncertainty = (self.cleaned_data[name] for name in ("standard", "value", "uncertainty"))
        if standard.kind in WITHOUT_THICKNESS:
            return StandardValue(standard, value=value, expanded_uncertainty=uncertainty)
        return StandardValue(standard, value, uncertainty)


def standard_label(standard: ReferenceStandard) -> str:
    kind = standard.get_kind_display().split(",")[0].lower()
    return f"{standard.identity}, {kind} {standard.sold_as}".rstrip()


def value_rows(data: Any, *, by: Person, count: int, initial: list[dict[str, Any]]) -> list[ValueRow]:
    """The rows of values; the standards to choose from are read once."""
    unit = data.get("unit", Unit.UM) if data is not None else Unit.UM
    unit = unit if unit in Unit.values else Unit.UM
    found = ReferenceStandard.objects.visible_to(by).exclude(state=ReferenceStandard.State.RETIRED)
    standards = {str(standard.pk): standard for standard in found}
    return [
        ValueRow(
            data, number=number, unit=unit, standards=standards,
            initial=initial[number - 1] if number <= len(initial) else None,
        )
        for number in range(1, count + 1)
    ]  # fmt: skip


def as_typed(form: CertificateForm, count: int) -> tuple[CertificateForm, list[dict[str, Any]]]:
    """The form and its rows as they were typed, not judged: for showing more rows."""
    data: Any = form.data
    typed = {name: data.get(name, "") for name in form.fields} | {"gauges": data.getlist("gauges")}
    rows = [
        {name: data.get(f"value{number}-{name}", "") for name in ValueRow.base_fields} for number in range(1, count + 1)
    ]
    return type(form)(by=form.by, initial=typed), rows


def row_count(text: str | None, fewest: int = FEWEST_ROWS) -> int:
    """How many rows of values were asked for."""
    asked = int(text) if text and text.isdecimal() and len(text) < 4 else 0
    return min(max(asked, fewest), MOST_ROWS)


def sent_file(file: UploadedFile) -> UploadedContent:
    """The upload as it is judged; one byte more than may be is enough to see that it is too large."""
    return UploadedContent(
        file.name or "certificate", file.read(settings.UPLOAD_MAX_BYTES + 1), file.content_type or ""
    )
