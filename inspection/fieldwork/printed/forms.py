"""Forms of printed sheets: which areas to print, a code typed off the paper, and what was written on it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django import forms
from django.forms import BoundField

from accounts import journal
from inspection.fieldwork.areas_next import MOST_NEXT, AreaNext
from inspection.fieldwork.forms import MomentField, SetUp, ThicknessField
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.printed.actions import LONGEST_NAME, MOST_AREAS
from inspection.fieldwork.printed.models import PrintedArea
from inspection.fieldwork.storing import LONGEST_NOTE, LONGEST_REASON
from inspection.foundation.form_fields import set_up
from inspection.foundation.units import Unit
from inspection.projects.models import Coat, InspectionArea


class Choose(forms.Form):
    """Areas to print, each with the coat that comes next there; the first few are chosen already."""

    # Made when the form is first shown, so that sending it twice prints one sheet.
    id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    every = forms.BooleanField(required=False)
    places = forms.MultipleChoiceField(label="Areas", widget=forms.CheckboxSelectMultiple, required=False)

    def __init__(self, *args: Any, areas: Iterable[AreaNext], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = {f"{each.area.pk}:{each.coat.pk}": each for each in areas}
        set_up(self, "places", choices=[(key, _told(each)) for key, each in self.offered.items()])
        free = [key for key, each in self.offered.items() if each.held_at is None]
        self.free = free[:MOST_AREAS]
        set_up(self, "places", initial=free[:MOST_NEXT])
        set_up(self, "every", label=f"All {len(self.free)} that can be measured now", disabled=not self.free)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not values.get("every") and not values.get("places") and "places" not in self.errors:
            self.add_error("places", "Choose at least one area.")
        return values

    @property
    def chosen(self) -> list[tuple[InspectionArea, Coat]]:
        """In the order in which they are listed."""
        wanted = {*self.cleaned_data["places"], *(self.free if self.cleaned_data["every"] else ())}
        return [(each.area, each.coat) for key, each in self.offered.items() if key in wanted]


def _told(each: AreaNext) -> str:
    held = ", waits at a hold point" if each.held_at else ""
    return f"{each.area}, after {each.coat.name} ({each.why}{held})"


class Typed(forms.Form):
    """The code off the paper."""

    code = forms.CharField(
        label="Code on the sheet", max_length=20, help_text="Such as K7M2QX-3; small letters and blanks do not matter.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )  # fmt: skip


class Because(forms.Form):
    reason = forms.CharField(label="Why", max_length=LONGEST_REASON)


class Enter(SetUp):
    """What was written on one area's paper: a box for each reading, in the order of the sheet."""

    first_reading_at = MomentField(label="First reading at")
    last_reading_at = MomentField(label="Last reading at")
    measured_by = forms.CharField(
        label="Measured by", required=False, max_length=LONGEST_NAME,
        help_text="As it stands on the paper, where somebody else measured; you answer for what you enter.",
    )  # fmt: skip
    void_reason = forms.CharField(
        label="Why readings were crossed out", required=False, max_length=LONGEST_REASON,
        help_text="Needed where a box “crossed out” is filled: they are kept, and do not count.",
    )  # fmt: skip
    note = forms.CharField(label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea({"rows": 2}))

    def __init__(self, *args: Any, printed: PrintedArea, **kwargs: Any) -> None:
        initial = {"area": printed.area, "coat": printed.coat}
        super().__init__(*args, area=printed.area, project=printed.sheet.project, initial=initial, **kwargs)
        self.printed, unit = printed, printed.sheet.project.unit
        # Given by the sheet: an area out of use, or a coat of a former revision, is entered as it stands there.
        for name, chosen in (("area", printed.area), ("coat", printed.coat)):
            set_up(self, name, queryset=type(chosen)._default_manager.filter(pk=chosen.pk), widget=forms.HiddenInput())
        self.boxes = [
            (spot, order, f"spot_{spot}_{order}")
            for spot in range(1, printed.plan["spots"] + 1)
            for order in range(printed.plan["readings_a_spot"] + 1)
        ]
        for spot, order, name in self.boxes:
            what = f"reading {order}" if order else "crossed out"
            label = f"Spot {spot}, {what}, in {Unit(unit).label}"
            self.fields[name] = ThicknessField(unit=unit, label=label, required=False)
            self.fields[name].widget.attrs |= {"size": "6", "aria-label": label, "class": "box"}

    @property
    def set_up_fields(self) -> list[BoundField]:
        """All but the boxes."""
        boxes = {name for *_, name in self.boxes}
        return [field for field in self.visible_fields() if field.name not in boxes]

    @property
    def rows(self) -> Iterator[tuple[int, list[BoundField], BoundField]]:
        """By spot, the boxes of its readings and the one for what was crossed out."""
        for spot in range(1, self.printed.plan["spots"] + 1):
            names = [name for number, order, name in self.boxes if number == spot and order]
            yield spot, [self[name] for name in names], self[f"spot_{spot}_0"]

    @property
    def rows_head(self) -> list[str]:
        return [str(at) for at in range(1, self.printed.plan["readings_a_spot"] + 1)]

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        crossed = [name for _, order, name in self.boxes if not order and values.get(name) is not None]
        if crossed and not values.get("void_reason", "").strip():
            self.add_error("void_reason", "Say why; a reading that is crossed out is kept with its reason.")
        if not any(values.get(name) is not None for *_, name in self.boxes) and not self.errors:
            raise forms.ValidationError("No reading is typed; fill the boxes in as they stand on the sheet.")
        return values

    @property
    def readings(self) -> list[ReadingSent]:
        """In the order of the sheet; what was crossed out comes before the readings of its spot."""
        values, found, placed = self.cleaned_data, [], dict[int, int]()
        for spot, order, name in self.boxes:
            if values.get(name) is not None:
                placed[spot] = placed.get(spot, 0) + 1
                reason = "" if order else values["void_reason"].strip()
                found.append(ReadingSent(spot, placed[spot], values[name], None, reason))
        return found

    @property
    def as_asked(self) -> str:
        """The digest of all that was typed; an answer to a question holds for that and nothing else."""
        told = {name: self.data.get(name, "") for name in sorted(self.fields)}
        return journal.digest_of({**told, "printed": str(self.printed.pk)})

    @property
    def is_confirmed(self) -> bool:
        return bool(self.data.get("confirmed") == self.as_asked)

    @property
    def sent(self) -> dict[str, Any]:
        """What the action asks beside the sheet."""
        names = (
            "gauge", "profile_way", "correction_nm", "profile_record", "first_reading_at", "last_reading_at",
            "measured_by", "note",
        )  # fmt: skip
        return {name: self.cleaned_data[name] for name in names} | {"readings": self.readings}
