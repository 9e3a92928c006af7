"""The form that asks how the lines and columns of a table are read, whatever the table holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django import forms

from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Refused
from inspection.foundation.shaping import BLANKS, HEAD_WITHIN, SEPARATOR_NAMES, Meaning, Shape, heads_of, told, width_of
from inspection.foundation.written_times import DAY_ORDERS

LINES_SHOWN = 12
MOST_LINES_ASKED = 60
LONGEST_LINE = 90
VALUES_SHOWN = 3
# Where sums and signatures stand.
LAST_LINES = 3
LONGEST_NUMBER = 8


class ColumnsForm(forms.Form):
    """Asked of one sheet of a file; filled with the shape that is proposed for it. `noise` is likely no row."""

    # Of which sheet, separator and head the columns below were shown; others are looked at first.
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    day_order = forms.ChoiceField(
        label="Days such as 03/04/2026", required=False, choices=[("", "As the file says"), *DAY_ORDERS.items()]
    )
    day = forms.DateField(
        label="Day of the first row", required=False, widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        help_text="Where the times have none.",
    )  # fmt: skip
    blanks = forms.ChoiceField(
        label="Empty cells below a filled one mean", required=False,
        choices=[("", "As the file says"), *BLANKS.items()],
        help_text="Where a thing is written once for several rows.",
    )  # fmt: skip
    skipped = forms.MultipleChoiceField(
        label="Lines that are no rows of it", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Ticked lines are passed over.",
    )  # fmt: skip
    remember = forms.BooleanField(required=False)

    def __init__(
        self, *args: Any, sheets: list[Sheet], shape: Shape, is_text: bool, meanings: Sequence[Meaning],
        noise: Sequence[int] = (), **kwargs: Any,
    ) -> None:  # fmt: skip
        sheet = sheets[shape.sheet]
        width = max(width_of(sheet), len(shape.columns))
        self.meanings = meanings
        self.shape = replace(shape, columns=(*shape.columns, *[""] * (width - len(shape.columns))))
        self.columns: dict[int, str] = {}
        super().__init__(*args, **kwargs)
        first: dict[str, forms.Field] = {}
        if len(sheets) > 1:
            names = [(str(place), each.name) for place, each in enumerate(sheets)]
            first["sheet"] = forms.ChoiceField(label="Sheet", choices=names)
        if is_text:
            separators = [("", "As found"), *SEPARATOR_NAMES.items()]
            first["separator"] = forms.ChoiceField(label="Cells are parted by", required=False, choices=separators)
        heads = [(str(number), _line(number, cells)) for number, cells in sheet.lines[:HEAD_WITHIN]]
        first["head"] = forms.ChoiceField(label="Line with the names of the columns", choices=[("0", "None"), *heads])
        labels = [(one.name, one.label) for one in meanings]
        for place, head in enumerate(heads_of(sheet, self.shape)[:width]):
            below = [cells[place] for number, cells in sheet.lines if number > shape.head and place < len(cells)]
            self.columns[place] = f"column_{place}"
            first[f"column_{place}"] = forms.ChoiceField(
                label=f"Column {place + 1}{f' “{head[:40]}”' if head and shape.head else ''}", required=False,
                choices=[("", "Not read"), *labels],
                help_text=" · ".join(cell.strip()[:20] or "(empty)" for cell in below[:VALUES_SHOWN]),
            )  # fmt: skip
        self.fields = {**first, **self.fields}
        self.fields["skipped"].choices = self._lines(sheet, noise)  # type: ignore[attr-defined]  # one of choices
        self.initial = {**_as_asked(self.shape), "remember": True, **self.initial}

    def _lines(self, sheet: Sheet, noise: Sequence[int]) -> list[tuple[str, str]]:
        """The lines that are likely to be no rows, those said to be none, and the first and last under the head."""
        below = [number for number, _ in sheet.lines if number > self.shape.head]
        under = [*below[:LINES_SHOWN], *below[-LAST_LINES:]]
        # Read past the bound field, which keeps the label that it is first made with.
        box = self.fields["skipped"].widget
        sent = box.value_from_datadict(self.data, self.files, self.add_prefix("skipped")) if self.is_bound else ()
        ticked = {_whole(text) for text in sent or ()}
        asked = sorted({*under, *noise[:MOST_LINES_ASKED], *self.shape.skipped, *ticked})
        cells = dict(sheet.lines)
        return [(str(number), _line(number, cells[number])) for number in asked if number in cells]

    @property
    def looks(self) -> bool:
        """Whether another sheet, separator or head is asked for than the columns were shown for."""
        return "look" in self.data or self.data.get("seen") != _seen(self.chosen)

    @property
    def chosen(self) -> Shape:
        """The sheet, separator and head that were sent, whatever else."""
        return chosen_in(self.data)

    def sent_parts(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """What of the shape is told beside columns and lines."""
        return {}

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if self.errors:
            return values
        sent = {
            **self.chosen.plain, "columns": [values.get(name, "") for name in self.columns.values()],
            "day_order": values["day_order"], "day": values["day"].isoformat() if values.get("day") else "",
            "blanks": values.get("blanks", ""), "skipped": [int(each) for each in values["skipped"]],
            **self.sent_parts(values),
        }  # fmt: skip
        try:
            values["shape"] = told(sent, self.meanings)
        except Refused as refusal:
            for fault in refusal.faults:
                self.add_error(fault.field if fault.field in self.fields else None, fault.message)
        return values


def chosen_in(data: Mapping[str, Any]) -> Shape:
    """The sheet, separator and head that a form sent."""
    separator = data.get("separator", "")
    return Shape(
        sheet=_whole(data.get("sheet", "")), head=_whole(data.get("head", "")),
        separator=separator if separator in SEPARATOR_NAMES else "",
    )  # fmt: skip


def _as_asked(shape: Shape) -> dict[str, Any]:
    return {
        "seen": _seen(shape), "sheet": str(shape.sheet), "separator": shape.separator, "head": str(shape.head),
        "unit": shape.unit, "per_spot": shape.per_spot or None, "day_order": shape.day_order, "day": shape.day or None,
        "blanks": shape.blanks,
        "skipped": [str(number) for number in shape.skipped],
        **{f"column_{place}": name for place, name in enumerate(shape.columns)},
    }  # fmt: skip


def _seen(shape: Shape) -> str:
    return f"{shape.sheet} {shape.separator} {shape.head}"


def _whole(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < LONGEST_NUMBER else 0


def _line(number: int, cells: list[str]) -> str:
    return f"Line {number}: {'; '.join(cells)[:LONGEST_LINE]}"
