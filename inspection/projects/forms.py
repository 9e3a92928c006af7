"""Forms of projects: what was typed becomes typed values; the actions judge them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_DOWN, Decimal
from math import ceil
from typing import Any
from uuid import UUID
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.db.models import Q, QuerySet

from accounts.models import Organisation, Person, Role, Scheme
from inspection.foundation.form_fields import Figure, WholeFigure, set_up
from inspection.foundation.refusals import Refused
from inspection.foundation.units import Unit
from inspection.projects.actions import TAKE_PART
from inspection.projects.division import FEWEST_PARTS, MOST_PARTS, Part
from inspection.projects.models import LONGEST_PATH, CoatingSystem, InspectionArea, Project, Section, Structure
from inspection.projects.parties import ORGANISATIONS
from inspection.projects.sections import section_at
from inspection.projects.tank_sizes import COUNTS, LISTS, read_pieces, told_pieces
from inspection.standards.thickness_iso19840 import LARGEST_AREA_M2


def show_refusal(refusal: Refused, main: forms.Form, rows: Sequence[forms.Form] = ()) -> None:
    """Put every fault beside its field: those with a row into that row's form, the rest into the main one."""
    for fault in refusal.faults:
        form = rows[fault.row - 1] if fault.row and fault.row <= len(rows) else main
        form.add_error(fault.field if fault.field in form.fields else None, fault.message)


def named(rows: QuerySet[Any], text: str | None) -> Any:
    """That of the rows whose id an address names; None where it names none of them."""
    try:
        return rows.filter(pk=UUID(text)).first() if text else None
    except ValueError:
        return None


class OpenProject(forms.Form):
    code = forms.CharField(
        label="Code", max_length=60, help_text="Short, as it is to stand on every report, such as J-14"
    )
    name = forms.CharField(label="Name", max_length=120)
    client = forms.ModelChoiceField(Organisation.objects.filter(kind=Organisation.Kind.CLIENT), label="Client")
    contractor = forms.ModelChoiceField(
        Organisation.objects.filter(kind=Organisation.Kind.CONTRACTOR), label="Painting contractor", required=False
    )
    time_zone = forms.CharField(label="Time zone of the site", initial="UTC")
    unit = forms.ChoiceField(label="Thickness is shown in", choices=Unit.choices)
    shift_starts = forms.CharField(
        label="Shifts begin at", initial="06:00", max_length=60,
        help_text="One time or several, such as 06:00, 18:00. The first one begins the project's day.",
    )  # fmt: skip
    provisional_releases = forms.BooleanField(
        label="Points may be released before the gauge is checked after work",
        required=False,
        help_text="Where the contract allows it. Such a release falls into doubt if that check fails or is not made.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zones = sorted(available_timezones())
        self.fields["time_zone"].widget = forms.Select(choices=[(zone, zone) for zone in zones])


class Because(forms.Form):
    reason = forms.CharField(label="Why", max_length=1_000, help_text="The journal keeps it.")


class CorrectProject(OpenProject):
    reason = forms.CharField(label="Why it is corrected", max_length=1_000, help_text="The journal keeps it.")

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        names = ("code", "name", "client", "contractor", "time_zone", "unit", "shift_starts", "provisional_releases")
        super().__init__(*args, initial={name: getattr(project, name) for name in names}, **kwargs)
        hint = "Another one has the standing of every record computed again; you see what that changes first."
        self.fields["time_zone"].help_text = hint
        self.fields["shift_starts"].help_text += f" {hint}"


class AddMember(forms.Form):
    person = forms.ModelChoiceField(Person.objects.none(), label="Person")
    role = forms.ChoiceField(label="Takes part as", choices=[(role, Role(role).label) for role in TAKE_PART])

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        already = project.memberships.filter(ended_at=None).values("person")
        people = Person.objects.filter(is_active=True, grants__ended_at=None, grants__role__in=TAKE_PART)
        field: Any = self.fields["person"]
        field.queryset = people.exclude(pk__in=already).select_related("organisation").distinct()
        field.label_from_instance = lambda person: f"{person.name}, {person.organisation.name}"


class AddParty(forms.Form):
    organisation = forms.ModelChoiceField(
        Organisation.objects.filter(kind__in=set(ORGANISATIONS.values())), label="Organisation"
    )
    kind = forms.ChoiceField(label="As", choices=[(kind.value, kind.label) for kind in ORGANISATIONS])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        label = "label_from_instance"
        set_up(self, "organisation", **{label: lambda each: f"{each.name} ({each.get_kind_display()})"})


class AddStructure(forms.Form):
    name = forms.CharField(label="Name", max_length=120)
    description = forms.CharField(label="Description", required=False, widget=forms.Textarea(attrs={"rows": 3}))


class AtPlace(forms.Form):
    """A form that names a section of a structure by its path."""

    def place(self, structure: Structure | None, field: str = "section") -> None:
        """Put the section in place of its path, where it is there."""
        if structure is None or field not in self.cleaned_data:
            return
        try:
            self.cleaned_data[field] = section_at(structure, self.cleaned_data[field], field=field)
        except Refused as refusal:
            self.add_error(field, [fault.message for fault in refusal.faults])


def path_field(label: str, hint: str) -> forms.CharField:
    return forms.CharField(label=label, required=False, max_length=LONGEST_PATH, help_text=hint)


SECTION_HINT = "Its path, such as Block 2 / Tank 3; empty for an area that lies directly in the structure"


class AddArea(AtPlace):
    structure = forms.ModelChoiceField(Structure.objects.none(), label="Structure")
    section = path_field("Section", SECTION_HINT)
    system = forms.ModelChoiceField(CoatingSystem.objects.none(), label="Coating system")
    code = forms.CharField(label="Code", max_length=60, help_text="As on the drawing, unique on its structure")
    name = forms.CharField(label="Name", max_length=120)
    area_m2 = Figure(label="Area in m²", example="12.5")
    edges_m = Figure(label="Length of its edges in m", required=False, example="18")
    welds_m = Figure(label="Length of its welds in m", required=False, example="40")
    shape = forms.ChoiceField(label="Shape", choices=InspectionArea.Shape.choices)

    def __init__(self, *args: Any, project: Project, section: Section | None = None, **kwargs: Any) -> None:
        initial = {"structure": section.structure_id, "section": section.path} if section else {}
        kwargs["initial"] = initial | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        for name, queryset in (("structure", project.structures.all()), ("system", project.systems.in_force())):
            field: Any = self.fields[name]
            field.queryset, field.empty_label = queryset, None

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.place(self.cleaned_data.get("structure"))
        return self.cleaned_data


class MeasureArea(Because):
    area_m2 = Figure(label="Area in m²", example="12.5")
    edges_m = Figure(label="Length of its edges in m", required=False, example="18")
    welds_m = Figure(label="Length of its welds in m", required=False, example="40")
    field_order = ("area_m2", "edges_m", "welds_m", "reason")

    def __init__(self, *args: Any, area: InspectionArea, **kwargs: Any) -> None:
        sizes = {name: getattr(area, name) for name in ("area_m2", "edges_m", "welds_m")}
        initial = {name: f"{size.normalize():f}" for name, size in sizes.items() if size is not None}
        super().__init__(*args, **kwargs | {"initial": initial})


class RenameArea(Because):
    code = forms.CharField(label="Code", max_length=60, help_text="As on the drawing, unique on its structure")
    name = forms.CharField(label="Name", max_length=120)
    shape = forms.ChoiceField(label="Shape", choices=InspectionArea.Shape.choices)
    field_order = ("code", "name", "shape", "reason")

    def __init__(self, *args: Any, area: InspectionArea, **kwargs: Any) -> None:
        initial = {name: getattr(area, name) for name in ("code", "name", "shape")}
        super().__init__(*args, **kwargs | {"initial": initial})


class MoveArea(AtPlace, Because):
    structure = forms.ModelChoiceField(Structure.objects.none(), label="Structure", empty_label=None)
    section = path_field("Section", SECTION_HINT)
    field_order = ("structure", "section", "reason")

    def __init__(self, *args: Any, area: InspectionArea, **kwargs: Any) -> None:
        initial = {"structure": area.structure_id, "section": area.section.path if area.section else ""}
        super().__init__(*args, **kwargs | {"initial": initial})
        set_up(self, "structure", queryset=Structure.objects.filter(project=area.structure.project_id))

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.place(self.cleaned_data.get("structure"))
        return self.cleaned_data


class EndArea(Because):
    """Why an area is retired, or brought back."""

    def __init__(self, *args: Any, area: InspectionArea, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)


class CorrectStructure(AddStructure):
    reason = forms.CharField(label="Why", max_length=1_000, help_text="The journal keeps it.")

    def __init__(self, *args: Any, structure: Structure, **kwargs: Any) -> None:
        initial = {"name": structure.name, "description": structure.description}
        super().__init__(*args, **kwargs | {"initial": initial})


class Pieces(forms.CharField):
    """The sizes of several pieces, as Decimals."""

    widget = forms.Textarea

    def __init__(self, label: str, **kwargs: Any) -> None:
        super().__init__(label=label, required=False, max_length=10_000, **kwargs)
        self.widget.attrs["rows"] = 2

    def to_python(self, value: Any) -> Any:
        try:
            return read_pieces(super().to_python(value) or "")
        except Refused as refusal:
            raise forms.ValidationError([fault.message for fault in refusal.faults]) from None


class TankSizes(Because):
    boundaries_m = Pieces(
        "Tank boundaries, length of each in m", help_text="As 12; 6.5; 24 × 2.6, parted by semicolons"
    )
    stiffeners_m = Pieces("Stiffeners, length of each between primary members in m")
    primary_members_m = Pieces("Primary members, length of each in m", help_text="Girders and transverses")
    complex_m2 = Pieces("Complex areas, each in m²", help_text="Such as large brackets")
    openings = WholeFigure(label="Openings", required=False, example="3")
    sides_of_an_opening = WholeFigure(
        label="Sides measured of an opening", required=False, example="2",
        help_text="The text says one reading from each side; how many sides a round opening has, the parties say.",
    )  # fmt: skip
    field_order = (*LISTS, *COUNTS, "reason")

    def __init__(self, *args: Any, area: InspectionArea, **kwargs: Any) -> None:
        declared = area.tank_sizes
        initial = {name: told_pieces(declared[name]) for name in LISTS if name in declared}
        initial |= {name: declared[name] for name in COUNTS if name in declared}
        super().__init__(*args, **kwargs | {"initial": initial})


class ChangeSystem(Because):
    system = forms.ModelChoiceField(CoatingSystem.objects.none(), label="Coating system", empty_label="Choose")
    field_order = ("system", "reason")

    def __init__(self, *args: Any, area: InspectionArea, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = CoatingSystem.objects.filter(project=area.structure.project_id).in_force().exclude(pk=area.system_id)
        set_up(self, "system", queryset=others)


class PartRow(forms.Form):
    """One part of an area that is divided."""

    code = forms.CharField(label="Code", max_length=60)
    name = forms.CharField(label="Name", max_length=120)
    area_m2 = Figure(label="Area in m²", example="12.5")
    edges_m = Figure(label="Edges in m", required=False, example="18")
    welds_m = Figure(label="Welds in m", required=False, example="40")

    def __init__(self, data: Any = None, *, area: InspectionArea, number: int, of: int) -> None:
        share = (area.area_m2 / of).quantize(Decimal("0.01"), ROUND_DOWN)
        size = area.area_m2 - share * (of - 1) if number == of else share
        initial = {"code": f"{area.code}-{number}"[:60], "name": area.name, "area_m2": f"{size.normalize():f}"}
        super().__init__(data, prefix=f"part{number}", initial=initial)
        self.caption = f"Part {number}"

    def part(self) -> Part:
        return Part(**self.cleaned_data)


def part_rows(area: InspectionArea, count: int, data: Any = None) -> list[PartRow]:
    return [PartRow(data, area=area, number=number, of=count) for number in range(1, count + 1)]


def part_count(text: str | None, area: InspectionArea) -> int:
    """How many parts were asked for; unless it is a number that can be, as few as ISO 19840 would have."""
    if text and text.isdecimal() and FEWEST_PARTS <= int(text[:4]) <= MOST_PARTS:
        return int(text)
    return min(max(FEWEST_PARTS, ceil(area.area_m2 / LARGEST_AREA_M2)), MOST_PARTS)


class MergeAreas(Because):
    areas = forms.CharField(
        label="Codes of the areas", widget=forms.Textarea(attrs={"rows": 4}), max_length=20_000,
        help_text="Those on this structure that become one, a code on each line",
    )  # fmt: skip
    code = forms.CharField(label="Code of the new area", max_length=60)
    name = forms.CharField(label="Its name", max_length=120)
    field_order = ("areas", "code", "name", "reason")

    def __init__(self, *args: Any, structure: Structure, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.structure = structure

    def clean_areas(self) -> list[InspectionArea]:
        """The areas of these codes, each once."""
        there = {area.code.casefold(): area for area in self.structure.areas.select_related(*("structure", "system"))}
        codes = [code.strip() for code in self.cleaned_data["areas"].splitlines() if code.strip()]
        if missing := [code for code in codes if code.casefold() not in there]:
            raise forms.ValidationError(f"{self.structure} has no area {', '.join(missing[:5])}.")
        return list({code.casefold(): there[code.casefold()] for code in codes}.values())


class GiveScope(AtPlace):
    structure = forms.ModelChoiceField(Structure.objects.none(), label="Structure", empty_label=None)
    section = path_field("Section", "Its path, such as Block 2 / Tank 3; with all that lies below it")
    code = forms.CharField(
        label="Or the code of one area", required=False, max_length=60, help_text="Leave the section empty then"
    )

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "structure", queryset=project.structures.all())

    def clean(self) -> dict[str, Any]:
        """One place: the section or the area."""
        super().clean()
        structure = self.cleaned_data.get("structure")
        self.place(structure)
        section, code = self.cleaned_data.get("section"), self.cleaned_data.get("code")
        if structure is None or self.errors:
            return self.cleaned_data
        if bool(section) == bool(code):
            raise forms.ValidationError("Name a section or an area, one of the two.")
        area = structure.areas.filter(code__iexact=code).select_related("structure").first() if code else None
        if code and area is None:
            self.add_error("code", f"{structure} has no area {code}.")
        return {"place": section or area}


class AddSection(AtPlace):
    name = forms.CharField(label="Name", max_length=60, help_text="Such as Block 2, Tank 3 or Frame 118")
    parent = path_field("Within", "The path of the section it belongs to; empty for one at the top of the structure")

    def __init__(self, *args: Any, structure: Structure, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.structure = structure

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.place(self.structure, "parent")
        return self.cleaned_data


class ChangeSection(AddSection):
    reason = forms.CharField(label="Why", max_length=1_000, help_text="The journal keeps it.")

    def __init__(self, *args: Any, section: Section, **kwargs: Any) -> None:
        initial = {"name": section.name, "parent": section.parent.path if section.parent else ""}
        super().__init__(*args, structure=section.structure, initial=initial, **kwargs)


class UploadTable(forms.Form):
    """A table as a file, or as rows that were pasted or put right."""

    file = forms.FileField(label="Table", required=False, help_text="CSV or other text, .xlsx, .xls or .ods")
    rows = forms.CharField(
        label="Or the rows themselves", required=False, strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not self.errors and not values.get("file") and not values.get("rows", "").strip():
            self.add_error("file", "Choose a file, or paste the rows.")
        return values

    def content(self) -> bytes:
        """What was sent; a file counts before rows that are still there from an earlier look.

        One byte more than may be is enough to see that a file is too large.
        """
        file = self.cleaned_data["file"]
        content: bytes = file.read(settings.UPLOAD_MAX_BYTES + 1) if file else self.cleaned_data["rows"].encode()
        return content


class UploadAreas(UploadTable):
    reason = forms.CharField(
        label="Why areas that are there change", required=False, max_length=1_000,
        help_text="Needed where a row changes an area; the journal keeps it.",
    )  # fmt: skip


class AskQualifications(forms.Form):
    schemes = forms.ModelMultipleChoiceField(
        Scheme.objects.none(), label="Schemes", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Whoever measures must hold a paper in date under each. The instrument rules say whether lacking one "
        "blocks or is warned of.",
    )  # fmt: skip

    def __init__(self, data: Any = None, *, project: Project) -> None:
        super().__init__(data, initial={"schemes": list(project.schemes_asked.all())})
        asked = project.schemes_asked.values("pk")
        set_up(self, "schemes", queryset=Scheme.objects.filter(Q(retired_at=None) | Q(pk__in=asked)))
