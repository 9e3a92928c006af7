"""Forms of climate stations: what is declared, what they serve, and a reading taken at one."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone

from accounts.models import Person
from inspection.fieldwork.climate.forms import AirAndSteel
from inspection.fieldwork.climate.stations import LONGEST_CODE, LONGEST_NAME, coats_under
from inspection.foundation.form_fields import Figure, LocalMoment, set_up
from inspection.projects.forms import Because
from inspection.projects.models import Coat, InspectionArea, Project, Section, Station

# So many codes that are not known are named; the rest are counted.
MOST_NAMED = 5


def start_of_day(project: Project) -> datetime:
    """From when a station serves what is chosen, unless told: the beginning of the project's day."""
    return project.day_bounds(project.day_of(timezone.now()))[0]


class What(forms.Form):
    code = forms.CharField(label="Code", max_length=LONGEST_CODE, help_text="As it is called on site, such as CS-1")
    name = forms.CharField(label="Name", max_length=LONGEST_NAME, help_text="Where it is, such as North tower, deck 2")
    where = forms.ChoiceField(label="The air there", choices=Station.Where.choices)
    dehumidifier = forms.BooleanField(label="The air is dried by a machine", required=False)
    holds_h = Figure(
        label="A reading counts for at most, h", initial=4, example="4",
        help_text="Or until the next one. 4 h while painting is common practice; the specification decides.",
    )  # fmt: skip


class Served(forms.Form):
    """Which areas: by section, by code, or all."""

    sections = forms.MultipleChoiceField(
        label="It serves these sections", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="With every area in use below them now. Areas that come later are added here.",
    )  # fmt: skip
    codes = forms.CharField(
        label="And the areas with these codes", required=False, widget=forms.Textarea({"rows": 3}), max_length=40_000,
        help_text="Separated by commas or lines.",
    )  # fmt: skip
    every = forms.BooleanField(label="Or all areas of the project in use", required=False)
    since = LocalMoment(label="From", help_text="Readings taken since then count for them.")

    project: Project

    def take(self, project: Project) -> None:
        self.project = project
        rows = Section.objects.filter(structure__project=project).select_related("structure")
        set_up(
            self, "sections", choices=[(str(each.pk), each.name_path) for each in rows.order_by("structure", "path")]
        )
        if not rows:
            del self.fields["sections"]
            set_up(self, "codes", label="It serves the areas with these codes")
        self.fields["since"].zone = project.zone  # type: ignore[attr-defined]  # the field is a LocalMoment

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or {}
        in_use = InspectionArea.objects.filter(structure__project=self.project).in_use()
        wanted = in_use if values.get("every") else in_use.none()
        for section in Section.objects.filter(pk__in=values.pop("sections", [])):
            wanted = wanted | in_use.within(section)
        found = {area.pk: area for area in wanted.distinct()}
        found |= {area.pk: area for area in self._by_code(in_use, values.pop("codes", ""))}
        values.pop("every", None)
        if not found and not self.errors:
            self.add_error("codes", "Choose at least one section or area that the station serves.")
        return {**values, "areas": list(found.values())}

    def _by_code(self, in_use: Any, text: str) -> list[InspectionArea]:
        codes = {code.strip() for line in text.splitlines() for code in line.split(",") if code.strip()}
        found = list(in_use.filter(code__in=codes))
        if unknown := sorted(codes - {area.code for area in found}):
            named = ", ".join(code[:60] for code in unknown[:MOST_NAMED])
            more = f" and {len(unknown) - MOST_NAMED} more" if len(unknown) > MOST_NAMED else ""
            self.add_error("codes", f"No area in use has the code {named}{more}. Write them as the list of areas does.")
        return found


class Declare(What, Served):
    field_order = ("code", "name", "where", "dehumidifier", "sections", "codes", "every", "since", "holds_h")

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"since": start_of_day(project)}} | kwargs)
        self.take(project)


class Change(Because, What):
    field_order = ("code", "name", "where", "dehumidifier", "holds_h", "reason")

    def __init__(self, *args: Any, station: Station, **kwargs: Any) -> None:
        told = {name: getattr(station, name) for name in ("code", "name", "where", "dehumidifier")}
        super().__init__(*args, **{"initial": {**told, "holds_h": f"{station.holds_h:g}"}} | kwargs)


class Serve(Because, Served):
    field_order = ("sections", "codes", "every", "since", "reason")

    def __init__(self, *args: Any, station: Station, **kwargs: Any) -> None:
        serves = InspectionArea.objects.filter(served_by__station=station, served_by__ended_at=None)
        codes = ", ".join(serves.order_by("code").values_list("code", flat=True))
        super().__init__(*args, **{"initial": {"codes": codes, "since": start_of_day(station.project)}} | kwargs)
        self.take(station.project)


class Why(Because):
    def __init__(self, *args: Any, station: Any = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)


class CoatsField(forms.ModelMultipleChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name} ({obj.system.name})"


class Read(AirAndSteel):
    """One reading for all that the station serves."""

    coats = CoatsField(
        Coat.objects.none(), label="For which coats", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Those under way around the station; each is judged by its own limits. None: only the margin above "
        "the dew point is judged.",
    )  # fmt: skip
    field_order = ("coats", *AirAndSteel.READ_ORDER)

    def __init__(self, *args: Any, by: Person, station: Station, **kwargs: Any) -> None:
        self.by, self.project = by, station.project
        super().__init__(*args, **kwargs)
        set_up(self, "coats", queryset=coats_under(station, timezone.now()))
        if not station.dehumidifier:
            del self.fields["dehumidifier_on"]
