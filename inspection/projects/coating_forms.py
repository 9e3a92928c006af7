"""Forms of coating systems, of data sheets of their products, and of stripe coats."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms

from inspection.foundation.form_fields import Figure, Thickness, WholeFigure, set_up
from inspection.foundation.units import Unit
from inspection.projects.actions import MOST_COATS, CoatSpec
from inspection.projects.coating import SaltsAs, SteelworkGrade
from inspection.projects.declared_rule import SHARE_MEANS, DeclaredRule
from inspection.projects.forms import Because
from inspection.projects.models import Coat, DataSheet, Project, StripeCoat


class AddSystem(forms.Form):
    name = forms.CharField(label="Name", max_length=120, help_text="As the specification names it")
    preparation_grade = forms.CharField(label="Preparation grade", max_length=40, help_text="Such as Sa 2½")
    profile_min_nm = Thickness(label="Least surface profile", required=False)
    profile_max_nm = Thickness(label="Greatest surface profile", required=False)
    salts_max_mg_m2 = Figure(label="Most soluble salts, mg/m²", required=False, example="50")
    salts_as = forms.ChoiceField(
        label="That limit is expressed as", required=False, choices=[("", "Not said"), *SaltsAs.choices],
        help_text="The same conductivity gives another figure for each. IMO PSPC: sodium chloride.",
    )  # fmt: skip
    dust_max_quantity = WholeFigure(label="Greatest quantity of dust, 1 to 5", required=False, example="2")
    dust_max_size = WholeFigure(
        label="Greatest size class of dust, 0 to 5", required=False, example="2", help_text="ISO 8502-3"
    )
    steelwork_grade = forms.ChoiceField(
        label="Preparation of welds, edges and surface", required=False, help_text="ISO 8501-3",
        choices=[("", "Not specified"), *SteelworkGrade.choices],
    )  # fmt: skip
    first_coat_within_h = Figure(
        label="First coat within, hours from the blast", required=False, example="8",
        help_text="Only where the specification says so.",
    )  # fmt: skip
    total_minimum_nm = Thickness(label="Total minimum", required=False)
    total_nominal_nm = Thickness(label="Total nominal", required=False)
    total_maximum_nm = Thickness(label="Total maximum", required=False)

    totals = ("total_minimum_nm", "total_nominal_nm", "total_maximum_nm")

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak_unit(self, project.unit)

    def main(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.totals]

    def film(self) -> list[forms.BoundField]:
        """The totals of the whole film."""
        return [self[name] for name in self.totals]


class SamplingTable(forms.CharField):
    """Rows of “up to so many m²: readings”, as pairs of Decimal and int."""

    widget = forms.Textarea

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=2_000, **kwargs)
        self.widget.attrs["rows"] = 3

    def to_python(self, value: Any) -> Any:
        lines = [line.strip() for line in (super().to_python(value) or "").splitlines() if line.strip()]
        return tuple(self._row(line) for line in lines)

    @staticmethod
    def _row(text: str) -> tuple[Decimal, int]:
        found = re.fullmatch(r"(\d{1,8}(?:[.,]\d{1,2})?)\s*[:=;\t ]\s*(\d{1,6})", text)
        if not found:
            raise forms.ValidationError(f"“{text[:40]}” is not a row; write up to how many m², and readings, as 10: 5.")
        return Decimal(found[1].replace(",", ".")), int(found[2])


class DeclaredFields(forms.Form):
    """What the project declares of a rule of its own; see `declared_rule.py`."""

    declared_name = forms.CharField(label="Name of the rule", max_length=120, required=False)
    declared_document = forms.CharField(
        label="Document it stands in", max_length=160, required=False, help_text="With edition and clause"
    )
    counted_from = forms.ChoiceField(
        label="Floors and share are counted from", required=False,
        choices=[("nominal", "the nominal thickness"), ("minimum", "the minimum thickness")],
    )  # fmt: skip
    mean_at_least_pct = Figure(label="Mean at least, % of it", required=False, example="100")
    each_at_least_pct = Figure(label="Each reading at least, % of it", required=False, example="80")
    share_below_pct = Figure(label="Share of readings below it, %", required=False, example="20")
    share_means = forms.ChoiceField(
        label="The share is", required=False, choices=[(words, words) for words in SHARE_MEANS]
    )
    mean_at_most_pct = Figure(label="Mean at most, % of the maximum", required=False, example="100")
    each_at_most_pct = Figure(label="Each reading at most, % of the maximum", required=False, example="100")
    table = SamplingTable(
        label="Sampling table", required=False,
        help_text="A row on each line: up to how many m², and readings, as 10: 5. Empty asks for no number.",
    )  # fmt: skip
    further_readings = WholeFigure(label="Beyond the table, further readings", required=False, example="5")
    further_m2 = Figure(label="for each further m²", required=False, example="10")

    # Chosen even where nothing is declared.
    always = ("counted_from", "share_means")

    def declared_rule(self) -> DeclaredRule | None:
        """What was declared; None where nothing was."""
        given: dict[str, Any] = {name: self.cleaned_data.get(name) for name in DeclaredFields.base_fields}
        if not any(value for name, value in given.items() if name not in self.always):
            return None
        name, document = given.pop("declared_name"), given.pop("declared_document")
        return DeclaredRule(
            name=name, document=document, **{field: value for field, value in given.items() if value != ""}
        )


class CoatRow(DeclaredFields):
    """One coat; its thicknesses are those of this coat alone."""

    name = forms.CharField(label="Coat", max_length=60, help_text="Such as primer")
    product = forms.CharField(label="Product", max_length=120)
    colour = forms.CharField(label="Colour", max_length=60, required=False)
    minimum_nm = Thickness(
        label="Minimum dry film thickness", required=False, help_text="SSPC-PA 2 judges by it and the maximum"
    )
    nominal_nm = Thickness(
        label="Nominal dry film thickness", required=False, help_text="ISO 19840 and IMO judge by it and the maximum"
    )
    maximum_nm = Thickness(label="Maximum dry film thickness", required=False, help_text="Only if one is specified")
    volume_solids_pct = Figure(label="Volume solids, %", example="65")
    rule = forms.ChoiceField(label="Judged by", choices=Coat.Rule.choices)
    pa2_level = forms.TypedChoiceField(
        label="Restriction level, SSPC-PA 2 only", coerce=int, empty_value=None, required=False,
        choices=[("", "none"), *((level, f"Level {level}") for level in range(1, 6))],
    )  # fmt: skip
    for_control = forms.BooleanField(
        label="For control only", required=False,
        help_text="A failing result stands as such; it raises no nonconformance, and no release hangs on it.",
    )  # fmt: skip
    data_sheet = forms.ModelChoiceField(
        DataSheet.objects.none(), label="Data sheet", required=False, empty_label="None recorded"
    )
    recoat_min_hours = Figure(label="Recoat after, hours", required=False, example="8")
    recoat_max_hours = Figure(label="Recoat before, hours", required=False, example="240")
    air_min_c = Figure(label="Air at least, °C", required=False, example="5")
    air_max_c = Figure(label="Air at most, °C", required=False, example="35")
    surface_min_c = Figure(label="Steel at least, °C", required=False, example="5")
    surface_max_c = Figure(label="Steel at most, °C", required=False, example="40")
    humidity_min_pct = Figure(
        label="Relative humidity at least, %", required=False, example="50",
        help_text="Zinc silicates and products that cure with moisture",
    )  # fmt: skip
    humidity_max_pct = Figure(label="Relative humidity at most, %", initial="85", example="85")
    margin_min_c = Figure(label="Steel above the dew point by at least, °C", initial="3", example="3")

    main_fields = ("name", "product", "colour", "minimum_nm", "nominal_nm", "maximum_nm", "volume_solids_pct", "rule",
                   "pa2_level", "for_control")  # fmt: skip

    def __init__(self, data: Any = None, *, project: Project, order: int) -> None:
        super().__init__(data, prefix=f"coat{order}")
        self.order = order
        self.caption = f"Coat {order}"
        set_up(self, "data_sheet", queryset=DataSheet.objects.filter(project=project))
        speak_unit(self, project.unit)

    def spec(self) -> CoatSpec:
        given = {name: value for name, value in self.cleaned_data.items() if name not in DeclaredFields.base_fields}
        decides = not given.pop("for_control")
        return CoatSpec(order=self.order, declared=self.declared_rule(), decides=decides, **given)

    def main(self) -> list[forms.BoundField]:
        return [self[name] for name in self.main_fields]

    def declaration(self) -> list[forms.BoundField]:
        return [self[name] for name in DeclaredFields.base_fields]

    def limits(self) -> list[forms.BoundField]:
        """The data sheet, the climate and recoat limits."""
        return [field for field in self if field.name not in (*self.main_fields, *DeclaredFields.base_fields)]


def speak_unit(form: forms.Form, unit: str) -> None:
    """Let every thickness of the form be typed in the unit, and say so."""
    for field in form.fields.values():
        if isinstance(field, Thickness):
            field.unit = unit
            field.label = f"{field.label}, {Unit(unit).label}"


def coat_rows(project: Project, count: int, data: Any = None) -> list[CoatRow]:
    return [CoatRow(data, project=project, order=order) for order in range(1, count + 1)]


def coat_count(text: str | None) -> int:
    """How many coats were asked for; three unless it is a number that can be."""
    return int(text) if text and text.isdecimal() and 1 <= int(text[:4]) <= MOST_COATS else 3


class AboutSheet(forms.Form):
    """What a data sheet says besides its table."""

    product = forms.CharField(label="Product", max_length=120)
    revision = forms.CharField(label="Revision", max_length=60, help_text="As the sheet is dated or numbered")
    mixing_by_volume = forms.CharField(
        label="Mixing ratio by volume", max_length=40, required=False, help_text="Such as 4:1, base first"
    )
    mixing_by_mass = forms.CharField(label="Mixing ratio by mass", max_length=40, required=False)
    mixing_tolerance_pct = Figure(
        label="The ratio may be missed by, %", required=False, example="5",
        help_text="Of what the ratio asks of a component, as the maker or the specification states it",
    )  # fmt: skip
    induction_minutes = WholeFigure(label="Induction time, minutes", required=False, example="15")
    pot_life_hours = Figure(label="Pot life, hours", required=False, example="4")
    pot_life_at_c = Figure(label="Pot life holds at, °C", required=False, example="20")
    thinner = forms.CharField(label="Thinner", max_length=120, required=False)
    thinner_max_pct = Figure(label="Thinner at most, % by volume", required=False, example="5")
    air_min_c = Figure(label="Air at least, °C", required=False, example="5")
    air_max_c = Figure(label="Air at most, °C", required=False, example="35")
    surface_min_c = Figure(label="Steel at least, °C", required=False, example="5")
    surface_max_c = Figure(label="Steel at most, °C", required=False, example="40")
    humidity_min_pct = Figure(label="Relative humidity at least, %", required=False, example="50")
    humidity_max_pct = Figure(label="Relative humidity at most, %", required=False, example="85")


class CorrectSheet(Because, AboutSheet):
    field_order = (*AboutSheet.base_fields, "reason")


class SheetLine(forms.Form):
    """A line of a data sheet's table; one that is left empty is no line."""

    temperature_c = Figure(label="Steel, °C", required=False, example="20")
    next_product = forms.CharField(
        label="Next product", max_length=120, required=False, help_text="Empty: whatever follows"
    )
    recoat_min_hours = Figure(label="Recoat after, hours", required=False, example="8")
    recoat_max_hours = Figure(label="Recoat before, hours", required=False, example="240")
    hard_dry_hours = Figure(label="Hard dry after, hours", required=False, example="6")
    pot_life_hours = Figure(label="Pot life, hours", required=False, example="2", help_text="Of paint as warm as this")

    def __init__(self, data: Any = None, *, number: int, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, prefix=f"line{number}", initial=initial)
        self.caption = f"Line {number}"

    def line(self) -> dict[str, Any] | None:
        """What was typed of it; None where nothing was."""
        given = self.cleaned_data
        return given if any(value not in (None, "") for value in given.values()) else None


SPARE_LINES, MOST_LINES = 4, 60


def sheet_lines(data: Any = None, sheet: DataSheet | None = None) -> list[SheetLine]:
    """The lines there are, and some to fill in."""
    rows = list(sheet.rows.all()) if sheet else []
    asked = str(data.get("lines", "")) if data else ""
    count = int(asked) if asked.isdecimal() and 0 < int(asked[:4]) <= MOST_LINES else len(rows) + SPARE_LINES
    there = [{name: _figure(getattr(row, name)) for name in SheetLine.base_fields} for row in rows]
    initial = [*there, *[{} for _ in range(count)]]
    return [SheetLine(data, number=number, initial=initial[number - 1]) for number in range(1, count + 1)]


def _figure(value: Any) -> Any:
    return f"{value.normalize():f}" if isinstance(value, Decimal) else value


def sheet_initial(sheet: DataSheet) -> dict[str, Any]:
    return {name: _figure(getattr(sheet, name)) for name in AboutSheet.base_fields}


class ChooseSheet(Because):
    data_sheet = forms.ModelChoiceField(
        DataSheet.objects.none(), label="Data sheet", required=False, empty_label="None"
    )
    field_order = ("data_sheet", "reason")

    def __init__(self, *args: Any, coat: Coat, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"initial": {"data_sheet": coat.data_sheet_id}})
        set_up(self, "data_sheet", queryset=DataSheet.objects.filter(project=coat.system.project_id))


class AddStripe(forms.Form):
    side = forms.ChoiceField(label="Goes on", choices=StripeCoat.Side.choices)
    coat = forms.ModelChoiceField(Coat.objects.none(), label="which coat", empty_label="Choose")
    name = forms.CharField(label="Name", max_length=60, help_text="Such as first stripe")
    product = forms.CharField(label="Product", max_length=120)
    method = forms.ChoiceField(label="Method", choices=StripeCoat.Method.choices)
    welds = forms.BooleanField(label="Welds", required=False)
    edges = forms.BooleanField(label="Edges", required=False)
    cut_outs = forms.BooleanField(label="Cut-outs", required=False)
    bolts = forms.BooleanField(label="Bolts", required=False)

    def __init__(self, *args: Any, coats: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "coat", queryset=coats)


class ChangeStripe(Because, AddStripe):
    field_order = (*AddStripe.base_fields, "reason")
