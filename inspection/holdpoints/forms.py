"""Forms of hold points and nonconformances; the actions judge what they read."""

from __future__ import annotations

from typing import Any

from django import forms

from accounts.models import Person
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import Coat, InspectionArea, Project


class _Signed(forms.Form):
    """What is signed by typing one's password again, under the evidence named in the page."""

    evidence = forms.CharField(max_length=64, widget=forms.HiddenInput)
    password = forms.CharField(
        label="Your password, as your signature",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class Release(_Signed):
    pass


class Refuse(_Signed):
    reason = forms.CharField(
        label="Why it is refused",
        max_length=2_000,
        help_text="The inspector reads this and puts it right.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    field_order = ("reason", "password")


class PresentAgain(forms.Form):
    note = forms.CharField(
        label="What was done since it was refused", max_length=2_000, widget=forms.Textarea(attrs={"rows": 4})
    )


class PlanPoints(forms.Form):
    """Which areas get the point: those ticked, or all that have the coat and not yet this point."""

    title = forms.CharField(
        label="Title", max_length=160, help_text="What is accepted, such as “Primer before build coat”"
    )
    kind = forms.ChoiceField(
        label="Kind",
        choices=HoldPoint.Kind.choices,
        help_text="Work stops at a hold point until the client releases it; a witness point invites them to be there.",
    )
    coat = forms.ModelChoiceField(Coat.objects.none(), label="After coat", empty_label="Choose")
    every = forms.BooleanField(
        label="On every area that has this coat and not yet this point", required=False, initial=False
    )
    areas = forms.ModelMultipleChoiceField(
        InspectionArea.objects.none(), label="Areas", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["coat"].queryset = Coat.objects.filter(system__project=project).select_related("system")  # type: ignore[attr-defined]
        self.fields["coat"].label_from_instance = lambda coat: f"{coat.system.name}: {coat}"  # type: ignore[attr-defined]
        self.fields["areas"].queryset = (  # type: ignore[attr-defined]
            InspectionArea.objects.filter(structure__project=project).select_related("structure").order_by("code")
        )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        coat, kind = values.get("coat"), values.get("kind")
        if values.pop("every", False) and coat and kind:
            values["areas"] = (
                InspectionArea.objects.filter(system=coat.system_id)
                .exclude(holdpoints__in=HoldPoint.objects.filter(coat=coat, kind=kind))
                .select_related("structure")
                .order_by("code")
            )
        values["areas"] = list(values.get("areas") or ())
        return values


class RenamePoint(forms.Form):
    title = forms.CharField(label="Title", max_length=160)


class RaiseNonconformance(forms.Form):
    area = forms.ModelChoiceField(InspectionArea.objects.none(), label="Area", empty_label="Choose")
    coat = forms.ModelChoiceField(Coat.objects.none(), label="Coat", empty_label="Choose")
    title = forms.CharField(label="What does not conform", max_length=200)
    description = forms.CharField(
        label="Description", required=False, max_length=4_000, widget=forms.Textarea(attrs={"rows": 5})
    )

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        areas = InspectionArea.objects.visible_to(by).filter(structure__project=project)
        self.fields["area"].queryset = areas.select_related("structure").order_by("code")  # type: ignore[attr-defined]
        self.fields["coat"].queryset = Coat.objects.filter(system__project=project).select_related("system")  # type: ignore[attr-defined]
        self.fields["coat"].label_from_instance = lambda coat: f"{coat.system.name}: {coat}"  # type: ignore[attr-defined]


class RecordRepair(forms.Form):
    repair = forms.CharField(label="What was done", max_length=4_000, widget=forms.Textarea(attrs={"rows": 4}))
