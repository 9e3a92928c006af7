"""The form of hardness tests: a line for each place."""

from __future__ import annotations

from typing import Any

from django import forms

from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.hardness.models import HardnessRecord
from inspection.fieldwork.hardness.recording import BY_PENCILS, BY_READINGS, GIVEN_BY, METHODS
from inspection.fieldwork.tested_forms import TestByMethod, figure
from inspection.foundation.form_fields import LinesField, Row, number, placed
from inspection.instruments.models import Gauge


def place_of(line: str) -> Row:
    """`place: found` as a row."""
    place, found = placed(line, "frame 12: H H")
    return {"place": place, "found": found}


def line_of(place: Row) -> str:
    if "pencils" in place:
        return f"{place['place']}: {' '.join(place['pencils'])}"
    return f"{place['place']}: {' '.join(f'{each:g}' for each in place.get('readings') or place['lengths_mm'])}"


class Hardness(TestByMethod):
    model = HardnessRecord
    instrument = Gauge.Kind.HARDNESS
    figures = ("method", "places", "least")
    stay = ("method", "least", "pencil_set", "least_film_um")
    field_order = (
        "area", "coat", "id", "taken_at", "method", "places", "least", "dry_film_um", "least_film_um", "cured_h",
        "steel_c", "pencil_set", "gauge", "note",
    )  # fmt: skip

    method = forms.ChoiceField(
        label="Method",
        choices=[
            ("ASTM D3363 gouge", "Pencil, ASTM D3363, the hardest that does not gouge"),
            ("ASTM D3363 scratch", "Pencil, ASTM D3363, the hardest that does not scratch"),
            ("ISO 2815 Buchholz", "Buchholz, ISO 2815, by the length of dents"),
            *((name, name) for name in METHODS[3:]),
        ],
    )
    places = LinesField(
        place_of, label="Places, a line for each",
        help_text="Place and what was found: frame 12: H H for both trials of a pencil, 1.0 1.1 1.0 for dents in mm, "
        "34 35 36 for readings.",
    )  # fmt: skip
    least = forms.CharField(
        label="Least pencil, resistance or mean", required=False, max_length=10,
        help_text="By the contract or the maker’s sheet. Empty: nothing is judged.",
    )  # fmt: skip
    dry_film_um = figure("Dry film, µm", example="240")
    least_film_um = figure("Least film for these dents, µm", "From the annex of ISO 2815.", example="20")
    cured_h = figure("Cured for, h", "Since application.", example="168")
    steel_c = figure("Temperature of the film, °C", example="23")
    pencil_set = forms.CharField(
        label="Set of pencils", required=False, max_length=200, help_text="Its number or batch; sets differ."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["gauge"].label = "Hardness tester"

    def read(self, method: str, found: str) -> Row:
        """What was found at a place, by the method. Raises ValueError saying what is wanted."""
        if method in BY_PENCILS:
            return {"pencils": found.upper().split()}
        wanted = (
            "give readings, separated by spaces" if method in BY_READINGS else "give lengths in mm, such as 1.0 1.1"
        )
        return {GIVEN_BY.get(method, "readings"): [number(each, wanted) for each in found.split()]}


class HardnessCorrection(Hardness, Corrected):
    pass
