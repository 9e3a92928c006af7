"""The form that asks how a file is read: its head, what each column is, which lines are noise, what it leaves out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django import forms

from inspection.fieldwork.reading_shape import LABELS, MEANINGS, heads_of, likely_noise
from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Refused
from inspection.foundation.shaping import HEAD_WITHIN, MOST_A_SPOT, SEPARATOR_NAMES, Shape, told, width_of
from inspection.foundation.units import Unit
from inspection.foundation.written_times import DAY_ORDERS
from inspection.instruments.models import Gauge

LINES_SHOWN = 12
MOST_LINES_ASKED = 60
LONGEST_LINE = 90
VALUES_SHOWN = 3
# Where sums and signatures stand.
LAST_LINES = 3
LONGEST_NUMBER = 8


class HowRead(forms.Form):
    """Asked of one sheet of a file; filled with the shape that is proposed for it."""

    # Of which sheet, separator and head the columns below were shown; others are looked at first.
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    unit = forms.ChoiceField(
        label="Unit of the readings", required=False, choices=[("", "As the file says"), *Unit.choices]
    )
    per_spot = forms.IntegerField(
        label="Readings of a spot", required=False, min_value=1, max_value=MOST_A_SPOT,
        help_text="Where no column is the spot: so many in the order of the file are one.",
    )  # fmt: skip
    day_order = forms.ChoiceField(
        label="Days such as 03/04/2026", required=False, choices=[("", "As the file says"), *DAY_ORDERS.items()]
    )
    day = forms.DateField(
        label="Day of the first reading", required=False, widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        help_text="Where the times have none.",
    )  # fmt: skip
    skipped = forms.MultipleChoiceField(
        label="Lines that are no readings", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Ticked lines are passed over; the file is kept whole all the same.",
    )  # fmt: skip
    remember = forms.BooleanField(required=False)

    def __init__(
        self, *args: Any, sheets: list[Sheet], shape: Shape, is_text: bool, gauge: Gauge, **kwargs: Any
    ) -> None:  # fmt: skip
        sheet = sheets[shape.sheet]
        width = max(width_of(sheet), len(shape.columns))
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
        for place, head in enumerate(heads_of(sheet, self.shape)[:width]):
            below = [cells[place] for number, cells in sheet.lines if number > shape.head and place < len(cells)]
            self.columns[place] = f"column_{place}"
            first[f"column_{place}"] = forms.ChoiceField(
                label=f"Column {place + 1}{f' “{head[:40]}”' if head and shape.head else ''}", required=False,
                choices=[("", "Not read"), *LABELS.items()],
                help_text=" · ".join(cell.strip()[:20] or "(empty)" for cell in below[:VALUES_SHOWN]),
            )  # fmt: skip
        self.fields = {**first, **self.fields}
        self.fields["skipped"].choices = self._lines(sheet)  # type: ignore[attr-defined]  # the field is one of choices
        self.fields["remember"].label = f"Offer this for the next file of gauge {gauge} with the same head"
        self.initial = {**_as_asked(self.shape), "remember": True, **self.initial}

    def _lines(self, sheet: Sheet) -> list[tuple[str, str]]:
        """The lines that are likely to be no readings, those said to be none, and the first and last under the head."""
        below = [number for number, _ in sheet.lines if number > self.shape.head]
        under = [*below[:LINES_SHOWN], *below[-LAST_LINES:]]
        ticked = {_whole(text) for text in self["skipped"].data or ()} if self.is_bound else set()
        asked = sorted({*under, *likely_noise(sheet, self.shape)[:MOST_LINES_ASKED], *self.shape.skipped, *ticked})
        cells = dict(sheet.lines)
        return [(str(number), _line(number, cells[number])) for number in asked if number in cells]

    @property
    def looks(self) -> bool:
        """Whether another sheet, separator or head is asked for than the columns were shown for."""
        return "look" in self.data or self.data.get("seen") != _seen(self.chosen)

    @property
    def chosen(self) -> Shape:
        """The sheet, separator and head that were sent, whatever else."""
        separator = self.data.get("separator", "")
        return Shape(
            sheet=_whole(self.data.get("sheet", "")), head=_whole(self.data.get("head", "")),
            separator=separator if separator in SEPARATOR_NAMES else "",
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if self.errors:
            return values
        sent = {
            **self.chosen.plain, "columns": [values.get(name, "") for name in self.columns.values()],
            "unit": values["unit"], "per_spot": values["per_spot"] or 0, "day_order": values["day_order"],
            "day": values["day"].isoformat() if values["day"] else "",
            "skipped": [int(each) for each in values["skipped"]],
        }  # fmt: skip
        try:
            values["shape"] = told(sent, MEANINGS)
        except Refused as refusal:
            for fault in refusal.faults:
                self.add_error(fault.field if fault.field in self.fields else None, fault.message)
        return values


def _as_asked(shape: Shape) -> dict[str, Any]:
    return {
        "seen": _seen(shape), "sheet": str(shape.sheet), "separator": shape.separator, "head": str(shape.head),
        "unit": shape.unit, "per_spot": shape.per_spot or None, "day_order": shape.day_order, "day": shape.day or None,
        "skipped": [str(number) for number in shape.skipped],
        **{f"column_{place}": name for place, name in enumerate(shape.columns)},
    }  # fmt: skip


def _seen(shape: Shape) -> str:
    return f"{shape.sheet} {shape.separator} {shape.head}"


def _whole(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < LONGEST_NUMBER else 0


def _line(number: int, cells: list[str]) -> str:
    return f"Line {number}: {'; '.join(cells)[:LONGEST_LINE]}"
