"""Forms of a recall; the actions judge what they read."""

from __future__ import annotations

from typing import Any

from django import forms

from inspection.foundation.form_fields import Figure, Thickness
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import SOLUTION_UNIT, Certificate, CertifiedValue

REASON = forms.Textarea(attrs={"rows": 3})


class Confirm(forms.Form):
    reason = forms.CharField(
        label="Reason", max_length=2_000, widget=REASON, help_text="Everyone who relied on it reads this."
    )


class CorrectValues(forms.Form):
    """Every value of the certificate with its uncertainty, as it should have been; unchanged ones stay as they are."""

    def __init__(self, *args: Any, certificate: Certificate, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        stating = certificate.values.exclude(standard=None).exclude(value_nm=None, value=None)
        rows = stating.select_related("standard")
        self.rows: list[CertifiedValue] = list(rows.order_by("value_nm", "value", "pk"))
        for row in self.rows:
            if row.value is not None:
                self._ask_of_solution(row)
                continue
            self.fields[f"value-{row.pk}"] = Thickness(label=f"{row.standard}, value in µm", initial=row.value_nm)
            self.fields[f"uncertainty-{row.pk}"] = Thickness(
                label=f"{row.standard}, expanded uncertainty in µm", initial=row.expanded_uncertainty_nm
            )

    def _ask_of_solution(self, row: CertifiedValue) -> None:
        for name, what, initial in (
            ("value", "value", row.value), ("uncertainty", "expanded uncertainty", row.expanded_uncertainty),
        ):  # fmt: skip
            label = f"{row.standard}, {what} in {SOLUTION_UNIT}"
            self.fields[f"{name}-{row.pk}"] = Figure(
                label=label, example="84.2", initial=None if initial is None else f"{initial.normalize():f}"
            )

    def corrected(self) -> list[StandardValue]:
        """The values that differ from what the certificate states now."""
        found = []
        for row in self.rows:
            value, uncertainty = (self.cleaned_data[f"{name}-{row.pk}"] for name in ("value", "uncertainty"))
            if row.standard is None:
                continue
            now = StandardValue.of(row)
            asked = (
                StandardValue(row.standard, value, uncertainty)
                if row.value is None
                else StandardValue(row.standard, value=value, expanded_uncertainty=uncertainty)
            )
            if asked != now:
                found.append(asked)
        return found

    def changes(self) -> list[tuple[CertifiedValue, StandardValue]]:
        """What the certificate states now, and what it should have stated, of each value that differs."""
        stated = {row.standard_id: row for row in self.rows}
        return [(stated[value.standard.pk], value) for value in self.corrected()]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not self.errors and not self.corrected():
            raise forms.ValidationError("Change at least one value; as it stands nothing would be corrected.")
        return values
