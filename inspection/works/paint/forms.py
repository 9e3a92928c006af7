"""Forms of batches and mixes: times are typed as the project's clocks show them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.form_fields import Day, Figure, LocalMoment, WholeFigure
from inspection.foundation.ids import new_id
from inspection.foundation.labels import SHEETS
from inspection.foundation.typed_codes import TypedChoice
from inspection.projects.forms import Because, UploadTable
from inspection.projects.models import Coat, Party, Project
from inspection.works.entering import parties_for
from inspection.works.forms import zoned
from inspection.works.models import BatchStep, Mix, PaintBatch
from inspection.works.paint.models import Component, Unit
from inspection.works.paint.queries import BatchNow, batches_now, batches_seen, coats_for
from inspection.works.paint.reckoning import PartSent

FEWEST_PARTS, MOST_PARTS = 4, 40


class WithFile(forms.Form):
    """With a file, or one that was chosen when the form was sent before."""

    def __init__(self, *args: Any, held: UploadedContent | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.held = held

    def clean_file(self) -> UploadedContent | None:
        file = self.cleaned_data["file"]
        return UploadedContent(file.name, file.read(settings.UPLOAD_MAX_BYTES + 1)) if file else self.held


def party_field(form: forms.Form, by: Person, project: Project) -> None:
    """Let the form's party be one for which the person enters paint; none is asked where there is only one."""
    found = parties_for(by, project)
    field: Any = form.fields["party"]
    field.queryset = Party.objects.filter(pk__in=[party.pk for party in found]).select_related("organisation")
    field.initial = found[0] if found else None
    field.label_from_instance = lambda party: str(party.organisation)
    if len(found) < 2:
        del form.fields["party"]


class AboutBatch(WithFile):
    party = forms.ModelChoiceField(Party.objects.none(), label="Whose paint", empty_label=None, required=False)
    product = forms.CharField(label="Product", max_length=120, help_text="As the coating system names it")
    component = forms.ChoiceField(label="Component", choices=Component.choices)
    number = forms.CharField(label="Batch number", max_length=60)
    made_on = Day(label="Made on", required=False)
    expires_on = Day(label="Expires on", required=False, help_text="The last day on which it may be mixed")
    received = Figure(label="Received", example="160")
    unit = forms.ChoiceField(label="In", choices=Unit.choices)
    containers = WholeFigure(
        label="Containers", required=False, example="10", help_text="So that whole kits can be told"
    )
    received_at = LocalMoment(label="Received at")
    received_by = forms.CharField(label="Received by", max_length=120, required=False)
    place = forms.CharField(label="Stored in", max_length=120, required=False)
    storage_min_c = Figure(label="To be stored at least at, °C", required=False, example="5")
    storage_max_c = Figure(label="To be stored at most at, °C", required=False, example="35")
    file = forms.FileField(label="Batch certificate", required=False, help_text="PDF, PNG or JPEG")
    note = forms.CharField(label="Note", max_length=2_000, required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        party_field(self, by, project)
        zoned(self, project)


class ReceiveBatch(AboutBatch):
    id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        initial = {"id": new_id(), "received_at": timezone.now(), "received_by": by.name}
        super().__init__(*args, by=by, project=project, **{"initial": initial} | kwargs)


class CorrectBatch(AboutBatch, Because):
    field_order = (*AboutBatch.base_fields, "reason")

    def __init__(self, *args: Any, by: Person, batch: PaintBatch, **kwargs: Any) -> None:
        initial = {name: getattr(batch, name) for name in AboutBatch.base_fields if name not in ("party", "file")}
        for name in ("received", "storage_min_c", "storage_max_c"):
            initial[name] = plain(initial[name])
        super().__init__(*args, by=by, project=batch.project, **{"initial": initial} | kwargs)
        self.fields.pop("party", None)
        self.fields["file"].help_text = "PDF, PNG or JPEG; without one the file that is kept stays"


def plain(value: Any) -> Any:
    return value if value is None else f"{value.normalize():f}"


class OneStep(forms.Form):
    """What befalls a batch; its id comes with the form, so that it is stored once."""

    id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, thing: PaintBatch, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"id": new_id(), "at": timezone.now()}} | kwargs)
        zoned(self, thing.project)


class Extend(OneStep, WithFile):
    expires_on = Day(label="Extended until", help_text="The last day on which it may be mixed, as the maker writes")
    dated = Day(label="The maker’s letter is dated", help_text="The extension counts from this day on")
    reference = forms.CharField(label="Its reference", max_length=120, help_text="Its number, or who wrote it to whom")
    file = forms.FileField(label="The letter itself", required=False, help_text="PDF, PNG or JPEG")
    why = forms.CharField(label="Note", max_length=1_000, required=False, help_text="Such as what was tested again")


class SetApart(OneStep):
    at = LocalMoment(label="From")
    why = forms.CharField(label="Why", max_length=1_000, help_text="Such as dented containers, or frost in the store")


class Release(OneStep):
    at = LocalMoment(label="At")
    why = forms.CharField(label="What was found", max_length=1_000, help_text="And who allows it to be used")


class Why(Because):
    def __init__(self, *args: Any, thing: PaintBatch | BatchStep | Mix, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)


class UploadBatches(UploadTable):
    party = forms.ModelChoiceField(Party.objects.none(), label="Whose paint", empty_label=None, required=False)

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        party_field(self, by, project)


class ChooseBatches(forms.Form):
    """Which batches get a label, on what sheets, and where a begun sheet goes on."""

    sheet = forms.ChoiceField(label="Sheets", choices=[(name, sheet.label) for name, sheet in SHEETS.items()])
    start = WholeFigure(
        label="Begin at label", example="1", initial="1",
        help_text="Counted from the top left, row by row; 1 for a new sheet",
    )  # fmt: skip
    copies = WholeFigure(label="Labels for each batch", example="1", initial="1")
    batch = forms.MultipleChoiceField(label="Batches", widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, batches: Sequence[PaintBatch], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batches = {str(batch.pk): batch for batch in batches}
        field: Any = self.fields["batch"]
        field.choices = [(pk, str(batch)) for pk, batch in self.batches.items()]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        sheet = SHEETS.get(values.get("sheet", ""))
        if sheet and values.get("start") is not None and not 1 <= values["start"] <= sheet.count:
            self.add_error("start", f"A sheet has labels 1 to {sheet.count}.")
        if values.get("copies") is not None and not 1 <= values["copies"] <= 100:
            self.add_error("copies", "Print 1 to 100 labels for each batch.")
        return values

    def chosen(self) -> list[PaintBatch]:
        return [self.batches[pk] for pk in self.cleaned_data["batch"] for _ in range(self.cleaned_data["copies"])]


# --- mixes ------------------------------------------------------------------------------------------------------------


class AboutMix(forms.Form):
    party = forms.ModelChoiceField(Party.objects.none(), label="Mixed by", empty_label=None, required=False)
    coat = forms.ModelChoiceField(Coat.objects.none(), label="For the coat", required=False, empty_label="None of them")
    mixed_at = LocalMoment(label="Mixed at")
    stirred = forms.ChoiceField(label="Stirred", choices=Mix.Stirred.choices)
    paint_c = Figure(label="Paint, °C", required=False, example="18", help_text="Measured in the mixed paint")
    used_from = LocalMoment(label="Used from", required=False, help_text="Empty: not told yet")
    used_until = LocalMoment(label="Used until", required=False)
    note = forms.CharField(label="Note", max_length=2_000, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    reason = forms.CharField(
        label="Why it was mixed all the same", max_length=1_000, required=False,
        help_text="Only for a batch that was expired, in quarantine or withdrawn; it is kept with the mix",
    )  # fmt: skip

    def __init__(self, *args: Any, by: Person, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        party_field(self, by, project)
        field: Any = self.fields["coat"]
        field.queryset = coats_for(by, project)
        field.label_from_instance = lambda coat: f"{coat.system}: {coat}, {coat.product}"
        zoned(self, project)


class RecordMix(AboutMix):
    id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"id": new_id(), "mixed_at": timezone.now()}} | kwargs)


class CorrectMix(AboutMix):
    why = forms.CharField(label="Why it is corrected", max_length=200, help_text="The journal keeps it.")

    def __init__(self, *args: Any, mix: Mix, **kwargs: Any) -> None:
        initial = {name: getattr(mix, name) for name in AboutMix.base_fields if name != "party"}
        initial["paint_c"] = plain(mix.paint_c)
        super().__init__(*args, project=mix.project, **{"initial": initial} | kwargs)
        self.fields.pop("party", None)


class TellUse(forms.Form):
    used_from = LocalMoment(label="Used from")
    used_until = LocalMoment(label="Used until", required=False, help_text="Empty: still in use")

    def __init__(self, *args: Any, thing: Mix, **kwargs: Any) -> None:
        initial = {"used_from": thing.used_from or timezone.now(), "used_until": thing.used_until}
        super().__init__(*args, **{"initial": initial} | kwargs)
        zoned(self, thing.project)


class PartLine(forms.Form):
    """One batch of a mix; a line that is left empty is none."""

    batch = TypedChoice(label="Batch", required=False)
    containers = WholeFigure(label="Whole containers", required=False, example="2")
    amount = Figure(label="Or measured", required=False, example="16.5")
    unit = forms.ChoiceField(label="In", choices=[("", "as the batch"), *Unit.choices], required=False)

    def __init__(
        self, data: Any = None, *, number: int, batches: dict[str, BatchNow], initial: dict[str, Any] | None = None
    ) -> None:
        super().__init__(data, prefix=f"part{number}", initial=initial)
        self.caption, self.batches = f"Batch {number}", batches
        field: Any = self.fields["batch"]
        field.choices = [("", "None"), *((pk, told(now)) for pk, now in batches.items())]
        field.codes = [(now.batch.number, pk) for pk, now in batches.items()]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        given = [name for name in ("containers", "amount") if values.get(name) is not None]
        if given and not values.get("batch") and "batch" not in self.errors:
            self.add_error("batch", ValidationError("Choose the batch of which so much was mixed."))
        return values

    def sent(self) -> PartSent | None:
        values = self.cleaned_data
        if not values.get("batch"):
            return None
        batch = self.batches[values["batch"]].batch
        return PartSent(batch, values["containers"], values["amount"], values["unit"])


def told(now: BatchNow) -> str:
    return f"{now.batch} ({now.fitness.words.lower()}; {now.left_told} left)"


def part_lines(by: Person, project: Project, data: Any = None, mix: Mix | None = None) -> list[PartLine]:
    """The lines of a mix as it stands, and some to fill in."""
    batches = {str(now.batch.pk): now for now in batches_now(list(batches_seen(by, project.pk)))}
    there = [
        {"batch": str(part.batch_id), "containers": part.containers, "unit": part.unit,
         "amount": None if part.containers else plain(part.amount)}
        for part in (mix.parts.filter(taken_out_at=None).order_by("batch__component") if mix else ())
    ]  # fmt: skip
    asked = str(data.get("lines", "")) if data else ""
    count = int(asked) if asked.isdecimal() and 0 < int(asked[:4]) <= MOST_PARTS else len(there) + FEWEST_PARTS
    initial = [*there, *({} for _ in range(count))]
    return [PartLine(data, number=n, batches=batches, initial=initial[n - 1]) for n in range(1, count + 1)]
