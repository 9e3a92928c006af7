"""The steps of checking an instrument that measures no coating: what for, on what, and how its readings are typed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from accounts.models import Person
from inspection.foundation.form_fields import LinesField, Row, number, set_up
from inspection.instruments.actions.verifications import FOUND_IS_UNADJUSTED
from inspection.instruments.advice import Choice
from inspection.instruments.models import Verification
from inspection.instruments.site_checks import SiteCheck, kinds_told
from inspection.projects.models import Project

FOUND = "found"


class Begin(forms.Form):
    """What the check is for, whether anything was adjusted before it, and on what it is made."""

    project = forms.ModelChoiceField(Project.objects.none(), label="Project", empty_label=None)
    purpose = forms.ChoiceField(label="Purpose", choices=Verification.Purpose.choices, widget=forms.RadioSelect)
    as_left = forms.ChoiceField(
        label="When", widget=forms.RadioSelect,
        choices=[(FOUND, "As found, before any adjusting"), ("left", "As left, after adjusting or without need of it")],
    )  # fmt: skip
    adjustment = forms.ChoiceField(
        label="Adjustment made before these readings", choices=Verification.Adjustment.choices, widget=forms.RadioSelect
    )
    on = forms.MultipleChoiceField(label="Checked on", widget=forms.CheckboxSelectMultiple)

    def __init__(
        self, *args: Any, by: Person, check: SiteCheck, corrected: Verification | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.check = check
        seen = Project.objects.visible_to(by)
        set_up(
            self, "project",
            queryset=seen.filter(pk=corrected.project_id) if corrected else seen.filter(closed_at=None),
        )  # fmt: skip
        wanted = f", on each of these kinds: {kinds_told(check.wants).replace(' or ', ' and ')}" if check.wants else ""
        self.fields["on"].error_messages["required"] = f"Choose a {kinds_told(check.on)}{wanted}."
        self.usable: dict[str, Choice] = {}

    def offer(self, choices: list[Choice], unit: str) -> None:
        """The standards that can be ticked, in their order."""
        self.usable = {str(choice.standard.pk): choice for choice in choices if not choice.why_not}
        set_up(self, "on", choices=[(pk, choice.label(unit)) for pk, choice in self.usable.items()])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        adjusted = values.get("adjustment", Verification.Adjustment.NONE) != Verification.Adjustment.NONE
        if values.get("as_left") == FOUND and adjusted:
            self.add_error("adjustment", FOUND_IS_UNADJUSTED)
        return values | {"surface": Verification.Surface.SMOOTH}

    def points(self) -> list[list[Choice]]:
        chosen = [self.usable[pk] for pk in self.usable if pk in self.cleaned_data["on"]]
        return [[choice] for choice in sorted(chosen, key=lambda choice: choice.value_nm)]


def figures_field(check: SiteCheck, **kwargs: Any) -> LinesField:
    """Readings in the unit of the check; of a reference instrument a line for each point, begun by what it showed."""
    if check.by_reference_read:
        example = "9500: 9600 9590"
        told = f"A line for each point: what the reference showed, a colon, what this one read or was set to: {example}"
    else:
        example = "84.1 84.3"
        told = f"In the order taken, apart by spaces, such as {example}"
    field = LinesField(lambda line: _read(line, check), rows=2, help_text=told, **kwargs)
    field.error_messages["required"] = f"Give the readings, such as {example}."
    return field


def _read(line: str, check: SiteCheck) -> Row:
    """A line as `readings`, and `reference` where the reference is an instrument."""
    if not check.by_reference_read:
        return {"readings": [number(word, f"give readings in {check.unit}") for word in line.split()]}
    shown, colon, rest = line.partition(":")
    if not colon or not rest.strip():
        raise ValueError("write what the reference showed, a colon and the readings, such as 9500: 9600")
    wanted = f"give figures in {check.unit}"
    return {"readings": [number(word, wanted) for word in rest.split()], "reference": number(shown, wanted)}


def written(reference: Decimal | None, readings: list[float]) -> str:
    """A point as somebody would type it."""
    shown = " ".join(f"{reading:g}" for reading in readings)
    return shown if reference is None else f"{reference.normalize():f}: {shown}"
