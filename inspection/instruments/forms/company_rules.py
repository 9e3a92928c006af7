"""The form by which the quality manager chooses what holds for the instruments."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from inspection.foundation.form_fields import Figure, WholeFigure
from inspection.instruments.actions.company_rules import CHOSEN, LONGEST_REASON
from inspection.instruments.models import InstrumentRules


class ChooseRules(forms.Form):
    overdue = forms.ChoiceField(
        label="What has run out", choices=InstrumentRules.Overdue.choices, widget=forms.RadioSelect,
        help_text="The certificate of a gauge, a standard or a climate meter; the qualification of a person",
    )  # fmt: skip
    combination = forms.ChoiceField(
        label="Accuracies of gauge and standard combine as", choices=InstrumentRules.Combination.choices,
        widget=forms.RadioSelect,
        help_text="Checks judged before keep theirs. The sum is never the narrower tolerance.",
    )  # fmt: skip
    escalate_after_days = WholeFigure(
        label="Tell the administrators after this many days", example="7",
        help_text="Of what is then still overdue; 1 to 365",
    )  # fmt: skip
    cost_of_a_reading = Figure(
        label="What measuring again costs, a reading", required=False, example="1.50",
        help_text="All in, as the company reckons it; empty if it does not",
    )  # fmt: skip
    currency = forms.CharField(label="Currency", required=False, max_length=3, help_text="ISO 4217, such as EUR")
    reason = forms.CharField(
        label="Why", max_length=LONGEST_REASON, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Kept with the choice; earlier choices stay readable",
    )  # fmt: skip
    seen_at = forms.DateTimeField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, held: InstrumentRules) -> None:
        values = {name: getattr(held, name) for name in CHOSEN} | {"seen_at": timezone.now().isoformat()}
        super().__init__(data, initial=values)
