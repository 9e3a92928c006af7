"""The form of cut tests: a line for each cut, with its rating on the scale chosen."""

from __future__ import annotations

from django import forms

from inspection.fieldwork.cuttest.models import CutTestRecord
from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.tested_forms import FilmTest, figure
from inspection.foundation.form_fields import LinesField, Row, placed
from inspection.standards.adhesion_cuts import SCALES

EXAMPLE = "frame 12, web: 1"


def cut_of(line: str) -> Row:
    """`place: rating` as a row; what the tape took off may follow after a semicolon."""
    place, found = placed(line, EXAMPLE)
    rating, _, seen = found.partition(";")
    return {"place": place, "rating": rating.strip().upper(), "seen": seen.strip()}


def line_of(cut: Row) -> str:
    return f"{cut['place']}: {cut['rating']}{'; ' + cut['seen'] if cut.get('seen') else ''}"


class CutTest(FilmTest):
    model = CutTestRecord
    instrument = None
    figures = ("scale", "cuts", "worst_rating", "dry_film_um", "spacing_mm")
    stay = ("scale", "edition", "worst_rating", "cuts_wanted", "dry_film_um", "spacing_mm", "spacing_agreed", "tool")
    field_order = (
        "area", "coat", "id", "taken_at", "scale", "edition", "cuts", "worst_rating", "cuts_wanted", "dry_film_um",
        "spacing_mm", "spacing_agreed", "substrate", "textured", "tool", "note",
    )  # fmt: skip

    scale = forms.ChoiceField(
        label="Scale",
        choices=[(name, f"{name}, {known[0]} best to {known[-1]} worst") for name, known in SCALES.items()],
        help_text="That of the contract. Scales run opposite ways and are never converted into one another.",
    )  # fmt: skip
    edition = forms.CharField(label="Edition", required=False, max_length=20, help_text="Such as 2020.")
    cuts = LinesField(
        cut_of, label="Cuts, a line for each",
        help_text=f"Place and rating, such as {EXAMPLE}; what came off may follow after a semicolon. Each cut is to be "
        "mended: an item of rework is opened at its place.",
    )  # fmt: skip
    worst_rating = forms.CharField(
        label="Worst rating allowed", required=False, max_length=2,
        help_text="By the contract, on the same scale. Empty: nothing is judged.",
    )  # fmt: skip
    cuts_wanted = forms.IntegerField(label="Cuts the contract asks for", min_value=1, max_value=100_000, initial=1)
    dry_film_um = figure("Total dry film, µm", "The spacing follows from it; ISO 2409 ends at 250 µm.", required=True,
                         example="180")  # fmt: skip
    spacing_mm = figure(
        "Spacing of the lattice, mm", "ISO 2409: 1 to 60 µm on hard steel, 2 to 120 µm, 3 to 250 µm (from memory). "
            "ASTM "
        "D3359 B: 1 to 50 µm, 2 to 125 µm. Empty for an X-cut.", example="2",
    )  # fmt: skip
    spacing_agreed = forms.BooleanField(label="The parties agreed on this spacing", required=False)
    substrate = forms.ChoiceField(label="Substrate", choices=[("hard", "Hard, such as steel"), ("soft", "Soft")])
    textured = forms.BooleanField(label="The film is textured", required=False)
    tool = forms.CharField(
        label="Cutting tool", required=False, max_length=200, help_text="Results of different tools do not compare."
    )

    def clean_worst_rating(self) -> str:
        return str(self.cleaned_data["worst_rating"]).upper()


class CutTestCorrection(CutTest, Corrected):
    pass
