"""The form of cure tests: a line for each place."""

from __future__ import annotations

from typing import Any

from django import forms

from inspection.fieldwork.cure.models import CureRecord
from inspection.fieldwork.cure.recording import HARDNESS_METHODS
from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.tested_forms import TestByMethod, figure
from inspection.foundation.form_fields import LinesField, Row, number, placed
from inspection.instruments.models import Gauge

YES, NO = ("yes", "as agreed"), ("no", "not as agreed")


def place_of(line: str) -> Row:
    """`place: found` as a row: yes or no, or a rating; of records of before, a pencil or readings."""
    place, found = placed(line, "frame 12: 4")
    return {"place": place, "found": found}


def line_of(place: Row) -> str:
    if "as_agreed" in place:
        found = "yes" if place["as_agreed"] else "no"
    elif "readings" in place:
        found = " ".join(f"{each:g}" for each in place["readings"])
    else:
        found = str(place.get("rating", place.get("pencil")))
    return f"{place['place']}: {found}"


class Cure(TestByMethod):
    model = CureRecord
    instrument = Gauge.Kind.HARDNESS
    figures = ("method", "places", "least")
    stay = ("method", "least", "solvent", "double_rubs", "agreed_double_rubs", "agreed_result")
    field_order = (
        "area", "coat", "id", "taken_at", "method", "places", "least", "solvent", "double_rubs", "agreed_double_rubs",
        "agreed_result", "dry_film_before_um", "dry_film_after_um", "cured_h", "steel_c", "gauge", "note",
    )  # fmt: skip

    method = forms.ChoiceField(
        label="Method",
        choices=[
            ("ASTM D4752", "ASTM D4752, solvent rub of zinc silicate, 5 best to 0"),
            ("ASTM D5402", "ASTM D5402, solvent rub of an organic film, as agreed"),
        ],
    )
    places = LinesField(
        place_of, label="Places, a line for each",
        help_text="Place and what was found: frame 12: 4 for a rating, yes or no for as agreed. Pencils, Barcol and "
        "Shore are a hardness test.",
    )  # fmt: skip
    least = forms.CharField(
        label="Least rating", required=False, max_length=10,
        help_text="By the contract. Empty: nothing is judged, but for ASTM D5402, where the result agreed is.",
    )  # fmt: skip
    solvent = forms.CharField(label="Solvent", required=False, max_length=200, help_text="ASTM D5402 fixes none.")
    double_rubs = forms.IntegerField(label="Double rubs made", required=False, min_value=1, max_value=1000)
    agreed_double_rubs = forms.IntegerField(label="Double rubs agreed", required=False, min_value=1, max_value=1000)
    agreed_result = forms.CharField(
        label="Result agreed", required=False, max_length=200, help_text="Such as: no colour on the cloth."
    )
    dry_film_before_um = figure("Dry film before, µm", example="80")
    dry_film_after_um = figure("Dry film after, µm", example="78")
    cured_h = figure("Cured for, h", "Since application.", example="48")
    steel_c = figure("Temperature of the steel, °C", example="18")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["gauge"].label = "Hardness tester"
        if self.initial.get("method") in HARDNESS_METHODS:
            self.offers(str(self.initial["method"]))

    def offers(self, method: str) -> None:
        """What the last test of before was made by is not offered to a new one."""
        for name in ("method", "least"):
            self.initial.pop(name, None)

    def read(self, method: str, found: str) -> Row:
        """What was found at a place, by the method. Raises ValueError saying what is wanted."""
        if method == "ASTM D5402":
            if found.lower() not in (*YES, *NO):
                raise ValueError("write yes where the result is as agreed, no where it is not")
            return {"as_agreed": found.lower() in YES}
        if method == "ASTM D3363":
            return {"pencil": found.upper()}
        if method == "ASTM D4752":
            rating = number(found, "give a rating from 0 to 5")
            return {"rating": int(rating) if rating == int(rating) else rating}
        return {"readings": [number(each, "give readings, separated by spaces") for each in found.split()]}


class CureCorrection(Cure, Corrected):
    """Of a record of before hardness was a kind of its own too, by its own method."""

    def offers(self, method: str) -> None:
        chosen = self.fields["method"]
        chosen.choices = [*chosen.choices, (method, f"{method}, as recorded")]  # type: ignore[attr-defined]  # a choice field's own
