"""Forms about gauges and standards."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from accounts.models import Person, Role
from inspection.foundation.form_fields import Figure, LocalMoment, Thickness, WholeFigure, set_up
from inspection.foundation.labels import SHEETS
from inspection.foundation.units import Unit
from inspection.instruments import registers
from inspection.instruments.actions.equipment import identity_faults
from inspection.instruments.models import Equipment, Gauge, ReferenceStandard
from inspection.instruments.site_checks import CHOSEN_KINDS


class Identified(forms.Form):
    identity = forms.CharField(
        label="Company number", max_length=40, help_text="As on its label; it is never used for another thing"
    )
    maker = forms.CharField(label="Maker", max_length=80, required=False)
    model = forms.CharField(label="Model", max_length=80, required=False)
    serial = forms.CharField(label="Serial number", max_length=60, required=False)
    unit = forms.ChoiceField(label="Figures below are in", choices=Unit.choices)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = self.data.get("unit", Unit.UM) if self.is_bound else Unit.UM
        for field in self.fields.values():
            if isinstance(field, Thickness) and unit in Unit.values:
                field.unit = unit

    # The thing whose data are corrected, which bears its number already.
    thing: Gauge | ReferenceStandard | None = None

    def clean_identity(self) -> str:
        """Judged here as well, so that a number already used is told together with whatever else is wrong."""
        identity: str = self.cleaned_data["identity"]
        faults = identity_faults(identity, but=self.thing)
        if faults:
            raise ValidationError([fault.message for fault in faults])
        return identity

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        values.pop("unit", None)
        return values


class RegisterGauge(Identified):
    kind = forms.ChoiceField(label="Kind", choices=Gauge.Kind.choices)
    range_from_nm = Thickness(label="Range from", required=False, help_text="Of a thickness or profile gauge; mostly 0")
    range_to_nm = Thickness(label="Range to", required=False)
    accuracy_pct = Figure(
        label="Stated accuracy, ± % of the thickness", required=False, example="1", help_text="From its data sheet"
    )
    accuracy_nm = Thickness(label="Stated accuracy, ± fixed part", required=False)
    checked_on_site = forms.BooleanField(
        label="Checked on site before and after work", required=False, initial=True,
        help_text="Of a micrometer, conductivity meter or holiday detector: what it measures rests on these checks. "
        "Not of a comparator or a kit without a meter.",
    )  # fmt: skip
    check_tolerance_pct = Figure(
        label="Tolerance of its checks, ± % of the reference", required=False, example="5",
        help_text="Empty: ± 5 % of a conductivity meter (common practice, no source) or holiday detector (from memory)",
    )  # fmt: skip
    check_tolerance = Figure(
        label="Tolerance of its checks, ± fixed part", required=False, example="0.5",
        help_text="In its own unit: °C of a climate meter, MPa of an adhesion tester",
    )  # fmt: skip

    field_order = (
        "identity", "kind", "maker", "model", "serial", "unit", "range_from_nm", "range_to_nm", "accuracy_pct",
        "accuracy_nm", "checked_on_site", "check_tolerance_pct", "check_tolerance",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("range_from_nm", "range_to_nm", "accuracy_pct", "accuracy_nm"):
            field: Any = self.fields[name]
            field.needed_by = "coating thickness gauges must have it"

    def clean(self) -> dict[str, Any]:
        """What only some kinds have is not asked of the others: the box is ticked when the page comes."""
        values = super().clean()
        if values.get("kind") not in CHOSEN_KINDS and "checked_on_site" in values:
            values["checked_on_site"] = False
        return values


class RegisterStandard(Identified):
    kind = forms.ChoiceField(label="Kind", choices=ReferenceStandard.Kind.choices)
    nominal_nm = Thickness(
        label="Thickness it is sold as", required=False,
        help_text="0 or empty for a zero plate. What it really is, its certificate says. Empty for a solution or an "
        "instrument.",
    )  # fmt: skip
    nominal = Figure(
        label="Conductivity of a standard solution, µS/cm at 25 °C", required=False, example="84",
        help_text="As on the bottle; its certificate or lot paper gives value, uncertainty and expiry.",
    )  # fmt: skip

    field_order = ("identity", "kind", "maker", "model", "serial", "unit", "nominal_nm", "nominal")


class _Correct(Identified):
    """What is registered of a thing, but its kind: a thing of another kind is registered anew."""

    def __init__(self, data: Any = None, *, thing: Gauge | ReferenceStandard) -> None:
        super().__init__(data, initial={name: getattr(thing, name, None) for name in self.base_fields})
        self.thing = thing
        for name in ("kind", "checked_on_site"):
            self.fields.pop(name, None)
        self.fields["identity"].help_text = "As on its label; with another number it needs a new label"
        self.fields["reason"] = forms.CharField(
            label="Why it is corrected", max_length=1_000, help_text="The journal keeps it."
        )


class CorrectGauge(_Correct, RegisterGauge):
    pass


class CorrectStandard(_Correct, RegisterStandard):
    pass


class ChooseLabels(forms.Form):
    """Which things get a label, on what sheets, and where a begun sheet goes on."""

    sheet = forms.ChoiceField(label="Sheets", choices=[(name, sheet.label) for name, sheet in SHEETS.items()])
    start = WholeFigure(
        label="Begin at label",
        example="1",
        initial="1",
        help_text="Counted from the top left, row by row; 1 for a new sheet",
    )
    all_gauges = forms.BooleanField(label="All gauges", required=False)
    all_standards = forms.BooleanField(label="All reference standards", required=False)
    gauge = forms.MultipleChoiceField(label="Gauges", required=False, widget=forms.CheckboxSelectMultiple)
    standard = forms.MultipleChoiceField(
        label="Reference standards", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.things: dict[str, Gauge | ReferenceStandard] = {}
        for name, model in (("gauge", Gauge), ("standard", ReferenceStandard)):
            rows = model._default_manager.visible_to(by).exclude(state=Equipment.State.RETIRED)
            found = {str(thing.pk): thing for thing in rows}
            self.things |= found
            field: Any = self.fields[name]
            field.choices = [(pk, f"{thing} ({thing.get_kind_display().lower()})") for pk, thing in found.items()]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        sheet = SHEETS.get(values.get("sheet", ""))
        if sheet and values.get("start") is not None and not 1 <= values["start"] <= sheet.count:
            self.add_error("start", f"A sheet has labels 1 to {sheet.count}.")
        for every, name in (("all_gauges", "gauge"), ("all_standards", "standard")):
            if values.get(every):
                field: Any = self.fields[name]
                values[name] = [pk for pk, _ in field.choices]
        if not self.errors and not values["gauge"] and not values["standard"]:
            raise ValidationError("Choose at least one gauge or standard.")
        return values

    def chosen(self) -> list[Gauge | ReferenceStandard]:
        return [self.things[pk] for name in ("gauge", "standard") for pk in self.cleaned_data[name]]


class HandOver(forms.Form):
    to = forms.ModelChoiceField(
        Person.objects.none(), label="Who takes it", required=False, empty_label="Nobody: it goes into store"
    )
    place = forms.CharField(label="Place", max_length=120, required=False, help_text="Such as: store, shelf 2")

    def __init__(self, *args: Any, by: Person, thing: Gauge | ReferenceStandard, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["to"]
        mine = by.has_role(Role.QUALITY_MANAGER) or thing.holder_id == by.pk
        field.queryset = registers.holders() if mine else registers.holders().filter(pk=by.pk)


class SetState(forms.Form):
    state = forms.ChoiceField(label="State")
    reason = forms.CharField(label="Reason", widget=forms.Textarea(attrs={"rows": 3}), max_length=1000)

    def __init__(self, *args: Any, by: Person, thing: Gauge | ReferenceStandard, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        states = Equipment.State.choices if by.has_role(Role.QUALITY_MANAGER) else [
            (Equipment.State.QUARANTINED.value, Equipment.State.QUARANTINED.label)
        ]  # fmt: skip
        field: Any = self.fields["state"]
        field.choices = [choice for choice in states if choice[0] != thing.state]


class AskForChecks(forms.Form):
    since = LocalMoment(label="From when on", help_text="What was measured before rests on its certificate, as it did.")
    reason = forms.CharField(label="Reason", max_length=1_000, help_text="The journal keeps it.")

    def __init__(self, data: Any = None, *, zone: ZoneInfo) -> None:
        super().__init__(data, initial={"since": timezone.now()})
        set_up(self, "since", zone=zone, label=f"From when on, time in {zone.key}")


class NoMoreChecks(forms.Form):
    reason = forms.CharField(
        label="Reason", max_length=1_000,
        help_text="The journal keeps it. All that it measured then rests on its certificate alone.",
    )  # fmt: skip


class ReportIncident(forms.Form):
    at = LocalMoment(label="When it happened")
    what = forms.CharField(
        label="What happened", max_length=200, help_text="Such as: fell from the scaffold board; readings jump about"
    )

    def __init__(self, data: Any = None, *, zone: ZoneInfo) -> None:
        super().__init__(data, initial={"at": timezone.now()})
        field: Any = self.fields["at"]
        field.zone, field.label = zone, f"When it happened, time in {zone.key}"
