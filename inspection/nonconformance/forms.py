"""Forms of nonconformances; the actions judge what they read."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from accounts.forms import signature
from accounts.models import Person, Role
from inspection.foundation.form_fields import Figure, InZone, LocalMoment, set_up
from inspection.foundation.units import Unit
from inspection.instruments.models import Gauge
from inspection.nonconformance.extent import BEARINGS, Found
from inspection.nonconformance.models import Disposition, ExtentSpot, Nonconformance
from inspection.nonconformance.sayings import Saying
from inspection.projects.models import Coat, InspectionArea, Party, Project
from inspection.works.lots.models import Lot
from inspection.works.paint.models import PaintBatch


class RaiseNonconformance(forms.Form):
    """What does not conform; of the fields that name it, the one that the choice above asks for."""

    # Made when the form is first shown, so that sending it twice raises one.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    title = forms.CharField(label="What does not conform", max_length=200)
    against = forms.ChoiceField(
        label="It is against", choices=Nonconformance.Against.choices,
        help_text="Only what is against an area holds points back. Fill in below what names it; leave the rest.",
    )  # fmt: skip
    area = forms.ModelChoiceField(
        InspectionArea.objects.none(), label="Area", empty_label="None", required=False,
        help_text="Asked, with the coat, where it is against an area.",
    )  # fmt: skip
    coat = forms.ModelChoiceField(Coat.objects.none(), label="Coat", empty_label="None", required=False)
    lot = forms.ModelChoiceField(Lot.objects.none(), label="Lot", empty_label="None", required=False)
    batch = forms.ModelChoiceField(PaintBatch.objects.none(), label="Paint batch", empty_label="None", required=False)
    gauge = forms.ModelChoiceField(Gauge.objects.none(), label="Instrument", empty_label="None", required=False)
    named = forms.CharField(
        label="Whose qualification, which procedure or which document", required=False, max_length=200,
        help_text="With its revision.",
    )  # fmt: skip
    description = forms.CharField(
        label="Description", required=False, max_length=4_000, widget=forms.Textarea(attrs={"rows": 5}),
        help_text="The clause that is not kept, what was seen, and how far it reaches.",
    )  # fmt: skip
    asked = forms.ModelChoiceField(
        Party.objects.none(), label="Who is to answer", empty_label="Nobody in particular", required=False
    )
    as_draft = forms.BooleanField(
        label="Leave it as a draft", required=False,
        help_text="It then holds nothing back until a quality manager issues it.",
    )  # fmt: skip

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        areas = InspectionArea.objects.visible_to(by).filter(structure__project=project)
        set_up(self, "area", queryset=areas.select_related("structure").order_by("code"))
        set_up(self, "coat", queryset=Coat.objects.filter(system__project=project).select_related("system"))
        set_up(self, "coat", label_from_instance=lambda coat: f"{coat.system}: {coat}")
        lots = Lot.objects.visible_to(by).filter(project=project).that_count().select_related("coat", "stripe")
        set_up(self, "lot", queryset=lots.order_by("-number"))
        set_up(self, "lot", label_from_instance=lambda lot: f"{lot}, {lot.of}")
        batches = PaintBatch.objects.visible_to(by).filter(project=project).that_count()
        set_up(self, "batch", queryset=batches.order_by("product", "number"))
        set_up(self, "gauge", queryset=Gauge.objects.visible_to(by).order_by("identity"))
        parties = Party.objects.visible_to(by).in_force().filter(project=project)
        set_up(self, "asked", queryset=parties.select_related("organisation").order_by("kind", "pk"))
        if by.is_contractors:
            del self.fields["gauge"]
        if not by.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER):
            del self.fields["as_draft"]


class Issue(forms.Form):
    password = signature()


class RecordRework(InZone):
    what = forms.CharField(label="What was done", max_length=4_000, widget=forms.Textarea(attrs={"rows": 4}))
    done_by = forms.CharField(label="Who did it", max_length=200, help_text="The painter, the crew or the firm")
    done_at = LocalMoment(label="When it was finished")


class Say(InZone):
    """One entry about a nonconformance, with the fields that its kind asks for."""

    # Made when the form is first shown, so that sending it twice makes one entry.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    kind = forms.CharField(widget=forms.HiddenInput)
    choice = forms.ChoiceField(widget=forms.RadioSelect)
    about = forms.ModelChoiceField(Disposition.objects.none(), label="Which action", empty_label="Choose")
    text = forms.CharField(max_length=4_000, widget=forms.Textarea(attrs={"rows": 3}))
    done_by = forms.CharField(label="Who is to do it", max_length=200)
    done_at = LocalMoment(label="When it was done")
    due = forms.DateField(label="By which day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, saying: Saying, to_do: list[Disposition], **kwargs: Any) -> None:
        super().__init__(*args, auto_id=f"{saying.kind.value}_%s", **kwargs)
        for name in ("choice", "about", "text", "done_by", "done_at", "due"):
            if name not in saying.asks:
                del self.fields[name]
        self.fields["text"].label = saying.text
        if "choice" in self.fields:
            set_up(self, "choice", choices=[(choice.value, choice.label) for choice in saying.choices])
            self.fields["choice"].label = saying.kind.label
        if "about" in self.fields:
            set_up(self, "about", queryset=Disposition.objects.filter(pk__in=[entry.pk for entry in to_do]))
            set_up(self, "about", label_from_instance=lambda entry: f"{entry.text[:80]} (due {entry.due})")


class MeasureSpot(forms.Form):
    """The next spot outward, or that there is none in its direction."""

    # Made when the form is first shown, so that sending it twice keeps one.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    direction = forms.TypedChoiceField(label="Direction", coerce=int)
    readings = forms.CharField(
        label="Readings of the spot", required=False, max_length=600,
        help_text="Separated by spaces, such as 85 92 88. Left out where there is nothing to measure.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    ended = forms.ChoiceField(
        label="Or nothing to measure, because", required=False, choices=[("", "–"), *ExtentSpot.Ended.choices]
    )
    by_units = forms.BooleanField(
        label="Count repeating units instead of steps of 1.5 m", required=False,
        help_text="For complex structures, and units whose largest dimension is under 3 m. Chosen with the first spot.",
    )  # fmt: skip
    note = forms.CharField(label="Note", required=False, max_length=200, help_text="Where it is, such as: frame 12.")

    def __init__(self, *args: Any, told: Found, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"auto_id": "spot_%s"})
        bearings = [(each, f"{each}, {BEARINGS[each - 1]}") for each in told.open_directions()]
        set_up(self, "direction", choices=bearings)
        self.fields["readings"].label = f"Readings of the spot, {Unit(unit).label}"
        if told.spots:
            del self.fields["by_units"]

    def clean_readings(self) -> list[str]:
        return str(self.cleaned_data["readings"]).replace(";", " ").split()


class OpenRework(forms.Form):
    """What is to be put right, and where."""

    # Made when the form is first shown, so that sending it twice opens one.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    area = forms.ModelChoiceField(InspectionArea.objects.none(), label="Area", empty_label="Choose")
    coat = forms.ModelChoiceField(Coat.objects.none(), label="Coat", empty_label="None in particular", required=False)
    what = forms.CharField(
        label="What is to be put right", max_length=200, help_text="Such as: misses behind a bracket."
    )
    place = forms.CharField(
        label="Where on the area",
        max_length=200,
        help_text="So that it is found again: frame 12, 40 cm above the weld.",
    )

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        areas = InspectionArea.objects.visible_to(by).filter(structure__project=project, retired_at=None)
        set_up(self, "area", queryset=areas.select_related("structure").order_by("code"))
        set_up(self, "coat", queryset=Coat.objects.filter(system__project=project).select_related("system"))
        set_up(self, "coat", label_from_instance=lambda coat: f"{coat.system}: {coat}")


class LookedAt(forms.Form):
    in_order = forms.ChoiceField(
        label="What was done is", choices=[("yes", "in order: close it"), ("no", "not in order: open it again")],
        widget=forms.RadioSelect,
    )  # fmt: skip
    note = forms.CharField(
        label="What was seen", required=False, max_length=4_000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Asked where it is not in order.",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or {}
        return values | {"in_order": values.get("in_order") == "yes"}


class MakeRepairedPart(forms.Form):
    """What is repaired of an area: its m², and which spots of the failing measurement lie within."""

    # Made when the form is first shown, so that sending it twice makes one part.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    area_m2 = Figure(label="Its surface, m²", help_text="As it is marked out on the steel.")
    left_out = forms.CharField(
        label="Spots of the failing measurement within it", max_length=600,
        help_text="By their numbers, separated by spaces, such as 3 4. The rest of the area is judged without them.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    note = forms.CharField(
        label="How it is marked",
        required=False,
        max_length=200,
        help_text="So that it is found again, as “chalk line”.",
    )

    def clean_left_out(self) -> list[int]:
        parts = self.cleaned_data["left_out"].replace(",", " ").replace(";", " ").split()
        if wrong := next((part for part in parts if not (part.isascii() and part.isdigit() and len(part) < 7)), None):
            raise ValidationError(f"“{wrong[:20]}” is no number of a spot; write them as 3 4.")
        return [int(part) for part in parts]

    @property
    def as_asked(self) -> str:
        """What a question was about; an answer holds for this and nothing else."""
        return f"{self.data.get('area_m2')} {self.data.get('left_out')}"

    @property
    def is_confirmed(self) -> bool:
        return bool(self.data.get("confirmed") == self.as_asked)


class UndoRepairedPart(forms.Form):
    reason = forms.CharField(
        label="Why it is undone", max_length=4_000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The area stands on its first measurement as before; what was recorded on the part stays readable.",
    )  # fmt: skip

    @property
    def as_asked(self) -> str:
        return "yes"

    @property
    def is_confirmed(self) -> bool:
        return bool(self.data.get("confirmed") == self.as_asked)


class DropRework(forms.Form):
    reason = forms.CharField(
        label="Why it is not to be done", max_length=4_000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Opened by mistake, or part of something else. It stays readable with this reason.",
    )  # fmt: skip


class Answer(forms.Form):
    text = forms.CharField(
        label="Your answer", max_length=4_000, widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What you propose, by when, or what came of it. It stays as it is written.",
    )  # fmt: skip


class Concede(forms.Form):
    reason = forms.CharField(
        label="Why it is accepted as it is",
        max_length=4_000,
        help_text="Of a client's concession that you record for them: who gave it, when, and where it is written.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    password = signature()


class Drop(forms.Form):
    reason = forms.CharField(
        label="Why it is not issued",
        max_length=4_000,
        help_text="The draft stays readable with this reason.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class TakeBack(forms.Form):
    reason = forms.CharField(
        label="Why it is taken back",
        max_length=4_000,
        help_text="The entry stays readable; what it closed is judged without it.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
