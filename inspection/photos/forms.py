"""Forms of photos; the actions judge what they read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from inspection.foundation.attachments import UploadedContent
from inspection.foundation.refusals import Fault, Refused
from inspection.photos import layers
from inspection.photos.picture import MOST_BYTES

# At once by the page; each is read and decoded within the one request.
MOST_FILES = 12
EMPTY_ROWS = 3


class ManyFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Several files, in the order they were chosen."""

    widget = ManyFiles

    def clean(self, data: Any, initial: Any = None) -> list[UploadedContent]:
        sent = data if isinstance(data, list | tuple) else [data] if data else []
        if not sent:
            raise forms.ValidationError("Take or choose at least one photo.")
        if len(sent) > MOST_FILES:
            raise forms.ValidationError(f"These are {len(sent)} photos; at most {MOST_FILES} are sent at once.")
        return [UploadedContent(file.name or "photo", file.read(MOST_BYTES + 1)) for file in sent]


class AddPhotos(forms.Form):
    # Made when the form is first shown, so that sending it twice keeps each photo once.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    files = FilesField(  # type: ignore[assignment]  # named as what is sent; a form keeps its own elsewhere
        label="Photos",
        help_text=f"JPEG, PNG, HEIC or WebP, each at most {MOST_BYTES // 2**20} MB, up to {MOST_FILES} at once.",
        widget=ManyFiles(attrs={"accept": "image/*,.heic,.heif", "capture": "environment"}),
    )
    caption = forms.CharField(
        label="What they show", max_length=200, required=False,
        help_text="Such as: rust stains at the weld of frame 12. Each can be given its own afterwards.",
    )  # fmt: skip
    at_once = forms.BooleanField(
        label="Taken just now", required=False,
        help_text="Then the camera's clock is compared with the site's.",
    )  # fmt: skip

    def __init__(self, *args: Any, camera: bool = True, **kwargs: Any) -> None:
        """With the camera opened by the field, or with what is on the device to choose from."""
        super().__init__(*args, **kwargs)
        if not camera:
            self.fields["files"].widget.attrs.pop("capture")


class Caption(forms.Form):
    caption = forms.CharField(label="What it shows", max_length=200, required=False)


class Change(Caption):
    shown = forms.BooleanField(
        label="Show it to the client and to the contractor whose area it is", required=False,
        help_text="Look first whether somebody can be recognised in it.",
    )  # fmt: skip
    in_report = forms.BooleanField(
        label="Print it in the daily report", required=False, help_text="Beside its record; of those shown only."
    )


class Withdraw(forms.Form):
    reason = forms.CharField(
        label="Why", max_length=2_000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="It leaves pages and reports; the bytes and this reason stay, and it can be brought back.",
    )  # fmt: skip


class Restore(forms.Form):
    reason = forms.CharField(label="Why it is brought back", max_length=2_000, widget=forms.Textarea(attrs={"rows": 3}))


class DrawOver(forms.Form):
    """A row for each shape, with cells of the grid for places; the rows left empty are none."""

    after = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=32_000)

    def __init__(self, data: Any = None, *, drawn: list[dict[str, Any]], after: int) -> None:
        super().__init__(data, initial={"after": after})
        self.drawn = drawn
        self.size = min(len(drawn) + EMPTY_ROWS, layers.MOST_SHAPES)
        choices = [("", "None"), *layers.SHAPES.items()]
        for number in range(1, self.size + 1):
            had = drawn[number - 1] if number <= len(drawn) else None
            self.fields[f"shape_{number}"] = forms.ChoiceField(
                label="Shape", choices=choices, required=False, initial=had["shape"] if had else ""
            )
            for name, label in (("from", "From cell"), ("to", "To cell")):
                at = had[name] if had else None
                self.fields[f"{name}_{number}"] = forms.CharField(
                    label=label, max_length=10, required=False, initial=layers.cell_of_place(at) if at else "",
                    widget=forms.TextInput(attrs={"size": 4, "autocomplete": "off", "autocapitalize": "characters"}),
                )  # fmt: skip
            self.fields[f"text_{number}"] = forms.CharField(
                label="Text", max_length=layers.LONGEST_TEXT, required=False, initial=had["text"] if had else ""
            )

    def rows(self) -> Iterable[tuple[int, list[Any]]]:
        for number in range(1, self.size + 1):
            yield number, [self[f"{name}_{number}"] for name in ("shape", "from", "to", "text")]

    def shapes(self, values: dict[str, Any]) -> list[dict[str, Any]]:
        """What is to be drawn; a cell left as it was keeps its exact place. Raises Refused naming the row's field."""
        found: list[dict[str, Any]] = []
        faults: list[Fault] = []
        numbers: list[int] = []
        for number in range(1, self.size + 1):
            sent = {name: values.get(f"{name}_{number}") or "" for name in ("shape", "from", "to", "text")}
            if not any(sent.values()):
                continue
            had = self.drawn[number - 1] if number <= len(self.drawn) else None
            try:
                places = {name: self._place(sent[name], had, name, number) for name in ("from", "to")}
            except Refused as refusal:
                faults += refusal.faults
                continue
            found.append({"shape": sent["shape"], "text": sent["text"], **places})
            numbers.append(number)
        try:
            checked = layers.checked(found)
        except Refused as refusal:
            faults += [Fault(each.message, each.field, numbers[each.row - 1] if each.row else None)
                       for each in refusal.faults]  # fmt: skip
        if faults:
            raise Refused([Fault(each.message, f"{each.field}_{each.row}") for each in faults])
        return checked

    def _place(self, text: str, had: dict[str, Any] | None, name: str, number: int) -> list[float] | None:
        if not text.strip():
            return None
        before = had[name] if had else None
        if before and layers.cell_of_place(before) == text.strip().upper():
            return list(before)
        return list(layers.place_of_cell(text, field=name, row=number))
