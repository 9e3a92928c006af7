"""The form of wet film readings: a line for each."""

from __future__ import annotations

from typing import Any

from django import forms

from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.tested_forms import FilmTest, figure
from inspection.fieldwork.wetfilm.models import WetFilmRecord
from inspection.foundation.form_fields import LinesField, Row, number, set_up
from inspection.works.models import Lot

EXAMPLE = "frame 12: 150"


def reading_of(line: str) -> Row:
    """Place, colon, the last tooth wetted in µm; or that alone."""
    place, _, read = line.rpartition(":")
    value = number(read.replace("µm", ""), f"write the tooth in µm, such as {EXAMPLE}")
    return {"place": place.strip(), "um": int(value) if value == value.to_integral_value() else value}


def line_of(reading: Row) -> str:
    return f"{reading['place']}: {reading['um']}" if reading.get("place") else str(reading["um"])


class _LotField(forms.ModelChoiceField):
    def label_from_instance(self, lot: Any) -> str:
        return f"{lot}, {lot.of}, {lot.begun_at.astimezone(lot.project.zone):%Y-%m-%d %H:%M}"


class WetFilm(FilmTest):
    model = WetFilmRecord
    instrument = None
    stay = ("thinner_pct",)
    figures = ("readings", "thinner_pct")
    field_order = ("area", "coat", "id", "taken_at", "lot", "thinner_pct", "readings", "note")

    lot = _LotField(Lot.objects.none(), label="Lot", required=False, empty_label="None that is recorded")
    thinner_pct = figure("Thinner added, % by volume", example="5")
    readings = LinesField(
        reading_of, rows=6, label="Readings of the comb, a line for each",
        help_text=f"Place, colon, the last tooth wetted in µm: {EXAMPLE}. Read at once, within a minute.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        coat = self.fields["coat"]
        coat.label, coat.help_text = "Of which coat", "While it is wet"
        lots = Lot.objects.that_count().filter(project=self.project, coat__isnull=False)
        set_up(self, "lot", queryset=lots.select_related("project", "coat__system", "stripe").order_by("-begun_at"))


class WetFilmCorrection(WetFilm, Corrected):
    pass
