"""Forms of notices; the actions judge what they read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django import forms

from inspection.foundation.form_fields import Figure, InZone, LocalMoment, set_up
from inspection.notices.actions.common import LONGEST_NOTE, LONGEST_PLACE
from inspection.notices.models import Notice, NoticeStep
from inspection.plan.models import PlanLine
from inspection.projects.models import InspectionArea, Party


def _text(label: str, **more: Any) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=LONGEST_NOTE, widget=forms.Textarea(attrs={"rows": more.pop("rows", 3)}), **more
    )


class Timed(InZone):
    """When and where; what is doubtful of it is asked once, and stored when the same is sent again."""

    begins_at = LocalMoment(label="From")
    ends_at = LocalMoment(label="Until")
    meeting_place = forms.CharField(label="Where to meet", max_length=LONGEST_PLACE)

    @property
    def as_asked(self) -> str:
        """What a question was about; an answer holds for this and nothing else."""
        begins_at = self.cleaned_data.get("begins_at")
        return " ".join([begins_at.isoformat() if begins_at else "", *self._besides()])

    @property
    def is_confirmed(self) -> bool:
        return bool(self.data.get("confirmed") == self.as_asked)

    def _besides(self) -> list[str]:
        return []


class GiveNotice(Timed):
    """Which lines at which areas: the areas ticked, or all that the page was narrowed to."""

    # Made when the form is first shown, so that sending it twice stores one notice.
    id = forms.UUIDField(widget=forms.HiddenInput)
    lines = forms.MultipleChoiceField(label="Lines of the plan", widget=forms.CheckboxSelectMultiple)
    areas = forms.MultipleChoiceField(label="Areas", required=False, widget=forms.CheckboxSelectMultiple)
    every = forms.BooleanField(label="All areas narrowed to above", required=False)
    parties = forms.MultipleChoiceField(
        label="For whom", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Without a choice, everybody who holds or witnesses what you chose.",
    )  # fmt: skip
    told_m2 = Figure(
        label="Of these areas, m² that are ready to be inspected", required=False, example="120.5",
        help_text="Where it is less than all of them.",
    )  # fmt: skip
    note = _text(
        "Note", required=False, help_text="Such as access, lamps, whom to call. It goes to everybody notified."
    )
    field_order = ("lines", "areas", "every", "begins_at", "ends_at", "meeting_place", "parties", "told_m2", "note")

    def __init__(
        self, *args: Any, lines: Sequence[PlanLine], areas: Sequence[InspectionArea], parties: Sequence[Party],
        waiting: Mapping[UUID, set[UUID]], **kwargs: Any,
    ) -> None:  # fmt: skip
        """`waiting`: by area, the lines whose point waits there; where some do not, its label says which do."""
        super().__init__(*args, **kwargs)
        set_up(self, "lines", choices=[(str(line.pk), f"{line.number} {line.title}") for line in lines])
        set_up(self, "areas", choices=[(str(area.pk), self._offered(area, lines, waiting[area.pk])) for area in areas])
        set_up(self, "parties", choices=[(str(party.pk), str(party)) for party in parties])

    @staticmethod
    def _offered(area: InspectionArea, lines: Sequence[PlanLine], waiting: set[UUID]) -> str:
        only = [line.number for line in lines if line.pk in waiting]
        return f"{area.label} {area.name}" + (f" (only lines {', '.join(only)})" if len(only) < len(lines) else "")

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not values.get("areas") and not values.get("every"):
            self.add_error("areas", "Choose at least one area, or all that the page is narrowed to.")
        return values

    def _besides(self) -> list[str]:
        return [*sorted(self.cleaned_data.get("lines", ())), *sorted(self.cleaned_data.get("parties", ()))]


class MoveNotice(Timed):
    reason = _text("Why it is moved", help_text="Those who come read this.")
    sequence = forms.IntegerField(widget=forms.HiddenInput, min_value=0)


class Because(forms.Form):
    reason = _text("Why")


class RestoreNotice(Because):
    is_confirmed = property(lambda self: self.data.get("confirmed") == self.as_asked)
    as_asked = "short"


class TakeBack(Because):
    """Why something said for one of one's parties is taken back."""

    party = forms.ModelChoiceField(Party.objects.none(), label="For", empty_label=None)
    field_order = ("party", "reason")

    def __init__(self, *args: Any, parties: Sequence[Party], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "party", queryset=Party.objects.filter(pk__in=[party.pk for party in parties]))


class Outcome(forms.Form):
    outcome = forms.ChoiceField(
        label="The inspection was", widget=forms.RadioSelect,
        choices=[
            (Notice.State.HELD, "held"), (Notice.State.PARTLY, "held at some of its areas"),
            (Notice.State.NOT_HELD, "not held"),
        ],
    )  # fmt: skip
    why = forms.ChoiceField(
        label="Why not, or not everywhere", required=False, choices=[("", "–"), *NoticeStep.Why.choices]
    )
    reason = _text("Remark", required=False)
    areas = forms.MultipleChoiceField(
        label="Where it was held", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Only where it was held at some of its areas.",
    )  # fmt: skip

    def __init__(self, *args: Any, areas: Sequence[InspectionArea], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "areas", choices=[(str(area.pk), f"{area.label} {area.name}") for area in areas])
