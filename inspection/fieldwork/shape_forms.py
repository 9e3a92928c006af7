"""The form that asks how a file of readings is read: beside its columns, what it leaves out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from inspection.fieldwork.reading_shape import MEANINGS, likely_noise
from inspection.foundation.cells import Sheet
from inspection.foundation.shape_form import ColumnsForm
from inspection.foundation.shaping import MM, MOST_A_SPOT, Shape
from inspection.foundation.units import Unit
from inspection.instruments.models import Gauge


class HowRead(ColumnsForm):
    """Asked of one sheet of a file; filled with the shape that is proposed for it."""

    unit = forms.ChoiceField(
        label="Unit of the readings", required=False, choices=[("", "As the file says"), *Unit.choices, (MM, "mm")]
    )
    per_spot = forms.IntegerField(
        label="Readings of a spot", required=False, min_value=1, max_value=MOST_A_SPOT,
        help_text="Where no column is the spot: so many in the order of the file are one.",
    )  # fmt: skip

    def __init__(self, *args: Any, sheets: list[Sheet], shape: Shape, gauge: Gauge, **kwargs: Any) -> None:
        noise = likely_noise(sheets[shape.sheet], shape)
        super().__init__(*args, sheets=sheets, shape=shape, meanings=MEANINGS, noise=noise, **kwargs)
        self.order_fields([*(name for name in self.fields if name not in LAST), *LAST])
        # A reading's empty cells of area, spot and day always mean what stands above, which is told.
        del self.fields["blanks"]
        self.fields["day"].label = "Day of the first reading"
        self.fields["skipped"].label = "Lines that are no readings"
        self.fields["skipped"].help_text = "Ticked lines are passed over; the file is kept whole all the same."
        self.fields["remember"].label = f"Offer this for the next file of gauge {gauge} with the same head"

    def sent_parts(self, values: Mapping[str, Any]) -> dict[str, Any]:
        return {"unit": values["unit"], "per_spot": values["per_spot"] or 0}


LAST = ("unit", "per_spot", "day_order", "day", "skipped", "remember")
